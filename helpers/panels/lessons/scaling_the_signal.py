"""Lesson 04, scaling the signal: the parts of its page."""

from helpers import units
from helpers.formulas import scaling, signals
from helpers.lessons.derivations import scaling_the_signal as derivations
from helpers.lessons.exercises.scaling_the_signal import MAKERS
from helpers.lessons.predictions import scaling_the_signal as predictions
from helpers.lessons.worked import scaling_the_signal as worked
from helpers.panels.lessons.page import LessonParts
from helpers.panels.lessons.scaling_the_signal_panel import scaling_panel
from helpers.panels.reading import WorkedCard
from helpers.studies.entered_scaling import WIRE_OFF, EnteredScaling
from helpers.studies.figures import fine, range_text
from helpers.studies.runaway_prices import LIMIT_N

__all__ = ["back_again", "compare", "derivation", "exercises", "panel", "predict", "senior_card", "worked_example", "wrong_entry"]

KEY = "scaling_the_signal"
WRONG_TOP_PA = 250.0  # for the card


def panel():
    """The live panel."""
    return scaling_panel()


def derivation():
    """From signal to pressure."""
    return derivations.from_signal()


def back_again():
    """From pressure to signal."""
    return derivations.to_signal()


def wrong_entry():
    """What a wrong entry holds."""
    return derivations.wrong_entry()


def worked_example(name="middle"):
    """By hand: "middle", "resistor" or "broken_wire"."""
    return WorkedCard(getattr(worked, name)())


def _lines(system):
    own, top = EnteredScaling(), EnteredScaling(entered_high_pa=WRONG_TOP_PA)
    zero, volts = EnteredScaling(entered_signal="0-20 mA"), EnteredScaling(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF)
    point, half, less, offset = (fine(value, system) for value in (own.set_point_pa, top.held.true_pa, zero.held.true_pa, zero.offset_pa))
    ranges = [range_text(0.0, high, "pressure", system) for high in (own.high_pa, WRONG_TOP_PA)]
    force, limit = (units.show(value, "force", system) for value in (volts.held.force_n, LIMIT_N))
    percent = float(scaling.percent_of_range(own.set_point_pa, own.low_pa, own.high_pa))
    again = fine(float(scaling.from_percent(percent, 0.0, WRONG_TOP_PA)), system)
    broken = signals.FAILED_LOW_PERCENT
    return (
        f"A wrong entry is a straight line: gain and offset. {ranges[1]} entered for {ranges[0]}: set to {point}, the loop holds {half}.",
        f"4-20 mA taken for 0-20 mA: {offset} shown where nothing is, and {less} held for {point}. Check zero and one point above.",
        f"Live zero tells a broken wire: {broken:g} % of span and below counts as failed (NAMUR NE 43 for 4-20 mA; others carried over).",
        f"With a true zero the broken wire is a reading: averaged in, the fan ends {volts.held.state}, {force} at a door, {limit} allowed.",
        f"Set points in per cent move with the range: {percent:.0f} % of {ranges[0]} is {point}, of {ranges[1]} {again}. (Steady air.)",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
