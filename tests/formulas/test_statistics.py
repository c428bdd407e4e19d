"""Counts and small samples, against scipy and against the definition of what an interval promises."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from helpers.formulas import uncertainty

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
FEW = settings(EXAMPLES, max_examples=15)  # where the independent library takes its time


@st.composite
def counts(draw, most=400):
    trials = draw(st.integers(1, most))
    return draw(st.integers(0, trials)), trials


confidences = st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99, 0.999])


@EXAMPLES
@given(z=st.floats(-12, 12))
def test_the_normal_distribution_is_that_of_an_independent_library(z):
    assert uncertainty.normal_cdf(z) == pytest.approx(stats.norm.cdf(z), abs=1e-14)


@EXAMPLES
@given(share=st.floats(1e-6, 1 - 1e-6))
def test_the_normal_quantile_undoes_the_distribution(share):
    assert uncertainty.normal_quantile(share) == pytest.approx(stats.norm.ppf(share), abs=1e-8)


@EXAMPLES
@given(confidence=st.floats(0.01, 0.9999), degrees=st.integers(1, 100_000))
def test_the_student_factor_is_that_of_an_independent_library(confidence, degrees):
    assert uncertainty.student_factor(confidence, degrees) == pytest.approx(stats.t.ppf((1 + confidence) / 2, degrees), rel=1e-8)


def test_degrees_of_freedom_are_cut_to_the_whole_number_below():
    assert uncertainty.student_factor(0.95, 16.9) == uncertainty.student_factor(0.95, 16)


@FEW
@given(count=counts(), confidence=confidences)
def test_both_intervals_are_those_of_an_independent_library(count, confidence):
    theirs = stats.binomtest(*count)
    for method, ours in (("wilson", uncertainty.wilson_interval), ("exact", uncertainty.clopper_pearson)):
        expected = theirs.proportion_ci(confidence, method=method)
        assert ours(*count, confidence) == pytest.approx((expected.low, expected.high), abs=1e-9)


@FEW
@given(count=counts())
def test_a_share_lies_in_its_interval_and_the_sides_mirror(count):
    successes, trials = count
    for method in (uncertainty.wilson_interval, uncertainty.clopper_pearson):
        low, high = method(successes, trials)
        assert 0 <= low <= successes / trials <= high <= 1
        mirrored = method(trials - successes, trials)
        assert (1 - mirrored[1], 1 - mirrored[0]) == pytest.approx((low, high), abs=1e-9)


def test_intervals_take_many_counts_at_once():
    x, n = np.array([[0, 3], [7, 10]]), np.array([10, 10])
    for method in (uncertainty.wilson_interval, uncertainty.clopper_pearson):
        low, high = method(x, n)
        assert low.shape == high.shape == (2, 2)
        assert (low[1, 1], high[1, 1]) == method(10, 10)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.5, 0.9])
def test_the_exact_interval_covers_as_often_as_it_promises_and_wilson_nearly(share):
    x = np.arange(61)
    chance = stats.binom.pmf(x, 60, share)
    low, high = uncertainty.clopper_pearson(x, 60)
    assert chance[(low <= share) & (share <= high)].sum() >= 0.95
    low, high = uncertainty.wilson_interval(x, 60)
    assert chance[(low <= share) & (share <= high)].sum() == pytest.approx(0.95, abs=0.035)


@EXAMPLES
@given(share=st.floats(0.5, 0.999), confidence=st.floats(0.5, 0.999), order=st.integers(1, 6))
def test_one_run_less_would_not_be_enough(share, confidence, order):
    runs = uncertainty.runs_for_bound(share, confidence, order)
    chance = [1 - stats.binom.cdf(order - 1, n, 1 - share) for n in (runs, runs - 1)]
    assert chance[0] >= confidence - 1e-12
    assert chance[1] < confidence + 1e-12


@FEW
@given(count=st.integers(3, 200), share=st.floats(0.5, 0.999), confidence=st.floats(0.5, 0.99))
def test_the_tolerance_factor_is_the_noncentral_t_of_an_independent_library(count, share, confidence):
    theirs = stats.nct.ppf(confidence, count - 1, stats.norm.ppf(share) * np.sqrt(count)) / np.sqrt(count)
    assert uncertainty.tolerance_factor(count, share, confidence) == pytest.approx(theirs, abs=1e-6)


def test_mean_and_some_deviations_lie_above_a_share_of_all_as_often_as_promised():
    drawn = np.random.default_rng(2).normal(0, 1, (40_000, 8))
    bound = drawn.mean(1) + uncertainty.tolerance_factor(8, 0.9, 0.95) * drawn.std(1, ddof=1)
    assert (bound > stats.norm.ppf(0.9)).mean() == pytest.approx(0.95, abs=0.004)


def test_the_hand_formula_comes_near_for_many_values():
    for count, off in ((10, 0.02), (50, 0.005), (500, 0.001)):
        assert uncertainty.tolerance_factor_by_hand(count) == pytest.approx(uncertainty.tolerance_factor(count), rel=off)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: uncertainty.normal_cdf(np.nan), "z must be a finite number"),
        (lambda: uncertainty.normal_quantile(0.0), "share must be from 1e-06 to 0.999999, got 0"),
        (lambda: uncertainty.student_factor(1.0, 5), "confidence must be from 0.01 to 0.9999, got 1"),
        (lambda: uncertainty.student_factor(0.95, 0.5), "degrees must be 1 or more"),
        (lambda: uncertainty.wilson_interval(3, 2), "successes must be no more than trials, got 3 of 2"),
        (lambda: uncertainty.wilson_interval([0, 3], 2), "successes must be no more than trials, got 3 of 2"),
        (lambda: uncertainty.wilson_interval(0.5, 2), "successes must be a whole number, got 0.5"),
        (lambda: uncertainty.wilson_interval(-1, 2), "successes must be 0 or more"),
        (lambda: uncertainty.clopper_pearson(0, 0), "trials must be from 1 to 1e\\+06, got 0"),
        (lambda: uncertainty.clopper_pearson(0, 1, 1.5), "confidence must be from 0.01 to 0.9999"),
        (lambda: uncertainty.runs_for_bound(order=0), "order must be from 1 to 10000, got 0"),
        (lambda: uncertainty.runs_for_bound(order=1.5), "order must be a whole number"),
        (lambda: uncertainty.runs_for_bound(share=1.0), "share must be from 0.01 to 0.9999"),
        (lambda: uncertainty.runs_for_bound(0.9999, 0.9999, 500), "order must be small enough for 1000000 runs, got 500"),
        (lambda: uncertainty.tolerance_factor(2), "count must be from 3 to 10000, got 2"),
        (lambda: uncertainty.tolerance_factor(10, 0.3), "share must be from 0.5 to 0.999"),
        (lambda: uncertainty.tolerance_factor_by_hand(3, 0.9, 0.99), "count must be large enough for the hand formula"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()


@EXAMPLES
@given(gained=st.integers(0, 3000), lost=st.integers(0, 3000))
def test_the_chance_of_pairs_is_that_of_an_independent_library(gained, lost):
    expected = stats.binomtest(gained, gained + lost, 0.5).pvalue if gained + lost else 1.0
    assert uncertainty.paired_chance(gained, lost) == pytest.approx(expected, rel=1e-9)
    assert uncertainty.paired_chance(lost, gained) == uncertainty.paired_chance(gained, lost)


def test_the_chance_of_pairs_takes_arrays_and_refuses_what_is_no_count():
    assert uncertainty.paired_chance([[18], [5]], [5, 5, 6]).shape == (2, 3)
    for wrong in ((2.5, 1), (-1, 3), (1, np.nan)):
        with pytest.raises(ValueError, match=r"gained|lost"):
            uncertainty.paired_chance(*wrong)
