"""A building on whose pressure a relief fan works: storeys joined by slabs and an open stair hall, facades in the wind, stack effect.

Space 0 is the indoor air of every storey. Each transmitter's outdoor tube is a space of its own that has one opening, its end at the
facade: no air flows in it, so it takes on the pressure there, and the reading is indoors less that.

What is not modelled: rooms within a storey (laboratories hold their own pressure against the corridor; their doors are open ends here),
wind at the relief fan's outlet, height within a storey, gusts along a tube, the air that the building stores (it fills in seconds).
"""

import numpy as np

from helpers.formulas import air, leakage
from helpers.formulas.doors import OPEN_DOOR_DISCHARGE_COEFFICIENT
from helpers.model import heights
from helpers.model.hold import Taps
from helpers.model.laws import Leak, Supply
from helpers.model.leaks import DOORWAY_EXPONENT, coefficient, facade_leaks
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
        self.rises_m, self.elevation_m = heights.rises_m(storeys), heights.elevation_m(storeys)
        floors = np.array([storey.floor_area_m2 for storey in storeys])[:, None]
        self.floor_shares = floors / floors.sum()
        numbers = range(1, len(site.transmitters) + 1)
        self.tubes = list(zip(numbers, site.transmitters, strict=True))
        self.taps = Taps(0, np.array([self.places.index(t.level) for t in site.transmitters]), tuple(numbers))
        self.bearings_deg = [*(storey.door_faces_deg for storey in storeys), *(t.outside_deg for t in site.transmitters)]
        self._leaks()

    def network(self, conditions, ratio):
        """The air network under some conditions at fan speed ratios [conditions]."""
        site, c = self.site, conditions
        outdoors, indoors = air.density(c.outdoor_c, self.pressure_pa), air.density(c.indoor_c, self.pressure_pa)
        root = np.sqrt(0.5 * (outdoors + indoors))
        winds = heights.wind_on_faces(site, c, [*site.faces_deg, *self.bearings_deg], outdoors)
        at_doors, at_tubes = np.split(winds[4:], [len(site.storeys)])
        openings = []
        for leak, wind in zip(self.faces, winds[:4], strict=True):
            openings.append(Outside(0, Leak(leak * root, site.leakage.wall_exponent), wind))
        if len(self.places) > 1:
            lift = air.GRAVITY_M_S2 * (outdoors - indoors) * self.rises_m[:, None]
            openings.append(Upward(0, Leak(self.upward * np.sqrt(indoors), 0.5), lift))
        for i, storey in enumerate(site.storeys):
            if storey.door_m2:
                leak = self.doors[i : i + 1] * c.door_open.T[i : i + 1] * root
                openings.append(Outside(0, Leak(leak, DOORWAY_EXPONENT), at_doors[i, i : i + 1], i, i + 1))
        still = np.zeros((1, len(c)))
        openings.append(Outside(0, Inflow(self.floor_shares * c.surplus_m3_s * indoors), still))
        fan = Supply(self.curve, 1.0, self.effect, np.asarray(ratio, float)[None, :], indoors[None, :])
        openings.append(Outside(0, fan, still, self.fan_place, self.fan_place + 1))
        for (number, transmitter), wind in zip(self.tubes, at_tubes, strict=True):
            openings.append(Outside(number, Leak(self.tube_end * root, 0.5), transmitter.wind_share * wind))
        return Network(1 + len(self.tubes), len(self.places), len(c), openings)

    def _leaks(self):
        """Leakage coefficients [storeys, 1], before any weather."""
        site, given = self.site, self.site.leakage
        self.faces = facade_leaks(site)
        slabs = [float(leakage.wall_leakage_area(s.floor_area_m2, "floor", given.floor, given.edition)) for s in site.storeys[1:]]
        halls = [storey.stair_hall_m2 for storey in site.storeys[:-1]]
        self.upward = coefficient(site, np.add(slabs, halls), 0.5) if slabs else np.zeros((0, 1))
        opened = OPEN_DOOR_DISCHARGE_COEFFICIENT / given.discharge_coefficient
        self.doors = coefficient(site, [storey.door_m2 * opened for storey in site.storeys], DOORWAY_EXPONENT)
        self.tube_end = coefficient(site, [TUBE_M2] * len(site.storeys), 0.5)
