"""Wrong entries, and set points in per cent of a display's range."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import signals
from helpers.formulas.signals import SIGNALS

EXACT = settings(max_examples=50, derandomize=True, deadline=None)
signal_names = st.sampled_from(sorted(SIGNALS))
lows, spans = st.floats(-200, 50), st.floats(5, 800)
resistors = st.floats(100, 600)


@EXACT
@given(signal_names, lows, spans)
def test_an_entry_as_the_instrument_is_shows_what_is_there(signal, low, span):
    ends = (signal, low, low + span)
    assert signals.entry_gain(*ends, *ends) == pytest.approx(1.0, rel=1e-9)
    assert signals.entry_offset(*ends, *ends) == pytest.approx(0.0, abs=1e-9 * span)


@EXACT
@given(signal_names, lows, spans, signal_names, lows, spans, resistors, st.floats(-200, 800))
def test_the_display_is_a_straight_line_of_the_true_value(signal, low, span, entered, entered_low, entered_span, resistor, value):
    ends = (signal, low, low + span, entered, entered_low, entered_low + entered_span, resistor)
    line = signals.entry_offset(*ends) + signals.entry_gain(*ends) * value
    assert signals.shown_value(value, *ends) == pytest.approx(line, rel=1e-6, abs=1e-6)


@EXACT
@given(st.floats(-100, 100), st.floats(0.05, 20), st.floats(-100, 100))
def test_what_is_held_instead_shows_the_set_point(set_point, gain, offset):
    assert offset + gain * signals.held_instead(set_point, gain, offset) == pytest.approx(set_point, abs=1e-9)


@EXACT
@given(st.floats(-300, 900), lows, spans)
def test_a_set_point_in_per_cent_and_back_is_the_same(value, low, span):
    percent = signals.percent_of_range(value, low, low + span)
    assert signals.from_percent(percent, low, low + span) == pytest.approx(value, rel=1e-9, abs=1e-9)


def test_a_current_in_the_resistor_it_was_meant_for_is_no_mistake():
    assert signals.entry_gain("4-20 mA", 0, 125, "2-10 V", 0, 125) == pytest.approx(1.0)
    assert signals.entry_gain("4-20 mA", 0, 125, "1-5 V", 0, 125, 250.0) == pytest.approx(1.0)
    assert signals.entry_gain("4-20 mA", 0, 125, "1-5 V", 0, 125, 500.0) == pytest.approx(2.0)
    assert signals.entry_gain("1-5 V", 0, 125, "4-20 mA", 0, 125, 250.0) == pytest.approx(1.0)


def test_a_wrong_resistor_shifts_the_zero_too():
    assert signals.entry_offset("4-20 mA", 0, 125, "2-10 V", 0, 125, 250.0) == pytest.approx(-15.625)


def test_many_entries_at_once_broadcast():
    tops = np.array([100.0, 125.0, 250.0])
    assert signals.entry_gain("4-20 mA", 0, 125, "4-20 mA", 0, tops) == pytest.approx(tops / 125)
    assert signals.shown_value(np.ones((4, 1)), "4-20 mA", 0, 125, "4-20 mA", 0, tops).shape == (4, 3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: signals.entry_gain("4-20", 0, 1, "4-20 mA", 0, 1), "signal must be one of"),
        (lambda: signals.entry_gain("4-20 mA", 1, 1, "4-20 mA", 0, 1), "range_high must be above range_low"),
        (lambda: signals.shown_value(1, "4-20 mA", 0, 1, "4-20 mA", 2, 1), "range_high must be above range_low"),
        (lambda: signals.held_instead(40, 0, 0), "gain must be above 0"),
        (lambda: signals.at_the_input(4, "4-20 mA", "0-10 V", 0), "resistor_ohm must be above 0"),
        (lambda: signals.percent_of_range(4, 5, 5), "range_high must be above range_low"),
        (lambda: signals.from_percent(np.nan, 0, 5), "percent must be a finite number"),
    ],
)
def test_nonsense_is_refused_with_the_name_of_what_is_wrong(call, words):
    with pytest.raises(ValueError, match=f"^{words}"):
        call()
