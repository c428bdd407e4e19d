"""Judging a visit: the fault, its cure, the evidence, the minutes; how a good hand would have gone, and what a check is worth.

What rules a fault out is worked out, not typed (fault_bench.faults): a fault is out where a conclusion came out as it does not come out
with that fault in any of many seats. The good hand's way is the cheapest set of checks after which only the fault that is there is left.
That is the shortest proof; who does not know yet what it will prove needs luck or more. Tables beyond that look at one seat with every
fault in it, one after the other; other seats differ in weather, ranges and sizes.
"""

from collections import defaultdict
from dataclasses import dataclass
from functools import cache, lru_cache
from statistics import mean

from helpers.fault_bench.case import case_of, proof, seen_at, signs
from helpers.fault_bench.checks import CHECKS, MINUTES, Seen, check_named, in_words
from helpers.fault_bench.diagnosis import CONCLUSIONS
from helpers.fault_bench.faults import FAULTS, Fault, cure_named, fault_named, left_after, possible, telling
from helpers.fault_bench.faulty_loop import TAPS

FAULT_POINTS, CURE_POINTS, EVIDENCE_POINTS, TIME_POINTS, THRIFT_POINTS = 40, 15, 25, 10, 10
NEEDLESS_POINTS = 4  # off for each needless check
MUCH_MIN = 60.0  # so much longer than needed earns nothing for time
MOST_NAMED = 5


@dataclass(frozen=True)
class GoodStep:
    """One step of a good hand's way. seen: None for the trend; left: `Fault`s still standing after it; told: what follows from it beside
    what was seen before, as (what about, how it came out)."""

    seen: Seen | None
    left: tuple
    told: tuple = ()

    @property
    def minutes(self):
        """What it costs."""
        return self.seen.minutes if self.seen else 0.0

    def words(self):
        """What is seen, and who is left."""
        said = self.seen.words() if self.seen else "The trend costs nothing."
        said += "".join(f" {what[0].upper()}{what[1:]}: {outcome}." for what, outcome in self.told)
        return f"{said} {self.left_words}"

    @property
    def left_words(self):
        """Who is left, by name where there are few."""
        if len(self.left) == 1:
            return f"Only this is left: {self.left[0].name}."
        return f"{len(self.left)} of {len(FAULTS)} faults still fit, nothing is proved" + (
            f": {_named(self.left)}." if len(self.left) <= MOST_NAMED else "."
        )


@dataclass(frozen=True)
class Judgement:
    """What a visit was worth.

    needless: the `Seen` that told nothing the others did not tell; left: `Fault`s that the checks taken can not tell from the one that is
    there, itself included; reckoning: (words, points); replay: `GoodStep`s of a good hand; replay_min: what they cost.
    """

    fault: Fault
    fault_right: bool
    cure_right: bool
    evidence_right: bool
    spent_min: float
    needless: tuple
    left: tuple
    reckoning: tuple
    replay: tuple
    replay_min: float

    @property
    def score(self):
        """0 to 100."""
        return max(0, min(100, round(sum(points for _, points in self.reckoning))))

    def words(self):
        """The judgement in a few sentences."""
        first = "Right" if self.fault_right else "No"
        others = [fault for fault in self.left if fault.key != self.fault.key]
        said = [f"{first}: {self.fault.name}. {self.fault.what} The cure: {cure_named(self.fault.cure).name}."]
        if others:
            said.append(f"What you looked at would look the same with: {_named(others)}.")
        said.append(f"{self.spent_min:g} min spent; {self.replay_min:g} min are enough. {self.score} of 100.")
        return " ".join(said)


def _named(faults):
    """Names of the first few, and how many more there are."""
    more = f" and {len(faults) - MOST_NAMED} more" if len(faults) > MOST_NAMED else ""
    return ", ".join(fault.name for fault in faults[:MOST_NAMED]) + more


def left_of(case, looks, trend=True):
    """The `Fault`s that some looks, a set of (check, place), and the trend do not rule out; the one that is there among them."""
    keys = tuple(fault.key for fault in case.faults)
    return tuple(map(fault_named, left_after(looks, case.fault_key, signs(case), case.mode, keys, trend)))


def judge(visit, fault_key, evidence, cure_key):
    """Judge a visit. evidence: keys of checks that were taken and that the answer rests on. Returns `Judgement`.

    Raises ValueError for a fault that can not be the answer, an unknown cure, a check that was not taken.
    """
    case, evidence = visit.case, tuple(evidence)
    named = fault_named(fault_key)
    if named not in case.faults:
        raise ValueError(f"fault must be one that can be there, got {fault_key!r:.60}")
    for key in evidence:
        if check_named(key).key not in {seen.check.key for seen in visit.taken}:
            raise ValueError(f"evidence must be checks that were taken, got {key!r:.60}")
    marks = _Marks(visit, fault_key, evidence, cure_named(cure_key).key)
    return marks.judgement()


def best_path(fault_key, seed, level=2, mode=None):
    """(minutes, looks) of the cheapest checks that leave only a fault, in the seat of a seed."""
    return proof(case_of(fault_key, seed, level, mode))


class _Marks:
    def __init__(self, visit, fault_key, evidence, cure_key):
        self.visit, self.case = visit, visit.case
        self.true = fault_named(self.case.fault_key)
        self.fault_right, self.cure_right = fault_key == self.true.key, cure_key == self.true.cure
        self.named = {seen.look for seen in visit.taken if seen.check.key in evidence}
        self.left, self.by_evidence = self._left(visit.looks), self._left(self.named)
        self.evidence_right = self.fault_right and len(self.by_evidence) == 1
        self.needless = self._needless()
        self.replay_min, looks = proof(self.case)
        self.replay = self._replay(looks)

    def _left(self, looks):
        return left_of(self.case, looks)

    def _needless(self):
        """Checks without which as much would be known, the dearest first; the same one taken again."""
        kept, again, needless = set(), [], []
        for seen in self.visit.taken:
            (again if seen.look in kept else needless).append(seen)
            kept.add(seen.look)
        told = []
        for seen in sorted(needless, key=lambda seen: -seen.minutes):
            if len(self._left(kept - {seen.look})) == len(self.left):
                kept.remove(seen.look)
                told.append(seen)
        return (*again, *told)

    def _replay(self, looks):
        """The looks, each next one the one that leaves fewest for its minutes; words for each."""
        taken, steps, rest = set(), [GoodStep(None, self._left(()))], set(looks)
        while rest:
            following = min(rest, key=lambda one: (len(self._left(taken | {one})), MINUTES[one[0]], str(one)))
            rest.remove(following)
            standing = [fault.key for fault in steps[-1].left if fault != self.true]
            told = telling(taken, following, signs(self.case), self.case.mode, standing)
            taken.add(following)
            seen = seen_at(self.case, check_named(following[0]), following[1])
            steps.append(GoodStep(seen, self._left(taken), tuple((what, in_words(outcome)) for what, outcome in told)))
        return tuple(steps)

    def _reckoning(self):
        yield ("fault named rightly" if self.fault_right else "another fault named", FAULT_POINTS if self.fault_right else 0)
        yield ("its cure" if self.cure_right else "another cure", CURE_POINTS if self.cure_right else 0)
        yield self._for_evidence()
        if not self.fault_right:
            return
        if not self.evidence_right:
            yield "not proved: half of the points for fault and cure", -(FAULT_POINTS + CURE_POINTS * self.cure_right) // 2
            return
        over = self.visit.spent_min - self.replay_min
        yield (
            f"{self.visit.spent_min:g} min, {self.replay_min:g} min are enough",
            max(0, round(TIME_POINTS * min(1.0, 1 - over / MUCH_MIN))),
        )
        yield f"needless checks: {len(self.needless)}", max(0, THRIFT_POINTS - NEEDLESS_POINTS * len(self.needless))

    def _for_evidence(self):
        if not self.fault_right:
            return "evidence for a fault that is not there", 0
        if self.evidence_right:  # among plain faults the trend may be proof enough; whoever sees that needs no check
            return f"{'the evidence' if self.named else 'the trend alone'} leaves nothing else", EVIDENCE_POINTS
        if not self.named:
            return "no evidence", 0
        rivals = [fault for fault in self.by_evidence if fault != self.true]
        share = 1 - len(rivals) / (len(self.case.faults) - 1)
        return f"the evidence leaves as well: {_named(rivals)}", round(EVIDENCE_POINTS / 2 * share)

    def judgement(self):
        return Judgement(
            self.true, self.fault_right, self.cure_right, self.evidence_right, self.visit.spent_min, self.needless, self.left,
            tuple(self._reckoning()), self.replay, self.replay_min,
        )  # fmt: skip


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
def signs_of_faults():
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
    # sets of looks: each one alone, and those of a conclusion that is drawn from two
    alone = [frozenset([(check.key, place)]) for check in CHECKS for place in check.places or (None,)]
    for looks in [*alone, *{frozenset(one.needs) for one in CONCLUSIONS if len(one.needs) == 2}]:
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
