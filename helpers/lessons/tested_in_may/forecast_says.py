"""Lesson 09b's exercises on the forecast: how wide its interval is, what a share of the buildings says, what to measure, what to record."""

import math

from helpers import units
from helpers.teaching.questions import Chosen, Exercise, Measured, Slip

Z90 = 1.64  # standard deviations to either end of a 90 % interval, as one writes them by hand


def fine(draw):
    """Digits of a pressure that a gauge shows."""
    return 0 if draw.system == "Pa" else 3


def half_width(draw):
    """How far the end of an interval lies."""
    digits = 1 if draw.system == "Pa" else 4
    parts = [draw.quantity("pressure", 0.6, 2.4, 0.2, digits) for _ in range(3)]
    root = math.hypot(*parts)
    answer = Z90 * root
    squares = float(units.from_display(units.to_display(root, "pressure", draw.system) ** 2, "pressure", draw.system))
    building, stair, wind = (draw.say(part, "pressure", digits) for part in parts)
    question = (
        f"The forecast of a door is unsure, by standard uncertainties (half the width that holds two cases of three), by {building} "
        f"of the building, by {stair} of the stair's air in "
        f"January and by {wind} of the wind. The three are independent. How far above its middle does the upper "
        f"end of the 90 % interval lie (factor {Z90})?"
    )
    slips = (
        Slip("added straight", "You added them as if all went the same way at once. They are independent.", Z90 * sum(parts)),
        Slip("factor forgotten", "That is one standard uncertainty. It holds two cases of three, not nine of ten.", root),
        Slip("both sides", "That is the whole width. Asked for is one side.", 2 * answer),
        Slip("largest alone", "You took the largest alone. The others come on top, though not straight.", Z90 * max(parts)),
    )
    way = (
        "Squares added, then the root: they are independent.",
        f"Root of the sum of the squares: {draw.say(root, 'pressure', digits)}.",
        f"Times {Z90}: {draw.say(answer, 'pressure', digits)}.",
    )
    more = (
        Slip("sum alone", "You added them, and left the factor out.", sum(parts)),
        Slip("factor of 95", "You took the factor of a 95 % interval.", 1.96 * root),
        Slip("mean", "You took their mean. More that is unsure makes the interval wider.", Z90 * sum(parts) / 3),
        Slip("divided", "You divided by the factor. Nine of ten want more room than two of three.", root / Z90),
        Slip("largest, no factor", "That is the largest of the three. The others and the factor are missing.", max(parts)),
        Slip("root forgotten", "You added the squares and multiplied. What is taken of a sum of squares?", Z90 * squares),
        Slip("squares alone", "That is the sum of the squares. What is taken of it, and by what is it multiplied?", squares),
    )
    if draw.system == "Pa":
        more += (Slip("kilopascals", "The figure is right, and the unit is a thousand times too large: Pa, not kPa.", 1000 * answer),)
    return Exercise(question, Measured(answer, "pressure", 0.025 * answer, digits, either_way=True), slips, way, more=more)


PASSED, LOOK, OUT, TIME = (
    "PASS, and the test that is asked for is made all the same", "CHECK: measure more, or change something",
    "FAIL: out as often as inside, or more often", "it is inside for that share of the winter",
)  # fmt: skip
SAYS = (PASSED, LOOK, OUT, TIME)


def told_by_share(draw):
    """What a share of the buildings says."""
    drawn = draw.one_of((100, 120, 150, 200, 250))
    right, least, most = draw.one_of(((PASSED, 96, 99), (LOOK, 55, 93), (OUT, 5, 47)))
    good, level = round(drawn * draw.whole(least, most) / 100), draw.whole(3, 18)
    question = (
        f"A test day in May is fitted, and {drawn} buildings are drawn that fit it equally well. In {good} of them the stair door of "
        f"storey {level} is inside its window in January. What does the forecast say of this door?"
    )
    hints = {
        PASSED: "Count those in which it is inside, and make it a number of a hundred. From how many on is it PASS?",
        LOOK: "That lies between: not surely inside, and inside more often than out. Is it so here?",
        OUT: "That is for a door that is out in half of the buildings or more. Is it?",
        TIME: "The weather is one and the same in all of them. What differs from one to the next is the building.",
    }
    slips = tuple(Slip(f"says {name}", hints[says], says) for says, name in zip(SAYS, ("PASS", "CHECK", "FAIL", "time"), strict=True)
                  if says != right)  # fmt: skip
    way = (
        f"{good} of {drawn} is {100 * good / drawn:.0f} of a hundred.",
        "From 95 on PASS, from 50 down FAIL, between them CHECK.",
        f"So {right}.",
    )
    return Exercise(question, Chosen(right, SAYS), slips, way)


FLOORS, STAIR, GAUGE, FLOW = (
    "floors over outdoors, at bottom and top", "the stair's air on a cold day", "the doors, with a better gauge",
    "the fan's flow, once more",
)  # fmt: skip
NEXT = (FLOORS, STAIR, GAUGE, FLOW)


def measure_next(draw):
    """What to measure next."""
    digits = 1 if draw.system == "Pa" else 4
    right = draw.one_of((FLOORS, STAIR, GAUGE))
    sizes = {one: draw.quantity("pressure", *((2.0, 3.2) if one == right else (0.4, 1.4)), 0.2, digits) for one in (FLOORS, STAIR, GAUGE)}
    change = draw.quantity("pressure", 16.0, 30.0, 1.0, fine(draw))
    share = round(sizes[FLOORS] / change, 2)
    question = (
        f"From May to January a door's forecast moves by {draw.say(change, 'pressure', fine(draw))} times the door's share, and that share "
        f"is unsure by {share:.2f}. The stair's air in January makes it unsure by {draw.say(sizes[STAIR], 'pressure', digits)}, the gauge "
        f"by {draw.say(sizes[GAUGE], 'pressure', digits)}; the flow is known to 8 %, and the loop holds. Which reading narrows this door's "
        "interval most?"
    )
    hints = {
        FLOORS: "Multiply first: the change of the stack effect by what the share is unsure. Is that the largest of the three?",
        STAIR: "The stair's air is one of three. Multiply the share's part out, and set all three side by side.",
        GAUGE: "A better gauge takes away the gauge's part alone. Is that the largest here?",
        FLOW: "The loop holds the pressure with more air or with less. Does the flow move this door at all?",
    }
    names = {FLOORS: "floors", STAIR: "stair", GAUGE: "gauge", FLOW: "flow"}
    slips = tuple(Slip(f"measures {names[one]}", hints[one], one) for one in NEXT if one != right)
    moved = draw.say(change * share, "pressure", digits)
    way = (
        f"The share's part: {draw.say(change, 'pressure', fine(draw))} × {share:.2f} = {moved}.",
        f"Beside it {draw.say(sizes[STAIR], 'pressure', digits)} of the stair's air and {draw.say(sizes[GAUGE], 'pressure', digits)} of "
        "the gauge; the flow moves the fan's speed and not the door.",
        "In an interval the squares of the parts are added: the largest part counts even more there.",
        f"So {right}.",
    )
    return Exercise(question, Chosen(right, NEXT), slips, way)


STACK, SERIES, SIZE, ZERO, DOUBT = (
    "how much of the readings is the day's stack effect", "whether the stair doors or the outer walls leak",
    "how much air the leaks take, and so the fan's speed", "what the gauges showed before the fan did anything",
    "how wide an interval is",
)  # fmt: skip
ON_THE_SHEET = {
    STACK: "outdoors and stair, bottom and top, by thermometer", SERIES: "three floors over outdoors", SIZE: "the fan's flow by traverse",
    ZERO: "all gauges with the fan off", DOUBT: "the gauges' certificates, with their uncertainty",
}  # fmt: skip


def not_recorded(draw):
    """What a day left out."""
    missing, storeys, rounds = draw.one_of(tuple(ON_THE_SHEET)), draw.whole(8, 24), draw.whole(2, 4)
    there = [words for of, words in ON_THE_SHEET.items() if of != missing]
    first = draw.whole(0, len(there) - 1)
    question = (
        f"The sheet of a test day, {storeys} storeys, {rounds} rounds at steady speeds. On it: every shut stair door; "
        f"{'; '.join(there[first:] + there[:first])}. What can nobody work out from this sheet?"
    )
    hints = {
        STACK: "For that one needs the temperatures of both columns of air. Are they on the sheet?",
        SERIES: "For that one needs the pressure behind the doors. Is it on the sheet?",
        SIZE: "Pressures tell how leaks compare with each other, a flow how large they are. Is one on the sheet?",
        ZERO: "For that the gauges are read before the fan runs. Were they?",
        DOUBT: "For that one needs to know how far off a reading may be. Does the sheet say so?",
    }
    names = {STACK: "stack effect", SERIES: "series", SIZE: "size", ZERO: "baseline", DOUBT: "uncertainty"}
    slips = tuple(Slip(f"says {names[one]}", hints[one], one) for one in ON_THE_SHEET if one != missing)
    way = ("Go through the list and say of each what it is for.", f"Not on it: {ON_THE_SHEET[missing]}.", f"So {missing}.")
    return Exercise(question, Chosen(missing, tuple(ON_THE_SHEET)), slips, way)
