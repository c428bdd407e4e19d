"""Transmitters that lag, readings that come late, ramps up and down, limits in smoke control: what a real loop has, played in time."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.arithmetic import ManyRuns, OneRun
from helpers.model.loop.controller import Controller, ControllerSettings, Drive
from helpers.model.loop.events import DoorEvent
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.model.loop.signal_chain import SignalChain
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site
from helpers.model.site.schema import Transmitter
from helpers.model.site.tolerances import loop_lags

LARKFIELD = read_site(demo_sites()["Larkfield House"])
TOWER = Tower(LARKFIELD)
WINTER = Conditions.of(LARKFIELD, "winter")
OWN = settings_of(LARKFIELD)
DOOR = (DoorEvent(5, 2.0),)
PT = Transmitter(name="PT", level=0, range_low_pa=0.0, range_high_pa=100.0, signal="4-20 mA", accuracy_percent_span=1.0, converter_bits=24)


def step_answer(times, sample=0.05, **lags):
    """What a chain reads after a step from 20 to 60 Pa at time zero."""
    chain = SignalChain((PT,), sample_s=sample, **lags)
    chain.read([20.0], -sample)
    return np.array([chain.read([60.0], time)[0] for time in times])


def test_lags_one_behind_the_other_answer_a_step_as_their_product():
    times = np.arange(0, 4, 0.05)
    read = step_answer(times, lag_s=0.2, more_lags_s=(0.7,))
    exact = 60 - 40 * (0.7 * np.exp(-(times + 0.05) / 0.7) - 0.2 * np.exp(-(times + 0.05) / 0.2)) / 0.5
    assert read == pytest.approx(exact, abs=1.5)  # the step falls somewhere within a sample
    assert step_answer(times, lag_s=0.2, more_lags_s=(0.0,)) == pytest.approx(step_answer(times, lag_s=0.2), abs=0)


@pytest.mark.parametrize("late_s", [0.05, 0.3, 0.42])
def test_a_late_reading_is_the_reading_of_a_moment_ago(late_s):
    times = np.arange(0, 3, 0.05)
    prompt, late = step_answer(times, lag_s=0.3), step_answer(times, lag_s=0.3, late_s=late_s)
    before = np.interp(times - late_s, np.append(-0.05, times), np.append(20.0, prompt))
    assert late == pytest.approx(np.where(times - late_s <= -0.05, 20.0, before), abs=1e-2)


def test_many_runs_with_lags_and_dead_times_of_their_own_do_what_each_does_alone():
    lags, dead, down = np.array([0.0, 0.4, 1.0]), np.array([0.1, 0.33, 0.6]), np.array([6.0, 20.0, 3.0])
    setup = Setup(12.0, events=DOOR, more_lag_s=lags, dead_time_s=dead, ramp_down_s=down)
    many = run_loop(TOWER, WINTER, setup)
    for i in range(3):
        lone = replace(setup, more_lag_s=float(lags[i]), dead_time_s=float(dead[i]), ramp_down_s=float(down[i]))
        alone = run_loop(TOWER, WINTER, lone, air=many.air)
        assert many.speed_hz[:, i] == pytest.approx(alone.speed_hz[:, 0], abs=1e-6)
        assert many.reading_pa[:, i] == pytest.approx(alone.reading_pa[:, 0], abs=1e-6)


def test_quick_settings_that_are_calm_in_the_nominal_loop_swing_with_the_lags_a_building_may_have():
    lags, quick = loop_lags(LARKFIELD), replace(OWN, gain=1.07, integral_s=0.53)
    far = {"more_lag_s": lags.lag.high, "dead_time_s": lags.dead_time.high}

    def swing(settings, **more):
        run = run_loop(TOWER, WINTER, Setup(60.0, events=DOOR, settings=settings, **more))
        return float(np.ptp(run.reading_pa[run.time_s > 40.0]))

    assert swing(quick) < 0.2
    assert swing(quick, **far) > 1.0  # and does not die away
    assert swing(OWN, **far) < 0.2


def test_what_the_site_states_of_its_transmitters_is_played_without_being_asked():
    def read(transmitters=(), **control):
        site = LARKFIELD.with_changes(transmitters=[dict(transmitters)] * 2, control=control)
        setup = Setup(8.0, events=DOOR, hand=((0.0, 8.0, 50.0),), start_hz=25.0)
        return run_loop(Tower(site), Conditions.of(site, "winter"), setup).reading_pa[:, 0]

    prompt, time = read(), np.arange(80) * 0.1
    for slow in (read({"damping_s": 1.0}), read({"tube_length_m": 60.0, "tube_bore_m": 0.003}), read({"response_s": (0.1, 1.1, 2.0)})):
        assert np.abs(slow - prompt).max() > 1.0
        assert slow[time < 2.0] == pytest.approx(prompt[time < 2.0], abs=0.1)
        assert slow[-1] == pytest.approx(prompt[-1], abs=1.0)
    assert read(bus_delay_s=0.5)[5:] == pytest.approx(prompt[:-5], abs=1e-6)
    assert read(input_scan_s=1.0)[5:] == pytest.approx(prompt[:-5], abs=1e-6)  # half a scan old on average


def test_a_time_constant_that_nobody_states_is_told_in_the_run():
    bare = LARKFIELD.with_changes(transmitters=[{"response_s": None}] * 2)
    assert run_loop(TOWER, WINTER, Setup(1.0)).remarks == ()
    (said,) = run_loop(Tower(bare), WINTER, Setup(1.0)).remarks
    assert said == "Transmitter 1 and Transmitter 2: no time constant is stated; played as 0.10 s."
    assert run_loop(Tower(bare), WINTER, Setup(1.0, lag_s=0.3)).remarks == ()


def test_a_fan_comes_down_on_its_own_ramp_and_up_on_the_other():
    fan = LARKFIELD.fan.model_copy(update={"ramp_down_s": 20.0})
    drive = Drive(fan, 0.1, 30.0)
    assert drive.step(100.0) - 30.0 == pytest.approx(50 / 6 * 0.1)
    assert drive.step(0.0) - drive.step(0.0) == pytest.approx(50 / 20 * 0.1)
    silent = LARKFIELD.fan.model_copy(update={"ramp_down_s": None})
    assert 30.0 - Drive(silent, 0.1, 30.0, ramp_s=3.0).step(0.0) == pytest.approx(50 / 3 * 0.1)  # none stated: as the ramp up
    assert 30.0 - Drive(fan, 0.1, 30.0, ramp_s=3.0).step(0.0) == pytest.approx(50 / 3 * 0.1)  # one given for both ways
    assert 30.0 - Drive(fan, 0.1, 30.0, ramp_s=3.0, ramp_down_s=9.0).step(0.0) == pytest.approx(50 / 9 * 0.1)


@pytest.mark.parametrize("arithmetic", [OneRun(), ManyRuns(2)], ids=["one", "many"])
def test_a_wheel_left_to_the_air_slows_as_the_closed_form_of_coasting(arithmetic):
    drive = Drive(LARKFIELD.fan.model_copy(update={"ramp_down_s": 0.5}), 0.1, 50.0, arithmetic=arithmetic, coast_s=9.3)
    speeds = np.array([np.ravel(drive.step(arithmetic.value(0.0)))[0] for _ in range(100)])
    assert speeds == pytest.approx(50.0 / (1 + 0.1 * np.arange(1, 101) / 9.3))


def test_a_door_that_shuts_on_a_wheel_without_a_brake_loads_the_doors_for_longer():
    events = (DoorEvent(0, 1.0, door="exit", shuts_s=15.0),)

    def seconds_above(site, limit_pa=60.0):
        run = run_loop(Tower(site), WINTER, Setup(40.0, events=events, settings=replace(OWN, gain=3.0, integral_s=3.0)))
        return 0.1 * int((run.tubes_pa[run.time_s > 15.0].max(axis=1) > limit_pa).sum())

    braked, coasting = (seconds_above(LARKFIELD.with_changes(fan={"brake": brake})) for brake in ("resistor", "none"))
    assert coasting > braked + 1.0


def test_an_integral_that_stops_at_the_ramp_as_well_overshoots_less():
    # A quick integral under a slow ramp asks for more than the ramp can give, and has to be undone afterwards.
    quick = replace(OWN, gain=1.0, integral_s=0.8)

    def overshoot(stops):
        settings = replace(quick, integral_stops=stops)
        run = run_loop(TOWER, WINTER, Setup(40.0, settings=settings, start_hz=10.0, ramp_s=15.0))
        return float(run.reading_pa.max() - OWN.set_point_pa)

    assert overshoot("ends") > overshoot("ends and ramp") + 3.0


def test_where_the_ramp_is_not_reached_both_ways_of_stopping_the_integral_are_one():
    one, other = (
        run_loop(TOWER, WINTER, Setup(20.0, events=DOOR, ramp_s=0.1, ramp_down_s=0.1, settings=replace(OWN, integral_stops=stops)))
        for stops in ("ends", "ends and ramp")
    )
    assert np.array_equal(one.speed_hz, other.speed_hz)


def test_many_runs_stop_their_integral_at_the_ramp_as_each_alone():
    gains = np.array([0.6, 1.5])
    settings = replace(OWN, gain=gains, integral_s=np.array([0.8, 2.0]), integral_stops="ends and ramp")
    many = run_loop(TOWER, WINTER, Setup(20.0, settings=settings, start_hz=12.0))
    for i in range(2):
        alone = replace(settings, gain=float(gains[i]), integral_s=float(settings.integral_s[i]))
        lone = run_loop(TOWER, WINTER, Setup(20.0, settings=alone, start_hz=12.0), air=many.air)
        assert many.speed_hz[:, i] == pytest.approx(lone.speed_hz[:, 0], abs=1e-6)


def test_in_smoke_control_the_fan_keeps_between_the_speeds_stated_for_it():
    site = LARKFIELD.with_changes(fan={"smoke_lowest_speed_hz": 20.0, "smoke_highest_speed_hz": 30.0})
    tower = Tower(site)
    events = (DoorEvent(0, 1.0, door="exit", shuts_s=20.0),)
    run = run_loop(tower, WINTER, Setup(60.0, events=events, settings=replace(OWN, gain=1.5, integral_s=1.0)))
    assert (run.speed_hz.max(), run.ends_hz) == (pytest.approx(30.0), (20.0, 30.0))
    low = run_loop(tower, WINTER, Setup(60.0, settings=replace(OWN, set_point_pa=2.0)))
    assert low.speed_hz[-1, 0] == pytest.approx(20.0)
    assert tower.hold(WINTER, set_point_pa=2.0).air.speed_hz[0] == pytest.approx(20.0)
    assert tower.hold(WINTER, set_point_pa=110.0).air.speed_hz[0] == pytest.approx(30.0)
    comfort = run_loop(tower, WINTER, Setup(60.0, settings=replace(OWN, set_point_pa=110.0), fire_mode=False))
    assert comfort.speed_hz[-1, 0] > 40.0


def test_a_site_tells_where_its_integral_stops():
    assert OWN.integral_stops == "ends"
    assert settings_of(LARKFIELD.with_changes(control={"integral_stops": "ends and ramp"})).integral_stops == "ends and ramp"
    assert settings_of(LARKFIELD.with_changes(control={"integral_stops": None})).integral_stops == "ends"


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: run_loop(TOWER, WINTER, Setup(5.0, dead_time_s=0.05)), "dead_time_s must be 0.1 or more, got 0.05"),
        (lambda: run_loop(TOWER, WINTER, Setup(5.0, dead_time_s=7.0)), "late_s must be shorter than the run of 5 s"),
        (lambda: run_loop(TOWER, WINTER, Setup(5.0, more_lag_s=-1.0)), "more_lags_s must be 0 or more, got -1"),
        (lambda: run_loop(TOWER, WINTER, Setup(5.0, ramp_down_s=0.0)), "ramp_down_s must be above 0, got 0"),
        (lambda: run_loop(TOWER, WINTER, Setup(5.0, lag_s=float("nan"))), "lag_s must be a finite number, got nan"),
        (lambda: Drive(LARKFIELD.fan, 0.1, 20.0, coast_s=0.0), "coast_s must be above 0"),
        (lambda: ControllerSettings(40.0, 100.0, 1.0, integral_stops="never"), "integral_stops must be one of ends, ends and ramp"),
        (
            lambda: run_loop(TOWER, WINTER, Setup(5.0, more_lag_s=np.array([0.1, 0.2]), dead_time_s=np.array([0.2, 0.3, 0.4]))),
            "one a run, got 2 and 3 of them",
        ),
    ],
)
def test_what_no_loop_can_have_is_refused_in_a_sentence(call, sentence):
    with pytest.raises((ValueError, SiteFileError), match=sentence):
        call()


def test_the_controllers_output_keeps_below_its_highest_by_hand_too():
    loop = Controller(ControllerSettings(40.0, 100.0, 1.0, 2.0), 0.1, 20.0, 50.0, highest_percent=60.0)
    assert loop.step(0.0, hand_percent=90.0) == 60.0
    assert max(loop.step(0.0) for _ in range(50)) == 60.0
