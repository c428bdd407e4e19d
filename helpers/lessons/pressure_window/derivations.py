"""The force at a door's handle from moments about the hinges, what a door bears (one by hand), how a stack pressure grows with height."""

from functools import cache

import sympy

from helpers import units
from helpers.formulas import air, doors
from helpers.teaching.derivation import Derivation, Less, Line, Step, WorkedExample

__all__ = ["door_force", "door_of_the_table", "door_pressure", "stack"]

WIDTH, HEIGHT = sympy.symbols("width_m height_m", positive=True)
HANDLE = sympy.Symbol("handle_to_edge_m", nonnegative=True)
CLOSER = sympy.Symbol("closer_force_n", nonnegative=True)
DP = sympy.Symbol("dp_pa", real=True)


@cache
def door_force():
    """Moments about the hinges, solved for the force at the handle."""
    force, x, lever = sympy.symbols("force_n x lever", positive=True)
    strip = DP * HEIGHT * x
    turns = sympy.integrate(strip, (x, 0, WIDTH))
    balance = sympy.Eq(force * lever, CLOSER * lever + turns)
    (found,) = sympy.solve(balance, force)
    result = sympy.expand(found).subs(lever, WIDTH - HANDLE)
    steps = (
        Step(
            "Cut the leaf into upright strips. The strip at a distance x from the hinges is pushed with the pressure times its area, and "
            "turns the leaf with that force times x:",
            strip,
        ),
        Step("Add up all strips from the hinges (0) to the latch edge (the width):", turns),
        Step(
            "The hand pulls at the handle, at its lever from the hinges. The closer is stated as what it takes at the same handle. When "
            "the leaf just begins to move, the moments are equal:",
            balance,
        ),
        Step(
            "Solve for the force at the handle; its lever is the width of the leaf less the distance from handle to edge:",
            sympy.Eq(force, sympy.expand(found).subs(lever, Less(WIDTH, HANDLE))),
        ),
    )
    symbols = (DP, WIDTH, HEIGHT, CLOSER, HANDLE)
    return Derivation("The force at the handle", steps, result, symbols, "helpers.formulas.doors.opening_force")


@cache
def door_pressure():
    """The same turned round: the pressure at which the force reaches its limit."""
    limit = sympy.Symbol("force_limit_n", positive=True)
    lever, spare = sympy.symbols("lever spare", positive=True)
    reaches = sympy.Eq(limit, door_force().result.subs(WIDTH - HANDLE, lever))
    (found,) = sympy.solve(reaches, DP)
    found = sympy.simplify(found.subs(limit, CLOSER + spare))
    result = found.subs({spare: limit - CLOSER, lever: WIDTH - HANDLE})
    growth = sympy.diff(result, CLOSER).subs(WIDTH - HANDLE, Less(WIDTH, HANDLE))
    steps = (
        Step("Let the force at the handle just reach its limit; lever is the hand's, as before:", reaches),
        Step("Solve for the pressure; spare is what the closer leaves of the limit:", sympy.Eq(DP, found)),
        Step(
            "Put in again what spare and lever stand for. That is the upper end of the window:",
            sympy.Eq(DP, found.subs({spare: Less(limit, CLOSER), lever: Less(WIDTH, HANDLE)})),
        ),
        Step("How it changes for one newton more in the closer. The minus says that it falls, and always by the same:", growth),
    )
    symbols = (limit, WIDTH, HEIGHT, CLOSER, HANDLE)
    return Derivation("The most pressure a door bears", steps, result, symbols, "helpers.formulas.doors.pressure_tolerated")


@cache
def stack():
    """Two columns of air beside each other: how their difference of pressure grows with height."""
    out_c, in_c = sympy.symbols("temp_out_c temp_in_c", real=True)
    pressure, gravity, gas, warm, cold_k, warm_k = sympy.symbols("pressure_pa g R T T_outdoors T_indoors", positive=True)
    density = sympy.Symbol("rho", positive=True)
    holds = pressure / (gas * warm)
    one_metre = gravity * density
    outside, inside = (one_metre.subs(density, holds).subs(warm, kelvin) for kelvin in (cold_k, warm_k))
    gradient = outside - inside
    zero, numbers = sympy.Float(air.ZERO_C_K), {gravity: air.GRAVITY_M_S2, gas: air.R_DRY_AIR}
    result = gradient.subs(numbers).subs({cold_k: out_c + zero, warm_k: in_c + zero})
    factor = (gravity * pressure / gas).subs(numbers).subs(pressure, air.STANDARD_PRESSURE_PA).evalf(5)
    both = Less(1 / cold_k, 1 / warm_k)
    steps = (
        Step(
            "Take a cube of still air, one metre each way. Its density, rho, says how many kilograms are in it; g, "
            f"{air.GRAVITY_M_S2:.2f} m/s², makes kilograms into weight, in newtons. With this weight it presses on the square metre under "
            "it. So one metre further up the pressure is less by this, in Pa:",
            one_metre,
        ),
        Step(
            "How many kilograms are in it follows from its pressure and its temperature T in kelvin (°C + 273.15); R is the gas constant "
            f"of dry air, {air.R_DRY_AIR:.0f} J/(kg·K). Cold air is denser:",
            sympy.Eq(density, holds),
        ),
        Step(
            "Indoors and outdoors the pressure falls on the way up, in the colder air faster. So the difference, indoors less outdoors, "
            "grows by this with each metre:",
            Less(outside, inside),
        ),
        Step("Take out what both have in common:", gravity * pressure / gas * both),
        Step(
            f"With g and R as numbers, and air of {air.STANDARD_PRESSURE_PA:.0f} Pa, in Pa for each metre of height. Times the height, "
            "that is the stack effect:",
            factor * both,
        ),
    )
    return Derivation("The stack effect", steps, result, (out_c, in_c, pressure), "helpers.formulas.air.stack_gradient")


GIVEN_WIDTH, GIVEN_HEIGHT, GIVEN_HANDLE = "36 in", "84 in", "3 in"
LIMIT, GIVEN_CLOSER = "30 lbf", "8 lbf"
PUBLISHED, HALF_DIGIT = "0.37 in. w.c.", "0.005 in. w.c."


def door_of_the_table():
    """A leaf of 36 by 84 in. with a closer of 8 lbf, limit 30 lbf."""
    width, height, handle = (units.parse(text, "length") for text in (GIVEN_WIDTH, GIVEN_HEIGHT, GIVEN_HANDLE))
    limit, closer = (units.parse(text, "force") for text in (LIMIT, GIVEN_CLOSER))
    lever, area, spare = width - handle, width * height, limit - closer
    most = float(doors.pressure_tolerated(limit, width, height, closer, handle))
    given = (
        Line("Width of the leaf", GIVEN_WIDTH, width, "length", 3),
        Line("Height of the leaf", GIVEN_HEIGHT, height, "length", 3),
        Line("Handle to the latch edge", GIVEN_HANDLE, handle, "length", 3),
        Line("Most force at the handle", LIMIT, limit, "force", 1),
        Line("of it for the closer", GIVEN_CLOSER, closer, "force", 1),
    )
    working = (
        Line("Left for the air", "limit - closer", spare, "force", 1),
        Line("Area of the leaf", "width x height", area, "area", 3),
        Line("Lever of the hand", "width - handle", lever, "length", 3),
        Line("Lever of the air", "width / 2", width / 2, "length", 3),
        Line("Push of the air on the leaf", "left x lever of the hand / lever of the air", spare * lever / (width / 2), "force", 1),
        Line("Most pressure", "push / area", most, "pressure"),
    )
    source = "NFPA 92 table 4.4.2.2; ASHRAE HVAC Applications, fire and smoke chapter"
    within = units.parse(HALF_DIGIT, "pressure")
    return WorkedExample(
        "One door of the published table", given, working, units.parse(PUBLISHED, "pressure"), within, source, "memory",
        "The table is printed to 0.01 in. w.c.; half of that, 1.2 Pa, is as close as one can meet it.",
    )  # fmt: skip
