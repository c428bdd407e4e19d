"""Door tests of a tuning: the largest door opens and shuts again in every weather, and the loop is run."""

import math
from dataclasses import dataclass, replace

import numpy as np

from helpers.model.conditions import Conditions
from helpers.model.loop.air_table import AirTable
from helpers.model.loop.events import DoorEvent, schedule
from helpers.model.loop.results import door_course, recovery, swing_pa
from helpers.model.loop.run import Setup, run_loop
from helpers.studies.cases import two_neighbours

__all__ = ["OPENS_S", "SHUTS_S", "WITHIN_S", "DoorBench", "DoorTest", "largest_door", "seconds_text"]

OPENS_S, SHUTS_S, LENGTH_S = 10.0, 60.0, 110.0
LOOKED_AT_S = 49.5  # after each of the two: a loop that is not back by then counts as one that is not
SWINGS_FROM_S = LENGTH_S - 20.0  # half a minute after the door has shut
WITHIN_S = 3.0  # 90 % of the new flow within 3 s of a door event; EN 12101-6:2005 (memory)


@dataclass(frozen=True)
class DoorTest:
    """Seconds until 90 % of the way to the new steady flow is there and stays, after the door has begun to open and to shut, in the slowest
    weather (NaN: not reached in LOOKED_AT_S); the most force at a handle after the door has shut [N] and for how long any is above its
    limit [s], in the worst weather; how much the reading still swings to and fro half a minute after the door [Pa]: drift is no swing."""

    opens_s: float
    shuts_s: float
    peak_force_n: float
    above_limit_s: float
    swing_pa: float

    @property
    def slowest_s(self):
        """The slower of both ways; infinite where one does not recover."""
        return max(np.nan_to_num(seconds, nan=np.inf) for seconds in (self.opens_s, self.shuts_s))

    @property
    def quick(self):
        """Whether both ways are within the three seconds."""
        return self.slowest_s <= WITHIN_S


def seconds_text(seconds):
    """Seconds of a recovery in words; one that never came is NaN or infinite.

    >>> seconds_text(2.34), seconds_text(float("nan"))
    ('2.3 s', 'not within 49 s')
    """
    return f"{seconds:.1f} s" if np.isfinite(seconds) else f"not within {math.floor(LOOKED_AT_S)} s"


def largest_door(site):
    """The door whose opening takes most: the first final exit, else a stair door half way up. Returns (level, kind)."""
    exits = [storey.level for storey in site.storeys if storey.final_exit_door]
    return (exits[0], "exit") if exits else (two_neighbours(site)[0], "stair")


class DoorBench:
    """One door opening and shutting in all weathers of a site; what is tried on it shares one solved air."""

    def __init__(self, tower, settings, transmitters=None, rule=None, door=None):
        site = self.site = tower.site
        self.tower, self.settings, self.transmitters, self.rule = tower, settings, transmitters, rule
        level, kind = self.door = largest_door(site) if door is None else door
        self.event = DoorEvent(level, OPENS_S, shuts_s=SHUTS_S, door=kind)
        self.weathers = tuple(site.weather)
        self._air = {}
        opened = {"open_exits": (level,)} if kind == "exit" else {"open_doors": (level,)}
        shut, ajar = (Conditions.joined(Conditions.of(site, name, **more) for name in self.weathers) for more in ({}, opened))
        target = settings.set_point_pa
        self.shut = shut
        weights = site.control.weights if rule in (None, site.control.rule) else None  # as in a run: they go with the site's rule only
        self.shut_hz, self.open_hz = (tower.hold(where, target, transmitters, rule, weights).air.speed_hz for where in (shut, ajar))
        self._limits_n = np.array([_limit(site, storey) for storey in site.storeys])

    @property
    def force_limit_n(self):
        """Lowest force limit of the stair doors; None where none has any."""
        return float(self._limits_n.min()) if np.isfinite(self._limits_n).any() else None

    def percent(self, speed_hz):
        """Speed in per cent of full speed."""
        return 100 * speed_hz / self.site.fan.highest_speed_hz

    def test(self, settings=None, ramps_s=(None,), hand=()):
        """Try settings (numbers, or arrays of as many as there are tries), ramps, or outputs by hand (per cent: one, or one a weather).

        Returns a `DoorTest` for each try.
        """
        given = {name: np.asarray(value) for name, value in vars(settings or self.settings).items()}
        tries = max(len(ramps_s), *(value.size for value in given.values()))
        count = len(self.weathers)

        def spread(value):  # one a try -> one a run: weathers side by side for each try
            return np.repeat(value, count) if np.size(value) > 1 else value

        several = type(self.settings)(**{name: spread(v) if v.size > 1 else v.item() for name, v in given.items()})
        ramp = None if ramps_s == (None,) else spread(np.broadcast_to(np.asarray(ramps_s, float), tries))
        by_hand = tuple((a, b, np.tile(np.broadcast_to(percent, count), tries)) for a, b, percent in hand)
        setup = Setup(LENGTH_S, events=(self.event,), settings=several, rule=self.rule, ramp_s=ramp, hand=by_hand,
                      start_hz=np.tile(self.shut_hz, tries), every_reading=False)  # fmt: skip
        rows = self.shut.rows(np.tile(np.arange(count), tries))
        run = run_loop(self.tower, rows, setup, self.transmitters, self._air_for(tries, rows))
        ends = [self._by_hand_hz(hand, moment) for moment in (OPENS_S + LOOKED_AT_S, SHUTS_S + LOOKED_AT_S)]
        return [self._judged(run, range(count * k, count * (k + 1)), ends) for k in range(tries)]

    def _by_hand_hz(self, hand, moment_s):
        """Speed by hand at a moment, one a weather; None each where the loop decides."""
        percent = next((percent for begins, ends, percent in hand if begins <= moment_s < ends), None)
        if percent is None:
            return [None] * len(self.weathers)
        return [float(speed) for speed in np.broadcast_to(percent, len(self.weathers)) / 100 * self.site.fan.highest_speed_hz]

    def _air_for(self, tries, rows):
        """The air of so many tries side by side; solved for the first, and the same in each."""
        if tries not in self._air:
            scheduled = schedule(self.tower, rows, (self.event,), LENGTH_S)
            if self._air:
                solved = next(iter(self._air.values()))
                state = np.tile(solved.state[:, : len(self.weathers)], tries)
                self._air[tries] = replace(solved, state=state, scheduled=scheduled)
            else:
                self._air[tries] = AirTable.of(self.tower, scheduled, self.transmitters)
        return self._air[tries]

    def _judged(self, run, numbers, ends_hz):
        opened, shut = (
            [recovery(run, at, LOOKED_AT_S, number=n, settles_hz=hz).flow_s for n, hz in zip(numbers, speeds, strict=True)]
            for at, speeds in zip((OPENS_S, SHUTS_S), ends_hz, strict=True)
        )
        courses = [door_course(run, self.tower, number=n) for n in numbers]
        after = run.time_s >= SHUTS_S
        forces = [course.force_n[after] for course in courses]
        most = max((np.nanmax(force) for force in forces if np.isfinite(force).any()), default=np.nan)
        above = [(np.nan_to_num(force, nan=-np.inf) > self._limits_n).any(axis=1).sum() * run.sample_s for force in forces]
        swing = float(swing_pa(run, SWINGS_FROM_S, LENGTH_S)[list(numbers)].max())
        return DoorTest(_worst(opened), _worst(shut), float(most), float(max(above)), swing)


def _worst(seconds):
    return float(np.nan if np.isnan(seconds).any() else np.max(seconds))


def _limit(site, storey):
    door = site.doors[storey.stair_door] if storey.stair_door and storey.stair_door_count else None
    return np.inf if door is None or door.force_limit_n is None else door.force_limit_n
