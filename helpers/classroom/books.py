"""The spreadsheets of a class: a mark sheet that marks typed answers and adds up, and the class table. What somebody typed stays text."""

import io
import unicodedata

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from helpers import require
from helpers.classroom.sets import expected
from helpers.classroom.teach_again import exercise_counts, prediction_counts, slip_counts, teach_again
from helpers.model.files import printable
from helpers.studies.commissioning.sheets import as_text
from helpers.teaching.seeds import PROTECTION
from helpers.units.said import written_out

PAPERS = {"A4": 9, "Letter": 1}  # paper sizes by the numbers of ECMA-376
BOLD, GREY = Font(bold=True), PatternFill("solid", fgColor="E8E8E8")
WRAP = Alignment(wrap_text=True, vertical="top")
FORMULA_SIGNS = ("=", "+", "-", "@")
LONGEST = 300  # letters of a cell
FIRST_ROW, FIRST_COLUMN = 5, 3  # of the marks
ROUNDING = "1.000000001"  # an answer just on the edge of its tolerance counts

HOW_TO_MARK = (
    "Type what a learner wrote into the sheet Typed: a figure in the unit asked for, or the letter of an option. This sheet marks it: 1 "
    "right, 0 not, ? where a figure is asked for and something else was typed. Type 0, 0.5 or 1 over a formula where you judge otherwise."
)


def mark_sheet_book(class_set, paper="A4"):
    """The mark sheet of a `ClassSet` as the bytes of an XLSX file: seats by questions, marked by formulas from what is typed, with totals.

    paper: one of PAPERS. Raises ValueError for another paper.
    """
    require.one_of(PAPERS, paper=paper)
    book, last = Workbook(write_only=True), FIRST_ROW + len(class_set.sheets) - 1
    known = [[expected(exercise) for exercise in sheet.exercises] for sheet in class_set.sheets]
    _marks_sheet(_page(book, "Marks", paper), class_set, last)
    for title, values in (
        ("Typed", [[None] * len(class_set.questions)] * len(known)),
        ("Answers", [[answer for answer, _ in row] for row in known]),
        ("Tolerances", [[tolerance for _, tolerance in row] for row in known]),
    ):
        _grid_sheet(_page(book, title, paper), class_set, title, values)
    return _bytes(book)


def class_table_book(table, system="Pa", paper="A4"):
    """A `ClassTable` as the bytes of an XLSX file: learners, slips, exercises, predictions, files left out, and what the signature says."""
    book = Workbook(write_only=True)
    slips = [
        (one.lesson.numbered, one.title, one.slip, one.learners, one.tried, one.still, one.times, one.hint) for one in slip_counts(table)
    ]
    learners = [
        (row.seat, row.name, row.state, len(row.predictions), row.agreed, len(row.tried), len(row.solved), len(row.at_once),
         sum(row.slips.values()), len(row.cases), row.found, row.remark, row.file)
        for row in table.rows
    ]  # fmt: skip
    exercises = [(one.lesson.numbered, one.title, one.tried, one.solved, one.at_once) for one in exercise_counts(table)]
    predictions = [
        (one.lesson.numbered, one.asked, one.made, one.agreed, one.commonest, one.so_many)
        for one in written_out(prediction_counts(table), system)
    ]
    for title, columns, rows in (
        ("Learners", LEARNER_COLUMNS, learners),
        ("Slips", SLIP_COLUMNS, slips),
        ("Exercises", EXERCISE_COLUMNS, exercises),
        ("Predictions", PREDICTION_COLUMNS, predictions),
        ("Left out", (("File", 40), ("Why", 90)), [(one.file, one.why) for one in table.left_out]),
        (
            "Read this",
            (("What to teach again, and what the signature says", 130),),
            [(text,) for text in (*written_out(teach_again(table), system), *PROTECTION)],
        ),
    ):
        _list_sheet(_page(book, title, paper), columns, rows)
    return _bytes(book)


LEARNER_COLUMNS = (
    ("Seat", 7), ("Name", 28), ("Record", 22), ("Predicted", 11), ("Agreed", 9), ("Tried", 8), ("Solved", 8), ("Right at once", 9),
    ("Wrong answers", 10), ("Bench cases", 9), ("found", 8), ("Remark", 60), ("File", 28),
)  # fmt: skip
SLIP_COLUMNS = (
    ("Page", 7), ("Exercise", 38), ("Slip", 26), ("Learners", 10), ("of those who tried", 11), ("not put right yet", 10), ("Times", 8),
    ("What it is", 70),
)  # fmt: skip
EXERCISE_COLUMNS = (("Page", 7), ("Exercise", 50), ("Tried", 9), ("Solved", 9), ("Right at once", 9))
PREDICTION_COLUMNS = (("Page", 7), ("Question", 80), ("Made", 9), ("Agreed", 9), ("Commonest other answer", 44), ("so many", 9))


def _marks_sheet(sheet, class_set, last):
    count = len(class_set.questions)
    columns = [get_column_letter(FIRST_COLUMN + place) for place in range(count)]
    first, end = columns[0], columns[-1]
    _widths(sheet, [8, 26, *[9] * count, 9, 9, 9])
    sheet.freeze_panes = f"{first}{FIRST_ROW}"
    marked = f"{first}{FIRST_ROW}:{end}{last}"
    allowed = DataValidation(type="decimal", operator="between", formula1="0", formula2="1", allow_blank=True)
    allowed.error = "A mark is from 0 to 1."
    allowed.add(marked)
    sheet.data_validations.append(allowed)
    wrong = FormulaRule(formula=[f"AND(ISNUMBER({first}{FIRST_ROW}),{first}{FIRST_ROW}<1)"], font=BOLD, fill=PatternFill(bgColor="BFBFBF"))
    sheet.conditional_formatting.add(marked, wrong)
    _head(sheet, class_set, "Marks", HOW_TO_MARK, ("Right", "Marked", "Share"))
    for place, seat in enumerate(class_set.sheets):
        row = FIRST_ROW + place
        cells = f"{first}{row}:{end}{row}"
        totals = (f"=SUM({cells})", f"=COUNT({cells})", f'=IF(COUNT({cells})=0,"",SUM({cells})/{count})')
        marks = [_formula(sheet, _mark(f"{column}{row}")) for column in columns]
        sheet.append([seat.seat.number, _text(sheet, seat.name), *marks, *(_formula(sheet, total) for total in totals)])
    below = [f'=IF(COUNT({column}{FIRST_ROW}:{column}{last})=0,"",AVERAGE({column}{FIRST_ROW}:{column}{last}))' for column in columns]
    shares, tried = (
        [_formula(sheet, one) for one in below],
        [_formula(sheet, f"=COUNT({column}{FIRST_ROW}:{column}{last})") for column in columns],
    )
    sheet.append(["", _text(sheet, "share right, of those marked", True), *shares])
    sheet.append(["", _text(sheet, "marked", True), *tried])


def _mark(cell):
    """Formula of a mark: nothing where nothing is typed, 1 within the tolerance or for the right letter, else 0; ? for no figure."""
    typed, answer, tolerance = (f"{title}!{cell}" for title in ("Typed", "Answers", "Tolerances"))
    figure = f'IF(ISNUMBER({typed}),IF(ABS({typed}-{answer})<={tolerance}*{ROUNDING},1,0),"?")'
    letter = f"IF(LOWER(TRIM({typed}))={answer},1,0)"
    return f'=IF({typed}="","",IF(ISNUMBER({answer}),{figure},{letter}))'


def _grid_sheet(sheet, class_set, title, values):
    """Seats by questions, at the same places as in the sheet of marks."""
    notes = {
        "Typed": "What learners wrote: a figure in the unit asked for, or the letter of an option.",
        "Answers": "For the instructor only: the right answer to each seat's own numbers.",
        "Tolerances": "For the instructor only: how far an answer may lie from the right one and still count.",
    }
    _widths(sheet, [8, 26, *[11] * len(class_set.questions)])
    sheet.freeze_panes = f"{get_column_letter(FIRST_COLUMN)}{FIRST_ROW}"
    _head(sheet, class_set, title, notes[title], ())
    for seat, row in zip(class_set.sheets, values, strict=True):
        sheet.append([seat.seat.number, _text(sheet, seat.name), *row])


def _head(sheet, class_set, title, note, more):
    sheet.append([_text(sheet, " · ".join(filter(None, [title, class_set.title, f"class mark {class_set.mark}", class_set.system])), True)])
    sheet.append([_text(sheet, note)])
    units = [
        written_out(question.answer.unit, class_set.system) if hasattr(question.answer, "unit") else "letter"
        for question in class_set.sheets[0].exercises
    ]
    sheet.append(
        [
            "",
            "",
            *(
                _text(sheet, f"page {one.lesson.numbered}, {unit or 'number'}")
                for one, unit in zip(class_set.questions, units, strict=True)
            ),
        ]
    )
    heads = ["Seat", "Name", *(str(question.number) for question in class_set.questions), *more]
    sheet.append([_text(sheet, head, True) for head in heads])


def _list_sheet(sheet, columns, rows):
    _widths(sheet, [width for _, width in columns])
    sheet.freeze_panes = "A2"
    sheet.append([_text(sheet, name, True) for name, _ in columns])
    for row in rows:
        sheet.append([_text(sheet, value) if isinstance(value, str) else value for value in row])


def _page(book, title, paper):
    sheet = book.create_sheet(title)
    sheet.page_setup.paperSize, sheet.page_setup.orientation = PAPERS[paper], "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddFooter.center.text = "&P / &N"
    return sheet


def _text(sheet, text, head=False):
    """A text that no spreadsheet takes for a formula, also not when somebody edits the cell."""
    short = as_text(printable(text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"))
    cell = WriteOnlyCell(sheet, value=short)
    cell.data_type = "s"
    if unicodedata.normalize("NFKC", short.lstrip()[:1]) in FORMULA_SIGNS:  # also the wide ones of East Asian keyboards
        cell.quotePrefix = True
    cell.alignment = WRAP
    if head:
        cell.font, cell.fill = BOLD, GREY
    return cell


def _formula(sheet, formula):
    return WriteOnlyCell(sheet, value=formula)


def _widths(sheet, widths):
    for place, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(place)].width = width


def _bytes(book):
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()
