"""Which signals to inject, at the least, to prove what was entered: scaling of every input, the rule, the pairing of wires, the display.

A drive that is set wrongly shows something else for some signal. Each likely wrong setting is played through, and the smallest set of
points is looked for on which every one of them shows, and shows as itself and not as another. What was read is then judged at once, and the
settings that fit it are named.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product

import numpy as np

from helpers import require, units
from helpers.formulas import signals
from helpers.formulas.combining import RULES, combine
from helpers.model.loop.signal_chain import percent_line
from helpers.studies.commissioning.injection import CALIBRATOR_PERCENT, INPUT_PERCENT, combined_tolerance_pa, display_tolerance_pa
from helpers.studies.report import listed
from helpers.units.said import with_unit

LEVELS_PERCENT = (5.0, 25.0, 50.0, 75.0, 95.0)  # off the ends: an input that clips shows a right figure there whatever its offset
TURNED_PERCENT = (0.0, 25.0, 50.0, 75.0, 100.0)  # levels about which a wrong line of scaling is turned
OFF_SHARE = 0.1  # of the span: a range end this far off must show; nearer ones are within what a handover can tell
LOST_SHARE = 0.25  # of the span below its low end that a live zero of 4 of 16 mA falls to without a wire
MOST_POINTS = 6
MOST_TAPS = 8  # that are played through together: more are too many combinations
EXACT_POINTS = 130  # points up to which the smallest set is searched, not only approached
WATER_PA = units.WATER_COLUMNS_PA[units.WATER_COLUMN]
UNITS_TAKEN = {"in. w.c. instead of Pa": 1 / WATER_PA, "kPa instead of Pa": 1e-3}

# What a sheet in in. w.c. is given where the drive shows something else: factor on what is read in Pa, and whether it shows per cent.
TYPED_IN_WATER = {"in Pa instead of in. w.c.": (WATER_PA, False), "in kPa instead of in. w.c.": (1e-3 * WATER_PA, False),
                  "in per cent, not scaled": (WATER_PA, True)}  # fmt: skip


@dataclass(frozen=True)
class DriveSetting:
    """One way the drive may be set.

    entered: (signal, low, high) by input; wires: which transmitter's wire is on each input; rule; only: the one input that is connected to
    the loop, or None; factor: of the unit all displays are in.
    """

    name: str
    entered: tuple
    wires: tuple
    rule: str
    only: int | None = None
    factor: float = 1.0


@dataclass(frozen=True)
class Point:
    """One point of the check: per cent and signal [V or mA] on each wire, what every display and the combined one must show [Pa], and what
    it is for."""

    percents: tuple
    signals: tuple
    displays_pa: tuple
    combined_pa: float
    purpose: str


@dataclass(frozen=True)
class JudgedReading:
    """What was read against what must be.

    passes: by point whether it passes (None: not all of it was read); fits: the settings that fit all that was read; words: both in short.
    """

    passes: tuple
    fits: tuple
    words: str

    @property
    def good(self):
        """Whether all points were read and passed."""
        return all(self.passes)


@dataclass(frozen=True)
class CheckPlan:
    """The points, the tolerance of each display [Pa], the settings they tell apart, those that no point could."""

    transmitters: tuple
    rule: str
    points: tuple
    tolerance_pa: tuple
    combined_tolerance_pa: float
    settings: tuple
    shown_pa: np.ndarray
    not_told_apart: tuple
    weights: tuple | None = None

    def judge(self, read_pa):
        """Judge what was read: by point a sequence of the displays and the combined one [Pa], None where nothing was read.

        Returns `JudgedReading`. Raises ValueError for another number of points or displays, or something that is no number.
        """
        read = self._checked(read_pa)
        expected, tolerance = self.shown_pa[0], self._tolerances
        asked = np.isfinite(read)
        near = np.abs(read - self.shown_pa) <= tolerance + 1e-9
        right = near[0] | ~asked
        passes = tuple(False if not right[k].all() else True if asked[k].all() else None for k in range(len(expected)))
        fits = tuple(setting.name for setting, hit in zip(self.settings, near, strict=True) if (hit | ~asked).all())
        if not fits:
            fits = (*self._typed(read, asked),) or (*self._worked_out(read),)
        return JudgedReading(passes, fits, _said(passes, fits) if asked.any() else "Nothing has been read yet.")

    @cached_property
    def _percents(self):
        return np.array([point.percents for point in self.points])

    def _typed(self, read, asked):
        """What fits of TYPED_IN_WATER."""
        own = [(tap.signal, tap.range_low_pa, tap.range_high_pa) for tap in self.transmitters]
        for name, (factor, percent) in TYPED_IN_WATER.items():
            entered = tuple((signal, 0.0, 100.0) if percent else (signal, *ends) for signal, *ends in own)
            setting = DriveSetting(name, entered, tuple(range(len(own))), self.rule, factor=factor)
            near = np.abs(read - _shown(self.transmitters, setting, self._percents, self.weights)) <= factor * self._tolerances + 1e-9
            if (near | ~asked).all():
                yield f"the displays are {name}"

    def _worked_out(self, read):
        """What each input would have to be entered with to show what was read, and how they would be combined: two at once or more. Only
        where all was read, or one input shows nothing at all; nothing where displays and combined one do not go together."""
        displays, combined = read[:, :-1].copy(), read[:, -1]
        dark = np.isnan(displays).all(axis=0)
        told = []
        if dark.sum() == 1 and np.isfinite(combined).all():
            dead = self.transmitters[int(np.argmax(dark))]
            for counted in (dead.range_low_pa, 0.0, dead.range_low_pa - LOST_SHARE * (dead.range_high_pa - dead.range_low_pa)):
                displays[:, dark] = counted
                if np.isfinite(displays).all() and self._combined_as(displays, combined) == "":
                    told.append(f"the wire of {dead.tag} is dead and counts all the same, as {with_unit(counted, 'pressure')}")
                    break
        if not np.isfinite(displays).all() or not np.isfinite(combined).all():
            return
        for number, tap in enumerate(self.transmitters):
            if not dark[number]:
                told.append(_line_said(tap, self._percents[:, number], displays[:, number], self.tolerance_pa[number]))
        told.append(self._combined_as(displays, combined))
        if None not in told:
            yield listed([one for one in told if one])

    def _combined_as(self, displays_pa, combined_pa):
        """How the combined display comes from the others, as they were read: "" by the rule, None by nothing that is tried."""
        off = 2 * self.combined_tolerance_pa + 1e-9
        for rule in dict.fromkeys((self.rule, *(other for other in RULES if other != "weighted"))):
            value = combine(displays_pa, rule, weights=self.weights if rule == "weighted" else None)
            if (np.abs(value - combined_pa) <= off).all():
                return "" if rule == self.rule else f"the {rule} reading runs the loop"
        alone = (np.abs(displays_pa - combined_pa[:, None]) <= off).all(axis=0)
        return f"only {self.transmitters[int(np.argmax(alone))].tag} runs the loop" if alone.any() else None

    @cached_property
    def _tolerances(self):
        return np.array([*self.tolerance_pa, self.combined_tolerance_pa])

    def _checked(self, read_pa):
        shape = self.shown_pa.shape[1:]
        rows = [list(row) for row in read_pa]
        if len(rows) != shape[0] or any(len(row) != shape[1] for row in rows):
            raise ValueError(f"read_pa must be {shape[0]} rows of {shape[1]} displays, got {[len(row) for row in rows]}")
        numbers = np.array([[np.nan if value is None else value for value in row] for row in rows], float)
        if np.isinf(numbers).any():
            raise ValueError("read_pa must be finite numbers, or None where nothing was read; got an infinite one")
        return numbers


def check_plan(transmitters, rule, weights=None, calibrator_percent=CALIBRATOR_PERCENT, input_percent=INPUT_PERCENT):
    """The smallest set of injected points that proves the settings of some inputs.

    transmitters: of the site (name, range, signal, converter); rule: one of RULES; weights: for "weighted"; calibrator_percent,
    input_percent: accuracy of calibrator and analogue input [% of span]. Returns `CheckPlan`. Raises ValueError for no transmitter, an
    unknown rule, weights that do not fit, a percentage below zero. Limits: the settings played through are those named in `settings`; two
    at once may hide each other. With three transmitters or more the set is small and not proved to be the smallest.
    """
    taps = tuple(transmitters)
    if not taps:
        raise ValueError("transmitters must hold at least one transmitter, got none")
    if len(taps) > MOST_TAPS:
        raise ValueError(f"transmitters must be {MOST_TAPS} at the most, got {len(taps)}: more than can be played through")
    require.one_of(RULES, rule=rule)
    tolerance = tuple(display_tolerance_pa(tap, calibrator_percent, input_percent) for tap in taps)
    together = combined_tolerance_pa(tolerance, rule, weights)
    settings = tuple(_settings(taps, rule))
    percents = np.array(list(product(LEVELS_PERCENT, repeat=len(taps)))) if len(taps) < 4 else _few_points(len(taps))
    shown = np.array([_shown(taps, setting, percents, weights) for setting in settings])
    told = _told_apart(shown, np.array([*tolerance, together]))
    chosen = _smallest(told, percents)
    against_right = told[: len(settings) - 1]
    points = tuple(_point(taps, percents[k], shown[0, k], against_right[:, k]) for k in chosen)
    blind = tuple(setting.name for setting, seen in zip(settings[1:], against_right.any(axis=1), strict=True) if not seen)
    return CheckPlan(taps, rule, points, tolerance, together, settings, shown[:, chosen], blind, weights)


def _settings(taps, rule):
    """The right setting first, then the likely wrong ones."""
    own, wires = tuple((tap.signal, tap.range_low_pa, tap.range_high_pa) for tap in taps), tuple(range(len(taps)))
    yield DriveSetting("as it should be", own, wires, rule)
    if len(taps) > 1:
        for other in ("average", "lowest", "highest", *(["middle"] if len(taps) > 2 else [])):
            if other != rule and not (len(taps) == 2 and {rule, other} == {"average", "middle"}):
                yield DriveSetting(f"the {other} reading runs the loop", own, wires, other)
        for number, tap in enumerate(taps):
            yield DriveSetting(f"only {tap.tag} runs the loop", own, wires, rule, only=number)
        for a, b in combinations(range(len(taps)), 2):
            swapped = list(wires)
            swapped[a], swapped[b] = b, a
            yield DriveSetting(f"the wires of {taps[a].tag} and {taps[b].tag} are swapped", own, tuple(swapped), rule)
        for number, tap in enumerate(taps):
            if any(entered != own[number] for entered in own):
                yield DriveSetting(f"all inputs have the range of {tap.tag}", (own[number],) * len(taps), wires, rule)
    yield DriveSetting("the displays are in per cent, not scaled", tuple((tap.signal, 0.0, 100.0) for tap in taps), wires, rule)
    for name, factor in UNITS_TAKEN.items():
        yield DriveSetting(f"the displays are in {name}", own, wires, rule, factor=factor)
    for number, tap in enumerate(taps):
        yield from _of_one(own, wires, rule, number, tap)


def _of_one(own, wires, rule, number, tap):
    """What may be wrong with one input's signal or range."""
    signal, low, high = own[number]

    def with_entry(entry):
        return (*own[:number], entry, *own[number + 1 :])

    for other in signals.SIGNALS:
        if other != signal:
            yield DriveSetting(f"{tap.tag} is set to {other} instead of {signal}", with_entry((other, low, high)), wires, rule)
    off = OFF_SHARE * (high - low)
    for turned in TURNED_PERCENT:  # the line turned about a level: right there, wrong elsewhere, so that one point proves nothing
        ends = low - off * turned / 100, high + off * (1 - turned / 100)
        end = "top" if turned == 0 else "bottom" if turned == 100 else "range at both ends"
        yield DriveSetting(
            f"the {end} entered for {tap.tag} is off ({ends[0]:g} to {ends[1]:g} Pa)", with_entry((signal, *ends)), wires, rule
        )


def _shown(taps, setting, percents, weights):
    """What displays and the combined one show [points, inputs + 1] for per cents on the wires [points, transmitters]."""
    displays = np.empty(percents.shape)
    for place, wire in enumerate(setting.wires):
        signal, low, high = setting.entered[place]
        offset, slope = percent_line(taps[wire].signal, signal)
        displays[:, place] = low + (high - low) / 100 * (offset + slope * percents[:, wire])
    combined = combine(displays, setting.rule, weights=weights if setting.rule == "weighted" else None)
    combined = combined if setting.only is None else displays[:, setting.only]
    return setting.factor * np.column_stack([displays, combined])


def _told_apart(shown, tolerance):
    """[pairs of settings, points]: whether a point tells two settings apart, beyond the tolerance on both sides. Pairs with the right one
    come first, in the order of the settings."""
    one, other = np.triu_indices(len(shown), 1)
    return (np.abs(shown[one] - shown[other]) > 2 * tolerance).any(axis=2)


def _smallest(told, percents):
    """Points of the smallest set that tells all pairs apart that any point can; of such sets the one that moves every input furthest."""
    can = np.unique(told[told.any(axis=1)], axis=0)
    count = can.shape[1]
    for size in range(1, MOST_POINTS + 1) if count <= EXACT_POINTS else ():
        if np.prod([(count - k) / (k + 1) for k in range(size)]) > 1e5:
            break
        sets = np.array(list(combinations(range(count), size)))
        whole = can[:, sets].any(axis=2).all(axis=0)
        if whole.any():
            spread = np.ptp(percents[sets], axis=1).min(axis=1)  # of each set: levels of the input that is moved least
            return sets[np.where(whole, spread, -1.0).argmax()].tolist()
    # a small set: always the point that shows most of what has not shown yet
    chosen, left = [], np.ones(len(can), bool)
    while left.any():
        best = int(can[left].sum(axis=0).argmax())
        chosen.append(best)
        left &= ~can[:, best]
    return sorted(chosen)


def _few_points(count):
    """For many inputs: each one at every level with the others half way, and a few with all at different levels."""
    one = [[level if place == number else 50.0 for place in range(count)] for number in range(count) for level in LEVELS_PERCENT]
    stairs = [[LEVELS_PERCENT[(place + shift) % len(LEVELS_PERCENT)] for place in range(count)] for shift in range(len(LEVELS_PERCENT))]
    return np.array(one + stairs)


def _point(taps, percents, shown, told):
    ends = [signals.SIGNALS[tap.signal][:2] for tap in taps]
    values = tuple(float(low + (high - low) * percent / 100) for (low, high), percent in zip(ends, percents, strict=True))
    purpose = f"would show {np.count_nonzero(told)} of {len(told)} wrong settings"
    return Point(tuple(map(float, percents)), values, tuple(map(float, shown[:-1])), float(shown[-1]), purpose)


def _said(passes, fits):
    failed = [str(place) for place, one in enumerate(passes, 1) if one is False]
    left = passes.count(None)
    if not failed:
        return "All points pass: settings proved." if not left else f"{passes.count(True)} of {len(passes)} points pass; {left} to go."
    said = f"Point{'s' if len(failed) > 1 else ''} {' and '.join(failed)} fail{'' if len(failed) > 1 else 's'}"
    if fits:
        return f"{said}. This fits: {'; or '.join(fits)}."
    return f"{said}, and none of the usual wrong settings fits all that was read: look for two at once, or a wire."


def _line_said(tap, percents, shown_pa, tolerance_pa):
    """What one input would have to be entered with to show what was read [points] for some per cents on its wire, in words.

    "" where it shows what it must, None where no straight line does. Equation: the line of least squares, its ends off by what the
    tolerance of its points makes of them. Limits: a line says not whether signal or range is entered wrongly, nor at which instrument.
    """
    span = tap.range_high_pa - tap.range_low_pa
    wants = tap.range_low_pa + span * percents / 100
    if (np.abs(shown_pa - wants) <= tolerance_pa + 1e-9).all():
        return ""
    middle = percents - percents.mean()
    if not middle.any():
        return None
    if np.ptp(shown_pa) <= 2 * tolerance_pa:
        stands = with_unit(float(shown_pa.mean()), "pressure")
        return f"{tap.tag} stands at {stands} whatever is put on it, and counts all the same: a dead wire, or an instrument that is stuck"
    slope = float(middle @ shown_pa / (middle @ middle))
    if (np.abs(shown_pa - shown_pa.mean() - slope * middle) > 2 * tolerance_pa).any():
        return None
    ends = shown_pa.mean() + slope * (np.array([0.0, 100.0]) - percents.mean())
    shares = np.abs(1 / len(percents) + np.outer(np.array([0.0, 100.0]) - percents.mean(), middle) / (middle @ middle))
    doubt = tolerance_pa * shares.sum(axis=1)
    low, high = ends - (tap.range_low_pa, tap.range_high_pa)
    entered = " to ".join(with_unit(float(end), "pressure") for end in ends)
    if abs(low - high) <= sum(doubt):
        way, by = "high" if low + high > 0 else "low", with_unit(abs(float(low + high)) / 2, "pressure")
        return f"every reading of {tap.tag} is {by} too {way}: its zero is off, or its range was entered so much too {way}"
    end = "top" if abs(low) <= doubt[0] else "bottom" if abs(high) <= doubt[1] else "range at both ends"
    share = "" if end.startswith("range") else f", {100 * (high if end == 'top' else low) / span:+.0f} % of the span"
    return f"the {end} entered for {tap.tag} is off{share} ({entered})"
