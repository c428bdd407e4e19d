"""Halving: the root of anything that changes sides once, element by element, to the last digits of a double."""

import numpy as np

HALVINGS = 60  # more than the 53 that a double can need


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
