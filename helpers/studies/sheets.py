"""The sheets a technician takes along, as XLSX files: expected cells locked, blanks open, pass or fail worked out by the sheet itself.

openpyxl writes them. They print on one page across, A4 or Letter, in grey: verdicts are words, not colours.
"""

import re
from io import BytesIO

from openpyxl import Workbook
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from helpers import units
from helpers.formulas import signals
from helpers.model.criteria import AT, BLANK
from helpers.studies.acceptance import CLOSING, DIRECTIONS, SHUTS
from helpers.studies.figures import listed
from helpers.studies.status import STATUSES
from helpers.studies.whole_files import write_whole

__all__ = [
    "ACCEPTANCE_CAUTION",
    "DEFICIENCIES",
    "INJECTION_CAUTION",
    "PAPERS",
    "SEEN",
    "as_text",
    "round_lines",
    "write_acceptance_sheet",
    "write_injection_sheet",
]

PAPERS = {"A4": 9, "Letter": 1}  # paper sizes by the numbers of ECMA-376
GREY, LINE = PatternFill("solid", fgColor="E8E8E8"), Side(style="thin", color="808080")
BOX = Border(left=LINE, right=LINE, top=LINE, bottom=LINE)
OPEN, BOLD, TITLE, WRAP = Protection(locked=False), Font(bold=True), Font(bold=True, size=14), Alignment(wrap_text=True, vertical="top")
INJECTION_CAUTION = (
    "Qualified people only: isolate and lock out while wires are moved. Fan in manual, guards on and nobody at it, while a signal is "
    "injected. Wires and settings put back, and the loop in automatic, before you leave. Stair pressurisation is life safety: the local "
    "code, the approved design, the authority having jurisdiction and licensed practice decide."
)
ACCEPTANCE_CAUTION = (
    "Nobody in the stair but those who measure, doors held by hand and not by wedges; stand clear of the swing, fingers off the hinge "
    "side. Stair pressurisation is life safety: the local code, the approved design, the authority having jurisdiction and licensed "
    "practice decide."
)
WRITTEN_SIGN = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
FORMULA_SIGNS = ("=", "+", "-", "@")  # with which a sheet takes what is typed for a formula
LOOP_WORDS = {"held": "set point held", "not found": "no steady state found"}
SIGNED = ("As found by", "Date", "As left by", "Date", "Instrument and certificate", "Signature")
AUTHORITY = ("Authority having jurisdiction: name", "Signature and date")
DEFICIENCIES = 4  # lines for what is wrong, who mends it, and when it was tested again
SEEN = ("as it must", "otherwise")  # what somebody saw at a step with a wire off or an alarm
FAIL, NOT_YET, PASS = (STATUSES[key].word for key in ("wrong", "open", "good"))


def write_injection_sheet(plan, site_name, path, system="Pa", paper="A4", steps=()):
    """Write the injection table of a `CheckPlan`: signal, expected display by a formula from the range, as found, as left, pass or fail.

    path: of the .xlsx file; system: one of units.SYSTEMS; paper: one of PAPERS; steps: rows of the injection table (of `InjectionRow`) that
    follow the points, wires off and alarms, which somebody looks at. Returns the path. Raises ValueError for another paper or a
    file that cannot be written.
    """
    page = _Page(f"Injection {site_name}", f"{site_name}: injected signals", INJECTION_CAUTION, paper)
    unit, digits = units.unit_label("pressure", system), 1 if system == "Pa" else 3
    page.row(["Transmitter", "Signal", "", "Signal from", "to", "", f"Range from [{unit}]", "to", f"Tolerance [{unit}]"], head=True)
    ranges = [_range_row(page, tap, tolerance, system, digits) for tap, tolerance in zip(plan.transmitters, plan.tolerance_pa, strict=True)]
    together = float(units.to_display(plan.combined_tolerance_pa, "pressure", system))
    combined = page.row([f"Combined: {plan.rule} reading", "", "", "", "", "", "", "", round(together, digits + 1)])
    page.row([])
    page.row(["Point", "Display", "Inject", "", f"Expected [{unit}]", "Tolerance", "As found", "Verdict", "As left", "Verdict", "Counts"],
             head=True)  # fmt: skip
    first = page.at
    for number, point in enumerate(plan.points, 1):
        _point_rows(page, plan, number, point, ranges, combined, system)
    for number, step in enumerate(steps, 1):
        _step_row(page, plan, number, step)
    page.check(first, "H", "J", "K")
    last = page.at - 1
    page.row([])
    begin = page.at
    for line in CLOSING:
        page.row([line, None], blank=(2,))
    _totals(page, [f"K{first}:K{last}"], f"B{begin}:B{page.at - 1}")
    page.sign(11)
    return page.save(path)


def write_acceptance_sheet(sheet, path, system="Pa", paper="A4"):
    """Write a door-by-door acceptance sheet: expected beside blanks, judged by the sheet, with totals, deficiencies and what gives the
    building back. Arguments, returns and errors as write_injection_sheet. Limits: a spreadsheet cannot work the network: the expected
    figures are those of the day that `sheet` was made for."""
    page = _Page(f"Acceptance {sheet.site_name}", f"{sheet.site_name}: door by door, {sheet.weather}", ACCEPTANCE_CAUTION, paper)
    for line in round_lines(sheet):
        page.row([line])
    steps = sheet.criteria.forces
    head = _heading(sheet, system)
    page.row(head, head=True)
    first = page.at
    for row in sheet.rows:
        _acceptance_row(page, row, sheet.ends(row), steps, system)
    last, judged = page.at - 1, [_letter(head, word) for word in ("Window", "Forces")]
    page.check(first, *judged)
    page.choose(f"{_letter(head, 'Smoke or thread goes')}{first}:{_letter(head, 'Smoke or thread goes')}{last}", DIRECTIONS)
    page.choose(f"{_letter(head, 'Shuts and latches')}{first}:{_letter(head, 'Shuts and latches')}{last}", SHUTS)
    page.row([])
    for what, expected in sheet.fan_lines(system):
        page.row([what.capitalize(), "expected", expected, "read", None], blank=(5,))
    page.row([])
    for number in range(1, DEFICIENCIES + 1):
        page.row([f"Deficiency {number}", "what", None, "who mends it", None, "tested again, date", None], blank=(3, 5, 7))
    page.row([])
    begin = page.at
    for line in CLOSING:
        page.row([line, None], blank=(2,))
    _totals(page, [f"{column}{first}:{column}{last}" for column in judged], f"B{begin}:B{page.at - 1}")
    page.sign(len(head), (*SIGNED, *AUTHORITY))
    return page.save(path)


def round_lines(sheet):
    """What the sheet holds for, and how it is worked: the two rounds, the weather of the day, where gauge and hoses go; a line each."""
    opened = f"stair doors {', '.join(map(str, sheet.open_doors)) or 'none'}"
    opened += f" and final exits {', '.join(map(str, sheet.open_exits))}" if sheet.open_exits else ""
    loops = [f"about {speed:.0f} Hz, {LOOP_WORDS.get(state, state)}" for speed, state in zip(sheet.speed_hz, sheet.state, strict=True)]
    at = {place: listed(force.step for force in sheet.criteria.forces if force.at == place) for place in AT}
    places = "; ".join(f"at the {place} ({steps})" for place, steps in at.items() if steps)
    return (
        f"Round 1: all doors shut, {loops[0]}. Round 2: {opened} open, {loops[1]}.",
        sheet.day_said,
        f"Judged by {sheet.criteria.title} ({sheet.criteria.edition}). Gauge square to the leaf, {places}. Fan off first, then fan on.",
        "Pressure is measured between what stands under Across. Across an open door none is measured: the air's speed is, on a grid of "
        "points. Measure both ends of the stair in the first minute and again after a quarter of an hour; write the minutes down.",
    )


def _heading(sheet, system):
    pressure, force, speed = (units.unit_label(dimension, system) for dimension in ("pressure", "force", "speed"))
    steps = [text for one in sheet.criteria.forces for text in (f"Limit to {one.step} [{force}]", f"To {one.step} [{force}]")]
    return ["Door", "Kind", "Across", f"Least [{pressure}]", f"Most [{pressure}]", "Expected", f"Measured [{pressure}]", "Window",
            f"Fan off, expected [{force}]", f"Fan off [{force}]", *steps, "Forces", "Shuts and latches", "Minutes since start",
            f"Doors open, expected [{pressure} or {speed}]", "Measured, doors open", "Smoke or thread goes"]  # fmt: skip


def _letter(head, word):
    return get_column_letter(head.index(word) + 1)


def _totals(page, columns, closing):
    """Totals of the judged cells, and the verdict of the sheet: nothing past a limit, nothing left, the building given back."""

    def count(word):
        return "+".join(f'COUNTIF({cells},"{word}")' for cells in columns)

    page.row(["Totals", PASS, Formula(f"={count(PASS)}"), FAIL, Formula(f"={count(FAIL)}"), NOT_YET, Formula(f"={count(NOT_YET)}")])
    left = f"OR({count(NOT_YET)}>0,COUNTBLANK({closing})>0)"
    page.row(["Verdict of the sheet", Formula(f'=IF({count(FAIL)}>0,"{FAIL}",IF({left},"{NOT_YET}","{PASS}"))')])


def _range_row(page, tap, tolerance_pa, system, digits):
    low, high, label = signals.SIGNALS[tap.signal]
    ends = [round(float(units.to_display(end, "pressure", system)), digits + 1) for end in (tap.range_low_pa, tap.range_high_pa)]
    tolerance = round(float(units.to_display(tolerance_pa, "pressure", system)), digits + 1)
    return page.row([tap.name, tap.signal, label, low, high, "", *ends, tolerance])


def _point_rows(page, plan, number, point, ranges, combined, system):
    """A row for each display and one for the combined one; what is expected is worked out from signal and range."""
    rows = []
    for tap, value, at in zip(plan.transmitters, point.signals, ranges, strict=True):
        expected = Formula(f"=G{at}+(C{{row}}-D{at})/(E{at}-D{at})*(H{at}-G{at})")
        label = signals.SIGNALS[tap.signal][2]
        rows.append(page.row([number, tap.name, round(value, 3), label, expected, Formula(f"=I{at}"), *_as_found_and_left()], blank=(7, 9)))
    together = round(float(units.to_display(point.combined_pa, "pressure", system)), 2 if system == "Pa" else 4)
    cells = f"E{rows[0]}:E{rows[-1]}"
    formula = {"average": f"=AVERAGE({cells})", "lowest": f"=MIN({cells})", "highest": f"=MAX({cells})", "middle": f"=MEDIAN({cells})"}
    expected = Formula(formula[plan.rule]) if plan.rule in formula else together
    page.row([number, "combined", "", "", expected, Formula(f"=I{combined}"), *_as_found_and_left()], blank=(7, 9))


def _step_row(page, plan, number, step):
    """A step with a wire off or an alarm: what to put on, what must be seen, and the two words for it to choose from."""
    several = zip(step.percents, step.signals, plan.transmitters, strict=True)
    put = ", ".join(f"{tap.name} {'off' if p is None else f'{v:.2f} {signals.SIGNALS[tap.signal][2]}'}" for p, v, tap in several)
    said = f"{step.purpose}. {step.must}".strip()
    at = page.row([f"step {number}", put, said, "", "", "", None, _seen("G"), None, _seen("I"), _counts()], blank=(7, 9))
    page.join(at, 3, 6, said)
    for column in "GI":
        page.choose(f"{column}{at}", SEEN)


def _as_found_and_left():
    return None, _within("G"), None, _within("I"), _counts()


def _counts():
    """Formula of the verdict that counts: as left, where anything was left."""
    return Formula(f'=IF(J{{row}}="{NOT_YET}",H{{row}},J{{row}})')


def _seen(column):
    """Formula of a verdict on what somebody looked at."""
    cell = f"{column}{{row}}"
    return Formula(f'=IF({cell}="{SEEN[0]}","{PASS}",IF({cell}="{SEEN[1]}","{FAIL}","{NOT_YET}"))')


def _within(column):
    """Formula of a verdict: the cell against what is expected, within the tolerance."""
    return Formula(f'=IF(ISNUMBER({column}{{row}}),IF(ABS({column}{{row}}-E{{row}})<=F{{row}},"{PASS}","{FAIL}"),"{NOT_YET}")')


def _acceptance_row(page, row, ends, steps, system):
    """A row with its two verdicts as formulas: the pressure in its window; every force within its limit, the door shutting by itself."""

    def shown(value, dimension, digits):
        return value if value in (None, BLANK) else round(float(units.to_display(value, dimension, system)), digits)

    digits = 1 if system == "Pa" else 3
    least, most, expected = (shown(value, "pressure", digits) for value in (*ends, row.shut_pa))
    off = shown(row.off_n, "force", 0 if system == "Pa" else 1)
    second = shown(row.speed_m_s, "speed", 2 if system == "Pa" else 0) if row.opened else shown(row.open_pa, "pressure", digits)
    in_window = 'AND(OR(D{row}="",G{row}>=D{row}),OR(E{row}="",G{row}<=E{row}))'
    known = f'AND(ISNUMBER(G{{row}}),D{{row}}<>"{BLANK}",E{{row}}<>"{BLANK}")'
    window = Formula(f'=IF({known},IF({in_window},"{PASS}","{FAIL}"),"{NOT_YET}")')
    limits = {force.criterion.step: shown(force.limit_n, "force", 1) for force in row.forces}
    door = f"{row.door} (open in round 2)" if row.opened else row.door
    cells = [f"{row.use} {row.storey}", door, row.across, least, most, expected, None, window, off,
             None, *(cell for step in steps for cell in (limits.get(step.step), None))]  # fmt: skip
    places = [12 + 2 * number for number in range(len(steps))]  # columns of the forces measured
    verdict = len(cells) + 1
    cells += [_strength(places, verdict) if row.forces else None, None, None, second, None, None]
    page.row(cells, blank=(7, 10, *places, verdict + 1, verdict + 2, verdict + 4, verdict + 5))


def _strength(places, verdict):
    """Formula of the forces' verdict: FAIL past any limit or where the door does not shut by itself, NOT YET while one is missing."""
    pairs = [(get_column_letter(place - 1), get_column_letter(place)) for place in places]
    shuts = get_column_letter(verdict + 1)
    past = ",".join(f'AND(ISNUMBER({force}{{row}}),{limit}{{row}}<>"",{force}{{row}}>{limit}{{row}})' for limit, force in pairs)
    missing = ",".join(f'NOT(ISNUMBER({force}{{row}})),{limit}{{row}}=""' for limit, force in pairs)
    return Formula(f'=IF(OR({past},{shuts}{{row}}="no"),"{FAIL}",IF(OR({missing},{shuts}{{row}}=""),"{NOT_YET}","{PASS}"))')


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


class _Page:
    """One printed page: rows one under the other, all cells locked but the blanks."""

    def __init__(self, name, title, caution, paper):
        if paper not in PAPERS:
            raise ValueError(f"paper must be one of {', '.join(PAPERS)}; got {paper!r:.60}")
        self.book = Workbook()
        self.sheet = self.book.active
        self.sheet.title = "".join(letter for letter in _shown(name) if letter not in r"[]:*?/\\")[:31].strip("'")
        self.at, self.columns, self._wide = 1, 1, []
        self._wide.append(self.row([title]))
        self.sheet.cell(1, 1).font = TITLE
        self._wide.append(self.row([caution]))
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
            value = _shown(value) if isinstance(value, str) and not isinstance(value, Formula) else value
            cell.value = value.replace("{row}", str(number)) if isinstance(value, Formula) else value or (0 if value == 0 else None)
            if isinstance(value, str) and not isinstance(value, Formula):
                cell.data_type = "s"  # a name that begins like a formula stays a name
                cell.quotePrefix = value[:1] in FORMULA_SIGNS  # also when somebody edits the cell
            cell.alignment = WRAP
            if len(values) > 1:
                cell.border = BOX
            if head:
                cell.font, cell.fill = BOLD, GREY
            if place in blank:
                cell.protection = OPEN
        if len(values) == 1:
            self._wide.append(number)
        self.columns, self.at = max(self.columns, len(values)), number + 1
        return number

    def check(self, first, *columns):
        """Verdicts stand out in print without colour: FAIL in bold on grey."""
        for column in columns:
            rule = FormulaRule(formula=[f'{column}{first}="FAIL"'], font=BOLD, fill=PatternFill(bgColor="BFBFBF", fill_type="solid"))
            self.sheet.conditional_formatting.add(f"{column}{first}:{column}{self.at - 1}", rule)

    def join(self, row, first, last, text):
        """One wide cell from the columns of a row, high enough for its text."""
        self.sheet.merge_cells(start_row=row, end_row=row, start_column=first, end_column=last)
        self.sheet.row_dimensions[row].height = 15 * -(-len(text) // 40)

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
        self.sheet.row_dimensions[2].height = 32
        for place in range(1, columns + 1):
            self.sheet.column_dimensions[get_column_letter(place)].width = 16 if place < 3 else 11
        self.sheet.print_area = f"A1:{get_column_letter(columns)}{self.at - 1}"
        self.sheet.protection.sheet = True

    def save(self, path):
        """Write the file; its folder must be there."""
        written = BytesIO()
        self.book.save(written)
        return write_whole(path, written.getvalue())
