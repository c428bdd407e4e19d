"""Which sites a page can open: the demo sites, and every site file of the folder `records`, one that cannot be read with its reason."""

import re
from html import escape
from pathlib import Path

from ipywidgets import HTML, VBox

from helpers.model.files import MOST_BYTES, FileTextError, changed_s, printable, shown_name, text_of
from helpers.model.plants.kinds import SITE_KINDS
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import demo_sites, raw_site, read_site
from helpers.pages.printed import RECORDS
from helpers.plots.headline import VerdictLine
from helpers.plots.markup import PAGE_STYLE, Verdict
from helpers.widgets.controls import HAND_PX, LETTER_PX, ROW_PX, SEGMENT_PX, STYLE, Choice, keys_held
from helpers.widgets.panel import CLASS, hidden

AGAIN, REASON, LONGEST_NAME = "look for new files", 70, 40  # the last line of a list; letters of a reason, of a building's name
OTHER_KINDS = re.compile(r"[\w ]*strategy|test day|answers")  # of files that are for a site and are none
KIND = re.compile(r"^\s*kind\s*=\s*[\"']([\w ]+)[\"']", re.MULTILINE)


def sites_offered(kind="stair"):
    """{words for a list: path} of the demo sites, then of the records' own by their names, the newest first; kind as in demo_sites."""
    own = {}
    for path in sorted(RECORDS.glob("*.toml"), key=lambda path: (-changed_s(path), path.name)):
        words = f"{RECORDS.name}/{shown_name(path)}"
        try:
            if OTHER_KINDS.fullmatch(_kind_of(text_of(path, MOST_BYTES))):
                continue
            site = read_site(path, SITE_KINDS)
            if kind not in (None, site.kind):
                continue
            words = f"{printable(site.name)[:LONGEST_NAME]} ({words})"
        except (FileTextError, SiteFileError) as refusal:
            reason = " ".join(str(refusal).removeprefix(shown_name(path)).strip(",: ").split())
            words = f"{words}: not readable, {reason[:REASON]}"
        own[_not_in(own, words)] = path
    return demo_sites(kind) | own


def _kind_of(text):
    """The kind that a file says it is of, by what stands before its first table where it is no TOML; "" where it says none."""
    try:
        kind = raw_site(text).get("kind", "")
    except SiteFileError:
        found = KIND.search(text.partition("\n[")[0])
        kind = found[1] if found else ""
    return kind if isinstance(kind, str) else ""


def _not_in(known, words):
    """The words, with a number where they stand for another file already: names of files that are long are cut."""
    number, free = 2, words
    while free in known:
        free, number = f"{words} ({number})", number + 1
    return free


def site_file(name):
    """The file of a demo site's name, of a line of the list, or of a path. Raises ValueError naming what can be chosen."""
    files = sites_offered()
    if str(name) not in files and Path(name).suffix != ".toml":
        raise ValueError(f"site must be one of {', '.join(files)}, or the path of a .toml file; got {name!r:.60}")
    return files.get(str(name), name)


class SiteChoice(Choice):
    """A list of sites; its last line looks for files written since, and reads the chosen one again. `path` is that of the chosen one.

    first: {words: path or None} of what stands before all of them, kept as `given`. row: whether it has a row of its own on the page. A
    name that is longer than its box stands under it once more, whole.
    """

    def __init__(self, label, value, kind="stair", first=(), row=False):
        self._kind, self.given, self._chosen, self._quiet = kind, dict(first), value, False
        self._room, self._whole = ((ROW_PX if row else HAND_PX) - 2 * SEGMENT_PX) / LETTER_PX, HTML()
        super().__init__(label, self._words(), value)
        self.widget.children = (*self.widget.children, self._whole)
        if row:
            self.widget.add_class("own-row")
        self._tell_whole()

    @property
    def path(self):
        """The file of what is chosen; None for words that stand for none."""
        return self.files[self._chosen]

    def of_kind(self, kind):
        """Offer sites of another kind; the first of them, or what stands before them, is chosen, without calling anybody."""
        self._kind, self._chosen = kind, None
        self.look_again()

    def look_again(self):
        """Offer what is there now, without calling anybody; what is chosen stays chosen."""
        words, self._quiet = self._words(), True
        self._chosen = self._chosen if self._chosen in words else words[0]
        try:
            self.inner.options = words
            self.inner.value = self._chosen
        finally:
            self._quiet = False
        self._tell_whole()

    def _tell_whole(self):
        long = len(str(self._chosen)) > self._room
        self._whole.value = f'<div class="whole">{escape(str(self._chosen))}</div>' if long else ""
        self._whole.layout.display = None if long else "none"

    def _words(self):
        self.files = self.given | sites_offered(self._kind)
        return [*self.files, AGAIN]

    def _changed(self, change):
        if self._quiet:
            return
        if self.value == AGAIN:
            self.look_again()
        self._chosen = self.value
        self._tell_whole()
        super()._changed(change)


class Together:
    """The pickers of a page: what is chosen in the first is chosen in the others too, each of which may still be moved by itself."""

    def __init__(self):
        self._first, self._others = None, {}

    def name(self, name):
        """What a later picker opens at: where the first one stands, or a name where there is none yet."""
        return name if self._first is None else self._first.value

    @property
    def given(self):
        """{words: path} of what the first one offers before all sites."""
        return {} if self._first is None else self._first.given

    def lead(self, choice):
        """Take the first `SiteChoice` of the page, in the place of one of an earlier run."""
        self._first, self._others = choice, {}
        choice.on_change(lambda: self._go(choice))

    def join(self, place, choice):
        """Take a later one; place: its name on the page, where it takes the place of one of an earlier run."""
        self._others[place] = choice

    def _go(self, first):
        for other in self._others.values() if first is self._first else ():
            if other.value != first.value:
                other.given = first.given
                other.look_again()  # the first one may have been found since
                other.value = first.value


class OnSite:
    """A sheet of the site that is chosen over it: `panel` is the one that is open, and all of its names are found here too.

    make(path) gives the sheet of a site file; it has a `sheet` with a `box`. together: `Together` of its page, whose
    first picker it has, or a later one by the name of its place there.
    """

    def __init__(self, make, name, together=None, place=None):
        if place:
            name = together.name(name)
        self.make, self.site, self.line = make, SiteChoice("Building", name, row=True), VerdictLine()
        self.panel = make(self.site.path)
        self.box = VBox().add_class(CLASS)
        self._head = (hidden(STYLE + PAGE_STYLE + keys_held(CLASS)), self.site.widget)
        self.box.children = (*self._head, self.panel.sheet.box)
        self.site.on_change(self._open)
        if place:
            together.join(place, self.site)
        elif together:
            together.lead(self.site)

    def __getattr__(self, name):
        if name == "panel":
            raise AttributeError(name)
        return getattr(self.panel, name)

    def _open(self):
        self.line.say(Verdict("working", f"Working out the site that is chosen. The sheet below is still that of {self.panel.site.name}."))
        self.box.children = (*self._head, self.line.widget, self.panel.sheet.box)
        try:
            self.panel = self.make(self.site.path)
        except ValueError as refusal:
            self.line.say(Verdict("entry", f"{refusal}\nThe sheet below is still that of {self.panel.site.name}."))
            self.box.children = (*self._head, self.line.widget, self.panel.sheet.box)
            return
        self.box.children = (*self._head, self.panel.sheet.box)

    def _repr_mimebundle_(self, include=None, exclude=None):
        still = self.panel._repr_mimebundle_(include, exclude)
        return self.box._repr_mimebundle_() | {kind: made for kind, made in still.items() if kind.startswith("text/")}
