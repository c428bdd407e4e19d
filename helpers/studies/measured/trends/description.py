"""What a trend log is like before anything is fitted: how often, where it has gaps, what stands still, clips, jumps, swings and ramps.

Each finding names what it was seen from; where the log cannot tell, it says so. Limits: findings are of the log, not of the plant: a
reading that stands still may be a tube, a module, or a log that writes a value only when it changes.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from helpers.studies.measured.doubts.mistyped import INCH_PA, TWICE
from helpers.studies.measured.trends.moves import GAP, filled, moves_of, ramps_of
from helpers.studies.report import listed
from helpers.units.said import three, two, with_unit

FROZEN_S, FROZEN_ROWS = 10.0, 20  # ours: a value that stands so long to the last digit, while it moves elsewhere
CLIPPED_ROWS, CLIPPED_SHARE = 5, 0.02  # ours: rows side by side at the largest or smallest value, share of all rows
JUMPS_IN = 0.02  # ours: share of the column's reach in the row in which it comes to an end: what settles there comes slowly
# Of change-of-value logging, ours: spread of the samples by their median, share of rows in which something changed, samples of a quiet time
# by their median, share of them.
UNEVEN, CHANGES, QUIET, FEW_QUIET = 0.3, 0.9, 10.0, 0.01
AVERAGED_S, BETWEEN = 5.0, 0.6  # ours: from which sample on averages are looked for, share of steps with a value between
FEWEST_SWINGS, STEADY = 6, 0.35  # of hunting: half swings, spread of their length by its median
MOST_AT_ONCE, PARTS, FEWEST_IN_SWING = 100_000, 4, 40  # rows in which a swing is looked for at once; parts of a log; rows
BEYOND_SHARE, BEYOND_ROWS = 0.1, 0.01  # ours: of the span, beyond which no signal goes; of the rows, which spikes may be
SAME_FAN = 0.3  # ours: share of the largest by which the fan's middle may differ before and after a change of unit
NAMED = 3


@dataclass(frozen=True)
class Stretch:
    """Rows from from_s to until_s [s]; value: what stands there (NaN: nothing)."""

    from_s: float
    until_s: float
    value: float = np.nan

    @property
    def seconds(self):
        """How long it is."""
        return self.until_s - self.from_s


@dataclass(frozen=True)
class Swing:
    """A swing to and fro: period_s, amplitude (half of peak to peak), cycles that were seen, from_s and until_s of the part looked at."""

    period_s: float
    amplitude: float
    cycles: float
    from_s: float = 0.0
    until_s: float = np.inf


@dataclass(frozen=True)
class ColumnSeen:
    """One column. least, most; noise: standard deviation from row to row, without drift and steps; step: smallest change, of which
    all are multiples (0: none was found); frozen: of `Stretch`; clipped: those at an end; swing: `Swing` or None; missing: rows."""

    heading: str
    least: float
    most: float
    noise: float
    step: float
    frozen: tuple[Stretch, ...]
    clipped: tuple[Stretch, ...]
    swing: Swing | None
    missing: int


@dataclass(frozen=True)
class TrendSeen:
    """A log described. sample_s: median, worst_s: longest; gaps: of `Stretch`; on_change: whether rows were written when something
    changed; averaged: whether values look like means over each interval; columns: of `ColumnSeen`; ramps: (up, down) of the fan's
    column [units a second], NaN where none was seen; remarks: sentences; unit_changed: of the reading within the log, in a sentence, ""."""

    rows: int
    length_s: float
    sample_s: float
    worst_s: float
    gaps: tuple[Stretch, ...]
    on_change: bool
    averaged: bool
    columns: tuple[ColumnSeen, ...]
    ramps: tuple[float, float]
    remarks: tuple[str, ...]
    unit_changed: str = ""

    def column(self, heading):
        """`ColumnSeen` of a heading."""
        return next(one for one in self.columns if one.heading == heading)


def describe(trend):
    """Describe a log. trend: `Trend`. Returns `TrendSeen`."""
    time_s, apart = trend.time_s, np.diff(trend.time_s)
    sample, fan = float(np.median(apart)), filled(trend.values[trend.input])
    late = np.flatnonzero(apart > GAP * sample)
    on_change = written_on_change(trend)
    gaps = () if on_change else tuple(Stretch(float(time_s[k]), float(time_s[k + 1])) for k in late)
    columns = tuple(
        _column(heading, time_s, values, on_change, on_change or heading not in trend.columns.readings)
        for heading, values in trend.values.items()
    )
    moves = moves_of(time_s, fan)
    averaged = not on_change and averaged_values(time_s, fan)
    ramps = ramps_of(time_s, fan, moves) if trend.columns.speed else (np.nan, np.nan)
    length = float(time_s[-1])
    seen = TrendSeen(trend.rows, length, sample, float(apart.max()), gaps, on_change, averaged, columns, ramps, (), unit_changed(trend))
    return TrendSeen(**{**vars(seen), "remarks": tuple(_said(seen, trend))})


def unit_changed(trend):
    """That the controlled pressure is in another unit from some row on, in a sentence; "" where it is not seen.

    It is where all rows after one are some INCH_PA times, or that part of, those before (within TWICE, by their medians), while the fan
    stands as it stood (SAME_FAN). Limits: one change, between Pa and in. w.c.; a fan that starts moves both columns and is none.
    """
    heading = trend.controlled
    values, fan = np.abs(trend.values[heading]), trend.values[trend.input]
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(fan) & (values > 0))
    if trend.dimensions[heading] != "pressure" or known.size < 2 * FROZEN_ROWS:
        return ""
    ends = np.quantile(values[known], [0.05, 0.95])
    large = values[known] > np.sqrt(ends.prod())
    first = int(np.flatnonzero(large != large[0])[0]) if large.any() and not large.all() else 0
    if not first or (large[first:] == large[0]).mean() > CLIPPED_SHARE:
        return ""
    before, after = known[:first], known[first:]
    times = float(np.median(values[after]) / np.median(values[before]))
    moved = abs(float(np.median(fan[after])) - float(np.median(fan[before]))) > SAME_FAN * float(np.abs(fan[known]).max())
    if moved or not any(1 / TWICE < times / factor < TWICE for factor in (INCH_PA, 1 / INCH_PA)):
        return ""
    many = f"{max(times, 1 / times):.0f} times"
    return (
        f"From line {trend.lines[after[0]]} on {heading!r:.60} is {many if times > 1 else f'{many} less than'} what it was before, with "
        "the fan as it was: another unit from there on (Pa, in. w.c.)? Log it in one unit; nothing of this test is used."
    )


def beyond_the_span(trend, taps):
    """That a log's reading is beyond what any of a site's transmitters shows, in words; "" where it is not. taps: of `Transmitter`.

    More than BEYOND_ROWS of its rows lie beyond the widest range by more than BEYOND_SHARE of its span: a signal ends there, so it is
    another unit than the heading's, or another transmitter's log.
    """
    heading = trend.controlled
    values = trend.values[heading][np.isfinite(trend.values[heading])]
    if trend.dimensions[heading] != "pressure" or not taps or not values.size:
        return ""
    low, high = min(tap.range_low_pa for tap in taps), max(tap.range_high_pa for tap in taps)
    room = BEYOND_SHARE * (high - low)
    if np.mean((values < low - room) | (values > high + room)) <= BEYOND_ROWS:
        return ""
    ends = [" to ".join(with_unit(float(end), "pressure", (0, 2)) for end in pair) for pair in ((values.min(), values.max()), (low, high))]
    return f"{heading!r:.60} runs from {ends[0]}, beyond the span of {listed(tap.name for tap in taps)} ({ends[1]}): unit?"


def written_on_change(trend):
    """Whether rows come when something changed: unevenly, with a change in nearly each and quiet times between that are far longer than
    rows that are lost here and there leave."""
    apart = np.diff(trend.time_s)
    uneven = float(np.subtract(*np.quantile(apart, [0.9, 0.1]))) > UNEVEN * float(np.median(apart))
    changed = np.zeros(apart.size, bool)
    for values in trend.values.values():
        changed |= np.abs(np.diff(filled(values))) > 0
    return bool(uneven and changed.mean() > CHANGES and np.mean(apart > QUIET * np.median(apart)) > FEW_QUIET)


def _column(heading, time_s, values, on_change, may_stand):
    known = values[np.isfinite(values)]
    return ColumnSeen(
        heading, float(known.min()), float(known.max()), noise_of(known), step_of(known), () if may_stand else _frozen(time_s, values),
        () if on_change else clipped_of(time_s, values), swing_of(time_s, values), int(values.size - known.size),
    )  # fmt: skip


def noise_of(values):
    """Standard deviation from row to row (n,): from second differences, whose median no drift and no step moves; of quantised values that
    mostly stand still, from all but the largest twentieth."""
    second = np.abs(np.diff(values, 2)) / np.sqrt(6)
    if second.size < 5:
        return np.nan
    middle = float(np.median(second)) * 1.4826
    return middle if middle > 0 else float(np.sqrt(np.mean(np.sort(second)[: int(0.95 * second.size)] ** 2)))


def step_of(values):
    """The smallest change that all others are multiples of, within rounding; 0 where there is none that is seen."""
    changes = np.abs(np.diff(values))
    changes = changes[changes > 1e-9]
    if changes.size < 5:
        return 0.0
    small = float(np.quantile(changes, 0.02))
    small = float(np.median(changes[changes < 1.5 * small]))
    return small if np.mean(np.abs(changes / small - np.round(changes / small)) < 0.1) > 0.95 else 0.0


def runs_of(flags):
    """(first rows, rows after the last) of stretches that are True."""
    edge = np.diff(np.concatenate([[0], flags.astype(int), [0]]))
    return np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)


def _frozen(time_s, values):
    """Stretches in which a value stands to the last digit for far longer than it does elsewhere."""
    still = np.concatenate([np.diff(values) == 0, [False]])
    begins, ends = runs_of(still)
    if not begins.size or still.mean() > 0.9:
        return ()
    usual = float(np.median(np.diff(np.flatnonzero(~still), prepend=-1)))
    lasting = time_s[np.minimum(ends, time_s.size - 1)] - time_s[begins]
    long = (ends - begins + 1 >= max(FROZEN_ROWS, 6 * usual)) & (lasting >= FROZEN_S)
    return tuple(
        Stretch(float(time_s[i]), float(time_s[min(j, time_s.size - 1)]), float(values[i]))
        for i, j in zip(begins[long], ends[long], strict=True)
    )


def clipped_of(time_s, values):
    """Stretches at the largest or smallest value, where the rest of the time it moves: an end of a range or of an output."""
    found, count = [], np.isfinite(values).sum()
    least, most = np.nanmin(values), np.nanmax(values)
    for end in (least, most):
        at = values == end
        begins, ends = runs_of(at)
        long = ends - begins >= CLIPPED_ROWS
        share = (ends - begins)[long].sum() / count
        into = np.abs(values[begins] - values[np.maximum(begins - 1, 0)])[long]
        if most > least and CLIPPED_SHARE < share < 0.9 and np.any(into > JUMPS_IN * (most - least)) and _still_elsewhere(values, at) < 0.5:
            found += [Stretch(float(time_s[i]), float(time_s[j - 1]), float(end)) for i, j in zip(begins[long], ends[long], strict=True)]
    return tuple(sorted(found, key=lambda one: one.from_s))


def _still_elsewhere(values, at):
    """Share of rows that repeat the one before them, among those that are not at an end."""
    free = ~at[1:] & ~at[:-1]
    return float(np.mean(np.diff(values)[free] == 0)) if free.any() else 1.0


def averaged_values(time_s, fan):
    """Whether most jumps of the fan's column have one value between two rests: the mean over the interval in which it jumped (or a ramp
    that takes part of one)."""
    sample, moves = float(np.median(np.diff(time_s))), moves_of(time_s, fan)
    if sample < AVERAGED_S or len(moves) < 2:
        return False
    return bool(np.mean([move.to_row - move.from_row == 2 for move in moves]) >= BETWEEN)


def swing_of(time_s, values):
    """`Swing` of a column that goes to and fro evenly about its slow course: over all of it, else over the part of it (of PARTS) that
    swings most; None where none does. A log of more than MOST_AT_ONCE rows is looked at in parts of so many."""
    values = filled(values)
    if values.size <= MOST_AT_ONCE:
        whole = _swing_of(time_s, values)
        if whole is not None:
            return whole
    parts = max(PARTS, -(-values.size // MOST_AT_ONCE))
    ends = np.linspace(0, values.size, parts + 1).astype(int)
    found = [_swing_of(time_s[begin:end], values[begin:end]) for begin, end in pairwise(ends)]
    return max((one for one in found if one is not None), key=lambda one: one.amplitude, default=None)


def _swing_of(time_s, values):
    if values.size < FEWEST_IN_SWING or not np.ptp(values) > 0:
        return None
    step = float(np.median(np.diff(time_s)))
    if not (time_s[-1] - time_s[0]) / step < 2 * MOST_AT_ONCE:  # mostly gaps: judged before an even grid is laid over them
        return None
    even = np.arange(time_s[0], time_s[-1] + step / 2, step)
    level = np.interp(even, time_s, values)
    spectrum = np.abs(np.fft.rfft((level - np.poly1d(np.polyfit(even, level, 1))(even)) * np.hanning(even.size))) ** 2
    spectrum[: FEWEST_SWINGS // 2] = 0.0
    best = int(spectrum.argmax())
    if best == 0 or best > even.size / 3:
        return None
    period = even.size * step / best
    wide = max(round(period / step), 3)
    whole = np.concatenate([[0.0], np.cumsum(level)])
    slow = (whole[wide:] - whole[:-wide]) / wide
    first = wide // 2
    rest = level[first : first + slow.size] - slow
    scale = float(np.std(rest))
    smooth = np.convolve(rest, np.ones(max(wide // 8, 1)) / max(wide // 8, 1), mode="same")
    beyond = np.where(smooth > 0.4 * scale, 1, np.where(smooth < -0.4 * scale, -1, 0))
    beyond = beyond[beyond != 0], np.flatnonzero(beyond != 0)
    turns = beyond[1][1:][np.diff(beyond[0]) != 0]
    if turns.size < FEWEST_SWINGS + 1:
        return None
    halves = np.diff(turns) * step
    near = np.abs(halves - np.median(halves)) < STEADY * np.median(halves)
    if near.mean() < 0.7 or near.sum() < FEWEST_SWINGS:
        return None
    amplitude = float(np.median([np.abs(smooth[i : j + 1]).max() for i, j in pairwise(turns)]))
    if amplitude < 2 * noise_of(level) and amplitude < 3 * scale / 2:
        return None
    return Swing(2 * float(np.median(halves)), amplitude, turns.size / 2, float(time_s[0]), float(time_s[-1]))


def _said(seen, trend):
    if seen.on_change:
        yield (
            f"Rows were written when a value changed, some every {two(seen.sample_s)} s, at the longest {three(seen.worst_s)} s apart: "
            f"between two "
            "rows a value may be anywhere within the change that it takes to write one."
        )
    elif seen.gaps:
        at = ", ".join(f"{gap.from_s:.0f} s" for gap in seen.gaps[:NAMED])
        longest = max(gap.seconds for gap in seen.gaps)
        slipped = ", more than all the rest of the log: look whether a time has slipped" if longest > seen.length_s / 2 else ""
        yield f"{len(seen.gaps)} gap{'' if len(seen.gaps) == 1 else 's'}, the longest {three(longest)} s{slipped}; the first after {at}."
    if seen.averaged:
        yield (
            f"The values look like means over each {three(seen.sample_s)} s: steps have one value between. Means hide noise, swing, delay "
            "and lag; ask for the values as they are."
        )
    for column in seen.columns:
        if column.frozen:
            longest = max(column.frozen, key=lambda one: one.seconds)
            yield (
                f"{column.heading!r:.60} stands at one value for {three(longest.seconds)} s from {longest.from_s:.0f} s on, and moves "
                f"elsewhere: "
                "look at tube, module and log."
            )
        if column.clipped:
            total = sum(one.seconds for one in column.clipped)
            yield (
                f"{column.heading!r:.60} is at one end of what it can show or give for {three(total)} s in all "
                f"({column.clipped[0].value:.4g})."
            )
    if trend.columns.speed and not np.isfinite(seen.ramps).any():
        yield "No ramp is seen: the fan makes no move that lasts three rows."
