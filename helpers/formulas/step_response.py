"""Step tests: gain, lag and delay from a record, the answer of a lag to steps, how late and slowly a pressure tube passes changes on."""

from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.formulas.air import R_DRY_AIR

FEWEST_SAMPLES, FEWEST_AT_REST = 10, 3  # ours: four numbers are fitted, and the noise must still show
LEAST_SHOWN = 0.5  # ours: with less of the change seen, gain and lag cannot be told apart
_NO_LAG_S = 1e-9  # so short that no division is by zero and no answer shows it
_FIRST_TOTALS, _FIRST_SHARES, _FIRST_SAMPLES = 121, 31, 100
_NEXT_GRIDS, _NARROWINGS, _KEPT = 13, 8, 2


class StepFit(NamedTuple):
    """A process as a step record shows it: gain [reading per output], lag and delay [s], reading at rest at the first output, standard
    deviation of the noise left [reading], share of the first change that the record lasts long enough to show [-]."""

    gain: float
    lag_s: float
    delay_s: float
    reading_at_rest: float
    noise: float
    shown_share: float


def step_answer(time_s, change_times_s, outputs, lag_s, delay_s=0.0):
    """Answer of a first-order lag with delay, of gain one, to an output that changes in steps.

    time_s any shape [s]; change_times_s (m,) rising [s], outputs (m,) held from each of them on, outputs[0] for ever before; lag_s, delay_s
    [s] single numbers, zero or more. Returns time_s's shape, in the unit of outputs. Equation: between changes
    u + (y - u) exp(-(t - delay - change)/lag), exact. Raises ValueError for changes that do not rise. Source: text-book (memory).
    Limits: one lag; at rest before the first change.

    >>> print(f"{step_answer(3.0, [0.0, 1.0], [0.0, 100.0], 1.0, 1.0):.1f} %")
    63.2 %
    """
    changes, held = require.same_length(change_times_s=change_times_s, outputs=outputs)
    _rising("change_times_s", changes)
    lag, delay = require.at_least(0, lag_s=lag_s), require.at_least(0, delay_s=delay_s)
    if lag.ndim or delay.ndim:
        raise ValueError(f"lag_s and delay_s must be single numbers, got shapes {lag.shape} and {delay.shape}")
    at = require.finite(time_s=time_s) - delay
    lags = np.maximum(lag[None], _NO_LAG_S)
    return _answers(at.reshape(-1, 1), changes, held, lags, _states(changes, held, lags)).reshape(at.shape)[()]


def fit_first_order_delay(time_s, output, reading, reading_low=None, reading_high=None):
    """Gain, lag and delay of a process from a step record.

    time_s (n,) rising [s], output (n,) held from each sample to the next, reading (n,): noisy, in any unit. Samples at or beyond
    reading_low or reading_high (the ends at which the transmitter clamps) are left out; None: none is clamped. Returns StepFit.
    Equation: least squares of rest + gain x (step_answer - first output), over a grid of delays and lags that is narrowed around the best.
    Raises ValueError for fewer than FEWEST_SAMPLES usable samples or FEWEST_AT_REST before the first step, an output that does not change,
    a reading that answers by less than its own noise, or a record that ends before the lag can be seen. Source: least squares; text-book
    (memory). Limits: at rest before the first sample; wind that drifts during the test is taken for an answer; noise beside a clamp pulls a
    little; repeat the step up and down.

    >>> t = np.arange(0, 20, 0.5)
    >>> u = np.where(t < 2, 40.0, 45.0)
    >>> fit = fit_first_order_delay(t, u, 50 + 2.5 * (step_answer(t, [0, 2], [40, 45], 3.0, 1.0) - 40))
    >>> print(f"{fit.gain:.2f} Pa/Hz, lag {fit.lag_s:.2f} s, delay {fit.delay_s:.2f} s")
    2.50 Pa/Hz, lag 3.00 s, delay 1.00 s
    """
    t, u, y = require.same_length(time_s=time_s, output=output, reading=reading)
    _rising("time_s", t)
    used = np.ones(y.shape, bool)
    if reading_low is not None:
        used &= y > require.finite(reading_low=reading_low)
    if reading_high is not None:
        used &= y < require.finite(reading_high=reading_high)
    if used.sum() < FEWEST_SAMPLES:
        raise ValueError(f"reading must hold {FEWEST_SAMPLES} samples or more between its clamps, got {used.sum()}")
    changes = np.flatnonzero(np.diff(u, prepend=u[0]))
    if changes.size == 0:
        raise ValueError("output must change at least once during the record, got one value throughout")
    if used[: changes[0]].sum() < FEWEST_AT_REST:
        raise ValueError(
            f"reading must be off its clamps in {FEWEST_AT_REST} samples or more before the first step, or it has no beginning"
        )
    at = np.append(0, changes)
    record = (t[used], y[used], t[at], u[at])
    lasts = t[-1] - t[changes[0]]
    return _judged(record, *_narrowed(record, lasts, np.diff(t).min()), lasts, np.ptp(u))


def _rising(name, values):
    if np.any(np.diff(values) <= 0):
        raise ValueError(f"{name} must rise from one to the next, got {values[:4]} ...")


def _states(changes, held, lags):
    """Answer of gain one [changes, lags] at the times of the changes, for no delay."""
    state = np.empty((changes.size, lags.size))
    state[0] = held[0]
    for i in range(1, changes.size):
        state[i] = held[i - 1] + (state[i - 1] - held[i - 1]) * np.exp((changes[i - 1] - changes[i]) / lags)
    return state


def _answers(at, changes, held, lags, states):
    """Answers of gain one [times, lags] to the steps, at times [times, lags] that have the delays taken off already."""
    piece = sum((at >= change for change in changes[1:]), np.zeros(at.shape, int))
    way = (states - held[:, None])[piece, np.arange(lags.size)]
    return held[piece] + way * np.exp(np.minimum(changes[piece] - at, 0) / lags)


def _lines(record, delays, lags, states):
    """Best gain and rest, and the squares left, for each pair of delay and lag."""
    t, y, changes, held = record
    x = _answers(t[:, None] - delays, changes, held, lags, states) - held[0]
    middle = x.mean(0)
    dx, dy = x - middle, y - y.mean()
    spread = np.einsum("ij,ij->j", dx, dx)
    gain = np.divide(dy @ dx, spread, out=np.zeros_like(spread), where=spread > 0)
    return gain, y.mean() - gain * middle, ((dy[:, None] - gain * dx) ** 2).sum(0)


def _narrowed(record, longest, step):
    """Delay and lag with the least squares: a grid, then smaller grids around the best.

    The grid is over delay + lag, which a record fixes well, and the delay's share of it, which it fixes less well: narrowing the two
    separately then does not lose the best. The first grid looks at a thinned record.
    """
    t, y, *steps = record
    totals, shares = np.geomspace(step / 20, 2 * longest, _FIRST_TOTALS), np.linspace(0, 1, _FIRST_SHARES)
    thin = -(-t.size // _FIRST_SAMPLES)
    i, j = _best((t[::thin], y[::thin], *steps), totals, shares)
    for _ in range(_NARROWINGS):
        totals, shares = _around(totals, j, np.inf), _around(shares, i, 1.0)
        i, j = _best(record, totals, shares)
    return _pair(totals[j], shares[i])


def _pair(totals, shares):
    return shares * totals, np.maximum((1 - shares) * totals, _NO_LAG_S)


def _best(record, totals, shares):
    """Place of the least squares on the grid: which share, which total."""
    delays, lags = (part.ravel() for part in np.broadcast_arrays(*_pair(totals, shares[:, None])))
    squares = _lines(record, delays, lags, _states(*record[2:], lags))[2]
    return np.unravel_index(squares.argmin(), (shares.size, totals.size))


def _around(grid, best, most):
    """A finer grid with the best point in its middle, two steps wide to both sides, no further than zero and `most`."""
    reach = _KEPT * max(grid[min(best + 1, grid.size - 1)] - grid[best], grid[best] - grid[max(best - 1, 0)])
    return np.linspace(max(grid[best] - reach, 0.0), min(grid[best] + reach, most), _NEXT_GRIDS)


def _judged(record, delay, lag, lasts, swing):
    pair = np.array([delay]), np.array([lag])
    gain, rest, squares = (float(part[0]) for part in _lines(record, *pair, _states(*record[2:], pair[1])))
    noise = float(np.sqrt(squares / (record[0].size - 4)))
    shown = float(-np.expm1(-max(lasts - delay, 0.0) / lag))
    moved = abs(gain) * swing * shown
    if moved <= noise:
        raise ValueError(f"reading must answer to the step by more than its own noise, got {moved:g} in a noise of {noise:g}")
    if shown < LEAST_SHOWN:
        raise ValueError(f"time_s must run on until the reading has nearly settled, got {100 * shown:.0f} % of the change")
    return StepFit(gain, float(lag), float(delay), rest, noise, shown)


AIR_VISCOSITY_PA_S = 1.82e-5  # of air at 20 °C; from memory, not verified
INSTRUMENT_M3 = 1e-5  # air inside a transmitter and its fittings; common practice, no source
GAMMA = 1.4  # ratio of the specific heats of air


def line_resistance(length_m, bore_m, viscosity_pa_s=AIR_VISCOSITY_PA_S):
    """Pressure that laminar flow through a round tube costs, per flow.

    length_m zero or more [m], bore_m inner diameter [m], viscosity_pa_s [Pa s]; broadcast. Returns [Pa s/m3].
    Equation: 128 mu L / (pi d^4), Hagen and Poiseuille. Source: any textbook of fluid mechanics; from memory, not verified.
    Limits: laminar, which the little air is that an instrument breathes; no bends, valves or snubbers, no water in the tube.
    Raises ValueError for a length below zero, a bore or viscosity that is not positive.

    >>> print(f"{line_resistance(10.0, 0.004):.3g} Pa s/m3")
    2.9e+07 Pa s/m3
    """
    length, bore = require.at_least(0, length_m=length_m), require.positive(bore_m=bore_m)
    return require.finite(resistance=128 * require.positive(viscosity_pa_s=viscosity_pa_s) * length / (np.pi * bore**4))


def tube_lag(length_m, bore_m, instrument_m3=INSTRUMENT_M3, pressure_pa=101325.0, viscosity_pa_s=AIR_VISCOSITY_PA_S):
    """Time constant with which the air of tube and instrument fills through the tube.

    length_m [m], bore_m [m], instrument_m3 air inside the instrument [m3], pressure_pa of the air [Pa absolute]; broadcast. Returns [s].
    Equation: R (V_tube / 2 + V_instrument) / p. The tube's own air lies along its resistance, so that half of it counts: this is the mean
    time of the step answer of a line whose resistance and volume are spread evenly (Elmore's delay; from memory, not verified; checked
    against the line in many pieces in the tests). Isothermal: in a thin tube the wall keeps the air's temperature.
    Limits: a lag only. Where tube_lag is well below travel_time the tube is wide and the pressure may ring in it instead of creeping;
    water, kinks, snubbers and valves make it many times longer, and no formula knows them.

    >>> print(f"{tube_lag(10.0, 0.004):.3f} s, with 30 m {tube_lag(30.0, 0.004):.2f} s, with 30 m of 3 mm {tube_lag(30.0, 0.003):.2f} s")
    0.021 s, with 30 m 0.17 s, with 30 m of 3 mm 0.31 s
    """
    resistance = line_resistance(length_m, bore_m, viscosity_pa_s)
    tube = np.pi / 4 * np.asarray(bore_m, float) ** 2 * np.asarray(length_m, float)
    volume = tube / 2 + require.at_least(0, instrument_m3=instrument_m3)
    return require.finite(tube_lag_s=resistance * volume / require.positive(pressure_pa=pressure_pa))


def speed_of_sound(temp_c=20.0):
    """Speed of sound in air [m/s] at a temperature [°C]; broadcasts. Equation: sqrt(gamma R T), gamma 1.4, dry air.

    >>> print(f"{speed_of_sound():.0f} m/s")
    343 m/s
    """
    return np.sqrt(GAMMA * R_DRY_AIR * (require.between(-100, 200, temp_c=temp_c) + 273.15))


def travel_time(length_m, temp_c=20.0):
    """Dead time of a tube [s]: no change arrives before sound does. length_m [m], temp_c [°C]; broadcast.

    >>> print(f"{travel_time(30.0):.3f} s")
    0.087 s
    """
    return require.at_least(0, length_m=length_m) / speed_of_sound(temp_c)
