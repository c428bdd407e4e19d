"""A test day and one weather of one's own: every door with its interval at any outdoor temperature, any warmth of the stair and any set
point, and as it would be had the gauges been others or fewer readings been taken; quick enough for a slider.

The network is solved once, over fan speed at a few weathers, for the fitted building and for one step to either side of each unknown:

    dp(x) = dp(x0) + sum (a d + b d^2) over the unknowns, d = x - x0

Between the weathers runs a straight line over 1/T, as the stack effect does. Other gauges, or fewer readings, move the building by one step
of Gauss and Newton from that of the whole day. The loop's transmitters are off as in the forecast, by straight lines. Against buildings
held one by one every end of an interval is within 1 Pa, against a fit of its own with three storeys read within 2 Pa
(tests/studies/measured/test_any_weather.py measures).
Limits: those of fit and forecast; all doors shut; the stair at one temperature, as uncertain as STAIR_SD_C; no two unknowns bend together.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers import require
from helpers.formulas.air import ZERO_C_K
from helpers.model.air.conditions import Conditions
from helpers.model.air.operating_point import HELD, combine_good
from helpers.model.air.tower import Tower
from helpers.model.sweep import at, meets, squared_steps
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.measured.drawn import DrawnDay
from helpers.studies.measured.fitted import FittedBuilding
from helpers.studies.measured.forecast import PERCENT, SPEEDS, STAIR_SD_C, Telling, accuracies_pa, all_together, door_forecast
from helpers.studies.measured.readings import FLOW, SURE
from helpers.studies.measured.unknowns import Unknowns
from helpers.studies.status import inside

OUTDOOR_C, STAIR_C = (-25.0, -15.0, -5.0, 8.0, 22.0), (2.0, 12.0, 24.0)  # weathers that are solved
DRAWS, SEED, STEP = 500, 0, 1.0  # buildings; of their drawing; to either side of an unknown, in its standard deviations


@dataclass(frozen=True)
class InWeather:
    """All doors in one weather: case, in words; across_pa, rooms_pa [draws, doors] (room to the nearer limit); true_pa [doors] of the
    building behind a drawn day, NaN where nobody knows it; held: whether the loop holds its set point; telling: the reading of the day that
    would narrow the doors' intervals most if it were taken once more; stair_share: of what is unsure, the stair's air in this weather, of
    which no reading in another one tells."""

    case: str
    columns: DoorColumns
    fitted: FittedBuilding
    across_pa: np.ndarray
    rooms_pa: np.ndarray
    true_pa: np.ndarray
    held: bool
    telling: Telling
    stair_share: float

    @cached_property
    def doors(self):
        """A `DoorForecast` of each door, the lowest stair door first, final exits last."""
        ends, told = np.percentile(self.across_pa, PERCENT, axis=0).T, []
        for place, (low, middle, high) in enumerate(ends):
            share = float(inside(self.rooms_pa[:, place]).mean())
            told.append(door_forecast(self.columns, self.fitted, place, self.case, (low, middle, high), share, (low, high)))
        return tuple(told)

    @property
    def least_sure(self):
        """The door that is inside in fewest buildings, of several the one furthest out or with least room: `DoorForecast`."""
        rooms = np.median(self.rooms_pa, axis=0)
        return min(zip(self.doors, rooms, strict=True), key=lambda one: (one[0].probability, one[1]))[0]

    @property
    def probability(self):
        """Share of the buildings with every door inside."""
        return float(inside(self.rooms_pa).all(axis=1).mean()) if self.held else 0.0

    @property
    def state(self):
        """Key of the status of all doors together; FAIL where the loop does not hold."""
        return all_together(self.doors, self.probability) if self.held else "wrong"

    def of(self, use, level):
        """The `DoorForecast` of a door."""
        return next(one for one in self.doors if (one.use, one.level) == (use, level))

    def covered(self):
        """(how many doors of the true building lie between the ends of their interval, of how many)."""
        held = [low <= true <= high for (low, _, high), true in zip((one.pressures_pa for one in self.doors), self.true_pa, strict=True)]
        return sum(held), len(held)


@dataclass(frozen=True)
class AnyWeather:
    """A fitted building over weathers. combined_pa [outdoors, stairs, points, speeds], across_pa [outdoors, stairs, points, speeds, doors]:
    of the points x0, x0 + STEP and x0 - STEP of each unknown, and last the true building, or x0 again where nobody knows it; known: which
    of the two."""

    fitted: FittedBuilding
    doors: DoorColumns
    combined_pa: np.ndarray
    across_pa: np.ndarray
    known: bool

    @classmethod
    def of(cls, fitted: FittedBuilding, truth: DrawnDay | None = None, weather="winter"):
        """Solve it. truth: the drawn day that was fitted; weather: of the site file, whose wind it takes."""
        site = fitted.readings.site
        tower, unknowns = Tower(site), Unknowns.of(site)
        doors, count = DoorColumns(tower, pressure_window(site)), len(unknowns)
        x0, steps = fitted.x[:count], STEP * np.eye(count)
        points = np.concatenate([x0[None], x0 + steps, x0 - steps, (x0 if truth is None else truth.x)[None]])
        outdoor, stair = (of.ravel() for of in np.meshgrid(OUTDOOR_C, STAIR_C, indexing="ij"))
        many, _ = unknowns.conditions(Conditions.of(site, weather, outdoor_c=outdoor, stair_c=stair), points)
        speeds = squared_steps(*site.fan.speed_limits_hz(site.control.fire_mode), SPEEDS)
        air = tower.solve(many.rows(np.repeat(np.arange(len(many)), SPEEDS)), np.tile(speeds, len(many)))
        combined = combine_good(np.moveaxis(tower.readings(air), -1, 0), site.control.rule, site.control.weights)
        across = np.where(air.converged[:, None], doors.across(air), np.nan)
        shape = len(points), len(OUTDOOR_C), len(STAIR_C), SPEEDS
        combined, across = (np.moveaxis(of.reshape(*shape, *of.shape[1:]), 0, 2) for of in (combined, across))
        return cls(fitted, doors, combined, across, truth is not None)

    def building(self, gauge_pa=None, kept=None):
        """(x, covariance) of the fitted building with pressure gauges of another uncertainty (95 %) [Pa], from some of the readings
        (booleans)."""
        readings, fitted = self.fitted.readings, self.fitted
        kept = np.ones(len(readings), bool) if kept is None else np.asarray(kept, bool)
        gauge = readings.day.gauges.pressure_pa if gauge_pa is None else require.single_positive(gauge_pa=gauge_pa)
        uncertainty = self._counted(gauge)[kept]
        scaled, off = fitted.slopes[kept] / uncertainty[:, None], (readings.value - fitted.computed)[kept] / uncertainty
        curve = scaled.T @ scaled + np.eye(len(fitted.x))
        return fitted.x + np.linalg.solve(curve, scaled.T @ off - fitted.mode), np.linalg.inv(curve)

    def at(self, outdoor_c, stair_c, set_point_pa, gauge_pa=None, kept=None, case=""):
        """The doors in a weather, as `InWeather`. outdoor_c, stair_c: within those solved, else ValueError; set_point_pa [Pa]; gauge_pa,
        kept: as `building`; case: in words. Raises ValueError where some air has no answer there."""
        out, out_part = _between(OUTDOOR_C, require.single(outdoor_c=outdoor_c), "outdoor_c")
        warm, warm_part = _between(STAIR_C, require.single(stair_c=stair_c), "stair_c")
        near, parts = np.s_[out : out + 2, warm : warm + 2], np.array([1 - warm_part, warm_part])
        across, held = self._held_at(self.combined_pa[near], self.across_pa[near], set_point_pa)
        more, _ = self._held_at(self.combined_pa[near][:, :, :1], self.across_pa[near][:, :, :1], set_point_pa + 1.0)
        if not np.isfinite(across).all():
            raise ValueError(f"set_point_pa must be one at which the air has an answer in the model; that of {set_point_pa:g} has none")
        by_stair, raised = ((1 - out_part) * of[0] + out_part * of[1] for of in (across, more))  # [stairs, points, doors]
        pressures, held = np.tensordot(parts, by_stair, 1), held[..., 0]
        per_pa = np.tensordot(parts, raised, 1)[0] - pressures[0]  # with a pascal more held
        warmer = (by_stair[1, 0] - by_stair[0, 0]) / (STAIR_C[warm + 1] - STAIR_C[warm]) * STAIR_SD_C
        (middle, *sides), true = np.split(pressures[:-1], [1, 1 + (len(pressures) - 2) // 2]), pressures[-1]
        up, down = (side - middle for side in sides)
        x, covariance = self.building(gauge_pa, kept)
        draws, moved = np.random.default_rng(SEED), x - self.fitted.x
        root = np.linalg.cholesky(covariance + 1e-12 * np.eye(len(x)))
        d = (moved + draws.normal(size=(DRAWS, len(x))) @ root.T)[:, : len(up)] / STEP
        found = middle + d @ (up - down) / 2 + d**2 @ (up + down) / 2 + draws.normal(size=(DRAWS, 1)) * warmer
        off = self._transmitters_off(draws)
        found = found + off[:, None] * per_pa
        shut = np.zeros(found.shape, bool)
        rooms = np.minimum(np.minimum(*self.doors.rooms(found, shut)), self.doors.closing(found, shut))
        true = true if self.known else np.full(len(true), np.nan)
        slopes = np.zeros((len(x), middle.shape[1]))
        slopes[: len(up)] = (up - down) / (2 * STEP)
        told = self._told(covariance, slopes, warmer, off.std() * per_pa, gauge_pa)
        return InWeather(case, self.doors, self.fitted, found, rooms, true, bool((held == HELD).all()), *told)

    def _transmitters_off(self, draws):
        """By how much the loop holds another pressure than its reading [draws]; of a rule that picks one reading the error of one."""
        site = self.fitted.readings.site
        off = draws.uniform(-1.0, 1.0, (len(site.transmitters), DRAWS)) * accuracies_pa(site)[:, None]
        averages = site.control.rule in ("average", "weighted")
        return combine_good(off, site.control.rule, site.control.weights) if averages else off[0]

    def _told(self, covariance, slopes, warmer, off, gauge_pa):
        """(`Telling` of one more reading, share of the stair's air) of the variance of all doors; by straight lines."""
        readings = self.fitted.readings
        known = covariance @ slopes  # [unknowns, doors]
        whole = (slopes * known).sum() + (warmer**2).sum() + (off**2).sum()
        uncertainty = self._counted(gauge_pa or readings.day.gauges.pressure_pa)
        seen = np.einsum("ru,uv,rv->r", self.fitted.slopes, covariance, self.fitted.slopes) + uncertainty**2
        taken = ((self.fitted.slopes @ known) ** 2).sum(axis=1) / seen / whole
        best = int(taken.argmax())
        return Telling(readings.said(best), float(taken[best])), float((warmer**2).sum() / whole)

    def _counted(self, gauge_pa):
        """Standard uncertainty [readings] with a gauge of another one (95 %) [Pa]; one that does not fit counts as little as before."""
        readings = self.fitted.readings
        own = np.where(readings.quantity == FLOW, readings.uncertainty, gauge_pa / SURE)
        return own * self.fitted.counted / readings.uncertainty

    def _held_at(self, combined, across, set_point_pa):
        """(pressures [.., points, doors], states [.., points]) with the reading at the set point."""
        sign, shape = self.fitted.readings.site.fan.sign, combined.shape[:-1]
        goal = sign * require.single(set_point_pa=set_point_pa)
        rest = meets(sign * combined.reshape(-1, SPEEDS), np.full(int(np.prod(shape)), goal))
        rows = at(across.reshape(-1, *across.shape[-2:]), rest.place, np.arange(len(rest.place)))
        return rows.reshape(*shape, -1), rest.state.reshape(shape)


def _between(nodes_c, value_c, name):
    """(number of the node before, part of the way to the next over 1/T) of a temperature [°C]."""
    require.between(nodes_c[0], nodes_c[-1], **{name: value_c})
    before = int(np.clip(np.searchsorted(nodes_c, value_c, side="right") - 1, 0, len(nodes_c) - 2))
    low, high, here = (1 / (one + ZERO_C_K) for one in (nodes_c[before], nodes_c[before + 1], value_c))
    return before, (here - low) / (high - low)
