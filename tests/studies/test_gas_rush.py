"""Traffic that turns at once, in nine invented garages: what the alarm's room was held against, and an own calculation of one turn."""

from functools import cache

import numpy as np
import pytest

from helpers.model.plants.garage import GarageSite
from helpers.model.plants.kinds import read_any_site
from helpers.model.plants.pressure_plant import GarageConditions, Turn, turns_schedule
from helpers.model.site.file import demo_sites
from helpers.record.plants.design import PlantDesign
from helpers.record.plants.laid import laid_down
from helpers.record.plants.rushes import rings
from helpers.record.review.plants import GAS_SHARE
from helpers.studies.low_demand.gas_rush import AS_FILED, CALLED, NEVER, NO_STOP, rush_study

ORCHARD = read_any_site(demo_sites(None)["Orchard Garage"])


def zone(area, height, share, draught, exchange=0.0):
    return {"floor_area_m2": area, "height_m": height, "exhaust_share": share, "draught_m3_s": draught, "exchange_m3_s": exchange}


def garage(zones=None, traffic=None, times=1.0, fan=None, tap=None, control=None):
    """Orchard Garage with other zones, traffic (day, rush, night), a fan of `times` its flow."""
    made, given = ORCHARD.model_dump(), ORCHARD.fan
    if zones:
        made["zones"] = [made["zones"][0] | one | {"name": f"zone {at}"} for at, one in enumerate(zones)]
        made["transmitters"] = [made["transmitters"][0] | {"name": f"CO-{at}", "zone": f"zone {at}"} for at in range(len(zones))]
    if traffic:
        made["traffic"] = {name: {"running": running} for name, running in zip(("day", "rush", "night"), traffic, strict=True)}
    made["fan"] |= {"flows_m3_s": tuple(flow * times for flow in given.flows_m3_s), "motor_power_w": given.motor_power_w * times,
                    "duct_loss_flow_m3_s": given.duct_loss_flow_m3_s * times} | (fan or {})  # fmt: skip
    made["transmitters"] = [one | (tap or {}) for one in made["transmitters"]]
    made["control"] |= control or {}
    return GarageSite.model_validate(made)


LEVELS = (zone(1450, 2.9, 0.4, 0.5, 0.8), zone(1450, 2.8, 0.32, 0.2, 0.6), zone(1450, 2.8, 0.28, 0.15))
AIRY = (zone(1450, 2.9, 0.4, 2.0, 2.0), zone(1450, 2.8, 0.32, 1.0, 2.0), zone(1450, 2.8, 0.28, 1.0))
SMALL = (zone(900, 2.6, 0.2, 0.3, 0.5), *[zone(900, 2.6, 0.2, 0.1, 0.5)] * 3, zone(900, 2.6, 0.2, 0.1))
GARAGES = {
    "demo": ORCHARD,
    "one low zone": garage((zone(500, 2.4, 1.0, 0.05),), ((0.3,), (1.2,), (0.0,)), 0.25),
    "two halls": garage((zone(6000, 4.0, 0.5, 2.0, 3.0), zone(6000, 4.0, 0.5, 1.0)), ((2, 1), (9, 6), (0.05, 0)), 3.5),
    "hardly any draught": garage((zone(1450, 2.9, 0.5, 0.02), zone(1450, 2.8, 0.5, 0.02)), ((0.6, 0.4), (2, 1.6), (0.01, 0))),
    "much draught": garage(AIRY, ((0.75, 0.4, 0.2), (3, 1.8, 1), (0.02, 0.01, 0))),
    "all leave at once": garage(LEVELS, ((0.3, 0.1, 0.1), (2.6, 1.6, 0.9), (0, 0, 0))),
    "slow cells, slow ramp": garage(fan={"ramp_s": 120.0}, tap={"response_s": 60.0, "filter_s": 30.0}),
    "five levels": garage(SMALL, ((0.7, 0.3, 0.2, 0.1, 0.1), (1.6, 1.1, 0.7, 0.4, 0.3), (0.02, 0, 0, 0, 0)), 1.1),
}
SOFT = garage(control={"gain": 4.0, "integral_time_s": 1200.0})


@cache
def study(name):
    site = SOFT if name == "soft" else GARAGES[name]
    return rush_study(site, laid_down(site).loop.gain, (), site.control.set_point_ppm + 5.0, (1 + GAS_SHARE) * site.control.set_point_ppm)


@pytest.mark.parametrize("name", GARAGES)
def test_a_sound_loop_stays_below_the_room_of_the_gas_alarm_with_the_fan_running(name):
    rush = study(name)
    running, stopping = rush.played[rush.unstopped], rush.played[rush.ways[0]]
    assert running.peak_ppm.max() < (1 + GAS_SHARE) * rush.site.control.set_point_ppm
    assert not running.above_alarm_s.any()
    assert not running.stopped.any()
    assert stopping.stopped.any()
    assert stopping.peak_ppm.max() > running.peak_ppm.max() + 2  # a stop is always worse


def test_a_third_of_the_gain_rings_the_alarm_in_every_rush_and_the_study_says_for_how_long():
    rush = study("soft")
    running = rush.played[rush.unstopped]
    assert running.peak_ppm.max() == pytest.approx(1.43 * 25.0, abs=0.2)
    assert running.above_alarm_s.max() > 900


def own_turn(site, gain, states, top_m3_s):
    """Highest gas after the last turn: zones, cells, filters, loop, ramp by steps of a second; nothing of ours but the fan's flow."""
    volume = np.array([one.floor_area_m2 * one.height_m for one in site.zones])
    share, draught = (np.array([getattr(one, name) for one in site.zones]) for name in ("exhaust_share", "draught_m3_s"))
    to_next = [one.exchange_m3_s for one in site.zones[:-1]]
    gas, cell, filtered = (np.full(len(volume), 2.0) for _ in range(3))
    speed, output, integral, highest = 8.0, 16.0, None, 0.0
    for at, (running, length_s) in enumerate(states):
        for second in range(int(length_s)):
            if second % 5 == 0:
                error = 100 * (filtered.max() - 25.0) / 250.0
                integral = output - gain * error if integral is None else integral
                grown = integral + gain * error * 5 / 600
                asked = gain * error + grown
                output = min(max(asked, 16.0), 100.0)
                if not ((asked > 100 and error > 0) or (asked < 16 and error < 0)):
                    integral = grown
            speed += min(max(output / 2 - speed, -1.25), 1.25)
            fresh = top_m3_s * speed / 50 * share + draught
            change = np.array(running) * 70.0 + fresh * (2.0 - gas)
            for one, flow in enumerate(to_next):
                change[one] += flow * (gas[one + 1] - gas[one])
                change[one + 1] += flow * (gas[one] - gas[one + 1])
            gas = gas + change / volume
            cell = cell + (gas - cell) / 20.0
            filtered = filtered + (cell - filtered) / 5.0
            if at == len(states) - 1:
                highest = max(highest, gas.max())
    return highest


def test_the_worst_turn_of_the_demo_garage_is_that_of_a_calculation_of_its_own():
    made = PlantDesign(ORCHARD)
    rush = made.rush
    way = rush.unstopped
    at = [course.names for course in rush.courses].index(("rush", "day", "rush"))
    running = {name: traffic.running for name, traffic in ORCHARD.traffic.items()}
    states = ((running["rush"], 3 * 5400), (running["day"], 5400), (running["rush"], 3600))
    own = own_turn(ORCHARD, 12.0, states, float(made.plant.fan_flow_m3_s(50.0)))
    assert rush.played[way].peak_ppm[at] == pytest.approx(own, abs=0.05)


def test_what_a_stop_comes_to_is_told_with_the_remedies_that_were_tried_and_the_worst_of_each():
    made = PlantDesign(ORCHARD)
    (found,) = made.stop_findings
    assert found.severity == "wrong"
    assert "level -1 35.4 ppm of 30 ppm, for 20 min" in str(found.figure)
    assert "the gas alarm rings" in str(found.figure)
    told = str(found.remedy)
    assert all(name in told for name in (CALLED, NO_STOP, "gain 18: 29.3 ppm"))
    assert "Kept by: no stop, gain 18" in told
    (running,) = made.rush_findings
    assert running.severity == "attention"
    assert "30.5 ppm of 30 ppm" in str(running.figure)
    assert not rings(made, made.rush.unstopped)
    assert rings(made, made.rush.ways[0])
    gain = next(line for line in made.lines if (line.group, line.name) == ("loop", "gain"))
    assert str(gain.why).startswith("CHECK: Traffic that turns at once")


def test_the_remedy_in_the_site_file_leaves_nothing_to_say():
    made = PlantDesign(ORCHARD.with_changes(control={"gain": 18.0, "low_demand": None}))
    assert made.rush_findings == made.stop_findings == ()
    assert made.rush.ways[0].called == AS_FILED
    assert all(way.rule == NEVER for way in made.rush.ways)


def test_a_soft_loop_fails_where_its_gain_is_entered():
    made = PlantDesign(SOFT.with_changes(control={"low_demand": None}, transmitters=[{"accuracy_percent_span": 1.0}] * 3))
    (found,) = made.rush_findings
    assert found.severity == "wrong"
    assert "None of them keeps it" in str(found.remedy)
    assert "FAIL" in next(line.value for line in made.lines if (line.group, line.name) == ("loop", "gain"))
    (held,) = (line for line in made.record().board.check if line.what == "What the loop holds")
    assert held.status == "wrong"
    assert held.value.startswith("FAIL: rush, day, ")
    assert held.value.endswith("then rush at once")


def test_cars_that_have_left_are_none_to_the_last_digit():
    base = GarageConditions.of(ORCHARD, running=np.array([0.3, 1.7, 0.1]))
    turns = [Turn(60.0 * (at + 1), {"running": np.full(3, running)}) for at, running in enumerate((2.1, 0.3, 1e-3, 0.0))]
    assert turns_schedule(base, turns, 600.0).conditions.running[-1].tolist() == [0.0, 0.0, 0.0]


def test_another_plant_is_refused():
    with pytest.raises(ValueError, match="site must be GarageSite"):
        rush_study(read_any_site(demo_sites(None)["Quayside Lab"]), 1.0)


def test_a_garage_without_any_draught_has_a_record_and_its_speed_is_the_closed_forms():
    made = PlantDesign(garage((zone(1450, 2.9, 1.0, 0.0),), ((0.9,), (3.1,), (0.0,))))
    assert made.plant.aired.tolist() == [False]
    flow = 3.1 * 70.0 / (25.0 - 2.0)  # well mixed: what the cars give off, over what the set point is above outdoors [m3/s]
    speed = 50.0 * flow / float(made.plant.fan_flow_m3_s(50.0))
    row = next(row for row in made.section("held").tables[0].rows if row[0] == "rush")
    assert row[1:3] == ("held", f"{speed:.1f} Hz")
    assert made.rush.played[made.rush.unstopped].peak_ppm.max() < 1.3 * 25.0


def test_a_zone_is_aired_by_its_draught_or_from_zone_to_zone():
    def aired(*zones):
        return PlantDesign(garage(zones, ((0.1,) * len(zones), (0.5,) * len(zones), (0.0,) * len(zones)))).plant.aired.tolist()

    third = 1 / 3
    assert aired(zone(900, 2.6, third, 0.0, 0.5), zone(900, 2.6, third, 0.0, 0.5), zone(900, 2.6, third, 0.1)) == [True] * 3
    assert aired(zone(900, 2.6, third, 0.1), zone(900, 2.6, third, 0.0, 0.5), zone(900, 2.6, third, 0.0)) == [True, False, False]
