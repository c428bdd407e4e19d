"""The stair's air by storey: in the network, and as the heat balance finds it."""

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.stair_heat import StairWalls, stair_air, stair_course, with_stair
from helpers.model.air.tower import Tower
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site, read_site_text
from helpers.model.site.tolerances import boxes, filled_in

LARKFIELD = read_site(demo_sites()["Larkfield House"])
NORTHGATE = read_site(demo_sites()["Northgate Tower"])
TOWER = Tower(LARKFIELD)
WINTER = Conditions.of(LARKFIELD, "winter")


@pytest.mark.parametrize("site", [LARKFIELD, NORTHGATE])
def test_one_temperature_told_storey_by_storey_is_the_stair_of_one_temperature(site):
    tower, winter = Tower(site), Conditions.of(site, "winter")
    by_storey = with_stair(winter, np.repeat(winter.stair_c[:, None], len(site.storeys), axis=1))
    np.testing.assert_allclose(tower.hold(by_storey).air.door_dp_pa, tower.hold(winter).air.door_dp_pa, atol=1e-7)


def test_of_two_storeys_temperatures_half_a_storey_of_each_makes_the_lift_between_them():
    cold = np.full((1, 14), 21.0)
    cold[0, :7] = 0.0  # cold air below, warm above
    found = TOWER.solve(with_stair(WINTER, cold), 0.0)
    assert found.converged.all()
    mean = TOWER.solve(with_stair(WINTER, np.array([10.0])), 0.0)
    assert np.abs(found.stair_pa - mean.stair_pa).max() > 1.0


def test_rows_with_one_temperature_and_rows_with_many_join():
    many = with_stair(WINTER, np.full((1, 14), 12.0))
    joined = Conditions.joined([WINTER, many])
    assert joined.stair_c.shape == (2, 14)
    assert joined.stair_c[:, 3].tolist() == [10.0, 12.0]


def test_a_temperature_for_each_of_the_wrong_number_of_storeys_is_refused():
    with pytest.raises(ValueError, match="stair_c must be one for each condition, or one for each of 14 storeys too"):
        Conditions.of(LARKFIELD, "winter", stair_c=[[1.0, 2.0, 3.0]])


def test_after_an_hour_the_stair_is_nearly_as_cold_as_outdoors_at_the_fan_and_nearly_a_room_at_the_bottom():
    found = stair_air(TOWER, WINTER, walls=StairWalls.of(LARKFIELD, film_w_m2k=6.0))
    assert found.settled.all()
    stair = found.stair_c[0]
    assert (np.diff(stair) < 0).all()
    # Hand figure for fresh walls, from practice: mean 10.6, -9 at the fan, 19 at the bottom, with 90 m2 a storey and no leaks.
    assert stair[0] > 18
    assert -9 < stair[-1] < -5
    assert 8 < stair.mean() < 12


def test_a_weaker_film_leaves_the_stair_colder_and_the_cautious_end_is_taken_unless_told():
    cold, likely, warm = (stair_air(TOWER, WINTER, walls=StairWalls.of(LARKFIELD, film)).stair_c.mean() for film in (3.0, 6.0, 12.0))
    assert cold < likely < warm
    assert stair_air(TOWER, WINTER).stair_c.mean() == cold


def test_the_course_begins_as_warm_as_the_rooms_and_ends_a_little_warmer_than_the_steady_answer():
    course, hour = stair_course(TOWER, WINTER), stair_air(TOWER, WINTER).stair_c
    assert (course.stair_c[0] == 21.0).all()
    gap = course.stair_c[-1] - hour
    assert (gap > -0.05).all()
    assert gap.max() < 0.6
    assert course.held.all()


def test_a_course_in_finer_steps_is_the_same_course():
    rough, fine = stair_course(TOWER, WINTER, (5.0, 10.0, 20.0, 40.0, 60.0)), stair_course(TOWER, WINTER)
    assert rough.stair_c[-1] == pytest.approx(fine.stair_c[-1], abs=0.5)
    assert rough.door_dp_pa[-1] == pytest.approx(fine.door_dp_pa[-1], abs=0.5)


@pytest.mark.parametrize("site", [LARKFIELD, NORTHGATE])
def test_air_and_heat_agree_in_any_weather_with_doors_open_and_walls_of_any_leak(site):
    rng, storeys, count = np.random.default_rng(3), len(site.storeys), 60
    opened = (rng.random((count, storeys)) < 0.1).astype(float)
    drawn = Conditions.of(
        site, outdoor_c=rng.uniform(-30, 40, count), wind_speed_m_s=rng.uniform(0, 12, count), stair_door_open=opened,
        lobby_door_open=opened, leak_factor=np.exp(rng.normal(0, 0.4, (count, storeys))),
    )  # fmt: skip
    found, floor = stair_air(Tower(site), drawn), site.temperatures.floor_c
    assert found.settled.all()
    low, high = np.minimum(drawn.outdoor_c, floor)[:, None], np.maximum(drawn.outdoor_c, floor)[:, None]
    assert (found.stair_c > low - 1e-6).all()
    assert (found.stair_c < high + 1e-6).all()


def test_in_summer_the_stair_warms():
    hot = Conditions.of(LARKFIELD, "summer", outdoor_c=40.0)
    found = stair_air(TOWER, hot).stair_c[0]
    assert (found > 21).all()
    assert found[-1] > 38


def test_a_stair_without_any_wall_is_refused_in_a_sentence():
    bare = LARKFIELD.with_changes(storeys=[{"stair_wall_m2": 0.0, "stair_outside_wall_m2": 0.0}] * 14)
    with pytest.raises(ValueError, match=r"stair must have walls \(stair_wall\) or heat_surface"):
        stair_air(Tower(bare), Conditions.of(bare, "winter"))


def test_surface_film_and_effusivity_come_from_the_site_file_where_they_are_stated():
    stated = LARKFIELD.with_changes(stair={"heat_surface_m2": 90.0, "film_w_m2k": (4.0, 5.0, 8.0), "wall_effusivity": 400.0})
    walls = StairWalls.of(stated)
    assert walls.surface_m2.mean() == pytest.approx(90.0)
    assert walls.surface_m2[0] > walls.surface_m2[1]  # the tall ground floor
    assert (walls.film_w_m2k, walls.effusivity) == (4.0, 400.0)


def test_what_is_not_stated_of_the_walls_is_a_box_and_told():
    known = boxes(NORTHGATE)
    assert known["stair.heat_surface_m2"].likely == pytest.approx(StairWalls.of(NORTHGATE).surface_m2.mean())
    assert (known["stair.film_w_m2k"].low, known["stair.film_w_m2k"].high) == (3.0, 12.0)
    told = " ".join(filled_in(NORTHGATE))
    for words in (
        "Stair, surface that its air meets",
        "Stair, film between its air and its walls",
        "Stair, effusivity of walls and flights",
    ):
        assert words in told


def test_a_film_whose_low_end_is_above_its_high_one_is_refused_with_its_line():
    text = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    bad = text.replace('film = ["3 W/(m2 K)", "6 W/(m2 K)"', 'film = ["8 W/(m2 K)", "6 W/(m2 K)"')
    with pytest.raises(SiteFileError, match=r"line \d+, \[stair\] film: must not fall from low over likely to high"):
        read_site_text(bad)
