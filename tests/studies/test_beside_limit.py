"""A figure with its limit beside it: past it is read as past it, inside as inside, however near, in both systems of units."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.lessons.leakage_and_fan_duty.lesson import panel
from helpers.studies.beside_limit import limit_tile, number_beside
from helpers.studies.doors.stair_window import SimpleStair
from helpers.studies.duty.fan_duty import DutyAsked, leaky_stair
from helpers.units import SYSTEMS
from helpers.units.said import written_out

NEAR_PA = st.one_of(st.floats(0.002, 3.0), st.floats(-3.0, -0.002))  # nearer than a thousandth of a pascal is on the limit: status.inside


def side(value, limit):
    """Below, on or above."""
    return int(np.sign(round(value - limit, 9)))


def read(tile):
    """Figure and limit as a reader takes them."""
    return float(tile[1].split()[0]), float(tile[2].split()[1])


@pytest.mark.parametrize("system", SYSTEMS)
@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.sampled_from([25.0, 60.859, 35.43, 24.90889]), NEAR_PA)
def test_a_tile_reads_on_the_side_of_its_limit_where_the_figure_is(system, limit, apart_pa):
    tile = written_out(limit_tile("Stair door 0", limit + apart_pa, limit, "pressure", "min."), system)
    assert side(*read(tile)) == side(apart_pa, 0.0)


def test_a_tile_on_its_limit_has_the_usual_digits_and_one_without_a_limit_tells_none():
    assert written_out(limit_tile("Stair door 0", 25.0, 25.0, "pressure", "min.")) == ("Stair door 0", "25 Pa", "min. 25 Pa")
    assert written_out(limit_tile("Stair door 0", 24.8, np.inf, "pressure")) == ("Stair door 0", "25 Pa", "")


@pytest.mark.parametrize("value", [2.4, 2.46, 2.499, 2.504, 2.55, 3.0])
def test_a_number_beside_its_limit_reads_on_its_side(value):
    assert side(float(number_beside(value, 2.5)), 2.5) == side(value, 2.5)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("set_point_pa", [43.0, 43.2, 43.4, 43.5])
@pytest.mark.parametrize("open_doors", [0, 1, 2])
def test_end_doors_of_the_duty_panel_read_on_the_side_of_their_limits(set_point_pa, open_doors, system):
    """About where the bottom door gets its minimum, and the top door passes its maximum."""
    asked = DutyAsked(set_point_pa=set_point_pa, open_doors=open_doors)
    building, before = leaky_stair(), panel().values
    duty = building.duty(asked)
    verdict, *_ = panel()._answers(**before | {"set_point_pa": set_point_pa, "open_doors": open_doors})
    levels, ends = building.tower.levels, building.window.by_storey(building.tower.levels, "stair door")
    doors = [tile for tile in written_out(verdict, system).tiles if tile[0].startswith("Stair door")]
    assert len(doors) == 2
    for tile in doors:
        place = levels.index(int(tile[0].split(",")[0].split()[-1]))
        limit = ends[tile[2].startswith("max.")][place]
        assert side(*read(tile)) == side(duty.result.door_dp_pa[duty.deciding, place], limit)


def test_a_window_that_just_is_none_names_two_figures():
    """Its least pressure is a little more than its most: the headline tells them apart."""
    stair = SimpleStair()
    least = stair.most_pa + 0.2
    assert "least" in written_out(stair.but(least_pa=least).headline())
    told = written_out(stair.but(least_pa=least).headline()).replace(",", "").split()
    assert float(told[told.index("least") + 1]) > float(told[told.index("most") + 1])
