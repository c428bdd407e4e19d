"""Where a log moves: moves of the fan or of the set point, with rests between; ramps as found; windows for a step test."""

from dataclasses import dataclass

import numpy as np

from helpers.studies.measured.trends.output_error import Windows

SHARE_OF_LARGEST = 0.25  # ours: a move that is less of the largest is none of the test
MOST_WINDOWS, MOST_SAMPLES = 24, 6000  # of one fit; of more they are taken evenly, and that is said
FEWEST_BEFORE, FEWEST_AFTER = 3, 8  # samples of a window
GAP = 2.5  # of the median sample: longer is a gap


@dataclass(frozen=True)
class LogMove:
    """One move: from_row, to_row (the first row of the new rest), from_s, to_s, before, after [in the column's unit]."""

    from_row: int
    to_row: int
    from_s: float
    to_s: float
    before: float
    after: float

    @property
    def size(self):
        """How far it goes, up above zero."""
        return self.after - self.before

    @property
    def seconds(self):
        """How long it takes."""
        return self.to_s - self.from_s


def filled(values):
    """Values (n,) with each NaN replaced by the last known one before it (the first known one at the beginning)."""
    known = np.isfinite(values)
    if known.all():
        return values
    place = np.maximum.accumulate(np.where(known, np.arange(values.size), -1))
    first = int(np.argmax(known))
    return values[np.where(place < 0, first, place)]


def moves_of(time_s, values):
    """Moves of a column, the largest and all that are SHARE_OF_LARGEST of it, in order. Returns a tuple of `LogMove`.

    A sample belongs to a move where the column changes there by more than its own rest does; moves with fewer than FEWEST_BEFORE samples
    between them are one, if they go the same way.
    """
    values = filled(np.asarray(values, float))
    change = np.diff(values)
    reach = np.ptp(values)
    if not reach > 0:
        return ()
    size = np.abs(change)
    noise = float(np.median(np.abs(np.diff(change)))) if change.size > 1 else 0.0  # a ramp has none, however long it is
    threshold = max(4 * noise, 1e-3 * reach)
    moving = np.flatnonzero(size > threshold)
    if not moving.size:
        return ()
    way = np.sign(change[moving])
    parts = np.flatnonzero((np.diff(moving) > FEWEST_BEFORE) | (np.diff(way) != 0)) + 1
    begins, ends = moving[np.concatenate([[0], parts])], moving[np.concatenate([parts, [moving.size]]) - 1] + 1
    before, after = values[begins], values[ends]
    large = np.abs(after - before) >= SHARE_OF_LARGEST * np.abs(after - before).max()
    return tuple(
        LogMove(int(i), int(j), float(time_s[i]), float(time_s[j]), float(values[i]), float(values[j]))
        for i, j in zip(begins[large], ends[large], strict=True)
    )


def ramps_of(time_s, values, moves):
    """(units a second up, units a second down) of the moves that take three samples or more: the median of their steepest halves; NaN where
    there is none that way."""
    values, found = filled(np.asarray(values, float)), ([], [])
    for move in moves:
        if move.to_row - move.from_row >= 3:
            t, y = time_s[move.from_row : move.to_row + 1], values[move.from_row : move.to_row + 1]
            inside = np.abs(y - (move.before + move.after) / 2) <= 0.36 * abs(move.size)
            if inside.sum() >= 2:
                found[move.size < 0].append(abs(np.polyfit(t[inside] - t[0], y[inside], 1)[0]))
    return tuple(float(np.median(of)) if of else np.nan for of in found)


def _before(moves, k, samples):
    """Rows of rest that are taken before a move: a quarter of those since the move before it, no more than half a window."""
    free = moves[k].from_row - (moves[k - 1].to_row if k else 0)
    return max(FEWEST_BEFORE, min(samples // 2, free // (4 if k else 1)))


def windows_of(time_s, inputs, reading, moves, samples, held):
    """(`Windows` around the moves, the moves that are in them): so many samples before and after each, as far as the moves beside it allow.

    Where rows are missing a sample of the input is put in just before the next row: what came between was not logged, and the input is
    taken as it was.
    """
    if len(moves) > MOST_WINDOWS:
        moves = tuple(moves[int(k)] for k in np.linspace(0, len(moves) - 1, MOST_WINDOWS).round())
    samples = min(samples, MOST_SAMPLES // max(len(moves), 1))
    spans, kept, last = [], [], 0
    for k, move in enumerate(moves):
        begin = max(last, move.from_row - _before(moves, k, samples) + 1)
        end = min(move.to_row + samples, time_s.size)
        if k + 1 < len(moves):
            end = min(end, moves[k + 1].from_row - _before(moves, k + 1, samples) + 1)
        if move.from_row - begin >= FEWEST_BEFORE - 1 and end - move.to_row >= FEWEST_AFTER:
            spans.append((begin, end))
            kept.append(move)
            last = end
    if not spans:
        return None, ()
    parts, joined, step = [], [], float(np.median(np.diff(time_s)))
    for k, (begin, end) in enumerate(spans):
        t, u, y = time_s[begin:end], inputs[begin:end], reading[begin:end]
        gaps = np.flatnonzero(np.diff(t) > GAP * step) + 1
        if gaps.size and not held:
            t, u, y = (np.insert(of, gaps, put) for of, put in ((t, t[gaps] - step), (u, u[gaps - 1]), (y, np.nan)))
        parts.append((t, u, y))
        joined.append(k > 0 and spans[k - 1][1] == begin)
    starts = np.concatenate([[0], np.cumsum([len(part[0]) for part in parts])[:-1]])
    return Windows(*(np.concatenate(of) for of in zip(*parts, strict=True)), starts, np.array(joined), held), tuple(kept)
