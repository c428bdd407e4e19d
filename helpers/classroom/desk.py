"""The instructor's desk: a set into a folder by one call, the class table with its slips out of one by another, a panel for both."""

from functools import cache
from html import escape
from pathlib import Path

from ipywidgets import HTML, Button, Checkbox, Dropdown, GridBox, HBox, Image, IntText, Layout, Password, Text, VBox

from helpers import require
from helpers.classroom.books import class_table_book, mark_sheet_book
from helpers.classroom.sets import class_set, key_page, seat_page, sheets_page, table_html, table_page
from helpers.classroom.table import class_table
from helpers.classroom.teach_again import slip_counts, teach_again
from helpers.lessons import LESSONS
from helpers.model.files import free_path, made_folder, safe_name, write_whole
from helpers.plots.markup import Verdict, paragraphs_html, verdict_html
from helpers.plots.picture import picture_of
from helpers.plots.plot import Axes, Axis, Entry, Plot, Words, bar
from helpers.plots.printer import PAPERS, PrintingError, write_pdf
from helpers.plots.style import BODY_PT, INK, MUTED, PALE, SERIES, Fill
from helpers.teaching.seeds import PROTECTION, new_class_code
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

MOST_BARS, ROW_PX, AROUND_PX, LONGEST = 10, 48, 148, 96
BAR, LIFT = 0.36, 0.44  # of a row: the bar's height, and how far its words lie over its middle
NO_SLIP = "No slip was recorded."
STILL, RIGHT = "hatched: not put right yet", "plain: put right since"


def slip_plot(bars, class_size):
    """Slips by how many learners made them; bars: (words, how many have not put it right, how many have), the longest first; class_size:
    learners in the table. Returns `Plot`."""
    looks, right_looks = Fill(PALE, INK, "////", 1.0), Fill(SERIES[0].colour, INK, width=1.0)
    layers, told, title = [], [], "Slips: by how many learners"
    for row, (label, still, right) in enumerate(bars):
        layers += [bar(row, 0, still, BAR, looks, still=True), bar(row, still, still + right, BAR, right_looks, still=True),
                   Words(label, 0.0, row - LIFT, order=3, still=True),
                   Words(f" {still + right}", still + right, row, size_pt=BODY_PT, order=3, still=True)]  # fmt: skip
        told.append(f"{label}: {still + right}, of whom {still} have not put it right.")
    if not bars:
        layers.append(Words(NO_SLIP, 0.5, 0.5, "center", "baseline", MUTED, BODY_PT, over="", still=True))
    rows = max(len(bars), 1)
    across = Axis("Learners", ends=(0.0, max([class_size, *(still + right for _, still, right in bars)]) or 1))
    up = Axis(ends=(rows - 0.5, -0.8), ticks=((), ()), grid=False)
    words = " ".join([f"Slips of a class of {class_size}, by how many learners made them.", *(told or [NO_SLIP])])
    high = AROUND_PX + ROW_PX * max(len(bars), 2)
    axes = Axes(across, up, tuple(layers), title, (24, 40, 92, 56))
    return Plot("slips", title, (axes,), words, legend=(Entry(f"{STILL}; {RIGHT}", at_px=12.0, still=True),), height_px=high)


def slip_picture(table):
    """The picture of the commonest slips of a `ClassTable`."""
    slips = slip_counts(table)[:MOST_BARS]
    labels = [f"{one.lesson.numbered} {one.title}: {one.slip}" for one in slips]
    short = [label if len(label) <= LONGEST else f"{label[: LONGEST - 1]}…" for label in labels]
    bars = [(label, one.still, one.learners - one.still) for label, one in zip(short, slips, strict=True)]
    return picture_of(slip_plot(bars, len(table.counted)))


A_PRINT = 1500  # questions in one PDF: what the browser prints well within its time, also on a busy machine
SETS, RECORDS = "classes", "records_of_learners"  # folders, beside the notebook, where no other is named


class WrittenFiles:
    """What was written: folder, paths, and a note where something could not be."""

    def __init__(self, folder, paths, note=""):
        self.folder, self.paths, self.note = Path(folder), tuple(paths), note

    def __str__(self):
        seats = [path for path in self.paths if path.parent != self.folder]
        names = [path.name for path in self.paths if path.parent == self.folder]
        names += [f"{len(seats)} pages, one for each seat, in {seats[0].parent.name}"] if seats else []
        return "\n".join(filter(None, [f"Written into {self.folder.as_posix()}: {', '.join(names)}.", self.note]))

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/html": verdict_html(Verdict("note" if self.note else "done", str(self))), "text/plain": str(self)}


class ClassView:
    """A `ClassTable` to look at; `export` writes it."""

    def __init__(self, table, system=None):
        self.table, self.system = table, system or UNITS.system
        self.picture = slip_picture(table)

    def export(self, folder="."):
        """Write the table as a spreadsheet, a page and a picture into a folder, beside what is there. Returns what was `WrittenFiles`."""
        folder = made_folder(folder)
        contents = (
            ("class_table.xlsx", class_table_book(self.table, self.system)),
            ("class_table.html", table_page(self.table, self.system, self.picture)),
            ("class_table.png", self.picture.png()),
        )
        return WrittenFiles(folder, [write_whole(free_path(folder / name), content) for name, content in contents])

    @property
    def words(self):
        """The table in sentences."""
        rows = [f"{row.name or 'no name'}, seat {row.seat or 'none'}: {row.state}, {len(row.solved)} of {len(row.tried)} solved."
                for row in self.table.rows]  # fmt: skip
        left = [f"Left out: {one.why}." for one in self.table.left_out]
        return "\n".join(["To teach again:", *written_out(teach_again(self.table), self.system), *rows, *left])

    @property
    def html(self):
        """The table without its picture."""
        return table_html(self.table, self.system)

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/html": table_html(self.table, self.system, self.picture), "text/plain": self.words}


def make_class(code, seats, lessons=None, each=None, system=None, paper="A4", title="", names=(), folder=None, pdf=True):
    """Make a class's set and write it: a sheet per seat, all sheets, the key (HTML and PDF), and a mark sheet (XLSX).

    code, seats, lessons, each, system, title, names: as `class_set`, the system by default the one of the unit switch; paper: "A4" or
    "Letter"; folder: by default one named after the class's title or mark, in `classes`; pdf: whether to print PDFs too. A mark sheet that
    is there already stays: the new one gets a number. Returns what was `WrittenFiles`. Raises ValueError with a sentence.
    """
    require.one_of(PAPERS, paper=paper)
    made = class_set(code, seats, lessons, each, system or UNITS.system, title, names)
    folder = made_folder(folder or Path(SETS) / safe_name(made.title or made.mark))
    within = made_folder(folder / "seats")
    paths = [write_whole(free_path(folder / "mark_sheet.xlsx"), mark_sheet_book(made, paper))]
    paths += [write_whole(folder / name, page) for name, page in (("sheets.html", sheets_page(made)), ("key.html", key_page(made)))]
    paths += [write_whole(within / _seat_file(sheet), seat_page(made, sheet)) for sheet in made.sheets]
    printed, note = _printed(made, folder, paper) if pdf else ([], "")
    return WrittenFiles(folder, paths + printed, " ".join(filter(None, [note, _others(folder, paths + printed)])))


def collect_class(folder, code=None, system=None):
    """Collect the learners' exported records in a folder, and look at them.

    code: the class code, with which signatures are checked. Returns a `ClassView`. Raises ValueError with a sentence.
    """
    return ClassView(class_table(folder, code), system)


class ClassDesk:
    """Both calls as a panel. The class code is not shown, for the desk may stand before a projector."""

    def __init__(self):
        self.code = _field(Password, "Class code", placeholder="yours alone, 8 letters or more")
        self.title = _field(Text, "Class", placeholder="such as Autumn, group B")
        self.seats = _field(IntText, "Seats", value=30)
        self.pages = {
            one.key: Checkbox(description=one.name, value=one is LESSONS[0], indent=False, layout=Layout(width="auto")) for one in LESSONS
        }
        self.each = _field(Dropdown, "Exercises of each", value=0, options=[("all", 0), *((str(number), number) for number in range(1, 6))])
        self.paper = _field(Dropdown, "Paper", options=list(PAPERS))
        self.records = _field(Text, "Records lie in", value=RECORDS)
        self.new_button = _button("Draw a new code", self.new_code)
        self.make_button = _button("Make the set", self.make)
        self.collect_button = _button("Collect records", self.collect)
        self.told, self.table, self.image = HTML(), HTML(), Image(layout=Layout(display="none"))
        fields = [self.code, self.title, self.seats, self.each, self.paper, self.records]
        grid = GridBox(fields, layout=Layout(grid_template_columns="repeat(auto-fill, minmax(440px, 1fr))", width="100%"))
        columns = Layout(grid_template_columns="repeat(auto-fill, minmax(300px, 1fr))", width="100%")
        pages = VBox([HTML("<b>Pages</b>"), GridBox(list(self.pages.values()), layout=columns)])
        row = HBox([self.new_button, self.make_button, self.collect_button], layout=Layout(flex_flow="row wrap", overflow="visible"))
        notes = HTML(paragraphs_html(PROTECTION))
        self.box = VBox([UNITS.switch(), grid, pages, row, self.told, self.image, self.table, notes])
        self.view = None

    def new_code(self):
        """Draw a class code and show it once, to be written down."""
        self.code.value = new_class_code()
        self._say(Verdict("note", f"Write this class code down, and keep it to yourself: {self.code.value}"))

    def make(self):
        """Write the set of what the fields say."""
        pages, each = self.lessons or None, self.each.value or None
        self._try(lambda: make_class(self.code.value, self.seats.value, pages, each, paper=self.paper.value, title=self.title.value))

    @property
    def lessons(self):
        """Keys of the pages that are ticked."""
        return tuple(key for key, tick in self.pages.items() if tick.value)

    def collect(self):
        """Show the table of the records, and write it beside them."""
        self._try(self._collected)

    def _collected(self):
        self.view = collect_class(self.records.value.strip() or RECORDS, self.code.value or None)
        self.image.value, self.image.layout.display = self.view.picture.png(scale=1), None
        self.image.layout.width, self.image.layout.max_width = f"{self.view.picture.width_px}px", "100%"
        self.table.value = (
            f'<div>{self.view.html}<p style="position:absolute;clip-path:inset(50%)">{escape(self.view.picture.words)}</p></div>'
        )
        return self.view.export(Path(SETS) / safe_name(self.title.value or self.view.table.mark or "class"))

    def _try(self, work):
        for button in (self.make_button, self.collect_button):
            button.disabled = True
        self._say(Verdict("note", "At work; a class of 30 takes some seconds."))
        try:
            written = work()
            self._say(Verdict("note" if written.note else "done", str(written)))
        except ValueError as refusal:
            self._say(Verdict("entry", str(refusal)))
        finally:
            for button in (self.make_button, self.collect_button):
                button.disabled = False

    def _say(self, verdict):
        self.told.value = f'<div role="status" aria-live="polite">{verdict_html(verdict)}</div>'

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live desk; without a kernel, what the signature is good for."""
        return self.box._repr_mimebundle_() | {"text/html": paragraphs_html(PROTECTION), "text/plain": "\n".join(PROTECTION)}


@cache
def class_desk():
    """The desk, one in a notebook."""
    return ClassDesk()


def _others(folder, paths):
    """A word about papers that lie in the folder and are not of this set: of more seats, other names, or other pages."""
    papers = {path for pattern in ("*.pdf", "*.html", "seats/*.html") for path in folder.glob(pattern)}
    old = sorted(path.name for path in papers - set(paths))
    return (
        f"Papers of an earlier set lie there too, do not hand them out by mistake: {', '.join(old[:5])}{' ...' if old[5:] else ''}."
        if old
        else ""
    )


def _seat_file(sheet):
    named = f"_{safe_name(sheet.name)}" if sheet.name else ""
    return f"seat_{sheet.seat.number:03d}{named}.html"


def _printed(made, folder, paper):
    """(paths, note) of the PDFs, in parts where one would be too long; without a browser the note says so."""
    paths = []
    try:
        for name, page in _parts(made):
            paths.append(write_pdf(page, folder / name, paper))
    except PrintingError as trouble:
        return paths, f"The pages are written, the PDFs not all of them. {trouble}."
    return paths, ""


def _parts(made):
    """(file name, page) of each PDF."""
    seats, questions = len(made.sheets), len(made.questions)
    step = max(1, A_PRINT // questions)
    for first in range(0, seats, step):
        sheets = made.sheets[first : first + step]
        ending = "" if seats <= step else f"_{sheets[0].seat.number:03d}-{sheets[-1].seat.number:03d}"
        yield f"sheets{ending}.pdf", sheets_page(made, sheets)
    step = max(1, A_PRINT // seats)
    for first in range(0, questions, step):
        chosen = made.questions[first : first + step]
        ending = "" if questions <= step else f"_{chosen[0].number:02d}-{chosen[-1].number:02d}"
        yield f"key{ending}.pdf", key_page(made, chosen)


def _field(kind, label, **more):
    field = kind(description=label, layout=Layout(width="430px"), **more)
    field.tooltip, field.style.description_width = label, "130px"
    return field


def _button(label, work):
    button = Button(description=label, layout=Layout(width="170px"))
    button.on_click(lambda _: work())
    return button
