"""Lesson 05's questions: where the wrong action ends, reversed tubes, action from the plant, error and output, the test by hand."""

from functools import cache

from helpers import units
from helpers.formulas import action
from helpers.studies.signals.action import LetGo, bench
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

FULL, LOWEST = "it runs to full speed and stays there", "it runs to its lowest speed and stays there"
SETTLES, SWINGS = "it settles at the set point", "it swings to and fro"
OPTIONS = (FULL, LOWEST, SETTLES, SWINGS)
ANSWERS = {"full speed": FULL, "lowest speed": LOWEST, "held": SETTLES, "under way": SWINGS}
BELOW_PA, ABOVE_PA = 5.0, 2.0


@cache
def _ended(site, deviation_pa, action, swapped=False):
    place = bench(site)
    return place.let_go(LetGo(100 * deviation_pa / place.span, action, swapped=swapped))


def _outcome(found, because):
    stop = "at full speed" if found.end == "full speed" else f"at its {found.end}"
    words = f"{because}; after {found.at_s:.0f} s the fan is {stop}. {found.price.says()}"
    return Outcome(Chosen(ANSWERS[found.end], OPTIONS), words)


def _below():
    because = (
        "a direct acting controller takes reading less set point. Below the set point that is below zero, so it slows the fan, "
        "the reading falls further, and so on"
    )
    return _outcome(_ended("Larkfield House", -BELOW_PA, "direct"), because)


def _relief():
    because = (
        "a reverse acting controller slows the fan when the reading is too high. This fan draws air out, so slower means more pressure: "
        "the error feeds itself"
    )
    return _outcome(_ended("Quayside Lab", ABOVE_PA, "reverse"), because)


def _swapped():
    because = (
        "reversed tubes turn the sign of the reading, which then lies at the bottom of a range that begins at zero. The controller sees "
        "far too little pressure from whichever side it starts, and speeds up for good"
    )
    return _outcome(_ended("Larkfield House", BELOW_PA, "reverse", True), because)


def of_span(site, size_pa):
    """A distance from a site's set point as the panel counts it, in per cent of the span, and as a pressure."""
    return f"{100 * size_pa / bench(site).span:.3g} % of the span ({with_unit(size_pa, 'pressure', (0, 2))})"


def _ask(words, site, size_pa):
    return lambda: words.format(of_span(site, size_pa))


below = Prediction(
    "below",
    _ask(
        "Larkfield House: a supply fan blows into a stair. By mistake the loop is set to direct acting, and it is switched to "
        "automatic while the reading is {} below the set point. What does the fan do?",
        "Larkfield House", BELOW_PA,
    ),
    _below, OPTIONS,
)  # fmt: skip
relief = Prediction(
    "relief",
    _ask(
        "Quayside Lab: a relief fan draws air out of a building. By mistake the loop is set to reverse acting, and it is switched to "
        "automatic while the building is {} above its set point. What does the fan do?",
        "Quayside Lab", ABOVE_PA,
    ),
    _relief, OPTIONS,
)  # fmt: skip
swapped = Prediction(
    "swapped",
    _ask(
        "Larkfield House again, now with the right action, reverse. But the two tubes of each transmitter are on the wrong ports. "
        "The true pressure is {} above the set point. What does the fan do?",
        "Larkfield House", BELOW_PA,
    ),
    _swapped, OPTIONS,
)  # fmt: skip
PREDICTIONS = (below, relief, swapped)

# What the fan does, what is read, and the sign of the one on the other.
PLANTS = (
    ("A supply fan blows into a stair; the transmitter reads stair less floor.", +1),
    ("A relief fan on the roof draws air out of a building; the transmitter reads indoors less outdoors.", -1),
    ("An exhaust fan draws from a garage; the transmitter reads carbon monoxide.", -1),
    ("A supply fan feeds a duct with many boxes; the transmitter reads the pressure in the duct against the room.", +1),
    ("An exhaust fan draws from an isolation room. The transmitter's high side is in the corridor and its low side in the room.", +1),
    ("An exhaust fan draws from an isolation room. The transmitter's high side is in the room and its low side in the corridor.", -1),
    ("A supply fan blows cool outdoor air into a plant room; the transmitter reads the room's temperature.", -1),
    ("An exhaust fan draws a battery room's air out; the transmitter reads hydrogen.", -1),
    ("A supply fan pressurises a lift shaft; the transmitter reads shaft less lobby.", +1),
)
COUNT = "Go round the loop once more and count every minus, those in the drive's settings too."
OUT = "Better still, take the inversion out."
# What may turn a loop's sign besides plant and action (common practice, no source), whether it does, the hint, the way, what is better.
INVERTED = (
    ("The drive's input is set inverted: more signal is a lower reading.", -1, COUNT, "Then the drive: one more minus", OUT),
    ("The drive's speed command is set inverted: more output is less speed.", -1, COUNT, "Then the drive: one more minus", OUT),
    ("Input and speed command of the drive are both set inverted.", +1, COUNT, "Then the drive: two more minuses, which cancel",
     "Better still, take both inversions out."),
    ("It is a centrifugal fan, and its motor turns backwards: less air, but the same way.", +1,
     "Does a centrifugal fan that turns backwards blow the other way?", "No sign is turned", "Put the rotation right as well."),
)  # fmt: skip
EITHER = "either, it depends on the gain"
SPANS = ((0.0, 100.0), (0.0, 125.0), (-25.0, 25.0), (-50.0, 50.0), (0.0, 250.0))
ENDS = ("it runs to full speed", "it runs to its lowest speed", "it comes back to the set point")
ACTION_WRONG, TUBES, SETTLED, NO_ANSWER = (
    "the action is set the wrong way",
    "the transmitter's tubes are reversed",
    "nothing is wrong with action or tubes",
    "the reading does not answer to the fan at all",
)


def which_action(draw):
    """Reverse or direct, from the plant."""
    told, effect = draw.one_of(PLANTS)
    right, other = action.action_for(effect), action.action_for(-effect)
    slips = (
        Slip("fan for reading",
             "You may have thought of what the fan does to the air. Ask of the reading only: it is too high; must the fan go faster or "
             "slower to bring it down?", other),
        Slip("gain for action",
             "Gain says how much the output moves, never which way. A loop of the wrong sign runs away with any gain.", EITHER),
    )  # fmt: skip
    way = (
        f"When the fan turns faster the reading {'rises' if effect > 0 else 'falls'}.",
        f"If the reading is too high the fan must go {'slower' if effect > 0 else 'faster'}.",
        f"Reading up, output {'down' if effect > 0 else 'up'}: {right} acting.",
    )
    return Exercise(f"{told} Which action makes the loop hold?", Chosen(right, (*action.ACTIONS, EITHER)), slips, way)


def third_minus(draw):
    """One more sign to look for."""
    told, effect = draw.one_of(PLANTS)
    inverted, sign, hint, counted, better = draw.one_of(INVERTED)
    right, other = action.action_for(sign * effect), action.action_for(-sign * effect)
    slips = (
        Slip("minus not counted", hint, other),
        Slip("gain for action", "Gain says how much the output moves, never which way. Count the minus signs once round.", EITHER),
    )
    way = (
        f"More speed: the true reading {'rises' if effect > 0 else 'falls'}.",
        f"{counted}; so {right} acting. {better}",
    )
    question = f"{told} {inverted} Which action makes the loop hold, with all that left as it is?"
    return Exercise(question, Chosen(right, (*action.ACTIONS, EITHER)), slips, way)


def output_step(draw):
    """How far, and which way, the output moves at once."""
    low, high, digits = _range(draw)
    span, acts = high - low, draw.one_of(action.ACTIONS)
    set_point = draw.quantity("pressure", low + 0.6 * span, low + 0.7 * span, 1.0, digits)
    reading = draw.as_written(
        set_point + draw.one_of((-1, 1)) * draw.quantity("pressure", 0.06 * span, 0.12 * span, 1.0), "pressure", digits
    )
    gain = draw.whole(5, 30) / 10
    error = float(action.error(set_point, reading, acts))
    percent = gain * error / span * 100
    question = (
        f"A {acts} acting controller has a gain of {gain:.1f} (per cent of output for each per cent of span). Its transmitter goes from "
        f"{draw.say(low, 'pressure')} to {draw.say(high, 'pressure')}, and from the set point, "
        f"{draw.say(set_point, 'pressure', digits)}, the reading jumps to {draw.say(reading, 'pressure', digits)}: by how many per cent "
        "of full speed does the output move at once (minus: slower)?"
    )
    slips = [
        Slip("not of span", "That takes the error in units of pressure. The gain works on per cent of span.", gain * error),
        Slip("gain upside down", "You divided by the gain. A higher gain moves the output more.", error / span * 100 / gain),
    ]
    if low < 0:
        slips.append(
            Slip("range for span", "You took the top of the range for the span. This range begins below zero.", gain * error / high * 100)
        )
    way = (
        f"Span: {draw.say(span, 'pressure')} from end to end.",
        f"Error of a {acts} acting controller: {'set point - reading' if acts == 'reverse' else 'reading - set point'} = "
        f"{draw.say(error, 'pressure', digits)}, which is {error / span * 100:.2f} % of span.",
        f"Output: {gain:.1f} x {error / span * 100:.2f} % = {percent:.1f} %.",
    )
    # 2 % for the rounding of a hand calculation, and no less than half of the last digit asked for.
    share = error / span * 100
    shown = float(units.to_display(error, "pressure", draw.system))
    more = (
        Slip("wrong sign", "The size is right and the sign is not: does the fan go faster or slower?", -percent),
        Slip("gain forgotten", "That is the error in per cent of span. What does the gain make of it?", share),
        Slip("gain and span forgotten", "That is the error as a pressure. How many per cent of span is that, and then the gain?",
             shown),
        Slip("not of span", "That takes the error in units of pressure. The gain works on per cent of span.", gain * shown),
        Slip("gain forgotten, wrong sign", "The gain is missing, and the sign: which way does this action move the fan?", -share),
        Slip("gain and span forgotten, wrong sign", "That is the error as a pressure, and its sign: which way does this action move it?",
             -shown),
        Slip("not of span, wrong sign", "The gain works on per cent of span; and which way does this action move the fan?", -gain * shown),
        Slip("gain upside down, wrong sign", "You divided by the gain; and which way does this action move the fan?", -share / gain),
        Slip("of the reading", "You took the error in per cent of the set point. The gain works on per cent of span.",
             gain * error / set_point * 100),
        Slip("gain for percent", "That is the gain alone, in per cent. How many per cent of span is the error?", gain),
    )  # fmt: skip
    apart = draw.told_apart(slips, more, "gain and span forgotten")
    return Exercise(question, Measured(percent, "percent", max(0.02 * abs(percent), 0.05)), apart, way, more=more)


def which_end(draw):
    """Where a loop ends, from plant, action and side."""
    told, effect = draw.one_of(PLANTS)
    acts, above = draw.one_of(action.ACTIONS), draw.one_of((True, False))
    error = action.error(0.0, 1.0 if above else -1.0, acts)
    stop = str(action.end_stop(acts, effect, error))
    places = dict(zip(("full speed", "lowest speed", "held"), ENDS, strict=True))
    right = places[stop]
    slips = tuple(_wrong_end(end, stop == "held") for end in ENDS if end != right)
    question = (
        f"{told} The loop is set to {acts} acting and switched to automatic while the reading is {'above' if above else 'below'} the set "
        "point. What does the fan do in the end?"
    )
    return Exercise(question, Chosen(right, ENDS), slips, _way_to_the_end(effect, acts, above, right))


def _wrong_end(end, holds):
    """The slip behind a wrong end of a loop that holds or runs away."""
    if end == ENDS[2]:
        hint = "Multiply the signs: what a faster fan does to the reading, and a higher reading to the output. Is the product minus?"
        return Slip("takes it for holding", hint, end)
    if holds:
        heads = end.removeprefix("it runs to ")
        hint = (
            f"The sign once round decides first, before you ask from which side it starts. Suppose the fan went towards {heads}: what "
            "would the reading do, and what would this action make of that?"
        )
        return Slip(f"takes it for a runaway, {end}", hint, end)
    hint = "Think of the first second only: is the reading above or below the set point, and what does this action do to the output then?"
    return Slip("wrong side", hint, end)


def _way_to_the_end(effect, acts, above, right):
    product = int(action.loop_sign(acts, effect))
    first = "more" if (above and acts == "direct") or (not above and acts == "reverse") else "less"
    return (
        f"Faster fan, reading {'up: +1' if effect > 0 else 'down: -1'}. Reading up, output "
        f"{'down: -1' if acts == 'reverse' else 'up: +1'}.",
        f"Once round: {product:+d}, so the loop {'holds' if product < 0 else 'runs away'}.",
        f"The reading is {'above' if above else 'below'} the set point, so at first the output asks for {first} speed; in the end {right}.",
    )


def band_in_units(draw):
    """Proportional band in units of the reading."""
    low, high, digits = _range(draw)
    span, gain = high - low, draw.whole(6, 40) / 10
    band, answered = float(action.proportional_band(gain)) / 100 * span, digits or 1
    question = (
        f"With a transmitter that goes from {draw.say(low, 'pressure')} to {draw.say(high, 'pressure')}, a controller has a gain of "
        f"{gain:.1f}. What error would move the output from one end to the other by the proportional part alone? Give this proportional "
        "band as a pressure."
    )
    slips = [
        Slip("gain for band", "You multiplied by the gain. A higher gain needs a smaller error, so the band is narrower.", gain * span),
        Slip("a half", "That is the error to one side only. The band is the whole width, from end to end of the output.", band / 2),
    ]
    if low < 0:
        slips[1] = Slip("range for span", "You took the top of the range for the span. This range begins below zero.", band * high / span)
    way = (
        f"Band = 100 / gain = {100 / gain:.1f} % of span.",
        f"Of a span of {draw.say(span, 'pressure')} that is {draw.say(band, 'pressure', answered)} from end to end.",
    )
    # 2 % for the rounding of a hand calculation, and no less than half of the last digit that is shown.
    tolerance = max(0.02 * band, 0.5 if draw.system == "Pa" else 0.005 * units.WATER_COLUMNS_PA[units.WATER_COLUMN])

    def in_units(number):
        return float(units.from_display(number, "pressure", draw.system))

    more = (
        Slip("band in per cent", "That is the band in per cent of span. How much pressure is it?", in_units(100 / gain)),
        Slip("gain times a hundred", "You multiplied 100 by the gain. A higher gain makes the band narrower.", in_units(100 * gain)),
        Slip("one over the gain", "That is one by the gain. The band is 100 % by the gain, and that of the span.", in_units(1 / gain)),
        Slip("whole span", "That is the whole span, the band of a gain of one. This gain is another.", span),
        Slip("a half", "That is the error to one side only. The band is the whole width, from end to end of the output.", band / 2),
        Slip("gain times range", "You multiplied the top of the range by the gain. Band and gain are each other's inverse.", gain * high),
        Slip("twice", "You took it to both sides. The band is the whole width already, from end to end of the output.", 2 * band),
        Slip("per cent of the gain", "You took the gain for per cent. Divide 100 by the gain first.", gain / 100 * span),
    )  # fmt: skip
    apart = draw.told_apart(slips, more, "band in per cent", "gain times range")
    return Exercise(question, Measured(band, "pressure", tolerance, answered), apart, way, more=more)


def hand_test(draw):
    """What a test by hand tells."""
    fan, effect = draw.one_of((("supply fan of a stair", +1), ("relief fan of a building", -1)))
    moved = draw.one_of((+1, -1, 0))
    acts = draw.one_of(action.ACTIONS)
    step = draw.one_of((3, 5, 8))
    right = _found(effect, moved, acts)
    seen = {+1: "rises", -1: "falls", 0: "stays where it was"}[moved]
    reads = "stair less floor" if effect > 0 else "indoors less outdoors"
    question = (
        f"You stand at the drive of the {fan}; its transmitter has a range on both sides of zero and is to read {reads}. The loop is set "
        f"to {acts} acting. Nobody remembers what it did in automatic. You put it in manual and turn the speed "
        f"up by {step} %: the reading {seen}. What is wrong? If more than one thing is, which do you put right first?"
    )
    hints = {
        ACTION_WRONG: "The action is a setting of the automatic. First ask whether the reading itself moved as the air must, in manual.",
        TUBES: "Reversed tubes turn the sign of the reading. Did the reading move against what this fan does to the air?",
        SETTLED: "Two things must both be right: the reading follows the air, and the action follows the reading. Check each by itself.",
        NO_ANSWER: "The reading did answer, or it did not: look again at what it did when the speed rose.",
    }
    slips = tuple(Slip(f"says: {wrong}", hint, wrong) for wrong, hint in hints.items() if wrong != right)
    late = acts != action.action_for(effect) and right != ACTION_WRONG
    also = " Only then the action, which is wrong as well: it can be judged by a reading that is right." if late else ""
    way = (
        f"This fan, faster, must make the reading {'rise' if effect > 0 else 'fall'}. It {seen}.",
        f"If the reading is too high this fan must go {'slower: reverse' if effect > 0 else 'faster: direct'} acting; it is set to {acts}.",
        f"So {right}.{also}",
    )
    return Exercise(question, Chosen(right, (ACTION_WRONG, TUBES, SETTLED, NO_ANSWER)), slips, way)


def _range(draw):
    """Ends of a transmitter's range as written, and the digits with which a pressure within it is written."""
    low, high = draw.ends(SPANS)
    return low, high, 0 if draw.system == "Pa" else 3


def _found(effect, moved, acts):
    if moved == 0:
        return NO_ANSWER
    if moved != effect:
        return TUBES
    return SETTLED if acts == action.action_for(effect) else ACTION_WRONG


MAKERS = (which_action, output_step, which_end, band_in_units, hand_test, third_minus)


PLACE, OTHER_PLACE = "Larkfield House", "Quayside Lab"


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    stair, lab = bench(PLACE), bench(OTHER_PLACE)
    off, up = 100 * BELOW_PA / stair.span, 100 * ABOVE_PA / lab.span
    right, under, over = (stair.let_go(LetGo(*run)) for run in ((-off, "reverse"), (-off, "direct"), (off, "direct")))
    relieved = lab.let_go(LetGo(up, "reverse"))

    def figures(shown):
        runs = {"right": right, "below": under, "above": over, "relief": relieved}
        times = {f"{name}_s": f"{run.at_s:.0f} s" for name, run in runs.items()}
        return {
            **times, **{name: run.end for name, run in runs.items()}, "off": shown.fine(BELOW_PA), "place": PLACE,
            "start": f"{off:.1f} %", "other_start": f"{up:.1f} %",
            "low": shown.pa(under.price.least), "high": shown.pa(under.price.most), "force": shown.n(over.price.force_n),
            "limit": shown.n(over.price.limit_n),
        }  # fmt: skip

    moves = _moves(off, up)
    start = {
        "deviation_percent": -off, "gain_share": 1.0, "site": PLACE, "action": "reverse", "tubes": "right", "mode": "automatic",
    }  # fmt: skip
    tempting = (
        "A loop that is not right is said to hunt. That is one with too much gain; one with the wrong sign does not come back at all."
    )
    opening = "Let go {off} below: reverse acting, a supply fan. It comes back."
    return Story("reverse_or_direct", below, SWINGS, tempting, start, opening, moves, figures)


def _moves(off, up):
    return (
        Move(
            {"action": "direct"},
            "Action direct",
            "The same start, but by mistake direct acting. What does the fan do?",
            "Slower and slower: after {below_s} at its {below}, and there it stays. The doors get {low} to {high}: smoke can pass. "
            "No swing, and nothing brings it back.",
        ),
        Move(
            {"deviation_percent": off},
            "Reading off at start {start}",
            "Still direct. This time it goes to automatic {off} above the set point. Where does it end?",
            "At the other stop: {above} after {above_s}, and {force} at the hardest door, where {limit} is allowed. The start decides "
            "which harm is done.",
        ),
        Move(
            {"site": OTHER_PLACE, "action": "reverse", "deviation_percent": up},
            "Site and fan Quayside Lab, action reverse, reading off at start {other_start}",
            "So reverse is always right? Here a relief fan draws air out of a building; the loop is reverse acting. What does it do?",
            "Wrong here: after {relief_s} it is at its {relief}. A faster relief fan lowers the reading, so this one must be direct. The "
            "loop of {place} was back after {right_s}, with reverse.",
        ),
    )
