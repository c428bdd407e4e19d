"""The strongest PI that keeps its margins in every one of many processes: a box of lags, dead times and gains, all corners at once.

The smaller the integral time over the gain, the sooner an error is made good: the area under the error after a step of load is that ratio
times the change of output (the integral of the error). It is the measure of "fastest" here, because behind an open door, where the process
gain is small, the loop is little else than its integral part.
"""

from typing import NamedTuple

import numpy as np

from helpers.formulas import require
from helpers.formulas.frequency import FREQUENCIES_RAD_S

__all__ = ["SWINGS", "Asked", "fastest_pi", "largest_gain"]

MOST_CELLS = 20_000_000  # frequencies times processes times integral times at once: some hundreds of megabytes


class Asked(NamedTuple):
    """What every process must keep: peak sensitivity at most, gain margin and phase margin at least."""

    peak_sensitivity: float = 1.7
    gain_margin: float = 2.5
    phase_margin_deg: float = 40.0


SWINGS = Asked(1e9, 1 + 1e-9, 0.0)  # the edge: a larger gain swings by itself


def largest_gain(frequency_rad_s, process, integral_s, asked=Asked(), each=False):  # noqa: B008  (a NamedTuple of numbers)
    """Largest gain of a PI, for each integral time, with which every process keeps what is asked, and with which every smaller gain does.

    frequency_rad_s (n,) rising, close to each other and wide enough to begin before and end after all that counts; process (n, ...)
    complex, responses of the processes at them; integral_s (m,) [s] above zero; asked: `Asked`, `SWINGS` for the edge of stability; each:
    whether to tell of each process by itself. Returns gains (m,), or (processes, m), infinite where nothing limits one.
    Equation: with L0 the loop at a gain of one, |1 + K L0| = 1/Ms has its smallest root K at each frequency; K |L0| = 1/Am where the phase
    is -180 degrees; K |L0| = 1 wherever the phase margin would be too small. The least K of all frequencies and processes is the answer,
    and no smaller one meets any of the three: the loop is stable, because it is so at the smallest gains.
    Raises ValueError for fewer than two frequencies, numbers that are not finite, an integral time not above zero, asked margins that
    cannot be (a sensitivity not above 1, a gain margin not above 1, a phase margin not within 0 to 90 degrees), more than MOST_CELLS.
    Source: Nyquist; maximum sensitivity as a design measure: Astrom and Hagglund, Advanced PID Control (memory).
    Limits: processes that are stable by themselves. A grid of 100 frequencies a decade gives the gain to half a per cent.

    >>> from helpers.formulas.frequency import frequency_response
    >>> w = np.logspace(-2, 2, 800)
    >>> print(largest_gain(w, frequency_response(w, 1.0, [1.0], 0.5), np.array([1.0])).round(2))
    [1.12]
    """
    w = require.between(*FREQUENCIES_RAD_S, frequency_rad_s=frequency_rad_s)
    integral = np.atleast_1d(require.positive(integral_s=integral_s))
    process = np.asarray(process, dtype=complex)
    if w.ndim != 1 or w.size < 2 or np.any(np.diff(w) <= 0):
        raise ValueError(f"frequency_rad_s must be two or more rising numbers, got {w.size} of them")
    if process.ndim < 1 or process.shape[0] != w.size or process.size == 0 or not np.isfinite(process).all():
        raise ValueError(f"process must be finite, one response for each of {w.size} frequencies, got shape {process.shape}")
    if process.size * integral.size > MOST_CELLS:
        raise ValueError(f"process must have {MOST_CELLS:g} cells at most with the integral times, got {process.size * integral.size:g}")
    _check(asked)
    loop = process.reshape(w.size, -1, 1) * (1 + 1 / (1j * w[:, None, None] * integral))
    real, imaginary = loop.real.copy(), loop.imag.copy()  # of numbers that lie side by side numpy makes short work
    square = real**2 + imaginary**2
    rest = real**2 - square * (1 - 1 / asked.peak_sensitivity**2)
    towards = (real < 0) & (rest > 0)
    root = np.where(towards, (-real - np.sqrt(np.where(towards, rest, 0.0))) / square, np.inf).min(0)
    by_gain, by_phase = (
        _by_gain_margin(real, imaginary, asked.gain_margin),
        _by_phase_margin(real, imaginary, square, asked.phase_margin_deg),
    )
    found = np.minimum.reduce([root, by_gain, by_phase])
    return found if each else found.min(0)


def fastest_pi(integral_s, gain, least_integral_over_gain_s=0.0):
    """Of the largest gains at some integral times the fastest tuning: the one of the least integral time over gain.

    integral_s, gain (m,): as `largest_gain` gives them; least_integral_over_gain_s: what this ratio must not be below (a drive's ramp):
    the gain is lowered until it is not. Returns (gain, integral_s), None where no gain is above zero. Equation: min Ti/K.
    Raises ValueError for shapes that differ. Source: ours. Limits: a load that steps; nothing of a set point that does.

    >>> print(fastest_pi(np.array([1.0, 2.0, 4.0]), np.array([0.4, 1.0, 1.1])))
    (1.0, 2.0)
    """
    integral, gain = require.positive(integral_s=integral_s), require.at_least(0, gain=gain)
    if integral.shape != gain.shape or integral.ndim != 1:
        raise ValueError(f"gain must be one for each integral_s, got shapes {gain.shape} and {integral.shape}")
    if not (gain > 0).any():
        return None
    ratio = np.divide(integral, gain, out=np.full(gain.shape, np.inf), where=gain > 0)
    best, least = int(ratio.argmin()), require.single_at_least(0, least_integral_over_gain_s=least_integral_over_gain_s)
    return float(integral[best] / max(ratio[best], least)), float(integral[best])


def _check(asked):
    require.of_kind(Asked, asked=asked)
    require.single(peak_sensitivity=require.above(1, peak_sensitivity=asked.peak_sensitivity))
    require.single(gain_margin=require.above(1, gain_margin=asked.gain_margin))
    require.single(phase_margin_deg=require.between(0, 90, phase_margin_deg=asked.phase_margin_deg))


def _by_gain_margin(real, imaginary, margin):
    """Gain at which the worst crossing of -180 degrees is at 1/margin; straight lines between frequencies."""
    left, below = real < 0, imaginary < 0
    crosses = below[:-1] & ~below[1:] & left[:-1] & left[1:]
    place, process, integral = np.nonzero(crosses)
    (x, y), (x_after, y_after) = ((real[at, process, integral], imaginary[at, process, integral]) for at in (place, place + 1))
    reach = np.zeros(crosses.shape[1:])
    np.maximum.at(reach, (process, integral), y * (x_after - x) / (y_after - y) - x)
    return np.divide(1 / margin, reach, out=np.full(reach.shape, np.inf), where=reach > 0)


def _by_phase_margin(real, imaginary, square, margin_deg):
    """Gain at which the loop's size would be one at a frequency whose phase leaves too little, from -90 degrees to the margin."""
    little = (real < 0) & (imaginary > np.tan(np.radians(margin_deg)) * real)
    largest = np.sqrt(np.where(little, square, 0.0).max(0))
    return np.divide(1.0, largest, out=np.full(largest.shape, np.inf), where=largest > 0)
