"""From one weather to another while the loop holds; a leak's exponent from two rounds; the wall behind a door; a tall shaft by hand."""

from functools import cache

from helpers import units
from helpers.formulas import air
from helpers.lessons.tested_in_may.day import by_hand, gradients
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved

__all__ = ["another_weather", "shaft_of_200_feet", "two_rounds", "wall_behind"]

FLOWS_M3_S, PRESSURES_PA = (1.496, 0.827), (41.0, 13.5)  # of the day's first and last round; the means over its stair doors


@cache
def another_weather():
    """What is held stays; everything else moves by its height times the change of the stack effect."""
    then, now = (f"dp_{day} = door_share*(whole_held_pa + gradient_{day}_pa_m*height_m__held)" for day in ("then", "now"))
    held = "whole_held_pa = dp_then/door_share - gradient_then_pa_m*height_m__held"  # no figure of the page: friction and gauges are in it
    steps = (
        Step("At the height that its reading stands for, the loop keeps the stair over outdoors the same in both weathers. Above that "
             "height it grows by the stack effect of each metre. A door has its share of it. On the day of the test:", then),
        Step("In January, held at the same reading:", now),
        Step("The share, too, is read: the door, by the door and the floor behind it together:",
             "door_share = dp_then/(dp_then + dp_floor)"),
    )  # fmt: skip
    top, (before, after) = by_hand()[-1], gradients()
    return Derivation(
        "From the day of the test to another weather",
        "In words: what the loop holds stays, and each door moves by its height above that place. With the first round's pressure held "
        "in both weathers Larkfield's top door, {height_m__held} above it, had {dp_then} in May.",
        steps,
        Step("Take the first line from the second. What is held drops out; friction and gauges make it differ from door to door, the "
             "weather hardly:",
             "dp_now = dp_then + door_share*height_m__held*(gradient_now_pa_m - gradient_then_pa_m)",
             solved("dp_now", now, held)),
        ("dp_then", "height_m__held", "gradient_then_pa_m", "gradient_now_pa_m", "door_share"),
        "helpers.formulas.leakage.pressure_in_another_weather",
        {"dp_then": top.read_pa, "dp_floor": top.floor_pa, "height_m__held": top.height_m, "gradient_then_pa_m": before,
         "gradient_now_pa_m": after},
        end="Below that place the height is negative: the bottom door loses.",
    )  # fmt: skip


@cache
def two_rounds():
    """The factor drops out of the quotient of two rounds, the logarithm brings the exponent down."""
    quotient = "flow_1_m3_s/flow_2_m3_s = (dp_1__round/dp_2__round)**exponent"
    steps = (
        Step("The leak lets C Δp to the n through. Two rounds at two speeds; one by the other, C drops out:", quotient),
        Step("A logarithm brings the power down:", "ln(flow_1_m3_s/flow_2_m3_s) = exponent*ln(dp_1__round/dp_2__round)"),
    )  # fmt: skip
    return Derivation(
        "The exponent of a leak from two rounds",
        "In words: divide one flow by the other, and one pressure by the other; take both logarithms, and divide them. {flow_1_m3_s} at "
        "{dp_1__round} and "
        "{flow_2_m3_s} at {dp_2__round} make {exponent}.",
        steps,
        Step("Solve for the exponent:", "exponent = ln(flow_1_m3_s/flow_2_m3_s)/ln(dp_1__round/dp_2__round)",
             solved("exponent", "ln(flow_1_m3_s/flow_2_m3_s) = exponent*ln(dp_1__round/dp_2__round)")),
        ("flow_1_m3_s", "dp_1__round", "flow_2_m3_s", "dp_2__round"), "helpers.formulas.leakage.leak_exponent",
        dict(zip(("flow_1_m3_s", "flow_2_m3_s", "dp_1__round", "dp_2__round"), (*FLOWS_M3_S, *PRESSURES_PA), strict=True)),
        end="Outside 0.5 to 1 look at the readings, not for a leak.",
    )  # fmt: skip


@cache
def wall_behind():
    """The same air through door and wall: the areas stand as the roots of the pressures, turned round."""
    same = "area_stair_building_m2*sqrt(dp_then) = area_building_outside_m2*sqrt(dp_floor)"
    bottom = by_hand()[-1]
    return Derivation(
        "Door or outer wall?",
        "In words: of two gaps in a row the one with less pressure is the larger. With {dp_then} across the door and {dp_floor} across the "
        "wall behind it, a door whose gaps are {area_stair_building_m2} (taken as known: size comes from the fan's flow) has "
        "{area_building_outside_m2} in the wall behind it.",
        (Step("The floor over outdoors is read, too. With sharp gaps, and no air from floor to floor, the same air "
              "goes through the door's gaps and through the outer wall:", same),),
        Step("Solve for the wall:", "area_building_outside_m2 = area_stair_building_m2*sqrt(dp_then/dp_floor)",
             solved("area_building_outside_m2", same)),
        ("area_stair_building_m2", "dp_then", "dp_floor"), "helpers.formulas.leakage.area_behind",
        {"area_stair_building_m2": 0.024, "dp_then": bottom.read_pa, "dp_floor": bottom.floor_pa},
    )  # fmt: skip


HALF_HEIGHT, MAY_OUT, MAY_IN, COLD, WARM = "100 ft", "57 °F", "65 °F", "0 °F", "70 °F"
PUBLISHED, HALF_DIGIT = "0.22 in. w.c.", "0.005 in. w.c."


def shaft_of_200_feet():
    """A shaft of 200 ft in the weather of a published example, begun in May."""
    height = units.parse(HALF_HEIGHT, "length")
    temps = [units.parse(text, "temperature") for text in (MAY_OUT, MAY_IN, COLD, WARM)]
    then, now = float(air.stack_gradient(*temps[:2])), float(air.stack_gradient(*temps[2:]))
    given = (
        Row("Top of the shaft above the place that stays", HALF_HEIGHT, height, "length", 1, "height_m__held"),
        Row("May, outdoors", MAY_OUT, temps[0], "temperature", 1),
        Row("May, shaft", MAY_IN, temps[1], "temperature", 1),
        Row("January, outdoors", COLD, temps[2], "temperature", 1),
        Row("January, shaft", WARM, temps[3], "temperature", 1),
        Row("Share of the top, open to outdoors", "nothing behind it", 1.0, "number", 0, "door_share"),
    )
    working = (
        Row("Stack effect in May [Pa/m]", "3461.7 (1 / T_out - 1 / T_in), in kelvin (lesson 01)", then, "number", 3, "gradient_then_pa_m"),
        Row("Stack effect in January [Pa/m]", "the same", now, "number", 3, "gradient_now_pa_m"),
        Row("At the top in May, worked out as if read", "= gradient_then_pa_m*height_m__held", then * height, "pressure", (1, 3),
            "dp_then"),
        Row("What comes on top", "= door_share*height_m__held*(gradient_now_pa_m - gradient_then_pa_m)", (now - then) * height,
            "pressure", (1, 3)),
        Row("At the top in January", "= dp_then + door_share*height_m__held*(gradient_now_pa_m - gradient_then_pa_m)", now * height,
            "pressure", name="dp_now"),
    )  # fmt: skip
    return WorkedExample(
        "A shaft of 200 ft, from May to January", given, working, units.parse(PUBLISHED, "pressure"), units.parse(HALF_DIGIT, "pressure"),
        "Klote and Nelson, in Fire Protection Handbook, 18th ed., 7-6; also ASHRAE HVAC Applications",
        "from memory, not verified",
        "The place that stays is the neutral plane here, half way up, where shaft and outdoors have the same pressure: no fan runs. The "
        "source gives January alone: this checks the stack effect, not what a day in May reads.",
    )  # fmt: skip
