"""Reverse or direct, found from what the reading does when the fan turns faster."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.record.design import Design
from helpers.studies.cases import usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.rules import compare_rules
from helpers.studies.signals.action import acting


def acted(site, rule="average"):
    tower, window, cases = Tower(site), pressure_window(site), usual_cases(site)
    return acting(tower, compare_rules(tower, window, cases), rule)


def exhaust(stair, **control):
    ends = {"range_low_pa": -125.0, "range_high_pa": 125.0}
    return stair(fan={"effect": "exhaust"}, control={"set_point_pa": -10.0, **control}, transmitters=[ends, ends])


def test_a_supply_fan_that_raises_the_pressure_must_be_reverse_acting(stair):
    found = acted(stair())
    assert (found.fan_effect, found.action) == (1, "reverse")
    assert (found.fast_pa > found.slow_pa).all()
    assert "the fan must slow down when the reading is above the set point" in found.verdict()
    assert [finding.severity for finding in found.findings()] == ["good"]


def test_an_exhaust_fan_that_lowers_the_pressure_must_be_direct_acting(stair):
    found = acted(exhaust(stair, action="direct"))
    assert (found.fan_effect, found.action) == (-1, "direct")
    assert "must speed up" in found.verdict()
    assert found.agrees


def test_the_wrong_action_is_said_to_run_away_and_where_to(stair):
    found = acted(stair(control={"action": "direct"}))
    assert not found.agrees
    assert "that loop would run away" in found.verdict()
    (finding,) = found.findings()
    assert finding.severity == "wrong"
    assert "the fan runs to lowest speed" in finding.why  # too little pressure slows it further
    (other,) = acted(exhaust(stair, action="reverse")).findings()
    assert "the fan runs to full speed" in other.why  # too little pressure makes it draw out still more


def test_a_door_open_beside_the_transmitter_leaves_it_without_an_answer(stair):
    site = stair(transmitters=[{"level": 2}])
    tower, window = Tower(site), pressure_window(site)
    found = acting(tower, compare_rules(tower, window, usual_cases(site, open_doors=[2])), "average")
    assert found.answers[-1] == 0
    assert found.action == "reverse"  # the other cases tell
    assert any("hardly answers" in finding.what for finding in found.findings())


def test_a_reading_that_never_answers_gets_no_action(stair):
    still = stair(fan={"flows_m3_s": (0.0, 1e-4, 2e-4), "pressures_pa": (1.0, 0.9, 0.8), "duct_loss_pa": 0.0})
    found = acted(still)
    assert (found.fan_effect, found.action) == (None, None)
    assert found.verdict().startswith("No action can be named")


def tight(stair, share):
    return stair(storeys=[{"facade_m2": tuple(share * area for area in (60.0, 40.0, 60.0, 40.0))}] * 6)


@pytest.mark.parametrize("share", [0.02, 0.05])
def test_floors_that_fill_up_leave_the_right_action_without_gain_and_ask_for_air_release(stair, share):
    """With 2 % of the facade no reading answers by half a pascal; with 5 % they answer, and full speed leaves a tenth of the set point."""
    site = tight(stair, share)
    found = acted(site)
    assert (found.action, found.agrees, found.weak) == ("reverse", True, True)
    assert (found.follows > 0.9).all()
    assert found.verdict().startswith("Reverse acting, but the gain is too small to hold")
    (finding,) = found.findings()
    assert finding.severity == "wrong"
    assert "the floors fill up and take " in finding.figure
    assert "air release to outdoors" in finding.remedy
    assert "door stands open" not in finding.figure
    released = site.with_changes(storeys=[{"extra_leak_m2": found.release_m2}] * 6)
    again = acted(released)
    assert not again.weak
    assert [finding.severity for finding in again.findings()] == ["good"]


def test_a_gain_too_small_speaks_against_the_set_point_and_not_against_the_action(stair):
    standing = Design(tight(stair, 0.02)).standing
    assert standing.action_stands
    assert not standing.set_point_stands
    assert any("the floors fill up" in said for said in standing.set_point_against())


def test_two_speeds_lie_on_either_side_of_the_duty_within_the_drives_limits(stair):
    site = stair()
    found = acted(site)
    assert (found.slow_hz >= site.fan.lowest_speed_hz).all()
    assert (found.fast_hz <= site.fan.highest_speed_hz).all()
    assert np.all(found.fast_hz > found.slow_hz)


def test_a_rule_that_was_not_compared_is_refused(stair):
    with pytest.raises(ValueError, match="rule must be one of"):
        acted(stair(), "middle")


def test_a_reading_that_stays_still_because_the_damper_has_lifted_says_so(stair):
    """A damper of 6 m2 that opens at 20 Pa: twice the speed is let out, and no door stands open beside a transmitter."""
    relief = {"level": 2, "opens_pa": 20.0, "full_pa": 20.5, "area_m2": 20.0}
    low = stair(stair={"relief": relief})
    found = acted(low)
    (place, *_) = np.flatnonzero(found.lifts & ~found.beside)
    still = replace(found, answers=np.where(np.arange(len(found.cases)) == place, 0, 1), weak=False)
    (told,) = [one for one in still.findings() if "hardly answers" in one.what]
    assert told.why == "the relief damper has lifted, and lets out what the fan brings more"
    assert told.remedy.startswith("a relief damper that opens later")
    assert not acted(stair()).lifts.any()
