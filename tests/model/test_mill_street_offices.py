"""A supply duct with two branches: the lowest reading runs the fan, boxes open and shut, the fan stops at night and looks again."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import action, combining, low_demand
from helpers.formulas import fan as fans
from helpers.model.loop.events import TapFault
from helpers.model.loop.results import energy_kwh, starts_per_hour
from helpers.model.plants.duct import Duct
from helpers.model.plants.kinds import SITE_KINDS, plant_of, read_any_site
from helpers.model.plants.pressure_plant import DuctConditions, Turn, run_plant, setup_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site_text, write_site

PATH = demo_sites("duct")["Mill Street Offices"]
TEXT = PATH.read_text(encoding="utf-8")
SITE = read_any_site(PATH)
MILL = plant_of(SITE)
FAR_NORTH, PLANT_ROOM, FAR_SOUTH = 0, 4, 9


def conditions(demand="day", **changes):
    return DuctConditions.of(SITE, demand, **changes)


def turn(at_s, demand, over_s=20.0):
    return Turn(at_s, {"opening": SITE.demand[demand].opening}, over_s)


# ------------------------------------------------------------------------------------------------------------------ the site file


def test_the_offices_read_and_write_and_read_equal():
    assert (SITE.name, SITE.invented, SITE.control.fire_mode) == ("Mill Street Offices", True, False)
    assert read_site_text(write_site(SITE), kinds=SITE_KINDS) == SITE


@pytest.mark.parametrize(
    ("right", "wrong", "place", "sentence"),
    [
        ('fan_section = "plant room"', 'fan_section = "roof"', "fan_section", "must be one of the sections ('north 4', 'north 3'"),
        ('section = "north 3" ', 'section = "east 3" ', "[[transmitters]] number 1, section", "got 'east 3'"),
        ('name = "north 3"', 'name = "north 9"', "[[transmitters]] number 1, section", "must be one of the sections ('north 4', 'north 9'"),
        ('loss = "40 Pa"', 'loss = "0 Pa"', "[[sections]] number 6, loss", "no duct brings air for nothing"),
        ('surface = "40 m2"', 'surface = "40 m2"\nloss = "9 Pa"', "[[sections]] number 5, loss", "must be left out where the fan blows in"),
        ('name = "south 5"', 'name = "south 1"', "[[sections]] number 6, name", "must differ from the other sections'"),
        ("opening = [0.55, ", "opening = [", "[demand.day] opening", "must hold one value for each of the 10 sections; got 9"),
        ("opening = [0.55, ", "opening = [1.5, ", "[demand.day] opening, value 1", "from 0 to 1"),
        ('pressure = "125 Pa"', 'pressure = "125 m"', "[boxes] pressure", "which is a length"),
        ('duct_class = "B"', 'duct_class = "E"', "duct_class", "must be one of 'A', 'B', 'C', 'D'; got 'E'"),
        ("fire_mode = false", "fire_mode = true", "[control] low_demand", "a fan in smoke control never stops for low demand"),
    ],
)
def test_a_slip_in_the_file_is_told_in_a_sentence(right, wrong, place, sentence):
    assert right in TEXT
    with pytest.raises(SiteFileError) as told:
        read_site_text(TEXT.replace(right, wrong, 1), "offices.toml", SITE_KINDS)
    assert any(place in line and sentence in line for line in str(told.value).splitlines()), str(told.value)


# ------------------------------------------------------------------------------------------------------------------ air at rest


@pytest.mark.parametrize("demand", SITE.demand)
def test_the_lowest_reading_is_held_in_every_demand(demand):
    held = MILL.hold(conditions(demand))
    assert held.held
    assert held.air.readings_pa.min() == pytest.approx(150.0, abs=1e-3)
    assert 100 < held.air.pressure_pa.min() < held.air.pressure_pa.max() < 400


def test_the_lowest_reading_serves_the_far_branch_and_average_and_highest_do_not():
    south = {rule: MILL.hold(conditions("peak"), rule=rule).air.pressure_pa[0, FAR_SOUTH] for rule in ("lowest", "average", "highest")}
    assert south["lowest"] > SITE.boxes.pressure_pa
    assert south["lowest"] > south["average"] > south["highest"]
    assert south["highest"] < SITE.boxes.pressure_pa


def test_who_is_worse_off_changes_with_the_sun():
    day, morning = (MILL.hold(conditions(demand)).air.readings_pa[0] for demand in ("day", "morning"))
    assert day.argmin() == 1
    assert morning.argmin() == 0


def test_pressure_falls_from_the_fan_to_both_far_ends():
    pressure = MILL.hold(conditions("peak")).air.pressure_pa[0]
    assert (np.diff(pressure[: PLANT_ROOM + 1]) > 0).all()
    assert (np.diff(pressure[PLANT_ROOM:]) < 0).all()


def test_what_the_fan_brings_leaves_by_boxes_and_seams_and_each_duct_costs_what_its_flow_asks():
    found = MILL.solve(conditions("day"), 40.0)
    pressure, opening = found.pressure_pa[0], np.array(SITE.demand["day"].opening)
    full = np.array([section.boxes_flow_m3_s for section in SITE.sections])
    share = opening + (1 - opening) * SITE.boxes.shut_leak
    thin = 1.2 / MILL.density  # flow through a box grows as air gets lighter
    boxes = full * share * np.sqrt(pressure / SITE.boxes.pressure_pa * thin)
    seams = [0.009e-3 * p**0.65 * section.surface_m2 for p, section in zip(pressure, SITE.sections, strict=True)]
    assert found.fan_flow_m3_s[0] == pytest.approx(boxes.sum() + np.sum(seams), rel=1e-6)
    for far, near in ((FAR_SOUTH, 8), (FAR_NORTH, 1)):
        brought, last = boxes[far] + seams[far], SITE.sections[far]
        assert pressure[near] - pressure[far] == pytest.approx(last.loss_pa * (brought / last.loss_flow_m3_s) ** 2 / thin, rel=1e-6)


def test_the_mains_pay_for_the_pressure_of_the_catalogue_at_that_flow_and_speed():
    found, fan = MILL.solve(conditions("day"), 40.0), SITE.fan
    flow = found.fan_flow_m3_s[0]
    pressure = fans.pressure_at_flow(flow, fan.flows_m3_s, fan.pressures_pa, speed_ratio=0.8) * MILL.density / 1.2
    wanted = flow * pressure / (fan.efficiency * fan.motor_efficiency * fan.drive_efficiency)
    assert found.power_w[0] == pytest.approx(wanted, rel=1e-3)
    assert MILL.hold(conditions("peak")).air.power_w[0] * fan.motor_efficiency * fan.drive_efficiency < fan.motor_power_w


def test_open_boxes_at_the_stated_pressure_pass_the_stated_flow():
    there = Duct(SITE.with_changes(transmitters=[{"section": "north 4"}]))
    held = there.hold(conditions(opening=np.eye(10)[FAR_NORTH]), set_point_pa=125.0 * MILL.density / 1.2)  # stated for air of 1.2 kg/m3
    pressure = held.air.pressure_pa[0]
    shut = [(number != FAR_NORTH) * section.boxes_flow_m3_s * SITE.boxes.shut_leak for number, section in enumerate(SITE.sections)]
    seams = [0.009e-3 * p**0.65 * section.surface_m2 for p, section in zip(pressure, SITE.sections, strict=True)]
    others = (shut * np.sqrt(pressure / 125.0 * 1.2 / MILL.density)).sum() + np.sum(seams)
    assert held.air.fan_flow_m3_s[0] - others == pytest.approx(0.9, rel=1e-5)


@settings(max_examples=15, derandomize=True, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=10, max_size=10), st.sampled_from(["lowest", "average", "highest"]))
def test_any_demand_finds_a_speed_and_more_opening_asks_for_no_less(opening, rule):
    less, more = conditions(opening=np.array(opening) / 2), conditions(opening=opening)
    held = MILL.hold(DuctConditions.joined([less, more]), rule=rule)
    assert held.air.converged.all()
    reading = combining.combine(held.air.readings_pa, rule)
    assert reading[held.held] == pytest.approx(150.0, abs=1e-3)
    assert held.air.speed_hz[1] >= held.air.speed_hz[0] - 1e-4


# ------------------------------------------------------------------------------------------------------------------ the loop in time


def test_the_loop_settles_and_follows_the_branch_that_is_worse_off():
    run = run_plant(MILL, conditions("day"), setup_of(MILL, 240.0, events=(turn(120.0, "morning"),)))
    for at, worst in ((119.0, 1), (239.0, 0)):
        k = np.searchsorted(run.time_s, at)
        assert run.reading_pa[k, 0] == pytest.approx(150.0, abs=1.5)
        assert run.tubes_pa[k, :, 0].argmin() == worst


def test_the_wrong_action_stays_at_the_end_stop_that_the_first_error_says():
    wrong = Duct(SITE.with_changes(control={"action": "direct"}))
    for start_hz, end_hz, stop in ((30.0, 10.0, "lowest speed"), (45.0, 50.0, "full speed")):
        run = run_plant(wrong, conditions("day"), setup_of(wrong, 120.0, start_hz=start_hz))
        first = action.error(150.0, run.reading_pa[0, 0], "direct")
        assert action.end_stop("direct", +1, first) == stop
        assert run.speed_hz[-1, 0] == pytest.approx(end_hz)


def test_a_dead_wire_of_a_signal_without_live_zero_runs_the_fan_to_full_speed():
    fault = TapFault(0, "open wire", at_s=60.0)
    dead = run_plant(MILL, conditions("day"), setup_of(MILL, 180.0, faults=(fault,)))
    assert dead.usable.all()
    assert dead.speed_hz[-1, 0] == pytest.approx(50.0)
    alive = Duct(SITE.with_changes(transmitters=[{"signal": "4-20 mA"}, {"signal": "4-20 mA"}]))
    told = run_plant(alive, conditions("day"), setup_of(alive, 180.0, faults=(fault,)))
    assert not told.usable[-1, 0, 0]
    assert told.tubes_pa[-1, 1, 0] == pytest.approx(150.0, abs=2.0)


# ------------------------------------------------------------------------------------------------------------------ low demand


def test_the_stop_threshold_lies_between_shut_boxes_and_the_lowest_duty():
    night, evening = (MILL.hold(conditions(demand)).air.speed_hz[0] for demand in ("night", "evening"))
    threshold = SITE.control.low_demand.stop_below_hz
    assert low_demand.VERDICTS[low_demand.verdict(threshold, night, evening, margin_hz=1.0)] == "right"
    # At night the fan stands a little above the speed of no flow at all: seams and shut boxes still take some air.
    assert 150.0 < MILL.curve.shutoff_pa * (night / 50) ** 2 * MILL.density / 1.2 < 153.0


def night_run(mill, length_s=3500.0, sample_s=2.0):
    turns = (turn(60.0, "night"), turn(2000.0, "morning", 60.0))
    return run_plant(mill, conditions("evening"), setup_of(mill, length_s, sample_s=sample_s, events=turns, start_hz=24.0))


def test_the_fan_stops_at_night_looks_stops_again_and_serves_the_morning():
    run = night_run(MILL)
    running = run.running[:, 0]
    changes = run.time_s[1:][running[1:] != running[:-1]]
    stop, look, stop_again, start = changes
    assert 60 + 300 <= stop <= 60 + 300 + 60
    assert look - stop == pytest.approx(1200, abs=30)
    assert 300 <= stop_again - look <= 420
    assert 2000 < start <= stop_again + 1230
    assert run.tubes_pa[np.searchsorted(run.time_s, stop + 60), :, 0].max() < 1.0
    assert run.reading_pa[-1, 0] == pytest.approx(150.0, abs=2.0)


def test_the_evening_before_does_not_stop_the_fan():
    run = run_plant(MILL, conditions("evening"), setup_of(MILL, 900.0, sample_s=2.0, start_hz=24.0))
    assert run.running.all()


def test_a_short_wait_starts_the_motor_more_often_than_it_bears_and_the_long_one_does_not():
    allowed = low_demand.starts_allowed(SITE.fan.motor_power_w).per_hour
    hasty = Duct(SITE.with_changes(control={"low_demand": {"restart_after_s": 5.0, "stop_after_s": 60.0}}))
    night = DuctConditions.of(SITE, "night")
    often = run_plant(hasty, night, setup_of(hasty, 900.0, sample_s=2.0))
    patient = run_plant(MILL, night, setup_of(MILL, 3200.0, sample_s=2.0))
    assert starts_per_hour(often)[0] > allowed
    assert starts_per_hour(patient)[0] < allowed
    rule = SITE.control.low_demand
    assert starts_per_hour(patient)[0] <= low_demand.fastest_cycles_per_hour(rule.stop_after_s, rule.restart_after_s) + 1


def test_the_stop_saves_energy_at_night():
    always = Duct(SITE.with_changes(control={"low_demand": None}))
    night = DuctConditions.of(SITE, "night")
    with_stop, without = (energy_kwh(run_plant(mill, night, setup_of(mill, 1500.0, sample_s=2.0))) for mill in (MILL, always))
    assert 0 < with_stop < 0.5 * without


def test_no_low_demand_stop_in_the_fire_mode():
    with pytest.raises(ValueError, match="low_demand must be off in smoke control"):
        run_plant(MILL, conditions("night"), setup_of(MILL, 60.0, fire_mode=True))


# ------------------------------------------------------------------------------------------------------------------ wrong input


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: conditions("lunch"), "demand must be one of day, peak, morning, evening, night; got 'lunch'"),
        (lambda: conditions(opening=np.ones(9)), "opening must hold one value for each of 10 places, got 9"),
        (lambda: conditions(opening=1.2), "opening must be from 0 to 1, got 1.2"),
        (lambda: conditions(outdoor_c=5.0), "changes must be among opening; got outdoor_c"),
        (lambda: run_plant(MILL, conditions(), setup_of(MILL, 60.0, events=(turn(70.0, "night"),))), "at_s must be from 0 to 60, got 70"),
        (
            lambda: run_plant(MILL, conditions(), setup_of(MILL, 60.0, hand=((30.0, 20.0, 50.0),))),
            "hand must be from a time to a later one",
        ),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
