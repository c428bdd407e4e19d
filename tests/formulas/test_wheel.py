"""A turning wheel: its energy, how long it coasts, and the shortest ramp that asks nothing of a drive without a brake."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from helpers.formulas import fan

PROPERTY = settings(max_examples=60, derandomize=True, deadline=None)


def test_a_fan_from_50_to_24_hz_gives_back_13_kj_and_over_its_ramp_4_3_kw():
    # 1.5 kg m2, four poles, 6 s from 50 Hz to standstill: a hand figure, from memory, not verified.
    energy = fan.kinetic_energy(1.5, fan.angular_speed(50.0, 4), fan.angular_speed(24.0, 4))
    assert energy == pytest.approx(13e3, abs=500)
    assert energy / (6 * (50 - 24) / 50) == pytest.approx(4.3e3, abs=50)


@pytest.mark.parametrize(("inertia", "speed", "power"), [(1.5, 152.0, 3700.0), (0.3, 300.0, 900.0), (9.0, 100.0, 15e3)])
def test_a_coasting_wheel_slows_as_the_integration_of_its_equation(inertia, speed, power):
    times = np.linspace(0, 60, 200)
    found = solve_ivp(lambda t, w: -power * (w / speed) ** 3 / (inertia * w), (0, 60), [speed], t_eval=times, rtol=1e-9, atol=1e-9)
    tau = fan.coasting_time_constant(inertia, speed, power)
    assert speed / (1 + times / tau) == pytest.approx(found.y[0], rel=1e-6)


@pytest.mark.parametrize(
    ("inertia", "speed", "air", "motor"), [(1.5, 152.0, 24.0, 54.0), (0.4, 150.0, 1.0, 20.0), (4.0, 180.0, 80.0, 82.0)]
)
def test_the_shortest_run_up_is_the_integration_of_its_equation(inertia, speed, air, motor):
    took = fan.shortest_run_up(inertia, speed, air, motor)
    found = solve_ivp(lambda t, w: (motor - air * (w / speed) ** 2) / inertia, (0, took), [0.0], rtol=1e-9, atol=1e-9)
    assert found.y[0, -1] == pytest.approx(speed, rel=1e-6)
    assert fan.shortest_run_up(inertia, speed, motor, air) == np.inf


@given(st.floats(0.1, 20), st.floats(500, 20e3), st.floats(0.2, 0.95))
@PROPERTY
def test_at_the_shortest_ramp_the_wheel_slows_nowhere_quicker_than_it_would_coast(inertia, power, share):
    top = 152.0
    speeds = np.linspace(share * top, top, 40)
    ramp = fan.shortest_ramp_down(inertia, speeds, power * (speeds / top) ** 3, top)
    coasting = speeds**2 / (top * fan.coasting_time_constant(inertia, top, power))
    assert top / ramp <= coasting.min() * (1 + 1e-9)
    assert top / (0.99 * ramp) > coasting.min()


def test_several_inertias_are_judged_at_once_and_where_nothing_brakes_no_ramp_is_long_enough():
    speeds = np.array([75.0, 150.0])
    assert fan.shortest_ramp_down(np.array([1.0, 2.0]), speeds, np.array([500.0, 4000.0]), 150.0) == pytest.approx([22.5, 45.0])
    assert fan.shortest_ramp_down(1.0, speeds, np.array([0.0, 4000.0]), 150.0) == np.inf


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: fan.angular_speed(-1, 4), "frequency_hz must be 0 or more, got -1"),
        (lambda: fan.angular_speed(50, 1), "motor_poles must be 2 or more, got 1"),
        (lambda: fan.angular_speed(50, 4, 1.5), "slip must be from 0 to 1, got 1.5"),
        (lambda: fan.kinetic_energy(0, 150), "inertia_kg_m2 must be above 0, got 0"),
        (lambda: fan.coasting_time_constant(1.5, 150, 0), "shaft_power_w must be above 0, got 0"),
        (lambda: fan.shortest_ramp_down(1.5, [75.0], [-1.0], 150), "taken_w must be 0 or more, got -1"),
        (lambda: fan.shortest_ramp_down(float("nan"), [75.0], [1.0], 150), "inertia_kg_m2 must be a finite number"),
    ],
)
def test_what_no_wheel_does_is_refused_in_a_sentence(call, sentence):
    with pytest.raises(ValueError, match=f"^{sentence}"):
        call()
