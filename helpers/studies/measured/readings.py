"""A test day met with its site: every reading as a number with its uncertainty, and the conditions of every round.

Pressures are read at steady fan speed. Quantities: across stair doors, lobby doors and final exits, floors over outdoors, stair over
outdoors at the same height (the tube's other end in still air), and the fan's flow.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.air.conditions import Conditions
from helpers.model.site.schema import Site
from helpers.model.test_day import PRESSURES, TestDay
from helpers.units.said import with_unit

QUANTITIES = ("stair door", "lobby door", "final exit", "floor over outdoors", "stair over outdoors", "fan flow")
FIELDS = dict(zip(QUANTITIES[:-1], PRESSURES, strict=True))
FLOW = QUANTITIES.index("fan flow")
ONLY, LOWER, UPPER = "the only gauge", "gauge of the lower pair", "gauge of the upper pair"
PAIR_OF = (LOWER, UPPER)
SCALE_PERCENT = 2.0  # of a gauge whose certificate nobody stated (95 %); common practice, no source
SURE = 1.96  # standard uncertainties that 95 % of readings are within
FLOW_SCATTER = 0.02 / SURE  # of a traverse done again by the same people: the rest of its uncertainty is alike in all rounds; ours


@dataclass(frozen=True)
class DayReadings:
    """What was read in a day, arrays [readings]: quantity (place in QUANTITIES), round, storey (numbers from 0), value [Pa or m3/s],
    uncertainty (standard, same unit; of a flow its own scatter); day: `TestDay`; speeds_hz [rounds]; conditions: `Conditions` [rounds]."""

    site: Site
    day: TestDay
    quantity: np.ndarray
    round: np.ndarray
    storey: np.ndarray
    value: np.ndarray
    uncertainty: np.ndarray
    speeds_hz: np.ndarray
    conditions: Conditions

    def __len__(self):
        return len(self.value)

    @property
    def gauges(self):
        """Names of the pressure gauges of the day."""
        return (ONLY,) if self.day.gauges.pressure_gauges == 1 else PAIR_OF

    @property
    def scale_percent(self):
        """Of what a pressure gauge shows, 95 % of such gauges are within so much."""
        stated = self.day.gauges.scale_percent
        return SCALE_PERCENT if stated is None else stated

    @property
    def upper_from(self):
        """Number of the lowest storey that the upper pair read, as the day's file has it or as the sheets share a stair between two pairs:
        from its middle storey on; beyond the last one where one gauge read all."""
        given, levels = self.day.gauges.upper_pair_from, [storey.level for storey in self.site.storeys]
        if ONLY in self.gauges:
            return len(levels)
        return len(levels) // 2 if given is None else levels.index(given)

    def said(self, number):
        """What a reading is, in words."""
        return f"{self.place_said(self.quantity[number], self.storey[number])}, round {self.round[number] + 1}"

    def place_said(self, quantity, storey):
        """What is read at a place, by its numbers, in words."""
        name, level = QUANTITIES[quantity], self.site.storeys[storey].level
        where = "" if name == "fan flow" else f"{', storey' if 'over' in name else ''} {level}"
        return f"{name}{where}"

    def value_said(self, number, value):
        """A value of a reading's kind with its unit."""
        return with_unit(value, "flow" if self.quantity[number] == FLOW else "pressure", 2 if self.quantity[number] == FLOW else 1)

    def but(self, left_out):
        """The same without some readings (numbers)."""
        return self.of(np.setdiff1d(np.arange(len(self)), left_out))

    def of(self, kept):
        """Some readings (numbers) of it alone."""
        return replace(self, **{name: getattr(self, name)[kept] for name in ("quantity", "round", "storey", "value", "uncertainty")})


def readings_of(site, day):
    """`DayReadings` of a `TestDay` at its site.

    Raises ValueError for a day of another site, a storey or a door that the site does not have, a door read while it stands open.
    """
    if day.site != site.name:
        raise ValueError(f"day must be one of {site.name!r}; got one of {day.site!r:.80}")
    found, rows = [], []
    levels = {storey.level: place for place, storey in enumerate(site.storeys)}
    if day.gauges.upper_pair_from is not None and day.gauges.upper_pair_from not in levels:
        raise ValueError(f"upper_pair_from under [gauges] must be a storey of {site.name}; got {day.gauges.upper_pair_from}")
    for number, one in enumerate(day.rounds):
        where = f"round {number + 1} of the test day"
        for name, opened in (("open_doors", one.open_doors), ("open_exits", one.open_exits)):
            strange = [level for level in opened if level not in levels]
            if strange:
                raise ValueError(f"{name} of {where} must be storeys of {site.name}; got {strange[0]}")
        for quantity, field in FIELDS.items():
            for text, value in getattr(one, field).items():
                place = _place(site, levels, quantity, int(text), one, where)
                found.append((QUANTITIES.index(quantity), number, place, value, day.gauges.pressure_pa / SURE))
        if one.flow_m3_s is not None:
            found.append((FLOW, number, 0, one.flow_m3_s, FLOW_SCATTER * max(one.flow_m3_s, 1e-3)))
        rows.append(conditions_found(site, day.weather, one.open_doors, one.open_exits))
    quantity, number, storey, value, uncertainty = (np.array(column) for column in zip(*found, strict=True))
    speeds = np.array([one.speed_hz for one in day.rounds])
    return DayReadings(site, day, quantity, number, storey, value.astype(float), uncertainty, speeds, Conditions.joined(rows))


def _place(site, levels, quantity, level, one, where):
    """Number of the storey of a reading, which has to have what was read."""
    if level not in levels:
        raise ValueError(f"{quantity} in {where} must be at a storey from {min(levels)} to {max(levels)}; got {level}")
    storey = site.storeys[levels[level]]
    there = {"stair door": storey.stair_door, "lobby door": storey.lobby, "final exit": storey.final_exit_door}.get(quantity, True)
    if not there:
        raise ValueError(f"{quantity} in {where} must be at a storey that has one; storey {level} has none")
    if level in (one.open_exits if quantity == "final exit" else one.open_doors if quantity in ("stair door", "lobby door") else ()):
        raise ValueError(f"{quantity} in {where} must be shut where a pressure is read across it; that of storey {level} stands open")
    return levels[level]


def conditions_found(site, weather, open_doors=(), open_exits=()):
    """`Conditions` [1] of a `DayWeather`, with levels whose doors stand open; the stair's air by storey, straight between where it was
    measured."""
    known = {0.0: weather.stair_bottom_c, 0.5: weather.stair_middle_c, 1.0: weather.stair_top_c}
    known = {place: value for place, value in known.items() if value is not None}
    stair = np.interp(np.linspace(0.0, 1.0, len(site.storeys)), list(known), list(known.values()))
    return Conditions.of(
        site, next(iter(site.weather)), open_doors, open_exits, outdoor_c=weather.outdoor_c, stair_c=stair[None, :],
        floor_c=weather.floor_c, lobby_c=weather.floor_c, lift_c=weather.floor_c, wind_speed_m_s=weather.wind_speed_m_s,
        wind_from_deg=weather.wind_from_deg,
    )  # fmt: skip


def every_quantity(air):
    """All that could be read [conditions, quantities, storeys], the fan's flow on every storey alike."""
    lobby = np.zeros_like(air.stair_pa) if air.lobby_pa is None else air.lobby_pa - air.floor_pa
    flow = np.broadcast_to(air.fan_flow_m3_s[:, None], air.stair_pa.shape)
    return np.stack([air.door_dp_pa, lobby, air.exit_dp_pa, air.floor_pa, air.stair_pa, flow], axis=1)
