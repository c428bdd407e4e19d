"""What somebody says was entered in a drive or controller: a list of settings as TOML, CSV, XLSX or plain text, read line by line.

Every line has a group (a transmitter's name, or "loop", "fan", ...), a setting and a value in words, by the names of the settings schedule.
What cannot be read is told with its place and the rest is used: a formula, a list or table in a table, what stands beyond the rows and
columns that are looked at. Limits: MOST_BYTES a file, MOST_LINES lines; values only, no formula.
"""

import csv
import io
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

from openpyxl import load_workbook

from helpers.model.files import FileTextError, endless, printable, shown_name, text_of
from helpers.model.packed_book import NO_BOOK, BookLimits
from helpers.studies.measured.trends.file_shape import bytes_of_log, is_book

MOST_BYTES, MOST_LINES, MOST_LETTERS, MOST_COLUMNS = 500_000, 2_000, 300, 40  # ours
# Rows and cells that are looked through for what stands beyond; what stands for a formula, which no cell can hold.
MOST_ROWS, MOST_LOOKED_AT, FORMULA = 20_000, 3_000_000, "\0"
LIMITS = BookLimits(unpacked=30_000_000, parts=400, sheets=30, texts=100_000, elements=1_000_000)  # of a spreadsheet
HEADS = {"group": ("what", "group", "part"), "name": ("setting", "name"), "value": ("value", "entered", "value as entered")}
_TITLE = re.compile(r"^\s*(?:#+\s*(.+?)|\[(.+?)\])\s*$")
_LINE = re.compile(r"^\s*(?:[-*]\s+)?(?:(?P<group>[^/:=]+?)\s*/\s*)?(?P<name>[^/:=]+?)\s*[:=]\s*(?P<value>.+?)\s*$")
KINDS = ".toml, .csv, .xlsx, .txt or .md"


@dataclass(frozen=True)
class EnteredLine:
    """One line of somebody's list, in their words, and where it stands."""

    group: str
    name: str
    value: str
    where: str


@dataclass(frozen=True)
class EnteredList:
    """All lines read, in the order of the file; not_read: a sentence for each that could not be."""

    name: str
    lines: tuple[EnteredLine, ...]
    not_read: tuple[str, ...]


def read_list(path: str | Path) -> EnteredList:
    """Somebody's list of settings. Raises FileTextError, a ValueError, for a file of another kind, or one of which nothing can be read."""
    path = Path(path)
    readers = {".toml": _of_toml, ".csv": _of_csv, ".txt": _of_text, ".md": _of_text}
    if is_book(path):
        found = _of_book(path)
    elif path.suffix.lower() in readers:
        found = readers[path.suffix.lower()](path, text_of(path, MOST_BYTES))
    else:
        raise FileTextError(path, f"is no list of settings: its name must end in {KINDS}")
    lines, not_read = [], []
    for one in found:
        if isinstance(one, str):  # a sentence about what is not read
            not_read.append(one)
            continue
        where, *cells = one
        group, name, value = (" ".join(printable(str(cell)).split()) for cell in cells)
        if not value:
            continue  # a blank that nobody filled in: the setting is missing
        if len(lines) == MOST_LINES:
            raise FileTextError(path, f"must hold {MOST_LINES} lines at the most")
        wrong = "" if name else "has no setting"
        wrong = wrong or ("is longer than a setting can be" if max(map(len, (group, name, value))) > MOST_LETTERS else "")
        not_read += [f"{where} {wrong}: {value:.60}"] if wrong else []
        lines += [] if wrong else [EnteredLine(group, name, value, where)]
    if not lines:
        raise FileTextError(path, f"holds no line with a setting and its value{f'; {not_read[0]}' if not_read else ''}")
    return EnteredList(shown_name(path), tuple(lines), tuple(not_read))


def _of_toml(path, text):
    if wrong := endless(text):
        raise FileTextError(path, f"{wrong[0]}{f' in line {wrong[1]}' if wrong[1] else ''}")
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as trouble:
        raise FileTextError(path, f"is no TOML: {printable(str(trouble)):.80}") from None
    for group, held in tables.items():
        entries = held.items() if isinstance(held, dict) else ((group, held),)
        for name, value in entries:
            where = f"{shown_name(path)}, [{printable(group):.60}] {printable(name):.60}"
            if isinstance(value, str | int | float):
                said = value if not isinstance(value, bool) else "yes" if value else "no"
                yield where, group if isinstance(held, dict) else "", name, said
            else:
                what = "table within a table" if isinstance(value, dict) else "list" if isinstance(value, list) else "date or time"
                yield f"{where} is a {what}, not read: write [group], and below it a line for each setting, its value as a text"


def _of_csv(path, text):
    head = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(";,\t", key=head.count)
    reader, rows = csv.reader(text.splitlines(keepends=True), delimiter=separator), []
    try:
        rows += ((f"{shown_name(path)}, line {reader.line_num}", row) for row in reader)
    except csv.Error as trouble:
        raise FileTextError(path, f"is no table from line {reader.line_num} on: {trouble}") from None
    yield from _of_rows(path, rows)


def _of_book(path):
    raw = bytes_of_log(path, LIMITS)
    try:
        book = load_workbook(io.BytesIO(raw), read_only=True, keep_links=False)
        looked_at = {"max_row": MOST_LINES + 1, "max_col": MOST_COLUMNS}
        sheets = [(sheet.title, list(sheet.iter_rows(**looked_at)), _beyond(sheet)) for sheet in book.worksheets]
    except NO_BOOK:
        raise FileTextError(path, "is no spreadsheet that can be read") from None
    unnamed = None
    for title, cells, beyond in sheets:
        sheet = f"{shown_name(path)}, sheet {printable(title)!r:.40}"
        rows = [(f"{sheet}, row {number}", [_cell(cell) for cell in row]) for number, row in enumerate(cells, 1)]
        if beyond:
            yield f"{sheet}: what stands {beyond} is not read"
        try:
            yield from _of_rows(path, rows)
        except FileTextError as trouble:
            unnamed = trouble
            if len(sheets) > 1:
                yield f"{sheet}: no heads, not read"
    if unnamed is not None and len(sheets) == 1:
        raise unnamed


def _beyond(sheet):
    """Where on a sheet something stands that is not looked at, in words; "" where nothing does, or so much that nobody may look on."""
    sheet.reset_dimensions()  # what a sheet says of its own size is not believed
    # A cell alone in row 999999999999 makes openpyxl give every row above it: a bound, or that takes for ever.
    below = sheet.iter_rows(min_row=MOST_LINES + 2, max_row=MOST_ROWS, max_col=MOST_COLUMNS)
    for row, cells in enumerate(below, MOST_LINES + 2):
        if any(cell.value is not None for cell in cells):
            return f"below row {MOST_LINES + 1}, in row {row}"
        if row == MOST_ROWS:
            return f"below row {MOST_LINES + 1}, as far down as row {MOST_ROWS} or further"
    looked_at = 0
    for row in sheet.iter_rows(max_row=MOST_LINES + 1, min_col=MOST_COLUMNS + 1):
        looked_at += len(row)
        if looked_at > MOST_LOOKED_AT or any(cell.value is not None for cell in row):
            return f"right of column {MOST_COLUMNS}"
    return ""


def _cell(cell):
    """The words of a cell; of a formula nothing but that it is one, for nobody looked at what it comes to."""
    return "" if cell.value is None else FORMULA if getattr(cell, "data_type", "") == "f" else str(cell.value)


def _of_rows(path, rows):
    """Lines below the first row in which a setting and a value are headed."""
    start, at = next(((number, at) for number, (_, row) in enumerate(rows, 1) if (at := _heads(row))), (0, None))
    if at is None:
        raise FileTextError(path, f"must have a row of heads with {' and '.join(HEADS[part][0] for part in ('name', 'value'))}")
    group = ""
    for where, row in rows[start:]:
        cells = {part: row[column] if column is not None and column < len(row) else "" for part, column in at.items()}
        if FORMULA in cells.values():
            yield f"{where} holds a formula, not read: type the value"
            continue
        group = cells["group"].strip() or group
        if cells["name"].strip() or cells["value"].strip():
            yield where, group, cells["name"], cells["value"]


def _heads(row):
    """Columns of group, setting and value where a row heads them; None for another row."""
    plain = [" ".join(cell.split()).casefold() for cell in row]
    at = {part: next((plain.index(word) for word in words if word in plain), None) for part, words in HEADS.items()}
    return None if at["name"] is None or at["value"] is None else at


def _of_text(path, text):
    group = ""
    for number, line in enumerate(text.splitlines(), 1):
        where = f"{shown_name(path)}, line {number}"
        if title := _TITLE.match(line):
            group = title.group(1) or title.group(2)
        elif found := _LINE.match(line):
            yield where, found["group"] or group, found["name"], found["value"]
        elif line.strip():
            yield where, group, "", line.strip()
