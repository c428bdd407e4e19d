"""What a review looks for: a kind of finding, how it is looked for on the bench, and whose it is to mend."""

from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["BUILDING", "STRATEGY", "Kind"]

STRATEGY, BUILDING = "the strategy", "the building"


@dataclass(frozen=True)
class Kind:
    """One kind of finding: its key, what is looked for in a few words, look(bench, system), which gives the `Finding`s there are, and whose
    it is: STRATEGY (an entry in the drive mends it), BUILDING (none does), or a function of the bench that says which; stairs_only: whether
    it is looked for on stairs alone, and not on other plants; absent(bench): what is not stated, in words, so that there is nothing to look
    at, "" where it is (None: it always is)."""

    key: str
    title: str
    look: Callable
    whose: str | Callable = STRATEGY
    stairs_only: bool = False
    absent: Callable | None = None

    def missing(self, bench):
        """What is not stated on a bench, in words, without which there is nothing to look at; "" where all is."""
        return "" if self.absent is None else self.absent(bench)

    def belongs(self, bench):
        """Whose it is to mend on a bench, STRATEGY or BUILDING."""
        return self.whose(bench) if callable(self.whose) else self.whose
