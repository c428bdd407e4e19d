"""An example worked by hand, step by step, that ends on a published figure."""

from dataclasses import dataclass

from helpers import units

__all__ = ["Line", "WorkedExample"]


@dataclass(frozen=True)
class Line:
    """One line of the working: what, how it is worked out (in words or a formula with its numbers), the value [SI], its dimension, digits.

    dimension: one of units.DIMENSIONS, or "number".
    """

    what: str
    how: str
    value: float
    dimension: str
    digits: int | None = None

    def says(self, system):
        """The value in words."""
        if self.dimension == "number":
            return f"{self.value:.{3 if self.digits is None else self.digits}f}"
        return units.show(self.value, self.dimension, system, self.digits)


@dataclass(frozen=True)
class WorkedExample:
    """Given and working lines; the published figure [SI] that the last line is to meet, within `within` [SI], and its source.

    known: how the published figure is known: "seen in public text" or "memory". explained: why the two differ, where they do.
    """

    title: str
    given: tuple
    working: tuple
    published: float
    within: float
    source: str
    known: str
    explained: str = ""

    @property
    def meets(self):
        """Whether the last line meets the published figure."""
        return abs(self.working[-1].value - self.published) <= self.within

    def closing(self, system):
        """The published figure and its source in one sentence."""
        last = self.working[-1]
        shown = Line("", "", self.published, last.dimension, last.digits).says(system)
        verdict = "which is what comes out here" if self.meets else f"where {last.says(system)} comes out here"
        return " ".join(filter(None, [f"Published: {shown} ({self.source}; {self.known}), {verdict}.", self.explained]))
