"""Combining readings: the five rules, bad readings left out, and how much each reading counts."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas.combining import RULES, combine
from helpers.model.air.operating_point import combine_good

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
values = st.floats(-500, 500, allow_nan=False)


@st.composite
def readings_and_flags(draw):
    """Readings of 1 to 5 transmitters in up to 4 conditions, which of them are good, and a weight for each transmitter."""
    shape = draw(st.tuples(st.integers(1, 4), st.integers(1, 5)))
    numbers = np.array(draw(st.lists(values, min_size=shape[0] * shape[1], max_size=shape[0] * shape[1]))).reshape(shape)
    flags = np.array(draw(st.lists(st.booleans(), min_size=numbers.size, max_size=numbers.size))).reshape(shape)
    weights = draw(st.lists(st.floats(0.1, 9), min_size=shape[1], max_size=shape[1]))
    return numbers, flags, weights


def by_hand(readings, rule, weights):
    """The rule on a plain list of good readings, one condition at a time."""
    if not readings:
        return np.nan
    rising = sorted(readings)
    if rule == "middle":
        half = len(rising) // 2
        return rising[half] if len(rising) % 2 else (rising[half - 1] + rising[half]) / 2
    if rule == "weighted":
        return sum(w * r for w, r in zip(weights, readings, strict=True)) / sum(weights)
    return {"lowest": rising[0], "highest": rising[-1], "average": sum(readings) / len(readings)}[rule]


@EXAMPLES
@given(case=readings_and_flags(), rule=st.sampled_from(RULES))
def test_every_rule_uses_the_good_readings_alone(case, rule):
    readings, good, weights = case
    rows = zip(readings, good, strict=True)
    expected = [by_hand(list(r[g]), rule, list(np.array(weights)[g])) for r, g in rows]
    assert combine(readings, rule, good, weights) == pytest.approx(expected, nan_ok=True, abs=1e-9)


@EXAMPLES
@given(case=readings_and_flags(), rule=st.sampled_from(RULES))
def test_a_reading_that_is_not_a_number_is_a_bad_one(case, rule):
    readings, good, weights = case
    for nonsense in (np.nan, np.inf, -np.inf):
        spoilt = np.where(good, readings, nonsense)
        assert combine(spoilt, rule, weights=weights) == pytest.approx(combine(readings, rule, good, weights), nan_ok=True)


@EXAMPLES
@given(case=readings_and_flags(), rule=st.sampled_from(RULES))
def test_transmitters_may_lie_along_any_axis(case, rule):
    readings, good, weights = case
    last, first = combine(readings, rule, good, weights), combine(readings.T, rule, good.T, weights, axis=0)
    assert first == pytest.approx(last, nan_ok=True)


@EXAMPLES
@given(case=readings_and_flags())
def test_lowest_average_and_highest_stand_in_order(case):
    readings, good, weights = case
    seen = good.any(-1)
    low, mean, weighted, middle, high = (
        combine(readings, rule, good, weights)[seen] for rule in ("lowest", "average", "weighted", "middle", "highest")
    )
    for between in (mean, weighted, middle):
        assert (low <= between + 1e-9).all()
        assert (between <= high + 1e-9).all()


def test_averaging_in_a_dead_transmitter_would_have_halved_the_reading():
    assert combine([50.0, 0.0], "average") == 25.0
    assert combine([50.0, 0.0], "average", good=[True, False]) == 50.0


def test_one_flag_for_each_transmitter_serves_all_conditions():
    readings = np.array([[10.0, 20.0, 60.0], [5.0, 50.0, 500.0]])
    assert combine(readings, "average", good=[True, True, False]) == pytest.approx([15.0, 27.5])
    assert combine(readings.T, "average", good=[True, True, False], axis=0) == pytest.approx([15.0, 27.5])


def test_the_middle_of_three_shrugs_off_one_liar_and_of_two_is_their_average():
    assert combine([48.0, 52.0, 300.0], "middle") == 52.0
    assert combine([48.0, 52.0, 300.0], "middle", good=[True, True, False]) == 50.0
    assert combine([48.0, 52.0, 300.0], "middle", good=[True, False, False]) == 48.0


def test_a_weight_of_zero_is_no_reading():
    assert combine([1.0, 2.0], "weighted", good=[True, False], weights=[3.0, 1.0]) == 1.0
    assert np.isnan(combine([1.0, 2.0], "weighted", good=[False, True], weights=[3.0, 0.0]))


def test_the_largest_number_that_may_be_asked_about_is_a_reading():
    assert combine([1.0, 1e15], "highest") == 1e15


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (dict(readings=[1.0], rule="mean"), "rule must be one of average, lowest, highest, middle, weighted; got 'mean'"),
        (dict(readings=[], rule="lowest"), "readings must hold at least one number"),
        (dict(readings=["a"], rule="lowest"), "readings must be a number or an array of numbers"),
        (dict(readings=[1.0, 1.1e15], rule="lowest"), r"readings must be from -1e\+15 to 1e\+15 or be marked bad, got a larger one"),
        (dict(readings=5.0, rule="lowest"), "readings must have an axis -1"),
        (dict(readings=[1.0, 2.0], rule="weighted"), "weights must be given"),
        (dict(readings=[1.0, 2.0], rule="weighted", weights=[1.0]), r"weights must be one for each transmitter, shape \(2,\)"),
        (dict(readings=[1.0, 2.0], rule="weighted", weights=[1.0, -1.0]), "weights must be 0 or more, got -1"),
        (dict(readings=[1.0, 2.0], rule="lowest", good=[1, 0]), "good must be True or False"),
        (
            dict(readings=[1.0, 2.0], rule="lowest", good=[True] * 3),
            r"good must be in the shape of readings or \(2,\), got the shape \(3,\)",
        ),
    ],
)
def test_nonsense_is_refused_in_a_sentence(arguments, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        combine(**arguments)


@pytest.mark.parametrize("count", [1, 2, 3, 4])
@pytest.mark.parametrize("rule", RULES)
def test_of_good_readings_alone_the_unchecked_way_gives_the_same(rule, count):
    readings = np.random.default_rng(count).normal(30.0, 20.0, (count, 5))
    weights = [0.0, 2.0, 0.5, 1.0][-count:]
    assert combine_good(readings, rule, weights).tolist() == combine(readings, rule, weights=weights, axis=0).tolist()
