"""From the pressure at a tube to the number the controller works with, and all that can be wrong on the way.

    tube -> transmitter (lag, range) -> wire -> input (signal type, converter steps) -> entered range -> filter

Everything after the transmitter is in per cent of a signal span, so that a wrong signal type is one straight line and a wrong range
another. Arrays are [transmitters, runs].
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas import require, signals

__all__ = ["FAULTS", "Fault", "Inputs", "SignalChain"]

FAULTS = {
    "open wire": "the signal falls to nothing: failed low with a live zero, a reading of zero without",
    "short": "a current loop runs above its range, a voltage falls to nothing",
    "stuck": "the reading stays where it was",
    "drift": "the reading creeps away by `amount` Pa a minute",
    "tube off": "the high side hangs in the reference room: the transmitter sees no difference",
    "tube swapped": "high and low side changed over: the reading has the wrong sign",
    "wrong range entered": "the input believes the range to end at `amount` Pa",
    "wrong signal type": "the input is set to another signal, named by `signal`",
    "swapped inputs": "this transmitter and the next one are wired to each other's input",
}
SHORT_PERCENT = 110.0  # a shorted two-wire loop: above the failure band of NAMUR NE 43


@dataclass(frozen=True)
class Fault:
    """One fault of one transmitter (its number, from 0), from `at_s` on, in all runs or in those whose numbers `runs` lists."""

    transmitter: int
    kind: str
    at_s: float = 0.0
    amount: float = 0.0
    signal: str = "0-10 V"
    runs: tuple | None = None


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
        column = {name: np.array([getattr(t, name) for t in transmitters], float)[:, None] for name in ("range_low_pa", "range_high_pa")}
        bits, filters = (np.array([getattr(t, name) for t in transmitters], float)[:, None] for name in ("converter_bits", "filter_s"))
        return cls(tuple(t.signal for t in transmitters), column["range_low_pa"], column["range_high_pa"], bits, filters)


class SignalChain:
    """All transmitters of a loop with their inputs; `read` takes one sample."""

    def __init__(self, transmitters, inputs=None, faults=(), runs=1, sample_s=0.1, lag_s=0.1, length_s=np.inf):
        require.positive(sample_s=sample_s)
        inputs = inputs or Inputs.matching(transmitters)
        if (require.at_least(0, filter_s=inputs.filter_s) > length_s).any():
            raise ValueError(f"filter_s must be shorter than the run of {length_s:g} s, got {inputs.filter_s.max():g}")
        self.count, self.runs, self.sample_s = len(transmitters), runs, sample_s
        self.signals = [t.signal for t in transmitters]
        self.low = np.array([t.range_low_pa for t in transmitters], float)[:, None]
        self.span = np.array([t.range_high_pa for t in transmitters], float)[:, None] - self.low
        self.inputs = inputs
        self.follow = -np.expm1(-sample_s / np.maximum(require.at_least(0, lag_s=lag_s), 1e-9))
        self.filter = -np.expm1(-sample_s / np.maximum(inputs.filter_s, 1e-9))
        self.faults = [self._checked(fault) for fault in faults]
        self.sensed = self.filtered = None
        self._set_inputs(inputs)

    def read(self, pressure_pa, time_s):
        """Readings [Pa as the controller believes] and whether each may be used, from pressures at the tubes [transmitters, runs]."""
        active = [fault for fault in self.faults if time_s >= fault.at_s]
        for fault in active:
            pressure_pa = self._at_tube(fault, pressure_pa, time_s)
        self.sensed = pressure_pa if self.sensed is None else self.sensed + self.follow * (pressure_pa - self.sensed)
        percent = np.minimum(np.maximum((self.sensed - self.low) / self.span * 100, self.least), self.most)
        for fault in active:
            percent = self._on_wire(fault, percent)
        percent = self.offset + self.scale * percent
        percent = np.round(percent / self.step) * self.step
        good = (percent > signals.FAILED_LOW_PERCENT) & (percent < signals.FAILED_HIGH_PERCENT)
        value = self.entered_low + self.entered_span * percent * 0.01
        self.filtered = value if self.filtered is None else self.filtered + self.filter * (value - self.filtered)
        return self.filtered, good | self.blind

    def _set_inputs(self, inputs):
        """Straight line from the transmitter's per cent to the input's, converter steps, and where a dead wire cannot be told."""
        wide = np.ones((self.count, self.runs))
        entered = [list(inputs.signal) for _ in range(self.runs)]
        self.entered_low, self.entered_span = inputs.low_pa * wide, (inputs.high_pa - inputs.low_pa) * wide
        for fault in self.faults:
            runs = range(self.runs) if fault.runs is None else fault.runs
            for run in runs:
                if fault.kind == "wrong range entered":
                    self.entered_span[fault.transmitter, run] = fault.amount - self.entered_low[fault.transmitter, run]
                if fault.kind == "wrong signal type":
                    entered[run][fault.transmitter] = fault.signal
        lines = np.array([[_line(own, entered[run][t]) for run in range(self.runs)] for t, own in enumerate(self.signals)])
        self.offset, self.scale = lines[..., 0], lines[..., 1]
        self.step = np.array([[_step(entered[run][t], bits) for run in range(self.runs)] for t, bits in enumerate(inputs.bits[:, 0])])
        self.blind = np.array([[not signals.live_zero(entered[run][t]) for run in range(self.runs)] for t in range(self.count)])
        ends = [
            (signals.MEASURES_FROM_PERCENT, signals.MEASURES_TO_PERCENT) if signals.live_zero(s) else (0.0, 100.0) for s in self.signals
        ]
        self.least, self.most = np.array(ends).T[:, :, None]

    def _checked(self, fault):
        require.one_of(FAULTS, kind=fault.kind)
        if not 0 <= fault.transmitter < self.count:
            raise ValueError(f"transmitter must be a number from 0 to {self.count - 1}, got {fault.transmitter!r}")
        if fault.kind == "swapped inputs" and self.count < 2:
            raise ValueError("swapped inputs must have two transmitters, got one")
        return replace(fault, runs=None if fault.runs is None else tuple(fault.runs))

    def _put(self, array, fault, value):
        """The array with a value at the fault's transmitter and runs."""
        out = np.array(array, float)
        runs = slice(None) if fault.runs is None else list(fault.runs)
        out[fault.transmitter, runs] = value if np.ndim(value) == 0 else value[runs]
        return out

    def _at_tube(self, fault, pressure, time_s):
        own = pressure[fault.transmitter]
        changed = {
            "tube off": lambda: 0.0,
            "tube swapped": lambda: -own,
            "drift": lambda: own + fault.amount * (time_s - fault.at_s) / 60,
            "stuck": lambda: own if self.sensed is None else self.sensed[fault.transmitter],
        }.get(fault.kind)
        return pressure if changed is None else self._put(pressure, fault, changed())

    def _on_wire(self, fault, percent):
        own = self.signals[fault.transmitter]
        if fault.kind == "swapped inputs":
            other = (fault.transmitter + 1) % self.count
            swapped = self._put(percent, fault, percent[other])
            return self._put(swapped, replace(fault, transmitter=other), percent[fault.transmitter])
        if fault.kind == "open wire" or (fault.kind == "short" and own.endswith("V")):
            return self._put(percent, fault, float(signals.percent_of_span(0.0, own)))
        return self._put(percent, fault, SHORT_PERCENT) if fault.kind == "short" else percent


def _line(own, entered):
    """Offset and slope that turn per cent of one signal into per cent of another of the same unit (volts as milliamps, through 500 ohm)."""
    low, high, unit = signals.SIGNALS[own]
    if unit != signals.SIGNALS[entered][2]:
        convert = signals.volts_from_milliamps if unit == "mA" else signals.milliamps_from_volts
        low, high = (float(convert(end, 500.0)) for end in (low, high))
    ends = [float(signals.percent_of_span(end, entered)) for end in (low, high)]
    return ends[0], (ends[1] - ends[0]) / 100


def _step(signal, bits):
    return float(signals.resolution(0.0, 100.0, int(bits), signal))
