"""What can be wrong between a pressure and the number the controller believes: the faults of a transmitter and its wiring."""

from dataclasses import dataclass
from math import inf, nan

from helpers.formulas import require, signals

__all__ = ["FAULTS", "Fault", "at_tube", "on_wire"]

FAULTS = {
    "open wire": "the signal falls to nothing: failed low with a live zero, a reading of zero without",
    "short": "a current loop runs above its range, a voltage falls to nothing",
    "no number": "the transmitter sends no number at all (NaN), as a digital one may",
    "stuck": "the reading stays where it was",
    "drift": "the reading creeps away by `amount` Pa a minute",
    "tube off": "the high side hangs in the reference room: the transmitter sees no difference",
    "tube swapped": "high and low side changed over: the reading has the wrong sign",
    "wrong range entered": "the input believes the range to end at `amount` Pa",
    "wrong signal type": "the input is set to another signal, named by `signal`",
    "swapped inputs": "this transmitter and the next one are wired to each other's input",
}
MOST_TRANSMITTERS = 1000  # ours, beyond any site; what this one has is checked when the run begins
SHORT_PERCENT = 110.0  # a shorted two-wire loop: above the failure band of NAMUR NE 43


@dataclass(frozen=True)
class Fault:
    """One fault of one transmitter (its number, from 0), from `at_s` to `ends_s`, in all runs or in those whose numbers `runs` lists."""

    transmitter: int
    kind: str
    at_s: float = 0.0
    amount: float = 0.0
    signal: str = "0-10 V"
    runs: tuple | None = None
    ends_s: float = inf

    def __post_init__(self):
        require.one_of(FAULTS, kind=self.kind)
        require.one_of(tuple(signals.SIGNALS), signal=self.signal)
        ends = require.number(ends_s=self.ends_s)  # inf: for good
        number = require.whole(0, MOST_TRANSMITTERS, transmitter=self.transmitter)
        plain = {"transmitter": number, "at_s": require.single_at_least(0, at_s=self.at_s), "amount": require.single(amount=self.amount)}
        if ends.ndim or not ends > plain["at_s"]:
            raise ValueError(f"ends_s must be one time after the fault begins at {plain['at_s']:g} s, got {self.ends_s!r:.60}")
        for name, value in (plain | {"ends_s": float(ends)}).items():
            object.__setattr__(self, name, value)  # plain ones, whatever kind of number was given

    def active(self, time_s):
        """Whether it is there at a time."""
        return self.at_s <= time_s < self.ends_s

    def check(self, transmitters, runs, length_s):
        """Refuse a fault that these transmitters, runs or this length cannot have."""
        require.whole(0, len(transmitters) - 1, transmitter=self.transmitter)
        if self.kind == "swapped inputs" and len(transmitters) < 2:
            raise ValueError("swapped inputs must have two transmitters, got one")
        if self.at_s > length_s:
            raise ValueError(f"at_s of a fault must be within the run of {length_s:g} s, got {self.at_s:g}")
        if self.kind == "wrong range entered" and self.amount <= transmitters[self.transmitter].range_low_pa:
            low = transmitters[self.transmitter].range_low_pa
            raise ValueError(f"amount must be the end of a range that begins at {low:g} Pa, above it; got {self.amount:g}")
        for number in () if self.runs is None else self.runs:
            require.whole(0, runs - 1, runs=number)


def at_tube(fault, flag, arithmetic):
    """What a fault does to the pressures at the tubes: a function of rows and time that changes the rows; None where it does nothing."""
    number, kept = fault.transmitter, []

    def stuck(own, time_s):
        kept.extend([] if kept else [own + 0.0])  # a copy, since an array goes on changing
        return kept[0]

    change = {
        "tube off": lambda own, time_s: 0.0 * own,
        "tube swapped": lambda own, time_s: -own,
        "drift": lambda own, time_s: own + fault.amount * (time_s - fault.at_s) / 60,
        "stuck": stuck,
    }.get(fault.kind)

    def act(rows, time_s):
        rows[number] = arithmetic.choose(flag, change(rows[number], time_s), rows[number])

    return change and act


def on_wire(fault, flag, arithmetic, transmitters):
    """What a fault does to the signals in per cent of their span: a function that changes the rows; None where it does nothing."""
    number, own = fault.transmitter, transmitters[fault.transmitter].signal
    nothing = float(signals.percent_of_span(0.0, own))
    percent = {"open wire": nothing, "short": nothing if own.endswith("V") else SHORT_PERCENT, "no number": nan}.get(fault.kind)

    def cut(rows):
        rows[number] = arithmetic.choose(flag, percent, rows[number])

    def swap(rows):
        other = (number + 1) % len(transmitters)
        mine, theirs = rows[number] + 0.0, rows[other] + 0.0
        rows[number], rows[other] = arithmetic.choose(flag, theirs, mine), arithmetic.choose(flag, mine, theirs)

    return swap if fault.kind == "swapped inputs" else cut if percent is not None else None
