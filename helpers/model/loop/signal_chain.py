"""From the pressures at the tubes to the one number the controller works with.

    tube -> transmitter (lags, range) -> wire, scan, bus -> input (signal type, converter steps) -> band check -> entered range -> filter

On the wire everything is in per cent of a signal span, so that a wrong signal type is one straight line and a wrong range another.
A reading whose signal has failed is NaN, does not enter the filter, and is never averaged in: rules as `formulas.combining`, which takes
over where readings are bad in some of many runs.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import inf, nan

import numpy as np

from helpers import require
from helpers.formulas import signals
from helpers.formulas.combining import RULES, combine
from helpers.model.loop.arithmetic import OneRun
from helpers.model.loop.events import at_tube, on_wire

_Value = float | np.ndarray  # of one run, or [runs]
_Flag = bool | np.ndarray


@dataclass(frozen=True)
class Inputs:
    """What is set at the controller's inputs, one value a transmitter: signal type, range ends [Pa], converter bits, filter [s]."""

    signal: tuple
    low_pa: np.ndarray
    high_pa: np.ndarray
    bits: np.ndarray
    filter_s: np.ndarray

    @classmethod
    def matching(cls, transmitters):
        """Inputs set as the transmitters are: nothing wrong."""
        names = ("range_low_pa", "range_high_pa", "converter_bits", "filter_s")
        return cls(tuple(t.signal for t in transmitters), *(np.array([getattr(t, n) for t in transmitters], float) for n in names))


@dataclass
class Lag:
    """A lag of the first order before the transmitter's own: tubes, damping. Exact for a pressure that runs straight between samples."""

    keep: float
    of_before: float
    of_now: float
    before: float | None = None
    value: float | None = None

    def read(self, pressure):
        if self.value is None:  # it has been under that pressure for long
            self.value = pressure
        else:
            self.value = self.keep * self.value + self.of_before * self.before + self.of_now * pressure
        self.before = pressure
        return self.value


@dataclass
class Late:
    """A reading that arrives some samples late, with a part of a sample on the straight line between two."""

    samples: float
    ring: list | None = None
    place: int = 0

    def read(self, percent):
        ring = self.ring
        if ring is None:
            self.whole = np.floor(self.samples).astype(int)
            self.part, self.varies = self.samples - self.whole, np.ptp(self.whole) > 0
            ring = self.ring = [percent] * (int(np.max(self.whole)) + 2)
        self.place = place = (self.place + 1) % len(ring)
        ring[place] = percent
        if self.varies:
            rows, columns = np.indices(self.whole.shape)
            kept = np.array(ring)
            late, later = (kept[(place - self.whole - more) % len(ring), rows, columns] for more in (0, 1))
        else:
            whole = int(np.ravel(self.whole)[0])
            late, later = ring[place - whole], ring[(place - whole - 1) % len(ring)]
        return late + self.part * (later - late)


@dataclass
class Sensor:
    """A transmitter: it lags behind the pressure, and gives per cent of its range no further than it measures."""

    follow: float
    per_pa: float
    at_zero: float
    least: float
    most: float
    within: Callable[[_Value, _Value, _Value], _Value] | None = None
    sensed: float | None = None  # until the first sample: the transmitter has been under that pressure for long

    def read(self, pressure):
        before = self.sensed
        self.sensed = sensed = pressure if before is None else before + self.follow * (pressure - before)
        return self.within(self.at_zero + self.per_pa * sensed, self.least, self.most)


@dataclass
class Input:
    """An input: from per cent of the wire's signal to converter steps, to pascals as entered, through the filter."""

    offset: float  # steps at 0 % of the wire's signal
    scale: float
    zero: float  # Pa at no steps, which is no signal
    per_step: float
    follow: float
    failed_low: float  # in steps
    failed_high: float
    rounded: Callable[[_Value], _Value] | None = None
    choose: Callable[[_Flag, _Value, _Value], _Value] | None = None
    doubtful: bool = False  # whether a signal could have failed: a transmitter alone never leaves its measuring band
    filtered: float | None = None

    def read(self, percent):
        if self.doubtful:
            return self._checked(percent)
        value, before = self.zero + self.per_step * self.rounded(self.offset + self.scale * percent), self.filtered
        self.filtered = value = value if before is None else before + self.follow * (value - before)
        return value

    def _checked(self, percent):
        choose, known = self.choose, percent == percent
        steps = self.rounded(self.offset + self.scale * choose(known, percent, 0.0))
        good = known & (steps > self.failed_low) & (steps < self.failed_high)
        value, before = self.zero + self.per_step * steps, nan if self.filtered is None else self.filtered
        moved = choose(before == before, before + self.follow * (value - before), value)
        self.filtered = choose(good, moved, before)
        return choose(good, moved, nan)


class SignalChain:
    """All transmitters of a loop with their inputs; `read` takes one sample.

    lag_s: time constant of the transmitters; more_lags_s: further lags before it; late_s: how late their readings arrive; each one number,
    [runs] or [transmitters, 1] [s].
    """

    def __init__(
        self, transmitters, inputs=None, faults=(), sample_s=0.1, lag_s=0.1, length_s=inf, arithmetic=None, more_lags_s=(), late_s=0.0
    ):
        self.transmitters, self.inputs = transmitters, inputs or Inputs.matching(transmitters)
        self.sample_s, self.arithmetic = require.single_positive(sample_s=sample_s), arithmetic or OneRun()
        if (require.at_least(0, filter_s=self.inputs.filter_s) > length_s).any():
            raise ValueError(f"filter_s must be shorter than the run of {length_s:g} s, got {np.max(self.inputs.filter_s):g}")
        for fault in faults:
            fault.check(transmitters, self.arithmetic.runs, length_s)
        self.faults = faults
        shape = (len(transmitters), self.arithmetic.runs)
        lags = [np.broadcast_to(require.at_least(0, more_lags_s=lag), shape) for lag in more_lags_s]
        self._lags = [self.arithmetic.blocks(Lag, _lag_columns(lag, self.sample_s)) for lag in lags if lag.any()]
        late = np.broadcast_to(require.at_least(0, late_s=late_s), shape)
        if (late > length_s).any():
            raise ValueError(f"late_s must be shorter than the run of {length_s:g} s, got {late.max():g}")
        self._late = self.arithmetic.blocks(Late, {"samples": late / self.sample_s}) if late.any() else None
        self._sensors = self.arithmetic.blocks(Sensor, self._sensor_columns(lag_s))
        for sensor in self._sensors:
            sensor.within = self.arithmetic.within
        self._blocks, self._next_s = [], -inf
        self.doubtful = False  # whether a reading may be missing

    def read(self, pressures, time_s):
        """Rows of readings [Pa as the controller believes], NaN where one may not be used, from rows of pressures at the tubes."""
        if time_s >= self._next_s:
            self._change(time_s)
        if self._at_tube:
            pressures = pressures.copy()
            for act in self._at_tube:
                act(pressures, time_s)
        for lags in self._lags:
            pressures = self.arithmetic.each(lags, pressures)
        percents = self.arithmetic.each(self._sensors, pressures)
        for act in self._on_wire:
            act(percents)
        if self._late is not None:
            percents = self.arithmetic.each(self._late, percents)
        return self.arithmetic.each(self._blocks, percents)

    def _change(self, time_s):
        """Take up the faults that are there from now on, and put the inputs to what they are set to."""
        active = [fault for fault in self.faults if fault.active(time_s)]
        self._next_s = min((t for f in self.faults for t in (f.at_s, f.ends_s) if t > time_s), default=inf)
        flags = [(fault, self.arithmetic.flag(fault.runs)) for fault in active]
        self._at_tube = [a for a in (at_tube(f, flag, self.arithmetic) for f, flag in flags) if a]
        self._on_wire = [a for a in (on_wire(f, flag, self.arithmetic, self.transmitters) for f, flag in flags) if a]
        columns, mismatched = self._input_columns(flags)
        self.doubtful = self.doubtful or mismatched or bool(self._on_wire)  # for good: a filter may have no value yet
        blocks = self.arithmetic.blocks(Input, columns)
        for number, block in enumerate(blocks):
            block.rounded, block.choose, block.doubtful = self.arithmetic.rounded, self.arithmetic.choose, self.doubtful
            block.filtered = self._blocks[number].filtered if self._blocks else None
        self._blocks = blocks

    def _sensor_columns(self, lag_s):
        def column(values):
            return np.array(values, float)[:, None]

        low = column([t.range_low_pa for t in self.transmitters])
        per_pa = 100 / (column([t.range_high_pa for t in self.transmitters]) - low)
        ends = {True: (signals.MEASURES_FROM_PERCENT, signals.MEASURES_TO_PERCENT), False: (0.0, 100.0)}
        least, most = np.array([ends[signals.live_zero(t.signal)] for t in self.transmitters]).T[:, :, None]
        follow = _follow(np.broadcast_to(require.at_least(0, lag_s=lag_s), (len(low), self.arithmetic.runs)), self.sample_s)
        columns = {"follow": follow, "per_pa": per_pa, "at_zero": -low * per_pa, "least": least, "most": most}
        return {name: np.array(np.broadcast_to(column, follow.shape)) for name, column in columns.items()}

    def _input_columns(self, flags):
        """Fields of the inputs [transmitters, runs], and whether any input is set to another signal than it gets."""
        shape = (len(self.transmitters), self.arithmetic.runs)
        low, high, bits, filter_s = (
            np.broadcast_to(np.reshape(column, (-1, 1)), shape).copy()
            for column in (self.inputs.low_pa, self.inputs.high_pa, self.inputs.bits, self.inputs.filter_s)
        )
        entered = np.broadcast_to(np.reshape(np.array(self.inputs.signal, object), (-1, 1)), shape).copy()
        for fault, flag in flags:
            if fault.kind == "wrong range entered":
                high[fault.transmitter, flag] = fault.amount
            if fault.kind == "wrong signal type":
                entered[fault.transmitter, flag] = fault.signal
        own = np.broadcast_to(np.array([t.signal for t in self.transmitters], object)[:, None], shape)
        offset, scale = (part.astype(float) for part in np.frompyfunc(percent_line, 2, 2)(own, entered))
        step, none = (part.astype(float) for part in np.frompyfunc(_converter, 2, 2)(entered, bits))
        span = (high - low) / 100
        columns = {
            "offset": (offset - none) / step,
            "scale": scale / step,
            "zero": low + span * none,
            "per_step": span * step,
            "follow": _follow(filter_s, self.sample_s),
            "failed_low": (signals.FAILED_LOW_PERCENT - none) / step,
            "failed_high": (signals.FAILED_HIGH_PERCENT - none) / step,
        }
        return columns, bool((own != entered).any())


def _follow(time_constant_s, sample_s):
    """Share of the way that a first-order lag goes in one sample; all of it without a lag."""
    return -np.expm1(-sample_s / np.maximum(time_constant_s, 1e-9))


def _lag_columns(lag_s, sample_s):
    """Weights with which a lag keeps its value and takes the pressure of the sample before and of this one."""
    each = np.maximum(lag_s, 1e-9 * sample_s)
    keep = np.exp(-sample_s / each)
    share = (1 - keep) * each / sample_s
    return {"keep": keep, "of_before": share - keep, "of_now": 1 - share}


@lru_cache
def percent_line(own, entered):
    """Offset and slope that turn per cent of one signal into per cent of another (volts and milliamps meet in the input's resistor)."""
    low, high, _ = signals.SIGNALS[own]
    ends = [float(signals.percent_of_span(signals.at_the_input(end, own, entered), entered)) for end in (low, high)]
    return ends[0], (ends[1] - ends[0]) / 100


@lru_cache
def _converter(signal, bits):
    """Per cent of span that one step of a converter is, and that no signal at all is, from where the steps are counted."""
    return float(signals.resolution(0.0, 100.0, int(bits), signal)), float(signals.percent_of_span(0.0, signal))


def _middle_of_floats(rows, shares):
    rising, number = sorted(rows), len(rows)
    return 0.5 * (rising[(number - 1) // 2] + rising[number // 2])


def _middle_of_arrays(rows, shares):
    if len(rows) != 3:
        return np.median(rows, axis=0)
    a, b, c = rows  # the usual three, twenty times quicker than sorting
    return np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))


FLOATS = {
    "average": lambda rows, shares: sum(rows) / len(rows),
    "lowest": lambda rows, shares: min(rows),
    "highest": lambda rows, shares: max(rows),
    "middle": _middle_of_floats,
    "weighted": lambda rows, shares: sum(row * share for row, share in zip(rows, shares, strict=True)),
}
ARRAYS = {
    "average": lambda rows, shares: rows.sum(axis=0) / len(rows),
    "lowest": lambda rows, shares: rows.min(axis=0),
    "highest": lambda rows, shares: rows.max(axis=0),
    "middle": _middle_of_arrays,
    "weighted": lambda rows, shares: (rows * shares[:, None]).sum(axis=0),
}


class Combiner:
    """One rule over the readings of all transmitters. `any_will_do`: whether one good reading is enough, or all must be good."""

    def __init__(self, rule, weights, count, any_will_do=True, arithmetic=None):
        self.rule, self.any_will_do = require.one_of(RULES, rule=rule), any_will_do
        self.arithmetic = arithmetic or OneRun()
        self.weights = np.ones(count) if weights is None else require.at_least(0, weights=weights)
        if self.weights.shape != (count,) or not self.weights.any():
            raise ValueError(f"weights must be one for each of {count} transmitters, one of them above zero; got {weights!r:.80}")
        combine(np.ones(count), rule, weights=weights)  # refuses a weighted rule without weights
        self._rule = (FLOATS if isinstance(self.arithmetic, OneRun) else ARRAYS)[rule]
        self._shares = self.weights / self.weights.sum()
        self.last = 0.0

    def combine(self, rows, doubtful=True):
        """The combined reading and a flag where there is none; then the reading is the last there was. doubtful: readings may be NaN."""
        if doubtful:
            return self._of_the_good(rows)
        self.last = self._rule(rows, self._shares)
        return self.last, False

    def _of_the_good(self, rows):
        if isinstance(self.arithmetic, OneRun):
            value = self._of_good_floats(rows)
            good = value == value and (self.any_will_do or all(row == row for row in rows))
        else:
            value = combine(rows, self.rule, weights=self.weights, axis=0)
            good = np.isfinite(value) if self.any_will_do else np.isfinite(rows).all(axis=0)
        self.last = self.arithmetic.choose(good, value, self.last)
        return self.last, good ^ True

    def _of_good_floats(self, rows):
        good = [number for number, row in enumerate(rows) if row == row]
        weight = sum(self.weights[number] for number in good)
        if not good or weight == 0:
            return float("nan")
        return float(self._rule([rows[number] for number in good], [self.weights[number] / weight for number in good]))
