"""Controls above, a picture below, a verdict under it: the shape of every panel; and things to read whose figures follow the unit switch.

The reader's moves arrive on a thread of their own. Only one at a time is answered, and one that has been overtaken while it waited is
left out: the newest value wins and nothing piles up.
"""

from contextlib import contextmanager
from html import escape
from threading import Lock, get_ident

from ipywidgets import HTML, GridBox, Layout, VBox

from helpers.plots.markup import PAGE_STYLE, TEXT, Verdict, VerdictLine, html_table, verdict_html
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, keys_held

__all__ = ["Panel", "Reading", "SeniorCard", "WorkedCard"]

COLUMNS = {"grid_template_columns": "repeat(auto-fill, minmax(272px, 1fr))", "grid_gap": "0 4px", "width": "100%", "max_width": "1250px"}

CLASS = "pressure-loop-panel"
NARROW_READOUT = f"<style>.{CLASS} .widget-readout {{ min-width: 44px; margin-left: 2px; }}</style>"  # leaves the slider its length


class Panel:
    """A live panel.

    controls: by name, in the order shown. picture: a Picture. answer: called as answer(**values), returns the Verdict and then the data,
    one for each drawing, for any system of units: the switch only writes them out again; a ValueError it raises is shown as a sentence
    while the last picture stays. prepare: called with the name of a control that was moved, before the answer, so that one control may
    set others; it may raise ValueError too. verdict_first: the verdict stands over the picture, where many controls would put it off the
    first screen. beside: called after each writing, for what else shows the answer.
    """

    def __init__(self, controls, picture, answer, prepare=None, verdict_first=False, beside=None):
        self.controls, self.picture, self.prepare, self.beside = controls, picture, prepare, beside
        self._answers, self._found = answer, None
        self.line = VerdictLine()
        self._turn, self._moved, self._preparing = 0, [], None
        self._counting, self._answering = Lock(), Lock()
        self.refresh()
        for name, control in controls.items():
            control.on_change(lambda name=name: self.refresh(name))
        UNITS.listen(self._units_changed)
        widgets = [UNITS.switch(), *(control.widget for control in controls.values())]
        # Once, and not with every verdict: a style makes the whole page new.
        style = HTML(NARROW_READOUT + PAGE_STYLE + keys_held(CLASS), layout=Layout(display="none"))
        shown = (self.line.widget, picture.image) if verdict_first else (picture.image, self.line.widget)
        rows = [style, GridBox(widgets, layout=Layout(**COLUMNS)), *shown]
        self.box = VBox(rows, layout=Layout(width="100%"))
        self.box.add_class(CLASS)

    @property
    def verdict(self):
        """The present verdict."""
        return self.line.verdict

    @property
    def values(self):
        """What the controls say, by name. Raises ValueError for an entry that cannot be used."""
        return {name: control.value for name, control in self.controls.items()}

    def put(self, **values):
        """Set several controls in turn, as a hand would, but answer and draw once; returns the verdict."""
        with self._answering:
            for name, value in values.items():
                if name not in self.controls:
                    raise ValueError(f"a control: must be one of {', '.join(self.controls)}; got {name!r}")
                with self._quietly():
                    self.controls[name].value = value
                    self.prepare and self.prepare(name)
            self._answer()
        return self.verdict

    def answer(self, system, **values):
        """Verdict and data for some values of the controls, written out in a system of units."""
        return written_out(self._answers(**values), system)

    def refresh(self, moved=None):
        """Answer what the controls say now, unless a newer wish is already waiting; moved: the control that was moved."""
        if self._preparing == get_ident():
            return  # a control set by another one, not by the reader
        with self._counting:
            self._turn += 1
            mine = self._turn
            self._moved += [moved] if moved else []
        with self._answering:
            if mine == self._turn:
                self._answer()

    def _answer(self, anew=True):
        try:
            if anew or self._found is None:
                self._found = None
                self._prepare()
                self._found = self._answers(**self.values)
            verdict, *data = written_out(self._found, UNITS.system)
            self.picture.show(*data)
            self.beside and self.beside()
        except ValueError as refusal:
            verdict = Verdict("entry", f"{refusal}\nThe picture still shows the last entry that could be used.")
        except Exception as fault:
            self.line.say(Verdict("entry", f"This panel has a fault of its own, please report it: {type(fault).__name__}: {fault}"))
            raise
        self.line.say(verdict, self.picture.words)

    def _prepare(self):
        with self._counting:
            moved, self._moved = self._moved, []
        with self._quietly():
            for name in moved if self.prepare else ():
                self.prepare(name)

    @contextmanager
    def _quietly(self):
        """While this thread sets controls, their changes ask for no answer."""
        self._preparing = get_ident()
        try:
            yield
        finally:
            self._preparing = None

    def _units_changed(self):
        for control in self.controls.values():
            control.use(UNITS.system)
        with self._answering:
            self._answer(anew=False)

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live panel and, for a page without a kernel, its picture and words, in one output."""
        data, metadata = self.picture.still()
        words = f"{data['text/plain']} {self.verdict}"
        metadata["image/png"]["alt"] = words
        return self.box._repr_mimebundle_() | data | {"text/plain": words}, metadata


FRAME = f"border:2px solid #1b2733;padding:6px 16px;margin:8px 0;max-width:1000px;font-size:{TEXT}px;line-height:1.45"


class Reading:
    """Words of the moment: a live widget, and the same as HTML and as plain text for a page without a kernel.

    render() gives (HTML, plain text) for any system of units.
    """

    def __init__(self, render):
        self.render, self.widget = render, HTML()
        UNITS.listen(self._write)
        self.refresh()

    def refresh(self):
        """Make it anew."""
        self._made = self.render()
        self._write()

    @property
    def written(self):
        """(HTML, plain text) in the units of the moment."""
        return written_out(self._made, UNITS.system)

    def _write(self):
        self.widget.value = self.written[0]

    def _repr_mimebundle_(self, include=None, exclude=None):
        html, words = self.written
        return self.widget._repr_mimebundle_() | {"text/html": html, "text/plain": words}


class WorkedCard(Reading):
    """A `WorkedExample` line by line: what is given, how it is worked out, and the published figure it ends on."""

    def __init__(self, example):
        self.example = example
        super().__init__(self._render)

    def _render(self):
        example = self.example
        rows = [line.row() for line in (*example.given, *example.working)]
        closing = Verdict("good" if example.meets else "attention", example.closing())
        html = html_table(("What", "How", "Value"), rows, title=example.title) + verdict_html(closing)
        return html, "\n".join(
            [example.title, *(f"{what}: {how} = {value}" if how else f"{what}: {value}" for what, how, value in rows), str(closing)]
        )


class SeniorCard(Reading):
    """The lesson in a few lines with limits; lines() gives them."""

    def __init__(self, lines):
        self.lines = lines
        super().__init__(self._render)

    def _render(self):
        lines = tuple(self.lines())
        points = "".join(f"<li>{escape(line)}</li>" for line in lines)
        inside = f'<ol style="margin:4px 0">{points}</ol>'  # its head stands above it, in the page
        html = f'<section aria-label="Card for the senior" style="{FRAME}">{inside}</section>'
        return html, "\n".join(["Card for the senior", *(f"{number}. {line}" for number, line in enumerate(lines, 1))])
