"""Where the tuning rule comes from, and what a span does to a gain; SIMC by hand on a published process of two lags."""

from functools import cache

import sympy

from helpers.formulas import tuning
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified

__all__ = ["new_span", "simc", "simc_gain", "simc_integral"]

SIMC = "helpers.formulas.tuning.simc_pi"
PROCESS = ("gain__process", "lag_s", "delay_s", "closed_loop_s")
OF_A_STEP = {"gain__process": 1.41, "lag_s": 0.53, "delay_s": 0.146, "closed_loop_s": 0.146}
RULE = "gain = lag_s/(gain__process*(closed_loop_s + delay_s))"
PI = "gain*(1 + 1/(integral_s*swing))"


@cache
def simc_gain():
    """From a process of one lag and a delay, and the answer that is wanted, to the controller's gain."""
    late = "exp(-delay_s*swing)"
    process, wanted = (f"{name} = {above}{late}/({lag}*swing + 1)" for name, above, lag in (
        ("of_process", "gain__process*", "lag_s"), ("of_wanted", "", "closed_loop_s")))  # fmt: skip
    loop = "of_wanted = of_controller*of_process/(1 + of_controller*of_process)"
    exact = solved("of_controller", loop, process, wanted)
    first = "(lag_s*swing + 1)/(gain__process*(closed_loop_s + delay_s)*swing)"
    short = sympy.series(sympified(late), sympified("swing"), 0, 2).removeO()
    found = sympy.solve(sympy.Poly(sympy.numer(sympy.together(sympified(first) - sympified(PI))), sympified("swing")).all_coeffs(),
                        [sympified("gain"), sympified("integral_s")], dict=True)[0]  # fmt: skip
    steps = (
        Step("The process as a step test shows it: a gain, a lag, a delay. By Laplace, to differentiate is to multiply by s:",
             process, folded=True),
        Step("The answer wanted: after the delay, which nobody can take away, one lag of the time asked for:", wanted, folded=True),
        Step("What the closed loop makes of a set point must be that answer:", loop, folded=True),
        Step("Solve for the controller:", f"of_controller = (lag_s*swing + 1)/(gain__process*(closed_loop_s*swing + 1 - {late}))", exact,
             folded=True),
        Step("No plain controller has a delay in it. For slow swings take its first two terms:", f"{late} ≈ 1 - delay_s*swing", short,
             folded=True),
        Step("Then the controller is", f"of_controller ≈ {first}", sympified(str(exact.subs(sympified(late), short))), folded=True),
        Step("That is a PI controller. Compare with its gain and integral time:", f"of_controller = {PI}", folded=True),
        Step("The integral time is the lag:", "integral_s = lag_s", found[sympified("integral_s")], folded=True),
    )  # fmt: skip
    return Derivation(
        "The gain by SIMC",
        "In words: gain is the lag, divided by the building's gain and by closed loop and delay together. A building of {gain__process} "
        "with a lag of {lag_s} and a delay of {delay_s}, and as long asked for the closed loop, takes a gain of {gain}.",
        steps,
        Step("The later the reading and the stronger the building, the less gain:", RULE, found[sympified("gain")]),
        PROCESS, f"{SIMC} (its gain)", OF_A_STEP,
    )  # fmt: skip


@cache
def simc_integral():
    """Why a long lag must not make a long integral time: an error after a door would take as long to go away."""
    closed = "lag_s*integral_s*swing**2 + gain__process*gain*integral_s*swing + gain__process*gain"
    swings = "(gain__process*gain*integral_s)**2 - 4*lag_s*integral_s*gain__process*gain = 0"
    least = solved("integral_s", swings)
    shortest = "4*(closed_loop_s + delay_s)"
    steps = (
        Step("With a lag much longer than all else the reading only climbs while one looks: the 1 beside the lag may go.",
             "of_process ≈ gain__process/(lag_s*swing)", folded=True),
        Step("With a PI controller on it the closed loop's swings are the roots s of", f"{closed} = 0",
             sympy.numer(sympy.together(1 + sympified("gain__process/(lag_s*swing)") * sympified(PI))), folded=True),
        Step("It just does not swing where the two roots are one:", swings,
             sympy.discriminant(sympy.Poly(sympified(closed), sympified("swing")), sympified("swing")), folded=True),
        Step("So the integral time must be at least", "integral_s__least = 4*lag_s/(gain__process*gain)", least, folded=True),
        Step("With the gain from before that is", f"integral_s__least = {shortest}", least.subs(*map(sympified, RULE.split("="))),
             folded=True),
    )  # fmt: skip
    return Derivation(
        "The integral time by SIMC",
        "In words: the lag, but no more than four times closed loop and delay together. Here the lag is {lag_s} and four times the two "
        "{integral_s__least}, so {integral_s}.",
        steps,
        Step("The lag, or four times closed loop and delay where that is shorter:", f"integral_s = least(lag_s, {shortest})"),
        PROCESS, f"{SIMC} (its integral_s)", OF_A_STEP,
    )  # fmt: skip


@cache
def new_span():
    """The gain to enter when the transmitter's span changes."""
    same = "gain__entered*output_span/new_span = gain*output_span/old_span"
    return Derivation(
        "The gain on another span",
        "In words: on twice the span enter twice the gain. {gain} on {old_span} are {gain__entered} on {new_span}.",
        (
            Step("The building does not know per cent. It feels so many Hz for each Pa, gain times output span by reading span:",
                 "strength = gain*output_span/old_span"),
            Step("With another transmitter, and another gain entered, it must feel the same:", same),
        ),
        Step("Solve for the gain to enter. The output's span drops out:", "gain__entered = gain*new_span/old_span",
             solved("gain__entered", same)),
        ("gain", "old_span", "new_span"), "helpers.formulas.action.gain_for_new_span",
        {"gain": 0.6, "old_span": 125.0, "new_span": 250.0, "output_span": 50.0},
    )  # fmt: skip


LONG_S, SHORT_S, PROCESS_GAIN = 1.0, 0.2, 1.0


def simc():
    """Two lags shortened to one and a delay by the half rule, then the SIMC controller as fast as advised."""
    short = tuning.half_rule([LONG_S, SHORT_S])
    found = tuning.simc_pi(PROCESS_GAIN, short.lag_s, short.delay_s)
    given = (
        Row("Gain of the process", "given, % of span by % of output", PROCESS_GAIN, "number", 0, "gain__process"),
        Row("Longer lag", "given", LONG_S, "time", name="lag_1"),
        Row("Shorter lag", "given", SHORT_S, "time", name="lag_2"),
    )
    working = (
        Row("Lag to tune for", "= lag_1 + lag_2/2", short.lag_s, "time", 2, "lag_s"),
        Row("Delay to tune for, the other half", "= lag_2/2", short.delay_s, "time", 2, "delay_s"),
        Row("Closed loop: as fast as the delay, the fastest advised", "= delay_s", short.delay_s, "time", 2, "closed_loop_s"),
        Row("Integral time", "= least(lag_s, 4*(closed_loop_s + delay_s))", float(found.integral_s), "time", 2, "integral_s"),
        Row("Gain", f"= {RULE.split(' = ')[1]}", float(found.gain), "number", 1, "gain"),
    )
    source = "Skogestad, J. Process Control 13 (2003) 291-309, worked example E1"
    return WorkedExample("Two lags, one tuning", given, working, 5.5, 0.05, source, "from memory, not verified")
