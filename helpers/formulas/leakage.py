"""Air through cracks, gaps and walls: the power law, paths joined, leakage areas, the stair by hand.

A leakage area is that of a sharp opening with the stated discharge coefficient which passes the same flow at `reference_pa`.
All arguments broadcast.
"""

import numpy as np

from helpers import require
from helpers.formulas.air import STANDARD_DENSITY_KG_M3
from helpers.formulas.kernels import SMOOTHING_PA

# 0.65 gives 2610 cfm/(ft2 in.^0.5) and 0.839 SI; 0.64 gives the European 0.83. Both read in sheets by a reviewer in 2026.
DISCHARGE_COEFFICIENTS = {"ashrae": 0.65, "en12101_6": 0.64}  # ASHRAE HVAC Applications, fire and smoke chapter; EN 12101-6:2005 annex A
DISCHARGE_COEFFICIENT = DISCHARGE_COEFFICIENTS["ashrae"]
REFERENCE_PA = 75.0  # test pressure of US air barrier practice; Europe tests at 50 Pa, component areas are often stated at 4 or 10 Pa

# Leakage area per wall (or floor) area [-]. ashrae_1999: ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter: a reviewer in 2026
# read it in a sheet that cites its page 51.9, to five decimals. But that prints 0.00002 for a tight stair wall, where 0.14e-4 rounds to
# 0.00001: this one, and "very_loose", from memory, not verified. nfpa92_2012: NFPA 92 from 2012, annex (memory). The exterior wall is the
# row in which the editions differ.
_SHAFT_RATIOS = {
    "stair_wall": {"tight": 0.14e-4, "average": 0.11e-3, "loose": 0.35e-3},
    "lift_shaft_wall": {"tight": 0.18e-3, "average": 0.84e-3, "loose": 0.18e-2},
}
WALL_LEAKAGE_RATIOS = {
    "ashrae_1999": {
        "exterior_wall": {"tight": 0.70e-4, "average": 0.21e-3, "loose": 0.42e-3, "very_loose": 0.13e-2},
        **_SHAFT_RATIOS,
        "floor": {"average": 0.52e-4},
    },
    "nfpa92_2012": {
        "exterior_wall": {"tight": 0.50e-4, "average": 0.17e-3, "loose": 0.35e-3, "very_loose": 0.12e-2},
        **_SHAFT_RATIOS,
        "floor": {"tight": 0.66e-5, "average": 0.52e-4, "loose": 0.17e-3},
    },
}


DUCT_EXPONENT = 0.65  # SMACNA duct leakage manual; EN 1507, EN 12237 (memory)
# Leakage per duct surface [m3/(s m2 Pa^0.65)]: EN 1507:2006, EN 12237:2003 (memory).
DUCT_CLASS_COEFFICIENTS = {"A": 0.027e-3, "B": 0.009e-3, "C": 0.003e-3, "D": 0.001e-3}


def smooth_power(dp_pa, exponent=0.5):
    """Power law of a pressure difference that keeps its sign and runs smoothly through zero.

    dp_pa [Pa], exponent [-] from 0.5 to 1; broadcast. Returns [Pa^n]. Equation: dp (dp^2 + e^2)^((n-1)/2), e = SMOOTHING_PA.
    Raises ValueError for an exponent outside 0.5 to 1. Source: our own smoothing of ASHRAE Fundamentals 2021 ch. 16, power law.
    Limits: falls short of |dp|^n by the share (1-n)/2 (e/dp)^2: 3e-4 at 0.3 Pa, 3e-5 at 1 Pa, 3e-7 at 10 Pa; straight below e.

    >>> print(f"{smooth_power(100.0):.6f} {smooth_power(-100.0):.6f}")
    10.000000 -10.000000
    """
    dp, n = require.finite(dp_pa=dp_pa), require.between(0.5, 1, exponent=exponent)
    return dp * np.hypot(dp, SMOOTHING_PA) ** (n - 1)


def flow_coefficient(
    area_m2, density_kg_m3=STANDARD_DENSITY_KG_M3, discharge_coefficient=DISCHARGE_COEFFICIENT, exponent=0.5, reference_pa=REFERENCE_PA
):
    """Factor that turns smooth_power into a volume flow.

    area_m2 at reference_pa [m2], density_kg_m3 upstream [kg/m3], discharge_coefficient [-], exponent [-], reference_pa [Pa]; broadcast.
    Returns [m3/(s Pa^n)]. Equation: C_d A sqrt(2/rho) ref^(0.5-n). Raises ValueError for negative areas, densities that are not positive,
    a coefficient outside 0.1 to 1, an exponent outside 0.5 to 1. Source: ASHRAE Fundamentals 2021 ch. 16. Limits as flow.

    >>> print(f"{flow_coefficient(1.0):.3f}")
    0.839
    """
    head = np.sqrt(2 / require.positive(density_kg_m3=density_kg_m3)) * require.at_least(0, area_m2=area_m2)
    shape = require.positive(reference_pa=reference_pa) ** (0.5 - require.between(0.5, 1, exponent=exponent))
    return require.between(0.1, 1, discharge_coefficient=discharge_coefficient) * head * shape


def flow(
    dp_pa,
    area_m2,
    density_kg_m3=STANDARD_DENSITY_KG_M3,
    discharge_coefficient=DISCHARGE_COEFFICIENT,
    exponent=0.5,
    reference_pa=REFERENCE_PA,
):
    """Volume flow through a leak, with the sign of the pressure difference.

    dp_pa [Pa], the rest as flow_coefficient; broadcast. Returns [m3/s] at the given density.
    Equation: q_V = C_d A sqrt(2/rho) ref^(0.5-n) smooth_power(dp, n); with n = 0.5 the reference drops out. Raises as flow_coefficient.
    Source: ASHRAE HVAC Applications, fire and smoke chapter, orifice equation (memory); ASHRAE Fundamentals 2021 ch. 16.
    Limits: incompressible, below about 2 kPa. n 0.5 for doors and wide gaps, 0.6 to 0.65 for walls and windows, 1 for creeping flow.

    >>> print(f"{flow(75.0, 0.01):.3f} m3/s")
    0.073 m3/s
    """
    return flow_coefficient(area_m2, density_kg_m3, discharge_coefficient, exponent, reference_pa) * smooth_power(dp_pa, exponent)


def in_parallel(areas_m2, axis=-1):
    """Leakage area of paths side by side, all of one exponent and reference pressure.

    areas_m2 [m2], summed along axis. Returns [m2] without that axis. Equation: A = sum A_i. Raises ValueError for negative areas.
    Source: ASHRAE HVAC Applications, fire and smoke chapter, effective flow areas (memory). Limits: the same two spaces on both sides.
    """
    areas = require.at_least(0, areas_m2=areas_m2)
    return np.sum(areas, axis=require.axis_of(areas, axis))


def in_series(areas_m2, axis=-1, exponent=0.5):
    """Leakage area of paths one behind the other, all of one exponent and reference pressure; a closed path closes the row.

    areas_m2 [m2], joined along axis; exponent one number [-]. Returns [m2] without that axis. Equation: A = (sum A_i^(-1/n))^(-n).
    Raises ValueError for negative areas or an exponent outside 0.5 to 1.
    Source: ASHRAE HVAC Applications, fire and smoke chapter, effective flow areas (memory). Limits: one air temperature.

    >>> print(f"{in_series([0.02, 0.20]):.4f} m2")
    0.0199 m2
    """
    areas, n = require.at_least(0, areas_m2=areas_m2), float(require.between(0.5, 1, exponent=exponent))
    axis = require.axis_of(areas, axis)
    least = areas.min(axis=axis, keepdims=True)
    shares = np.divide(least, areas, out=np.ones_like(areas), where=areas > 0)  # by the smallest: no overflow, zero stays zero
    return np.squeeze(least, axis) * np.sum(shares ** (1 / n), axis=axis) ** -n


def wall_leakage_area(wall_area_m2, element, tightness="average", edition="ashrae_1999"):
    """Leakage area of a wall or floor from its size and tightness class.

    wall_area_m2 [m2], any shape; element "exterior_wall", "stair_wall", "lift_shaft_wall" or "floor"; tightness and edition as listed in
    WALL_LEAKAGE_RATIOS. Returns [m2] at 75 Pa. Equation: wall area x ratio. Raises ValueError for a negative area or a name not listed.
    Source: beside the table. Limits: a guess before the building is tested; classes are a factor of 2 to 8 apart. Doors and windows extra.
    """
    elements = WALL_LEAKAGE_RATIOS[require.one_of(WALL_LEAKAGE_RATIOS, edition=edition)]
    classes = elements[require.one_of(elements, element=element)]
    return require.at_least(0, wall_area_m2=wall_area_m2) * classes[require.one_of(classes, tightness=tightness)]


def stair_top_pressure(dp_bottom_pa, height_m, stack_gradient_pa_m, area_stair_building_m2, area_building_outside_m2):
    """Pressure difference stair less building at a height, when it is known at the bottom (hand method).

    dp_bottom_pa [Pa], height_m above it [m], stack_gradient_pa_m from air.stack_gradient [Pa/m], areas of one storey [m2]; broadcast.
    Returns [Pa]. Equation: dp_b + gamma H / (1 + (A_sb/A_bo)^2). Raises ValueError for negative areas or no leak from building to outdoors.
    Source: ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter (memory). Limits: storeys alike, no flow between them, no lift
    shaft, doors shut, stair air as warm as the building's, no shaft friction.

    >>> print(f"{stair_top_pressure(19.93, 65.84, 1.39, 0.0297, 0.118):.1f} Pa")
    106.0 Pa
    """
    rise = require.finite(stack_gradient_pa_m=stack_gradient_pa_m) * require.finite(height_m=height_m)
    return require.finite(dp_bottom_pa=dp_bottom_pa) + rise / _stair_factor(area_stair_building_m2, area_building_outside_m2)


def stair_height_limit(dp_min_pa, dp_max_pa, stack_gradient_pa_m, area_stair_building_m2=0.0, area_building_outside_m2=1.0):
    """Tallest stair that one supply keeps inside a pressure window, by the hand method.

    dp_min_pa, dp_max_pa [Pa], stack_gradient_pa_m of either sign, not zero [Pa/m], areas of one storey [m2] (by default all the stack
    effect lies on the stair); broadcast. Returns [m]. Equation: (dp_most - dp_least) (1 + (A_sb/A_bo)^2) / |gamma|.
    Raises ValueError for a window without width or a gradient of zero. Source: Klote, ASHRAE HVAC Applications (memory); Jensen, J. Fire
    Prot. Eng. 13(4) 2003. Limits as stair_top_pressure.

    >>> print(f"{stair_height_limit(20.0, 80.0, 2.0):.0f} m")
    30 m
    """
    low, high = require.finite(dp_min_pa=dp_min_pa), require.finite(dp_max_pa=dp_max_pa)
    if np.any(high <= low):
        raise ValueError(f"dp_max_pa must be above dp_min_pa, got {np.min(high):g} against {np.max(low):g}")
    gradient = require.finite(stack_gradient_pa_m=stack_gradient_pa_m)
    if np.any(np.abs(gradient) < require.LEAST):
        raise ValueError(
            f"stack_gradient_pa_m must not be 0, got {np.min(np.abs(gradient)):g}: without stack effect no height is the limit"
        )
    return (high - low) * _stair_factor(area_stair_building_m2, area_building_outside_m2) / np.abs(gradient)


def stair_supply_flow(
    storeys,
    leakage_stair_building_m2,
    dp_bottom_pa,
    dp_top_pa,
    density_kg_m3=STANDARD_DENSITY_KG_M3,
    discharge_coefficient=DISCHARGE_COEFFICIENT,
    exponent=0.5,
    reference_pa=REFERENCE_PA,
):
    """Supply air of a pressurised stair with its doors shut, closed form (hand method).

    storeys [-], leakage_stair_building_m2 of one storey [m2], dp_bottom_pa and dp_top_pa stair less building [Pa], the rest as
    flow_coefficient; broadcast. Returns [m3/s], net outflow.
    Equation: N K (|dp_t|^(n+1) - |dp_b|^(n+1)) / ((n+1) (dp_t - dp_b)), K = flow_coefficient: the power law averaged over a pressure that
    changes evenly with height. Raises ValueError for no storeys, and as flow_coefficient.
    Source: ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter, 20-storey example of about 8200 cfm (memory).
    Limits: as stair_top_pressure; doors open, shaft friction and walls to outdoors come on top.

    >>> print(f"{stair_supply_flow(20, 0.02973, 19.93, 105.9):.2f} m3/s")
    3.87 m3/s
    """
    low, high = require.finite(dp_bottom_pa=dp_bottom_pa), require.finite(dp_top_pa=dp_top_pa)
    leakage = require.at_least(0, leakage_stair_building_m2=leakage_stair_building_m2)
    coefficient = flow_coefficient(leakage, density_kg_m3, discharge_coefficient, exponent, reference_pa)
    # mean of sign(p) |p|^n between two pressures; where they nearly meet, the value half way, as the quotient would lose its digits
    n = np.asarray(exponent, dtype=float)
    gap, middle = high - low, (high + low) / 2
    near = np.abs(gap) <= 1e-5 * np.abs(middle) + 1e-300
    quotient = (np.abs(high) ** (n + 1) - np.abs(low) ** (n + 1)) / ((n + 1) * np.where(near, 1.0, gap))
    return require.positive(storeys=storeys) * coefficient * np.where(near, np.sign(middle) * np.abs(middle) ** n, quotient)


def pressure_in_another_weather(dp_pa, height_m, gradient_then_pa_m, gradient_now_pa_m, door_share=1.0):
    """Pressure across a shut stair door in another weather than that in which it was read, the loop holding the same reading (hand method).

    dp_pa as it was read [Pa], height_m above the height that the loop's reading stands for, negative below [m]; gradients of the two
    weathers from air.stack_gradient [Pa/m]; door_share: the door's part of stair less outdoors, dp_door / (dp_door + dp_floor) [-];
    broadcast. Returns [Pa]. Equation: dp + a h (gamma_now - gamma_then). Raises ValueError for a share outside 0 to 1.
    Source: follows from the stack effect and stair_top_pressure (derived). Limits: as stair_top_pressure; the same share in both weathers,
    so no wind, no damper that lifts and no lift shaft; the loop holds in both.

    >>> print(f"{pressure_in_another_weather(45.9, 19.6, 0.170, 1.297, 0.907):.1f} Pa")
    65.9 Pa
    """
    change = require.finite(gradient_now_pa_m=gradient_now_pa_m) - require.finite(gradient_then_pa_m=gradient_then_pa_m)
    share = require.between(0, 1, door_share=door_share)
    return require.finite(dp_pa=dp_pa) + share * require.finite(height_m=height_m) * change


def leak_exponent(flow_1_m3_s, dp_1_pa, flow_2_m3_s, dp_2_pa):
    """Exponent of a leak from flow and pressure at two speeds of the fan; the factor is then flow / dp^n.

    flows [m3/s] and pressures [Pa] of the two rounds; broadcast. Returns [-]. Equation: n = ln(q_1 / q_2) / ln(dp_1 / dp_2).
    Raises ValueError for flows or pressures that are not above zero, and for two pressures that are alike. Source: power law, ASHRAE
    Fundamentals 2021 ch. 16; air-tightness tests such as ISO 9972 fit it to many rounds (memory). Limits: one leak, or many under one
    pressure; of gaps in a row it tells what they make together, not which is which; two rounds leave no doubt to be seen. Outside 0.5 to 1
    look at the readings, not for a leak.

    >>> exponent = leak_exponent(1.50, 41.0, 0.83, 13.5)
    >>> print(f"{exponent:.3f}, so {1.50 / 41.0**exponent:.3f} m3/s at 1 Pa")
    0.533, so 0.207 m3/s at 1 Pa
    """
    flows = require.positive(flow_1_m3_s=flow_1_m3_s) / require.positive(flow_2_m3_s=flow_2_m3_s)
    first, second = require.positive(dp_1_pa=dp_1_pa), require.positive(dp_2_pa=dp_2_pa)
    if np.any(first == second):
        raise ValueError(f"dp_2_pa must differ from dp_1_pa, got {np.min(first):g} for both: one pressure tells no exponent")
    return np.log(flows) / np.log(first / second)


def area_behind(area_m2, dp_pa, dp_behind_pa):
    """Area of the gaps behind others in a row, from the pressures across both: the same air goes through both.

    area_m2 of the first [m2], dp_pa across it and dp_behind_pa across those behind it, above zero [Pa]; broadcast. Returns [m2].
    Equation: A_2 = A_1 sqrt(dp_1 / dp_2). Raises ValueError for an area below zero or pressures that are not above zero.
    Source: follows from the orifice law (derived). Limits: as in_series; no air that comes or leaves between the two.

    >>> print(f"{area_behind(0.024, 46.0, 4.7):.4f} m2")
    0.0751 m2
    """
    ratio = require.positive(dp_pa=dp_pa) / require.positive(dp_behind_pa=dp_behind_pa)
    return require.at_least(0, area_m2=area_m2) * np.sqrt(ratio)


def _stair_areas(area_stair_building_m2, area_building_outside_m2):
    inner = require.at_least(0, area_stair_building_m2=area_stair_building_m2)
    return np.broadcast_arrays(inner, require.at_least(0, area_building_outside_m2=area_building_outside_m2))


def _stair_factor(area_stair_building_m2, area_building_outside_m2):
    require.positive(area_building_outside_m2=area_building_outside_m2)
    inner, outer = _stair_areas(area_stair_building_m2, area_building_outside_m2)
    return 1 + (inner / outer) ** 2
