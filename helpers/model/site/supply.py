"""Where the fan's air enters the stair: in fixed shares, or through outlets of a riser that is solved together with the stair.

Without a `Riser` each outlet carries its share of the fan, whatever the outlets cost. With one, the fan blows into the riser, and an outlet
gives what the pressures on both its sides drive through it: less where the stair's pressure is higher, another split at another speed.
"""

from typing import Annotated

import numpy as np

from helpers.formulas.air import STANDARD_DENSITY_KG_M3
from helpers.model.site import field_types as of

SHARE_TOLERANCE = 1e-6  # rounding of shares written with a few digits, such as 0.3333333
LossCoefficient = Annotated[float, of.Quantity("ratio", "2.4", low=0, high=1000, open_low=True)]


class Supply(of.SiteTable):
    """Where the fan's air enters the stair, and which share of it; where there is a `Riser`, the share that the outlet is designed for.

    `outlet_area_m2`: free area of its outlet from the riser; `outlet_loss_coefficient`: pressure that branch, damper and grille cost over
    the velocity pressure in that area (none: an orifice with the discharge coefficient of the building's leaks)."""

    level: of.Level
    share: of.Share
    outlet_area_m2: of.OpenArea | None = None
    outlet_loss_coefficient: LossCoefficient | None = None

    def effective_m2(self, leaks):
        """The opening [m2, discharge coefficient 1] that costs as much as the outlet: C A, or A / sqrt(zeta); leaks: `Leakage`."""
        if self.outlet_loss_coefficient is None:
            return leaks.discharge_coefficient * self.outlet_area_m2
        return self.outlet_area_m2 / float(np.sqrt(self.outlet_loss_coefficient))


IN_SHARES = {"outlet_area_m2": None, "outlet_loss_coefficient": None}  # of a `Supply` in a site without `Riser`


class Riser(of.SiteTable):
    """The duct along the stair that the outlets are on. `fan_level`: storey at which the fan blows into it; one storey of it costs
    `storey_loss_pa` at `storey_loss_flow_m3_s` of standard air."""

    fan_level: of.Level
    storey_loss_pa: of.DuctLoss
    storey_loss_flow_m3_s: of.DuctFlow

    @property
    def friction_m2(self):
        """The opening [m2, discharge coefficient 1] that costs as much as one storey of it: A = Q / sqrt(2 dp / rho)."""
        return self.storey_loss_flow_m3_s / float(np.sqrt(2 * self.storey_loss_pa / STANDARD_DENSITY_KG_M3))


def supplies_share_the_air(draft):
    """The shares of the supplies sum to one."""
    if draft.whole("supplies"):
        total = sum(supply.share for _, supply in draft.items("supplies"))
        if abs(total - 1) > SHARE_TOLERANCE:
            yield ("supplies",), f"must have shares that sum to 1; they sum to {total:g}"


def riser_has_its_outlets(draft):
    """Every outlet of a riser has an area, none stands where no air is supplied, and no outlet stands without a riser."""
    riser = draft.sections.get("riser")
    if riser is not None and draft.levels and riser.fan_level not in draft.levels:
        ends = f"from {min(draft.levels)} to {max(draft.levels)}"
        yield ("riser", "fan_level"), f"must be a storey of this site, {ends}; got {riser.fan_level}"
    for key, supply in draft.items("supplies"):
        area, loss = supply.outlet_area_m2, supply.outlet_loss_coefficient
        if area is None and loss is not None:
            yield ("supplies", key, "outlet_loss_coefficient"), "belongs to an outlet_area, which is missing: the area that it stands for"
        if area is not None and not supply.share:
            yield (
                ("supplies", key, "outlet_area"),
                f"must be left out where no air is supplied; share is 0 on storey {supply.level}",
            )
        if "riser" not in draft.stated and area is not None:
            yield ("supplies", key, "outlet_area"), "belongs to a [riser], which is missing: the duct that the outlet is on"
        if riser is not None and area is None:
            yield ("supplies", key, "outlet_area"), "is missing: with a [riser] every outlet states what it costs"


def outlets_told(site):
    """(key, sentence) of what a stair with several outlets leaves open of what they cost, and what is taken instead."""
    supplies = getattr(site, "supplies", ())
    levels = ", ".join(str(supply.level) for supply in supplies)
    if len(supplies) > 1 and site.riser is None:
        shares = ", ".join(f"{100 * supply.share:.3g} %" for supply in supplies)
        said = f"Outlets on storeys {levels}, and the duct between them: what they cost is not stated"
        yield "supplies.outlet_area", f"{said}; shares of the fan taken as fixed, {shares}."
    if getattr(site, "riser", None) is None:
        return
    bare = [str(supply.level) for supply in supplies if supply.outlet_loss_coefficient is None]
    if bare:
        said = f"Outlet on storey {', '.join(bare)}: no loss coefficient stated; taken as an orifice"
        yield "supplies.outlet_loss_coefficient", f"{said} of {site.leakage.discharge_coefficient:g}."
