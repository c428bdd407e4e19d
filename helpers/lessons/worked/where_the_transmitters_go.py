"""Wilson's interval of a share by hand, against the published example."""

import math

from helpers.formulas.statistics import normal_quantile, wilson_interval
from helpers.lessons.worked_example import Line, WorkedExample

__all__ = ["share_and_its_interval"]

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
