"""Benches of the other plants, for the review of their strategies: a supply duct, a building with a relief fan, a garage.

What each has to keep: a duct's open boxes the pressure they are made for, a building no storey below outdoors, a garage every zone no
higher than the set point. Limits: steady air; what a plant's own module leaves out.
"""

from functools import cached_property
from typing import NamedTuple

import numpy as np

from helpers.model.plants.gases import WHOLE, gas_read
from helpers.model.plants.kinds import BuildingStrategy, DuctStrategy, GarageStrategy, any_applied, both_in_shares, plant_of
from helpers.model.plants.pressure_plant import BuildingConditions, DuctConditions, GarageConditions, mains_power_w
from helpers.record.review.bench import SPEEDS, LoopBench
from helpers.record.review.curves import Curves
from helpers.units.said import unit_of

NOBODY_ASKS = "nobody asks"
IDLE_SHARE = 0.1  # of the largest demand or traffic, below which nobody asks; ours
ALARM_ROOM = 2.0  # times a transmitter's error beyond the normal readings. Common practice, no source
# Of the set point at least; ours. Held against eight invented garages of one to five zones, 500 to 12,000 m2, much and hardly any
# draught, fans with room and without, cells of 20 and 60 s (tests/studies/test_gas_rush.py): when traffic turns at once, the fan running,
# the worst is 28 % above the set point. A ninth, whose gain is a third, passes it by 43 %: so each record plays its own garage's turns.
GAS_SHARE = 0.3
FILED_DIGITS = 6  # of a ppm: a share of a set point, reckoned back, is the round figure that it stands for
SHARE_TOLERANCE = 0.4  # per cent of a set point: `TOLERANCE` of a garage at 25 ppm
# Of the highest speed: stands for a stopped fan where a zone then has no fresh air at all, and its gas grows without an end; ours
STOPPED_SHARE = 1e-3


def gas_alarm_ppm(set_point_ppm, errors_ppm, seen_ppm=0.0):
    """The reading [ppm, inputs] from which somebody must be told of gas, at all times: by `ALARM_ROOM` errors or `GAS_SHARE` of the set
    point, the larger, above the set point, or above the most that a sound loop shows (seen_ppm) where that is more.

    The one rule of what is laid down and of what a review asks of others' alarms. Source: common practice, none; the local code decides.

    >>> float(gas_alarm_ppm(25.0, 2.0)), float(gas_alarm_ppm(25.0, 5.0))
    (32.5, 35.0)
    """
    return np.maximum(seen_ppm, set_point_ppm) + np.maximum(ALARM_ROOM * np.asarray(errors_ppm), GAS_SHARE * set_point_ppm)


class PlantCase(NamedTuple):
    """One state of weather, balance, demand or traffic."""

    name: str


class PlantBench(LoopBench):
    """Base of the three. A subclass gives `_cases()`: names and conditions, the last of which is that nobody asks; `_limits()`."""

    places_word, places_label = "place", "Pressure"

    def __init__(self, strategy, site):
        self.strategy, self.stated = strategy, site
        self.site = any_applied(strategy, site)
        self.set_point = strategy.set_point
        self.plant = plant_of(self.site)
        self.effect = self.plant.effect
        named = self._cases()
        self.cases, self.conditions = tuple(PlantCase(name) for name, _ in named), [conditions for _, conditions in named]

    def as_filed(self, readings, of_first=False):
        """Readings of the inputs [inputs], or one that stands for all (of_first), in the unit of the strategy's file."""
        return readings

    @cached_property
    def idle(self):
        """Nobody asks in the last case, and where less than a tenth is asked of what is asked at the most."""
        asked = np.array([self._asked(conditions) for conditions in self.conditions])
        return (asked < IDLE_SHARE * asked.max()) | (np.arange(len(asked)) == len(asked) - 1)

    def _asked(self, conditions):
        """How much a case asks of the fan, in any unit."""
        return 1.0

    @property
    def settled(self):
        """The loop has to keep its places where somebody asks."""
        return ~self.idle

    @property
    def place_label(self):
        """What a place is called."""
        return self.places_word.capitalize()

    @property
    def place_names(self):
        """Names of the places in the order of the site file."""
        return tuple(str(place) for place in self.plant.places)

    @property
    def places_there(self):
        """All of them count."""
        return np.ones(len(self.plant.places), bool)

    def place_heights(self):
        """Places one above the other, whatever the system of units."""
        return np.arange(float(len(self.plant.places)))

    @property
    def input_places(self):
        """Number of each input's place."""
        return [self.plant.places.index(getattr(one, self.input_field)) for one in self.strategy.inputs]

    def place_text(self, place):
        """A place in words."""
        name = self.place_names[place]
        return name if name.startswith(self.places_word) else f"{self.places_word} {name}"

    def too_low(self, held, cases):
        """The worst place below its least, over some cases, in words; empty where none is."""
        return self._worst(held, cases, self.limits[0] - held.places, "is asked for", self.limits[0])

    def too_high(self, held, cases):
        """The worst place beyond its most, over some cases, in words; empty where none is."""
        return self._worst(held, cases, held.places - self.limits[1], "is the most", self.limits[1])

    def _worst(self, held, cases, out, words, limits):
        out = np.where(cases[:, None], out, -np.inf)
        case, place = np.unravel_index(out.argmax(), out.shape)
        if out[case, place] <= self.tolerance_pa:
            return ""
        reading, asked = self.show(held.places[case, place]), self.show(limits[case, place])
        return f"{self.place_text(place)} has {reading} where {asked} {words} ({self.cases[case].name})"

    @cached_property
    def limits(self):
        """Least and most of the places [cases, places]."""
        shape = len(self.cases), len(self.plant.places)
        return tuple(np.broadcast_to(np.asarray(ends, float), shape) for ends in self._limits())

    @cached_property
    def tried(self):
        """Set points tried for one that works: over the first input's range."""
        low, high = self.strategy.inputs[0].range
        return np.linspace(low, high, 101)[1:-1]

    def _solved(self):
        speeds = np.linspace(0.0, self.site.fan.highest_speed_hz, SPEEDS)
        found = [self._of_case(conditions, speeds) for conditions in self.conditions]
        return Curves(speeds, *(np.stack(parts) for parts in zip(*found, strict=True)))

    def _of_case(self, conditions, speeds):
        """(readings, places, flow, power) of one case over the speeds."""
        air = self.plant.solve(conditions.rows(np.zeros(len(speeds), int)), speeds)
        if not air.converged.all():
            raise ValueError(f"strategy must be for a site whose air has an answer; {np.count_nonzero(~air.converged)} did not converge")
        return air.readings_pa, air.pressure_pa, air.fan_flow_m3_s, air.power_w


class DuctBench(PlantBench):
    """A supply duct: every section whose boxes stand open has the pressure that they are made for."""

    places_word, places_words, input_field = "section", "the sections have", "section"
    places_label = "Pressure in the duct over the rooms"

    def _cases(self):
        shut = DuctConditions.of(self.stated, opening=np.zeros(len(self.stated.sections)))
        return [(name, DuctConditions.of(self.stated, name)) for name in self.stated.demand] + [(NOBODY_ASKS, shut)]

    def _asked(self, conditions):
        return float((conditions.opening[0] * [section.boxes_flow_m3_s for section in self.stated.sections]).sum())

    def _limits(self):
        opening = np.concatenate([conditions.opening for conditions in self.conditions])
        boxes = np.array([section.boxes_flow_m3_s > 0 for section in self.site.sections])
        return np.where((opening > 0) & boxes, self.site.boxes.pressure_pa, -np.inf), np.inf


class BuildingBench(PlantBench):
    """A building with a relief fan: no storey is drawn below outdoors."""

    places_word, places_words, input_field = "storey", "the storeys stand over outdoors at", "level"
    places_label = "Pressure over outdoors"

    def _cases(self):
        site = self.stated
        named = [(f"{weather}, {balance}", weather, balance) for weather in site.weather for balance in site.balance]
        cases = [(name, BuildingConditions.of(site, weather, balance)) for name, weather, balance in named]
        return [*cases, (NOBODY_ASKS, BuildingConditions.of(site, surplus_m3_s=0.0))]

    def _limits(self):
        return 0.0, np.inf


class GarageBench(PlantBench):
    """A garage: no zone has more gas than the set point and a transmitter's error. Two gases are looked at as shares, in per cent of the
    set point of each (`kinds.both_in_shares`): `strategy`, `stated` and `site` are then so, and so are all readings."""

    dimension, held_words, places_word, places_words = "concentration", "gas reading", "zone", "the zones have"
    input_field, places_label = "zone", "Gas in the zone"

    gas = True

    def __init__(self, strategy, site):
        self.two = site.second_gas is not None
        self.points_ppm = (strategy.set_point,)
        if self.two:
            own = strategy.loop.second_set_point_ppm
            self.points_ppm = (strategy.set_point, site.second_gas.set_point_ppm if own is None else own)
            strategy, site = both_in_shares(strategy, site)
            self.dimension, self.tolerance_pa, self.places_label = "percent", SHARE_TOLERANCE, "Gas in the zone, of its own set point"
        self.read = gas_read(site, strategy.inputs)
        self.alike = [np.flatnonzero(self.read == gas) for gas in (0, 1)] if self.two else None
        super().__init__(strategy, site)

    @property
    def input_places(self):
        """Number of each input's place."""
        return self.plant.at.tolist()

    def filed_range(self, one, low, high):
        """A range of one of the inputs in words, of two gases in ppm; in shares where those are all that this bench was given."""
        if not self.two or self.points_ppm == (WHOLE, WHOLE):
            return self.between(low, high)
        number = [other.name for other in self.strategy.inputs].index(one.name)
        ends = np.round(np.array([low, high]) * self.points_ppm[self.read[number]] / WHOLE, FILED_DIGITS)
        return f"{ends[0]:g} to {ends[1]:g} {unit_of('concentration')}"

    def show(self, value, digits=None):
        """A reading in words, of two gases in per cent of the set point of its own."""
        return super().show(value, 0 if self.two and digits is None else digits)

    def as_filed(self, readings, of_first=False):
        """Readings of the inputs [inputs], or one of the first gas (of_first), in ppm."""
        if not self.two:
            return readings
        return np.round(np.asarray(readings) * np.asarray(self.points_ppm)[0 if of_first else self.read] / WHOLE, FILED_DIGITS)

    def _by_place(self, of_inputs):
        """What the inputs of each gas come to at its places [places], by the largest of them."""
        largest = [of_inputs[self.read == gas].max() for gas in range(len(self.plant.gases))]
        return np.repeat(largest, len(self.plant.zones))

    def _cases(self):
        site = self.stated
        cases = [(name, GarageConditions.of(site, name)) for name in site.traffic]
        return [*cases, (NOBODY_ASKS, GarageConditions.of(site, running=np.zeros(len(site.zones))))]

    def _asked(self, conditions):
        return float(conditions.running.sum())

    def _limits(self):
        return -np.inf, self.set_point + self._by_place(self.errors)

    @property
    def alarm_limits(self):
        """A set point is no danger; what somebody must be told of lies above it, see `gas_alarm_ppm`."""
        return self.limits[0], np.full_like(self.limits[1], self._by_place(gas_alarm_ppm(self.set_point, self.errors)))

    @property
    def gain_found_on(self):
        """Span on which the gain was found [ppm]."""
        return self.strategy.loop.gain_found_on_ppm

    @property
    def dead_band(self):
        """Error that moves nothing [ppm]."""
        return self.strategy.loop.dead_band_ppm

    def plant_lag_s(self, case, speed_hz):
        """Time in which the air of the slowest zone is changed once at a speed [s]."""
        return float((self.plant.volume_m3 / np.maximum(self.plant.fresh_m3_s(np.asarray(float(speed_hz))), 1e-9)).max())

    def _of_case(self, conditions, speeds):
        least = 0.0 if self.plant.aired.all() else STOPPED_SHARE * speeds[-1]
        gas = self.plant.steady_ppm(conditions.rows(np.zeros(len(speeds), int)), np.maximum(speeds, least))
        flow = self.plant.fan_flow_m3_s(speeds)
        power = mains_power_w(self.site.fan, flow, 0.0, self.plant.density_ratio)
        return gas[:, self.plant.at], gas, flow, power


PLANT_BENCHES = {DuctStrategy: DuctBench, BuildingStrategy: BuildingBench, GarageStrategy: GarageBench}
