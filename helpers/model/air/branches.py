"""The riser that a stair's outlets are on, as a space of the network beside the stair: the fan blows into it at one storey, from storey to
storey it costs friction, and on each supplied storey an outlet joins it to the stair.

    outlet    m = A sqrt(2 rho dp)           A = C A_free, or A_free / sqrt(zeta)
    riser     m = A_r sqrt(2 rho dp)         A_r = Q / sqrt(2 dp_storey / rho_0): one storey costs dp_storey at Q of standard air

Its air is as dense as the fan's inlet air: outdoor air under a supply fan, which draws no stack; the stair's under an exhaust fan.
Limits: what a branch costs is the same whichever way the air goes and whatever goes on past it (no regain of velocity pressure at a
branch, which gives the far outlets of a fast riser more than this); no leak and no warming of the air on its way; the riser joins the
outlets' storeys with a fan at rest too, since only the fan has a damper.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import leakage
from helpers.model.air.laws import Leak
from helpers.model.air.spaces import OnStorey, Upward

DUCT = "duct"  # the space


@dataclass(frozen=True)
class Branches:
    """Riser and outlets of a tower. fan_storey: number of the fan's storey; storeys [outlets] of each outlet; effective_m2 [outlets];
    outlets [storeys, 1], friction: coefficients [m2], without density."""

    fan_storey: int
    storeys: np.ndarray
    effective_m2: np.ndarray
    outlets: np.ndarray
    friction: np.ndarray

    @classmethod
    def of(cls, site):
        """Those of a site; None where its outlets carry fixed shares of the fan."""
        if site.riser is None:
            return None
        levels = [storey.level for storey in site.storeys]
        storeys = np.array([levels.index(supply.level) for supply in site.supplies])
        effective = np.array([supply.effective_m2(site.leakage) for supply in site.supplies])
        column = np.zeros((len(levels), 1))
        np.add.at(column[:, 0], storeys, effective)
        outlets, friction = (leakage.flow_coefficient(area, 1.0, 1.0, 0.5) for area in (column, site.riser.friction_m2))
        return cls(levels.index(site.riser.fan_level), storeys, effective, outlets, np.full((len(levels) - 1, 1), friction))

    def openings(self, stair, duct, in_outlets, on_the_way, lift):
        """Outlets and riser between the spaces of these numbers. in_outlets: density of their air, [storeys, conditions] or broadcasting to
        it; on_the_way: of the riser's between storeys, likewise; lift: the stack that it draws [storeys - 1, conditions], Pa."""
        outlets = OnStorey(stair, duct, Leak(self.outlets * np.sqrt(in_outlets), 0.5))
        return [outlets, Upward(duct, Leak(self.friction * np.sqrt(on_the_way), 0.5), lift)][: len(self.outlets)]  # no riser in one storey


def fan_places(site, branches):
    """The space that the fan blows into, and at which storeys: [(number of the storey, share of the fan that goes there)]."""
    if branches:
        return DUCT, [(branches.fan_storey, 1.0)]
    levels = [storey.level for storey in site.storeys]
    return "stair", [(levels.index(supply.level), supply.share) for supply in site.supplies]


def supply_flows(tower, network, pressure):
    """Air that each supply of a `Tower` brings [conditions, supplies], m3/s at the fan's inlet density, counted in the fan's direction: at
    pressures [spaces, storeys, conditions] of its network. Outlets on one storey share its flow by their effective areas, since the same
    pressure drives them."""
    fans, branches = [opening for opening in network.openings if opening.law.fan], tower.branches
    if branches is None:
        return np.stack([opening.law.volume_flow(opening.difference(pressure))[0] for opening in fans], axis=-1)
    ends = tower.spaces.index("stair"), tower.spaces.index(DUCT)
    (outlets,) = (one for one in network.openings if isinstance(one, OnStorey) and (one.a, one.b) == ends)
    flow = -outlets.law.at(outlets.difference(pressure))[0][branches.storeys]
    part = branches.effective_m2 / np.bincount(branches.storeys, branches.effective_m2)[branches.storeys]
    return tower.effect * (flow * part[:, None] / fans[0].law.density).T
