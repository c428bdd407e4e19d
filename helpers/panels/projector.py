"""The projector view: big letters, one picture, one sentence and one question; a key shows the answer, and the next picture.

The picture is the lesson's own, drawn from the panel's answer by the panel's drawings, in a size whose letters are large. The panel itself
is put to each step as well: shown further down, it stands where the class stands.
"""

import copy
from base64 import b64encode
from dataclasses import dataclass
from html import escape

from ipywidgets import HTML, Button, Dropdown, HBox, Layout, VBox

from helpers.lessons.common_predictions import story
from helpers.lessons.plan import LESSONS, lesson
from helpers.panels.controls import UNITS
from helpers.panels.instructor import panel_of
from helpers.panels.picture import Picture
from helpers.panels.projector_page import KEYS, STYLE, VIEW
from helpers.panels.trend import TrendDrawing
from helpers.panels.verdict import KINDS

__all__ = ["Projector", "Step", "projector", "steps_of"]

# The picture's own pixels, width and height: on a wall of 1280 its letters are 1.4 times as large. A trend needs room for two axes.
SIZE_PX, TREND_PX = (900, 384), (980, 418)


@dataclass(frozen=True)
class Step:
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


def steps_of(key, system="Pa"):
    """The steps of a lesson's story: for each move its question, and then its answer with the picture that gives it."""
    told, steps = story(key), []
    sentence = told.says(told.opening, system)
    for moves, move in enumerate(told.moves):
        options = () if moves else told.prediction.options
        steps.append(Step(moves, sentence, told.says(move.ask, system), options))
        sentence = told.says(f"{move.hand}.", system)
        steps.append(Step(moves + 1, sentence, answer=told.says(move.see, system)))
    return tuple(steps)


class Projector:
    """The view. `next()` and `back()` are what its keys do; `step` is what it shows, `shown(key)` shows another lesson from its start."""

    def __init__(self, key):
        self.key, self.number, self._pictures = lesson(key).key, 0, {}
        self.page = HTML()
        self.back_button, self.next_button = _button("◀ Back", "back", self.back), _button("Next ▶", "next", self.next)
        buttons = HBox([self.back_button, self.next_button, _button("Full screen", "whole")]).add_class(f"{VIEW}-buttons")
        self.view = VBox([HTML(STYLE, layout=Layout(display="none")), self.page, buttons, HTML(KEYS)]).add_class(VIEW)
        self.chooser = Dropdown(description="Lesson", options=[(f"{of.number:02d} {of.title}", of.key) for of in LESSONS], value=self.key)
        self.chooser.observe(lambda change: self.shown(change["new"]), "value")
        self.box = VBox([HBox([self.chooser, UNITS.switch()]), self.view], layout=Layout(width="100%"))
        UNITS.listen(self.refresh)
        self.refresh()

    @property
    def steps(self):
        """Of the lesson, in the units of the moment."""
        return steps_of(self.key, UNITS.system)

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
        of = lesson(key)
        if self.chooser.value != of.key:
            self.chooser.value = of.key  # which comes back here
            return
        self.key, self.number = of.key, 0
        self.refresh()

    def refresh(self):
        """Draw and write the page anew; then put the panel, which nobody waits for."""
        self.page.value = self._html()
        panel_of(self.key).put(**story(self.key).state(self.step.moves))

    def picture(self):
        """(picture, kind of the verdict) of the step; kept, so that going back is at once."""
        where = self.key, self.step.moves, UNITS.system
        if where not in self._pictures:
            panel = panel_of(self.key)
            verdict, *data = panel.answer(UNITS.system, **story(self.key).state(self.step.moves))
            drawings = [copy.copy(drawing) for drawing in panel.picture.drawings]
            width, height = TREND_PX if any(isinstance(drawing, TrendDrawing) for drawing in drawings) else SIZE_PX
            drawn = Picture(*drawings, width_px=width, height_px=height).show(*data)
            self._pictures[where] = drawn, verdict.kind
        return self._pictures[where]

    def _go(self, number):
        if 0 <= number < len(self.steps):
            self.number = number
            self.refresh()

    def _html(self):
        step, (drawn, kind) = self.step, self.picture()
        of, mark = lesson(self.key), KINDS[kind]
        source = f"data:image/png;base64,{b64encode(drawn.png()).decode()}"
        letters = zip("ABCDEF", step.options, strict=False)
        options = "".join(f"<span><b>{letter}</b> {escape(option)}</span> " for letter, option in letters)
        asked = f'<p class="ask">{escape(step.question)}</p><p class="options">{options}</p>' if step.question else ""
        answered = f'<p class="answer">{escape(step.answer)}</p>' if step.answer else ""
        judged = f'<span style="color:{mark.ink};background:{mark.paper}">{mark.mark} {mark.word}</span>'
        count = f"{of.number:02d} &middot; {self.number + 1}/{len(self.steps)}"
        return (
            f'<div class="sheet"><img src="{source}" alt="{escape(drawn.words)}" decoding="sync">'
            f'<div class="said" role="status" aria-live="polite"><p class="now">{escape(step.sentence)}</p>{asked}{answered}</div>'
            f'<div class="count">{count}{judged}</div></div>'
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
