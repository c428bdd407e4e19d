"""The bench's reasoning on a log from site: which of its faults fit what the trend plainly shows, and which check separates them best.

What each fault can look like stands in the bench's table: many seats of one building, in whose trend a final exit opens and shuts. So a log
counts only where something moved that readings answer to, and a fault that is ruled out is ruled out as far as that table goes: a fault
that the bench does not have, or two at once, are in no table. Limits: two transmitters; the log's first reading is the lower one.
"""

from dataclasses import dataclass

import numpy as np

from helpers import require
from helpers.fault_bench.checks import MINUTES, check_named
from helpers.fault_bench.diagnosis import CONCLUSIONS, FLAT_PA, facts_of
from helpers.fault_bench.faults import Fault, fault_named, possible
from helpers.fault_bench.faulty_loop import MODES, PLACED, TAPS, faults_of
from helpers.fault_bench.found import RECORDED_S
from helpers.studies.measured.trends.moves import filled

FEWEST_ROWS, LATE_SHARE, MOVED_HZ = 60, 0.4, 2.0  # ours: rows at the bench's pace, share at the end that is looked at for scatter
MOST_CHECKS = 3


@dataclass(frozen=True)
class NextCheck:
    """Looks that belong together: names in words, minutes of all, faults expected to be left after them."""

    names: tuple[str, ...]
    minutes: float
    left: float


@dataclass(frozen=True)
class Suspects:
    """facts: {what the trend shows of: outcome}; left, out: `Fault`s that fit, that do not; checks: of `NextCheck`, the one that rules out
    most for its minutes first; refused: why the log says nothing, "" where it does."""

    facts: dict[str, str]
    left: tuple[Fault, ...]
    out: tuple[Fault, ...]
    checks: tuple[NextCheck, ...]
    refused: str = ""


def suspects_of(trend, tops_pa, ends_hz, mode=MODES[0]):
    """What fits a log. trend: `Trend` with two readings in Pa and the speed in Hz; tops_pa: of both ranges; ends_hz: (lowest, highest) of
    the drive; mode: one of the bench's. Returns `Suspects`. Raises ValueError for a mode that is none, ranges or speeds that cannot be."""
    require.one_of(MODES, mode=mode)
    tops = require.positive(tops_pa=tops_pa)
    lowest, highest = require.at_least(0, ends_hz=ends_hz)
    refused = _refused(trend)
    every = tuple(map(fault_named, faults_of(mode)))
    if refused:
        return Suspects({}, every, (), (), refused)
    time_s = np.arange(trend.time_s[0], trend.time_s[-1], RECORDED_S)
    place = np.clip(np.searchsorted(trend.time_s, time_s + 1e-9, side="right") - 1, 0, trend.rows - 1)
    readings = np.stack([filled(trend.values[heading])[place] for heading in trend.columns.readings[:2]], axis=1)
    speed = filled(trend.values[trend.columns.speed])[place]
    if max(np.ptp(readings, axis=0).max() / FLAT_PA, np.ptp(speed) / MOVED_HZ) < 1:
        return Suspects({}, every, (), (), "Nothing moves in this log: a reading that is stuck and one that is at rest look alike.")
    facts = facts_of(readings, speed, time_s >= time_s[0] + (1 - LATE_SHARE) * (time_s[-1] - time_s[0]), tops, (lowest, highest))
    table, cases = possible(), [(key, at) for key in faults_of(mode) for at in ((0, 1) if key in PLACED else (0,))]
    left = [one for one in cases if all(outcome in table[mode, key][one] for key, outcome in facts.items())]
    kept = dict.fromkeys(fault for fault, _ in left)
    return Suspects(
        facts,
        tuple(map(fault_named, kept)),
        tuple(fault for fault in every if fault.key not in kept),
        tuple(_checks(left, mode)[:MOST_CHECKS]),
    )


def _refused(trend):
    if len(trend.columns.readings) < 2:
        return f"The bench's faults are told apart by both transmitters: name two readings, {' and '.join(TAPS)}."
    if trend.columns.speed is None or trend.dimensions[trend.columns.speed] != "frequency":
        return "The bench's faults need the measured speed of the fan in Hz."
    if any(trend.dimensions[heading] != "pressure" for heading in trend.columns.readings[:2]):
        return "The bench's faults need both readings as pressures."
    if trend.time_s[-1] < FEWEST_ROWS * RECORDED_S:
        return f"The bench's faults need a log of {FEWEST_ROWS * RECORDED_S:g} s or more."
    return ""


def _checks(left, mode):
    """`NextCheck`s, by how many faults each rules out for a minute: every fault that is left as likely as another, every outcome that it
    can have as likely as another; conclusions one by one."""
    table, found, number = possible(), {}, len({fault for fault, _ in left})
    for one in CONCLUSIONS:
        allowed = {case: table[mode, one.key][case] for case in left}
        if not all(allowed.values()):
            continue
        who = {
            outcome: len({fault for (fault, _), can in allowed.items() if outcome in can}) for can in allowed.values() for outcome in can
        }
        expected = float(np.mean([np.mean([who[outcome] for outcome in can]) for can in allowed.values()]))
        needs = frozenset(one.needs)
        found[needs] = min(expected, found.get(needs, np.inf))
    made = []
    for needs, expected in found.items():
        looks = sorted(needs, key=str)
        names = tuple(f"{check_named(check).name}{f' ({at})' if at else ''}" for check, at in looks)
        made.append(NextCheck(names, float(sum(MINUTES[check] for check in {check for check, _ in looks})), expected))
    worth = [one for one in made if one.left < number - 1e-9]
    return sorted(worth, key=lambda one: (-(number - one.left) / max(one.minutes, 0.5), one.minutes, one.names))
