"""Exercises as cards: they tell the slip and never the answer; who stays stuck gets the first line of the way, then what to read."""

from html import escape

from ipywidgets import HTML, Button, GridBox, HBox, Layout, VBox

from helpers import units
from helpers.plots.markup import Verdict, folded, paragraphs_html, status_html, verdict_html
from helpers.teaching.plan import section_of
from helpers.teaching.questions import Chosen, exercise_of, title_of
from helpers.teaching.reading import number_and_unit
from helpers.teaching.record import learner_record
from helpers.units.said import has_mark, written_out
from helpers.widgets.boxes import CLASS, WORDS, AnswerField, looks, tell
from helpers.widgets.controls import UNITS

FIRST_LINE_AFTER, READ_AFTER = 3, 5  # wrong answers to the same numbers
FIRST_LINE = "The first line of the way:"


class OneExercise:
    """One exercise: its question, a field, what is said to an answer.

    The numbers are the learner's own, and other ones each time it is solved; they stay while the page is open, till new ones are asked for.
    Who has taken a seat of a class gets the numbers of that seat's sheet.
    """

    def __init__(self, lesson_key, make, record, number):
        self.lesson, self.make, self.record, self.number = lesson_key, make, record, number
        self.turn = record.turn(lesson_key, make.__name__)
        self.solved_before = self.turn > 0
        self.head, self.question, self.told = HTML(), HTML(), HTML(layout=Layout(width="auto"))
        self.holder, self.field = HBox(layout=Layout(overflow="visible")), None
        self.check_button = Button(description="Check", layout=Layout(width="90px"))
        self.again_button = Button(description="Another one", layout=Layout(width="110px"))
        self.check_button.on_click(lambda _: self.check())
        self.again_button.on_click(lambda _: self.again())
        self.asked = VBox([self.question, self.holder])
        self.box = VBox([self.head, self.asked, self.told, HBox([self.check_button, self.again_button])]).add_class("card")
        self._begin()

    @property
    def heading(self):
        """Number and title."""
        return f"{self.number}. {title_of(self.make)}."

    def check(self):
        """Grade what stands in the field and keep it in the learner's record; the same answer again is no other try."""
        text = self.field.text
        answer = text, self.seed, self.exercise.system
        if not text.strip() or answer == self._checked:
            self.field.awaited()
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
        self._write()
        if grade.right:
            self._say_right(grade)
        else:
            words = grade.words.removeprefix("Not yet, and ")  # the verdict begins with these words
            self._say(Verdict("open", words[:1].upper() + words[1:]), self._help())

    def _help(self):
        """After some wrong answers the first line of the way, after more the section to read again: nobody is left alone with a hint."""
        wrong, section = self.record.wrong(self.lesson, self.make.__name__, self.seed), section_of(self.lesson, self.make.__name__)
        long_way = len(self.exercise.way) > 1  # a way of one line is the answer
        lines = []
        if wrong >= FIRST_LINE_AFTER and long_way:
            lines.append(f"{FIRST_LINE} {self.exercise.way[0]}")
        if section and wrong >= (READ_AFTER if long_way else FIRST_LINE_AFTER):
            lines.append(f'Read again on this page: "{section}". Then come back; the numbers stay.')
        return (lines and paragraphs_html(lines)) or ""

    def again(self):
        """The same exercise with other numbers."""
        self.turn += 1
        self._begin()

    def refresh(self):
        """Set the question in the units of the moment; a figure in the field is carried over, a chosen option stays chosen."""
        before, self.exercise = self.exercise, exercise_of(self.make, self.seed, UNITS.system)
        if not self._chosen:
            self.field.text, self.field.unit = (
                _in_units(self.field.text, before, UNITS.system),
                written_out(self.exercise.answer.unit, UNITS.system),
            )
        elif before.answer.options != self.exercise.answer.options:
            self._put(before.answer.options.index(self.field.text) if self.field.text else None)
        self._write()
        if self.solved and (grade := self.exercise.grade(self.field.text)).right:
            self._say_right(grade)

    @property
    def _chosen(self):
        return isinstance(self.exercise.answer, Chosen)

    def _begin(self):
        self.solved, self._checked = False, None
        tell(self.told, "")
        self.seed = self.record.seed(self.lesson, self.make.__name__, self.turn)
        self.exercise = exercise_of(self.make, self.seed, UNITS.system)
        self._put(None)
        self._write()

    def _put(self, place):
        """A fresh field; place: of the option that is chosen."""
        answer = self.exercise.answer
        options, unit = (answer.options, "") if self._chosen else ((), written_out(answer.unit, UNITS.system))
        value = options[place] if place is not None else None
        self.field = AnswerField(f"Answer {self.number}", options, value, unit, on_enter=self.check, on_change=self._typed)
        before, self.holder.children = self.holder.children, (self.field.widget,)
        for widget in before:
            widget.close()

    def _write(self):
        """The card: number, title and mark in its head; what is solved is folded away under what was said to it."""
        before = '<span style="color:#0b3c6f">✔ solved before; this is another one</span>' if self.solved_before else ""
        mark = status_html("right") if self.solved else before
        self.head.value = f'<div style="{WORDS};display:flex;justify-content:space-between"><b>{escape(self.heading)}</b>{mark}</div>'
        self.question.value = f'<div style="{WORDS}">{escape(self.exercise.question)}</div>'
        self.asked.layout.display = self.check_button.layout.display = "none" if self.solved else None

    def _typed(self):
        """Another answer stands in the field: what was said to the one before goes, unless it was right and shows the way."""
        if not self.solved:
            tell(self.told, "")

    def _say_right(self, grade):
        way = "".join(f"<li>{escape(step)}</li>" for step in self.exercise.way)
        more = f'{self.question.value}<div style="{WORDS}">The way there:<ol style="margin:4px 0">{way}</ol></div>'
        self._say(Verdict("right", grade.words), folded("The question, and the way there", more))

    def _say(self, verdict, more=""):
        told = Verdict(verdict.kind, "\n".join(filter(None, [verdict.words, self.record.trouble])))
        tell(self.told, f"{verdict_html(told)}{more}")


class ExerciseBox:
    """All exercises of a lesson as cards, two beside each other where the page is wide."""

    def __init__(self, lesson_key, makers, record=None):
        self.record = record or learner_record()
        self.exercises = [OneExercise(lesson_key, make, self.record, number) for number, make in enumerate(makers, 1)]
        cards = GridBox([one.box for one in self.exercises]).add_class("cards")
        self.box = VBox([looks(), UNITS.switch(), cards]).add_class(CLASS)
        UNITS.listen(self.refresh)

    def refresh(self):
        """Set all questions in the units of the moment."""
        for one in self.exercises:
            one.refresh()

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live box; without a kernel, the questions."""
        html = "".join(f'<div style="border-top:2px solid #d5dbe1;padding:8px 0">{_still(one)}</div>' for one in self.exercises)
        words = [f"{one.heading} {one.exercise.question}{_options(one.exercise)}" for one in self.exercises]
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": "\n".join(words)}


def _in_units(text, exercise, system):
    """A figure typed as an answer to an exercise, in another system of units; what is no bare figure stays as it was typed."""
    answer = exercise.answer
    if exercise.system == system or not has_mark(answer.unit):
        return text
    try:
        if number_and_unit(text)[1]:
            return text
        return f"{float(units.to_display(answer.read(text, exercise.system), answer.dimension, system)):.4g}"
    except ValueError:
        return text


def _still(one):
    """A question on a page without a kernel."""
    answer = one.exercise.answer
    if isinstance(answer, Chosen):
        below = f'<ul style="{WORDS};margin:4px 0">{"".join(f"<li>{escape(option)}</li>" for option in answer.options)}</ul>'
    else:
        below = f'<div style="{WORDS}">Answer: ________ {escape(written_out(answer.unit, one.exercise.system))}</div>'
    return f'<div style="{WORDS}"><b>{escape(one.heading)}</b> {escape(one.exercise.question)}</div>{below}'


def _options(exercise):
    return "".join(f"\n   ( ) {option}" for option in exercise.answer.options) if isinstance(exercise.answer, Chosen) else ""
