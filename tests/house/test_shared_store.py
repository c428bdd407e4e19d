"""What one worker makes the others get; alone nothing is written; what could not be made is tried again."""

import os
from pathlib import Path

import pytest
import shared_store
from demo_designs import site_of
from shared_store import FOLDER_VARIABLE, WORKERS_VARIABLE, made_once

from helpers.record.design import Design


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A store of this test's own, as two workers see it."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    monkeypatch.setenv(WORKERS_VARIABLE, "2")
    return tmp_path


def never():
    raise AssertionError("made once more")


def test_it_is_made_once_and_comes_back_the_same(folder):
    made = made_once(lambda: {"figure": 0.1}, "study", "of a site")
    assert made_once(never, "study", "of a site") == made
    assert made_once(lambda: 2, "study", "of another site") == 2


def test_without_workers_it_is_made_each_time_and_nothing_is_written(folder, monkeypatch):
    monkeypatch.delenv(WORKERS_VARIABLE)
    assert [made_once(lambda one=one: one, "study") for one in (1, 2)] == [1, 2]
    assert list(folder.iterdir()) == []


def test_what_was_made_with_other_helpers_is_not_read(folder, monkeypatch):
    assert made_once(lambda: "old", "study") == "old"
    monkeypatch.setattr(shared_store, "_made_with", lambda: "another letter")
    assert made_once(lambda: "new", "study") == "new"


def test_what_could_not_be_made_tells_why_and_is_tried_by_the_next(folder):
    with pytest.raises(AssertionError, match="made once more"):
        made_once(never, "study")
    assert made_once(lambda: 1, "study") == 1
    assert len(list(folder.iterdir())) == 1


def test_who_asks_while_another_makes_it_waits_and_makes_it_only_when_that_takes_too_long(folder, monkeypatch):
    monkeypatch.setattr(shared_store, "LONGEST_S", 0.2)
    made_once(lambda: 1, "study")
    (done,) = folder.iterdir()
    done.rename(done.with_suffix(".begun"))
    assert made_once(lambda: 2, "study") == 2


def test_the_folder_of_a_run_is_one_for_all_of_its_processes():
    assert Path(os.environ[FOLDER_VARIABLE]).is_dir()


def test_a_design_that_has_gone_round_says_what_it_said(folder):
    design = Design(site_of("Tannery Row"))
    assert design.window.feasible  # a study of it is made
    made_once(lambda: design, "design")
    again = made_once(never, "design")
    assert design.section("window") == again.section("window")
    assert again.window._repr_mimebundle_() == design.window._repr_mimebundle_()
