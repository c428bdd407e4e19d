"""Lesson 09, low-demand stop and sleep thresholds: the parts of its page."""

from helpers import units
from helpers.formulas import low_demand
from helpers.lessons.derivations import low_demand_stop as derivations
from helpers.lessons.exercises.low_demand_stop import MAKERS
from helpers.lessons.predictions import low_demand_stop as predictions
from helpers.lessons.worked.low_demand_stop import motor_starts
from helpers.panels.lessons.low_demand_stop_panel import low_demand_panel
from helpers.panels.lessons.page import LessonParts
from helpers.panels.reading import WorkedCard
from helpers.studies import low_demand_judged as judged

__all__ = ["compare", "derivation", "exercises", "panel", "predict", "senior_card", "worked_example"]

KEY = "low_demand_stop"


def panel():
    """The live panel."""
    return low_demand_panel()


def derivation(name="shutoff_speed"):
    """One of "shutoff_speed", "cycles" and "most_cycles"."""
    return getattr(derivations, name)()


def worked_example():
    """Starts an hour that a motor bears, by hand."""
    return WorkedCard(motor_starts())


def _lines(system):
    own, hasty = (judged.judge(0.0, rule) for rule in (judged.own_rule(), predictions.HASTY))
    leaky = judged.judge(predictions.LEAKY, judged.own_rule())
    low, high = low_demand.threshold_window(*own.ends_hz, judged.MARGIN_HZ)
    idle, duty, margin, alone = map(judged.hertz, (*own.ends_hz, judged.MARGIN_HZ, judged.shutoff_hz()))
    set_point, wait = units.show(own.set_point_pa, "pressure", system), judged.minutes(own.rule.restart_after_s)
    often, seldom, most = hasty.starts_per_hour, own.starts_per_hour, own.allowed.per_hour
    return (
        f"Threshold between idle speed ({idle}) and lowest duty ({duty}), {margin} kept to both: {low:.1f} to {high:.1f} Hz.",
        f"Without flow the fan only just reaches {set_point} at {alone}: full speed times the root of set point over shut-off pressure.",
        f"The waits set the starts: short ones {often:.0f} an hour, long ones {seldom:.1f}; the motor bears {most:.0f} across the line, if "
        "the drive is ever by-passed.",
        f"It saves {own.saved_kwh:.0f} kWh a year ({leaky.saved_kwh:.0f} with a tenth of each box open); the morning may wait {wait}. "
        "Efficiencies are constant here, so power at small flow comes out too low: measure.",
        "In smoke control no energy function stops the fan, at no threshold. A stopped fan cannot tell whether air is wanted: a clock or a "
        "contact can.",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
