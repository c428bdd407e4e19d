"""Doors under pressure: force at the handle, the pressure a person can open against, air through an open door, stack effect over a stair.

Sign: `dp_pa` is positive when the pressure pushes the leaf against the way it opens, so that it adds to the force. A leaf that opens the
other way has the pressure on its side: give the same pressure with a minus. A force below zero then says that the closer cannot hold
the leaf shut: it stands open. All arguments broadcast. Over the height of a stair pressures run in a straight line here: a first view.
"""

import numpy as np

from helpers import require
from helpers.formulas.air import GRAVITY_M_S2, HEAT_CAPACITY_AIR, STANDARD_DENSITY_KG_M3, ZERO_C_K

HANDLE_TO_EDGE_M = 0.076  # 3 in.: the handle of the tables in NFPA 92 and ASHRAE (reprint, by a reviewer in 2026)
OPEN_DOOR_DISCHARGE_COEFFICIENT = 0.65  # ASHRAE HVAC Applications, fire and smoke chapter (memory); EN 12101-6 uses 0.64

# Most force at the handle [N]. NFPA 101 7.2.1.4.5 and IBC 1010: 30 lbf to set in motion, 15 lbf to free the latch (edition 2000,
# quoted in public); EN 12101-6:2005: 100 N (BS 5588-4:1998 before it prints the same; both by a reviewer in 2026).
FORCE_LIMITS_N = {"nfpa101_set_in_motion": 133.4466, "nfpa101_free_latch": 66.7233, "en12101_6": 100.0}

# Stair pressure [Pa]. IBC 909.20.5: 0.10 to 0.35 in. w.g. with doors shut (the top read by a reviewer in 2026; 85 Pa in one
# edition: memory); EN 12101-6:2005: 50 Pa with doors shut (BS 5588-4:1998 before it prints the same, by a reviewer in 2026).
STAIR_PRESSURES_PA = {"ibc_least": 24.9089, "ibc_most": 87.1811, "en12101_6_doors_shut": 50.0}


def opening_force(dp_pa, width_m, height_m, closer_force_n, handle_to_edge_m=HANDLE_TO_EDGE_M):
    """Force at the handle that opens a leaf against closer and pressure.

    dp_pa signed as above [Pa], width_m, height_m of the leaf [m], closer_force_n at the handle [N], handle_to_edge_m from the handle to
    the latch edge [m]; broadcast. Returns [N]; below zero: the leaf stands open by itself, with that force.
    Equation: F = F_c + dp h b^2 / (2 (b - d)).
    Raises ValueError for sizes that are not positive, a negative closer force, a handle at or beyond the hinges.
    Source: New York City Building Code 909.6.2, eq. 9-1, as NFPA 92 and ASHRAE have it (read by a reviewer in 2026).
    Limits: swing doors, even pressure; latch friction, seals and the leaf's inertia come on top. Measure on site with a force gauge.

    >>> print(f"{opening_force(75.0, 0.91, 2.13, 40.0):.0f} N")
    119 N
    """
    arm = _area_per_lever(width_m, height_m, handle_to_edge_m)
    return require.at_least(0, closer_force_n=closer_force_n) + require.finite(dp_pa=dp_pa) * arm


def pressure_tolerated(force_limit_n, width_m, height_m, closer_force_n, handle_to_edge_m=HANDLE_TO_EDGE_M):
    """Most pressure against which a leaf opens within a force limit; the inverse of opening_force.

    force_limit_n at the handle [N], the rest as opening_force; broadcast. Returns [Pa]; below zero: the closer alone is over the limit.
    A limit of 0 gives (with a minus) the pressure on the leaf's side that holds it open. Equation: dp = 2 (F_max - F_c) (b - d) / (h b^2).
    Raises ValueError for a negative limit, and as opening_force. Source: NFPA 92 table 4.4.2.2 (a reprint, by a reviewer in 2026).
    Limits as opening_force.

    >>> print(f"{pressure_tolerated(133.4466, 0.9144, 2.1336, 35.586, 0.0762) / 249.0889:.2f} in. w.g.")
    0.37 in. w.g.
    """
    spare = require.at_least(0, force_limit_n=force_limit_n) - require.at_least(0, closer_force_n=closer_force_n)
    return spare / _area_per_lever(width_m, height_m, handle_to_edge_m)


def relatching_pressure(width_m, height_m, closer_force_n, closing_share, handle_to_edge_m=HANDLE_TO_EDGE_M):
    """Most pressure on a leaf's own side (pushing it open) against which its closer still shuts it and the latch falls in.

    closing_share: the part of the force it takes to open that the closer gives back in shutting [-, 0 to 1]; the rest as opening_force;
    broadcast. Returns [Pa]. Equation: dp = 2 s F_c (b - d) / (h b^2), moments about the hinges of the leaf all but shut.
    Raises ValueError for a share outside 0 to 1, and as opening_force. Source: moments; the share is common practice, no source.
    Limits: what the latch itself takes to fall in, and a leaf with some way to go, ask for less pressure still. Try it on site.

    >>> print(f"{relatching_pressure(1.0, 2.1, 80.0, 0.5, 0.07):.0f} Pa")
    35 Pa
    """
    given = require.between(0, 1, closing_share=closing_share) * require.at_least(0, closer_force_n=closer_force_n)
    return given / _area_per_lever(width_m, height_m, handle_to_edge_m)


def force_at_edge(force_at_handle_n, width_m, handle_to_edge_m=HANDLE_TO_EDGE_M):
    """Force at the latch edge of a leaf that turns it as a force at the handle does.

    force_at_handle_n [N], width_m of the leaf, handle_to_edge_m from the handle to the latch edge [m]; broadcast. Returns [N].
    Equation: F_edge = F (b - d) / b, moments about the hinges. Raises ValueError for sizes that are not positive, a handle at or
    beyond the hinges. Source: moments. NFPA 101 measures at the latch stile (edition 2000, seen in public text), the formula of
    opening_force and EN 12101-6:2005 at the handle. Limits: a gauge square to the leaf, its tip at the very edge.

    >>> print(f"{force_at_edge(70.0, 0.91, 0.07):.1f} N")
    64.6 N
    """
    width, to_edge = require.positive(width_m=width_m), require.at_least(0, handle_to_edge_m=handle_to_edge_m)
    if np.any(width - to_edge <= 0):
        raise ValueError(f"handle_to_edge_m must be below width_m, got a handle {np.min(width - to_edge):g} m from the hinge")
    return require.finite(force_at_handle_n=force_at_handle_n) * (width - to_edge) / width


def open_door_flow(dp_pa, width_m, height_m, density_kg_m3=STANDARD_DENSITY_KG_M3, discharge_coefficient=OPEN_DOOR_DISCHARGE_COEFFICIENT):
    """Volume flow through a fully open door, with the sign of the pressure difference.

    dp_pa across the opening [Pa], width_m, height_m [m], density_kg_m3 [kg/m3], discharge_coefficient [-]; broadcast. Returns [m3/s].
    Equation: q_V = C_d b h sqrt(2 dp / rho). Raises ValueError for sizes or densities that are not positive, a coefficient outside 0.1 to
    1. Source: ASHRAE HVAC Applications, fire and smoke chapter, orifice equation (memory). Limits: one air temperature; with two, air
    crosses both ways at once and this is only the net. Through the doorway of a pressurised stair tests found far less, by vortices and
    people in it: ASHRAE takes half the doorway's area there (Cresci 1973; memory).

    >>> print(f"{open_door_flow(2.0, 0.9, 2.1):.2f} m3/s")
    2.24 m3/s
    """
    dp, area = require.finite(dp_pa=dp_pa), require.positive(width_m=width_m) * require.positive(height_m=height_m)
    speed = np.sqrt(2 * np.abs(dp) / require.positive(density_kg_m3=density_kg_m3))
    return np.sign(dp) * require.between(0.1, 1, discharge_coefficient=discharge_coefficient) * area * speed


def open_door_velocity(flow_m3_s, width_m, height_m):
    """Mean speed of the air in an open doorway.

    flow_m3_s signed [m3/s], width_m, height_m [m]; broadcast. Returns [m/s]. Equation: v = q_V / (b h).
    Raises ValueError for sizes that are not positive. Source: EN 12101-6:2005 acceptance criterion (memory).
    Limits: a mean over the opening; on site it is measured on a grid of points.
    """
    return require.finite(flow_m3_s=flow_m3_s) / (require.positive(width_m=width_m) * require.positive(height_m=height_m))


def _area_per_lever(width_m, height_m, handle_to_edge_m):
    """Force at the handle per pascal on the leaf [N/Pa]: the pressure's arm is half the width, the hand's reaches from hinge to handle."""
    width, height = require.positive(width_m=width_m), require.positive(height_m=height_m)
    lever = width - require.at_least(0, handle_to_edge_m=handle_to_edge_m)
    if np.any(lever <= 0):
        raise ValueError(f"handle_to_edge_m must be below width_m, got a handle {np.min(lever):g} m from the hinge")
    return width * height * width / (2 * lever)


def pressure_at(height_m, reading_pa, reading_height_m, gradient_pa_m):
    """Pressure across a door where the profile is a straight line through a reading.

    height_m of the door, reading_pa at reading_height_m, gradient_pa_m (above zero: more pressure higher up, as in winter); broadcast.
    Returns [Pa]. Equation: reading + gradient (height - reading height). Raises ValueError for anything not finite. Source: stack effect
    of even temperatures, ASHRAE Fundamentals 2021 ch. 16 (memory). Limits: doors shut, the same leaks on all storeys, no friction in the
    stair, no wind; an open door bends the profile.

    >>> print(f"{pressure_at(38.0, 40.0, 20.0, 0.8):.1f} Pa")
    54.4 Pa
    """
    above = require.finite(height_m=height_m) - require.finite(reading_height_m=reading_height_m)
    return require.finite(reading_pa=reading_pa) + require.finite(gradient_pa_m=gradient_pa_m) * above


def release_area(speed_m_s, stair_pa, width_m, height_m, free_area_m2, discharge_coefficient, density_kg_m3=STANDARD_DENSITY_KG_M3):
    """Free area of an air release at which the air goes out through an open door of one floor at a wanted speed: by hand.

    speed_m_s wanted, the mean over the leaf [m/s]; stair_pa: the stair over outdoors on that storey, with the door open [Pa]; width_m,
    height_m of the leaf, free_area_m2 of the doorway [m2]; discharge_coefficient of the release [-]; density_kg_m3 [kg/m3]; broadcast.
    Returns [m2]; infinite where the doorway alone takes all of the pressure or more. Equation: Q = v b h; 1 / (C A)^2 = 2 dp / (rho Q^2) -
    1 / (C_d A_d)^2, doorway and release in series between stair and outdoors. Raises ValueError for values that are not positive, a
    coefficient outside 0.1 to 1. Source: effective flow areas in series, ASHRAE HVAC Applications, fire and smoke chapter (memory).
    Limits: the release is the floor's only way out, one air temperature, no wind on it; the stair's pressure is what the fan then leaves,
    not what it leaves with the door shut.

    >>> print(f"{release_area(0.75, 20.0, 0.91, 2.1, 1.911, 0.65):.2f} m2")
    0.39 m2
    """
    flow = require.positive(speed_m_s=speed_m_s) * require.positive(width_m=width_m) * require.positive(height_m=height_m)
    head = np.sqrt(2 * require.positive(stair_pa=stair_pa) / require.positive(density_kg_m3=density_kg_m3))
    doorway = OPEN_DOOR_DISCHARGE_COEFFICIENT * require.positive(free_area_m2=free_area_m2)
    left = (head / flow) ** 2 - doorway**-2
    given = require.between(0.1, 1, discharge_coefficient=discharge_coefficient)
    with np.errstate(divide="ignore"):
        return np.where(left > 0, 1 / np.sqrt(np.maximum(left, 0.0)), np.inf)[()] / given


CRITICAL_FACTOR = 1.0  # K of critical_velocity: of the order of 1 by Thomas 1970 (memory)
OPPOSED_FLOW_FACTOR = 0.64  # of opposed_flow_velocity: NFPA 92, annexes and NFPA 92B before it (memory)
MOST_OPPOSED_M_S = 1.016  # 200 ft/min: NFPA 92 does not let air hold smoke back at more than this: it feeds the fire (memory)


def critical_velocity(heat_release_w, width_m, air_c=20.0, density_kg_m3=STANDARD_DENSITY_KG_M3, factor=CRITICAL_FACTOR):
    """Speed of the air in a corridor or a doorway at which smoke of a fire just does not flow back against it, by the heat release rate.

    heat_release_w into the corridor, convective [W]; width_m of corridor or doorway [m]; air_c, density_kg_m3 of the air that comes
    against the smoke [degC, kg/m3]; factor of the order of 1 [-]; broadcast. Returns [m/s].
    Equation: v = K (g E / (W rho c T))^(1/3), T = air_c + 273.15 K. Raises ValueError for values below zero, a width, a density or a factor
    that is not positive. Source: Thomas, Movement of smoke in horizontal corridors against an air flow, Fire Research Station 1970; Klote
    and Milke, smoke management texts, print 0.0292 (E / W)^(1/3) of it (both from memory, not verified). Limits: smoke spread evenly over
    the width, low against its height; T is strictly of the mix of air and smoke: air_c gives the larger, careful speed; no sprinklers.

    >>> print(f"{critical_velocity(125e3, 0.9):.2f} m/s")
    1.57 m/s
    """
    heat = GRAVITY_M_S2 * require.at_least(0, heat_release_w=heat_release_w) / require.positive(width_m=width_m)
    warm = require.above(-ZERO_C_K, air_c=air_c) + ZERO_C_K
    carried = require.positive(density_kg_m3=density_kg_m3) * HEAT_CAPACITY_AIR * warm
    return require.positive(factor=factor) * np.cbrt(heat / carried)


def opposed_flow_velocity(height_m, gas_c, air_c=20.0):
    """Mean speed of the air through an opening at which smoke behind it just does not come out against it, by the smoke's temperature.

    height_m of the opening [m]; gas_c of the smoke, air_c of the air [degC]; broadcast. Returns [m/s], zero for smoke no warmer than the
    air. Equation: v = 0.64 sqrt(g H (Tf - To) / Tf), temperatures in kelvin. Raises ValueError for a height that is not positive,
    temperatures below absolute zero. Source: NFPA 92, opposed airflow (from memory, not verified); the standard does not let it be used
    where it gives more than MOST_OPPOSED_M_S. Limits: one smoke temperature over the whole height, still air on the other side.

    >>> print(f"{opposed_flow_velocity(2.1, 74.0, 21.0):.2f} m/s")
    1.13 m/s
    """
    gas, air = (require.above(-ZERO_C_K, **{name: value}) + ZERO_C_K for name, value in (("gas_c", gas_c), ("air_c", air_c)))
    lift = GRAVITY_M_S2 * require.positive(height_m=height_m) * np.maximum(gas - air, 0.0) / gas
    return OPPOSED_FLOW_FACTOR * np.sqrt(lift)
