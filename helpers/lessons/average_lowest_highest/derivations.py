"""Which storey an average stands for, what a dead reading in it does to the others; by hand: how tall a stair one set point can serve."""

from functools import cache

import sympy

from helpers.formulas.combining import combine
from helpers.formulas.doors import pressure_at
from helpers.formulas.leakage import stair_height_limit
from helpers.teaching.derivation import Derivation, Line, Step, WorkedExample

__all__ = ["storey_of_the_average", "tallest_stair", "wrong_in_the_average"]


@cache
def storey_of_the_average():
    """On a straight profile a weighted average of two readings is the pressure at one height between them."""
    low, high, weight_low, weight_high = sympy.symbols("height_low height_high weight_low weight_high", positive=True)
    ground, gradient, height, held = sympy.symbols("pressure_0 gradient height average", real=True)

    def profile(at):
        return ground + gradient * at

    average = (weight_low * profile(low) + weight_high * profile(high)) / (weight_low + weight_high)
    same = sympy.Eq(held, profile(height))
    (found,) = sympy.solve(same.subs(held, average), height)
    off = sympy.factor(sympy.simplify(profile(height) - average).subs({weight_low: 1, weight_high: 1}))
    steps = (
        Step(
            "In winter the pressure across the doors rises with height, in a straight line as a first view:",
            sympy.Eq(sympy.Symbol("dp"), profile(height)),
        ),
        Step("Two transmitters read it at two heights, and the rule gives each a weight (equal ones: the plain average):", average),
        Step("At which height is the pressure itself just that average?", same),
        Step("Put the average in and solve. Pressure and gradient fall out: in any weather it is", sympy.Eq(height, sympy.simplify(found))),
        Step(
            "So an average holds one storey, the one half-way between equal transmitters. A door above or below it is off by",
            sympy.Eq(sympy.Symbol("off"), off),
        ),
    )  # fmt: skip
    symbols = (low, high, weight_low, weight_high)
    return Derivation("Which storey an average stands for", steps, sympy.simplify(found), symbols, "helpers.formulas.combining.combine")


@cache
def wrong_in_the_average():
    """A loop holds an average in which one reading is wrong and does not answer: what the good ones then read."""
    target, wrong, share, rest = sympy.symbols("set_point wrong_reading share rest", real=True)
    believed = share * wrong + (1 - share) * rest
    holds = sympy.Eq(believed, target)
    (solved,) = sympy.solve(holds, rest)
    above, below = solved.as_numer_denom()
    found = -above / -below  # the same with the signs as one would write them
    dead = found.subs(wrong, 0)

    def of(count):
        return sympy.Eq(rest, dead.subs(share, sympy.Rational(1, count)))

    steps = (
        Step("The controller believes the average. The wrong reading has its share in it (of two: a half), the good the rest:", believed),
        Step("The loop turns the fan until that is the set point:", holds),
        Step("Solve for the good ones:", sympy.Eq(rest, found)),
        Step("A dead transmitter reads zero:", sympy.Eq(rest, dead)),
        Step("One of two is dead: a share of a half, and the other goes to twice the set point:", of(2)),
        Step("One of three, with a share of a third:", of(3)),
    )  # fmt: skip
    formula = "helpers.formulas.combining.pressure_at_the_rest"
    return Derivation("A dead reading in an average", steps, found, (target, wrong, share), formula)


LEAST_PA, MOST_PA, GRADIENT_PA_M = 20.0, 80.0, 2.0


def tallest_stair():
    """A window of 20 to 80 Pa and a profile that rises by 2 Pa with each metre; transmitters at the bottom and at the top."""
    height = float(stair_height_limit(LEAST_PA, MOST_PA, GRADIENT_PA_M))
    bottom, top = LEAST_PA, float(pressure_at(height, LEAST_PA, 0.0, GRADIENT_PA_M))
    held = {rule: float(combine([bottom, top], rule)) for rule in ("average", "lowest", "highest")}
    given = (
        Line("Least across any door", "smoke", LEAST_PA, "pressure"),
        Line("Most across any door", "force at the handle", MOST_PA, "pressure"),
        Line("Rise with each metre, in Pa", "all of a hard winter's stack effect across the stair doors", GRADIENT_PA_M, "number", 0),
    )
    working = (
        Line("Bottom door, at its least", "the window's lower end", bottom, "pressure"),
        Line("Top door, if the stair is as tall as it may be", "bottom + gradient x height", top, "pressure"),
        Line("Set point for the average of a transmitter at each end", "(bottom + top) / 2", held["average"], "pressure"),
        Line("Set point for the lowest of them", "bottom", held["lowest"], "pressure"),
        Line("Set point for the highest of them", "top", held["highest"], "pressure"),
        Line("Tallest stair in which one set point serves every door", "(most - least) / gradient", height, "length", 0),
    )  # fmt: skip
    source = "Jensen, J. Fire Prot. Eng. 13(4) 2003, abstract"
    return WorkedExample("How tall may the stair be?", given, working, 30.0, 0.5, source, "seen in public text")
