"""Lesson 03's questions: ranges too wide, too tight or ending at zero, accuracy of span, errors together, which range and data sheet."""

import math
from functools import cache

from helpers import units
from helpers.formulas import signals, uncertainty
from helpers.studies.report import fine
from helpers.studies.signals.plates import end_text, plate_text
from helpers.studies.signals.range_fit import OF_SPAN, SUM, RangeFit
from helpers.studies.signals.steady_loop import QUAYSIDE
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

SAME, FOUR, HALF, UNCLEAR = (
    "the same: it is the same accuracy",
    "four times as large",
    "smaller: it has more room",
    "that depends on the pressure",
)
AS_SHOWN, A_LITTLE, HEAVY, LESS = (
    "every door is as it should be, the display says so",
    "the doors get a little more, but people can open them",
    "so much more that people cannot open them",
    "the doors get less, and smoke can pass",
)
ALL_WELL, MORE, BARELY, BELOW = (
    "what the display shows",
    "more than the display shows",
    "less than the display shows, on average still above outdoors",
    "less, on average below outdoors",
)
NARROW_PA, HIGH_SET_POINT_PA, WIDE_PA, ONE_SIDED_PA = 50.0, 45.0, 500.0, 25.0


@cache
def _fit(**chosen):
    return RangeFit(drift_percent=0.0, **chosen)


def _range(high_pa, low_pa=0.0):
    return plate_text(low_pa, high_pa)


def _ask_wide():
    own = _fit()
    return (
        f"Two transmitters, both with an accuracy of {own.accuracy_percent:g} % of span: one reads {_range(own.high_pa)}, the "
        f"other {_range(WIDE_PA)}. The stair is held at {with_unit(own.set_point_pa, 'pressure')}. What is the error of "
        "the wide one beside that of the other?"
    )


def _find_wide():
    own, wide = _fit(), _fit(high_pa=WIDE_PA)
    ratio = wide.own_parts_pa[0] / own.own_parts_pa[0]
    one, other = (with_unit(fit.own_parts_pa[0], "pressure", (2, 3)) for fit in (own, wide))
    right = SAME if ratio < 1.1 else FOUR if abs(ratio - 4) < 0.1 else UNCLEAR
    words = (
        f"±{one} for the one and ±{other} for the other, {ratio:.0f} times as much. A per cent of span is a per cent of the whole range, "
        "whatever the pressure is; the room that is never used is paid for as well."
    )
    return Outcome(Chosen(right, (SAME, FOUR, HALF, UNCLEAR)), words)


def _ask_narrow():
    point = with_unit(HIGH_SET_POINT_PA, "pressure")
    return (
        f"Larkfield House, winter. Somebody buys {_range(NARROW_PA)} for both transmitters, because it is the most accurate, and "
        f"sets the average of the two to {point}. The stack effect makes the upper doors heavier than the lower ones. The display shows "
        f"{point}. What do people find at the doors?"
    )


def _find_narrow():
    fit = _fit(high_pa=NARROW_PA, set_point_pa=HIGH_SET_POINT_PA)
    held = fit.held
    sent = fine(fit.seen(held.readings_pa).max())
    right = HEAVY if held.too_high else LESS if held.too_low else A_LITTLE if held.off_pa > 0.5 else AS_SHOWN
    (upper, true), end = (with_unit(value, "pressure") for value in (held.readings_pa.max(), held.true_pa)), end_text(NARROW_PA)
    words = (
        f"the upper transmitter stands at the end of its range and sends {sent}, a hair past {end} (lesson 04), whatever is there. The "
        "loop speeds up "
        f"until the lower one makes the average right. Really there are {upper} at the upper one, and {true} on average. "
        f"{held.says()}"
    )
    return Outcome(Chosen(right, (AS_SHOWN, A_LITTLE, HEAVY, LESS)), words)


def _ask_one_sided():
    own = _fit(site=QUAYSIDE, low_pa=-ONE_SIDED_PA, high_pa=ONE_SIDED_PA, set_point_pa=5.0)
    point = with_unit(own.set_point_pa, "pressure")
    return (
        f"Quayside Lab, winter, a wind from the water. A relief fan holds the building {point} above outdoors, by the average of two "
        f"transmitters, one on the quay and one in the yard. The range {_range(ONE_SIDED_PA, -ONE_SIDED_PA)} is replaced by "
        f"{_range(ONE_SIDED_PA)}. The display shows {point}. What is the true average?"
    )


def _find_one_sided():
    fit = _fit(site=QUAYSIDE, low_pa=0.0, high_pa=ONE_SIDED_PA, set_point_pa=5.0)
    held = fit.held
    right = ALL_WELL if abs(held.off_pa) < 0.5 else MORE if held.off_pa > 0 else BARELY if held.true_pa > 0 else BELOW
    quay, true = (fine(value) for value in (held.readings_pa.min(), held.true_pa))
    least, yard = (fine(value) for value in (fit.seen(held.readings_pa).min(), held.readings_pa.max()))
    words = (
        f"{true}. On the quay the building is at {quay} against the wind, and a range that begins at zero sends the end of its signal "
        f"instead, {least}, a hair past zero (lesson 04). The loop then holds {yard} in the yard, so that the two come to the set point on "
        "the display. The average comes out too high, and the relief fan draws out more air than it should."
    )
    return Outcome(Chosen(right, (ALL_WELL, MORE, BARELY, BELOW)), words)


wide = Prediction("wide", _ask_wide, _find_wide, (SAME, FOUR, HALF, UNCLEAR))
narrow = Prediction("narrow", _ask_narrow, _find_narrow, (AS_SHOWN, A_LITTLE, HEAVY, LESS))
one_sided = Prediction("one sided", _ask_one_sided, _find_one_sided, (ALL_WELL, MORE, BARELY, BELOW))
PREDICTIONS = (wide, narrow, one_sided)

# Ranges as they are sold [Pa]; the two-sided ones make span and top differ.
RANGES = ((0.0, 100.0), (0.0, 125.0), (0.0, 250.0), (0.0, 500.0), (-50.0, 50.0), (-125.0, 125.0), (-250.0, 250.0))
HALVED = "You shared it out between up and down. A ± stands for the whole of it each way."
BOTH_WAYS = "That is from one end of the error to the other. Asked is how far it may be off each way."
TWO_SIDED = tuple(pair for pair in RANGES if pair[0] < 0)
FIRST, SECOND = "the first", "the second"
# Offered for a stair that is held low [Pa]: too narrow, from zero, with a small negative end, too wide, both ways alike.
ON_OFFER = ((0.0, 50.0), (0.0, 125.0), (-25.0, 125.0), (0.0, 500.0), (-125.0, 125.0))
OF_WINDOW_PERCENT = 6.0  # that an error may take in `which_range`: between a small negative end and both ways alike


def error_from_span(draw):
    """An accuracy of span, in pressure."""
    low, high = draw.ends(RANGES)
    accuracy = draw.one_of((0.25, 0.5, 1.0, 1.5, 2.0))
    span, reading = high - low, draw.quantity("pressure", 0.2 * high, 0.45 * high, 1.0)
    error = float(signals.accuracy(low, high, accuracy))
    question = (
        f"A data sheet says: range {_ends(draw, low, high)}, accuracy ± {accuracy:g} % of span. The display shows "
        f"{draw.say(reading, 'pressure')}. By how much may the reading be off, up or down?"
    )
    slips = [
        Slip(
            "of reading for of span", "That is a share of the reading. What does the sheet take its per cent of?", accuracy / 100 * reading
        ),
        Slip("per cent not divided", "An error larger than the whole range? A per cent is a hundredth.", accuracy * span),
    ]
    if low < 0:
        slips.append(Slip("top for span", "You took the top of the range for the span. This range begins below zero.", error * high / span))
    else:
        slips.append(Slip("halved", HALVED, error / 2))
    way = (
        f"Span: from bottom to top, {draw.say(span, 'pressure')}.",
        f"{accuracy:g} % of it: {_error(draw, error)}, up or down, whatever the reading is.",
    )
    more = (
        Slip("per cent copied", "That is the per cent as the data sheet prints it. How much pressure is it?",
             float(units.from_display(accuracy, "pressure", draw.system))),
        Slip("share copied", "That is the per cent as a share. A share of what, and how much pressure is that?",
             float(units.from_display(accuracy / 100, "pressure", draw.system))),
        Slip("error added", "That is the reading with its error on top. By how much it may be off was asked.", reading + error),
        Slip("error taken off", "That is the reading less its error. By how much it may be off was asked.", reading - error),
        Slip("both ways together", BOTH_WAYS, 2 * error),
        Slip("halved", HALVED, error / 2),
        Slip("of the top less the reading", "You took the per cent of what is above the reading.", accuracy / 100 * (high - reading)),
    )  # fmt: skip
    return Exercise(question, _pressure(draw, error), draw.told_apart(slips, more, "per cent copied"), way, more=more)


def errors_together(draw):
    """Three errors, one figure."""
    low, high = draw.ends(RANGES)
    shares = draw.shuffled((draw.one_of((1.0, 1.2, 1.5)), draw.one_of((0.6, 0.8)), draw.one_of((0.3, 0.4))))
    span, (accuracy, drift, rest) = high - low, shares
    parts = [share / 100 * span for share in shares]
    root, plain, worst = float(uncertainty.root_sum_square(parts)), float(uncertainty.worst_case(parts)), draw.one_of((False, True))
    asked = (
        "as the worst case, all the same way at once"
        if worst
        else "by the root of the sum of squares, for they have nothing to do with each other"
    )
    question = (
        f"A transmitter of {_ends(draw, low, high)} has an accuracy of ± {accuracy:g} % of span; its zero may have drifted by ± {drift:g} "
        f"% of span since the last check, and temperature adds ± {rest:g} % of span. Bring the three together {asked}: by how much may the "
        "reading be off?"
    )
    other = (
        Slip("root for sum", "You took the root of squares, which counts on luck. The question asks for all of them at their worst.", root)
        if worst
        else Slip("added instead", "That is the plain sum: all three at their worst, the same way at once. Asked is the other.", plain)
    )
    slips = (
        other,
        Slip("largest alone", "You took the largest alone. The others are small, and not nothing.", max(parts)),
        Slip("average", "Errors in a row on one reading do not average out; more of them never make it better.", plain / 3),
    )
    way = (
        f"In pressure: {', '.join(_error(draw, part) for part in parts)}.",
        f"Their sum is {_error(draw, plain)}; the root of the sum of their squares is {_error(draw, root)}.",
        f"Asked for was the {'sum' if worst else 'root'}. It is you who chooses, and who says which.",
    )
    more = (
        Slip("top for span", "You took the top of the range for the span. From where to where does it reach?",
             (plain if worst else root) * high / span),
        Slip("per cent", "That is in per cent of span. How much pressure is that?",
             float(units.from_display((plain if worst else root) / span * 100, "pressure", draw.system))),
        Slip("root forgotten", "You added the squares and forgot the root.",
             float(units.from_display(sum(float(units.to_display(part, "pressure", draw.system)) ** 2 for part in parts), "pressure",
                                      draw.system))),
        Slip("one left out", "You left the smallest out. Three errors were given.", plain - min(parts) if worst else
             float(uncertainty.root_sum_square(sorted(parts)[1:]))),
        Slip("accuracy alone", "That is the accuracy alone. Drift and temperature come on top.", parts[0]),
        Slip("both ways together", BOTH_WAYS, 2 * (plain if worst else root)),
        Slip("halved", HALVED, (plain if worst else root) / 2),
        Slip("root of the mean", "You divided by their number. Errors on one reading are not averaged.", root / math.sqrt(3)),
    )  # fmt: skip
    slips = draw.told_apart(slips, more, "per cent", "one left out")
    return Exercise(question, _pressure(draw, plain if worst else root), slips, way, more=more)


def converter_step(draw):
    """One step of the converter, in pressure."""
    low, high = draw.ends(TWO_SIDED)
    bits, signal = draw.one_of((10, 11, 12)), draw.one_of(("4-20 mA", "2-10 V", "1-5 V"))
    start, end, unit = signals.SIGNALS[signal]
    step, span = float(signals.resolution(low, high, bits, signal)), high - low
    question = (
        f"A transmitter of {_ends(draw, low, high)} sends {signal}. The drive's A/D converter has {bits} bits, spread evenly over 0 to "
        f"{end:g} {unit}. How much pressure is one step?"
    )
    slips = (
        Slip("live zero forgotten", f"You spread the span over all the steps. How many of them lie below {start:g} {unit}?",
             step * (end - start) / end),
        Slip("top for span", "Did you take the top of the range for the span? This range begins below zero. Or half a step for a whole "
             "one?", step * high / span),
        Slip("live zero turned round", "The steps below the live zero are lost, so a step of what is left is coarser, not finer.",
             step * ((end - start) / end) ** 2),
    )  # fmt: skip
    way = (
        f"Steps in all: 2 to the power of {bits}, {2**bits}. Between {start:g} and {end:g} {unit} lie {100 * (end - start) / end:.0f} % "
        f"of them.",
        f"Span {draw.say(span, 'pressure')} over {2**bits * (end - start) / end:.1f} steps: {_error(draw, step)}.",
    )
    more = (
        Slip("step of the signal", "That is a step of the signal. How much pressure is it worth?",
             float(units.from_display(end / 2**bits, "pressure", draw.system))),
        Slip("one bit less", "You counted half of the steps. How much is 2 to the power of the bits?", 2 * step),
        Slip("bits squared", "You squared the bits. So many bits make 2 to that power of steps.", span / bits**2),
        Slip("bits for steps", "You divided by the bits themselves. So many bits make 2 to that power of steps.", span / bits),
        Slip("signal for steps", f"You divided by the signal. How many steps are there between {start:g} and {end:g} {unit}?",
             span / (end - start)),
        Slip("top for span, live zero too", "You took the top for the span, and spread it over all the steps: two things to look at.",
             step * high / span * (end - start) / end),
    )  # fmt: skip
    return Exercise(question, _pressure(draw, step), slips, way, more=more)


def which_range(draw):
    """Which range to buy."""
    scale = draw.one_of((1.0, 2.0))  # a stair held low, or high
    ranges = [tuple(draw.end(end * scale) for end in ends) for ends in ON_OFFER]
    names = tuple(_ends(draw, *ends) for ends in ranges)
    point = draw.quantity("pressure", 36.0 * scale, 44.0 * scale, 1.0)
    peak = draw.quantity("pressure", 80.0 * scale, 100.0 * scale, 1.0)
    room, accuracy = draw.quantity("pressure", 30.0 * scale, 40.0 * scale, 1.0), 1.0
    narrow, one_sided, right, wide, both = names
    if draw.edition == 1:  # asked for neither suction nor exchanged tubes, and had no small negative end: to mark what was answered to it
        gone = (("too narrow", narrow), ("too wide", wide), ("two-sided for nothing", both))
        slips = tuple(Slip(name, "The page asks for more today: see its question.", gives) for name, gives in gone)
        return Exercise("Which one do you buy?", Chosen(one_sided, (narrow, one_sided, wide, both)), slips, ())
    question = (
        f"A stair is held at {draw.say(point, 'pressure')}; its window is {draw.say(room, 'pressure')} wide. When a door slams shut the "
        f"pressure peaks at {draw.say(peak, 'pressure')}. While the fan is stopped the stack effect draws the lower doors a little below "
        f"zero. The display must show that, and must tell you when the two tubes are exchanged. All {len(names)} transmitters have an "
        f"accuracy of ± {accuracy:g} % of span, and the error should take no more than {OF_WINDOW_PERCENT:g} % of the window. Which one do "
        "you buy?"
    )
    slips = (
        Slip("too narrow", "Its error is the smallest. But what does it send when a door has just slammed?", narrow),
        Slip(
            "hides the sign",
            "It does see the peak, and its error is small. But what does it show when the tubes are exchanged, or under suction?",
            one_sided,
        ),
        Slip("too wide", "It ends far beyond the peak. But what is its error, in pressure, beside the window?", wide),
        Slip(
            "negative end too long",
            "It sees the peak, and it tells exchanged tubes. But how much of its span lies below zero, and what does that cost in error?",
            both,
        ),
    )
    errors = ", ".join(
        f"{_error(draw, (high - low) * accuracy / 100)} for {name}" for (low, high), name in zip(ranges[1:], names[1:], strict=True)
    )
    way = (
        f"It must reach over the peak of {draw.say(peak, 'pressure')}: {narrow} is out.",
        f"A range from zero shows zero with exchanged tubes and under suction alike: {one_sided} is out.",
        f"{OF_WINDOW_PERCENT:g} % of the window is {_error(draw, room * OF_WINDOW_PERCENT / 100)}. Errors: {errors}.",
        f"Only {right} does all three: a small negative end costs little, a long one much.",
    )
    return Exercise(question, Chosen(right, names), slips, way)


def which_sheet(draw):
    """Which of two data sheets promises less error."""
    low, high = draw.ends(((0.0, 125.0), (0.0, 250.0), (-125.0, 125.0)))
    of_span, share, span = draw.one_of((0.5, 1.0)), draw.one_of((0.45, 0.6, 1.6, 2.0)), high - low
    reading = draw.quantity("pressure", 0.3 * high, 0.4 * high, 1.0)
    of_reading = round(share * of_span * span / reading, 1)  # so that its error is that share of the other's
    first, second = of_span * span / 100, of_reading * reading / 100
    right, wrong = (FIRST, SECOND) if first < second else (SECOND, FIRST)
    question = (
        f"Two transmitters of {_ends(draw, low, high)}. The first: ± {of_span:g} % of span. The second: ± {of_reading:g} % of reading, and "
        f"nothing else. The loop holds {draw.say(reading, 'pressure')}. Which of the two is nearer to the truth there?"
    )
    hint = {
        FIRST: "The smaller per cent is not the smaller error. Write both as pressures before you compare.",
        SECOND: "An error of reading is small only while the reading is. Write both as pressures at this set point.",
    }[wrong]
    slips = (
        Slip("compares the per cents", hint, wrong),
        Slip("all ranges alike", "The range is the same, but the two per cents are not taken of the same thing.", "both alike"),
    )
    way = (
        f"The first: {of_span:g} % of a span of {draw.say(span, 'pressure')}, {_error(draw, first)}.",
        f"The second: {of_reading:g} % of {draw.say(reading, 'pressure')}, {_error(draw, second)}.",
        f"Nearer: {right}.",
    )
    return Exercise(question, Chosen(right, (FIRST, SECOND, "both alike")), slips, way)


def _ends(draw, low, high):
    return f"{draw.say(low, 'pressure')} to {draw.say(high, 'pressure')}"


def _error(draw, value):
    return draw.say(value, "pressure", _digits(draw, value))


def _digits(draw, value):
    """Digits after the point for three that count."""
    shown = abs(float(units.to_display(value, "pressure", draw.system)))
    return max(0, 2 - math.floor(math.log10(shown)))


def _pressure(draw, value):
    """A small pressure asked for; 2 % for the rounding of a hand calculation."""
    return Measured(value, "pressure", 0.02 * abs(value), _digits(draw, value), either_way=True)


MAKERS = (error_from_span, errors_together, converter_step, which_range, which_sheet)


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    own = RangeFit(drift_percent=0.0)
    wider = RangeFit(drift_percent=0.0, high_pa=WIDE_PA)
    narrower = RangeFit(drift_percent=0.0, high_pa=NARROW_PA, set_point_pa=HIGH_SET_POINT_PA)

    def figures(shown):
        named = {"own": own, "wide": wider, "narrow": narrower}
        rooms = {name: plate_text(fit.low_pa, fit.high_pa) for name, fit in named.items()}
        errors = {f"{name}_error": f"±{shown.fine(fit.own_parts_pa[0], 2)}" for name, fit in named.items()}
        return {
            **rooms, **errors, "percent": f"{own.accuracy_percent:g} %", "point": shown.pa(own.set_point_pa),
            "times": f"{wider.own_parts_pa[0] / own.own_parts_pa[0]:.0f}", "narrow_point": shown.pa(narrower.set_point_pa),
            "force": shown.n(narrower.held.force_n), "end": end_text(narrower.high_pa),
            "wide_top": end_text(wider.high_pa), "own_top": end_text(own.high_pa), "there": shown.pa(narrower.held.readings_pa.max()),
            "display": shown.pa(narrower.held.shown_pa), "peak": shown.pa(own.peak_pa), "eased": shown.n(own.held.force_n),
        }  # fmt: skip

    moves = _moves(wider, narrower, own)
    start = {
        "site": own.site, "high_pa": own.high_pa, "low_pa": own.low_pa, "set_point_pa": own.set_point_pa,
        "accuracy_percent": own.accuracy_percent, "of": OF_SPAN, "adding": SUM, "drift_percent": own.drift_percent, "bits": own.bits,
    }  # fmt: skip
    tempting = "The sheet says the same for both, and a per cent sounds like the instrument's own. Of what it is one stands in small print."
    opening = "{own}, accuracy {percent} of span, set point {point}."
    return Story("transmitter_range", wide, SAME, tempting, start, opening, moves, figures)


def _moves(wider, narrower, own):
    return (
        Move(
            {"high_pa": wider.high_pa},
            "Top {wide_top}",
            "The same accuracy, but {wide}. How large is its error beside the first one's?",
            "{wide_error} instead of {own_error}, {times} times as much. The room that is never used is paid for as well.",
        ),
        Move(
            {"high_pa": narrower.high_pa, "set_point_pa": narrower.set_point_pa},
            "Top {end}, set point {narrow_point}",
            "Then the most accurate: {narrow}, the average held at {narrow_point}. What do people find at the doors?",
            "{force} at the hardest door, too much. The upper one stops at {end} while {there} are there; the display shows {display}.",
        ),
        Move(
            {"high_pa": own.high_pa, "set_point_pa": own.set_point_pa},
            "Top {own_top}, set point {point}",
            "Which range would you buy, then, and what must lie inside it besides the set point?",
            "{own}: error {own_error}, and the highest reading, {peak} as the doors shut, is still seen. The hardest door needs {eased}.",
        ),
    )
