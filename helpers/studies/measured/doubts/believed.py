"""Whether a fitted building is to be believed: how many of its day's readings do not fit it, against how many chance brings.

Of n readings with the errors that are stated, k or more lie outside their 90 % interval, or more than STRANGE of their standard
uncertainties off, with the chance of a binomial distribution:

    P(k or more of n) = sum over j >= k of (n over j) p^j (1 - p)^(n - j)        p: 0.10, or 0.0027

The border is the most that all but one day of a thousand (RARE) stay at; a fit that is free to follow its readings leaves fewer outside,
so a sound day is rarely doubted. A factor is beyond what its published class allows where all factors of all but one building of a
thousand lie nearer to the file's (normal in its logarithm, RARE shared among them as Bonferroni has it). Source: text-book binomial and
normal distributions (from memory, not verified); RARE is ours. Of 100 drawn sound days of Larkfield House 2 pass a border, of 24 of
Northgate Tower none: there a storey's scatter is taken as straight. Limits: a sheet of another state that another building explains as
well, such as an open exit by looser walls, is not seen by this.
"""

from dataclasses import dataclass
from math import comb

import numpy as np

from helpers.formulas.uncertainty import normal_cdf, normal_quantile

NINETY = float(normal_quantile(0.95))  # standard deviations to either end of a 90 % interval
STRANGE = 3.0  # standard uncertainties: a reading this far from the fitted building is looked at
RARE = 0.001  # share of sound days that are doubted; ours
SLIP = STRANGE + 1  # what a reading counts as that was left out, since with it no answer settled


@dataclass(frozen=True)
class Misfits:
    """What of a day does not fit: outside, strange: how many of `count` readings lie outside their 90 % interval, and beyond STRANGE;
    most_outside, most_strange: how many chance brings at the most; beyond: ((kind, factor, standard deviations from the file's), ...) of
    the factors that no published class allows; scales: a `GaugeScale` of all
    that is asked of the gauges; ajar: whether a final exit clearly stood ajar."""

    count: int
    outside: int
    most_outside: int
    strange: int
    most_strange: int
    beyond: tuple
    scales: tuple = ()
    ajar: bool = False

    @property
    def gauges(self):
        """Those of the scales that no stated uncertainty of a gauge allows."""
        return tuple(one for one in self.scales if one.suspected)

    @property
    def furthest_scale(self):
        """The furthest of these; None where there is none."""
        return max(self.gauges, key=lambda one: abs(one.off), default=None)

    @property
    def too_many(self):
        """Whether the readings that do not fit are too many for the fit to be believed."""
        return self.outside > self.most_outside or self.strange > self.most_strange

    @property
    def doubted(self):
        """Whether the fit is not to be believed."""
        return self.too_many or bool(self.beyond) or bool(self.gauges) or self.ajar


def most_by_chance(count, share):
    """The most of `count` readings that each are out with a chance `share`, in all but RARE of the days.

    >>> most_by_chance(66, 0.1), most_by_chance(66, 0.0027), most_by_chance(1, 0.1)
    (15, 2, 1)
    """
    below = 0.0
    for number in range(count + 1):
        below += comb(count, number) * share**number * (1 - share) ** (count - number)
        if below >= 1 - RARE:
            return number
    return count


def border_of(count):
    """Standard deviations beyond which one of so many normal figures lies on no more than RARE of sound days, either way (Bonferroni)."""
    return float(normal_quantile(1 - RARE / 2 / max(count, 1)))


def misfits_of(off, slips, kinds, mode, deviations, scales=()):
    """`Misfits` of a fit. off [readings]: distance of each in its standard uncertainties; slips: how many more were left out because no
    answer settled with them; kinds: names of the factors, mode, deviations [unknowns]: as `FittedBuilding` and `Unknowns` have them;
    scales: of `GaugeScale`."""
    far = np.concatenate([np.abs(off), np.full(slips, SLIP)])
    border = border_of(len(kinds))
    beyond = tuple((kind, float(np.exp(x * deviation)), float(abs(x)))
                   for kind, x, deviation in zip(kinds, mode, deviations, strict=False) if abs(x) > border)  # fmt: skip
    outside, strange = int((far > NINETY).sum()), int((far > STRANGE).sum())
    beyond_strange = float(2 * normal_cdf(-STRANGE))
    most = most_by_chance(len(far), 0.1), most_by_chance(len(far), beyond_strange)
    return Misfits(len(far), outside, most[0], strange, most[1], beyond, tuple(scales))
