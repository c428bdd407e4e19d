"""How quickly a site's fan may be slowed without a brake, with the box of its inertia."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from helpers.formulas import fan
from helpers.model.air.conditions import Conditions
from helpers.model.air.fan import fan_points
from helpers.model.air.tower import Tower
from helpers.model.loop.controller import shortest_ramp_down
from helpers.model.loop.ramps import ramp_loads
from helpers.model.loop.run import Setup, run_loop, settings_of
from helpers.model.site.file import demo_sites, read_site
from helpers.model.site.tolerances import filled_in
from helpers.record.settings.schedule import settings_schedule
from helpers.record.standing import RAMP, TUNING, Standing
from helpers.studies.status import word_of
from helpers.studies.tuning.candidate import SlowPart
from helpers.studies.tuning.findings import findings_of, ramp_findings
from helpers.studies.tuning.results import TuningStudy
from helpers.studies.tuning.times_said import not_followed_said
from helpers.units.said import written_out

LARKFIELD = read_site(demo_sites()["Larkfield House"])
BARE = LARKFIELD.with_changes(fan={"brake": "none"})
SHUT = Conditions.joined(Conditions.of(LARKFIELD, weather) for weather in LARKFIELD.weather)


def test_without_a_brake_the_ramp_of_larkfield_house_is_far_too_short():
    found = shortest_ramp_down(Tower(BARE), SHUT)
    assert found.safe is False
    assert found.shortest_s.low == found.shortest_s.high > 4 * found.own_s  # the inertia is stated as one figure
    (told,) = (said for said in found.sentences if "or longer" in said)
    assert "The site has 6 s." in told
    assert int(told.partition("must be ")[2].partition(" s")[0]) >= found.shortest_s.high  # never rounded down


def test_at_the_shortest_ramp_the_air_takes_all_that_the_wheel_gives_back():
    tower = Tower(BARE)
    found = shortest_ramp_down(tower, SHUT, from_hz=45.0, to_hz=25.0)
    for hz in (25.0, 31.0, 45.0):
        taken = fan_points(tower, tower.solve(SHUT, hz), SHUT)[2].min()
        turning, full = fan.angular_speed(hz, 4), fan.angular_speed(50.0, 4)
        assert 1.5 * turning * full / found.shortest_s.high <= taken * 1.001
    assert found.decided_at_hz == pytest.approx(25.0)
    assert found.given_back_j.likely == pytest.approx(fan.kinetic_energy(1.5, fan.angular_speed(45.0, 4), fan.angular_speed(25.0, 4)))


def test_a_run_with_the_shortest_ramp_never_coasts():
    found = shortest_ramp_down(Tower(BARE), SHUT, to_hz=20.0)
    settings = replace(settings_of(BARE), set_point_pa=15.0, gain=2.0, integral_s=2.0)
    site = BARE.with_changes(fan={"ramp_down_s": found.shortest_s.high * 1.01})
    braked = site.with_changes(fan={"brake": "resistor"})
    runs = [run_loop(Tower(s), SHUT.rows([0]), Setup(60.0, settings=settings, start_hz=45.0)) for s in (site, braked)]
    falls = runs[0].speed_hz[:, 0] > 21.0
    assert np.allclose(runs[0].speed_hz[falls], runs[1].speed_hz[falls], atol=0.7)


def test_an_inertia_that_nobody_states_counts_at_its_high_end_and_is_told():
    silent = LARKFIELD.with_changes(fan={"brake": None, "inertia_kg_m2": None})
    found = shortest_ramp_down(Tower(silent), SHUT)
    assert found.shortest_s.low < found.shortest_s.likely < found.shortest_s.high
    assert found.shortest_s.high == pytest.approx(found.shortest_s.low * 6.5)
    assert any("No brake is stated" in said for said in found.sentences)
    assert any("inertia of wheel and motor is not stated: common practice, no source" in said for said in found.sentences)


def test_with_a_resistor_the_shortest_is_not_known_and_told():
    found = shortest_ramp_down(Tower(LARKFIELD), SHUT)
    assert found.safe is None
    assert any("not known here: its rating" in said for said in found.sentences)
    assert not any("or longer" in said for said in found.sentences)


def test_a_long_enough_ramp_is_safe_over_the_whole_box():
    long = BARE.with_changes(fan={"ramp_down_s": 200.0, "inertia_kg_m2": (0.5, 1.5, 3.0)})
    found = shortest_ramp_down(Tower(long), SHUT)
    assert found.safe
    assert not any("The site has" in said for said in found.sentences)


def test_limits_in_smoke_control_are_the_ends_of_the_ramp():
    found = shortest_ramp_down(Tower(BARE.with_changes(fan={"smoke_lowest_speed_hz": 30.0, "smoke_highest_speed_hz": 40.0})), SHUT)
    assert (found.from_hz, found.to_hz) == (40.0, 30.0)


def test_a_ramp_that_does_not_go_down_is_refused():
    with pytest.raises(ValueError, match="from_hz must be above to_hz, got 20 and 30"):
        shortest_ramp_down(Tower(BARE), SHUT, 20.0, 30.0)


@pytest.mark.parametrize(
    "changes",
    [
        {"fan": {"flows_m3_s": tuple(0.2 * flow for flow in BARE.fan.flows_m3_s), "duct_loss_flow_m3_s": 1.0}},
        {"fan": {"effect": "exhaust"}, "control": {"set_point_pa": 2.0, "action": "direct"}},
        {"fan": {"highest_speed_hz": 60.0}},
        {"altitude_m": 1600.0},
        {"stair": {"relief": None}, "control": {"set_point_pa": 110.0}},
    ],
    ids=["a fan far too weak", "an exhaust fan", "sixty hertz", "thin air", "too much asked"],
)
def test_on_a_wrong_site_the_shortest_ramp_is_a_finite_figure_and_never_short(changes):
    site = BARE.with_changes(**changes)
    found = shortest_ramp_down(Tower(site), SHUT)
    assert 5.0 < found.shortest_s.high < 3600.0
    assert found.from_hz > found.to_hz
    assert found.sentences


TANNERY = read_site(demo_sites()["Tannery Row"]).with_changes(fan={"smoke_highest_speed_hz": 50.0})
IN_06 = TANNERY.with_changes(fan={"ramp_s": 0.6, "ramp_down_s": 0.6})
# Of its coldest weather, at its altitude, over standard air; U.S. Standard Atmosphere and the ideal gas, by hand (from memory).
COLD = 101325 * (1 - 2.25577e-5 * TANNERY.altitude_m) ** 5.2559 / 287.05 / (273.15 + TANNERY.weather["winter"].outdoor_c) / 1.2


def test_a_ramp_of_0_6_s_is_more_than_motor_and_resistor_of_tannery_row_are_for():
    # By hand: 1450 rpm is 151.8 rad/s; 0.4 * 151.8 / 0.6 = 101 N m beside 2200 / 151.8 = 14.5 N m;
    # 101 * 151.8 = 15.4 kW, 0.4 * 151.8^2 / 2 = 4.6 kJ.
    loads = ramp_loads(IN_06)
    assert loads.wheel_nm.likely == pytest.approx(101, abs=0.5)
    assert loads.rated_nm == pytest.approx(14.5, abs=0.05)
    assert loads.air_nm == pytest.approx(2.5 * 293 / 0.6 / 151.8 * COLD, rel=3e-3)
    assert (loads.back_w.likely, loads.back_j.likely) == pytest.approx((15.4e3, 4.61e3), rel=5e-3)
    assert (loads.up_state, loads.down_state) == ("wrong", "attention")
    assert written_out(loads.down_said) == "the resistor takes at the most 15.4 kW, 4.6 kJ in 0.6 s: its size off the drive's data sheet"


def test_the_usual_ramp_of_tannery_row_is_borne_and_one_past_the_short_torque_of_its_motor_is_never_only_looked_at():
    loads = ramp_loads(TANNERY)
    assert (loads.up_state, loads.down_state) == ("good", "good")
    ramps = (
        ({"ramp_s": 5.0}, "good"),
        ({"ramp_s": 4.2}, "wrong"),
        ({"ramp_s": 2.0}, "wrong"),
        ({"ramp_s": 0.0, "inertia_kg_m2": None}, "wrong"),
    )
    for changes, state in ramps:
        assert ramp_loads(TANNERY.with_changes(fan=changes)).up_state == state


def test_of_an_inertia_that_nobody_states_the_heavy_wheel_is_asked_about_and_the_light_one_alone_fails():
    loads = ramp_loads(TANNERY.with_changes(fan={"inertia_kg_m2": None}))
    assert loads.up_state == "attention"
    assert "inertia not stated: common practice, no source" in loads.up_said


def test_above_the_motors_own_speed_it_gives_its_power_and_a_fan_too_large_for_it_never_comes_up():
    fast = TANNERY.with_changes(fan={"highest_speed_hz": 100.0, "smoke_highest_speed_hz": 100.0})
    loads = ramp_loads(fast)
    assert loads.rated_nm == pytest.approx(14.49 / 2, rel=1e-3)
    assert loads.least_s.low == loads.enough_s.low == np.inf
    assert loads.up_state == "wrong"


def test_the_air_is_the_densest_that_the_fan_moves_and_said():
    assert 1.05 < COLD < 1.15
    cold = ramp_loads(TANNERY.with_changes(weather={"mild": {"outdoor_c": -30.0}}))
    assert cold.air_nm > 1.08 * ramp_loads(TANNERY).air_nm
    assert "outdoors in mild" in written_out(cold.up_said)
    high = ramp_loads(TANNERY.with_changes(altitude_m=2000.0))
    assert high.air_nm < 0.82 * ramp_loads(TANNERY).air_nm
    taps = [{"range_low_pa": -125.0, "range_high_pa": 0.0}] * 2
    exhaust = TANNERY.with_changes(
        fan={"effect": "exhaust"}, transmitters=taps, stair={"relief": None}, control={"set_point_pa": -35.0, "action": "direct"}
    )
    assert "of the stair in " in written_out(ramp_loads(exhaust).up_said)
    assert ramp_loads(exhaust).air_kg_m3 < 1.25


PLATE = {"brake_short_power_w": 16e3, "brake_short_time_s": 1.0}


@pytest.mark.parametrize(
    ("plate", "state"),
    [
        ({}, "attention"),  # 15.4 kW and 4.6 kJ against the motor's 2.2 kW
        ({"brake_power_w": 500.0}, "attention"),  # what it bears for so short a time is not known
        ({"brake_power_w": 16e3}, "good"),
        (PLATE, "good"),
        (PLATE | {"brake_power_w": 500.0}, "good"),
        (PLATE | {"brake_short_power_w": 15e3}, "wrong"),
        (PLATE | {"brake_short_time_s": 0.2}, "wrong"),  # 3.2 kJ
        (PLATE | {"inertia_kg_m2": (0.2, 0.4, 0.8)}, "attention"),
    ],
)
def test_the_brake_resistor_is_held_against_its_own_plate_where_that_is_stated(plate, state):
    loads = ramp_loads(IN_06.with_changes(fan=plate))
    assert loads.down_state == state
    if plate:
        assert "its plate says " in written_out(loads.down_said)
    told = [sentence for sentence in filled_in(IN_06.with_changes(fan=plate)) if sentence.startswith("Size of the brake resistor")]
    assert bool(told) == (not plate)


def test_the_schedule_shows_what_the_plate_says():
    rows = {line.name: line.value for line in written_out(settings_schedule(IN_06.with_changes(fan=PLATE)))}
    assert rows["brake"] == "brake resistor, its plate says 16.0 kW for 1 s"


def test_a_resistor_that_is_past_its_plate_is_told_to_fail():
    (small,) = (one for one in ramp_findings(IN_06.with_changes(fan=PLATE | {"brake_short_power_w": 15e3})) if "resistor" in one.what)
    assert (small.severity, small.what) == ("wrong", "The brake resistor has to take more than its plate bears")
    assert ("fan", "brake") in small.settings


def test_a_plate_without_a_resistor_or_half_a_plate_is_refused():
    for changes, said in (
        ({"brake": "none", "brake_power_w": 500.0}, 'brake must be "resistor"'),
        ({"brake_short_power_w": 5e3}, "is missing: a resistor bears its short-time power for a time"),
        (PLATE | {"brake_power_w": 20e3}, "must be at least brake_power"),
    ):
        with pytest.raises(ValueError, match=said):
            TANNERY.with_changes(fan=changes)


# The motor cannot follow it to the top; and one that the lightest wheel of the box bears, and the heaviest does not.
PAST_TOP = TANNERY.with_changes(fan={"ramp_s": 4.2})
NEAR_TOP = TANNERY.with_changes(fan={"ramp_s": 5.0, "inertia_kg_m2": (0.3, 0.4, 0.5)})


def test_the_ramps_are_judged_where_no_tuning_can_help_too():
    barred = SimpleNamespace(cannot="it runs away", bench=SimpleNamespace(site=IN_06), ramp_down=None)
    assert [one.what for one in findings_of(barred)][1:] == [one.what for one in ramp_findings(IN_06)]


@pytest.mark.parametrize(("site", "state"), [(TANNERY, "good"), (NEAR_TOP, "attention"), (PAST_TOP, "wrong"), (IN_06, "wrong")])
def test_schedule_and_finding_of_a_ramp_carry_the_same_mark(site, state):
    (line,) = (one for one in settings_schedule(site) if one.name == "ramp up")
    found = [one.severity for one in ramp_findings(site) if ("fan", "ramp up") in one.settings]
    assert found == [state] * (state != "good")
    assert [word for word in ("CHECK", "FAIL") if word in line.why] == [word_of(one) for one in found]


def test_a_tuning_hangs_on_a_ramp_that_the_motor_follows_and_the_ramp_offered_is_told_as_not_tried_where_no_tuning_study_is():
    first = [
        Standing(SimpleNamespace(site=site, out_of_mode="", window=None, tuned=None)).ramp_stands
        for site in (TANNERY, NEAR_TOP, PAST_TOP, IN_06)
    ]
    assert first == [True, True, False, False]
    assert [not_followed_said(site) != "" for site in (TANNERY, NEAR_TOP, PAST_TOP, IN_06)] == [False, False, True, True]
    assert all(RAMP in line.rests_on for line in settings_schedule(TANNERY) if TUNING in line.rests_on)
    (up,) = (one for one in ramp_findings(IN_06) if "ramp up" in one.what)
    assert "no tuning study of this loop to try it in" in up.remedy
    assert written_out(up.figure).startswith("0.6 s asks for 110.")
    assert " rated, 759 % " in written_out(up.figure)  # 101 N m and 9 N m of the air of 14.5 N m


def test_a_part_that_nobody_could_shorten_is_not_told_as_tried():
    ramp = SlowPart("ramp of the drive", 54.0, None, None)
    study = SimpleNamespace(
        slow=(ramp,), slow_mended=False, together=None, short_said="short", recommended=None, _mended_by=lambda _: False
    )
    study.own = SimpleNamespace(doors=SimpleNamespace(slowest_s=30.0))
    for said in (TuningStudy.slow_remedy(study), TuningStudy.slow_said(study)):
        assert "motor or brake" in said
        assert "shortened does not" not in said
        assert "Whichever" not in said


@pytest.mark.parametrize(("down_s", "state"), [(6.0, "good"), (0.6, "wrong")])
def test_a_ramp_down_asks_for_the_motors_torque_whatever_the_resistor_bears(down_s, state):
    """By hand: J dw/dt; the resistor takes the power, the motor has to give the torque, near standstill without the air's help."""
    site = TANNERY.with_changes(fan={"brake": "resistor", "ramp_down_s": down_s, "brake_power_w": 60e3, "inertia_kg_m2": 0.4})
    loads = ramp_loads(site)
    assert loads.held_nm[1] == pytest.approx(0.4 * fan.angular_speed(50.0, site.fan.motor_poles) / down_s)
    assert (loads.down_state, loads.held_state) == ("good", state)
    found = [one.severity for one in ramp_findings(site) if "hold the wheel" in one.what]
    assert found == ([state] if state != "good" else [])
