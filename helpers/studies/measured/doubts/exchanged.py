"""Whether what was read at a door is another door's: two doors exchanged on the sheet or by the tubes, or one door's reading written at
another's.

Asked of every door that does not fit its building. What is to be expected of a door, and how unsurely, is what the day's other readings
leave of it (straight lines about the fitted building, without the doors in question). Held against each other are: the doors are
exchanged; the door has another's reading, read there, or copied from its cell to the last figure; it has some other slip, anywhere within
ten times either way; it is as written. The first two are named only where their odds, with the number of doors in it, are CLEAR (Bayes'
rule; from memory, not verified). Doors that are expected alike cannot be told apart: then up to FEW of them are named, or none is.

Tried on 72 drawn days (60 of Larkfield House, before half of all exchanges were taken to be of neighbours, and 12 of Northgate Tower): no
sound day accused anybody, nor did a slip of another kind; in a further run of Larkfield House, stopped after 44 days, one slip was taken
for another door's reading. Two doors exchanged that are 5 Pa and more apart were named in 19 of 25 days, nearer ones in 4 of 47, and
another in 1; another door's reading, read there or copied, in 12 of 50 where it lies 5 Pa and more off: most others lie near a third
door's.
Limits: doors alone; one pair at a time; what is not named may be so all the same.
"""

from dataclasses import dataclass
from math import lgamma

import numpy as np

from helpers.studies.measured.doubts.believed import STRANGE
from helpers.studies.report import listed
from helpers.units.said import with_unit

DOORS = 3  # of QUANTITIES are across doors
CLEAR, FEW = 0.9, 3  # probability from which on a name is named; doors that it may be shared by; ours
MOST_ODD = 4  # doors that do not fit, beyond which it is a round, a gauge or the sheet and no door's row; ours
DECADES = 2 * np.log(10)  # of a slip: anywhere within ten times either way, even in its logarithm; ours
TAILS, MIXED = 4.0, 0.01  # degrees of freedom; share of doors that are expected to be written in another's row or exchanged; ours
STEP_PA = 0.1  # to which a pressure is written
MOST = 50.0  # of a logarithm of odds that is worked out
EXCHANGED, ANOTHERS = "exchanged", "another's"


@dataclass(frozen=True)
class Likeness:
    """What a door's readings are taken for: kind, EXCHANGED or ANOTHERS; numbers of the readings; short, said: in words; probability."""

    kind: str
    numbers: tuple
    short: str
    said: str
    probability: float


@dataclass(frozen=True)
class _Place:
    """The readings of one door, by round: quantity, storey, numbers {round: number}."""

    quantity: int
    storey: int
    numbers: dict

    def at(self, rounds):
        """Numbers of its readings in some rounds."""
        return [self.numbers[one] for one in rounds]


def likenesses(fitted):
    """A `Likeness` of every door of a `FittedBuilding` that is clearly another's, pairs that are exchanged first; none where more than
    MOST_ODD doors do not fit."""
    readings, found, taken = fitted.readings, [], set()
    places = _places(readings)
    odd = [place for place in places if any(number in fitted.strange for number in place.numbers.values())]
    if len(odd) > MOST_ODD:
        return ()
    tried = [one for place in odd for other in places if other is not place and (one := _exchanged(fitted, place, other, len(places)))]
    for one in sorted(tried, key=lambda one: -one.probability):
        if not taken & set(one.numbers):
            found.append(one)
            taken |= set(one.numbers)
    for place in odd:
        if not taken & set(place.numbers.values()) and (one := _anothers(fitted, place, places)):
            found.append(one)
    return tuple(found)


def _places(readings):
    found = {}
    for number, (quantity, where, storey) in enumerate(zip(readings.quantity.tolist(), readings.round.tolist(), readings.storey.tolist(),
                                                           strict=True)):  # fmt: skip
        if quantity < DOORS:
            found.setdefault((quantity, storey), {})[where] = number
    return [_Place(*key, numbers) for key, numbers in found.items()]


def _expected(fitted, numbers, without):
    """(what is to be expected of some readings, its covariance without their own gauges' error) by all readings but `without`."""
    kept = np.setdiff1d(np.arange(len(fitted.readings)), without)
    slopes, counted = fitted.slopes[kept] / fitted.counted[kept, None], fitted.counted[kept]
    off = (fitted.readings.value - fitted.computed)[kept] / counted
    unsure = np.linalg.inv(slopes.T @ slopes + np.eye(len(fitted.mode)))
    own = fitted.slopes[numbers]
    return fitted.computed[numbers] + own @ (unsure @ (slopes.T @ off - fitted.mode)), own @ unsure @ own.T


def _likelihood(off, covariance):
    """Logarithm of the density of Student's t with TAILS degrees of freedom, in so many dimensions: straight lines underrate how far a
    storey's own walls and gaps may take its door, and a sound day's farthest door lies farther than a normal has it."""
    count = len(off)
    head = lgamma((TAILS + count) / 2) - lgamma(TAILS / 2) - 0.5 * count * np.log(TAILS * np.pi)
    far = (TAILS + count) / 2 * np.log1p(off @ np.linalg.solve(covariance, off) / TAILS)
    return float(head - 0.5 * np.linalg.slogdet(covariance)[1] - far)


def _slip(values):
    """Logarithm of the density of slips."""
    return float(-np.log(np.maximum(np.abs(values), STEP_PA) * DECADES).sum())


def _exchanged(fitted, place, other, count):
    """The `Likeness` of two doors that are exchanged, in all rounds or in those that do not fit; None where that is not clear. count:
    of the doors; half of all exchanges are taken to be of rows that stand one below the other (ours)."""
    beside = place.quantity == other.quantity and abs(place.storey - other.storey) == 1
    pairs = 2 * (count - 1) if beside else count * (count - 1)
    readings = fitted.readings
    common = [one for one in place.numbers if one in other.numbers]
    odd = [one for one in common if {place.numbers[one], other.numbers[one]} & set(fitted.strange)]
    best = None
    for rounds in filter(None, dict.fromkeys((tuple(common), tuple(odd)))):
        a, b = place.at(rounds), other.at(rounds)
        numbers = np.array([*a, *b])
        expected, covariance = _expected(fitted, numbers, numbers)
        covariance = covariance + np.diag(readings.uncertainty[numbers] ** 2)
        values, half = readings.value[numbers], len(rounds)
        turned = np.concatenate([values[half:], values[:half]])
        swapped = _likelihood(turned - expected, covariance) - np.log(pairs)
        first, second = (_alone(values, expected, covariance, part) for part in (slice(half), slice(half, None)))
        rivals = [
            _likelihood(values - expected, covariance) - np.log(MIXED),
            first + _slip(values[half:]),
            second + _slip(values[:half]),
            _slip(values),
        ]
        chance = 1 / (1 + np.exp(np.minimum(np.array(rivals) - swapped, MOST)).sum())
        if chance >= CLEAR and (best is None or chance > best[0]):
            best = chance, rounds, numbers, values, half
    if best is None:
        return None
    chance, rounds, numbers, values, half = best
    names = sorted((place, other), key=lambda one: (one.quantity, one.storey))
    first, second = (readings.place_said(one.quantity, one.storey) for one in names)
    lower = values[:half] if names[0] is place else values[half:]
    upper = values[half:] if names[0] is place else values[:half]
    read = f"{_series(lower)} at {first}, {_series(upper)} at {second}, round{'s' * (len(rounds) > 1)} {_rounds(rounds)}"
    short = f"{first} and {second}: exchanged?"
    said = f"{short} Each has what is to be expected of the other ({read}): look at sheet and tubes, and read both again"
    return Likeness(EXCHANGED, tuple(numbers.tolist()), short, said, float(chance))


def exchanged_in_a_round(fitted):
    """(numbers of two readings, in words) of every two doors of a use that do not fit in one round, one too high and one too low, where
    each has what is to be expected of the other, within STRANGE. A question and not a name: two slips of a round may look so."""
    readings = fitted.readings
    odd = [number for number in fitted.strange if readings.quantity[number] < DOORS]
    for a, b in [(min(a, b), max(a, b)) for place, a in enumerate(odd) for b in odd[place + 1 :] if len(odd) <= MOST_ODD]:
        alike = readings.round[a] == readings.round[b] and readings.quantity[a] == readings.quantity[b]
        if not alike or fitted.off[a] * fitted.off[b] > 0:
            continue
        numbers = np.array([a, b])
        expected, covariance = _expected(fitted, numbers, numbers)
        off = readings.value[numbers[::-1]] - expected
        if (np.abs(off) < STRANGE * np.sqrt(np.diag(covariance) + readings.uncertainty[numbers] ** 2)).all():
            names = " and ".join(readings.place_said(readings.quantity[one], readings.storey[one]) for one in (a, b))
            yield numbers, f"{names}, exchanged in round {readings.round[a] + 1}"


def _alone(values, expected, covariance, part):
    return _likelihood((values - expected)[part], covariance[part, part])


def _anothers(fitted, place, places):
    """The `Likeness` of a door with another's readings; None where that is not clear."""
    readings, numbers = fitted.readings, np.array([*place.numbers.values()])
    expected, covariance = _expected(fitted, numbers, numbers)
    unsure = np.sqrt(np.diag(covariance) + readings.uncertainty[numbers] ** 2)
    odd = np.abs(readings.value[numbers] - expected) > STRANGE * unsure
    rounds = [one for one, is_odd in zip(place.numbers, odd, strict=True) if is_odd]
    others = [one for one in places if one is not place and all(where in one.numbers for where in rounds)]
    if not rounds or not others:
        return None
    mine = np.array(place.at(rounds))
    own = np.ix_(odd, odd)
    as_written = _likelihood(readings.value[mine] - expected[odd], covariance[own] + np.diag(readings.uncertainty[mine] ** 2)) - np.log(
        MIXED
    )
    told = np.array([_of_other(fitted, mine, np.array(one.at(rounds)), numbers) for one in others]) - np.log(len(others))
    every = np.array([*told, as_written, _slip(readings.value[mine])])
    shares = np.exp(every - every.max())
    shares /= shares.sum()
    order = np.argsort(-shares[: len(others)])[:FEW]
    count = next((count for count in range(1, len(order) + 1) if shares[order[:count]].sum() >= CLEAR), None)
    if count is None:
        return None
    named = [others[one] for one in order[:count]]
    names = [readings.place_said(one.quantity, one.storey) for one in named]
    doors = listed(names).replace(" and ", " or ")
    own_name, where = readings.place_said(place.quantity, place.storey), f"round{'s' * (len(rounds) > 1)} {_rounds(rounds)}"
    short = f"{own_name}, {where}: reads like {doors}"
    read = f"{_series(readings.value[mine])} there, {_series(readings.value[named[0].at(rounds)])} at {names[0]}"
    usual = _series(expected[odd])
    said = f"{short}? {read}, where some {usual} is to be expected: written in another's row, or another's tube? Read it again"
    return Likeness(ANOTHERS, tuple(mine.tolist()), f"{short}?", said, float(shares[order[:count]].sum()))


def _of_other(fitted, mine, others, without):
    """Logarithm of the density of some values as another door's: read there with a gauge of its own error, or copied from its cells."""
    readings = fitted.readings
    expected, covariance = _expected(fitted, others, without)
    read = _likelihood(readings.value[mine] - expected, covariance + np.diag(readings.uncertainty[mine] ** 2))
    same = np.abs(readings.value[mine] - readings.value[others]) < STEP_PA / 10
    copied = -len(mine) * np.log(STEP_PA) if same.all() else -np.inf
    return float(np.logaddexp(read, copied) - np.log(2))


def _series(values):
    return ", ".join(with_unit(float(one), "pressure", (1, 3)) for one in values)


def _rounds(rounds):
    return listed([f"{one + 1}" for one in rounds])
