"""Speed of the air through an open door, and the air release it needs, against a quadratic by hand: doorway and release in series."""

import math

import numpy as np
import pytest
from one_room import CD, FALL, HEIGHT_M, P0_PA, RHO, WIDTH_M, in_series, site_of, stair_air

from helpers.formulas.doors import release_area
from helpers.model.air.conditions import Conditions
from helpers.model.air.release import FOUND, NOT_REACHED, STEP_M2, door_speeds, free_area_needed
from helpers.model.air.tower import Tower
from helpers.studies.cases import Case, conditions_of
from helpers.studies.doors.open import open_doors
from helpers.studies.doors.window import pressure_window

DOORWAY = CD * WIDTH_M * HEIGHT_M
TIGHT_M2 = 1e-9  # of gaps and walls: as good as none
VENT_M2, VENT_C = 0.6, 0.6
DUCT_PA, DUCT_M3_S = 30.0, 2.0


def vented(**more):
    return site_of(
        TIGHT_M2, TIGHT_M2, release={"kind": "vent", "area_m2": VENT_M2, "discharge_coefficient": VENT_C, "faces_deg": 0.0} | more
    )


def speed_through(site, speed_hz):
    conditions = Conditions.of(site, open_doors=(0,))
    tower = Tower(site)
    air = tower.solve(conditions, speed_hz)
    assert air.converged.all()
    return door_speeds(tower, air, conditions)[0, 0], air.stair_pa[0, 0]


@pytest.mark.parametrize("speed_hz", [10.0, 25.0, 50.0])
def test_the_speed_through_the_door_is_the_quadratics(speed_hz):
    speed, stair = speed_through(vented(), speed_hz)
    flow, pressure = stair_air(in_series(DOORWAY, VENT_C * VENT_M2), speed_hz / 50)
    assert speed == pytest.approx(flow / (WIDTH_M * HEIGHT_M), rel=5e-4)  # at 10 Hz a doorway of 0.3 Pa feels the smoothing
    assert stair == pytest.approx(pressure, rel=5e-4)  # at 10 Hz a doorway of 0.3 Pa feels the smoothing


def test_a_duct_to_the_roof_costs_its_own_loss_on_top():
    """Its loss at a flow, brought to this air and to the flow there is: dp = loss (rho / 1.2) (Q / Qd)^2, a third way in series."""
    site = site_of(TIGHT_M2, TIGHT_M2, release={"kind": "extract", "area_m2": VENT_M2, "discharge_coefficient": VENT_C,
                                                "duct_loss_pa": DUCT_PA, "duct_loss_flow_m3_s": DUCT_M3_S})  # fmt: skip
    speed, _ = speed_through(site, 50.0)
    duct = DUCT_M3_S / math.sqrt(2 * DUCT_PA / 1.2)
    flow, pressure = stair_air(in_series(DOORWAY, VENT_C * VENT_M2, duct), 1.0)
    assert speed == pytest.approx(flow / (WIDTH_M * HEIGHT_M), rel=1e-3)
    lost = RHO / 2 * (flow / DOORWAY) ** 2 + RHO / 2 * (flow / (VENT_C * VENT_M2)) ** 2 + DUCT_PA * RHO / 1.2 * (flow / DUCT_M3_S) ** 2
    assert lost == pytest.approx(pressure, rel=1e-9)  # the hand figure itself: all of the pressure is spent


def test_held_at_its_set_point_the_study_tells_the_speed_of_two_ways_in_series():
    site = vented().with_changes(control={"set_point_pa": 20.0})
    tower, case = Tower(site), Case("open", open_doors=(0,))
    conditions = conditions_of(site, [case])
    held = tower.hold(conditions)
    assert held.held.all()
    (row,) = [row for row in open_doors(tower, pressure_window(site), [case], held).rows if row.use == "stair door"]
    flow = in_series(DOORWAY, VENT_C * VENT_M2) * math.sqrt(2 * 20.0 / RHO)
    assert row.velocity_m_s == pytest.approx(flow / (WIDTH_M * HEIGHT_M), rel=1e-3)
    assert row.floor_pa == pytest.approx(20.0 - RHO / 2 * (flow / DOORWAY) ** 2, abs=0.02)


@pytest.mark.parametrize("wanted", [0.75, 1.0, 2.0])
def test_the_release_a_speed_needs_is_the_quadratic_turned_round(wanted):
    site, speed_hz = vented(), 50.0
    found = free_area_needed(Tower(site), Conditions.of(site, open_doors=(0,)), 0, wanted, speed_hz=speed_hz)
    flow = wanted * WIDTH_M * HEIGHT_M
    pressure = RHO / 1.2 * (P0_PA - FALL * flow)
    exact = 1 / (VENT_C * math.sqrt(2 * pressure / RHO / flow**2 - 1 / DOORWAY**2))
    assert found.state[0] == FOUND
    assert exact <= found.area_m2[0] + 1e-6
    assert found.area_m2[0] < exact + 1.5 * STEP_M2
    by_formula = release_area(wanted, pressure, WIDTH_M, HEIGHT_M, WIDTH_M * HEIGHT_M, VENT_C, density_kg_m3=RHO)
    assert by_formula == pytest.approx(exact, rel=1e-3)


def test_a_speed_that_the_fan_cannot_give_with_the_largest_release_is_not_found():
    """Without any release's loss the doorway alone takes the fan's line at a flow; a tenth more is asked for."""
    site = vented()
    most, _ = stair_air(DOORWAY, 1.0)
    found = free_area_needed(
        Tower(site), Conditions.of(site, open_doors=(0,)), 0, np.array([1.1 * most / (WIDTH_M * HEIGHT_M)]), speed_hz=50.0
    )
    assert found.state[0] == NOT_REACHED
