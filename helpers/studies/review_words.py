"""What findings of a review say alike: pressures and forces in words, the worst door of some cases."""

import numpy as np

from helpers import units
from helpers.studies.figures import Finding
from helpers.studies.window import handle_force_n

__all__ = ["attention", "force_at", "pa", "too_heavy", "too_low", "wrong"]


def pa(value_pa, system, digits=None):
    """A pressure in words."""
    return units.show(float(value_pa), "pressure", system, digits)


def wrong(what, figure, why, source, remedy):
    """Something that keeps the loop from doing its job."""
    return Finding("wrong", what, figure, why, source, remedy)


def attention(what, figure, why, source, remedy):
    """Something that works, but that somebody has to look at."""
    return Finding("attention", what, figure, why, source, remedy)


def force_at(bench, storey, dp_pa):
    """Force [N] at the handle of a storey's stair door that opens against the pressure; None where nobody has to pull against it."""
    kind = bench.site.storeys[storey].stair_door
    door = bench.site.doors[kind] if kind else None
    return None if door is None or door.opens == "with pressure" else handle_force_n(door, max(float(dp_pa), 0.0))


def too_low(bench, held, cases, system):
    """The worst shut stair door below its least, over some cases (True or False a case), in words; empty where none is."""
    least, _ = bench.limits
    short = np.where(cases[:, None], least - held.doors_pa, -np.inf)
    case, storey = np.unravel_index(short.argmax(), short.shape)
    if short[case, storey] <= bench.tolerance_pa:
        return ""
    reading, asked = pa(held.doors_pa[case, storey], system), pa(least[storey], system)
    return f"level {bench.tower.levels[storey]} has {reading} where {asked} is asked for ({bench.cases[case].name})"


def too_heavy(bench, held, cases, system):
    """The worst shut stair door beyond its most, over some cases, in words with its force; empty where none is."""
    _, most = bench.limits
    over = np.where(cases[:, None], held.doors_pa - most, -np.inf)
    case, storey = np.unravel_index(over.argmax(), over.shape)
    if over[case, storey] <= bench.tolerance_pa:
        return ""
    dp = held.doors_pa[case, storey]
    force = force_at(bench, storey, dp)
    taken = f", {units.show(force, 'force', system)} at the handle," if force is not None else ""
    where = f"level {bench.tower.levels[storey]} has {pa(dp, system)}"
    return f"{where}{taken} where {pa(most[storey], system)} is the most ({bench.cases[case].name})"
