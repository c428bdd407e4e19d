"""Lags one behind the other, late readings, unlike ramps and a coasting wheel: the loop in time against a plain integration of its own.

The integration knows nothing of ours: steps of a millisecond, a list of past readings for the dead time, the equations as a text-book
writes them. The tube's and transmitter's lags count from the pressure on; the dead time lies between transmitter and input.
"""

import numpy as np
import pytest
from loop_airs import Squared

from helpers.model.loop.controller import ControllerSettings
from helpers.model.loop.run import Setup, run_on_air
from helpers.model.site.file import demo_sites, read_site

STEP_S, SAMPLE_S, PER_SQUARE = 0.001, 0.01, 0.06
ONE = read_site(demo_sites()["Larkfield House"]).with_changes(
    transmitters=[{"converter_bits": 24, "filter_s": 0.4, "range_low_pa": -100.0, "range_high_pa": 150.0}], control={"rule": "average"}
)


def blow(time_s):
    """Pressure lost from 1 s to 8 s on, over half a second."""
    return 30.0 * (np.clip((time_s - 1) / 0.5, 0, 1) - np.clip((time_s - 8) / 0.5, 0, 1))


def plain(settings, lags_s, late_s, filter_s, up, down, length_s, start_hz, coasting_s=None):
    """Readings [Pa] and speeds [Hz] every STEP_S. up, down: Hz/s; coasting_s: time to half of 50 Hz without a brake."""
    lags = [lag for lag in (*lags_s, filter_s) if lag > 0]
    states = [PER_SQUARE * start_hz**2] * len(lags)
    past, speed = [states[0]] * round(late_s / STEP_S), start_hz
    integral = 2 * start_hz - settings.gain * (settings.set_point_pa - states[0]) / 2.5
    readings, speeds = [], []
    for k in range(round(length_s / STEP_S)):
        pressure = PER_SQUARE * speed**2 - blow(k * STEP_S)
        for place, lag in enumerate(lags[:-1]):
            pressure = states[place] = states[place] + STEP_S / lag * (pressure - states[place])
        past.append(pressure)
        states[-1] += STEP_S / lags[-1] * (past.pop(0) - states[-1])
        error = (settings.set_point_pa - states[-1]) / 2.5
        asked = settings.gain * error + integral
        output = min(max(asked, 20.0), 100.0)
        if not (asked != output and (asked > output) == (error > 0)):
            integral += settings.gain * error * STEP_S / settings.integral_s
        fall = down if coasting_s is None else min(down, speed**2 / (50.0 * coasting_s))
        readings.append(states[-1])
        speeds.append(speed)
        speed += min(max(output / 2 - speed, -fall * STEP_S), up * STEP_S)
    return np.array(readings), np.array(speeds)


CASES = {
    "damping behind the transmitter": (ControllerSettings(60.0, 250.0, 0.5, 3.0), {"response_s": 0.3, "damping_s": 0.6}, {}, {}),
    "a reading by a slow bus": (ControllerSettings(60.0, 250.0, 0.4, 3.0), {"response_s": 0.2}, {"bus_delay_s": 0.455}, {}),
    "lag and dead time on top": (
        ControllerSettings(60.0, 250.0, 0.3, 3.0),
        {"response_s": 0.1},
        {},
        {"more_lag_s": 1.0, "dead_time_s": 0.6},
    ),
    "slower down than up": (ControllerSettings(60.0, 250.0, 1.0, 3.0), {"response_s": 0.1}, {}, {"ramp_down_s": 30.0}),
}


@pytest.mark.parametrize("case", CASES)
def test_a_loop_with_lags_and_late_readings_runs_as_its_delay_equations(case):
    settings, of_transmitter, of_control, of_setup = CASES[case]
    site = ONE.with_changes(transmitters=[of_transmitter], control=of_control)
    run = run_on_air(Squared(PER_SQUARE, blow), site, Setup(14.0, SAMPLE_S, **of_setup), site.transmitters, settings, 1, 32.0)
    late = of_control.get("bus_delay_s", 0.0) + of_setup.get("dead_time_s", 0.0)
    lags = [of_transmitter.get("damping_s", 0.0), of_setup.get("more_lag_s", 0.0), of_transmitter["response_s"]]
    reading, speed = plain(settings, lags, late, 0.4, 50 / 6, 50 / of_setup.get("ramp_down_s", 6.0), 14.0, 32.0)
    every = round(SAMPLE_S / STEP_S)
    assert np.ptp(run.speed_hz) > 2.0
    assert run.reading_pa[:, 0] == pytest.approx(reading[::every], abs=0.6)
    assert run.speed_hz[:, 0] == pytest.approx(speed[::every], abs=0.2)


def test_a_wheel_without_a_brake_slows_no_quicker_than_the_air_brakes_it():
    site = ONE.with_changes(fan={"brake": "none", "inertia_kg_m2": 1.5, "ramp_down_s": 3.0})
    air = Squared(PER_SQUARE, blow)
    shaft_w = 3000.0
    air.power_w = np.full((2, 1), shaft_w / (site.fan.motor_efficiency * site.fan.drive_efficiency))
    settings = ControllerSettings(60.0, 250.0, 1.0, 3.0)
    run = run_on_air(air, site, Setup(14.0, SAMPLE_S), site.transmitters, settings, 1, 45.0)
    half_s = 1.5 * (4 * np.pi * 50 * (29 / 30) / 4) ** 2 / shaft_w
    reading, speed = plain(settings, [0.1], 0.0, 0.4, 50 / 6, 50 / 3, 14.0, 45.0, half_s)
    assert run.speed_hz[:, 0] == pytest.approx(speed[::10], abs=0.2)
    assert run.reading_pa[:, 0] == pytest.approx(reading[::10], abs=0.6)
    resistor = site.with_changes(fan={"brake": "resistor"})
    braked = run_on_air(air, resistor, Setup(14.0, SAMPLE_S), site.transmitters, settings, 1, 45.0)
    assert (run.speed_hz - braked.speed_hz).max() > 1.0
