"""How errors add up: root of squares and worst case, averages of several transmitters, what "lowest of two" does to a noisy reading.

A standard uncertainty is one standard deviation, in the unit of the reading.
"""

import numpy as np

from helpers.formulas import require, statistics

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
    below = statistics.normal_cdf(x) ** n
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
    Raises ValueError below zero. Source: JCGM 100:2008 6.2 and G.3 (memory). Limits: as statistics.student_factor.

    >>> print(f"± {expanded(1.0, 10):.2f} Pa")
    ± 2.23 Pa
    """
    return statistics.student_factor(confidence, degrees) * require.at_least(0, standard=standard)


def _whole(**named):
    ((name, value),) = named.items()
    count = require.between(1, 1_000_000, **named)
    if np.any(count % 1):
        raise ValueError(f"{name} must be a whole number, got {value!r:.80}")
    return count
