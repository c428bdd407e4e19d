"""The first panel of lesson 08: a step test by hand, and the gain, lag and delay that are read off it."""

import math
from functools import cache

from helpers import units
from helpers.panels.controls import Choice, Slider
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.trend import TrendDrawing
from helpers.panels.verdict import Verdict
from helpers.studies.cases import usual_cases
from helpers.studies.pictures import Curve, Event, Limit, Trend, TrendAxes
from helpers.studies.step_record import BACK_S, UP_S, step_record
from helpers.studies.tried_tuning import bench
from helpers.studies.tuning_steps import STEP_PERCENT

__all__ = ["step_panel"]

ROOM = (-0.5, 5.0)  # of both axes, below zero too: a swing below it must not draw all anew
SHOWN = 1 - 1 / math.e  # of the way, one lag after the delay
NEAR_LARGEST = 0.75  # of the largest gain: a tuning made for this one will do for all; ours


@cache
def step_panel():
    """The panel, one in a notebook."""
    cases = {case.name: number for number, case in enumerate(usual_cases(bench().site))}
    controls = {
        "output_percent": Slider("Output before", "percent", 30.0, 90.0, 2.0, 50.0),
        "case": Choice("Case", cases, 0),
    }
    return Panel(controls, Picture(TrendDrawing(), height_px=500), _answer)


def _answer(system, output_percent, case):
    found = step_record(output_percent, case)
    rest = found.fit.reading_at_rest
    read, fitted = (100 * pressure / bench().own.span_pa - rest for pressure in (found.reading_pa, found.fitted_pa))
    most = float(abs(found.fit.gain)) * STEP_PERCENT
    upper = TrendAxes(
        "Reading [% of span]",
        (Curve("reading", found.time_s, read), Curve("one lag and a delay", found.time_s, fitted, "reference")),
        (Limit("all the way", most), Limit("63 % of it", SHOWN * most)),
        ROOM,
    )
    speed = 100 * found.speed_hz / bench().site.fan.highest_speed_hz - output_percent
    moves = (Curve("output", found.time_s, found.output_percent - output_percent), Curve("speed of the fan", found.time_s, speed))
    events = (Event(f"{STEP_PERCENT:g} % up", UP_S), Event("and back", BACK_S))
    lower = TrendAxes("Output [%]", moves, room=ROOM)
    return _verdict(found, system), Trend("step", "A step test by hand", "", "Time [s]", (upper, lower), events)


def _verdict(found, system):
    fit, most = found.fit, found.largest_gain
    moved = abs(fit.gain) * STEP_PERCENT
    pressure = units.show(moved / 100 * bench().own.span_pa, "pressure", system, 1 if system == "Pa" else 3)
    read = (
        f"Gain {fit.gain:.2f} %/%: {STEP_PERCENT:g} % more output moves the reading by {pressure}, {moved:.1f} % of span. After a delay "
        f"of {units.show(fit.delay_s, 'time', system, 2)} it follows with a lag of {units.show(fit.lag_s, 'time', system, 2)}."
    )
    if fit.gain >= NEAR_LARGEST * most:
        return Verdict(
            "good", f"{read} The largest gain at any speed is {most:.2f} %/%: a loop tuned for this test has room enough elsewhere."
        )
    return Verdict(
        "attention",
        f"{read} But elsewhere the gain is {most:.2f} %/%: a loop tuned for this test would be {most / fit.gain:.1f} times too hot there.",
    )
