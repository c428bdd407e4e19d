"""The questions of a site file in groups: a row for each question, a column for each range, kind, inlet or transmitter.

What stands in the page stays there as long as it is asked for: a column that is added, taken away or named anew leaves all others, and the
buttons, as they are. So a press that follows an entry arrives, and a page of some hundred entries is never sent anew at once: a server lets
only so many messages a second through, and what is above is lost.
"""

from html import escape

from ipywidgets import HTML, Button, Dropdown, HBox, Layout, Text, VBox

from helpers.model.site.entries import DOOR_KINDS, sections
from helpers.model.site.form import TAKEN
from helpers.plots.markup import lines_html
from helpers.plots.stair_section import WIDTH
from helpers.plots.style import INK, PAPER, WARNING
from helpers.widgets.controls import LOOKS
from helpers.widgets.panel import Fold

FORM, LABEL_PX, CELL_PX, COLUMN_PX, WIDEST_PX = "pressure-loop-form", 176, 140, 620, 764
BAND = 4  # columns beside each other; further ones stand under them, with the questions again
WIDE = ("note", "standard", "name", "second_standard")  # long entries
LOOK = f"""<style>
.{FORM} {{ display: flex; flex-flow: row wrap; gap: 18px; align-items: flex-start; width: 100%;
  overflow: visible !important; }}
.{FORM} > .asked {{ flex: 1 1 500px; min-width: 0; max-width: {WIDEST_PX}px; }}
.{FORM} > .seen {{ flex: 0 1 {WIDTH}px; position: sticky; top: 0; }} .{FORM} .seen svg {{ max-height: max(260px, calc(100vh - 300px)); }}
.{FORM} .asked > *, .{FORM} .seen > * {{ max-width: 100%; }}
.{FORM} .block {{ overflow-x: auto; padding: 0 0 4px 2px; }}
.{FORM} .band {{ overflow: visible; gap: 0 4px; width: max-content; margin: 0 0 6px; }} .{FORM} .band .widget-vbox {{ overflow: visible; }}
.{FORM} .line {{ height: 28px; margin: 1px 0; }}
.{FORM} .cell {{ position: relative; height: 28px; margin: 1px 0; overflow: visible; }}
.{FORM} .cell :is(input, select) {{ height: 26px; border: 1px solid {LOOKS["edge"][0]}; border-radius: 3px; color: {INK};
  background-color: {PAPER}; font-size: 14px; padding: 0 4px; width: 100%; text-overflow: ellipsis; }}
.{FORM} .cell input::placeholder {{ font-size: 13px; }} .{FORM} .cell.refused :is(input, select) {{ border: 2px solid {WARNING}; }}
.{FORM} .cell.cell.demo :is(input, select) {{ font-style: italic; padding-right: 60px; }}
.{FORM} .cell.cell.copied :is(input, select) {{ font-style: italic; padding-right: 66px; }}
.{FORM} .cell:is(.demo, .copied)::after {{ content: "demo"; position: absolute; right: 22px; top: 7px; font-size: 13px; line-height: 13px;
  padding: 0 3px; background: #fdf3d6; color: #6b4a00; border-radius: 3px; pointer-events: none; }}
.{FORM} .cell.copied::after {{ content: "copied"; }} .{FORM} .cell:is(.demo, .copied):has(input)::after {{ right: 4px; }}
.{FORM} .first {{ position: sticky; left: 0; background: {PAPER}; z-index: 1; }} .{FORM} span[title] {{ cursor: help; }}
.{FORM} .jupyter-button {{ font-size: 13px; height: 26px; line-height: 24px; width: auto; flex: none;
  align-self: flex-start; box-shadow: none; color: {INK}; background: {LOOKS["button"][1]};
  border: 1px solid {LOOKS["edge"][0]}; }} .{FORM} .cell.cell.demo input {{ padding-right: 46px; }}
.{FORM} .band .jupyter-button {{ width: calc(100% - 4px); }}
.{FORM} .fold.jupyter-button {{ font-size: 15px; border-color: transparent; background: none; color: {LOOKS["link"][0]}; }}
.{FORM} .group > .fold {{ font-weight: bold; }} .{FORM} .row > .cell {{ max-width: calc(100% - {LABEL_PX + 8}px); }}
.{FORM} .row {{ align-items: center; height: 30px; flex: none; }} .{FORM} .cell select {{ font-size: 13px; padding: 0 18px 0 2px; }}
.{FORM} .intro {{ font-size: 13px; line-height: 1.3; white-space: normal; max-width: {COLUMN_PX}px; }}
.{FORM} .files > * {{ width: 440px; max-width: 100%; }}
:is(.jp-OutputArea, .jp-OutputArea-child, .jp-OutputArea-output, .jp-Cell, .jp-Cell-outputWrapper, .widget-box):has(.{FORM}) {{
  overflow: visible !important; contain: none !important; }}
.{FORM} :is(input, select, button):focus-visible {{ outline: 2px solid {LOOKS["focus"][0]}; outline-offset: 1px; }}
</style>"""


class Questions:
    """A titled group of questions, made when it is unfolded first; under More what is seldom needed, made as late."""

    def __init__(self, panel, title, asked, more):
        self.panel, self.title, self.asked = panel, title, asked
        self.body, self.rest, self.told = VBox(), VBox(), HTML()
        self.more, self._more = Fold(f"More ({len(more)})", self.rest), more
        self._blocks = {self.body: [], self.rest: []}
        self.mine = button("", lambda: panel.do(self.accept))
        self.fold = Fold(title, self.body, self.told, self.mine, self.more.button, self.more.inside)
        self.box = VBox([self.fold.button, self.fold.inside]).add_class("group")
        for fold in (self.fold, self.more):
            fold.button.observe(lambda change: self.unfold(), "value")

    def accept(self):
        """What is in view is so in this building; what is folded keeps its marks."""
        for entry in self._in_view():
            for item in self.panel.form.tables(entry.section):
                self.panel.form.accept(entry.section, item, entry.key)

    def _in_view(self):
        return [*self.asked, *(self._more if self.more.button.value else ())]

    def _marked(self, entries):
        """Addresses of the answers of some entries that are a demo building's or copied."""
        form, keys = self.panel.form, {(entry.section, entry.key) for entry in entries}
        return [at for at in form.stated() if (at[0], at[2]) in keys and (form.is_demo(*at) or form.is_copied(*at))]

    def _tell_button(self):
        """How many marks the button takes off, and how many stay, folded away."""
        off = len(self._marked(self._in_view()))
        stay = len(self._marked(self._more)) if not self.more.button.value else 0
        left = f"; {stay} under More stay" * bool(stay)  # one line of the column at 1366 px
        self.mine.disabled = not off
        self.mine.description = f"I have checked all {off} in view on site: take off their marks{left}"
        if not off:
            self.mine.description = f"No mark in view{left}"

    def unfold(self):
        """Make what was not made yet; the button counts what is in view now."""
        self._tell_button()
        if any(opened and not self._blocks[box] for opened, box, _ in self._parts()):
            self.panel.show()

    def show(self):
        """Make the entries that are unfolded, and bring those that were made to what the form holds now."""
        for opened, box, entries in self._parts():
            if opened and not self._blocks[box]:
                self._blocks[box] = list(self._made(entries, box is self.body))
                box.children = [block.box for block in self._blocks[box]]
            for block in self._blocks[box]:
                block.show()

    def cells(self):
        """(address, widget) of all entries that were made."""
        for blocks in self._blocks.values():
            for block in blocks:
                for column in block.columns:
                    for key, widget in column.cells.items():
                        yield (block.name, column.item, key), widget

    def rename(self, section, before, now):
        """A column has another name; its entries stay."""
        for blocks in self._blocks.values():
            for column in (column for block in blocks if block.name == section for column in block.columns):
                column.item = now if column.item == before else column.item

    def tell(self, mistakes):
        """What cannot be used in this group, what in it does not count, and how many of its answers are a demo building's or copied."""
        names = {entry.section for entry in (*self.asked, *self._more)}
        told = [sentence for address, sentence in mistakes if address and address[0] in names]
        form, entries = self.panel.form, {(entry.section, entry.key) for entry in (*self.asked, *self._more)}
        mine = [one for one in form.stated() if (one[0], one[2]) in entries]
        demo, copied = sum(form.is_demo(*one) for one in mine), sum(form.is_copied(*one) for one in mine)
        taken = sum(form.table(*at).notes.get(key, "").startswith(TAKEN) for *at, key in mine)
        counted = ((demo, "demo"), (copied, "copied"), (taken, "taken over from the demo"), (len(told), "to mend"))
        self.fold.retitle(": ".join(filter(None, [self.title, ", ".join(f"{n} {what}" for n, what in counted if n)])))
        self._tell_button()
        self.told.value = lines_html([*told, *(sentence for section, sentence in form.overruled() if section in names)])

    def _parts(self):
        opened = self.fold.button.value
        return (opened, self.body, self.asked), (opened and self.more.button.value, self.rest, self._more)

    def _made(self, entries, in_view):
        by_section = {}
        for entry in entries:
            by_section.setdefault(entry.section, []).append(entry.key)
        for name, keys in by_section.items():
            section = sections()[name]
            titled = section.title != self.title and (len(by_section) > 1 or section.kind != "one")
            head = [HTML(f"<b>{escape(section.title)}</b>")] if titled else []
            if titled and in_view and section.intro:
                head.append(HTML(f'<div class="intro">{escape(section.intro)}</div>'))
            yield (_QuestionRows if section.kind == "one" else _QuestionColumns)(self.panel, name, keys, in_view, head)


class _QuestionColumn:
    """The entries of one range, kind, inlet or transmitter, or of what there is one of. item: of which; of a named one it may change."""

    def __init__(self, panel, name, item):
        self.panel, self.name, self.item, self.cells, self.head, self.box = panel, name, item, {}, None, None

    def cell(self, key, wide=False):
        """The entry of an answer."""
        entry, panel = sections()[self.name].entries.get(key), self.panel
        given = {"layout": panel.widths[COLUMN_PX - LABEL_PX - 16 if wide else CELL_PX]}
        answer = panel.form.answer(self.name, self.item, key)
        if entry and (entry.kind in ("choice", "flag") or key in DOOR_KINDS):
            made = Dropdown(options=panel.options(self.name, self.item, entry), value=answer, **given)
        else:
            made = Text(value=answer, continuous_update=False, **given)
        made.observe(lambda change: panel.typed(self.name, self.item, key, change["new"]), "value")
        self.cells[key] = made.add_class("cell")
        return made

    def named(self):
        """The name over the column; of a named table to be changed."""
        if sections()[self.name].kind != "named":
            self.head = HTML().add_class("line")
            return self.head
        self.head = Text(continuous_update=False, layout=self.panel.widths[CELL_PX]).add_class("cell")
        self.head.observe(lambda change: self.panel.renamed(self.name, self.item, change["new"]), "value")
        return self.head

    def show_name(self):
        """Bring the name to what the form holds."""
        form = self.panel.form
        if isinstance(self.head, Text):
            self.head.value = form.names.get((self.name, self.item), self.item)
            self.head.tooltip = f"{form.said(self.name, self.item)}, name"
        elif self.head is not None:
            self.head.value = f"<b>{escape(form.said(self.name, self.item).rpartition(', ')[2])}</b>"


class _QuestionRows:
    """A section that there is one of: a row for each question."""

    def __init__(self, panel, name, keys, in_view, head):
        self.panel, self.name, self._asked, self._in_view, self._head = panel, name, tuple(keys), in_view, head
        self.keys, self.columns, self.box = None, [], VBox().add_class("block")

    def show(self):
        """Make what is not there yet; what is there stays."""
        if self.keys != (keys := self._all_keys()):
            self.keys, before = keys, self.box.children
            self._make()
            for widget in before:
                if widget not in self._head:
                    _close(widget)

    def _all_keys(self):
        """A file may hold keys that no schema knows: they stand under More, are told as such, and can be taken out."""
        known = sections()[self.name].entries
        unknown = dict.fromkeys(key for table in self.panel.form.tables(self.name).values() for key in table if key not in known)
        return self._asked if self._in_view else (*self._asked, *unknown)

    def _make(self):
        column, entries = _QuestionColumn(self.panel, self.name, None), sections()[self.name].entries
        rows = []
        for key in self.keys:
            wide = key in entries and (entries[key].several or key in WIDE) and entries[key].kind != "flag"
            rows.append(HBox([label(self.name, key), column.cell(key, wide)]).add_class("row"))
        self.columns, self.box.children = [column], [*self._head, *rows]


class _QuestionColumns(_QuestionRows):
    """A section of several: a column for each, a row for each question; the button that adds one stands under the first questions."""

    def __init__(self, panel, name, keys, in_view, head):
        super().__init__(panel, name, keys, in_view, head)
        self._titled = sections()[name].kind == "named" or not in_view
        self._bands = []

    def show(self):
        """Columns that are there stay, those that are no more go, new ones stand in their place."""
        keys, items = self._all_keys(), list(self.panel.form.tables(self.name))
        gone = [column for column in self.columns if keys != self.keys or column.item not in items]
        kept = {column.item: column for column in self.columns if column not in gone}
        old_bands, self._bands = (self._bands, []) if keys != self.keys else ([], self._bands)
        self.keys = keys
        self.columns = [kept.get(item) or self._column(item) for item in items]
        for first in range(0, max(len(items), 1), BAND):
            number = first // BAND
            if number == len(self._bands):
                self._bands.append(HBox([self._labels(number)]).add_class("band"))
            band, boxes = self._bands[number], tuple(column.box for column in self.columns[first : first + BAND])
            if band.children[1:] != boxes:
                band.children = (band.children[0], *boxes)
        used = max(-(-len(items) // BAND), 1)
        old_bands, self._bands = [*old_bands, *self._bands[used:]], self._bands[:used]
        if self.box.children != (shown := (*self._head, *self._bands)):
            self.box.children = shown
        for band in old_bands:
            _close(band.children[0])
            band.close()
        for column in gone:
            _close(column.box)
        for column in self.columns:
            column.show_name()

    def _labels(self, number):
        add = button(f"Add {sections()[self.name].one}", lambda: self.panel.do(lambda: self.panel.form.add(self.name)))
        lines = [*([label(self.name, "")] if self._titled else []), *(label(self.name, key) for key in self.keys if self.columns)]
        return VBox([*lines, *([add] if self._in_view and number == 0 else [])]).add_class("first")

    def _column(self, item):
        column, panel = _QuestionColumn(self.panel, self.name, item), self.panel
        head = [column.named()] if self._titled else []
        remove = [button("Remove", lambda: panel.do(lambda: panel.form.remove(self.name, column.item)))] if self._in_view else []
        column.box = VBox([*head, *(column.cell(key) for key in self.keys), *remove], layout=panel.widths[CELL_PX])
        return column


def label(section, key):
    """What a question is called; where it is pointed at, what is meant by it."""
    entry = sections()[section].entries.get(key)
    meant = f' title="{escape(entry.meant)}"' if entry else ""
    words = f'<span style="font-size:14px"{meant}>{escape(entry.label if entry else key)}</span>'
    return HTML(words, layout=Layout(width=f"{LABEL_PX}px", flex="none")).add_class("first").add_class("line")


def button(words, work):
    """A button that does this."""
    made = Button(description=words)
    made.on_click(lambda _: work())
    return made


def _close(widget):
    for child in getattr(widget, "children", ()):
        _close(child)
    widget.close()
