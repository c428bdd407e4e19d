"""The class table: what the learners' exported records hold, marked anew, and what to teach again tomorrow.

Nothing in a file is trusted: whether it is whole is read from its signature, whose it is from its seat, and whether an answer is right from
the exercise itself, set again from its seed. A file that cannot be used is named with one sentence and left out; the rest goes on.
"""

import stat
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import lru_cache

from helpers.fault_bench.record import benched
from helpers.lessons import LESSONS
from helpers.model.files import named_path, printable
from helpers.teaching.questions import exercise_of
from helpers.teaching.record import MOST_EVENTS, read_export
from helpers.teaching.seeds import EDITIONS, class_mark, seat_of, seed_of
from helpers.units import SYSTEMS

WHOLE, UNSIGNED, CHANGED, OTHER_CLASS = "signed and whole", "not signed", "changed after signing", "other class"
NOT_CHECKED = "signed, not checked: no class code was given"
TRUST = (WHOLE, NOT_CHECKED, UNSIGNED, CHANGED, OTHER_CLASS)  # the more trusted of two files of one learner is taken
COUNTED = (WHOLE, NOT_CHECKED, UNSIGNED)  # the others are shown, and not counted in what the class did
MOST_FILES, MOST_TURNS = 2000, 60
NO_SLIP = "none of the usual slips"


@dataclass(frozen=True)
class Answer:
    """One answer, marked anew. turn: which set of the learner's numbers, 0 those of the sheet, None where they are nobody's; right and
    slip by the exercise itself; recorded: whether the file says the same."""

    lesson: str
    item: str
    turn: int | None
    text: str
    right: bool
    slip: str
    hint: str
    recorded: bool


@dataclass(frozen=True)
class LearnerRow:
    """One learner. state: one of TRUST; answers: of `Answer`; predictions: (lesson, key, text as it counts, whether the model agrees).

    uids: of all entries; other_entries: how many nobody marks; cases: of the fault bench, `Benched`, as the record has
    them, for nothing in it could mark them anew; shared_with: another file that holds entries of this one, or nothing.
    """

    file: str
    name: str
    seat: int | None
    state: str
    answers: tuple
    predictions: tuple
    uids: frozenset = field(repr=False, default=frozenset())
    other_entries: int = 0
    cases: tuple = ()
    shared_with: str = ""

    @property
    def own(self):
        """Answers to the learner's own numbers: the only ones that count."""
        return tuple(answer for answer in self.answers if answer.turn is not None)

    @property
    def tried(self):
        """(lesson, exercise) of those tried."""
        return {(answer.lesson, answer.item) for answer in self.own}

    @property
    def solved(self):
        """Of those solved, at whatever try."""
        return {(answer.lesson, answer.item) for answer in self.own if answer.right}

    @property
    def at_once(self):
        """Of those whose first answer to the sheet's numbers was right."""
        first = {}
        for answer in self.own:
            if answer.turn == 0:
                first.setdefault((answer.lesson, answer.item), answer.right)
        return {key for key, right in first.items() if right}

    @property
    def agreed(self):
        """How many predictions the model agrees with."""
        return sum(one[3] for one in self.predictions)

    @property
    def wrongly_recorded(self):
        """Answers whose mark in the file is not the one they get."""
        return sum(not answer.recorded for answer in self.answers)

    @property
    def slips(self):
        """How often each (lesson, exercise, slip) was made."""
        return Counter((answer.lesson, answer.item, answer.slip or NO_SLIP) for answer in self.own if not answer.right)

    @property
    def found(self):
        """How many cases of the fault bench were found the first time."""
        return sum(case.right for case in self.cases)

    @property
    def remark(self):
        """What the instructor should know of this row, in sentences."""
        strange = len(self.answers) - len(self.own)
        parts = [
            (self.wrongly_recorded, "Answers that the file marks otherwise than they deserve: {}."),
            (strange, "Answers to other numbers than this seat or name has, which do not count: {}."),
            (self.other_entries, "Entries of pages that this table does not mark: {}."),
            (self.shared_with, "The same entries are in {} as well: one computer for two, or copied."),
        ]
        return " ".join(words.format(count) for count, words in parts if count)


@dataclass(frozen=True)
class UnusedFile:
    """A file that was not used, and why, in a sentence."""

    file: str
    why: str


@dataclass(frozen=True)
class ClassTable:
    """The table. mark: of the class, or nothing; rows: by seat, then by name; left_out: files that were not used."""

    mark: str
    rows: tuple
    left_out: tuple

    @property
    def counted(self):
        """Rows that count in what the class did."""
        return tuple(row for row in self.rows if row.state in COUNTED)


def class_table(folder, code=None):
    """Collect the exported records in a folder.

    folder: of .json files, nothing else of it is opened, and folders in it are not entered; code: the class code, with which signatures are
    checked. Returns a `ClassTable`. Raises ValueError where the folder cannot be read, holds too much, or the code is none.
    """
    folder, mark = named_path(folder), class_mark(code) if code is not None else ""
    try:
        paths = sorted(folder.iterdir())
    except OSError as trouble:
        raise ValueError(f"folder {folder.name!r:.80} cannot be read: {trouble.strerror}") from None
    if len(paths) > MOST_FILES:
        raise ValueError(f"folder {folder.name!r:.80} must hold {MOST_FILES} files at the most, got {len(paths)}")
    rows, left_out = [], []
    for path in paths:
        try:
            rows.append(_row(path, mark, code))
        except ValueError as refusal:
            left_out.append(UnusedFile(printable(path.name), printable(str(refusal))))
    rows, doubles = _one_each(rows)
    ordered = sorted(_with_shared(rows), key=lambda row: (row.seat is None, row.seat or 0, row.name.casefold(), row.file))
    return ClassTable(mark, tuple(ordered), (*left_out, *doubles))


def _row(path, mark, code):
    _refuse_what_is_no_file(path)
    export = read_export(path)
    if len(export.events) > MOST_EVENTS:
        raise ValueError(f"{path.name} must hold {MOST_EVENTS} entries at the most, got {len(export.events)}: no learner does so much")
    state = _state(export, mark, code)
    names = [event.text for event in export.events if event.kind == "name"]
    turns = _Turns(export.seat, names, code if state != OTHER_CLASS else None)
    makers, asked = LESSONS.exercises, LESSONS.predictions
    answers, predictions, other = [], {}, 0
    for event in export.events:
        key = event.lesson, event.item
        if event.kind == "answered" and key in makers and event.system in SYSTEMS:
            answers.append(_marked(makers[key], event, turns))
        elif event.kind == "predicted" and key in asked and event.system in SYSTEMS:
            predictions[key] = _compared(asked[key], event.text, event.system)
        elif event.kind not in ("name", "bench"):
            other += 1
    kept = tuple((*key, *told) for key, told in predictions.items() if told)
    uids = frozenset(event.uid for event in export.events)
    return LearnerRow(
        printable(path.name), names[-1] if names else "", export.seat, state, tuple(answers), kept, uids, other, benched(export.events)
    )


def _refuse_what_is_no_file(path):
    """Before anything is opened: a link may lead anywhere, and some things that look like files never end."""
    try:
        kind = path.lstat().st_mode
    except OSError as trouble:
        raise ValueError(f"{path.name} cannot be read: {trouble.strerror}") from None
    if stat.S_ISLNK(kind):
        raise ValueError(f"{path.name} is a link to another place, and is not followed")
    if stat.S_ISDIR(kind):
        raise ValueError(f"{path.name} is a folder; put the files themselves into the folder you collect")
    if not stat.S_ISREG(kind):
        raise ValueError(f"{path.name} is no ordinary file")
    if path.suffix.lower() != ".json":
        raise ValueError(f"{path.name} is no exported record: those end in .json")


def _state(export, mark, code):
    if not export.signature:
        if export.seat is None:
            return UNSIGNED
        return OTHER_CLASS if mark and export.mark != mark else CHANGED  # a seat is never written without one: it was taken off
    if code is None:
        return NOT_CHECKED
    if export.seat is None:
        return CHANGED
    if export.mark != mark:
        return OTHER_CLASS
    try:
        seat = seat_of(code, export.seat)
    except ValueError:
        return CHANGED  # no class has this seat
    return WHOLE if seat.signed(export.body, export.signature) else CHANGED


class _Turns:
    """Which set of a learner's own numbers a seed is: of the seat where the code is known, and of every name the learner had."""

    def __init__(self, seat, names, code):
        self.seat, self.names, self._known = None, list(dict.fromkeys(["", *names]))[:20], {}
        if seat is not None and code is not None:
            try:
                self.seat = seat_of(code, seat)
            except ValueError:
                self.seat = None  # a number that no class has; the row's state says so
        self.trusting = seat is not None and code is None  # nothing to compare with

    def turn(self, lesson, item, seed):
        """0 for the sheet's numbers, more for later ones up to MOST_TURNS, None for numbers that are not this learner's."""
        if self.trusting:
            return 0
        known, untold = self._known.setdefault((lesson, item), ({}, iter(range(MOST_TURNS))))
        while seed not in known and (turn := next(untold, None)) is not None:  # nearly all are among the first
            for own in self._seeds(lesson, item, turn):
                known.setdefault(own, turn)
        return known.get(seed)

    def _seeds(self, lesson, item, turn):
        if self.seat is not None:
            return [self.seat.seed(lesson, item, turn)]
        return [seed_of(name, lesson, item, turn) for name in self.names]


def _marked(make, event, turns):
    """The answer, marked by the exercise that its seed sets; by an earlier edition of it where the file has the mark of that one: what was
    right on the page that asked stays right."""
    turn = turns.turn(event.lesson, event.item, event.seed)
    if turn is None:  # other numbers count for nothing; setting them would only take time
        return Answer(event.lesson, event.item, None, event.text, False, "", "", True)
    marks = [_mark(make, event, edition, turn) for edition in EDITIONS[::-1]]
    return next((one for one in marks if one.recorded), marks[0])


def _mark(make, event, edition, turn):
    right, slip, hint = False, "", ""
    try:
        grade = _exercise(make, event.seed, event.system, edition).grade(event.text)
        right, slip = grade.right, grade.slip
        hint = "" if right or not slip else grade.words
    except ValueError:
        right = False  # what can be read as no answer is a wrong one
    # A slip may have a name today that nobody knew when it was made; a zero was once taken for a figure in another unit, and a figure far
    # from the answer for one with its decimal point moved.
    was = {"zero": ("unit",), "": ("decimal point",), "rounded": ("decimal point",)}.get(slip, ())
    recorded = right == event.good and (event.slip in ("", slip) or (not right and event.slip in was))
    return Answer(event.lesson, event.item, turn, event.text, right, slip, hint, recorded)


@lru_cache(maxsize=20_000)
def _exercise(make, seed, system, edition):
    return exercise_of(make, seed, system, edition)


@lru_cache(maxsize=20_000)
def _compared(prediction, text, system):
    """(text as it counts, whether the model agrees), or None for what is no prediction."""
    try:
        compared = prediction.compare(text, system)
    except ValueError:
        return None
    return text, compared.agree


def _one_each(rows):
    """One row for each learner, the most trusted and then the fullest file; the others with the reason why they are left out."""
    kept, doubles = [], []
    for row in sorted(rows, key=lambda row: (TRUST.index(row.state), -len(row.uids), row.file)):
        same = next((one for one in kept if _same_learner(one, row)), None)
        if same is None:
            kept.append(row)
        else:
            doubles.append(UnusedFile(row.file, _double(row, same)))
    return kept, doubles


def _with_shared(rows):
    """The rows, each with the other file that holds entries of it: on a shared computer that is innocent, else it was copied."""
    owner, found = {}, {}
    for row in rows:
        for uid in row.uids:
            if uid in owner:
                found.setdefault(row.file, owner[uid])
                found.setdefault(owner[uid], row.file)
            else:
                owner[uid] = row.file
    return [replace(row, shared_with=found.get(row.file, "")) for row in rows]


def _same_learner(one, other):
    """Two seats are two learners, whatever their files have in common; so are two classes."""
    if (one.state == OTHER_CLASS) != (other.state == OTHER_CLASS):
        return False
    if one.seat is not None and other.seat is not None and one.state != OTHER_CLASS:
        return one.seat == other.seat
    return bool(one.uids & other.uids)


def _double(row, same):
    whose = f"of seat {row.seat}" if row.seat is not None and row.seat == same.seat else "of the same learner"
    missing = len(row.uids - same.uids)
    lost = f"; it holds {missing} entries that the other does not" if missing else ", which holds all that is in it"
    return f"{row.file}, {row.state}, is another file {whose}: {same.file} was taken, {same.state}{lost}"
