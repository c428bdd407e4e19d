"""Halving and closing in: the root of anything that changes sides once, element by element, to the last digits of a double."""

import numpy as np

HALVINGS = 60  # more than the 53 that a double can need
_CHORDS = 4 * HALVINGS  # of which a fourth are halvings
_LAST_DIGITS = 4 * np.finfo(float).eps


def halve(too_low, low, high):
    """Point between low and high where too_low turns from True to False.

    too_low: function of an array that gives True or False for each element; low, high arrays of that shape. Returns that shape.
    Equation: the half that holds the change is kept, HALVINGS times, or until nothing is left to halve. Source: text-book (memory).
    Limits: one change between low and high; with none the answer is the end it leans to.

    >>> print(f"{halve(lambda x: x**2 < 2, np.array(0.0), np.array(2.0)):.6f}")
    1.414214
    """
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if np.all((middle == low) | (middle == high)):
            break
        below = too_low(middle)
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return ((low + high) / 2)[()]


def close_in(height, low, high):
    """Point between low and high where a smooth height rises through zero: as halving, with far fewer looks at it.

    height: function of an array, below zero at low and zero or above at high; low, high arrays of that shape. Returns that shape.
    Equation: the chord's zero, the end that stays twice running counted half (the Illinois rule), every fourth time the middle, until the
    ends are a few last digits apart. Source: text-book (memory). Limits: one change between low and high; with none, low.

    >>> print(f"{close_in(lambda x: x**2 - 2, np.array(0.0), np.array(2.0)):.6f}")
    1.414214
    """
    low, high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    below, above = height(low), height(high)
    high, stayed = np.where((below < 0) & (above >= 0), high, low), np.zeros(low.shape)
    for attempt in range(_CHORDS):
        least = _LAST_DIGITS * np.maximum(np.abs(low), np.abs(high))  # a step: so the far end comes near too
        apart = high - low > 2 * least
        if not apart.any():
            break
        chord = high - above * (high - low) / np.where(above > below, above - below, 1.0)
        point = (low + high) / 2 if attempt % 4 == 3 else np.minimum(np.maximum(chord, low + least), high - least)
        point = np.where(apart, point, low)
        at = height(point)
        left, right = apart & (at <= 0), apart & ~(at < 0)  # both: the point itself
        below, above = (
            np.where(left, at, np.where(right & (stayed < 0), 0.5, 1.0) * below),
            np.where(right, at, np.where(left & (stayed > 0), 0.5, 1.0) * above),
        )
        low, high, stayed = np.where(left, point, low), np.where(right, point, high), np.where(left, 1, -1)
    return ((low + high) / 2)[()]
