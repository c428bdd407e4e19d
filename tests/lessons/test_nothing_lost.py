"""What can go wrong while a class is at work, and what is there afterwards: all that was acknowledged, and one clear sentence."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta

import pytest

from helpers.classroom.table import class_table
from helpers.model.files import made_folder, printable
from helpers.teaching import record as progress
from helpers.teaching.record import LearnerRecord

posix = pytest.mark.skipif(os.name != "posix", reason="this system limits the size of files in another way")
FULL = "database or disk is full"
# Answers, each acknowledged by a line, on a disk with room for so many bytes a file; then an export, which needs room too.
ON_A_SMALL_DISK = """
import resource, signal, sys
from helpers.teaching.record import LearnerRecord
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
record = LearnerRecord(sys.argv[1])
record.name = "Ada"
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), resource.RLIM_INFINITY))
for number in range(30):
    record.answered("pressure_window", "handle_force", number, "Pa", f"{number} " + "x" * 400, True)
    print(record.trouble or number, flush=True)
try:
    record.export(sys.argv[1] + "/out.json")
except ValueError as refusal:
    print(refusal)
print(len(record.events()))
"""
TAB = """
import sys
from helpers.teaching.record import LearnerRecord
record = LearnerRecord(sys.argv[1])
for number in range(int(sys.argv[3])):
    record.answered("pressure_window", "handle_force", number, "Pa", f"{sys.argv[2]} {number}", True)
    print(record.trouble or number, flush=True)
"""


def run(code, *arguments):
    return subprocess.Popen([sys.executable, "-c", code, *map(str, arguments)], stdout=subprocess.PIPE, text=True)


def texts(folder):
    return [event.text for event in LearnerRecord(folder).events()]


@pytest.fixture
def disk(monkeypatch):
    """A disk that can be full: "room" may be changed, in pages of the file."""
    connect, disk = sqlite3.connect, {"room": 0}

    def limited(path, **more):
        connection = connect(path, **more)
        if disk["room"]:
            connection.execute(f"PRAGMA max_page_count = {disk['room']}")
        return connection

    monkeypatch.setattr(sqlite3, "connect", limited)
    return disk


def test_a_full_disk_is_told_and_all_is_kept_in_its_order_once_there_is_room(tmp_path, disk):
    record = LearnerRecord(tmp_path)
    record.predicted("pressure_window", "top door", "60", "Pa")
    disk["room"] = 1  # never below what the file has: it cannot grow
    numbers = list(range(40))
    for number in numbers:
        record.answered("pressure_window", "handle_force", number, "Pa", f"{number:04d} " + "x" * 500, False)
    assert FULL in record.trouble
    assert "The lesson goes on; what you do now is kept only until this page is closed." in record.trouble
    assert [int(event.text[:4]) for event in record.events()[1:]] == numbers
    assert len(texts(tmp_path)) < 41  # the disk was full indeed
    disk["room"] = 0
    record.predicted("pressure_window", "wider leaf", "less", "Pa")
    assert record.trouble == ""
    assert texts(tmp_path)[0] == "60"
    assert [int(text[:4]) for text in texts(tmp_path)[1:-1]] == numbers
    assert texts(tmp_path)[-1] == "less"


def test_a_disk_that_is_full_from_the_start_does_not_stop_the_lesson(tmp_path, disk):
    disk["room"] = 1  # not even the table fits
    record = LearnerRecord(tmp_path)
    record.name = "Ada"
    assert (record.name, FULL in record.trouble) == ("Ada", True)
    assert list(tmp_path.glob("*damaged*")) == []  # full is not damaged
    disk["room"] = 0
    record.predicted("pressure_window", "top door", "60", "Pa")
    assert (texts(tmp_path), record.trouble) == (["Ada", "60"], "")


@posix
def test_what_was_acknowledged_before_the_disk_was_full_is_there_after_it(tmp_path):
    room = 17_000  # bytes of a file: not a whole number of its pages
    said = run(ON_A_SMALL_DISK, tmp_path, room).communicate()[0].splitlines()
    kept = [line for line in said if line.isdigit()][:-1]
    assert 0 < len(kept) < 30
    assert any("The lesson goes on" in line for line in said)
    assert "out.json cannot be written" in said[-2]
    assert said[-1] == "31"  # all that was done is still with the open page
    assert not (tmp_path / "out.json").exists()  # no half of an export
    record = LearnerRecord(tmp_path)
    assert [event.text.split()[0] for event in record.events()] == ["Ada", *kept]
    assert record.trouble == ""
    assert list(tmp_path.glob("*damaged*")) == []


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
def test_of_two_tabs_on_one_lesson_one_is_killed_and_neither_loses_an_answer(tmp_path):
    killed, other = run(TAB, tmp_path, "killed", 100_000), run(TAB, tmp_path, "other", 30)
    told = [killed.stdout.readline().strip() for _ in range(5)]
    killed.kill()
    told += killed.stdout.read().splitlines()[:-1]
    assert other.communicate()[0].split() == [str(number) for number in range(30)]
    killed.wait()
    kept = texts(tmp_path)
    assert [text for text in kept if text.startswith("other")] == [f"other {number}" for number in range(30)]
    assert [text for text in kept if text.startswith("killed")][: len(told)] == [f"killed {number}" for number in told]
    assert LearnerRecord(tmp_path).trouble == ""


def test_two_tabs_solve_one_exercise_and_it_counts_once(tmp_path):
    tabs = [LearnerRecord(tmp_path) for _ in range(2)]
    for tab in tabs:
        tab.answered("pressure_window", "handle_force", 7, "Pa", "134", True)
    assert [tab.turn("pressure_window", "handle_force") for tab in tabs] == [1, 1]
    assert len(texts(tmp_path)) == 2  # both are kept all the same


@pytest.mark.parametrize("years", [-30, 8000])
def test_a_clock_that_is_wrong_by_years_breaks_neither_order_nor_export(tmp_path, monkeypatch, years):
    wrong = datetime.now(UTC) + timedelta(days=min(365.25 * years, 2_900_000))

    class Wrong(datetime):
        @classmethod
        def now(cls, zone=None):
            return wrong

    record = LearnerRecord(tmp_path)
    record.predicted("pressure_window", "top door", "60", "Pa")
    monkeypatch.setattr(progress, "datetime", Wrong)
    record.predicted("pressure_window", "top door", "90", "Pa")
    monkeypatch.undo()
    record.predicted("pressure_window", "wider leaf", "less", "Pa")
    other = LearnerRecord(tmp_path / "other")
    other.read(record.export(tmp_path / "out.json"))
    assert [event.text for event in other.events()] == ["60", "90", "less"]
    assert other.prediction("pressure_window", "top door") == ("90", "Pa")


def test_a_kernel_that_is_started_anew_goes_on_where_the_old_one_was_killed(tmp_path):
    page = run(TAB, tmp_path, "page", 100_000)
    told = [page.stdout.readline().strip() for _ in range(5)]
    page.kill()
    page.wait()
    anew = LearnerRecord(tmp_path)
    assert anew.turn("pressure_window", "handle_force") >= len(told)
    anew.answered("pressure_window", "handle_force", 10**6, "Pa", "after", True)
    assert texts(tmp_path)[-1] == "after"


def test_a_file_of_100_mb_is_refused_in_a_sentence_and_not_read(tmp_path):
    huge = tmp_path / "huge.json"
    with huge.open("wb") as file:
        file.write(json.dumps({"format": "pressure-loop learner record"}).encode())
        file.truncate(100_000_000)
    record = LearnerRecord(tmp_path / "own")
    record.name = "Ada"
    with pytest.raises(ValueError, match=r"huge.json must be 10000000 bytes at the most, got 100000000: this is no learner's record"):
        record.read(huge)
    assert texts(tmp_path / "own") == ["Ada"]


AT_ONCE = """
import sys, time
from helpers.teaching.record import LearnerRecord
record = LearnerRecord(sys.argv[1])
time.sleep(max(0, float(sys.argv[3]) - time.time()))
for number in range(3):
    record.answered("a", "b", number, "Pa", f"{sys.argv[2]} {number}", True)
    print(number if not record._unkept else "only in memory", flush=True)
"""


@pytest.mark.parametrize("round_", range(2))
def test_pages_that_meet_a_damaged_record_together_keep_the_new_one(tmp_path, round_):
    for number in range(2):
        (tmp_path / str(number)).mkdir()
        (tmp_path / str(number) / "learner.sqlite").write_bytes(b"SQLite format 3\0" + os.urandom(4000))
    go = time.time() + 2.0
    pages = [(number, name, run(AT_ONCE, tmp_path / str(number), name, go)) for number in range(2) for name in "ABC"]
    for number, name, page in pages:
        assert page.communicate()[0].split("\n")[:3] == ["0", "1", "2"], (number, name)
    for number in range(2):
        assert sorted(texts(tmp_path / str(number))) == sorted(f"{name} {turn}" for name in "ABC" for turn in range(3))
        assert [path.name for path in (tmp_path / str(number)).glob("*damaged*.sqlite")] == ["learner-damaged-1.sqlite"]


@pytest.mark.parametrize(
    ("field", "value"), [("item", b"bytes"), ("slip", "s" * 3000), ("lesson", ["a"]), ("system", "x" * 201), ("seed", 10**30)]
)
def test_a_record_takes_nothing_that_it_could_not_give_out_again(tmp_path, field, value):
    record = LearnerRecord(tmp_path)
    with pytest.raises(ValueError, match=f"{field} must be"):
        record.answered(**{"lesson": "a", "item": "b", "seed": 1, "system": "Pa", "text": "x", "good": True, "slip": "", field: value})
    record.answered("a\x07b", "b", 1, "Pa", "x", True)
    assert LearnerRecord(tmp_path / "other").read(record.export(tmp_path / "out.json")) == 1


def test_a_record_that_is_full_says_so_and_still_comes_out(tmp_path, monkeypatch):
    monkeypatch.setattr(progress, "MOST_EVENTS", 5)
    record, other = LearnerRecord(tmp_path), LearnerRecord(tmp_path / "other")
    for number in range(4):
        record.answered("a", "b", number, "Pa", "x", True)
        other.answered("a", "b", number, "Pa", "x", True)
    with pytest.raises(ValueError, match=r"a record must hold 5 entries at the most, got 8 with those of other\.json"):
        record.read(other.export(tmp_path / "other.json"))
    assert len(texts(tmp_path)) == 4
    for number in range(3):
        record.answered("a", "b", number, "Pa", "x", True)
    assert "it holds 5 entries, as many as a record may" in record.trouble
    assert len(texts(tmp_path)) == 5
    assert len(record.events()) == 7


@pytest.mark.parametrize("hostile", ["lists", "empty", "deep", "digits", "keys"])
def test_a_file_that_would_fill_the_memory_is_refused_before_it_is_read(tmp_path, hostile):
    body = {
        "lists": "[" + "[]," * 3_000_000 + "[]]",
        "empty": "[" + '"",' * 3_000_000 + '""]',
        "deep": "[" * 4_000_000,
        "digits": "9" * 9_000_000,
        "keys": "{" + ",".join(f'"{number:x}":1' for number in range(700_000)) + "}",
    }[hostile]
    (tmp_path / "hostile.json").write_text(body)
    begun = time.process_time()  # not of the clock: other programs' work is not ours
    with pytest.raises(ValueError, match=r"hostile\.json is no learner's record"):
        progress.read_export(tmp_path / "hostile.json")
    assert time.process_time() - begun < 15.0  # read as digits it takes minutes, on a slow machine several times as many


@posix
def test_an_export_that_is_killed_leaves_no_half_under_its_name(tmp_path, monkeypatch):
    record = LearnerRecord(tmp_path)
    record.predicted("pressure_window", "top door", "60", "Pa")

    def killed(handle):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", killed)
    with pytest.raises(KeyboardInterrupt):
        record.export(tmp_path / "out.json")
    assert not (tmp_path / "out.json").exists()
    monkeypatch.undo()
    assert len(progress.read_export(record.export(tmp_path / "out.json")).events) == 1


def test_the_folder_of_somebody_who_is_not_there_gets_a_sentence(tmp_path):
    with pytest.raises(ValueError, match="in the folder of a user who is not there"):
        LearnerRecord(tmp_path).export("~nosuchuser/x.json")
    with pytest.raises(ValueError, match="in the folder of a user who is not there"):
        class_table("~nosuchuser/x")
    with pytest.raises(ValueError, match="in the folder of a user who is not there"):
        made_folder("~nosuchuser/x")


def test_a_name_that_turns_the_line_round_is_told_plainly(tmp_path):
    for name in ("\u202egpj.nosj", "a\x07.json", "\u2066x.json"):
        with pytest.raises(ValueError, match=r"\\x") as told:
            progress.read_export(tmp_path / name)
        assert str(told.value).isprintable()
    assert printable("\u202egpj.nosj") == "\ufffdgpj.nosj"
