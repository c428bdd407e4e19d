"""A site file without an editor: questions in groups, marked while they are still a demo building's, a section that grows, a file to open
and to write."""

from copy import deepcopy
from functools import cache
from pathlib import Path
from threading import RLock

from ipywidgets import HTML, Dropdown, HBox, Layout, VBox

from helpers.model.files import free_path, texts
from helpers.model.site.entries import DOOR_KINDS, NO, YES, groups, option_said, sections
from helpers.model.site.form import SiteForm, open_site, write_new_site
from helpers.pages.new_site.draft import SiteDraft
from helpers.pages.new_site.questions import CELL_PX, COLUMN_PX, FORM, LABEL_PX, LOOK, Questions, button
from helpers.pages.printed import RECORDS, records_folder
from helpers.pages.sites import SiteChoice
from helpers.plots.headline import VerdictLine
from helpers.plots.markup import PAGE_STYLE, Verdict, html_table, lines_html, paragraphs_html
from helpers.plots.stair_section import stair_section
from helpers.widgets.controls import STYLE, Tick, Typed, keys_held
from helpers.widgets.panel import CLASS, Fold, hidden

DEFAULT_PATH = f"{RECORDS}/my_building.toml"
MOST_TOLD, MOST_BACK, MOST_LETTERS = 8, 50, 7  # sentences in view; steps back; letters with room


class NewSitePanel:
    """The form's answers as entries; every answer is checked with all others as it is typed, and what is wrong stays as it was typed.

    A press may come on another thread while an entry is still worked in: each waits for the other, or the page would be left with columns
    of both, and an entry that came while marks were set would be taken for one of the panel's own.
    """

    def __init__(self):
        self.form, self._back, self._quiet, self._alone = SiteForm(), [], False, RLock()
        self.widths = {width: Layout(width=f"{width}px", flex="none") for width in (CELL_PX, COLUMN_PX - LABEL_PX - 16)}
        self.line, self.done, self.opened = VerdictLine(), VerdictLine(), VerdictLine()
        self.figures, self.section, self.words, self.draft = HTML(), HTML(), HTML(), SiteDraft(self._take_up)
        self.groups = [Questions(self, *group) for group in groups()]
        self.open_choice = SiteChoice("Open a file", "Larkfield House", row=True)
        self.open_path = Typed("or of another folder", str.strip, hint="path of a .toml file, or empty")
        self.path = Typed("Write to", str.strip, DEFAULT_PATH, hint="path of a new .toml file")
        self.over, self.back_button = Tick("Write over, keep the old one beside"), button("Undo", self.back)
        files = VBox([self.open_choice.widget, self.open_path.widget]).add_class("files")
        opening = Fold("Open a file to change it", files, button("Open", self.open), self.opened.widget)  # fmt: skip
        foot = VBox([self.path.widget, self.over.widget, HBox([button("Write the site file", self.write), self.back_button]),
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

    def typed(self, section, item, key, text):
        """An entry has changed: by the reader's hand, unless the panel sets it. Nothing, where what it belongs to went meanwhile."""
        with self._alone:
            if self._quiet or item not in self.form.tables(section):
                return
            self.type(section, item, key, text)
            if (cell := self.cells.get((section, item, key))) is not None and cell.value != text:
                self._set(lambda: setattr(cell, "value", text))  # the panel wrote it anew while this waited

    def renamed(self, section, item, name):
        """The name over a column was changed, the column stays; a name that cannot be is kept and told."""
        with self._alone:
            if not self._quiet and item in self.form.tables(section):
                self._rename(section, item, name)

    def _rename(self, section, item, name):
        self.remember()
        self.form.rename(section, item, name)
        now = next((key for key in self.form.tables(section) if key not in self._back[-1].tables(section)), item)
        for group in self.groups:
            group.rename(section, item, now)
        self.show()
        self.draft.keep(self.form)

    def remember(self):
        """Keep the answers as they are now, to go back to."""
        self._back = [*self._back[-MOST_BACK:], deepcopy(self.form)]

    def back(self):
        """The answers as they were before the last step."""
        with self._alone:
            if self._back:
                self.form = self._back.pop()
                self.show()
                self.draft.keep(self.form)

    def do(self, step):
        """Do something to the form that changes which answers there are."""
        with self._alone:
            self.remember()
            step()
            self.show()
            self.draft.keep(self.form)

    def _take_up(self, form):
        """Go on with answers that were typed before."""
        with self._alone:
            self.remember()
            self.form = form
            self.show()

    def show(self):
        """Bring all entries to what the form holds."""
        with self._alone:
            self._set(self._show_all)
            self.check()

    def _show_all(self):
        for group in self.groups:
            group.show()
        for address, widget in self.cells.items():
            if not isinstance(widget, Dropdown):
                widget.value = self.form.answer(*address)

    def _set(self, work):
        """Set entries; what they call is not the reader's hand."""
        self._quiet = True
        try:
            work()
        finally:
            self._quiet = False

    @property
    def cells(self):
        """All entries that were made, by address."""
        return dict(cell for group in self.groups for cell in group.cells())

    def check(self):
        """Say how the answers stand, and mark each of them."""
        with self._alone:
            self._check()

    def _check(self):
        mistakes = self.form.mistakes()
        refused = {address for address, _ in mistakes}
        self._set(lambda: [self._stand(address, widget, address in refused) for address, widget in self.cells.items()])
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
        told, wrong = f"{Path(path).as_posix()} is open", len(form.mistakes())
        if wrong:
            self.opened.say(Verdict("attention", f"{told}; {_entries(wrong)} cannot be used: each is told beside, and in its group."))
            return
        self.opened.say(Verdict("done", f"{told}: {self._verdict([]).head}."))

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
            self.done.say(Verdict("note", f"{told} It is no site yet: {_entries(wrong)} cannot be used. Open it here again to mend it."))
            return
        pages = "Pages 11, 12, 13 and 15 have it in their list of sites" if written.parent == RECORDS else "Page 12 opens it by its path"
        again = ": where a page is open already, choose look for new files." if written.parent == RECORDS else "."
        self.done.say(Verdict("done", f"{told} {pages}{again} {self._verdict([]).head}."))

    def _stand(self, address, widget, refused):
        """Bring an entry's marks, its hint and its options up to the moment."""
        section, item, key = address
        entry = sections()[section].entries.get(key)
        for mark, on in (("demo", self.form.is_demo(*address)), ("copied", self.form.is_copied(*address)), ("refused", refused)):
            if on != (mark in widget._dom_classes):
                (widget.add_class if on else widget.remove_class)(mark)
        widget.tooltip = ": ".join(filter(None, [self.form.said(*address), entry.meant if entry else ""]))
        if isinstance(widget, Dropdown):
            options = self.options(section, item, entry)
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

    def options(self, section, item, entry):
        """(words, text) of a list: what leaving it out means, each option, and what the file has besides. No word stands there twice: where
        one of the options is what it is when left out, it stands for both."""
        named = list(self.form.tables("doors")) if entry.key in DOOR_KINDS else [YES, NO] if entry.kind == "flag" else entry.options
        now, empty = self.form.answer(section, item, entry.key), self._empty(section, item, entry)
        if empty == entry.usual and empty in named:
            listed = [(option_said(entry, one), "" if one == empty and not now else one) for one in named]
        else:
            needless = entry.needed and now and section != "storeys"
            first = [] if needless else [("choose" if empty.startswith("such as") else empty, "")]
            listed = [*first, *((option_said(entry, one), one) for one in named)]
        return [*listed, *([(now, now)] if now and now not in named else [])]

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
        said = f"{demo} of {every} answers are still the demo building's" if demo else "No answer is a demo building's any more"
        head = f"{demo} of {every} answers still demo" if demo else said  # two lines of a narrow column
        told = f"These answers make a site. {said}. Check each against drawings and plates."
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


@cache
def _open_keys():
    """Keys of which nothing is known where they are left out."""
    return (*texts("site_file")["left_open"], "site.airflow_class")


@cache
def new_site_panel():
    """The panel, one in a notebook."""
    return NewSitePanel()


def _entries(count):
    return f"{count} entries" if count > 1 else "one entry"
