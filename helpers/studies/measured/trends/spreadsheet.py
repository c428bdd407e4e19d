"""A trend log in a spreadsheet: cells as text, formulas refused by their cell.

Limits: MOST_ROWS rows; charts and pivots are not looked at."""

import datetime
import io
import warnings

from helpers.model.files import FileTextError, printable, shown_name
from helpers.model.packed_book import NO_BOOK
from helpers.studies.measured.trends import file_shape

MOST_ROWS = 300_000
NAMED_CELLS = 3
SHEET_READ = "Sheet "  # begins the sentence about which sheet is read: a choice, and nothing left out of it


def rows_of(path, raw, sheet, wanted):
    """(`FileShape`, [(row number, cells as text)], sentences) of one sheet. raw: its bytes; sheet: its name, None for the first; wanted:
    headings whose cells are read; none: only the shape. Raises ValueError where it is none that can be read.

    A formula in place of a value is not used, whatever was calculated of it last: nobody can say when. Its cell is named.
    What openpyxl warns of are looks, lists and dates that it does not keep: a cell that it cannot read comes as no number.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        return _rows_of(path, raw, sheet, wanted)


def _rows_of(path, raw, sheet, wanted):
    from openpyxl import load_workbook
    from openpyxl.utils import get_column_letter

    try:
        book = load_workbook(io.BytesIO(raw), read_only=True, keep_links=False)
        names = book.sheetnames
    except NO_BOOK:
        raise FileTextError(path, "is no spreadsheet that can be read") from None
    if not names:
        raise FileTextError(path, "is a spreadsheet without a sheet")
    if sheet is not None and sheet not in names:
        raise ValueError(f"{shown_name(path)} has no sheet {sheet!r:.40}; it has {', '.join(repr(name) for name in names[:10])}")
    name = names[0] if sheet is None else sheet
    formulas, rows, wide = [], [], None
    try:
        for number, cells in enumerate(book[name].iter_rows(max_row=MOST_ROWS + 1, max_col=file_shape.MOST_COLUMNS), start=1):
            if number > MOST_ROWS:
                raise FileTextError(path, f"must hold {MOST_ROWS} rows at the most: store it as .csv")
            row = []
            for cell in cells:
                if getattr(cell, "data_type", "") == "f":
                    formulas.append((cell.column, number))
                    row.append("")
                else:
                    row.append(_as_text(cell.value))
            rows.append(row)
            if not wanted and number >= file_shape.LOOKED_AT_LINES:
                break
    except NO_BOOK as trouble:
        if isinstance(trouble, FileTextError):
            raise
        raise FileTextError(path, f"cannot be read at row {len(rows) + 1} of sheet {printable(name)!r:.40}") from None
    finally:
        book.close()
    wide = max((len(row) for row in rows), default=0)
    rows = [row + [""] * (wide - len(row)) for row in rows]
    first = [[cell for cell in row] for row in rows[: file_shape.LOOKED_AT_LINES]]
    shape = file_shape.shape_of_rows(path, first, name)
    remarks = [f"{SHEET_READ}{printable(name)!r:.40} is read; {len(names) - 1} more are not."] if len(names) > 1 else []
    columns = {shape.place(heading) + 1 for heading in wanted}
    refused = [(column, row) for column, row in formulas if column in columns and row >= shape.first_line]
    if refused:
        named = ", ".join(f"{get_column_letter(column)}{row}" for column, row in refused[:NAMED_CELLS])
        more = f" and {len(refused) - NAMED_CELLS} more" if len(refused) > NAMED_CELLS else ""
        one = len(refused) == 1
        remarks.append(
            f"Cell{'' if one else 's'} {named}{more} {'holds a formula' if one else 'hold formulas'} in place of values, not used: "
            "store the values."
        )
    values = [(number, row) for number, row in enumerate(rows, start=1) if number >= shape.first_line and any(row)]
    return shape, values, remarks


def _as_text(value):
    """A cell as a file with separators would hold it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return value.isoformat()
    return repr(value) if isinstance(value, int | float) else str(value).strip()
