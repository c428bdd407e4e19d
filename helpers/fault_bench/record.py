"""The fault bench in the learner's record: which cases come first, what was done at each and how it was judged; taken up again any time.

A case's number is short, so that it can be called out in a room. Each check is kept the moment it is taken; how a case is judged the first
time is an event of the learner's record and goes with its export.
"""

import json
import re
from dataclasses import dataclass
from itertools import count

from helpers.model.site.schema import tag_as_now
from helpers.teaching.record import learner_record
from helpers.teaching.store import Entries, KeptFileError

LESSON = "fault_bench"
NUMBERS = 10_000  # case numbers are below it
TOLD = re.compile(r"(\d{1,3}) points, (\d{1,5}(?:\.\d+)?) minutes")


@dataclass(frozen=True)
class Benched:
    """A case that was judged. right: fault and cure; named: key of the fault that was named, where it was wrong."""

    level: int
    number: int
    right: bool
    score: int
    minutes: float
    named: str


@dataclass(frozen=True)
class KeptVisit:
    """What is kept of a case. again: how often it was begun anew; checks: (check, place) in their order; answer: (fault, evidence, cure) or
    None."""

    again: int
    checks: tuple
    answer: tuple | None


def benched(events):
    """The first judgement of each case among a record's events, as a tuple of `Benched`."""
    found = {}
    for event in events:
        level, told = re.fullmatch(r"level (\d)", event.item), TOLD.fullmatch(event.text)
        if event.kind == "bench" and event.lesson == LESSON and level and told:
            key = int(level[1]), event.seed
            found.setdefault(key, Benched(*key, event.good, int(told[1]), float(told[2]), event.slip))
    return tuple(found.values())


def cases_solved(events):
    """Cases whose fault and cure were named rightly the first time, by level."""
    right = [one.level for one in benched(events) if one.right]
    return {level: right.count(level) for level in sorted(set(right))}


def _as_now(words):
    """An answer of an earlier record in the words of today's conclusions."""
    return tag_as_now(words).replace("with the speed by hand", "with the speed in manual")


class BenchRecord:
    """What this machine's learner, or the seat taken, did at the bench. `trouble` says where something could not be kept: it then stays as
    long as the kernel does."""

    def __init__(self, record=None):
        self.record, self.trouble, self._unkept = record or learner_record(), "", {}

    def next_number(self, level):
        """Number of a case not opened before; the first ones are the learner's or the seat's own."""
        opened = {field.split("/")[2] for field in self._fields() if field.startswith(f"opened/{level}/")}
        numbers = (self.record.seed(LESSON, f"level {level}", turn) % NUMBERS for turn in count())
        return next(number for number in numbers if str(number) not in opened)

    def last(self, level=None):
        """(level, number) of the case that was opened last, of all or of a level; None where there was none."""
        fields = self._fields()
        text = fields.get("last" if level is None else f"last/{level}", "")
        kept = re.fullmatch(r"(\d)/(\d{1,6})", text)
        return (int(kept[1]), int(kept[2])) if kept else None

    def opened(self, level, number):
        """Keep that a case was opened."""
        case = f"{level}/{number}"
        self._keep({f"opened/{case}": "yes", "last": case, f"last/{level}": case})

    def visit(self, level, number):
        """`KeptVisit` of a case."""
        fields, case = self._fields(), f"{level}/{number}"
        again = int(fields.get(f"again/{case}", 0))
        taken = []
        while (text := fields.get(f"check/{case}/{again}/{len(taken)}")) is not None:
            check, _, place = text.partition(" @ ")
            taken.append((check, tag_as_now(place) or None))
        answer = fields.get(f"answer/{case}/{again}")
        return KeptVisit(again, tuple(taken), tuple(json.loads(_as_now(answer))) if answer else None)

    def took(self, level, number, kept, check, place):
        """Keep a check that was taken after those of a `KeptVisit`."""
        text = f"{check} @ {place}" if place else check
        self._keep({f"check/{level}/{number}/{kept.again}/{len(kept.checks)}": text})

    def began_again(self, level, number, kept):
        """Keep that a case is begun anew; what was done before stays in the file."""
        self._keep({f"again/{level}/{number}": str(kept.again + 1)})

    def judged(self, level, number, kept, answer, judgement, system):
        """Keep an answer (fault, evidence, cure) and how it was judged."""
        right = judgement.fault_right and judgement.cure_right
        slip = "" if right else "cure" if judgement.fault_right else answer[0]
        told = f"{judgement.score} points, {judgement.spent_min:g} minutes"
        self.record.benched(LESSON, f"level {level}", number, system, told, right, slip)
        self._keep({f"answer/{level}/{number}/{kept.again}": json.dumps(answer)})
        self.trouble = self.trouble or self.record.trouble

    @property
    def _entries(self):
        seat = self.record.seat
        who = f"seat {seat.mark} {seat.number}" if seat else f"name {self.record.name}"
        return Entries(f"fault bench, {who}", self.record.path.parent)

    def _fields(self):
        try:
            return self._entries.read() | self._unkept
        except KeptFileError as trouble:
            self.trouble = f"{trouble} The case goes on; what you do now stays only as long as this page's kernel."
            return dict(self._unkept)

    def _keep(self, fields):
        """Keep several texts, by field, and with them what could not be kept before."""
        self._unkept |= fields
        try:
            entries = self._entries
            for field, text in list(self._unkept.items()):
                entries.keep(field, text)
                del self._unkept[field]
            self.trouble = ""
        except KeptFileError as trouble:
            self.trouble = f"{trouble} The case goes on; what you do now stays only as long as this page's kernel."
