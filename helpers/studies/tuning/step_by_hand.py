"""A step test by hand at one stair: the output goes up by a few per cent and back, and a lag with a delay is laid through the reading.

Limits: one weather a case, no gusts and no drift; the air answers at once, so that lag and delay are those of transmitter, filter and
cycle. A site shows more of either.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from helpers.formulas.step_response import StepFit, fit_first_order_delay, step_answer
from helpers.model.loop.events import schedule
from helpers.model.loop.run import Setup, run_on_air
from helpers.model.sweep import AirTable
from helpers.studies.cases import Case, conditions_of, usual_cases
from helpers.studies.tuning.process import STEP_PERCENT
from helpers.studies.tuning.trial import bench

UP_S, BACK_S, END_S = 1.6, 6.0, 10.4


@dataclass(frozen=True)
class StepRecord:
    """A step test and the fit laid through it.

    time_s, output_percent, speed_hz, reading_pa, fitted_pa [samples]; fit: `step_response.StepFit` in % of span by % of full speed;
    largest_gain: of all step tests of this stair, in the same unit.
    """

    case: Case
    time_s: np.ndarray
    output_percent: np.ndarray
    speed_hz: np.ndarray
    reading_pa: np.ndarray
    fitted_pa: np.ndarray
    fit: StepFit
    largest_gain: float


@lru_cache(maxsize=256)
def step_record(output_percent, case_number):
    """Make a step test at Larkfield House: the output before the step [%], the number of one of its usual cases. Returns `StepRecord`.

    Raises ValueError where the fit finds no answer, and for an output that leaves no room for the step.
    """
    place = bench()
    site, span, full = place.site, place.own.span_pa, place.site.fan.highest_speed_hz
    lowest = 100 * site.fan.lowest_speed_hz / full
    if not lowest <= output_percent <= 100 - STEP_PERCENT:
        raise ValueError(f"output_percent must be from {lowest:g} to {100 - STEP_PERCENT:g}, got {output_percent:g}")
    hand = ((0.0, UP_S, output_percent), (UP_S, BACK_S, output_percent + STEP_PERCENT), (BACK_S, END_S, output_percent))
    start_hz = output_percent / 100 * full
    run = run_on_air(_air(case_number), site, Setup(END_S, hand=hand), site.transmitters, place.own, 1, start_hz)
    output, reading = run.output_percent[:, 0], run.reading_pa[:, 0]
    fit = fit_first_order_delay(run.time_s, output, reading / span * 100)
    answer = step_answer(run.time_s, [0.0, UP_S, BACK_S], [percent for *_, percent in hand], fit.lag_s, fit.delay_s)
    fitted = span / 100 * (fit.reading_at_rest + fit.gain * (answer - output_percent))
    cases = usual_cases(site)
    return StepRecord(cases[case_number], run.time_s, output, run.speed_hz[:, 0], reading, fitted, fit, place.largest_gain(span))


@lru_cache
def _air(case_number):
    place = bench()
    conditions = conditions_of(place.site, [usual_cases(place.site)[case_number]])
    return AirTable.of(place.tower, schedule(place.tower, conditions, (), END_S))
