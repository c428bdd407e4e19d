"""Somebody's list of settings against the record: as a page to print and sign, a spreadsheet to sort, and a blank list to fill in."""

from helpers.plots.markup import cautions_html, html_table, lines_html, paragraphs_html
from helpers.record.design import CAUTIONS
from helpers.record.page import plain_page, signed_html
from helpers.record.sections.signed import design_schedule
from helpers.record.settings.differences import NOT_ENTRIES
from helpers.studies.commissioning.sheets import Page
from helpers.studies.report import Table
from helpers.units import SYSTEMS

SHORT = "Stair pressurisation is life safety: enter and change nothing alone, and prove every entry with injected signals."
ENTRY_CAUTION = (
    "A setting is changed with the drive isolated or in MANUAL, building and alarm service told; the stair is not protected then."
)
WIDTHS, BLANK_WIDTHS = (12, 14, 30, 40, 30, 60, 26), (18, 44, 40)


def differences_page(found):
    """`Differences`, written out, as an HTML page: verdict, every line with its reason, what was not ours or not read, signatures."""
    table, strangers = found.table(), found.strangers()
    parts = [
        cautions_html([*CAUTIONS, ENTRY_CAUTION]), paragraphs_html([found.verdict(), table.note]),
        html_table(table.columns, table.rows, table.states, table.title, units_to_head=False),
        *([html_table(strangers.columns, strangers.rows, title=strangers.title, units_to_head=False)] if strangers.rows else []),
        *([paragraphs_html(["Not read:"]), lines_html(found.not_read)] if found.not_read else []),
        signed_html(("Compared by, date", "Settled with the programmer, date", "Read back in the device, date")),
    ]  # fmt: skip
    return plain_page(f"Differences: {found.list_name} against {found.site_name}", parts, across=True)


def write_differences_sheet(found, path, paper="A4"):
    """Write the lines of `Differences`, written out, as XLSX with a filter. Returns the path."""
    table = found.table()
    page = Page("Differences", found.verdict(), SHORT, paper, SYSTEMS[0], (table.note, *found.not_read))
    _rows(page, table.columns, table.rows, WIDTHS)
    if found.not_ours:
        strangers = found.strangers()
        _rows(
            Page("Not in the schedule", strangers.title, SHORT, paper, SYSTEMS[0], (), page), strangers.columns, strangers.rows, WIDTHS[1:]
        )
    page.book.active = 0
    return page.save(path)


def to_fill_in(design) -> Table:
    """The lines of the schedule that somebody enters, each with room for the value as entered."""
    rows = tuple((line.group, line.name, "") for line in design_schedule(design) if line.name not in NOT_ENTRIES)
    note = "Write what stands in the device, with its unit. Hold it against the record only then."
    return Table("as_entered", "Settings as entered", ("What", "Setting", "Value as entered"), rows, note=note)


def write_blank_list(design, path, paper="A4"):
    """Write the list to fill in with what stands in the device, as XLSX. Returns the path."""
    table = to_fill_in(design)
    page = Page("As entered", f"{design.site.name}: {table.title}", SHORT, paper, design.units, (ENTRY_CAUTION, table.note))
    _rows(page, table.columns, table.rows, BLANK_WIDTHS, blank=(3,))
    return page.save(path)


def _rows(page, heads, rows, widths, blank=()):
    page.row([])
    first = page.row(heads, head=True)
    page.sheet.print_title_rows = f"{first}:{first}"
    page.sheet.freeze_panes = f"A{page.at}"
    for row in rows:
        page.row(list(row), blank=blank)
    page.sheet.auto_filter.ref = f"A{first}:{page.letter(len(heads))}{page.at - 1}"
    page.sign(len(heads), ())
    page.sheet.protection.autoFilter = False  # a filter works on a locked sheet
    for place, width in enumerate(widths, 1):
        page.sheet.column_dimensions[page.letter(place)].width = width
