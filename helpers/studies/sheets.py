"""The sheets a technician takes along, as XLSX files: expected cells locked, blanks open, pass or fail worked out by the sheet itself.

openpyxl writes them. They print on one page across, A4 or Letter, in grey: verdicts are words, not colours.
"""

from io import BytesIO

from openpyxl import Workbook
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from helpers import units
from helpers.formulas import signals
from helpers.studies.acceptance import DIRECTIONS
from helpers.studies.whole_files import write_whole

__all__ = ["ACCEPTANCE_CAUTION", "INJECTION_CAUTION", "PAPERS", "write_acceptance_sheet", "write_injection_sheet"]

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
FORMULA_SIGNS = ("=", "+", "-", "@")  # with which a sheet takes what is typed for a formula
LOOP_WORDS = {"held": "set point held", "not found": "no steady state found"}
SIGNED = ("As found by", "Date", "As left by", "Date", "Instrument and certificate", "Signature")


def write_injection_sheet(plan, site_name, path, system="Pa", paper="A4"):
    """Write the injection table of a `CheckPlan`: signal, expected display by a formula from the range, as found, as left, pass or fail.

    path: of the .xlsx file; system: one of units.SYSTEMS; paper: one of PAPERS. Returns the path. Raises ValueError for another paper or a
    file that cannot be written.
    """
    page = _Page(f"Injection {site_name}", f"{site_name}: injected signals", INJECTION_CAUTION, paper)
    unit, digits = units.unit_label("pressure", system), 1 if system == "Pa" else 3
    page.row(["Transmitter", "Signal", "", "Signal from", "to", "", f"Range from [{unit}]", "to", f"Tolerance [{unit}]"], head=True)
    ranges = [_range_row(page, tap, tolerance, system, digits) for tap, tolerance in zip(plan.transmitters, plan.tolerance_pa, strict=True)]
    together = float(units.to_display(plan.combined_tolerance_pa, "pressure", system))
    combined = page.row([f"Combined: {plan.rule} reading", "", "", "", "", "", "", "", round(together, digits + 1)])
    page.row([])
    page.row(["Point", "Display", "Inject", "", f"Expected [{unit}]", "Tolerance", "As found", "Verdict", "As left", "Verdict"], head=True)
    first = page.at
    for number, point in enumerate(plan.points, 1):
        _point_rows(page, plan, number, point, ranges, combined, system)
    page.check(first, "H", "J")
    page.sign(10)
    return page.save(path)


def write_acceptance_sheet(sheet, path, system="Pa", paper="A4"):
    """Write a floor-by-floor acceptance sheet: expected beside blanks, judged by the sheet. Arguments, returns and errors as
    write_injection_sheet."""
    page = _Page(f"Acceptance {sheet.site_name}", f"{sheet.site_name}: storey by storey, {sheet.weather}", ACCEPTANCE_CAUTION, paper)
    pressure, force = (units.unit_label(dimension, system) for dimension in ("pressure", "force"))
    opened = f"stair doors {', '.join(map(str, sheet.open_doors)) or 'none'}"
    opened += f" and final exits {', '.join(map(str, sheet.open_exits))}" if sheet.open_exits else ""
    loops = [f"about {speed:.0f} Hz, {LOOP_WORDS.get(state, state)}" for speed, state in zip(sheet.speed_hz, sheet.state, strict=True)]
    page.row([f"Round 1: all doors shut, {loops[0]}. Round 2: {opened} open, {loops[1]}."])
    page.row(["Storey", "Door", f"Least [{pressure}]", f"Most [{pressure}]", "Expected", "Measured", "Verdict", f"Force [{force}]", "Limit",
              "Measured", "Verdict", f"Doors open [{pressure}]", "Measured", "Smoke or thread goes"], head=True)  # fmt: skip
    first = page.at
    for row in sheet.rows:
        _acceptance_row(page, row, system)
    page.check(first, "G", "K")
    page.choose(f"N{first}:N{page.at - 1}", DIRECTIONS)
    page.sign(14)
    return page.save(path)


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


def _as_found_and_left():
    return None, _within("G"), None, _within("I")


def _within(column):
    """Formula of a verdict: the cell against what is expected, within the tolerance."""
    return Formula(f'=IF(ISNUMBER({column}{{row}}),IF(ABS({column}{{row}}-E{{row}})<=F{{row}},"PASS","FAIL"),"NOT YET")')


def _acceptance_row(page, row, system):
    def shown(value, dimension, digits):
        return None if value is None else round(float(units.to_display(value, dimension, system)), digits)

    digits = 1 if system == "Pa" else 3
    least, most, expected, opened = (shown(value, "pressure", digits) for value in (row.least_pa, row.most_pa, row.shut_pa, row.open_pa))
    force, limit = (shown(value, "force", 0 if system == "Pa" else 1) for value in (row.force_n, row.limit_n))
    in_window = 'AND(OR(C{row}="",F{row}>=C{row}),OR(D{row}="",F{row}<=D{row}))'
    window = Formula(f'=IF(ISNUMBER(F{{row}}),IF({in_window},"PASS","FAIL"),"NOT YET")')
    strength = Formula('=IF(ISNUMBER(J{row}),IF(OR(I{row}="",J{row}<=I{row}),"PASS","FAIL"),"NOT YET")')
    door = f"{row.door} (open)" if row.opened else row.door
    cells = [row.level, door, least, most, expected, None, window, force, limit, None, strength, opened, None, None]
    page.row(cells, blank=(6, 10, 13, 14))


def _shown(text):
    """A text without the control signs that no sheet can hold."""
    return "".join(letter if letter.isprintable() or letter == "\n" else " " for letter in text)


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

    def choose(self, cells, words):
        """Offer these words in some cells."""
        choice = DataValidation(type="list", formula1=f'"{",".join(words)}"', allow_blank=True)
        self.sheet.add_data_validation(choice)
        choice.add(cells)

    def sign(self, columns):
        """Who, when, with what; then the print area and the lock."""
        self.row([])
        for label in SIGNED:
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
