"""A field for an answer; a prediction before the picture and beside what the model says.

The browser sends what was typed and the press of Enter as two messages, in either order; and it sends what was typed also when the field
is merely left. Hence an answer counts as entered where both come within a moment; so does one whose button is pressed before it has come.
"""

import time
from html import escape

from ipywidgets import HTML, Button, HBox, Label, Layout, RadioButtons, Text, VBox

from helpers import units
from helpers.plots.markup import PAGE_STYLE, TEXT, Verdict, folded, paragraphs_html, status_html, verdict_html
from helpers.teaching.record import learner_record
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, keys_held

CLASS = "pressure-loop-box"
WORDS = f"font-size:{TEXT}px;line-height:1.45;max-width:1000px"
TOGETHER_S = 1.0
# Long options take several lines, none is cut off; what the keyboard stands on is framed.
STYLE = f"""<style>
.{CLASS} {{ max-width: 1120px; overflow: visible; }} .{CLASS} .widget-html-content {{ height: auto; line-height: 1.4; }}
.{CLASS} .cards {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(min(400px, 100%), 1fr)); gap: 10px 16px; }}
.{CLASS} .card {{ border: 1px solid #d5dbe1; padding: 4px 10px; }} .{CLASS} .card > .widget-hbox {{ align-items: center; }}
.{CLASS} > .units {{ align-self: flex-end; }}
.{CLASS} .widget-radio, .{CLASS} .widget-radio-box {{ width: auto; max-width: 1000px; height: auto; }}
.{CLASS} .widget-radio-box {{ margin: 2px 0; }}
.{CLASS} .widget-radio-box label {{ display: flex; flex-direction: row-reverse; justify-content: flex-end; align-items: flex-start;
  height: auto; min-height: 0; margin: 0; padding: 3px 0; white-space: normal; font-size: {TEXT}px; line-height: 20px; }}
.{CLASS} .widget-radio-box label input {{ flex: none; margin: 2px 8px 0 2px; }}
.{CLASS} .widget-label {{ font-size: {TEXT}px; }}
.{CLASS} input:focus-visible, .{CLASS} button:focus-visible {{ outline: 2px solid #0b3c6f; outline-offset: 2px; }}
</style>"""


def looks():
    """The style of a box, to be put into it once; its container has the class CLASS."""
    return HTML(STYLE + PAGE_STYLE + keys_held(CLASS), layout=Layout(display="none"))


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
        else:
            self.inner = Text(value=value or "", description=name, continuous_update=False, layout=Layout(width="246px"))
            self.inner.style.description_width = "118px"
            self.inner.on_msg(self._message)
        self.inner.observe(self._typed, "value")
        self.unit_label, self.unit = Label(), unit
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

    def awaited(self):
        """A button was pressed that found nothing new here: what comes within a moment counts as entered."""
        self._entered, self._changed = time.monotonic(), -TOGETHER_S

    def _typed(self, change):
        self._changed = time.monotonic()
        if self._on_change:
            self._on_change()
        self._both()

    def _both(self):
        if self._on_enter and abs(self._entered - self._changed) < TOGETHER_S:
            self._entered = self._changed = -TOGETHER_S  # used up
            self._on_enter()


KEPT = "Kept. The panel shows what it looks like."
UNFOLD = "The answer, for whoever has written a prediction down"
SETTLED = "You have seen what comes out, so your prediction stays as you made it."
FIRST = "Predict first: choose or type an answer above and keep it. A wrong one teaches more than none."


class _Asked:
    """A `Prediction` and what the learner's record keeps of it."""

    def __init__(self, lesson_key, prediction, record):
        self.lesson, self.prediction, self.record = lesson_key, prediction, record or learner_record()

    @property
    def compared(self):
        """(what was kept beside the model's result as a `Verdict`, the same in a line); None before anything was predicted."""
        kept = self.record.prediction(self.lesson, self.prediction.key)
        if kept is None:
            return None
        try:
            found = written_out(self.prediction.compare(*kept), UNITS.system)
        except ValueError as refusal:
            words = f"What was kept cannot be read any more; predict again. {refusal}"
            return Verdict("entry", words), words
        return Verdict("right" if found.agree else "missed", found.words), found.line

    @property
    def verdict(self):
        """What it comes to; None before anything was predicted."""
        compared = self.compared
        return compared and compared[0]

    @property
    def settled(self):
        """Whether a prediction was kept that can be read: what comes out was told then, and it is not made anew."""
        kept = self.record.prediction(self.lesson, self.prediction.key)
        try:
            return kept is not None and self.prediction.read(*kept) is not None
        except ValueError:
            return False


class PredictBox(_Asked):
    """A `Prediction` to commit to; what is kept goes into the learner's record, and then the box tells the model's result."""

    def __init__(self, lesson_key, prediction, record=None):
        super().__init__(lesson_key, prediction, record)
        self._system = UNITS.system
        self.question, self.told = HTML(), HTML(layout=Layout(display="none", width="auto"))
        self.field = AnswerField("My prediction", prediction.options, self._kept(), on_enter=self.keep)
        self.keep_button = Button(description="Keep my prediction", layout=Layout(width="180px"))
        self.keep_button.on_click(lambda _: self.keep())
        self.box = VBox([looks(), self.question, self.field.widget, self.keep_button, self.told]).add_class(CLASS)
        UNITS.listen(self.refresh)
        self.refresh()

    def keep(self):
        """Keep what stands in the field; what cannot be a prediction is told, and stays as it was typed."""
        text = self.field.text
        if self.settled:
            self.field.text = self._kept()
            self._say(self.verdict, SETTLED)
            return
        if not text.strip():
            self.field.awaited()
        try:
            if not text.strip():
                raise ValueError("Choose one of the answers first." if self.prediction.options else "Type an answer first.")
            self.prediction.read(text, UNITS.system)
        except ValueError as refusal:
            self._say(Verdict("entry", str(refusal)))
            return
        self.record.predicted(self.lesson, self.prediction.key, text, UNITS.system)
        self._say(self.verdict, " ".join(filter(None, [KEPT, self.record.trouble])))
        self._close()

    def _close(self):
        """What has been answered is not changed any more."""
        self.field.inner.disabled = self.keep_button.disabled = self.settled

    def refresh(self):
        """Write the question anew, in the units of the moment; a figure in the field is carried over."""
        system = UNITS.system
        self.question.value = f'<div style="{WORDS}"><b>Predict first.</b> {escape(written_out(self.prediction.ask(), system))}</div>'
        if not self.prediction.options:
            self.field.text = self._in_units(self.field.text, self._system, system)
            self.field.unit = written_out(self.prediction.unit, system)
        self._system = system
        if verdict := self.verdict:
            self._say(verdict)
        self._close()

    def _kept(self):
        """What was kept before, as the field takes it; None for nothing."""
        text, system = self.record.prediction(self.lesson, self.prediction.key) or ("", UNITS.system)
        if self.prediction.options:
            return self.prediction.read(text, system) if self.settled else None
        return self._in_units(text, system, UNITS.system)

    def _in_units(self, text, before, now):
        """A typed figure in other units; what is no figure stays as it was typed."""
        if before == now or self.prediction.dimension == "number":
            return text
        try:
            return f"{float(units.to_display(self.prediction.read(text, before), self.prediction.dimension, now)):.3g}"
        except ValueError:
            return text

    def _say(self, verdict, more=""):
        tell(self.told, f"{verdict_html(verdict)}{more and paragraphs_html([more])}")

    def _repr_mimebundle_(self, include=None, exclude=None):
        asked = written_out(self.prediction.ask(), UNITS.system)
        options = "".join(f"<li>{escape(option)}</li>" for option in self.prediction.options)
        html = f'<div style="{WORDS}"><b>Predict first.</b> {escape(asked)}<ul>{options}</ul></div>'
        words = "\n".join([f"Predict first. {asked}", *(f"( ) {option}" for option in self.prediction.options)])
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": words}


def tell(widget, html):
    """Say something where nothing is kept free for it."""
    widget.value = html and f'<div role="status" aria-live="polite">{html}</div>'
    widget.layout.display = None if html else "none"


class CompareBox(_Asked):
    """In a line how the prediction that was kept came out, the reasons folded under it; nothing of the result before there is one."""

    def __init__(self, lesson_key, prediction, record=None):
        super().__init__(lesson_key, prediction, record)
        self.widget, self._shown = HTML(), None
        UNITS.listen(self.refresh)
        self.record.listen(self.refresh)
        self.refresh()

    def refresh(self):
        """Say it anew; the model is only asked where something has changed."""
        state = self.record.prediction(self.lesson, self.prediction.key), UNITS.system
        if state != self._shown:
            self._shown, self.widget.value = state, self._in_a_line()

    def _in_a_line(self):
        compared = self.compared
        if compared is None:
            return f'<div style="{WORDS}">{FIRST}</div>'
        verdict, line = compared
        return folded(f"{status_html(verdict.kind)}&ensp;{escape(line)}", paragraphs_html([verdict.words]), is_html=True)

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live comparison; on a page without a kernel, where nothing can be predicted, the answer, folded away."""
        verdict, html = self.verdict, self._in_a_line()
        if verdict is None:
            html += folded(UNFOLD, paragraphs_html([written_out(self.prediction.told(), UNITS.system)]))
        return self.widget._repr_mimebundle_() | {"text/html": html, "text/plain": FIRST if verdict is None else str(verdict)}
