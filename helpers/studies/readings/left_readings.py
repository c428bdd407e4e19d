"""What is left of the readings when some are lost: its best set point; and with two of three lost, what the drive does.

Of two lost the fallback speed goes first where it holds: one reading that is left has no other to be held against, so nobody could know
that it is wrong too. Where the speed does not hold and what is left does, that; where neither does, the less bad, and it fails.
Limits: readings known to be lost, as a dead wire on a live zero is. Two that are wrong alike outvote the third, and no drive can know it.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np

from helpers.studies.readings.failures import OWN
from helpers.studies.readings.rules import TOLERANCE_PA
from helpers.studies.readings.ways_compared import Cell, Way, worst_ends
from helpers.studies.report import listed
from helpers.units.said import with_unit

SET_POINT_STEP_PA = 1.0
MOST_SET_POINTS = 400  # tried: beyond it in longer steps, as a range of thousands of pascals would take a minute


def best_set_point(study, lost=(), rule=None):
    """Of set points [Pa] in whole steps the one with the most room, as `FallbackStudy.speed_hz`, with readings off by their accuracy as
    well; lost: numbers of readings left out; rule: by default the site's."""
    if not study.holdable.any():
        return float(study.site.control.set_point_pa)
    left = [tap for number, tap in enumerate(study.site.transmitters) if number not in lost]
    low, high = max(tap.range_low_pa for tap in left), min(tap.range_high_pa for tap in left)
    if high < low + SET_POINT_STEP_PA:  # ranges that have nothing in common, as somebody may have entered them: any of theirs
        low, high = min(tap.range_low_pa for tap in left), max(tap.range_high_pa for tap in left)
    step = max(SET_POINT_STEP_PA, np.ceil((high - low) / MOST_SET_POINTS))
    tried = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step

    def room(air, set_points_pa):
        """Of the worst door of the cases that a speed can hold [set points]."""
        return air.margin_at(_left_at(study, air, lost, set_points_pa, rule))[:, study.holdable].min(axis=1)

    own = room(study.air, tried)
    box = [room(air, tried + off) for air, offs in study.walls_tried.values() for off in offs]
    holds = own >= -study.tolerance_pa  # with the leaks of the file at least
    return float(tried[np.where(holds, np.min([own, *box], axis=0), -np.inf).argmax() if holds.any() else own.argmax()])


def _left_at(study, air, lost, set_points_pa, rule=None):
    """Places [set points, cases] at which what is left of the readings comes to rest in some air."""
    control = study.site.control
    readings = air.shown_pa if rule == "middle" else air.shown_pa[..., : len(study.site.transmitters)].copy()
    if lost:
        readings[..., list(lost)] = np.nan
    combined = air.combined(readings, rule or control.rule, control.weights)
    targets = np.atleast_1d(set_points_pa)[:, None] * np.ones(len(air.cases))
    return air.settle(combined[..., None], "average", targets).place


@dataclass(frozen=True)
class TwoLost:
    """One pair of readings lost.

    lost, left: names; set_point_pa: with the most room for what is left; ends: {walls tried, readings off by their accuracy: the two
    `Cell`s with the least room above the least and below the most}; at_speed: `Way` of the fallback speed.
    """

    lost: tuple[str, str]
    left: tuple[str, ...]
    set_point_pa: float
    ends: dict[str, tuple[Cell, Cell]]
    at_speed: Way

    @cached_property
    def worst(self):
        """The worst `Cell` of what is left, over the leaks and readings tried."""
        return min((cell for cells in self.ends.values() for cell in cells), key=lambda cell: cell.room_pa)

    @property
    def worst_at_speed(self):
        """The same at the fallback speed."""
        return min((cell for cells in self.at_speed.walls.values() for cell in cells), key=lambda cell: cell.room_pa)

    @property
    def measures(self):
        """Whether the drive goes on by what is left, and not at the fallback speed."""
        rooms = self.worst.room_pa, self.worst_at_speed.room_pa
        return rooms[1] < -TOLERANCE_PA and rooms[0] > rooms[1]

    @property
    def chosen(self):
        """The worst `Cell` of what the drive does."""
        return self.worst if self.measures else self.worst_at_speed

    @property
    def state(self):
        """Key of its status: "wrong" where a door is out with what the drive does, "attention" where one reading alone holds the stair,
        else that of the speed."""
        if not self.chosen.good:
            return "wrong"
        return "attention" if self.measures else self.at_speed.state

    def does(self, speed_hz):
        """What the drive does, in words."""
        if self.measures:
            return f"{listed(self.left)} alone at {with_unit(self.set_point_pa, 'pressure')}"
        return f"fallback to {with_unit(speed_hz, 'frequency', 1)}"

    def worst_said(self):
        """The worst door with that, in words."""
        return f"worst door {self.chosen.text()} ({self.chosen.case_said}; {self.chosen.failure})"


def two_lost(study):
    """`TwoLost` of each pair of the readings of a `FallbackStudy`; () for fewer than three, and where no case can be held."""
    names = [tap.name for tap in study.site.transmitters]
    if len(names) < 3 or study.speed_hz is None:
        return ()
    found = []
    for pair in combinations(range(len(names)), 2):
        target, ends = best_set_point(study, pair), {}
        for what, (air, offs) in study.walls_tried.items():
            places = np.concatenate([_left_at(study, air, pair, target - off) for off in offs])
            ends[what] = worst_ends(air, OWN, what, places, np.ones(places.shape, bool), study.holdable, study.judged)[0]
        left = tuple(name for number, name in enumerate(names) if number not in pair)
        found.append(TwoLost(tuple(names[number] for number in pair), left, target, ends, study.at_speed(study.speed_hz)))
    return tuple(found)
