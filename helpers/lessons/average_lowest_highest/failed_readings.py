"""Lesson 06's exercises on readings that fail: what the others must make up for, what the fan does, how it turns round for relief."""

from helpers import units
from helpers.formulas.combining import pressure_at_the_rest
from helpers.teaching.questions import Chosen, Exercise, Measured, Slip

FINE = {"Pa": 0, "in. w.c.": 3}  # digits of what is given
ANSWERED = {"Pa": 1, "in. w.c.": 3}  # of an answer, which need not be a whole figure
FULL, LOWEST_SPEED, DOUBLE, AS_BEFORE = (
    "the fan runs to full speed",
    "the fan runs to its lowest speed",
    "the good side goes to about twice the set point, if the fan can",
    "the good side stays at the set point",
)
ENDS = (FULL, LOWEST_SPEED, DOUBLE, AS_BEFORE)
SEEN = {
    "zero": "its tube has come off at the transmitter, so it reads zero, and its signal looks healthy",
    "high": "it is stuck at a reading well above the set point",
    "out": "its wire is open; the input is set to see that and leaves it out",
}
AFTER = {
    ("average", "zero"): DOUBLE,
    ("lowest", "zero"): FULL,
    ("highest", "zero"): AS_BEFORE,
    ("lowest", "high"): AS_BEFORE,
    ("highest", "high"): LOWEST_SPEED,
    ("average", "out"): AS_BEFORE,
    ("lowest", "out"): AS_BEFORE,
    ("highest", "out"): AS_BEFORE,
}
WHY = {
    FULL: "the combined reading can no longer rise to the set point",
    LOWEST_SPEED: "the combined reading lies above the set point however slowly the fan turns",
    DOUBLE: "half of the combined reading is lost, so the good one must make all of it",
    AS_BEFORE: "the good reading alone is the combined one",
}


def half_digit(draw, dimension):
    """Half of the last digit with which an answer is shown: it cannot be asked for more exactly."""
    decimals = 2 if (dimension, draw.system) == ("pressure", "in. w.c.") else 0
    return 0.5 * float(units.from_display(10.0**-decimals, dimension, draw.system))


def dead_in_the_average(draw):
    """A dead transmitter in an average."""
    digits = FINE[draw.system]
    count = draw.one_of((2, 3, 4))
    set_point = draw.quantity("pressure", 30.0, 45.0, 1.0, digits)
    answer = float(pressure_at_the_rest(set_point, 0.0, 1 / count))
    question = (
        f"A loop holds the average of {count} transmitters at {draw.say(set_point, 'pressure', digits)}, and the tube of one of them comes "
        "off: it reads zero, its signal looks healthy, and the average still counts it. The fan can do what the loop asks. "
        f"{'What does the good one read' if count == 2 else 'What is the average of the good ones'}, once it has settled?"
    )
    slips = [
        Slip(
            "nothing changes",
            "The display still shows the set point. Ask what the good ones must read, to make up for the zero.",
            set_point,
        ),
        Slip(
            "lower instead of higher",
            "You took what the average drops to in the first moment. The loop then speeds the fan up until its display is right again.",
            set_point * (count - 1) / count,
        ),
    ]
    if count > 2:
        slips.append(Slip("always twice", "Twice is right for two transmitters. How many share the loss here?", 2 * set_point))
    way = (
        f"The display is right when all {count} together make {count} x {draw.say(set_point, 'pressure', digits)}.",
        f"One gives nothing, so {count - 1} must make it: {draw.say(count * set_point, 'pressure', digits)} / {count - 1} = "
        f"{draw.say(answer, 'pressure', ANSWERED[draw.system])} each on average.",
    )
    # 2 % for the rounding of a hand calculation.
    more = (
        Slip("sum for each", "That is what the good ones must make together. What is that for each of them?", count * set_point),
        Slip("always twice", "Twice is right for two transmitters. How many share the loss here?", 2 * set_point),
        Slip("divided by two", "You divided by two and multiplied by all. How many of them are still good?", set_point * count / 2),
        Slip("halved and times the good ones", "You halved, and multiplied by the good ones. Their sum is shared by them, not by two.",
             set_point * (count - 1) / 2),
        Slip("three times", "Three times would mean that one in three is good. How many are?", 3 * set_point),
        Slip("doubled twice", "You doubled twice. What must the sum of the good ones be?", 4 * set_point),
        Slip("shared by all", "You shared the loss among all of them. The one at zero takes none of it.", set_point * (1 + 1 / count)),
        Slip("half of it", "You halved the set point. The display is back at it in the end: what do the good ones read then?",
             set_point / 2),
    )  # fmt: skip
    tolerance = max(0.02 * answer, half_digit(draw, "pressure"))
    return Exercise(question, Measured(answer, "pressure", tolerance, ANSWERED[draw.system]), tuple(slips), way, more=more)


def after_the_fault(draw):
    """What the fan does after a fault."""
    right = draw.one_of(ENDS)
    rule, fault = draw.one_of([pair for pair, end in AFTER.items() if end == right])
    place = draw.one_of(("low in the stair", "high in the stair"))
    question = (
        f"The {rule} of two transmitters runs a supply fan, and both read about the set point. Then the one {place} fails: {SEEN[fault]}. "
        "The loop goes on in automatic, with a fan that is large enough for what the loop asks. What happens?"
    )
    hints = {
        FULL: "Full speed needs a combined reading that cannot reach the set point any more. What does this rule make of the two readings?",
        LOWEST_SPEED: "The lowest speed needs a combined reading that stays too high whatever the fan does. Does it, with this rule?",
        DOUBLE: "Twice the set point belongs to a rule that adds both readings up, with one of them at zero.",
        AS_BEFORE: "For that, the good reading alone would have to be the combined one. Is it, with this rule?",
    }
    slips = tuple(Slip(f"says: {wrong}", hint, wrong) for wrong, hint in hints.items() if wrong != right)
    way = (f"Rule {rule}; the failed one: {SEEN[fault]}.", f"Then {WHY[right]}: {right}.")
    return Exercise(question, Chosen(right, ENDS), slips, way)


RANGE_PA = 250.0  # of the transmitters there: more than any answer
WEIGHTS = ((2, 1), (1, 2), (3, 1), (1, 3), (3, 2), (2, 3))


def weighted_average(draw):
    """A weighted average with a failed reading."""
    digits = FINE[draw.system]
    dead, good = draw.one_of(WEIGHTS)
    place, other = draw.shuffled(("upper", "lower"))
    set_point = draw.quantity("pressure", 24.0, 36.0, 1.0, digits)
    share = good / (dead + good)
    answer = float(pressure_at_the_rest(set_point, 0.0, 1 - share))
    question = (
        f"A loop holds a weighted average of two transmitters at {draw.say(set_point, 'pressure', digits)}: the {place} one counts {dead}, "
        f"the {other} one counts {good}. The tube of the {place} one comes off: it reads zero, its signal looks healthy, and it is still "
        f"counted. The fan can do what the loop asks, and the range goes up to {draw.say(RANGE_PA, 'pressure')}. What does the {other} one "
        "read, once the loop has settled?"
    )
    slips = (
        Slip("nothing changes", "The display still shows the set point. What must the good one read, to make up for the zero?", set_point),
        Slip("lower instead of higher", "That is what the display drops to in the first moment. The loop then speeds the fan up.",
             set_point * share),
        Slip("the other's share", "You divided by the share of the failed one. Whose share is still there?", set_point / (1 - share)),
    )  # fmt: skip
    more = (
        Slip("as a plain average", "Twice belongs to two that count alike. How much does each count here?", 2 * set_point),
        Slip("weight for share", "You multiplied by a weight. A share is one weight out of both together.", set_point * dead),
        Slip("weight for share", "You multiplied by a weight. A share is one weight out of both together.", set_point * good),
        Slip("all weights", "You multiplied by all the weights. The good one still carries its own.", set_point * (dead + good)),
        Slip("loss on top", "You put the lost share on top. The good one must make all of it with its own share.", set_point * (2 - share)),
        Slip("half", "You halved it. The display is at the set point again in the end.", set_point / 2),
        Slip("divided by its weight", "You divided by the weight. A share is one weight out of both together.", set_point / good),
        Slip("divided by the other's weight", "You divided by the failed one's weight. Which share is still there?", set_point / dead),
    )  # fmt: skip
    way = (
        f"The {other} one counts {good} of {dead + good}.",
        f"Its share must make the whole set point: {draw.say(set_point, 'pressure', digits)} x {dead + good} / {good} = "
        f"{draw.say(answer, 'pressure', ANSWERED[draw.system])}.",
    )
    tolerance = max(0.02 * answer, half_digit(draw, "pressure"))
    return Exercise(question, Measured(answer, "pressure", tolerance, ANSWERED[draw.system]), slips, way, more=more)


RELIEF = (
    "A relief fan draws air out of a building and holds it above outdoors",
    "A relief fan on the roof holds a hall above outdoors",
    "An exhaust fan draws air out of a supplied laboratory, which is held above the corridor",
)
# For a fan that lowers the reading all turns round; what the good reading comes to does not.
AFTER_RELIEF = {pair: {FULL: LOWEST_SPEED, LOWEST_SPEED: FULL}.get(end, end) for pair, end in AFTER.items()}
WHY_RELIEF = {
    FULL: "the combined reading lies above the set point however fast the fan turns",
    LOWEST_SPEED: "the combined reading lies below the set point however slowly the fan turns",
    DOUBLE: "half of the combined reading is lost, so the fan slows down until the good one makes all of it",
    AS_BEFORE: WHY[AS_BEFORE],
}


def relief_after_the_fault(draw):
    """Two readings and a fan that draws air out."""
    right = draw.one_of(ENDS)
    rule, fault = draw.one_of([pair for pair, end in AFTER_RELIEF.items() if end == right])
    question = (
        f"{draw.one_of(RELIEF)}; the {rule} of two readings runs it, direct acting, and both read about the set point. Then one fails: "
        f"{SEEN[fault]}. The loop goes on in automatic. What happens?"
    )
    hints = {
        FULL: "This fan goes faster where the combined reading is too high. Does it stay too high, with this rule and this fault?",
        LOWEST_SPEED: "This fan goes slower where the combined reading is too low. Does it stay too low, with this rule and this fault?",
        DOUBLE: "Twice the set point belongs to a rule that adds both readings up, with one of them at zero.",
        AS_BEFORE: "For that, the good reading alone would have to be the combined one. Is it, with this rule?",
    }
    slips = tuple(Slip(f"says: {wrong}", hint, wrong) for wrong, hint in hints.items() if wrong != right)
    way = (
        "More speed lets more air out and lowers the reading, so this fan answers a low reading by slowing down.",
        f"Rule {rule}; the failed one: {SEEN[fault]}. Then {WHY_RELIEF[right]}: {right}.",
    )
    return Exercise(question, Chosen(right, ENDS), slips, way)
