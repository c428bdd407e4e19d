"""The hand method on a site: its storeys taken as alike, leaks as orifices, one temperature indoors. What a pocket calculator gives."""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import air, leakage

__all__ = ["HandStair", "stair_wall_leak"]

STANDARD_DENSITY_KG_M3 = 1.2  # standard air of fan catalogues; ISO 5801


@dataclass(frozen=True)
class HandStair:
    """A stair as the hand method sees it: areas of one mean storey [m2], one indoor temperature, height between its end storeys [m].

    Limits: as leakage.stair_top_pressure: storeys alike, doors shut, no air from stair straight outdoors, no flow between storeys, no
    lift shaft, no wind, no shaft friction, stair air as warm as the rooms.
    """

    storeys: int
    height_m: float
    stair_area_m2: float
    facade_area_m2: float
    stack_gradient_pa_m: float
    discharge_coefficient: float

    @classmethod
    def of(cls, site, weather="winter"):
        """Hand method for a site under one of its weathers.

        Raises ValueError for a building without any leak from the floors to outdoors, where the hand method has no answer.
        """
        count, heights = len(site.storeys), [storey.height_m for storey in site.storeys]
        facade = sum(_facade(site, storey) for storey in site.storeys) / count
        if not facade:
            raise ValueError("site must leak from its floors to outdoors for the hand method, got facades without any leak")
        stair = sum(stair_wall_leak(site, storey) + _stair_doors(site, storey) for storey in site.storeys) / count
        gradient = float(air.stack_gradient(site.weather[weather].outdoor_c, site.temperatures.floor_c))
        height = sum(heights) - (heights[0] + heights[-1]) / 2
        return cls(count, height, stair, facade, gradient, site.leakage.discharge_coefficient)

    @property
    def from_bottom(self):
        """Whether the least pressure is at the bottom (colder outdoors) or at the top."""
        return self.stack_gradient_pa_m >= 0

    def end_pressures(self, least_pa):
        """Pressure across the bottom and the top door [Pa] when the worse of them has `least_pa`."""
        rise = self.height_m if self.from_bottom else -self.height_m
        other = leakage.stair_top_pressure(least_pa, rise, self.stack_gradient_pa_m, self.stair_area_m2, self.facade_area_m2)
        return (least_pa, float(other)) if self.from_bottom else (float(other), least_pa)

    def supply_flow(self, least_pa):
        """Supply air [m3/s of standard air] that keeps `least_pa` [Pa] across the worse of bottom and top door."""
        bottom, top = self.end_pressures(least_pa)
        return float(
            leakage.stair_supply_flow(
                self.storeys, self.stair_area_m2, bottom, top, STANDARD_DENSITY_KG_M3, self.discharge_coefficient
            )
        )  # fmt: skip

    def height_limit(self, least_pa, most_pa):
        """Tallest stair [m] that one supply keeps inside a window, by hand; infinite without stack effect."""
        if not self.stack_gradient_pa_m:
            return np.inf
        return float(
            leakage.stair_height_limit(least_pa, most_pa, self.stack_gradient_pa_m, self.stair_area_m2, self.facade_area_m2)
        )  # fmt: skip


def _facade(site, storey):
    tightness = storey.wall_tightness or site.leakage.exterior_wall
    wall = leakage.wall_leakage_area(sum(storey.facade_m2), "exterior_wall", tightness, site.leakage.edition)
    return float(wall) + storey.extra_leak_m2


def stair_wall_leak(site, storey):
    """Leakage area of one storey's wall between stair and floor [m2]."""
    inner = storey.stair_wall_m2 - storey.stair_outside_wall_m2
    return float(leakage.wall_leakage_area(inner, "stair_wall", site.leakage.stair_wall, site.leakage.edition))


def _stair_doors(site, storey):
    return site.doors[storey.stair_door].leak_area_m2 * storey.stair_door_count if storey.stair_door else 0.0
