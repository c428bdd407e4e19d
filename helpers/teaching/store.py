"""A small SQLite file in the user's data folder, never in the repository, to which pages add what must not be lost the moment it is typed.

Every entry is added and none is changed: what stands in a field is the last that was typed there, and what stood there before can still be
read.
"""

import os
import stat
import time
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from threading import Lock

import platformdirs

from helpers.model.files import FileTextError, named_path

try:
    import sqlite3
except ModuleNotFoundError:  # Pythons for the browser may leave it out; pages must open all the same
    sqlite3 = None


FOLDER_VARIABLE = "PRESSURE_LOOP_RECORDS"  # names another folder than the user's own
WAIT_S = 10.0  # for another page that is writing
AGAIN_S = 0.3  # as long as that did not help the last time: each key stroke asks anew
MOVED = ("SQLITE_READONLY_DBMOVED", "SQLITE_IOERR")  # another page has set the file aside while this one was at it
FULL = "SQLITE_IOERR_WRITE"  # the disk is; waiting is of no use
ATTEMPTS, PAUSE_S = 5, 0.05  # it is done with that in a few milliseconds, on a machine that is busy in some tenths of a second
SETTING_ASIDE = Lock()  # of this process; between processes SQLite has one
DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")  # SQLite's own names: the file's inside is broken, or it never was a database


class KeptFileError(ValueError):
    """Something could not be kept or read; the sentence says why. damaged: the file itself is broken, and trying again is of no use."""

    def __init__(self, sentence, damaged=False):
        super().__init__(sentence)
        self.damaged = damaged


def data_folder():
    """Folder of the user's own records: the one named by PRESSURE_LOOP_RECORDS, or the usual place of this system. Raises FileTextError
    for the folder of a user who is not there."""
    named = os.environ.get(FOLDER_VARIABLE)
    return named_path(named) if named else Path(platformdirs.user_data_dir("pressure-loop-workbook", appauthor=False))


class KeptFile:
    """One file with one table. Several pages, threads and processes may use it at once: every statement has a connection of its own, since
    widgets call from threads of their own, and is on the disk when it returns."""

    def __init__(self, name, table, columns, folder=None):
        self.nowhere = ""  # a sentence, where the folder that is named cannot be
        try:
            self.path = (data_folder() if folder is None else Path(folder)) / name
        except FileTextError as refusal:  # the page opens all the same, and says with each entry that it is not kept
            self.path, self.nowhere = Path(name), f"{FOLDER_VARIABLE} must name a folder that can be written; {refusal}"
        self.aside = ""  # a sentence, once a damaged file was set aside here
        self._create = f"CREATE TABLE IF NOT EXISTS {table} ({columns})"
        self._waited = False  # in vain, the last time

    def add(self, statement, rows):
        """Do a statement for several rows of values, all or none. Raises KeptFileError."""
        self._or_anew(lambda connection: connection.executemany(statement, rows), "kept")

    def ask(self, statement, values=()):
        """Rows that a question gives; none where the file is not there. Raises KeptFileError."""
        if not self._there("read"):
            return []
        return self._or_anew(lambda connection: connection.execute(statement, values).fetchall(), "read")

    def _there(self, what):
        """Whether something of the file's name lies in its folder. Raises KeptFileError where nobody may look, and for what is no file."""
        if self.nowhere:
            raise KeptFileError(f"This could not be {what}: {self.nowhere}.")
        try:
            kind = self.path.lstat().st_mode
        except (FileNotFoundError, NotADirectoryError):
            return False
        except (OSError, ValueError) as trouble:  # ValueError: a null in the path
            why = getattr(trouble, "strerror", None) or trouble
            raise KeptFileError(f"This could not be {what} in {self.path.name}: its folder cannot be looked into: {why}.") from None
        if not stat.S_ISREG(kind):
            raise KeptFileError(f"This could not be {what}: {self.path.name} must be a plain file, got a link, a folder or a device.")
        return True

    def _or_anew(self, work, what):
        """What `work` does with the file; where that is damaged it is set aside, and `work` is done with a new one."""
        try:
            return self._do(work, what)
        except KeptFileError as trouble:
            if not trouble.damaged:
                raise
        with SETTING_ASIDE, self._alone():
            try:
                return self._do(work, what)  # another page may have been first: its new file is healthy, and stays where it is
            except KeptFileError as trouble:
                if not trouble.damaged:
                    raise
            aside = self.set_aside()
            told = "was damaged and cannot be read. It was set aside as"
            self.aside = f"{self.path.name} {told} {aside.name}, in the same folder; a new one is begun."
            return self._do(work, what)

    @contextmanager
    def _alone(self):
        """While no other process sets a file of this folder aside. SQLite's own lock, which every system has; it ends with its process."""
        try:
            with closing(sqlite3.connect(self.path.with_name(".setting-aside"), timeout=WAIT_S, isolation_level=None)) as connection:
                connection.execute("BEGIN EXCLUSIVE")
                yield
        except sqlite3.Error as trouble:
            raise KeptFileError(f"{self.path.name} is damaged and could not be set aside: {trouble}.", damaged=True) from None

    def set_aside(self):
        """Give the file another name, so that a new one can be begun; returns the path it has then. Raises KeptFileError.

        The journal of an unfinished change goes with it: beside a new file it would be taken for that file's own.
        """
        number = 1
        while (aside := self.path.with_name(f"{self.path.stem}-damaged-{number}{self.path.suffix}")).exists():
            number += 1
        try:
            with suppress(FileNotFoundError):
                os.rename(f"{self.path}-journal", f"{aside}-journal")
            self.path.rename(aside)
        except OSError as trouble:
            raise KeptFileError(f"{self.path.name} is damaged and could not be set aside: {trouble.strerror}.", damaged=True) from None
        return aside

    def _do(self, work, what):
        if sqlite3 is None:
            raise KeptFileError(f"This could not be {what} in {self.path.name}: this Python comes without sqlite3.")
        self._there(what)
        try:
            for attempt in range(ATTEMPTS):
                try:
                    return self._done(work)
                except sqlite3.OperationalError as trouble:
                    if attempt + 1 == ATTEMPTS or _name(trouble) == FULL or not _name(trouble).startswith(MOVED):
                        raise
                    time.sleep(PAUSE_S * (attempt + 1))
        except (sqlite3.Error, OSError, UnicodeEncodeError) as trouble:  # the last: half a sign of two
            self._waited = _name(trouble).startswith("SQLITE_BUSY")
            damaged = _name(trouble).startswith(DAMAGED)
            raise KeptFileError(f"This could not be {what} in {self.path.name}: {trouble}.", damaged) from None

    def _done(self, work):
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with closing(sqlite3.connect(self.path, timeout=min(WAIT_S, AGAIN_S) if self._waited else WAIT_S)) as connection:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute(self._create)
            with connection:
                found = work(connection)
        self._waited = False
        return found


def _name(trouble):
    return getattr(trouble, "sqlite_errorname", None) or ""


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
