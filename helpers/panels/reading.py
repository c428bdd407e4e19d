"""Something to read whose figures follow the unit switch: an example worked by hand, the card for the senior."""

from html import escape

from ipywidgets import HTML

from helpers.panels.controls import UNITS
from helpers.panels.markup import html_table
from helpers.panels.verdict import Verdict, verdict_html

__all__ = ["Reading", "SeniorCard", "WorkedCard"]

FRAME = "border:2px solid #1b2733;padding:6px 16px;margin:8px 0;max-width:1000px;font-size:16px;line-height:1.45"


class Reading:
    """Words of the moment: a live widget, and the same as HTML and as plain text for a page without a kernel.

    render(system) gives (HTML, plain text) in a system of units.
    """

    def __init__(self, render):
        self.render, self.widget = render, HTML()
        UNITS.listen(self.refresh)
        self.refresh()

    def refresh(self):
        """Write it anew, in the units of the moment."""
        self.widget.value = self.render(UNITS.system)[0]

    def _repr_mimebundle_(self, include=None, exclude=None):
        html, words = self.render(UNITS.system)
        return self.widget._repr_mimebundle_() | {"text/html": html, "text/plain": words}


class WorkedCard(Reading):
    """A `WorkedExample` line by line: what is given, how it is worked out, and the published figure it ends on."""

    def __init__(self, example):
        self.example = example
        super().__init__(self._render)

    def _render(self, system):
        example = self.example
        rows = [(line.what, line.how, line.says(system)) for line in (*example.given, *example.working)]
        closing = Verdict("good" if example.meets else "attention", example.closing(system))
        html = html_table(("What", "How", "Value"), rows, title=example.title) + verdict_html(closing)
        return html, "\n".join(
            [example.title, *(f"{what}: {how} = {value}" if how else f"{what}: {value}" for what, how, value in rows), str(closing)]
        )


class SeniorCard(Reading):
    """The lesson in a few lines with limits; lines(system) gives them."""

    def __init__(self, lines):
        self.lines = lines
        super().__init__(self._render)

    def _render(self, system):
        lines = tuple(self.lines(system))
        points = "".join(f"<li>{escape(line)}</li>" for line in lines)
        inside = f'<b>Card for the senior</b><ol style="margin:4px 0">{points}</ol>'
        html = f'<section aria-label="Card for the senior" style="{FRAME}">{inside}</section>'
        return html, "\n".join(["Card for the senior", *(f"{number}. {line}" for number, line in enumerate(lines, 1))])
