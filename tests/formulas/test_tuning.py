"""Tuning rules: what the loop does with their numbers, and that they ask the same of a building whatever its units."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import action, tuning
from helpers.formulas.tuning import controller_response, frequency_response, margins

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
gains, lags, delays = st.floats(0.01, 100), st.floats(0.1, 100), st.floats(0.05, 20)

# From a process that is nearly all delay to one that is nearly all lag.
LAG_S = np.geomspace(0.2, 50, 25)


def found(settings, process_gain=1.0, lag_s=LAG_S, delay_s=1.0):
    def loop(w):
        return controller_response(w, settings) * frequency_response(w, process_gain, lag_s[:, None], delay_s)

    return margins(loop, 60.0, 0.1)


@EXAMPLES
@given(gain=gains, lag=lags, delay=delays, factor=st.floats(0.1, 10))
def test_other_units_or_another_span_of_the_reading_leave_the_loop_as_it_is(gain, lag, delay, factor):
    here, there = tuning.simc_pi(gain, lag, delay), tuning.simc_pi(gain * factor, lag, delay)
    assert there.gain == pytest.approx(here.gain / factor)
    assert there.integral_s == pytest.approx(here.integral_s)


@EXAMPLES
@given(gain=gains, lag=lags, delay=delays, factor=st.floats(0.1, 10))
def test_a_process_twice_as_slow_wants_times_twice_as_long(gain, lag, delay, factor):
    here, there = tuning.simc_pi(gain, lag, delay), tuning.simc_pi(gain, lag * factor, delay * factor)
    assert there.gain == pytest.approx(here.gain)
    assert there.integral_s == pytest.approx(factor * here.integral_s)


def test_simc_at_its_fastest_keeps_a_gain_margin_of_three_and_more():
    loops = found(tuning.simc_pi(1.0, LAG_S, 1.0))
    assert loops.stable.all()
    assert loops.gain_margin.min() > 2.9
    assert loops.peak_sensitivity.max() < 1.71


def test_a_loop_set_for_one_span_swings_on_a_span_a_quarter_as_wide():
    """Per cent of span in, per cent out: the process gain in per cent grows as the span shrinks."""
    pi = tuning.simc_pi(100.0 / 250.0, 3.0, 1.0)
    on_its_span, on_a_quarter = (found(pi, process_gain=100.0 / span, lag_s=np.array([3.0])) for span in (250.0, 62.5))
    assert on_its_span.stable.all()
    assert not on_a_quarter.stable.any()
    kept = pi._replace(gain=action.gain_for_new_span(pi.gain, 250.0, 62.5))
    again = found(kept, process_gain=100.0 / 62.5, lag_s=np.array([3.0]))
    assert again.gain_margin == pytest.approx(on_its_span.gain_margin)


@EXAMPLES
@given(chain=st.lists(st.floats(0.01, 10), min_size=2, max_size=6), delay=st.floats(0, 3))
def test_the_half_rule_keeps_the_total_time(chain, delay):
    short = tuning.half_rule(chain, delay)
    assert sum(short) == pytest.approx(sum(chain) + delay)
    assert short.lag_s >= max(chain)
    assert short.delay_s >= delay


def test_sampling_and_inverse_response_count_as_delay():
    assert tuning.half_rule([3.0], 1.0, inverse_s=0.3, sample_s=0.2) == pytest.approx((3.0, 1.4))


def test_many_processes_are_tuned_at_once():
    many = tuning.simc_pi(1.0, np.array([[1.0], [50.0]]), np.array([0.5, 1.0, 2.0]))
    assert many.gain.shape == many.integral_s.shape == (2, 3)
    assert many.integral_s.tolist() == [[1.0, 1.0, 1.0], [4.0, 8.0, 16.0]]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: tuning.checked(tuning.Settings(0.0, 1.0)), "gain must be above 0, got 0"),
        (lambda: tuning.checked(tuning.Settings(1.0, -1.0)), "integral_s must be 0 or more, got -1"),
        (lambda: tuning.checked(tuning.Settings(1.0, 1.0, -1.0)), "derivative_s must be 0 or more, got -1"),
        (lambda: tuning.simc_pi(0.0, 1.0, 1.0), "gain must be above 0, got 0"),
        (lambda: tuning.simc_pi(1.0, 0.0, 1.0), "lag_s must be above 0, got 0"),
        (lambda: tuning.simc_pi(1.0, 1.0, -1.0), "delay_s must be 0 or more, got -1"),
        (lambda: tuning.simc_pi(1.0, 1.0, 1.0, 0.0), "closed_loop_s must be above 0, got 0"),
        (lambda: tuning.simc_pi(1.0, 1.0, 0.0), "closed_loop_s must be given where delay_s is 0"),
        (lambda: tuning.half_rule([[1.0], [2.0]]), "lags_s must be one list of lags, got the shape"),
        (lambda: tuning.half_rule([-1.0]), "lags_s must be 0 or more"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
