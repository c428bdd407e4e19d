"""The good hand's way through a case, one step at a time: for a learner after the judgement, and on an instructor's wall."""

from base64 import b64encode
from html import escape

from ipywidgets import HTML, Layout, VBox

from helpers.panels.controls import UNITS
from helpers.panels.fault_bench_choosers import button, row
from helpers.panels.fault_bench_words import PLAIN, heading_html, minutes_words, step_words, steps_html
from helpers.panels.picture import Picture
from helpers.panels.trend import TrendDrawing

__all__ = ["Replay", "picture_html"]


class Replay:
    """The way of a judgement. `next()` and `back()` are what its buttons do; `picture` and `words` show the step for any other page."""

    def __init__(self, case, judgement, system=None):
        self.case, self.steps, self.minutes, self.shown = case, judgement.replay, judgement.replay_min, 1
        self.told = HTML()
        self.back_button, self.next_button = button("◀ Back", self.back, "150px"), button("Next step ▶", self.next, "150px")
        self.box = VBox(
            [HTML(heading_html("A good hand's way")), self.told, row(self.back_button, self.next_button)], layout=Layout(overflow="visible")
        )
        self.refresh(system or UNITS.system)

    @property
    def step(self):
        """The step shown last."""
        return self.steps[self.shown - 1]

    @property
    def words(self):
        """The step in plain text."""
        return step_words(self.shown, self.step, UNITS.system)

    @property
    def picture(self):
        """The trend that belongs to the step: its own, where it has one, or that of the arrival."""
        own = self.step.seen and self.step.seen.trend(UNITS.system)
        return Picture(TrendDrawing()).show(own or self.case.trend(UNITS.system))

    def next(self):
        """One step more; nothing after the last."""
        self._go(self.shown + 1)

    def back(self):
        """One step less; nothing before the first."""
        self._go(self.shown - 1)

    def refresh(self, system):
        """Write the steps anew, in a system of units."""
        end = (
            f"That is all: {minutes_words(self.minutes)}." if self.shown == len(self.steps) else f"Step {self.shown} of {len(self.steps)}."
        )
        inside = f'{steps_html(self.steps, self.shown, system)}<p style="{PLAIN}"><b>{end}</b></p>'
        self.told.value = f'<div role="status" aria-live="polite">{inside}</div>'

    def _go(self, shown):
        if 0 < shown <= len(self.steps):
            self.shown = shown
            self.refresh(UNITS.system)


def picture_html(picture):
    """A picture inside a page's HTML, with its words."""
    source = b64encode(picture.png(scale=1)).decode()
    return f'<img src="data:image/png;base64,{source}" alt="{escape(picture.words)}" style="max-width:100%">'
