"""The shortest ramp down that motor and brake bear, or the air alone: by hand from torque and power, a second less is not borne, and with
no brake nothing comes back to the drive along it."""

import numpy as np
import pytest
from demo_designs import design_of, site_of

from helpers.formulas.fan import angular_speed
from helpers.model.air.conditions import Conditions
from helpers.model.air.fan import fan_points
from helpers.model.air.tower import Tower
from helpers.model.loop.controller import shortest_ramp_down
from helpers.model.loop.ramps import ramp_loads
from helpers.studies.tuning.ramps_offered import shortest_down_s

TANNERY, LARKFIELD = site_of("Tannery Row"), site_of("Larkfield House")


def speeds(site):
    fan = site.fan
    return [float(angular_speed(hz, fan.motor_poles)) for hz in (fan.reference_speed_hz, fan.speed_limits_hz(True)[1])]


@pytest.mark.parametrize(("plate", "power_w"), [({}, None), ({"brake_power_w": 900.0}, 900.0),
                                                ({"brake_short_power_w": 5000.0, "brake_short_time_s": 60.0}, 5000.0)])  # fmt: skip
def test_with_a_resistor_it_is_the_longer_of_the_motors_torque_and_the_resistors_power_by_hand(plate, power_w):
    site = LARKFIELD.with_changes(fan={"inertia_kg_m2": (1.0, 1.5, 2.0), **plate})
    full, high = speeds(site)
    rated = site.fan.motor_power_w / full
    by_hand = max(2.0 * full / (1.5 * rated), 2.0 * high * full / (power_w or site.fan.motor_power_w))
    assert shortest_down_s(site) == np.ceil(by_hand)


@pytest.mark.parametrize("site", [TANNERY, LARKFIELD], ids=["tannery", "larkfield"])
def test_a_second_less_is_not_borne(site):
    least = shortest_down_s(site)
    states = [[(loads := ramp_loads(site, site.fan.model_copy(update={"ramp_down_s": ramp_s}))).down_state, loads.held_state]
              for ramp_s in (least, least - 1.0)]  # fmt: skip
    assert states[0] == ["good", "good"]
    assert states[1] != ["good", "good"]


def test_energy_that_no_plate_takes_is_borne_by_no_ramp_on_it_and_by_a_long_one_on_the_power_for_ever():
    small = {"inertia_kg_m2": 2.0, "brake_short_power_w": 5000.0, "brake_short_time_s": 0.5}
    assert np.isnan(shortest_down_s(LARKFIELD.with_changes(fan=small)))
    full, high = speeds(LARKFIELD)
    assert shortest_down_s(LARKFIELD.with_changes(fan=small | {"brake_power_w": 500.0})) == np.ceil(2.0 * high * full / 500.0)


def test_without_a_resistor_the_air_takes_all_that_comes_back_along_it_and_not_along_a_quicker_one():
    site = TANNERY.with_changes(fan={"brake": "none", "inertia_kg_m2": (0.3, 0.5, 0.7)})
    tower, shut = Tower(site), Conditions.of(site, "winter", (), ())
    assert np.isnan(shortest_down_s(site))  # nobody has looked at the air
    down = shortest_ramp_down(tower, shut)
    least = shortest_down_s(site, down)
    turning = np.linspace(down.to_hz, down.from_hz, 80)
    taken = fan_points(tower, tower.solve(shut.rows(np.zeros(80, int)), turning), shut.rows(np.zeros(80, int)))[2]
    w, full = angular_speed(turning, site.fan.motor_poles), speeds(site)[0]
    back = [0.7 * w * full / ramp_s - taken for ramp_s in (least, 0.9 * (least - 1))]
    assert back[0].max() <= 0.01 * taken.max()
    assert back[1].max() > 0


def test_the_record_tells_it_beside_the_ramp_that_the_site_has():
    figures = {one.label: one for one in design_of("Larkfield House").section("tuning").figures}
    assert figures["Shortest ramp down"].value == shortest_down_s(LARKFIELD)
    assert "the site has" in figures["Shortest ramp down"].reason
