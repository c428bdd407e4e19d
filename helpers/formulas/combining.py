"""One reading from several: average, lowest, highest, middle, weighted; bad readings are left out, never averaged in.

A reading is bad where `good` says so, and where it is NaN or infinite. Where no reading is left the result is NaN: this file does not
choose a fallback, whoever runs the fan must (hold the last reading, go to a preset speed, alarm), and must ask for it with isnan.
"""

import numpy as np

from helpers import require

RULES = ("average", "lowest", "highest", "middle", "weighted")


def combine(readings, rule, good=None, weights=None, axis=-1):
    """Combine the readings along an axis into the one that runs the loop.

    readings, several along `axis`, any one unit; a bad one may be NaN. rule: one of RULES. good: True or False for each reading, in the
    shape of readings or (n,), one for each transmitter; None: all. weights (n,) zero or more, for "weighted"; the other rules do not look
    at them. Returns the readings' shape without `axis`, in their unit; NaN where no good reading is left (for "weighted": none with a
    weight above zero). Equation: average sum(x)/k, weighted sum(w x)/sum(w), over the k good ones; middle the median: of an odd number
    the one in the middle, of an even number the average of the two in the middle, so of two the average, and one alone stands.
    Raises ValueError for another rule, weights missing or below zero or not one for each transmitter. Source: common practice, no source.
    Limits: a reading that is wrong but in range counts as good; only "middle" of three or more shrugs it off.

    >>> print(f"{combine([0.5, 1.0], 'average'):.2f}, with a dead one {combine([0.5, 1.0], 'average', good=[True, False]):.2f}")
    0.75, with a dead one 0.50
    """
    values, usable = _usable(readings, good, axis)
    if require.one_of(RULES, rule=rule) == "lowest":
        result = np.where(usable, values, np.inf).min(0)
    elif rule == "highest":
        result = np.where(usable, values, -np.inf).max(0)
    elif rule == "middle":
        rising = np.sort(np.where(usable, values, np.inf), axis=0)
        result = np.take_along_axis(rising, _middle_places(usable), 0).mean(0)
    else:
        share = _shares(rule, usable, weights)
        total = share.sum(0)
        result = (share * np.where(share > 0, values, 0.0)).sum(0) / np.where(total > 0, total, np.nan)
    return np.where(np.isfinite(result), result, np.nan)[()]


def _usable(readings, good, axis):
    """Readings and whether each may be used, both with the transmitters along the first axis."""
    values = require.number(readings=readings)
    if np.any(np.isfinite(values) & (np.abs(values) > require.MOST)):
        raise ValueError(f"readings must be from {-require.MOST:g} to {require.MOST:g} or be marked bad, got a larger one")
    axis = require.whole(-values.ndim or -1, max(values.ndim - 1, 0), axis=axis)
    if values.ndim == 0:
        raise ValueError(f"readings must have an axis {axis} with one reading for each transmitter, got one number")
    values = np.moveaxis(values, axis, 0)
    usable = np.isfinite(values)
    return values, usable if good is None else usable & _flags(good, values, axis)


def _flags(good, values, axis):
    flags = require.flags(good=good)
    if flags.ndim == values.ndim:
        flags = np.moveaxis(flags, axis, 0)
    elif flags.ndim == 1:
        flags = flags.reshape(-1, *[1] * (values.ndim - 1))
    if flags.ndim != values.ndim or any(f not in (1, v) for f, v in zip(flags.shape, values.shape, strict=True)):
        shape = f"in the shape of readings or ({values.shape[0]},)"
        raise ValueError(f"good must be {shape}, got the shape {np.shape(good)}")
    return flags


def _shares(rule, usable, weights):
    """Weight of each reading before they are brought to a sum of one."""
    if rule == "average":
        return usable.astype(float)
    if weights is None:
        raise ValueError("weights must be given for the rule weighted, one for each transmitter, got None")
    given = require.at_least(0, weights=weights)
    if given.shape != usable.shape[:1]:
        raise ValueError(f"weights must be one for each transmitter, shape {usable.shape[:1]}, got shape {given.shape}")
    return usable * given.reshape(-1, *[1] * (usable.ndim - 1))


def _middle_places(usable):
    """Places of the two middle readings (the same one twice when their number is odd) among the good ones in rising order."""
    number = usable.sum(0)
    return np.stack([np.maximum(number - 1, 0) // 2, np.minimum(number // 2, usable.shape[0] - 1)])


def pressure_at_the_rest(set_point, wrong_reading, share):
    """What the good transmitters' average reads while one that is stuck weighs in the combined reading and the loop holds the set point.

    set_point, wrong_reading in one unit; share [-] of the wrong one in the combined reading, from 0 to below 1 (of an average of n:
    1/n); broadcast. Returns the unit of the set point. Equation: (set_point - share wrong_reading) / (1 - share). Raises ValueError for
    anything not finite or a share outside that. Source: derived in lesson 06; no outside source. Limits: the fan can reach it and the
    transmitters can read it; "average" and "weighted" only, since the other rules pick one reading.

    >>> print(f"{pressure_at_the_rest(40.0, 0.0, 0.5):.0f} Pa instead of 40, with one of two at zero")
    80 Pa instead of 40, with one of two at zero
    """
    part = require.between(0, 1, share=share)
    if np.any(part == 1):
        raise ValueError("share must be below 1, got 1: no good transmitter would be left")
    return (require.finite(set_point=set_point) - part * require.finite(wrong_reading=wrong_reading)) / (1 - part)
