"""The hand method on a site, against the published stair and by itself."""

from dataclasses import replace

import pytest

from helpers.studies.duty.hand_method import HandStair

CFM, FT, INWC = 0.3048**3 / 60, 0.3048, 249.0889


def test_the_published_twenty_storey_stair_takes_about_8200_cfm(twenty_storeys):
    # Source as in the fixture (memory); printed to the hundred.
    hand = replace(HandStair.of(twenty_storeys), height_m=216 * FT)
    assert hand.supply_flow(0.080 * INWC) / CFM == pytest.approx(8200, abs=50)
    assert hand.end_pressures(0.080 * INWC)[1] / INWC == pytest.approx(0.42, abs=0.01)


def test_the_height_between_end_doors_asks_for_a_little_less_than_the_buildings(twenty_storeys):
    doors, building = HandStair.of(twenty_storeys), replace(HandStair.of(twenty_storeys), height_m=216 * FT)
    assert doors.height_m == pytest.approx(19 * 10.8 * FT)
    assert 0.97 < doors.supply_flow(20.0) / building.supply_flow(20.0) < 0.99


def test_gaps_and_walls_of_one_storey_add_up(twenty_storeys):
    hand = HandStair.of(twenty_storeys)
    assert hand.stair_area_m2 / FT**2 == pytest.approx(0.26 + 560 * 0.11e-3)
    assert hand.facade_area_m2 / FT**2 == pytest.approx(6030 * 0.21e-3)


def test_every_stair_door_of_a_storey_leaks(stair):
    one, two = HandStair.of(stair()), HandStair.of(stair(storeys=[{"stair_door_count": 2}] * 6))
    assert two.stair_area_m2 - one.stair_area_m2 == pytest.approx(0.02)


def test_in_winter_the_bottom_door_has_the_least_in_summer_the_top_door(stair):
    winter, summer = HandStair.of(stair()), HandStair.of(stair(), "summer")
    assert winter.end_pressures(25.0)[0] == 25.0 < winter.end_pressures(25.0)[1]
    assert summer.end_pressures(25.0)[1] == 25.0 < summer.end_pressures(25.0)[0]


def test_a_stair_as_tall_as_the_hand_limit_just_fills_the_window(stair):
    hand = HandStair.of(stair())
    tall = replace(hand, height_m=hand.height_limit(25.0, 60.0))
    assert tall.end_pressures(25.0)[1] == pytest.approx(60.0)


def test_without_stack_effect_no_height_is_the_limit(stair):
    assert HandStair.of(stair(weather={"winter": {"outdoor_c": 21.0}})).height_limit(25.0, 60.0) == float("inf")


def test_the_hand_method_has_no_answer_for_facades_without_leaks(stair):
    tight = stair(storeys=[{"facade_m2": (0.0, 0.0, 0.0, 0.0)}] * 6)
    with pytest.raises(ValueError, match="must leak from its floors to outdoors"):
        HandStair.of(tight)
