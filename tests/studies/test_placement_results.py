"""What the placement study tells of its choices: the ranking, the heat map, the table, the answer in words."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binomtest

from helpers.formulas.uncertainty import wilson_interval
from helpers.record.sections.time import _placement_findings
from helpers.studies.placement.lookup import Tally
from helpers.studies.placement.study import Placing, candidate_levels, choices_of, own_choice, spread_triples
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def larkfield_placement(placed, larkfield):
    return placed(larkfield, choices=choices_of(larkfield, triples=spread_triples(candidate_levels(larkfield))))


def test_the_best_choice_is_inside_most_often_and_its_interval_is_wilsons(larkfield_placement):
    found, best = larkfield_placement, larkfield_placement.best
    assert best.inside == found.share.max()
    assert best.interval == pytest.approx(wilson_interval(round(best.inside * 60), 60))
    shares = found.share[found.ranked]
    assert (np.diff(shares) <= 0).all()
    tied = np.diff(shares) == 0
    assert (np.diff(found.margin_median_pa[found.ranked])[tied] <= 0).all()
    for count, rule in ((1, None), (2, "lowest"), (3, "middle")):
        of_kind = [i for i, c in enumerate(found.choices) if len(c.levels) == count and rule in (None, c.rule)]
        assert found.best_of(rule, count).inside == found.share[of_kind].max()


def test_a_door_is_out_only_where_the_choice_is(larkfield_placement):
    found = larkfield_placement
    outside = (~found.inside).sum(axis=1)
    worst = np.maximum(found.tally.low.max(axis=1), found.tally.high.max(axis=1))
    assert (worst <= outside).all()
    assert (worst[outside > 0] > 0).any()


def test_the_heat_map_shows_every_pair_and_each_single_one(larkfield_placement):
    found = larkfield_placement
    for rule in ("average", "lowest", "highest", "weighted"):
        chart = found.heat_map(rule)
        assert chart.levels == tuple(range(14))
        assert np.isnan(chart.share[np.tril_indices(14, -1)]).all()
        assert not np.isnan(chart.share[np.triu_indices(14)]).any()
        assert chart.share[2, 9] == [s for c, s in zip(found.choices, found.share, strict=True) if (c.levels, c.rule) == ((2, 9), rule)]
        assert chart.share[4, 4] == found.share[found.number_of(Placing((4,), "average"))]


def test_of_several_set_points_the_heat_map_shows_the_best(placed, larkfield):
    found = placed(larkfield, choices=choices_of(larkfield, (2,), ("average",), (1, 12), set_points_pa=(5.0, 40.0, 60.0)))
    shares = {choice.set_point_pa: share for choice, share in zip(found.choices, found.share, strict=True)}
    assert found.heat_map("average").share[0, 1] == max(shares.values())
    assert shares[40.0] == shares[None]  # the site's own, at the site's set point
    assert shares[5.0] == 0  # every door asks for 25 Pa
    assert "held at 5 to 60 Pa" in written_out(found.verdict())


def test_the_answer_in_words_names_the_best_the_sites_own_and_what_no_transmitter_mends(larkfield_placement):
    found, said = larkfield_placement, written_out(larkfield_placement.verdict())
    own = found.result(found.number_of(found.question.own))
    gained, lost = written_out(tuple(found.against(found.best.choice, own.choice)))
    assert gained - lost == round(60 * (found.best.inside - own.inside))
    for words in (
        f"{len(found.choices)} choices, held at 40 Pa, under the same 60 sampled conditions",
        f"Best: {written_out(found.best.choice.text())}, with all doors inside their windows in {100 * found.best.inside:.1f} %",
        f"average of storeys 1 and 12, reaches {100 * own.inside:.1f} %",
        f"In {100 * (~found.inside.any(axis=0)).mean():.1f} % of conditions no choice at all",
        "On the site's own storeys the other rules reach: lowest",
        f"The best single one, {written_out(found.best_of(count=1).choice.text())}",
    ):
        assert words in said
    assert "in. w.c." in written_out(found.verdict(), "in. w.c.")
    assert " Pa" not in written_out(found.verdict(), "in. w.c.")


def test_the_table_gives_the_best_ones_and_the_sites_own(larkfield_placement):
    table = larkfield_placement.table(3)
    assert [row[0] for row in table.rows[:3]] == ["1", "2", "3"]
    assert any(row[1] == "average of storeys 1 and 12" for row in table.rows)
    assert {len(row) for row in table.rows} == {len(table.columns)}
    assert "seed 5" in table.note
    assert "39 % of the way" in table.note


def test_a_best_that_is_the_sites_own_is_said_to_be(placed, larkfield):
    own = own_choice(larkfield)
    found = placed(larkfield, choices=[own, Placing((0,), "average", set_point_pa=10.0)])
    assert "It is what the site file has chosen." in found.verdict()


def test_with_the_only_transmitter_left_out_nothing_remains(placed, larkfield):
    found = placed(larkfield, choices=[Placing((5,), "average"), Placing((5, 6), "weighted", (1.0, 0.0))])
    assert found.tally.left_out.sum(axis=1).tolist() == [0, 0]
    assert found.result(0).left_out is None
    assert "no reading left" in found.table().rows[0] + found.table().rows[1]


def test_what_was_not_tried_is_not_told(placed, larkfield):
    found = placed(larkfield, choices=[Placing((1,), "average")])
    assert found.best_of("lowest") is None
    with pytest.raises(ValueError, match="choice must be one of the 1 tried"):
        found.number_of(Placing((2,), "average"))
    with pytest.raises(ValueError, match="rule must be one that was tried on pairs"):
        found.heat_map("lowest")


def test_two_choices_are_compared_condition_by_condition_with_an_exact_test(larkfield_placement):
    found = larkfield_placement
    best = found.inside[found.ranked[0]]
    chances = []
    for number, choice in enumerate(found.choices):
        gained, lost = int((best & ~found.inside[number]).sum()), int((found.inside[number] & ~best).sum())
        pair = found.paired(found.best.choice, choice)
        expected = binomtest(gained, gained + lost, 0.5).pvalue if gained + lost else 1.0
        assert (pair.gained, pair.lost) == (gained, lost)
        assert pair.chance == pytest.approx(expected)
        assert pair.told_apart == (expected < 0.05)
        chances.append(expected)
    assert found.as_good == sum(chance >= 0.05 for chance in chances) - 1
    assert f"the best of {len(found.choices)}" in found.flattered
    assert "looks better than it is" in found.verdict()


def in_order(study):
    """The study of conditions in which every choice keeps every door inside."""
    return replace(study, tally=replace(study.tally, room_pa=np.ones_like(study.tally.room_pa)))


def of_two(study, inside, power_w):
    """A study of two of its choices, the second the site's own, with their doors inside in these conditions."""
    tally = Tally(np.where(inside, 1.0, -1.0), np.zeros(2, int), np.zeros(2, int), power_w, study.tally.low[:2], study.tally.high[:2],
                  np.zeros((2, 250), bool), np.zeros((2, 250), bool))  # fmt: skip
    return replace(study, tally=tally, question=replace(study.question, choices=study.choices[:2], own=study.choices[1]))


def test_shares_whose_intervals_overlap_can_be_told_apart_on_the_same_conditions(larkfield_placement):
    """18 against 5 of 250: the intervals overlap, the pairs tell them apart."""
    inside = np.zeros((2, 250), bool)
    inside[0, :204], inside[1, 18:209] = True, True
    found = of_two(larkfield_placement, inside, np.zeros(2))
    one, two = found.result(0), found.result(1)
    assert two.interval[1] > one.interval[0]
    pair = found.paired(*found.choices)
    assert (pair.gained, pair.lost, pair.told_apart) == (18, 5, True)
    (said,) = [
        finding
        for finding in written_out(_placement_findings(found, in_order(found)))
        if "site's own" in finding.what or "Another place" in finding.what
    ]
    assert said.severity == "attention"
    assert "out in 18" in said.figure
    assert "looks better than it is" in said.why


def test_a_choice_that_cannot_be_told_from_the_best_is_no_pass_where_its_doors_are_out_in_most_conditions(larkfield_placement):
    """1.6 % of the conditions is 1.6 % of the conditions, and the best of all is no better."""
    said = {}
    for held in (4, 200):
        inside = np.zeros((2, 250), bool)
        inside[0, :held], inside[1, 1 : held + 1] = True, True
        found = of_two(larkfield_placement, inside, np.arange(2.0))
        (said[held],) = [one for one in written_out(_placement_findings(found, in_order(found))) if "site's own" in one.what]
        assert said[held].what == "250 sampled conditions cannot tell the site's own transmitters from the best"
    assert said[4].severity == "attention"
    assert said[4].figure.startswith("1.6 % against 1.6 %: out in 1")
    assert "in more than half of the conditions" in said[4].why
    assert said[200].severity == "good"
