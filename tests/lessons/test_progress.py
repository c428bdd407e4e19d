"""The learner's record: what was acknowledged is there after any kill, nothing of it is ever deleted, and trouble never stops a lesson."""

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from helpers.teaching import record as progress
from helpers.teaching.plan import LESSONS
from helpers.teaching.record import LearnerRecord, learner_record

LEARNER = """
import sys
from helpers.teaching.record import LearnerRecord
record = LearnerRecord(sys.argv[1])
for number in range(100000):
    record.answered("pressure_window", "handle_force", number, "Pa", str(number), True)
    print(record.trouble or number, flush=True)
"""
KILLS = 20
NAMES = ["Ada", "José Ñandú", "山田 花子", "Ελένη", "عائشة", "'; DROP TABLE events; --", "\U0001f6aa Tür", "O'Brien"]


def learner(folder):
    return subprocess.Popen([sys.executable, "-c", LEARNER, str(folder)], stdout=subprocess.PIPE, text=True)


def texts(folder):
    return [event.text for event in LearnerRecord(folder).events()]


@pytest.fixture
def record(tmp_path):
    record = LearnerRecord(tmp_path / "own")
    record.name = "Ada"
    record.predicted("pressure_window", "top door", "60", "Pa")
    record.answered("pressure_window", "handle_force", 7, "in. w.c.", "21.4", False, "no closer")
    record.answered("pressure_window", "handle_force", 7, "in. w.c.", "30.1", True)
    return record


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
def test_every_answer_that_was_acknowledged_is_there_after_a_kill(tmp_path):
    draw = random.Random(4)
    for turn in range(KILLS // 4):
        folders = [tmp_path / f"{turn}-{number}" for number in range(4)]
        running = [learner(folder) for folder in folders]
        first = [process.stdout.readline() for process in running]
        time.sleep(draw.uniform(0.0, 0.1))
        for process in running:
            process.kill()
        for process, folder, line in zip(running, folders, first, strict=True):
            said = [text for text in [line.strip(), *process.stdout.read().splitlines()[:-1]] if text]
            process.wait()
            kept = texts(folder)
            assert said
            assert kept[: len(said)] == said
            assert len(kept) <= len(said) + 2  # the last may be on the disk and not yet said, or said in part
            assert LearnerRecord(folder).trouble == ""


def test_two_notebooks_at_once_lose_nothing(tmp_path):
    code = LEARNER.replace("100000", "40")
    running = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, text=True) for _ in range(2)]
    assert [process.communicate()[0].split() for process in running] == [[str(number) for number in range(40)]] * 2
    assert sorted(texts(tmp_path), key=int) == [str(number) for number in range(40) for _ in range(2)]


def test_many_threads_of_one_page_lose_nothing(tmp_path):
    record = LearnerRecord(tmp_path)
    with ThreadPoolExecutor(8) as threads:
        list(threads.map(lambda number: record.predicted("pressure_window", str(number), "x", "Pa"), range(60)))
    assert {event.item for event in LearnerRecord(tmp_path).events()} == {str(number) for number in range(60)}


def test_another_page_sees_what_this_one_kept(record, tmp_path):
    other = LearnerRecord(tmp_path / "own")
    assert other.events() == record.events()
    assert other.name == "Ada"
    assert other.prediction("pressure_window", "top door") == ("60", "Pa")
    assert other.prediction("pressure_window", "wider leaf") is None
    answers = [(event.kind, event.good, event.slip) for event in other.events()][2:]
    assert answers == [("answered", False, "no closer"), ("answered", True, "")]


def test_nothing_is_written_before_something_happens(tmp_path):
    record = LearnerRecord(tmp_path / "new")
    assert (record.events(), record.name, record.turn("pressure_window", "handle_force")) == ([], "", 0)
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("name", NAMES)
def test_a_name_in_any_script_is_kept_as_it_is(tmp_path, name):
    record = LearnerRecord(tmp_path)
    record.name = f"  {name} "
    record.predicted("pressure_window", "top door", "1", "Pa")
    copy = LearnerRecord(tmp_path / "copy")
    copy.read(record.export(tmp_path / "out.json"))
    assert LearnerRecord(tmp_path).name == copy.name == name


def test_half_a_sign_of_two_does_not_stop_the_lesson(tmp_path):
    record = LearnerRecord(tmp_path)
    record.name = "Ada \ud83d"
    assert LearnerRecord(tmp_path).name == "Ada ?"


def test_the_last_name_and_the_last_prediction_count_and_earlier_ones_are_kept(record):
    record.name = "Grace"
    record.predicted("pressure_window", "top door", "0.2", "in. w.c.")
    assert record.name == "Grace"
    assert record.prediction("pressure_window", "top door") == ("0.2", "in. w.c.")
    assert [event.text for event in record.events() if event.kind != "answered"] == ["Ada", "60", "Grace", "0.2"]


def test_a_clock_that_was_put_back_does_not_break_the_order(record, monkeypatch):
    class Earlier(datetime):
        @classmethod
        def now(cls, zone=None):
            return datetime.now(UTC) - timedelta(days=4000)

    monkeypatch.setattr(progress, "datetime", Earlier)
    record.predicted("pressure_window", "top door", "90", "Pa")
    assert record.events()[-1].text == "90"
    assert record.events()[-1].at < record.events()[0].at
    assert record.prediction("pressure_window", "top door") == ("90", "Pa")


def test_each_solved_set_of_numbers_is_one_turn(record):
    assert record.turn("pressure_window", "handle_force") == 1
    record.answered("pressure_window", "handle_force", 7, "Pa", "134", True)  # the same numbers once more
    assert record.turn("pressure_window", "handle_force") == 1
    record.answered("pressure_window", "handle_force", 8, "Pa", "101", True)
    record.answered("pressure_window", "handle_force", 9, "Pa", "1", False)
    assert record.turn("pressure_window", "handle_force") == 2


def test_a_lesson_is_done_when_all_is_predicted_and_solved(record):
    asked = {"pressure_window": (("top door",), ("handle_force", "most_borne"))}
    first = record.standing(asked)[0]
    assert (first.predicted, first.solved, first.begun, first.done) == (1, 1, True, False)
    record.answered("pressure_window", "most_borne", 1, "Pa", "60", True)
    standing = record.standing(asked)
    assert standing[0].done
    assert [one.key for one in standing] == [one.key for one in LESSONS]
    assert not any(one.begun or one.done for one in standing[1:])


def test_a_wrong_answer_solves_nothing(tmp_path):
    record = LearnerRecord(tmp_path)
    record.answered("pressure_window", "handle_force", 1, "Pa", "3", False)
    assert not record.standing({"pressure_window": ((), ("handle_force",))})[0].begun


def test_listeners_hear_of_everything(record):
    heard = []
    record.listen(lambda: heard.append(len(record.events())))
    record.name = "Grace"
    record.predicted("pressure_window", "top door", "1", "Pa")
    assert heard == [5, 6]


def test_a_text_without_end_is_refused(record):
    with pytest.raises(ValueError, match="text must be 2000 letters at the most, got 2001"):
        record.predicted("pressure_window", "top door", "x" * 2001, "Pa")


# Trouble


def test_a_damaged_file_is_set_aside_and_a_new_one_begun(tmp_path):
    (tmp_path / "learner.sqlite").write_bytes(b"no database at all, " * 100)
    record = LearnerRecord(tmp_path)
    assert record.events() == []
    assert "was damaged" in record.trouble
    assert "learner-damaged-1.sqlite" in record.trouble
    record.predicted("pressure_window", "top door", "60", "Pa")
    assert "learner-damaged-1.sqlite" in record.trouble  # said as long as the page is open
    assert texts(tmp_path) == ["60"]
    assert (tmp_path / "learner-damaged-1.sqlite").read_bytes() == b"no database at all, " * 100


def test_a_second_damage_does_not_overwrite_the_first(tmp_path):
    for number in (b"first ", b"second "):
        (tmp_path / "learner.sqlite").write_bytes(number * 200)
        LearnerRecord(tmp_path).name = "Ada"
    assert [(tmp_path / f"learner-damaged-{number}.sqlite").read_bytes()[:6] for number in (1, 2)] == [b"first ", b"second"]


def test_a_file_broken_in_its_middle_is_set_aside_as_it_is(tmp_path):
    record = LearnerRecord(tmp_path)
    for number in range(200):
        record.predicted("pressure_window", str(number), "x" * 100, "Pa")
    whole = bytearray(record.path.read_bytes())
    whole[4096 : len(whole) - 4096] = b"\xff" * (len(whole) - 8192)
    record.path.write_bytes(whole)
    record.predicted("pressure_window", "after", "y", "Pa")
    assert [event.text for event in record.events()][-1:] in ([], ["y"])
    record.predicted("pressure_window", "after all", "z", "Pa")
    assert "set aside" in record.trouble
    assert texts(tmp_path)[-1] == "z"
    assert list(tmp_path.glob("learner-damaged-1.sqlite"))


def test_the_journal_of_a_damaged_file_is_not_taken_for_the_new_ones(tmp_path):
    (tmp_path / "learner.sqlite").write_bytes(b"broken")
    (tmp_path / "learner.sqlite-journal").write_bytes(b"left over")
    assert LearnerRecord(tmp_path).file.set_aside() == tmp_path / "learner-damaged-1.sqlite"
    kept = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert kept == {"learner-damaged-1.sqlite": b"broken", "learner-damaged-1.sqlite-journal": b"left over"}


def test_a_place_that_cannot_be_written_gets_a_sentence_and_the_lesson_goes_on(tmp_path):
    (tmp_path / "file").write_text("x")
    record = LearnerRecord(tmp_path / "file")
    record.name = "Ada"
    record.predicted("pressure_window", "top door", "60", "Pa")
    assert "could not be kept" in record.trouble
    assert "only until this page is closed" in record.trouble
    assert record.name == "Ada"
    assert record.prediction("pressure_window", "top door") == ("60", "Pa")


def test_what_was_in_memory_is_kept_as_soon_as_it_can_be(tmp_path):
    (tmp_path / "place").write_text("x")
    record = LearnerRecord(tmp_path / "place")
    record.name = "Ada"
    (tmp_path / "place").unlink()
    record.predicted("pressure_window", "top door", "60", "Pa")
    assert record.trouble == ""
    assert texts(tmp_path / "place") == ["Ada", "60"]


@pytest.mark.skipif(os.name != "posix", reason="permissions of files are another matter there")
def test_a_file_that_may_only_be_read_is_read_and_left_alone(tmp_path, monkeypatch):
    record = LearnerRecord(tmp_path)
    record.name = "Ada"
    before = record.path.read_bytes()
    connect = sqlite3.connect  # opened as SQLite opens a file whose permissions forbid writing; permissions themselves do not bind root
    monkeypatch.setattr(sqlite3, "connect", lambda path, **more: connect(f"file:{path}?mode=ro", uri=True, **more))
    record.predicted("pressure_window", "top door", "60", "Pa")
    assert "readonly" in record.trouble
    assert [event.text for event in record.events()] == ["Ada", "60"]
    assert record.path.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["learner.sqlite"]


def test_a_file_that_another_program_holds_is_no_damage(tmp_path, monkeypatch):
    monkeypatch.setattr("helpers.teaching.store.WAIT_S", 0.05)
    record = LearnerRecord(tmp_path)
    record.name = "Ada"
    other = sqlite3.connect(record.path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    record.predicted("pressure_window", "top door", "60", "Pa")
    assert "locked" in record.trouble
    assert [path.name for path in tmp_path.glob("*damaged*")] == []
    other.execute("COMMIT")
    other.close()
    record.predicted("pressure_window", "wider leaf", "less", "Pa")
    assert texts(tmp_path) == ["Ada", "60", "less"]


# To another machine


def test_a_record_goes_to_another_machine_and_back(record, tmp_path):
    file = record.export(tmp_path / "ada.json")
    other = LearnerRecord(tmp_path / "other")
    assert other.read(file) == 4
    assert other.events() == record.events()
    other.answered("pressure_window", "most_borne", 1, "Pa", "60", True)
    assert record.read(other.export(tmp_path / "back.json")) == 1
    assert record.events() == other.events()


def test_a_record_read_twice_adds_nothing_twice(record, tmp_path):
    file = record.export(tmp_path / "ada.json")
    assert record.read(file) == 0
    other = LearnerRecord(tmp_path / "other")
    assert [other.read(file), other.read(file)] == [4, 0]


def test_an_export_never_overwrites_a_file(record, tmp_path):
    (tmp_path / "site.toml").write_text("precious")
    with pytest.raises(ValueError, match=r"path must be that of a new file; site.toml cannot be written"):
        record.export(tmp_path / "site.toml")
    assert (tmp_path / "site.toml").read_text() == "precious"
    with pytest.raises(ValueError, match="path must be that of a new file"):
        record.export(tmp_path / "no such folder" / "ada.json")


def changed(tmp_path, record, change):
    body = json.loads(record.export(tmp_path / "out.json").read_text(encoding="utf-8"))
    change(body)
    (tmp_path / "bad.json").write_text(json.dumps(body))
    return tmp_path / "bad.json"


DAMAGE = {
    "another format": (lambda body: body.update(format="a shopping list"), "no learner's record of this workbook"),
    "a later version": (lambda body: body.update(version=2), "is of version 2; this workbook reads version 1"),
    "no events": (lambda body: body.pop("events"), "no learner's record"),
    "an event of another kind": (lambda body: body["events"][1].update(kind="fired"), "event 2: kind must be one of name, .*, got 'fired'"),
    "a field missing": (lambda body: body["events"][2].pop("slip"), "damaged: event 3 must have uid, .*; got 'uid'"),
    "a field too many": (lambda body: body["events"][0].update(more=1), "damaged: event 1 must have .*, 'more'"),
    "a number as a text": (lambda body: body["events"][2].update(text=21.4), "event 3: text must be 2000 letters at the most, got 21.4"),
    "a seed as yes": (lambda body: body["events"][2].update(seed=True), "damaged: event 3: seed must be a whole number below .*, got True"),
    "a seed no file can hold": (lambda body: body["events"][2].update(seed=2**63), "event 3: seed must be .*, got 9223372036854775808"),
    "a text without end": (lambda body: body["events"][1].update(text="x" * 2001), "event 2: text must be 2000 .*, got 2001"),
    "half a sign": (lambda body: body["events"][1].update(text="\ud83d"), "half a sign"),
    "no event at all": (lambda body: body["events"].append(None), "damaged: event 5 must have .*; got None"),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_export_is_refused_and_nothing_of_it_is_added(record, tmp_path, name):
    change, sentence = DAMAGE[name]
    file, other = changed(tmp_path, record, change), LearnerRecord(tmp_path / "other")
    with pytest.raises(ValueError, match=sentence):
        other.read(file)
    assert other.events() == []


FOREIGN = {
    "a picture": b"\x89PNG\r\n\x1a\n\x00\xff",
    "half a file": b'{"format": "pressure-loop learner record", "version": 1, "events": [{"uid"',
    "nothing": b"",
    "a list": b"[]",
    "brackets without end": b"[" * 100_000,
    "a number without end": b"9" * 5000,
}


@pytest.mark.parametrize("name", FOREIGN)
def test_a_foreign_file_is_refused_by_a_sentence(tmp_path, name):
    (tmp_path / "given.json").write_bytes(FOREIGN[name])
    with pytest.raises(ValueError, match=r"given.json is no learner's record"):
        LearnerRecord(tmp_path / "own").read(tmp_path / "given.json")


def test_a_huge_file_is_refused_unread(tmp_path):
    with (tmp_path / "huge.json").open("wb") as file:
        file.truncate(50_000_000_000)  # a hole: takes no room on the disk, but would take all memory
    with pytest.raises(ValueError, match=r"huge.json must be 10000000 bytes at the most"):
        LearnerRecord(tmp_path / "own").read(tmp_path / "huge.json")


def test_a_file_that_is_not_there_is_named(tmp_path):
    for path, why in ((tmp_path / "missing.json", "cannot be read"), (tmp_path, "is a folder")):
        with pytest.raises(ValueError, match=f"{path.name} {why}"):
            LearnerRecord(tmp_path / "own").read(path)


def test_a_page_has_one_record_for_each_folder():
    assert learner_record() is learner_record()
    assert str(learner_record().path).startswith(os.environ["PRESSURE_LOOP_RECORDS"])
