"""The rational analysis report: every heading a reviewer looks for, every blank with its number and person, every place in the record."""

import re
from types import SimpleNamespace

import openpyxl
import pytest
from demo_designs import design_for

from helpers.model.answers import read_answers
from helpers.model.files import texts
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import SITES_FOLDER, read_site
from helpers.plots import printer
from helpers.record.papers.beyond.annex import OUTSIDE_TITLE
from helpers.record.papers.enquiry import questions_of
from helpers.record.papers.folder import Folder, write_sheets
from helpers.record.papers.paper import ISSUE, MOST_SHEETS, Paper, Part, paper_html
from helpers.record.papers.quoted import NO_FIGURE, NO_LINE, Quoted
from helpers.record.papers.told import BLANKS_TITLE, NOTHING, ROOM_TITLE, Teller
from helpers.record.settings.schedule import NOT_STATED
from helpers.studies.cases import AS_STATED, same_but_stair_air
from helpers.studies.report import Table, Value
from helpers.studies.tuning.times_said import seconds_text
from helpers.units.said import written_out

# A plan reviewer's list: subjects that codes ask a smoke-control analysis for (from memory, not verified).
SUBJECTS = (
    "basis", "building", "criteria", "stack effect, normal and reverse", "temperature effect of fire", "wind", "hvac", "climate",
    "duration of operation", "detection and control", "response times", "leakage", "fan and its duty", "relief", "doors counted as open",
    "power", "materials", "acceptance", "interaction of smoke-control systems", "fire service's panel", "special inspection", "marking",
    "periodic tests and maintenance", "deviations asked for", "method, version and verification", "supply points",
    "tried", "assumptions", "leaves out", "responsibility", "window broken", "lifts that move", "fire alarm zones", "time line",
    "smoke barriers", "drive train", "where the air leaves", "cannot open a door", "earthquake", "as built", "uncertainty",
    "control diagrams", "fire separation", "hold-open", "margin of the minimum over hot gas", "second way out",
    "class of the system", "way of evacuation", "hose line", "wedged", "time to pressure", "standby fan", "instructions to occupants",
    "software", "back-up", "passwords", "calibration of the test instruments", "manual at the fan",
)  # fmt: skip

_FIGURE = re.compile(r"\d+(?:\.\d+)?")


@pytest.fixture
def report(folder_of):
    return next(paper for paper in folder_of("Larkfield House").papers if paper.key == "rational_analysis")


def test_a_reviewer_finds_every_subject_among_the_headings(report):
    settled = (row[0] for part in report.parts if part.title == OUTSIDE_TITLE for row in part.tables[0].rows)
    headings = [title.casefold() for title in (*(part.title for part in report.parts), *settled)]
    assert [subject for subject in SUBJECTS if not any(subject in heading for heading in headings)] == []


def test_class_and_way_of_evacuation_are_the_site_files_or_a_blank_and_a_question(design_named):
    quoted = Quoted(design_named("Tannery Row"))
    told = next(part for part in texts("analysis")["parts"] if part["title"].startswith("Class of the system"))
    open_ = Teller(quoted).part(told)
    assert "class of the system, not stated; way of evacuation, not stated" in open_.lines[0]
    assert [blank.partition(". ")[2].partition(":")[0] for blank in open_.blanks][1] == "Way of evacuation"
    asked = {question.key for question in questions_of(quoted)}
    assert {"evacuation", "system class"} <= asked
    quoted = Quoted(design_named("Tannery Row"))  # what a site has is asked once of a `Quoted`
    quoted.site = quoted.site.with_changes(evacuation="phased", airflow_class="C")
    stated = Teller(quoted).part(told)
    assert "class of the system, C; way of evacuation, phased" in stated.lines[0]
    assert len(stated.blanks) == len(open_.blanks) - 2 == 1
    assert not {"evacuation", "system class"} & {question.key for question in questions_of(quoted)}
    with pytest.raises(SiteFileError, match="evacuation"):
        quoted.site.with_changes(evacuation="all together")


def test_every_blank_has_a_number_of_its_own_under_its_heading_by_who_fills_it_in_and_in_the_workbook(report):
    part = next(part for part in report.parts if part.title == BLANKS_TITLE)
    rows = part.in_workbook[0].rows
    by = {who: numbers.split(", ") for who, _, numbers in part.tables[0].rows}
    assert by == {who: [row[0] for row in rows if row[2] == who] for who in {row[2] for row in rows}}
    assert [int(row[1]) for row in part.tables[0].rows] == [len(numbers) for numbers in by.values()]
    numbers = [row[0] for row in rows]
    assert numbers == [f"B{number}" for number in range(1, len(rows) + 1)]
    assert all(all(row[1:5]) and row[5] == "" for row in rows)
    labels = [label for part in report.parts for label in part.blanks]
    assert [label.split(".")[0] for label in labels] == [f"BLANK {number}" for number in numbers]
    (room,) = (part for part in report.parts if part.title == ROOM_TITLE)
    assert room.annex
    assert list(dict.fromkeys(row[0] for row in room.tables[0].rows)) == numbers
    assert {row[2] for row in room.tables[0].rows} == {""}
    fields = [field for part in report.parts for _, fields in part.fields for field in fields]
    assert fields
    assert all(any(row[1].endswith(f": {field}") for row in room.tables[0].rows) for field in fields)


def test_what_no_model_here_knows_is_a_blank_and_never_a_sentence(report):
    by_heading = {part.title: part for part in report.parts}
    for heading in ("Temperature effect of fire", "Duration of operation", "Power"):
        assert by_heading[heading].blanks
    settled = {row[0]: row[2] for row in by_heading[OUTSIDE_TITLE].tables[0].rows}
    assert settled["Materials and equipment"]


def test_what_is_settled_outside_has_its_words_and_the_numbers_of_its_blanks_beside_its_name(report):
    part = next(part for part in report.parts if part.title == OUTSIDE_TITLE)
    told = {one["title"]: one for one in texts("analysis")["parts"] if one.get("outside")}
    listed = [number for row in part.tables[0].rows for number in row[2].replace(" and ", ", ").split(", ")]
    assert [f"BLANK {number}" for number in listed] == [label.partition(".")[0] for label in part.blanks]
    assert {row[0] for row in part.tables[0].rows} == set(told)
    assert all(line in row[1] for row in part.tables[0].rows for line in told[row[0]]["lines"] if isinstance(line, str) and "{" not in line)


def test_every_place_that_the_words_name_is_in_a_record(design_named):
    nowhere = [missing_of(Quoted(design_named(name))) for name in ("Larkfield House", "all laid down")]
    assert nowhere[0] & nowhere[1] == set()


def missing_of(quoted):
    """What the words ask of a record that it does not have."""
    found = set()
    for told in filter(quoted.has, texts("analysis")["parts"]):
        teller = Teller(quoted)
        part = teller.part(told)
        behind = [table for one in teller.annex for table in one.tables]
        quoting = [row for table in (*part.tables, *behind) if table.key.startswith("quoted") for row in table.rows]
        found |= {place for place in told.get("annexed", ()) if teller._table(place) is None}
        found |= {place for place in told.get("annexed_pictures", ()) if teller._picture(place) is None}
        found |= {row[0] for row in quoting if row[2] in (NO_FIGURE, NO_LINE)} | {line for line in part.lines if "has no table" in line}
        found |= {told["title"]} if len(part.pictures) < len(told.get("pictures", ())) else set()
    return found


def test_a_place_that_the_record_does_not_have_says_so(design_named):
    quoted = Quoted(design_named("Larkfield House"))
    part = Teller(quoted).part({"title": "One", "figures": ["fan/Colour"], "tables": ["fan/colours"], "pictures": ["fan/colour"]})
    assert part.tables[0].rows[0][1:3] == (NOT_STATED, NO_FIGURE)
    assert part.lines == ("The record of this site has no table of fan: colours.",)
    assert part.pictures == ()
    with pytest.raises(ValueError, match="key must be one of site, window"):
        Teller(quoted).part({"title": "One", "verdicts": ["colours"]})


def test_a_quoted_cell_without_text_is_no_blank_but_a_column_to_fill_in_is(design_named):
    teller = Teller(Quoted(design_named("Larkfield House")))
    opened, checks = (teller.part({"title": "One", "tables": [place]}).tables[0] for place in ("open doors/open doors", "fan/drive_checks"))
    assert any(NOTHING in row for row in opened.rows)
    assert not any("" in row for row in opened.rows)
    assert {row[-1] for row in checks.rows} == {""}


def test_its_workbook_has_what_is_filled_in_and_not_all_tables(report):
    assert sum(len(part.tables) for part in report.parts) > MOST_SHEETS
    assert [table.key for _, _, table in report.sheets] == [
        "blanks",
        "failures",
        "time line",
        "drive_checks",
        "outside",
        "issue",
        "checks",
        "fields",
    ]


def test_its_workbook_lists_first_what_it_leaves_out_and_a_long_sequence_leaves_out_nothing(tmp_path, report, folder_of):
    stamp = folder_of("Larkfield House").stamp
    book = openpyxl.load_workbook(write_sheets(report, stamp, tmp_path / "report.xlsx"))
    told = {cell.value for row in book.worksheets[0].iter_rows() for cell in row}
    left = {table.title for part in report.parts for table in part.tables} - {table.title for *_, table in report.sheets}
    assert left
    assert left <= told
    assert {f"Picture: {plot.title}" for part in report.parts for plot in part.pictures} <= told
    long = Paper("sequence", 1, "S", "For.", tuple(Part(f"P{place}", tables=(Table("t", "T", ("A",), (("a",),)),)) for place in range(49)))
    assert len(openpyxl.load_workbook(write_sheets(long, stamp, tmp_path / "long.xlsx")).worksheets) == 49


@pytest.mark.parametrize("name", ["Larkfield House", "Tannery Row"])
def test_every_caution_step_and_line_of_every_paper_is_in_its_workbook(tmp_path, folder_of, name):
    made = folder_of(name)
    for paper in made.papers:
        book = openpyxl.load_workbook(write_sheets(paper, made.stamp, tmp_path / f"{paper.key}.xlsx"))
        held = "\n".join(str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None)
        words = [text for part in paper.parts for text in (*part.cautions, *part.steps, *part.lines)]
        assert words
        assert [text for text in words if text not in held] == []


def test_every_check_and_not_yet_of_the_findings_is_signed_for_at_the_end_of_the_analysis(report):
    (found,) = (table for part in report.parts for table in part.tables if table.key == "findings")
    (signed,) = (table for part in report.parts if part.title == ISSUE for table in part.tables if table.key == "checks")
    check = [row[0] for state, row in zip(found.states, found.rows, strict=True) if state in ("attention", "open")]
    assert check
    assert [row[1] for row in signed.rows] == list(dict.fromkeys(check))
    assert all(row[2:] == ("", "") for row in signed.rows)


VARIANTS = SITES_FOLDER.parent / "variants"
STAIRS = {  # every demo stair but the two that other tests look at too, and the variants
    "Northgate Tower": (SITES_FOLDER / "northgate_tower.toml", None),
    "two fans": (VARIANTS / "tannery_row_two_fans.toml", None),
    "lift shaft": (VARIANTS / "tannery_row_lift_shaft.toml", None),
    "settled": (VARIANTS / "tannery_row_settled.toml", VARIANTS / "tannery_row_settled_answers.toml"),
}
FIRST_WORDS, WORDS_PT, MARGIN_PT = "What is analysed: one stair", 8.95, 7.0  # of a paragraph, its letters, and those of the margin [pt]
ANNEX_SHEET = re.compile(r"Annex, \d+ / \d+")


def letters_of(pages):
    """{size [pt] as printed: the texts in that size} of the pages of a PDF."""
    sizes = {}

    def seen(text, page_matrix, text_matrix, _font, size):
        if text.strip():
            sizes.setdefault(round(abs(size * text_matrix[3] * page_matrix[3]), 2), []).append(text)

    for page in pages:
        page.extract_text(visitor_text=seen)
    return sizes


@pytest.mark.skipif(printer.browser() is None, reason="no browser to print with")
@pytest.mark.parametrize("name", ["Larkfield House", "Tannery Row", *STAIRS])
def test_its_body_prints_on_fifteen_to_twenty_six_sheets_and_its_annex_on_sheets_of_its_own_behind_it(tmp_path, folder_of, name):
    pypdf = pytest.importorskip("pypdf")
    if name in STAIRS:
        path, answers = STAIRS[name]
        design = design_for(read_site(path))
        made = Folder.of(design, answers and read_answers(answers, design.site.name))
    else:
        made = folder_of(name)
    paper = next(paper for paper in made.papers if paper.key == "rational_analysis")
    printed = printer.write_pdf(paper_html(paper, made.stamp), tmp_path / "report.pdf")
    pages = pypdf.PdfReader(printed).pages
    sheets = [sheet.extract_text() for sheet in pages]
    sizes = letters_of(pages)
    assert min(sizes) > MARGIN_PT - 0.1  # a table wider than the sheet would have made all smaller
    assert [size for size, told in sizes.items() if any(FIRST_WORDS in text for text in told) and size < WORDS_PT] == []
    assert any(FIRST_WORDS in text for told in sizes.values() for text in told)
    assert all("not an approval" in sheet for sheet in sheets)
    behind = [bool(ANNEX_SHEET.search(sheet)) for sheet in sheets]
    assert behind == sorted(behind)
    assert 15 <= behind.count(False) <= 25 + 2 * (name == "Northgate Tower")  # 42 storeys, three supply points: more rows
    assert behind.count(True) >= 2
    first = sheets[behind.index(True)]
    assert "6.A1 " in first
    assert not re.search(r"^\s*6\.\d+ ", first, re.MULTILINE)


FULL_TABLES = (  # of the record, which the analysis has whole, in body or annex
    "window/window", "window/criteria", "two sets/two sets", "site/stack_and_wind", "rule/doors @rule", "rule/required doors",
    "rule/stair cooling", "rule/wind", "site/cases", "site/required cases", "year/year", "failure/ways", "failure/alarm limits",
    "site/leaks", "flow/flow", "fan/fan_needed", "fan/duty", "site/supply points", "open doors/open doors", "open doors/air release",
    "failure/door anywhere", "open doors/critical velocity", "doors/door forces", "doors/door pressures", "doors/relatching",
    "fan/drive_checks", "tuning/tunings", "tuning/mains_lost", "rule/set points", "site/not_stated",
)  # fmt: skip


@pytest.mark.parametrize("name", ["Larkfield House", "Tannery Row"])
def test_no_table_of_the_record_that_the_analysis_quotes_lost_a_row_or_a_figure_to_its_annex(design_named, folder_of, name):
    quoted = Quoted(design_named(name))
    (report,) = (paper for paper in folder_of(name).papers if paper.key == "rational_analysis")
    held, looked_at = [table for part in report.parts for table in part.tables], 0
    for place in FULL_TABLES:
        key, table = place.replace("@rule", quoted.site.control.rule).split("/", 1)
        if (of := quoted.table(key, table)) is None:
            continue
        of, looked_at = written_out(of), looked_at + 1
        (there,) = (one for one in held if one.key == of.key and one.title == of.title)
        assert len(there.rows) == len(of.rows)
        for row, shown in zip(of.rows, there.rows, strict=True):
            lost = set(_FIGURE.findall(" ".join(row))) - set(_FIGURE.findall(" ".join((*shown, there.note))))
            assert not lost, (place, row[0])
    assert looked_at > 25


@pytest.mark.parametrize("name", ["Larkfield House", "Tannery Row"])
def test_the_body_has_of_each_set_of_doors_the_case_in_which_the_fan_has_least_to_spare(design_named, folder_of, name):
    design = design_named(name)
    (report,) = (paper for paper in folder_of(name).papers if paper.key == "rational_analysis")
    tables = {table.key: table for part in report.parts for table in part.tables}
    needed, told = design.duty.needed, tables["fan_needed worst"]
    doors = {(case.open_doors, case.open_exits) for case in needed.cases}
    assert len(told.rows) == len(doors)
    assert sum(int(row[1]) for row in told.rows) == len(needed.cases) == len(tables["fan_needed"].rows)
    assert {(row[0], *row[2:]) for row in told.rows} <= set(tables["fan_needed"].rows)
    spare = needed.highest_hz / needed.margin_hz
    by_name = {case.name: place for place, case in enumerate(needed.cases)}
    for row in told.rows:
        worst = needed.cases[by_name[row[0].partition(" (NOT")[0]]]
        others = [
            spare[place]
            for place, case in enumerate(needed.cases)
            if (case.open_doors, case.open_exits) == (worst.open_doors, worst.open_exits)
        ]
        assert spare[by_name[worst.name]] == min(others)


@pytest.mark.parametrize("name", ["Tannery Row", "Larkfield House"])
def test_every_case_that_the_design_has_to_hold_stands_in_the_tables_of_cases_doors_and_fan(design_named, folder_of, name):
    design = design_named(name)
    (report,) = (paper for paper in folder_of(name).papers if paper.key == "rational_analysis")
    tables = {table.key: table for part in report.parts for table in part.tables}
    required = {case.name for case in design.standing.required}
    assert required - {case.name for case in design.cases}  # else nothing is tried here
    assert required <= {row[0] for key in ("cases", "required cases") for row in tables[key].rows}
    assert required <= {row[0] for row in tables["fan_needed"].rows}
    shown = {column for key in (f"doors {design.site.control.rule}", "required doors") for column in tables[key].columns}
    assert {case.name for case in design.standing.required if case.stair == AS_STATED} <= shown


def test_doors_of_the_required_cases_are_those_that_the_set_point_is_judged_by(design_named):
    design = design_named("Larkfield House")
    found, table = design.standing.required_result, Quoted(design).table("rule", "required doors")
    doors_out = found.low | found.high
    besides = [place for place, case in enumerate(found.cases) if case not in design.cases]
    worst = {str(level): doors_out[besides, storey].any() for storey, level in enumerate(design.tower.levels)}
    assert any(worst.values())
    exits = {(door.case, door.level) for door in found.out if door.use == "final exit"}
    worst["Final exit 0"] = any((found.cases[place].name, 0) in exits for place in besides)
    told = {row[0]: any("too" in cell for cell in row[1:]) for row in written_out(table).rows}
    assert told == worst


@pytest.mark.parametrize(("seconds", "state"), [(34.5, "wrong"), (3.0, "open"), (None, "wrong")])
def test_a_recovery_past_what_the_standard_asks_is_a_fail_though_nothing_is_laid_down(seconds, state):
    quoted = Quoted.__new__(Quoted)
    section = SimpleNamespace(figures=[Value("Door shuts, the proposed tuning", seconds, "34.5 s", "why", "source")])
    window = SimpleNamespace(criteria=SimpleNamespace(response_s=3.0))
    standing = SimpleNamespace(first=lambda *_: "not laid down: first the set point")
    quoted.design = SimpleNamespace(section=lambda _: section, window=window, standing=standing)
    cells, found = quoted.figure("tuning", "Door shuts, the proposed tuning")
    assert found == state
    assert cells[1].startswith("FAIL: ") is (state == "wrong")
    assert "indicative, not laid down" in cells[1]


def test_the_time_after_a_door_is_told_with_the_lags_of_the_file_with_the_slowest_and_as_the_later_of_both(design_named):
    design = design_named("Tannery Row")
    told = ("", " with the slowest lags", ", the worse of both")
    own, far, worse = (Quoted(design).figure("tuning", f"Door shuts, the proposed tuning{where}")[0] for where in told)
    assert "with the lags of the site file" in own[2]
    assert "each lag and delay the longest" in far[2]
    doors = design.tuning.recommended
    assert [cells[1] for cells in (own, far, worse)] == [
        seconds_text(one.shuts_s) for one in (doors.doors, doors.far_doors, doors.worst_doors)
    ]
    assert far[1] != own[1]


def test_the_storey_tables_have_a_row_for_every_final_exit_with_what_the_pictures_doors_leave_out(design_named):
    design = design_named("Larkfield House")
    table = Quoted(design).table("rule", f"doors {design.site.control.rule}")
    (row,) = [row for row in table.rows if row[0] == "Final exit 0"]
    out = {door.case for door in design.own.out if door.use == "final exit" and door.too == "high"}
    expected = [any(design.cases[place].name in out for place in group) for group in same_but_stair_air(design.cases)]
    assert ["too high" in cell for cell in row[1:]] == expected
    assert any(expected)
    (picture,) = [one for one in design.section("rule").pictures if one.key == f"profile {design.site.control.rule}"]
    assert "every shut door inside" not in picture.words


def test_from_hand_to_network_says_at_which_door_it_holds_what(design_named):
    design = design_named("Larkfield House")
    note, ladder = Quoted(design).table("flow", "flow").note, design.ladder
    assert f"across stair door {ladder.level}, the worse end, and no set point" in note
    assert min(ladder.hand.end_pressures(ladder.door_dp_pa)) == ladder.door_dp_pa
