"""The class table beset: files that are no records, are damaged, too large or no files at all are named and
left out, and the rest goes on."""

import io
import json
import os
import zipfile

import pytest
from simulated_class import CODE, event, export, typed, write

from helpers.classroom.books import class_table_book
from helpers.classroom.table import UNSIGNED, WHOLE, ClassTable, LearnerRow, class_table
from helpers.classroom.teach_again import teach_again
from helpers.lessons import LESSONS
from helpers.teaching.questions import exercise_of
from helpers.teaching.record import LearnerRecord
from helpers.teaching.seeds import seat_of


def spoilt(change):
    body = export([event("name", text="Ada")])
    change(body)
    return json.dumps(body).encode()


HAZARDS = {
    "half.json": (b'{"format": "pressure-loop learner record", "version": 1, "ev', "it is not written as JSON"),
    "picture.json": (b"\x89PNG\r\n\x1a\n\x00\xff", "it is not written as JSON"),
    "empty.json": (b"", "it is not written as JSON"),
    "deep.json": (b"[" * 200_000, "it is not written as JSON"),
    "deep object.json": (b'{"a":' * 200_000, "it is not written as JSON"),
    "other.json": (b'{"orders": [1, 2]}', "no learner's record of this workbook"),
    "old.json": (spoilt(lambda body: body.update(version=0)), "is of version 0; this workbook reads version 1"),
    "older.json": (spoilt(lambda body: body.pop("version")), "is of version None; this workbook reads version 1"),
    "yes.json": (spoilt(lambda body: body.update(version=True)), "is of version True; this workbook reads version 1"),
    "twice.json": (b'{"format": "a", "format": "pressure-loop learner record"}', "it says 'format' twice"),
    "nan.json": (b'{"format": "pressure-loop learner record", "version": NaN}', "it holds NaN, which is no number"),
    "infinite.json": (b'{"format": -Infinity}', "it holds -Infinity, which is no number"),
    "bell.json": (
        spoilt(lambda body: body["events"][0].update(text="A\x07da")),
        "event 1: text must be letters that can be kept, got a control character",
    ),
    "raw bell.json": (b'{"format": "A\x07"}', "it is not written as JSON"),
    "surrogate.json": (spoilt(lambda body: body["events"][0].update(text="\ud83d")), "half a sign"),
    "seatless.json": (spoilt(lambda body: body.update(seat=[7])), "its seat is not one of a class"),
    "seat as text.json": (spoilt(lambda body: body.update(seat={"class": "A", "number": "7"})), "its seat is not one of a class"),
    "signature as number.json": (spoilt(lambda body: body.update(signature=7)), "its seat is not one of a class"),
    "more.json": (spoilt(lambda body: body.update(more=json.loads("[" * 900 + "]" * 900))), "'more' is no part of a record"),
    "seat event.json": (spoilt(lambda body: body["events"][0].update(kind="seat")), "damaged: event 1"),
    "endless.json": (spoilt(lambda body: body.update(events=body["events"] * 20_001)), "20000 entries at the most"),
    "notes.txt": (b"bring chalk", "those end in .json"),
}


@pytest.fixture(scope="module")
def beset(tmp_path_factory):
    """The table of a folder with one good record and everything that can go wrong."""
    folder = tmp_path_factory.mktemp("beset")
    for name, (content, _) in HAZARDS.items():
        (folder / name).write_bytes(content)
    write(folder, "good.json", export([event("name", text="Ada")]))
    with (folder / "huge.json").open("wb") as file:
        file.truncate(100_000_000)
    (folder / "sub.json").mkdir()
    write(folder / "sub.json", "inside.json", export([event("name", text="Inside")]))
    (folder / "link.json").symlink_to(folder / "good.json")
    (folder / "dangling.json").symlink_to(folder / "nowhere")
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe.json")
    return class_table(folder, CODE)


def test_the_rest_goes_on(beset):
    assert [row.name for row in beset.rows] == ["Ada"]


@pytest.mark.parametrize("name", HAZARDS)
def test_a_file_that_cannot_be_used_is_named_with_one_sentence(beset, name):
    (left,) = [one for one in beset.left_out if one.file == name]
    assert left.why.startswith(name)
    assert HAZARDS[name][1] in left.why
    assert "\n" not in left.why


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("huge.json", "must be 10000000 bytes at the most, got 100000000"),
        ("sub.json", "is a folder"),
        ("link.json", "is a link to another place, and is not followed"),
        ("dangling.json", "is a link to another place, and is not followed"),
        pytest.param("pipe.json", "is no ordinary file", marks=pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")),
    ],
)
def test_what_is_no_file_or_too_large_is_never_opened(beset, name, sentence):
    assert [sentence in one.why for one in beset.left_out if one.file == name] == [True]


@pytest.mark.skipif(os.name != "posix", reason="file names of any bytes are another matter there")
def test_a_file_name_of_strange_bytes_is_shown_and_breaks_nothing(tmp_path):
    (tmp_path / os.fsdecode(b"\xff\xfe\n\x1b[31m.json")).write_bytes(b"x")
    (left,) = class_table(tmp_path).left_out
    assert left.why.isprintable()
    assert class_table_book(class_table(tmp_path)).startswith(b"PK")


def test_a_folder_that_is_none_gets_a_sentence(tmp_path):
    with pytest.raises(ValueError, match="folder 'nowhere' cannot be read"):
        class_table(tmp_path / "nowhere")


def test_an_empty_folder_is_an_empty_table(tmp_path):
    table = class_table(tmp_path, CODE)
    assert (table.rows, table.left_out) == ((), ())
    assert teach_again(table) == ("Nothing that several learners got wrong: go on.",)
    assert class_table_book(table).startswith(b"PK")


# From the learner's own record


def test_a_learner_at_a_seat_exports_a_record_that_the_table_finds_whole(tmp_path):
    record, seat = LearnerRecord(tmp_path / "own"), seat_of(CODE, 7)
    record.name = "Ada"
    record.seat = seat
    exercise = exercise_of(LESSONS.of("pressure_window").makers[1], record.seed("pressure_window", "handle_force", 0))
    record.answered("pressure_window", "handle_force", exercise.seed, "Pa", typed(exercise, exercise.answer.value), True)
    (tmp_path / "in").mkdir()
    file = record.export(tmp_path / "in" / "ada.json")
    row = class_table(tmp_path / "in", CODE).rows[0]
    assert (row.name, row.seat, row.state, row.at_once) == ("Ada", 7, WHOLE, {("pressure_window", "handle_force")})
    assert seat.secret not in file.read_text(encoding="utf-8")
    assert LearnerRecord(tmp_path / "copy").read(file) == 2  # a name and an answer: a seat is taken anew on another machine
    record.seat = None
    assert '"signature"' not in record.export(tmp_path / "in" / "later.json").read_text(encoding="utf-8")


def test_a_disk_that_is_full_leaves_no_half_export(tmp_path, monkeypatch):
    record = LearnerRecord(tmp_path / "own")
    record.name = "Ada"

    def full(handle):
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ValueError, match=r"ada\.json cannot be written: No space left"):
        record.export(tmp_path / "ada.json")
    assert not (tmp_path / "ada.json").exists()
    assert record.name == "Ada"


def test_a_name_written_in_figures_stays_the_letters_that_it_is():
    """ECMA-376 lets "_x003D_" stand for "=": whoever edits such a cell would make a formula of it."""
    table = ClassTable("", (LearnerRow("a.json", "_x003D_1+1", None, UNSIGNED, (), ()),), ())
    with zipfile.ZipFile(io.BytesIO(class_table_book(table))) as book:
        inside = b"".join(book.read(name) for name in book.namelist())
    assert b"_x005F_x003D_1+1" in inside
    assert b">_x003D_" not in inside
