"""What to predict before the picture: which open door costs the most, a tighter outer wall, twice the set point."""

import math
from functools import cache

from helpers import units
from helpers.lessons.exercise import Chosen
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.leaky_stair import FIRST_DOORS, Asked, leaky_stair

__all__ = ["PREDICTIONS", "open_door", "tight_walls", "twice"]

FLOOR_DOOR, STREET_DOOR, ALIKE = "the stair door on floor 6", "the street door", "both about alike"
SLOWER, AS_FAST, FASTER = "clearly slower", "about as fast", "clearly faster"
SAME, HALF_MORE, TWICE, FOUR_TIMES = "about as much as before", "about half as much again", "twice as much", "four times as much"
NEAR = 1.1  # closer than this is alike
CLASSES = ((1.2, SAME), (1.75, HALF_MORE), (3.0, TWICE), (float("inf"), FOUR_TIMES))  # up to these ratios of flow
LOW_PA, HIGH_PA = 20.0, 40.0


@cache
def _duty(exterior_wall="average", relief=True, **asked):
    return leaky_stair(exterior_wall, relief=relief).duty(Asked(**asked))


def _flow(duty, system):
    return units.show(duty.flow_m3_s[0], "flow", system)


def _speed(duty, system):
    return units.show(duty.speed_hz, "frequency", system)


def _find_door(system):
    shut, floor, street = _duty(), _duty(open_doors=1), _duty(street_open=True)
    ratio = street.flow_m3_s[0] / floor.flow_m3_s[0]
    right = STREET_DOOR if ratio > NEAR else FLOOR_DOOR if ratio < 1 / NEAR else ALIKE
    ends = "holds" if street.held else "does not hold"
    words = (
        f"{_flow(shut, system)} with all doors shut, {_flow(floor, system)} with the door on floor {FIRST_DOORS[0]} open, "
        f"{_flow(street, system)} at {_speed(street, system)} with the street door open, and that {ends} the set point. Behind the door on "
        "the floor comes the outer wall, one behind the other, and its small gaps let little through. Behind the street door comes nothing."
    )
    return Outcome(Chosen(right, (FLOOR_DOOR, STREET_DOOR, ALIKE)), words)


def _find_walls(system):
    average, tight, without = _duty(), _duty("tight"), _duty("tight", relief=False)
    ratio = tight.speed_hz / average.speed_hz
    right = FASTER if ratio > NEAR else SLOWER if ratio < 1 / NEAR else AS_FAST
    words = (
        f"{_speed(average, system)} with average walls, {_speed(tight, system)} with tight ones. Air that has come through the "
        "doors cannot get away from the floors, so their pressure rises, and the stair must go higher still to stay the set point above "
        f"them. Here it then pushes the relief damper open. Without the damper the fan would need {_speed(without, system)}."
    )
    return Outcome(Chosen(right, (SLOWER, AS_FAST, FASTER)), words)


def _find_twice(system):
    low, high = (_duty(set_point_pa=point) for point in (LOW_PA, HIGH_PA))
    ratio = high.flow_m3_s[0] / low.flow_m3_s[0]
    right = next(words for most, words in CLASSES if ratio <= most)
    words = (
        f"{_flow(low, system)} and {_flow(high, system)}, {ratio:.2f} times as much. Through a gap the flow goes with the square root of "
        f"the pressure, so twice the pressure takes {math.sqrt(HIGH_PA / LOW_PA):.2f} times the flow; stack effect and fine cracks shift "
        "that a little. The power from the mains goes from "
        f"{units.show(low.power_w[0], 'power', system)} to {units.show(high.power_w[0], 'power', system)}."
    )
    return Outcome(Chosen(right, (SAME, HALF_MORE, TWICE, FOUR_TIMES)), words)


def _ask_door(system):
    asked = Asked()
    point, out = units.show(asked.set_point_pa, "pressure", system), units.show(asked.outdoor_c, "temperature", system)
    return (
        f"Larkfield House, 14 storeys, {out} outdoors. Two transmitters at stair doors read the pressure, the fan holds their average at "
        f"{point}, and all doors are shut. Then one door is opened and stays open: either the stair door on floor 6, where all windows are "
        "shut, or the street door, from the stair to outdoors. Which costs the fan more air?"
    )


def _ask_walls(system):
    return (
        "The same building, all doors shut. Somebody has sealed the outer walls of the flats: their leaks are 'tight' now, where they were "
        f"'average'. The stair has a relief damper. The fan still holds {units.show(Asked().set_point_pa, 'pressure', system)} between "
        "stair and floors. How fast does it turn?"
    )


def _ask_twice(system):
    low, high = (units.show(point, "pressure", system) for point in (LOW_PA, HIGH_PA))
    return f"The set point is raised from {low} to {high}, all doors shut. How much air does the fan have to give?"


open_door = Prediction("open door", _ask_door, _find_door, (FLOOR_DOOR, STREET_DOOR, ALIKE))
tight_walls = Prediction("tight walls", _ask_walls, _find_walls, (SLOWER, AS_FAST, FASTER))
twice = Prediction("twice", _ask_twice, _find_twice, (SAME, HALF_MORE, TWICE, FOUR_TIMES))
PREDICTIONS = (open_door, tight_walls, twice)
