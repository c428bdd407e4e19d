"""Lesson 08's page: a step test by hand, and one tuning of Larkfield House tried on a door that opens and shuts."""

import math
from dataclasses import replace
from functools import cache

import numpy as np

from helpers.lessons.average_lowest_highest.no_set_point import SECTION, pointed_at
from helpers.lessons.page import MEANWHILE, LessonParts
from helpers.lessons.tuning_and_door_events.judged import tuning_verdict
from helpers.lessons.tuning_and_door_events.told import pair_told, ramp_held, ramp_line, remedies_told, simc_told, study_told
from helpers.plots.charts import trend
from helpers.plots.markup import Verdict
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axis, Line
from helpers.plots.style import PAPER, ROLES
from helpers.record.design import Design
from helpers.record.standing import ACTION, FAN, NOT_LAID_DOWN, RAMP, SET_POINT
from helpers.studies.cases import usual_cases
from helpers.studies.commissioning.steps.not_run import NOT_RUN, ceiling_shown
from helpers.studies.duty.permissible_speed import SHOWN_HZ, ceiling_of
from helpers.studies.status import word_of
from helpers.studies.tuning.candidate import asked_text, numbers_text
from helpers.studies.tuning.findings import ramps_doubted
from helpers.studies.tuning.process import STEP_PERCENT
from helpers.studies.tuning.step_by_hand import BACK_S, UP_S, best_made_from, heavy_from, over_the_bend, relief_open, step_record
from helpers.studies.tuning.times_said import bare, seconds_text
from helpers.studies.tuning.trial import OPENS_S, RAMPS_S, SHUTS_S, Trial, bench
from helpers.units.limits import ENDS, limit_text
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Reading, Task
from helpers.widgets.sliders import Slider, Steps

STEP_TITLE = "Stair unprotected: building, alarm, fire service told; one at drive"  # a caution that is seen whatever the verdict says
ROOM = (0.0, 5.0)  # of the output's axis
TOPS_PERCENT = (2.0, 4.0, 8.0, 16.0)  # of the reading's axis, the first that holds the step: it is read off in quarters of that
FIT_EVERY, FITTED = 4, ROLES["alternative"].but(line="", marker="o", size=6.0, face=PAPER, stroke=1.6)  # dots on the reading
ROOM_ABOVE, BELOW = 1.05, 0.06  # of the step; of the axis, below zero
SHOWN = 1 - 1 / math.e  # of the way, one lag after the delay
OUTPUTS_PERCENT = 30.0, 90.0, 2.0  # from, to, step of the slider
NEAR_LARGEST = 0.75  # of the largest gain: a tuning made for this one will do for all; ours


LOWER = "page 18's ceiling where lower"  # beside the ceiling of a file as drawn


@cache
def step_test():
    """The panel, one in a notebook."""
    cases = {_briefly(case.name): number for number, case in enumerate(usual_cases(bench().site))}
    controls = {
        "output_percent": Slider("Output before", "percent", *OUTPUTS_PERCENT, 50.0),
        "case": Choice("Case, doors open", cases, 0),
    }
    return Panel(controls, Picture(**PANEL_PX), _answer, groups={"The test": tuple(controls)}, read=READ, tasks=_step_tasks())


READ = (
    "Below: the change of the output, and that of the fan, which the ramp lets follow. Above: that of the reading, counted from where it "
    "stood, in per cent of span, "
    "and on it as open dots one lag with a delay, laid through it by least squares. Gain is the height above divided by the height "
    "below; the upper axis ends at 2, 4 or 8 %, as the step needs. The lag is the time from the end of the delay until the reading "
    "crosses the line of 63 %.\n"
    "6 + 7: the stair doors of those storeys stand open; first minute: the stair is still as warm as the rooms."
)


def _briefly(name):
    """A case's name as short as a list has room for: weather, storeys with an open door, the stair's air."""
    for said, brief in (("stair doors ", ""), ("stair door ", ""), (" and ", " + "), (" open", ""), (", final exit", " + exit")):
        name = name.replace(said, brief)
    return name


def _step_tasks():
    """To try at the step test."""
    return (
        Task("Set it so (model only), look at the picture alone: upper step divided by lower step is the gain. Then check with the tile.",
             {"output_percent": 62.0}),
        Task("Move Output before from 30 to 90 %. Does the gain stay what it was? At which speed is it largest?", {"output_percent": 30.0}),
        Task("Choose a case with doors open. What happened to the gain, and to lag and delay? What would a long tube do to them?",
             {"case": next(number for number, case in enumerate(usual_cases(bench().site)) if not case.shut)}),
        Task("Which of these tests would you tune for, and why not for the one at 50 %, as the panel opens? Find one that ends with PASS.",
             {"output_percent": 42.0, "case": 0}))  # fmt: skip


def _answer(output_percent, case):
    found = step_record(output_percent, case)
    rest = found.fit.reading_at_rest
    read, fitted = (100 * pressure / bench().own.span_pa - rest for pressure in (found.reading_pa, found.fitted_pa))
    most = float(abs(found.fit.gain)) * STEP_PERCENT
    some = slice(None, None, FIT_EVERY)
    readings = Line(found.time_s, read, label="change of reading"), Line(found.time_s[some], fitted[some], FITTED, "one lag and a delay", 5)
    limits = ("all the way", most, ""), ("63 % of it", SHOWN * most, "")
    speed = 100 * found.speed_hz / bench().site.fan.highest_speed_hz - output_percent
    moves = Line(*_as_set(found, output_percent), label="change of output"), Line(found.time_s, speed, label="change of fan speed")
    events = (f"{STEP_PERCENT:g} % up", UP_S), ("and back", BACK_S)
    top = next((top for top in TOPS_PERCENT if top >= ROOM_ABOVE * most), ROOM_ABOVE * most)
    places = np.linspace(0.0, top, 5)
    ticks = places, [f"{place:.3g}" for place in places]
    axes = (Axis("Change [%]", ends=(-BELOW * top, top), ticks=ticks), readings, limits), (Axis("Change [%]", room=ROOM), moves, ())
    return _verdict(found, output_percent, case), trend("step", STEP_TITLE, "Time [s]", axes, events)


def _as_set(found, before_percent):
    """Times and output as a hand sets it: straight up and straight down, at the moments that the picture names."""
    up = found.output_percent[(found.time_s > UP_S) & (found.time_s < BACK_S)].mean() - before_percent
    return np.array([found.time_s[0], UP_S, UP_S, BACK_S, BACK_S, found.time_s[-1]]), np.array([0.0, 0.0, up, up, 0.0, 0.0])


def _verdict(found, output_percent, case):
    fit, most = found.fit, found.largest_gain
    moved = abs(fit.gain) * STEP_PERCENT
    pressure = with_unit(moved / 100 * bench().own.span_pa, "pressure", (1, 3))
    read = (
        f"Gain {fit.gain:.2f} %/%: {STEP_PERCENT:g} % more output moves the reading by {pressure}, {moved:.1f} % of span. After a delay "
        f"of {with_unit(fit.delay_s, 'time', 2)} it follows with a lag of {with_unit(fit.lag_s, 'time', 2)}."
    )
    tiles = (
        ("Gain", f"{fit.gain:.2f}", f"largest {most:.2f} %/%"),
        ("Lag", with_unit(fit.lag_s, "time", 2), ""),
        ("Delay", with_unit(fit.delay_s, "time", 2), ""),
    )
    at, ceiling = bench().found, ceiling_of(bench().site)
    largest = f"The largest gain is {most:.2f} %/%, at {at.output_percent:.0f} % of full speed ({at.case.name}): {at.slope_said()}."
    from_hz, to_hz = (_speed_hz(one) for one in (output_percent, output_percent + STEP_PERCENT))
    lower = "" if ceiling.measured else " (page 18's where lower)"  # a step that the building as measured forbids is none to make
    step = f"{from_hz:.1f} to {to_hz:.1f} Hz{lower}"
    place = LOWER if lower and ceiling.passed_by(to_hz) else step  # the head of a step that is not run has its speed already
    where = "; ".join(filter(None, (place, _watched(to_hz, ceiling))))
    largest += " The relief damper is open before this step." * relief_open(output_percent, case)
    lively = f"A loop tuned for this test would be {most / fit.gain:.1f} times too lively there."
    bend = "This runs over the bend: start lower." * over_the_bend(output_percent, case)
    by_hand = f"In manual: {ceiling.by_hand_said or 'no speed of this drive'}. {ceiling.as_drawn_said}".rstrip()
    on_site = f"{MEANWHILE} {by_hand} {_hardest_said(output_percent, case)}"
    if ceiling.passed_by(to_hz):
        not_run = f"{NOT_RUN} on this building: the step ends at {to_hz:.1f} Hz, {ceiling_shown(ceiling)} is the ceiling in manual."
        return Verdict(
            "wrong", f"{not_run} {read} {largest} {lively * (fit.gain < NEAR_LARGEST * most)} {bend} {on_site}",
            f"Step to {to_hz:.1f} Hz: {NOT_RUN}, ceiling {ceiling_shown(ceiling)}", tiles,
            case=where, do=_step_to_do(output_percent, case),
        )  # fmt: skip
    if fit.gain >= NEAR_LARGEST * most:
        return Verdict(
            "good", f"{read} {largest} This test is near it: tune for the largest, and the loop has room enough elsewhere. {on_site}",
            f"Gain {fit.gain:.2f} %/%, near the largest, {most:.2f} %/%: tune for the largest", tiles, case=where,
        )  # fmt: skip
    return Verdict(
        "attention", f"{read} {largest} {lively} {bend} {on_site}",
        f"Largest gain {most / fit.gain:.1f} times this test's {fit.gain:.2f}: tuned here, may oscillate", tiles,
        case=where, do=_step_to_do(output_percent, case),
    )  # fmt: skip


def _speed_hz(output_percent):
    return output_percent / 100 * bench().site.fan.highest_speed_hz


def _watched(speed_hz, ceiling):
    """That a final exit has to be watched at a speed by hand, in words; "" where it shuts again, and above the ceiling."""
    watched = not speed_hz <= ceiling.by_hand_hz + SHOWN_HZ / 2 and not ceiling.passed_by(speed_hz)
    return f"above {ceiling.by_hand_hz:.1f} Hz only with {ceiling.closes_door} watched" if watched else ""


def _hardest_said(output_percent, case):
    """From which output on a shut stair door is too heavy in this case, where the step gets there; "" else."""
    heavy = heavy_from(case)
    past = heavy is not None and output_percent + STEP_PERCENT >= heavy[0]
    return f"In this case stair door {heavy[1]} is too heavy from {heavy[0]:.0f} % on." if past else ""


def _step_to_do(output_percent, case):
    """From where the test is made whose gain is near the largest: one from the very speed of the largest shows less."""
    low, high, step = OUTPUTS_PERCENT
    best = best_made_from(tuple(np.arange(low, high + step, step).tolist()))
    ends_hz, ceiling = _speed_hz(best + STEP_PERCENT), ceiling_of(bench().site)
    if ceiling.passed_by(ends_hz):
        return f"Do: step below {ceiling_shown(ceiling)} alone"
    watched = f", watch {ceiling.closes_door}" * bool(_watched(ends_hz, ceiling))
    shut = "" if over_the_bend(output_percent, case) else f", {_briefly(bench().found.case.name)}"
    return f"Do: tell all{watched}. Step from {best:.0f} %, {_speed_hz(best):.1f} to {ends_hz:.1f} Hz{shut}"


GAINS = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 12.0, 20.0)
INTEGRALS_S = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 20.0, 30.0)
ROOM_PA = (0.0, 90.0)


@cache
def panel():
    """The panel, one in a notebook; the site's own settings to begin with."""
    place = bench()
    own = place.own_trial
    safe = place.advised(own)  # what the page calls calm is among the figures that can be
    other = next(name for name in place.doors if name != own.door)
    slow = _followed(place, other)
    gains, integrals = (tuple(sorted({*offered, *more})) for offered, more in _offered(own, safe, slow))
    controls = {
        "gain": Steps("Gain [%/%]", gains, own.gain),
        "integral_s": Steps("Integral time [s]", integrals, own.integral_s),
        "ramp_s": Slider("Drive's ramp", "time", float(RAMPS_S[0]), float(RAMPS_S[-1]), 0.5, own.ramp_s),
        "filter_s": Slider("Filter", "time", 0.0, 5.0, 0.1, own.filter_s),
        "span_pa": Slider("Span", "pressure", 75.0, 500.0, 5.0, own.span_pa),
        "door": Choice("Door", tuple(place.doors), own.door),
    }
    groups = {"The controller": ("gain", "integral_s", "span_pa"), "On the way": ("filter_s", "ramp_s"), "The event": ("door",)}
    tasks = _tuning_tasks(safe or (own.gain, own.integral_s), slow)
    return Panel(controls, Picture(**PANEL_PX), _tuning_answer, groups=groups, read=READ_TUNING, tasks=tasks)


def _tuning_answer(**values):
    place = bench()
    found = place.attempt(Trial(**values))
    return tuning_verdict(place, found), _trend(place, found)


def _trend(place, found):
    """Reading and shut doors above, speed below."""
    window, full = place.window, place.site.fan.highest_speed_hz
    levels = (("most", window.most_pa), ("set point", place.own.set_point_pa), ("least", window.least_pa))
    limits = [(f"{kind} {_level_text(kind, pa)}", pa, kind) for kind, pa in levels]
    named = {
        "reading (average)": found.reading_pa,
        f"highest, door {found.heavy_level} at peak": found.heaviest_pa,  # those of the tiles
        f"lowest, door {found.low_level} at worst" if np.isfinite(found.low_pa) else "lowest": found.lightest_pa,
    }
    curves = [Line(found.time_s, values, label=label) for label, values in named.items()]
    speed = [(f"full speed {with_unit(full, 'frequency', 0)}", full, "")]
    axes = (
        (Axis("Pressure", "pressure", room=ROOM_PA), curves, limits),
        (Axis("Speed", "frequency", room=(0.0, 55.0)), [Line(found.time_s, found.speed_hz)], speed),
    )
    many = " and " in found.trial.door
    events = ("doors open" if many else "door opens", OPENS_S), ("doors shut" if many else "door shuts", SHUTS_S)
    return trend("tried", f"{place.site.name}, {place.weather}", "Time [s]", axes, events, columns=3)


def _level_text(kind, pressure_pa):
    """A level of the picture: a limit rounded inwards, another one as usual."""
    if kind in ENDS and np.isfinite(pressure_pa):
        return limit_text(pressure_pa, "pressure", kind)
    return with_unit(pressure_pa, "pressure")


def _followed(place, door):
    """Controls of a stair door, a ramp that motor and brake follow, and the pair that stays calm behind it."""
    own = place.own_trial
    there = replace(own, ramp_s=place.followed_s or own.ramp_s)
    gain, integral_s = place.advised(there) or (own.gain, own.integral_s)
    return {"door": door, "ramp_s": there.ramp_s, "gain": gain, "integral_s": integral_s}


def _offered(own, safe, slow):
    """Gains and integral times of the sliders, each with the site's own and those that stay calm."""
    safe_gain, safe_integral = safe or (own.gain, own.integral_s)
    return (GAINS, (own.gain, safe_gain, slow["gain"])), (INTEGRALS_S, (own.integral_s, safe_integral, slow["integral_s"]))


READ_TUNING = (
    "Above, three pressures: the reading that the controller holds (the average of two transmitters), and across all stair doors that "
    "are shut the highest pressure and the lowest. The pale band is the window from lesson 01: above it people cannot open, below it smoke "
    "comes through. Below: the fan. All figures: how soon the airflow recovers, the force at the handles, the room before the "
    "loop swings, over the whole range of lags and delays, and what would stay calm. The ramp set here is that of both ways.\n"
    "The curves are those of the loop as the site file states it. A tuning can look splendid there and swing on site."
)


def _tuning_tasks(safe, slow):
    """To try at the tuning; safe: gain and integral time that stay calm, slow: controls of another door and of a ramp that is followed."""
    calm = dict(zip(("gain", "integral_s"), safe, strict=True))
    return (
        Task("The site's own tuning, as it stands: does the airflow recover (All figures)? Follow the highest pressure after the door has "
             "shut."),
        Task("Integral time down to 0.5 s, then Gain up to 1: quicker, and calm in the picture. What does Calm? say, in which corner?",
             {"integral_s": 0.5, "gain": 1.0}),
        Task("Go on to gain 6. Opening gets no quicker than the ramp alone: look at the speed. Why is no time given at all?",
             {"integral_s": 0.5, "gain": 6.0}),
        Task("The calm pair, model only: at least how much sooner does the airflow recover than with the site's own, and what does the "
             "handle pay?", calm),
        Task("The calm pair, Drive's ramp 12 s: do the seconds after the door change, or only the gain margin?",
             {**calm, "ramp_s": 12.0}),
        Task("A stair door, a ramp that the motor follows, the calm pair for it: which lines PASS, and what is left that no tuning mends?",
             slow))  # fmt: skip


def study():
    """What a study of all weathers found: every step test, every tuning tried, and what a filter costs."""
    found = _studied()
    return Reading(lambda: study_told(found, _first(), pointed_at(), _ramp_line()))


def remedies():
    """What helps where tuning alone does not."""
    found = _studied()
    return Reading(lambda: remedies_told(found, _enough(found), _standing().first(SET_POINT, ACTION, FAN, RAMP), _held()))


def _enough(found):
    """What of all that was tried is enough by itself, and what was not tried."""
    works = ", ".join(one.name for one in found.remedies if one.works) or "nothing"
    return f'{works}. Lighter closers are not tried here: for what they do see page 06, "{SECTION}"'


def _studied():
    return bench().study


@cache
def _ramp_line():
    return ramp_line(_studied(), _held())


@cache
def _held():
    return ramp_held(_studied())


@cache
def _standing():
    """What of the site file the record lets stand: numbers that hang on the rest are not told to be set."""
    return Design(bench().site).standing


def _first():
    """What has to be put right before a tuning is entered; "" for nothing."""
    return _standing().first(SET_POINT, ACTION, FAN, RAMP).removeprefix(NOT_LAID_DOWN)


def _set_here(numbers, span):
    """The numbers to enter, or that they may not be entered yet."""
    first = _first()
    held = f"{numbers}, on a span of {span}; twice the span needs twice the gain"
    if first:
        told = " ".join(
            filter(None, (f"Found here; do not enter it before this is put right: {first.removeprefix('first ')}.", pointed_at()))
        )
        return f"{told} The calm pair, the fastest that stays calm: {held}.{pair_told(_studied(), lacks=True)}"
    doubted, mark = ramps_doubted(_studied()), word_of("attention")
    return f"Set here: {held}{f'; {mark}: {doubted}' if doubted else ''}."


def _lines():
    found, best = _studied(), bench().recommended
    heavy = best.worst_doors
    peak, limit = (with_unit(force, "force") for force in (heavy.peak_force_n, found.force_limit_n))
    ramp = " and ".join(map(seconds_text, (found.ramp_alone.opens_s, found.ramp_alone.shuts_s)))
    opens, shuts = map(seconds_text, (best.doors.opens_s, best.doors.shuts_s))
    lines = (
        f"Tune for the building's largest gain, {found.found.largest:.2f} %/% here, and for lags and delays that the model does not "
        f"have: {asked_text(found.box.asked)}, in {len(found.box.corners)} loops.",
        _set_here(numbers_text(best), with_unit(found.span_pa, "pressure")),
        simc_told(found),
        _ramp_line(),
        f"The airflow recovers in {opens} after the final exit door opens, in {shuts} after it shuts; the ramp alone takes {ramp}. "
        f"{found.time_asked()}.",
        f"As it shuts another door takes {peak} with the numbers of line 2, worst weather and warmth of the stair, {limit} is "
        f"allowed; of all that was tried, what keeps it below that: {_enough(found)}.",
        f"With the numbers of line 2, {heavy.short_said()}.",
        f"Limits: a model without gusts along tubes or give of the building; measure forces. {found.box.air.said()}",
    )
    return tuple(bare(line) for line in lines if line)  # the line of the ramp says it of all


page = LessonParts("tuning_and_door_events", _lines, ("simc_gain", "simc"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
