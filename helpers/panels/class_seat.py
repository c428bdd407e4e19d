"""The learner's seat in a class: its key is typed once, and the exercises have the numbers of that seat's sheet."""

from html import escape

from ipywidgets import HTML, Button, HBox, Layout, Text, VBox

from helpers.lessons.class_keys import Seat
from helpers.lessons.progress import learner_record
from helpers.panels.verdict import Verdict, verdict_html

__all__ = ["SeatEntry", "seat_entry"]

NOBODY = "No seat of a class: the numbers of the exercises are drawn for your name."


class SeatEntry:
    """A field for the seat's key, and where one sits."""

    def __init__(self, record=None):
        self.record = record or learner_record()
        self.key = Text(description="Seat key", placeholder="as on your sheet, such as 7-ABCD-…", continuous_update=False)
        self.key.layout, self.key.tooltip, self.key.style.description_width = Layout(width="460px"), "Seat key, as on your sheet", "90px"
        self.take_button = Button(description="Take this seat", layout=Layout(width="150px"))
        self.leave_button = Button(description="Leave my seat", layout=Layout(width="150px"))
        self.take_button.on_click(lambda _: self.take())
        self.leave_button.on_click(lambda _: self.leave())
        self.where, self.told = HTML(), HTML()
        row = HBox([self.key, self.take_button, self.leave_button], layout=Layout(flex_flow="row wrap", overflow="visible"))
        self.box = VBox([self.where, row, self.told])
        self.record.listen(self.refresh)
        self.refresh()

    @property
    def words(self):
        """Where one sits, in words."""
        seat = self.record.seat
        return NOBODY if seat is None else f"Seat {seat.number} of the class with the mark {seat.mark}."

    def refresh(self):
        """Read anew where one sits."""
        self.where.value = f'<p style="font-size:15px;margin:6px 0 0 0">{escape(self.words)}</p>'

    def take(self):
        """Sit down at the seat whose key was typed; a slip in it is told, and nothing changes."""
        try:
            if not self.key.value.strip():
                raise ValueError("Type the seat key of your sheet first.")
            self.record.seat = Seat.read(self.key.value)
        except ValueError as refusal:
            self._say(Verdict("entry", str(refusal)))
            return
        self.key.value = ""  # who looks over a shoulder shall not read it
        self._done(f"{self.words} Exercises have the numbers of your sheet from now on, and your export is signed; pages that are open "
                   "keep their numbers until run again.")  # fmt: skip

    def leave(self):
        """Get up: the numbers are those of the name again, and an export is not signed."""
        self.record.seat = None
        self._done("You have no seat now. What you did stays in your record.")

    def _done(self, words):
        self._say(Verdict("note" if self.record.trouble else "done", "\n".join(filter(None, [words, self.record.trouble]))))

    def _say(self, verdict):
        self.told.value = f'<div role="status" aria-live="polite">{verdict_html(verdict)}</div>'

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live entry; without a kernel, what it is for."""
        words = "Seat key: ______ (as on your sheet, where your class has sheets)"
        return self.box._repr_mimebundle_() | {"text/html": f"<p>{words}</p>", "text/plain": words}


def seat_entry():
    """The entry of this machine's learner."""
    return SeatEntry()
