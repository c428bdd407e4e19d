"""The loop run in time against python-control where it is linear: step answers sample by sample, and the edge of stability.

One sample of the loop: read y, integrate, give the output u; the fan turns at it until the next sample. With the lag sampled exactly
(zero-order hold), the delay in whole samples and a bumpless start (the proportional part does not see the step):

    Y / R = P I / (1 + P (K + I + D)),  I = K Ts z / (Ti (z - 1)),  D = K Td (z - 1) / (Ts z),  P the sampled process

The derivative part looks at the reading alone, not at the set point.
"""

import numpy as np
import pytest
from late_import import imported_late
from loop_airs import OneLag

from helpers.formulas import tuning
from helpers.formulas.tuning import Settings as Numbers
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.loop.controller import ControllerSettings
from helpers.model.loop.run import Setup, run_loop, run_on_air
from helpers.model.site.file import demo_sites, read_site

control = imported_late("control")
LARKFIELD = read_site(demo_sites()["Larkfield House"])
PLAIN = LARKFIELD.with_changes(
    transmitters=[{"signal": "4-20 mA", "converter_bits": 24, "filter_s": 0.0, "range_low_pa": 0.0, "range_high_pa": 100.0}],
    fan={"ramp_s": 0.0, "ramp_down_s": None, "inertia_kg_m2": None, "lowest_speed_hz": 0.1},
    control={"rule": "average"},
)
PA_PER_HZ, LAG_S, DELAY_S, HZ_PER_PERCENT = 1.6, 2.0, 0.5, 0.5
TUNINGS = [(0.6, 1.5), (1.2, 2.0), (1.8, 3.0), (2.6, 2.0), (3.2, 6.0)]


def sampled_process(sample_s):
    delay = control.tf([1], [1] + [0] * round(DELAY_S / sample_s), sample_s)
    return control.sample_system(control.tf([PA_PER_HZ * HZ_PER_PERCENT], [LAG_S, 1]), sample_s, "zoh") * delay


def integral_part(gain, integral_s, sample_s):
    return control.tf([gain * sample_s / integral_s, 0], [1, -1], sample_s)


def set_point_answer(process, gain, integral_s, times, sample_s, derivative_s=0.0):
    """Share of a set point step that has been made good."""
    integral = integral_part(gain, integral_s, sample_s)
    derivative = control.tf([gain * derivative_s / sample_s, -gain * derivative_s / sample_s], [1, 0], sample_s)
    closed = control.minreal(process * integral / (1 + process * (integral + gain + derivative)), verbose=False)
    return control.step_response(closed, times).outputs


def our_run(gain, integral_s, set_point_pa, length_s, sample_s, derivative_s=0.0):
    air = OneLag(PA_PER_HZ, LAG_S, DELAY_S, sample_s, start_hz=12.5)
    settings = ControllerSettings(set_point_pa, 100.0, gain, integral_s, derivative_s=derivative_s)
    return run_on_air(air, PLAIN, Setup(length_s, sample_s, lag_s=0.0), PLAIN.transmitters, settings, 1, 12.5)


@pytest.mark.parametrize(("gain", "integral_s"), TUNINGS)
def test_a_sampled_loop_answers_a_step_as_python_control_says_to_a_thousandth_of_a_pascal(gain, integral_s):
    run = our_run(gain, integral_s, 25.0, 12.0, 0.1)
    answer = set_point_answer(sampled_process(0.1), gain, integral_s, run.time_s, 0.1)
    assert run.reading_pa[:, 0] == pytest.approx(20 + 5 * answer, abs=1e-3)  # what is left is the converter's steps


@pytest.mark.parametrize("derivative_s", [0.1, 0.4])
def test_a_derivative_part_brakes_as_python_control_says(derivative_s):
    run = our_run(1.2, 2.0, 25.0, 12.0, 0.1, derivative_s)
    answer = set_point_answer(sampled_process(0.1), 1.2, 2.0, run.time_s, 0.1, derivative_s)
    assert run.reading_pa[:, 0] == pytest.approx(20 + 5 * answer, abs=2e-3)  # the converter's steps, and the derivative of them
    assert np.abs(answer - set_point_answer(sampled_process(0.1), 1.2, 2.0, run.time_s, 0.1)).max() > 0.005


@pytest.mark.parametrize(("gain", "integral_s"), TUNINGS[:3])
def test_a_quickly_sampled_loop_answers_as_the_continuous_one(gain, integral_s):
    run = our_run(gain, integral_s, 40.0, 15.0, 0.01)
    process = control.tf([PA_PER_HZ * HZ_PER_PERCENT], [LAG_S, 1]) * control.tf(*control.pade(DELAY_S, 8))
    integral = control.tf([gain], [integral_s, 0])
    closed = process * integral / (1 + process * (integral + gain))
    answer = control.step_response(control.minreal(closed, verbose=False), run.time_s)
    assert run.reading_pa[:, 0] == pytest.approx(20 + 20 * answer.outputs, abs=0.15)  # of a step of 20 Pa; sampling is half of that


@pytest.mark.parametrize("integral_s", [1.5, 4.0])
def test_a_run_swings_on_beyond_python_controls_gain_margin_and_calms_within(integral_s):
    process = sampled_process(0.1)
    edge = control.margin(process * (1 + integral_part(1.0, integral_s, 0.1)))[0]
    for share, grows in ((0.9, False), (1.1, True)):
        swing = our_run(share * edge, integral_s, 20.02, 20.0, 0.1).reading_pa[:, 0] - 20.02
        assert (np.ptp(swing[-60:]) > np.ptp(swing[60:120])) == grows
        assert np.ptp(swing) < 15  # no limit was reached: the loop was linear throughout


@pytest.mark.parametrize("integral_s", [1.5, 4.0])
def test_our_margins_are_those_of_the_finely_sampled_loop(integral_s):
    """Exact delay in our frequency response; in python-control a loop sampled every 5 ms, whose hold adds half a sample of delay."""
    sample = 0.005
    sampled = sampled_process(sample) * (1 + integral_part(1.0, integral_s, sample))
    theirs_gain, theirs_phase, *_ = control.stability_margins(sampled, method="frd")
    numbers, gain = Numbers(1.0, integral_s), PA_PER_HZ * HZ_PER_PERCENT

    def loop(w):
        return tuning.controller_response(w, numbers) * tuning.frequency_response(w, gain, [LAG_S], DELAY_S + sample / 2)

    ours = tuning.margins(loop, max(LAG_S, integral_s), DELAY_S)
    assert ours.gain_margin == pytest.approx(theirs_gain, rel=2e-3)
    if np.isfinite(theirs_phase):
        assert ours.phase_margin_deg == pytest.approx(theirs_phase, abs=0.5)


def test_a_stair_answers_half_a_pascal_of_set_point_as_its_linear_model():
    """Small signals: the network's slope at the held speed, the transmitters' lag, the inputs' filter and the controller, all sampled.

    At 30 Pa, below the relief damper: near 40 Pa it lifts, the slope of the stair halves and the answer is no longer a straight line's.
    """
    site = LARKFIELD.with_changes(transmitters=[{"converter_bits": 24}, {"converter_bits": 24}])
    tower, conditions, sample = Tower(site), Conditions.of(site, "winter"), 0.1
    held = tower.hold(conditions, set_point_pa=30.0).air.speed_hz[0]
    ends = tower.readings(tower.solve(Conditions.joined([conditions] * 2), np.array([held - 0.2, held + 0.2]))).mean(axis=1)
    per_percent = np.diff(ends)[0] / 0.4 * site.fan.highest_speed_hz / 100
    z = control.tf([1, 0], [1], sample)
    keep = np.exp(-sample / np.array([0.1, site.transmitters[0].filter_s]))
    process = per_percent * np.prod([(1 - k) * z / (z - k) for k in keep]) / z  # the speed follows at the next sample
    span = site.transmitters[0].range_high_pa / 100
    settings = ControllerSettings(30.5, 100 * span, 0.8, 1.0)
    run = run_loop(tower, conditions, Setup(20.0, sample, settings=settings, start_hz=held, rule="average"))
    answer = set_point_answer(process / span, 0.8, 1.0, run.time_s, sample)
    assert answer[-1] == pytest.approx(1.0, abs=0.01)
    start, step = run.reading_pa[0, 0], 30.5 - run.reading_pa[0, 0]
    assert start == pytest.approx(30.0, abs=0.2)  # the run looks its air up between solved speeds
    assert run.reading_pa[:, 0] == pytest.approx(start + step * answer, abs=0.01 * step)
