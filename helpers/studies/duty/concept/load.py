"""What fails first as a concept is asked for more: colder and hotter weather, more doors open, more leaks; and with one part failed.

Every load is raised by itself from the design's coldest (or hottest) weather with all doors shut, in the stair's first minute and after an
hour. The air after an hour keeps, storey by storey, its share of the way from the floors to the outdoor air.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.air.conditions import Conditions, stair_share
from helpers.model.air.tower import Tower
from helpers.studies.cases import AFTER_AN_HOUR, FIRST_MINUTE, Case, design_states_doors, two_neighbours
from helpers.studies.duty.concept.airs import air_of, rooms
from helpers.studies.duty.relief_damper import stuck_blades
from helpers.studies.report import fine
from helpers.studies.status import inside
from helpers.units.said import with_unit

COLDER_K = np.arange(0.0, 31.0, 2.0)  # below the coldest weather of the file
HOTTER_K = np.arange(0.0, 17.0, 2.0)  # above the hottest
LEAKS = np.arange(1.0, 3.01, 0.25)  # walls and gaps, times the file's
MOST_OPEN = 8  # stair doors opened one after the other
LEAST_K = 1.0  # between floors and outdoors, below which no share of the way is known


@dataclass(frozen=True)
class RisingLoad:
    """One load raised step by step. name: in words; steps: their figures in words, the first as designed; room_pa [steps]: of the
    worst shut door, the worse of both airs, minus infinity without an answer; worst [steps]: that door, and in which air."""

    name: str
    steps: tuple
    room_pa: np.ndarray
    worst: tuple

    @property
    def first(self):
        """Number of the first step at which a door is out; None where none is."""
        out = np.flatnonzero(~inside(self.room_pa))
        return int(out[0]) if out.size else None

    def text(self):
        """Where it fails, in words."""
        if self.first is None:
            return f"{self.name}: no shut door out up to {self.steps[-1]}, the last tried"
        room = self.room_pa[self.first]
        by = "no answer" if np.isneginf(room) else f"{fine(-room)} out"
        when = f"out from {self.steps[self.first]}" if self.first else f"out at the first step, {self.steps[0]}"
        return f"{self.name}: {when}: {self.worst[self.first]}, {by}"


def loads_of(concept):
    """The loads of a concept: `Conditions` of all of them, a row each, and how they are read: (name, steps, slice of rows) for each, the
    first half of its rows in the first minute, the second after an hour."""
    site = concept.site
    coldest, hottest = (pick(site.weather, key=lambda name: site.weather[name].outdoor_c) for pick in (min, max))
    cold, hot = (air_of(concept, _shut(weather)) for weather in (coldest, hottest))
    order = _doors_opened(site)
    levels = [storey.level for storey in site.storeys]
    flags = np.array([np.isin(levels, order[:count]) for count in range(1, len(order) + 1)], float)
    colder, hotter = cold.outdoor_c[0] - COLDER_K, hot.outdoor_c[0] + HOTTER_K
    parts = [
        ("colder", [with_unit(outdoor, "temperature") for outdoor in colder], _outdoors(site, cold, colder)),
        ("hotter", [with_unit(outdoor, "temperature") for outdoor in hotter], _outdoors(site, hot, hotter)),
        ("more leaks", [f"{factor:.2f} times the file's" for factor in LEAKS], _leaks(cold)),
    ]
    if order:
        words = [f"{count} stair door{'s' * (count > 1)} open" for count in range(1, len(order) + 1)]
        rows = _repeated(cold, len(order))
        opened = np.tile(flags, (2, 1))
        parts.append(("more doors open", words, replace(rows, stair_door_open=opened, lobby_door_open=opened)))
    ends = np.cumsum([0, *(len(rows) for *_, rows in parts)])
    read = [(name, tuple(steps), slice(ends[i], ends[i + 1])) for i, (name, steps, _) in enumerate(parts)]
    return Conditions.joined(rows for *_, rows in parts), read


def loads_read(read, room_pa, doors, converged):
    """`RisingLoad`s from the room [rows, doors] of every shut door and the doors' names."""
    room, found = np.where(converged[:, None], room_pa, -np.inf), []
    for name, steps, rows in read:
        both = room[rows].reshape(2, len(steps), -1)
        least = both.min(axis=2)
        air = least.argmin(axis=0)
        names = [doors[int(both[air[step], step].argmin())] for step in range(len(steps))]
        told = tuple(f"{door}, {(FIRST_MINUTE, AFTER_AN_HOUR)[air[step]]}" for step, door in enumerate(names))
        found.append(RisingLoad(name, steps, least.min(axis=0), told))
    return tuple(found)


def part_failed(concept, tower, window, conditions, unheated):
    """(what failed, room [Pa] of the worst shut door or exit with all doors shut) of the worst part that a concept rests on, one at a time:
    each state of a stuck relief damper, the heater off, a supply outlet shut, a lobby door wedged open; None where it has none.

    conditions: of the concept with all doors shut; unheated: the same without heat. Limits: the stair's air as before the failure, but for
    the heater's; of lobby doors the lowest, the middle and the highest are tried.
    """
    tried = [(name, stuck, conditions) for name, stuck in stuck_blades(tower)]
    site = concept.site
    if concept.heated:
        tried.append(("the heater off", tower, unheated))
    if concept.key == "points":
        for number, gone in enumerate(site.supplies):
            left = [supply for place, supply in enumerate(site.supplies) if place != number]
            whole = sum(supply.share for supply in left)
            changed = site.with_changes(supplies=[{"level": supply.level, "share": supply.share / whole} for supply in left])
            tried.append((f"the outlet on storey {gone.level} shut", Tower(changed), conditions))
    if concept.key == "lobbies":
        tried += [(f"lobby door {level} wedged open", tower, _wedged(tower, conditions, level)) for level in _three(tower)]
    found = [(name, _worst(one, window, rows)) for name, one, rows in tried]
    return min(found, key=lambda one: one[1], default=None)


def _worst(tower, window, rows):
    return float(np.min(rooms(tower, window, tower.hold(rows).air, rows)))


def _wedged(tower, rows, level):
    opened = rows.lobby_door_open.copy()
    opened[:, tower.storey(level)] = 1.0
    return replace(rows, lobby_door_open=opened)


def _three(tower):
    """Lowest, middle and highest level with a lobby."""
    there = [level for level, lobby in zip(tower.levels, tower.lobby, strict=True) if lobby]
    return tuple(dict.fromkeys((there[0], there[len(there) // 2], there[-1])))


def _shut(weather):
    return tuple(Case(f"{weather}, doors shut, {air}", weather, stair=air) for air in (FIRST_MINUTE, AFTER_AN_HOUR))


def _repeated(two, count):
    """First minute `count` times, then after an hour as often."""
    return two.rows(np.repeat([0, 1], count))


def _outdoors(site, two, outdoor_c):
    """Both airs at each of some outdoor temperatures; after an hour every storey keeps its share of the way to them."""
    rows, floor = _repeated(two, len(outdoor_c)), float(two.floor_c[0])
    away = float(two.outdoor_c[1]) - floor
    share = (two.stair_c[1] - floor) / away if abs(away) > LEAST_K else np.full(two.stair_c.shape[1], stair_share(site))
    hour = floor + share * (outdoor_c - floor)[:, None]
    return replace(rows, outdoor_c=np.tile(outdoor_c, 2), stair_c=np.concatenate([rows.stair_c[: len(outdoor_c)], hour]))


def _leaks(two):
    rows = _repeated(two, len(LEAKS))
    more = np.tile(LEAKS, 2)[:, None]
    return replace(rows, leak_factor=rows.leak_factor * more, gap_factor=rows.gap_factor * more)


def _doors_opened(site):
    """Levels of stair doors in the order in which they are opened: those of the design, then from these on up and down."""
    there = [storey.level for storey in site.storeys if storey.stair_door and storey.stair_door_count]
    first = site.design.open_doors if design_states_doors(site) and site.design.open_doors else two_neighbours(site)
    rest = sorted((level for level in there if level not in first), key=lambda level: (abs(level - first[0]), level))
    return [*first, *rest][:MOST_OPEN]
