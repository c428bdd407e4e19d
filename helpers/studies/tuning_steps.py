"""Step tests on the building's own response: by hand, a little faster and back, at several speeds and door states.

Read as a technician would: the combined reading behind the transmitters' lag and the inputs' filter, the drive on its ramp.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas.step_response import fit_first_order_delay
from helpers.model.loop.run import Setup, run_loop
from helpers.studies.cases import Case, conditions_of

__all__ = ["SPEEDS_PERCENT", "StepTest", "step_tests"]

SPEEDS_PERCENT = (35.0, 50.0, 65.0, 80.0)
STEP_PERCENT, REST_S = 5.0, 5.0
LAGS_WAITED, LEAST_WAIT_S = 12, 8.0  # so many times the lags set, and no less, the reading is given to settle
LEAST_GAIN = 0.02  # %/%: below it the reading hardly answers, and lag and delay mean nothing


@dataclass(frozen=True)
class StepTest:
    """One step test: case, output before the step [% of full speed], reading then [Pa], what was fitted; and why it does not count, if so.

    gain [% of span by % of full speed], above zero whichever way the fan acts, lag_s, delay_s; NaN where nothing was fitted.
    """

    case: Case
    output_percent: float
    reading_pa: float
    gain: float
    lag_s: float
    delay_s: float
    left_out: str = ""


def step_tests(tower, cases, settings, transmitters=None, rule=None, speeds_percent=SPEEDS_PERCENT):
    """Make the step tests of all cases at all speeds that the drive can go. Returns a tuple of `StepTest`.

    Limits: the model's own small noise only; at one storey's readings beyond their range nothing can be told, and the test is left out.
    """
    fan, conditions = tower.site.fan, conditions_of(tower.site, cases)
    lowest = 100 * fan.lowest_speed_hz / fan.highest_speed_hz
    taps = tower.site.transmitters if transmitters is None else transmitters
    wait = max(LEAST_WAIT_S, LAGS_WAITED * max(tap.filter_s for tap in taps))
    air, found = None, []
    for percent in sorted({max(speed, lowest) for speed in speeds_percent if speed + STEP_PERCENT <= 100}):
        up, down, end = REST_S, REST_S + wait, REST_S + 2 * wait
        hand = ((0.0, up, percent), (up, down, percent + STEP_PERCENT), (down, end, percent))
        setup = Setup(end, settings=settings, rule=rule, hand=hand, start_hz=percent * fan.highest_speed_hz / 100)
        run = run_loop(tower, conditions, setup, taps, air)
        air = run.air
        found += [_read(run, number, case, taps) for number, case in enumerate(cases)]
    return tuple(found)


def _read(run, number, case, transmitters):
    output, reading = run.output_percent[:, number], run.reading_pa[:, number]
    test = StepTest(case, float(output[0]), float(reading[0]), np.nan, np.nan, np.nan)
    tubes = run.tubes_pa[:, :, number]
    ends = np.array([(t.range_low_pa, t.range_high_pa) for t in transmitters]).T
    if (tubes <= ends[0]).any() or (tubes >= ends[1]).any():
        return replace(test, left_out="a transmitter is at the end of its range")
    span = float(np.broadcast_to(run.settings.span_pa, run.reading_pa.shape[1])[number])
    if abs(np.ptp(reading)) < LEAST_GAIN * STEP_PERCENT / 100 * span:
        return replace(test, left_out="the reading does not answer")
    try:
        fit = fit_first_order_delay(run.time_s, output, reading / span * 100)
    except ValueError as refusal:
        return replace(test, left_out=f"no fit: {refusal}")
    return replace(test, gain=abs(fit.gain), lag_s=fit.lag_s, delay_s=fit.delay_s)
