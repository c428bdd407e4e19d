"""What no gauge tells apart is a tie, said as one, and no last digit of a solver chooses."""

from types import SimpleNamespace

import numpy as np
import pytest

from helpers.model.site.stair import Relief
from helpers.studies.duty.several_dampers import Several, fewest_alike
from helpers.studies.readings.ways_compared import Way, first_as_good


class Told(SimpleNamespace):
    """A way of falling back with nothing but what ways are compared by."""

    rank, as_good_as = Way.rank, Way.as_good_as


def way(name, room_pa, out=0, good=True):
    cell = SimpleNamespace(room_pa=room_pa)
    return Told(name=name, good=good, held_room_pa=room_pa, held_worst=cell, worst=cell, out=out, _damper_in_order="good")


@pytest.mark.parametrize("nudge", [-0.004, 0.0, 0.004])
def test_of_two_ways_of_falling_back_that_no_gauge_tells_apart_the_first_is_taken(nudge):
    ways = way("first", 5.049), way("second", 5.051 + nudge)  # rounded to a tenth of a pascal they fall on either side of a half
    assert first_as_good(ways).name == "first"
    assert ways[0].as_good_as(ways[1])
    assert first_as_good(ways[::-1]).name == "second"


def test_a_way_that_a_gauge_tells_to_be_better_is_taken_wherever_it_stands():
    for better in (way("second", 5.3), way("second", 9.0)):
        assert first_as_good((way("first", 5.0), better)).name == "second"
    assert first_as_good((way("first", 5.0, out=2, good=False), way("second", 5.0))).name == "second"
    assert first_as_good(()) is None


def several(count, room_pa):
    return Several(Relief(level=3, opens_pa=49.0, full_pa=52.0, area_m2=0.5, leak_area_m2=0.005, count=count), room_pa, 40.0, "tried")


def test_of_counts_of_dampers_that_no_gauge_tells_apart_the_fewest_are_taken_and_the_tie_is_told():
    found = [several(2, -5.0), several(3, -2.04), several(4, -1.98), several(5, -3.0)]
    best, alike = fewest_alike(found)
    assert (best.relief.count, alike) == (3, (4,))
    assert fewest_alike([several(2, -5.0), several(3, -2.0)])[0].relief.count == 3
    assert fewest_alike([several(2, -0.05), several(3, 1.0)])[0].relief.count == 3  # what holds is no tie with what does not
    assert fewest_alike([several(2, -np.inf), several(3, -np.inf)]) == (several(2, -np.inf), ())
