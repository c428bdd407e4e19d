"""Doors, gusts and turns of the weather, laid over the conditions of a run."""

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.events import DoorEvent, Gust, WeatherTurn, leaf_share, schedule
from helpers.model.site.file import demo_sites, read_site

LARKFIELD = read_site(demo_sites()["Larkfield House"])
TOWER = Tower(LARKFIELD)
MILD = Conditions.of(LARKFIELD, "mild")


def course(events, name, storey=None, base=MILD, length=100.0):
    """Moments of a schedule, and one field of its conditions [moments, rows]."""
    made = schedule(TOWER, base, events, length)
    values = getattr(made.conditions, name)
    values = values if storey is None else values[:, TOWER.storey(storey)]
    return made.times_s, values.reshape(len(made.times_s), made.runs)


def at(times, values, when):
    return values[np.flatnonzero(np.isclose(times, when))[0], 0]


def test_a_leaf_frees_as_much_as_the_chord_of_its_edge():
    # By hand: chord over width is 2 sin(15 degrees) = 0.5176 at 30 degrees, and the width itself at 60.
    assert leaf_share(np.array([0.0, 30.0, 60.0, 90.0])) == pytest.approx([0.0, 0.5176, 1.0, 1.0], abs=1e-4)


def test_a_door_opens_over_its_time_stands_and_shuts_again():
    times, share = course((DoorEvent(5, 10.0, shuts_s=20.0, moving_s=1.5),), "stair_door_open", 5)
    assert [at(times, share, t) for t in (0, 10, 11.0, 11.5, 20, 20.5, 21.5, 100)] == pytest.approx([0, 0, 1, 1, 1, 1, 0, 0], abs=1e-9)
    rising = (times >= 10) & (times <= 11.5)
    assert share[rising, 0] == pytest.approx(leaf_share(90 * (times[rising] - 10) / 1.5))


def test_a_stair_door_takes_the_lobby_door_with_it_and_touches_no_other_storey():
    times, lobby = course((DoorEvent(5, 10.0),), "lobby_door_open", 5)
    assert at(times, lobby, 100) == 1.0
    assert course((DoorEvent(5, 10.0),), "stair_door_open", 6)[1].max() == 0.0
    assert course((DoorEvent(0, 10.0, door="exit"),), "final_exit_open", 0)[1].max() == 1.0


def test_a_door_that_stood_open_stays_open_and_of_two_events_the_more_open_counts():
    standing = Conditions.of(LARKFIELD, "mild", open_doors=(5,))
    assert course((DoorEvent(5, 10.0, shuts_s=20.0),), "stair_door_open", 5, standing)[1].min() == 1.0
    times, share = course((DoorEvent(5, 10.0, shuts_s=30.0), DoorEvent(5, 20.0, shuts_s=50.0)), "stair_door_open", 5)
    assert at(times, share, 31.5) == 1.0
    assert at(times, share, 51.5) == pytest.approx(0.0, abs=1e-12)


def test_a_gust_rises_holds_and_falls_back_to_the_wind_of_each_run():
    windy = Conditions.of(LARKFIELD, "mild", wind_speed_m_s=np.array([2.0, 6.0]))
    times, wind = course((Gust(10.0, 12.0, rise_s=1.0, lasts_s=3.0),), "wind_speed_m_s", base=windy)
    assert wind[times <= 10.0] == pytest.approx(np.tile([2.0, 6.0], (2, 1)))
    assert wind[np.isclose(times, 11.0)][0] == pytest.approx([12.0, 12.0])
    assert wind[times >= 15.0] == pytest.approx(np.tile([2.0, 6.0], ((times >= 15.0).sum(), 1)))


def test_the_weather_turns_in_a_straight_line_from_what_each_run_had():
    two = Conditions.of(LARKFIELD, "mild", outdoor_c=np.array([15.0, 5.0]))
    times, outdoor = course((WeatherTurn(10.0, 50.0, {"outdoor_c": -5.0}),), "outdoor_c", base=two)
    assert outdoor[np.isclose(times, 10.0)][0] == pytest.approx([15.0, 5.0])
    assert outdoor[np.isclose(times, 30.0)][0] == pytest.approx([7.0, 1.0])
    assert outdoor[-1] == pytest.approx([-5.0, -5.0])


def test_a_second_turn_takes_over_from_where_the_first_one_is():
    turns = (WeatherTurn(30.0, 20.0, {"outdoor_c": 15.0}), WeatherTurn(10.0, 40.0, {"outdoor_c": -5.0}))  # in any order
    times, outdoor = course(turns, "outdoor_c")
    assert at(times, outdoor, 30.0) == pytest.approx(5.0)
    assert at(times, outdoor, 50.0) == pytest.approx(15.0)
    assert np.all(np.abs(np.diff(outdoor[:, 0])) < 6.1)  # no jump


def test_a_gust_in_a_rising_wind_falls_back_to_the_wind_that_has_risen():
    events = (Gust(20.0, 15.0, lasts_s=5.0), WeatherTurn(10.0, 40.0, {"wind_speed_m_s": 7.0}))
    times, wind = course(events, "wind_speed_m_s")
    assert at(times, wind, 50.0) == pytest.approx(7.0)
    assert at(times, wind, 27.0) == pytest.approx(3.0 + 4.0 * 17 / 40)


def test_an_event_that_runs_beyond_the_end_is_cut_off_there():
    times, share = course((DoorEvent(5, 99.5, moving_s=2.0),), "stair_door_open", 5)
    assert times[-1] == 100.0
    assert share[-1, 0] == pytest.approx(leaf_share(22.5))


@pytest.mark.parametrize(
    ("event", "sentence"),
    [
        (DoorEvent(5, 120.0), "at_s of an event must be within the run of 100 s, got 120"),
        (DoorEvent(5, -1.0), "at_s of an event must be within the run of 100 s, got -1"),
        (DoorEvent(5, 10.0, shuts_s=8.0), "shuts_s must be from 11.5 s, when the door stands open, to 100 s, the end; got 8"),
        (DoorEvent(5, 10.0, shuts_s=130.0), "shuts_s must be from 11.5 s, when the door stands open, to 100 s, the end; got 130"),
        (DoorEvent(5, 10.0, moving_s=0.0), "moving_s must be above 0, got 0"),
        (DoorEvent(50, 10.0), "level must be one with such a door"),
        (DoorEvent(5, 10.0, door="exit"), r"level must be one with such a door \(0\), got 5"),
        (DoorEvent(5, 10.0, door="window"), "door must be one of stair, exit"),
        (Gust(10.0, 12.0, rise_s=0.0), "rise_s must be above 0, got 0"),
        (Gust(10.0, -2.0), "speed_m_s must be 0 or more, got -2"),
        (WeatherTurn(10.0, -5.0, {"outdoor_c": 0.0}), "over_s must be 0 or more, got -5"),
        (WeatherTurn(10.0, 5.0, {"moon": 0.0}), "to must be one of outdoor_c"),
        (WeatherTurn(10.0, 5.0, {"outdoor_c": float("nan")}), "outdoor_c must be a finite number, got nan"),
    ],
)
def test_an_event_that_cannot_be_is_refused_in_a_sentence(event, sentence):
    with pytest.raises(ValueError, match=sentence):
        schedule(TOWER, MILD, (event,), 100.0)


def test_a_run_without_length_is_refused():
    with pytest.raises(ValueError, match="length_s must be above 0, got 0"):
        schedule(TOWER, MILD, (), 0.0)
