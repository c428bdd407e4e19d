"""A small SQLite file of the user's own, to which pages add what must not be lost: in the user's data folder, never in the repository."""

import os
from contextlib import closing, suppress
from pathlib import Path

import platformdirs

try:
    import sqlite3
except ModuleNotFoundError:  # Pythons for the browser may leave it out; pages must open all the same
    sqlite3 = None

__all__ = ["FOLDER_VARIABLE", "KeptFile", "KeptFileError", "data_folder"]

FOLDER_VARIABLE = "PRESSURE_LOOP_RECORDS"  # names another folder than the user's own
WAIT_S = 10.0  # for another page that is writing
DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")  # SQLite's own names: the file's inside is broken, or it never was a database


class KeptFileError(ValueError):
    """Something could not be kept or read; the sentence says why. damaged: the file itself is broken, and trying again is of no use."""

    def __init__(self, sentence, damaged=False):
        super().__init__(sentence)
        self.damaged = damaged


def data_folder():
    """Folder of the user's own records: the one named by PRESSURE_LOOP_RECORDS, or the usual place of this system."""
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named).expanduser() if named else Path(platformdirs.user_data_dir("pressure-loop-workbook", appauthor=False))


class KeptFile:
    """One file with one table. Several pages, threads and processes may use it at once: every statement has a connection of its own, since
    widgets call from threads of their own, and is on the disk when it returns."""

    def __init__(self, name, table, columns, folder=None):
        self.path = (data_folder() if folder is None else Path(folder)) / name
        self._create = f"CREATE TABLE IF NOT EXISTS {table} ({columns})"

    def add(self, statement, rows):
        """Do a statement for several rows of values, all or none. Raises KeptFileError."""
        self._do(lambda connection: connection.executemany(statement, rows), "kept")

    def ask(self, statement, values=()):
        """Rows that a question gives; none where the file is not there. Raises KeptFileError."""
        return self._do(lambda connection: connection.execute(statement, values).fetchall(), "read") if self.path.exists() else []

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
        if self.path.is_symlink() or (self.path.exists() and not self.path.is_file()):
            raise KeptFileError(f"This could not be {what}: {self.path.name} must be a plain file, got a link, a folder or a device.")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with closing(sqlite3.connect(self.path, timeout=WAIT_S)) as connection:
                connection.execute("PRAGMA synchronous = FULL")
                connection.execute(self._create)
                with connection:
                    return work(connection)
        except (sqlite3.Error, OSError, UnicodeEncodeError) as trouble:  # the last: half a sign of two
            damaged = getattr(trouble, "sqlite_errorname", "").startswith(DAMAGED)
            raise KeptFileError(f"This could not be {what} in {self.path.name}: {trouble}.", damaged) from None
