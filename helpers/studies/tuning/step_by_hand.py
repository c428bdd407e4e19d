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
from helpers.studies.duty.relief_damper import open_share
from helpers.studies.tuning.process import STEP_PERCENT, WINDOW_PERCENT
from helpers.studies.tuning.trial import bench

UP_S, BACK_S, END_S = 1.6, 6.0, 10.4
EVERY_PERCENT = 1.0  # of full speed, at which doors are tried


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


def over_the_bend(output_percent, case_number):
    """Whether a step from an output [%] runs over the place where the gain is largest, in that case, and so shows less than there is."""
    place = bench()
    ends = place.found.output_percent + WINDOW_PERCENT / 2
    return usual_cases(place.site)[case_number] == place.found.case and output_percent < ends < output_percent + STEP_PERCENT


def best_made_from(outputs_percent):
    """Which of some outputs [%] a step test is best made from: the one whose step shows most in the case of the largest gain. Only those
    whose step ends no farther than two steps from there are tried. Raises ValueError where none of them is."""
    place = bench()
    number, at = usual_cases(place.site).index(place.found.case), place.found.output_percent
    near = [output for output in outputs_percent if abs(output - at) <= 2 * STEP_PERCENT]
    if not near:
        raise ValueError(f"outputs_percent must hold one within {2 * STEP_PERCENT:g} % of {at:g} %, got {outputs_percent!r:.60}")
    return max(near, key=lambda output: float(abs(step_record(output, number).fit.gain)))


@lru_cache
def relief_open(output_percent, case_number):
    """Whether the stair's relief damper has lifted before the step from an output [%], in one of the usual cases: above that it lets out
    what a faster fan brings, and the reading answers less. Steady air, its blade as set (`relief_damper.open_share`)."""
    place = bench()
    conditions = conditions_of(place.site, [usual_cases(place.site)[case_number]])
    found = place.tower.solve(conditions, np.array([output_percent / 100 * place.site.fan.highest_speed_hz]))
    return bool(open_share(place.tower, conditions, found.stair_pa)[0] > 0)


@lru_cache
def heavy_from(case_number):
    """(lowest output [%] at which a shut stair door takes more than it may, its storey) in one of the usual cases; None where none does.

    Steady air, whole per cents of full speed; the window as `pressure_window`, leakage and closer as the site file has them.
    """
    place = bench()
    site, tower, case = place.site, place.tower, usual_cases(place.site)[case_number]
    full = site.fan.highest_speed_hz
    outputs = np.arange(np.ceil(100 * site.fan.lowest_speed_hz / full), 100 + EVERY_PERCENT, EVERY_PERCENT)
    conditions = conditions_of(site, [case]).rows(np.zeros(outputs.size, int))
    found = tower.solve(conditions, outputs / 100 * full)
    most = place.window.by_storey(tower.levels, "stair door", doors_open=not case.shut)[1]
    past = np.where(conditions.stair_door_open == 0, found.door_dp_pa - most, -np.inf)
    heavy = np.flatnonzero((past > 0).any(axis=1))
    return (float(outputs[heavy[0]]), int(tower.levels[past[heavy[0]].argmax()])) if heavy.size else None


@lru_cache
def _air(case_number):
    place = bench()
    conditions = conditions_of(place.site, [usual_cases(place.site)[case_number]])
    return AirTable.of(place.tower, schedule(place.tower, conditions, (), END_S))
