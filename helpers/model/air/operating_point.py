"""The fan speed at which the combined reading meets the set point: what a patient controller would settle on, without waiting for it.

Speed is one unknown more beside the pressures. Every step solves the tower's linear equations twice with one elimination, once for the
pressures at the present speed and once for how they answer to speed, and moves the speed so that the combined reading of the straight
lines meets the set point. A lowest (highest, middle) reading needs no special care: each transmitter asks for its own speed change, and
the rule picks among those. Where the speed meets a limit it stays there, and the answer says so. The few conditions that have not settled
after some steps (a relief damper just lifting, a rule torn between two readings) are searched for between two speeds instead, one
complete solution a try.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas.combining import combine
from helpers.model.air import network as air
from helpers.model.air.laws import rows_of
from helpers.model.air.spaces import quickest

STATES = ("held", "at lowest speed", "at full speed", "not found")
HELD, AT_LOWEST_SPEED, AT_FULL_SPEED, NOT_FOUND = range(4)
READING_TOLERANCE_PA = 1e-4  # ours: some hundred times finer than a 12-bit converter's step on 0 to 125 Pa
LARGEST_MOVE = 0.5  # of the speed range in one step: the straight lines say nothing of what lies further off
MOST_STEPS = 30  # then search
MOST_TRIES = 60


@dataclass
class Taps:
    """Where transmitters read: `space` less `reference` (None: outdoors, still air) on the storeys of the given numbers (from 0)."""

    space: int
    storeys: np.ndarray
    references: tuple

    def take(self, rows):
        """The taps of some conditions: of all the same."""
        return self

    def read(self, pressure):
        """Readings [transmitters, conditions] from pressures [spaces, storeys, conditions]."""
        inside = pressure[self.space][self.storeys]
        return inside - np.array(
            [
                np.zeros_like(row) if reference is None else pressure[reference][storey]
                for row, storey, reference in zip(inside, self.storeys, self.references, strict=True)
            ]
        )


@dataclass
class OperatingPoint:
    """Per condition: speed ratio, state (an index into STATES), the combined reading [Pa]; and the air's `Solution` at that speed."""

    ratio: np.ndarray
    state: np.ndarray
    reading_pa: np.ndarray
    solution: air.Solution

    def record(self, rows, ratio, state, reading):
        self.ratio[rows], self.state[rows], self.reading_pa[rows] = ratio, state, reading


def combine_good(values, rule, weights=None):
    """As `combine`, of readings [transmitters, ..] that are all good; nothing is checked: the network asks some thousand times a record.

    >>> f"{combine_good(np.array([0.5, 1.0]), 'average'):.2f}"
    '0.75'
    """
    if rule in ("lowest", "highest"):
        return values.min(axis=0) if rule == "lowest" else values.max(axis=0)
    if rule == "middle":
        last = len(values) - 1
        return np.sort(values, axis=0)[[last // 2, (last + 1) // 2]].mean(axis=0)
    if rule == "average":
        return values.sum(axis=0) / len(values)
    share = np.reshape(weights, (-1, *[1] * (values.ndim - 1)))
    return (share * values).sum(axis=0) / share.sum()


def hold(network, taps, rule, set_point_pa, lowest, highest, weights=None):
    """Find the speed ratio, from `lowest` to `highest`, that brings the combined reading to `set_point_pa`, for every condition at once.

    rule, weights: as in `formulas.combining`. lowest, highest: speed ratios. Returns `OperatingPoint`; never raises for a condition without
    answer.
    """
    combine(np.zeros(len(taps.storeys)), rule, weights=weights)  # refuses a rule or weights that are none, once
    target = np.full(network.conditions, 1.0) * set_point_pa
    return quickest(lambda chosen: _hold(Target(chosen, taps, rule, weights, target, lowest, highest)), network)


def _hold(question):
    network, count = question.network, question.network.conditions
    held = OperatingPoint(np.zeros(count), np.full(count, NOT_FOUND), np.zeros(count), air.empty_solution(network))
    rows, ratio = np.arange(count), np.full(count, 0.5 * (question.lowest + question.highest))
    moving = air.at_ratio(network, ratio)
    lines, pressure = air.start(moving)
    for step in range(network.start_steps, MOST_STEPS + 1):
        lines, balance, supply, fans_at = air.touch(moving, lines, pressure)
        reading = question.combined(pressure)
        state = question.state(reading, ratio)
        good = air.balanced(balance, supply) & (state != NOT_FOUND)
        if good.sum() > air.LEAVE * good.size or step == MOST_STEPS:
            done, left = np.flatnonzero(good), np.flatnonzero(~good)
            held.record(rows[done], ratio[done], state[done], reading[done])
            held.solution.record(rows[done], pressure[..., done], True, step, balance[done], supply[done])
            if not left.size:
                return held
            rows, ratio, question, moving = rows[left], ratio[left], question.take(left), moving.take(left)
            lines, fans_at = [tuple(rows_of(part, left) for part in line) for line in lines], [rows_of(at, left) for at in fans_at]
        if step < MOST_STEPS:
            pressure, ratio, lines = _step(moving, question, ratio, lines, fans_at)
            moving = air.at_ratio(moving, ratio)
    _search(question, rows, held)
    return held


@dataclass
class Target:
    """What is asked of the stair's loop in each condition, and how an answer is judged."""

    network: air.Network
    taps: Taps
    rule: str
    weights: np.ndarray | None
    target: np.ndarray
    lowest: float
    highest: float

    def take(self, rows):
        return replace(self, network=self.network.take(rows), taps=self.taps.take(rows), target=self.target[rows])

    def combined(self, pressure):
        return combine_good(self.taps.read(pressure), self.rule, self.weights)

    def excess(self, reading):
        """By how much the fan is too fast, in Pa of reading."""
        return self.network.effect * (reading - self.target)

    def state(self, reading, ratio):
        excess = self.excess(reading)
        state = np.where(np.abs(excess) <= READING_TOLERANCE_PA, HELD, NOT_FOUND)
        state[(excess > READING_TOLERANCE_PA) & (ratio <= self.lowest)] = AT_LOWEST_SPEED
        state[(excess < -READING_TOLERANCE_PA) & (ratio >= self.highest)] = AT_FULL_SPEED
        return state


def _search(question, rows, held):
    """Close in on the speed from both limits by `Chords`, one complete solution a try."""
    chords = Chords(rows.size, question.lowest, question.highest)
    for attempt in range(MOST_TRIES):
        ratio = chords.ratio(attempt)
        solution = air.solve(air.at_ratio(question.network, ratio))
        reading = question.combined(solution.pressure)
        state = question.state(reading, ratio)
        done = solution.converged & (state != NOT_FOUND)
        held.record(rows[done], ratio[done], state[done], reading[done])
        held.solution.record_from(solution, done, rows[done])
        chords.look(attempt, ratio, question.excess(reading))
        left = ~done
        if not left.any():
            return
        rows, question = rows[left], question.take(np.flatnonzero(left))
        chords.keep(left)


class Chords:
    """Speed ratios between which the one of a held reading lies, closed in by chords (the Illinois rule), by condition that is still open.

    Tries 0 and 1 are the lowest and the highest speed; excess: how far the fan is too fast, rising with its speed [Pa of reading]. Limits:
    a reading that does not rise is closed in on a place where it crosses, not on all of them.
    """

    def __init__(self, count, lowest, highest):
        self._low, self._high = np.full(count, lowest), np.full(count, highest)
        self._excess_low, self._excess_high, self._was_low = np.zeros((3, count))

    def ratio(self, attempt):
        """Ratios [conditions] to be tried next: the chord's zero; every fifth time the middle, for a reading that jumps."""
        low, high = self._low, self._high
        if attempt < 2:
            return (low, high)[attempt]
        rise = np.where(self._excess_high > self._excess_low, self._excess_high - self._excess_low, 1.0)
        chord = low - self._excess_low * (high - low) / rise
        inside = (chord > low) & (chord < high) & (attempt % 5 != 4)
        return np.where(inside, chord, 0.5 * (low + high))

    def look(self, attempt, ratio, excess):
        """Take in what a try came to."""
        if attempt == 0:
            self._excess_low = excess
        elif attempt == 1:
            self._excess_high = excess
        else:
            slow, before = excess < 0, self._was_low
            # An end that stays twice running counts half as much, or it would stay for ever.
            self._excess_high = np.where(slow, np.where(before > 0, 0.5, 1.0) * self._excess_high, excess)
            self._excess_low = np.where(slow, excess, np.where(before < 0, 0.5, 1.0) * self._excess_low)
            self._low, self._high = np.where(slow, ratio, self._low), np.where(slow, self._high, ratio)
            self._was_low = np.where(slow, 1, -1)

    def keep(self, left):
        """Go on with some of the conditions alone."""
        self._low, self._high, self._was_low = self._low[left], self._high[left], self._was_low[left]
        self._excess_low, self._excess_high = self._excess_low[left], self._excess_high[left]


def _step(network, question, ratio, lines, fans_at):
    """One linear step in pressures and speed together: new pressures, new ratio, lines as they lie at the new ratio."""
    points, tally, pulls = iter(fans_at), network.tally(), [0.0] * len(lines)
    for i, opening in enumerate(network.openings):
        # Where the line touches, which may be far from the pressure of this step: there the fan's damper may seem shut.
        point = next(points) if opening.law.turns else None
        if opening.law.fan:
            pulls[i] = opening.law.by_speed(point)
            opening.balance(-pulls[i], tally)
    still, answers = air.equations(network, lines).solved(network.imbalance(tally))
    move = move_of(question, question.taps.read(still), question.taps.read(answers))
    most = LARGEST_MOVE * (question.highest - question.lowest)
    new = np.clip(ratio + np.clip(move, -most, most), question.lowest, question.highest)
    moved = new - ratio
    answers *= moved
    still += answers
    return still, new, [(slope, intercept + moved * pull) for (slope, intercept), pull in zip(lines, pulls, strict=True)]


def move_of(question, readings, answers):
    """The speed change [conditions] that brings the combined straight-line readings of a `Target` to it.

    readings: at the present speed [transmitters, conditions]; answers: how they rise with it.
    """
    rule, weights, target, effect = question.rule, question.weights, question.target, question.network.effect
    if rule in ("average", "weighted"):
        rate = combine_good(answers, rule, weights)
        return (target - combine_good(readings, rule, weights)) / _steep(rate, effect)
    # Every reading rises with speed (effect +1), so the lowest meets the target where the last of them does, and the highest where the
    # first does. With an exhaust fan every reading falls, and lowest and highest keep their places.
    asked = (target - readings) / _steep(answers, effect)
    if rule == "middle":
        return _middle_move(target, readings, answers, asked, effect)
    mirrored = {"lowest": "highest", "highest": "lowest"}[rule] if effect > 0 else rule
    return combine_good(asked, mirrored)


def _middle_move(target, readings, answers, asked, effect):
    """The speed change that brings the mean of the middle two straight lines (twice the same one of an odd number) to the target."""
    last = len(asked) - 1
    middle = np.argsort(asked, axis=0)[[last // 2, (last + 1) // 2]]
    reading, rate = (np.take_along_axis(lines, middle, axis=0).mean(axis=0) for lines in (readings, answers))
    return (target - reading) / _steep(rate, effect)


def _steep(rate, effect):
    """A reading that does not answer to speed (a door wide open beside it) is taken to answer a little, in the fan's direction."""
    return effect * np.maximum(effect * rate, 1e-6)
