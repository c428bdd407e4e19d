"""What flows through one kind of opening: a leak, a relief damper, a fan behind its damper, other fans. Each answers the same questions.

`at(dp)`           flow [kg/s] and slope [kg/(s Pa)] at a pressure difference dp [Pa]; flow counts out of the space
`tangent(q, dp)`   slope and intercept of a straight line that touches the law near the flow q and the difference dp just found
`point(q, dp)`     the pressure difference at which to touch the law next
`take(rows)`       the same law for some of the conditions (the last axis)
`single()`         the same law in single precision
`family`           laws of the same family differ only in the fields `by_opening`, so that `joined` makes one law of them; None: by itself

The network asks only these, so a new kind of opening is one small class more and no change in the solver.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from helpers.formulas import kernels
from helpers.model.air.fan import FanCurve

# A touching point moves towards a smaller pressure difference by this factor at the most: a leak whose flow is about to turn round
# would otherwise be taken for a wide-open door for one step. Of 10,000 wild towers all converge with 1, 4, 16 and 64 alike; mean steps 8.8
# with 1, 8.5 with the others.
LARGEST_SHRINK = 16.0


def rows_of(array, rows):
    """The conditions `rows` of an array whose last axis is conditions; an axis of one stands for all and stays."""
    return array if np.ndim(array) == 0 or array.shape[-1] == 1 else array[..., rows]


def joined(laws, shapes):
    """One law for the openings of several laws of one family, one after the other; shapes: [storeys, conditions] of each."""
    if len(laws) == 1:
        return laws[0]

    def column(name):
        return np.concatenate([np.broadcast_to(getattr(law, name), shape) for law, shape in zip(laws, shapes, strict=True)])

    return replace(laws[0], **{name: column(name) for name in laws[0].by_opening})


def _at_places(array, row, column):
    return array[row if array.shape[0] > 1 else 0, column if array.shape[1] > 1 else 0].reshape(1, -1)


class Law:
    """What all laws share: choosing conditions and precision works on every array field alike."""

    fan = False  # whether the loop moves its speed
    turns = False  # whether it has a speed, whoever moves it
    feeds = False  # whether it brings air that balances are measured by
    straight_below_pa = 2 * kernels.SMOOTHING_PA  # the law is nearly a straight line there, and touched where it is

    family = None

    def take(self, rows):
        return replace(self, **{name: rows_of(value, rows) for name, value in self._arrays()})

    def where(self, shape, places):
        """The same law for the openings at some places of the flattened [storeys, conditions] array, in one row."""
        row, column = np.unravel_index(places, shape)
        return replace(self, **{name: _at_places(value, row, column) for name, value in self._arrays()})

    def single(self):
        return replace(self, **{name: value.astype(np.float32) for name, value in self._arrays()})

    def _arrays(self):
        return [(name, value) for name, value in vars(self).items() if isinstance(value, np.ndarray)]


@dataclass
class Leak(Law):
    """Power law: flow = K dp^n, smooth through zero; K [kg/(s Pa^n)] is [storeys, conditions] or broadcasts to it."""

    coefficient: np.ndarray
    exponent: float = 0.5
    by_opening = ("coefficient",)

    @property
    def family(self):
        return Leak, self.exponent

    def at(self, dp):
        flow, slope = kernels.flow_and_slope(dp, self.exponent)
        return flow * self.coefficient, slope * self.coefficient

    def tangent(self, flow, dp):
        slope, intercept = kernels.tangent_of_flow(flow / self._divisor, self.exponent)
        slope *= self.coefficient
        intercept *= self.coefficient
        return slope, intercept

    def point(self, flow, dp):
        """Where the straight line's flow lies on the law: pressures may still be far off where flows are right already."""
        # a touching point as large as asked, or smaller where the pressure difference is, by LARGEST_SHRINK at the most
        point = kernels.drop(flow / self._divisor, self.exponent)
        size = np.minimum(np.abs(point), np.maximum(np.abs(dp), np.abs(point) / LARGEST_SHRINK))
        return np.copysign(size, point)

    @property
    def _divisor(self):
        # A leak of no area passes no flow whatever the difference; the tiny number only keeps 0 / 0 out of the arithmetic.
        return np.maximum(self.coefficient, np.float32(1e-30))


@dataclass
class ReliefBlade(Law):
    """Barometric damper: a closed blade that leaks, lifting by its own weight between two pressure differences.

    closed, opened: coefficients [m2 scale, as `Leak` without density]; root: square root of the air's density, per condition.
    The coefficient grows from the closed to the open one between `opens_pa` and `full_pa` along s^2 (3 - 2 s), so the flow rises with
    dp throughout. Limit: a real damper has friction and may flutter; this one is at rest at every pressure.
    """

    closed: float
    opened: float
    opens_pa: float
    full_pa: float
    root: np.ndarray

    def at(self, dp):
        flow, slope = self._per_root(dp)
        return flow * self.root, slope * self.root

    def tangent(self, flow, dp):
        point = self._drop(flow)
        at, slope = self.at(point)
        return slope, at - slope * point

    def point(self, flow, dp):
        point = self._drop(flow)
        # A blade that passes more than its leak has lifted, whatever the pressure of this step: there the flow is to be believed, and
        # with the blade shut the pressure, since so small a flow hardly counts.
        return np.where(point > self.opens_pa, point, np.minimum(dp, self.opens_pa))

    def _drop(self, flow):
        """The pressure difference that drives the flow: closed form on both sides of the lift, table and two Newton steps within it."""
        flow = flow / self.root
        table, flows = self._lifting
        point = kernels.drop(flow / np.where(flow <= flows[0], self.closed, self.opened), 0.5)
        lifts = (flow > flows[0]) & (flow < flows[-1])
        if lifts.any():
            lifting = np.interp(flow, flows, table)
            for _ in range(2):
                at, slope = self._per_root(lifting)
                lifting = np.minimum(np.maximum(lifting + (flow - at) / slope, self.opens_pa), self.full_pa)
            point = np.where(lifts, lifting, point)
        return point

    @property
    def _lifting(self):
        return _lifting_table(self.closed, self.opened, self.opens_pa, self.full_pa)

    def _per_root(self, dp):
        flow, slope = kernels.flow_and_slope(dp, 0.5)
        lift = np.minimum(np.maximum((dp - self.opens_pa) / (self.full_pa - self.opens_pa), 0.0), 1.0)
        coefficient = self.closed + (self.opened - self.closed) * lift * lift * (3 - 2 * lift)
        growth = (self.opened - self.closed) * 6 * lift * (1 - lift) / (self.full_pa - self.opens_pa)
        return coefficient * flow, coefficient * slope + growth * flow


@lru_cache(maxsize=64)
def _lifting_table(closed, opened, opens_pa, full_pa):
    """Pressure differences while a blade lifts, and the flows per root of density at them."""
    table = np.linspace(opens_pa, full_pa, 65)
    return table, ReliefBlade(closed, opened, opens_pa, full_pa, np.ones(1))._per_root(table)[0]


@dataclass
class FanShare(Law):
    """A share of a fan behind a backdraft damper, blowing in from outdoors (effect +1) or drawing out (effect -1).

    curve: `FanCurve` of one whole fan, net of its duct; share: part of the fan's flow that this opening carries;
    ratio: speed by reference speed, per condition; density: of the air at the fan's inlet [kg/m3], per condition.
    """

    curve: FanCurve
    share: float
    effect: float
    ratio: np.ndarray
    density: np.ndarray
    fan = feeds = turns = True
    straight_below_pa = 0.0
    by_opening = ("share", "ratio", "density")

    @property
    def family(self):
        return FanShare, id(self.curve), self.effect

    def at(self, dp):
        flow, slope, _ = self._flow(dp)
        return -self.effect * flow, -slope

    def by_speed(self, dp):
        """How the flow out of the space changes with the speed ratio at a held pressure difference, [kg/s]."""
        return -self.effect * self._flow(dp)[2]

    def volume_flow(self, dp):
        """Air handled by this opening [m3/s at inlet density], counted in the fan's own direction."""
        return self._flow(dp)[0] / self.density

    def tangent(self, flow, dp):
        scale = self.share * self.density
        volume = -self.effect * flow / scale
        pressure, fall = self.curve.pressure_and_slope(volume, self.ratio, self.density)
        return -scale / fall, -self.effect * scale * (volume - pressure / fall)

    def point(self, flow, dp):
        volume = -self.effect * flow / (self.share * self.density)
        point = self.effect * self.curve.pressure_and_slope(volume, self.ratio, self.density)[0]
        # Backwards only the shut damper's leak flows: too little to be believed against the pressure.
        return np.where(volume < 0, dp, point)

    def _flow(self, dp):
        scale = self.share * self.density
        return [scale * part for part in self.curve.flow_and_slopes(self.effect * dp, self.ratio, self.density)]


@dataclass
class Inflow(Law):
    """Air that is brought in at a steady rate, mass_kg_s [storeys, conditions]; below zero: taken out.

    Flow counts out of the space, so it is -mass_kg_s at every pressure difference. Limit: fans with a flow control of their own; a fan at
    steady speed brings a little less against more pressure, which is nothing beside its own pressure here.
    """

    mass_kg_s: np.ndarray
    straight_below_pa = np.inf  # it is a straight line everywhere

    def at(self, dp):
        return -self.mass_kg_s + np.zeros_like(dp), np.zeros_like(dp)

    def tangent(self, flow, dp):
        return np.zeros_like(dp), -self.mass_kg_s + np.zeros_like(dp)
