"""Step tests: the answer against python-control, and a fit that finds what made the record, noisy, clamped or stepped twice."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from late_import import imported_late

from helpers.formulas.step_response import fit_first_order_delay, step_answer

control = imported_late("control")
FEW = settings(max_examples=12, derandomize=True, deadline=None)
TIME = np.arange(0, 60, 0.1)


def record(gain=2.5, lag=3.0, delay=1.0, rest=50.0, steps=((0.0, 40.0), (6.0, 45.0)), time=TIME):
    """Output and noiseless reading of a process stepped as told."""
    changes, held = np.array(steps).T
    output = held[np.searchsorted(changes, time, side="right") - 1]
    seen = np.array([time[np.searchsorted(time, change)] for change in changes])  # a change takes hold at a sample
    return output, rest + gain * (step_answer(time, seen, held, lag, delay) - held[0])


@FEW
@given(lag=st.floats(0.05, 20), late=st.integers(0, 30), steps=st.lists(st.floats(0.1, 5), min_size=1, max_size=6))
def test_the_answer_is_the_sampled_system_of_an_independent_library(lag, late, steps):
    """python-control's exact discretisation of 1/(lag s + 1), moved by whole samples."""
    step_s, count = 0.1, 300
    held = np.cumsum([0.0, *steps])
    output = np.repeat(held, count // held.size + 1)[:count]
    time = step_s * np.arange(count)
    sampled = control.c2d(control.tf([1], [lag, 1]), step_s)
    theirs = np.concatenate([np.zeros(late), control.forced_response(sampled, time, output).outputs])[:count]
    at = np.append(0, np.flatnonzero(np.diff(output)) + 1)
    # A hair later, so that rounding does not let a sample see the change that falls on it.
    assert step_answer(time, time[at], held, lag, late * step_s + 1e-9) == pytest.approx(theirs, abs=1e-6)


@pytest.mark.parametrize("gain", [2.5, -0.3])
@pytest.mark.parametrize(("lag", "delay"), [(3.0, 1.0), (1.0, 0.0), (0.2, 5.0), (0.3, 0.15), (10.0, 0.05), (10.0, 4.0), (4.0, 12.0)])
def test_a_clean_record_gives_back_what_made_it(gain, lag, delay):
    fit = fit_first_order_delay(TIME, *record(gain, lag, delay, rest=-20.0))
    assert fit[:3] == pytest.approx((gain, lag, delay), rel=1e-3, abs=1e-3)
    assert fit.reading_at_rest == pytest.approx(-20.0, abs=1e-3)
    assert fit.noise < 1e-3


def test_a_noisy_record_gives_it_back_on_average_and_tells_the_noise():
    output, clean = record()
    rng = np.random.default_rng(7)
    fits = np.array([fit_first_order_delay(TIME, output, clean + rng.normal(0, 1.0, clean.size)) for _ in range(6)])
    mean = fits.mean(0)
    assert mean[:3] == pytest.approx([2.5, 3.0, 1.0], abs=0.1)
    assert mean[4] == pytest.approx(1.0, rel=0.03)
    assert fits[:, 0] == pytest.approx(2.5, rel=0.05)
    assert fits[:, 1] + fits[:, 2] == pytest.approx(4.0, rel=0.1)


def test_more_noise_than_half_the_answer_still_finds_gain_and_time():
    output, clean = record()
    fit = fit_first_order_delay(TIME, output, clean + np.random.default_rng(1).normal(0, 6.0, clean.size))
    assert fit.gain == pytest.approx(2.5, rel=0.1)
    assert fit.lag_s + fit.delay_s == pytest.approx(4.0, rel=0.4)


def test_a_clamped_record_is_fitted_without_its_flat_top():
    output, clean = record(steps=((0.0, 40.0), (6.0, 50.0), (30.0, 40.0)))  # rises to 75
    clamped = np.minimum(clean, 65.0)
    fit = fit_first_order_delay(TIME, output, clamped, reading_high=65.0)
    assert fit[:3] == pytest.approx([2.5, 3.0, 1.0], rel=1e-3)
    trusting = fit_first_order_delay(TIME, output, clamped)
    assert trusting.gain < 1.7  # what believing the flat top costs


def test_a_ramped_output_and_uneven_samples_do_not_disturb():
    time = np.cumsum(np.random.default_rng(3).uniform(0.05, 0.4, 300))
    output = np.interp(time, [5.0, 9.0], [40.0, 46.0])
    at = np.append(0, np.flatnonzero(np.diff(output)) + 1)
    fit = fit_first_order_delay(time, output, 50 + 2.5 * (step_answer(time, time[at], output[at], 3.0, 1.0) - 40.0))
    assert fit[:3] == pytest.approx([2.5, 3.0, 1.0], rel=1e-2)


def test_a_record_cut_short_says_how_much_it_shows():
    fit = fit_first_order_delay(TIME[:100], *(part[:100] for part in record()))
    assert fit.shown_share == pytest.approx(1 - np.exp(-(9.9 - 6.0 - 1.0) / 3.0), abs=0.02)


NOISE = np.random.default_rng(0).normal(0, 1, TIME.size)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: fit_first_order_delay(TIME, np.ones(600), NOISE), "output must change at least once"),
        (lambda: fit_first_order_delay(TIME, record()[0], NOISE), "reading must answer to the step by more than its own noise"),
        (lambda: fit_first_order_delay(TIME, record()[0], NOISE[:5]), "time_s and output and reading must be lists of the same length"),
        (
            lambda: fit_first_order_delay(TIME[:9], *(p[56:65] for p in record())),
            "reading must hold 10 samples or more between its clamps, got 9",
        ),
        (
            lambda: fit_first_order_delay(TIME, *record(), reading_high=40.0),
            "reading must hold 10 samples or more between its clamps, got 0",
        ),
        (
            # Clamped until the answer is under way: the shape alone does not tell a larger gain from a longer delay.
            lambda: fit_first_order_delay(TIME, record()[0], np.maximum(record()[1], 52.0), reading_low=52.0),
            "reading must be off its clamps in 3 samples or more before the first step",
        ),
        (lambda: fit_first_order_delay(TIME[::-1], *record()), "time_s must rise from one to the next"),
        (lambda: fit_first_order_delay(TIME, record()[0], np.full(600, np.nan)), "reading must be a finite number, got nan"),
        (
            lambda: fit_first_order_delay(TIME[:75], *(p[:75] for p in record(lag=30.0))),
            "time_s must run on until the reading has nearly settled",
        ),
        (lambda: step_answer(0.0, [1.0, 1.0], [0.0, 1.0], 1.0), "change_times_s must rise from one to the next"),
        (lambda: step_answer(0.0, [0.0, 1.0], [0.0, 1.0], -1.0), "lag_s must be 0 or more"),
        (lambda: step_answer(0.0, [0.0, 1.0], [0.0, 1.0], [1.0, 2.0]), "lag_s and delay_s must be single numbers"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
