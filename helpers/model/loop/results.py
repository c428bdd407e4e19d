"""What a run was like for people and plant: recovery after a door, force at the handle, time out of the window, starts, energy."""

from dataclasses import dataclass

import numpy as np

from helpers import require
from helpers.formulas import doors as door_formulas
from helpers.formulas.combining import combine
from helpers.model import sweep
from helpers.model.sweep import at, meets

SPEEDS_SEARCHED = 501  # between the drive's ends, for the one that the loop settles at
NO_CHANGE = 1e-3  # of the flow: two flows nearer to each other than that are the same one; ours, finer than any flow station


@dataclass(frozen=True)
class Recovery:
    """Recovery after an event: seconds until 90 % of the change of the fan's flow is there and stays (NaN: not reached in the time looked
    at), seconds until the combined reading's deviation has come down by as much, and its largest deviation on the way [Pa]."""

    flow_s: float
    reading_s: float
    deviation_pa: float


@dataclass(frozen=True)
class DoorCourse:
    """Stair doors over a run: pressure [samples, storeys], force at the handle [N] (NaN where none is asked: no door, nobody's hand, the
    leaf not shut), the most of each storey (NaN likewise), seconds above its limit, seconds below its minimum pressure while shut."""

    pressure_pa: np.ndarray
    force_n: np.ndarray
    peak_force_n: np.ndarray
    above_limit_s: np.ndarray
    below_least_s: np.ndarray


def recovery(run, at_s, within_s=30.0, share=0.9, number=0, settles_hz=None):
    """Recovery of a run (of many, the one of this number) after a door event at `at_s`, looked at for `within_s`.

    EN 12101-6:2005 asks for 90 % of the new flow within 3 s (memory). Flow: the fan's, from the instant before the event to the new steady
    one, which is that of the speed at which the reading meets the set point under the conditions at the end of the time looked at, or of
    the drive's end on its way; settles_hz: that speed where no loop decides it (a fan by hand). A loop that has gone only a part of
    the way, or stays beside its set point, has not recovered: NaN. number, settles_hz: of one run, or [runs] of several. Returns
    `Recovery`, of several runs its figures [runs]. Raises ValueError for an event not in the run.
    """
    require.between(float(run.time_s[0]), float(run.time_s[-1]), at_s=at_s)
    until, numbers = at_s + require.single_positive(within_s=within_s), np.atleast_1d(number)
    before = np.flatnonzero(run.time_s <= at_s)[-1]
    chosen = (run.time_s >= at_s) & (run.time_s <= until)
    looked = chosen.copy()
    looked[before] = True
    flow = run.air.along(run.air.flow_m3_s, run.time_s[looked], run.speed_hz[looked][:, numbers], numbers)[..., 0]
    end = min(until, float(run.time_s[-1]))
    speed = _settles_hz(run, end, numbers) if settles_hz is None else require.at_least(0, settles_hz=settles_hz)
    speed = np.broadcast_to(speed, (1, len(numbers)))
    steady = run.air.along(run.air.flow_m3_s, np.array([end]), speed, numbers)[0, :, 0]
    time, error = run.time_s[chosen] - at_s, np.abs(run.reading_pa[chosen][:, numbers] - _set_point(run, numbers))
    worst = error.max(axis=0)
    found = (
        _stays(time, _there(flow[0], flow[chosen[looked]], steady, share)),
        np.where(worst > 0, _stays(time, error <= (1 - share) * worst), 0.0),
        worst,
    )
    return Recovery(*found) if np.ndim(number) else Recovery(*(float(one[0]) for one in found))


def swing_pa(run, from_s, to_s):
    """How far the combined reading of each run swings to and fro between two times [runs], Pa.

    Equation: the lesser of the tallest hill and the deepest hollow, each measured from its lower (shallower) side. A drift one way has
    neither, one overshoot only one of them: both are no swing. Limits: a swing slower than two thirds of the time looked at is not seen.
    """
    reading = run.reading_pa[(run.time_s >= from_s) & (run.time_s <= to_s)]

    def tallest(course):
        before, after = (np.minimum.accumulate(part, axis=0) for part in (course, course[::-1]))
        return (course - np.maximum(before, after[::-1])).max(axis=0)

    return np.minimum(tallest(reading), tallest(-reading))


def door_course(run, tower, number=0, from_s=0.0):
    """Pressures and forces of the stair doors over a run from a time on. Returns `DoorCourse`.

    A door that opens with the pressure has the pressure on its side; its force is what closer and pressure leave. Of several kinds on a
    storey the force is at the one that bears least (`Site.hardest_stair_door`), the least pressure that of the one that asks for most.
    """
    chosen = run.time_s >= from_s
    pressure = run.air.along(run.air.doors_pa, run.time_s[chosen], run.speed_hz[chosen, number], number)
    site = tower.site
    doors = [site.doors[site.hardest_stair_door(storey)] if storey.stair_doors else None for storey in site.storeys]
    shut, by_hand = ~_ajar(run, number)[chosen], [i for i, door in enumerate(doors) if door and door.worked_by_hand]
    asked = [[site.doors[name].minimum_dp_pa for name in storey.stair_doors] for storey in site.storeys]
    least = np.array([max((one for one in ends if one is not None), default=-np.inf) for ends in asked])
    forces, limit = np.full(pressure.shape, np.nan), np.full(len(doors), np.inf)
    if by_hand:
        sign, width, height, closer, handle, limit[by_hand] = np.array([_leaf(doors[i]) for i in by_hand]).T
        asked = door_formulas.opening_force(sign * pressure[:, by_hand], width, height, closer, handle)
        forces[:, by_hand] = np.where(shut[:, by_hand], asked, np.nan)
    known = np.where(np.isnan(forces), -np.inf, forces)
    most = known.max(axis=0)
    seconds = [flags.sum(axis=0) * run.sample_s for flags in (known > limit, shut & (pressure < least))]
    return DoorCourse(pressure, forces, np.where(np.isinf(most), np.nan, most), *seconds)


def starts_per_hour(run):
    """Starts an hour of each run: changes from standing to running [runs]."""
    started = ~run.running[:-1] & run.running[1:]
    return started.sum(axis=0) * 3600 / (len(run.time_s) * run.sample_s)


def energy_kwh(run, number=0):
    """Energy from the mains over a run [kWh]; efficiencies of fan, motor and drive as the site file states them."""
    power = run.air.along(run.air.power_w, run.time_s, run.speed_hz[:, number], number)[:, 0]
    return float(power.sum() * run.sample_s / 3.6e6)


def _leaf(door):
    """+1 where it opens against the pressure, else -1; width, height, closer, handle, force limit."""
    sign = 1.0 if door.opens == "against pressure" else -1.0
    return sign, door.width_m, door.height_m, door.closer_force_n, door.handle_to_edge_m, door.force_limit_n


def _set_point(run, number):
    return np.broadcast_to(run.set_point_pa, run.reading_pa.shape[1])[number]


def _ajar(run, number):
    """Whether each storey's stair door is not shut [samples, storeys]."""
    scheduled = run.air.scheduled
    share = scheduled.conditions.stair_door_open.reshape(len(scheduled.times_s), scheduled.runs, -1)[:, min(number, scheduled.runs - 1)]
    before, part, _ = sweep.pieces(scheduled.times_s, run.time_s)
    return np.where(part[:, None] == 0, share[before] > 0, np.maximum(share[before], share[before + 1]) > 0)


def _settles_hz(run, at_s, numbers):
    """Speeds [runs] at which the combined reading meets the set point under the conditions of a moment, or the drive's end on its way."""
    speeds = np.linspace(*run.ends_hz, SPEEDS_SEARCHED)
    rule, weights = run.rule
    tried = np.broadcast_to(speeds[:, None], (len(speeds), len(numbers)))
    combined = combine(run.air.along(run.air.readings, np.full(speeds.shape, at_s), tried, numbers), rule, weights=weights)
    effect = np.where(combined[-1] >= combined[0], 1.0, -1.0)
    return at(speeds, meets((effect * combined).T, effect * _set_point(run, numbers)).place)


def _there(before, course, steady, share):
    """Where courses [samples, runs] have gone a share of the way from a value to a steady one."""
    change, same = steady - before, NO_CHANGE * np.maximum(np.abs(steady), np.abs(before))
    moves = np.abs(change) > same
    gone = (course - before) / np.where(moves, change, 1.0) >= share
    return (np.abs(course - steady) <= same) | (moves & gone)


def _stays(time, good):
    """First time from which something [samples, ...] stays good; NaN where it does not at the end."""
    first = np.where(good.all(axis=0), 0, len(good) - np.argmin(good[::-1], axis=0))
    return np.append(time, np.nan)[first]
