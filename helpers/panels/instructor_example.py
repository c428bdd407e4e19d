"""A class that never was: two seats' questions beside each other, and the table of twelve simulated learners with slips that are known."""

import tempfile
from pathlib import Path

from helpers.lessons.bank import EXERCISES
from helpers.lessons.class_keys import seat_of
from helpers.lessons.class_sets import class_set
from helpers.lessons.exercise import exercise_of
from helpers.lessons.plan import LESSONS
from helpers.lessons.progress import LearnerRecord
from helpers.panels.class_desk import collect_class
from helpers.panels.markup import html_table
from helpers.panels.reading import Reading

__all__ = ["EXAMPLE_CODE", "LEARNERS", "SLIPPING", "example_class", "example_sheets"]

EXAMPLE_CODE = "the example that is no class"
LESSON = LESSONS[0].key
LEARNERS, SEATS_SHOWN = 12, 2
SLIPPING = {"handle_force": 3, "most_borne": 4}  # every how many-th learner slips in an exercise; all others are right
DAMAGED = '{"format": "pressure-loop learner rec'  # as a copy ends that was cut short


def example_sheets():
    """What two seats of the example are asked: the same questions, other numbers."""

    def render(system):
        sheets = class_set(EXAMPLE_CODE, SEATS_SHOWN, lessons=(LESSON,), each=2, system=system).sheets
        rows = [(str(sheet.seat.number), exercise.question) for sheet in sheets for exercise in sheet.exercises]
        return html_table(("Seat", "Question"), rows), "\n".join(f"Seat {seat}: {question}" for seat, question in rows)

    return Reading(render)


def example_class():
    """The class table of the simulated learners, one of their files damaged: as `collect_class` shows any folder of records."""
    with tempfile.TemporaryDirectory() as folder:
        handed_in = Path(folder) / "handed_in"
        handed_in.mkdir()
        for number in range(1, LEARNERS + 1):
            _worked(Path(folder) / f"own {number}", number).export(handed_in / f"seat{number:02d}.json")
        (handed_in / "seat99.json").write_text(DAMAGED, encoding="utf-8")
        return collect_class(handed_in, EXAMPLE_CODE)


def _worked(folder, number):
    """The record of one simulated learner at a seat, in the first exercises of the lesson."""
    record = LearnerRecord(folder)
    record.name, record.seat = f"Learner {number}", seat_of(EXAMPLE_CODE, number)
    for make in EXERCISES[LESSON]:
        item = make.__name__
        if item not in SLIPPING:
            continue
        exercise = exercise_of(make, record.seed(LESSON, item, 0))
        slips = number % SLIPPING[item] == 0
        text = f"{float(exercise.slips[0].gives if slips else exercise.answer.value)!r}"
        grade = exercise.grade(text)
        record.answered(LESSON, item, exercise.seed, exercise.system, text, grade.right, grade.slip)
    return record
