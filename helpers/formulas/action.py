"""Which way the loop acts: reverse or direct, the sign of the error, gain and proportional band, what a span does to a gain; and how fast
an error dies away, or grows in a loop that acts the wrong way.

Reverse acting: the output falls when the reading rises (a supply fan that raises a pressure). Direct acting: the output rises when the
reading rises (a relief fan that lowers a pressure, an exhaust fan that lowers a gas reading).
Gains are in per cent of the output's span per per cent of the reading's span. An error's course: a fan answers a new speed within seconds,
and the integral part of a controller takes its time, so to a first view the process answers at once.
"""

import numpy as np

from helpers import require

ACTIONS = ("reverse", "direct")
_SIGN = {"reverse": -1, "direct": 1}  # way of the output when the reading rises

HOLDS, RUNS_AWAY = -1, 1  # what loop_sign says
END_STOPS = ("lowest speed", "held", "full speed")


def error(set_point, reading, action):
    """Error as the controller sees it: above zero it asks for more output.

    set_point, reading one unit; broadcast. action: one of ACTIONS. Returns that unit. Equation: reverse set point - reading, direct
    reading - set point. Raises ValueError for another action or anything not finite. Source: ISA usage (memory). Limits: none, a
    definition.

    >>> print(f"{error(50.0, 45.0, 'reverse'):.0f} Pa, {error(50.0, 45.0, 'direct'):.0f} Pa")
    5 Pa, -5 Pa
    """
    return _sign(action) * (require.finite(reading=reading) - require.finite(set_point=set_point))


def action_for(fan_effect):
    """Action that makes a loop hold.

    fan_effect +1 when more speed raises the reading, -1 when it lowers it. Returns "reverse" or "direct". Equation: the action of which
    loop_sign is -1. Raises ValueError for anything else. Source: common practice, no source. Limits: the fan's effect must have one sign
    over the whole range of speed and of doors.

    >>> action_for(+1), action_for(-1)
    ('reverse', 'direct')
    """
    effect = _effect(fan_effect)
    if effect.ndim:
        raise ValueError(f"fan_effect must be one number, got an array of shape {effect.shape}")
    return "reverse" if effect > 0 else "direct"


def loop_sign(action, fan_effect):
    """Sign once round the loop: HOLDS (-1, negative feedback) or RUNS_AWAY (+1).

    action: one of ACTIONS. fan_effect +1 or -1, any shape. Returns that shape. Equation: sign of the action (reverse -1, direct +1) times
    the fan's effect. Raises ValueError for another action or effect. Source: text-book (memory).
    Limits: -1 is needed for a loop to hold but not enough; too much gain makes it swing.

    >>> print(loop_sign("reverse", +1), loop_sign("direct", +1))
    -1 1
    """
    return (_sign(action) * _effect(fan_effect)).astype(int)[()]


def end_stop(action, fan_effect, error):
    """End to which a loop of the wrong action runs.

    action: one of ACTIONS. fan_effect +1 or -1, error as the controller sees it (of this file's error); broadcast. Returns text, one of
    END_STOPS: "full speed" with an error above zero, "lowest speed" below; "held" when the action is right, or at no error at all, where a
    wrong loop stays until the first disturbance. Raises ValueError for another action or effect. Source: text-book (memory).
    Limits: where the first error decides; a disturbance larger than the fan's reach could throw the loop to the other end.

    >>> print(end_stop("direct", +1, error(50.0, 45.0, "direct")))
    lowest speed
    """
    way = np.sign(require.finite(error=error)) * (loop_sign(action, fan_effect) == RUNS_AWAY)
    return np.array(END_STOPS)[way.astype(int) + 1]


def proportional_band(gain):
    """Proportional band of a gain: the error, in per cent of the span, that moves the output over its whole span.

    gain [%/%], any shape. Returns [%]. Equation: 100 / gain. Raises ValueError for a gain that is not above zero.
    Source: ISA usage (memory). Limits: none, a definition.

    >>> print(f"{proportional_band(2.0):.0f} %")
    50 %
    """
    return 100 / require.positive(gain=gain)


def gain_from_band(band_percent):
    """Gain of a proportional band.

    band_percent [%], any shape. Returns [%/%]. Equation: 100 / band. Raises ValueError for a band that is not above zero.
    Source: ISA usage (memory). Limits: none, a definition.
    """
    return 100 / require.positive(band_percent=band_percent)


def gain_for_new_span(gain, old_span, new_span):
    """Gain to enter when the reading's span changes, so that the loop stays as it is.

    gain [%/%], old_span, new_span one unit; broadcast. Returns [%/%]. Equation: gain x new span / old span. The gain left as it was makes
    the loop old span / new span times as strong. Raises ValueError for a gain below zero or a span that is not above zero.
    Source: arithmetic of per cent of span; common practice, no source. Limits: integral and derivative time do not change.

    >>> print(f"{gain_for_new_span(2.0, 100.0, 250.0):.0f}")
    5
    """
    ratio = require.positive(new_span=new_span) / require.positive(old_span=old_span)
    return require.at_least(0, gain=gain) * ratio


def _sign(action):
    return _SIGN[require.one_of(ACTIONS, action=action)]


def _effect(fan_effect):
    effect = require.finite(fan_effect=fan_effect)
    if not np.all(np.abs(effect) == 1):
        raise ValueError(f"fan_effect must be +1 (more speed raises the reading) or -1 (lowers it), got {fan_effect!r:.80}")
    return effect


def error_rate_per_s(loop_sign, process_gain, gain, integral_s):
    """Rate at which an error grows (above zero) or dies away (below zero) under a PI controller.

    loop_sign of `action.loop_sign` (-1 holds, +1 runs away), process_gain (the size, reading over output) [%/%], gain [%/%], integral_s
    [s], all above zero; broadcast. Returns [1/s]: the error goes as exp(rate t). Equation: L K K_c / (T_i (1 - L K K_c)).
    Raises ValueError for another loop_sign, a gain or time that is not above zero, and a loop of the wrong action with K K_c of one or
    more. Source: text-book, the pole of the closed loop (memory). Limits: small errors, a process that answers at once. Lags and ramp make
    it slower: at Larkfield House an error takes one and a half to two and a third times as long to double. With the wrong action and K K_c
    of one or more nothing but lags and ramp holds the loop back: it goes off at once.

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
