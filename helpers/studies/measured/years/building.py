"""The tests of one stair, each brought to the building behind it, so that days of unlike weather can be compared.

Every test day is a plain file of its own in a folder of the site. Each is fitted alone; what the fit leans on besides the day (the site
file's figure) is taken out again before two days are compared, or a weak day would pull its year towards the file.

    trend of ln(factor) over the years by weighted least squares, its interval widened by what the years scatter more than their days allow

Source: text-book regression (from memory, not verified). Limits: a straight trend; each storey's own walls and gaps are taken as alike in
all years, which makes changes look a little less sure than they are; three days at least for a trend.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers.formulas.uncertainty import straight_line
from helpers.model.air.network import KINDS
from helpers.model.air.tower import Tower
from helpers.model.site.schema import Site
from helpers.studies.cases import conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.measured.fitted import STRANGE
from helpers.studies.measured.forecast import design_cases
from helpers.studies.measured.years.drift import AHEAD_YEARS, LEAST_DAYS, device_courses, leaf_courses, leaf_limits
from helpers.studies.measured.years.self_tests import SelfTestLog
from helpers.studies.status import inside

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
    """All tests of a stair, the earliest first. fits: of `FittedBuilding`; days: of `TestDay`, with those that no building was fitted to;
    left_out: (file, sentence) of what could not be used; notes: what else a reader should know of the files; self_tests: `SelfTestLog`,
    None where there is none."""

    site: Site
    fits: tuple
    days: tuple
    left_out: tuple = ()
    notes: tuple = ()
    self_tests: SelfTestLog | None = None

    @property
    def at(self):
        """Dates as years [days]."""
        return np.array([fit.readings.day.year for fit in self.fits])

    def as_fitted(self, kind):
        """(ln of the factor, its standard error) [days] as each day's own fit has them; NaN where a day says nothing of it."""
        place = self.fits[0].unknowns.kinds.index(kind)
        deviation = self.fits[0].unknowns.deviations[place]
        found = np.array([(fit.x[place], np.sqrt(fit.covariance[place, place])) for fit in self.fits]).T
        return tuple(np.where(found[1] < MOST_LEFT, found, np.nan) * deviation)

    def factors(self, kind):
        """(ln of the factor, its standard error) [days] by the day alone, without the pull of the site file's figure that the fit has in
        it, which would make two days look more alike than they are: for changes. NaN where a day says nothing of it."""
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
            if len(set(self.at[known].tolist())) < LEAST_DAYS:
                continue
            at = self.at[known]
            line = straight_line(at, values[known], errors[known])
            span = at[-1] - at[0]
            ends = line.slope + line.slope_half * np.array([0.0, -1.0, 1.0])
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
            off = np.abs(straight_line(self.at[known], values[known], errors[known]).off)
            told += [(self.fits[day].readings.day.date, change.kind) for day in known[off > STRANGE]]
        return tuple(sorted(told))

    @cached_property
    def devices(self):
        """A `Drift` of every device's error."""
        return device_courses(self.site, self.days)

    @cached_property
    def leaves(self):
        """A `Drift` of every leaf's force with the fan off, its limits those of the last test's building."""
        return leaf_courses(self.site, self.days, leaf_limits(self.fits[-1])) if any(day.leaves for day in self.days) else ()

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
