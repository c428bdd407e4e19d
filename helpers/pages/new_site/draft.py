"""What was typed on the page of a site of one's own and not yet written into a site file: kept as it is typed, and offered again.

A draft is no site file: it does not end in .toml, so that no list of sites has it, and none is written over by it. A draft that nobody
took up stays beside the next one, and two pages that are open at once have a draft each.
"""

import time
from contextlib import suppress
from html import escape
from pathlib import Path

from ipywidgets import HTML, Button, HBox, VBox

from helpers.model.files import MOST_BYTES, bytes_of, changed_s, free_path, text_of, write_whole
from helpers.model.site.form import SiteForm, form_bytes
from helpers.pages.printed import RECORDS, records_folder

DRAFT, DRAFTS = "your_site.draft", "your_site*.draft"
WHEN = "%d %B %Y, %H:%M"


class SiteDraft:
    """The draft of a form in the folder `records`: offered where there is one, kept anew at every answer. on_take(form): shows it."""

    def __init__(self, on_take):
        self.path, self._on_take, self._offered, self._own = _newest(), on_take, False, None
        self._seen = self._lying()
        self.told, self.kept = HTML(), HTML()
        self.take_button, self.leave_button = Button(description="Take it up"), Button(description="Leave it")
        self.take_button.on_click(lambda _: self.take())
        self.leave_button.on_click(lambda _: self.leave())
        self.offer = VBox([self.told, HBox([self.take_button, self.leave_button])])
        self._show(self.path.is_file())  # also what cannot be read: it is told once somebody takes it up
        if self._offered:
            self.told.value = f"<b>Typed until {self.when} and not written into a site file.</b>"

    @property
    def when(self):
        """Day and time of the draft in words."""
        return time.strftime(WHEN, time.localtime(changed_s(self.path)))

    def take(self):
        """Show what was typed. What cannot be read is told, and stays where it is."""
        try:
            form = SiteForm(text_of(self.path, MOST_BYTES))
            self._own = self._lying()
        except (ValueError, OSError) as trouble:
            self.told.value = f"<b>The draft cannot be read: {escape(str(trouble))}. It stays as {escape(self.path.as_posix())}.</b>"
            return
        self._show(False)
        self._on_take(form)

    def leave(self):
        """Begin without it: it goes beside, under a name that was free. What cannot go there is told, and stays where it is; so does what
        another page has typed there since it was offered here: that page works on it."""
        try:
            self._put_aside()
        except (ValueError, OSError) as trouble:
            self.told.value = f"<b>The draft cannot be put aside: {escape(str(trouble))}</b>"

    def keep(self, form):
        """Write the answers as they stand; what was offered and not taken up goes beside first, and what another page that is open keeps
        there stays: this one then has a draft of its own."""
        try:
            records_folder()
            self._put_aside()
            if self._lying() not in (None, self._own):
                self.path = free_path(self.path)
            write_whole(self.path, form_bytes(form))
            self._own = self._lying()
        except (ValueError, OSError) as trouble:
            self.kept.value = f"What is typed could not be kept: {escape(str(trouble))}"
            return
        self.kept.value = f"Kept as typed: {self.path.as_posix()}, {time.strftime(WHEN)}"

    def written(self):
        """The answers stand in a site file now: no draft is needed any more."""
        if not self._offered and self._lying() == self._own:
            self.path.unlink(missing_ok=True)
            self._own, self.kept.value = None, ""

    def _put_aside(self):
        if not self._offered:
            return
        if self._lying() == self._seen:
            with suppress(FileNotFoundError):  # another page has put it aside
                aside = write_whole(free_path(Path(RECORDS) / f"{DRAFT}.old"), bytes_of(self.path, MOST_BYTES))
                self.path.unlink()
                self.kept.value = f"The draft lies in {aside.as_posix()}"
        self._show(False)

    def _lying(self):
        """What lies under the draft's name: None for nothing, no bytes for what is no file to read."""
        try:
            return bytes_of(self.path, MOST_BYTES)
        except FileNotFoundError:
            return None
        except (ValueError, OSError):
            return b""

    def _show(self, offered):
        self._offered, self.offer.layout.display = offered, None if offered else "none"


def _newest():
    """Path of the draft that was kept last; where there is none, of the first."""
    return max(Path(RECORDS).glob(DRAFTS), key=changed_s, default=Path(RECORDS) / DRAFT)
