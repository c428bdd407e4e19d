"""A step test read from a log: gain, delay and lag with their intervals, or why the log cannot give them.

From open loop (the output is set in manual and stepped) or closed (the set point is stepped, the controller works): in both the fit goes
from the measured speed to the reading, so that the drive's ramp is input and not lag. What the log cannot give is refused in a sentence,
and what it can give stays: a log of one row a minute gives the gain and never the delay.
Limits: a lag of first order and a delay stand for the chain of transmitter, filter, tubes and shaft; wind that drifts during a step is
taken for an answer where it goes the same way; noise beside an end of the range pulls the gain some per cent down; the log must be that of
the values as they were, not of their averages."""

from dataclasses import dataclass, replace

import numpy as np

from helpers import require
from helpers.studies.measured.trends.description import averaged_values, clipped_of, written_on_change
from helpers.studies.measured.trends.moves import FEWEST_AFTER, filled, moves_of, windows_of
from helpers.studies.measured.trends.output_error import fit
from helpers.studies.measured.trends.step_checks import MOST_WIDTH, amount, hidden, moved, within_noise

LOOPS = ("open", "closed")
MOST_EVEN = 20_000  # rows of a log written on change, laid out evenly
FEWEST_ROWS, MOST_MOVING = 30, 0.75  # rows; share of them in which the fan moves
FIRST_SAMPLES, SETTLES = 150, 5.0  # of a window at first; it grows until it holds so many times lag and delay


@dataclass(frozen=True)
class Estimate:
    """A figure with the interval that holds it in nine of ten repetitions (`LEVEL`)."""

    value: float
    low: float
    high: float

    @property
    def width(self):
        """Width of the interval by the value."""
        return (self.high - self.low) / abs(self.value) if self.value else np.inf


@dataclass(frozen=True)
class StepSeen:
    """One step: at_s, before, after of the input, seconds it took, gain (`Estimate`, reading by input), answer [reading]."""

    at_s: float
    before: float
    after: float
    seconds: float
    gain: Estimate
    answer: float


@dataclass(frozen=True)
class StepTestFound:
    """What a log's step test shows.

    loop: open or closed; gain: the middle step's, with the lowest and the highest bound of all steps [reading by unit of the input];
    lag_s, dead_time_s: `Estimate`, None where refused; steps: of `StepSeen`; noise: of the reading beside the fit; memory: share of it
    still there a sample later; sample_s; dimension: of the reading; time_s, inputs, reading, fitted [samples]: the windows, for a picture;
    refused: sentences, why something is not given; remarks: sentences.
    """

    loop: str
    gain: Estimate | None
    lag_s: Estimate | None
    dead_time_s: Estimate | None
    steps: tuple[StepSeen, ...]
    noise: float
    memory: float
    sample_s: float
    dimension: str
    time_s: np.ndarray
    inputs: np.ndarray
    reading: np.ndarray
    fitted: np.ndarray
    refused: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def whole(self):
        """Whether all three figures are there, to find settings by."""
        return None not in (self.gain, self.lag_s, self.dead_time_s)


def step_test(trend, *, loop=None, ramps_s=None, from_s=None, until_s=None, reading=None, seed=0):
    """Read the step test of a log.

    trend: `Trend`; loop: "open" or "closed", None: closed where a set point is logged and moves; ramps_s: (up, down) of the drive, seconds
    for as much as the output's hundred per cent (or full speed), where only the output is logged: None there is a refusal of lag and dead
    time, 0 means that there is no ramp; from_s, until_s: a part of the log; reading: heading of another one than the first; seed: of the
    bootstrap. Returns `StepTestFound`. Raises ValueError for what cannot be asked; a log without a step is a result that is refused.
    """
    heading = trend.controlled if reading is None else reading
    require.one_of(trend.columns.readings, reading=heading)
    used = trend.time_s >= (-np.inf if from_s is None else require.single(from_s=from_s))
    used &= trend.time_s <= (np.inf if until_s is None else require.single(until_s=until_s))
    if used.sum() < FEWEST_ROWS:
        raise ValueError(f"from_s and until_s must leave {FEWEST_ROWS} rows or more, got {used.sum()}")
    if loop is not None:
        require.one_of(LOOPS, loop=loop)
    log = _Log.of(trend, heading, used, ramps_s)
    steers = () if log.set_point is None else moves_of(log.time_s, log.set_point)
    log.loop = loop or ("closed" if steers else "open")
    if log.loop == "closed" and not steers:
        log.refused.append(
            "The loop is closed and its set point does not move (or is not logged): what the fan does then only answers the reading, and a "
            "fit would take the controller for the building. Step the set point, or the output in manual."
        )
        return log.nothing()
    moves = steers or moves_of(log.time_s, log.inputs) if log.loop == "closed" else moves_of(log.time_s, log.inputs)
    if not moves:
        log.refused.append(f"{trend.input!r:.60} does not move: there is no step in the log.")
        return log.nothing()
    if log.loop == "open" and sum(move.to_row - move.from_row for move in moves) > MOST_MOVING * log.time_s.size:
        log.refused.append(
            f"{trend.input!r:.60} is at rest too seldom for steps: it swings or drifts. Set the output in manual and step it."
        )
        return log.nothing()
    return _fitted(log, moves, seed)


@dataclass
class _Log:
    """What is fitted. time_s, inputs, reading (n,); set_point (n,) or None; held: whether the input is held from row to row; dimension: of
    the reading; coarse: change that it takes to write a row [reading]; refused, remarks: sentences so far."""

    time_s: np.ndarray
    inputs: np.ndarray
    reading: np.ndarray
    set_point: np.ndarray | None
    held: bool
    dimension: str
    coarse: float
    refused: list[str]
    remarks: list[str]
    loop: str = "open"

    @classmethod
    def of(cls, trend, heading, used, ramps_s):
        """That of a log's rows; ramps_s as in `step_test`."""
        given = {name: values[used] for name, values in trend.values.items()}
        time_s, coarse, refused, remarks, dimension = trend.time_s[used], 0.0, [], [], trend.dimensions[heading]
        clipped = clipped_of(time_s, given[heading]) if not written_on_change(trend) else ()
        if clipped:
            at_end = np.any([(time_s >= one.from_s) & (time_s <= one.until_s) for one in clipped], axis=0)
            given[heading] = np.where(at_end, np.nan, given[heading])
            remarks.append(
                f"{int(at_end.sum())} rows with {heading!r:.60} at an end of its range ({amount(clipped[0].value, dimension)}) say "
                f"nothing of "
                "the pressure: left out of the fit."
            )
        missing = int((~np.isfinite(given[heading])).sum()) if not clipped else 0
        if missing:
            remarks.append(f"{missing} rows without {heading!r:.60} are left out of the fit.")
        if written_on_change(trend):
            coarse = float(np.quantile(np.abs(np.diff(filled(given[heading]))), 0.9))
            time_s, given = _even(time_s, given)
            remarks.append(
                f"Rows were written when a value changed, the reading by some {amount(coarse, dimension)}: each lasts to the next."
            )
            refused.append("A log that writes a row when a value has changed hides when the change began: no lag and no delay from it.")
        fan = given[trend.input]
        if not np.isfinite(fan).all():
            remarks.append(f"{int((~np.isfinite(fan)).sum())} rows without {trend.input!r:.60}: the value before is taken to last.")
        inputs, held = filled(fan), trend.columns.speed is None
        if held and ramps_s is None:
            refused.append(
                "Only the output is logged: the drive's ramp lies between it and the fan, and lag and delay cannot be told from it. "
                "Log "
                "the measured speed, or state the ramps."
            )
        elif held:
            up, down = (require.single_at_least(0, ramps_s=one) for one in ramps_s)
            if up or down:
                remarks.append(f"The speed is not logged: it is taken as the output behind ramps of {up:g} s up and {down:g} s down.")
                inputs, held = _ramped(time_s, inputs, up, down), False
        if averaged_values(time_s, inputs):
            refused.append("The values look like means over each row's interval: lag and delay cannot be told from them.")
        return cls(time_s, inputs, given[heading], given.get(trend.columns.set_point), held, dimension, coarse, refused, remarks)

    def nothing(self):
        """The result where nothing was fitted."""
        none = np.empty(0)
        return StepTestFound(
            self.loop, None, None, None, (), np.nan, 0.0, float(np.median(np.diff(self.time_s))), self.dimension, none, none, none, none,
            tuple(self.refused), tuple(self.remarks),
        )  # fmt: skip


def _even(time_s, given):
    """(even times, {heading: values held from row to row}) of rows that come when something changed."""
    step = max(float(np.diff(time_s).min()), float(time_s[-1] - time_s[0]) / MOST_EVEN)
    even = np.arange(time_s[0], time_s[-1] + step / 2, step)
    place = np.searchsorted(time_s, even + step / 10, side="right") - 1
    return even, {heading: filled(values)[place] for heading, values in given.items()}


def _ramped(time_s, values, up_s, down_s):
    """The output behind ramps, at the rows: for a hundred of its units up_s and down_s."""
    found, speed = np.empty(values.size), values[0]
    rise, fall = (100 / ramp if ramp else np.inf for ramp in (up_s, down_s))
    for k, (wait, asked) in enumerate(zip(np.diff(time_s, prepend=time_s[0]), np.concatenate([values[:1], values[:-1]]), strict=True)):
        speed += min(max(asked - speed, -fall * wait if wait else 0.0), rise * wait if wait else 0.0)
        found[k] = speed
    return found


def _fitted(log, moves, seed):
    samples = FIRST_SAMPLES
    while True:
        windows, kept = windows_of(log.time_s, log.inputs, log.reading, moves, samples, log.held)
        if windows is None:
            log.refused.append(f"No step has a rest before it and {FEWEST_AFTER} rows after it: give each step time to settle.")
            return log.nothing()
        longest_s = float(np.max(windows.sizes)) * windows.step_s
        try:
            found = fit(replace(windows, one_gain=log.loop == "closed"), seed)
        except ValueError:
            log.refused.append("The reading answers to none of the steps: look at tubes, valve block and which reading is controlled.")
            return log.nothing()
        if longest_s >= SETTLES * (found.lag_s + found.delay_s) or windows.sizes.max() < samples or samples > log.time_s.size:
            break
        samples *= 2
    if len(kept) < len(moves):
        log.remarks.append(f"{len(kept)} of {len(moves)} steps are used, evenly over the log.")
    return _judged(log, windows, kept, found, longest_s)


def _judged(log, windows, moves, found, longest_s):
    each = [Estimate(float(g), float(low), float(high)) for g, low, high in zip(found.gains, *found.between("gains"), strict=True)]
    reach = np.maximum.reduceat(windows.inputs, windows.starts) - np.minimum.reduceat(windows.inputs, windows.starts)
    steps = tuple(
        StepSeen(move.from_s, move.before, move.after, move.seconds, gain, float(gain.value * wide))
        for move, gain, wide in zip(moves, each, reach, strict=True)
    )
    ends = [sorted((abs(one.low), abs(one.high))) for one in each]
    share = 1 + log.coarse / max(min(abs(step.answer) for step in steps), 1e-9)
    gain = Estimate(float(np.median(np.abs(found.gains))), min(low for low, _ in ends) / share, max(high for _, high in ends) * share)
    lag, dead = (Estimate(value, *map(float, found.between(name))) for name, value in (("lag_s", found.lag_s), ("delay_s", found.delay_s)))
    made = StepTestFound(
        log.loop, gain, lag, dead, steps, found.noise / np.sqrt(1 - found.memory**2), found.memory, windows.step_s, log.dimension,
        windows.time_s, windows.inputs, windows.reading, found.fitted, (), (),
    )  # fmt: skip
    no_gain = [moved(windows, steps, found, log.dimension) or within_noise(steps, found.noise, log.dimension)]
    if log.coarse and gain.width > MOST_WIDTH:
        no_gain.append("The change that it takes to write a row is too coarse for the answer to the steps. Have every row written.")
    no_gain = [said for said in no_gain if said]
    log.refused += no_gain
    if not log.refused or (log.refused[0].startswith("The values look like means") and len(log.refused) == 1):
        said = hidden(made, longest_s)
        log.refused += [said] if said else []
    return replace(
        made, gain=None if no_gain else gain, lag_s=None if log.refused else lag, dead_time_s=None if log.refused else dead,
        refused=tuple(log.refused), remarks=tuple(log.remarks),
    )  # fmt: skip
