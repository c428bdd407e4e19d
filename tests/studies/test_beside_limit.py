"""A figure with its limit beside it: past it is read as past it, inside as inside, however near, in both systems of units."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.lessons.leakage_and_fan_duty.lesson import panel
from helpers.studies.beside_limit import limit_tile, number_beside
from helpers.studies.doors.stair_window import SimpleStair
from helpers.studies.duty.fan_duty import DutyAsked, leaky_stair
from helpers.units import SYSTEMS, to_display
from helpers.units.limits import limit_text, number_of
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
@given(st.sampled_from([25.0, 60.859, 35.43, 24.90889]), NEAR_PA, st.sampled_from(["min.", "max."]))
def test_a_tile_reads_on_the_side_of_its_limit_where_the_figure_is(system, limit, apart_pa, word):
    tile = written_out(limit_tile("Stair door 0", limit + apart_pa, limit, "pressure", word), system)
    assert side(*read(tile)) == side(apart_pa, 0.0)
    inwards = 1 if word == "max." else -1
    assert inwards * (to_display(limit, "pressure", system) - read(tile)[1]) >= -1e-6  # whoever stops at what is printed has kept it


@pytest.mark.parametrize("system", SYSTEMS)
@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.floats(-500.0, 500.0), st.sampled_from(["pressure", "force", "speed", "time"]), st.sampled_from(["least", "most"]))
def test_a_printed_limit_is_never_outside_the_limit_and_off_by_less_than_a_digit(system, limit, dimension, end):
    printed = written_out(limit_text(limit, dimension, end), system)
    room = (float(to_display(limit, dimension, system)) - number_of(printed)) * (1 if end == "most" else -1)
    assert -1e-6 <= room < (0.011 if (dimension, system) == ("speed", "Pa") else 1.001)


@pytest.mark.parametrize(
    ("limit_si", "dimension", "end", "said"),
    [(87.7, "pressure", "most", ("87.7 Pa", "0.352 in. w.c.")), (60.886, "pressure", "most", ("60.8 Pa", "0.244 in. w.c.")),
     (24.90889, "pressure", "least", ("25 Pa", "0.1 in. w.c.")), (66.723324, "force", "most", ("66.7 N", "15 lbf"))],
)  # fmt: skip
def test_a_limit_is_printed_as_a_gauge_can_show_it(limit_si, dimension, end, said):
    assert tuple(written_out(limit_text(limit_si, dimension, end), system) for system in SYSTEMS) == said


def test_an_end_that_is_none_is_refused():
    with pytest.raises(ValueError, match="end must be least or most; got 'max'"):
        limit_text(25.0, "pressure", "max")


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
