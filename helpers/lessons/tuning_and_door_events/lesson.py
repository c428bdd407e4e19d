"""Lesson 08's page: a step test by hand, and one tuning of Larkfield House tried on a door that opens and shuts."""

import math
from functools import cache

import numpy as np

from helpers.lessons.page import LessonParts
from helpers.plots.charts import trend
from helpers.plots.markup import Verdict, findings_html, html_table, paragraphs_html
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axis, Line
from helpers.plots.style import PAPER, ROLES
from helpers.record.design import Design
from helpers.record.standing import ACTION, FAN, NOT_LAID_DOWN, SET_POINT
from helpers.studies.cases import usual_cases
from helpers.studies.doors.columns import doors_head
from helpers.studies.report import apart, listed, passed
from helpers.studies.status import word_of, worst_of
from helpers.studies.tuning.box import ASKED
from helpers.studies.tuning.candidate import asked_text, numbers_text
from helpers.studies.tuning.door_tests import WITHIN_S, seconds_text, short_limit_s, short_said, short_state
from helpers.studies.tuning.findings import ramps_doubted
from helpers.studies.tuning.process import STEP_PERCENT
from helpers.studies.tuning.trial import BACK_S, LENGTH_S, OPENS_S, RAMPS_S, SHUTS_S, UP_S, Trial, bench, step_record
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Reading, Task
from helpers.widgets.sliders import Slider, Steps

ROOM = (0.0, 5.0)  # of the output's axis
FIT_EVERY, FITTED = 4, ROLES["alternative"].but(line="", marker="o", size=6.0, face=PAPER, stroke=1.6)  # dots on the reading
SHOWN = 1 - 1 / math.e  # of the way, one lag after the delay
NEAR_LARGEST = 0.75  # of the largest gain: a tuning made for this one will do for all; ours


@cache
def step_test():
    """The panel, one in a notebook."""
    cases = {_briefly(case.name): number for number, case in enumerate(usual_cases(bench().site))}
    controls = {
        "output_percent": Slider("Output before", "percent", 30.0, 90.0, 2.0, 50.0),
        "case": Choice("Case, doors open", cases, 0),
    }
    return Panel(controls, Picture(**PANEL_PX), _answer, groups={"The test": tuple(controls)}, read=READ, tasks=_step_tasks())


READ = (
    "Below: the output, and the fan, which the ramp lets follow. Above: the reading, counted from where it stood, in per cent of span, "
    "and on it as open dots one lag with a delay, laid through it by least squares. Gain is the height above divided by the height "
    "below. The lag is the time from the end of the delay until the reading crosses the line of 63 %."
)


def _briefly(name):
    """A case's name as short as a list has room for: weather, storeys with an open door, the stair's air."""
    for said, brief in (("stair doors ", ""), ("stair door ", ""), (" and ", " + "), (" open", ""), (", final exit", " + exit")):
        name = name.replace(said, brief)
    return name


def _step_tasks():
    """To try at the step test."""
    return (
        Task("Read the gain off the picture before you read it above: how high is the upper step, how high the lower?"),
        Task("Move Output before from 30 to 90 %. Does the gain stay what it was? At which speed is it largest?", {"output_percent": 30.0}),
        Task("Choose a case with doors open. What happened to the gain, and to lag and delay? What would a long tube do to them?",
             {"case": next(number for number, case in enumerate(usual_cases(bench().site)) if not case.shut)}),
        Task("Which of all these tests would you tune for, and why not for the one in the middle?"))  # fmt: skip


def _answer(output_percent, case):
    found = step_record(output_percent, case)
    rest = found.fit.reading_at_rest
    read, fitted = (100 * pressure / bench().own.span_pa - rest for pressure in (found.reading_pa, found.fitted_pa))
    most = float(abs(found.fit.gain)) * STEP_PERCENT
    some = slice(None, None, FIT_EVERY)
    readings = Line(found.time_s, read, label="reading"), Line(found.time_s[some], fitted[some], FITTED, "one lag and a delay", 5)
    limits = ("all the way", most, ""), ("63 % of it", SHOWN * most, "")
    speed = 100 * found.speed_hz / bench().site.fan.highest_speed_hz - output_percent
    moves = Line(found.time_s, found.output_percent - output_percent, label="output"), Line(found.time_s, speed, label="speed of the fan")
    events = (f"{STEP_PERCENT:g} % up", UP_S), ("and back", BACK_S)
    axes = (Axis("Reading [%]"), readings, limits), (Axis("Output [%]", room=ROOM), moves, ())
    return _verdict(found), trend("step", "A step test in manual", "Time [s]", axes, events)


def _verdict(found):
    fit, most = found.fit, found.largest_gain
    moved = abs(fit.gain) * STEP_PERCENT
    pressure = with_unit(moved / 100 * bench().own.span_pa, "pressure", (1, 3))
    read = (
        f"Gain {fit.gain:.2f} %/%: {STEP_PERCENT:g} % more output moves the reading by {pressure}, {moved:.1f} % of span. After a delay "
        f"of {with_unit(fit.delay_s, 'time', 2)} it follows with a lag of {with_unit(fit.lag_s, 'time', 2)}."
    )
    tiles = (
        ("Process gain", f"{fit.gain:.2f} %/%", f"{most:.2f} %/% largest"),
        ("Time constant (lag)", with_unit(fit.lag_s, "time", 2), ""),
        ("Dead time (delay)", with_unit(fit.delay_s, "time", 2), ""),
    )
    if fit.gain >= NEAR_LARGEST * most:
        return Verdict(
            "good", f"{read} The largest gain at any speed is {most:.2f} %/%: a loop tuned for this test has room enough elsewhere.",
            f"Gain {fit.gain:.2f} %/%, near the largest anywhere: tune for this", tiles,
        )  # fmt: skip
    return Verdict(
        "attention",
        f"{read} But elsewhere the gain is {most:.2f} %/%: a loop tuned for this test would be {most / fit.gain:.1f} times too hot there.",
        f"Gain {most / fit.gain:.1f} times larger elsewhere: tuned for this, it may oscillate", tiles,
        do="Ask: the table of all step tests, which has the largest gain",
    )  # fmt: skip


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
    gains, integrals = (tuple(sorted({*offered, *more})) for offered, more in _offered(own, safe))
    controls = {
        "gain": Steps("Gain [%/%]", gains, own.gain),
        "integral_s": Steps("Integral time [s]", integrals, own.integral_s),
        "ramp_s": Slider("Drive's ramp", "time", float(RAMPS_S[0]), float(RAMPS_S[-1]), 0.5, own.ramp_s),
        "filter_s": Slider("Filter", "time", 0.0, 5.0, 0.1, own.filter_s),
        "span_pa": Slider("Span", "pressure", 75.0, 500.0, 5.0, own.span_pa),
        "door": Choice("Door", tuple(place.doors), own.door),
    }
    groups = {"The controller": ("gain", "integral_s", "span_pa"), "On the way": ("filter_s", "ramp_s"), "The event": ("door",)}
    tasks = _tuning_tasks(safe or (own.gain, own.integral_s), other)
    return Panel(controls, Picture(**PANEL_PX), _tuning_answer, groups=groups, read=READ_TUNING, tasks=tasks)


def _tuning_answer(**values):
    place = bench()
    found = place.attempt(Trial(**values))
    return _tuning_verdict(place, found), _trend(place, found)


def _trend(place, found):
    """Reading and shut doors above, speed below."""
    window, full = place.window, place.site.fan.highest_speed_hz
    levels = (("most", window.most_pa), ("set point", place.own.set_point_pa), ("least", window.least_pa))
    limits = [(f"{kind} {with_unit(pa, 'pressure')}", pa, kind) for kind, pa in levels]
    named = {
        "reading (average)": found.reading_pa,
        "highest pressure at a closed door": found.heaviest_pa,
        "lowest pressure at a closed door": found.lightest_pa,
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


def _offered(own, safe):
    """Gains and integral times of the sliders, each with the site's own and the one that stays calm."""
    safe_gain, safe_integral = safe or (own.gain, own.integral_s)
    return (GAINS, (own.gain, safe_gain)), (INTEGRALS_S, (own.integral_s, safe_integral))


def _tuning_verdict(place, found):
    most = max(found.open_n, found.peak_n)
    asked = place.window.criteria.response_s
    late = asked is not None and not found.slowest_s <= asked
    past = most > found.limit_n or late or found.worst.lacks() or short_state(found.short_s, asked) == "wrong"
    low = found.open_low_s + found.low_s > 0
    kind = "wrong" if past else "attention" if found.lacks or low or not np.isfinite(found.slowest_s) else "good"
    words = (_flow_said(place, found), _smoke_said(place, found), _force_said(place, found), _margins_said(found),
             _advice_said(place, found))  # fmt: skip
    status = worst_of([kind, place.first_minute.status(0)])
    return Verdict(status, "\n".join(words), _head(place, found, most, late), _tiles(found, asked, most),
                   case=f"{place.weather}, {found.trial.door}", do="" if status == "good" else _to_do(found))  # fmt: skip


def _to_do(found):
    """Whom to ask what: whether the tuning that is calm in every corner may be used hangs on more than this panel tries."""
    if found.advised is None:
        return "Ask: the drive's supplier for another ramp; no tuning stays calm here"
    gain, integral_s = found.advised
    return f"Ask: the card below whether gain {gain:.2g}, integral time {integral_s:.2g} s may be used"


READ_TUNING = (
    "Above, three pressures: the reading that the controller holds (the average of two transmitters), and across all stair doors that "
    "are shut the highest pressure and the lowest. The pale band is the window from lesson 01: above it people cannot open, below it smoke "
    "comes through. Below: the fan. All figures: how soon the airflow recovers, the force at the handles, the room before the "
    "loop swings, over the whole range of lags and dead times, and what would stay calm.\n"
    "The curves are those of the loop as the site file states it. A tuning can look splendid there and swing on site."
)


def _tuning_tasks(safe, other):
    """To try at the tuning; safe: gain and integral time that stay calm, other: another door."""
    return (
        Task("As it stands: how long until the airflow recovers? Follow the highest pressure after the door has shut."),
        Task("Shorten Integral time step by step to 0.5 s, then raise Gain to about 1: quicker, and calm in the picture. What does "
             "Calm? say, and in which corner of the range of lags?", {"integral_s": 0.5, "gain": 1.0}),
        Task("Go on: gain 3, 6, 12. Does the flow get quicker? What does the fan do? Watch what was said before the picture showed it.",
             {"integral_s": 0.5, "gain": 6.0}),
        Task("In the panel, try what the last of all figures calls calm. What does it cost in seconds? Double the Span. Then put the gain "
             "right.", dict(zip(("gain", "integral_s"), safe, strict=True))),
        Task("Set the Drive's ramp to 12 s, then 2 s. Then Filter up to 3 s. What happens to the calm figures, and to the seconds?",
             {"ramp_s": 12.0}),
        Task("Choose a stair door. Which lines can settings bring into order, and which none? (First minute: set point and stair air.)",
             {"door": other}))  # fmt: skip


def _head(place, found, most, late):
    """What decides, in one sentence: people first, then smoke, then calm, then time."""
    if most > found.limit_n:
        return passed(most, found.limit_n, "force", "while it stands open" if found.open_n >= found.peak_n else "as the door shuts")
    asked = place.window.criteria.response_s
    if short_state(found.short_s, asked) == "wrong":
        return f"Short of its least for {found.short_s:.1f} s, {short_limit_s(asked):g} s at most"
    if not found.worst.stable:
        return "In a corner of the range of lags the loop swings by itself"
    if found.worst.lacks():
        return f"Gain margin {found.worst.gain_margin:.1f} times where {ASKED.gain_margin:g} times are asked"
    if found.ahead:
        return "The integral asks for more than the drive's ramp gives"
    if not np.isfinite(found.slowest_s):
        return "Airflow has not recovered when the run ends"
    if late:
        return f"Airflow recovers after {found.slowest_s:.1f} s, {place.window.criteria.response_s:g} s asked"
    if place.first_minute.status(0) != "good":
        return doors_head(place.first_minute, 0, place.own.set_point_pa, place.site.doors, ", first minute")
    return f"Stable: gain margin {found.worst.gain_margin:.1f} times, airflow recovers in {found.slowest_s:.1f} s"


def _tiles(found, asked_s, most):
    """The force at the heaviest door, how many times the gain the loop stays stable, the time until the airflow has recovered."""
    force, limit = apart((most, found.limit_n), "force")
    bears = f"{found.worst.gain_margin:.1f} times" if found.worst.stable else "none: it oscillates"
    back = f"{found.slowest_s:.1f} s" if np.isfinite(found.slowest_s) else "has not recovered"
    return (
        ("Highest force, other doors", force, f"max. {limit}"),
        ("Gain margin", bears, f"{ASKED.gain_margin:g} times asked"),
        ("Airflow recovers after", back, "" if asked_s is None else f"{asked_s:g} s asked"),
    )


def _smoke_said(place, found):
    """The lightest shut door against its least, with this tuning as the file has the stair, and at rest in the first minute."""
    if np.isnan(found.low_pa):
        return "Smoke: no door states a least pressure."
    low, least = apart((found.low_pa, found.least_pa), "pressure")
    seconds = ((found.open_low_s, "while the door stands open"), (found.low_s, "with it shut"))
    below = [f"for {value:.1f} s {when}" for value, when in seconds if value]
    said = f"Smoke: the lowest pressure at a shut door is {low}, {least} is the least"
    if below:
        asked = place.window.criteria.response_s
        state = word_of(short_state(found.short_s, asked))
        said += f"; it is below that {listed(below)}, doors that the loop at rest leaves short counted in. {state}: "
        said += short_said(found.short_s, asked)
    first = place.first_minute
    early = "" if first.good[0] else f" In the first minute {word_of(first.status(0))} with any tuning: {first.case_text(0)}."
    return f"{said}.{early}"


def _flow_said(place, found):
    """Seconds until the air is back, what the site's standard has to say to it, and what the ramp has."""
    opens, shuts = _after(found.opens_s, SHUTS_S - OPENS_S), _after(found.shuts_s, LENGTH_S - SHUTS_S)
    said = f"Flow: 90 % of the way {opens} the door begins to open, {shuts} it begins to shut. {place.study.time_asked()}."
    alone = f"The drive's ramp alone takes {found.ramp_opens_s:.1f} and {found.ramp_shuts_s:.1f} s"
    return f"{said} {alone}{f': with this ramp no tuning makes the {WITHIN_S:g} s of EN 12101-6:2005.' if found.ramp_forbids else '.'}"


def _force_said(place, found):
    while_open, peak, limit = apart((found.open_n, found.peak_n, found.limit_n), "force")
    said = (
        f"Force in {place.weather}, the stair as its file says, with these settings: the hardest other door needs {while_open} while the "
        f"door is open, {peak} as it shuts; {limit} is allowed"
    )
    if not found.above_s and not found.open_above_s:
        return f"{said}."
    times = ((found.open_above_s, "while the door stands open"), (found.above_s, "after it has begun to shut"))
    heavy = listed(f"for {seconds:.1f} s {when}" for seconds, when in times if seconds)
    cures = " No tuning cures what it takes while the door stands open: the loop at rest holds it so." if found.open_above_s else ""
    return f"{said}, and it is too heavy {heavy}.{cures}"


def _margins_said(found):
    where = "where the building's gain is largest"
    if not found.worst.stable:
        loop = "the loop as stated is calm; with more lag it swings" if found.margins.stable else "even the loop as stated swings"
        return f"Calm? No: {where} {loop} by itself ({found.corner.text()}). Too hot."
    grows = 100 * (found.worst.peak_sensitivity - 1)
    bears = f"at {found.worst.gain_margin:.1f} times this gain it oscillates, at the worst of the range of lags"
    said = f"{where} {bears}; a gust grows by {grows:.0f} %"
    told = f"Too little room: {listed(found.lacks)}; {said}" if found.lacks else f"Yes: {said}"
    return f"Calm? {told} ({found.corner.text()})."


def _advice_said(place, found):
    if found.advised is None:
        return f"Behind this filter, span and ramp nothing keeps {asked_text()}."
    gain, integral_s = found.advised
    times = place.nominal(found.trial).gain / gain
    return (
        f"Fastest that stays calm in every corner, for this filter, span and ramp: gain {gain:.2g} %/%, integral time {integral_s:.2g} s. "
        f"Whether it may be entered on this building the card says. SIMC for the loop as stated would ask for {times:.1f} times that gain: "
        "not for a real one."
    )


def _after(seconds, looked_at_s):
    return f"not within {looked_at_s:.0f} s after" if np.isnan(seconds) else f"{seconds:.1f} s after"


def study():
    """What a study of all weathers found: every step test, every tuning tried, and what a filter costs."""
    found = _studied()
    return Reading(lambda: _told(found.verdict(_first()), (found.step_table(), found.candidate_table(), found.filter_table())))


def remedies():
    """What helps where tuning alone does not."""
    found = _studied()

    def told():
        said, first = f"Of all that was tried, enough by itself: {_enough(found)}.", _standing().first(SET_POINT, ACTION, FAN)
        return _told(said, (found.remedy_table(),), tuple(found.findings(first)))

    return Reading(told)


def _enough(found):
    """What of all that was tried is enough by itself, and what was not tried."""
    works = ", ".join(one.name for one in found.remedies if one.works) or "nothing"
    return f"{works}. Lighter closers were not tried here; page 06 shows why they come first"


def _studied():
    return bench().study


@cache
def _standing():
    """What of the site file the record lets stand: numbers that hang on the rest are not told to be set."""
    return Design(bench().site).standing


def _first():
    """What has to be put right before a tuning is entered; "" for nothing."""
    return _standing().first(SET_POINT, ACTION, FAN).removeprefix(NOT_LAID_DOWN)


def _set_here(numbers, span):
    """The numbers to enter, or that they may not be entered yet."""
    first = _first()
    held = f"{numbers}, on a span of {span}; twice the span needs twice the gain"
    if first:
        return f"Found here, do not enter it: {first}. The fastest that stays calm: {held}."
    doubted, mark = ramps_doubted(_studied()), word_of("attention")
    return f"Set here: {held}{f'; {mark}: {doubted}' if doubted else ''}."


def _told(verdict, tables, findings=()):
    """Words, tables with their notes and findings of a study: (HTML, plain text)."""
    parts, texts = [paragraphs_html(filter(None, [verdict]))], [verdict]
    for table in tables:
        parts += [html_table(table.columns, table.rows, table.states, table.title), paragraphs_html(filter(None, [table.note]))]
        texts += [table.title, *(" | ".join(row) for row in table.rows), table.note]
    texts += [f"{found.what}: {found.figure}" for found in findings]
    return "".join([*parts, findings_html(findings)]), "\n".join(filter(None, texts))


def _lines():
    found, best = _studied(), bench().recommended
    heavy = best.worst_doors
    peak, limit = (with_unit(force, "force") for force in (heavy.peak_force_n, found.force_limit_n))
    ramp = " and ".join(map(seconds_text, (found.ramp_alone.opens_s, found.ramp_alone.shuts_s)))
    opens, shuts = map(seconds_text, (best.doors.opens_s, best.doors.shuts_s))
    return (
        f"Tune for the building's largest gain, {found.found.largest:.2f} %/% here, and for lags and dead times that the model does not "
        f"have: {asked_text(found.box.asked)}, in {len(found.box.corners)} loops.",
        _set_here(numbers_text(best), with_unit(found.span_pa, "pressure")),
        f"SIMC for the loop as stated would ask for {numbers_text(found.nominal)}; {found.nominal.borne_text()}.",
        f"Flow back {opens} after the final exit door opens, {shuts} after it shuts; the ramp alone takes {ramp}. {found.time_asked()}.",
        f"As it shuts another door takes {peak} with these numbers, worst weather and warmth of the stair, {limit} is "
        f"allowed; of all that was tried, what keeps it below that: {_enough(found)}.",
        f"With these numbers, {heavy.short_said()}.",
        f"Limits: a model without gusts along tubes or give of the building; measure forces. {found.box.air.said()}",
    )


page = LessonParts("tuning_and_door_events", _lines, ("simc_gain", "simc"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
