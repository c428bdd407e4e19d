"""The record of a plant other than a stair: what it lays down is judged on the plant's own bench, and stands in its schedule."""

from functools import cache

import numpy as np
import pytest

from helpers.model.plants.garage import Garage
from helpers.model.plants.kinds import read_any_site, read_any_strategy
from helpers.model.plants.pressure_plant import GarageConditions, Turn, run_plant, setup_of
from helpers.model.site.file import SITES_FOLDER, demo_sites
from helpers.record.board import state_of
from helpers.record.plants.design import PlantDesign, design_of
from helpers.record.plants.laid import alarm_ends, fallback_speed_hz, lags_tried, safe_gain
from helpers.record.review.loop import calm, loop_margins
from helpers.record.review.study import bench_of, review

NAMES = ("Mill Street Offices", "Quayside Lab", "Orchard Garage")


@cache
def design(name):
    return PlantDesign(read_any_site(demo_sites(None)[name]))


def line(made, group, name):
    return next(one for one in made.lines if (one.group, one.name) == (group, name))


@pytest.mark.parametrize("name", NAMES[:2])
def test_the_fallback_speed_suits_every_case_that_some_speed_holds_and_a_hertz_less_does_not(name):
    bench = design(name).bench
    speed = fallback_speed_hz(bench)
    judged, step = bench.judged, 1.0
    assert bench.inside(bench.at_speed(speed))[judged].all()
    low, _ = bench.speed_limits_hz
    assert speed - step < low or not bench.inside(bench.at_speed(speed - step))[judged].all()


def test_a_garage_falls_back_on_all_that_its_fan_gives_and_the_room_is_the_closed_forms():
    made = design("Orchard Garage")
    assert fallback_speed_hz(made.bench) == made.site.fan.highest_speed_hz == 50.0
    garage = made.plant
    balance = np.diag(garage.fresh_m3_s(np.array(50.0))) - garage.exchange  # conservation of gas, zone by zone
    fresh = garage.fresh_m3_s(np.array(50.0))
    gas = np.linalg.solve(balance, np.array(made.site.traffic["rush"].running) * 70.0 + fresh * 2.0)  # ml/s: ppm of m3/s
    row = next(table for table in made.section("failure").tables if table.key == "lost").rows[-1]
    assert row[0] == "fallback speed, 50 Hz"
    assert f"level -1 {gas.max():.1f} ppm of 30 ppm (rush)" in row[-1]
    assert line(made, "failure", "on a failed reading").value.startswith("fallback speed 50 Hz")


def test_a_gas_alarm_is_live_at_all_times_lies_at_once_beyond_the_most_and_above_a_sound_rush():
    made = design("Orchard Garage")
    assert line(made, "failure", "gas alarms are live").value.startswith("always: fan stopped, off, in MANUAL, tripped")
    assert "orders the fan to 50 Hz" in line(made, "failure", "a gas alarm does").value
    _, high, _ = alarm_ends(made.bench)
    most = made.bench.limits[1].max()
    assert high == pytest.approx(most + made.bench.errors.max())  # a reading there is beyond the most, whatever its error
    never = Garage(made.site.with_changes(control={"low_demand": None}))
    rush = Turn(1800.0, {"running": made.site.traffic["rush"].running})
    run = run_plant(never, GarageConditions.of(never.site, "day"), setup_of(never, 5400.0, events=(rush,)))
    assert 25.0 < run.readings_pa.max() < min(high) - made.bench.errors.max()
    finer = PlantDesign(made.site.with_changes(transmitters=[{"range_high_ppm": 100.0}] * 3, control={"gain": 4.8}))  # errors of 2 ppm
    _, high, _ = alarm_ends(finer.bench)
    assert finer.bench.limits[1].max() < min(high)
    assert run.readings_pa.max() + finer.bench.errors.max() < min(high)


def test_a_review_asks_of_a_gas_alarm_what_the_record_lays_down_and_the_sound_strategy_has_it():
    made, sound = design("Orchard Garage"), read_any_strategy(SITES_FOLDER.parent / "strategies" / "orchard_sound.toml")
    bench = bench_of(sound, made.site)  # of its own transmitters, which are finer than the site's
    _, laid, _ = alarm_ends(bench)
    most = bench.alarm_limits[1]
    assert np.all(np.abs(most - laid) <= 0.5)  # laid down in whole ppm
    assert [one.own_limits[1] for one in sound.inputs] == list(laid)

    def silent(high_ppm):
        found = review(sound.with_changes(inputs=[{"alarm_high_ppm": high_ppm}] * 3), made.site).findings
        return [one for one in found if one.severity != "good" and one.what.startswith("The alarms are silent")]

    assert not silent(float(laid[0]))
    assert [one.severity for one in silent(2 * made.bench.set_point)] == ["wrong"]


def test_a_stop_that_lets_a_garage_pass_its_most_is_past_a_limit_and_none_without_the_stop():
    made = design("Orchard Garage")
    (told,) = [one for one in made.section("low-demand").findings if one.what.startswith("After a stop")]
    assert told.severity == "wrong"
    assert told.figure.startswith("level -1 35.4 ppm")
    rise = made.site.traffic["rush"].running[0] * made.site.cars.emission_m3_s * 1e6 / (1450 * 2.9)  # ppm/s, no air at all
    waits = 60.0 + 20.0 + 5.0 + 40.0  # its wait, cell, filter, ramp
    assert 30.0 < float(told.figure.split()[2]) < 30.0 + rise * (waits + 60.0)
    assert not any(one.what.startswith("After a stop") for one in PlantDesign(
        made.site.with_changes(control={"low_demand": None})).section("low-demand").findings)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_the_power_of_a_feeder_is_that_of_the_highest_speed_by_the_cube_where_nothing_else_moves_air(name):
    made = design(name)
    found = {one.label: one for one in made.section("fan").figures}
    top, asked = found["Largest power from the mains"], found["Largest power that the loop asks"]
    assert top.value >= made.bench.at_speed(50.0).power_w.max() >= asked.value
    if name == "Orchard Garage":
        assert top.value == pytest.approx(asked.value * (50.0 / made.bench.held.speed_hz[1]) ** 3, rel=2e-3)


@pytest.mark.parametrize("name", NAMES[:2])
def test_a_fallback_without_an_upper_limit_is_no_pass_anywhere(name):
    made = design(name)
    table = next(table for table in made.section("failure").tables if table.key == "lost")
    assert table.states[-1] == state_of(line(made, "failure", "on a failed reading")) == "attention"
    places = made.bench.at_speed(made.strategy.on_bad_reading.preset_speed_hz).places
    assert f"has {places.max():.0f} Pa" in repr(table.rows[-1])


def test_a_dead_wire_that_is_not_seen_has_one_verdict_and_says_where_the_fan_goes():
    made = design("Mill Street Offices")
    for name in ("signal failed", "a dead wire"):
        assert state_of(line(made, "PDT-1 north", name)) == "wrong"
    assert line(made, "PDT-1 north", "a dead wire").value.endswith("the loop takes the fan to 50.0 Hz")


@pytest.mark.parametrize("name", NAMES)
def test_a_gain_is_laid_down_only_where_it_is_calm_with_other_lags_and_delays_too(name):
    made = design(name)
    laid = made.strategy.loop.gain
    assert all(calm(loop_margins(bench, laid)) for bench in lags_tried(made.bench).values())
    assert laid <= made.site.control.gain


def test_the_ducts_own_gain_is_told_with_its_margin_and_the_one_in_its_place_is_entered():
    made = design("Mill Street Offices")
    (told,) = [one for one in made.section("tuning").findings if one.what.startswith("The site file's gain")]
    assert told.figure.startswith("0.6 %/%: gain margin 1.4")
    assert line(made, "loop", "gain").value.startswith("0.27 % of full speed")
    assert state_of(line(made, "loop", "gain")) == "attention"


def test_a_loop_that_no_share_of_the_gain_calms_is_left_as_it_is_and_told():
    site = design("Mill Street Offices").site.with_changes(control={"integral_time_s": 0.05, "gain": 20.0})
    made = PlantDesign(site)
    assert safe_gain(made.bench) is None
    assert made.strategy.loop.gain == 20.0
    assert any(one.severity == "wrong" for one in made.section("tuning").findings)
    assert line(made, "loop", "gain").value.startswith("FAIL: 20")


@pytest.mark.parametrize("name", NAMES)
def test_alarms_are_quiet_in_every_case_that_is_held(name):
    bench = design(name).bench
    low, high, apart = alarm_ends(bench)
    seen = bench.held.tubes_pa[bench.settled & (bench.held.state == "held")]
    assert low is None or (seen > low).all()
    assert (seen < high).all()
    assert np.ptp(seen, axis=1).max() < apart


def test_a_weak_fan_fails_in_what_the_loop_holds_and_at_the_highest_speed():
    site = design("Mill Street Offices").site
    weak = PlantDesign(site.with_changes(fan={"pressures_pa": tuple(0.5 * pressure for pressure in site.fan.pressures_pa)}))
    table = weak.section("held").tables[0]
    states = dict(zip((row[0] for row in table.rows), table.states, strict=True))
    assert states["peak"] == "wrong"
    assert next(row for row in table.rows if row[0] == "peak")[1] == "at full speed"
    assert any(line.startswith("FAIL") for line in weak.fails())
    assert weak.record().board.check[0].status == "wrong"


def test_another_rule_and_set_point_are_judged_in_place_of_the_files():
    garage = read_any_site(demo_sites(None)["Orchard Garage"])
    made = PlantDesign(garage, rule="lowest", set_point="30 ppm", units="in. w.c.")
    assert (made.site.control.rule, made.site.control.set_point_ppm) == ("lowest", 30.0)
    rules = made.section("rule").tables[0]
    assert rules.states[[row[0] for row in rules.rows].index("lowest, the site's own")] == "wrong"


def test_inches_have_no_pascals():
    made = PlantDesign(design("Mill Street Offices").site, units="in. w.c.")
    for key in ("held", "rule", "range", "signal", "failure"):
        assert " Pa" not in repr(made.section(key).verdict) + repr(made.section(key).tables)


def test_a_stair_has_a_design_of_its_own_kind_and_a_plant_of_its():
    stair = read_any_site(demo_sites()["Tannery Row"])
    assert type(design_of(stair)).__name__ == "Design"
    assert type(design_of(design("Quayside Lab").site)).__name__ == "PlantDesign"
    with pytest.raises(ValueError, match="site must be a duct, a building with a relief fan or a garage; got Site"):
        PlantDesign(stair)
