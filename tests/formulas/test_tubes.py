"""Tubes of a transmitter: thin and long ones are slow, and the formula's time is that of the line in many pieces."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from helpers.formulas import step_response

PROPERTY = settings(max_examples=60, derandomize=True, deadline=None)


def mean_time_of_a_line(length_m, bore_m, instrument_m3, pieces=60):
    """Area above the step answer at the far end of a line of small resistances and volumes [s]: independent of the formula."""
    resistance = 128 * 1.82e-5 * (length_m / pieces) / (np.pi * bore_m**4)
    capacity = np.full(pieces, np.pi / 4 * bore_m**2 * (length_m / pieces) / 101325)
    capacity[-1] = capacity[-1] / 2 + instrument_m3 / 101325
    link = (np.diag(np.full(pieces, 2.0)) - np.diag(np.ones(pieces - 1), 1) - np.diag(np.ones(pieces - 1), -1)) / resistance
    link[-1, -1] = 1 / resistance
    rates = -link / capacity[:, None]
    drive = np.zeros(pieces)
    drive[0] = 1 / (resistance * capacity[0])
    slowest = -1 / np.linalg.eigvals(rates).real.max()
    step = expm(rates * slowest / 50)
    at, area = np.zeros(pieces), 0.0
    settled = np.linalg.solve(rates, -drive)
    for _ in range(600):
        now = settled + step @ (at - settled)
        area += (1 - (at[-1] + now[-1]) / 2) * slowest / 50
        at = now
    return area


@pytest.mark.parametrize(("length_m", "bore_m", "instrument_m3"), [(10, 0.004, 1e-5), (30, 0.003, 1e-5), (5, 0.006, 3e-5), (50, 0.003, 0)])
def test_the_lag_is_the_mean_time_of_the_line_in_many_pieces(length_m, bore_m, instrument_m3):
    assert step_response.tube_lag(length_m, bore_m, instrument_m3) == pytest.approx(
        mean_time_of_a_line(length_m, bore_m, instrument_m3), rel=0.02
    )


@given(st.floats(0.5, 100), st.floats(0.001, 0.02), st.floats(0, 1e-4))
@PROPERTY
def test_a_longer_or_thinner_tube_is_never_quicker(length_m, bore_m, instrument_m3):
    lag = step_response.tube_lag(length_m, bore_m, instrument_m3)
    assert step_response.tube_lag(1.5 * length_m, bore_m, instrument_m3) > lag
    assert step_response.tube_lag(length_m, bore_m / 1.5, instrument_m3) > lag or instrument_m3 == 0


def test_half_the_bore_has_sixteen_times_the_resistance():
    assert step_response.line_resistance(10, 0.003) == pytest.approx(16 * step_response.line_resistance(10, 0.006))


def test_many_tubes_at_once_are_those_one_by_one():
    lengths, bores = np.array([5.0, 10.0, 30.0]), np.array([0.003, 0.004, 0.006])
    assert step_response.tube_lag(lengths, bores) == pytest.approx(
        np.array([step_response.tube_lag(a, b) for a, b in zip(lengths, bores, strict=True)])
    )


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: step_response.tube_lag(-1, 0.004), "length_m must be 0 or more, got -1"),
        (lambda: step_response.tube_lag(10, 0.0), "bore_m must be above 0, got 0"),
        (lambda: step_response.tube_lag(10, 0.004, -1e-6), "instrument_m3 must be 0 or more"),
        (lambda: step_response.tube_lag(float("nan"), 0.004), "length_m must be a finite number, got nan"),
        (lambda: step_response.tube_lag(10, 0.004, pressure_pa=0), "pressure_pa must be above 0"),
        (lambda: step_response.travel_time(-3), "length_m must be 0 or more"),
        (lambda: step_response.speed_of_sound(-300), "temp_c must be from -100 to 200, got -300"),
    ],
)
def test_what_is_no_tube_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
