"""The straight line from signal to pressure and back, what a wrong entry makes of it; by hand: 4-20 mA, a resistor, a broken wire."""

from functools import cache

import sympy

from helpers.formulas import signals
from helpers.teaching.derivation import Derivation, Line, Step, WorkedExample, in_form

__all__ = ["broken_wire", "from_signal", "middle", "resistor", "to_signal", "wrong_entry"]

SIGNAL, BOTTOM, TOP = sympy.symbols("signal_value signal_low signal_high", real=True)
LOW, HIGH, VALUE = sympy.symbols("range_low range_high value", real=True)
E_BOTTOM, E_TOP, E_LOW, E_HIGH = sympy.symbols("entered_signal_low entered_signal_high entered_low entered_high", real=True)
SET_POINT, GAIN, OFFSET, AT_ZERO = sympy.symbols("set_point gain offset signal_at_zero", real=True)


def _line(signal, bottom, top, low, high):
    """The line through (bottom, low) and (top, high), and the two equations it was solved from."""
    slope, start = sympy.symbols("slope start", real=True)
    ends = [sympy.Eq(low, start + slope * bottom), sympy.Eq(high, start + slope * top)]
    found = sympy.solve(ends, (slope, start), dict=True)[0]
    share = (signal - bottom) / (top - bottom)
    return ends, in_form(found[start] + found[slope] * signal, low + (high - low) * share)


@cache
def from_signal():
    """Two points, a line, the pressure."""
    ends, result = _line(SIGNAL, BOTTOM, TOP, LOW, HIGH)
    share = sympy.simplify((result - LOW) / (HIGH - LOW))
    steps = (
        Step("The bottom of the signal stands for the bottom of the range (4 mA for 0 Pa):", ends[0]),
        Step("The top stands for the top:", ends[1]),
        Step(
            "Solve for slope and start. What comes out has a share in it, nothing at the bottom and one at the top. Per cent of span is "
            "100 times it:",
            share,
        ),
        Step("The pressure is the bottom of the range, and that share of the span on top of it:", result),
    )
    symbols = (SIGNAL, BOTTOM, TOP, LOW, HIGH)
    return Derivation("From signal to pressure", steps, result, symbols, "helpers.formulas.signals.to_units")


@cache
def to_signal():
    """The same line, solved for the signal."""
    reads = sympy.Eq(VALUE, from_signal().result)
    (found,) = sympy.solve(reads, SIGNAL)
    result = in_form(found, BOTTOM + (TOP - BOTTOM) * (VALUE - LOW) / (HIGH - LOW))
    slope = sympy.factor(sympy.diff(result, VALUE))
    steps = (
        Step("Start from the same line:", reads),
        Step(
            "Solve it for the signal. The bottom of the signal must be added; forget it, and the live zero is forgotten:",
            sympy.Eq(SIGNAL, result),
        ),
        Step("How much signal one pascal makes:", slope),
    )
    symbols = (VALUE, BOTTOM, TOP, LOW, HIGH)
    return Derivation("From pressure to signal", steps, result, symbols, "helpers.formulas.signals.to_signal")


@cache
def wrong_entry():
    """The instrument's line there, the drive's line back: a gain and an offset, and what the loop holds by it."""
    sent = to_signal().result
    _, entered = _line(SIGNAL, E_BOTTOM, E_TOP, E_LOW, E_HIGH)
    shown = entered.subs(SIGNAL, sent)
    gain = sympy.factor(sympy.diff(shown, VALUE))
    bend = sympy.simplify(sympy.diff(shown, VALUE, 2))
    at_zero = BOTTOM - (TOP - BOTTOM) * LOW / (HIGH - LOW)  # the signal where nothing is
    named = entered.subs(SIGNAL, AT_ZERO)
    offset = in_form(shown.subs(VALUE, 0), named.subs(AT_ZERO, at_zero))
    straight = sympy.Eq(SET_POINT, OFFSET + GAIN * VALUE)
    (result,) = sympy.solve(straight, VALUE)
    right = {E_BOTTOM: BOTTOM, E_TOP: TOP, E_LOW: LOW, E_HIGH: HIGH}
    checked = sympy.Tuple(sympy.simplify(gain.subs(right)), sympy.simplify(offset.subs(right)))
    steps = (
        Step("The instrument sends, by its own ends, a signal for the true value:", sympy.Eq(SIGNAL, sent)),
        Step(
            "The drive turns that back, by the ends that were entered. Differentiate: the display moves by so much for one pascal, the "
            "gain:",
            gain,
        ),
        Step("Differentiate once more. Nothing is left, so the display is a straight line of the true value, however wrong:", bend),
        Step("Where no pressure is, the instrument still sends something:", sympy.Eq(AT_ZERO, at_zero)),
        Step("What the display makes of that is the offset:", sympy.Eq(OFFSET, named)),
        Step("Gain and offset of a right entry, for a check:", checked),
        Step("The loop knows only the display. It rests where the display shows the set point:", straight),
        Step("Solve for the true value: what the loop holds instead.", sympy.Eq(VALUE, result)),
    )
    return Derivation("What a wrong entry holds", steps, result, (SET_POINT, GAIN, OFFSET), "helpers.formulas.signals.held_instead")


def gain_and_offset():
    """Gain and offset of a wrong entry as functions of (signal_low, signal_high, range_low, range_high) and the same entered."""
    sent = to_signal().result
    _, entered = _line(SIGNAL, E_BOTTOM, E_TOP, E_LOW, E_HIGH)
    shown = entered.subs(SIGNAL, sent)
    symbols = (BOTTOM, TOP, LOW, HIGH, E_BOTTOM, E_TOP, E_LOW, E_HIGH)
    return [sympy.lambdify(symbols, part, "numpy") for part in (sympy.diff(shown, VALUE), shown.subs(VALUE, 0))]


GIVEN_SIGNAL, RANGE_PA = "4-20 mA", 125.0
MIDDLE_MA, BOTTOM_MA, BROKEN_MA, RESISTOR_OHM = 12.0, 4.0, 3.6, 500.0


def middle():
    """12 mA on 0 to 125 Pa."""
    percent = float(signals.percent_of_span(MIDDLE_MA, GIVEN_SIGNAL))
    reading = float(signals.to_units(MIDDLE_MA, GIVEN_SIGNAL, 0.0, RANGE_PA))
    given = (
        Line("Current [mA]", "measured at the drive", MIDDLE_MA, "number", 1),
        Line("Range, 0 to", "plate of the instrument", RANGE_PA, "pressure"),
    )
    working = (
        Line("Live zero [mA]", "the signal's bottom", 4.0, "number", 0),
        Line("Span of the signal [mA]", "20 - 4", 16.0, "number", 0),
        Line("Above the live zero [mA]", "current - 4", MIDDLE_MA - 4, "number", 1),
        Line("Pressure", "0 + above the live zero / 16 x span of the range", reading, "pressure", 3),
        Line("The same in per cent of span", "above the live zero / 16 x 100", percent, "percent", 0),
    )
    return WorkedExample("12 mA, in per cent and in pressure", given, working, 50.0, 0.5, "IEC 60381-1", "memory")


def resistor():
    """4 mA through 500 ohm."""
    volts = float(signals.volts_from_milliamps(BOTTOM_MA, RESISTOR_OHM))
    given = (
        Line("Current [mA]", "given", BOTTOM_MA, "number", 1),
        Line("Resistor across the input [Ω]", "given", RESISTOR_OHM, "number", 0),
    )
    working = (
        Line("Current [A]", "milliamps / 1000", BOTTOM_MA / 1000, "number", 3),
        Line("Voltage at the bottom of the signal [V]", "current x resistor", volts, "number", 1),
    )
    return WorkedExample("A current turned into a voltage", given, working, 2.0, 0.05, "IEC 60381-1 and -2", "memory",
                         "So 4-20 mA across 500 Ω is 2-10 V and not 0-10 V: the live zero comes along.")  # fmt: skip


def broken_wire():
    """3.6 mA: below what any pressure makes."""
    percent = float(signals.percent_of_span(BROKEN_MA, GIVEN_SIGNAL))
    given = (Line("Current [mA]", "measured at the drive", BROKEN_MA, "number", 1),)
    working = (
        Line("Above the live zero [mA]", "current - 4", BROKEN_MA - 4, "number", 1),
        Line("In per cent of span", "above the live zero / 16 x 100", percent, "percent", 1),
    )
    return WorkedExample(
        "Not a pressure but a failure", given, working, -2.5, 0.05, "NAMUR NE 43: failed at or below 3.6 mA", "seen in public text"
    )
