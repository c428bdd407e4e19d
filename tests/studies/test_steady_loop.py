"""Where a loop comes to rest by its displays: the held loop where they are right, and what the words say of the doors."""

import numpy as np
import pytest

from helpers.formulas import doors
from helpers.model.air.tower import Tower
from helpers.studies.cases import STAIR_AIR, Case, conditions_of
from helpers.studies.signals.steady_loop import ENTRANCE_CLOSER_N, ENTRANCE_HEIGHT_M, ENTRANCE_WIDTH_M, QUAYSIDE, ROUNDING_PA, steady_loop


def at_rest(loop, set_point_pa=None):
    return loop.settle(loop.readings_pa, loop.control.set_point_pa if set_point_pa is None else set_point_pa)


@pytest.mark.parametrize("stair_air", STAIR_AIR)
@pytest.mark.parametrize(("set_point_pa", "state"), [(-5.0, "at lowest speed"), (20.0, "held"), (40.0, "held"), (90.0, "at full speed")])
def test_with_right_displays_it_rests_where_the_network_is_held(larkfield, stair_air, set_point_pa, state):
    found = at_rest(steady_loop(stair_air=stair_air), set_point_pa)
    held = Tower(larkfield).hold(conditions_of(larkfield, [Case("", "winter", stair=stair_air)]), set_point_pa)
    assert found.state == held.state[0] == state
    assert (found.least_pa, found.most_pa) == pytest.approx((held.air.door_dp_pa.min(), held.air.door_dp_pa.max()), abs=ROUNDING_PA)
    assert found.off_pa == pytest.approx(0.0, abs=1e-9)


def test_a_display_that_goes_out_on_the_way_up_leaves_the_fan_without_a_reading():
    loop = steady_loop()
    shown = np.where(loop.readings_pa > 20.0, np.nan, loop.readings_pa)
    assert loop.settle(shown, 40.0).state == "no reading"


@pytest.mark.parametrize(("weather", "place"), [("winter", "On the quay"), ("summer", "In the yard")])
def test_an_entrance_leaf_is_weighed_on_the_side_where_the_air_helps_it_least(weather, place):
    found = at_rest(steady_loop(QUAYSIDE, weather))
    assert f"{place} an entrance leaf" in found.says()
    least = min(found.readings_pa)
    assert found.force_n == pytest.approx(doors.opening_force(-least, ENTRANCE_WIDTH_M, ENTRANCE_HEIGHT_M, ENTRANCE_CLOSER_N))
