"""Tested in May, good in January? Every door of a fitted building in the design's weathers, with interval and probability.

Buildings are drawn from what the day leaves open (normal in the unknowns, of `FittedBuilding`), each is asked in every weather of the
site file with the stair as warm as the rooms and after an hour, all doors shut and the design's own doors open or, where it states none,
those of the usual cases, the loop at its set point. A door's probability is the share of buildings in which it keeps inside its window in
every case; that of a set point the share in which all doors do. Source: text-book Monte Carlo (from memory, not verified). Limits: those
of the fit; the design's weathers, no others; the stair's air after an hour as the fitted building's heat balance has it, and as uncertain
as STAIR_SD_C; steady air. The loop's transmitters are off by anything within the accuracy of the site file, each by a share of its own in
every drawn building and the same in all weathers, as nothing but the bound is known of it (rectangular, JCGM 100:2008 4.3.7, memory).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers import require
from helpers.formulas.signals import accuracy
from helpers.model.air.operating_point import HELD, combine_good
from helpers.model.air.tower import Tower
from helpers.model.sweep import at, meets, squared_steps
from helpers.studies.cases import AFTER_AN_HOUR, AS_STATED, conditions_of, design_states_doors, usual_cases
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import handle_force_n, pressure_window
from helpers.studies.measured.fitted import FittedBuilding
from helpers.studies.measured.readings import FLOW, QUANTITIES, SURE, DayReadings
from helpers.studies.measured.unknowns import Unknowns, computed_at
from helpers.studies.status import SPARE_PA, inside, worst_of

DRAWS, SPEEDS, SET_POINTS = 120, 13, 41
STAIR_SD_C = 1.5  # of the stair's air after an hour: film and walls are known to within a factor; ours
MOST_LEFT_OUT = 0.1  # of the drawn buildings: those at the far ends of what a day leaves open, told where any is; ours
SURE_SHARE = 0.95  # of the buildings: below that a door is no PASS
EVEN_SHARE = 0.5  # up to that it is FAIL: as likely out as inside
PERCENT = (5, 50, 95)


@dataclass(frozen=True)
class DoorForecast:
    """One shut door: its name, use and level, the case in which it is inside in fewest buildings (of several as sure the one with least
    room in the middle of them), pressure [Pa] there at PERCENT, window (least, most or up to where it shuts again; infinite where none),
    the share of buildings in which it is inside in every case; reach_pa: from PERCENT's first in the case with minimum pressure to its last
    in the case with most; force_n: at the handle at the last of these, None for a door that nobody works by hand against the pressure, and
    its limit; doubted: whether the fit is not to be believed, or a reading of this door does not fit it.
    """

    door: str
    use: str
    level: int
    case: str
    pressures_pa: tuple
    window_pa: tuple
    probability: float
    reach_pa: tuple
    force_n: tuple | None
    doubted: bool = False

    @property
    def state(self):
        """Key of its status: FAIL where it is out in half of the buildings or more, CHECK where it is not surely inside, has less room in
        the middle of the buildings than a computed door needs on every page, or is doubted."""
        by_share = "good" if self.probability >= SURE_SHARE else "attention" if self.probability > EVEN_SHARE else "wrong"
        return worst_of([by_share, "attention" if self.doubted or self.room_pa < SPARE_PA else "good"])

    @property
    def room_pa(self):
        """Room of the middle of the buildings to the nearer limit in the case with least room [Pa], below zero when out."""
        (least, most), middle = self.window_pa, self.pressures_pa[1]
        return float(min(middle - least, most - middle))


@dataclass(frozen=True)
class AtSetPoint:
    """Buildings and cases with the loop at a set point: across_pa, rooms_pa [draws, cases, doors] (room to the nearer limit, infinite for
    an open door); held [draws, cases]."""

    across_pa: np.ndarray
    rooms_pa: np.ndarray
    held: np.ndarray

    @property
    def good(self):
        """Whether every door is inside and every case held [draws]."""
        return inside(self.rooms_pa).all(axis=(1, 2)) & self.held.all(axis=1)

    @property
    def probability(self):
        """Share of the buildings that are good."""
        return float(self.good.mean())


@dataclass(frozen=True)
class Forecast:
    """Doors of a fitted building in the design's weathers.

    cases: of `Case`; doors: `DoorColumns`; combined_pa [draws, cases, speeds], across_pa [draws, cases, speeds, doors]: over fan speed;
    opened [draws, cases, doors]; kept: numbers of the drawn buildings whose air has an answer at every speed, of so many `drawn`, the
    others are left out; seed: of their drawing.
    """

    fitted: FittedBuilding
    cases: tuple
    doors: DoorColumns
    combined_pa: np.ndarray
    across_pa: np.ndarray
    opened: np.ndarray
    kept: np.ndarray
    drawn: int
    seed: int

    def at(self, set_point_pa=None):
        """The buildings at a set point [Pa], by default the site's own. Returns `AtSetPoint`."""
        site = self.fitted.readings.site
        goal = site.control.set_point_pa if set_point_pa is None else require.single(set_point_pa=set_point_pa)
        shape, sign = self.combined_pa.shape[:2], site.fan.sign
        combined, across = self.combined_pa.reshape(-1, SPEEDS), self.across_pa.reshape(-1, *self.across_pa.shape[2:])
        rest = meets(sign * combined, np.full(len(combined), sign * goal))
        found = at(across, rest.place, np.arange(len(combined))).reshape(*shape, -1)
        rooms = np.minimum(np.minimum(*self.doors.rooms(found, self.opened)), self.doors.closing(found, self.opened))
        return AtSetPoint(found, rooms, (rest.state == HELD).reshape(shape))

    @cached_property
    def own(self):
        """`AtSetPoint` at the site's own set point."""
        return self.at()

    def by_door(self, shut=True, set_point_pa=None):
        """A `DoorForecast` of each shut door, the least probable first; shut: in the cases with all doors shut, else the design's open."""
        now = self.own if set_point_pa is None else self.at(set_point_pa)
        told, chosen = [], [place for place, case in enumerate(self.cases) if case.shut == shut]
        for place in range(len(self.doors.columns)):
            asked = [case for case in chosen if np.isfinite(now.rooms_pa[:, case, place]).all()]
            if not asked:
                continue
            rooms = now.rooms_pa[:, asked, place]
            worst = asked[int(np.lexsort((np.median(rooms, axis=0), inside(rooms).mean(axis=0)))[0])]
            low, middle, high = np.percentile(now.across_pa[:, asked, place], PERCENT, axis=0)
            there = tuple(of[asked.index(worst)] for of in (low, middle, high))
            share = float(inside(rooms).all(axis=1).mean())
            case, reach = self.cases[worst].name, (low.min(), high.max())
            told.append(door_forecast(self.doors, self.fitted, place, case, there, share, reach))
        return tuple(sorted(told, key=lambda one: one.probability))

    @cached_property
    def by_set_point(self):
        """(set points [Pa], share of the buildings that are good at each)."""
        least = max(1.0, float(np.min(self.doors.least_pa[np.isfinite(self.doors.least_pa)], initial=10.0)) / 2)
        highest = min(np.median(self.combined_pa[..., -1]), max(4 * least, 2 * self.fitted.readings.site.control.set_point_pa))
        goals = np.linspace(least, max(float(highest), 2 * least), SET_POINTS)
        return goals, np.array([self.at(float(goal)).probability for goal in goals])

    @property
    def suits(self):
        """(lowest, highest) set point at which at least SURE_SHARE of the buildings keep every door, None where none does."""
        goals, shares = self.by_set_point
        good = goals[shares >= SURE_SHARE]
        return (float(good[0]), float(good[-1])) if good.size else None

    @property
    def best(self):
        """(set point, share) that suits most buildings; of several the middle one."""
        goals, shares = self.by_set_point
        most = np.flatnonzero(shares >= shares.max() - 1e-9)
        place = int(most[len(most) // 2])
        return float(goals[place]), float(shares[place])


def door_forecast(doors, fitted, place, case, pressures_pa, probability, reach_pa):
    """The `DoorForecast` of one of `DoorColumns`, by its place; fitted: `FittedBuilding`; others as there."""
    column, site = doors.columns[place], fitted.readings.site
    kind = site.doors[column.window.door]
    misfits = {(QUANTITIES[quantity], site.storeys[storey].level) for quantity, storey in fitted.misfit_places}
    doubted = fitted.misfits.doubted or (column.use, column.level) in misfits
    by_hand = kind.worked_by_hand and kind.opens == "against pressure"
    force = (handle_force_n(kind, float(reach_pa[1])), column.window.force_n) if by_hand else None
    window = float(doors.least_pa[place]), float(min(doors.most_pa[place], doors.recloses_pa[place]))
    pressures, reach = (tuple(map(float, of)) for of in (pressures_pa, reach_pa))
    return DoorForecast(column.text, column.use, column.level, case, pressures, window, probability, reach, force, doubted)


def all_together(doors, probability):
    """Key of the status of all doors: that of the worst, and no PASS where not SURE_SHARE of the buildings keep all of them at once."""
    worst = worst_of(one.state for one in doors)
    return "attention" if worst == "good" and probability < SURE_SHARE else worst


def forecast(fitted, draws=DRAWS, seed=0):
    """What the fitted building's doors bear in the design's weathers. Returns `Forecast`.

    draws: buildings, 20 to 2000; seed: of their drawing. Raises ValueError where the air of more than MOST_LEFT_OUT of them has no answer,
    or no door has a limit.
    """
    draws = require.whole(20, 2000, draws=draws)
    site = fitted.readings.site
    tower, unknowns, cases = Tower(site), Unknowns.of(site), design_cases(site)
    doors = DoorColumns(tower, pressure_window(site))
    x, rng = drawn_from(fitted, draws, seed), np.random.default_rng(seed + 1)
    conditions, _ = unknowns.conditions(conditions_of(fitted.site, cases), x[:, : len(unknowns)])
    late = np.tile([case.stair == AFTER_AN_HOUR for case in cases], draws)
    warmer = np.repeat(rng.normal(size=draws), len(cases)) * STAIR_SD_C * late
    conditions.stair_c = conditions.stair_c + (warmer[:, None] if conditions.stair_c.ndim == 2 else warmer)
    speeds = squared_steps(*site.fan.speed_limits_hz(site.control.fire_mode), SPEEDS)
    air = tower.solve(conditions.rows(np.repeat(np.arange(len(conditions)), SPEEDS)), np.tile(speeds, len(conditions)))
    kept = np.flatnonzero(air.converged.reshape(draws, -1).all(axis=1))
    if len(kept) < (1 - MOST_LEFT_OUT) * draws:
        raise ValueError(f"fitted building must have an answer at every speed: {draws - len(kept)} of {draws} drawn ones have none")
    right, across = (of.reshape(draws, len(cases), SPEEDS, -1)[kept] for of in (tower.readings(air), doors.across(air)))
    off = rng.uniform(-1.0, 1.0, (draws, len(site.transmitters))) * accuracies_pa(site)
    shown = right + off[kept, None, None, :]
    combined = combine_good(np.moveaxis(shown, -1, 0), site.control.rule, site.control.weights)
    opened = doors.standing_open(conditions).reshape(draws, len(cases), -1)[kept]
    return Forecast(fitted, cases, doors, combined, across, opened, kept, draws, seed)


def accuracies_pa(site):
    """By how much each of the loop's transmitters may be off, plus or minus [transmitters]."""
    return np.array([accuracy(tap.range_low_pa, tap.range_high_pa, tap.accuracy_percent_span) for tap in site.transmitters])


def design_cases(site):
    """Every weather of the site with its doors shut, and with all of the design's doors open; where it states none those that procedure
    and record play, of `usual_cases`. Both ends of the stair's air."""
    doors = (site.design.open_doors, site.design.open_exits) if design_states_doors(site) else (None, None)
    known = dict.fromkeys(case for weather in site.weather for case in usual_cases(site, weather, *doors))
    return tuple(case for case in known if case.stair != AS_STATED)


def drawn_from(fitted, draws, seed):
    """Buildings [draws, unknowns of the fit], from what its day leaves open."""
    root = np.linalg.cholesky(fitted.covariance + 1e-12 * np.eye(len(fitted.x)))
    return fitted.x + np.random.default_rng(seed).normal(size=(draws, len(fitted.x))) @ root.T


@dataclass(frozen=True)
class Telling:
    """A reading that would narrow the forecast: what, in which round, and the share of the doors' variance that it takes away."""

    what: str
    share: float


def most_telling(found):
    """The two readings that would narrow the forecast most, the second with the first one done. Returns a tuple of `Telling`.

    found: `Forecast`. By the drawn buildings' own covariance between what could be read in the day's rounds and the doors' pressures in
    the cases; a gauge as good as the day's. Readings that were made may be made again. Limits: straight lines between the two.
    """
    fitted, readings = found.fitted, found.fitted.readings
    x = drawn_from(fitted, found.drawn, found.seed)[found.kept]
    every = computed_at(Tower(readings.site), readings, fitted.unknowns, x).reshape(len(x), -1)
    noise = np.full((len(readings.speeds_hz), len(QUANTITIES), len(readings.site.storeys)), readings.day.gauges.pressure_pa / SURE)
    noise[:, FLOW] = readings.day.gauges.flow_percent / 100 / SURE * np.abs(every.mean(axis=0)).reshape(noise.shape)[:, FLOW]
    doors = found.own.across_pa[:, np.isfinite(found.own.rooms_pa).all(axis=0)]
    centred, doors = every - every.mean(axis=0), doors - doors.mean(axis=0)
    among, together = centred.T @ centred / len(x), centred.T @ doors / len(x)  # [candidates, candidates], [candidates, doors]
    names, whole, told = _names(readings), (doors**2).sum() / len(x), []
    there = np.array([name != "" for name in names])
    for _ in range(2):
        seen = np.diag(among) + noise.ravel() ** 2
        taken = np.where(there, (together**2).sum(axis=1) / seen / whole, -1.0)
        best = int(taken.argmax())
        told.append(Telling(names[best], float(taken[best])))
        beside = among[:, best] / seen[best]
        among, together = among - np.outer(beside, among[best]), together - np.outer(beside, together[best])
        there = there & (np.arange(len(there)) != best)
    return tuple(told)


def _names(readings: DayReadings):
    """What each place among all that could be read is, "" where there is nothing to be read."""
    site, names, used = readings.site, [], set(readings.round.tolist())
    for number in range(len(readings.speeds_hz)):
        for quantity in QUANTITIES:
            for place, storey in enumerate(site.storeys):
                there = number in used and {"stair door": storey.stair_door, "lobby door": storey.lobby and storey.lobby_door,
                         "final exit": storey.final_exit_door, "fan flow": place == 0}.get(quantity, True)  # fmt: skip
                where = "" if quantity == "fan flow" else f"{',' if 'over' in quantity else ' of'} storey {storey.level}"
                names.append(f"{quantity}{where}, round {number + 1}" if there else "")
    return names
