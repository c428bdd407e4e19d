"""What the good transmitters read while a wrong one is averaged in."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas.combining import combine, pressure_at_the_rest


@given(st.floats(-50, 100), st.floats(-50, 125), st.integers(2, 6))
@settings(max_examples=50, derandomize=True, deadline=None)
def test_put_back_into_the_average_it_is_the_set_point(set_point, wrong, count):
    rest = pressure_at_the_rest(set_point, wrong, 1 / count)
    assert combine([wrong, *[rest] * (count - 1)], "average") == pytest.approx(set_point, abs=1e-9)


def test_one_dead_of_two_doubles_and_more_transmitters_soften_it():
    assert pressure_at_the_rest(40.0, 0.0, [1 / 2, 1 / 3, 1 / 4]) == pytest.approx([80.0, 60.0, 160 / 3])


def test_a_reading_that_is_stuck_at_the_set_point_does_no_harm_yet():
    assert pressure_at_the_rest(40.0, 40.0, 0.5) == 40.0


def test_it_broadcasts():
    assert pressure_at_the_rest(np.ones((3, 1)), np.zeros(4), 0.5).shape == (3, 4)


@pytest.mark.parametrize(("share", "match"), [(1.0, "share must be below 1, got 1: no good transmitter"), (1.2, "share"), (-0.1, "share")])
def test_a_share_that_leaves_nothing_is_refused(share, match):
    with pytest.raises(ValueError, match=f"^{match}"):
        pressure_at_the_rest(40.0, 0.0, share)
