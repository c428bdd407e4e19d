"""The faults of the bench and their cures, which of them each level has, and what each can look like: a table over many seats.

Whoever stands before a loop does not know how it would look with another fault in it: set point, ranges, weather and the size of a fault
differ. So a fault is ruled out by a conclusion only if in no seat of the table it comes out so. Running all seats takes minutes; the table
lies beside the package, in data/tables, and is made anew by

    python -m helpers.fault_bench.faults

A test makes a part of it again. Limits: a rare seat may look as none of the table's does; conclusions are taken one by one, so that two
which only rule a fault out together do not count.
"""

import csv
import sys
from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path

from helpers import require
from helpers.fault_bench import faulty_loop
from helpers.fault_bench.checks import TEXTS
from helpers.fault_bench.diagnosis import CONCLUSIONS, signature, trend_facts
from helpers.fault_bench.faulty_loop import MODES, PLACED, TAPS, faults_of, seat_of
from helpers.fault_bench.found import fresh


@dataclass(frozen=True)
class Cure:
    """What is done about a fault."""

    key: str
    name: str


@dataclass(frozen=True)
class Fault:
    """key: one of studies' faults; name and what: in words; cure: key of its `Cure`."""

    key: str
    name: str
    what: str
    cure: str


@dataclass(frozen=True)
class Level:
    """number; name; words: what it asks; budget_min: minutes to spend, None for as long as one likes; rough: noise, times the usual."""

    number: int
    name: str
    words: str
    budget_min: float | None
    rough: float


LEVELS = (
    Level(1, "plain", "One of ten plain faults, or none. Take the time you need.", None, 1.0),
    Level(2, "on call", "Any fault of the bench, or none. You have an hour.", 60.0, 1.0),
    Level(
        3,
        "late in the day",
        "Any fault, or none; rougher signals, a complaint that leads nowhere, and three quarters of an hour.",
        45.0,
        3.0,
    ),
)
PLAIN = ("none", "range_entered", "tube_off", "stuck", "offset", "rule", "action", "set_point", "noise", "ramp_slow", "fan_backward")

FAULTS = tuple(Fault(key, text["name"], text["what"], text["cure_key"]) for key, text in TEXTS["faults"].items())
CURES = tuple(Cure(text["cure_key"], text["cure"]) for text in TEXTS["faults"].values())
_FAULTS, _CURES = ({one.key: one for one in several} for several in (FAULTS, CURES))


def fault_named(key):
    """The `Fault` of a key. Raises ValueError for another."""
    return _FAULTS[require.one_of(_FAULTS, fault=key)]


def cure_named(key):
    """The `Cure` of a key. Raises ValueError for another."""
    return _CURES[require.one_of(_CURES, cure=key)]


def faults_at(level, mode):
    """Keys of the faults that can be there at a `Level` in a mode; a stop for low demand is never there in the fire mode."""
    there = faulty_loop.faults_of(mode)
    return tuple(key for key in there if level.number > 1 or key in PLAIN)


FILE = Path(__file__).parents[2] / "data" / "tables" / "fault_bench_outcomes.csv"
SEATS = 24  # of each fault at each place, in each mode; every third one rough
ROUGH = 3.0
FACTS = (*(f"reading of {tap}" for tap in TAPS), "speed")
COLUMNS = ("mode", "conclusion", "outcome", "faults")


def signs_of(loop):
    """All that a loop as it is found can show: {conclusion or fact of the trend: outcome}."""
    return signature(loop) | trend_facts(loop)


@cache
def possible():
    """{(mode, conclusion): {(fault, place): set of outcomes}} as the table has it."""
    found_there = defaultdict(lambda: defaultdict(set))
    with FILE.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        for row in rows:
            for name in row["faults"].split():
                fault, place = name.split(":")
                found_there[row["mode"], row["conclusion"]][fault, int(place)].add(row["outcome"])
    return found_there


def left_after(looks, fault, signs, mode, faults, trend=True):
    """Faults, of `faults`, that some looks (and the trend) do not rule out; the one that is there is always among them.

    looks: set of (check, place); fault: that is there; signs: what its loop shows, of `signs_of`; mode: of the seat.
    """
    keys = _drawn(looks) + (list(FACTS) if trend else [])
    return tuple(other for other in faults if other == fault or any(_agrees(one, keys, signs, mode) for one in _cases(other)))


def telling(looks, new, signs, mode, standing):
    """What the newest look lets conclude: [(conclusion, outcome)] of those that speak against a fault still standing."""
    fresh_keys = [key for key in _drawn({*looks, new}) if key not in _drawn(looks)]
    cases = [one for fault in standing for one in _cases(fault)]
    return [(key, signs[key]) for key in fresh_keys if any(signs[key] not in possible()[mode, key][one] for one in cases)]


def cheapest_looks(fault, signs, mode, faults, minutes):
    """The looks of least cost that, with the trend, leave only the fault that is there. minutes: {check: minutes}.

    Returns (minutes, frozenset of looks); raises ValueError where some fault cannot be ruled out at all.
    """
    rivals = [one for other in faults if other != fault for one in _cases(other) if _agrees(one, FACTS, signs, mode)]
    ways = [_ways(one, signs, mode, minutes) for one in rivals]
    return _Search(ways, minutes).found()


def _cases(fault):
    return [(fault, place) for place in ((0, 1) if fault in PLACED else (0,))]


def _drawn(looks):
    return _drawn_from(frozenset(looks))


@lru_cache(512)
def _drawn_from(looks):
    """Conclusions that some looks allow."""
    return [conclusion.key for conclusion in CONCLUSIONS if looks.issuperset(conclusion.needs)]


def _agrees(one, keys, signs, mode):
    table = possible()
    return all(signs[key] in table[mode, key][one] for key in keys)


def _ways(one, signs, mode, minutes):
    """Sets of looks that rule a fault out, none within another, the cheap ones first."""
    needs = {frozenset(c.needs) for c in CONCLUSIONS if signs[c.key] not in possible()[mode, c.key][one]}
    least = [need for need in needs if not any(less < need for less in needs)]
    if not least:
        raise ValueError(f"signs must rule {one[0]!r} out by some conclusion, none does")
    return sorted(least, key=lambda need: (_cost(need, minutes), sorted(map(str, need))))


def _cost(looks, minutes):
    return sum(minutes[check] for check, _ in looks)


class _Search:
    """Branch and bound: some way for each rival; a branch ends where it costs as much as the best found."""

    def __init__(self, ways, minutes):
        self.ways, self.minutes, self.seen = ways, minutes, set()
        self.best = (float("inf"), frozenset())

    def found(self):
        self._go(frozenset())
        return self.best

    def _go(self, looks):
        cost = _cost(looks, self.minutes)
        if looks in self.seen or cost >= self.best[0]:
            return
        self.seen.add(looks)
        still = [ways for ways in self.ways if not any(way <= looks for way in ways)]
        if not still:
            self.best = (cost, looks)
            return
        if cost + max(min(_cost(way - looks, self.minutes) for way in ways) for ways in still) >= self.best[0]:
            return
        for way in sorted(min(still, key=len), key=lambda way: (_cost(way - looks, self.minutes), sorted(map(str, way)))):
            self._go(looks | way)


def outcomes(fault, mode, place, number):
    """Signs of a fault at a place (0 or 1) in the table's seat of a number."""
    seat = seat_of(number, ROUGH if number % 3 == 2 else 1.0, mode)
    return signs_of(fresh(replace(seat, place=place), fault))


def _make():
    """All rows of the table."""
    named = defaultdict(set)
    for mode in MODES:
        for fault, place in (one for name in faults_of(mode) for one in _cases(name)):
            for number in range(SEATS):
                for key, outcome in outcomes(fault, mode, place, number).items():
                    named[mode, key, outcome].add(f"{fault}:{place}")
            print(mode, fault, place, file=sys.stderr)
    return [dict(zip(COLUMNS, (*row, " ".join(sorted(names))), strict=True)) for row, names in sorted(named.items())]


def _write(rows):
    with FILE.open("w", encoding="utf-8", newline="") as file:
        file.write("# Fault bench, made by python -m helpers.fault_bench.faults\n")
        file.write(f"# Which faults (:place of the transmitter) show an outcome in at least one of {SEATS} seats each.\n")
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    _write(_make())
