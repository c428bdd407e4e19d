"""Forms of a controller: the same loop whichever way its numbers are written."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas.frequency import controller_response
from helpers.formulas.tuning import Parallel, Settings, from_parallel, to_parallel, to_series, to_standard

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
gains, times = st.floats(0.01, 100), st.one_of(st.just(0.0), st.floats(0.01, 1000))
FREQUENCIES = np.logspace(-3, 3, 25)


@EXAMPLES
@given(gain=gains, integral=times, derivative=times)
def test_every_form_is_the_same_controller(gain, integral, derivative):
    series = Settings(gain, integral, derivative, "series")
    standard = to_standard(series)
    back = to_series(standard)
    parallel = to_parallel(series)
    s = 1j * FREQUENCIES
    expected = controller_response(FREQUENCIES, series)
    if integral:  # without integral action a series PD and a standard PD have the same numbers already
        assert controller_response(FREQUENCIES, back) == pytest.approx(expected, rel=1e-6)
    assert controller_response(FREQUENCIES, standard) == pytest.approx(expected, rel=1e-9)
    assert parallel.proportional + parallel.integral_per_s / s + parallel.derivative_s * s == pytest.approx(expected, rel=1e-9)


@EXAMPLES
@given(gain=gains, integral=times, derivative=times)
def test_standard_and_parallel_undo_each_other(gain, integral, derivative):
    standard = Settings(gain, integral, derivative)
    assert from_parallel(to_parallel(standard))[:3] == pytest.approx(standard[:3])


def test_pi_has_the_same_numbers_in_standard_and_series_form():
    assert to_series(Settings(2.0, 5.0))[:3] == to_standard(Settings(2.0, 5.0, 0.0, "series"))[:3] == (2.0, 5.0, 0.0)


def test_no_integral_action_stays_no_integral_action():
    assert to_parallel(Settings(2.0, 0.0)).integral_per_s == 0
    assert from_parallel(Parallel(2.0, 0.0)).integral_s == 0
    assert to_standard(Settings(2.0, 0.0, 3.0, "series"))[:3] == (2.0, 0.0, 3.0)


def test_a_series_form_goes_as_far_as_a_derivative_of_a_quarter_of_the_integral():
    assert to_series(Settings(2.0, 4.0, 1.0))[:3] == pytest.approx((1.0, 2.0, 2.0))
    with pytest.raises(ValueError, match=r"at most a quarter of integral_s for a series form, got 0\.2525 of it"):
        to_series(Settings(2.0, 4.0, 1.01))


def test_forms_take_many_controllers_at_once():
    many = to_standard(Settings([1.0, 2.0], [[4.0], [0.0]], 1.0, "series"))
    assert many.gain.tolist() == [[1.25, 2.5], [1.0, 2.0]]
    assert many.integral_s.tolist() == [[5.0], [0.0]]
    assert to_series(many).gain == pytest.approx(np.array([[1.0, 2.0], [1.0, 2.0]]))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: to_standard(Settings(0.0, 1.0)), "gain must be above 0, got 0"),
        (lambda: to_standard(Settings(1.0, -1.0)), "integral_s must be 0 or more, got -1"),
        (lambda: to_standard(Settings(1.0, 1.0, -1.0)), "derivative_s must be 0 or more, got -1"),
        (lambda: to_series(Settings(1.0, 1.0, 0.0, "ideal")), "form must be one of standard, series; got 'ideal'"),
        (lambda: to_series(Settings(1.0, 4.0, 2.0)), "derivative_s must be at most a quarter of integral_s for a series form, got 0.5"),
        (lambda: from_parallel(Parallel(0.0, 1.0)), "proportional must be above 0, got 0"),
        (lambda: from_parallel(Parallel(1.0, -1.0)), "integral_per_s must be 0 or more"),
        (lambda: from_parallel(Parallel(1.0, 1.0, -1.0)), "derivative_s must be 0 or more"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
