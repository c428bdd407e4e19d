"""Leaks, paths, the stair by hand, smoke held back and duct leakage against published figures."""

import pint
import pytest
from published import ASHRAE_APPLICATIONS, EN_12101_6, EN_DUCTS, KLOTE_MILKE, MEMORY, REVIEWED, SFPE, Figure, names

from helpers.formulas import air, leakage

UNITS = pint.get_application_registry()
ORIFICE = ASHRAE_APPLICATIONS.at("orifice equation", also="NFPA 92 annex")
AREAS = SFPE.at("effective areas", also="ASHRAE")
FIRE_CHAPTER = ASHRAE_APPLICATIONS.at("leakage text example")
STAIR = ASHRAE_APPLICATIONS.at("20-storey stair example")
KLOTE = KLOTE_MILKE.at("effective flow areas", also="ASHRAE HVAC Applications")


def si(value, unit):
    """Value in SI base units."""
    return UNITS.Quantity(value, unit).to_base_units().magnitude


def to(value, unit_from, unit_to):
    return UNITS.Quantity(value, unit_from).to(unit_to).magnitude


FOOT2, FOOT, INCH = si(1, "foot^2"), si(1, "foot"), si(1, "inch_H2O")
CFM = si(1, "foot^3/minute")
OUT_C, IN_C = to(14, "degF", "degC"), to(70, "degF", "degC")
HEIGHT_M = 20 * 10.8 * FOOT
FACADE_M2 = leakage.wall_leakage_area(6030 * FOOT2, "exterior_wall", "average", "ashrae_1999")
STAIR_M2 = leakage.wall_leakage_area(560 * FOOT2, "stair_wall", "average", "ashrae_1999") + 0.26 * FOOT2


def duct_litres(letter, dp_pa):
    return 1000 * leakage.DUCT_CLASS_COEFFICIENTS[letter] * leakage.smooth_power(dp_pa, leakage.DUCT_EXPONENT)


def stair_top_inches():
    gradient = air.stack_gradient(OUT_C, IN_C)
    return leakage.stair_top_pressure(0.080 * INCH, HEIGHT_M, gradient, STAIR_M2, FACADE_M2) / INCH


FIGURES = [
    Figure(
        "orifice constant [m3/(s m2 Pa^0.5)]",
        lambda: leakage.flow_coefficient(1.0),
        "0.839",
        ORIFICE,
        REVIEWED,
        seen_in=("staircase",),
        note="that text prints 0.559 = 2/3 of 0.839; a public training page prints Q = 0.839 A sqrt(dP) too.",
    ),
    Figure(
        "supply of a stair: storeys x area x 1740, in. w.g. and ft2 [cfm]",
        lambda: leakage.stair_supply_flow(1, FOOT2, 1e-9, INCH) / CFM,
        "1740",
        STAIR.at("supply equation"),
        REVIEWED,
        allowed=2.1,
        why="2/3 of the rounded 2610; C 0.65 at 1.2 kg/m3 is 2607 in the same units, 0.11 % less",
        seen_in=("stair sheet",),
    ),
    Figure(
        "orifice constant, European C 0.64",
        lambda: leakage.flow_coefficient(1.0, discharge_coefficient=0.64),
        "0.83",
        EN_12101_6.at("annex A"),
        REVIEWED,
        seen_in=("air leakage",),
    ),
    Figure("crack of 0.01 m2 at 2.5 Pa [m3/s]", lambda: leakage.flow(2.5, 0.01), "0.013", FIRE_CHAPTER, MEMORY),
    Figure("crack of 0.11 ft2 at 0.01 in. [cfm]", lambda: leakage.flow(0.01 * INCH, 0.11 * FOOT2) / CFM, "29", FIRE_CHAPTER, MEMORY),
    Figure("crack of 0.01 m2 at 75 Pa [m3/s]", lambda: leakage.flow(75, 0.01), "0.073", FIRE_CHAPTER, MEMORY),
    Figure("crack of 0.11 ft2 at 0.3 in. [cfm]", lambda: leakage.flow(0.3 * INCH, 0.11 * FOOT2) / CFM, "157", FIRE_CHAPTER, MEMORY),
    Figure("three paths side by side [m2]", lambda: leakage.in_parallel([0.10, 0.05, 0.05]), "0.20", AREAS, MEMORY),
    Figure("two equal paths in a row [m2]", lambda: leakage.in_series([0.02, 0.02]), "0.014", KLOTE, MEMORY),
    Figure("two unequal paths in a row [m2]", lambda: leakage.in_series([0.02, 0.20]), "0.0199", KLOTE, MEMORY),
    Figure("two unequal paths in a row [ft2]", lambda: leakage.in_series([0.22, 2.2]), "0.219", KLOTE, MEMORY),
    Figure("stair example: building to outdoors [ft2]", lambda: FACADE_M2 / FOOT2, "1.27", STAIR, MEMORY),
    Figure("stair example: stair to building [ft2]", lambda: STAIR_M2 / FOOT2, "0.32", STAIR, MEMORY),
    Figure("stair example: stack gradient [in./ft]", lambda: air.stack_gradient(OUT_C, IN_C) * FOOT / INCH, "0.0017", STAIR, MEMORY),
    Figure(
        "stair example: top, from the printed areas and gradient [in. w.g.]",
        lambda: leakage.stair_top_pressure(0.080, 216, 0.0017, 0.32, 1.27),
        "0.425",
        STAIR,
        MEMORY,
    ),
    Figure("stair example: top, nothing rounded [in. w.g.]", stair_top_inches, "0.425", STAIR, MEMORY),
    Figure(
        "stair example: supply, from the printed areas and pressures [cfm]",
        lambda: leakage.stair_supply_flow(20, 0.32 * FOOT2, 0.080 * INCH, 0.425 * INCH) / CFM,
        "8200",
        STAIR,
        MEMORY,
        allowed=50,
        why="printed as a round hundred",
    ),
    Figure(
        "stair example: supply, nothing rounded [cfm]",
        lambda: leakage.stair_supply_flow(20, STAIR_M2, 0.080 * INCH, stair_top_inches() * INCH) / CFM,
        "8258",
        ASHRAE_APPLICATIONS.at("20-storey stair example, recomputed with unrounded areas"),
        MEMORY,
        allowed=12,
        why="it comes from the printed constants 2610, 7.64 and 460; C 0.65 at 1.2 kg/m3 is 2607 and physics gives 7.625: 0.13 % less",
    ),
    Figure("duct, tightness class B at 400 Pa [L/(s m2)]", lambda: duct_litres("B", 400), "0.44", EN_DUCTS, MEMORY),
    Figure("duct, tightness class C at 400 Pa [L/(s m2)]", lambda: duct_litres("C", 400), "0.15", EN_DUCTS, MEMORY),
    Figure("duct, tightness class A at 500 Pa [L/(s m2)]", lambda: duct_litres("A", 500), "1.53", EN_DUCTS, MEMORY),
    Figure("duct, tightness class C at 2000 Pa [L/(s m2)]", lambda: duct_litres("C", 2000), "0.42", EN_DUCTS, MEMORY),
]


@pytest.mark.parametrize("figure", FIGURES, ids=names(FIGURES))
def test_leaks_and_stair_agree_with_the_published_figure(figure):
    figure.check()
