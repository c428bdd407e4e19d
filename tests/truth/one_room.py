"""A stair of one storey beside one room, whose air is a quadratic: what tests of open doors, release, fit and forecast share.

Doors, walls and the release are square-root leaks, the fan's curve is a straight line, no wind, one temperature everywhere. Written here
anew, by hand: density of the ideal gas, q = C A sqrt(2 dp / rho), two ways in series, the fan laws P = (rho / 1.2) s^2 p(Q / s).
"""

import math
from pathlib import Path

from helpers.model.site.file import read_site

PLAIN = Path(__file__).parents[2] / "data" / "checks" / "published_stair.toml"
TEMP_C, CD = 20.0, 0.65
RHO = 101325 / (287.042 * (TEMP_C + 273.15))
WIDTH_M, HEIGHT_M = 0.9, 2.0
P0_PA, P1_PA, Q1_M3_S = 500.0, 20.0, 4.8  # the fan without flow, and at the end of its line
FALL = (P0_PA - P1_PA) / Q1_M3_S


def site_of(gaps_m2, room_out_m2, **changes):
    """The site: gaps of the stair door, and what the room leaks to outdoors [m2]."""
    site = read_site(PLAIN)
    storey = {"stair_wall_m2": 1e-9, "facade_m2": (0.0,) * 4, "extra_leak_m2": room_out_m2}
    door = {"width_m": WIDTH_M, "height_m": HEIGHT_M, "leak_area_m2": gaps_m2, "closer_force_n": 40.0, "handle_to_edge_m": 0.07,
            "force_limit_n": 133.0, "minimum_dp_pa": 25.0, "opens": "against pressure"}  # fmt: skip
    tap = {"level": 0, "reference": "outdoors", "range_low_pa": 0.0, "range_high_pa": 200.0, "accuracy_percent_span": 1e-9}
    fan = {"flows_m3_s": (0.0, Q1_M3_S), "pressures_pa": (P0_PA, P1_PA), "duct_loss_pa": 0.0, "highest_speed_hz": 50.0}
    weather = {name: {"outdoor_c": TEMP_C} for name in ("winter", "summer", "mild")}
    inside = dict.fromkeys(("floor_c", "stair_c", "lobby_c", "lift_c"), TEMP_C)
    given = {"storeys": [storey], "doors": {"gap": door}, "fan": fan, "weather": weather, "temperatures": inside,
             "supplies": [{"level": 0, "share": 1.0}], "transmitters": [tap], "sprinklers": True,
             "control": {"set_point_pa": 60.0, "rule": "average"}}  # fmt: skip
    return site.with_changes(**given).with_changes(**changes)


def in_series(*areas_m2):
    """One C A [m2] for ways one behind the other, each given as C A."""
    return 1 / math.sqrt(sum(1 / area**2 for area in areas_m2))


def stair_air(ways_m2, ratio, flow_factor=1.0):
    """(flow [m3/s], stair over outdoors [Pa]) of the fan at a speed ratio against ways of so much C A; P = k Q^2 = line of the fan."""
    k = RHO / 2 / ways_m2**2
    b, c = RHO / 1.2 * ratio * FALL / flow_factor, RHO / 1.2 * ratio**2 * P0_PA
    flow = (-b + math.sqrt(b * b + 4 * k * c)) / (2 * k)
    return flow, k * flow**2
