"""The record of a plant other than a stair: what it lays down is judged on the plant's own bench, and stands in its schedule."""

from functools import cache

import numpy as np
import pytest

from helpers.model.plants.kinds import read_any_site
from helpers.model.site.file import demo_sites
from helpers.record.board import state_of
from helpers.record.plants.design import PlantDesign, design_of
from helpers.record.plants.laid import alarm_ends, fallback_speed_hz, lags_tried, safe_gain
from helpers.record.review.loop import calm, loop_margins

NAMES = ("Mill Street Offices", "Quayside Lab", "Orchard Garage")


@cache
def design(name):
    return PlantDesign(read_any_site(demo_sites(None)[name]))


def line(made, group, name):
    return next(one for one in made.lines if (one.group, one.name) == (group, name))


@pytest.mark.parametrize("name", NAMES)
def test_the_fallback_speed_suits_every_case_that_some_speed_holds_and_a_hertz_less_does_not(name):
    bench = design(name).bench
    speed = fallback_speed_hz(bench)
    judged, step = bench.judged, 1.0
    assert bench.inside(bench.at_speed(speed))[judged].all()
    low, _ = bench.speed_limits_hz
    assert speed - step < low or not bench.inside(bench.at_speed(speed - step))[judged].all()


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
