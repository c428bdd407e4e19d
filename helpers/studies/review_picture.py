"""The picture of a review: every place that is to be held against its limits, with the strategy as it is; of a stair its shut doors."""

import numpy as np

from helpers import units
from helpers.studies.cases import AS_STATED
from helpers.studies.pictures import PressureProfile, Profile

__all__ = ["review_profile"]

MOST_PROFILES = 5


def review_profile(bench, system="Pa"):
    """What there is at every place in the cases that are to be held, from the lowest up. Returns `PressureProfile`.

    bench: a `LoopBench`; system: one of units.SYSTEMS. The fan ends where the strategy takes it, a wrong action included. Cases: as stated
    first, then the worst of the others, MOST_PROFILES in all.
    """
    held, label = bench.resting, units.unit_label(bench.dimension, system)
    there = bench.places_there
    least, most = (np.broadcast_to(ends, held.places.shape)[bench.settled] for ends in bench.limits)
    ends = (least.max(axis=0), most.min(axis=0))
    least, most = (np.where(np.isfinite(end) & there, end, np.nan) for end in ends)

    def shown(values):
        return units.to_display(np.asarray(values, float), bench.dimension, system)

    return PressureProfile(
        key="review",
        title=f"{bench.site.name}, the strategy as it is, {bench.settled_words}",
        caption="",
        x_label=f"{bench.places_label} [{label}]",
        y_label=bench.place_label,
        rule=bench.strategy.loop.rule,
        levels=bench.place_names,
        heights=np.asarray(bench.place_heights(system)),
        least=shown(least),
        most=shown(most),
        profiles=tuple(_profile(bench, place, there, shown) for place in _chosen(bench)),
        transmitter_names=tuple(one.name for one in bench.strategy.inputs),
        transmitter_places=tuple(bench.input_places),
        set_point=float(shown(bench.set_point)),
    )


def _chosen(bench):
    """Cases to be drawn: those as stated, then the worst of the others."""
    settled = np.flatnonzero(bench.settled)
    least, most = (np.broadcast_to(ends, bench.resting.places.shape) for ends in bench.limits)
    room = np.minimum(bench.resting.places - least, most - bench.resting.places).min(axis=1)
    stated = [place for place in settled if getattr(bench.cases[place], "stair", AS_STATED) == AS_STATED]
    others = sorted((place for place in settled if place not in stated), key=lambda place: room[place])
    first = stated if len(stated) <= MOST_PROFILES else sorted(stated, key=lambda place: room[place])[:MOST_PROFILES]
    return [*first, *others[: MOST_PROFILES - len(first)]]


def _profile(bench, place, there, shown):
    held, tolerance = bench.resting, bench.tolerance_pa
    least, most = (np.broadcast_to(ends, held.places.shape)[place] for ends in bench.limits)
    values = held.places[place]
    return Profile(
        bench.cases[place].name.replace(", doors shut", ""), shown(np.where(there, values, np.nan)), (values < least - tolerance) & there,
        (values > most + tolerance) & there, np.zeros(len(there), bool), str(held.state[place]), float(held.speed_hz[place]),
        shown(held.tubes_pa[place]),
    )  # fmt: skip
