"""What every lesson's page has, by the lesson's key; and to read: how a stair's doors change from the first minute to an hour later."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

from helpers import require
from helpers.lessons import LESSONS
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.plots.headline import headed
from helpers.plots.markup import Verdict, html_table, paragraphs_html
from helpers.studies.cases import levels_text
from helpers.studies.commissioning.steps.not_run import INSIDE, NOT_RUN, ceiling_shown, too_fast, word_shown
from helpers.studies.commissioning.steps.two_rounds import ask_first
from helpers.studies.doors.stair_cooling import cooling_study
from helpers.studies.duty.permissible_speed import COUNTS, ceiling_of
from helpers.studies.report import fine, passed
from helpers.studies.status import inside, word_of
from helpers.units.said import with_unit
from helpers.widgets.boxes import CompareBox, PredictBox
from helpers.widgets.exercise_box import ExerciseBox
from helpers.widgets.panel import Reading, SeniorCard, WorkedCard


@dataclass(frozen=True)
class LessonParts:
    """Parts of a lesson's page, by its key; what is asked and derived there is read from its folder. lines(): the card for the
    senior; first: the derivation and the worked example that are shown without a name."""

    key: str
    lines: Callable[[str], tuple[str, ...]]
    first: tuple[str, str]

    @property
    def parts(self):
        """What a notebook calls, in the order of its page."""
        return self.predict, self.compare, self.derivation, self.worked_example, self.exercises, self.senior_card

    def predict(self, name=None):
        """One of the questions before the picture, by its name, or the first one. Raises ValueError for a name that is not there, naming
        those that are."""
        return PredictBox(self.key, self._named(name))

    def compare(self, name=None):
        """The prediction beside what the model says. name and errors as in `predict`."""
        return CompareBox(self.key, self._named(name))

    def exercises(self):
        """The exercises, with the reader's own numbers."""
        return ExerciseBox(self.key, LESSONS.of(self.key).makers)

    def senior_card(self):
        """The lesson in five lines."""
        return SeniorCard(self.lines)

    def derivation(self, name=None):
        """A derivation, by the name of its function, or the lesson's first. Raises ValueError as `predict`."""
        name = self.first[0] if name is None else name
        found = LESSONS.of(self.key).file("derivations")  # not before: it brings sympy
        return getattr(found, require.one_of(found.__all__, name=name))()

    def worked_example(self, name=None):
        """An example worked by hand, by the name of its function, or the lesson's first. Raises ValueError as `predict`."""
        return WorkedCard(self.derivation(self.first[1] if name is None else name))

    def _named(self, name):
        found = {prediction.key.replace(" ", "_"): prediction for prediction in LESSONS.of(self.key).predictions}
        return found[require.one_of(found, name=name)] if name else next(iter(found.values()))


def no_pass_over_a_fail(told, fit, head):
    """A panel's `Verdict` of one thing alone (an action, an entry) in a building: its PASS is CHECK where the building fails all the same;
    that it fails, when, by how much and at which door stands under it in the colours of a FAIL, and who is asked about it.

    fit: `RangeFit` of that stair at that set point; head: the one thing that is right, in few words.
    """
    if told.kind != "good" or not fit.building_fails():
        return told
    return replace(told, kind="attention", head=head, case="", do=fit.asked_of_building(), also=fit.building_fails())


@cache
def cooling_of(name="Northgate Tower", weather="winter"):
    """The `CoolingStudy` of a demo site, made once. Raises ValueError for a site or a weather that is not there."""
    sites = demo_sites()
    require.one_of(sites, name=name)
    return cooling_study(Tower(read_site(sites[name])), weather)


@cache
def only_run(name, weather="winter"):
    """Whether the loop of a demo site may be run with all doors shut through this first hour, by the ceiling of speed, in a caution.

    Limits: by the speed alone; what its design record fails in bars it too, and stands on its sheet.
    """
    fast, moment, ceiling = _too_fast(name, weather)
    if fast:
        shown = ceiling_shown(ceiling)
        above = [one for one in cooling_of(name, weather).moments if ceiling.passed_by(one.speed_hz)]
        least = with_unit(above[0].speed_hz, "frequency", 1)
        fast = (
            f"{fast}, {shown}, and so is every minute from {above[0].minute:.0f} on ({least} there)"
            if _to_the_end(cooling_of(name, weather), above)
            else f"{fast}, {shown}"
        )
        return f"▲ {name}: this round is {NOT_RUN}: {fast}. Held there the loop is capped, and every door reads less."
    below = f"no faster than {with_unit(moment.speed_hz, 'frequency', 1)}, under the day's ceiling"
    return f"▲ {name}: {below}; measure only where its sheet does not call the round {NOT_RUN}, by what its record fails in."


def _too_fast(name, weather):
    """(that the first hour of a demo site takes the fan above the day's ceiling, in words, "" where it does not; its fastest `Moment`; the
    `Ceiling`)."""
    moment = max(cooling_of(name, weather).moments, key=lambda one: one.speed_hz)
    ceiling = ceiling_of(read_site(demo_sites()[name]))
    return too_fast(moment.speed_hz, ceiling, moment.minute), moment, ceiling


def by_hand(*names):
    """Up to which speed the fan of some demo sites is set by hand, as a caution of a page whose checks are made in manual: the safe speed
    of its words. Of the one `ceiling_of` of sheets, procedure and fault bench. Raises ValueError for a site that is not there."""
    sites = demo_sites()
    chosen = [require.one_of(sites, name=name) for name in names] or list(sites)
    return Reading(lambda: _by_hand_told(chosen))


def _by_hand_told(names):
    speeds = "; ".join(f"{name} {ceiling_of(read_site(demo_sites()[name])).by_hand_said or 'no speed of its drive'}" for name in names)
    words = f"▲ A safe speed in manual, doors shut, in any weather of its file: {speeds}. {AS_DRAWN} {MEANWHILE}"
    return paragraphs_html([words]), words


AS_DRAWN = f"By the files as drawn; {COUNTS}."
MEANWHILE = (
    "While the fan is in manual the stair is not protected: building, alarm service and fire service told, before and after; one person "
    "at the drive."
)


def _to_the_end(study, above):
    """Whether a stair's first hour stays above the ceiling once it is."""
    return list(study.moments[-len(above) :]) == above


def cooling(*names, weather="winter"):
    """The course of some demo sites one after the other, in words and as a table; by default the tower with a lift. Returns `Reading`."""
    studies = [cooling_of(name, weather) for name in names or ("Northgate Tower",)]
    return Reading(lambda: _told(studies))


def _told(studies):
    html, words = [], []
    for number, study in enumerate(studies):
        table, verdict, judged = study.table(judged=False), f"{study.site_name}. {study.verdict()}", study.judged_by(meant=not number)
        barred = _too_fast(study.site_name, study.weather)[0]  # of a round that is NOT RUN no row is a PASS
        shown = html_table(table.columns, table.rows, table.states, table.title, good=INSIDE if barred else "")
        head, caution = _headline(study), only_run(study.site_name, study.weather)
        inside = paragraphs_html([caution, verdict, judged]) + shown + paragraphs_html([table.note])
        html.append(headed(head, inside) if head else inside)
        rows = (" | ".join((word_shown(word_of(state), barred), *row)) for state, row in zip(table.states, table.rows, strict=True))
        words += [*([str(head)] if head else []), caution, verdict, judged, " | ".join(("Verdict", *table.columns)), *rows, table.note]
    return "".join(html), "\n".join(words)


def _headline(study):
    """The `Verdict` of a stair's first hour: its worst door, by how much, when, and what to do; None where no door has a limit."""
    found = study.deciding()
    if found is None:
        return None
    state, moment, door, dp_pa, limit_pa = found
    room = min(moment.rooms_pa.values())
    head = (
        passed(dp_pa, limit_pa, "pressure", f"at {door}") if not inside(room) else f"Every door inside; least room at {door}: {fine(room)}"
    )
    when = f"{study.site_name}, {study.weather}, doors shut, minute {moment.minute:g} after the start"
    when += _other_end(study, door)
    when += _exit_too(study) if moment.rooms_pa.get("final exit") != room else ""
    then = f"{levels_text(study.measured_levels)} at minute 0 and {study.again_minute:.0f}"
    if study.exit_again:
        exits, minute = study.exit_again
        then += f", {exits.lower().removeprefix('final ')} at 0, {minute:.0f}"
    do = ask_first(f"if run: {then}") if state == "wrong" else f"Do: measure {then}"
    return Verdict(state, f"{head} ({when})", head, case=when, do=do)


def _other_end(study, door):
    """That a stair door at the other end of its window is past its limit as well, when and by how much, of all minutes; "" where none
    is. door: the one that decides, in words."""
    light = min(study.moments, key=lambda one: one.least_pa - one.limits_pa[0])
    heavy = max(study.moments, key=lambda one: one.most_pa - one.limits_pa[1])
    ends = (light, light.least_level, light.least_pa, light.limits_pa[0]), (heavy, heavy.most_level, heavy.most_pa, heavy.limits_pa[1])
    rooms = light.least_pa - light.limits_pa[0], heavy.limits_pa[1] - heavy.most_pa
    told = [
        f"; and minute {moment.minute:g} {passed(dp_pa, limit_pa, 'pressure', f'at stair door {level}')}"
        for (moment, level, dp_pa, limit_pa), room in zip(ends, rooms, strict=True)
        if not inside(room) and door != f"stair door {level}"
    ]
    return "".join(told)


def _exit_too(study):
    """That a final exit is past its limit as well, from when on and by how much at most; "" where it is not."""
    out = [one for one in study.moments if "final exit" in one.rooms_pa and not inside(one.rooms_pa["final exit"])]
    if not out:
        return ""
    level, dp_pa, limit_pa, _ = min(out, key=lambda one: one.rooms_pa["final exit"]).exit
    told = passed(dp_pa, limit_pa, "pressure", f"at final exit {level}")
    return f"; and from minute {out[0].minute:g} up to {told}"
