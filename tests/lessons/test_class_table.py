"""The class table: a simulated class with known slips is found as it was made, files that cannot be used are named, and no mark is taken on
trust."""

import copy
import io

import openpyxl
import pytest
from simulated_class import CODE, LEARNERS, NAMES, OTHER, answered, event, export, simulated_class, work_of, write

from helpers.classroom.books import class_table_book
from helpers.classroom.table import CHANGED, NO_SLIP, NOT_CHECKED, OTHER_CLASS, UNSIGNED, WHOLE, class_table
from helpers.classroom.teach_again import exercise_counts, prediction_counts, slip_counts, teach_again
from helpers.lessons import LESSONS
from helpers.teaching.questions import exercise_of
from helpers.teaching.seeds import seat_of, seed_of
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def taught(tmp_path_factory):
    """(the table of a simulated class, what is known of it)."""
    folder = tmp_path_factory.mktemp("class")
    rates = {"handle_force": 0.6, "pressure_from_signal": 0.4, "volts_at_the_input": 0.2, "gauge_reading": 0.1}
    known = simulated_class(folder, CODE, rates)
    return class_table(folder, CODE), known


@pytest.fixture
def one(tmp_path):
    """(folder, seat, events) of one learner's signed work on one page."""
    seat = seat_of(CODE, 7)
    events = work_of(seat, "Ada", slips=("handle_force",), lessons=("pressure_window",))
    write(tmp_path, "ada.json", export(events, seat))
    return tmp_path, seat, events


def test_the_table_finds_every_slip_of_a_class_of_thirty_as_often_as_it_was_made(taught):
    table, known = taught
    found = {}
    for one in slip_counts(table):
        found.setdefault(one.item, {})[one.slip] = one
    assert set(found) == set(known)
    for item, (slips, learners, still) in known.items():
        assert {name: count.learners for name, count in found[item].items()} == dict(slips)
        assert sum(count.learners for count in found[item].values()) == learners
        assert sum(count.still for count in found[item].values()) == still
        assert {count.tried for count in found[item].values()} == {LEARNERS}


def test_what_to_teach_again_begins_with_what_most_have_not_put_right(taught):
    table, known = taught
    told = teach_again(table)
    slip, often = known["handle_force"][0].most_common(1)[0]
    assert told[0].startswith(f'Page 01, The pressure window: The force at the handle. {often} of {LEARNERS} made the slip "{slip}"')
    assert any("Page 04" in one for one in told)


def test_solved_and_right_at_once_are_told_apart(taught):
    table, known = taught
    counts = {one.item: one for one in exercise_counts(table)}
    for item, (_, learners, still) in known.items():
        assert (counts[item].tried, counts[item].solved, counts[item].at_once) == (LEARNERS, LEARNERS - still, LEARNERS - learners)
    assert counts["most_borne"].at_once == LEARNERS


def test_names_of_any_script_come_through_to_table_and_spreadsheet(taught):
    table, _ = taught
    names = [f"{NAMES[number % len(NAMES)]} {number}" for number in range(LEARNERS)]
    assert [row.name for row in table.rows] == names
    assert {row.state for row in table.rows} == {WHOLE}
    sheet = openpyxl.load_workbook(io.BytesIO(class_table_book(table)))["Learners"]
    cells = [sheet.cell(row, 2) for row in range(2, 2 + LEARNERS)]
    assert [cell.value for cell in cells] == names
    assert {cell.data_type for cell in cells} == {"s"}


def test_two_hundred_learners_are_collected(tmp_path):
    for number in range(1, 201):
        seat = seat_of(CODE, number)
        exercise = exercise_of(LESSONS.of("pressure_window").makers[1], seat.seed("pressure_window", "handle_force"))
        write(tmp_path, f"{number}.json", export([answered(exercise, "pressure_window", exercise.answer.value)], seat))
    table = class_table(tmp_path, CODE)
    assert [row.seat for row in table.rows] == list(range(1, 201))
    assert exercise_counts(table)[0].at_once == 200


# Predictions


def test_predictions_are_counted_with_the_commonest_wrong_one(tmp_path):
    prediction = LESSONS.of("pressure_window").predictions[0]
    right = written_out(prediction.find()).answer.value
    wrong = next(option for option in prediction.options if option != right)
    for number, text in enumerate([wrong, wrong, wrong, right, "no option at all"], 1):
        write(tmp_path, f"{number}.json", export([event("predicted", "pressure_window", prediction.key, text=text)]))
    table = class_table(tmp_path)
    (count,) = prediction_counts(table)
    assert (count.made, count.agreed, count.commonest, count.so_many) == (4, 1, wrong, 3)
    assert "3 of 4 predicted otherwise" in teach_again(table)[-1]


def test_the_last_prediction_counts(tmp_path):
    prediction = LESSONS.of("pressure_window").predictions[0]
    texts = [prediction.options[0], written_out(prediction.find()).answer.value]
    write(tmp_path, "a.json", export([event("predicted", "pressure_window", prediction.key, text=text) for text in texts]))
    assert class_table(tmp_path).rows[0].agreed == 1


# What the signature tells


def state_after(folder, body):
    write(folder, "ada.json", body)
    return class_table(folder, CODE).rows[0]


def test_whole_unsigned_changed_and_foreign_records_are_told_apart(one):
    folder, seat, events = one
    body = export(events, seat)
    assert state_after(folder, body).state == WHOLE
    assert state_after(folder, export(events)).state == UNSIGNED
    assert state_after(folder, export(events, seat_of(OTHER, 7))).state == OTHER_CLASS
    assert class_table(folder).rows[0].state == NOT_CHECKED


CHANGES = {
    "a better answer": lambda body: body["events"][2].update(text="33", good=True, slip=""),
    "another name": lambda body: body["events"][0].update(text="Grace"),
    "another seat": lambda body: body["seat"].update(number=8),
    "a seat no class has": lambda body: body["seat"].update(number=900),
    "an event less": lambda body: body["events"].pop(1),
    "events in another order": lambda body: body["events"].reverse(),
    "a later time": lambda body: body["events"][1].update(at="2027-01-01T00:00:00+00:00"),
    "no seat any more": lambda body: body.pop("seat"),
    "another signature": lambda body: body.update(signature="0" * 64),
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_was_changed_after_signing_is_told(one, change):
    folder, seat, events = one
    body = copy.deepcopy(export(events, seat))
    CHANGES[change](body)
    assert state_after(folder, body).state == CHANGED


def test_another_order_of_the_files_own_words_is_no_change(one):
    folder, seat, events = one
    body = export([dict(reversed(entry.items())) for entry in events], seat)
    assert state_after(folder, dict(reversed(body.items()))).state == WHOLE


def test_a_record_of_a_seat_whose_signature_was_taken_off_was_changed_and_does_not_count(one):
    folder, seat, events = one
    body = export(events, seat)
    del body["signature"]
    assert state_after(folder, body).state == CHANGED


def test_a_changed_record_is_shown_and_does_not_count_in_what_the_class_did(one):
    folder, seat, events = one
    body = export(events, seat)
    body["events"][0]["text"] = "Grace"
    write(folder, "ada.json", body)
    table = class_table(folder, CODE)
    assert (len(table.rows), table.counted, slip_counts(table)) == (1, (), ())


# Marks are given anew


def test_a_mark_in_the_file_is_not_believed(one):
    """Signed with the seat's own key, every answer declared right: the computer is the learner's."""
    folder, seat, events = one
    honest = class_table(folder, CODE).rows[0]
    for entry in events[1:]:
        entry.update(good=True, slip="")
    write(folder, "ada.json", export(events, seat))
    row = class_table(folder, CODE).rows[0]
    assert row.state == WHOLE
    assert (row.solved, row.slips) == (honest.solved, honest.slips)
    assert row.wrongly_recorded == 1
    assert "marks otherwise than they deserve: 1." in row.remark


def test_right_answers_to_somebody_elses_numbers_do_not_count(one):
    folder, seat, events = one
    neighbour = work_of(seat_of(CODE, 8), "Ada", lessons=("pressure_window",))
    write(folder, "ada.json", export([events[0], *neighbour[1:]], seat))
    row = class_table(folder, CODE).rows[0]
    assert (row.state, row.solved) == (WHOLE, set())
    assert "other numbers than this seat or name has" in row.remark


def test_later_numbers_of_the_same_seat_count_as_solved_and_not_as_at_once(one):
    folder, seat, events = one
    again = exercise_of(LESSONS.of("pressure_window").makers[1], seat.seed("pressure_window", "handle_force", 3))
    write(folder, "ada.json", export([*events, answered(again, "pressure_window", again.answer.value)], seat))
    row = class_table(folder, CODE).rows[0]
    assert ("pressure_window", "handle_force") in row.solved - row.at_once


def test_a_learner_without_a_seat_has_the_numbers_of_any_name_he_had(tmp_path):
    make = LESSONS.of("pressure_window").makers[1]
    exercises = [exercise_of(make, seed_of(name, "pressure_window", "handle_force", 0)) for name in ("", "Ada", "Grace")]
    events = [event("name", text="Ada"), *(answered(one, "pressure_window", one.answer.value) for one in exercises)]
    write(tmp_path, "ada.json", export(events))
    assert [answer.turn for answer in class_table(tmp_path, CODE).rows[0].answers] == [0, 0, None]


def test_a_wrong_answer_that_is_no_usual_slip_is_counted_as_such(one):
    folder, seat, events = one
    exercise = exercise_of(LESSONS.of("pressure_window").makers[1], seat.seed("pressure_window", "handle_force"))
    write(folder, "ada.json", export([events[0], answered(exercise, "pressure_window", 12345.0)], seat))
    assert [count.slip for count in slip_counts(class_table(folder, CODE))] == [NO_SLIP]


def test_work_this_table_does_not_mark_is_named_and_does_no_harm(one):
    folder, seat, events = one
    strange = [event("answered", "fault_bench", "x", text="y"), event("answered", "pressure_window", "handle_force", 5, "bar", "3")]
    write(folder, "ada.json", export([*events, *strange], seat))
    assert "pages that this table does not mark: 2." in class_table(folder, CODE).rows[0].remark


def test_cases_of_the_fault_bench_are_counted_as_they_were_judged_the_first_time(one):
    folder, seat, events = one
    judged = [(5, True, ""), (6, False, "gain kept"), (6, True, ""), (7, True, "")]
    cases = [
        event("bench", "fault_bench", "level 1", number, text="60 points, 12 minutes", good=right, slip=slip)
        for number, right, slip in judged
    ]
    write(folder, "ada.json", export([*events, *cases], seat))
    row = class_table(folder, CODE).rows[0]
    assert (len(row.cases), row.found, row.remark) == (3, 2, "")


# Several files of one learner


def test_of_two_files_of_one_learner_the_fuller_one_is_taken(one):
    folder, seat, events = one
    write(folder, "early.json", export(events[:3], seat))
    table = class_table(folder, CODE)
    assert [row.file for row in table.rows] == ["ada.json"]
    (left,) = table.left_out
    assert left.why == (
        "early.json, signed and whole, is another file of seat 7: ada.json was taken, signed and whole, which holds all that is in it"
    )


def test_a_signed_record_comes_before_a_fuller_one_that_was_changed(one):
    folder, seat, events = one
    body = export([*events, *work_of(seat, "Ada", lessons=("scaling_the_signal",))], seat)
    body["events"][0]["text"] = "Mallory"
    write(folder, "aaa.json", body)
    table = class_table(folder, CODE)
    assert [(row.file, row.state) for row in table.rows] == [("ada.json", WHOLE)]
    assert "aaa.json, changed after signing" in table.left_out[0].why
    assert "entries that the other does not" in table.left_out[0].why


def test_two_seats_that_share_entries_are_two_learners_and_it_is_said(one):
    folder, _, events = one
    neighbour = seat_of(CODE, 8)
    write(folder, "copied.json", export([*work_of(neighbour, "Grace", lessons=("pressure_window",)), *events[1:]], neighbour))
    table = class_table(folder, CODE)
    assert [(row.seat, row.state) for row in table.rows] == [(7, WHOLE), (8, WHOLE)]
    assert "The same entries are in copied.json as well" in table.rows[0].remark
    assert "The same entries are in ada.json as well" in table.rows[1].remark


def test_an_unsigned_copy_does_not_push_a_signed_record_out(one):
    folder, _, events = one
    write(folder, "aaa.json", export([*events, *(event("answered", "pressure_window", "handle_force", 1, text="1") for _ in range(50))]))
    assert [row.file for row in class_table(folder, CODE).rows] == ["ada.json"]


def test_a_wrong_class_code_is_thought_of(one):
    folder, _, _ = one
    assert teach_again(class_table(folder, OTHER)) == (
        "None of 1 records counts: of another class, or changed after signing. Is the class code the right one?",
    )


def test_two_learners_of_one_name_are_two(tmp_path):
    for number in (1, 2):
        write(tmp_path, f"{number}.json", export([event("name", text="José")]))
    assert [row.name for row in class_table(tmp_path).rows] == ["José", "José"]


# What cannot be used is named, and the rest goes on
