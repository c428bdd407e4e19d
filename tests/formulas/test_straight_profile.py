"""Pressure over the height of a stair in a straight line."""

import numpy as np
import pytest

from helpers.formulas.combining import combine
from helpers.formulas.doors import pressure_at
from helpers.formulas.leakage import stair_height_limit


def test_a_door_at_the_reading_has_the_reading():
    assert pressure_at(12.0, 40.0, 12.0, 0.8) == 40.0


def test_in_winter_the_doors_above_have_more_and_in_summer_less():
    assert pressure_at(30.0, 40.0, 12.0, 0.8) > 40.0 > pressure_at(30.0, 40.0, 12.0, -0.2)


def test_the_average_of_two_doors_is_the_pressure_half_way():
    heights = np.array([4.0, 36.0])
    assert combine(pressure_at(heights, 40.0, 10.0, 0.7), "average") == pytest.approx(pressure_at(20.0, 40.0, 10.0, 0.7))


def test_it_fills_the_window_of_the_tallest_stair():
    height = stair_height_limit(20.0, 80.0, 2.0)
    assert pressure_at(height, 20.0, 0.0, 2.0) == pytest.approx(80.0)


def test_it_broadcasts_and_refuses_what_is_no_number():
    assert pressure_at(np.ones((5, 1)), np.ones(3), 0.0, 1.0).shape == (5, 3)
    with pytest.raises(ValueError, match="gradient_pa_m"):
        pressure_at(1.0, 1.0, 1.0, np.nan)
