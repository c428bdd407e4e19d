"""Numbered notes: what a table repeats stands once under it, every cell still says that it is not laid down, and no sentence is lost."""

from helpers.record.papers.beyond.foot import said_first, with_notes
from helpers.record.papers.paper import Paper, Part
from helpers.studies.report import Table

OTHER = "not laid down: first the set point"
FIRST = "not laid down: first the set point, a fan that is enough and ramps that motor and brake can follow"


def noted(*cells):
    table = Table("t", "Lines", ("What",), tuple((cell,) for cell in cells), note="A note.")
    return with_notes(Paper("one", 1, "One", "", (Part("Part", tables=(table, table)),)), (OTHER, FIRST)).parts[0].tables


def test_a_sentence_that_a_table_repeats_stands_once_under_it_by_its_number():
    for table in noted(FIRST, f"{FIRST}; the site file has 40 Pa", f"8 s (what would be, {FIRST})", "not laid down: first the set point"):
        assert [row[0] for row in table.rows] == [
            "not laid down: N1", "not laid down: N1; the site file has 40 Pa", "8 s (what would be, not laid down: N1)",
            "not laid down: first the set point",
        ]  # fmt: skip
        assert table.note == "A note. N1: first the set point, a fan that is enough and ramps that motor and brake can follow."


def test_a_sentence_that_stands_twice_stays_where_it_is():
    assert [row[0] for row in noted(FIRST, FIRST)[0].rows] == [FIRST, FIRST]


def test_the_papers_of_a_stair_where_little_is_laid_down_say_nothing_three_times_in_a_table(folder_of, design_named):
    sentences = said_first(design_named("Larkfield House").standing)
    tables = [table for paper in folder_of("Larkfield House").papers for part in paper.parts for table in part.tables]
    for table in tables:
        cells = [cell for row in table.rows for cell in row]
        assert max(sum(cell.count(f"{said}{end}") for cell in cells) for said in sentences for end in (";", ")", ".", ": ")) < 3
    assert any("N1: first the set point" in table.note for table in tables)
