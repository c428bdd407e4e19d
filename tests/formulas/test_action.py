"""Reverse and direct action: which way the error counts, which loop holds, where a wrong one runs, and what a span does to a gain."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import action

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
gains, spans = st.floats(0.01, 100), st.floats(0.1, 5000)


def settle(acting, effect, start, steps=400):
    """A fan of 0 to 100 % on a plant reading 50 + effect (output - 50), under an integrating controller; last output and first error."""
    output, first = 50.0 + effect * start, None
    for _ in range(steps):
        found = action.error(50.0, 50.0 + effect * (output - 50.0), acting)
        first = found if first is None else first
        output = np.clip(output + 0.1 * found, 0.0, 100.0)
    return output, first


@pytest.mark.parametrize("effect", [+1, -1])
@pytest.mark.parametrize("start", [+5.0, -5.0])
def test_the_action_for_a_fan_makes_the_loop_settle_and_the_other_runs_to_the_end_stop_told(effect, start):
    right = action.action_for(effect)
    wrong = {"reverse": "direct", "direct": "reverse"}[right]
    output, error = settle(right, effect, start)
    assert output == pytest.approx(50.0, abs=1e-6)
    assert action.end_stop(right, effect, error) == "held"
    output, error = settle(wrong, effect, start)
    assert action.end_stop(wrong, effect, error) == {0.0: "lowest speed", 100.0: "full speed"}[float(output)]


def test_a_supply_fan_is_reverse_acting_and_a_relief_fan_direct():
    assert action.action_for(+1) == "reverse"
    assert action.action_for(-1) == "direct"
    assert action.loop_sign("reverse", [1, -1]).tolist() == [action.HOLDS, action.RUNS_AWAY]
    assert action.loop_sign("direct", [1, -1]).tolist() == [action.RUNS_AWAY, action.HOLDS]


def test_the_reading_above_the_set_point_asks_a_reverse_acting_controller_for_less():
    assert action.error(50.0, [45.0, 55.0], "reverse").tolist() == [5.0, -5.0]
    assert action.error(50.0, [45.0, 55.0], "direct").tolist() == [-5.0, 5.0]


def test_a_wrong_loop_without_error_stays_until_something_moves_it():
    assert action.end_stop("direct", +1, [-1.0, 0.0, 1.0]).tolist() == ["lowest speed", "held", "full speed"]


@EXAMPLES
@given(gain=gains)
def test_band_and_gain_undo_each_other(gain):
    assert action.gain_from_band(action.proportional_band(gain)) == pytest.approx(gain)


@EXAMPLES
@given(gain=gains, old=spans, new=spans)
def test_the_gain_for_the_new_span_leaves_the_building_the_same_loop(gain, old, new):
    assert action.gain_for_new_span(gain, old, new) / new == pytest.approx(gain / old)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: action.error(1.0, 1.0, "Reverse"), "action must be one of reverse, direct; got 'Reverse'"),
        (lambda: action.error(np.nan, 1.0, "reverse"), "set_point must be a finite number"),
        (lambda: action.error(1.0, np.inf, "reverse"), "reading must be a finite number"),
        (lambda: action.action_for(0), "fan_effect must be"),
        (lambda: action.action_for([1, -1]), "fan_effect must be one number"),
        (lambda: action.loop_sign("reverse", 2), "fan_effect must be"),
        (lambda: action.end_stop("reverse", 1, np.nan), "error must be a finite number"),
        (lambda: action.proportional_band(0.0), "gain must be above 0, got 0"),
        (lambda: action.gain_from_band(-5.0), "band_percent must be above 0, got -5"),
        (lambda: action.gain_for_new_span(1.0, 0.0, 1.0), "old_span must be above 0"),
        (lambda: action.gain_for_new_span(1.0, 1.0, 0.0), "new_span must be above 0"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
