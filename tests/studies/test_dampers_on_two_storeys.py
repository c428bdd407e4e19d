"""Relief dampers at two storeys: any one of them may stick, both are late or early, and who tells of the damper tells of both."""

from dataclasses import replace

import numpy as np
import pytest
from demo_designs import site_of

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.file import read_site_text, write_site
from helpers.record.papers.points import _names
from helpers.record.settings.schedule import _hardware
from helpers.studies.duty.concept.concepts import with_lobbies
from helpers.studies.duty.relief_damper import (
    blades,
    fights_said,
    is_stuck_open,
    is_stuck_shut,
    lifted,
    low_damper,
    one_blade,
    open_share,
    stuck_blades,
)
from helpers.studies.duty.several_dampers import rests_on_said
from helpers.units.said import written_out

LOW = {"level": 1, "opens_pa": 50.0, "full_pa": 70.0, "area_m2": 0.2, "leak_area_m2": 0.002, "count": 2}


@pytest.fixture(scope="module")
def site():
    return site_of("Larkfield House").with_changes(stair={"more_reliefs": [LOW]})


def test_the_file_written_reads_as_the_same_site(site):
    text = write_site(site)
    assert "[[stair.more_reliefs]]" in text
    assert read_site_text(text) == site


def test_every_damper_sticks_in_turn_and_of_two_alike_half_is_left(site):
    states = dict(stuck_blades(Tower(site)))
    assert list(states) == [f"relief damper at storey {level} stuck {end}" for level in (7, 1) for end in ("shut", "open")]
    assert [name for name in states if is_stuck_shut(name)] == list(states)[::2]
    assert [name for name in states if is_stuck_open(name)] == list(states)[1::2]
    first, second = states["relief damper at storey 1 stuck shut"].site.stair.reliefs
    assert (first.area_m2, second.area_m2) == (site.stair.relief.area_m2, 0.1)
    first, second = states["relief damper at storey 7 stuck open"].site.stair.reliefs
    assert (first.leak_area_m2, second.leak_area_m2) == (0.5, 0.002)


def test_both_blades_lift_late_each_by_its_own_setting(site):
    still = Conditions.of(site, wind_speed_m_s=0.0)
    late, early = (one.site.stair.reliefs for _, one in blades(Tower(site), still)[1:])
    assert [one.opens_pa for one in late] == pytest.approx([60.5, 55.0])
    assert [one.opens_pa for one in early] == pytest.approx([49.5, 45.0])


def test_one_that_lifts_is_enough_to_fight_the_loop(site):
    tower, still = Tower(site), Conditions.of(site, wind_speed_m_s=0.0)
    pressure = np.full((1, 14), 44.0)
    assert not lifted(tower, still, pressure)
    pressure[0, 1] = 60.0  # at the lower damper alone
    assert lifted(tower, still, pressure)
    assert open_share(tower, still, pressure)[0] == pytest.approx(0.5)
    assert "at storey 1, of all the lowest" in fights_said(site)


def test_who_tells_of_the_damper_tells_of_both(site):
    reliefs = site.stair.reliefs
    assert one_blade(*reliefs) == "one of 3 sticks, nobody looks at it for years"
    assert rests_on_said(*reliefs) == "one of 3 relief dampers"
    (found,) = low_damper(reliefs, 52.0)
    assert found.what.startswith("The relief damper at storey 1 opens below")
    lines = {line.name: written_out(line.value) for line in _hardware(site)}
    assert "at storey 7" in lines["relief damper"]
    assert "; and 2 dampers of" in lines["relief damper"]
    assert lines["proof that the relief damper moves"].startswith("each seen open")
    told = {"of": "dampers", "name": "relief damper shut"}
    assert _names(site, told) == [f"relief damper shut, {end}" for end in ("storey 7", "storey 1, 1 of 2", "storey 1, 2 of 2")]


def test_lobbies_double_both_settings(site):
    assert [one.opens_pa for one in with_lobbies(site).stair.reliefs] == [110.0, 100.0]


def test_a_leak_that_is_twice_as_large_is_so_at_both(site):
    tower, doubled = Tower(site), np.ones((1, 6))
    doubled[0, 3] = 2.0
    twice = tower.solve(replace(Conditions.of(site), kind_factor=doubled), 20.0)
    leaking = [{"leak_area_m2": 2 * one.leak_area_m2} for one in site.stair.reliefs]
    written = Tower(site.with_changes(stair={"relief": leaking[0], "more_reliefs": leaking[1:]})).solve(Conditions.of(site), 20.0)
    assert twice.stair_pa[0, [1, 7]].max() < 45  # the blades are shut
    assert twice.stair_pa == pytest.approx(written.stair_pa, abs=1e-3)
