"""A sheet that is filled in on site: what is no number is refused where it stands, the other rows go on, nothing is forgotten."""

import os
import re
import sqlite3

import pytest

from helpers.plots.markup import Verdict
from helpers.teaching import store
from helpers.widgets.controls import UNITS
from helpers.widgets.sliders import quantity_typed
from helpers.widgets.typed_sheet import WHOLE_WIDTH, WORDS_PX, TypedSheet

ROWS = {"one": ("1", {"field": "door 1 Pa", "dimension": "pressure"}), "two": ("2", {"field": "door 2 Pa", "dimension": "pressure"})}
MOST_PA = 60.0


def judge(values, row):
    value = values[ROWS[row][1]["field"]]
    if value == 13.0:
        raise ZeroDivisionError("no such door")
    return ("wrong", "too much") if value is not None and value > MOST_PA else ("good", "in order")


def whole(values):
    numbers = [value for value in values.values() if isinstance(value, float)]
    if 13.0 in numbers:
        raise ValueError("no such door")
    return Verdict("wrong", "Too much.") if any(value > MOST_PA for value in numbers) else Verdict("good", "All in order.")


@pytest.fixture
def sheet(tmp_path):
    UNITS.system = "Pa"
    return TypedSheet("acceptance", [("a", 9), ("b", 9)], ROWS, judge, whole, tmp_path)


def said(sheet):
    return re.sub("<[^>]+>", "", sheet.line.widget.value)


@pytest.mark.parametrize("text", ["nan", "NaN", "inf", "-inf", "infinity", "1e400", "-1e400", "nan Pa", "1e400 Pa", "−inf"])
def test_what_no_instrument_shows_is_no_pressure(text):
    with pytest.raises(ValueError, match="p must be a"):
        quantity_typed(text, "pressure", "Pa", "p")


@pytest.mark.parametrize("text", ["nan", "inf", "1e400"])
def test_a_number_that_is_none_stops_no_other_row(sheet, text):
    sheet.type("door 2 Pa", "30")
    sheet.type("door 1 Pa", text)
    assert "must be a number that an instrument can show" in sheet.verdicts["one"].value
    sheet.type("door 2 Pa", "999")
    assert "too much" in sheet.verdicts["two"].value
    assert "Too much." in said(sheet)


def test_a_row_that_cannot_be_judged_says_so_and_stops_no_other(sheet):
    sheet.type("door 1 Pa", "13")
    sheet.type("door 2 Pa", "999")
    assert "this row cannot be judged: no such door" in sheet.verdicts["one"].value
    assert "too much" in sheet.verdicts["two"].value
    assert "The sheet cannot be judged: no such door" in said(sheet)


def test_what_could_not_be_kept_is_said_until_it_is(sheet, tmp_path, monkeypatch):
    monkeypatch.setattr(store, "WAIT_S", 0.05)
    sheet.type("door 2 Pa", "1")
    other = sqlite3.connect(tmp_path / "sheets.sqlite", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    sheet.type("door 1 Pa", "58")
    assert "Not kept yet: door 1 Pa" in said(sheet)
    other.execute("ROLLBACK")
    other.close()
    sheet.type("door 2 Pa", "44")
    assert "All in order." in said(sheet)
    again = TypedSheet("acceptance", [("a", 9), ("b", 9)], ROWS, judge, whole, tmp_path)
    assert again.values() == {"door 1 Pa": 58.0, "door 2 Pa": 44.0}


def test_a_damaged_sheet_is_set_aside_in_a_sentence_and_the_next_entry_is_judged(tmp_path):
    (tmp_path / "sheets.sqlite").write_bytes(b"SQLite format 3\0" + os.urandom(8000))
    sheet = TypedSheet("acceptance", [("a", 9), ("b", 9)], ROWS, judge, whole, tmp_path)
    assert "It was set aside as sheets-damaged-1.sqlite" in said(sheet)
    sheet.type("door 1 Pa", "58")
    assert "All in order." in said(sheet)
    assert sheet.entries.read() == {"door 1 Pa": "58 Pa"}


def test_a_column_of_sentences_takes_its_part_of_a_wide_page_and_one_of_figures_does_not(tmp_path):
    rows = {"one": ("1", "what must be seen", {"field": "door 1 Pa", "dimension": "pressure"})}
    columns, below = [("a", 9), ("words", WORDS_PX), ("b", 90)], [("given back", {"field": "given back", "dimension": ""})]
    sheet = TypedSheet("acceptance", columns, rows, lambda values, row: ("good", ""), whole, tmp_path, below=below)
    grid = next(box for box in sheet.box.children if "sheet-grid" in box._dom_classes)
    assert grid.layout.grid_template_columns == f"9px minmax({WORDS_PX}px, 1fr) 90px minmax(120px, 1fr)"


def test_words_under_a_row_take_its_whole_width_and_leave_the_mark_beside_the_fields(tmp_path):
    UNITS.system = "Pa"
    sheet = TypedSheet("acceptance", [("a", 9), ("b", 9)], ROWS, judge, whole, tmp_path, under=lambda row: f"expected of {row}")
    assert sheet.verdicts["one"].layout.grid_area == WHOLE_WIDTH
    sheet.type("door 1 Pa", "61")
    assert "FAIL" in sheet.marks["one"].value
    told = re.sub("<[^>]+>", "", sheet.verdicts["one"].value)
    assert told == "✖ too much expected of one"
    assert "expected of two" in sheet._repr_mimebundle_()["text/plain"]


def test_heads_stay_in_view_where_the_headline_has_two_lines_alone(tmp_path):
    do = ["Do: step 1"]
    sheet = TypedSheet(
        "acceptance", [("a", 9), ("b", 9)], ROWS, judge, lambda values: Verdict("open", "open", "Nothing measured yet", do=do[0]), tmp_path,
        under=lambda row: "",
    )  # fmt: skip
    assert "sheet-heads" in sheet.table._dom_classes
    do[0] = f"Do: {'one thing, then another, ' * 8}"
    sheet.refresh()
    assert "sheet-heads" not in sheet.table._dom_classes, "a taller one would lie on them"
