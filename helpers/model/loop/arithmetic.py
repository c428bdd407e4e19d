"""Numbers of one run are plain floats, those of many runs are arrays: here are the few operations in which the two are not written alike.

Every block of the loop is written once, in sums, products, comparisons and what stands here. Ten minutes of one run are six thousand
samples of some dozens of sums each: plain floats take a tenth of the time that arrays of one number would.

A value is a float or an array [runs]. Rows hold one value for each transmitter: a list of floats or an array [transmitters, runs].
A flag is True or False or an array of them [runs]; False alone also stands for "in no run".
"""

from itertools import chain

import numpy as np

_WHOLE = 1.5 * 2.0**52  # beside it a float has no place for a fraction: adding it rounds


def arithmetic_for(runs):
    """The quickest arithmetic for a number of runs."""
    return OneRun() if runs == 1 else ManyRuns(runs)


class OneRun:
    """One run: floats, lists of floats."""

    runs = 1
    any = staticmethod(bool)

    @staticmethod
    def rounded(value):
        """The nearest whole number, still as a float, halves to the even one; numbers that are none stay none."""
        return value + _WHOLE - _WHOLE

    @staticmethod
    def within(value, low, high):
        """The value, no lower than `low` and no higher than `high`."""
        return low if value < low else high if value > high else value

    @staticmethod
    def choose(flag, this, that):
        """One of two values."""
        return this if flag else that

    @staticmethod
    def value(number):
        """A number of a setting as a value."""
        return float(np.ravel(number)[0])

    @staticmethod
    def rows(array):
        """An array [transmitters, runs] as rows."""
        return array[:, 0].tolist()

    @staticmethod
    def flag(chosen_runs):
        """A flag that is up in the runs of these numbers (None: in all)."""
        return chosen_runs is None or 0 in chosen_runs

    @staticmethod
    def blocks(kind, columns):
        """Blocks that together work on rows: one for each transmitter. columns: the fields of `kind`, each [transmitters, 1]."""
        return [kind(**dict(zip(columns, map(float, row), strict=True))) for row in np.column_stack(list(columns.values()))]

    @staticmethod
    def each(blocks, rows):
        """Rows that the blocks read out of rows."""
        return [block.read(row) for block, row in zip(blocks, rows)]  # noqa: B905 - a strict zip would take a third longer

    @staticmethod
    def record(samples, *places):
        """An empty record of one entry a sample, to be filled by place."""
        return [0.0] * samples

    @staticmethod
    def recorded(record):
        """A record as an array [samples, ..., runs]."""
        flat = chain.from_iterable(record) if isinstance(record[0], list) else record
        return np.fromiter(flat, float).reshape(len(record), *np.shape(record[0]), 1)

    @staticmethod
    def lines(values):
        """Straight lines between values [nodes, transmitters, runs] at 0, 1, 2 ..., for `looked_up`."""
        slope = np.diff(values[..., 0], axis=0)
        start = values[:-1, :, 0] - slope * np.arange(len(slope))[:, None]
        pairs = np.stack([start, slope], axis=-1).tolist()
        return [*pairs, pairs[-1]]  # the last node begins no line of its own

    @staticmethod
    def passing_lines(values, nodes):
        """Lines for one look only: values(chosen nodes) gives what lies there. So no more is worked out than is looked at."""
        return _Passing(values, nodes)

    @staticmethod
    def looked_up(lines, place):
        """Rows that the lines have at a place between the nodes."""
        return [start + slope * place for start, slope in lines[int(place)]]


class _Passing:
    def __init__(self, values, nodes):
        self._values, self._last = values, nodes - 2

    def __getitem__(self, place):
        place = min(place, self._last)
        low, high = self._values(slice(place, place + 2))[..., 0].tolist()
        return [(a - (b - a) * place, b - a) for a, b in zip(low, high, strict=True)]


class ManyRuns:
    """Many runs: arrays. `OneRun` says what each operation does."""

    rounded, choose = staticmethod(np.rint), staticmethod(np.where)

    def __init__(self, runs):
        self.runs, self._all = runs, np.arange(runs)

    @staticmethod
    def any(flag):
        return flag.any()

    @staticmethod
    def within(value, low, high):
        return np.minimum(np.maximum(value, low), high)

    def value(self, number):
        return np.array(np.broadcast_to(np.asarray(number, float), self.runs))

    @staticmethod
    def rows(array):
        return array

    def flag(self, chosen_runs):
        return np.isin(self._all, self._all if chosen_runs is None else chosen_runs)

    @staticmethod
    def blocks(kind, columns):
        """One block for all transmitters; columns [transmitters, 1 or runs]."""
        return [kind(**columns)]

    @staticmethod
    def each(blocks, rows):
        return blocks[0].read(rows)

    def record(self, samples, *places):
        return np.empty((samples, *places, self.runs))

    @staticmethod
    def recorded(record):
        return record

    @staticmethod
    def lines(values):
        slope = np.diff(values, axis=0)
        start = values[:-1] - slope * np.arange(len(slope))[:, None, None]
        flat = [np.ascontiguousarray(np.moveaxis(part, 1, 0)).reshape(values.shape[1], -1) for part in (start, slope)]
        return (*flat, len(slope) - 1, values.shape[2])

    def passing_lines(self, values, nodes):
        return self.lines(values(slice(None)))

    def looked_up(self, lines, place):
        start, slope, last, widths = lines
        at = np.minimum(place.astype(np.intp), last)
        if widths > 1:
            at = at * widths + self._all
        return start.take(at, axis=1, mode="clip") + slope.take(at, axis=1, mode="clip") * place
