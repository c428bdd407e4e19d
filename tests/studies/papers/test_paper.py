"""What a paper becomes: HTML, Markdown and sheets, each with its number, its stamp, the cautions and what the record fails in."""

import re

import openpyxl
import pytest

from helpers.plots import printer
from helpers.record.papers.folder import write_sheets
from helpers.record.papers.paper import SHORT_CAUTION, Paper, Part, Stamp, paper_html, paper_markdown
from helpers.studies.report import Table
from helpers.studies.status import STATUSES, folded, word_of

TABLE = Table("t", "Lines", ("What", "Value"), (("a | b", ""), ("=1+1", "<b>")), ("wrong", ""), "A note.")
PAPER = Paper("one", 7, "One", "For a test.", (Part("First", ("Said.",), ("do this", "then that"), (TABLE,), ("name",), ("Mind.",)),))
STAMP = Stamp('The "Mill" </style>', "0123abcd", "Pa", ("FAIL: a door is out",), ("Life safety.",))


@pytest.fixture
def sheet(tmp_path):
    return openpyxl.load_workbook(write_sheets(PAPER, STAMP, tmp_path / "one.xlsx")).worksheets[0]


def test_a_page_has_number_stamp_cautions_and_what_fails_before_its_parts():
    page = paper_html(PAPER, STAMP)
    places = [page.index(words) for words in ("7 One: The", "site file 0123abcd", "Life safety.", "a door is out", "7.1 First", "Mind.")]
    assert places == sorted(places)


def test_every_printed_sheet_bears_stamp_and_caution_and_a_name_ends_no_style():
    style = paper_html(PAPER, STAMP).split("<style>")[1].split("</style>")[0]
    assert "0123abcd" in style
    assert "Life safety: a paper to check and not an approval" in style
    assert "counter(page)" in style


@pytest.mark.skipif(printer.browser() is None, reason="no browser to print with")
def test_the_stamp_is_printed_on_every_sheet(tmp_path):
    pypdf = pytest.importorskip("pypdf")
    long = Paper("long", 7, "Long", "For a test.", tuple(Part(f"Part {number}", ("Said.",) * 30) for number in range(4)))
    sheets = pypdf.PdfReader(printer.write_pdf(paper_html(long, STAMP), tmp_path / "long.pdf")).pages
    assert len(sheets) > 2
    assert all("0123abcd" in one.extract_text() and "not an approval" in one.extract_text() for one in sheets)


def test_a_draft_says_so_and_a_record_without_a_fail_does_not():
    assert STAMP.state.startswith("DRAFT")
    assert "DRAFT" not in Stamp("Mill", "01", "Pa", (), ()).state


def test_a_head_without_a_fail_counts_what_is_left_to_do(folder_of):
    folder = folder_of("all laid down")
    assert not folder.stamp.fails
    left = [int(number) for number in re.findall(r"\d+", folder.stamp.left)]
    assert len(left) == 5
    open_questions = sum(state == "open" for paper in folder.papers if paper.key == "enquiry"
                         for part in paper.parts for table in part.tables for state in table.states)  # fmt: skip
    assert left[-1] == open_questions > 0
    labels = [label for paper in folder.papers for part in paper.parts for label in part.blanks]
    unnumbered = [label for label in labels if not label.startswith("BLANK B")]
    called = [row for paper in folder.papers for part in paper.parts for table in part.tables if table.key == "call" for row in table.rows]
    assert left[-2] == len(labels) + len(called)
    assert min(len(unnumbered), len(labels) - len(unnumbered), len(called)) > 0  # those of the schedules have no number, and are blanks
    assert folder.stamp.left in folder.stamp.state
    assert "That is no release" in folder.stamp.state


def test_markdown_keeps_a_cell_a_cell_and_a_sign_a_sign():
    text = paper_markdown(PAPER, STAMP)
    assert r"| FAIL | a \| b |  |" in text
    assert r"\<b\>" in text
    assert "1. do this\n2. then that" in text
    assert "- [ ] name" in text


def test_a_sheet_has_its_filter_on_its_heads_and_only_empty_cells_are_open(sheet):
    head = int(sheet.auto_filter.ref.split(":")[0][1:])
    assert [sheet.cell(head, place).value for place in (1, 2, 3)] == ["Verdict", "What", "Value"]
    assert sheet.protection.sheet
    assert not sheet.protection.autoFilter
    assert not sheet.cell(head + 1, 3).protection.locked
    assert sheet.cell(head + 2, 3).protection.locked


def test_what_looks_like_a_formula_stays_text_and_the_caution_heads_the_sheet(sheet):
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value]
    assert next(cell for cell in cells if cell.value == "=1+1").data_type == "s"
    assert SHORT_CAUTION in [cell.value for cell in cells]


def test_one_paper_lists_what_the_record_fails_in_and_every_other_names_it_in_a_line(folder_of):
    folder = folder_of("Larkfield House")
    fails = folder.stamp.fails
    for paper in folder.papers:
        text = paper_markdown(paper, folder.stamp)
        lists = paper.file_name == folder.stamp.summary == "06_rational_analysis"
        assert sum(line.startswith("- FAIL") for line in text.splitlines()) == (len(fails) if lists else 0)
        assert f"fails in {len(fails)} points" in text
        assert "06\\_rational\\_analysis" in text


def test_the_analysis_begins_with_what_the_record_comes_to_and_a_conclusion_to_sign(folder_of, design_named):
    for name, said in (("Larkfield House", "does not do what is asked of it"), ("all laid down", "nothing fails")):
        first = next(paper for paper in folder_of(name).papers if paper.key == "rational_analysis").parts[0]
        (conclusion,) = [line for line in first.lines if line.startswith("Conclusion, as far as the record goes")]
        assert said in conclusion
        kinds = {word_of(one): sum(found.severity == one for found in folded(design_named(name).record().findings)) for one in STATUSES}
        told = conclusion.partition("once: ")[2]
        counted = {word: int(number) for number, word in re.findall(r"(\d+) (FAIL|CHECK|NOT YET|PASS)\b", told.partition(";")[0])}
        own = re.search(r"; (\d+) of them of this paper", told)
        assert sum(counted.values()) == sum(kinds.values()) + (int(own[1]) if own else 0)
        assert counted["PASS"] >= kinds["PASS"]
        assert counted["FAIL"] >= kinds["FAIL"]  # what no alarm tells fails until the authority has signed for it
        assert "B1. Conclusion" in first.blanks[0]
