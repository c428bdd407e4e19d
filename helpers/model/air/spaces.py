"""Spaces of a tower and the openings between them, with what the solver asks of them: for many conditions, and gathered for few.

Shapes: arrays are [storeys, conditions]; pressures [spaces, storeys, conditions].

The network proper works opening by opening and storey by storey, each time on all conditions at once: quick for thousands, but for a single
one nearly all of its time is the calls themselves. For few, every opening is a list of paths, each from one numbered space to another or to
the outdoor air; the laws see all their paths at once, and the linear equations are solved in sections of the tower. The steps are the same
and so is the answer; of wild towers with leaks over six decades all converge here too.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.air.elimination import LEAST_GROUND, Sections, solve_tower
from helpers.model.air.laws import Law, joined, rows_of


class Opening:
    """What all openings share: a law between two pressures; choosing conditions and precision works on law and arrays alike.

    `ends(storeys, outdoors)` numbers the spaces that the opening joins, storey by storey, space by space; see `helpers.model.air.spaces`.
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
class OnStorey(Opening):
    """An opening between two spaces of the same storey, flow from a to b."""

    a: int
    b: int
    law: Law

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
    law: Law
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
    law: Law
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
    start_steps = 4  # steps in flows alone, in single precision; measured: with 6 a year of weather takes a seventh longer

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


# Conditions up to which this is quicker, for each shaft, since the time of the other way grows with the shafts. Measured: equal at some 12
# conditions of 20 to 160 storeys with one shaft, beyond 100 of 14 storeys with two, beyond 30 of 42 storeys with three.
FEW = 12


def quickest(find, network):
    """What `find` finds of a network, asked of the network gathered where its conditions are few."""
    if isinstance(network, _Gathered) or not _few(network):
        return find(network)
    try:
        families = {}
        for i, opening in enumerate(network.openings):
            families.setdefault(opening.law.family or i, []).append(opening)
        openings, parts, begin = [], [], 0
        for members in families.values():
            opening, part = _family(members, network, begin)
            begin += len(part[0])
            openings.append(opening)
            parts.append(part)
        a, b, lift = (np.concatenate(side) for side in zip(*parts, strict=True))
        return find(_Gathered(network.spaces, network.storeys, network.conditions, openings, _Paths(network, a, b), lift))
    except np.linalg.LinAlgError:
        # Spaces wide open to each other and shut off from all others: sections, which subtract, do not tell that from no answer at all;
        # the elimination storey by storey, which never subtracts, does.
        return find(network)


def _few(network):
    shafts = {opening.a for opening in network.openings if isinstance(opening, Upward)}
    return network.conditions <= FEW * max(len(shafts), 1)


def _family(members, network, begin):
    """All openings of one law as one, and its paths: ends and lifts."""
    outdoors = network.spaces * network.storeys
    ends = [opening.ends(network.storeys, outdoors) for opening in members]
    shapes = [(len(a), network.conditions) for a, _, _ in ends]
    law = joined([opening.law for opening in members], shapes)
    usual = np.concatenate([np.full((rows, 1), opening.usual_pa) for opening, (rows, _) in zip(members, shapes, strict=True)])
    a, b = (np.concatenate([end[i] for end in ends]) for i in (0, 1))
    lift = np.concatenate([np.broadcast_to(end[2], shape) for end, shape in zip(ends, shapes, strict=True)])
    return _Family(law, begin, begin + len(a), usual), (a, b, lift)


@dataclass
class _Family(Opening):
    """Openings of one law, `begin` to `end` of all paths."""

    law: Law
    begin: int
    end: int
    usual_pa: np.ndarray

    def difference(self, sides):
        return sides[self.begin : self.end]

    def enter(self, into, slope, intercept):
        into.slope[self.begin : self.end] = slope
        into.intercept[self.begin : self.end] = intercept

    def balance(self, flow, out):
        out[self.begin : self.end] = flow


@dataclass
class _Gathered(Network):
    """`paths` from a to b, [paths]; lift [paths, conditions]: what drives flow along a path beside the pressures at its ends, Pa."""

    paths: "_Paths"
    lift: np.ndarray
    start_steps = 2  # one of these costs as much as any other step here

    def take(self, rows):
        taken = super().take(rows)
        taken.lift = self.lift[:, rows]
        return taken

    def single(self):
        return self  # nothing to be gained with few numbers

    def sides(self, pressure):
        flat = np.zeros((self.paths.unknowns + 1, self.conditions))  # the last is the outdoor air
        flat[:-1] = np.reshape(pressure, (-1, self.conditions))
        sides = flat[self.paths.a]
        sides -= flat[self.paths.b]
        sides += self.lift
        return sides

    def tally(self):
        return np.zeros(self.lift.shape)

    def imbalance(self, tally):
        return self.paths.sums(tally).reshape(self.spaces, self.storeys, self.conditions)

    def equations(self, kind=float):
        return _FewEquations(self)


class _FewEquations:
    """Straight lines of all paths, solved in sections of the tower."""

    def __init__(self, network):
        self.network = network
        self.slope, self.intercept = network.tally(), network.tally()

    def solved(self, *more):
        network = self.network
        right = -network.imbalance(self.intercept + self.slope * network.lift)
        found = network.paths.sections.solved(self.slope, np.stack([right, *more], axis=-1))
        return list(np.moveaxis(found, -1, 0))


class _Paths:
    """Where paths begin and end, and sums over them."""

    def __init__(self, network, a, b):
        self.unknowns, self.a, self.b = network.spaces * network.storeys, a, b
        self.both = np.concatenate([a, b])[:, None]
        self.sections = Sections(network.spaces, network.storeys, a, b)

    def sums(self, flow):
        """Flow out of every space [unknowns, conditions] from the flows along the paths."""
        count, conditions = self.unknowns + 1, flow.shape[1]
        places = self.both * conditions + np.arange(conditions)
        summed = np.bincount(places.ravel(), np.concatenate([flow, -flow]).ravel(), count * conditions)
        return summed.reshape(count, conditions)[:-1]
