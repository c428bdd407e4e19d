"""Exercises with the reader's own numbers: type or choose, check, and be told the slip and never the answer."""

from html import escape

from ipywidgets import HTML, Button, HBox, Layout, VBox

from helpers import units
from helpers.lessons.exercise import Chosen, exercise_of, title_of
from helpers.lessons.progress import learner_record
from helpers.panels.answer_field import CLASS, WORDS, AnswerField, looks
from helpers.panels.controls import UNITS
from helpers.panels.verdict import Verdict, verdict_html

__all__ = ["ExerciseBox", "OneExercise"]

LINE = "2px solid #d5dbe1"


class OneExercise:
    """One exercise: its question, a field, what is said to an answer.

    The numbers are the learner's own, and other ones each time it is solved; they stay while the page is open, till new ones are asked for.
    Who has taken a seat of a class gets the numbers of that seat's sheet.
    """

    def __init__(self, lesson_key, make, record, number):
        self.lesson, self.make, self.record, self.number = lesson_key, make, record, number
        self.turn = record.turn(lesson_key, make.__name__)
        self.solved_before = self.turn > 0
        self.question, self.told = HTML(), HTML(layout=Layout(width="auto", min_height="40px"))
        self.holder, self.field = HBox(layout=Layout(overflow="visible")), None
        self.check_button = Button(description="Check", layout=Layout(width="110px"))
        self.again_button = Button(description="New numbers", layout=Layout(width="130px"))
        self.check_button.on_click(lambda _: self.check())
        self.again_button.on_click(lambda _: self.again())
        rows = [self.question, self.holder, HBox([self.check_button, self.again_button]), self.told]
        self.box = VBox(rows, layout=Layout(border_top=LINE, padding="8px 0", overflow="visible"))
        self._begin()

    @property
    def heading(self):
        """Number and title."""
        return f"{self.number}. {title_of(self.make)}."

    def check(self):
        """Grade what stands in the field and keep it in the learner's record; the same answer again is no other try."""
        text = self.field.text
        answer = text, self.seed, self.exercise.system
        try:
            if not text.strip():
                raise ValueError("Type or choose an answer first.")
            grade = self.exercise.grade(text)
            if answer != self._checked:
                self.record.answered(self.lesson, self.make.__name__, self.seed, self.exercise.system, text, grade.right, grade.slip)
        except ValueError as refusal:
            self._say(Verdict("entry", str(refusal)))
            return
        self._checked, self.solved = answer, grade.right
        if grade.right:
            self._say_right(grade)
        else:
            words = grade.words.removeprefix("Not yet, and ")  # the verdict begins with these words
            self._say(Verdict("open", words[:1].upper() + words[1:]))

    def again(self):
        """The same exercise with other numbers."""
        self.turn += 1
        self._begin()

    def refresh(self):
        """Set the question in the units of the moment; a figure in the field is carried over, a chosen option stays chosen."""
        before, self.exercise = self.exercise, exercise_of(self.make, self.seed, UNITS.system)
        if not self._chosen:
            self.field.text, self.field.unit = _in_units(self.field.text, before, UNITS.system), self.exercise.answer.unit(UNITS.system)
        elif before.answer.options != self.exercise.answer.options:
            self._put(before.answer.options.index(self.field.text) if self.field.text else None)
        self._write()
        if self.solved and (grade := self.exercise.grade(self.field.text)).right:
            self._say_right(grade)

    @property
    def _chosen(self):
        return isinstance(self.exercise.answer, Chosen)

    def _begin(self):
        self.solved, self._checked, self.told.value = False, None, ""
        self.seed = self.record.seed(self.lesson, self.make.__name__, self.turn)
        self.exercise = exercise_of(self.make, self.seed, UNITS.system)
        self._put(None)
        self._write()

    def _put(self, place):
        """A fresh field; place: of the option that is chosen."""
        answer = self.exercise.answer
        options, unit = (answer.options, "") if self._chosen else ((), answer.unit(UNITS.system))
        value = options[place] if place is not None else None
        self.field = AnswerField(f"Answer {self.number}", options, value, unit, on_enter=self.check, on_change=self._typed)
        before, self.holder.children = self.holder.children, (self.field.widget,)
        for widget in before:
            widget.close()

    def _write(self):
        before = ' <span style="color:#0b3c6f">✔ solved before; these are other numbers.</span>' if self.solved_before else ""
        self.question.value = f'<div style="{WORDS}"><b>{escape(self.heading)}</b>{before} {escape(self.exercise.question)}</div>'

    def _typed(self):
        """Another answer stands in the field: what was said to the one before goes, unless it was right and shows the way."""
        if not self.solved:
            self.told.value = ""

    def _say_right(self, grade):
        way = "".join(f"<li>{escape(step)}</li>" for step in self.exercise.way)
        self._say(Verdict("right", grade.words), f'<div style="{WORDS}">The way there:<ol style="margin:4px 0">{way}</ol></div>')

    def _say(self, verdict, more=""):
        told = Verdict(verdict.kind, "\n".join(filter(None, [verdict.words, self.record.trouble])))
        self.told.value = f'<div role="status" aria-live="polite">{verdict_html(told)}{more}</div>'


class ExerciseBox:
    """All exercises of a lesson, one under the other."""

    def __init__(self, lesson_key, makers, record=None):
        self.record = record or learner_record()
        self.exercises = [OneExercise(lesson_key, make, self.record, number) for number, make in enumerate(makers, 1)]
        self.box = VBox([looks(), UNITS.switch(), *(one.box for one in self.exercises)]).add_class(CLASS)
        UNITS.listen(self.refresh)

    def refresh(self):
        """Set all questions in the units of the moment."""
        for one in self.exercises:
            one.refresh()

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live box; without a kernel, the questions."""
        html = "".join(f'<div style="border-top:{LINE};padding:8px 0">{_still(one)}</div>' for one in self.exercises)
        words = [f"{one.heading} {one.exercise.question}{_options(one.exercise)}" for one in self.exercises]
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": "\n".join(words)}


def _in_units(text, exercise, system):
    """A figure typed as an answer to an exercise, in another system of units; what is no bare figure stays as it was typed."""
    answer = exercise.answer
    if answer.unit(exercise.system) == answer.unit(system):
        return text
    try:
        float(text)
        return f"{float(units.to_display(answer.read(text, exercise.system), answer.dimension, system)):.4g}"
    except ValueError:
        return text


def _still(one):
    """A question on a page without a kernel."""
    answer = one.exercise.answer
    if isinstance(answer, Chosen):
        below = f'<ul style="{WORDS};margin:4px 0">{"".join(f"<li>{escape(option)}</li>" for option in answer.options)}</ul>'
    else:
        below = f'<div style="{WORDS}">Answer: ________ {escape(answer.unit(one.exercise.system))}</div>'
    return f'<div style="{WORDS}"><b>{escape(one.heading)}</b> {escape(one.exercise.question)}</div>{below}'


def _options(exercise):
    return "".join(f"\n   ( ) {option}" for option in exercise.answer.options) if isinstance(exercise.answer, Chosen) else ""
