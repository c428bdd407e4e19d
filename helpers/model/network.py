"""The air network: a pressure for every space of a tower, found for many conditions at once.

Unknown: each space's pressure above the outdoor air at the same height, still air, [Pa]. In that measure the stack effect stands only
in the vertical openings of a shaft and the wind only at the outdoor side of a leak; across a door there is no height.

    sum of flows out of a space = 0        for every space: mass is conserved

How it is solved. Every opening's flow rises with its pressure difference, so there is one solution and the equations are those of a
smallest sum (of a leak with n = 0.5, written in flows: R |q|^3 / 3, which is convex; a lifting relief damper bends it). Newton's method
in pressures fails on it, because a square root turned round its zero makes it swing for ever. In flows it is gentle: each step puts a
straight line to every opening where it carries the flow of the step before, and solves the tower's linear equations; that is all. Some
such steps in single precision give the start; then steps in double precision, which touch an opening at its own pressure difference
wherever flow and difference agree already (Newton's last, quadratic part), until the balance holds. A condition that still swings after
some steps between the two sides of a kink (a backdraft damper about to shut, a relief blade about to lift) is sent half way now and
then.

Shapes: arrays are [storeys, conditions]; `pressure` is a list over spaces.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.elimination import solve_tower
from helpers.model.laws import rows_of

__all__ = ["Beside", "Network", "Outside", "Solution", "Upward", "at_ratio", "solve"]

RELATIVE_TOLERANCE = 1e-8  # of the total supply
ABSOLUTE_TOLERANCE_KG_S = 1e-9  # for towers without supply: a cubic millimetre of air a second
START_STEPS = 6
MOST_STEPS = 90
CALM = 15  # steps after which every third goes half way
LEAVE = 0.3  # share of conditions in balance from which on only the others go on
# Made and dropped at once: it teaches the C library to keep freed memory of this size for the next array instead of handing it back to
# the system page by page, which costs a quarter of the time (measured on Linux; elsewhere it does nothing).
np.empty(3_900_000)
AGREE = 0.2  # straight line and law differ by less than this share of the flow: touch the law at its own pressure difference


class Opening:
    """What all openings share: a law between two pressures; choosing conditions and precision works on law and arrays alike."""

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


@dataclass
class Network:
    """Spaces and openings of a tower under some conditions."""

    spaces: int
    storeys: int
    conditions: int
    openings: list

    def take(self, rows):
        return replace(self, conditions=len(rows), openings=[opening.take(rows) for opening in self.openings])

    def single(self):
        return replace(self, openings=[opening.single() for opening in self.openings])

    @property
    def effect(self):
        """+1 where more fan speed raises the pressure indoors, -1 where it lowers it."""
        return next(opening.law.effect for opening in self.openings if opening.law.fan)

    def zeros(self, kind=float):
        return [np.zeros((self.storeys, self.conditions), kind) for _ in range(self.spaces)]


@dataclass
class Solution:
    """Pressures and, per condition, whether to believe them.

    pressure: list over spaces of [storeys, conditions], Pa. converged: every balance held. steps: linear solves used.
    residual_kg_s: largest imbalance of any space. supply_kg_s: sum of what the fans bring (or take).
    """

    pressure: list
    converged: np.ndarray
    steps: np.ndarray
    residual_kg_s: np.ndarray
    supply_kg_s: np.ndarray

    def record(self, rows, pressure, converged, steps, residual, supply):
        for kept, found in zip(self.pressure, pressure, strict=True):
            kept[:, rows] = found
        self.converged[rows], self.steps[rows] = converged, steps
        self.residual_kg_s[rows], self.supply_kg_s[rows] = residual, supply

    def record_from(self, other, chosen, rows):
        """Take over the chosen conditions of another solution as these rows."""
        self.record(rows, [p[:, chosen] for p in other.pressure], other.converged[chosen], other.steps[chosen],
                    other.residual_kg_s[chosen], other.supply_kg_s[chosen])  # fmt: skip


class Equations:
    """The linear equations of one step: filled by the openings, solved by the elimination."""

    def __init__(self, network, kind):
        # The small number keeps a space that has no opening at all (a lobby on a storey without lobbies) at zero pressure.
        self.ground = [np.full((network.storeys, network.conditions), 1e-13, kind) for _ in range(network.spaces)]
        self.right = network.zeros(kind)
        self.ties, self.vertical = {}, {}

    def tie(self, a, b, slope):
        pair = (min(a, b), max(a, b))
        self.ties[pair] = self.ties[pair] + slope if pair in self.ties else slope

    def solved(self, *more):
        return solve_tower(self.ground, self.ties, self.vertical, [self.right, *more])


def solve(network):
    """Find all pressures of a network.

    Returns a `Solution`; it never raises for a condition that does not converge, `converged` says so.
    """
    solution, rows = empty_solution(network), np.arange(network.conditions)
    lines, pressure = start(network)
    for step in range(START_STEPS, MOST_STEPS + 1):
        lines, balance, supply = touch(network, lines, pressure)
        good = balanced(balance, supply)
        last = good.all() or step == MOST_STEPS
        if last or good.sum() > LEAVE * good.size:
            done = np.flatnonzero(good | last)
            solution.record(rows[done], [p[:, done] for p in pressure], good[done], step, balance[done], supply[done])
            left = np.flatnonzero(~good)
            rows, network = rows[left], network.take(left)
            lines = [tuple(rows_of(part, left) for part in line) for line in lines]
            pressure = [p[:, left] for p in pressure]
        if last:
            return solution
        new = equations(network, lines).solved()[0]
        half_way = step > CALM and step % 3 == 0
        pressure = [0.5 * (old + p) for old, p in zip(pressure, new, strict=True)] if half_way else new


def start(network):
    """Some steps in flows alone, in single precision, from the same pressure difference at every opening."""
    rough = network.single()
    still, lines = rough.zeros(np.float32), []
    for opening in rough.openings:
        guess = np.full_like(opening.difference(still), opening.usual_pa)
        lines.append(opening.law.tangent(opening.law.at(guess)[0], guess))
    pressure = equations(rough, lines, np.float32).solved()[0]
    for _ in range(START_STEPS - 1):
        for i, opening in enumerate(rough.openings):
            slope, intercept = lines[i]
            difference = opening.difference(pressure)
            lines[i] = opening.law.tangent(intercept + slope * difference, difference)
        pressure = equations(rough, lines, np.float32).solved()[0]
    return lines, [p.astype(float) for p in pressure]


def equations(network, lines, kind=float):
    """The linear equations of the openings' straight lines."""
    filled = Equations(network, kind)
    for opening, (slope, intercept) in zip(network.openings, lines, strict=True):
        opening.enter(filled, slope, intercept)
    return filled


def balanced(balance, supply):
    """Whether the largest imbalance of any space is small beside the supply."""
    return balance <= RELATIVE_TOLERANCE * supply + ABSOLUTE_TOLERANCE_KG_S


def touch(network, lines, pressure):
    """Lines that touch the laws anew, and how far the true flows at these pressures are from balance."""
    out, supply, touched = network.zeros(), np.zeros(network.conditions), []
    for opening, (slope, intercept) in zip(network.openings, lines, strict=True):
        difference = opening.difference(pressure)
        flow, true_slope = opening.law.at(difference)
        opening.balance(flow, out)
        if opening.law.fan:
            supply += np.abs(flow).sum(axis=0)
        straight = slope * difference
        straight += intercept
        touched.append(_line(opening.law, flow, true_slope, difference, straight))
    return touched, np.max([np.abs(o).max(axis=0) for o in out], axis=0), supply


def _line(law, flow, slope, difference, straight):
    """The law's own tangent where straight line and law agree, else a tangent nearer to where the flow is."""
    straight -= flow
    apart = np.abs(straight) > AGREE * np.abs(flow)
    apart &= np.abs(difference) > law.straight_below_pa
    intercept = flow - slope * difference
    places = np.flatnonzero(apart)
    if places.size:
        part = law.where(apart.shape, places)
        point = part.point((straight.ravel()[places] + flow.ravel()[places])[None], difference.ravel()[places][None])
        flow_there, slope_there = part.at(point)
        slope.ravel()[places] = slope_there[0]
        intercept.ravel()[places] = (flow_there - slope_there * point)[0]
    return slope, intercept


def empty_solution(network):
    """A solution of the network's shape with nothing found yet, for `Solution.record` to fill."""
    count = network.conditions
    return Solution(network.zeros(), np.zeros(count, bool), np.zeros(count, int), np.zeros(count), np.zeros(count))


def at_ratio(network, ratio):
    """The same network with its fans at another speed ratio, one per condition."""
    openings = [replace(o, law=replace(o.law, ratio=ratio[None, :])) if o.law.fan else o for o in network.openings]
    return replace(network, openings=openings)
