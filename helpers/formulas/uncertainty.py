"""How errors add up: root of squares and worst case, averages of several transmitters, what "lowest of two" does to a noisy reading.

A standard uncertainty is one standard deviation, in the unit of the reading.

How sure a count, a mean or a largest value from few trials is: normal and Student factors, intervals of a share, sample sizes.

Distribution functions are integrated here by Gauss-Legendre quadrature, which leaves an absolute error of about 1e-13.
"""

import numpy as np

from helpers import require
from helpers.formulas.kernels import halve

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
MOST_TRIALS = 1_000_000


def normal_cdf(z):
    """Share of a standard normal at or below z.

    z [-], any shape. Returns [-] from 0 to 1. Equation: 1/2 + integral of exp(-x^2/2)/sqrt(2 pi) from 0 to z.
    Raises ValueError for anything not finite. Source: definition. Limits: absolute error about 1e-15, so no use beyond -7 or so.

    >>> print(f"{normal_cdf(1.96):.4f}")
    0.9750
    """
    end = np.clip(require.finite(z=z), -10, 10)
    return np.clip(0.5 + _integral(lambda x: np.exp(-(x**2) / 2), end) / np.sqrt(2 * np.pi), 0, 1)


def normal_quantile(share):
    """Value that a share of a standard normal lies below; the inverse of normal_cdf.

    share [-] from 1e-6 to 1 - 1e-6, any shape. Returns [-]. Equation: the z at which normal_cdf is the share, by halving. Raises
    ValueError outside that. Source: definition. Limits: as normal_cdf.

    >>> print(f"{normal_quantile(0.95):.4f}")
    1.6449
    """
    p = require.between(1e-6, 1 - 1e-6, share=share)
    return halve(lambda z: normal_cdf(z) < p, np.full(p.shape, -6.0), np.full(p.shape, 6.0))


def student_factor(confidence, degrees):
    """Two-sided factor of Student's t: the mean lies within this many standard uncertainties.

    confidence [-] from 0.01 to 0.9999, degrees of freedom 1 or more, cut to the whole number below as the GUM does; broadcast.
    Returns [-]. Equation: t = sqrt(n) tan(a), a from integral of cos^(n-1) over 0..a = confidence x the integral over 0..pi/2.
    Raises ValueError outside that. Source: JCGM 100:2008 table G.2 and G.6.4 (memory). Limits: normal errors.

    >>> print(f"{student_factor(0.95, 10):.2f}")
    2.23
    """
    share, n = require.between(0.01, 0.9999, confidence=confidence), np.floor(require.at_least(1, degrees=degrees))
    share, n = np.broadcast_arrays(share, n)
    power = n[..., None] - 1
    top = np.minimum(np.pi / 2, 12 / np.sqrt(n))  # beyond lies less than a double holds

    def part(angle):
        return _integral(lambda x: np.cos(x) ** power, angle)

    angle = halve(lambda a: part(a) < share * part(top), np.zeros(n.shape), top)
    return np.sqrt(n) * np.tan(angle)


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
    z2 = normal_quantile(_upper(confidence)) ** 2
    centre, half = x / n + z2 / (2 * n), np.sqrt(z2 * (x / n * (1 - x / n) / n + z2 / (4 * n**2)))
    # At a count of none or of all the ends are 0 and 1 exactly; rounding must not say otherwise.
    return np.where(x == 0, 0.0, (centre - half) / (1 + z2 / n))[()], np.where(x == n, 1.0, (centre + half) / (1 + z2 / n))[()]


def clopper_pearson(successes, trials, confidence=0.95):
    """Interval of a share from a count, by Clopper and Pearson: never covers less than stated, so wider than Wilson's.

    successes, trials whole numbers up to a million, confidence [-]; broadcast. Returns (low, high) [-]. Equation: the shares at which the
    binomial tail at or beyond the count is (1 - confidence)/2. Raises as wilson_interval. Source: Clopper and Pearson 1934; Newcombe, Stat.
    Med. 17 (1998) method 5 (memory). Limits: independent trials; by halving on summed tails to about 1e-9, in time that grows with trials.

    >>> low, high = clopper_pearson(81, 263)
    >>> print(f"{low:.4f} to {high:.4f}")
    0.2527 to 0.3676
    """
    x, n = _counts(successes, trials)
    x, n, tail = np.broadcast_arrays(x, n, 1 - _upper(confidence))
    pairs = [(_lower_end(*case), 1 - _lower_end(case[1] - case[0], *case[1:])) for case in zip(x.flat, n.flat, tail.flat, strict=True)]
    low, high = np.array(pairs).T
    return low.reshape(x.shape)[()], high.reshape(x.shape)[()]


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


def runs_for_bound(share=0.95, confidence=0.95, order=1):
    """Runs needed so that the largest result (order 1; order 2: the second largest) bounds a share of all, by Wilks.

    share, confidence [-] single numbers from 0.01 to 0.9999, order from 1 to 10000. Returns a whole number. Equation: the least n with
    1 - sum over k < order of C(n,k) (1-share)^k share^(n-k) >= confidence. Raises ValueError outside that, or where it takes more than
    MOST_TRIALS runs. Source: Wilks 1941 (memory). Limits: one-sided; random, independent runs; nothing is said of the shape of the results.

    >>> print(runs_for_bound(0.95, 0.95), "runs")
    59 runs
    """
    p, sure = float(require.between(0.01, 0.9999, share=share)), float(require.between(0.01, 0.9999, confidence=confidence))
    rank = int(_whole_number(order=require.between(1, 10000, order=order)))
    low, high = rank - 1, MOST_TRIALS
    if _at_least(rank, high, 1 - p) < sure:
        raise ValueError(f"order must be small enough for {MOST_TRIALS} runs, got {rank}")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _at_least(rank, middle, 1 - p) >= sure else (middle, high)
    return high


def tolerance_factor(count, share=0.95, confidence=0.95):
    """One-sided tolerance factor: mean + k standard deviations of a few measured values lies above a share of all, with confidence.

    count of values from 3 to 10000, share from 0.5 to 0.999, confidence from 0.5 to 0.99 [-], single numbers. Returns k [-]. Equation: k at
    which normal_cdf(sqrt(n) (k s - z)), averaged over the spread s of a sample of n, is the confidence (the noncentral t).
    Raises ValueError outside that. Source: ISO 16269-6 (memory). Limits: normal values, for instance door forces; look at a picture first.

    >>> print(f"{tolerance_factor(10):.3f}")
    2.911
    """
    n, z, sure = _sample(count, share, confidence)
    low, high = max(0.0, 1 - 7 / np.sqrt(n - 1)), 1 + 7 / np.sqrt(n - 1)
    pieces = np.arange(4)[:, None]  # of 64 nodes each
    s = low + (high - low) * ((pieces + (_NODES + 1) / 2) / 4).ravel()
    log_density = (n - 2) * np.log(s) - (n - 1) * s**2 / 2
    density = np.tile(_WEIGHTS, 4) * np.exp(log_density - log_density.max())

    def reached(k):
        return (density * normal_cdf(np.sqrt(n) * (k * s - z))).sum() / density.sum()

    return halve(lambda k: reached(k) < sure, np.array(0.0), np.array(100.0))


def tolerance_factor_by_hand(count, share=0.95, confidence=0.95):
    """One-sided tolerance factor by Natrella's closed formula: what a pocket calculator gives, a per cent or so off for ten values.

    Arguments and errors as tolerance_factor. Returns k [-]. Equation: (z + sqrt(z^2 - a b)) / a with a = 1 - c^2 / (2 (n-1)) and
    b = z^2 - c^2 / n, z and c the normal quantiles of share and confidence. Source: NIST e-Handbook 7.2.6.3 (memory).
    Limits: refused for so few values that a is not above zero.

    >>> print(f"{tolerance_factor_by_hand(43, 0.90, 0.99):.4f}")
    1.8752
    """
    n, z, sure = _sample(count, share, confidence)
    c = normal_quantile(sure)
    a, b = 1 - c**2 / (2 * (n - 1)), z**2 - c**2 / n
    if a <= 0:
        raise ValueError(f"count must be large enough for the hand formula at confidence {sure:g}, got {n:g}")
    return (z + np.sqrt(z**2 - a * b)) / a


def _sample(count, share, confidence):
    n = float(_whole_number(count=require.between(3, 10000, count=count)))
    return n, normal_quantile(require.between(0.5, 0.999, share=share)), float(require.between(0.5, 0.99, confidence=confidence))


def _upper(confidence):
    """Share below the upper end of a two-sided interval."""
    return (1 + require.between(0.01, 0.9999, confidence=confidence)) / 2


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


def _at_least(order, runs, share):
    """Chance that at least `order` of the runs fall into a share."""
    k = np.arange(order)
    log_ways = np.concatenate([[0.0], np.cumsum(np.log((runs - k[:-1]) / k[1:]))])
    return 1 - np.exp(log_ways + k * np.log(share) + (runs - k) * np.log1p(-share)).sum()


def _even_tail(most, trials):
    """Chance of at most so many of the trials, each with an even chance."""
    k = np.arange(1, int(most) + 1)
    log_ways = np.concatenate([[0.0], np.cumsum(np.log((trials + 1 - k) / k))])
    return float(np.exp(log_ways - trials * np.log(2.0)).sum())


def _lower_end(successes, trials, tail):
    """Share at which so many successes or more have the chance `tail`."""
    if successes == 0:
        return 0.0
    # So low that the share itself is likelier; and what lies twenty spreads above the count then adds nothing.
    k = np.arange(int(successes), int(min(trials, successes + 20 * np.ceil(np.sqrt(trials)))) + 1)
    log_factorial = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, trials + 1)))])
    log_ways = log_factorial[-1] - log_factorial[k] - log_factorial[::-1][k]

    def chance(p):
        return np.exp(log_ways + k * np.log(p) + (trials - k) * np.log1p(-p)).sum()

    return float(halve(lambda p: chance(p) < tail, np.array(0.0), np.array(successes / trials)))


def _integral(curve, end):
    """Integral from 0 to each end of a smooth curve of an array whose last axis is the nodes'."""
    x = end[..., None] * (_NODES + 1) / 2
    return (curve(x) * _WEIGHTS).sum(-1) * end / 2


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
    not finite. Source: JCGM 100:2008 5.1.2 (memory). Limits: independent errors; for those that share a cause use correlated.

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


def correlated(sensitivities, uncertainties, correlation):
    """Combination of contributions that may share a cause, such as two transmitters on one reference tube.

    sensitivities (n,) change of the result per change of each, uncertainties (n,), correlation (n, n) from -1 to 1 with ones on the
    diagonal. Returns one number. Equation: sqrt(sum of c_i c_j u_i u_j r_ij). Raises ValueError for shapes that do not fit, or a matrix
    that no errors can have. Source: JCGM 100:2008 5.2.2 (memory). Limits: small errors, a result that is straight over them.

    >>> apart, together = (correlated([0.5, 0.5], [2, 2], [[1, r], [r, 1]]) for r in (0, 1))
    >>> print(f"two averaged {apart:.2f}, on one reference tube {together:.2f}")
    two averaged 1.41, on one reference tube 2.00
    """
    c, u = require.same_length(sensitivities=sensitivities, uncertainties=require.at_least(0, uncertainties=uncertainties))
    r = require.between(-1 - 1e-12, 1 + 1e-12, correlation=correlation)
    if r.shape != (c.size, c.size) or not np.allclose(r, r.T, atol=1e-9) or not np.allclose(np.diag(r), 1, atol=1e-9):
        raise ValueError(f"correlation must be ({c.size}, {c.size}), symmetric, with ones on the diagonal, got shape {r.shape}")
    if np.linalg.eigvalsh(r)[0] < -1e-9:
        raise ValueError("correlation must be possible: the errors cannot all go against each other; got a matrix with a negative spread")
    return np.sqrt(np.maximum((c * u) @ r @ (c * u), 0.0))


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
    distribution. Raises ValueError for a count that is not whole, or above a million. Source: David, Order Statistics (memory).
    Limits: independent, normal, equal errors about one true pressure; a difference between the places soon hides the effect.

    >>> print(f"{expected_highest(2):.4f}")
    0.5642
    """
    n = _whole(count=count)[..., None]
    x = np.linspace(-10, 10, 2001)
    below = normal_cdf(x) ** n
    return np.trapezoid(np.where(x > 0, 1 - below, 0) + np.where(x == 0, 0.5 - below, 0) - np.where(x < 0, below, 0), x, axis=-1)[()]


def expected_lowest(count):
    """Mean of the lowest of several readings, in standard deviations; below zero, so a loop on the lowest reading blows harder.

    Arguments, errors, source and limits as expected_highest. Returns [-]. Equation: - expected_highest.

    >>> print(f"{expected_lowest(2):.3f}")
    -0.564
    """
    return -expected_highest(count)


def expected_range(count):
    """Mean spread between the highest and the lowest of several readings, in standard deviations (d2 of control charts).

    Arguments, errors, source and limits as expected_highest. Returns [-]. Equation: 2 expected_highest.

    >>> print(f"{expected_range(2):.3f}")
    1.128
    """
    return 2 * expected_highest(count)


def effective_degrees(contributions, degrees):
    """Degrees of freedom of a combined uncertainty.

    contributions (n,) standard uncertainties, degrees (n,) of freedom of each. Returns [-], not cut to a whole number.
    Equation: (sum u^2)^2 / sum(u^4 / degrees). Raises ValueError for degrees that are not above zero, or no uncertainty at all.
    Source: Welch-Satterthwaite, JCGM 100:2008 G.4.1 (memory). Limits: independent contributions.

    >>> print(f"{effective_degrees([1.0, 1.0], [5, 5]):.0f}")
    10
    """
    u, n = require.same_length(contributions=contributions, degrees=require.positive(degrees=degrees))
    if not np.any(u):
        raise ValueError("contributions must have one above zero, got none")
    u = u / np.abs(u).max()  # so that no fourth power is beyond what a double holds
    return (u**2).sum() ** 2 / (u**4 / n).sum()


def expanded(standard, degrees, confidence=0.95):
    """Half width of the interval that holds the true value with a confidence.

    standard uncertainty in any unit, degrees of freedom 1 or more, confidence [-]; broadcast. Returns that unit. Equation: t x standard.
    Raises ValueError below zero. Source: JCGM 100:2008 6.2 and G.3 (memory). Limits: as uncertainty.student_factor.

    >>> print(f"± {expanded(1.0, 10):.2f} Pa")
    ± 2.23 Pa
    """
    return student_factor(confidence, degrees) * require.at_least(0, standard=standard)


def _whole(**named):
    ((name, value),) = named.items()
    count = require.between(1, 1_000_000, **named)
    if np.any(count % 1):
        raise ValueError(f"{name} must be a whole number, got {value!r:.80}")
    return count
