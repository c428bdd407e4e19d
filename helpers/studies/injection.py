"""Injection table: what every display must show when a signal is put on an input, and which pairs of signals tell one rule from another."""

from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np

from helpers.formulas import require, signals, uncertainty
from helpers.formulas.combining import RULES, combine

__all__ = ["CALIBRATOR_PERCENT", "INPUT_PERCENT", "InjectionRow", "InjectionTable", "combined_tolerance_pa", "display_tolerance_pa",
           "injection_table"]  # fmt: skip

# Per cent of span. Common practice, no source: the data sheets of the calibrator and of the drive's analogue input decide.
CALIBRATOR_PERCENT, INPUT_PERCENT = 0.05, 0.5
STEPS_PERCENT = (0.0, 25.0, 75.0, 100.0)  # of one input, the others at 50 %
WIRE_OFF = "wire off"


@dataclass(frozen=True)
class InjectionRow:
    """One step of the check.

    percents: of the signal on each input, None for a wire taken off; signals [V or mA]; readings_pa: each display, None where the signal
    counts as failed and is left out; combined_pa: the display that runs the loop, None where no reading is left; if_instead_pa: what it
    would show if the drive combined otherwise, by hypothesis; purpose in words.
    """

    percents: tuple
    signals: tuple
    readings_pa: tuple
    combined_pa: float | None
    if_instead_pa: dict
    purpose: str


@dataclass(frozen=True)
class InjectionTable:
    """Rows in the order of work and the tolerance of each display, every part at its worst.

    tolerance_pa: of each reading when the signal is put on the drive's input; pressure_tolerance_pa: when a pressure is put on the
    transmitter, so that its own accuracy counts too; combined_...: the same for the combined reading.
    """

    transmitters: tuple
    rule: str
    hypotheses: tuple
    rows: tuple
    tolerance_pa: tuple
    pressure_tolerance_pa: tuple
    combined_tolerance_pa: float
    combined_pressure_tolerance_pa: float

    @property
    def not_told_apart(self):
        """Pairs of hypotheses that no row tells apart by more than the tolerance on both sides."""
        shown = np.array([[row.if_instead_pa[name] for name in self.hypotheses] for row in self.rows if None not in row.readings_pa])
        apart = np.abs(shown[:, :, None] - shown[:, None, :]) > 2 * self.combined_tolerance_pa
        return tuple(
            (self.hypotheses[a], self.hypotheses[b]) for a, b in combinations(range(len(self.hypotheses)), 2) if not apart[:, a, b].any()
        )

    def fits(self, shown_pa):
        """Hypotheses that agree with all displays seen, one a row (None: not read). The names that are left tell what the drive does."""
        seen = list(zip(self.rows, shown_pa, strict=True))
        return tuple(
            name
            for name in self.hypotheses
            if all(
                shown is None or row.if_instead_pa[name] is None or abs(row.if_instead_pa[name] - shown) <= self.combined_tolerance_pa
                for row, shown in seen
            )
        )


def injection_table(transmitters, rule, weights=None, calibrator_percent=CALIBRATOR_PERCENT, input_percent=INPUT_PERCENT):
    """Injection table of some transmitters under a combining rule.

    transmitters: of the site (name, range, signal, accuracy, converter); rule: one of RULES; weights: for "weighted"; calibrator_percent,
    input_percent: accuracy of calibrator and of the drive's analogue input [% of span]. Returns `InjectionTable`.
    Rows: all inputs at 50 %; each input at 0, 25, 75 and 100 % with the others at 50 %; each pair of inputs at 25 and 75 % and crossed;
    each wire taken off. Raises ValueError for no transmitter, an unknown rule, weights that do not fit, a percentage below zero.
    Limits: checks scaling and combining, not the tubes; what a drive does on a lost signal is one of its settings, so look.
    """
    taps = tuple(transmitters)
    if not taps:
        raise ValueError("transmitters must hold at least one transmitter, got none")
    require.one_of(RULES, rule=rule)
    bench = _Bench(taps, rule, weights)
    rows = [bench.row(percents, purpose) for percents, purpose in bench.steps()]
    plain = tuple(display_tolerance_pa(tap, calibrator_percent, input_percent) for tap in taps)
    own = tuple(float(signals.accuracy(t.range_low_pa, t.range_high_pa, t.accuracy_percent_span)) for t in taps)
    with_own = tuple(a + b for a, b in zip(plain, own, strict=True))
    together = [combined_tolerance_pa(tolerances, rule, weights) for tolerances in (plain, with_own)]
    return InjectionTable(taps, rule, bench.hypotheses, tuple(rows), plain, with_own, *together)


def display_tolerance_pa(tap, calibrator_percent=CALIBRATOR_PERCENT, input_percent=INPUT_PERCENT):
    """By how much a display may be off when a signal is injected [Pa]: calibrator, analogue input and converter step, each at its worst.

    tap: `Transmitter` (range, signal, converter); percentages of its span. Raises ValueError for a percentage below zero.
    """
    percents = [require.at_least(0, calibrator_percent=calibrator_percent), require.at_least(0, input_percent=input_percent)]
    span = tap.range_high_pa - tap.range_low_pa
    step = signals.resolution(tap.range_low_pa, tap.range_high_pa, tap.converter_bits, tap.signal)
    return float(uncertainty.worst_case([span * float(percent) / 100 for percent in percents] + [float(step)]))


def combined_tolerance_pa(tolerances_pa, rule, weights=None):
    """By how much the combined display may be off [Pa]: the mean (by weight) of those averaged, the largest where one of them is picked."""
    return float(combine(tolerances_pa, rule, weights=weights)) if rule in ("average", "weighted") else max(tolerances_pa)


class _Bench:
    """Inputs side by side, and what the displays show for any signals on them."""

    def __init__(self, taps, rule, weights):
        self.taps, self.rule, self.weights = taps, rule, weights
        rules = ["average", "lowest", "highest"] if len(taps) > 1 else []
        rules += ["middle"] if len(taps) > 2 else []
        self.rules = tuple(dict.fromkeys([rule, *rules]))
        self.singles = tuple(f"only {tap.name}" for tap in taps) if len(taps) > 1 else ()

    @property
    def hypotheses(self):
        """The rule asked for, then all that a drive might do instead."""
        return (*self.rules, *self.singles)

    def steps(self):
        """(percents, purpose) of all rows; None stands for a wire taken off."""
        count = len(self.taps)
        middle = (50.0,) * count
        yield middle, "half of the signal on every input: every display half way up its range"
        for place, tap in enumerate(self.taps):
            for percent in STEPS_PERCENT:
                yield _with(middle, {place: percent}), f"{tap.name} alone at {percent:g} %: its scaling, and that it is on its own input"
        for low, high in permutations(range(count), 2):
            names = self.taps[low].name, self.taps[high].name
            yield _with(middle, {low: 25.0, high: 75.0}), f"{names[0]} low, {names[1]} high: tells the rules and single inputs apart"
        for place, tap in enumerate(self.taps):
            told = (
                "must be seen as failed and left out" if signals.live_zero(tap.signal) else f"a {tap.signal} signal cannot tell it from 0 %"
            )
            yield _with(middle, {place: None}), f"{tap.name} {WIRE_OFF}: {told}"

    def row(self, percents, purpose):
        sent = tuple(_signal(percent, tap) for percent, tap in zip(percents, self.taps, strict=True))
        good = np.array([bool(signals.good(value, tap.signal)) for value, tap in zip(sent, self.taps, strict=True)])
        readings = np.array(
            [float(signals.to_units(value, t.signal, t.range_low_pa, t.range_high_pa)) for value, t in zip(sent, self.taps, strict=True)]
        )
        shown = {rule: _number(combine(readings, rule, good=good, weights=self.weights)) for rule in self.rules}
        shown |= {name: float(reading) if ok else None for name, reading, ok in zip(self.singles, readings, good, strict=False)}
        displays = tuple(float(reading) if ok else None for reading, ok in zip(readings, good, strict=True))
        return InjectionRow(tuple(percents), sent, displays, shown[self.rule], shown, purpose)


def _with(percents, changes):
    return tuple(changes.get(place, percent) for place, percent in enumerate(percents))


def _signal(percent, tap):
    """Signal [V or mA] at a per cent of its span; a wire taken off is no signal."""
    low, high, _ = signals.SIGNALS[tap.signal]
    return 0.0 if percent is None else low + (high - low) * percent / 100


def _number(value):
    return None if np.isnan(value) else float(value)
