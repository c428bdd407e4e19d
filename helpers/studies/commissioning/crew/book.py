"""The sheets of a test day as one XLSX file: steps, rounds, doors, clock, air speed, devices; blanks open, all else locked. And its report
for the authority as one: a line a device, signatures open."""

from helpers import units
from helpers.studies.commissioning.crew.blanks import (
    AIR_SPEED,
    CLOCK,
    DEVICES,
    DOORS,
    ROUNDS,
    STEPS,
    Blank,
    forms,
)
from helpers.studies.commissioning.crew.given_back import HOW, WHO, signatures
from helpers.studies.commissioning.crew.lines import COLUMNS
from helpers.studies.commissioning.crew.procedure import goes_out_said
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.sheets import Page
from helpers.studies.commissioning.workbook import ACCEPTANCE_CAUTION, NUMBERS

SITE, UNITS = "Site", "Units"  # first cells of the two lines by which a sheet says what it is of
CAUTION = (
    "Steps in their order, sheet Steps: a step that leaves the fan OFF or in MANUAL leaves the stair unprotected. Nobody measures alone; "
    "everybody clear of the swing of the doors. A figure is typed as a figure, in the unit of its head; nothing is worked out in a blank."
)
SAID = {
    STEPS: ("Who fills in a step writes time and initials; 'otherwise' is written under deficiencies, sheet Devices.", HOW),
    ROUNDS: (
        "A column a round, a row a door. Pressure is that of the stair over what lies behind the door, of the stair over outdoors at an "
        "exit; below 0 where it is the other way. A mean over a minute.",
    ),
    DOORS: ("A row a leaf. Fan off first, then fan on; the pressure across the leaf in the same minute as the forces with the fan on.",),
    CLOCK: ("From the word to the figure, by one clock.",),
    AIR_SPEED: ("All the design's doors open. A mean of ten seconds at each point, seen from the stair: out of the stair +, into it -.",),
    DEVICES: ("Off the plate, not off the drawing. A deficiency is open until the day on which it was tested again stands beside it.",),
}
WIDTHS = {
    STEPS: (30, 20, 9, 52, 40, 26, 30, 34, 22, 12, 9, 9, 20), ROUNDS: (26, 12), DOORS: (24, 11), CLOCK: (44, 52, 30, 40, 14),
    AIR_SPEED: (34, 14), DEVICES: (34, 40, 16, 40, 24, 14),
}  # fmt: skip
REPORT_WIDTHS = (30, 14, 30, 34, 34, 34, 44, 30, 14, 10)
DIGITS = {"pressure": (1, 3), "force": (0, 1), "flow": (2, 0), "frequency": (1, 1), "speed": (2, 0), "temperature": (2, 2),
          "wind speed": (2, 2), "angle": (1, 1), "percent": (1, 1)}  # fmt: skip
_LIMITS = ("least", "most", "limit")  # ends of columns that are not rounded, so that none is moved


def write_book(procedure, path, system="Pa", paper="A4", filled=None, lines=()):
    """Write the sheets of a `Procedure`: what is expected beside blanks to fill in.

    path: of the .xlsx file; system: one of units.SYSTEMS; paper: one of `sheets.PAPERS`; filled: what is filled in (SI, words), by (table,
    line, column) of `blanks.every_blank`; lines: said under every caution. Returns the path. Raises ValueError for another system or paper,
    or a file that cannot be written.
    """
    filled, site, sheet = filled or {}, procedure.rounds.site, procedure.rounds.sheet
    page, every = None, forms(procedure)
    for name in dict.fromkeys(form.sheet for form in every):
        caution = ACCEPTANCE_CAUTION if name == STEPS else CAUTION
        page = Page(name, f"{site.title}: test day, {name}", caution, paper, system, lines, page)
        page.row([SITE, site.name])
        page.row([UNITS, system])
        told = (sheet.day_said, *((goes_out_said(procedure), *SAID[name], *procedure.crew_lines()) if name == STEPS else SAID[name]))
        for line in told:
            page.row([line])
        some = [form for form in every if form.sheet == name]
        for form in some:
            _form(page, form, filled, system)
        wide = max(len(form.columns) for form in some) + 1
        page.sign(wide, ())
        _widths(page, name, wide)
    page.book.active = 0
    return page.save(path)


def write_report(found, path, system="Pa", paper="A4", example=""):
    """Write the report of a day (`DayFound`) for the authority: the lines of its page, part by part, each with its status.

    path, system, paper: as write_book; example: that nobody measured it, in a sentence, "" for a day that was. Returns the path. Raises
    ValueError as write_book.
    """
    report = day_report(found)
    said = (*filter(None, [example]), report.verdict[1], *report.said)
    page = Page("Report", report.title, ACCEPTANCE_CAUTION, paper, system, said)
    head = (*COLUMNS, "Status")
    for part, lines in report.parts().items():
        page.row([])
        page.row([part, *head[1:]], head=True)
        first = page.at
        for line in lines:
            page.row([*line.cells, line.word])
        page.check(first, Page.letter(len(head)))
    if found.filled.conflicts:
        page.row([])
        page.row(["Conflicts: two people say unlike things"], head=True)
        for sentence in found.filled.conflicts:
            page.row([sentence])
    if found.not_used or found.unread:
        page.row([])
        page.row(["Not read or not used"], head=True)
        for sentence in (*found.not_used, *found.unread):
            page.row([sentence])
    page.sign(len(head), (*signatures(found), *(f"Signature, {one}" for one in (*WHO, "test lead"))))
    for place, width in enumerate(REPORT_WIDTHS, 1):
        page.sheet.column_dimensions[Page.letter(place)].width = width
    page.sheet.freeze_panes = "B1"
    return page.save(path)


def _form(page, form, filled, system):
    page.row([])
    page.row([form.title, *form.columns.values()], head=True)
    first = page.at
    for key, line in form.lines.items():
        cells = [line.cells.get(column) for column in form.columns]
        typed = [filled.get((form.key, key, column)) for column in form.columns]
        shown = [_shown(*one, system) for one in zip(cells, form.columns, typed, strict=True)]
        blank = [place for place, cell in enumerate(cells, 2) if isinstance(cell, Blank)]
        at = page.row([line.label, *shown], blank=blank)
        for place, cell in enumerate(cells, 2):
            dimension = cell.kind if isinstance(cell, Blank) else cell[1] if isinstance(cell, tuple) else ""
            if dimension in NUMBERS[system]:
                page.sheet.cell(at, place).number_format = NUMBERS[system][dimension]
            elif isinstance(cell, Blank) and not cell.is_number:
                page.sheet.cell(at, place).number_format = "@"  # a date or a number that is typed stays what was typed
    _choices(page, form, first)


def _choices(page, form, first):
    """Words to choose from, for a whole column where all its cells offer the same."""
    for place, column in enumerate(form.columns, 2):
        for at, line in enumerate(form.lines.values(), first):
            cell = line.cells.get(column)
            if isinstance(cell, Blank) and cell.options:
                page.choose(f"{Page.letter(place)}{at}", cell.options)


def _shown(cell, column, value, system):
    if isinstance(cell, Blank):
        number = cell.is_number and isinstance(value, int | float)
        return float(units.to_display(value, cell.kind, system)) if number and cell.kind in units.DIMENSIONS else value
    if not isinstance(cell, tuple):
        return cell
    value, dimension = cell
    if value is None:
        return None
    shown = float(units.to_display(value, dimension, system))
    if str(column).endswith(_LIMITS):
        return round(shown, 8)
    return round(shown, DIGITS.get(dimension, (2, 2))[units.SYSTEMS.index(system)])


def _widths(page, name, wide):
    widths = WIDTHS[name]
    for place in range(1, wide + 1):
        page.sheet.column_dimensions[Page.letter(place)].width = widths[min(place, len(widths)) - 1]
    page.sheet.freeze_panes = "B1"  # what a row is of stays in view
