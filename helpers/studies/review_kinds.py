"""What a review looks for: a kind of finding, and how it is looked for on the bench."""

from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Kind"]


@dataclass(frozen=True)
class Kind:
    """One kind of finding: its key, what is looked for in a few words, and look(bench, system), which gives the `Finding`s there are."""

    key: str
    title: str
    look: Callable
