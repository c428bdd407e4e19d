"""The cells of the study: the worst shut door after one failure in one case, and a way of falling back as all of its cells.

One speed for all cases: what it leaves at either end where none suits every shut door.

The air of a stair over fan speed in every case, solved once: what any reading, right or wrong, makes of the doors is looked up there.

Between the solved speeds all runs in straight lines over the square of the speed: within 0.3 Pa of the exactly held doors on the demo
stairs (a test compares).
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from helpers import units
from helpers.formulas.combining import combine
from helpers.model.site.schema import Door
from helpers.studies.cases import conditions_of, design_states_doors, usual_cases, with_required
from helpers.studies.doors.columns import DoorColumn, DoorColumns
from helpers.studies.doors.exits import ExitAjar
from helpers.studies.doors.window import handle_force_n
from helpers.studies.readings.failures import SPEED
from helpers.studies.readings.rules import TOLERANCE_PA, allowed_pressures
from helpers.studies.report import fine
from helpers.studies.status import SEVERITIES, worst_of

__all__ = [
    "FULL", "HELD", "LOWEST", "Beside", "Cell", "FailureAir", "Settled", "Way", "asked_for", "cases_beside", "ends_left", "failure_cases",
    "worst_cells",
]  # fmt: skip


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

    def text(self, system="Pa"):
        """Door, pressure, force, and by how much it is in or out."""
        force = "" if self.force_n is None else f", {units.show(self.force_n, 'force', system)} at the handle"
        end = "low" if self.above_pa < self.below_pa else "high"
        spare = f"{fine(self.room_pa, system)} to spare" if self.good else f"{fine(-self.room_pa, system)} too {end}"
        return f"{self.column.text} at {fine(self.dp_pa, system)}{force}, {spare}"


@dataclass(frozen=True)
class Way:
    """One way of falling back.

    every: its `Cell`s by (failure, case), those of cases that are not judged too; ends: the `Cell`s with the least room above the least and
    below the most of the cases judged, those that no speed holds too; box_ends_pa: the same two rooms with walls that leak more or less and
    readings off by their accuracy; held_room_pa: room of the worst door then in the cases that a speed can hold; damper_rooms_pa: {state
    of the relief damper: room of the worst door}, empty without one; exits: `ExitAjar`, None where no final exit is pushed open; blind:
    of `failures.blind_wires`; accuracy_pa: by which a reading may be off.
    """

    name: str
    every: dict[tuple[str, str], Cell]
    ends: tuple[Cell, Cell]
    box_ends_pa: tuple[float, float]
    held_room_pa: float
    damper_rooms_pa: dict[str, float] = field(default_factory=dict)
    exits: ExitAjar | None = None
    blind: tuple[str, ...] = ()
    accuracy_pa: float = 0.0

    @cached_property
    def cells(self):
        """Those of the cases judged."""
        return {key: cell for key, cell in self.every.items() if cell.judged}

    @cached_property
    def worst(self):
        """Its worst `Cell` of the cases judged."""
        return min(self.cells.values(), key=lambda cell: cell.room_pa)

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
    def state(self):
        """Key of the status that says whether it may be entered: whether it can begin and the doors first; then whether it rests on a
        relief damper that works, and whether the final exits close again."""
        own = "good" if self.good and not self.blind else "wrong"
        return worst_of((own, "good" if self.damper_out is None else "attention", "good" if self.exits is None else self.exits.state))

    @property
    def told_state(self):
        """The key for every page: as `state`, and past a limit where a door is further out than a reading may be off with a damper stuck.
        Such a way is entered all the same, as without it there is none: what fails is that the doors rest on one damper."""
        far = self.damper_out is not None and self.damper_out[1] < -self.accuracy_pa
        return worst_of((self.state, "wrong" if far else "good"))

    def cell_state(self, cell):
        """Key of the status of one of its cells: no row is passed while a dead wire cannot be seen."""
        return "good" if cell.good and not self.blind else "wrong"

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
        return self.good, can, SEVERITIES.index(self.state), rooms[0], -self.out, *rooms[1:]

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


def worst_cells(air, name, failure, place, valid, holdable, judged, end=None):
    """The worst `Cell` of each case: of the variants that count the one with the least room.

    place, valid [variants, cases]: where the fan comes to rest, which variants count; holdable, judged [cases]; end: 0 for the room above
    the least alone, 1 for that below the most, None for the nearer of both. Returns a list; a case without a shut
    door that has a limit has none.
    """
    place = np.broadcast_to(place, valid.shape)
    above, below = air.rooms(place)
    rooms = np.where(valid[..., None], np.minimum(above, below) if end is None else (above, below)[end], np.inf)
    dp, speeds, cells = air.at(air.doors_pa, place), air.speed_at(place), []
    for number, case in enumerate(air.cases):
        variant, door = np.unravel_index(rooms[:, number].argmin(), rooms[:, number].shape)
        at, column = (variant, number, door), air.doors.columns[door]
        if np.isfinite(rooms[at]):
            figures = (float(dp[at]), float(above[at]), float(below[at]), float(speeds[variant, number]))
            flags, leaf = (bool(holdable[number]), bool(judged[number])), air.site.doors[column.window.door]
            cells.append(Cell(name, failure, case.name, *flags, column, leaf, *figures))
    return cells


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
        cells = worst_cells(air, SPEED, "", places[number : number + 1], cases[None], holdable, cases, end)
        return min(cells, key=lambda cell: cell.rooms_pa[end])

    return (*(worst(one, little) for one in safe[-1:]), *(worst(one, much) for one in most))


SPEEDS = 49  # solved, equal steps of the square of the speed
HELD, LOWEST, FULL = range(3)  # where a loop comes to rest


def failure_cases(site):
    """Every weather of the site with its doors shut, two stair doors open, these and the final exit, and with every set of open doors that
    its design has to hold, of `cases.with_required`: a tuple of `Case`, each once."""
    return with_required(site, dict.fromkeys(case for weather in site.weather for case in usual_cases(site, weather)))[0]


def asked_for(site, cases):
    """By case: whether it opens no door beyond those that the site's design states; all of them where it states none."""
    if not design_states_doors(site):
        return np.ones(len(cases), bool)
    doors, exits = set(site.design.open_doors), set(site.design.open_exits)
    return np.array([doors.issuperset(case.open_doors) and exits.issuperset(case.open_exits) for case in cases])


def cases_beside(site):
    """For every case with all doors shut and every transmitter: that case with the stair door beside the transmitter open."""
    there = {storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count}
    levels = dict.fromkeys(tap.level for tap in site.transmitters if tap.level in there)
    return tuple(
        replace(case, name=case.name.replace("doors shut", f"stair door {level} open"), open_doors=(level,))
        for case in failure_cases(site)
        if case.shut
        for level in levels
    )


@dataclass(frozen=True)
class Settled:
    """Where loops come to rest: `place` [.., cases] between the solved speeds, `state` [.., cases]: HELD, LOWEST or FULL."""

    place: np.ndarray
    state: np.ndarray


class FailureAir:
    """Steady air of a tower over speed.

    window: narrowed to `allowed_pressures`, without the closing of exits: see `allowed_at`. cases: of `Case`; limits_hz: lowest and highest
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
        self.speeds_hz = np.sqrt(np.linspace(*np.square(self.limits_hz), SPEEDS))
        conditions, count = conditions_of(site, self.cases), len(self.cases)
        conditions = replace(conditions, leak_factor=conditions.leak_factor * leak_factor)
        self.standing_open = self.doors.standing_open(conditions)
        air = tower.solve(conditions.rows(np.repeat(np.arange(count), SPEEDS)), np.tile(self.speeds_hz, count))
        if not air.converged.all():
            raise ValueError(f"site must have an answer at every speed; {np.count_nonzero(~air.converged)} of {count * SPEEDS} have none")
        self.readings_pa = tower.readings(air, self.taps).reshape(count, SPEEDS, -1)
        self.doors_pa = self.doors.across(air).reshape(count, SPEEDS, -1)

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

        believed_pa [.., cases, speeds, taps], NaN for what is left out; set_point_pa broadcasts with [.., cases]. Returns `Settled`; where
        no reading is left the fan is taken to go to full speed, as a loop does that sees no pressure.
        """
        combined = self.combined(believed_pa, rule, weights)
        over = self.effect * (combined - np.asarray(set_point_pa, float)[..., None])
        enough = over >= 0
        first, reached = np.maximum(enough.argmax(axis=-1), 1), enough.any(axis=-1)
        low, high = (np.take_along_axis(over, place[..., None], -1)[..., 0] for place in (first - 1, first))
        part = np.clip(-low / np.where(high == low, 1.0, high - low), 0.0, 1.0)
        idle = enough[..., 0]
        place = np.where(idle, 0.0, np.where(reached, first - 1 + part, SPEEDS - 1.0))
        state = np.where(idle & (over[..., 0] > 0), LOWEST, np.where(reached, HELD, FULL))
        return Settled(place, state)

    @staticmethod
    def combined(readings_pa, rule, weights=None):
        """Readings [.., taps] combined; NaN where none is left."""
        return combine(readings_pa, rule, weights=weights if rule == "weighted" else None)

    def place_of(self, speed_hz):
        """Where a speed lies between the solved ones."""
        return float(np.interp(speed_hz**2, self.speeds_hz**2, np.arange(SPEEDS)))

    def speed_at(self, place):
        """Speed [Hz] of a place."""
        return np.sqrt(np.interp(place, np.arange(SPEEDS), self.speeds_hz**2))

    def at(self, values, place):
        """Values [cases, speeds, n] at places [.., cases]."""
        place = np.asarray(place)
        low = np.minimum(place.astype(int), SPEEDS - 2)
        part, rows = (place - low)[..., None], np.arange(len(self.cases))
        return (1 - part) * values[rows, low] + part * values[rows, low + 1]

    def rooms(self, place):
        """Room above the least and below the most of every shut door at places [.., cases]: [2, .., cases, doors]."""
        return np.stack(self.doors.rooms(self.at(self.doors_pa, place), self.standing_open))

    def allowed_at(self, place):
        """Room of every shut door at places [.., cases], closing again counted with the rest: [.., cases, doors]."""
        across = self.at(self.doors_pa, place)
        return np.minimum(self.doors.closing(across, self.standing_open), np.minimum(*self.doors.rooms(across, self.standing_open)))

    def margin_at(self, place):
        """Room of the worst shut door at places [.., cases], below zero where one is out; infinite where no shut door has a limit."""
        return self.rooms(place).min(axis=(0, -1))

    def some_speed_holds(self, tolerance_pa):
        """By case: whether any speed keeps every shut door inside; a case that shuts no limited door does not count."""
        most = self.margin_pa.max(axis=1)
        return np.isfinite(most) & (most >= -tolerance_pa)
