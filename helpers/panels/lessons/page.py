"""What every lesson's page has, by the lesson's key: its questions, the exercises, the card for the senior."""

from collections.abc import Callable
from dataclasses import dataclass

from helpers.formulas import require
from helpers.panels.exercise_box import ExerciseBox
from helpers.panels.predict_box import CompareBox, PredictBox
from helpers.panels.reading import SeniorCard

__all__ = ["LessonParts"]


@dataclass(frozen=True)
class LessonParts:
    """Parts of a lesson's page. predictions: of `Prediction`, the first one asked where none is named; makers: of its exercises;
    lines(system): the card for the senior."""

    key: str
    predictions: tuple
    makers: tuple
    lines: Callable

    def predict(self, name=None):
        """One of the questions before the picture, by its name. Raises ValueError for a name that is not there, naming those that are."""
        return PredictBox(self.key, self._named(name))

    def compare(self, name=None):
        """The prediction beside what the model says. name and errors as in `predict`."""
        return CompareBox(self.key, self._named(name))

    def exercises(self):
        """The exercises, with the reader's own numbers."""
        return ExerciseBox(self.key, self.makers)

    def senior_card(self):
        """The lesson in five lines."""
        return SeniorCard(self.lines)

    def _named(self, name):
        found = {prediction.key.replace(" ", "_"): prediction for prediction in self.predictions}
        return found[require.one_of(found, name=name)] if name else self.predictions[0]
