"""A building on whose pressure a relief fan works: storeys joined by slabs and an open stair hall, facades in the wind, stack effect.

Space 0 is the indoor air of every storey. Each transmitter's outdoor tube is a space of its own that has one opening, its end at the
facade: no air flows in it, so it takes on the pressure there, and the reading is indoors less that.

What is not modelled: rooms within a storey (laboratories hold their own pressure against the corridor; their doors are open ends here),
wind at the relief fan's outlet, height within a storey, gusts along a tube, the air that the building stores (it fills in seconds).
"""

import numpy as np

from helpers.formulas import air, leakage
from helpers.formulas.doors import OPEN_DOOR_DISCHARGE_COEFFICIENT
from helpers.model.hold import Taps
from helpers.model.laws import Leak, Supply
from helpers.model.leaks import coefficient
from helpers.model.network import Network, Outside, Upward
from helpers.model.plants.inflow import Inflow
from helpers.model.plants.pressure_plant import PressurePlant

__all__ = ["Building"]

TUBE_M2 = 1e-4  # of a tube's end; of no consequence, since no air flows in it


class Building(PressurePlant):
    """The air network of a building site, ready to be asked about `BuildingConditions`."""

    # The pressure bends where the fan's damper opens against a building below outdoors: looked up between 20 speeds it would be 0.6 Pa off.
    least_speeds = 60

    def __init__(self, site):
        super().__init__(site)
        storeys = site.storeys
        self.places = [storey.level for storey in storeys]
        self.fan_place = self.places.index(site.fan_level)
        heights = np.array([storey.height_m for storey in storeys])
        self.rises_m = (heights[1:] + heights[:-1]) / 2
        self.elevation_m = np.cumsum(heights) - heights / 2 - sum(storey.height_m for storey in storeys if storey.level < 0)
        floors = np.array([storey.floor_area_m2 for storey in storeys])[:, None]
        self.floor_shares = floors / floors.sum()
        numbers = range(1, len(site.transmitters) + 1)
        self.tubes = list(zip(numbers, site.transmitters, strict=True))
        self.taps = Taps(0, np.array([self.places.index(t.level) for t in site.transmitters]), tuple(numbers))
        self._leaks()

    def network(self, conditions, ratio):
        """The air network under some conditions at fan speed ratios [conditions]."""
        site, c = self.site, conditions
        outdoors, indoors = air.density(c.outdoor_c, self.pressure_pa), air.density(c.indoor_c, self.pressure_pa)
        root = np.sqrt(0.5 * (outdoors + indoors))
        openings = []
        for bearing, leak in zip(site.faces_deg, self.faces, strict=True):
            openings.append(Outside(0, Leak(leak * root, site.leakage.wall_exponent), self._wind(c, bearing, outdoors)))
        if len(self.places) > 1:
            lift = air.GRAVITY_M_S2 * (outdoors - indoors) * self.rises_m[:, None]
            openings.append(Upward(0, Leak(self.upward * np.sqrt(indoors), 0.5), lift))
        for i, storey in enumerate(site.storeys):
            if storey.door_m2:
                leak, wind = self.doors[i : i + 1] * c.door_open.T[i : i + 1] * root, self._wind(c, storey.door_faces_deg, outdoors)
                openings.append(Outside(0, Leak(leak, 0.5), wind[i : i + 1], i, i + 1))
        still = np.zeros((1, len(c)))
        openings.append(Outside(0, Inflow(self.floor_shares * c.surplus_m3_s * indoors), still))
        fan = Supply(self.curve, 1.0, self.effect, np.asarray(ratio, float)[None, :], indoors[None, :])
        openings.append(Outside(0, fan, still, self.fan_place, self.fan_place + 1))
        for number, transmitter in self.tubes:
            at_end = transmitter.wind_share * self._wind(c, transmitter.outside_deg, outdoors)
            openings.append(Outside(number, Leak(self.tube_end * root, 0.5), at_end))
        return Network(1 + len(self.tubes), len(self.places), len(c), openings)

    def _leaks(self):
        """Leakage coefficients [storeys, 1], before any weather."""
        site, given = self.site, self.site.leakage
        extra = np.array([storey.extra_leak_m2 for storey in site.storeys]) / 4
        faces = np.array([storey.facade_m2 for storey in site.storeys]).T
        tight = [storey.wall_tightness or given.exterior_wall for storey in site.storeys]
        ratios = [float(leakage.wall_leakage_area(1.0, "exterior_wall", word, given.edition)) for word in tight]
        areas = [face * ratios + extra for face in faces]
        self.faces = [coefficient(site, area, given.wall_exponent) for area in areas]
        slabs = [float(leakage.wall_leakage_area(s.floor_area_m2, "floor", given.floor, given.edition)) for s in site.storeys[1:]]
        halls = [storey.stair_hall_m2 for storey in site.storeys[:-1]]
        self.upward = coefficient(site, np.add(slabs, halls), 0.5) if slabs else np.zeros((0, 1))
        opened = OPEN_DOOR_DISCHARGE_COEFFICIENT / given.discharge_coefficient
        self.doors = coefficient(site, [storey.door_m2 * opened for storey in site.storeys], 0.5)
        self.tube_end = coefficient(site, [TUBE_M2] * len(site.storeys), 0.5)

    def _wind(self, conditions, bearing_deg, density):
        """Wind pressure on a face by its bearing, [storeys, conditions]; none below ground."""
        site, height = self.site, np.maximum(self.elevation_m, 0.0)[:, None]
        speed = air.wind_speed_at_height(conditions.wind_speed_m_s, height, site.terrain, height_met_m=site.wind_reference_height_m)
        cp = air.face_pressure_coefficients(conditions.wind_from_deg, bearing_deg, site.pressure_coefficients)
        return cp * air.velocity_pressure(speed, density)
