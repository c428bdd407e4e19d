"""Numbers for an exercise, drawn from a seed: the same seed gives the same numbers on every machine.

A quantity is drawn as it will be written, rounded in the reader's own unit: what the question says is exactly what is meant.
"""

import numpy as np

from helpers import units
from helpers.lessons.seeds import seed_of

__all__ = ["Draw", "seed_of"]


class Draw:
    """Draws for one exercise, in the reader's system of units (one of units.SYSTEMS)."""

    def __init__(self, seed, system="Pa"):
        if not isinstance(seed, int) or seed < 0:
            raise ValueError(f"seed must be a whole number of 0 or more, got {seed!r:.60}")
        self.seed, self.system = seed, system
        self._generator = np.random.default_rng(seed)

    def quantity(self, dimension, low, high, step, digits=None):
        """A quantity [SI] from low to high [SI] by step, as it reads when `say` writes it with the same digits."""
        value = low + step * int(self._generator.integers(0, round((high - low) / step) + 1))
        return self.as_written(value, dimension, digits)

    def as_written(self, value_si, dimension, digits=None):
        """A quantity [SI] rounded to what `say` writes of it."""
        return units.parse(self.say(value_si, dimension, digits), dimension)

    def say(self, value_si, dimension, digits=None):
        """A quantity in words, in the reader's units."""
        return units.show(value_si, dimension, self.system, digits)

    def whole(self, low, high):
        """A whole number from low to high, both included."""
        return int(self._generator.integers(low, high + 1))

    def one_of(self, options):
        """One of several."""
        return options[int(self._generator.integers(0, len(options)))]

    def some_of(self, options, number):
        """So many different ones of several, in the order they stand."""
        return [options[place] for place in sorted(self._generator.choice(len(options), number, replace=False))]

    def shuffled(self, options):
        """All of several, in another order."""
        return [options[place] for place in self._generator.permutation(len(options))]
