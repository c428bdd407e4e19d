"""What all concepts are asked about: cases at both temperatures of the stair, the air of each, and how far its worst shut door is inside.

A heated supply brings the stair's air after an hour the stated share of the way back to the rooms': at given flows the heat balance is
linear in the temperature of what is blown in (formulas/heat, walls as warm as the floors). The flows are those of unheated air.
"""

from copy import copy
from dataclasses import dataclass

import numpy as np

from helpers.model.air.conditions import Conditions
from helpers.model.air.stair_heat import stair_air, with_stair
from helpers.model.air.tower import Tower
from helpers.model.site.schema import Site
from helpers.studies.cases import AS_STATED, conditions_of, usual_cases, with_required
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import SiteWindow, pressure_window
from helpers.studies.report import Finding
from helpers.studies.status import ON_LIMIT_PA

SET_POINTS, FINER = 10, 7  # tried from end to end, and then from neighbour to neighbour of the best
QUICK = 41  # set points read between three solved ones
USUAL_LEAST_PA = 10.0  # where no door asks for a least: ours
FIRST_LOOK = 2  # passes of air and heat in turn while candidates are compared; the one that is kept is balanced to the end


@dataclass(frozen=True)
class Concept:
    """One way to pressurise a stair: key of `concepts.TITLES`, the site as it would be built, what was searched and what not, in words,
    how many of each part it has more than the file (part, count), and the share of the way from outdoors to the rooms to which its supply
    is heated; moved: what of the loop it sets, in words."""

    key: str
    title: str
    site: Site
    moved: str
    searched: str
    parts: tuple = ()
    heated: float = 0.0

    @property
    def fixed(self):
        """Whether the fan always runs at one speed, whatever is read."""
        return self.key == "fixed"


@dataclass(frozen=True)
class NotTried:
    """A concept that this site cannot be asked about: its key, its title and why, in a sentence."""

    key: str
    title: str
    why: str

    @property
    def finding(self):
        """The same as a `Finding`: nothing is known of it, so it is no pass."""
        return Finding("open", f"{self.title}: not tried", "", self.why)


def cases_asked(site):
    """Every weather with all doors shut and with every set of open doors that the design has to hold (two neighbours, and these with the
    final exit, where it states none), in the stair's first minute and after an hour: those that page 12 chooses the fan by, and no
    others. Returns a tuple of `Case`."""
    asked = zip(*with_required(site, usual_cases(site)), strict=True)
    return tuple(case for case, required in asked if required and case.stair != AS_STATED)


def heated_air(conditions, share):
    """Conditions with the supply heated so far [0 to 1] of the way from outdoors to the floors, where it is colder outdoors than there."""
    floor = conditions.floor_c
    part = np.where(conditions.outdoor_c < floor, share, 0.0)
    if conditions.stair_c.ndim == 2:
        floor, part = floor[:, None], part[:, None]
    return with_stair(conditions, conditions.stair_c + part * (floor - conditions.stair_c))


def air_of(concept, cases):
    """`Conditions` of a concept in some cases, a row each, its stair as warm as its own fan, outlets and heater leave it."""
    return heated_air(conditions_of(concept.site, cases), concept.heated)


class FirstLook:
    """Few cases of a site that candidates are compared in: all doors shut and most doors open, in every weather, at both temperatures.

    conditions, a row each; shut [rows]: whether all doors are shut; opened: whether any stands open at all. The air after an hour is a
    first look (FIRST_LOOK passes)."""

    def __init__(self, site, opened=True):
        self.tower, self.window = Tower(site), pressure_window(site)
        doors = {((), ()): None}
        if opened:
            most = max(cases_asked(site), key=lambda case: len(case.open_doors) + len(case.open_exits))
            doors[most.open_doors, most.open_exits] = None
        first = Conditions.joined(Conditions.of(site, weather, *one) for one in doors for weather in site.weather)
        first = with_stair(first, np.repeat(first.floor_c[:, None], len(site.storeys), axis=1))
        hour = with_stair(first, stair_air(self.tower, first, most_passes=FIRST_LOOK if opened else 1).stair_c)
        self.conditions = Conditions.joined([first, hour])
        self.shut = ~(self.conditions.stair_door_open.any(axis=1) | self.conditions.final_exit_open.any(axis=1))

    def __len__(self):
        return len(self.conditions)

    def heated(self, share):
        """The same with the supply heated so far of the way to the rooms."""
        other = copy(self)
        other.conditions = heated_air(self.conditions, share)
        return other

    def set_points(self, count=SET_POINTS):
        """So many whole set points [Pa] to try, from the least of the stair doors to twice their most, and the file's own: those that the
        transmitters read."""
        taps = self.tower.site.transmitters
        least = max(self.window.least_pa or USUAL_LEAST_PA, 1.0)
        most = min(2 * (self.window.most_pa or 4 * least), max(tap.range_high_pa for tap in taps))
        tried = np.unique([*np.round(np.geomspace(least, max(most, least), count)), self.tower.site.control.set_point_pa])
        readable = [any(tap.range_low_pa <= point <= tap.range_high_pa for tap in taps) for point in tried]
        return tried[readable] if any(readable) else np.array([self.tower.site.control.set_point_pa])

    def tuned(self, count=SET_POINTS):
        """(best set point [Pa], its score [4]) of `set_points` and of the whole ones between the best and its neighbours."""
        tried = self.set_points(count)
        scores = self.held(tried)
        number = best(scores)
        ends = tried[max(number - 1, 0)], tried[min(number + 1, len(tried) - 1)]
        between = np.setdiff1d(np.linspace(*ends, FINER).round(), tried)
        if between.size:
            tried, scores = np.concatenate([tried, between]), np.concatenate([scores, self.held(between)])
        return float(tried[best(scores)]), tuple(scores[best(scores)].tolist())

    def quick_room_pa(self):
        """Most room [Pa] of the worst shut door that any set point leaves with all doors shut, out below zero: from three set points,
        between which every door's pressure is taken to run straight. To compare many layouts by; what is chosen is then solved."""
        ends = self.window.least_pa or USUAL_LEAST_PA, self.window.most_pa or 4 * (self.window.least_pa or USUAL_LEAST_PA)
        points = np.linspace(min(ends), max(ends), 3)
        shut = self.conditions.rows(np.flatnonzero(self.shut))
        rows = shut.rows(np.tile(np.arange(len(shut)), len(points)))
        found, columns = self.tower.hold(rows, np.repeat(points, len(shut))), DoorColumns(self.tower, self.window)
        if not found.air.converged.all():
            return -np.inf
        across = columns.across(found.air).reshape(len(points), len(shut), -1)
        place = np.linspace(0, len(points) - 1, QUICK)
        low = np.minimum(place.astype(int), len(points) - 2)
        between = across[low] + (place - low)[:, None, None] * (across[low + 1] - across[low])
        return float(np.minimum(*columns.rooms(between, columns.standing_open(shut))).min(axis=(1, 2)).max())

    def tiled(self, count):
        """The conditions `count` times, the candidates one after the other."""
        return self.conditions.rows(np.tile(np.arange(len(self)), count))

    def held(self, set_points_pa):
        """Scores [set points, 4] of the loop held at each of some set points [Pa]."""
        rows = self.tiled(len(set_points_pa))
        found = self.tower.hold(rows, np.repeat(np.asarray(set_points_pa, float), len(self)))
        return self.score(self.tower, found.air, rows, ~found.held)

    def run(self, tower, speeds_hz):
        """Scores [speeds, 4] of a tower's fan at each of some speeds [Hz], in this air of the stair."""
        rows = self.tiled(len(speeds_hz))
        return self.score(tower, tower.solve(rows, np.repeat(np.asarray(speeds_hz, float), len(self))), rows, np.zeros(len(rows), bool))

    def score(self, tower, air, rows, lost):
        """Of candidates, whose rows stand one after the other, numbers [candidates, 4] of which the smallest is the best: how far the worst
        shut door is out of its window with all doors shut [Pa], 0 for none; in how many of these cases the loop does not hold (lost [rows]:
        a set point that is never reached is none); in how many cases, open doors too, a door is out, a final exit stays ajar or the loop
        does not hold; the room of the worst with all doors shut, less than nothing."""
        window, closing = (room.reshape(-1, len(self)) for room in rooms(tower, self.window, air, rows))
        worst = window[:, self.shut].min(axis=1)
        lost = lost.reshape(-1, len(self))
        out = ((np.minimum(window, closing) < -ON_LIMIT_PA) | lost).sum(axis=1)
        unheld = lost[:, self.shut].sum(axis=1)
        return np.stack([np.maximum(-worst, 0.0).round(2), unheld, out, -worst.round(3)], axis=1)


def best(scores):
    """Number of the best candidate by its score [candidates, 4], the first of equals."""
    return min(range(len(scores)), key=lambda number: tuple(scores[number]))


def rooms(tower: Tower, window: SiteWindow, air, conditions: Conditions) -> tuple[np.ndarray, np.ndarray]:
    """(room of the worst shut door inside its window, room of a final exit below the pressure up to which it closes again), each [rows],
    Pa; below zero when out, and minus infinity where no steady state was found."""
    columns = DoorColumns(tower, window)
    across, stands_open = columns.across(air), columns.standing_open(conditions)
    room = np.minimum(*columns.rooms(across, stands_open)).min(axis=1)
    closing = columns.closing(across, stands_open).min(axis=1)
    return tuple(np.where(air.converged, one, -np.inf) for one in (room, closing))
