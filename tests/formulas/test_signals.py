"""Signals: to units and back, failure bands, converter steps, accuracy, resistor and filter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import signals

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
kinds = st.sampled_from(tuple(signals.SIGNALS))
lows, spans, shares = st.floats(-500, 500), st.floats(0.1, 2000), st.floats(-0.2, 1.2)


@EXAMPLES
@given(kind=kinds, low=lows, span=spans, share=shares)
def test_units_and_signal_undo_each_other_on_one_and_two_sided_ranges(kind, low, span, share):
    value = low + share * span
    sent = signals.to_signal(value, kind, low, low + span, clamp=False)
    assert signals.to_units(sent, kind, low, low + span) == pytest.approx(value, abs=1e-9 * (abs(low) + span))
    assert signals.percent_of_span(sent, kind) == pytest.approx(100 * share, abs=1e-6)


@EXAMPLES
@given(kind=kinds, low=lows, span=spans, share=shares)
def test_a_clamped_transmitter_says_no_more_than_its_ends(kind, low, span, share):
    start, end, _ = signals.SIGNALS[kind]
    sent = signals.to_signal(low + share * span, kind, low, low + span)
    assert start <= sent <= end
    assert sent == pytest.approx(np.clip(start + share * (end - start), start, end), abs=1e-6)


def test_ten_volts_on_a_two_sided_range_are_its_two_ends():
    assert signals.to_units([0.0, 5.0, 10.0], "0-10 V", -1, 1).tolist() == [-1.0, 0.0, 1.0]


def test_the_wrong_signal_type_shows_a_fan_at_rest_a_fifth_of_the_range():
    assert signals.to_units(4.0, "0-20 mA", 0, 100) == pytest.approx(20.0)
    assert signals.to_units(2.0, "0-10 V", 0, 100) == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("milliamps", "word"),
    [
        (0.0, "failed low"),
        (3.6, "failed low"),
        (3.61, "below range"),
        (3.79, "below range"),
        (3.8, "ok"),
        (4.0, "ok"),
        (20.5, "ok"),
        (20.51, "above range"),
        (20.99, "above range"),
        (21.0, "failed high"),
        (24.0, "failed high"),
    ],
)
def test_the_bands_of_a_live_zero_include_their_limits(milliamps, word):
    assert signals.STATUSES[signals.status(milliamps, "4-20 mA")] == word


@pytest.mark.parametrize("ohm", [250.0, 500.0])
def test_the_bands_go_through_the_resistor_unchanged(ohm):
    milliamps = np.array([0.0, 3.6, 3.7, 3.8, 12.0, 20.5, 20.8, 21.0])
    kind = {250.0: "1-5 V", 500.0: "2-10 V"}[ohm]
    volts = signals.volts_from_milliamps(milliamps, ohm)
    assert signals.status(volts, kind).tolist() == signals.status(milliamps, "4-20 mA").tolist()


@pytest.mark.parametrize("kind", signals.SIGNALS)
def test_a_dead_wire_is_told_from_zero_only_where_the_zero_is_live(kind):
    assert signals.good(0.0, kind) == (not signals.live_zero(kind))


def test_a_reading_just_over_range_still_counts_and_a_failed_one_does_not():
    assert signals.good([3.5, 3.7, 12.0, 20.8, 21.5], "4-20 mA").tolist() == [False, True, True, True, False]


def test_a_live_zero_wastes_a_fifth_of_the_steps():
    whole, live = (signals.resolution(0, 100, 12, kind) for kind in ("0-20 mA", "4-20 mA"))
    assert live == pytest.approx(whole * 20 / 16)
    assert signals.resolution(0, 100, 12, "2-10 V") == pytest.approx(live)


def test_a_wide_range_costs_accuracy_at_the_same_percentage():
    assert signals.accuracy(0, 500, percent_of_span=1) == 10 * signals.accuracy(0, 50, percent_of_span=1)
    assert signals.accuracy(-125, 125, 0.5, reading=[-50, 0, 50], percent_of_reading=1).tolist() == [1.75, 1.25, 1.75]


@EXAMPLES
@given(volts=st.floats(0, 10), ohm=st.floats(10, 1000))
def test_volts_and_milliamps_undo_each_other(volts, ohm):
    assert signals.volts_from_milliamps(signals.milliamps_from_volts(volts, ohm), ohm) == pytest.approx(volts)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: signals.to_units(1.0, "4-20", 0, 1), "signal must be one of 0-10 V, .*; got '4-20'"),
        (lambda: signals.to_units(1.0, "0-10 V", 1, 1), "range_high must be above range_low, got 1 to 1"),
        (lambda: signals.to_signal(1.0, "0-10 V", [0, 5], [1, -5]), "range_high must be above range_low, got 5 to -5"),
        (lambda: signals.status(np.nan, "4-20 mA"), "signal_value must be a finite number, got nan"),
        (lambda: signals.to_signal(np.inf, "0-10 V", 0, 1), "value must be a finite number"),
        (lambda: signals.resolution(0, 1, 0, "0-10 V"), "bits must be from 1 to 32, got 0"),
        (lambda: signals.resolution(0, 1, 12.5, "0-10 V"), "bits must be a whole number, got 12.5"),
        (lambda: signals.accuracy(0, 1, percent_of_span=-1), "percent_of_span must be 0 or more"),
        (lambda: signals.accuracy(0, 1, percent_of_reading=1), "reading must be given where percent_of_reading is above 0"),
        (lambda: signals.volts_from_milliamps(4.0, 0.0), "resistor_ohm must be above 0"),
        (lambda: signals.milliamps_from_volts(4.0, -1.0), "resistor_ohm must be above 0"),
        (lambda: signals.live_zero("pulse"), "signal must be one of"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
