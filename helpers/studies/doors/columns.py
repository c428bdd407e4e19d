"""Every door with a limit as one column: the pressure across it, its window, and whether it stands open and is not judged; and what decides
a case of doors in one sentence of a panel."""

from dataclasses import dataclass

import numpy as np

from helpers.studies.beside_limit import limit_tile
from helpers.studies.doors.kinds import DoorWindow
from helpers.studies.doors.window import USES, handle_force_n
from helpers.studies.report import beside, fine, passed
from helpers.studies.status import SPARE_PA, status_of, word_of
from helpers.units.said import with_unit


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
        """The door in words; of several kinds on its storey with the one that is judged."""
        return f"{self.use} {self.level}{f' ({self.window.door})' if self.window.beside else ''}"

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
            raise ValueError("window must limit at least one door, got none with a minimum pressure or a force limit")
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


def doors_head(result, place, set_point_pa, doors, when=""):
    """What decides a case of a `RuleResult` in one sentence of a panel: the worst door, a set point that is not held, or the room.

    doors: of the site file, by name: where a hand pulls against the pressure the force at the handle counts; when: a clause.
    """
    if out := result.out_in(result.cases[place]):
        worst, where = out[0], f"at {out[0].use} {out[0].level}{when}"
        if forces := pulled_n(worst, doors):
            return passed(*forces, "force", where)
        return passed(worst.dp_pa, worst.limit_pa, "pressure", where)
    return rest_head(result.state[place], result.reading_pa[place], set_point_pa, result.margin_pa[place], when)


def pulled_n(out, doors):
    """(force at the handle, its limit [N]) of a `DoorOut` that a hand has to pull against the pressure; () for another. doors: by name."""
    if out.too != "high" or out.pushed or not doors[out.door].worked_by_hand:
        return ()
    return tuple(handle_force_n(doors[out.door], dp) for dp in (out.dp_pa, out.limit_pa))


def rest_head(state, reading_pa, set_point_pa, room_pa, when=""):
    """Where no door is out: that the set point is not held, or the room at the doors, in one sentence of a panel."""
    if state == "not found":
        return "No steady state found: do not rely on this case"
    if state != "held":
        return f"{with_unit(set_point_pa, 'pressure')} set, {with_unit(reading_pa, 'pressure')} read: fan {state}"
    if not np.isfinite(room_pa):
        return "No shut door has a limit to be judged by"
    return f"Every door inside, {fine(room_pa)} to spare{when}"


def doors_out(out):
    """How many doors are out and which, by use and end, beside a headline that names the worst; "" for one alone.

    out: (use, level, "low" or "high") of each door.

    >>> doors_out([("stair door", 0, "low"), ("stair door", 13, "high"), ("final exit", 0, "high"), ("stair door", 1, "low")])
    '4 out: stair 0, 1 too low; stair 13 too high; final exit 0 too high'
    """
    kinds = {}
    for use, level, too in out:
        kinds.setdefault((use.removesuffix(" door"), too), []).append(level)
    if len(out) < 2:
        return ""
    return f"{len(out)} out: " + "; ".join(f"{use} {levels_brief(levels)} too {too}" for (use, too), levels in kinds.items())


def levels_brief(levels):
    """Levels in few words: of three and more that follow one another the first and the last.

    >>> levels_brief([0, 1]), levels_brief([6, 4, 5]), levels_brief([0, 2, 13])
    ('0, 1', '4-6', '0, 2, 13')
    """
    levels = sorted(levels)
    run = len(levels) > 2 and levels[-1] - levels[0] == len(levels) - 1
    return f"{levels[0]}-{levels[-1]}" if run else ", ".join(map(str, levels))


LIMITS = {"most": "max.", "least": "min."}  # as a tile has it


def judged_name(name, room_pa):
    """Name of a tile with the word of its status, where that is no PASS. room_pa: to its limit, below zero past it."""
    state = status_of(room_pa, 0.0, SPARE_PA, "least")
    return name if state == "good" else f"{name}, {word_of(state)}"


def end_tiles(levels, dp_pa, window, reached, deciding=None, judged=False, pulled=None):
    """(what, value, limit) of the stair doors with most and minimum pressure, for a panel; nothing where none is shut.

    dp_pa [storeys], NaN where a door stands open; window: (least, most) [storeys], not finite where nothing limits; reached: a third tile;
    deciding: (use, level, pressure, least or most pressure [Pa], "least" or "most") of a door that decides and is no stair door: it stands
    first, in the place of the end with more room; judged: whether each says its status, see `judged_name`; pulled: (level, (force, its
    limit) [N]) of a stair door that a headline tells the force of: its tile has it beside the pressure.
    """
    ends = []
    if np.isfinite(dp_pa).any():
        for find, limit, word, up in ((np.nanargmax, window[1], "max.", 1), (np.nanargmin, window[0], "min.", -1)):
            place = int(find(dp_pa))
            room = up * (limit[place] - dp_pa[place]) if np.isfinite(limit[place]) else np.inf
            name = f"Stair door {levels[place]}"
            if pulled is not None and pulled[0] == levels[place]:
                name += f", {beside(*pulled[1], 'force', 'most')}"
            name = judged_name(name, room) if judged else name
            ends.append((room, limit_tile(name, dp_pa[place], limit[place], "pressure", word)))
    if deciding is not None:
        use, level, dp, limit, word = deciding
        room, name = (limit - dp if word == "most" else dp - limit), f"{use.capitalize()} {level}"
        name = judged_name(name, room) if judged else name
        ends = [(0.0, limit_tile(name, dp, limit, "pressure", LIMITS[word])), *sorted(ends, key=lambda end: end[0])[:1]]
    return *(tile for _, tile in ends), reached
