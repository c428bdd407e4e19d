"""A supply duct as a chain of sections, from the far end of one branch past the fan to the far end of the other.

Pressures are static, over the rooms. From section to section the duct's friction, out of every section its boxes into the rooms and what
the duct leaks by its class.

What is not modelled: velocity pressure that is regained where the flow gets less (at 8 m/s some 40 Pa, so far ends stand higher in fact),
boxes that answer to pressure: a box which holds its flow shuts a little when the pressure rises, within a minute or two, slowly beside
the loop; here a box stands where its demand has put it. The duct's own air answers within a fraction of a second.
"""

import numpy as np

from helpers.formulas import air, leakage
from helpers.model.fan import REFERENCE_DENSITY_KG_M3
from helpers.model.hold import Taps
from helpers.model.laws import Leak, Supply
from helpers.model.network import Network, Outside, Upward
from helpers.model.plants.pressure_plant import PressurePlant

__all__ = ["Duct"]


class Duct(PressurePlant):
    """The air network of a duct site, ready to be asked about `DuctConditions`."""

    def __init__(self, site):
        super().__init__(site)
        self.places = [section.name for section in site.sections]
        self.fan_place = self.places.index(site.fan_section)
        self.taps = Taps(0, np.array([self.places.index(t.section) for t in site.transmitters]), (None,) * len(site.transmitters))
        self.density = float(air.density(site.temperature_c, self.pressure_pa))
        flows = np.array([section.boxes_flow_m3_s for section in site.sections])[:, None]
        self.boxes = self._per_root_pa(flows, site.boxes.pressure_pa)
        surface = np.array([section.surface_m2 for section in site.sections])[:, None]
        self.skin = leakage.DUCT_CLASS_COEFFICIENTS[site.duct_class] * surface * self.density
        # A piece of duct belongs to the section farther from the fan of the two that it joins.
        farther = [*site.sections[: self.fan_place], *site.sections[self.fan_place + 1 :]]
        self.ducts = np.array([[self._per_root_pa(section.loss_flow_m3_s, section.loss_pa)] for section in farther])

    def network(self, conditions, ratio):
        """The air network under some conditions at fan speed ratios [conditions]."""
        still = np.zeros((1, len(conditions)))
        wide = np.ones((len(self.places), len(conditions)))
        shut = self.site.boxes.shut_leak
        boxes = self.boxes * (shut + (1 - shut) * conditions.opening.T)
        fan = Supply(self.curve, 1.0, self.effect, np.asarray(ratio, float)[None, :], self.density + still)
        openings = [
            Upward(0, Leak(self.ducts * wide[1:], 0.5), 0 * wide[1:]),
            Outside(0, Leak(boxes, 0.5), 0 * wide),
            Outside(0, Leak(self.skin * wide, leakage.DUCT_EXPONENT), 0 * wide),
            Outside(0, fan, still, self.fan_place, self.fan_place + 1),
        ]
        return Network(1, len(self.places), len(conditions), openings)

    def _per_root_pa(self, flow_m3_s, loss_pa):
        """Mass flow at 1 Pa [kg/(s Pa^0.5)] of what costs a loss at a flow of standard air."""
        return flow_m3_s * np.sqrt(self.density * REFERENCE_DENSITY_KG_M3 / loss_pa)
