"""The second shaft's own loop at rest beside that of the stair: one unknown more.

More of its speed raises its own reading, whatever the stair's loop does about it, so that there is one speed. It is closed in from both
limits by chords (the Illinois rule), a complete solution of the network, with the stair's loop where that is asked, a try.
Limits: both loops at rest; nothing here tells whether they swing against each other.
"""

from dataclasses import dataclass

import numpy as np

from helpers.model.air import network as heights
from helpers.model.air.operating_point import (
    AT_FULL_SPEED,
    AT_LOWEST_SPEED,
    HELD,
    MOST_TRIES,
    NOT_FOUND,
    STATES,
    Chords,
    OperatingPoint,
    hold,
)
from helpers.model.air.second_shaft.openings import OtherFan, at_shaft_ratio

READING_TOLERANCE_PA = 1e-3  # ours: ten times what the stair's loop leaves, whose rest moves this reading too


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


def solve_beside(network, loop, numbers):
    """The air at the speed ratios of the network, with the second fan where its loop rests. Returns `LoopsAtRest`.

    loop: `ShaftLoop`; numbers: of the spaces shaft and floor. Never raises for a condition without answer.
    """
    return _closed_in(network, loop, numbers, lambda tried, rows: heights.solve(tried), heights.empty_solution(network))


def hold_beside(network, loop, numbers, taps, rule, target, lowest, highest, weights=None):
    """Both loops at rest; loop and numbers as in `solve_beside`, the rest as in `operating_point.hold`. Returns `LoopsAtRest`."""
    count = network.conditions
    empty = OperatingPoint(np.zeros(count), np.full(count, NOT_FOUND), np.zeros(count), heights.empty_solution(network))
    return _closed_in(network, loop, numbers, lambda tried, rows: hold(tried, taps, rule, target[rows], lowest, highest, weights), empty)


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
        beside.ratio[rows[done]], beside.state[rows[done]], beside.reading_pa[rows[done]] = ratio[done], state[done], reading[done]
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
