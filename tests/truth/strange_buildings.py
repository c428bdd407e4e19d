"""Strange but honest buildings, drawn from a seed and written as real site files: what a reader of another country, trade or century might
bring. One to eighty storeys, basements, lobbies on some storeys, fans far too weak and far too strong, fans that take air out, both
systems of units, all sets of criteria, high and hot places, doors that no pressure suits, unlike low sides, slow sensors, several
supplies, a second fan, relief dampers, latches. Every one reads without a mistake; whether its design holds is for the program to say.

Each site has a row of even draws of its own, so that it hangs on its seed alone; the figures of all sites asked for are drawn at once, a
column for each, arrays [sites].
"""

import re

import numpy as np

from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.model.site.file import read_site_text, write_site
from helpers.model.site.schema import Site
from helpers.units import WATER_COLUMN, WATER_COLUMNS_PA

STREAM = 21  # so that no other drawing of the tests has the same rows
# Columns of figures: low, high, and how they lie between: "even", "by ratio" (as many between 1 and 2 as between 10 and 20).
FIGURES = {
    "height": (2.6, 4.8, "even"), "floor_area": (60, 2000, "by ratio"), "facade": (0.6, 1.4, "even"), "outside": (0, 0.5, "even"),
    "plan": (10, 25, "even"), "friction": (1, 6, "by ratio"), "extra": (0.002, 0.2, "by ratio"), "gap": (0.006, 0.06, "by ratio"),
    "closer": (25, 75, "even"), "exit_closer": (40, 90, "even"), "width": (0.75, 1.25, "even"), "edge": (0.05, 0.1, "even"),
    "latch": (15, 45, "even"), "set_point": (18, 65, "even"), "strength": (0.3, 5, "by ratio"), "pressure": (250, 1300, "by ratio"),
    "duct": (0.05, 0.7, "by ratio"), "slack": (1.0, 3.0, "by ratio"), "altitude": (0, 1, "even"), "heat": (0, 1, "even"),
    "floor_c": (16, 26, "even"), "stair_pull": (0, 1, "even"), "wind": (0, 9, "even"), "turn": (0, 90, "even"),
    "low_hz": (0.1, 0.5, "even"),
    "filter": (0.05, 4, "by ratio"), "response": (0.02, 5, "by ratio"), "damping": (0, 5, "even"), "tube": (2, 150, "by ratio"),
    "range": (1.4, 8, "by ratio"), "accuracy": (0.25, 3, "by ratio"), "gain": (0.05, 1.5, "by ratio"), "integral": (0.5, 30, "by ratio"),
    "sample": (0.05, 0.5, "by ratio"), "ramp": (1.5, 45, "by ratio"), "inertia": (0.3, 8, "by ratio"), "relief_opens": (1.05, 2.2, "even"),
    "relief_area": (0.1, 1.2, "by ratio"), "release_area": (0.1, 1.5, "by ratio"), "vent": (0, 0.4, "even"),
    "lobby_vent": (0.02, 0.3, "even"),
    "leak_margin": (0, 1, "even"), "duct_margin": (0.05, 0.3, "even"), "coefficient": (0.6, 0.7, "even"),
}  # fmt: skip
CHANCES = ("size", "basement", "lobbies", "lift", "exhaust", "fire", "second_fan", "standby", "relief", "more_relief", "count", "release",
           "unlike", "two_kinds", "two_exits", "latched", "pushed", "heavy", "stated_lags", "tubes",
           "spread", "brake", "smoke_hz", "design",
           "sprinklers", "waiver", "fit", "slow", "class", "own_window", "hertz", "inch", "bus")  # fmt: skip
CHOICES = {
    "standard": ("nfpa92", "nfpa92", "en12101_6_2005", "en12101_6_2005", "en12101_13_2022"),
    "rule": ("average", "average", "lowest", "highest", "middle", "weighted"),
    "terrain": ("city", "suburban", "open", "water"), "coefficients": ("en1991_tall", "ashrae_low_rise"),
    "edition": ("ashrae_1999", "nfpa92_2012"), "tight": ("tight", "average", "average", "loose"),
    "stair_tight": ("tight", "average", "average", "loose"), "signal": ("4-20 mA", "4-20 mA", "0-10 V", "2-10 V", "0-20 mA"),
    "reference": ("floor", "floor", "floor", "outdoors"), "source": ("none", "generator", "second supply", "battery"),
    "kind": ("vent", "window", "extract", "none"), "stops": ("ends", "ends and ramp", None), "bits": (10, 12, 16),
    "taps": (1, 2, 2, 2, 3, 4),
    "supplies": (1, 1, 2, 3), "floor_tight": ("tight", "average", "loose"), "exponent": (0.5, 0.65),
}  # fmt: skip
COLUMNS = (*FIGURES, *CHANCES, *CHOICES)
# Of "size": shares of the sites, and up to how many storeys.
SIZES = ((0.35, 1, 4), (0.7, 5, 10), (0.9, 11, 25), (1.0, 26, 80))
STAIR, LOBBY, EXIT, LANDING, SERVICE = "stair", "lobby", "street", "landing", "service"
_POWER = 5.0 / 4.0  # plate over the shaft power at the curve's middle
# What a figure in SI becomes in a file in inches: unit, and how many of the first make one.
INCHES = {"Pa": ("in. w.c.", WATER_COLUMNS_PA[WATER_COLUMN]), "m": ("ft", 0.3048), "m2": ("ft2", 0.09290304), "N": ("lbf", 4.4482216152605),
          "m3/s": ("cfm", 0.0004719474432),
          "m/s": ("mph", 0.44704), "W": ("hp", 745.69987158227022), "kg m2": ("lb ft2", 0.0421401100938048)}  # fmt: skip
_QUANTITY = re.compile(r'"(-?[\d.]+(?:e-?\d+)?) (Pa|m|m2|N|m3/s|m/s|W|kg m2|°C)"')


def drawn(seeds):
    """Everything drawn for these seeds: {column: array [sites]}. seeds: whole numbers, from 0."""
    even = np.stack([np.random.default_rng((STREAM, int(seed))).random(len(COLUMNS)) for seed in seeds])
    table = dict(zip(COLUMNS, even.T, strict=True))
    for name, (low, high, how) in FIGURES.items():
        table[name] = low + (high - low) * table[name] if how == "even" else low * (high / low) ** table[name]
    for name, choices in CHOICES.items():
        table[name] = np.array(choices, object)[(table[name] * len(choices)).astype(int)]
    share, low, high = np.array(SIZES).T
    size = np.searchsorted(share, table["size"], side="right")
    before = np.where(size > 0, share[size - 1], 0.0)
    table["storeys"] = (low[size] + (high - low + 1)[size] * (table["size"] - before) / (share[size] - before)).astype(int)
    table["seed"] = np.array(list(seeds))
    return table


def strange_sites(seeds, most_storeys=80):
    """(seed, text of the site file) of the drawn sites with so many storeys at the most."""
    table = drawn(list(seeds))
    for place in np.flatnonzero(table["storeys"] <= most_storeys):
        row = {name: values[place] for name, values in table.items()}
        site = Site.model_validate(_site({name: value.item() if isinstance(value, np.generic) else value for name, value in row.items()}))
        yield int(row["seed"]), in_inches(write_site(site), 4) if row["inch"] < 0.5 else _rounded(write_site(site))


def strange_site(seed):
    """The `Site` of one seed."""
    return read_site_text(next(text for _, text in strange_sites([seed])), f"drawn site {seed}")


def in_inches(text, digits=17):
    """The text of a site file in SI with its figures in inches, feet and pounds, by default so exactly that it reads as the same."""

    def inches(found):
        value, unit = float(found[1]), found[2]
        if unit == "°C":
            return f'"{value * 1.8 + 32:.{digits}g} °F"'
        name, size = INCHES[unit]
        return f'"{value / size:.{digits}g} {name}"'

    return _QUANTITY.sub(inches, text)


def _rounded(text, digits=4):
    return _QUANTITY.sub(lambda found: f'"{float(found[1]):.{digits}g} {found[2]}"', text)


def _site(d):
    count = d["storeys"]
    lowest = -min(int(d["basement"] * 6), 3, count - 1) if count > 2 else 0
    levels = list(range(lowest, lowest + count))
    lifted, sign = d["lift"] < 0.25, -1.0 if d["exhaust"] < 0.06 else 1.0
    lobbies = [d["lobbies"] < 0.12 or (d["lobbies"] < 0.35 and level % 2 == 0 and level >= 0) for level in levels]
    storeys = [_storey(d, level, lobby, lifted, levels) for level, lobby in zip(levels, lobbies, strict=True)]
    target = round(d["set_point"]) * (sign if d["exhaust"] >= 0.02 else 1.0)  # of the fans that take air out a third hold a pressure above
    taps = _transmitters(d, levels, lobbies, target)
    site = {
        "name": f"Drawn site {d['seed']}", "invented": True, "standard": d["standard"], "altitude_m": _altitude(d["altitude"]),
        "terrain": d["terrain"], "pressure_coefficients": d["coefficients"], "storeys": storeys, "doors": _doors(d),
        "faces_deg": tuple(round(d["turn"]) + turn for turn in (0.0, 90.0, 180.0, 270.0)),
        "sprinklers": None if d["sprinklers"] < 0.3 else d["sprinklers"] < 0.65, "leakage": _leakage(d),
        "airflow_class": "ABCDEF"[int(d["class"] * 6)] if d["standard"].startswith("en") and d["fit"] < 0.7 else None,
        "stair": {"plan_area_m2": d["plan"], "friction_area_m2": d["friction"], **_reliefs(d, levels, abs(target))},
        "lift": {"plan_area_m2": 8.0, "friction_area_m2": 8.0, "vent_area_m2": d["vent"]} if lifted else None,
        "supplies": _supplies(d, levels), "transmitters": taps, "design": _design(d, storeys),
        "control": _control(d, target, len(taps)), "release": _release(d) if d["release"] < 0.3 else None,
        "second_fan": {"duty": "standby"} if d["second_fan"] < 0.15 else None,
        "standby": {"source": d["source"]} if d["standby"] < 0.4 else None, **_weather(d),
    }  # fmt: skip
    return site | {"fan": _fan(d, storeys, site, sign)}


def _altitude(drawn_from):
    """Most buildings stand low, one in five from 1200 m up."""
    return round(1500 * drawn_from - 20) if drawn_from < 0.8 else round(1200 + 9000 * (drawn_from - 0.8))


def _weather(d):
    """From the far north to the desert, and each of them with a stair that follows the outdoors a little."""
    winter, summer, floor = -38 + 50 * d["heat"], 18 + 30 * d["heat"], round(d["floor_c"])
    outdoor = {"winter": winter, "summer": summer, "mild": (winter + summer) / 2}
    weather = {
        name: {"outdoor_c": round(value), "wind_speed_m_s": d["wind"], "wind_from_deg": float(round(d["turn"] * 4) % 360),
               "stair_c": round(min(max(floor + 0.5 * d["stair_pull"] * (value - floor), -29), 49))}
        for name, value in outdoor.items()
    }  # fmt: skip
    return {"weather": weather, "temperatures": {"floor_c": floor}}


def _storey(d, level, lobby, lifted, levels):
    below, ground = level < 0, level == max(levels[0], 0)
    height = d["height"] * (1.35 if ground else 1.0)
    side = d["floor_area"] ** 0.5
    wall = 2 * (d["plan"] / 2.5 + 2.5) * height
    storey = {
        "level": level, "height_m": height, "floor_area_m2": d["floor_area"], "stair_wall_m2": wall,
        "stair_outside_wall_m2": 0.0 if below else wall * d["outside"], "facade_m2": (0.0 if below else side * height * d["facade"],) * 4,
        "stair_door": STAIR, "extra_leak_m2": d["extra"] * (3 if ground else 1), "lobby": lobby, "lobby_door": LOBBY if lobby else None,
        "final_exit_door": EXIT if ground or (d["two_exits"] < 0.08 and level == levels[-1]) else None,
        "other_stair_doors": {SERVICE: 1} if d["two_kinds"] < 0.1 and level % 3 == 0 else {},
    }  # fmt: skip
    if lobby and d["vent"] < 0.1:
        storey["lobby_vent_m2"] = d["lobby_vent"]
    if lifted:
        storey |= {"lift_doors": 1 + int(d["two_kinds"] * 3), "lift_door": LANDING, "lift_shaft_wall_m2": 8.0 * height}
    return storey


def _doors(d):
    limit = 133.4 if d["standard"] == "nfpa92" else 100.0
    heavy = 0.9 * limit if d["heavy"] < 0.06 else 0.0  # a closer that leaves no pressure
    opens = "with pressure" if d["pushed"] < 0.1 else "against pressure"
    latch = d["latch"] if d["latched"] < 0.3 else None
    by_hand = {"handle_to_edge_m": d["edge"], "force_limit_n": limit, "opens": opens, "latch_force_n": latch}
    stair = {"width_m": d["width"], "height_m": 2.1, "leak_area_m2": d["gap"], "closer_force_n": max(d["closer"], heavy), **by_hand}
    stair["minimum_dp_pa"] = 25.0 if d["own_window"] < 0.5 else None
    exit_latch = d["latch"] if d["latched"] < 0.5 else None
    street = {"width_m": 1.0, "height_m": 2.1, "leak_area_m2": d["gap"], "closer_force_n": min(d["exit_closer"], 0.9 * limit),
              "handle_to_edge_m": d["edge"], "force_limit_n": limit, "opens": "with pressure", "latch_force_n": exit_latch}  # fmt: skip
    service = stair | {"width_m": 0.8 * d["width"] if d["edge"] < 0.35 * d["width"] else d["width"]}
    lobby = {"width_m": d["width"], "height_m": 2.1, "leak_area_m2": d["gap"]}
    return {STAIR: stair, EXIT: street, LOBBY: lobby, SERVICE: service, LANDING: {"width_m": 1.1, "height_m": 2.1, "leak_area_m2": 0.06}}


def _leakage(d):
    drawn_as = {"exterior_wall": d["tight"], "stair_wall": d["stair_tight"], "lift_shaft_wall": d["stair_tight"], "floor": d["floor_tight"]}
    known = WALL_LEAKAGE_RATIOS[d["edition"]]
    tightness = {element: word if word in known[element] else "average" for element, word in drawn_as.items()}
    return {"edition": d["edition"], **tightness, "discharge_coefficient": round(d["coefficient"], 2), "wall_exponent": d["exponent"]}


def _reliefs(d, levels, target):
    if d["relief"] > 0.35:
        return {}
    opens = max(target, 20.0) * d["relief_opens"]
    first = {"level": levels[len(levels) // 2], "opens_pa": opens, "full_pa": opens + 20, "area_m2": d["relief_area"],
             "leak_area_m2": 0.004, "count": 3 if d["count"] < 0.3 else None}  # fmt: skip
    more = ({**first, "level": levels[-1]},) if d["more_relief"] < 0.3 and levels[-1] != first["level"] else ()
    return {"relief": first, "more_reliefs": more}


def _supplies(d, levels):
    """One outlet, or several spread over the height with even shares."""
    count = min(len(levels), max(d["supplies"], 1 + len(levels) // 30))
    at = sorted(
        {levels[int(place)] for place in np.linspace(0, len(levels) - 1, count)} if count > 1 else {levels[-int(d["spread"] < 0.6)]}
    )
    return [{"level": level, "share": 1 / len(at)} for level in at]


def _transmitters(d, levels, lobbies, target):
    count = min(d["taps"], len(levels)) if d["rule"] != "middle" else 3
    places = np.round(np.linspace(0.5 / count, 1 - 0.5 / count, count) * (len(levels) - 1)).astype(int)
    slow = d["slow"] < 0.15
    high = max(abs(target) * d["range"], 30.0)
    low, high = (0.0, high) if target > 0 else (-high, 0.0)
    if d["slow"] > 0.8:
        low = -25.0 if target > 0 else low
    taps = []
    for number, place in enumerate(places):
        reference = d["reference"] if d["unlike"] >= 0.1 or number % 2 == 0 else "outdoors" if d["reference"] == "floor" else "floor"
        reference = "lobby" if reference == "floor" and lobbies[place] and d["unlike"] > 0.3 else reference
        tap = {"name": f"PDT-{number + 1}", "level": levels[place], "reference": reference, "range_low_pa": low,
               "range_high_pa": high, "signal": d["signal"], "accuracy_percent_span": round(d["accuracy"], 2), "converter_bits": d["bits"],
               "filter_s": round(d["filter"], 2)}  # fmt: skip
        if d["stated_lags"] < 0.5:
            tap |= {"response_s": d["response"] if slow else 0.1, "damping_s": d["damping"] if slow else 0.0}
        if d["tubes"] < 0.2:
            tap |= {"tube_length_m": d["tube"], "tube_bore_m": 0.004}
        taps.append(tap)
    return taps


def _control(d, target, count):
    rule = d["rule"] if count > 1 or d["rule"] in ("average", "lowest", "highest") else "average"
    control = {"rule": rule, "set_point_pa": target, "action": "reverse" if target > 0 or d["exhaust"] >= 0.06 else "direct",
               "gain": round(d["gain"], 2), "integral_time_s": round(d["integral"], 1), "sample_s": round(d["sample"], 2),
               "fire_mode": d["fire"] < 0.9,
               "integral_stops": d["stops"], "bus_delay_s": 0.3 if d["bus"] < 0.1 else None}  # fmt: skip
    if rule == "weighted":
        control["weights"] = tuple(1.0 if number else 0.5 for number in range(count))
    if not control["fire_mode"] and d["bus"] < 0.6:
        control["low_demand"] = {"stop_below_hz": 12.0, "stop_after_s": 300.0, "restart_deficit_pa": 8.0, "restart_after_s": 20.0}
    return control


def _release(d):
    kind = d["kind"]
    if kind == "none":
        return {"kind": kind}
    duct = {"duct_loss_pa": 30.0, "duct_loss_flow_m3_s": 2.0} if kind == "extract" else {}
    return {"kind": kind, "area_m2": d["release_area"], **duct}


def _design(d, storeys):
    if d["design"] < 0.25:
        return None
    doors = [storey["level"] for storey in storeys]
    exits = [storey["level"] for storey in storeys if storey["final_exit_door"]]
    some = doors[len(doors) // 2 :][: 1 + int(d["design"] * 2.4) % 3]
    return {"open_doors": tuple(some), "open_exits": tuple(exits[:1]) if d["design"] > 0.6 else (),
            "leakage_margin": round(d["leak_margin"], 1) if d["waiver"] < 0.5 else None,
            "duct_leak_margin": round(d["duct_margin"], 2)}  # fmt: skip


def _fan(d, storeys, site, sign):
    """A fan that brings `strength` times what shut doors, walls and an open door or two take at the set point, roughly."""
    target = abs(site["control"]["set_point_pa"])
    gaps = sum(d["gap"] * (2 if storey["final_exit_door"] else 1) + storey["stair_wall_m2"] * 1.5e-4 for storey in storeys)
    opened = 0.0 if site["design"] is None else len(site["design"]["open_doors"])
    flow = (gaps + 0.4 * opened) * 0.65 * (2 * target / 1.2) ** 0.5 * d["strength"] + 0.05
    hertz, pressure = 60.0 if d["hertz"] < 0.4 else 50.0, d["pressure"] + target
    parts = np.array([0.0, 0.4, 0.7, 1.0, 1.3])
    curve = pressure * np.array([1.0, 0.98, 0.9, 0.7, 0.35])
    power = max(flow * pressure * 0.7 / 0.6 * d["slack"] * _POWER, 370.0)
    fan = {
        "effect": "supply" if sign > 0 else "exhaust", "flows_m3_s": tuple(flow * parts), "pressures_pa": tuple(curve), "efficiency": 0.6,
        "reference_speed_hz": hertz, "lowest_speed_hz": round(hertz * d["low_hz"], 1), "highest_speed_hz": hertz, "motor_efficiency": 0.88,
        "duct_loss_pa": pressure * d["duct"], "duct_loss_flow_m3_s": flow, "drive_efficiency": 0.97, "motor_poles": 4,
        "motor_power_w": power, "ramp_s": round(d["ramp"], 1),
        "ramp_down_s": round(d["ramp"], 1) if d["brake"] < 0.6 else None,
        "inertia_kg_m2": d["inertia"] if d["brake"] < 0.5 else None,
        "brake": "resistor" if d["brake"] < 0.3 else "none" if d["brake"] < 0.7 else None,
        "smoke_highest_speed_hz": round(0.9 * hertz, 1) if d["smoke_hz"] < 0.15 else None,
    }  # fmt: skip
    return fan
