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


@FEW
@given(count=counts(), confidence=confidences)
def test_the_interval_is_that_of_an_independent_library(count, confidence):
    expected = stats.binomtest(*count).proportion_ci(confidence, method="wilson")
    assert uncertainty.wilson_interval(*count, confidence) == pytest.approx((expected.low, expected.high), abs=1e-9)


@FEW
@given(count=counts())
def test_a_share_lies_in_its_interval_and_the_sides_mirror(count):
    successes, trials = count
    low, high = uncertainty.wilson_interval(successes, trials)
    assert 0 <= low <= successes / trials <= high <= 1
    mirrored = uncertainty.wilson_interval(trials - successes, trials)
    assert (1 - mirrored[1], 1 - mirrored[0]) == pytest.approx((low, high), abs=1e-9)


def test_intervals_take_many_counts_at_once():
    low, high = uncertainty.wilson_interval(np.array([[0, 3], [7, 10]]), np.array([10, 10]))
    assert low.shape == high.shape == (2, 2)
    assert (low[1, 1], high[1, 1]) == uncertainty.wilson_interval(10, 10)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.5, 0.9])
def test_the_interval_covers_nearly_as_often_as_it_promises(share):
    x = np.arange(61)
    chance = stats.binom.pmf(x, 60, share)
    low, high = uncertainty.wilson_interval(x, 60)
    assert chance[(low <= share) & (share <= high)].sum() == pytest.approx(0.95, abs=0.035)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: uncertainty.normal_cdf(np.nan), "z must be a finite number"),
        (lambda: uncertainty.normal_quantile(0.0), "share must be from 1e-06 to 0.999999, got 0"),
        (lambda: uncertainty.wilson_interval(3, 2), "successes must be no more than trials, got 3 of 2"),
        (lambda: uncertainty.wilson_interval([0, 3], 2), "successes must be no more than trials, got 3 of 2"),
        (lambda: uncertainty.wilson_interval(0.5, 2), "successes must be a whole number, got 0.5"),
        (lambda: uncertainty.wilson_interval(-1, 2), "successes must be 0 or more"),
        (lambda: uncertainty.wilson_interval(0, 0), "trials must be from 1 to 1e\\+06, got 0"),
        (lambda: uncertainty.wilson_interval(0, 1, 1.5), "confidence must be from 0.01 to 0.9999"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
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


@EXAMPLES
@given(share=st.floats(0.5, 0.999), freedom=st.integers(1, 60))
def test_students_quantile_is_that_of_an_independent_library(share, freedom):
    assert uncertainty.student_quantile(share, freedom) == pytest.approx(stats.t.ppf(share, freedom), rel=2e-5, abs=1e-6)


def test_a_line_through_figures_is_that_of_an_independent_library():
    x, y = np.array([0.0, 1.1, 2.0, 3.2, 4.1]), np.array([1.0, 1.4, 1.3, 2.2, 2.1])
    line, peer = uncertainty.straight_line(x, y, np.full(5, 1e-3)), stats.linregress(x, y)
    assert line.slope == pytest.approx(peer.slope)
    assert line.at(0.0) == pytest.approx(peer.intercept)
    assert line.slope_half == pytest.approx(peer.stderr * stats.t.ppf(0.95, 3), rel=1e-5)  # the scatter counts, not the small errors
    assert line.half(0.0) == pytest.approx(peer.intercept_stderr * stats.t.ppf(0.95, 3), rel=1e-5)


def test_the_interval_of_a_line_holds_nine_truths_of_ten_and_is_never_narrower_than_the_stated_errors():
    rng, held = np.random.default_rng(3), []
    for _ in range(600):
        x = np.arange(4.0)
        line = uncertainty.straight_line(x, 0.3 * x + rng.normal(0, 0.2, 4), np.full(4, 0.05))  # the scatter is larger than stated
        held.append(abs(line.slope - 0.3) <= line.slope_half)
    assert 0.86 <= np.mean(held) <= 0.96
    straight = uncertainty.straight_line([0, 1, 2], [0, 1, 2], [0.5] * 3)
    assert straight.slope_half == pytest.approx(1.645 * 0.5 / 2**0.5, rel=1e-3)


@pytest.mark.parametrize(
    ("x", "sd", "words"),
    [
        ([1, 1, 1], [1, 1, 1], "x must differ for a line"),
        ([1, 2], [1, 1, 1], "x, y and .* lists of one length"),
        ([1, 2, 3], [1, 0, 1], "uncertainty must be above 0"),
    ],
)
def test_no_line_is_drawn_through_what_makes_none(x, sd, words):
    with pytest.raises(ValueError, match=f"^{words}"):
        uncertainty.straight_line(x, [1.0, 2.0, 3.0], sd)
