"""Placement of transmitters: every looked-up answer against the loop that is held in the air network itself."""

import numpy as np
import pytest

from helpers.formulas.combining import combine
from helpers.model.air.fan import electric_power_w
from helpers.model.air.tower import Tower
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.placement.lookup import Lookup, groups_of, solve_curves
from helpers.studies.placement.study import Placing, candidate_levels
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.status import ON_LIMIT_PA


def at_levels(site, levels):
    return [site.transmitters[0].model_copy(update={"level": level}) for level in levels]


def held(site, drawn, choice, set_point_pa=None):
    weights = choice.weights if choice.rule == "weighted" else None
    return Tower(site).hold(drawn.conditions, set_point_pa, at_levels(site, choice.levels), choice.rule, weights)


def room_of(site, drawn, air):
    doors = DoorColumns(Tower(site), allowed_pressures(site))
    return np.min(doors.rooms(doors.across(air), doors.standing_open(drawn.conditions)), axis=(0, 2))


def looked_up(site, drawn, choices, target=None):
    """Places, curves and readings [conditions, speeds, levels] as the study has them."""
    tower, levels = Tower(site), tuple(sorted({level for choice in choices for level in choice.levels}))
    kind, target = site.transmitters[0], site.control.set_point_pa if target is None else target
    off = drawn.error_share[:, [tower.storey(level) for level in levels]] * kind.accuracy_percent_span / 100 * kind.range_high_pa
    doors = DoorColumns(tower, allowed_pressures(site))
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
    pairs = [Placing((low, high), rule) for rule in ("average", "lowest", "highest")]
    return [*pairs, Placing((low, middle, high), "middle"), Placing((middle, high), "weighted", (3.0, 1.0))]


@pytest.mark.parametrize(("name", "count"), [("larkfield", 80), ("northgate", 12)])
def test_looked_up_doors_are_within_half_a_pascal_of_the_held_ones(drawn_for, request, name, count):
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


def test_at_the_looked_up_speed_the_combined_reading_is_the_set_point(drawn_for, larkfield):
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


def test_room_speed_limits_and_power_are_those_of_the_held_loop(placed, drawn_for, larkfield):
    drawn = drawn_for(larkfield, 100, error=False)
    choices = several_choices(candidate_levels(larkfield))[:3]
    found = placed(larkfield, drawn, choices)
    for number, choice in enumerate(choices):
        answer = held(larkfield, drawn, choice)
        np.testing.assert_allclose(found.tally.room_pa[number], room_of(larkfield, drawn, answer.air), atol=0.5)
        assert found.tally.at_full[number] == (answer.state == "at full speed").sum()
        assert found.tally.at_lowest[number] == (answer.state == "at lowest speed").sum()
        power = electric_power_w(Tower(larkfield), answer.air, drawn.conditions)
        assert found.tally.power_w[number] == pytest.approx(power.mean(), rel=0.02)
        assert found.result(number).energy_kwh == pytest.approx(found.tally.power_w[number] * 8.76)


def test_the_door_that_fails_most_is_counted_as_the_held_loop_counts_it(placed, drawn_for, larkfield):
    drawn, choice = drawn_for(larkfield, 120, error=False), Placing((1, 12), "average")
    found = placed(larkfield, drawn, [choice])
    doors = DoorColumns(Tower(larkfield), allowed_pressures(larkfield))
    rooms = doors.rooms(doors.across(held(larkfield, drawn, choice).air), doors.standing_open(drawn.conditions))
    for counted, room in zip((found.tally.low, found.tally.high), rooms, strict=True):
        np.testing.assert_allclose(counted[0], (room < -ON_LIMIT_PA).sum(axis=0), atol=2)  # half a pascal may turn one or two
    result = found.result(found.number_of(choice))
    assert result.out_share == max(found.tally.low[0].max(), found.tally.high[0].max()) / 120
    assert result.fails_most in [column.text for column in doors.columns]


def test_an_error_of_both_transmitters_shifts_the_set_point_of_their_average(placed, drawn_for, stair):
    wide = {"range_low_pa": -125.0, "accuracy_percent_span": 0.5}  # a reading near zero must not end at the range
    site, choice = stair(transmitters=[wide, wide]), Placing((0, 5), "average")
    drawn = drawn_for(site, 40)
    off = 1.25 * drawn.error_share[:, [0, 5]].mean(axis=1)
    answer = held(site, drawn, choice, 40.0 - off)
    np.testing.assert_allclose(placed(site, drawn, [choice]).tally.room_pa[0], room_of(site, drawn, answer.air), atol=0.5)


def test_an_exhaust_fan_turns_lowest_and_highest_round(placed, drawn_for, stair):
    out = {"range_low_pa": -500.0, "range_high_pa": 500.0, "accuracy_percent_span": 0.0}
    site = stair(fan={"effect": "exhaust"}, transmitters=[out, out], control={"set_point_pa": -30.0, "action": "direct"})
    drawn = drawn_for(site, 15)
    choices = [Placing((0, 3, 5), rule, (1.0, 2.0, 3.0)) for rule in ("lowest", "highest", "weighted")]
    found = placed(site, drawn, choices)
    for number, choice in enumerate(choices):
        answer = held(site, drawn, choice)
        assert (answer.state == "held").sum() > 8
        np.testing.assert_allclose(found.tally.room_pa[number], room_of(site, drawn, answer.air), atol=0.5)


def test_a_dead_transmitter_in_an_average_doubles_what_the_other_is_held_at(placed, drawn_for, larkfield):
    drawn, pair = drawn_for(larkfield, 80, error=False), Placing((1, 12), "average")
    found = placed(larkfield, drawn, [pair])
    alone = [held(larkfield, drawn, Placing((level,), "average"), 80.0).air for level in pair.levels]
    inside = [(room_of(larkfield, drawn, air) >= -ON_LIMIT_PA).sum() for air in alone]
    assert found.tally.dead[0].sum() == pytest.approx(min(inside), abs=2)  # a looked-up room may differ by half a pascal


def test_a_dead_transmitter_sends_the_lowest_to_full_speed_and_leaves_the_highest_to_the_other(placed, drawn_for, larkfield):
    drawn = drawn_for(larkfield, 80)
    found = placed(larkfield, drawn, [Placing((1, 12), "lowest"), Placing((1, 12), "highest"), Placing((1,), "average")])
    tower = Tower(larkfield)
    full = room_of(larkfield, drawn, tower.solve(drawn.conditions, larkfield.fan.highest_speed_hz))
    assert found.tally.dead[0].sum() == (full >= -ON_LIMIT_PA).sum()
    assert (found.tally.dead[2] == found.tally.dead[0]).all()  # and so a single one
    assert (found.tally.dead[1] == found.tally.left_out[1]).all()
