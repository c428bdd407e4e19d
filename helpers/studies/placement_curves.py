"""Each condition's air over the fan's whole range of speeds, solved once: what every choice of transmitters is looked up in afterwards.

Between solved speeds everything runs in straight lines. A looked-up door pressure depends only on how straight it runs beside the
reading that is looked up, not on how both bend with speed; so the speeds lie closest where pressures bend against each other (a relief
damper begins to lift, a leak's flow turns round): beginning with a few, an interval is halved as long as the slopes beside it say that a
straight line through it may be off by more than a stated pressure.
"""

from dataclasses import dataclass

import numpy as np

from helpers.model.fan_power import electric_power_w

__all__ = ["Curves", "solve_curves"]

FIRST_SPEEDS = 7  # equal steps of the squared speed, from the lowest to the highest
MOST_PASSES = 5  # halvings of an interval at the most
STRAIGHT_WITHIN_PA = 0.2  # what the slopes beside an interval may say of its straight line; in truth it is off by a quarter to all of it
WIDEST_PA = 20.0  # of an interval in which a reading meets the set point: the slopes beside a wider one may miss what bends within it
LEAST_SLOPE = 0.05  # a reading that hardly answers to the fan is looked up as if it answered a little


@dataclass
class Curves:
    """Air of some conditions at rising speeds [conditions, speeds]; a condition with fewer speeds has its last one several times.

    square_hz2: squared speed; doors_pa [.., doors]; readings_pa [.., transmitters] as ideal transmitters read; power_w from the mains.
    solved [conditions]: whether the network found an answer at every speed asked.
    """

    square_hz2: np.ndarray
    doors_pa: np.ndarray
    readings_pa: np.ndarray
    power_w: np.ndarray
    solved: np.ndarray

    def rows(self, chosen):
        return Curves(*[value[chosen] for value in vars(self).values()])


def solve_curves(tower, conditions, transmitters, doors, looked_up_pa):
    """Solve conditions over speed.

    transmitters: those to be read; doors: `DoorColumns`; looked_up_pa: the least and the most that ideal readings may be when the loop
    holds. Returns `Curves`.
    """
    fan, count = tower.site.fan, len(conditions)
    ask = _Ask(tower, conditions, transmitters, doors)
    limits = fan.lowest_speed_hz**2, fan.highest_speed_hz**2
    curves = ask.at(np.tile(np.linspace(*limits, FIRST_SPEEDS), count), np.repeat(np.arange(count), FIRST_SPEEDS))
    curves = Curves(*[value.reshape(count, FIRST_SPEEDS, *value.shape[1:]) for value in curves])
    for _ in range(MOST_PASSES):
        row, place = np.nonzero(_crooked(tower, curves, looked_up_pa))
        if not row.size:
            break
        square = curves.square_hz2
        curves = _joined(curves, row, ask.at(0.5 * (square[row, place] + square[row, place + 1]), row))
    curves.solved = curves.solved.all(axis=1)
    return curves


class _Ask:
    """Solves one speed for each of some rows of the conditions."""

    def __init__(self, tower, conditions, transmitters, doors):
        self.tower, self.conditions, self.transmitters, self.doors = tower, conditions, transmitters, doors

    def at(self, square_hz2, row):
        rows = self.conditions.rows(row)
        air = self.tower.solve(rows, np.sqrt(square_hz2))
        power = electric_power_w(self.tower, air, rows)
        return square_hz2, self.doors.across(air), self.tower.readings(air, self.transmitters), power, air.converged


def _crooked(tower, curves, looked_up_pa):
    """Intervals [conditions, speeds - 1] that some choice may fall into and in which a straight line may be too far off.

    Slopes and widths are by the mean reading. Doors are off by what their own slopes say, and by what those of a reading that is looked up
    there say, times how much steeper the doors run than it.
    """
    readings, (least, most) = tower.effect * curves.readings_pa, sorted(tower.effect * limit for limit in looked_up_pa)
    width = np.diff(readings.mean(axis=2), axis=1)
    wide = width > 1e-6  # not the repeated last speed, nor speeds at which the fan does nothing
    doors, doors_off = _slopes(curves.doors_pa, width, wide)
    read, read_off = _slopes(readings, width, wide)
    met_here = (readings[:, :-1] <= most) & (readings[:, 1:] >= least)
    looked_up = np.where(met_here, read_off / np.maximum(read, LEAST_SLOPE), 0.0).max(axis=2)
    off = doors_off.max(axis=2) + looked_up * np.abs(doors).max(axis=2)
    too_wide = (width > WIDEST_PA) & met_here.any(axis=2)
    return wide & (too_wide | (off > STRAIGHT_WITHIN_PA)) & _within_reach(readings, least, most)


def _slopes(values, width, wide):
    """Slopes of values [conditions, speeds, ..] over intervals of some width, and how far off a straight line may be by the neighbours'."""
    slope = np.diff(values, axis=1) / np.where(wide, width, np.inf)[:, :, None]
    before = np.concatenate([slope[:, :1], slope[:, :-1]], axis=1)
    after = np.concatenate([slope[:, 1:], slope[:, -1:]], axis=1)
    after = np.where(np.concatenate([wide[:, 1:], wide[:, -1:]], axis=1)[:, :, None], after, slope)
    return slope, np.abs(after - before) * width[:, :, None] / 4


def _within_reach(readings, least, most):
    """Intervals from the one in which some transmitter may first meet the set point to that in which the last one may, with neighbours."""
    some = (readings.max(axis=2) >= least)[:, 1:]  # by the interval's end
    every = (readings.min(axis=2) >= most)[:, :-1]  # before the interval
    some = some | np.concatenate([some[:, 1:], some[:, -1:]], axis=1)
    return some & ~np.concatenate([every[:, :1], every[:, :-1]], axis=1)


def _joined(curves, row, found):
    """Curves with one more speed for each of the rows (a row may come several times), in rising order."""
    count = len(curves.square_hz2)
    more = np.bincount(row, minlength=count)
    column = np.arange(row.size) - np.repeat(np.cumsum(more) - more, more)
    joined = []
    for old, new in zip(vars(curves).values(), found, strict=True):
        extra = np.repeat(old[:, -1:], more.max(), axis=1)
        extra[row, column] = new
        joined.append(np.concatenate([old, extra], axis=1))
    order = joined[0].argsort(axis=1, kind="stable")
    return Curves(*[np.take_along_axis(value, order.reshape(order.shape + (1,) * (value.ndim - 2)), axis=1) for value in joined])
