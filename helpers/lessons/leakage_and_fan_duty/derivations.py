"""One leak from Bernoulli, paths side by side and one behind the other; a whole stair by hand, and the published one of twenty storeys."""

from functools import cache

import sympy

from helpers import units
from helpers.formulas import air, leakage
from helpers.teaching.derivation import Derivation, Less, Line, Root, Step, WorkedExample, in_form

__all__ = ["orifice", "parallel", "series", "stair_flow", "stair_of_twenty_storeys", "stair_profile"]

AREA, ONE, TWO = sympy.symbols("area_m2 area_1_m2 area_2_m2", positive=True)
DP, DENSITY = sympy.symbols("dp_pa density_kg_m3", positive=True)
COEFFICIENT = sympy.Symbol("discharge_coefficient", positive=True)
K, FLOW = sympy.symbols("k flow_m3_s", positive=True)
BOTTOM, TOP = sympy.symbols("dp_bottom_pa dp_top_pa", positive=True)


@cache
def orifice():
    """Pressure turned into speed, speed into flow."""
    speed = sympy.Symbol("speed", positive=True)
    energy = sympy.Eq(DP, DENSITY * speed**2 / 2)
    (fast,) = sympy.solve(energy, speed)
    through = COEFFICIENT * AREA * fast
    root = Root(2 * DP / DENSITY)
    steps = (
        Step("Air at rest on one side shoots through a gap. The law of Bernoulli: the pressure it loses has become speed,", energy),
        Step("Solve for the speed:", sympy.Eq(speed, root)),
        Step(
            "Flow is area times speed. But the jet is narrower than the gap, and rubs at its edges: the discharge coefficient, 0.65 here, "
            "says how much is left:",
            sympy.Eq(FLOW, COEFFICIENT * AREA * root),
        ),
    )
    return Derivation("The flow through one gap", steps, through, (DP, AREA, DENSITY, COEFFICIENT), "helpers.formulas.leakage.flow")


@cache
def parallel():
    """The same pressure on both, flows added."""
    whole = sympy.Symbol("area_m2", positive=True)
    balance = sympy.Eq(K * whole * sympy.sqrt(DP), K * ONE * sympy.sqrt(DP) + K * TWO * sympy.sqrt(DP))
    (result,) = sympy.solve(balance, whole)
    steps = (
        Step(
            "Two gaps lead from the same space to the same space, so the same pressure stands across both. The flows add up; k holds what "
            "is the same for all of them, coefficient and density:",
            balance,
        ),
        Step("Everything but the areas drops out:", sympy.Eq(whole, result)),
    )
    return Derivation("Side by side", steps, result, (ONE, TWO), "helpers.formulas.leakage.in_parallel")


@cache
def series():
    """The same flow through both, pressures added."""
    whole = sympy.Symbol("area_m2", positive=True)
    needs = sympy.Eq(DP, (FLOW / (K * AREA)) ** 2)
    balance = sympy.Eq((FLOW / (K * whole)) ** 2, (FLOW / (K * ONE)) ** 2 + (FLOW / (K * TWO)) ** 2)
    result = next(found for found in sympy.solve(balance, whole) if found.is_positive)
    steps = (
        Step("Turn the flow of one gap round: the pressure that a flow needs. Coefficient and density are in k again:", needs),
        Step("One behind the other, the same air goes through both, and the pressures add up:", balance),
        Step("The flow drops out. Solve for the area:", sympy.Eq(whole, result)),
        Step(
            "Let the second gap be ten times the first. What is left of the first? The smaller one decides:",
            sympy.Eq(whole, result.subs(TWO, 10 * ONE).evalf(3)),
        ),
    )
    return Derivation("One behind the other", steps, result, (ONE, TWO), "helpers.formulas.leakage.in_series")


@cache
def stair_profile():
    """How the stack effect is shared between stair door and outer wall."""
    gradient, height = sympy.symbols("stack_gradient_pa_m height_m", real=True)
    inner, outer = sympy.symbols("area_stair_building_m2 area_building_outside_m2", positive=True)
    door, wall, whole = sympy.symbols("door wall whole", positive=True)
    same_air = sympy.Eq(K * inner * sympy.sqrt(door), K * outer * sympy.sqrt(wall))
    (beyond,) = sympy.solve(same_air, wall)
    (share,) = sympy.solve(sympy.Eq(whole, door + beyond), door)
    nice = in_form(share / whole, 1 / (1 + (inner / outer) ** 2))
    result = BOTTOM + gradient * height * nice
    steps = (
        Step(
            "Take it that each floor is tied to the outdoor air alone, not to other floors: no lift shaft, tight slabs. On each storey the "
            "air then goes through the stair door's gaps and on through the outer wall: the same air through both,",
            same_air,
        ),
        Step("so the pressure across the wall follows from that across the door:", sympy.Eq(wall, beyond)),
        Step(
            "Door and wall together have the whole difference from stair to outdoors. The door's share of it:", sympy.Eq(door / whole, nice)
        ),
        Step(
            "Stair less outdoors grows with height by the stack effect. The door has its share of that, whatever it has at the bottom:",
            result,
        ),
    )
    symbols = (BOTTOM, height, gradient, inner, outer)
    return Derivation("The stack effect, shared", steps, result, symbols, "helpers.formulas.leakage.stair_top_pressure")


@cache
def stair_flow():
    """The leaks of all storeys added up while the pressure changes evenly from bottom to top."""
    storeys, leak = sympy.symbols("storeys leakage_stair_building_m2", positive=True)
    share = sympy.Symbol("x", positive=True)
    one = orifice().result.subs(AREA, leak)
    mean = sympy.integrate(sympy.sqrt(DP), (DP, BOTTOM, TOP)) / (TOP - BOTTOM)
    result = storeys * one.subs(DP, 1) * mean
    two_thirds = sympy.Rational(2, 3) * Less(TOP ** sympy.Rational(3, 2), BOTTOM ** sympy.Rational(3, 2)) / Less(TOP, BOTTOM)
    steps = (
        Step("One storey's leak, at the pressure across its door:", COEFFICIENT * leak * Root(2 * DP / DENSITY)),
        Step("From bottom (x = 0) to top (x = 1) that pressure changes evenly:", sympy.Eq(DP, BOTTOM + share * Less(TOP, BOTTOM))),
        Step(
            "Not all storeys leak alike, so take the mean of the square root, strip by strip from one end to the other (as for the leaf in "
            "lesson 01; a power of 3/2 is the figure times its root):",
            two_thirds,
        ),
        Step(
            "Times one storey's areas and the number of storeys, that is the air the fan must bring:",
            sympy.Eq(FLOW, storeys * COEFFICIENT * leak * Root(2 / DENSITY) * two_thirds),
        ),
    )
    symbols = (storeys, leak, BOTTOM, TOP, DENSITY, COEFFICIENT)
    return Derivation("The air of a whole stair", steps, result, symbols, "helpers.formulas.leakage.stair_supply_flow")


STOREYS, HEIGHT, LEAST = 20, "216 ft", "0.080 in. w.c."
OUTDOORS, INDOORS = "14 °F", "70 °F"
FACADE, STAIR_WALL, DOOR_GAP = "6030 ft²", "560 ft²", "0.26 ft²"
PUBLISHED_TOP = "0.425 in. w.c."
PUBLISHED, HALF_DIGIT = "8200 cfm", "50 cfm"
SOURCE = "ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter, 20-storey stair example"


def stair_of_twenty_storeys():
    """Areas of one storey, stack effect, pressure at the top, and the air of all storeys; each intermediate figure as it is written."""
    out_c, in_c = (units.parse(text, "temperature") for text in (OUTDOORS, INDOORS))
    height, least = units.parse(HEIGHT, "length"), units.parse(LEAST, "pressure")
    facade, wall, gap = (units.parse(text, "area") for text in (FACADE, STAIR_WALL, DOOR_GAP))
    outer = _written(leakage.wall_leakage_area(facade, "exterior_wall", "average", "ashrae_1999"), "area", 2)
    inner = _written(leakage.wall_leakage_area(wall, "stair_wall", "average", "ashrae_1999") + gap, "area", 2)
    gradient = float(air.stack_gradient(out_c, in_c))
    top = _written(leakage.stair_top_pressure(least, height, gradient, inner, outer), "pressure", 3)
    flow = float(leakage.stair_supply_flow(STOREYS, inner, least, top))
    given = (
        Line("Storeys", "", STOREYS, "number", 0),
        Line("Height from the lowest to the highest door", HEIGHT, height, "length", 1),
        Line("Outdoors", OUTDOORS, out_c, "temperature"),
        Line("Stair and rooms", INDOORS, in_c, "temperature"),
        Line("Outer wall of one storey, average", FACADE, facade, "area", 0),
        Line("Stair's wall of one storey, average", STAIR_WALL, wall, "area", 1),
        Line("Gaps of one stair door", DOOR_GAP, gap, "area", 4),
        Line("Least pressure, at the bottom door", LEAST, least, "pressure"),
    )
    working = (
        Line("Leaks from floor to outdoors", "0.00021 x outer wall", outer, "area", 3),
        Line("Leaks from stair to floor", "0.00011 x stair's wall + door (side by side)", inner, "area", 3),
        Line("Stack effect over the whole height", "per metre (last line of lesson 01) x height", gradient * height, "pressure"),
        Line("Share of it on the stair door", "1 / (1 + (inner / outer)²)", 1 / (1 + (inner / outer) ** 2), "number", 2),
        Line("Pressure at the top door", f"bottom + share x stack; the source writes {PUBLISHED_TOP}", top, "pressure"),
        Line("Supply air", "storeys x 0.65 x inner x √(2 / 1.2 kg/m³) x mean of the roots", flow, "flow"),
    )
    return WorkedExample(
        "A stair of twenty storeys in winter", given, working, units.parse(PUBLISHED, "flow"), units.parse(HALF_DIGIT, "flow"), SOURCE,
        "memory", "The source rounds to hundreds of cfm.",
    )  # fmt: skip


def _written(value_si, dimension, digits):
    """A figure [SI] as the source writes it, in its own units, and as one goes on with it on paper."""
    return units.parse(units.show(float(value_si), dimension, "in. w.c.", digits), dimension)
