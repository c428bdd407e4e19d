"""The learner's record: what was predicted and answered, lesson by lesson, kept as it happens; what is done and what comes next.

Events are added and never changed, in the order in which they came (the clock of the machine may be wrong). Export and import are JSON, so
that a record can move to another machine or to the instructor; read twice, it adds nothing twice.
"""

import json
import uuid
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from threading import Lock

from helpers.lessons.plan import LESSONS
from helpers.studies.kept_file import KeptFile, KeptFileError

__all__ = ["KINDS", "Event", "LearnerRecord", "Standing", "comes_next", "learner_record"]

KINDS = ("name", "predicted", "answered")
FORMAT, VERSION = "pressure-loop learner record", 1
MOST_BYTES, MOST_LETTERS = 20_000_000, 2000
SETTING_ASIDE = Lock()
COLUMNS = (
    "id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, lesson TEXT NOT NULL, item TEXT NOT NULL, "
    "seed INTEGER NOT NULL, system TEXT NOT NULL, text TEXT NOT NULL, good INTEGER NOT NULL, slip TEXT NOT NULL, at TEXT NOT NULL"
)
FIELDS = ("uid", "kind", "lesson", "item", "seed", "system", "text", "good", "slip", "at")
ADD = f"INSERT OR IGNORE INTO events ({', '.join(FIELDS)}) VALUES ({', '.join('?' * len(FIELDS))})"
ALL = f"SELECT {', '.join(FIELDS)} FROM events ORDER BY id"


@dataclass(frozen=True)
class Event:
    """One thing that happened. kind: one of KINDS; lesson: its key; item: of the prediction or exercise; text as it was typed or chosen."""

    uid: str
    kind: str
    lesson: str = ""
    item: str = ""
    seed: int = 0
    system: str = "Pa"
    text: str = ""
    good: bool = False
    slip: str = ""
    at: str = ""


@dataclass(frozen=True)
class Standing:
    """How far one lesson is: predictions kept and exercises solved, of how many; whether it is done."""

    key: str
    predicted: int
    predictions: int
    solved: int
    exercises: int

    @property
    def done(self):
        """Whether all was predicted and solved."""
        return self.predicted >= self.predictions and self.solved >= self.exercises and self.exercises > 0

    @property
    def begun(self):
        """Whether anything was."""
        return self.predicted + self.solved > 0


def comes_next(standings):
    """Key of the lesson to do next: the first that is not done and builds on done ones only; None when all are done."""
    done = {standing.key for standing in standings if standing.done}
    return next((one.key for one in LESSONS if one.key not in done and done.issuperset(one.builds_on)), None)


class LearnerRecord:
    """The record of whoever works on this machine, in a folder (by default the user's own).

    Where it cannot be kept, `trouble` says so and the events stay in memory until the page is closed. A damaged file is set aside under
    another name, never deleted, and a new one is begun.
    """

    def __init__(self, folder=None):
        self.file = KeptFile("learner.sqlite", "events", COLUMNS, folder)
        self.trouble, self._unkept, self._listeners, self._aside = "", [], [], ""

    @property
    def path(self):
        """Where the record lies."""
        return self.file.path

    @property
    def name(self):
        """The learner's name, or nothing."""
        return next((event.text for event in reversed(self.events()) if event.kind == "name"), "")

    @name.setter
    def name(self, name):
        self._add("name", text=name.strip())

    def events(self):
        """All events, in the order in which they came."""
        try:
            rows = self._or_anew(lambda: self.file.ask(ALL))
        except KeptFileError as trouble:
            rows, self.trouble = [], str(trouble)
        return [*(Event(*row[:7], bool(row[7]), *row[8:]) for row in rows), *self._unkept]

    def predicted(self, lesson, item, text, system):
        """Keep a prediction."""
        self._add("predicted", lesson, item, system=system, text=text)

    def answered(self, lesson, item, seed, system, text, good, slip=""):
        """Keep an answer to an exercise."""
        self._add("answered", lesson, item, seed, system, text, good, slip)

    def prediction(self, lesson, item):
        """(text, system) of the last prediction, or None."""
        own = [event for event in self.events() if (event.kind, event.lesson, event.item) == ("predicted", lesson, item)]
        return (own[-1].text, own[-1].system) if own else None

    def turn(self, lesson, item):
        """How often an exercise has been solved: each time it comes with other numbers."""
        return len({e.seed for e in self.events() if (e.kind, e.lesson, e.item, e.good) == ("answered", lesson, item, True)})

    def standing(self, asked):
        """Standing of every lesson; asked: (predictions, exercises) by key of the lesson, each a tuple of their names."""
        events = self.events()
        predicted = {(event.lesson, event.item) for event in events if event.kind == "predicted"}
        solved = {(event.lesson, event.item) for event in events if event.kind == "answered" and event.good}
        found = []
        for lesson in LESSONS:
            predictions, exercises = asked.get(lesson.key, ((), ()))
            counts = [sum((lesson.key, item) in done for item in items) for done, items in ((predicted, predictions), (solved, exercises))]
            found.append(Standing(lesson.key, counts[0], len(predictions), counts[1], len(exercises)))
        return tuple(found)

    def export(self, path):
        """Write the record as JSON into a new file. Returns the path. Raises ValueError where it cannot be written."""
        body = {"format": FORMAT, "version": VERSION, "events": [asdict(event) for event in self.events()]}
        path = Path(path).expanduser()
        try:
            with path.open("x", encoding="utf-8") as file:  # never over another file
                file.write(json.dumps(body, ensure_ascii=False, indent=1))
        except OSError as trouble:
            raise ValueError(f"path must be that of a new file; {path.name or path} cannot be written: {trouble.strerror}") from None
        return path

    def read(self, path):
        """Add the events of an exported record; returns how many were new. Raises ValueError, with a sentence, for another file."""
        events, before = events_of(path), len(self.events())
        self._or_anew(lambda: self.file.add(ADD, [_row(event) for event in events]))
        self._tell()
        return len(self.events()) - before

    def listen(self, callback):
        """Call back, without arguments, after each event."""
        self._listeners.append(callback)

    def _add(self, kind, lesson="", item="", seed=0, system="Pa", text="", good=False, slip=""):
        if len(text) > MOST_LETTERS:
            raise ValueError(f"text must be {MOST_LETTERS} letters at the most, got {len(text)}")
        text = text.encode("utf-8", "replace").decode("utf-8")  # half a sign of two cannot be kept
        now = datetime.now(UTC).isoformat(timespec="seconds")
        event = Event(uuid.uuid4().hex, kind, lesson, item, int(seed), system, text, bool(good), slip, now)
        try:
            self._or_anew(lambda: self.file.add(ADD, [_row(one) for one in (*self._unkept, event)]))
            self._unkept, self.trouble = [], self._aside
        except KeptFileError as trouble:
            self._unkept.append(event)
            self.trouble = f"{trouble} The lesson goes on; what you do now is kept only until this page is closed."
        self._tell()

    def _or_anew(self, work):
        """What `work` does with the file; where that is damaged it is set aside, and `work` is done with a new one."""
        try:
            return work()
        except KeptFileError as trouble:
            if not trouble.damaged:
                raise
        with SETTING_ASIDE:
            try:
                return work()  # another box of this page may have been first
            except KeptFileError as trouble:
                if not trouble.damaged:
                    raise
            aside = self.file.set_aside()
            self.trouble = self._aside = (
                f"The record was damaged and cannot be read. It was set aside as {aside.name}, in the same folder; a new one is begun."
            )
            return work()

    def _tell(self):
        for callback in list(self._listeners):
            callback()


def events_of(path):
    """Events of an exported record. Raises ValueError, with a sentence, for a file that is none, too large, or damaged."""
    path = Path(path).expanduser()
    try:
        size = path.stat().st_size
        raw = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as trouble:
        raise ValueError(f"{path.name} cannot be read: {trouble.strerror}") from None
    if size > MOST_BYTES:
        raise ValueError(f"{path.name} must be {MOST_BYTES} bytes at the most, got {size}: this is no learner's record")
    try:
        body = json.loads(raw.decode("utf-8"))
    except (ValueError, RecursionError):
        raise ValueError(f"{path.name} is no learner's record: it is not written as JSON") from None
    if not isinstance(body, dict) or body.get("format") != FORMAT or not isinstance(body.get("events"), list):
        raise ValueError(f"{path.name} is no learner's record of this workbook")
    if body.get("version") != VERSION:
        raise ValueError(f"{path.name} is of version {body.get('version')!r:.20}; this workbook reads version {VERSION}")
    return [_event(one, number, path.name) for number, one in enumerate(body["events"], 1)]


def _event(one, number, name):
    """One event of a file, every field of the kind it must be."""
    kinds = {"seed": int, "good": bool}
    sound = isinstance(one, dict) and set(one) == set(FIELDS) and one["kind"] in KINDS
    if not sound or any(type(one[field]) is not kinds.get(field, str) for field in FIELDS) or abs(one["seed"]) >= 2**63:
        raise ValueError(f"{name} is damaged: event {number} is not one of this workbook")
    texts = [value for value in one.values() if isinstance(value, str)]
    if any(len(text) > MOST_LETTERS for text in texts):
        raise ValueError(f"{name} is damaged: event {number} is endlessly long")
    if any("\ud800" <= sign <= "\udfff" for text in texts for sign in text):
        raise ValueError(f"{name} is damaged: event {number} holds half a sign of two")
    return Event(**one)


def _row(event):
    return tuple(int(value) if isinstance(value, bool) else value for value in asdict(event).values())


_RECORDS = {}


def learner_record():
    """The record of this machine's learner, one in a notebook for each folder."""
    fresh = LearnerRecord()
    return _RECORDS.setdefault(fresh.path, fresh)
