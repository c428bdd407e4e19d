"""What is typed into a sheet on site, kept the moment it is typed: nothing is lost when a kernel, a battery or a page dies.

Every entry is added and none is changed: what stands in a field is the last that was typed there, and what stood there before can still be
read.
"""

from datetime import UTC, datetime

from helpers.studies.kept_file import KeptFile, KeptFileError

__all__ = ["Entries"]

LONGEST = 2000  # letters of one entry
COLUMNS = "id INTEGER PRIMARY KEY, sheet TEXT NOT NULL, field TEXT NOT NULL, text TEXT NOT NULL, at TEXT NOT NULL"
ADD = "INSERT INTO entries (sheet, field, text, at) VALUES (?, ?, ?, ?)"
LAST = "SELECT field, text FROM entries WHERE id IN (SELECT max(id) FROM entries WHERE sheet = ? GROUP BY field)"
ALL = "SELECT text, at FROM entries WHERE sheet = ? AND field = ? ORDER BY id"


class Entries:
    """The entries of one sheet, by field."""

    def __init__(self, sheet, folder=None):
        self.sheet, self.file = str(sheet), KeptFile("sheets.sqlite", "entries", COLUMNS, folder)

    def keep(self, field, text):
        """Keep what was typed into a field; it is on the disk when this returns. Raises KeptFileError where it cannot be kept."""
        if len(str(text)) > LONGEST:
            raise KeptFileError(f"{field} must be {LONGEST} letters at the most, got {len(str(text))}")
        self.file.add(ADD, [(self.sheet, str(field), str(text), datetime.now(UTC).isoformat(timespec="seconds"))])

    def read(self):
        """Last entry of every field, by field."""
        return dict(self.file.ask(LAST, (self.sheet,)))

    def history(self, field):
        """(text, time UTC) of all entries of a field, in the order in which they were typed."""
        return self.file.ask(ALL, (self.sheet, str(field)))
