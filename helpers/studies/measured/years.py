"""Year after year: the tests of one stair, each brought to the building behind it, so that days of unlike weather can be compared.

Every test day is a plain file of its own in a folder of the site. Each is fitted alone; what the fit leans on besides the day (the site
file's figure) is taken out again before two days are compared, or a weak day would pull its year towards the file.

    trend of ln(factor) over the years by weighted least squares, its error widened by what the years scatter more than their days allow

Source: text-book regression (from memory, not verified). Limits: a straight trend; each storey's own walls and gaps are taken as alike in
all years, which makes changes look a little less sure than they are; three days at least for a trend.
"""

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

import numpy as np

from helpers.model.air.network import KINDS
from helpers.model.air.tower import Tower
from helpers.model.site.errors import SiteFileError
from helpers.model.site.schema import Site
from helpers.model.test_day import read_test_day
from helpers.studies.cases import conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.measured.fitted import NINETY, STRANGE, fit_building
from helpers.studies.measured.forecast import design_cases
from helpers.studies.measured.readings import readings_of
from helpers.studies.status import inside

LEAST_DAYS = 3  # for a trend
AHEAD_YEARS = 15  # looked at, no further: ours
MOST_LEFT = 0.9  # of the first uncertainty: a day that leaves more says nothing to compare


@dataclass(frozen=True)
class Change:
    """How a kind of leak (or shaft, fan) has changed: times as much at the last test as at the first by the trend, with its 90 % interval;
    a year, likewise; sure: whether the interval leaves out no change at all."""

    kind: str
    since: int
    times: float
    low: float
    high: float
    a_year: tuple

    @property
    def sure(self):
        """Whether it has changed at all, to 90 %."""
        return not self.low <= 1.0 <= self.high


@dataclass(frozen=True)
class Years:
    """All tests of a stair, the earliest first. fits: of `FittedBuilding`; left_out: (file, sentence) of what could not be used; notes:
    what else a reader should know of the files."""

    site: Site
    fits: tuple
    left_out: tuple = ()
    notes: tuple = ()

    @property
    def at(self):
        """Dates as years [days]."""
        days = [date.fromisoformat(fit.readings.day.date) for fit in self.fits]
        return np.array([day.year + (day - date(day.year, 1, 1)).days / 365.25 for day in days])

    def factors(self, kind):
        """(ln of the factor, its standard error) [days] by the day alone; NaN where a day says nothing of it."""
        place = self.fits[0].unknowns.kinds.index(kind)
        deviation = self.fits[0].unknowns.deviations[place]
        spread = np.array([fit.covariance[place, place] for fit in self.fits])
        middle = np.array([fit.x[place] for fit in self.fits])
        with np.errstate(divide="ignore", invalid="ignore"):
            alone = 1.0 / (1.0 / spread - 1.0)  # variance without the site file's own pull, in its standard deviations
            found = middle * alone / spread
        told = spread < MOST_LEFT**2
        return np.where(told, found * deviation, np.nan), np.where(told, np.sqrt(np.maximum(alone, 0)) * deviation, np.nan)

    @cached_property
    def changes(self):
        """A `Change` of each kind that LEAST_DAYS days tell something of; none with fewer."""
        found = []
        for kind in self.fits[0].unknowns.kinds:
            values, errors = self.factors(kind)
            known = np.isfinite(values)
            if known.sum() < LEAST_DAYS:
                continue
            at = self.at[known]
            slope, error, _ = _trend(at, values[known], errors[known])
            span = at[-1] - at[0]
            ends = slope + NINETY * error * np.array([0.0, -1.0, 1.0])
            times, low, high = map(float, np.exp(ends * span))
            found.append(Change(kind, int(at[0]), times, low, high, tuple(map(float, np.exp(ends)))))
        return tuple(found)

    @cached_property
    def strange(self):
        """(date, kind) of days that lie further from the trend of their kind than STRANGE of their own errors."""
        told = []
        for change in self.changes:
            values, errors = self.factors(change.kind)
            known = np.flatnonzero(np.isfinite(values))
            _, _, line = _trend(self.at[known], values[known], errors[known])
            off = np.abs(values[known] - line(self.at[known])) / errors[known]
            told += [(self.fits[day].readings.day.date, change.kind) for day in known[off > STRANGE]]
        return tuple(sorted(told))

    @cached_property
    def ahead(self):
        """`Ahead` for the building of the last test, if its sure changes go on; None where none is sure."""
        sure = [change for change in self.changes if change.sure]
        return _ahead(self, sure) if sure else None


@dataclass(frozen=True)
class Ahead:
    """The stair's doors if the sure changes go on: rooms_pa [3, years] at the worst door (the middle trend, its slower and its faster end),
    below zero when out, from the year of the last test on; door: which that is in the first year; held [3, years]: every case held."""

    first: int
    rooms_pa: np.ndarray
    held: np.ndarray
    door: str

    def out_in(self, which=0):
        """The first year in which a door is out or the set point is not held, by one of the three; None within AHEAD_YEARS."""
        gone = np.flatnonzero(~(inside(self.rooms_pa[which]) & self.held[which]))
        return self.first + int(gone[0]) if gone.size else None


def read_years(site, *folders):
    """All tests of a site in some folders. Returns `Years`.

    A day that stands in several folders counts once; two unlike ones of one date both count and are told. A file that cannot be used is
    named with its sentence and left out. Raises ValueError where no test of this site is left, naming the first that was left out.
    """
    kept, left_out, notes = {}, [], []
    for folder in map(Path, folders):
        if not folder.is_dir():
            raise ValueError(f"folder must be one with test days, got {folder.name!r:.60}")
        for file in sorted(folder.glob("*.toml")):
            try:
                day = read_test_day(file)
                readings = readings_of(site, day)
                fitted = None if any(day == other.readings.day for other in kept.values()) else fit_building(readings)
            except (SiteFileError, ValueError) as refusal:
                left_out.append((file.name, str(refusal).splitlines()[0]))
                continue
            if fitted is None:
                continue
            if any(day.date == other.readings.day.date for other in kept.values()):
                notes.append(f"two unlike tests of {day.date}: both are counted")
            kept[folder.name, file.name] = fitted
    if not kept:
        first = f"; {left_out[0][0]}: {left_out[0][1]}" if left_out else ""
        raise ValueError(f"folder must hold at least one test day of {site.name}, got none{first}")
    ordered = sorted(kept.values(), key=lambda fit: fit.readings.day.date)
    return Years(site, tuple(ordered), tuple(left_out), tuple(notes))


def _trend(at, values, errors):
    """(slope, its standard error, the line as a function) through values [days] with errors; the error widened where they scatter more."""
    weight = errors**-2.0
    middle = (weight * at).sum() / weight.sum()
    square = (weight * (at - middle) ** 2).sum()
    if square == 0:
        raise ValueError("dates must differ for a trend; got one date")
    slope, level = (weight * (at - middle) * values).sum() / square, (weight * values).sum() / weight.sum()
    left = ((values - level - slope * (at - middle)) ** 2 * weight).sum() / max(len(at) - 2, 1)
    return slope, np.sqrt(max(left, 1.0) / square), lambda when: level + slope * (when - middle)


def _ahead(years, sure):
    """`Ahead` of the last test's building: its fitted file, with the changes of all years to come in one solution."""
    last = years.fits[-1]
    site = last.site
    tower, doors, cases = Tower(site), DoorColumns(Tower(site), pressure_window(site)), design_cases(site)
    cases = tuple(case for case in cases if case.shut)
    base, to_come = conditions_of(site, cases), np.arange(AHEAD_YEARS + 1)
    kinds = np.ones((3, len(to_come), len(KINDS)))
    for change in sure:
        ends = sorted(change.a_year[1:], key=lambda a_year: abs(np.log(a_year)))  # the slower end, the faster
        for number, a_year in enumerate((change.a_year[0], *ends)):
            kinds[number, :, KINDS.index(change.kind)] *= a_year**to_come
    many = base.rows(np.tile(np.arange(len(cases)), 3 * len(to_come)))
    many.kind_factor = many.kind_factor * np.repeat(kinds.reshape(-1, len(KINDS)), len(cases), axis=0)
    held = tower.hold(many)
    across, opened = doors.across(held.air), doors.standing_open(many)
    rooms = np.minimum(np.minimum(*doors.rooms(across, opened)), doors.closing(across, opened))
    by_year = rooms.reshape(3, len(to_come), len(cases), -1).min(axis=2)
    return Ahead(int(last.readings.day.date[:4]), by_year.min(axis=-1), held.held.reshape(3, len(to_come), -1).all(axis=-1),
                 doors.columns[int(by_year[0, 0].argmin())].text)  # fmt: skip
