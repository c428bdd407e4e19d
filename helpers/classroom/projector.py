"""The projector view: big letters, one picture, one sentence and one question; a key shows the answer, and the next picture.

The picture is the lesson's own, in a size whose letters are large; the panel itself, further down, is put to each step as well. All sizes
are shares of the view's width: on a wall of 1280 x 720 or 1920 x 1080, and in a cell, the same lines stand in the same places. Letters are
1/46 of the width, about 28 of 1280 pixels: some 16 minutes of arc at six times the height of the wall's picture.
No front-end package is needed: a picture of one pixel, once it is loaded, tells the view to listen to the keyboard and passes each key on
as a press of the buttons that anybody can click.
"""

import copy
from dataclasses import dataclass
from html import escape

from ipywidgets import HTML, Button, Dropdown, HBox, Layout, VBox

from helpers.lessons import LESSONS
from helpers.plots.markup import KINDS
from helpers.plots.picture import Picture
from helpers.units.said import written_out
from helpers.widgets.controls import PIXEL, UNITS

__all__ = ["KEYS", "STYLE", "VIEW", "Projector", "Step", "projector", "steps_of"]

VIEW = "pressure-loop-projector"

STYLE = f"""<style>
.{VIEW} {{ container-type: inline-size; position: relative; width: 100%; max-width: 1920px; background: #fff; overflow: hidden;
  outline-offset: -3px; }}
.{VIEW}:fullscreen {{ container-type: size; width: 100vw; height: 100vh; max-width: none; align-items: center; }}
.{VIEW}:focus-visible {{ outline: 3px solid #0b3c6f; }}
.{VIEW}:fullscreen:focus-visible {{ outline: none; }}
.{VIEW} .widget-html, .{VIEW} .widget-html-content {{ width: 100%; margin: 0; line-height: normal; overflow: hidden; height: auto; }}
.{VIEW} .sheet {{ --u: min(1cqw, 1.7777cqh); position: relative; width: calc(100 * var(--u)); height: calc(56.2 * var(--u));
  margin: 0 auto; color: #1b2733;
  font-family: "Liberation Sans", Arial, Helvetica, sans-serif; font-size: calc(2.19 * var(--u)); line-height: 1.19; }}
.{VIEW} .sheet img {{ display: block; width: calc(100 * var(--u)); height: calc(42.67 * var(--u)); max-width: none; margin: 0; }}
.{VIEW} .said {{ padding: 0 calc(12 * var(--u)) 0 calc(1.2 * var(--u)); }}
.{VIEW} .said p {{ margin: 0; font-size: inherit; line-height: inherit; }}
.{VIEW} .now {{ font-weight: bold; }}
.{VIEW} .options {{ padding-top: 0.1em !important; }}
.{VIEW} .options b {{ padding: 0 0.25em; color: #fff; background: #0b3c6f; }}
.{VIEW} .options span {{ margin-right: 0.7em; }}
.{VIEW} .answer {{ color: #0b3c6f; }}
.{VIEW} .count {{ position: absolute; right: calc(1 * var(--u)); top: calc(43 * var(--u)); width: calc(10 * var(--u)); font-size: 0.65em;
  text-align: center; color: #55616d; }}
.{VIEW} .count span {{ display: block; margin-top: 0.3em; padding: 0.1em; font-weight: bold; }}
.{VIEW}-buttons {{ position: absolute; right: 1%; bottom: 1%; width: 10%; flex-flow: column; overflow: visible; }}
.{VIEW}-buttons button {{ width: 100%; height: auto; margin: 2px 0 0 0; padding: 0; font-size: max(13px, 1.15cqw); line-height: 1.7; }}
.{VIEW}-buttons button:focus-visible {{ outline: 2px solid #0b3c6f; }}
</style>"""

_PASS_ON = """
const words = {ArrowRight: 'next', ArrowDown: 'next', PageDown: 'next', ' ': 'next', Enter: 'next',
               ArrowLeft: 'back', ArrowUp: 'back', PageUp: 'back', Backspace: 'back', f: 'whole', F: 'whole'};
const press = name => view.querySelector('.VIEW-' + name).click();
view.addEventListener('keydown', event => {
  const name = words[event.key];
  if (!name || event.ctrlKey || event.altKey || event.metaKey) return;
  if ((event.key === ' ' || event.key === 'Enter') && event.target.closest('button')) return;
  event.preventDefault();
  event.stopPropagation();
  if (!event.repeat) press(name);
});
view.querySelector('.VIEW-whole').addEventListener('click', () => {
  if (document.fullscreenElement) document.exitFullscreen(); else view.requestFullscreen();
  view.focus({preventScroll: true});
});
"""
# The widget may be loaded a little before it stands in the page: it looks again until it does, for ten seconds.
_LISTEN = """
const spark = this; let looks = 100;
const begin = () => {
  const view = spark.closest('.VIEW');
  if (!view || !view.querySelector('.VIEW-whole')) { if (looks--) setTimeout(begin, 100); return; }
  if (view.dataset.hears) return;
  view.dataset.hears = 'keys';
  view.tabIndex = 0;
  view.setAttribute('data-lm-suppress-shortcuts', 'true');
  view.setAttribute('role', 'region');
  view.setAttribute('aria-label', 'Projector view: arrow keys or page keys for next and back, F for full screen');
  PASS_ON
};
begin();
"""
_SCRIPT = _LISTEN.replace("PASS_ON", _PASS_ON).replace("VIEW", VIEW).replace("\n", " ")
KEYS = f'<img src="{PIXEL}" alt="" style="display:none" onload="{_SCRIPT}">'

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


def steps_of(key):
    """The steps of a lesson's story: for each move its question, and then its answer with the picture that gives it."""
    told, steps = LESSONS.of(key).story, []
    sentence = told.says(told.opening)
    for moves, move in enumerate(told.moves):
        options = () if moves else told.prediction.options
        steps.append(Step(moves, sentence, told.says(move.ask), options))
        sentence = told.says(f"{move.hand}.")
        steps.append(Step(moves + 1, sentence, answer=told.says(move.see)))
    return tuple(steps)


class Projector:
    """The view. `next()` and `back()` are what its keys do; `step` is what it shows, `shown(key)` shows another lesson from its start."""

    def __init__(self, key):
        self.key, self.number, self._pictures = LESSONS.of(key).key, 0, {}
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
        count = f"{of.number:02d} &middot; {self.number + 1}/{len(self.steps)}"
        return (
            f'<div class="sheet"><img src="{drawn.source()}" alt="{escape(drawn.words)}" decoding="sync">'
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
