"""Readings of several people of one place become one, or a conflict in a sentence.

Two readings that lie no further apart than two gauges may differ are readings of the same thing: of a pressure, a flow, a temperature and
the wind their mean counts, of a force the largest, as of three pulls. Further apart nobody knows which is right, and neither is used. All
that were read stay: a figure past its limit is no PASS by its mean with another.
"""

from dataclasses import dataclass
from math import sqrt

from helpers.studies.commissioning.crew.blanks import DATE, Blank
from helpers.studies.doors.forces import GAUGE_N
from helpers.studies.measured.drawn import GAUGES
from helpers.units.said import with_unit

SAME = 1e-6  # by which two readings of one place may differ, of the larger: what two systems of units leave of rounding
THERMOMETER_C = 0.5  # 95 % of a thermometer's readings are within; common practice, no source
BOTH = sqrt(2)  # two gauges that err by themselves differ by the root of the sum of the squares of their errors
DIGITS = {"pressure": (2, 4), "force": (1, 2), "flow": (3, 0), "frequency": (2, 2), "speed": (2, 0), "temperature": (1, 1), "time": (1, 1)}


@dataclass(frozen=True)
class FilledCell:
    """One cell that was filled in: value (SI, or words), and where it stands; every: all that was read of the place, where several people
    read it, smallest first."""

    value: float | str
    file: str
    sheet: str
    cell: str
    every: tuple = ()

    @property
    def where(self):
        """Where it stands, in words."""
        return f"{self.file}, sheet {self.sheet}, {self.cell}"


@dataclass(frozen=True)
class Merged:
    """What several readings of one place come to. reading: `FilledCell`, None where they differ by too much; conflict, together: what is
    said of it, "" for nothing."""

    reading: FilledCell | None
    conflict: str = ""
    together: str = ""


def within(found):
    """{dimension: by how far two gauges' readings of one thing may differ, 95 % of them, as a function of their mean} [SI].

    found: readings by (table, line, column) of one person each; of the gauges what the sheet says, else what a test day takes of them.
    """
    stated = {name: _one(found.get(("day", name, "found"), ())) or usual for name, usual in GAUGES.items()}
    return {
        "pressure": lambda mean: BOTH * stated["pressure_pa"], "wind speed": lambda mean: BOTH * stated["wind_m_s"],
        "flow": lambda mean: BOTH * stated["flow_percent"] / 100 * abs(mean), "force": lambda mean: BOTH * GAUGE_N,
        "temperature": lambda mean: BOTH * THERMOMETER_C,
    }  # fmt: skip


def _one(several):
    values = {one.value for one in several}
    return values.pop() if len(values) == 1 else None


def merged(several, words, blank: Blank, apart) -> Merged:
    """Readings of one place (of `FilledCell`, one or more) as one; words: what is read there; apart: of `within`."""
    first = several[0]
    other = next((one for one in several[1:] if not _alike(first.value, one.value)), None)
    if other is None:
        return Merged(first)
    told = f"{words}: {_value_said(first.value, blank)} ({first.where}) and {_value_said(other.value, blank)} ({other.where})"
    if blank.is_number and blank.read and blank.kind in apart:
        return _readings(several, told, blank, apart[blank.kind])
    graver = {one.value: one for one in several if blank.options and blank.read and one.value != blank.options[0]}
    if len(graver) == 1:  # one of the two saw what must not be: that is not lost because the other did not
        (worse,) = graver.values()
        better = next(one.value for one in several if one.value != worse.value)
        return Merged(worse, f"{told}: {better!r} is not used, {worse.value!r} counts until the two agree")
    if blank.is_number or blank.options or blank.kind == DATE:
        return Merged(None, f"{told}: neither is used; read again, or clear one of the two")
    both = " / ".join(dict.fromkeys(str(one.value) for one in several))
    return Merged(FilledCell(both, first.file, first.sheet, first.cell), "", f"{told}: both are kept")


def _readings(several, told, blank, apart):
    """Readings of gauges: one where they are as near as gauges are."""
    every = tuple(sorted(one.value for one in several))
    mean, off, first = sum(every) / len(every), every[-1] - every[0], several[0]
    may = apart(mean)
    said, limit = (_value_said(value, blank, step=True) for value in (off, may))
    if off > may + SAME:
        return Merged(None, f"{told}: {said} apart, two gauges differ by {limit} at the most; neither is used; read again, or clear one")
    value = every[-1] if blank.kind == "force" else mean
    counts = f"the largest of them, {_value_said(value, blank)}, counts" if blank.kind == "force" else (
        f"their mean of {_value_said(value, blank)} counts")  # fmt: skip
    reading = FilledCell(value, first.file, first.sheet, first.cell, every)
    return Merged(reading, "", f"{told}: {said} apart, within what two gauges differ by ({limit}); {counts}, and each is held to its limit")


def _alike(one, other):
    if isinstance(one, str) or isinstance(other, str):
        return str(one).split() == str(other).split()
    return abs(one - other) <= SAME * max(abs(one), abs(other), 1.0)


def _value_said(value, blank, step=False):
    """A value of a blank with its unit; step: what two differ by, which of a temperature is no temperature."""
    if isinstance(value, str):
        return repr(value)
    if blank.kind == "minutes":
        return f"{value:g} min"
    if step and blank.kind == "temperature":
        return f"{value:.1f} °C ({1.8 * value:.1f} °F)"
    return with_unit(value, blank.kind, DIGITS.get(blank.kind))
