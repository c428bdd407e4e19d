"""The fault bench in tables: which faults look alike to which check, what proves each for the fewest minutes, what a check is worth.

Which faults can show an outcome is told over all seats of the bench's table. For the rest one seat is looked at with every fault in it, one
after the other; other seats differ in weather, ranges and sizes.
"""

from collections import defaultdict
from dataclasses import dataclass
from functools import cache, lru_cache
from statistics import mean

from helpers.lessons.fault_bench import CHECKS, FAULTS, Fault, best_path, case_of
from helpers.lessons.fault_bench.checks import check_named
from helpers.lessons.fault_bench.judge import left_of
from helpers.studies.fault_bench.outcomes import possible
from helpers.studies.fault_bench.seat import TAPS
from helpers.studies.fault_bench.telling import CONCLUSIONS

__all__ = ["LEVEL", "MODE", "SEED", "Proof", "Sign", "Worth", "proofs", "signs", "worths"]

SEED, LEVEL, MODE = 10, 2, "everyday mode"  # of the seat in the tables; every fault can be there in the everyday mode


@dataclass(frozen=True)
class Proof:
    """A fault; alike: others that the trend does not rule out; looks: (check, place) of the cheapest proof, and its minutes, or () and None
    where nothing of the bench proves it in this seat."""

    fault: Fault
    alike: tuple
    looks: tuple
    minutes: float | None


@dataclass(frozen=True)
class Worth:
    """Checks taken first, alone or two together: minutes, and how many of the suspects they rule out, on average over all faults."""

    checks: tuple
    minutes: float
    ruled_out: float

    @property
    def a_minute(self):
        """Suspects ruled out for each minute."""
        return self.ruled_out / self.minutes


@lru_cache(4)
def proofs(seed=SEED, level=LEVEL, mode=MODE):
    """`Proof` of every fault in a seat."""
    return tuple(_proof(case, seed, level, mode) for case in _cases(seed, level, mode))


@dataclass(frozen=True)
class Sign:
    """An outcome that a sound loop does not show. what: is laid side by side; checks: that it takes; faults: that can show it."""

    what: str
    checks: tuple
    outcome: str
    faults: tuple


@cache
def signs():
    """`Sign`s, over all seats and both modes of the bench's table; of both transmitters those of the first."""
    shown = defaultdict(lambda: defaultdict(set))
    for (_, conclusion), by_case in possible().items():
        for (fault, _), outcomes in by_case.items():
            for outcome in outcomes:
                shown[conclusion][outcome].add(fault)
    found = []
    for conclusion in CONCLUSIONS:
        if not any(name in conclusion.key for name in (TAPS[1], "input 2")):
            checks = tuple(check for check in CHECKS if check.key in {key for key, _ in conclusion.needs})
            for outcome, faults in sorted(shown[conclusion.key].items()):
                if "none" not in faults and "_2" not in outcome:
                    found.append(Sign(conclusion.key, checks, outcome, tuple(fault for fault in FAULTS if fault.key in faults)))
    return tuple(found)


@lru_cache(4)
def worths(seed=SEED, level=LEVEL, mode=MODE):
    """`Worth` of every check, and of every two from which something is concluded together, the best for its minutes first."""
    cases = _cases(seed, level, mode)
    suspects = [len(left_of(case, ())) for case in cases]
    found = {}
    for looks in _ways():
        checks = tuple(check for check in CHECKS if check.key in {key for key, _ in looks})
        out = mean(before - len(left_of(case, looks)) for before, case in zip(suspects, cases, strict=True))
        worth = Worth(checks, sum(check_named(key).minutes for key, _ in looks), out)
        if checks not in found or worth.a_minute > found[checks].a_minute:
            found[checks] = worth
    return tuple(sorted(found.values(), key=lambda worth: -worth.a_minute))


def _cases(seed, level, mode):
    there = {fault.key for fault in case_of("none", seed, level, mode).faults}
    return [case_of(fault.key, seed, level, mode) for fault in FAULTS if fault.key in there]


def _proof(case, seed, level, mode):
    fault = next(fault for fault in case.faults if fault.key == case.fault_key)
    alike = tuple(other for other in left_of(case, ()) if other != fault)
    try:
        minutes, looks = best_path(fault.key, seed, level, mode)
    except ValueError:  # nothing of the bench rules one of the others out here
        return Proof(fault, alike, (), None)
    ordered = sorted(looks, key=lambda look: (CHECKS.index(check_named(look[0])), look[1] or ""))
    return Proof(fault, alike, tuple((check_named(key), place) for key, place in ordered), minutes)


def _ways():
    """Sets of looks: each one alone, and those of a conclusion that is drawn from two."""
    alone = [frozenset([(check.key, place)]) for check in CHECKS for place in check.places or (None,)]
    return [*alone, *{frozenset(one.needs) for one in CONCLUSIONS if len(one.needs) == 2}]
