"""What a study hands on: figures with unit, reason and source, tables, findings, the record that collects them. Pure data."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Protocol

import numpy as np

from helpers import require, units
from helpers.studies.status import SEVERITIES, TOUCHES, fails_said, folded, headline, ranked, word_of
from helpers.units.limits import ROUNDING, after_point, inwards, limit_text, number_of
from helpers.units.said import in_each, of_system, shown_apart, unit_of, with_unit, written_out

__all__ = ["NETWORK", "PRACTICE", "SEVERITIES", "SITE_FILE", "WRONG_FAN", "Board", "BoardLine", "Face", "Finding", "NotThere", "Record",
           "Section", "Shown", "Table", "Value", "Written", "apart", "beside", "figure", "fine", "finest", "inside_text",
           "limit_text", "listed", "parted", "passed", "range_text", "signed", "spanned", "time_text"]  # fmt: skip

# Sources that most figures name.
NETWORK, SITE_FILE, PRACTICE = "air network of this site", "site file", "common practice, no source"
# What alone mends a pressure that is too little beside a fan that takes air out: closers and set points do not.
WRONG_FAN = "a fan that supplies: one that extracts holds no door of the stair above its floor"
# Above it the density changes within the fan, and ventilation fans end; common practice, no source. What is said instead of a figure.
MOST_FAN_PA, NO_FAN_GIVES = 2500.0, "more than a usual fan gives"


class NotThere(KeyError, ValueError):
    """A key that a mapping of results does not have, told in a sentence as every refusal is."""

    __str__ = ValueError.__str__  # a KeyError alone shows its sentence in quotation marks


class Face(Protocol):
    """What shows a result in a notebook."""

    def bundle(self) -> dict[str, str]:
        """The result by kind of content, as a notebook's output holds it."""

    def plot(self, key: str | None = None):
        """A plot of it, by its key; the first one without."""


class Shown:
    """Base of a study's result that shows itself as its section of the design record does, in words, tables and plots.

    Its `Design` gives it the face for that, asked for when it is looked at; a result without a design is shown as it is written in Python.
    """

    _face: Callable[[], Face] | None = None

    def shown_by(self, face):
        """Itself, with a face; face: a function without arguments that gives one."""
        object.__setattr__(self, "_face", face)  # not what it holds: two results that hold the same are equal
        return self

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/plain": repr(self)} if self._face is None else self._face().bundle()

    def plot(self, key: str | None = None):
        """A plot of its section, by its key; the first one without. Raises ValueError for a key that is not there, and without a design."""
        if self._face is None:
            raise ValueError(f"{type(self).__name__} has plots only where a Design made it")
        return self._face().plot(key)


@dataclass(frozen=True)
class Value:
    """One figure: what it is, its value in SI (None where it is no number), its text with unit, why it is so, and whence it comes."""

    label: str
    value: float | None
    text: str
    reason: str
    source: str
    dimension: str = ""


@dataclass(frozen=True)
class Table:
    """A table of texts. `states` holds one key for each row, of status.SEVERITIES, or "" for rows that are not judged."""

    key: str
    title: str
    columns: tuple
    rows: tuple
    states: tuple = ()
    note: str = ""


@dataclass(frozen=True)
class Finding:
    """Something somebody should know: how grave (one of SEVERITIES), what, the figure, why, the source, and what would change it.

    possible: not so now, but it would be after a failure, an override or in a building that differs; key: name of a cause that others may
    give in caused_by; effects: findings that follow from this one (`status.folded` puts them there); settings: (group, name) of lines of
    the settings schedule that it speaks against: where it is "wrong" they are not handed out.
    """

    severity: str
    what: str
    figure: str = ""
    why: str = ""
    source: str = ""
    remedy: str = ""
    possible: bool = False
    key: str = ""
    caused_by: str = ""
    effects: tuple = ()
    settings: tuple = ()


@dataclass(frozen=True)
class Section:
    """One choice of the record: its verdict in plain words, then all that stands behind it; `pictures` hold data ready to draw."""

    key: str
    title: str
    verdict: str
    figures: tuple = ()
    tables: tuple = ()
    findings: tuple = ()
    pictures: tuple = ()
    notes: tuple = ()


class Written(Sequence):
    """Things that are written one by one, each when it is first looked at; writers: functions without arguments; keys: of what they write,
    where it has keys, so that one is found without writing the others."""

    def __init__(self, writers, keys=()):
        self._writers, self._done, self.keys = tuple(writers), {}, tuple(keys)

    def __len__(self):
        return len(self._writers)

    def __getitem__(self, place):
        if isinstance(place, slice):
            return tuple(self[number] for number in range(len(self))[place])
        number = range(len(self))[place]
        if number not in self._done:
            self._done[number] = self._writers[number]()
        return self._done[number]

    def in_system(self, system):
        """The same, each written out in a system of units when it is first looked at."""
        return Written(partial(lambda place: written_out(self[place], system), place) for place in range(len(self)))

    def __iter__(self):
        """In their order; by itself a sequence would take an IndexError of a writer for its end."""
        return (self[number] for number in range(len(self)))


@dataclass(frozen=True)
class Setting:
    """One line of a settings schedule: what it belongs to, the setting in trade terms, its value with unit, why, and what it rests on."""

    group: str
    name: str
    value: str
    why: str
    rests_on: tuple[str, ...] = ()


@dataclass(frozen=True)
class BoardLine:
    """One line of a `Board`: its status, what it is, its value, and why."""

    status: str
    what: str
    value: str
    why: str = ""


@dataclass(frozen=True)
class Board:
    """A record in one screen: what to buy, set and check, a line each.

    made_for: what the record is of, in one line; first: what has to be laid down before the rest, "" for nothing."""

    site_name: str
    made_for: str
    first: str
    buy: tuple[BoardLine, ...]
    set: tuple[BoardLine, ...]
    check: tuple[BoardLine, ...]


@dataclass(frozen=True)
class Record:
    """The design record of a site: what to buy, set and check (`summary`, under its `headline`, and `board`), the sections behind it, the
    cautions; boards: the one `Board`, written when it is looked at; site_title: site_name with the test day that it was fitted to."""

    title: str
    site_name: str
    system: str
    summary: tuple
    sections: Sequence
    cautions: tuple
    headline: str = "What to buy, set and check"
    boards: Sequence = ()
    site_title: str = ""

    @property
    def board(self):
        """The record in one screen; None of a record without one."""
        return next(iter(self.boards), None)

    @cached_property
    def findings(self):
        """Findings of all sections, one for each cause, the most serious first; of equals what is so now before what might be."""
        return ranked(folded(finding for section in self.sections for finding in section.findings))

    @property
    def fails(self):
        """What fails, a line each, as it heads page, sheet, schedule and file: see `status.fails_said`."""
        return fails_said(self.findings)

    @property
    def state_line(self):
        """How many findings of each status, in one line: what the record comes to."""
        return headline(self.findings)

    @property
    def heading(self):
        """The headline, and how many findings fail: no list of what to set stands above a FAIL as if there were none."""
        fails = sum(finding.severity == "wrong" for finding in self.findings)
        return f"{self.headline} ({fails} {word_of('wrong')}: these first)" if fails else self.headline

    def section(self, key):
        """The section of a key; raises ValueError for a key that is not there, naming those that are."""
        keys = getattr(self.sections, "keys", ()) or tuple(section.key for section in self.sections)
        return self.sections[keys.index(require.one_of(keys, key=key))]

    def pictures(self):
        """All pictures of the record by their key."""
        return {picture.key: picture for section in self.sections for picture in section.pictures}


def figure(label, value, dimension, reason, source, digits=None):
    """A figure whose text is written with its unit; value None is written as "none"."""
    text = "none" if value is None else with_unit(value, dimension, digits)
    return Value(label, None if value is None else float(value), text, reason, source, dimension)


def fine(value_pa):
    """A small pressure, such as an accuracy, with one digit more than usual.

    >>> written_out(fine(2.5)), written_out(fine(2.5), "in. w.c.")
    ('2.5 Pa', '0.010 in. w.c.')
    """
    return with_unit(value_pa, "pressure", (1, 3))


def finest(value_pa):
    """A very small pressure, such as a converter's step, with two digits more than usual.

    >>> written_out(finest(0.038)), written_out(finest(0.038), "in. w.c.")
    ('0.04 Pa', '0.0002 in. w.c.')
    """
    return with_unit(value_pa, "pressure", (2, 4))


@in_each
def apart(values_si, dimension, end, digits=None, *, system):
    """Figures and their limit, the last, rounded inwards as `limit_text` does it, with as many digits as it takes for none to be printed as
    the limit nor on its other side, nor apart by less than shown; a figure on its limit is printed as it. end: "least" or "most".

    >>> written_out((apart((134.1, 133.447), "force", "most"), apart((23.99, 24.91), "pressure", "least")))
    (('134 N', '133.4 N'), ('24 Pa', '25 Pa'))
    """
    limit_si, usual = values_si[-1], after_point(units.show(values_si[-1], dimension, system, of_system(digits, system)))
    rooms = [float(units.to_display(one, dimension, system) - units.to_display(limit_si, dimension, system)) for one in values_si]
    on = [abs(value - limit_si) <= TOUCHES for value in values_si]
    for more in (-1, *range(8)):  # first the usual digits of a figure, then those that its limit has
        limit = inwards(limit_si, dimension, end, system, max(more, 0))
        places = usual if more < 0 else max(usual + more, after_point(limit))
        texts = tuple(limit if same else units.show(value, dimension, system, places) for value, same in zip(values_si, on, strict=True))
        told = [number_of(text) - number_of(limit) for text in texts]
        if all(same or (shown * room > 0 and abs(room) >= 0.5 * 10.0**-places) for shown, room, same in zip(told, rooms, on, strict=True)):
            break
    return texts


def beside(value_si, limit_si, dimension, end, digits=None):
    """A figure whose limit a reader knows, though it is not printed beside it: as `apart` writes it; as usual where no limit is finite.

    >>> [written_out(beside(23.99, limit, "pressure", "least"), "in. w.c.") for limit in (24.9089, float("inf"))]
    ['0.096 in. w.c.', '0.10 in. w.c.']
    """
    return apart((value_si, limit_si), dimension, end, digits)[0] if np.isfinite(limit_si) else with_unit(value_si, dimension, digits)


def passed(value_si, limit_si, dimension, where="", digits=None):
    """A limit that is not kept, in a headline's few words: what the figures shown differ by, closer where that is little; digits: `apart`.

    >>> written_out((passed(150.2, 133.4, "force", "at storey 13"), passed(24.9, 25.0, "pressure", "at storey 0")))
    ('16.8 N over 133.4 N at storey 13', '0.1 Pa short of 25 Pa at storey 0')
    """
    over, digits = value_si > limit_si, {"pressure": (1, 3), "force": 1}.get(dimension) if digits is None else digits
    return _passed(*apart((value_si, limit_si), dimension, "most" if over else "least", digits), "over" if over else "short of", where)


@in_each
def _passed(value, limit, how, where):
    by, unit = shown_apart(value, limit).split(" ", 1)
    return f"{by}{'' if ' ' in unit else f' {unit}'} {how} {limit}{f' {where}' if where else ''}"  # a unit of several words stands once


@in_each
def spanned(low, high, label):
    """Two figures with the unit once; one where both are written alike."""
    low, high = (text.removesuffix(label).strip() for text in (low, high))
    return f"{low} {label}" if low == high else f"±{high} {label}" if low == f"-{high}" else f"{low} to {high} {label}"


def signed(value_si, dimension, digits=None):
    """A change in plain text with its sign.

    >>> written_out((signed(3.2, "pressure"), signed(-3.2, "pressure")))
    ('+3 Pa', '-3 Pa')
    """
    return _with_sign(with_unit(value_si, dimension, digits))


@in_each
def _with_sign(text):
    return text if text.startswith("-") else f"+{text}"


def range_text(low_si, high_si, dimension):
    """A range in one unit.

    >>> written_out((range_text(0.0, 125.0, "pressure"), range_text(-25.0, 25.0, "pressure"), range_text(16.8, 17.2, "pressure")))
    ('0 to 125 Pa', '±25 Pa', '17 Pa')
    """
    return spanned(with_unit(low_si, dimension), with_unit(high_si, dimension), unit_of(dimension))


_INSIDE_DIGITS = {("pressure", "Pa"): 0, ("pressure", "in. w.c."): 2, ("frequency", "Pa"): 1, ("frequency", "in. w.c."): 1}


@in_each
def inside_text(low_si, high_si, dimension="pressure", *, system):
    """A range that works, rounded inwards, so that both ends shown work as well; with more digits where none is left.

    dimension: "pressure" or "frequency". The one function for ranges of set points and speeds that work, on every page.

    >>> written_out((inside_text(48.36, 58.7), inside_text(24.4, 24.8), inside_text(40.0, 40.0)))
    ('49 to 58 Pa', '24.4 to 24.8 Pa', '40 Pa')
    """
    label, digits = units.unit_label(dimension, system), _INSIDE_DIGITS[dimension, system]
    ends = [float(units.to_display(end, dimension, system)) for end in (low_si, high_si)]
    for more in range(3):
        scale = 10.0 ** (digits + more)
        low, high = np.ceil(ends[0] * scale - ROUNDING) / scale, np.floor(ends[1] * scale + ROUNDING) / scale
        if low <= high:
            texts = dict.fromkeys(f"{end:.{digits + more}f}" for end in (low, high))
            return f"{' to '.join(texts)} {label}"
    return units.show((low_si + high_si) / 2, dimension, system, digits + 2)


@in_each
def parted(*tried):
    """Of some ways of writing figures in pairs the first in which no figure is written as its fellow, else the last."""
    return next((one for one in tried if all(a != b for a, b in zip(one[::2], one[1::2], strict=True))), tried[-1])


def listed(words):
    """Words as a list in a sentence.

    >>> listed(["lowest", "highest", "middle"]), listed(["6"])
    ('lowest, highest and middle', '6')
    """
    words = list(words)
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]])) if words else ""


def time_text(seconds, digits=3):
    """A time in the unit in which it means something to somebody; what takes years is told without a figure.

    >>> [time_text(seconds) for seconds in (0.66, 99.0, 3600.0, 1.3e6, 7.4e8, float("inf"))]
    ['0.66 s', '99 s', '60 min', '15 days', 'years', 'years']
    """
    for most, unit, each in ((99.5, "s", 1.0), (7200.0, "min", 60.0), (172_800.0, "h", 3600.0), (63_072_000.0, "days", 86_400.0)):
        if seconds < most:
            return f"{seconds / each:.{digits}g} {unit}" if unit == "s" else f"{seconds / each:.0f} {unit}"
    return "years"
