"""Settings from a found box are those of the record's search, bear the whole box, and hold in the loop that the log is of."""

from dataclasses import replace

import control
import numpy as np
import pytest
from trend_cases import log_of, own_log
from trend_logs import Bench, wind

from helpers.model.loop.events import DoorEvent
from helpers.studies.measured.trends.hunting import why_it_hunts
from helpers.studies.measured.trends.loop_settings import settings_found
from helpers.studies.measured.trends.step_test import Estimate, step_test
from helpers.studies.tuning.box import ASKED, LoopBox
from helpers.units.said import written_out

SITE = {"span_pa": 124.54445, "full_speed_hz": 60.0, "set_point_pa": 35.0, "ramp_s": 8.0}
HUNTED = (2.0, 1.2)  # gain and integral time of the hunting log, as its script states them


@pytest.fixture(scope="module")
def step():
    return step_test(own_log("stair_steps_in_manual.csv"))


@pytest.fixture(scope="module")
def found(step):
    return settings_found(step, **SITE, as_found=HUNTED)


def test_the_search_is_the_records_own(step, found):
    assert isinstance(found.box, LoopBox)
    assert (found.as_left.gain, found.as_left.integral_s) == found.box.fastest()
    assert found.box.gain == pytest.approx(step.gain.high * 60 / 124.54445)
    lags, dead = ({getattr(corner, name) for corner in found.box.corners} for name in ("lag_s", "dead_time_s"))
    assert (min(lags), max(lags)) == (step.lag_s.low, step.lag_s.high)
    assert (min(dead), max(dead)) == (step.dead_time_s.low, step.dead_time_s.high)


def test_what_is_left_keeps_what_is_asked_at_random_in_the_box(step, found):
    """python-control's margins of loops drawn from the box."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        lag, dead = (rng.uniform(of.low, of.high) for of in (step.lag_s, step.dead_time_s))
        top, bottom = control.pade(dead + found.box.ramp_delay_s, 8)
        pi = control.tf([found.as_left.gain * found.as_left.integral_s, found.as_left.gain], [found.as_left.integral_s, 0])
        loop = pi * control.tf([rng.uniform(0.8, 1) * found.box.gain], [lag, 1]) * control.tf(top, bottom)
        margin, phase, *_ = control.margin(loop)
        assert margin >= ASKED.gain_margin
        assert phase >= ASKED.phase_margin_deg


def test_as_found_beside_as_left(found):
    assert found.as_found.status == "wrong"
    assert any("swings by itself" in said for said in found.as_found.lacks)
    assert found.as_left.status == "open"  # a log knows one state of the building
    assert found.as_left.worst.peak_sensitivity <= ASKED.peak_sensitivity


def test_what_is_left_comes_to_rest_in_the_loop_of_the_log_and_what_was_found_does_not(found):
    bench = Bench()

    def swing_hz(gain, integral_s):
        settings = replace(bench.settings, gain=gain, integral_s=integral_s)
        speed = bench.run(120.0, settings=settings, events=(DoorEvent(6, 5.0, shuts_s=12.0),))[2]
        return float(np.ptp(speed[-300:]))

    assert swing_hz(found.as_left.gain, found.as_left.integral_s) < 0.2
    assert swing_hz(*HUNTED) > 5.0


TRIED = {  # building: outputs of the steps, delay, a lag more, ramp for all of the speed, noise of the reading and its memory
    "Larkfield House": [((40, 45), 0.45, 0.2, 3.0, 0.5, 0.1), ((40, 45), 1.0, 1.2, 1.0, 0.2, 0.7)],
    "Northgate Tower": [((52, 60), 0.5, 0.4, 1.0, 0.3, 0.3), ((52, 60), 1.1, 1.4, 8.0, 0.5, 0.8)],
    "Tannery Row": [((36, 41), 0.45, 0.3, 1.0, 0.5, 0.5), ((36, 41), 1.2, 1.5, 3.0, 0.3, 0.0)],
}


@pytest.mark.parametrize("name", TRIED)
def test_what_is_left_comes_to_rest_in_every_loop_of_three_buildings_and_so_does_twice_its_gain(name):
    bench = Bench(name)
    for seed, ((low, high), dead_s, more_s, ramp_s, size_pa, memory) in enumerate(TRIED[name]):
        setup = {"dead_time_s": dead_s, "more_lag_s": more_s, "ramp_s": ramp_s}
        time_s, _, speed, reading = bench.steps((low, high, low, high, low), 18.0, **setup)
        reading = np.round(reading + wind(np.random.default_rng(seed), reading.size, size_pa, memory), 1)
        step, target = step_test(log_of(time_s, reading, speed)), float(np.mean(reading))
        assert step.whole, step.refused
        assert step.lag_s.value + step.dead_time_s.value == pytest.approx(sum(bench.lags_s) + more_s + dead_s, rel=0.08)
        full = {"span_pa": bench.settings.span_pa, "full_speed_hz": bench.site.fan.highest_speed_hz}
        left = settings_found(step, **full, set_point_pa=target, ramp_s=ramp_s).as_left
        for times in (1.0, 2.0):
            settings = replace(bench.settings, gain=times * left.gain, integral_s=left.integral_s, set_point_pa=target)
            moved = bench.run(120.0, settings=settings, events=(DoorEvent(5, 5.0, shuts_s=40.0),), **setup)[2]
            assert np.ptp(moved[-200:]) < 0.2, (name, dead_s, times)


def test_a_set_point_beside_the_steps_is_warned_of(step, found):
    assert not any("not among them" in said for said in found.remarks)
    far = settings_found(step, **SITE | {"set_point_pa": 20.0})
    assert "the set point of 20 Pa is not among them" in written_out(" ".join(far.remarks))


def test_a_step_test_that_is_not_whole_gives_no_settings():
    with pytest.raises(ValueError, match="step must have gain, lag and delay"):
        settings_found(step_test(own_log("building_every_minute.csv")), **SITE)


@pytest.mark.parametrize("change", [{"span_pa": 0.0}, {"full_speed_hz": -1.0}, {"ramp_s": -1.0}, {"as_found": (0.0, 1.0)}])
def test_numbers_that_cannot_be_are_refused(step, change):
    with pytest.raises(ValueError, match=next(iter(change))):
        settings_found(step, **SITE | change)


# --- why it hunts


def test_the_hunting_log_fits_a_gain_too_large_and_cannot_be_told_without_a_step_test(found):
    log = own_log("stair_hunting.csv")
    alone, with_test = why_it_hunts(log), why_it_hunts(log, settings=found)
    assert (alone.cause, with_test.cause) == ("cannot tell", "gain")
    assert "manual" in alone.next_check
    assert any("on its ramp" in said for said in alone.evidence)


TIME = np.arange(0.0, 120.0, 0.1)
WAVE = np.sin(2 * np.pi * TIME / 6)


def test_a_swing_of_the_reading_s_own_steps_is_quantisation():
    reading = np.where(WAVE > 0, 40.0, 41.0)
    log = log_of(TIME, reading, 25 + 0.1 * np.abs((TIME / 3) % 2 - 1))
    assert why_it_hunts(log).cause == "quantisation"


def test_a_fan_that_keeps_its_speed_while_the_output_moves_on_is_a_dead_band_and_steps_in_manual_are_no_hunting():
    speed = 25 + np.select([WAVE > 0.5, WAVE > -0.5, WAVE > -0.9], [3.0, 2.0, 1.0], 0.0)
    reading = 40 + 2 * WAVE + np.random.default_rng(1).normal(0, 0.1, TIME.size)
    found = why_it_hunts(log_of(TIME, reading, speed, output=50 + 6 * np.abs((TIME / 3) % 2 - 1)))
    assert found.cause in ("dead band", "quantisation")
    stepped = why_it_hunts(log_of(TIME, reading, speed, output=speed / 0.5))
    assert (stepped.cause, stepped.evidence[0]) == ("none", "The output is stepped and rests between: a test in manual, no hunting.")
    assert "a dead band does so too" in why_it_hunts(log_of(TIME, reading, speed)).evidence[0]
    followed = why_it_hunts(log_of(TIME, reading, 25 + WAVE, set_point=40 + 2 * np.sign(WAVE)))
    assert "with the set point" in followed.evidence[0]


def test_a_swing_in_a_part_of_a_long_log_is_found_there():
    time_s = np.arange(0.0, 30_000.0, 0.1)
    late = time_s > 25_000
    wave = np.where(late, np.sin(2 * np.pi * time_s / 6), 0.0)
    noise = np.random.default_rng(1).normal(0, 0.1, time_s.size)
    found = why_it_hunts(log_of(time_s, 35 + 3 * wave + noise, 33 + 1.5 * wave + 0.01 * noise))
    assert found.cause == "cannot tell"
    assert found.swing.from_s > 15_000
    assert found.swing.period_s == pytest.approx(6.0, rel=0.05)


def smooth(found, **change):
    """A smooth swing, with settings whose nominal margin is changed."""
    noise = np.random.default_rng(2).normal(0, 0.1, (2, TIME.size))
    log = log_of(TIME, 35 + 3 * WAVE + noise[0], 33 + 1.5 * np.sin(2 * np.pi * (TIME - 1.5) / 6) + 0.01 * noise[1])
    as_found = replace(found.as_found, nominal=found.as_found.nominal._replace(**change))
    return why_it_hunts(log, settings=replace(found, as_found=as_found))


def test_a_loop_far_from_swinging_follows_a_swing_from_outside(found):
    assert smooth(found, gain_margin=4.0).cause == "outside"


def test_a_swing_of_another_period_than_the_loop_s_own_is_not_called_its_gain(found):
    assert smooth(found, gain_margin=1.0).cause == "cannot tell"


def test_a_calm_log_does_not_hunt():
    for name in ("stair_steps_in_manual.csv", "stair_steps_door_moved.csv"):
        assert why_it_hunts(own_log(name)).cause == "none"


def test_too_few_rows_in_a_swing_cannot_tell():
    rows = slice(None, None, 9)
    thin = log_of(TIME[rows], 35 + 3 * WAVE[rows], 33 + 1.5 * WAVE[rows])
    assert why_it_hunts(thin).cause == "cannot tell"
    assert "rows are in one swing" in why_it_hunts(thin).evidence[1]


def test_an_estimate_says_how_wide_it_is():
    assert Estimate(2.0, 1.5, 2.5).width == pytest.approx(0.5)
