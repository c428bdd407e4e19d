"""Low sides that end in unlike spaces.

A reading over a lobby is the stair door's own; one over the floor is stair door and lobby door together. Each may be right for its
storey, and the set point that combines them stands for neither: it moves when a lobby door is wedged open, and no gauge on site reads it.
"""

import numpy as np

from helpers.formulas.combining import combine
from helpers.studies.report import NETWORK, Finding, fine, listed

SPACES = {"floor": "the floor", "lobby": "the lobby", "outdoors": "outdoors"}


def unlike_low_sides(tower, air, shut, rule, weights=None):
    """Tell that the transmitters measure against unlike spaces, and by how much the reading differs from one that is all over the floor.

    tower, air: `Tower` and its `Air` at the speeds the loop holds [conditions]; shut: True where all doors are shut [conditions]; rule,
    weights: as in `formulas.combining`. Returns a tuple of `Finding`: none where all low sides end in a like
    space or there is one transmitter. Source: common practice, no source.
    """
    transmitters = tower.site.transmitters
    used = {one.reference for one in transmitters}
    if len(used) < 2:
        return ()
    over_floor = [one.model_copy(update={"reference": "floor"}) for one in transmitters]
    own, alike = (tower.readings(air, taps)[shut] for taps in (transmitters, over_floor))
    shown, floors = (combine(readings, rule, weights=weights) for readings in (own, alike))
    place = int(np.abs(floors - shown).argmax())
    ends = listed(f"{one.name} over {SPACES[one.reference]}" for one in transmitters)
    parts = " and ".join(fine(value) for value in own[place])
    return (
        Finding(
            "wrong", f"The low sides end in unlike spaces: {ends}",
            f"{parts}, {rule} {fine(shown[place])}; all over the floor it would be {fine(floors[place])}",
            "a set point for two different pressures stands for neither, and moves when a lobby door is wedged open",
            f"{NETWORK}; common practice, no source",
            "end all low sides in like spaces, or give each reading a loop and limits of its own",
        ),
    )  # fmt: skip
