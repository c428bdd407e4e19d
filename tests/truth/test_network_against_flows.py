"""The air network against an independent solver of another method: two hundred drawn towers, from site file to pressures and flows."""

from functools import cache

import numpy as np
import pytest
from drawn_sites import CURVED, STRAIGHT, site_and_state
from scipy.interpolate import PchipInterpolator
from tower_in_flows import CurvedFan, FlowTower, StraightFan

from helpers.formulas import leakage
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower

TOWERS = 200


class Pair:
    """One tower by both solvers."""

    def __init__(self, seed, curve=STRAIGHT, on_riser=False, **flow_tower):
        self.site, weather, speed_hz, doors, exits, leaky = site_and_state(seed, curve, on_riser)
        opened = {"stair_door_open": doors[None], "lobby_door_open": doors[None], "final_exit_open": exits[None]}
        conditions = Conditions.of(self.site, "winter", **weather, **opened, leak_factor=leaky[None])
        self.ours = Tower(self.site).solve(conditions, speed_hz)
        self.theirs = FlowTower(self.site, weather, speed_hz / 50.0, doors, exits, leaky, **flow_tower)
        self.pressures, flows = self.theirs.solve()
        fans = [(edge[3].scale, flow) for edge, flow in zip(self.theirs.edges, flows, strict=True) if isinstance(edge[3], StraightFan)]
        self.fan_flows = np.array([-edge_flow for _, edge_flow in fans]) * (1 if self.site.fan.effect == "supply" else -1)
        self.fan_flows /= np.array([scale for scale, _ in fans]) * len(fans)  # kg/s to m3/s: scale is share times density

    @property
    def pressures_off_pa(self):
        rows = {space: getattr(self.ours, f"{space}_pa") for space in ("stair", "floor", "lobby", "lift", "duct")}
        return np.array([rows[space][0, storey] - pressure for (space, storey), pressure in self.pressures.items()])

    @property
    def largest_pa(self):
        return max(map(abs, self.pressures.values()))

    @property
    def flows_off(self):
        return np.abs(self.ours.supply_flow_m3_s[0] - self.fan_flows).max()


@cache
def towers():
    return [Pair(seed) for seed in range(TOWERS)]


def test_the_independent_solver_has_closed_every_loop():
    assert max(pair.theirs.left_over_pa for pair in towers()) < 1e-9


def test_every_space_of_two_hundred_towers_has_the_independent_solvers_pressure():
    """To a millionth of the largest pressure over outdoors in that tower."""
    assert all(pair.ours.converged.all() for pair in towers())
    assert max(np.abs(pair.pressures_off_pa).max() / pair.largest_pa for pair in towers()) < 1e-6


def test_every_fan_brings_the_independent_solvers_flow():
    """To a millionth of the largest flow of a fan in that tower, or of 0.1 m3/s where all stand behind shut dampers."""
    assert max(pair.flows_off / max(np.abs(pair.fan_flows).max(), 0.1) for pair in towers()) < 1e-6


def test_two_dozen_towers_with_their_outlets_on_a_riser_have_the_independent_solvers_pressures_and_flow():
    """Supply and exhaust, from two outlets up and with one; the whole fan's flow is that of all outlets together."""
    risers = [Pair(seed, on_riser=True) for seed in range(24)]
    assert max(pair.theirs.left_over_pa for pair in risers) < 1e-9
    assert all(pair.ours.converged.all() and len(pair.fan_flows) == 1 for pair in risers)
    assert {pair.site.fan.effect for pair in risers if len(pair.site.supplies) > 1} == {"supply", "exhaust"}
    assert max(np.abs(pair.pressures_off_pa).max() / pair.largest_pa for pair in risers) < 1e-6
    assert max(abs(pair.ours.fan_flow_m3_s[0] - pair.fan_flows[0]) / max(abs(pair.fan_flows[0]), 0.1) for pair in risers) < 1e-6


@pytest.mark.parametrize(
    "has",
    [
        lambda pair: pair.site.lift and any(storey.lobby for storey in pair.site.storeys),
        lambda pair: pair.site.stair.relief and not np.isclose(pair.ours.stair_pa[0].max(), 0) and pair.ours.stair_pa[0].max() > 45,
        lambda pair: pair.site.fan.effect == "exhaust",
        lambda pair: pair.site.storeys[0].level < 0,
        lambda pair: len(pair.site.storeys) == 1,
        lambda pair: len(pair.site.supplies) > 1,
        lambda pair: (pair.fan_flows < 0).any(),
        lambda pair: (pair.theirs.open_doors > 0).any() and pair.theirs.open_exits[0] > 0,
        lambda pair: pair.theirs.winds.any() and pair.site.leakage.wall_exponent > 0.5,
    ],
    ids=["lift and lobbies", "relief lifts", "exhaust", "basement", "one storey", "supplies", "damper shuts", "doors open", "wind"],
)
def test_each_part_of_a_building_is_in_several_of_the_towers(has):
    assert sum(bool(has(pair)) for pair in towers()) >= 3


def test_the_bare_power_law_of_the_books_gives_the_same_pressures_within_a_fiftieth_of_a_pascal():
    """What the smoothing near zero costs: our leaks are straight lines below a hundredth of a pascal, here below a millionth."""
    bare = [Pair(seed, smoothing_pa=1e-6) for seed in range(12)]
    off = [np.abs(pair.pressures_off_pa).max() for pair in bare]
    assert 1e-6 < max(off) < 0.02


def test_a_bent_fan_curve_costs_no_more_than_its_table():
    """Ours tables the inverse of the curve in 129 points; here the curve is scipy's own monotone cubic through the catalogue points."""
    curve = PchipInterpolator(CURVED["flows_m3_s"], CURVED["pressures_pa"])
    fall, loss = curve.derivative(), CURVED["duct_loss_pa"] / 4.0**2

    def fan(*given):
        return CurvedFan(*given, lambda q: curve(q) - loss * q * q, lambda q: fall(q) - 2 * loss * q)

    bent = [Pair(seed, CURVED, fan=fan) for seed in range(12)]
    assert max(np.abs(pair.pressures_off_pa).max() / pair.largest_pa for pair in bent) < 1e-5
    assert max(pair.flows_off for pair in bent) < 6e-5 * CURVED["flows_m3_s"][-1]


def _lone_storey():
    site, *_ = site_and_state(0)
    changes = {
        "storeys": [{"level": 0, "stair_wall_m2": 0.0, "stair_outside_wall_m2": 0.0, "extra_leak_m2": 0.0, "wall_tightness": "average",
                     "lobby": False, "lift_doors": 0, "lift_shaft_wall_m2": 0.0, "final_exit_door": None, "stair_door_count": 1}],
        "altitude_m": 0.0, "lift": None,
        "stair": {"relief": None}, "supplies": [{"level": 0, "share": 1.0}], "transmitters": [{"level": 0}],
        "fan": {"effect": "supply", **STRAIGHT},
        "leakage": {"wall_exponent": 0.5, "door_exponent": 0.5, "edition": "ashrae_1999"},
    }  # fmt: skip
    return site.with_changes(**changes)


def test_a_lone_storey_is_the_quadratic_of_a_straight_fan_and_two_leaks_in_series():
    """Closed form: P0 - c Q = rho Q^2 / (2 C^2 A^2), A = door and facade in series; all air as cold as outdoors, no wind."""
    site = _lone_storey()
    still = {f"{space}_c": 15.0 for space in ("outdoor", "stair", "floor", "lobby", "lift")}
    found = Tower(site).solve(Conditions.of(site, "winter", **still, wind_speed_m_s=0.0), 50.0)
    storey, rho = site.storeys[0], 101325 / (287.042 * 288.15)
    areas = [site.doors["stair"].leak_area_m2, sum(storey.facade_m2) * 0.21e-3]
    area = (areas[0] ** -2 + areas[1] ** -2) ** -0.5
    assert leakage.in_series(areas) == pytest.approx(area, rel=1e-12)
    most, fall, resist = 600 * rho / 1.2, 520 / 8 * rho / 1.2, rho / (2 * (site.leakage.discharge_coefficient * area) ** 2)
    flow = (-fall + np.sqrt(fall**2 + 4 * resist * most)) / (2 * resist)
    assert found.fan_flow_m3_s[0] == pytest.approx(flow, rel=1e-7)
    assert found.stair_pa[0, 0] == pytest.approx(most - fall * flow, rel=1e-7)
    assert found.door_dp_pa[0, 0] == pytest.approx((most - fall * flow) * (area / areas[0]) ** 2, rel=1e-6)
