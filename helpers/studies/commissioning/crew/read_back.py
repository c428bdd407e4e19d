"""Filled sheets of a test day read back: every blank by the words of its line and column, every mistake with file, sheet and cell.

What is sound is used, the rest is told; nothing is written into a filled file. Values only: a formula in a blank is refused, for what it
comes to hangs on cells that nobody looked at. Files of several people are one set of readings; where two differ neither is used.
"""

import re
import warnings
import zipfile
import zlib
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from io import BytesIO
from math import isfinite
from pathlib import Path
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from helpers import units
from helpers.model.files import FileTextError, bytes_there, printable, shown_name
from helpers.model.test_day import date_of
from helpers.studies.commissioning.crew.blanks import DATE, Blank, forms
from helpers.studies.commissioning.crew.book import SITE, UNITS
from helpers.studies.commissioning.crew.merged import FilledCell, merged, within
from helpers.studies.commissioning.sheets import SIGNED, as_text
from helpers.studies.commissioning.workbook import AUTHORITY
from helpers.units.said import written_out

# Of a filled file: bytes as it lies there and unpacked, parts, sheets, rows and columns looked at, letters of a text; files at once. Ours.
MOST_BYTES, MOST_UNPACKED, MOST_PARTS, MOST_SHEETS, MOST_ROWS, MOST_COLUMNS, MOST_LETTERS, MOST_FILES = (
    5_000_000, 60_000_000, 200, 30, 1_000, 80, 300, 20
)  # fmt: skip
_UNREADABLE = (KeyError, ValueError, TypeError, AttributeError, IndexError, OSError, EOFError, RuntimeError, NotImplementedError,
               zipfile.BadZipFile, zlib.error, ParseError)  # fmt: skip
_DOCTYPES = tuple(word.encode(code) for word in ("<!DOCTYPE", "<!ENTITY") for code in ("utf-8", "utf-16-le", "utf-16-be"))
_TIME = re.compile(r"(?<!\d)(\d{1,2}):(\d{2})(?!\d)")
_BARE = re.compile(r"\s*[-+−]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?\s*")
_HEADS_END = (*SIGNED, *AUTHORITY)


@dataclass(frozen=True)
class FilledSheets:
    """What was read: readings by (table, line, column) as `blanks.every_blank` has them; mistakes and conflicts, a sentence each;
    printed: figures (SI) that stood printed there and that the day is judged by, by the same keys, those of every file; together: of which
    places several people's readings count as one, a sentence each."""

    readings: dict
    mistakes: tuple
    conflicts: tuple
    printed: dict
    together: tuple = ()

    def value(self, *key):
        """The value of a blank, None where nothing stands that can be used."""
        found = self.readings.get(key)
        return None if found is None else found.value

    def at_ends(self):
        """The same with the smallest and with the largest of what several people read of a place: what a figure is held to its limit by.
        None where nobody read anything twice."""
        for end in (0, -1) if self.together else ():
            changed = {key: replace(one, value=one.every[end]) for key, one in self.readings.items() if one.every}
            yield replace(self, readings=self.readings | changed)

    def values(self):
        """All values by key, as `book.write_book` takes them."""
        return {key: one.value for key, one in self.readings.items()}


def read_filled(procedure, paths):
    """Read filled books of one `Procedure`'s site. paths: one or several files. Returns `FilledSheets`.

    A file of which nothing can be read (no XLSX, endless, of another site in every sheet) is a mistake like another. Raises ValueError for
    no file, and for more than MOST_FILES.
    """
    paths = [Path(path) for path in paths]
    if not 1 <= len(paths) <= MOST_FILES:
        raise ValueError(f"filled sheets must be 1 to {MOST_FILES} files; got {len(paths)}")
    names = [shown_name(path, whole=[other.name for other in paths].count(path.name) > 1) for path in paths]
    every, found, printed, mistakes = forms(procedure), {}, {}, []
    words = {key: (_blank_said(form, key), blank) for form in every for key, blank in form.blanks()}
    for name, path in zip(names, paths, strict=True):
        for key, reading in _read_file(procedure.rounds.site.name, every, path, name, mistakes):
            (found if key in words else printed).setdefault(key, []).append(reading)
    apart = within(found)
    every = {key: merged(several, *words[key], apart) for key, several in found.items()}
    readings = {key: one.reading for key, one in every.items() if one.reading is not None}
    conflicts, together = (tuple(filter(None, (getattr(one, what) for one in every.values()))) for what in ("conflict", "together"))
    made = {key: tuple(dict.fromkeys(one.value for one in several)) for key, several in printed.items()}
    return FilledSheets(readings, tuple(mistakes), conflicts, made, together)


def _blank_said(form, key):
    _, line, column = key
    return f"{form.lines[line].label}, {form.columns[column]}"


def _read_file(site_name, every, path, name, mistakes):
    """Yields (key, `FilledCell`) of a file; what is wrong with it goes to the mistakes."""
    try:
        grids = _grids(path)
    except FileTextError as refusal:
        mistakes.append(str(refusal))
        return
    for sheet in dict.fromkeys(form.sheet for form in every):
        if sheet not in grids:
            mistakes.append(f"{name}: the sheet {sheet} is not there; nothing of it is read")
            continue
        grid, some = grids[sheet], [form for form in every if form.sheet == sheet]
        system, refused = _made_for(grid, site_name)
        if refused:
            mistakes.append(f"{name}, sheet {sheet}{refused}")
            continue
        reader = _SheetReader(grid, system, name, sheet, mistakes)
        for form in some:
            yield from reader.read(form, [other.title for other in some])
    ours = dict.fromkeys(form.sheet for form in every)
    for sheet in grids:
        if sheet not in ours and grids[sheet]:
            mistakes.append(_strange_sheet(name, sheet, len(grids[sheet]), ours))


def _strange_sheet(file, sheet, cells, ours):
    """A sheet that is none of a test day's, in a sentence."""
    like = next((one for one in ours if sheet.casefold().strip().startswith(one.casefold())), None)
    cure = f"name it {like} where its readings count, beside no other of that name" if like else "move what counts into one of these"
    return (
        f"{file}, sheet {printable(sheet)!r:.40}: is none of a test day's sheets ({', '.join(ours)}); its {cells} filled cells are not "
        f"read: {cure}"
    )


def _grids(path):
    """Cells of every sheet: {name: {(row, column): (value, kind)}}. Raises FileTextError for what is no such file."""
    raw = bytes_there(path, MOST_BYTES)
    try:
        with zipfile.ZipFile(BytesIO(raw)) as packed:
            _refuse_endless(path, packed)
        with warnings.catch_warnings():  # of parts that are not read here: what is missing of ours is told below
            warnings.simplefilter("ignore", UserWarning)
            book = load_workbook(BytesIO(raw), read_only=True, keep_links=False)
        if len(book.worksheets) > MOST_SHEETS:
            raise FileTextError(path, f"must hold {MOST_SHEETS} sheets at the most, got {len(book.worksheets)}")
        return {sheet.title: _cells(sheet) for sheet in book.worksheets}
    except FileTextError:
        raise
    except _UNREADABLE as trouble:
        why = f"{type(trouble).__name__}: {printable(str(trouble))[:80]}"
        raise FileTextError(path, f"is no XLSX file that can be read ({why}); save it as XLSX, without a password") from None


def _refuse_endless(path, packed):
    parts = packed.infolist()
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS or unpacked > MOST_UNPACKED:
        raise FileTextError(path, f"must unpack to {MOST_UNPACKED} bytes in {MOST_PARTS} parts at the most, got {unpacked} in {len(parts)}")
    for part in parts:
        if part.filename.endswith((".xml", ".rels")) and any(word in packed.read(part) for word in _DOCTYPES):
            raise FileTextError(path, "declares entities of its own, which no spreadsheet does")


def _cells(sheet):
    found = {}
    for row, cells in enumerate(sheet.iter_rows(min_row=1, max_row=MOST_ROWS, max_col=MOST_COLUMNS), 1):
        for column, cell in enumerate(cells, 1):
            if cell.value is not None:
                found[row, column] = (cell.value, cell.data_type)
    return found


def _text(grid, row, column):
    value, _ = grid.get((row, column), (None, ""))
    return "" if value is None else " ".join(str(value).split())


def _made_for(grid, site_name):
    """(system of units of a sheet, "") or ("", why it is not read, after the sheet's name)."""
    heads = {_text(grid, row, 1): row for row in range(1, 30) if _text(grid, row, 1) in (SITE, UNITS)}
    for head in (SITE, UNITS):
        if head not in heads:
            return "", f": must begin with the lines {SITE} and {UNITS}; {head} is not there, nothing of the sheet is read"
    site, system = (_text(grid, heads[head], 2) for head in (SITE, UNITS))
    if site not in (" ".join(site_name.split()), " ".join(as_text(site_name).split())):
        return "", f", B{heads[SITE]}: must be a sheet of {site_name!r}; got one of {printable(site)!r:.80}, nothing of it is read"
    if system not in units.SYSTEMS:
        words = " or ".join(units.SYSTEMS)
        return "", f", B{heads[UNITS]}: must be {words}; got {printable(system)!r:.60}, nothing of the sheet is read"
    return system, ""


class _SheetReader:
    """One sheet of one file."""

    def __init__(self, grid, system, file, sheet, mistakes):
        self.grid, self.system, self.file, self.sheet, self.mistakes = grid, system, file, sheet, mistakes
        self.rows = max((row for row, _ in grid), default=0)
        self.last = max((column for _, column in grid), default=0)

    def refuse(self, cell, words):
        """A mistake in a cell, or in the sheet where there is none."""
        self.mistakes.append(f"{self.file}, sheet {self.sheet}{f', {cell}' if cell else ''}: {words}")

    def read(self, form, titles):
        """Yields (key, `FilledCell`) of a form; titles: of all forms of the sheet, at which another begins."""
        titles = [" ".join(written_out(title, self.system).split()) for title in titles]
        title = " ".join(written_out(form.title, self.system).split())
        head = next((row for row in range(1, self.rows + 1) if _text(self.grid, row, 1) == title), None)
        if head is None:
            self.refuse("", f"the table {title!r} is not there; its {len(list(form.blanks()))} blanks are not read")
            return
        columns = self._columns(form, head, title)
        lines, end = self._lines(form, head, [other for other in titles if other != title])
        for key, line in form.lines.items():
            if key not in lines and not line.optional:
                self.refuse("", f"{title}: the line {written_out(line.label, self.system)!r} is not there; nothing of it is read")
            for row in lines.get(key, ()):
                yield from self._line(form, key, line, columns, row)
                yield from self._printed(form, key, line, head, row)
        self._strange(form, lines, columns, head, end)

    def _columns(self, form, head, title):
        asked = dict.fromkeys(column for line in form.lines.values() for column, cell in line.cells.items() if isinstance(cell, Blank))
        found, heads = {}, {_text(self.grid, head, column): column for column in range(self.last, 1, -1)}
        for column in asked:
            label = " ".join(written_out(form.columns[column], self.system).split())
            if label in heads:
                found[column] = heads[label]
            else:
                self.refuse(f"row {head}", f"{title}: the column {label!r} is not there; nothing of it is read")
        return found

    def _lines(self, form, head, others):
        """({line: rows}, the row after the last) of a form."""
        labels = {" ".join(written_out(line.label, self.system).split()): key for key, line in form.lines.items()}
        found = {}
        for row in range(head + 1, self.rows + 1):
            text = _text(self.grid, row, 1)
            if text in others or text in _HEADS_END:
                return found, row
            if text in labels:
                found.setdefault(labels[text], []).append(row)
        return found, self.rows + 1

    def _line(self, form, key, line, columns, row):
        for column, place in columns.items():
            cell, (raw, kind) = line.cells.get(column), self.grid.get((row, place), (None, ""))
            at = f"{get_column_letter(place)}{row}"
            if raw is None or (isinstance(raw, str) and not raw.strip()):
                continue
            words = written_out(f"{line.label}, {form.columns[column]}", self.system)
            if not isinstance(cell, Blank):
                if cell is None or _text(self.grid, row, place) != written_out(str(cell), self.system):
                    why = f" ({written_out(cell, self.system)})" if isinstance(cell, str) else ""
                    self.refuse(at, f"{words} is no blank{why}; {printable(str(raw))!r:.40} is not read")
                continue
            try:
                yield (
                    (form.key, key, column),
                    FilledCell(_in_the_day(column, _value(raw, kind, cell, self.system)), self.file, self.sheet, at),
                )
            except ValueError as refusal:
                self.refuse(at, f"{words}: {refusal}; not read")

    def _printed(self, form, key, line, head, row):
        """What stands printed in a line, where the day is judged by it; a figure that is not there is told where it is judged."""
        for column in form.printed:
            label, cell = " ".join(written_out(form.columns[column], self.system).split()), line.cells.get(column)
            place = next((place for place in range(2, self.last + 1) if _text(self.grid, head, place) == label), None)
            raw, _ = self.grid.get((row, place), (None, ""))
            if isinstance(cell, tuple) and isinstance(raw, int | float) and not isinstance(raw, bool):
                at = f"{get_column_letter(place)}{row}"
                yield (form.key, key, column), FilledCell(_si(raw, cell[1], self.system), self.file, self.sheet, at)

    def _strange(self, form, lines, columns, head, end):
        """Rows that hold something and are of no line."""
        known = {row for rows in lines.values() for row in rows}
        for row in range(head + 1, end):
            filled = [place for place in columns.values() if _text(self.grid, row, place)]
            if row not in known and filled:
                name = printable(_text(self.grid, row, 1))
                said = f"{name!r:.60} is no line of this site" if name else "must say in its first cell what it is of; nothing stands there"
                self.refuse(f"{get_column_letter(filled[0])}{row}", f"{said}; the row is not read")


def _value(raw, kind, blank, system):
    """The value of a cell in SI, or its words. Raises ValueError with what must stand there and what does."""
    if kind == "f" or (isinstance(raw, str) and raw.startswith("=")):
        told = getattr(raw, "text", raw)
        raise ValueError(f"must be what was read and not a formula; got {printable(str(told))!r:.60}")
    if kind == "e":
        raise ValueError(f"must be what was read; got the error {printable(str(raw))!r:.20}")
    if blank.is_number:
        return _number(raw, blank, system)
    if blank.kind == DATE:
        return _date(raw)
    words = raw.strftime("%H:%M") if isinstance(raw, time) else f"{raw:g}" if isinstance(raw, float) else str(raw)
    words = printable(" ".join(words.split()))
    if len(words) > MOST_LETTERS:
        raise ValueError(f"must be {MOST_LETTERS} letters at the most; got {len(words)}")
    if blank.options:
        found = next((word for word in blank.options if word.casefold() == words.casefold()), None)
        if found is None:
            raise ValueError(f"must be {' or '.join(blank.options)}; got {words!r:.60}")
        return found
    return words


def _in_the_day(column, value):
    """The words of a column that asks for a time. Raises ValueError for a time that no clock shows."""
    times = _TIME.findall(value) if column in ("time", "given") and isinstance(value, str) else ()
    for hour, minute in times:
        if int(hour) > 23 or int(minute) > 59:
            raise ValueError(f"must be a time of day from 00:00 to 23:59; got '{hour}:{minute}'")
    return value


def _date(raw):
    if isinstance(raw, datetime | date):
        return date_of(raw.strftime("%Y-%m-%d")).isoformat()
    try:
        found = date.fromisoformat(str(raw).strip())
    except ValueError:
        got = printable(str(raw))
        raise ValueError(f"must be a date as year-month-day, so that nobody takes the month for the day; got {got!r:.40}") from None
    return date_of(found.isoformat()).isoformat()


def _number(raw, blank, system):
    kind = blank.kind
    unit = "min" if kind == "minutes" else units.unit_label(kind, system)
    if isinstance(raw, datetime | date | time):
        raise ValueError(f"must be a figure in {unit}; got a date or a time, as a spreadsheet makes of what looks like one")
    if isinstance(raw, str):
        value = _typed_number(raw, kind, unit, system)
    elif isinstance(raw, bool) or not isinstance(raw, int | float):
        raise ValueError(f"must be a figure in {unit}; got {printable(str(raw))!r:.40}")
    else:
        value = _si(raw, kind, system)
    low, high, above = blank.ends
    if not isfinite(value) or not low <= value <= high or (above and value == low):
        ends = [f"{end:g} min" if kind == "minutes" else units.show(end, kind, system, 2) for end in (low, high)]
        wrong = "; a flow goes in by the fan and has no sign" if kind == "flow" and value < 0 else ""
        told = f"above {ends[0]}, {ends[1]} at the most" if above else f"from {ends[0]} to {ends[1]}"
        raise ValueError(f"must be {told}; got {printable(str(raw))!r:.40}{wrong}")
    return value


def _si(value, kind, system):
    return float(value) if kind == "minutes" else float(units.from_display(float(value), kind, system))


def _typed_number(text, kind, unit, system):
    """A figure that stands in its cell as text: bare, in the unit of the head, or with a unit of its own."""
    if _BARE.fullmatch(text):
        return _si(float(text.replace("−", "-")), kind, system)
    if "," in text:
        raise ValueError(f"must be a figure in {unit} with a point, not a comma; got {printable(text)!r:.40}")
    try:
        if kind != "minutes":
            return units.parse(text, kind)
    except ValueError:
        pass  # told below, with the unit that the head asks for
    raise ValueError(f"must be a figure in {unit}; got {printable(text)!r:.40}")
