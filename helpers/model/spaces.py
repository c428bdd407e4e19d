"""Spaces of a tower and the openings between them, with what the solver asks of them.

Shapes: arrays are [storeys, conditions]; pressures [spaces, storeys, conditions].
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.elimination import LEAST_GROUND, solve_tower
from helpers.model.laws import rows_of

__all__ = ["Beside", "Network", "Opening", "Outside", "Upward"]


class Opening:
    """What all openings share: a law between two pressures; choosing conditions and precision works on law and arrays alike.

    `ends(storeys, outdoors)` numbers the spaces that the opening joins, storey by storey, space by space; see `helpers.model.gathered`.
    """

    usual_pa = 10.0  # the pressure difference from which the solver sets out

    def take(self, rows):
        return self._with(lambda array: rows_of(array, rows), self.law.take(rows))

    def single(self):
        return self._with(lambda array: array.astype(np.float32), self.law.single())

    def _with(self, change, law):
        arrays = {name: change(value) for name, value in vars(self).items() if isinstance(value, np.ndarray)}
        return replace(self, law=law, **arrays)


@dataclass
class Beside(Opening):
    """An opening between two spaces of the same storey, flow from a to b."""

    a: int
    b: int
    law: object

    def difference(self, pressure):
        return pressure[self.a] - pressure[self.b]

    def enter(self, into, slope, intercept):
        into.tie(self.a, self.b, slope)
        into.right[self.a] -= intercept
        into.right[self.b] += intercept

    def balance(self, flow, out):
        out[self.a] += flow
        out[self.b] -= flow

    def ends(self, storeys, outdoors):
        every = np.arange(storeys)
        return self.a * storeys + every, self.b * storeys + every, np.zeros((1, 1))


@dataclass
class Outside(Opening):
    """An opening from a space to the outdoor air, whose pressure `outside` [Pa] the wind makes.

    On all storeys, or from storey `first` up to but without storey `last`.
    """

    a: int
    law: object
    outside: np.ndarray
    first: int | None = None
    last: int | None = None

    def difference(self, pressure):
        return pressure[self.a][self.first : self.last] - self.outside

    def enter(self, into, slope, intercept):
        into.ground[self.a][self.first : self.last] += slope
        into.right[self.a][self.first : self.last] -= intercept - slope * self.outside

    def balance(self, flow, out):
        out[self.a][self.first : self.last] += flow

    def ends(self, storeys, outdoors):
        inside = self.a * storeys + np.arange(storeys)[self.first : self.last]
        return inside, np.full_like(inside, outdoors), -self.outside


@dataclass
class Upward(Opening):
    """The shaft itself from each storey to the next; `lift` [Pa] is the stack effect between them, flow counts upward."""

    a: int
    law: object
    lift: np.ndarray
    usual_pa = 1.0

    def difference(self, pressure):
        return pressure[self.a][:-1] - pressure[self.a][1:] + self.lift

    def enter(self, into, slope, intercept):
        driven = intercept + slope * self.lift
        into.vertical[self.a] = slope
        into.right[self.a][:-1] -= driven
        into.right[self.a][1:] += driven

    def balance(self, flow, out):
        out[self.a][:-1] += flow
        out[self.a][1:] -= flow

    def ends(self, storeys, outdoors):
        below = self.a * storeys + np.arange(storeys - 1)
        return below, below + 1, self.lift


@dataclass
class Network:
    """Spaces and openings of a tower under some conditions."""

    spaces: int
    storeys: int
    conditions: int
    openings: list
    start_steps = 6  # steps in flows alone: in single precision they cost half as much as the others

    def take(self, rows):
        return replace(self, conditions=len(rows), openings=[opening.take(rows) for opening in self.openings])

    def single(self):
        return replace(self, openings=[opening.single() for opening in self.openings])

    @property
    def effect(self):
        """+1 where more fan speed raises the pressure indoors, -1 where it lowers it."""
        return next(opening.law.effect for opening in self.openings if opening.law.fan)

    def zeros(self, kind=float):
        return np.zeros((self.spaces, self.storeys, self.conditions), kind)

    def sides(self, pressure):
        """What the openings take their pressure differences from."""
        return pressure

    def tally(self):
        """What the openings enter their flows into."""
        return self.zeros()

    def imbalance(self, tally):
        """Flow out of every space, from the filled tally."""
        return tally

    def equations(self, kind=float):
        """The linear equations of one step, for the openings to fill."""
        return _Equations(self, kind)


class _Equations:
    """Conductances and right-hand side in the shape of the spaces, solved by the elimination storey by storey."""

    def __init__(self, network, kind):
        self.ground, self.right = network.zeros(kind), network.zeros(kind)
        self.ground += LEAST_GROUND
        self.ties, self.vertical = {}, {}

    def tie(self, a, b, slope):
        pair = (min(a, b), max(a, b))
        self.ties[pair] = self.ties[pair] + slope if pair in self.ties else slope

    def solved(self, *more):
        return solve_tower(self.ground, self.ties, self.vertical, [self.right, *more])
