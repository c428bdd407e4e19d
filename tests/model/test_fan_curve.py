import numpy as np
import pytest

from helpers.formulas import fan as curves
from helpers.model.air.fan import FanCurve

FLOWS, PRESSURES = [0.0, 2.0, 4.0, 6.0, 8.0], [600.0, 580.0, 500.0, 330.0, 80.0]
CURVE = FanCurve.from_points(FLOWS, PRESSURES)


@pytest.mark.parametrize("ratio", [0.3, 0.7, 1.0, 1.2])
@pytest.mark.parametrize("density", [1.0, 1.2, 1.4])
def test_flow_to_pressure_and_back_is_the_same_flow(ratio, density):
    pressures = np.linspace(-200, 900, 400)[None, :] * ratio**2
    flow, slope, _ = CURVE.flow_and_slopes(pressures, ratio, density)
    back, back_slope = CURVE.pressure_and_slope(flow, ratio, density)
    assert back == pytest.approx(pressures, abs=1e-6)
    assert (slope < 0).all()
    assert (back_slope < 0).all()


@pytest.mark.parametrize("ratio", [0.4, 1.0])
def test_the_table_follows_the_catalogue_curve(ratio):
    against = np.linspace(90, 595, 50) * ratio**2
    flow, _, _ = CURVE.flow_and_slopes(against, ratio, 1.2)
    assert curves.pressure_at_flow(flow, FLOWS, PRESSURES, ratio) == pytest.approx(against, abs=0.15 * ratio**2)


def test_a_fan_at_half_speed_gives_half_the_flow_at_a_quarter_of_the_pressure():
    full, half = (CURVE.flow_and_slopes(np.array([400.0]) * s**2, s, 1.2)[0] for s in (1.0, 0.5))
    assert half == pytest.approx(full / 2)


def test_cold_air_makes_more_pressure():
    warm, cold = (CURVE.flow_and_slopes(np.array([550.0]), 1.0, density)[0] for density in (1.2, 1.35))
    assert cold > warm


def test_above_shut_off_the_backdraft_damper_leaks_a_little_backwards():
    flow, _, _ = CURVE.flow_and_slopes(np.array([700.0]), 1.0, 1.2)
    assert -0.02 * FLOWS[-1] < flow[0] < 0


@pytest.mark.parametrize("ratio", [0.5, 1.0])
def test_past_its_last_point_the_curve_goes_on_as_steep_as_it_ends(ratio):
    end = PRESSURES[-1] * ratio**2
    (before, after), slopes, _ = CURVE.flow_and_slopes(end + np.array([1e-4, -1e-4]), ratio, 1.2)
    assert after > before
    assert after == pytest.approx(before, rel=1e-5)
    assert slopes[1] == pytest.approx(slopes[0], rel=1e-3)


def test_the_slope_of_the_pressure_is_that_of_small_changes_of_flow_also_backwards_and_past_the_end():
    flow, step = np.array([-0.03, -0.01, 0.5, 4.0, 7.5, 9.0]), 1e-6
    _, slope = CURVE.pressure_and_slope(flow, 1.0, 1.1)
    up, down = (CURVE.pressure_and_slope(flow + change, 1.0, 1.1)[0] for change in (step, -step))
    assert slope == pytest.approx((up - down) / (2 * step), rel=1e-3)


def test_slopes_by_speed_are_those_of_small_speed_changes():
    against = np.array([-50.0, 100.0, 300.0, 550.0, 640.0])
    _, _, by_speed = CURVE.flow_and_slopes(against, 1.0, 1.2)
    step = 1e-6
    up, down = (CURVE.flow_and_slopes(against, 1.0 + d, 1.2)[0] for d in (step, -step))
    assert by_speed == pytest.approx((up - down) / (2 * step), rel=1e-3)


def test_duct_loss_is_taken_off_the_curve():
    with_duct = FanCurve.from_points(FLOWS, PRESSURES, 100.0, 5.0)
    flow = np.array([4.0])
    assert with_duct.pressure_and_slope(flow, 1.0, 1.2)[0] == pytest.approx(500.0 - 100.0 * (4 / 5) ** 2, abs=0.1)
    assert with_duct.shutoff_pa == pytest.approx(600.0)


def test_a_curve_that_does_not_fall_is_refused_in_one_sentence():
    with pytest.raises(ValueError, match="pressures_pa must fall"):
        FanCurve.from_points([0, 1, 2], [300, 320, 100])
