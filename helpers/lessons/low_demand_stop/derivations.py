"""The lowest speed that reaches a pressure, from the similarity laws; starts an hour of a source that fills a store, what a motor bears."""

from functools import cache

import sympy

from helpers.formulas import low_demand
from helpers.studies.low_demand.judgement import minutes
from helpers.teaching.derivation import Derivation, Line, Step, WorkedExample

__all__ = ["cycles", "most_cycles", "motor_starts", "shutoff_speed"]

STORE, DEMAND, SOURCE = sympy.symbols("store_m3 demand_m3_s source_m3_s", positive=True)


@cache
def shutoff_speed():
    """From p ~ n squared to the speed ratio at which the shut-off pressure just equals the set point."""
    pressure, shutoff = sympy.symbols("pressure_pa shutoff_pressure_pa", positive=True)
    speed, full, tip, density, factor = sympy.symbols("speed full_speed tip_speed density factor", positive=True)
    ratio = sympy.Symbol("speed_ratio", positive=True)
    makes = sympy.Eq(sympy.Symbol("fan_pressure"), factor * density * tip**2)
    with_speed = makes.rhs.subs(tip, sympy.Symbol("radius", positive=True) * speed)
    law = sympy.simplify(with_speed / with_speed.subs(speed, full))
    at_ratio = sympy.simplify(law.subs(speed, ratio * full))
    reaches = sympy.Eq(pressure, shutoff * at_ratio)
    (result,) = sympy.solve(reaches, ratio)
    steps = (
        Step("A wheel throws the air off its rim. The pressure it makes goes with the air's density and the rim's speed squared:", makes),
        Step("The rim's speed is radius times turning speed. Divide by the same at full speed, and wheel and air drop out:", law),
        Step("Call the speed as a share of full speed `speed_ratio`. What is left is its square:", at_ratio),
        Step("With no flow the fan makes its shut-off pressure, reduced by that square. Let it only just reach the set point:", reaches),
        Step("Solve for the speed ratio. Mind the root: a quarter of the pressure takes half the speed.", sympy.Eq(ratio, result)),
    )
    return Derivation(
        "The slowest speed that reaches a pressure", steps, result, (pressure, shutoff), "helpers.formulas.fan.lowest_speed_for"
    )


@cache
def cycles():
    """From the time to fill and the time to empty a store to the starts an hour."""
    fill, empty = sympy.Symbol("fill_s"), sympy.Symbol("empty_s")
    filling, emptying = STORE / (SOURCE - DEMAND), STORE / DEMAND
    cycle = sympy.together(filling + emptying)
    result = sympy.expand(3600 / cycle)
    steps = (
        Step("While the source runs, what is not asked for fills the store:", sympy.Eq(fill, filling)),
        Step("While it stands, the store serves the demand:", sympy.Eq(empty, emptying)),
        Step("One start to the next is both together:", sympy.Eq(sympy.Symbol("cycle_s"), cycle)),
        Step("An hour has 3600 s, so starts an hour are:", result),
    )
    symbols = (STORE, DEMAND, SOURCE)
    return Derivation("Starts an hour of a store that is filled", steps, result, symbols, "helpers.formulas.low_demand.cycles_per_hour")


@cache
def most_cycles():
    """The demand with most starts, by the derivative, and how many these are."""
    starts = cycles().result
    slope = sympy.factor(sympy.diff(starts, DEMAND))
    (worst,) = sympy.solve(slope, DEMAND)
    result = sympy.simplify(starts.subs(DEMAND, worst))
    steps = (
        Step("Little demand empties the store slowly, great demand lets it fill slowly: most starts lie in between. The slope:", slope),
        Step("The top is where the slope is nothing, at half of what the source gives:", sympy.Eq(DEMAND, worst)),
        Step("Put in, that is the most:", result),
    )
    return Derivation("Most starts an hour", steps, result, (STORE, SOURCE), "helpers.formulas.low_demand.most_cycles_per_hour")


HP, INERTIA_KG_M2 = 10, 0.1
STOP_AFTER_S, RESTART_AFTER_S = 60.0, 30.0


def motor_starts():
    """A four-pole motor of 10 hp with a light fan wheel: which of the table's two limits holds."""
    row = next(row for row in low_demand.NEMA_MG10_STARTS if row[0] == HP)
    power_w = HP * low_demand.WATTS_PER_HORSEPOWER
    inertia = INERTIA_KG_M2 / low_demand.KG_M2_PER_LB_FT2
    allowed = low_demand.starts_allowed(power_w, INERTIA_KG_M2)
    hasty = float(low_demand.fastest_cycles_per_hour(STOP_AFTER_S, RESTART_AFTER_S))
    given = (
        Line("Motor, four poles, switched straight onto the mains", f"{HP} hp on the plate", power_w, "power"),
        Line("Inertia of the wheel at the motor's shaft [kg m²]", "from the fan's data sheet", INERTIA_KG_M2, "number", 1),
        Line("Table, column B: starts an hour times inertia [lb ft²/h]", f"row of {HP} hp", row[2], "number", 0),
    )
    working = (
        Line("Inertia in the table's unit [lb ft²]", f"{INERTIA_KG_M2:g} / {low_demand.KG_M2_PER_LB_FT2:.5f}", inertia, "number", 2),
        Line("Starts an hour that the inertia allows", f"{row[2]} / {inertia:.2f}", row[2] / inertia, "number", 1),
        Line("Least time from start to start", "3600 / starts an hour", 3600 / float(allowed.per_hour), "time", 0),
        Line("Starts an hour that the motor bears: the lesser of this and column A", f"column A, row of {HP} hp", float(allowed.per_hour),
             "number", 1),
    )  # fmt: skip
    explained = (
        f"A rest of {float(allowed.rest_s):.0f} s belongs to it (column C). A stop with waits of {minutes(STOP_AFTER_S)} and "
        f"{minutes(RESTART_AFTER_S)} lets up to {hasty:.0f} starts an hour through: the table tells at once that this cannot be left so."
    )
    source = "NEMA MG 10-2001 table 2-3, four poles"
    return WorkedExample(
        "How many starts an hour does this motor bear?", given, working, 12.5, 0.05, source, "seen in public text", explained
    )
