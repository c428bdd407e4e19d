"""Hourly weather: what the files hold, what is refused, and what the hours ask of a tower."""

import numpy as np
import pytest

from helpers.formulas import air
from helpers.model.air.conditions import HOURS_OF_A_YEAR, Hours, conditions_of_hours, demo_weather, read_hours, stair_share

HEAD = "hour,dry_bulb_c,wind_speed_m_s,wind_dir_deg,station_pressure_hpa\n"


@pytest.fixture
def written(tmp_path):
    def write(text, encoding="utf-8"):
        path = tmp_path / "some_hours.csv"
        path.write_bytes(text.encode(encoding))
        return path

    return write


def hours(**changes):
    return Hours(**{"name": "made up", "outdoor_c": [0.0, 20.0], "wind_speed_m_s": [5.0, 0.0], "wind_from_deg": [270.0, 0.0]} | changes)


@pytest.mark.parametrize("station", sorted(demo_weather()))
def test_each_weather_file_holds_a_whole_year(station):
    year = read_hours(demo_weather()[station])
    assert len(year) == HOURS_OF_A_YEAR
    by_day = year.outdoor_c.reshape(365, 24)
    assert by_day[:31].mean() < by_day[181:212].mean()  # January colder than July: both lie in the north
    assert by_day[:, 4].mean() < by_day[:, 14].mean()  # and the early morning colder than the afternoon


def test_columns_are_found_by_their_names_in_any_order(written):
    year = read_hours(written("wind_dir_deg, dry_bulb_c ,wind_speed_m_s\n90,-3.5,2\n\n180,4,0\n"))
    assert year.outdoor_c.tolist() == [-3.5, 4.0]
    assert year.wind_speed_m_s.tolist() == [2.0, 0.0]
    assert year.wind_from_deg.tolist() == [90.0, 180.0]


def test_a_spreadsheets_mark_at_the_start_of_the_file_does_no_harm(written):
    assert len(read_hours(written("\ufeff" + HEAD.removeprefix("hour,") + "1,2,3,990\n"))) == 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("hour,dry_bulb_c,wind_speed_m_s\n0,1,2\n", "lacks wind_dir_deg"),
        ("", "lacks dry_bulb_c, wind_speed_m_s, wind_dir_deg"),
        (HEAD, "at least one hour"),
        (HEAD + "0,1,2,3,990\n1,warm,2,3,990\n", "dry_bulb_c must be a number from -90 to 60, got 'warm' in hour 2"),
        (HEAD + "0,nan,2,3,990\n", "dry_bulb_c must be a number"),
        (HEAD + "0,1,-1,3,990\n", "wind_speed_m_s must be a number from 0 to 100, got '-1'"),
        (HEAD + "0,1,2,400,990\n", "wind_dir_deg must be a number from 0 to 360"),
        (HEAD + "0,1\n", "got nothing in hour 1"),
    ],
)
def test_a_file_that_is_no_weather_is_refused_in_a_sentence(written, text, words):
    with pytest.raises(ValueError, match=words):
        read_hours(written(text))


def test_a_file_that_is_not_there_or_no_text_is_refused(tmp_path, written):
    with pytest.raises(ValueError, match=r"weather file must be readable, got none\.csv"):
        read_hours(tmp_path / "none.csv")
    with pytest.raises(ValueError, match="text in UTF-8"):
        read_hours(written(HEAD + "°", "latin-1"))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"outdoor_c": [1.0]}, "same length"),
        ({"outdoor_c": [1.0, np.nan]}, "outdoor_c must be a finite number"),
        ({"wind_from_deg": [0.0, 361.0]}, "wind_from_deg must be from 0 to 360"),
        ({"measured_at_m": 0.0}, "measured_at_m must be above 0"),
    ],
)
def test_hours_that_do_not_fit_together_are_refused(changes, words):
    with pytest.raises(ValueError, match=words):
        hours(**changes)


def test_chosen_hours_keep_their_weather_together():
    assert hours().rows([1, 1, 0]).outdoor_c.tolist() == [20.0, 20.0, 0.0]
    assert hours().rows([1, 1, 0]).wind_speed_m_s.tolist() == [0.0, 0.0, 5.0]


def test_the_stairs_share_is_what_the_sites_weathers_say(stair):
    half = {"winter": {"outdoor_c": -9.0, "stair_c": 6.0}, "summer": {"outdoor_c": 31.0, "stair_c": 26.0}}  # floors at 21
    assert stair_share(stair(weather={**half, "mild": {"outdoor_c": 15.0, "stair_c": 18.0}})) == pytest.approx(0.5)


def test_a_stair_warmer_than_the_floors_in_winter_takes_no_share_of_the_cold(stair):
    assert stair_share(stair(weather={"winter": {"outdoor_c": -9.0, "stair_c": 25.0}})) == 0.0


def test_the_stair_stands_between_floor_and_outdoor_air(stair):
    site = stair()
    found = conditions_of_hours(site, hours(), share=0.25)
    np.testing.assert_allclose(found.stair_c, 21.0 + 0.25 * (np.array([0.0, 20.0]) - 21.0))
    assert found.outdoor_c.tolist() == [0.0, 20.0]
    assert conditions_of_hours(site, hours(), share=0.0).stair_c.tolist() == [21.0, 21.0]


def test_the_wind_over_the_roofs_is_the_stations_wherever_it_was_measured(stair):
    """A mast of 20 m measures a stronger wind than one of 10 m; brought to the site's reference, the wind aloft must be the same."""
    low, high = (conditions_of_hours(stair(wind_reference_height_m=height), hours()) for height in (10.0, 20.0))
    assert low.wind_speed_m_s[0] == pytest.approx(5.0)
    assert high.wind_speed_m_s[0] == pytest.approx(5.0 * 2**0.14)  # ASHRAE Fundamentals 2021 ch. 24: exponent of open ground (memory)
    aloft = [air.wind_speed_at_height(c.wind_speed_m_s, 40.0, "city", height_met_m=h) for c, h in ((low, 10.0), (high, 20.0))]
    np.testing.assert_allclose(*aloft)


@pytest.mark.parametrize("share", [-0.1, 1.5, np.nan, [0.2, 0.3]])
def test_a_share_that_is_none_is_refused(stair, share):
    with pytest.raises(ValueError, match="stair_share must be"):
        conditions_of_hours(stair(), hours(), share)
