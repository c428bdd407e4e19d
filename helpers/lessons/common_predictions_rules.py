"""What rooms answer in the lessons on rules and places, and the moves that show it: lessons 06 and 07."""

from helpers.lessons.common_predictions_story import Move, Story
from helpers.lessons.predictions import average_lowest_highest as rules
from helpers.lessons.predictions import where_the_transmitters_go as places
from helpers.studies.cases import AS_STATED
from helpers.studies.placement_results import percent
from helpers.studies.placement_table import placement_table
from helpers.studies.rule_faults import NO_FAULT, DoorsOpen, ReadingFault, rule_bench

__all__ = ["average_lowest_highest", "where_the_transmitters_go"]


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
    opening = "Average of levels {lower} and {upper} at {point}: {own} in order."
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
