"""Whether a final exit stood ajar while the rounds were read: the stair's air has a way out that no sheet names, and every reading near it
is low without one of them being wrong.

The share s of the exit's doorway that stands open in all rounds is asked for beside the unknowns of a `FittedBuilding`, nothing stated of
it, by Gauss and Newton from a narrow gap, readings counting the less the farther off they lie, as in the fit. Named only where the readings
then fit one building and most of what did not fit is gone:

    cost(s = 0) - cost(s) > CLEAR        cost: sum of x^2 and of each reading's off^2, no more than STRANGE^2 of any

Asked first is whether the readings lean that way at all: the score of one more parameter, as of a gauge's factor, beyond LEANS. Source:
text-book least squares and likelihood ratio (from memory, not verified); CLEAR, LEANS are ours. Tried on drawn days of Larkfield House
alone, before the fit's steps were damped: of 21 sound ones none was accused (the largest drop was 3), of 12 with 15 % of the doorway open 7
were: of one of the others a gauge was accused and 4 were believed, since a looser building explains them as well; of 8 with 5 % open none
was. On 10 sound days each of two stairs of our own cut from that file, 3 and 30 storeys, with today's steps, none was accused. A fit that
is believed proves no exit shut. Limits: one exit, ajar alike in all rounds; a leak beside the exit looks the same.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.model.air.tower import Tower
from helpers.studies.measured.doubts.believed import STRANGE, Misfits, misfits_of
from helpers.studies.measured.doubts.gauges import scales_of
from helpers.studies.measured.doubts.mistyped import FINAL_EXIT, HARDLY, STAIR, SURELY_OFF
from helpers.studies.measured.unknowns import blade_shut, computed_at, read_of, slopes_of

MOVES, LARGEST, STEP, DAMPED = 10, 1.0, 0.1, 1.0  # of the share's logarithm; ours
LEANS = 3.0  # standard deviations; ours
FIRST, LEAST, MOST = 0.02, 0.002, 0.9  # shares of the doorway: to begin with, and the ends
CLEAR = 30.0  # a likelihood of e^-15 beside; ours


@dataclass(frozen=True)
class Ajar:
    """A final exit that may have stood ajar: storey (number), share of its doorway, the drop of the cost, `Misfits` with it."""

    storey: int
    share: float
    drop: float
    misfits: Misfits

    @property
    def clear(self):
        """Whether the evidence is clear: what did not fit is gone, and the gap is one that somebody could see."""
        return self.drop > CLEAR and LEAST < self.share < MOST and not self.misfits.doubted


def read_as_ajar(readings):
    """Storeys (numbers) whose final exit reads less than a part in HARDLY of the stair over outdoors beside it, in every round in which
    both are read and the stair is surely off zero."""
    error, found = readings.day.gauges.pressure_pa, []
    for storey in np.unique(readings.storey[readings.quantity == FINAL_EXIT]).tolist():
        (at_exit, beside) = ({int(readings.round[one]): float(readings.value[one])
                              for one in np.flatnonzero((readings.quantity == kind) & (readings.storey == storey))}
                             for kind in (FINAL_EXIT, STAIR))  # fmt: skip
        both = [one for one in at_exit if abs(beside.get(one, 0.0)) > SURELY_OFF * error]
        if both and all(abs(at_exit[one]) < abs(beside[one]) / HARDLY for one in both):
            found.append(storey)
    return found


def ajar_exits(fitted):
    """An `Ajar` of every final exit that was shut in all rounds, the clearest first; none where the air with it ajar has no answer."""
    site, shut = fitted.readings.site, ~fitted.readings.conditions.final_exit_open.any(axis=0)
    places = [place for place, storey in enumerate(site.storeys) if storey.final_exit_door and shut[place]]
    found = [one for one in (_asked(fitted, place) for place in places) if one is not None]
    return tuple(sorted(found, key=lambda one: -one.drop))


def _asked(fitted, place):
    readings, unknowns, tower = fitted.readings, fitted.unknowns, Tower(blade_shut(fitted.readings.site))
    own, lasting, x, size = readings.uncertainty, unknowns.lasting, fitted.mode, np.log(FIRST)

    def ajar(size):
        opened = readings.conditions.rows(np.arange(len(readings.conditions)))
        opened.final_exit_open = opened.final_exit_open.copy()
        opened.final_exit_open[:, place] = np.exp(size)
        return replace(readings, conditions=opened)

    counted = fitted.counted
    try:
        if not _leans(fitted, tower, ajar(size)):
            return None
        for _ in range(MOVES):
            mean = np.where(lasting, x, 0.0)
            slopes = slopes_of(tower, ajar(size), unknowns, mean)
            low, here, high = (
                read_of(readings, computed_at(tower, ajar(size + way * STEP), unknowns, mean[None]))[0] for way in (-1, 0, 1)
            )
            computed = here + slopes @ (x - mean)
            both = np.column_stack([slopes, (high - low) / (2 * STEP)]) / counted[:, None]
            prior = np.append(np.ones(len(x)), DAMPED)  # holds the step back, and not the answer
            move = np.linalg.solve(both.T @ both + np.diag(prior), both.T @ ((readings.value - computed) / counted) - np.append(x, 0.0))
            x = x + move[:-1]
            size = float(np.clip(size + np.clip(move[-1], -LARGEST, LARGEST), np.log(LEAST), np.log(MOST)))
            off = (readings.value - computed - (both * counted[:, None]) @ move) / own
            counted = own * np.maximum(np.abs(off) / STRANGE, 1.0) ** 2
        mean = np.where(lasting, x, 0.0)
        slopes = slopes_of(tower, ajar(size), unknowns, mean)
        computed = read_of(readings, computed_at(tower, ajar(size), unknowns, mean[None]))[0] + slopes @ (x - mean)
    except ValueError:  # air without an answer on the way: nothing is said of this exit
        return None
    off = (readings.value - computed) / own
    scales = scales_of(readings, computed, readings.value - computed, slopes, counted)
    misfits = misfits_of(off, 0, unknowns.kinds, x, unknowns.deviations, scales)
    return Ajar(place, float(np.exp(size)), _cost(fitted.off, fitted.mode) - _cost(off, x), misfits)


def _leans(fitted, tower, ajar):
    """Whether what does not fit leans towards an exit ajar: see the head of this file. ajar: `DayReadings` with it so."""
    mean = np.where(fitted.unknowns.lasting, fitted.mode, 0.0)[None]
    wide, shut = (read_of(one, computed_at(tower, one, fitted.unknowns, mean))[0] for one in (ajar, fitted.readings))
    pull = (wide - shut) @ ((fitted.readings.value - fitted.computed) / fitted.counted**2)
    unsure = np.diag(fitted.counted**2) + fitted.slopes @ fitted.slopes.T
    return pull > LEANS * float((wide - shut) @ np.linalg.solve(unsure, wide - shut)) ** 0.5


def _cost(off, x):
    return float(np.minimum(off**2, STRANGE**2).sum() + (x**2).sum())
