"""Lesson 09b's page: Larkfield House's day in May, what it says of the doors in any weather, and the building behind it."""

from functools import cache

import numpy as np

from helpers.lessons.page import LessonParts
from helpers.lessons.tested_in_may import answers, day
from helpers.plots.forecast_doors import doors_by_storey
from helpers.plots.headline import headed
from helpers.plots.markup import Verdict, html_table, paragraphs_html
from helpers.plots.picture import PANEL_PX, Picture
from helpers.studies.measured.any_weather import OUTDOOR_C, STAIR_C
from helpers.studies.measured.forecast import SURE_SHARE
from helpers.studies.measured.intervals import (
    ENDS,
    beside_window,
    interval_tile,
    least_left,
    nearer_pa,
    percent,
    share_tile,
    spread_text,
    window_text,
)
from helpers.studies.measured.told import TRIED, door_head, furthest_out
from helpers.studies.report import listed, passed
from helpers.studies.status import DESIGNER, word_of
from helpers.units.said import with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Reading, Task
from helpers.widgets.sliders import Slider

HIDDEN, SHOWN = TRUTH = ("hidden", "shown")
SAID = "nine of ten buildings that fit the day", "● PASS   ▲ CHECK   ✖ FAIL"
LEFT_OUT = "open doors, failed readings, gusts, a relief damper that sticks: pages 12 and 18"


@cache
def panel():
    """The panel, one in a notebook."""
    weather, gauges = day.may().fitted.readings.day.weather, day.may().fitted.readings.day.gauges
    controls = {
        "outdoor_c": Slider("Outdoors", "temperature", OUTDOOR_C[0], OUTDOOR_C[-1], 1.0, weather.outdoor_c),
        "stair_c": Slider("Stair air", "temperature", STAIR_C[0], STAIR_C[-1], 1.0, weather.stair_bottom_c),
        "set_point_pa": Slider("Set point", "pressure", *day.SLIDER_PA, 1.0, day.SET_POINT_PA),
        "what": Choice("Readings used", day.READ),
        "gauge_pa": Slider("Gauges within", "pressure", 0.5, 10.0, 0.5, gauges.pressure_pa),
        "truth": Choice("True building", TRUTH, HIDDEN),
    }
    groups = {"The weather": ("outdoor_c", "stair_c"), "The loop": ("set_point_pa",), "The day in May": ("what", "gauge_pa"),
              "Behind it": ("truth",)}  # fmt: skip
    return Panel(controls, Picture(**PANEL_PX), _answer, groups=groups, read=READ, left_out=LEFT_OUT, tasks=TASKS)


def _answer(outdoor_c, stair_c, set_point_pa, what, gauge_pa, truth):
    mays = day.may().fitted.readings.day.weather
    only = "May's" if (outdoor_c, stair_c) == (mays.outdoor_c, mays.stair_bottom_c) else "this"
    case = f"{only} weather only: {_c(outdoor_c)}, stair {_c(stair_c)}"
    found = day.doors_at(outdoor_c, stair_c, set_point_pa, gauge_pa, what, case)
    worst = furthest_out(sorted(found.doors, key=lambda one: one.probability))
    head = _head(worst) if found.held else f"{_pa(set_point_pa)} set: the fan does not hold it"
    case += f", {_pa(set_point_pa)} held" if only == "this" else ""  # other pages hold another: other doors, other figures
    told = Verdict(found.state, _words(found, set_point_pa, what, truth), head, _tiles(found, worst), case, NEXT[found.state])
    levels = [storey.level for storey in day.may().fitted.readings.site.storeys]
    read = f"read in May, {_pa(day.ROUND_PA)}, fan in manual", day.read_by_door()
    true = dict(zip([one.door for one in found.doors], found.true_pa, strict=True)) if truth == SHOWN else None
    return told, doors_by_storey("tested in may", found.doors, levels, set_point_pa, SAID, read, true)


def _head(worst):
    """The door that decides; where it is surely inside and close, what is left at the end of the interval on its tile."""
    ends = worst.reach_pa[0] >= worst.window_pa[0], worst.reach_pa[1] <= worst.window_pa[1]
    if worst.state == "attention" and worst.probability >= SURE_SHARE and all(ends):
        return f"{worst.use.capitalize()} {worst.level}: {least_left(worst)} left"
    return door_head(worst)


NEXT = {
    "good": "Do: make the fitted file's record, page 12; the acceptance test is still required",
    "attention": "Ask: the designer, whether so little room is enough; page 18 says what to measure first",
    "wrong": "Ask: the designer: doors, closers, supply points or fan; then page 12",
}


def _tiles(found, worst):
    """The worst door beside its nearer limit, beside the other limit the door that is nearest to it, and all of them."""
    word = nearer_pa(worst)[2]
    other = next(end for end in ENDS if end != word)
    nearest = min(found.doors, key=lambda one: _room_pa(one, other))
    ends = [interval_tile(f"{one.use.capitalize()} {one.level}", one, end) for one, end in ((worst, word), (nearest, other))]
    return (*ends, share_tile("Buildings, every door inside", found.probability))


def _room_pa(one, word):
    """Room [Pa] of the middle of the buildings to one of a door's limits, "min." or "max."."""
    (least, most), middle = one.window_pa, one.pressures_pa[1]
    return middle - least if word == "min." else most - middle


def _words(found, set_point_pa, what, truth):
    """The verdict in sentences, the rest of what is known in a line each."""
    worst = min(found.doors, key=lambda one: one.probability)
    sure = f"Least sure: {worst.door}, inside in {percent(worst.probability)}." if worst.probability < 1 else ""
    told = [
        f"{one.use} {one.level} at {_pa(one.pressures_pa[1])}, {_fine(np.ptp(one.pressures_pa))} wide"
        for one in (found.doors[-1], *day.ends(found))
    ]
    lines = [
        f"Of the buildings that fit the day of {day.SITE} {percent(found.probability)} keep every door with {_pa(set_point_pa)} held. "
        f"{sure}".strip(),
        f"Middle and width of the intervals: {'; '.join(told)}.",
        f"Of what is unsure, counted in squares, {percent(found.stair_share)} is the stair's air, which may differ on another day of this "
        f"weather. One more reading, {found.telling.what}, would take away {percent(found.telling.share)}.",
    ]
    if what in day.REFUSED:
        lines.append(
            f"Page 18 refuses such a day: {day.REFUSED[what]}. Here the site file stands in for it, as rough as its kinds of wall are."
        )
    if truth == SHOWN:
        inside, doors = found.covered()
        lines.append(f"Of the true building's doors {inside} of {doors} lie in their interval; nobody has this line on site.")
    return "\n".join(lines)


def _pa(value):
    return with_unit(value, "pressure")


def _fine(value):
    return with_unit(float(value), "pressure", (1, 3))


def _c(value):
    return with_unit(value, "temperature")


READ = (
    "Every bar is a stair door, the lowest bar the final exit: where the pressure lies in nine of ten buildings that fit the day equally "
    "well. The mark in the middle: a dot PASS, a triangle CHECK, a cross FAIL. The pale band is the stair doors' window, the upright "
    "stroke the highest pressure at which the final exit's closer still shuts it, the dotted line the set point.\n"
    "Small circles were read in May in the first round, the fan in manual, the mean of storeys 1 and 12 a little above "
    f"{with_unit(day.ROUND_PA, 'pressure')}. The panel opens lower, so they stand to the right of the bars; in that round and May's "
    f"weather they lie in them. The wind is that of the site file's winter, in May too: {with_unit(day.wind_m_s(), 'wind speed')}. It "
    "draws on the floors; the final exit is judged in still air, so in January it can lie below stair door 0. Diamonds, where shown, are "
    "the building that the day was computed from."
)
TASKS = (
    Task(f"It opened in May's weather, CHECK. January, the first minute: Outdoors to {_c(day.JANUARY_C)}, Stair air to "
         f"{_c(day.JANUARY_STAIR_C)}, the same reading held. Which doors fail?",
         {"outdoor_c": day.JANUARY_C, "stair_c": day.JANUARY_STAIR_C}),
    Task(f"January, later: the fan's air has cooled the stair, Stair air to {_c(day.COOLED_C)}. Which end gains? Do the bottom doors "
         "pass now?",
         {"outdoor_c": day.JANUARY_C, "stair_c": day.COOLED_C}),
    Task("The first minute again. Raise the set point for the bottom doors. What becomes of the top? Is there one for both ends?",
         {"outdoor_c": day.JANUARY_C, "stair_c": day.JANUARY_STAIR_C, "set_point_pa": day.TRIED_PA}),
    Task(f"A milder day, set so: {_c(day.CHECK_C)}, {_pa(day.CHECK_PA)} held, CHECK. Of a hundred buildings that fit, how many have "
         "stair door 0 out?",
         {"outdoor_c": day.CHECK_C, "stair_c": day.JANUARY_STAIR_C, "set_point_pa": day.CHECK_PA}),
    Task("January. Readings used: nothing over outdoors. Whose interval grows most, stair door 0's, 13's or the final exit's? See "
         "All figures.",
         {"outdoor_c": day.JANUARY_C, "stair_c": day.JANUARY_STAIR_C, "what": day.NO_FLOORS}),
    Task("Gauges five times as coarse. Do the intervals grow five times? What else is in them?",
         {"outdoor_c": day.JANUARY_C, "stair_c": day.JANUARY_STAIR_C, "gauge_pa": day.COARSE_PA}),
    Task("True building: shown. How many doors lie outside their interval? Of ten one may. Could anybody have known in May which one?",
         {"outdoor_c": day.JANUARY_C, "stair_c": day.JANUARY_STAIR_C, "truth": SHOWN}),
)  # fmt: skip


def by_hand():
    """Three doors by hand beside the forecast, as a table. Returns `Reading`."""
    return Reading(_hand_told)


def _hand_told():
    window = day.ends(day.doors_at())[0].window_pa
    columns = "Stair door", "Height above the place that is held", "Read in May", "Share", "By hand in January", "Forecast, nine of ten"
    rows = [
        (f"storey {one.level}", with_unit(one.height_m, "length", (2, 1)), _fine(one.read_pa), f"{one.share:.3f}",
         _fine(one.by_hand_pa), spread_text(one.forecast_pa[0], one.forecast_pa[2]))
        for one in day.by_hand()
    ]  # fmt: skip
    states = ["good" if window[0] <= one.by_hand_pa <= window[1] else "wrong" for one in day.by_hand()]
    off = np.abs([one.by_hand_pa - one.forecast_pa[1] for one in day.by_hand()]).max()
    out = [str(one.level) for one, state in zip(day.by_hand(), states, strict=True) if state == "wrong"]
    told = (
        f"The window is {window_text(window)}: storeys {listed(out)} are out. The hand calculation is off by up to {_fine(off)} "
        "against the forecast's middle."
    )
    title = (
        f"Larkfield House as measured, from May to January, {_c(day.JANUARY_C)}, stair {_c(day.JANUARY_STAIR_C)}: the first round's "
        f"reading of {_pa(day.ROUND_PA)} held; verdicts on the hand calculation"
    )
    lines = [f"{word_of(state)}: {' | '.join(row)}" for state, row in zip(states, rows, strict=True)]
    first = _by_hand_head(window)
    html = headed(first, html_table(columns, rows, states, title=title) + paragraphs_html([told]))
    return html, "\n".join([str(first), title, " | ".join(columns), *lines, told])


def _by_hand_head(window):
    """The `Verdict` of the three doors by hand: the one that is furthest out of its window [Pa], and whom to ask."""
    last = min(day.by_hand(), key=lambda one: min(one.by_hand_pa - window[0], window[1] - one.by_hand_pa))
    if window[0] <= last.by_hand_pa <= window[1]:
        return Verdict("good", "All three doors inside on paper", "All three doors inside on paper")
    limit_pa = window[last.by_hand_pa > window[1]]
    head = passed(last.by_hand_pa, limit_pa, "pressure", f"at stair door {last.level}")
    case = f"on paper: January {_c(day.JANUARY_C)}, stair {_c(day.JANUARY_STAIR_C)}, {_pa(day.ROUND_PA)} held"
    return Verdict("wrong", f"{head}, {case}", head, case=case, do=DESIGNER)


def _reach_said(door):
    """Between which pressures a door lies, and FAIL where all of that is past a limit, CHECK where some is; a forecast is no PASS."""
    (low, high), (least, most) = (door.reach_pa[0], door.reach_pa[-1]), door.window_pa
    past = high < least or low > most
    word = word_of("wrong") if past else word_of("attention") if low < least or high > most else "inside"
    return f"{beside_window(door.reach_pa, door.window_pa)}: {word}"


def _lines():
    found, (before, after) = day.doors_at(), day.gradients()
    low, high = found.of("stair door", 0), found.of("stair door", 13)
    hand = max(abs(one.by_hand_pa - one.forecast_pa[1]) for one in day.by_hand())
    return (
        f"Held at {_pa(day.SET_POINT_PA)}, in this lesson only, {day.SITE} keeps every door in May in "
        f"{percent(day.in_may().probability)} of the buildings; "
        f"at {_c(day.JANUARY_C)} and in the first minute, stair at {_c(day.JANUARY_STAIR_C)}, storey 0 has "
        f"{_reach_said(low)}, storey 13 {_reach_said(high)}; window "
        f"{window_text(high.window_pa)}.",
        f"By hand: May's reading plus share × height × change of the stack effect ({before:.2f} to {after:.2f} Pa for each metre); within "
        f"{_fine(hand)} of the network here (first round, {_pa(day.ROUND_PA)}).",
        "Two rounds give a leak's exponent; of gaps in a row they tell the row. Door and outer wall are parted by floors over outdoors, "
        "size by a flow.",
        f"{TRIED} {percent(found.stair_share)} of what is unsure here is January's stair air.",
        "Not for: other leaks than the day's, open doors, wind beyond the site file's, a damper that lifts in a round. It replaces no "
        "acceptance test; the authority having jurisdiction decides.",
    )


page = LessonParts("tested_in_may", _lines, ("another_weather", "shaft_of_200_feet"))
task_answers = answers.task_answers
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
