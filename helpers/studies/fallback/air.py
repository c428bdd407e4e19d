"""The air of a stair over fan speed in every case, solved once: what any reading, right or wrong, makes of the doors is looked up there.

Between the solved speeds all runs in straight lines over the square of the speed: within 0.3 Pa of the exactly held doors on the demo
stairs (a test compares).
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.formulas.combining import combine
from helpers.studies.allowed_pressures import allowed_pressures
from helpers.studies.cases import conditions_of, design_states_doors, usual_cases
from helpers.studies.placement_doors import DoorColumns

__all__ = ["FULL", "HELD", "LOWEST", "FailureAir", "Settled", "asked_for", "cases_beside", "failure_cases"]

SPEEDS = 49  # solved, equal steps of the square of the speed
HELD, LOWEST, FULL = range(3)  # where a loop comes to rest


def failure_cases(site):
    """Every weather of the site with its doors shut, two stair doors open, these and the final exit, and with the doors open that its
    design states: a tuple of `Case`, each once."""
    doors = [(), (site.design.open_doors, site.design.open_exits)] if design_states_doors(site) else [()]
    return tuple(dict.fromkeys(case for one in doors for weather in site.weather for case in usual_cases(site, weather, *one)))


def asked_for(site, cases):
    """By case: whether it opens no door beyond those that the site's design states; all of them where it states none."""
    if not design_states_doors(site):
        return np.ones(len(cases), bool)
    doors, exits = set(site.design.open_doors), set(site.design.open_exits)
    return np.array([doors.issuperset(case.open_doors) and exits.issuperset(case.open_exits) for case in cases])


def cases_beside(site):
    """For every case with all doors shut and every transmitter: that case with the stair door beside the transmitter open."""
    there = {storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count}
    levels = dict.fromkeys(tap.level for tap in site.transmitters if tap.level in there)
    return tuple(
        replace(case, name=case.name.replace("doors shut", f"stair door {level} open"), open_doors=(level,))
        for case in failure_cases(site)
        if case.shut
        for level in levels
    )


@dataclass(frozen=True)
class Settled:
    """Where loops come to rest: `place` [.., cases] between the solved speeds, `state` [.., cases]: HELD, LOWEST or FULL."""

    place: np.ndarray
    state: np.ndarray


class FailureAir:
    """Steady air of a tower over speed.

    window: narrowed to `allowed_pressures`, without the closing of exits: see `allowed_at`. cases: of `Case`; limits_hz: lowest and highest
    speed, of smoke control where the loop serves it; speeds_hz [speeds]; readings_pa [cases, speeds, taps], of the transmitters and then
    of any further ones; doors_pa [cases, speeds, doors]; standing_open [cases, doors].
    leak_factor: by which the walls leak more than the site file says. Raises ValueError where no door has a limit, or a case has no answer
    at some speed.
    """

    def __init__(self, tower, window, cases, leak_factor=1.0, further=()):
        site = tower.site
        self.leak_factor = leak_factor
        self.tower, self.window, self.site, self.cases, self.effect = tower, window, site, tuple(cases), int(tower.effect)
        self.taps = (*site.transmitters, *further)
        self.doors = DoorColumns(tower, allowed_pressures(site, window, closing=False))
        self.limits_hz = site.fan.speed_limits_hz(site.control.fire_mode)
        self.speeds_hz = np.sqrt(np.linspace(*np.square(self.limits_hz), SPEEDS))
        conditions, count = conditions_of(site, self.cases), len(self.cases)
        conditions = replace(conditions, leak_factor=conditions.leak_factor * leak_factor)
        self.standing_open = self.doors.standing_open(conditions)
        air = tower.solve(conditions.rows(np.repeat(np.arange(count), SPEEDS)), np.tile(self.speeds_hz, count))
        if not air.converged.all():
            raise ValueError(f"site must have an answer at every speed; {np.count_nonzero(~air.converged)} of {count * SPEEDS} have none")
        self.readings_pa = tower.readings(air, self.taps).reshape(count, SPEEDS, -1)
        self.doors_pa = self.doors.across(air).reshape(count, SPEEDS, -1)

    @cached_property
    def shown_pa(self):
        """What sound transmitters show [cases, speeds, taps]: the readings, held at the ends of each range."""
        ends = np.array([(tap.range_low_pa, tap.range_high_pa) for tap in self.taps]).T
        return np.clip(self.readings_pa, *ends)

    @cached_property
    def margin_pa(self):
        """Room of the worst shut door [cases, speeds], below zero where one is out."""
        return np.minimum(*self.doors.rooms(self.doors_pa, self.standing_open[:, None])).min(axis=-1)

    @cached_property
    def before(self):
        """For each case those of its own weather, from any of which it may come while a fan runs, as doors and the stair's temperature
        change: (numbers [variants, cases], whether there is one [variants, cases])."""
        weathers = np.array([case.weather for case in self.cases])
        there = [np.flatnonzero(weathers == weather) for weather in weathers]
        numbers = np.zeros((max(map(len, there)), len(there)), int)
        for case, peers in enumerate(there):
            numbers[: len(peers), case] = peers
        return numbers, np.arange(len(numbers))[:, None] < [len(peers) for peers in there]

    def settle(self, believed_pa, rule, set_point_pa, weights=None):
        """The first speed from the lowest at which the combined reading meets the set point.

        believed_pa [.., cases, speeds, taps], NaN for what is left out; set_point_pa broadcasts with [.., cases]. Returns `Settled`; where
        no reading is left the fan is taken to go to full speed, as a loop does that sees no pressure.
        """
        combined = self.combined(believed_pa, rule, weights)
        over = self.effect * (combined - np.asarray(set_point_pa, float)[..., None])
        enough = over >= 0
        first, reached = np.maximum(enough.argmax(axis=-1), 1), enough.any(axis=-1)
        low, high = (np.take_along_axis(over, place[..., None], -1)[..., 0] for place in (first - 1, first))
        part = np.clip(-low / np.where(high == low, 1.0, high - low), 0.0, 1.0)
        idle = enough[..., 0]
        place = np.where(idle, 0.0, np.where(reached, first - 1 + part, SPEEDS - 1.0))
        state = np.where(idle & (over[..., 0] > 0), LOWEST, np.where(reached, HELD, FULL))
        return Settled(place, state)

    @staticmethod
    def combined(readings_pa, rule, weights=None):
        """Readings [.., taps] combined; NaN where none is left."""
        return combine(readings_pa, rule, weights=weights if rule == "weighted" else None)

    def place_of(self, speed_hz):
        """Where a speed lies between the solved ones."""
        return float(np.interp(speed_hz**2, self.speeds_hz**2, np.arange(SPEEDS)))

    def speed_at(self, place):
        """Speed [Hz] of a place."""
        return np.sqrt(np.interp(place, np.arange(SPEEDS), self.speeds_hz**2))

    def at(self, values, place):
        """Values [cases, speeds, n] at places [.., cases]."""
        place = np.asarray(place)
        low = np.minimum(place.astype(int), SPEEDS - 2)
        part, rows = (place - low)[..., None], np.arange(len(self.cases))
        return (1 - part) * values[rows, low] + part * values[rows, low + 1]

    def rooms(self, place):
        """Room above the least and below the most of every shut door at places [.., cases]: [2, .., cases, doors]."""
        return np.stack(self.doors.rooms(self.at(self.doors_pa, place), self.standing_open))

    def allowed_at(self, place):
        """Room of every shut door at places [.., cases], closing again counted with the rest: [.., cases, doors]."""
        across = self.at(self.doors_pa, place)
        return np.minimum(self.doors.closing(across, self.standing_open), np.minimum(*self.doors.rooms(across, self.standing_open)))

    def margin_at(self, place):
        """Room of the worst shut door at places [.., cases], below zero where one is out; infinite where no shut door has a limit."""
        return self.rooms(place).min(axis=(0, -1))

    def some_speed_holds(self, tolerance_pa):
        """By case: whether any speed keeps every shut door inside; a case that shuts no limited door does not count."""
        most = self.margin_pa.max(axis=1)
        return np.isfinite(most) & (most >= -tolerance_pa)
