"""Two like fans side by side on one stair, into one duct: what both bring together, and at which speed one of them alone would bring it.

The stair takes what it takes, whoever brings it: solved once for a sweep of speeds of one fan, it is a curve of flow against the fans'
pressure, its duct in it. Two fans at any speeds then come to rest where Q1(p, n1) + Q2(p, n2) is that curve's flow, and what the doors
bear there is what they bear at the speed of one fan alone that gives the same flow and pressure: `alike_hz`.

An idle fan: its damper, shut or stuck open, lets back leak Q_full sqrt((p - p0 s^2) / p0), p0 its pressure without flow at the reference
speed, s its speed ratio, leak a share of its full flow Q_full. A fan that the other one's pressure holds at no flow does the same.
Limits: that square-root law stands for damper and idle wheel together, and the wheel does not turn backwards by it; the dip of a curve left
of its peak, where two like fans hunt, is refused by the site file (curves fall); of several outlets the pressure is their mean by flow;
steady state at each instant.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas.fan import speed_for_duty
from helpers.model.air.fan import LEAST_RATIO, REFERENCE_DENSITY_KG_M3, FanCurve, fan_points, inlet_density_ratio
from helpers.model.air.tower import Air
from helpers.model.site.schema import Fan

SOLVED = (
    129  # speeds of one fan that are solved, from standstill to twice its highest: two alike never bring more than one at twice its speed
)


@dataclass(frozen=True)
class TwoFans:
    """A stair and two like fans, by condition.

    one_hz [speeds] of one fan alone; flow_m3_s, pressure_pa [speeds, conditions] that it then brings and makes, duct loss included;
    dense [conditions]: density of the air over that of a catalogue; curve: of the fan without its duct; air: of all those speeds, one
    speed's conditions after the other's.
    """

    one_hz: np.ndarray
    flow_m3_s: np.ndarray
    pressure_pa: np.ndarray
    dense: np.ndarray
    curve: FanCurve
    fan: Fan
    air: Air | None

    @classmethod
    def of(cls, tower, conditions):
        """Two fans as a `Tower`'s own on its stair under `Conditions`."""
        fan = tower.site.fan
        one_hz = np.linspace(LEAST_RATIO * fan.reference_speed_hz, 2 * fan.highest_speed_hz, SOLVED)
        under = conditions.rows(np.tile(np.arange(len(conditions)), SOLVED))
        air = tower.solve(under, np.repeat(one_hz, len(conditions)))
        flow, pressure, _ = (part.reshape(SOLVED, -1) for part in fan_points(tower, air, under))
        curve = FanCurve.from_points(fan.flows_m3_s, fan.standard_pressures_pa)
        return cls(one_hz, flow, pressure, inlet_density_ratio(tower, conditions), curve, fan, air)

    def rows(self, chosen):
        """`TwoFans` of chosen conditions, one of them as often as it is named; the air itself is left behind."""
        parts = {name: getattr(self, name)[..., chosen] for name in ("flow_m3_s", "pressure_pa", "dense")}
        return replace(self, air=None, **parts)

    def where(self, flags, other):
        """`TwoFans` of these conditions, and of another one's where flags [conditions] are up."""
        parts = {name: np.where(flags, getattr(other, name), getattr(self, name)) for name in ("flow_m3_s", "pressure_pa", "dense")}
        return replace(self, air=None, **parts)

    def brought(self, pressure_pa, speed_hz, back_leak):
        """Flow [..., conditions] that one of the two brings against a pressure at a speed, below zero what goes back through it."""
        ratio = np.maximum(speed_hz / self.fan.reference_speed_hz, LEAST_RATIO)
        forward = np.maximum(self.curve.flow_and_slopes(pressure_pa, ratio, self.dense * REFERENCE_DENSITY_KG_M3)[0], 0.0)
        beyond = np.maximum(pressure_pa / self.dense / self.curve.shutoff_pa - ratio**2, 0.0)
        return forward - back_leak * self.curve.flow[-1] * np.sqrt(beyond)

    def alike_hz(self, first_hz, second_hz, first_leak=0.0, second_leak=0.0, near_hz=None):
        """Speed [..., conditions] of one fan alone at which the stair has what both give together, at such speeds of each and such leaks
        back through each while it is idle. Equation: F(n) = Q1(p(n)) + Q2(p(n)) - Q(n) = 0, falling: the piece by halving, straight
        in it. No more than twice the highest speed, where the sweep ends: two like fans bring no more than that above zero. near_hz: where
        to look first, such as what was found a moment before: the same answer, sooner."""
        parts = np.broadcast_arrays(first_hz, second_hz, first_leak, second_leak, np.empty(self.dense.shape))[:4]
        places = np.arange(len(self.dense))

        def left(node):
            pressure = self.pressure_pa[node, places]
            return self.brought(pressure, parts[0], parts[2]) + self.brought(pressure, parts[1], parts[3]) - self.flow_m3_s[node, places]

        low, high = np.zeros(parts[0].shape, int), np.full(parts[0].shape, SOLVED - 1)
        if near_hz is None:
            at_low, at_high = left(low), left(high)
        else:
            close = ((near_hz - self.one_hz[0]) / (self.one_hz[1] - self.one_hz[0])).astype(int)
            lower, upper = np.clip(close - 1, 0, SOLVED - 1), np.clip(close + 2, 0, SOLVED - 1)
            at_low, at_high = left(lower), left(upper)
            between = (at_low > 0) & (at_high <= 0)
            if between.all():
                low, high = lower, upper
            else:
                low, high = np.where(between, lower, low), np.where(between, upper, high)
                at_low, at_high = left(low), left(high)
        while (high - low).max() > 1:
            middle = (low + high) // 2
            found = left(middle)
            up = found > 0
            low, at_low = np.where(up, middle, low), np.where(up, found, at_low)
            high, at_high = np.where(up, high, middle), np.where(up, at_high, found)
        fall = at_low - at_high
        share = np.clip(at_low / np.where(fall > 0, fall, 1.0), 0.0, 1.0)
        return self.one_hz[low] + share * (self.one_hz[high] - self.one_hz[low])

    def at(self, values, one_hz):
        """Values [speeds, conditions] at speeds [..., conditions] of one fan alone, straight between those solved."""
        step = self.one_hz[1] - self.one_hz[0]
        where = np.clip((one_hz - self.one_hz[0]) / step, 0.0, SOLVED - 1.0)
        low, places = np.minimum(where.astype(int), SOLVED - 2), np.arange(values.shape[1])
        return values[low, places] + (where - low) * (values[low + 1, places] - values[low, places])

    def needed_hz(self, one_hz, other_leak):
        """Speed [..., conditions] at which a fan gives the stair what one alone gives it at one_hz [conditions], while the other stands
        still and lets so much back [..., 1]. The curve runs straight on beyond its end, see formulas.fan.speed_for_duty."""
        flow, pressure = self.at(self.flow_m3_s, one_hz), np.maximum(self.at(self.pressure_pa, one_hz), 0.0)
        asked = np.maximum(flow - self.brought(pressure, 0.0, other_leak), 0.0)
        flows, pressures = self.fan.flows_m3_s, self.fan.standard_pressures_pa
        return self.fan.reference_speed_hz * speed_for_duty(asked, pressure / self.dense, flows, pressures)
