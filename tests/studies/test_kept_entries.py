"""What was typed on site is there again: after a kill, from two pages at once, from another thread."""

import random
import signal
import sqlite3
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from helpers.teaching import store
from helpers.teaching.store import FOLDER_VARIABLE, Entries, KeptFileError, data_folder

TYPIST = """
import sys
from helpers.teaching import store as kept_file
from helpers.teaching.store import Entries
entries = Entries("sheet", sys.argv[1])
for number in range(100000):
    entries.keep(f"field {number % 7}", number)
    print(number, flush=True)
"""
KILLS = 100


def typist(folder):
    return subprocess.Popen([sys.executable, "-c", TYPIST, str(folder)], stdout=subprocess.PIPE, text=True)


def told(folder):
    return [int(text) for number in range(7) for text, _ in Entries("sheet", folder).history(f"field {number}")]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
def test_nothing_that_was_kept_is_lost_when_the_kernel_is_killed_a_hundred_times(tmp_path):
    """Four typists at once, each killed while it types, again and again; what each said it had kept is there."""
    draw, seen = random.Random(3), 0
    while seen < KILLS:
        folders = [tmp_path / f"{seen + number}" for number in range(4)]
        running = [typist(folder) for folder in folders]
        first = [process.stdout.readline() for process in running]
        time.sleep(draw.uniform(0.0, 0.05))
        for process in running:
            process.kill()
        for process, folder, line in zip(running, folders, first, strict=True):
            said = [int(number) for number in [line.strip(), *process.stdout.read().splitlines()] if number]
            process.wait()
            kept = told(folder)
            assert set(said) <= set(kept)
            assert len(kept) <= len(said) + 2  # the last may be on the disk and not yet said, or said in part
            seen += 1


def test_two_pages_at_once_do_no_harm(tmp_path):
    def type_all(page):
        entries = Entries("sheet", tmp_path)
        for number in range(50):
            entries.keep(f"page {page} field {number}", number)

    with ThreadPoolExecutor(4) as pages:
        list(pages.map(type_all, range(4)))
    assert len(Entries("sheet", tmp_path).read()) == 200


def test_what_stands_in_a_field_is_the_last_that_was_typed_and_the_rest_can_be_read(tmp_path):
    entries = Entries("sheet", tmp_path)
    for text in ("24", "24,5", "24.5", ""):
        entries.keep("storey 4 shut", text)
    Entries("another sheet", tmp_path).keep("storey 4 shut", "99")
    assert Entries("sheet", tmp_path).read() == {"storey 4 shut": ""}
    assert [text for text, _ in entries.history("storey 4 shut")] == ["24", "24,5", "24.5", ""]


def test_nothing_is_written_before_something_is_typed(tmp_path):
    assert Entries("sheet", tmp_path / "new").read() == {}
    assert Entries("sheet", tmp_path / "new").history("x") == []
    assert not (tmp_path / "new").exists()


def test_any_letters_are_kept_as_they_are(tmp_path):
    entries = Entries("'; DROP TABLE entries; --", tmp_path)
    for text in ("Ångström 25 Pa", "二十五", "'; DROP TABLE entries; --", "\U0001f6aa"):
        entries.keep(text, text)
    assert set(entries.read()) == set(entries.read().values()) == {"Ångström 25 Pa", "二十五", "'; DROP TABLE entries; --", "\U0001f6aa"}


def test_a_damaged_file_is_set_aside_and_the_sheet_goes_on(tmp_path):
    (tmp_path / "sheets.sqlite").write_bytes(b"no database at all, " * 100)
    entries = Entries("sheet", tmp_path)
    assert entries.read() == {}
    assert "It was set aside as sheets-damaged-1.sqlite, in the same folder; a new one is begun." in entries.file.aside
    entries.keep("a", "b")
    assert Entries("sheet", tmp_path).read() == {"a": "b"}
    assert (tmp_path / "sheets-damaged-1.sqlite").read_bytes() == b"no database at all, " * 100


def test_a_page_of_text_gets_a_sentence_and_is_not_tried_again(tmp_path):
    entries = Entries("sheet", tmp_path)
    with pytest.raises(KeptFileError, match="2000 letters at the most"):
        entries.keep("a", "b" * 2001)
    entries.keep("a", "half a sign \ud83d")
    assert entries.read() == {"a": "half a sign ?"}


def test_what_could_not_be_kept_is_said_until_it_is_and_then_kept_in_its_order(tmp_path, monkeypatch):
    monkeypatch.setattr(store, "WAIT_S", 0.05)
    entries = Entries("sheet", tmp_path)
    entries.keep("door 2", "1")
    other = sqlite3.connect(tmp_path / "sheets.sqlite", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    for field, text in (("door 1", "5"), ("door 1", "58"), ("door 2", "44")):
        with pytest.raises(KeptFileError, match=r"locked.*Not kept yet: storey 1, measured.*leave this page open"):
            entries.keep(field, text, {"door 1": "storey 1, measured"}.get(field))
    other.execute("ROLLBACK")
    other.close()
    assert entries.read() == {"door 1": "58", "door 2": "44"}
    assert Entries("sheet", tmp_path).read() == {"door 2": "1"}
    entries.keep("door 3", "50")
    assert Entries("sheet", tmp_path).read() == {"door 1": "58", "door 2": "44", "door 3": "50"}
    assert [text for text, _ in entries.history("door 2")] == ["1", "44"]


def test_a_lock_that_lasts_is_waited_for_once_and_not_at_each_stroke(tmp_path, monkeypatch):
    monkeypatch.setattr(store, "WAIT_S", 0.6)
    monkeypatch.setattr(store, "AGAIN_S", 0.01)
    entries, connect, waits_s = Entries("sheet", tmp_path), sqlite3.connect, []
    entries.keep("a", "1")
    other = sqlite3.connect(tmp_path / "sheets.sqlite", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")

    def noted(path, timeout, **asked):
        """How long SQLite is told to wait, not how long that takes on this machine."""
        waits_s.append(timeout)
        return connect(path, timeout=timeout, **asked)

    monkeypatch.setattr(sqlite3, "connect", noted)
    for text in "23456":
        with pytest.raises(KeptFileError, match="locked"):
            entries.keep("a", text)
    assert waits_s == [0.6] + 4 * [0.01]
    other.execute("ROLLBACK")
    other.close()
    for text in "78":
        entries.keep("a", text)
    assert waits_s[5:] == [0.01, 0.6]  # once it has been kept again, another page is waited for as before


def test_a_folder_that_is_a_file_gets_a_sentence(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(KeptFileError, match="could not be kept"):
        Entries("sheet", tmp_path / "file").keep("a", "b")


def test_the_folder_can_be_named(tmp_path, monkeypatch):
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "here"))
    assert data_folder() == tmp_path / "here"
    monkeypatch.delenv(FOLDER_VARIABLE)
    assert data_folder().name == "pressure-loop-workbook"
