"""The hand method against the network on whole sites: alike where they assume alike, and each difference explained by its figure.

The site is the published 20-storey stair: storeys alike, square-root leaks, no slab leaks, friction or wind, stair as warm as the rooms.
25 Pa are held across the end door with the least, the fan being large enough; what is compared is the other end door and the supply air.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from helpers.formulas import air, leakage
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.arithmetic import ManyRuns
from helpers.model.loop.signal_chain import Combiner
from helpers.model.site.file import read_site
from helpers.studies.duty.hand_method import HandStair

PLAIN = read_site(Path(__file__).parents[2] / "data" / "checks" / "published_stair.toml")
LEAST_PA = 25.0
STOREYS = len(PLAIN.storeys)


def every_storey(**changes):
    return PLAIN.with_changes(storeys=[changes] * STOREYS)


class Compared:
    """Other end door [Pa] and supply [m3/s of standard air]: by hand and by the network."""

    def __init__(self, site=PLAIN, weather="winter", facade_wider=1.0, **conditions):
        plain = HandStair.of(site, weather)
        self.hand = replace(plain, facade_area_m2=plain.facade_area_m2 * facade_wider)
        low = self.hand.from_bottom
        ends = self.hand.end_pressures(LEAST_PA)
        self.hand_pa, self.hand_flow = ends[1 if low else 0], self.hand.supply_flow(LEAST_PA)
        end = PLAIN.transmitters[0].model_copy(update={"level": site.storeys[0 if low else -1].level, "range_high_pa": 500.0})
        held = Tower(site).hold(Conditions.of(site, weather, **conditions), set_point_pa=LEAST_PA, transmitters=[end], rule="average")
        assert held.held.all()
        self.pa, self.flow = held.air.door_dp_pa[0, -1 if low else 0], held.air.supply_kg_s[0] / 1.2

    @property
    def share_pa(self):
        return self.pa / self.hand_pa

    @property
    def share_flow(self):
        return self.flow / self.hand_flow


def series_factor(facade_share=1.0):
    """1 + (A_sb / A_bo)^2 of the plain stair, the facade wider by a share."""
    hand = HandStair.of(PLAIN)
    return 1 + (hand.stair_area_m2 / hand.facade_area_m2 / facade_share) ** 2


def facade_air(outdoor_c):
    """What the facade passes more than the door of as much area: its air is half as cold as outdoors, and heavier."""
    rooms = air.density(PLAIN.temperatures.floor_c)
    return np.sqrt((air.density(outdoor_c) + rooms) / 2 / rooms)


@pytest.fixture(scope="module")
def plain():
    return Compared()


@pytest.mark.parametrize("outdoor_c", [-30.0, -10.0, 0.0, 15.0, 38.0])
@pytest.mark.parametrize("gap_m2", [0.01, 0.024, 0.04])
def test_where_they_assume_alike_hand_and_network_are_within_half_a_percent(outdoor_c, gap_m2):
    site = PLAIN.with_changes(weather={"winter": {"outdoor_c": outdoor_c}}, doors={"gap": {"leak_area_m2": gap_m2}})
    found = Compared(site, facade_wider=facade_air(outdoor_c))
    assert found.share_pa == pytest.approx(1.0, abs=0.001)
    assert found.share_flow == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize("outdoor_c", [-10.0, 38.0])
@pytest.mark.parametrize("rule", ["lowest", "highest"])
def test_a_rule_holds_the_end_of_which_the_hand_method_says_that_it_reads_so(rule, outdoor_c):
    """Both ends measured: the lowest reading is that of the end with the least pressure, by hand, in the network and in the loop."""
    site = PLAIN.with_changes(weather={"winter": {"outdoor_c": outdoor_c}})
    first, last = HandStair.of(site, "winter").end_pressures(LEAST_PA)
    assert abs(first - last) > 5
    tower, conditions = Tower(site), Conditions.of(site, "winter")
    one = PLAIN.transmitters[0].model_copy(update={"range_low_pa": 0.0, "range_high_pa": 500.0})
    ends = [one.model_copy(update={"level": site.storeys[place].level}) for place in (0, -1)]
    held = tower.hold(conditions, set_point_pa=80.0, transmitters=ends, rule=rule)
    assert held.held.all()
    by_hand = 0 if (first < last) == (rule == "lowest") else -1
    assert held.air.door_dp_pa[0, by_hand] == pytest.approx(80.0, abs=0.05)
    readings = tower.readings(held.air, ends)[0]
    assert Combiner(rule, None, 2).combine(list(readings), doubtful=False)[0] == pytest.approx(80.0, abs=0.05)
    many = Combiner(rule, None, 2, arithmetic=ManyRuns(1)).combine(readings[:, None], doubtful=False)[0]
    assert many == pytest.approx(80.0, abs=0.05)


@pytest.mark.parametrize("outdoor_c", [-10.0, 0.0, 15.0, 38.0])
def test_left_to_its_one_density_the_hand_method_is_still_within_one_percent(outdoor_c):
    found = Compared(PLAIN.with_changes(weather={"winter": {"outdoor_c": outdoor_c}}))
    assert found.share_pa == pytest.approx(1.0, abs=0.01)
    assert found.share_flow == pytest.approx(1.0, abs=0.01)


def test_what_is_left_is_the_cold_air_in_the_facade(plain):
    """The hand method has one density. Air half as cold as outdoors is heavier: the facade passes more, the door keeps more: +0.3 %."""
    wider = facade_air(PLAIN.weather["winter"].outdoor_c)
    expected = LEAST_PA + (plain.hand_pa - LEAST_PA) * series_factor() / series_factor(wider)
    assert expected / plain.hand_pa == pytest.approx(1.003, abs=0.0005)
    assert plain.pa == pytest.approx(expected, rel=2e-4)


def test_a_stair_colder_than_the_rooms_has_the_stack_effect_of_its_own_air(plain):
    """The hand method takes the rooms'. With 10 °C in the stair instead of 21 °C a third of the rise is gone."""
    cold = Compared(stair_c=10.0)
    outdoor = PLAIN.weather["winter"].outdoor_c
    gradients = [air.stack_gradient(outdoor, inside) for inside in (10.0, PLAIN.temperatures.floor_c)]
    expected = LEAST_PA + (plain.pa - LEAST_PA) * gradients[0] / gradients[1]
    assert gradients[0] / gradients[1] == pytest.approx(0.67, abs=0.01)
    assert cold.pa == pytest.approx(expected, rel=2e-3)


def test_thin_air_high_up_has_less_stack_effect(plain):
    """The hand method is written for sea level: at 1500 m the rise is smaller as the barometer, 84.6 to 101.3 kPa."""
    high = Compared(PLAIN.with_changes(altitude_m=1500.0))
    expected = LEAST_PA + (plain.pa - LEAST_PA) * air.pressure_at_altitude(1500.0) / air.STANDARD_PRESSURE_PA
    assert high.pa == pytest.approx(expected, rel=1e-3)


def test_a_rough_shaft_takes_the_friction_of_the_air_that_climbs_it(plain):
    """Supply at the bottom. Friction by hand, from the flow that the hand method leaves above each storey: 15 of 107 Pa."""
    rough = Compared(PLAIN.with_changes(stair={"friction_area_m2": 3.0}))
    above = plain.hand_flow * (1 - np.arange(1, STOREYS) / STOREYS)
    lost = (1.2 / 2 * (above / (PLAIN.leakage.discharge_coefficient * 3.0)) ** 2).sum() / series_factor()
    assert 12 < lost < 18
    assert plain.pa - rough.pa == pytest.approx(lost, rel=0.1)
    assert rough.share_flow < 0.95


def test_walls_straight_to_outdoors_come_on_top_of_the_hand_flow(plain):
    """The hand method leaves them out; the stair's whole pressure over outdoors is across them, not the door's share of it."""
    outer = Compared(every_storey(stair_outside_wall_m2=10.0))
    area = 10.0 * leakage.WALL_LEAKAGE_RATIOS["ashrae_1999"]["stair_wall"]["average"]
    factor = 1 + (outer.hand.stair_area_m2 / outer.hand.facade_area_m2) ** 2
    extra = leakage.stair_supply_flow(STOREYS, area, LEAST_PA * factor, outer.hand_pa * factor)
    assert outer.share_flow == pytest.approx(1.04, abs=0.01)
    assert outer.flow == pytest.approx(outer.hand_flow + extra, rel=0.005)


def test_an_open_door_adds_what_its_storeys_facade_lets_out(plain):
    """The hand method keeps all doors shut. Open, the door costs nothing and the facade alone stands against the stair."""
    level = 10
    opened = Compared(stair_door_open=np.eye(STOREYS)[[level]])
    over_door = LEAST_PA + (plain.hand_pa - LEAST_PA) * level / (STOREYS - 1)
    through = [leakage.flow(over_door * series_factor(), plain.hand.facade_area_m2), leakage.flow(over_door, plain.hand.stair_area_m2)]
    assert opened.flow - plain.flow == pytest.approx(through[0] - through[1], rel=0.05)
    assert opened.share_flow > 1.1


@pytest.mark.parametrize(
    ("changed", "conditions", "pressure", "flow"),
    [
        # Air climbs through the slabs too: the upper floors are higher, the lower ones lower than on their own.
        (every_storey(floor_area_m2=500.0), {}, (0.97, 0.99), (0.985, 0.998)),
        # Walls of exponent 0.65 pass less than an orifice below the 75 Pa at which their area holds: here the facades, at some pascals.
        (PLAIN.with_changes(leakage={"wall_exponent": 0.65}), {}, (0.96, 0.99), (0.97, 0.99)),
        # Wind sucks on three of four faces, the more the higher: the upper floors stand lower, their doors hold more.
        (PLAIN, {"wind_speed_m_s": 8.0}, (1.02, 1.06), (1.01, 1.03)),
        # Storeys not alike: a ground floor that leaks five times as much to outdoors leaves its door a greater share.
        (PLAIN.with_changes(storeys=[{"extra_leak_m2": 0.5}] + [{}] * (STOREYS - 1)), {}, (0.93, 0.995), (0.93, 0.995)),
    ],
    ids=["slabs", "wall exponent", "wind", "leaky ground floor"],
)
def test_what_the_hand_method_leaves_out_moves_the_answer_its_own_way(changed, conditions, pressure, flow):
    found = Compared(changed, **conditions)
    assert pressure[0] < found.share_pa < pressure[1]
    assert flow[0] < found.share_flow < flow[1]
