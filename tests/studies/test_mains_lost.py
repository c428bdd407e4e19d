"""What a stair's fan does when the mains fail: the coast against scipy and its closed form, the timeline against sums by hand."""

import numpy as np
import pytest
from demo_designs import design_for, site_of
from scipy.integrate import solve_ivp

from helpers.formulas.fan import angular_speed, coasting_time_constant
from helpers.model.air.fan import fan_points
from helpers.model.air.tower import Tower
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.mains_lost import coast, mains_lost, to_pressure_s, until_power

LARKFIELD, TANNERY, NORTHGATE = (site_of(name) for name in ("Larkfield House", "Tannery Row", "Northgate Tower"))
FROM_HZ = 24.0


def coasted(site, weather="winter"):
    tower = Tower(site)
    cases = [case for case in usual_cases(site, weather) if case.shut][:1]
    conditions = conditions_of(site, cases)
    return tower, conditions, coast(tower, pressure_window(site), conditions, [FROM_HZ])


@pytest.mark.parametrize("site", [LARKFIELD, TANNERY], ids=["larkfield", "tannery"])
def test_the_wheel_slows_as_scipy_integrates_its_equation_with_the_power_of_the_network(site):
    tower, conditions, found = coasted(site)
    inertia = 1.5

    def slower(_, w):
        hz = FROM_HZ * w / angular_speed(FROM_HZ, site.fan.motor_poles)
        power = fan_points(tower, tower.solve(conditions, float(hz[0])), conditions)[2]
        return -power / (inertia * w)

    end_s = inertia * found.per_inertia_s[-1, 0]
    seen = solve_ivp(slower, (0, end_s), [float(angular_speed(FROM_HZ, site.fan.motor_poles))], rtol=1e-4, max_step=end_s / 12)
    at_hz = FROM_HZ * seen.y[0] / seen.y[0, 0]
    by_study = [float(found.speed_after(seconds, inertia)[0]) for seconds in seen.t]
    assert np.array(by_study) == pytest.approx(np.array(at_hz), rel=0.01)


def test_without_stack_or_wind_the_wheel_slows_nearly_by_the_closed_form_of_the_cube():
    """Leaks of exponent 0.5 alone would be the cube exactly; this stair's walls have 0.65, and its damper stays shut."""
    still = LARKFIELD.with_changes(
        weather={"winter": {"outdoor_c": 20.0, "wind_speed_m_s": 0.0, "stair_c": 20.0}},
        temperatures={"floor_c": 20.0, "stair_c": 20.0, "lift_c": 20.0, "lobby_c": 20.0},
    )
    tower, conditions, found = coasted(still)
    power = float(fan_points(tower, tower.solve(conditions, FROM_HZ), conditions)[2][0])
    tau = float(coasting_time_constant(1.0, angular_speed(FROM_HZ, still.fan.motor_poles), power))
    times = found.per_inertia_s[:, 0]
    assert found.slowed_hz[:, 0] == pytest.approx(FROM_HZ / (1 + times / tau), rel=0.02)


def test_the_clock_of_the_source_is_a_sum_and_a_drive_that_is_stated_takes_its_seconds():
    parts = {part.done: part.takes for part in until_power(LARKFIELD)}
    assert [(box.low, box.high) for box in parts.values()] == [(3, 3), (5, 15), (1, 1), (0.5, 8)]
    stated = LARKFIELD.with_changes(standby={"drive_s": 2.0})
    found = mains_lost(Tower(stated), pressure_window(stated), usual_cases(stated))
    assert found.power_s == (3 + 5 + 1 + 2, 3 + 15 + 1 + 2)
    assert np.isnan(found.pressure_s).all()  # no loop is laid down: nothing is told of it


def test_where_no_source_is_stated_or_there_is_none_nothing_is_told():
    for site in (NORTHGATE, LARKFIELD.with_changes(standby={"source": "none", "detection_s": None, "start_s": None, "transfer_s": None})):
        assert until_power(site) == ()
        assert mains_lost(Tower(site), pressure_window(site), usual_cases(site)) is None


def test_a_heavier_wheel_keeps_the_pressure_longer_and_turns_faster_when_power_is_back():
    _, _, found = coasted(TANNERY)
    light, heavy = (found.short_s(inertia)[0] for inertia in (0.5, 2.0))
    assert heavy == pytest.approx(4 * light)
    assert found.speed_after(10.0, 2.0)[0] > found.speed_after(10.0, 0.5)[0] > 0
    assert (np.diff([found.speed_after(seconds, 1.0)[0] for seconds in (0, 1, 5, 20, 200)]) < 0).all()


def test_the_record_tells_the_timeline_with_the_tuning_laid_down_and_later_than_its_power():
    design = design_for(TANNERY)
    (table,) = [one for one in design.section("tuning").tables if one.key == "mains_lost"]
    assert [row[0] for row in table.rows][-1] == "The stair is at pressure"
    found = mains_lost(design.built_tower, design.standing.window, design.shut_cases)
    assert found.short_s[0] <= found.short_s[1] < found.power_s[0]
    assert 0 < found.turning_hz[0] < found.turning_hz[1] < found.coast.slowed_hz[0].max()
    assert not any(one.key == "mains_lost" for one in design_for(NORTHGATE).section("tuning").tables)


def test_seconds_to_pressure_are_nan_where_the_fan_never_gets_there():
    weak = LARKFIELD.with_changes(fan={"pressures_pa": [one / 20 for one in LARKFIELD.fan.pressures_pa]})
    cases = [case for case in usual_cases(weak) if case.shut]
    assert np.isnan(to_pressure_s(Tower(weak), conditions_of(weak, cases))).all()
