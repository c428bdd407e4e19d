"""Failed readings on a stair of one storey, whose answers can be written down.

One door between a stair and a floor that stands wide open to outdoors, no wind, one temperature everywhere: the pressure across the door is
the stair's, and with square-root leaks and the fan laws it goes with the square of the speed, p = p50 (f / 50)^2. Two transmitters read it
alike, the average is held at 40 Pa, 25 Pa are the least and the door's force sets the most. What follows is arithmetic.
"""

import math
from pathlib import Path

import pytest

from helpers.model.air.tower import Tower
from helpers.model.site.file import read_site
from helpers.studies.cases import Case
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.failures import KEEP, KEPT, NOTHING, OWN, SPEED
from helpers.studies.readings.fallback import fallback_study

PLAIN = Path(__file__).parents[2] / "data" / "checks" / "published_stair.toml"
LEAK_M2, CD, RHO = 0.30, 0.65, 1.2041  # air of 20 degC at sea level
FLAT_PA = 300.0  # the fan's pressure at 50 Hz, whatever the flow
LOSS_PA, LOSS_M3_S = 100.0, 4.0
LOW_HZ, HIGH_HZ = 10.0, 50.0
LEAST_PA, SET_PA, SPAN_PA = 25.0, 40.0, 125.0


def p50():
    """Fan less duct, both stated for air of 1.2 kg/m3, is what the door bears; the leak's q^2 = (Cd A)^2 2 p / rho. Solved for p."""
    k = LOSS_PA / LOSS_M3_S**2
    return FLAT_PA * RHO / 1.2 / (1 + k * RHO / 1.2 * (CD * LEAK_M2) ** 2 * 2 / RHO)


def at(speed_hz):
    return p50() * (speed_hz / 50.0) ** 2


def most_pa():
    """133 N = closer + W A dp / (2 (W - d))."""
    width, height, closer, knob = 0.91, 2.10, 60.0, 0.07
    return (133.0 - closer) * 2 * (width - knob) / (width * width * height)


@pytest.fixture(scope="module")
def study():
    site = read_site(PLAIN)
    weather = {name: {"outdoor_c": 20.0, "wind_speed_m_s": 0.0, "stair_c": None} for name in ("winter", "summer", "mild")}
    door = {
        "width_m": 0.91, "height_m": 2.10, "leak_area_m2": LEAK_M2, "closer_force_n": 60.0, "handle_to_edge_m": 0.07,
        "force_limit_n": 133.0, "minimum_dp_pa": LEAST_PA, "opens": "against pressure",
    }  # fmt: skip
    tap = site.transmitters[0].model_dump() | {
        "range_low_pa": 0.0, "range_high_pa": SPAN_PA, "signal": "4-20 mA", "accuracy_percent_span": 1.0, "converter_bits": 16,
        "level": site.storeys[0].level, "reference": "floor",
    }  # fmt: skip
    fan = {
        "flows_m3_s": (0.0, 5.0, 10.0), "pressures_pa": (FLAT_PA + 0.02, FLAT_PA + 0.01, FLAT_PA), "reference_speed_hz": 50.0,
        "lowest_speed_hz": LOW_HZ, "highest_speed_hz": HIGH_HZ, "duct_loss_pa": LOSS_PA, "duct_loss_flow_m3_s": LOSS_M3_S,
    }  # fmt: skip
    storey = site.storeys[0].model_copy(update={"stair_wall_m2": 1e-6, "stair_outside_wall_m2": 0.0, "extra_leak_m2": 50.0})
    one = site.model_copy(update={"storeys": [storey]})
    name = storey.stair_door
    return study_of(
        one.with_changes(
            sprinklers=True, altitude_m=0.0, temperatures={"floor_c": 20.0, "stair_c": 20.0}, weather=weather, doors={name: door}, fan=fan,
            transmitters=[tap | {"name": "A"}, tap | {"name": "B"}], supplies=[{"level": storey.level, "share": 1.0}],
            control={"rule": "average", "set_point_pa": SET_PA},
        )
    )  # fmt: skip


def study_of(site):
    return fallback_study(Tower(site), pressure_window(site), [Case("winter, doors shut")])


def dp(study, way, failure):
    return study.ways[way].worst_of(failure).dp_pa


def test_the_pressure_goes_with_the_square_of_the_speed(study):
    for speed in (20.0, 35.0, 50.0):
        assert study.at_speed(speed).worst.dp_pa == pytest.approx(at(speed), rel=1e-3)


def test_a_reading_at_zero_sends_the_other_to_twice_the_set_point(study):
    assert dp(study, NOTHING, "tube off A (storey 0): it reads no pressure") == pytest.approx(2 * SET_PA, rel=2e-3)
    assert dp(study, KEPT, "tube off A (storey 0): it reads no pressure") == pytest.approx(2 * SET_PA, rel=2e-3)


def test_a_reading_stuck_at_the_top_sends_the_fan_to_its_lowest_speed(study):
    """(p + 125) / 2 = 40 asks for a pressure below zero."""
    assert dp(study, NOTHING, "A (storey 0) stuck at the top of its range") == pytest.approx(at(LOW_HZ), rel=2e-3)


def test_a_frozen_reading_leaves_the_other_where_it_was(study):
    assert dp(study, NOTHING, "A (storey 0) frozen at its last value") == pytest.approx(SET_PA, rel=2e-3)


def test_both_lost_and_nothing_done_is_full_speed_and_the_kept_speed_is_the_last_one(study):
    assert dp(study, NOTHING, "both readings lost") == pytest.approx(p50(), rel=2e-3)
    assert dp(study, KEEP, "both readings lost") == pytest.approx(SET_PA, rel=2e-3)


def test_the_set_point_of_what_remains_is_the_middle_of_the_window(study):
    middle = (LEAST_PA + most_pa()) / 2
    assert study.set_points_pa == {"A": round(middle), "B": round(middle)}
    assert dp(study, OWN, "A (storey 0) lost") == pytest.approx(round(middle), rel=2e-3)


def test_the_speeds_that_hold_the_door_and_the_best_of_them(study):
    low, high = (50.0 * math.sqrt(p / p50()) for p in (LEAST_PA - 0.1, most_pa() + 0.1))
    assert study.speeds_hz == (math.ceil(2 * low) / 2, math.floor(2 * high) / 2)
    room = {half / 2: min(at(half / 2) - LEAST_PA, most_pa() - at(half / 2)) for half in range(20, 101)}
    assert study.speed_hz == max(room, key=room.get)
    assert study.ways[SPEED].worst.room_pa == pytest.approx(max(room.values()), abs=0.1)


def test_alarm_limits_are_the_set_point_and_what_two_sound_transmitters_may_be_apart(study):
    """Each may be off by 1.25 Pa: held at 40 together, one shows at most 41.25 and the other 38.75, and they differ by 2.5 Pa. The alarm
    itself looks at a reading that may be off by as much: 42.5 and 37.5, in whole pascals outwards; likewise 2.5
    and 1.25 Pa for the difference."""
    limits = study.alarm_limits
    assert [(one.low_pa, one.high_pa) for one in limits.readings] == [(37.0, 43.0)] * 2
    assert limits.deviation_pa == 4.0


def test_with_alarms_on_each_reading_no_door_is_out_in_silence_and_with_one_on_the_average_it_is(study):
    """Off by b, the readings stand b apart and the door at 40 - b / 2: within 3 Pa that is 1.5 Pa. The average is 40 Pa whatever b is."""
    assert study.alarm_limits.silent is None
    assert study.silence_of_combined(35.0, 45.0).out_pa > 10.0
