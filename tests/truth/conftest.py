"""The small stair on which balances that are written out beside the helpers are solved."""

import pytest

from helpers.model.site.file import demo_sites, read_site

STILL = {name: {"wind_speed_m_s": 0.0} for name in ("winter", "summer", "mild")}
COUNT = 3


@pytest.fixture(scope="module")
def three_storeys():
    site = read_site(demo_sites()["Larkfield House"])
    return site.with_changes(
        altitude_m=0.0, weather=STILL, storeys=[{}] * COUNT, supplies=[{"level": 2}], transmitters=[{"level": 1}, {"level": 2}],
        stair={"relief": {"level": 1}}, design={"open_doors": (1,), "open_exits": (0,)},
        leakage={"wall_exponent": 0.5, "door_exponent": 0.5},
        fan={"flows_m3_s": (0.0, 6.0), "pressures_pa": (600.0, 100.0), "duct_loss_pa": 0.0},
    )  # fmt: skip
