"""What a log is like is said before anything is fitted: samples, gaps, what stands, clips, swings, ramps; with nothing wrong nothing is
said."""

from dataclasses import replace

import numpy as np
import pytest
from trend_cases import log_of, own_log

from helpers.studies.measured.trends.description import describe, noise_of, step_of, swing_of

TIME = np.arange(0.0, 120.0, 0.2)
SPEED = np.interp(TIME, [0, 30, 31, 60, 62, 120], [25, 25, 30, 30, 25, 25])  # 5 Hz a second up, 2.5 down


def drawn(size=0.3, seed=1):
    """Noise of the log's length."""
    return np.random.default_rng(seed).normal(0, size, TIME.size)


def plain():
    """A log with nothing wrong."""
    return log_of(TIME, 40 + 2 * (SPEED - 25) + drawn(), SPEED)


def test_a_log_with_nothing_wrong_has_no_remark():
    seen = describe(plain())
    assert seen.remarks == ()
    assert (seen.sample_s, seen.worst_s) == pytest.approx((0.2, 0.2))
    assert seen.column("PDT-1").noise == pytest.approx(0.3, rel=0.15)
    assert seen.ramps == pytest.approx((5.0, 2.5), rel=0.02)


def test_gaps_are_told_with_their_moment():
    kept = (TIME < 50) | (TIME > 57)
    seen = describe(log_of(TIME[kept], plain().values["PDT-1"][kept], SPEED[kept]))
    (gap,) = seen.gaps
    assert (gap.from_s, gap.seconds) == pytest.approx((50.0, 7.2), abs=0.3)
    assert "1 gap" in seen.remarks[0]


def test_one_slipped_time_is_told_and_no_even_grid_is_laid_to_it():
    """An even grid of so many rows is more than any machine addresses."""
    far = np.append(TIME, TIME[-1] + 3e14)
    seen = describe(log_of(far, np.append(plain().values["PDT-1"], 30.0), np.append(SPEED, SPEED[-1])))
    assert "1 gap, the longest 3e+14 s, more than all the rest of the log" in seen.remarks[0]


def test_a_reading_that_stands_is_told_and_a_fan_that_rests_is_not():
    reading = np.where((TIME > 70) & (TIME < 95), 40.1, plain().values["PDT-1"])
    (stretch,) = describe(log_of(TIME, reading, SPEED)).column("PDT-1").frozen
    assert (stretch.from_s, stretch.seconds, stretch.value) == pytest.approx((70.2, 24.8, 40.1), abs=0.5)


def test_a_reading_at_the_end_of_its_range_is_told():
    reading = np.minimum(40 + 4 * (SPEED - 25) + drawn(1.0), 55.0)
    seen = describe(log_of(TIME, reading, SPEED))
    assert {one.value for one in seen.column("PDT-1").clipped} == {55.0}
    assert any("at one end" in said for said in seen.remarks)


@pytest.mark.parametrize("size", [0.1, 1.0])
def test_noise_is_not_moved_by_drift_and_steps(size):
    assert noise_of(drawn(size) + TIME + 50 * (TIME > 60)) == pytest.approx(size, rel=0.15)


@pytest.mark.parametrize("step", [0.0625, 0.5, 1.0])
def test_the_step_of_a_quantised_reading_is_found(step):
    assert step_of(np.round(drawn(2 * step) / step) * step) == pytest.approx(step, rel=1e-6)
    assert step_of(drawn(1.0)) == 0.0


@pytest.mark.parametrize(("period", "size"), [(4.0, 1.0), (8.0, 3.0), (15.0, 2.0)])
def test_a_swing_is_found_with_period_and_size_and_noise_is_none(period, size):
    swing = swing_of(TIME, 0.05 * TIME + size * np.sin(2 * np.pi * TIME / period) + drawn())
    assert swing.period_s == pytest.approx(period, rel=0.05)
    assert swing.amplitude == pytest.approx(size, rel=0.25)
    for seed in range(20):
        assert swing_of(TIME, drawn(seed=seed)) is None


def test_the_invented_logs_are_what_they_were_made_as():
    seen = {
        name: describe(own_log(name)) for name in ("stair_change_of_value.txt", "building_every_minute.csv", "stair_steps_in_manual.csv")
    }
    assert [one.on_change for one in seen.values()] == [True, False, False]
    assert [one.averaged for one in seen.values()] == [False, True, False]
    assert seen["stair_steps_in_manual.csv"].ramps == pytest.approx((7.5, 7.5), rel=0.02)  # 60 Hz in 8 s
    assert describe(own_log("stair_hunting.csv")).column("Stair pressure").swing.cycles > 15


def test_rows_that_are_only_missing_are_no_change_of_value():
    log = own_log("stair_steps_in_manual.csv")
    kept = np.random.default_rng(2).random(log.rows) > 0.2
    log = replace(log, time_s=log.time_s[kept], values={heading: of[kept] for heading, of in log.values.items()}, lines=log.lines[kept])
    assert not describe(log).on_change
