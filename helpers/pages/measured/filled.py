"""Filled books of a test day, typed by their paths under the building they are of, and what they say."""

from functools import cache

from ipywidgets import VBox

from helpers.pages.measured import crew
from helpers.pages.sites import SiteChoice
from helpers.plots.headline import VerdictLine
from helpers.plots.markup import PAGE_STYLE, Verdict
from helpers.widgets.controls import STYLE, Typed, keys_held
from helpers.widgets.panel import CLASS, hidden


class FilledPanel:
    """Filled books typed by their paths, read together at once: `reading` is what they say, `crew.brought_back`'s."""

    def __init__(self, name=crew.LARKFIELD):
        self.site, self.line = SiteChoice("Building", crew.PICKERS.name(name), row=True), VerdictLine()
        self.files = Typed(
            "Filled books", lambda text: tuple(filter(None, map(str.strip, text.split(";")))), hint="paths of .xlsx files, with ; between"
        )
        self.box = VBox().add_class(CLASS)
        self._head = (hidden(STYLE + PAGE_STYLE + keys_held(CLASS)), self.site.widget, self.files.widget)
        self.reading = self._of = self._refused = None
        self._read()
        for control in (self.site, self.files):
            control.on_change(self._read)
        crew.PICKERS.join("filled", self.site)

    def write(self):
        """Write what the books come to, as `crew.write_back`; where those that are typed were not read, or cannot be written, say so: what
        was read before is not what the entry names."""
        if self._refused is not None:
            return Verdict("entry", f"{self._refused}. Nothing was written.") if self.files.value else self.line.verdict
        try:
            return crew.write_back(*self.files.value, name=self.site.path)
        except ValueError as refusal:
            return Verdict("entry", f"{refusal}")

    def _read(self):
        self.line.say(Verdict("working", "Reading and judging."))
        self.box.children = (*self._head, self.line.widget)  # no verdict of other books stands there meanwhile
        try:
            self.reading, self._of = crew.brought_back(*self.files.value, name=self.site.path), self.site.path
            self._refused = None
        except ValueError as refusal:
            self._refused = refusal
            same = self._of == self.site.path  # what was read of another building does not stand under this one's name
            self.line.say(Verdict("entry", f"{refusal}. Below stands what was read before.") if same else self._none_said(refusal))
            self.box.children = (*self._head, self.line.widget, *([self.reading.widget] if same else []))
            return
        self.box.children = (*self._head, self.reading.widget)

    def _none_said(self, refusal):
        """Where nothing stands of this building yet: what is wrong with the books named, or that none is."""
        if self.files.value:
            return Verdict("entry", f"{refusal}.")
        return Verdict("open", "No filled book of this building is named yet, and none is made up for it: type the paths of its books")

    def _repr_mimebundle_(self, include=None, exclude=None):
        shown = self.reading if self._of == self.site.path else self.line.verdict
        still = shown._repr_mimebundle_(include, exclude)
        return self.box._repr_mimebundle_() | {kind: made for kind, made in still.items() if kind.startswith("text/")}


@cache
def filled_panel(name=crew.LARKFIELD):
    """Filled books of a site, one panel in a notebook."""
    return FilledPanel(name)
