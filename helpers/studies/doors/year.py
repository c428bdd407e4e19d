"""A year of weather through the held loop, hour by hour: when a door has too little pressure or too much, when the fan is at a limit.

Steady state in every hour, all doors as stated (shut, by default) all year: this is the weather's part alone. Doors that open, leaks that
come out otherwise and transmitter errors are the placement study's. Each hour is judged twice, as if the fan started in it: with the stair
as warm as the rooms, as in the first minute, and as cold (or warm) as an hour of the outdoor air makes it; the worse decides.
A typical year is put together without extremes: it tells which doors are short how often, and is not for design.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from helpers.model.air.conditions import HOURS_OF_A_YEAR, Conditions, Hours, conditions_of_hours, stair_after_an_hour
from helpers.model.air.fan import electric_power_w
from helpers.model.air.operating_point import HELD, STATES
from helpers.model.air.stair_heat import with_stair
from helpers.model.air.tower import HeldAir
from helpers.studies.cases import AFTER_AN_HOUR, FIRST_MINUTE, levels_text, one_number
from helpers.studies.doors.columns import DoorColumn, DoorColumns
from helpers.studies.doors.kinds import PUSHED
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.report import Shown, Table
from helpers.studies.status import inside
from helpers.units.said import with_unit

MONTHS = (("January", 31), ("February", 28), ("March", 31), ("April", 30), ("May", 31), ("June", 30), ("July", 31), ("August", 31),
           ("September", 30), ("October", 31), ("November", 30), ("December", 31))  # fmt: skip

SIDES, WAYS = 24, 32  # sectors of the wind, and mixes of temperature and wind, among which the extreme hours are looked for


@dataclass(frozen=True)
class DoorYear:
    """One door's year: hours below its least and above its most pressure; the lowest and the highest pressure across it."""

    door: DoorColumn
    hours_low: int
    hours_high: int
    lowest_pa: float
    highest_pa: float

    @property
    def pushed(self):
        """What too much does to a leaf that opens with it: "pushed open", or that it once opened would not close again; "" where it never
        has too much, or opens against it."""
        means = self.door.means("high") if self.hours_high else ""
        return means if means in PUSHED else ""


@dataclass(frozen=True)
class CalendarMap:
    """Room of the worst door [Pa] by hour of the day (24 rows, from midnight) and day of the year (365 columns); out below zero."""

    room_pa: np.ndarray


@dataclass(frozen=True)
class Year(Shown):
    """A year through the held loop, arrays [hours].

    hours: the weather; held: the `HeldAir` of the stair's air that decides; room_pa: of the worst door, below zero when out; worst: its
    number in `doors`; low, high: whether any door has too little, too much; doors: of `DoorYear`, those with a limit; power_w: from the
    mains, with the fan running on; airs: the stair's air each hour is judged in, in words, and `air`: the number of the one that decides;
    states [airs, hours]; stair_share: where the stair's temperature was stated instead; open_said: which doors stood open, in words.
    """

    site_name: str
    hours: Hours
    held: HeldAir
    set_point_pa: float
    rule: str
    room_pa: np.ndarray
    worst: np.ndarray
    low: np.ndarray
    high: np.ndarray
    doors: tuple
    power_w: np.ndarray
    airs: tuple
    air: np.ndarray
    states: np.ndarray
    stair_share: float | None
    open_said: str

    @property
    def inside(self):
        """Whether every shut door is inside its window, by hour; never where no answer was found."""
        return inside(self.room_pa) & self.found

    @property
    def found(self):
        """Whether the loop's steady state was found, by hour."""
        return (self.held.state != "not found") & self.held.air.converged

    def sound_readings(self, tower, transmitters=None):
        """Readings [hours, transmitters] of the hours in which the loop holds and every shut door is inside, for the alarm limits."""
        return tower.readings(self.held.air, transmitters)[self.inside & (self.held.state == "held")]

    @cached_property
    def counts(self):
        """Hours by what happened: inside, low, high (a door, any), at full speed, at lowest speed, not found."""
        at_ends = {name: int((self.states == name).any(axis=0).sum()) for name in ("at full speed", "at lowest speed")}
        return {
            "inside": int(self.inside.sum()), "low": int((self.low & self.found).sum()), "high": int((self.high & self.found).sum()),
            **at_ends, "not found": int((~self.found).sum()),
        }  # fmt: skip

    @property
    def out(self):
        """Hours in which a door is found outside its window: those without an answer are counted by themselves."""
        return len(self.hours) - self.counts["inside"] - self.counts["not found"]

    def out_said(self):
        """In how many hours a door is out, and beside it how many have no answer, which no pass is given for, in words; "" for none."""
        lost = f"{_hours(self.counts['not found'])} of a typical year without an answer, no pass"
        out = f"a typical year brings a door outside its window in {_hours(self.out)}"
        return "; ".join([*[out] * bool(self.out), *[lost] * bool(self.counts["not found"])])

    @property
    def energy_kwh(self):
        """Energy from the mains in the year, if the loop ran all of it."""
        return float(self.power_w[self.found].sum() / 1000)

    def calendar(self):
        """`CalendarMap` of the year; NaN where no answer was found."""
        room = np.where(self.found, self.room_pa, np.nan)
        return CalendarMap(room.reshape(365, 24).T)

    def worst_hour(self):
        """Number of the hour in which a door is furthest outside, or has the least room."""
        return int(np.where(self.found, self.room_pa, np.inf).argmin())

    def table(self):
        """Doors by hours outside, the worst first; doors that are never outside are left out, all but the one with the least room."""
        order = sorted(range(len(self.doors)), key=lambda i: -(self.doors[i].hours_low + self.doors[i].hours_high))
        rows = [i for i in order if self.doors[i].hours_low + self.doors[i].hours_high] or [int(self.worst[self.worst_hour()])]
        columns = ("door", "its hours too low", "its hours too high", "lowest", "highest")
        note = f"{self.hours.name}, {len(self.hours)} hours. {self.assumption}"
        return Table("year", f"{self.site_name}: doors in a year of weather", columns, tuple(self._row(i) for i in rows), note=note)

    @property
    def assumption(self):
        """What is assumed of the stair's temperature, in a sentence."""
        if self.stair_share is None:
            first = int((self.air == 0).sum())
            return (
                "Each hour is judged in the stair's first minute and after an hour of the fan, the worse decides (the first minute in "
                f"{first} of {len(self.hours)} hours). A typical year has no extremes and is not for design: the weathers of the site file "
                "decide."
            )
        return (
            f"The stair's air is taken to stand {100 * self.stair_share:.0f} % of the way from the floors' to the outdoor air's "
            "temperature in the same hour; a real stair lags by hours."
        )

    def verdict(self):
        """The year in one paragraph."""
        return " ".join([self._doors_said(), self._fan_said(), self._worst_said(), self.assumption])

    def _row(self, number):
        door = self.doors[number]
        extremes = [with_unit(value, "pressure") for value in (door.lowest_pa, door.highest_pa)]
        return (door.door.text, str(door.hours_low), ", ".join(filter(None, (str(door.hours_high), door.pushed))), *extremes)

    def _doors_said(self):
        counts, total = self.counts, len(self.hours)
        said = f"{self.hours.name}, {self.open_said}: every door is inside its window in {counts['inside']} of {total} hours"
        ways = (("low", "with too little pressure"), ("high", "with too much"))
        parts = [f"{counts[way]} hours have a door {means}" for way, means in ways if counts[way]]
        most = max(self.doors, key=lambda year: year.hours_low + year.hours_high)
        if parts:
            said += f"; {' and '.join(parts)}, most often {most.door.text}"
        return f"{'; '.join((said, *self.pushed_said()))}."

    def pushed_said(self):
        """Of the doors that open with the pressure and have too much: what that does to them, and in how many hours, in words."""
        return [f"{one.door.text} {'is ' * (one.pushed == PUSHED[0])}{one.pushed} in {one.hours_high}" for one in self.doors if one.pushed]

    def _fan_said(self):
        counts = self.counts
        limits = f"The fan is at full speed in {counts['at full speed']} and at its lowest in {counts['at lowest speed']} hours"
        lost = f", and {_hours(counts['not found'])} had no answer, no pass" if counts["not found"] else ""
        return f"{limits}{lost}; running all year it would take {self.energy_kwh:.0f} kWh."

    def _worst_said(self):
        hour = self.worst_hour()
        room, door = self.room_pa[hour], self.doors[self.worst[hour]].door
        by = with_unit(abs(room), "pressure")
        speed = self.hours.wind_speed_m_s[hour]
        wind = f"wind {with_unit(speed, 'wind speed')} from {self.hours.wind_from_deg[hour]:.0f}°" if speed else "no wind"
        weather = f"{with_unit(self.hours.outdoor_c[hour], 'temperature')}, {wind}"
        outcome = f"is {by} outside its window" if not inside(room) else f"still has {by} of room"
        return f"The worst hour is {_when(hour)} ({weather}): {door.text} {outcome}."


def year_of_weather(tower, window, hours, *, set_point_pa=None, transmitters=None, rule=None, weights=None, share=None,
                    open_doors=(), open_exits=()):  # fmt: skip
    """Hold the loop through a year of weather and look at every door in every hour.

    tower: `Tower`; window: `SiteWindow`, narrowed to `allowed_pressures`; hours: `Hours`, 8760 of them; set_point_pa, transmitters, rule,
    weights: by default the site's;
    share: of the way from floor to outdoor temperature at which the stair stands all year, instead of its first minute and an hour later;
    open_doors, open_exits: levels whose doors stand open all year. Returns `Year`. Raises ValueError for another number of hours, levels or
    rules that are not there, a set point that is no number.
    """
    if len(hours) != HOURS_OF_A_YEAR:
        raise ValueError(f"hours must be a year of {HOURS_OF_A_YEAR}, got {len(hours)} hours of {hours.name}")
    site = tower.site
    target = one_number(set_point_pa=site.control.set_point_pa if set_point_pa is None else set_point_pa)
    opened = Conditions.of(site, next(iter(site.weather)), open_doors, open_exits)
    doors_open = {name: getattr(opened, name) for name in ("stair_door_open", "lobby_door_open", "final_exit_open")}
    conditions = conditions_of_hours(site, hours, share, **doors_open)
    if share is None:
        airs, airy = (FIRST_MINUTE, AFTER_AN_HOUR), _first_and_later(tower, conditions)
    else:
        airs, airy = (f"{100 * share:.0f} % of the way",), conditions
    held = tower.hold(airy, target, _there(site, transmitters), rule, weights)
    columns, shape = DoorColumns(tower, allowed_pressures(site, window)), (len(airs), len(hours))
    across = columns.across(held.air)
    above, below = (room.reshape(*shape, -1) for room in columns.rooms(across, columns.standing_open(airy)))
    room = np.minimum(above, below)
    lost = ((held.state == "not found") | ~held.air.converged).reshape(shape)
    air = np.where(lost, -np.inf, room.min(axis=2)).argmin(axis=0)  # an air without an answer decides: the hour has none
    rows = air * len(hours) + np.arange(len(hours))
    known = ~lost.any(axis=0)[:, None]  # an hour without an answer is counted by itself, as none of a door
    low, high = ((~inside(room)).any(axis=0) & known for room in (above, below))
    worst = room[air, np.arange(len(hours))]
    doors = zip(columns.columns, low.sum(axis=0), high.sum(axis=0), across.min(axis=0), across.max(axis=0), strict=True)
    return Year(
        site.name, hours, _of_rows(held, rows), target, rule or site.control.rule, worst.min(axis=1), worst.argmin(axis=1),
        low.any(axis=1), high.any(axis=1),
        tuple(DoorYear(door, int(lows), int(highs), float(least), float(most)) for door, lows, highs, least, most in doors),
        electric_power_w(tower, held.air, airy)[-len(hours) :], airs, air, held.state.reshape(shape),
        None if share is None else float(share), _open_said(open_doors, open_exits),
    )  # fmt: skip


def year_by_another_fan(year, tower, window):
    """What a `Year`, all else by default, is with the fan of `tower`, one that is enough. Returns `Year`.

    One that is at no limit in any hour is given back where the fan has a single outlet: held at one reading every fan then brings the same
    flow, whatever its curve, and all air is the same (tests/studies/test_year.py compares). The shares of several follow the curve.
    """
    if len(tower.site.supplies) == 1 and (year.states == STATES[HELD]).all():
        return year
    return year_of_weather(tower, window, year.hours)


def extreme_hours(hours):
    """Numbers of the hours that are the coldest, the hottest, the windiest, or the furthest in any mix of temperature and wind pressure, by
    the side that the wind blows from: what a door sees goes with both, for one side in the same mix.

    Limits: the sides are sectors of 15°; in one of them the mix changes a little.
    """
    figures = np.stack([hours.outdoor_c, hours.wind_speed_m_s**2])
    figures = (figures - figures.mean(axis=1, keepdims=True)) / np.maximum(np.ptp(figures, axis=1, keepdims=True), 1e-9)
    ways = np.exp(2j * np.pi * np.arange(WAYS) / WAYS)
    score = np.stack([ways.real, ways.imag], axis=1) @ figures
    sides = np.floor(hours.wind_from_deg / (360 / SIDES)).astype(int) % SIDES == np.arange(SIDES)[:, None]
    return np.unique(np.where(sides[:, None], score, -np.inf).argmax(axis=-1))


def inside_all_year(tower, window, hours, set_points_pa, rule=None, weights=None):
    """Whether each set point (n,) leaves every shut door inside in the `extreme_hours` of a year, in the stair's first minute and after an
    hour: bool (n,). The rest as year_of_weather, whose whole year stays the judge of the one that is entered."""
    site, points = tower.site, np.asarray(set_points_pa, float)
    if not points.size or all((door.least_pa, door.most_pa) == (None, None) for door in window.doors):
        return np.ones(points.size, bool)
    airy = _first_and_later(tower, conditions_of_hours(site, hours.rows(extreme_hours(hours))))
    rows = airy.rows(np.tile(np.arange(len(airy)), points.size))
    held = tower.hold(rows, np.repeat(points, len(airy)), None, rule, weights)
    columns = DoorColumns(tower, allowed_pressures(site, window))
    room = np.minimum(*columns.rooms(columns.across(held.air), columns.standing_open(rows))).min(axis=-1)
    return (inside(room) & (held.state != "not found")).reshape(points.size, -1).all(axis=1)


def _first_and_later(tower, conditions):
    """Conditions with the stair as warm as the rooms, and after them the same with it as an hour of the fan leaves it."""
    warm = np.repeat(conditions.floor_c[:, None], len(tower.site.storeys), axis=1)
    return Conditions.joined([with_stair(conditions, warm), with_stair(conditions, stair_after_an_hour(tower, conditions))])


def _of_rows(held, rows):
    """The chosen rows of a held air."""
    air = {name: None if value is None else value[rows] for name, value in vars(held.air).items()}
    return HeldAir(type(held.air)(**air), held.state[rows], held.reading_pa[rows])


def _there(site, transmitters):
    """The transmitters asked for (None: the site's own); refuses none at all, and levels that are not there."""
    levels = [storey.level for storey in site.storeys]
    if transmitters is not None and not len(transmitters):
        raise ValueError("transmitters must be one or more, got none")
    for transmitter in transmitters or ():
        if transmitter.level not in levels:
            raise ValueError(f"transmitters must be on storeys from {levels[0]} to {levels[-1]}, got {transmitter.level}")
    return transmitters


def _open_said(open_doors, open_exits):
    named = [("stair doors", open_doors), ("final exits", open_exits)]
    said = [f"{what} of {levels_text(levels)} open" for what, levels in named if levels]
    return " and ".join(said) or "all doors shut"


def _hours(count):
    return f"{count} hour{'s' * (count != 1)}"


def _when(hour):
    """An hour of the year in words; the file's first hour is the one after midnight of 1 January."""
    day, of_day = divmod(hour, 24)
    begins = np.cumsum([0, *(days for _, days in MONTHS)])
    month = int(np.searchsorted(begins, day, side="right")) - 1
    return f"{day - begins[month] + 1} {MONTHS[month][0]}, {of_day:02d} to {of_day + 1:02d} h"
