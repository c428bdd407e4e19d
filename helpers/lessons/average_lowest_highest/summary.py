"""Lesson 06's summary: which set point each rule wants, what a wrong reading does to it, what the usual rule costs at the other doors."""

from functools import cache

from helpers.lessons.average_lowest_highest import no_set_point, questions
from helpers.lessons.page import cooling_of
from helpers.plots.headline import headed
from helpers.plots.markup import Verdict, html_table
from helpers.studies.cases import AS_STATED, FIRST_MINUTE, STAIR_AIR
from helpers.studies.doors.columns import LIMITS
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.readings.faults_by_rule import ReadingFault, rule_bench
from helpers.studies.readings.words import fallback_card
from helpers.studies.report import apart, inside_text, listed, passed
from helpers.studies.status import SPARE_PA, word_of, worst_of
from helpers.units.said import with_unit
from helpers.widgets.panel import LineWithTable

COLUMNS = ("Rule, set point", "Door, the rule's worst at that end", "Pressure", "Limit", "Force at the handle", "When")
NO_PASS = "inside"  # of a door with room enough under a rule that fails at another one
WINTER_C, LOWER, UPPER, STUCK_PA = questions.WINTER_C, questions.LOWER, questions.UPPER, questions.STUCK_PA


def _warmth(stair):
    """How warm the stair is, in words: the usual one alone would not be understood here."""
    return "stair as the site file has it" if stair == AS_STATED else stair


@cache
def _fallback():
    bench = rule_bench()
    return fallback_study(bench.tower, pressure_window(bench.site))


def _agreed():
    """What the fan does here on a failed reading: what comes first where nothing is laid down, and the best way tried, with its status, as
    short as a card has it; the whole stands in the record."""
    card, first = fallback_card(_fallback()), no_set_point.fallback_first()
    stuck = ", with the relief damper stuck as well" * bool(rule_bench().site.stair.relief)
    left = f"{first}; as long as that is open, the other reading goes on at the same set point.\nTried on page 12{stuck}; do not enter. "
    return f"{left * bool(first)}{card}"


def _at_worst(rule, set_point_pa, fault):
    """(how warm the stair is, `Ruled`) of a rule with a fault, at the stair's temperature that puts a door out farthest."""
    tried = [(stair, rule_bench().ruled(WINTER_C, set_point_pa, fault=fault, rules=(rule,), stair=stair)[0]) for stair in STAIR_AIR]
    return min(tried, key=lambda one: one[1].rooms_pa.min())


def _off(stair, one):
    """What one tube off does at the worst door, and what the display shows meanwhile: both of the same fault."""
    heavy = one.heaviest
    dp, force = with_unit(heavy.dp_pa, "pressure"), with_unit(heavy.force_n, "force")
    return f"{dp} and {force} at {heavy.column.text} ({_warmth(stair)}), the display shows {with_unit(one.reading_pa, 'pressure')}"


def _usual_said():
    """That the lowest reading at the code's least and a margin is the usual choice, and what it costs at the doors of this stair."""
    bench = rule_bench()
    least, site_pa = pressure_window(bench.site).least_pa, bench.site.control.set_point_pa
    shown, more, held, target = (with_unit(value, "pressure") for value in (least, SPARE_PA, least + SPARE_PA, site_pa))
    tried = (("lowest", least + SPARE_PA), ("average", site_pa))
    ends = [[bench.ruled(WINTER_C, pa, rules=(rule,), stair=stair)[0] for stair in STAIR_AIR] for rule, pa in tried]
    told = [list(filter(None, (_end(min, each, "weakest"), _end(max, each, "heaviest"), _end(max, each, "hardest_exit")))) for each in ends]
    rules = [worst_of(key for key, *_ in each) for each in told]  # a rule is judged whole, each of its doors by itself
    lowest, average = (
        ";\n".join(f"{_word(key, rule)} {door.text()} ({_warmth(stair)})" for key, door, stair in each)
        for rule, each in zip(rules, told, strict=True)
    )
    of_rule = [(*one, whole, each) for one, whole, each in zip(tried, rules, told, strict=True)]
    rows = [
        (f"{rule} at {with_unit(pa, 'pressure')}: {word_of(whole)}", *_cells(door), _warmth(stair))
        for rule, pa, whole, each in of_rule for _, door, stair in each
    ]  # fmt: skip
    states = [key for *_, each in of_rule for key, *_ in each]
    table = html_table(COLUMNS, rows, states, units_to_head=False, good=NO_PASS if "wrong" in rules else "")
    table = headed(_worst_of(of_rule), table)
    enough = "is not enough" if any(one.heaviest.out for one in ends[0]) else "is enough"
    counted = f"; the one here is counted in, and {enough}" if bench.site.stair.relief else ""
    usual = (
        "Usual in practice is the lowest reading held at the code's least and a margin (common practice, no source), a reading beside an "
        "open door ignored for a while. In this stair, winter, doors shut"
    )
    lists = (
        f"– the lowest reading at {held}, which is the least of {shown} and a margin of {more}, {word_of(rules[0])}:\n{lowest};\n"
        f"– the average at the site's {target}, {word_of(rules[1])}:\n{average}.\n"
    )
    last = f"Only a large enough relief damper keeps the top door easy enough to open{counted}."
    return f"{usual}:\n{lists}{last}", (f"{usual} ({held}: the minimum of {shown} and a margin of {more}):", table, last)


def _worst_of(of_rule):
    """The headline of the table: the door that is furthest out of all, under which rule and when; what to do."""
    door, rule, pa, stair, key = min(
        ((door, rule, pa, stair, key) for rule, pa, _, each in of_rule for key, door, stair in each), key=lambda one: one[0].room_pa
    )
    window = door.column.window
    head = passed(door.dp_pa, window.least_pa if door.too == "low" else window.most_pa, "pressure", f"at {door.column.text}")
    head = head if door.out else f"All doors inside, least room at {door.column.text}"
    case = f"{rule} at {with_unit(pa, 'pressure')}, {_warmth(stair)}"
    none = f"Ask: the designer, page 12: {'no set point passes' if no_set_point.none_passes() else 'the set point that passes'}"
    return Verdict(key, f"{head}; {case}.", head, case=case, do=none)


def _word(key, rule):
    """Word of a door's status; of one with room enough though its rule fails at another that it is inside, which is no PASS of the rule."""
    return f"{NO_PASS}:" if rule == "wrong" and key == "good" else word_of(key)


def _end(of, ruled, name):
    """(key of the status, `DoorAt`, how warm the stair is) of the least or the most that a door has over the stair's temperatures; () where
    there is none."""
    doors = [(getattr(one, name), stair) for one, stair in zip(ruled, STAIR_AIR, strict=True) if getattr(one, name)]
    if not doors:
        return ()
    door, stair = of(doors, key=lambda one: one[0].dp_pa)
    return "wrong" if door.out else "attention" if door.room_pa < SPARE_PA else "good", door, stair


def _cells(door):
    """Door, pressure, its limit, force at the handle with its limit of a `DoorAt`."""
    side = "least" if door.too == "low" else "most"
    limit = door.column.window.least_pa if door.too == "low" else door.column.window.most_pa
    dp, end = apart((door.dp_pa, limit), "pressure", side)
    force = ", max. ".join(apart((door.force_n, door.limit_n), "force", "most")) if side == "most" and door.force_n is not None else ""
    return door.column.text, dp, f"{LIMITS[side]} {end}", force


def lines():
    """The points of the summary, one a line; what is listed in one begins a line of its own."""
    bench = rule_bench()
    works = {rule: bench.set_points_pa(WINTER_C, rule=rule) for rule in ("average", "lowest", "highest")}
    said = {rule: inside_text(*ends) for rule, ends in works.items()}
    early = {rule: bench.set_points_pa(WINTER_C, rule=rule, stair=FIRST_MINUTE) for rule in works}
    suits, always = (
        listed(f"{inside_text(*ends)} for the {rule}" for rule, ends in found.items() if ends)
        for found in (early, {rule: bench.recorded_pa(rule) for rule in works})
    )
    first = suits or "no set point suits any of the three"
    nothing = f'that is none here, enter no figure: see "{no_set_point.SECTION}"'
    enter = f"what suits every weather and warmth of the stair, as in the record: {always or nothing}"
    target = bench.site.control.set_point_pa
    lower, upper = (_at_worst("average", target, ReadingFault("tube off", tap)) for tap in (LOWER, UPPER))
    stuck = _at_worst("highest", sum(works["highest"]) / 2, ReadingFault("stuck", UPPER, STUCK_PA))
    outvoted = _at_worst("middle", target, ReadingFault("tube off", UPPER))
    low, top = (f"{with_unit(one.worst.dp_pa, 'pressure')} at the worst door ({_warmth(stair)})" for stair, one in (stuck, outvoted))
    set_point, limit = with_unit(target, "pressure"), with_unit(lower[1].heaviest.limit_n, "force")
    off = ";\n".join(f"– {name} one's tube off: {_off(*one)}" for name, one in (("lower", lower), ("upper", upper)))
    usual, (before, table, after) = _usual_said()
    gives_up = (
        "The lowest goes to full speed with a dead one, or with a door open beside a transmitter. The highest gives the stair up with "
        f"one that sticks high: {low}.\n"
    )
    return (
        f"A rule and its set point are one decision. {bench.site.name}, winter, doors shut, with the stair as the site file has it, wants "
        f"{said['average']} for the average, {said['lowest']} for the lowest and {said['highest']} for the highest reading. But "
        f"in its first minute {first}. Enter only {enter}.",
        "An average counts a dead transmitter in: as long as the fan can, the good one goes to twice the set point and the display shows "
        f"the set point. At the site's {set_point}, winter, doors shut, {limit} allowed:\n{off}.",
        LineWithTable.of(f"{gives_up}{usual}", f"{gives_up}{before}", table, after),
        "A reading known to be bad is left out, never averaged in; with a live zero an open wire is known, a tube that is off never is. "
        f"What is left is another rule: code and design have to say what the fan does then.\nHere {_agreed()}.",
        "The middle of three believes no single wrong reading, but a zero makes it hold the lower of the two good ones, one stuck high the "
        f"higher: at the site's set point, upper tube off, {top}. A door open beside a transmitter counts as a wrong "
        "reading: whether that one is ignored for a while, the designer decides.",
        f"A rule is good when it is good in the first minute and after an hour. A taller tower of this workbook, "
        f"with its middle reading of three, shows how far the two can lie apart. {cooling_of().ends()}.",
        "Limits: steady state, one wind for each weather, invented building. The local code and the approved design say which doors stand "
        "open in the design.",
    )
