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
from helpers.studies.record import Design
from helpers.studies.standing import ACTION, FAN, SET_POINT
from helpers.studies.tried_tuning import bench
from helpers.studies.tuning_candidate import asked_text, numbers_text
from helpers.studies.tuning_doors import DoorTest, seconds_text

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
    """What a study of all weathers found: every step test, every tuning tried, and what a filter costs."""
    found = _studied()
    tables = ("step_table", "candidate_table", "filter_table")
    return Reading(lambda system: _told(_what_if(found.verdict(system)), [getattr(found, name)(system) for name in tables]))


def remedies():
    """What helps where tuning alone does not."""
    found = _studied()
    return Reading(lambda system: _told("", (found.remedy_table(system),), tuple(found.findings(system))))


def worked_example():
    """SIMC by hand on a published process."""
    return WorkedCard(simc())


def _studied():
    return bench().study


@cache
def _standing():
    """What of the site file the record lets stand: numbers that hang on the rest are not told to be set."""
    return Design.of(bench().site).standing


def _what_if(verdict):
    return _standing().what_if(verdict, SET_POINT, ACTION, FAN)


def _set_here(numbers, span):
    """The numbers to enter, or that they may not be entered yet."""
    first = _standing().first(SET_POINT, ACTION, FAN)
    held = f"{numbers}, on a span of {span}; twice the span needs twice the gain"
    return f"Found here, not to be entered, {first}: {held}." if first else f"Set here: {held}."


def _told(verdict, tables, findings=()):
    """Words, tables with their notes and findings of a study: (HTML, plain text)."""
    parts, texts = [paragraphs_html(filter(None, [verdict]))], [verdict]
    for table in tables:
        parts += [html_table(table.columns, table.rows, table.states, table.title), paragraphs_html(filter(None, [table.note]))]
        texts += [table.title, *(" | ".join(row) for row in table.rows), table.note]
    texts += [f"{found.what}: {found.figure}" for found in findings]
    return "".join([*parts, findings_html(findings)]), "\n".join(filter(None, texts))


def _lines(system):
    found, best = _studied(), bench().recommended
    span = units.show(found.span_pa, "pressure", system)
    heavy = DoorTest.worse(best.doors, best.far_doors)
    peak, limit = (units.show(force, "force", system) for force in (heavy.peak_force_n, found.force_limit_n))
    alone, nominal = found.ramp_alone, found.nominal
    light = [one.name for one in found.remedies if one.works]
    helps = ", ".join(light) or "nothing"
    ramp = " and ".join(map(seconds_text, (alone.opens_s, alone.shuts_s)))
    opens, shuts = map(seconds_text, (best.doors.opens_s, best.doors.shuts_s))
    return (
        f"Tune for the building's largest gain, {found.found.largest:.2f} %/% here, and for lags and dead times that the model does not "
        f"have: {asked_text(found.box.asked)}, in {len(found.box.corners)} loops.",
        _set_here(numbers_text(best), span),
        f"SIMC for the nominal loop would ask for {numbers_text(nominal)}; {nominal.borne_text()}.",
        f"Flow back {opens} after the street door opens, {shuts} after it shuts; the ramp alone takes {ramp}. {found.time_asked()}.",
        f"As it shuts another door takes {peak} with these numbers, worst weather and warmth of the stair, {limit} is "
        f"allowed; of all that was tried, what keeps it below that: {helps}.",
        "Limits: a model without gusts along tubes or give of the building; try it on site with nobody at the doors, and measure forces.",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
