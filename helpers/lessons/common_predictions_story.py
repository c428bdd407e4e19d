"""What an instructor shows of a lesson: the answer a room gives, why it is tempting, and three moves of the panel that tell the story."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from helpers import units

__all__ = ["SOURCE", "Move", "Shown", "Story"]

SOURCE = "common practice, no source"  # what a room answers, and why


class Shown:
    """Quantities in words, in one system of units."""

    def __init__(self, system):
        self.system = system

    def pa(self, value, digits=None):
        """A pressure."""
        return units.show(value, "pressure", self.system, digits)

    def fine(self, value, digits=1):
        """A small pressure, with so many digits more than usual."""
        return self.pa(value, digits if self.system == "Pa" else min(digits, 1) + 2)

    def n(self, value):
        """A force."""
        return units.show(value, "force", self.system)

    def hz(self, value):
        """A speed."""
        return units.show(value, "frequency", self.system)

    def flow(self, value):
        """An air flow."""
        return units.show(value, "flow", self.system)

    def c(self, value):
        """A temperature."""
        return units.show(value, "temperature", self.system)


@dataclass(frozen=True)
class Move:
    """One move in front of the class. changes: of the panel's controls, by name; hand: the same in words, as the controls are labelled;
    ask: the question before it; see: what the class sees after it; all with the names of figures in braces."""

    changes: Mapping
    hand: str
    ask: str
    see: str


@dataclass(frozen=True)
class Story:
    """The story of a lesson.

    key: of the lesson; prediction: the one it turns on; wrong: the answer a room tends to give, an option or a quantity in SI; tempting:
    why it is; start: what every control of the panel holds before the first move; opening: what the picture shows then; moves: the first
    makes the class see what the prediction asked, the second asks on from there; figures(shown): the model's figures in words, by name.
    """

    key: str
    prediction: object
    wrong: str | float
    tempting: str
    start: Mapping
    opening: str
    moves: tuple
    figures: Callable

    def state(self, moves):
        """What every control holds after so many moves, in the order in which the controls are to be set."""
        state = dict(self.start)
        for move in self.moves[:moves]:
            state |= move.changes
        return state

    def says(self, words, system="Pa"):
        """Words of this story with its figures."""
        told = words.format(**self.figures(Shown(system)))
        return told.replace("w.c..", "w.c.")  # one full stop where a sentence ends in the unit

    def typed_wrong(self, system="Pa"):
        """The wrong answer as a learner would choose or type it."""
        if self.prediction.options:
            return self.wrong
        return f"{float(units.to_display(self.wrong, self.prediction.dimension, system)):.3g}"

    def wrong_words(self, system="Pa"):
        """The wrong answer as one would say it."""
        return f"{self.typed_wrong(system)} {self.prediction.unit(system)}".strip()
