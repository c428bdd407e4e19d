"""What a step of the signal is in pressure, and how a transmitter's errors come together; by hand: a converter's step, four errors."""

from functools import cache

import sympy

from helpers.formulas import signals, uncertainty
from helpers.model.site.criteria import KNOWN
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified

__all__ = ["combined_error", "converter_step", "four_errors", "step_of_converter"]


@cache
def step_of_converter():
    """The line of a transmitter, its slope by diff, and one step of a converter along it."""
    line = "(value - range_low)/(range_high - range_low) = (signal_value - signal_low)/(signal_high - signal_low)"
    slope = sympy.diff(solved("value", line), sympified("signal_value"))
    step = "signal_step = signal_high/2**bits"
    steps = (
        Step("A transmitter is a straight line: the same share of the span in pressure and in signal.", line),
        Step("So this is what one mA is worth in pressure. Above the line stand spans, top less bottom, not the tops:",
             "slope = (range_high - range_low)/(signal_high - signal_low)", slope),
        Step("An A/D converter of n bits cuts the signal, from zero to its top, into two to the power of n steps:", step),
    )  # fmt: skip
    result = Step(
        "One step in pressure is one step of the signal times what it is worth. A live zero (4 mA of 20) costs a fifth of the steps, a "
        "wide span makes each of them coarser:", "step_pa = (range_high - range_low)/2**bits*(signal_high/(signal_high - signal_low))",
        solved("step_pa", "step_pa = slope*signal_step", step).subs(sympified("slope"), slope),
    )  # fmt: skip
    return Derivation(
        "A step of the signal, in pressure",
        "In words: the span, cut into as many steps as the A/D converter has left for it. On a range up to {range_high} one of {bits} "
        "bits tells pressures apart that differ by {step_pa}.",
        steps, result, ("range_low", "range_high", "bits", "signal_low", "signal_high"), "helpers.formulas.signals.resolution",
        {"range_low": 0.0, "range_high": 125.0, "bits": 12, "signal_low": 4.0, "signal_high": 20.0},
    )  # fmt: skip


@cache
def combined_error():
    """A wrong gain, a shifted zero and a rounded signal: what each does by diff, then the root of the sum of squares."""
    reading = "value = range_low + span_pa*(span_share*(1 + gain_error) + zero_error + rounding)"
    right = sympified(reading.split("=")[1])
    first, second, third = (sympy.diff(right, sympified(part)) * sympified(off) for part, off in (
        ("gain_error", "u_gain"), ("zero_error", "u_zero"), ("rounding", "u_rounding")))  # fmt: skip
    steps = (
        Step("A reading with three small faults: a slope (gain) off by g, a zero shifted by z, rounding q, all as shares of the "
             "span:", reading),
        Step('A wrong gain moves the reading the more, the higher it is. An error "of reading":', "u_1 = span_pa*span_share*u_gain", first),
        Step('A shifted zero and rounding move it by the same everywhere. Errors "of span":',
             "u_2 = span_pa*u_zero; u_3 = span_pa*u_rounding", sympy.Tuple(second, third)),
    )  # fmt: skip
    return Derivation(
        "How errors come together",
        "In words: square each error, add the squares, take the root. Errors of {u_1}, {u_2} and {u_3} make {u_all} together.",
        steps,
        Step("Independent errors seldom go the same way at once. Their squares add, not they themselves:",
             "u_all = sqrt(u_1**2 + u_2**2 + u_3**2)"),
        ("u_1", "u_2", "u_3"), "helpers.formulas.uncertainty.root_sum_square",
        {"range_low": 0.0, "span_pa": 125.0, "span_share": 0.4, "u_gain": 0.005, "u_zero": 0.005, "u_rounding": 0.00015},
        end=f"Two alike make not 2 but √2 = {float(uncertainty.root_sum_square([1.0, 1.0])):.2f} times the one.",
    )  # fmt: skip


GIVEN_BITS, BOTTOM_MA, TOP_MA, RANGE_PA = 12, 4.0, 20.0, 125.0
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
        Row("A/D converter, bits", "given", GIVEN_BITS, "number", 0, "bits"),
        Row("Top of the signal [mA]", "given", TOP_MA, "number", 0, "signal_high"),
        Row("Live zero [mA]", "given", BOTTOM_MA, "number", 0, "signal_low"),
        Row("Bottom of the range", "given", 0.0, "pressure", 3, "range_low"),
        Row("Top of the range", "given", RANGE_PA, "pressure", 3, "range_high"),
    )
    working = (
        Row("Steps", "= 2**bits", 2**GIVEN_BITS, "number", 0),
        Row("Steps between 4 and 20 mA", "= (signal_high - signal_low)/signal_high*2**bits", 0.8 * 2**GIVEN_BITS, "number", 1),
        Row("One step in pressure", "= (range_high - range_low)/2**bits*(signal_high/(signal_high - signal_low))", step_pa, "pressure", 5,
             "step_pa"),
        Row("One step of the signal [µA], 1000 to a mA", "= 1000*signal_high/2**bits", 1000 * step_ma, "number", 3, "signal_step"),
    )  # fmt: skip
    return WorkedExample(
        "A step of a 12-bit A/D converter",
        given,
        working,
        4.883,
        0.0005,
        "definition of an ideal A/D converter",
        "from memory, not verified",
    )


def four_errors():
    """The gauge block of the guide: four standard uncertainties, added as squares."""
    parts = list(GAUGE_BLOCK_NM.values())
    together, plain = float(uncertainty.root_sum_square(parts)), float(uncertainty.worst_case(parts))
    given = tuple(Row(f"{name} [nm]", "given", value, "number", 1) for name, value in GAUGE_BLOCK_NM.items())
    working = (
        *(Row(f"{name}, squared [nm²]", f"{value:g}²", value**2, "number", 1) for name, value in GAUGE_BLOCK_NM.items()),
        Row("Sum of the squares [nm²]", "add the four", together**2, "number", 1),
        Row("For comparison: the plain sum [nm]", "add the four as they are", plain, "number", 1),
        Row("Root of the sum of squares [nm]", "take the root", together, "number", 0),
    )
    return WorkedExample(
        "Four errors, one figure: the length of a gauge block", given, working, 32.0, 0.5, "JCGM 100:2008 H.1.4",
        KNOWN["reviewed"],
        "Nanometres or pascals: the arithmetic is the same. The largest error decides; the smallest could be left out.",
    )  # fmt: skip
