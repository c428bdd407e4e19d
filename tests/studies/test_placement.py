"""Placement of transmitters: every looked-up answer against the air network itself, and the same answer however it is worked out."""

from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest

from helpers.formulas.combining import combine
from helpers.formulas.statistics import wilson_interval
from helpers.model.conditions import Conditions
from helpers.model.fan_power import electric_power_w
from helpers.model.tower import Tower
from helpers.studies import placement
from helpers.studies.placement import place_transmitters
from helpers.studies.placement_choices import Choice, candidate_levels, choices_of, own_choice, spread_triples
from helpers.studies.placement_curves import solve_curves
from helpers.studies.placement_doors import DoorColumns
from helpers.studies.placement_draws import Chances, Drawn, draw
from helpers.studies.placement_lookup import Lookup, groups_of
from helpers.studies.rules import TOLERANCE_PA
from helpers.studies.weather import Hours, demo_weather, read_hours
from helpers.studies.window import pressure_window

HOURS = read_hours(demo_weather()["Greensboro"])


def drawn_for(site, count=60, error=True, **chances):
    drawn = draw(site, HOURS, count, 5, Chances(**chances))
    return drawn if error else Drawn(drawn.conditions, 0 * drawn.error_share, drawn.said)


def placed(site, drawn=None, choices=None, **more):
    return place_transmitters(Tower(site), pressure_window(site), drawn_for(site) if drawn is None else drawn, choices, **more)


def at_levels(site, levels):
    return [site.transmitters[0].model_copy(update={"level": level}) for level in levels]


def held(site, drawn, choice, set_point_pa=None):
    weights = choice.weights if choice.rule == "weighted" else None
    return Tower(site).hold(drawn.conditions, set_point_pa, at_levels(site, choice.levels), choice.rule, weights)


def room_of(site, drawn, air):
    doors = DoorColumns(Tower(site), pressure_window(site))
    return np.min(doors.rooms(doors.across(air), doors.standing_open(drawn.conditions)), axis=(0, 2))


def looked_up(site, drawn, choices, target=None):
    """Places, curves and readings [conditions, speeds, levels] as the study has them."""
    tower, levels = Tower(site), tuple(sorted({level for choice in choices for level in choice.levels}))
    kind, target = site.transmitters[0], site.control.set_point_pa if target is None else target
    off = drawn.error_share[:, [tower.storey(level) for level in levels]] * kind.accuracy_percent_span / 100 * kind.range_high_pa
    doors = DoorColumns(tower, pressure_window(site))
    curves = solve_curves(tower, drawn.conditions, at_levels(site, levels), doors, (target - abs(off).max(), target + abs(off).max()))
    readings = np.clip(curves.readings_pa + off[:, None, :], kind.range_low_pa, kind.range_high_pa)
    lookup = Lookup(readings, tower.effect, curves, doors, doors.standing_open(drawn.conditions))
    places = np.empty((len(choices), len(drawn)))
    for group in groups_of(choices, levels, target):
        places[group.order] = lookup.places(group)
    return places, curves, off, doors


def at_place(table, place):
    """A table [conditions, speeds, ..] at one place for each condition, in straight lines."""
    step = np.minimum(place.astype(int), table.shape[1] - 2)
    part = (place - step).reshape(-1, *[1] * (table.ndim - 2))
    rows = np.arange(len(table))
    return (1 - part) * table[rows, step] + part * table[rows, step + 1]


def several_choices(levels):
    low, middle, high = levels[0], levels[len(levels) // 2], levels[-1]
    pairs = [Choice((low, high), rule) for rule in ("average", "lowest", "highest")]
    return [*pairs, Choice((low, middle, high), "middle"), Choice((middle, high), "weighted", (3.0, 1.0))]


@pytest.mark.parametrize(("name", "count"), [("larkfield", 80), ("northgate", 12)])
def test_looked_up_doors_are_within_half_a_pascal_of_the_held_ones(request, name, count):
    site = request.getfixturevalue(name)
    drawn = drawn_for(site, count, error=False, leak_spread=0.4)
    choices = several_choices(candidate_levels(site))
    places, curves, _, doors = looked_up(site, drawn, choices)
    found = 0
    for choice, place in zip(choices, places, strict=True):
        answer = held(site, drawn, choice)
        rows = answer.state == "held"
        np.testing.assert_allclose(at_place(curves.doors_pa, place)[rows], doors.across(answer.air)[rows], atol=0.5, err_msg=choice.text())
        found += rows.sum()
    assert found > 0.6 * len(choices) * count


def test_at_the_looked_up_speed_the_combined_reading_is_the_set_point(larkfield):
    """With the transmitters' errors and ends of range, which the held loop knows nothing of.

    Within a pascal only: pressures run straight beside each other, which is what counts for the doors, but bend with speed where the relief
    damper lifts.
    """
    site = larkfield.with_changes(transmitters=[{"range_high_pa": 50.0, "accuracy_percent_span": 4.0}, {}])
    drawn, choices = drawn_for(site), several_choices(candidate_levels(larkfield))
    places, curves, off, _ = looked_up(site, drawn, choices)
    levels, tower, met = candidate_levels(site), Tower(site), 0
    used = sorted({level for choice in choices for level in choice.levels})
    for choice, place in zip(choices, places, strict=True):
        air = tower.solve(drawn.conditions, np.sqrt(at_place(curves.square_hz2, place)))
        true = tower.readings(air, at_levels(site, choice.levels))
        readings = np.clip(true + off[:, [used.index(level) for level in choice.levels]], 0.0, 50.0)
        combined = combine(readings, choice.rule, weights=choice.weights if choice.rule == "weighted" else None)
        between = (place > 0) & (place < curves.square_hz2.shape[1] - 1)
        np.testing.assert_allclose(combined[between], 40.0, atol=1.0, err_msg=choice.text())
        assert (combined[place >= curves.square_hz2.shape[1] - 1] < 40.0).all()
        met += between.sum()
    assert met > 0.6 * places.size
    assert len(levels) == 14


def test_room_speed_limits_and_power_are_those_of_the_held_loop(larkfield):
    drawn = drawn_for(larkfield, 100, error=False)
    choices = several_choices(candidate_levels(larkfield))[:3]
    found = placed(larkfield, drawn, choices)
    for number, choice in enumerate(choices):
        answer = held(larkfield, drawn, choice)
        np.testing.assert_allclose(found.room_pa[number], room_of(larkfield, drawn, answer.air), atol=0.5)
        assert found.at_full[number] == (answer.state == "at full speed").sum()
        assert found.at_lowest[number] == (answer.state == "at lowest speed").sum()
        power = electric_power_w(Tower(larkfield), answer.air, drawn.conditions)
        assert found.power_w[number] == pytest.approx(power.mean(), rel=0.02)
        assert found.result(number).energy_kwh == pytest.approx(found.power_w[number] * 8.76)


def test_an_error_of_both_transmitters_shifts_the_set_point_of_their_average(stair):
    wide = {"range_low_pa": -125.0, "accuracy_percent_span": 0.5}  # a reading near zero must not end at the range
    site, choice = stair(transmitters=[wide, wide]), Choice((0, 5), "average")
    drawn = drawn_for(site, 40)
    off = 1.25 * drawn.error_share[:, [0, 5]].mean(axis=1)
    answer = held(site, drawn, choice, 40.0 - off)
    np.testing.assert_allclose(placed(site, drawn, [choice]).room_pa[0], room_of(site, drawn, answer.air), atol=0.5)


def test_a_reading_that_ends_at_its_range_cannot_make_up_for_one_beside_an_open_door(stair):
    """The average of two with one at an open door meets 40 Pa only where the other can read 80."""
    counts = []
    for top in (60.0, 125.0):
        site = stair(transmitters=[{"range_high_pa": top}, {}])
        conditions = Conditions.of(site, "winter", (5,), outdoor_c=[-10.0, 5.0, 20.0])
        found = placed(site, Drawn(conditions, np.zeros((3, 6)), ()), [Choice((0, 5), "average")])
        counts.append(found.at_full[0])
    assert counts == [3, 0]


def test_an_exhaust_fan_turns_lowest_and_highest_round(stair):
    out = {"range_low_pa": -500.0, "range_high_pa": 500.0, "accuracy_percent_span": 0.0}
    site = stair(fan={"effect": "exhaust"}, transmitters=[out, out], control={"set_point_pa": -30.0, "action": "direct"})
    drawn = drawn_for(site, 15)
    choices = [Choice((0, 3, 5), rule, (1.0, 2.0, 3.0)) for rule in ("lowest", "highest", "weighted")]
    found = placed(site, drawn, choices)
    for number, choice in enumerate(choices):
        answer = held(site, drawn, choice)
        assert (answer.state == "held").sum() > 8
        np.testing.assert_allclose(found.room_pa[number], room_of(site, drawn, answer.air), atol=0.5)


def test_a_dead_transmitter_in_an_average_doubles_what_the_other_is_held_at(larkfield):
    drawn, pair = drawn_for(larkfield, 80, error=False), Choice((1, 12), "average")
    found = placed(larkfield, drawn, [pair])
    alone = [held(larkfield, drawn, Choice((level,), "average"), 80.0).air for level in pair.levels]
    inside = [(room_of(larkfield, drawn, air) >= -TOLERANCE_PA).sum() for air in alone]
    assert found.dead[0] == pytest.approx(min(inside), abs=2)  # a looked-up room may differ by half a pascal


def test_a_dead_transmitter_sends_the_lowest_to_full_speed_and_leaves_the_highest_to_the_other(larkfield):
    drawn = drawn_for(larkfield, 80)
    found = placed(larkfield, drawn, [Choice((1, 12), "lowest"), Choice((1, 12), "highest"), Choice((1,), "average")])
    tower = Tower(larkfield)
    full = room_of(larkfield, drawn, tower.solve(drawn.conditions, larkfield.fan.highest_speed_hz))
    assert found.dead[0] == (full >= -TOLERANCE_PA).sum()
    assert found.dead[2] == found.dead[0]  # and so a single one
    assert found.dead[1] == found.left_out[1]


def test_a_transmitter_left_out_leaves_the_others_under_the_same_rule(larkfield):
    pairs = [Choice((1, 12), rule, (2.0, 1.0)) for rule in ("average", "lowest", "weighted")]
    singles = [Choice((1,), "average"), Choice((12,), "average")]
    triple = [Choice((1, 6, 12), "lowest"), *(Choice(pair, "lowest") for pair in ((1, 6), (1, 12), (6, 12)))]
    found = placed(larkfield, choices=[*pairs, *singles, *triple])
    inside = found.inside.sum(axis=1)
    assert found.left_out[:3].tolist() == [min(inside[3:5])] * 3
    assert found.left_out[5] == min(inside[6:])


def test_with_the_only_transmitter_left_out_nothing_remains(larkfield):
    found = placed(larkfield, choices=[Choice((5,), "average"), Choice((5, 6), "weighted", (1.0, 0.0))])
    assert found.left_out.tolist() == [0, 0]
    assert found.result(0).left_out is None
    assert "no reading left" in found.table().rows[0] + found.table().rows[1]


def test_the_middle_of_three_shrugs_off_a_dead_one_that_an_average_does_not(larkfield):
    found = placed(larkfield, choices=[Choice((0, 6, 12), rule) for rule in ("middle", "average")])
    assert found.dead[0] > found.dead[1] + 10


def test_more_choices_cost_no_solve_more(larkfield, monkeypatch):
    rows, solve = [], Tower.solve
    monkeypatch.setattr(Tower, "solve", lambda tower, conditions, speed: rows.append(len(conditions)) or solve(tower, conditions, speed))
    few = placed(larkfield, choices=[Choice((level,), "average") for level in range(14)])
    asked = sum(rows)
    many = placed(larkfield, choices=choices_of(larkfield, triples=spread_triples(range(14))))
    assert len(many.choices) > 20 * len(few.choices)
    assert sum(rows) == 2 * asked


def test_many_processes_give_the_same_to_the_bit(stair, monkeypatch):
    monkeypatch.setattr(placement, "CONDITIONS_AT_ONCE", 20)
    site = stair()
    drawn = drawn_for(site, 50)
    serial = placed(site, drawn)
    with ProcessPoolExecutor(2) as pool:
        assert_same(placed(site, drawn, executor=pool), serial)


def test_a_cluster_gives_the_same_to_the_bit(stair, monkeypatch):
    distributed = pytest.importorskip("distributed", reason="needs the package distributed")
    monkeypatch.setattr(placement, "CONDITIONS_AT_ONCE", 20)
    site = stair()
    drawn = drawn_for(site, 50)
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert_same(placed(site, drawn, executor=client.get_executor()), placed(site, drawn))


def assert_same(one, other):
    for name in ("room_pa", "at_lowest", "at_full", "power_w", "low", "high", "dead", "left_out"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    assert one.verdict() == other.verdict()


def test_a_stopped_study_gives_what_it_has_and_says_so(stair, monkeypatch):
    monkeypatch.setattr(placement, "CONDITIONS_AT_ONCE", 10)
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
    np.testing.assert_array_equal(whole.room_pa[:, :20], found.room_pa)
    with ProcessPoolExecutor(1) as pool:
        np.testing.assert_array_equal(placed(site, drawn, executor=pool, stop=lambda: True).room_pa, whole.room_pa[:, :10])


def test_conditions_without_an_answer_are_left_out_and_counted(stair, monkeypatch):
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
    np.testing.assert_array_equal(found.room_pa, whole.room_pa[:, drawn.conditions.outdoor_c > cold])
    monkeypatch.setattr(Tower, "solve", lambda *asked: unsure_of_all(solve(*asked)))
    with pytest.raises(ValueError, match="the network found none for any of 30"):
        placed(site, drawn)


def unsure_of_all(air):
    air.converged[:] = False
    return air


@pytest.fixture(scope="module")
def larkfield_placement(larkfield):
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


def test_the_door_that_fails_most_is_counted_as_the_held_loop_counts_it(larkfield):
    drawn, choice = drawn_for(larkfield, 120, error=False), Choice((1, 12), "average")
    found = placed(larkfield, drawn, [choice])
    doors = DoorColumns(Tower(larkfield), pressure_window(larkfield))
    rooms = doors.rooms(doors.across(held(larkfield, drawn, choice).air), doors.standing_open(drawn.conditions))
    for counted, room in zip((found.low, found.high), rooms, strict=True):
        np.testing.assert_allclose(counted[0], (room < -TOLERANCE_PA).sum(axis=0), atol=2)  # half a pascal may turn one or two
    result = found.result(found.number_of(choice))
    assert result.out_share == max(found.low[0].max(), found.high[0].max()) / 120
    assert result.fails_most in [column.text for column in doors.columns]


def test_a_door_is_out_only_where_the_choice_is(larkfield_placement):
    found = larkfield_placement
    outside = (~found.inside).sum(axis=1)
    worst = np.maximum(found.low.max(axis=1), found.high.max(axis=1))
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
        assert chart.share[4, 4] == found.share[found.number_of(Choice((4,), "average"))]


def test_of_several_set_points_the_heat_map_shows_the_best(larkfield):
    found = placed(larkfield, choices=choices_of(larkfield, (2,), ("average",), (1, 12), set_points_pa=(5.0, 40.0, 60.0)))
    shares = {choice.set_point_pa: share for choice, share in zip(found.choices, found.share, strict=True)}
    assert found.heat_map("average").share[0, 1] == max(shares.values())
    assert shares[40.0] == shares[None]  # the site's own, at the site's set point
    assert shares[5.0] == 0  # every door asks for 25 Pa
    assert "held at 5 to 60 Pa" in found.verdict()


def test_a_choice_at_its_own_set_point_is_the_study_at_that_set_point(larkfield):
    drawn, pair = drawn_for(larkfield, 30), ((1, 12), "highest")
    several = placed(larkfield, drawn, [Choice(*pair, set_point_pa=held_at) for held_at in (30.0, 50.0)])
    for number, held_at in enumerate((30.0, 50.0)):
        alone = placed(larkfield, drawn, [Choice(*pair)], set_point_pa=held_at)
        np.testing.assert_allclose(several.room_pa[number], alone.room_pa[0], atol=0.5)


def test_the_answer_in_words_names_the_best_the_sites_own_and_what_no_transmitter_mends(larkfield_placement):
    found, said = larkfield_placement, larkfield_placement.verdict()
    own = found.result(found.number_of(found.question.own))
    gained, lost = found.against(found.best.choice, own.choice)
    assert gained - lost == round(60 * (found.best.inside - own.inside))
    for words in (
        f"{len(found.choices)} choices, held at 40 Pa, under the same 60 drawn conditions",
        f"Best: {found.best.choice.text()}, with all doors inside their windows in {100 * found.best.inside:.1f} %",
        f"average of levels 1 and 12, reaches {100 * own.inside:.1f} %",
        f"In {100 * (~found.inside.any(axis=0)).mean():.1f} % of conditions no choice at all",
        "On the site's own levels the other rules reach: lowest",
        f"The best single one, {found.best_of(count=1).choice.text()}",
    ):
        assert words in said
    assert "in. w.c." in found.verdict("in. w.c.")
    assert " Pa" not in found.verdict("in. w.c.")


def test_the_table_gives_the_best_ones_and_the_sites_own(larkfield_placement):
    table = larkfield_placement.table(3)
    assert [row[0] for row in table.rows[:3]] == ["1", "2", "3"]
    assert any(row[1] == "average of levels 1 and 12" for row in table.rows)
    assert {len(row) for row in table.rows} == {len(table.columns)}
    assert "seed 5" in table.note
    assert "39% of the way" in table.note


def test_a_best_that_is_the_sites_own_is_said_to_be(larkfield):
    own = own_choice(larkfield)
    found = placed(larkfield, choices=[own, Choice((0,), "average", set_point_pa=10.0)])
    assert "It is what the site file has chosen." in found.verdict()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"choices": []}, "choices must hold at least one choice"),
        ({"choices": [Choice((99,), "average")]}, "choices must name levels from 0 to 5, got 99"),
        ({"set_point_pa": 125.0}, "set_point_pa must lie inside the range 0 to 125 Pa, got 125"),
        ({"choices": [Choice((1,), "average", set_point_pa=-5.0)]}, "set_point_pa must lie inside the range"),
        ({"set_point_pa": np.nan}, "set_point_pa must be a finite number"),
    ],
)
def test_nonsense_gets_one_sentence(stair, changes, words):
    with pytest.raises(ValueError, match=words):
        placed(stair(), **changes)


def test_more_than_the_memory_should_hold_is_refused(stair, monkeypatch):
    monkeypatch.setattr(placement, "MOST_CELLS", 100)
    with pytest.raises(ValueError, match="choices times conditions must be 100 at the most, got 2 times 60"):
        placed(stair(), choices=[Choice((0,), "average"), Choice((5,), "average")])


def test_draws_for_another_building_and_levels_without_lobby_are_refused(stair, northgate):
    with pytest.raises(ValueError, match="drawn must be for 6 storeys, got 8"):
        placed(stair(), drawn_for(stair(8)))
    with pytest.raises(ValueError, match="level -1 has none"):
        placed(northgate, drawn_for(northgate, 2), [Choice((-1, 5), "average")])
    with pytest.raises(ValueError, match="error_share must be one for each condition and storey"):
        Drawn(drawn_for(stair(), 3).conditions, np.zeros((3, 2)), ())


def test_a_site_without_any_limit_cannot_be_judged(stair, a_door):
    free = stair(doors={"stair": {"minimum_dp_pa": None, "force_limit_n": None, "closer_force_n": None, "handle_to_edge_m": None}})
    with pytest.raises(ValueError, match="window must limit at least one door"):
        placed(free)


def test_what_was_not_tried_is_not_told(larkfield):
    found = placed(larkfield, choices=[Choice((1,), "average")])
    assert found.best_of("lowest") is None
    with pytest.raises(ValueError, match="choice must be one of the 1 tried"):
        found.number_of(Choice((2,), "average"))
    with pytest.raises(ValueError, match="rule must be one that was tried on pairs"):
        found.heat_map("lowest")


def test_a_lobby_door_and_a_final_exit_are_judged_too(stair, a_door):
    lobby = {"lobby": True, "lobby_door": "lobby"}
    doors = {"lobby": a_door(minimum_dp_pa=30.0), "street": a_door(opens="with pressure", minimum_dp_pa=None, closer_force_n=20.0)}
    site = stair(doors=doors, storeys=[{**lobby, "final_exit_door": "street"}, *[lobby] * 5])
    calm = Hours("calm", [-10.0], [0.0], [0.0])
    drawn = draw(site, calm, 5, 1, Chances((1.0,), 0.0))
    found = placed(site, drawn, [Choice((0, 5), "average")])
    texts = [column.text for column in found.question.doors]
    assert found.high[0][texts.index("final exit of level 0")] == 5  # the stair's 40 Pa push it open
    assert (found.low[0][[texts.index(f"lobby door of level {level}") for level in range(6)]] == 5).all()
    open_exit = draw(site, calm, 5, 1, Chances((1.0,), 1.0))
    assert placed(site, open_exit, [Choice((0, 5), "average")]).high[0][texts.index("final exit of level 0")] == 0
