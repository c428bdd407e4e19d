"""What the tasks of lesson 06's panel come to, and a reading left out, and why this stair is too tall: by the bench."""

import numpy as np

from helpers.lessons.average_lowest_highest.questions import LOWER, SET_POINT_PA, SUMMER_C, UPPER, WINTER_C
from helpers.plots.headline import told_in_view
from helpers.plots.markup import Verdict, folded, lines_html, paragraphs_html
from helpers.studies.cases import AFTER_AN_HOUR, AS_STATED, FIRST_MINUTE
from helpers.studies.readings.faults_by_rule import NO_FAULT, RULES, DoorsOpen, ReadingFault, rule_bench
from helpers.studies.report import fine, inside_text, listed
from helpers.studies.status import DESIGNER, word_of, worst_of
from helpers.units.said import with_unit
from helpers.widgets.panel import Reading

ALL_SHUT, BESIDE_THE_LOWER, OWN_LOWEST_PA = DoorsOpen(), DoorsOpen((1, 2)), 28.0  # as the tasks have them
SAME_HZ = 0.05  # two speeds that are printed alike
FOLD = "What the tasks come to (first your own words)"


def _ruled(rule, set_point_pa=SET_POINT_PA, outdoor_c=WINTER_C, opened=ALL_SHUT, fault=NO_FAULT, stair=AS_STATED):
    """`Ruled` of one rule."""
    return rule_bench().ruled(outdoor_c, set_point_pa, opened, fault, (rule,), stair)[0]


def _pa(value):
    return with_unit(value, "pressure")


def _runs(one):
    """The fan, in words."""
    return f"fan {one.state}" if one.state != "held" else f"fan at {with_unit(one.speed_hz, 'frequency')}"


def _kept():
    average, now, early = _ruled("average", stair=FIRST_MINUTE), _ruled("lowest"), _ruled("lowest", stair=FIRST_MINUTE)
    return (
        f"Average: {average.worst.text()}, and that in the first minute alone. Lowest: {now.worst.text()}, now already; in the "
        f"first minute {_pa(early.worst.dp_pa)}."
    )


def _own_set_points():
    early = _ruled("lowest", OWN_LOWEST_PA, stair=FIRST_MINUTE)
    wanted = listed(f"{inside_text(*rule_bench().set_points_pa(WINTER_C, rule=rule))} for the {rule}" for rule in RULES[:3])
    return (
        f"Inside now, FAIL in the first minute: {early.worst.text()}. Doors inside now take {wanted}. Lowest and highest lie about as "
        "far apart as the two readings, the average half-way. In the first minute none of the three has a set point."
    )


def _summer():
    found = [_ruled(rule, outdoor_c=SUMMER_C) for rule in RULES[:3]]
    low, high = (with_unit(of(one.speed_hz for one in found), "frequency") for of in (min, max))
    lower, upper = (fine(found[0].true_pa[tap]) for tap in (LOWER, UPPER))
    early = _ruled("average", outdoor_c=SUMMER_C, stair=FIRST_MINUTE)
    return (
        f"Nearly on each other: average, lowest and highest run the fan at {low} to {high}. The stair is nearly as warm as outdoors, so "
        f"there is little stack effect, and the two transmitters read nearly the same: {lower} and {upper}. What "
        f"fails is no matter of the rule: {early.worst.text()} (first minute)."
    )


def _tube_off():
    fault, found = ReadingFault("tube off", LOWER), {}
    for rule in ("average", "lowest", "highest"):
        found[rule] = _ruled(rule, fault=fault)
    early, sound = _ruled("average", fault=fault, stair=FIRST_MINUTE), _ruled("highest")
    same = " (as with both right: it is the set point that is not this rule's)" * (
        abs(sound.speed_hz - found["highest"].speed_hz) < SAME_HZ
    )
    return (
        f"The display shows {_pa(found['average'].reading_pa)} now and {_pa(early.reading_pa)} in the first minute: nothing to see. The "
        f"upper transmitter has {_pa(found['average'].true_pa[UPPER])} meanwhile. Lowest: the zero is the lowest, "
        f"{_runs(found['lowest'])}. Highest: the zero is passed over, {_pa(found['highest'].true_pa[UPPER])} at the upper one, "
        f"{_runs(found['highest'])}; the lower one then has {_pa(found['highest'].true_pa[LOWER])}{same}."
    )


def _open_doors():
    told = []
    for rule in RULES:
        point = float(round(sum(rule_bench().set_points_pa(WINTER_C, rule=rule)) / 2))
        now, early = (_ruled(rule, point, opened=BESIDE_THE_LOWER, stair=stair) for stair in (AS_STATED, FIRST_MINUTE))
        told.append(f"\n– {rule} at {_pa(point)}: {_runs(now)}, {word_of(worst_of([now.status, early.status]))}")
    return (
        f"Each rule at a set point of its own, doors 1 and 2 open:{';'.join(told)}.\nLowest, weighted and average count the low reading "
        "beside the open door as they count a zero: the fan speeds up. Highest and middle pass it over; smoke "
        "alone is CHECK, since the design does not count on these doors being open. A heavy door is FAIL all the same."
    )


def _stair_air():
    early, late = (_ruled("average", stair=stair).worst for stair in (FIRST_MINUTE, AFTER_AN_HOUR))
    return (
        f"First minute: {early.text()}. After an hour: {late.text()}. One set point for both: none. A "
        "higher one helps the first and harms the second."
    )


def task_lines():
    """What each task comes to, in their order."""
    return tuple(told() for told in (_kept, _own_set_points, _summer, _tube_off, _open_doors, _stair_air))


def task_answers():
    """The same folded away, numbered. Returns `Reading`."""

    def told():
        lines = task_lines()
        return folded(FOLD, lines_html(lines, numbered=True)), "\n".join(
            [FOLD, *(f"{number}. {line}" for number, line in enumerate(lines, 1))]
        )

    return Reading(told)


def left_out_line():
    """The page's example of a reading that is left out: what becomes of "the other alone is to be held"."""
    now, early = (_ruled("average", fault=ReadingFault("left out", UPPER), stair=stair) for stair in (AS_STATED, FIRST_MINUTE))
    lower, then = (fine(one.true_pa[LOWER]) for one in (now, early))
    return (
        f"Average, {_pa(SET_POINT_PA)}, upper wire open and left out: the {_runs(now)}, {with_unit(now.speed_hz, 'frequency')}. The "
        f"lower transmitter has {lower} now and {then} in the first minute, not the set point. Worst "
        f"door, first minute: {early.worst.text()}."
    )


def left_out_told():
    """The same to read, as grave as the stair is with that reading left out. Returns `Reading`."""

    def told():
        early = _ruled("average", fault=ReadingFault("left out", UPPER), stair=FIRST_MINUTE)
        verdict = Verdict(early.status, left_out_line(), do="" if early.status == "good" else DESIGNER)
        return told_in_view(verdict), str(verdict)

    return Reading(told)


def too_tall_line():
    """Why no set point helps this stair in its first minute: its ends lie farther apart than the window is wide."""
    one, bench = _ruled("average", stair=FIRST_MINUTE), rule_bench()
    low, top = (bench.tower.levels[int(of(one.storeys_pa))] for of in (np.argmin, np.argmax))
    least, most = bench.window.by_storey(bench.tower.levels, "stair door")
    return (
        f"{bench.site.name}, winter, first minute, average {_pa(SET_POINT_PA)}: storey {top} has {fine(np.ptp(one.storeys_pa))} more than "
        f"storey {low}, and the window is {fine((most - least).min())} wide. No set point brings it below that."
    )


def too_tall_told():
    """The same to read. Returns `Reading`."""
    return Reading(lambda: (paragraphs_html([too_tall_line()]), too_tall_line()))
