"""The projector view: a step at a time, the answer only after its question, the panel where the class stands, and words for all of it."""

import re
from dataclasses import replace

import numpy as np
import pytest
from drawn import drawn, layers
from words_apart import faults

from helpers.classroom import instructor as projector_module
from helpers.classroom.instructor import KEYS, STYLE, VIEW, Projector, panel_of, projector, steps_of
from helpers.lessons import LESSONS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

KEY = "pressure_window"


@pytest.fixture(scope="module")
def one_view():
    """Made once for all tests: drawing is what takes the time. It alone hears a switch of units."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(UNITS, "_listeners", [])
        patch.setattr(UNITS, "_system", "Pa")
        yield projector(KEY)


@pytest.fixture
def view(one_view):
    """At the first step of the lesson."""
    UNITS.system = "Pa"
    one_view.shown(KEY)
    return one_view


def page(view):
    """The page's words, pictures left out."""
    return re.sub(r"data:image/png;base64,[A-Za-z0-9+/=]+", "", view.page.value)


@pytest.mark.parametrize("key", [of.key for of in LESSONS])
def test_questions_and_answers_come_in_turn(key):
    steps = steps_of(key)
    assert [bool(step.question) for step in steps] == [True, False] * 3
    assert [step.moves for step in steps] == [0, 1, 1, 2, 2, 3]
    assert steps[0].options == LESSONS.of(key).story.prediction.options
    assert all(step.sentence and (step.question or step.answer) for step in steps)


def test_the_answer_is_hidden_until_the_next_key(view):
    answer = view.steps[1].answer
    assert view.step.question in page(view)
    assert answer not in page(view)
    view.next_button.click()
    assert answer in page(view)


def test_the_keys_stop_at_both_ends(view):
    view.back_button.click()
    assert view.number == 0
    for _ in range(9):
        view.next_button.click()
    assert view.number == len(view.steps) - 1


def test_the_panel_stands_where_the_class_stands(view):
    for _ in range(3):
        view.next()
    assert panel_of(KEY).values == LESSONS.of(KEY).story.state(2)


def test_the_picture_says_what_the_panels_picture_says(view):
    view.next()
    drawn, kind = view.picture()
    assert drawn.words == panel_of(KEY).picture.words
    assert kind == panel_of(KEY).verdict.kind
    assert [type(one) for one in drawn.drawings] == [type(one) for one in panel_of(KEY).picture.drawings]


def test_going_back_draws_nothing_anew(view, monkeypatch):
    first = view.page.value
    view.next()
    monkeypatch.setattr(projector_module, "Picture", None)
    view.back()
    assert view.page.value == first


def test_another_lesson_begins_at_its_first_step(view):
    view.next()
    view.chooser.value = "average_lowest_highest"
    assert view.number == 0
    assert written_out(LESSONS.of("average_lowest_highest").story.says(LESSONS.of("average_lowest_highest").story.opening)) in page(view)
    with pytest.raises(ValueError, match="key"):
        view.shown("roof_gardens")


def test_the_units_turn_all_of_it(view):
    UNITS.system = "in. w.c."
    assert "in. w.c." in page(view)
    assert not re.search(r"\d Pa\b", page(view))


def test_what_is_on_the_wall_is_read_out_as_well(view):
    alt = re.search(r'alt="([^"]+)"', page(view))[1]
    assert "doors" in alt
    assert 'aria-live="polite"' in page(view)
    data, metadata = view._repr_mimebundle_()
    assert view.step.question in data["text/plain"]
    assert metadata["image/png"]["alt"] == data["text/plain"]


def test_the_keys_press_the_buttons_that_are_there(view):
    for name in re.findall(r"'(next|back|whole)'", KEYS):
        assert any(f"{VIEW}-{name}" in button._dom_classes for button in view.view.children[2].children)
    assert VIEW in view.view._dom_classes
    assert f".{VIEW} .sheet" in STYLE


def test_words_with_signs_of_a_page_stay_words(view, monkeypatch):
    step = projector_module.WallStep(0, "<b>&</b>", "a < b?", ("<i>",))
    monkeypatch.setattr(projector_module, "steps_of", lambda key: (step,))
    view.refresh()
    assert "&lt;b&gt;&amp;" in page(view)
    assert "<i>" not in page(view)


def test_a_lesson_that_is_none_is_refused():
    with pytest.raises(ValueError, match="key"):
        Projector("roof_gardens")


def test_wherever_the_set_point_stands_its_name_is_clear_of_the_windows_ends():
    key, width = "average_lowest_highest", 76  # "set point", in the picture's pixels
    panel = panel_of(key)
    _, data = panel.answer("Pa", **LESSONS.of(key).story.state(0))
    (words,), (axes,) = drawn(panel.picture, "set point")[1:], panel.picture.figure.axes
    (declared,) = (layer for layer in layers(data) if getattr(layer, "text", "") == "set point")
    pixel = np.ptp(axes.get_xlim()) / axes.bbox.width
    least, most = declared.clear_of
    number = data.axes[0].layers.index(declared)
    for at in range(0, 100):
        panel.picture.drawings[0].places[0].drawn[number].move(replace(declared, x=float(at)))
        (place, _), across = words.at, words.across
        begin = place - {"left": 0, "center": 0.5, "right": 1}[across] * width * pixel
        for low, high in ((least - 46 * pixel, least), (most, most + 46 * pixel)):
            assert begin + width * pixel <= low + 1e-9 or begin >= high - 1e-9, at


@pytest.mark.parametrize("key", [of.key for of in LESSONS])
def test_no_word_on_the_wall_lies_on_another_or_runs_over_the_edge(one_view, key):
    """Of each move of a lesson, as its question is asked."""
    one_view.shown(key)
    found = []
    for number in range(0, len(one_view.steps), 2):
        one_view.number = number
        found += [f"{number}: {fault}" for fault in faults(one_view.picture()[0])]
    one_view.shown(KEY)
    assert not found, "\n".join(found)
