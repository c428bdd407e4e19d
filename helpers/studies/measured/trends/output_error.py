"""First order and delay laid through windows of a log: the answer to any input, the best fit, how sure it is.

The input is what the fan did (its measured speed), so that a drive's ramp is input and no lag. Each window has a gain and a rest of its
own, lag and delay are one for all of them. Noise that remembers the sample before it (wind) is taken out of the comparison by the first
order of its memory; without that a closed loop, in which noise comes back through the fan, would bias the fit.
Limits: one lag; a window begins at rest or where the window before it ends; rows that are missing only part the comparison there.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

SHORTEST_S = 1e-6  # of a lag: no division is by zero, and no answer shows it
GRID, TURNS, FEWER_S = 26, 12, 1e-4  # lags and delays of the first search, steps of the second, when they end (of both times together)
MEMORY_TURNS, MOST_MEMORY = 2, 0.98
DRAWS, REACH, CELLS = 400, 4.0, 15  # of the bootstrap: draws, width of its grid in standard deviations to each side, points on a side
LEVEL = 0.90


@dataclass(frozen=True)
class Windows:
    """Windows of a log, one behind the other. time_s, inputs, reading (n,): reading NaN where there is none; starts (m,): where each window
    begins; joined (m,): whether it goes on where the one before it ends; held: whether the input jumps at each sample and is held to the
    next, else it goes straight from one to the next; one_gain: whether all have the same gain."""

    time_s: np.ndarray
    inputs: np.ndarray
    reading: np.ndarray
    starts: np.ndarray
    joined: np.ndarray
    held: bool = False
    one_gain: bool = False

    @cached_property
    def sizes(self):
        """Samples of each window (m,)."""
        return np.diff(np.append(self.starts, self.time_s.size))

    @cached_property
    def owner(self):
        """Number of the window of each sample (n,)."""
        return np.repeat(np.arange(self.starts.size), self.sizes)

    @cached_property
    def begins_s(self):
        """From when on the input is known, for each sample (n,): the start of the first of the windows that are joined."""
        first = np.maximum.accumulate(np.where(self.joined, 0, np.arange(self.starts.size)))
        return self.time_s[self.starts[first]][self.owner]

    @cached_property
    def slopes(self):
        """Slope of the input from each sample on (n,)."""
        rise = np.diff(self.inputs) / np.diff(self.time_s)
        return np.zeros(self.time_s.size) if self.held else np.append(rise, 0.0)

    @cached_property
    def step_s(self):
        """Median time from sample to sample."""
        return float(np.median(np.diff(self.time_s)[np.diff(self.owner) == 0]))

    def part(self, numbers):
        """`Windows` of some of them."""
        chosen = np.isin(self.owner, numbers)
        numbers = np.flatnonzero(np.isin(np.arange(self.starts.size), numbers))
        joined = self.joined[numbers] & np.isin(numbers - 1, numbers)
        starts = np.concatenate([[0], np.cumsum(self.sizes[numbers])[:-1]])
        return Windows(self.time_s[chosen], self.inputs[chosen], self.reading[chosen], starts, joined, self.held, self.one_gain)


def states(windows, lags_s):
    """Answer of lags (L,) of gain one, without delay, at the samples [L, n].

    Equation: x' = (u - x) / lag, exact for an input of straight pieces; at rest where a window begins that is not joined to another.
    All samples at once: the pieces are put together in pairs, then pairs of pairs. Source: text-book (from memory, not verified).
    """
    t, u, lags = windows.time_s, windows.inputs, np.maximum(np.asarray(lags_s, float), SHORTEST_S)[:, None]
    decay = np.exp(-np.diff(t, prepend=t[0] - 1.0) / lags)
    before, rise = np.concatenate([u[:1], u[:-1]]), np.concatenate([[0.0], windows.slopes[:-1]])
    after = before + rise * np.diff(t, prepend=t[0] - 1.0)
    part = after - lags * rise - (before - lags * rise) * decay
    new = windows.starts[~windows.joined]
    decay[:, new], part[:, new] = 0.0, u[new]
    shift = 1
    while shift < t.size and decay.max() > 1e-14:
        part[:, shift:] = part[:, shift:] + decay[:, shift:] * part[:, :-shift]
        decay[:, shift:] = decay[:, shift:] * decay[:, :-shift]
        decay[:, :shift] = 0.0
        shift *= 2
    return part


def answers(windows, lags_s, delays_s):
    """Answers of gain one [pairs, n] at the samples, of pairs of lag and delay (p,) each [s]."""
    t, u = windows.time_s, windows.inputs
    lags, of_lag = np.unique(np.maximum(lags_s, SHORTEST_S), return_inverse=True)
    delays, of_delay = np.unique(np.maximum(delays_s, 0.0), return_inverse=True)
    state = states(windows, lags)
    at = np.maximum(t - delays[:, None], windows.begins_s)
    place = np.clip(np.searchsorted(t, at, side="right") - 1, 0, t.size - 1)
    since = at - t[place]
    start, rise = u[place], windows.slopes[place]
    found = np.empty((len(of_lag), t.size))
    for k, (i, j) in enumerate(zip(of_lag, of_delay, strict=True)):
        lag, slope = lags[i], rise[j]
        behind = start[j] - lag * slope
        found[k] = behind + slope * since[j] + (state[i][place[j]] - behind) * np.exp(-since[j] / lag)
    return found


class ComparedReading:
    """Readings and answers as they are compared: without the noise's memory, each window about its own mean.

    memory: share of the noise that is still there a sample later [-]; used (k,): samples whose reading is known, and with a memory that of
    the sample before them, too.
    """

    def __init__(self, windows, memory=0.0):
        self.windows, self.memory = windows, memory
        known = np.isfinite(windows.reading)
        if memory:
            apart = np.diff(windows.time_s, prepend=-np.inf)
            follows = np.diff(windows.owner, prepend=-1) == 0
            known &= np.roll(known, 1) & follows & (np.abs(apart - windows.step_s) < 0.25 * windows.step_s)
        self.used = np.flatnonzero(known)
        self.owner = windows.owner[self.used]
        self.count = np.bincount(self.owner, minlength=windows.starts.size)
        self.begins = np.concatenate([[0], np.cumsum(self.count)[:-1]])
        self.reading = self.seen(np.where(np.isfinite(windows.reading), windows.reading, 0.0))

    def seen(self, values):
        """Values [..., n] as they are compared [..., k]."""
        now = values[..., self.used]
        if self.memory:
            now = now - self.memory * values[..., self.used - 1]
        return now - self.sums(now)[..., self.owner] / self.count[self.owner]

    def sums(self, values):
        """Sums of values [..., k] over each window [..., m]."""
        whole = np.concatenate([np.zeros((*values.shape[:-1], 1)), np.cumsum(values, axis=-1)], axis=-1)
        return whole[..., self.begins + self.count] - whole[..., self.begins]

    def gains(self, seen):
        """(best gains [..., m], squares they explain [..., m]) of answers as they are compared [..., k]."""
        size, along = self.together(self.sums(seen**2)), self.together(self.sums(seen * self.reading))
        gains = np.divide(along, size, out=np.zeros_like(along), where=size > 1e-12)
        return gains, gains * along

    def together(self, sums):
        """Sums over windows [..., m], where all have one gain those of all."""
        return np.broadcast_to(sums.sum(-1, keepdims=True), sums.shape) if self.windows.one_gain else sums

    def left(self, lag, delay):
        """(residuals (k,), gains (m,), answer as compared (k,)) of one pair."""
        seen = self.seen(answers(self.windows, [lag], [delay]))[0]
        gains = self.gains(seen)[0]
        return self.reading - gains[self.owner] * seen, gains, seen


@dataclass(frozen=True)
class Fit:
    """One fit: lag_s, delay_s; gains (m,), rests (m,) of the windows [reading at input zero]; noise [reading], of what has no memory;
    memory [-]; fitted (n,); residuals (k,) of `comparison`; draws: of the bootstrap, lag_s and delay_s [draws], gains [draws, m]."""

    lag_s: float
    delay_s: float
    gains: np.ndarray
    rests: np.ndarray
    noise: float
    memory: float
    fitted: np.ndarray
    residuals: np.ndarray
    comparison: ComparedReading
    draws: dict[str, np.ndarray]

    def between(self, name):
        """(low, high) that hold LEVEL of the draws, of "lag_s", "delay_s" or, [m] each, "gains"."""
        return tuple(np.quantile(self.draws[name], [(1 - LEVEL) / 2, (1 + LEVEL) / 2], axis=0))


def fit(windows, seed=0, memory=None):
    """The fit of all windows. memory: of the noise, None to find it. Returns `Fit`.

    Equation: least squares of rest + gain x answer in each window, over lag and delay: a grid, then Gauss and Newton's steps with the
    gains projected out (Golub and Pereyra 1973, from memory, not verified); bootstrap of the residuals over a grid around the best.
    Raises ValueError where no answer moves.
    """
    known = ComparedReading(windows)
    longest = max(
        float(windows.time_s[end - 1] - windows.time_s[start])
        for start, end in zip(windows.starts, windows.starts + windows.sizes, strict=True)
    )
    lag, delay = _first(windows, known, longest)
    found = 0.0 if memory is None else memory
    for turn in range(1 if memory is not None else MEMORY_TURNS):
        known = ComparedReading(windows, found)
        lag, delay = _sharpened(known, lag, delay, longest)
        if memory is None and turn < MEMORY_TURNS - 1:
            found = _memory(ComparedReading(windows), lag, delay)
    known = ComparedReading(windows, found)
    lag, delay = _sharpened(known, lag, delay, longest)
    residuals, gains, _ = known.left(lag, delay)
    free = max(residuals.size - 2 * windows.starts.size - 2, 1)
    noise = float(np.sqrt((residuals**2).sum() / free))
    answer, bare = answers(windows, [lag], [delay])[0], ComparedReading(windows)
    read = np.where(np.isfinite(windows.reading), windows.reading, 0.0)
    rests = (bare.sums(read[bare.used]) - gains * bare.sums(answer[bare.used])) / np.maximum(bare.count, 1)
    draws = _drawn(known, lag, delay, residuals * np.sqrt(residuals.size / free), gains, noise, longest, np.random.default_rng(seed))
    return Fit(lag, delay, gains, rests, noise, found, rests[windows.owner] + gains[windows.owner] * answer, residuals, known, draws)


def _first(windows, known, longest):
    """Best of a grid, on some of the windows."""
    some = windows.part(np.unique(np.linspace(0, windows.starts.size - 1, min(windows.starts.size, 6)).astype(int)))
    lags = np.concatenate([[SHORTEST_S], np.geomspace(some.step_s / 5, longest, GRID - 1)])
    delays = np.concatenate([[0.0], np.geomspace(some.step_s / 5, longest / 2, GRID - 1)])
    pairs = [of.ravel() for of in np.meshgrid(lags, delays, indexing="ij")]
    compared = ComparedReading(some)
    explained = compared.gains(compared.seen(answers(some, *pairs)))[1].sum(-1)
    if not explained.max() > 0:
        raise ValueError("the reading answers to nothing that the fan did")
    best = int(explained.argmax())
    return float(pairs[0][best]), float(pairs[1][best])


def _slopes(known, lag, delay, gains):
    """Slopes of the compared reading by lag and delay (2, k), gains projected out."""
    small = 1e-3 * max(lag + delay, known.windows.step_s)
    lags = np.array([lag + small, max(lag - small, SHORTEST_S), lag, lag])
    delays = np.array([delay, delay, delay + small, max(delay - small, 0.0)])
    seen = known.seen(answers(known.windows, lags, delays))
    wide = np.array([lags[0] - lags[1], delays[2] - delays[3]])
    slopes = np.stack([seen[0] - seen[1], seen[2] - seen[3]]) / wide[:, None] * gains[known.owner]
    middle = known.seen(answers(known.windows, [lag], [delay]))[0]
    size = known.together(known.sums(middle**2))
    along = np.divide(known.together(known.sums(slopes * middle)), size, out=np.zeros((2, size.size)), where=size > 1e-12)
    return slopes - along[:, known.owner] * middle


def _sharpened(known, lag, delay, longest):
    """Gauss and Newton's steps, shortened till they help."""
    residuals, gains, _ = known.left(lag, delay)
    squares = float((residuals**2).sum())
    for _ in range(TURNS):
        slopes = _slopes(known, lag, delay, gains)
        step = np.linalg.lstsq(slopes.T, residuals, rcond=1e-6)[0]
        for share in (1.0, 0.5, 0.2, 0.05, 0.01):
            tried = min(max(lag + share * step[0], SHORTEST_S), 2 * longest), min(max(delay + share * step[1], 0.0), longest)
            left, its, _ = known.left(*tried)
            if (left**2).sum() < squares:
                break
        else:
            return lag, delay
        moved = abs(tried[0] - lag) + abs(tried[1] - delay)
        (lag, delay), residuals, gains, squares = tried, left, its, float((left**2).sum())
        if moved < FEWER_S * (lag + delay):
            break
    return float(lag), float(delay)


def _memory(known, lag, delay):
    """Share of the residual that is still there a sample later."""
    residuals, _, _ = known.left(lag, delay)
    near = (np.diff(known.used) == 1) & (np.diff(known.owner) == 0)
    one, two = residuals[:-1][near], residuals[1:][near]
    size = float((one**2).sum())
    if not size > 0:
        return 0.0
    found = float((one * two).sum() / size)
    # about a mean that is fitted too it comes out too small, by (1 + 3 memory) / samples; Marriott and Pope 1954 (from memory, not
    # verified)
    return float(np.clip(found + (1 + 3 * found) / np.mean(known.count), 0.0, MOST_MEMORY)) if found > 0 else 0.0


def _drawn(known, lag, delay, residuals, gains, noise, longest, rng):
    """Lag, delay and gains of readings with their residuals drawn again."""
    slopes = _slopes(known, lag, delay, gains)
    spread = np.linalg.pinv(slopes @ slopes.T, rcond=1e-10) * max(noise, 1e-12) ** 2
    values, ways = np.linalg.eigh(spread)
    wide = np.clip(np.sqrt(np.maximum(values, 0)), 1e-6 * (lag + delay + known.windows.step_s), longest / REACH)
    one = np.linspace(-REACH, REACH, CELLS)
    z = np.stack([of.ravel() for of in np.meshgrid(one, one, indexing="ij")])
    grid = np.array([lag, delay])[:, None] + (ways * wide) @ z
    bound = (grid[0] < SHORTEST_S) | (grid[1] < 0)
    grid = np.maximum(grid, [[SHORTEST_S], [0.0]])
    seen = known.seen(answers(known.windows, *grid))
    at_best = known.seen(answers(known.windows, [lag], [delay]))[0] * gains[known.owner]
    drawn = at_best + residuals[rng.integers(0, residuals.size, (DRAWS, residuals.size))]
    explained, each = np.zeros((DRAWS, CELLS * CELLS)), []
    whole = (
        [slice(0, known.used.size)]
        if known.windows.one_gain
        else [slice(begin, begin + count) for begin, count in zip(known.begins, known.count, strict=True)]
    )
    for its in whole:
        size = np.maximum((seen[:, its] ** 2).sum(-1), 1e-12)
        along = drawn[:, its] @ seen[:, its].T
        explained += along**2 / size
        each.append(along / size)
    each *= known.windows.starts.size // len(each)
    best = explained.argmax(-1)
    place = np.array(np.unravel_index(best, (CELLS, CELLS)))
    inner = np.clip(place, 1, CELLS - 2)
    offset = _top(explained.reshape(DRAWS, CELLS, CELLS), bound.reshape(CELLS, CELLS), inner, place)
    at = one[place] + offset * (one[1] - one[0])
    pair = np.array([lag, delay])[:, None] + (ways * wide) @ at
    return {
        "lag_s": np.maximum(pair[0], 0.0),
        "delay_s": np.maximum(pair[1], 0.0),
        "gains": np.stack([of[np.arange(DRAWS), best] for of in each], axis=-1),
    }


def _top(explained, bound, inner, place):
    """How far the top lies from the best point of the grid, in its cells: where a parabola over the nine points around it has it; none at
    the edge of the grid and where a time is at zero."""
    rows = np.arange(explained.shape[0])
    nine = {(i, j): explained[rows, inner[0] + i, inner[1] + j] for i in (-1, 0, 1) for j in (-1, 0, 1)}
    slope = np.stack([(nine[1, 0] - nine[-1, 0]) / 2, (nine[0, 1] - nine[0, -1]) / 2])
    bend = np.stack([nine[1, 0] - 2 * nine[0, 0] + nine[-1, 0], nine[0, 1] - 2 * nine[0, 0] + nine[0, -1]])
    cross = (nine[1, 1] - nine[1, -1] - nine[-1, 1] + nine[-1, -1]) / 4
    whole = bend[0] * bend[1] - cross**2
    safe = (
        (inner == place).all(0) & (whole > 0) & ~np.any([bound[inner[0] + i, inner[1] + j] for i in (-1, 0, 1) for j in (-1, 0, 1)], axis=0)
    )
    whole = np.where(safe, whole, 1.0)
    top = -np.stack([bend[1] * slope[0] - cross * slope[1], bend[0] * slope[1] - cross * slope[0]]) / whole
    return np.where(safe, np.clip(top, -1, 1), 0.0)
