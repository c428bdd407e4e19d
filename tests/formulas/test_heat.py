"""Thick walls, and air that runs along a shaft: limits, balances, refusals; against scipy where it has the function."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, special

from helpers.formulas import heat
from helpers.formulas.air import HEAT_CAPACITY_AIR


def test_what_a_wall_still_gives_is_that_of_scipy_over_all_times():
    x = np.concatenate([[0.0], np.geomspace(1e-6, 1e6, 400), np.linspace(19, 21, 50)])
    np.testing.assert_allclose(heat.wall_coefficient(x**2, 1.0, 1.0), special.erfcx(x), rtol=2e-9)


def test_a_concrete_surface_falls_a_tenth_of_the_difference_in_a_quarter_of_an_hour_and_near_a_fifth_in_an_hour():
    found = 1 - heat.wall_coefficient(np.array([900.0, 3600.0]), 6.0, 1850.0) / 6.0
    assert found == pytest.approx([0.10, 0.19], abs=0.005)  # hand figures from practice


@given(st.floats(0, 1e4), st.floats(1, 1e4), st.floats(0.5, 30), st.floats(100, 3000))
def test_a_change_that_came_evenly_is_the_mean_of_the_answers_to_its_steps(begin, length, film, effusivity):
    found = heat.mean_wall_coefficient(begin, begin + length, film, effusivity)
    mean, _ = integrate.quad(lambda t: film * special.erfcx(film * np.sqrt(t) / effusivity), begin, begin + length, epsrel=1e-10)
    assert found == pytest.approx(mean / length, rel=1e-6)


@given(st.floats(0, 50), st.floats(0, 1))
def test_what_the_air_loses_on_its_way_is_what_the_wall_takes(units, kept):
    end, mean = heat.air_left(units, kept)
    assert 0 <= end <= 1
    assert end - 1e-12 <= mean <= 1
    assert 1 - kept * end - (1 - kept) * mean == pytest.approx(units * mean, abs=1e-7)


@settings(derandomize=True, deadline=None)
@given(st.floats(0.01, 10), st.floats(0.05, 1))
def test_along_a_leaky_wall_the_air_follows_its_own_balance(units, kept):
    """m(z) cp dT/dz = -h P (T - Tw) with m falling evenly, its logarithm summed along the way by scipy."""

    def left(z):
        return np.exp(-units * integrate.quad(lambda at: 1 / (1 - (1 - kept) * at), 0, z)[0])

    end, mean = heat.air_left(units, kept)
    assert end == pytest.approx(left(1.0), rel=1e-6)
    assert mean == pytest.approx(integrate.quad(left, 0, 1)[0], rel=1e-5)


def test_without_a_leak_the_air_of_a_shaft_follows_the_exponential():
    units = 2.7
    flow, storeys = 2.8, 14
    conductance = units * flow * HEAT_CAPACITY_AIR / storeys
    enters = np.zeros((storeys, 1))
    enters[-1] = flow
    found = heat.shaft_temperatures(enters, -9.0, np.full((storeys - 1, 1), -flow), np.full((storeys, 1), conductance), 21.0)[::-1, 0]
    # The lowest storey lets all of it out evenly along its wall; the others pass all on.
    way = np.arange(storeys) / storeys
    exact = 21 - 30 * np.exp(-units * way) * (1 - np.exp(-units / storeys)) / (units / storeys)
    assert found[:-1] == pytest.approx(exact[:-1], abs=1e-9)
    assert exact[-1] - 0.5 < found[-1] < 21


def test_air_blown_in_half_way_goes_both_ways_alike():
    enters = np.zeros((5, 1))
    enters[2] = 2.0
    found = heat.shaft_temperatures(enters, -9.0, np.array([[-0.5], [-1.0], [1.0], [0.5]]), np.full((5, 1), 400.0), np.full((5, 1), 21.0))
    assert found[:2, 0] == pytest.approx(found[:2:-1, 0])
    assert (np.diff(found[2:, 0]) > 0).all()


def test_air_that_a_storey_takes_in_comes_as_warm_as_where_it_comes_from():
    enters = np.array([[1.0], [0.0]])
    found = heat.shaft_temperatures(enters, np.array([[5.0], [0.0]]), np.array([[1.0]]), np.zeros((2, 1)), np.full((2, 1), 21.0))
    assert found[:, 0] == pytest.approx([5.0, 5.0])


def test_still_air_is_as_warm_as_its_wall():
    found = heat.shaft_temperatures(np.zeros((3, 1)), -9.0, np.zeros((2, 1)), np.full((3, 1), 100.0), np.full((3, 1), 21.0))
    assert found[:, 0] == pytest.approx([21.0] * 3)


@given(st.integers(1, 12), st.integers(0, 10_000))
def test_the_heat_of_a_whole_shaft_balances_whichever_way_its_air_runs(storeys, seed):
    rng = np.random.default_rng(seed)
    up = rng.uniform(-2, 2, (storeys - 1, 3))
    # What a storey must take in so that nothing has to come from nowhere, and some more that leaks.
    need = np.concatenate([up, np.zeros((1, 3))]) - np.concatenate([np.zeros((1, 3)), up])
    enters = np.maximum(need, 0) + rng.uniform(0, 1, (storeys, 3))
    brings, conductance, wall = rng.uniform(-20, 40, (storeys, 3)), rng.uniform(0, 2000, (storeys, 3)), rng.uniform(10, 25, (storeys, 3))
    found = heat.shaft_temperatures(enters, brings, up, conductance, wall)
    low, high = min(brings.min(), wall.min()), max(brings.max(), wall.max())
    assert (found >= low - 1e-9).all()
    assert (found <= high + 1e-9).all()
    leaks = enters - need  # what comes and does not go on
    walls = (conductance * (wall - found)).sum(axis=0) / HEAT_CAPACITY_AIR
    np.testing.assert_allclose((enters * brings).sum(axis=0) + walls, (leaks * found).sum(axis=0), atol=1e-6)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: heat.wall_coefficient(-1.0, 6.0, 1850.0), "time_s must be 0 or more"),
        (lambda: heat.wall_coefficient(1.0, 6.0, 0.0), "effusivity must be above 0"),
        (lambda: heat.mean_wall_coefficient(2.0, 2.0, 6.0, 1850.0), "end_s must be above begin_s"),
        (lambda: heat.air_left(1.0, 1.2), "kept must be from 0 to 1"),
        (
            lambda: heat.shaft_temperatures(np.ones((3, 1)), 0.0, np.ones((3, 1)), np.ones((3, 1)), np.ones((3, 1))),
            "up_kg_s must hold a flow between each two of 3",
        ),
        (lambda: heat.shaft_temperatures(2.0, 0.0, [], 1.0, 1.0), "up_kg_s must hold a flow between each two of 0 storeys, one or more"),
        (
            lambda: heat.shaft_temperatures(np.ones((2, 3)), 0.0, np.ones((1, 4)), 1.0, 1.0),
            "in_kg_s, .* of shapes that fit each other",
        ),
        (
            lambda: heat.shaft_temperatures(np.ones(2), 0.0, np.ones(1), np.ones((5, 2)), 1.0),
            "in_kg_s .* as many axes as the others",
        ),
        (lambda: heat.shaft_temperatures(-np.ones((1, 1)), 0.0, np.ones((0, 1)), np.ones((1, 1)), np.ones((1, 1))), "in_kg_s must be 0 or"),
    ],
)
def test_nonsense_gets_one_sentence(call, words):
    with pytest.raises(ValueError, match=f"^{words}"):
        call()
