from dataclasses import replace

import numpy as np
import pytest
import towers
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import leakage
from helpers.model.air.laws import FanShare, Leak, ReliefBlade
from helpers.model.air.network import at_ratio, solve
from helpers.model.air.spaces import Network, OnStorey, Outside, Upward

COARSE = settings(max_examples=40, deadline=None, derandomize=True)


def _imbalance(network, pressure):
    out = network.zeros()
    for opening in network.openings:
        opening.balance(opening.law.at(opening.difference(pressure))[0], out)
    return np.array(out)


@COARSE
@given(st.integers(1, 80), st.integers(0, 10_000))
def test_every_wild_tower_converges_and_conserves_mass(storeys, seed):
    network = towers.wild(storeys, 20, seed)
    found = solve(network)
    assert found.converged.all()
    worst = np.abs(_imbalance(network, found.pressure)).max(axis=(0, 1))
    assert (worst <= 1e-8 * found.supply_kg_s + 1.01e-9).all()
    assert found.residual_kg_s == pytest.approx(worst, rel=1e-6, abs=1e-13)


@COARSE
@given(st.integers(1, 60), st.integers(0, 10_000))
def test_more_speed_never_lowers_any_pressure(storeys, seed):
    network = towers.wild(storeys, 10, seed)
    slow, fast = (np.array(solve(at_ratio(network, np.full(10, ratio))).pressure) for ratio in (0.8, 1.0))
    assert (fast - slow > -1e-5 - 1e-7 * np.abs(fast)).all()


def test_turning_all_drives_round_turns_all_flows_round():
    rng = np.random.default_rng(5)
    wind, lift = rng.normal(0, 20, (8, 6)), rng.normal(0, 1, (7, 6))
    leaks = [Leak(10 ** rng.uniform(-4, -1, (8, 6))) for _ in range(2)]

    def tower(sign):
        openings = [OnStorey(0, 1, leaks[0]), Outside(1, leaks[1], sign * wind), Upward(0, Leak(np.full((7, 1), 2.0)), sign * lift)]
        return np.array(solve(Network(2, 8, 6, openings)).pressure)

    assert tower(1) == pytest.approx(-tower(-1), abs=1e-6)


@pytest.mark.parametrize("effect", [1.0, -1.0])
def test_the_straight_line_laid_on_a_fan_touches_it_at_the_flow_asked_for(effect):
    """Blowing in and drawing out, from a stair that helps it to one near its shut-off."""
    share = 0.4
    law = FanShare(towers.CURVE, share, effect, np.full((1, 1), 0.8), np.full((1, 1), 1.1))
    dp = effect * np.linspace(-60.0, 0.95 * 0.64 * 1.1 / 1.2 * towers.CURVE.shutoff_pa, 25)[None]
    flow, slope = law.at(dp)
    steep, left = law.tangent(flow, dp)
    assert steep == pytest.approx(slope, rel=1e-6)
    assert steep * dp + left == pytest.approx(flow, rel=1e-6, abs=1e-9)
    assert law.point(flow, dp) == pytest.approx(dp, abs=1e-6)
    backwards = effect * 1.1 * law.density * towers.CURVE.shutoff_pa * np.ones((1, 1))
    small = law.at(backwards / 1.1 / 1.2 * 0.64 * 0.99999)[0]
    assert law.point(small, dp[:, :1]) != pytest.approx(dp[:, :1], abs=1.0)  # the least flow forwards is believed, not the pressure
    assert law.point(law.at(backwards)[0], dp[:, :1]) == pytest.approx(dp[:, :1])  # backwards the pressure is
    up, down = (replace(law, ratio=law.ratio + change).at(dp)[0] for change in (1e-6, -1e-6))
    assert law.by_speed(dp) == pytest.approx((up - down) / 2e-6, rel=1e-4)
    assert (np.sign(law.by_speed(dp)) == -effect).all()  # what is blown in comes out of the space with its sign turned


@COARSE
@given(st.lists(st.floats(1e-4, 0.5), min_size=2, max_size=2), st.floats(1.0, 200.0))
def test_two_leaks_in_series_pass_what_their_series_area_passes(areas, outside_pa):
    """A room between two leaks, wind on one: closed form of `leakage.in_series`."""
    laws = [Leak(np.full((1, 1), float(leakage.flow_coefficient(area)))) for area in areas]
    openings = [Outside(0, laws[0], np.full((1, 1), outside_pa)), Outside(0, laws[1], np.zeros((1, 1)))]
    pressure = solve(Network(1, 1, 1, openings)).pressure[0][0, 0]
    through = float(leakage.flow(pressure, areas[1]))
    assert through == pytest.approx(float(leakage.flow(outside_pa, leakage.in_series(areas))), rel=2e-3)


def test_one_storey_with_one_leak_is_the_closed_form():
    leak, flow = 0.05, 1.0
    coefficient = float(leakage.flow_coefficient(leak)) * 1.2
    supply = FanShare(towers.CURVE, 1.0, 1.0, np.full((1, 1), 1.0), np.full((1, 1), 1.2))
    found = solve(
        Network(1, 1, 1, [Outside(0, Leak(np.full((1, 1), coefficient)), np.zeros((1, 1))), Outside(0, supply, np.zeros((1, 1)))])
    )
    pressure = found.pressure[0][0, 0]
    flow = supply.volume_flow(np.array([[pressure]]))[0, 0]
    assert flow == pytest.approx(float(leakage.flow(pressure, leak)), rel=1e-7)


def test_a_still_tower_in_still_air_of_its_own_temperature_has_no_pressures():
    network = towers.ordinary(storeys=5, conditions=3)
    for opening in network.openings:
        if isinstance(opening, Outside) and not opening.law.fan:
            opening.outside[:] = 0.0
        if isinstance(opening, Upward):
            opening.lift[:] = 0.0
    found = solve(at_ratio(network, np.zeros(3)))
    assert found.converged.all()
    assert np.abs(found.pressure).max() < 0.05


@pytest.mark.parametrize("flow", [-3.0, -0.01, 0.02, 0.5, 1.0, 5.0])
def test_a_relief_damper_knows_the_pressure_of_a_flow(flow):
    law = ReliefBlade(0.01, 1.2, 40.0, 60.0, np.ones((1, 1)))
    point = law._drop(np.array([[flow]]))
    assert law.at(point)[0] == pytest.approx(flow, rel=1e-6)


def test_a_relief_damper_keeps_the_stair_near_its_setting():
    """The same fan at full speed with and without: the damper carries the surplus."""
    network = towers.ordinary(storeys=10, conditions=1, seed=3)
    damper = Outside(0, ReliefBlade(0.01, 6.0, 40.0, 60.0, np.ones((1, 1))), np.zeros((1, 1)), 9, 10)
    with_damper = Network(2, 10, 1, [*network.openings, damper])
    closed, opened = (solve(at_ratio(n, np.ones(1))).pressure[0][9, 0] for n in (network, with_damper))
    assert closed > 100
    assert 40 < opened < 75
