"""The cells of the study: the worst shut door after one failure in one case, and a way of falling back as all of its cells."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from helpers import units
from helpers.studies.figures import fine
from helpers.studies.rules import TOLERANCE_PA
from helpers.studies.status import SEVERITIES, worst_of
from helpers.studies.window import handle_force_n

__all__ = ["Beside", "Cell", "Way", "worst_cells"]


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
    column: object
    leaf: object
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
    of `failures.blind_wires`.
    """

    name: str
    every: dict
    ends: tuple
    box_ends_pa: tuple
    held_room_pa: float
    damper_rooms_pa: dict = field(default_factory=dict)
    exits: object = None
    blind: tuple = ()

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
        """Key of the status, the one for every page: whether it can begin and the doors first; then whether it rests on a relief damper
        that works, and whether the final exits close again."""
        own = "good" if self.good and not self.blind else "wrong"
        return worst_of((own, "good" if self.damper_out is None else "attention", "good" if self.exits is None else self.exits.state))

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
