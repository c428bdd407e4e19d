"""A question to answer before the picture, and what the model says to it afterwards."""

from collections.abc import Callable
from dataclasses import dataclass

from helpers.lessons.exercise import Chosen, Measured

__all__ = ["Comparison", "Outcome", "Prediction"]


@dataclass(frozen=True)
class Outcome:
    """What the model says: the answer (an option, or a value and tolerance), and in words what comes out and why."""

    answer: Chosen | Measured
    words: str


@dataclass(frozen=True)
class Comparison:
    """A prediction beside the result: whether they agree, and both in words."""

    agree: bool
    words: str


@dataclass(frozen=True)
class Prediction:
    """A question for the reader to commit to.

    key: a short name, by which the learner's record keeps the answer; ask(system): the question in words; options: what to choose from,
    or empty where a quantity of `dimension` is asked for; find(system): the Outcome, computed by the model when it is first wanted.
    """

    key: str
    ask: Callable
    find: Callable
    options: tuple = ()
    dimension: str = ""

    def read(self, text, system="Pa"):
        """What was predicted. Raises ValueError, with a sentence, for what is no prediction."""
        return self._blank.read(text, system)

    def unit(self, system):
        """Label of the unit that is asked for; nothing for options."""
        return "" if self.options else self._blank.unit(system)

    def compare(self, text, typed_in="Pa", system=None):
        """The prediction, as it was typed or chosen in a system of units, beside the model's result, in another or the same system."""
        system = system or typed_in
        outcome = self.find(system)
        mine, answer = self.read(text, typed_in), outcome.answer
        agree = answer.same(mine, answer.value)
        quote = '"' if self.options else ""  # options are sentences of their own
        said, found = (f"{quote}{answer.says(value, system)}{quote}" for value in (mine, answer.value))
        return Comparison(agree, f"You said {said}{', and so does the model' if agree else f'; the model says {found}'}: {outcome.words}")

    @property
    def _blank(self):
        return Chosen("", self.options) if self.options else Measured(0.0, self.dimension, 0.0)
