"""What the tasks of lesson 09b's panel come to, to read beside one's own: the figures of the fitted building."""

import numpy as np

from helpers.lessons.tested_in_may import day
from helpers.plots.markup import folded, lines_html
from helpers.studies.measured.intervals import percent
from helpers.studies.report import listed
from helpers.units.said import with_unit
from helpers.widgets.panel import Reading

FOLD = "What the tasks come to (first your own words)"
STATES = {"wrong": "FAIL", "attention": "CHECK"}


def _pa(value):
    return with_unit(value, "pressure", (0, 3))  # two set points of a task differ by 1 Pa


def not_passed(found):
    """Doors of an `InWeather` that are no PASS, in words, FAIL first."""
    told = []
    for state, word in STATES.items():
        for use in ("stair door", "final exit"):
            levels = [str(one.level) for one in found.doors if (one.use, one.state) == (use, state)]
            told += [f"{use}{'s' if len(levels) > 1 else ''} {listed(levels)} {word}"] if levels else []
    words = "; ".join(told) or "every door PASS"
    return f"{words[0].upper()}{words[1:]}"


def passes_at(level):
    """Set points [Pa] in whole pascals, over the panel's slider, at which a stair door is PASS in January's first minute."""
    points = range(int(day.SLIDER_PA[0]), int(day.SLIDER_PA[1]) + 1)
    return [float(point) for point in points if day.doors_at(set_point_pa=float(point)).of("stair door", level).state == "good"]


def _grows_most():
    """The door whose interval widens most without what was read over outdoors, in words with both widths."""
    doors = zip(day.doors_at().doors, day.doors_at(what=day.NO_FLOORS).doors, strict=True)
    widths = [(one, *(float(np.ptp(of.pressures_pa)) for of in (one, other))) for one, other in doors]
    most, before, after = max(widths, key=lambda one: one[2] - one[1])
    return f"{most.use}, from {with_unit(before, 'pressure', (1, 3))} wide to {with_unit(after, 'pressure', (1, 3))}"


def _higher():
    bottom, top = day.THREE[0], day.THREE[-1]
    low, high = min(passes_at(bottom)), max(passes_at(top))
    return (
        f"{not_passed(day.doors_at(set_point_pa=day.TRIED_PA))} (at {_pa(day.TRIED_PA)}). Door {bottom} is PASS from {_pa(low)} up, door "
        f"{top} up to {_pa(high)}: {'no set point does for both' if low > high else 'between them both are'}."
    )


def _cooled():
    before, now = ([one.pressures_pa[1] for one in day.ends(found)] for found in (day.doors_at(), day.doors_at(stair_c=day.COOLED_C)))
    gains = "bottom" if now[0] > before[0] else "top"
    bottom, top = (f"from {_pa(old)} to {_pa(new)}" for old, new in zip(before, now, strict=True))
    return f"The {gains}: storey 0 {bottom}, storey 13 {top}. {not_passed(day.doors_at(stair_c=day.COOLED_C))}."


def task_lines():
    """What each task comes to, in their order."""
    share = day.doors_at(day.CHECK_C, set_point_pa=day.CHECK_PA).of("stair door", 0).probability
    times = day.width(day.doors_at(gauge_pa=day.COARSE_PA)) / day.width(day.doors_at())
    within, doors = day.doors_at().covered()
    return (
        f"{not_passed(day.doors_at())}.",
        _cooled(),
        _higher(),
        f"Stair door 0 is inside in {percent(share)}: {100 - round(100 * share)} of a hundred have it out.",
        f"That of the {_grows_most()}.",
        f"No: {times:.2f} times, for the stair's air is in them, too.",
        f"{doors - within} of {doors}. Which one, if any, nobody could have known.",
    )


def task_answers():
    """The same folded away, numbered. Returns `Reading`."""

    def told():
        lines = task_lines()
        numbered = (f"{number}. {line}" for number, line in enumerate(lines, 1))
        return folded(FOLD, lines_html(lines, numbered=True)), "\n".join([FOLD, *numbered])

    return Reading(told)
