"""A class that never was: learners' exported records with slips that are known, made without anybody typing them."""

import json
import random
import uuid
from collections import Counter

from helpers import units
from helpers.lessons import LESSONS
from helpers.teaching.questions import Chosen, exercise_of
from helpers.teaching.record import FORMAT
from helpers.teaching.seeds import seat_of

CODE, OTHER = "autumn class of the roof fans", "another class altogether"
PAGES = ("pressure_window", "scaling_the_signal")
NAMES = (
    "José Ñandú",
    "山田 花子",
    "عائشة",
    "देवनागरी",
    "\u200fמרים\u200f",
    "A\u0301da",
    "\U0001f468\u200d\U0001f527 Tür",
    "=1+1",
    "<b>O'Brien</b>",
    "'; DROP TABLE x; --",
)
LEARNERS = 30


def typed(exercise, value):
    if isinstance(exercise.answer, Chosen):
        return value
    dimension = exercise.answer.dimension
    return repr(float(value if dimension == "number" else units.to_display(value, dimension, exercise.system)))


def answered(exercise, lesson, value):
    """An answer as the workbook keeps it."""
    text = typed(exercise, value)
    grade = exercise.grade(text)
    return event("answered", lesson, exercise.key, exercise.seed, exercise.system, text, grade.right, grade.slip)


def event(kind, lesson="", item="", seed=0, system="Pa", text="", good=False, slip=""):
    told = {"lesson": lesson, "item": item, "seed": seed, "system": system, "text": text, "good": good, "slip": slip}
    return {"uid": uuid.uuid4().hex, "kind": kind, **told, "at": "2026-11-25T18:00:00+00:00"}


def export(events, seat=None):
    """Body of an exported record, signed where there is a seat."""
    body = {"format": FORMAT, "version": 1, "events": events}
    if seat is not None:
        body["seat"] = {"class": seat.mark, "number": seat.number}
        body["signature"] = seat.signature(body)
    return body


def write(folder, name, body):
    (folder / name).write_text(json.dumps(body, ensure_ascii=False), encoding="utf-8")
    return folder / name


def work_of(seat, name, system="Pa", slips=(), put_right=(), lessons=PAGES):
    """All a learner does: every exercise of the lessons, first with a usual slip where it is one of `slips`, then right if put right."""
    events = [event("name", text=name)]
    for lesson in lessons:
        for make in LESSONS.of(lesson).makers:
            exercise = exercise_of(make, seat.seed(lesson, make.__name__), system)
            if make.__name__ in slips:
                events.append(answered(exercise, lesson, exercise.slips[0].gives))
            if make.__name__ not in slips or make.__name__ in put_right:
                events.append(answered(exercise, lesson, exercise.answer.value))
    return events


def simulated_class(folder, code, rates, size=LEARNERS, put_right_rate=0.5):
    """A class that makes the first slip of each exercise at a known rate, and puts so many of them right.

    Returns, by exercise, (name of the slip, learners who made it, of them not put right): what the table must find.
    """
    draw, made = random.Random(6), {}
    who = {item: draw.sample(range(size), round(rate * size)) for item, rate in rates.items()}
    mended = {item: set(learners[: round(put_right_rate * len(learners))]) for item, learners in who.items()}
    for number in range(size):
        seat, own = seat_of(code, number + 1), [item for item, learners in who.items() if number in learners]
        system = units.SYSTEMS[number % 2]
        events = work_of(seat, f"{NAMES[number % len(NAMES)]} {number}", system, own, [item for item in own if number in mended[item]])
        for entry in events:
            if entry["item"] in own and entry["slip"]:
                made.setdefault(entry["item"], Counter())[entry["slip"]] += 1
        write(folder, f"learner {number}.json", export(events, seat))
    return {item: (made[item], len(who[item]), len(who[item]) - len(mended[item])) for item in rates}
