"""The building fitted to its test day: by which factor each kind of leak, the shaft and the fan differ from the site file.

What is asked for lies near what the file says, as far as the published classes of tightness lie apart; the readings pull it away from
there, each as hard as its gauge is good. The most probable building (maximum a posteriori) is found first; what is reported is the mean
of all that the day leaves possible, in logarithms, with its covariance.

    least of  sum ((read - computed(x)) / uncertainty)^2 + sum x^2        x: every unknown in standard deviations from the file's figure

Unknowns: the kinds of KINDS, log-normal; each storey's walls and door gaps beside its kind's mean; the traverse's own bias; the day's
temperatures and wind, as far as they may have been misread. Solved by Gauss and Newton with Levenberg's damping on the air network, its
slopes by central differences, all of them in one solution; covariance (J'J + 1)^-1. A slip must not move a building: a reading r
uncertainties off, r over STRANGE, counts with an uncertainty (r / STRANGE)^2 times as wide, and the fit is made again until none changes;
so it pulls the less, the farther off it lies (a redescending estimator, from memory, not verified). The mean: where a leak joins rooms of
nearly one pressure the most probable figure is biased, since readings answer to a larger leak less than to a smaller. Buildings are drawn
about the most probable one and weighed by what the readings say of each (importance sampling over what is alike on all storeys, the
storeys' own scatter straight about it). Source of the method: text-book Bayesian least squares and sampling (from memory, not verified).
A round in which the relief damper may have lifted is left out, and told: how far its blade stands open nobody has read. Limits: steady
rounds; leaks that obey their exponents; one stair.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.formulas.uncertainty import normal_quantile
from helpers.model.air.network import KINDS
from helpers.model.air.tower import Tower
from helpers.model.site.schema import Site
from helpers.studies.measured.readings import FLOW, QUANTITIES, SURE, DayReadings, every_quantity
from helpers.studies.report import listed
from helpers.units.said import with_unit

NINETY = float(normal_quantile(0.95))  # standard deviations to either end of a 90 % interval
CLASSES = 2 * NINETY  # from tight to loose: nine buildings of ten lie between; ours
# Of logarithms: gaps and shaft half to twice, a damper's leak a third to three times, a fan some per cent; common practice, no source.
GAPS_SD, SHAFT_SD, DAMPER_SD, FAN_SD = 0.42, 0.42, 0.7, 0.05
STOREY_SD = 0.2  # of logarithms: walls and gaps of one storey beside the mean of all; common practice, no source
TEMPERATURE_SD_C = 1.0  # of the day's air temperatures where the doors are; common practice, no source
STEP = 0.2  # of central differences, in standard deviations: wide enough that a leak whose flow turns round has a slope
WEIGHED, LEAST_COUNTED, MOST_WEIGHED = 600, 60, 4  # buildings drawn for the mean; of which so many count at least, or once more; so often
MOST_STEPS, CALM, LARGEST_MOVE, SMALL = 50, 8, 2.0, 0.05  # after so many steps smaller ones; largest, and one that changes nothing
FLOOR, STAIR = QUANTITIES.index("floor over outdoors"), QUANTITIES.index("stair over outdoors")
SAID_NOTHING = 0.9  # of the first uncertainty still left: the day says nothing of this factor; ours
STRANGE = 3.0  # standard uncertainties: a reading this far from the fitted building is looked at
MOST_FITS, SAME = 8, 0.1  # until every reading counts as it lies; the share of an uncertainty that is no change


class NotSeparatedError(ValueError):
    """What was read cannot carry what is asked of it."""


@dataclass(frozen=True)
class Factor:
    """One factor of the file's figure: the mean of its logarithm, the ends of its 90 % interval; left: share of the first uncertainty."""

    kind: str
    factor: float
    low: float
    high: float
    left: float

    @property
    def found(self):
        """Whether the day says something of it."""
        return self.left < SAID_NOTHING


@dataclass(frozen=True)
class Unknowns:
    """What is asked for, in one row of numbers: by name the standard deviations [unknowns]; kinds: names of those of KINDS."""

    site: Site
    kinds: tuple
    names: tuple
    deviations: np.ndarray

    @classmethod
    def of(cls, site, readings=None):
        """Unknowns of a site, with those of a day where readings are given."""
        ratios = WALL_LEAKAGE_RATIOS[site.leakage.edition]
        apart = {wall: np.log(ratios[wall]["loose"] / ratios[wall]["tight"]) / CLASSES for wall in ("stair_wall", "exterior_wall", "floor")}
        spread = {"stair side": max(apart["stair_wall"], GAPS_SD), "facade": apart["exterior_wall"], "between storeys": apart["floor"],
                  "relief damper": DAMPER_SD, "stair shaft": SHAFT_SD, "fan": FAN_SD}  # fmt: skip
        alone = len(site.storeys) == 1
        absent = {"relief damper": site.stair.relief is None, "between storeys": alone, "stair shaft": alone}
        kinds = tuple(kind for kind in KINDS if not absent.get(kind, False))
        deviations = {kind: spread[kind] for kind in kinds}
        for what in ("walls", "gaps"):
            deviations |= {f"{what} of storey {storey.level}": STOREY_SD for storey in site.storeys}
        if readings is not None:
            gauges, wind = readings.day.gauges, readings.day.weather.wind_speed_m_s
            deviations |= {"traverse": gauges.flow_percent / 100 / SURE}
            deviations |= {"outdoors": TEMPERATURE_SD_C / SURE, "stair's air": TEMPERATURE_SD_C}
            deviations |= {"wind": gauges.wind_m_s / SURE / wind} if wind else {}
        return cls(site, kinds, tuple(deviations), np.array(list(deviations.values())))

    def __len__(self):
        return len(self.names)

    @property
    def lasting(self):
        """Which of them are alike on all storeys: about these the storeys' own scatter is taken as straight."""
        return np.array([" of storey " not in name for name in self.names])

    def conditions(self, base, x):
        """(`Conditions`, the traverse's factor [points, rows]): rows of base for every point of x [points, unknowns], points first."""
        moved, rows = dict(zip(self.names, (x * self.deviations).T, strict=True)), len(base)
        kinds = np.ones((len(x), len(KINDS)))
        for kind in self.kinds:
            kinds[:, KINDS.index(kind)] = np.exp(moved[kind])
        walls, gaps = (np.exp(np.stack([moved[f"{what} of storey {storey.level}"] for storey in self.site.storeys], axis=1))
                       for what in ("walls", "gaps"))  # fmt: skip
        many = base.rows(np.tile(np.arange(rows), len(x)))
        each = np.repeat(np.arange(len(x)), rows)
        many.kind_factor = many.kind_factor * kinds[each]
        many.leak_factor, many.gap_factor = many.leak_factor * walls[each], many.gap_factor * gaps[each]
        still = np.zeros(len(x))
        many.outdoor_c = many.outdoor_c + moved.get("outdoors", still)[each]
        warmer = moved.get("stair's air", still)[each]
        many.stair_c = many.stair_c + (warmer[:, None] if many.stair_c.ndim == 2 else warmer)
        many.wind_speed_m_s = many.wind_speed_m_s * np.exp(moved.get("wind", still))[each]
        return many, np.exp(moved.get("traverse", still))


@dataclass(frozen=True)
class FittedBuilding:
    """A building as its day found it.

    x, covariance: mean of the unknowns, in standard deviations from the file; mode: the most probable ones; computed, first [readings]:
    what the most probable building gives, and what the site file gave; slopes [readings, unknowns]; steps: of the solution; left_out: a
    sentence for every round that was not used, its readings are not among `readings`; counted [readings]: the standard uncertainty with
    which each reading counted, its own or, where it does not fit, a wider one.
    """

    readings: DayReadings
    unknowns: Unknowns
    x: np.ndarray
    covariance: np.ndarray
    computed: np.ndarray
    first: np.ndarray
    slopes: np.ndarray
    steps: int
    mode: np.ndarray
    counted: np.ndarray
    left_out: tuple = ()

    @cached_property
    def factors(self):
        """A `Factor` of each kind."""
        found = []
        for place, kind in enumerate(self.unknowns.kinds):
            deviation, middle = self.unknowns.deviations[place], self.x[place]
            spread = float(np.sqrt(self.covariance[place, place]))
            ends = np.exp(deviation * (middle + NINETY * spread * np.array([0.0, -1.0, 1.0])))
            found.append(Factor(kind, *map(float, ends), spread))
        return tuple(found)

    @property
    def off(self):
        """How far each reading lies from the fitted building, in its standard uncertainties [readings]."""
        return (self.readings.value - self.computed) / self.readings.uncertainty

    @property
    def strange(self):
        """Numbers of the readings that do not fit the building, the strangest first."""
        order = np.argsort(-np.abs(self.off))
        return tuple(int(number) for number in order if abs(self.off[number]) > STRANGE)

    @property
    def not_told_apart(self):
        """Kinds of which the day says nothing, and pairs of which it tells only what both make together: in words, "" for none."""
        silent = [one.kind for one in self.factors if not one.found]
        spread = np.sqrt(np.diag(self.covariance))
        kinds, pairs = self.unknowns.kinds, []
        for a in range(len(kinds)):
            for b in range(a + 1, len(kinds)):
                together = self.covariance[a, b] / (spread[a] * spread[b])
                if abs(together) > SAID_NOTHING and not {kinds[a], kinds[b]} & set(silent):
                    pairs.append(f"{kinds[a]} and {kinds[b]}")
        told = [f"the day says nothing of {listed(silent)}: as the file has it, as wide as before"] if silent else []
        told += [f"only what {listed(pairs)} make together is told, not which of the two"] if pairs else []
        return "; ".join(told)

    @cached_property
    def site(self):
        """The site with its figures as fitted, those of which the day says nothing as they were.

        The factors stand under [leakage], the damper's leak, the shaft's opening and the fan's curve as figures.
        """
        old, by = self.readings.site, {one.kind: one.factor if one.found else 1.0 for one in self.factors}
        leaks = {"stair_side_factor": old.leakage.stair_side_factor * by["stair side"],
                 "facade_factor": old.leakage.facade_factor * by["facade"],
                 "between_storeys_factor": old.leakage.between_storeys_factor * by.get("between storeys", 1.0),
                 "factors_from": f"test day of {self.readings.day.date}"}  # fmt: skip
        stair = {"friction_area_m2": old.stair.friction_area_m2 * by.get("stair shaft", 1.0)}
        if old.stair.relief is not None:
            stair |= {"relief": {"leak_area_m2": old.stair.relief.leak_area_m2 * by["relief damper"]}}
        fan = {"flows_m3_s": tuple(flow * by["fan"] for flow in old.fan.flows_m3_s),
               "duct_loss_flow_m3_s": old.fan.duct_loss_flow_m3_s * by["fan"]}  # fmt: skip
        return old.with_changes(leakage=leaks, stair=stair, fan=fan)


def fit_building(readings):
    """The building behind the `DayReadings` of a day. Returns `FittedBuilding`.

    Rounds in which the relief damper may have lifted are left out, by what was read at it, then by what the fitted building has there.
    Raises NotSeparatedError (a ValueError) where there are fewer readings than factors, no reading of one
    side of the series path from the stair over the floors to outdoors, or no answer that settles; ValueError where the air of a round has
    no answer.
    """
    pressures, left_out = _read_at_damper(readings), {}
    while True:
        lifted = _lifted(readings, pressures)
        left_out |= {number: _lifted_said(readings, number, pressures[number]) for number in lifted}
        readings = readings.but(np.flatnonzero(np.isin(readings.round, list(left_out))))
        told = tuple(left_out[number] for number in sorted(left_out))
        fitted, pressures = _fit_past_slips(readings, told)
        if not len(_lifted(readings, pressures)):
            return fitted


def _fit_past_slips(readings, left_out):
    """As `_fit`, with readings that do not fit counting as little as they lie off. Limit: where the fits do not settle, the last one."""
    counted = readings.uncertainty
    for _ in range(MOST_FITS):
        fitted, pressures = _fit(readings, left_out, counted)
        wider = readings.uncertainty * np.maximum(np.abs(fitted.off) / STRANGE, 1.0) ** 2
        if np.allclose(wider, counted, rtol=SAME, atol=0.0):
            break
        counted = wider
    return fitted, pressures


def _fit(readings, left_out, counted):
    """(`FittedBuilding` of readings whose relief damper stayed shut, the stair's pressure at the damper in it [rounds]); counted
    [readings]: standard uncertainty with which each counts; raises as fit_building."""
    tower, unknowns = Tower(_blade_shut(readings.site)), Unknowns.of(readings.site, readings)
    _carries(readings, unknowns, left_out)
    x, lasting, settled = np.zeros(len(unknowns)), unknowns.lasting, 0
    first = _read(readings, computed_at(tower, readings, unknowns, x[None]))[0]
    for step in range(1, MOST_STEPS + 1):
        mean = np.where(lasting, x, 0.0)
        every = computed_at(tower, readings, unknowns, mean[None])
        slopes = _slopes(tower, readings, unknowns, mean)
        computed = _read(readings, every)[0] + slopes @ (x - mean)
        scaled = slopes / counted[:, None]
        curve = scaled.T @ scaled + np.eye(len(x))
        move = np.linalg.solve(curve, scaled.T @ ((readings.value - computed) / counted) - x)
        longest = np.abs(move[lasting]).max()
        settled = settled + 1 if longest < SMALL else 0
        if settled == 2:
            mean_x, covariance = _mean(tower, readings, counted, unknowns, x, np.linalg.inv(curve), slopes)
            found = FittedBuilding(readings, unknowns, mean_x, covariance, computed, first, slopes, step, x, counted, left_out)
            return found, every[0, :, STAIR, at_damper(readings.site)]
        x = x + move * min(1.0, LARGEST_MOVE / longest) * (1.0 if step < CALM else 0.5 if step < 2 * CALM else 0.25)
    raise NotSeparatedError(f"readings must belong to one building: after {MOST_STEPS} steps no answer has settled")


def _mean(tower, readings, counted, unknowns, mode, covariance, slopes):
    """(mean [unknowns], covariance) of what the day leaves possible, by weighing drawn buildings; see the head of this file.

    What is alike on all storeys is drawn from a normal about the most probable building, and weighed by the readings' normal with the
    storeys' scatter in it; once more about what came out while too few of the drawn ones count. The storeys follow by regression on it.
    """
    lasting = unknowns.lasting
    scatter, half = slopes[:, ~lasting], np.random.default_rng(0).normal(size=(WEIGHED // 2, int(lasting.sum())))
    z = np.concatenate([half, -half])
    unsure = np.linalg.inv(np.diag(counted**2) + scatter @ scatter.T)
    mean, spread = mode[lasting], covariance[np.ix_(lasting, lasting)]
    for _ in range(MOST_WEIGHED):
        x = np.zeros((WEIGHED, len(mode)))
        x[:, lasting] = mean + z @ np.linalg.cholesky(spread).T
        every, answered = _air_at(tower, readings, unknowns, x)
        off = readings.value - _read(readings, every)
        told = -0.5 * (np.einsum("ir,rs,is->i", off, unsure, off) + (x**2).sum(axis=1) - (z**2).sum(axis=1))
        if not answered.any():
            raise NotSeparatedError("readings must be of rounds whose air has an answer about the most probable building; none has")
        told = np.where(answered, told, -np.inf)  # the day's air had an answer
        weights = np.exp(told - told.max())
        weights /= weights.sum()
        mean = weights @ x[:, lasting]
        spread = np.cov(x[:, lasting], rowvar=False, aweights=weights, ddof=0) + 1e-9 * np.eye(len(mean))
        if 1 / (weights**2).sum() >= LEAST_COUNTED:
            break
    on = covariance[:, lasting] @ np.linalg.inv(covariance[np.ix_(lasting, lasting)])  # regression of all on what is alike on all storeys
    return mode + on @ (mean - mode[lasting]), covariance + on @ (spread - covariance[np.ix_(lasting, lasting)]) @ on.T


def _carries(readings, unknowns, left_out=()):
    """Refuse a day that cannot carry the factors; left_out: sentences about rounds that are not among its readings."""
    count = len(unknowns.kinds)
    if len(readings) < count:
        without = f"; {'; '.join(left_out)}" if left_out else ""
        raise NotSeparatedError(f"readings must be {count} at least, one for each factor; got {len(readings)}{without}")
    if not (readings.quantity == FLOW).any():
        raise NotSeparatedError(
            "readings must hold a flow of the fan: pressures alone tell how leaks stand to each other, not how large they are"
        )
    if not np.isin(readings.quantity, (FLOOR, STAIR)).any():
        raise NotSeparatedError(
            "readings must hold floors or stair over outdoors: stair doors and outer walls lie one behind the other, and pressures "
            "across the doors alone do not tell which of the two leaks"
        )


def _blade_shut(site):
    """The site with a relief damper that never lifts: in the rounds used it does not (see _lifted), on the way to the answer it might."""
    return site.with_changes(stair={"relief": {"opens_pa": 19000.0, "full_pa": 20000.0}}) if site.stair.relief else site


def at_damper(site):
    """Number of the relief damper's storey; 0 where there is none."""
    return next(place for place, storey in enumerate(site.storeys) if storey.level == site.stair.relief.level) if site.stair.relief else 0


def _read_at_damper(readings):
    """What was read of the stair over outdoors at the relief damper's storey, by round; NaN where nothing was."""
    found = np.full(len(readings.speeds_hz), np.nan)
    there = (readings.quantity == STAIR) & (readings.storey == at_damper(readings.site))
    found[readings.round[there]] = readings.value[there]
    return found


def _lifted(readings, stair_pa):
    """Rounds with readings in which the stair's pressure at the relief damper [rounds] may have lifted it, within a gauge's error."""
    relief = readings.site.stair.relief
    above = np.flatnonzero(stair_pa + readings.day.gauges.pressure_pa > relief.opens_pa) if relief is not None else np.array([], int)
    return above[np.isin(above, readings.round)]


def _lifted_said(readings, number, stair_pa):
    """Why a round is left out, in words."""
    opens, there = (with_unit(one, "pressure") for one in (readings.site.stair.relief.opens_pa, stair_pa))
    return (
        f"round {number + 1} is left out: it must be read at a speed at which the relief damper surely stays shut, below {opens}; the "
        f"stair has {there} there"
    )


def _read(readings, every):
    """The readings [points, readings] among all that could be read."""
    return every[:, readings.round, readings.quantity, readings.storey]


def _slopes(tower, readings, unknowns, x):
    """How each reading moves with each unknown [readings, unknowns], all in one solution of the network."""
    steps = STEP * np.eye(len(x))
    ahead, behind = np.split(_read(readings, computed_at(tower, readings, unknowns, np.concatenate([x + steps, x - steps]))), 2)
    return (ahead - behind).T / (2 * STEP)


def computed_at(tower, readings, unknowns, x):
    """All that could be read [points, rounds, quantities, storeys] at points x [points, unknowns]; a flow as the traverse shows it.

    Raises ValueError where some air has no answer.
    """
    every, answered = _air_at(tower, readings, unknowns, x)
    if not answered.all():
        raise ValueError("readings must be of rounds whose air has an answer in the model; one has none")
    return every


def _air_at(tower, readings, unknowns, x):
    """The same, and whether the air of every round that was read has an answer [points]."""
    conditions, traverse = unknowns.conditions(readings.conditions, x)
    air = tower.solve(conditions, np.tile(readings.speeds_hz, len(x)))
    every = every_quantity(air).reshape(len(x), len(readings.speeds_hz), -1, len(tower.levels))
    every[:, :, FLOW] *= traverse[:, None, None]
    return every, air.converged.reshape(len(x), -1)[:, np.unique(readings.round)].all(axis=1)
