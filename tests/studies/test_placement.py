"""Placement of transmitters: the same answer however it is worked out, what is left out is told, nonsense is refused."""

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions, Hours
from helpers.model.air.stair_heat import stair_air, with_stair
from helpers.model.air.tower import Tower
from helpers.studies.placement import study
from helpers.studies.placement.study import Chances, Drawn, Placing, choices_of, draw, spread_triples


def test_a_reading_that_ends_at_its_range_cannot_make_up_for_one_beside_an_open_door(placed, stair):
    """The average of two with one at an open door meets 40 Pa only where the other can read 80."""
    counts = []
    for top in (60.0, 125.0):
        site = stair(transmitters=[{"range_high_pa": top}, {}])
        conditions = Conditions.of(site, "winter", (5,), outdoor_c=[-10.0, 5.0, 20.0])
        found = placed(site, Drawn(conditions, np.zeros((3, 6)), ()), [Placing((0, 5), "average")])
        counts.append(found.tally.at_full[0])
    assert counts == [3, 0]


def test_a_transmitter_left_out_leaves_the_others_under_the_same_rule(placed, larkfield):
    pairs = [Placing((1, 12), rule, (2.0, 1.0)) for rule in ("average", "lowest", "weighted")]
    singles = [Placing((1,), "average"), Placing((12,), "average")]
    triple = [Placing((1, 6, 12), "lowest"), *(Placing(pair, "lowest") for pair in ((1, 6), (1, 12), (6, 12)))]
    found = placed(larkfield, choices=[*pairs, *singles, *triple])
    inside = found.inside.sum(axis=1)
    assert found.tally.left_out[:3].sum(axis=1).tolist() == [min(inside[3:5])] * 3
    assert found.tally.left_out[5].sum() == min(inside[6:])


def test_the_middle_of_three_shrugs_off_a_dead_one_that_an_average_does_not(placed, larkfield):
    closes = {"closer_force_n": 160.0, "force_limit_n": 200.0, "closing_share": 0.9}  # else its final exit door fails under any rule
    site = larkfield.with_changes(doors={"street": closes})
    found = placed(site, choices=[Placing((0, 6, 12), rule) for rule in ("middle", "average")])
    assert found.tally.dead[0].sum() > found.tally.dead[1].sum() + 10


def test_more_choices_cost_no_solve_more(placed, larkfield, monkeypatch):
    rows, solve = [], Tower.solve
    monkeypatch.setattr(Tower, "solve", lambda tower, conditions, speed: rows.append(len(conditions)) or solve(tower, conditions, speed))
    few = placed(larkfield, choices=[Placing((level,), "average") for level in range(14)])
    asked = sum(rows)
    many = placed(larkfield, choices=choices_of(larkfield, triples=spread_triples(range(14))))
    assert len(many.choices) > 20 * len(few.choices)
    assert sum(rows) == 2 * asked


def test_many_processes_give_the_same_to_the_bit(placed, drawn_for, stair, monkeypatch):
    monkeypatch.setattr(study, "CONDITIONS_AT_ONCE", 20)
    site = stair()
    drawn = drawn_for(site, 50)
    serial = placed(site, drawn)
    with ProcessPoolExecutor(2) as pool:
        assert_same(placed(site, drawn, executor=pool), serial)


def test_a_cluster_gives_the_same_to_the_bit(placed, drawn_for, stair, monkeypatch):
    distributed = pytest.importorskip("distributed", reason="needs the package distributed")
    monkeypatch.setattr(study, "CONDITIONS_AT_ONCE", 20)
    site = stair()
    drawn = drawn_for(site, 50)
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert_same(placed(site, drawn, executor=client.get_executor()), placed(site, drawn))


def assert_same(one, other):
    for name in ("room_pa", "at_lowest", "at_full", "power_w", "low", "high", "dead", "left_out"):
        np.testing.assert_array_equal(getattr(one.tally, name), getattr(other.tally, name))
    assert one.verdict() == other.verdict()


def test_a_stopped_study_gives_what_it_has_and_says_so(placed, drawn_for, stair, monkeypatch):
    monkeypatch.setattr(study, "CONDITIONS_AT_ONCE", 10)
    site, told = stair(), []
    drawn = drawn_for(site, 25)
    found = placed(site, drawn, progress=lambda done, asked: told.append((done, asked)), stop=lambda: len(told) == 2)
    assert told == [(10, 25), (20, 25)]
    assert found.stopped
    assert found.judged == 20
    assert found.verdict().startswith("Stopped after 20 of 25 conditions (80.0 %)")
    whole = placed(site, drawn, progress=lambda done, asked: told.append((done, asked)))
    assert told[-1] == (25, 25)
    assert not whole.stopped
    np.testing.assert_array_equal(whole.tally.room_pa[:, :20], found.tally.room_pa)
    with ProcessPoolExecutor(1) as pool:
        np.testing.assert_array_equal(placed(site, drawn, executor=pool, stop=lambda: True).tally.room_pa, whole.tally.room_pa[:, :10])


def test_a_best_place_in_the_supplys_jet_is_not_to_be_drilled_and_the_best_clear_of_it_is_named(placed, drawn_for, stair):
    """The model has no jet: a place beside an outlet may be the best in it, and read nothing but the jet on site."""
    site = stair()
    found = placed(site, drawn_for(site, 30))
    levels = found.best.choice.levels
    at = levels[-1] + 1 if levels[-1] < site.storeys[-1].level else levels[-1] - 1
    beside = replace(found, question=replace(found.question, supplies=(at,)))
    assert beside.question.beside_supply(beside.best.choice)
    told = beside.verdict()
    assert "Do not drill at storey" in told
    assert "the best clear of it is" in told or "no place that was tried is clear of one" in told
    far = replace(found, question=replace(found.question, supplies=(1000,)))
    assert "Do not drill" not in far.verdict()


def test_conditions_without_an_answer_are_left_out_and_counted(placed, drawn_for, stair, monkeypatch):
    site, solve = stair(), Tower.solve
    drawn = drawn_for(site, 30)
    cold = np.sort(drawn.conditions.outdoor_c)[2]

    def unsure(tower, conditions, speed):
        air = solve(tower, conditions, speed)
        air.converged &= conditions.outdoor_c > cold
        return air

    whole = placed(site, drawn)
    monkeypatch.setattr(Tower, "solve", unsure)
    found = placed(site, drawn)
    assert (found.unsolved, found.judged, found.done) == (3, 27, 30)
    assert "3 more had no answer" in found.verdict()
    np.testing.assert_array_equal(found.tally.room_pa, whole.tally.room_pa[:, drawn.conditions.outdoor_c > cold])
    monkeypatch.setattr(Tower, "solve", lambda *asked: unsure_of_all(solve(*asked)))
    with pytest.raises(ValueError, match="the network found none for any of 30"):
        placed(site, drawn)


def unsure_of_all(air):
    air.converged[:] = False
    return air


def test_a_choice_at_its_own_set_point_is_the_study_at_that_set_point(placed, drawn_for, larkfield):
    drawn, pair = drawn_for(larkfield, 30), ((1, 12), "highest")
    several = placed(larkfield, drawn, [Placing(*pair, set_point_pa=held_at) for held_at in (30.0, 50.0)])
    for number, held_at in enumerate((30.0, 50.0)):
        alone = placed(larkfield, drawn, [Placing(*pair)], set_point_pa=held_at)
        np.testing.assert_allclose(several.tally.room_pa[number], alone.tally.room_pa[0], atol=0.5)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"choices": []}, "choices must hold at least one choice"),
        ({"choices": [Placing((99,), "average")]}, "choices must name storeys from 0 to 5, got 99"),
        ({"set_point_pa": 125.0}, "set_point_pa must lie inside the range 0 to 125 Pa, got 125"),
        ({"choices": [Placing((1,), "average", set_point_pa=-5.0)]}, "set_point_pa must lie inside the range"),
        ({"set_point_pa": np.nan}, "set_point_pa must be a finite number"),
    ],
)
def test_nonsense_gets_one_sentence(placed, stair, changes, words):
    with pytest.raises(ValueError, match=words):
        placed(stair(), **changes)


def test_more_than_the_memory_should_hold_is_refused(placed, stair, monkeypatch):
    monkeypatch.setattr(study, "MOST_CELLS", 100)
    with pytest.raises(ValueError, match="choices times conditions must be 100 at the most, got 2 times 60"):
        placed(stair(), choices=[Placing((0,), "average"), Placing((5,), "average")])


def test_draws_for_another_building_and_levels_without_lobby_are_refused(placed, drawn_for, stair, northgate):
    with pytest.raises(ValueError, match="drawn must be for 6 storeys, got 8"):
        placed(stair(), drawn_for(stair(8)))
    with pytest.raises(ValueError, match="storey -1 has none"):
        placed(northgate, drawn_for(northgate, 2), [Placing((-1, 5), "average")])
    with pytest.raises(ValueError, match="error_share must be one for each condition and storey"):
        Drawn(drawn_for(stair(), 3).conditions, np.zeros((3, 2)), ())


def test_a_site_without_any_limit_cannot_be_judged(placed, stair, a_door):
    free = {"minimum_dp_pa": None, "force_limit_n": None, "closer_force_n": None, "handle_to_edge_m": None}
    free = stair(standard="en12101_13_2022", doors={"stair": free})  # of blanks: it limits nothing either
    with pytest.raises(ValueError, match="window must limit at least one door"):
        placed(free)


def test_a_lobby_door_and_a_final_exit_are_judged_too(placed, stair, a_door):
    lobby = {"lobby": True, "lobby_door": "lobby"}
    doors = {"lobby": a_door(minimum_dp_pa=30.0), "street": a_door(opens="with pressure", minimum_dp_pa=None, closer_force_n=20.0)}
    site = stair(doors=doors, storeys=[{**lobby, "final_exit_door": "street"}, *[lobby] * 5])
    calm = Hours("calm", [-10.0], [0.0], [0.0])
    drawn = draw(site, calm, 5, 1, Chances((1.0,), 0.0))
    found = placed(site, drawn, [Placing((0, 5), "average")])
    texts = [column.text for column in found.question.doors]
    assert found.tally.high[0][texts.index("final exit 0")] == 5  # the stair's 40 Pa push it open
    assert (found.tally.low[0][[texts.index(f"lobby door {level}") for level in range(6)]] == 5).all()
    open_exit = draw(site, calm, 5, 1, Chances((1.0,), 1.0))
    assert placed(site, open_exit, [Placing((0, 5), "average")]).tally.high[0][texts.index("final exit 0")] == 0


def test_a_condition_is_inside_only_if_it_is_in_the_first_minute_and_an_hour_later(northgate, drawn_for, placed):
    both = drawn_for(northgate, 25, stair_share=None)
    assert both.both_airs
    choices = [Placing((3, 35), rule) for rule in ("average", "lowest")]
    airs = (both.conditions.floor_c, stair_air(Tower(northgate), both.conditions).stair_c)
    found = placed(northgate, both, choices)
    alone = [placed(northgate, Drawn(with_stair(both.conditions, air), both.error_share, ()), choices) for air in airs]
    np.testing.assert_allclose(found.tally.room_pa, np.minimum(*[one.tally.room_pa for one in alone]), atol=0.6)
    assert (found.inside <= np.minimum(*[one.inside for one in alone]) + (np.abs(found.tally.room_pa) < 0.6)).all()
    assert found.inside.sum() < max(one.inside.sum() for one in alone)
    assert "the worse decides" in " ".join(both.said)
