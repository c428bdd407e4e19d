"""Leaks, paths, the stair by hand, smoke held back and duct leakage against published figures."""

import pint
import pytest
from published import ARMY_CORPS, ASHRAE_APPLICATIONS, EN_12101_6, EN_DUCTS, KLOTE_MILKE, MEMORY, SEEN, SFPE, SMACNA, TRADE, Figure, names

from helpers.formulas import air, leakage

UNITS = pint.get_application_registry()
ORIFICE = ASHRAE_APPLICATIONS.at("orifice equation", also="NFPA 92 annex")
AREAS = SFPE.at("effective areas", also="ASHRAE")
FIRE_CHAPTER = ASHRAE_APPLICATIONS.at("leakage text example")
STAIR = ASHRAE_APPLICATIONS.at("20-storey stair example")
KLOTE = KLOTE_MILKE.at("effective flow areas", also="ASHRAE HVAC Applications")
HOSPITAL = TRADE.at("list in a forum, UK health guidance style; leaf 0.9 x 2.05 m assumed")
DUCT = SMACNA.at("leakage classes", also="ASHRAE duct chapter")


def si(value, unit):
    """Value in SI base units."""
    return UNITS.Quantity(value, unit).to_base_units().magnitude


def to(value, unit_from, unit_to):
    return UNITS.Quantity(value, unit_from).to(unit_to).magnitude


FOOT2, FOOT, INCH = si(1, "foot^2"), si(1, "foot"), si(1, "inH2O")
CFM = si(1, "foot^3/minute")
OUT_C, IN_C = to(14, "degF", "degC"), to(70, "degF", "degC")
HEIGHT_M = 20 * 10.8 * FOOT
FACADE_M2 = leakage.wall_leakage_area(6030 * FOOT2, "exterior_wall", "average", "ashrae_1999")
STAIR_M2 = leakage.wall_leakage_area(560 * FOOT2, "stair_wall", "average", "ashrae_1999") + 0.26 * FOOT2


def hospital_door_flow(dp_pa):
    area = leakage.door_gap_area(0.9, 2.05, gap_sides_m=0.003, gap_top_m=0.003, gap_bottom_m=0.004)
    return leakage.flow(dp_pa, area)


def duct_cfm_per_100_ft2(leakage_class, inches):
    return leakage.duct_leakage(inches * INCH, leakage.smacna_class_coefficient(leakage_class)) * 100 * FOOT2 / CFM


def duct_litres(letter, dp_pa):
    return 1000 * leakage.duct_leakage(dp_pa, leakage.DUCT_CLASS_COEFFICIENTS[letter])


def stair_top_inches():
    gradient = air.stack_gradient(OUT_C, IN_C)
    return leakage.stair_top_pressure(0.080 * INCH, HEIGHT_M, gradient, STAIR_M2, FACADE_M2) / INCH


FIGURES = [
    Figure(
        "orifice constant [m3/(s m2 Pa^0.5)]",
        lambda: leakage.flow_coefficient(1.0),
        "0.839",
        ORIFICE,
        MEMORY,
    ),
    Figure(
        "orifice constant, European C 0.64",
        lambda: leakage.flow_coefficient(1.0, discharge_coefficient=0.64),
        "0.83",
        EN_12101_6.at("annex A"),
        MEMORY,
    ),
    Figure("crack of 0.01 m2 at 2.5 Pa [m3/s]", lambda: leakage.flow(2.5, 0.01), "0.013", FIRE_CHAPTER, MEMORY),
    Figure("crack of 0.11 ft2 at 0.01 in. [cfm]", lambda: leakage.flow(0.01 * INCH, 0.11 * FOOT2) / CFM, "29", FIRE_CHAPTER, MEMORY),
    Figure("crack of 0.01 m2 at 75 Pa [m3/s]", lambda: leakage.flow(75, 0.01), "0.073", FIRE_CHAPTER, MEMORY),
    Figure("crack of 0.11 ft2 at 0.3 in. [cfm]", lambda: leakage.flow(0.3 * INCH, 0.11 * FOOT2) / CFM, "157", FIRE_CHAPTER, MEMORY),
    Figure(
        "three paths side by side [m2]",
        lambda: leakage.in_parallel([0.10, 0.05, 0.05]),
        "0.20",
        AREAS,
        MEMORY,
    ),
    Figure("two equal paths in a row [m2]", lambda: leakage.in_series([0.02, 0.02]), "0.014", KLOTE, MEMORY),
    Figure("two unequal paths in a row [m2]", lambda: leakage.in_series([0.02, 0.20]), "0.0199", KLOTE, MEMORY),
    Figure("two unequal paths in a row [ft2]", lambda: leakage.in_series([0.22, 2.2]), "0.219", KLOTE, MEMORY),
    Figure(
        "air barrier limit 0.25 cfm/ft2 at 75 Pa as area per area [-]",
        lambda: leakage.area_from_flow(si(0.25, "foot^3/minute/foot^2"), 75.0),
        "0.000175",
        ARMY_CORPS.at("0.25 seen; the ratio is derived"),
        SEEN,
    ),
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
    Figure(
        "critical velocity, 150 kW in a corridor of 1.22 m [m/s]",
        lambda: air.critical_velocity(150e3, 1.22),
        "1.45",
        KLOTE_MILKE.at("Thomas relation", also="ASHRAE HVAC Applications"),
        MEMORY,
    ),
    Figure(
        "critical velocity, 512 000 Btu/h in a corridor of 4 ft [fpm]",
        lambda: to(air.critical_velocity(si(512e3, "Btu/hour"), 4 * FOOT), "m/s", "foot/minute"),
        "286",
        KLOTE_MILKE.at("Thomas relation", also="ASHRAE HVAC Applications"),
        MEMORY,
    ),
    Figure(
        "purging at 6 air changes an hour, 20 % to 1 % [min]",
        lambda: air.purge_time_s(6, 0.20, 0.01) / 60,
        "30",
        ASHRAE_APPLICATIONS.at("smoke purging"),
        MEMORY,
    ),
    Figure("hospital door, 5 Pa [m3/s]", lambda: hospital_door_flow(5), "0.03", HOSPITAL, SEEN),
    Figure("hospital door, 10 Pa [m3/s]", lambda: hospital_door_flow(10), "0.05", HOSPITAL, SEEN),
    Figure("hospital door, 15 Pa [m3/s]", lambda: hospital_door_flow(15), "0.06", HOSPITAL, SEEN),
    Figure("duct, leakage class 12 at 0.5 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(12, 0.5), "7.6", DUCT, MEMORY),
    Figure("duct, leakage class 12 at 2 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(12, 2), "18.8", DUCT, MEMORY),
    Figure("duct, leakage class 6 at 3 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(6, 3), "12.3", DUCT, MEMORY),
    Figure("duct, leakage class 24 at 0.5 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(24, 0.5), "15.3", DUCT, MEMORY),
    Figure("duct, tightness class B at 400 Pa [L/(s m2)]", lambda: duct_litres("B", 400), "0.44", EN_DUCTS, MEMORY),
    Figure("duct, tightness class C at 400 Pa [L/(s m2)]", lambda: duct_litres("C", 400), "0.15", EN_DUCTS, MEMORY),
    Figure("duct, tightness class A at 500 Pa [L/(s m2)]", lambda: duct_litres("A", 500), "1.53", EN_DUCTS, MEMORY),
    Figure("duct, tightness class C at 2000 Pa [L/(s m2)]", lambda: duct_litres("C", 2000), "0.42", EN_DUCTS, MEMORY),
]


@pytest.mark.parametrize("figure", FIGURES, ids=names(FIGURES))
def test_leaks_and_stair_agree_with_the_published_figure(figure):
    figure.check()
