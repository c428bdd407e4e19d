"""A site file without an editor: questions in groups, marked while they are still a demo building's, a section that grows, a file to open
and to write."""

from copy import deepcopy
from functools import cache
from html import escape
from pathlib import Path

from ipywidgets import HTML, Button, Dropdown, GridBox, HBox, Layout, Text, VBox

from helpers.model.files import free_path, texts
from helpers.model.site.criteria import standard_said
from helpers.model.site.entries import DOOR_KINDS, NO, YES, groups, sections
from helpers.model.site.form import TAKEN, SiteForm, open_site, write_new_site
from helpers.pages.draft import SiteDraft
from helpers.pages.printed import RECORDS, records_folder
from helpers.pages.sites import SiteChoice
from helpers.plots.markup import PAGE_STYLE, Verdict, VerdictLine, html_table, lines_html, paragraphs_html
from helpers.plots.stair_section import WIDTH, stair_section
from helpers.plots.style import INK, PAPER, WARNING
from helpers.widgets.controls import LOOKS, STYLE, Tick, Typed, keys_held
from helpers.widgets.panel import CLASS, Fold, hidden

DEFAULT_PATH = f"{RECORDS}/my_building.toml"
FORM, LABEL_PX, CELL_PX, COLUMN_PX, WIDEST_PX = "pressure-loop-form", 176, 140, 620, 764
WIDE, MOST_TOLD, MOST_BACK, MOST_LETTERS = ("note", "standard"), 8, 50, 7  # long entries; sentences in view; steps back; with room
LOOK = f"""<style>
.{FORM} {{ display: flex; flex-flow: row wrap; gap: 18px; align-items: flex-start; width: 100%; }}
.{FORM} > .asked {{ flex: 1 1 500px; min-width: 0; max-width: {WIDEST_PX}px; }}
.{FORM} > .seen {{ flex: 0 1 {WIDTH}px; position: sticky; top: 0; }} .{FORM} .seen svg {{ max-height: max(260px, calc(100vh - 300px)); }}
.{FORM} .asked > *, .{FORM} .seen > * {{ max-width: 100%; }}
.{FORM} .block {{ overflow-x: auto; padding: 0 0 4px 2px; }}
.{FORM} .cell {{ position: relative; height: 28px; margin: 1px 0; overflow: visible; }}
.{FORM} .cell :is(input, select) {{ height: 26px; border: 1px solid {LOOKS["edge"][0]}; border-radius: 3px; color: {INK};
  background-color: {PAPER}; font-size: 14px; padding: 0 4px; width: 100%; text-overflow: ellipsis; }}
.{FORM} .cell input::placeholder {{ font-size: 13px; }} .{FORM} .cell.refused :is(input, select) {{ border: 2px solid {WARNING}; }}
.{FORM} .cell.cell.demo :is(input, select) {{ font-style: italic; padding-right: 60px; }}
.{FORM} .cell.demo::after {{ content: "demo"; position: absolute; right: 22px; top: 7px; font-size: 13px; line-height: 13px; padding: 0 3px;
  background: #fdf3d6; color: #6b4a00; border-radius: 3px; pointer-events: none; }}
.{FORM} .cell.demo:has(input)::after {{ right: 4px; }} .{FORM} .first {{ position: sticky; left: 0; background: {PAPER}; z-index: 1; }}
.{FORM} .jupyter-button {{ font-size: 13px; height: 26px; line-height: 24px; width: auto; flex: none;
  align-self: flex-start; box-shadow: none; color: {INK}; background: {LOOKS["button"][1]};
  border: 1px solid {LOOKS["edge"][0]}; }} .{FORM} .cell.cell.demo input {{ padding-right: 46px; }}
.{FORM} .fold.jupyter-button {{ font-size: 15px; border-color: transparent; background: none; color: {LOOKS["link"][0]}; }}
.{FORM} .group > .fold {{ font-weight: bold; }} .{FORM} .row > .cell {{ max-width: calc(100% - {LABEL_PX + 8}px); }}
.{FORM} .row {{ align-items: center; height: 30px; flex: none; }} .{FORM} .cell select {{ font-size: 13px; padding: 0 18px 0 2px; }}
:is(.jp-OutputArea, .jp-OutputArea-child, .jp-OutputArea-output, .jp-Cell, .jp-Cell-outputWrapper, .widget-box):has(.{FORM}) {{
  overflow: visible !important; contain: none !important; }}
.{FORM} :is(input, select, button):focus-visible {{ outline: 2px solid {LOOKS["focus"][0]}; outline-offset: 1px; }}
</style>"""


class NewSitePanel:
    """The form's answers as entries; every answer is checked with all others as it is typed, and what is wrong stays as it was typed."""

    def __init__(self):
        self.form, self.cells, self._back, self._quiet = SiteForm(), {}, [], False
        self.widths = {width: Layout(width=f"{width}px", flex="none") for width in (CELL_PX, COLUMN_PX - LABEL_PX - 16)}
        self.line, self.done, self.opened = VerdictLine(), VerdictLine(), VerdictLine()
        self.figures, self.section, self.words, self.draft = HTML(), HTML(), HTML(), SiteDraft(self._take_up)
        self.groups = [_Questions(self, *group) for group in groups()]
        self.open_choice = SiteChoice("Open a file", "Larkfield House")
        self.open_path = Typed("or of another folder", str.strip, hint="path of a .toml file, or empty")
        self.path = Typed("Write to", str.strip, DEFAULT_PATH, hint="path of a new .toml file")
        self.over, self.back_button = Tick("Write over, keep the old one beside"), _button("Undo", self.back)
        opening = Fold("Open a file to change it", self.open_choice.widget, self.open_path.widget, _button("Open", self.open),
                       self.opened.widget)  # fmt: skip
        foot = VBox([self.path.widget, self.over.widget, HBox([_button("Write the site file", self.write), self.back_button]),
                     self.done.widget, self.draft.kept])  # fmt: skip
        self.list, words = Fold("", self.figures), Fold("The section in words", self.words)
        seen = [self.line.widget, self.list.button, self.list.inside, self.section, words.button, words.inside]
        asked = VBox([self.draft.offer, opening.button, opening.inside, *(group.box for group in self.groups), foot]).add_class("asked")
        self.box = VBox([hidden(STYLE + PAGE_STYLE + LOOK + keys_held(CLASS)), HBox([asked, VBox(seen).add_class("seen")]).add_class(FORM)])
        self.box.add_class(CLASS)
        for group in self.groups[:2]:
            group.fold.button.value = True
        self.check()

    def type(self, section, item, key, text):
        """Type an answer, as the reader does; what was typed stays, right or wrong."""
        self.remember()
        self.form.put(section, item, key, text)
        self.check()
        self.draft.keep(self.form)

    def remember(self):
        """Keep the answers as they are now, to go back to."""
        self._back = [*self._back[-MOST_BACK:], deepcopy(self.form)]

    def back(self):
        """The answers as they were before the last step."""
        if self._back:
            self.form = self._back.pop()
            self.show()
            self.draft.keep(self.form)

    def do(self, step):
        """Do something to the form that changes which answers there are."""
        self.remember()
        step()
        self.show()
        self.draft.keep(self.form)

    def _take_up(self, form):
        """Go on with answers that were typed before."""
        self.remember()
        self.form = form
        self.show()

    def show(self):
        """Show all answers anew."""
        self.cells = {}
        for group in self.groups:
            group.fill(anew=True)
        self.check()

    def cell(self, section, item, key, wide=False):
        """The entry of an answer."""
        entry = sections()[section].entries.get(key)
        given = {"layout": self.widths[COLUMN_PX - LABEL_PX - 16 if wide else CELL_PX]}
        if entry and (entry.kind in ("choice", "flag") or key in DOOR_KINDS):
            made = Dropdown(options=self._options(section, item, entry), value=self.form.answer(section, item, key), **given)
        else:
            made = Text(value=self.form.answer(section, item, key), continuous_update=False, **given)
        made.tooltip = self.form.said(section, item, key)
        made.observe(lambda change: None if self._quiet else self.type(section, item, key, change["new"]), "value")
        self.cells[section, item, key] = made.add_class("cell")
        return made

    def check(self):
        """Say how the answers stand, and mark each of them."""
        mistakes = self.form.mistakes()
        refused = {address for address, _ in mistakes}
        self._quiet = True
        try:
            for address, widget in self.cells.items():
                self._stand(address, widget, address in refused)
        finally:
            self._quiet = False
        for group in self.groups:
            group.tell(mistakes)
        self.line.say(self._verdict(mistakes))
        demo, _ = self._count()
        self.list.retitle(f"The list: {demo} demo, {len(self._unknown())} not known")
        self.figures.value, self.done.widget.value = self._figures(), ""
        self.section.value, words = stair_section(self.form)
        self.words.value = paragraphs_html([words])
        self.back_button.disabled = not self._back

    def open(self):
        """Open a file to be changed; the answers before are one step back."""
        path = self.open_path.text.strip() or self.open_choice.path
        try:
            form = open_site(path)
        except ValueError as refusal:
            self.opened.say(Verdict("entry", f"{refusal}\nThe answers are still those before."))
            return
        self.over.value = False
        self.path.text = Path(path).as_posix() if Path(path).parent == RECORDS or self.open_path.text.strip() else DEFAULT_PATH
        self._take_up(form)
        self.opened.say(Verdict("done", f"{Path(path).as_posix()} is open: {self._verdict([]).head}."))

    def write(self):
        """Write the file, never over one that is there unless that is ticked, and say what to do with it."""
        try:
            if Path(self.path.text).parent == RECORDS:  # a desk of a class begins without it
                records_folder()
            written, kept = write_new_site(self.form, self.path.text, self.over.value)
        except ValueError as refusal:
            more = f" Free would be {free_path(self.path.text).as_posix()}." if "is there already" in str(refusal) else ""
            self.done.say(Verdict("entry", f"{refusal}.{more}"))
            return
        self.over.value = False
        self.draft.written()
        self.open_choice.look_again()
        beside = f" The one before is kept as {kept.name}." if kept else ""
        wrong = len(self.form.mistakes())
        told = f"Written: {written.as_posix()}.{beside}"
        if wrong:
            some = f"{wrong} entries" if wrong > 1 else "one entry"
            self.done.say(Verdict("note", f"{told} It is no site yet: {some} cannot be used. Open it here again to mend it."))
            return
        pages = "Pages 11, 12, 13 and 15 have it in their list of sites" if written.parent == RECORDS else "Page 12 opens it by its path"
        again = ": where a page is open already, choose look for new files." if written.parent == RECORDS else "."
        self.done.say(Verdict("done", f"{told} {pages}{again} {self._verdict([]).head}."))

    def _stand(self, address, widget, refused):
        """Bring an entry's marks, its hint and its options up to the moment."""
        section, item, key = address
        entry = sections()[section].entries.get(key)
        for mark, on in (("demo", self.form.is_demo(*address)), ("refused", refused)):
            if on != (mark in widget._dom_classes):
                (widget.add_class if on else widget.remove_class)(mark)
        if isinstance(widget, Dropdown):
            options = self._options(section, item, entry)
            if list(widget.options) != options:
                widget.options = options
            if widget.value != self.form.answer(*address):
                widget.value = self.form.answer(*address)
        else:
            widget.placeholder = self._empty(section, item, entry)

    def _empty(self, section, item, entry):
        """What an empty entry stands for."""
        if entry is None:
            return ""
        above = self.form.above(item, entry.key) if section == "storeys" and entry.key != "levels" else ""
        if above or entry.usual:
            return entry.usual if not above else f"as beside: {above}" if len(above) <= MOST_LETTERS else "as beside"  # where it is read
        if f"{section}.{entry.key}" in _open_keys():
            return "not known"
        return f"such as {entry.example}" if entry.needed else "none"

    def _options(self, section, item, entry):
        """(words, text) of a list: what leaving it out means, each option, and what the file has besides."""
        named = list(self.form.tables("doors")) if entry.key in DOOR_KINDS else [YES, NO] if entry.kind == "flag" else entry.options
        now = self.form.answer(section, item, entry.key)
        empty = self._empty(section, item, entry)
        first = [] if entry.needed and now and section != "storeys" else [("choose" if empty.startswith("such as") else empty, "")]
        said = standard_said if entry.key == "standard" else str
        return [*first, *((said(one), one) for one in named), *([(now, now)] if now and now not in named else [])]

    def _count(self):
        """(still a demo building's, all) of the answers."""
        every = self.form.stated()
        return sum(self.form.is_demo(*one) for one in every), len(every)

    def _unknown(self):
        """{what is not known yet: where}."""
        found = {}
        for told in _open_keys():
            section, key = told.rsplit(".", 1)
            for item, table in self.form.tables(section).items():
                if key not in table and key in sections()[section].entries:
                    said = self.form.said(section, item, key)
                    found.setdefault(said if item is None else sections()[section].entries[key].label, []).append(
                        "" if item is None else self.form.said(section, item))  # fmt: skip
        return found

    def _verdict(self, mistakes):
        if mistakes:
            more = len(mistakes) - MOST_TOLD
            told = [sentence for _, sentence in mistakes[:MOST_TOLD]]
            every = len(self.form.stated())
            left = f"The other {max(every - len({address for address, _ in mistakes}), 0)} answers can be read."
            return Verdict("entry", "\n".join([*told, *([f"and {more} more, in the groups"] if more > 0 else []), left]))
        demo, every = self._count()
        head = f"{demo} of {every} answers are still the demo building's" if demo else "No answer is a demo building's any more"
        told = f"These answers make a site. {head}. Check each against drawings and plates."
        return Verdict("open" if demo else "note", told, head, do="Do: type your own over each demo mark, from the top" if demo else "")

    def _figures(self):
        demo, unknown = {}, self._unknown()
        for section, item, key in self.form.stated():
            if self.form.is_demo(section, item, key):
                label = sections()[section].entries[key].label if key in sections()[section].entries else key
                demo.setdefault(self.form.said(section, item) or sections()[section].title, []).append(label)
        still = [f"{where}: {'; '.join(labels)}" for where, labels in demo.items()] or ["nothing"]
        open_ones = [": ".join([what, "; ".join(where)] if any(where) else [what]) for what, where in unknown.items()] or ["nothing"]
        return (f"<b>Still a demo building's</b>{lines_html(still)}"
                f"<b>Not known yet: taken within limits and told in the record</b>{lines_html(open_ones)}")  # fmt: skip

    def _repr_mimebundle_(self, include=None, exclude=None):
        """The live panel; without a kernel, all questions with their answers, the section and where they stand."""
        rows, words = [], []
        for title, asked, more in groups():
            for entry in (*asked, *more):
                for item, table in self.form.tables(entry.section).items():
                    text = self.form.answer(entry.section, item, entry.key) or self._empty(entry.section, item, entry)
                    mark = "demo" if entry.key in table.demo else ""
                    rows.append((title, self.form.said(entry.section, item, entry.key), text, mark))
                    words.append(f"{self.form.said(entry.section, item, entry.key)}: {text}{f' ({mark})' if mark else ''}")
        section, told = stair_section(self.form)
        html = self.line.widget.value + section + html_table(("Group", "Question", "Answer", ""), rows, units_to_head=False)
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": "\n".join([str(self.line.verdict), told, *words])}


class _Questions:
    """A titled group of questions, made when it is unfolded first; under More what is seldom needed, made as late."""

    def __init__(self, panel, title, asked, more):
        self.panel, self.title, self.asked = panel, title, asked
        self.body, self.rest, self.told = VBox(), VBox(), HTML()
        self.more, self._more = Fold(f"More ({len(more)})", self.rest), more
        mine = _button("All in view here are checked: take off their demo marks", lambda: panel.do(self.accept))
        self.fold = Fold(title, self.body, self.told, mine, self.more.button, self.more.inside)
        self.box = VBox([self.fold.button, self.fold.inside]).add_class("group")
        for fold in (self.fold, self.more):
            fold.button.observe(lambda change: self.unfold(), "value")

    def accept(self):
        """What is in view is so in this building."""
        for entry in [*self.asked, *(self._more if self.more.button.value else ())]:
            for item in self.panel.form.tables(entry.section):
                self.panel.form.accept(entry.section, item, entry.key)

    def unfold(self):
        """Make what was not made yet."""
        if any(opened and not box.children for opened, box, _ in self._parts()):
            self.fill()
            self.panel.check()

    def fill(self, anew=False):
        """Make the entries that are unfolded; anew: those that are there too."""
        for opened, box, entries in self._parts():
            if anew:
                before, box.children = box.children, ()
                for widget in before:
                    _close(widget)
            if opened and not box.children:
                box.children = tuple(self._blocks(entries, box is self.body))

    def _parts(self):
        opened = self.fold.button.value
        return (opened, self.body, self.asked), (opened and self.more.button.value, self.rest, self._more)

    def tell(self, mistakes):
        """What cannot be used in this group, and how many of its answers are a demo building's."""
        names = {entry.section for entry in (*self.asked, *self._more)}
        told = [sentence for address, sentence in mistakes if address and address[0] in names]
        form, entries = self.panel.form, {(entry.section, entry.key) for entry in (*self.asked, *self._more)}
        demo = sum(form.is_demo(*one) for one in form.stated() if (one[0], one[2]) in entries)
        taken = sum(form.table(*at).notes.get(key, "").startswith(TAKEN) for *at, key in form.stated() if (at[0], key) in entries)
        ends = [f"{n} {what}" for n, what in ((demo, "demo"), (taken, "taken over from the demo"), (len(told), "to mend")) if n]
        self.fold.retitle(": ".join(filter(None, [self.title, ", ".join(ends)])))
        self.told.value = lines_html(told)

    def _blocks(self, entries, in_view):
        by_section = {}
        for entry in entries:
            by_section.setdefault(entry.section, []).append(entry.key)
        for name, keys in by_section.items():
            section = sections()[name]
            titled = section.title != self.title and (len(by_section) > 1 or section.kind != "one")
            head = [HTML(f"<b>{escape(section.title)}</b>")] if titled else []
            if not in_view:  # a file may hold keys that no schema knows: they are told as such, and can be taken out
                keys += {key: None for table in self.panel.form.tables(name).values() for key in table if key not in section.entries}
            rows = self._rows(name, keys) if section.kind == "one" else self._columns(name, keys, in_view)
            yield VBox([*head, *rows]).add_class("block")

    def _rows(self, name, keys):
        entries = sections()[name].entries
        for key in keys:
            wide = key in entries and (entries[key].several or key in WIDE) and entries[key].kind != "flag"
            yield HBox([_label(entries[key].label if key in entries else key), self.panel.cell(name, None, key, wide)]).add_class("row")

    def _columns(self, name, keys, in_view):
        """A column for each range, kind, inlet or transmitter, a row for each key."""
        section, panel = sections()[name], self.panel
        items = list(panel.form.tables(name))
        cells = [_label(""), *(self._head(name, item) for item in items)] if section.kind == "named" or not in_view else []
        for key in keys if items else ():
            cells += [_label(section.entries[key].label if key in section.entries else key)]
            cells += [panel.cell(name, item, key) for item in items]
        if in_view:
            cells.append(_button(f"Add {section.one}", lambda: panel.do(lambda: panel.form.add(name))))
            cells += [_button("Remove", lambda item=item: panel.do(lambda: panel.form.remove(name, item))) for item in items]
        columns = f"{LABEL_PX}px {f'repeat({len(items)}, {CELL_PX}px)' if items else ''}"
        yield GridBox(cells, layout=Layout(grid_template_columns=columns, grid_gap="0 4px"))

    def _head(self, name, item):
        """The name over a column; of a named table to be changed."""
        panel = self.panel
        if sections()[name].kind != "named":
            return HTML(f"<b>{escape(panel.form.said(name, item).rpartition(', ')[2])}</b>")
        text = panel.form.names.get((name, item), item)
        made = Text(value=text, continuous_update=False, layout=panel.widths[CELL_PX]).add_class("cell")
        made.tooltip = f"{panel.form.said(name, item)}, name"
        made.observe(lambda change: panel.do(lambda: panel.form.rename(name, item, change["new"])), "value")
        return made


@cache
def _open_keys():
    """Keys of which nothing is known where they are left out."""
    return (*texts("site_file")["left_open"], "site.airflow_class")


@cache
def new_site_panel():
    """The panel, one in a notebook."""
    return NewSitePanel()


def _label(words):
    return HTML(f'<span style="font-size:14px">{escape(words)}</span>', layout=Layout(width=f"{LABEL_PX}px", flex="none")).add_class(
        "first"
    )


def _close(widget):
    for child in getattr(widget, "children", ()):
        _close(child)
    widget.close()


def _button(words, work):
    made = Button(description=words)
    made.on_click(lambda _: work())
    return made
