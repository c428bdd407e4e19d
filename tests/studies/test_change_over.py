"""Duty and standby fan: two like fans against the closed form of a square-law duct and scipy's root on the network itself, the first wheel
against the closed form of coasting, forces by moments, and that a site without a second fan is asked nothing."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from demo_designs import low_rise, site_of
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from helpers.formulas.fan import angular_speed, coasting_time_constant
from helpers.model.air.fan import FanCurve, fan_points
from helpers.model.air.tower import Tower
from helpers.model.air.two_fans import SOLVED, TwoFans
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, read_site_text, write_site
from helpers.model.site.tolerances import boxes, filled_in
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.change_over.reckoned import change_over, played
from helpers.units.said import written_out

STANDBY = {"second_fan": {"duty": "standby", "noticed_s": 2.0, "damper_travel_s": 10.0, "damper_leak": 0.005}}
WITH_TWO = low_rise().with_changes(**STANDBY)
SHUT_OFF_PA, FALL, SYSTEM = 500.0, 20.0, 60.0  # p = 500 - 20 q2 of each fan, p = 60 Q2 of the duct
STILL = {"outdoor_c": 20.0, "wind_speed_m_s": 0.0, "stair_c": 20.0}


def square_law():
    """Two fans of one square law at 50 Hz on a duct of another, without a stair."""
    flow = np.linspace(0, 4, 200)
    one_hz = np.linspace(0.05, 100, SOLVED)
    alone = np.sqrt(SHUT_OFF_PA * (one_hz / 50) ** 2 / (SYSTEM + FALL))[:, None]
    fan = SimpleNamespace(reference_speed_hz=50.0)
    return TwoFans(one_hz, alone, SYSTEM * alone**2, np.ones(1), FanCurve.from_points(flow, SHUT_OFF_PA - FALL * flow**2), fan, None)


def found_of(site):
    return change_over(Tower(site), pressure_window(site), usual_cases(site))


@pytest.fixture(scope="module")
def found():
    return found_of(WITH_TWO)


def two_on(site):
    tower, cases = Tower(site), [case for case in usual_cases(site) if case.shut]
    conditions = conditions_of(site, cases)
    return tower, conditions, TwoFans.of(tower, conditions)


@pytest.mark.parametrize("hz", [20.0, 35.0, 50.0])
def test_two_equal_fans_on_a_square_law_are_one_at_the_speed_of_the_closed_form(hz):
    """Each brings half: p0 s2 - a (Q/2)2 = K Q2."""
    by_hand = hz * np.sqrt((SYSTEM + FALL) / (SYSTEM + FALL / 4))
    assert float(square_law().alike_hz(hz, hz)[0]) == pytest.approx(by_hand, rel=2e-3)
    assert float(square_law().alike_hz(hz, 0.0)[0]) == pytest.approx(hz, rel=2e-3)


def test_two_unlike_speeds_come_to_rest_where_scipy_finds_the_stair_itself_taking_what_both_bring():
    """The fan's curve by scipy, the stair solved anew at every guess: nothing of the sweep in it."""
    tower, conditions, two = two_on(WITH_TWO)
    row, fan = conditions.rows([0]), WITH_TWO.fan
    by_pressure = PchipInterpolator(fan.standard_pressures_pa[::-1], fan.flows_m3_s[::-1])
    first_hz, second_hz = 24.0, 22.0

    def left(one_hz):
        flow, pressure, _ = fan_points(tower, tower.solve(row, one_hz), row)
        ratios = first_hz / fan.reference_speed_hz, second_hz / fan.reference_speed_hz
        against = [min(pressure[0] / two.dense[0] / ratio**2, fan.standard_pressures_pa[0]) for ratio in ratios]
        return sum(float(by_pressure(one)) * ratio for one, ratio in zip(against, ratios, strict=True)) - flow[0]

    assert float(two.alike_hz(first_hz, second_hz)[0]) == pytest.approx(brentq(left, 22.0, 40.0, xtol=1e-3), rel=5e-3)


def test_a_damper_stuck_open_asks_for_what_goes_back_by_the_root_of_the_pressure():
    _, _, two = two_on(WITH_TWO)
    one_hz, leak = np.full(len(two.dense), 25.0), 0.5
    pressure, flow = two.at(two.pressure_pa, one_hz), two.at(two.flow_m3_s, one_hz)
    back = leak * WITH_TWO.fan.flows_m3_s[-1] * np.sqrt(pressure / two.dense / WITH_TWO.fan.standard_pressures_pa[0])
    needed = two.needed_hz(one_hz, leak)
    assert [float(two.brought(pressure, hz, 0.0)[place]) for place, hz in enumerate(needed)] == pytest.approx(flow + back, rel=0.01)
    assert two.alike_hz(needed, 0.0, 0.0, leak) == pytest.approx(one_hz, rel=0.01)


def test_until_the_second_fan_starts_the_first_wheel_coasts_by_the_closed_form_of_the_cube():
    """Without stack and wind, and with an idle fan that lets nothing back, as the same test of a loss of the mains."""
    still = {"weather": {"winter": STILL}, "temperatures": {"floor_c": 20.0, "stair_c": 20.0, "lift_c": 20.0, "lobby_c": 20.0}}
    site = site_of("Larkfield House").with_changes(**still, **STANDBY, fan={"inertia_kg_m2": 1.5}).with_changes(
        second_fan={"noticed_s": 10.0, "damper_leak": 0.0, "damper_travel_s": 0.0}
    )  # fmt: skip
    tower, conditions, two = two_on(site)
    known = {field.removeprefix("second_fan."): box for field, box in boxes(site).items()} | {
        "inertia_kg_m2": boxes(site)["fan.inertia_kg_m2"]
    }
    passed = played(two, np.full(len(conditions), 24.0), known, 50.0)
    power = float(fan_points(tower, tower.solve(conditions, 24.0), conditions)[2][0])
    tau = float(coasting_time_constant(1.5, angular_speed(24.0, site.fan.motor_poles), power))
    coasts = passed.time_s < 10.0
    assert coasts.sum() > 40
    assert passed.first_hz[coasts, 0, 0] == pytest.approx(24.0 / (1 + passed.time_s[coasts] / tau), rel=0.02)
    assert (passed.second_hz[coasts] == 0).all()


def test_the_clock_is_the_sum_of_notice_and_travel_and_pressure_is_back_within_the_ramp(found):
    assert (found.passed.starts_s == 2.0 + 10.0).all()
    ramp_s = WITH_TWO.fan.ramp_s * found.passed.second_hz.max() / WITH_TWO.fan.reference_speed_hz
    least, most = found.pressure_s
    assert 12.0 < least <= most <= 12.0 + ramp_s + 0.5
    assert 0 < found.short_s[0] < 12.0
    assert len(found.table().rows) == len(found.table().states)


def test_a_damper_that_opens_before_its_fan_turns_lets_the_pressure_fall_sooner_than_a_flap():
    """Both start after as long; what is open meanwhile is the way back through a wheel that stands."""
    motor = found_of(WITH_TWO.with_changes(second_fan={"noticed_s": 0.5, "damper_travel_s": 20.0, "stuck_open_leak": 1.0}))
    flap = found_of(WITH_TWO.with_changes(second_fan={"noticed_s": 20.5, "damper_travel_s": 0.0, "stuck_open_leak": 1.0}))
    assert (motor.passed.starts_s == flap.passed.starts_s).all()
    assert motor.short_s[0] < flap.short_s[0]


def test_both_fans_are_past_a_limit_where_one_is_near_it_and_the_force_is_that_of_moments(found):
    worst = found.both[0]
    door = WITH_TWO.doors["stair door"] if "stair door" in WITH_TWO.doors else next(iter(WITH_TWO.doors.values()))
    assert worst.alike_hz > found.before.alike_hz
    assert worst.dp_pa > found.before.dp_pa
    by_moments = door.closer_force_n + door.width_m**2 * door.height_m * worst.dp_pa / (2 * (door.width_m - door.handle_to_edge_m))
    assert worst.force_n == pytest.approx(by_moments, rel=1e-6)
    slowed = found.both[1]
    assert found.both_table().states[1] == ("" if slowed.state == "good" else slowed.state)  # too little is not judged there: no PASS
    assert (worst.state == "wrong") is (worst.dp_pa > worst.limit_pa + 1e-6)


def test_a_loop_left_running_is_at_least_as_bad_as_one_that_is_held_and_a_late_start_no_worse(found):
    held, left, late = found.peaks
    assert left.alike_hz > held.alike_hz
    assert late.room_pa >= held.room_pa - 1e-9
    assert found.before.room_pa >= late.room_pa - 0.5


def test_what_fails_is_no_pass_and_names_interlock_and_loop(found):
    told = {one.what: one for one in found.findings()}
    assert all(one.possible for one in told.values())
    together = next(one for what, one in told.items() if what.startswith(("Where both", "Both fans")))
    assert together.severity == found.both[0].state
    assert "locks nothing out" in together.remedy + together.why
    assert found.short_state == found.table().states[0] == "attention"
    never = replace(found, back_s=np.full_like(found.back_s, np.nan))
    assert never.short_state == never.table().states[3] == "wrong"
    assert replace(found, out_s=np.full_like(found.out_s, np.inf)).short_state == "good"
    weak = replace(found, stuck_hz=(40.0, 60.0), highest_hz=50.0)
    assert {one.severity for one in weak.findings() if "stuck open" in one.what} == {"attention"}
    assert {one.severity for one in replace(weak, stuck_hz=(51.0, 60.0)).findings() if "stuck open" in one.what} == {"wrong"}


def test_a_site_without_a_second_fan_or_whose_fan_holds_nothing_is_told_nothing():
    assert found_of(low_rise()) is None
    weak = WITH_TWO.with_changes(fan={"pressures_pa": [one / 20 for one in WITH_TWO.fan.pressures_pa]})
    assert found_of(weak) is None


def test_the_file_takes_a_second_fan_tells_what_is_left_out_and_refuses_another_duty():
    told = "\n".join(written_out(sentence) for sentence in filled_in(WITH_TWO))
    assert "Second fan, the same with its damper stuck open: not stated; taken as 50 %, within 20 % to 100 %" in told
    assert "Second fan, travel" not in told
    assert read_site_text(write_site(WITH_TWO)) == WITH_TWO
    assert "second_fan" not in write_site(low_rise())
    with pytest.raises(SiteFileError, match=r"\[second_fan\] duty.*standby"):
        WITH_TWO.with_changes(second_fan={"duty": "assist"})


def test_the_example_in_the_commented_file_reads_when_its_marks_are_taken_away():
    text = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    before, example = text.split("# [second_fan]\n")
    table, after = example.split("\n\n", 1)
    plain = "\n".join(line.removeprefix("# ") for line in table.splitlines())
    found = read_site_text(f"{before}[second_fan]\n{plain}\n\n{after}").second_fan
    assert all(getattr(found, field) is not None for field in type(found).model_fields)
