"""Door forces and the pressure window against published figures.

Each row: quantity, our call, published figure, tolerance, source, how known. Tolerance: half a unit of the last printed digit.
"""

import pint
import pytest

from helpers.formulas import air, doors, leakage

UNITS = pint.get_application_registry()

NFPA_DOORS = "NFPA 92 table 4.4.2.2; ASHRAE HVAC Applications, fire and smoke chapter"
NFPA_MINIMUM = "NFPA 92 table 4.4.2.1.1 and its annex basis (same in NFPA 92A)"
DOOR_WIDTHS_IN = (32, 36, 40, 44, 48)
# Greatest pressure difference [in. w.g.] by closer force [lbf]; door 84 in. high, knob 3 in. from the edge, limit 30 lbf.
# None: the table's figure for 8 lbf and 44 in. is not to hand.
DOOR_TABLE = {
    6: (0.45, 0.40, 0.37, 0.34, 0.31),
    8: (0.41, 0.37, 0.34, None, 0.28),
    10: (0.37, 0.34, 0.30, 0.28, 0.26),
    12: (0.34, 0.30, 0.27, 0.25, 0.23),
    14: (0.30, 0.27, 0.24, 0.22, 0.21),
}


def si(value, unit):
    """Value in SI base units."""
    return UNITS.Quantity(value, unit).to_base_units().magnitude


def inches(pressure_pa):
    return UNITS.Quantity(pressure_pa, "Pa").to("inH2O").magnitude


DOOR_CELLS = [
    (closer, width, published)
    for closer, row in DOOR_TABLE.items()
    for width, published in zip(DOOR_WIDTHS_IN, row, strict=True)
    if published is not None
]


@pytest.mark.parametrize(("closer_lbf", "width_in", "published"), DOOR_CELLS)
def test_the_pressure_a_door_tolerates_is_the_printed_one(closer_lbf, width_in, published):
    """Source: NFPA_DOORS (memory). Printed to 0.01 in. w.g."""
    limit, closer = si(30, "lbf"), si(closer_lbf, "lbf")
    ours = doors.pressure_tolerated(limit, si(width_in, "inch"), si(84, "inch"), closer, si(3, "inch"))
    # The source counts 5.2 psf to the inch, not 5.2023: its figures stand 0.045 % higher before rounding (0.3351 for ours of 0.33497).
    tolerance = 0.005 + 0.00045 * published
    assert inches(ours) == pytest.approx(published, abs=tolerance), NFPA_DOORS


ROWS = [
    (
        "least design pressure without sprinklers, 9 ft ceiling [in. w.g.]",
        lambda: inches(air.smoke_barrier_pressure(si(9, "foot"))),
        0.10,
        0.005,
        NFPA_MINIMUM,
        "memory",
    ),
    (
        "least design pressure without sprinklers, 15 ft ceiling [in. w.g.]",
        lambda: inches(air.smoke_barrier_pressure(si(15, "foot"))),
        0.14,
        0.005,
        NFPA_MINIMUM,
        "memory",
    ),
    (
        "30 lbf to set a leaf in motion [N]",
        lambda: doors.FORCE_LIMITS_N["nfpa101_set_in_motion"],
        133,
        0.5,
        "NFPA 101, IBC 1010 door force limit",
        "seen in public text",
    ),
    ("15 lbf to free the latch [N]", lambda: doors.FORCE_LIMITS_N["nfpa101_free_latch"], 67, 0.5, "NFPA 101 7.2.1.4.5", "memory"),
    (
        "least stair pressure, 0.10 in. w.g. [Pa]",
        lambda: doors.STAIR_PRESSURES_PA["ibc_least"],
        25,
        0.5,
        "IBC 909.20.4.4, 909.20.5",
        "seen in public text",
    ),
    (
        "greatest stair pressure, 0.35 in. w.g. [Pa]",
        lambda: doors.STAIR_PRESSURES_PA["ibc_most"],
        87,
        0.5,
        "IBC 909.20.5 (another edition prints 85 Pa for the same 0.35 in.)",
        "memory",
    ),
    (
        "height limit of one supply, 20 to 80 Pa at 2 Pa/m [m]",
        lambda: leakage.stair_height_limit(20.0, 80.0, 2.0),
        30,
        0.5,
        "Jensen, J. Fire Prot. Eng. 13(4) 2003, abstract",
        "seen in public text",
    ),
]


@pytest.mark.parametrize(("quantity", "call", "published", "tolerance", "source", "how_known"), ROWS, ids=[row[0] for row in ROWS])
def test_the_window_agrees_with_the_published_figure(quantity, call, published, tolerance, source, how_known):
    assert call() == pytest.approx(published, abs=tolerance), f"{quantity}: {source} ({how_known})"


@pytest.mark.parametrize(
    ("name", "quantity"),
    [("nfpa101_set_in_motion", "30 lbf"), ("nfpa101_free_latch", "15 lbf")],
)
def test_force_limits_in_newtons_are_the_codes_pounds(name, quantity):
    assert doors.FORCE_LIMITS_N[name] == pytest.approx(UNITS(quantity).to("N").magnitude, rel=1e-6)


@pytest.mark.parametrize(("name", "quantity"), [("ibc_least", "0.10 inH2O"), ("ibc_most", "0.35 inH2O")])
def test_stair_pressures_in_pascals_are_the_codes_inches(name, quantity):
    assert doors.STAIR_PRESSURES_PA[name] == pytest.approx(UNITS(quantity).to("Pa").magnitude, rel=1e-6)
