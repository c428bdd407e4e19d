"""What speaks against a step test: rows too far apart, a ramp that hides the lag, steps within the noise, something else that moved.

Each check gives a sentence: what was seen, and what to do about it. Limits: thresholds are ours; a change that goes with the fan (a damper
that lifts and falls with each step) looks like a larger or smaller gain and is told only where two steps over the same range differ.
"""

import numpy as np

from helpers.units.said import three, two, with_unit

SAMPLES_IN_DEAD_TIME = 3.0
# Sample to ask for: no logger gives less, a stair's loop needs no more; common practice, no source.
LEAST_LOG_S, USUAL_LOG_S = 0.05, 0.2
MOST_WIDTH, LEAST_OVER_NOISE = 0.5, 3.0  # ours: width of a gain's interval by its value, answer by noise
RAMP_HIDES = 2.0  # ours: ramps so many times longer than lag and delay together, with a lag whose interval is as wide as itself
DIFFERS, SURELY = 0.2, 4.0  # ours: share by which two answers differ, and in how many of their standard deviations
SHIFT, BRIDGE = (
    0.15,
    1.95,
)  # ours: share of an answer; largest of a Brownian bridge once in a thousand (Kolmogorov, from memory, not verified)
SAME_RANGE, FEWEST_LEFT = 0.7, 20  # ours: share of two steps' ranges that is common; samples of a window for a shift


def amount(value, dimension):
    """A reading for the eye; dimension: "pressure" or "percent"."""
    return with_unit(value, dimension, (2, 4)) if dimension == "pressure" else with_unit(value, dimension, 2)


def within_noise(steps, noise, dimension):
    """Sentence where the steps are too small against the noise; "" where they are not."""
    least, widest = min(abs(step.answer) for step in steps), max((step.gain for step in steps), key=lambda one: one.width)
    if widest.width <= MOST_WIDTH and least >= LEAST_OVER_NOISE * noise:
        return ""
    ends = sorted((abs(widest.low), abs(widest.high)))
    return (
        f"The steps are too small against the noise: the reading answers by {amount(least, dimension)} in a noise of "
        f"{amount(noise, dimension)}, and the gain of one lies anywhere from {two(ends[0])} to {two(ends[1])}. Make larger steps, or more "
        "of them, in calm weather."
    )


def hidden(made, longest_s):
    """Sentence why lag and delay cannot be told from a `StepTestFound` whose longest window is that long [s]; "" where they can."""
    lag, dead, dt = made.lag_s, made.dead_time_s, made.sample_s
    both = lag.value + dead.value
    if dead.high < SAMPLES_IN_DEAD_TIME * dt:
        seen = both > 2 * dt
        said = f"it is {two(dead.high)} s at the most, which is less than three rows" if seen else "with the lag it is within some two rows"
        asked = max(dead.value / SAMPLES_IN_DEAD_TIME, LEAST_LOG_S) if seen else max(min(dt / 10, USUAL_LOG_S), LEAST_LOG_S)
        return f"A row every {three(dt)} s cannot tell the delay: {said}. Log every {_one_digit(asked)} s or faster."
    taken = float(np.median([step.seconds for step in made.steps]))
    if lag.width > 1 and taken > RAMP_HIDES * both:
        return (
            f"The ramp hides the lag: a step takes the fan {two(taken)} s, and the lag behind it lies anywhere from {two(lag.low)} to "
            f"{two(lag.high)} s. Shorten the ramp for the test, or make smaller steps."
        )
    if longest_s < 2 * both:
        return (
            f"The steps follow each other before the reading has settled: {three(longest_s)} s between them, a lag of {two(lag.value)} s. "
            "Give each step five times as long as lag and delay."
        )
    return ""


def _one_digit(seconds):
    """Seconds to one digit, rounded down."""
    scale = 10.0 ** np.floor(np.log10(seconds))
    return f"{np.floor(seconds / scale + 1e-9) * scale:.1g}"


def moved(windows, steps, found, dimension):
    """Sentence about what else moved than the fan: two steps over the same range with another answer each, a rest that does not come back,
    a shift within a step; "" where nothing is seen."""
    spread = np.std(found.draws["gains"], axis=0)
    low, high = (of.reduceat(windows.inputs, windows.starts) for of in (np.minimum, np.maximum))
    middles, gains = (low + high) / 2, found.gains
    levels = found.rests + gains * middles
    for j in range(1, len(steps)):
        for i in range(j):
            if min(high[i], high[j]) - max(low[i], low[j]) < SAME_RANGE * max(high[i] - low[i], high[j] - low[j]):
                continue
            apart = abs(gains[i] - gains[j])
            if apart > max(DIFFERS * max(abs(gains[i]), abs(gains[j])), SURELY * np.hypot(spread[i], spread[j])):
                return (
                    f"Over the same range the step at {steps[i].at_s:.0f} s has the gain {abs(gains[i]):.3g} and the one at "
                    f"{steps[j].at_s:.0f} s {abs(gains[j]):.3g}: something else moved, a relief damper that lifts and stays, or a door. "
                    "Find it, and repeat the steps."
                )
            at_same = abs(levels[i] - levels[j] - gains[i] * (middles[i] - middles[j]))
            noise = found.noise / (1 - found.memory) / np.sqrt(min(windows.sizes[i], windows.sizes[j]))
            if at_same > 2 * max(SHIFT * min(abs(steps[i].answer), abs(steps[j].answer)), SURELY * noise):
                return (
                    f"At the same speed the reading is {amount(at_same, dimension)} apart between the steps at {steps[i].at_s:.0f} and "
                    f"{steps[j].at_s:.0f} s: a door, a damper or the wind has moved between them. Repeat the steps with all doors watched."
                )
    return _shifted(windows, steps, found, dimension)


def _shifted(windows, steps, found, dimension):
    known = found.comparison
    for begin, count, step in zip(known.begins, known.count, steps, strict=True):
        left = found.residuals[begin : begin + count]
        if left.size < FEWEST_LEFT:
            continue
        path = np.cumsum(left)
        at = min(int(np.abs(path).argmax()), left.size - 2)
        shift = abs(left[at + 1 :].mean() - left[: at + 1].mean()) / (1 - found.memory)
        if abs(path[at]) > BRIDGE * found.noise * np.sqrt(left.size) and shift > SHIFT * abs(step.answer):
            return (
                f"Some {windows.time_s[known.used[begin + at]]:.0f} s after the start the reading shifts by {amount(shift, dimension)} "
                f"while "
                "the fan does nothing that explains it: a door or a damper moved during the step. Repeat it with all doors watched."
            )
    return ""
