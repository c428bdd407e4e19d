"""Combines the readings of one sample into the one that runs the loop; bad ones are left out, never averaged in.

Same rules as `formulas.combining`, which takes over where readings are bad in some of many runs.
"""

import numpy as np

from helpers.formulas import require
from helpers.formulas.combining import RULES, combine
from helpers.model.loop.arithmetic import OneRun

__all__ = ["Combiner"]


def _middle_of_floats(rows, shares):
    rising, number = sorted(rows), len(rows)
    return 0.5 * (rising[(number - 1) // 2] + rising[number // 2])


def _middle_of_arrays(rows, shares):
    if len(rows) != 3:
        return np.median(rows, axis=0)
    a, b, c = rows  # the usual three, twenty times quicker than sorting
    return np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))


FLOATS = {
    "average": lambda rows, shares: sum(rows) / len(rows),
    "lowest": lambda rows, shares: min(rows),
    "highest": lambda rows, shares: max(rows),
    "middle": _middle_of_floats,
    "weighted": lambda rows, shares: sum(row * share for row, share in zip(rows, shares, strict=True)),
}
ARRAYS = {
    "average": lambda rows, shares: rows.sum(axis=0) / len(rows),
    "lowest": lambda rows, shares: rows.min(axis=0),
    "highest": lambda rows, shares: rows.max(axis=0),
    "middle": _middle_of_arrays,
    "weighted": lambda rows, shares: (rows * shares[:, None]).sum(axis=0),
}


class Combiner:
    """One rule over the readings of all transmitters. `any_will_do`: whether one good reading is enough, or all must be good."""

    def __init__(self, rule, weights, count, any_will_do=True, arithmetic=None):
        self.rule, self.any_will_do = require.one_of(RULES, rule=rule), any_will_do
        self.arithmetic = arithmetic or OneRun()
        self.weights = np.ones(count) if weights is None else require.at_least(0, weights=weights)
        if self.weights.shape != (count,) or not self.weights.any():
            raise ValueError(f"weights must be one for each of {count} transmitters, one of them above zero; got {weights!r:.80}")
        combine(np.ones(count), rule, weights=weights)  # refuses a weighted rule without weights
        self._rule = (FLOATS if isinstance(self.arithmetic, OneRun) else ARRAYS)[rule]
        self._shares = self.weights / self.weights.sum()
        self.last = 0.0

    def combine(self, rows, doubtful=True):
        """The combined reading and a flag where there is none; then the reading is the last there was. doubtful: readings may be NaN."""
        if doubtful:
            return self._of_the_good(rows)
        self.last = self._rule(rows, self._shares)
        return self.last, False

    def _of_the_good(self, rows):
        if isinstance(self.arithmetic, OneRun):
            value = self._of_good_floats(rows)
            good = value == value and (self.any_will_do or all(row == row for row in rows))
        else:
            value = combine(rows, self.rule, weights=self.weights, axis=0)
            good = np.isfinite(value) if self.any_will_do else np.isfinite(rows).all(axis=0)
        self.last = self.arithmetic.choose(good, value, self.last)
        return self.last, good ^ True

    def _of_good_floats(self, rows):
        good = [number for number, row in enumerate(rows) if row == row]
        weight = sum(self.weights[number] for number in good)
        if not good or weight == 0:
            return float("nan")
        return float(self._rule([rows[number] for number in good], [self.weights[number] / weight for number in good]))
