"""A fan at any speed: curve by points, duct loss, backdraft damper; flow, pressure, shaft power, power from the mains.

    P(Q, s) = (density / 1.2) s^2 p(Q / s)        p(q): curve at the reference speed, less the duct's loss K q^2        [similarity laws]

Duct loss follows the same square law as the fan, so that fan and duct together are one curve that scales with speed.
Left of the curve (pressure above shut-off): the backdraft damper is shut and leaks a little backwards. Right of it (suction at the
outlet): the end runs on along a square law. Source of the similarity laws: ANSI/AMCA 201-02, 2011 (memory).
Limits: one speed for all fans of a supply; the curve is that of still inlet air; below some 20 % speed a real fan holds less than this;
one efficiency of the fan at all flows and speeds, as the site file states it, so that powers at small flow come out too low; drive and
motor likewise. Steady state.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import air as air_formulas
from helpers.formulas import fan as curves
from helpers.formulas import kernels
from helpers.formulas.air import STANDARD_DENSITY_KG_M3

LEAST_RATIO = 1e-3  # a stopped fan counts as one at a thousandth of its speed: some millionths of its pressure
REFERENCE_DENSITY_KG_M3 = STANDARD_DENSITY_KG_M3  # of fan catalogues
POINTS = 129  # of the table; flow is off the demo sites' curves by at most 6e-5 of the full flow, next to shut-off
DAMPER_LEAK = 0.005  # closed backdraft damper: share of full flow at the fan's shut-off pressure; common practice, no source


@dataclass
class FanCurve:
    """Flow [m3/s], net pressure [Pa], and the slope of flow by pressure, at the reference speed and standard air."""

    flow: np.ndarray
    pressure: np.ndarray
    rise: np.ndarray  # d flow / d pressure, below zero

    @classmethod
    def from_points(cls, flows_m3_s, pressures_pa, loss_pa=0.0, loss_flow_m3_s=1.0):
        """Read a catalogue curve, less a duct loss of `loss_pa` at `loss_flow_m3_s`.

        Raises ValueError when the points do not fall strictly. Where the duct takes all of the pressure and more, the curve goes on below
        zero: so much flow the fan then brings only with suction to help it.
        """
        curves.check_curve(flows_m3_s, pressures_pa)
        flow = np.linspace(0.0, np.max(flows_m3_s), POINTS)
        pressure = curves.pressure_at_flow(flow, flows_m3_s, pressures_pa) - loss_pa * (flow / loss_flow_m3_s) ** 2
        fall = curves.curve_slopes(flow, pressure)
        # Three chords are the steepest a monotone cubic may start with: it tames the inverse where the shut-off end is nearly flat.
        chord = np.diff(flow) / np.diff(pressure)
        steepest = 3 * np.maximum(np.append(chord, chord[-1]), np.append(chord[0], chord))
        return cls(flow, pressure, np.maximum(1.0 / fall, steepest))

    @classmethod
    def of(cls, fan):
        """The fan of a site file, less its duct's loss."""
        return cls.from_points(fan.flows_m3_s, fan.standard_pressures_pa, fan.duct_loss_pa, fan.duct_loss_flow_m3_s)

    @property
    def shutoff_pa(self):
        """Net pressure without flow at the reference speed [Pa]."""
        return self.pressure[0]

    def pressure_and_slope(self, flow, ratio, density):
        """Pressure [Pa] the fan stands against at a flow [m3/s], and its slope; broadcasts. The exact inverse of `flow_and_slopes`."""
        speed = np.maximum(ratio, LEAST_RATIO)
        middle, rise = _hermite_inverse(_within(flow / speed, 0.0, self.flow[-1]), *self._against)
        pressure, slope = middle * speed**2, speed / rise
        beyond, back = flow > self.flow[-1] * speed, flow < 0
        if beyond.any():
            end = self.pressure[-1] * speed**2 - self._runout * (flow**2 - (self.flow[-1] * speed) ** 2)
            pressure, slope = np.where(beyond, end, pressure), np.where(beyond, -2 * self._runout * flow, slope)
        if back.any():
            per_k = flow / self._damper
            least = np.maximum(2 * np.abs(per_k), kernels.SMOOTHING_PA**0.5) / self._damper
            pressure = np.where(back, self.pressure[0] * speed**2 - kernels.drop(per_k, 0.5), pressure)
            slope = np.where(back, -least, slope)
        head = density / REFERENCE_DENSITY_KG_M3
        return pressure * head, slope * head

    def flow_and_slopes(self, pressure, ratio, density):
        """Flow [m3/s] against a pressure [Pa], and its slopes by pressure and by speed ratio; broadcasts."""
        head = density / REFERENCE_DENSITY_KG_M3
        speed = np.maximum(ratio, LEAST_RATIO)
        square, against = speed**2, pressure / head
        part = _within(against / square, self.pressure[-1], self.pressure[0])
        base, rise = _hermite(part, *self._against)
        flow, slope, by_speed = speed * base, rise / speed, base - 2 * part * rise
        below, above = against < self.pressure[-1] * square, against > self.pressure[0] * square
        if below.any():
            far = np.sqrt(np.maximum(self.flow[-1] ** 2 * square + (self.pressure[-1] * square - against) / self._runout, 1e-18))
            flow, slope = np.where(below, far, flow), np.where(below, -0.5 / (self._runout * far), slope)
            by_speed = np.where(below, speed * (self.flow[-1] ** 2 + self.pressure[-1] / self._runout) / far, by_speed)
        if above.any():
            back, rate = kernels.flow_and_slope(np.maximum(against - self.pressure[0] * square, 0.0), 0.5)
            flow, slope = np.where(above, -self._damper * back, flow), np.where(above, -self._damper * rate, slope)
            by_speed = np.where(above, 2 * self.pressure[0] * speed * self._damper * rate, by_speed)
        return flow, slope / head, by_speed

    @property
    def _against(self):
        """Flow by pressure: nodes, values, slopes, pressure rising."""
        return self.pressure[::-1], self.flow[::-1], self.rise[::-1]

    @property
    def _runout(self):
        return -1.0 / (2 * self.flow[-1] * self.rise[-1])

    @property
    def _damper(self):
        return DAMPER_LEAK * self.flow[-1] / np.sqrt(self.pressure[0])


def _hermite(x, nodes, values, slopes):
    """Cubic through nodes with given slopes, and its derivative."""
    i = _within(np.searchsorted(nodes, x) - 1, 0, len(nodes) - 2)
    width, part = _piece(i, nodes, values, slopes)
    value, rate = part((x - nodes[i]) / width)
    return value, rate / width


def _hermite_inverse(value, nodes, values, slopes):
    """Where the falling cubic has a value, and its derivative there; Newton from the chord, in the piece that holds the value."""
    i = _within(len(nodes) - 1 - np.searchsorted(values[::-1], value), 0, len(nodes) - 2)
    width, part = _piece(i, nodes, values, slopes)
    t = (value - values[i]) / (values[i + 1] - values[i])
    for _ in range(4):
        at, rate = part(t)
        t = _within(t + (value - at) / rate, 0.0, 1.0)
    return nodes[i] + t * width, part(t)[1] / width


def _within(values, low, high):
    """As numpy's clip, which for a handful of numbers takes three times as long."""
    return np.minimum(np.maximum(values, low), high)


def _piece(i, nodes, values, slopes):
    width = nodes[i + 1] - nodes[i]
    start, end, m0, m1 = values[i], values[i + 1], slopes[i] * width, slopes[i + 1] * width
    bend, turn = 2 * (start - end) + m0 + m1, 3 * (end - start) - 2 * m0 - m1
    return width, lambda t: (start + t * (m0 + t * (turn + t * bend)), m0 + t * (2 * turn + 3 * t * bend))


def inlet_density_ratio(tower, conditions):
    """Density of the fan's inlet air over that of its catalogue [conditions]."""
    temperature = conditions.outdoor_c if tower.effect > 0 else conditions.stair_c
    if temperature.ndim == 2:  # an exhaust fan in a stair with a temperature on each storey: by the shares of its inlets
        storeys, shares = zip(*tower.fan_at, strict=True)
        temperature = temperature[:, storeys] @ np.array(shares)
    return air_formulas.density(temperature, tower.pressure_pa) / REFERENCE_DENSITY_KG_M3


def pressure_against(tower, air):
    """Pressure the fan stands against beyond its duct, at each place that it blows to [conditions, places of `Tower.fan_at`]: in the stair
    at its outlets, or in the riser, branches and outlets included."""
    within = air.stair_pa if air.duct_pa is None else air.duct_pa
    return tower.effect * within[:, [storey for storey, _ in tower.fan_at]]


def branch_loss(tower, air):
    """What riser and outlets cost [conditions], Pa: the riser at the fan over the stair at the outlets, mean by flow; zeros without one."""
    if tower.branches is None:
        return np.zeros(len(air.speed_hz))
    flows, whole = air.supply_flow_m3_s, np.where(air.fan_flow_m3_s > 0, air.fan_flow_m3_s, 1.0)
    stair = (flows * air.stair_pa[:, tower.branches.storeys]).sum(axis=-1) / whole
    return np.where(air.fan_flow_m3_s > 0, pressure_against(tower, air)[:, 0] - tower.effect * stair, 0.0)


def fan_points(tower, air, conditions):
    """Flow [m3/s], pressure [Pa], duct loss included, and shaft power [W] of the whole fan, each [conditions].

    air: of `tower.solve` or `tower.hold` under `conditions`. With several outlets the pressure is their mean by flow.
    """
    fan, shares = tower.site.fan, np.array([share for _, share in tower.fan_at])
    shares = np.where(shares > 0, shares, 1.0)  # an outlet without a share of the fan brings nothing
    flows = air.fan_flows_m3_s  # air that a shut backdraft damper lets back takes no power
    density = inlet_density_ratio(tower, conditions)[:, None]
    duct = fan.duct_loss_pa * (flows / shares / fan.duct_loss_flow_m3_s) ** 2 * density
    pressures = np.maximum(pressure_against(tower, air) + duct, 0.0)
    total = flows.sum(axis=-1)
    weighted = (flows * pressures).sum(axis=-1) / np.maximum(total, 1e-12)
    pressure = np.where(total > 0, weighted, pressures.max(axis=-1))
    return total, pressure, curves.shaft_power_w(total, pressure, fan.efficiency)


def electric_power_w(tower, air, conditions):
    """Power from the mains [conditions], W: shaft power over the efficiencies of motor and drive."""
    fan = tower.site.fan
    return fan_points(tower, air, conditions)[2] / (fan.motor_efficiency * fan.drive_efficiency)
