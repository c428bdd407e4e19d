"""One tuning tried on one door event of a stair, quick enough for a slider: recovery, force at the handles, margins.

The air of a door event is solved once and only looked up afterwards. Flow counts as back when 90 % of the way to where it will settle for
good is there and stays, so that a sluggish loop gets no credit for having gone a part of the way.
Limits: one weather. Margins are for small swings, which the drive's ramp lets through; large ones it holds back, and that makes them worse.
They are told for the nominal loop, with the lags and the delay that its step test shows, and over the whole box of lags and delays that
a real drive, its wiring and its tubes may have.
"""

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np

from helpers import require
from helpers.formulas import tuning
from helpers.formulas.tuning import Settings as Numbers
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.events import DoorEvent, schedule
from helpers.model.loop.results import door_course
from helpers.model.loop.run import Setup, run_on_air, settings_of
from helpers.model.site.file import demo_sites, read_site
from helpers.model.sweep import AirTable
from helpers.studies.cases import FIRST_MINUTE, Case, two_neighbours, usual_cases
from helpers.studies.doors.window import handle_limit_n, pressure_window
from helpers.studies.readings.rules import TOLERANCE_PA, compare_rules
from helpers.studies.tuning.box import Corner, LoopBox, Nearness
from helpers.studies.tuning.door_tests import WITHIN_S, short_seconds
from helpers.studies.tuning.process import process_gain
from helpers.studies.tuning.ramps_offered import ramps_borne_s
from helpers.studies.tuning.study import tuning_study
from helpers.studies.tuning.times_said import BESIDE, not_followed_said

__all__ = ["LENGTH_S", "OPENS_S", "SHUTS_S", "WITHIN_S", "Trial", "Tried", "TuningBench", "bench"]

OPENS_S, SHUTS_S, LENGTH_S = 5.0, 30.0, 65.0
BACK = 0.9  # share of the way; EN 12101-6:2005 (memory)
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


@dataclass(frozen=True)
class Tried:
    """What came of it.

    time_s, reading_pa, speed_hz, heaviest_pa, lightest_pa [samples]: reading, speed, most and least pressure across the stair doors that
    are shut; opens_s, shuts_s until the flow is back (NaN: not while it was looked at); ramp_opens_s, ramp_shuts_s what the ramp alone
    takes; rest_n the most force at a handle before anything moves, open_n at another one while the door stands open, peak_n after it
    has begun to shut, held_open_n at another one at rest with the door open, whatever the tuning, held_open_level: its storey,
    heavy_level: storey of the door with the most since the first move, above_s how long any was above its limit_n after the second,
    open_above_s how long before it; low_pa,
    least_pa: the least pressure across a shut door that has a least, and that least (NaN: none has one), low_level, low_level_s: storey
    of that door and how long it is below its least; open_low_s, low_s how long any door is while the door stands open, and with it
    shut; held_low_pa, held_low_level: the least pressure across a shut door that the loop at rest, with the door open, does not give
    its least, and its storey (NaN: it gives all of them enough); short_s, short_level: how long one is after either move, though the
    loop at rest gives it enough, the longest of `door_tests.short_seconds`, and its storey;
    margins: `Nearness` of the nominal loop where the building's gain is largest; worst: the
    least of each over the whole box, at its worst `corner`; ahead: whether the integral asks for more than the ramp gives; advised:
    (gain, integral_s) of the fastest that is safe in the box, None where none is; not_followed: that its ramp, both ways, is not
    followed, see `not_followed_said`; same_with_s: a ramp [s] that motor and brake follow, with which every time, force and pressure
    here is the same, as the loop never asks for more (None: they differ, no ramp is known that is followed, or this one is).
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
    held_open_n: float
    held_open_level: int
    peak_n: float
    heavy_level: int
    above_s: float
    limit_n: float
    open_above_s: float
    low_pa: float
    least_pa: float
    low_level: int
    low_level_s: float
    open_low_s: float
    low_s: float
    held_low_pa: float
    held_low_level: int
    short_s: float
    short_level: int
    margins: Nearness
    worst: Nearness
    corner: Corner
    ahead: bool
    advised: tuple[float, float] | None
    not_followed: str = ""
    same_with_s: float | None = None

    @property
    def mark(self):
        """What stands beside each time and force that hangs on a ramp that is not followed, see `mark_of`."""
        return BESIDE if self.not_followed and self.same_with_s is None else ""

    @property
    def slowest_s(self):
        """The slower of both ways; infinite where one is not back."""
        return float(np.nan_to_num([self.opens_s, self.shuts_s], nan=np.inf).max())

    @property
    def lacks(self):
        """What the tuning does not keep in the whole box, in words; empty where it is safe."""
        return (*self.worst.lacks(), *(("its integral asks for more than the drive's ramp gives",) if self.ahead else ()))

    @property
    def ramp_forbids(self):
        """Whether the ramp alone takes longer than WITHIN_S."""
        return max(self.ramp_opens_s, self.ramp_shuts_s) > WITHIN_S


@dataclass(frozen=True)
class _DoorTrial:
    """A door event with its air and what it settles at, with the door shut and open: speed, flow, pressure across each stair door and
    whether it is shut [2, storeys]; the most force at a handle while the loop is at rest with the door open, and its storey."""

    air: AirTable
    speeds_hz: tuple[float, float]
    flows_m3_s: tuple[float, float]
    rest_pa: np.ndarray
    shut: np.ndarray
    held_open_n: float
    held_open_level: int
    ramp_alone_s: np.ndarray


class TuningBench:
    """A stair's loop, its doors and its building's gains. doors: names of the door events that can be tried."""

    def __init__(self, site, weather="winter"):
        self.site, self.tower, self.weather = site, Tower(site), weather
        self.own, self.window = settings_of(site), pressure_window(site)
        self.shut = Conditions.of(site, weather)
        self.doors = _door_events(site)
        self.found = process_gain(self.tower, usual_cases(site), self.own)
        self._events, self._advised = {}, {}

    @cached_property
    def study(self):
        """The tuning study of this stair: what is recommended for it comes from there."""
        return tuning_study(self.tower, self.window)

    @cached_property
    def first_minute(self):
        """`RuleResult` of one case: all doors shut, the stair as warm as the rooms, the loop at rest. No tuning changes that."""
        case = Case(f"{self.weather}, doors shut, {FIRST_MINUTE}", self.weather, stair=FIRST_MINUTE)
        return compare_rules(self.tower, self.window, (case,), rules=(self.site.control.rule,)).results[0]

    @property
    def recommended(self):
        """The tuning to enter here: `TuningStudy.recommended`; the site's own settings where nothing is."""
        return self.study.recommended or self.study.own

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
        alone = {name: float(np.interp(trial.ramp_s, RAMPS_S, seconds))
                 for name, seconds in zip(("ramp_opens_s", "ramp_shuts_s"), event.ramp_alone_s, strict=True)}  # fmt: skip
        came, box, not_followed = self._came(event, trial), self.box(trial), self.not_followed(trial)
        worst, corner = box.worst(trial.gain, trial.integral_s)
        same = (
            bool(not_followed) and self.followed_s is not None and _alike(came, self._came(event, replace(trial, ramp_s=self.followed_s)))
        )
        return Tried(
            trial, **came, **alone, limit_n=self._limit_n, margins=self.margins(trial), worst=worst, corner=corner,
            ahead=bool(trial.integral_s / trial.gain < box.ramp_asks_s), advised=self.advised(trial), not_followed=not_followed,
            same_with_s=self.followed_s if same else None,
        )  # fmt: skip

    @cached_property
    def followed_s(self):
        """The shortest ramp [s], the same both ways, that motor and brake follow; None where no length is."""
        longest = max(ramps_borne_s(self.site))
        return float(longest) if np.isfinite(longest) else None

    def _came(self, event, trial):
        """What came of a trial in time: that part of `Tried`, by name."""
        run = self._run(event.air, trial, start_hz=event.speeds_hz[0])
        course = door_course(run, self.tower)
        shut = np.where(np.isnan(course.force_n), np.nan, course.pressure_pa)
        flow = run.air.along(run.air.flow_m3_s, run.time_s, run.speed_hz[:, 0])[:, 0]
        back = [_back(run.time_s, flow, *ends) for ends in _ways(event.flows_m3_s)]
        force, limit, after = np.nanmax(course.force_n, axis=1), self._limit_n, run.time_s >= SHUTS_S
        stands = (run.time_s >= OPENS_S) & ~after
        moved = course.force_n[run.time_s >= OPENS_S]
        heavy_level = self.tower.levels[np.unravel_index(np.nanargmax(moved), moved.shape)[1]]
        low, low_pa, least_pa, low_level, samples = self._low(shut)
        short_s, short_level = self._short(run, event)
        held_low_pa, held_low_level = self._held_low(event)
        return {
            "time_s": run.time_s, "reading_pa": run.reading_pa[:, 0], "speed_hz": run.speed_hz[:, 0],
            "heaviest_pa": np.nanmax(shut, axis=1), "lightest_pa": np.nanmin(shut, axis=1), "opens_s": back[0], "shuts_s": back[1],
            "rest_n": float(force[0]), "open_n": float(force[stands].max()), "held_open_n": event.held_open_n,
            "held_open_level": event.held_open_level, "peak_n": float(force[after].max()),
            "heavy_level": int(heavy_level), "above_s": float((force[after] > limit).sum() * run.sample_s),
            "open_above_s": float((force[stands] > limit).sum() * run.sample_s), "low_pa": low_pa, "least_pa": least_pa,
            "low_level": low_level, "low_level_s": float(samples * run.sample_s),
            "open_low_s": float(low[stands].sum() * run.sample_s), "low_s": float(low[~stands].sum() * run.sample_s),
            "held_low_pa": held_low_pa, "held_low_level": held_low_level, "short_s": short_s, "short_level": short_level,
        }  # fmt: skip

    def _low(self, shut_pa):
        """(whether any shut door is below its least [samples], the least pressure across one that has a least, its least, its storey, how
        many samples it is below)."""
        least = self.window.by_storey(self.tower.levels, "stair door")[0]
        least = np.where(np.isfinite(least), least, np.nan)  # a storey whose door has none is not judged
        room = np.nan_to_num(shut_pa - least, nan=np.inf)
        sample, storey = np.unravel_index(room.argmin(), room.shape)
        low = room < -TOLERANCE_PA
        ends = (shut_pa[sample, storey], least[storey]) if np.isfinite(room[sample, storey]) else (np.nan, np.nan)
        return low.any(axis=1), *map(float, ends), int(self.tower.levels[storey]), int(low[:, storey].sum())

    def _held_low(self, event):
        """(least pressure across a shut door short of its least while the loop is at rest with the door open, its storey)."""
        least = self.window.by_storey(self.tower.levels, "stair door", doors_open=True)[0]
        short = event.shut[1] & (event.rest_pa[1] < least - TOLERANCE_PA)
        lowest = int(np.where(short, event.rest_pa[1], np.inf).argmin())
        return float(event.rest_pa[1][lowest]) if short.any() else np.nan, int(self.tower.levels[lowest])

    def _short(self, run, event):
        """(how long a shut door is short after either move, its storey), see `Tried`."""
        found = []
        for number, begins, ends in ((1, OPENS_S, SHUTS_S), (0, SHUTS_S + DoorEvent.moving_s, LENGTH_S)):
            least = self.window.by_storey(self.tower.levels, "stair door", doors_open=number == 1)[0]
            place = [number]
            found.append(short_seconds(run, least, event.rest_pa[place], event.shut[place], begins, ends, np.zeros(1, int))[0])
        seconds = np.fmax.reduce(found)
        longest = int(np.nan_to_num(seconds, nan=-1.0).argmax())
        return float(seconds[longest]), int(self.tower.levels[longest])

    def margins(self, trial):
        """`Nearness` of the nominal loop where the building's gain is largest: lags of transmitter and filter, and the delay that a step
        test shows."""
        lags, delay, numbers = self._lags(trial), self.site.control.sample_s, Numbers(trial.gain, trial.integral_s)

        def around(w):
            process = tuning.frequency_response(w, self.largest_gain(trial.span_pa), lags, delay)
            return tuning.controller_response(w, numbers) * process

        times = [*filter(None, lags), delay, trial.integral_s]
        found = tuning.margins(around, max(times), min(times))
        return Nearness(float(found.gain_margin), float(found.phase_margin_deg), float(found.peak_sensitivity))

    def box(self, trial):
        """The `LoopBox` behind this filter, span and ramp."""
        settings = replace(self.own, span_pa=trial.span_pa)
        found = replace(self.found, largest=self.largest_gain(trial.span_pa))
        return LoopBox.of(self.site, found, settings, trial.filter_s, trial.ramp_s)

    def advised(self, trial):
        """(gain, integral_s) of the fastest tuning that is safe in the box of this filter, span and ramp; None where none is."""
        key = (trial.filter_s, trial.span_pa, trial.ramp_s)
        if key not in self._advised:
            self._advised[key] = self.box(trial).fastest()
        return self._advised[key]

    def not_followed(self, trial):
        """That a trial's ramp, both ways, is one that this motor or resistor does not follow, as `not_followed_said`."""
        return not_followed_said(self.site, ramps_s=(trial.ramp_s, trial.ramp_s))

    def nominal(self, trial):
        """SIMC's `Settings` for the nominal loop of this filter and span, as fast as it advises: what breaks on site. Behind the site's own
        filter the lag and delay are those of the study's step tests, so that there is one figure of it."""
        fitted = self.study.box.fitted
        if fitted is None or trial.filter_s != self.own_trial.filter_s:
            fitted = tuning.half_rule(self._lags(trial), delay_s=self.site.control.sample_s)
        return tuning.simc_pi(self.largest_gain(trial.span_pa), *fitted)

    def largest_gain(self, span_pa):
        """Largest gain of the building [% of a span by % of full speed]."""
        return self.found.largest * self.own.span_pa / span_pa

    @property
    def _limit_n(self):
        stair_doors = (self.site.doors[name] for storey in self.site.storeys for name in storey.stair_doors)
        limits = (handle_limit_n(door, self.window.criteria) for door in stair_doors)
        return min(limit for limit in limits if limit is not None)

    def _lags(self, trial):
        return [trial.filter_s, *self.box(self.own_trial).lags_s[1:]]

    def _run(self, air, trial, start_hz, **more):
        taps = [self._tap(tap, trial) for tap in self.site.transmitters]
        settings = replace(self.own, gain=trial.gain, integral_s=trial.integral_s, span_pa=trial.span_pa)
        ramps = {"ramp_s": trial.ramp_s, "ramp_down_s": trial.ramp_s}
        setup = Setup(LENGTH_S, **{"settings": settings, "every_reading": False} | ramps | more)
        return run_on_air(air, self.site, setup, taps, settings, 1, start_hz)

    def _tap(self, tap, trial):
        """A transmitter with its own range, widened as the trial's span is against the site's: unlike ranges stay unlike."""
        ratio = trial.span_pa / self.own.span_pa
        return tap.model_copy(
            update={"range_low_pa": ratio * tap.range_low_pa, "range_high_pa": ratio * tap.range_high_pa, "filter_s": trial.filter_s}
        )

    def _event(self, door):
        require.one_of(self.doors, door=door)
        if door not in self._events:
            self._events[door] = self._solved(*self.doors[door])
        return self._events[door]

    def _solved(self, events, opened):
        air = AirTable.of(self.tower, schedule(self.tower, self.shut, events, LENGTH_S))
        moments = Conditions.joined([self.shut, Conditions.of(self.site, self.weather, **opened)])
        held = self.tower.hold(moments).air
        speeds, flows = tuple(held.speed_hz.tolist()), tuple(held.fan_flow_m3_s.tolist())
        percent = [100 * speed / self.site.fan.highest_speed_hz for speed in speeds]
        hand = ((0.0, OPENS_S, percent[0]), (OPENS_S, SHUTS_S, percent[1]), (SHUTS_S, LENGTH_S, percent[0]))
        run = self._run(air, self.own_trial, speeds[0], ramp_s=RAMPS_S, ramp_down_s=RAMPS_S, hand=hand)
        flow = np.stack([air.along(air.flow_m3_s, run.time_s, speed)[:, 0] for speed in run.speed_hz.T])
        alone = np.array([[_back(run.time_s, one, *ends) for one in flow] for ends in _ways(flows)])
        at_rest = door_course(run, self.tower).force_n[run.time_s < SHUTS_S][-1]  # the quickest ramp has long been there
        heaviest, level = float(np.nanmax(at_rest)), int(self.tower.levels[np.nanargmax(at_rest)])
        alone = np.nan_to_num(alone, nan=LENGTH_S)
        return _DoorTrial(air, speeds, flows, held.door_dp_pa, moments.stair_door_open == 0, heaviest, level, alone)


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


def _alike(one, other):
    """Whether two trials came to the same, to a sample, half a newton and half a pascal."""
    steps = {"_s": 0.11, "_n": 0.5, "_pa": 0.5}
    near = {name: step for name in one for end, step in steps.items() if name.endswith(end) and np.ndim(one[name]) == 0}
    return all(np.allclose(one[name], other[name], rtol=0.0, atol=step, equal_nan=True) for name, step in near.items())


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
