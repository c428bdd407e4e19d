"""A supply duct's loop and a relief fan's on one building, in time together: what each does to the other, and what it does not."""

from functools import cache

import numpy as np
import pytest

from helpers.model.plants.kinds import plant_of, read_any_site
from helpers.model.plants.pressure_plant import BuildingConditions, DuctConditions
from helpers.model.site.file import demo_sites
from helpers.studies.tuning.supply_and_relief import DUCT, LENGTH_S, OPENS_S, RELIEF, SETTLED_S, supply_and_relief

DUCT_SITE, LAB = (read_any_site(demo_sites(None)[name]) for name in ("Mill Street Offices", "Quayside Lab"))
POINTS = np.array([DUCT_SITE.control.set_point_pa, LAB.control.set_point_pa])


@cache
def pair():
    return supply_and_relief(DUCT_SITE, LAB, ("day", "evening"))


def at(run, time_s):
    return int(np.searchsorted(run.time_s, time_s))


def test_both_sides_are_in_balance_with_each_other_as_the_two_networks_have_them():
    speeds = np.array([33.0, 30.0])
    reading, surplus = pair().air(speeds, share=1.0)
    conditions = BuildingConditions.of(LAB, "mild", "day", surplus_m3_s=surplus)
    building = plant_of(LAB).solve(conditions, speeds[RELIEF])
    assert reading[RELIEF] == pytest.approx(building.readings_pa.mean(), abs=0.15)  # the average of both faces; straight lines between
    against = float(building.pressure_pa.mean())
    lowered = DUCT_SITE.with_changes(fan={"pressures_pa": tuple(pressure - against for pressure in DUCT_SITE.fan.pressures_pa)})
    duct = plant_of(lowered).solve(DuctConditions.of(DUCT_SITE, "evening"), speeds[DUCT])
    assert surplus == pytest.approx(4.0 + float(duct.fan_flow_m3_s[0]) - pair().base_m3_s, abs=0.02)
    assert reading[DUCT] == pytest.approx(float(duct.readings_pa.min()), rel=0.01)


def test_both_loops_hold_their_set_points_before_the_turn():
    before = pair().both.reading_pa[at(pair().both, SETTLED_S) - 1]
    assert before == pytest.approx(POINTS, rel=0.01)


def test_relative_gain_is_that_of_the_matrix_and_the_pair_does_not_fight():
    gains = pair().gains
    assert pair().relative_gain == pytest.approx((gains * np.linalg.inv(gains).T)[0, 0], rel=1e-9)
    assert 0.95 < pair().relative_gain < 1.0  # the supply acts on the building, the building next to nothing on the duct
    assert abs(gains[RELIEF, DUCT]) > abs(gains[RELIEF, RELIEF])  # a hertz of the supply moves the building more than one of its own fan
    assert (pair().swing_pa(pair().both) < 0.05).all()


def test_the_ducts_loop_goes_as_far_with_the_relief_fan_in_its_loop_as_by_hand():
    both, by_hand = pair().both, pair().played(relief=False)
    there, alone = (pair().furthest_pa(run)[0, DUCT] for run in (both, by_hand))
    assert there == pytest.approx(alone, rel=0.03)
    left = by_hand.reading_pa[at(by_hand, OPENS_S) - 1, RELIEF]
    assert left < POINTS[RELIEF] - 10.0  # less air and the same relief: the building is drawn below outdoors
    assert by_hand.speed_hz[-1, RELIEF] == pytest.approx(by_hand.speed_hz[at(by_hand, SETTLED_S), RELIEF])


def test_a_turn_of_the_ducts_demand_is_what_the_relief_fan_feels_and_it_comes_to_its_lowest_speed():
    run, before = pair().both, at(pair().both, OPENS_S) - 1
    assert run.surplus_m3_s[before] < run.surplus_m3_s[at(run, SETTLED_S)] - 2.0
    assert run.speed_hz[before, RELIEF] == pytest.approx(LAB.fan.lowest_speed_hz)
    assert pair().furthest_pa(run)[0, RELIEF] > 4.0
    assert run.time_s[-1] == pytest.approx(LENGTH_S - 0.2)


@pytest.mark.parametrize(
    ("duct", "building", "more", "sentence"),
    [
        (LAB, LAB, {}, "duct must be"),
        (DUCT_SITE, DUCT_SITE, {}, "building must be"),
        (DUCT_SITE, LAB, {"states": ("day", "noon")}, "states must be one of"),
        (DUCT_SITE, LAB, {"states": ("day",)}, "states must be two of the duct's demand, got 1"),
        (DUCT_SITE, LAB, {"weather": "hail"}, "weather must be one of"),
        (DUCT_SITE, LAB, {"balance": "noon"}, "balance must be one of"),
        (DUCT_SITE, LAB, {"door_level": 2}, r"door_level must be a storey with a large door \(0\), got 2"),
    ],
)
def test_what_cannot_be_a_pair_is_refused(duct, building, more, sentence):
    with pytest.raises(ValueError, match=sentence):
        supply_and_relief(duct, building, **more)
