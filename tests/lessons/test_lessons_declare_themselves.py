"""A lesson is a folder and a line of the plan: whoever shows lessons finds it there, and nobody imports it before."""

import subprocess
import sys

import pytest

import helpers.lessons
from helpers.classroom.day import blocks_of
from helpers.classroom.instructor import Demo, common_predictions, steps_of
from helpers.classroom.sets import class_set
from helpers.classroom.table import class_table
from helpers.lessons import LESSONS
from helpers.pages.progress import ProgressView
from helpers.teaching import plan
from helpers.teaching.questions import Prediction, exercise_of
from helpers.teaching.record import LearnerRecord
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

KEY, TITLE, NUMBER, CODE = "length_of_tubes", "The length of the tubes", 17, "a class of one lesson more"
QUESTIONS = '''
from helpers.teaching.questions import Chosen, Exercise, Measured, Move, Outcome, Prediction, Slip, Story

longer = Prediction("longer", lambda: "Twice the tube?", lambda: Outcome(Chosen("later", ("later", "lower")), "Later."),
                    ("later", "lower"))
PREDICTIONS = (longer,)

def tube_delay(draw):
    """The delay of a tube."""
    length = draw.quantity("length", 10.0, 40.0, 1.0)
    slips = (Slip("whole", "Half.", length),)
    return Exercise(f"A tube is {length:g} long. Half of it?", Measured(length / 2, "number", 0.1), slips, ("Half.",))

MAKERS = (tube_delay,)

def story():
    moves = (Move({"dp_pa": 60.0}, "Pressure 60", "And now?", "More."), Move({"closer_n": 90.0}, "Closer 90", "And then?", "Less."))
    return Story("length_of_tubes", longer, "lower", "It looks so.", {"dp_pa": 25.0, "closer_n": 70.0}, "A tube.", moves, lambda shown: {})
'''
LESSON = "from helpers.pages.start import start_panel as panel\n"


@pytest.fixture
def one_more(tmp_path, monkeypatch):
    """A made-up lesson in a folder of its own and in the plan; no other line is written for it."""
    folder = tmp_path / "more" / KEY
    folder.mkdir(parents=True)
    for name, text in (("__init__", ""), ("questions", QUESTIONS), ("lesson", LESSON)):
        (folder / f"{name}.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr(helpers.lessons, "__path__", [*helpers.lessons.__path__, str(folder.parent)])
    line = plan.Planned(NUMBER, KEY, TITLE, 30, ("low_demand_stop",), ("", "shown", "whole"))
    monkeypatch.setattr(plan, "LESSONS", (*plan.LESSONS, line))
    monkeypatch.setattr(UNITS, "_listeners", [*UNITS._listeners])  # what shows this lesson is gone with it
    yield LESSONS.of(KEY)
    for name in [name for name in sys.modules if KEY in name]:
        del sys.modules[name]


def test_a_tenth_lesson_is_shown_everywhere(one_more, tmp_path):
    record = LearnerRecord(tmp_path / "own")
    assert f"{NUMBER} {TITLE}: 30 min, 0 of 1, 0 of 1" in ProgressView(record).words  # the start page
    sheet = class_set(CODE, 1, lessons=(KEY,)).sheets[0]
    make = one_more.makers[0]
    assert [exercise.key for exercise in sheet.exercises] == ["tube_delay"]
    record.seat = sheet.seat
    exercise = exercise_of(make, record.seed(KEY, "tube_delay", 0))
    assert exercise == sheet.exercises[0]
    record.answered(KEY, "tube_delay", exercise.seed, "Pa", f"{exercise.answer.value}", True)
    record.predicted(KEY, "longer", "later", "Pa")
    (tmp_path / "handed in").mkdir()
    record.export(tmp_path / "handed in" / "one.json")
    (row,) = class_table(tmp_path / "handed in", CODE).rows
    assert (row.at_once, row.agreed) == (frozenset({(KEY, "tube_delay")}), 1)
    assert "lower" in written_out(common_predictions(KEY).render())[1]
    shown = Demo(KEY)
    assert KEY in dict(map(reversed, shown.chooser.options))
    assert shown.go(1).kind in ("good", "attention", "wrong")
    assert steps_of(KEY)[0].question == "And now?"
    assert [KEY in [block.key for days in blocks_of(length) for block in days] for length in plan.CLASS_LENGTHS] == [False, True, True]


def test_every_folder_declares_what_a_lesson_has():
    for of in LESSONS:
        questions, lesson, derivations = (of.file(name) for name in ("questions", "lesson", "derivations"))
        assert {Prediction} == set(map(type, questions.PREDICTIONS))
        assert all(map(callable, (*questions.MAKERS, questions.story, lesson.panel, lesson.worked_example, lesson.senior_card)))
        assert all(callable(getattr(derivations, name)) for name in derivations.__all__)


def test_no_lesson_is_imported_before_it_is_asked_for():
    """Nor sympy, which takes half a second."""
    pages = "helpers.pages.progress, helpers.classroom.instructor, helpers.classroom.instructor"
    told = f"import sys, {pages}; print(*[name for name in sys.modules if name.startswith('helpers.lessons.') or name == 'sympy'])"
    assert subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True).stdout.split() == []
