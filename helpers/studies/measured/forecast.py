"""Tested in May, good in January? Every door of a fitted building in the design's weathers, with interval and probability.

Buildings are drawn from what the day leaves open (normal in the unknowns, of `FittedBuilding`), each is asked in every weather of the site
file with the stair as warm as the rooms and after an hour, all doors shut and the design's own doors open, the loop at its set point. A
door's probability is the share of buildings in which it keeps inside its window in every case; that of a set point the share in which all
doors do. Source: text-book Monte Carlo (from memory, not verified). Limits: those of the fit; the design's weathers, no others; the stair's
air after an hour as the fitted building's heat balance has it, and as uncertain as STAIR_SD_C; readings without error; steady air.
"""

from dataclasses import dataclass

import numpy as np

from helpers import require
from helpers.model.air.operating_point import HELD, combine_good
from helpers.model.air.tower import Tower
from helpers.model.sweep import at, meets, squared_steps
from helpers.studies.cases import AS_STATED, conditions_of, design_states_doors, usual_cases
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.measured.fitted import FittedBuilding, Unknowns, computed_at
from helpers.studies.measured.readings import FLOW, QUANTITIES, SURE, Readings
from helpers.studies.status import inside

DRAWS, SPEEDS, SET_POINTS = 120, 13, 41
STAIR_SD_C = 1.5  # of the stair's air after an hour: film and walls are known to within a factor; ours
MOST_LEFT_OUT = 0.02  # of the drawn buildings
SURE_SHARE = 0.95  # of the buildings: below that a door is no PASS
PERCENT = (5, 50, 95)


@dataclass(frozen=True)
class DoorForecast:
    """One shut door in its worst case: its name, the case, pressure [Pa] at PERCENT, window (least, most or up to where it
    shuts again; infinite where none), the share of buildings in which it is inside in every case."""

    door: str
    case: str
    pressures_pa: tuple
    window_pa: tuple
    probability: float

    @property
    def state(self):
        """Key of its status: FAIL where it is out more often than not, CHECK where it is not surely inside."""
        return "good" if self.probability >= SURE_SHARE else "attention" if self.probability > 0.5 else "wrong"


@dataclass(frozen=True)
class Forecast:
    """Doors of a fitted building in the design's weathers.

    cases: of `Case`; across_pa, rooms_pa [draws, cases, doors] at the site's set point (room to the nearer limit, infinite for an open
    door); held [draws, cases]; set_points_pa [set points] and the share of buildings in which every door is inside and every case held;
    kept: numbers of the drawn buildings whose air has an answer at every speed, of so many `drawn`: the others are left out.
    """

    fitted: FittedBuilding
    cases: tuple
    doors: DoorColumns
    across_pa: np.ndarray
    rooms_pa: np.ndarray
    held: np.ndarray
    set_points_pa: np.ndarray
    shares: np.ndarray
    kept: np.ndarray
    drawn: int
    seed: int

    def by_door(self, shut=True):
        """A `DoorForecast` of each shut door, the least probable first; shut: in the cases with all doors shut, else the design's open."""
        told, chosen = [], [place for place, case in enumerate(self.cases) if case.shut == shut]
        for place, column in enumerate(self.doors.columns):
            rooms = self.rooms_pa[:, chosen, place]
            asked = [case for case, room in zip(chosen, np.isfinite(rooms).all(axis=0), strict=True) if room]
            if not asked:
                continue
            worst = asked[int(np.percentile(self.rooms_pa[:, asked, place], PERCENT[0], axis=0).argmin())]
            pressures = tuple(map(float, np.percentile(self.across_pa[:, worst, place], PERCENT)))
            ends = float(self.doors.least_pa[place]), float(min(self.doors.most_pa[place], self.doors.recloses_pa[place]))
            probability = float(inside(self.rooms_pa[:, asked, place]).all(axis=1).mean())
            told.append(DoorForecast(column.text, self.cases[worst].name, pressures, ends, probability))
        return tuple(sorted(told, key=lambda one: one.probability))

    @property
    def probability(self):
        """Share of the buildings in which every door is inside and the set point is held in every case."""
        return float((inside(self.rooms_pa).all(axis=(1, 2)) & self.held.all(axis=1)).mean())

    @property
    def suits(self):
        """(lowest, highest) set point at which at least SURE_SHARE of the buildings keep every door, None where none does."""
        good = self.set_points_pa[self.shares >= SURE_SHARE]
        return (float(good[0]), float(good[-1])) if good.size else None

    @property
    def best(self):
        """(set point, share) that suits most buildings; of several the middle one."""
        most = np.flatnonzero(self.shares >= self.shares.max() - 1e-9)
        place = int(most[len(most) // 2])
        return float(self.set_points_pa[place]), float(self.shares[place])


def forecast(fitted, draws=DRAWS, seed=0):
    """What the fitted building's doors bear in the design's weathers. Returns `Forecast`.

    draws: buildings, 20 to 2000; seed: of their drawing. Raises ValueError where the air of more than MOST_LEFT_OUT of them has no answer,
    or no door has a limit.
    """
    draws = require.whole(20, 2000, draws=draws)
    site = fitted.readings.site
    tower, unknowns, doors = Tower(site), Unknowns.of(site), DoorColumns(Tower(site), pressure_window(site))
    cases = _cases(site)
    x, rng = drawn_from(fitted, draws, seed), np.random.default_rng(seed + 1)
    base = conditions_of(fitted.site, cases)
    conditions, _ = unknowns.conditions(base, x[:, : len(unknowns)])
    late = np.tile([case.stair.startswith("after") for case in cases], draws)
    warmer = np.repeat(rng.normal(size=draws), len(cases)) * STAIR_SD_C * late
    conditions.stair_c = conditions.stair_c + (warmer[:, None] if conditions.stair_c.ndim == 2 else warmer)
    speeds = squared_steps(*site.fan.speed_limits_hz(site.control.fire_mode), SPEEDS)

    air = tower.solve(conditions.rows(np.repeat(np.arange(len(conditions)), SPEEDS)), np.tile(speeds, len(conditions)))
    kept = np.flatnonzero(air.converged.reshape(draws, -1).all(axis=1))
    if len(kept) < (1 - MOST_LEFT_OUT) * draws:
        raise ValueError(f"fitted building must have an answer at every speed: {draws - len(kept)} of {draws} drawn ones have none")
    shown, across = (of.reshape(draws, len(cases), SPEEDS, -1)[kept] for of in (tower.readings(air), doors.across(air)))
    shown, across = (of.reshape(-1, *of.shape[2:]) for of in (shown, across))  # a row a building and case
    combined = combine_good(np.moveaxis(shown, -1, 0), site.control.rule, site.control.weights)  # [rows, speeds]
    opened = doors.standing_open(conditions).reshape(draws, len(cases), -1)[kept].reshape(len(combined), -1)
    at_set_point = _judged(site, doors, combined, across, opened, np.array([site.control.set_point_pa]))
    least = max(1.0, float(np.min(doors.least_pa[np.isfinite(doors.least_pa)], initial=10.0)) / 2)
    goals = np.linspace(least, min(2.5 * float(np.median(combined[:, -1])), max(4 * least, 2 * site.control.set_point_pa)), SET_POINTS)
    good = np.array([_judged(site, doors, combined, across, opened, np.array([goal]))[3] for goal in goals])
    shares = good.reshape(len(goals), len(kept), len(cases)).all(axis=2).mean(axis=1)
    shape = len(kept), len(cases)
    found, rooms, held, _ = at_set_point
    return Forecast(fitted, cases, doors, found.reshape(*shape, -1), rooms.reshape(*shape, -1), held.reshape(shape), goals, shares, kept,
                    draws, seed)  # fmt: skip


def _cases(site):
    """Every weather of the site with its doors shut, and with all of the design's doors open where it states some; both ends of the
    stair's air."""
    doors = (site.design.open_doors, site.design.open_exits) if design_states_doors(site) else ((), ())
    known = dict.fromkeys(case for weather in site.weather for case in usual_cases(site, weather, *doors))
    return tuple(case for case in known if case.stair != AS_STATED)


def drawn_from(fitted, draws, seed):
    """Buildings [draws, unknowns of the fit], from what its day leaves open."""
    root = np.linalg.cholesky(fitted.covariance + 1e-12 * np.eye(len(fitted.x)))
    return fitted.x + np.random.default_rng(seed).normal(size=(draws, len(fitted.x))) @ root.T


def _judged(site, doors, combined, across, opened, goal):
    """(across [rows, doors], room to the nearer limit, held [rows], every door inside and held [rows]) with the loop at a set point."""
    rows, sign = np.arange(len(combined)), site.fan.sign
    rest = meets(sign * combined, sign * goal * np.ones(len(combined)))
    found = at(across, rest.place, rows)
    rooms = np.minimum(np.minimum(*doors.rooms(found, opened)), doors.closing(found, opened))
    held = rest.state == HELD
    return found, rooms, held, held & inside(rooms).all(axis=1)


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
    asked = np.isfinite(found.rooms_pa).all(axis=0)
    doors = found.across_pa[:, asked]
    centred, doors = every - every.mean(axis=0), doors - doors.mean(axis=0)
    told, names = [], _names(readings)
    there = np.array([name != "" for name in names])
    whole = (doors**2).sum()
    for _ in range(2):
        variance = (centred**2).mean(axis=0) + noise.ravel() ** 2
        together = centred.T @ doors / len(doors)  # [candidates, doors]
        taken = np.where(there, (together**2).sum(axis=1) / variance * len(doors) / whole, -1.0)
        best = int(taken.argmax())
        told.append(Telling(names[best], float(taken[best])))
        slope = together[best] / variance[best]
        doors = doors - centred[:, [best]] * slope
        centred = centred - centred[:, [best]] * (centred.T @ centred[:, best] / len(centred) / variance[best])
        there = there & (np.arange(len(there)) != best)
    return tuple(told)


def _names(readings: Readings):
    """What each place among all that could be read is, "" where there is nothing to be read."""
    site, names = readings.site, []
    for number in range(len(readings.speeds_hz)):
        for quantity in QUANTITIES:
            for place, storey in enumerate(site.storeys):
                there = {"stair door": storey.stair_door, "lobby door": storey.lobby and storey.lobby_door,
                         "final exit": storey.final_exit_door, "fan flow": place == 0}.get(quantity, True)  # fmt: skip
                where = "" if quantity == "fan flow" else f"{',' if 'over' in quantity else ' of'} storey {storey.level}"
                names.append(f"{quantity}{where}, round {number + 1}" if there else "")
    return names
