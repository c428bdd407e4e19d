"""For whoever teaches: a lesson's panel put where its story begins, what rooms tend to answer, a class that never was, with known slips."""

import tempfile
from html import escape
from pathlib import Path

from IPython.display import display
from ipywidgets import HTML, Button, HBox, Layout, VBox

from helpers.classroom.desk import collect_class
from helpers.classroom.sets import class_set
from helpers.lessons import LESSONS
from helpers.plots.markup import Card, folded, html_table
from helpers.teaching.lesson import SOURCE, exercise_of
from helpers.teaching.record import LearnerRecord
from helpers.teaching.seeds import seat_of
from helpers.units.said import in_each, written_out
from helpers.widgets.controls import UNITS
from helpers.widgets.panel import Reading

__all__ = ["EXAMPLE_CODE", "LEARNERS", "SLIPPING", "Demo", "common_predictions", "demo", "example_class", "example_sheets", "panel_of"]

FOR_YOU = "For you alone: three moves, what to ask before each, and what the class then sees"
HEAD = ("Ask", "Then set", "The class sees")


def panel_of(key):
    """The panel of a lesson, one in a notebook: the lesson's own. Raises ValueError for a key that is not in the plan."""
    return LESSONS.of(key).panel()


class Demo:
    """A lesson's panel where its story begins, with a button for each move; shown as the last line of one cell.

    What the class shall not read beforehand stands folded away above it.
    """

    def __init__(self, key):
        self.story, self.panel = LESSONS.of(key).story, panel_of(key)
        self.card = Reading(self._render)
        names = ("Where it begins", *(f"Move {number}" for number, _ in enumerate(self.story.moves, 1)))
        self.buttons = [Button(description=name, layout=Layout(width="140px")) for name in names]
        for moves, button in enumerate(self.buttons):
            button.on_click(lambda _, moves=moves: self.go(moves))
        self.opening = HTML()
        UNITS.listen(self._open)
        self._open()
        self.go(0)
        self.box = VBox([self.opening, HBox(self.buttons), self.panel.box], layout=Layout(width="100%"))

    def go(self, moves):
        """Put the panel where it stands after so many moves. Returns its verdict."""
        return self.panel.put(**self.story.state(moves))

    def _open(self):
        self.opening.value = f'<b style="font-size:18px">{escape(written_out(self.story.says(self.story.opening), UNITS.system))}</b>'

    def _render(self):
        rows = [(self.story.says(move.ask), self.story.says(move.hand), self.story.says(move.see)) for move in self.story.moves]
        of, opening = LESSONS.of(self.story.key), self.story.says(self.story.opening)
        table = html_table(HEAD, rows)
        html = folded(FOR_YOU, table)
        lines = [f"{number}. {ask} -> {hand} -> {see}" for number, (ask, hand, see) in enumerate(rows, 1)]
        return html, "\n".join([f"{of.number:02d} {of.title}. {opening}", *lines])

    def _repr_mimebundle_(self, include=None, exclude=None):
        data, metadata = self.panel._repr_mimebundle_()
        return self.box._repr_mimebundle_() | {kind: data[kind] for kind in ("image/png", "text/plain")}, metadata


def demo(key):
    """Show a lesson's story, ready to begin: what is for the instructor alone folded away, and under it the panel."""
    shown = Demo(key)
    display(shown.card)
    return shown


def common_predictions(key):
    """What a room tends to answer in a lesson, why it is tempting, what to do in the panel, and what to ask next."""
    told = LESSONS.of(key).story

    def render():
        first, second = told.moves[:2]
        rows = [
            ("You ask", told.prediction.ask()),
            (f"A room tends to say ({SOURCE})", told.wrong_words()),
            ("Why it is tempting", told.tempting),
            ("Let them see it", told.says(f"{told.opening} Then set: {first.hand}.")),
            ("What comes out", told.says(first.see)),
            ("Ask next", told.says(second.ask)),
            ("And then", told.says(f"Set: {second.hand}. {second.see}")),
        ]
        return html_table(("", ""), rows), "\n".join(f"{what}: {words}" for what, words in rows)

    return Reading(render)


def stories_card():
    """All lessons and what their demonstration is called by."""
    rows = [(f"{of.number:02d} {of.title}", f'demo("{of.key}")') for of in LESSONS]
    return Card(html_table(("Lesson", "In a cell"), rows), "\n".join(": ".join(row) for row in rows))


EXAMPLE_CODE = "the example that is no class"
LESSON = LESSONS[0].key
LEARNERS, SEATS_SHOWN = 12, 2
SLIPPING = {"handle_force": 3, "most_borne": 4}  # every how many-th learner slips in an exercise; all others are right
DAMAGED = '{"format": "pressure-loop learner rec'  # as a copy ends that was cut short


def example_sheets():
    """What two seats of the example are asked: the same questions, other numbers."""

    @in_each
    def render(*, system):
        sheets = class_set(EXAMPLE_CODE, SEATS_SHOWN, lessons=(LESSON,), each=2, system=system).sheets
        rows = [(str(sheet.seat.number), exercise.question) for sheet in sheets for exercise in sheet.exercises]
        return html_table(("Seat", "Question"), rows), "\n".join(f"Seat {seat}: {question}" for seat, question in rows)

    return Reading(render)


def example_class():
    """The class table of the simulated learners, one of their files damaged: as `collect_class` shows any folder of records."""
    with tempfile.TemporaryDirectory() as folder:
        handed_in = Path(folder) / "handed_in"
        handed_in.mkdir()
        for number in range(1, LEARNERS + 1):
            _worked(Path(folder) / f"own {number}", number).export(handed_in / f"seat{number:02d}.json")
        (handed_in / "seat99.json").write_text(DAMAGED, encoding="utf-8")
        return collect_class(handed_in, EXAMPLE_CODE)


def _worked(folder, number):
    """The record of one simulated learner at a seat, in the first exercises of the lesson."""
    record = LearnerRecord(folder)
    record.name, record.seat = f"Learner {number}", seat_of(EXAMPLE_CODE, number)
    for make in LESSONS.of(LESSON).makers:
        item = make.__name__
        if item not in SLIPPING:
            continue
        exercise = exercise_of(make, record.seed(LESSON, item, 0))
        slips = number % SLIPPING[item] == 0
        text = f"{float(exercise.slips[0].gives if slips else exercise.answer.value)!r}"
        grade = exercise.grade(text)
        record.answered(LESSON, item, exercise.seed, exercise.system, text, grade.right, grade.slip)
    return record
