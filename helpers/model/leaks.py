"""How leaky a site is: walls, doors and slabs of the site file as leakage coefficients, before any weather.

A coefficient here is C A sqrt(2) ref^(0.5 - n) [m2 Pa^(0.5 - n)]; times the root of the air's density it is the mass flow at 1 Pa^n.
Columns are [storeys, 1], so that they broadcast over conditions.
"""

import numpy as np

from helpers.formulas import doors, leakage

__all__ = ["DoorLeak", "SiteLeaks"]


class DoorLeak:
    """Doors of one kind on every storey: `shut`, and `more` when one leaf stands open."""

    def __init__(self, site, kind, counts=None):
        named = [getattr(storey, kind) for storey in site.storeys]
        found = [site.doors[name] if name else None for name in named]
        counts = counts or [1] * len(found)
        shut = [door.leak_area_m2 * count if door else 0.0 for door, count in zip(found, counts, strict=True)]
        # The open leaf has a discharge coefficient of its own; its area is told in the leaks' coefficient.
        ratio = doors.OPEN_DOOR_DISCHARGE_COEFFICIENT / site.leakage.discharge_coefficient
        more = [door.flow_area_m2 * ratio - door.leak_area_m2 if door else 0.0 for door in found]
        self.shut = coefficient(site, shut, site.leakage.door_exponent)
        self.more = coefficient(site, np.maximum(more, 0.0), site.leakage.door_exponent)


class SiteLeaks:
    """All leakage coefficients of a site."""

    def __init__(self, site):
        storeys, given = site.storeys, site.leakage
        tight = [storey.wall_tightness or given.exterior_wall for storey in storeys]
        self.inner_wall = _walls(site, [s.stair_wall_m2 - s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        self.outer_wall = _walls(site, [s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        extra = np.array([storey.extra_leak_m2 for storey in storeys]) / 4
        faces = np.array([storey.facade_m2 for storey in storeys]).T
        self.faces = [_walls(site, face, "exterior_wall", tight, extra) for face in faces]
        self.slabs = _walls(site, [storey.floor_area_m2 for storey in storeys[1:]], "floor") if len(storeys) > 1 else np.zeros((0, 1))
        self.lift_wall = _walls(site, [storey.lift_shaft_wall_m2 for storey in storeys], "lift_shaft_wall")
        self.stair_doors = DoorLeak(site, "stair_door", [storey.stair_door_count for storey in storeys])
        self.lobby_doors = DoorLeak(site, "lobby_door")
        self.final_exits = DoorLeak(site, "final_exit_door")
        self.shafts = {space: _free_shaft(site, shaft) for space, shaft in (("stair", site.stair), ("lift", site.lift)) if shaft}
        self.lift_vent = coefficient(site, [site.lift.vent_area_m2], 0.5) if site.lift else None
        self.relief = _relief(site)
        self.landings = DoorLeak(site, "lift_door", [storey.lift_doors for storey in storeys])


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
    words = tightness or [getattr(site.leakage, element)] * len(walls_m2)
    edition = site.leakage.edition
    areas = np.array([float(leakage.wall_leakage_area(wall, element, word, edition)) for wall, word in zip(walls_m2, words, strict=True)])
    return coefficient(site, areas + extra_m2, site.leakage.wall_exponent)
