"""How fast errors grow or die away in a loop of either sign."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas.action import HOLDS, RUNS_AWAY, doubling_time_s, error_rate_per_s

SMALL = st.floats(0.01, 0.9)


def grown(sign, process_gain, gain, integral_s, time_s, step_s=1e-4):
    """An error of one after a time, by the sums of a PI controller and a process that answers at once: no pole, no exponential."""
    error, total = 1.0, 1.0 * integral_s * (1 / (sign * process_gain * gain) - 1)  # the integral that the first error needs
    for _ in range(round(time_s / step_s)):
        total += error * step_s
        error = sign * process_gain * gain * total / integral_s / (1 - sign * process_gain * gain)
    return error


@pytest.mark.parametrize("sign", [HOLDS, RUNS_AWAY])
def test_an_error_goes_as_the_rate_says_when_summed_up_step_by_step(sign):
    rate = error_rate_per_s(sign, 1.1, 0.6, 4.0)
    assert grown(sign, 1.1, 0.6, 4.0, 2.0) == pytest.approx(np.exp(rate * 2.0), rel=1e-3)


@given(SMALL, SMALL, st.floats(0.5, 60.0))
@settings(max_examples=50, derandomize=True, deadline=None)
def test_a_loop_that_holds_forgets_an_error_and_a_wrong_one_grows_it_faster_than_that(process_gain, gain, integral_s):
    holds, runs = (error_rate_per_s(sign, process_gain, gain, integral_s) for sign in (HOLDS, RUNS_AWAY))
    assert holds < 0 < runs
    assert runs > -holds


@given(SMALL, st.floats(0.5, 60.0))
@settings(max_examples=50, derandomize=True, deadline=None)
def test_more_gain_runs_away_sooner_and_no_gain_turns_a_wrong_action_right(gain, integral_s):
    slow, fast = error_rate_per_s(RUNS_AWAY, 1.0, np.array([gain / 2, gain]), integral_s)
    assert 0 < slow < fast
    assert doubling_time_s(fast) < doubling_time_s(slow)


def test_an_error_has_doubled_after_the_doubling_time():
    rate = error_rate_per_s(RUNS_AWAY, 0.5, 0.6, 4.0)
    assert np.exp(rate * doubling_time_s(rate)) == pytest.approx(2.0)


def test_a_wrong_loop_of_full_gain_has_no_rate_because_it_goes_at_once():
    with pytest.raises(ValueError, match=r"gain times process_gain must be below 1 in a loop of the wrong action, got 1\.2"):
        error_rate_per_s(RUNS_AWAY, 1.2, 1.0, 4.0)
    assert error_rate_per_s(HOLDS, 1.2, 1.0, 4.0) < 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((0, 1, 0.5, 4), "loop_sign must be -1"),
        ((1, -1, 0.5, 4), "process_gain must be above 0"),
        ((1, 1, 0, 4), "gain must be above 0"),
        ((1, 1, 0.5, 0), "integral_s must be above 0"),
    ],
)
def test_a_rate_of_nonsense_is_refused(arguments, words):
    with pytest.raises(ValueError, match=f"^{words}"):
        error_rate_per_s(*arguments)


def test_an_error_that_dies_away_never_doubles():
    with pytest.raises(ValueError, match="rate_per_s must be above 0"):
        doubling_time_s(error_rate_per_s(HOLDS, 1.0, 0.5, 4.0))
