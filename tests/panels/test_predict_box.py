"""The box for a prediction: what is kept is there again, in whatever units; the result is told only to those who have predicted."""

import pytest

from helpers.teaching.questions import Chosen, Measured, Outcome, Prediction
from helpers.teaching.record import LearnerRecord
from helpers.units.said import unit_of
from helpers.widgets import boxes
from helpers.widgets.boxes import FIRST, CompareBox, PredictBox
from helpers.widgets.controls import UNITS

ASKED = []


def find():
    ASKED.append(1)
    return Outcome(Measured(60.0, "pressure", 6.0), f"the <closer> leaves the rest, in {unit_of('pressure')}.")


FIGURE = Prediction("figure", lambda: f"How much <air>, in {unit_of('pressure')}?", find, dimension="pressure")
ACTION = Prediction(
    "action", lambda: "Which?", lambda: Outcome(Chosen("reverse", ("reverse", "direct")), "too high."), ("reverse", "direct")
)


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


def press_enter(box, text):
    """As the browser tells it: the press of the key, then what was typed."""
    field = box.field.inner
    field._handle_custom_msg({"event": "submit"}, [])
    field.set_state({"value": text})


def test_a_figure_is_kept_as_it_was_typed_with_its_units(record):
    box = PredictBox("pressure_window", FIGURE, record)
    box.field.text = "55"
    box.keep_button.click()
    assert record.prediction("pressure_window", "figure") == ("55", "Pa")
    assert "Kept" in box.told.value


def test_enter_keeps_and_leaving_the_field_does_not(record, later):
    box = PredictBox("pressure_window", FIGURE, record)
    box.field.inner.set_state({"value": "54"})
    assert record.events() == []
    later()
    press_enter(box, "55")
    assert record.prediction("pressure_window", "figure") == ("55", "Pa")


def test_a_figure_that_comes_after_its_button_was_pressed_is_kept(record, later):
    box = PredictBox("pressure_window", FIGURE, record)
    box.keep_button.click()
    assert "Type an answer first" in box.told.value
    box.field.inner.set_state({"value": "55"})
    assert record.prediction("pressure_window", "figure") == ("55", "Pa")


def test_what_is_no_answer_gets_a_sentence_and_stays_as_it_was_typed(record):
    box = PredictBox("pressure_window", FIGURE, record)
    for text in ("", "lots <b>", "5 N"):
        box.field.text = text
        box.keep()
        assert "NOT USED" in box.told.value
        assert "<b>lots" not in box.told.value
        assert box.field.text == text
    assert record.events() == []


def test_nothing_chosen_is_no_prediction(record):
    box = PredictBox("reverse_or_direct", ACTION, record)
    assert box.field.inner.value is None  # no option is suggested
    box.keep()
    assert "Choose one of the answers first" in box.told.value
    assert record.events() == []


def test_what_was_kept_stands_there_again(record):
    record.predicted("reverse_or_direct", "action", "direct", "Pa")
    record.predicted("pressure_window", "figure", "0.25", "in. w.c.")
    assert PredictBox("reverse_or_direct", ACTION, record).field.text == "direct"
    assert PredictBox("pressure_window", FIGURE, record).field.text == "62.3"  # 0.25 in. w.c.


def test_an_option_that_is_no_longer_offered_is_not_chosen(record):
    record.predicted("reverse_or_direct", "action", "sideways", "Pa")
    assert PredictBox("reverse_or_direct", ACTION, record).field.inner.value is None
    assert "predict again" in CompareBox("reverse_or_direct", ACTION, record).verdict.words


def test_the_unit_switch_carries_the_figure_over_and_leaves_other_words(record):
    box = PredictBox("pressure_window", FIGURE, record)
    box.field.text = "62.3"
    UNITS.system = "in. w.c."
    assert (box.field.text, box.field.unit) == ("0.25", "in. w.c.")
    assert "in in. w.c.?" in box.question.value
    box.field.text = "some"
    UNITS.system = "Pa"
    assert (box.field.text, box.field.unit) == ("some", "Pa")


def test_a_field_has_a_name_for_those_who_hear_the_page(record):
    figure, choice = PredictBox("pressure_window", FIGURE, record), PredictBox("reverse_or_direct", ACTION, record)
    assert (figure.field.inner.description, figure.field.inner.tooltip) == ("My prediction", "My prediction, in Pa")
    assert choice.field.inner.tooltip == "My prediction"
    figure.keep()
    assert 'role="status"' in figure.told.value


def test_the_result_is_not_told_before_a_prediction_but_folded_away_where_no_kernel_can_take_one(record):
    ASKED.clear()
    box, predict = CompareBox("pressure_window", FIGURE, record), PredictBox("pressure_window", FIGURE, record)
    assert box.verdict is None
    assert ASKED == []
    assert (predict.told.value, predict.told.layout.display) == ("", "none")  # and no blank is kept for it
    shown = box._repr_mimebundle_()
    assert shown["text/plain"] == FIRST
    assert "60" not in box.widget.value  # what a page with a kernel shows
    in_view, folded, answer = shown["text/html"].partition("<details>")
    assert folded
    assert "60" not in in_view
    assert "The model says 60 Pa" in answer


def test_the_comparison_comes_the_moment_the_prediction_is_kept(record):
    box, predict = CompareBox("pressure_window", FIGURE, record), PredictBox("pressure_window", FIGURE, record)
    predict.field.text = "20"
    predict.keep()
    assert box.verdict.kind == "missed"
    assert "You said 20 Pa; the model says 60 Pa" in predict.told.value
    assert predict.told.layout.display is None
    in_view, _, more = box.widget.value.partition("</summary>")
    assert "You said 20 Pa; the model says 60 Pa." in in_view
    assert "closer" in more
    assert "closer" not in in_view
    assert "&lt;closer&gt;" in box.widget.value


def test_a_prediction_is_not_changed_after_its_comparison_was_seen(record):
    box, predict = CompareBox("pressure_window", FIGURE, record), PredictBox("pressure_window", FIGURE, record)
    predict.field.text = "20"
    predict.keep()
    assert (predict.field.inner.disabled, predict.keep_button.disabled) == (True, True)
    predict.field.text = "61"
    predict.keep()
    assert "stays as you made it" in predict.told.value
    assert predict.field.text == "20"
    assert box.verdict.kind == "missed"
    again = PredictBox("pressure_window", FIGURE, record)  # nor after the page was opened anew
    assert again.field.inner.disabled
    again.field.text = "61"
    again.keep()
    assert record.prediction("pressure_window", "figure") == ("20", "Pa")


def test_what_was_kept_and_cannot_be_read_any_more_is_predicted_anew(record):
    record.predicted("reverse_or_direct", "action", "sideways", "Pa")
    box = PredictBox("reverse_or_direct", ACTION, record)
    assert not box.field.inner.disabled
    box.field.text = "reverse"
    box.keep()
    assert box.verdict.kind == "right"


def test_the_comparison_follows_the_units(record):
    record.predicted("pressure_window", "figure", "20", "Pa")
    box = CompareBox("pressure_window", FIGURE, record)
    UNITS.system = "in. w.c."
    assert "0.08 in. w.c." in box.widget.value
    assert "0.08 in. w.c." in PredictBox("pressure_window", FIGURE, record).told.value


def test_trouble_with_the_record_is_said_and_the_lesson_goes_on(tmp_path):
    (tmp_path / "file").write_text("x")
    record = LearnerRecord(tmp_path / "file")
    predict, compare = PredictBox("pressure_window", FIGURE, record), CompareBox("pressure_window", FIGURE, record)
    predict.field.text = "20"
    predict.keep()
    assert "could not be kept" in predict.told.value
    assert "You said 20 Pa" in compare.widget.value


def test_a_page_without_a_kernel_shows_the_question_and_every_option(record):
    shown = PredictBox("reverse_or_direct", ACTION, record)._repr_mimebundle_()
    assert "<li>reverse</li><li>direct</li>" in shown["text/html"]
    assert shown["text/plain"].splitlines() == ["Predict first. Which?", "( ) reverse", "( ) direct"]
    figure = PredictBox("pressure_window", FIGURE, record)._repr_mimebundle_()
    assert "How much &lt;air&gt;" in figure["text/html"]
