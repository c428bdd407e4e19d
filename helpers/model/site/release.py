"""Air release of the fire floor: the way out for the air that comes in through the open stair door of that floor.

Without one the floor fills up to the stair's pressure, and hardly any air goes through the door. It opens in a fire, on the fire floor
alone. Which of these kinds a code allows, and what opens them, code and approved design decide.
"""

from typing import Literal

import numpy as np

from helpers.formulas.air import STANDARD_DENSITY_KG_M3
from helpers.model.site import field_types as of

KINDS = {
    "none": "none",
    "vent": "a vent in the facade",
    "window": "a window that stands open",
    "extract": "an extract duct to the roof, without a fan of its own",
}


class Release(of.SiteTable):
    """Air release: `area_m2` is its free area on one floor, `levels` the storeys that have one (none named: all with a stair door).

    `faces_deg`: where a vent or window looks to. `duct_loss_pa` at `duct_loss_flow_m3_s`: what an extract's duct and outlet cost besides
    the grille, at standard density; the areas of other storeys' shut dampers leak nothing."""

    kind: Literal["none", "vent", "window", "extract"]
    area_m2: of.OpenArea | None = None
    discharge_coefficient: of.DischargeCoefficient | None = None
    faces_deg: of.Bearing | None = None
    duct_loss_pa: of.DuctLoss | None = None
    duct_loss_flow_m3_s: of.DuctFlow | None = None
    levels: of.Levels = ()

    @property
    def free_m2(self):
        """Free area on the fire floor [m2], 0 where there is none."""
        return self.area_m2 or 0.0

    @property
    def duct_area_m2(self):
        """The opening [m2, discharge coefficient 1] that costs as much pressure as the extract's duct: A = Q / sqrt(2 dp / rho)."""
        return self.duct_loss_flow_m3_s / float(np.sqrt(2 * self.duct_loss_pa / STANDARD_DENSITY_KG_M3))

    def coefficient(self, leaks):
        """Discharge coefficient of the opening: its own, or the building's."""
        return leaks.discharge_coefficient if self.discharge_coefficient is None else self.discharge_coefficient

    def on(self, level):
        """Whether a storey with a stair door has it."""
        return self.kind != "none" and (not self.levels or level in self.levels)


def release_is_whole(draft):
    """A release has an area, an extract its duct and no bearing, and stands on storeys that are there."""
    given = draft.sections.get("release")
    if given is None:
        return
    duct = {"duct_loss": given.duct_loss_pa, "duct_loss_flow": given.duct_loss_flow_m3_s}
    own = {"area": given.area_m2, "discharge_coefficient": given.discharge_coefficient, "faces": given.faces_deg, **duct}
    needed = {"none": (), "extract": ("area", *duct)}.get(given.kind, ("area",))
    allowed = {"none": (), "extract": ("discharge_coefficient", *needed)}.get(given.kind, ("area", "discharge_coefficient", "faces"))
    for key, value in own.items():
        if key in needed and value is None:
            yield ("release", key), f"is missing; air release of the kind {given.kind!r} needs it"
        if key not in allowed and value is not None:
            yield ("release", key), f"must be left out for air release of the kind {given.kind!r}: it has none"
    wrong = [str(level) for level in given.levels if draft.levels and level not in draft.levels]
    if wrong:
        yield ("release", "levels"), f"must be storeys from {min(draft.levels)} to {max(draft.levels)}; got {', '.join(wrong[:5])}"
    if len(set(given.levels)) < len(given.levels):
        yield ("release", "levels"), "must name each storey once"
