"""What was typed on the page of a site of one's own and not yet written into a site file: kept as it is typed, and offered again.

A draft is no site file: it does not end in .toml, so that no list of sites has it, and none is written over by it. A draft that nobody
took up stays beside the next one.
"""

import time
from pathlib import Path

from ipywidgets import HTML, Button, HBox, VBox

from helpers.model.files import MOST_BYTES, bytes_of, free_path, text_of, write_whole
from helpers.model.site.form import SiteForm
from helpers.pages.printed import RECORDS, records_folder

DRAFT = "your_site.draft"


class SiteDraft:
    """The draft of a form in the folder `records`: offered where there is one, kept anew at every answer. on_take(form): shows it."""

    def __init__(self, on_take):
        self.path, self._on_take, self._offered = Path(RECORDS) / DRAFT, on_take, False
        self.told, self.kept = HTML(), HTML()
        self.take_button, self.leave_button = Button(description="Take it up"), Button(description="Leave it")
        self.take_button.on_click(lambda _: self.take())
        self.leave_button.on_click(lambda _: self.leave())
        self.offer = VBox([self.told, HBox([self.take_button, self.leave_button])])
        self._show(self.path.is_file())
        if self._offered:
            self.told.value = f"<b>Typed until {self.when} and not written into a site file.</b>"

    @property
    def when(self):
        """Day and time of the draft in words."""
        return time.strftime("%d %B %Y, %H:%M", time.localtime(self.path.stat().st_mtime))

    def take(self):
        """Show what was typed. What cannot be read is told, and stays where it is."""
        try:
            form = SiteForm(text_of(self.path, MOST_BYTES))
        except (ValueError, OSError) as trouble:
            self.told.value = f"<b>The draft cannot be read: {trouble}. It stays as {self.path.as_posix()}.</b>"
            return
        self._show(False)
        self._on_take(form)

    def leave(self):
        """Begin without it: it goes beside, under a name that was free."""
        if self._offered:
            write_whole(free_path(self.path.with_name(f"{DRAFT}.old")), bytes_of(self.path, MOST_BYTES))
            self._show(False)

    def keep(self, form):
        """Write the answers as they stand; what was offered and not taken up goes beside first."""
        try:
            records_folder()
            self.leave()
            write_whole(self.path, form.text())
        except (ValueError, OSError) as trouble:
            self.kept.value = f"What is typed could not be kept: {trouble}"
            return
        self.kept.value = f"Kept as typed: {self.path.as_posix()}, {self.when}"

    def written(self):
        """The answers stand in a site file now: no draft is needed any more."""
        if not self._offered:
            self.path.unlink(missing_ok=True)
            self.kept.value = ""

    def _show(self, offered):
        self._offered, self.offer.layout.display = offered, None if offered else "none"
