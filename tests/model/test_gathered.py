"""A few conditions are solved on a gathered network: the same pressures, speeds and states as in a batch of many."""

from dataclasses import replace

import numpy as np
import pytest
import towers

from helpers.model.air import spaces
from helpers.model.air.conditions import Conditions
from helpers.model.air.laws import Leak
from helpers.model.air.network import at_ratio, solve
from helpers.model.air.operating_point import Taps, hold
from helpers.model.air.spaces import Network, OnStorey
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site


def _drawn(site, count=150, seed=1):
    """Weather, wind, and doors standing open, as they come."""
    rng, levels = np.random.default_rng(seed), len(site.storeys)
    doors = (rng.random((count, levels)) < 0.05).astype(float)
    wind, bearing, outdoor = rng.uniform(0, 25, count), rng.uniform(0, 360, count), rng.uniform(-30, 40, count)
    weather = {"wind_speed_m_s": wind, "wind_from_deg": bearing, "outdoor_c": outdoor}
    return Conditions.of(site, "winter", **weather, stair_door_open=doors, lobby_door_open=doors)


@pytest.mark.parametrize("name", ["Larkfield House", "Northgate Tower"])
def test_a_condition_alone_gives_the_air_it_gives_among_many(name):
    tower = Tower(read_site(demo_sites()[name]))
    many, speeds = _drawn(tower.site), np.linspace(0, 50, 150)
    solved, held = tower.solve(many, speeds), tower.hold(many)
    for i in (0, 74, 149):
        alone, held_alone = tower.solve(many.rows([i]), speeds[i]), tower.hold(many.rows([i]))
        for space in ("stair_pa", "floor_pa"):
            assert getattr(alone, space)[0] == pytest.approx(getattr(solved, space)[i], abs=3e-6)
            assert getattr(held_alone.air, space)[0] == pytest.approx(getattr(held.air, space)[i], abs=3e-6)
        assert held_alone.air.speed_hz[0] == pytest.approx(held.air.speed_hz[i], abs=1e-5)
        assert held_alone.state[0] == held.state[i]
        assert alone.converged.all()


@pytest.mark.parametrize("seed", range(8))
def test_wild_towers_find_the_same_air_one_by_one_and_in_a_batch(seed, monkeypatch):
    network = towers.wild(1 + 7 * seed, 3, seed)
    few = solve(network)
    few_held = hold(network, Taps(0, np.array([0]), (1,)), "average", 30.0, 0.1, 3.0)
    monkeypatch.setattr(spaces, "FEW", 0)
    many = solve(network)
    many_held = hold(network, Taps(0, np.array([0]), (1,)), "average", 30.0, 0.1, 3.0)
    assert few.converged.all()
    assert few.residual_kg_s == pytest.approx(many.residual_kg_s, abs=2e-8 * many.supply_kg_s.max() + 2e-9)
    assert few.supply_kg_s == pytest.approx(many.supply_kg_s, rel=1e-6, abs=1e-8)
    assert np.abs(few.pressure - many.pressure).max() < 1e-3  # where all leaks are hair cracks, that much goes with the stated balance
    assert (few_held.state == many_held.state).all()


def test_every_opening_counts_the_same_when_gathered():
    """Flows out of every space at pressures drawn at random, by openings and by paths."""
    network = towers.wild(9, 4, 5)
    pressure = np.random.default_rng(0).normal(0, 30, network.zeros().shape)

    def out_of_spaces(network):
        sides, tally = network.sides(pressure), network.tally()
        for opening in network.openings:
            opening.balance(opening.law.at(opening.difference(sides))[0], tally)
        return network.imbalance(tally)

    by_paths = spaces.quickest(out_of_spaces, network)
    assert by_paths == pytest.approx(out_of_spaces(network), rel=1e-12, abs=1e-12)
    chosen = spaces.quickest(lambda few: few.take(np.array([2, 0])), network)
    pressure = pressure[..., [2, 0]]
    assert out_of_spaces(chosen) == pytest.approx(by_paths[..., [2, 0]], rel=1e-12, abs=1e-12)
    assert len(chosen.openings) < len(network.openings)


def test_rooms_wide_open_to_each_other_and_shut_off_from_all_others_have_an_answer():
    """Sections cannot tell them from no answer at all; the elimination can, and is asked then."""
    base = towers.ordinary(storeys=1, conditions=1)
    wide = OnStorey(2, 3, Leak(np.full((1, 1), 1e6)))
    network = Network(4, 1, 1, [*base.openings, wide])
    found = solve(network)
    assert found.converged.all()
    assert found.pressure[2:] == pytest.approx(0.0, abs=1e-9)
    assert found.pressure[:2] == pytest.approx(solve(base).pressure, abs=1e-6)


def test_fans_of_one_curve_with_shares_of_their_own_keep_them_when_gathered(monkeypatch):
    network = towers.ordinary(storeys=4, conditions=2)
    (fan,) = [opening for opening in network.openings if opening.law.fan]
    shared = [replace(fan, law=replace(fan.law, share=share), first=i, last=i + 1) for i, share in ((0, 0.2), (3, 0.8))]
    leaks = [opening for opening in network.openings if not opening.law.fan]
    both = at_ratio(Network(2, 4, 2, leaks + shared), np.array([0.7, 0.9]))
    few = solve(both)
    monkeypatch.setattr(spaces, "FEW", 0)
    assert few.pressure == pytest.approx(solve(both).pressure, abs=1e-6)
    assert np.abs(few.pressure - solve(at_ratio(network, np.array([0.7, 0.9]))).pressure).max() > 1.0
