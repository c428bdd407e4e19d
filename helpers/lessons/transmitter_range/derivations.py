"""What a step of the signal is in pressure, and how a transmitter's errors come together; by hand: a converter's step, four errors."""

from functools import cache

import sympy

from helpers.formulas import signals, uncertainty
from helpers.teaching.derivation import Derivation, Line, Step, WorkedExample

__all__ = ["combined_error", "converter_step", "four_errors", "step_of_converter"]

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


GIVEN_BITS, TOP_MA, RANGE_PA = 12, 20.0, 125.0
GAUGE_BLOCK_NM = {
    "Calibration of the standard": 25.0,
    "Measured difference": 9.7,
    "Thermal expansion": 2.9,
    "Difference of temperatures": 16.6,
}


def converter_step():
    """A 12-bit converter on 0 to 20 mA: the step in µA."""
    step_ma = float(signals.resolution(0.0, TOP_MA, GIVEN_BITS, "0-20 mA"))
    step_pa = float(signals.resolution(0.0, RANGE_PA, GIVEN_BITS, "4-20 mA"))
    given = (
        Line("Converter, bits", "given", GIVEN_BITS, "number", 0),
        Line("Top of the signal [mA]", "given", TOP_MA, "number", 0),
        Line("Range of the transmitter, 0 to", "given; it sends 4-20 mA", RANGE_PA, "pressure", 3),
    )
    working = (
        Line("Steps", "2 to the power of the bits", 2**GIVEN_BITS, "number", 0),
        Line("Steps between 4 and 20 mA", "16/20 of them", 0.8 * 2**GIVEN_BITS, "number", 1),
        Line("One step in pressure", "span / steps between 4 and 20 mA", step_pa, "pressure", 5),
        Line("One step of the signal [µA]", "1000 x top of the signal / steps", 1000 * step_ma, "number", 3),
    )
    return WorkedExample("A step of a 12-bit converter", given, working, 4.883, 0.0005, "definition of an ideal converter", "memory")


def four_errors():
    """The gauge block of the guide: four standard uncertainties, added as squares."""
    parts = list(GAUGE_BLOCK_NM.values())
    together, plain = float(uncertainty.root_sum_square(parts)), float(uncertainty.worst_case(parts))
    given = tuple(Line(f"{name} [nm]", "given", value, "number", 1) for name, value in GAUGE_BLOCK_NM.items())
    working = (
        *(Line(f"{name}, squared [nm²]", f"{value:g} x {value:g}", value**2, "number", 1) for name, value in GAUGE_BLOCK_NM.items()),
        Line("Sum of the squares [nm²]", "add the four", together**2, "number", 1),
        Line("For comparison: the plain sum [nm]", "add the four as they are", plain, "number", 1),
        Line("Root of the sum of squares [nm]", "take the root", together, "number", 0),
    )
    return WorkedExample(
        "Four errors, one figure: the length of a gauge block", given, working, 32.0, 0.5, "JCGM 100:2008 H.1.4", "memory",
        "Nanometres or pascals: the arithmetic is the same. The largest error decides; the smallest could be left out.",
    )  # fmt: skip
