"""What the fan of a tower gives and takes: flow, pressure with its duct's loss, shaft power, power from the mains.

Limits: one efficiency of the fan at all flows and speeds, as the site file states it, so that powers at small flow come out too low; drive
and motor likewise. Steady state.
"""

import numpy as np

from helpers.formulas import air as air_formulas
from helpers.formulas import fan as fans
from helpers.model.fan import REFERENCE_DENSITY_KG_M3

__all__ = ["electric_power_w", "fan_points", "inlet_density_ratio", "pressure_against"]


def inlet_density_ratio(tower, conditions):
    """Density of the fan's inlet air over that of its catalogue [conditions]."""
    temperature = conditions.outdoor_c if tower.effect > 0 else conditions.stair_c
    if temperature.ndim == 2:  # an exhaust fan in a stair with a temperature on each storey: by the shares of its inlets
        shares = np.array([supply.share for supply in tower.site.supplies])
        temperature = temperature[:, [tower.storey(supply.level) for supply in tower.site.supplies]] @ shares
    return air_formulas.density(temperature, tower.pressure_pa) / REFERENCE_DENSITY_KG_M3


def pressure_against(tower, air):
    """Pressure the fan stands against beyond its duct, at each of its outlets [conditions, supplies]."""
    storeys = [tower.storey(supply.level) for supply in tower.site.supplies]
    return tower.effect * air.stair_pa[:, storeys]


def fan_points(tower, air, conditions):
    """Flow [m3/s], pressure [Pa], duct loss included, and shaft power [W] of the whole fan, each [conditions].

    air: of `tower.solve` or `tower.hold` under `conditions`. With several outlets the pressure is their mean by flow.
    """
    fan, shares = tower.site.fan, np.array([supply.share for supply in tower.site.supplies])
    shares = np.where(shares > 0, shares, 1.0)  # an outlet without a share of the fan brings nothing
    flows = np.maximum(air.supply_flow_m3_s, 0.0)  # air that a shut backdraft damper lets back takes no power
    density = inlet_density_ratio(tower, conditions)[:, None]
    duct = fan.duct_loss_pa * (flows / shares / fan.duct_loss_flow_m3_s) ** 2 * density
    pressures = np.maximum(pressure_against(tower, air) + duct, 0.0)
    total = flows.sum(axis=-1)
    weighted = (flows * pressures).sum(axis=-1) / np.maximum(total, 1e-12)
    pressure = np.where(total > 0, weighted, pressures.max(axis=-1))
    return total, pressure, fans.shaft_power_w(total, pressure, fan.efficiency)


def electric_power_w(tower, air, conditions):
    """Power from the mains [conditions], W: shaft power over the efficiencies of motor and drive."""
    fan = tower.site.fan
    return fan_points(tower, air, conditions)[2] / (fan.motor_efficiency * fan.drive_efficiency)
