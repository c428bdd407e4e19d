"""Between solved points: the monotone cubic, which bends as the points do and never swings beyond them.

Source: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304 (memory). Along the first axis; where two neighbouring points are
alike it is level between them.
"""

import numpy as np

__all__ = ["at", "finer", "pieces", "slopes"]


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


def at(part, width, start, end, slope_start, slope_end):
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


def finer(y, times):
    """Points [n, ...] at equal steps, with `times` - 1 more put between each two."""
    n = np.arange(len(y), dtype=float)
    rise = slopes(n, y)
    place = np.arange((len(y) - 1) * times + 1) / times
    low = np.minimum(place.astype(int), len(y) - 2)
    part = (place - low).reshape(-1, *[1] * (y.ndim - 1))
    return at(part, 1.0, y[low], y[low + 1], rise[low], rise[low + 1])
