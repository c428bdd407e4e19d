"""Stair and second shaft in time: at rest the network's own, what starts and stops of the second fan do to the loop; what is not
played says so."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from helpers.formulas.fan import angular_speed
from helpers.model.air.fan import fan_points
from helpers.model.air.second_shaft.openings import OFF, ShaftState
from helpers.model.air.tower import Tower
from helpers.model.loop.run import settings_of
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.cases import usual_cases
from helpers.studies.doors.second_shaft.in_time import CHANGES_S, EVENTS, NOT_PLAYED, ShaftPlayer, shaft_in_time
from helpers.studies.doors.second_shaft.steady import BOTH, both_shafts
from helpers.studies.doors.window import pressure_window
from helpers.units.said import written_out

SITE = read_site(Path(__file__).parents[2] / "data" / "variants" / "tannery_row_lift_shaft.toml")
STARTS, STAIR_AFTER, AT_ONCE, LOST = EVENTS
CASES = tuple(case for case in usual_cases(SITE) if case.shut)[:3]


@pytest.fixture(scope="module")
def player():
    return ShaftPlayer(Tower(SITE), pressure_window(SITE), CASES, settings_of(SITE))


def test_before_and_long_after_the_change_the_loop_stands_where_the_network_has_it(player):
    both, off = (Tower(SITE, *state).hold(player.conditions).air.speed_hz for state in ((), (ShaftState(OFF),)))
    for event, before, after in ((STARTS, off, both), (LOST, both, off)):
        found, _ = player.run(event)
        at_first = found.speed_hz[found.time_s < CHANGES_S][-1].reshape(4, -1)
        at_last = found.speed_hz[-1].reshape(4, -1)
        assert at_first == pytest.approx(np.tile(before, (4, 1)), abs=0.3)
        assert at_last == pytest.approx(np.tile(after, (4, 1)), abs=0.3)


def test_a_second_fan_that_starts_lowers_the_reading_and_one_that_is_lost_raises_it(player):
    starts, lost = player.play(STARTS), player.play(LOST)
    target = SITE.control.set_point_pa
    assert starts.lowest_pa < target - 1
    assert lost.highest_pa > target + 1
    assert starts.settles_s < 30
    assert lost.settles_s < 30


def test_a_quick_second_fan_moves_the_reading_more_than_a_slow_one(player):
    found, _ = player.run(STARTS)
    least = found.reading_pa[found.time_s >= CHANGES_S].min(axis=0).reshape(4, -1)
    assert (least[:2] <= least[2:] + 0.05).all()
    assert least[0].min() < least[2].min() - 0.3


def test_between_both_speeds_the_air_is_near_the_networks_own(player):
    _, air = player.run(STARTS)
    share, hz = 0.7, 27.3
    fan = SITE.second_shaft.fan
    tower = Tower(SITE.with_changes(second_shaft={"fan": {"speed_hz": share * fan.speed_hz}}))
    true = tower.readings(tower.solve(player.conditions, hz))
    seen = np.stack(
        [air.at(table, np.full(len(air.place), share), np.full(len(air.place), hz)) for table in np.moveaxis(air.readings_pa, 2, 0)]
    )
    worst = np.abs(seen[:, : len(CASES)].T - true).max()
    assert worst < 0.4


def test_past_a_limit_or_without_rest_is_fail_and_a_loop_of_its_own_is_told_as_not_played(player):
    found = shaft_in_time(Tower(SITE), pressure_window(SITE), CASES, settings_of(SITE))
    steady = both_shafts(Tower(SITE), pressure_window(SITE), CASES).state(BOTH).stair
    assert found.rest_room_pa == pytest.approx(steady.room_pa, abs=0.3)  # straight lines between the speeds
    assert set(found.table().states) == {"wrong"}  # short for as long as both are at rest: no seconds tell of it
    assert "for as long as both fans are at rest" in written_out(found.table().rows[0][3])
    assert [one.severity for one in found.findings()] == ["wrong"]
    found = replace(found, rest_room_pa=2.0)
    one = found.plays[0]
    assert found.state(replace(one, settles_s=np.nan)) == found.state(replace(one, shaft_room_pa=-1.0)) == "wrong"
    bad = replace(found, plays=(replace(one, stair_room_pa=-2.0),))
    assert [finding.severity for finding in bad.findings()] == ["wrong"]
    assert len(found.table().rows) == len(EVENTS)
    assert "other leakages were not played" in written_out(found.table().note)
    sound = tuple(replace(each, settles_s=5.0, stair_short_s=0.0, stair_room_pa=4.0, shaft_room_pa=4.0) for each in found.plays)
    (good,) = replace(found, plays=sound).findings()
    assert good.severity == "good"
    assert "in each event that was played, all doors shut, walls as in the file" in written_out(good.figure)
    meanwhile = replace(found, plays=(replace(sound[0], stair_short_s=3.0), *sound[1:]))
    told = next(each for each in meanwhile.findings() if "short of pressure" in each.what)
    assert told.severity == "attention"
    assert "3.0 s" in written_out(told.figure)
    coming = replace(found, plays=(replace(sound[1], stair_short_s=3.0),))  # a stair that starts is short until it is up
    assert [each.severity for each in coming.findings()] == ["good"]
    assert coming.table().states == ("attention",)  # how long that may take nobody has said
    loop = {"speed_hz": None, "set_point_pa": 32.0, "set_point_level": 3, "set_point_over": "floor", "lowest_speed_hz": 10.0,
            "highest_speed_hz": 50.0}  # fmt: skip
    own = SITE.with_changes(second_shaft={"fan": loop})
    told = shaft_in_time(Tower(own), pressure_window(own), CASES, settings_of(own))
    assert told.table().states == ("open",)
    assert [finding.severity for finding in told.findings()] == ["open"]
    assert told.table().rows[0][1] == NOT_PLAYED
    plain = read_site(demo_sites()["Tannery Row"])
    assert shaft_in_time(Tower(plain), pressure_window(plain), CASES, settings_of(plain)) is None


def test_a_stair_fan_without_a_brake_coasts_by_its_own_inertia_while_the_second_one_is_lost():
    def player_of(brake):
        site = SITE.with_changes(fan={"inertia_kg_m2": 6.0, "brake": brake, "ramp_down_s": 1.0})
        return ShaftPlayer(Tower(site), pressure_window(site), CASES[:1], settings_of(site))

    braked, free = player_of("resistor"), player_of("none")
    assert braked.coast_s is None
    fan = free.site.fan
    full = free.tower.solve(free.conditions, fan.highest_speed_hz)
    shaft_w = fan_points(free.tower, full, free.conditions)[2]
    turning = angular_speed(fan.highest_speed_hz, fan.motor_poles)
    assert free.coast_s >= 6.0 * turning**2 / shaft_w * 0.999  # J w0^2 / P0, at the least power of both
    fall = [float(-np.diff(one.run(LOST)[0].speed_hz, axis=0).min()) for one in (braked, free)]
    assert fall[1] < fall[0]
