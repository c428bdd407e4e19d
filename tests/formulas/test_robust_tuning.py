"""The strongest PI for many processes at once: against known loops, against the margins one by one, and what it refuses."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import tuning
from helpers.formulas.tuning import SWINGS, LeastMargins, Settings, fastest_pi, largest_gain

W = np.logspace(-3, 2, 1500)


def process(gain, lags, delay, w=W):
    return tuning.frequency_response(w, gain, lags, delay)


def margins(gain, integral, lags, delay):
    return tuning.margins(
        lambda w: tuning.controller_response(w, Settings(gain, integral)) * process(1.0, lags, delay, w),
        max(*lags, integral, delay),
        min(*lags[:1], integral, delay),
    )


def test_a_lag_that_the_integral_cancels_leaves_a_delay_with_an_integrator():
    """Loop K exp(-s d) / (s T): it swings at K d / T = pi/2, has gain margin 2.5 at pi/5, phase margin 40 degrees at 50 degrees of 57.3."""
    by_gain = largest_gain(W, process(1.0, [2.0], 0.5), np.array([2.0]), LeastMargins(1e6, 2.5, 0.0))
    assert by_gain == pytest.approx([np.pi / 5 * 2.0 / 0.5], rel=0.01)
    by_phase = largest_gain(W, process(1.0, [2.0], 0.5), np.array([2.0]), LeastMargins(1e6, 1.0001, 40.0))
    assert by_phase == pytest.approx([np.radians(50) * 2.0 / 0.5], rel=0.01)
    edge = largest_gain(W, process(1.0, [2.0], 0.5), np.array([2.0]), SWINGS)
    assert edge == pytest.approx([np.pi / 2 * 2.0 / 0.5], rel=0.01)


def test_half_as_much_gain_for_twice_the_process_and_the_same_for_a_slower_clock():
    once = largest_gain(W, process(1.0, [1.0, 0.3], 0.4), np.array([0.5, 1.0, 3.0]))
    assert largest_gain(W, process(2.0, [1.0, 0.3], 0.4), np.array([0.5, 1.0, 3.0])) == pytest.approx(once / 2)
    slower = largest_gain(W / 10, process(1.0, [10.0, 3.0], 4.0, W / 10), np.array([5.0, 10.0, 30.0]))
    assert slower == pytest.approx(once, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.05, 3.0), st.floats(0.0, 2.0), st.floats(0.1, 1.5), st.floats(0.2, 8.0))
def test_at_the_gain_found_the_least_of_the_three_is_just_kept_and_below_it_all_are(lag, second, delay, integral):
    lags, asked = [lag, second], LeastMargins()
    (found,) = largest_gain(W, process(1.0, lags, delay), np.array([integral]), asked)
    at = margins(found, integral, lags, delay)
    room = (at.gain_margin / asked.gain_margin, at.phase_margin_deg / asked.phase_margin_deg, asked.peak_sensitivity / at.peak_sensitivity)
    assert min(room) == pytest.approx(1.0, abs=0.02)
    calmer = margins(0.5 * found, integral, lags, delay)
    assert calmer.peak_sensitivity <= asked.peak_sensitivity
    assert calmer.gain_margin >= asked.gain_margin
    assert calmer.phase_margin_deg >= asked.phase_margin_deg


def test_of_many_processes_the_least_counts_and_each_can_be_told():
    several = np.stack([process(1.0, [1.0], delay) for delay in (0.2, 0.4, 0.8)], axis=1)
    each = largest_gain(W, several, np.array([0.7, 1.0]), each=True)
    assert each.shape == (3, 2)
    assert (np.diff(each, axis=0) < 0).all()
    assert largest_gain(W, several, np.array([0.7, 1.0])) == pytest.approx(each[-1])


def test_the_fastest_has_the_least_integral_time_over_gain_and_a_ramp_lowers_its_gain():
    integral, gain = np.array([0.5, 1.0, 2.0, 4.0]), np.array([0.1, 0.4, 0.7, 0.8])
    assert fastest_pi(integral, gain) == (0.4, 1.0)
    assert fastest_pi(integral, gain, least_integral_over_gain_s=5.0) == (0.2, 1.0)
    assert fastest_pi(integral, gain, least_integral_over_gain_s=2.0) == (0.4, 1.0)
    assert fastest_pi(integral, np.zeros(4)) is None


@pytest.mark.parametrize(
    ("call", "refusal"),
    [
        (lambda: largest_gain(W[::-1], process(1, [1], 0.1), [1.0]), "frequency_rad_s must be two or more rising numbers, got 1500"),
        (
            lambda: largest_gain(W, process(1, [1], 0.1)[:7], [1.0]),
            r"process .* one response for each of 1500 frequencies, got shape \(7,\)",
        ),
        (lambda: largest_gain(W, process(1, [1], 0.1), [0.0]), "integral_s must be above 0, got 0"),
        (lambda: largest_gain(W, np.ones((1500, 200)), np.ones(100)), "process must have 2e\\+07 cells at most"),
        (lambda: largest_gain(W, process(1, [1], 0.1), [1.0], LeastMargins(1.0, 2.5, 40)), "peak_sensitivity must be above 1, got 1"),
        (lambda: largest_gain(W, process(1, [1], 0.1), [1.0], LeastMargins(1.7, 0.5, 40)), "gain_margin must be above 1, got 0.5"),
        (lambda: largest_gain(W, process(1, [1], 0.1), [1.0], LeastMargins(1.7, 2.5, 99)), "phase_margin_deg must be from 0 to 90, got 99"),
        (lambda: fastest_pi(np.ones(3), np.ones(2)), "gain must be one for each integral_s"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(call, refusal):
    with pytest.raises(ValueError, match=f"^{refusal}"):
        call()
