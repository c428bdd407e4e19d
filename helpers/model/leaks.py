"""How leaky a site is: walls, doors and slabs of the site file as leakage coefficients, before any weather.

A coefficient here is C A sqrt(2) ref^(0.5 - n) [m2 Pa^(0.5 - n)]; times the root of the air's density it is the mass flow at 1 Pa^n.
Columns are [storeys, 1], so that they broadcast over conditions.
"""

import numpy as np

from helpers.formulas import doors, leakage

__all__ = ["DoorLeak", "SiteLeaks", "coefficient", "facade_leaks"]

DOORWAY_EXPONENT = 0.5  # whatever the gaps of the shut leaf obey: a doorway is an orifice


class DoorLeak:
    """Doors of one kind on every storey, of which one leaf may stand open."""

    def __init__(self, site, kind, counts=None):
        named = [getattr(storey, kind) for storey in site.storeys]
        counts = counts or [1] * len(named)
        found = [site.doors[name] if name and count else None for name, count in zip(named, counts, strict=True)]
        shut = [door.leak_area_m2 * count if door else 0.0 for door, count in zip(found, counts, strict=True)]
        gaps = np.array([door.leak_area_m2 if door else 0.0 for door in found])
        # The doorway has a discharge coefficient of its own; its area is told in the leaks' coefficient.
        ratio = doors.OPEN_DOOR_DISCHARGE_COEFFICIENT / site.leakage.discharge_coefficient
        doorway = np.array([door.flow_area_m2 * ratio if door else 0.0 for door in found])
        self.exponent = site.leakage.door_exponent
        self.shut = coefficient(site, shut, self.exponent)
        self._gaps = coefficient(site, gaps, self.exponent)
        self._doorway = coefficient(site, doorway, DOORWAY_EXPONENT)
        self._more = coefficient(site, np.maximum(doorway - gaps, 0.0), DOORWAY_EXPONENT)

    def opened(self, share):
        """(coefficient, exponent) of each of the ways past the doors when so much [storeys, conditions] of one leaf stands open."""
        if self.exponent == DOORWAY_EXPONENT:  # one way past it, so that the solver has one opening the less
            return [(self.shut + self._more * share, DOORWAY_EXPONENT)]
        return [(self.shut - self._gaps * share, self.exponent), (self._doorway * share, DOORWAY_EXPONENT)]


class SiteLeaks:
    """All leakage coefficients of a site."""

    def __init__(self, site):
        storeys = site.storeys
        self.inner_wall = _walls(site, [s.stair_wall_m2 - s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        self.outer_wall = _walls(site, [s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        self.faces = facade_leaks(site)
        self.slabs = _walls(site, [storey.floor_area_m2 for storey in storeys[1:]], "floor") if len(storeys) > 1 else np.zeros((0, 1))
        self.lift_wall = _walls(site, [storey.lift_shaft_wall_m2 for storey in storeys], "lift_shaft_wall")
        self.stair_doors = DoorLeak(site, "stair_door", [storey.stair_door_count for storey in storeys])
        self.lobby_doors = DoorLeak(site, "lobby_door")
        self.final_exits = DoorLeak(site, "final_exit_door")
        self.shafts = {space: _free_shaft(site, shaft) for space, shaft in (("stair", site.stair), ("lift", site.lift)) if shaft}
        self.lift_vent = coefficient(site, [site.lift.vent_area_m2], 0.5) if site.lift else None
        self.relief = _relief(site)
        self.landings = DoorLeak(site, "lift_door", [storey.lift_doors for storey in storeys])


def facade_leaks(site):
    """Leakage coefficients of the four faces, each [storeys, 1]; what a storey leaks besides its wall is shared evenly by them."""
    tight = [storey.wall_tightness or site.leakage.exterior_wall for storey in site.storeys]
    extra = np.array([storey.extra_leak_m2 for storey in site.storeys]) / 4
    faces = np.array([storey.facade_m2 for storey in site.storeys]).T
    return [_walls(site, face, "exterior_wall", tight, extra) for face in faces]


def _free_shaft(site, shaft):
    """The shaft itself, from each storey to the next."""
    return coefficient(site, np.full(len(site.storeys) - 1, shaft.friction_area_m2), 0.5) if len(site.storeys) > 1 else np.zeros((0, 1))


def _relief(site):
    """Relief damper: shut and open; None where there is none."""
    relief = site.stair.relief
    if relief is None:
        return None
    # A blade that leaks nothing at all would leave the closed law without an inverse: a square millimetre is less than any does.
    closed, opened = coefficient(site, [max(relief.leak_area_m2, 1e-6), relief.area_m2], 0.5)[:, 0]
    return closed, max(opened, closed)


def coefficient(site, areas_m2, exponent):
    """Leakage coefficients [storeys, 1] of areas [storeys] at the site's discharge coefficient and reference pressure."""
    given = site.leakage
    column = np.asarray(areas_m2, float)[:, None]
    return leakage.flow_coefficient(column, 1.0, given.discharge_coefficient, exponent, given.reference_pa)


def _walls(site, walls_m2, element, tightness=None, extra_m2=0.0):
    walls, words = np.asarray(walls_m2, float), np.array(tightness or [getattr(site.leakage, element)] * len(walls_m2))
    areas = np.zeros(walls.shape)
    for word in dict.fromkeys(words.tolist()):  # storeys of one tightness at once
        alike = words == word
        areas[alike] = leakage.wall_leakage_area(walls[alike], element, word, site.leakage.edition)
    return coefficient(site, areas + extra_m2, site.leakage.wall_exponent)
