"""The owner's page on one sheet, and the drawing notes with every storey, transmitter, damper and inlet of the site."""

from html import unescape

import pytest

from helpers.plots import printer
from helpers.record.papers.paper import BESIDE, FIRST_PAGE, SHORT_CAUTION, paper_html, paper_markdown
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.told import notes, owner, storeys_table


@pytest.fixture(params=["Larkfield House", "all laid down"])
def folder(request, folder_of):
    return folder_of(request.param)


def paper_of(folder, key):
    return next(paper for paper in folder.papers if paper.key == key)


def test_the_owners_page_says_a_draft_in_a_line_and_points_to_the_cautions(folder_of):
    folder = folder_of("Larkfield House")
    page, text = (write(paper_of(folder, "owner"), folder.stamp) for write in (paper_html, paper_markdown))
    for one in (page, text):
        assert "DRAFT: the record fails in" in one
        assert folder.stamp.fails[0] not in one
    assert SHORT_CAUTION.replace(FIRST_PAGE, BESIDE) in text
    assert "in the papers beside it" in page.split("<style>")[1].split("</style>")[0]
    assert SHORT_CAUTION.replace(FIRST_PAGE, BESIDE) in unescape(page.split("</style>")[1])  # on a screen too, where no margin is


def test_the_owner_is_told_what_never_to_do_and_that_no_stop_for_want_of_demand_is_set(folder):
    owner = paper_of(folder, "owner")
    assert all(step.startswith("Never ") for step in owner.parts[-1].steps)
    stop = next(row for row in owner.parts[0].tables[0].rows if row[0] == "Stop for low demand")
    assert stop[1] == "off"


def test_the_weekly_test_claims_no_more_of_the_damper_than_that_it_is_shut(folder):
    tests = {row[0]: row[1] for row in paper_of(folder, "owner").parts[1].tables[0].rows}
    assert list(tests) == ["Every week", "Every half year", "Every year", "After any change"]
    laid_down = "no self-test" not in tests["Every week"]
    assert ("damper: shut, no more" if laid_down else "NOT YET: ") in tests["Every week"]
    assert laid_down != any(line.startswith("Self-test: FAIL, refused") for line in paper_of(folder, "sequence").parts[0].lines)
    damper = tests["Every half year"].partition("damper seen to open in ")[2]
    assert all(said in damper for said in ("MANUAL: the stair is not protected", "one person at the switch", "nobody in a door's swing",
                                           "written decision on a real alarm first, else no test"))  # fmt: skip
    called = " ".join(row[0] for row in paper_of(folder, "owner").parts[2].tables[0].rows)
    assert "written decision on a real alarm" in called


def test_the_owner_hears_what_every_trouble_means(folder):
    says = {word for row in paper_of(folder, "owner").parts[3].tables[0].rows for word in row[0].split(", ")}
    troubles = (
        "reading lost or alarm on one",
        "damper not shut",
        "drive tripped",
        "no proof of run",
        "drive in MANUAL",
        "isolator open",
        "line fault",
    )
    others = "controls' supply lost", "standby source not sound", "drive fault", "panel left at ON", "panel left at OFF"
    assert says.issuperset((*troubles, *others))


def test_in_a_fire_alarm_no_row_sends_anybody_into_the_stair_or_to_the_fan(folder):
    part = paper_of(folder, "owner").parts[3]
    (caution,) = part.cautions
    assert caution.startswith("In a fire alarm, whatever is told besides: leave, touch nothing; tell the fire service")
    assert "leave by the stair; nobody stays at, or goes back to, fan, roof, stair or doors for it before the all-clear" in caution
    assert part.tables[0].columns[2] == "With no fire alarm there, do"
    for signal, _, does in part.tables[0].rows:
        assert "alarm" not in does or signal == "fire alarm" or "puts it to AUTO and leaves" in does


def test_every_half_year_final_exits_are_tried_as_well_with_the_fan_on(folder):
    tests = [row[1] for row in paper_of(folder, "owner").parts[1].tables[0].rows if row[0] == "Every half year"]
    assert any("final exits: force, shutting and latch, fan on" in told for told in tests)


def test_a_drive_that_runs_on_with_a_fault_is_no_unprotected_stair(folder):
    rows = paper_of(folder, "owner").parts[3].tables[0].rows
    unprotected = {row[0]: row[2] for row in rows if row[1].startswith("the stair is not protected")}
    assert any("drive tripped" in row for row in unprotected)
    assert not any("drive fault" in row for row in unprotected)
    assert all("a fire watch" in does for does in unprotected.values())
    assert "stays at the switch" in unprotected["drive in MANUAL"]


def test_a_dead_line_is_no_start_and_a_panel_left_at_on_is_another_matter(folder):
    rows = {row[0]: row[2] for row in paper_of(folder, "owner").parts[3].tables[0].rows}
    assert "a fire watch" in rows["line fault"]
    assert "fire service" in rows["panel left at ON"]
    called = [row[0] for row in paper_of(folder, "owner").parts[2].tables[0].rows]
    assert [row.partition(". ")[0] for row in called] == [f"BLANK O{number}" for number in range(1, len(called) + 1)]
    assert "Licensed engineer" in [row.partition(". ")[2] for row in called]


@pytest.mark.parametrize(
    ("name", "does"), [("all laid down", "today"), ("Tannery Row", "a fire watch"), ("Larkfield House", "a fire watch")]
)
def test_a_lost_reading_can_wait_for_the_day_only_where_a_fallback_is_laid_down(folder_of, name, does):
    rows = {row[0]: row[2] for row in paper_of(folder_of(name), "owner").parts[3].tables[0].rows}
    assert does in rows["reading lost or alarm on one"]


def test_the_owner_of_a_stair_without_a_relief_damper_is_told_of_none(design_named):
    quoted = Quoted(design_named("Tannery Row"))
    quoted.site = quoted.site.with_changes(stair={"relief": None})
    said = str([part.tables for part in owner(quoted).parts[1:]])
    assert "damper" not in said
    assert "Every week" in said


def test_whom_to_call_is_left_to_be_filled_in(folder):
    call = next(table for part in paper_of(folder, "owner").parts for table in part.tables if table.key == "call")
    assert {row[1:] for row in call.rows} == {("", "")}


@pytest.mark.skipif(printer.browser() is None, reason="no browser to print with")
def test_the_owners_page_is_one_sheet(tmp_path, folder):
    pypdf = pytest.importorskip("pypdf")
    printed = printer.write_pdf(paper_html(paper_of(folder, "owner"), folder.stamp), tmp_path / "owner.pdf")
    (sheet,) = pypdf.PdfReader(printed).pages
    assert "not an approval" in sheet.extract_text()


@pytest.mark.parametrize("name", ["Larkfield House", "Northgate Tower", "Tannery Row"])
def test_every_storey_is_a_row_and_what_hangs_there_stands_in_it(design_named, name):
    site = design_named(name).site
    rows = {row[0]: row for row in storeys_table(Quoted(design_named(name))).rows}
    assert list(rows) == [str(storey.level) for storey in reversed(site.storeys)]
    for tap in site.transmitters:
        assert tap.name in rows[str(tap.level)][5]
    assert {level for level, row in rows.items() if row[6] == "enters"} == {str(supply.level) for supply in site.supplies}
    assert [level for level, row in rows.items() if row[7] == "here"] == ([str(site.stair.relief.level)] if site.stair.relief else [])
    assert {row[-1] for row in rows.values()} == {""}


def test_drawings_call_a_storey_what_the_file_says_they_do(design_named):
    quoted = Quoted(design_named("Tannery Row"))
    quoted.site = quoted.site.with_changes(storeys=[{"drawing_name": "G"}, *({} for _ in quoted.site.storeys[1:])])
    assert storeys_table(quoted).rows[-1][:2] == ("0", "G")


def test_a_stair_without_a_relief_damper_has_no_note_of_one(design_named):
    own, without = (Quoted(design_named("Tannery Row")) for _ in range(2))
    without.site = without.site.with_changes(stair={"relief": None})
    titles, left = ([part.title for part in notes(quoted).parts] for quoted in (own, without))
    assert [title for title in titles if title not in left] == ["Relief damper"]


def test_what_hangs_on_a_set_point_that_fails_is_on_no_drawing(folder_of):
    text = paper_markdown(paper_of(folder_of("Larkfield House"), "drawing_notes"), folder_of("Larkfield House").stamp)
    assert "125 Pa at 20 mA" not in text
