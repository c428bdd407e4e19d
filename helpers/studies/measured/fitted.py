"""The building fitted to its test day: by which factor each kind of leak, the shaft and the fan differ from the site file.

What is asked for lies near what the file says, as far as the published classes of tightness lie apart; the readings pull it away from
there, each as hard as its gauge is good. The most probable building (maximum a posteriori) is found first; what is reported is the mean
of all that the day leaves possible, in logarithms, with its covariance.

    least of  sum ((read - computed(x)) / uncertainty)^2 + sum x^2        x: every unknown in standard deviations from the file's figure

Unknowns: the kinds of KINDS, log-normal; each storey's walls and door gaps beside its kind's mean; the traverse's own bias and the scale of
each pressure gauge; the day's temperatures and wind, as far as they may have been misread. Solved by Gauss and Newton with Levenberg's
damping on the air network, its slopes by central differences, all of them in one solution; covariance (J'J + 1)^-1. A slip must not move a
building: a reading r uncertainties off, r over STRANGE, counts with an uncertainty (r / STRANGE)^2 times as wide, and the fit is made again
until none changes; so it pulls the less, the farther off it lies (a redescending estimator, from memory, not verified). The mean: where a
leak joins rooms of nearly one pressure the most probable figure is biased, since readings answer to a larger leak less than to a smaller.
Buildings are drawn about the most probable one and weighed by what the readings say of each (importance sampling over what is alike on
all storeys, the storeys' own scatter straight about it). Source of the method: text-book Bayesian least squares and sampling (from
memory, not verified).
A round in which the relief damper may have lifted is left out, and told: how far its blade stands open nobody read. Where no answer settles
the reading farthest off is left out, up to MOST_SLIPS times; each is told. Limits: steady rounds; leaks obey their exponents; one stair.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.model.air.tower import Tower
from helpers.model.site.schema import DOUBTED
from helpers.studies.measured.doubts.believed import NINETY, STRANGE, misfits_of
from helpers.studies.measured.doubts.exchanged import likenesses
from helpers.studies.measured.doubts.exits import ajar_exits
from helpers.studies.measured.doubts.gauges import ONE_ALONE, scales_of
from helpers.studies.measured.doubts.mistyped import cells_in_inches, in_pascals, slip_said
from helpers.studies.measured.doubts.suspects import suspect_of
from helpers.studies.measured.readings import ONLY, QUANTITIES, DayReadings
from helpers.studies.measured.unknowns import NotSeparatedError, Unknowns, air_at, blade_shut, carries, computed_at, read_of, slopes_of
from helpers.studies.report import listed
from helpers.units.said import with_unit

WEIGHED, LEAST_COUNTED, MOST_WEIGHED = 600, 60, 4  # buildings drawn for the mean; of which so many count at least, or once more; so often
MOST_STEPS, CALM, LARGEST_MOVE, SMALL = 50, 8, 2.0, 0.05  # after so many steps smaller ones; largest, and one that changes nothing
FLOOR, STAIR = QUANTITIES.index("floor over outdoors"), QUANTITIES.index("stair over outdoors")
SAID_NOTHING = 0.9  # of the first uncertainty still left: the day says nothing of this factor; ours
# Readings left out one by one where no answer settles; of one round from which on the round itself is wrong; readings of a kind in a round
# that have a share of what was expected in common. Ours.
MOST_SLIPS, SLIPS_OF_A_ROUND, ALIKE = 6, 3, 3
MOST_FITS, SAME = 8, 0.1  # until every reading counts as it lies; the share of an uncertainty that is no change


class NotSettledError(NotSeparatedError):
    """No one building gives what was read."""


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
class FittedBuilding:
    """A building as its day found it.

    x, covariance: mean of the unknowns, in standard deviations from the file; mode: the most probable ones; computed, first [readings]:
    what the most probable building gives, and what the site file gave; slopes [readings, unknowns]; steps: of the solution; left_out: a
    sentence for every round that was not used, slips for every reading without which alone an answer settled, slipped: their (quantity,
    round, storey): these are not among `readings`; counted [readings]: the standard uncertainty with
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
    slips: tuple = ()
    slipped: tuple = ()

    @property
    def not_used(self):
        """A sentence about everything that was read and is not used."""
        return (*self.slips, *self.left_out)

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

    @cached_property
    def misfits(self):
        """`Misfits`: whether the readings that do not fit are too many for the building to be believed."""
        scales = scales_of(self.readings, self.computed, self.readings.value - self.computed, self.slopes, self.counted)
        found = misfits_of(self.off, len(self.slipped), self.unknowns.kinds, self.mode, self.unknowns.deviations, scales)
        return replace(found, ajar=bool(self.ajar))

    @cached_property
    def ajar(self):
        """An `Ajar` of every final exit that clearly stood ajar while the rounds were read."""
        return tuple(one for one in ajar_exits(self) if one.clear)

    @cached_property
    def likenesses(self):
        """A `Likeness` of every door that is clearly another's."""
        return likenesses(self)

    @cached_property
    def suspect(self):
        """The `Suspect` where it is not to be believed."""
        return suspect_of(self)

    @property
    def believed(self):
        """Whether all that was read and used is believed: it fits one building, and so does every reading of it."""
        return not (self.misfits.doubted or self.strange)

    @property
    def misfit_places(self):
        """(quantity, storey) of every reading that does not fit the building, or was left out as one."""
        strange = ((int(self.readings.quantity[one]), int(self.readings.storey[one])) for one in self.strange)
        return {*strange, *((quantity, storey) for quantity, _, storey in self.slipped)}

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
        """The site with its figures as fitted, those of which the day says nothing as they were: factors under [leakage], the damper's
        leak, the shaft's opening and the fan's curve as figures."""
        alone = ONE_ALONE * (ONLY in self.readings.gauges)
        old, by = self.readings.site, {one.kind: one.factor if one.found else 1.0 for one in self.factors}
        leaks = {"stair_side_factor": old.leakage.stair_side_factor * by["stair side"],
                 "facade_factor": old.leakage.facade_factor * by["facade"],
                 "between_storeys_factor": old.leakage.between_storeys_factor * by.get("between storeys", 1.0),
                 "factors_from": f"{DOUBTED * self.misfits.doubted}test day{alone} of {self.readings.day.date}"}  # fmt: skip
        stair = {"friction_area_m2": old.stair.friction_area_m2 * by.get("stair shaft", 1.0)}
        if old.stair.reliefs:  # one factor for all of them: a day's readings do not tell one shut blade's leak from another's
            leaking = [{"leak_area_m2": relief.leak_area_m2 * by["relief damper"]} for relief in old.stair.reliefs]
            stair |= {"relief": leaking[0], "more_reliefs": leaking[1:]}
        fan = {"flows_m3_s": tuple(flow * by["fan"] for flow in old.fan.flows_m3_s),
               "duct_loss_flow_m3_s": old.fan.duct_loss_flow_m3_s * by["fan"]}  # fmt: skip
        return old.with_changes(leakage=leaks, stair=stair, fan=fan)


def fit_building(readings):
    """The building behind the `DayReadings` of a day. Returns `FittedBuilding`.

    Left out are columns and cells in another unit, and rounds in which the relief damper may have lifted: by what was read at it, then by
    what the fitted building has there. Raises NotSeparatedError (a ValueError) where there are fewer readings than factors, no reading of
    one side of the series path from the stair over the floors to outdoors, or no answer that settles; ValueError where the air of a round
    has no answer.
    """
    readings, slips = in_pascals(readings)
    every, cells = readings, [*cells_in_inches(readings)]  # a cell of which it is said that it is no pascal is not fitted as one
    readings, slips = readings.but([number for number, _ in cells]), (*slips, *(f"{said}; left out" for _, said in cells))
    pressures, left_out = _read_at_dampers(readings), {}
    while True:
        lifted = _lifted(readings, pressures)
        left_out |= {number: _lifted_said(readings, number, pressures[number]) for number in lifted}
        readings = readings.but(np.flatnonzero(np.isin(readings.round, list(left_out))))
        told = tuple(left_out[number] for number in sorted(left_out))
        fitted, pressures, slips = _settled(readings, told, slips)
        readings = fitted.readings
        if not len(_lifted(readings, pressures)):
            used = {*_places(readings)}
            slipped = tuple(place for place in _places(every) if place not in used and place[1] not in left_out)
            return replace(fitted, slips=slips, slipped=slipped)


def _places(readings):
    """(quantity, round, storey) of each reading."""
    return [*zip(readings.quantity.tolist(), readings.round.tolist(), readings.storey.tolist(), strict=True)]


def _settled(readings, left_out, slips):
    """As `_fit_past_slips` (and the slips, one sentence more for every reading left out), without the readings farthest off where no
    answer settles. Of a round with SLIPS_OF_A_ROUND of them none is used: its speed, or all its tubes, are wrong."""
    names, of_round = [], []
    while True:
        try:
            fitted, pressures = _fit_past_slips(readings, (*left_out, *slips))  # all of them in the words of a day that cannot carry a fit
            return replace(fitted, left_out=left_out), pressures, slips
        except NotSettledError as trouble:
            without = f", nor without {listed(names)}: look at these first" if names else ""
            if len(names) == MOST_SLIPS:
                raise NotSettledError(f"{trouble}{without}") from None
            number, usual = _farthest(readings)
            where, name = int(readings.round[number]), _place_said(readings, number)
            read, other = (readings.value_said(number, value) for value in (readings.value[number], usual))
            turned = readings.value[number] * usual < 0
            what = slip_said(readings, number, usual) or "a slip, or another door?"
            look = "look at the tubes: which side is high?" if turned else what
            names, of_round = [*names, name], [*of_round, where]
            slips = (*slips, f"{name} is left out: {read} read where some {other} is to be expected, and with it no answer settles; {look}")
            gone = [number]
            if of_round.count(where) == SLIPS_OF_A_ROUND:
                gone = np.flatnonzero(readings.round == where)
                slips = (*slips, f"round {where + 1} is left out with its other {len(gone) - 1} readings: too many of them are far off")
            if len(gone) == len(readings):
                raise NotSettledError(f"{trouble}, nor without {listed(names)}: look at these first") from None
            readings = readings.but(gone)


def _place_said(readings, number):
    """A reading with the speed of its round, in words."""
    return f"{readings.said(number)} ({with_unit(readings.speeds_hz[readings.round[number]], 'frequency', 1)})"


def _farthest(readings):
    """(number of the reading farthest off, what was to be expected of it): off the site file's figure, of a pressure times what the
    readings of its kind in its round come to of theirs in the middle, in standard uncertainties."""
    tower, unknowns = Tower(blade_shut(readings.site)), Unknowns.of(readings.site, readings)
    first = read_of(readings, computed_at(tower, readings, unknowns, np.zeros((1, len(unknowns)))))[0]
    share = np.abs(readings.value / np.where(first == 0, np.nan, first))
    usual = first.copy()
    for kind, where in {*zip(readings.quantity, readings.round, strict=True)}:
        alike = (readings.quantity == kind) & (readings.round == where)
        usual[alike] *= np.nanmedian(share[alike]) if alike.sum() >= ALIKE else 1.0
    number = int(np.abs((readings.value - usual) / readings.uncertainty).argmax())
    return number, usual[number]


def _fit_past_slips(readings, left_out):
    """(`FittedBuilding` of readings whose relief damper stayed shut, the stair's pressure at the damper in it [rounds]), with readings that
    do not fit counting as little as they lie off: fitted again, each time from the building before, until none changes; raises as
    fit_building. Limit: where these fits do not settle, the last one."""
    tower, unknowns = Tower(blade_shut(readings.site)), Unknowns.of(readings.site, readings)
    carries(readings, unknowns, left_out)
    x, wider, steps = np.zeros(len(unknowns)), readings.uncertainty, 0
    first = read_of(readings, computed_at(tower, readings, unknowns, x[None]))[0]
    for _ in range(MOST_FITS):
        counted = wider
        x, computed, slopes, curve, every, more = _most_probable(tower, readings, unknowns, counted, x)
        steps += more
        off = (readings.value - computed) / readings.uncertainty
        wider = readings.uncertainty * np.maximum(np.abs(off) / STRANGE, 1.0) ** 2
        if np.allclose(wider, counted, rtol=SAME, atol=0.0):
            break
    mean, covariance = _mean(tower, readings, counted, unknowns, x, np.linalg.inv(curve), slopes)
    found = FittedBuilding(readings, unknowns, mean, covariance, computed, first, slopes, steps, x, counted, left_out)
    return found, every[0, :, STAIR, at_dampers(readings.site)].T


def _most_probable(tower, readings, unknowns, counted, x):
    """(x, what it gives [readings], slopes, curvature, all that could be read, steps) of the most probable building, sought from x; counted
    [readings]: standard uncertainty with which each counts. Raises NotSettledError where no answer settles."""
    lasting, settled = unknowns.lasting, 0
    for step in range(1, MOST_STEPS + 1):
        mean = np.where(lasting, x, 0.0)
        every = computed_at(tower, readings, unknowns, mean[None])
        slopes = slopes_of(tower, readings, unknowns, mean)
        computed = read_of(readings, every)[0] + slopes @ (x - mean)
        scaled = slopes / counted[:, None]
        curve = scaled.T @ scaled + np.eye(len(x))
        move = np.linalg.solve(curve, scaled.T @ ((readings.value - computed) / counted) - x)
        longest = np.abs(move[lasting]).max()
        settled = settled + 1 if longest < SMALL else 0
        if settled == 2:
            return x, computed, slopes, curve, every, step
        x = x + move * min(1.0, LARGEST_MOVE / longest) * (1.0 if step < CALM else 0.5 if step < 2 * CALM else 0.25)
    raise NotSettledError(f"readings must belong to one building: after {MOST_STEPS} steps no answer has settled")


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
        every, answered = air_at(tower, readings, unknowns, x)
        off = readings.value - read_of(readings, every)
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


def at_dampers(site):
    """Numbers of the relief dampers' storeys, that of [stair.relief] first; [0] where there is none."""
    return [[storey.level for storey in site.storeys].index(relief.level) for relief in site.stair.reliefs] or [0]


def _read_at_dampers(readings):
    """What was read of the stair over outdoors at the relief dampers' storeys, [rounds, dampers]; NaN where nothing was."""
    found = np.full((len(readings.speeds_hz), len(at_dampers(readings.site))), np.nan)
    for number, place in enumerate(at_dampers(readings.site)):
        there = (readings.quantity == STAIR) & (readings.storey == place)
        found[readings.round[there], number] = readings.value[there]
    return found


def _lifted(readings, stair_pa):
    """Rounds with readings in which the stair's pressure at a relief damper [rounds, dampers] may have lifted it, in a gauge's error."""
    opens = np.array([relief.opens_pa for relief in readings.site.stair.reliefs] or [np.inf])
    above = np.flatnonzero((stair_pa + readings.day.gauges.pressure_pa > opens).any(axis=1))
    return above[np.isin(above, readings.round)]


def _lifted_said(readings, number, stair_pa):
    """Why a round is left out, in words; stair_pa [dampers]: of several the one farthest above its setting is told."""
    reliefs = readings.site.stair.reliefs
    worst = int(np.nanargmax(stair_pa - np.array([relief.opens_pa for relief in reliefs])))
    opens, there = (with_unit(one, "pressure") for one in (reliefs[worst].opens_pa, stair_pa[worst]))
    which = f" at storey {reliefs[worst].level}" * (len(reliefs) > 1)
    return (
        f"round {number + 1} is left out: it must be read at a speed at which the relief damper{which} surely stays shut, below {opens}; "
        f"the stair has {there} there"
    )
