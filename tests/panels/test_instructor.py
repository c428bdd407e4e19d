"""What an instructor is told to do and to see is what the panels do and say."""

import hashlib
import re

import pytest

from helpers import units
from helpers.classroom import instructor
from helpers.classroom.day import LENGTHS, WALL, ClassPlan, plan_table
from helpers.classroom.instructor import LEARNERS, SLIPPING, Demo, common_predictions, example_class, example_sheets, panel_of
from helpers.classroom.teach_again import slip_counts
from helpers.lessons import LESSONS
from helpers.teaching.questions import SOURCE
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, Choice, Tick
from helpers.widgets.sliders import Count, Slider, Steps

KEYS = [of.key for of in LESSONS]
GOOD_AT_FIRST = {"pressure_window", "transmitter_range", "scaling_the_signal", "reverse_or_direct", "average_lowest_highest"}
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
FIGURE = re.compile(r"-?\d+(?:\.\d+)? (?:Pa|N|Hz|m³/s|kWh)\b|\d+(?:\.\d+)? %")


@pytest.fixture(autouse=True)
def in_pascals(monkeypatch):
    monkeypatch.setattr(UNITS, "_system", "Pa")


def said(control, value):
    """A value as the control shows it."""
    if isinstance(control, Slider):
        return units.show(value, control._dimension)
    if isinstance(control, Choice | Steps):
        options = (option if isinstance(option, tuple) else (option, option) for option in control.inner.options)
        return next(text for text, meant in options if meant == value)
    return str(value)


def label(control):
    return re.sub(r" \[.*|,.*", "", control.inner.description).lower()


@pytest.mark.parametrize("key", KEYS)
def test_a_story_sets_every_control_and_nothing_else(key):
    controls = panel_of(key).controls
    told = LESSONS.of(key).story
    assert set(told.start) == set(controls)
    for move in told.moves:
        assert set(move.changes) <= set(controls)


@pytest.mark.parametrize("key", KEYS)
def test_the_hand_is_told_by_label_and_value_what_to_set(key):
    """Times are told in minutes where that is shorter, and a tick by its label."""
    told = LESSONS.of(key).story
    controls = panel_of(key).controls
    for number, move in enumerate(told.moves):
        hand = told.says(move.hand).lower()
        for name, value in move.changes.items():
            control = controls[name]
            if told.state(number)[name] == value:
                continue  # told for completeness only
            if isinstance(control, Count) and "storey" in control.inner.description:
                assert re.search(rf"storeys? .*\b{value}\b", hand)
                continue
            assert label(control) in hand
            if isinstance(control, Slider) and control._dimension == "time":
                continue
            if not isinstance(control, Tick):
                shown = said(control, value).lower().removesuffix(".0")
                assert shown.split(",")[0] in hand


@pytest.mark.parametrize("key", KEYS)
def test_the_class_sees_what_the_instructor_was_told(key):
    """At least one figure of every answer stands in the panel's own verdict or picture, just as it is told."""
    told, panel = LESSONS.of(key).story, panel_of(key)
    for number, move in enumerate(told.moves, 1):
        verdict, *data = panel.answer("Pa", **told.state(number))
        assert verdict.kind != "entry" or told.state(number).get("mode") == "fire"
        shown = " ".join([str(verdict), *(drawing.tell(one) for drawing, one in zip(panel.picture.drawings, data, strict=True))])
        figures = [float(figure.split()[0]) for figure in FIGURE.findall(told.says(move.see))]
        assert not figures or set(figures) & set(map(float, NUMBER.findall(shown)))


@pytest.mark.parametrize("key", sorted(GOOD_AT_FIRST))
def test_a_story_begins_where_all_is_well(key):
    verdict = panel_of(key).answer("Pa", **LESSONS.of(key).story.start)[0]
    early = {"transmitter_range": "attention", "average_lowest_highest": "wrong"}  # all is well but for the first minute, which is named
    assert verdict.kind == early.get(key, "attention")  # a range is good for what it measures, whatever the first minute does to the doors
    well = {"pressure_window": ": 0 downwards", "scaling_the_signal": "Entry is right", "reverse_or_direct": "Action is right"}
    assert well.get(key, "") in verdict.head  # what is no PASS is the least spare, or the building
    assert ("as warm as the rooms, FAIL" in verdict.words) == (key in early)


def test_a_demonstration_goes_by_its_buttons_and_back():
    shown = Demo("reverse_or_direct")
    start = shown.panel.values
    assert shown.panel.verdict.kind == "attention"  # the action is right, the building is not
    shown.buttons[2].click()
    assert shown.panel.values == LESSONS.of("reverse_or_direct").story.state(2) | {"gain_share": 1.0}
    assert shown.panel.verdict.kind == "wrong"
    shown.buttons[0].click()
    assert shown.panel.values == start


def test_the_class_does_not_read_the_answers_beforehand():
    """They are folded away: the page shows them only when somebody opens them."""
    shown = Demo("pressure_window")
    html, words = written_out(shown.card.render())
    assert html.startswith("<details><summary")
    assert written_out(shown.story.says(shown.story.moves[0].see)) in words
    assert written_out(shown.story.says(shown.story.moves[0].see)) not in shown.opening.value


def test_one_cell_shows_the_demonstration(monkeypatch):
    cards = []
    monkeypatch.setattr(instructor, "display", cards.append)
    shown = instructor.demo("pressure_window")
    assert cards == [shown.card]
    data = shown._repr_mimebundle_()
    assert 'src="data:image/png;base64,' in data["text/html"]
    assert 'alt="' in data["text/html"]


def test_every_lessons_demonstration_is_chosen_from_a_list_and_the_card_goes_along():
    """Whoever teaches types no name into the code."""
    shown = Demo("pressure_window")
    assert [key for _, key in shown.chooser.options] == list(KEYS)
    shown.chooser.value = "reverse_or_direct"
    told = LESSONS.of("reverse_or_direct").story
    assert shown.box.children[-1] is instructor.panel_of("reverse_or_direct").box
    assert shown.panel.values == told.state(0)
    assert written_out(told.says(told.moves[0].see)) in shown.card.written[1]
    with pytest.raises(ValueError, match="key"):
        shown.begin("roof_gardens")


@pytest.mark.parametrize("key", ["pressure_window", "low_demand_stop"])
def test_a_wrong_answer_is_told_with_its_use_and_with_what_it_rests_on(key):
    words = common_predictions(key)._repr_mimebundle_()["text/plain"]
    told = LESSONS.of(key).story
    assert SOURCE in words
    for part in (told.wrong, told.tempting, written_out(told.prediction.ask()), told.says(told.moves[1].ask)):
        assert part in words


# The plan


def test_the_plan_follows_its_choices_and_refuses_in_words():
    plan = ClassPlan()
    before = plan.table.value
    plan.start.text = "09:00"
    assert "09:00 to" in plan.table.value
    assert plan.table.value != before
    plan.start.text = "nine"
    assert "NOT USED" in plan.table.value
    plan.start.text = "09:00"
    for length in LENGTHS:
        plan.length.value = length
        assert written_out(plan_table(length, "09:00"))[0] == plan.table.value


def test_the_plan_leads_to_the_wall_by_links_and_says_once_what_several_rows_share():
    html, words = written_out(plan_table("a day"))
    table = html.partition("<table")[2].partition("</table>")[0]
    assert "projector(" not in html
    assert table.count(f">{WALL}</a>") == words.count(WALL) > 5
    shared = "all but the projector view; the lesson is for afterwards"
    assert shared not in table
    assert html.count(shared) == words.count(shared) == 1
    assert html.index(f"Note b: {shared}") < html.index("<table"), "read before the table that names it"
    assert "note b" in table
    assert table.count("its exercise of the class sheet") > 1, "few words need no note"


# The example class


def test_the_table_finds_the_slips_that_the_example_was_given():
    view = example_class()
    assert len(view.table.rows) == LEARNERS
    assert [one.why for one in view.table.left_out]
    counted = {one.item: one for one in slip_counts(view.table)}
    for item, every in SLIPPING.items():
        assert f"{LEARNERS // every} of {LEARNERS}" in view.words
        assert item in counted


def test_two_seats_have_the_same_questions_with_other_numbers():
    lines = example_sheets()._repr_mimebundle_()["text/plain"].splitlines()
    first, second = ([line.split(": ", 1)[1] for line in lines if line.startswith(f"Seat {seat}")] for seat in (1, 2))
    assert len(first) == len(second) == 2
    assert first != second


@pytest.mark.parametrize("shown", [example_class, example_sheets])
def test_a_python_without_scrypt_says_why_the_example_is_left_out(shown, monkeypatch):
    """As in the page without a server, which stopped here."""
    monkeypatch.delattr(hashlib, "scrypt")
    said = shown()._repr_mimebundle_()
    assert "left out here" in said["text/plain"]
    assert "no scrypt" in said["text/html"]
