"""Tuning rules, from gain, lag and delay of a process to the numbers of a controller; and how near a loop is to swinging.

`gain` is the size of the process gain, reading over output; the controller's gain comes out in output over reading. Per cent of span over
per cent of span on both sides, or units on both sides, but not mixed: see `action`. The sign belongs to the action.

The controller is of the standard form, K (e + integral(e)/Ti + Td de/dt). An integral time of zero means no integral action, a derivative
time of zero no derivative action.

Margins: frequency response with exact delay, gain and phase margin, peak sensitivity. A loop is given as a function of frequency [rad/s],
so that blocks are put together by multiplying:
`margins(lambda w: controller_response(w, settings) * frequency_response(w, 1.0, [2.0], 0.5), slowest_s=2.0, fastest_s=0.5)`.
The function must broadcast: frequencies come with their own first axis, and as many axes more as the function's numbers have.

`fastest_pi` is the strongest PI that keeps its margins in every one of many processes: a box of lags, dead times and gains, all corners
at once. The smaller the integral time over the gain, the sooner an error is made good: the area under the error after a step of load is
that ratio times the change of output (the integral of the error). It is the measure of "fastest" here, because behind an open door, where
the process gain is small, the loop is little else than its integral part.
"""

from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.formulas.kernels import close_in


class Settings(NamedTuple):
    """Numbers of a controller: gain (output over reading, in the units of the process gain) and times [s]."""

    gain: float | np.ndarray
    integral_s: float | np.ndarray
    derivative_s: float | np.ndarray = 0.0


def checked(settings):
    """Give Settings back with float arrays, or say what is wrong with them.

    settings: Settings. Returns Settings. Raises ValueError for a gain that is not above zero (the action takes the sign), a time below
    zero. Source: common practice, no source. Limits: says nothing of whether the loop holds; see `margins`.
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


POINTS_PER_DECADE = 200  # of the first search; what it finds is then sharpened
# Ours, far outside what any loop of air needs: within them no product of a chain is beyond what a double holds.
FREQUENCIES_RAD_S, LONGEST_S, MOST_IN_CHAIN, MOST_INTEGRATORS = (1e-9, 1e9), 1e6, 12, 4
_ZOOMS, _ZOOM_POINTS = 5, 33


class Margins(NamedTuple):
    """Margins of a loop, each of the loop's shape. inf: nothing limits it in the frequencies searched; NaN: there is no such frequency.

    gain_margin [-], phase_margin_deg [degrees], crossover_rad_s where the loop's size is one, phase_crossover_rad_s where its phase is
    -180 degrees, peak_sensitivity [-] (inf when not stable), stable.
    """

    gain_margin: float | np.ndarray
    phase_margin_deg: float | np.ndarray
    crossover_rad_s: float | np.ndarray
    phase_crossover_rad_s: float | np.ndarray
    peak_sensitivity: float | np.ndarray
    stable: bool | np.ndarray

    @property
    def delay_margin_s(self):
        """Delay that could be added (a filter, a slower sample) before the loop swings [s]: phase margin over crossover."""
        return np.radians(self.phase_margin_deg) / self.crossover_rad_s


def frequency_response(frequency_rad_s, gain=1.0, lags_s=(0.0,), delay_s=0.0, leads_s=(0.0,), integrators=0):
    """Frequency response of a chain of lags with an exact delay.

    frequency_rad_s [rad/s] above zero, gain [-], delay_s [s]; broadcast. lags_s, leads_s (..., n) [s]: their last axis is the chain, the
    others broadcast; a lead below zero is an inverse response. integrators: a whole number. Returns complex numbers.
    Equation: gain prod(1 + s leads) / prod(1 + s lags) exp(-s delay) / s^integrators, s = j frequency. Raises ValueError for a frequency
    that is not above zero, times below zero other than leads, chains or numbers beyond the limits. Source: text-book (memory).
    Limits: frequencies from 1e-9 to 1e9 rad/s, times to 1e6 s, MOST_IN_CHAIN lags or leads, MOST_INTEGRATORS.

    >>> print(f"{np.degrees(np.angle(frequency_response(1.0, delay_s=1.0))):.1f} degrees")
    -57.3 degrees
    """
    s = 1j * require.between(*FREQUENCIES_RAD_S, frequency_rad_s=frequency_rad_s)
    lags, leads = require.between(0, LONGEST_S, lags_s=lags_s), require.between(-LONGEST_S, LONGEST_S, leads_s=leads_s)
    for name, chain in (("lags_s", lags), ("leads_s", leads)):
        if np.atleast_1d(chain).shape[-1] > MOST_IN_CHAIN:
            raise ValueError(f"{name} must be {MOST_IN_CHAIN} at most in one chain, got {chain.shape[-1]}")
    integrators = require.whole(0, MOST_INTEGRATORS, integrators=integrators)
    shape = _chain(s, leads) / _chain(s, lags)
    return require.finite(gain=gain) * shape * np.exp(-s * require.between(0, LONGEST_S, delay_s=delay_s)) / s**integrators


def controller_response(frequency_rad_s, settings):
    """Frequency response of a controller.

    frequency_rad_s [rad/s] above zero, settings: Settings; broadcast. Returns complex numbers. Equation: K (1 + 1/(Ti s) + Td s); an
    integral time of zero means none. Raises ValueError as tuning.checked. Source: text-book (memory).
    Limits: continuous, no filter on the derivative; half a sample more delay stands for sampling.
    """
    k, ti, td = checked(settings)
    s = 1j * require.between(*FREQUENCIES_RAD_S, frequency_rad_s=frequency_rad_s)
    integral = np.where(ti > 0, 1 / (s * np.where(ti > 0, ti, 1.0)), 0.0)
    return k * (1 + integral + td * s)


def margins(loop, slowest_s, fastest_s):
    """Gain margin, phase margin, peak sensitivity and stability of a loop.

    loop: function of frequency [rad/s]; slowest_s, fastest_s [s]: the longest and the shortest time in it (lag, delay, integral time).
    Searched: 0.01/slowest to 100/fastest. Returns Margins. Equation: gain margin 1/|L| at the worst falling crossing of -180 degrees, phase
    margin the angle of -L at |L| = 1, stable when L does not go round -1 (Nyquist). Raises ValueError for times outside 1e-6 to 1e6 s
    or the wrong way round. Source: text-book (memory). Limits: blocks that are stable by themselves, or integrate.

    >>> from helpers.formulas.tuning import simc_pi
    >>> m = margins(lambda w: controller_response(w, simc_pi(1, 5, 1)) * frequency_response(w, 1, [5], 1), slowest_s=5, fastest_s=1)
    >>> print(f"{m.gain_margin:.2f}, {m.phase_margin_deg:.1f} degrees, {m.peak_sensitivity:.2f}")
    3.14, 61.4 degrees, 1.59
    """
    grid = _grid(loop, slowest_s, fastest_s)
    response = loop(grid)
    # steps of the grid in which the phase falls through -180 degrees
    left = (response.real[:-1] < 0) & (response.real[1:] < 0)
    size, below = np.abs(response), (left & (response.imag[:-1] < 0) & (response.imag[1:] >= 0))
    phase_crossover = _sharpened(loop, grid, below, lambda places: size[:-1][places], lambda x: x.imag)
    reached = (size[:-1] > 1) & (size[1:] <= 1)
    crossover = _sharpened(loop, grid, reached, lambda places: -np.abs(np.angle(-response[:-1][places])), lambda x: 1 - np.abs(x))
    # how often the response goes round -1: crossings left of it, falling less rising, and one when it starts on the wrong side
    before, after = response[:-1], response[1:]
    rising = (before.imag >= 0) & (after.imag < 0)
    drop = before.imag - after.imag
    cut = before.real + (after.real - before.real) * before.imag / np.where(drop == 0, 1.0, drop)
    first = response[0]
    wrong_start = (first.imag >= 0) & ((first.real < -1) | (first.imag > np.abs(first.real)))
    stable = ((below & (cut < -1)).sum(0) - (rising & (cut < -1)).sum(0) + wrong_start) == 0
    peak = np.where(stable, _peak(loop, grid, response), np.inf)
    return Margins(
        _at(loop, phase_crossover, lambda x: 1 / np.abs(x)),
        _at(loop, crossover, lambda x: np.degrees(np.angle(-x))),
        crossover[()],
        phase_crossover[()],
        peak[()],
        stable[()],
    )


def peak_sensitivity(loop, slowest_s, fastest_s):
    """Peak of the sensitivity: how much a disturbance grows at the worst frequency; its inverse is the loop's distance from -1.

    Arguments and errors as margins. Returns [-], 1 or more, of the loop's shape. Equation: max |1 / (1 + L)|. Source: text-book (memory).
    Limits: says nothing of stability, ask margins. Good loops have 1.2 to 2.
    """
    grid = _grid(loop, slowest_s, fastest_s)
    return _peak(loop, grid, loop(grid))[()]


def _grid(loop, slowest_s, fastest_s):
    require.of_kind("function", loop=loop)
    slow = require.single(slowest_s=require.between(1 / LONGEST_S, LONGEST_S, slowest_s=slowest_s))
    fast = require.single(fastest_s=require.between(1 / LONGEST_S, LONGEST_S, fastest_s=fastest_s))
    if fast > slow:
        raise ValueError(f"fastest_s must be no longer than slowest_s, got {fast:g} and {slow:g}")
    ends = np.log10([0.01 / slow, 100 / fast])
    axes = np.ndim(loop(1 / slow))
    return np.logspace(*ends, int(POINTS_PER_DECADE * (ends[1] - ends[0]))).reshape(-1, *[1] * axes)


def _complex_numbers(**named):
    """Whatever is given by its name, as complex numbers."""
    ((name, given),) = named.items()
    try:
        return np.asarray(given, dtype=complex)
    except (TypeError, ValueError, OverflowError):
        raise ValueError(f"{name} must be complex numbers, got {type(given).__name__}") from None


def _chain(s, times_s):
    """Product of 1 + s times over a chain of times, its last axis."""
    times = np.atleast_1d(times_s)
    product = 1 + s * times[..., 0]
    for place in range(1, times.shape[-1]):
        product = product * (1 + s * times[..., place])
    return product


def _peak(loop, grid, response):
    """Peak of the sensitivity from the response at a grid: closer and closer round the worst frequency."""
    for zoom in range(_ZOOMS):
        size = 1 / np.maximum(np.abs(1 + (loop(grid) if zoom else response)), np.finfo(float).tiny)
        best = size.argmax(0)[None]
        last = grid.shape[0] - 1
        full = np.broadcast_to(grid, size.shape)
        low, high = (np.take_along_axis(full, np.clip(best + side, 0, last), 0) for side in (-1, 1))
        steps = np.linspace(0, 1, _ZOOM_POINTS).reshape(-1, *[1] * (size.ndim - 1))
        grid = low * (high / low) ** steps
    return size.max(0)


def _sharpened(loop, grid, found, score, height):
    """Frequency of the crossing with the highest score, to the last digits; NaN where none was found.

    score: function of the places found; height: function of the response that rises through zero there.
    """
    scores = np.full(found.shape, -np.inf)
    scores[found] = score(found)
    at = scores.argmax(0)
    points = grid.ravel()
    frequency = close_in(lambda w: height(loop(w[None])[0]), points[at], points[at + 1])
    return np.where(found.any(0), frequency, np.nan)


def _at(loop, frequency, what):
    """A figure of the loop at a frequency; inf where there is none."""
    there = ~np.isnan(frequency)
    return np.where(there, what(loop(np.where(there, frequency, 1.0)[None])[0]), np.inf)[()]


MOST_CELLS = 20_000_000  # frequencies times processes times integral times at once: some hundreds of megabytes


class LeastMargins(NamedTuple):
    """What every process must keep: peak sensitivity at most, gain margin and phase margin at least."""

    peak_sensitivity: float = 1.7
    gain_margin: float = 2.5
    phase_margin_deg: float = 40.0


SWINGS = LeastMargins(1e9, 1 + 1e-9, 0.0)  # the edge: a larger gain swings by itself


def largest_gain(frequency_rad_s, process, integral_s, asked=LeastMargins(), each=False):  # noqa: B008  (a NamedTuple of numbers)
    """Largest gain of a PI, for each integral time, with which every process keeps what is asked, and with which every smaller gain does.

    frequency_rad_s (n,) rising, close to each other and wide enough to begin before and end after all that counts; process (n, ...)
    complex, responses of the processes at them; integral_s (m,) [s] above zero; asked: `LeastMargins`, `SWINGS` for the edge of stability;
    each:
    whether to tell of each process by itself. Returns gains (m,), or (processes, m), infinite where nothing limits one.
    Equation: with L0 the loop at a gain of one, |1 + K L0| = 1/Ms has its smallest root K at each frequency; K |L0| = 1/Am where the phase
    is -180 degrees; K |L0| = 1 wherever the phase margin would be too small. The least K of all frequencies and processes is the answer,
    and no smaller one meets any of the three: the loop is stable, because it is so at the smallest gains.
    Raises ValueError for fewer than two frequencies, numbers that are not finite, an integral time not above zero, asked margins that
    cannot be (a sensitivity not above 1, a gain margin not above 1, a phase margin not within 0 to 90 degrees), more than MOST_CELLS.
    Source: Nyquist; maximum sensitivity as a design measure: Astrom and Hagglund, Advanced PID Control (memory).
    Limits: processes that are stable by themselves. A grid of 100 frequencies a decade gives the gain to half a per cent.

    >>> from helpers.formulas.tuning import frequency_response
    >>> w = np.logspace(-2, 2, 800)
    >>> print(largest_gain(w, frequency_response(w, 1.0, [1.0], 0.5), np.array([1.0])).round(2))
    [1.12]
    """
    w = require.between(*FREQUENCIES_RAD_S, frequency_rad_s=frequency_rad_s)
    integral = np.atleast_1d(require.positive(integral_s=integral_s))
    process = _complex_numbers(process=process)
    if w.ndim != 1 or w.size < 2 or np.any(np.diff(w) <= 0):
        raise ValueError(f"frequency_rad_s must be two or more rising numbers, got {w.size} of them")
    if process.ndim < 1 or process.shape[0] != w.size or process.size == 0 or not np.isfinite(process).all():
        raise ValueError(f"process must be finite, one response for each of {w.size} frequencies, got shape {process.shape}")
    if process.size * integral.size > MOST_CELLS:
        raise ValueError(f"process must have {MOST_CELLS:g} cells at most with the integral times, got {process.size * integral.size:g}")
    require.of_kind(LeastMargins, asked=asked)
    require.single(peak_sensitivity=require.above(1, peak_sensitivity=asked.peak_sensitivity))
    require.single(gain_margin=require.above(1, gain_margin=asked.gain_margin))
    require.single(phase_margin_deg=require.between(0, 90, phase_margin_deg=asked.phase_margin_deg))
    loop = process.reshape(w.size, -1, 1) * (1 + 1 / (1j * w[:, None, None] * integral))
    real, imaginary = loop.real.copy(), loop.imag.copy()  # of numbers that lie side by side numpy makes short work
    square = real**2 + imaginary**2
    rest = real**2 - square * (1 - 1 / asked.peak_sensitivity**2)
    towards = (real < 0) & (rest > 0)
    root = np.where(towards, (-real - np.sqrt(np.where(towards, rest, 0.0))) / square, np.inf).min(0)
    # gain at which the loop's size would be one at a frequency whose phase leaves too little, from -90 degrees to the margin
    little = (real < 0) & (imaginary > np.tan(np.radians(asked.phase_margin_deg)) * real)
    largest = np.sqrt(np.where(little, square, 0.0).max(0))
    by_gain, by_phase = (
        _by_gain_margin(real, imaginary, asked.gain_margin),
        np.divide(1.0, largest, out=np.full(largest.shape, np.inf), where=largest > 0),
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


def _by_gain_margin(real, imaginary, margin):
    """Gain at which the worst crossing of -180 degrees is at 1/margin; straight lines between frequencies."""
    left, below = real < 0, imaginary < 0
    crosses = below[:-1] & ~below[1:] & left[:-1] & left[1:]
    place, process, integral = np.nonzero(crosses)
    (x, y), (x_after, y_after) = ((real[at, process, integral], imaginary[at, process, integral]) for at in (place, place + 1))
    reach = np.zeros(crosses.shape[1:])
    np.maximum.at(reach, (process, integral), y * (x_after - x) / (y_after - y) - x)
    return np.divide(1 / margin, reach, out=np.full(reach.shape, np.inf), where=reach > 0)
