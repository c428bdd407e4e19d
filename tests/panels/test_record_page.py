"""The exported record: one file, no network, no code, all figures with unit, reason and source, cautions first, readable in grey."""

import base64
import io
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import numpy as np
import pytest
from demo_designs import page_of
from metric_plates import without_plates
from PIL import Image

from helpers.model.site.file import demo_sites, read_site
from helpers.pages.design import FRONT_PICTURE, write_front_picture
from helpers.pages.record.views import PicturePiece, RecordBoard, RecordView
from helpers.plots.markup import MOST_IN_VIEW, findings_html, to_decide_html
from helpers.plots.picture import picture_of
from helpers.record.board import MOST_FOUND, MOST_SEEN, MOST_SENTENCE, NOT_YET_ENTERED, first_deed, first_seen, in_view
from helpers.record.design import Design
from helpers.record.page import (
    DAGGER,
    DAGGER_MEANS,
    MEMORY,
    answered,
    board_html,
    page_html,
    section_verdict,
    to_decide,
    verdict_folded,
)
from helpers.record.plot_builders import rules_compared
from helpers.record.sections.signed import FIRST
from helpers.studies.report import Finding
from helpers.studies.status import one_line
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

EMPTY = {"meta", "img", "br"}


class Tags(HTMLParser):
    """Tags of a page, each with its attributes, and those that were closed out of turn."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.open, self.wrong = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def of(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture(scope="module")
def design(larkfield_design):
    return larkfield_design


@pytest.fixture(scope="module")
def record(design):
    return design.record()


@pytest.fixture(scope="module")
def page(record):
    return page_of(record.site_name)


@pytest.fixture(scope="module")
def page_in_inches(design):
    return page_of(design.site.name, "in. w.c.")


@pytest.fixture
def view(design, monkeypatch):
    monkeypatch.setattr(UNITS, "_listeners", [])
    monkeypatch.setattr(UNITS, "_system", "Pa")
    return RecordView(design)


def test_the_page_is_sound_html(page):
    tags = Tags(page)
    assert (tags.open, tags.wrong) == ([], [])
    names = [attrs["id"] for _, attrs in tags.tags if "id" in attrs]
    assert len(names) == len(set(names))
    assert {attrs["href"].removeprefix("#") for attrs in tags.of("a")} <= set(names)


def test_the_page_needs_no_network_and_runs_no_code(page):
    tags = Tags(page)
    assert not tags.of("script")
    assert not tags.of("link")
    assert not re.search(r"(?:src|href)=\"(?!data:|#)|url\(|@import", page)


def test_the_page_tells_of_time_and_chance_too(page):
    text = unescape(page)
    for title in ("Tuning and door events", "Low-demand stop", "Where the transmitters go", "A year of weather"):
        assert f">{title}</h2>" in text
    assert "final exit 0 opens at 10; final exit 0 shuts at 60" in text
    assert "Larkfield House is in smoke control: no low-demand stop." in text
    for key in ("step_tests", "tunings", "remedies", "placement", "year"):
        assert f'id="table-{key}"' in text


def test_a_picture_that_the_notebook_has_drawn_already_is_not_drawn_again(record, monkeypatch):
    data = record.pictures()["range"]
    alone = replace(record, sections=(record.section("range"),), summary=record.summary[:1])
    drawn = {"range": PicturePiece(lambda: data, exported=True).picture}
    afresh = page_html(alone)
    monkeypatch.setattr("helpers.record.page.picture_of", lambda data: pytest.fail("drawn again"))
    assert page_html(alone, drawn) == afresh


def kept(attrs):
    """The picture that an image's tag holds."""
    return Image.open(io.BytesIO(base64.b64decode(attrs["src"].removeprefix("data:image/png;base64,"))))


def test_every_picture_is_inside_and_has_its_words(page):
    pictures = Tags(page).of("img")
    assert len(pictures) >= 11
    for attrs in pictures:
        assert len(attrs["alt"]) > 60
        assert kept(attrs).size == (2 * int(attrs["width"]), 2 * int(attrs["height"]))


def test_what_fails_comes_first_cautions_before_any_instruction_and_the_verdict_before_what_stands_behind_it(page, record, view):
    text = unescape(re.sub(r"<[^>]+>", " ", page))
    first = (one_line(record.findings[0]), record.cautions[0], "Settings schedule", record.findings[0].remedy, record.summary[0])
    places = [text.index(words) for words in (*first, record.sections[1].figures[0].label)]
    assert places == sorted(places)
    in_view = view.summary()._repr_mimebundle_()["text/plain"].split("\n")
    assert in_view[len(record.fails) :] == [*record.summary]
    assert [line.partition(": ")[2][:20] for line in in_view[: len(record.fails)]] == [
        line.partition(": ")[2][:20] for line in record.fails
    ]


def test_every_figure_stands_with_its_unit_its_reason_and_its_source(page, record):
    text = unescape(page)
    assert DAGGER_MEANS in text
    for section in record.sections:
        for figure in section.figures:
            for part in (figure.label, figure.text, figure.reason, figure.source):
                assert part.replace(MEMORY, DAGGER) in text


def test_every_finding_table_and_note_is_on_the_page(page, record):
    text = unescape(page).replace(DAGGER, MEMORY)
    for section in record.sections:
        assert section.verdict in text
        for finding in section.findings:
            assert finding.what in text
        for table in section.tables:
            cells = {str(cell) for row in table.rows for cell in row if row[0] != FIRST}  # what fails stands on the same sheet
            split = {cell: cell.partition(" ") for cell in cells if cell not in text}  # the unit stands in the head
            assert all(f">{number}</td>" in text and f", {unit}</th>" in text for number, _, unit in split.values())
        assert all(note in text for note in section.notes)


def test_a_verdict_is_as_grave_as_its_gravest_finding(record):
    fan, site = record.section("fan"), record.section("site")
    assert section_verdict(fan).kind == "wrong"
    assert section_verdict(site) is None


def test_a_site_is_exported_in_one_call_and_the_same_site_gives_the_same_file(tmp_path, page):
    """Studied and drawn anew, nothing shared with the page before."""
    path = Design(read_site(demo_sites()["Larkfield House"])).write(tmp_path / "record.html")
    assert path.read_text(encoding="utf-8") == page


def test_a_page_in_inches_of_water_has_no_pascals_but_on_the_plates_of_metric_instruments(page_in_inches):
    text = re.sub(r"data:[^\"]+", "", page_in_inches)
    text = without_plates(text)
    assert "cfm" in text
    assert "0.10 in. w.c." in text
    assert not re.search(r"\d Pa\b", text)


def test_a_design_is_written_in_the_system_asked_for_and_else_in_its_own(design, tmp_path, monkeypatch):
    monkeypatch.setattr("helpers.record.page.page_html", lambda record: record.system)
    in_inches = design.but(units="in. w.c.")
    for asked, system in ((None, "in. w.c."), ("Pa", "Pa")):
        assert in_inches.write(tmp_path / "record.html", asked).read_text(encoding="utf-8") == system


def test_a_sentence_that_ends_on_inches_of_water_gets_no_second_full_stop():
    finding = Finding("attention", "The range is wide", "0.50 in. w.c.", "accuracy", "site file", "0 to 0.25 in. w.c.")
    assert "w.c.." not in findings_html([finding])
    assert "Why: accuracy." in findings_html([finding])


def test_what_is_no_site_is_refused_by_name():
    with pytest.raises(ValueError, match="site must be Site, got 'Larkfield House'"):
        Design("Larkfield House")


@pytest.mark.parametrize("name", ["x.xlsx", "x.txt", "x"])
def test_html_is_never_written_under_the_name_of_another_kind_of_file(name, design, tmp_path):
    with pytest.raises(ValueError, match=r"must end in \.html"):
        design.write(tmp_path / name)
    assert not (tmp_path / name).exists()


def test_signs_in_a_sites_name_are_shown_and_not_obeyed(record):
    name = "<script>alert(1)</script>"
    page = page_html(replace(record, title=name, site_name=name, site_title=name, sections=record.sections[:2], summary=(name,)))
    assert "<script" not in page
    assert page.count("&lt;script&gt;") >= 4


@pytest.mark.parametrize("written", ["page", "page_in_inches"])
def test_no_letter_of_a_records_pictures_is_cut_off_in_either_system(design, written, request):
    pictures = {attrs["alt"]: kept(attrs) for attrs in Tags(request.getfixturevalue(written)).of("img")}
    rules = picture_of(written_out(rules_compared(design, 0), "Pa" if written == "page" else "in. w.c."))
    pictures["rules"] = Image.open(io.BytesIO(rules.png()))
    for words, picture in pictures.items():
        pixels = np.asarray(picture.convert("L"))
        assert np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]]).min() > 200, words


def test_a_piece_of_the_record_follows_the_unit_switch(view):
    pieces = [view.summary(), view.verdict("window"), view.figures("fan"), view.table("injection"), view.findings()]
    picture = view.picture("range")
    UNITS.system = "in. w.c."
    assert all("in. w.c." in piece.widget.value for piece in pieces)
    assert "[in. w.c.]" in picture.picture.words


def test_the_walk_through_a_record_begins_with_the_switch_of_units_and_all_pieces_follow_it(view):
    window = view.verdict("window")
    switch, summary = view.summary().box.children
    assert "in. w.c." not in summary.value + window.widget.value
    switch.children[0].value = "in. w.c."
    assert "in. w.c." in summary.value
    assert "in. w.c." in window.widget.value


def test_a_piece_shows_itself_live_and_still_in_one_output(view):
    data = view.figures("window")._repr_mimebundle_()
    assert set(data) == {"application/vnd.jupyter.widget-view+json", "text/html", "text/plain"}
    picture, metadata = view.picture("fan")._repr_mimebundle_()
    assert set(picture) == {"application/vnd.jupyter.widget-view+json", "image/png", "text/plain"}
    assert metadata["image/png"]["alt"] == picture["text/plain"]


def test_a_piece_asked_for_again_is_the_same_one(view):
    assert view.rules(0) is view.rules(0)
    assert view.summary() is view.summary()


def test_a_piece_that_is_not_there_is_a_sentence_and_no_traceback(view):
    assert "profile average" in str(view.picture("profil"))
    assert "number from 0 to 6" in str(view.rules(17))
    assert view.table("nothing").kind == "entry"


def test_three_rules_are_laid_beside_each_other_in_one_case(design):
    data = written_out(rules_compared(design))
    assert [entry.text.split(":")[0] for entry in data.legend[:-1]] == ["average reading", "lowest reading", "highest reading"]
    assert re.fullmatch(r"winter, doors shut: doors out by average \d+, lowest \d+ and highest \d+", data.title)


def test_the_view_writes_the_page_named_after_the_site(view, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("helpers.pages.record.views.page_html", lambda record, drawn: record.title)
    assert view.export().text == "Written: records/larkfield_house.html"
    assert (tmp_path / "records" / "larkfield_house.html").read_text(encoding="utf-8") == "Design record: Larkfield House"


def test_the_front_picture_is_that_of_the_present_model(tmp_path):
    stored, fresh = (np.asarray(Image.open(path).convert("L"), float) for path in (FRONT_PICTURE, write_front_picture(tmp_path / "p.png")))
    assert stored.shape == fresh.shape
    assert (np.abs(stored - fresh) > 60).mean() < 0.01  # another release may draw letters a little differently


def test_the_record_is_printed_where_the_path_asks_for_a_pdf(view, page, tmp_path, monkeypatch):
    """What is handed to the printer is the record's own page; printing itself is tested with the smaller pages."""
    printed = {}

    def write_pdf(page, path, paper):
        printed.update(page=page, paper=paper)
        return path

    monkeypatch.setattr("helpers.plots.printer.write_pdf", write_pdf)
    monkeypatch.setattr("helpers.pages.record.views.page_html", lambda record, drawn: page if record == view.record else None)
    card = view.export(tmp_path / "record.pdf", "Letter")
    assert "record.pdf" in card.text
    assert printed == {"page": page, "paper": "Letter"}


def test_the_screen_of_a_record_says_what_to_buy_set_and_check_and_never_hands_out_what_fails(record):
    board = record.board
    assert [line.what for line in board.buy] == ["Fan", "Motor stated", "Relief damper", "Transmitters"]
    assert {"Set point", "Action", "Gain", "Integral time", "Failed reading", "Low-demand stop"} <= {line.what for line in board.set}
    schedule = {(row[0], row[1]): row[2] for row in record.section("settings").tables[0].rows}
    for line in board.set:
        if line.status == "wrong":
            assert line.value.endswith("do not enter"), line
    assert [
        line.value for line in board.buy if line.status == "wrong" and not re.search("do not buy|none|no fan|no usual", line.value)
    ] == []
    assert schedule["loop", "set point"].startswith("FAIL") == (
        dict((line.what, line.status) for line in board.set)["Set point"] == "wrong"
    )
    assert all(len(line.value.split()) <= 12 for lines in (board.buy, board.set, board.check) for line in lines)


def test_what_the_head_of_the_board_names_stands_in_view_under_it_and_no_figure_of_a_door_lacks_its_doors(record):
    left = to_decide(record.findings)
    assert sorted(map(id, left)) == sorted(map(id, record.findings))
    assert left[0] is record.findings[0]  # whom to ask is asked about this one
    assert ("a fan that is enough" in record.board.first) == (left[1].key == "fan")
    assert left.index(next(one for one in left if one.key == "fan")) < MOST_IN_VIEW
    head = answered(record)
    assert (head.kind, head.head) == (left[0].severity, one_line(left[0]))  # one first: head, whom to ask and list
    assert head.do == first_deed(record.findings)
    assert written_out(head.do) == "Ask: the designer first: the stair is taller than one supply point is good for"
    assert record.board.first.partition("first ")[2] in head.case
    doors = [line for line in record.board.check if line.what.startswith(("Lowest", "Highest")) and line.status == "wrong"]
    assert doors
    assert all(line.value.endswith(", doors shut") for line in doors)
    ends = [line for line in record.board.check if line.what.startswith(("Lowest", "Highest"))]
    assert not any(line.value == "not laid down" or line.status == "good" for line in ends)  # beside one that fails both have figures


def test_one_screen_counts_every_finding_and_folds_what_it_does_not_show(record):
    html = board_html(record, pictures=False)
    text = unescape(re.sub(r"<[^>]+>", " ", html))
    for key, word in (("wrong", "FAIL"), ("attention", "CHECK"), ("good", "PASS")):
        assert re.search(rf"{sum(one.severity == key for one in record.findings)}\s+. {word}", text)
    outside = unescape(re.sub(r"<[^>]+>", " ", re.sub(r"(</summary>).*?(?=<summary|$)", r"\1", html, flags=re.DOTALL)))
    assert all(section.title in outside for section in record.sections)
    assert record.findings[0].what.rstrip(".") in outside
    assert all(finding.what in text for finding in record.findings)


def test_the_reason_of_every_line_is_folded_under_it_on_the_screen(record):
    board, html = record.board, unescape(board_html(record, pictures=False))
    lines = [line for line in (*board.buy, *board.set, *board.check) if line.why]
    assert lines
    assert all(f"</summary>{line.why}</details>" in html for line in lines if line.value != "not laid down")


def test_the_printed_list_has_the_lines_of_the_list_on_the_screen_and_counts_the_others(record):
    left = [one for one in record.findings if one.severity != "good"]
    printed, screen = (unescape(re.sub(r"<[^>]+>", "", to_decide_html(record.findings, most))) for most in (2, 0))
    assert all((one_line(one) in printed) == (place < 2) for place, one in enumerate(left))
    assert all(one_line(one) in screen for one in left)
    assert f"{len(left) - 2} more under Findings" in printed


def test_of_a_long_verdict_its_beginning_is_in_view_and_the_whole_folded_under_it(record):
    counts = []
    for section in record.sections:
        seen = in_view(section.verdict)
        html, words = verdict_folded(section)
        counts.append(len(seen.split()))
        assert seen.removeprefix(NOT_YET_ENTERED).removesuffix(" …") in section.verdict
        rest = section.verdict.partition(seen.removeprefix(NOT_YET_ENTERED).removesuffix(" …"))[2]
        assert seen.endswith(" …") == (rest != "" and not seen.endswith(".")), "dots where a sentence is cut, not where one has ended"
        assert section.verdict in unescape(html)
        assert section.verdict in words
        assert seen.startswith(NOT_YET_ENTERED) == section.verdict.startswith(("Found at a set point", "Not to be entered"))
        passes = section_verdict(section) and section_verdict(section).kind == "good"
        told = verdict_folded(section, 20)[0]
        part, building = told.find("This part alone: "), told.find("Building: 20 FAIL in the record")
        assert (0 < building < part) == bool(passes)  # the graver stands on top
        assert not passes or "Ask:" in told
        assert "This part alone" not in html
    assert sorted(counts)[len(counts) // 2] <= MOST_SEEN
    assert max(counts) <= 3 + MOST_SENTENCE + 1


def test_a_section_past_a_limit_is_seen_with_its_gravest_finding_and_the_figure(record):
    """Which door, by how much, against which limit: in the first words, and not folded away."""
    failing = 0
    for section in record.sections:
        wrong = [one for one in section.findings if one.severity == "wrong"]
        seen = first_seen(section)
        if not wrong:
            assert seen == in_view(section.verdict)
            continue
        failing += 1
        assert seen.removeprefix(NOT_YET_ENTERED).startswith(wrong[0].what)
        assert wrong[0].figure.split(" ")[0].rstrip(",;:") in seen
        assert len(seen.split()) <= 3 + max(MOST_FOUND, MOST_SENTENCE) + 1
    assert failing >= 5


def test_a_record_out_of_date_says_so_and_exports_nothing_until_it_is_made_again(view, monkeypatch):
    monkeypatch.setattr("helpers.pages.record.views.board_html", lambda record: record.title)
    now = [True]
    board = RecordBoard(lambda: view, lambda: now[0])
    assert "OUT OF DATE" not in board.line.value
    assert not any(button.disabled for button in board.exports)
    now[0] = False
    board.tell()
    assert "OUT OF DATE" in board.line.value
    assert all(button.disabled for button in board.exports)
    now[0] = True
    board.refresh()
    assert "OUT OF DATE" not in board.line.value
    assert not board.again.disabled
