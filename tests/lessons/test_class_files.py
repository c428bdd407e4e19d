"""Files of a class: names that no system stumbles over, and writing that breaks off leaves what was there."""

import errno
import os
import signal
import subprocess
import sys
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model.files import free_path, made_folder, safe_name, write_whole


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(max_size=300))
def test_a_file_name_of_any_name_is_safe(name):
    safe = safe_name(name)
    assert 0 < len(safe.encode("utf-8")) <= 101
    assert all(sign == "_" or unicodedata.category(sign)[0] in "LMN" for sign in safe)
    assert not safe.startswith("_")


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("عائشة", "عائشة"),
        ("देवनागरी", "देवनागरी"),
        ("山田 花子", "山田_花子"),
        ("A\u0301da", "Áda"),
        ("..\\..\\boot.ini", "boot_ini"),
        ("/etc/passwd", "etc_passwd"),
        ("NUL", "NUL_"),
        ("com¹", "com¹_"),
        ("aux.txt", "aux_txt"),
        ("\u202egpj.exe", "gpj_exe"),
        ("\U0001f6aa", "no_name"),
        ("", "no_name"),
        ("a\x00b", "a_b"),
        ("x" * 3000, "x" * 40),
        ("\u0301", "no_name"),
    ],
)
def test_letters_of_every_script_stay_and_nothing_else(name, kept):
    assert safe_name(name) == kept


def test_a_full_disk_leaves_the_old_file_and_no_half_one(tmp_path, monkeypatch):
    file = write_whole(tmp_path / "key.html", "old")

    def full(handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ValueError, match=r"key.html could not be written: the disk is full. What was there before is as it was."):
        write_whole(file, "new")
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [("key.html", "old")]


def test_a_place_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(ValueError, match=r"key.html could not be written"):
        write_whole(tmp_path / "file" / "key.html", "new")
    with pytest.raises(ValueError, match="folder 'sub' cannot be made"):
        made_folder(tmp_path / "file" / "sub")


def test_a_file_somebody_has_written_into_is_not_written_over(tmp_path):
    names = [write_whole(free_path(tmp_path / "marks.xlsx"), b"x").name for _ in range(3)]
    assert names == ["marks.xlsx", "marks_2.xlsx", "marks_3.xlsx"]


WRITES = """
import sys
from helpers.model.files import write_whole
for number in range(100_000):
    write_whole(sys.argv[1], f"{number} " * 20_000)
    print(number, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no kill -9")
def test_a_file_whose_writing_was_killed_is_whole_and_what_was_left_is_swept(tmp_path):
    path = tmp_path / "page.html"
    for _ in range(4):
        writer = subprocess.Popen([sys.executable, "-c", WRITES, str(path)], stdout=subprocess.PIPE, text=True)
        for _ in range(5):
            writer.stdout.readline()
        writer.kill()
        last = int((writer.communicate()[0].splitlines() or ["0"])[-1] or 0)
        parts = path.read_text().split()
        assert len(parts) == 20_000
        assert len(set(parts)) == 1
        assert int(parts[0]) >= last - 1
    (tmp_path / ".writing-1-old.part").write_text("half")
    os.utime(tmp_path / ".writing-1-old.part", (0, 0))
    write_whole(path, "new")
    assert not (tmp_path / ".writing-1-old.part").exists()


def test_a_disk_that_fills_while_a_file_is_written_leaves_the_one_before(tmp_path, monkeypatch):
    path = write_whole(tmp_path / "page.html", "before")

    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ValueError, match=r"page\.html could not be written: the disk is full\. What was there before is as it was\."):
        write_whole(path, "after")
    assert [one.name for one in tmp_path.iterdir()] == ["page.html"]
    assert path.read_text() == "before"
