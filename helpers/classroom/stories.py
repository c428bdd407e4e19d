"""What a room tends to answer in each lesson, and how to use it: one `Story` a lesson, in the order of the plan.

What rooms answer in the lessons on doors, leaks and ranges, and the moves that show it: lessons 01 to 03.

What rooms answer in the lessons on rules and places, and the moves that show it: lessons 06 and 07.
"""

from dataclasses import asdict
from functools import cache

from helpers.classroom import loop_stories as loop
from helpers.lessons.average_lowest_highest import questions as rules
from helpers.lessons.leakage_and_fan_duty import questions as duty
from helpers.lessons.pressure_window import questions as window
from helpers.lessons.transmitter_range import questions as ranges
from helpers.lessons.where_the_transmitters_go import questions as places
from helpers.studies.cases import AS_STATED
from helpers.studies.doors.stair_window import ROOM_C, SimpleStair
from helpers.studies.duty.fan_duty import FIRST_DOORS, Asked, leaky_stair
from helpers.studies.placement.results import percent
from helpers.studies.placement.table import placement_table
from helpers.studies.readings.faults_by_rule import NO_FAULT, DoorsOpen, ReadingFault, rule_bench
from helpers.studies.report import range_text
from helpers.studies.signals.range_fit import OF_SPAN, ROOT, RangeFit
from helpers.teaching.lesson import SOURCE, Move, Story
from helpers.teaching.plan import lesson

__all__ = [
    "SOURCE", "STORIES", "Move", "Story", "average_lowest_highest", "leakage_and_fan_duty", "pressure_window", "story", "transmitter_range",
    "where_the_transmitters_go",
]  # fmt: skip

HEAVIER_N = 30.0  # a closer turned up so much


def pressure_window():
    """Lesson 01."""
    warm, cold = SimpleStair(outdoor_c=ROOM_C), SimpleStair()
    low = cold.but(storeys=cold.most_storeys)
    heavy = low.but(closer_n=low.closer_n + HEAVIER_N)

    def figures(shown):
        return {
            "storeys": warm.storeys, "least": shown.pa(cold.least_pa), "cold": shown.c(cold.outdoor_c),
            "limit": shown.n(cold.force_limit_n), "bottom": shown.pa(cold.door_pa[0]), "top": shown.pa(cold.door_pa[-1]),
            "force": shown.n(cold.force_n[-1]), "few": low.storeys, "just": shown.n(low.force_n[-1]), "heavier": shown.n(HEAVIER_N),
            "closer": shown.n(heavy.closer_n), "most": shown.pa(low.most_pa), "lowered": shown.pa(heavy.most_pa),
            "too_heavy": heavy.too_heavy,
        }  # fmt: skip

    moves = _pressure_window_moves(cold, low, heavy)
    tempting = "The stair is one shaft, and one thinks of it as a tyre: pumped up, it has one pressure. Nobody feels that air has weight."
    opening = "{storeys} storeys; outdoors as warm as the stair; a fan holds {least}."
    return Story("pressure_window", window.top_door, window.SAME, tempting, asdict(warm), opening, moves, figures)


def _pressure_window_moves(cold, low, heavy):
    return (
        Move(
            {"outdoor_c": cold.outdoor_c},
            "Outdoors {cold}",
            "It turns {cold}. The lowest door stays. And the highest?",
            "{bottom} across the lowest door, {top} across the highest: {force} to open it, {limit} is allowed. The cold does that, not "
            "the fan.",
        ),
        Move(
            {"storeys": low.storeys},
            "Storeys {few}",
            "How many storeys can this fan serve in such weather? Would another set point make it more?",
            "{few} storeys: the highest door takes {just}. Another set point moves all dots together: what helps the top door lets smoke "
            "in below.",
        ),
        Move(
            {"closer_n": heavy.closer_n},
            "Door closer {closer}",
            "Somebody fits closers that pull {heavier} more. Which end of the window moves?",
            "Only the upper end, from {most} to {lowered}: {too_heavy} of {few} doors are too heavy now. Smoke asks for {least} as before.",
        ),
    )


def leakage_and_fan_duty():
    """Lesson 02."""
    shut, street, floor = (leaky_stair().duty(Asked(**doors)) for doors in ({}, {"street_open": True}, {"open_doors": 1}))
    tight = leaky_stair("tight").duty(Asked())

    def figures(shown):
        named = {"shut": shut, "street": street, "floor": floor, "tight": tight}
        flows = {name: shown.flow(found.flow_m3_s[0]) for name, found in named.items()}
        speeds = {f"{name}_hz": shown.hz(found.speed_hz) for name, found in named.items()}
        loop = "the set point is held" if street.held else "the set point is lost"
        lifted = f"{100 * tight.damper_open:.0f} %"
        return {**flows, **speeds, "loop": loop, "level": FIRST_DOORS[0], "point": shown.pa(Asked().set_point_pa), "lifted": lifted}

    moves = _leakage_and_fan_duty_moves()
    start = asdict(Asked()) | {"exterior_wall": "average", "stair_wall": "average", "driven": False}
    tempting = "Both are doors of one stair, and of one size: a hole is a hole. What lies behind the hole is not in sight."
    opening = "Winter, all doors shut: {shut} at {shut_hz} hold {point}."
    return Story("leakage_and_fan_duty", duty.open_door, duty.ALIKE, tempting, start, opening, moves, figures)


def _leakage_and_fan_duty_moves():
    return (
        Move(
            {"street_open": True},
            "Street open: yes",
            "One door opens and stays open. Which one costs the fan more air?",
            "The street door: {street} at {street_hz}, and {loop}. With the door on floor {level} instead it would be {floor}.",
        ),
        Move(
            {"street_open": False, "open_doors": 1},
            "Street open: no, stair doors open 1",
            "Now that one: the stair door on floor {level}. What stops the air behind it?",
            "{floor}, {floor_hz}: the outer wall stops it. Two gaps one behind the other, and the smaller one decides. Behind the street "
            "door there is nothing.",
        ),
        Move(
            {"open_doors": 0, "exterior_wall": "tight"},
            "Stair doors open 0, outer walls tight",
            "Doors shut. Somebody seals the outer walls of the flats. Does the fan turn slower or faster?",
            "{tight_hz} instead of {shut_hz}, {tight}. The floors fill up, and the stair must stay {point} above them; that lifts its "
            "relief damper to {lifted}.",
        ),
    )


def transmitter_range():
    """Lesson 03."""
    own = RangeFit(drift_percent=0.0)
    wide = RangeFit(drift_percent=0.0, high_pa=ranges.WIDE_PA)
    narrow = RangeFit(drift_percent=0.0, high_pa=ranges.NARROW_PA, set_point_pa=ranges.HIGH_SET_POINT_PA)

    def figures(shown):
        named = {"own": own, "wide": wide, "narrow": narrow}
        rooms = {name: range_text(fit.low_pa, fit.high_pa, "pressure", shown.system) for name, fit in named.items()}
        errors = {f"{name}_error": f"±{shown.fine(fit.own_parts_pa[0], 2)}" for name, fit in named.items()}
        return {
            **rooms, **errors, "percent": f"{own.accuracy_percent:g} %", "point": shown.pa(own.set_point_pa),
            "times": f"{wide.own_parts_pa[0] / own.own_parts_pa[0]:.0f}", "narrow_point": shown.pa(narrow.set_point_pa),
            "force": shown.n(narrow.held.force_n), "end": shown.pa(narrow.high_pa),
            "wide_top": shown.pa(wide.high_pa), "own_top": shown.pa(own.high_pa), "there": shown.pa(narrow.held.readings_pa.max()),
            "display": shown.pa(narrow.held.shown_pa), "peak": shown.pa(own.peak_pa), "eased": shown.n(own.held.force_n),
        }  # fmt: skip

    moves = _transmitter_range_moves(wide, narrow, own)
    start = {
        "site": own.site, "high_pa": own.high_pa, "low_pa": own.low_pa, "set_point_pa": own.set_point_pa,
        "accuracy_percent": own.accuracy_percent, "sheet": (OF_SPAN, ROOT), "drift_percent": own.drift_percent, "bits": own.bits,
    }  # fmt: skip
    tempting = "The sheet says the same for both, and a per cent sounds like the instrument's own. Of what it is one stands in small print."
    opening = "{own}, accuracy {percent} of span, set point {point}."
    return Story("transmitter_range", ranges.wide, ranges.SAME, tempting, start, opening, moves, figures)


def _transmitter_range_moves(wide, narrow, own):
    return (
        Move(
            {"high_pa": wide.high_pa},
            "Top {wide_top}",
            "The same accuracy, but {wide}. How large is its error beside the first one's?",
            "{wide_error} instead of {own_error}, {times} times as much. The room that is never used is paid for as well.",
        ),
        Move(
            {"high_pa": narrow.high_pa, "set_point_pa": narrow.set_point_pa},
            "Top {end}, set point {narrow_point}",
            "Then the most accurate: {narrow}, the average held at {narrow_point}. What do people find at the doors?",
            "{force} at the heaviest, too much. The upper one stops at {end} while {there} are there; the display shows {display}.",
        ),
        Move(
            {"high_pa": own.high_pa, "set_point_pa": own.set_point_pa},
            "Top {own_top}, set point {point}",
            "Which range would you buy, then, and what must lie inside it besides the set point?",
            "{own}: error {own_error}, and the highest reading, {peak} as the doors shut, is still seen. The heaviest door takes {eased}.",
        ),
    )


def average_lowest_highest():
    """Lesson 06."""
    bench, winter, point = rule_bench(), rules.WINTER_C, rules.SET_POINT_PA
    off = ReadingFault("tube off", rules.LOWER)

    def ruled(rule, set_point_pa=point, fault=NO_FAULT):
        (found,) = bench.ruled(winter, set_point_pa, DoorsOpen(), fault, (rule,))
        return found

    works = bench.set_points_pa(winter, rule="lowest")
    suits = float(round(sum(works) / 2))
    average, lowest, put_right, dead = ruled("average"), ruled("lowest"), ruled("lowest", suits), ruled("average", fault=off)

    def figures(shown):
        return {
            "point": shown.pa(point), "before_hz": shown.hz(average.speed_hz), "after_hz": shown.hz(lowest.speed_hz),
            "worst": shown.pa(lowest.worst.dp_pa), "door": lowest.worst.column.text, "worst_n": shown.n(lowest.worst.force_n),
            "from": shown.pa(works[0]), "to": shown.pa(works[1]), "suits": shown.pa(suits), "eased": shown.n(put_right.heaviest.force_n),
            "upper": shown.pa(dead.true_pa[rules.UPPER]), "display": shown.pa(dead.reading_pa), "dead_n": shown.n(dead.heaviest.force_n),
            "limit": shown.n(dead.heaviest.limit_n),
        }  # fmt: skip

    moves = _average_lowest_highest_moves(suits, point, off)
    start = {
        "outdoor_c": winter, "set_point_pa": point, "rule": "average", "opened": DoorsOpen(), "stair": AS_STATED, "fault": NO_FAULT,
        "stuck_pa": 50.0,
    }  # fmt: skip
    tempting = (
        "The lowest reading is the careful one: it looks after the weakest door. What the faster fan does at the top is not in sight."
    )
    opening = "Winter, doors shut; the average of two is held at {point}."
    return Story("average_lowest_highest", rules.kept_set_point, rules.INSIDE, tempting, start, opening, moves, figures)


def _average_lowest_highest_moves(suits, point, off):
    return (
        Move(
            {"rule": "lowest"},
            "Fan follows lowest of two",
            "To be safe somebody sets the rule to lowest, still {point}. What happens?",
            "{after_hz} instead of {before_hz}; {worst} at the {door}, {worst_n} at its handle, where {limit} is allowed.",
        ),
        Move(
            {"set_point_pa": suits},
            "Set point {suits}",
            "Which set point belongs to the lowest reading: higher, lower, or the same?",
            "From {from} to {to}; at {suits} the heaviest door is back at {eased}. A rule and its set point are one decision.",
        ),
        Move(
            {"rule": "average", "set_point_pa": point, "fault": off},
            "Fan follows average of two, set point {point}, wrong reading lower one's tube off",
            "The average again, {point}. The tube of the lower transmitter slips off: it reads zero. What does the upper one read?",
            "{upper}, while the display shows {display}: no alarm on that comes. {dead_n} at the heaviest handle, {limit} is allowed.",
        ),
    )


def where_the_transmitters_go():
    """Lesson 07."""
    table = placement_table()
    own = table.at(places.RULE, places.LOWER, places.UPPER, places.SET_POINT_PA)
    spare = table.best("middle", loss="dead")

    def figures(shown):
        shares = {name: table.at(*places.CHANGES[words]).share() for name, words in
                  (("ruled", places.RULED), ("moved", places.MOVED), ("held", places.HELD))}  # fmt: skip
        return {
            "lower": own.lower, "upper": own.upper, "point": shown.pa(own.set_point_pa), "own": percent(own.share()),
            **{name: percent(share) for name, share in shares.items()}, "dead": percent(own.share("dead")),
            "spare": spare.text(shown.system), "spare_dead": percent(spare.share("dead")), "spare_well": percent(spare.share()),
            "spare_lower": spare.lower, "spare_upper": spare.upper, "spare_point": shown.pa(spare.set_point_pa),
        }  # fmt: skip

    moves = _where_the_transmitters_go_moves(spare)
    start = {"lower": own.lower, "upper": own.upper, "set_point_pa": own.set_point_pa, "rule": own.rule, "loss": "none"}
    tempting = "The lesson asks about places, and drilling is what one sees and pays for. A rule is one line on a display."
    opening = "Average of levels {lower} and {upper}, {point}: {own} in order, street door apart."
    return Story("where_the_transmitters_go", places.costs_most, places.MOVED, tempting, start, opening, moves, figures)


def _where_the_transmitters_go_moves(spare):
    return (
        Move(
            {"rule": places.OTHER_RULE},
            "Fan follows lowest of two",
            "Which change costs the most?",
            "The rule: {ruled} remain; {moved} with the upper one moved, {held} with the higher set point. A rule and its set point come "
            "first, the places second.",
        ),
        Move(
            {"rule": places.RULE, "loss": "dead"},
            "Fan follows average of two, transmitters one dead, counted",
            "The average again. One of the two dies, reads zero, and is counted. In how many of a hundred cases is all well?",
            "{dead} instead of {own}. Half of the average is lost, and the fan runs towards twice the set point.",
        ),
        Move(
            {"rule": spare.rule, "lower": spare.lower, "upper": spare.upper, "set_point_pa": spare.set_point_pa},
            "Fan follows middle of three, levels {spare_lower} and {spare_upper}, set point {spare_point}",
            "What would you buy, so that one dead transmitter does no harm, and what does it cost on a good day?",
            "The {spare}: {spare_dead} with one dead, {spare_well} with all of them right. Two others outvote the zero.",
        ),
    )


STORIES = {
    "pressure_window": pressure_window,
    "leakage_and_fan_duty": leakage_and_fan_duty,
    "transmitter_range": transmitter_range,
    "scaling_the_signal": loop.scaling_the_signal,
    "reverse_or_direct": loop.reverse_or_direct,
    "average_lowest_highest": average_lowest_highest,
    "where_the_transmitters_go": where_the_transmitters_go,
    "tuning_and_door_events": loop.tuning_and_door_events,
    "low_demand_stop": loop.low_demand_stop,
}


@cache
def story(key):
    """The story of a lesson, computed when it is first asked for. Raises ValueError for a key that is not in the plan."""
    return STORIES[lesson(key).key]()
