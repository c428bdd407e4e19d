"""What to predict before the picture: the top door of a stair in winter, and a wider leaf."""

from functools import cache

from helpers import units
from helpers.lessons.exercise import Chosen
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.stair_window import ROOM_C, SimpleStair

__all__ = ["PREDICTIONS", "top_door", "wider_leaf"]

SAME, EASY, HEAVY, LESS = (
    "the same as at the lowest door",
    "more, but anybody may still be asked to open it",
    "so much more that nobody may be asked to open it",
    "less than at the lowest door",
)
MORE_BORNE, AS_MUCH, LESS_BORNE = "more pressure", "as much", "less pressure"
WIDE_M = 1.20


@cache
def _stair():
    return SimpleStair()


def _ask_top(system):
    stair = _stair()
    least, limit, closer = (
        units.show(value, dimension, system)
        for value, dimension in ((stair.least_pa, "pressure"), (stair.force_limit_n, "force"), (stair.closer_n, "force"))
    )
    out, room = (units.show(temp, "temperature", system) for temp in (stair.outdoor_c, ROOM_C))
    return (
        f"A stair of {stair.storeys} storeys in winter, {out} outdoors and {room} in stair and rooms, the windows of the floors open "
        "(so that the floors have the outdoor pressure, and all of the stack effect lies on the stair doors). A fan keeps "
        f"{least} across the lowest stair door. Every closer takes {closer}; {limit} is allowed at a handle. How much pressure stands "
        "across the highest door?"
    )


def _find_top(system):
    stair = _stair()
    low, high = (units.show(pressure, "pressure", system) for pressure in (stair.door_pa[0], stair.door_pa[-1]))
    force, limit = (units.show(value, "force", system) for value in (stair.force_n[-1], stair.force_limit_n))
    right = SAME if stair.stack_pa < 1 else EASY if stair.left_pa >= 0 else HEAVY
    words = (
        f"{low} at the lowest door, {high} at the highest, where it takes {force} to open ({limit} is allowed). Warm air in the stair "
        "weighs less than the cold air outdoors, so the difference grows with every storey, whatever the fan does."
    )
    return Outcome(Chosen(right, (SAME, EASY, HEAVY, LESS)), words)


def _ask_wide(system):
    narrow, wide = (units.show(width, "length", system) for width in (_stair().width_m, WIDE_M))
    return (
        f"The door of a stair is {narrow} wide. Somebody wants {wide}, with the same closer and the handle as near to the edge. The handle "
        "is then further from the hinges, and a longer lever is easier to pull. What does the wider door bear?"
    )


def _find_wide(system):
    stair = _stair()
    wide = stair.but(width_m=WIDE_M)
    before, after = (units.show(one.most_pa, "pressure", system) for one in (stair, wide))
    right = LESS_BORNE if wide.most_pa < stair.most_pa else MORE_BORNE if wide.most_pa > stair.most_pa else AS_MUCH
    words = (
        f"{before} with the narrow leaf, {after} with the wide one. The lever of the hand does grow with the width; but the lever of the "
        "air grows as well, and so does the area it presses on. The width counts twice against you and once for you."
    )
    return Outcome(Chosen(right, (MORE_BORNE, AS_MUCH, LESS_BORNE)), words)


top_door = Prediction("top door", _ask_top, _find_top, (SAME, EASY, HEAVY, LESS))
wider_leaf = Prediction("wider leaf", _ask_wide, _find_wide, (MORE_BORNE, AS_MUCH, LESS_BORNE))
PREDICTIONS = (top_door, wider_leaf)
