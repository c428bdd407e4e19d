"""The sheets a technician takes along, as XLSX files: expected cells locked, blanks open, pass or fail worked out by the sheet itself.

openpyxl writes them. They print on one page across, A4 or Letter, in grey: verdicts are words, not colours.
"""

import re
from copy import copy
from io import BytesIO

from openpyxl import Workbook
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from helpers import require, units
from helpers.formulas import signals
from helpers.model.files import write_whole
from helpers.studies.commissioning.fields import is_filled, plan_said
from helpers.studies.commissioning.hand_back import ALARM_DECISION, CLOSING, FIRE_SERVICE, INJECTION_CAUTION, stopped_before
from helpers.studies.commissioning.injection import POINT_PARTS, STEP_PARTS, put_words
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.report import listed
from helpers.studies.status import STATUSES
from helpers.units.said import written_out

PAPERS = {"A4": 9, "Letter": 1}  # paper sizes by the numbers of ECMA-376
GREY, LINE = PatternFill("solid", fgColor="E8E8E8"), Side(style="thin", color="808080")
BOX = Border(left=LINE, right=LINE, top=LINE, bottom=LINE)
OPEN, BOLD, TITLE, WRAP = Protection(locked=False), Font(bold=True), Font(bold=True, size=14), Alignment(wrap_text=True, vertical="top")
# Told before the first signal, and what injects them: without these lines the sheet's verdict stays NOT YET.
INJECTION_BEFORE = (
    "building and alarm service told before start that the stair is not protected: time, name",
    f"{FIRE_SERVICE} told before start: time, name",
    ALARM_DECISION,
    "person at the manual switch: name",
    "calibrator, certificate",
    "plate of every transmitter read, its range the one of this sheet: name",
    "relief damper, where there is one: seen to open and to seat before any step in AUTO",
)
WRITTEN_SIGN = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
FORMULA_SIGNS = ("=", "+", "-", "@")  # with which a sheet takes what is typed for a formula
SIGNED = ("As found by", "Date", "As left by", "Date", "Instrument and certificate", "Signature")
# Minutes of the work at the panel: one lock-out with discharge, wires and closing the panel; one signal put on, read, written down.
LOCK_OUT_MIN, SIGNAL_MIN = 20.0, 2.0  # common practice, no source
GIVEN, STATE = "given", 6  # the word of a line that is filled in, and the column it stands in
TOUCHES_SHOWN = 1e-9  # what rounding leaves of a figure that is just inside its tolerance
SEEN = ("as it must", "otherwise")  # what somebody saw at a step with a wire off or an alarm
FAIL, NOT_YET, PASS = (STATUSES[key].word for key in ("wrong", "open", "good"))


def panel_time(rows):
    """How long the work at the panel takes for some rows (of `InjectionRow`), and how that comes about, in a sentence.

    Limits: by LOCK_OUT_MIN and SIGNAL_MIN, for people who have done it before.
    """
    signals_min, waits_min = SIGNAL_MIN * len(rows), sum(row.wait_s for row in rows) / 60
    whole = 5 * -(-(2 * LOCK_OUT_MIN + signals_min + waits_min) // 5)
    waits = f", {waits_min:.0f} min of waiting for alarms alone" if waits_min else ""
    return (
        f"Time at the panel: about {whole:.0f} min. Two lock-outs of some {LOCK_OUT_MIN:.0f} min each (the drive's plate says how long it "
        f"discharges), {len(rows)} signals of some {SIGNAL_MIN:.0f} min each{waits}. Common practice, no source."
    )


def injection_missing(filled):
    """Lines of the injection sheet that are still to be filled in; filled: what stands in the fields, by name."""
    return tuple(line for line in (*INJECTION_BEFORE, *CLOSING) if not is_filled(filled.get(line)))


def injection_about(table, site):
    """Which steps of the record's `InjectionTable` are on the sheet of a site, how long they take, and whose range they are for, in
    sentences: the same on page, spreadsheet and print."""
    rows = table.rows
    points, steps = ([number for number, row in enumerate(rows, 1) if row.part in parts] for parts in (POINT_PARTS, STEP_PARTS))
    counted, left = f"{len(steps)} step{'' if len(steps) == 1 else 's'}", len(rows) - len(points) - len(steps)
    said = (
        f"{plan_said(table)}. Here are {len(points)} points and {counted} (+), of the {len(rows)} steps of the design record's injection "
        f"table: the points are its {_numbers_said(points)}, the steps (+) its {_numbers_said(steps)}. The other {left}, every input at "
        "half and each one along its range with the others at half, prove the same scaling again, and each input's line: they are in the "
        "record.",
        by_hand_line(site),
        panel_time([row for row in rows if row.part in (*POINT_PARTS, *STEP_PARTS)]),
    )
    whose = "What must show is for the range that the record chooses, not for that of the site file: read the plate first."
    return (*said, *[whose] * (tuple(table.transmitters) != tuple(site.transmitters)))


def by_hand_line(site):
    """The highest manual speed of a site for whoever works at its panel, in a sentence."""
    ceiling = ceiling_of(site)
    return f"Highest manual speed here: {ceiling.both_said}. {ceiling.as_drawn_said}".rstrip()


def _numbers_said(numbers):
    """Numbers of steps in words."""
    whole = len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1))
    said = f"{numbers[0]} to {numbers[-1]}" if whole else listed(map(str, numbers)) if numbers else "none"
    return f"step{'s' if len(numbers) > 1 else ''} {said}"


def write_injection_sheet(plan, site_name, path, system="Pa", paper="A4", steps=(), filled=None, not_proved="", fails=(), first=""):
    """Write the injection table of a `CheckPlan`: signal, expected display by a formula from the range, as found, as left, pass or fail.

    path: of the .xlsx file; system: one of units.SYSTEMS; paper: one of PAPERS; steps: rows of the injection table (of `InjectionRow`) that
    follow the points, wires off and alarms, which somebody looks at; filled: what was typed, by field as the panel names it (SI numbers,
    words); not_proved: what must not be proved yet, "" for nothing: else the verdict is NOT YET at the best; fails: what the design
    record fails in, a line each; first: as of `hand_back.stopped_before`.
    Returns the path. Raises ValueError for another paper or a file that cannot be written.
    """
    filled = {name: value for name, value in (filled or {}).items() if value is not None}
    page = Page(f"Injection {site_name}", f"{site_name}: injected signals", INJECTION_CAUTION, paper, system, fails)
    told = page.lines("Told before start", INJECTION_BEFORE, filled)
    page.row([])
    unit = units.unit_label("pressure", system)
    page.row(["Transmitter", "Signal", "", "Signal from", "to", "", f"Range from [{unit}]", "to", f"Tolerance [{unit}]"], head=True)
    ranges = [_range_row(page, tap, tolerance, system) for tap, tolerance in zip(plan.transmitters, plan.tolerance_pa, strict=True)]
    together = float(units.to_display(plan.combined_tolerance_pa, "pressure", system))
    combined = page.row([f"Combined: {plan.rule} reading", "", "", "", "", "", "", "", together])
    page.row([])
    page.row(["Point", "Display", "Inject", "", f"Expected [{unit}]", "Tolerance", "As found", "Verdict", "As left", "Verdict", "Counts",
              "Fan"], head=True)  # fmt: skip
    count = len(plan.points) * (len(plan.transmitters) + 1) + len(steps) + bool(not_proved)
    table = _Readings(page, plan, system, filled, page.at, count)
    for number, point in enumerate(plan.points, 1):
        table.point(number, point, ranges, combined)
    if not_proved:
        page.join(page.row(["", not_proved, *[""] * 8, NOT_YET, ""]), 2, 10, not_proved)
    for number, step in enumerate(steps, 1):
        table.step(number, step)
    page.check(table.first, "H", "J", "K")
    for row in range(1, page.at):
        for column in "EFGHI":
            page.sheet[f"{column}{row}"].number_format = "0.00#" if system == "Pa" else "0.0000#"
    back = page.lines("Given back", CLOSING, filled, stopped_before(first))
    page.row([])
    _totals(page, f"K{table.first}:K{table.last}", (told, back))
    page.sign(12)
    page.sheet.freeze_panes = "C1"  # point and display stay in view
    return page.save(path)


def _totals(page, cells, lines):
    """Totals of the judged cells, and the verdict of the sheet: nothing past a limit, nothing left, the building given back."""
    counts = {word: f'COUNTIF({cells},"{word}")' for word in (PASS, FAIL, NOT_YET)}
    missing = "+".join(f'COUNTIF({one},"{NOT_YET}")' for one in lines)
    page.row(["Totals", *(part for word, count in counts.items() for part in (word, Formula(f"={count}")))])
    left = f"OR({counts[NOT_YET]}>0,{missing}>0)"
    page.row(["Verdict of the sheet", Formula(f'=IF({counts[FAIL]}>0,"{FAIL}",IF({left},"{NOT_YET}","{PASS}"))')])


def _range_row(page, tap, tolerance_pa, system):
    low, high, label = signals.SIGNALS[tap.signal]
    shown = [float(units.to_display(value, "pressure", system)) for value in (tap.range_low_pa, tap.range_high_pa, tolerance_pa)]
    return page.row([tap.name, tap.signal, label, low, high, "", *shown])


class _Readings:
    """Rows of points and steps. Where anything stands under "As left" in any row, all of that column counts, else all "As found"."""

    def __init__(self, page, plan, system, filled, first, count):
        self.page, self.plan, self.system, self.filled = page, plan, system, filled
        self.first, self.last = first, first + count - 1

    def point(self, number, point, ranges, combined):
        """A row for each display and one for the combined one; what is expected is worked out from signal and range."""
        rows = []
        for place, (tap, value, at) in enumerate(zip(self.plan.transmitters, point.signals, ranges, strict=True)):
            expected = Formula(f"=G{at}+(C{{row}}-D{at})/(E{at}-D{at})*(H{at}-G{at})")
            label = signals.SIGNALS[tap.signal][2]
            cells = self._found_and_left(f"point {number} display {place + 1}", _within)
            rows.append(
                self.page.row([number, tap.name, float(value), label, expected, Formula(f"=I{at}"), *cells, "MANUAL"], blank=(7, 9))
            )
        together = float(units.to_display(point.combined_pa, "pressure", self.system))
        cells = f"E{rows[0]}:E{rows[-1]}"
        formula = {"average": f"=AVERAGE({cells})", "lowest": f"=MIN({cells})", "highest": f"=MAX({cells})", "middle": f"=MEDIAN({cells})"}
        expected = Formula(formula[self.plan.rule]) if self.plan.rule in formula else together
        cells = self._found_and_left(f"point {number} display {len(rows) + 1}", _within)
        self.page.row([number, "combined", "", "", expected, Formula(f"=I{combined}"), *cells, "MANUAL"], blank=(7, 9))

    def step(self, number, step):
        """A step with a wire off or an alarm: what to put on, what must be seen, and the two words for it to choose from."""
        said = step.said
        cells = self._found_and_left(f"step {number}", _seen)
        put = put_words(step, self.plan.transmitters)
        at = self.page.row([f"step {number}", put, said, "", "", "", *cells, step.fan], blank=(7, 9))
        self.page.join(at, 3, 6, said)
        for column in "GI":
            self.page.choose(f"{column}{at}", SEEN)

    def _found_and_left(self, name, verdict):
        typed = [self.filled.get(f"{name} {when}") for when in ("as found", "as left")]
        shown = [one if one is None or isinstance(one, str) else float(units.to_display(one, "pressure", self.system)) for one in typed]
        counts = Formula(f"=IF(COUNTA($I${self.first}:$I${self.last})>0,J{{row}},H{{row}})")
        return shown[0], verdict("G"), shown[1], verdict("I"), counts


def _seen(column):
    """Formula of a verdict on what somebody looked at."""
    cell = f"{column}{{row}}"
    return Formula(f'=IF({cell}="{SEEN[0]}","{PASS}",IF({cell}="{SEEN[1]}","{FAIL}","{NOT_YET}"))')


def _within(column):
    """Formula of a verdict: the cell against what is expected, within the tolerance."""
    inside = f"ABS(N({column}{{row}})-E{{row}})<=F{{row}}+{TOUCHES_SHOWN!r}"
    return Formula(f'=IF(ISNUMBER({column}{{row}}),IF({inside},"{PASS}","{FAIL}"),"{NOT_YET}")')


def _shown(text):
    """A text without the control signs that no sheet can hold."""
    return as_text("".join(letter if letter.isprintable() or letter == "\n" else " " for letter in text))


def as_text(text):
    """A text as a spreadsheet file holds it: what ECMA-376 would read there as a sign written in figures, such as "_x003D_" for "=", stays
    the letters that it is.

    >>> as_text("_x003D_1+1"), as_text("part_x_2")
    ('_x005F_x003D_1+1', 'part_x_2')
    """
    return WRITTEN_SIGN.sub("_x005F_", text)


class Formula(str):
    """A formula of the sheet; any other text stays text, whatever it begins with."""


class Page:
    """One printed page: rows one under the other, all cells locked but the blanks; after: the page that it follows in the same file."""

    def __init__(self, name, title, caution, paper, system, lines=(), after=None):
        require.one_of(PAPERS, paper=paper)
        self.book, self.system = Workbook() if after is None else after.book, system
        self.sheet = self.book.active if after is None else self.book.create_sheet()
        self.sheet.title = "".join(letter for letter in _shown(name) if letter not in r"[]:*?/\\")[:31].strip("'")
        self.at, self.columns, self._wide, self._looks = 1, 1, [], {} if after is None else after._looks
        for line in (title, caution, *lines):
            self.row([line])
        self.sheet.cell(1, 1).font = TITLE
        self.sheet.page_setup.paperSize = PAPERS[paper]
        self.sheet.page_setup.orientation = "landscape"
        self.sheet.page_setup.fitToWidth, self.sheet.page_setup.fitToHeight = 1, 0
        self.sheet.sheet_properties.pageSetUpPr.fitToPage = True
        self.sheet.oddFooter.center.text = "&P / &N"

    def row(self, values, head=False, blank=()):
        """Write a row; {row} in a `Formula` is its own row, `blank` columns are open and framed. Returns its number."""
        number = self.at
        for place, value in enumerate(values, 1):
            cell = self.sheet.cell(number, place)
            value = _shown(written_out(value, self.system)) if isinstance(value, str) and not isinstance(value, Formula) else value
            cell.value = value.replace("{row}", str(number)) if isinstance(value, Formula) else value or (0 if value == 0 else None)
            if isinstance(value, str) and not isinstance(value, Formula):
                cell.data_type = "s"  # a name that begins like a formula stays a name
            quoted = isinstance(value, str) and value[:1] in FORMULA_SIGNS and not isinstance(value, Formula)
            self._dress(cell, quoted, framed=len(values) > 1, head=head, blank=place in blank)
        if len(values) == 1:
            self._wide.append(number)
        self.columns, self.at = max(self.columns, len(values)), number + 1
        return number

    def _dress(self, cell, quoted, **looks):
        """How a cell looks: worked out once for each kind of it, which is what takes the time."""
        kind = (quoted, cell.number_format, *looks.values())
        if kind not in self._looks:
            cell.alignment, cell.quotePrefix = WRAP, quoted  # quoted also when somebody edits the cell
            if looks["framed"]:
                cell.border = BOX
            if looks["head"]:
                cell.font, cell.fill = BOLD, GREY
            if looks["blank"]:
                cell.protection = OPEN
            self._looks[kind] = copy(cell._style)
        cell._style = copy(self._looks[kind])

    letter = staticmethod(get_column_letter)

    def lines(self, title, lines, filled, how=""):
        """Lines that must be filled in, of which blanks alone are nothing; how: said over them. Returns the cells of their states."""
        self.row([])
        if how:
            self.row([how])
        self.row([title, "", "", "", "", "State"], head=True)
        first = self.at
        for line in lines:
            state = Formula(f'=IF(LEN(TRIM(B{{row}}))=0,"{NOT_YET}","{GIVEN}")')
            at = self.row([line, filled.get(line), None, None, None, state], blank=(2, 3, 4, 5))
            self.sheet.merge_cells(start_row=at, end_row=at, start_column=2, end_column=5)
        return self.states(first)

    def states(self, first):
        """The cells of the states from a row on to the last that was written."""
        return f"{get_column_letter(STATE)}{first}:{get_column_letter(STATE)}{self.at - 1}"

    def check(self, first, *columns):
        """Verdicts stand out in print without colour: FAIL in bold on grey."""
        for column in columns:
            rule = FormulaRule(formula=[f'{column}{first}="FAIL"'], font=BOLD, fill=PatternFill(bgColor="BFBFBF", fill_type="solid"))
            self.sheet.conditional_formatting.add(f"{column}{first}:{column}{self.at - 1}", rule)

    def join(self, row, first, last, text):
        """One wide cell from the columns of a row, high enough for its text."""
        self.sheet.merge_cells(start_row=row, end_row=row, start_column=first, end_column=last)
        self.sheet.row_dimensions[row].height = 15 * -(-len(written_out(text, self.system)) // 40)

    def choose(self, cells, words):
        """Offer these words in some cells."""
        choice = DataValidation(type="list", formula1=f'"{",".join(words)}"', allow_blank=True)
        self.sheet.add_data_validation(choice)
        choice.add(cells)

    def sign(self, columns, labels=SIGNED):
        """Who, when, with what; then the print area and the lock."""
        self.row([])
        for label in labels:
            self.row([label, None], blank=(2,))
        for number in set(self._wide):
            self.sheet.merge_cells(start_row=number, end_row=number, start_column=1, end_column=columns)
            if number > 1:  # a merged cell grows with its text in no spreadsheet
                self.sheet.row_dimensions[number].height = 16 * max(-(-len(str(self.sheet.cell(number, 1).value)) // (10 * columns)), 1)
        for place in range(1, columns + 1):
            self.sheet.column_dimensions[get_column_letter(place)].width = 26 if place < 2 else 16 if place < 3 else 11
        self.sheet.print_area = f"A1:{get_column_letter(columns)}{self.at - 1}"
        self.sheet.protection.sheet = True

    def save(self, path):
        """Write the file; its folder must be there."""
        written = BytesIO()
        self.book.save(written)
        return write_whole(path, written.getvalue())
