"""Bare kernels that check nothing: the law of one leak, smooth through zero, and the root of anything that changes sides once.

They are called some thousand times a second on arrays that were checked when they were made; every argument broadcasts.

    q / K = dp (dp^2 + e^2)^((n - 1) / 2)          e = SMOOTHING_PA

A crack's flow grows with the power n of the pressure, 0.5 (turbulent, a door gap) to 1 (laminar, fine pores). The pure power has an
infinite slope at zero where no solver can stand; below a hundredth of a pascal a real crack is laminar anyway, and there this law goes
over into a straight line. At 0.3 Pa it is off the pure power by less than 3 parts in 10,000, at 10 Pa by less than one in a million.
`exponent` is one number. Source of the power law: ASHRAE Handbook, Fundamentals 2021, ch. 16 (memory).

Halving and closing in find a root element by element, to the last digits of a double.
"""

import numpy as np

SMOOTHING_PA = 0.01  # common practice, no source: far below what any pressure gauge on site can tell from zero


def flow_and_slope(dp_pa, exponent):
    """Flow per unit of coefficient [Pa^n] and its derivative by the pressure difference [Pa^(n-1)]."""
    square = dp_pa * dp_pa
    square += SMOOTHING_PA**2
    denominator = _denominator(square, exponent)
    slope = (1.0 - exponent) * SMOOTHING_PA**2 / square
    slope += exponent
    slope /= denominator
    return dp_pa / denominator, slope


def drop(flow_per_k, exponent):
    """Pressure difference [Pa] that drives a flow per unit of coefficient [Pa^n]: the inverse of `flow`, exact for n = 0.5 and n = 1.

    For other exponents the smoothing is left out, so that the answer is close above some 0.05 Pa and too small below.
    """
    if exponent == 1.0:
        return flow_per_k
    if exponent == 0.5:
        square = flow_per_k * flow_per_k
        return np.copysign(np.sqrt(0.5 * square * (square + np.sqrt(square * square + 4 * SMOOTHING_PA**2))), flow_per_k)
    return np.copysign(np.abs(flow_per_k) ** (1.0 / exponent), flow_per_k)


def tangent_of_flow(flow_per_k, exponent):
    """Slope [Pa^(n-1)] and intercept [Pa^n] of the straight line q = intercept + slope dp that touches the law where it carries this flow.

    For n = 0.5 from the inverse of the smooth law itself, with y the flow, s = sqrt(y^4 + 4 e^2), w = s + y^2:
    dp = y sqrt(w / 2), slope = s / (w sqrt(w / 2)), intercept = y^3 / w. For other n from dp = |q|^(1/n): slope = n |q|^(1 - 1/n) and
    intercept = (1 - n) q, the slope held finite below the smoothing.
    """
    if exponent == 0.5:
        square = flow_per_k * flow_per_k
        s = np.sqrt(square * square + 4 * SMOOTHING_PA**2)
        w = s + square
        s /= w
        s /= np.sqrt(0.5 * w)
        square *= flow_per_k
        square /= w
        return s, square
    # By logarithm: less than half the time of a power in single precision, which is how this is called.
    size = np.log(np.maximum(np.abs(flow_per_k), (2 * SMOOTHING_PA) ** exponent))
    return exponent * np.exp((1.0 - 1.0 / exponent) * size), (1.0 - exponent) * flow_per_k


def _denominator(square, exponent):
    if exponent == 0.5:
        return np.sqrt(np.sqrt(square))
    return square ** ((1.0 - exponent) / 2.0)


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
