"""A file that must be new: of two that write it at one moment one alone has it, on every file system."""

import os
import threading
import tomllib

import pytest

from helpers.model import files
from helpers.model.files import write_new


def without_links(*_):
    raise PermissionError(1, "Operation not permitted")


@pytest.mark.parametrize("linked", [True, False])
def test_of_many_that_write_one_new_file_one_alone_has_it(linked, tmp_path, monkeypatch):
    if not linked:
        monkeypatch.setattr(os, "link", without_links)
    written, refused = [], []

    def write(text):
        try:
            write_new(tmp_path / "a.toml", text)
            written.append(text)
        except FileExistsError:
            refused.append(text)

    writers = [threading.Thread(target=write, args=(f"{number}".encode() * 4000,)) for number in range(8)]
    for one in writers:
        one.start()
    for one in writers:
        one.join()
    assert (len(written), len(refused)) == (1, 7)
    assert (tmp_path / "a.toml").read_bytes() == written[0]
    assert [path.name for path in tmp_path.iterdir()] == ["a.toml"]


def test_where_the_system_has_no_call_for_links_a_new_file_is_written_all_the_same(tmp_path, monkeypatch):
    monkeypatch.delattr(os, "link")
    write_new(tmp_path / "a.toml", b"mine")
    assert (tmp_path / "a.toml").read_bytes() == b"mine"
    with pytest.raises(FileExistsError):
        write_new(tmp_path / "a.toml", b"another's")


def test_a_file_that_another_writes_at_the_last_moment_stays_where_there_are_no_links(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    looked = os.path.lexists

    def written_since(asked):
        there = looked(asked)
        if not there:
            path.write_bytes(b"another's")  # straight after the look
        return there

    monkeypatch.setattr(os, "link", without_links)
    monkeypatch.setattr(files.os.path, "lexists", written_since)
    with pytest.raises(FileExistsError):
        write_new(path, b"mine")
    assert path.read_bytes() == b"another's"


def test_where_the_last_step_fails_no_empty_file_is_left(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "link", without_links)
    monkeypatch.setattr(os, "replace", without_links)
    with pytest.raises(OSError, match="not permitted"):
        write_new(tmp_path / "a.toml", b"mine")
    assert not list(tmp_path.iterdir())


def test_the_words_of_a_file_are_the_callers_own_and_those_of_the_file():
    for path in sorted((files.Path(files.__file__).parents[2] / "data" / "texts").glob("*.toml")):
        told = files.texts(path.stem)
        assert told == tomllib.loads(path.read_text(encoding="utf-8"))
        told.clear()
        assert files.texts(path.stem)
