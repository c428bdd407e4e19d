import numpy as np
import pytest
import towers
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas.combining import combine
from helpers.model.air import operating_point as holding
from helpers.model.air.conditions import Conditions
from helpers.model.air.network import at_ratio, solve
from helpers.model.air.operating_point import AT_FULL_SPEED, AT_LOWEST_SPEED, HELD, NOT_FOUND, Taps, hold
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site

TAPS = Taps(0, np.array([1, 8]), (1, 1))


@pytest.mark.parametrize("rule", ["average", "lowest", "highest"])
def test_the_held_speed_brings_the_combined_reading_to_the_set_point(rule):
    network = towers.ordinary(storeys=10, conditions=50, seed=4)
    found = hold(network, TAPS, rule, 40.0, 0.1, 1.0)
    assert (found.state == HELD).sum() > 25
    again = solve(at_ratio(network, found.ratio))
    reading = combine(TAPS.read(again.pressure), rule, axis=0)
    held = found.state == HELD
    assert reading[held] == pytest.approx(40.0, abs=2e-3)
    assert (reading[found.state == AT_FULL_SPEED] < 40).all()
    assert (reading[found.state == AT_LOWEST_SPEED] > 40).all()


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(2, 60), st.integers(0, 1000), st.sampled_from(["average", "lowest", "highest", "middle"]))
def test_every_wild_tower_gets_an_answer(storeys, seed, rule):
    rng = np.random.default_rng(seed)
    taps = Taps(0, rng.integers(0, storeys, 3), (1, 1, None))
    found = hold(towers.wild(storeys, 10, seed), taps, rule, 40.0, 0.1, 3.0)
    assert (found.state != NOT_FOUND).all()
    assert found.solution.converged.all()


def test_a_set_point_out_of_reach_ends_at_full_speed_and_one_below_all_at_lowest():
    network = towers.ordinary(storeys=10, conditions=5, seed=2)
    assert (hold(network, TAPS, "average", 5000.0, 0.1, 1.0).state == AT_FULL_SPEED).all()
    assert (hold(network, TAPS, "average", -500.0, 0.1, 1.0).state == AT_LOWEST_SPEED).all()


def test_each_condition_may_have_its_own_set_point():
    network = towers.ordinary(storeys=10, conditions=20, seed=6)
    targets = np.linspace(30, 60, 20)
    found = hold(network, TAPS, "average", targets, 0.05, 1.0)
    held = found.state == HELD
    assert held.sum() > 10
    assert found.reading_pa[held] == pytest.approx(targets[held], abs=2e-4)


def test_lowest_runs_the_fan_at_least_as_fast_as_average_and_highest():
    network = towers.ordinary(storeys=10, conditions=40, seed=8)
    lowest, average, highest = (hold(network, TAPS, rule, 40.0, 0.1, 1.0).ratio for rule in ("lowest", "average", "highest"))
    assert (lowest >= average - 1e-6).all()
    assert (average >= highest - 1e-6).all()


def test_the_middle_of_two_readings_holds_as_quickly_as_their_average():
    network = towers.ordinary(storeys=10, conditions=100, seed=9)
    middle, average = (hold(network, TAPS, rule, 40.0, 0.1, 1.0) for rule in ("middle", "average"))
    assert middle.ratio == pytest.approx(average.ratio, abs=1e-9)
    assert (middle.solution.steps == average.solution.steps).all()


def _windy(site, count=200):
    """Wind up to a storm and set points from next to nothing: on many, the fan just holds its backdraft damper open."""
    rng = np.random.default_rng(3)
    weather = {"wind_speed_m_s": rng.uniform(0, 30, count), "wind_from_deg": rng.uniform(0, 360, count)}
    return Conditions.of(site, "winter", **weather, outdoor_c=rng.uniform(-30, 40, count)), rng.uniform(5, 90, count)


@pytest.mark.parametrize("rule", ["average", "lowest", "highest", "middle"])
def test_a_fan_near_its_shut_off_in_strong_wind_is_held_without_searching(rule, monkeypatch):
    def search(*_):
        raise AssertionError("searched")

    monkeypatch.setattr(holding, "_search", search)
    site = read_site(demo_sites()["Larkfield House"])
    conditions, set_points = _windy(site)
    found = Tower(site).hold(conditions, set_points, rule=rule)
    assert (found.state != "not found").all()
    assert np.unique(found.state).size == 3


@pytest.mark.parametrize("rule", ["average", "highest"])
def test_searching_between_two_speeds_finds_what_the_straight_lines_find(rule, monkeypatch):
    network = towers.ordinary(storeys=10, conditions=30, seed=4)
    found = hold(network, TAPS, rule, 40.0, 0.1, 1.0)
    monkeypatch.setattr(holding, "MOST_STEPS", network.start_steps)
    searched = hold(network, TAPS, rule, 40.0, 0.1, 1.0)
    assert (searched.state == found.state).all()
    assert searched.ratio == pytest.approx(found.ratio, abs=1e-5)
    assert searched.solution.converged.all()
