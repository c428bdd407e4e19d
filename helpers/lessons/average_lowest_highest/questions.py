"""Lesson 06's questions: a rule changed and its set point kept, readings dead, stuck or off, what the fan then does, the worst door."""

from helpers import units
from helpers.formulas import doors
from helpers.formulas.combining import combine
from helpers.formulas.doors import pressure_at
from helpers.lessons.average_lowest_highest.failed_readings import (
    ANSWERED,
    FINE,
    after_the_fault,
    dead_in_the_average,
    half_digit,
    relief_after_the_fault,
    weighted_average,
)
from helpers.studies.cases import AS_STATED, FIRST_MINUTE
from helpers.studies.doors.stair_window import larkfield_door
from helpers.studies.readings.faults_by_rule import NO_FAULT, DoorsOpen, ReadingFault, rule_bench
from helpers.studies.report import fine, inside_text
from helpers.studies.status import status_of, word_of
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story, before_rounding
from helpers.units.said import in_each, with_unit

WINTER_C, SUMMER_C = -9.0, 31.0  # of the site file
SET_POINT_PA, HIGHEST_SET_POINT_PA, STUCK_PA = 40.0, 51.0, 60.0
LOWER, UPPER = 0, 1
INSIDE, HEAVY, SMOKE = (
    "every door stays inside its window",
    "doors high in the stair become too heavy",
    "doors low in the stair let smoke pass",
)
RUNS_FULL, LOWEST, HOLDS = "it runs to full speed", "it runs to its lowest speed", "it hardly changes"


def _one(rule, set_point_pa, fault=NO_FAULT):
    (found,) = rule_bench().ruled(WINTER_C, set_point_pa, DoorsOpen(), fault, (rule,))
    return found


def _pa(value):
    return with_unit(value, "pressure")


def early_said(works, now):
    """Which set points do in the first minute, as a clause beside those that do now; nothing where they are the same."""
    if works is None:
        return "" if now is None else "; none does in the first minute"
    return _unless(inside_text(*works), "" if now is None else inside_text(*now))


@in_each
def _unless(early, now):
    return "" if early == now else f"; in the first minute {early}"


def _warm():
    """How warm the stair is by its file."""
    return f"at {with_unit(float(rule_bench().stair_c(WINTER_C)), 'temperature')}, as its file says"


def _kept_set_point():
    before, after = _one("average", SET_POINT_PA), _one("lowest", SET_POINT_PA)
    answer = INSIDE if after.inside else HEAVY if after.worst.too == "high" else SMOKE
    suits, early = (rule_bench().set_points_pa(WINTER_C, rule="lowest", stair=stair) for stair in (AS_STATED, FIRST_MINUTE))
    most = ", full speed, and the reading stops short" if after.state == "at full speed" else ""
    low, high = ([fine(one.true_pa[tap]) for one in (before, after)] for tap in (LOWER, UPPER))
    words = (
        f"under the rule average the lower transmitter read {low[0]}. Now it is to read "
        f"{_pa(SET_POINT_PA)}, so the fan speeds up to {with_unit(after.speed_hz, 'frequency')}{most}. The doors do not rise alike: "
        f"the lower transmitter goes from {low[0]} to {low[1]}, the upper one from {high[0]} to {high[1]}. "
        f"The air comes in at the top and loses pressure on its "
        f"way down the shaft, the more the faster it goes: {after.worst.text()}. The lowest reading wants a set point of its own, "
        f"{inside_text(*suits)} here with the stair {_warm()}{early_said(early, suits)}."
    )
    return Outcome(Chosen(answer, (INSIDE, HEAVY, SMOKE)), words)


def _tube_off():
    before, after = _one("average", SET_POINT_PA), _one("average", SET_POINT_PA, ReadingFault("tube off", LOWER))
    words = (
        f"half of the average is lost, so the loop turns the fan up until the upper one, which read {_pa(before.true_pa[UPPER])} "
        f"before, makes twice the set point by itself. The display shows {_pa(after.reading_pa)} all the time, so an alarm on it "
        "would never come. An alarm on each reading would come, and one on their difference. "
        f"Meanwhile: {after.worst.text()}."
    )
    # A tenth of the answer: the question is whether it rises, and by about how much.
    return Outcome(Measured(float(after.true_pa[UPPER]), "pressure", 0.1 * float(after.true_pa[UPPER])), words)


def _stuck():
    after = _one("highest", HIGHEST_SET_POINT_PA, ReadingFault("stuck", UPPER, STUCK_PA))
    dead = _one("highest", HIGHEST_SET_POINT_PA, ReadingFault("tube off", UPPER))
    answer = {"at full speed": RUNS_FULL, "at lowest speed": LOWEST, "held": HOLDS}[after.state]
    words = (
        "the highest reading is now the stuck one, and it lies above the set point however slowly the fan turns. So the loop slows down to "
        f"{with_unit(after.speed_hz, 'frequency')} and the stair is given up, with {after.worst.text()}. Had the same "
        f"transmitter gone to zero instead, the lower one alone would have been the highest: it is to be held at "
        f"{_pa(HIGHEST_SET_POINT_PA)}, the fan brings it to {_pa(dead.true_pa[LOWER])}, and runs {dead.state}."
    )
    return Outcome(Chosen(answer, (RUNS_FULL, LOWEST, HOLDS)), words)


kept_set_point = Prediction(
    "kept_set_point",
    lambda: (
        f"Larkfield House, winter, doors shut. The average of two transmitters, on storeys 1 and 12, is held at "
        f"{_pa(SET_POINT_PA)}; with the stair {_warm()}, every door is inside its window. "
        "Somebody sets the rule to lowest, to be on the safe side, and leaves the set point as it is. What happens?"
    ),
    _kept_set_point,
    (INSIDE, HEAVY, SMOKE),
)
tube_off = Prediction(
    "tube_off",
    lambda: (
        f"The average again, at {_pa(SET_POINT_PA)}, in winter. The tube of the lower transmitter slips off: it reads zero and its "
        "signal looks healthy. What does the upper one read, once the loop has settled?"
    ),
    _tube_off,
    dimension="pressure",
)
stuck = Prediction(
    "stuck",
    lambda: (
        f"Now the highest reading runs the fan, and a set point of {_pa(HIGHEST_SET_POINT_PA)} suits it. Water freezes in the tube "
        f"of the upper transmitter, which from then on reads {_pa(STUCK_PA)}, whatever the pressure is. What does the fan do?"
    ),
    _stuck,
    (RUNS_FULL, LOWEST, HOLDS),
)
PREDICTIONS = (kept_set_point, tube_off, stuck)

LIMIT_N = doors.FORCE_LIMITS_N["nfpa101_set_in_motion"]
RULES = ("average", "lowest", "highest")


def combined_reading(draw):
    """The combined reading of three, one of them failed."""
    digits = FINE[draw.system]
    readings = [draw.quantity("pressure", low, low + 9.0, 1.0, digits) for low in (25.0, 38.0, 51.0)]
    bad, rule = draw.one_of((0, 1, 2)), draw.one_of(RULES)
    good = [place != bad for place in range(3)]
    answer = float(combine(readings, rule, good=good))
    with_zero = [reading * use for reading, use in zip(readings, good, strict=True)]
    said = [draw.say(reading, "pressure", digits) if use else "no signal" for reading, use in zip(readings, good, strict=True)]
    rest = [reading for reading, use in zip(readings, good, strict=True) if use]
    question = (
        f"Three transmitters send {said[0]}, {said[1]} and {said[2]}: the wire of one is open, and the input knows it. The rule is "
        f"{rule}. What is the combined reading?"
    )
    slips = {
        "average": (
            Slip(
                "dead one averaged in",
                "You counted the failed reading as zero, or took one of those that are left. How many are left?",
                sum(rest) / 3,
            ),
            Slip("sum for mean", "That is the sum. A reading of the stair cannot lie above all of its transmitters.", sum(rest)),
            Slip("one for the mean", "That is one of the readings. An average of different readings lies between them.", max(rest)),
        ),
        "lowest": (
            Slip("dead one counted", "A reading that is missing is not a reading of zero.", min(with_zero)),
            Slip("highest for lowest", "You took the other end of the list.", max(rest)),
            Slip("average for lowest", "That is the average. This rule picks one reading and leaves the other alone.", sum(rest) / 2),
        ),
        "highest": (
            Slip("lowest for highest", "You took the other end of the list.", min(rest)),
            Slip("sum for highest", "That is the sum. This rule picks one reading.", sum(rest)),
            Slip("average for highest", "That is the average. This rule picks one reading and leaves the other alone.", sum(rest) / 2),
        ),
    }[rule]
    left = " and ".join(draw.say(reading, "pressure", digits) for reading in rest)
    way = (
        f"Left: {left}; the one without signal is no reading at all.",
        f"The {rule} of these: {draw.say(answer, 'pressure', ANSWERED[draw.system])}",
    )
    more = (
        Slip("zero for no signal", "Zero would be a reading. This wire is open and the input knows it: nothing is read there at all.", 0.0),
        Slip("lowest for the rule", "That is the lowest of those left. Which rule is set?", min(rest)),
        Slip("highest for the rule", "That is the highest of those left. Which rule is set?", max(rest)),
        Slip("average for the rule", "That is the average of those left. Which rule is set?", sum(rest) / 2),
        Slip("difference", "That is how far they lie apart. Which one reading does the rule make of them?", max(rest) - min(rest)),
        Slip("half a reading", "You halved a reading. No rule halves one that is there by itself.", max(rest) / 2),
        Slip("half the lowest", "You halved the lowest. No rule halves a reading that is there by itself.", min(rest) / 2),
        Slip("sum for one reading", "That is the sum. A reading of the stair cannot lie above all of its transmitters.", sum(rest)),
        Slip("dead one averaged in", "You counted the failed reading as zero, and averaged. How many are left, and which rule is set?",
             sum(rest) / 3),
    )  # fmt: skip
    return Exercise(question, Measured(answer, "pressure", half_digit(draw, "pressure"), ANSWERED[draw.system]), slips, way, more=more)


def set_point_of_the_other_rule(draw):
    """The set point that belongs to another rule."""
    digits = FINE[draw.system]
    other = draw.one_of(("lowest", "highest"))
    middle = draw.quantity("pressure", 36.0, 44.0, 1.0, digits)
    spread = draw.quantity("pressure", 12.0, 24.0, 2.0, digits)
    low, high = middle - spread / 2, middle + spread / 2
    answer = float(combine([low, high], other))
    question = (
        f"In winter the average of two transmitters is held at {draw.say(middle, 'pressure', digits)}, and the upper one reads "
        f"{draw.say(spread, 'pressure', digits)} more than the lower one. All doors are inside their windows. The designer changes "
        f"the rule to {other}, and wants the same air in the stair. Which set point belongs to it?"
    )
    sign = -1 if other == "lowest" else 1
    slips = (
        Slip(
            "set point kept",
            "A set point belongs to its rule. Which of the two readings does the new rule look at, and where is it now?",
            middle,
        ),
        Slip("whole spread", "You moved by the whole spread. The average lies between the two readings.", middle + sign * spread),
        Slip("other way", "You moved the other way: that is the reading this rule does not look at.", middle - sign * spread / 2),
    )
    way = (
        f"The readings lie half of {draw.say(spread, 'pressure', digits)} below and above the average.",
        f"That is {draw.say(low, 'pressure', digits)} and {draw.say(high, 'pressure', digits)}.",
        f"The {other} of them is {draw.say(answer, 'pressure', digits)}: hold that.",
    )
    more = (
        Slip("spread for set point", "That is how far the readings lie apart. What does each of them read?", spread),
        Slip("half the spread", "That is half of what lies between them. From where do you count it?", spread / 2),
        Slip("whole spread, other way", "You moved by the whole spread, and to the reading this rule does not look at.",
             middle - sign * spread),
        Slip("twice the average", "You doubled the average. Nothing has failed here; only another reading is looked at.", 2 * middle),
    )  # fmt: skip
    return Exercise(question, Measured(answer, "pressure", half_digit(draw, "pressure"), digits), slips, way, more=more)


def force_at_the_top(draw):
    """The force at the topmost door."""
    digits = FINE[draw.system]
    gradient = draw.one_of((0.7, 0.8, 0.9, 1.0))
    low, high = draw.one_of(((4.0, 36.0), (6.0, 34.0), (4.0, 30.0)))
    top = high + draw.one_of((9.0, 12.0))
    low, high, top = (draw.tape(metres, 0) for metres in (low, high, top))
    set_point, closer = draw.quantity("pressure", 32.0, 42.0, 1.0, digits), draw.quantity("force", 50.0, 80.0, 5.0)
    middle = float(combine([low, high], "average"))
    dp = float(pressure_at(top, set_point, middle, gradient))
    door = _leaf(draw)
    answer = _force(door, dp, closer)
    pascal = draw.system == "Pa"
    rise = draw.say(gradient, "pressure", 1) if pascal else draw.say(gradient * units.parse("1 ft", "length"), "pressure", 5)
    question = (
        f"Two transmitters sit {_height(draw, low)} and {_height(draw, high)} above the ground; their average is held at "
        f"{draw.say(set_point, 'pressure', digits)} in winter, when the pressure across the doors rises by {rise} with each "
        f"{'metre' if pascal else 'foot'}, in a straight line. What force opens the door at {_height(draw, top)}, at the handle? It is "
        f"{draw.say(door.width_m, 'length')} by {draw.say(door.height_m, 'length')}, its closer needs {draw.say(closer, 'force')}, and the "
        f"handle is {draw.say(door.handle_to_edge_m, 'length')} from the edge. The air pushes in the middle of the leaf.{draw.on_a_foot}"
    )
    slips = (
        Slip("set point at every door", "You took the set point for this door's pressure. It holds half-way between the transmitters only.",
             _force(door, set_point, closer)),
        Slip("from the ground", "You counted the height from the ground. The set point is held at the height that the average stands for.",
             _force(door, pressure_at(top, set_point, 0.0, gradient), closer)),
        Slip("from the upper one", "You counted the height from the upper transmitter, as if it alone were held.",
             _force(door, pressure_at(top, set_point, high, gradient), closer)),
        Slip("closer forgotten", "That is the air alone. The closer pulls, too.", answer - closer),
    )  # fmt: skip
    tolerance = max(1.0, half_digit(draw, "force"))
    way = (
        f"The average stands for the height half-way: {_height(draw, middle)}.",
        f"The door is {_height(draw, top - middle)} higher, so its pressure is {draw.say(dp, 'pressure', ANSWERED[draw.system])}.",
        f"Closer {draw.say(closer, 'force')} and air {draw.say(answer - closer, 'force', 1)}: {draw.say(answer, 'force', 1)}, where "
        f"{draw.say(LIMIT_N, 'force', 1)} is allowed: {word_of(status_of(answer, LIMIT_N))}{before_rounding(answer, tolerance, LIMIT_N)}.",
    )
    # A pascal more or less, from rounding on the way, is about 1 N with this leaf.
    air, lever = answer - closer, (door.width_m - door.handle_to_edge_m) / door.width_m  # of the hand, as a share of the width
    more = (
        Slip("pressure for force", "That is the pressure at this door. What force does it make of the leaf, at the handle?",
             float(units.from_display(float(units.to_display(dp, "pressure", draw.system)), "force", draw.system))),
        Slip("closer alone", "That is the closer alone. The air pulls, too.", closer),
        Slip("down instead of up", "You went down from the height of the average. This door lies above it.",
             _force(door, pressure_at(2 * middle - top, set_point, middle, gradient), closer)),
        Slip("handle at the edge", "You let the hand pull at the very edge. The handle sits a little nearer to the hinges.",
             closer + air * lever),
        Slip("half the door", "You let the air press on half of the leaf. It presses on all of it; the half belongs to the lever.",
             closer + air / 2),
        Slip("air at the edge", "You let the air push at the edge of the leaf. It pushes in the middle: W/2 and not W.", closer + 2 * air),
        Slip("no lever", "That is all of the air's push, as if the hand pulled in the middle of the leaf.", closer + 2 * air * lever),
        Slip("half the door at the edge", "You let the air press on half of the leaf, and the hand pull at the very edge.",
             closer + air * lever / 2),
        Slip("from the lower one", "You counted the height from the lower transmitter, as if it alone were held.",
             _force(door, pressure_at(top, set_point, low, gradient), closer)),
    )  # fmt: skip
    return Exercise(question, Measured(answer, "force", tolerance, 1), slips, way, more=more)


def _leaf(draw):
    """Larkfield's stair door, in the reader's round figures."""
    door = larkfield_door()
    return door.model_copy(update={name: draw.tape(getattr(door, name)) for name in ("width_m", "height_m", "handle_to_edge_m")})


def _force(door, dp_pa, closer_n):
    return float(doors.opening_force(dp_pa, *door.model_copy(update={"closer_force_n": closer_n}).leaf))


def _height(draw, metres):
    return draw.say(metres, "length", 0 if draw.system == "Pa" else 1)


MAKERS = (combined_reading, dead_in_the_average, after_the_fault, set_point_of_the_other_rule, force_at_the_top,
          weighted_average, relief_after_the_fault)  # fmt: skip


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    bench, winter, point = rule_bench(), WINTER_C, SET_POINT_PA
    off = ReadingFault("tube off", LOWER)

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
            "upper": shown.pa(dead.true_pa[UPPER]), "display": shown.pa(dead.reading_pa), "dead_n": shown.n(dead.heaviest.force_n),
            "limit": shown.n(dead.heaviest.limit_n),
        }  # fmt: skip

    moves = _moves(suits, point, off)
    start = {
        "outdoor_c": winter, "set_point_pa": point, "rule": "average", "opened": DoorsOpen(), "stair": AS_STATED, "fault": NO_FAULT,
        "stuck_pa": 50.0,
        "beside": "lowest",
    }  # fmt: skip
    tempting = "The lowest reading is the careful one: it looks after the lowest door. What the faster fan does at the top is not in sight."
    opening = "Winter, doors shut; the average of two is held at {point}."
    return Story("average_lowest_highest", kept_set_point, INSIDE, tempting, start, opening, moves, figures)


def _moves(suits, point, off):
    return (
        Move(
            {"rule": "lowest"},
            "Fan follows lowest of two",
            "To be safe somebody sets the rule to lowest, still {point}. What happens?",
            "{after_hz} instead of {before_hz}; {worst} at {door}, {worst_n} at its handle, where {limit} is allowed.",
        ),
        Move(
            {"set_point_pa": suits},
            "Set point {suits}",
            "Which set point belongs to the lowest reading: higher, lower, or the same?",
            "From {from} to {to}; at {suits} the hardest door to open is back at {eased}. A rule and its set point are one decision.",
        ),
        Move(
            {"rule": "average", "set_point_pa": point, "fault": off},
            "Fan follows average of two, set point {point}, wrong reading lower one's tube off",
            "The average again, {point}. The tube of the lower transmitter slips off: it reads zero. What does the upper one read?",
            "{upper}, while the display shows {display}: no alarm on that comes. {dead_n} at the hardest door to open, {limit} is allowed.",
        ),
    )
