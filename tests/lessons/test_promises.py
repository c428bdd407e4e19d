"""What a lesson promises it teaches in a section of its page and tests by an exercise, a prediction; and who is stuck is led back there."""

import re

import pytest

from helpers.lessons import LESSONS
from helpers.teaching.plan import objectives, section_of
from helpers.units.said import written_out
from tests.lessons.test_lesson_pages import headings, page, texts


@pytest.fixture(params=LESSONS, ids=lambda lesson: lesson.key)
def lesson(request):
    return request.param


def promised(lesson):
    between = re.search(r"\*\*You will be able to\*\*\n(.*?)\*\*Time:", texts(page(lesson))[0], re.DOTALL)[1]
    return re.findall(r"^- (.+)", between, re.MULTILINE)


def test_every_promise_is_taught_in_a_section_and_tested_by_an_exercise(lesson):
    kept = objectives(lesson.key)
    assert len(kept) == len(promised(lesson))
    makers, asked = {make.__name__ for make in lesson.makers}, {one.key for one in lesson.predictions}
    for promise in kept:
        assert promise.taught
        assert set(promise.taught) <= set(headings(page(lesson)))
        assert promise.exercises
        assert set(promise.exercises) <= makers
        assert set(promise.predictions) <= asked


def test_every_exercise_leads_back_to_a_section_that_stands_before_it(lesson):
    order = headings(page(lesson))
    for make in lesson.makers:
        section = section_of(lesson.key, make.__name__)
        assert section in order, make.__name__
        assert order.index(section) < order.index("Exercises")


def test_every_prediction_belongs_to_a_promise(lesson):
    tested = {key for promise in objectives(lesson.key) for key in promise.predictions}
    assert tested == {one.key for one in lesson.predictions}


def test_an_unknown_exercise_leads_nowhere():
    assert section_of("pressure_window", "nobody") == ""
    assert section_of("no lesson", "nobody") == ""
    assert objectives("no lesson") == ()


# What a panel may not show as it opens, since the page has just asked for it.
@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("pressure_window", "77 across the highest"),
        ("scaling_the_signal", "holds 20.0 Pa"),
        ("reverse_or_direct", "lowest speed, and nothing brings it back"),
        ("average_lowest_highest", "too high on storey 9"),
    ],
)
def test_a_panel_does_not_open_on_the_answer_to_a_prediction(key, told):
    panel = LESSONS.of(key).panel()
    assert told not in " ".join(written_out((panel.verdict.words, panel.picture.words)))
