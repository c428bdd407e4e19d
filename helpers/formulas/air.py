"""Air at rest and in the wind: density, altitude, stack effect, neutral plane, hot smoke, wind on a face; what a moving lift car does.

Sign used throughout: a pressure difference is indoors minus outdoors; heights are positive upwards. All arguments broadcast.
"""

import numpy as np

from helpers import require

GRAVITY_M_S2 = 9.80665  # standard gravity, CGPM 1901
R_DRY_AIR = 287.042  # J/(kg K), ASHRAE Fundamentals 2021 ch. 1 eq. 1 (8314.472 / 28.966)
HEAT_CAPACITY_AIR = 1005.0  # J/(kg K) at constant pressure, dry air at room temperature; text-book value (memory)
STANDARD_DENSITY_KG_M3 = 1.2  # standard air of fan catalogues: ISO 5801; AMCA 99 has 0.075 lb/ft3, 1.201 (by a reviewer in 2026)
STANDARD_PRESSURE_PA = 101325.0  # sea level, ICAO standard atmosphere; ASHRAE Fundamentals 2021 ch. 1 table 1
ZERO_C_K = 273.15  # definition of the degree Celsius

# Exponent and depth of the boundary layer [m]: ASHRAE Fundamentals 2021 ch. 24 table 1.
TERRAINS = {"city": (0.33, 460.0), "suburban": (0.22, 370.0), "open": (0.14, 270.0), "water": (0.10, 210.0)}

# Wall averages. ashrae_low_rise: ASHRAE Fundamentals 2021 ch. 16. en1991_tall: EN 1991-1-4:2005 table 7.1, height five times the
# depth, side zone B (memory); structural values, so on the large side for an air-flow study, but nearer a tower than the low-rise set.
FACE_COEFFICIENTS = {
    "ashrae_low_rise": {"windward": 0.6, "side": -0.65, "leeward": -0.3},
    "en1991_tall": {"windward": 0.8, "side": -0.8, "leeward": -0.7},
}


def pressure_at_altitude(altitude_m):
    """Barometric pressure of the standard atmosphere.

    altitude_m [m], any shape; strictly the geopotential height (0.03 % more than the geometric one at 2000 m). Returns [Pa].
    Equation: p = 101325 (1 - 2.25577e-5 Z)^5.2559. Raises ValueError outside -5000 to 11000 m.
    Source: ASHRAE Fundamentals 2021 ch. 1 eq. 3. Limits: a yearly mean; weather moves the true barometer by about 3 %.

    >>> print(f"{pressure_at_altitude(1000) / 1000:.3f} kPa")
    89.875 kPa
    """
    altitude = require.between(-5000, 11000, altitude_m=altitude_m)
    return STANDARD_PRESSURE_PA * (1 - 2.25577e-5 * altitude) ** 5.2559


def density(temp_c, pressure_pa=STANDARD_PRESSURE_PA):
    """Density of dry air as an ideal gas.

    temp_c [°C], pressure_pa absolute [Pa]; broadcast. Returns [kg/m3]. Equation: rho = p / (R T).
    Raises ValueError at or below absolute zero, or for a pressure that is not positive.
    Source: ASHRAE Fundamentals 2021 ch. 1. Limits: within 0.15 % of the real gas from -40 to 60 °C;
    air saturated at 30 °C is 1.6 % lighter.

    >>> print(f"{density(20.0):.4f} kg/m3")
    1.2042 kg/m3
    """
    return require.positive(pressure_pa=pressure_pa) / (R_DRY_AIR * _kelvin(temp_c=temp_c))


def thermal_gravity_effect(rise_m, density_ambient_kg_m3, density_duct_kg_m3):
    """Pressure that buoyancy adds to a duct's or stack's flow over a rise; positive when it helps the flow.

    rise_m outlet height less inlet height [m], densities [kg/m3]; broadcast. Returns [Pa]. Equation: g (rho_a - rho) (z2 - z1).
    Raises ValueError for densities that are not positive. Source: ASHRAE Fundamentals 2021 ch. 21 eq. 13 and examples 1 to 4.
    Limits: one density along the duct. A fan must supply its losses less this effect.

    >>> print(f"{thermal_gravity_effect(15.0, 1.204, 0.434):.0f} Pa")
    113 Pa
    """
    ambient = require.positive(density_ambient_kg_m3=density_ambient_kg_m3)
    return GRAVITY_M_S2 * (ambient - require.positive(density_duct_kg_m3=density_duct_kg_m3)) * require.finite(rise_m=rise_m)


def stack_gradient(temp_out_c, temp_in_c, pressure_pa=STANDARD_PRESSURE_PA):
    """How fast the pressure difference indoors minus outdoors rises with height; positive when indoors is warmer.

    temp_out_c, temp_in_c [°C], pressure_pa [Pa]; broadcast. Returns [Pa/m]. Equation: g (rho_out - rho_in) = (g p / R) (1/T_out - 1/T_in).
    Raises ValueError at or below absolute zero. Source: ASHRAE Fundamentals 2021 ch. 16 (the constant 3461.7 Pa K/m follows
    from g p / R; handbooks print 3460). Limits: dry air, one temperature on each side.

    >>> print(f"{stack_gradient(-10.0, 21.111):.2f} Pa/m")
    1.39 Pa/m
    """
    return thermal_gravity_effect(
        1.0, density(_celsius(temp_out_c=temp_out_c), pressure_pa), density(_celsius(temp_in_c=temp_in_c), pressure_pa)
    )


def stack_pressure(height_m, temp_out_c, temp_in_c, pressure_pa=STANDARD_PRESSURE_PA):
    """Stack pressure difference, indoors minus outdoors, at a height above the neutral plane.

    height_m above the neutral plane, negative below [m], temperatures [°C], pressure_pa [Pa]; broadcast. Returns [Pa].
    Equation: gradient x height. Raises ValueError as stack_gradient. Source: ASHRAE Fundamentals 2021 ch. 16.
    Limits: no floors between (thermal draft coefficient 1); three office towers measured 0.8 to 0.9.
    """
    return stack_gradient(temp_out_c, temp_in_c, pressure_pa) * require.finite(height_m=height_m)


def fire_buoyancy(height_m, temp_fire_c, temp_ambient_c, pressure_pa=STANDARD_PRESSURE_PA):
    """Pressure of hot smoke against a barrier, at a height above the fire room's neutral plane.

    height_m [m], temperatures [°C], pressure_pa [Pa]; broadcast. Returns [Pa]. Equation: g (rho_ambient - rho_fire) h.
    Raises ValueError as stack_gradient. Source: ASHRAE HVAC Applications, fire and smoke chapter (memory).
    Limits: smoke taken as air; one temperature in the fire room.

    >>> print(f"{fire_buoyancy(1.52, 800.0, 20.0):.0f} Pa")
    13 Pa
    """
    ambient, fire = _celsius(temp_ambient_c=temp_ambient_c), _celsius(temp_fire_c=temp_fire_c)
    return stack_pressure(height_m, ambient, fire, pressure_pa)


def smoke_barrier_pressure(ceiling_height_m, temp_fire_c=926.667, temp_ambient_c=21.111, margin_pa=7.473, neutral_share=2 / 3):
    """Smallest design pressure across a smoke barrier without sprinklers: buoyancy below the ceiling plus a margin.

    ceiling_height_m [m], temperatures [°C] (1700 °F and 70 °F), margin_pa [Pa] (0.03 in. w.g.), neutral_share distance of the neutral
    plane below the ceiling as a share of the ceiling height [-]; broadcast. Returns [Pa]. Equation: fire_buoyancy(share h) + margin.
    Raises ValueError for heights that are not positive, a margin below 0, a share outside 0 to 1.
    Source: NFPA 92 table 4.4.2.1.1 (guides that reprint 92A of 2000, read by a reviewer in 2026) and annex (memory). Limits: sprinklered
    spaces use 0.05 in. w.g. flat; the adopted code decides.
    """
    height = require.positive(ceiling_height_m=ceiling_height_m) * require.between(0, 1, neutral_share=neutral_share)
    return fire_buoyancy(height, temp_fire_c, temp_ambient_c) + require.at_least(0, margin_pa=margin_pa)


def neutral_plane_height(distance_m, area_low_m2, area_high_m2, temp_out_c, temp_in_c):
    """Height of the neutral plane above the lower of two openings.

    distance_m between the openings [m], areas [m2], temperatures [°C]; broadcast. Returns [m].
    Equation: h = H / (1 + (A_low/A_high)^2 T_warm/T_cold), from equal mass in and out.
    Raises ValueError for distances or areas that are not positive. Source: ASHRAE Fundamentals 2021 ch. 16.
    Limits: two openings, square-root flow, no wind, no fan.

    >>> print(f"{neutral_plane_height(30.0, 1.0, 1.0, 20.0, 20.0):.1f} m")
    15.0 m
    """
    outdoors, indoors = _kelvin(temp_out_c=temp_out_c), _kelvin(temp_in_c=temp_in_c)
    cold_k, warm_k = np.minimum(outdoors, indoors), np.maximum(outdoors, indoors)
    areas = require.positive(area_low_m2=area_low_m2) / require.positive(area_high_m2=area_high_m2)
    return require.positive(distance_m=distance_m) / (1 + areas**2 * warm_k / cold_k)


def velocity_pressure(speed_m_s, density_kg_m3=STANDARD_DENSITY_KG_M3):
    """Velocity pressure of moving air.

    speed_m_s [m/s], density_kg_m3 [kg/m3]; broadcast. Returns [Pa]. Equation: rho V^2 / 2. Raises ValueError for a density that
    is not positive. Source: ASHRAE Fundamentals 2021 ch. 21. Limits: incompressible, below about 100 m/s.
    """
    return require.positive(density_kg_m3=density_kg_m3) * require.finite(speed_m_s=speed_m_s) ** 2 / 2


def wind_pressure(speed_m_s, pressure_coefficient, density_kg_m3=STANDARD_DENSITY_KG_M3):
    """Wind pressure on a face over the still outdoors at the same height.

    speed_m_s at that height [m/s], pressure_coefficient [-], density_kg_m3 [kg/m3]; broadcast. Returns [Pa]. Equation: Cp rho V^2 / 2.
    Raises ValueError for a negative speed. Source: ASHRAE Fundamentals 2021 ch. 24. Limits: a mean over minutes, no gusts.

    >>> print(f"{wind_pressure(15.6, 0.8):.0f} Pa")
    117 Pa
    """
    speed = require.at_least(0, speed_m_s=speed_m_s)
    return require.finite(pressure_coefficient=pressure_coefficient) * velocity_pressure(speed, density_kg_m3)


def wind_speed_at_height(speed_met_m_s, height_m, terrain="suburban", terrain_met="open", height_met_m=10):
    """Wind speed at a height over the site, from the weather station's.

    speed_met_m_s [m/s], height_m and height_met_m [m], broadcast; terrain of site and station, names of TERRAINS. Returns [m/s].
    Equation: V_met (d_met/h_met)^a_met (h/d)^a; above the layer depth d the speed stays. Raises ValueError for negative speeds or heights.
    Source: ASHRAE Fundamentals 2021 ch. 24 eq. 4, table 1. Limits: even terrain for some hundred metres upwind; no shelter by neighbours.
    """
    exponent, depth = TERRAINS[require.one_of(TERRAINS, terrain=terrain)]
    exponent_met, depth_met = TERRAINS[require.one_of(TERRAINS, terrain_met=terrain_met)]
    gradient_share = (depth_met / require.between(1, depth_met, height_met_m=height_met_m)) ** exponent_met
    height_share = np.minimum(require.at_least(0, height_m=height_m) / depth, 1.0)
    return require.at_least(0, speed_met_m_s=speed_met_m_s) * gradient_share * height_share**exponent


def face_pressure_coefficients(wind_from_deg, faces_deg, table="ashrae_low_rise"):
    """Wind pressure coefficient of faces by wind direction.

    wind_from_deg where the wind comes from, faces_deg where each face looks, both by compass [deg]; broadcast (wind[:, None] gives a
    row of faces per wind). table: a name of FACE_COEFFICIENTS. Returns [-]. Equation, with the angle a between them:
    [(Cw+Cl) |cos a|^(1/2) + (Cw-Cl) sign(cos a) |cos a|^(3/4) + 2 Cs sin(a)^4] / 2, continuous, equal to the table at 0, 90, 180 and 270.
    Raises ValueError for an unknown table. Source: Walker and Wilson 1994 (memory). Limits: wall averages of a detached block.
    """
    values = FACE_COEFFICIENTS[require.one_of(FACE_COEFFICIENTS, table=table)]
    angle = np.deg2rad(require.finite(wind_from_deg=wind_from_deg) - require.finite(faces_deg=faces_deg))
    cos, windward, leeward = np.round(np.cos(angle), 12), values["windward"], values["leeward"]  # rounded: the root makes 1e-17 count
    along = (windward + leeward) * np.abs(cos) ** 0.5 + (windward - leeward) * np.sign(cos) * np.abs(cos) ** 0.75
    return (along + 2 * values["side"] * (1 - cos**2) ** 2) / 2


def _celsius(**named):
    return require.above(-ZERO_C_K, **named)


def _kelvin(**named):
    return _celsius(**named) + ZERO_C_K


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
