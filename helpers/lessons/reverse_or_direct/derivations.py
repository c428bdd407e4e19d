"""Why the sign once round the loop decides: with one sign an error dies away, with the other it grows; the proportional band by hand."""

from functools import cache

from helpers.formulas import action
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved

__all__ = ["error_rate", "proportional_band"]


@cache
def error_rate():
    """From reading, error and PI controller once round the loop to the rate at which an error grows or dies away."""
    kept_up = "1 = loop_sign*process_gain*gain*(1 + 1/(integral_s*rate_per_s))"
    steps = (
        Step("All is counted from where fan and reading stood before, in per cent of span. The fan moves the reading up (f = 1) or down "
             "(f = −1), at once, as far as the building's gain says:", "reading_percent = fan_effect*process_gain*output_percent"),
        Step("The controller compares: the error is the deviation, with −1 if it is reverse acting, with +1 if direct acting:",
             "error_percent = action*reading_percent"),
        Step("Only the product of action and effect counts, the sign once round the loop:", "loop_sign = action*fan_effect"),
        Step("Try an error that goes as exp(r t): with r below zero it dies away, above zero it grows. Added up over time it is e / r. "
             "The controller answers in proportion to the error and to its sum:",
             "output_percent = gain*(error_percent + error_percent/(integral_s*rate_per_s))", folded=True),
        Step("Put one into the other, once round the loop. The error drops out, and what is left tells its rate:", kept_up, folded=True),
    )  # fmt: skip
    wrong = float(action.error_rate_per_s(1, 1.2, 0.6, 4.0))
    return Derivation(
        "The sign of the loop",
        "In words: if once round the loop the sign is minus, an error dies away; if it is plus, it feeds itself. With {process_gain} for "
        "the building, {gain} for the controller, {integral_s} and a minus, r is {rate_per_s}: minus, so it dies away.",
        steps,
        Step("Solve for r, how fast an error e grows or dies away:",
             "rate_per_s = loop_sign*process_gain*gain/(integral_s*(1 - loop_sign*process_gain*gain))", solved("rate_per_s", kept_up)),
        ("loop_sign", "process_gain", "gain", "integral_s"), "helpers.formulas.action.error_rate_per_s",
        {"action": -1.0, "fan_effect": 1.0, "process_gain": 1.2, "gain": 0.6, "integral_s": 4.0},
        end=f"With L = −1 what stands above the line is below zero and what stands below it is above zero, whatever the gain: the error "
            f"dies away. With L = +1 and the same figures r is +{wrong:.2f} 1/s: it runs away. That is so while "
            "K K_c is below 1; from 1 on the wrong loop is off to its end at once.",
    )  # fmt: skip


SPAN_PA, SET_POINT_PA, READING_PA, GAIN = 125.0, 50.0, 45.0, 2.0


def proportional_band():
    """A reading 5 Pa low, seen by a reverse and by a direct acting controller; then the band in which the output is neither end."""
    seen = {name: float(action.error(SET_POINT_PA, READING_PA, name)) for name in action.ACTIONS}
    percent = {name: 100 * error / SPAN_PA for name, error in seen.items()}
    band = float(action.proportional_band(GAIN))
    given = (
        Row("Span of the transmitter", "0 to 125 Pa", SPAN_PA, "pressure", name="span_pa"),
        Row("Set point", "given", SET_POINT_PA, "pressure", name="set_point"),
        Row("Reading", "given", READING_PA, "pressure", name="value"),
        Row("Gain, % of output for each % of span", "given", GAIN, "number", 0, "gain"),
    )
    working = (
        Row("Error, reverse acting", "= set_point - value", seen["reverse"], "pressure"),
        Row("the same in per cent of span", "= 100*(set_point - value)/span_pa", percent["reverse"], "percent"),
        Row("Output moves at once, faster", "= 100*gain*(set_point - value)/span_pa", GAIN * percent["reverse"], "percent"),
        Row("Error, direct acting", "= value - set_point", seen["direct"], "pressure"),
        Row("Output moves at once, slower", "= 100*gain*(value - set_point)/span_pa", GAIN * percent["direct"], "percent"),
        Row("Proportional band: the error that moves the output from end to end", "= 100/gain", band, "percent", 0),
    )
    source = "ISA usage of gain and proportional band"
    return WorkedExample(
        "One error, two actions, and the proportional band", given, working, 50.0, 0.5, source, "from memory, not verified"
    )
