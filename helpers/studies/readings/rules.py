"""Average, lowest or highest: what each rule does to every door, case by case and floor by floor; and which pressures a site allows, asked
here by record, review, lessons, placement, year and alarms.

A door may stand at what the site file and the site's own standard allow it while it is shut, and, where the pressure pushes it open, at no
more than its closer surely shuts it again against: a latch holds such a leaf only until the first person has gone through.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from helpers import require
from helpers.formulas.combining import RULES
from helpers.model.air.tower import HeldAir
from helpers.model.site.schema import Transmitter
from helpers.studies.cases import Case, conditions_of, has_to_hold, one_number, unasked_said
from helpers.studies.doors.columns import across_by_use, open_by_use
from helpers.studies.doors.kinds import PUSHED
from helpers.studies.doors.window import SiteWindow, pressure_window
from helpers.studies.report import NotThere, Shown, apart
from helpers.studies.status import SPARE_PA, deciding, inside, status_of
from helpers.units.said import shown_apart, with_unit

USUAL_RULES = ("average", "lowest", "highest")
TOLERANCE_PA = 0.1  # less than a gauge on site tells apart: of two pressures, and of what is left to prove; no door out is inside by it


def doors_status(good, room_pa, required, too_high):
    """Key of the status of all shut doors in one case: one table for record, panels and lessons.

    good: whether the set point is held and every shut door inside its window; room_pa: of the worst; required: whether the design has to
    hold the case (`cases.has_to_hold`); too_high: whether a shut door is above its window. "wrong" where it has to and is not good, and
    where a door cannot be opened or would not close again, whatever doors are open; "attention" where it has not to, or with less room
    than SPARE_PA; "open" where no door has a limit (infinite room).
    """
    if not good:
        return "wrong" if required or too_high else "attention"
    return "open" if np.isinf(room_pa) else status_of(max(float(room_pa), 0.0), 0.0, SPARE_PA, "least")


@dataclass(frozen=True)
class DoorOut:
    """A shut door outside its window: where, which, the pressure across it, the limit it breaks, whether it is too low or too high."""

    rule: str
    case: str
    level: int
    door: str
    use: str
    dp_pa: float
    limit_pa: float
    too: str
    means: str

    @property
    def pushed(self):
        """Whether the pressure pushes the leaf open, or keeps it from closing again: no rule of combining changes that."""
        return self.means in PUSHED

    @property
    def by_pa(self):
        """How far outside [Pa]."""
        return abs(self.dp_pa - self.limit_pa)

    def text(self):
        """The door and what is wrong with it in words."""
        dp, limit = apart((self.dp_pa, self.limit_pa), "pressure", "least" if self.too == "low" else "most", (1, 3))
        by = shown_apart(dp, limit)
        return f"{self.use} {self.level}: {dp}, {by} too {self.too} (limit {limit}), {self.means}"


@dataclass(frozen=True)
class RuleResult:
    """One rule in all cases.

    state, speed_hz, reading_pa (the combined one), margin_pa (room left to the nearest limit of any shut door, below zero when out)
    [cases]; readings_pa [cases, transmitters]; door_dp_pa, low, high (stair doors) [cases, storeys]; out: doors outside their window, the
    worst first; held: the `HeldAir` behind it; required [cases]: whether the design has to hold the case.
    """

    rule: str
    cases: tuple[Case, ...]
    held: HeldAir
    readings_pa: np.ndarray
    low: np.ndarray
    high: np.ndarray
    margin_pa: np.ndarray
    out: tuple[DoorOut, ...]
    required: tuple[bool, ...]

    @property
    def state(self):
        """Whether the loop holds, by case."""
        return self.held.state

    @property
    def speed_hz(self):
        """Fan speed by case."""
        return self.held.air.speed_hz

    @property
    def reading_pa(self):
        """The combined reading by case."""
        return self.held.reading_pa

    @property
    def door_dp_pa(self):
        """Pressure across the stair doors [cases, storeys]."""
        return self.held.air.door_dp_pa

    @property
    def inside(self):
        """Whether every shut door is inside its window, by case."""
        return inside(self.margin_pa)

    @property
    def good(self):
        """Whether the loop holds and every shut door is inside its window, by case."""
        return self.held.held & self.inside

    def status(self, place):
        """Key of the status of one case, see `doors_status`."""
        return doors_status(self.good[place], self.margin_pa[place], self.required[place], self._too_high(place) is not None)

    def deciding(self, places=None):
        """Place of the case that a panel's headline is of, see `deciding`; places: of those that are judged together, by default all."""
        places = list(range(len(self.cases)) if places is None else places)
        return places[deciding([self.status(place) for place in places], self.margin_pa[places])]

    def unasked_said(self, place):
        """See `cases.unasked_said`."""
        return unasked_said(self.good[place], self.required[place], self._too_high(place) is not None)

    def _too_high(self, place):
        """The door most above its window in a case, None where none is."""
        return next((door for door in self.out_in(self.cases[place]) if door.too == "high"), None)

    def out_in(self, case):
        """Doors outside their window in one case, the worst first."""
        return tuple(door for door in self.out if door.case == case.name)

    def case_text(self, place, out_said="outside"):
        """One case in words; out_said: what is said of doors outside their window."""
        state, out = self.state[place], self.out_in(self.cases[place])
        speed, reading = with_unit(self.speed_hz[place], "frequency"), with_unit(self.reading_pa[place], "pressure", FINE)
        loop = f"set point controlled, fan at {speed}" if state == "held" else f"{state} ({speed}), reading {reading}"
        if state == "not found":
            return "no steady state found: do not rely on this case"
        if np.isinf(self.margin_pa[place]):
            return f"{loop}; no shut door has a limit to be judged by"
        if not out:
            return f"{loop}; every shut door inside its window, {with_unit(self.margin_pa[place], 'pressure', FINE)} to spare"
        high = self._too_high(place)
        also = "" if high in (None, out[0]) else f"; too high at the same time {high.text()}"
        return f"{loop}; {len(out)} door{'s' * (len(out) > 1)} {out_said}, worst {out[0].text()}{also}"


@dataclass(frozen=True)
class RuleComparison(Shown, Mapping):
    """The results of all rules beside each other at one set point, by rule; `best`: of the rule with the least to object to."""

    cases: tuple[Case, ...]
    set_point_pa: float
    transmitters: tuple[Transmitter, ...]
    results: tuple[RuleResult, ...]

    @property
    def best(self):
        """The result with the fewest bad cases, doors shut first, then the smallest deviations."""
        return min(self.results, key=_objections)

    def __getitem__(self, rule: str) -> RuleResult:
        if rule not in tuple(self):
            raise NotThere(f"rule must be one of {', '.join(self)}; got {rule!r:.60}")
        return self.results[tuple(self).index(rule)]

    def __iter__(self):
        return (result.rule for result in self.results)

    def __len__(self):
        return len(self.results)

    def verdict(self):
        """Which rule does, which does not, and what is out, in plain words."""
        return " ".join(_rule_said(result) for result in sorted(self.results, key=_objections))


@dataclass(frozen=True)
class SetPoints:
    """Which set points keep every shut door inside its window under one rule; good, margin_pa [set points, cases].

    closing_pa [set points, cases]: room below the pressure up to which every shut door that the pressure pushes open would close again
    once opened, below zero where one would not; infinite where there is none. A set point is there all the time: it has to leave that too.
    held: the `HeldAir` behind it, a row for each case of each set point.
    """

    rule: str
    cases: tuple[Case, ...]
    set_points_pa: np.ndarray
    good: np.ndarray
    margin_pa: np.ndarray
    closing_pa: np.ndarray
    held: HeldAir

    def works(self, cases=None, closing=True):
        """Lowest and highest set point [Pa] of the longest run that is good, as `good_in`; None where none is."""
        return self.longest_run(self.good_in(cases, closing))

    def good_in(self, cases=None, closing=True):
        """Whether a set point is good in all these cases (default: all) [set points]; closing: and every door closes again."""
        chosen = [case in (self.cases if cases is None else cases) for case in self.cases]
        good = self.good & inside(self.closing_pa) if closing else self.good
        return good[:, chosen].all(axis=1)

    def longest_run(self, good):
        """Lowest and highest set point [Pa] of the longest run of those that are good [set points]; None where none is."""
        edges = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(int), [0]])))
        runs = [(self.set_points_pa[start], self.set_points_pa[end - 1]) for start, end in zip(edges[::2], edges[1::2], strict=True)]
        return max(runs, key=lambda run: run[1] - run[0], default=None)


def usual_rules(site, transmitters=None):
    """Rules worth comparing: average, lowest, highest and the site's own; with one transmitter all are one."""
    count = len(site.transmitters if transmitters is None else transmitters)
    return (site.control.rule,) if count == 1 else tuple(dict.fromkeys([*USUAL_RULES, site.control.rule]))


def compare_rules(tower, window, cases, set_point_pa=None, transmitters=None, rules=None, weights=None, still=False):
    """Hold the set point with each rule in all cases and look at every door.

    tower: `Tower`; window: `SiteWindow`; cases: of `Case`; set_point_pa, transmitters, weights: by default the site's own; rules: by
    default `usual_rules`; still: without any wind. Returns `RuleComparison`. Raises ValueError for an unknown rule, a set point that is no
    number, no case.
    Limits: steady state; the final exit is judged against still outdoor air, since the site does not say where it looks.
    """
    site = tower.site
    taps = tuple(site.transmitters if transmitters is None else transmitters)
    target = one_number(set_point_pa=site.control.set_point_pa if set_point_pa is None else set_point_pa)
    conditions = conditions_of(site, cases)
    conditions = conditions.still if still else conditions
    judge, results = _Judge(tower, window, cases, conditions), []
    for rule in usual_rules(site, taps) if rules is None else rules:
        held = _hold(tower, conditions, target, taps, rule, weights)
        results.append(judge.result(rule, held, tower.readings(held.air, taps)))
    return RuleComparison(tuple(cases), target, taps, tuple(results))


def set_points_that_work(tower, window, cases, set_points_pa, transmitters=None, rules=None, weights=None):
    """Try many set points under each rule in all cases at once.

    set_points_pa (n,) [Pa], rising; the rest as compare_rules. Returns a tuple of `SetPoints`, one a rule.
    """
    site, targets = tower.site, np.atleast_1d(require.finite(set_points_pa=set_points_pa))
    taps = tuple(site.transmitters if transmitters is None else transmitters)
    rows, every = np.tile(np.arange(len(cases)), targets.size), np.repeat(targets, len(cases))
    conditions = conditions_of(site, cases).rows(rows)
    judge = _Judge(tower, window, [cases[row] for row in rows], conditions)
    found = []
    for rule in usual_rules(site, taps) if rules is None else rules:
        held = _hold(tower, conditions, every, taps, rule, weights)
        margin = judge.margins(held.air).reshape(targets.size, -1)
        good = held.held.reshape(margin.shape) & inside(margin)
        found.append(SetPoints(rule, tuple(cases), targets, good, margin, judge.closing(held.air).reshape(margin.shape), held))
    return tuple(found)


def _hold(tower, conditions, target, taps, rule, weights):
    weights = tower.site.control.weights if weights is None else weights
    require.one_of(RULES, rule=rule)
    return tower.hold(conditions, target, taps, rule, weights if rule == "weighted" else None)


class _Judge:
    """Looks at every shut door of all cases against its window."""

    def __init__(self, tower, window, cases, conditions):
        self.cases, self.levels = cases, np.array(tower.levels)
        self.required = tuple(has_to_hold(tower.site, case) for case in cases)
        self.least, self.most, self.doors, self.recloses = {}, {}, {}, {}
        opened = open_by_use(conditions)
        anything = np.any(list(opened.values()), axis=(0, 2))[:, None]
        for use, open_here in opened.items():
            least, most = window.by_storey(tower.levels, use)
            least = np.where(anything, window.by_storey(tower.levels, use, doors_open=True)[0], least)
            self.least[use], self.most[use] = np.where(open_here, -np.inf, least), np.where(open_here, np.inf, most)
            self.recloses[use] = np.where(open_here, np.inf, window.recloses_by_storey(tower.levels, use))
            self.doors[use] = {level: door for door in window.doors if door.use == use for level in door.levels}

    def margins(self, air):
        """Room to the nearest limit of any shut door [cases], infinite where nothing is limited."""
        rooms = [np.minimum(dp - self.least[use], self.most[use] - dp) for use, dp in across_by_use(air).items()]
        return np.min(rooms, axis=(0, 2))

    def closing(self, air):
        """Room [cases] below the pressure up to which every shut door would close again once opened."""
        rooms = [self.recloses[use] - dp for use, dp in across_by_use(air).items()]
        return np.min(rooms, axis=(0, 2))

    def result(self, rule, held, readings):
        out = []
        for use, dp in across_by_use(held.air).items():
            least, most = self.least[use], self.most[use]
            for too, limit, beyond in (("low", least, least - dp), ("high", most, dp - most)):
                for case, storey in np.argwhere(~inside(-beyond)):
                    level = int(self.levels[storey])
                    door, figures = self.doors[use][level], (float(dp[case, storey]), float(limit[case, storey]))
                    out.append(DoorOut(rule, self.cases[case].name, level, door.door, use, *figures, too, door.means(too)))
        dp = held.air.door_dp_pa
        low, high = ~inside(dp - self.least["stair door"]), ~inside(self.most["stair door"] - dp)
        out = tuple(sorted(out, key=lambda door: -door.by_pa))
        return RuleResult(rule, tuple(self.cases), held, readings, low, high, self.margins(held.air), out, self.required)


def _objections(result):
    """What speaks against a rule, in order of weight."""
    shut = np.array([case.shut for case in result.cases])
    outside = np.maximum(-result.margin_pa, 0.0)
    return int((~result.good & shut).sum()), int((~result.good).sum()), float(outside.sum())


def _rule_said(result):
    """One rule in a sentence or two: in how many cases it does, and the worst of the others."""
    count, good = len(result.cases), int(result.good.sum())
    if good == count:
        return f"{result.rule.capitalize()}: every shut door inside its window in all {count} cases."
    bad = np.flatnonzero(~result.good)
    worst = int(bad[np.argmin(result.margin_pa[bad])])
    told = f"in {result.cases[worst].name}: {result.case_text(worst)}"
    return f"{result.rule.capitalize()}: good in {good} of {count} cases; {'the other is' if count - good == 1 else 'the worst is'} {told}."


MOST_SET_POINTS = 150  # tried between the window's ends: beyond it in longer steps
SET_POINT_STEP_PA = 1.0
FINE = (0, 3)  # digits of a pressure that is little or near another one: with two, an inch of water hides a margin of 1 Pa

CLOSER = "its closer shuts it again up to here"  # why a leaf that the pressure pushes open bears no more


def allowed_pressures(site, window=None, closing=True):
    """`SiteWindow` of the least and the most pressure that each door of a site may stand at.

    window: `SiteWindow` to be narrowed, by default `pressure_window(site)`, the stricter of file and standard; closing: whether what the
    closers shut again counts. It does for all that lasts; while something has failed, an exit that stays ajar is told beside it
    (`ExitAjar`). Source and limits: as pressure_window; relatching as formulas.doors.relatching_pressure.
    """
    window = pressure_window(site) if window is None else window
    if not closing:
        return window
    doors = tuple(map(_closing, window.doors))
    stair = [door for door in doors if door.use == "stair door"]
    least = max((door for door in stair if door.least_pa is not None), key=lambda door: door.least_pa, default=None)
    most = min((door for door in stair if door.most_pa is not None), key=lambda door: door.most_pa, default=None)
    return SiteWindow(doors, least, most, window.criteria)


def allowed_set_points(tower, cases, transmitters=None, rules=None):
    """Which whole-pascal set points leave every shut door at what the site allows it, and which let every exit close again besides.

    tower: `Tower`; cases: of `Case`; transmitters, rules: as `rules.set_points_that_work`. Returns a tuple of `SetPoints`, one a rule; none
    where the stair doors' window has no two ends with room between. What `works` of it says is the range that record and lessons name.
    """
    window = allowed_pressures(tower.site, closing=False)  # the closing has its own column
    if window.width_pa is None or window.width_pa <= 0:
        return ()
    step = max(SET_POINT_STEP_PA, np.ceil(window.width_pa / MOST_SET_POINTS))
    tried = np.arange(np.ceil(window.least_pa), np.floor(window.most_pa) + 0.5, step)
    return set_points_that_work(tower, window, cases, tried, transmitters, rules) if tried.size else ()


def _closing(window):
    surely = None if window.relatch_pa is None else window.relatch_pa[0]
    if surely is None or (window.most_pa is not None and window.most_pa <= surely):
        return window
    return replace(window, most_pa=surely, most_because=CLOSER, of_file=window.stated)
