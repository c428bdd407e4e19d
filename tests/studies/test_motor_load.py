"""What a motor bears by state: torque and power by hand, current by its two parts, the ramp as ramps are judged, and where it stands."""

from dataclasses import replace

import numpy as np
import pytest
from demo_designs import design_of
from hypothesis import given
from hypothesis import strategies as st

from helpers.formulas.fan import motor_current_share, shaft_torque
from helpers.model.loop.ramps import ramp_loads
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import schedules
from helpers.studies.duty.motor_load import MOST_ASKED, motor_load
from helpers.units.said import written_out

NAMES = ("Larkfield House", "Northgate Tower", "Tannery Row")


def load_of(name):
    design = design_of(name)
    return design, motor_load(design.tower, design.duty)


@pytest.mark.parametrize("name", NAMES)
def test_torque_is_power_over_speed_and_power_that_of_the_duty(name):
    """By hand: 2 pi f 2/poles, less a thirtieth of slip."""
    design, load = load_of(name)
    fan, count = design.site.fan, len(design.duty.cases)
    by_hand = load.power_w / (2 * np.pi * load.speed_hz * 2 / fan.motor_poles * 29 / 30)
    assert load.torque_nm == pytest.approx(by_hand)
    assert load.power_w[:count] == pytest.approx(design.duty.shaft_power_w)
    rated = fan.motor_power_w / (2 * np.pi * fan.reference_speed_hz * 2 / fan.motor_poles * 29 / 30)
    assert load.torque_share == pytest.approx(load.torque_nm / rated)
    assert load.drawn_share == pytest.approx(load.power_w / fan.motor_power_w)


def test_a_current_is_the_plates_at_rated_torque_the_fields_alone_without_and_a_right_angle_between():
    assert motor_current_share(1.0, 0.4) == pytest.approx(1.0)
    assert motor_current_share(0.0, 0.4) == pytest.approx(0.4)
    assert motor_current_share(0.5, 0.6) == pytest.approx(abs(complex(0.6, 0.8 * 0.5)))  # 3-4-5: 0.6 beside 0.8
    assert motor_current_share(0.5, 0.6, 0.5) == pytest.approx(abs(complex(0.3, 0.8)))


@given(st.floats(0, 1), st.floats(0, 0.9))
def test_up_to_rated_torque_and_base_speed_no_current_is_past_the_plates(torque, magnetising):
    assert magnetising - 1e-9 <= motor_current_share(torque, magnetising) <= 1 + 1e-9


@pytest.mark.parametrize("wrong", [{"torque_share": -0.1}, {"magnetising_share": 1.0}, {"field_share": 0.0}])
def test_shares_that_cannot_be_are_refused_by_name(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong))):
        motor_current_share(**{"torque_share": 0.5, "magnetising_share": 0.4} | wrong)
    with pytest.raises(ValueError, match="speed_rad_s"):
        shaft_torque(100.0, 0.0)


@pytest.mark.parametrize("name", NAMES)
def test_the_ramp_is_judged_as_ramps_are_and_asks_for_air_and_the_heaviest_wheel(name):
    design, load = load_of(name)
    loads = ramp_loads(design.site)
    assert load.states[-1] == loads.up_state
    assert load.torque_nm[-1] == pytest.approx(loads.air_nm + loads.wheel_nm.high)


def test_past_the_rated_torque_no_state_passes():
    design = design_of("Larkfield House")
    small = design.site.with_changes(fan={"motor_power_w": design.site.fan.motor_power_w / 2})
    tower = type(design.tower)(small)
    load = motor_load(tower, design.duty)
    running = np.array(load.states[:-1])
    over = load.torque_share[:-1] > 1
    assert over.any()
    assert not over.all()
    assert set(running[over]) == {"wrong"}
    assert set(running[load.used[:-1] < 0.9]) == {"good"}
    assert [one.reason.split(": ")[0] for one in written_out(list(load.figures()))] == ["FAIL", "FAIL"]


def test_above_the_speed_of_the_plate_the_field_is_weaker():
    design = design_of("Tannery Row")
    faster = design.site.with_changes(fan={"highest_speed_hz": 60.0})
    load = motor_load(type(design.tower)(faster), replace(design.duty, highest_hz=60.0))
    (place,) = [place for place, name in enumerate(load.names) if name.startswith("The drive's own highest speed")]
    weak, torque = 50.0 / 60.0, load.torque_share[place]
    parts = [abs(complex(m * weak, (1 - m**2) ** 0.5 * torque / weak)) for m in (0.3, 0.6)]
    assert (faster.fan.reference_speed_hz, load.speed_hz[place]) == (50.0, 60.0)
    assert sorted(load.current_share[:, place]) == pytest.approx(sorted(parts))


def test_record_and_drive_schedule_say_which_state_asks_the_most():
    design = design_of("Tannery Row")
    section = design.section("fan")
    (table,) = [one for one in section.tables if one.key == "motor_load"]
    assert len(table.rows) == len(table.states) > len(design.duty.cases) + 2
    figures = {one.label: one for one in section.figures}
    assert figures[MOST_ASKED[0]].reason.startswith("The drive's own highest speed: winter")
    (drive,) = [part for part in schedules(Quoted(design)).parts if part.title == "Drive"]
    assert set(MOST_ASKED) <= {row[0] for row in drive.tables[0].rows}
