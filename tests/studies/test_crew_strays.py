"""Remarks have a column and reach the report; what is written where there is no blank is named with its cell; a row with words behind its
name is read; books from before there was a remark are read."""

import openpyxl
import pytest
from openpyxl.comments import Comment

from helpers.studies.commissioning.crew.blanks import REMARK, REMARKED, forms, grid_key, leaves_of, opened, place_said
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.day import read_day
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.read_back import read_filled
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.crew.rounds import crew_rounds
from helpers.studies.commissioning.fields import Day
from helpers.units import SYSTEMS
from tests.studies.test_crew import as_expected, book, cell_of, larkfield  # noqa: F401

PA = SYSTEMS[0]


def read(steps, path, change):
    opened_book = book(steps, path)
    change(opened_book)
    opened_book.save(path)
    return read_filled(steps, [path])


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_remark_on_every_sheet_of_readings_comes_back_and_stands_in_the_report(larkfield, tmp_path, system):  # noqa: F811
    rounds = larkfield.rounds
    key, _, leaf = next(iter(leaves_of(rounds)))
    place, clock, grid = ("stair door", 7), rounds.sheet.plant[0].field, opened(rounds)[0]
    remarks = {("pressures", place, REMARK): "door 7 sticks", ("doors", key, REMARK): "hinge loose",
               ("clock", clock, REMARK): "radio died", (grid_key(*grid), 2, REMARK): "a draught from the lift"}  # fmt: skip
    write_book(larkfield, tmp_path / "a.xlsx", system, filled=as_expected(larkfield) | remarks)
    found = read_day(rounds.site, [tmp_path / "a.xlsx"])
    assert not found.filled.mistakes
    lines = {(line.part, line.device): line.words for line in day_report(found).lines}
    for where, words in ((("Rounds", f"{place_said(rounds, *place)}, in the rounds"), "door 7 sticks"), (("Doors", leaf), "hinge loose"),
                         (("Clock and plant", clock), "radio died"),
                         (("Air through open doors", place_said(rounds, *grid)), "a draught from the lift")):  # fmt: skip
        assert f"remark: {words}" in lines[where]


def test_a_book_without_the_column_of_remarks_is_read_without_a_word(larkfield, tmp_path):  # noqa: F811
    def older(opened_book):
        for page in opened_book:
            for row in page.iter_rows():
                for cell in row:
                    if cell.value == REMARKED:
                        cell.value = None

    found = read(larkfield, tmp_path / "a.xlsx", older)
    assert not found.mistakes
    assert found.value("pressures", ("stair door", 7), "steady speed 1") is not None


STRAYS = {
    "beside a table": ("Rounds", "AB35", "door 7 sticks"), "below a table": ("Devices", "A19", "lift lobby door wedged"),
    "beside the cautions": ("Clock", "D4", "read this"), "beside the signatures": ("Steps", None, "see me"),
}  # fmt: skip


@pytest.mark.parametrize("what", STRAYS)
def test_what_stands_in_no_blank_is_named_with_its_cell(larkfield, tmp_path, what):  # noqa: F811
    sheet, cell, text = STRAYS[what]
    at = []

    def stray(opened_book):
        page = opened_book[sheet]
        free = cell if cell and page[cell].value is None else f"F{page.max_row}"
        at.append(free)
        page[free] = text

    found = read(larkfield, tmp_path / "a.xlsx", stray)
    assert [one for one in found.mistakes if f"sheet {sheet}, {at[0]}: {text!r} stands in no blank" in one]
    assert len(found.mistakes) == 1


def test_a_comment_on_a_cell_is_named_with_its_cell(larkfield, tmp_path):  # noqa: F811
    def commented(opened_book):
        opened_book["Doors"]["B12"].comment = Comment("measured twice", "AB")

    found = read(larkfield, tmp_path / "a.xlsx", commented)
    (said,) = found.mistakes
    assert "sheet Doors, B12: the comment" in said
    assert "measured twice" in said


@pytest.mark.parametrize(("value", "named"), [(99.0, True), ("see Bob", True), (None, False)])
def test_a_printed_limit_that_was_written_over_is_named_and_the_site_files_counts(larkfield, tmp_path, value, named):  # noqa: F811
    def over(opened_book):
        cell = cell_of(opened_book["Rounds"], "stair door 9", "Maximum [Pa]", "Pressure across")
        cell.value = cell.value if value is None else value

    found = read(larkfield, tmp_path / "a.xlsx", over)
    assert bool([one for one in found.mistakes if "is printed, and was written over" in one and "60.862 Pa" in one]) == named
    assert len(found.mistakes) == named


def test_no_limit_of_another_weather_is_taken_for_one_that_was_written_over(larkfield, tmp_path):  # noqa: F811
    cold = Day(outdoor_c=-5.0, stair_bottom_c=14.0, stair_top_c=16.0, floor_c=20.0, wind_speed_m_s=1.0, wind_from_deg=230.0)
    steps = procedure(crew_rounds(larkfield.rounds.site, day=cold))
    write_book(steps, tmp_path / "a.xlsx", filled={})
    assert not read_filled(larkfield, [tmp_path / "a.xlsx"]).mistakes


def test_a_row_with_words_behind_its_name_is_read_and_named_where_the_name_stands(larkfield, tmp_path):  # noqa: F811
    at = []

    def renamed(opened_book):
        page = opened_book["Rounds"]
        cell = next(cell for (cell,) in page.iter_rows(max_col=1) if cell.value == "stair door 8")
        cell.value = "stair door 8 (sticks)"
        at.append(cell.coordinate)

    whole = read(larkfield, tmp_path / "a.xlsx", lambda _: None)
    found = read(larkfield, tmp_path / "b.xlsx", renamed)
    assert found.values() == whole.values()
    (said,) = found.mistakes
    assert f"sheet Rounds, {at[0]}: is read as 'stair door 8'; '(sticks)' behind its name" in said


def test_a_row_that_only_begins_as_another_one_is_no_row_of_it(larkfield, tmp_path):  # noqa: F811
    def twice(opened_book):
        page = opened_book["Rounds"]
        cell = next(cell for (cell,) in page.iter_rows(max_col=1) if cell.value == "stair door 13")
        cell.value = "stair door 12 again"

    found = read(larkfield, tmp_path / "a.xlsx", twice)
    assert found.value("pressures", ("stair door", 13), "steady speed 1") is None
    assert any("'stair door 12 again' is no line of this site" in one for one in found.mistakes)


def test_every_blank_of_a_remark_is_the_last_of_its_table(larkfield):  # noqa: F811
    remarked = [form for form in forms(larkfield) if REMARK in form.columns]
    assert {form.sheet for form in remarked} == {"Rounds", "Doors", "Clock", "Air speed"}
    assert all([*form.columns][-1] == REMARK for form in remarked)


def test_the_package_is_not_held_open(larkfield, tmp_path):  # noqa: F811
    path = tmp_path / "a.xlsx"
    write_book(larkfield, path)
    before = path.read_bytes()
    read_filled(larkfield, [path])
    assert path.read_bytes() == before
    assert openpyxl.load_workbook(path).sheetnames
