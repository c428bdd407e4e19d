"""Lesson 08's questions: gain from a step test and a tuning from it, another span or display, the force after a door, a slow drive."""

from dataclasses import asdict, replace
from functools import cache

from helpers import units
from helpers.formulas import action, tuning
from helpers.lessons.tuning_and_door_events.changes_on_site import another_display, what_happens
from helpers.lessons.tuning_and_door_events.off_the_trend import (
    dead_time_from_a_trend,
    force_after_the_door,
    integral_time,
    ramp_alone,
    time_constant_from_a_trend,
)
from helpers.studies.tuning.door_tests import WITHIN_S
from helpers.studies.tuning.trial import LENGTH_S, OPENS_S, SHUTS_S, bench
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story
from helpers.units.said import with_unit

SLOWER, AS_FAST, FASTER = "slower", "just as fast", "faster"
YES, NO = "yes, with enough gain", "no, with no tuning at all"
SLOW_RAMP_S = 12.0
WITHIN, LITTLE_OVER, FAR_OVER = "no more than is allowed", "up to a tenth more than is allowed", "more than a tenth over what is allowed"
TENTH = 1.1
FORCES = (WITHIN, LITTLE_OVER, FAR_OVER)


def tuned():
    """(gain, integral_s) of the questions: what the study recommends."""
    best = bench().recommended
    return best.gain, best.integral_s


@cache
def _tried(**changes):
    place, (gain, integral_s) = bench(), tuned()
    return place.attempt(replace(place.own_trial, **{"gain": gain, "integral_s": integral_s} | changes))


def _span():
    once, twice = _tried(), _tried(span_pa=2 * bench().own.span_pa)
    answer = FASTER if twice.slowest_s < once.slowest_s else SLOWER if twice.slowest_s > once.slowest_s else AS_FAST
    words = (
        "the gain counts per cent of span, and a pascal is now half as many per cent. The same error moves the fan half as far: once the "
        f"door shuts, the airflow takes {_seconds(twice.shuts_s)} to recover, instead of {_seconds(once.shuts_s)}. To leave the "
        f"loop as it was, enter twice the gain.{_ramp_told(once)}"
    )
    return Outcome(Chosen(answer, (SLOWER, AS_FAST, FASTER)), words)


def _force():
    found = _tried()
    before, limit = (with_unit(value, "force") for value in (found.rest_n, found.limit_n))
    words = (
        f"{with_unit(found.peak_n, 'force')}: the fan still turns as fast as the open door asked for, and now the air has "
        f"nowhere to go. Before all that the hardest door needed {before}; {limit} is allowed. It is too heavy for {found.above_s:.1f} s. "
        f"That is {bench().weather}, the stair as its file says, with this gain and integral time; another weather, warmth "
        f"or tuning gives another figure.{_ramp_told(found)}"
    )
    return Outcome(Chosen(_band_of(found.peak_n), FORCES), words)


def _band_of(force_n):
    """The option that a force is, beside what is allowed."""
    limit = bench().attempt(bench().own_trial).limit_n
    return WITHIN if force_n <= limit else LITTLE_OVER if force_n <= TENTH * limit else FAR_OVER


def _ramp():
    found = _tried(ramp_s=SLOW_RAMP_S)
    answer = NO if found.ramp_forbids else YES
    words = (
        f"sent to the right speed in the instant the door moves, this drive would still take {found.ramp_opens_s:.1f} s. No "
        f"controller is quicker than that: the ramp is a speed limit, not a tuning.{_ramp_told(found)}"
    )
    return Outcome(Chosen(answer, (YES, NO)), words)


def _ramp_told(found):
    """That the figures of a trial were found with a ramp that is not followed, as one sentence behind them; "" where it is."""
    return f" Ramp not followed: every time and force here holds {found.not_followed}." if found.mark else ""


def _seconds(seconds):
    return f"{seconds:.1f} s" if seconds <= LENGTH_S else f"more than {LENGTH_S - SHUTS_S:.0f} s"  # NaN: not while it was looked at


def _ask_span():
    spans = [with_unit(times * bench().own.span_pa, "pressure") for times in (1, 2)]
    gain, integral_s = tuned()
    return (
        f"The loop of Larkfield House in the model, with the calm pair of this page: two transmitters of {spans[0]} span, "
        f"gain {gain:g} %/%, integral time {integral_s:g} s. Somebody fits transmitters of {spans[1]} span, tells the "
        "drive so, and leaves gain and integral time alone. "
        "After a door, is the loop slower, just as fast, or faster than before?"
    )


def _ask_force():
    place, (gain, integral_s) = bench(), tuned()
    limit, wide = with_unit(place.attempt(place.own_trial).limit_n, "force"), with_unit(place.own.span_pa, "pressure")
    return (
        f"The calm pair again in the model, {place.weather}: {wide} span, gain {gain:g} %/%, integral time {integral_s:g} s, ramp "
        f"{place.own_trial.ramp_s:g} s. The final exit door has been open for "
        f"{SHUTS_S - OPENS_S:.0f} s and shuts. What is the highest force at any other stair door just "
        f"then? ({limit} is allowed.)"
    )


def _ask_ramp():
    return (
        f"The drive's ramp is set to {SLOW_RAMP_S:g} s from standstill to full speed. Can a better tuning bring 90 % of the new flow "
        f"within {WITHIN_S:g} s of the final exit door opening, as EN 12101-6:2005 asked until it was superseded?"
    )


span = Prediction("span", _ask_span, _span, (SLOWER, AS_FAST, FASTER))
force = Prediction("force", _ask_force, _force, FORCES, "force", option_of=_band_of)
ramp = Prediction("ramp", _ask_ramp, _ramp, (YES, NO))
PREDICTIONS = (span, force, ramp)

RANGES = ((0.0, 100.0), (0.0, 125.0), (0.0, 250.0), (-25.0, 25.0), (-50.0, 50.0), (-100.0, 100.0))
SPANS = (50.0, 75.0, 100.0, 125.0, 150.0, 250.0, 300.0, 500.0)


def gain_from_a_step(draw):
    """The building's gain from a step test."""
    low, high, digits = _range(draw)
    span, before_percent, step = high - low, draw.whole(30, 70), draw.one_of((4, 5, 6, 8))
    before = draw.quantity("pressure", low + 0.55 * span, low + 0.65 * span, 0.5, digits)
    moved = draw.quantity("pressure", 0.03 * span, 0.1 * span, 0.5, digits)
    after = draw.as_written(before + moved, "pressure", digits)
    gain = (after - before) / span * 100 / step
    question = (
        f"Step test in manual, another building's loop, with a transmitter that goes from {draw.say(low, 'pressure')} to "
        f"{draw.say(high, 'pressure')}: the output goes from {before_percent} % to {before_percent + step} % of full speed, the reading "
        f"from {draw.say(before, 'pressure', digits)} to {draw.say(after, 'pressure', digits)} in the end. What is the building's gain, in "
        "per cent of span for each per cent of speed?"
    )
    slips = [
        Slip("upside down", "You divided the step by the answer. Gain is what comes out over what went in.", 1 / gain),
        Slip(
            "not of span",
            "That is pressure for each per cent of speed. The controller counts the reading in per cent of span.",
            float(units.to_display(after - before, "pressure", draw.system)) / step,
        ),
        Slip(
            "step forgotten", "That is how far the reading moved in per cent of span. For how many per cent of speed was that?", gain * step
        ),
    ]
    if low < 0:
        slips.append(
            Slip("range for span", "You took the top of the range for the span. This range begins below zero.", gain * span / high)
        )
    way = (
        f"Reading: {draw.say(after - before, 'pressure', digits)} of a span of {draw.say(span, 'pressure')} is "
        f"{(after - before) / span * 100:.2f} %.",
        f"Output: {step} %.",
        f"Gain: {(after - before) / span * 100:.2f} / {step} = {gain:.4g} %/%.",
    )
    moved = float(units.to_display(after - before, "pressure", draw.system))
    more = (
        Slip("share for per cent", "You counted the reading as a share, and the output in per cent. Take both in per cent.", gain / 100),
        Slip("per cent for share", "You counted the reading in per cent, and the output as a share. Take both in per cent.", gain * 100),
        Slip("of the reading", "You took the rise in per cent of the reading before. The controller counts it in per cent of span.",
             (after - before) / before * 100 / step),
        Slip("rise alone", "That is how far the reading rose, as a pressure. In per cent of span, and for each per cent of speed?", moved),
        Slip("of the whole speed", "You divided by the speed after the step. The answer comes from the step alone.",
             gain * step / (before_percent + step)),
        Slip("speed before", "You divided by the speed before the step. The answer comes from the step alone.",
             gain * step / before_percent),
        Slip("upside down, not of span", "You divided the step by the rise, and the rise is a pressure: two things to look at.",
             step / moved),
        Slip("reading for rise", "You took the reading after the step. The gain counts by how much it rose.",
             (after - low) / span * 100 / step),
    )  # fmt: skip
    return Exercise(question, Measured(gain, "number", max(0.03 * gain, 0.005), None, "%/%"), tuple(slips), way, more=more)


def simc_gain(draw):
    """The controller's gain by SIMC."""
    gain, lag = draw.whole(4, 18) / 10, draw.whole(10, 40) / 10
    delay = draw.whole(2, 8) / 10
    closed = round(delay * draw.one_of((1.5, 2.0, 3.0)), 2)
    found = float(tuning.simc_pi(gain, lag, delay, closed).gain)
    question = (
        f"A step test gave a gain of {gain:.1f} %/%, a lag of {lag:.1f} s and a delay of {delay:.1f} s. The closed loop is to follow with "
        f"a time constant of {closed:g} s. What gain does SIMC set at the controller?"
    )
    band = float(action.proportional_band(found))
    alike = abs(band - lag / (gain * delay)) <= 0.02 * band
    slips = (
        Slip(
            "delay forgotten",
            "You divided by the closed loop's time alone. The delay cannot be taken away and counts as well.",
            lag / (gain * closed),
        ),
        Slip(
            "process gain upside down",
            "You multiplied by the building's gain. A building that answers more strongly needs less.",
            lag * gain / (closed + delay),
        ),
        Slip(
            "band for gain",
            "That is the proportional band, in per cent. The gain was asked for."
            f"{' Or did you leave the closed loop out? That comes to the same here.' * alike}",
            band,
        ),
        Slip(
            "delay for closed loop",
            "You took the delay twice, as the fastest advised. Another closed loop was asked for.",
            lag / (gain * 2 * delay),
        ),
    )
    way = (
        f"Closed loop and delay together: {closed:g} + {delay:.1f} = {closed + delay:.2f} s.",
        f"Lag by that: {lag:.1f} / {closed + delay:.2f} = {lag / (closed + delay):.3f}.",
        f"By the building's gain: {lag / (closed + delay):.3f} / {gain:.1f} = {found:.2f} %/%.",
    )
    more = (
        Slip("building's gain forgotten", "You left the building's gain out. What must become of it?", lag / (closed + delay)),
        Slip("closed loop forgotten", "You divided by the delay alone. The time the closed loop is to have counts as well.",
             lag / (gain * delay)),
        Slip("closed loop alone", "You divided by the closed loop alone. The delay and the building's gain count as well.", lag / closed),
        Slip("turned over", "You turned it over: the lag goes on top, the two times and the building's gain below.", 1 / found),
        Slip("lag forgotten", "You left the lag out. A slower building takes a higher gain.", 1 / (gain * (closed + delay))),
        Slip("delay taken off", "You took the delay off the closed loop's time. It comes on top of it.", lag / (gain * (closed - delay))),
        Slip("lag for gain", "You divided by the lag's inverse twice. The lag stands there once.", lag**2 / (gain * (closed + delay))),
    )  # fmt: skip
    return Exercise(question, Measured(found, "number", max(0.02 * found, 0.005), 2, "%/%"), slips, way, more=more)


def gain_on_another_span(draw):
    """The gain to enter after another transmitter was fitted."""
    old, new = map(draw.end, draw.shuffled(SPANS)[:2])
    gain = draw.whole(4, 30) / 10
    found = float(action.gain_for_new_span(gain, old, new))
    question = (
        f"A loop ran well with a gain of {gain:.1f} %/% on a transmitter of 0 to {draw.say(old, 'pressure')} range. Now one of 0 to "
        f"{draw.say(new, 'pressure')} range is fitted, and the range is set in the drive. What gain must be entered so that the fan "
        f"answers {'each pascal' if draw.system == 'Pa' else 'each 0.01 in. w.c.'} as before?"
    )
    slips = (
        Slip(
            "ratio upside down",
            "The ratio is upside down: on a wider span the same pressure is fewer per cent. Must the gain make up for that, or add to it?",
            gain * old / new,
        ),
        Slip("left as it was", "That leaves the figure as it was. The same figure on another span is another loop.", gain),
        Slip(
            "band for gain", "That is the proportional band, in per cent. The gain was asked for.", float(action.proportional_band(found))
        ),
    )
    way = (
        f"New span by old: {draw.say(new, 'pressure')} by {draw.say(old, 'pressure')} is {new / old:.3f}.",
        f"Gain: {gain:.1f} x {new / old:.3f} = {found:.2f} %/%. The integral time stays.",
    )
    ratio = new / old
    more = (
        Slip("ratio alone", "That is the ratio of the spans. What does it make of the gain?", ratio),
        Slip("ratio alone, upside down", "That is the ratio of the spans, upside down; and the gain is not in it.", 1 / ratio),
        Slip("gain divided", "You divided by the gain. It is to be made larger or smaller by a ratio.", ratio / gain),
        Slip("ratio squared", "You took the ratio twice. The reading's per cent change by it once.", gain * ratio**2),
        Slip("root of the ratio", "You took the root. Pressure is measured here, no flow: per cent go with the span itself.",
             gain * ratio**0.5),
        Slip("difference for share", "You went by the difference of the spans. Per cent of span go by their ratio.",
             gain * (1 + (new - old) / new)),
        Slip("doubled or halved", "You doubled or halved it. Write both spans down: what is one divided by the other?",
             gain * (2.0 if new > old else 0.5)),
    )  # fmt: skip
    return Exercise(question, Measured(found, "number", max(0.02 * found, 0.005), 2, "%/%"), slips, way, more=more)


def _range(draw):
    """Ends of a transmitter's range as written, and the digits with which a pressure within it is written."""
    low, high = draw.ends(RANGES)
    return low, high, 1 if draw.system == "Pa" else 3


MAKERS = (gain_from_a_step, simc_gain, gain_on_another_span, another_display, what_happens, dead_time_from_a_trend,
          time_constant_from_a_trend, integral_time, ramp_alone, force_after_the_door)  # fmt: skip


TOO_HOT = 8.0  # a gain beyond what the building bears


def story():
    """What a room tends to answer, and three moves of the panel that show it."""
    place = bench()
    gain, integral_s = tuned()
    first = replace(place.own_trial, gain=gain, integral_s=integral_s)
    slow = replace(first, ramp_s=SLOW_RAMP_S)
    brisk, ramped, hot = (place.attempt(trial) for trial in (first, slow, replace(slow, gain=TOO_HOT)))

    def figures(shown):
        runs = {"back": brisk, "slow_back": ramped, "hot_back": hot}
        return {
            **{name: _back(run) for name, run in runs.items()}, "ramp": f"{first.ramp_s:g} s", "slow": f"{slow.ramp_s:g} s",
            "within": f"{WITHIN_S:g} s", "alone": f"{ramped.ramp_opens_s:.1f} s{ramped.mark}", "gain": f"{first.gain:g}",
            "hot": f"{TOO_HOT:g} %/%", "bears": f"{hot.margins.gain_margin:.1f}", "force": shown.n(brisk.peak_n),
            "swings": "still holds" if hot.margins.stable else "swings by itself", "limit": shown.n(brisk.limit_n),
            "above": f"{brisk.above_s:.1f} s{brisk.mark}",
        }  # fmt: skip

    moves = _moves(slow, first)
    tempting = "Slow is what one calls a loop with little gain, and gain is the knob at hand. The ramp was set by somebody else, long ago."
    opening = "Ramp {ramp}: airflow recovers after {back}."
    return Story("tuning_and_door_events", ramp, YES, tempting, asdict(first), opening, moves, figures)


def _moves(slow, first):
    return (
        Move(
            {"ramp_s": slow.ramp_s},
            "Drive's ramp {slow}",
            "The drive's ramp is set to {slow}. Can a better tuning recover the airflow within {within}?",
            "No: sent to the right speed at once, this drive would still take {alone}. Flow back after {slow_back}. A ramp is a speed "
            "limit, not a tuning.",
        ),
        Move(
            {"gain": TOO_HOT},
            "Gain {hot}",
            "More gain all the same: {hot} instead of {gain}. What is gained, and what is lost?",
            "Flow back after {hot_back}. And the calm is gone: where the building's gain is largest this loop bears {bears} times its "
            "gain; it {swings}.",
        ),
        Move(
            {"gain": first.gain, "ramp_s": first.ramp_s},
            "Gain {gain}, drive's ramp {ramp}",
            "Gain and ramp as before. The final exit door shuts: what force does the hardest other door need just then?",
            "{force}, and {limit} is allowed; too heavy for {above}. The fan still turns as the open door asked for, and the air has "
            "nowhere to go.",
        ),
    )


def _back(found):
    """Seconds until the flow is back after the door opens, and after it shuts."""
    ends = (SHUTS_S - OPENS_S, LENGTH_S - SHUTS_S)
    times = zip((found.opens_s, found.shuts_s), ends, strict=True)
    return " and ".join(f"{time:.1f} s" if time == time else f"more than {end:.0f} s" for time, end in times) + found.mark
