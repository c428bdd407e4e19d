"""Lesson 05, reverse or direct: the parts of its page."""

from helpers import units
from helpers.formulas import action, runaway
from helpers.lessons.derivations.reverse_or_direct import error_rate
from helpers.lessons.exercises.reverse_or_direct import MAKERS
from helpers.lessons.predictions import reverse_or_direct as predictions
from helpers.lessons.worked.reverse_or_direct import proportional_band
from helpers.panels.lessons.page import LessonParts
from helpers.panels.lessons.reverse_or_direct_panel import run_panel
from helpers.panels.reading import WorkedCard
from helpers.studies.runaway import LetGo, bench

__all__ = ["compare", "derivation", "exercises", "panel", "predict", "senior_card", "worked_example"]

KEY = "reverse_or_direct"
SIDE_PERCENT = 4.0  # of the span, for the card


def panel():
    """The live panel."""
    return run_panel()


def derivation():
    """The sign of the loop."""
    return error_rate()


def worked_example():
    """Error, action and proportional band by hand."""
    return WorkedCard(proportional_band())


def _lines(system):
    place = bench("Larkfield House")
    low, high = (place.let_go(LetGo(side, "direct")) for side in (-SIDE_PERCENT, SIDE_PERCENT))
    below, above = (_doubles(place, side, system) for side in (-SIDE_PERCENT, SIDE_PERCENT))
    heavy, limit = (units.show(force, "force", system) for force in (high.price.force_n, high.price.limit_n))
    least = units.show(low.price.least, "pressure", system)
    return (
        "Reading too high, fan slower: reverse. Reading too high, fan faster: direct. The fan's effect times the action must be minus.",
        f"The wrong action ends at an end stop: at {place.name} at the {low.end} from below the set point, at {high.end} from above it.",
        f"What people get there: a door at {least}, so that smoke passes, or {heavy} at the heaviest handle, where {limit} is allowed.",
        f"A small error doubles in {below} at the earliest below the set point, in {above} above it; lags and ramp can more than double "
        "that.",
        "Swapped tubes look alike and are not: with the right action the fan goes to the same end from both sides. Test by hand.",
    )


def _doubles(place, side_percent, system):
    own, gain = place.settings(), place.process_gain(side_percent / 100 * place.span)
    rate = runaway.error_rate_per_s(action.RUNS_AWAY, gain, own.gain, own.integral_s)
    return units.show(float(runaway.doubling_time_s(rate)), "time", system)


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
