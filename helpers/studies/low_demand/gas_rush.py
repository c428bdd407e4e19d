"""Traffic that turns at once in a garage: how high the gas goes before the fan has it again, with a stop, without, with more gain.

Every course goes down the states of traffic one after the other, from the heaviest to nobody, stays in each until the loop has settled,
and turns to a heavier one at once. Down by steps is the worst way to come to a quiet state: the loop's integral part then stands where the
last state left it, and the fan at its lowest speed. All courses and all ways are played side by side. A comfort plant: nothing here is for
smoke control. Limits: well-mixed zones, those with a transmitter alone; sound transmitters without error; traffic as the site file has
it, and a turn at once is quicker than cars are.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.formulas.low_demand import LowDemandRule
from helpers.model.plants.garage import Garage, GarageSite
from helpers.model.plants.pressure_plant import GarageConditions, Turn, run_plant, setup_of

SETTLED_S, HEAVY_S = 5400.0, 3600.0  # in each state on the way down, and of the heavier one; ours
NEVER = LowDemandRule(0.0, 0.0, 0.0, 0.0)  # below 0 Hz: no stop
AS_FILED, AT_ONCE, CALLED, NO_STOP = (
    "as the site file has it",
    "a start at the set point, without a wait",
    "a call as the traffic turns",
    "no stop",
)
NOBODY = "nobody asks"


class GasCourse(NamedTuple):
    """States of traffic one after the other, the last one at once: their names, the cars running in each [states, zones], and which share
    of them gives off a second gas [states]."""

    names: tuple
    running: np.ndarray
    share: np.ndarray

    @property
    def said(self):
        """In words."""
        return f"{', '.join(self.names[:-1])}, then {self.names[-1]} at once"


class GasWay(NamedTuple):
    """A way of running the fan: what it is called, the loop's gain [%/%], the rule of its stop, and whether a call ends a stop."""

    called: str
    gain: float
    rule: LowDemandRule
    call: bool = False


class Rushed(NamedTuple):
    """What the courses came to in one way, after the turn, [courses]: the gas of a zone that is highest beside its most [ppm], its
    transmitter (number); time above the most of steady air [s]; the longest time on end for which a reading is above the alarm [s];
    whether the fan was stopped."""

    peak_ppm: np.ndarray
    place: np.ndarray
    past_s: np.ndarray
    above_alarm_s: np.ndarray
    stopped: np.ndarray


@dataclass(frozen=True)
class GasRush:
    """The study of one garage; parts are played when first asked for.

    gain: that is laid down [%/%]; gains: others that are tried without a stop; most_ppm: that a zone may have in steady air; alarm_ppm;
    both of each transmitter [transmitters], as the loop counts them.
    """

    site: GarageSite
    gain: float
    gains: tuple
    most_ppm: tuple
    alarm_ppm: tuple

    @cached_property
    def courses(self):
        """Every `GasCourse`: down to each state that is not the heaviest, then to each heavier one."""
        states = {name: GarageConditions.of(self.site, name) for name in self.site.traffic}
        states[NOBODY] = GarageConditions.of(self.site, running=np.zeros(len(self.site.zones)))
        down = sorted(states, key=lambda name: -states[name].running.sum())
        found = []
        for last in range(1, len(down)):
            for heavier in range(last):
                names = (*down[: last + 1], down[heavier])
                running, share = (np.concatenate([getattr(states[name], part) for name in names]) for part in ("running", "engines_share"))
                found.append(GasCourse(names, running, share))
        return tuple(found)

    @cached_property
    def ways(self):
        """Every `GasWay`: the site's own first, then what may be done about a stop, then more gain without one."""
        own = Garage(self.site).low_demand_rule()
        more = tuple(GasWay(f"{NO_STOP}, gain {gain:.3g}", gain, NEVER) for gain in self.gains)
        if own is None:
            return (GasWay(AS_FILED, self.gain, NEVER), *more)
        quick = own._replace(restart_error=0.0, restart_after_s=0.0)
        stops = (GasWay(AS_FILED, self.gain, own), GasWay(AT_ONCE, self.gain, quick), GasWay(CALLED, self.gain, own, call=True))
        return (*stops, GasWay(NO_STOP, self.gain, NEVER), *more)

    @cached_property
    def played(self):
        """{`GasWay`: `Rushed`}."""
        plain = [way for way in self.ways if not way.call]
        rushed, outputs = self._side_by_side(plain)
        found = dict(zip(plain, rushed, strict=True))
        for way in self.ways:
            if way.call:  # a sample in MANUAL ends the stop and leaves the output where it is
                found[way] = self._side_by_side([way], outputs[0])[0][0]
        return {way: found[way] for way in self.ways}

    def _side_by_side(self, ways, called=None):
        """(`Rushed`, output at the turn [courses]) of each of some ways; called: output by hand for a sample as the traffic turns [%]."""
        garage, courses = Garage(self.site), self.courses
        longest = max(len(course.names) for course in courses)

        # shorter courses stay longer in the heaviest state, so that all turn at the same time
        def padded(part):
            rows = [
                np.concatenate([one[:1].repeat(longest - len(one), axis=0), one]) for one in (getattr(course, part) for course in courses)
            ]
            return np.concatenate([np.array(rows)] * len(ways))

        running, share = padded("running"), padded("share")
        turn_s, sample = SETTLED_S * (longest - 1), self.site.control.sample_s
        turned = [{"running": running[:, at], "engines_share": share[:, at]} for at in range(longest)]
        events = tuple(Turn(SETTLED_S * at, turned[at]) for at in range(1, longest))
        base = GarageConditions.of(self.site, running=running[0, 0])
        rows = replace(base.rows(np.zeros(len(running), int)), **turned[0])
        gain = np.repeat([way.gain for way in ways], len(courses))
        rule = LowDemandRule(*(np.repeat(part, len(courses)) for part in zip(*(way.rule for way in ways), strict=True)))
        setup = setup_of(garage, turn_s + HEAVY_S, settings=replace(garage.settings(), gain=gain), low_demand=rule, events=events,
                         hand=() if called is None else ((turn_s, turn_s + sample, called),))  # fmt: skip
        run = run_plant(garage, rows, setup)
        after = run.time_s >= turn_s
        gas, readings = run.tubes_pa[after], run.readings_pa[after]
        past = gas - np.array(self.most_ppm)[:, None]
        place = past.max(axis=0).argmax(axis=0)
        peak = np.take_along_axis(gas.max(axis=0), place[None], axis=0)[0]
        above = _longest((readings > np.array(self.alarm_ppm)[:, None]).any(axis=1)) * sample
        turn = np.argmax(after)
        before = ~run.running[turn - 1]
        parts = (peak, place, (past > 0).any(axis=1).sum(axis=0) * sample, above, before)
        rushed = [Rushed(*(part.reshape(len(ways), -1)[at] for part in parts)) for at in range(len(ways))]
        return rushed, run.output_percent[turn].reshape(len(ways), -1)

    def worst(self, way, stopped=None):
        """Number of the course with the highest gas beside its most; stopped: of those alone in which the fan was (True) or was not
        (False) stopped as the traffic turned; None where there is none."""
        rushed = self.played[way]
        asked = np.ones(len(self.courses), bool) if stopped is None else rushed.stopped == stopped
        return int(np.where(asked, self.past_ppm(rushed), -np.inf).argmax()) if asked.any() else None

    def past_ppm(self, rushed):
        """By how much the worst zone of each course is past its most [courses], below zero inside; without a most the gas itself."""
        most = np.array(self.most_ppm)[rushed.place]
        return rushed.peak_ppm - np.where(np.isfinite(most), most, 0.0)

    def keeps(self, way):
        """Whether no course takes a zone past its most."""
        rushed = self.played[way]
        return bool((rushed.peak_ppm <= np.array(self.most_ppm)[rushed.place]).all())

    @property
    def remedy(self):
        """The first `GasWay` without a stop that keeps every zone; None where none was found."""
        return next((way for way in self.ways if way.rule == NEVER and self.keeps(way)), None)

    @property
    def unstopped(self):
        """The way with the gain that is laid down and without a stop."""
        return next(way for way in self.ways if way.rule == NEVER and way.gain == self.gain)


def _longest(flags):
    """The longest stretch of samples on end [runs] in flags [samples, runs]."""
    longest = count = np.zeros(flags.shape[1])
    for row in flags:
        count = np.where(row, count + 1, 0.0)
        longest = np.maximum(longest, count)
    return longest


def rush_study(site, gain, gains=(), most_ppm=None, alarm_ppm=None):
    """The `GasRush` of a garage; most_ppm, alarm_ppm: without a figure (None) no limit. Raises ValueError for another plant."""
    count = len(require.of_kind(GarageSite, site=site).transmitters)
    most, alarm = (np.broadcast_to(np.inf if limit is None else require.positive(**{name: limit}), count)
                   for name, limit in (("most_ppm", most_ppm), ("alarm_ppm", alarm_ppm)))  # fmt: skip
    return GasRush(site, require.single_positive(gain=gain), tuple(gains), tuple(most.tolist()), tuple(alarm.tolist()))
