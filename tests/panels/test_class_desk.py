"""Desk and papers of a class: sheet and screen ask the same, papers hold whatever somebody is called, and trouble gets a sentence."""

import errno
import json
import os
import re

import numpy as np
import pytest

from helpers.classroom import desk as desk_module
from helpers.classroom.desk import ClassDesk, ClassView, WrittenFiles, collect_class, make_class, slip_picture, slip_plot
from helpers.classroom.instructor import example_class
from helpers.classroom.sets import class_set, key_page, seat_page, sheets_page, table_html
from helpers.classroom.table import ClassTable, class_table
from helpers.lessons import LESSONS
from helpers.pages.progress import NOBODY, ProgressView, SeatEntry
from helpers.plots import printer as pdf
from helpers.plots.picture import picture_of
from helpers.teaching.record import LearnerRecord
from helpers.teaching.seeds import PROTECTION, seat_of
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS
from helpers.widgets.exercise_box import ExerciseBox

CODE, PAGE = "autumn class of the roof fans", "pressure_window"
NAMES = ("José Ñandú", "عائشة", "देवनागरी", "山田 花子", "<b>O'Brien</b>", "../../etc", "NUL", "\u202egpj.exe", "\U0001f6aa")


pytestmark = pytest.mark.usefixtures("units_alone")


@pytest.fixture
def record(tmp_path):
    return LearnerRecord(tmp_path / "own")


@pytest.fixture(scope="module")
def papers():
    return class_set(CODE, len(NAMES), lessons=1, names=NAMES, title="Autumn & winter")


@pytest.fixture(scope="module")
def collected(tmp_path_factory):
    """Records of two learners at seats: one right throughout, one with a slip."""
    folder = tmp_path_factory.mktemp("collected")
    for number, slips in ((1, 0), (2, 1)):
        record = LearnerRecord(folder / f"own {number}")
        record.name, record.seat = NAMES[number - 1], seat_of(CODE, number)
        box = ExerciseBox(PAGE, LESSONS.of(PAGE).makers[1:3], record)
        for one in box.exercises:
            answer = one.exercise.answer
            one.field.text = written_out(answer.says(one.exercise.slips[0].gives if slips else answer.value))
            one.check()
        (folder / "in").mkdir(exist_ok=True)
        record.export(folder / "in" / f"{number}.json")
    (folder / "in" / "notes.json").write_text("bring chalk")
    return class_table(folder / "in", CODE)


# Sheet and screen


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_screen_and_sheet_ask_a_seat_the_same(record, system):
    UNITS.system = system
    record.name, record.seat = "Ada", seat_of(CODE, 2)
    shown = [one.exercise.question for one in ExerciseBox(PAGE, LESSONS.of(PAGE).makers, record).exercises]
    assert shown == [exercise.question for exercise in class_set(CODE, 2, lessons=1, system=system).sheets[1].exercises]


def test_what_was_solved_before_class_does_not_move_the_seats_numbers(record):
    one = ExerciseBox(PAGE, LESSONS.of(PAGE).makers[1:2], record).exercises[0]
    record.answered(PAGE, "handle_force", one.seed, "Pa", "x", True)
    record.seat = seat_of(CODE, 2)
    at_seat = ExerciseBox(PAGE, LESSONS.of(PAGE).makers[1:2], record).exercises[0]
    assert (at_seat.seed, at_seat.solved_before) == (seat_of(CODE, 2).seed(PAGE, "handle_force"), False)
    record.answered(PAGE, "handle_force", at_seat.seed, "Pa", "x", True)
    again = ExerciseBox(PAGE, LESSONS.of(PAGE).makers[1:2], record).exercises[0]
    assert (again.seed, again.solved_before) == (seat_of(CODE, 2).seed(PAGE, "handle_force", 1), True)


def test_who_has_no_seat_or_leaves_it_has_the_numbers_of_the_name(record):
    record.name = "Ada"
    before = ExerciseBox(PAGE, LESSONS.of(PAGE).makers, record).exercises[1].seed
    record.seat = seat_of(CODE, 2)
    record.seat = None
    assert ExerciseBox(PAGE, LESSONS.of(PAGE).makers, record).exercises[1].seed == before


def test_a_seat_is_taken_by_its_key_and_left_again(record):
    entry = SeatEntry(record)
    assert entry.words == NOBODY
    entry.key.value = seat_of(CODE, 7).key.lower()
    entry.take_button.click()
    assert LearnerRecord(record.path.parent).seat == seat_of(CODE, 7)
    assert entry.key.value == ""
    assert "Seat 7 of the class with the mark RKDX" in entry.where.value
    assert "DONE" in entry.told.value
    entry.leave_button.click()
    assert (record.seat, entry.words) == (None, NOBODY)


@pytest.mark.parametrize("typed", ["", "7", "7-RKDX-TMTB-WJWK-3KH3-34RF-1H", "<b>x</b>"])
def test_a_slip_in_a_seat_key_is_told_and_changes_nothing(record, typed):
    record.seat = seat_of(CODE, 3)
    entry = SeatEntry(record)
    entry.key.value = typed
    entry.take()
    assert "NOT USED" in entry.told.value
    assert (record.seat.number, entry.key.value) == (3, typed)


def test_a_seat_that_was_changed_by_hand_is_told_and_the_lesson_goes_on(record):
    record._add("seat", text="7-not-a-key")
    assert record.seat is None
    assert "take it again" in record.trouble
    assert ExerciseBox(PAGE, LESSONS.of(PAGE).makers[:1], record).exercises[0].exercise.question


def test_the_start_page_has_the_seat_and_says_that_an_export_is_signed(record, tmp_path):
    view = ProgressView(record)
    view.seat.key.value = seat_of(CODE, 7).key
    view.seat.take()
    view.call("Ada")
    assert "stay those of your seat" in view.told.value
    view.file.value = str(tmp_path / "ada.json")
    view.export()
    assert "Written: ada.json, 1 entries, signed for seat 7." in view.told.value
    assert json.loads((tmp_path / "ada.json").read_text(encoding="utf-8"))["seat"] == {"class": "RKDX", "number": 7}


# Papers


def test_every_sheet_has_its_seat_its_key_its_name_and_a_line_for_each_answer(papers):
    page = sheets_page(papers)
    assert page.count('<section class="seat">') == len(NAMES)
    for sheet, name in zip(papers.sheets, NAMES, strict=True):
        assert sheet.seat.key in page
        assert f"<bdi>{name}</bdi>" in page or "<" in name or "\u202e" in name
    assert "\u202e" not in page  # a sign that turns letters round is not shown as it is
    assert "gpj.exe" in page
    assert "&lt;b&gt;O&#x27;Brien&lt;/b&gt;" in page
    assert "<b>O'Brien" not in page
    one = seat_page(papers, papers.sheets[0])
    assert one.count('class="question"') == len(LESSONS.of(PAGE).makers)
    assert not any(sheet.seat.key in one for sheet in papers.sheets[1:])


def test_a_sheet_gives_no_answer_and_the_key_gives_all_with_the_way(papers):
    sheets, key = sheets_page(papers), key_page(papers)
    assert CODE not in sheets + key
    for sheet in papers.sheets[:3]:
        for exercise in sheet.exercises:
            for step in exercise.way:
                assert step.split("<")[0][:40] in key.replace("&#x27;", "'")
                assert step not in sheets
    assert all(text[:60] in key.replace("&#x27;", "'") for text in PROTECTION)


def test_papers_are_told_apart_without_colour(papers):
    inks = set(re.findall(r"#[0-9a-f]{6}\b", re.sub(r"<style>.*?</style>", "", sheets_page(papers), flags=re.DOTALL)))
    assert inks == set()


def test_one_call_writes_sheets_key_and_mark_sheet_again_and_again_the_same(tmp_path):
    written = make_class(CODE, len(NAMES), lessons=1, names=NAMES, folder=tmp_path / "set", pdf=False)
    assert {path.name for path in written.paths if path.parent == tmp_path / "set"} == {"mark_sheet.xlsx", "sheets.html", "key.html"}
    seats = sorted(path.name for path in (tmp_path / "set" / "seats").iterdir())
    assert seats[0] == "seat_001_José_Ñandú.html"
    assert [re.fullmatch(r"seat_\d{3}_\w[\w\u0900-\u097f]*\.html", name) is not None for name in seats] == [True] * len(NAMES)
    before = {path.name: path.read_bytes() for path in written.paths if path.suffix == ".html"}
    again = make_class(CODE, len(NAMES), lessons=1, names=NAMES, folder=tmp_path / "set", pdf=False)
    assert {path.name: path.read_bytes() for path in again.paths if path.suffix == ".html"} == before
    assert "mark_sheet_2.xlsx" in str(again)  # marks may stand in the first
    assert f"{len(NAMES)} pages, one for each seat" in again._repr_mimebundle_()["text/html"]


@pytest.mark.skipif(pdf.browser() is None and not os.environ.get("CI"), reason="no Chromium browser on this machine; CI installs one")
def test_each_seats_sheet_begins_on_a_paper_of_its_own(tmp_path, monkeypatch):
    parts = desk_module._parts
    monkeypatch.setattr(desk_module, "_parts", lambda made: list(parts(made))[:1])  # the key is printed the same way; it would take as long
    written = make_class(CODE, 2, lessons=1, each=2, paper="Letter", folder=tmp_path)
    (printed,) = [path for path in written.paths if path.suffix == ".pdf"]
    assert len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes())) == 2
    assert (printed.name, written.note) == ("sheets.pdf", "")


def test_papers_of_an_earlier_set_in_the_same_folder_are_named(tmp_path):
    make_class(CODE, 2, lessons=1, each=1, folder=tmp_path, pdf=False)
    assert make_class(CODE, 2, lessons=1, each=1, folder=tmp_path, pdf=False).note == ""
    fewer = make_class(CODE, 1, lessons=1, each=1, folder=tmp_path, pdf=False)
    assert "an earlier set" in fewer.note
    assert "seat_002.html" in fewer.note


def test_many_seats_are_printed_in_parts(monkeypatch, papers):
    monkeypatch.setattr(desk_module, "A_PRINT", 20)
    names = [name for name, _ in desk_module._parts(papers)]
    assert names[:3] == ["sheets_001-003.pdf", "sheets_004-006.pdf", "sheets_007-009.pdf"]
    assert names[3:] == ["key_01-02.pdf", "key_03-04.pdf", "key_05-06.pdf"]


def test_without_a_browser_the_pages_are_there_and_the_note_says_what_is_not(tmp_path, monkeypatch):
    monkeypatch.setattr(pdf, "browser", lambda: None)
    written = make_class(CODE, 1, lessons=1, each=1, folder=tmp_path)
    assert "no Chromium browser was found" in written.note
    assert (tmp_path / "sheets.html").exists()


def test_a_full_disk_gets_one_sentence_and_what_was_written_before_stays(tmp_path, monkeypatch):
    make_class(CODE, 1, lessons=1, each=1, folder=tmp_path, pdf=False)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*.*")}

    def full(handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ValueError, match="the disk is full"):
        make_class(CODE, 1, lessons=1, each=1, folder=tmp_path, pdf=False)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*.*")} == before


# The table


def test_the_view_shows_learners_slips_and_what_was_left_out(collected):
    view = ClassView(collected)
    bundle = view._repr_mimebundle_()
    assert "To teach again:" in bundle["text/plain"]
    assert "عائشة, seat 2: signed and whole, 0 of 2 solved." in bundle["text/plain"]
    assert "Left out: notes.json is no learner's record" in bundle["text/plain"]
    assert "<bdi>عائشة</bdi>" in bundle["text/html"]
    assert 'alt="Slips of a class of 2' in bundle["text/html"]


def test_a_table_is_exported_beside_the_one_before(collected, tmp_path):
    names = [[path.name for path in ClassView(collected).export(tmp_path).paths] for _ in range(2)]
    assert names[0] == ["class_table.xlsx", "class_table.html", "class_table.png"]
    assert names[1] == ["class_table_2.xlsx", "class_table_2.html", "class_table_2.png"]
    assert PROTECTION[0][:50] in (tmp_path / "class_table.html").read_text(encoding="utf-8")


def test_whatever_a_learner_is_called_is_shown_as_text(tmp_path):
    record = LearnerRecord(tmp_path / "own")
    record.name = "<img src=x onerror=alert(1)>\u202e" + "x" * 500
    (tmp_path / "in").mkdir()
    record.export(tmp_path / "in" / "a.json")
    html = table_html(class_table(tmp_path / "in"))
    assert "<img src=x" not in html
    assert "<bdi>&lt;img src=x onerror=alert(1)&gt;" in html


def test_no_name_word_or_answer_of_a_record_is_markup_or_moves_a_terminal(tmp_path):
    nasty = "\"'&<script>alert(1)</script>"  # control characters are refused where a record is read
    record = LearnerRecord(tmp_path / "own")
    record.predicted(PAGE, "top door", "60", "Pa")
    record.answered(PAGE, "handle_force", 1, "Pa", "1", False, "slip")
    body = json.loads(record.export(tmp_path / "own.json").read_text(encoding="utf-8"))
    body["events"].append({**body["events"][0], "uid": "0" * 32, "kind": "name", "lesson": "", "item": "", "text": nasty})
    for event in body["events"][:2]:
        event["text"] = nasty
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "<script>own.json").write_text(json.dumps(body), encoding="utf-8")
    (tmp_path / "in" / "<script>\x07\x1b[31m.json").write_text("no record")
    view = ClassView(class_table(tmp_path / "in"))
    assert len(view.table.rows) == len(view.table.left_out) == 1
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in view.html
    assert "<script" not in view.html
    assert not set("\x07\x1b") & set(view.html + view.words)


def test_in_the_learners_table_words_stand_left_and_numbers_right(collected):
    row = re.search(r"<tbody>(<tr>.*?</tr>)", table_html(collected))[1]
    cells = re.findall(r'<td style="text-align:(\w+)">(.*?)</td>', row)
    assert len(cells) == row.count("<td")
    assert {(side, re.sub("<.*?>", "", inside).isdigit()) for side, inside in cells} == {("right", True), ("left", False)}


def test_the_bars_are_told_in_words(collected):
    words = slip_picture(collected).words
    assert words.startswith("Slips of a class of 2, by how many learners made them. 01 The")
    assert ": 1, of whom 1 have not put it right." in words
    assert "No slip was recorded." in slip_picture(ClassTable("", (), ())).words


def test_both_parts_of_a_bar_are_apart_in_grey_and_are_drawn_to_their_length():
    picture = picture_of(slip_plot([("a slip", 3, 1), ("another", 0, 2)], 5))
    ends = [(np.ptp(patch.get_xy()[:, 0]), patch.get_xy()[:, 0].min(), patch.get_hatch()) for patch in picture.figure.axes[0].patches]
    assert [(low, wide, hatch or None) for wide, low, hatch in ends if wide] == [(0, 3, "////"), (3, 1, None), (0, 2, None)]
    assert picture.png().startswith(b"\x89PNG")


# The desk


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return ClassDesk()


def test_the_desk_makes_a_set_and_does_not_show_the_class_code(desk, monkeypatch):
    monkeypatch.setattr(pdf, "browser", lambda: None)
    desk.code.value, desk.seats.value, desk.title.value, desk.each.value = CODE, 2, "Autumn, group B", 1
    desk.make_button.click()
    assert "Written into classes/Autumn_group_B" in desk.told.value
    assert CODE not in desk.told.value + str(desk._repr_mimebundle_()["text/html"])
    assert not desk.make_button.disabled


def test_pages_are_ticked_at_the_desk_and_all_exercises_are_what_it_opens_with(desk, monkeypatch):
    asked = []
    monkeypatch.setattr(desk_module, "make_class", lambda *given, **more: asked.append(given[2:]) or WrittenFiles(".", ()))
    desk.make()
    for key, tick in desk.pages.items():
        tick.value = key in ("transmitter_range", "reverse_or_direct")
    desk.each.value = 2
    desk.make()
    assert asked == [(("pressure_window",), None), (("transmitter_range", "reverse_or_direct"), 2)]
    assert desk.each.label == "2"


def test_the_class_table_has_no_column_in_which_nobody_has_anything():
    heads = re.findall(r"<th [^>]*>(.*?)</th>", example_class().html.partition("Learners</h2>")[2].partition("</thead>")[0])
    assert heads == ["Seat", "Name", "Record", "Tried", "Solved", "Right at once", "Wrong answers", "File"]


def test_a_wrong_entry_at_the_desk_gets_a_sentence(desk):
    desk.code.value = "short"
    desk.make_button.click()
    assert "class code must be 8 to 200 letters, got 5" in desk.told.value
    desk.collect_button.click()
    assert "NOT USED" in desk.told.value


def test_a_drawn_code_is_put_into_the_field_and_told(desk):
    desk.new_button.click()
    assert desk.code.value in desk.told.value
    assert len(desk.code.value) == 14


def test_the_desk_collects_and_writes_the_table(desk, tmp_path, collected):
    (tmp_path / "records_of_learners").mkdir()
    desk.code.value = CODE
    desk.collect_button.click()
    assert "class_table.xlsx" in desk.told.value
    assert desk.image.layout.display is None
    assert "What to teach again" in desk.table.value
    assert collect_class(tmp_path / "records_of_learners").table.rows == ()
    assert PROTECTION[1] in desk._repr_mimebundle_()["text/plain"]
