"""Doors: force at the handle and back, the leaf that stands open, air through the doorway."""

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import air, doors, leakage

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
UNITS = pint.get_application_registry()
widths, heights = st.floats(0.6, 1.5), st.floats(1.9, 2.5)
closers = st.floats(0, 120)


@EXAMPLES
@given(dp=st.floats(-200, 200), width=widths, height=heights, closer=closers, handle=st.floats(0.02, 0.3))
def test_force_and_tolerated_pressure_undo_each_other(dp, width, height, closer, handle):
    force = doors.opening_force(dp, width, height, closer, handle)
    if force >= 0:
        assert doors.pressure_tolerated(force, width, height, closer, handle) == pytest.approx(dp, abs=1e-9)


@EXAMPLES
@given(width=widths, height=heights, closer=st.floats(0, 100), more=st.floats(1, 30))
def test_a_heavier_closer_lowers_the_pressure_a_door_tolerates(width, height, closer, more):
    light, heavy = doors.pressure_tolerated(133.4, width, height, np.array([closer, closer + more]))
    assert heavy < light


@EXAMPLES
@given(width=widths, height=heights, closer=st.floats(0, 100), more=st.floats(0.05, 0.5))
def test_a_wider_or_taller_door_tolerates_less(width, height, closer, more):
    assert doors.pressure_tolerated(133.4, width + more, height, closer) < doors.pressure_tolerated(133.4, width, height, closer)
    assert doors.pressure_tolerated(133.4, width, height + more, closer) < doors.pressure_tolerated(133.4, width, height, closer)


def test_a_handle_nearer_the_hinge_costs_force():
    edge, middle = doors.opening_force(50.0, 0.9, 2.1, 30.0, np.array([0.05, 0.45]))
    assert edge < middle
    assert middle == pytest.approx(30.0 + 50.0 * 0.9 * 2.1)  # half way, the hand has no better lever than the pressure


@EXAMPLES
@given(dp=st.floats(0, 150), width=widths, height=heights, closer=closers)
def test_a_leaf_that_opens_with_the_pressure_needs_that_much_less(dp, width, height, closer):
    against, helped = doors.opening_force(np.array([dp, -dp]), width, height, closer)
    assert against - closer == pytest.approx(closer - helped)


def test_enough_pressure_on_its_side_keeps_a_leaf_from_closing():
    holds_open = -doors.pressure_tolerated(0.0, 0.9, 2.1, 30.0)
    assert doors.opening_force(-holds_open, 0.9, 2.1, 30.0) == pytest.approx(0.0, abs=1e-12)
    assert doors.opening_force(-1.1 * holds_open, 0.9, 2.1, 30.0) < 0


def test_a_closer_over_the_limit_leaves_no_pressure_at_all():
    assert doors.pressure_tolerated(100.0, 0.9, 2.1, 120.0) < 0


def test_the_inch_pound_door_formula_and_ours_meet():
    """F = F_c + 5.2 W A dp / (2 (W - d)) in lbf, ft and in. w.g. (read by a reviewer in 2026); one inch is 5.2023 psf."""
    dp, width, height, closer, handle = (UNITS(text) for text in ("0.3 inH2O", "3 ft", "7 ft", "10 lbf", "3 in"))
    ours = doors.opening_force(*(q.to_base_units().magnitude for q in (dp, width, height, closer, handle)))
    theirs = 10 + 5.2 * 3 * (3 * 7) * 0.3 / (2 * (3 - 0.25))
    assert UNITS.Quantity(ours, "N").to("lbf").magnitude == pytest.approx(theirs, rel=5e-4)


@EXAMPLES
@given(dp=st.floats(1, 100), width=widths, height=heights)
def test_an_open_door_is_a_leak_of_its_own_size(dp, width, height):
    assert doors.open_door_flow(dp, width, height) == pytest.approx(leakage.flow(dp, width * height), rel=3e-5)
    assert doors.open_door_flow(-dp, width, height) == -doors.open_door_flow(dp, width, height)


def test_arrays_of_doors_give_what_single_calls_give():
    dp, width = np.linspace(-40, 90, 6)[:, None], np.array([0.8, 0.9, 1.1])
    table = doors.opening_force(dp, width, 2.1, 40.0)
    assert table.shape == (6, 3)
    assert table[4, 2] == doors.opening_force(dp[4, 0], 1.1, 2.1, 40.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: doors.opening_force(np.nan, 0.9, 2.1, 40), "dp_pa must be a finite number, got nan"),
        (lambda: doors.opening_force(50, 0, 2.1, 40), "width_m must be above 0, got 0"),
        (lambda: doors.opening_force(50, 0.9, -2.1, 40), "height_m must be above 0, got -2.1"),
        (lambda: doors.opening_force(50, 0.9, 2.1, -40), "closer_force_n must be 0 or more, got -40"),
        (lambda: doors.opening_force(50, 0.9, 2.1, 40, 0.9), "handle_to_edge_m must be below width_m, got a handle 0 m from the hinge"),
        (lambda: doors.opening_force(50, 0.9, 2.1, 40, -0.1), "handle_to_edge_m must be 0 or more, got -0.1"),
        (lambda: doors.pressure_tolerated(-1, 0.9, 2.1, 40), "force_limit_n must be 0 or more, got -1"),
        (lambda: doors.pressure_tolerated("30 lbf", 0.9, 2.1, 40), "force_limit_n must be a number"),
        (lambda: doors.open_door_flow(5, 0.9, 2.1, discharge_coefficient=0), "discharge_coefficient must be from 0.1 to 1, got 0"),
        (lambda: doors.open_door_velocity(1.0, 0.0, 2.1), "width_m must be above 0, got 0"),
        (lambda: doors.relatching_pressure(0.9, 2.1, 80.0, 1.2), "closing_share must be from 0 to 1, got 1.2"),
        (lambda: doors.relatching_pressure(0.9, 2.1, -1.0, 0.5), "closer_force_n must be 0 or more, got -1"),
        (lambda: doors.force_at_edge(50.0, 0.9, 0.9), "handle_to_edge_m must be below width_m"),
    ],
)
def test_nonsense_about_doors_gets_its_sentence(call, message):
    with pytest.raises(ValueError, match=r".") as refusal:
        call()
    assert message in str(refusal.value)


def test_the_speed_that_holds_smoke_back_grows_with_the_third_root_of_the_heat_and_falls_with_the_width():
    one = doors.critical_velocity(100e3, 0.9)
    assert doors.critical_velocity(800e3, 0.9) == pytest.approx(2 * one)
    assert doors.critical_velocity(100e3, 8 * 0.9) == pytest.approx(one / 2)
    assert doors.critical_velocity(0.0, 0.9) == 0
    # The heat balance behind it: air of that speed over W x 1 m, warmed by E, has a Froude number of 1.
    rho, cp, t = 1.2, 1005.0, 293.15
    rise = 100e3 / (rho * cp * one * 0.9)  # over one metre of height
    assert one**2 == pytest.approx(9.80665 * rise / t, rel=1e-6)


def test_the_speed_by_the_gas_is_that_of_its_lift_and_none_for_gas_no_warmer_than_the_air():
    assert doors.opposed_flow_velocity(2.1, 200.0) == pytest.approx(0.64 * np.sqrt(9.80665 * 2.1 * 180 / 473.15))
    assert doors.opposed_flow_velocity(2.1, [10.0, 20.0]) == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: doors.critical_velocity(-1.0, 0.9), "heat_release_w"),
        (lambda: doors.critical_velocity(1e5, 0.0), "width_m"),
        (lambda: doors.critical_velocity(1e5, 0.9, -300.0), "air_c"),
        (lambda: doors.critical_velocity(1e5, 0.9, factor=0.0), "factor"),
        (lambda: doors.opposed_flow_velocity(0.0, 200.0), "height_m"),
        (lambda: doors.opposed_flow_velocity(2.1, -300.0), "gas_c"),
    ],
)
def test_a_speed_against_smoke_is_refused_what_cannot_be(call, told):
    with pytest.raises(ValueError, match=f"^{told}"):
        call()


@EXAMPLES
@given(
    speed=st.floats(0.3, 2), stair=st.floats(5, 100), width=widths, height=heights, share=st.floats(0.5, 1), coefficient=st.floats(0.3, 0.9)
)
def test_a_release_lets_out_what_the_doorway_lets_in(speed, stair, width, height, share, coefficient):
    """Both in series: the pressures that this flow takes across doorway and release make the stair's."""
    doorway = share * width * height
    area = doors.release_area(speed, stair, width, height, doorway, coefficient)
    flow, density = speed * width * height, air.STANDARD_DENSITY_KG_M3
    across = density / 2 * (flow / (doors.OPEN_DOOR_DISCHARGE_COEFFICIENT * doorway)) ** 2
    if across >= stair:
        assert area == np.inf
    else:
        assert across + density / 2 * (flow / (coefficient * area)) ** 2 == pytest.approx(stair, rel=1e-9)


def test_nonsense_about_a_release_gets_its_sentence():
    sound = {"speed_m_s": 0.75, "stair_pa": 20.0, "width_m": 0.9, "height_m": 2.1, "free_area_m2": 1.8, "discharge_coefficient": 0.65}
    for name in ("speed_m_s", "stair_pa", "width_m", "height_m", "free_area_m2"):
        with pytest.raises(ValueError, match=f"^{name} must be above 0, got 0"):
            doors.release_area(**sound | {name: 0.0})
    with pytest.raises(ValueError, match=r"^discharge_coefficient must be from 0\.1 to 1, got 1\.2"):
        doors.release_area(**sound | {"discharge_coefficient": 1.2})
