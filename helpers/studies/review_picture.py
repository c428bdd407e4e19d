"""The picture of a review: every shut stair door against its window, with the strategy as it is and entered rightly."""

import numpy as np

from helpers import units
from helpers.studies.pictures import PressureProfile, Profile

__all__ = ["review_profile"]


def review_profile(bench, system="Pa"):
    """Pressure across the stair doors, storey by storey, in every case with all doors shut. Returns `PressureProfile`.

    bench: `ReviewBench`; system: one of units.SYSTEMS. The fan ends where the strategy takes it, a wrong action included.
    """
    storeys = bench.site.storeys
    doors = np.array([bool(storey.stair_door and storey.stair_door_count) for storey in storeys])
    least, most = (np.where(np.isfinite(ends) & doors, ends, np.nan) for ends in bench.limits)

    def shown(values):
        return units.to_display(np.asarray(values, float), "pressure", system)

    profiles = tuple(_profile(bench, place, doors, shown) for place in np.flatnonzero(bench.shut))
    return PressureProfile(
        key="review",
        title=f"{bench.site.name}, the strategy as it is, doors shut",
        caption="",
        x_label=f"Pressure across the stair door [{units.unit_label('pressure', system)}]",
        y_label="Storey",
        rule=bench.strategy.loop.rule,
        levels=tuple(str(level) for level in bench.tower.levels),
        heights=np.asarray(units.to_display(bench.tower.elevation_m, "length", system)),
        least=shown(least),
        most=shown(most),
        profiles=profiles,
        transmitter_names=tuple(one.name for one in bench.strategy.inputs),
        transmitter_places=tuple(bench.tower.storey(one.level) for one in bench.strategy.inputs),
        set_point=float(shown(bench.strategy.set_point_pa)),
    )


def _profile(bench, place, doors, shown):
    held, (least, most), tolerance = bench.resting, bench.limits, bench.tolerance_pa
    dp = held.doors_pa[place]
    return Profile(
        bench.cases[place].name.removesuffix(", doors shut"), shown(np.where(doors, dp, np.nan)), (dp < least - tolerance) & doors,
        (dp > most + tolerance) & doors, np.zeros(len(doors), bool), str(held.state[place]), float(held.speed_hz[place]),
        shown(held.tubes_pa[place]),
    )  # fmt: skip
