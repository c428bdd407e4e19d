"""Where the tuning rule comes from, and what a span does to a gain; SIMC by hand on a published process of two lags."""

from functools import cache

import sympy

from helpers.formulas import tuning
from helpers.teaching.derivation import Derivation, Line, Step, WorkedExample

__all__ = ["new_span", "simc", "simc_gain", "simc_integral"]

GAIN, LAG, DELAY, CLOSED, INTEGRAL = sympy.symbols("gain lag_s delay_s closed_loop_s integral_s", positive=True)
S = sympy.Symbol("s")
CONTROLLER_GAIN = sympy.Symbol("controller_gain", positive=True)
SIMC = "helpers.formulas.tuning.simc_pi"


@cache
def simc_gain():
    """From a process of one lag and a delay, and the answer that is wanted, to the controller's gain."""
    process, wanted = GAIN * sympy.exp(-DELAY * S) / (LAG * S + 1), sympy.exp(-DELAY * S) / (CLOSED * S + 1)
    controller = sympy.Symbol("controller")
    loop = sympy.Eq(wanted, controller * process / (1 + controller * process))
    (solved,) = sympy.solve(loop, controller)
    delayed = sympy.exp(-DELAY * S)
    above, below = (sympy.powsimp(sympy.expand(part * delayed)) for part in sympy.fraction(sympy.together(solved)))
    exact = sympy.factor(above) / sympy.collect(below, GAIN)
    late = sympy.series(delayed, S, 0, 2).removeO()
    first = sympy.factor(exact.subs(delayed, late))
    pi = CONTROLLER_GAIN * (1 + 1 / (INTEGRAL * S))
    same = sympy.Poly(sympy.numer(sympy.together(first - pi)), S).all_coeffs()
    (found,) = sympy.solve(same, [CONTROLLER_GAIN, INTEGRAL], dict=True)
    steps = (
        Step("The process as a step test shows it: a gain, a lag, a delay. To differentiate is to multiply by s.", process),
        Step("The answer that is wanted: after the delay, which nobody can take away, one lag of the time asked for.", wanted),
        Step("What the closed loop makes of a set point must be that answer:", loop),
        Step("Solve for the controller:", sympy.Eq(controller, exact)),
        Step("No plain controller has a delay inside. For slow swings take the first two terms of it:", sympy.Eq(delayed, late)),
        Step("Then the controller is", sympy.Eq(controller, first)),
        Step("That is a PI controller. Compare with its gain and integral time:", pi),
        Step("The integral time is the lag,", sympy.Eq(INTEGRAL, found[INTEGRAL])),
        Step("and the gain is", sympy.Eq(CONTROLLER_GAIN, found[CONTROLLER_GAIN])),
    )
    return Derivation("The gain by SIMC", steps, found[CONTROLLER_GAIN], (GAIN, LAG, DELAY, CLOSED), f"{SIMC} (its gain)")


@cache
def simc_integral():
    """Why a long lag must not make a long integral time: an error after a door would take as long to go away."""
    slope = GAIN / (LAG * S)
    pi = CONTROLLER_GAIN * (1 + 1 / (INTEGRAL * S))
    closed = sympy.numer(sympy.together(1 + slope * pi))
    swing = sympy.discriminant(sympy.Poly(closed, S), S)
    (least,) = sympy.solve(swing, INTEGRAL)
    gain = simc_gain().result
    shortest = sympy.simplify(least.subs(CONTROLLER_GAIN, gain))
    both = sympy.Min(LAG, shortest)
    steps = (
        Step("With a lag much longer than all else the reading only climbs while one looks: the 1 beside the lag may go.", slope),
        Step("A PI controller on it; the closed loop's swings are the roots s of", sympy.Eq(closed, 0)),
        Step("They swing when this is below zero, and just do not when it is nothing:", sympy.Eq(swing, 0)),
        Step("So the integral time must be at least", sympy.Eq(INTEGRAL, least)),
        Step("With the gain from before that is", sympy.Eq(INTEGRAL, shortest)),
        Step("A lag shorter than that needs no more than itself. SIMC takes the shorter of the two:", sympy.Eq(INTEGRAL, both)),
    )
    return Derivation("The integral time by SIMC", steps, both, (GAIN, LAG, DELAY, CLOSED), f"{SIMC} (its integral_s)")


@cache
def new_span():
    """The gain to enter when the transmitter's span changes."""
    gain, old, new, output, entered = sympy.symbols("gain old_span new_span output_span entered_gain", positive=True)
    before, after = gain * output / old, entered * output / new
    (found,) = sympy.solve(sympy.Eq(after, before), entered)
    steps = (
        Step("The building does not know per cent. It feels so many Hz for each Pa: gain times output span by reading span.", before),
        Step("With another transmitter, and another figure entered, it feels", after),
        Step("It shall feel the same:", sympy.Eq(after, before)),
        Step("Solve for the figure to enter. The output's span drops out:", sympy.Eq(entered, found)),
    )
    return Derivation("The gain on another span", steps, found, (gain, old, new), "helpers.formulas.action.gain_for_new_span")


LONG_S, SHORT_S, PROCESS_GAIN = 1.0, 0.2, 1.0


def simc():
    """Two lags shortened to one and a delay by the half rule, then the SIMC controller as fast as advised."""
    short = tuning.half_rule([LONG_S, SHORT_S])
    found = tuning.simc_pi(PROCESS_GAIN, short.lag_s, short.delay_s)
    given = (
        Line("Gain of the process", "given, % of span by % of output", PROCESS_GAIN, "number", 0),
        Line("Longer lag", "given", LONG_S, "time"),
        Line("Shorter lag", "given", SHORT_S, "time"),
    )
    working = (
        Line("Lag to tune for", "longer lag + half of the shorter", short.lag_s, "time", 2),
        Line("Delay to tune for", "the other half of the shorter", short.delay_s, "time", 2),
        Line("Closed loop", "as fast as the delay, the fastest advised", short.delay_s, "time", 2),
        Line("Integral time", "the shorter of the lag and 4 x (closed loop + delay)", float(found.integral_s), "time", 2),
        Line("Gain", "lag / (process gain x (closed loop + delay))", float(found.gain), "number", 1),
    )
    source = "Skogestad, J. Process Control 13 (2003) 291-309, worked example E1"
    return WorkedExample("Two lags, one tuning", given, working, 5.5, 0.05, source, "memory")
