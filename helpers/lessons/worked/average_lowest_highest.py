"""How tall a stair one set point can serve, and which set point each rule then needs, by hand."""

from helpers.formulas.combining import combine
from helpers.formulas.leakage import stair_height_limit
from helpers.formulas.straight_profile import pressure_at
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["tallest_stair"]

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
