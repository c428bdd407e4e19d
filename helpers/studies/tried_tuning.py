"""One tuning tried on one door event of a stair, quick enough for a slider: recovery, force at the handles, margins.

The air of a door event is solved once and only looked up afterwards. Flow counts as back when 90 % of the way to where it will settle for
good is there and stays, so that a sluggish loop gets no credit for having gone a part of the way.
Limits: one weather. Margins are for small swings, which the drive's ramp lets through; large ones it holds back, and that makes them worse.
Their delay is one sample, which is what a step test shows, ramp included; the model by itself answers within its samples and swings only at
some three times the gain at which they say so. A real drive and its wiring have delays that no model knows.
"""

from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

import numpy as np

from helpers.formulas import frequency, tuning
from helpers.formulas.combining import combine
from helpers.formulas.controller_forms import Settings as Numbers
from helpers.model.conditions import Conditions
from helpers.model.loop.air_table import AirTable
from helpers.model.loop.events import DoorEvent, schedule
from helpers.model.loop.results import door_course
from helpers.model.loop.run import Setup, run_on_air, settings_of
from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower
from helpers.studies.cases import conditions_of, two_neighbours, usual_cases
from helpers.studies.tuning_doors import WITHIN_S
from helpers.studies.tuning_steps import STEP_PERCENT
from helpers.studies.window import pressure_window

__all__ = ["LENGTH_S", "OPENS_S", "SHUTS_S", "WITHIN_S", "Trial", "Tried", "TuningBench", "bench"]

OPENS_S, SHUTS_S, LENGTH_S = 5.0, 27.0, 54.0
BACK = 0.9  # share of the way; EN 12101-6:2005 (memory)
TRANSMITTER_LAG_S = 0.1
FREQUENCIES = 800  # at which the loop's response is worked out
SPEEDS = np.arange(20.0, 95.01, 2.5)  # [% of full speed] at which the building's gain is looked for
RAMPS_S = np.arange(0.5, 20.01, 0.5)  # at which the ramp alone is tried


@dataclass(frozen=True)
class Trial:
    """What is tried: which door (a name of `TuningBench.doors`), gain [%/%] on a span [Pa], integral time, ramp and filter [s]."""

    door: str
    gain: float
    integral_s: float
    ramp_s: float
    filter_s: float
    span_pa: float


class Margins(NamedTuple):
    """How near a loop is to swinging: how many times the gain it bears, how much a disturbance grows at worst, whether it is stable."""

    gain_margin: float
    peak_sensitivity: float
    stable: bool


@dataclass(frozen=True)
class Tried:
    """What came of it.

    time_s, reading_pa, speed_hz, heaviest_pa, lightest_pa [samples]: reading, speed, most and least pressure across the stair doors that
    are shut; opens_s, shuts_s until the flow is back (NaN: not while it was looked at); ramp_opens_s, ramp_shuts_s what the ramp alone
    takes; rest_n the most force at a handle before anything moves, open_n at another one while the door stands open, peak_n after it has
    begun to shut, above_s how long any was above its limit_n then; margins: `Margins` where the building's gain is largest; advised:
    SIMC's `Settings` for that.
    """

    trial: Trial
    time_s: np.ndarray
    reading_pa: np.ndarray
    speed_hz: np.ndarray
    heaviest_pa: np.ndarray
    lightest_pa: np.ndarray
    opens_s: float
    shuts_s: float
    ramp_opens_s: float
    ramp_shuts_s: float
    rest_n: float
    open_n: float
    peak_n: float
    above_s: float
    limit_n: float
    margins: object
    advised: object

    @property
    def slowest_s(self):
        """The slower of both ways; infinite where one is not back."""
        return float(np.nan_to_num([self.opens_s, self.shuts_s], nan=np.inf).max())

    @property
    def ramp_forbids(self):
        """Whether the ramp alone takes longer than is asked for."""
        return max(self.ramp_opens_s, self.ramp_shuts_s) > WITHIN_S


@dataclass(frozen=True)
class _Event:
    """A door event with its air and what it settles at: speed and flow with the door shut and open."""

    air: object
    speeds_hz: tuple
    flows_m3_s: tuple
    ramp_alone_s: np.ndarray


class TuningBench:
    """A stair's loop, its doors and its building's gains. doors: names of the door events that can be tried."""

    def __init__(self, site, weather="winter"):
        self.site, self.tower, self.weather = site, Tower(site), weather
        self.own, self.window = settings_of(site), pressure_window(site)
        self.shut = Conditions.of(site, weather)
        self.doors = _door_events(site)
        self.gains = _step_gains(self.tower, self.own.span_pa)
        self._events = {}

    @property
    def own_trial(self):
        """The site's own settings on its first door event."""
        own = self.own
        return Trial(
            next(iter(self.doors)), own.gain, own.integral_s, self.site.fan.ramp_s, self.site.transmitters[0].filter_s, own.span_pa
        )

    def attempt(self, trial):
        """Try it. Returns `Tried`. Raises ValueError for settings that cannot be."""
        event = self._event(trial.door)
        run = self._run(event.air, trial, start_hz=event.speeds_hz[0])
        course = door_course(run, self.tower)
        shut = np.where(np.isnan(course.force_n), np.nan, course.pressure_pa)
        flow = run.air.along(run.air.flow_m3_s, run.time_s, run.speed_hz[:, 0])[:, 0]
        back = [_back(run.time_s, flow, *ends) for ends in _ways(event.flows_m3_s)]
        alone = [float(np.interp(trial.ramp_s, RAMPS_S, seconds)) for seconds in event.ramp_alone_s]
        force, limit, after = np.nanmax(course.force_n, axis=1), self._limit_n, run.time_s >= SHUTS_S
        open_n = float(force[(run.time_s >= OPENS_S) & ~after].max())
        return Tried(
            trial, run.time_s, run.reading_pa[:, 0], run.speed_hz[:, 0], np.nanmax(shut, axis=1), np.nanmin(shut, axis=1), *back, *alone,
            float(force[0]), open_n, float(force[after].max()), float((force[after] > limit).sum() * run.sample_s), limit,
            self.margins(trial), self.advised(trial),
        )  # fmt: skip

    def margins(self, trial):
        """`Margins` where the building's gain is largest: lags of transmitter and filter, and the delay that a step test shows."""
        lags, delay, numbers = self._lags(trial), self.site.control.sample_s, Numbers(trial.gain, trial.integral_s)
        w = np.logspace(-2 - np.log10(max(*lags, trial.integral_s)), np.log10(10 / delay), FREQUENCIES)
        process = frequency.frequency_response(w, self.largest_gain(trial.span_pa), lags, delay)
        return Margins(*frequency.margins_read_off(frequency.controller_response(w, numbers) * process))

    def advised(self, trial):
        """SIMC's gain and integral time for this filter and span, the closed loop twice as slow as the delay: `Settings`."""
        short = tuning.half_rule(self._lags(trial), delay_s=self.site.control.sample_s)
        return tuning.simc_pi(self.largest_gain(trial.span_pa), short.lag_s, short.delay_s, 2 * short.delay_s)

    def largest_gain(self, span_pa):
        """Largest gain of the building in any step test [% of a span by % of full speed]."""
        return float(self.gains.max() * self.own.span_pa / span_pa)

    @property
    def _limit_n(self):
        stair_doors = (self.site.doors[storey.stair_door] for storey in self.site.storeys if storey.stair_door)
        return min(door.force_limit_n for door in stair_doors if door.force_limit_n is not None)

    def _lags(self, trial):
        return [trial.filter_s, TRANSMITTER_LAG_S]

    def _run(self, air, trial, start_hz, **more):
        taps = [tap.model_copy(update={"range_high_pa": trial.span_pa, "filter_s": trial.filter_s}) for tap in self.site.transmitters]
        settings = replace(self.own, gain=trial.gain, integral_s=trial.integral_s, span_pa=trial.span_pa)
        setup = Setup(LENGTH_S, **{"settings": settings, "ramp_s": trial.ramp_s, "every_reading": False} | more)
        return run_on_air(air, self.site, setup, taps, settings, 1, start_hz)

    def _event(self, door):
        if door not in self.doors:
            raise ValueError(f"door must be one of {', '.join(self.doors)}; got {door!r:.60}")
        if door not in self._events:
            self._events[door] = self._solved(*self.doors[door])
        return self._events[door]

    def _solved(self, events, opened):
        air = AirTable.of(self.tower, schedule(self.tower, self.shut, events, LENGTH_S))
        held = self.tower.hold(Conditions.joined([self.shut, Conditions.of(self.site, self.weather, **opened)])).air
        speeds, flows = tuple(held.speed_hz.tolist()), tuple(held.fan_flow_m3_s.tolist())
        percent = [100 * speed / self.site.fan.highest_speed_hz for speed in speeds]
        hand = ((0.0, OPENS_S, percent[0]), (OPENS_S, SHUTS_S, percent[1]), (SHUTS_S, LENGTH_S, percent[0]))
        run = self._run(air, self.own_trial, speeds[0], ramp_s=RAMPS_S, hand=hand)
        flow = np.stack([air.along(air.flow_m3_s, run.time_s, speed)[:, 0] for speed in run.speed_hz.T])
        alone = np.array([[_back(run.time_s, one, *ends) for one in flow] for ends in _ways(flows)])
        return _Event(air, speeds, flows, np.nan_to_num(alone, nan=LENGTH_S))


@cache
def bench(name="Larkfield House"):
    """The bench of a demo site, made once, with the air of all its door events."""
    made = TuningBench(read_site(demo_sites()[name]))
    for door in made.doors:
        made._event(door)
    return made


def _door_events(site):
    """Door events by name: (events, what is open then)."""
    exits = [storey.level for storey in site.storeys if storey.final_exit_door]
    pair = two_neighbours(site)

    def stair(levels):
        return tuple(DoorEvent(level, OPENS_S, shuts_s=SHUTS_S) for level in levels), {"open_doors": tuple(levels)}

    found = (
        {"final exit": ((DoorEvent(exits[0], OPENS_S, shuts_s=SHUTS_S, door="exit"),), {"open_exits": tuple(exits[:1])})} if exits else {}
    )
    return found | {f"stair door {pair[0]}": stair(pair[:1]), f"stair doors {pair[0]} and {pair[1]}": stair(pair)}


def _step_gains(tower, span_pa):
    """The building's gains [cases, speeds], % of span by % of full speed: steady readings before and after a step test at each speed."""
    fan, conditions = tower.site.fan, conditions_of(tower.site, usual_cases(tower.site))
    percents = np.ravel([(percent, percent + STEP_PERCENT) for percent in SPEEDS])
    rows = conditions.rows(np.repeat(np.arange(len(conditions)), len(percents)))
    found = tower.solve(rows, np.tile(percents, len(conditions)) / 100 * fan.highest_speed_hz)
    readings = combine(tower.readings(found), tower.site.control.rule, axis=-1).reshape(len(conditions), -1, 2)
    return np.abs(readings[..., 1] - readings[..., 0]) / span_pa * 100 / STEP_PERCENT


def _ways(flows):
    """(from when, until when, flow to be reached) of both ways."""
    return (OPENS_S, SHUTS_S, flows[1]), (SHUTS_S, LENGTH_S, flows[0])


def _back(time, flow, from_s, until_s, target):
    """Seconds until the flow has gone 90 % of the way to its target and stays there; NaN where it does not."""
    chosen = (time >= from_s) & (time < until_s)
    before = flow[chosen][0]
    there = (flow[chosen] - before) / (target - before) >= BACK
    bad = np.flatnonzero(~there)
    if bad.size == 0:
        return 0.0
    return float("nan") if bad[-1] == len(there) - 1 else float(time[chosen][bad[-1] + 1] - from_s)
