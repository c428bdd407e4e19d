"""For whoever teaches: a lesson's panel put where its story begins, what rooms tend to answer, and the view for the wall.

The projector view: big letters, one picture, one sentence and one question; a key shows the answer, and the next picture. The picture is
the lesson's own, in a size whose letters are large; the panel itself is put to each step as well: further down, it stands where the class
stands.

All sizes are shares of the view's width: on a wall of 1280 x 720 or 1920 x 1080, and in a cell, the same lines stand in the same places.
Letters are 1/46 of the width, about 28 of 1280 pixels: some 16 minutes of arc at six times the height of the wall's picture.

No front-end package is needed: a picture of one pixel, once it is loaded, tells the view to listen to the keyboard and passes each key on
as a press of the buttons that anybody can click.
"""

import copy
import tempfile
from dataclasses import dataclass
from html import escape
from pathlib import Path

from IPython.display import display
from ipywidgets import HTML, Button, Dropdown, HBox, Layout, VBox

from helpers.classroom.desk import collect_class
from helpers.classroom.sets import class_set
from helpers.lessons import LESSONS
from helpers.model.files import page_part
from helpers.plots.markup import KINDS, Verdict, folded, html_table
from helpers.plots.picture import Picture
from helpers.teaching.questions import SOURCE, exercise_of
from helpers.teaching.record import LearnerRecord
from helpers.teaching.seeds import seat_of, why_no_code
from helpers.units.said import in_each, written_out
from helpers.widgets.controls import PIXEL, UNITS
from helpers.widgets.panel import Reading

FOR_YOU = "For you alone: three moves, what to ask before each, and what the class then sees"
HEAD = ("Ask", "Then set", "The class sees")


def panel_of(key):
    """The panel of a lesson, one in a notebook: the lesson's own. Raises ValueError for a key that is not in the plan."""
    return LESSONS.of(key).panel()


class Demo:
    """A lesson's panel where its story begins, with a button for each move, and a list of the lessons; shown as the last line of one cell.

    What the class shall not read beforehand stands folded away above it.
    """

    def __init__(self, key):
        self.chooser = Dropdown(description="Lesson", options=[(of.name, of.key) for of in LESSONS], value=LESSONS.of(key).key)
        self.chooser.observe(lambda change: self.begin(change["new"]), "value")
        self.opening, self.moves, self.card = HTML(), HBox(layout=Layout(flex_flow="row wrap")), None
        self.box = VBox(layout=Layout(width="100%"))
        UNITS.listen(self._open)
        self.begin(key)

    def begin(self, key):
        """Put the panel of a lesson where its story begins. Raises ValueError for a key that is not in the plan."""
        of = LESSONS.of(key)
        if self.chooser.value != of.key:
            self.chooser.value = of.key  # which comes back here
            return
        self.story, self.panel = of.story, panel_of(key)
        names = ("Where it begins", *(f"Move {number}" for number, _ in enumerate(self.story.moves, 1)))
        self.buttons = [Button(description=name, layout=Layout(width="140px")) for name in names]
        for moves, button in enumerate(self.buttons):
            button.on_click(lambda _, moves=moves: self.go(moves))
        self.moves.children = self.buttons
        self._open()
        self.go(0)
        self.box.children = [self.chooser, self.opening, self.moves, self.panel.box]
        if self.card is None:
            self.card = Reading(self._render)
        else:
            self.card.refresh()

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
        return html, "\n".join([f"{of.name}. {opening}", *lines])

    def _repr_mimebundle_(self, include=None, exclude=None):
        data = self.panel._repr_mimebundle_()
        return self.box._repr_mimebundle_() | {kind: data[kind] for kind in ("text/html", "text/plain")}


def demo(key):
    """Show a lesson's story, ready to begin: what is for the instructor alone folded away, and under it the panel."""
    shown = Demo(key)
    display(shown.card)
    return shown


def common_predictions(key):
    """What a room tends to answer in a lesson, why it is tempting, what to do in the panel, and what to ask next; over the first lesson's
    the switch of units, for all of them."""
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

    return Reading(render, UNITS.switch() if key == LESSON else None)


EXAMPLE_CODE = "the example that is no class"
LESSON = LESSONS[0].key
LEARNERS, SEATS_SHOWN = 12, 2
SLIPPING = {"handle_force": 3, "most_borne": 4}  # every how many-th learner slips in an exercise; all others are right
DAMAGED = '{"format": "pressure-loop learner rec'  # as a copy ends that was cut short


def example_sheets():
    """What two seats of the example are asked: the same questions, other numbers. Without class codes, why there are none."""
    if why := why_no_code():
        return _left_out(why)

    @in_each
    def render(*, system):
        sheets = class_set(EXAMPLE_CODE, SEATS_SHOWN, lessons=(LESSON,), each=2, system=system).sheets
        rows = [(str(sheet.seat.number), exercise.question) for sheet in sheets for exercise in sheet.exercises]
        return html_table(("Seat", "Question"), rows), "\n".join(f"Seat {seat}: {question}" for seat, question in rows)

    return Reading(render)


def example_class():
    """The class table of the simulated learners, one of their files damaged: as `collect_class` shows any folder of records.
    Without class codes, why there is none."""
    if why := why_no_code():
        return _left_out(why)
    with tempfile.TemporaryDirectory() as folder:
        handed_in = Path(folder) / "handed_in"
        handed_in.mkdir()
        for number in range(1, LEARNERS + 1):
            _worked(Path(folder) / f"own {number}", number).export(handed_in / f"seat{number:02d}.json")
        (handed_in / "seat99.json").write_text(DAMAGED, encoding="utf-8")
        return collect_class(handed_in, EXAMPLE_CODE)


def _left_out(why):
    return Verdict("note", f"The example is left out here: its seats' keys come from a class code, and {why}.")


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


VIEW = "pressure-loop-projector"

STYLE = f"<style>\n{page_part('projector.css').replace('VIEW', VIEW)}\n</style>"
# Run by a picture once it is loaded, which may be a little before the widget stands in the page: it looks again until it does.
_SCRIPT = page_part("projector.js").replace("VIEW", VIEW).replace("\n", " ")
KEYS = f'<img src="{PIXEL}" alt="" style="display:none" onload="{_SCRIPT}">'

# The picture's own pixels, width and height: on a wall of 1280 its letters are 1.4 times as large. A trend needs room for two axes.
SIZE_PX, TREND_PX = (900, 351), (980, 382)


@dataclass(frozen=True)
class WallStep:
    """What is on the wall: the panel after so many moves, a sentence, and a question (options: of a prediction) or an answer."""

    moves: int
    sentence: str
    question: str = ""
    options: tuple = ()
    answer: str = ""

    @property
    def words(self):
        """All of it in plain text."""
        options = "; ".join(f"{letter} {option}" for letter, option in zip("ABCDEF", self.options, strict=False))
        return " ".join(filter(None, (self.sentence, self.question, options, self.answer)))


def steps_of(key):
    """The steps of a lesson's story: for each move its question, and then its answer with the picture that gives it."""
    told, steps = LESSONS.of(key).story, []
    sentence = told.says(told.opening)
    for moves, move in enumerate(told.moves):
        options = () if moves else told.prediction.options
        steps.append(WallStep(moves, sentence, told.says(move.ask), options))
        sentence = told.says(f"{move.hand}.")
        steps.append(WallStep(moves + 1, sentence, answer=told.says(move.see)))
    return tuple(steps)


class Projector:
    """The view. `next()` and `back()` are what its keys do; `step` is what it shows, `shown(key)` shows another lesson from its start."""

    def __init__(self, key):
        self.key, self.number, self._pictures = LESSONS.of(key).key, 0, {}
        self.page = HTML()
        self.back_button, self.next_button = _button("◀ Back", "back", self.back), _button("Next ▶", "next", self.next)
        buttons = HBox([self.back_button, self.next_button, _button("Full screen", "whole")]).add_class(f"{VIEW}-buttons")
        self.view = VBox([HTML(STYLE, layout=Layout(display="none")), self.page, buttons, HTML(KEYS)]).add_class(VIEW)
        self.chooser = Dropdown(description="Lesson", options=[(of.name, of.key) for of in LESSONS], value=self.key)
        self.chooser.observe(lambda change: self.shown(change["new"]), "value")
        self.box = VBox([HBox([self.chooser, UNITS.switch()]), self.view], layout=Layout(width="100%"))
        UNITS.listen(self.refresh)
        self.refresh()

    @property
    def steps(self):
        """Of the lesson, in the units of the moment."""
        return written_out(steps_of(self.key), UNITS.system)

    @property
    def step(self):
        """What is shown."""
        return self.steps[self.number]

    def next(self):
        """The answer, or the next question; nothing after the last."""
        self._go(self.number + 1)

    def back(self):
        """The step before; nothing before the first."""
        self._go(self.number - 1)

    def shown(self, key):
        """Another lesson, from its start."""
        of = LESSONS.of(key)
        if self.chooser.value != of.key:
            self.chooser.value = of.key  # which comes back here
            return
        self.key, self.number = of.key, 0
        self.refresh()

    def refresh(self):
        """Draw and write the page anew; then put the panel, which nobody waits for."""
        self.page.value = self._html()
        of = LESSONS.of(self.key)
        of.panel().put(**of.story.state(self.step.moves))

    def picture(self):
        """(picture, kind of the verdict) of the step; kept, so that going back is at once."""
        where = self.key, self.step.moves, UNITS.system
        if where not in self._pictures:
            of = LESSONS.of(self.key)
            panel = of.panel()
            verdict, *data = panel.answer(UNITS.system, **of.story.state(self.step.moves))
            drawings = [copy.copy(drawing) for drawing in panel.picture.drawings]
            width, height = TREND_PX if any(axes.box[1] for plot in data for axes in plot.axes) else SIZE_PX
            drawn = Picture(*drawings, width_px=width, height_px=height).show(*data)
            self._pictures[where] = drawn, verdict.kind
        return self._pictures[where]

    def _go(self, number):
        if 0 <= number < len(self.steps):
            self.number = number
            self.refresh()

    def _html(self):
        step, (drawn, kind) = self.step, self.picture()
        of, mark = LESSONS.of(self.key), KINDS[kind]
        letters = zip("ABCDEF", step.options, strict=False)
        options = "".join(f"<span><b>{letter}</b> {escape(option)}</span> " for letter, option in letters)
        asked = f'<p class="ask">{escape(step.question)}</p><p class="options">{options}</p>' if step.question else ""
        answered = f'<p class="answer">{escape(step.answer)}</p>' if step.answer else ""
        judged = f'<span style="color:{mark.ink};background:{mark.paper}">{mark.mark} {mark.word}</span>'
        count = f"{of.numbered} &middot; {self.number + 1}/{len(self.steps)}"
        return (
            f'<div class="sheet"><img src="{drawn.source()}" alt="{escape(drawn.words)}" decoding="sync">'
            f'<div class="said" role="status" aria-live="polite"><p class="now">{judged} {escape(step.sentence)}</p>{asked}{answered}</div>'
            f'<div class="count">{count}</div></div>'
        )

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live view; without a kernel, the picture and the words of its step."""
        drawn, _ = self.picture()
        data, metadata = drawn.still()
        words = f"{self.step.words} {drawn.words}"
        metadata["image/png"]["alt"] = words
        return self.box._repr_mimebundle_() | data | {"text/plain": words}, metadata


def projector(key=LESSONS[0].key):
    """The projector view of a lesson; the list above it leads to the others."""
    return Projector(key)


def _button(label, name, work=None):
    button = Button(description=label).add_class(f"{VIEW}-{name}")
    if work:
        button.on_click(lambda _: work())
    return button
