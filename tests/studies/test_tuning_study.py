"""Tuning of a stair's loop: against the rule it follows, against the loop it was tried on, and where nothing can help."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.formulas import tuning
from helpers.model.conditions import Conditions
from helpers.model.loop.run import settings_of
from helpers.model.tower import Tower
from helpers.studies.cases import Case
from helpers.studies.tuning import tuning_study
from helpers.studies.tuning_doors import DoorBench, largest_door
from helpers.studies.tuning_steps import step_tests
from helpers.studies.window import pressure_window

CASES = (Case("winter, doors shut", "winter"), Case("summer, doors shut", "summer"))
SPEEDS = (35.0, 60.0)


def study_of(site, **more):
    return tuning_study(Tower(site), pressure_window(site), cases=CASES, speeds_percent=SPEEDS, **more)


@pytest.fixture(scope="module")
def found(larkfield):
    return study_of(larkfield)


@pytest.fixture(scope="module")
def slow_drive(larkfield):
    return study_of(larkfield.with_changes(fan={"ramp_s": 12.0}))


def test_a_step_test_finds_the_gain_that_the_network_has(larkfield):
    tower = Tower(larkfield)
    (test,) = step_tests(tower, CASES[:1], settings_of(larkfield), speeds_percent=(35.0,))
    found = tower.solve(Conditions.of(larkfield, "winter", outdoor_c=[-9.0, -9.0]), [17.5, 20.0])
    by_network = (tower.readings(found).mean(axis=1) @ [-1, 1]) / 1.25 / 5.0  # per cent of 125 Pa by per cent of 50 Hz
    assert test.gain == pytest.approx(by_network, rel=0.02)
    # Half a second of filter, a tenth each of transmitter and sample, and the ramp's 0.3 s: by the half rule some 0.5 and 0.2 s.
    assert test.lag_s == pytest.approx(0.53, abs=0.08)
    assert 0.05 < test.delay_s < 0.3


def test_readings_at_the_end_of_the_range_are_left_out(larkfield):
    low = larkfield.with_changes(transmitters=[{"range_high_pa": 25.0}] * 2, control={"set_point_pa": 20.0})
    (test,) = step_tests(Tower(low), CASES[:1], settings_of(low), speeds_percent=(80.0,))
    assert test.left_out == "a transmitter is at the end of its range"
    assert np.isnan(test.gain)


def test_the_tuning_is_that_of_simc_for_the_worst_gain(found):
    gains = [step.gain for step in found.steps]
    assert found.worst.gain == max(gains)
    lag, delay = max(step.lag_s for step in found.steps), max(step.delay_s for step in found.steps)
    for tried in found.candidates:
        numbers = tuning.simc_pi(found.worst.gain, lag, delay, tried.closed_loop_s)
        assert (tried.gain, tried.integral_s) == pytest.approx((numbers.gain, numbers.integral_s))
    # One lag shorter than four closed loops: gain margin pi/2 (1 + closed loop/delay), phase margin 90 degrees less one over that;
    # text-book. The worst gain has nearly the longest lag and delay.
    fastest = found.candidates[0]
    assert fastest.gain_margin == pytest.approx(np.pi, rel=0.05)
    assert fastest.phase_margin_deg == pytest.approx(90 - np.degrees(0.5), abs=2.0)
    assert fastest.peak_sensitivity == pytest.approx(1.59, abs=0.05)


def test_what_is_chosen_is_safe_and_as_quick_as_any(found):
    assert found.chosen in found.candidates
    assert found.chosen.safe
    quickest = min(tried.doors.slowest_s for tried in found.candidates)
    assert found.chosen.doors.slowest_s <= quickest + 0.3
    slower = [tried for tried in found.candidates if tried.closed_loop_s > found.chosen.closed_loop_s]
    assert all(tried.doors.slowest_s > quickest + 0.3 for tried in slower)
    # An ordinary integral time for a loop of half a second; the site's own is far too patient.
    assert found.own.doors.slowest_s > 3 * found.chosen.doors.slowest_s


def test_no_controller_is_quicker_than_the_drives_ramp(found):
    assert all(tried.doors.slowest_s >= found.ramp_alone.slowest_s - 0.11 for tried in found.candidates)


def test_a_drive_whose_ramp_alone_takes_longer_is_told_so_and_what_helps(slow_drive):
    assert slow_drive.ramp_forbids
    assert slow_drive.ramp_alone.slowest_s > 3.0
    assert "with this ramp no controller makes the 3 s" in slow_drive.verdict()
    finding = next(f for f in slow_drive.findings() if f.what == "The flow is not back within 3 s of a door event")
    assert finding.severity == "attention"
    assert finding.why == "the drive's ramp alone forbids it"
    by_name = {remedy.name: remedy for remedy in slow_drive.remedies}
    assert not by_name["door contacts (feed-forward)"].works  # they cannot make the drive any faster
    assert not by_name["relief damper"].works  # quick, but it leaves a door at the other end of the stair short
    assert by_name["relief damper"].doors.slowest_s < 2.0


def test_a_faster_ramp_helps_as_far_as_the_controller_lets_it(slow_drive, found):
    slow, usual = ({r.name: r for r in study.remedies}["faster ramp"] for study in (slow_drive, found))
    assert slow.doors.slowest_s < slow_drive.chosen.doors.slowest_s
    assert usual.doors.slowest_s < found.chosen.doors.slowest_s
    assert "instead of 12 s" in slow.what


def test_a_fixed_speed_is_quick_and_leaves_the_doors_heavy(found, larkfield):
    fixed = next(r for r in found.remedies if r.name == "fixed speed, no loop")
    assert fixed.doors.quick
    assert fixed.air.most_pa > pressure_window(larkfield).most_pa
    assert not fixed.works
    assert fixed.doors.above_limit_s > 20


def test_a_fixed_speed_with_a_damper_is_no_cure_while_a_door_at_the_other_end_has_too_little(found, larkfield):
    relief = next(r for r in found.remedies if r.name == "relief damper")
    assert relief.air.least_pa < pressure_window(larkfield).least_pa
    assert not relief.air.holds
    assert not relief.works
    assert "past its limit by" in relief.figure()
    assert "m²" in relief.how()
    assert "ft²" in relief.how("in. w.c.")


def test_a_door_that_shuts_is_the_moment_people_are_hurt(found):
    finding = next(f for f in found.findings() if "too heavy for a moment" in f.what)
    assert found.chosen.doors.peak_force_n > found.force_limit_n
    assert "133 N" in finding.figure


def test_the_verdict_names_what_to_set_and_the_tables_show_all_that_was_tried(found):
    said = found.verdict()
    assert said.startswith(f"Set a gain of {found.chosen.gain:.2g} %/% (of a span of 125 Pa)")
    assert "the final exit of level 0 opens" in said
    assert len(found.step_table().rows) == len(found.steps) == 4
    assert len(found.candidate_table().rows) == 1 + len(found.candidates)
    assert "in. w.c." in found.candidate_table("in. w.c.").rows[0][-1]
    assert [row[0] for row in found.remedy_table().rows] == [remedy.name for remedy in found.remedies]
    assert "0.50 in. w.c." in found.verdict("in. w.c.")


def test_a_tuning_that_swings_is_never_chosen(stair):
    # An integral time of a tenth of a second at five times the gain that simc gives.
    site = stair(control={"gain": 8.0, "integral_time_s": 0.1}, stair={"relief": None})
    tower = Tower(site)
    (swinging,) = DoorBench(tower, settings_of(site)).test()
    assert swinging.swing_pa > 1.0
    study = tuning_study(tower, pressure_window(site), cases=CASES, speeds_percent=(40.0,), what_helps=False)
    assert not study.own.safe
    assert study.own.peak_sensitivity == np.inf
    assert next(study.findings()).what == "The site's own tuning is too lively"
    assert study.chosen.safe
    assert study.remedies == ()


def test_a_loop_that_sleeps_is_neither_calm_nor_quick(larkfield):
    asleep = larkfield.with_changes(control={"gain": 0.001, "integral_time_s": 100_000.0})
    study = study_of(asleep, what_helps=False)
    assert study.own.doors.slowest_s == np.inf
    own = next(study.findings())
    assert own.severity == "attention"
    assert own.what == "The site's own tuning is sluggish"
    assert "not within 49 s" in own.figure


def test_the_sites_own_settings_are_told_as_slow_as_they_are(found):
    """To the flow that the loop settles at, not to where it happens to be when the door shuts."""
    assert found.own.doors.opens_s == pytest.approx(31.3, abs=0.5)
    assert found.own.doors.slowest_s > 34.0


def test_a_slow_drift_is_not_taken_for_a_swing(larkfield):
    """A patient loop still creeps by more than 1 Pa half a minute after the door, and has ample margins."""
    patient = larkfield.with_changes(control={"gain": 0.2, "integral_time_s": 6.0})
    (test,) = DoorBench(Tower(patient), settings_of(patient)).test()
    assert test.swing_pa < 0.5
    study = study_of(patient, what_helps=False)
    assert study.own.gain_margin > 6
    assert study.own.safe
    assert next(study.findings()).what == "The site's own tuning is sluggish"


def test_what_is_tried_side_by_side_comes_out_as_it_does_alone(stair):
    """On a bench whose air was solved for another number of tries, and in every weather."""
    site = stair()
    own, tower = settings_of(site), Tower(site)
    bench = DoorBench(tower, own)
    (alone,) = bench.test()
    several = bench.test(replace(own, gain=np.array([2.0, own.gain, 1.0])))
    assert several[1] == alone
    assert len({test.shuts_s for test in several}) == 3
    assert several == DoorBench(tower, own).test(replace(own, gain=np.array([2.0, own.gain, 1.0])))


def test_where_nothing_answers_there_is_nothing_to_tune(stair):
    site = stair(transmitters=[{"range_high_pa": 15.0, "signal": "4-20 mA"}, {"range_high_pa": 15.0}], control={"set_point_pa": 10.0})
    with pytest.raises(ValueError, match="cases must hold one in which the reading answers to the fan, got 2 step tests without an answer"):
        tuning_study(Tower(site), pressure_window(site), cases=CASES, speeds_percent=(90.0,))


def test_the_door_that_opens_is_a_final_exit_where_there_is_one(larkfield, stair):
    assert largest_door(larkfield) == (0, "exit")
    assert largest_door(stair())[1] == "stair"
