"""What a cell of a filled sheet holds, as a value: figures in SI, words, dates; everything else refused with what must stand there and what
does."""

import re
from datetime import date, datetime, time
from math import isfinite

from helpers import units
from helpers.model.files import printable
from helpers.model.test_day import date_of
from helpers.studies.commissioning.crew.blanks import DATE

MOST_LETTERS = 300  # of a text; ours
_TIME = re.compile(r"(?<!\d)(\d{1,2}):(\d{2})(?!\d)")
_BARE = re.compile(r"\s*[-+−]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?\s*")


def value_of(raw, kind, blank, system):
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
        return _option(words, blank.options)
    return words


def _option(words, options):
    """The word of a list that was meant: itself, its beginning where no other begins so ("in", "n"), or, of a word that is no good news,
    itself with more behind it ("otherwise, lamp dark"). Raises ValueError with the list for all else: a yes with a but is no yes."""
    typed = words.casefold().strip(" .")
    exact = [word for word in options if word.casefold() == typed]
    begun = [word for word in options if typed and word.casefold().startswith(typed)]
    more = [word for word in options[1:] if typed.startswith(word.casefold()) and not typed[len(word)].isalnum()] if not begun else []
    for found in (exact, begun, more):
        if len(found) == 1:
            return found[0]
    raise ValueError(f"must be one of these words: {', '.join(options)}; got {words!r:.60}")


def in_the_day(column, value):
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
        value = in_si(raw, kind, system)
    low, high, above = blank.ends
    if not isfinite(value) or not low <= value <= high or (above and value == low):
        ends = [f"{end:g} min" if kind == "minutes" else units.show(end, kind, system, 2) for end in (low, high)]
        wrong = "; a flow goes in by the fan and has no sign" if kind == "flow" and value < 0 else ""
        told = f"above {ends[0]}, {ends[1]} at the most" if above else f"from {ends[0]} to {ends[1]}"
        raise ValueError(f"must be {told}; got {printable(str(raw))!r:.40}{wrong}")
    return value


def in_si(value, kind, system):
    """A figure of a kind, as a sheet of a system shows it, in SI (minutes stay minutes)."""
    return float(value) if kind == "minutes" else float(units.from_display(float(value), kind, system))


def _typed_number(text, kind, unit, system):
    """A figure that stands in its cell as text: bare, in the unit of the head, or with a unit of its own."""
    if _BARE.fullmatch(text):
        return in_si(float(text.replace("−", "-")), kind, system)
    if "," in text:
        raise ValueError(f"must be a figure in {unit} with a point, not a comma; got {printable(text)!r:.40}")
    try:
        if kind != "minutes":
            return units.parse(text, kind)
    except ValueError:
        pass  # told below, with the unit that the head asks for
    raise ValueError(f"must be a figure in {unit}; got {printable(text)!r:.40}")
