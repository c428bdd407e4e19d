"""Which storey an average stands for, and what a dead reading in it does to the others."""

from functools import cache

import sympy

from helpers.lessons.derivation import Derivation, Step

__all__ = ["storey_of_the_average", "wrong_in_the_average"]


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
    formula = "helpers.formulas.wrong_reading.pressure_at_the_rest"
    return Derivation("A dead reading in an average", steps, found, (target, wrong, share), formula)
