"""Random runs of a plant's loop: settings, faults, events and times, sensible ones, extreme ones and what was never meant as such."""

import random

import numpy as np
from argument_sets import EXTREME, HOSTILE
from judged import Tally, judge, short

from helpers.formulas.combining import RULES
from helpers.formulas.low_demand import LowDemandRule
from helpers.formulas.signals import SIGNALS
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.controller import FALLBACKS, INTEGRAL_STOPS, ControllerSettings
from helpers.model.loop.events import FAULTS, DoorEvent, Gust, TapFault, WeatherTurn
from helpers.model.loop.run import Setup, run_loop
from helpers.model.plants.building import Building
from helpers.model.plants.duct import Duct
from helpers.model.plants.garage import Garage
from helpers.model.plants.kinds import plant_of
from helpers.model.plants.pressure_plant import BuildingConditions, DuctConditions, GarageConditions, Turn, run_plant

(DAY_LONG,) = [value for value in EXTREME if isinstance(value, np.float16)]
CONDITIONS = {Tower: Conditions, Building: BuildingConditions, Duct: DuctConditions, Garage: GarageConditions}
CHANGES = {
    Tower: {"outdoor_c": (-30, 40), "stair_c": (0, 30), "wind_speed_m_s": (0, 30), "leak_factor": (0.3, 3)},
    Building: {"outdoor_c": (-30, 40), "surplus_m3_s": (-2, 4), "wind_speed_m_s": (0, 30), "door_open": (0, 1)},
    Duct: {"opening": (0, 1)},
    Garage: {"running": (0, 20), "outdoor_ppm": (0, 20)},
}

# What is asked of each, by name: a pair of limits within which the trade has it, or what to choose from.
SETTINGS = {
    "set_point_pa": (5, 80), "span_pa": (50, 500), "gain": (0.05, 4), "integral_s": (0, 30), "derivative_s": (0, 1),
    "dead_band_percent": (0, 3), "action": ("reverse", "direct"), "fallback": FALLBACKS, "preset_percent": (20, 100),
    "integral_stops": INTEGRAL_STOPS,
}  # fmt: skip
FAULT = {
    "transmitter": (0, 1), "kind": tuple(FAULTS), "at_s": (0, 6), "amount": (-200, 400), "signal": tuple(SIGNALS), "ends_s": (7, 20),
}  # fmt: skip
DOOR = {"level": (-1, 12), "at_s": (0, 4), "shuts_s": (4, 6), "moving_s": (0.5, 3), "door": ("stair", "exit")}
GUST = {"at_s": (0, 6), "speed_m_s": (0, 30), "rise_s": (0.2, 3), "lasts_s": (0, 4)}
SETUP = {
    "sample_s": (0.05, 0.5), "rule": RULES, "weights": (0, 1), "start_hz": (5, 50), "ramp_s": (0, 20), "lag_s": (0, 2),
    "fire_mode": (True, False), "speeds": (8, 32), "ramp_down_s": (0.5, 60), "more_lag_s": (0, 2), "dead_time_s": (0.5, 2),
}  # fmt: skip
DEMAND = {"stop_below_hz": (5, 25), "stop_after_s": (0, 3), "restart_error": (0, 20), "restart_after_s": (0, 3)}
WHOLE = {"transmitter", "level", "speeds"}

# What a refusal may name: the arguments, what is worked out from them, and the site's own words.
NAMES = {
    "length_s", *SETTINGS, *FAULT, *DOOR, *GUST, *SETUP, *DEMAND, "to", "over_s", "hand", "runs", "conditions", "low_demand", "changes",
    "filter_s", "swapped inputs", "settings", "readings", "air", "late_s", "more_lags_s",
    *(name for changed in CHANGES.values() for name in changed),
}  # fmt: skip


class RunMaker:
    """Makes runs of one plant's loop out of a `random.Random`."""

    def __init__(self, plant, rng):
        self.plant, self.rng = plant, rng
        self.lengths_s = (60, 300) if isinstance(plant, Garage) else (6, 12)

    def one(self):
        """Words of one run: {"changes": ..., "setup": ..., ...}, each a dictionary or a list of them."""
        rng, kind = self.rng, type(self.plant)
        asked = {"changes": self.some(CHANGES[kind], 0.4), "setup": {"length_s": rng.uniform(*self.lengths_s)} | self.some(SETUP, 0.25)}
        if rng.random() < 0.5:
            needed = {name: self.value(name, SETTINGS[name]) for name in ("set_point_pa", "span_pa", "gain")}
            asked["settings"] = needed | self.some(SETTINGS, 0.3)
        if rng.random() < 0.4:
            asked["faults"] = [
                {"transmitter": 0, "kind": rng.choice(tuple(FAULTS))} | self.some(FAULT, 0.5) for _ in range(rng.choice((1, 2)))
            ]
        if rng.random() < 0.5:
            asked["events"] = [self.event() for _ in range(rng.choice((1, 1, 2)))]
        if rng.random() < 0.3:
            asked["demand"] = {name: self.value(name, limits) for name, limits in DEMAND.items()}
        if rng.random() < 0.2:
            asked["hand"] = [self.value("hand", limits) for limits in ((0, 3), (3, 6), (0, 100))]
        return self.spoilt(asked)

    def some(self, named, share):
        """Some of the named values, as the trade has them."""
        return {name: self.value(name, limits) for name, limits in named.items() if self.rng.random() < share}

    def value(self, name, limits):
        """One value within its limits."""
        if not isinstance(limits[0], (int, float)) or isinstance(limits[0], bool):
            return self.rng.choice(limits)
        if name == "weights":
            return tuple(self.rng.uniform(*limits) for _ in range(len(self.plant.site.transmitters)))
        return self.rng.randint(*limits) if name in WHOLE else self.rng.uniform(*limits)

    def event(self):
        """What happens during the run."""
        if not isinstance(self.plant, Tower):
            return {
                "Turn": {"at_s": self.rng.uniform(0, 6), "over_s": self.rng.uniform(0, 3), "to": self.some(CHANGES[type(self.plant)], 0.7)}
            }
        kind = self.rng.choice(("DoorEvent", "Gust", "WeatherTurn"))
        if kind == "WeatherTurn":
            return {kind: {"at_s": self.rng.uniform(0, 6), "over_s": self.rng.uniform(0.1, 3), "to": self.some(CHANGES[Tower], 0.7)}}
        given = {"DoorEvent": DOOR, "Gust": GUST}[kind]
        level = {"level": self.rng.choice(self.plant.site.storeys).level} if kind == "DoorEvent" and self.rng.random() < 0.9 else {}
        left_out = {"shuts_s"} if self.rng.random() < 0.6 else set()
        return {kind: {name: self.value(name, limits) for name, limits in given.items() if name not in left_out} | level}

    def spoilt(self, asked):
        """Half of the runs as they are; in the others one or two values, wherever they stand, are made extreme or hostile."""
        for _ in range(self.rng.choice((0, 0, 1, 2))):
            holder, key = self.rng.choice(list(_places(asked)))
            holder[key] = self.rng.choice(self.rng.choice((EXTREME, HOSTILE)))
        if asked["setup"]["length_s"] is DAY_LONG:  # a sound run of half a million samples, that takes its seconds
            asked["setup"]["length_s"] = 10.0
        return asked


def _places(tree):
    for key, value in tree.items() if isinstance(tree, dict) else enumerate(tree):
        if isinstance(value, (dict, list)):
            yield from _places(value)
        else:
            yield tree, key


def in_words(tree):
    """What was asked, each value cut short."""
    if isinstance(tree, dict):
        return "{" + ", ".join(f"{key}: {in_words(value)}" for key, value in tree.items()) + "}"
    return "[" + ", ".join(map(in_words, tree)) + "]" if isinstance(tree, list) else short(tree)


KINDS_OF_EVENT = {"DoorEvent": DoorEvent, "Gust": Gust, "WeatherTurn": WeatherTurn, "Turn": Turn}


def run_of(plant, asked):
    """Run a plant's loop as asked; returns what a reader would look at."""
    conditions = CONDITIONS[type(plant)].of(plant.site, **asked["changes"])
    events = tuple(KINDS_OF_EVENT[kind](**given) for event in asked.get("events", ()) for kind, given in event.items())
    setup = Setup(
        events=events,
        faults=tuple(TapFault(**given) for given in asked.get("faults", ())),
        settings=ControllerSettings(**asked["settings"]) if "settings" in asked else None,
        low_demand=LowDemandRule(**asked["demand"]) if "demand" in asked else None,
        hand=(tuple(asked["hand"]),) if "hand" in asked else (),
        **asked["setup"],
    )
    run = (run_loop if isinstance(plant, Tower) else run_plant)(plant, conditions, setup)
    return run.speed_hz, run.output_percent, run.reading_pa, run.tubes_pa, run.remarks


def loops_under_fuzz(sites, cases, seed=1):
    """Tally of random runs, by the site's name."""
    tallies = {}
    for site in sites:
        rng, plant = random.Random(f"{seed} {site.name}"), plant_of(site)
        maker, tally = RunMaker(plant, rng), tallies.setdefault(f"loop of {site.name}", Tally())
        for _ in range(cases):
            asked = maker.one()
            judge(tally, lambda plant=plant, asked=asked: run_of(plant, asked), lambda asked=asked: in_words(asked), NAMES)
    return tallies
