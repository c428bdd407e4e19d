"""Where the stack effect changes its sign, and how sure a share counted from drawn conditions is; Wilson's interval by hand."""

import math
from functools import cache

import sympy

from helpers.formulas.air import ZERO_C_K
from helpers.formulas.uncertainty import normal_quantile, wilson_interval
from helpers.teaching.derivation import Derivation, Line, Step, WorkedExample

__all__ = ["interval_of_a_share", "neutral_plane", "share_and_its_interval"]


@cache
def neutral_plane():
    """From equal mass in below and out above to the height at which inside and outdoors press alike."""
    distance, area_low, area_high = sympy.symbols("distance_m area_low_m2 area_high_m2", positive=True)
    height, per_metre, outdoors, indoors = sympy.symbols("height_m pull_pa_m density_out density_in", positive=True)
    temp_out, temp_in = sympy.symbols("temp_out_c temp_in_c", real=True)
    warm_over_cold = sympy.Symbol("warm_over_cold", positive=True)
    below, above = per_metre * height, per_metre * (distance - height)
    comes = area_low * sympy.sqrt(2 * outdoors * below)
    goes = area_high * sympy.sqrt(2 * indoors * above)
    ratio = (temp_in + ZERO_C_K) / (temp_out + ZERO_C_K)
    squared = sympy.Eq(comes**2, goes**2)
    (found,) = sympy.solve(squared, height)
    by_temperature = sympy.simplify(found.subs(outdoors, indoors * warm_over_cold))
    result = by_temperature.subs(warm_over_cold, ratio)
    alike = result.subs({area_low: area_high, temp_in: temp_out})
    steps = (
        Step("In winter air comes in low and leaves high. At the lower opening, below the neutral plane, outdoors presses with", below),
        Step("and at the upper one, the rest of the way above it, indoors presses with", above),
        Step("An opening passes, as mass of cold air, with the discharge coefficient left out on both sides,", comes),
        Step("and of warm air", goes),
        Step("What comes in goes out. Squared, so that the roots go:", squared),
        Step("Solve for the height:", sympy.Eq(height, found)),
        Step(
            "Cold air is heavier in the ratio of the absolute temperatures, warm over cold:",
            sympy.Eq(height, by_temperature),
        ),
        Step("Openings alike and temperatures nearly so: in the middle.", sympy.Eq(height, alike)),
    )  # fmt: skip
    symbols = (distance, area_low, area_high, temp_out, temp_in)
    return Derivation("Where the stack effect is nothing", steps, result, symbols, "helpers.formulas.air.neutral_plane_height")


@cache
def interval_of_a_share():
    """Which true shares a count does not contradict: Wilson's interval from a quadratic."""
    count, trials, z, share = sympy.symbols("successes trials z share", positive=True)
    seen = count / trials
    edge = sympy.Eq((seen - share) ** 2, z**2 * share * (1 - share) / trials)
    quadratic = sympy.collect(sympy.expand(edge.lhs - edge.rhs), share)
    ends = [sympy.simplify(root) for root in sympy.solve(quadratic, share)]
    low, high = sorted(ends, key=lambda root: root.subs({count: 80, trials: 100, z: 2}).evalf())
    steps = (
        Step("So many of so many drawn conditions came out well. The share seen is", seen),
        Step(
            "With a true share, how far off could the seen one be? By z times its standard deviation, that of a coin thrown so often:",
            sympy.sqrt(share * (1 - share) / trials) * z,
        ),
        Step("A true share is just no longer contradicted where the distance is that. Squared:", edge),
        Step("That is a quadratic in the true share:", sympy.Eq(quadratic, 0)),
        Step("with a lower root", low),
        Step("and an upper one", high),
        Step(
            "None of the trials good: the lower end is nothing, and the upper one is not.",
            sympy.Eq(sympy.Symbol("high"), sympy.simplify(high.subs(count, 0))),
        ),
    )  # fmt: skip
    result = sympy.Tuple(low, high)
    return Derivation("How sure a share is", steps, result, (count, trials, z), "helpers.formulas.uncertainty.wilson_interval")


GOOD, TRIALS, CONFIDENCE = 81, 263, 0.95


def share_and_its_interval():
    """81 of 263: the share, and between which true shares it may have come about."""
    z = float(normal_quantile((1 + CONFIDENCE) / 2))
    share = GOOD / TRIALS
    centre = share + z**2 / (2 * TRIALS)
    half = z * math.sqrt(share * (1 - share) / TRIALS + z**2 / (4 * TRIALS**2))
    low, high = (float(end) for end in wilson_interval(GOOD, TRIALS, CONFIDENCE))
    given = (
        Line("Conditions with all doors inside", "counted", float(GOOD), "number", 0),
        Line("Conditions drawn", "chosen", float(TRIALS), "number", 0),
        Line("z for 95 %, both sides", "normal table", z, "number", 3),
    )
    working = (
        Line("Share p", f"{GOOD} / {TRIALS}", share, "number", 4),
        Line("Centre", "p + z^2 / (2 n)", centre, "number", 4),
        Line("Half width", "z x root of (p (1 - p) / n + z^2 / (4 n^2))", half, "number", 4),
        Line("Divisor", "1 + z^2 / n", 1 + z**2 / TRIALS, "number", 4),
        Line("Lower end", "(centre - half width) / divisor", low, "number", 4),
        Line("Upper end", "(centre + half width) / divisor", high, "number", 4),
    )
    source, half_digit = "Newcombe, Statistics in Medicine 17 (1998) table I, method 3", 0.00005
    return WorkedExample(f"How sure is {GOOD} of {TRIALS}?", given, working, 0.3662, half_digit, source, "memory")
