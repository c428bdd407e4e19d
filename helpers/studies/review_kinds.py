"""What a review looks for: a kind of finding, how it is looked for on the bench, and whose it is to mend."""

from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["BUILDING", "STRATEGY", "Kind"]

STRATEGY, BUILDING = "the strategy", "the building"


@dataclass(frozen=True)
class Kind:
    """One kind of finding: its key, what is looked for in a few words, look(bench, system), which gives the `Finding`s there are, and whose
    it is: STRATEGY (an entry in the drive mends it), BUILDING (none does), or a function of the bench that says which; stairs_only: whether
    it is looked for on stairs alone, and not on other plants."""

    key: str
    title: str
    look: Callable
    whose: str | Callable = STRATEGY
    stairs_only: bool = False

    def belongs(self, bench):
        """Whose it is to mend on a bench, STRATEGY or BUILDING."""
        return self.whose(bench) if callable(self.whose) else self.whose
