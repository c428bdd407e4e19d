"""Every exercise of every lesson over a thousand seeds: the right answer passes, each slip fails with its own hint, the numbers are sound.

One walk over the seeds finds all faults of one exercise; a fault is told with the seed that shows it.
"""

import math
import re
from collections import Counter
from functools import cache, lru_cache

import pytest

from helpers import units
from helpers.lessons import LESSONS
from helpers.teaching.questions import Chosen, Exercise, Measured, Slip, exercise_of, title_of
from helpers.teaching.seeds import Draw, seed_of
from helpers.units.said import has_mark, written_out

SEEDS = {"Pa": range(800), "in. w.c.": range(800, 1000)}  # what goes wrong with the numbers goes wrong in either
MAKERS = [pytest.param(make, id=f"{key}-{make.__name__}") for (key, _), make in LESSONS.exercises.items()]
DUST = re.compile(r"\d\.\d{7,}|\bnan\b|\binf\b|\d[eE][-+]?\d|\bNone\b|[{}]")
MAY_BE_DUST = re.compile(r"\.\d{7}|nan|inf|e[-+]?\d|E[-+]?\d|None|\{|\}")  # whatever has dust has this, and it is found much sooner
LEAST_QUESTIONS = {Measured: 25, Chosen: 8}  # over all seeds: neighbours in a class have numbers, or at least cases, of their own


@cache
def drawn(make):
    """The exercise of every seed, most in one system of units and some in the other."""
    return [exercise_of(make, seed, system) for system, seeds in SEEDS.items() for seed in seeds]


def typed(exercise, value):
    """A value as somebody types it who has not rounded anything."""
    dimension = exercise.answer.dimension
    return repr(float(value if dimension == "number" else units.to_display(value, dimension, exercise.system)))


def entry(exercise, value):
    return value if isinstance(exercise.answer, Chosen) else typed(exercise, value)


def faults_of_slips(exercise):
    """What is wrong with the slips: one that passes, that gets another's hint, that nobody can make."""
    hints = [slip.hint for slip in exercise.slips]
    if len(set(hints)) < len(hints) or len({slip.name for slip in exercise.slips}) < len(hints):
        yield "two slips with one hint or one name"
    for slip in exercise.slips:
        if isinstance(exercise.answer, Chosen) and slip.gives not in exercise.answer.options:
            yield f"{slip.name}: nobody can choose {slip.gives!r}"
            continue
        grade = exercise.grade(entry(exercise, slip.gives))
        if grade.right or (grade.slip, grade.words) != (slip.name, slip.hint):
            yield f"{slip.name}: told {grade.words!r}"


def faults_of_hints(exercises):
    """Hints that give the answer away. One that reads the same whatever the numbers are cannot, even if it holds the same figure."""
    yield from (f"seed {one.seed}: a figure waits for its system" for one in exercises if has_mark((one.question, one.way, one.slips)))
    heard = Counter(hint for exercise in exercises for hint in {slip.hint for slip in exercise.slips})
    for exercise in (exercise for exercise in exercises if isinstance(exercise.answer, Measured)):
        told = written_out(exercise.answer.says(exercise.answer.value), exercise.system)
        for slip in exercise.slips:
            if heard[slip.hint] < 2 and told in slip.hint and re.search(rf"(?<![\d.]){re.escape(told)}(?![\d])", slip.hint):
                yield f"seed {exercise.seed}, {exercise.system}: {slip.hint!r} holds the answer"


def faults_of_answer(exercise):
    """What is wrong with the answer: refused as typed in full, or as somebody writes it who rounds to three digits."""
    answer = exercise.answer
    if isinstance(answer, Chosen) and (answer.value not in answer.options or len(set(answer.options)) < len(answer.options)):
        yield "options that cannot be told apart, or do not hold the answer"
        return
    if not exercise.grade(entry(exercise, answer.value)).right:
        yield "the right answer is refused"
    if isinstance(answer, Measured):
        if not (math.isfinite(answer.value) and 0 < answer.tolerance < 0.2 * abs(answer.value)):
            yield f"a tolerance of {answer.tolerance} on {answer.value}"
        if not exercise.grade(f"{float(typed(exercise, answer.value)):.3g}").right:
            yield f"three digits of {written_out(answer.says(answer.value), exercise.system)} are refused"


@lru_cache(10_000)  # many read the same whatever the numbers are
def faults_of_text(text):
    found = MAY_BE_DUST.search(text) and DUST.search(text)
    dust = [f"{found[0]!r} in {text!r}"] if found else []
    return dust + ([f"blanks in {text!r}"] if text != text.strip() or "  " in text or not text else [])


def faults_of_words(exercise):
    """Figures that nobody would write, in anything the reader sees."""
    options = exercise.answer.options if isinstance(exercise.answer, Chosen) else ()
    texts = [exercise.question, *exercise.way, *(slip.hint for slip in exercise.slips), *options]
    for text in texts:
        yield from faults_of_text(text)
    if not exercise.way:
        yield "no way to the answer"


@pytest.mark.parametrize("make", MAKERS)
def test_an_exercise_is_sound_over_a_thousand_seeds(make):
    found = {}
    for exercise in drawn(make):
        for rule in (faults_of_answer, faults_of_slips, faults_of_words):
            for fault in rule(exercise):
                found.setdefault(f"{rule.__name__}: {re.sub(r'[0-9.]+', '#', fault)}", f"seed {exercise.seed}, {exercise.system}: {fault}")
    assert [*found.values(), *faults_of_hints(drawn(make))] == []


@pytest.mark.parametrize("make", MAKERS)
def test_neighbours_in_a_class_have_numbers_of_their_own_and_no_answer_is_always_right(make):
    pascals = [exercise for exercise in drawn(make) if exercise.system == "Pa"]
    least = next(count for kind, count in LEAST_QUESTIONS.items() if isinstance(pascals[0].answer, kind))
    assert len({exercise.question for exercise in pascals}) >= least
    answers = [exercise.answer.value for exercise in pascals]
    most = max(answers.count(answer) for answer in set(answers)) / len(answers)
    assert most < 0.8, f"{most:.0%} of all learners have the same answer"


@pytest.mark.parametrize("make", MAKERS)
def test_both_systems_of_units_ask_the_same_kind_of_thing(make):
    for seed in range(20):
        one, other = (exercise_of(make, seed, system) for system in units.SYSTEMS)
        assert type(one.answer) is type(other.answer)
        assert getattr(one.answer, "dimension", "") == getattr(other.answer, "dimension", "")
        assert len(getattr(one.answer, "options", ())) == len(getattr(other.answer, "options", ()))


@pytest.mark.parametrize("key", [of.key for of in LESSONS])
def test_a_lesson_asks_for_figures_and_for_choices(key):
    kinds = [type(exercise_of(make, 0).answer) for make in LESSONS.of(key).makers]
    assert 3 <= len(kinds) <= 10
    assert kinds.count(Chosen) >= 1
    assert kinds.count(Measured) >= 2


@pytest.mark.parametrize("make", MAKERS)
def test_an_exercise_has_a_title_and_knows_its_usual_slips(make):
    assert 5 < len(title_of(make)) < 80
    assert 2 <= len(exercise_of(make, 0).slips) <= 5


def spoilt(**changes):
    """A sound little exercise, with one thing in it changed."""
    slips = (Slip("doubled", "Once is enough.", 50.0), Slip("halved", "That is one side only.", 12.5))
    parts = {"question": "How much is 25 Pa?", "answer": Measured(25.0, "pressure", 0.5), "slips": slips, "way": ("It is 25 Pa.",)}
    return Exercise(**(parts | changes))


def test_a_sound_exercise_is_let_through():
    assert [fault for rule in (faults_of_answer, faults_of_slips, faults_of_words) for fault in rule(spoilt())] == []


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        (faults_of_slips, {"slips": (Slip("rounded", "You rounded.", 25.2),)}),
        (faults_of_slips, {"slips": (Slip("a", "The same.", 50.0), Slip("b", "The same.", 80.0))}),
        (faults_of_slips, {"slips": (Slip("a", "This one.", 50.0), Slip("b", "Never told.", 50.0))}),
        (faults_of_slips, {"answer": Chosen("up", ("up", "down")), "slips": (Slip("a", "Look again.", "sideways"),)}),
        (faults_of_answer, {"answer": Measured(25.0, "pressure", 10.0)}),
        (faults_of_answer, {"answer": Measured(25.034, "pressure", 0.01)}),
        (faults_of_answer, {"answer": Chosen("up", ("down", "sideways"))}),
        (faults_of_words, {"question": "How much is 24.90000000001 Pa?"}),
        (faults_of_words, {"way": ("It is nan Pa.",)}),
        (faults_of_words, {"way": ()}),
    ],
)
def test_a_fault_in_an_exercise_is_caught(rule, changes):
    assert list(rule(spoilt(**changes)))


def test_a_hint_that_gives_the_answer_away_is_caught():
    telling = spoilt(slips=(Slip("doubled", "It is 25 Pa.", 50.0), Slip("halved", "Not 125 Pa.", 12.5)))
    assert len(list(faults_of_hints([spoilt(), telling]))) == 1
    assert list(faults_of_hints([telling, telling])) == []  # the same words for everybody


def test_the_same_seed_sets_the_same_exercise_on_every_machine():
    first = Draw(seed_of("a learner", 1)).quantity("pressure", 10.0, 60.0, 1.0)
    assert first == Draw(seed_of("a learner", 1)).quantity("pressure", 10.0, 60.0, 1.0)
    for of in LESSONS:
        assert exercise_of(of.makers[0], 7) == exercise_of(of.makers[0], 7)
