"""A plant whose fan holds a pressure: what a building and a duct share. Same fan curve, network, hold and table as a stair's tower."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import air as air_formulas
from helpers.formulas import fan as fans
from helpers.formulas import require
from helpers.model import network as nets
from helpers.model.fan import REFERENCE_DENSITY_KG_M3, FanCurve
from helpers.model.hold import STATES, hold
from helpers.model.loop.air_table import MOST_SPEEDS, AirTable
from helpers.model.loop.run import own_low_demand, settings_of
from helpers.model.plants.conditions import turns_schedule
from helpers.model.tower import HeldAir

__all__ = ["PlantAir", "PressurePlant", "mains_power_w"]


@dataclass
class PlantAir:
    """Air in a plant: pressure_pa [conditions, places] over the still outdoor air at the same height (a duct: over the rooms);
    readings_pa [conditions, transmitters] of ideal transmitters; fan_flow_m3_s at inlet density, power_w from the mains, speed_hz,
    converged, residual_kg_s, supply_kg_s [conditions]."""

    pressure_pa: np.ndarray
    readings_pa: np.ndarray
    fan_flow_m3_s: np.ndarray
    power_w: np.ndarray
    speed_hz: np.ndarray
    converged: np.ndarray
    residual_kg_s: np.ndarray
    supply_kg_s: np.ndarray


class PressurePlant:
    """Base of `Building` and `Duct`, which say where their fan, openings and tubes are.

    A subclass sets `places` (names), `fan_place` (number) and `taps`, and gives `network(conditions, ratio)`.
    """

    least_speeds = 20  # of the table that the loop looks up

    def __init__(self, site):
        self.site, self.curve, self.effect = site, FanCurve.of(site.fan), site.fan.sign
        self.pressure_pa = float(air_formulas.pressure_at_altitude(site.altitude_m))

    def solve(self, conditions, speed_hz):
        """Air under some conditions at given fan speeds [Hz], one for all or one per condition. Returns `PlantAir`."""
        speed = np.broadcast_to(require.at_least(0, speed_hz=speed_hz), len(conditions))
        network = self.network(conditions, speed / self.site.fan.reference_speed_hz)
        return self._air(network, nets.solve(network), speed)

    def hold(self, conditions, set_point_pa=None, rule=None, weights=None):
        """Air at the fan speed at which the combined reading meets the set point; what is not given is the site's own. `HeldAir`."""
        control, fan = self.site.control, self.site.fan
        target = np.broadcast_to(np.asarray(control.set_point_pa if set_point_pa is None else set_point_pa, float), len(conditions))
        rule, weights = rule or control.rule, control.weights if rule is None else weights
        limits = [speed / fan.reference_speed_hz for speed in fan.speed_limits_hz(control.fire_mode)]
        network = self.network(conditions, np.full(len(conditions), limits[0]))
        found = hold(network, self.taps, rule, target, *limits, weights=weights)
        air = self._air(nets.at_ratio(network, found.ratio), found.solution, found.ratio * fan.reference_speed_hz)
        return HeldAir(air, np.array(STATES)[found.state], found.reading_pa)

    def table(self, conditions, setup, runs=1):
        """The air as the loop sees it over a run with the turns of `setup.events`: an `AirTable`, solved at some speeds of every moment.

        Its doors_pa are the pressures of all places. Raises ValueError where the network finds no answer.
        """
        scheduled = turns_schedule(conditions, setup.events, setup.length_s)

        def quantities(found, rows):
            return found.readings_pa, found.pressure_pa, found.fan_flow_m3_s, found.power_w

        speeds = max(require.whole(2, MOST_SPEEDS, speeds=setup.speeds), self.least_speeds)
        return AirTable.solved(self.solve, quantities, scheduled, self.site.fan.highest_speed_hz, speeds)

    def settings(self):
        """The site's own controller settings."""
        return settings_of(self.site)

    def low_demand_rule(self):
        """The site's own low-demand rule; None where it has none."""
        return own_low_demand(self.site)

    def transmitters(self):
        """Transmitters as the loop's signal chain takes them."""
        return self.site.transmitters

    def lag_s(self, setup):
        """Time constant of the transmitters [s]."""
        return setup.lag_s

    def _air(self, network, solution, speed_hz):
        (fan,) = [opening for opening in network.openings if opening.law.fan]
        difference = fan.difference(solution.pressure)
        flow = fan.law.volume_flow(difference)[0]
        power = mains_power_w(self.site.fan, flow, self.effect * difference[0], fan.law.density[0] / REFERENCE_DENSITY_KG_M3)
        readings = self.taps.read(solution.pressure).T
        return PlantAir(solution.pressure[0].T, readings, flow, power, speed_hz, solution.converged, solution.residual_kg_s,
                        solution.supply_kg_s)  # fmt: skip


def mains_power_w(fan, flow_m3_s, against_pa, density_ratio):
    """Power from the mains [W] of a fan that moves a flow [m3/s] against a pressure beyond its duct [Pa]; broadcasts.

    Air pushed through a standing fan takes none. Limits: one efficiency of fan, motor and drive at all loads, as the site file states it,
    so that powers at small flow come out too low.
    """
    flow = np.maximum(flow_m3_s, 0.0)
    pressure = against_pa + fan.duct_loss_pa * (flow / fan.duct_loss_flow_m3_s) ** 2 * density_ratio
    return fans.shaft_power_w(flow, np.maximum(pressure, 0.0), fan.efficiency) / (fan.motor_efficiency * fan.drive_efficiency)
