"""What a loop does that averages in a reading which is wrong and does not answer: the good transmitters must make up for it."""

import numpy as np

from helpers.formulas import require


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
