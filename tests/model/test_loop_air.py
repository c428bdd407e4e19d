"""The air as the loop sees it: what is looked up against what the network says when it is asked at every sample."""

from dataclasses import replace
from functools import reduce
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model import sweep
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.events import DoorEvent, Gust, WeatherTurn, leaf_share, schedule
from helpers.model.loop.run import Setup, run_loop, run_on_air, settings_of
from helpers.model.site.file import demo_sites, read_site
from helpers.model.sweep import AirTable, storage_time_s

LARKFIELD = read_site(demo_sites()["Larkfield House"])
NORTHGATE = read_site(demo_sites()["Northgate Tower"])
TOWER = Tower(LARKFIELD)
WINTER = Conditions.of(LARKFIELD, "winter")
DOOR = DoorEvent(level=12, at_s=1.55, shuts_s=4.0, moving_s=1.3)


class SolvedAtEverySample:
    """Air that is not looked up: the network is solved for the doors and the speed of each sample. Only for this test: it takes minutes
    where looking up takes a blink."""

    def course(self, times_s, arithmetic):
        for time in times_s:
            opened = min(max((time - DOOR.at_s) / DOOR.moving_s, 0), 1) - min(max((time - DOOR.shuts_s) / DOOR.moving_s, 0), 1)
            doors = np.zeros((1, len(TOWER.levels)))
            doors[0, TOWER.storey(DOOR.level)] = leaf_share(90 * opened)
            yield Conditions.of(LARKFIELD, "winter", stair_door_open=doors, lobby_door_open=doors)

    def read(self, conditions, speed_hz, arithmetic):
        return TOWER.readings(TOWER.solve(conditions, speed_hz))[0].tolist()


def test_a_run_that_looks_the_air_up_agrees_with_one_that_solves_it_at_every_sample():
    # A door on the storey of a transmitter, the sharpest there is, and a fan that is 6 Hz too slow at the start.
    setup = Setup(6.5, events=(DOOR,), start_hz=18.0)
    looked_up = run_loop(TOWER, WINTER, setup)
    solved = run_on_air(SolvedAtEverySample(), LARKFIELD, setup, LARKFIELD.transmitters, settings_of(LARKFIELD), 1, 18.0)
    assert np.ptp(solved.tubes_pa[:, 1]) > 20
    assert np.abs(looked_up.tubes_pa - solved.tubes_pa).max() < 0.5
    assert np.abs(looked_up.reading_pa - solved.reading_pa).max() < 0.5
    assert np.abs(looked_up.speed_hz - solved.speed_hz).max() < 0.1


def test_runs_of_two_doors_side_by_side_are_to_the_last_digit_those_of_each_alone():
    both, gains, start_hz = WINTER.rows([0, 0]), np.array([0.4, 0.9]), np.array([20.0, 27.0])
    tables = [AirTable.of(TOWER, schedule(TOWER, both, (DoorEvent(level, 1.55, shuts_s=4.0),), 6.5)) for level in (12, 3)]

    def ran(air, times):
        settings = replace(settings_of(LARKFIELD), gain=np.tile(gains, times))
        setup = Setup(6.5, settings=settings)
        return run_on_air(air, LARKFIELD, setup, LARKFIELD.transmitters, settings, 2 * times, np.tile(start_hz, times))

    together = ran(reduce(AirTable.beside, tables), 2)
    for i, air in enumerate(tables):
        alone, part = ran(air, 1), together.of_runs(slice(2 * i, 2 * i + 2), air)
        for name in ("speed_hz", "output_percent", "reading_pa", "readings_pa", "tubes_pa", "lost", "running"):
            np.testing.assert_array_equal(getattr(part, name), getattr(alone, name))
        assert part.settings.gain.tolist() == gains.tolist()
        assert part.air is air
    assert (together.reading_pa[:, :2] != together.reading_pa[:, 2:]).any()


@pytest.mark.parametrize(("site", "level"), [(LARKFIELD, 1), (LARKFIELD, 6), (NORTHGATE, 20)], ids=["near", "far", "forty storeys"])
def test_what_is_looked_up_is_what_the_network_says_at_any_speed_and_leaf_angle(site, level):
    tower, base, rng = Tower(site), Conditions.of(site, "mild"), np.random.default_rng(level)
    scheduled = schedule(tower, base, (DoorEvent(level, 10.0, moving_s=1.5),), 20.0)
    air = AirTable.of(tower, scheduled)
    times = np.concatenate([rng.uniform(10.01, 11.0, 60), rng.uniform(0, 20, 10)])
    speeds = rng.uniform(site.fan.lowest_speed_hz, 0.6 * site.fan.highest_speed_hz, 70)  # beyond, no loop holds its doors shut
    doors = np.zeros((70, len(tower.levels)))
    doors[:, tower.storey(level)] = leaf_share(90 * np.clip((times - 10) / 1.5, 0, 1))
    found = tower.solve(Conditions.of(site, "mild", stair_door_open=doors, lobby_door_open=doors), speeds)
    order = np.argsort(times)
    for table, exact in ((air.readings, tower.readings(found)), (air.doors_pa, found.door_dp_pa)):
        assert air.along(table, times[order], speeds[order]) == pytest.approx(exact[order], abs=0.5)


def test_the_air_that_a_stair_stores_is_neglected_and_would_fill_in_under_a_second():
    for weather in LARKFIELD.weather:
        seconds = storage_time_s(TOWER, Conditions.of(LARKFIELD, weather))
        assert 0.05 < seconds < 0.5
    assert storage_time_s(Tower(NORTHGATE), Conditions.of(NORTHGATE, "winter")) < 1.0


def test_conditions_that_come_again_are_solved_once():
    opening = schedule(TOWER, WINTER, (DoorEvent(5, 10.0),), 60.0)
    both = schedule(TOWER, WINTER, (DoorEvent(5, 10.0, shuts_s=20.0), DoorEvent(5, 30.0, shuts_s=40.0)), 60.0)
    assert len(AirTable.of(TOWER, both, speeds=5).readings) == len(AirTable.of(TOWER, opening, speeds=5).readings)


def test_one_table_serves_many_tunings_and_is_refused_for_other_events():
    setup = Setup(5.0, events=(DoorEvent(5, 1.0),), speeds=12)
    first = run_loop(TOWER, WINTER, setup)
    again = run_loop(TOWER, WINTER, setup, air=first.air)
    assert np.array_equal(first.speed_hz, again.speed_hz)
    with pytest.raises(ValueError, match="air must be the table of a run with the same conditions, events and length, got another"):
        run_loop(TOWER, WINTER, Setup(5.0, events=(DoorEvent(6, 1.0),)), air=first.air)
    with pytest.raises(ValueError, match="with 1 transmitters, got one with 2"):
        run_loop(TOWER, WINTER, setup, transmitters=LARKFIELD.transmitters[:1], air=first.air)


def test_air_without_an_answer_stops_the_run(monkeypatch):
    solve = TOWER.solve

    def lost(conditions, speed):
        found = solve(conditions, speed)
        found.converged[0] = False
        return found

    monkeypatch.setattr(TOWER, "solve", lost)
    with pytest.raises(ValueError, match="conditions must have an answer at every speed: 1 of 8 have none"):
        AirTable.of(TOWER, schedule(TOWER, WINTER, (), 10.0), speeds=8)


def test_a_gust_follows_its_square_and_a_turn_of_weather_its_course():
    calm = Conditions.of(LARKFIELD, "mild", wind_speed_m_s=2.0)
    events = (Gust(2.0, 14.0, rise_s=2.0, lasts_s=1.0), WeatherTurn(10.0, 20.0, {"outdoor_c": -5.0}))
    air = AirTable.of(TOWER, schedule(TOWER, calm, events, 40.0))
    times = np.array([0.0, 3.1, 4.5, 8.0, 17.0, 40.0])
    wind, outdoor = [2.0, 2 + 12 * 0.55, 14.0, 2.0, 2.0, 2.0], [15.0, 15.0, 15.0, 15.0, 15 - 20 * 0.35, -5.0]
    found = TOWER.solve(Conditions.of(LARKFIELD, "mild", wind_speed_m_s=wind, outdoor_c=outdoor), 24.0)
    assert air.along(air.readings, times, np.full(6, 24.0)) == pytest.approx(TOWER.readings(found), abs=0.5)


@settings(max_examples=50, derandomize=True, deadline=None)
@given(st.lists(st.floats(-100, 100), min_size=3, max_size=8), st.integers(2, 5))
def test_between_solved_points_nothing_swings_beyond_them(values, times):
    y = np.array(values)
    fine = sweep.bent_finer(y, times)
    assert fine[::times] == pytest.approx(y)
    for piece, (a, b) in enumerate(pairwise(y)):
        inside = fine[piece * times : (piece + 1) * times + 1]
        assert inside.min() >= min(a, b) - 1e-9
        assert inside.max() <= max(a, b) + 1e-9
        assert np.all(np.diff(inside) * np.sign(b - a) >= -1e-9)


def test_between_solved_points_runs_what_scipy_calls_a_monotone_cubic():
    interpolate = pytest.importorskip("scipy.interpolate")
    rng = np.random.default_rng(3)
    x, y = np.cumsum(rng.uniform(0.2, 2, 9)), rng.normal(size=9)
    rise, at = sweep.slopes(x, y), rng.uniform(x[1], x[-2], 50)  # the outermost pieces: scipy ends its cubic otherwise
    i = np.searchsorted(x, at) - 1
    width = np.diff(x)[i]
    ours = sweep.cubic_at((at - x[i]) / width, width, y[i], y[i + 1], rise[i], rise[i + 1])
    assert ours == pytest.approx(interpolate.PchipInterpolator(x, y)(at))
