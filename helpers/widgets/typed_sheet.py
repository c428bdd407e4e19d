"""A sheet that is filled in on site: every entry is kept the moment it is typed, judged at once, there again when the page is opened."""

from html import escape

from ipywidgets import HTML, Dropdown, GridBox, HBox, Layout, Text, VBox

from helpers import units
from helpers.model.files import printable
from helpers.plots.headline import VerdictLine, two_lines_in
from helpers.plots.markup import KINDS, Verdict, folded, html_table, paragraphs_html, status_html
from helpers.teaching.store import Entries, KeptFileError
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS
from helpers.widgets.lines_under import grey_lines, hint_in, short_head
from helpers.widgets.sliders import quantity_typed

PLAIN = "font-size:14px;line-height:1.3"
STEP = "font-size:13px;line-height:1.3;margin:0;padding-left:18px;text-indent:-18px"
HEADS, HEADS_EVERY = "font-size:13px;line-height:1.2;overflow-wrap:break-word", 4
ROOM_PX = 1200  # of a window, from which the columns of a sheet with words under its rows need no scrolling
# The first column stays in view while the others are scrolled. A page's own style sheet: ipywidgets has no trait for it.
FROZEN = (
    "<style>.sheet-first{position:sticky;left:0;z-index:2;background:var(--jp-layout-color0,#fff);padding-right:4px}"
    ".sheet-grid input[type=text]{padding:0 3px}.sheet-grid select{padding:0}.sheet-grid ::placeholder{font-size:13px}"
    ".sheet-row{border-top:1px solid #55616d;padding-top:3px}.sheet-row.sheet-first{font-weight:bold}"
    # where all columns have room the heads stay in view under the headline, and stand once; not under one that is taller than two lines
    f"@media screen and (min-width:{ROOM_PX}px){{.sheet-under{{overflow:visible!important}}"
    ".sheet-heads .sheet-head{position:sticky;top:50px;z-index:3;background:var(--jp-layout-color0,#fff);align-self:stretch;height:auto;"
    "box-shadow:10px 0 0 var(--jp-layout-color0,#fff),0 -2px 0 var(--jp-layout-color0,#fff);border-bottom:1px solid #d5dbe1}"
    ".sheet-heads .sheet-head.sheet-first{z-index:4}.sheet-heads .sheet-again{display:none}}</style>"
)
BAND_PX = 1000  # of the headline in such a window: the rest is the page's edge
FIELD_PX, CLOSE_PX = 150, 78  # of a line over or under the rows
GAP_PX, MARK_PX = 4, 84  # between columns; of a row's mark where its words stand under it
WORDS_PX = 140  # a column so wide holds sentences: it takes its part of the room that is left, or they stand in a tower of short lines
WHOLE_WIDTH = "auto / 1 / auto / -1"  # of the grid; an empty grid_area would take grid_column away again
FEW, NARROW = 6, {"grid_template_columns": "repeat(auto-fill, minmax(270px, 1fr))"}  # more lines than that over the rows stand closer
LINES = {"grid_template_columns": "repeat(auto-fill, minmax(340px, 1fr))", "grid_gap": "0 12px", "width": "100%"}


class _WithFold(str):
    """Words of a cell, with the HTML in which part of them is folded away."""

    html = ""


class TypedSheet:
    """Rows of expected figures and fields.

    columns: (heading, width in px) of all columns, a heading such a text as a cell; rows: by name, of cells: a text (or a function that
    gives it anew), or a
    `Field`-like dict {"field": name, "label": what a refusal calls it, "hint": such a text, shown while nothing is
    typed, in a list for nothing chosen, "open": whether it may be typed into, a function of the values (it may where something stands in
    it), "dimension": one of units.DIMENSIONS or "" for words, "options": words to choose from, "short": whether it is a line over the rows
    whose label stands over its field, many side by side, "whole": whether a line takes the whole width}; judge(values,
    row) -> (state, words) of one row; whole(values) -> Verdict of the sheet. The last column holds each row's verdict.
    above, below: (label, field) of lines over and under the rows, such as the weather of the day or what gives the building back; older:
    fields that older sheets had and that are still read, with their dimension; prepare(values): called before anything is written anew;
    intro(): sentences over all of it, those in view and those folded away; a row that is one text takes the whole width; under(row):
    lines that stand in grey under a row, after its words, over the whole width, so that the columns need no room for sentences; the heads
    stand again every HEADS_EVERY rows then; more(row): (words, lines) of what stands folded away under these, None for nothing. A label
    may be such a text.
    """

    def __init__(
        self, name, columns, rows, judge, whole, folder=None, above=(), below=(), older=(), prepare=None, intro=None,
        under=None, more=None,
    ):  # fmt: skip
        self.entries, self.columns, self.rows = Entries(name, folder), columns, rows
        self.judge, self.whole, self.prepare, self.intro, self.under, self.more = judge, whole, prepare, intro, under, more
        self.above, self.below = tuple(above), tuple(below)
        self.trouble, self._quiet = "", False
        try:
            kept = self.entries.read()
            self.trouble = self.entries.file.aside
        except KeptFileError as trouble:
            kept, self.trouble = {}, str(trouble)
        self._head_cells = []
        self.fields, self._labels, self._hints, self._opened, self.line, self._names = {}, [], [], [], VerdictLine(), {}
        cells, named = self._heads(), [heading for heading, _ in columns]
        self.verdicts, self.marks, self.whole_verdict = {}, {}, HTML()
        for number, (row, parts) in enumerate(rows.items()):
            cells += self._heads("sheet-again") if under and number and number % HEADS_EVERY == 0 else []
            made = [self._cell(part, kept, head) for part, head in zip([parts] if _whole_width(parts) else parts, named, strict=False)]
            cells += made
            self.verdicts[row] = HTML()
            if _whole_width(parts):
                made[0].layout.grid_area = WHOLE_WIDTH
                continue
            made[0].add_class("sheet-first")
            if under:
                self.marks[row] = HTML()
                for one in (*made, self.marks[row]):
                    one.add_class("sheet-row")
                self.verdicts[row].layout.grid_area = WHOLE_WIDTH
                cells.append(self.marks[row])
            cells.append(self.verdicts[row])
        close = len(self.above) > FEW
        before = [self._line(label, part, kept, CLOSE_PX if close else FIELD_PX) for label, part in self.above if not part.get("short")]
        short = [self._short(label, part, kept) for label, part in self.above if part.get("short")]
        after = [self._line(label, part, kept) for label, part in self.below]
        for part in older:
            self._cell(part, kept)
        grows = [bool(under) or width >= WORDS_PX for _, width in columns]
        share = (lambda width: f"{width}fr") if under else lambda width: "1fr"  # all columns grow alike where sentences stand under them
        widths = " ".join(
            f"minmax({width}px, {share(width)})" if more else f"{width}px" for (_, width), more in zip(columns, grows, strict=True)
        )
        last = f"minmax({MARK_PX if under else 120}px, {share(MARK_PX)})"
        grid = Layout(grid_template_columns=f"{widths} {last}", grid_gap=f"2px {GAP_PX}px", width="100%", overflow="auto")
        lines = [GridBox(part, layout=Layout(**LINES | (NARROW if part is before and close else {}))) for part in (before, after)]
        beside = [HBox(short, layout=Layout(grid_gap="0 12px", flex_flow="row wrap"))] if short else []
        self.table = GridBox(cells, layout=grid).add_class("sheet-grid")
        if under:
            self.table.add_class("sheet-under")
        self.head, self.before = HTML(), HTML()
        self.box = VBox(
            [
                HTML(FROZEN),
                self.line.widget,
                HBox([self.whole_verdict, self.before, UNITS.switch()], layout=Layout(grid_gap="14px", flex_flow="row wrap")),
                self.head,
                lines[0],
                *beside,
                self.table,
                lines[1],
            ]
        )
        UNITS.listen(self.refresh)
        self.refresh()

    def _heads(self, again=""):
        """The heads of the columns, small enough not to touch; again: class of those that stand once more between rows."""
        made = [HTML() for _ in [*self.columns, "Verdict"]]
        for one in made:
            one.add_class("sheet-head").add_class(again or "sheet-top")
        self._head_cells += zip(made, [*(heading for heading, _ in self.columns), "Verdict"], strict=True)
        made[0].add_class("sheet-first")
        return made

    def values(self):
        """What stands in the fields, by name: SI numbers, words, None for nothing, or a ValueError where it cannot be read."""
        return {name: self._value(name) for name in self.fields}

    def typed(self):
        """What stands in the fields, for an export: SI numbers, words, and what cannot be read as it was typed; empty ones left out."""
        found = {
            name: printable(self.fields[name][0].value) if isinstance(value, ValueError) else value for name, value in self.values().items()
        }
        return {name: value for name, value in found.items() if value is not None}

    def type(self, name, text):
        """Type into a field, as the reader does."""
        self.fields[name][0].value = text

    def refresh(self):
        """Write and judge everything anew, in the units of the moment."""
        values = self.values()
        if self.prepare is not None:
            self.prepare(values)
        if self.intro is not None:
            seen, more = ("".join(f'<p style="{STEP}">{escape(text)}</p>' for text in texts) for texts in _now(self.intro))
            self.head.value, self.before.value = seen, folded("Read before you begin: which steps, where to measure, how long", more)
        for widget, told in self._head_cells:
            widget.value = f'<div style="{HEADS}"><b>{escape(_now(told))}</b></div>'
        for widget, told in self._labels:
            widget.value = f'<div style="{PLAIN};white-space:pre-line">{escape(_now(told))}</div>'
        self._quiet = True  # a list that is named anew chooses nothing: what was kept stays
        for widget, told in self._hints:
            hint_in(widget, _now(told))
        self._quiet = False
        for widget, opens in self._opened:
            widget.disabled = not (widget.value or opens(values))
        for row, widget in self.verdicts.items():
            state, words = _now(self._judged(values, row))
            kind, under = KINDS.get(state), self._lines_under(row)
            told = "" if kind is None else f'<span style="color:{kind.ink}"><b>{kind.mark}</b> {escape(words)}</span> '
            grey = grey_lines(under) + self._folded(row)
            widget.value = f'<div style="{PLAIN}">{told}{grey}</div>' if told or grey else ""
            if row in self.marks:
                self.marks[row].value = "" if kind is None else f'<div style="{PLAIN}">{status_html(state)}</div>'
        verdict = Verdict("entry", self.trouble) if self.trouble else _now(self._judged_whole(values))
        self.line.say(verdict)
        stay = self.under is not None and two_lines_in(verdict, BAND_PX)
        (self.table.add_class if stay else self.table.remove_class)("sheet-heads")
        self.whole_verdict.value = folded("The whole verdict", paragraphs_html([verdict.words])) if verdict.head else ""

    def _lines_under(self, row):
        """Lines in grey under a row; none under one that is a text by itself."""
        return _now(self.under(row)) if self.under and not _whole_width(self.rows[row]) else ""

    def _more_under(self, row):
        return _now(self.more(row)) if self.more and not _whole_width(self.rows[row]) else None

    def _folded(self, row):
        """HTML of what stands folded away under a row, "" for nothing."""
        more = self._more_under(row)
        return folded(more[0], grey_lines(more[1])) if more else ""

    def _line(self, label, part, kept, field_px=FIELD_PX):
        """A label and its field on one line."""
        told = self._cell(label, kept)
        told.layout.flex, told.layout.width = "1 1 0%", "auto"
        field, field_px = self._cell(part, kept), FIELD_PX if part.get("options") else field_px  # a list shows the whole of its words
        field.layout.flex, field.layout.width = f"0 0 {field_px}px", f"{field_px}px"
        line = HBox([told, field])
        if part.get("whole"):
            line.layout.grid_area = WHOLE_WIDTH
            line.add_class("sheet-row")
        return line

    def _short(self, label, part, kept):
        """A short label over its field, as wide as the label asks for: all of them in one row, no label in two lines."""
        told, field = self._cell(label, kept), self._cell(part, kept)
        field.layout.width, field.layout.min_width = "0px", "98%"  # the label alone says how wide it is
        return VBox([told, field], layout=Layout(flex="1 1 auto", width="auto", min_width="80px"))

    def _cell(self, part, kept, head=""):
        if not isinstance(part, dict):
            widget = HTML()
            self._labels.append((widget, part))
            return widget
        name, text = part["field"], kept.get(part["field"], "")
        if "options" in part:
            widget = Dropdown(options=["", *part["options"]], value=text if text in part["options"] else "", layout=Layout(width="98%"))
        else:
            widget = Text(value=text, continuous_update=True, layout=Layout(width="98%"))
        widget.tooltip = self._names[name] = part.get("label", name)
        if "open" in part:
            self._opened.append((widget, part["open"]))
        hint = part.get("hint")
        if hint is not None or head:  # a blank of a row bears the name of its column, so that it has one where its head is out of view
            self._hints.append((widget, lambda: (hint and _now(hint)) or short_head(_now(head), bool(part.get("options")))))
        widget.observe(lambda change, name=name: self._typed(name, change["new"]), "value")
        self.fields[name] = (widget, part.get("dimension", ""), UNITS.system)
        return widget

    def _typed(self, name, text):
        if self._quiet:
            return
        widget, dimension, _ = self.fields[name]
        self.fields[name] = (widget, dimension, UNITS.system)
        told = self.entries.file.aside
        try:
            self.entries.keep(name, self._with_unit(text, dimension), self._names[name])
            self.trouble = "" if self.entries.file.aside == told else self.entries.file.aside  # said once, then the sheet judges on
        except KeptFileError as trouble:
            self.trouble = str(trouble)
        self.refresh()

    @staticmethod
    def _with_unit(text, dimension):
        """A bare number is kept with the unit it was typed in, so that it means the same after the unit switch and tomorrow."""
        try:
            float(text)
        except ValueError:
            return text
        return f"{text.strip()} {units.unit_label(dimension, UNITS.system)}" if dimension else text

    def _value(self, name):
        widget, dimension, system = self.fields[name]
        if not dimension:
            return printable(widget.value) or None
        try:
            return quantity_typed(widget.value, dimension, system, self._names[name])
        except ValueError as refusal:
            return refusal

    def _judged(self, values, row):
        if _whole_width(self.rows[row]):
            return "", ""
        own = [part["field"] for part in self.rows[row] if isinstance(part, dict)]
        refused = [values[name] for name in own if isinstance(values[name], ValueError)]
        if refused:
            return "entry", str(refused[0])
        try:
            return self.judge(values, row)
        except (ValueError, ArithmeticError) as trouble:  # the other rows are judged all the same
            return "entry", f"this row cannot be judged: {trouble}"

    def _judged_whole(self, values):
        try:
            return self.whole(values)
        except (ValueError, ArithmeticError) as trouble:
            return Verdict("entry", f"The sheet cannot be judged: {trouble}")

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live sheet; without a kernel, the sheet as a table with blanks."""
        head = [_now(heading) for heading, _ in self.columns]
        head += ["Expected"] if self.under else []
        body = [[*self._cells_said(parts), *([self._under_said(row)] if self.under else [])] for row, parts in self.rows.items()]
        over, under = ([[self._words(label), "______"] for label, _ in lines] for lines in (self.above, self.below))
        text = "\n".join(" | ".join(row) for row in [*over, head, *body, *under])
        told = [text for texts in _now(self.intro) for text in texts] if self.intro else ()
        text = "\n".join([*told, text])
        pages = [html_table(("", ""), lines) if lines else "" for lines in (over, under)]
        html = f"{paragraphs_html(told)}{pages[0]}{html_table(head, body)}{pages[1]}"
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": text}

    def _under_said(self, row):
        """What stands under a row, of a sheet without a kernel: what is folded away there is folded away here."""
        under, more = self._lines_under(row), self._more_under(row)
        if not more:
            return under
        said = _WithFold("\n".join(filter(None, (under, *more))))
        said.html = f"{escape(under)}{folded(more[0], escape(more[1]))}"
        return said

    def _cells_said(self, parts):
        """The cells of a row in words; a text of the whole width stands in the widest column."""
        if not _whole_width(parts):
            return map(self._words, parts)
        widths = [width for _, width in self.columns]
        return [self._words(parts) if place == widths.index(max(widths)) else "" for place in range(len(widths))]

    def _words(self, part):
        if isinstance(part, dict):
            return "______"
        return _now(part)


def _whole_width(parts):
    """Whether a row is one text instead of cells."""
    return callable(parts) or not isinstance(parts, list | tuple)


def _now(told):
    """Words, or what a function gives, in the units of the moment."""
    return written_out(told() if callable(told) else told, UNITS.system)
