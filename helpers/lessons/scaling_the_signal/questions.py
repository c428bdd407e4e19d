"""Lesson 04's questions: a top entered too large, a live zero forgotten, a broken wire, pressure and volts, set points in per cent."""

from functools import cache

from helpers import units
from helpers.formulas import signals
from helpers.studies.report import fine, range_text
from helpers.studies.signals.entered_scaling import BOTH, CAUSES, WIRE_OFF, EnteredScaling
from helpers.studies.signals.plates import plate_text
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

NOTHING, SOME, NEGATIVE, ALARM = (
    "nothing, as it should",
    "some pressure, where there is none",
    "a pressure below zero",
    "an alarm: the signal is too low",
)
SLOWER, FULL, SAME, KNOWS = (
    "it slows down: one reading is gone",
    "it speeds up, as far as it can",
    "it goes on as before, by the other one",
    "it stops, for the drive sees that the wire is broken",
)
WRONG_TOP_PA = 250.0
HALF_STEP_PA = 2.0


@cache
def _entry(**chosen):
    return EnteredScaling(**chosen)


def _ask_top():
    own, wrong = _entry(), _entry(entered_high_pa=WRONG_TOP_PA)
    return (
        f"Larkfield House: transmitters of {plate_text(own.low_pa, own.high_pa)}, 4-20 mA, set point "
        f"{with_unit(own.set_point_pa, 'pressure')}. In the drive somebody has entered "
        f"{range_text(wrong.entered_low_pa, wrong.entered_high_pa, 'pressure')}; the signal is entered as it is. The loop settles. "
        "What does it really hold, on average of the two transmitters?"
    )


def _find_top():
    held = _entry(entered_high_pa=WRONG_TOP_PA).held
    words = (
        f"the display doubles everything, so it shows the set point, {fine(held.shown_pa)}, while the true pressure is half of "
        f"that. A loop holds its display; a top too high means a pressure too low. {held.says()}"
    )
    return Outcome(Measured(held.true_pa, "pressure", HALF_STEP_PA, (1, 3)), words)


def _ask_zero():
    own = _entry()
    return (
        f"The same transmitters, range entered rightly, {plate_text(own.low_pa, own.high_pa)}. But for the signal "
        "somebody has chosen 0-20 mA instead of 4-20 mA. The fan is stopped, both tubes are off: no pressure at all. What does the "
        "display show?"
    )


def _find_zero():
    wrong = _entry(entered_signal="0-20 mA")
    offset = wrong.offset_pa
    right = NEGATIVE if offset < -1 else SOME if offset > 1 else NOTHING
    words = (
        f"{fine(offset)}. At no pressure the instrument sends its live zero, 4 mA, and of 0-20 mA that is a fifth. With the loop "
        f"running, {fine(wrong.held.true_pa)} is held instead of {fine(wrong.set_point_pa)}. {wrong.held.says()}"
    )
    return Outcome(Chosen(right, (NOTHING, SOME, NEGATIVE, ALARM)), words)


def _ask_broken():
    return (
        "Other transmitters, 0-10 V, everything entered as it is; the average of the two runs the fan. An open input of this drive falls "
        "to 0 V. In the night the wire of the upper one comes off its terminal. What does the fan do?"
    )


def _find_broken():
    volts = _entry(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF)
    held, live = volts.held, _entry(inputs=WIRE_OFF).held
    right = FULL if held.state == "at full speed" else SAME if abs(held.off_pa) < 1 else SLOWER
    words = (
        f"no voltage is a fair reading of {fine(volts.broken_pa)} for 0-10 V: nobody can tell it from no pressure. It goes into "
        f"the average, the average is too low, and the fan ends {held.state}. {held.says()} With 4-20 mA the drive leaves the "
        f"broken one out: the fan ends {live.state} by the lower reading alone, {fine(live.shown_pa)} of {fine(volts.set_point_pa)}."
    )
    return Outcome(Chosen(right, (SLOWER, FULL, SAME, KNOWS)), words)


top = Prediction("top", _ask_top, _find_top, dimension="pressure")
live_zero = Prediction("live zero", _ask_zero, _find_zero, (NOTHING, SOME, NEGATIVE, ALARM))
broken = Prediction("broken", _ask_broken, _find_broken, (SLOWER, FULL, SAME, KNOWS))
PREDICTIONS = (top, live_zero, broken)

# Ranges as they are sold [Pa]; two-sided ones tell span, top and bottom apart.
ONE_SIDED = ((0.0, 100.0), (0.0, 125.0), (0.0, 250.0), (0.0, 500.0))
TWO_SIDED = ((-50.0, 50.0), (-125.0, 125.0), (-250.0, 250.0))
LIVE = ("4-20 mA", "2-10 V", "1-5 V")
HAND = 0.02  # share that rounding costs in a calculation by hand
GOOD, FAILED_LOW, FAILED_HIGH = "a pressure: use it", "a failure, low side", "a failure, high side"
CANNOT_TELL = "no pressure or a broken wire: it cannot be told"
WHAT = (GOOD, FAILED_LOW, FAILED_HIGH, CANNOT_TELL)
# In earlier records by one of its causes, which a signal does not tell.
EARLIER_WHAT = (("a failure: broken wire or dead instrument", FAILED_LOW),
                ("a failure: the instrument says so, or a short circuit", FAILED_HIGH))  # fmt: skip


def pressure_from_signal(draw):
    """The pressure that a signal stands for."""
    low, high = draw.ends(TWO_SIDED)
    signal = draw.one_of(LIVE)
    start, end, unit = signals.SIGNALS[signal]
    sent = round(start + (end - start) * draw.whole(60, 95) / 100, 2)
    value, span = float(signals.to_units(sent, signal, low, high)), high - low
    question = (
        f"A transmitter of {_ends(draw, low, high)} sends {signal}. At the drive's terminals you measure {sent:g} {unit}. What is the "
        "pressure?"
    )
    slips = (
        Slip("live zero forgotten", f"You counted from 0 {unit}. At the bottom of its range this instrument does not send nothing.",
             low + sent / end * span),
        Slip("bottom forgotten", "That is how far the pressure lies above the bottom of the range. Where is the bottom?", value - low),
        Slip("top for span", "You took the top of the range for the span. This range begins below zero.",
             low + (value - low) * high / span),
    )  # fmt: skip
    share = (sent - start) / (end - start)
    way = (
        f"Above the bottom of the signal: {sent - start:.2f} of {end - start:g} {unit}, a share of {share:.4f}.",
        f"Of a span of {draw.say(span, 'pressure')} that is {_fine(draw, share * span)}.",
        f"From the bottom of the range, {draw.say(low, 'pressure')}: {_fine(draw, value)}.",
    )
    more = (
        Slip("as if from zero", "You began at zero pressure. This range begins below it, and the live zero stands for its bottom.",
             share * high),
        Slip("live zero and bottom forgotten", "You took the whole signal for the whole span. Where does the signal begin, and the range?",
             sent / end * span),
        Slip("bottom added", "You went up from the bottom by more than is there: the bottom is below zero, it counts as minus.",
             share * span - low),
        Slip("per cent for pressure", "That is the signal in per cent of its span. Which pressure of the range is that?",
             float(units.from_display(100 * share, "pressure", draw.system))),
        Slip("share for it", "That is the share of the span, as it stands. Which pressure of the range is that?",
             float(units.from_display(share, "pressure", draw.system))),
        Slip("live zero of the whole signal", f"You took {start:g} {unit} off, then divided by all {end:g} {unit}. How long is the span?",
             low + (sent - start) / end * span),
    )  # fmt: skip
    return Exercise(question, _pressure(draw, value, 0.004 * span), slips, way, more=more)


def volts_at_the_input(draw):
    """A current in a resistor, as the drive's input measures it."""
    low, high = draw.ends(ONE_SIDED)
    ohm, other = draw.shuffled((250, 500))
    value = draw.quantity("pressure", 0.25 * high, 0.75 * high, 1.0)
    sent = float(signals.to_signal(value, "4-20 mA", low, high))
    volts = float(signals.volts_from_milliamps(sent, ohm))
    question = (
        f"A transmitter of {_ends(draw, low, high)} sends 4-20 mA. The drive's input takes volts only, so a resistor of {ohm} Ω lies "
        f"across its terminals. The pressure is {draw.say(value, 'pressure')}. How many volts does a meter show there?"
    )
    slips = (
        Slip("live zero forgotten", "You let nothing flow at no pressure. This current has a live zero.", 20 * value / high * ohm / 1000),
        Slip("mA for V", "That is the current, in mA. The question asks for the voltage across the resistor.", sent),
        Slip("the other resistor", f"That would be {other} Ω. Two resistors are usual, one for each kind of voltage input: read its value.",
             volts * other / ohm),
        Slip("per cent of 20 mA", "You took your share of the whole 20 mA and put the live zero on top. How long is the span of 4-20 mA?",
             (4 + 20 * value / high) * ohm / 1000),
    )  # fmt: skip
    way = (
        f"Share of the span: {value / high:.3f}. Current: 4 + 16 x {value / high:.3f} = {sent:.2f} mA.",
        f"Across {ohm} Ω: {sent:.2f} x {ohm} / 1000 = {volts:.2f} V.",
    )
    more = (
        Slip("live zero left off", "You left the 4 mA off. What flows at no pressure?", 16 * value / high * ohm / 1000),
        Slip("share for it", "That is the share of the span. Which current is that, and which voltage across the resistor?", value / high),
        Slip("top for it", "That is the voltage at the top of the range. The pressure is lower.", 20 * ohm / 1000),
        Slip("mA divided", "You divided by the resistor. Volts are current times resistance.", sent / ohm * 1000),
        Slip("mA not turned", "A thousandth is missing: the current is in mA, the resistor in Ω.", sent * ohm),
        Slip("upside down", "You counted from the top. The current rises with the pressure.", (20 - 16 * value / high) * ohm / 1000),
    )  # fmt: skip
    return Exercise(question, Measured(volts, "number", HAND * volts, 2, "V"), slips, way, more=more)


def what_is_held(draw):
    """What the loop holds by a wrong entry."""
    return _wrong_top(draw) if draw.one_of((True, False)) else _no_live_zero(draw)


def _wrong_top(draw):
    top, entered = draw.ends(((125.0, 250.0), (250.0, 125.0), (125.0, 100.0), (100.0, 250.0)))
    entered = draw.end(50.0) if entered == top else entered  # two tops in Pa that are one by the inch
    point = draw.quantity("pressure", 30.0, 60.0, 1.0, _digits(draw))
    gain = float(signals.entry_gain("4-20 mA", 0.0, top, "4-20 mA", 0.0, entered))
    held = float(signals.held_instead(point, gain, 0.0))
    question = (
        f"A transmitter reads {_ends(draw, 0.0, top)}; in the drive {_ends(draw, 0.0, entered)} has been entered. The signal, 4-20 mA, is "
        f"right. The loop settles at its set point, {_fine(draw, point)}, on the display. What is the true pressure?"
    )
    slips = (
        Slip("turned round", "That is what the display would show if the set point were really there. The loop holds the display.",
             point * gain),
        Slip("as if right", "The display does show that. But does the drive know what the instrument's signal stands for?", point),
        Slip("difference for share", "You took the difference of the two tops. A wrong top stretches the line, it does not shift it.",
             point + top - entered),
    )  # fmt: skip
    way = (
        f"The display shows {gain:.2f} times what is there: {draw.say(entered, 'pressure')} over {draw.say(top, 'pressure')}.",
        f"It shows the set point where {_fine(draw, point)} / {gain:.2f} = {_fine(draw, held)} is.",
    )
    more = (
        Slip("live zero mixed in", "You brought the live zero into it. The signal is right; only the top is wrong.", held * 1.25),
        Slip("difference the other way", "You added the difference of the two tops. A wrong top stretches the line.",
             point + entered - top),
        Slip("share for it", "That is a share of a range. The pressure was asked for.",
             float(units.from_display(point / entered, "pressure", draw.system))),
        Slip("ratio twice", "You stretched it twice. The drive multiplies by the wrong top once.", held / gain),
        Slip("half of it", "You halved it. Write both tops down: what is one divided by the other?", point / 2),
        Slip("doubled", "You doubled it. Write both tops down: what is one divided by the other?", point * 2),
    )  # fmt: skip
    return Exercise(question, _pressure(draw, held), slips, way, more=more)


def _no_live_zero(draw):
    top = draw.end(draw.one_of((100.0, 125.0)))
    point = draw.quantity("pressure", 0.4 * top, 0.6 * top, 1.0, _digits(draw))
    entry = ("4-20 mA", 0.0, top, "0-20 mA", 0.0, top)
    gain, offset = float(signals.entry_gain(*entry)), float(signals.entry_offset(*entry))
    held = float(signals.held_instead(point, gain, offset))
    question = (
        f"A transmitter of {_ends(draw, 0.0, top)} sends 4-20 mA; in the drive the range is right, but 0-20 mA has been entered for the "
        f"signal. The loop settles at its set point, {_fine(draw, point)}, on the display. What is the true pressure?"
    )
    slips = (
        Slip(
            "turned round",
            "That is what the display would show if the set point were really there. The loop holds the display.",
            offset + gain * point,
        ),
        Slip("as if right", "The display does show that. But what does it show where no pressure is?", point),
        Slip(
            "offset alone",
            "You took off what the display shows at no pressure, and left it at that. Its slope is another one, too.",
            point - offset,
        ),
    )
    way = (
        f"At no pressure 4 mA come, 4/20 of the entered signal: the display shows {_fine(draw, offset)}.",
        f"From there on it rises by 16/20 of what the pressure rises: a gain of {gain:.2f}.",
        f"({_fine(draw, point)} - {_fine(draw, offset)}) / {gain:.2f} = {_fine(draw, held)}.",
    )
    more = (
        Slip("slope alone", "You put the slope right and forgot what the display shows at no pressure.", point / gain),
        Slip("slope the other way", "You multiplied by the slope. The display shows the set point: which pressure brings it there?",
             gain * point),
        Slip("offset the other way", "You added what the display shows at no pressure. It is there already, before any pressure is.",
             (point + offset) / gain),
        Slip("offset and slope the wrong way", "You took the offset off and then multiplied. Go back from the display to the pressure.",
             (point - offset) * gain),
        Slip("share for it", "That is a share of the range. The pressure was asked for.",
             float(units.from_display(point / top, "pressure", draw.system))),
        Slip("offset for it", "That is what the display shows at no pressure. The loop holds the set point on the display.", offset),
    )  # fmt: skip
    return Exercise(question, _pressure(draw, held), slips, way, more=more)


def set_point_in_per_cent(draw):
    """A set point in per cent of the display's range."""
    low, high = draw.ends(TWO_SIDED)
    value = draw.quantity("pressure", 0.2 * high, 0.7 * high, 1.0, _digits(draw))
    percent = float(signals.percent_of_range(value, low, high))
    question = (
        f"A drive takes its set point in per cent of the display's range, which is {_ends(draw, low, high)}. The loop is to hold "
        f"{_fine(draw, value)}. How many per cent do you enter?"
    )
    slips = (
        Slip("per cent of the top", "That is per cent of the top. The range begins below zero, and 0 % lies at its bottom.",
             100 * value / high),
        Slip("bottom forgotten", "You divided by the span and forgot that 0 % lies at the bottom of the range, not at no pressure.",
             100 * value / (high - low)),
        Slip("per cent of 20 mA", "That is the signal's per cent of 20 mA. The set point goes by the display, whatever the signal is.",
             20 + 0.8 * percent),
    )  # fmt: skip
    way = (
        f"Above the bottom of the range: {_fine(draw, value - low)}.",
        f"Over the span, {draw.say(high - low, 'pressure')}: {draw.say(percent, 'percent')}.",
    )
    more = (
        Slip("from the top", "You counted down from the top. 0 % lies at the bottom of the range.", 100 - percent),
        Slip("span from zero", "You counted from the bottom and divided by the top alone. How far is it from bottom to top?",
             100 * (value - low) / high),
        Slip("pressure for per cent", "That is the pressure as it stands. What share of the display's range is it?",
             float(units.to_display(value, "pressure", draw.system))),
        Slip("bottom taken off", "You took the size of the bottom off. The bottom is below zero: how far above it is the set point?",
             100 * (value + low) / (high - low)),
        Slip("share for per cent", "That is the share. Per cent were asked for.", percent / 100),
    )  # fmt: skip
    return Exercise(question, Measured(percent, "percent", max(HAND * percent, 0.05)), slips, way, more=more)


def what_a_signal_tells(draw):
    """Pressure, failure, or nobody knows."""
    kind = draw.one_of(("low", "high", "zero", "fair", "just"))
    signal = draw.one_of(("0-10 V", "0-5 V", "0-20 mA")) if kind == "zero" else draw.one_of(LIVE)
    start, end, unit = signals.SIGNALS[signal]
    far, above, fair, just = -draw.whole(35, 120) / 10, draw.whole(108, 118), draw.whole(8, 92), draw.one_of((-0.6, -1.9))
    percent = {"low": far, "high": above, "zero": 0, "fair": fair, "just": just}[kind]
    sent = start + (end - start) * percent / 100
    status = signals.STATUSES[int(signals.status(sent, signal))]
    right = CANNOT_TELL if kind == "zero" else {"failed low": FAILED_LOW, "failed high": FAILED_HIGH}.get(status, GOOD)
    hints = {
        GOOD: "What would a broken wire send here? Could the drive tell it from this?"
        if kind == "zero"
        else "Is there a band round the signal in which it still counts as a pressure? Which side of it is this one?",
        FAILED_LOW: "Low side means: so far below the bottom that no pressure sends it. Is it, and can this signal go there at all?",
        FAILED_HIGH: "High side means: so far above the top that no pressure sends it. Is this far above?",
        CANNOT_TELL: "Only where the bottom of the signal is 0 V or 0 mA do no pressure and no wire look alike. Is it here?",
    }
    earlier = {option: words for words, option in EARLIER_WHAT}  # by which records name the slip
    slips = tuple(Slip(f"says: {earlier.get(wrong, wrong)}", hints[wrong], wrong) for wrong in WHAT if wrong != right)
    question = (
        f"An input is set to {signal}, as the instrument is. It gets {sent:.3g} {unit}. The drive keeps the usual bands in per cent of "
        f"span: up to {-signals.MEASURES_FROM_PERCENT:g} % below the bottom and {signals.MEASURES_TO_PERCENT - 100:g} % above the top is "
        f"still measured, {-signals.FAILED_LOW_PERCENT:g} % below and {signals.FAILED_HIGH_PERCENT - 100:g} % above counts as failed; what "
        "lies between is used, and somebody looks at it. What does the signal tell you?"
    )
    way = f"{sent:.3g} {unit} is {percent:g} % of the span of {signal}.", f"So it is {right}.", CAUSES.get(status)
    return Exercise(question, Chosen(right, WHAT, EARLIER_WHAT), slips, tuple(filter(None, way)))


def _ends(draw, low, high):
    return f"{draw.say(low, 'pressure')} to {draw.say(high, 'pressure')}"


def _digits(draw):
    return 1 if draw.system == "Pa" else 3


def _fine(draw, value):
    return draw.say(value, "pressure", _digits(draw))


def _pressure(draw, value, least=0.0):
    """A pressure asked for; 2 % for the rounding of a hand calculation, and no less than half of the last digit, or `least`."""
    half = 0.5 * 10.0 ** -_digits(draw) * abs(float(units.from_display(1.0, "pressure", draw.system)))
    return Measured(value, "pressure", max(HAND * abs(value), half, least), _digits(draw))


MAKERS = (pressure_from_signal, volts_at_the_input, what_is_held, set_point_in_per_cent, what_a_signal_tells)


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    own, double = EnteredScaling(), EnteredScaling(entered_high_pa=WRONG_TOP_PA)
    zero = EnteredScaling(entered_signal="0-20 mA")
    no_live_zero = EnteredScaling(signal="0-10 V", entered_signal="0-10 V", inputs=WIRE_OFF)

    def figures(shown):
        named = {"own": own.high_pa, "entered": double.entered_high_pa}
        rooms = {name: plate_text(0.0, high_pa) for name, high_pa in named.items()}
        return {
            **rooms, "point": shown.pa(own.set_point_pa), "entered_top": shown.pa(double.entered_high_pa), "own_top": shown.pa(own.high_pa),
            "none": shown.pa(0.0), "half": shown.pa(double.held.true_pa), "weakest": shown.pa(double.held.least_pa),
            "least": shown.pa(own.loop.window_pa[0]), "nothing": shown.pa(zero.offset_pa), "with_zero": shown.pa(zero.held.true_pa),
            "ends": no_live_zero.held.state, "no_voltage": shown.pa(no_live_zero.broken_pa), "force": shown.n(no_live_zero.held.force_n),
        }  # fmt: skip

    moves = _moves(double, own, zero, no_live_zero)
    start = {
        "pressure_pa": own.set_point_pa, "instrument": (own.low_pa, own.high_pa), "signal": own.signal, "entered_high_pa": own.high_pa,
        "entered_low_pa": own.low_pa, "entered_signal": own.signal, "resistor_ohm": own.resistor_ohm, "inputs": BOTH,
    }  # fmt: skip
    tempting = "The display shows the set point, and steadily. What is steady looks right; a loop is steady about a wrong figure as well."
    opening = "{own}, 4-20 mA, entered as it is: both lines are one."
    return Story("scaling_the_signal", top, own.set_point_pa, tempting, start, opening, moves, figures)


def _moves(double, own, zero, no_live_zero):
    return (
        Move(
            {"entered_high_pa": double.entered_high_pa},
            "Entry top {entered_top}",
            "Entered {entered} instead; the loop settles at {point} on the display. What does it really hold?",
            "{half}: the display doubles, so half is enough for it. A top too high is a pressure too low: {weakest} at the lowest door, "
            "where the minimum is {least}.",
        ),
        Move(
            {"entered_high_pa": own.high_pa, "entered_signal": zero.entered_signal, "pressure_pa": 0.0},
            "Entry top {own_top}, entered signal 0-20 mA, true {none}",
            "The top right again, but 0-20 mA entered for 4-20 mA. No pressure at all: what does the display show?",
            "{nothing} that are not there: 4 mA are a fifth of 0-20 mA. With the loop running, {with_zero} is held instead of {point}.",
        ),
        Move(
            {"signal": no_live_zero.signal, "entered_signal": no_live_zero.signal, "inputs": WIRE_OFF, "pressure_pa": own.set_point_pa},
            "Transmitter signal 0-10 V, entered signal 0-10 V, inputs upper wire broken, true {point}",
            "Other transmitters, 0-10 V, all entered rightly. At night the wire of the upper one comes off. And the fan?",
            "It ends {ends}: no voltage is a fair reading of {no_voltage}, and it pulls the average down. {force} at the hardest door. A "
            "live zero would have told.",
        ),
    )
