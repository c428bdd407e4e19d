"""Review of action, gain and times, of any plant: does the loop hold, is it calm where the plant answers most to the fan?"""

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import tuning
from helpers.formulas.tuning import Settings as Numbers
from helpers.model.site.tolerances import boxes
from helpers.record.review.kinds import Kind, attention, wrong
from helpers.studies.report import NETWORK, PRACTICE, listed, time_text
from helpers.studies.tuning.box import LoopBox
from helpers.studies.tuning.candidate import BOX
from helpers.units.said import three, two

INSTRUMENT_LAG_S = 0.1  # of the transmitter itself, where nothing else is known; common practice, no source
LEAST_GAIN_MARGIN, MOST_SENSITIVITY = 2.0, 2.0  # text-book: margin 2 to 5, sensitivity 1.2 to 2 (memory)
SAME_SHARE = 0.02
SAMPLES_IN_INTEGRAL = 5  # common practice, no source
SHORT_SHARE = 0.1  # of the integral time: shorter filters than that are not tried one by one; ours
PARTS = ("response_s", "damping_s", "tube_lag_s")  # lags of a transmitter, see site.boxes
SLEEPS = 20  # integral times longer than so many times all lags and delays look like minutes for seconds; ours


def wrong_action(bench):
    """The action does not fit the fan's effect: the loop runs away."""
    loop, effect = bench.strategy.loop, int(bench.effect)
    right = actions.action_for(effect)
    if loop.action == right:
        return
    places = [held.places[bench.settled] for *_, held in bench.run_away]
    seen = [bench.between(values.min(), values.max()) for values in places]
    ends = [(side, end, said) for (side, end, _), said in zip(bench.run_away, seen, strict=True)]
    yield wrong(
        f"The action is {loop.action} and must be {right}",
        "; ".join(f"from {side} the set point the fan runs to {end}, where {bench.places_words} {seen}" for side, end, seen in ends),
        "every error drives itself on",
        NETWORK,
        f"{right} acting: with the reading too high the fan must go {'slower' if effect > 0 else 'faster'}",
    )


def gain_of_other_span(bench):
    """The gain was found on another span than the one entered."""
    loop, found = bench.strategy.loop, bench.gain_found_on
    if found is None or abs(found / bench.span - 1) <= SAME_SHARE:
        return
    right = float(f"{float(actions.gain_for_new_span(loop.controller_gain, found, bench.span)):.3g}")
    yield wrong(
        "The gain was kept when the span changed",
        f"{three(loop.controller_gain)} %/% found on {bench.show(found)}, entered span {bench.show(bench.span)}",
        f"the loop is now {two(found / bench.span)} times as strong as it was when it was tuned",
        "arithmetic of per cent of span",
        _retuned(bench, right),
    )


def _retuned(bench, gain):
    """What to enter where a gain was kept: the gain rescaled only where it is safe; one that fails is not carried over."""
    pair, found = bench.tried_pair(gain, bench.strategy.loop.integral_s), loop_margins(bench, gain)
    if calm(found) if pair is None else pair.safe:
        return f"enter {three(gain)} %/%"
    calmer = bench.proposed() or f"a gain of {two(_calmer(gain, float(found.gain_margin)))} %/% or less"
    return f"do not rescale it, {three(gain)} %/% would not be safe; found on the span that is entered: {calmer}"


def largest_gain(bench):
    """(gain, case, speed [Hz]): where the combined display answers most to the speed, of all cases and speeds [% of span by %]."""
    case, place = np.unravel_index(bench.plant_gains.argmax(), bench.plant_gains.shape)
    return max(float(bench.plant_gains[case, place]), 1e-6), int(case), float(bench.curves.speed_hz[place])


def loop_lags_s(bench, case=0, speed_hz=None):
    """(lags, delay) of the slowest input as far as they are stated or likely [s]: filter, instrument, damping, tubes, the plant."""
    known, sample = boxes(bench.site), bench.strategy.loop.sample_s
    chains = [
        [one.filter_s, *(known[key].likely for key in (f"transmitters.{number}.{part}" for part in PARTS) if key in known)]
        for number, one in enumerate(bench.strategy.inputs)
    ]
    chain = max(chains, key=sum)
    own = bench.plant_lag_s(case, speed_hz)
    return [lag for lag in (*chain, own) if lag > 0] or [INSTRUMENT_LAG_S], 1.5 * sample


def unstable(bench):
    """The loop swings, or nearly does, where the plant answers most to the fan."""
    loop, (gain, case, speed) = bench.strategy.loop, largest_gain(bench)
    found = loop_margins(bench, loop.controller_gain)
    if calm(found):
        return
    margin, peak = float(found.gain_margin), float(found.peak_sensitivity)
    state = "swings by itself" if not found.stable else "is close to swinging"
    make = attention if found.stable else wrong
    grows = f"peak sensitivity {two(peak)}" if np.isfinite(peak) else "a disturbance grows without end"
    yield make(
        f"The loop {state} where the plant answers most to the fan: {bench.cases[case].name}, {speed:.0f} Hz",
        f"gain of the plant {two(gain)} %/%, gain margin {two(margin)}, {grows}",
        f"asked for: margin {LEAST_GAIN_MARGIN:g} or more, sensitivity {MOST_SENSITIVITY:g} or less, with no lag but those that are stated",
        f"{NETWORK}, exact delay",
        bench.proposed() or f"a gain of {two(_calmer(loop.controller_gain, margin))} %/% or less, or a longer integral time",
    )


def loop_margins(bench, controller_gain, other=None):
    """Margins of the loop with a gain of the controller where the plant answers most to the fan, with the lags that are stated, or with
    those of another bench."""
    loop, (gain, case, speed) = bench.strategy.loop, largest_gain(bench)
    lags, delay = loop_lags_s(other or bench, case, speed)
    numbers = Numbers(controller_gain, loop.integral_s, loop.derivative_time_s)

    def around(w):
        return tuning.controller_response(w, numbers) * tuning.frequency_response(w, gain, np.array(lags), delay)

    times = [*lags, delay, *(time for time in (loop.integral_s, loop.derivative_time_s) if time)]
    return tuning.margins(around, max(times), min(times))


def calm(found):
    """Whether margins are what text-books ask for."""
    return bool(found.gain_margin >= LEAST_GAIN_MARGIN and found.peak_sensitivity <= MOST_SENSITIVITY and found.stable)


def _calmer(gain, margin):
    """A gain with half as much margin again as asked for, and no more than seven tenths of the one there is."""
    return gain * min(margin / (1.5 * LEAST_GAIN_MARGIN), 0.7)


def integral_unit(bench):
    """The integral time looks like minutes for seconds."""
    loop = bench.strategy.loop
    _, case, speed = largest_gain(bench)
    lags, delay = loop_lags_s(bench, case, speed)
    most = SLEEPS * (sum(lags) + delay + bench.unknown_lag_s)
    if loop.integral_s > most:
        yield wrong(
            "The integral time looks like minutes for seconds",
            f"{time_text(loop.integral_s)}; all lags and delays together {time_text(most / SLEEPS, 2)}",
            f"an error is made good in {settles_text(bench)} or more: until then the loop sleeps",
            f"slowest part of the loop, Ti (1 + 1/(K k)); more than {SLEEPS} times all lags: ours",
            "; ".join(filter(None, ("" if bench.pair[0] else _meant(loop.integral_s, most), bench.proposed()))),
        )


def _meant(integral_s, most_s):
    """What to enter instead: the figure read as seconds, where that is one for this loop."""
    near = f"an integral time near all lags and delays together, {time_text(most_s / SLEEPS, 2)}, and a gain found by a step test"
    return near if integral_s / 60 > most_s else f"{three(integral_s / 60)} s, if that was meant; else {near}"


def settles_text(bench):
    """The same in words."""
    said = time_text(settles_s(bench))
    return said if said == "years" else f"about {said}"


def settles_s(bench):
    """Time [s] in which a slow loop makes good 90 % of an error, where the plant answers least of the cases that are held.

    Equation: 2.3 Ti (1 + 1 / (K k)), the slow pole of a PI around a gain k. Limits: a loop that is far slower than its lags.
    """
    loop, held = bench.strategy.loop, bench.held.state == "held"
    speeds = bench.curves.speed_hz
    gains = [np.interp(speed, speeds, row) for speed, row in zip(bench.held.speed_hz[held], bench.plant_gains[held], strict=True)]
    least = max(min(gains, default=1e-3), 1e-3)
    return float(np.log(10) * loop.integral_s * (1 + 1 / (loop.controller_gain * least)))


def filter_and_integral(bench):
    """A filter or damping longer than the integral time costs the loop its margins: shortened alone, all else as entered, it keeps them.
    Long ones that keep them are none of the findings, whatever the two times look like; where shortening does not help, the tuning is told
    of and not the filter."""
    loop, inputs = bench.strategy.loop, bench.strategy.inputs
    late = [one for one in inputs if max(_inputs_own(one)) > (loop.integral_s or np.inf)]
    lacks, stable = _lacks(bench) if late else ((), True)
    shorter = _shorter(bench, late) if lacks else None
    if shorter is None:
        return
    slow = max(max(_inputs_own(one)) for one in late)
    part = listed(name for name, longest in zip(("filter", "damping"), map(max, zip(*map(_inputs_own, late), strict=True)), strict=True)
                  if longest > loop.integral_s)  # fmt: skip
    kept = f"{'a ' * (' ' not in part)}{part} of {shorter:g} s" if shorter else f"no {part}"
    yield (attention if bench.tuning is None and stable else wrong)(
        f"The {part} of {listed(one.tag for one in late)} is too long for the integral time",
        f"{time_text(slow)}, integral time {time_text(loop.integral_s)}: {', '.join(lacks)}",
        "the integral runs ahead of a reading that is late, and the loop swings slowly",
        f"{NETWORK}; {'margins with the lags that are stated, exact delay' if bench.tuning is None else BOX}",
        f"{kept}: tried, gain and integral time as entered then keep their margins",
    )


def _inputs_own(one):
    """Filter and damping of an input [s]."""
    return one.filter_s, one.damping_s or 0.0


def _lacks(bench, other=None):
    """(what the loop does not keep, in words, whether it is stable): where there is a tuning study by its judge, over the whole box, as the
    record has it; else by the margins with the lags that are stated. other: a bench whose lags stand for this one's."""
    loop, study = bench.strategy.loop, bench.tuning
    if study is None:
        found = loop_margins(bench, loop.controller_gain, other)
        lacks = f"gain margin {two(float(found.gain_margin))}, peak sensitivity {two(float(found.peak_sensitivity))}"
        return () if calm(found) else (lacks if found.stable else "it swings by itself",), bool(found.stable)
    box = study.box if other is None else LoopBox.of(other.site, study.found, bench.settings)
    worst, _ = box.worst(loop.controller_gain, loop.integral_s)
    return worst.lacks(box.asked), worst.stable


def _shorter(bench, late):
    """The longest filter and damping [s] with which the loop keeps what is asked, halved from what is entered until they are short beside
    the integral time, then none; None where none of these does."""
    names, most = [one.name for one in late], max(max(_inputs_own(one)) for one in late)
    tried = [most / 2**k for k in range(1, 30) if most / 2**k > SHORT_SHARE * bench.strategy.loop.integral_s]
    for most in (*(float(f"{seconds:.2g}") for seconds in tried), 0.0):
        shorter = [
            {"filter_s": min(one.filter_s, most)} | ({} if one.damping_s is None else {"damping_s": min(one.damping_s, most)})
            if one.name in names
            else {}
            for one in bench.strategy.inputs
        ]
        if not _lacks(bench, type(bench)(bench.strategy.with_changes(inputs=shorter), bench.stated))[0]:
            return most
    return None


def no_integral(bench):
    """Without integral action the reading stays off the set point."""
    loop = bench.strategy.loop
    if loop.integral_s:
        return
    outputs = 100 * bench.held.speed_hz / bench.site.fan.highest_speed_hz
    offset = float(np.ptp(outputs) / 2 / loop.controller_gain / 100 * bench.span)
    make = wrong if offset > bench.least_room_pa else attention
    yield make(
        "There is no integral action",
        f"up to ± {bench.show(offset)} off the set point between the least and the most that is asked of the fan",
        "a proportional loop needs an error to give an output",
        "proportional band; ISA usage (from memory, not verified)",
        "an integral time",
    )


def derivative(bench):
    """A derivative part makes the fan follow every gust."""
    loop = bench.strategy.loop
    if loop.derivative_time_s:
        yield attention(
            "There is a derivative part",
            f"{loop.derivative_time_s:g} s",
            f"a {bench.held_words} with noise on it is no reading to differentiate: the fan follows every gust and every A/D step",
            PRACTICE,
            "no derivative time",
        )


def dead_band(bench):
    """A dead band is wide beside the room there is."""
    band, room = bench.dead_band, max(bench.least_room_pa, 0.0)
    if band and np.isfinite(room) and 2 * band > room:
        make = wrong if band > room else attention
        yield make(
            "The dead band is wide beside the room there is",
            f"± {bench.fine(band)}, room {bench.fine(room)}",
            "within the band the loop does nothing, and a place may stay out of its limits",
            NETWORK,
            f"a dead band of {bench.fine(room / 4)} or less, or none",
        )


def slow_samples(bench):
    """The loop is sampled too seldom for its integral time."""
    loop = bench.strategy.loop
    if loop.integral_s and SAMPLES_IN_INTEGRAL * loop.sample_s > loop.integral_s:
        yield attention(
            "The loop is sampled too seldom",
            f"every {time_text(loop.sample_s)}, integral time {time_text(loop.integral_s)}",
            "between samples the controller is blind",
            PRACTICE,
            "a shorter sample time",
        )


def _no_span_told(bench):
    return "the span on which the gain was found" if bench.gain_found_on is None else ""


KINDS = (
    Kind("wrong action", "an action that does not fit the fan's effect", wrong_action),
    Kind("gain of other span", "a gain kept after the span changed", gain_of_other_span, absent=_no_span_told),
    Kind("unstable", "a loop that swings where the plant answers most", unstable),
    Kind("integral unit", "an integral time in minutes for seconds", integral_unit),
    Kind("filter and integral", "a filter or damping too long for the integral time", filter_and_integral),
    Kind("no integral", "a loop without integral action", no_integral),
    Kind("derivative", "a derivative part on a restless reading", derivative),
    Kind("dead band", "a dead band wide beside the room there is", dead_band),
    Kind("slow samples", "a sample time too long for the integral time", slow_samples),
)
