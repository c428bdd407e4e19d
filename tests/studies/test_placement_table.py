"""The stored table of places, against the study it was made by."""

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.doors.window import pressure_window
from helpers.studies.placement import table as tables
from helpers.studies.placement.results import counted
from helpers.studies.placement.study import Placing, place_transmitters
from helpers.studies.placement.table import FIRST, SITE_NAME, drawn_conditions, judged, placement_table, set_points_pa


def test_a_part_of_the_table_made_again_is_what_is_stored():
    """The first conditions of the same draw, every choice of three set points, to the last count; the ends of the set points go with them,
    since they decide how finely the fan's speeds are solved. Counts are whole numbers, so nothing is left to rounding: where one differs
    by 1 on another machine alone a condition stands on a limit to the last bit, and the table is made anew there."""
    table, ends = placement_table(), set_points_pa()[[0, -1]]
    made = [choice for point in (30.0, 40.0, 55.0) for choice in tables.choices_at(table.levels, point)]
    made += [("alone", 0, 0, Placing((0,), "average", None, float(point))) for point in ends]
    again = judged(made, tables.drawn_conditions().rows(slice(0, FIRST)))
    stored = [table.at(*one[:3], one[3].set_point_pa) for one in made]
    assert len(stored) > 1000
    assert [(one.text(), one.inside, one.first) for one in again] == [(one.text(), one.first, one.first) for one in stored]


def test_the_tables_words_are_those_the_study_says_today():
    """Words that are stored beside figures go stale unseen: each sentence but the last is said again from the same draw."""
    *said, closers = placement_table().said
    assert tuple(said) == drawn_conditions().said
    assert closers.startswith("The final exit door")
    assert not any("level" in one.fails_text for one in placement_table().placed)


def test_what_the_street_doors_own_closer_leaves_is_judged_on_the_site_as_its_file_has_it(monkeypatch):
    monkeypatch.setattr(tables, "FIRST", 10)  # of the same draws; the stored sentence tells of more
    site, drawn = read_site(demo_sites()[SITE_NAME]), drawn_conditions()
    choices = [("average", 1, 12, Placing((1, 12), "average", None, 40.0)), ("lowest", 1, 12, Placing((1, 12), "lowest", None, 25.0))]
    said = tables.street_said(choices, drawn)
    found = place_transmitters(Tower(site), pressure_window(site), drawn.rows(slice(10)), [choice for *_, choice in choices])
    kept, most = (counted(round(10 * share), 10) for share in (found.share[0], found.share.max()))
    assert f"the file's choice keeps {kept} of 10 conditions, the best of all {most}; in brackets the 95 % intervals." in said
    assert found.share.max() < max(one.first / 10 for one in judged(choices, drawn.rows(slice(10))))


def test_every_pair_is_there_at_every_set_point_and_counts_are_counts():
    table = placement_table()
    assert len(table.placed) == len(set_points_pa()) * (14 + 3 * 91 + 78)  # alone, three rules of pairs, the middle of three
    for one in table.placed:
        assert 0 <= one.first <= min(one.inside, FIRST)
        assert 0 <= one.inside <= tables.CONDITIONS
        assert 0 <= one.dead <= tables.CONDITIONS
        assert (one.left_out == -1) == (one.rule == "alone")
        assert one.first + (tables.CONDITIONS - FIRST) >= one.inside


def test_with_one_left_out_a_pair_is_the_worse_of_its_two_alone():
    table = placement_table()
    for rule in ("average", "lowest", "highest"):
        pair = table.at(rule, 3, 10, 45.0)
        assert pair.left_out == min(table.at("alone", level, level, 45.0).inside for level in (3, 10))


def test_the_map_has_the_pairs_above_the_diagonal_and_one_alone_on_it():
    table = placement_table()
    share = table.map("average", 40.0)
    assert np.isnan(share[np.tril_indices(14, -1)]).all()
    assert share[1, 12] == table.at("average", 1, 12, 40.0).share()
    assert share[5, 5] == table.at("average", 5, 5, 40.0).share()
    assert np.isnan(np.diag(table.map("lowest", 40.0, "left_out"))).all()
    assert np.isnan(np.diag(table.map("middle", 40.0), 1)).all()  # no room for a third


def test_the_best_is_the_largest_share_and_with_a_loss_the_one_that_does_well_both_ways():
    table = placement_table()
    clear = [one for one in table.placed if max(one.levels) <= 10 and 0 not in one.levels]  # supply on 13, final exit on 0
    assert table.best().inside == max(one.inside for one in clear)
    assert table.best(anywhere=True).inside == max(one.inside for one in table.placed)
    best = table.best(loss="dead")
    assert min(best.inside, best.dead) == max(min(one.inside, one.dead) for one in clear)
    assert table.best("average", 40.0).set_point_pa == 40.0
    assert table.best("middle").rule in ("middle", "alone")


def test_no_place_beside_the_supplys_outlet_is_ever_the_best():
    """The model has no jet, so its figures say nothing of a tube end in one: those places do best in it, and nobody may drill there."""
    table, (supply,) = placement_table(), read_site(demo_sites()[SITE_NAME]).supplies
    kept = [table.best(rule, point, loss) for rule in (None, "alone", *tables.PAIR_RULES) for point in (None, *set_points_pa())
            for loss in ("none", "dead")]  # fmt: skip
    assert all(supply.level - level >= tables.CLEAR_STOREYS for one in kept for level in one.levels)
    assert not any(0 in one.levels for one in kept)  # beside the final exit door
    assert table.at("average", 0, 10, 40.0).unfit == (0,)
    assert table.best(anywhere=True).in_jet  # what the model alone would have picked
    assert table.at("middle", 7, 11, 40.0).in_jet == (11,)
    assert table.at("average", 1, 12, 40.0).in_jet == (12,)  # the file's own choice is told of, too
    assert not table.at("alone", 10, 10, 40.0).in_jet


def test_a_choice_is_judged_against_the_best_pair_by_pair_as_in_the_study():
    """Counts of the same conditions: the discordant ones alone tell two choices apart."""
    table = placement_table()
    for loss in tables.LOSSES:
        best = table.best(loss=loss)
        assert (best.against(best, loss).gained, best.against(best, loss).lost) == (0, 0)
        for one in table.placed[::50]:
            if one.count(loss) is not None:
                pair = one.against(best, loss)
                assert pair.gained >= 0
                assert pair.lost >= 0
                assert pair.gained - pair.lost == best.count(loss) - one.count(loss)
    drawn = drawn_conditions().rows(slice(40))
    choices = [("average", 1, 10, Placing((1, 10), "average", None, 40.0)), ("alone", 9, 9, Placing((9,), "average", None, 45.0)),
               ("alone", 12, 12, Placing((12,), "average", None, 50.0))]  # fmt: skip
    site = tables.closing_site()
    study = place_transmitters(Tower(site), pressure_window(site), drawn, [choice for *_, choice in choices])
    placed = judged(choices, drawn)
    best = max(placed[:2], key=lambda one: (one.inside, one.room_median_pa))  # the third lies beside the supply
    for one in placed:
        pair = study.paired(choices[placed.index(best)][-1], choices[placed.index(one)][-1])
        assert one.against(best) == pair


def test_a_set_point_in_another_unit_is_taken_as_the_nearest_judged_one():
    table = placement_table()
    assert table.at("average", 1, 12, 39.85) is table.at("average", 1, 12, 40.0)
    with pytest.raises(ValueError, match="set_point_pa must be from 25 to 65"):
        table.at("average", 1, 12, 80.0)


def test_what_was_not_judged_is_refused():
    with pytest.raises(ValueError, match="the lower one first"):
        placement_table().at("average", 12, 1, 40.0)


def test_a_file_that_is_no_such_table_is_refused(tmp_path):
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("level,share\n1,0.5\n")
    with pytest.raises(ValueError, match=r"wrong\.csv must have the columns rule, lower"):
        tables.read(wrong)


def test_the_interval_is_wilsons_and_holds_the_share():
    one = placement_table().at("average", 1, 12, 40.0)
    low, high = one.interval()
    assert low < one.share() < high
    assert high - low == pytest.approx(2 * 1.96 * np.sqrt(one.share() * (1 - one.share()) / tables.CONDITIONS), rel=0.01)


def test_a_table_made_anew_reads_as_the_stored_one_and_follows_no_link(tmp_path, monkeypatch):
    """Judging is tested above; here the stored choices are handed back, so that writing alone is looked at."""
    elsewhere, link = tmp_path / "elsewhere.csv", tmp_path / "table.csv"
    elsewhere.write_text("not ours")
    link.symlink_to(elsewhere)
    monkeypatch.setattr(tables, "judged", lambda choices, drawn, progress: placement_table().placed)
    monkeypatch.setattr(tables, "street_said", lambda choices, drawn: placement_table().said[-1])  # it judges, too
    tables.write(link)
    assert not link.is_symlink()
    assert (tables.read(link).placed, tables.read(link).said) == (placement_table().placed, placement_table().said)
    assert elsewhere.read_text() == "not ours"


def test_what_the_street_doors_own_closer_leaves_is_told_beside_the_table_and_is_what_the_study_finds():
    """The file's own choice, judged again with the final exit door as the site file has it."""
    site, drawn = read_site(demo_sites()[SITE_NAME]), drawn_conditions().rows(slice(FIRST))
    (file,) = judged([("average", 1, 12, Placing((1, 12), "average", None, 40.0))], drawn, site=site)
    said = placement_table().said[-1]
    assert f"the file's choice keeps {counted(file.inside, FIRST)} of {FIRST} conditions" in said
    assert file.inside < placement_table().at("average", 1, 12, 40.0).first
    assert (file.fails_most, file.too) == ("final exit 0", "high")
