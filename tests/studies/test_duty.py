"""Fan duty: points on the catalogue curve, powers by hand, full speed, the motor."""

import re
from dataclasses import replace

import numpy as np
import pytest
from demo_designs import design_for, site_of

from helpers.formulas import air, fan
from helpers.model.air.tower import Tower
from helpers.record.summary import _damper_said
from helpers.studies.cases import Case, cases_text, conditions_of, usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.fan_duty import fan_duty
from helpers.studies.duty.full_speed import WALLS_TRIED, full_speed
from helpers.studies.readings.rules import compare_rules
from helpers.studies.status import one_line
from helpers.units.said import written_out


def studied(site, rule="average"):
    tower, window, cases = Tower(site), pressure_window(site), usual_cases(site)
    return tower, fan_duty(tower, window, compare_rules(tower, window, cases), rule)


@pytest.fixture(scope="module")
def plain(stair):
    return studied(stair())


def outdoor_density(tower, duty):
    return air.density(conditions_of(tower.site, duty.cases).outdoor_c, tower.pressure_pa)


def test_duty_points_lie_on_the_catalogue_curve_at_their_speed_and_air(plain):
    tower, duty = plain
    curve, ratio = tower.site.fan, duty.speed_hz / 50.0
    catalogue = fan.pressure_at_flow(duty.flow_m3_s, curve.flows_m3_s, curve.pressures_pa, ratio)
    np.testing.assert_allclose(duty.pressure_pa, catalogue * outdoor_density(tower, duty) / 1.2, rtol=2e-3)


def test_power_is_flow_times_pressure_over_the_efficiencies(plain):
    _, duty = plain
    np.testing.assert_allclose(duty.shaft_power_w, duty.flow_m3_s * duty.pressure_pa / 0.6)
    np.testing.assert_allclose(duty.electric_power_w, duty.shaft_power_w / (0.9 * 0.95))


def test_at_the_lowest_speed_the_fan_without_flow_just_makes_the_stairs_pressure(plain):
    tower, duty = plain
    comparison = compare_rules(tower, pressure_window(tower.site), duty.cases)
    outlet = comparison["average"].held.air.stair_pa[:, -1]
    made = 600.0 * (duty.shutoff_speed_hz / 50.0) ** 2 * outdoor_density(tower, duty) / 1.2
    np.testing.assert_allclose(made, outlet, rtol=1e-6)
    assert (duty.shutoff_speed_hz < duty.speed_hz).all()


def test_several_outlets_share_the_flow_and_the_power(northgate):
    tower, duty = studied(northgate, "middle")
    assert len(northgate.supplies) > 1
    held = compare_rules(tower, pressure_window(northgate), duty.cases, rules=["middle"]).results[0].held.air
    np.testing.assert_allclose(duty.flow_m3_s, np.maximum(held.supply_flow_m3_s, 0).sum(axis=1), rtol=1e-6)
    np.testing.assert_allclose(duty.shaft_power_w, duty.flow_m3_s * duty.pressure_pa / northgate.fan.efficiency)


def test_full_speed_gives_more_flow_and_pressure_than_any_duty(plain):
    _, duty = plain
    assert (duty.full_flow_m3_s > duty.flow_m3_s).all()
    assert (duty.full_reading_pa > 40.0).all()
    assert (duty.speed_margin > 0).all()


def test_the_design_case_is_the_largest_flow_that_is_held(larkfield):
    _, duty = studied(larkfield, larkfield.control.rule)
    held = duty.state == "held"
    assert duty.state[duty.design] == "held"
    assert duty.flow_m3_s[duty.design] == duty.flow_m3_s[held].max()
    assert duty.lowest_speed_hz == duty.shutoff_speed_hz[held].max()


def test_a_motor_too_small_for_full_speed_is_a_wrong_design(stair, plain):
    _, duty = studied(stair(fan={"motor_power_w": 500.0}))
    assert duty.motor_load > 1
    assert "too small" in duty.verdict()
    assert any(finding.severity == "wrong" and "motor" in finding.what for finding in duty.findings())
    _, large = plain
    assert large.motor_load < 1
    assert not any(finding.severity == "wrong" and "motor" in finding.what for finding in large.findings())


def test_a_fan_that_cannot_hold_is_wrong_with_doors_shut(stair):
    _, duty = studied(stair(fan={"flows_m3_s": (0.0, 0.2, 0.4), "duct_loss_pa": 0.0}))
    findings = [finding for finding in written_out(tuple(duty.findings())) if "cannot hold the set point" in finding.what]
    assert {finding.severity for finding in findings} == {"wrong"}  # no design states which open doors count, so all do
    stated = stair(fan={"flows_m3_s": (0.0, 0.2, 0.4), "duct_loss_pa": 0.0}, design={"open_doors": (1,)})
    severities = {finding.severity for finding in written_out(studied(stated)[1].findings()) if "cannot hold the set point" in finding.what}
    assert severities == {"wrong", "attention"}  # doors shut; doors that the design does not take as open
    assert "set point 40 Pa" in findings[0].figure


def test_a_drive_that_cannot_go_slow_enough_is_wrong(stair):
    _, duty = studied(stair(fan={"lowest_speed_hz": 45.0}))
    assert any("cannot go slow enough" in finding.what for finding in duty.findings())


def test_a_lowest_speed_too_high_is_mended_by_a_lower_one_and_no_fan_is_bought(stair):
    _, duty = studied(stair(fan={"lowest_speed_hz": 45.0}))
    (found,) = (one for one in duty.findings() if one.what.startswith("Too large"))
    lower = re.search(r"a lowest speed of (\d+) Hz or less", found.remedy)
    assert lower
    said = duty.needed.said()
    assert lower[0] in said
    assert not re.search("ask for|buy", f"{said} {found.remedy} {duty.motor_said()}")
    for off, held in ((0.0, True), (1.0, False)):  # at the speed that is named it holds, and 1 Hz above it some case is not held
        _, slower = studied(stair(fan={"lowest_speed_hz": float(lower[1]) + off}))
        assert slower.holds == held


def test_where_too_much_air_comes_from_elsewhere_no_lowest_speed_is_named(stair):
    _, duty = studied(stair(fan={"lowest_speed_hz": 45.0}))
    assert "no speed of this fan helps" in replace(duty.needed, held_hz=0 * duty.needed.held_hz).slower


def test_little_speed_left_is_pointed_out(stair, plain):
    _, duty = plain
    shut = [case.shut for case in duty.cases]
    tight = stair(fan={"highest_speed_hz": 1.02 * float(duty.speed_hz[shut].max())})
    assert any("Little speed left" in finding.what for finding in studied(tight)[1].findings())


def test_doors_that_full_speed_would_jam_are_a_fail_and_the_speed_at_which_none_does_is_told(stair, plain):
    _, strong = plain
    assert strong.full.jams
    (finding,) = [finding for finding in strong.findings() if "At full speed a door is too heavy to open" in finding.what]
    assert finding.severity == "wrong"
    case = strong.full.cases[strong.full.worst]
    for said in (strong.full.door[strong.full.worst], case.weather, "first minute" if case.stair == "first minute" else ""):
        assert said in written_out(one_line(finding))  # a figure at full speed is of one door, one weather, one moment
    assert f"highest speed of {strong.full.safe_hz:.1f} Hz" in finding.remedy
    _, limited = studied(stair(fan={"highest_speed_hz": strong.full.safe_hz}))
    assert not limited.full.jams
    assert not any("At full speed a door is" in finding.what for finding in limited.findings())


def test_at_the_highest_safe_speed_no_door_is_past_its_limit_and_a_little_faster_one_is(stair, plain):
    tower, duty = plain
    most = pressure_window(tower.site).by_storey(tower.levels, "stair door")[1]
    shut = conditions_of(tower.site, [case for case in duty.cases if case.shut])
    rooms = []
    for hz in (duty.full.safe_hz, duty.full.safe_hz + 0.1):
        room = []
        for walls in WALLS_TRIED:
            tried = shut.rows(slice(None))
            tried.leak_factor = tried.leak_factor * walls
            room.append((most - tower.solve(tried, hz).door_dp_pa).min())
        rooms.append(min(room))
    assert rooms[0] >= 0 > rooms[1] - 0.3  # a tenth of a hertz is some 0.3 Pa here
    assert rooms[1] < rooms[0]


def test_a_highest_speed_for_smoke_control_is_what_full_speed_means(stair, plain):
    _, strong = plain
    _, limited = studied(stair(fan={"smoke_highest_speed_hz": strong.full.safe_hz}))
    assert limited.full.full_hz == strong.full.safe_hz
    (finding,) = [finding for finding in limited.findings() if "highest speed stated for smoke control" in finding.what]
    assert finding.severity == "good"
    assert limited.motor_load == pytest.approx(strong.motor_load)  # the drive can still run the fan to its own highest speed


def test_cases_that_the_highest_safe_speed_no_longer_holds_are_named(larkfield):
    _, duty = studied(larkfield, larkfield.control.rule)
    (finding,) = [finding for finding in duty.findings() if "At full speed a door is" in finding.what]
    lost = [case for case, hz, _ in duty.needed.asked if hz > duty.full.safe_hz]
    assert lost
    assert cases_text(lost) in finding.remedy
    assert "a highest speed alone does not help" in finding.remedy


def test_a_highest_speed_that_loses_a_required_case_with_a_door_open_is_no_remedy():
    """The design's own door open is among the cases of the fan and not among those compared."""
    duty = design_for(site_of("Tannery Row").with_changes(stair={"relief": None})).stated_duty
    opened = {case: hz for case, hz, _ in duty.needed.asked if not case.shut}
    assert not set(opened) & set(duty.cases)
    assert duty.full.closes_hz < max(opened.values())
    assert duty.full.lost(duty.full.closes_hz)
    remedies = {finding.what: finding.remedy for finding in duty.full.findings() if finding.severity == "wrong"}
    ajar, heavy = (next(remedy for what, remedy in remedies.items() if word in what) for word in ("final exit", "too heavy"))
    assert ajar.startswith(f"{duty.full.closes_hz:.1f} Hz would let it close, but then not held: winter, stair door 2 open")
    # No door is past its limit at a speed that holds all, and yet a final exit stays ajar there: that speed is no remedy either.
    assert max(opened.values()) <= duty.full.safe_hz < duty.needed.margin_hz[duty.needed.required].max()
    assert duty.full.cap_hz is None
    assert heavy.startswith("a highest speed alone does not help: at ")
    assert f"a final exit once opened would not close again, and {ajar.split(';')[0]}" in heavy
    assert duty.said().startswith("No fan is to be kept or bought yet")  # no highest speed of it may be entered


def test_a_highest_speed_is_told_low_enough_for_doors_and_final_exits_at_once(plain):
    full = plain[1].full
    for safe, closes, cap in ((40.0, np.inf, 40.0), (40.0, 35.0, 35.0), (35.0, 40.0, 35.0), (np.nan, 35.0, None), (40.0, np.nan, None)):
        one = replace(full, safe_hz=safe, closing_hz=closes, asked=((plain[1].cases[0], 20.0, 20.0),))
        assert one.cap_hz == cap
        if cap:
            assert one.cure() == one.closing_cure(closes if closes < np.inf else safe)
            assert one.cure().startswith(f"a highest speed of {cap:.1f} Hz in smoke control (tried in")
        else:
            assert "a highest speed of" not in one.cure()


def test_each_door_is_compared_with_what_it_bears_itself(stair, a_door):
    heavy = a_door(closer_force_n=100.0)
    _, duty = studied(stair(doors={"heavy": heavy}, storeys=[{"stair_door": "heavy"}, *[{}] * 5]))
    assert duty.full.limit_pa[0] < 92.0 * 0.5  # the bottom door, and not the governing one of another storey, is worst off
    assert duty.full.door[0] == "stair door 0"


def test_a_relief_damper_is_named_for_full_speed_only_where_it_holds_every_door(stair, larkfield):
    low = stair(3, weather={"winter": {"outdoor_c": 10.0}}, fan={"highest_speed_hz": 35.0})
    full = studied(low)[1].full
    assert full.jams
    assert full.damper.holds
    assert "a relief damper of" in full.other_cure()
    tall = studied(larkfield, larkfield.control.rule)[1].full
    assert tall.jams
    assert not tall.damper.holds
    assert "no relief damper tried holds every door" in tall.other_cure()


def test_the_motors_power_names_its_speed_where_smoke_control_stops_before_the_drives_highest(stair, plain):
    _, limited = studied(stair(fan={"smoke_highest_speed_hz": 46.0}))
    assert "At the drive's own highest speed of 50 Hz (full speed in smoke control is 46 Hz) the shaft takes up to " in limited.verdict()
    assert "At full speed, 50 Hz, the shaft takes up to " in plain[1].verdict()


def test_a_fan_that_holds_at_a_set_point_that_fails_is_no_pass(plain):
    needed = plain[1].needed
    assert needed.with_margins[needed.required].all()
    (passes, *_), (waits, *_) = (list(needed.findings(inside=inside)) for inside in (True, False))
    assert (passes.severity, waits.severity) == ("good", "open")
    assert waits.what == "No fan is laid down: first the set point"


def test_what_is_told_for_full_speed_of_a_fan_that_takes_air_out_is_what_helps_it(larkfield):
    """A relief damper lets no air in, and no closer bears some 200 Pa of suction: only less of it helps, at that speed."""
    taps = [{"range_low_pa": -125.0, "range_high_pa": 125.0}] * 2
    out = larkfield.with_changes(fan={"effect": "exhaust"}, control={"set_point_pa": -20.0, "action": "direct"}, transmitters=taps)
    tower, window = Tower(out), pressure_window(out)
    full = full_speed(tower, window, [Case("winter, doors shut", "winter")], np.array([np.inf]), -20.0)
    (finding,) = [one for one in full.findings() if one.what.startswith("At full speed")]
    assert finding.severity == "wrong"
    for told in (finding.remedy, _damper_said(full, "A relief damper would do")):
        assert "smaller fan, or outdoor air let in" in told
        assert "closer" not in told
        assert "relief damper" not in told
