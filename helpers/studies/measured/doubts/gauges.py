"""Whether a pressure gauge reads all of its places too high or too low: one factor of all that a pair read, asked of a fitted building.

Each pressure gauge has a factor among the unknowns of the fit, about 1 by its stated uncertainty, so every interval has it in. What is
asked here is what it comes to where nothing is stated: a column s of what the gauge read, beside all that the fit is free to move,

    factor - 1 = s' V^-1 r / s' V^-1 s        off = s' V^-1 r / (s' V^-1 s)^0.5        V = C + J J'

r: what was read less what the site file's building gives, straight about the fitted one, so that V^-1 r = C^-1 (read - fitted); C: the
readings' variances as they counted, J: slopes by unknowns of unit variance. `off` is a standard normal where the gauge keeps what is
stated (score test of one more parameter; text-book, from memory, not verified). Asked of all that a pair read and of its stair doors
alone: where most of a day is stair doors the other readings are few or small. Limits: what both gauges have in common, or one gauge for
the whole building, cannot be told from leakage and is in the intervals alone; straight lines; a step at the storey where the pairs meet is
seen, whatever made it.
"""

from dataclasses import dataclass

import numpy as np

from helpers.studies.measured.doubts.believed import border_of
from helpers.studies.measured.readings import FLOW, ONLY, PAIR_OF, QUANTITIES

DOOR = QUANTITIES.index("stair door")
ONE_GAUGE = "An error of the only gauge is not seen by this fit"
ONE_ALONE = " (an error of its only gauge is not seen)"  # beside the day in the title of a site made of it
ALL, DOORS = "all that it read", "stair doors alone"


@dataclass(frozen=True)
class GaugeScale:
    """What one gauge's factor comes to: its name, what of its readings (ALL or DOORS), their numbers, the factor where nothing is stated of
    it, off: from 1, over what is stated, in standard deviations; sees: the least departure from 1 that would be suspected."""

    gauge: str
    what: str
    numbers: np.ndarray
    factor: float
    off: float
    sees: float

    @property
    def suspected(self):
        """Whether it is further from 1 than chance brings."""
        return abs(self.factor - 1) > self.sees

    @property
    def percent(self):
        """By how much it reads low or high, in words."""
        return f"about {100 * abs(self.factor - 1):.0f} % {'low' if self.factor < 1 else 'high'}"


def asked_of(readings):
    """((gauge, what, numbers of its readings), ...) of all that is asked of a day; nothing of a day with one gauge."""
    pressures, upper = readings.quantity != FLOW, readings.storey >= readings.upper_from
    asked = []
    for place, gauge in enumerate(readings.gauges if ONLY not in readings.gauges else ()):
        of_it = pressures & (upper == bool(place))
        for what, numbers in ((ALL, of_it), (DOORS, of_it & (readings.quantity == DOOR))):
            if 0 < numbers.sum() < pressures.sum():
                asked.append((gauge, what, np.flatnonzero(numbers)))
    return tuple(asked)


def scales_of(readings, computed, residual, slopes, counted):
    """A `GaugeScale` of all that is asked of a day. computed, residual, counted [readings]: what the fitted building gives, what was read
    less that, the uncertainty with which each counted; slopes [readings, unknowns]."""
    asked, found = asked_of(readings), []
    if not asked:
        return ()
    columns = np.zeros((len(readings), len(asked)))
    for place, (_, _, numbers) in enumerate(asked):
        columns[numbers, place] = computed[numbers]
    unsure = np.diag(counted**2) + slopes @ slopes.T
    told, carried = columns.T @ (residual / counted**2), np.einsum("ra,ra->a", columns, np.linalg.solve(unsure, columns))
    for (gauge, what, numbers), pull, weight in zip(asked, told.tolist(), carried.tolist(), strict=True):
        found.append(GaugeScale(gauge, what, numbers, 1 + pull / weight, pull / weight**0.5, border_of(len(asked)) / weight**0.5))
    return tuple(found)


def other_of(gauge):
    """The other pair's gauge."""
    return next(name for name in PAIR_OF if name != gauge)
