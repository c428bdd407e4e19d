"""From hand flow to network flow: where they must agree they do, and every rung answers for one thing."""

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.studies.duty.hand_method import flow_ladder
from helpers.units.said import written_out

CFM, INWC = 0.3048**3 / 60, 249.0889


@pytest.mark.parametrize("weather", ["winter", "summer"])
@pytest.mark.parametrize("site", ["larkfield", "northgate", "twenty_storeys"])
def test_the_network_with_the_hand_methods_assumptions_agrees_with_the_formula(request, site, weather):
    ladder = flow_ladder(request.getfixturevalue(site), weather)
    assert abs(ladder.agreement) < 0.01
    assert all(rung.held for rung in ladder.rungs)


@pytest.mark.parametrize(("storeys", "dp_pa"), [(2, 10.0), (6, 25.0), (30, 15.0)])
def test_formula_and_network_agree_for_low_and_tall_stairs(stair, storeys, dp_pa):
    assert abs(flow_ladder(stair(storeys), door_dp_pa=dp_pa).agreement) < 0.01


def test_the_published_stair_takes_about_the_published_flow_in_the_network_too(twenty_storeys):
    # 8200 cfm at 0.080 in. w.g. at the bottom (source in the fixture, memory). By the height between end doors the formula gives 8065 cfm.
    same = flow_ladder(twenty_storeys, door_dp_pa=0.080 * INWC).rungs[1]
    assert same.flow_m3_s / CFM == pytest.approx(8200, rel=0.02)


def test_the_last_rung_is_the_flow_of_the_site_itself(larkfield):
    ladder = flow_ladder(larkfield)
    tower = Tower(larkfield)
    tap = larkfield.transmitters[0].model_copy(update={"level": ladder.level})
    held = tower.hold(Conditions.of(larkfield), ladder.door_dp_pa, [tap], "lowest")
    assert held.held.all()
    assert ladder.rungs[-1].flow_m3_s == pytest.approx(held.air.fan_flow_m3_s[0], rel=1e-3)


def test_each_rung_tells_what_it_adds_to_the_one_before(larkfield):
    ladder = flow_ladder(larkfield)
    assert ladder.changes_m3_s[0] == 0.0
    assert ladder.rungs[0].flow_m3_s + ladder.changes_m3_s.sum() == pytest.approx(ladder.rungs[-1].flow_m3_s)
    largest = ladder.largest()
    assert abs(ladder.changes_m3_s).max() == abs(ladder.changes_m3_s[ladder.rungs.index(largest[0])])
    assert all(rung.label.lower() in ladder.verdict() for rung in largest)


def test_what_the_site_does_not_have_is_no_rung(stair):
    plain = {rung.key for rung in flow_ladder(stair()).rungs}
    assert plain == {"hand", "network", "storeys", "slabs", "friction", "inlet"}


def test_wind_counts_from_its_own_rung_on(stair):
    calm = {rung.key: rung.flow_m3_s for rung in flow_ladder(stair()).rungs}
    windy = {rung.key: rung.flow_m3_s for rung in flow_ladder(stair(weather={"winter": {"wind_speed_m_s": 9.0}})).rungs}
    assert all(windy[key] == pytest.approx(calm[key]) for key in ("network", "slabs", "friction"))
    assert windy["wind"] != pytest.approx(calm["friction"], rel=1e-3)


def test_storeys_that_are_alike_already_change_nothing(stair):
    ladder = flow_ladder(stair())
    place = [rung.key for rung in ladder.rungs].index("storeys")
    assert abs(ladder.changes_m3_s[place]) < 1e-6 * ladder.flow_m3_s[place]


def test_a_leak_straight_to_outdoors_asks_for_more_air(stair):
    ladder = flow_ladder(stair(storeys=[{"stair_outside_wall_m2": 20.0}] * 6))
    place = [rung.key for rung in ladder.rungs].index("outside")
    assert ladder.changes_m3_s[place] > 0


def test_cold_outdoor_air_is_counted_as_less_volume_at_the_inlet(stair):
    flows = {rung.key: rung.flow_m3_s for rung in flow_ladder(stair()).rungs}
    ratio = 1.2 / (101325 / 287.042 / 263.15)  # standard air over air of -10 °C
    assert flows["inlet"] / flows["friction"] == pytest.approx(ratio, rel=1e-3)


def test_the_reasons_are_written_in_the_chosen_units(larkfield):
    ladder = flow_ladder(larkfield)
    assert "kg/m³" in ladder.reasons()[0]
    assert "lb/ft³" in written_out(ladder.reasons(), "in. w.c.")[0]
    assert "cfm" in written_out(ladder.verdict(), "in. w.c.")


def test_a_pressure_that_the_weather_alone_exceeds_is_a_rung_without_flow(stair):
    # A stair colder than rooms and outdoors holds more than 1 Pa across its bottom door by its weight alone.
    ladder = flow_ladder(stair(temperatures={"stair_c": 10.0}, weather={"winter": {"outdoor_c": 21.0}}), door_dp_pa=1.0)
    assert [rung.key for rung in ladder.rungs if not rung.held] == ["stair_c", "inlet"]
    assert np.isnan(ladder.flow_m3_s[-2:]).all()
    assert "the weather alone gives more" in ladder.verdict()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"door_dp_pa": 0.0}, "door_dp_pa must be above 0 Pa"),
        ({"door_dp_pa": "much"}, "door_dp_pa"),
        ({"weather": "autumn"}, "weather must be"),
    ],
)
def test_nonsense_gets_one_sentence(stair, changes, words):
    with pytest.raises(ValueError, match=words):
        flow_ladder(stair(), **changes)


def test_the_hand_method_is_refused_for_an_exhaust_fan(stair):
    with pytest.raises(ValueError, match="must have a supply fan"):
        flow_ladder(stair(fan={"effect": "exhaust"}))
