"""The loop run in time against its differential equations where it is not linear: ramp, limits, dead band, a square law, a stair."""

from dataclasses import replace

import numpy as np
import pytest
from continuous_loop import answer
from loop_airs import Squared
from scipy.interpolate import RectBivariateSpline

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.controller import ControllerSettings
from helpers.model.loop.events import DoorEvent, leaf_share
from helpers.model.loop.run import Setup, run_loop, run_on_air, settings_of
from helpers.model.site.file import demo_sites, read_site

LARKFIELD = read_site(demo_sites()["Larkfield House"])
ONE = LARKFIELD.with_changes(
    transmitters=[{"converter_bits": 24, "filter_s": 0.5, "range_low_pa": -100.0, "range_high_pa": 150.0}], control={"rule": "average"}
)
LOW = LARKFIELD.with_changes(  # six storeys of it, with a fan and a relief damper to match
    storeys=[{}] * 6,
    design=None,
    supplies=[{"level": 5}],
    stair={"relief": {"level": 3}},
    transmitters=[{"level": 1, "converter_bits": 20}, {"level": 4, "converter_bits": 20}],
    fan={"flows_m3_s": (0.0, 1.0, 2.0, 3.0), "pressures_pa": (600.0, 550.0, 450.0, 300.0), "duct_loss_flow_m3_s": 3.0},
)
SAMPLE_S = 0.01


def slow_wave(time_s):
    return 12.0 * np.sin(0.6 * time_s)


def late_blow(time_s):
    """Pressure lost from 1 s to 7 s on, over half a second."""
    return 30.0 * (np.clip((time_s - 1) / 0.5, 0, 1) - np.clip((time_s - 7) / 0.5, 0, 1))


CASES = {
    "the ramp holds the fan back": (ControllerSettings(60.0, 250.0, 2.0, 2.0), 0.06, lambda time_s: 0.0, 14.0),
    "full speed is not enough": (ControllerSettings(130.0, 250.0, 1.5, 1.5), 0.06, late_blow, 40.0),
    "down to the lowest speed and back": (ControllerSettings(10.0, 250.0, 1.5, 1.5), 0.06, lambda time_s: -late_blow(time_s), 14.0),
    "a wave against the loop": (ControllerSettings(50.0, 250.0, 1.0, 1.5), 0.06, slow_wave, 28.0),
    "a dead band": (ControllerSettings(50.0, 250.0, 1.0, 1.5, dead_band_percent=2.0), 0.06, slow_wave, 28.0),
    "an exhaust, direct acting": (ControllerSettings(-40.0, 250.0, 1.0, 1.5, action="direct"), -0.06, slow_wave, 25.0),
}


@pytest.mark.parametrize("case", CASES)
def test_a_loop_on_a_square_law_runs_as_its_differential_equations(case):
    settings, per_square, disturbance, start_hz = CASES[case]
    air = Squared(per_square, disturbance)
    run = run_on_air(air, ONE, Setup(12.0, SAMPLE_S), ONE.transmitters, settings, 1, start_hz)
    reading, speed = answer(lambda time, hz: [air.at(time, hz)], settings, ONE.fan, run.time_s, start_hz, SAMPLE_S)
    assert np.ptp(run.speed_hz) > 1.0
    assert run.reading_pa[:, 0] == pytest.approx(reading, abs=0.6)  # of 250 Pa of span; the sampling is most of it
    # At the edge of a dead band the output jumps, and a few samples' difference in its time is as much of the ramp.
    assert run.speed_hz[:, 0] == pytest.approx(speed, abs=0.4 if settings.dead_band_percent else 0.15)


def test_the_loop_of_a_stair_runs_as_its_differential_equations():
    # The air by a spline of scipy's through many solutions of the network. The final exit door opens, the pressure falls by 30 Pa, the fan
    # goes to full speed on its ramp.
    tower, quick = Tower(LOW), replace(settings_of(LARKFIELD), gain=0.8, integral_s=1.0)
    run = run_loop(tower, Conditions.of(LOW, "winter"), Setup(8.0, SAMPLE_S, events=(DoorEvent(0, 1.0, door="exit"),), settings=quick))
    angles, speeds = np.append(np.linspace(0, 5.5, 34) ** 2.4, 90.0), np.linspace(15.0, 50.0, 45)
    exits = np.zeros((len(angles) * len(speeds), 6))
    exits[:, 0] = np.repeat(leaf_share(angles), len(speeds))
    solved = tower.readings(tower.solve(Conditions.of(LOW, "winter", final_exit_open=exits), np.tile(speeds, len(angles))))
    air = [RectBivariateSpline(angles, speeds, tap.reshape(len(angles), -1), kx=1) for tap in solved.T]

    def pressures_at(time, speed):
        angle = 90 * min(max((time - 1.0) / 1.5, 0.0), 1.0)
        return [spline.ev(angle, speed) for spline in air]

    reading, speed = answer(pressures_at, quick, LOW.fan, run.time_s, run.speed_hz[0, 0], SAMPLE_S)
    assert run.speed_hz[-1, 0] == 50.0
    assert np.ptp(run.reading_pa) > 25
    assert run.reading_pa[:, 0] == pytest.approx(reading, abs=0.5)
    assert run.speed_hz[:, 0] == pytest.approx(speed, abs=0.1)
