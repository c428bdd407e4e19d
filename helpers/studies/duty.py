"""Fan duty: what the fan must give in each case, at which speed and power, what is left at full speed, and whether the motor is enough."""

from dataclasses import dataclass

import numpy as np

__all__ = ["Duty", "fan_duty"]


@dataclass(frozen=True)
class Duty:
    """Duty points, arrays by case. Pressures are the fan's total pressure, duct loss included; speeds in drive frequency."""

    names: tuple
    state: np.ndarray
    reading_pa: np.ndarray
    flow_m3_s: np.ndarray
    pressure_pa: np.ndarray
    speed_hz: np.ndarray
    shaft_power_w: np.ndarray
    electric_power_w: np.ndarray
    shutoff_speed_hz: np.ndarray
    full_flow_m3_s: np.ndarray
    full_reading_pa: np.ndarray
    full_shaft_power_w: np.ndarray


def fan_duty(tower, cases, held, set_point_pa=None, rule=None, transmitters=None):
    """Duty points of a tower's fan. held: the `HeldAir` of these cases. Returns `Duty`."""
    raise NotImplementedError
