"""Why a loop hunts, as far as its log can tell: which cause fits, with what was seen, and the check that tells the next two apart.

Looked for: a swing no larger than the steps in which a value is written (limit cycle by quantisation), a fan that stands between jumps
(a dead band, a drive that acts in steps), a fan that always runs on its ramp, and a gain that is too large for the loop. From inside a
closed loop a swing that comes from outside (wind, a neighbour's loop) looks like one of the loop itself: without a step test that is said.
Source: describing functions and limit cycles, text-book (from memory, not verified). Limits: one even swing; the first of the readings.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import tuning
from helpers.studies.measured.trends.description import Swing, noise_of, step_of, swing_of
from helpers.studies.measured.trends.moves import filled
from helpers.studies.measured.trends.step_checks import amount
from helpers.units.said import three, two

CAUSES = ("none", "quantisation", "dead band", "ramp", "gain", "outside", "cannot tell")
FEW_STEPS = 3.0  # ours: peak to peak of a swing by the smallest step of a value, up to which quantisation explains it
STANDS, ON_RAMP, NEAR_RAMP = 0.6, 0.6, 0.8  # ours: shares of time at rest, on the ramp; how near to the fastest counts as on it
SWINGS_AT, SURE_AT = 1.3, 1.6  # ours: gain margin below which a loop swings of itself in practice, above which it does not
IN_MANUAL = (
    "Agree it with the building and watch the stair, which is not protected meanwhile; then set the output in manual at the middle of its "
    "swing, not above the highest speed at which no door passes its limit (the record states it), for ten swings"
)
PERIOD_FITS = 0.4  # ours: share by which the swing seen and the one reckoned may differ


@dataclass(frozen=True)
class HuntingFound:
    """Which cause fits: one of CAUSES; swing: `Swing` of the reading, None where there is none; evidence: sentences of what was seen for
    and against; next_check: what tells the remaining causes apart, "" where none remain."""

    cause: str
    swing: Swing | None
    evidence: tuple[str, ...]
    next_check: str

    @property
    def headline(self):
        """The finding in one sentence."""
        said = {
            "none": "It does not hunt: no even swing is in the log.",
            "quantisation": "It hunts because a value comes in steps too coarse for the loop: the swing is no larger than a few of them.",
            "dead band": "It hunts because the fan keeps its speed and jumps: a dead band, or a drive that acts in steps.",
            "ramp": "It hunts because the integral runs ahead of the drive's ramp.",
            "gain": "It hunts because the gain is too large, or the integral time too short, for this loop.",
            "outside": "The loop follows a swing that comes from outside: it is not near to swinging by itself.",
            "cannot tell": "It hunts, and this log cannot tell why.",
        }
        return said[self.cause]


@dataclass(frozen=True)
class _Swinging:
    swing: Swing
    reading_step: float
    fan_step: float
    fan_swing: float
    stands: float
    on_ramp: float
    ramp: float


def why_it_hunts(trend, *, settings=None):
    """Say why a loop hunts. trend: `Trend`; settings: `SettingsFound` of a step test of this loop with the settings as found, None where
    there is none. Returns `HuntingFound`."""
    swing = swing_of(trend.time_s, trend.values[trend.controlled])
    if swing is None:
        return HuntingFound("none", None, ("The reading has no even swing of six half periods or more.",), "")
    chosen = (trend.time_s >= swing.from_s) & (trend.time_s <= swing.until_s)
    time_s, reading, fan = trend.time_s[chosen], trend.values[trend.controlled][chosen], filled(trend.values[trend.input][chosen])
    seen, dimension = _seen(time_s, reading, fan, swing), trend.dimensions[trend.controlled]
    stepped = _stepped(trend, chosen, seen)
    if stepped:
        return HuntingFound("none", None, (stepped,), "")
    told = [
        f"The reading swings by {amount(swing.amplitude, dimension)} to either side every {three(swing.period_s)} s, seen "
        f"{swing.cycles:.0f} times."
    ]
    samples = swing.period_s / float(np.median(np.diff(time_s)))
    if samples < 8:
        told.append(f"Only {samples:.1f} rows are in one swing: its shape, and whether the fan is on its ramp, cannot be seen.")
        return HuntingFound("cannot tell", swing, tuple(told), "Log ten rows or more in one swing.")
    if seen.fan_swing < 1e-9:
        told.append("The fan does not swing: nothing of this comes through the loop.")
        return HuntingFound("outside", swing, tuple(told), "")
    if seen.reading_step and 2 * swing.amplitude <= FEW_STEPS * seen.reading_step:
        told.append(
            f"The reading is written in steps of {amount(seen.reading_step, dimension)}, from peak to peak goes "
            f"{amount(2 * swing.amplitude, dimension)}."
        )
        return HuntingFound(
            "quantisation", swing, tuple(told), "Log the reading with more digits: is the step that of the log, or of the input?"
        )
    if seen.fan_step and 2 * seen.fan_swing <= FEW_STEPS * seen.fan_step:
        told.append(f"The fan's column is written in steps of {seen.fan_step:.3g}, and from peak to peak goes {two(2 * seen.fan_swing)}.")
        return HuntingFound("quantisation", swing, tuple(told), "Log output and speed with more digits: which of them has the steps?")
    if seen.stands > STANDS:
        told.append(f"For {100 * seen.stands:.0f} % of the time the fan keeps one speed and jumps between, while the output moves on.")
        return HuntingFound("dead band", swing, tuple(told), "Halve the dead band (output and drive): a swing of it halves, too.")
    told.append(f"The fan moves for {100 * (1 - seen.stands):.0f} % of the time, in steps far smaller than its swing.")
    ramp = trend.columns.speed is not None and seen.on_ramp > ON_RAMP
    if ramp:
        told.append(
            f"For {100 * seen.on_ramp:.0f} % of the time the speed goes at its fastest, {seen.ramp:.3g} a second: it is on its ramp."
        )
    return _by_margins(settings, seen, ramp, told)


def _stepped(trend, chosen, seen):
    """Sentence where the swing is that of somebody's steps; "" where it is not. An output that moves on while the fan keeps its speed is
    nobody's step."""
    set_point = trend.values.get(trend.columns.set_point)
    if set_point is not None and np.ptp(filled(set_point[chosen])) > 0:
        return "The reading goes to and fro with the set point, which is stepped: that is no hunting."
    if seen.stands <= STANDS:
        return ""
    output = None if trend.columns.speed is None else trend.values.get(trend.columns.output)
    if output is None:
        return (
            "The fan keeps its speed and jumps, as in steps in manual; if nobody stepped it, log output and speed: a dead band does so too."
        )
    output = filled(output[chosen])
    rests = float(np.mean(np.abs(np.diff(output)) <= 1e-3 * np.ptp(output)))
    return "The output is stepped and rests between: a test in manual, no hunting." if rests > STANDS else ""


def _seen(time_s, reading, fan, swing):
    rate = np.diff(fan) / np.diff(time_s)
    fan_swing = swing_of(time_s, fan)
    noise = noise_of(fan)
    fastest = float(np.quantile(np.abs(rate), 0.9))
    wide = fan_swing.amplitude if fan_swing else float(np.ptp(fan)) / 2
    return _Swinging(
        swing, step_of(filled(reading)), step_of(fan), wide, float(np.mean(np.abs(np.diff(fan)) <= min(noise, 1e-3 * wide) + 1e-12)),
        float(np.mean(np.abs(rate) > NEAR_RAMP * fastest)) if fastest > 0 else 0.0, fastest,
    )  # fmt: skip


def _by_margins(settings, seen, ramp, told):
    """The cause, where the swing is the loop's own or comes from outside: told by the margins of the settings as found."""
    found = None if settings is None else settings.as_found
    if found is None:
        told.append("No step test of this loop with its settings is at hand: how near it is to swinging is not known.")
        check = f"{IN_MANUAL}: a swing that stays comes from outside. Else make a step test; "
        check += "if halving the gain ends the swing it was too large, if a ramp of half the time ends it the integral ran ahead."
        return HuntingFound("cannot tell", seen.swing, tuple(told), check)
    margin, period = found.nominal.gain_margin, _period_s(settings)
    told.append(f"By the step test the loop with its settings as found swings by itself from {two(margin)} times its gain on.")
    if margin < SWINGS_AT:
        if abs(period - seen.swing.period_s) > PERIOD_FITS * seen.swing.period_s and not ramp:
            told.append(f"By itself it would swing every {three(period)} s, which is not what is seen.")
            return HuntingFound("cannot tell", seen.swing, tuple(told), f"{IN_MANUAL}: a swing that stays comes from outside.")
        told.append(f"By itself it would swing every {three(period)} s{', slower where it is on its ramp' if ramp else ''}.")
        return HuntingFound("gain", seen.swing, tuple(told), "")
    if ramp:
        ahead = settings.box.ramp_asks_s and found.integral_s / found.gain < settings.box.ramp_asks_s
        if ahead:
            told.append("Small moves come to rest; in large ones the integral asks for more than the ramp gives.")
            return HuntingFound("ramp", seen.swing, tuple(told), "")
    if margin > SURE_AT:
        told.append("A loop so far from swinging does not swing by itself.")
        return HuntingFound("outside", seen.swing, tuple(told), f"{IN_MANUAL}: the swing must stay.")
    return HuntingFound("cannot tell", seen.swing, tuple(told), f"{IN_MANUAL}: a swing that stays comes from outside.")


def _period_s(settings):
    """Period [s] in which the nominal loop would swing at the gain that it just bears."""
    lag, delay = settings.box.fitted
    numbers = tuning.Settings(settings.as_found.gain, settings.as_found.integral_s)
    times = [time for time in (lag, delay, settings.as_found.integral_s) if time > 1e-3]
    found = tuning.margins(
        lambda w: tuning.controller_response(w, numbers) * tuning.frequency_response(w, settings.box.gain, [lag], delay),
        max(times), max(min(times), 0.02),
    )  # fmt: skip
    return float(2 * np.pi / found.phase_crossover_rad_s)
