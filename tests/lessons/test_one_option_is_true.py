"""A choice has one true answer: it is worked out again from what the question says, by a model of the test's own, for 200 seeds of each.

Where the answer is a rule of the trade (where a tube ends, whether a smoke fan may stop) nothing can be worked out: no judge is here.
"""

import itertools
import re
from functools import cache

import numpy as np
import pytest

from helpers import units
from helpers.formulas import doors
from helpers.lessons import LESSONS
from helpers.lessons.average_lowest_highest import failed_readings
from helpers.lessons.pressure_window import questions as window
from helpers.lessons.reverse_or_direct import questions as direct
from helpers.lessons.scaling_the_signal import questions as scaling
from helpers.lessons.transmitter_range import questions as ranges
from helpers.lessons.tuning_and_door_events import changes_on_site as tuning
from helpers.teaching.questions import Chosen, exercise_of

SEEDS = {"Pa": range(200), "in. w.c.": range(200, 240)}
FIGURE = r"-?\d+(?:\.\d+)?"


def figures(text):
    return [float(found) for found in re.findall(rf"(?<![\w.]){FIGURE}", text)]


def first(pattern, text):
    return [float(found) for found in re.search(pattern.replace("#", f"({FIGURE})"), text).groups()]


@cache
def ends_of_a_loop(effect, acts, start):
    """Where a loop without delay goes from an error: 1 the upper stop, -1 the lower one, 0 the set point; stepped through time."""
    speed, reading = 0.0, start
    for _ in range(1500):
        error = -reading if acts == "reverse" else reading
        speed = float(np.clip(speed + 0.01 * error, -1.0, 1.0))
        reading = start + 3.0 * effect * speed
    return 0 if abs(reading) < 0.01 * abs(start) else int(np.sign(speed))


def plant_effect(text):
    return next(effect for told, effect in direct.PLANTS if told in text)


def which_action(exercise):
    effect = plant_effect(exercise.question)
    return {acts for acts in ("reverse", "direct") if {ends_of_a_loop(effect, acts, start) for start in (-1.0, 1.0)} == {0}}


def third_minus(exercise):
    """Every sign once round the loop: the plant, and what is set inverted in the drive."""
    text = exercise.question
    inverted = text.count("is set inverted") + 2 * text.count("are both set inverted")
    effect = plant_effect(text) * (-1) ** inverted
    return {acts for acts in ("reverse", "direct") if {ends_of_a_loop(effect, acts, start) for start in (-1.0, 1.0)} == {0}}


def which_end(exercise):
    text = exercise.question
    acts = re.search(r"set to (\w+) acting", text)[1]
    stop = ends_of_a_loop(plant_effect(text), acts, 1.0 if "is above the set" in text else -1.0)
    return {{1: direct.ENDS[0], -1: direct.ENDS[1], 0: direct.ENDS[2]}[stop]}


def hand_test(exercise):
    """What is wrong, in the order in which it is put right: a reading that answers, its sign, and then the automatic's action."""
    text = exercise.question
    effect = 1 if "supply fan" in text else -1
    seen = {"rises": 1, "falls": -1, "stays where it was": 0}[re.search(r"the reading (rises|falls|stays where it was)", text)[1]]
    acts = re.search(r"set to (\w+) acting", text)[1]
    wrong = []
    if seen == 0:
        wrong.append(direct.NO_ANSWER)
    elif seen != effect:
        wrong.append(direct.TUBES)
    if {ends_of_a_loop(effect, acts, start) for start in (-1.0, 1.0)} != {0}:
        wrong.append(direct.ACTION_WRONG)
    assert len(wrong) < 2 or "first" in text.rpartition(":")[2]  # several things are wrong: then it is asked what comes first
    return set(wrong[:1]) or {direct.SETTLED}


def which_to_seal(exercise):
    door, wall = first(r"# \S+ of gaps at the stair door, and from the floor to outdoors through # ", exercise.question)
    flow = {"door": (door / 2, wall), "wall": (door, wall / 2)}
    left = {name: 1 / np.hypot(1 / one, 1 / other) for name, (one, other) in flow.items()}
    return {exercise.answer.options[0 if left["door"] < left["wall"] else 1]}


def which_sheet(exercise):
    low, high = first(r"transmitters of # .*? to # ", exercise.question)
    of_span, of_reading, reading = first(r"± # % of span.*± # % of reading.*holds # ", exercise.question)
    errors = of_span * (high - low), of_reading * reading
    return {ranges.FIRST if errors[0] < 0.95 * errors[1] else ranges.SECOND if errors[1] < 0.95 * errors[0] else "both alike"}


def which_range(exercise):
    _, room, peak, accuracy, share = first(
        r"held at # .*window is # .*peaks at # .*accuracy of ± # % of span.*no more than # % of", exercise.question
    )
    fits = set()
    for option in exercise.answer.options:
        low, high = figures(option)
        if high > peak and low < 0 and accuracy / 100 * (high - low) <= share / 100 * room:
            fits.add(option)
    return fits


def what_a_signal_tells(exercise):
    text = exercise.question
    start, end = first(r"set to #-# ", text) if "set to 0" not in text else (0.0, first(r"set to 0-# ", text)[0])
    sent = first(r"It gets # ", text)[0]
    below, above, low, high = first(r"up to # % below the bottom and # % above .*?, # % below and # % above", text)
    percent = (sent - start) / (end - start) * 100
    if percent <= -low + 1e-9 and start > 0:
        return {scaling.FAILED_LOW}
    if percent >= 100 + high - 1e-9:
        return {scaling.FAILED_HIGH}
    if start == 0 and sent == 0:
        return {scaling.CANNOT_TELL}
    between = "what lies between is used" in text  # and somebody looks at it
    return {scaling.GOOD} if between or -below <= percent <= 100 + above else set()


def after_the_fault(exercise):
    """Two readings that follow the fan and one that fails; the loop is stepped until it rests."""
    rule = re.search(r"The (\w+) of two", exercise.question)[1]
    return rested(rule, next(kind for kind, told in failed_readings.SEEN.items() if told in exercise.question))


def relief_after_the_fault(exercise):
    rule = re.search(r"the (\w+) of two", exercise.question)[1]
    return rested(rule, next(kind for kind, told in failed_readings.SEEN.items() if told in exercise.question), relief=True)


@cache
def rested(rule, fault, relief=False):
    combine = {"average": np.mean, "lowest": np.min, "highest": np.max}[rule]
    speed, point = 0.5, 40.0
    for _ in range(4000):
        good = 120.0 * (1.2 - speed if relief else speed)
        failed = {"zero": [0.0], "high": [70.0], "out": []}[fault]
        speed = float(np.clip(speed + 1e-3 * (point - combine([good, *failed])) * (-1 if relief else 1), 0.2, 1.0))
    if speed == 0.2:
        return {failed_readings.LOWEST_SPEED}
    if abs(good - 2 * point) < 1:
        return {failed_readings.DOUBLE}
    return {failed_readings.FULL} if speed == 1.0 else {failed_readings.AS_BEFORE} if abs(good - point) < 1 else set()


def what_happens(exercise):
    """Hertz for each unit of pressure and the time of adding up, after the change as a share of before."""
    text, spans = (
        exercise.question,
        [float(one) for one in re.findall(rf"\b0(?:\.00)? (?:Pa |in\. w\.c\. )?to ({FIGURE})", exercise.question)],
    )
    gain = first(r"has a gain of # ", text)[0]
    now = first(r"gain is set to # ", text)[0] if "gain is set to" in text else gain
    if "band is set to twice" in text:
        now = gain / 2
    if "band is set to half" in text:
        now = gain * 2
    if "% is entered" in text:
        now = 100 / first(r"band, and # % is entered", text)[0]
    strength = (now / gain) * (spans[0] / spans[-1])
    times = 0.25 if "set to a quarter" in text else 4.0 if "set to four times" in text else 1.0
    change = strength / times if times != 1 else strength
    return {tuning.HOTTER if change > 1.2 else tuning.COOLER if change < 0.83 else tuning.SAME}


def side_of_window(exercise):
    idle, duty, threshold = first(r"at # Hz\. .*runs at # Hz\. .*below # Hz", exercise.question)
    never, night, cuts = (exercise.answer.options[place] for place in (0, 1, 2))
    return {cuts if duty < threshold else night if idle < threshold else never}


def what_moves(exercise):
    """Pressure that the door bears and pressure that the smoke asks for, before and after; what the change does is the test's own list."""
    leaf = {"force_limit_n": 133.0, "width_m": 0.9, "height_m": 2.1, "closer_force_n": 50.0, "handle_to_edge_m": 0.07}
    smoke = 25.0  # hotter or taller: more
    changes = (
        ("turned the closer up", {"closer_force_n": 70.0}, smoke), ("replaced by a narrower", {"width_m": 0.8}, smoke),
        ("replaced by a lighter one", {"closer_force_n": 30.0}, smoke), ("replaced by a wider", {"width_m": 1.1}, smoke),
        ("replaced by a taller", {"height_m": 2.4}, smoke), ("moved nearer to the hinges", {"handle_to_edge_m": 0.2}, smoke),
        ("lowers the force", {"force_limit_n": 100.0}, smoke), ("Sprinklers are put in", {}, 12.5), ("get them", {}, 12.5),
        ("much higher ceilings", {}, 45.0), ("sprinklers are taken out", {}, 35.0),
    )  # fmt: skip
    ((_, changed, then),) = [one for one in changes if one[0] in exercise.question]
    before, after = doors.pressure_tolerated(**leaf), doors.pressure_tolerated(**(leaf | changed))
    moved = {
        window.UPPER_UP: after > before,
        window.UPPER_DOWN: after < before,
        window.LOWER_UP: then > smoke,
        window.LOWER_DOWN: then < smoke,
    }
    return {option for option, true in moved.items() if true}


def told_by_share(exercise):
    drawn, good = first(r"and # buildings are drawn .* In # of them", exercise.question)
    return {exercise.answer.options[0 if good / drawn >= 0.95 else 2 if good / drawn <= 0.5 else 1]}


def measure_next(exercise):
    """What each reading takes away: a product, and two that stand there; the flow takes nothing from a door whose pressure is held."""
    change, share, stair, gauge = figures(exercise.question)[:4]
    parts = dict(zip(exercise.answer.options, (change * share, stair, gauge, 0.0), strict=True))
    return {option for option, part in parts.items() if part == max(parts.values())}


def not_recorded(exercise):
    """What is not on the sheet; what each is for is the test's own list."""
    needs = {"stack effect": "thermometer", "outer walls": "over outdoors", "how much air": "traverse", "before the fan": "fan off",
             "interval": "uncertainty"}  # fmt: skip
    return {option for option in exercise.answer.options for what, on_it in needs.items()
            if what in option and on_it not in exercise.question}  # fmt: skip


JUDGES = (which_action, third_minus, which_end, hand_test, which_to_seal, which_sheet, which_range, what_a_signal_tells, after_the_fault,
          relief_after_the_fault, what_happens, side_of_window, what_moves, told_by_share, measure_next, not_recorded)  # fmt: skip
BY_RULE = {"may_it_stop", "low_side_tube", "which_place"}  # rules of the trade, nothing to work out


@pytest.mark.parametrize("judge", JUDGES, ids=lambda judge: judge.__name__)
def test_one_option_is_true_and_it_is_the_answer(judge):
    (make,) = [make for make in LESSONS.exercises.values() if make.__name__ == judge.__name__]
    for system, seed in itertools.chain.from_iterable(itertools.product([system], seeds) for system, seeds in SEEDS.items()):
        exercise = exercise_of(make, seed, system)
        assert judge(exercise) == {exercise.answer.value}, (seed, system, exercise.question)


def test_every_choice_has_a_judge_or_a_reason_why_not():
    choices = {make.__name__ for make in LESSONS.exercises.values() if isinstance(exercise_of(make, 0).answer, Chosen)}
    assert choices == {judge.__name__ for judge in JUDGES} | BY_RULE
    assert tuple(SEEDS) == units.SYSTEMS
