"""Two loops on the air of one building, played together in time: a supply fan on its duct's pressure, a relief fan on the building's.

The duct's air is part of what other fans bring to the building, and the building's pressure stands against the duct's fan:

    surplus = surplus of the balance + duct's air - duct's air in the first state of demand
    duct's fan: its curve, lowered by the building's pressure; its reading is against the rooms

How the two act on each other is told by the relative gain of the duct's loop, 1 / (1 - k12 k21 / (k11 k22)), k11 and k22 each fan on its
own reading, k12 and k21 on the other's: 1 where one loop is the same plant whether the other one works or not, below a half or above two
where they fight (text-book, from memory, not verified), and by playing the same turns with both loops and with one of the two by hand.

Limits: steady air of each side looked up from sample to sample, so the air that a building or a duct stores is left out; one state of
weather; the fan curve's shift by some pascals is a straight line; combined readings looked up, sound transmitters without error. No site
file names the duct of its building: which two belong together is said by whoever asks.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from helpers import require
from helpers.formulas.combining import combine
from helpers.model.loop.controller import Controller, Drive
from helpers.model.loop.run import settings_of
from helpers.model.plants.building import BuildingSite
from helpers.model.plants.duct import DuctSite
from helpers.model.plants.kinds import plant_of
from helpers.model.plants.pressure_plant import BuildingConditions, DuctConditions

DUCT, RELIEF = 0, 1
SPEEDS, SURPLUSES, SHARES = 51, 65, (0.0, 0.25, 0.5, 0.75, 1.0)  # solved; shares: of the way from one state of demand to the other
AGAINST_PA = 20.0  # the building's pressure at which the duct is solved a second time; ours
SAMPLE_S, SETTLED_S, TURN_S, OPENS_S, LENGTH_S = 0.2, 400.0, 30.0, 800.0, 1200.0  # ours
ROUNDS = 3
STEP_HZ = 0.5  # either way, over which gains are read off
LAST_S = 60.0  # before the next turn, in which a loop still swings or does not


class PairRun(NamedTuple):
    """Time [s]; reading [Pa] and speed [Hz] of the duct and of the relief fan [samples, 2]; surplus of air [m3/s]."""

    time_s: np.ndarray
    reading_pa: np.ndarray
    speed_hz: np.ndarray
    surplus_m3_s: np.ndarray


def _along(ends, points, values):
    """Value of a table [.., points.., last axes] at a place on each of its leading axes, in straight lines; ends: (low, high) of each axis,
    or its points."""
    for axis, at in zip(ends, points, strict=True):
        place = np.interp(at, axis, np.arange(len(axis)))
        low = min(int(place), len(axis) - 2)
        values = values[low] + (place - low) * (values[low + 1] - values[low])
    return values


@dataclass(frozen=True)
class SupplyAndRelief:
    """The study of a duct and of the building that it brings air to; states: two of the duct's demand, before and after its turn; weather,
    balance: of the building; door_level: of the large door that opens."""

    duct: DuctSite
    building: BuildingSite
    states: tuple
    weather: str
    balance: str
    door_level: int

    @cached_property
    def _duct_table(self):
        """(axes, [shares, against, speeds, 2]): combined reading [Pa] and air of the duct [m3/s]."""
        site, speeds = self.duct, np.linspace(0.1, self.duct.fan.highest_speed_hz, SPEEDS)
        first, last = (np.array(site.demand[name].opening) for name in self.states)
        opening = np.array([first + share * (last - first) for share in SHARES])
        tables = []
        for against in (0.0, AGAINST_PA):
            lowered = site.with_changes(fan={"pressures_pa": tuple(pressure - against for pressure in site.fan.pressures_pa)})
            conditions = DuctConditions.of(site, opening=np.repeat(opening, SPEEDS, axis=0))
            tables.append(_solved(plant_of(lowered), conditions, np.tile(speeds, len(SHARES)), (len(SHARES), SPEEDS)))
        return (np.array(SHARES), np.array([0.0, AGAINST_PA]), speeds), np.stack(tables, axis=1)

    @cached_property
    def _building_table(self):
        """(axes, [door, surpluses, speeds, 2]): combined reading [Pa] and mean pressure of the storeys [Pa]."""
        site, speeds = self.building, np.linspace(0.1, self.building.fan.highest_speed_hz, SPEEDS)
        own = site.balance[self.balance].surplus_m3_s
        air = self._duct_table[1][..., 1]
        surplus = np.linspace(own - air.max(), own + air.max(), SURPLUSES)
        door = [BuildingConditions.of(site, self.weather, self.balance, levels).door_open[0] for levels in ((), (self.door_level,))]
        conditions = BuildingConditions.of(site, self.weather, self.balance, surplus_m3_s=np.tile(np.repeat(surplus, SPEEDS), 2),
                                           door_open=np.repeat(door, SURPLUSES * SPEEDS, axis=0))  # fmt: skip
        table = _solved(plant_of(site), conditions, np.tile(speeds, 2 * SURPLUSES), (2, SURPLUSES, SPEEDS))
        return (np.array([0.0, 1.0]), surplus, speeds), table

    def air(self, speed_hz, share=0.0, door=0.0):
        """(readings [2] [Pa], surplus [m3/s]) of the two sides, in balance with each other, at two speeds [Hz].

        share: of the way to the second state of demand; door: how far the large door stands open, 0 to 1.
        """
        against = 0.0
        for _ in range(ROUNDS):  # the building hardly moves the duct's air: each round leaves a few hundredths of what was off before
            reading, flow = self._duct(speed_hz[DUCT], share, against)
            surplus = self.building.balance[self.balance].surplus_m3_s + flow - self.base_m3_s
            other, against = _along(self._building_table[0], (door, surplus, speed_hz[RELIEF]), self._building_table[1])
        return np.array([reading, other]), surplus

    def _duct(self, speed_hz, share, against_pa):
        axes, table = self._duct_table
        low, high = (_along((axes[0], axes[2]), (share, speed_hz), table[:, at]) for at in (0, 1))
        return low + (high - low) * against_pa / AGAINST_PA

    @cached_property
    def base_m3_s(self):
        """Air of the duct at its set point in the first state of demand, no pressure against it [m3/s]."""
        axes, table = self._duct_table
        reading, flow = table[0, 0].T
        return float(np.interp(np.interp(self.duct.control.set_point_pa, reading, axes[2]), axes[2], flow))

    @cached_property
    def held_hz(self):
        """Speeds at which both set points are met in the first state of demand, the door shut [2]."""
        return self.both.speed_hz[round(SETTLED_S / SAMPLE_S) - 1]

    @cached_property
    def both(self):
        """`PairRun` with both loops, each with the gain of its file."""
        return self.played()

    @cached_property
    def gains(self):
        """How each reading (row) answers each fan (column) about `held_hz`, the door shut [2, 2], Pa/Hz."""
        steps = STEP_HZ * np.eye(2)
        up, down = (np.column_stack([self.air(self.held_hz + way * step)[0] for step in steps]) for way in (1, -1))
        return (up - down) / (2 * STEP_HZ)

    @property
    def relative_gain(self):
        """Of the duct's loop; the relief fan's is the same."""
        (own, across), (back, other) = self.gains
        return float(1 / (1 - across * back / (own * other)))

    def played(self, duct=True, relief=True, gain_times=1.0):
        """`PairRun` of both loops settling, then the turn of demand, then the door; duct, relief: False has that fan by hand from the turn
        on, at the speed it had; gain_times: of both gains. Raises ValueError for a gain that cannot be."""
        times = np.arange(round(LENGTH_S / SAMPLE_S)) * SAMPLE_S
        sides = [_Side(site, require.single_positive(gain_times=gain_times)) for site in (self.duct, self.building)]
        readings, speeds, surpluses = np.empty((len(times), 2)), np.empty((len(times), 2)), np.empty(len(times))
        for at, time in enumerate(times):
            speeds[at] = [side.drive.speed_hz for side in sides]
            share = float(np.clip((time - SETTLED_S) / TURN_S, 0.0, 1.0))
            readings[at], surpluses[at] = self.air(speeds[at], share, float(time >= OPENS_S))
            for side, works, reading in zip(sides, (duct, relief), readings[at], strict=True):
                side.step(reading, works or time < SETTLED_S)
        return PairRun(times, readings, speeds, surpluses)

    def swing_pa(self, run):
        """What each reading still swings over the last minute before the door opens, and before the end [2, 2], Pa from end to end."""
        ends = [(run.time_s >= end - LAST_S) & (run.time_s < end) for end in (OPENS_S, LENGTH_S)]
        return np.array([np.ptp(run.reading_pa[part], axis=0) for part in ends])

    def furthest_pa(self, run):
        """How far each reading goes from its set point after the turn of demand, and after the door [2, 2], Pa."""
        points = np.array([self.duct.control.set_point_pa, self.building.control.set_point_pa])
        parts = [(run.time_s >= begin) & (run.time_s < end) for begin, end in ((SETTLED_S, OPENS_S), (OPENS_S, LENGTH_S))]
        return np.array([np.abs(run.reading_pa[part] - points).max(axis=0) for part in parts])


class _Side:
    """Filter, controller and drive of one of the two sites."""

    def __init__(self, site, gain_times):
        settings, fan = settings_of(site), site.fan
        settings = type(settings)(**vars(settings) | {"gain": settings.gain * gain_times})
        lowest, highest = (100 * speed / fan.highest_speed_hz for speed in fan.speed_limits_hz(site.control.fire_mode))
        self.drive = Drive(fan, SAMPLE_S, fan.lowest_speed_hz, fire_mode=False)
        self.controller = Controller(settings, SAMPLE_S, lowest, lowest, highest_percent=highest)
        lag = max(tap.filter_s + (tap.response_s or 0.0) for tap in site.transmitters)
        self.goes, self.seen, self.output = 1 - np.exp(-SAMPLE_S / max(lag, 1e-9)), None, lowest

    def step(self, reading_pa, works):
        """One sample; works: False keeps the output where it is."""
        self.seen = reading_pa if self.seen is None else self.seen + self.goes * (reading_pa - self.seen)
        self.output = self.controller.step(float(self.seen), hand_percent=None if works else self.output)
        self.drive.step(self.output)


def _solved(plant, conditions, speeds, shape):
    """Combined reading, and the air of a duct or the mean pressure of a building, [*shape, 2]. Raises ValueError without an answer."""
    air, control = plant.solve(conditions, speeds), plant.site.control
    if not air.converged.all():
        raise ValueError(f"{plant.site.kind} must be one whose air has an answer; {np.count_nonzero(~air.converged)} did not converge")
    reading = combine(air.readings_pa, control.rule, weights=control.weights)
    other = air.fan_flow_m3_s if plant.site.kind == "duct" else air.pressure_pa.mean(axis=1)
    return np.stack([reading, other], axis=-1).reshape(*shape, 2)


def supply_and_relief(duct, building, states=None, weather="mild", balance=None, door_level=None):
    """The `SupplyAndRelief` of two sites; states: of the duct's demand (None: its first two), balance: None for the building's first,
    door_level: None for its lowest storey with a large door. Raises ValueError for other plants, and for a state that is not there."""
    demand = tuple(require.of_kind(DuctSite, duct=duct).demand)[:2] if states is None else tuple(states)
    if len(demand) != 2:
        raise ValueError(f"states must be two of the duct's demand, got {len(demand)}")
    for name in demand:
        require.one_of(duct.demand, states=name)
    require.one_of(require.of_kind(BuildingSite, building=building).weather, weather=weather)
    first = next(iter(building.balance)) if balance is None else require.one_of(building.balance, balance=balance)
    doors = [storey.level for storey in building.storeys if storey.door_m2]
    if not doors or door_level not in (None, *doors):
        raise ValueError(
            f"door_level must be a storey with a large door ({', '.join(map(str, doors)) or 'none has one'}), got {door_level!r}"
        )
    return SupplyAndRelief(duct, building, demand, weather, first, doors[0] if door_level is None else door_level)
