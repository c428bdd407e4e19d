"""One layout for every panel, and things to read whose figures follow the unit switch.

Controls stand at the left in groups, the verdict at the right over a picture that never changes its size, under it what is not judged,
tasks at the foot. What is long is folded away: rare controls, all figures with what they are set to, how to read the picture. A narrow
page puts the controls above.

The reader's moves arrive on a thread of their own. Only one at a time is answered, and one that has been overtaken while it waited is
left out: the newest value wins and nothing piles up.
"""

from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape
from threading import Lock, get_ident

from ipywidgets import HTML, Button, GridBox, HBox, Layout, ToggleButton, VBox

from helpers.plots import markup
from helpers.plots.headline import HEAD_CLASS, HEADS_STYLE, UNDER_CLASS, VerdictLine, headline_html
from helpers.plots.markup import PAGE_STYLE, TEXT, Verdict, folded, html_table, paragraphs_html, verdict_html
from helpers.plots.style import INK, PAPER
from helpers.units.said import written_out
from helpers.widgets.controls import HAND_PX, LOOKS, UNITS, Typed, keys_held

CLASS, MORE = "pressure-loop-panel", "More"
MOST_IN_VIEW = 6  # controls; what a page has besides stands under MORE
WIDE_PX, NARROW_PX = 796, 799  # of the picture; of a page that has no room for two columns
LEAST_PX = 500  # of the picture's width in the lowest window: its smallest letters are then 10 px
# A low window with room at the side: what is not judged, and the folds, stand beside the picture, so that its letters stay large.
SHORT_PX, BROAD_PX, ASIDE_PX = 700, 1060, 149
# A style makes the whole page new, so it is put in once and not with every verdict.
STYLE = f"""<style>
.{CLASS} {{ container-type: inline-size; color: {INK}; background: {PAPER}; --jp-widgets-font-size: 14px; --jp-widgets-margin: 0; }}
.{CLASS}, .{CLASS} .widget-box, .{CLASS} .widget-gridbox {{ overflow: visible; }}
.{CLASS} .frame {{ display: grid; grid-template: "hand answer" auto "foot foot" auto / {HAND_PX}px minmax(0, {WIDE_PX}px);
  gap: 4px 18px; align-items: start; }}
.{CLASS} .hand {{ grid-area: hand; gap: 2px 18px; position: relative; }}
.{CLASS} .answer {{ grid-area: answer; align-self: stretch; }} .{CLASS} .foot {{ grid-area: foot; }}
.{CLASS} .group > .widget-html {{ margin-top: 4px; }}
.{CLASS} .fold.jupyter-button {{ color: {LOOKS["link"][0]}; background: none; border-color: transparent; text-align: left; width: auto;
  padding: 0 2px; }}
.{CLASS} .hand > .units {{ position: absolute; top: 0; right: 0; z-index: 1; }}
.{CLASS} .group:nth-child(2) > .widget-html {{ width: 174px; }}
.{CLASS} .pair {{ gap: 10px; }} .{CLASS} .pair > * {{ flex: 1 1 auto; width: auto; }}
.{CLASS} .last {{ gap: 6px; }} .{CLASS} .last > button {{ width: auto; }}
.{CLASS} .last > :last-child {{ margin-left: auto; }}
.{CLASS} .answer .{HEAD_CLASS} {{ min-height: 55px; }} .{CLASS} .answer .{UNDER_CLASS} {{ min-height: 61px; }}
.{CLASS} .widget-html-content {{ line-height: 1.35; height: auto; }}
.{CLASS} .answer .widget-image {{ width: min({WIDE_PX}px, 100%, max({LEAST_PX}px, 1.99 * (100vh - 394px))) !important; height: auto; }}
.{CLASS} .foot {{ border-top: 1px solid {LOOKS["edge"][0]}; padding-top: 4px; align-items: center; gap: 6px; }}
.{CLASS} .foot > .widget-html {{ flex: 1 1 auto; }} .{CLASS} .foot .jupyter-button {{ flex: none; width: auto; padding: 0 10px; }}
@media (max-height: {SHORT_PX}px) {{ @container (min-width: {BROAD_PX}px) {{
  .{CLASS} .answer {{ display: grid; column-gap: 14px;
    grid-template-columns: auto minmax(0, 1fr); grid-template-rows: auto auto auto 1fr; }}
  .{CLASS} .answer > *, .{CLASS} .answer :is(.{HEAD_CLASS}, .{UNDER_CLASS}) {{ grid-column: 1 / -1; }}
  .{CLASS} .answer > .widget-image {{ grid-area: 3 / 1 / span 2 / 2;
    width: min({WIDE_PX - ASIDE_PX}px, max({LEAST_PX}px, 1.99 * (100vh - 315px))) !important; }}
  .{CLASS} .answer > :nth-child(3) {{ grid-area: 3 / 2; }} .{CLASS} .answer > :nth-child(4) {{ grid-area: 4 / 2; flex-flow: column; }}
  .{CLASS} .answer > :nth-child(4) > button {{ white-space: normal; height: auto; max-width: 100%; }}
}} }}
@container (max-width: {NARROW_PX}px) {{
  .{CLASS} .frame {{ grid-template: "hand" auto "answer" auto "foot" auto / minmax(0, {WIDE_PX}px); }}
  .{CLASS} .hand, .{CLASS} .group {{ flex-flow: row wrap; display: flex; width: 100%; gap: 2px 18px; }}
  .{CLASS} .group > .widget-html {{ flex: 0 0 100%; }}
}}
</style>{PAGE_STYLE}"""


@dataclass(frozen=True)
class Task:
    """Something to try on a panel: what to do and what to look for, in one or two lines, and the settings that do it, by the control's
    name, for who has said what will happen."""

    words: str
    so: dict = field(default_factory=dict)


class Fold:
    """What stands folded away behind a button; the stock accordion cannot be opened from the keyboard."""

    def __init__(self, title, *inside):
        self._title = title
        self.button, self.inside = ToggleButton(tooltip=title).add_class("fold"), VBox(inside)
        self.button.observe(lambda change: self._show(), "value")
        self._show()

    def retitle(self, title):
        """Another title over what is folded away."""
        self._title = title
        self._show()

    def _show(self):
        opened = self.button.value
        self.button.description = f"{'▾' if opened else '▸'} {self._title}"
        self.inside.layout.display = None if opened else "none"


class Panel:
    """A live panel.

    controls: by name, in the order shown. picture: a Picture. answer: called as answer(**values), returns the Verdict and then the data,
    one for each drawing, for any system of units: the switch only writes them out again; a ValueError it raises is shown as a sentence
    while the last picture stays. prepare: called with the name of a control that was moved, before the answer, so that one control may
    set others; it may raise ValueError too. groups: names of controls by title, MOST_IN_VIEW of them at most; all others stand folded away.
    read: how to read the picture; left_out: in which cases it neither judges nor tries what to do, and which page does; tasks: of `Task`.
    beside: called after each writing, for what else shows the answer. slow: names of controls whose answer takes its time: until it is
    there, the panel says that what it shows is old.
    """

    def __init__(self, controls, picture, answer, prepare=None, *, groups, read="", left_out="", tasks=(), beside=None, slow=()):
        self.controls, self.picture, self.prepare, self.beside = controls, picture, prepare, beside
        self.groups, self.read, self.left_out, self.tasks, self.task = groups, read, left_out, tuple(tasks), 0
        self._answers, self._found, self._said, self.slow = answer, None, "", tuple(slow)
        self._opened = {
            name: (control.text if isinstance(control, Typed) else control.value, control.figure) for name, control in controls.items()
        }
        self.line, self.set_line, self.figures, self._read = VerdictLine(), HTML(), HTML(), HTML()
        self._turn, self._moved, self._preparing = 0, [], None
        self._counting, self._answering = Lock(), Lock()
        self.refresh()
        for name, control in controls.items():
            control.on_change(lambda name=name: self.refresh(name))
        UNITS.listen(self._units_changed)
        style = hidden(STYLE + keys_held(CLASS))
        frame = GridBox([self._hand(), self._foot(), self._answer_box()]).add_class("frame")
        self.box = VBox([style, frame], layout=Layout(width="100%")).add_class(CLASS)

    def _hand(self):
        """The controls."""
        named = [name for rows in self.groups.values() for row in rows for name in _names(row)]
        rare = [control.widget for name, control in self.controls.items() if name not in named]
        boxes = [
            VBox([HTML(f"<b>{escape(title)}</b>"), *(self._row(_names(row)) for row in rows)]).add_class("group")
            for title, rows in self.groups.items()
        ]
        fold, back = Fold(MORE, *rare), _button("Put back", self.put_back)
        last = HBox([*([fold.button] if rare else []), back]).add_class("last")
        return VBox([UNITS.switch(), *boxes, last, *([fold.inside] if rare else [])]).add_class("hand")

    def _row(self, names):
        """A control, or two short ones beside each other."""
        widgets = [self.controls[name].widget for name in names]
        return widgets[0] if len(widgets) == 1 else HBox(widgets).add_class("pair")

    def _answer_box(self):
        folds = Fold("All figures", self.figures), Fold("How to read the picture", self._read)
        shown = folds if self.read else folds[:1]
        rows = [
            self.line.widget,
            self.picture.image,
            self.set_line,
            HBox([fold.button for fold in shown]),
            *(fold.inside for fold in shown),
        ]
        return VBox(rows).add_class("answer")

    def _foot(self):
        self._told = HTML()
        steps = (
            ("Back", lambda: self.turn_to(self.task - 1)),
            ("Next", lambda: self.turn_to(self.task + 1)),
            ("Set it so", self.set_it_so),
        )
        foot = HBox([self._told, *(_button(*step) for step in steps)], layout=Layout(display=None if self.tasks else "none"))
        self.turn_to(0)
        return foot.add_class("foot")

    def turn_to(self, number):
        """Show another task, of `tasks`; nothing beyond the first and the last."""
        if 0 <= number < len(self.tasks):
            self.task = number
            words = written_out(self.tasks[number].words, UNITS.system)
            self._told.value = f"<b>Try this, {number + 1} of {len(self.tasks)}.</b> {escape(words)}"

    def set_it_so(self):
        """Put the panel where the task that is shown puts it. Returns the verdict."""
        return self.put_back(**self.tasks[self.task].so)

    def put_back(self, **but):
        """Put the panel as it opened, but for some controls; returns the verdict."""
        moved = {name: value for name, (value, figure) in self._opened.items() if self.controls[name].figure != figure}
        return self._put(moved, but)

    @property
    def verdict(self):
        """The present verdict."""
        return self.line.verdict

    @property
    def said(self):
        """What all controls in use are set to, in a line."""
        return f"Set: {'; '.join(control.said for control in self.controls.values() if control.shown)}"

    @property
    def values(self):
        """What the controls say, by name. Raises ValueError for an entry that cannot be used."""
        return {name: control.value for name, control in self.controls.items()}

    def put(self, **values):
        """Set several controls in turn, as a hand would, but answer and draw once; returns the verdict."""
        return self._put(values)

    def _put(self, *several):
        with self._answering:
            for name, value in (one for values in several for one in values.items()):
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
        if moved in self.slow and self.line.verdict is not None:
            self.line.say(Verdict("working", "Working it out. Picture and figures are still those of the last entry."))
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
            self._said = self.said
            self.beside and self.beside()
        except ValueError as refusal:
            verdict = Verdict("entry", f"{refusal}\nThe picture still shows the last entry that could be used.")
        except Exception as fault:
            self.line.say(Verdict("entry", f"This panel has a fault of its own, please report it: {type(fault).__name__}: {fault}"))
            raise
        self.line.say(verdict, self.picture.words)
        told = paragraphs_html([self._said])  # of the picture; the controls beside it say the same, so it is folded away
        self.figures.value = (paragraphs_html(verdict.words.split("\n")) if verdict.head else "") + told
        left_out = f"<b>Neither judged nor tried here:</b> {escape(self.left_out)}" if self.left_out else ""
        self.set_line.value = left_out and f'<div style="font-size:13px">{left_out}</div>'
        self._read.value = paragraphs_html(written_out(self.read, UNITS.system).split("\n"))

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
        self.turn_to(self.task)
        with self._answering:
            self._answer(anew=False)

    def still(self):
        """The panel on a page without a kernel: verdict, picture, what it is set to, all figures, how to read it, tasks."""
        size = f'width="{self.picture.width_px}" height="{self.picture.height_px}" style="max-width:100%;height:auto"'
        words = written_out([task.words for task in self.tasks], UNITS.system)
        parts = (
            HEADS_STYLE,
            headline_html(self.verdict),
            f'<img src="{self.picture.source(1)}" alt="{escape(self.picture.words)}" {size}>',
            paragraphs_html([self._said, *([f"Neither judged nor tried here: {self.left_out}"] if self.left_out else [])]),
            folded("All figures", paragraphs_html(self.verdict.words.split("\n"))) if self.verdict.head else "",
            folded("How to read the picture", self._read.value) if self.read else "",
            "<b>Try this</b>" + markup.lines_html(words) if words else "",
        )
        return "".join(parts)

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live panel and, for a page without a kernel, its picture and words, in one output."""
        return self.box._repr_mimebundle_() | {"text/html": self.still(), "text/plain": f"{self.picture.words} {self.verdict} {self._said}"}


def hidden(html):
    """A widget that is not seen: a style, what holds keys."""
    return HTML(html, layout=Layout(display="none"))


def _names(row):
    """The names of a row of a group: of one control, or of several beside each other."""
    return (row,) if isinstance(row, str) else row


def _button(words, work):
    button = Button(description=words)
    button.on_click(lambda _: work())
    return button


FRAME = f"border:2px solid #1b2733;padding:6px 16px;margin:8px 0;max-width:1000px;font-size:{TEXT}px;line-height:1.45"


class Reading:
    """Words of the moment: a live widget, and the same as HTML and as plain text for a page without a kernel.

    render() gives (HTML, plain text) for any system of units; over: a widget that stands over it, such as the switch of units.
    """

    def __init__(self, render, over=None):
        self.render, self.widget = render, HTML()
        self.shown = VBox([over, self.widget]) if over else self.widget
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
        return self.shown._repr_mimebundle_() | {"text/html": html, "text/plain": words}


class WorkedCard(Reading):
    """A `WorkedExample` line by line: what is given, how it is worked out, and the published figure it ends on."""

    def __init__(self, example):
        self.example = example
        super().__init__(self._render)

    def _render(self):
        example = self.example
        rows = [line.row() for line in (*example.given, *example.working)]
        closing = Verdict(example.kind, example.closing())
        html = html_table(("What", "How", "Value"), rows, title=example.title) + verdict_html(closing)
        return html, "\n".join(
            [example.title, *(f"{what}: {how} = {value}" if how else f"{what}: {value}" for what, how, value in rows), str(closing)]
        )


class LineWithTable(str):
    """A line of a card in which a list is told as a table: `html` is all of it as a page shows it."""

    html = ""

    @classmethod
    def of(cls, text, before, table, after):
        """The line in words, and the same as words, a table's HTML and words."""
        line = cls(text)
        line.html = f'{escape(before)}<div style="white-space:normal">{table}</div>{escape(after)}'
        return line


class SeniorCard(Reading):
    """The lesson in a few lines with limits; lines() gives them, one with a table as `LineWithTable`."""

    def __init__(self, lines):
        self.lines = lines
        super().__init__(self._render)

    def _render(self):
        lines = tuple(self.lines())
        points = "".join(f'<li style="white-space:pre-line">{getattr(line, "html", "") or escape(line)}</li>' for line in lines)
        inside = f'<ol style="margin:4px 0">{points}</ol>'  # its head stands above it, in the page
        html = f'<section aria-label="Summary for the reviewing engineer" style="{FRAME}">{inside}</section>'
        return html, "\n".join(["Summary for the reviewing engineer", *(f"{number}. {line}" for number, line in enumerate(lines, 1))])
