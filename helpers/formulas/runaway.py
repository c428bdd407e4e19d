"""How fast an error dies away in a loop that acts the right way, or grows in one that acts the wrong way.

A fan answers a new speed within seconds, and the integral part of a controller takes its time: to a first view the process answers at once.
Gains are in per cent of the output's span per per cent of the reading's span.
"""

import numpy as np

from helpers.formulas import require


def error_rate_per_s(loop_sign, process_gain, gain, integral_s):
    """Rate at which an error grows (above zero) or dies away (below zero) under a PI controller.

    loop_sign of `action.loop_sign` (-1 holds, +1 runs away), process_gain (the size, reading over output) [%/%], gain [%/%], integral_s
    [s], all above zero; broadcast. Returns [1/s]: the error goes as exp(rate t). Equation: L k K / (Ti (1 - L k K)).
    Raises ValueError for another loop_sign, a gain or time that is not above zero, and a loop of the wrong action with k K of one or more.
    Source: text-book, the pole of the closed loop (memory). Limits: small errors, a process that answers at once. Lags and ramp make it
    slower: at Larkfield House an error takes one and a half to two and a third times as long to double. With the wrong action and k K of
    one or more nothing but lags and ramp holds the loop back: it goes off at once.

    >>> print(f"{error_rate_per_s(-1, 1.0, 0.5, 4.0):.3f}, {error_rate_per_s(+1, 1.0, 0.5, 4.0):.3f} per second")
    -0.083, 0.250 per second
    """
    sign = require.finite(loop_sign=loop_sign)
    if not np.all(np.abs(sign) == 1):
        raise ValueError(f"loop_sign must be -1 (the loop holds) or +1 (it runs away), got {loop_sign!r:.80}")
    once_round = sign * require.positive(process_gain=process_gain) * require.positive(gain=gain)
    if np.any(once_round >= 1):
        raise ValueError(f"gain times process_gain must be below 1 in a loop of the wrong action, got {np.max(once_round):.3g}")
    return once_round / (require.positive(integral_s=integral_s) * (1 - once_round))


def doubling_time_s(rate_per_s):
    """Time in which an error that grows at a rate doubles.

    rate_per_s [1/s] above zero, any shape. Returns [s]. Equation: ln 2 / rate. Raises ValueError for a rate that is not above zero.
    Source: text-book (memory). Limits: as error_rate_per_s.

    >>> print(f"{doubling_time_s(error_rate_per_s(+1, 1.0, 0.5, 4.0)):.1f} s")
    2.8 s
    """
    return np.log(2) / require.positive(rate_per_s=rate_per_s)
