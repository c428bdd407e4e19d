"""The sheet of the day: storey by storey what was measured at the doors."""

import re
from functools import cache
from pathlib import Path

from helpers.model.site.criteria import AIR, BLANK
from helpers.model.site.file import read_site
from helpers.pages.injection import CLOSING_LINES, DEFAULT_SITE, PAGE_PICKERS, design_of, verdict_said
from helpers.pages.printed import acceptance_page, in_records, written_card
from helpers.pages.sites import OnSite
from helpers.plots.markup import Verdict
from helpers.plots.printer import write_page
from helpers.record.sections.signed import before_the_loop
from helpers.studies.cases import Same
from helpers.studies.commissioning.acceptance import acceptance_sheet
from helpers.studies.commissioning.expected_at_door import (
    NO_FIGURE,
    expected_forces,
    fan_on,
    force_word,
    later_said,
    second_said,
    settled_word,
    shut_said,
)
from helpers.studies.commissioning.fields import (
    DEFICIENCIES,
    OF_THE_DAY,
    READ_BY,
    READ_IN,
    READ_WORDS,
    Day,
    DoorMeasured,
    in_the_sheets_words,
    tested_again,
)
from helpers.studies.commissioning.further_tests import worst_said, worst_tiles
from helpers.studies.commissioning.hand_back import BEFORE, BRIEFLY
from helpers.studies.commissioning.judgement import DIRECTIONS, SHUTS
from helpers.studies.commissioning.steps.not_run import NOT_RUN, word_shown
from helpers.studies.commissioning.steps.plant import told_once
from helpers.studies.commissioning.steps.two_rounds import ask_first, design_tile, gauge_said, pull_said, round_lines, short_lines
from helpers.studies.commissioning.workbook import ACCEPTANCE_CAUTION, write_acceptance_sheet
from helpers.studies.report import limit_text
from helpers.studies.status import word_of
from helpers.units.said import in_each, with_unit, written_out
from helpers.widgets.controls import UNITS
from helpers.widgets.typed_sheet import TypedSheet

BEFORE_LINES = tuple((BRIEFLY.get(line, line), {"field": line}) for line in BEFORE)
DEFICIENCY_LINES = tuple(
    line
    for number in range(1, DEFICIENCIES + 1)
    for line in (
        (f"deficiency {number}: what, who mends it", {"field": f"deficiency {number}"}),
        (f"deficiency {number}: tested again, date", {"field": tested_again(number)}),
    )
)
SIGNED = (("authority having jurisdiction: name, date", {"field": "authority having jurisdiction: name, date"}),)
FEW = 3  # doors that are named one by one in a headline, so that it stays one line
# What is expected of a door, in the order of `expected_words`, and how a headline calls it.
EXPECTED_BY = {"shut": "pressure with doors shut", "force": "opening force", "open": "with doors open"}
# In view over the fields; the whole of it is folded away beside it, and stands on page and spreadsheet.
SHORT_CAUTION = (
    "Nobody in the stair but those who measure or hold; doors held by hand, no wedge; clear of the swing, fingers off the hinges."
)
NOT_TODAY = f", not measured today ({NOT_RUN})"  # of a round that is NOT RUN
EXPECTED_NOT = f", expected {NOT_RUN}"  # what nobody runs is expected of nobody
MINUTES = re.compile(r"\s*(-?\d+(?:[.,]\d+)?)(?::([0-5]\d))?")  # what is below 0 is told, and not taken for an empty field


class AcceptancePanel:
    """The door-by-door sheet of a site as a sheet to fill in; `expected` is its `AcceptanceSheet`, for the weather typed in."""

    def __init__(self, site, weather="winter", folder=None):
        self.site, self.weather, self.day = site, weather, Day()
        self.first = before_the_loop(design_of(Same(site, whole=True)))
        self.expected, self.trouble, self.asked = self._made(), "", ""
        forces, at = self.expected.criteria.forces, (lambda force: "" if gauge_said(self.expected) else f", at {force.at}")
        columns = [
            ("Door", 72), ("Allowed", 76), (lambda: f"Pressure{self._barred(0)}", 64), ("Minute", 54),
            *((f"Fan\u00a0off: {force.step}{at(force)}", 58) for force in forces if force.step in AIR),
            *((lambda force=force: f"{self._fan_on()}: {force.step}{at(force)}", 68) for force in forces), ("Shuts, latches", 56),
            (lambda: f"Doors open{self._barred(1)}", 56), ("Smoke goes", 80),
        ]  # fmt: skip
        rows = {}
        for row in self.expected.rows:
            rows[row.key] = self._row(row)
            if row.later_minute is not None:
                rows[row.key, "later"] = self._again(row)
        day = tuple(
            (label, {"field": f"day {name}", "dimension": dimension, "label": label, "short": True})
            for name, (label, dimension) in OF_THE_DAY.items()
        )
        self.sheet = TypedSheet(
            f"acceptance {site.name} {weather}", columns, rows, self._judge, self._whole, folder,
            (*BEFORE_LINES, *day, *self._read_in()),
            (*self._fan(), *self._plant(), *DEFICIENCY_LINES, *CLOSING_LINES, *SIGNED), tuple(self._older()), self._prepare, self._intro,
            self._expected,
        )  # fmt: skip

    def export(self, path=None, paper="A4"):
        """Write the sheet with what was typed as a spreadsheet or a page, by the path's ending (.xlsx, .html, .pdf), by default a
        spreadsheet in `records`; shows a link to it."""
        target, filled = Path(path or in_records(self.site.name, "acceptance.xlsx")), self._filled()
        fails = design_of(Same(self.site, whole=True)).fails()
        if target.suffix == ".xlsx":
            return written_card(write_acceptance_sheet(self.expected, target, UNITS.system, paper, filled, fails))
        page = acceptance_page(self.expected, UNITS.system, filled, verdict_said(self.sheet, filled), fails)
        return written_card(write_page(page, target, paper))

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.sheet._repr_mimebundle_(include, exclude)

    def _intro(self):
        asked, whole = [self.asked] if self.asked else [], round_lines(self.expected)
        crew = next(line for line in whole if written_out(line).startswith("Crew"))
        crew = f"{crew.partition('. Round 2')[0]}." if self.expected.against[1] else crew  # of what is NOT RUN the rest is folded away
        # the lever on one line with the crew: the first door stands in the first screen
        lines = [*asked, SHORT_CAUTION, *short_lines(self.expected), " ".join(filter(None, (crew, pull_said(self.expected))))]
        seen = {*lines, crew}
        return [f"▲ {line}" for line in lines], [ACCEPTANCE_CAUTION, *(line for line in whole if line not in seen)]

    def _made(self, day=None):
        return acceptance_sheet(self.site, self.weather, day=day, before_loop=self.first)

    def _barred(self, place):
        """That a round is NOT RUN, behind the head of what is read in it; "" where it is run."""
        return f" {NOT_RUN}" if self.expected.against[place] else ""

    def _fan_on(self):
        """With which fan the forces with the fan on are measured, as short as a column has it: in MANUAL by its speed."""
        speed = self.expected.hand_hz
        return "Fan\u00a0on" if speed is None else f"{speed:.1f}\u00a0Hz"

    def _filled(self):
        """What was typed, minutes as numbers where they can be read as such."""
        filled = self.sheet.typed()
        minutes = {name: _minutes(text) for name, text in filled.items() if name.endswith(("minutes", "later_minutes"))}
        return filled | {name: value for name, value in minutes.items() if value is not None}

    def _row(self, row):
        """Cells of a door: what is allowed, and its fields."""
        key, steps, door = row.key, [force.step for force in self.expected.criteria.forces], f"{row.use} {row.storey}"

        def field(name, what, dimension="", **more):
            return {"field": f"{key} {name}", "label": f"{door}, {what}", "dimension": dimension} | more

        forces = {
            force.criterion.step: field(force.field, f"fan on: {force.criterion.step}", "force", hint=_most_hint(force.limit_n))
            for force in row.forces
        }
        off = [field("off_n", f"fan off: {force.criterion.step}", "force", hint=_most_hint(force.limit_n))
               for force in row.forces if force.criterion.step in AIR]  # fmt: skip
        by_hand = [*off, *(forces.get(step, "") for step in steps),
                   field("shuts", "shuts and latches", options=SHUTS)]  # fmt: skip
        speed = row.opened
        asked = ("speed_m_s", "speed", "speed") if speed else ("open_pa", "pressure with doors open", "pressure")
        second = field(*asked, **self._opens(1))
        return [
            door, self._window_cell(key), field("shut_pa", "pressure", "pressure", **self._opens(0)),
            field("minutes", "minutes since start", **self._opens(0)),
            *(by_hand if row.forces else [""] * (len(steps) + 2)), second, field("direction", "smoke or thread", options=DIRECTIONS),
        ]  # fmt: skip

    def _again(self, row):
        """Cells of an end door's second reading, with the stair's air changed."""
        door, steps = f"{row.use} {row.storey}, again", len(self.expected.criteria.forces)
        return [
            f"{door} from minute {row.later_minute:.0f}", self._window_cell(row.key),
            {"field": f"{row.key} later_pa", "label": f"{door}, pressure", "dimension": "pressure"} | self._opens(0),
            {"field": f"{row.key} later_minutes", "label": f"{door}, minutes since start"} | self._opens(0), *[""] * (steps + 4),
        ]  # fmt: skip

    def _window_cell(self, key):
        return lambda: _window_said(self.expected, key)

    def _expected(self, row):
        """What is expected of a door, written anew for the weather of the day; of a second reading where it is known."""
        return _again_said(self.expected, row[0]) if isinstance(row, tuple) else _expected_said(self.expected, row)

    def _fan(self):
        """Lines for speed, flow and current of the fan in both rounds, each with what is expected."""
        for place, (what, _) in enumerate(self.expected.fan_lines()):
            field = {"field": what, "whole": True} | self._of_a_round(what)
            if what != READ_IN:
                yield lambda place=place: ", expected ".join(self.expected.fan_lines()[place]).replace(EXPECTED_NOT, f": {NOT_RUN}"), field

    def _of_a_round(self, what):
        """Of a line of the fan: an empty field of a round that is NOT RUN says so, and only what opens the others may be typed into."""
        if not what.startswith("round "):
            return {}
        place = int(what[len("round ")]) - 1
        return {"hint": self._opens(place)["hint"]} if what == self._opened_by(place) else self._opens(place)

    def _read_in(self):
        """The line of what ran the fan in a first round that is NOT RUN: filled in, it opens the fields of that round."""
        if self.expected.hand_hz is not None:
            yield f"{READ_IN} (opens their boxes)", {"field": READ_IN, "options": READ_WORDS, "short": True}

    def _opens(self, place):
        """Of a field of a round that is NOT RUN, when it may be typed into all the same: once it is said what ran the fan then."""
        told = self._opened_by(place)
        opens = {"open": lambda values: not self.expected.against[place] or bool(values.get(told))}
        return opens | {"hint": lambda: self._barred(place).lstrip()}

    def _opened_by(self, place):
        """The field that, filled in, opens those of a round that is NOT RUN."""
        return READ_IN if place == 0 and self.expected.hand_hz is not None else f"round {place + 1}: fan speed"

    def _plant(self):
        """Lines for what is proved of the plant beside the doors, each with what is expected, who does it, and the caution."""
        for place, one in enumerate(self.expected.plant):
            hint = {"hint": lambda place=place: NOT_RUN * self.expected.plant[place].told.startswith(NOT_RUN)}
            field = {"field": one.field, "label": one.field, "dimension": one.dimension, "whole": True} | hint
            yield lambda place=place: told_once(self.expected.plant, place), field | ({"options": one.words} if one.words else {})

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
                self.expected = self._made(day)
                self.day = day
        except ValueError as refusal:
            self.trouble = in_the_sheets_words(refusal)

    def _measured(self, values, key):
        """What was measured at a door; what cannot be read counts as nothing yet."""
        fields = {name.removeprefix(f"{key} "): value for name, value in values.items() if name.startswith(f"{key} ")}
        found = {name: None if isinstance(value, ValueError) else value for name, value in fields.items()}
        found |= {name: _minutes(found[name]) for name in ("minutes", "later_minutes") if name in found}
        found[READ_BY] = values.get(READ_IN)
        return DoorMeasured(**{name: value for name, value in found.items() if name in DoorMeasured.__dataclass_fields__})

    def _judge(self, values, row):
        if isinstance(row, tuple):
            return self.expected.judge_later(row[0], self._measured(values, row[0]))
        return self.expected.judge(row, self._measured(values, row))

    def _whole(self, values):
        if self.trouble:
            return Verdict("entry", f"Weather of the day: {self.trouble}")
        measured = {row.key: self._measured(values, row.key) for row in self.expected.rows}
        states = [self.expected.judge(key, one)[0] for key, one in measured.items()]
        left = sum(bool(state) and self.expected.left(key, one) for state, (key, one) in zip(states, measured.items(), strict=True))
        state, words = self.expected.totals(
            states, self.expected.missing(values), left, [one.judge(values[one.field]) for one in self.expected.plant]
        )
        if not any(states) and "wrong" in self.expected.expected_states.values():
            state = "wrong"  # the design itself, before anybody has measured: no grey word over doors that fail
            words = f"Nothing is measured yet, and the design fails. {self.expected.expected_counts} On the sheet so far: {words}"
        said = (words, worst_said(self.expected.worst), self.expected.day_said)
        return Verdict(state, " ".join(filter(None, said)), self._head(states, len(self.expected.missing(values))), self._tiles(states),
                       self._why() if "" in states else "", self._do(states))  # fmt: skip

    def _why(self):
        """Which doors would fail with just what is expected of them, by what, in one line; "" for none."""
        found, told, barred = {}, set(), dict(zip(("shut", "open"), self.expected.against, strict=True))
        for row in self.expected.rows:
            name = f"storey {row.storey}" if row.use == "stair door" else f"{row.use} {row.storey}"
            for what, word in zip(EXPECTED_BY, self.expected.expected_words(row.key), strict=True):
                if word == word_of("wrong") and name not in told:  # a door that fails in two ways counts once, by the first
                    found.setdefault(what, []).append(name)
                    told.add(name)
        said = {
            what: ", ".join(some) if len(some) <= FEW else f"{len(some)} {'more ' * (len(found) > 1)}doors" for what, some in found.items()
        }
        return "; ".join(
            f"{EXPECTED_BY[what]}{f' ({NOT_RUN} today)' * bool(barred.get(what))}: {said[what]}" for what in EXPECTED_BY if what in said
        )

    def _do(self, states):
        """What to do first, in the words of the sheet."""
        if self.expected.first:
            return ""
        if "" in states and "wrong" in self.expected.expected_states.values():
            return ask_first(f"measure, but in no round that is {NOT_RUN}")
        return "Do: list each FAIL as a deficiency, mend it, measure again" if "wrong" in states else ""

    def _head(self, states, lines):
        """The verdict in a sentence: what is known before anybody goes out, then what was measured. states: by row, "" for none."""
        done, every, fails = len(states) - states.count(""), len(states), states.count("wrong")
        if self.expected.first:
            return "Do not go out with this sheet yet"
        if not done:
            return self.expected.design_fails_said or f"0 of {every} doors measured"
        if fails:
            first = self.expected.rows[states.index("wrong")]
            return f"{fails} of {done} doors measured {word_of('wrong')}, first {first.use} {first.storey}"
        return f"{done} of {every} doors measured, none {word_of('wrong')}; {lines} lines to fill in"

    def _tiles(self, states):
        """How far the work is, what is expected of it, and the door with the least room in any weather."""
        done = ("Doors measured", f"{len(states) - states.count('')} of {len(states)}", "")
        return done, design_tile(self.expected), *worst_tiles(self.expected.worst)


def _minutes(text):
    """Minutes that somebody typed, as "3", "3 min" or "2:30"; None where there is no number."""
    if not isinstance(text, str):
        return text
    found = MINUTES.match(text)
    return None if found is None else float(found[1].replace(",", ".")) + float(found[2] or 0) / 60


def _window_said(sheet, key):
    """Least and most pressure of a door, of the site file or the standard, whichever is stricter; of a leaf that has no most and opens with
    the pressure, up to which its closer surely shuts it."""
    row = sheet.row(key)
    least, most = (
        end if end in (None, BLANK) else limit_text(end, "pressure", which)
        for which, end in zip(("least", "most"), sheet.ends(row), strict=True)
    )
    if most is None and row.shuts_to_pa is not None:
        most = f"{limit_text(row.shuts_to_pa, 'pressure', 'most')} (shuts)"
    if None not in (least, most):
        return f"{least} to {most}"
    return "; ".join(f"{word} {end}" for word, end in (("≥", least), ("≤", most)) if end is not None)


def _expected_said(sheet, key):
    """What is expected of a door in the order of its fields, a line each with its own verdict, and the worst of all weathers."""
    row, words, worst = sheet.row(key), sheet.expected_words(key), sheet.worst_of(key)
    shuts = "" if row.shuts_to_pa is None else f", shuts again surely up to {limit_text(row.shuts_to_pa, 'pressure', 'most')}"
    when = f"{row.across.removeprefix('stair ')}, {shut_said(sheet, row)}"
    word = word_shown(words[0], sheet.against[0])
    told = [f"By the design, doors shut{NOT_TODAY * bool(sheet.against[0])}: {with_unit(row.shut_pa, 'pressure')} {when}{shuts}: {word}"]
    if settled := settled_word(sheet, row):
        told += [f"settled by the design, from minute {row.settled_minute:.0f}: {with_unit(row.settled_pa, 'pressure')}: {settled}"]
    told += [f"by the design, worst of all weathers: {worst}"] if worst else []
    told += [*_forces_said(sheet, row), f"{_open_said(sheet)}: {second_said(sheet, row)}"]
    return "\n".join(told)


def _again_said(sheet, key):
    """What is expected of an end door's second reading, and what that would be, or that nobody knows."""
    row = sheet.row(key)
    if row.later_shut_pa is None:
        return f"From minute {row.later_minute:.0f}: {NO_FIGURE}."
    return f"By the design from minute {row.later_minute:.0f}{NOT_TODAY * bool(sheet.against[0])}: {later_said(sheet, row)}."


def _most_hint(limit_n):
    return "blank" if limit_n is None else f"≤ {_bare(limit_text(limit_n, 'force', 'most'))}"


@in_each
def _bare(text):
    """The number without its unit, for a narrow field."""
    return text.partition(" ")[0]


def _forces_said(sheet, row):
    """What the gauge should read at its place on the leaf, fan off, then step by step, each with its own limit, or why one is no PASS."""
    if row.off_n is None:
        yield "force: not worked by hand"
    if row.hand_pa is not None:
        air = sheet.stair_said.removeprefix("with the ")
        yield f"{fan_on(sheet)[:-2]}, doors shut, {air}: {with_unit(row.hand_pa, 'pressure')}, not judged: no loop runs"
    for what, expected_n, limit_n, state, why in expected_forces(sheet, row):
        limit = "" if limit_n is None else f", max. {limit_text(limit_n, 'force', 'most')}"
        again = f" to {what.partition(': ')[2]}"  # said before its verdict
        yield (
            f"{what}: {word_of(state)}, {why.replace(again, '', 1)}"
            if why
            else f"{what}: {with_unit(expected_n, 'force')} at the {row.gauge_at}{limit}: {force_word(state)}"
        )


def _open_said(sheet):
    barred = f", {NOT_RUN}" if sheet.against[1] else ""
    return (
        f"by the design, doors open{barred}, {with_unit(sheet.speed_hz[1], 'frequency', 1)}, {sheet.stair_said.removeprefix('with the ')}"
    )


@cache
def acceptance_panel(name=DEFAULT_SITE, weather="winter"):
    """The acceptance sheet of a site that is chosen over it, one in a notebook; it goes along with the injection sheet's."""
    return OnSite(lambda path: AcceptancePanel(read_site(path), weather), name, PAGE_PICKERS, "acceptance")
