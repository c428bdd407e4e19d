"""The force at a door's handle from moments about the hinges, what a door bears (one by hand), how a stack pressure grows with height."""

from functools import cache

import sympy

from helpers import units
from helpers.formulas import air, doors
from helpers.model.site.criteria import KNOWN
from helpers.studies.doors.stair_window import ROOM_C
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified

__all__ = ["door_force", "door_of_the_table", "door_pressure", "stack"]

LEAF = {"width_m": 0.91, "height_m": 2.10, "closer_force_n": 40.0, "handle_to_edge_m": doors.HANDLE_TO_EDGE_M}
OF_AIR = "dp_pa*height_m*width_m**2/(2*(width_m - handle_to_edge_m))"


@cache
def door_force():
    """Moments about the hinges, solved for the force at the handle."""
    balance = "force_n*(width_m - handle_to_edge_m) = closer_force_n*(width_m - handle_to_edge_m) + moment_nm"
    moment = "dp_pa*height_m*width_m**2/2"
    steps = (
        Step("The air pushes on the leaf with the pressure times its area:", "push_n = dp_pa*height_m*width_m"),
        Step(
            "Why in the middle: cut the leaf into upright strips. A strip at the distance x from the hinges turns the leaf with its push "
            "times x. All strips added up, from the hinges to the latch edge:",
            f"moment_nm = integral(dp_pa*height_m*x_m, x_m, 0, width_m) = {moment}", sympified(moment), folded=True,
        ),
        Step("It acts as if in the middle of the leaf, half a width from the hinges. Force times lever is its moment:",
             "moment_nm = push_n*width_m/2", sympified("push_n*width_m/2")),
        Step("The hand pulls at the handle, and the closer's force is stated there, too. When the leaf just begins to move:", balance),
    )  # fmt: skip
    result = Step(
        "Put the moment in, and divide by the lever of the hand:", f"force_n = closer_force_n + {OF_AIR}",
        solved("force_n", balance, f"moment_nm = {moment}"),
    )  # fmt: skip
    return Derivation(
        "The force at the handle",
        "In words: the closer wants its own force, and the air's push comes on top, made smaller by the hand's longer lever. With {dp_pa} "
        "on a leaf {width_m} wide and {height_m} high, and {closer_force_n} for the closer, the hand needs {force_n}.",
        steps, result, ("dp_pa", "width_m", "height_m", "closer_force_n", "handle_to_edge_m"), "helpers.formulas.doors.opening_force",
        {"dp_pa": 75.0, **LEAF},
    )  # fmt: skip


@cache
def door_pressure():
    """The same turned round: the pressure at which the force reaches its limit."""
    reaches = f"force_limit_n = closer_force_n + {OF_AIR}"
    borne = "2*(force_limit_n - closer_force_n)*(width_m - handle_to_edge_m)/(height_m*width_m**2)"
    found = solved("dp_pa", reaches)
    lost = -sympy.diff(found, sympified("closer_force_n"))
    return Derivation(
        "The maximum pressure at a door",
        "In words: the closer comes off the limit first, and what is left is for the air. With {force_limit_n} allowed and "
        "{closer_force_n} for the closer this leaf bears {dp_pa}.",
        (
            Step("Let the force at the handle just reach its limit:", reaches),
            Step("The closer comes off:", f"force_limit_n - closer_force_n = {OF_AIR}"),
        ),
        Step("Solve for the pressure. That is the upper end of the window:", f"dp_pa = {borne}", found),
        ("force_limit_n", "width_m", "height_m", "closer_force_n", "handle_to_edge_m"), "helpers.formulas.doors.pressure_tolerated",
        {"force_limit_n": doors.FORCE_LIMITS_N["nfpa101_set_in_motion"], **LEAF},
        (Step("One newton more in the closer always takes off the same:",
              "pressure_lost = 2*(width_m - handle_to_edge_m)/(height_m*width_m**2)", lost),),
    )  # fmt: skip


@cache
def stack():
    """Two columns of air beside each other: how their difference of pressure grows with height."""
    columns = "gravity*pressure_pa/(gas_constant*temp_out_k) - gravity*pressure_pa/(gas_constant*temp_in_k)"
    by_hand = air.GRAVITY_M_S2 * air.STANDARD_PRESSURE_PA / air.R_DRY_AIR
    steps = (
        Step("Each metre further up there is one cubic metre less above each square metre, and the pressure falls by its weight:",
             "column_pa_m = gravity*density_kg_m3"),
        Step("Its density follows from pressure and temperature; cold air is denser. R belongs to dry air:",
             "density_kg_m3 = pressure_pa/(gas_constant*temp_k)"),
        Step("With kelvin for the temperature, 0 °C being 273.15 K:",
             f"temp_out_k = temp_out_c + {air.ZERO_C_K}; temp_in_k = temp_in_c + {air.ZERO_C_K}"),
        Step("The pressure outdoors falls faster than that indoors. The difference grows, with each metre, by the one less the other:",
             f"stack_gradient_pa_m = {columns}"),
    )  # fmt: skip
    result = Step("Take out what both have in common:",
                  "stack_gradient_pa_m = gravity*pressure_pa/gas_constant*(1/temp_out_k - 1/temp_in_k)", sympified(columns))  # fmt: skip
    return Derivation(
        "The stack effect",
        "In words: cold air is heavier than warm air. With {temp_out_c} outdoors and {temp_in_c} in the stair, the pressure across a door "
        "grows upwards by {stack_gradient_pa_m}.",
        steps, result, ("temp_out_c", "temp_in_c", "pressure_pa"), "helpers.formulas.air.stack_gradient",
        {"temp_out_c": -9.0, "temp_in_c": ROOM_C, "pressure_pa": air.STANDARD_PRESSURE_PA},
        (Step("For the pocket calculator, with air of sea level. Times the height, that is the stack effect:",
              f"stack_gradient_pa_m = {by_hand:.1f}*(1/temp_out_k - 1/temp_in_k)"),),
        constants={"gravity": air.GRAVITY_M_S2, "gas_constant": air.R_DRY_AIR},
    )  # fmt: skip


GIVEN_WIDTH, GIVEN_HEIGHT, GIVEN_HANDLE = "36 in", "84 in", "3 in"
LIMIT, GIVEN_CLOSER = "30 lbf", "8 lbf"
INCHES, POUNDS = (4, 3), (2, 1)  # digits of what is given in inches and pounds: what is taken off in view comes out in view
PUBLISHED, HALF_DIGIT = "0.37 in. w.c.", "0.005 in. w.c."


def door_of_the_table():
    """A leaf of 36 by 84 in. with a closer of 8 lbf, limit 30 lbf."""
    width, height, handle = (units.parse(text, "length") for text in (GIVEN_WIDTH, GIVEN_HEIGHT, GIVEN_HANDLE))
    limit, closer = (units.parse(text, "force") for text in (LIMIT, GIVEN_CLOSER))
    moment = (limit - closer) * (width - handle)
    most = float(doors.pressure_tolerated(limit, width, height, closer, handle))
    given = (
        Row("Width of the leaf", GIVEN_WIDTH, width, "length", INCHES, "width_m"),
        Row("Height of the leaf", GIVEN_HEIGHT, height, "length", INCHES, "height_m"),
        Row("Handle to the latch edge", GIVEN_HANDLE, handle, "length", INCHES, "handle_to_edge_m"),
        Row("Maximum force at the handle", LIMIT, limit, "force", POUNDS, "force_limit_n"),
        Row("of it for the closer", GIVEN_CLOSER, closer, "force", POUNDS, "closer_force_n"),
    )
    working = (
        Row("Left for the air", "= force_limit_n - closer_force_n", limit - closer, "force", POUNDS),
        Row("Lever of the hand", "= width_m - handle_to_edge_m", width - handle, "length", INCHES),
        Row("Push of the air on the leaf, with half a width as its lever",
             "= 2*(force_limit_n - closer_force_n)*(width_m - handle_to_edge_m)/width_m", moment / (width / 2), "force", 1, "push_n"),
        Row("Area of the leaf", "= width_m*height_m", width * height, "area", 3),
        Row("Maximum pressure", "= push_n/(width_m*height_m)", most, "pressure", name="dp_pa"),
    )  # fmt: skip
    source = "NFPA 92 table 4.4.2.2; ASHRAE HVAC Applications, fire and smoke chapter"
    within = units.parse(HALF_DIGIT, "pressure")
    return WorkedExample(
        "One door of the published table", given, working, units.parse(PUBLISHED, "pressure"), within, source, KNOWN["reviewed"],
        "A reviewer read a reprint of the table in a guide. "
        "It is printed to 0.01 in. w.c.; half of that, 1.2 Pa, is as close as one can meet it.",
    )  # fmt: skip
