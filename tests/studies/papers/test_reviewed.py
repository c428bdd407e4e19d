"""What fresh readers of the papers stumbled over: a list that says enter where something is to be agreed, an exit left out of the design,
a stair that no pressure suits asked about its tubes, the code of another country among the figures."""

import re

import pytest
from demo_designs import design_for, site_of

from helpers.model.answers import AnswersFile, GivenAnswer
from helpers.model.files import texts
from helpers.record.papers.enquiry import CLOSING, closers_asked, questions_of
from helpers.record.papers.folder import Folder
from helpers.record.papers.paper import NOTHING_FAILS, paper_html, paper_markdown
from helpers.record.papers.points import TO_AGREE
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.told import BLANKS_TITLE, NOT_COMPUTED_HERE

HEAVY = {"standard": "en12101_6_2005", "doors": {"flat landing": {"closer_force_n": 70.0, "force_limit_n": 100.0}}}


def part_of(folder, key):
    return next(paper for paper in folder.papers if paper.key == key)


@pytest.fixture(scope="module")
def refused():
    return Folder.of(design_for(site_of("Tannery Row").with_changes(**HEAVY)))


@pytest.mark.parametrize("name", ["Larkfield House", "all laid down"])
@pytest.mark.parametrize("key", ["points", "alarms", "cause_and_effect"])
def test_a_row_with_something_to_be_agreed_is_never_one_to_enter_as_it_stands(folder_of, name, key):
    table = next(table for table in part_of(folder_of(name), key).parts[0].tables if table.key in ("points", "alarms", "matrix"))
    waiting = [state for row, state in zip(table.rows, table.states, strict=True) if any(TO_AGREE in cell for cell in row)]
    assert waiting
    assert set(waiting) <= {"wrong", "attention", "open"}
    assert "" in table.states or key == "cause_and_effect"  # not every row waits


def test_a_question_that_many_rows_wait_for_is_a_note(folder_of):
    table = part_of(folder_of("all laid down"), "points").parts[0].tables[0]
    assert not [cell for row in table.rows for cell in row if "waits and records" in cell]
    assert "waits and records" in table.note


def test_an_exit_left_out_with_which_doors_are_out_is_no_clean_record_until_somebody_answers(folder_of, design_named):
    folder = folder_of("all laid down")
    assert folder.stamp.fails == ()
    assert folder.stamp.state.startswith("NOT YET: nobody has answered whether the final exit that people leave by counts as open")
    assert NOTHING_FAILS not in folder.stamp.state
    told = GivenAnswer(question="final exit open", answer="left out, letter of May", by="authority", date="2026-05-04")
    site = design_named("all laid down").site.name
    answered = Folder.of(design_named("all laid down"), AnswersFile(kind="answers", name="May", invented=True, site=site, answers=[told]))
    assert "nobody has answered" not in answered.stamp.state
    assert answered.stamp.state.startswith((NOTHING_FAILS, "FAIL in paper 06_rational_analysis until the authority has signed for it"))
    waits, who = (
        ", until somebody has answered whether it counts.",
        ". Whether it counts: as answered, enquiry list Q20, final exit open, by authority, 2026-05-04: ",
    )
    said, begins, alone = folder.stamp.beyond.partition(waits)
    assert begins
    assert "FAIL" in said
    assert "final exit 0 open alone" in alone
    found, told_by, where = answered.stamp.beyond.partition(who)
    assert found == f"{said}.{alone.removesuffix('.')}"  # what the doors have then is said all the same
    assert told_by
    assert where.startswith('"left out, letter of May". ')


def test_the_report_says_which_it_is_an_exit_that_counts_or_none(design_named):
    told = Quoted(design_named("Larkfield House")).figure("beyond", "final exit open")[0][1]
    assert told == "The design counts a final exit as open."


def test_gain_and_integral_time_are_signed_for_by_their_names(folder_of):
    paper = part_of(folder_of("all laid down"), "sequence")
    checks = next(table for part in paper.parts for table in part.tables if table.key == "checks")
    loop = next(table for table in paper.parts[0].tables if table.key == "loop")
    marked = {row[0] for row, state in zip(loop.rows, loop.states, strict=True) if state == "attention"}
    assert marked
    assert marked <= {row[1] for row in checks.rows}


def test_the_fallback_speed_is_check_wherever_it_leads_or_nowhere(folder_of, design_named):
    quoted = Quoted(design_named("all laid down"))
    asked = [("failure", "on a failed reading"), ("failure", "fallback speed"), ("failure", "two readings that disagree")]
    states = {quoted.row(*place)[1] for place in asked}
    assert len(states) == 1
    alarms = part_of(folder_of("all laid down"), "alarms").parts[0].tables[0]
    falls = {state for row, state in zip(alarms.rows, alarms.states, strict=True) if row[4].startswith("alarm and ")}
    assert falls == {"attention"} == states


def test_a_stair_that_no_pressure_suits_is_asked_for_what_mends_it_and_for_nothing_else(refused):
    asked = {
        row[1] for part in part_of(refused, "enquiry").parts for table in part.tables if table.key.startswith("asked") for row in table.rows
    }
    assert {"edition", "force", "lighter closers", "another leaf or lobby", "lower minimum"} <= asked
    first = {one["key"] for one in texts("enquiry")["questions"] if one.get("refused")}
    assert asked <= first
    assert not [
        text for paper in refused.papers for text in paper_markdown(paper, refused.stamp).split("\n") if "of the exit left out" in text
    ]


def test_its_report_keeps_every_heading_with_the_blanks_that_no_closer_changes(refused, folder_of):
    parts = {part.title: part for part in part_of(refused, "rational_analysis").parts}
    whole = {part.title for part in part_of(folder_of("Tannery Row"), "rational_analysis").parts if not part.annex}
    assert whole <= set(parts)
    for heading in ("Stack effect, normal and reverse", "Duration of operation", "Power", "Detection and control"):
        assert parts[heading].lines == (NOT_COMPUTED_HERE,)
    assert parts["Power"].blanks
    numbers = [row[0] for row in parts[BLANKS_TITLE].in_workbook[0].rows]
    assert numbers == [f"B{number}" for number in range(1, len(numbers) + 1)]


def test_a_stair_judged_by_the_european_standard_is_told_no_figure_of_a_code_that_is_not_adopted(refused, folder_of):
    told = paper_markdown(part_of(refused, "rational_analysis"), refused.stamp)
    american = paper_markdown(part_of(folder_of("Tannery Row"), "rational_analysis"), folder_of("Tannery Row").stamp)
    for words in ("International Building Code", "Times of activation", "New York"):
        assert words not in told
        assert words in american


def test_the_closer_that_is_asked_about_is_one_that_has_to_shut_a_leaf_against_the_pressure(design_named):
    site = design_named("all laid down").site
    against = {name for name, door in site.doors.items() if door.opens == "against pressure"}
    for one in (site, site_of("Larkfield House")):
        said = closers_asked(one).get(CLOSING, "")
        assert not [name for name in against if repr(name) in said]
    assert "'street'" in closers_asked(site_of("Larkfield House"))[CLOSING]
    asked = {one.key: one for one in questions_of(Quoted(design_named("Larkfield House")))}
    assert "whether it was measured there the file does not say" in asked[CLOSING].taken
    measured = site_of("Larkfield House").with_changes(doors={"street": {"closing_share": 0.6}})
    assert closers_asked(measured)[CLOSING].endswith("one figure, and no range measured at the closer.")


def test_the_caution_of_a_brief_paper_is_on_the_screen_as_well(folder_of):
    folder = folder_of("all laid down")
    assert '<div class="on-screen">' in paper_html(part_of(folder, "owner"), folder.stamp)


@pytest.mark.parametrize("name", ["Larkfield House", "all laid down"])
def test_the_list_to_sign_counts_the_rows_that_it_leaves_out(folder_of, name):
    """Every row of the paper with a state is in the list of findings, has a list of its own, or is counted."""
    paper = part_of(folder_of(name), "rational_analysis")
    tables = [table for part in paper.parts for table in part.tables]
    (note,) = [table.note for table in tables if table.key == "checks"]
    elsewhere = "findings", "blanks", "answers quoted", "checks"
    counts = [sum(table.states.count(state) for table in tables if table.key not in elsewhere) for state in ("attention", "open")]
    assert f"have {counts[0]} CHECK and {counts[1]} NOT YET rows" in note
    assert counts[0] > 0


@pytest.mark.parametrize("name", ["Larkfield House", "all laid down"])
def test_what_the_body_says_of_its_annex_has_as_many_rows(folder_of, name):
    paper = part_of(folder_of(name), "rational_analysis")
    there = {len(table.rows) for part in paper.parts if part.annex for table in part.tables}
    told = [int(rows) for part in paper.parts for line in part.lines if line.startswith("In the annex")
            for rows in re.findall(r", (\d+) rows?[,;.]", line)]  # fmt: skip
    assert len(told) > 3
    assert set(told) <= there
