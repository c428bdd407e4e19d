"""A prediction beside the model's result, whatever units it was typed in."""

import pytest

from helpers.teaching.questions import Chosen, Measured, Outcome, Prediction
from helpers.units.said import unit_of, written_out

WINDOW = Prediction(
    "window",
    lambda: f"How much, in {unit_of('pressure')}?",
    lambda: Outcome(Measured(60.0, "pressure", 6.0), "the closer leaves the rest."),
    dimension="pressure",
)
ACTION = Prediction(
    "action", lambda: "Which?", lambda: Outcome(Chosen("reverse", ("reverse", "direct")), "too high."), ("reverse", "direct")
)


@pytest.mark.parametrize(("text", "agree"), [("60", True), ("66", True), ("66.1", False), ("0.25 in. w.c.", True), ("20 Pa", False)])
def test_a_prediction_agrees_within_the_models_tolerance(text, agree):
    assert WINDOW.compare(text).agree == agree


def test_what_was_typed_in_one_unit_is_compared_in_another():
    compared = written_out(WINDOW.compare("0.24", "in. w.c."))
    assert compared.agree
    assert compared.words == "You said 60 Pa, and so does the model: the closer leaves the rest."
    assert written_out(WINDOW.compare("20", "Pa"), "in. w.c.").words.startswith("You said 0.08 in. w.c.; the model says 0.24 in. w.c.:")


def test_a_choice_that_differs_is_told_with_the_models_own():
    compared = ACTION.compare("direct")
    assert not compared.agree
    assert compared.words == 'You said "direct"; the model says "reverse": too high.'


@pytest.mark.parametrize(("dimension", "text", "ends"), [
    ("percent", "250", "0.0 % and 100.0 %"), ("percent", "-1 %", "0.0 % and 100.0 %"), ("pressure", "1e9", "-10000 Pa and 10000 Pa"),
])  # fmt: skip
def test_what_no_building_can_bring_about_is_no_prediction(dimension, text, ends):
    asked = Prediction("share", WINDOW.ask, WINDOW.find, dimension=dimension)
    with pytest.raises(ValueError, match=f"The answer must lie between {ends}, got "):
        asked.read(text)


def test_a_unit_is_asked_for_with_figures_only():
    assert (written_out(WINDOW.unit, "in. w.c."), ACTION.unit) == ("in. w.c.", "")


@pytest.mark.parametrize(("prediction", "text"), [(WINDOW, "a lot"), (WINDOW, ""), (ACTION, "neither"), (WINDOW, "3 N")])
def test_what_is_no_prediction_is_refused(prediction, text):
    with pytest.raises(ValueError, match=r"answer|Choose"):
        prediction.read(text)


def test_the_model_is_not_asked_before_the_comparison():
    def find():
        raise AssertionError("asked too early")

    asked = Prediction("early", lambda: "?", find, ("a", "b"))
    assert asked.read("a") == "a"
    assert asked.unit == ""


def test_an_option_in_the_words_of_an_earlier_record_still_counts():
    asked = Prediction("which", lambda: "Which?", lambda: Outcome(Chosen("storey 6", ("storey 6", "none")), "so"), ("storey 6", "none"),
                       earlier=(("floor 6", "storey 6"),))  # fmt: skip
    assert asked.read("floor 6") == "storey 6"
    assert asked.compare("floor 6").agree
    assert {asked: 1}[asked] == 1  # a class's table counts by it
