"""Controller, drive and low-demand stop, one sample after the other."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas.low_demand import LowDemandRule
from helpers.model.loop.arithmetic import ManyRuns, OneRun
from helpers.model.loop.controller import Controller, ControllerSettings, Drive, LowDemandStop
from helpers.model.site.file import demo_sites, read_site

FAN = read_site(demo_sites()["Larkfield House"]).fan  # 10 to 50 Hz, from standstill to 50 Hz in 6 s
PI = ControllerSettings(set_point_pa=40.0, span_pa=100.0, gain=2.0, integral_s=4.0)


def controller(settings=PI, start=50.0, lowest=20.0, sample_s=0.1):
    return Controller(settings, sample_s, lowest, start)


def test_proportional_and_integral_part_are_those_of_the_standard_form():
    loop = controller()
    loop.step(40.0)  # no error: stays
    # 5 Pa are 5 % of span: 10 % of output at once, and as much again in the integral time.
    outputs = [loop.step(35.0) for _ in range(40)]
    assert outputs[0] == pytest.approx(50 + 10 + 0.25)
    assert outputs[-1] == pytest.approx(50 + 10 + 10)


def test_a_direct_acting_loop_answers_the_other_way():
    reverse, direct = controller(), controller(replace(PI, action="direct"))
    for loop in (reverse, direct):
        loop.step(40.0)
    assert reverse.step(45.0) == pytest.approx(50 - 10.25)
    assert direct.step(45.0) == pytest.approx(50 + 10.25)


def test_the_derivative_looks_at_the_reading_and_does_not_kick_at_the_start():
    loop = controller(ControllerSettings(40.0, 100.0, 2.0, 0.0, derivative_s=0.5), start=50.0)
    assert loop.step(40.0) == pytest.approx(50.0)
    assert loop.step(39.0) == pytest.approx(50 + 2.0 * (1.0 + 0.5 * 10))  # falling by 10 Pa a second
    assert loop.step(39.0) == pytest.approx(50 + 2.0)


def test_inside_the_dead_band_nothing_moves_and_outside_the_error_counts_in_full():
    loop = controller(replace(PI, dead_band_percent=2.0))
    loop.step(40.0)
    assert [loop.step(reading) for reading in (38.5, 41.9, 40.0)] == pytest.approx([50.0] * 3)
    assert loop.step(37.0) == pytest.approx(50 + 2.0 * 3 * (1 + 0.1 / 4))


def test_an_integral_time_of_zero_means_none():
    loop = controller(replace(PI, integral_s=0.0))
    assert [loop.step(35.0) for _ in range(100)] == pytest.approx([60.0] * 100)  # 50 % and what the error adds, for ever


def test_the_integral_does_not_wind_up_while_the_output_is_at_its_end():
    loop, wound = controller(), 50.0
    for _ in range(3000):  # five minutes far below the set point: an integral without a stop would stand at 1000 %
        wound += 2.0 * 40.0 * 0.1 / 4
        assert loop.step(0.0) <= 100.0
    assert wound > 5000
    assert loop.bias <= 100.0
    back = [loop.step(45.0) for _ in range(200)]
    assert back[0] < 100.0  # it turns back with the first reading above the set point
    assert back[-1] == pytest.approx(20.0)
    assert loop.bias >= -20.0
    assert loop.step(35.0) > 20.0


def test_the_start_is_bumpless():
    assert controller(start=37.0).step(10.0) == pytest.approx(37.0 + 2.0 * 30 * 0.1 / 4)


def test_a_proportional_loop_starts_with_what_its_error_asks_for():
    assert controller(replace(PI, integral_s=0.0), start=37.0).step(30.0) == pytest.approx(37.0 + 20.0)


def test_from_hand_to_automatic_and_back_there_is_no_bump():
    loop = controller()
    loop.step(38.0)
    assert [loop.step(33.0, hand_percent=70.0) for _ in range(50)] == pytest.approx([70.0] * 50)
    assert loop.step(33.0) == pytest.approx(70.0 + 2.0 * 7 * 0.1 / 4)


def test_the_hand_outranks_the_loop_but_not_the_drives_limits():
    loop = controller()
    assert loop.step(0.0, hand_percent=5.0) == 20.0
    assert loop.step(0.0, hand_percent=100.0) == 100.0


@pytest.mark.parametrize(("fallback", "percent"), [("hold the last", 50.0), ("use the good ones", 50.0), ("preset speed", 65.0)])
def test_without_a_reading_the_output_holds_or_goes_to_its_preset_and_comes_back_without_a_bump(fallback, percent):
    loop = controller(replace(PI, fallback=fallback, preset_percent=65.0))
    loop.step(40.0)
    assert [loop.step(40.0, lost=True) for _ in range(30)] == pytest.approx([percent] * 30)
    assert loop.step(30.0) == pytest.approx(percent + 2.0 * 10 * 0.1 / 4)


def test_many_runs_do_what_each_would_do_alone():
    rng = np.random.default_rng(7)
    runs = 6
    gain, integral = rng.uniform(0.5, 3, runs), np.array([0.0, 1.0, 2.0, 4.0, 0.0, 8.0])
    band, derivative = np.array([0, 0, 3.0, 0, 1.0, 0]), np.array([0, 0.3, 0, 0, 0.2, 0])
    several = ControllerSettings(40.0, 100.0, gain, integral, derivative, band)
    many = Controller(several, 0.1, 20.0, 50.0, ManyRuns(runs))
    alone = [controller(ControllerSettings(40.0, 100.0, gain[k], integral[k], derivative[k], band[k])) for k in range(runs)]
    readings, lost = rng.uniform(0, 90, (120, runs)), rng.random((120, runs)) < 0.2
    for k in range(120):
        hand = 70.0 if 60 <= k < 70 else None
        together = many.step(readings[k], lost[k], hand)
        assert together == pytest.approx([one.step(readings[k, i], bool(lost[k, i]), hand) for i, one in enumerate(alone)])


def test_the_drive_goes_no_faster_than_its_ramp_and_keeps_within_its_speeds():
    drive = Drive(FAN, 0.1, 20.0)
    speeds = [drive.step(100.0) for _ in range(60)]
    assert np.diff(speeds[:35]) == pytest.approx(50.0 / 6.0 * 0.1)
    assert max(speeds) == 50.0
    assert Drive(FAN, 0.1, 20.0, ramp_s=0.0).step(90.0) == pytest.approx(45.0)


RULE = LowDemandRule(20.0, 10.0, 5.0, 3.0)


def test_a_fan_in_the_fire_mode_never_gets_a_low_demand_stop():
    with pytest.raises(ValueError, match="low_demand must be off in smoke control"):
        Drive(FAN, 0.1, 20.0, RULE, fire_mode=True)


def test_an_idling_fan_stops_after_its_time_and_starts_again_on_a_lasting_deficit():
    drive, loop = Drive(FAN, 0.5, 15.0, RULE, fire_mode=False), controller(start=30.0, sample_s=0.5)

    def samples(reading, seconds):
        for _ in range(round(seconds / 0.5)):
            output = loop.step(reading, stopped=drive.stopped)
            drive.step(output, loop)

    samples(45.0, 9.5)
    assert not drive.stopped
    samples(45.0, 5.0)
    assert drive.stopped
    assert drive.speed_hz == 0.0
    samples(34.0, 2.5)
    assert drive.stopped
    samples(34.0, 1.5)
    assert not drive.stopped
    assert drive.speed_hz > 0.0


def test_by_hand_and_without_a_reading_the_fan_runs_whatever_the_demand():
    stop = LowDemandStop(RULE, 1.0, OneRun())
    for _ in range(11):
        stop.step(15.0, 0.0)
    assert stop.stopped
    for _ in range(30):
        stop.step(15.0, 0.0, outranked=True)
        assert not stop.stopped
    several = LowDemandStop(RULE, 1.0, ManyRuns(2))
    for _ in range(11):
        several.step(np.full(2, 15.0), np.zeros(2), outranked=np.array([True, False]))
    assert list(several.stopped) == [False, True]


def counted(rule, running, timer, speed, error, step):
    """Running and timer of one fan after a step, by hand."""
    waiting = speed < rule.stop_below_hz if running else error > rule.restart_error
    timer = timer + step if waiting else 0.0
    over = waiting and timer >= (rule.stop_after_s if running else rule.restart_after_s) * (1 - 1e-9)
    return running != over, 0.0 if over else timer


@settings(max_examples=20, derandomize=True, deadline=None)
@given(st.integers(0, 10_000), st.floats(0, 3), st.floats(0, 2))
def test_the_low_demand_stop_counts_as_one_counts_by_hand(seed, stop_after, restart_after):
    rng, rule = np.random.default_rng(seed), LowDemandRule(20.0, stop_after, 5.0, restart_after)
    one, many = LowDemandStop(rule, 0.5, OneRun()), LowDemandStop(rule, 0.5, ManyRuns(2))
    running, timer = True, 0.0
    for _ in range(60):
        speed, error = rng.choice([10.0, 30.0], p=[0.8, 0.2]), rng.choice([0.0, 8.0], p=[0.3, 0.7])
        running, timer = counted(rule, running, timer, speed, error, 0.5)
        one.step(float(speed), float(error))
        many.step(np.full(2, speed), np.full(2, error))
        assert one.stopped == (not running)
        assert one.timer == pytest.approx(timer)
        assert list(many.stopped) == [not running] * 2


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: controller(sample_s=0.0), "sample_s must be above 0, got 0"),
        (lambda: controller(sample_s=-1.0), "sample_s must be above 0, got -1"),
        (lambda: replace(PI, gain=0.0), "gain must be above 0, got 0"),
        (lambda: replace(PI, integral_s=-1.0), "integral_s must be 0 or more, got -1"),
        (lambda: replace(PI, derivative_s=-1.0), "derivative_s must be 0 or more"),
        (lambda: replace(PI, dead_band_percent=-1.0), "dead_band_percent must be 0 or more"),
        (lambda: replace(PI, span_pa=0.0), "span_pa must be above 0"),
        (lambda: replace(PI, set_point_pa=float("nan")), "set_point_pa must be a finite number, got nan"),
        (lambda: replace(PI, preset_percent=120.0), "preset_percent must be from 0 to 100, got 120"),
        (lambda: replace(PI, action="forward"), "action must be one of reverse, direct"),
        (lambda: replace(PI, fallback="guess"), "fallback must be one of use the good ones"),
        (lambda: Drive(FAN, 0.1, 60.0), "start_hz must be from 0 to 50, got 60"),
        (lambda: Drive(FAN, 0.1, 20.0, ramp_s=-1.0), "ramp_s must be 0 or more, got -1"),
        (lambda: Drive(FAN.model_copy(update={"lowest_speed_hz": 55.0}), 0.1, 20.0), "lowest_speed_hz must be below highest_speed_hz"),
        (lambda: LowDemandStop(LowDemandRule(-1.0, 1, 1, 1), 0.1, OneRun()), "stop_below_hz must be 0 or more, got -1"),
        (lambda: LowDemandStop(LowDemandRule(20.0, -1, 1, 1), 0.1, OneRun()), "stop_after_s must be 0 or more, got -1"),
    ],
)
def test_settings_that_cannot_be_are_refused_in_a_sentence(make, sentence):
    with pytest.raises(ValueError, match=sentence):
        make()
