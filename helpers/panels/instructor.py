"""For whoever teaches: the panel of a lesson put where its story begins, the moves to make, and what rooms tend to answer."""

from functools import cache
from html import escape

from IPython.display import display
from ipywidgets import HTML, Button, HBox, Layout, VBox

from helpers.lessons.common_predictions import SOURCE, STORIES, story
from helpers.lessons.plan import LESSONS, lesson
from helpers.panels.card import Card
from helpers.panels.controls import UNITS
from helpers.panels.lessons.average_lowest_highest_panel import rules_panel
from helpers.panels.lessons.leakage_and_fan_duty_panel import duty_panel
from helpers.panels.lessons.low_demand_stop_panel import low_demand_panel
from helpers.panels.lessons.pressure_window_panel import window_panel
from helpers.panels.lessons.reverse_or_direct_panel import run_panel
from helpers.panels.lessons.scaling_the_signal_panel import scaling_panel
from helpers.panels.lessons.transmitter_range_panel import range_panel
from helpers.panels.lessons.tuning_panel import tuning_panel
from helpers.panels.lessons.where_the_transmitters_go_panel import placement_panel
from helpers.panels.markup import html_table
from helpers.panels.reading import Reading

__all__ = ["PANELS", "Demo", "common_predictions", "demo", "panel_of"]

PANELS = {
    "pressure_window": window_panel,
    "leakage_and_fan_duty": duty_panel,
    "transmitter_range": range_panel,
    "scaling_the_signal": scaling_panel,
    "reverse_or_direct": run_panel,
    "average_lowest_highest": rules_panel,
    "where_the_transmitters_go": placement_panel,
    "tuning_and_door_events": tuning_panel,
    "low_demand_stop": low_demand_panel,
}
FOR_YOU = "For you alone: three moves, what to ask before each, and what the class then sees"
HEAD = ("Ask", "Then set", "The class sees")


def panel_of(key):
    """The panel of a lesson, one in a notebook: the lesson's own. Raises ValueError for a key that is not in the plan."""
    return PANELS[lesson(key).key]()


class Demo:
    """A lesson's panel where its story begins, with a button for each move; shown as the last line of one cell.

    What the class shall not read beforehand stands folded away above it.
    """

    def __init__(self, key):
        self.story, self.panel = story(key), panel_of(key)
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
        self.opening.value = f'<b style="font-size:18px">{escape(self.story.says(self.story.opening, UNITS.system))}</b>'

    def _render(self, system):
        rows = [
            (self.story.says(move.ask, system), self.story.says(move.hand, system), self.story.says(move.see, system))
            for move in self.story.moves
        ]
        of, opening = lesson(self.story.key), self.story.says(self.story.opening, system)
        table = html_table(HEAD, rows)
        html = f'<details><summary style="font-size:15px;cursor:pointer">{FOR_YOU}</summary>{table}</details>'
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
    told = story(key)

    def render(system):
        first, second = told.moves[:2]
        rows = [
            ("You ask", told.prediction.ask(system)),
            (f"A room tends to say ({SOURCE})", told.wrong_words(system)),
            ("Why it is tempting", told.tempting),
            ("Let them see it", told.says(f"{told.opening} Then set: {first.hand}.", system)),
            ("What comes out", told.says(first.see, system)),
            ("Ask next", told.says(second.ask, system)),
            ("And then", told.says(f"Set: {second.hand}. {second.see}", system)),
        ]
        return html_table(("", ""), rows), "\n".join(f"{what}: {words}" for what, words in rows)

    return Reading(render)


@cache
def stories_card():
    """All lessons and what their demonstration is called by."""
    rows = [(f"{of.number:02d} {of.title}", f'demo("{of.key}")') for of in LESSONS if of.key in STORIES]
    return Card(html_table(("Lesson", "In a cell"), rows), "\n".join(": ".join(row) for row in rows))
