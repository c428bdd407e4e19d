"""By hand: one step of a converter on a range, and four errors brought together."""

from helpers.formulas import signals, uncertainty
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["converter_step", "four_errors"]

BITS, TOP_MA, RANGE_PA = 12, 20.0, 125.0
GAUGE_BLOCK_NM = {
    "Calibration of the standard": 25.0,
    "Measured difference": 9.7,
    "Thermal expansion": 2.9,
    "Difference of temperatures": 16.6,
}


def converter_step():
    """A 12-bit converter on 0 to 20 mA: the step in µA."""
    step_ma = float(signals.resolution(0.0, TOP_MA, BITS, "0-20 mA"))
    step_pa = float(signals.resolution(0.0, RANGE_PA, BITS, "4-20 mA"))
    given = (
        Line("Converter, bits", "given", BITS, "number", 0),
        Line("Top of the signal [mA]", "given", TOP_MA, "number", 0),
        Line("Range of the transmitter, 0 to", "given; it sends 4-20 mA", RANGE_PA, "pressure", 3),
    )
    working = (
        Line("Steps", "2 to the power of the bits", 2**BITS, "number", 0),
        Line("Steps between 4 and 20 mA", "16/20 of them", 0.8 * 2**BITS, "number", 1),
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
