"""Numbers that are none go into no figure silently: each is refused in a sentence where it comes in."""

import math

import pytest

from helpers import units
from helpers.fault_bench.faulty_loop import seat_of
from helpers.model.loop.events import leaf_share
from helpers.studies.commissioning.injection import combined_tolerance_pa

NONE = [math.nan, math.inf, -math.inf]


@pytest.mark.parametrize("value", NONE)
@pytest.mark.parametrize("rule", ["average", "lowest", "highest"])
def test_the_tolerance_of_a_combined_display(value, rule):
    with pytest.raises(ValueError, match="tolerances_pa must be"):
        combined_tolerance_pa([value, 1.0], rule)
    with pytest.raises(ValueError, match="tolerances_pa must be"):
        combined_tolerance_pa([-5.0, 1.0], rule)


@pytest.mark.parametrize("value", [*NONE, -90.0, 1e6])
def test_the_angle_of_a_leaf(value):
    with pytest.raises(ValueError, match="angle_deg must be"):
        leaf_share(value)


@pytest.mark.parametrize("value", [*NONE, -1.0, "rough"])
def test_the_noise_of_a_seat_at_the_fault_bench(value):
    with pytest.raises(ValueError, match="rough must be"):
        seat_of(1, rough=value)


@pytest.mark.parametrize("value", NONE)
@pytest.mark.parametrize("dimension", ["pressure", "ratio", "temperature"])
def test_a_quantity_that_is_written_and_could_not_be_read(value, dimension):
    with pytest.raises(ValueError, match="value_si must be a finite number to be written"):
        units.write(value, dimension)
