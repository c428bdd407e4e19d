"""A flow that other fans hold whatever the pressure: one more law beside those of `helpers.model.laws`."""

from dataclasses import dataclass

import numpy as np

from helpers.model.laws import Law

__all__ = ["Inflow"]


@dataclass
class Inflow(Law):
    """Air that is brought in at a steady rate, mass_kg_s [storeys, conditions]; below zero: taken out.

    Flow counts out of the space, so it is -mass_kg_s at every pressure difference. Limit: fans with a flow control of their own; a fan at
    steady speed brings a little less against more pressure, which is nothing beside its own pressure here.
    """

    mass_kg_s: np.ndarray
    straight_below_pa = np.inf  # it is a straight line everywhere

    def at(self, dp):
        return -self.mass_kg_s + np.zeros_like(dp), np.zeros_like(dp)

    def tangent(self, flow, dp):
        return np.zeros_like(dp), -self.mass_kg_s + np.zeros_like(dp)
