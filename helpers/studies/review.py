"""Review of somebody else's strategy: what is wrong with it, the gravest first, each with the figure computed on the site it is for.

A review finds what it looks for (`KINDS` lists it) and nothing else; it does not replace the check on site.
"""

from dataclasses import dataclass, replace
from functools import cached_property

from helpers.model.strategy import Strategy
from helpers.studies import review_loop, review_rule, review_signals, review_stop
from helpers.studies.figures import Finding, Table
from helpers.studies.review_bench import ReviewBench
from helpers.studies.review_kinds import BUILDING, STRATEGY
from helpers.studies.reviewing import alarms, building, drive, elsewhere, failures, tuning
from helpers.studies.reviewing.causes import cause_of
from helpers.studies.reviewing.plants import PLANT_BENCHES
from helpers.studies.status import SEVERITIES, folded, headline, word_of

__all__ = ["KINDS", "Found", "Review", "review"]

# Before all others of their severity, in this order: nothing else matters until they are put right. A set point that does not suit the
# rule comes before what is the building's, since the building is then judged by an entry that is wrong.
FIRST = ("stop in fire", "mode", "wrong action", "set point fails")
ENTRY = "entered range"  # with it wrong, some things are clear that are not once it is put right
KINDS = (
    *failures.KINDS,
    *alarms.KINDS,
    *drive.KINDS,
    *review_signals.KINDS,
    *review_rule.KINDS,
    *building.KINDS,
    *review_loop.KINDS,
    *tuning.KINDS,
    *review_stop.KINDS,
)


@dataclass(frozen=True)
class Found:
    """One finding with the key of its kind, and whose it is to mend: of the strategy or of the building."""

    key: str
    finding: Finding
    whose: str = STRATEGY


@dataclass(frozen=True)
class Review:
    """What was found on a strategy, the gravest first, the kinds that were looked for without a finding, the bench it was found on, and the
    kinds that could not be judged, each with the reason: (title, why)."""

    strategy_name: str
    site_name: str
    system: str
    found: tuple
    clear: tuple
    bench: ReviewBench
    unjudged: tuple = ()

    @property
    def keys(self):
        """Kinds that were found."""
        return tuple(dict.fromkeys(one.key for one in self.found))

    @cached_property
    def findings(self):
        """One finding for each cause, its consequences under it; the gravest first, of equals what is so now before what might be."""
        causes = folded([one.finding for one in self.found])
        return tuple(sorted(causes, key=_gravity))

    def whose(self, finding):
        """Whose a finding is to mend: of the strategy or of the building."""
        return next(one.whose for one in self.found if (one.key, one.finding.what) == (finding.key, finding.what))

    @property
    def of_strategy(self):
        """What is found that an entry in the drive mends."""
        return tuple(one.finding for one in self.found if one.whose == STRATEGY)

    @property
    def counted(self):
        """How many things were judged, and how many could not be, in words."""
        judged, left = len(self.clear) + len(self.keys), len(self.unjudged)
        return f"{judged} things that were judged" + (f"; {left} more could not be judged" if left else "")

    def verdict(self):
        """How many findings of each severity, and how many of the grave ones an entry in the drive mends, in a sentence or two."""
        if not any(one.finding.severity in ("wrong", "attention") for one in self.found):
            return f"Nothing was found among {self.counted}. That is no proof: check on site."
        counted = f"{headline(self.findings)}, of {self.counted}."
        others = sum(self.whose(one) == BUILDING for one in self.findings if one.severity == "wrong")
        fail, are = word_of("wrong"), "is" if others == 1 else "are"
        entries = [one.what for one in self.findings if one.severity == "wrong" and one.key in FIRST]
        first = f" First put right the entry: {entries[0][0].lower()}{entries[0][1:]}." if entries else ""
        if not others:
            return f"{counted}{first}"
        told = f"{others} {are} the building's, which no entry in the drive mends."
        return f"{counted}{first} {'Judged with it, of' if entries else 'Of'} the {fail} ones {told}"

    def clear_table(self):
        """What was looked for and not found."""
        return Table("clear", "Looked for and not found", ("What",), tuple((title,) for title in self.clear))

    def unjudged_table(self):
        """What was looked for and could not be judged."""
        return Table("unjudged", "Looked for, and could not be judged", ("What", "Why"), self.unjudged)


def review(strategy, site, system="Pa"):
    """Review a strategy of any plant on the site it is for.

    strategy: one of `plant_strategies.STRATEGY_KINDS`; site: of the kind it is for; system: one of units.SYSTEMS. Returns `Review`.
    Raises ValueError where the site is of another kind, SiteFileError where the strategy cannot be built on the site at all, such as a
    transmitter on a storey that is not there.
    """
    bench, found, clear = bench_of(strategy, site), [], []
    for kind in kinds_for(strategy):
        seen = tuple(kind.look(bench, system))
        whose = kind.belongs(bench) if seen else STRATEGY
        found += [Found(kind.key, replace(finding, key=kind.key), whose) for finding in seen]
        clear += [] if seen else [kind]
    whose, keys = {one.key: one.whose for one in found}, {one.key for one in found}
    for place, one in enumerate(found):  # what follows from the building's is the building's, what follows from an entry the strategy's
        cause = cause_of(one.key, keys)
        made = whose.get(cause, one.whose)
        told = _marked(one.finding) if one.whose == made == BUILDING else one.finding
        found[place] = replace(one, finding=replace(told, caused_by=cause), whose=made)
    found.sort(key=lambda one: _gravity(one.finding))
    unjudged = tuple(_unjudged(clear, keys, strategy, bench, system))
    hidden = {title for title, _ in unjudged}
    clear = tuple(kind.title for kind in clear if kind.title not in hidden)
    return Review(strategy.name, site.name, system, tuple(found), clear, bench, unjudged)


def _unjudged(kinds, found, strategy, bench, system):
    """(title, why) of the kinds without a finding that are clear for want of something to look at, or only as long as an entry is wrong."""
    righted = bench_of(strategy.model_copy(update={"inputs": bench.entered_rightly}), bench.stated) if ENTRY in found else None
    for kind in kinds:
        missing = kind.missing(bench)
        if missing:
            yield kind.title, f"not stated: {missing}"
        elif righted is not None and (seen := next(iter(kind.look(righted, system)), None)) is not None:
            yield kind.title, f"hidden by a wrong entry; once it is put right, {word_of(seen.severity)}: {seen.what}"


def _gravity(finding):
    """Where a finding stands in the order: the gravest first, of equals the entries that come before all else, then what is so now."""
    place = FIRST.index(finding.key) if finding.key in FIRST else len(FIRST)
    return SEVERITIES.index(finding.severity), place, finding.possible


def kinds_for(strategy):
    """What is looked for in a strategy: for a stair everything, for another plant what is not of stairs alone."""
    return KINDS if isinstance(strategy, Strategy) else (*elsewhere.KINDS, *(kind for kind in KINDS if not kind.stairs_only))


def bench_of(strategy, site):
    """The bench on which a strategy is looked at. Raises as review."""
    return PLANT_BENCHES.get(type(strategy), ReviewBench)(strategy, site)


def _marked(finding):
    """A finding with the word that it is the building's."""
    return replace(finding, why=f"{finding.why}; this is the building's, no entry in the drive mends it")
