"""Filled sheets of a test day read back: every blank by the words of its line and column, every mistake with file, sheet and cell.

What is sound is used, the rest is told; nothing is written into a filled file. Values only: a formula in a blank is refused, for what it
comes to hangs on cells that nobody looked at. Files of several people are one set of readings; where two differ neither is used.
"""

import re
from dataclasses import dataclass, replace
from pathlib import Path

from openpyxl.utils import get_column_letter

from helpers import units
from helpers.model.files import FileTextError, printable, shown_name
from helpers.studies.commissioning.cell_values import in_si, in_the_day, value_of
from helpers.studies.commissioning.crew.blanks import Blank, forms
from helpers.studies.commissioning.crew.book import SITE, UNITS
from helpers.studies.commissioning.crew.merged import FilledCell, merged, within
from helpers.studies.commissioning.filled_file import MOST_NAMED, SHOWN, content_of, grids_of, stray_cells
from helpers.studies.commissioning.sheets import SIGNED, as_text
from helpers.studies.commissioning.workbook import AUTHORITY
from helpers.units.said import written_out

SIGNS = "initials"  # the column in which everybody who was there signs
MOST_FILES = 20  # at once; ours
_NUMBER = re.compile(r"^\d+\. ")
_FIGURES = re.compile(r"\d+(?:\.\d+)?")
LIMITS, WRITTEN_OVER = (
    ("least", "most", "limit"),
    0.01,
)  # ends of the columns of limits; share by which one is another than the site's; ours
INTO = "write it into a remark, a note or a deficiency"
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
    read = {}
    for name, path in zip(names, paths, strict=True):
        if (same := content_of(path)) in read:
            mistakes.append(f"{name}: the same book as {read[same]}, read once")
            continue
        read[same] = name
        for key, reading in _read_file(procedure.rounds.site.name, every, path, name, mistakes):
            (found if key in words else printed).setdefault(key, []).append(reading)
    apart = within(found)
    every = {key: merged(several, *words[key], apart) for key, several in found.items()}
    readings = {key: one.reading for key, one in every.items() if one.reading is not None}
    conflicts = tuple(one.conflict for one in every.values() if one.conflict)
    together = tuple(one.together for (_, _, column), one in every.items() if one.together and column != SIGNS)  # two may sign
    made = {key: tuple(dict.fromkeys(one.value for one in several)) for key, several in printed.items()}
    return FilledSheets(readings, tuple(mistakes), conflicts, made, together)


def _blank_said(form, key):
    _, line, column = key
    return f"{form.lines[line].label}, {form.columns[column]}"


def _read_file(site_name, every, path, name, mistakes):
    """Yields (key, `FilledCell`) of a file; what is wrong with it goes to the mistakes."""
    try:
        grids, comments = grids_of(path)
    except FileTextError as refusal:
        mistakes.append(str(refusal))
        return
    of_another = []
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
        of_another += reader.name_strays(comments.get(sheet, {}))
    if of_another:
        mistakes.append(_of_another_file(name, of_another))
    ours = dict.fromkeys(form.sheet for form in every)
    for sheet in grids:
        if sheet not in ours and grids[sheet]:
            mistakes.append(_strange_sheet(name, sheet, len(grids[sheet]), ours))


def _of_another_file(name, rows):
    """That a book has lines of this building with other figures, in one sentence; rows: (sheet, row, label), of which nothing is read."""
    shown = "; ".join(f"{sheet} row {row} {printable(label)!r:.{SHOWN}}" for sheet, row, label in rows[:MOST_NAMED])
    more = f"; and {len(rows) - MOST_NAMED} more" * (len(rows) > MOST_NAMED)
    return (
        f"{name}: book made from another site file of this building, or for another weather: {shown}{more}: none of these lines is this "
        "file's, and nothing of them is read; judge it by the file that it was made from, or write it into a book made anew"
    )


def _strange_sheet(file, sheet, cells, ours):
    """A sheet that is none of a test day's, in a sentence."""
    like = next((one for one in ours if sheet.casefold().strip().startswith(one.casefold())), None)
    cure = f"name it {like} where its readings count, beside no other of that name" if like else "move what counts into one of these"
    return (
        f"{file}, sheet {printable(sheet)!r:.40}: is none of a test day's sheets ({', '.join(ours)}); its {cells} filled cells are not "
        f"read: {cure}"
    )


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
        self.tables, self.refused, self.known, self.gone = [], set(), set(), []

    def refuse(self, cell, words):
        """A mistake in a cell, or in the sheet where there is none."""
        self.refused.add(cell)
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
        self.known |= {_figureless(written_out(line.label, self.system)) for line in form.lines.values()}
        for key, line in form.lines.items():
            if key not in lines and not line.optional:
                self.gone.append((title, written_out(line.label, self.system)))
            for row in lines.get(key, ()):
                yield from self._line(form, key, line, columns, row)
                yield from self._printed(form, key, line, head, row)
        self._strange(form, lines, columns, head, end)
        labels = {" ".join(written_out(label, self.system).split()) for label in form.columns.values()}
        headed = {column for column in range(2, self.last + 1) if _text(self.grid, head, column) in labels}
        self.tables.append((head, end, {row for rows in lines.values() for row in rows}, headed))

    def name_strays(self, comments):
        """Name lines that are not there, what stands beside the blanks, and the comments on cells; {cell: text}. Returns (sheet, row,
        label) of rows that are one of its lines but for the figures in it, for one sentence about the whole file."""
        top = {row for row in range(1, 30) if _text(self.grid, row, 1) in (SITE, UNITS)}
        ends = max((end for _, end, *_ in self.tables), default=self.rows + 1)
        strays = [(*one, int(one[0].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))) for one in stray_cells(self.grid, self.tables, top, ends)]
        rows = {row: text for cell, text, row in strays if cell == f"A{row}"}
        told = {row for cell, _, row in strays if cell in self.refused}
        rows = {row: label for row, label in rows.items() if row not in told and _figureless(label) in self.known}
        some = [(cell, text) for cell, text, row in strays if cell not in self.refused and row not in rows]
        other = {_figureless(label) for label in rows.values()}
        for title, label in self.gone:
            if _figureless(label) not in other:
                self.refuse("", f"{title}: the line {label!r} is not there; nothing of it is read")
        for cell, text in some[:MOST_NAMED]:
            self.refuse(
                cell, f"{printable(text)!r:.{SHOWN}} stands in no blank and is not read: write it into a remark, a note or a deficiency"
            )
        if len(some) > MOST_NAMED:
            self.refuse("", f"{len(some) - MOST_NAMED} more cells hold something and are no blanks; they are not read")
        for cell, text in comments.items():
            self.refuse(cell, f"the comment {printable(text)!r:.{SHOWN}} is not read: {INTO}")
        return [(self.sheet, row, label) for row, label in rows.items()]

    def _columns(self, form, head, title):
        asked = dict.fromkeys(column for line in form.lines.values() for column, cell in line.cells.items() if isinstance(cell, Blank))
        found, heads = {}, {_text(self.grid, head, column): column for column in range(self.last, 1, -1)}
        for column in asked:
            label = " ".join(written_out(form.columns[column], self.system).split())
            if label in heads:
                found[column] = heads[label]
            elif column not in form.optional:
                self.refuse(f"row {head}", f"{title}: the column {label!r} is not there; nothing of it is read")
        return found

    def _lines(self, form, head, others):
        """({line: rows}, the row after the last) of a form."""
        labels = {" ".join(written_out(line.label, self.system).split()): key for key, line in form.lines.items()}
        earlier = {_bare(written_out(label, self.system)): key for key, line in form.lines.items() for label in line.earlier}
        found, renamed, end = {}, [], self.rows + 1
        for row in range(head + 1, self.rows + 1):
            text = _text(self.grid, row, 1)
            if text in others or text in _HEADS_END:
                end = row
                break
            key = labels.get(text, earlier.get(_bare(text)))
            if key is not None:
                found.setdefault(key, []).append(row)
            elif (label := _begins_as(text, labels)) is not None:
                renamed.append((label, text, row))
        for label, text, row in renamed:
            if labels[label] not in found:  # else the row is one of nobody knows what
                found[labels[label]] = [row]
                rest = printable(text[len(label) :].strip())
                self.refuse(f"A{row}", f"is read as {label!r}; {rest!r:.{SHOWN}} behind its name is not read: write it into its remark")
        return found, end

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
                    FilledCell(in_the_day(column, value_of(raw, kind, cell, self.system)), self.file, self.sheet, at),
                )
            except ValueError as refusal:
                self.refuse(at, f"{words}: {refusal}; not read")

    def _printed(self, form, key, line, head, row):
        """What stands printed in a line, where the day is judged by it; a figure that is not there is told where it is judged. A limit
        that was written over is told: the day is judged by the site file's."""
        for column in form.columns:
            self._limit(form, line, column, head, row)
        for column in form.printed:
            label, cell = " ".join(written_out(form.columns[column], self.system).split()), line.cells.get(column)
            place = next((place for place in range(2, self.last + 1) if _text(self.grid, head, place) == label), None)
            raw, _ = self.grid.get((row, place), (None, ""))
            if isinstance(cell, tuple) and isinstance(raw, int | float) and not isinstance(raw, bool):
                at = f"{get_column_letter(place)}{row}"
                yield (form.key, key, column), FilledCell(in_si(raw, cell[1], self.system), self.file, self.sheet, at)

    def _limit(self, form, line, column, head, row):
        cell, label = line.cells.get(column), " ".join(written_out(form.columns[column], self.system).split())
        place = next((place for place in range(2, self.last + 1) if _text(self.grid, head, place) == label), None)
        raw, _ = self.grid.get((row, place), (None, ""))
        if not isinstance(cell, tuple) or raw is None or cell[0] is None:
            return
        is_figure = isinstance(raw, int | float) and not isinstance(raw, bool)
        if is_figure and not (str(column).endswith(LIMITS) and abs(in_si(raw, cell[1], self.system) / cell[0] - 1) > WRITTEN_OVER):
            return
        shown = units.show(cell[0], cell[1], self.system, 3)
        told = f"{line.label}, {label} is printed, and was written over: {printable(str(raw))!r:.40}"
        self.refuse(f"{get_column_letter(place)}{row}", f"{told}; the site file says {shown}, and that counts")

    def _strange(self, form, lines, columns, head, end):
        """Rows that hold something and are of no line."""
        known = {row for rows in lines.values() for row in rows}
        for row in range(head + 1, end):
            filled = [place for place in columns.values() if _text(self.grid, row, place)]
            if row not in known and filled:
                name = printable(_text(self.grid, row, 1))
                said = f"{name!r:.60} is no line of this site" if name else "must say in its first cell what it is of; nothing stands there"
                self.refuse(f"{get_column_letter(filled[0])}{row}", f"{said}; the row is not read")


def _begins_as(text, labels):
    """The longest of some labels with which a text begins, and behind which no letter or figure follows at once; None for none."""
    fit = [label for label in labels if text.startswith(label) and not text[len(label)].isalnum() and text[len(label) :].strip()]
    return max(fit, key=len, default=None)


def _figureless(label):
    """A label with every figure in it as one sign, so that lines of two site files of one building are alike."""
    return _FIGURES.sub("#", " ".join(label.split()))


def _bare(label):
    """A label without the number of a step, which a sheet made earlier may have otherwise."""
    return _NUMBER.sub("", " ".join(label.split()))
