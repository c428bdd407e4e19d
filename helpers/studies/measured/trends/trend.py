"""A trend log read: which column is what, times in seconds, values in SI; what could not be used is named by its line."""

import csv
import io
import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from helpers import require, units
from helpers.model.files import FileTextError, printable, shown_name
from helpers.studies.measured.trends import file_shape, spreadsheet, times
from helpers.studies.measured.trends.file_shape import FileShape

FEWEST_ROWS, LEAST_USED = 20, 0.5  # ours: rows of a log, share of a column's cells that must hold numbers
MOST_TIME = 40  # letters of a time
MOST_NUMBER = 1e6  # of a reading, in any unit: what is beyond is a slip of the logger; ours
NAMED_LINES = 3  # of what was not used, so many lines are named one by one
OF_ROLE = {
    "output": ("percent", "frequency"),
    "speed": ("frequency", "percent"),
    "readings": ("pressure", "percent"),
    "set_point": ("pressure", "percent"),
}
_WITH_UNIT = re.compile(r"\s*([-+−]?[\d.,]+)\s*([^\d\s.,+\-−].*)")


@dataclass(frozen=True)
class Columns:
    """Which heading is what. time: of the times; output: what the controller asks of the drive; speed: what the drive reports, as Hz or
    per cent of full speed; readings: of the transmitters, one or more, the one that is controlled first; set_point: where it is logged."""

    time: str
    readings: tuple[str, ...]
    output: str | None = None
    speed: str | None = None
    set_point: str | None = None

    def __post_init__(self):
        if isinstance(self.readings, str):
            object.__setattr__(self, "readings", (self.readings,))
        if not self.readings:
            raise ValueError("readings must name one column or more, got none")
        if self.output is None and self.speed is None:
            raise ValueError("output or speed must name a column: without either nothing says what the fan did; got neither")
        others = (self.output, self.speed, self.set_point)
        named = [self.time, *self.readings, *(one for one in others if one is not None)]
        if len(set(named)) < len(named):
            raise ValueError(f"columns must each have one job, got {', '.join(map(repr, named))}")

    @property
    def roles(self):
        """{heading: its role} of all that hold values."""
        single = {of: role for role in ("output", "speed", "set_point") if (of := getattr(self, role)) is not None}
        return dict.fromkeys(self.readings, "readings") | single


@dataclass(frozen=True)
class Trend:
    """A trend log as it was read. name: of the file; time_s [rows] rising from 0; values: {heading: [rows] in Pa, Hz or %, NaN where
    nothing was used}; dimensions: {heading: "pressure", "frequency" or "percent"}; lines [rows]: of the file; start, written: of its
    times; shape: `FileShape`; remarks: sentences of what was assumed, left out, put in order; unused: those of them about rows and cells
    of the file that are not used."""

    name: str
    columns: Columns
    time_s: np.ndarray
    values: dict[str, np.ndarray]
    dimensions: dict[str, str]
    lines: np.ndarray
    start: str
    written: str
    shape: FileShape
    remarks: tuple[str, ...] = ()
    unused: tuple[str, ...] = ()

    @property
    def rows(self):
        """How many rows are used."""
        return self.time_s.size

    @property
    def controlled(self):
        """Heading of the reading that is controlled."""
        return self.columns.readings[0]

    @property
    def input(self):
        """Heading of what moves the fan: the measured speed where there is one, else the output."""
        return self.columns.speed or self.columns.output


@dataclass
class _RowsRead:
    """Columns as they were read: float arrays, or pandas Series of text; lines [rows]; remarks."""

    cells: dict
    lines: np.ndarray
    remarks: list = field(default_factory=list)


def read_trend(path, columns, *, units_of=None, time_format=None, sheet=None):
    """Read a log.

    path: of a file with separators, or .xlsx; columns: `Columns`; units_of: {heading: unit} for headings that state none ("Pa", "in. w.c.",
    "%", "Hz", for times "s"); time_format: one of `times.FORMATS`, None to find out; sheet: of a spreadsheet (None: the first).
    Returns `Trend`. Raises ValueError in one sentence for a file that is none, a heading that is not there, a reading without a unit, units
    mixed in one column, a date to be read both ways, a column that holds no numbers in half of its rows, fewer than FEWEST_ROWS rows.
    What is wrong in a part is left out and named by its line in `remarks`: cells that hold no number, formulas in place of values, rows
    of another length, rows without a time, times twice, times that run backwards (the longest rising stretch is used).
    """
    require.of_kind(Columns, columns=columns)
    pandas, path, chosen = file_shape.pandas(), Path(path), []
    raw = file_shape.bytes_of_log(path)
    wanted = [columns.time, *columns.roles]
    if file_shape.is_book(path):
        shape, rows, remarks = spreadsheet.rows_of(path, raw, sheet, wanted)
        table = _of_rows(shape, rows, wanted, pandas)
        chosen = [one for one in remarks if one.startswith(spreadsheet.SHEET_READ)]
        table.remarks = [*(one for one in remarks if one not in chosen), *table.remarks]
    else:
        raw, encoding = file_shape.as_utf8(path, raw)
        shape = file_shape.shape_of_text(path, raw, encoding)
        table = _of_text(path, shape, raw, wanted, pandas)
    stated = _stated_units(shape, wanted, units_of or {})
    values, dimensions = {}, {}
    for heading, role in columns.roles.items():
        values[heading], dimensions[heading] = _values(shape, table, heading, role, stated[heading], pandas)
    cells = table.cells[columns.time]
    read = _times(shape, cells, stated[columns.time], columns.time, time_format, pandas)
    used, told, left = _in_order(read.seconds, table.lines)
    if used.size < FEWEST_ROWS:
        raise ValueError(f"{shown_name(path)} must hold {FEWEST_ROWS} rows or more whose times rise, got {used.size}")
    seconds = read.seconds[used]
    return Trend(
        shown_name(path), columns, seconds - seconds[0], {heading: of[used] for heading, of in values.items()}, dimensions,
        table.lines[used], read.start, read.written, shape, (*shape.remarks, *read.remarks, *chosen, *table.remarks, *told, *left),
        (*table.remarks, *left),
    )  # fmt: skip


def shape_of(path, sheet=None):
    """`FileShape` of a log, to point at its columns before it is read. Raises ValueError as `read_trend`."""
    path = Path(path)
    raw = file_shape.bytes_of_log(path)
    if file_shape.is_book(path):
        return spreadsheet.rows_of(path, raw, sheet, ())[0]
    return file_shape.shape_of_text(path, *file_shape.as_utf8(path, raw))


def _of_text(path, shape, raw, wanted, pandas):
    """A million rows a second where every cell is as it should be; else row by row, to name those that are not."""
    places = {heading: shape.place(heading) for heading in wanted}
    remarks, told_lines = [], raw.count(b"\n") + (not raw.endswith(b"\n"))
    if not raw.endswith((b"\n", b"\r")):
        remarks.append(f"Line {told_lines} has no end and may be cut off: it is not used.")
        raw = raw[: max(raw.rfind(b"\n"), raw.rfind(b"\r")) + 1]
        told_lines -= 1
    start = -1
    for _ in range(shape.first_line - 1):
        start = raw.find(b"\n", start + 1)
    body, many = raw[start + 1 :], told_lines - shape.first_line + 1
    fits = b'"' not in body and body.count(shape.separator.encode()) == many * (len(shape.headings) - 1)
    if fits:
        first = body[: body.find(b"\n")].decode().split(shape.separator)
        clock = places[wanted[0]]
        kinds = {place: float for place in places.values()}
        if not re.fullmatch(r"\s*[-+]?[\d.,]+([eE][-+]?\d+)?\s*", first[clock]):
            kinds[clock] = f"S{MOST_TIME}"
        try:
            read = pandas.read_csv(
                io.BytesIO(body), sep=shape.separator, decimal=shape.decimal, header=None, names=range(len(shape.headings)),
                index_col=False, usecols=list(kinds), dtype=kinds, engine="c", skip_blank_lines=False, low_memory=False,
                na_values={place: [] for place in kinds}, keep_default_na=True,
            )  # fmt: skip
        except ValueError:
            read = None
        if read is not None and len(read) == many:
            # releases differ in how they keep bytes
            cells = {heading: np.asarray(read[place].to_numpy(), dtype=kinds[place]) for heading, place in places.items()}
            return _RowsRead(cells, np.arange(many) + shape.first_line, remarks)
    rows, lines, odd = [], [], []
    reader = csv.reader(io.StringIO(body.decode(), newline=""), delimiter=shape.separator)
    while True:
        line = shape.first_line + reader.line_num
        try:
            row = next(reader)
        except StopIteration:
            break
        except csv.Error as trouble:
            raise FileTextError(path, f"cannot be taken apart at line {line}: {trouble}") from None
        if len(row) == len(shape.headings):
            rows.append(row)
            lines.append(line)
        elif row:
            odd.append(line)
    if odd:
        remarks.append(
            f"{_count(len(odd), 'row')} with more or fewer cells than the {len(shape.headings)} headings not used: {_lines(odd)}."
        )
    table = _of_rows(shape, list(zip(lines, rows, strict=True)), wanted, pandas)
    return _RowsRead(table.cells, table.lines, remarks)


def _of_rows(shape, rows, wanted, pandas):
    lines = np.array([line for line, _ in rows], int)
    columns = {heading: shape.place(heading) for heading in wanted}
    return _RowsRead({heading: pandas.Series([row[k].strip() for _, row in rows], dtype=object) for heading, k in columns.items()}, lines)


def _times(shape, texts, unit, name, time_format, pandas):
    if isinstance(texts, np.ndarray):
        return times.from_numbers(texts, unit, name) if texts.dtype.kind == "f" else times.from_bytes(texts, name, time_format, pandas)
    numbers = pandas.to_numeric(texts.str.replace(",", ".") if shape.decimal == "," else texts, errors="coerce").to_numpy(float)
    if time_format in (None, "since start") and np.isfinite(numbers).mean() > LEAST_USED:
        return times.from_numbers(numbers, unit, name)
    return times.from_texts(texts, name, time_format, pandas)


def _stated_units(shape, wanted, units_of):
    """{heading: unit text} of the headings, or as the caller says where they state none. Raises ValueError where both say different."""
    found = {heading: shape.unit_texts[shape.place(heading)] for heading in wanted}
    for heading, unit in units_of.items():
        if heading not in found:
            raise ValueError(f"units_of must name columns that are read, got {heading!r:.60}")
        if found[heading] and file_shape.plain(found[heading]) != file_shape.plain(unit):
            raise ValueError(f"column {heading!r:.60} states {found[heading]!r} in its heading, and units_of says {unit!r:.20}")
        found[heading] = unit
    return found


def _values(shape, table, heading, role, unit, pandas):
    """(values in SI [rows], dimension) of one column; what holds no number is named in the table's remarks."""
    cells, lines = table.cells[heading], table.lines
    if isinstance(cells, np.ndarray):
        numbers, missing = cells, np.flatnonzero(~np.isfinite(cells))
        if missing.size:
            table.remarks.append(f"{_count(missing.size, 'cell')} of {heading!r:.60} without a number: {_lines(lines[missing])}.")
            numbers = np.where(np.isfinite(cells), cells, np.nan)
    else:
        numbers, unit = _numbers(shape, table, heading, unit, pandas)
    beyond = np.flatnonzero(np.abs(numbers) > MOST_NUMBER)
    if beyond.size:
        said = f"a number beyond {MOST_NUMBER:,.0f}, which nothing here measures, not used"
        table.remarks.append(f"{_count(beyond.size, 'cell')} of {heading!r:.60} with {said}: {_lines(lines[beyond])}.")
        numbers = np.where(np.abs(numbers) > MOST_NUMBER, np.nan, numbers)
    if not unit:
        such = {"readings": "Pa", "set_point": "Pa", "output": "%", "speed": "Hz"}[role]
        raise ValueError(
            f'column {heading!r:.60} must state its unit: in the heading ("{heading} ({such})"), or as units_of='
            f'{{{heading!r:.60}: "{such}"}}; got none'
        )
    for dimension in OF_ROLE[role]:
        try:
            zero, one = (units.parse(f"{number} {unit}", dimension, heading) for number in (0, 1))
        except units.UnitError:
            continue
        if np.isfinite(numbers).mean() < LEAST_USED:
            raise ValueError(
                f"column {heading!r:.60} must hold numbers in half of its rows, got {np.isfinite(numbers).sum()} in {lines.size}"
            )
        return zero + (one - zero) * numbers, dimension
    said = " or ".join({"pressure": "a pressure", "percent": "per cent", "frequency": "Hz"}[of] for of in OF_ROLE[role])
    raise ValueError(f"column {heading!r:.60} must be {said} as {role.replace('_', ' ')}, got the unit {unit!r:.20}")


def _numbers(shape, table, heading, unit, pandas):
    """(numbers [rows], unit) of cells of text; units that stand in the cells must all be the same one, and that of the heading."""
    cells, lines = table.cells[heading], table.lines
    clean = cells.str.replace("−", "-", regex=False)
    clean = clean.str.replace(",", ".", regex=False) if shape.decimal == "," else clean
    numbers = pandas.to_numeric(clean, errors="coerce").to_numpy(float, copy=True)
    found, bare = {file_shape.plain(unit): ("the heading", unit)} if unit else {}, np.isfinite(numbers)
    for place in np.flatnonzero(~bare):
        split = _WITH_UNIT.fullmatch(clean.iloc[place])
        if split is None or not file_shape.known_unit(split[2]):
            continue
        key = file_shape.plain(split[2])
        found.setdefault(key, (f"line {lines[place]}", split[2].strip()))
        try:
            numbers[place] = float(split[1])
        except ValueError:
            continue
    if len(found) > 1 or (found and not unit and bare.any()):
        said = " and ".join(f"{of!r} ({where})" for where, of in list(found.values())[:2])
        more = "" if len(found) > 1 else f" and none (line {lines[np.flatnonzero(bare)[0]]})"
        raise ValueError(f"column {heading!r:.60} must have one unit, got {said}{more}")
    unit = unit or next((of for _, of in found.values()), "")
    missing = np.flatnonzero(~np.isfinite(numbers))
    numbers[missing] = np.nan
    if missing.size:
        first = next((text for text in (cells.iloc[k] for k in missing) if text), "")
        such = f", such as {printable(first)!r:.40}" if first else ""
        table.remarks.append(f"{_count(missing.size, 'cell')} of {heading!r:.60} without a number{such}: {_lines(lines[missing])}.")
    return numbers, unit


def _in_order(seconds, lines):
    """(places of the rows that are used, sentences about their order, sentences about those that are not used): their times rise from each
    to the next."""
    told, left_out, places = [], [], np.flatnonzero(np.isfinite(seconds))
    if places.size < seconds.size:
        lost = lines[~np.isfinite(seconds)]
        left_out.append(f"{_count(lost.size, 'row')} without a time that can be read not used: {_lines(lost)}.")
    steps = np.diff(seconds[places])
    if steps.size and (steps <= 0).all() and (steps < 0).any():
        told.append("The newest row stands first: the rows are taken in the order of their times.")
        places = places[::-1]
        steps = np.diff(seconds[places])
    if (steps < 0).any():
        breaks = np.flatnonzero(steps < 0) + 1
        stretches = np.split(places, breaks)
        kept = max(stretches, key=len)
        more = ["", " and more"]
        at = ", ".join(str(line) for line in lines[places[breaks[:NAMED_LINES]]])
        left = ", ".join(
            f"{lines[part].min()} to {lines[part].max()}" for part in [one for one in stretches if one is not kept][:NAMED_LINES]
        )
        left_out.append(
            f"Time runs backwards at line {at}{more[breaks.size > NAMED_LINES]}: the longest rising stretch, lines "
            f"{lines[kept].min()} to {lines[kept].max()}, is used; lines {left}{more[len(stretches) - 1 > NAMED_LINES]} are not."
        )
        places = kept
        steps = np.diff(seconds[places])
    again = np.flatnonzero(steps == 0) + 1
    if again.size:
        left_out.append(f"{_count(again.size, 'row')} with the time of the row before not used: {_lines(lines[places[again]])}.")
        places = np.delete(places, again)
    return places, told, left_out


def _count(number, what):
    return f"{number} {what}{'' if number == 1 else 's'}"


def _lines(lines):
    """Line numbers in words, the first few one by one."""
    first = ", ".join(str(int(line)) for line in lines[:NAMED_LINES])
    return f"line {first}" + (f" and {len(lines) - NAMED_LINES} more" if len(lines) > NAMED_LINES else "")
