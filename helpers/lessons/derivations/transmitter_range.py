"""What a step of the signal is in pressure, and how a transmitter's errors come together."""

from functools import cache

import sympy

from helpers.lessons.derivation import Derivation, Step

__all__ = ["combined_error", "step_of_converter"]

SIGNAL, BOTTOM, TOP = sympy.symbols("signal signal_low signal_high", real=True)
LOW, HIGH = sympy.symbols("range_low range_high", real=True)
BITS = sympy.Symbol("bits", positive=True)


def _two_points():
    """The line through bottom and top, solved for the pressure."""
    dp, slope, start = sympy.symbols("dp slope start", real=True)
    line = sympy.Eq(dp, start + slope * SIGNAL)
    ends = [line.subs({SIGNAL: BOTTOM, dp: LOW}), line.subs({SIGNAL: TOP, dp: HIGH})]
    found = sympy.solve(ends, (slope, start), dict=True)[0]
    return line, ends, sympy.simplify(line.rhs.subs(found))


@cache
def step_of_converter():
    """The line of a transmitter, its slope by diff, and one step of a converter along it."""
    line, ends, reading = _two_points()
    slope = sympy.simplify(sympy.diff(reading, SIGNAL))
    step = TOP / 2**BITS
    result = sympy.simplify(slope * step)
    steps = (
        Step("A transmitter turns pressure into a signal along a straight line:", line),
        Step("At the bottom of the range it sends the bottom of the signal:", ends[0]),
        Step("and at the top the top:", ends[1]),
        Step("Solve the two for slope and start, and put them in:", reading),
        Step("How much pressure is one unit of signal? The slope. On top stands the span (top less bottom), not the top:", slope),
        Step("A converter cuts the signal from nothing to its top into so many steps of one size:", step),
        Step(
            "So one step, in pressure. A live zero (4 mA of 20) costs a fifth of the steps; a wide span makes each of them coarser:", result
        ),
    )
    symbols = (LOW, HIGH, BITS, BOTTOM, TOP)
    return Derivation("A step of the signal, in pressure", steps, result, symbols, "helpers.formulas.signals.resolution")


@cache
def combined_error():
    """A wrong gain, a shifted zero and a rounded signal: what each does by diff, then the root of the sum of squares."""
    share, gain, zero, rounding = sympy.symbols("share g z q", real=True)
    span = sympy.Symbol("span", positive=True)
    u_gain, u_zero, u_rounding = sympy.symbols("u_gain u_zero u_rounding", nonnegative=True)
    reading = LOW + span * (share * (1 + gain) + zero + rounding)
    each = [sympy.diff(reading, part) for part in (gain, zero, rounding)]
    contributions = [sensitivity * u for sensitivity, u in zip(each, (u_gain, u_zero, u_rounding), strict=True)]
    named = sympy.symbols("u_1 u_2 u_3", nonnegative=True)
    squares = sympy.sqrt(sum(part**2 for part in named))
    together = squares.subs(dict(zip(named, contributions, strict=True)))
    shown = sympy.sqrt(sum(part**2 for part in contributions))
    one = sympy.simplify(together.subs({share: 1, u_zero: u_gain, u_rounding: 0}) / (span * u_gain))
    steps = (
        Step("A reading with three small faults: a gain off by g, a zero shifted by z, rounding q (shares of the span):", reading),
        Step('What one unit of a wrong gain does: it grows with the reading above the bottom. An error "of reading":', each[0]),
        Step('What one unit of a shifted zero does: the same everywhere. An error "of span":', each[1]),
        Step("Times how far each may be off. The three contributions, in pressure:", sympy.Tuple(*contributions)),
        Step("Independent errors seldom go the same way at once. Their squares add, not they themselves:", shown),
        Step("Two alike, at the top of the range, in shares of one: not 2 but", one),
        Step("With a name for each contribution:", squares),
    )
    return Derivation("How errors come together", steps, squares, named, "helpers.formulas.uncertainty.root_sum_square")
