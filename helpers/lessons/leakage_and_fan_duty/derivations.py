"""One leak from Bernoulli, paths side by side and one behind the other; a whole stair by hand, and the published one of twenty storeys."""

from functools import cache

from helpers import units
from helpers.formulas import air, leakage
from helpers.lessons.leakage_and_fan_duty.questions import foot_at_one_inch
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified, valued

__all__ = ["orifice", "parallel", "series", "stair_flow", "stair_of_twenty_storeys", "stair_profile"]

OF_AIR = {"density_kg_m3": 1.2, "discharge_coefficient": 0.65}
DOOR_M2, WALL_M2 = 0.024, 0.010  # a shut stair door of Larkfield House, and a tight outer wall behind it
STOREY_M2 = 0.0288, 0.0583  # the mean storey of Larkfield House: stair to floor, and floor to outdoors with its average walls
OUT_C, WARM_C = -9.0, 21.0  # winter there; the hand method has stair and rooms alike
PROFILE = {"dp_bottom_pa": 25.0, "height_m__stair": 38.4, "stack_gradient_pa_m": float(air.stack_gradient(OUT_C, WARM_C)),
           "area_stair_building_m2": STOREY_M2[0], "area_building_outside_m2": STOREY_M2[1]}  # fmt: skip


@cache
def orifice():
    """Pressure turned into speed, speed into flow."""
    energy, through = "dp_pa = density_kg_m3*speed_m_s**2/2", "flow_m3_s = discharge_coefficient*area_m2*speed_m_s"
    speed = "speed_m_s = sqrt(2*dp_pa/density_kg_m3)"
    steps = (
        Step("Air at rest on one side shoots through a gap. The pressure it loses has become speed (Bernoulli):", energy),
        Step("Solve for the speed:", speed, solved("speed_m_s", energy)),
        Step("Flow is area times speed. But the jet is narrower than the gap and rubs at its edges; C_d says how much is left:", through),
    )
    result = Step("Together:", "flow_m3_s = discharge_coefficient*area_m2*sqrt(2*dp_pa/density_kg_m3)", solved("flow_m3_s", through, speed))
    return Derivation(
        "The flow through one gap",
        "In words: the flow goes with the area and with the square root of the pressure. Through a gap of {area_m2}, {dp_pa} drive "
        "{flow_m3_s}; four times the pressure drives twice that.",
        steps, result, ("dp_pa", "area_m2", "density_kg_m3", "discharge_coefficient"), "helpers.formulas.leakage.flow",
        {"dp_pa": 50.0, "area_m2": DOOR_M2, **OF_AIR},
        end=f"In cfm, ft² and in. w.c., with the same air: flow = {units.show(foot_at_one_inch(), 'flow', 'in. w.c.').split()[0]} · "
            "coefficient · area · √pressure.",
    )  # fmt: skip


@cache
def parallel():
    """The same pressure on both, flows added."""
    balance = ("discharge_coefficient*area_m2*speed_m_s = "
               "discharge_coefficient*area_1_m2*speed_m_s + discharge_coefficient*area_2_m2*speed_m_s")  # fmt: skip
    return Derivation(
        "Side by side",
        "In words: areas side by side add up. {area_1_m2} and {area_2_m2} are {area_m2}.",
        (Step("Two gaps lead from the same space to the same space. The same pressure is across both, so the air is as fast in both, "
              "and the flows add up:", balance),),
        Step("Everything but the areas cancels:", "area_m2 = area_1_m2 + area_2_m2", solved("area_m2", balance)),
        ("area_1_m2", "area_2_m2"), "helpers.formulas.leakage.in_parallel", {"area_1_m2": DOOR_M2, "area_2_m2": WALL_M2},
    )  # fmt: skip


@cache
def series():
    """The same flow through both, pressures added."""
    needs = [f"density_kg_m3/2*(flow_m3_s/(discharge_coefficient*{area}))**2" for area in ("area_m2", "area_1_m2", "area_2_m2")]
    adds = f"{needs[0]} = {needs[1]} + {needs[2]}"
    steps = (
        Step("Turn the formula of one gap round. A flow needs this pressure:", f"dp_pa = {needs[0]}",
             solved("dp_pa", "flow_m3_s = discharge_coefficient*area_m2*sqrt(2*dp_pa/density_kg_m3)")),
        Step("One behind the other, the same air goes through both, and the pressures add up:", adds),
        Step("Everything but the areas cancels:", "1/area_m2**2 = 1/area_1_m2**2 + 1/area_2_m2**2"),
    )  # fmt: skip
    result = Step("Solve for the area:", "area_m2 = 1/sqrt(1/area_1_m2**2 + 1/area_2_m2**2)", solved("area_m2", adds))
    ten = float(leakage.in_series([1.0, 10.0]))
    return Derivation(
        "One behind the other",
        "In words: in a row the smaller gap decides. {area_1_m2} and {area_2_m2} behind it pass as much as one gap of {area_m2}.",
        steps, result, ("area_1_m2", "area_2_m2"), "helpers.formulas.leakage.in_series",
        {"area_1_m2": DOOR_M2, "area_2_m2": WALL_M2},
        end=f"Let the second gap be ten times the first: {ten:.3f} of the first is left. The large one hardly counts.",
    )  # fmt: skip


@cache
def stair_profile():
    """How the stack effect is shared between stair door and outer wall."""
    same_air = "area_stair_building_m2*sqrt(dp_pa__door) = area_building_outside_m2*sqrt(dp_pa__wall)"
    beyond, share = "dp_pa__wall = ratio**2*dp_pa__door", "door_share = dp_pa__door/(dp_pa__door + dp_pa__wall)"
    steps = (
        Step("Take it that each floor is tied to the outdoor air alone: no lift shaft, tight slabs. The air of a storey goes through the "
             "stair door's gaps and on through the outer wall. The same air through both; C_d and density have dropped out:", same_air),
        Step("Give the ratio of the two a letter:", "ratio = area_stair_building_m2/area_building_outside_m2"),
        Step("Square the first line and solve for the wall:", beyond,
             solved("dp_pa__wall", same_air, "area_stair_building_m2 = ratio*area_building_outside_m2"), folded=True),
        Step("Door and wall together have the whole difference from stair to outdoors. The door's share of it:",
             f"{share} = 1/(1 + ratio**2)", solved("door_share", share, beyond)),
    )  # fmt: skip
    out, warm = valued("temp_out_c", OUT_C), valued("temp_in_c", WARM_C)
    result = Step("Stair less outdoors grows upwards by the stack effect. The door has its share of that, on top of what is at the bottom:",
                  "dp_top_pa = dp_bottom_pa + stack_gradient_pa_m*height_m__stair/(1 + ratio**2)")  # fmt: skip
    return Derivation(
        "The stack effect, shared",
        "In words: the tighter of the two, stair door or outer wall, takes the larger part. At Larkfield House, "
        "{area_stair_building_m2} and {area_building_outside_m2} on the mean storey, the door is the tighter one. With "
        f"{{dp_bottom_pa}} at the bottom, {{height_m__stair}} from the middle of the lowest storey to that of the highest, {out} "
        f"outdoors and {warm} in stair and rooms, the top door has {{dp_top_pa}}.",
        steps, result, ("dp_bottom_pa", "height_m__stair", "stack_gradient_pa_m", "area_stair_building_m2", "area_building_outside_m2"),
        "helpers.formulas.leakage.stair_top_pressure",
        PROFILE,
    )  # fmt: skip


@cache
def stair_flow():
    """The leaks of all storeys added up while the pressure changes evenly from bottom to top."""
    mean = "integral(sqrt(dp_pa), dp_pa, dp_bottom_pa, dp_top_pa)/(dp_top_pa - dp_bottom_pa)"
    root = "2*(dp_top_pa**(3/2) - dp_bottom_pa**(3/2))/(3*(dp_top_pa - dp_bottom_pa))"
    steps = (
        Step("One storey's leak, at the pressure across its door:",
             "flow_m3_s__storey = discharge_coefficient*leakage_stair_building_m2*sqrt(2*dp_pa/density_kg_m3)"),
        Step("From the bottom door to the top door the pressure changes evenly. Take the mean of its square root, strip by strip:",
             f"mean_root = {mean}", sympified(mean), folded=True),
        Step("Not all storeys leak alike. The mean of the square root of the pressure, from bottom to top (a power of 3/2 is the figure "
             "times its root):", f"mean_root = {root}", sympified(mean)),
    )  # fmt: skip
    result = Step("One storey with that mean, times the number of storeys, is the air that the fan must bring:",
                  "flow_m3_s = storeys*discharge_coefficient*leakage_stair_building_m2*sqrt(2/density_kg_m3)*mean_root")  # fmt: skip
    return Derivation(
        "The air of a whole stair",
        "In words: all storeys leak as one does at a pressure between bottom and top. With {dp_bottom_pa} at the bottom and the "
        "{dp_top_pa} at the top that came out above, {storeys} storeys take {flow_m3_s}.",
        steps, result,
        ("storeys", "leakage_stair_building_m2", "dp_bottom_pa", "dp_top_pa", "density_kg_m3", "discharge_coefficient"),
        "helpers.formulas.leakage.stair_supply_flow",
        {"storeys": 14, "dp_bottom_pa": PROFILE["dp_bottom_pa"], "dp_top_pa": float(leakage.stair_top_pressure(*PROFILE.values())),
         "leakage_stair_building_m2": STOREY_M2[0], **OF_AIR},
    )  # fmt: skip


STOREYS, HEIGHT, LEAST = 20, "216 ft", "0.080 in. w.c."
OUTDOORS, INDOORS = "14 °F", "70 °F"
TENTH_C = (1, 0)  # digits: 70 °F is 21.1 °C, and with 21 the stack effect would not come out
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
    ratio = inner / outer
    given = (
        Row("Storeys", "", STOREYS, "number", 0, "storeys"),
        Row("Height from the lowest to the highest door", HEIGHT, height, "length", 1, "height_m__stair"),
        Row("Outdoors", OUTDOORS, out_c, "temperature", TENTH_C, "temp_out_c"),
        Row("Stair and rooms", INDOORS, in_c, "temperature", TENTH_C, "temp_in_c"),
        Row("Outer wall of one storey, average", FACADE, facade, "area", 0),
        Row("Stair's wall of one storey, average", STAIR_WALL, wall, "area", 1),
        Row("Gaps of one stair door", DOOR_GAP, gap, "area", 4),
        Row("Minimum pressure, bottom door", LEAST, least, "pressure", name="dp_bottom_pa"),
    )

    def rounded(area_m2):
        return f", rounded to {units.show(area_m2, 'area', 'in. w.c.', 2)} as in the source"

    working = (
        Row("Leaks from floor to outdoors", f"0.00021 · outer wall{rounded(outer)}", outer, "area", (5, 3), "area_building_outside_m2"),
        Row("Leaks from stair to floor", f"0.00011 · stair's wall + door{rounded(inner)}", inner, "area", (5, 3), "area_stair_building_m2"),
        Row("Stack effect [Pa/m]", "3462 (1 / T_out - 1 / T_in), in kelvin (lesson 01)", gradient, "number", 3, "stack_gradient_pa_m"),
        Row("Stack effect over the whole height", "= stack_gradient_pa_m*height_m__stair", gradient * height, "pressure"),
        Row("Ratio of the areas", "= area_stair_building_m2/area_building_outside_m2", ratio, "number", 3, "ratio"),
        Row("Share of it on the stair door", "= 1/(1 + ratio**2)", 1 / (1 + ratio**2), "number", 2),
        Row(f"Pressure at the top door; the source writes {PUBLISHED_TOP}",
             "= dp_bottom_pa + stack_gradient_pa_m*height_m__stair/(1 + ratio**2)", top, "pressure", name="dp_top_pa"),
        Row("Mean of the root of the pressure [√Pa]", "= 2*(dp_top_pa**(3/2) - dp_bottom_pa**(3/2))/(3*(dp_top_pa - dp_bottom_pa))",
             2 * (top**1.5 - least**1.5) / (3 * (top - least)), "number", 2, "mean_root"),
        Row("Supply air, with 0.65 and 1.2 kg/m³", "= storeys*0.65*area_stair_building_m2*sqrt(2/1.2)*mean_root", flow, "flow",
             name="flow_m3_s"),
    )  # fmt: skip
    return WorkedExample(
        "A stair of twenty storeys in winter", given, working, units.parse(PUBLISHED, "flow"), units.parse(HALF_DIGIT, "flow"), SOURCE,
        "from memory, not verified", "The source rounds to hundreds of cfm.",
    )  # fmt: skip


def _written(value_si, dimension, digits):
    """A figure [SI] as the source writes it, in its own units, and as one goes on with it on paper."""
    return units.parse(units.show(float(value_si), dimension, "in. w.c.", digits), dimension)
