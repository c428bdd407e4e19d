"""What each rule does to every door when a transmitter is wrong: all rules, faults and set points looked up in speeds solved once.

A loop with a dead transmitter cannot be asked of the network as "hold this reading", since the reading it believes is not the air's. So it
is looked up in air solved at many speeds (`model/sweep`) and outdoor temperatures: within 0.2 Pa of the held doors on Larkfield House.
"""

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np

from helpers import require
from helpers.formulas.combining import combine
from helpers.model.air.conditions import Conditions, stair_after_an_hour
from helpers.model.air.operating_point import STATES
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.model.sweep import at, finer, meets, over_speeds, speed_at, squared_steps
from helpers.studies.cases import AS_STATED, FIRST_MINUTE, STAIR_AIR, Case, has_to_hold, unasked_said, usual_cases
from helpers.studies.doors.columns import DoorColumn, DoorColumns
from helpers.studies.doors.window import handle_force_n
from helpers.studies.placement.study import USUAL_WEIGHTS
from helpers.studies.readings.rules import allowed_pressures, allowed_set_points, doors_status
from helpers.studies.report import apart
from helpers.studies.status import inside
from helpers.units.said import with_unit

RULES = ("average", "lowest", "highest", "weighted", "middle")
FAULTS = {
    "none": "both transmitters right",
    "tube off": "the tube hangs in the room: the transmitter reads zero, with a signal that looks healthy",
    "stuck": "the reading stays where it was, whatever the fan does",
    "left out": "the wire is open, the input knows it and leaves the reading out",
    "counted": "the wire is open and the input takes no signal for zero",
}
WEATHER = "winter"  # whose doors the design has to hold are asked for
COLDEST_C, WARMEST_C, TEMPERATURES = -25.0, 35.0, 13
SPEEDS = 193
FINE = 4  # steps between two speeds, where set points that work are looked for
READS_PA = 0.01  # a reading that changes by less than this with the speed is a constant


@dataclass(frozen=True)
class ReadingFault:
    """A fault of one transmitter: kind, one of FAULTS; its number from 0, the lowest; where it is stuck [Pa]."""

    kind: str = "none"
    number: int = 0
    at_pa: float = 0.0

    def __post_init__(self):
        require.one_of(FAULTS, kind=self.kind)

    def believed(self, readings_pa):
        """What the controller has for the true readings [.., transmitters]; NaN where it leaves a reading out."""
        if self.kind == "none":
            return readings_pa
        wrong = {"stuck": self.at_pa, "left out": np.nan}.get(self.kind, 0.0)
        return np.where(np.arange(readings_pa.shape[-1]) == self.number, wrong, readings_pa)


NO_FAULT = ReadingFault()


@dataclass(frozen=True)
class DoorsOpen:
    """Levels whose stair doors, and whose final exits, stand open."""

    stair: tuple[int, ...] = ()
    exits: tuple[int, ...] = ()


@dataclass(frozen=True)
class DoorAt:
    """A shut door and how it fares: column (`DoorColumn`), pressure [Pa], room to its nearest limit [Pa, below zero when out], which limit
    ("low" or "high"), force at the handle [N] (None where nobody pulls against the pressure), most force allowed."""

    column: DoorColumn
    dp_pa: float
    room_pa: float
    too: str
    force_n: float | None
    limit_n: float | None

    @property
    def out(self):
        """Whether it is outside its window."""
        return not inside(self.room_pa)

    def text(self):
        """The door, its pressure, and what that is measured by: the minimum pressure, the force at the handle, or the most pressure."""
        window = self.column.window
        end = window.least_pa if self.too == "low" else window.most_pa if self.force_n is None else None
        side = "least" if self.too == "low" else "most"
        dp, end = (with_unit(self.dp_pa, "pressure"), "") if end is None else apart((self.dp_pa, end), "pressure", side)
        at = f"{self.column.text} at {dp}"
        if self.too == "low":
            return f"{at}, minimum {end}"
        if self.force_n is None:
            return f"{at}, where its closer shuts it up to {end}" if window.latched else f"{at}, maximum {end}"
        force, limit = apart((self.force_n, self.limit_n), "force", "most")
        return f"{at}, {force} at the handle, where {limit} is allowed"


@dataclass(frozen=True)
class Ruled:
    """One rule's end.

    state as in operating_point; speed_hz; reading_pa: the combined one that the controller believes; true_pa, believed_pa by transmitter;
    storeys_pa: across the stair doors [storeys]; doors_pa [doors], rooms_pa [2, doors]: above the least and below the most; required:
    whether the site's design has to hold the case; bench.
    """

    rule: str
    state: str
    speed_hz: float
    reading_pa: float
    true_pa: np.ndarray
    believed_pa: np.ndarray
    storeys_pa: np.ndarray
    doors_pa: np.ndarray
    rooms_pa: np.ndarray
    required: bool
    bench: "RuleBench"

    @property
    def inside(self):
        """Whether every shut door is inside its window."""
        return bool(inside(self.rooms_pa.min()))

    @property
    def status(self):
        """Key of the status of the shut doors, see `doors_status`."""
        return doors_status(self.good, self.rooms_pa.min(), self.required, self._too_high)

    @property
    def good(self):
        """Whether the loop holds and every shut door is inside its window."""
        return self.state == "held" and self.inside

    @property
    def _too_high(self):
        return not inside(self.rooms_pa[1].min())

    def unasked_said(self):
        """Why doors open that are no case of the design are judged as they are, see `cases.unasked_said`."""
        return unasked_said(self.good, self.required, self._too_high)

    @cached_property
    def out(self):
        """Whether the stair doors are too low, and too high [2, storeys]."""
        out = np.zeros((2, self.storeys_pa.size), bool)
        out[:, self.bench.stair_storeys] = ~inside(self.rooms_pa[:, self.bench.stair_doors])
        return out

    @cached_property
    def worst(self):
        """`DoorAt` of the door with the least room of all."""
        side, number = np.unravel_index(np.argmin(self.rooms_pa), self.rooms_pa.shape)
        return self._door(number, ("low", "high")[side])

    @cached_property
    def heaviest(self):
        """`DoorAt` of the shut stair door with the most pressure."""
        return self._door(np.argmax(np.where(self._shut, self.doors_pa, -np.inf)), "high")

    @cached_property
    def weakest(self):
        """`DoorAt` of the shut stair door with the minimum pressure."""
        return self._door(np.argmin(np.where(self._shut, self.doors_pa, np.inf)), "low")

    @property
    def every_out(self):
        """(use, level, "low" or "high") of every shut door that is out, as `columns.doors_out` takes them."""
        sides, numbers = np.nonzero(~inside(self.rooms_pa))
        columns = [self.bench.doors.columns[number] for number in numbers]
        return [(column.use, column.level, ("low", "high")[side]) for side, column in zip(sides, columns, strict=True)]

    @property
    def exits(self):
        """The final exits as `charts.profile` draws them: (number of the storey, pressure, most pressure [Pa]), NaN for one that stands
        open."""
        found = []
        for number, column in enumerate(self.bench.doors.columns):
            most = self.bench.doors.most_pa[number]
            if column.use == "final exit" and np.isfinite(most):
                dp = self.doors_pa[number] if np.isfinite(self.rooms_pa[1, number]) else np.nan
                found.append((self.bench.tower.storey(column.level), float(dp), float(most)))
        return tuple(found)

    @property
    def hardest_exit(self):
        """`DoorAt` of the shut final exit with the least room below its most; None where none is shut that has one."""
        judged = [number for number, column in enumerate(self.bench.doors.columns)
                  if column.use == "final exit" and np.isfinite(self.rooms_pa[1, number])]  # fmt: skip
        return self._door(min(judged, key=lambda number: self.rooms_pa[1, number]), "high") if judged else None

    @property
    def _shut(self):
        return self.bench.is_stair_door & np.isfinite(self.rooms_pa[1])

    def _door(self, number, too):
        column, dp = self.bench.doors.columns[number], float(self.doors_pa[number])
        door = self.bench.site.doors[column.window.door]
        force = limit = None
        if door.worked_by_hand and not column.window.opens_with_pressure:
            force, limit = handle_force_n(door, dp), column.window.force_n
        return DoorAt(column, dp, float(self.rooms_pa[("low", "high").index(too), number]), too, force, limit)


class RuleBench:
    """A site with two transmitters, and one more on `third_level` for the middle of three, under all rules.

    Limits: steady state; transmitters without error; the fan takes any speed from lowest to highest. The wind runs in straight lines
    between the site's named weathers, and so does the stair's temperature where it is not asked as in the first minute or after an hour;
    beyond them the temperature runs on, the wind does not. Raises ValueError for a site with
    another number of transmitters, or with weathers of one outdoor temperature alone.
    """

    def __init__(self, site, third_level):
        if len(site.transmitters) != 2:
            raise ValueError(f"site must have two transmitters, got {len(site.transmitters)}")
        if len({weather.outdoor_c for weather in site.weather.values()}) < 2:
            raise ValueError("site must name weathers of two outdoor temperatures or more, got one")
        first, second = site.transmitters
        self.site, self.tower, self.window = site, Tower(site), allowed_pressures(site)
        third = first.model_copy(update={"name": "PDT-3", "level": third_level})
        self.transmitters = (first, second, third)
        self.doors = DoorColumns(self.tower, self.window)
        self.is_stair_door = np.array([column.use == "stair door" for column in self.doors.columns])
        self.stair_doors = np.flatnonzero(self.is_stair_door)
        self.stair_storeys = [self.tower.storey(self.doors.columns[number].level) for number in self.stair_doors]
        named = [state.outdoor_c for state in site.weather.values() if COLDEST_C <= state.outdoor_c <= WARMEST_C]
        self.temperatures_c = np.union1d(np.linspace(COLDEST_C, WARMEST_C, TEMPERATURES), named)  # where other pages solve, this one does
        self.speeds_hz = squared_steps(site.fan.lowest_speed_hz, site.fan.highest_speed_hz, SPEEDS)
        self._tables = {}

    def prepare(self, several):
        """Solve several `DoorsOpen` now, so that no reader waits for it."""
        for opened in several:
            self._table(opened, AS_STATED)

    def ruled(self, outdoor_c, set_point_pa, opened=DoorsOpen(), fault=NO_FAULT, rules=RULES, stair=AS_STATED):
        """`Ruled` of each rule, in their order; stair: one of cases.STAIR_AIR. Raises ValueError for a temperature that is not solved."""
        air = self._at(outdoor_c, opened, stair)
        required = has_to_hold(self.site, Case("", WEATHER, opened.stair, opened.exits))
        return tuple(self._ruled(air, rule, set_point_pa, fault, required) for rule in rules)

    def set_points_pa(self, outdoor_c, opened=DoorsOpen(), rule="average", fault=NO_FAULT, stair=AS_STATED, closers=True):
        """Lowest and highest set point [Pa] with which a rule keeps every shut door inside; None where there is none.

        closers: whether doors that the pressure pushes open have to close again, too."""
        air = self._at(outdoor_c, opened, stair).finer()
        asked = [closers or not column.window.opens_with_pressure for column in self.doors.columns]
        good = inside(air.rooms_pa[:, :, asked].min(axis=(0, 2)))
        combined = self._combined(fault.believed(air.readings_pa), rule)[good]
        answers = good.any() and np.ptp(combined) > READS_PA  # a reading that stays where it is cannot be held anywhere
        return (float(combined.min()), float(combined.max())) if answers else None

    def suits_pa(self, outdoor_c, opened=DoorsOpen(), rule="average", fault=NO_FAULT, stair=AS_STATED):
        """As `set_points_pa`, of the set points that suit the stair as it is and in its first minute."""
        ends = [self.set_points_pa(outdoor_c, opened, rule, fault, air) for air in dict.fromkeys((stair, FIRST_MINUTE))]
        if None in ends:
            return None
        low, high = max(low for low, _ in ends), min(high for _, high in ends)
        return (low, high) if low <= high else None

    @cached_property
    def _recorded(self):
        cases = tuple(case for case in usual_cases(self.site) if case.shut)
        two, three = self.transmitters[:2], self.transmitters
        found = (
            *allowed_set_points(self.tower, cases, two, ("average", "lowest", "highest")),
            *allowed_set_points(self.tower, cases, three, ("middle",)),
        )
        return {one.rule: one.works() for one in found}

    def recorded_pa(self, rule):
        """Lowest and highest set point [Pa] as the design record has them: all doors shut, in every weather of the site and with the stair
        as stated, in its first minute and after an hour; None where there is none, or the rule is not of those that a record tries."""
        return self._recorded.get(rule)

    def stair_c(self, outdoor_c):
        """Temperature of the stair's air [degC] for outdoor temperatures, by the site's named weathers."""
        inside = self.site.temperatures
        known = {w.outdoor_c: inside.stair_c if w.stair_c is None else w.stair_c for w in self.site.weather.values()}
        outdoors, stairs = np.array(sorted(known.items())).T
        slopes = np.diff(stairs) / np.diff(outdoors)
        below, above = np.minimum(outdoor_c - outdoors[0], 0.0), np.maximum(outdoor_c - outdoors[-1], 0.0)
        return np.interp(outdoor_c, outdoors, stairs) + slopes[0] * below + slopes[-1] * above

    def wind(self, outdoor_c):
        """Speed [m/s] at the weather station and direction [deg] of the wind for outdoor temperatures, by the site's named weathers."""
        known = {w.outdoor_c: (w.wind_speed_m_s, w.wind_from_deg) for w in self.site.weather.values()}
        outdoors = sorted(known)
        speeds, degrees = np.array([known[one] for one in outdoors]).T
        return np.interp(outdoor_c, outdoors, speeds), np.interp(outdoor_c, outdoors, np.unwrap(degrees, period=360.0))

    def weather(self, outdoor_c):
        """Name of the site's weather that is nearest in its outdoor temperature."""
        return min(self.site.weather, key=lambda name: abs(self.site.weather[name].outdoor_c - outdoor_c))

    def _conditions(self, opened, **changes):
        """`Conditions` at the temperatures that are solved, with their wind."""
        speed, degrees = self.wind(self.temperatures_c)
        changes |= {"outdoor_c": self.temperatures_c, "wind_speed_m_s": speed, "wind_from_deg": degrees}
        return Conditions.of(self.site, WEATHER, opened.stair, opened.exits, **changes)

    def _stair_air(self, opened, stair):
        """The stair's air at the temperatures that are solved, [temperatures] or [temperatures, storeys]."""
        if require.one_of(STAIR_AIR, stair=stair) == AS_STATED:
            return self.stair_c(self.temperatures_c)
        asked = self._conditions(opened)
        return asked.floor_c if stair == FIRST_MINUTE else stair_after_an_hour(self.tower, asked)

    def _table(self, opened, stair):
        """Doors' and stair doors' pressures and readings [temperatures, speeds, ..] with these doors open and this air of the stair."""
        if (opened, stair) not in self._tables:
            conditions = self._conditions(opened, stair_c=self._stair_air(opened, stair))

            def quantities(air, _):
                return self.doors.across(air), air.door_dp_pa, self.tower.readings(air, self.transmitters)

            tables = over_speeds(self.tower.solve, quantities, conditions, self.speeds_hz, "opened")
            self._tables[opened, stair] = *tables, self.doors.standing_open(conditions)[0]
        return self._tables[opened, stair]

    def _at(self, outdoor_c, opened, stair):
        if not COLDEST_C <= outdoor_c <= WARMEST_C:
            raise ValueError(f"outdoor_c must be from {COLDEST_C:g} to {WARMEST_C:g} °C, got {outdoor_c:g}")
        *tables, standing_open = self._table(opened, stair)
        place = np.interp(outdoor_c, self.temperatures_c, np.arange(self.temperatures_c.size))
        return _Speeds(*(at(table, place) for table in tables), standing_open, self.doors)

    def _combined(self, believed_pa, rule):
        """The reading the controller works with [speeds]; only "middle" has the third transmitter."""
        count = 3 if rule == "middle" else 2
        weights = USUAL_WEIGHTS[2] if rule == "weighted" else None
        return combine(believed_pa[..., :count], rule, weights=weights)

    def _ruled(self, air, rule, set_point_pa, fault, required):
        believed = fault.believed(air.readings_pa)
        combined = self._combined(believed, rule)
        place, state = meets(combined, set_point_pa)
        dp, storeys, true = (at(table, place) for table in (air.doors_pa, air.storeys_pa, air.readings_pa))
        rooms = np.stack(self.doors.rooms(dp, air.standing_open))
        speed_hz, reading_pa = float(speed_at(self.speeds_hz, place)), float(at(combined, place))
        return Ruled(rule, STATES[state], speed_hz, reading_pa, true, fault.believed(true), storeys, dp, rooms, required, self)


@dataclass(frozen=True)
class _Speeds:
    """Air over the speeds under one condition: doors_pa [speeds, doors], storeys_pa [speeds, storeys], readings_pa [speeds, taps]."""

    doors_pa: np.ndarray
    storeys_pa: np.ndarray
    readings_pa: np.ndarray
    standing_open: np.ndarray
    doors: DoorColumns

    @cached_property
    def rooms_pa(self):
        """Room above the least and below the most [2, speeds, doors]."""
        return np.stack(self.doors.rooms(self.doors_pa, self.standing_open))

    def finer(self):
        """The same with steps between the speeds, in straight lines."""
        return replace(self, **{name: finer(getattr(self, name)[None], FINE)[0] for name in ("doors_pa", "storeys_pa", "readings_pa")})


@cache
def rule_bench():
    """Larkfield House with a third transmitter half-way up, made once."""
    return RuleBench(read_site(demo_sites()["Larkfield House"]), third_level=7)
