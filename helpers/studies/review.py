"""Review of somebody else's strategy: what is wrong with it, the gravest first, each with the figure computed on the site it is for.

A review finds what it looks for (`KINDS` lists it) and nothing else; it does not replace the check on site.
"""

from dataclasses import dataclass

from helpers.studies import review_loop, review_rule, review_safety, review_signals, review_stop
from helpers.studies.figures import Finding, Table
from helpers.studies.review_bench import ReviewBench
from helpers.studies.status import SEVERITIES, headline

__all__ = ["KINDS", "Found", "Review", "review"]

FIRST = ("stop in fire", "mode", "wrong action")  # before all others of their severity: nothing else matters until they are put right
KINDS = (*review_safety.KINDS, *review_signals.KINDS, *review_rule.KINDS, *review_loop.KINDS, *review_stop.KINDS)


@dataclass(frozen=True)
class Found:
    """One finding with the key of its kind."""

    key: str
    finding: Finding


@dataclass(frozen=True)
class Review:
    """What was found on a strategy, the gravest first, the kinds that were looked for without a finding, and the bench it was found on."""

    strategy_name: str
    site_name: str
    system: str
    found: tuple
    clear: tuple
    bench: ReviewBench

    @property
    def keys(self):
        """Kinds that were found."""
        return tuple(dict.fromkeys(one.key for one in self.found))

    @property
    def findings(self):
        """All findings, the gravest first."""
        return tuple(one.finding for one in self.found)

    def verdict(self):
        """How many findings of each severity, in one sentence."""
        if not any(one.finding.severity in ("wrong", "attention") for one in self.found):
            return f"Nothing was found among the {len(KINDS)} things that were looked for. That is no proof: check on site."
        return f"{headline(self.findings)}, of {len(KINDS)} things that were looked for."

    def clear_table(self):
        """What was looked for and not found."""
        return Table("clear", "Looked for and not found", ("What",), tuple((title,) for title in self.clear))


def review(strategy, site, system="Pa"):
    """Review a strategy on a stair site.

    strategy: `Strategy`; site: `Site` it is laid over; system: one of units.SYSTEMS. Returns `Review`. Raises SiteFileError where the
    strategy cannot be built on the site at all, such as a transmitter on a storey that is not there.
    """
    bench, found, clear = ReviewBench(strategy, site), [], []
    for kind in KINDS:
        seen = tuple(kind.look(bench, system))
        found += [Found(kind.key, finding) for finding in seen]
        clear += [] if seen else [kind.title]
    found.sort(key=lambda one: (SEVERITIES.index(one.finding.severity), one.key not in FIRST, one.finding.possible))
    return Review(strategy.name, site.name, system, tuple(found), tuple(clear), bench)
