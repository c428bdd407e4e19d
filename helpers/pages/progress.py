"""Where the learner stands: what is done, what comes next, a name, a seat in a class, and the record's way to another machine."""

from html import escape

from ipywidgets import HTML, Button, HBox, Layout, Text, VBox

from helpers.fault_bench.record import cases_solved
from helpers.lessons import LESSONS
from helpers.plots.markup import CELL, HEAD_LINE, LINE, TABLE, TEXT, Verdict, verdict_html
from helpers.teaching.plan import FURTHER_PAGES
from helpers.teaching.record import comes_next, learner_record
from helpers.teaching.seeds import Seat

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
        self.where.value = f'<p style="font-size:{TEXT}px;margin:6px 0 0 0">{escape(self.words)}</p>'

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


COLUMNS = ("Page", "Minutes", "Predicted", "Solved", "Where you stand")
LOOKS = f"border-collapse:collapse;font-size:{TABLE}px;line-height:1.4;margin:6px 0"
DONE, BEGUN, NEXT = "✔ done", "● begun", "▶ next"
CLASS = "pressure-loop-progress"
STYLE = (
    f"<style>.{CLASS} input:focus-visible, .{CLASS} button:focus-visible, .{CLASS} a:focus-visible "
    "{ outline: 2px solid #0b3c6f; outline-offset: 2px; }"
    f".{CLASS} a {{ color: #0b4f94; text-decoration: underline; }}</style>"
)
HIDDEN, SHOWN = "Show where my record lies", "Hide where my record lies"


class ProgressView:
    """The standing lesson by lesson, read from the record; the learner's name and seat in a class; the record's place on demand, its export
    and import."""

    def __init__(self, record=None):
        self.record = record or learner_record()
        self.table, self.told, self.place = HTML(), HTML(layout=Layout(min_height="40px")), HTML()
        self.name = _field("Your name", self.record.name, "as you like to be called")
        self.file = _field("File", "", "path of a file, such as ada.json")
        self.name.observe(lambda change: self.call(change["new"]), "value")
        self.look_button = _button("Look again", self.refresh, "140px")
        self.place_button = _button(HIDDEN, self.show_place, "230px")
        self.export_button = _button("Export my record", self.export, "170px")
        self.import_button = _button("Import a record", self.read, "170px")
        rows = [HBox([self.name, self.look_button, self.place_button]), HBox([self.file, self.export_button, self.import_button])]
        for row in rows:
            row.layout.flex_flow, row.layout.overflow = "row wrap", "visible"
        self.seat = SeatEntry(self.record)
        style = HTML(STYLE, layout=Layout(display="none"))
        self.box = VBox([style, self.table, *rows, self.place, self.told, self.seat.box]).add_class(CLASS)
        self.record.listen(self.refresh)
        self.refresh()

    @property
    def standings(self):
        """Standing of every lesson, by its key."""
        return {standing.key: standing for standing in self.record.standing(LESSONS.asked())}

    @property
    def words(self):
        """The standing in plain text."""
        lines = [f"{page.name}: {', '.join(filter(None, (f'{page.minutes_alone} min', *told)))}" for page, told in self._rows()]
        return "\n".join(filter(None, [*lines, self._bench(), self._next()]))

    def refresh(self):
        """Read the record anew: other pages write to it, too."""
        self.table.value = self._html()
        if self.record.trouble:
            self._say(Verdict("note", self.record.trouble))

    def call(self, name):
        """The learner's name from now on."""
        try:
            self.record.name = name
        except ValueError as refusal:
            self._say(Verdict("entry", str(refusal)))
            return
        who = f"You are {self.record.name}" if self.record.name else "No name, then"
        drawn = "stay those of your seat" if self.record.seat else "are drawn for this name"
        told = f"{who}. From now on the figures in the exercises {drawn}; pages that are open keep theirs until run again."
        self._say(Verdict("note" if self.record.trouble else "done", "\n".join(filter(None, [told, self.record.trouble]))))

    def show_place(self):
        """Show where the record lies, or hide it again."""
        shown = not self.place.value
        self.place.value = f'<p style="font-size:{TEXT}px">{escape(str(self.record.path))}</p>' if shown else ""
        self.place_button.description = SHOWN if shown else HIDDEN

    def export(self):
        """Write the record to the file that was typed."""
        self._with_file(lambda path: f"Written: {self.record.export(path).name}, {len(self.record.events())} entries{self._signed()}.")

    def read(self):
        """Add what is in the file that was typed."""
        self._with_file(lambda path: f"{self.record.read(path)} entries are new; what was here already stays as it was.")

    def _signed(self):
        seat = self.record.seat
        return f", signed for seat {seat.number}" if seat else ""

    def _with_file(self, work):
        path = self.file.value.strip()
        try:
            if not path:
                raise ValueError("Type the path of a file first.")
            self._say(Verdict("done", work(path)))
        except ValueError as refusal:
            self._say(Verdict("entry", str(refusal)))

    def _rows(self):
        """(page, its counts and state in words) of every page."""
        standings, coming = self.standings, comes_next(self.standings.values())
        for page in (*LESSONS, *FURTHER_PAGES):
            found = standings.get(page.key)
            counts = (f"{found.predicted} of {found.predictions}", f"{found.solved} of {found.exercises}") if found else ("", "")
            yield page, (*counts, _state(found, page.key == coming))

    def _bench(self):
        """Cases of the fault bench solved at each level, or nothing."""
        solved = [f"{number} at level {level}" for level, number in cases_solved(self.record.events()).items()]
        return f"Cases solved at the fault bench: {', '.join(solved)}." if solved else ""

    def _next(self):
        coming = comes_next(self.standings.values())
        if coming is None:
            return "All lessons are done. Find faults with 10, prove a loop with 11, or begin a record of your own with 12 and 14."
        page = LESSONS.of(coming)
        return f"Next: {page.name}, about {page.minutes_alone} minutes."

    def _html(self):
        head = "".join(f'<th scope="col" style="{CELL}">{column}</th>' for column in COLUMNS)
        body = "".join(_row_html(page, told) for page, told in self._rows())
        table = f'<table style="{LOOKS}"><thead>{HEAD_LINE}{head}</tr></thead><tbody>{body}</tbody></table>'
        bench = f'<p style="font-size:{TEXT}px">{escape(self._bench())}</p>' if self._bench() else ""
        return f'<div style="overflow-x:auto">{table}</div>{bench}<p style="font-size:{TEXT}px"><b>{escape(self._next())}</b></p>'

    def _say(self, verdict):
        self.told.value = f'<div role="status" aria-live="polite">{verdict_html(verdict)}</div>'

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live view; without a kernel, the standing."""
        return self.box._repr_mimebundle_() | {"text/html": self._html(), "text/plain": self.words}


def progress_view():
    """The view of this machine's learner."""
    return ProgressView()


def _state(standing, coming):
    if standing is None:
        return "for the work itself"
    if standing.done:
        return DONE
    return ", ".join(filter(None, [NEXT if coming else "", BEGUN if standing.begun else ""]))


def _row_html(page, told):
    link = f'<a href="{page.notebook}" target="_blank">{escape(page.name)}</a>'
    state = told[-1]
    looks = ";font-weight:bold" if NEXT in state else ""
    cells = "".join(f'<td style="{CELL}">{text}</td>' for text in (link, page.minutes_alone, *told[:-1]))
    return f'{LINE}{cells}<td style="{CELL}{looks}">{state}</td></tr>'


def _field(label, value, hint):
    field = Text(value=value, description=label, placeholder=hint, continuous_update=False, layout=Layout(width="380px"))
    field.tooltip, field.style.description_width = label, "90px"
    return field


def _button(label, work, width):
    button = Button(description=label, layout=Layout(width=width))
    button.on_click(lambda _: work())
    return button
