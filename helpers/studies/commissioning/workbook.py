"""The acceptance sheet as an XLSX file: expected figures locked, blanks open, each door and the whole judged by the sheet itself.

Its formulas are made of the same list of checks and of lines as the panel's judgement: it passes nothing that the panel does not.
"""

from helpers import units
from helpers.model.site.criteria import AIR, BLANK
from helpers.studies.commissioning.expected_at_door import NO_FIGURE, fan_on
from helpers.studies.commissioning.fields import (
    DAY,
    DEFICIENCIES,
    OF_THE_DAY,
    READ_BY,
    READ_IN,
    READ_LINE,
    READ_WORDS,
    TEMPERATURES,
    grade_formula,
    missing_formula,
    tested_again,
    verdict_formula,
)
from helpers.studies.commissioning.hand_back import BEFORE, CLOSING, LAST, given_back_said
from helpers.studies.commissioning.judgement import DIRECTIONS, SHUTS, asked
from helpers.studies.commissioning.sheets import GIVEN, SIGNED, Formula, Page
from helpers.studies.commissioning.steps.not_run import word_shown
from helpers.studies.commissioning.steps.two_rounds import round_lines, second_head
from helpers.studies.status import STATUSES, word_of
from helpers.units.said import written_out

ACCEPTANCE_CAUTION = (
    "Before start: tell the building, the alarm service and the fire service, below. Nobody in the stair but those who measure and hold; "
    "nobody measures alone, and whoever holds a door answers the radio; doors held by hand and not by wedges; stand clear of the swing, "
    f"fingers off the hinge side. {LAST}. Stair pressurisation is life safety: the local code, the approved design, the authority having "
    "jurisdiction and a licensed (UK: competent) engineer decide."
)
AUTHORITY = ("Authority having jurisdiction: name", "Signature and date")
WORST = "Worst of all weathers, doors shut"
SAME_SHOWN = 0.05  # units shown by which the day may differ from the one that the figures are made for, before they are another day's
NUMBERS = {"Pa": {"pressure": "0.0##", "force": "0.0#"}, "in. w.c.": {"pressure": "0.000##", "force": "0.0##"}}
FAIL, CHECK, NOT_YET, PASS = (STATUSES[key].word for key in ("wrong", "attention", "open", "good"))


def write_acceptance_sheet(sheet, path, system="Pa", paper="A4", filled=None, fails=()):
    """Write a door-by-door acceptance sheet: what is told before start, expected figures beside blanks, what gives the building back.

    sheet: `AcceptanceSheet`; path: of the .xlsx file; system: one of units.SYSTEMS; paper: one of `sheets.PAPERS`; filled: what was typed,
    by field (SI numbers, words); fails: what the design record fails in, a line each. Returns the path. Raises ValueError for another paper
    or a file that cannot be written. Limits: a spreadsheet cannot work the network: the figures are those of the day that `sheet` was made
    for; on another, what hangs on the weather is NOT YET.
    """
    filled = {name: value for name, value in (filled or {}).items() if value is not None}
    page = Page(f"Acceptance {sheet.site_name}", sheet.title, ACCEPTANCE_CAUTION, paper, system, fails)
    for line in round_lines(sheet):
        page.row([line])
    lines = [page.lines("Told before start", BEFORE, filled)]
    weather, of_the_day = _day(page, sheet, system, filled)
    lines.append(weather)
    read_by, given = _read_by(page, sheet, filled)
    lines += given
    doors = _DoorRows(page, sheet, system, filled, {DAY: of_the_day, READ_BY: read_by})
    lines += [
        _fan(page, sheet, filled),
        _plant(page, sheet, system, filled),
        _deficiencies(page, filled),
        page.lines("Given back", CLOSING, filled, given_back_said(sheet.before_loop or "")),
    ]
    page.row([])
    _totals(page, sheet, doors, lines)
    page.sign(len(doors.head), (*SIGNED, *AUTHORITY))
    page.sheet.freeze_panes = "B1"  # the door stays in view
    return page.save(path)


class _DoorRows:
    """The rows of doors: two for an end door, the second for its later reading."""

    def __init__(self, page, sheet, system, filled, of_sheet):
        self.page, self.sheet, self.system, self.filled, self.of_sheet = page, sheet, system, filled, of_sheet
        self.head = self._heading()
        page.row([])
        page.sheet.print_title_rows = f"{page.at}:{page.at}"
        page.row(self.head, head=True)
        self.first = page.at
        for row in sheet.rows:
            self._row(row)
        self.last = page.at - 1
        page.check(self.first, self.letter("Verdict"), self.letter("Expected says"))
        for word, choices in (("Smoke or thread goes", DIRECTIONS), ("Shuts and latches", SHUTS)):
            page.choose(self.cells(word), choices)

    def cells(self, word):
        """The cells of a column."""
        return f"{self.letter(word)}{self.first}:{self.letter(word)}{self.last}"

    def letter(self, word):
        """The letter of a column."""
        return Page.letter(self.head.index(word) + 1)

    def _heading(self):
        pressure, force, speed = (units.unit_label(dimension, self.system) for dimension in ("pressure", "force", "speed"))
        self.measured, self.second = f"Measured [{pressure}]", "Measured, doors open"
        steps = [one.step for one in self.sheet.criteria.forces]
        moved = next(step for step in steps if step in AIR)
        self.off, on = f"Fan off: to {moved} [{force}]", written_out(fan_on(self.sheet), self.system)
        on = f"{on[0].upper()}{on[1:]}"
        self.steps = {step: (f"To {step}, limit [{force}]", f"{on}to {step}, expected", f"{on}to {step} [{force}]") for step in steps}
        numbers = NUMBERS[self.system]
        self.formats = {word: numbers["pressure"] for word in (f"Minimum [{pressure}]", f"Maximum [{pressure}]", self.measured)}
        self.formats |= {word: numbers["force"] for limit, _, found in self.steps.values() for word in (limit, found)}
        return ["Door", "Kind", "Across", f"Minimum [{pressure}]", f"Maximum [{pressure}]", "Expected", "Expected says", WORST,
                self.measured,
                "Minutes since start", f"Fan off: to {moved}, expected with the day's stack effect [{force}]", self.off,
                *(word for three in self.steps.values() for word in three),
                "Shuts and latches", f"{second_head(self.sheet)} [{pressure} or {speed}]", self.second, "Smoke or thread goes",
                "Left to measure", "Verdict"]  # fmt: skip

    def _row(self, row):
        at = self.page.at
        places = {"shut_pa": (self.measured, at, "pressure"), "minutes": ("Minutes since start", at, ""),
                  "later_pa": (self.measured, at + 1, "pressure"), "later_minutes": ("Minutes since start", at + 1, ""),
                  "speed_m_s" if row.opened else "open_pa": (self.second, at, "speed" if row.opened else "pressure"),
                  "direction": ("Smoke or thread goes", at, "")}  # fmt: skip
        if row.forces:
            places |= {"off_n": (self.off, at, "force"), "shuts": ("Shuts and latches", at, "")}
            places |= {force.field: (self.steps[force.criterion.step][2], at, "force") for force in row.forces}
        asked_for = {name: place for name, place in places.items() if name in row.asked}
        least, most = self.sheet.ends(row)
        second = self._figure(row.speed_m_s, "speed", 2) if row.opened else self._figure(row.open_pa, "pressure", 1)
        told = {"Door": f"{row.use} {row.storey}", "Kind": f"{row.door} (open in round 2)" if row.opened else row.door,
                "Across": row.across, self.head[3]: self._figure(least, "pressure"),
                self.head[4]: (row.shuts_said or None) if most is None else self._figure(most, "pressure"),
                "Expected": self._figure(row.shut_pa, "pressure", 1),
                "Expected says": word_shown(word_of(self.sheet.expected(row.key, again=False)[0]), any(self.sheet.against)),
                WORST: self.sheet.worst_of(row.key), self.head[10]: self._figure(row.off_n, "force", 0),
                self.head[-5]: second}  # fmt: skip
        for force in row.forces:
            limit, expected, _ = self.steps[force.criterion.step]
            told |= {limit: BLANK if force.limit_n is None else self._figure(force.limit_n, "force"),
                     expected: self._figure(force.expected_n if force.criterion.step in AIR else None, "force", 0)}  # fmt: skip

        def cells(name):
            """(cell, SI of one of its unit) of a field; one that has no cell here counts with what was typed."""
            if name in self.of_sheet:
                return self.of_sheet[name], 1.0
            if name in asked_for:
                word, line, dimension = asked_for[name]
                return f"{self.letter(word)}{line}", _si(dimension, self.system)
            value = self.filled.get(f"{row.key} {name}")
            return (repr(float(value)), 1.0) if isinstance(value, int | float) else ('""', 1.0)

        told["Left to measure"] = Formula(f"={missing_formula(asked(row), cells)}")
        verdict = verdict_formula(self.sheet.checks[row.key], f"{self.letter('Left to measure')}{at}", cells)
        told["Verdict"] = Formula(f"={verdict}")
        self._write(told, asked_for, row.key, at)
        if row.later_minute is not None:
            again = {"Door": f"{row.use} {row.storey}, again from minute {row.later_minute:.0f}", "Across": row.across,
                     "Expected": self._figure(row.later_shut_pa, "pressure", 1),
                     "Expected says": self.sheet.later_words.get(row.key, NO_FIGURE)}  # fmt: skip
            self._write(again | {word: told[word] for word in self.head[3:5]}, asked_for, row.key, at + 1)

    def _write(self, told, asked_for, key, at):
        typed = {word: (name, dimension) for name, (word, line, dimension) in asked_for.items() if line == at}
        told = told | {word: self._typed(f"{key} {name}", dimension) for word, (name, dimension) in typed.items()}
        self.page.row([told.get(word) for word in self.head], blank=[self.head.index(word) + 1 for word in typed])
        for place, word in enumerate(self.head, 1):
            self.page.sheet.cell(at, place).number_format = self.formats.get(word, "General")

    def _typed(self, name, dimension):
        value = self.filled.get(name)
        return value if value is None or isinstance(value, str) or not dimension else float(units.to_display(value, dimension, self.system))

    def _figure(self, value, dimension, digits=None):
        """A figure in the units shown; limits are not rounded, so that none is moved."""
        if value in (None, BLANK):
            return value
        shown = float(units.to_display(value, dimension, self.system))
        if digits is None:
            return round(shown, 8)
        return round(shown, digits + (2 if self.system != "Pa" and dimension == "pressure" else 1 if self.system != "Pa" else 0))


def _si(dimension, system):
    return float(units.from_display(1.0, dimension, system) - units.from_display(0.0, dimension, system)) if dimension else 1.0


def _day(page, sheet, system, filled):
    """The weather as found beside the one of the figures. Returns the cells of its states, and the cell that holds 1 while all temperatures
    stand and nothing is another than the figures are made for."""
    page.row([])
    page.row(["Weather of the day", "found", "figures made for", "", "", "State"], head=True)
    first, made_for = page.at, dict(sheet.made_for)
    for name, (label, dimension) in OF_THE_DAY.items():
        found = filled.get(f"day {name}")
        shown = found if found is None or isinstance(found, str) else float(units.to_display(found, dimension, system))
        far = f'IF(ABS(N(B{{row}})-C{{row}})>{SAME_SHOWN!r},"{CHECK}","{GIVEN}")'
        none = GIVEN if name == "stair_middle_c" else NOT_YET
        made = round(float(units.to_display(made_for[name], dimension, system)), 6)
        page.row([label, shown, made, units.unit_label(dimension, system), "",
                  Formula(f'=IF(ISNUMBER(B{{row}}),{far},IF(LEN(TRIM(B{{row}}))=0,"{none}","{NOT_YET}"))')], blank=(2,))  # fmt: skip
    states = page.states(first)
    given = ",".join(f'F{first + list(OF_THE_DAY).index(name)}="{GIVEN}"' for name in TEMPERATURES)
    flag = Formula(f'=IF(AND(COUNTIF({states},"{CHECK}")=0,{given}),1,"")')
    at = page.row(["1: the figures are those of this weather; else what hangs on it is not judged", flag])
    return states, f"$B${at}"


def _read_by(page, sheet, filled):
    """What ran the fan in a first round that is NOT RUN, over the doors. Returns (its cell, [the cells of its state]), ("", [])
    where the round is run."""
    if sheet.hand_hz is None:
        return "", []
    page.row([])
    state = Formula(f'=IF(LEN(TRIM(B{{row}}))=0,"{NOT_YET}","{GIVEN}")')
    at = page.row([READ_IN, filled.get(READ_IN), READ_LINE[1], "", "", state], blank=(2,))
    page.choose(f"B{at}", READ_WORDS)
    return f"$B${at}", [page.states(at)]


def _fan(page, sheet, filled):
    page.row([])
    page.row(["Fan", "read", "expected", "", "", "State"], head=True)
    first = page.at
    for what, expected in sheet.fan_lines():
        if what == READ_IN:  # it stands over the doors, whose verdicts hang on it
            continue
        page.row([what, filled.get(what), expected, "", "", Formula(f'=IF(LEN(TRIM(B{{row}}))=0,"{NOT_YET}","{GIVEN}")')], blank=(2,))
    return page.states(first)


def _plant(page, sheet, system, filled):
    """What is proved of the plant, judged as the panel does."""
    page.row([])
    page.row(["Beside the doors", "read", "expected", "who", "caution", "State"], head=True)
    first = page.at
    for one in sheet.plant:
        read, unit = filled.get(one.field), units.unit_label(one.dimension, system) if one.dimension else "yes or no"
        shown = float(units.to_display(read, one.dimension, system)) if one.dimension and isinstance(read, int | float) else read
        cell = f"B{page.at}", _si(one.dimension, system)
        graded = f'CHOOSE({grade_formula(one.chain, lambda name, cell=cell: cell)}+1,"{GIVEN}","{NOT_YET}","{CHECK}","{FAIL}")'
        state = f'=IF({one.missing.formula(lambda name, cell=cell: cell)},"{NOT_YET}",{graded})'
        page.row([f"{one.field} [{unit}]", shown, one.told, one.who, one.caution, Formula(state)], blank=(2,))
        if one.words:
            page.choose(cell[0], one.words)
    return page.states(first)


def _deficiencies(page, filled):
    """What is wrong and who mends it: open until the day on which it was tested again stands beside it."""
    page.row([])
    page.row(["Deficiencies", "what, who mends it", "", "", "tested again, date", "State"], head=True)
    first = page.at
    for number in range(1, DEFICIENCIES + 1):
        state = f'=IF(AND(LEN(TRIM(B{{row}}))>0,LEN(TRIM(E{{row}}))=0),"{NOT_YET}","{GIVEN}")'
        name = f"deficiency {number}"
        at = page.row([name, filled.get(name), None, None, filled.get(tested_again(number)), Formula(state)], blank=(2, 3, 4, 5))
        page.sheet.merge_cells(start_row=at, end_row=at, start_column=2, end_column=4)
    return page.states(first)


def _totals(page, sheet, doors, lines):
    """Totals of the doors, and the verdict of the sheet: nothing past a limit, nothing left, all lines given, the building given back."""
    cells = doors.cells("Verdict")
    counts = {word: f'COUNTIF({cells},"{word}")' for word in (PASS, CHECK, FAIL, NOT_YET)}
    page.row(["Totals of doors", *(part for word, count in counts.items() for part in (word, Formula(f"={count}")))])
    missing, looked_at, failed = ("+".join(f'COUNTIF({one},"{word}")' for one in lines) for word in (NOT_YET, CHECK, FAIL))
    page.row(["Lines not given", Formula(f"={missing}"), "left to measure", Formula(f"=SUM({doors.cells('Left to measure')})")])
    left = f"OR({counts[NOT_YET]}>0,SUM({doors.cells('Left to measure')})>0,{missing}>0,{int(any(sheet.against))}>0)"
    checked = f'IF({counts[CHECK]}+{looked_at}+{int(sheet.fails_elsewhere)}>0,"{CHECK}","{PASS}")'
    page.row(
        [
            "Verdict of the sheet",
            Formula(f'=IF({counts[FAIL]}+{failed}+{int(bool(sheet.first))}>0,"{FAIL}",IF({left},"{NOT_YET}",{checked}))'),
        ]
    )
