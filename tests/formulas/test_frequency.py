"""Margins with exact delay against python-control, the poles of the closed loop, and the loops that swing as told."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from late_import import imported_late

from helpers.formulas import tuning
from helpers.formulas.tuning import Settings

control = imported_late("control")
FEW = settings(max_examples=10, derandomize=True, deadline=None)  # each example costs some hundredths of a second
lag_lists = st.lists(st.floats(0.05, 10), min_size=3, max_size=5)
gains, integrals = st.floats(0.1, 30), st.floats(0.1, 20)


def pi_loop(gain, integral, lags, delay=0.0, process_gain=1.0):
    pi = Settings(gain, integral)
    return lambda w: tuning.controller_response(w, pi) * tuning.frequency_response(w, process_gain, lags, delay)


def as_transfer_function(gain, integral, lags, delay=0.0, order=10):
    s = control.tf("s")
    plant = np.prod([1 / (lag * s + 1) for lag in lags])
    late = control.tf(*control.pade(delay, order)) if delay else 1
    return gain * (1 + 1 / (integral * s)) * plant * late


@FEW
@given(gain=gains, integral=integrals, lags=lag_lists)
def test_margins_of_a_chain_of_lags_are_those_of_an_independent_library(gain, integral, lags):
    theirs_gain, theirs_phase, at_180, at_1 = control.margin(as_transfer_function(gain, integral, lags))
    ours = tuning.margins(pi_loop(gain, integral, lags), max([integral, *lags]), min([integral, *lags]))
    assert ours.phase_margin_deg == pytest.approx(theirs_phase, abs=1e-4)
    assert ours.crossover_rad_s == pytest.approx(at_1, rel=1e-6)
    if np.isfinite(theirs_gain):
        assert ours.gain_margin == pytest.approx(theirs_gain, rel=1e-6)
        assert ours.phase_crossover_rad_s == pytest.approx(at_180, rel=1e-6)


def drawn(count, *ranges, seed=5):
    """So many draws from each range, even in logarithms."""
    return [np.exp(np.random.default_rng(seed + i).uniform(*np.log(ends), count)) for i, ends in enumerate(ranges)]


def test_a_loop_is_called_stable_exactly_when_its_poles_are():
    gain, integral = drawn(300, (0.1, 30), (0.1, 20))
    lags = np.stack(drawn(300, (0.05, 10), (0.05, 10), (0.05, 10), (0.05, 10), seed=9), axis=-1)
    slowest_pole = np.empty(300)
    for i in range(300):
        open_loop = np.polynomial.Polynomial([0.0, integral[i]])
        for lag in lags[i]:
            open_loop = open_loop * np.polynomial.Polynomial([1.0, lag])
        slowest_pole[i] = (open_loop + gain[i] * np.polynomial.Polynomial([1.0, integral[i]])).roots().real.max()
    ours = tuning.margins(pi_loop(gain, integral, lags), 20.0, 0.05)
    assert 50 < ours.stable.sum() < 250
    assert (ours.stable == (slowest_pole < 0)).all()
    assert (np.isfinite(ours.peak_sensitivity) == ours.stable).all()


@FEW
@given(gain=st.floats(0.1, 1.5), integral=st.floats(1, 5), lag=st.floats(0.3, 5), delay=st.floats(0.2, 2))
def test_with_a_delay_they_are_those_of_a_tenth_order_stand_in_for_it(gain, integral, lag, delay):
    theirs_gain, theirs_phase, _, _ = control.margin(as_transfer_function(gain, integral, [lag], delay))
    ours = tuning.margins(pi_loop(gain, integral, [lag], delay), max(integral, lag, delay), min(integral, lag, delay))
    assert ours.gain_margin == pytest.approx(theirs_gain, rel=1e-4)
    assert ours.phase_margin_deg == pytest.approx(theirs_phase, abs=1e-2)


@FEW
@given(gain=st.floats(0.1, 1.0), integral=st.floats(1, 5), lag=st.floats(0.3, 5), delay=st.floats(0.2, 2))
def test_a_gain_just_under_the_margin_holds_and_just_over_it_swings(gain, integral, lag, delay):
    found = tuning.margins(pi_loop(gain, integral, [lag], delay), max(integral, lag, delay), min(integral, lag, delay))
    for factor, holds in ((0.98, True), (1.02, False)):
        closed = control.feedback(as_transfer_function(gain * found.gain_margin * factor, integral, [lag], delay))
        assert (closed.poles().real.max() < 0) == holds


def ordinary_loops(count=200):
    gain, integral, lag, delay = drawn(count, (0.1, 1.0), (1, 5), (0.3, 5), (0.2, 2))
    return gain, integral, lag[:, None], delay


def test_the_delay_margin_is_the_delay_that_can_be_added():
    gain, integral, lags, delay = ordinary_loops()
    found = tuning.margins(pi_loop(gain, integral, lags, delay), 5.0, 0.2)
    assert found.stable.sum() > 100
    for factor, holds in ((0.98, True), (1.02, False)):
        slower = pi_loop(gain, integral, lags, delay + factor * found.delay_margin_s)
        assert (tuning.margins(slower, 5.0, 0.2).stable[found.stable] == holds).all()


def test_the_peak_sensitivity_is_the_highest_point_of_a_fine_grid_and_bounds_the_margins():
    gain, integral, lags, delay = ordinary_loops()
    loop = pi_loop(gain, integral, lags, delay)
    found = tuning.margins(loop, 5.0, 0.2)
    peak = tuning.peak_sensitivity(loop, 5.0, 0.2)
    assert peak[found.stable] == pytest.approx(found.peak_sensitivity[found.stable], rel=1e-12)
    fine = (1 / np.abs(1 + loop(np.logspace(-1.7, 1.3, 8001)[:, None]))).max(0)
    ordinary = found.stable & (peak < 5)  # beyond, the grid is too coarse for the spike
    assert peak[ordinary] == pytest.approx(fine[ordinary], rel=1e-5)
    peak = peak[found.stable]
    assert (found.gain_margin[found.stable] >= peak / (peak - 1) - 1e-9).all()
    assert (found.phase_margin_deg[found.stable] >= np.degrees(2 * np.arcsin(0.5 / peak)) - 1e-9).all()


def test_many_loops_at_once_are_the_loops_one_by_one():
    gain, integral = np.array([[0.3], [0.6], [4.0]]), np.array([1.0, 2.0])
    together = tuning.margins(pi_loop(gain, integral, [1.0, 0.2], 0.5), 2.0, 0.2)
    for i in range(3):
        for j in range(2):
            alone = tuning.margins(pi_loop(gain[i, 0], integral[j], [1.0, 0.2], 0.5), 2.0, 0.2)
            assert [figure[i, j] for figure in together] == pytest.approx(list(alone))
    assert together.stable.tolist() == [[True, True], [True, True], [False, False]]


def test_each_loop_may_have_its_own_lags():
    lags = np.array([[1.0, 0.2], [4.0, 0.1]])
    together = tuning.margins(pi_loop(0.5, 1.0, lags, 0.5), 4.0, 0.1)
    assert together.gain_margin[1] == pytest.approx(tuning.margins(pi_loop(0.5, 1.0, [4.0, 0.1], 0.5), 4.0, 0.1).gain_margin)


def test_the_wrong_action_is_never_stable_however_small_the_gain():
    for gain in (0.001, 0.5, 5.0):
        assert not tuning.margins(pi_loop(gain, 2.0, [1.0], 0.3, process_gain=-1.0), 2.0, 0.3).stable


def test_a_single_lag_under_proportional_control_never_swings():
    found = tuning.margins(lambda w: tuning.frequency_response(w, 5.0, [2.0]), 2.0, 2.0)
    assert found.gain_margin == np.inf
    assert np.isnan(found.phase_crossover_rad_s)
    assert found.stable
    weak = tuning.margins(lambda w: tuning.frequency_response(w, 0.5, [2.0], 1.0), 2.0, 1.0)
    assert weak.phase_margin_deg == np.inf
    assert weak.stable


def test_an_integrator_with_too_short_an_integral_time_is_not_stable():
    def loop(w, integral):
        return tuning.controller_response(w, Settings(1.0, integral)) * tuning.frequency_response(w, 1.0, 0.0, 0.5, integrators=1)

    assert tuning.margins(lambda w: loop(w, 4.0), 4.0, 0.5).stable
    assert not tuning.margins(lambda w: loop(w, 0.3), 1.0, 0.3).stable


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: tuning.frequency_response(0.0), "frequency_rad_s must be from 1e-09 to 1e[+]09, got 0"),
        (lambda: tuning.frequency_response(1.0, 1.0, [-1.0]), "lags_s must be from 0 to 1e[+]06, got -1"),
        (lambda: tuning.frequency_response(1.0, 1.0, [1.0], -1.0), "delay_s must be from 0 to 1e[+]06, got -1"),
        (lambda: tuning.controller_response(1.0, Settings(0.0, 1.0)), "gain must be above 0"),
        (lambda: tuning.margins(pi_loop(1, 1, [1.0]), 1.0, 2.0), "fastest_s must be no longer than slowest_s, got 2 and 1"),
        (lambda: tuning.margins(pi_loop(1, 1, [1.0]), 1.0, 0.0), "fastest_s must be from 1e-06 to 1e[+]06, got 0"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
