"""The straight line from signal to pressure and back, and the line that a wrong entry makes of it."""

from functools import cache

import sympy

from helpers.lessons.derivation import Derivation, Step
from helpers.lessons.written import in_form

__all__ = ["from_signal", "to_signal", "wrong_entry"]

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
    return Derivation("What a wrong entry holds", steps, result, (SET_POINT, GAIN, OFFSET), "helpers.formulas.scaling.held_instead")


def gain_and_offset():
    """Gain and offset of a wrong entry as functions of (signal_low, signal_high, range_low, range_high) and the same entered."""
    sent = to_signal().result
    _, entered = _line(SIGNAL, E_BOTTOM, E_TOP, E_LOW, E_HIGH)
    shown = entered.subs(SIGNAL, sent)
    symbols = (BOTTOM, TOP, LOW, HIGH, E_BOTTOM, E_TOP, E_LOW, E_HIGH)
    return [sympy.lambdify(symbols, part, "numpy") for part in (sympy.diff(shown, VALUE), shown.subs(VALUE, 0))]
