"""Errors added up: against drawn errors, scipy's distributions, and the limiting cases."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from helpers.formulas import uncertainty

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
several = st.lists(st.floats(0, 100), min_size=1, max_size=6)


@EXAMPLES
@given(parts=several)
def test_independent_errors_add_up_to_less_than_the_worst_case_and_more_than_the_largest(parts):
    squares, worst = uncertainty.root_sum_square(parts), uncertainty.worst_case(parts)
    assert max(parts) - 1e-9 <= squares <= worst + 1e-9


@EXAMPLES
@given(count=st.integers(1, 20), own=st.floats(0, 10), shared=st.floats(0, 10))
def test_the_average_of_several_transmitters_is_the_general_law(count, own, shared):
    each = np.hypot(own, shared)
    r = np.full((count, count), shared**2 / max(each**2, 1e-300)) if each else np.zeros((count, count))
    np.fill_diagonal(r, 1.0)
    general = each * np.sqrt(r.sum()) / count  # JCGM 100:2008 5.2.2 (memory), every sensitivity 1 / count
    assert uncertainty.average_of(count, own, shared) == pytest.approx(general, abs=1e-7)


def test_more_transmitters_do_not_cure_a_fault_they_share():
    assert uncertainty.average_of([1, 100, 10_000], 3.0, 2.0) == pytest.approx([np.sqrt(13), 2.022375, 2.000225], abs=1e-6)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 10, 100])
def test_the_expected_highest_is_that_of_an_independent_integral(count):
    """scipy: the mean of n f F^(n-1) x."""
    theirs = integrate.quad(lambda x: x * count * stats.norm.pdf(x) * stats.norm.cdf(x) ** (count - 1), -12, 12, limit=200)[0]
    assert uncertainty.expected_highest(count) == pytest.approx(theirs, abs=1e-7)


def test_the_lowest_of_two_noisy_transmitters_reads_low():
    drawn = np.random.default_rng(8).normal(50.0, 2.0, (200_000, 2)).min(1)
    assert drawn.mean() == pytest.approx(50.0 - 2.0 * uncertainty.expected_highest(2), abs=0.02)


def test_more_readings_push_the_highest_up():
    assert (np.diff(uncertainty.expected_highest([1, 2, 3, 4, 8, 100, 1_000_000])) > 0).all()
    assert uncertainty.expected_highest(1) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("shape", "drawn"), [("rectangular", stats.uniform(-1, 2)), ("triangular", stats.triang(0.5, -1, 2))])
def test_a_bound_becomes_the_standard_deviation_of_its_shape(shape, drawn):
    assert uncertainty.standard_from_bound(4.0, shape) == pytest.approx(4.0 * drawn.std())


def test_a_normal_bound_holds_95_of_100():
    assert stats.norm.cdf(1 / uncertainty.standard_from_bound(1.0, "normal 95 %")) == pytest.approx(0.975, abs=1e-7)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: uncertainty.standard_from_bound(-1.0), "bound must be 0 or more, got -1"),
        (lambda: uncertainty.standard_from_bound(1.0, "flat"), "shape must be one of rectangular, triangular, normal 95 %; got 'flat'"),
        (lambda: uncertainty.root_sum_square([1.0, np.nan]), "contributions must be a finite number"),
        (lambda: uncertainty.worst_case([]), "contributions must hold at least one number"),
        (lambda: uncertainty.average_of(0, 1.0), "count must be from 1 to 1e\\+06, got 0"),
        (lambda: uncertainty.average_of(2.5, 1.0), "count must be a whole number, got 2.5"),
        (lambda: uncertainty.average_of(2, -1.0), "independent must be 0 or more"),
        (lambda: uncertainty.average_of(2, 1.0, -1.0), "common must be 0 or more"),
        (lambda: uncertainty.expected_highest(1.5), "count must be a whole number"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
