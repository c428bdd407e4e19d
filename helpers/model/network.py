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
then. Few conditions take the same steps on a network that is gathered for them, see `helpers.model.gathered`.

Shapes: arrays are [storeys, conditions]; pressures [spaces, storeys, conditions].
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.gathered import quickest
from helpers.model.laws import rows_of
from helpers.model.spaces import Beside, Network, Outside, Upward

__all__ = ["Beside", "Network", "Outside", "Solution", "Upward", "at_ratio", "solve"]

RELATIVE_TOLERANCE = 1e-8  # of the total supply
ABSOLUTE_TOLERANCE_KG_S = 1e-9  # for towers without supply: a cubic millimetre of air a second
MOST_STEPS = 90
CALM = 15  # steps after which every third goes half way
LEAVE = 0.3  # share of conditions in balance from which on only the others go on
# Made and dropped at once: it teaches the C library to keep freed memory of this size for the next array instead of handing it back to
# the system page by page, which costs a quarter of the time (measured on Linux; elsewhere it does nothing).
np.empty(3_900_000)
AGREE = 0.2  # straight line and law differ by less than this share of the flow: touch the law at its own pressure difference


@dataclass
class Solution:
    """Pressures and, per condition, whether to believe them.

    pressure [spaces, storeys, conditions], Pa. converged: every balance held. steps: linear solves used.
    residual_kg_s: largest imbalance of any space. supply_kg_s: sum of what the fans bring (or take).
    """

    pressure: np.ndarray
    converged: np.ndarray
    steps: np.ndarray
    residual_kg_s: np.ndarray
    supply_kg_s: np.ndarray

    def record(self, rows, pressure, converged, steps, residual, supply):
        self.pressure[..., rows] = pressure
        self.converged[rows], self.steps[rows] = converged, steps
        self.residual_kg_s[rows], self.supply_kg_s[rows] = residual, supply

    def record_from(self, other, chosen, rows):
        """Take over the chosen conditions of another solution as these rows."""
        self.record(rows, other.pressure[..., chosen], other.converged[chosen], other.steps[chosen],
                    other.residual_kg_s[chosen], other.supply_kg_s[chosen])  # fmt: skip


def solve(network):
    """Find all pressures of a network.

    Returns a `Solution`; it never raises for a condition that does not converge, `converged` says so.
    """
    return quickest(_solve, network)


def _solve(network):
    solution, rows = empty_solution(network), np.arange(network.conditions)
    lines, pressure = start(network)
    for step in range(network.start_steps, MOST_STEPS + 1):
        lines, balance, supply, _ = touch(network, lines, pressure)
        good = balanced(balance, supply)
        last = good.all() or step == MOST_STEPS
        if last or good.sum() > LEAVE * good.size:
            done, left = np.flatnonzero(good | last), np.flatnonzero(~good)
            solution.record(rows[done], pressure[..., done], good[done], step, balance[done], supply[done])
            if last:
                return solution
            rows, network, pressure = rows[left], network.take(left), pressure[..., left]
            lines = [tuple(rows_of(part, left) for part in line) for line in lines]
        new = equations(network, lines).solved()[0]
        half_way = step > CALM and step % 3 == 0
        pressure = 0.5 * (pressure + new) if half_way else new


def start(network):
    """Some steps in flows alone, in single precision where conditions are many, from the same pressure difference at every opening."""
    rough = network.single()
    sides, lines = rough.sides(rough.zeros(np.float32)), []
    for opening in rough.openings:
        guess = np.full_like(opening.difference(sides), opening.usual_pa)
        lines.append(opening.law.tangent(opening.law.at(guess)[0], guess))
    pressure = equations(rough, lines, np.float32).solved()[0]
    for _ in range(network.start_steps - 1):
        sides = rough.sides(pressure)
        for i, opening in enumerate(rough.openings):
            slope, intercept = lines[i]
            difference = opening.difference(sides)
            lines[i] = opening.law.tangent(intercept + slope * difference, difference)
        pressure = equations(rough, lines, np.float32).solved()[0]
    return lines, pressure.astype(float)


def equations(network, lines, kind=float):
    """The linear equations of the openings' straight lines."""
    filled = network.equations(kind)
    for opening, (slope, intercept) in zip(network.openings, lines, strict=True):
        opening.enter(filled, slope, intercept)
    return filled


def balanced(balance, supply):
    """Whether the largest imbalance of any space is small beside the supply."""
    return balance <= RELATIVE_TOLERANCE * supply + ABSOLUTE_TOLERANCE_KG_S


def touch(network, lines, pressure):
    """Touch the laws anew.

    Returns the lines, how far the true flows at these pressures are from balance, the supply, and where the fans' lines touch.
    """
    sides, tally = network.sides(pressure), network.tally()
    supply, touched, fans_at = np.zeros(network.conditions), [], []
    for opening, (slope, intercept) in zip(network.openings, lines, strict=True):
        difference = opening.difference(sides)
        flow, true_slope = opening.law.at(difference)
        opening.balance(flow, tally)
        if opening.law.fan:
            supply += np.abs(flow).sum(axis=0)
        straight = slope * difference
        straight += intercept
        touched.append(_line(opening.law, flow, true_slope, difference, straight))
        if opening.law.fan:
            fans_at.append(difference)
    out = network.imbalance(tally)
    return touched, np.maximum(out.max(axis=(0, 1)), -out.min(axis=(0, 1))), supply, fans_at


def _line(law, flow, slope, difference, straight):
    """The law's own tangent where straight line and law agree, else a tangent nearer to where the flow is; `difference` moves there."""
    straight -= flow
    apart = np.abs(straight) > AGREE * np.abs(flow)
    apart &= np.abs(difference) > law.straight_below_pa
    intercept = flow - slope * difference
    places = np.flatnonzero(apart)
    if places.size:
        part = law.where(apart.shape, places)
        point = part.point((straight.ravel()[places] + flow.ravel()[places])[None], difference.ravel()[places][None])
        flow_there, slope_there = part.at(point)
        difference.ravel()[places] = point[0]
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
