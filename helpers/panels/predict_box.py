"""A question before the picture, and afterwards the prediction beside what the model says."""

from html import escape

from ipywidgets import HTML, Button, Layout, VBox

from helpers import units
from helpers.lessons.progress import learner_record
from helpers.panels.answer_field import CLASS, WORDS, AnswerField, looks
from helpers.panels.controls import UNITS
from helpers.panels.markup import paragraphs_html
from helpers.panels.verdict import Verdict, verdict_html

__all__ = ["CompareBox", "PredictBox"]

KEPT = "Kept. Now the picture: the next cell. What the model says comes after it."
FIRST = "Predict first: choose or type an answer above and keep it. A wrong one teaches more than none."


class PredictBox:
    """A `Prediction` to commit to; what is kept goes into the learner's record."""

    def __init__(self, lesson_key, prediction, record=None):
        self.lesson, self.prediction, self.record = lesson_key, prediction, record or learner_record()
        self._system = UNITS.system
        self.question, self.told = HTML(), HTML(layout=Layout(min_height="40px"))
        self.field = AnswerField("My prediction", prediction.options, self._kept(), on_enter=self.keep)
        self.keep_button = Button(description="Keep my prediction", layout=Layout(width="180px"))
        self.keep_button.on_click(lambda _: self.keep())
        self.box = VBox([looks(), self.question, self.field.widget, self.keep_button, self.told]).add_class(CLASS)
        UNITS.listen(self.refresh)
        self.refresh()

    def keep(self):
        """Keep what stands in the field; what cannot be a prediction is told, and stays as it was typed."""
        text = self.field.text
        try:
            if not text.strip():
                raise ValueError("Choose one of the answers first." if self.prediction.options else "Type an answer first.")
            self.prediction.read(text, UNITS.system)
        except ValueError as refusal:
            self._say(verdict_html(Verdict("entry", str(refusal))))
            return
        self.record.predicted(self.lesson, self.prediction.key, text, UNITS.system)
        self._say(paragraphs_html(filter(None, [KEPT, self.record.trouble])))

    def refresh(self):
        """Write the question anew, in the units of the moment; a figure in the field is carried over."""
        system = UNITS.system
        self.question.value = f'<div style="{WORDS}"><b>Predict first.</b> {escape(self.prediction.ask(system))}</div>'
        if not self.prediction.options:
            self.field.text = self._in_units(self.field.text, self._system, system)
            self.field.unit = self.prediction.unit(system)
        self._system = system

    def _kept(self):
        """What was kept before, as the field takes it; None for nothing."""
        text, system = self.record.prediction(self.lesson, self.prediction.key) or ("", UNITS.system)
        if self.prediction.options:
            return text if text in self.prediction.options else None
        return self._in_units(text, system, UNITS.system)

    def _in_units(self, text, before, now):
        """A typed figure in other units; what is no figure stays as it was typed."""
        if before == now or self.prediction.dimension == "number":
            return text
        try:
            return f"{float(units.to_display(self.prediction.read(text, before), self.prediction.dimension, now)):.3g}"
        except ValueError:
            return text

    def _say(self, html):
        self.told.value = f'<div role="status" aria-live="polite">{html}</div>'

    def _repr_mimebundle_(self, include=None, exclude=None):
        asked = self.prediction.ask(UNITS.system)
        options = "".join(f"<li>{escape(option)}</li>" for option in self.prediction.options)
        html = f'<div style="{WORDS}"><b>Predict first.</b> {escape(asked)}<ul>{options}</ul></div>'
        words = "\n".join([f"Predict first. {asked}", *(f"( ) {option}" for option in self.prediction.options)])
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": words}


class CompareBox:
    """The prediction that was kept beside the model's result; nothing of the result before there is one."""

    def __init__(self, lesson_key, prediction, record=None):
        self.lesson, self.prediction, self.record = lesson_key, prediction, record or learner_record()
        self.widget, self._shown = HTML(), None
        UNITS.listen(self.refresh)
        self.record.listen(self.refresh)
        self.refresh()

    @property
    def verdict(self):
        """What it says; None before anything was predicted."""
        kept = self.record.prediction(self.lesson, self.prediction.key)
        if kept is None:
            return None
        try:
            compared = self.prediction.compare(*kept, UNITS.system)
        except ValueError as refusal:
            return Verdict("entry", f"What was kept cannot be read any more; predict again. {refusal}")
        return Verdict("right" if compared.agree else "missed", compared.words)

    def refresh(self):
        """Say it anew; the model is only asked where something has changed."""
        state = self.record.prediction(self.lesson, self.prediction.key), UNITS.system
        if state != self._shown:
            self._shown, self.widget.value = state, _told(self.verdict)

    def _repr_mimebundle_(self, include=None, exclude=None):
        verdict = self.verdict
        return self.widget._repr_mimebundle_() | {"text/html": _told(verdict), "text/plain": FIRST if verdict is None else str(verdict)}


def _told(verdict):
    return paragraphs_html([FIRST]) if verdict is None else verdict_html(verdict)
