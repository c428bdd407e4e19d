"""The learner's record: what was predicted and answered, lesson by lesson, kept as it happens; what is done and what comes next.

Events are added and never changed, in the order in which they came (the clock of the machine may be wrong). Export and import are JSON, so
that a record can move to another machine or to the instructor; read twice, it adds nothing twice. Who sits at a seat of a class has the
numbers of that seat, and the export is signed with the seat's key; the key itself never leaves in it.
"""

import json
import re
import uuid
from dataclasses import asdict, dataclass
from datetime import UTC, datetime

from helpers.model.files import FileTextError, bytes_of, named_path, shown_name, write_new
from helpers.teaching import plan
from helpers.teaching.seeds import Seat, seed_of
from helpers.teaching.store import KeptFile, KeptFileError

KINDS = ("name", "predicted", "answered", "bench")
SEAT = "seat"  # a seat that was taken: kept on this machine and never exported, for its key signs
FORMAT, VERSION = "pressure-loop learner record", 1
MOST_BYTES, MOST_EVENTS = 10_000_000, 20_000
MOST_SIGNS = 16 * MOST_EVENTS  # commas and brackets of a file: what is read from it takes memory for each, and this before any is read
MOST_LETTERS = {"text": 2000}  # of what was typed or chosen
LONGEST_NAME = 200  # of all else, such as a lesson's, an item's or a slip's name
UNKEPT = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff]")  # Unicode's control characters; half a sign of two
COLUMNS = (
    "id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, lesson TEXT NOT NULL, item TEXT NOT NULL, "
    "seed INTEGER NOT NULL, system TEXT NOT NULL, text TEXT NOT NULL, good INTEGER NOT NULL, slip TEXT NOT NULL, at TEXT NOT NULL"
)
FIELDS = ("uid", "kind", "lesson", "item", "seed", "system", "text", "good", "slip", "at")
ADD = f"INSERT OR IGNORE INTO events ({', '.join(FIELDS)}) VALUES ({', '.join('?' * len(FIELDS))})"
COUNT = "SELECT count(*) FROM events"
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
class Export:
    """What an exported record says. seat, mark: of the class, or None and nothing; signature, or nothing; body: all that was signed."""

    events: tuple
    seat: int | None
    mark: str
    signature: str
    body: dict


@dataclass(frozen=True)
class LessonStanding:
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
    return next((one.key for one in plan.LESSONS if one.key not in done and done.issuperset(one.builds_on)), None)


class LearnerRecord:
    """The record of whoever works on this machine, in a folder (by default the user's own).

    Where it cannot be kept, `trouble` says so and the events stay in memory until the page is closed. A damaged file is set aside under
    another name, never deleted, and a new one is begun.
    """

    def __init__(self, folder=None):
        self.file = KeptFile("learner.sqlite", "events", COLUMNS, folder)
        self.trouble, self._unkept, self._listeners = "", [], []

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

    @property
    def seat(self):
        """The `Seat` of a class that was taken last, or None."""
        text = next((event.text for event in reversed(self._all_events()) if event.kind == SEAT), "")
        try:
            return Seat.read(text) if text else None
        except ValueError as trouble:  # the file was changed by hand: the lesson goes on with the numbers of the name
            self.trouble = f"The seat that was kept cannot be read, take it again. {trouble}"
            return None

    @seat.setter
    def seat(self, seat):
        self._add(SEAT, text=seat.key if seat else "")

    def events(self):
        """All that was done, in the order in which it came."""
        return [event for event in self._all_events() if event.kind != SEAT]

    def _all_events(self):
        try:
            rows = self.file.ask(ALL)
            self._tell_aside()
        except KeptFileError as trouble:
            rows, self.trouble = [], str(trouble)
        return [*(Event(*row[:7], bool(row[7]), *row[8:]) for row in rows), *self._unkept]

    def predicted(self, lesson, item, text, system):
        """Keep a prediction."""
        self._add("predicted", lesson, item, system=system, text=text)

    def answered(self, lesson, item, seed, system, text, good, slip=""):
        """Keep an answer to an exercise."""
        self._add("answered", lesson, item, seed, system, text, good, slip)

    def benched(self, lesson, item, seed, system, text, good, slip=""):
        """Keep how a case of the fault bench was judged."""
        self._add("bench", lesson, item, seed, system, text, good, slip)

    def prediction(self, lesson, item):
        """(text, system) of the last prediction, or None."""
        own = [event for event in self.events() if (event.kind, event.lesson, event.item) == ("predicted", lesson, item)]
        return (own[-1].text, own[-1].system) if own else None

    def turn(self, lesson, item):
        """How often an exercise has been solved: each time it comes with other numbers. At a seat, only its own numbers count."""
        solved = {e.seed for e in self.events() if (e.kind, e.lesson, e.item, e.good) == ("answered", lesson, item, True)}
        seat = self.seat
        if seat is None:
            return len(solved)
        return next(turn for turn in range(len(solved) + 1) if seat.seed(lesson, item, turn) not in solved)

    def wrong(self, lesson, item, seed):
        """How many wrong answers an exercise has had with the numbers of a seed."""
        key = "answered", lesson, item, seed, False
        return sum((one.kind, one.lesson, one.item, one.seed, one.good) == key for one in self.events())

    def seed(self, lesson, item, turn):
        """Seed of an exercise's numbers: the seat's own in a class, else those of the learner's name."""
        seat = self.seat
        return seed_of(self.name, lesson, item, turn) if seat is None else seat.seed(lesson, item, turn)

    def standing(self, asked):
        """Standing of every lesson; asked: (predictions, exercises) by key of the lesson, each a tuple of their names."""
        events = self.events()
        predicted = {(event.lesson, event.item) for event in events if event.kind == "predicted"}
        solved = {(event.lesson, event.item) for event in events if event.kind == "answered" and event.good}
        found = []
        for lesson in plan.LESSONS:
            predictions, exercises = asked.get(lesson.key, ((), ()))
            counts = [sum((lesson.key, item) in done for item in items) for done, items in ((predicted, predictions), (solved, exercises))]
            found.append(LessonStanding(lesson.key, counts[0], len(predictions), counts[1], len(exercises)))
        return tuple(found)

    def export(self, path):
        """Write the record as JSON into a new file, signed where a seat of a class was taken. Returns the path. Raises ValueError where it
        cannot be written."""
        body, seat = {"format": FORMAT, "version": VERSION, "events": [asdict(event) for event in self.events()]}, self.seat
        if seat is not None:
            body["seat"] = {"class": seat.mark, "number": seat.number}
            body["signature"] = seat.signature(body)
        path = named_path(path)
        _write_new(path, json.dumps(body, ensure_ascii=False, indent=1))
        return path

    def read(self, path):
        """Add the events of an exported record; returns how many were new. Raises ValueError, with a sentence, for another file."""
        events, before = events_of(path), self._all_events()
        new = {event.uid for event in events} - {event.uid for event in before}
        if len(before) + len(new) > MOST_EVENTS:
            count = len(before) + len(new)
            raise ValueError(f"a record must hold {MOST_EVENTS} entries at the most, got {count} with those of {shown_name(path)}")
        self.file.add(ADD, [_row(event) for event in events])
        self._tell_aside()
        self._tell()
        return len(self._all_events()) - len(before)

    def listen(self, callback):
        """Call back, without arguments, after each event."""
        self._listeners.append(callback)

    def _add(self, kind, lesson="", item="", seed=0, system="Pa", text="", good=False, slip=""):
        """Keep an event. Raises ValueError for what no record may hold: what went in must come out again."""
        fields = {"lesson": lesson, "item": item, "seed": int(seed), "system": system, "text": text, "good": bool(good), "slip": slip}
        for name, value in fields.items():
            if isinstance(value, str):
                fields[name] = UNKEPT.sub(" ", value.encode("utf-8", "replace").decode("utf-8"))
            if wrong := _wrong(name, fields[name]):
                raise ValueError(f"{name} {wrong}")
        event = Event(uuid.uuid4().hex, kind, **fields, at=datetime.now(UTC).isoformat(timespec="seconds"))
        if len(self._unkept) >= MOST_EVENTS:
            raise ValueError(f"a record must hold {MOST_EVENTS} entries at the most")
        try:
            self._full()
            self.file.add(ADD, [_row(one) for one in (*self._unkept, event)])
            self._unkept, self.trouble = [], ""
            self._tell_aside()
        except KeptFileError as trouble:
            self._unkept.append(event)
            self.trouble = f"{trouble} The lesson goes on; what you do now is kept only until this page is closed."
        self._tell()

    def _full(self):
        rows = self.file.ask(COUNT)
        if rows and rows[0][0] >= MOST_EVENTS:
            raise KeptFileError(f"This could not be kept in {self.path.name}: it holds {rows[0][0]} entries, as many as a record may.")

    def _tell_aside(self):
        if self.file.aside:
            self.trouble = f"The record {self.file.aside}"

    def _tell(self):
        for callback in list(self._listeners):
            callback()


def events_of(path):
    """Events of an exported record. Raises ValueError as `read_export`."""
    return list(read_export(path).events)


def read_export(path):
    """An exported record, as an `Export`. Raises ValueError, with a sentence, for a file that is none, too large, or damaged."""
    path = named_path(path)
    try:
        raw = bytes_of(path, MOST_BYTES)
    except FileTextError as refusal:
        raise ValueError(f"{refusal}: this is no learner's record") from None
    except OSError as trouble:
        raise ValueError(f"{shown_name(path)} cannot be read: {trouble.strerror}") from None
    name = shown_name(path)
    if (signs := sum(map(raw.count, (b",", b"[", b"{")))) > MOST_SIGNS:
        raise ValueError(f"{name} is no learner's record: it holds {signs} commas and brackets, none more than {MOST_SIGNS}")
    try:
        body = json.loads(raw.decode("utf-8"), object_pairs_hook=_once_each, parse_constant=_no_number)
    except _TwiceError as trouble:
        raise ValueError(f"{name} is damaged: {trouble}") from None
    except (ValueError, RecursionError):
        raise ValueError(f"{name} is no learner's record: it is not written as JSON") from None
    if not isinstance(body, dict) or body.get("format") != FORMAT or not isinstance(body.get("events"), list):
        raise ValueError(f"{name} is no learner's record of this workbook")
    if type(body.get("version")) is not int or body["version"] != VERSION:
        raise ValueError(f"{name} is of version {body.get('version')!r:.20}; this workbook reads version {VERSION}")
    events = tuple(_event(one, number, name) for number, one in enumerate(body["events"], 1))
    return _export(events, body, name)


class _TwiceError(ValueError):
    """Something that JSON allows and nobody means."""


def _once_each(pairs):
    found = {}
    for name, value in pairs:
        if name in found:
            raise _TwiceError(f"it says {name!r:.40} twice in one place")
        found[name] = value
    return found


def _no_number(text):
    raise _TwiceError(f"it holds {text}, which is no number")


def _export(events, body, name):
    """The export with its seat, which must be one where it is named; nothing else is in a record."""
    if more := sorted(set(body) - {"format", "version", "events", "seat", "signature"}):
        raise ValueError(f"{name} is damaged: {more[0]!r:.40} is no part of a record")
    signature, seat = body.pop("signature", ""), body.get("seat", {"class": "", "number": None})
    sound = isinstance(signature, str) and isinstance(seat, dict) and set(seat) == {"class", "number"} and isinstance(seat["class"], str)
    if not sound or ("seat" in body and not (type(seat["number"]) is int and 0 < seat["number"] < 10_000 and len(seat["class"]) <= 20)):
        raise ValueError(f"{name} is damaged: its seat is not one of a class")
    return Export(events, seat["number"], seat["class"], signature, body)


def _write_new(path, text):
    """Write a file that was not there, all of it or nothing: also a process that is killed leaves no half of it under this name."""
    if not path.name.isprintable():
        raise ValueError(f"path must be that of a new file, of letters that can be seen; got {shown_name(path)}")
    try:
        write_new(path, text.encode("utf-8"))
    except (OSError, ValueError) as trouble:  # the latter: a null in the path
        why = getattr(trouble, "strerror", None) or "no file can have this name"
        raise ValueError(f"path must be that of a new file; {shown_name(path) or path} cannot be written: {why}") from None


def _event(one, number, name):
    """One event of a file, every field of the kind it must be."""
    where = f"{name} is damaged: event {number}"
    if not isinstance(one, dict) or set(one) != set(FIELDS):
        got = ", ".join(map(repr, one)) if isinstance(one, dict) else repr(one)
        raise ValueError(f"{where} must have {', '.join(FIELDS)}; got {got:.200}")
    for field, value in one.items():
        if wrong := _wrong(field, value):
            raise ValueError(f"{where}: {field} {wrong}")
    return Event(**one)


def _wrong(field, value):
    """What a field of an event must be and is not, in words; nothing for a sound one."""
    if field == "good":
        return "" if isinstance(value, bool) else f"must be true or false, got {value!r:.40}"
    if field == "seed":
        return "" if type(value) is int and abs(value) < 2**63 else f"must be a whole number below 2^63, got {value!r:.40}"
    most = MOST_LETTERS.get(field, LONGEST_NAME)
    if not isinstance(value, str) or len(value) > most:
        return f"must be {most} letters at the most, got {len(value) if isinstance(value, str) else f'{value!r:.40}'}"
    if unkept := UNKEPT.search(value):
        return f"must be letters that can be kept, got {'a control character' if unkept[0] < 'A' else 'half a sign of two'}"
    return "" if field != "kind" or value in KINDS else f"must be one of {', '.join(KINDS)}, got {value!r:.40}"


def _row(event):
    return tuple(int(value) if isinstance(value, bool) else value for value in asdict(event).values())


_RECORDS = {}


def learner_record():
    """The record of this machine's learner, one in a notebook for each folder."""
    fresh = LearnerRecord()
    return _RECORDS.setdefault(fresh.path, fresh)
