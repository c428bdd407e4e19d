"""A concept in the cases it is asked about: every criterion with its status, what it takes in plant, and the doors storey by storey.

A concept is judged with the fan that the site file states. What fan it takes is found with an ideal one, which brings whatever the set
point takes; a fan at one speed takes what it takes at that speed. No margins are in it: page 12 adds them.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from helpers.formulas.air import HEAT_CAPACITY_AIR
from helpers.model.air.conditions import Conditions, conditions_of_hours
from helpers.model.air.fan import REFERENCE_DENSITY_KG_M3, electric_power_w, fan_points, inlet_density_ratio, pressure_against
from helpers.model.air.operating_point import STATES
from helpers.model.air.tower import HeldAir, Tower, ideal_fan
from helpers.studies.cases import without_stair_air
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.open import air_of_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.concept.airs import Concept, air_of, heated_air
from helpers.studies.duty.concept.load import loads_of, loads_read, part_failed
from helpers.studies.duty.relief_damper import blades
from helpers.studies.duty.supply.height import doors_are_apart, too_tall
from helpers.studies.report import MOST_FAN_PA, apart, fine, limit_text
from helpers.studies.status import SPARE_PA, inside, status_of, worst_of
from helpers.units.said import with_unit

WARMTHS, WINDS = 12, 6  # parts of a year's hours by temperature, and of each by wind, that one hour stands for
TEST_HOURS = 26.0  # of a year in which a fan is run for tests: half an hour a week; common practice, no source


@dataclass(frozen=True)
class ConceptCriterion:
    """One criterion of a concept: what it is, key of its status, the figure that decides and where, in words; limit: of a door that is out,
    in words ("" for others); short: whether it is out below it."""

    title: str
    state: str
    figure: str
    limit: str = ""
    short: bool = False


@dataclass(frozen=True)
class PlantPrice:
    """What a concept takes in plant. flow_m3_s, pressure_pa (with the duct's loss), shaft_w: the most over all cases asked, each by itself
    (NaN where no fan holds one of them); heater_w: the most heat put into the supply; shut_m3_s, shut_w: flow and shaft power with all
    doors shut; mean_w: from the mains in the hours of a year, heat
    included; parts: (what, how many more than the file has)."""

    flow_m3_s: float
    pressure_pa: float
    shaft_w: float
    heater_w: float
    shut_m3_s: float
    shut_w: float
    mean_w: float
    parts: tuple

    def energy_kwh(self, hours=TEST_HOURS):
        """Energy from the mains and of the heat, in so many hours spread over a year as its weather is [kWh]."""
        return self.mean_w * hours / 1000


@dataclass(frozen=True)
class JudgedConcept:
    """A concept with its criteria and its price. cases: of `Case`; dp_pa [cases, storeys] across the stair doors, open [cases, storeys];
    window: (least, most) [storeys] with all doors shut; state, speed_hz [cases]; readings_pa [cases, transmitters]; room_pa [cases]: of the
    worst shut door; worst: that door, in words; loads: of `RisingLoad`, what fails first."""

    concept: Concept
    criteria: tuple
    price: PlantPrice
    cases: tuple
    dp_pa: np.ndarray
    open: np.ndarray
    window: tuple
    state: np.ndarray
    speed_hz: np.ndarray
    readings_pa: np.ndarray
    room_pa: np.ndarray
    worst: tuple
    loads: tuple

    @property
    def met(self):
        """Criteria that are met, those without a judgement left aside."""
        return sum(one.state == "good" for one in self.criteria)

    @property
    def failed(self):
        """Criteria past a limit."""
        return len(self.past)

    @property
    def status(self):
        """Key of the gravest status of its criteria."""
        return worst_of(one.state for one in self.criteria)

    @property
    def rank(self):
        """What it is ranked by, the smaller the better: criteria past a limit, the fan's shaft power, other criteria that are no PASS.
        Of those that hold every limit the one of least power is first; of those that pass one, it is the count that puts them lower."""
        power = self.price.shaft_w if np.isfinite(self.price.shaft_w) else np.inf
        return self.failed, round(power, 1), sum(one.state in ("attention", "open") for one in self.criteria)

    @property
    def past(self):
        """The criteria past a limit, in their order."""
        return tuple(one for one in self.criteria if one.state == "wrong")


def judge(concept, cases, hours):
    """Judge a concept in some cases. cases: of `Case`, none as stated; hours: `Hours` of a year. Returns `JudgedConcept`.

    Limits: steady state; doors that move, failed readings and drawn leaks are not in it; the stair's air between first minute and an hour
    is taken to lie between. A relief damper is judged with its blade lifting late and early too.
    """
    tower, window, conditions = Tower(concept.site), pressure_window(concept.site), air_of(concept, cases)
    loads, read = loads_of(concept)
    in_hours = _hours(concept, hours)
    held, by_load, by_hour = _held(tower, conditions, loads, in_hours)
    columns, air = DoorColumns(tower, window), held.air
    stands_open = columns.standing_open(conditions)
    across = [columns.across(air), *(columns.across(one.hold(conditions).air) for _, one in blades(tower, conditions)[1:])]
    above, below = (np.min(ends, axis=0) for ends in zip(*(columns.rooms(one, stands_open) for one in across), strict=True))
    room = np.minimum(above, below)
    closing = np.min([columns.closing(one, stands_open) for one in across], axis=0)
    unsettled = without_stair_air(concept.site, cases)
    sure = air.converged & (held.state != "not found") & np.array([case not in unsettled for case in cases])
    shut, names = np.array([case.shut for case in cases]), tuple(column.text for column in columns.columns)
    worst, told = room.argmin(axis=1), _Told(cases, names, sure, columns, stands_open.any(axis=1))
    alone = conditions.rows(np.flatnonzero(shut))
    closed = tuple(case for case in cases if case.shut)
    unheated = air_of(replace(concept, heated=0.0), closed) if concept.heated else alone
    failed = part_failed(concept, tower, window, alone, unheated)
    price = _price(concept, tower, conditions, shut, in_hours, by_hour.air)
    criteria = (
        told.least("Doors shut", room, shut, above), told.least("Doors open", room, ~shut, above), told.speed(tower, window, held),
        told.least("Exits close again", closing, np.ones(len(cases), bool)), _full_speed(tower, conditions, columns, told, shut),
        told.loop(concept, held, shut), told.failed(failed), usual_fan(price), _height(concept, tower, window, held, closed, shut),
    )  # fmt: skip
    of_loads = np.minimum(*columns.rooms(columns.across(by_load.air), columns.standing_open(loads)))
    return JudgedConcept(
        concept, criteria, price, cases, air.door_dp_pa,
        conditions.stair_door_open > 0, window.by_storey(tower.levels, "stair door"), held.state, air.speed_hz, tower.readings(air),
        room[np.arange(len(cases)), worst], tuple(names[door] for door in worst),
        loads_read(read, of_loads, names, by_load.air.converged & (by_load.state != "not found")),
    )  # fmt: skip


def _held(tower, *parts):
    """`HeldAir` of each of some conditions, all held together."""
    held, ends = tower.hold(Conditions.joined(parts)), np.cumsum([0, *map(len, parts)])
    for start, end in pairwise(ends):
        rows = slice(start, end)
        air = {name: None if value is None else value[rows] for name, value in vars(held.air).items()}
        yield HeldAir(type(held.air)(**air), held.state[rows], held.reading_pa[rows])


def hours_for_all(hours):
    """Numbers of the hours of a year that stand for all of it: of each of WARMTHS equal parts by temperature one from the middle of each of
    WINDS equal parts by wind speed."""
    parts = np.array_split(np.argsort(hours.outdoor_c, kind="stable"), WARMTHS)
    sorted_parts = [part[np.argsort(hours.wind_speed_m_s[part], kind="stable")] for part in parts]
    return np.concatenate([part[((np.arange(WINDS) + 0.5) * len(part) / WINDS).astype(int)] for part in sorted_parts])


def _hours(concept, hours):
    """Conditions of a concept in `hours_for_all` of a year."""
    return heated_air(conditions_of_hours(concept.site, hours.rows(hours_for_all(hours))), concept.heated)


class _Told:
    """Criteria in words, over cases of which some have no sure answer."""

    def __init__(self, cases, names, sure, columns, opened):
        self.cases, self.names, self.sure, self.columns, self.opened = cases, names, sure, columns, opened

    def least(self, title, room_pa, chosen, above_pa=None):
        """The least room [cases, doors] of the chosen cases, against none; above_pa: the part of it over the least of each door, where
        they have both ends: its limit is told with it."""
        asked = np.flatnonzero(chosen)
        if not asked.size or not np.isfinite(room_pa[asked]).any():
            return ConceptCriterion(title, "good" if asked.size else "", "nothing limits it" if asked.size else "no such case")
        case, door = np.unravel_index(np.argmin(np.where(chosen[:, None], room_pa, np.inf)), room_pa.shape)
        least = float(room_pa[case, door])
        how = f"{fine(least)} inside" if inside(least) else f"{fine(-least)} out"
        out = int((~inside(room_pa[asked])).any(axis=1).sum())
        count = f"; {out} of {asked.size} cases" if out else ""
        figure = f"{how}: {self.names[door]}, {self.cases[case].name}{count}"
        found = self._unless_unsure(title, status_of(least, 0.0, SPARE_PA, "least"), figure, chosen)
        if not out or above_pa is None:
            return found
        short = bool(above_pa[case, door] == room_pa[case, door])
        ends = (self.columns.open_least_pa if self.opened[case] else self.columns.least_pa) if short else self.columns.most_pa
        return replace(found, limit=limit_text(float(ends[door]), "pressure", "least" if short else "most"), short=short)

    def _unless_unsure(self, title, state, figure, chosen):
        lost = int((chosen & ~self.sure).sum())
        if not lost:
            return ConceptCriterion(title, state, figure)
        return ConceptCriterion(title, worst_of([state, "open"]), f"{figure}; {lost} cases without an answer")

    def speed(self, tower, window, held):
        """The air through open stair doors, by the standard's own measure."""
        opened = [place for place, case in enumerate(self.cases) if case.open_doors or case.open_exits]
        found = air_of_cases(tower, window.criteria, self.cases, held, opened)
        rows = [row for one in found for row in one.rows if row.use == "stair door"]
        if not rows:
            return ConceptCriterion("Air through open doors", "", "no stair door stands open")
        slow = min(rows, key=lambda row: row.velocity_m_s)
        speed = with_unit(slow.velocity_m_s, "speed") if slow.dp_pa >= 0 else f"{with_unit(abs(slow.velocity_m_s), 'speed')} inwards"
        state = worst_of(one.case_state(case.name) for one in found for case in self.cases)
        chosen = np.isin(np.arange(len(self.cases)), opened)
        return self._unless_unsure("Air through open doors", state or "good", f"{speed} at {slow.place}, {slow.case}", chosen)

    def failed(self, found):
        """With one part failed that the concept rests on: a door out is for somebody to decide, never a pass."""
        if found is None:
            return ConceptCriterion("One part failed", "", "no part of its own")
        what, room = found
        if np.isneginf(room):
            return ConceptCriterion("One part failed", "open", f"{what}: no answer")
        how = f"{fine(room)} inside" if inside(room) else f"{fine(-room)} out"
        return ConceptCriterion("One part failed", status_of(room, SPARE_PA, 0.0, "least").replace("wrong", "attention"), f"{how}: {what}")

    def loop(self, concept, held, shut):
        """Whether the loop holds: with doors shut it has to; what it cannot hold with doors open is for the fan."""
        if concept.fixed:
            return ConceptCriterion("Loop holds", "", "no loop")
        lost = held.state != STATES[0]
        if not lost.any():
            return ConceptCriterion("Loop holds", "good", "held in every case")
        state, case = ("wrong", np.argmax(lost & shut)) if (lost & shut).any() else ("attention", np.argmax(lost))
        figure = f"{held.state[case]}: {self.cases[case].name}; {int(lost.sum())} of {lost.size} cases"
        return self._unless_unsure("Loop holds", state, figure, lost)


def _full_speed(tower, conditions, columns, told, shut):
    """Every door shut and the fan at the highest speed that it may have in smoke control: an override, a lost signal."""
    full = tower.site.fan.speed_limits_hz(tower.site.control.fire_mode)[1]
    late = dict(enumerate(blades(tower, conditions))).get(1, ("", tower))[1]
    above = columns.rooms(columns.across(late.solve(conditions, full)), columns.standing_open(conditions))[1]
    found = told.least("Full speed", above, shut)
    return replace(found, figure=f"{found.figure} ({full:g} Hz)")


def _height(concept, tower, window, held, closed, shut):
    """The height that its supply points are good for, by the one function of page 12: the hand rule's tallest stair and the doors' ends.
    Limits: a fan at one speed holds no set point, so its ends are judged each case by itself."""
    doors, holds = held.air.door_dp_pa[shut], (held.state[shut] == STATES[0]) & (not concept.fixed)
    apart = doors_are_apart(window, closed, tower.levels, holds, doors, window.by_storey(tower.levels, "stair door"))
    height_m = float(np.ptp(tower.elevation_m))
    found = next(too_tall(concept.site, window, height_m, apart), None)
    if found is None:
        own, points = with_unit(height_m, "length", 1), len(concept.site.supplies)
        return ConceptCriterion("Height", "good", f"{own}, {points} supply point{'s' * (points != 1)}, no ends apart")
    return ConceptCriterion("Height", found.severity, found.figure)


def _price(concept, tower, conditions, shut, by_hour, run):
    """`PlantPrice`; by_hour: conditions in hours of a year, run: the air then."""
    own = concept.site.fan
    density = inlet_density_ratio(tower, conditions)
    if concept.fixed:
        flow, pressure, shaft = fan_points(tower, tower.hold(conditions).air, conditions)
    else:
        held = ideal_fan(tower).hold(conditions)
        flow = np.where(held.held, held.air.fan_flows_m3_s.sum(axis=-1), np.nan)
        duct = own.duct_loss_pa * (flow / own.duct_loss_flow_m3_s) ** 2 * density
        pressure = np.maximum(pressure_against(tower, held.air).max(axis=-1), 0.0) + duct
        shaft = flow * pressure / own.efficiency
    heat = concept.heated * heat_w(flow, density, conditions)
    mean = electric_power_w(tower, run, by_hour)
    mean = mean + concept.heated * heat_w(run.fan_flow_m3_s, inlet_density_ratio(tower, by_hour), by_hour)
    most = (float(np.max(one)) for one in (flow, pressure, shaft, heat))  # NaN where a case has none
    return PlantPrice(*most, float(np.max(flow[shut])), float(np.max(shaft[shut])), float(mean.mean()), concept.parts)


def usual_fan(price):
    """Whether there is a fan to buy for a `PlantPrice`: the limit by which page 12 says that no usual fan gives it (MOST_FAN_PA)."""
    if not np.isfinite(price.pressure_pa):
        return ConceptCriterion("Usual fan", "wrong", "none of any size holds every case")
    pressure, most = apart((price.pressure_pa, MOST_FAN_PA), "pressure", "most")
    return ConceptCriterion("Usual fan", status_of(price.pressure_pa, MOST_FAN_PA), f"{pressure} of fan pressure, most {most}")


def heat_w(flow_m3_s, density_ratio, conditions):
    """Heat [W] that brings a supply all the way from outdoors to the floors' temperature; none where it is no colder outdoors.

    flow_m3_s at the inlet, density_ratio there over standard air's, both [conditions]. Equation: rho Q cp (T_floor - T_outdoor).
    """
    colder = np.maximum(conditions.floor_c - conditions.outdoor_c, 0.0)
    return REFERENCE_DENSITY_KG_M3 * density_ratio * flow_m3_s * HEAT_CAPACITY_AIR * colder
