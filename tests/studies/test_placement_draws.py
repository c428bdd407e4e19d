"""Drawn conditions: the same for the same seed, spread as stated, refused where they make no sense."""

import numpy as np
import pytest
from scipy import stats

from helpers.model.air.conditions import demo_weather, read_hours
from helpers.studies.placement.study import Chances, draw, stated_weathers

HOURS = read_hours(demo_weather()["Greensboro"])


def test_draws_are_those_of_the_seed(larkfield):
    one, same, other = (draw(larkfield, HOURS, 50, seed) for seed in (3, 3, 4))
    assert (one.error_share == same.error_share).all()
    assert (one.conditions.leak_factor == same.conditions.leak_factor).all()
    assert not (one.conditions.outdoor_c == other.conditions.outdoor_c).all()


def test_the_weathers_of_the_site_file_stand_as_they_are_stated(larkfield):
    stated = stated_weathers(larkfield)
    assert stated.conditions.outdoor_c.tolist() == [state.outdoor_c for state in larkfield.weather.values()]
    assert not stated.error_share.any()
    assert stated.both_airs
    assert "winter, summer and mild" in stated.said[0]


def test_draws_follow_the_chances_stated(larkfield):
    count = 4000
    chances = Chances((0.5, 0.2, 0.3), 0.25, 0.3, 0.4)
    drawn = draw(larkfield, HOURS, count, 2, chances).conditions
    number = drawn.stair_door_open.sum(axis=1)
    for doors, chance in enumerate(chances.stair_doors_open):
        low, high = stats.binomtest(int((number == doors).sum()), count).proportion_ci(0.999)
        assert low <= chance <= high
    assert number.max() == 2
    low, high = stats.binomtest(int(drawn.final_exit_open[:, 0].sum()), count).proportion_ci(0.999)
    assert low <= 0.25 <= high
    assert not drawn.final_exit_open[:, 1:].any()  # the only final exit is on the ground
    assert (drawn.lobby_door_open == drawn.stair_door_open).all()
    by_door = drawn.stair_door_open.mean(axis=0)
    assert by_door == pytest.approx(0.8 / 14, abs=4 * np.sqrt(0.8 / 14 / count))
    logs = np.log(drawn.leak_factor)
    assert np.median(logs) == pytest.approx(0, abs=0.03)
    assert logs.mean(axis=1).std() == pytest.approx(np.hypot(0.3, 0.4 / np.sqrt(14)), rel=0.05)
    assert (logs - logs.mean(axis=1, keepdims=True)).std() == pytest.approx(0.4 * np.sqrt(13 / 14), rel=0.05)
    hours = set(zip(HOURS.outdoor_c, HOURS.wind_speed_m_s, HOURS.wind_from_deg, strict=True))
    assert hours.issuperset(zip(drawn.outdoor_c, drawn.wind_speed_m_s.round(6), drawn.wind_from_deg, strict=True))


@pytest.mark.parametrize(("error", "spread"), [("rectangular", 3**-0.5), ("triangular", 6**-0.5), ("normal 95 %", 1 / 1.96)])
def test_transmitter_errors_have_the_spread_of_their_shape(larkfield, error, spread):
    share = draw(larkfield, HOURS, 2000, 1, Chances(error=error)).error_share
    assert share.std() == pytest.approx(spread, rel=0.03)
    assert share.mean() == pytest.approx(0, abs=0.02)
    assert error == "normal 95 %" or abs(share).max() <= 1


@pytest.mark.parametrize(
    ("chances", "words"),
    [
        ({"stair_doors_open": (0.5, 0.4)}, "stair_doors_open must be chances of 0, 1, 2 ... open doors that sum to 1"),
        ({"stair_doors_open": (1.2, -0.2)}, "stair_doors_open must be from 0 to 1"),
        ({"final_exit_open": 2.0}, "final_exit_open must be from 0 to 1"),
        ({"leak_spread": np.nan}, "leak_spread must be a finite number"),
        ({"leak_spread_storey": [0.1, 0.2]}, "leak_spread_storey must be one number"),
        ({"error": "uniform"}, "error must be one of rectangular"),
    ],
)
def test_chances_that_are_none_are_refused(chances, words):
    with pytest.raises(ValueError, match=words):
        Chances(**chances)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"count": 0}, "count must be a whole number from 1"),
        ({"count": 2.5}, "count must be a whole number"),
        ({"seed": -1}, "seed must be a whole number from 0"),
        ({"chances": Chances(stair_doors_open=(0.5, *[0.0] * 6, 0.5))}, "no more doors than the 6 there are"),
        ({"chances": Chances(stair_share=3.0)}, "stair_share must be from 0 to 1"),
    ],
)
def test_draws_that_make_no_sense_are_refused(stair, asked, words):
    with pytest.raises(ValueError, match=words):
        draw(stair(), HOURS, **asked)
