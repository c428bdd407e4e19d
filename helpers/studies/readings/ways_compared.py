"""Ways of falling back compared cell by cell: the worst shut door after one failure in one case, found in air solved once over fan speed.

What any reading, right or wrong, makes of the doors is looked up; between the solved speeds all runs in straight lines over the square of
the speed: within 0.3 Pa of the exactly held doors on the demo stairs (a test compares).
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from helpers.formulas.combining import combine
from helpers.model.site.schema import Door
from helpers.model.sweep import at, meets, over_speeds, place_of, speed_at, squared_steps
from helpers.studies.cases import asked_for, conditions_of
from helpers.studies.doors.columns import DoorColumn, DoorColumns
from helpers.studies.doors.exits import ExitAjar
from helpers.studies.doors.window import handle_force_n
from helpers.studies.readings.failures import NOTHING, SPEED
from helpers.studies.readings.rules import TOLERANCE_PA, allowed_pressures
from helpers.studies.report import fine
from helpers.studies.status import SEVERITIES, room_status, worst_of
from helpers.units.said import with_unit


@dataclass(frozen=True)
class Cell:
    """The worst shut door after one failure in one case: `DoorColumn`, `Door`, pressure across it, room above its least and below its most
    (below zero when out, infinite where nothing limits), fan speed; holdable: whether any speed holds the case; judged: whether the
    case counts."""

    way: str
    failure: str
    case: str
    holdable: bool
    judged: bool
    column: DoorColumn
    leaf: Door
    dp_pa: float
    above_pa: float
    below_pa: float
    speed_hz: float

    @property
    def rooms_pa(self):
        """Room above the least, and below the most."""
        return self.above_pa, self.below_pa

    @property
    def room_pa(self):
        """Room to the nearest limit."""
        return min(self.rooms_pa)

    @property
    def force_n(self):
        """Force at the handle; None where nobody pulls against the pressure."""
        pulled = self.leaf.worked_by_hand and not self.column.window.opens_with_pressure
        return handle_force_n(self.leaf, self.dp_pa) if pulled else None

    @property
    def good(self):
        """Whether every shut door is inside its window."""
        return self.room_pa >= -TOLERANCE_PA

    @property
    def case_said(self):
        """The case, and that no speed holds it, where none does."""
        return self.case if self.holdable else f"{self.case}: no speed holds it"

    def text(self):
        """Door, pressure, force, and by how much it is in or out."""
        force = "" if self.force_n is None else f", {with_unit(self.force_n, 'force')} at the handle"
        end = "low" if self.above_pa < self.below_pa else "high"
        spare = f"{fine(self.room_pa)} to spare" if self.good else f"{fine(-self.room_pa)} too {end}"
        return f"{self.column.text} at {fine(self.dp_pa)}{force}, {spare}"


@dataclass(frozen=True)
class Way:
    """One way of falling back.

    every: its `Cell`s by (failure, case), those of cases that are not judged too; ends: the `Cell`s with the least room above the least and
    below the most of the cases judged, those that no speed holds too; walls: {walls that leak more or less, readings off by their accuracy:
    the same two `Cell`s}; dampers: {state of the relief damper: the same two}, empty without one; exits: `ExitAjar`, None where no final
    exit is pushed open; blind: of `failures.blind_wires`; accuracy_pa: by which a reading may be off; held_room_pa: room of the worst door
    with such walls and readings in the cases that a speed can hold.
    """

    name: str
    every: dict[tuple[str, str], Cell]
    ends: tuple[Cell, Cell]
    walls: dict[str, tuple[Cell, Cell]]
    dampers: dict[str, tuple[Cell, Cell]]
    exits: ExitAjar | None
    blind: tuple[str, ...]
    accuracy_pa: float
    held_room_pa: float

    @cached_property
    def cells(self):
        """Those of the cases judged."""
        return {key: cell for key, cell in self.every.items() if cell.judged}

    @cached_property
    def worst(self):
        """Its worst `Cell` of the cases judged."""
        return min(self.cells.values(), key=lambda cell: cell.room_pa)

    @property
    def box_ends_pa(self):
        """Room above the least and below the most at its worst doors, with walls that leak more or less and readings off."""
        return tuple(min(cells[end].rooms_pa[end] for cells in self.walls.values()) for end in (0, 1))

    @property
    def damper_rooms_pa(self):
        """{state of the relief damper: room of the worst door}."""
        return {state: min(low.above_pa, high.below_pa) for state, (low, high) in self.dampers.items()}

    @property
    def box_room_pa(self):
        """Room of its worst door in the cases judged, with walls that leak more or less and readings off by their accuracy."""
        return min(self.box_ends_pa)

    @cached_property
    def held_worst(self):
        """Its worst `Cell` of the cases that a speed can hold."""
        return min((cell for cell in self.every.values() if cell.holdable), key=lambda cell: cell.room_pa)

    @property
    def good(self):
        """Whether it keeps every shut door inside after every failure in every case judged, in the box as well, once it has begun."""
        return self.worst.good and self.box_room_pa >= -TOLERANCE_PA

    @property
    def damper_out(self):
        """(state of the relief damper, room) of the worst with which a door is out; None where there is none."""
        state, room = min(self.damper_rooms_pa.items(), key=lambda one: one[1], default=("", np.inf))
        return None if room >= -TOLERANCE_PA else (state, room)

    @property
    def _damper_in_order(self):
        own = "wrong" if self.blind else room_status(min(self.worst.room_pa, self.box_room_pa), TOLERANCE_PA)
        damper = room_status(min(self.damper_rooms_pa.values(), default=np.inf), np.inf)  # further out than the readings may be: `state`
        return worst_of((own, damper, "good" if self.exits is None else self.exits.state))

    @property
    def rests_on_one(self):
        """Whether with a relief damper stuck a door is further out than a reading may be off."""
        return self.damper_out is not None and self.damper_out[1] < -self.accuracy_pa

    @property
    def state(self):
        """Key of the status that says whether it may be entered: whether it can begin and the doors first; then whether it rests on a
        relief damper that works, and whether the final exits close again."""
        return worst_of((self._damper_in_order, "wrong" if self.rests_on_one else "good"))

    def cell_state(self, cell):
        """Key of the status of one of its cells: no row is passed while a dead wire cannot be seen."""
        return "wrong" if self.blind else room_status(cell.room_pa, TOLERANCE_PA)

    @property
    def out(self):
        """How many of the cells judged have a door out."""
        return sum(not cell.good for cell in self.cells.values())

    @property
    def rank(self):
        """To compare ways by: whether no door leaves its window, and how sure that is; then the room of the worst door where a speed can
        hold, to what a gauge tells, for elsewhere no speed is right; then how few cells have a door out, and the worst door of all."""
        held = min(self.held_worst.room_pa, self.held_room_pa)
        can = held >= -TOLERANCE_PA
        rooms = [round(room / TOLERANCE_PA) for room in (held, self.held_worst.room_pa, self.worst.room_pa)]
        return self.good, can, SEVERITIES.index(self._damper_in_order), rooms[0], -self.out, *rooms[1:]

    def as_good_as(self, other):
        """Whether no gauge tells the two apart: alike in all that `rank` compares by, rooms to TOLERANCE_PA."""
        told = [(one.good, one.rank[1:3], one.out) for one in (self, other)]
        rooms = [(min(one.held_worst.room_pa, one.held_room_pa), one.held_worst.room_pa, one.worst.room_pa) for one in (self, other)]
        return told[0] == told[1] and bool(np.allclose(*rooms, rtol=0, atol=TOLERANCE_PA))

    def worst_of(self, failure):
        """The worst `Cell` of one failure, by its text."""
        return min((cell for cell in self.cells.values() if cell.failure == failure), key=lambda cell: cell.room_pa)

    def worst_in(self, case):
        """The worst `Cell` of one case, by its name, judged or not."""
        return min((cell for cell in self.every.values() if cell.case == case), key=lambda cell: cell.room_pa)


@dataclass(frozen=True)
class Beside:
    """A stair door open beside a transmitter, all else sound: the case, the difference of readings, the worst other door with the reading
    believed and with it left out at the set point of what remains (None for a single transmitter), as room and force."""

    case: str
    tap: str
    apart_pa: float
    believed: Cell
    left_out: Cell | None


def worst_cells(air, name, failure, place, valid, holdable, judged):
    """The worst `Cell` of each case: of the variants that count the one with the least room.

    place, valid [variants, cases]: where the fan comes to rest, which variants count; holdable, judged [cases]. Returns a list; a case
    without a shut door that has a limit has none.
    """
    rooms, cell = _cells(air, name, failure, place, valid, holdable, judged)
    near = rooms.min(axis=0)
    at = [(number, np.unravel_index(near[:, number].argmin(), near[:, number].shape)) for number in range(len(air.cases))]
    return [cell(variant, number, door) for number, (variant, door) in at if np.isfinite(near[variant, number, door])]


def worst_ends(air, name, failure, place, valid, holdable, judged):
    """The two `Cell`s with the least room above the least and below the most, of all variants that count in the cases judged; and the least
    room of any door in the cases that a speed can hold. As `worst_cells`."""
    rooms, cell = _cells(air, name, failure, place, valid, holdable, judged)
    at = [np.unravel_index(one.argmin(), one.shape) for one in np.where(judged[:, None], rooms, np.inf)]
    return tuple(cell(*one) for one in at), float(rooms[:, :, holdable].min(initial=np.inf))


def _cells(air, name, failure, place, valid, holdable, judged):
    """(room above the least and below the most [2, variants, cases, doors], infinite where a variant does not count; the `Cell` of one)."""
    place = np.broadcast_to(place, valid.shape)
    rooms = np.where(valid[..., None], air.rooms(place), np.inf)
    dp, speeds = air.at(air.doors_pa, place), air.speed_at(place)

    def cell(variant, number, door):
        at, column = (variant, number, door), air.doors.columns[door]
        flags, leaf = (bool(holdable[number]), bool(judged[number])), air.site.doors[column.window.door]
        figures = (float(dp[at]), *map(float, rooms[(slice(None), *at)]), float(speeds[variant, number]))
        return Cell(name, failure, air.cases[number].name, *flags, column, leaf, *figures)

    return rooms, cell


def doors_beside(answers, lost, way):
    """`Beside` of every case of some `Answers` with a door open next to a transmitter; lost: `Failure`s that a drive knows; way: of falling
    back on what remains."""
    air, taps = answers.air, answers.air.site.transmitters
    every, ones = np.ones(len(air.cases), bool), np.ones((1, len(air.cases)), bool)

    def worst(*what):
        return {cell.case: cell for cell in worst_cells(air, *what, every, every)}

    believed = worst(NOTHING, "none", answers.sound.place[None], ones)
    left = {failure.tap: worst(way, failure.text, *answers.place(way, failure)) for failure in lost}
    found = []
    for case, readings in zip(air.cases, air.at(air.shown_pa, answers.sound.place)[:, : len(taps)], strict=True):
        tap = next(place for place, one in enumerate(taps) if one.level == case.open_doors[0])
        if case.name in believed:
            cell = left[tap][case.name] if tap in left else None
            found.append(Beside(case.name, taps[tap].name, float(np.ptp(readings)), believed[case.name], cell))
    return tuple(found)


def ends_left(air, places, chosen, cases, holdable, tolerance_pa):
    """The two ends of what one speed leaves, as `Cell`s, where none suits every shut door of some cases.

    air: `FailureAir`; places [speeds tried, cases]; chosen: number of the fallback speed among them; cases, holdable [cases]: the cases
    asked about, and whether any speed holds each. First the door with most too little at the highest speed that gives none too much; then
    the one with most too much at the fallback speed, or, where that gives none too much, at the lowest speed that gives none too little.
    An end without such a speed is left out.
    """
    little, much = (0, 1) if air.effect > 0 else (1, 0)
    rooms = air.rooms(places)[:, :, cases].min(axis=(2, 3))
    safe, enough = (np.flatnonzero(rooms[end] >= -tolerance_pa) for end in (much, little))
    most = [chosen] if rooms[much, chosen] < -tolerance_pa else enough[:1]

    def worst(number, end):
        return worst_ends(air, SPEED, "", places[number : number + 1], cases[None], holdable, cases)[0][end]

    return (*(worst(one, little) for one in safe[-1:]), *(worst(one, much) for one in most))


SPEEDS = 49  # solved
TINY_PA = 1e-9  # for a limit of zero: any harm is then past every share of it


class FailureAir:
    """Steady air of a tower over speed.

    window: narrowed to `allowed_pressures`, without the closing of exits: see `out_most`. cases: of `Case`; limits_hz: lowest and highest
    speed, of smoke control where the loop serves it; speeds_hz [speeds]; readings_pa [cases, speeds, taps], of the transmitters and then
    of any further ones; doors_pa [cases, speeds, doors]; standing_open [cases, doors].
    leak_factor: by which the walls leak more than the site file says. Raises ValueError where no door has a limit, or a case has no answer
    at some speed.
    """

    def __init__(self, tower, window, cases, leak_factor=1.0, further=()):
        site = tower.site
        self.leak_factor = leak_factor
        self.tower, self.window, self.site, self.cases, self.effect = tower, window, site, tuple(cases), int(tower.effect)
        self.taps = (*site.transmitters, *further)
        self.doors = DoorColumns(tower, allowed_pressures(site, window, closing=False))
        self.limits_hz = site.fan.speed_limits_hz(site.control.fire_mode)
        self.speeds_hz = squared_steps(*self.limits_hz, SPEEDS)
        conditions = conditions_of(site, self.cases)
        conditions = replace(conditions, leak_factor=conditions.leak_factor * leak_factor)
        self.standing_open = self.doors.standing_open(conditions)

        def quantities(air, _):
            return tower.readings(air, self.taps), self.doors.across(air)

        self.readings_pa, self.doors_pa = over_speeds(tower.solve, quantities, conditions, self.speeds_hz, "site")

    @cached_property
    def shown_pa(self):
        """What sound transmitters show [cases, speeds, taps]: the readings, held at the ends of each range."""
        ends = np.array([(tap.range_low_pa, tap.range_high_pa) for tap in self.taps]).T
        return np.clip(self.readings_pa, *ends)

    @cached_property
    def margin_pa(self):
        """Room of the worst shut door [cases, speeds], below zero where one is out."""
        return np.minimum(*self.doors.rooms(self.doors_pa, self.standing_open[:, None])).min(axis=-1)

    @cached_property
    def before(self):
        """For each case those of its own weather, from any of which it may come while a fan runs, as doors and the stair's temperature
        change: (numbers [variants, cases], whether there is one [variants, cases])."""
        weathers = np.array([case.weather for case in self.cases])
        there = [np.flatnonzero(weathers == weather) for weather in weathers]
        numbers = np.zeros((max(map(len, there)), len(there)), int)
        for case, peers in enumerate(there):
            numbers[: len(peers), case] = peers
        return numbers, np.arange(len(numbers))[:, None] < [len(peers) for peers in there]

    def settle(self, believed_pa, rule, set_point_pa, weights=None):
        """The first speed from the lowest at which the combined reading meets the set point.

        believed_pa [.., cases, speeds, taps], NaN for what is left out; set_point_pa broadcasts with [.., cases]. Returns `Rest`; where no
        reading is left the fan is taken to go to full speed, as a loop does that sees no pressure.
        """
        return meets(self.effect * self.combined(believed_pa, rule, weights), self.effect * np.asarray(set_point_pa, float))

    @staticmethod
    def combined(readings_pa, rule, weights=None):
        """Readings [.., taps] combined; NaN where none is left."""
        return combine(readings_pa, rule, weights=weights if rule == "weighted" else None)

    def place_of(self, speed_hz):
        """Where speeds lie between the solved ones."""
        return place_of(self.speeds_hz, speed_hz)

    def speed_at(self, place):
        """Speed [Hz] of a place."""
        return speed_at(self.speeds_hz, place)

    def at(self, values, place):
        """Values [cases, speeds, n] at places [.., cases]."""
        return at(values, place, np.arange(len(self.cases)))

    def rooms(self, place):
        """Room above the least and below the most of every shut door at places [.., cases]: [2, .., cases, doors]."""
        return np.stack(self.doors.rooms(self.at(self.doors_pa, place), self.standing_open))

    def out_most(self, place):
        """By how much the worst shut door is out at places [.., cases]: [Pa]; and of the door that is out by the largest share of its limit
        that share, its number, by how much, the limit [Pa] and whether that is an upper one; closing again counted with the rest.
        Below zero: inside."""
        across, standing, doors = self.at(self.doors_pa, place), self.standing_open, self.doors
        least = np.where(standing.any(axis=-1, keepdims=True), doors.open_least_pa, doors.least_pa)
        out = -np.stack([*doors.rooms(across, standing), doors.closing(across, standing)])
        limits = np.stack([np.broadcast_to(of, across.shape) for of in (least, doors.most_pa, doors.recloses_pa)])
        known = np.isfinite(out)
        share = np.where(known, out, -np.inf) / np.where(known, np.maximum(np.abs(limits), TINY_PA), 1.0)
        end, door = share.argmax(axis=0), share.max(axis=0).argmax(axis=-1)

        def there(of):
            by_door = np.take_along_axis(of, end[None], axis=0)[0]
            return np.take_along_axis(by_door, door[..., None], axis=-1)[..., 0]

        upper = np.take_along_axis(end, door[..., None], axis=-1)[..., 0] > 0
        return out.max(axis=(0, -1)), there(share), door, there(out), there(limits), upper

    def margin_at(self, place):
        """Room of the worst shut door at places [.., cases], below zero where one is out; infinite where no shut door has a limit."""
        return self.rooms(place).min(axis=(0, -1))

    def judged(self, tolerance_pa):
        """By case: whether it counts in what is said of a way of falling back: every case that opens no door beyond those that the design
        states, held by a speed or not, and of the others those that some speed holds."""
        return self.some_speed_holds(tolerance_pa) | (asked_for(self.site, self.cases) & np.isfinite(self.margin_pa).any(axis=1))

    def some_speed_holds(self, tolerance_pa):
        """By case: whether any speed keeps every shut door inside; a case that shuts no limited door does not count."""
        most = self.margin_pa.max(axis=1)
        return np.isfinite(most) & (most >= -tolerance_pa)


def first_as_good(ways):
    """The first of some ways that no gauge tells from the one of most rank: no last digit of a solver chooses. None for no ways."""
    most = max(ways, key=lambda way: way.rank, default=None)
    return next((way for way in ways if way.as_good_as(most)), None)
