"""Lesson 08, tuning and door events: the parts of its page."""

from functools import cache

from helpers import units
from helpers.lessons.derivations import tuning_and_door_events as derivations
from helpers.lessons.exercises.tuning_and_door_events import MAKERS
from helpers.lessons.predictions import tuning_and_door_events as predictions
from helpers.lessons.worked.tuning_and_door_events import simc
from helpers.panels.lessons.page import LessonParts
from helpers.panels.lessons.step_panel import step_panel
from helpers.panels.lessons.tuning_panel import tuning_panel
from helpers.panels.markup import findings_html, html_table, paragraphs_html
from helpers.panels.reading import Reading, WorkedCard
from helpers.studies.tried_tuning import WITHIN_S, bench
from helpers.studies.tuning import tuning_study

__all__ = ["compare", "derivation", "exercises", "panel", "predict", "remedies", "senior_card", "step_test", "study", "worked_example"]

KEY = "tuning_and_door_events"
DERIVED = {"gain": derivations.simc_gain, "integral": derivations.simc_integral, "span": derivations.new_span}


def step_test():
    """The panel with a step test by hand."""
    return step_panel()


def panel():
    """The live panel: one tuning tried on a door."""
    return tuning_panel()


def derivation(of="gain"):
    """Where the rule comes from: of "gain", "integral" or "span"."""
    return DERIVED[of]()


def study():
    """What a study of all weathers found: every step test, and every tuning tried."""
    found = _studied()
    return Reading(lambda system: _told(found.verdict(system), (found.step_table(system), found.candidate_table(system))))


def remedies():
    """What helps where tuning alone does not."""
    found = _studied()
    return Reading(lambda system: _told("", (found.remedy_table(system),), tuple(found.findings(system))))


def worked_example():
    """SIMC by hand on a published process."""
    return WorkedCard(simc())


@cache
def _studied():
    place = bench()
    return tuning_study(place.tower, place.window)


def _told(verdict, tables, findings=()):
    """Words, tables with their notes and findings of a study: (HTML, plain text)."""
    parts, texts = [paragraphs_html(filter(None, [verdict]))], [verdict]
    for table in tables:
        parts += [html_table(table.columns, table.rows, table.states, table.title), paragraphs_html(filter(None, [table.note]))]
        texts += [table.title, *(" | ".join(row) for row in table.rows), table.note]
    texts += [f"{found.what}: {found.figure}" for found in findings]
    return "".join([*parts, findings_html(findings)]), "\n".join(filter(None, texts))


def _lines(system):
    found, best = _studied(), _studied().chosen
    gains = [step.gain for step in found.steps if not step.left_out]
    span = units.show(found.span_pa, "pressure", system)
    peak, limit = (units.show(force, "force", system) for force in (best.doors.peak_force_n, found.force_limit_n))
    alone = found.ramp_alone
    light = [one.name for one in found.remedies if one.doors and one.doors.peak_force_n <= found.force_limit_n]
    helps = ", ".join(light) or "nothing"
    return (
        f"Tune for the largest gain of all step tests: this building's goes from {min(gains):.2g} to {max(gains):.2g} %/% with weather "
        "and doors.",
        f"Set here: gain {best.gain:.2g} %/% on a span of {span}, integral time {best.integral_s:.2g} s; twice the span needs twice the "
        "gain.",
        f"Flow back {best.doors.opens_s:.1f} s after the street door opens, {best.doors.shuts_s:.1f} s after it shuts, where EN 12101-6 "
        f"asks for {WITHIN_S:g} s; the ramp alone takes {alone.opens_s:.1f} and {alone.shuts_s:.1f} s.",
        f"As it shuts another door takes {peak}, {limit} is allowed; of all that was tried, what keeps it below that: {helps}.",
        "Limits: a model without gusts along tubes or give of the building; try it on site with nobody at the doors, and measure forces.",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
