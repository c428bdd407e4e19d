"""One speed for all cases: what it leaves at either end where none suits every shut door."""

import numpy as np

from helpers.studies.fallback.cells import worst_cells
from helpers.studies.fallback.failures import SPEED

__all__ = ["ends_left"]


def ends_left(air, places, chosen, cases, holdable, tolerance_pa):
    """The two ends of what one speed leaves, as `Cell`s, where none suits every shut door of some cases.

    air: `FailureAir`; places [speeds tried, cases]; chosen: number of the fallback speed among them; cases, holdable [cases]: the cases
    asked about, and whether any speed holds each. First the door with most too little at the highest speed that gives none too much; then
    the one with most too much at the fallback speed, or, where that gives none too much, at the lowest speed that gives none too little.
    An end without such a speed is left out.
    """
    little, much = (0, 1) if air.effect > 0 else (1, 0)
    rooms = air.rooms(places)[:, :, cases].min(axis=(2, 3))
    safe, enough = (np.flatnonzero(rooms[end] >= -tolerance_pa) for end in (much, little))
    most = [chosen] if rooms[much, chosen] < -tolerance_pa else enough[:1]

    def worst(number, end):
        cells = worst_cells(air, SPEED, "", places[number : number + 1], cases[None], holdable, cases, end)
        return min(cells, key=lambda cell: cell.rooms_pa[end])

    return (*(worst(one, little) for one in safe[-1:]), *(worst(one, much) for one in most))
