"""Sites drawn at random for the independent solvers: every part of the site file that the network knows is in some of them."""

import numpy as np

from helpers.model.site.schema import Site

STRAIGHT = {"flows_m3_s": (0.0, 8.0), "pressures_pa": (600.0, 80.0), "duct_loss_pa": 0.0}
CURVED = {"flows_m3_s": (0.0, 2.0, 4.0, 6.0, 7.5), "pressures_pa": (620.0, 590.0, 500.0, 330.0, 150.0), "duct_loss_pa": 60.0}


def site_and_state(seed, curve=STRAIGHT, on_riser=False):
    """A site, a weather (temperatures, wind), a speed [Hz], and by storey the doors, exits and leak factors."""
    rng = np.random.default_rng(seed)
    count, lifted, lobbies = int(rng.integers(1, 11)), rng.random() < 0.4, rng.random() < 0.5
    lowest = -int(rng.integers(0, 3)) if count > 3 else 0
    storeys = [_storey(rng, lowest + i, lifted, lobbies) for i in range(count)]
    storeys[0]["final_exit_door"] = "exit"
    levels = [storey["level"] for storey in storeys]
    site = Site(
        **_rest(rng, levels, lifted, curve),
        storeys=storeys,
        doors={"stair": _door(rng), "lobby": _door(rng), "landing": _door(rng), "exit": _door(rng)},
    )
    site = _with_riser(site, seed) if on_riser else site
    weather = {name: float(rng.uniform(5, 30)) for name in ("stair_c", "floor_c", "lobby_c", "lift_c")}
    weather |= {"outdoor_c": float(rng.uniform(-35, 45)), "wind_speed_m_s": float(rng.uniform(0, 12) * (rng.random() < 0.8))}
    weather["wind_from_deg"] = float(rng.uniform(0, 360))
    doors = np.where(rng.random(count) < 1.5 / count, rng.uniform(0, 1, count), 0.0)
    exits = np.zeros(count)
    exits[0] = float(rng.random() < 0.2)
    speed_hz = float(rng.uniform(15, 50) if rng.random() < 0.9 else rng.uniform(0, 4))  # one in ten hardly turns
    return site, weather, speed_hz, doors, exits, rng.uniform(0.5, 2.0, count)


def _with_riser(site, seed):
    """The same with its outlets on a riser; of draws of its own, so that all else stays as drawn without one."""
    rng = np.random.default_rng([seed, 1])
    outlets = [{"outlet_area_m2": float(rng.uniform(0.05, 1.0)), "outlet_loss_coefficient": None} for _ in site.supplies]
    for outlet in outlets:
        outlet["outlet_loss_coefficient"] = float(rng.uniform(0.5, 8)) if rng.random() < 0.7 else None
    riser = {"storey_loss_pa": float(rng.uniform(0.2, 30)), "storey_loss_flow_m3_s": float(rng.uniform(1, 4))}
    level = int(rng.choice([storey.level for storey in site.storeys]))
    return site.with_changes(riser=riser | {"fan_level": level}, supplies=outlets)


def _storey(rng, level, lifted, lobbies):
    lobby = bool(lobbies and rng.random() < 0.7)
    wall, outer = float(rng.uniform(30, 80)), float(rng.uniform(0, 0.5))
    storey = {
        "level": level, "height_m": float(rng.uniform(2.6, 5)), "floor_area_m2": float(rng.uniform(100, 800)),
        "facade_m2": tuple(rng.uniform(20, 150, 4).tolist()), "stair_wall_m2": wall, "stair_outside_wall_m2": wall * outer,
        "stair_door": "stair", "stair_door_count": int(rng.integers(1, 3)), "lobby": lobby, "lobby_door": "lobby" if lobby else None,
        "extra_leak_m2": float(rng.uniform(0, 0.05)),
    }  # fmt: skip
    if rng.random() < 0.2:
        storey["wall_tightness"] = str(rng.choice(["tight", "loose"]))
    if lifted:
        storey |= {"lift_doors": int(rng.integers(1, 4)), "lift_door": "landing", "lift_shaft_wall_m2": float(rng.uniform(20, 60))}
    return storey


def _door(rng):
    return {"width_m": float(rng.uniform(0.8, 1.2)), "height_m": 2.1, "leak_area_m2": float(rng.uniform(0.005, 0.05))}


def _rest(rng, levels, lifted, curve):
    fan = {
        "effect": str(rng.choice(["supply", "exhaust"], p=[0.8, 0.2])), "reference_speed_hz": 50.0, "lowest_speed_hz": 5.0,
        "highest_speed_hz": 50.0, "duct_loss_flow_m3_s": 4.0, "efficiency": 0.6, "motor_efficiency": 0.9, "drive_efficiency": 0.95,
        "motor_poles": 4, "motor_power_w": 5500.0, "ramp_s": 5.0, **curve,
    }  # fmt: skip
    relief = {"level": int(rng.choice(levels)), "opens_pa": 40.0, "full_pa": 60.0, "area_m2": 0.4, "leak_area_m2": 0.004}
    supplies = sorted(set(rng.choice(levels, int(rng.integers(1, 4))).tolist()))
    transmitter = {"name": "PT", "level": levels[0], "range_low_pa": 0.0, "range_high_pa": 100.0, "signal": "4-20 mA"}
    tight = ["tight", "average", "loose"]
    return {
        "name": "Drawn", "invented": True, "standard": "nfpa92", "altitude_m": float(rng.uniform(0, 2500)),
        "terrain": str(rng.choice(["city", "suburban", "open", "water"])),
        "pressure_coefficients": str(rng.choice(["en1991_tall", "ashrae_low_rise"])),
        "faces_deg": tuple((rng.uniform(0, 90) + np.array([0, 90, 180, 270])).tolist()),
        "leakage": {
            "edition": str(rng.choice(["ashrae_1999", "nfpa92_2012"])), "exterior_wall": str(rng.choice(tight)),
            "stair_wall": str(rng.choice(tight)), "lift_shaft_wall": str(rng.choice(tight)),
            "discharge_coefficient": float(rng.uniform(0.6, 0.7)), "wall_exponent": float(rng.choice([0.5, 0.6, 0.65])),
            "door_exponent": float(rng.choice([0.5, 0.6])), "reference_pa": float(rng.choice([10.0, 50.0, 75.0])),
        },
        "stair": {"plan_area_m2": 15.0, "friction_area_m2": float(rng.uniform(1, 5)), "relief": relief if rng.random() < 0.4 else None},
        "lift": {"plan_area_m2": 8.0, "friction_area_m2": 8.0, "vent_area_m2": float(rng.uniform(0, 0.3))} if lifted else None,
        "supplies": [{"level": level, "share": 1 / len(supplies)} for level in supplies],
        "fan": fan, "temperatures": {"floor_c": 21.0}, "weather": {name: {"outdoor_c": 10.0} for name in ("winter", "summer", "mild")},
        "transmitters": [transmitter | {"accuracy_percent_span": 1.0}],
        "control": {"rule": "average", "set_point_pa": 40.0, "gain": 0.6, "integral_time_s": 4.0, "sample_s": 0.1, "fire_mode": True},
    }  # fmt: skip
