"""What to predict before the picture: another span, the force after a door, and whether a tuning can help a slow drive."""

from dataclasses import replace
from functools import cache

from helpers import units
from helpers.lessons.exercise import Chosen, Measured
from helpers.lessons.prediction import Outcome, Prediction
from helpers.studies.tried_tuning import LENGTH_S, OPENS_S, SHUTS_S, WITHIN_S, bench

__all__ = ["PREDICTIONS", "SLOW_RAMP_S", "force", "ramp", "span", "tuned"]

SLOWER, SAME, FASTER = "slower", "just as fast", "faster"
YES, NO = "yes, with enough gain", "no, with no tuning at all"
SLOW_RAMP_S = 12.0
TOLERANCE_N = 8.0  # less than the weight of a bag of sugar: a guess so near is a good one


def tuned():
    """(gain, integral_s) of the questions: what the study recommends."""
    best = bench().recommended
    return best.gain, best.integral_s


@cache
def _tried(**changes):
    place, (gain, integral_s) = bench(), tuned()
    return place.attempt(replace(place.own_trial, **{"gain": gain, "integral_s": integral_s} | changes))


def _span(system):
    once, twice = _tried(), _tried(span_pa=2 * bench().own.span_pa)
    answer = FASTER if twice.slowest_s < once.slowest_s else SLOWER if twice.slowest_s > once.slowest_s else SAME
    words = (
        "the gain counts per cent of span, and a pascal is now half as many per cent. The same error moves the fan half as far: "
        f"{_seconds(twice.slowest_s)} instead of {_seconds(once.slowest_s)} after the door. To leave the loop as it was, enter twice the "
        "gain."
    )
    return Outcome(Chosen(answer, (SLOWER, SAME, FASTER)), words)


def _force(system):
    found = _tried()
    before, limit = (units.show(value, "force", system) for value in (found.rest_n, found.limit_n))
    words = (
        "the fan still turns as fast as the open door asked for, and now the air has nowhere to go. Before all that the heaviest door "
        f"took {before}; {limit} is allowed. It is too heavy for {found.above_s:.1f} s. That is {bench().weather}, the stair as its file "
        "says, with this gain and integral time; another weather, warmth or tuning gives another figure."
    )
    return Outcome(Measured(found.peak_n, "force", TOLERANCE_N), words)


def _ramp(system):
    found = _tried(ramp_s=SLOW_RAMP_S)
    answer = NO if found.ramp_forbids else YES
    words = (
        f"sent to the right speed in the instant the door moves, this drive would still take {found.ramp_opens_s:.1f} s. No controller "
        "is quicker than that: the ramp is a speed limit, not a tuning."
    )
    return Outcome(Chosen(answer, (YES, NO)), words)


def _seconds(seconds):
    return f"not within {LENGTH_S - SHUTS_S:.0f} s" if seconds > LENGTH_S else f"{seconds:.1f} s"


def _ask_span(system):
    spans = [units.show(times * bench().own.span_pa, "pressure", system) for times in (1, 2)]
    gain, integral_s = tuned()
    return (
        f"Larkfield House holds its stair with two transmitters of {spans[0]} span, a gain of {gain:g} %/% and an integral time of "
        f"{integral_s:g} s. Somebody fits transmitters of {spans[1]} span, tells the drive so, and leaves gain and integral time alone. "
        "After a door, is the loop slower, just as fast, or faster than before?"
    )


def _ask_force(system):
    limit = units.show(bench().attempt(bench().own_trial).limit_n, "force", system)
    return (
        f"With the same gain and integral time, the street door has stood open for {SHUTS_S - OPENS_S:.0f} s and shuts. What is the most "
        f"force that anybody at another stair door needs just then? ({limit} is allowed.)"
    )


def _ask_ramp(system):
    return (
        f"The drive's ramp is set to {SLOW_RAMP_S:g} s from standstill to full speed. Can a better tuning bring 90 % of the new flow "
        f"within {WITHIN_S:g} s of the street door opening, as EN 12101-6:2005 asked until it was superseded?"
    )


span = Prediction("span", _ask_span, _span, (SLOWER, SAME, FASTER))
force = Prediction("force", _ask_force, _force, dimension="force")
ramp = Prediction("ramp", _ask_ramp, _ramp, (YES, NO))
PREDICTIONS = (span, force, ramp)
