"""The law of one leak, smooth through zero: the bare kernel that leakage formulas and the air network share.

    q / K = dp (dp^2 + e^2)^((n - 1) / 2)          e = SMOOTHING_PA

A crack's flow grows with the power n of the pressure, 0.5 (turbulent, a door gap) to 1 (laminar, fine pores). The pure power has an
infinite slope at zero where no solver can stand; below a hundredth of a pascal a real crack is laminar anyway, and there this law goes
over into a straight line. At 0.3 Pa it is off the pure power by less than 3 parts in 10,000, at 10 Pa by less than one in a million.

These functions check nothing: they are called some thousand times a second on arrays that were checked when they were made.
Shapes: every argument broadcasts; `exponent` is one number. Source of the power law: ASHRAE Handbook,
Fundamentals 2021, ch. 16 (memory).
"""

import numpy as np

SMOOTHING_PA = 0.01  # common practice, no source: far below what any pressure gauge on site can tell from zero

__all__ = ["SMOOTHING_PA", "drop", "flow", "flow_and_slope", "tangent_of_flow"]


def flow(dp_pa, exponent):
    """Flow per unit of the leak's coefficient, [Pa^n], for a pressure difference [Pa]."""
    return dp_pa / _denominator(dp_pa * dp_pa + SMOOTHING_PA**2, exponent)


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
