"""A step test gives gain, delay and lag with intervals that hold the truth, or says in a sentence why it cannot."""

import tomllib
from dataclasses import replace
from functools import cache

import control
import numpy as np
import pytest
from scipy import optimize
from trend_cases import FOLDER, log_of, own_log
from trend_logs import made

from helpers.studies.measured.trends.output_error import Windows, answers, fit
from helpers.studies.measured.trends.step_test import step_test

GAIN, LAG_S, DEAD_S, STEP_S = 3.0, 1.2, 0.5, 0.1
TIME = np.arange(0.0, 80.0, STEP_S)
CORNERS_S = [0, 10, 11.5, 30, 31.5, 50, 51.5, 70, 71.5, 90]
SPEED = np.interp(TIME, CORNERS_S, [25, 25, 28, 28, 25, 25, 28, 28, 25, 25])
FINE = 20  # of the referee: so many steps in a row of the log


def of_control(plant, speed=SPEED, dead_s=DEAD_S, time=TIME):
    """What python-control's plant answers to a speed that goes straight from row to row, about its rest."""
    fine = np.arange(0, (time.size - 1) * FINE + 1) * (time[1] - time[0]) / FINE
    late = np.interp(fine - dead_s, time - time[0], speed, left=speed[0])
    return control.forced_response(plant, fine, late - speed[0]).outputs[::FINE]


FIRST = control.tf([GAIN], [LAG_S, 1])


def trend_of(time=TIME, speed=SPEED, reading=None, output=None, set_point=None, rows=None):
    """A log of the first plant, or of another reading; rows: of it that are kept."""
    reading = 40 + of_control(FIRST) if reading is None else reading
    rows = slice(None) if rows is None else rows
    return log_of(time[rows], *(None if of is None else of[rows] for of in (reading, speed, output, set_point)))


def noise(rng, size_pa, memory=0.0, count=TIME.size):
    """Drawn noise that remembers the row before it."""
    found = rng.normal(0, size_pa, count)
    for k in range(1, count):
        found[k] += memory * found[k - 1]
    return found


def test_the_answer_to_any_input_is_python_controls():
    rng = np.random.default_rng(1)
    speed = np.interp(TIME, np.sort(rng.uniform(0, 80, 60)), rng.uniform(20, 40, 60))
    windows = Windows(TIME, speed, np.zeros(TIME.size), np.array([0, 300]), np.array([False, True]))
    mine = answers(windows, [LAG_S, 0.3, 4.0], [DEAD_S, 0.0, 1.33])
    for answer, (lag, dead) in zip(mine, [(LAG_S, DEAD_S), (0.3, 0.0), (4.0, 1.33)], strict=True):
        assert answer - speed[0] == pytest.approx(of_control(control.tf([1], [lag, 1]), speed, dead), abs=2e-3)


def test_a_held_input_jumps_at_its_row():
    windows = Windows(TIME, np.where(TIME < 20, 0.0, 1.0), np.zeros(TIME.size), np.array([0]), np.array([False]), held=True)
    expected = np.where(TIME > 20.7, 1 - np.exp(-np.maximum(TIME - 20.7, 0) / 2.0), 0.0)
    assert answers(windows, [2.0], [0.7])[0] == pytest.approx(expected, abs=1e-9)


def test_the_best_fit_is_scipys():
    reading = 40 + of_control(FIRST) + noise(np.random.default_rng(2), 0.5)
    windows = Windows(TIME, SPEED, reading, np.array([0]), np.array([False]))
    found = fit(windows, memory=0.0)

    def left(numbers):
        lag, dead, gain, rest = numbers
        return reading - rest - gain * answers(windows, [lag], [dead])[0]

    best = optimize.least_squares(left, [1.0, 0.4, 2.0, 0.0], x_scale=[1, 1, 1, 50], diff_step=1e-5)
    assert (found.lag_s, found.delay_s) == pytest.approx(best.x[:2], rel=2e-3)
    assert found.gains[0] == pytest.approx(best.x[2], rel=1e-3)
    # and the spread of the draws is that of the linear theory
    spread = np.sqrt(np.diag(np.linalg.inv(best.jac.T @ best.jac)) * 2 * best.cost / (TIME.size - 4))
    assert np.std(found.draws["lag_s"]) == pytest.approx(spread[0], rel=0.15)
    assert np.std(found.draws["delay_s"]) == pytest.approx(spread[1], rel=0.15)


PLANTS = {  # lag, delay, noise, quantised to, share of rows that is missing, memory of the noise
    "a usual loop": (1.2, 0.5, 0.3, 0.0, 0.0, 0.0),
    "quantised, rows missing": (1.2, 0.5, 0.3, 0.5, 0.1, 0.0),
    "long delay": (0.6, 1.5, 0.3, 0.1, 0.02, 0.0),
    "slow": (3.0, 0.6, 0.3, 0.1, 0.02, 0.0),
    "gusts": (1.2, 0.5, 0.2, 0.1, 0.0, 0.7),
}


@pytest.mark.parametrize("name", PLANTS)
def test_known_plants_are_found_within_a_tenth(name):
    lag, dead, size, quantum, missing, memory = PLANTS[name]
    clean, found = 40 + of_control(control.tf([GAIN], [lag, 1]), dead_s=dead), []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        reading = clean + noise(rng, size, memory)
        reading = np.round(reading / quantum) * quantum if quantum else reading
        step = step_test(trend_of(reading=reading, rows=rng.random(TIME.size) >= missing))
        assert step.whole, step.refused
        found.append([np.mean([one.gain.value for one in step.steps]), step.lag_s.value, step.dead_time_s.value])
    assert np.mean(found, axis=0) == pytest.approx([GAIN, lag, dead], rel=0.1)


def test_nine_of_ten_intervals_hold_the_truth():
    draws, clean, truth = 150, 40 + of_control(FIRST), {"gains": GAIN, "lag_s": LAG_S, "delay_s": DEAD_S}
    windows = Windows(TIME, SPEED, clean, np.array([0, 200, 400, 600]), np.array([False, True, True, True]))
    held = {name: 0.0 for name in truth}
    for seed in range(draws):
        rng = np.random.default_rng(1000 + seed)
        reading = np.round(clean + noise(rng, 0.6), 1)
        reading[rng.random(TIME.size) < 0.05] = np.nan
        found = fit(replace(windows, reading=reading), seed)
        for name, value in truth.items():
            low, high = found.between(name)
            held[name] += np.mean((low <= value) & (value <= high))
    assert all(0.85 <= count / draws <= 0.95 for count in held.values()), held


def test_in_a_closed_loop_noise_that_comes_back_through_the_fan_does_not_bias_the_gain():
    found = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        gusts, set_point = noise(rng, 0.25, 0.8), np.where((TIME // 20) % 2 == 0, 40.0, 46.0)
        speed, reading, output, state, late = np.empty(TIME.size), np.empty(TIME.size), 27.0, 0.0, [0.0] * 6
        integral = 27.0
        for k in range(TIME.size):
            late = [*late[1:], output - 27.0]
            state += (GAIN * late[1] - state) * (1 - np.exp(-STEP_S / LAG_S))
            reading[k] = 40 + state + gusts[k]
            error = set_point[k] - reading[k]
            integral += 0.08 / 1.0 * error * STEP_S
            asked = integral + 0.08 * error
            output += np.clip(asked - output, -0.8, 0.8)
            speed[k] = output
        step = step_test(trend_of(speed=speed, reading=reading, set_point=set_point))
        assert step.loop == "closed"
        assert step.whole, step.refused
        found.append([step.gain.value, step.lag_s.value + step.dead_time_s.value])
    assert np.mean(found, axis=0) == pytest.approx([GAIN, LAG_S + 0.5], rel=0.1)


# --- what the log cannot give is refused in a sentence, what it can stays


def test_rows_too_far_apart_give_the_gain_and_no_dead_time():
    step = step_test(trend_of(rows=slice(None, None, 4)))
    assert step.gain.value == pytest.approx(GAIN, rel=0.1)
    assert step.dead_time_s is None
    assert "A row every 0.4 s cannot tell the delay" in step.refused[0]
    assert "Log every 0.1 s or faster" in step.refused[0]
    assert step_test(trend_of()).whole


def test_a_long_ramp_hides_the_lag():
    speed = np.interp(TIME, [0, 5, 35, 40, 70, 80], [25, 25, 28, 28, 25, 25])
    reading = 40 + of_control(FIRST, speed) + noise(np.random.default_rng(3), 1.2)
    (said,) = step_test(trend_of(speed=speed, reading=reading)).refused
    assert said.startswith("The ramp hides the lag: a step takes the fan 30 s")


def test_steps_within_the_noise_are_refused():
    small = 25 + (SPEED - 25) / 20
    reading = 40 + of_control(FIRST, small) + noise(np.random.default_rng(4), 1.0)
    step = step_test(trend_of(speed=small, reading=reading))
    assert step.gain is None
    assert "too small against the noise" in step.refused[0]


def test_a_damper_that_lifts_on_the_way_up_and_stays_is_told():
    lifted = np.interp(TIME, [0, 10.5, 12, 31, 33, 80], [1, 1, 0.55, 0.55, 1, 1])
    reading = 40 + of_control(FIRST) * lifted + noise(np.random.default_rng(5), 0.2)
    assert any("moved" in said for said in step_test(trend_of(reading=reading)).refused)


def test_a_reading_at_the_end_of_its_range_is_left_out_and_the_gain_is_still_right():
    reading = 40 + of_control(FIRST) + noise(np.random.default_rng(8), 0.3)
    clipped = step_test(trend_of(reading=np.minimum(np.round(reading, 1), 48.0)))
    assert "at an end of its range" in clipped.remarks[0]
    assert clipped.refused or clipped.gain.low <= GAIN <= clipped.gain.high
    assert clipped.refused or clipped.gain.value == pytest.approx(GAIN, rel=0.1)


def test_a_door_that_moves_within_a_step_is_told_with_its_moment():
    reading = 40 + of_control(FIRST) + np.where(TIME > 62, -4.0, 0.0) + noise(np.random.default_rng(6), 0.3)
    (said,) = step_test(trend_of(reading=reading)).refused
    assert said.startswith(("Some 62 s after the start the reading shifts", "At the same speed", "Over the same range"))


def test_the_output_alone_needs_the_ramps():
    output = np.where((TIME // 20) % 2 == 0, 50.0, 56.0)
    speed = np.empty(TIME.size)
    speed[0] = 50.0
    for k in range(1, TIME.size):
        speed[k] = speed[k - 1] + np.clip(output[k - 1] - speed[k - 1], -0.5, 0.5)
    reading = 40 + of_control(FIRST, speed) + noise(np.random.default_rng(7), 0.2)
    log = trend_of(speed=None, reading=reading, output=output)
    assert "Only the output is logged" in step_test(log).refused[0]
    assert step_test(log).lag_s is None
    step = step_test(log, ramps_s=(20.0, 20.0))
    assert (step.lag_s.value, step.dead_time_s.value) == pytest.approx((LAG_S, DEAD_S), rel=0.1)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"speed": np.full(TIME.size, 25.0)}, "does not move"),
        ({"set_point": np.full(TIME.size, 40.0), "loop": "closed"}, "its set point does not move"),
        ({"reading": np.full(TIME.size, 40.0)}, "answers to none of the steps"),
    ],
)
def test_a_log_without_a_test_says_what_is_missing(change, said):
    loop = change.pop("loop", None)
    step = step_test(trend_of(**change), loop=loop)
    assert not step.whole
    assert said in " ".join(step.refused)


@pytest.mark.parametrize(
    ("how", "said"), [({"loop": "half open"}, "loop must be"), ({"until_s": 1.0}, "must leave"), ({"reading": "x"}, "reading must be")]
)
def test_what_cannot_be_asked_is_refused(how, said):
    with pytest.raises(ValueError, match=said):
        step_test(trend_of(), **how)


# --- the invented logs of the project's own loop

TRUTH = tomllib.loads((FOLDER / "truth.toml").read_text(encoding="utf-8"))


@cache
def own(name):
    """The step test of one of the invented logs."""
    return step_test(own_log(name))


@pytest.mark.parametrize(
    "name", ["stair_steps_in_manual.csv", "stair_set_point_steps.csv", "stair_change_of_value.txt", "building_every_minute.csv"]
)
def test_the_gain_of_the_projects_own_loop_is_found(name):
    gain, truth = own(name).gain, TRUTH[name.split(".")[0]]["gain_pa_hz"]
    assert gain.low <= truth <= gain.high
    assert gain.value == pytest.approx(truth, rel=0.1)


@pytest.mark.parametrize("name", ["stair_steps_in_manual.csv", "stair_set_point_steps.csv"])
def test_lag_and_dead_time_together_are_those_of_the_chain(name):
    step, truth = own(name), TRUTH[name.split(".")[0]]
    assert step.whole, step.refused
    assert step.lag_s.value + step.dead_time_s.value == pytest.approx(sum(truth["lags_s"]) + truth["dead_time_s"], rel=0.1)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("stair_change_of_value.txt", "writes a row when a value has changed"),
        ("building_every_minute.csv", "A row every 60 s cannot tell the delay"),
        ("stair_steps_door_moved.csv", "moved"),
        ("stair_hunting.csv", "at rest too seldom for steps"),
    ],
)
def test_what_an_invented_log_cannot_give_is_said(name, said):
    assert said in " ".join(own(name).refused)


def test_the_logs_in_the_data_folder_are_what_the_script_makes():
    files, truth = made()
    assert truth == (FOLDER / "truth.toml").read_text(encoding="utf-8")
    assert set(files) | {"truth.toml", "README.md"} == {path.name for path in FOLDER.iterdir()}
    for name, content in files.items():
        kept = (FOLDER / name).read_bytes()
        assert len(kept.splitlines()) == len(content.splitlines()), name
        assert kept.splitlines()[:3] == content.splitlines()[:3], name
