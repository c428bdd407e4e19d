"""The self-tests of every week as somebody logs them, in a plain file: what is out, which weeks are missing, this year beside the last.

The file is a table with a head, commas or semicolons between: `date` (2026-05-12), `what` was tested, `result` (good or out), and a
`note` where there is something to say. A line a test; several things of one week have several lines. A line that cannot be read is named,
and not used.

Source: a self-test of dedicated smoke-control equipment every week is asked by NFPA 92 (from memory, not verified). Limits: a week is from
Monday to Sunday; a week counts as tested where one line of it can be read, whatever else should have been tested in it.
"""

import csv
import re
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import groupby

from helpers.model.files import shown_name, text_of
from helpers.model.test_day import date_of, not_after

LOG = "self_tests.csv"
COLUMNS, NOTE = ("date", "what", "result"), "note"
GOOD, OUT = "good", "out"
MOST_BYTES, MOST_THINGS, MOST_TOLD, MOST_LETTERS = 3_000_000, 100, 20, 60
WEEK, YEAR = timedelta(weeks=1), timedelta(weeks=52)


@dataclass(frozen=True)
class SelfTest:
    """One line: its day, what was tested, whether it was out, what was noted."""

    day: date
    what: str
    out: bool
    note: str = ""

    @property
    def monday(self):
        """First day of its week."""
        return self.day - timedelta(days=self.day.weekday())


@dataclass(frozen=True)
class TestedThing:
    """One thing that is tested: times out and times tested in the last year and in the one before, and (since when it is out, weeks of that
    in which it was tested, last note) where it is out now, else None."""

    what: str
    out: int
    tested: int
    out_before: int
    tested_before: int
    now: tuple | None

    @property
    def state(self):
        """Key of its status: FAIL while it is out, CHECK where it was out more often than in the year before, or not tested for a year."""
        if self.now is not None:
            return "wrong"
        return "attention" if self.out > self.out_before or not self.tested else "good"


@dataclass(frozen=True)
class SelfTestLog:
    """All self-tests, the earliest first; until: last day that is looked at; left_out: a sentence for each line that could not be used."""

    tests: tuple[SelfTest, ...]
    until: date
    left_out: tuple[str, ...] = ()

    @cached_property
    def missed(self):
        """Mondays of the weeks without a test, from the first week tested to the last one that is over."""
        tested = {one.monday for one in self.tests}
        first, last = self.tests[0].monday, max(self.tests[-1].monday, self.until - timedelta(days=self.until.weekday()) - WEEK)
        return tuple(week for number in range((last - first).days // 7 + 1) if (week := first + number * WEEK) not in tested)

    def names_out(self, name):
        """Whether something that is out now names a device."""
        return any(one.now is not None and names(one.what, name) for one in self.beside)

    @property
    def missed_runs(self):
        """(first Monday, weeks) of the weeks missed on end."""
        runs = groupby(enumerate(self.missed), lambda pair: pair[1] - pair[0] * WEEK)
        return tuple((run[0][1], len(run)) for run in (list(group) for _, group in runs))

    def missed_within(self, years_ago):
        """Weeks missed in the last year (0), or in the one before (1)."""
        return sum(self._year_of(week) == years_ago for week in self.missed)

    @cached_property
    def beside(self):
        """A `TestedThing` of everything that was ever tested, what is out first."""
        told, by_thing = [], {}
        for one in self.tests:
            by_thing.setdefault(one.what, []).append(one)
        for what, mine in by_thing.items():
            years = [[one.out for one in mine if self._year_of(one.day) == ago] for ago in (0, 1)]
            told.append(TestedThing(what, sum(years[0]), len(years[0]), sum(years[1]), len(years[1]), _out_now(mine)))
        return tuple(sorted(told, key=lambda one: one.now is None))

    def _year_of(self, day):
        return (self.until - day) // YEAR


def names(what, device):
    """Whether what was tested names a device, as a word of its own.

    >>> names("PDT-1 zero at rest", "PDT-1"), names("PDT-10 zero at rest", "PDT-1")
    (True, False)
    """
    return re.search(rf"(?<![\w-]){re.escape(device)}(?![\w-])", what) is not None


def _out_now(tests):
    """(since, tests of that, last note) of one thing that is out, None where its last test was good."""
    ended = [place for place, one in enumerate(tests) if not one.out]
    since = tests[ended[-1] + 1 :] if ended else tests
    return (since[0].day, len(since), next((one.note for one in reversed(since) if one.note), "")) if since else None


def read_self_tests(paths, until, today=None):
    """The logs in some files as one `SelfTestLog`; lines that stand in several count once; until: a date, at least looked at so far;
    today: a date after which no line is used, for nothing was tested yet (None: no clock is asked).

    Raises ValueError for a file without its columns or without a line that can be read, and for more than MOST_THINGS names,
    FileTextError for one that gives no text.
    """
    tests, left_out = {}, []
    for path in paths:
        found, told = _read(path, today)
        tests |= dict.fromkeys(found)
        left_out += told
    ordered = sorted(tests, key=lambda one: one.day)
    if not ordered:
        raise ValueError(f"{LOG} must hold one self-test at least that can be read; {left_out[0] if left_out else 'got none'}")
    things = len({one.what for one in ordered})
    if things > MOST_THINGS:
        raise ValueError(f"{LOG} must test {MOST_THINGS} things at the most, named alike every week; got {things} names")
    return SelfTestLog(tuple(ordered), max(until, ordered[-1].day), tuple(left_out))


def _read(path, today):
    """(tests, sentences about lines that are not used) of one file."""
    lines, name = text_of(path, MOST_BYTES).split("\n"), shown_name(path)
    between = ";" if lines[0].count(";") > lines[0].count(",") else ","
    head = [cell.strip().lower() for cell in _cells(lines[0], between)]
    lacking = [column for column in COLUMNS if column not in head]
    if lacking:
        raise ValueError(f"{name} must have the columns {', '.join(COLUMNS)} in its first line; {', '.join(lacking)} lacking")
    places = {column: head.index(column) for column in (*COLUMNS, NOTE) if column in head}
    found, told = [], []
    for number, line in enumerate(lines[1:], 2):
        if line.strip(f"{between} \t\r"):
            row = _cells(line, between)
            try:
                found.append(_test({column: row[place].strip() if place < len(row) else "" for column, place in places.items()}, today))
            except ValueError as refusal:
                told.append(f"{name}, line {number}: {refusal}")
    more = [f"{name}: {len(told) - MOST_TOLD} more lines that cannot be used"] if len(told) > MOST_TOLD else []
    return found, told[:MOST_TOLD] + more


def _cells(line, between):
    """Cells of one line; none of a line that is longer than any cell may be."""
    try:
        return next(csv.reader([line], delimiter=between), [])
    except csv.Error:
        return []


def _test(cells, today):
    try:
        day = date_of(cells["date"])
        not_after(day, today)
    except ValueError as refusal:
        raise ValueError(f"date {refusal}") from None
    if not cells["what"]:
        raise ValueError("what was tested must not be empty")
    result = cells["result"].lower()
    if result not in (GOOD, OUT):
        raise ValueError(f"result must be {GOOD} or {OUT}; got {cells['result']!r:.40}")
    return SelfTest(day, _short(cells["what"]), result == OUT, _short(cells.get(NOTE, "")))


def _short(text):
    """A cell's words without signs that are not seen, cut to a line."""
    plain = "".join(letter if letter.isprintable() else " " for letter in text)
    return plain if len(plain) <= MOST_LETTERS else f"{plain[: MOST_LETTERS - 1]}…"
