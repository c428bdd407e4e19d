"""The published stair of twenty storeys in winter, by hand and rounded as one does on paper."""

from helpers import units
from helpers.formulas import air, leakage
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["stair_of_twenty_storeys"]

STOREYS, HEIGHT, LEAST = 20, "216 ft", "0.080 in. w.c."
OUTDOORS, INDOORS = "14 °F", "70 °F"
FACADE, STAIR_WALL, DOOR_GAP = "6030 ft²", "560 ft²", "0.26 ft²"
TOP = "0.425 in. w.c."
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
        Line("Pressure at the top door", f"bottom + share x stack; the source writes {TOP}", top, "pressure"),
        Line("Supply air", "storeys x 0.65 x inner x √(2 / 1.2 kg/m³) x mean of the roots", flow, "flow"),
    )
    return WorkedExample(
        "A stair of twenty storeys in winter", given, working, units.parse(PUBLISHED, "flow"), units.parse(HALF_DIGIT, "flow"), SOURCE,
        "memory", "The source rounds to hundreds of cfm.",
    )  # fmt: skip


def _written(value_si, dimension, digits):
    """A figure [SI] as the source writes it, in its own units, and as one goes on with it on paper."""
    return units.parse(units.show(float(value_si), dimension, "in. w.c.", digits), dimension)
