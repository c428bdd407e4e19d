"""Air over fan speed: solved once at some speeds in every condition, then looked up instead of solved again.

A place is a number between two solved speeds: 3.25 is a quarter of the way from the fourth to the fifth. All quantities run in straight
lines between places, and places in straight lines over the square of the speed, as pressures do (fan laws).

Accuracy against `operating_point.hold`, doors of the demo stairs in their named weathers: within 0.3 Pa with 49 speeds of equal steps of
the square, within 0.1 Pa with 121 (tests/model/test_sweep.py measures); most where a relief damper lifts. Limits: steady air.
"""

from typing import NamedTuple

import numpy as np

from helpers.model.air.operating_point import AT_FULL_SPEED, AT_LOWEST_SPEED, HELD

__all__ = ["Rest", "at", "finer", "meets", "over_speeds", "place_of", "speed_at", "squared_steps"]


class Rest(NamedTuple):
    """Where loops come to rest: place [..] among the solved speeds; state [..]: HELD, AT_LOWEST_SPEED or AT_FULL_SPEED."""

    place: np.ndarray
    state: np.ndarray


def squared_steps(low_hz, high_hz, count):
    """Speeds [count] in equal steps of their square: as pressures rise."""
    return np.sqrt(np.linspace(low_hz**2, high_hz**2, count))


def over_speeds(solve, quantities, conditions, speeds_hz, asked="conditions"):
    """Arrays [conditions, speeds, ...] of what quantities(air, rows) gives as a tuple, the air being solve(rows, speed of each row).

    asked: the argument that a refusal names. Raises ValueError where some air has no answer.
    """
    shape = len(conditions), len(speeds_hz)
    rows = conditions.rows(np.repeat(np.arange(shape[0]), shape[1]))
    air = solve(rows, np.tile(speeds_hz, shape[0]))
    if not air.converged.all():
        raise ValueError(f"{asked} must have an answer at every speed: {np.count_nonzero(~air.converged)} of {len(rows)} have none")
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
