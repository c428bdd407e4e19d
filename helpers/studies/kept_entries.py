"""What is typed into a sheet on site, kept the moment it is typed: nothing is lost when a kernel, a battery or a page dies.

Every entry is added and none is changed: what stands in a field is the last that was typed there, and what stood there before can still be
read.
"""

from datetime import UTC, datetime

from helpers.studies.kept_file import KeptFile, KeptFileError

__all__ = ["Entries"]

LONGEST = 2000  # letters of one entry
MOST_NAMED = 6  # fields that are named where they could not be kept
COLUMNS = "id INTEGER PRIMARY KEY, sheet TEXT NOT NULL, field TEXT NOT NULL, text TEXT NOT NULL, at TEXT NOT NULL"
ADD = "INSERT INTO entries (sheet, field, text, at) VALUES (?, ?, ?, ?)"
LAST = "SELECT field, text FROM entries WHERE id IN (SELECT max(id) FROM entries WHERE sheet = ? GROUP BY field)"
ALL = "SELECT text, at FROM entries WHERE sheet = ? AND field = ? ORDER BY id"


class Entries:
    """The entries of one sheet, by field. What could not be kept is tried again, in its order, with each entry after it."""

    def __init__(self, sheet, folder=None):
        self.sheet, self.file = str(sheet), KeptFile("sheets.sqlite", "entries", COLUMNS, folder)
        self._unkept, self._labels = [], {}

    def keep(self, field, text, label=None):
        """Keep what was typed into a field, and with it what could not be kept before; all is on the disk when this returns.

        label: what the page calls the field, by default its name. Raises KeptFileError where it cannot be kept: then it is held until this
        page is closed.
        """
        self._labels[str(field)] = str(label or field)
        if len(str(text)) > LONGEST:
            raise KeptFileError(f"{label or field} must be {LONGEST} letters at the most, got {len(str(text))}")
        sheet, field, text = (str(part).encode("utf-8", "replace").decode("utf-8") for part in (self.sheet, field, text))
        if self._unkept and self._unkept[-1][1] == field:
            self._unkept.pop()  # of one field that is typed on, the last is enough
        self._unkept.append((sheet, field, text, datetime.now(UTC).isoformat(timespec="seconds")))
        try:
            self.file.add(ADD, self._unkept)
        except KeptFileError as trouble:
            fields = ", ".join(dict.fromkeys(self._labels.get(row[1], row[1]) for row in self._unkept[:MOST_NAMED]))
            raise KeptFileError(f"{trouble} Not kept yet: {fields}. It is tried again with the next entry; leave this page open.") from None
        self._unkept = []

    def read(self):
        """Last entry of every field, by field."""
        return dict(self.file.ask(LAST, (self.sheet,))) | {field: text for _, field, text, _ in self._unkept}

    def history(self, field):
        """(text, time UTC) of all entries of a field, in the order in which they were typed."""
        return self.file.ask(ALL, (self.sheet, str(field)))
