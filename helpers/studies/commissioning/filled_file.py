"""The cells of a filled file; and what stands in them and is of no blank: text beside the tables, columns that somebody added, comments on
cells. It is named and never read: nobody can say what it is of. Source of the parts of a workbook: ECMA-376, Office Open XML (from memory,
not verified; held against what openpyxl writes by tests/studies/test_crew_strays.py)."""

import os
import warnings
import zipfile
from io import BytesIO
from posixpath import join, normpath
from xml.etree import ElementTree

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from helpers.model.files import FileTextError, bytes_there, printable
from helpers.model.packed_book import NO_BOOK, BookLimits, refuse_endless

# Of a filled file: bytes as it lies there, rows and columns looked at, and unpacked. Ours.
MOST_BYTES, MOST_ROWS, MOST_COLUMNS = 5_000_000, 1_000, 80
LIMITS = BookLimits(unpacked=60_000_000, parts=200, sheets=30, texts=100_000, elements=2_000_000)
MOST_NAMED = 12  # cells of a sheet that are named one by one; ours
SHOWN = 60  # letters of a text that are shown
BOOK, BOOK_LINKS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"


def grids_of(path):
    """({name of a sheet: {(row, column): (value, kind)}}, {name: {cell: comment}}) of an XLSX file. Raises FileTextError for what is
    none, or has no end."""
    raw = bytes_there(path, MOST_BYTES)
    try:
        refuse_endless(path, raw, LIMITS)
        with zipfile.ZipFile(BytesIO(raw)) as packed:
            comments = comments_of(packed)
        with warnings.catch_warnings():  # of parts that are not read here: what is missing of ours is told below
            warnings.simplefilter("ignore", UserWarning)
            book = load_workbook(BytesIO(raw), read_only=True, keep_links=False)
        return {sheet.title: _cells(sheet) for sheet in book.worksheets}, comments
    except FileTextError:
        raise
    except NO_BOOK as trouble:
        why = f"{type(trouble).__name__}: {printable(str(trouble))[:80]}"
        raise FileTextError(path, f"is no XLSX file that can be read ({why}); save it as XLSX, without a password") from None


def _cells(sheet):
    found = {}
    for row, cells in enumerate(sheet.iter_rows(min_row=1, max_row=MOST_ROWS, max_col=MOST_COLUMNS), 1):
        for column, cell in enumerate(cells, 1):
            if cell.value is not None:
                found[row, column] = (cell.value, cell.data_type)
    return found


def stray_cells(grid, tables, top, signed):
    """(cell, text) of everything on a sheet that is of no blank and no printed place, row by row.

    grid: {(row, column): (value, kind)}; tables: (head, end, {row of a line}, {column with a head}) of every table, `end` the row after its
    last; top: rows above the tables of which the second cell is ours; signed: row from which on people sign, two columns wide.
    """
    first = min((head for head, *_ in tables), default=0)
    for row, column in sorted(grid):
        text = " ".join(str(grid[row, column][0]).split())
        if text and not _ours(row, column, tables, first, top, signed):
            yield f"{get_column_letter(column)}{row}", text


def _ours(row, column, tables, first, top, signed):
    """Whether a cell is a blank or a printed place; what is in no table that was found is not judged."""
    if row < first:
        return column == 1 or (column == 2 and row in top)
    if row >= signed:
        return column <= 2
    for head, end, lines, columns in tables:
        if head <= row < end:
            return (row == head or row in lines) and (column == 1 or column in columns)
    return True


def comments_of(packed):
    """{name of a sheet: {cell: text}} of the comments in a workbook. packed: the opened `ZipFile`. Raises KeyError and ParseError for a
    workbook whose parts are not as they must be."""
    links, found = _links(packed, BOOK_LINKS, "xl"), {}
    names = set(packed.namelist())
    for sheet in ElementTree.fromstring(packed.read(BOOK)).iter():
        if _tag(sheet) != "sheet":
            continue
        part = links[next((value for name, value in sheet.attrib.items() if name.endswith("}id")), "")][1]
        folder, _, file = part.rpartition("/")
        own = f"{folder}/_rels/{file}.rels"
        for kind, target in _links(packed, own, folder).values() if own in names else ():
            if kind.endswith("/comments") and target in names:
                found[sheet.attrib["name"]] = dict(_comments(packed.read(target)))
    return found


def _links(packed, part, folder):
    """{id: (kind, part it leads to)} of a part's relations."""
    found = {}
    for link in ElementTree.fromstring(packed.read(part)):
        target = link.attrib.get("Target", "")
        found[link.attrib["Id"]] = link.attrib.get("Type", ""), normpath(target.lstrip("/") if target[:1] == "/" else join(folder, target))
    return found


def _comments(raw):
    for comment in ElementTree.fromstring(raw).iter():
        if _tag(comment) == "comment":
            yield comment.attrib.get("ref", ""), " ".join("".join(one.text or "" for one in comment.iter() if _tag(one) == "t").split())


def _tag(element):
    return str(element.tag).rpartition("}")[2]


def content_of(path):
    """By what a file is known to be the same as another: all that is in it, or its place where it is none, or too large to be a sheet, or
    not for everybody (who reads it says so)."""
    try:
        return bytes_there(path, MOST_BYTES)
    except FileTextError:
        return os.path.abspath(path)
