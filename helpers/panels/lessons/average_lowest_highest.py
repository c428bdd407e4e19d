"""Lesson 06, average, lowest or highest: the parts of its page."""

from functools import cache

from helpers import units
from helpers.lessons.derivations.average_lowest_highest import storey_of_the_average, wrong_in_the_average
from helpers.lessons.exercises.average_lowest_highest import MAKERS
from helpers.lessons.predictions import average_lowest_highest as predictions
from helpers.lessons.worked.average_lowest_highest import tallest_stair
from helpers.panels.lessons.average_lowest_highest_panel import rules_panel
from helpers.panels.lessons.page import LessonParts
from helpers.panels.reading import WorkedCard
from helpers.panels.stair_cooling import cooling_of
from helpers.studies.cases import FIRST_MINUTE, STAIR_AIR
from helpers.studies.fallback import fallback_study
from helpers.studies.fallback.words import fallback_judged
from helpers.studies.figures import inside_text, listed
from helpers.studies.rule_faults import ReadingFault, rule_bench
from helpers.studies.status import SPARE_PA, word_of
from helpers.studies.window import pressure_window

__all__ = ["compare", "derivation", "exercises", "panel", "predict", "senior_card", "worked_example"]

KEY = "average_lowest_highest"
DERIVATIONS = {"storey": storey_of_the_average, "dead": wrong_in_the_average}
WINTER_C, LOWER, UPPER, STUCK_PA = predictions.WINTER_C, predictions.LOWER, predictions.UPPER, predictions.STUCK_PA


def panel():
    """The live panel."""
    return rules_panel()


def derivation(name="storey"):
    """Which storey an average stands for ("storey"), or a dead reading in it ("dead")."""
    return DERIVATIONS[name]()


def worked_example():
    """How tall a stair one set point can serve."""
    return WorkedCard(tallest_stair())


@cache
def _fallback():
    bench = rule_bench()
    return fallback_study(bench.tower, pressure_window(bench.site))


def _agreed(system):
    """The best way of falling back on this site, in the words of the record: with its status."""
    return fallback_judged(_fallback(), system)


def _tube_off(tap, set_point_pa):
    """(how warm the stair is, `Ruled` of the average) with one tube off, at the stair's temperature that makes a door heaviest."""
    fault = ReadingFault("tube off", tap)
    tried = [(stair, rule_bench().ruled(WINTER_C, set_point_pa, fault=fault, rules=("average",), stair=stair)[0]) for stair in STAIR_AIR]
    return max(tried, key=lambda one: one[1].heaviest.dp_pa)


def _off(stair, one, system):
    """What one tube off does at the worst door, and what the display shows meanwhile: both of the same fault."""
    heavy = one.heaviest
    dp, force = units.show(heavy.dp_pa, "pressure", system), units.show(heavy.force_n, "force", system)
    return f"{dp} and {force} at the worst door ({stair}), the display shows {units.show(one.reading_pa, 'pressure', system)}"


def _usual_said(system):
    """That the lowest reading at the code's least and a margin is the usual choice, and what it costs at the doors of this stair."""
    bench = rule_bench()
    least, site_pa = pressure_window(bench.site).least_pa, bench.site.control.set_point_pa
    shown, more, target = (units.show(value, "pressure", system) for value in (least, SPARE_PA, site_pa))
    tried = (("lowest", least + SPARE_PA), ("average", site_pa))
    ends = [[bench.ruled(WINTER_C, pa, rules=(rule,), stair=stair)[0] for stair in STAIR_AIR] for rule, pa in tried]
    lowest, average = (f"{_end(min, each, 'weakest', system)}; {_end(max, each, 'heaviest', system)}" for each in ends)
    counted = "; the one here is counted in" if bench.site.stair.relief else ""
    return (
        f"Usual in practice is the lowest reading held at the code's least and a margin (common practice, no source), a reading beside an "
        f"open door left out for a time. Its price stands at the other doors. Here, winter, doors shut, at {shown} and {more}: {lowest}. "
        f"The average at the site's {target}: {average}. Only a large enough relief damper keeps the heaviest light enough{counted}."
    )


def _end(of, ruled, name, system):
    """The least or the most that a door has over the stair's temperatures, against its limit, with its status."""
    doors = [(getattr(one, name), stair) for one, stair in zip(ruled, STAIR_AIR, strict=True)]
    door, stair = of(doors, key=lambda one: one[0].dp_pa)
    key = "wrong" if door.out else "attention" if door.room_pa < SPARE_PA else "good"
    return f"{word_of(key)} {door.text(system)} ({stair})"


def _lines(system):
    bench = rule_bench()
    works = {rule: bench.set_points_pa(WINTER_C, rule=rule) for rule in ("average", "lowest", "highest")}
    said = {rule: inside_text(*ends, system) for rule, ends in works.items()}
    early = {rule: bench.set_points_pa(WINTER_C, rule=rule, stair=FIRST_MINUTE) for rule in works}
    suits = [f"{inside_text(*ends, system)} for the {rule}" for rule, ends in early.items() if ends]
    first = listed(suits) or "none suits any of the three"
    target = bench.site.control.set_point_pa
    lower, upper = (_tube_off(tap, target) for tap in (LOWER, UPPER))
    (stuck,) = bench.ruled(WINTER_C, sum(works["highest"]) / 2, fault=ReadingFault("stuck", UPPER, STUCK_PA), rules=("highest",))
    (outvoted,) = bench.ruled(WINTER_C, target, fault=ReadingFault("tube off", UPPER), rules=("middle",))
    low, top = (units.show(one.worst.dp_pa, "pressure", system) for one in (stuck, outvoted))
    set_point, limit = units.show(target, "pressure", system), units.show(lower[1].heaviest.limit_n, "force", system)
    off = "; ".join(f"{name} one's tube off, {_off(*one, system)}" for name, one in (("lower", lower), ("upper", upper)))
    return (
        f"A rule and its set point are one decision: {bench.site.name}, winter, doors shut, wants {said['average']} for the average, "
        f"{said['lowest']} for the lowest and {said['highest']} for the highest reading with the stair as the site file has it; in its "
        f"first minute {first}.",
        f"An average counts a dead transmitter in: the good one goes to twice the set point if the fan can. At the site's "
        f"{set_point}, {limit} allowed: {off}. The display shows the set point as long as the fan can.",
        "The lowest goes to full speed with a dead one, or with a door open beside a transmitter. The highest lets go of the stair with "
        f"one that sticks high: {low} at the worst door. {_usual_said(system)}",
        "A reading known to be bad is left out, never averaged in; with a live zero an open wire is known, a tube that is off never is. "
        f"What is left is another rule: agree what the fan does then, for each reading and for all at once; here {_agreed(system)}.",
        "The middle of three believes no single wrong reading, but a zero makes it hold the lower of the two good ones, one stuck high the "
        f"higher: at the site's set point, upper tube off, {top} at the worst door. A door open beside a transmitter counts as a wrong "
        "reading: leave that one out for a time.",
        f"A rule is good when it is good in the first minute and after an hour. {cooling_of().ends(system)} ({cooling_of().rule} reading).",
        "Limits: steady state, one wind, invented building. Which doors stand open in the design, and what a lost reading must do, say the "
        "local code and the approved design.",
    )


page = LessonParts(KEY, predictions.PREDICTIONS, MAKERS, _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
