"""Air over fan speed: solved once at some speeds in every condition, then looked up instead of solved again.

A place is a number between two solved speeds: 3.25 is a quarter of the way from the fourth to the fifth. All quantities run in straight
lines between places, and places in straight lines over the square of the speed, as pressures do (fan laws).

Accuracy against `operating_point.hold`, doors of the demo stairs in their named weathers: within 0.3 Pa with 49 speeds of equal steps of
the square, within 0.1 Pa with 121 (tests/model/test_sweep.py measures); most where a relief damper lifts. Limits: steady air.

`AirTable` is the air as the loop sees it: looked up, not solved, at every sample. The air of a shaft stores almost nothing: pressure
follows fan and doors within a fraction of a second (`storage_time_s` tells), so at every moment it is what the air network says for that
speed and those doors. The network is solved once for every moment of the schedule at some speeds; between moments and between its speeds
runs a monotone cubic, which bends as the points do and never swings beyond them.
Source: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304 (memory). Limits: next to a speed at which a damper lifts,
pressures are off by up to half a pascal, and by one below the drive's lowest speed.
"""

from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.model.air.fan import electric_power_w
from helpers.model.air.operating_point import AT_FULL_SPEED, AT_LOWEST_SPEED, HELD
from helpers.model.loop.events import Schedule


class Rest(NamedTuple):
    """Where loops come to rest: place [..] among the solved speeds; state [..]: HELD, AT_LOWEST_SPEED or AT_FULL_SPEED."""

    place: np.ndarray
    state: np.ndarray


class NoAnswerError(ValueError):
    """Some air of a sweep over speeds has no answer."""


def squared_steps(low_hz, high_hz, count):
    """Speeds [count] in equal steps of their square: as pressures rise."""
    return np.sqrt(np.linspace(low_hz**2, high_hz**2, count))


def over_speeds(solve, quantities, conditions, speeds_hz, asked="conditions"):
    """Arrays [conditions, speeds, ...] of what quantities(air, rows) gives as a tuple, the air being solve(rows, speed of each row).

    asked: the argument that a refusal names. Raises NoAnswerError where some air has no answer.
    """
    shape = len(conditions), len(speeds_hz)
    rows = conditions.rows(np.repeat(np.arange(shape[0]), shape[1]))
    air = solve(rows, np.tile(speeds_hz, shape[0]))
    if not air.converged.all():
        raise NoAnswerError(f"{asked} must have an answer at every speed: {np.count_nonzero(~air.converged)} of {len(rows)} have none")
    return [np.ascontiguousarray(value).reshape(*shape, *np.shape(value)[1:]) for value in quantities(air, rows)]


def place_of(speeds_hz, speed_hz):
    """Place of a speed among rising ones; beyond them that of the nearest."""
    return np.interp(np.square(speed_hz), np.square(speeds_hz), np.arange(len(speeds_hz)))


def speed_at(speeds_hz, place):
    """Speed [Hz] of a place."""
    return np.sqrt(at(np.square(speeds_hz), place))


def at(values, place, rows=None):
    """Values [speeds, ...] at places [..] -> [.., ...]; of values [conditions, speeds, ...] rows tells the condition of each place."""
    place, speeds = np.asarray(place, float), values.shape[0 if rows is None else 1]
    low = np.minimum(place.astype(int), speeds - 2)
    part = (place - low).reshape(place.shape + (1,) * (values.ndim - (1 if rows is None else 2)))
    if rows is not None:  # in one row: picked twice as fast
        values, low = values.reshape(-1, *values.shape[2:]), low + speeds * rows
    return (1 - part) * values[low] + part * values[low + 1]


def finer(values, times):
    """Values [conditions, speeds, ..] with so many steps from each speed to the next."""
    part = (np.arange(times) / times)[:, None]
    steps = values[:, :-1, None] * (1 - part) + values[:, 1:, None] * part
    return np.concatenate([steps.reshape(len(values), -1, values.shape[2]), values[:, -1:]], axis=1)


def meets(rising, goal, low=0.0, high=np.inf):
    """`Rest` of a fan that speeds up from its lowest place until a reading first reaches the goal.

    rising [.., speeds]: a reading that rises with the fan (of a fan that lowers it, with its sign turned, as the goal); goal [..]; low,
    high: lowest and highest place. A reading that does not get there, or is NaN as none is left, leaves the fan at its highest place.
    Where a reading falls again with more speed the first meeting counts; of a fan that slows down from full speed ask -rising[..., ::-1]
    and -goal.
    """
    goal, last = np.asarray(goal, float), rising.shape[-1] - 1
    rising = np.broadcast_to(rising, (*np.broadcast_shapes(rising.shape[:-1], goal.shape), last + 1))
    start, high = at(np.moveaxis(rising, -1, 0), low) if low else rising[..., 0], np.minimum(high, float(last))
    reached = rising >= goal[..., None]
    reached[..., : int(low) + 1] = False
    first = reached.argmax(axis=-1)[..., None]
    end = np.maximum(first, 1)
    met, below, above = (np.take_along_axis(of, to, -1)[..., 0] for of, to in ((reached, first), (rising, end - 1), (rising, end)))
    idle, met = start >= goal, met & (start < goal)
    place = end[..., 0] - 1 + (goal - below) / np.where(met, above - below, 1.0)
    held = met & (place <= high)
    state = np.where(held | (start == goal), HELD, np.where(idle, AT_LOWEST_SPEED, AT_FULL_SPEED))
    return Rest(np.where(idle, low, np.where(held, place, high)), state)


def slopes(x, y):
    """Slopes of the monotone cubic at its points: x [n] rising, y [n, ...]."""
    step = np.diff(x).reshape(-1, *[1] * (y.ndim - 1))
    chord = np.diff(y, axis=0) / step
    if len(step) == 1:
        return np.concatenate([chord, chord])
    before, after = chord[:-1], chord[1:]
    near, far = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    turns = before * after <= 0
    inner = (near + far) / (near / np.where(turns, 1.0, before) + far / np.where(turns, 1.0, after))
    return np.concatenate([chord[:1], np.where(turns, 0.0, inner), chord[-1:]])


def cubic_at(part, width, start, end, slope_start, slope_end):
    """The cubic at a part (0 to 1) of a piece of some width, from the values and slopes at its ends; broadcasts."""
    other = 1 - part
    bend = width * part * other * (other * slope_start - part * slope_end)
    return (1 + 2 * part) * other**2 * start + (1 + 2 * other) * part**2 * end + bend


def pieces(x, places):
    """For each place the point before it, how far on the way to the next (0 to 1) and how far apart the two are; x [n] rising.

    Beyond the ends: the end.
    """
    before = np.clip(np.searchsorted(x, places, side="right") - 1, 0, len(x) - 2)
    width = x[before + 1] - x[before]
    return before, np.clip((places - x[before]) / width, 0.0, 1.0), width


def bent_finer(y, times):
    """Points [n, ...] at equal steps, with `times` - 1 more put between each two."""
    n = np.arange(len(y), dtype=float)
    rise = slopes(n, y)
    place = np.arange((len(y) - 1) * times + 1) / times
    low = np.minimum(place.astype(int), len(y) - 2)
    part = (place - low).reshape(-1, *[1] * (y.ndim - 1))
    return cubic_at(part, 1.0, y[low], y[low + 1], rise[low], rise[low + 1])


SPEEDS = 32  # solved, equal steps from standstill to full speed: found by trial, so that a damper's lifting costs half a pascal at most
MOST_SPEEDS = 1000  # ours: more shows nothing that the fan curve holds
FINER = 4  # the table the loop reads has so many times as many, straight lines between them


@dataclass
class AirTable:
    """Air at every moment of a schedule and at some speeds.

    times_s [moments]; top_hz: highest speed; state [moments, runs]: which of the solved states of the air it is; readings [states, speeds,
    transmitters], doors_pa [states, speeds, storeys] (pressure across each storey's stair door), flow_m3_s and power_w (from the mains)
    [states, speeds, 1]. Speeds are equal steps from 0 to top.
    """

    times_s: np.ndarray
    top_hz: float
    state: np.ndarray
    readings: np.ndarray
    doors_pa: np.ndarray
    flow_m3_s: np.ndarray
    power_w: np.ndarray
    scheduled: Schedule | None = field(default=None, repr=False)
    _kept: dict = field(default_factory=dict, repr=False, compare=False)  # finer tables; a copy for other runs of the same air shares them

    def __post_init__(self):
        self.per_hz = FINER * (self.readings.shape[1] - 1) / self.top_hz  # steps of the finer table in one hertz

    @classmethod
    def of(cls, tower, scheduled, transmitters=None, speeds=SPEEDS):
        """Solve the network of a tower for a schedule. Returns `AirTable`; raises ValueError where the network finds no answer."""

        def quantities(found, rows):
            return tower.readings(found, transmitters), found.door_dp_pa, found.fan_flow_m3_s, electric_power_w(tower, found, rows)

        return cls.solved(tower.solve, quantities, scheduled, tower.site.fan.highest_speed_hz, speeds)

    @classmethod
    def solved(cls, solve, quantities, scheduled, top_hz, speeds=SPEEDS):
        """A table of any air: solve(conditions, speed_hz) gives what quantities(found, conditions) turns into readings, doors_pa,
        flow_m3_s and power_w, each [conditions, ...]. Conditions alike are solved once however often they come."""
        speeds = require.whole(2, MOST_SPEEDS, speeds=speeds)
        # conditions without repetition, and for every row the place of its like
        conditions = scheduled.conditions
        matrix = np.column_stack([value.reshape(len(conditions), -1) for value in vars(conditions).values()])
        _, first, where = np.unique(np.round(matrix, 9), axis=0, return_index=True, return_inverse=True)
        unique, state = conditions.rows(first), where.ravel()
        tables = over_speeds(solve, quantities, unique, np.linspace(0.0, top_hz, speeds))
        tables = [table.reshape(len(unique), speeds, -1) for table in tables]
        return cls(scheduled.times_s, top_hz, state.reshape(len(scheduled.times_s), scheduled.runs), *tables, scheduled)

    def check_fits(self, scheduled, transmitters):
        """Refuse a schedule, or a number of transmitters, that is not the one solved for."""
        ours, theirs = ([s.times_s, np.array(s.runs), *vars(s.conditions).values()] for s in (self.scheduled, scheduled))
        if len(ours) != len(theirs) or not all(map(np.array_equal, ours, theirs)):
            raise ValueError("air must be the table of a run with the same conditions, events and length, got another")
        if self.readings.shape[-1] != transmitters:
            raise ValueError(f"air must be the table of a run with {transmitters} transmitters, got one with {self.readings.shape[-1]}")

    def beside(self, other):
        """`AirTable` of the runs of this one and after them those of another one that has the same moments and speeds."""
        tables = (np.concatenate([getattr(self, name), getattr(other, name)]) for name in ("readings", "doors_pa", "flow_m3_s", "power_w"))
        return AirTable(self.times_s, self.top_hz, np.hstack([self.state, len(self.readings) + other.state]), *tables)

    def course(self, times_s, arithmetic):
        """For each sample what `read` needs of the air at that time; one and the same thing while nothing moves."""
        tables = np.moveaxis(self._fine(self.readings)[self.state], 1, -1)  # [moments, speeds, transmitters, runs]
        rise = slopes(self.times_s, tables)
        still, kept = (self.state[:-1] == self.state[1:]).all(axis=1), {}
        for i, part, width in zip(*(of.tolist() for of in pieces(self.times_s, times_s)), strict=True):
            if still[i] or part == 0.0:
                key = self.state[i].tobytes()
                if key not in kept:
                    kept[key] = arithmetic.lines(tables[i])
                yield kept[key]
            else:
                ends = [table[k] for table in (tables, rise) for k in (i, i + 1)]
                yield arithmetic.passing_lines(partial(_passing, part, width, ends), tables.shape[1])

    def read(self, lines, speed_hz, arithmetic):
        """Pressures at the tubes, rows, for the course's entry of this sample and a speed in each run."""
        return arithmetic.looked_up(lines, speed_hz * self.per_hz)

    def along(self, table, times_s, speed_hz, number=0):
        """A quantity over one run, or over several: one of the tables, at times [samples] and speeds [samples] of a run of that number ->
        [samples, places]; of several numbers [runs] at speeds [samples, runs] -> [samples, runs, places]."""
        states = self.state[:, np.minimum(np.atleast_1d(number), self.state.shape[1] - 1)]
        states, run = np.unique(states, axis=1, return_inverse=True) if states.shape[1] > 1 else (states, np.zeros(1, int))
        # the finer table of each moment [moments, runs, ...] and its slopes in time; kept, because many runs ask for the same
        key = id(table), states.tobytes()
        if key not in self._kept:
            fine = self._fine(table)[states]
            self._kept[key] = fine, slopes(self.times_s, fine)
        tables, rise = self._kept[key]
        moment, part, width = (of[:, None, None] for of in pieces(self.times_s, times_s))
        place = np.clip(np.reshape(speed_hz, (len(times_s), -1)) * self.per_hz, 0.0, tables.shape[2] - 1)
        low, i, run = np.minimum(place.astype(int), tables.shape[2] - 2), moment[..., 0], run.reshape(1, -1)

        def at(j):
            return cubic_at(part, width, tables[i, run, j], tables[i + 1, run, j], rise[i, run, j], rise[i + 1, run, j])

        found = (1 + low - place)[..., None] * at(low) + (place - low)[..., None] * at(low + 1)
        return found if np.ndim(number) else found[:, 0]

    def at_start(self):
        """Speeds [speeds] and readings [speeds, transmitters, runs] of the first moment."""
        return np.linspace(0.0, self.top_hz, self.readings.shape[1]), np.moveaxis(self.readings[self.state[0]], 0, -1)

    def _fine(self, table):
        if id(table) not in self._kept:
            self._kept[id(table)] = np.moveaxis(bent_finer(np.moveaxis(table, 1, 0), FINER), 0, 1)
        return self._kept[id(table)]


def _passing(part, width, ends, nodes):
    """The table at some of its speeds, on the way between two moments."""
    return cubic_at(part, width, *(end[nodes] for end in ends))


def storage_time_s(tower, conditions):
    """Time constant with which the shaft's own air would fill [conditions], s: what looking up leaves out.

    Equation: V / (p dQ/dp), isothermal; Q the fan's flow and p the mean pressure of the stair at two speeds near the one that holds the
    set point. Source: text-book gas law. Limits: stiff walls (doors and seals that give way store a little more); the stair's air only.
    """
    site, held = tower.site, tower.hold(conditions).air.speed_hz
    slow, fast = (tower.solve(conditions, share * held) for share in (0.98, 1.0))
    slope = (fast.fan_flow_m3_s - slow.fan_flow_m3_s) / (fast.stair_pa - slow.stair_pa).mean(axis=-1)
    volume = site.stair.plan_area_m2 * sum(storey.height_m for storey in site.storeys)
    return volume / (tower.pressure_pa * slope)
