"""What the smooth law costs beside the bare power law, as `helpers/model/air/README.md` says: much under 0.1 Pa, nothing at 25 Pa."""

import numpy as np
import pytest

from helpers.formulas import kernels
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.found_once import forget_airs
from helpers.model.site.file import demo_sites, read_site

DRAWN, BARE_PA = 20, 1e-6


@pytest.fixture(scope="module")
def drawn():
    """Larkfield House with a drive that turns as slowly as one likes; doors, exits, wind and leaks drawn."""
    site = read_site(demo_sites()["Larkfield House"]).with_changes(fan={"lowest_speed_hz": 0.1})
    rng, shape = np.random.default_rng(1), (DRAWN, len(site.storeys))
    warm = rng.uniform(-15, 35, DRAWN)
    conditions = Conditions.of(
        site, "mild", outdoor_c=warm, stair_c=warm + (21 - warm) * rng.uniform(0, 1, DRAWN),
        wind_speed_m_s=rng.uniform(0, 8, DRAWN) * (rng.random(DRAWN) < 0.5), wind_from_deg=rng.uniform(0, 360, DRAWN),
        stair_door_open=(rng.random(shape) < rng.choice([0, 0.2, 1], DRAWN)[:, None]) * 1.0,
        final_exit_open=(rng.random(shape) < 0.3) * 1.0, leak_factor=np.exp(rng.normal(0, 1, shape)),
    )  # fmt: skip
    return Tower(site), conditions


def apart(drawn, set_point_pa, monkeypatch):
    """Largest differences between smooth and bare law: of a pressure in the stair [Pa], and of the fan's flow [-]; how many are held."""
    tower, conditions = drawn
    smooth = tower.hold(conditions, set_point_pa)
    with monkeypatch.context() as patched:
        patched.setattr(kernels, "SMOOTHING_PA", BARE_PA)
        forget_airs()
        bare = tower.hold(conditions, set_point_pa)
    forget_airs()
    both = smooth.held & bare.held
    pressure = np.abs(smooth.air.stair_pa - bare.air.stair_pa)[both].max()
    flow = np.abs(smooth.air.fan_flow_m3_s / bare.air.fan_flow_m3_s - 1)[both].max()
    return pressure, flow, both.sum()


def test_at_a_stairs_set_point_no_gauge_shows_the_smoothing(drawn, monkeypatch):
    pressure, flow, held = apart(drawn, 25.0, monkeypatch)
    assert held >= 5
    assert pressure < 0.05
    assert flow < 5e-4


def test_under_a_tenth_of_a_pascal_it_is_not_to_be_believed(drawn, monkeypatch):
    """So that the text's warning is not there for nothing: were the smoothing narrower, it would have to say less."""
    pressure, flow, held = apart(drawn, 0.02, monkeypatch)
    assert held >= 5
    assert 0.1 < pressure < 10
    assert 0.02 < flow < 0.4
