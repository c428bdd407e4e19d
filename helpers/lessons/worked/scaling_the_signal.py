"""By hand: the middle of 4-20 mA, a current in a resistor, and a wire that is no longer one."""

from helpers.formulas import signals
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["broken_wire", "middle", "resistor"]

SIGNAL, RANGE_PA = "4-20 mA", 125.0
MIDDLE_MA, BOTTOM_MA, BROKEN_MA, RESISTOR_OHM = 12.0, 4.0, 3.6, 500.0


def middle():
    """12 mA on 0 to 125 Pa."""
    percent = float(signals.percent_of_span(MIDDLE_MA, SIGNAL))
    reading = float(signals.to_units(MIDDLE_MA, SIGNAL, 0.0, RANGE_PA))
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
    percent = float(signals.percent_of_span(BROKEN_MA, SIGNAL))
    given = (Line("Current [mA]", "measured at the drive", BROKEN_MA, "number", 1),)
    working = (
        Line("Above the live zero [mA]", "current - 4", BROKEN_MA - 4, "number", 1),
        Line("In per cent of span", "above the live zero / 16 x 100", percent, "percent", 1),
    )
    return WorkedExample(
        "Not a pressure but a failure", given, working, -2.5, 0.05, "NAMUR NE 43: failed at or below 3.6 mA", "seen in public text"
    )
