"""What drifts from test to test: transmitters and gauges by their errors as found, closers by their force with the fan off.

A device that was set back would hide its drift: what it was turned by is put back, so that its errors lie on one line, the one it would
have gone along had nobody touched it. An error is as sure as its reference, a force as its gauge; the line's interval is the wider of that
and of the scatter (`straight_line`). The line is then followed to the stated accuracy, or to the leaf's limit.

    next check: the month in which the 90 % interval of the error first reaches the accuracy; it passes where the line itself does

Source: setting a device's next calibration by its drift over the years is common practice, no source. Limits: a straight drift, neither a
jump nor a season; three dates at least; no further ahead than AHEAD_YEARS.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers.formulas.uncertainty import straight_line
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import AIR
from helpers.studies.cases import conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.forces import GAUGE_N, force_where_measured, limit_where_measured
from helpers.studies.doors.window import handle_force_n, pressure_window
from helpers.studies.measured.forecast import accuracies_pa, design_cases
from helpers.studies.measured.intervals import at_limit
from helpers.studies.measured.readings import SURE
from helpers.studies.status import inside

LEAST_DAYS = 3  # for a drift
AHEAD_YEARS = 15  # looked at, no further: ours
SOON_YEARS = 1.0  # until the next test: what is due before it is looked at; ours
STRANGE = 3.0  # standard uncertainties off the line: a test this far from it is looked at

TOO_WEAK, TOO_HEAVY = "too weak", "too heavy"
# Why a leaf that is inside, or past another limit, in the day's report is past this one.
HEAVY_WHY = "with the air of the worst of the design's weathers on it; the day's report holds it to the limit in that day's air alone"
WEAK_WHY = (
    "to shut against the air of the worst of the design's weathers; where the day's report has the same leaf as too heavy to open, no "
    "setting of its closer keeps both"
)
SET = "set the closer by force gauge, then see that it still shuts the leaf"
STRONGER = "set the closer stronger by force gauge, unless the leaf is too heavy to open already: then the designer, set point first"


@dataclass(frozen=True)
class Drift:
    """One figure over the tests.

    name: of what; dimension: of its unit; at [days]: dates as years; values, errors [days]: the figure and its standard uncertainty, SI;
    least, most: its limits, infinite where there is none; shift: by which the figure of today lies beside the line.
    """

    name: str
    dimension: str
    at: np.ndarray
    values: np.ndarray
    errors: np.ndarray
    least: float
    most: float
    shift: float = 0.0

    @cached_property
    def refused(self):
        """Why there is no line, "" where there is one."""
        dates = len(set(self.at.tolist()))
        days = "1 test day tells" if dates == 1 else f"{dates} test days tell"
        return f"{days} of it: for a drift there must be {LEAST_DAYS}" if dates < LEAST_DAYS else ""

    @cached_property
    def line(self):
        """The `StraightLine` through its figures. Raises ValueError where it is refused."""
        if self.refused:
            raise ValueError(f"{self.name}: {self.refused}")
        return straight_line(self.at, self.values, self.errors)

    @property
    def limited(self):
        """Whether it has a limit at all."""
        return bool(np.isfinite([self.least, self.most]).any())

    def ends(self, when):
        """(middle, lower and upper end of its 90 % interval) of the figure as it will be at dates, as years."""
        middle, half = self.line.at(when) + self.shift, self.line.half(when)
        return middle, middle - half, middle + half

    @property
    def last(self):
        """The figure that the last test found; what it set back is taken off."""
        return float(self.values[-1]) + self.shift

    @property
    def past(self):
        """Whether that figure is past a limit: this needs no line."""
        return not (inside(self.most - self.last) and inside(self.last - self.least))

    @property
    def today(self):
        """The figure at the last test, after it: by the line, or as it was found where there is none or it is past a limit."""
        return self.last if self.refused or self.past else float(self.ends(self.at[-1])[0])

    @cached_property
    def passes(self):
        """(at the earliest, by the line, at the latest) when it reaches a limit, as a year; None where not within AHEAD_YEARS."""
        when = self.at[-1] + np.arange(12 * AHEAD_YEARS + 1) / 12
        middle, low, high = self.ends(when)
        several = ((high > self.most) | (low < self.least), (middle > self.most) | (middle < self.least),
                   (low > self.most) | (high < self.least))  # fmt: skip
        return tuple(float(when[one.argmax()]) if one.any() else None for one in several)

    @property
    def latches(self):
        """Whether a least stands for what its closer must have to shut the leaf; of a device there is nothing to latch."""
        return self.dimension != "force" or bool(np.isfinite(self.least))

    @property
    def strange(self):
        """Dates, as years, of figures further from the line than STRANGE of their own uncertainties."""
        return tuple(self.at[np.abs(self.line.off) > STRANGE].tolist())

    @property
    def state(self):
        """Key of its status: FAIL where the last test or the line is past a limit, CHECK where its interval is by the next test, or a test
        is strange; NOT YET, and no PASS, of a leaf of which nothing says that it latches."""
        if self.past:
            return "wrong"
        if self.refused or not self.limited:
            return "open"
        first, middle, _ = self.passes
        if middle == self.at[-1]:
            return "wrong"
        if self.strange or (first is not None and first <= self.at[-1] + SOON_YEARS):
            return "attention"
        return "good" if self.latches else "open"


def device_courses(site, days):
    """A `Drift` of the error of every device [Pa] that some `TestDay` tells of, in the order of their names; its limit the accuracy."""
    stated = dict(zip([tap.name for tap in site.transmitters], accuracies_pa(site).tolist(), strict=True))
    by_name = {}
    for day in sorted(days, key=lambda day: day.year):
        for one in day.devices:
            by_name.setdefault(one.name, []).append((day, one))
    return tuple(_device(name, by_name[name], stated.get(name)) for name in sorted(by_name))


def _device(name, found, stated_pa):
    """Its errors with all that it was turned by put back; the accuracy that the last test states, else the site file's."""
    turned = np.array([0.0 if one.as_left_pa is None else one.as_found_pa - one.as_left_pa for _, one in found])
    values = np.array([one.as_found_pa for _, one in found]) + np.concatenate([[0.0], np.cumsum(turned)[:-1]])
    sure = np.array([(one.reference_pa or day.gauges.pressure_pa) / SURE for day, one in found])
    accuracy = next((one.accuracy_pa for _, one in reversed(found) if one.accuracy_pa is not None), stated_pa)
    most = np.inf if accuracy is None else accuracy
    return Drift(name, "pressure", np.array([day.year for day, _ in found]), values, sure, -most, most, -float(turned.sum()))


def leaf_courses(site, days, limits):
    """A `Drift` of the force [N] with the fan off of every leaf that some `TestDay` tells of, door by door upwards.

    limits: {(use, level): (least, most)} as `leaf_limits`."""
    by_key = {}
    for day in sorted(days, key=lambda day: day.year):
        for one in day.leaves:
            by_key.setdefault(one.key, []).append((day.year, one.fan_off_n))
    several = {storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count > 1}
    courses = []
    for (use, level, leaf), found in sorted(by_key.items()):
        at, forces = map(np.array, zip(*found, strict=True))
        number = f", leaf {leaf}" if use == "stair door" and level in several else ""
        ends = limits.get((use, level), (-np.inf, np.inf))
        courses.append(Drift(f"{use} {level}{number}", "force", at, forces, np.full(len(at), GAUGE_N / SURE), *ends))
    return tuple(courses)


def leaf_limits(fitted):
    """{(use, level): (least, most)} force with the fan off [N], where the standard puts its gauge, that a leaf may have.

    fitted: `FittedBuilding`. Most: the force limit to set it in motion, less what the pressure adds where it holds the leaf shut. Least:
    what a closer must ask for to shut the leaf against a pressure that pushes it open, as far as it surely gives its force back. The
    pressure: the worst of the design's weathers with all doors shut, the loop at its set point. Limits: one building, without its
    interval; the latch; -inf, inf where nothing is asked.
    """
    site, tower = fitted.site, Tower(fitted.site)
    window, cases = pressure_window(site), [case for case in design_cases(site) if case.shut]
    doors, found = DoorColumns(tower, window), {}
    worst = doors.across(tower.hold(conditions_of(site, cases)).air).max(axis=0)
    asked = next((one for one in window.criteria.forces if one.step in AIR), None)
    for column, across in zip(doors.columns, worst.tolist(), strict=True):
        door = site.doors[column.window.door]
        if asked is None or not door.worked_by_hand:
            continue
        limit, closer = limit_where_measured(door, asked), force_where_measured(door.closer_force_n, door, asked.at)
        least, most = -np.inf, np.inf if limit is None else limit
        if door.opens == "with pressure":
            least = closer * across / column.window.relatch_pa[0] if column.window.relatch_pa is not None else least
        else:
            most -= force_where_measured(handle_force_n(door, across), door, asked.at) - closer
        found[column.use, column.level] = (least, most)
    return found


def past_said(course, named=True):
    """What is wrong with a leaf's closer that is past a limit, with figure and limit: too weak below a least, too heavy above a most."""
    weak = course.today < course.least
    figure, limit = at_limit(course.today, course.least if weak else course.most, "force", "least" if weak else "most")
    said = f"{figure}, at {'least' if weak else 'most'} {limit}"
    return f"{TOO_WEAK if weak else TOO_HEAVY}: {said}" if named else said


def out_of_limit(course):
    """(what is wrong, why, what is done) of a leaf's closer that is past a limit, in words."""
    return (TOO_WEAK, WEAK_WHY, STRONGER) if course.today < course.least else (TOO_HEAVY, HEAVY_WHY, SET)
