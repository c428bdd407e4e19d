"""The straight line from signal to pressure and back, what a wrong entry makes of it; by hand: 4-20 mA, a resistor, a broken wire."""

from functools import cache

import sympy

from helpers.formulas import signals
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified

__all__ = ["broken_wire", "from_signal", "middle", "resistor", "to_signal", "wrong_entry"]

ENDS = {"signal_low": 4.0, "signal_high": 20.0, "range_low": 0.0, "range_high": 125.0}
SHARE = "span_share = (signal_value - signal_low)/(signal_high - signal_low)"
SENT = "signal_value = signal_low + (signal_high - signal_low)*(value - range_low)/(range_high - range_low)"


@cache
def from_signal():
    """Two points, a line, the pressure."""
    low, high = "range_low = start + slope*signal_low", "range_high = start + slope*signal_high"
    slope = solved("slope", f"range_high - range_low = {high.split('=')[1]} - ({low.split('=')[1]})")
    line = sympified("start + slope*signal_value").subs(sympified("start"), solved("start", low)).subs(sympified("slope"), slope)
    steps = (
        Step("How far up its span is the signal? Nothing at the bottom, one at the top; per cent of span is 100 times it:", SHARE),
        Step("Why a share will do: a straight line has a start and a slope. It goes through bottom and bottom, and through top and top:",
             f"{low}; {high}", folded=True),
        Step("One less the other gives the slope, and so many mA above the bottom give so much pressure above the bottom:",
             "slope = (range_high - range_low)/(signal_high - signal_low)", slope, folded=True),
    )  # fmt: skip
    result = Step("The pressure is the bottom of the range, and that share of its span on top:",
                  "value = range_low + span_share*(range_high - range_low)",
                  line.subs(sympified("signal_value"), solved("signal_value", SHARE)))  # fmt: skip
    return Derivation(
        "From signal to pressure",
        "In words: the same share of the span in signal and in pressure. {signal_value} from a transmitter of {range_low} to {range_high} "
        "is {span_share} of the span, {value}.",
        steps, result, ("signal_value", "signal_low", "signal_high", "range_low", "range_high"), "helpers.formulas.signals.to_units",
        {"signal_value": 9.12, **ENDS},
    )  # fmt: skip


@cache
def to_signal():
    """The same line, solved for the signal."""
    share = "span_share = (value - range_low)/(range_high - range_low)"
    return Derivation(
        "From pressure to signal",
        "In words: the live zero, and on top of it the share of the signal's span. {value} of {range_high} make {signal_value}.",
        (Step("How far up the range is the pressure?", share),),
        Step("The signal stands as far up its own span. Its bottom must be added; forget it, and the live zero is forgotten:",
             "signal_value = signal_low + span_share*(signal_high - signal_low)", solved("signal_value", SHARE)),
        ("value", "signal_low", "signal_high", "range_low", "range_high"), "helpers.formulas.signals.to_signal", {"value": 40.0, **ENDS},
        (Step("So much signal one pascal makes:", "slope__signal = (signal_high - signal_low)/(range_high - range_low)",
              sympy.diff(solved("signal_value", SHARE, share), sympified("value"))),),
    )  # fmt: skip


@cache
def wrong_entry():
    """The instrument's line there, the drive's line back: a gain and an offset, and what the loop holds by it."""
    back = "entered_low + (entered_high - entered_low)*({} - entered_signal_low)/(entered_signal_high - entered_signal_low)"
    display = sympified(back.format("signal_value")).subs(sympified("signal_value"), sympified(SENT.split("=")[1]))
    at_zero = "signal_at_zero = signal_low - (signal_high - signal_low)*range_low/(range_high - range_low)"
    straight = "set_point = offset + gain__entry*value"
    steps = (
        Step("The instrument sends, by its own ends:", SENT, folded=True),
        Step("The drive turns that back, by the ends that were entered (with a prime):", f"shown = {back.format('signal_value')}",
             folded=True),
        Step("The gain, what one pascal moves the display by: entered span divided by the instrument's span, times the signal's span "
             "divided by the entered signal's span:",
             "gain__entry = (entered_high - entered_low)/(range_high - range_low)"
             "*((signal_high - signal_low)/(entered_signal_high - entered_signal_low))",
             sympy.diff(display, sympified("value")), folded=True),
        Step("Where no pressure is, the instrument still sends something,", at_zero, folded=True),
        Step("and what the display makes of that is the offset:", f"offset = {back.format('signal_at_zero')}",
             display.subs(sympified("value"), 0), folded=True),
        Step("The loop knows only the display, which is offset and gain times the true pressure. It rests where the display shows the set "
             "point:", straight),
    )  # fmt: skip
    return Derivation(
        "What a wrong entry holds",
        "In words: take the offset off the set point, and divide by the gain. With {entered_high} entered for the top of a transmitter up "
        "to {range_high}, a set point of {set_point} holds {value}.",
        steps, Step("Solve for the true pressure, what the loop holds instead:", "value = (set_point - offset)/gain__entry",
                    solved("value", straight)),
        ("set_point", "gain__entry", "offset"), "helpers.formulas.signals.held_instead",
        {"set_point": 40.0, **ENDS, "entered_signal_low": 4.0, "entered_signal_high": 20.0, "entered_low": 0.0, "entered_high": 250.0},
        end="A right entry has gain 1 and offset 0: then the loop holds its set point.",
    )  # fmt: skip


GIVEN_SIGNAL, RANGE_PA = "4-20 mA", 125.0
MIDDLE_MA, BOTTOM_MA, BROKEN_MA, RESISTOR_OHM = 12.0, 4.0, 3.6, 500.0
LIVE_ZERO = (
    Row("Bottom of the signal, the live zero [mA]", GIVEN_SIGNAL, BOTTOM_MA, "number", 0, "signal_low"),
    Row("Top of the signal [mA]", GIVEN_SIGNAL, 20.0, "number", 0, "signal_high"),
)


def middle():
    """12 mA on 0 to 125 Pa."""
    percent = float(signals.percent_of_span(MIDDLE_MA, GIVEN_SIGNAL))
    reading = float(signals.to_units(MIDDLE_MA, GIVEN_SIGNAL, 0.0, RANGE_PA))
    given = (
        Row("Current [mA]", "measured at the drive", MIDDLE_MA, "number", 1, "signal_value"),
        Row("Bottom of the range", "plate of the instrument", 0.0, "pressure", name="range_low"),
        Row("Top of the range", "plate of the instrument", RANGE_PA, "pressure", name="range_high"),
        *LIVE_ZERO,
    )
    working = (
        Row("Above the live zero [mA]", "= signal_value - signal_low", MIDDLE_MA - 4, "number", 1),
        Row("Span of the signal [mA]", "= signal_high - signal_low", 16.0, "number", 0),
        Row("Share of the span", "= (signal_value - signal_low)/(signal_high - signal_low)", percent / 100, "number", 2, "span_share"),
        Row("Pressure", "= range_low + span_share*(range_high - range_low)", reading, "pressure", (1, 3), "value"),
        Row("The same in per cent of span", "= 100*span_share", percent, "percent", 0),
    )
    return WorkedExample("12 mA, in per cent and in pressure", given, working, 50.0, 0.5, "IEC 60381-1", "from memory, not verified")


def resistor():
    """4 mA through 500 ohm."""
    volts = float(signals.volts_from_milliamps(BOTTOM_MA, RESISTOR_OHM))
    given = (
        Row("Current [mA]", "given", BOTTOM_MA, "number", 1, "signal_value"),
        Row("Resistor across the input [Ω]", "given", RESISTOR_OHM, "number", 0, "resistor_ohm"),
    )
    working = (
        Row("Current [A]", "= signal_value/1000", BOTTOM_MA / 1000, "number", 3),
        Row("Voltage at the bottom of the signal [V]", "= resistor_ohm*signal_value/1000", volts, "number", 1),
    )
    return WorkedExample("A current turned into a voltage", given, working, 2.0, 0.05, "IEC 60381-1 and -2", "from memory, not verified",
                         "So 4-20 mA across 500 Ω is 2-10 V and not 0-10 V: the live zero comes along.")  # fmt: skip


def broken_wire():
    """3.6 mA: below what any pressure makes."""
    percent = float(signals.percent_of_span(BROKEN_MA, GIVEN_SIGNAL))
    given = (Row("Current [mA]", "measured at the drive", BROKEN_MA, "number", 1, "signal_value"), *LIVE_ZERO)
    working = (
        Row("Above the live zero [mA]", "= signal_value - signal_low", BROKEN_MA - 4, "number", 1),
        Row("In per cent of span", "= 100*(signal_value - signal_low)/(signal_high - signal_low)", percent, "percent", 1),
    )
    return WorkedExample(
        "Not a pressure but a failure", given, working, -2.5, 0.05, "NAMUR NE 43: failed at or below 3.6 mA", "checked in public text"
    )
