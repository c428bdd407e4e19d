"""The rounds of a test day at one stair: fan off, automatic with all doors shut, three steady speeds, the design's doors opened one by one;
what the model expects of each in the weather found on the day."""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.air.conditions import Conditions
from helpers.model.air.stair_heat import with_stair
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import in_its_mode
from helpers.model.site.schema import Site
from helpers.studies.commissioning.acceptance import AcceptanceSheet, acceptance_sheet
from helpers.studies.commissioning.further_tests import course_said
from helpers.studies.doors.open import door_speed
from helpers.studies.duty.permissible_speed import Ceiling, ceiling_of
from helpers.studies.measured.fitted import at_dampers
from helpers.studies.measured.readings import FIELDS, QUANTITIES, every_quantity
from helpers.studies.measured.steady_speeds import LEFT_PA, SteadySpeeds, steady_speeds
from helpers.studies.report import listed
from helpers.units.said import with_unit

OFF, AUTOMATIC, MANUAL = "OFF", "AUTOMATIC", "MANUAL"
DOORS = QUANTITIES[:3]
OVER = QUANTITIES[3:5]  # floors and stair over outdoors
SHUT = "automatic, doors shut"


@dataclass(frozen=True)
class Round:
    """One round. label: its name on the sheets; mode: OFF, MANUAL or AUTOMATIC; speed_hz and flow_m3_s of the fan, expected; open_doors,
    open_exits: levels that stand open; state: whether the loop holds, "" where it does or none runs; expected_pa: {(quantity, level):
    pressure [Pa]} of all that is read; speeds_m_s: {(use, level): mean speed of the air through an open door [m/s]}."""

    label: str
    mode: str
    speed_hz: float
    flow_m3_s: float
    open_doors: tuple
    open_exits: tuple
    state: str
    expected_pa: dict
    speeds_m_s: dict

    def stands_open(self, quantity, level):
        """Whether the door of a quantity stands open: a lobby's door with the stair door before it."""
        return level in (self.open_exits if quantity == "final exit" else self.open_doors if quantity in DOORS else ())

    def shut_doors_pa(self, quantity="stair door"):
        """(least, most) pressure [Pa] expected across the shut doors of a use; () where there is none."""
        found = [pa for (what, level), pa in self.expected_pa.items() if what == quantity and not self.stands_open(what, level)]
        return (min(found), max(found)) if found else ()


@dataclass(frozen=True)
class CrewRounds:
    """All rounds of one site in one weather; sheet: the `AcceptanceSheet` of that weather, whose limits hold; ceiling: the `Ceiling` of
    speed of the day; course: what the loop holds in the first minute and later, `course_said`, "" where the day's temperatures are typed
    in: then the stair is as warm as it was read; steady: `SteadySpeeds` of the rounds in MANUAL; assumed: (field of `Day`,
    value) of what nobody could read of the weather and the filled sheets were made for."""

    site: Site
    sheet: AcceptanceSheet
    rounds: tuple
    ceiling: Ceiling
    course: str = ""
    steady: SteadySpeeds | None = None
    assumed: tuple = ()

    @property
    def lifts_from_pa(self):
        """{level of a relief damper: pressure of the stair over outdoors there above which a steady speed is too high}; {} without one."""
        return {relief.level: relief.opens_pa - LEFT_PA for relief in self.site.stair.reliefs}

    def round(self, label):
        """The round of a label."""
        return next(one for one in self.rounds if one.label == label)

    @property
    def read(self):
        """(quantity, level) of all that is read in every round, bottom up."""
        return tuple(self.rounds[0].expected_pa)


def crew_rounds(site, weather="winter", day=None, out_of_mode=""):
    """Rounds of a stair site, expected for the weather of the `Day` (default: the site file's weather).

    Returns `CrewRounds`. Raises ValueError as `acceptance_sheet`. Limits: steady air; the leaks of the site file: a tighter building
    lifts its relief damper at a lower speed, so the speeds of the steady rounds are upper ends and not orders; none is above the ceiling,
    nor where a shut door would be past its maximum in this weather (`steady_speeds`).
    """
    sheet = acceptance_sheet(site, weather, day=day, out_of_mode=out_of_mode)
    site = in_its_mode(site)[0]
    tower, changes = Tower(site), sheet.day.changes(site, weather)

    def conditions(doors=(), exits=()):
        return Conditions.of(site, weather, doors, exits, **changes)

    shut = conditions()
    ceiling = ceiling_of(site)
    slow = steady_speeds(tower, shut, ceiling.hz)
    speeds = slow.speeds_hz
    opened = _one_by_one(sheet)
    held_rows = Conditions.joined([shut, *(conditions(*doors) for _, doors in opened)])
    held = tower.hold(held_rows)
    steady = tower.solve(shut.rows(np.zeros(len(speeds), int)), speeds)
    # Before its first run of the day no outdoor air has come down the stair: it is as warm as its rooms. What was typed stays.
    rested = shut if sheet.day.typed else with_stair(shut, shut.floor_c)
    rounds = [_round(tower, "fan off", OFF, tower.solve(rested, 0.0), 0, rested)]
    auto = _round(tower, SHUT, AUTOMATIC, held.air, 0, held_rows, state=str(held.state[0]))
    as_the_sheet = {(row.use, row.level): row.shut_pa for row in sheet.rows if (row.use, row.level) in auto.expected_pa}
    rounds.append(replace(auto, expected_pa=auto.expected_pa | as_the_sheet))  # end doors in their first minute, as they are read
    rounds += [_round(tower, f"steady speed {place + 1}", MANUAL, steady, place, shut) for place in range(len(speeds))]
    for place, (label, doors) in enumerate(opened, 1):
        rounds.append(_round(tower, label, AUTOMATIC, held.air, place, held_rows, doors, str(held.state[place])))
    course = "" if sheet.day.typed else course_said(tower, weather, ceiling)
    return CrewRounds(site, sheet, tuple(rounds), ceiling, course, slow)


def _one_by_one(sheet):
    """(label, (open doors, open exits)) of each round with open doors: one more each time, in the design's order."""
    every = [("stair door", level) for level in sheet.open_doors] + [("final exit", level) for level in sheet.open_exits]
    found, doors, exits = [], (), ()
    for use, level in every:
        doors, exits = (*doors, level) if use == "stair door" else doors, (*exits, level) if use == "final exit" else exits
        names = [f"{one}" for one in doors] + [f"exit {one}" for one in exits]
        found.append((f"open: {listed(names)}", (doors, exits)))
    return found


def _round(tower, label, mode, air, place, conditions, doors=((), ()), state="held"):
    site, every = tower.site, every_quantity(air)[place]
    expected = {(what, level): float(every[QUANTITIES.index(what), at]) for what, level, at in read_places(site)}
    open_doors, open_exits = doors
    uses = [(use, level) for level in open_doors for use in DOORS[:2] if (use, level) in expected]
    uses += [("final exit", level) for level in open_exits]
    speeds = {(use, level): door_speed(tower, air, conditions, place, level, use) for use, level in uses}
    speed_hz = 0.0 if mode == OFF else float(air.speed_hz[place])
    return Round(label, mode, speed_hz, float(air.fan_flow_m3_s[place]), open_doors, open_exits, "" if state == "held" else state,
                 expected, speeds)  # fmt: skip


def read_places(site):
    """(quantity, level, number of the storey) of all that is read in a round: every door, floors at three heights, the stair at three."""
    has = {"stair door": lambda one: one.stair_door and one.stair_door_count, "lobby door": lambda one: one.lobby,
           "final exit": lambda one: one.final_exit_door}  # fmt: skip
    for quantity, asked in has.items():
        yield from ((quantity, storey.level, place) for place, storey in enumerate(site.storeys) if asked(storey))
    count = len(site.storeys)
    for quantity, between in zip(OVER, ([0], at_dampers(site)), strict=True):
        for place in sorted({0, *(one or count // 2 for one in between), count - 1}):
            yield quantity, site.storeys[place].level, place


def automatic_said(rounds):
    """What is expected of the loop with all doors shut, in words: minute by minute where the stair's air changes in a weather of the site
    file, else as `expected_said`."""
    return rounds.course or expected_said(rounds.round(SHUT))


def still_said(sheet, one):
    """What is expected of the round with the fan off, and of which stair: not yet run, it is as warm as its rooms."""
    if sheet.day.typed:
        return f"in the weather typed, {sheet.stair_said}: {expected_said(one)}"
    return f"in {sheet.weather}, the fan not yet run, the stair as warm as its rooms: {expected_said(one)}"


def expected_said(one):
    """What is expected of a round: of the shut stair doors, and of the fan, in words."""
    ends = one.shut_doors_pa()
    doors = f"stair doors that are shut {' to '.join(with_unit(end, 'pressure', (1, 3)) for end in ends)}" if ends else ""
    fan = "" if one.mode == OFF else f"fan {with_unit(one.speed_hz, 'frequency')}, {with_unit(one.flow_m3_s, 'flow')}"
    state = f"set point not reached: {one.state}" if one.state else ""
    return "; ".join(filter(None, (doors, fan, state)))


def field_of(quantity):
    """Field of a `DayRound` that holds a quantity."""
    return FIELDS[quantity]
