"""Leaks, paths, the stair by hand, smoke held back and duct leakage against published figures.

Each row: quantity, our call, published figure, tolerance, source, how known. Tolerance: half a unit of the last printed digit, unless a
comment says otherwise.
"""

import pint
import pytest

from helpers.formulas import air, leakage

UNITS = pint.get_application_registry()
FIRE_CHAPTER = "ASHRAE HVAC Applications 1999 to 2007, fire and smoke chapter"
STAIR = f"{FIRE_CHAPTER}, 20-storey stair example"
KLOTE = "Klote and Milke; ASHRAE HVAC Applications, fire and smoke chapter"
HOSPITAL = "rule-of-thumb list (UK health guidance style), forum; leaf 0.9 x 2.05 m assumed"
SMACNA = "SMACNA air duct leakage manual; ASHRAE duct chapter"
EN_DUCT = "EN 1507, EN 12237, DW/144 table"
MEMORY, SEEN = "memory", "seen in public text"


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


ROWS = [
    ("orifice constant [m3/(s m2 Pa^0.5)]", lambda: leakage.flow_coefficient(1.0), 0.839, 0.0005, "ASHRAE; NFPA 92 annex", MEMORY),
    (
        "orifice constant, European C 0.64",
        lambda: leakage.flow_coefficient(1.0, discharge_coefficient=0.64),
        0.83,
        0.005,
        "EN 12101-6",
        MEMORY,
    ),
    ("crack of 0.01 m2 at 2.5 Pa [m3/s]", lambda: leakage.flow(2.5, 0.01), 0.013, 0.0005, FIRE_CHAPTER, MEMORY),
    ("crack of 0.11 ft2 at 0.01 in. [cfm]", lambda: leakage.flow(0.01 * INCH, 0.11 * FOOT2) / CFM, 29, 0.5, FIRE_CHAPTER, MEMORY),
    ("crack of 0.01 m2 at 75 Pa [m3/s]", lambda: leakage.flow(75, 0.01), 0.073, 0.0005, FIRE_CHAPTER, MEMORY),
    ("crack of 0.11 ft2 at 0.3 in. [cfm]", lambda: leakage.flow(0.3 * INCH, 0.11 * FOOT2) / CFM, 157, 0.5, FIRE_CHAPTER, MEMORY),
    ("three paths side by side [m2]", lambda: leakage.in_parallel([0.10, 0.05, 0.05]), 0.20, 0.005, "Klote, SFPE Handbook; ASHRAE", MEMORY),
    ("two equal paths in a row [m2]", lambda: leakage.in_series([0.02, 0.02]), 0.014, 0.0005, KLOTE, MEMORY),
    ("two unequal paths in a row [m2]", lambda: leakage.in_series([0.02, 0.20]), 0.0199, 0.00005, KLOTE, MEMORY),
    ("two unequal paths in a row [ft2]", lambda: leakage.in_series([0.22, 2.2]), 0.219, 0.0005, KLOTE, MEMORY),
    (
        "air barrier limit 0.25 cfm/ft2 at 75 Pa as area per area [-]",
        lambda: leakage.area_from_flow(si(0.25, "foot^3/minute/foot^2"), 75.0),
        0.000175,
        0.0000005,
        "US Army Corps air leakage protocol (0.25 seen; the ratio is derived)",
        SEEN,
    ),
    ("stair example: building to outdoors [ft2]", lambda: FACADE_M2 / FOOT2, 1.27, 0.005, STAIR, MEMORY),
    ("stair example: stair to building [ft2]", lambda: STAIR_M2 / FOOT2, 0.32, 0.005, STAIR, MEMORY),
    ("stair example: stack gradient [in./ft]", lambda: air.stack_gradient(OUT_C, IN_C) * FOOT / INCH, 0.0017, 0.00005, STAIR, MEMORY),
    (
        "stair example: top, from the printed areas and gradient [in. w.g.]",
        lambda: leakage.stair_top_pressure(0.080, 216, 0.0017, 0.32, 1.27),
        0.425,
        0.0005,
        STAIR,
        MEMORY,
    ),
    ("stair example: top, nothing rounded [in. w.g.]", stair_top_inches, 0.425, 0.0005, STAIR, MEMORY),
    (
        "stair example: supply, from the printed areas and pressures [cfm]",
        lambda: leakage.stair_supply_flow(20, 0.32 * FOOT2, 0.080 * INCH, 0.425 * INCH) / CFM,
        8200,
        50,
        STAIR,
        MEMORY,
    ),
    (
        "stair example: supply, nothing rounded [cfm]",
        lambda: leakage.stair_supply_flow(20, STAIR_M2, 0.080 * INCH, stair_top_inches() * INCH) / CFM,
        8258,
        # 8258 comes from the printed constants 2610 and 7.64 and from 460 for 459.67; C 0.65 at 1.2 kg/m3 is 2607 (0.11 % less),
        # and the physical stack constant 7.625 (0.2 % less stack, 0.05 % less flow): together 0.13 % of 8258.
        12,
        f"{STAIR}, recomputed with unrounded areas",
        MEMORY,
    ),
    (
        "critical velocity, 150 kW in a corridor of 1.22 m [m/s]",
        lambda: air.critical_velocity(150e3, 1.22),
        1.45,
        0.005,
        f"Thomas relation, {KLOTE}",
        MEMORY,
    ),
    (
        "critical velocity, 512 000 Btu/h in a corridor of 4 ft [fpm]",
        lambda: to(air.critical_velocity(si(512e3, "Btu/hour"), 4 * FOOT), "m/s", "foot/minute"),
        286,
        0.5,
        f"Thomas relation, {KLOTE}",
        MEMORY,
    ),
    (
        "purging at 6 air changes an hour, 20 % to 1 % [min]",
        lambda: air.purge_time_s(6, 0.20, 0.01) / 60,
        30,
        0.5,
        f"{FIRE_CHAPTER}, smoke purging",
        MEMORY,
    ),
    ("hospital door, 5 Pa [m3/s]", lambda: hospital_door_flow(5), 0.03, 0.005, HOSPITAL, SEEN),
    ("hospital door, 10 Pa [m3/s]", lambda: hospital_door_flow(10), 0.05, 0.005, HOSPITAL, SEEN),
    ("hospital door, 15 Pa [m3/s]", lambda: hospital_door_flow(15), 0.06, 0.005, HOSPITAL, SEEN),
    ("duct, leakage class 12 at 0.5 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(12, 0.5), 7.6, 0.05, SMACNA, MEMORY),
    ("duct, leakage class 12 at 2 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(12, 2), 18.8, 0.05, SMACNA, MEMORY),
    ("duct, leakage class 6 at 3 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(6, 3), 12.3, 0.05, SMACNA, MEMORY),
    ("duct, leakage class 24 at 0.5 in. [cfm/100 ft2]", lambda: duct_cfm_per_100_ft2(24, 0.5), 15.3, 0.05, SMACNA, MEMORY),
    ("duct, tightness class B at 400 Pa [L/(s m2)]", lambda: duct_litres("B", 400), 0.44, 0.005, EN_DUCT, MEMORY),
    ("duct, tightness class C at 400 Pa [L/(s m2)]", lambda: duct_litres("C", 400), 0.15, 0.005, EN_DUCT, MEMORY),
    ("duct, tightness class A at 500 Pa [L/(s m2)]", lambda: duct_litres("A", 500), 1.53, 0.005, EN_DUCT, MEMORY),
    ("duct, tightness class C at 2000 Pa [L/(s m2)]", lambda: duct_litres("C", 2000), 0.42, 0.005, EN_DUCT, MEMORY),
]


@pytest.mark.parametrize(("quantity", "call", "published", "tolerance", "source", "how_known"), ROWS, ids=[row[0] for row in ROWS])
def test_leaks_and_stair_agree_with_the_published_figure(quantity, call, published, tolerance, source, how_known):
    assert call() == pytest.approx(published, abs=tolerance), f"{quantity}: {source} ({how_known})"
