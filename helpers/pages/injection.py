"""The sheet of injected signals: what is sent, what every display must show, what was read, and what the fan does."""

import re
from functools import cache, lru_cache
from pathlib import Path

from helpers.formulas import signals
from helpers.model.site.file import read_site
from helpers.pages.printed import in_records, injection_page, written_card
from helpers.pages.sites import OnSite, Together
from helpers.plots.headline import headline_html, told_in_view
from helpers.plots.markup import MOST_WORDS, Verdict, paragraphs_html
from helpers.plots.printer import write_page
from helpers.record.design import Design
from helpers.record.sections.signed import before_the_loop
from helpers.studies.cases import Same
from helpers.studies.commissioning.hand_back import (
    BRIEFLY,
    BY_THE_LOOP,
    CLOSING,
    WORDED,
    injection_caution,
    order_said,
    order_steps,
    stopped_before,
)
from helpers.studies.commissioning.injection import PARTS, STEP_PARTS, put_words
from helpers.studies.commissioning.proof import check_plan
from helpers.studies.commissioning.sheets import (
    INJECTION_BEFORE,
    SEEN,
    by_hand_line,
    injection_about,
    injection_missing,
    write_injection_sheet,
)
from helpers.studies.commissioning.steps.not_run import NOT_RUN
from helpers.studies.report import fine, listed
from helpers.studies.status import word_of
from helpers.widgets.controls import UNITS
from helpers.widgets.panel import Reading
from helpers.widgets.typed_sheet import TypedSheet

DEFAULT_SITE = "Larkfield House"
ROUNDS = ("as found", "as left")
MOST_OTHER_STEPS = 12  # steps besides those of each alarm's limits: wires off, all at once, standing still, two that differ
DONE = "done"
CLOSING_LINES = tuple(
    (BRIEFLY.get(line, line), {"field": line} if line in WORDED else {"field": line, "options": (DONE, *[NOT_RUN] * (line in BY_THE_LOOP))})
    for line in CLOSING
)
INJECTION_LINES = tuple((line, {"field": line}) for line in INJECTION_BEFORE)
PAGE_PICKERS = Together()  # of the page of both sheets: this one is the first
WHO, NOT_PROVED, WIRE_OFF, GIVE_BACK = ("as found by, date", "as left by, date"), "not proved", "wire off", "give back"
STEP = re.compile(r" \((?=\d\) )")


class InjectionPanel:
    """The injection table of a site as a sheet to fill in.

    table: the design record's `InjectionTable`, the one list of steps; plan: the `CheckPlan` of its points; steps: what follows the points,
    wires off and alarms beyond their limits (of `InjectionRow`).
    """

    def __init__(self, site, folder=None):
        self.site, self.table = site, design_of(Same(site, whole=True)).injection
        self.plan = check_plan(self.table.transmitters, site.control.rule, site.control.weights)
        self.steps = tuple(row for row in self.table.rows if row.part in STEP_PARTS)
        fails = len(design_of(Same(site, whole=True)).fails())
        points = f"{fails} point{'s' * (fails != 1)}"
        self.design_said = (
            f"This sheet proves wiring and settings, not the design: its record is {word_of('wrong')} in {points}" if fails else ""
        )
        self.before, self.wire_off, self.after = in_steps(injection_caution(site))
        self.before = (*self.before, f"▲ {by_hand_line(site)}")
        self.first = before_the_loop(design_of(Same(site, whole=True)))
        self.about = tuple(self._about())
        columns = [("Point", 42), ("Fan", 72), ("Inject", 150), ("Display", 96), ("must show", 148), ("as found", 96), ("as left", 96)]
        rows = {}
        for number, point in enumerate(self.plan.points, 1):
            for place in range(len(self.plan.transmitters) + 1):
                rows[number, place] = self._row(number, place, point)
        if self.table.not_proved:
            rows[NOT_PROVED, 0] = self.table.not_proved
        if self.steps:
            rows[WIRE_OFF, 0] = f"▲ {self.wire_off}"
        for number, step in enumerate(self.steps, 1):
            seen = [{"field": f"step {number} {when}", "options": SEEN} for when in ROUNDS]
            cells = [f"+{number}", step.fan, put_words(step, self.plan.transmitters), "display, fan, alarm", step.said]
            rows["step", number] = [*cells, *seen]
        for what in WHO:
            rows[what, 0] = ["", "", "", "", what, {"field": what}, ""]
        for number, line in enumerate(self._giving_back()):
            rows[GIVE_BACK, number] = line
        self.sheet = TypedSheet(
            f"injection {site.name}", columns, rows, self._judge, self._whole, folder, INJECTION_LINES, CLOSING_LINES,
            tuple(self._not_now()), intro=lambda: (self.before, self.about),
        )  # fmt: skip

    def export(self, path=None, paper="A4"):
        """Write the sheet as a spreadsheet or a page, by the path's ending (.xlsx, .html, .pdf), by default a spreadsheet in `records`;
        shows a link to it."""
        target = Path(path or in_records(self.site.name, "injection.xlsx"))
        filled = self.sheet.typed()
        fails, about = design_of(Same(self.site, whole=True)).fails(), injection_about(self.table, self.site)
        if target.suffix == ".xlsx":
            not_proved = self.table.not_proved or stopped_before(self.first)
            sheet = (self.plan, self.site.title, target, UNITS.system, paper, self.steps, filled, not_proved, (*fails, *about), self.first)
            return written_card(write_injection_sheet(*sheet))
        said = verdict_said(self.sheet, filled)
        told = said, self.table.not_proved, fails, about, self.first
        page = injection_page(self.plan, self.site.title, UNITS.system, self.steps, filled, *told)
        return written_card(write_page(page, target, paper))

    def _giving_back(self):
        """The last step, each of its parts by a number; before them, where the record fails, that it stops before AUTOMATIC."""
        if self.first:
            yield f"▲ {stopped_before(self.first)}."
        head, _, after = self.after.partition(order_said())
        yield f"▲ {head}"
        barred = order_steps(BY_THE_LOOP) if self.first else ()
        for number, done in enumerate(order_steps(), 1):
            yield f"{self.after[0]}.{number} {f'{NOT_RUN}: ' * (done in barred)}{done}"
        yield f"▲ {after.removeprefix('. ')}"

    def _about(self):
        """Which steps of the record's table these are, how long they take, what must not be proved yet."""
        yield from injection_about(self.table, self.site)
        if self.table.not_proved:
            yield self.table.not_proved

    def _not_now(self):
        """Fields of steps that this sheet has had, and will have when fallback and alarms are laid down: kept, and not judged."""
        most = 2 * len(self.plan.transmitters) + MOST_OTHER_STEPS
        for number in range(len(self.steps) + 1, most + 1):
            yield from ({"field": f"step {number} {when}", "options": SEEN} for when in ROUNDS)

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.sheet._repr_mimebundle_(include, exclude)

    def _row(self, number, place, point):
        combined = place == len(self.plan.transmitters)
        inject, display = "", f"combined ({self.plan.rule})"
        shown, tolerance = point.combined_pa, self.plan.combined_tolerance_pa
        if not combined:
            tap, unit = self.plan.transmitters[place], signals.SIGNALS[self.plan.transmitters[place].signal][2]
            inject, display = f"{point.signals[place]:.2f} {unit} on {tap.tag}", tap.name
            shown, tolerance = point.displays_pa[place], self.plan.tolerance_pa[place]
        fields = [{"field": _field(number, place, when), "dimension": "pressure", "label": f"{display}, point {number}, {when}"}
                  for when in ROUNDS]  # fmt: skip
        return [str(number), "MANUAL", inject, display, f"{fine(shown)} ± {fine(tolerance)}", *fields]

    def _read(self, values, when):
        """What was read, by point and display; None where nothing was, or what cannot be read."""
        places = range(len(self.plan.transmitters) + 1)
        rows = [[values[_field(number, place, when)] for place in places] for number in range(1, len(self.plan.points) + 1)]
        return [[None if isinstance(value, ValueError) else value for value in row] for row in rows]

    def _judge(self, values, row):
        number, place = row
        if number in WHO:
            return "", ""
        if number == "step":
            found = [(when, values[f"step {place} {when}"]) for when in ROUNDS]
            told = [(when, value) for when, value in found if value]
            words = ", ".join(f"{when}: {'PASS' if value == SEEN[0] else 'FAIL'}" for when, value in told)
            return (("good" if told[-1][1] == SEEN[0] else "wrong"), words) if told else ("", "")
        point = self.plan.points[number - 1]
        shown = (*point.displays_pa, point.combined_pa)[place]
        tolerance = (*self.plan.tolerance_pa, self.plan.combined_tolerance_pa)[place]
        read = [(when, values[_field(number, place, when)]) for when in ROUNDS]
        told = [(when, value - shown) for when, value in read if value is not None]
        words = [f"{when}: {'PASS' if abs(off) <= tolerance else f'off by {fine(off)}'}" for when, off in told]
        if not told:
            return "", ""
        return ("good" if abs(told[-1][1]) <= tolerance else "wrong"), ", ".join(words)

    def _whole(self, values):
        """The sheet's verdict, of what was left where anything was, else of what was found; a wrong one names its likely cause."""
        for when in reversed(ROUNDS):
            judged = self.plan.judge(self._read(values, when))
            seen = [values[f"step {number} {when}"] for number in range(1, len(self.steps) + 1)]
            if not all(value is None for row in self._read(values, when) for value in row) or any(seen):
                missing = injection_missing(values)
                left = f" Still to be filled in: {'; '.join(missing)}." if missing else ""
                barred = self.first or any(values[line] == NOT_RUN for line in BY_THE_LOOP)
                done = judged.good and all(seen) and not missing and not self.table.not_proved and not barred
                state = "wrong" if False in judged.passes or SEEN[1] in seen else "good" if done else "open"
                before = self._found_said(values) if when == ROUNDS[1] else ""
                words = f"{when.capitalize()}: {judged.words}{_steps_said(seen)}{left}{before}{self._beside_said(values)}"
                return Verdict(state, words, _head(when, state, judged, seen, len(missing)), self._tiles(judged, seen), self.design_said)
        alarms = ", and the alarms" if any(step.part == PARTS[-1] for step in self.steps) else ""
        after = f"; {len(self.steps)} steps more prove what a lost signal does{alarms}" if self.steps else ""
        words = f"Nothing has been read yet. The points of the sheet prove the settings{after}.{self._beside_said(values)}"
        head = f"Nothing read yet: {len(self.plan.points)} points and {len(self.steps)} steps to go"
        first = "Do: tell the building, whoever answers its alarms and the fire service, then point 1"
        return Verdict("open", words, head, self._tiles(None, [None] * len(self.steps)), self.design_said, first)

    def _tiles(self, judged, seen):
        """How far the work is, and what nobody can prove yet. judged: `JudgedReading` or None; seen: of the steps."""
        passed = sum(one is True for one in judged.passes) if judged else 0
        tiles = (
            ("Points passed", f"{passed} of {len(self.plan.points)}", ""),
            ("Steps as they must", f"{seen.count(SEEN[0])} of {len(seen)}", ""),
        )
        return (*tiles, ("Fallback speed, alarms", "not laid down", "")) if self.table.not_proved else tiles

    def _found_said(self, values):
        """What was wrong as found: it stays told when the sheet counts what was left."""
        judged, steps = self.plan.judge(self._read(values, ROUNDS[0])), range(1, len(self.steps) + 1)
        failed = sum(values[f"step {number} {ROUNDS[0]}"] == SEEN[1] for number in steps)
        if False not in judged.passes and not failed:
            return ""
        return f" As found it was FAIL: {judged.words}{_steps_said([SEEN[1]] * failed)}"

    def _beside_said(self, values):
        """What is not laid down, and entries of steps that are not on the sheet for that."""
        kept = sum(bool(values[part["field"]]) for part in self._not_now())
        told = [self.table.not_proved] if self.table.not_proved else []
        told += [f"Kept and not judged: {kept} of the steps that are not on this sheet now."] if kept else []
        return "".join(f" {said}" for said in told)


LOOK_AT_TYPE = "Do: at the drive, read each input's signal type and compare it with the plate"


def in_steps(caution):
    """A caution whose steps are numbered, each for its own place: (lines before the first signal, the step of a wire off, the last)."""
    lead, *steps = STEP.split(caution)
    steps = [step.replace(") ", ". ", 1) for step in steps]
    return (f"▲ {lead}", *steps[:-2]), steps[-2], steps[-1]


@lru_cache(maxsize=8)
def design_of(same):
    """The design of a site, kept: a sheet is opened again, with the same site, and what its record fails in heads every file."""
    return Design(same.given)


def verdict_said(sheet, filled):
    """The verdict as the panel has it, for a page; none where nothing was typed."""
    return str(sheet.line.verdict) if filled else ""


def _head(when, state, judged, seen, missing):
    """The sheet's verdict in a sentence: what is wrong first, with its cause where one fits."""
    lead, failed = when.capitalize(), seen.count(SEEN[1])
    if False in judged.passes:
        fit = judged.fits[0] if len(judged.fits) == 1 else ""
        cause = (
            fit
            if fit and len(fit.split()) <= MOST_WORDS - 2
            else "the causes that fit stand below"
            if judged.fits
            else "look for two faults at once, or a wire"
        )
        return f"{lead}: {cause}"
    if failed:
        return f"{lead}: {failed} of {len(seen)} lost-signal steps {word_of('wrong')}"
    if state == "good":
        return f"{lead}: all points and steps pass"
    left = sum(not one for one in seen)
    return f"{lead}: nothing wrong so far; {left} steps, {missing} lines to go"


def _steps_said(seen):
    failed, left = seen.count(SEEN[1]), sum(not one for one in seen)
    told = [f" {failed} of the steps with wires off and alarms fail."] if failed else []
    told += [f" {left} steps with wires off and alarms to go."] if left else []
    return "".join(told)


def not_told_apart(sheet):
    """Which settings no injected signal tells from the right one on a sheet that is open, and what is looked at instead. Returns a
    `Reading`."""

    def told():
        names = sheet.plan.not_told_apart
        if not names:
            verdict = Verdict("good", "Every wrong setting that was tried shows at one of the points")
        else:
            words = f"{sheet.panel.site.name}: no signal here shows that {listed(names)}: the displays are right either way"
            verdict = Verdict("attention", words, f"{len(names)} wrong settings show at no point", do=LOOK_AT_TYPE)
        return told_in_view(verdict) if not verdict.head else headline_html(verdict) + paragraphs_html([verdict.words]), str(verdict)

    return Reading(told)


@cache
def injection_panel(name=DEFAULT_SITE):
    """The injection sheet of a site that is chosen over it, one in a notebook."""
    return OnSite(lambda path: InjectionPanel(read_site(path)), name, PAGE_PICKERS)


def _field(number, place, when):
    return f"point {number} display {place + 1} {when}"
