"""Low-demand stop: when a fan that has almost nothing to do may stand still, when it starts again, and how many starts a motor bears.

Never in smoke control: a fan that keeps a stair free of smoke does not stop for low demand, whatever the figures here say.
"""

from typing import NamedTuple

import numpy as np

from helpers import require

VERDICTS = ("right", "never stops", "cycles", "no threshold is right")
RIGHT, NEVER_STOPS, CYCLES, NO_WINDOW = range(4)

WATTS_PER_HORSEPOWER = 745.69987  # 550 ft lbf/s, NIST SP 811 App. B
KG_M2_PER_LB_FT2 = 0.45359237 * 0.3048**2  # definitions of pound and foot

# Four poles, started across the line: (hp, starts an hour A, starts an hour x load inertia B [lb ft2], rest C [s] between starts).
# NEMA MG 10-2001 table 2-3, seen in public text.
NEMA_MG10_STARTS = ((5, 16.3, 27, 42), (10, 12.5, 51, 46), (25, 8.8, 122, 58), (50, 6.8, 232, 72), (100, 5.2, 441, 110))


class LowDemandRule(NamedTuple):
    """Stop when the speed has been below stop_below_hz for stop_after_s; start again when the controller's error has been above
    restart_error (in the reading's unit) for restart_after_s."""

    stop_below_hz: float
    stop_after_s: float
    restart_error: float
    restart_after_s: float


class Starts(NamedTuple):
    """Starts an hour a motor bears, and the rest it needs between a stop and the next start [s]."""

    per_hour: float | np.ndarray
    rest_s: float | np.ndarray


def threshold_window(shutoff_speed_hz, lowest_duty_speed_hz, margin_hz=0.0):
    """Window for the speed below which a fan may stop.

    shutoff_speed_hz at which the fan only just reaches the set point with no flow, lowest_duty_speed_hz the lowest steady speed of a duty
    that must not be cut off, margin_hz zero or more [Hz]; broadcast. Returns (low, high) [Hz]; where low is not below high no threshold is
    right. Equation: shut-off speed + margin, lowest duty speed - margin. Raises ValueError below zero. Source: fan similarity; the rest
    common practice, no source. Limits: both speeds move with weather: take the highest shut-off speed and the lowest duty of the year.

    >>> low, high = threshold_window(18.0, 26.0, 1.0)
    >>> print(f"{low:.0f} to {high:.0f} Hz")
    19 to 25 Hz
    """
    margin = require.at_least(0, margin_hz=margin_hz)
    low = require.at_least(0, shutoff_speed_hz=shutoff_speed_hz) + margin
    high = require.at_least(0, lowest_duty_speed_hz=lowest_duty_speed_hz) - margin
    low, high = np.broadcast_arrays(low, high)
    return low[()], high[()]


def verdict(threshold_hz, shutoff_speed_hz, lowest_duty_speed_hz, margin_hz=0.0):
    """What a stop threshold does.

    threshold_hz [Hz] zero or more; the rest as threshold_window; broadcast. Returns small whole numbers, places in VERDICTS: RIGHT inside
    the window; NEVER_STOPS at or below its low end, where the loop holds the fan above the threshold though no air is asked for; CYCLES at
    or above its high end, where it stops during a duty, loses the pressure and starts again; NO_WINDOW where the window is empty.
    Raises, source and limits as threshold_window.

    >>> [VERDICTS[code] for code in verdict([15.0, 20.0, 30.0], 18.0, 26.0)]
    ['never stops', 'right', 'cycles']
    """
    at = require.at_least(0, threshold_hz=threshold_hz)
    low, high = threshold_window(shutoff_speed_hz, lowest_duty_speed_hz, margin_hz)
    return np.select([low >= high, at <= low, at >= high], [NO_WINDOW, NEVER_STOPS, CYCLES], RIGHT)[()]


def cycles_per_hour(store_m3, demand_m3_s, source_m3_s):
    """Starts an hour of a source that fills a store and stands while it empties.

    store_m3 between start and stop [m3], source_m3_s [m3/s], demand_m3_s [m3/s] from nothing to the source's; broadcast. Returns [1/h].
    Equation: 3600 q_out (q_in - q_out) / (V q_in); most, 3600 q_in / (4 V), at half demand. Raises ValueError for a store or source that is
    not above zero or a demand outside 0 to the source's. Source: wet-well cycling, EI 11C201, 1997 (by a reviewer in 2026). Limits: steady
    demand; no timers: with them the fan cycles no faster than fastest_cycles_per_hour says.

    >>> print(f"{cycles_per_hour(1.0, 0.005, 0.01):.0f} an hour")
    9 an hour
    """
    q, most = require.at_least(0, demand_m3_s=demand_m3_s), require.positive(source_m3_s=source_m3_s)
    if np.any(q > most):
        raise ValueError(f"demand_m3_s must be no more than source_m3_s, got {demand_m3_s!r:.60} and {source_m3_s!r:.60}")
    return 3600 * q / require.positive(store_m3=store_m3) * (1 - q / most)


def most_cycles_per_hour(store_m3, source_m3_s):
    """Most starts an hour over all demands: 3600 Q / (4 V), reached at half demand.

    Arguments, errors, source and limits as cycles_per_hour. Returns [1/h].

    >>> print(f"{most_cycles_per_hour(1.0, 0.01):.0f} an hour")
    9 an hour
    """
    return 900 * require.positive(source_m3_s=source_m3_s) / require.positive(store_m3=store_m3)


def fastest_cycles_per_hour(stop_after_s, restart_after_s, run_up_s=0.0):
    """Most starts an hour that the timers let through.

    stop_after_s, restart_after_s, run_up_s [s], zero or more, not all zero; broadcast. run_up_s is from the start to being back below the
    stop speed, of a fan that runs past it on the way; zero for one that does not. Returns [1/h]. Equation: 3600 / (sum of the three).
    Raises ValueError for times below zero or all zero. Source: arithmetic. Limits: never too few, as the seconds in which the pressure
    falls after a stop are left out; a run_up_s that is too long makes them too few.

    >>> print(f"{fastest_cycles_per_hour(10.0, 5.0, 3.0):.0f} an hour")
    200 an hour
    """
    times = require.at_least(0, stop_after_s=stop_after_s) + require.at_least(0, restart_after_s=restart_after_s)
    total = times + require.at_least(0, run_up_s=run_up_s)
    if np.any(total < require.LEAST):
        raise ValueError("stop_after_s, restart_after_s and run_up_s must not all be zero: the fan would start without end")
    return 3600 / total


def starts_allowed(power_w, load_inertia_kg_m2=0.0):
    """Starts an hour that a four-pole motor bears when started across the line, and the rest between them.

    power_w rated [W] from 5 to 100 hp, load_inertia_kg_m2 [kg m2] at the motor's shaft, zero or more; broadcast. Returns Starts.
    Equation: the lesser of A and B / inertia; rest C; A, B, C between the table's motors straight in logarithms. Raises ValueError outside
    the table. Source: NEMA MG 10-2001 table 2-3 (seen). Limits: loads whose torque rises with the square of speed, as fans do, at rated
    voltage; a ramped drive is gentler, so for a driven fan this is a figure to stay under, not a rating: the maker's word counts.

    >>> per_hour, rest_s = starts_allowed(10 * WATTS_PER_HORSEPOWER, 0.5)
    >>> print(f"{per_hour:.1f} an hour, {rest_s:.0f} s of rest")
    4.3 an hour, 46 s of rest
    """
    table = np.array(NEMA_MG10_STARTS, float).T
    rated_w = table[0] * WATTS_PER_HORSEPOWER
    power = require.between(rated_w[0], rated_w[-1], power_w=power_w)
    a, b, c = (np.exp(np.interp(np.log(power), np.log(rated_w), np.log(column))) for column in table[1:])
    inertia = require.at_least(0, load_inertia_kg_m2=load_inertia_kg_m2) / KG_M2_PER_LB_FT2
    allowed = np.minimum(a, b / np.maximum(inertia, 1e-9))
    return Starts(allowed[()], np.broadcast_to(c, allowed.shape)[()])
