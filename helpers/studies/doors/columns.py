"""Every door with a limit as one column: the pressure across it, its window, and whether it stands open and is not judged."""

from dataclasses import dataclass

import numpy as np

from helpers.studies.doors.window import USES, DoorWindow

__all__ = ["DoorColumn", "DoorColumns", "across_by_use", "open_by_use"]


def across_by_use(air):
    """Pressure difference at which each use of doors is judged, by use [conditions, storeys]: stair over what lies behind its door, lobby
    over floor, stair over outdoor air (with the wind on the exit where its bearing is stated)."""
    lobby = np.zeros_like(air.stair_pa) if air.lobby_pa is None else air.lobby_pa - air.floor_pa
    return {"stair door": air.door_dp_pa, "lobby door": lobby, "final exit": air.exit_dp_pa}


def open_by_use(conditions):
    """Whether the doors of each use stand open, by use [conditions, storeys]."""
    shares = conditions.stair_door_open, conditions.lobby_door_open, conditions.final_exit_open
    return {use: share > 0 for use, share in zip(USES.values(), shares, strict=True)}


@dataclass(frozen=True)
class DoorColumn:
    """A door of one use on one level, as the window study describes it."""

    use: str
    level: int
    window: DoorWindow

    @property
    def text(self):
        """The door in words."""
        return f"{self.use} of level {self.level}"

    def means(self, too):
        """What a pressure too "low" or too "high" does to it."""
        return self.window.means(too)


class DoorColumns:
    """All doors of a tower that have a limit.

    columns: of `DoorColumn`; least_pa, most_pa [doors], infinite where nothing limits; open_least_pa [doors]: the least while some door
    stands open; recloses_pa [doors]: up to where a latched leaf
    that opens with the pressure would close again once opened, infinite for others: no limit of a shut door, see closing.
    """

    def __init__(self, tower, window):
        self.columns = []
        for use in USES.values():
            for door in window.doors:
                if door.use == use and (door.least_pa, door.most_pa) != (None, None):
                    self.columns += [DoorColumn(use, level, door) for level in door.levels]
        if not self.columns:
            raise ValueError("window must limit at least one door, got none with a least pressure or a force limit")
        self.columns.sort(key=lambda column: (list(USES.values()).index(column.use), column.level))
        windows = [column.window for column in self.columns]
        self.least_pa = np.array([-np.inf if door.least_pa is None else door.least_pa for door in windows])
        self.open_least_pa = np.array([-np.inf if door.open_least_pa is None else door.open_least_pa for door in windows])
        self.most_pa = np.array([np.inf if door.most_pa is None else door.most_pa for door in windows])
        self.recloses_pa = np.array([np.inf if door.recloses_pa is None else door.recloses_pa for door in windows])
        self._storeys = {use: [tower.storey(c.level) for c in self.columns if c.use == use] for use in USES.values()}

    def across(self, air):
        """Pressure difference at which each door is judged [conditions, doors]; see across_by_use."""
        return self._by_door(across_by_use(air))

    def standing_open(self, conditions):
        """Whether each door stands open [conditions, doors]."""
        return self._by_door(open_by_use(conditions))

    def _by_door(self, by_use):
        return np.concatenate([by_use[use][:, storeys] for use, storeys in self._storeys.items()], axis=1)

    def closing(self, across_pa, standing_open):
        """Room [Pa] below the pressure up to which each shut door would close again once opened, below zero where it would stay ajar;
        infinite where that is no question. Arguments as rooms."""
        return np.where(standing_open, np.inf, self.recloses_pa - across_pa)

    def rooms(self, across_pa, standing_open):
        """Room [Pa] above the least and below the most of each shut door, below zero when out; infinite for an open one.

        Arguments broadcast with doors along the last axis. Returns (above the least, below the most).
        """
        least = np.where(np.any(standing_open, axis=-1, keepdims=True), self.open_least_pa, self.least_pa)
        return np.where(standing_open, np.inf, across_pa - least), np.where(standing_open, np.inf, self.most_pa - across_pa)
