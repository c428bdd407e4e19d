"""Which storey an average stands for, what a dead reading in it does to the others; by hand: how tall a stair one set point can serve."""

from functools import cache

from helpers.formulas.combining import combine, pressure_at_the_rest
from helpers.formulas.doors import pressure_at
from helpers.formulas.leakage import stair_height_limit
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified

__all__ = ["storey_of_the_average", "tallest_stair", "wrong_in_the_average"]


@cache
def storey_of_the_average():
    """On a straight profile a weighted average of two readings is the pressure at one height between them."""
    at = "dp_ground + stack_gradient_pa_m*{}".format
    readings = f"dp_1 = {at('height_1')}; dp_2 = {at('height_2')}"
    average = "average = (weight_1*dp_1 + weight_2*dp_2)/(weight_1 + weight_2)"
    same = f"average = {at('height_held')}"
    steps = (
        Step("In winter the pressure across the doors rises with height, in a straight line as a first view. Two transmitters read it at "
             "two heights:", readings),
        Step("The rule gives each a weight (equal ones: the plain average):", average),
        Step("At which height is the pressure itself just that average?", same),
    )  # fmt: skip
    result = Step("Put the readings in and solve. Pressure and gradient fall out: it is so in any weather.",
                  "height_held = (weight_1*height_1 + weight_2*height_2)/(weight_1 + weight_2)",
                  solved("height_held", same, average, *readings.split(";")))  # fmt: skip
    return Derivation(
        "Which storey an average stands for",
        "In words: the average of two transmitters holds the storey half-way between them. In an example stair, not Larkfield House, read "
        "at {height_1} and at {height_2}, it is the pressure at {height_held}.",
        steps, result, ("height_1", "height_2", "weight_1", "weight_2"), "helpers.formulas.combining.combine",
        {"height_1": 3.0, "height_2": 39.0, "weight_1": 1.0, "weight_2": 1.0, "dp_ground": 24.0, "stack_gradient_pa_m": 0.8,
         "height_door": 42.0},
        (Step("A door above or below that storey is off by:", "dp_off = stack_gradient_pa_m*(height_door - height_held)",
              sympified(f"{at('height_door')} - ({at('height_held')})")),),
    )  # fmt: skip


@cache
def wrong_in_the_average():
    """A loop holds an average in which one reading is wrong and does not answer: what the good ones then read."""
    holds = "set_point = share*wrong_reading + (1 - share)*rest"
    two, three = (float(pressure_at_the_rest(1.0, 0.0, 1 / count)) for count in (2, 3))
    return Derivation(
        "A dead reading in an average",
        "In words: the good readings must make up for the wrong one. One of two transmitters is dead and reads {wrong_reading}: to hold an "
        "average of {set_point}, the loop drives the other to {rest}.",
        (Step("The wrong reading has its share in the average (of two: a half), the good ones the rest. The loop turns the fan until that "
              "is the set point:", holds),),
        Step("Solve for the good ones:", "rest = (set_point - share*wrong_reading)/(1 - share)", solved("rest", holds)),
        ("set_point", "wrong_reading", "share"), "helpers.formulas.combining.pressure_at_the_rest",
        {"set_point": 40.0, "wrong_reading": 0.0, "share": 0.5},
        end=f"A dead transmitter reads zero: of two, the other goes to {two:g} times the set point; of three, the others to {three:g}.",
    )  # fmt: skip


LEAST_PA, MOST_PA, GRADIENT_PA_M = 20.0, 80.0, 2.0


def tallest_stair():
    """A window of 20 to 80 Pa and a profile that rises by 2 Pa with each metre; transmitters at the bottom and at the top."""
    height = float(stair_height_limit(LEAST_PA, MOST_PA, GRADIENT_PA_M))
    bottom, top = LEAST_PA, float(pressure_at(height, LEAST_PA, 0.0, GRADIENT_PA_M))
    held = {rule: float(combine([bottom, top], rule)) for rule in ("average", "lowest", "highest")}
    given = (
        Row("Minimum across any door", "smoke", LEAST_PA, "pressure", name="dp_least"),
        Row("Maximum across any door", "force at the handle", MOST_PA, "pressure", name="dp_most"),
        Row("Rise with each metre [Pa/m]", "all of a hard winter's stack effect across the stair doors", GRADIENT_PA_M, "number", 0,
             "stack_gradient_pa_m"),
    )  # fmt: skip
    working = (
        Row("Bottom door, at its minimum", "= dp_least", bottom, "pressure", name="dp_bottom_pa"),
        Row("Top door, at its maximum", "= dp_most", top, "pressure", name="dp_top_pa"),
        Row("Set point for the average of a transmitter at each end", "= (dp_bottom_pa + dp_top_pa)/2", held["average"], "pressure"),
        Row("Set point for the lowest of them", "= dp_bottom_pa", held["lowest"], "pressure"),
        Row("Set point for the highest of them", "= dp_top_pa", held["highest"], "pressure"),
        Row("Tallest stair in which one set point serves every door", "= (dp_most - dp_least)/stack_gradient_pa_m", height, "length", 0,
             "height_m__stair"),
    )  # fmt: skip
    source = "Jensen, J. Fire Prot. Eng. 13(4) 2003, abstract"
    return WorkedExample("How tall may the stair be?", given, working, 30.0, 0.5, source, "checked in public text")
