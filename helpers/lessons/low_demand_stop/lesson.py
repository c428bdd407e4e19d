"""Lesson 09's page: an evening, a night and a morning of Mill Street Offices under one rule, or a stair that refuses it."""

from functools import cache

import numpy as np

from helpers.formulas import low_demand
from helpers.formulas.low_demand import LowDemandRule
from helpers.lessons.low_demand_stop import questions
from helpers.lessons.page import LessonParts
from helpers.plots.charts import trend
from helpers.plots.markup import Verdict
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axis, Line
from helpers.plots.style import MUTED, REFERENCE, Pen
from helpers.studies.low_demand import verdict as judged
from helpers.studies.low_demand.night import ENDS_S, NIGHT_OPENINGS
from helpers.studies.low_demand.study import ACROSS
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Slider

MODES = {"comfort": "normal", "smoke control": "fire"}  # the stair's fan
DEFICITS_PA = np.array([180.0, 10.0])  # of a restart: more than the set point, to little
ROOM_PA, ROOM_HZ = 230.0, 35.0  # held by the axes, so that they stand still
NOTE_H, NOTES_HZ = 0.9, (12.0, 5.0)  # where the notes end, in the empty corner under the evening's speed
STOPS = Pen(MUTED, width=8.0, cap="butt")  # bars on the axis
SHARES = 0.19, 0.81  # of the picture: the window is in the lower one
SHUT, OPEN = "the last leave", "the first come"  # no wider than the axes
EVENTS = (SHUT, ENDS_S[0] / 3600), (OPEN, ENDS_S[1] / 3600)
WITH, WITHOUT, STOPPED = "with this stop", "without a stop", "stopped"


@cache
def panel():
    """The panel, one in a notebook."""
    own = judged.own_rule()
    controls = {
        "threshold_hz": Slider("Stop below", "frequency", 12.0, 35.0, 0.5, own.stop_below_hz),
        "stop_after_s": Slider("Stop delay", "time", 10.0, 900.0, 10.0, own.stop_after_s),
        "restart_pa": Slider(
            "Restart under", "pressure", *judged.from_set_point_pa(DEFICITS_PA), 5.0, judged.from_set_point_pa(own.restart_error)
        ),
        "restart_after_s": Slider("Restart delay", "time", 30.0, 3600.0, 30.0, own.restart_after_s),
        "opening": Slider("Open at night", "ratio", NIGHT_OPENINGS[0], NIGHT_OPENINGS[-1], 0.02, 0.0),
        "mode": Choice("Mode", MODES, "normal"),
    }
    groups = {
        "Stops": ("threshold_hz", "stop_after_s"),
        "Starts again": ("restart_pa", "restart_after_s"),
        "In smoke control never a stop": ("mode", "opening"),
    }
    return Panel(controls, Picture(**PANEL_PX), _answer, groups=groups, read=READ, tasks=TASKS)


def _answer(threshold_hz, stop_after_s, restart_pa, restart_after_s, opening, mode):
    if mode == "fire":
        refused = judged.refused()
        head = "Refused: no low-demand stop in smoke control"
        prove = "Do: prove at handover, fire signal on, that no such stop can stop the fan"
        return Verdict("entry", refused.says, head, case=f"{refused.site_name}, smoke control", do=prove), _fire(refused)
    rule = LowDemandRule(threshold_hz, stop_after_s, judged.from_set_point_pa(restart_pa), restart_after_s)
    found = judged.judge(min(NIGHT_OPENINGS, key=lambda known: abs(known - opening)), rule)
    case = judged.mill_street().site.name
    return Verdict(found.kind, found.says(), found.headline(), found.tiles(), case=case, do=found.to_do()), _night(found)


READ = (
    "Above: the reading in the duct; the last leave and their boxes shut, the first come and theirs open. Below: the fan's speed. The "
    "solid line is the fan with this stop, the grey dashed one the same night without it. The grey bars on the axis of time are where the "
    "fan is stopped. The pale band in the lower picture is where the stop threshold may lie: between the fan's idle speed at night "
    "and the evening's duty, a margin kept to both. The dotted line is your threshold. In the upper picture the dash-dotted line is the "
    "reading below which the restart delay counts: the set point less the restart deficit, at the start "
    f"{with_unit(150.0, 'pressure')} - {with_unit(60.0, 'pressure')} = {with_unit(90.0, 'pressure')}.\n"
    "The motor's starts are those it bears run across the line; on its drive it starts softly.\n"
    "The picture is one night; its morning is not the worst. Late is the air as long as the reading is below nine tenths of the set point "
    "while somebody asks for air; at worst the fan has "
    f"stopped just as the first come. Over {judged.minutes(judged.LONG_WAIT_S)} is CHECK, a limit of ours. All figures have what the rule "
    "does, then its price: starts an hour, time short of pressure, and power.\n"
    "The waits are set in seconds: 5 min are 300 s, 20 min are 1200 s."
)
TASKS = (
    Task("Stop below down to 16 Hz. Look for the bars. What does the fan do all night, and why?",
         {"threshold_hz": 16.0}),
    Task("Stop below up to 26 Hz. Look at the first hour: people are there. What does the reading do?", {"threshold_hz": 26.0}),
    Task("Stop below 21 Hz, Stop delay 60 s, Restart delay 30 s. The threshold is right. Count the starts against what the motor may make.",
         {"threshold_hz": 21.0, "stop_after_s": 60.0, "restart_after_s": 30.0}),
    Task("Stop delay 300 s, Restart delay to the far right. The motor is happy. Who is not? When is the reading back after the first come?",
         {"stop_after_s": 300.0, "restart_after_s": 3600.0}),
    Task("Restart under to the far left, below zero. Which reading would start the fan? Look at the morning.", {"restart_pa": -30.0}),
    Task("Mode: smoke control. The panel now shows the stair of Larkfield House. Read the verdict aloud; the fan runs on.",
         {"mode": "fire"}),
    Task("If you have ten minutes more: Open at night slowly to the right, boxes left open. What becomes of the pale band?",
         {"opening": NIGHT_OPENINGS[-1]}),
)  # fmt: skip


def _night(found):
    night, plain, rule = found.night, found.plain, found.rule
    idle, duty = found.ends_hz
    low, high = low_demand.threshold_window(idle, duty, judged.MARGIN_HZ)
    low, high = (low, high) if low < high else (np.nan, np.nan)
    starts_at = judged.from_set_point_pa(rule.restart_error)
    pressures = (
        (f"set point {_pressure(found.set_point_pa)}", found.set_point_pa, "set point"),
        (f"restart under {_pressure(starts_at)}", starts_at, ""),
    )
    speeds = (
        ("", low, "least"),
        ("", high, "most"),
        (f"night {judged.hertz(idle)}", idle, ""),
        (f"stop below {judged.hertz(rule.stop_below_hz)}", rule.stop_below_hz, "set point"),
        (f"evening {judged.hertz(duty)}", duty, ""),
    )
    upper = _curve(WITHOUT, plain, plain.reading_pa), _curve(WITH, night, night.reading_pa)
    lower = _curve(WITHOUT, plain, plain.speed_hz), _curve(WITH, night, night.speed_hz), _stopped(night)
    return _trend("Mill Street Offices, evening, night and morning", (upper, pressures), (lower, speeds), notes=_notes(night, plain))


def _fire(refused):
    hours = np.array([0.0, ENDS_S[-1]]) / 3600
    pressures = [(f"set point {_pressure(refused.set_point_pa)}", refused.set_point_pa, "set point")]
    upper, lower = ([Line(hours, np.repeat(value, 2), label="fan runs on")] for value in (refused.reading_pa, refused.speed_hz))
    return _trend(f"{refused.site_name} in smoke control: no stop", (upper, pressures), (lower, ()), (), of="Stair")


def _notes(night, plain):
    """What the curves and bars are, in the empty corner of the evening, each with a line to the first place where it is seen."""
    first, dark_h = (night.stops_s[0] / 3600 if len(night.stops_s) else None), ENDS_S[0] / 3600
    if first is None:
        return (
            (
                1,
                "it never stops",
                (NOTE_H, NOTES_HZ[0]),
                (dark_h + 0.1, float(np.interp(3600 * dark_h + 360, night.time_s, night.speed_hz))),
            ),
        )
    seen = max(first, dark_h) + 0.06
    idle = float(np.interp(3600 * seen, plain.time_s, plain.speed_hz))
    return (1, WITHOUT, (NOTE_H, NOTES_HZ[0]), (seen, idle)), (1, "fan stopped", (NOTE_H, NOTES_HZ[1]), (first + 0.03, 0.8))


def _trend(title, upper, lower, events=EVENTS, notes=(), of="Duct"):
    axes = (Axis(of, "pressure", room=(0.0, ROOM_PA)), *upper), (Axis("Speed", "frequency", room=(0.0, ROOM_HZ)), *lower)
    caption = "Lowest of two readings and fan speed over an evening, a night cut short, and a morning."
    return trend("low demand", title, "Time [h]", axes, events, columns=0, shares=SHARES, caption=caption, notes=notes, headed=False)


def _curve(label, night, values):
    return Line(night.time_s / 3600, np.round(values, 3), REFERENCE if label == WITHOUT else None, label)


def _stopped(night):
    """A bar for every stop, from the stop to the next start."""
    ends = np.append(night.starts_s, ENDS_S[-1])[: len(night.stops_s)]
    if len(ends) == 0:
        return Line(np.array([0.0]), np.array([np.nan]), STOPS, STOPPED, over="x")
    times = np.stack([night.stops_s, ends, ends], axis=1).ravel() / 3600
    return Line(times, np.tile([0.03, 0.03, np.nan], len(ends)), STOPS, STOPPED, over="x")


def _pressure(pressure_pa):
    return with_unit(pressure_pa, "pressure")


def _lines():
    own, hasty = (judged.judge(0.0, rule) for rule in (judged.own_rule(), questions.HASTY))
    leaky = judged.judge(questions.LEAKY, judged.own_rule())
    low, high = low_demand.threshold_window(*own.ends_hz, judged.MARGIN_HZ)
    idle, duty, margin, alone = map(judged.hertz, (*own.ends_hz, judged.MARGIN_HZ, judged.shutoff_hz()))
    set_point, wait = with_unit(own.set_point_pa, "pressure"), judged.minutes(own.rule.restart_after_s)
    short, plain = (judged.minutes(night.short_s[judged.DAY]) for night in (own.night, own.plain))
    worst = judged.at_worst(own.worst_morning_s)
    kept = f"{own.saved_kwh:.0f} kWh a year ({leaky.saved_kwh:.0f} with a tenth of each box open)"
    often, seldom, most = hasty.starts_per_hour, own.starts_per_hour, own.allowed.per_hour
    return (
        f"Threshold between idle speed ({idle}) and lowest duty ({duty}), {margin} kept to both: {low:.1f} to {high:.1f} Hz.",
        f"Without flow the fan only just reaches {set_point} at {alone}: full speed times the root of set point over shut-off pressure.",
        f"The waits set the starts: short ones {often:.1f} an hour, long ones {seldom:.1f}; the motor may make at most {most:.1f} "
        f"{ACROSS}.",
        f"It saves {kept}; in the morning the air may come {worst} late at worst (the restart delay of {wait}, the fall and the fan's "
        f"run-up), {short} in this night, {plain} without a stop. Efficiencies are constant here, so power at small flow comes out too "
        "low: measure.",
        "In smoke control no energy function stops the fan, at no threshold. A stopped fan cannot tell whether air is wanted: a clock or a "
        "contact can.",
    )


page = LessonParts("low_demand_stop", _lines, ("shutoff_speed", "motor_starts"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
