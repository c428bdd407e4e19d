"""Lesson 03, the transmitter's range: the parts of its page."""

from helpers import units
from helpers.lessons.derivations import transmitter_range as derivations
from helpers.lessons.exercises.transmitter_range import MAKERS
from helpers.lessons.predictions import transmitter_range as predictions
from helpers.lessons.worked import transmitter_range as worked
from helpers.panels.lessons.page import LessonParts
from helpers.panels.lessons.transmitter_range_panel import range_panel
from helpers.panels.reading import WorkedCard
from helpers.studies.figures import fine, range_text
from helpers.studies.range_fit import SUM, RangeFit
from helpers.studies.steady_loop import QUAYSIDE
from helpers.studies.transmitter_range import LEAST_SET_POINT_PERCENT, MOST_SET_POINT_PERCENT

__all__ = ["compare", "derivation", "exercises", "panel", "predict", "senior_card", "together", "worked_example"]

KEY = "transmitter_range"
WIDE_PA = 500.0  # for the card


def panel():
    """The live panel."""
    return range_panel()


def derivation():
    """A step of the signal, in pressure."""
    return derivations.step_of_converter()


def together():
    """How errors come together."""
    return derivations.combined_error()


def worked_example(name="converter_step"):
    """By hand: "converter_step" or "four_errors"."""
    return WorkedCard(getattr(worked, name)())


def _lines(system):
    own = RangeFit()
    wide, plain = RangeFit(high_pa=WIDE_PA), RangeFit(adding=SUM)
    blind = RangeFit(site=QUAYSIDE, low_pa=0.0, high_pa=25.0, set_point_pa=5.0)
    error, most, by_sum = (fine(fit.error_pa, system) for fit in (own, wide, plain))
    peak, shown, true = (units.show(value, "pressure", system, *digits) for value, *digits in (
        (own.peak_pa,), (blind.held.shown_pa, _digit(system)), (blind.held.true_pa, _digit(system))))  # fmt: skip
    ranges = [range_text(0.0, top, "pressure", system) for top in (own.high_pa, WIDE_PA)]
    return (
        f"{own.site}: {ranges[0]}. Its error at the set point is ±{error}, with {ranges[1]} ±{most}: span is paid for all the time.",
        f"It must reach the peak, {peak} as the doors shut at full speed in the first minute, the stair as warm as the rooms; "
        f"the set point between {LEAST_SET_POINT_PERCENT:.0f} and {MOST_SET_POINT_PERCENT:.0f} % of the span (common practice).",
        f"Beyond an end the loop is blind and holds something else: {blind.site} with a range from zero shows {shown} where {true} is.",
        f"Errors by root of squares ±{error}, by plain sum ±{by_sum}. State which; the sum for a limit that protects life.",
        "Steady air and the worst weather of the site file: no gusts, no bang of a slammed door. Drift is from the last zero check on.",
    )


def _digit(system):
    return 1 if system == "Pa" else 3


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
