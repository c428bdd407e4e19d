"""Where the stack effect changes its sign, and how sure a share counted from sampled conditions is; Wilson's interval by hand."""

import math
from functools import cache

import sympy

from helpers.formulas.air import ZERO_C_K
from helpers.formulas.uncertainty import normal_quantile, wilson_interval
from helpers.teaching.derivation import Derivation, Row, Step, WorkedExample, solved
from helpers.teaching.mathematics import sympified

__all__ = ["interval_of_a_share", "neutral_plane", "share_and_its_interval"]


@cache
def neutral_plane():
    """From equal mass in below and out above to the height at which inside and outdoors press alike."""
    pulls = "dp_low = stack_gradient_pa_m*height_m__plane; dp_high = stack_gradient_pa_m*(distance_m - height_m__plane)"
    passes = "density_{0}*area_{1}_m2*sqrt(2*dp_{1}/density_{0})".format
    mass = f"{passes('out', 'low')} = {passes('in', 'high')}"
    squared = "area_low_m2**2*density_out*height_m__plane = area_high_m2**2*density_in*(distance_m - height_m__plane)"
    heavier = "density_out = density_in*temp_in_k/temp_out_k"
    steps = (
        Step("In winter air comes in low and leaves high. At the lower opening outdoors presses with the stack effect of the way up to the "
             "neutral plane; at the upper one indoors presses with that of the rest of the way:", pulls),
        Step("What comes in, as mass of cold air, goes out as warm air (C_d is the same on both sides and left out):", mass, folded=True),
        Step("As much mass comes in low as goes out high. Squared, so that the roots go, and with the two pressures put in:", squared),
        Step("Cold air is heavier, in the ratio of the temperatures in kelvin:", heavier),
        Step("Kelvin from degrees:", f"temp_out_k = temp_out_c + {ZERO_C_K}; temp_in_k = temp_in_c + {ZERO_C_K}"),
    )  # fmt: skip
    result = Step("Solve for the height:", "height_m__plane = distance_m/(1 + (area_low_m2/area_high_m2)**2*temp_in_k/temp_out_k)",
                  solved("height_m__plane", squared, heavier))  # fmt: skip
    return Derivation(
        "Where the stack effect is zero",
        "In words: in the middle when the openings are alike, and nearer to the larger one when they are not. With openings {distance_m} "
        "apart and alike, {temp_out_c} outdoors and {temp_in_c} in the stair, it lies {height_m__plane} above the lower one.",
        steps, result, ("distance_m", "area_low_m2", "area_high_m2", "temp_out_c", "temp_in_c"),
        "helpers.formulas.air.neutral_plane_height",
        {"distance_m": 42.0, "area_low_m2": 0.1, "area_high_m2": 0.1, "temp_out_c": -9.0, "temp_in_c": 10.0},
    )  # fmt: skip


@cache
def interval_of_a_share():
    """Which true shares a count does not contradict: Wilson's interval from a quadratic."""
    edge = "(share__seen - share__true)**2 = z**2*share__true*(1 - share__true)/trials"
    quadratic = "(1 + z**2/trials)*share__true**2 - 2*(share__seen + z**2/(2*trials))*share__true + share__seen**2 = 0"
    left, right = map(sympified, edge.split("="))
    ends = sympy.solve(left - right, sympified("share__true"))
    seen, trials, z = map(sympified, ("share__seen", "trials", "z"))
    low, high = sorted(ends, key=lambda end: end.subs({seen: 0.8, trials: 100, z: 2}).evalf())
    steps = (
        Step("The share seen is so many of so many:", "share__seen = successes/trials"),
        Step("With a true share p_true, how far off could the seen one be? By z standard deviations. (A standard deviation is the "
             "usual scatter: of many such counts about two in three lie within one of the true share.) For n coins tossed its square is "
             "p_true (1 - p_true) / n. A true share is just not contradicted where the seen one is that far off. Squared:",
             edge, folded=True),
        Step("That is a quadratic in the true share, with a lower and an upper root:", quadratic, left - right, folded=True),
        Step("Three parts of the result get a letter. The centre, a little towards a half:", "centre = share__seen + z**2/(2*trials)"),
        Step("the half width:", "half_width = z*sqrt(share__seen*(1 - share__seen)/trials + z**2/(4*trials**2))"),
        Step("and the divisor:", "divisor = 1 + z**2/trials"),
    )  # fmt: skip
    none = float(wilson_interval(0, 100)[1])
    return Derivation(
        "How sure a share is",
        "In words: of 100 counts, about 5 have an interval that misses the true share (z = 1.96). With {successes} of {trials} seen, the "
        "true share may lie from {share__low} to {share__high}.",
        steps,
        Step("The two ends:", "share__low = (centre - half_width)/divisor; share__high = (centre + half_width)/divisor",
             sympy.Tuple(low, high)),
        ("successes", "trials", "z"), "helpers.formulas.uncertainty.wilson_interval", {"successes": 80, "trials": 100, "z": 1.96},
        end=f"None good of 100: the lower end is zero, and the upper one is not; it is {none:.3f}.",
    )  # fmt: skip


GOOD, TRIALS, CONFIDENCE = 81, 263, 0.95


def share_and_its_interval():
    """81 of 263: the share, and between which true shares it may have come about."""
    z = float(normal_quantile((1 + CONFIDENCE) / 2))
    share = GOOD / TRIALS
    centre = share + z**2 / (2 * TRIALS)
    half = z * math.sqrt(share * (1 - share) / TRIALS + z**2 / (4 * TRIALS**2))
    low, high = (float(end) for end in wilson_interval(GOOD, TRIALS, CONFIDENCE))
    given = (
        Row("Conditions with all doors inside", "counted", float(GOOD), "number", 0, "successes"),
        Row("Conditions sampled", "chosen", float(TRIALS), "number", 0, "trials"),
        Row("For 95 %, both sides", "normal table", z, "number", 3, "z"),
    )
    working = (
        Row("Share", "= successes/trials", share, "number", 6, "share__seen"),
        Row("Centre", "= share__seen + z**2/(2*trials)", centre, "number", 5, "centre"),
        Row("Half width", "= z*sqrt(share__seen*(1 - share__seen)/trials + z**2/(4*trials**2))", half, "number", 5, "half_width"),
        Row("Divisor", "= 1 + z**2/trials", 1 + z**2 / TRIALS, "number", 5, "divisor"),
        Row("Lower end", "= (centre - half_width)/divisor", low, "number", 4, "share__low"),
        Row("Upper end", "= (centre + half_width)/divisor", high, "number", 4, "share__high"),
    )
    source, half_digit = "Newcombe, Statistics in Medicine 17 (1998) table I, method 3", 0.00005
    return WorkedExample(f"How sure is {GOOD} of {TRIALS}?", given, working, 0.3662, half_digit, source, "from memory, not verified")
