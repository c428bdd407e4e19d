"""Controls above, a picture below, a verdict under it: the shape of every panel of the workbook.

The reader's moves arrive on a thread of their own. Only one at a time is answered, and one that has been overtaken while it waited is
left out: the newest value wins and nothing piles up.
"""

from threading import Lock

from ipywidgets import GridBox, Layout, VBox

from helpers.panels.controls import UNITS
from helpers.panels.verdict import Verdict, VerdictLine

__all__ = ["Panel"]


class Panel:
    """A live panel.

    controls: by name, in the order shown. picture: a Picture. answer: called as answer(system=..., **values), returns the Verdict, then the
    data, one for each drawing; a ValueError it raises is shown as a sentence while the last picture stays. changed: called with the name of
    a control that was moved, before the answer, so that one control may set others.
    """

    def __init__(self, controls, picture, answer, changed=None):
        self.controls, self.picture, self.answer, self.changed = controls, picture, answer, changed
        self.line = VerdictLine()
        self._turn, self._counting, self._answering, self._holding = 0, Lock(), Lock(), False
        self.refresh()
        for name, control in controls.items():
            control.on_change(lambda name=name: self._moved(name))
        UNITS.listen(self._units_changed)
        self.box = self._laid_out()

    @property
    def verdict(self):
        """The present verdict."""
        return self.line.verdict

    def refresh(self):
        """Answer what the controls say now, unless a newer wish is already waiting."""
        with self._counting:
            self._turn += 1
            mine = self._turn
        with self._answering:
            if mine == self._turn:
                self._answer()

    def _answer(self):
        try:
            values = {name: control.value for name, control in self.controls.items()}
            verdict, *data = self.answer(system=UNITS.system, **values)
            self.picture.show(*data)
        except ValueError as refusal:
            verdict = Verdict("entry", f"{refusal} The picture still shows the last entry that could be used.")
        except Exception as fault:
            self.line.say(Verdict("entry", f"This panel has a fault of its own, please report it: {type(fault).__name__}: {fault}"))
            raise
        self.line.say(verdict, self.picture.words)

    def _moved(self, name):
        if self._holding:
            return
        if self.changed:
            self._holding = True
            try:
                self.changed(name)
            finally:
                self._holding = False
        self.refresh()

    def _units_changed(self):
        for control in self.controls.values():
            control.use(UNITS.system)
        self.refresh()

    def _laid_out(self):
        widgets = [UNITS.switch(), *(control.widget for control in self.controls.values())]
        columns = Layout(grid_template_columns="repeat(auto-fill, minmax(415px, 1fr))", grid_gap="0 8px", width="100%", max_width="1260px")
        return VBox([GridBox(widgets, layout=columns), self.picture.image, self.line.widget], layout=Layout(width="100%", overflow="hidden"))

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live panel and, for a page without a kernel, its picture and words, in one output."""
        data, metadata = self.picture.still()
        words = f"{data['text/plain']} {self.verdict}"
        metadata["image/png"]["alt"] = words
        return self.box._repr_mimebundle_() | data | {"text/plain": words}, metadata
