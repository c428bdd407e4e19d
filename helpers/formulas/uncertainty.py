"""How errors add up: root of squares and worst case, averages of several transmitters, what "lowest of two" does to a noisy reading; and
how sure a count from few trials is: the normal distribution and Student's, the interval of a share, the chance of pairs, the straight line
through dated figures.

A standard uncertainty is one standard deviation, in the unit of the reading.
"""

from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from helpers import require

_CDF, _QUANTILE = (np.vectorize(one, otypes=[float]) for one in (NormalDist().cdf, NormalDist().inv_cdf))
MOST_TRIALS = 1_000_000
_ANGLES = np.linspace(0.0, np.pi / 2, 20001)  # of the tangent that Student's t is made of


def normal_cdf(z):
    """Share of a standard normal at or below z.

    z [-], any shape. Returns [-] from 0 to 1. Equation: (1 + erf(z / sqrt 2)) / 2, by Python's statistics.
    Raises ValueError for anything not finite. Source: definition. Limits: absolute error about 1e-15, so no use beyond -7 or so.

    >>> print(f"{normal_cdf(1.96):.4f}")
    0.9750
    """
    return _CDF(require.finite(z=z))[()]


def normal_quantile(share):
    """Value that a share of a standard normal lies below; the inverse of normal_cdf.

    share [-] from 1e-6 to 1 - 1e-6, any shape. Returns [-]. Equation: the z at which normal_cdf is the share, by Python's
    statistics. Raises ValueError outside that. Source: definition. Limits: as normal_cdf.

    >>> print(f"{normal_quantile(0.95):.4f}")
    1.6449
    """
    return _QUANTILE(require.between(1e-6, 1 - 1e-6, share=share))[()]


def student_quantile(share, freedom):
    """Value that a share of Student's t lies below: of a mean or slope whose scatter is known from few figures alone.

    share [-] from 0.5 to 0.9999, freedom: degrees of freedom, 1 or more; single numbers. Returns [-]. Equation: t = sqrt(n) tan a, the
    angle a at which the integral of cos^(n-1) reaches 2 share - 1 of its whole, by trapezoids. Raises ValueError outside these.
    Source: text-book substitution in Student's density (from memory, not verified; its figures meet a table). Limits: to 1e-6 of it.

    >>> [f"{student_quantile(0.95, n):.3f}" for n in (1, 2, 8)]
    ['6.314', '2.920', '1.860']
    """
    share = require.single(share=require.between(0.5, 0.9999, share=share))
    freedom = require.single(freedom=require.between(1, MOST_TRIALS, freedom=freedom))
    density = np.cos(_ANGLES) ** (freedom - 1)
    below = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
    return float(np.sqrt(freedom) * np.tan(np.interp(2 * share - 1, below / below[-1], _ANGLES)))


class StraightLine(NamedTuple):
    """A line through figures, of `straight_line`: its slope, its level at `middle` of x, half the interval of each; off [figures]: how far
    each lies from the line, in its own standard uncertainties."""

    slope: float
    slope_half: float
    level: float
    middle: float
    level_half: float
    off: np.ndarray

    def at(self, x):
        """The line at x, any shape."""
        return self.level + self.slope * (np.asarray(x, float) - self.middle)

    def half(self, x):
        """Half the interval of the line at x, any shape."""
        return np.hypot(self.level_half, self.slope_half * (np.asarray(x, float) - self.middle))

    @property
    def sure(self):
        """Whether the interval of the slope leaves out no slope at all."""
        return abs(self.slope) > self.slope_half


def straight_line(x, y, uncertainty, share=0.9):
    """The straight line through figures, each weighted by its standard uncertainty, with intervals that hold a share of the truths.

    x, y, uncertainty: one-dimensional, two figures or more, in any units, uncertainty above zero; share [-], 0.5 to 0.99. Returns
    `StraightLine`. Equation: weighted least squares. Half intervals are the wider of two: by the stated uncertainties (normal), and, with
    three figures or more, by the scatter about the line (Student's t, with the figures less two). Raises ValueError where x are all alike,
    for fewer than two figures, and for lists of unlike length.
    Source: text-book regression (from memory, not verified); the wider of the two is ours. Limits: errors that do not hang together.

    >>> line = straight_line([0, 1, 2, 3], [1.0, 1.2, 1.4, 1.6], [0.1] * 4)
    >>> print(f"{line.slope:.2f} ± {line.slope_half:.2f}, then {line.at(5):.1f}")
    0.20 ± 0.07, then 2.0
    """
    x, y, sd = require.finite(x=x), require.finite(y=y), require.positive(uncertainty=uncertainty)
    if not x.shape == y.shape == sd.shape or x.ndim != 1 or len(x) < 2:
        raise ValueError(f"x, y and uncertainty must be lists of one length, two or more; got shapes {x.shape}, {y.shape}, {sd.shape}")
    weight = sd**-2.0
    middle = (weight * x).sum() / weight.sum()
    square = (weight * (x - middle) ** 2).sum()
    if not square > 0:
        raise ValueError(f"x must differ for a line; got {len(x)} alike")
    slope, level = (weight * (x - middle) * y).sum() / square, (weight * y).sum() / weight.sum()
    off = (y - level - slope * (x - middle)) / sd
    upper, free = (1 + require.single(share=require.between(0.5, 0.99, share=share))) / 2, len(x) - 2
    wide = float(normal_quantile(upper))
    if free > 0:
        wide = max(wide, student_quantile(upper, free) * float(np.sqrt((off**2).sum() / free)))
    return StraightLine(float(slope), wide / square**0.5, float(level), float(middle), wide / weight.sum() ** 0.5, off)


def wilson_interval(successes, trials, confidence=0.95):
    """Interval of a share from a count, by Wilson: the one to print beside "so many of so many conditions".

    successes, trials whole numbers, confidence [-]; broadcast. Returns (low, high) [-]. Equation: (p + z^2/2n ± z sqrt(p(1-p)/n +
    z^2/4n^2)) / (1 + z^2/n). Raises ValueError for counts that are not whole or more successes than trials. Source: Wilson 1927; Newcombe,
    Stat. Med. 17 (1998) method 3 (memory). Limits: independent trials; covers the stated confidence on average, not for every share.

    >>> low, high = wilson_interval(81, 263)
    >>> print(f"{low:.4f} to {high:.4f}")
    0.2553 to 0.3662
    """
    x, n = _counts(successes, trials)
    # share below the upper end of a two-sided interval
    z2 = normal_quantile((1 + require.between(0.01, 0.9999, confidence=confidence)) / 2) ** 2
    centre, half = x / n + z2 / (2 * n), np.sqrt(z2 * (x / n * (1 - x / n) / n + z2 / (4 * n**2)))
    # At a count of none or of all the ends are 0 and 1 exactly; rounding must not say otherwise.
    return np.where(x == 0, 0.0, (centre - half) / (1 + z2 / n))[()], np.where(x == n, 1.0, (centre + half) / (1 + z2 / n))[()]


def paired_chance(gained, lost):
    """Chance that two choices which are as good as each other differ on the same trials by as much as these counts or more: exact, paired.

    gained, lost: whole numbers up to a million of the trials in which one of the two does and the other does not, each way round;
    broadcast. Returns [-] from 0 to 1, two-sided; 1 where no trial tells them apart. Equation: twice the binomial tail of the smaller count
    of gained + lost trials with an even chance, no more than 1 (the exact form of McNemar's test, a sign test). Raises ValueError for
    counts that are not whole or below zero. Source: McNemar, Psychometrika 12 (1947), its exact form (from memory, not verified).
    Limits: independent trials, two choices named beforehand: the best of many, picked on the same trials, looks better than it is, and
    this chance then comes out too small.

    >>> print(f"{paired_chance(18, 5):.4f}")
    0.0106
    """
    one = _whole_number(gained=require.between(0, MOST_TRIALS, gained=gained))
    two = _whole_number(lost=require.between(0, MOST_TRIALS, lost=lost))
    one, two = np.broadcast_arrays(one, two)
    found = [_even_tail(min(pair), sum(pair)) for pair in zip(one.ravel().tolist(), two.ravel().tolist(), strict=True)]
    return np.minimum(1.0, 2 * np.array(found)).reshape(one.shape)[()]


def _whole_number(**named):
    ((name, value),) = named.items()
    if np.any(value % 1):
        raise ValueError(f"{name} must be a whole number, got {value[value % 1 > 0].flat[0]:g}")
    return value


def _counts(successes, trials):
    n = _whole_number(trials=require.between(1, MOST_TRIALS, trials=trials))
    x = _whole_number(successes=require.at_least(0, successes=successes))
    if np.any(x > n):
        wrong = np.broadcast_arrays(x, n)
        at = np.flatnonzero(wrong[0] > wrong[1])[0]
        raise ValueError(f"successes must be no more than trials, got {wrong[0].flat[at]:g} of {wrong[1].flat[at]:g}")
    return x, n


def _even_tail(most, trials):
    """Chance of at most so many of the trials, each with an even chance."""
    k = np.arange(1, int(most) + 1)
    log_ways = np.concatenate([[0.0], np.cumsum(np.log((trials + 1 - k) / k))])
    return float(np.exp(log_ways - trials * np.log(2.0)).sum())


# Half width of a bound over the standard deviation: JCGM 100:2008 4.3.7 and 4.3.9 (memory); normal: the bound holds 95 %.
SHAPES = {"rectangular": np.sqrt(3), "triangular": np.sqrt(6), "normal 95 %": 1.959964}


def standard_from_bound(bound, shape="rectangular"):
    """Standard uncertainty of an error that stays inside plus or minus a bound, such as a data sheet's accuracy.

    bound of zero or more, any shape and unit; shape: one of SHAPES. Returns that unit. Equation: bound over sqrt 3, sqrt 6 or 1.96.
    Raises ValueError below zero or for another shape. Source: JCGM 100:2008 4.3.7 (memory).
    Limits: "rectangular" where nothing but the bound is known.

    >>> print(f"{standard_from_bound(2.5):.2f} Pa")
    1.44 Pa
    """
    return require.at_least(0, bound=bound) / SHAPES[require.one_of(tuple(SHAPES), shape=shape)]


def root_sum_square(contributions, axis=-1):
    """Combination of independent contributions.

    contributions, several along `axis`, one unit. Returns the shape without it. Equation: sqrt(sum u^2). Raises ValueError for anything
    not finite. Source: JCGM 100:2008 5.1.2 (memory). Limits: independent errors; of several that share a cause see average_of.

    >>> print(f"{root_sum_square([3.0, 4.0]):.0f}")
    5
    """
    parts = require.finite(contributions=contributions)
    return np.sqrt((parts**2).sum(require.axis_of(parts, axis)))


def worst_case(contributions, axis=-1):
    """Combination when every error reaches its bound the same way at once.

    contributions, several along `axis`, one unit. Returns the shape without it. Equation: sum |u|. Raises ValueError for anything not
    finite. Source: text-book (memory). Limits: a bound that almost never happens; nothing for a life-safety limit to lean against alone.

    >>> print(f"{worst_case([3.0, -4.0]):.0f}")
    7
    """
    parts = require.finite(contributions=contributions)
    return np.abs(parts).sum(require.axis_of(parts, axis))


def average_of(count, independent, common=0):
    """Standard uncertainty of the average of several like transmitters.

    count of transmitters 1 or more, independent part of one, common part of all (shared reference tube, same wind); broadcast, one unit.
    Returns that unit. Equation: sqrt(common^2 + independent^2 / count). Raises ValueError below zero, or for a count that is not whole.
    Source: JCGM 100:2008 5.2.2 (memory). Limits: however many transmitters, the common part stays.

    >>> print(f"{average_of(2, 2.0):.2f} Pa, with a common 1 Pa {average_of(2, 2.0, 1.0):.2f} Pa")
    1.41 Pa, with a common 1 Pa 1.73 Pa
    """
    squared = require.at_least(0, independent=independent) ** 2 / _whole(count=count)
    return np.sqrt(require.at_least(0, common=common) ** 2 + squared)


def expected_highest(count):
    """Mean of the highest of several readings of one pressure, in standard deviations of one reading above the true value.

    count of readings 1 or more, any shape. Returns [-]. Equation: integral over x of (1 - F^n) above zero less F^n below, F the normal
    distribution. Raises ValueError for a count that is not whole, or above a million. Source: David, Order Statistics (memory); half of d2
    (by a reviewer in 2026). Limits: independent, normal, equal errors about one true pressure; a difference between the places soon hides
    the effect.

    >>> print(f"{expected_highest(2):.4f}")
    0.5642
    """
    n = _whole(count=count)[..., None]
    x = np.linspace(-10, 10, 2001)
    below = normal_cdf(x) ** n
    return np.trapezoid(np.where(x > 0, 1 - below, 0) + np.where(x == 0, 0.5 - below, 0) - np.where(x < 0, below, 0), x, axis=-1)[()]


def _whole(**named):
    ((name, value),) = named.items()
    count = require.between(1, 1_000_000, **named)
    if np.any(count % 1):
        raise ValueError(f"{name} must be a whole number, got {value!r:.80}")
    return count
