"""The piston effect: by hand, and as an orifice."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import leakage
from helpers.formulas.air import FLOW_COEFFICIENTS, piston_pressure


def test_the_air_a_car_displaces_goes_past_it_as_through_an_orifice():
    pressure = piston_pressure(2.5, 5.0, 1.8, FLOW_COEFFICIENTS["two cars"])
    assert leakage.flow(pressure, 1.8, discharge_coefficient=0.94) == pytest.approx(2.5 * 5.0, rel=1e-7)


@given(st.floats(0.1, 10), st.floats(1.5, 3))
@settings(max_examples=50, derandomize=True, deadline=None)
def test_twice_the_speed_is_four_times_the_pressure_and_more_room_is_less(speed, more):
    pressure = piston_pressure(speed, 4.8, 1.5)
    assert piston_pressure(2 * speed, 4.8, 1.5) == pytest.approx(4 * pressure)
    assert piston_pressure(speed, 4.8, 1.5 * more) == pytest.approx(pressure / more**2)


def test_shafts_and_speeds_broadcast():
    assert piston_pressure(np.array([[1.0], [2.0]]), np.array([4.0, 5.0, 6.0]), 1.5).shape == (2, 3)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((-1.0, 4.8, 1.5), "car_speed_m_s must be from 0 to 30, got -1"),
        ((1.6, 4.8, 5.0), "shaft_area_m2 less free_area_m2 must be 0 or more, got -0.2"),
        ((1.6, 4.8, 0.0), "free_area_m2 must be above 0, got 0"),
        ((1.6, 4.8, 1.5, 0.0), "flow_coefficient must be from 0.1 to 1, got 0"),
    ],
)
def test_a_shaft_that_cannot_be_is_refused(arguments, says):
    with pytest.raises(ValueError, match=f"^{says}"):
        piston_pressure(*arguments)
