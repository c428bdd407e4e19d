"""The second shaft's own loop at rest beside that of the stair: one unknown more.

More of its speed raises its own reading, whatever the stair's loop does about it, so that there is one speed. Both speeds are found with
the pressures, as `helpers.model.air.operating_point` finds one: every step solves the tower's linear equations with one elimination for the
pressures and for how they answer to either speed. The second shaft's straight line says what its speed does at any move of the stair's, so
that the stair's own rule is asked as if it stood alone; where that leads beyond a limit of the second fan, its speed is the limit, and the
stair's rule is asked again. The few conditions that have not settled after some steps are closed in on from both limits of the second fan
by chords (the Illinois rule), a complete solution of the network, with the stair's loop where that is asked, a try.
Limits: both loops at rest; nothing here tells whether they swing against each other.
"""

from dataclasses import dataclass

import numpy as np

from helpers.model.air import network as heights
from helpers.model.air.laws import rows_of
from helpers.model.air.operating_point import (
    AT_FULL_SPEED,
    AT_LOWEST_SPEED,
    HELD,
    LARGEST_MOVE,
    MOST_STEPS,
    MOST_TRIES,
    NOT_FOUND,
    STATES,
    Chords,
    OperatingPoint,
    Target,
    hold,
    move_of,
)
from helpers.model.air.second_shaft.openings import OtherFan, at_shaft_ratio
from helpers.model.air.spaces import quickest

READING_TOLERANCE_PA = 1e-3  # ours: ten times what the stair's loop leaves, whose rest moves this reading too
BOUNDED = 1e-9  # of a speed ratio: further off, a limit has changed what was asked
LEAST_RATE = 1e-6  # Pa for its whole speed: a reading that does not answer (a door wide open beside it) is taken to answer so little


@dataclass
class LoopsAtRest:
    """What was found with the second shaft's loop at rest.

    found: a `Solution`, or an `OperatingPoint` where the stair's loop holds; by condition the second fan's speed ratio, an index into
    `operating_point.STATES`, and its loop's reading [Pa].
    """

    found: heights.Solution | OperatingPoint
    ratio: np.ndarray
    state: np.ndarray
    reading_pa: np.ndarray

    @property
    def solution(self):
        """The air."""
        return self.found.solution if isinstance(self.found, OperatingPoint) else self.found

    def record(self, rows, ratio, state, reading):
        self.ratio[rows], self.state[rows], self.reading_pa[rows] = ratio, state, reading


def solve_beside(network, loop, numbers):
    """The air at the speed ratios of the network, with the second fan where its loop rests. Returns `LoopsAtRest`.

    loop: `ShaftLoop`; numbers: of the spaces shaft and floor. Never raises for a condition without answer.
    """

    def close_in(chosen, rows):
        return _closed_in(chosen, loop, numbers, lambda tried, _: heights.solve(tried), heights.empty_solution(chosen))

    return quickest(lambda chosen: _together(chosen, loop, numbers, None, heights.empty_solution(chosen), close_in), network)


def hold_beside(network, loop, numbers, taps, rule, target, lowest, highest, weights=None):
    """Both loops at rest; loop and numbers as in `solve_beside`, the rest as in `operating_point.hold`. Returns `LoopsAtRest`."""

    def empty(count, chosen):
        return OperatingPoint(np.zeros(count), np.full(count, NOT_FOUND), np.zeros(count), heights.empty_solution(chosen))

    def close_in(chosen, rows):
        def held(tried, some):
            return hold(tried, taps, rule, target[rows[some]], lowest, highest, weights)

        return _closed_in(chosen, loop, numbers, held, empty(len(rows), chosen))

    def find(chosen):
        stair = Target(chosen, taps, rule, weights, target, lowest, highest)
        return _together(chosen, loop, numbers, stair, empty(chosen.conditions, chosen), close_in)

    return quickest(find, network)


def shaft_part(shaft, network, solution, beside):
    """Of the second shaft's fan, in a solved network: flow [m3/s at inlet density], speed [Hz] (NaN of a fixed flow), and of a loop of its
    own its state, each [conditions]; None where there is none of it. What goes back through a fixed flow that is off is not counted."""
    if shaft is None:
        return None, None, None
    fan, count = shaft.given.fan, network.conditions
    moving = next((opening for opening in network.openings if isinstance(opening.law, OtherFan)), None)
    if moving is None:
        flow = fan.fixed_flow_m3_s if shaft.runs and shaft.curve is None else 0.0
        return np.full(count, flow), np.full(count, np.nan if shaft.curve is None else 0.0), None
    flow = moving.law.volume_flow(moving.difference(solution.pressure))[0]
    speed = np.broadcast_to(moving.law.ratio[0] * fan.reference_speed_hz, count)
    return flow, speed, None if beside is None else np.array(STATES)[beside.state]


def _together(network, loop, numbers, stair, empty, close_in):
    """`LoopsAtRest` by steps in pressures and speeds together; stair: `Target` of the stair's loop, None where its speed stays; close_in:
    finds the same of some conditions (network, rows) that do not settle."""
    count = network.conditions
    beside = LoopsAtRest(empty, np.zeros(count), np.full(count, NOT_FOUND), np.full(count, np.nan))
    rows, others = np.arange(count), np.full(count, 0.5 * (loop.lowest + loop.highest))
    ratio, whole = None if stair is None else np.full(count, 0.5 * (stair.lowest + stair.highest)), network
    moving = _at(network, ratio, others)
    lines, pressure = heights.start(moving)
    for step in range(network.start_steps, MOST_STEPS + 1):
        lines, balance, supply, points = heights.touch(moving, lines, pressure)
        reading = loop.read(pressure, *numbers)
        state = _at_rest(reading - loop.target_pa, others <= loop.lowest, others >= loop.highest)
        good = heights.balanced(balance, supply) & (state != NOT_FOUND)
        if stair is not None:
            combined = stair.combined(pressure)
            stair_state = stair.state(combined, ratio)
            good &= stair_state != NOT_FOUND
        if good.sum() > heights.LEAVE * good.size or step == MOST_STEPS:
            done, left = np.flatnonzero(good), np.flatnonzero(~good)
            beside.record(rows[done], others[done], state[done], reading[done])
            if stair is not None:
                beside.found.record(rows[done], ratio[done], stair_state[done], combined[done])
            beside.solution.record(rows[done], pressure[..., done], True, step, balance[done], supply[done])
            if not left.size:
                return beside
            rows, others, moving = rows[left], others[left], moving.take(left)
            ratio, stair = (None, None) if stair is None else (ratio[left], stair.take(left))
            lines, points = [tuple(rows_of(part, left) for part in line) for line in lines], [rows_of(at, left) for at in points]
        if step < MOST_STEPS:
            pressure, ratio, others, lines = _step(moving, loop, numbers, stair, ratio, others, lines, points)
            moving = _at(moving, ratio, others)
    slow = close_in(whole.take(rows), rows)
    beside.record(rows, slow.ratio, slow.state, slow.reading_pa)
    _record(beside.found, slow.found, np.arange(rows.size), rows)
    return beside


def _at(network, ratio, others):
    return at_shaft_ratio(network if ratio is None else heights.at_ratio(network, ratio), others)


def _at_rest(excess, at_lowest, at_highest):
    """State of each reading, by how far it is over its target and whether the fan is at a limit."""
    state = np.where(np.abs(excess) <= READING_TOLERANCE_PA, HELD, NOT_FOUND)
    state[(excess > READING_TOLERANCE_PA) & at_lowest] = AT_LOWEST_SPEED
    state[(excess < -READING_TOLERANCE_PA) & at_highest] = AT_FULL_SPEED
    return state


def _step(network, loop, numbers, stair, ratio, others, lines, points):
    """One linear step in pressures and both speeds: new pressures, new ratios, lines as they lie there."""
    tallies, pulls, points = (network.tally(), network.tally()), [(0, 0.0)] * len(lines), iter(points)
    for i, opening in enumerate(network.openings):
        if opening.law.turns:
            pulls[i] = (0 if opening.law.fan else 1), opening.law.by_speed(next(points))
            opening.balance(-pulls[i][1], tallies[pulls[i][0]])
    still, by_stair, by_shaft = heights.equations(network, lines).solved(*map(network.imbalance, tallies))
    rate = np.maximum(loop.read(by_shaft, *numbers), LEAST_RATE)
    short, crossing = loop.target_pa - loop.read(still, *numbers), loop.read(by_stair, *numbers)
    new = ratio
    if stair is not None:
        readings, answers, by_other = (stair.taps.read(by) for by in (still, by_stair, by_shaft))
        # as if the second loop held its own, at whatever speed
        new = _moved(stair, ratio, move_of(stair, readings + by_other * (short / rate), answers - by_other * (crossing / rate)))
        asked = others + (short - crossing * (new - ratio)) / rate
        bounded = _moved(loop, others, asked - others)
        again = _moved(stair, ratio, move_of(stair, readings + by_other * (bounded - others), answers))
        new = np.where(np.abs(bounded - asked) < BOUNDED, new, again)
    moved = 0.0 if stair is None else new - ratio
    new_other = _moved(loop, others, (short - crossing * moved) / rate)
    moves = moved, new_other - others
    still += by_stair * moves[0] + by_shaft * moves[1]
    lines = [(slope, intercept + moves[which] * pull) for (slope, intercept), (which, pull) in zip(lines, pulls, strict=True)]
    return still, new, new_other, lines


def _moved(limits, ratio, move):
    """The ratio after a move, a part of the way between the limits at the most, and not beyond them."""
    most = LARGEST_MOVE * (limits.highest - limits.lowest)
    return np.clip(ratio + np.clip(move, -most, most), limits.lowest, limits.highest)


def _closed_in(network, loop, numbers, find, empty):
    count = network.conditions
    beside = LoopsAtRest(empty, np.zeros(count), np.full(count, NOT_FOUND), np.full(count, np.nan))
    rows, chords = np.arange(count), Chords(count, loop.lowest, loop.highest)
    for attempt in range(MOST_TRIES):
        ratio = chords.ratio(attempt)
        part = find(at_shaft_ratio(network.take(rows), ratio), rows)
        solution = part.solution if isinstance(part, OperatingPoint) else part
        reading = loop.read(solution.pressure, *numbers)
        excess = reading - loop.target_pa
        state = _state(excess, attempt)
        state[~solution.converged] = NOT_FOUND
        done = (state != NOT_FOUND) | (attempt == MOST_TRIES - 1)
        beside.record(rows[done], ratio[done], state[done], reading[done])
        _record(beside.found, part, done, rows[done])
        if done.all():
            break
        chords.look(attempt, ratio, excess)
        rows = rows[~done]
        chords.keep(~done)
    return beside


def _state(excess, attempt):
    """State of each reading; the first two tries are the lowest and the highest speed."""
    state = np.where(np.abs(excess) <= READING_TOLERANCE_PA, HELD, NOT_FOUND)
    if attempt == 0:
        state[excess > READING_TOLERANCE_PA] = AT_LOWEST_SPEED
    if attempt == 1:
        state[excess < -READING_TOLERANCE_PA] = AT_FULL_SPEED
    return state


def _record(found, part, done, rows):
    if isinstance(found, OperatingPoint):
        found.record(rows, part.ratio[done], part.state[done], part.reading_pa[done])
        found, part = found.solution, part.solution
    found.record_from(part, done, rows)
