"""The air a stair takes at its set point, by an ideal source, against the independent solver with a strong fan of its own."""

import numpy as np
import pytest
from drawn_sites import site_and_state
from scipy.optimize import brentq
from tower_in_flows import FlowTower, StraightFan

from helpers.model.air.tower import Tower
from helpers.studies.cases import Case
from helpers.studies.duty.fan_needed import fan_needed

WEAK = {"flows_m3_s": (0.0, 0.3), "pressures_pa": (50.0, 10.0)}  # the fan of the file: far from enough, and without a say
STRONG = {"flows_m3_s": (0.0, 80.0), "pressures_pa": (8000.0, 500.0), "duct_loss_pa": 0.0}


def drawn():
    """Sites with one outlet of a supply fan; their weather stands in the file."""
    for seed in range(60):
        site, weather, *_ = site_and_state(seed)
        if site.fan.effect == "supply" and len(site.supplies) == 1:
            state = {name: weather[name] for name in ("outdoor_c", "wind_speed_m_s", "wind_from_deg", "stair_c")}
            inside = {name: weather[name] for name in ("floor_c", "lobby_c", "lift_c")}
            yield pytest.param(site.with_changes(weather={"winter": state}, temperatures=inside, fan=WEAK), weather, id=f"tower {seed}")


@pytest.mark.parametrize(("site", "weather"), list(drawn())[:12])
def test_a_stair_takes_what_the_independent_solver_says_at_the_set_point(site, weather):
    strong, shut = site.with_changes(fan=STRONG), np.zeros(len(site.storeys))
    place = [storey.level for storey in site.storeys].index(site.transmitters[0].level)

    def solved(ratio):
        tower = FlowTower(strong, weather, ratio, shut, shut, np.ones(len(site.storeys)))
        pressures, flows = tower.solve()
        ((edge, flow),) = [(edge, flow) for edge, flow in zip(tower.edges, flows, strict=True) if isinstance(edge[3], StraightFan)]
        return pressures["stair", place] - pressures["floor", place], -flow / edge[3].scale

    ratio = brentq(lambda ratio: solved(ratio)[0] - site.control.set_point_pa, 0.01, 3.0, xtol=1e-9)
    needed = fan_needed(Tower(site), [Case("winter", "winter")], "average", site.control.set_point_pa)
    assert needed.reached[0]
    assert needed.taken_m3_s[0] == pytest.approx(solved(ratio)[1], rel=1e-4)
