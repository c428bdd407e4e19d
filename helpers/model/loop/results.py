"""What a run was like for people and plant: recovery after a door, force at the handle, time out of the window, starts, energy."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import doors as door_formulas
from helpers.formulas import require

__all__ = ["DoorCourse", "Recovery", "door_course", "energy_kwh", "recovery", "starts_per_hour", "step_figures"]


@dataclass(frozen=True)
class Recovery:
    """Recovery after an event: seconds until 90 % of the change of flow is there and stays (NaN: not within the time looked at), the same
    for the combined reading's return, and the largest deviation of the reading on the way [Pa]."""

    flow_s: float
    reading_s: float
    deviation_pa: float


@dataclass(frozen=True)
class DoorCourse:
    """Stair doors over a run: pressure [samples, storeys], force at the handle [N] (NaN where no force is asked), the most of each
    storey, seconds above its limit, seconds below its least pressure."""

    pressure_pa: np.ndarray
    force_n: np.ndarray
    peak_force_n: np.ndarray
    above_limit_s: np.ndarray
    below_least_s: np.ndarray


def recovery(run, at_s, within_s=30.0, share=0.9, number=0):
    """Recovery of a run after a door event at `at_s`.

    EN 12101-6:2005 asks for 90 % of the new flow within 3 s (memory). Flow: from the instant before the event to the mean of the last
    tenth of the time looked at. Returns `Recovery`. Raises ValueError for an event that is not in the run.
    """
    require.between(float(run.time_s[0]), float(run.time_s[-1]), at_s=at_s)
    chosen = (run.time_s >= at_s) & (run.time_s <= at_s + float(require.positive(within_s=within_s)))
    time = run.time_s[chosen] - at_s
    flow = run.air.course(run.air.flow_m3_s[:, :, None, min(number, run.air.flow_m3_s.shape[-1] - 1)], run.time_s, run.speed_hz[:, number])[
        :, 0
    ]
    reading = run.reading_pa[:, number]
    before = np.flatnonzero(run.time_s <= at_s)[-1]
    error = np.abs(reading[chosen] - run.set_point_pa)
    worst = error.max()
    return Recovery(
        _stays(time, _towards(flow[before], flow[chosen]) >= share),
        _stays(time, error <= (1 - share) * worst) if worst > 0 else 0.0,
        float(worst),
    )


def door_course(run, tower, number=0):
    """Pressures and forces of the stair doors over a run. Returns `DoorCourse`.

    A door that opens with the pressure has the pressure on its side; its force is what closer and pressure leave.
    """
    site, table = tower.site, run.air.doors_pa
    pressure = run.air.course(table[..., min(number, table.shape[-1] - 1)], run.time_s, run.speed_hz[:, number])
    step = run.time_s[1] - run.time_s[0]
    forces = np.full(pressure.shape, np.nan)
    limit, least = np.full(pressure.shape[1], np.inf), np.full(pressure.shape[1], -np.inf)
    for i, storey in enumerate(site.storeys):
        door = site.doors.get(storey.stair_door) if storey.stair_door else None
        if door is None:
            continue
        least[i] = -np.inf if door.minimum_dp_pa is None else door.minimum_dp_pa
        if door.worked_by_hand:
            sign, limit[i] = (1.0 if door.opens == "against pressure" else -1.0), door.force_limit_n
            forces[:, i] = door_formulas.opening_force(
                sign * pressure[:, i], door.width_m, door.height_m, door.closer_force_n, door.handle_to_edge_m
            )
    known = np.where(np.isnan(forces), -np.inf, forces)
    return DoorCourse(pressure, forces, known.max(axis=0), (known > limit).sum(axis=0) * step, (pressure < least).sum(axis=0) * step)


def step_figures(run, from_s, to_s, band=0.05, number=0):
    """Overshoot [% of the change] and settling time [s] of the combined reading between two times, to the set point.

    Settled: within `band` of the change for the rest of the time. Returns (overshoot, settling); settling NaN where it does not settle.
    """
    chosen = (run.time_s >= from_s) & (run.time_s <= to_s)
    reading, time = run.reading_pa[chosen, number], run.time_s[chosen] - from_s
    change = run.set_point_pa - reading[0]
    if change == 0:
        return 0.0, 0.0
    reached = (reading - reading[0]) / change
    return max(0.0, float(reached.max() - 1) * 100), _stays(time, np.abs(reached - 1) <= band)


def starts_per_hour(run):
    """Starts an hour of each run: changes from standing to running [runs]."""
    started = ~run.running[:-1] & run.running[1:]
    return started.sum(axis=0) * 3600 / (run.time_s[-1] + run.time_s[1] - run.time_s[0])


def energy_kwh(run, number=0):
    """Energy from the mains over a run [kWh]; efficiencies of fan, motor and drive as the site file states them."""
    table = run.air.power_w[:, :, None, min(number, run.air.power_w.shape[-1] - 1)]
    power = run.air.course(table, run.time_s, run.speed_hz[:, number])[:, 0]
    return float(power.sum() * (run.time_s[1] - run.time_s[0]) / 3.6e6)


def _towards(before, course):
    """Share of the way from a value to where a course ends (mean of its last tenth); one where it ends where it was."""
    end = course[-max(len(course) // 10, 1) :].mean()
    change = end - before
    return np.ones_like(course) if abs(change) < 1e-9 * max(abs(end), 1e-9) else (course - before) / change


def _stays(time, good):
    """First time from which something stays good; NaN where it does not at the end."""
    bad = np.flatnonzero(~good)
    if bad.size == 0:
        return float(time[0])
    return float("nan") if bad[-1] == len(good) - 1 else float(time[bad[-1] + 1])
