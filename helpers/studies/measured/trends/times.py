"""The time column of a trend log: as ISO 8601 writes it, with day or month first, as a clock alone, or as seconds since the start.

A date that may be read both ways is refused with the question; no clock of the machine, no time zone of the reader is asked.
Limits: a clock that is set back is told as time that runs backwards; leap seconds are not known.
"""

import re
from typing import NamedTuple

import numpy as np

from helpers import require, units

FORMATS = ("ISO", "day first", "month first", "clock", "since start")
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}([ T]\d{2}:\d{2}(:\d{2}([.,]\d+)?)?)?\s*(Z|[+-]\d{2}:?\d{2})?$")
_DATE = re.compile(r"(\d{1,2})([./-])(\d{1,2})[./-](\d{4}|\d{2})[ T,]+\d{1,2}:\d{2}")
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?$")
_DAY_S = 86400.0
MOST_DAYS = 5000
MOST_SINCE_S = 1e11  # since any start: three thousand years


class Times(NamedTuple):
    """seconds [rows] (NaN: no time could be read) from the first that could; written: one of FORMATS; start: the first as text;
    remarks: sentences."""

    seconds: np.ndarray
    written: str
    start: str
    remarks: tuple[str, ...] = ()


def from_numbers(values, unit, name):
    """`Times` of numbers since some start. Raises ValueError where their unit is not known."""
    if not unit:
        raise ValueError(
            f'column {name!r:.60} must state the unit of its times: in its heading ("{name} (s)"), or as units_of={{{name!r}: "s"}}; got '
            "numbers alone"
        )
    try:
        scale = units.parse(f"1 {unit}", "time", name)
    except units.UnitError as trouble:
        raise ValueError(f"column {name!r:.60} must have a unit of time (s, ms, min, h), got {trouble.found}") from None
    seconds = np.asarray(values, float)
    seconds = np.where(np.abs(seconds) <= MOST_SINCE_S / scale, seconds, np.nan) * scale  # beyond: no time that can be read
    known = seconds[np.isfinite(seconds)]
    return Times(seconds - (known[0] if known.size else 0.0), "since start", f"{known[0]:g} s" if known.size else "", ())


def from_texts(texts, name, asked, pandas):
    """`Times` of texts, a pandas Series. asked: one of FORMATS, None to find out. Raises ValueError where none fits, and with a question
    where day and month can be read both ways."""
    filled = texts[texts != ""]
    if filled.empty:
        raise ValueError(f"column {name!r:.60} must hold times, got none")
    if asked is not None:
        require.one_of(FORMATS, time_format=asked)
    first = filled.iloc[0]
    if asked == "ISO" or (asked is None and _ISO.match(first)):
        as_written = texts.str.replace(",", ".") if "," in first else texts
        read = pandas.to_datetime(as_written, format="ISO8601", errors="coerce", utc=True, cache=False)
        return _dated(read, texts, "ISO", pandas)
    if _CLOCK.match(first) and asked in (None, "clock"):
        return _clock(texts, pandas)
    if _DATE.match(first) and asked in (None, "day first", "month first"):
        order, remarks = _order(filled, name) if asked is None else (asked, ())
        read = _by_order(texts, filled, order, pandas)
        return _dated(read, texts, order, pandas, remarks)
    raise ValueError(
        f"column {name!r:.60} must hold times: year, month, day and clock by ISO 8601; day, month, year and clock; a clock alone; or "
        f"seconds "
        f"since the start with their unit; got {first!r:.40}"
    )


def from_bytes(cells, name, asked, pandas):
    """The same of an array of bytes (n,), as they lie in a file: where all are laid out alike and end in a clock, only the first of each
    day goes through `from_texts`, and the clock is reckoned from its digits."""
    width = int(np.char.str_len(cells[:1])[0])
    sign = np.ascontiguousarray(cells).view(np.uint8).reshape(cells.size, -1)
    head, digit = sign[0, :width], (sign >= 48) & (sign <= 57)
    layout = re.fullmatch(rb"(.*\d[ T])(\d\d):(\d\d):(\d\d)(?:[.,](\d{1,9}))?", cells[0])
    alike = layout is not None and not sign[:, width:].any()
    if alike:
        marks = ~digit[0, :width]
        alike = bool((digit[:, :width] == ~marks).all() and (sign[:, :width][:, marks] == head[marks]).all())
    days = np.ascontiguousarray(sign[:, : layout.end(1)]).view(f"S{layout.end(1)}").ravel() if alike else cells
    first = np.flatnonzero(np.concatenate([[True], days[1:] != days[:-1]]))
    if not alike or first.size > MOST_DAYS:
        return from_texts(pandas.Series(np.char.decode(cells, "utf-8", "replace").astype(object), dtype=object), name, asked, pandas)
    clock = np.zeros(cells.size)
    for part, unit_s in ((2, 3600.0), (3, 60.0), (4, 1.0), (5, 1.0)):
        if layout[part] is not None:
            digits = sign[:, slice(*layout.span(part))] - 48.0
            clock += digits @ (10.0 ** np.arange(digits.shape[1])[::-1]) * (10.0 ** -digits.shape[1] if part == 5 else unit_s)
    found = from_texts(pandas.Series([day.decode("utf-8", "replace") for day in cells[first]], dtype=object), name, asked, pandas)
    midnight = found.seconds - clock[first]
    return found._replace(seconds=np.repeat(midnight, np.diff(np.append(first, cells.size))) + clock)


def _order(filled, name):
    """Whether the day or the month stands first: told by a number above twelve, or by points between; else it is asked."""
    parts = filled.str.extract(r"^(\d{1,2})([./-])(\d{1,2})[./-]")
    pairs = parts.drop_duplicates().dropna()
    one, two = pairs[0].astype(int).max(), pairs[2].astype(int).max()
    if one > 12 and two > 12:
        raise ValueError(f"column {name!r:.60} must write all dates the same way: in some the day stands first, in some the month")
    if one > 12 or two > 12:
        return ("day first" if one > 12 else "month first"), ()
    if (pairs[1] == ".").all():
        return "day first", ("Dates with points between are read as day first (common practice, no source).",)
    first = filled.iloc[0]
    day, month = first.split(pairs[1].iloc[0])[:2]
    raise ValueError(
        f"column {name!r:.60}: is {first!r:.30} day {int(day)} of month {int(month)}, or day {int(month)} of month {int(day)}? Say "
        'time_format="day first" or time_format="month first"'
    )


def _by_order(texts, filled, order, pandas):
    sample = filled.iloc[0]
    mark, year = _DATE.match(sample)[2], _DATE.match(sample)[4]
    half = bool(re.search(r"[AaPp]\.?[Mm]", sample))
    date = mark.join(("%d", "%m") if order == "day first" else ("%m", "%d")) + mark + ("%Y" if len(year) == 4 else "%y")
    between = re.match(r"[\d./-]+([ T,]+)", sample)[1]
    clock = ("%I" if half else "%H") + ":%M" + (":%S" if sample.count(":") > 1 else "")
    end = " %p" if half else ""
    clean = texts.str.replace(",", ".") if "," not in between else texts
    with_parts = pandas.to_datetime(clean, format=f"{date}{between}{clock}.%f{end}", errors="coerce", utc=True, cache=False)
    if with_parts.isna().any():
        whole = pandas.to_datetime(clean, format=f"{date}{between}{clock}{end}", errors="coerce", utc=True, cache=False)
        with_parts = with_parts.fillna(whole)
    return with_parts


def _dated(read, texts, written, pandas, remarks=()):
    good = read.notna().to_numpy()
    if not good.any():
        raise ValueError(f"no time could be read as {written}; the first is {texts.iloc[0]!r:.40}")
    start = read[good].iloc[0]
    seconds = np.where(good, (read - start) / pandas.Timedelta(1, "s"), np.nan)
    return Times(seconds.astype(float), written, str(start.tz_localize(None)), tuple(remarks))


def _clock(texts, pandas):
    """A clock without a date: where it falls by more than half a day, midnight has passed."""
    long = texts.where(texts.str.count(":") != 1, texts + ":00").str.replace(",", ".")
    read = pandas.to_timedelta(long, errors="coerce")
    seconds = (read / pandas.Timedelta(1, "s")).to_numpy(float, copy=True)
    known = np.flatnonzero(np.isfinite(seconds))
    if not known.size:
        raise ValueError(f"no time could be read as a clock; the first is {texts.iloc[0]!r:.40}")
    falls = np.diff(seconds[known]) < -_DAY_S / 2
    seconds[known] += _DAY_S * np.concatenate([[0], np.cumsum(falls)])
    remarks = (f"The clock passes midnight {int(falls.sum())} times; no date is written.",) if falls.any() else ("No date is written.",)
    return Times(seconds - seconds[known[0]], "clock", str(texts.iloc[int(known[0])]), remarks)
