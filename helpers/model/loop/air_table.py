"""The air as the loop sees it: looked up, not solved, at every sample.

The air of a shaft stores almost nothing: pressure follows fan and doors within a fraction of a second (`storage_time_s` tells), so at
every moment it is what the air network says for that speed and those doors. The network is solved once for every moment of the schedule
at some speeds; in between, pressures run in a straight line of time and of the square of the speed, which they follow closely.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas.air import STANDARD_PRESSURE_PA
from helpers.model.fan_power import electric_power_w

__all__ = ["AirTable", "storage_time_s"]

SPEEDS = 20  # of the table; equal steps of the squared speed


@dataclass
class AirTable:
    """Air at every moment of a schedule and at some speeds.

    times_s [moments]; top_hz: highest speed; readings [moments, speeds, transmitters, runs], doors_pa [moments, speeds, storeys, runs]
    (pressure across each storey's
    stair door), flow_m3_s and power_w (from the mains) [moments, speeds, runs]. Speeds are equal steps of the squared speed, 0 to top.
    """

    times_s: np.ndarray
    top_hz: float
    readings: np.ndarray
    doors_pa: np.ndarray
    flow_m3_s: np.ndarray
    power_w: np.ndarray

    @classmethod
    def of(cls, tower, scheduled, transmitters=None, speeds=SPEEDS):
        """Solve the network for a schedule; the same conditions are solved once however often they come. Raises ValueError where the
        network finds no answer."""
        top = tower.site.fan.highest_speed_hz
        grid = top * np.sqrt(np.linspace(0.0, 1.0, speeds))
        unique, where = _unique(scheduled.conditions)
        rows = unique.rows(np.repeat(np.arange(len(unique)), speeds))
        found = tower.solve(rows, np.tile(grid, len(unique)))
        if not found.converged.all():
            raise ValueError(f"conditions must have an answer: {np.count_nonzero(~found.converged)} of {len(rows)} did not converge")

        def shaped(array):  # [moments, speeds, ..., runs]
            by_row = array.reshape(len(unique), speeds, *array.shape[1:])[where]
            return np.moveaxis(by_row.reshape(len(scheduled.times_s), scheduled.runs, *by_row.shape[1:]), 1, -1)

        power = electric_power_w(tower, found, rows)
        tables = (tower.readings(found, transmitters), found.door_dp_pa, found.fan_flow_m3_s, power)
        return cls(scheduled.times_s, top, *(shaped(table) for table in tables))

    def moments(self, times_s):
        """For samples at some times: the moment before, and how far on the way to the next."""
        before = np.clip(np.searchsorted(self.times_s, times_s, side="right") - 1, 0, len(self.times_s) - 2)
        span = self.times_s[before + 1] - self.times_s[before]
        return before, np.clip((times_s - self.times_s[before]) / span, 0.0, 1.0)

    def read(self, before, share, speed_hz):
        """Readings [transmitters, runs] at one sample; speed_hz [runs]."""
        at = self.readings[before]
        if share and not self._same[before]:
            at = at + share * (self.readings[before + 1] - at)
        return _by_square(at, speed_hz, self.top_hz)

    def __post_init__(self):
        self._same = [bool(np.array_equal(a, b)) for a, b in zip(self.readings[:-1], self.readings[1:], strict=True)]

    def course(self, table, times_s, speed_hz):
        """A quantity over a whole run: table [moments, speeds, places, runs of one], speed_hz [samples] -> [samples, places]."""
        before, share = self.moments(times_s)
        place = np.clip((speed_hz / self.top_hz) ** 2, 0.0, 1.0) * (table.shape[1] - 1)
        low = np.minimum(place.astype(int), table.shape[1] - 2)
        part, on = (place - low)[:, None], share[:, None]

        def at(moment):
            return (1 - part) * table[moment, low] + part * table[moment, low + 1]

        return (1 - on) * at(before) + on * at(before + 1)


def _by_square(table, speed_hz, top_hz):
    """Table [speeds, places, runs] looked up at speeds [runs]."""
    ratio = speed_hz / top_hz
    place = ratio * ratio * (len(table) - 1)
    low = np.minimum(place.astype(np.intp), len(table) - 2)
    part = place - low
    runs = np.arange(len(low)) if table.shape[-1] > 1 else 0
    below = table[low, :, runs].T
    return below + part * (table[low + 1, :, runs].T - below)


def _unique(conditions):
    """Conditions without repetition, and for every row the place of its like."""
    matrix = np.column_stack([value.reshape(len(conditions), -1) for value in vars(conditions).values()])
    _, first, where = np.unique(matrix, axis=0, return_index=True, return_inverse=True)
    return conditions.rows(first), where.ravel()


def storage_time_s(tower, flow_slope_m3_s_pa):
    """Time constant with which the shaft's own air would fill, [s]: what looking up leaves out.

    flow_slope_m3_s_pa: how much more air the leaks take for one pascal more [m3/(s Pa)]. Equation: V / (p dQ/dp) from isothermal storage.
    Source: text-book gas law. Limits: stiff walls; doors and seals that give way store a little more.
    """
    site = tower.site
    volume = site.stair.plan_area_m2 * sum(storey.height_m for storey in site.storeys)
    return volume / STANDARD_PRESSURE_PA / flow_slope_m3_s_pa
