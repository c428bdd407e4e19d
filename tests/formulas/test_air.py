"""Air: density against an independent library, stack effect, neutral plane, smoke, wind."""

import numpy as np
import pint
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import air

EXAMPLES = settings(max_examples=50, derandomize=True, deadline=None)
UNITS = pint.get_application_registry()
temperatures = st.floats(-45, 60)
altitudes = st.floats(0, 4000)
angles = st.floats(-720, 720)
psychrolib.SetUnitSystem(psychrolib.SI)  # once: it may compile itself anew at each call


@EXAMPLES
@given(temp_c=st.floats(-60, 200), altitude_m=altitudes)
def test_density_and_barometer_agree_with_an_independent_library(temp_c, altitude_m):
    """psychrolib, which follows ASHRAE Fundamentals ch. 1."""
    pressure = psychrolib.GetStandardAtmPressure(altitude_m)
    assert air.pressure_at_altitude(altitude_m) == pytest.approx(pressure, rel=1e-6)
    assert air.density(temp_c, pressure) == pytest.approx(psychrolib.GetDryAirDensity(temp_c, pressure), rel=1e-6)


@EXAMPLES
@given(temp_c=temperatures, altitude_m=altitudes)
def test_the_barometer_is_what_the_air_above_weighs(temp_c, altitude_m):
    """The slope of pressure by height is minus density times gravity, at the standard atmosphere's own temperature."""
    step = 1.0
    fall = air.pressure_at_altitude(altitude_m) - air.pressure_at_altitude(altitude_m + step)
    middle = altitude_m + step / 2
    weight = step * air.GRAVITY_M_S2 * air.density(15 - 0.0065 * middle, air.pressure_at_altitude(middle))
    assert fall == pytest.approx(weight, rel=2e-4)


@EXAMPLES
@given(out_c=temperatures, in_c=temperatures, height_m=st.floats(-200, 200))
def test_stack_effect_turns_its_sign_with_the_season_and_with_the_neutral_plane(out_c, in_c, height_m):
    assert air.stack_gradient(out_c, in_c) == pytest.approx(-air.stack_gradient(in_c, out_c))
    assert air.stack_pressure(-height_m, out_c, in_c) == pytest.approx(-air.stack_pressure(height_m, out_c, in_c))
    assert np.sign(air.stack_gradient(out_c, in_c)) == np.sign(air.density(out_c) - air.density(in_c))


def test_thin_air_weakens_the_stack_effect_in_proportion_to_the_barometer():
    high = air.pressure_at_altitude(1600.0)
    assert air.stack_gradient(-10, 21, high) / air.stack_gradient(-10, 21) == pytest.approx(high / air.STANDARD_PRESSURE_PA)


def test_the_inch_pound_stack_formula_and_ours_meet():
    """7.64 (1/T_o - 1/T_i) h in. w.g., ft and °R (read by a reviewer in 2026); its constant is 0.2 % above physics."""
    ours = air.stack_pressure(UNITS("100 ft").to("m").magnitude, UNITS.Quantity(0, "degF").to("degC").magnitude, 21.1111)
    theirs = UNITS.Quantity(7.64 * (1 / 459.67 - 1 / 529.67) * 100, "inH2O").to("Pa").magnitude
    assert ours == pytest.approx(theirs, rel=0.0025)


@EXAMPLES
@given(out_c=temperatures, in_c=temperatures, low_m2=st.floats(0.01, 10), high_m2=st.floats(0.01, 10))
def test_at_the_neutral_plane_as_much_mass_enters_as_leaves(out_c, in_c, low_m2, high_m2):
    height = air.neutral_plane_height(30.0, low_m2, high_m2, out_c, in_c)
    low_dp, high_dp = air.stack_pressure(np.array([-height, 30.0 - height]), out_c, in_c)
    # Outflow carries indoor air, inflow outdoor air.
    low_kg = np.sign(low_dp) * low_m2 * np.sqrt(2 * abs(low_dp) * air.density(in_c if low_dp > 0 else out_c))
    high_kg = np.sign(high_dp) * high_m2 * np.sqrt(2 * abs(high_dp) * air.density(in_c if high_dp > 0 else out_c))
    assert low_kg + high_kg == pytest.approx(0.0, abs=1e-6 * (abs(low_kg) + 1e-9))


def test_a_larger_lower_opening_draws_the_neutral_plane_down():
    heights = air.neutral_plane_height(30.0, np.array([0.5, 1.0, 2.0]), 1.0, -10.0, 21.0)
    assert (np.diff(heights) < 0).all()
    assert heights[1] < 15.0  # equal openings in winter: a little below half way, as the outdoor air is denser


def test_hotter_smoke_presses_harder_and_a_higher_ceiling_asks_for_more_pressure():
    assert (np.diff(air.fire_buoyancy(3.0, np.array([100.0, 400.0, 800.0]), 20.0)) > 0).all()
    assert (np.diff(air.smoke_barrier_pressure(np.array([2.7, 4.6, 6.4]))) > 0).all()
    assert air.smoke_barrier_pressure(3.0, margin_pa=0.0, neutral_share=1.0) == pytest.approx(air.fire_buoyancy(3.0, 926.667, 21.111))


def test_the_weather_stations_own_wind_comes_back_at_its_own_mast():
    assert air.wind_speed_at_height(7.0, 10.0, terrain="open") == pytest.approx(7.0)


@EXAMPLES
@given(speed=st.floats(0.1, 30), height=st.floats(1, 400), terrain=st.sampled_from(list(air.TERRAINS)))
def test_wind_rises_with_height_until_the_layer_ends(speed, height, terrain):
    depth = air.TERRAINS[terrain][1]
    lower, upper = air.wind_speed_at_height(speed, np.array([height, height + 10]), terrain)
    assert upper > lower if height < depth else upper == lower


def test_rough_ground_slows_the_wind_near_it():
    speeds = [air.wind_speed_at_height(5.0, 20.0, terrain) for terrain in ("city", "suburban", "open", "water")]
    assert speeds == sorted(speeds)


@pytest.mark.parametrize("table", list(air.FACE_COEFFICIENTS))
def test_a_face_square_to_the_wind_gets_the_tables_coefficient(table):
    values = air.FACE_COEFFICIENTS[table]
    ours = air.face_pressure_coefficients(0.0, [0, 90, 180, 270], table)
    assert ours == pytest.approx([values["windward"], values["side"], values["leeward"], values["side"]], abs=1e-5)


def test_a_face_at_sixty_degrees_to_the_wind_feels_next_to_nothing():
    """By hand: [0.3 x 0.5^0.5 + 0.9 x 0.5^0.75 - 1.3 x 0.75^2] / 2 = (0.2121 + 0.5351 - 0.7313) / 2."""
    assert air.face_pressure_coefficients(60.0, 0.0) == pytest.approx(0.0080, abs=0.0001)


@EXAMPLES
@given(wind=angles, face=angles)
def test_only_the_angle_between_wind_and_face_counts_and_left_equals_right(wind, face):
    ours = air.face_pressure_coefficients(wind, face)
    assert ours == pytest.approx(air.face_pressure_coefficients(face, wind), abs=1e-4)
    assert ours == pytest.approx(air.face_pressure_coefficients(wind + 360, face), abs=1e-4)
    assert ours == pytest.approx(air.face_pressure_coefficients(wind + 57, face + 57), abs=1e-4)


def test_turning_the_wind_never_makes_a_face_jump():
    turn = np.linspace(0, 360, 36001)
    ours = air.face_pressure_coefficients(turn, 0.0)
    assert np.abs(np.diff(ours)).max() < 0.02  # a hundredth of a degree
    assert ours.max() == pytest.approx(0.6)
    assert ours.min() > -0.70  # the formula goes a little below the side average, past the corner


def test_a_row_of_winds_and_a_row_of_faces_make_a_table():
    winds, faces = np.array([0.0, 30.0, 200.0]), np.array([0.0, 90.0, 180.0, 270.0])
    assert air.face_pressure_coefficients(winds[:, None], faces).shape == (3, 4)


def test_arrays_of_weather_give_what_single_calls_give():
    out, inside = np.linspace(-30, 40, 8)[:, None], np.linspace(15, 26, 5)
    table = air.stack_pressure(20.0, out, inside)
    assert table.shape == (8, 5)
    assert table[3, 2] == air.stack_pressure(20.0, out[3, 0], inside[2])


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: air.density(-273.15), "temp_c must be above -273.15, got -273.15"),
        (lambda: air.density(20, 0), "pressure_pa must be above 0, got 0"),
        (lambda: air.density("20"), "temp_c must be a number, got the text '20'"),
        (lambda: air.density([]), "temp_c must hold at least one number"),
        (lambda: air.stack_gradient(float("nan"), 20), "temp_out_c must be a finite number, got nan"),
        (lambda: air.stack_gradient(0, -300), "temp_in_c must be above -273.15, got -300"),
        (lambda: air.stack_pressure(np.inf, 0, 20), "height_m must be a finite number, got inf"),
        (lambda: air.pressure_at_altitude(20000), "altitude_m must be from -5000 to 11000, got 20000"),
        (lambda: air.neutral_plane_height(30, 0, 1, 0, 20), "area_low_m2 must be above 0, got 0"),
        (lambda: air.wind_pressure(-1, 0.6), "speed_m_s must be 0 or more, got -1"),
        (lambda: air.wind_speed_at_height(5, 20, "forest"), "terrain must be one of city, suburban, open, water; got 'forest'"),
        (lambda: air.wind_speed_at_height(5, 20, height_met_m=0), "height_met_m must be from 1 to 270, got 0"),
        (lambda: air.face_pressure_coefficients(0, 0, "round"), "table must be one of ashrae_low_rise, en1991_tall; got 'round'"),
        (lambda: air.smoke_barrier_pressure(3, neutral_share=2), "neutral_share must be from 0 to 1, got 2"),
    ],
)
def test_nonsense_about_air_gets_its_sentence(call, message):
    with pytest.raises(ValueError, match=r".") as refusal:
        call()
    assert message in str(refusal.value)
