"""The two sheets of the day: injected signals with what every display must show, and storey by storey what was measured at the doors."""

import re
from functools import cache, cached_property, lru_cache
from pathlib import Path

from helpers.formulas import signals
from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower
from helpers.panels.acceptance_words import force_said, most_hint, second_said, shut_said, window_said
from helpers.panels.controls import UNITS
from helpers.panels.printed import acceptance_page, in_records, injection_page, write_page, written_card
from helpers.panels.typed_sheet import TypedSheet
from helpers.panels.verdict import Verdict
from helpers.studies.acceptance import Measured, acceptance_sheet
from helpers.studies.acceptance_course import worst_day
from helpers.studies.acceptance_day import BEFORE, CLOSING, DEFICIENCIES, OF_THE_DAY, Day, tested_again
from helpers.studies.acceptance_judged import DIRECTIONS, SHUTS
from helpers.studies.acceptance_xlsx import round_lines, write_acceptance_sheet
from helpers.studies.commissioning import check_plan
from helpers.studies.figures import fine, listed
from helpers.studies.injection import PARTS, panel_time, put_words
from helpers.studies.record import Design
from helpers.studies.sheets import INJECTION_BEFORE, INJECTION_CAUTION, SEEN, injection_missing, write_injection_sheet

__all__ = ["DEFAULT_SITE", "AcceptancePanel", "InjectionPanel", "acceptance_panel", "injection_panel"]

DEFAULT_SITE = "Larkfield House"
ROUNDS = ("as found", "as left")
POINT_PARTS, STEP_PARTS = PARTS[:1], PARTS[2:]  # parts of the injection table that are points and steps (+) of the sheet
MOST_OTHER_STEPS = 12  # steps besides those of each alarm's limits: wires off, all at once, standing still, two that differ
CLOSING_LINES = tuple((line, {"field": line} if line in ("time", "name") else {"field": line, "options": ("done",)}) for line in CLOSING)
BEFORE_LINES, INJECTION_LINES = (tuple((line, {"field": line}) for line in lines) for lines in (BEFORE, INJECTION_BEFORE))
DEFICIENCY_LINES = tuple(
    line
    for number in range(1, DEFICIENCIES + 1)
    for line in (
        (f"deficiency {number}: what, who mends it", {"field": f"deficiency {number}"}),
        (f"deficiency {number}: tested again, date", {"field": tested_again(number)}),
    )
)
SIGNED = (("authority having jurisdiction: name, date", {"field": "authority having jurisdiction: name, date"}),)
MINUTES = re.compile(r"\s*(\d+(?:[.,]\d+)?)(?::([0-5]\d))?")
WHO, NOT_PROVED = ("as found by, date", "as left by, date"), "not proved"


class InjectionPanel:
    """The injection table of a site as a sheet to fill in.

    table: the design record's `InjectionTable`, the one list of steps; plan: the `CheckPlan` of its points; steps: what follows the points,
    wires off and alarms beyond their limits (of `InjectionRow`).
    """

    def __init__(self, site, folder=None):
        self.site, self.table = site, _table_of(_Same(site))
        self.plan = check_plan(self.table.transmitters, site.control.rule, site.control.weights)
        self.steps = tuple(row for row in self.table.rows if row.part in STEP_PARTS)
        self.intro = tuple(self._intro())
        columns = [("Point", 50), ("Fan", 75), ("Inject", 140), ("Display", 110), ("must show", 170), ("as found", 100), ("as left", 100)]
        rows = {}
        for number, point in enumerate(self.plan.points, 1):
            for place in range(len(self.plan.transmitters) + 1):
                rows[number, place] = self._row(number, place, point)
        if self.table.not_proved:
            rows[NOT_PROVED, 0] = ["", "", "", "", self.table.not_proved, "", ""]
        for number, step in enumerate(self.steps, 1):
            seen = [{"field": f"step {number} {when}", "options": SEEN} for when in ROUNDS]
            cells = [f"+{number}", step.fan, put_words(step, self.plan.transmitters), "display, fan, alarm", step.said]
            rows["step", number] = [*cells, *seen]
        for what in WHO:
            rows[what, 0] = ["", "", "", "", what, {"field": what}, ""]
        self.sheet = TypedSheet(
            f"injection {site.name}", columns, rows, self._judge, self._whole, folder, INJECTION_LINES, CLOSING_LINES,
            tuple(self._not_now()), intro=lambda system: self.intro,
        )  # fmt: skip

    def export(self, path=None, paper="A4"):
        """Write the sheet as a spreadsheet or a page, by the path's ending (.xlsx, .html, .pdf), by default a spreadsheet in `records`;
        shows a link to it."""
        target = Path(path or in_records(self.site.name, "injection.xlsx"))
        filled = self.sheet.typed()
        if target.suffix == ".xlsx":
            sheet = (self.plan, self.site.name, target, UNITS.system, paper, self.steps, filled, self.table.not_proved)
            return written_card(write_injection_sheet(*sheet))
        said = _verdict_said(self.sheet, filled)
        page = injection_page(self.plan, self.site.name, UNITS.system, self.steps, filled, said, self.table.not_proved)
        return written_card(write_page(page, target, paper))

    def _intro(self):
        """Cautions, which steps of the record's table these are, how long they take, what must not be proved yet."""
        rows = self.table.rows
        points, steps = ([number for number, row in enumerate(rows, 1) if row.part in parts] for parts in (POINT_PARTS, STEP_PARTS))
        counted = f"{len(steps)} step{'' if len(steps) == 1 else 's'}"
        yield INJECTION_CAUTION
        yield (
            f"{len(points)} points and {counted} (+), of the {len(rows)} steps of the design record's injection table: the points "
            f"are its {_numbers_said(points)}, the steps (+) its {_numbers_said(steps)}. The other {len(rows) - len(points) - len(steps)}, "
            "every input at half and each one along its range with the others at half, prove the same scaling again, and each input's "
            "line: they are in the record."
        )
        yield panel_time([row for row in rows if row.part in (*POINT_PARTS, *STEP_PARTS)])
        if tuple(self.table.transmitters) != tuple(self.site.transmitters):
            yield "What must show is for the range that the record chooses, not for that of the site file: read the plate first."
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
            inject, display = f"{point.signals[place]:.2f} {unit} on {tap.name}", tap.name
            shown, tolerance = point.displays_pa[place], self.plan.tolerance_pa[place]
        fields = [{"field": _field(number, place, when), "dimension": "pressure", "label": f"{display}, point {number}, {when}"}
                  for when in ROUNDS]  # fmt: skip
        return [str(number), "MANUAL", inject, display, lambda system: f"{fine(shown, system)} ± {fine(tolerance, system)}", *fields]

    def _read(self, values, when):
        """What was read, by point and display; None where nothing was, or what cannot be read."""
        places = range(len(self.plan.transmitters) + 1)
        rows = [[values[_field(number, place, when)] for place in places] for number in range(1, len(self.plan.points) + 1)]
        return [[None if isinstance(value, ValueError) else value for value in row] for row in rows]

    def _judge(self, system, values, row):
        number, place = row
        if number == NOT_PROVED:
            return "open", "not laid down"
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
        words = [f"{when}: {'PASS' if abs(off) <= tolerance else f'off by {fine(off, system)}'}" for when, off in told]
        if not told:
            return "", ""
        return ("good" if abs(told[-1][1]) <= tolerance else "wrong"), ", ".join(words)

    def _whole(self, system, values):
        """The sheet's verdict, of what was left where anything was, else of what was found; a wrong one names its likely cause."""
        for when in reversed(ROUNDS):
            judged = self.plan.judge(self._read(values, when))
            seen = [values[f"step {number} {when}"] for number in range(1, len(self.steps) + 1)]
            if not all(value is None for row in self._read(values, when) for value in row) or any(seen):
                missing = injection_missing(values)
                left = f" Still to be filled in: {'; '.join(missing)}." if missing else ""
                done = judged.good and all(seen) and not missing and not self.table.not_proved
                state = "wrong" if False in judged.passes or SEEN[1] in seen else "good" if done else "open"
                return Verdict(state, f"{when.capitalize()}: {judged.words}{_steps_said(seen)}{left}{self._beside_said(values)}")
        alarms = ", and the alarms" if any(step.part == PARTS[-1] for step in self.steps) else ""
        after = f"; {len(self.steps)} steps more prove what a lost signal does{alarms}" if self.steps else ""
        return Verdict(
            "open", f"Nothing has been read yet. The points of the sheet prove what was entered{after}.{self._beside_said(values)}"
        )

    def _beside_said(self, values):
        """What is not laid down, and entries of steps that are not on the sheet for that."""
        kept = sum(bool(values[part["field"]]) for part in self._not_now())
        told = [self.table.not_proved] if self.table.not_proved else []
        told += [f"Kept and not judged: {kept} of the steps that are not on this sheet now."] if kept else []
        return "".join(f" {said}" for said in told)


class _Same:
    """A site that equals only itself: sites hold tables and have no hash."""

    def __init__(self, site):
        self.site = site

    def __eq__(self, other):
        return self.site is other.site

    def __hash__(self):
        return id(self.site)


@lru_cache(maxsize=8)
def _table_of(same):
    """The injection table of a site's design record, kept: a sheet is opened again, with the same site."""
    return Design.of(same.site).injection


def _numbers_said(numbers):
    """Numbers of steps in words."""
    whole = numbers == list(range(numbers[0], numbers[-1] + 1)) and len(numbers) > 2
    said = f"{numbers[0]} to {numbers[-1]}" if whole else listed(map(str, numbers))
    return f"step{'s' if len(numbers) > 1 else ''} {said}"


def _verdict_said(sheet, filled):
    """The verdict as the panel has it, for a page; none where nothing was typed."""
    return str(sheet.line.verdict) if filled else ""


def _steps_said(seen):
    failed, left = seen.count(SEEN[1]), sum(not one for one in seen)
    told = [f" {failed} of the steps with wires off and alarms fail."] if failed else []
    told += [f" {left} steps with wires off and alarms to go."] if left else []
    return "".join(told)


class AcceptancePanel:
    """The door-by-door sheet of a site as a sheet to fill in; `expected` is its `AcceptanceSheet`, for the weather typed in."""

    def __init__(self, site, weather="winter", folder=None):
        self.site, self.weather, self.day = site, weather, Day()
        self.expected, self.trouble, self.asked = acceptance_sheet(site, weather), "", ""
        steps = [force.step for force in self.expected.criteria.forces]
        columns = [
            ("Door", 115), ("Across", 75), ("Expected, shut, and its window", 120), ("pressure", 70), ("minutes since start", 60),
            ("Gauge at; fan off, on", 130), ("fan off", 65), *((step, 72) for step in steps), ("shuts, latches", 70),
            ("Doors open, expected", 75), ("measured", 70), ("smoke or thread goes", 105),
        ]  # fmt: skip
        rows = {}
        for row in self.expected.rows:
            rows[row.key] = self._row(row)
            if row.later_minute is not None:
                rows[row.key, "later"] = self._again(row)
        day = tuple(
            (label, {"field": f"day {name}", "dimension": dimension, "label": label}) for name, (label, dimension) in OF_THE_DAY.items()
        )
        self.sheet = TypedSheet(
            f"acceptance {site.name} {weather}", columns, rows, self._judge, self._whole, folder, (*BEFORE_LINES, *day),
            (*self._fan(), *DEFICIENCY_LINES, *CLOSING_LINES, *SIGNED), tuple(self._older()), self._prepare, self._intro,
        )  # fmt: skip

    def export(self, path=None, paper="A4"):
        """Write the sheet with what was typed as a spreadsheet or a page, by the path's ending (.xlsx, .html, .pdf), by default a
        spreadsheet in `records`; shows a link to it."""
        target, filled = Path(path or in_records(self.site.name, "acceptance.xlsx")), self._filled()
        if target.suffix == ".xlsx":
            return written_card(write_acceptance_sheet(self.expected, target, UNITS.system, paper, filled, self.worst))
        page = acceptance_page(self.expected, UNITS.system, filled, self.worst, _verdict_said(self.sheet, filled))
        return written_card(write_page(page, target, paper))

    @cached_property
    def worst(self):
        """`WorstDay` of the site, which a sheet of one day does not tell."""
        return worst_day(Tower(self.site))

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.sheet._repr_mimebundle_(include, exclude)

    def _intro(self, system):
        worst = [self.worst.text(system)] if self.worst else []
        return (*([self.asked] if self.asked else []), *round_lines(self.expected, system), *worst)

    def _filled(self):
        """What was typed, minutes as numbers where they can be read as such."""
        filled = self.sheet.typed()
        minutes = {name: _minutes(text) for name, text in filled.items() if name.endswith(("minutes", "later_minutes"))}
        return filled | {name: value for name, value in minutes.items() if value is not None}

    def _row(self, row):
        """Cells of a door: what is expected, written anew for the weather of the day, and its fields."""
        key, steps, door = row.key, [force.step for force in self.expected.criteria.forces], f"{row.use} {row.storey}"

        def field(name, what, dimension="", **more):
            return {"field": f"{key} {name}", "label": f"{door}, {what}", "dimension": dimension} | more

        forces = {
            force.criterion.step: field(force.field, force.criterion.step, "force", hint=most_hint(force.limit_n)) for force in row.forces
        }
        by_hand = [field("off_n", "fan off", "force"), *(forces.get(step, "") for step in steps),
                   field("shuts", "shuts and latches", options=SHUTS)]  # fmt: skip
        speed = row.opened
        second = field("speed_m_s", "speed", "speed") if speed else field("open_pa", "pressure with doors open", "pressure")
        return [
            door, row.across, lambda system: shut_said(self.expected, key, system),
            field("shut_pa", "pressure", "pressure", hint=self._window_hint(key)), field("minutes", "minutes since start"),
            lambda system: force_said(self.expected, key, system), *(by_hand if row.forces else [""] * (len(steps) + 2)),
            lambda system: f"{second_said(self.expected.row(key), system)} {self.expected.expected_words(key)[2]}", second,
            field("direction", "smoke or thread", options=DIRECTIONS),
        ]  # fmt: skip

    def _again(self, row):
        """Cells of an end door's second reading, with the stair's air changed."""
        door, steps = f"{row.use} {row.storey}, again", len(self.expected.criteria.forces)
        return [
            f"{door} from minute {row.later_minute:.0f}", row.across, lambda system: window_said(self.expected, row.key, system),
            {"field": f"{row.key} later_pa", "label": f"{door}, pressure", "dimension": "pressure", "hint": self._window_hint(row.key)},
            {"field": f"{row.key} later_minutes", "label": f"{door}, minutes since start"}, *[""] * (steps + 6),
        ]  # fmt: skip

    def _window_hint(self, key):
        return lambda system: window_said(self.expected, key, system)

    def _fan(self):
        """Lines for speed, flow and current of the fan in both rounds, each with what is expected."""
        for place, (what, _) in enumerate(self.expected.fan_lines()):
            yield lambda system, place=place: ", expected ".join(self.expected.fan_lines(system)[place]), {"field": what}

    def _older(self):
        """Fields that sheets had before: one force, at the handle; a pressure across doors that stand open."""
        for row in self.expected.rows:
            if row.use == "stair door":
                if all(force.field != "force_n" for force in row.forces):
                    yield {"field": f"{row.key} force_n", "dimension": "force"}
                if row.opened:
                    yield {"field": f"{row.key} open_pa", "dimension": "pressure"}

    def _prepare(self, values):
        """The expected figures of the day's weather; what cannot be is told, and the figures before stay."""
        typed = {name: values[f"day {name}"] for name in OF_THE_DAY}
        refused = [str(value) for value in typed.values() if isinstance(value, ValueError)]
        self.trouble, self.asked = refused[0] if refused else "", ""
        if refused:
            return
        try:
            day = Day(**typed)
            if day.typed and day.lacking:
                lacking = ", ".join(day.lacking)
                self.asked = f"The weather of the day counts once all of it is stated; still to state: {lacking}. Until then:"
                day = Day()
            if day != self.day:
                self.expected = acceptance_sheet(self.site, self.weather, day=day)
                self.day = day
        except ValueError as refusal:
            said = str(refusal)
            self.trouble = next((said.replace(name, label) for name, (label, _) in OF_THE_DAY.items() if said.startswith(name)), said)

    def _measured(self, values, key):
        """What was measured at a door; what cannot be read counts as nothing yet."""
        fields = {name.removeprefix(f"{key} "): value for name, value in values.items() if name.startswith(f"{key} ")}
        found = {name: None if isinstance(value, ValueError) else value for name, value in fields.items()}
        found |= {name: _minutes(found[name]) for name in ("minutes", "later_minutes") if name in found}
        return Measured(**{name: value for name, value in found.items() if name in Measured.__dataclass_fields__})

    def _judge(self, system, values, row):
        if isinstance(row, tuple):
            return self.expected.judge_later(row[0], self._measured(values, row[0]), system)
        return self.expected.judge(row, self._measured(values, row), system)

    def _whole(self, system, values):
        if self.trouble:
            return Verdict("entry", f"Weather of the day: {self.trouble}")
        measured = {row.key: self._measured(values, row.key) for row in self.expected.rows}
        states = [self.expected.judge(key, one, system)[0] for key, one in measured.items()]
        left = sum(bool(state) and self.expected.left(key, one) for state, (key, one) in zip(states, measured.items(), strict=True))
        state, words = self.expected.totals(states, self.expected.missing(values), left)
        worst = f" {self.worst.text(system)}" if self.worst else ""
        return Verdict(state, f"{words}{worst} {self.expected.day_said}")


def _minutes(text):
    """Minutes that somebody typed, as "3", "3 min" or "2:30"; None where there is no number."""
    if not isinstance(text, str):
        return text
    found = MINUTES.match(text)
    return None if found is None else float(found[1].replace(",", ".")) + float(found[2] or 0) / 60


@cache
def injection_panel(name=DEFAULT_SITE):
    """The injection sheet of a demo site, one in a notebook."""
    return InjectionPanel(read_site(demo_sites()[name]))


@cache
def acceptance_panel(name=DEFAULT_SITE, weather="winter"):
    """The acceptance sheet of a demo site, one in a notebook."""
    return AcceptancePanel(read_site(demo_sites()[name]), weather)


def _field(number, place, when):
    return f"point {number} display {place + 1} {when}"
