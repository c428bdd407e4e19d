"""The learner's standing: what is done and what comes next, a name, and no path before it is asked for."""

import pytest

from helpers.lessons import LESSONS
from helpers.pages.progress import ProgressView
from helpers.teaching.plan import FURTHER_PAGES
from helpers.teaching.record import LearnerRecord, comes_next


@pytest.fixture
def record(tmp_path):
    return LearnerRecord(tmp_path / "own")


def do(record, key):
    """All a lesson asks for."""
    predictions, exercises = LESSONS.asked()[key]
    for name in predictions:
        record.predicted(key, name, "x", "Pa")
    for name in exercises:
        record.answered(key, name, 1, "Pa", "x", True)


def next_of(record):
    return comes_next(record.standing(LESSONS.asked()))


def test_an_empty_record_begins_with_the_first_lesson(record):
    view = ProgressView(record)
    assert "Next: 01 The pressure window, about 100 minutes." in view.words
    assert view.words.count("▶ next") == 1
    assert "done" not in view.words


def test_what_comes_next_builds_on_what_is_done(record):
    order = []
    while (key := next_of(record)) is not None:
        order.append(key)
        do(record, key)
    assert order == [one.key for one in LESSONS]
    view = ProgressView(record)
    assert view.words.count("✔ done") == len(LESSONS)
    assert "All lessons are done" in view.words


def test_a_lesson_that_was_left_out_comes_before_those_that_build_on_it(record):
    for key in ("pressure_window", "transmitter_range", "scaling_the_signal", "reverse_or_direct"):
        do(record, key)
    assert next_of(record) == "leakage_and_fan_duty"
    do(record, "tuning_and_door_events")  # done early: what it builds on is asked for all the same
    assert next_of(record) == "leakage_and_fan_duty"


def test_a_lesson_half_done_is_begun_and_still_the_next(record):
    record.predicted("pressure_window", LESSONS.asked()["pressure_window"][0][0], "x", "Pa")
    row = ProgressView(record).words.splitlines()[0]
    assert row == "01 The pressure window: 100 min, 1 of 2, 0 of 6, ▶ next, ● begun"


def test_the_view_follows_what_happens_on_this_page_and_on_others(record, tmp_path):
    view = ProgressView(record)
    do(record, "pressure_window")
    assert "✔ done" in view.table.value
    other = LearnerRecord(tmp_path / "own")
    do(other, "leakage_and_fan_duty")
    assert view.table.value.count("✔ done") == 1
    view.look_button.click()
    assert view.table.value.count("✔ done") == 2


def test_the_path_is_shown_only_when_it_is_asked_for(record):
    view = ProgressView(record)
    stored = view._repr_mimebundle_()
    assert str(record.path.parent) not in f"{stored['text/html']}{stored['text/plain']}{view.place.value}{view.told.value}"
    view.place_button.click()
    assert str(record.path) in view.place.value
    view.place_button.click()
    assert view.place.value == ""


@pytest.mark.parametrize("name", ["Ada", "山田 花子", "<b>O'Brien</b>"])
def test_a_name_is_kept_and_shown_as_text(record, name):
    view = ProgressView(record)
    view.name.value = name
    assert record.name == name
    assert "<b>O'Brien" not in view.told.value
    assert ProgressView(record).name.value == name


def test_a_name_without_end_gets_a_sentence(record):
    view = ProgressView(record)
    view.name.value = "x" * 2001
    assert "2000 letters at the most" in view.told.value
    assert record.name == ""


def test_a_record_goes_out_and_comes_in_by_a_typed_path(record, tmp_path):
    do(record, "pressure_window")
    view, other = ProgressView(record), ProgressView(LearnerRecord(tmp_path / "other"))
    view.file.value = other.file.value = str(tmp_path / "ada.json")
    view.export_button.click()
    assert "Written: ada.json, 8 entries" in view.told.value
    other.import_button.click()
    assert "8 entries are new" in other.told.value
    assert "✔ done" in other.table.value


def test_trouble_with_a_file_gets_a_sentence(record, tmp_path):
    view = ProgressView(record)
    view.import_button.click()
    assert "Type the path of a file first" in view.told.value
    view.file.value = str(tmp_path / "missing.json")
    view.import_button.click()
    assert "missing.json cannot be read" in view.told.value
    (tmp_path / "site.toml").write_text("precious")
    view.file.value = str(tmp_path / "site.toml")
    view.export_button.click()
    assert "NOT USED" in view.told.value
    assert (tmp_path / "site.toml").read_text() == "precious"


def test_a_damaged_record_is_told_at_once(tmp_path):
    (tmp_path / "learner.sqlite").write_bytes(b"no database " * 100)
    assert "learner-damaged-1.sqlite" in ProgressView(LearnerRecord(tmp_path)).told.value


def test_every_page_of_the_table_has_its_minutes_and_a_link(record):
    html = ProgressView(record)._repr_mimebundle_()["text/html"]
    for page in (*LESSONS, *FURTHER_PAGES):
        assert f'href="{page.notebook}"' in html
        assert f">{page.minutes_alone}</td>" in html
