"""Fans: the curve against an independent interpolator, its inverse, similarity, power, motor speed."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from helpers.formulas import fan

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
FLOWS, PRESSURES = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0], [620.0, 600.0, 550.0, 460.0, 320.0, 120.0]
speeds = st.floats(0.05, 1.5)


@st.composite
def curves(draw):
    steps = st.lists(st.tuples(st.floats(0.05, 3), st.floats(0.5, 400)), min_size=1, max_size=8)
    moves = np.array(draw(steps))
    flows = np.concatenate([[0.0], np.cumsum(moves[:, 0])])
    falls = np.concatenate([[0.0], np.cumsum(moves[:, 1])])
    return flows, draw(st.floats(0, 300)) + falls[-1] - falls


@EXAMPLES
@given(curve=curves(), share=st.floats(0, 1))
def test_the_curve_is_the_monotone_cubic_of_an_independent_library(curve, share):
    """scipy's PchipInterpolator; only a flat end differs, which ours keeps from being quite flat."""
    flows, pressures = curve
    flow = share * flows[-1]
    theirs = PchipInterpolator(flows, pressures)
    lifted = fan.LEAST_END_STEEPNESS * 4 / 27 * np.abs(np.diff(pressures))[[0, -1]].max()
    flat = np.abs(theirs(flows[[0, -1]], 1) - fan.curve_slopes(flows, pressures)[[0, -1]]).max() > 1e-9
    tolerance = 1e-9 * pressures[0] + (lifted if flat else 0)
    assert fan.pressure_at_flow(flow, flows, pressures) == pytest.approx(float(theirs(flow)), abs=tolerance)


@EXAMPLES
@given(curve=curves(), s=speeds)
def test_the_curve_goes_through_its_points_at_any_speed(curve, s):
    flows, pressures = curve
    assert fan.pressure_at_flow(flows * s, flows, pressures, s) == pytest.approx(s**2 * pressures, rel=1e-9, abs=1e-9)


@EXAMPLES
@given(curve=curves(), s=speeds)
def test_more_flow_always_means_less_pressure(curve, s):
    flows, pressures = curve
    grid = np.linspace(-0.2, 1.2, 301) * flows[-1] * s
    assert (np.diff(fan.pressure_at_flow(grid, flows, pressures, s, beyond="extend")) < 0).all()


@EXAMPLES
@given(curve=curves(), s=speeds, beyond=st.floats(0.01, 2))
def test_beyond_its_ends_a_curve_runs_straight_on_at_the_slope_of_that_end(curve, s, beyond):
    flows, pressures = curve
    for end, way, slope in ((0, -1.0, fan.curve_slopes(flows, pressures)[0]), (-1, 1.0, fan.curve_slopes(flows, pressures)[-1])):
        there = fan.pressure_at_flow((flows[end] + way * beyond) * s, flows, pressures, s, beyond="extend")
        assert there == pytest.approx(s**2 * (pressures[end] + slope * way * beyond), rel=1e-9, abs=1e-9)


def test_the_current_of_a_motor_is_two_parts_at_right_angles():
    """By hand: 3 and 4 make 5."""
    assert fan.motor_current_share(1.0, 0.6) == pytest.approx(1.0)
    assert fan.motor_current_share(0.0, 0.6) == pytest.approx(0.6)  # the field alone
    assert fan.motor_current_share(0.5, 0.6) == pytest.approx(np.hypot(0.6, 0.4))
    assert fan.motor_current_share(0.5, 0.6, 0.5) == pytest.approx(np.hypot(0.3, 0.8))  # half the field: the torque asks for twice
    with pytest.raises(ValueError, match=r"^magnetising_share must be from 0 to 0\.99, got 1"):
        fan.motor_current_share(1.0, 1.0)
    with pytest.raises(ValueError, match=r"^torque_share must be 0 or more, got -1"):
        fan.motor_current_share(-1.0, 0.4)
    with pytest.raises(ValueError, match=r"^field_share must be from 0\.01 to 1, got 2"):
        fan.motor_current_share(1.0, 0.4, 2.0)


def test_two_points_make_a_straight_fan():
    assert fan.curve_slopes([0, 2], [400, 100]).tolist() == [-150.0, -150.0]
    assert fan.pressure_at_flow([0.5, 1.0, 1.5], [0, 2], [400, 100]) == pytest.approx([325, 250, 175])


def test_one_call_serves_many_speeds_and_flows():
    flow, speed = np.linspace(0, 2, 5), np.array([[0.5], [1.0]])
    table = fan.pressure_at_flow(flow, FLOWS, PRESSURES, speed)
    assert table.shape == (2, 5)
    assert table[0, 3] == pytest.approx(fan.pressure_at_flow(flow[3], FLOWS, PRESSURES, 0.5))
    assert np.ndim(fan.pressure_at_flow(2.0, FLOWS, PRESSURES)) == 0


@EXAMPLES
@given(pressure=st.floats(1, 2000), shutoff=st.floats(50, 2000))
def test_at_the_lowest_speed_the_fan_only_just_reaches_the_pressure_with_no_flow(pressure, shutoff):
    s = fan.lowest_speed_for(pressure, shutoff)
    assert fan.pressure_at_flow(0.0, [0, 3], [shutoff, shutoff / 2], s) == pytest.approx(pressure)


@EXAMPLES
@given(st.floats(0.0, 20.0), st.floats(0.0, 3000.0))
def test_the_speed_for_a_duty_is_the_root_of_the_straight_fans_own_quadratic(flow, pressure):
    """Of a straight curve a - b Q the speed is in closed form: s^2 a - s b Q = p."""
    a, b = 500.0, 100.0
    by_hand = (b * flow + np.sqrt((b * flow) ** 2 + 4 * a * pressure)) / (2 * a)
    assert fan.speed_for_duty(flow, pressure, [0.0, 4.0], [a, a - 4 * b]) == pytest.approx(by_hand, rel=1e-9, abs=1e-9)


@EXAMPLES
@given(st.floats(0.05, 0.95), speeds)
def test_at_the_speed_for_a_duty_the_fan_gives_just_that_by_an_independent_root_finder(share, s):
    flow = share * FLOWS[-1] * s
    pressure = float(fan.pressure_at_flow(flow, FLOWS, PRESSURES, s))
    curve = PchipInterpolator(FLOWS, PRESSURES)
    root = brentq(lambda ratio: ratio**2 * curve(min(flow / ratio, FLOWS[-1])) - pressure, flow / FLOWS[-1], 10.0)
    assert fan.speed_for_duty(flow, pressure, FLOWS, PRESSURES) == pytest.approx(root, rel=1e-6)
    assert root == pytest.approx(s, rel=1e-6)


@EXAMPLES
@given(flow=st.floats(0, 20), pressure=st.floats(0, 2000), s=speeds, density=st.floats(0.8, 1.2))
def test_air_power_follows_the_similarity_laws(flow, pressure, s, density):
    there = fan.air_power_w(flow * s, pressure * s**2 * density)
    assert there == pytest.approx(fan.power_at_speed(fan.air_power_w(flow, pressure), s, density))


@EXAMPLES
@given(flow=st.floats(0, 5), s=speeds)
def test_similarity_carries_a_duty_point_along_the_curve(flow, s):
    there = fan.pressure_at_flow(flow * s, FLOWS, PRESSURES, s)
    assert there == pytest.approx(fan.pressure_at_flow(flow, FLOWS, PRESSURES) * s**2)


def test_a_poorer_fan_takes_more_shaft_power():
    assert fan.shaft_power_w(2.0, 500.0, 0.5) == pytest.approx(2000.0)
    assert fan.shaft_power_w(2.0, 500.0, 1.0) == fan.air_power_w(2.0, 500.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: fan.check_curve([0, 1], [400, 400]), "pressures_pa must fall from point to point, got 400 then 400"),
        (lambda: fan.check_curve([0, 1, 2], [400, 420, 100]), "pressures_pa must fall from point to point, got 400 then 420"),
        (lambda: fan.check_curve([0, 2, 1], [400, 300, 100]), "flows_m3_s must rise from point to point, got 2 then 1"),
        (lambda: fan.check_curve([1, 2], [400, 300]), "the first at flow 0 (shut-off), got 2 from 1"),
        (lambda: fan.check_curve([0], [400]), "flows_m3_s must hold two or more points"),
        (lambda: fan.check_curve([0, 1, 2], [400, 300]), "must be lists of the same length"),
        (lambda: fan.check_curve([0, np.nan], [400, 300]), "flows_m3_s must be a finite number, got nan"),
        (lambda: fan.pressure_at_flow(6, FLOWS, PRESSURES), "flow_m3_s must be on the fan curve, from 0 to 5 at reference speed, got 6"),
        (lambda: fan.pressure_at_flow(-1, FLOWS, PRESSURES), "flow_m3_s must be on the fan curve"),
        (lambda: fan.pressure_at_flow(1, FLOWS, PRESSURES, beyond="guess"), "beyond must be one of refuse, extend; got 'guess'"),
        (lambda: fan.speed_for_duty(-1, 100, FLOWS, PRESSURES), "flow_m3_s must be 0 or more, got -1"),
        (lambda: fan.speed_for_duty(1, -100, FLOWS, PRESSURES), "pressure_pa must be 0 or more, got -100"),
        (lambda: fan.lowest_speed_for(50, 0), "shutoff_pressure_pa must be above 0, got 0"),
        (lambda: fan.power_at_speed(-1, 1), "power_w must be 0 or more, got -1"),
        (lambda: fan.shaft_power_w(1, 1, 0), "efficiency must be from 0.01 to 1, got 0"),
        (lambda: fan.shaft_power_w(1, 1, 65), "efficiency must be from 0.01 to 1, got 65"),
    ],
)
def test_nonsense_about_fans_gets_its_sentence(call, message):
    with pytest.raises(ValueError, match=r".") as refusal:
        call()
    assert message in str(refusal.value)
