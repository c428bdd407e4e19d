"""Review of action, gain, times and ramp: does the loop hold, is it calm where the building answers most, is it quick enough?"""

from dataclasses import replace

import numpy as np

from helpers.formulas import action as actions
from helpers.formulas import frequency, tuning
from helpers.formulas.controller_forms import Settings as Numbers
from helpers.studies.figures import NETWORK, PRACTICE
from helpers.studies.review_kinds import Kind
from helpers.studies.review_words import attention, pa, wrong
from helpers.studies.tuning_doors import LARGEST_SWING_PA, WITHIN_S, seconds_text
from helpers.studies.tuning_remedies import ramp_alone

__all__ = ["KINDS"]

INSTRUMENT_LAG_S = 0.1  # of the transmitter itself; common practice, no source
LEAST_GAIN_MARGIN, MOST_SENSITIVITY = 2.0, 2.0  # text-book: margin 2 to 5, sensitivity 1.2 to 2 (memory)
SAME_SHARE = 0.02
FILTER_SHARE = 0.5  # of the recovery asked for; common practice, no source
RAMP_SHARES = (1.0, 0.5, 0.25, 0.1)  # of the ramp there is, tried for one that is quick enough
CLOSED_LOOP_DELAYS = 2.0  # closed-loop time proposed, in delays; SIMC advises one for the fastest (Skogestad 2003, memory)
SAMPLES_IN_INTEGRAL = 5  # common practice, no source
EN = "EN 12101-6:2005 (memory)"


def wrong_action(bench, system):
    """The action does not fit the fan's effect: the loop runs away."""
    loop = bench.strategy.loop
    effect = 1 if bench.site.fan.effect == "supply" else -1
    right = actions.action_for(effect)
    if loop.action == right:
        return
    low = actions.end_stop(loop.action, effect, actions.error(bench.strategy.set_point_pa, bench.strategy.set_point_pa - 1, loop.action))
    end = bench.site.fan.highest_speed_hz if low == "full speed" else bench.site.fan.lowest_speed_hz
    doors = bench.at_speed(end).doors_pa[bench.shut]
    yield wrong(
        f"The action is {loop.action} and must be {right}",
        f"from below the set point the fan runs to {low}, where the shut doors see {pa(doors.min(), system)} to {pa(doors.max(), system)}",
        "every error drives itself on",
        NETWORK,
        f"{right} acting: with the reading too high the fan must go {'slower' if effect > 0 else 'faster'}",
    )


def gain_of_other_span(bench, system):
    """The gain was found on another span than the one entered."""
    loop = bench.strategy.loop
    _, low, high = bench.strategy.inputs[0].entered
    found = loop.gain_found_on_pa
    if found is None or abs(found / (high - low) - 1) <= SAME_SHARE:
        return
    right = float(actions.gain_for_new_span(loop.controller_gain, found, high - low))
    yield wrong(
        "The gain was kept when the span changed",
        f"{loop.controller_gain:.3g} %/% found on {pa(found, system)}, entered span {pa(high - low, system)}",
        f"the loop is now {found / (high - low):.2g} times as strong as it was when it was tuned",
        "arithmetic of per cent of span",
        f"enter {right:.3g} %/%",
    )


def unstable(bench, system):
    """The loop swings, or nearly does, where the building answers most to the fan."""
    loop, place, gain = bench.strategy.loop, *_stiffest(bench)
    lag, delay = _times(bench)
    numbers = Numbers(loop.controller_gain, loop.integral_s)

    def around(w):
        process = frequency.frequency_response(w, gain, np.array([lag, INSTRUMENT_LAG_S]), delay)
        return frequency.controller_response(w, numbers) * process

    times = [lag, delay, INSTRUMENT_LAG_S, *([loop.integral_s] if loop.integral_s else [])]
    found = frequency.margins(around, max(times), min(times))
    margin, peak = float(found.gain_margin), float(found.peak_sensitivity)
    if margin >= LEAST_GAIN_MARGIN and peak <= MOST_SENSITIVITY and bool(found.stable):
        return
    state = "swings by itself" if not found.stable else "is close to swinging"
    make = attention if found.stable else wrong
    yield make(
        f"The loop {state} where the building is stiffest: {bench.cases[place].name}",
        f"gain of the building {gain:.2g} %/%, gain margin {margin:.2g}, peak sensitivity {peak:.2g}",
        f"asked for: margin {LEAST_GAIN_MARGIN:g} or more, sensitivity {MOST_SENSITIVITY:g} or less",
        f"{NETWORK}, exact delay",
        f"a gain of {_calmer(loop.controller_gain, margin):.2g} %/% or less, or a longer integral time",
    )


def _calmer(gain, margin):
    """A gain with half as much margin again as asked for, and no more than seven tenths of the one there is."""
    return gain * min(margin / (1.5 * LEAST_GAIN_MARGIN), 0.7)


def _stiffest(bench):
    """(case, gain): where the combined display answers most to the speed, about where the loop comes to rest [% of span by % of speed]."""
    _, low, high = bench.strategy.inputs[0].entered
    step = 0.02 * bench.site.fan.highest_speed_hz
    speeds = bench.held.speed_hz
    up, down = (np.clip(speeds + way, bench.site.fan.lowest_speed_hz, bench.site.fan.highest_speed_hz) for way in (step, -step))
    change = np.abs(bench.at_speed(up).display_pa - bench.at_speed(down).display_pa) / (high - low)
    gains = change / np.maximum((up - down) / bench.site.fan.highest_speed_hz, 1e-9)
    place = int(gains.argmax())
    return place, max(float(gains[place]), 1e-6)


def integral_and_ramp(bench, system):
    """The integral is faster than the ramp and the fan does not come to rest: it runs ahead of a drive that cannot follow."""
    loop = bench.strategy.loop
    change = np.ptp(bench.held.speed_hz) / bench.site.fan.reference_speed_hz * bench.site.fan.ramp_s
    if not loop.integral_s or loop.integral_s >= change / 2 or not _holds(bench):
        return
    swing = bench.door_test.swing_pa
    if swing > LARGEST_SWING_PA:
        yield wrong(
            "The integral is faster than the ramp, and the loop swings",
            f"integral time {loop.integral_s:.2g} s, the ramp needs {change:.2g} s from doors shut to doors open; half a minute after "
            f"a door the pressure still swings by {pa(swing, system)}",
            "the output runs ahead of the fan, and the pressure overshoots to both sides",
            NETWORK,
            _tuned(bench),
        )


def no_integral(bench, system):
    """Without integral action the reading stays off the set point."""
    loop = bench.strategy.loop
    if loop.integral_s:
        return
    _, low, high = bench.strategy.inputs[0].entered
    outputs = 100 * bench.held.speed_hz / bench.site.fan.highest_speed_hz
    offset = float(np.ptp(outputs) / 2 / loop.controller_gain / 100 * (high - low))
    yield attention(
        "There is no integral action",
        f"up to ± {pa(offset, system)} off the set point between doors shut and doors open",
        "a proportional loop needs an error to give an output",
        "proportional band; ISA usage (memory)",
        "an integral time",
    )


def recovery(bench, system):
    """The flow is not back within the time asked for after a door, and whether the ramp alone forbids it."""
    if not bench.smoke_control:
        return
    alone = ramp_alone(bench.doors)
    if not alone.quick:
        yield wrong(
            f"The drive's ramp alone forbids {WITHIN_S:g} s",
            f"{bench.site.fan.ramp_s:g} s of ramp, {seconds_text(alone.slowest_s)} after a door",
            "no controller is quicker than its drive",
            EN,
            "a faster ramp, a relief damper or door contacts",
        )
    elif _holds(bench) and not bench.door_test.quick:
        yield attention(
            f"After a door the flow is not back within {WITHIN_S:g} s",
            f"{seconds_text(bench.door_test.slowest_s)}, the ramp alone would take {seconds_text(alone.slowest_s)}",
            "smoke may pass, or a door stays heavy, for so long",
            EN,
            _tuned(bench),
        )


def _holds(bench):
    """Whether the action lets the loop hold at all."""
    return actions.loop_sign(bench.strategy.loop.action, int(bench.tower.effect)) == actions.HOLDS


def _tuned(bench):
    """SIMC for the stiffest state, and what comes of it, in words."""
    gain = _stiffest(bench)[1]
    lag, delay = _times(bench)
    numbers = tuning.simc_pi(gain, lag + INSTRUMENT_LAG_S, delay, CLOSED_LOOP_DELAYS * delay)
    settings = replace(bench.settings, gain=float(numbers.gain), integral_s=float(numbers.integral_s))
    ramps = [bench.site.fan.ramp_s * share for share in RAMP_SHARES]
    tested = bench.doors.test(settings, ramps_s=tuple(ramps))
    place = next((place for place, one in enumerate(tested) if one.quick), min(range(len(ramps)), key=lambda k: tested[k].slowest_s))
    said = f"a gain of {numbers.gain:.2g} %/% and an integral time of {numbers.integral_s:.2g} s (SIMC)"
    ramp = f", with a ramp of {ramps[place]:.2g} s" if place else ""
    return f"{said}{ramp}: back in {seconds_text(tested[place].slowest_s)}"


def _times(bench):
    """Longest filter, and delay of a sampled loop: a sample and a half [s]."""
    return max(max(one.filter_s for one in bench.strategy.inputs), 1e-3), 1.5 * bench.strategy.loop.sample_s


def slow_filter(bench, system):
    """The filter is longer than the recovery asked for."""
    slow = [one for one in bench.strategy.inputs if one.filter_s > FILTER_SHARE * WITHIN_S]
    if slow and bench.smoke_control:
        yield wrong(
            f"The filter of {' and '.join(one.name for one in slow)} is too long for the recovery asked for",
            f"{max(one.filter_s for one in slow):g} s, asked for {WITHIN_S:g} s",
            "after one filter time a filter has shown two thirds of a change",
            EN,
            f"a filter of {FILTER_SHARE * WITHIN_S / 3:g} s",
        )


def slow_samples(bench, system):
    """The loop is sampled too seldom for its integral time."""
    loop = bench.strategy.loop
    if loop.integral_s and SAMPLES_IN_INTEGRAL * loop.sample_s > loop.integral_s:
        yield attention(
            "The loop is sampled too seldom",
            f"every {loop.sample_s:g} s, integral time {loop.integral_s:g} s",
            "between samples the controller is blind",
            PRACTICE,
            "a shorter sample time",
        )


KINDS = (
    Kind("wrong action", "an action that does not fit the fan's effect", wrong_action),
    Kind("gain of other span", "a gain kept after the span changed", gain_of_other_span),
    Kind("unstable", "a loop that swings where the building is stiffest", unstable),
    Kind("integral and ramp", "an integral faster than the ramp", integral_and_ramp),
    Kind("no integral", "a loop without integral action", no_integral),
    Kind("recovery", "a recovery after a door that takes too long", recovery),
    Kind("slow filter", "a filter longer than the recovery asked for", slow_filter),
    Kind("slow samples", "a sample time too long for the integral time", slow_samples),
)
