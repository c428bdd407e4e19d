"""Tuning rules: from gain, lag and delay of a process to the numbers of a controller.

`gain` is the size of the process gain, reading over output; the controller's gain comes out in output over reading. Per cent of span over
per cent of span on both sides, or units on both sides, but not mixed: see `action`. The sign belongs to the action.

The controller is of the standard form, K (e + integral(e)/Ti + Td de/dt). An integral time of zero means no integral action, a derivative
time of zero no derivative action.
"""

from typing import NamedTuple

import numpy as np

from helpers import require


class Settings(NamedTuple):
    """Numbers of a controller: gain (output over reading, in the units of the process gain) and times [s]."""

    gain: float | np.ndarray
    integral_s: float | np.ndarray
    derivative_s: float | np.ndarray = 0.0


def checked(settings):
    """Give Settings back with float arrays, or say what is wrong with them.

    settings: Settings. Returns Settings. Raises ValueError for a gain that is not above zero (the action takes the sign), a time below
    zero. Source: common practice, no source. Limits: says nothing of whether the loop holds; see frequency.margins.
    """
    gain = require.positive(gain=require.of_kind(Settings, settings=settings).gain)
    integral = require.none_or_positive(integral_s=settings.integral_s)
    derivative = require.at_least(0, derivative_s=settings.derivative_s)
    return Settings(gain, integral, derivative)


class Lags(NamedTuple):
    """A process shortened to one lag and a delay [s]."""

    lag_s: float
    delay_s: float


def half_rule(lags_s, delay_s=0, inverse_s=0, sample_s=0):
    """Shorten a chain of lags (drive, shaft, tube, transmitter, filter) to one lag and a delay.

    lags_s (n,) [s], delay_s, inverse_s (time constants of inverse response, all added up), sample_s [s]. Returns Lags.
    Equation: the largest lag stays; half of the next goes to it and half to the delay; the others, the inverse response and half a sample
    go to the delay. Raises ValueError for times below zero, or lags of more than one axis. Source: Skogestad, J. Process Control 13 (2003)
    291-309 (memory). Limits: a shortening on the safe side, for tuning only.

    >>> print(half_rule([1, 0.2]))
    Lags(lag_s=1.1, delay_s=0.1)
    """
    lags = np.sort(np.atleast_1d(require.at_least(0, lags_s=lags_s)))[::-1]
    if lags.ndim != 1:
        raise ValueError(f"lags_s must be one list of lags, got the shape {lags.shape}")
    delay, inverse, sample = (
        require.single(**{name: require.at_least(0, **{name: time_s})})
        for name, time_s in (("delay_s", delay_s), ("inverse_s", inverse_s), ("sample_s", sample_s))
    )
    half = lags[1:2].sum() / 2
    return Lags(float(lags[0] + half), float(delay + inverse + sample / 2 + half + lags[2:].sum()))


def simc_pi(gain, lag_s, delay_s, closed_loop_s=None):
    """PI by SIMC: the loop follows its set point like one lag of the time asked for; the integral time is cut short, to clear disturbances.

    gain [-], lag_s [s] above zero, delay_s [s], closed_loop_s [s]: None takes the delay, the fastest advised; broadcast. Returns Settings.
    Equation: K_c = T / (K (tau_c + theta)), T_i = min(T, 4 (tau_c + theta)), T the lag, theta the delay. Raises ValueError for a gain or
    lag that is not above zero, or no delay and no closed_loop_s. Source: Skogestad, J. Process Control 13 (2003) 291-309 (memory). Limits:
    gain margin 3.1, phase margin 61 degrees when the closed loop is as fast as the delay and the lag is short; less is brave.

    >>> print(np.array(simc_pi(1.0, 1.1, 0.1)[:2]))
    [5.5 0.8]
    """
    k, lag = require.positive(gain=gain), require.above(0, lag_s=lag_s)
    delay = require.at_least(0, delay_s=delay_s)
    total = _closed_loop(closed_loop_s, delay) + delay
    return Settings(lag / (k * total), np.minimum(lag, 4 * total))


def _closed_loop(closed_loop_s, delay):
    if closed_loop_s is not None:
        return require.positive(closed_loop_s=closed_loop_s)
    if np.any(delay < require.LEAST):
        raise ValueError("closed_loop_s must be given where delay_s is 0, got None")
    return delay
