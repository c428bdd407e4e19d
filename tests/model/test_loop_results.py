"""What a run was like: recovery, force at the handles, starts, energy."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.formulas import doors, fan
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.events import DoorEvent
from helpers.model.loop.results import door_course, energy_kwh, recovery, starts_per_hour, swing_pa
from helpers.model.loop.run import LoopRun, Setup, run_loop, settings_of
from helpers.model.site.file import demo_sites, read_site

LARKFIELD = read_site(demo_sites()["Larkfield House"])
TOWER = Tower(LARKFIELD)
WINTER = Conditions.of(LARKFIELD, "winter")
STREET = DoorEvent(0, 10.0, shuts_s=30.0, door="exit")
QUICK = replace(settings_of(LARKFIELD), gain=0.5, integral_s=0.6)


@pytest.fixture(scope="module")
def street_door():
    """The final exit door stands open for twenty seconds."""
    return run_loop(TOWER, WINTER, Setup(60.0, events=(STREET,), settings=QUICK))


def made(reading, running=None, sample_s=0.1):
    """A run whose combined reading is given; nothing else is looked at."""
    column = np.asarray(reading, float)[:, None]
    time = np.arange(len(column)) * sample_s
    flags = np.ones(column.shape, bool) if running is None else np.asarray(running)[:, None]
    return LoopRun(time, column, column, column, None, None, ~flags, flags, settings_of(LARKFIELD), None)


def test_a_door_that_shuts_on_a_fast_fan_makes_the_doors_heavy_until_the_loop_has_slowed_down(street_door):
    course = door_course(street_door, TOWER)
    shut = street_door.time_s >= 30.0
    door = LARKFIELD.doors["flat landing"]
    # The peak comes when the door has just shut, and is far above what the doors ask for before and at the end.
    storey = int(np.nanargmax(course.peak_force_n))
    peak = np.nanargmax(course.force_n[:, storey])
    assert 30.5 <= street_door.time_s[peak] <= 33.0
    assert course.peak_force_n[storey] > max(course.force_n[50, storey], course.force_n[-1, storey]) + 20
    assert course.above_limit_s[storey] == pytest.approx(0.1 * (course.force_n[:, storey] > 133.0).sum())
    assert 1.0 < 0.1 * (course.force_n[shut, storey] > 133.0).sum() < 15.0
    # By hand at the end of the run, from the pressure there.
    held = course.pressure_pa[-1, storey]
    assert course.force_n[-1, storey] == pytest.approx(70 + 0.91 * 2.1 * held * 0.91 / (2 * (0.91 - 0.07)))
    assert course.force_n[-1, storey] == pytest.approx(doors.opening_force(held, door.width_m, door.height_m, 70.0, 0.07))


def test_a_door_that_stands_open_is_neither_heavy_nor_a_smoke_path_of_its_own_accord():
    run = run_loop(TOWER, WINTER, Setup(30.0, events=(DoorEvent(5, 5.0, shuts_s=20.0),), settings=QUICK))
    course = door_course(run, TOWER)
    ajar = (run.time_s > 5.0) & (run.time_s < 21.5)
    at = TOWER.storey(5)
    assert np.isnan(course.force_n[ajar, at]).all()
    assert np.isfinite(course.force_n[~ajar, at]).all()
    assert course.pressure_pa[ajar, at].min() < 5.0
    assert course.below_least_s[at] < 2.0


def test_recovery_counts_from_the_door_to_where_nine_tenths_are_and_stay(street_door):
    found = recovery(street_door, 10.0, within_s=19.9)
    flow = street_door.air.along(street_door.air.flow_m3_s, street_door.time_s, street_door.speed_hz[:, 0])[:, 0]
    before = flow[street_door.time_s <= 10.0][-1]
    end = TOWER.hold(Conditions.of(LARKFIELD, "winter", open_exits=(0,))).air.fan_flow_m3_s[0]
    share = (flow - before) / (end - before)
    there = np.flatnonzero((street_door.time_s >= 10.0) & (street_door.time_s < 29.9) & (share < 0.9))[-1] + 1
    assert found.flow_s == pytest.approx(street_door.time_s[there] - 10.0)
    assert 1.0 < found.flow_s < 8.0
    assert found.deviation_pa == pytest.approx(40.0 - street_door.reading_pa[100:299].min())


def test_a_ramp_of_ten_minutes_recovers_nothing_in_half_a_minute():
    slow = run_loop(TOWER, WINTER, Setup(60.0, events=(DoorEvent(0, 10.0, door="exit"),), settings=QUICK, ramp_s=600.0))
    assert np.isnan(recovery(slow, 10.0, within_s=40.0).flow_s)
    assert np.isnan(recovery(slow, 10.0, within_s=40.0).reading_s)


def test_a_loop_that_sleeps_never_recovers():
    asleep = replace(settings_of(LARKFIELD), gain=0.001, integral_s=100_000.0)
    run = run_loop(TOWER, WINTER, Setup(60.0, events=(STREET,), settings=asleep))
    assert np.isnan(recovery(run, 10.0, within_s=19.9).flow_s)
    assert np.isnan(recovery(run, 10.0, within_s=19.9).reading_s)


def test_recovery_is_counted_to_the_flow_that_the_network_settles_at():
    """Half a minute is not enough for the site's own settings, and a part of the way gets no credit."""
    run = run_loop(TOWER, WINTER, Setup(110.0, events=(replace(STREET, shuts_s=60.0),)))
    opened = TOWER.hold(Conditions.of(LARKFIELD, "winter", open_exits=(0,))).air
    flow = run.air.along(run.air.flow_m3_s, run.time_s, run.speed_hz[:, 0])[:, 0]
    share = (flow - flow[99]) / (opened.fan_flow_m3_s[0] - flow[99])
    by_hand = run.time_s[np.flatnonzero((share < 0.9) & (run.time_s >= 10.0) & (run.time_s < 60.0))[-1] + 1] - 10.0
    found = recovery(run, 10.0, within_s=49.9)
    assert found.flow_s == pytest.approx(by_hand, abs=0.3)
    assert found.flow_s > 25.0
    assert np.isnan(recovery(run, 10.0, within_s=20.0).flow_s)


def test_a_fan_at_full_speed_has_recovered_when_it_gives_all_it_has():
    weak = LARKFIELD.with_changes(fan={"highest_speed_hz": 26.0})
    tower = Tower(weak)
    run = run_loop(tower, Conditions.of(weak, "winter"), Setup(60.0, events=(STREET,), settings=QUICK))
    at_full = (run.time_s > 15.0) & (run.time_s < 29.0)
    assert run.speed_hz[at_full].min() == pytest.approx(26.0)
    assert recovery(run, 10.0, within_s=19.9).flow_s < 5.0


def test_an_event_that_moves_the_flow_by_nothing_is_over_at_once():
    """A fan by hand: nothing is asked of the loop, the speed it stays at is given."""
    run = run_loop(TOWER, WINTER, Setup(30.0, hand=((0.0, 30.0, 50.0),), start_hz=25.0, settings=QUICK))
    assert recovery(run, 5.0, within_s=20.0, settles_hz=25.0).flow_s == 0.0


def test_a_slow_drift_is_no_swing_and_a_swing_is_one():
    time = np.arange(0, 40, 0.1)
    drift, hump = 40 - 8 * np.exp(-time / 30), 40 + 5 * np.exp(-(((time - 20) / 5) ** 2))
    wave = 40 + 3 * np.sin(2 * np.pi * time / 4.0)
    late, noise = (20.0, 40.0), 0.05 * np.sign(np.sin(40 * time))
    assert swing_pa(made(drift), *late) == pytest.approx([0.0])
    assert swing_pa(made(hump), 10.0, 35.0)[0] < 0.2
    assert swing_pa(made(wave), *late) == pytest.approx([6.0], rel=0.01)
    assert swing_pa(made(wave + drift - 40), *late) == pytest.approx([6.0], rel=0.15)
    assert swing_pa(made(drift + noise), *late)[0] < 0.2


def test_starts_are_counted_by_the_hour():
    running = [True] * 100 + ([False] * 50 + [True] * 50) * 3  # three starts in forty seconds
    assert starts_per_hour(made(np.zeros(400), running)) == pytest.approx([3 * 3600 / 40.0])


def test_a_fan_that_cycles_starts_as_often_as_its_timers_let_it():
    # A threshold above the duty speed: the fan is stopped at once, loses the pressure, starts again. Timers, ramps and run-up by hand.
    rule = LowDemandRule(45.0, 10.0, 5.0, 3.0)
    run = run_loop(TOWER, WINTER, Setup(300.0, low_demand=rule, fire_mode=False, settings=QUICK))
    changes = np.flatnonzero(np.diff(run.running[:, 0].astype(int)) == 1)
    assert len(changes) >= 10
    assert starts_per_hour(run)[0] == pytest.approx(len(changes) * 12)
    assert starts_per_hour(run)[0] < 3600 / 13.0


def test_the_energy_of_a_steady_fan_is_its_power_times_the_time():
    run = run_loop(TOWER, WINTER, Setup(36.0, hand=((0.0, 40.0, 48.0),), start_hz=24.0))
    air = TOWER.solve(WINTER, 24.0)
    top = air.stair_pa[0, TOWER.storey(13)]
    flow = air.fan_flow_m3_s[0]
    # By hand: fan pressure is what stands against it and the duct's 250 Pa at 5 m3/s in air of -9 degC; 60, 88 and 97 %.
    density = 1.2 * 293.15 / 264.15 * (TOWER.pressure_pa / 101325)
    power = fan.shaft_power_w(flow, top + 250 * (flow / 5) ** 2 * density / 1.2, 0.6) / (0.88 * 0.97)
    assert energy_kwh(run) == pytest.approx(power * 36 / 3.6e6, rel=0.005)


def test_recovery_asks_for_an_event_of_the_run(street_door):
    with pytest.raises(ValueError, match=r"at_s must be from 0 to 59\.9, got 80"):
        recovery(street_door, 80.0)
    with pytest.raises(ValueError, match="within_s must be above 0, got 0"):
        recovery(street_door, 10.0, within_s=0.0)


def test_what_is_read_along_several_runs_is_what_is_read_along_each():
    """A winter and a summer side by side, a door that opens in both."""
    two = Conditions.joined([WINTER, Conditions.of(LARKFIELD, "summer")])
    settings = replace(QUICK, gain=np.array([0.5, 0.4]))
    run = run_loop(TOWER, two, Setup(4.0, events=(DoorEvent(5, 1.0, shuts_s=3.0),), settings=settings))
    numbers = np.array([1, 0])
    for table in (run.air.doors_pa, run.air.readings):
        both = run.air.along(table, run.time_s, run.speed_hz[:, numbers], numbers)
        alone = [run.air.along(table, run.time_s, run.speed_hz[:, number], int(number)) for number in numbers]
        assert both == pytest.approx(np.stack(alone, axis=1), abs=1e-9)
        assert np.abs(alone[0] - alone[1]).max() > 1.0
