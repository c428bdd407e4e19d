"""The lessons in the order of the plan, a folder each. Who wants something of a lesson asks `LESSONS`, and only then is it imported.

A folder has the lesson's key for a name, and in it these files declare what the lesson has; nothing else names it, besides the plan:

| file | declares |
|---|---|
| `questions` | `PREDICTIONS`; `MAKERS` of exercises, in the order of the page; `story()`, what rooms answer and what to show them then |
| `derivations` | where its equations come from, and examples worked by hand: all that `__all__` names, functions without arguments |
| `lesson` | the parts of its page, as the notebook calls them: `panel()`, `worked_example()`, `senior_card()` and its own |
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from types import ModuleType

from helpers.teaching import plan
from helpers.teaching.questions import Exercise, Prediction, Story
from helpers.teaching.seeds import Draw

__all__ = ["LESSONS", "Lesson", "Lessons"]


@dataclass(frozen=True)
class Lesson(plan.Planned):
    """A lesson of the plan with what its folder declares. Raises ModuleNotFoundError where the folder or a file of it is missing."""

    def file(self, name: str) -> ModuleType:
        """One of the folder's files: "questions", "derivations" (brings sympy) or "lesson" (brings widgets and pictures)."""
        return import_module(f"{__name__}.{self.key}.{name}")

    @property
    def predictions(self) -> tuple[Prediction, ...]:
        """Asked before the picture, in the order of the page."""
        return self.file("questions").PREDICTIONS

    @property
    def makers(self) -> tuple[Callable[[Draw], Exercise], ...]:
        """Of its exercises, in the order of the page."""
        return self.file("questions").MAKERS

    @property
    def story(self) -> Story:
        """What rooms answer, computed when it is first asked for."""
        return _story(self)

    def panel(self):
        """The live `Panel` of its page, one in a notebook."""
        return self.file("lesson").panel()


@cache
def _story(lesson):
    return lesson.file("questions").story()


class Lessons(Sequence):
    """The lessons, as the plan lists them when they are asked for. Nothing of a folder is imported before something of it is wanted."""

    def __len__(self):
        return len(plan.LESSONS)

    def __getitem__(self, place):
        return _with_folder(plan.LESSONS[place])

    def of(self, key: str) -> Lesson:
        """The lesson of a key; raises ValueError for a key that is not in the plan, naming those that are."""
        return _with_folder(plan.lesson(key))

    @property
    def exercises(self) -> dict[tuple[str, str], Callable[[Draw], Exercise]]:
        """All makers by (key of the lesson, name of the exercise), as records keep them."""
        return {(of.key, make.__name__): make for of in self for make in of.makers}

    @property
    def predictions(self) -> dict[tuple[str, str], Prediction]:
        """All predictions by (key of the lesson, key of the prediction), as records keep them."""
        return {(of.key, one.key): one for of in self for one in of.predictions}

    def asked(self) -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
        """(keys of the predictions, names of the exercises) by key of the lesson, as `LearnerRecord.standing` takes it."""
        return {of.key: (tuple(one.key for one in of.predictions), tuple(make.__name__ for make in of.makers)) for of in self}


@cache
def _with_folder(of):
    return Lesson(**vars(of))


LESSONS = Lessons()
