"""The box for exercises: own numbers for each learner, a slip is named, the way is shown after a right answer only."""

import html
import re

import pytest

from helpers.lessons import LESSONS
from helpers.teaching.plan import section_of
from helpers.teaching.questions import Chosen, Exercise, Measured, Slip, exercise_of
from helpers.teaching.record import LearnerRecord
from helpers.units.said import written_out
from helpers.widgets import boxes
from helpers.widgets.controls import UNITS
from helpers.widgets.exercise_box import ExerciseBox

LESSON = "pressure_window"


def span(draw):
    """Span of a range. More."""
    top, bottom = draw.quantity("pressure", 100.0, 300.0, 25.0), -50.0
    slip = Slip("range", "You took the <top> alone.", top)
    question = f"A range from {draw.say(bottom, 'pressure')} to {draw.say(top, 'pressure')}. <b>Its span?</b>"
    return Exercise(question, Measured(top - bottom, "pressure", 1.0), (slip,), ("top less bottom & done",))


def action(draw):
    """Reverse or direct."""
    slip = Slip("mixed up", "Too high: must the fan go slower?", "direct")
    return Exercise("A supply fan?", Chosen("reverse", ("reverse", "direct")), (slip,), ("too high, so slower",))


pytestmark = pytest.mark.usefixtures("units_alone")


@pytest.fixture
def later(monkeypatch):
    """Lets a moment pass between two things a reader does."""
    passed = []
    monkeypatch.setattr(boxes.time, "monotonic", lambda: 100.0 + 5.0 * len(passed))
    return lambda: passed.append(1)


@pytest.fixture
def record(tmp_path):
    return LearnerRecord(tmp_path)


@pytest.fixture
def box(record):
    return ExerciseBox(LESSON, (span, action), record)


def answer(one, text):
    one.field.text = text
    one.check_button.click()
    return one.told.value


def right(one):
    return written_out(one.exercise.answer.says(one.exercise.answer.value), one.exercise.system)


def slip(one):
    return written_out(one.exercise.answer.says(one.exercise.slips[0].gives), one.exercise.system)


def press_enter(one, text):
    """As the browser tells it: the press of the key, then what was typed."""
    one.field.inner._handle_custom_msg({"event": "submit"}, [])
    one.field.inner.set_state({"value": text})


def test_a_slip_is_told_by_its_hint_and_kept_by_its_name(box, record):
    told = answer(box.exercises[0], slip(box.exercises[0]))
    assert "NOT YET" in told
    assert "You took the &lt;top&gt; alone." in told
    assert right(box.exercises[0]) not in told
    assert "done" not in told
    (event,) = record.events()
    assert (event.kind, event.lesson, event.item, event.good, event.slip) == ("answered", LESSON, "span", False, "range")


def test_who_is_stuck_gets_the_first_line_of_the_way_after_three_and_the_section_after_five(record):
    one = ExerciseBox(LESSON, LESSONS.of(LESSON).makers[1:2], record).exercises[0]
    first, section = one.exercise.way[0], section_of(LESSON, one.make.__name__)
    told = [answer(one, f"{number} N") for number in range(1001, 1007)]
    assert [html.escape(first) in words for words in told] == [False, False, True, True, True, True]
    assert [section in words for words in told] == [False, False, False, False, True, True]
    assert not any(html.escape(one.exercise.way[-1]) in words for words in told)
    opened_again = ExerciseBox(LESSON, LESSONS.of(LESSON).makers[1:2], record).exercises[0]
    assert section in answer(opened_again, "1007 N")


def test_a_refused_answer_is_no_wrong_one(record):
    one = ExerciseBox(LESSON, LESSONS.of(LESSON).makers[1:2], record).exercises[0]
    for text in ("a lot", "much", "5 Hz", "1001"):
        assert "first line" not in answer(one, text)


def test_a_figure_with_a_comma_turns_with_the_units(box):
    one = box.exercises[0]
    one.field.text = "249,089"
    UNITS.system = "in. w.c."
    assert one.field.text == "249,089"  # may be read in two ways: left as it was typed
    one.field.text = "1,0"
    UNITS.system = "Pa"
    assert one.field.text == "249.1"


def test_a_right_answer_shows_the_way_and_is_kept(box, record):
    told = answer(box.exercises[0], right(box.exercises[0]))
    assert "RIGHT" in told
    assert "top less bottom &amp; done" in told
    assert [event.good for event in record.events()] == [True]
    assert record.events()[0].seed == box.exercises[0].exercise.seed


def test_a_solved_card_folds_with_its_mark_in_its_head_and_another_one_unfolds_it(box):
    one = box.exercises[0]
    assert "RIGHT" not in one.head.value
    answer(one, right(one))
    assert "RIGHT" in one.head.value
    assert [part.layout.display for part in (one.asked, one.check_button, one.again_button)] == ["none", "none", None]
    assert "Its span?" in one.told.value.partition("<details>")[2]
    one.again_button.click()
    assert [part.layout.display for part in (one.asked, one.check_button, one.told)] == [None, None, "none"]
    assert "RIGHT" not in one.head.value


def test_a_choice_is_answered_wrong_then_right(box):
    assert "must the fan go slower" in answer(box.exercises[1], "direct")
    assert "Right: reverse." in answer(box.exercises[1], "reverse")


def test_what_is_no_answer_is_neither_graded_nor_kept(box, record):
    for text in ("", "  ", "a lot", "5 N"):
        assert "NOT USED" in answer(box.exercises[0], text)
        assert box.exercises[0].field.text == text
    box.exercises[1].check_button.click()
    assert "Type or choose an answer first" in box.exercises[1].told.value
    assert record.events() == []


def test_the_same_answer_again_is_no_other_try(box, record):
    for text in ("1", "1", "2", "1"):
        assert len(re.findall("NOT YET", answer(box.exercises[0], text))) == 1
    assert [event.text for event in record.events()] == ["1", "2", "1"]


def test_enter_checks_and_leaving_the_field_does_not(box, record, later):
    one = box.exercises[0]
    one.field.inner.set_state({"value": slip(one)})
    assert (one.told.value, record.events()) == ("", [])
    later()
    press_enter(one, right(one))
    assert "RIGHT" in one.told.value
    assert len(record.events()) == 1


def test_a_hint_that_enter_brought_stays_until_something_else_is_typed(box):
    one = box.exercises[0]
    press_enter(one, slip(one))
    assert "You took the" in one.told.value
    one.field.text = "2"
    assert one.told.value == ""


def test_enter_counts_too_where_what_was_typed_comes_first(box, record):
    one = box.exercises[0]
    one.field.inner.set_state({"value": right(one)})
    one.field.inner._handle_custom_msg({"event": "submit"}, [])
    assert "RIGHT" in one.told.value
    assert len(record.events()) == 1


def test_an_answer_that_comes_after_its_button_was_pressed_is_checked_all_the_same(box, record, later):
    one = box.exercises[0]
    for text in (slip(one), right(one)):
        later()
        one.check_button.click()
        one.field.inner.set_state({"value": text})
    assert "RIGHT" in one.told.value
    assert [event.good for event in record.events()] == [False, True]
    one.again_button.click()
    one.check_button.click()
    later()
    one.field.inner.set_state({"value": "1"})
    assert len(record.events()) == 2  # too late: it only left the field


def test_new_numbers_ask_the_same_with_other_figures_and_an_empty_field(box):
    one, before = box.exercises[0], box.exercises[0].exercise
    answer(one, right(one))
    questions = set()
    for _ in range(6):
        one.again_button.click()
        questions.add(one.exercise.question)
        assert (one.field.text, one.told.value) == ("", "")
    assert one.exercise.key == before.key
    assert len(questions) > 2


def test_a_solved_exercise_comes_with_other_numbers_when_the_page_is_opened_again(box, record):
    seed = box.exercises[0].exercise.seed
    answer(box.exercises[0], right(box.exercises[0]))
    again = ExerciseBox(LESSON, (span, action), record)
    assert again.exercises[0].exercise.seed != seed
    assert again.exercises[1].exercise.seed == box.exercises[1].exercise.seed  # not solved yet: the same numbers


def test_each_learner_has_his_own_numbers_and_keeps_them(tmp_path):
    def seeds(name, folder):
        record = LearnerRecord(tmp_path / folder)
        record.name = name
        return [one.seed for one in ExerciseBox(LESSON, (span, action), record).exercises]

    assert seeds("Ada", "1") == seeds("Ada", "2")
    assert seeds("Ada", "1") != seeds("Grace", "3")


def test_the_instructor_finds_the_same_numbers_from_the_seed(box):
    one = box.exercises[0]
    assert exercise_of(span, one.seed, "Pa") == one.exercise


def test_the_unit_switch_asks_in_the_other_units_and_carries_a_figure_over(box):
    one = box.exercises[0]
    one.field.text = "249.089"
    UNITS.system = "in. w.c."
    assert "in. w.c." in one.question.value
    assert (one.field.unit, one.field.text) == ("in. w.c.", "1")
    assert "Right" in answer(one, right(one))
    assert one.record.events()[-1].system == "in. w.c."


def test_a_hint_does_not_stay_beside_figures_it_was_not_said_of(box):
    one = box.exercises[0]
    answer(one, slip(one).removesuffix(" Pa"))
    UNITS.system = "in. w.c."
    assert one.told.value == ""


def test_a_choice_stays_chosen_through_the_unit_switch(box):
    one = box.exercises[1]
    answer(one, "direct")
    UNITS.system = "in. w.c."
    assert one.field.text == "direct"


def test_every_field_has_a_name_for_those_who_hear_the_page(box):
    assert box.exercises[0].field.inner.description == "Answer 1"
    assert box.exercises[0].field.inner.tooltip == "Answer 1, in Pa"
    assert box.exercises[1].field.inner.tooltip == "Answer 2"
    assert 'role="status"' in answer(box.exercises[0], "1")


def test_whatever_is_in_a_question_is_shown_as_text(box):
    assert "&lt;b&gt;Its span?&lt;/b&gt;" in box.exercises[0].question.value
    assert "<b>1. Span of a range. More.</b>" in box.exercises[0].head.value


def test_trouble_with_the_record_is_said_and_the_exercise_goes_on(tmp_path):
    (tmp_path / "file").write_text("x")
    one = ExerciseBox(LESSON, (span,), LearnerRecord(tmp_path / "file")).exercises[0]
    told = answer(one, right(one))
    assert "RIGHT" in told
    assert "could not be kept" in told


def test_a_page_without_a_kernel_shows_questions_options_and_units(box):
    shown = box._repr_mimebundle_()
    assert "Answer: ________ Pa" in shown["text/html"]
    assert "<li>reverse</li><li>direct</li>" in shown["text/html"]
    assert shown["text/plain"].startswith("1. Span of a range. More. A range from -50 Pa to")
    assert "2. Reverse or direct. A supply fan?" in shown["text/plain"]
