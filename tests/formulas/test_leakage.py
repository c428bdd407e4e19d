"""Leaks: the power law through zero, paths joined, walls, doors, the stair by hand."""

import math

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from helpers.formulas import air, kernels, leakage

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
UNITS = pint.get_application_registry()
pressures = st.floats(-500, 500)
exponents = st.floats(0.5, 1.0)
areas = st.lists(st.floats(1e-6, 10), min_size=2, max_size=8)


@EXAMPLES
@given(dp=pressures, n=exponents)
def test_turning_the_pressure_round_turns_the_flow_round(dp, n):
    assert leakage.smooth_power(-dp, n) == -leakage.smooth_power(dp, n)
    assert leakage.flow(-dp, 0.02, exponent=n) == -leakage.flow(dp, 0.02, exponent=n)


@EXAMPLES
@given(dp=pressures, step=st.floats(1e-6, 50), n=exponents)
def test_more_pressure_always_drives_more_air(dp, step, n):
    assert leakage.smooth_power(dp + step, n) > leakage.smooth_power(dp, n)


@EXAMPLES
@given(dp=st.floats(0.3, 2000), n=exponents)
def test_above_a_third_of_a_pascal_the_smooth_law_is_the_power_law(dp, n):
    """The shortfall is (1-n)/2 (e/dp)^2 of the flow."""
    shortfall = 1 - leakage.smooth_power(dp, n) / dp**n
    assert shortfall == pytest.approx((1 - n) / 2 * (leakage.SMOOTHING_PA / dp) ** 2, rel=2e-3, abs=1e-14)
    assert shortfall < 3e-4


@EXAMPLES
@given(dp=pressures, n=exponents)
def test_the_slope_is_the_derivative(dp, n):
    step = 1e-6 * max(abs(dp), leakage.SMOOTHING_PA)
    rise = leakage.smooth_power(dp + step, n) - leakage.smooth_power(dp - step, n)
    assert kernels.flow_and_slope(np.float64(dp), n)[1] == pytest.approx(rise / (2 * step), rel=1e-6)


@EXAMPLES
@given(dp=pressures)
def test_the_straight_line_at_a_flow_touches_the_law_of_a_door_gap_there(dp):
    flow, slope = kernels.flow_and_slope(np.float64(dp), 0.5)
    steep, left = kernels.tangent_of_flow(flow, 0.5)
    assert steep == pytest.approx(slope, rel=1e-9)
    assert left == pytest.approx(flow - slope * dp, rel=1e-6, abs=1e-9)


@EXAMPLES
@given(dp=st.one_of(st.floats(0.5, 500), st.floats(-500, -0.5)), n=st.floats(0.55, 1.0))
def test_the_straight_line_at_a_flow_touches_the_power_law_of_a_crack(dp, n):
    flow = np.copysign(abs(dp) ** n, dp)
    steep, left = kernels.tangent_of_flow(np.float64(flow), n)
    assert steep == pytest.approx(n * abs(dp) ** (n - 1), rel=1e-9)
    assert left == pytest.approx(flow - steep * dp, rel=1e-6, abs=1e-9)


@EXAMPLES
@given(dp=pressures, n=exponents)
def test_the_checked_law_is_the_one_the_air_network_uses(dp, n):
    value, _ = kernels.flow_and_slope(np.float64(dp), n)
    assert leakage.smooth_power(dp, n) == pytest.approx(value, rel=1e-12)


def test_no_pressure_drives_no_air_and_no_area_passes_none():
    assert leakage.flow(0.0, 0.02) == 0.0
    assert leakage.flow(50.0, 0.0) == 0.0


@EXAMPLES
@given(n=exponents, reference=st.floats(4, 100))
def test_at_its_reference_pressure_an_area_passes_the_same_whatever_the_exponent(n, reference):
    ours = leakage.flow(reference, 0.02, exponent=n, reference_pa=reference)
    assert ours == pytest.approx(leakage.flow(reference, 0.02), rel=2e-6)


def test_the_inch_pound_orifice_formula_and_ours_meet():
    """2610 A sqrt(dp) in cfm, ft2 and in. w.g. (read by a reviewer in 2026); C 0.65 at 1.2 kg/m3 makes it 2607."""
    ours = UNITS.Quantity(leakage.flow(UNITS("0.2 inH2O").to("Pa").magnitude, UNITS("1.5 ft^2").to("m^2").magnitude), "m^3/s")
    assert ours.to("ft^3/min").magnitude == pytest.approx(2610 * 1.5 * 0.2**0.5, rel=0.0015)


@EXAMPLES
@given(paths=areas, n=exponents)
def test_a_row_of_leaks_is_tighter_than_its_tightest_and_a_fan_of_them_wider_than_its_widest(paths, n):
    assert leakage.in_series(paths, exponent=n) < min(paths)
    assert leakage.in_parallel(paths) > max(paths)


@EXAMPLES
@given(paths=areas, n=exponents, dp=st.floats(5, 200))
def test_along_a_row_of_leaks_the_same_air_flows_and_the_pressures_add_up(paths, n, dp):
    through = leakage.flow(dp, leakage.in_series(paths, exponent=n), exponent=n)
    drops = [(through / leakage.flow_coefficient(area, exponent=n)) ** (1 / n) for area in paths]
    assert sum(drops) == pytest.approx(dp, rel=1e-4)


def test_a_closed_path_closes_the_row_and_leaves_the_others_beside_it_open():
    assert leakage.in_series([0.0, 0.1]) == 0.0
    assert leakage.in_series([0.0, 0.0]) == 0.0
    assert leakage.in_parallel([0.0, 0.1]) == 0.1


def test_paths_join_along_the_axis_asked_for():
    table = np.array([[0.1, 0.2, 0.3], [0.4, 0.5, 0.6]])
    assert leakage.in_series(table).shape == (2,)
    assert leakage.in_series(table, axis=0) == pytest.approx([leakage.in_series(column) for column in table.T])
    assert leakage.in_parallel(table, axis=0) == pytest.approx([0.5, 0.7, 0.9])


def test_extremes_of_size_do_not_drown_the_row():
    assert leakage.in_series([1e-200, 1e15]) == pytest.approx(1e-200)


@pytest.mark.parametrize("edition", list(leakage.WALL_LEAKAGE_RATIOS))
def test_looser_walls_leak_more_in_every_edition(edition):
    for element, classes in leakage.WALL_LEAKAGE_RATIOS[edition].items():
        leaks = [leakage.wall_leakage_area(100.0, element, tightness, edition) for tightness in classes]
        assert leaks == sorted(leaks)
        assert len(set(leaks)) == len(leaks)


def test_the_editions_differ_on_the_outside_wall_and_agree_on_shafts():
    older, newer = (leakage.WALL_LEAKAGE_RATIOS[edition] for edition in ("ashrae_1999", "nfpa92_2012"))
    assert newer["exterior_wall"]["average"] == 0.17e-3 < older["exterior_wall"]["average"] == 0.21e-3
    assert newer["stair_wall"] == older["stair_wall"]
    assert newer["lift_shaft_wall"] == older["lift_shaft_wall"]


@EXAMPLES
@given(bottom=st.floats(-80, 150), top=st.floats(-80, 150), n=exponents)
def test_the_stair_by_hand_is_the_power_law_summed_over_its_height(bottom, top, n):
    def local(share):
        dp = bottom + share * (top - bottom)
        return math.copysign(abs(dp) ** n, dp)

    neutral = [-bottom / (top - bottom)] if bottom * top < 0 else None
    mean = quad(local, 0, 1, points=neutral)[0]
    ours = leakage.stair_supply_flow(20, 0.03, bottom, top, exponent=n)
    assert ours == pytest.approx(20 * leakage.flow_coefficient(0.03, exponent=n) * mean, rel=1e-6, abs=1e-8)


@EXAMPLES
@given(dp=st.floats(1, 150), gap=st.floats(-1e-3, 1e-3))
def test_an_even_stair_leaks_like_that_many_cracks(dp, gap):
    ours = leakage.stair_supply_flow(12, 0.03, dp, dp * (1 + gap * 1e-2))
    assert ours == pytest.approx(12 * leakage.flow(dp * (1 + gap * 0.5e-2), 0.03), rel=3e-5)


def test_the_stair_by_hand_keeps_its_digits_over_a_small_rise():
    """By hand, 100 to 104.04 Pa: (10.2^3 - 10^3) / (1.5 x 4.04) = 10.100330; the root half way would be 10.100495."""
    ours = leakage.stair_supply_flow(1, 1.0, 100.0, 104.04)
    assert ours / leakage.flow_coefficient(1.0) == pytest.approx(10.100330, abs=1e-6)
    assert isinstance(ours, float)


def test_a_tight_facade_takes_stack_effect_off_the_stair():
    gradient = air.stack_gradient(-10.0, 21.0)
    tops = leakage.stair_top_pressure(20.0, 60.0, gradient, 0.03, np.array([0.01, 0.03, 0.1, 10.0]))
    assert (np.diff(tops) > 0).all()
    assert tops[1] == pytest.approx(20.0 + gradient * 60 / 2)
    assert tops[-1] == pytest.approx(20.0 + gradient * 60, rel=1e-4)


@EXAMPLES
@given(low=st.floats(5, 30), width=st.floats(5, 80), gradient=st.floats(0.1, 3), inner=st.floats(0.001, 0.1))
def test_at_the_height_limit_the_top_stands_at_the_windows_edge(low, width, gradient, inner):
    height = leakage.stair_height_limit(low, low + width, gradient, inner, 0.05)
    assert leakage.stair_top_pressure(low, height, gradient, inner, 0.05) == pytest.approx(low + width)
    assert leakage.stair_height_limit(low, low + width, -gradient, inner, 0.05) == pytest.approx(height)


def test_arrays_of_leaks_give_what_single_calls_give():
    dp, area = np.linspace(-60, 60, 7)[:, None], np.array([0.01, 0.02, 0.05])
    exponent = np.array([0.5, 0.6, 0.65])
    table = leakage.flow(dp, area, exponent=exponent)
    assert table.shape == (7, 3)
    assert table[5, 1] == pytest.approx(leakage.flow(dp[5, 0], 0.02, exponent=0.6))
    assert leakage.stair_supply_flow(20, area, 20.0, dp).shape == (7, 3)


@EXAMPLES
@given(bottom=st.floats(5, 60), height=st.floats(1, 100), then=st.floats(-0.5, 0.5), now=st.floats(0.6, 2.0), outer=st.floats(0.005, 1))
def test_from_one_weather_to_another_is_the_hand_method_done_twice(bottom, height, then, now, outer):
    """The loop holds the bottom door: what was read at the top in one weather leads to the top in another."""
    in_may, in_january = (leakage.stair_top_pressure(bottom, height, gradient, 0.024, outer) for gradient in (then, now))
    share = 1 / (1 + (0.024 / outer) ** 2)
    assert leakage.pressure_in_another_weather(in_may, height, then, now, share) == pytest.approx(in_january)


@EXAMPLES
@given(n=exponents, dp=st.floats(5, 60), times=st.floats(1.2, 5))
def test_two_rounds_give_back_the_exponent_they_were_made_with(n, dp, times):
    flows = [leakage.flow(one, 0.4, exponent=n) for one in (times * dp, dp)]
    assert leakage.leak_exponent(flows[0], times * dp, flows[1], dp) == pytest.approx(n, abs=1e-3)


@EXAMPLES
@given(door=st.floats(0.01, 0.1), wall=st.floats(0.005, 0.05), dp=st.floats(20, 80))
def test_the_wall_behind_a_door_is_found_from_both_pressures(door, wall, dp):
    across_wall = dp * (door / wall) ** 2
    assert leakage.flow(dp, door) == pytest.approx(leakage.flow(across_wall, wall), rel=1e-3)
    assert leakage.area_behind(door, dp, across_wall) == pytest.approx(wall)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: leakage.smooth_power(np.nan), "dp_pa must be a finite number, got nan"),
        (lambda: leakage.smooth_power(10, 0.4), "exponent must be from 0.5 to 1, got 0.4"),
        (lambda: leakage.flow(10, -0.01), "area_m2 must be 0 or more, got -0.01"),
        (lambda: leakage.flow(10, "a crack"), "area_m2 must be a number"),
        (lambda: leakage.flow(10, 0.01, density_kg_m3=0), "density_kg_m3 must be above 0, got 0"),
        (lambda: leakage.flow(10, 0.01, discharge_coefficient=65), "discharge_coefficient must be from 0.1 to 1, got 65"),
        (lambda: leakage.flow(10, 0.01, reference_pa=-75), "reference_pa must be above 0, got -75"),
        (lambda: leakage.in_series([0.1, -0.1]), "areas_m2 must be 0 or more, got -0.1"),
        (lambda: leakage.in_parallel([]), "areas_m2 must hold at least one number"),
        (
            lambda: leakage.wall_leakage_area(10, "roof"),
            "element must be one of exterior_wall, stair_wall, lift_shaft_wall, floor; got 'roof'",
        ),
        (lambda: leakage.wall_leakage_area(10, "floor", "leaky"), "tightness must be one of average; got 'leaky'"),
        (lambda: leakage.wall_leakage_area(10, "floor", edition="2050"), "edition must be one of ashrae_1999, nfpa92_2012; got '2050'"),
        (lambda: leakage.stair_supply_flow(0, 0.03, 20, 100), "storeys must be above 0, got 0"),
        (lambda: leakage.stair_top_pressure(20, 60, 1.4, 0.03, 0), "area_building_outside_m2 must be above 0, got 0"),
        (lambda: leakage.stair_height_limit(20, 80, 0), "stack_gradient_pa_m must not be 0"),
        (lambda: leakage.stair_height_limit(80, 20, 1), "dp_max_pa must be above dp_min_pa, got 20 against 80"),
        (lambda: leakage.pressure_in_another_weather(40, 20, 0.2, 1.3, 1.1), "door_share must be from 0 to 1, got 1.1"),
        (lambda: leakage.leak_exponent(1.5, 41, 0.83, 41), "dp_2_pa must differ from dp_1_pa, got 41 for both"),
        (lambda: leakage.leak_exponent(1.5, -41, 0.83, 13), "dp_1_pa must be above 0, got -41"),
        (lambda: leakage.area_behind(0.02, 40, 0), "dp_behind_pa must be above 0, got 0"),
    ],
)
def test_nonsense_about_leaks_gets_its_sentence(call, message):
    with pytest.raises(ValueError, match=r".") as refusal:
        call()
    assert message in str(refusal.value)
