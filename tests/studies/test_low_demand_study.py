"""Low-demand stop over a year of weather: the window by hand, trials in the loop, starts, energy; and never in smoke control."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.formulas.low_demand import CYCLES, NEVER_STOPS, NO_WINDOW, RIGHT, LowDemandRule, starts_allowed
from helpers.model.air.conditions import Conditions, Hours, conditions_of_hours, demo_weather, read_hours
from helpers.model.air.tower import Tower
from helpers.studies.low_demand.study import Demand, FireMode, low_demand_study
from helpers.units.said import written_out

RULE = LowDemandRule(38.0, 10.0, 10.0, 5.0)


def every(step):
    """Every so many-th hour of a year: all seasons and times of day, quicker."""
    return read_hours(demo_weather()["Greensboro"]).rows(slice(0, 8760, step))


@pytest.fixture(scope="module")
def comfort(larkfield):
    """The stair, held for comfort and not against smoke: only for the arithmetic."""
    return larkfield.with_changes(control={"fire_mode": False})


@pytest.fixture(scope="module")
def tower(comfort):
    return Tower(comfort)


@pytest.fixture(scope="module")
def year():
    return every(61)


@pytest.fixture(scope="module")
def street(year):
    """Asked for two hours out of three, with the final exit door open."""
    return Demand(np.arange(len(year)) % 3 != 0, open_exits=(0,))


@pytest.fixture(scope="module")
def found(tower, year, street):
    return low_demand_study(tower, year, street, rule=RULE)


def test_a_stair_in_the_fire_mode_is_refused(larkfield, year, street):
    refused = low_demand_study(Tower(larkfield), year, street, rule=RULE)
    assert isinstance(refused, FireMode)
    assert refused.verdict().startswith("Larkfield House is in smoke control: no low-demand stop.")
    (finding,) = refused.findings()
    assert finding.what == "No low-demand stop in smoke control"


def test_the_window_lies_between_the_fastest_idling_and_the_slowest_duty(found, tower, comfort, year, street):
    idle = tower.hold(conditions_of_hours(comfort, year.rows(~street.asked))).air.speed_hz
    opened = Conditions.of(comfort, "mild", open_exits=(0,)).final_exit_open
    duty = tower.hold(conditions_of_hours(comfort, year.rows(street.asked), final_exit_open=opened)).air.speed_hz
    assert found.ends_hz == pytest.approx((idle.max(), duty.min()), abs=1e-3)
    assert found.window_hz == pytest.approx((idle.max() + 1.0, duty.min() - 1.0), abs=1e-3)
    assert (found.idle_hours, found.asked_hours) == (idle.size, duty.size)
    # Without any leak the fan needs less speed than it takes to feed them.
    assert found.shutoff_hz < found.ends_hz[0]


def test_the_shut_off_speed_is_the_root_of_pressure_over_shut_off_pressure(tower, comfort):
    mild = Hours("one day", *(np.full(24, value) for value in (15.0, 0.0, 0.0)))
    found = low_demand_study(tower, mild, Demand.by_clock(24, 8, 18, open_exits=(0,)), rule=RULE)
    held = tower.hold(conditions_of_hours(comfort, mild.rows(slice(0, 1)))).air
    # By hand: 600 Pa at 50 Hz in air of 1.2 kg/m3; the outlet is at the top.
    density = 353.05 * tower.pressure_pa / 101325 / 288.15
    assert found.shutoff_hz == pytest.approx(50 * np.sqrt(held.stair_pa[0, -1] / (600 * density / 1.2)), rel=2e-3)


def test_inside_the_window_the_loop_stops_without_demand_and_never_with_it(found):
    assert found.code == RIGHT
    assert found.trial("inside", "idle").running < 0.9
    assert found.trial("inside", "asked").running == 1.0
    assert found.trial("inside", "asked").missed == 0.0
    assert found.cut_off_hours == 0
    assert found.stopped_hours == found.idle_hours


def test_below_the_window_the_fan_never_stops(found, tower, year, street):
    assert found.trial("below", "idle").running == 1.0
    assert found.trial("below", "idle").starts_per_hour == 0
    low = low_demand_study(tower, year, street, rule=RULE._replace(stop_below_hz=15.0))
    assert low.code == NEVER_STOPS
    assert low.saved_kwh == 0.0
    assert low.starts_per_hour == 0.0
    assert f"it stops the fan in 0 of {low.idle_hours} hours without demand" in low.verdict()
    assert next(low.findings()).severity == "wrong"


def test_above_the_window_the_fan_cycles_during_a_duty_and_the_pressure_is_lost(found, tower, year, street):
    cycling = found.trial("above", "asked")
    assert cycling.missed > 0.5
    # The timers set the pace: 3600 s over 10 s, 5 s and what it takes to fall and rise.
    assert 3600 / 20 < cycling.starts_per_hour <= 3600 / 15 + 1
    high = low_demand_study(tower, year, street, rule=RULE._replace(stop_below_hz=found.ends_hz[1] + 1.0))
    assert high.code == CYCLES
    assert high.cut_off_hours > 0
    assert "it stops during a duty" in next(high.findings()).why


def test_a_stair_gives_a_stopped_fan_no_rest_so_the_timers_make_the_starts(found, comfort):
    assert found.starts_per_hour == found.trial("judged", "idle").starts_per_hour > 150
    assert found.allowed == starts_allowed(comfort.fan.motor_power_w)
    assert found.too_many_starts
    assert found.trial("judged", "idle").missed > 0.8
    assert any(finding.what == "A stopped fan cannot tell whether air is asked for" for finding in found.findings())


def test_the_longer_restart_it_asks_for_brings_the_starts_to_what_the_motor_bears(found, tower, year, street):
    longer = low_demand_study(tower, year, street, rule=RULE._replace(restart_after_s=found.restart_after_s))
    assert longer.starts_per_hour == pytest.approx(float(found.allowed.per_hour), rel=0.03)
    assert f"a restart after {found.restart_after_s:.0f} s" in found.verdict()


def test_what_it_saves_is_the_share_of_the_idle_hours_that_the_trial_saves(found):
    share = 1 - found.trial("judged", "idle").kwh_per_hour / found.trial("never", "idle").kwh_per_hour
    assert 0.3 < share < 1.0
    assert found.saved_kwh == pytest.approx(share * found.idle_kwh)


def test_where_idling_takes_as_much_speed_as_a_duty_no_threshold_is_right(tower, year):
    shut = Demand(np.arange(len(year)) % 2 == 0, open_doors=(5,))
    found = low_demand_study(tower, year, shut)
    assert found.code == NO_WINDOW
    assert not found.feasible
    assert "no threshold is right" in found.verdict()
    with pytest.raises(ValueError, match="trial must be one of those made, got 'inside', 'idle'"):
        found.trial("inside", "idle")


def test_without_a_rule_one_in_the_middle_of_the_window_is_judged(tower, year, street):
    found = low_demand_study(tower, year, street)
    assert found.rule.stop_below_hz == pytest.approx(sum(found.window_hz) / 2)
    assert found.code == RIGHT


def test_a_motor_outside_the_table_is_said_to_be(comfort, year, street):
    small = Tower(comfort.with_changes(fan={"motor_power_w": 2000.0}))
    found = low_demand_study(small, year, street, rule=RULE)
    assert found.allowed is None
    assert not found.too_many_starts
    assert any(finding.what == "No starts an hour are known for this motor" for finding in found.findings())


def test_hours_without_a_steady_state_are_told(found):
    assert [finding.what for finding in replace(found, not_found=3).findings()][-1] == "In 3 hours no steady state was found"
    assert not any("steady state" in finding.what for finding in found.findings())


def test_the_table_shows_every_trial(found):
    table = written_out(found.table(), "in. w.c.")
    assert len(table.rows) == len(found.trials) == 8
    assert table.rows[0][-1].endswith("hp")


def test_the_clock_goes_over_midnight():
    assert Demand.by_clock(48, 22, 6).asked[:24].tolist() == [True] * 6 + [False] * 16 + [True] * 2
    assert Demand.by_clock(48, 8, 18).asked.sum() == 20


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: Demand(np.ones(24, bool)), "asked must have hours with and hours without demand, got 24 of 24 with"),
        (lambda: Demand(np.ones(24)), "asked must be a list of True and False"),
        (lambda: Demand.by_clock(24, -1, 6), "from_hour must be from 0 to 24, got -1"),
    ],
)
def test_a_demand_that_cannot_be_is_refused_in_a_sentence(make, sentence):
    with pytest.raises(ValueError, match=sentence):
        make()


def test_a_demand_of_other_hours_and_a_negative_margin_are_refused(tower, year, street):
    with pytest.raises(ValueError, match=f"demand must be for {len(year)} hours, got 24"):
        low_demand_study(tower, year, Demand.by_clock(24, 8, 18), rule=RULE)
    with pytest.raises(ValueError, match="margin_hz must be 0 or more, got -1"):
        low_demand_study(tower, year, street, rule=RULE, margin_hz=-1.0)
