"""More or less of a kind of leak, of the shaft or of the fan: by condition, and by the site file; both are the same air."""

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.network import KINDS
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.duty.hand_method import flow_ladder, stair_wall_leak

NAMES = ("Larkfield House", "Northgate Tower", "Tannery Row")


@pytest.fixture(scope="module", params=NAMES)
def site(request):
    return read_site(demo_sites()[request.param])


def changed_file(site, kind, factor):
    """The site with so much more of a kind in its file."""
    fan, relief = site.fan, site.stair.relief
    return site.with_changes(
        **{
            "stair side": {"leakage": {"stair_side_factor": factor}},
            "facade": {"leakage": {"facade_factor": factor}},
            "between storeys": {"leakage": {"between_storeys_factor": factor}},
            "relief damper": {"stair": {"relief": {"leak_area_m2": relief.leak_area_m2 * factor} if relief else None}},
            "stair shaft": {"stair": {"friction_area_m2": site.stair.friction_area_m2 * factor}},
            # with a duct, so much more flow at the same net pressure is a curve and a loss stretched alike
            "fan": {"fan": {"flows_m3_s": tuple(factor * flow for flow in fan.flows_m3_s),
                            "duct_loss_flow_m3_s": factor * fan.duct_loss_flow_m3_s}},
        }[kind]
    )  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_more_of_a_kind_by_condition_is_more_of_it_in_the_file(site, kind):
    factors = np.ones((2, len(KINDS)))
    factors[1, KINDS.index(kind)] = 1.4
    doors = {"open_doors": (site.storeys[3].level,)}
    tower, other = Tower(site), Tower(changed_file(site, kind, 1.4))
    for speed in (20.0, 40.0):
        found = tower.solve(Conditions.of(site, "winter", kind_factor=factors, **doors), speed)
        assert found.converged.all()
        known = [
            tower.solve(Conditions.of(site, "winter", **doors), speed),
            other.solve(Conditions.of(other.site, "winter", **doors), speed),
        ]
        for row, expected in enumerate(known):
            assert found.door_dp_pa[row] == pytest.approx(expected.door_dp_pa[0], abs=0.02)
            assert found.fan_flow_m3_s[row] == pytest.approx(expected.fan_flow_m3_s[0], rel=1e-3)
        if kind != "relief damper" or site.stair.relief:
            assert np.abs(found.door_dp_pa[1] - found.door_dp_pa[0]).max() > 1e-4


def test_wider_gaps_of_one_storeys_doors_are_those_of_a_kind_of_door_of_its_own(site):
    place, gaps = 2, np.ones((1, len(site.storeys)))
    gaps[0, place] = 1.8
    named = {kind: getattr(site.storeys[place], kind) for kind in ("stair_door", "lobby_door", "final_exit_door")}
    doors, own = {}, {}
    for kind, name in named.items():
        if name:
            doors[f"own {kind}"] = site.doors[name].model_dump() | {"leak_area_m2": 1.8 * site.doors[name].leak_area_m2}
            own[kind] = f"own {kind}"
    storeys = [own if at == place else {} for at in range(len(site.storeys))]
    other = site.with_changes(doors=doors, storeys=storeys)
    found = Tower(site).solve(Conditions.of(site, "winter", gap_factor=gaps), 30.0)
    expected = Tower(other).solve(Conditions.of(other, "winter"), 30.0)
    assert found.door_dp_pa == pytest.approx(expected.door_dp_pa, abs=1e-4)
    assert np.abs(found.door_dp_pa - Tower(site).solve(Conditions.of(site, "winter"), 30.0).door_dp_pa).max() > 0.01


def test_the_hand_method_counts_the_factors_of_the_file(site):
    other = changed_file(site, "stair side", 1.4)
    assert stair_wall_leak(other, other.storeys[2]) == pytest.approx(1.4 * stair_wall_leak(site, site.storeys[2]))


def test_a_factor_that_no_building_has_is_refused(site):
    with pytest.raises(ValueError, match="facade_factor"):
        site.with_changes(leakage={"facade_factor": 0.0})
    with pytest.raises(ValueError, match="kind_factor"):
        Conditions.of(site, kind_factor=np.zeros(len(KINDS)))


def test_the_ladder_from_the_hand_method_to_the_network_has_the_same_foot_with_the_factors_of_the_file(site):
    """Its second rung is the network with the hand method's own building."""
    other = site.with_changes(leakage={"stair_side_factor": 1.7, "facade_factor": 0.6})
    rungs = flow_ladder(other).rungs
    assert rungs[1].flow_m3_s == pytest.approx(rungs[0].flow_m3_s, rel=0.03)
