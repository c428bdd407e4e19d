"""Why the sign once round the loop decides: with one sign an error dies away, with the other it grows; the proportional band by hand."""

from functools import cache

import sympy

from helpers.formulas import action
from helpers.teaching.derivation import Derivation, Line, Step, WorkedExample

__all__ = ["error_rate", "proportional_band"]


@cache
def error_rate():
    """From reading, error and PI controller once round the loop to the rate at which an error grows or dies away."""
    action, effect = sympy.symbols("action effect", real=True, nonzero=True)
    sign = sympy.Symbol("loop_sign", real=True, nonzero=True)
    process_gain, gain, integral = sympy.symbols("process_gain gain integral_s", positive=True)
    error, output, reading, s = sympy.symbols("error output reading s")
    reads = sympy.Eq(reading, effect * process_gain * output)
    compares = sympy.Eq(error, action * reading)
    controls = sympy.Eq(output, gain * (1 + 1 / (integral * s)) * error)
    once_round = compares.subs(reading, reads.rhs).subs(output, controls.rhs)
    left = sympy.simplify((once_round.lhs - once_round.rhs) / error)
    signed = sympy.simplify(left.subs(action, sign / effect))
    (solved,) = sympy.solve(signed, s)
    above, below = sympy.fraction(sympy.factor(solved))
    rate = -above / (integral * sympy.expand(-below / integral))
    steps = (
        Step(
            "All is counted from where fan and reading stood before, in per cent of span. A faster fan moves the reading up (effect "
            "+1) or down (effect -1), and a fan answers so quickly that it may be taken as at once:",
            reads,
        ),
        Step("The controller compares. Reverse acting takes the deviation with -1, direct acting with +1:", compares),
        Step(
            "It answers with a part in proportion to the error and a part that adds it up over time; to add up is to divide by s:", controls
        ),
        Step("Put one into the other, once round the loop. An error that keeps itself up must satisfy:", sympy.Eq(left, 0)),
        Step("Action and effect come only as a product: the sign once round the loop.", sympy.Eq(sign, action * effect)),
        Step("Solve for s. Errors go as exp(s t), so below zero they die away, and above zero they grow:", sympy.Eq(s, rate)),
        Step("Sign -1, the loop holds: whatever the gain, s is below zero.", sympy.Eq(s, rate.subs(sign, -1))),
        Step("Sign +1, the loop runs away: for small gains s is above zero.", sympy.Eq(s, rate.subs(sign, 1))),
    )
    symbols = (sign, process_gain, gain, integral)
    return Derivation("The sign of the loop", steps, rate, symbols, "helpers.formulas.action.error_rate_per_s")


SPAN_PA, SET_POINT_PA, READING_PA, GAIN = 100.0, 50.0, 45.0, 2.0


def proportional_band():
    """A reading 5 Pa low, seen by a reverse and by a direct acting controller; then the band in which the output is neither end."""
    seen = {name: float(action.error(SET_POINT_PA, READING_PA, name)) for name in action.ACTIONS}
    percent = {name: 100 * error / SPAN_PA for name, error in seen.items()}
    band = float(action.proportional_band(GAIN))
    given = (
        Line("Span of the transmitter", "0 to 100 Pa", SPAN_PA, "pressure"),
        Line("Set point", "given", SET_POINT_PA, "pressure"),
        Line("Reading", "given", READING_PA, "pressure"),
        Line("Gain, % of output for each % of span", "given", GAIN, "number", 0),
    )
    working = (
        Line("Error, reverse acting", "set point - reading", seen["reverse"], "pressure"),
        Line("the same in per cent of span", "error / span x 100", percent["reverse"], "percent"),
        Line("Output moves at once by", "gain x error: faster", GAIN * percent["reverse"], "percent"),
        Line("Error, direct acting", "reading - set point", seen["direct"], "pressure"),
        Line("Output moves at once by", "gain x error in per cent: slower", GAIN * percent["direct"], "percent"),
        Line("Proportional band: the error that moves the output from end to end", "100 / gain", band, "percent", 0),
    )
    source = "ISA usage of gain and proportional band"
    return WorkedExample("One error, two actions, and the proportional band", given, working, 50.0, 0.5, source, "memory")
