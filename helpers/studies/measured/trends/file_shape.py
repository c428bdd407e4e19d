"""How the file of a trend log is laid out: letters, separator, decimal sign, headings, units; the one door through which pandas is asked.

Nothing is guessed that changes a figure: a decimal comma is taken only where every number of the first rows fits it, a unit only from the
heading (or the row below it, or what the caller says). Limits: one table a file, headings in one row with at most one row of units below.
"""

import csv
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from helpers import units
from helpers.model.files import FileTextError, bytes_there, printable, shown_name
from helpers.model.packed_book import NO_BOOK, BookLimits, refuse_endless

MOST_BYTES = 200_000_000  # of a file with separators; some four million rows
MOST_BOOK_BYTES = 30_000_000  # of a spreadsheet, as it lies; below unpacked
LIMITS = BookLimits(unpacked=400_000_000, parts=1_000, sheets=100, texts=500_000, elements=30_000_000)
MOST_COLUMNS, LOOKED_AT_LINES, MOST_HEAD = 200, 200, 60
SEPARATORS = (";", "\t", "|", ",")
BOOKS = (".xlsx", ".xlsm")
READ_DIMENSIONS = ("pressure", "percent", "frequency", "time")
_NUMBER = re.compile(r"\s*[-+−]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?\s*")
_THOUSANDS = re.compile(r"\s*[-+−]?[1-9]\d{0,2},\d{3}\s*")
_IN_BRACKETS = re.compile(r"[(\[]([^()\[\]]*)[)\]]\s*$")


def pandas():
    """The module. Raises ValueError, with a sentence, where it is not installed (as in the page that runs in a browser alone)."""
    try:
        import pandas as module
    except ImportError:
        raise ValueError("trend logs are read with pandas, which is not installed here") from None
    return module


@dataclass(frozen=True)
class FileShape:
    """The layout of one file.

    headings: of all columns; unit_texts: the unit each heading states ("" where none); separator, decimal: "" for a spreadsheet; encoding;
    head_line: the line (row) of the headings, counted from 1; first_line: of the first row of values; sheet: of a spreadsheet; remarks:
    sentences about what was found.
    """

    headings: tuple[str, ...]
    unit_texts: tuple[str, ...]
    separator: str
    decimal: str
    encoding: str
    head_line: int
    first_line: int
    sheet: str = ""
    remarks: tuple[str, ...] = ()

    @property
    def key(self):
        """A short text that files of the same shape have in common: by it the choice of columns is remembered."""
        parts = (*self.headings, *self.unit_texts, self.separator, self.decimal)
        return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:16]

    def place(self, name):
        """Number of the column of that heading, with or without its unit. Raises ValueError where none or more than one has it."""
        wanted = plain(name)
        found = [k for k, heading in enumerate(self.headings) if plain(heading) == wanted]
        found = found or [k for k, heading in enumerate(self.headings) if plain(_IN_BRACKETS.sub("", heading)) == wanted]
        if len(found) != 1:
            listed = ", ".join(repr(heading) for heading in self.headings[:30])
            many = f"stands over {len(found)} columns" if found else "is not in the file"
            raise ValueError(f"column {printable(name)!r:.60} {many}; its headings are {listed}")
        return found[0]


def plain(heading):
    """A heading to compare: small letters, single blanks."""
    return " ".join(str(heading).lower().split())


def unit_of_heading(heading):
    """The unit that a heading states at its end, in brackets or as its last words; "" where it states none that is known.

    >>> unit_of_heading("Stair pressure (in. w.c.)"), unit_of_heading("Speed Hz"), unit_of_heading("PDT-1, Pa"), unit_of_heading("PDT-1")
    ('in. w.c.', 'Hz', 'Pa', '')
    """
    bracket = _IN_BRACKETS.search(heading)
    if bracket and known_unit(bracket[1]):
        return bracket[1].strip()
    words = re.split(r"[\s,;/:_]+", heading.strip())
    for count in (3, 2, 1):
        said = " ".join(words[-count:])
        if len(words) > count and known_unit(said):
            return said
    return ""


def known_unit(text):
    """Dimension of a unit as one of `READ_DIMENSIONS` has it; "" where none has."""
    text = text.strip()
    if not text or len(text) > 12:
        return ""
    for dimension in READ_DIMENSIONS:
        try:
            units.parse(f"1 {text}", dimension)
        except units.UnitError:
            continue
        return dimension
    return ""


def is_book(path):
    """Whether a file is a spreadsheet, by its name."""
    return Path(path).suffix.lower() in BOOKS


def bytes_of_log(path, limits=LIMITS):
    """All bytes of a log. limits: of a spreadsheet. Raises FileTextError, with a sentence, for what is no plain file, too long, or a
    spreadsheet that would unpack to too much."""
    path = Path(path)
    raw = bytes_there(path, MOST_BOOK_BYTES if is_book(path) else MOST_BYTES)
    if not raw.strip():
        raise FileTextError(path, "is empty")
    if raw[:4] == b"\xd0\xcf\x11\xe0":
        raise FileTextError(path, "is a spreadsheet of the old kind, or one with a password: store it as .xlsx without one, or as .csv")
    if is_book(path):
        try:
            refuse_endless(path, raw, limits)
        except FileTextError:
            raise
        except NO_BOOK:
            raise FileTextError(path, "is no spreadsheet: its parts cannot be unpacked") from None
    return raw


def as_utf8(path, raw):
    """(bytes in UTF-8 without a byte order mark, encoding found). Raises FileTextError for bytes that are no text."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return raw.decode("utf-16").encode(), "UTF-16"
        except UnicodeDecodeError:
            raise FileTextError(path, "begins as a text in UTF-16 and is none") from None
    raw = raw.removeprefix(b"\xef\xbb\xbf")
    if b"\x00" in raw:
        raise FileTextError(path, "is no text: a byte of zero lies in it")
    if raw.isascii():
        return raw, "ASCII"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        try:
            return raw.decode("cp1252").encode(), "Windows-1252"
        except UnicodeDecodeError:
            raise FileTextError(path, "is no text in UTF-8, UTF-16 or Windows-1252") from None
    return raw, "UTF-8"


def shape_of_text(path, raw, encoding):
    """`FileShape` of a file with separators, from its first lines. Raises ValueError where no headings stand over rows of numbers."""
    end = -1
    for _ in range(LOOKED_AT_LINES):
        end = raw.find(b"\n", end + 1)
        if end < 0:
            end = len(raw)
            break
    lines = raw[: min(end, 400_000)].decode("utf-8", errors="replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    best = None
    for separator in SEPARATORS:
        rows = [_cells_of(line, separator) for line in lines]
        found = _head(rows)
        if found and (best is None or len(rows[found[0]]) > len(best[1][best[2][0]])):
            best = separator, rows, found
    if best is None:
        raise ValueError(
            f"{shown_name(path)} must hold a row of headings over rows with a time and numbers, parted by semicolon, tab, | or comma; "
            f"its first {min(len(lines), LOOKED_AT_LINES)} lines have none"
        )
    separator, rows, (head, first) = best
    headings = tuple(printable(cell).strip()[:80] for cell in rows[head])
    if len(headings) > MOST_COLUMNS:
        raise ValueError(f"{shown_name(path)} must have {MOST_COLUMNS} columns at the most, got {len(headings)}")
    decimal = _decimal(path, separator, [row for row in rows[first:] if len(row) == len(headings)])
    remarks = [f"Letters: {encoding}."] if encoding not in ("ASCII", "UTF-8") else []
    remarks += [f"Lines 1 to {head} stand above the headings and are not values."] if head else []
    remarks += ["Numbers are written with a decimal comma."] if decimal == "," else []
    return FileShape(
        headings, _units(headings, rows[head + 1] if first > head + 1 else ()), separator, decimal, encoding, head + 1, first + 1,
        remarks=tuple(remarks),
    )  # fmt: skip


def _cells_of(line, separator):
    """Cells of one line; none of a line with a cell that is longer than any may be."""
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return []


def shape_of_rows(path, rows, sheet):
    """`FileShape` of a sheet's first rows, a list of lists of cells as text."""
    found = _head(rows)
    if found is None:
        raise ValueError(f"{shown_name(path)}, sheet {sheet!r:.40}, must hold a row of headings over rows with a time and numbers")
    head, first = found
    headings = tuple(printable(cell).strip()[:80] for cell in rows[head])
    return FileShape(headings, _units(headings, rows[head + 1] if first > head + 1 else ()), "", ".", "", head + 1, first + 1, sheet)


def _head(rows):
    """(place of the headings, place of the first values); None where there are none. Below the headings as many cells stand, most of them
    with digits; one row between, of units alone, may be there."""
    for head, row in enumerate(rows[:MOST_HEAD]):
        if len(row) < 2 or _digits(row) or sum(bool(cell.strip()) for cell in row) < 2:
            continue
        for first in (head + 1, head + 2):
            below = rows[first] if first < len(rows) else []
            between = rows[head + 1] if head + 1 < len(rows) else []
            if first == head + 2 and not (len(between) == len(row) and all(not c.strip() or known_unit(c) for c in between)):
                break
            if len(below) == len(row) and _digits(below):
                return head, first
    return None


def _digits(row):
    """Whether a row looks like values: its cells hold numbers or times."""
    filled = [cell for cell in row if cell.strip()]
    like = sum(bool(_NUMBER.fullmatch(cell)) or bool(re.match(r"\s*\d+[-./:]\d", cell)) for cell in filled)
    return bool(filled) and like >= max(1, len(filled) / 2)


def _units(headings, below):
    stated = [unit_of_heading(heading) for heading in headings]
    return tuple(of or (below[k].strip() if k < len(below) and known_unit(below[k]) else "") for k, of in enumerate(stated))


def _decimal(path, separator, rows):
    numbers = [cell for row in rows for cell in row if _NUMBER.fullmatch(cell)]
    commas = [cell for cell in numbers if "," in cell]
    points = [cell for cell in numbers if "." in cell]
    if commas and points:
        raise ValueError(
            f"{shown_name(path)} must write all numbers with the same decimal sign, got {points[0].strip()!r} and {commas[0].strip()!r}"
        )
    if commas and all(_THOUSANDS.fullmatch(cell) for cell in commas):
        raise ValueError(
            f"{shown_name(path)}: is {commas[0].strip()!r} a figure above a thousand, or has it three decimals? Write the numbers without "
            "signs between thousands, or with another number of decimals"
        )
    return "," if commas else "."
