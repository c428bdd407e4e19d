"""A set for a class: for every seat the exercises with its own numbers, made again exactly from the class code."""

from dataclasses import dataclass

from helpers import units
from helpers.lessons.bank import EXERCISES
from helpers.lessons.class_files import printable
from helpers.lessons.class_keys import MOST_SEATS, Seat, class_mark, seat_of
from helpers.lessons.exercise import Chosen, Exercise, exercise_of, title_of
from helpers.lessons.plan import LESSONS, Lesson

__all__ = ["ClassSet", "Question", "SeatSheet", "class_set", "expected", "option_letter", "questions_of"]


@dataclass(frozen=True)
class Question:
    """One question of the set. number: on every sheet; item: name of the exercise, by which records keep it; make: its maker."""

    number: int
    lesson: Lesson
    item: str
    title: str
    make: object


@dataclass(frozen=True)
class SeatSheet:
    """What one seat is asked: an `Exercise` for each question. name: of the learner, or nothing."""

    seat: Seat
    name: str
    exercises: tuple


@dataclass(frozen=True)
class ClassSet:
    """The whole set. mark: of the class, on all its papers; system: of units; questions and sheets in their order."""

    mark: str
    title: str
    system: str
    questions: tuple
    sheets: tuple


def class_set(code, seats, lessons=None, each=None, system="Pa", title="", names=()):
    """The set of a class; the same arguments make the same set on every machine.

    code: the class code, the instructor's own text; seats: how many, 1 to MOST_SEATS; lessons: keys or numbers of those wanted, all by
    default; each: how many exercises of each lesson, all by default; system: one of units.SYSTEMS; title: of the class; names: of learners
    in the order of the seats, where they are known. Raises ValueError with a sentence.
    """
    if isinstance(seats, bool) or not isinstance(seats, int) or not 1 <= seats <= MOST_SEATS:
        raise ValueError(f"seats must be a whole number from 1 to {MOST_SEATS}, got {seats!r:.40}")
    if system not in units.SYSTEMS:
        raise ValueError(f"system must be one of {', '.join(units.SYSTEMS)}; got {system!r:.60}")
    if len(names) > seats:
        raise ValueError(f"names must be {seats} at the most, one for each seat; got {len(names)}")
    questions = questions_of(lessons, each)
    named = [printable(" ".join(str(name).split())) for name in names] + [""] * (seats - len(names))
    sheets = tuple(_sheet(seat_of(code, number), name, questions, system) for number, name in enumerate(named, 1))
    return ClassSet(class_mark(code), printable(" ".join(title.split())), system, questions, sheets)


def questions_of(lessons=None, each=None):
    """The questions of a choice of lessons (keys or numbers), so many of each."""
    if each is not None and (isinstance(each, bool) or not isinstance(each, int) or each < 1):
        raise ValueError(f"each must be a whole number of 1 or more, or None for all exercises; got {each!r:.40}")
    known = {key: one for one in LESSONS for key in (one.key, one.number)}
    wanted = [one.key for one in LESSONS] if lessons is None else [lessons] if isinstance(lessons, (str, int)) else list(lessons)
    strange = [one for one in wanted if one not in known]
    if strange or not wanted:
        numbers = ", ".join(f"{one.number} {one.key}" for one in LESSONS)
        raise ValueError(f"lessons must be some of {numbers}; got {strange[0] if strange else 'none'!r:.60}")
    chosen = sorted({known[one] for one in wanted}, key=lambda one: one.number)
    pairs = [(one, make) for one in chosen for make in EXERCISES[one.key][:each]]
    return tuple(Question(number, one, make.__name__, title_of(make), make) for number, (one, make) in enumerate(pairs, 1))


def expected(exercise):
    """(answer, tolerance) as they are written on a sheet: the letter of an option and nothing, or two numbers in the exercise's units."""
    answer = exercise.answer
    if isinstance(answer, Chosen):
        return option_letter(answer.options.index(answer.value)), None
    if answer.dimension == "number":
        return float(f"{answer.value:.8g}"), float(f"{answer.tolerance:.4g}")
    shown, edge = (
        float(units.to_display(value, answer.dimension, exercise.system)) for value in (answer.value, answer.value + answer.tolerance)
    )
    return float(f"{shown:.8g}"), float(f"{abs(edge - shown):.4g}")


def option_letter(place):
    """Letter of an option on paper, a for the first."""
    return "abcdefghijklmnopqrstuvwxyz"[place]


def _sheet(seat, name, questions, system):
    return SeatSheet(seat, name, tuple(_exercise(seat, question, system) for question in questions))


def _exercise(seat, question, system) -> Exercise:
    return exercise_of(question.make, seat.seed(question.lesson.key, question.item), system)
