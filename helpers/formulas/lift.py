"""What a moving lift car does to the air of its shaft."""

from helpers.formulas import require
from helpers.formulas.air import STANDARD_DENSITY_KG_M3

__all__ = ["FLOW_COEFFICIENTS", "piston_pressure"]

# Of the flow past a car, alone in its shaft or beside a second one. Source: Klote and Milke, smoke management texts (memory).
FLOW_COEFFICIENTS = {"single car": 0.83, "two cars": 0.94}


def piston_pressure(
    car_speed_m_s, shaft_area_m2, free_area_m2, flow_coefficient=FLOW_COEFFICIENTS["single car"], density_kg_m3=STANDARD_DENSITY_KG_M3
):
    """Largest pressure difference that a car pushes up in its shaft, between the air before it and behind it.

    car_speed_m_s [m/s], shaft_area_m2 cross-section of the shaft [m2], free_area_m2 what the car leaves free of it [m2],
    flow_coefficient of the flow past the car [-], density_kg_m3 [kg/m3]; broadcast. Returns [Pa].
    Equation: rho/2 (A_shaft v / (C A_free))^2: the air that the car displaces goes past it as through an orifice.
    Raises ValueError for a speed beyond 0 to 30 m/s, areas that are not positive, a free area larger than the shaft's, a coefficient beyond
    0.1 to 1.
    Source: the orifice law (derived); the coefficients from smoke management texts (memory). Limits: an upper bound; part of the air
    leaves by the landing doors, and what is left lies in series over them and the lobby.

    >>> print(f"{piston_pressure(1.6, 4.8, 1.5):.0f} Pa")
    23 Pa
    """
    shaft = require.positive(shaft_area_m2=shaft_area_m2)
    free = require.positive(free_area_m2=free_area_m2)
    require.at_least(0, **{"shaft_area_m2 less free_area_m2": shaft - free})
    coefficient = require.between(0.1, 1, flow_coefficient=flow_coefficient)
    past_the_car = require.between(0, 30, car_speed_m_s=car_speed_m_s) * shaft / (free * coefficient)
    return require.finite(pressure_pa=require.positive(density_kg_m3=density_kg_m3) / 2 * past_the_car**2)
