"""Forms of a controller: the same loop, three ways to write its numbers.

Standard: K (e + integral(e)/Ti + Td de/dt). Series: K (1 + 1/(Ti s)) (1 + Td s). Parallel: three gains. PI is the same in standard and
series form. An integral time of zero means no integral action, a derivative time of zero no derivative action.
"""

from typing import NamedTuple

import numpy as np

from helpers.formulas import require

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
