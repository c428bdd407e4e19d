"""The field in which a question is answered: one of several options, or a figure with its unit beside it.

The browser sends what was typed and the press of Enter as two messages, in either order; and it sends what was typed also when the field
is merely left. Hence an answer counts as entered where both come within a moment.
"""

import time

from ipywidgets import HTML, HBox, Label, Layout, RadioButtons, Text

from helpers.panels.keys import keys_held

__all__ = ["CLASS", "WORDS", "AnswerField", "looks"]

CLASS = "pressure-loop-box"
WORDS = "font-size:16px;line-height:1.45;max-width:1000px"
TOGETHER_S = 1.0
# Long options take several lines, none is cut off; what the keyboard stands on is framed.
STYLE = f"""<style>
.{CLASS} {{ max-width: 1020px; overflow: visible; }}
.{CLASS} .widget-radio, .{CLASS} .widget-radio-box {{ width: auto; max-width: 1000px; height: auto; }}
.{CLASS} .widget-radio-box {{ margin: 2px 0; }}
.{CLASS} .widget-radio-box label {{ display: flex; flex-direction: row-reverse; justify-content: flex-end; align-items: flex-start;
  height: auto; min-height: 0; margin: 0; padding: 3px 0; white-space: normal; font-size: 15px; line-height: 20px; }}
.{CLASS} .widget-radio-box label input {{ flex: none; margin: 2px 8px 0 2px; }}
.{CLASS} .widget-label {{ font-size: 15px; }}
.{CLASS} input:focus-visible, .{CLASS} button:focus-visible {{ outline: 2px solid #0b3c6f; outline-offset: 2px; }}
</style>"""


def looks():
    """The style of a box, to be put into it once; its container has the class CLASS."""
    return HTML(STYLE + keys_held(CLASS), layout=Layout(display="none"))


class AnswerField:
    """A field with an accessible name. options: what to choose from, or empty where something is typed.

    Called without arguments: on_change after each change, then on_enter where Enter was pressed in a field that was changed.
    """

    def __init__(self, name, options=(), value=None, unit="", on_enter=None, on_change=None):
        self.name, self._on_enter, self._on_change = name, on_enter, on_change
        self._entered, self._changed = -TOGETHER_S, -TOGETHER_S
        if options:
            self.inner = RadioButtons(options=options, value=value, layout=Layout(width="auto"))
            self.inner.tooltip = name
            self.unit_label = Label("")
        else:
            self.inner = Text(value=value or "", description=name, continuous_update=False, layout=Layout(width="270px"))
            self.inner.style.description_width = "110px"
            self.inner.on_msg(self._message)
            self.unit_label = Label("")
        self.inner.observe(self._typed, "value")
        self.unit = unit
        self.widget = HBox([self.inner, self.unit_label], layout=Layout(align_items="center", overflow="visible"))

    @property
    def text(self):
        """What stands in the field; nothing where nothing was chosen."""
        return self.inner.value or ""

    @text.setter
    def text(self, text):
        self.inner.value = text

    @property
    def unit(self):
        """Label of the unit, beside the field and in what is read out for it."""
        return self.unit_label.value

    @unit.setter
    def unit(self, unit):
        self.unit_label.value = unit
        if isinstance(self.inner, Text):
            self.inner.tooltip = f"{self.name}, in {unit}" if unit else self.name

    def _message(self, widget, content, buffers):
        if content.get("event") == "submit":
            self._entered = time.monotonic()
            self._both()

    def _typed(self, change):
        self._changed = time.monotonic()
        if self._on_change:
            self._on_change()
        self._both()

    def _both(self):
        if self._on_enter and abs(self._entered - self._changed) < TOGETHER_S:
            self._entered = self._changed = -TOGETHER_S  # used up
            self._on_enter()
