"""Tuning rules: what the loop does with their numbers, and that they ask the same of a building whatever its units."""

import control
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import action, tuning
from helpers.formulas.frequency import controller_response, frequency_response, margins
from helpers.formulas.tuning import to_standard

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
gains, lags, delays = st.floats(0.01, 100), st.floats(0.1, 100), st.floats(0.05, 20)
RULES = {
    "lambda": lambda k, lag, delay: tuning.lambda_pi(k, lag, delay, delay),
    "simc": tuning.simc_pi,
    "simc pid": lambda k, lag, delay: tuning.simc_pid(k, lag, 0.3 * lag, delay),
    "step": tuning.ziegler_nichols_step,
    "amigo": tuning.amigo_pi,
    "amigo pid": tuning.amigo_pid,
}

# From a process that is nearly all delay to one that is nearly all lag.
LAG_S = np.geomspace(0.2, 50, 25)


def found(settings, process_gain=1.0, lag_s=LAG_S, delay_s=1.0):
    def loop(w):
        return controller_response(w, settings) * frequency_response(w, process_gain, lag_s[:, None], delay_s)

    return margins(loop, 60.0, 0.1)


@EXAMPLES
@given(gain=gains, lag=lags, delay=delays, factor=st.floats(0.1, 10), rule=st.sampled_from(tuple(RULES)))
def test_other_units_or_another_span_of_the_reading_leave_the_loop_as_it_is(gain, lag, delay, factor, rule):
    here, there = RULES[rule](gain, lag, delay), RULES[rule](gain * factor, lag, delay)
    assert there.gain == pytest.approx(here.gain / factor)
    assert there[1:3] == pytest.approx(here[1:3])


@EXAMPLES
@given(gain=gains, lag=lags, delay=delays, factor=st.floats(0.1, 10), rule=st.sampled_from(tuple(RULES)))
def test_a_process_twice_as_slow_wants_times_twice_as_long(gain, lag, delay, factor, rule):
    here, there = RULES[rule](gain, lag, delay), RULES[rule](gain, lag * factor, delay * factor)
    assert there.gain == pytest.approx(here.gain)
    assert np.array(there[1:3]) == pytest.approx(factor * np.array(here[1:3]))


def test_simc_at_its_fastest_keeps_a_gain_margin_of_three_and_more():
    loops = found(tuning.simc_pi(1.0, LAG_S, 1.0))
    assert loops.stable.all()
    assert loops.gain_margin.min() > 2.9
    assert loops.peak_sensitivity.max() < 1.71


def test_amigo_keeps_the_peak_sensitivity_near_its_aim():
    peaks = found(tuning.amigo_pi(1.0, LAG_S, 1.0)).peak_sensitivity
    assert (peaks > 1.2).all()
    assert (peaks < 1.5).all()


def test_the_step_test_of_old_is_livelier_than_simc_where_the_lag_is_longer_than_the_delay():
    long = LAG_S[LAG_S > 1.0]
    old, new = (found(rule(1.0, long, 1.0), lag_s=long) for rule in (tuning.ziegler_nichols_step, tuning.simc_pi))
    assert (old.peak_sensitivity > new.peak_sensitivity).all()
    assert (old.gain_margin < new.gain_margin).all()


def test_a_loop_asked_to_be_slower_has_more_margin():
    slower = [found(tuning.lambda_pi(1.0, LAG_S, 1.0, asked)).peak_sensitivity for asked in (0.5, 1.0, 2.0, 5.0)]
    assert (np.diff(slower, axis=0) < 0).all()


@pytest.mark.parametrize("asked", [1.0, 2.0, 6.0])
def test_a_lambda_loop_follows_its_set_point_like_one_lag_of_the_time_asked_for(asked):
    """python-control with a tenth-order stand-in for the delay: 63.2 % after the delay and the time asked for."""
    s, pi = control.tf("s"), tuning.lambda_pi(2.0, 5.0, 0.5, asked)
    late = control.tf(*control.pade(0.5, 10))
    closed = control.feedback(pi.gain * (1 + 1 / (pi.integral_s * s)) * 2.0 / (5.0 * s + 1) * late)
    answer = control.step_response(closed, np.linspace(0, 10 * asked, 2001))
    at = np.interp(0.5 + asked, answer.time, answer.outputs)
    assert at == pytest.approx(0.632, abs=0.06)  # the delay in the loop hurries it a little
    assert answer.outputs[-1] == pytest.approx(1.0, abs=1e-3)


def test_a_loop_set_for_one_span_swings_on_a_span_a_quarter_as_wide():
    """Per cent of span in, per cent out: the process gain in per cent grows as the span shrinks."""
    pi = tuning.simc_pi(action.gain_in_units(1.0, 250.0, 100.0), 3.0, 1.0)
    on_its_span, on_a_quarter = (
        found(pi, process_gain=action.gain_in_units(1.0, span, 100.0), lag_s=np.array([3.0])) for span in (250.0, 62.5)
    )
    assert on_its_span.stable.all()
    assert not on_a_quarter.stable.any()
    kept = pi._replace(gain=action.gain_for_new_span(pi.gain, 250.0, 62.5))
    again = found(kept, process_gain=action.gain_in_units(1.0, 62.5, 100.0), lag_s=np.array([3.0]))
    assert again.gain_margin == pytest.approx(on_its_span.gain_margin)


@EXAMPLES
@given(chain=st.lists(st.floats(0.01, 10), min_size=2, max_size=6), delay=st.floats(0, 3), keep=st.sampled_from([1, 2]))
def test_the_half_rule_keeps_the_total_time(chain, delay, keep):
    short = tuning.half_rule(chain, delay, keep=keep)
    assert sum(short) == pytest.approx(sum(chain) + delay)
    assert (short.second_lag_s > 0) == (keep == 2)
    assert short.lag_s >= short.second_lag_s
    assert short.delay_s >= delay


def test_sampling_and_inverse_response_count_as_delay():
    assert tuning.half_rule([3.0], 1.0, inverse_s=0.3, sample_s=0.2) == pytest.approx((3.0, 0.0, 1.4))


def test_the_derivative_of_simc_belongs_to_the_series_form():
    series = tuning.simc_pid(1.0, 5.0, 2.0, 0.5)
    assert series.form == "series"
    standard = to_standard(series)
    assert standard.gain > series.gain
    loops = [controller_response(np.array([0.1, 1.0, 10.0]), s) for s in (series, standard)]
    assert loops[0] == pytest.approx(loops[1])


def test_p_and_pid_of_the_swinging_loop():
    assert tuning.ziegler_nichols_ultimate(4.0, 8.0, "P")[:3] == (2.0, 0.0, 0.0)
    assert tuning.ziegler_nichols_ultimate(4.0, 8.0, "PID")[:3] == pytest.approx((2.4, 4.0, 1.0))
    assert tuning.ziegler_nichols_step(2.0, 6.0, 1.0, "PID")[:3] == pytest.approx((3.6, 2.0, 0.5))


def test_many_processes_are_tuned_at_once():
    many = tuning.simc_pi(1.0, np.array([[1.0], [50.0]]), np.array([0.5, 1.0, 2.0]))
    assert many.gain.shape == many.integral_s.shape == (2, 3)
    assert many.integral_s.tolist() == [[1.0, 1.0, 1.0], [4.0, 8.0, 16.0]]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: tuning.lambda_pi(0.0, 1.0, 1.0, 1.0), "gain must be above 0, got 0"),
        (lambda: tuning.lambda_pi(1.0, 0.0, 1.0, 1.0), "lag_s must be above 0, got 0"),
        (lambda: tuning.lambda_pi(1.0, 1.0, -1.0, 1.0), "delay_s must be 0 or more, got -1"),
        (lambda: tuning.lambda_pi(1.0, 1.0, 1.0, 0.0), "closed_loop_s must be above 0, got 0"),
        (lambda: tuning.simc_pi(1.0, 1.0, 0.0), "closed_loop_s must be given where delay_s is 0"),
        (lambda: tuning.simc_pid(1.0, 1.0, 2.0, 1.0), "second_lag_s must be no longer than lag_s, got 2.0 and 1.0"),
        (lambda: tuning.ziegler_nichols_step(1.0, 1.0, 0.0), "delay_s must be above 0, got 0"),
        (lambda: tuning.ziegler_nichols_step(1.0, 1.0, 1.0, "PD"), "kind must be one of P, PI, PID; got 'PD'"),
        (lambda: tuning.ziegler_nichols_ultimate(0.0, 1.0), "ultimate_gain must be above 0"),
        (lambda: tuning.ziegler_nichols_ultimate(1.0, 0.0), "ultimate_period_s must be above 0"),
        (lambda: tuning.amigo_pi(1.0, -1.0, 1.0), "lag_s must be 0 or more"),
        (lambda: tuning.amigo_pid(1.0, 1.0, 0.0), "delay_s must be above 0"),
        (lambda: tuning.half_rule([1.0], keep=2), "keep must be 1 or 2, with that many lags_s or more, got 2"),
        (lambda: tuning.half_rule([1.0, 2.0], keep=3), "keep must be one whole number from 1 to 2"),
        (lambda: tuning.half_rule([-1.0]), "lags_s must be 0 or more"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
