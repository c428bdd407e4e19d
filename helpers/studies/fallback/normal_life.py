"""What a sound loop shows when nothing has failed, through a year and while people use a door: alarm limits and delays leave it room.

Limits: hours of a typical year, which has no extremes; one door event, with the tuning to be entered and the most lag and dead time of its
box, or with the loop as it stands where there is no such tuning.
"""

from dataclasses import replace
from itertools import combinations

import numpy as np

from helpers.model.loop.controller import INTEGRAL_STOPS
from helpers.model.loop.events import DoorEvent
from helpers.model.loop.run import Setup, run_loop, run_on_air, settings_of
from helpers.studies.cases import conditions_of
from helpers.studies.tuning_doors import LENGTH_S, OPENS_S, SHUTS_S, largest_door

__all__ = ["MOST_HOURS", "DoorInTheLoop", "apart_of", "hours_beyond", "year_ends"]

MOST_HOURS = 10  # of a year in which a sound loop may lie beyond one alarm limit; ours


def year_ends(values_pa):
    """Ends [Pa] of some hours' values [hours, n] that leave MOST_HOURS of them beyond each: (low [n], high [n])."""
    ordered = np.sort(values_pa, axis=0)
    place = min(MOST_HOURS, len(ordered) - 1)
    return ordered[place], ordered[-1 - place]


def hours_beyond(readings_pa, low_pa, high_pa, deviation_pa):
    """Most hours [-] of readings [hours, taps] that lie beyond any one of the limits."""
    counts = [*(readings_pa < low_pa).sum(axis=0), *(readings_pa > high_pa).sum(axis=0)]
    if deviation_pa is not None:
        counts.append((apart_of(readings_pa) > deviation_pa).sum())
    return int(max(counts))


def apart_of(readings_pa):
    """Largest difference of any two readings [hours] of [hours, taps]."""
    pairs = combinations(range(readings_pa.shape[1]), 2)
    return np.max([np.abs(readings_pa[:, b] - readings_pa[:, a]) for a, b in pairs], axis=0)


class DoorInTheLoop:
    """The loop in all cases with doors shut, while the door that takes most stands open and shuts again.

    tuned: `Candidate` to be entered, played with the lags stated and, as the door tests do, in its far corner, with the integral stopping
    at the ends of the output or at the ramp as well, and without a brake that nobody states; None: the loop as its site has it, alone.
    time_s [samples]; readings_pa [samples, ways of playing x cases, taps].
    """

    def __init__(self, tower, cases, tuned=None):
        site = tower.site
        level, kind = largest_door(site)
        conditions = conditions_of(site, [case for case in cases if case.shut])
        start_hz, loop, settings = tower.hold(conditions).air.speed_hz, site, settings_of(site)
        setups = [Setup(LENGTH_S, events=(DoorEvent(level, OPENS_S, shuts_s=SHUTS_S, door=kind),), settings=settings, start_hz=start_hz)]
        if tuned is not None:
            settings = replace(settings, gain=tuned.gain, integral_s=tuned.integral_s, derivative_s=0.0)
            far = {"more_lag_s": tuned.far.lag_s, "dead_time_s": tuned.far.dead_time_s}
            stops = [replace(settings, integral_stops=stops) for stops in INTEGRAL_STOPS]
            setups = [replace(setups[0], settings=settings), *(replace(setups[0], settings=one, **far) for one in stops)]
            loop = site if site.fan.brake else site.with_changes(fan={"brake": "none"})
        first = run_loop(tower, conditions, setups[0])
        runs = [first, *(run_on_air(first.air, loop, setup, loop.transmitters, setup.settings, len(conditions), start_hz)
                         for setup in setups[1:])]  # fmt: skip
        self.time_s, self.readings_pa = first.time_s, np.concatenate([run.readings_pa.swapaxes(1, 2) for run in runs], axis=1)

    def outside_s(self, beyond):
        """Longest time [s] of one stretch in which `beyond` [samples, cases] holds, over the cases in which it does not before the door
        opens; None where it still does at the end."""
        beyond = beyond[:, ~beyond[self.time_s < OPENS_S].any(axis=0)]
        if beyond[-1].any():
            return None
        longest = 0.0
        for column in beyond.T:
            edges = np.flatnonzero(np.diff(np.concatenate([[0], column.astype(int), [0]])))
            longest = max([longest, *(self.time_s[end] - self.time_s[start] for start, end in zip(edges[::2], edges[1::2], strict=True))])
        return float(longest)
