"""Tuning rules: from gain, lag and delay of a process to the numbers of a controller.

`gain` is the size of the process gain, reading over output; the controller's gain comes out in output over reading. Per cent of span over
per cent of span on both sides, or units on both sides, but not mixed: see `action`. The sign belongs to the action.

Forms of a controller: the same loop, three ways to write its numbers.

Standard: K (e + integral(e)/Ti + Td de/dt). Series: K (1 + 1/(Ti s)) (1 + Td s). Parallel: three gains. PI is the same in standard and
series form. An integral time of zero means no integral action, a derivative time of zero no derivative action.
"""

from typing import NamedTuple

import numpy as np

from helpers import require

FORMS = ("standard", "series")


class Settings(NamedTuple):
    """Numbers of a controller: gain (output over reading, in the units of the process gain), times [s], and which form they are for."""

    gain: float | np.ndarray
    integral_s: float | np.ndarray
    derivative_s: float | np.ndarray = 0.0
    form: str = "standard"


class Parallel(NamedTuple):
    """Numbers of a parallel controller: proportional gain, integral gain [1/s], derivative gain [s]."""

    proportional: float | np.ndarray
    integral_per_s: float | np.ndarray
    derivative_s: float | np.ndarray = 0.0


def checked(settings):
    """Give Settings back with float arrays, or say what is wrong with them.

    settings: Settings. Returns Settings. Raises ValueError for a gain that is not above zero (the action takes the sign), a time below
    zero, or an unknown form. Source: common practice, no source. Limits: says nothing of whether the loop holds; see frequency.margins.
    """
    gain = require.positive(gain=require.of_kind(Settings, settings=settings).gain)
    integral = require.none_or_positive(integral_s=settings.integral_s)
    derivative = require.at_least(0, derivative_s=settings.derivative_s)
    return Settings(gain, integral, derivative, require.one_of(FORMS, form=settings.form))


def to_standard(settings):
    """Standard form of a controller.

    settings: Settings in either form. Returns Settings in standard form. Equation, from series: K (1 + Td/Ti), Ti + Td, Ti Td / (Ti + Td);
    without integral action the numbers stay. Raises ValueError as checked. Source: Astrom and Hagglund, Advanced PID Control (memory).
    Limits: no filter on the derivative.

    >>> print(np.array(to_standard(Settings(2.0, 4.0, 1.0, "series"))[:3]))
    [2.5 5.  0.8]
    """
    k, ti, td, form = checked(settings)
    if form == "standard":
        return Settings(k[()], ti[()], td[()])
    integrates = ti > 0
    ratio = np.divide(td, ti, out=np.zeros(np.broadcast(td, ti).shape), where=integrates)
    return Settings((k * (1 + ratio))[()], np.where(integrates, ti + td, 0.0)[()], (td / (1 + ratio))[()])


def to_series(settings):
    """Series form of a controller; the inverse of to_standard.

    settings: Settings in either form. Returns Settings in series form. Equation, from standard: share x = (1 + sqrt(1 - 4 Td/Ti)) / 2;
    K x, Ti x, Td / x. Raises ValueError as checked, and where Td is more than Ti/4: no series controller does the same.
    Source: Astrom and Hagglund, Advanced PID Control (memory). Limits: no filter on the derivative.

    >>> print(np.array(to_series(Settings(2.5, 5.0, 0.8))[:3]))
    [2. 4. 1.]
    """
    k, ti, td, form = checked(settings)
    if form == "series":
        return Settings(k[()], ti[()], td[()], "series")
    ratio = np.divide(td, ti, out=np.zeros(np.broadcast(td, ti).shape), where=ti > 0)
    if np.any(ratio > 0.25):
        raise ValueError(f"derivative_s must be at most a quarter of integral_s for a series form, got {ratio.max():g} of it")
    x = (1 + np.sqrt(1 - 4 * ratio)) / 2
    return Settings((k * x)[()], (ti * x)[()], (td / x)[()], "series")


def to_parallel(settings):
    """Parallel form of a controller.

    settings: Settings in either form. Returns Parallel. Equation, from standard: K, K / Ti, K Td. Raises ValueError as checked.
    Source: text-book (memory). Limits: no filter on the derivative.

    >>> print(np.array(to_parallel(Settings(2.0, 4.0, 0.5))))
    [2.  0.5 1. ]
    """
    k, ti, td, _ = to_standard(settings)
    k, ti = np.broadcast_arrays(k, ti)
    integral = np.divide(k, ti, out=np.zeros(k.shape), where=ti > 0)
    return Parallel(k[()], integral[()], k * td)


def from_parallel(parallel):
    """Standard form of a parallel controller; the inverse of to_parallel.

    parallel: Parallel. Returns Settings in standard form. Equation: K, K / Ki, Kd / K; no integral gain gives an integral time of zero,
    which means none. Raises ValueError for a proportional gain that is not above zero or another gain below zero.
    Source: text-book (memory). Limits: an integral-only controller has no standard form.

    >>> print(np.array(from_parallel(Parallel(2.0, 0.5, 1.0))[:3]))
    [2.  4.  0.5]
    """
    k = require.positive(proportional=require.of_kind(Parallel, parallel=parallel).proportional)
    k, ki = np.broadcast_arrays(k, require.none_or_positive(integral_per_s=parallel.integral_per_s))
    ti = np.divide(k, ki, out=np.zeros(k.shape), where=ki > 0)
    return Settings(k[()], ti[()], (require.at_least(0, derivative_s=parallel.derivative_s) / k)[()])


# Controller over what the test gives: (gain, integral time, derivative time). Ziegler and Nichols 1942 (memory).
ZIEGLER_NICHOLS_STEP = {"P": (1.0, 0.0, 0.0), "PI": (0.9, 1 / 0.3, 0.0), "PID": (1.2, 2.0, 0.5)}
ZIEGLER_NICHOLS_ULTIMATE = {"P": (0.5, 0.0, 0.0), "PI": (0.45, 1 / 1.2, 0.0), "PID": (0.6, 0.5, 0.125)}


class Lags(NamedTuple):
    """A process shortened to one or two lags and a delay [s]."""

    lag_s: float
    second_lag_s: float
    delay_s: float


def half_rule(lags_s, delay_s=0, inverse_s=0, sample_s=0, keep=1):
    """Shorten a chain of lags (drive, shaft, tube, transmitter, filter) to one or two lags and a delay.

    lags_s (n,) [s], delay_s, inverse_s (time constants of inverse response, all added up), sample_s [s], keep 1 or 2 lags. Returns Lags.
    Equation: the largest lags stay; half of the next goes to the last one kept and half to the delay; the others, the inverse response and
    half a sample go to the delay. The longer of two kept is named first. Raises ValueError for times below zero, fewer lags than to keep,
    or keep not 1 or 2. Source: Skogestad, J. Process Control 13 (2003) 291-309 (memory). Limits: a shortening on the safe side, for tuning
    only.

    >>> print(half_rule([1, 0.2]))
    Lags(lag_s=1.1, second_lag_s=0.0, delay_s=0.1)
    """
    lags, keep = np.sort(np.atleast_1d(require.at_least(0, lags_s=lags_s)))[::-1], require.whole(1, 2, keep=keep)
    if lags.ndim != 1 or lags.size < keep:
        raise ValueError(f"keep must be 1 or 2, with that many lags_s or more, got {keep!r} and shape {lags.shape}")
    delay, inverse, sample = (
        require.single(**{name: require.at_least(0, **{name: time_s})})
        for name, time_s in (("delay_s", delay_s), ("inverse_s", inverse_s), ("sample_s", sample_s))
    )
    half = lags[keep] / 2 if lags.size > keep else 0.0
    kept = lags[:keep].copy()
    kept[keep - 1] += half
    first, second = max(kept), min(kept) if keep == 2 else 0.0
    return Lags(float(first), float(second), float(delay + inverse + sample / 2 + half + lags[keep + 1 :].sum()))


def lambda_pi(gain, lag_s, delay_s, closed_loop_s):
    """PI by lambda tuning: the loop then follows its set point like one lag of the time asked for, after the delay.

    gain [-], lag_s [s] above zero, delay_s [s] zero or more, closed_loop_s [s] above zero; broadcast. Returns Settings.
    Equation: K = lag / (gain (closed loop + delay)), Ti = lag. Raises ValueError outside that. Source: internal model control, Seborg et
    al. (memory). Limits: with a closed loop much faster than the delay it swings; with a long lag it clears disturbances slowly.

    >>> print(f"{lambda_pi(2, 5, 1, 1).gain:.2f}")
    1.25
    """
    k, lag, delay = _process(gain, lag_s, delay_s, 0)
    return Settings(lag / (k * (require.positive(closed_loop_s=closed_loop_s) + delay)), lag[()])


def simc_pi(gain, lag_s, delay_s, closed_loop_s=None):
    """PI by SIMC: as lambda, with an integral time cut short so that disturbances are cleared in time.

    gain [-], lag_s [s] above zero, delay_s [s], closed_loop_s [s]: None takes the delay, the fastest advised; broadcast. Returns Settings.
    Equation: K = lag / (gain (closed loop + delay)), Ti = min(lag, 4 (closed loop + delay)). Raises ValueError for a gain or lag that is
    not above zero, or no delay and no closed_loop_s. Source: Skogestad, J. Process Control 13 (2003) 291-309 (memory).
    Limits: gain margin 3.1, phase margin 61 degrees when the closed loop is as fast as the delay and the lag is short; less is brave.

    >>> print(np.array(simc_pi(1.0, 1.1, 0.1)[:2]))
    [5.5 0.8]
    """
    k, lag, delay = _process(gain, lag_s, delay_s, 0)
    total = _closed_loop(closed_loop_s, delay) + delay
    return Settings(lag / (k * total), np.minimum(lag, 4 * total))


def simc_pid(gain, lag_s, second_lag_s, delay_s, closed_loop_s=None):
    """PID by SIMC, in series form: the derivative time takes away the second lag.

    Arguments as simc_pi, second_lag_s [s] zero or more, no longer than lag_s. Returns Settings in series form: `to_standard` before they
    go into a standard controller. Equation: as simc_pi, Td = second lag. Raises ValueError as simc_pi. Source and limits as simc_pi; worth
    it only when the second lag is longer than the delay, and seldom with a noisy pressure.

    >>> print(f"{simc_pid(1.0, 1.5, 1.0, 0.5).gain:.1f}")
    1.5
    """
    second = require.at_least(0, second_lag_s=second_lag_s)
    if np.any(second > require.finite(lag_s=lag_s)):
        raise ValueError(f"second_lag_s must be no longer than lag_s, got {second_lag_s!r:.60} and {lag_s!r:.60}")
    return simc_pi(gain, lag_s, delay_s, closed_loop_s)._replace(derivative_s=second[()], form="series")


def ziegler_nichols_step(gain, lag_s, delay_s, kind="PI"):
    """P, PI or PID by the step test of Ziegler and Nichols.

    gain [-], lag_s, delay_s [s] above zero; broadcast. kind "P", "PI" or "PID". Returns Settings. Equation: factor x lag / (gain delay),
    times as multiples of the delay, by ZIEGLER_NICHOLS_STEP. Raises ValueError outside that. Source: Ziegler and Nichols 1942 (memory).
    Limits: with a lag longer than the delay it aims at quarter decay, too lively for a pressure that pushes on doors; with a shorter
    lag it is sluggish. Where the craft began, not where to stop.

    >>> print(f"{ziegler_nichols_step(1.0, 5.0, 1.0).gain:.1f}")
    4.5
    """
    k, lag, delay = _process(gain, lag_s, require.positive(delay_s=delay_s), 0)
    factor, integral, derivative = _rule(ZIEGLER_NICHOLS_STEP, kind)
    return Settings(factor * lag / (k * delay), integral * delay, derivative * delay)


def ziegler_nichols_ultimate(ultimate_gain, ultimate_period_s, kind="PI"):
    """P, PI or PID by the swinging loop of Ziegler and Nichols.

    ultimate_gain [-], ultimate_period_s [s] above zero; broadcast. kind "P", "PI" or "PID". Returns Settings. Equation: shares of both, by
    ZIEGLER_NICHOLS_ULTIMATE. Raises ValueError outside that. Source: Ziegler and Nichols 1942 (memory). Limits: as ziegler_nichols_step;
    never let a loop swing on purpose with people at the doors: find gain and period from a model.

    >>> print(f"{ziegler_nichols_ultimate(8.0, 3.6276).gain:.1f}, {ziegler_nichols_ultimate(8.0, 3.6276).integral_s:.2f} s")
    3.6, 3.02 s
    """
    k, period = require.positive(ultimate_gain=ultimate_gain), require.positive(ultimate_period_s=ultimate_period_s)
    factor, integral, derivative = _rule(ZIEGLER_NICHOLS_ULTIMATE, kind)
    return Settings(factor * k, integral * period, derivative * period)


def amigo_pi(gain, lag_s, delay_s):
    """PI by AMIGO.

    gain [-], delay_s [s] above zero, lag_s [s] zero or more; broadcast. Returns Settings. Equation: K = 0.15/gain + (0.35 - L T/(L+T)^2)
    T/(gain L), Ti = 0.35 L + 13 L T^2 / (T^2 + 12 L T + 7 L^2). Raises ValueError outside that. Source: Astrom and Hagglund, Advanced PID
    Control, 2006 (memory). Limits: made for a peak sensitivity near 1.4; the process rises without swinging.

    >>> print(f"{amigo_pi(1.0, 2.9, 1.42).gain:.3f}")
    0.414
    """
    k, t, d = _process(gain, require.at_least(0, lag_s=lag_s), require.positive(delay_s=delay_s), None)
    proportional = 0.15 / k + (0.35 - d * t / (d + t) ** 2) * t / (k * d)
    return Settings(proportional, 0.35 * d + 13 * d * t**2 / (t**2 + 12 * d * t + 7 * d**2))


def amigo_pid(gain, lag_s, delay_s):
    """PID by AMIGO, in standard form.

    Arguments, errors, source and limits as amigo_pi. Returns Settings. Equation: K = (0.2 + 0.45 T/L)/gain,
    Ti = L (0.4 L + 0.8 T)/(L + 0.1 T), Td = 0.5 L T/(0.3 L + T).
    """
    k, t, d = _process(gain, require.at_least(0, lag_s=lag_s), require.positive(delay_s=delay_s), None)
    return Settings((0.2 + 0.45 * t / d) / k, d * (0.4 * d + 0.8 * t) / (d + 0.1 * t), 0.5 * d * t / (0.3 * d + t))


def _process(gain, lag_s, delay_s, lag_above):
    lag = require.at_least(0, lag_s=lag_s) if lag_above is None else require.above(lag_above, lag_s=lag_s)
    return require.positive(gain=gain), lag, require.at_least(0, delay_s=delay_s)


def _closed_loop(closed_loop_s, delay):
    if closed_loop_s is not None:
        return require.positive(closed_loop_s=closed_loop_s)
    if np.any(delay < require.LEAST):
        raise ValueError("closed_loop_s must be given where delay_s is 0, got None")
    return delay


def _rule(table, kind):
    return table[require.one_of(tuple(table), kind=kind)]
