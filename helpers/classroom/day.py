"""A class by the clock, as a page: what is shown, asked, left out and handed out in half a day, in a day and in two days.

Minutes come from the plan of the lessons. A lesson is taught whole, or its core (question, panel, comparison, card), or it is only shown.
"""

import math
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from string import ascii_lowercase

from ipywidgets import HTML, HBox, VBox

from helpers import require
from helpers.lessons import LESSONS
from helpers.model.files import texts
from helpers.plots.markup import Verdict, html_table, paragraphs_html, verdict_html
from helpers.teaching.plan import CLASS_LENGTHS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS, Choice, Typed

# Share of a lesson's minutes; ours.
PORTIONS = {"whole": 1.0, "core": 0.5, "shown": 0.25}
ROUND_MIN = 5
DAY_MIN = 24 * 60
MOST_BREAK_MIN = 120
_WORDS = texts("class_day")
WALL = "Open on the wall"  # with a link to the page that has the view; its list leads to the lesson
WALL_LINK = f'<a style="color:#0b3c6f;text-decoration:underline" href="22_projector_and_demos.ipynb" target="_blank">{WALL}</a>'


@dataclass(frozen=True)
class Block:
    """A piece of a class. kind: "lesson", "break", "bench", "sheets", "table" or "words"; minutes, of a break unless another is chosen;
    key, portion: of a lesson; show, ask, leave_out, hand_out: in words."""

    kind: str
    title: str
    minutes: int
    key: str = ""
    portion: str = ""
    show: str = ""
    ask: str = ""
    leave_out: str = ""
    hand_out: str = ""


@dataclass(frozen=True)
class Timed:
    """A block by the clock: day from 1, begin and end as "08:30"."""

    day: int
    begin: str
    end: str
    block: Block


def _lesson(of, portion):
    """A lesson or a part of it, in minutes that end on the clock's fives."""
    minutes = math.ceil(of.minutes * PORTIONS[portion] / ROUND_MIN) * ROUND_MIN
    show = WALL if portion == "shown" else f"{WALL}, then its panel"
    hand_out = "" if portion == "shown" else "its exercise of the class sheet"
    return Block("lesson", of.name, minutes, of.key, portion, show, "", _WORDS["portions"][portion], hand_out)


def _block(name, minutes, **others):
    """A block that is no lesson, with its words of data/texts/class_day.toml but for the others given."""
    return Block(minutes=minutes, **_WORDS[name] | others)


def _bench(minutes, level):
    words = {"title": _WORDS["bench"]["title"].format(level=level), "leave_out": "nothing" if level == 3 else _WORDS["bench"]["leave_out"]}
    return _block("bench", minutes, **words)


_BREAK, _LUNCH = _block("break", 15), _block("lunch", 45)


def _lessons(length, between, first=1, last=None):
    """What a class of this length is taught, in the order of the plan, from the first-th lesson to the last-th; between: what follows a
    lesson, by its place."""
    portions = ((of, of.in_class[CLASS_LENGTHS.index(length)]) for of in LESSONS)
    taught = [(of, portion) for of, portion in portions if portion]
    for place, of in list(enumerate(taught, 1))[first - 1 : last]:
        yield _lesson(*of)
        yield from between.get(place, ())


def _half_day():
    between = {2: (_BREAK,)}
    return ((_block("begin", 10), *_lessons("half a day", between), _bench(30, 1), _block("sheets", 15), _block("end", 5)),)


def _day():
    between = {2: (_BREAK,), 4: (_LUNCH,), 7: (_BREAK,)}
    return ((_block("begin", 15), *_lessons("a day", between), _bench(45, 2), _BREAK, _block("sheets", 20), _block("table", 15),
             _block("end", 10)),)  # fmt: skip


def _two_days():
    between = {1: (_BREAK,), 2: (_LUNCH,), 4: (_BREAK,), 6: (_BREAK,), 7: (_BREAK,), 8: (_LUNCH,), 9: (_BREAK,)}
    return (
        (_block("begin", 15), *_lessons("two days", between, last=5), _block("sheets", 15), _block("end", 5)),
        (_block("table", 15), *_lessons("two days", between, first=6), _bench(45, 3), _block("end", 15)),
    )


LENGTHS = dict(zip(CLASS_LENGTHS, (_half_day, _day, _two_days), strict=True))


def blocks_of(length):
    """The days of a plan, each a tuple of `Block`. Raises ValueError for a length that is not planned, naming those that are."""
    require.one_of(LENGTHS, length=length)
    return LENGTHS[length]()


def timetable(length, start="08:30", break_min=15, lunch_min=45):
    """A plan by the clock, from a start "08:30" on each of its days, with breaks of so many minutes. Returns a tuple of `Timed`.

    Raises ValueError for a start that is none, breaks out of reason, or a class that would run past midnight.
    """
    for name, minutes in (("break_min", break_min), ("lunch_min", lunch_min)):
        if isinstance(minutes, bool) or not isinstance(minutes, int) or not 0 <= minutes <= MOST_BREAK_MIN:
            raise ValueError(f"{name} must be whole minutes from 0 to {MOST_BREAK_MIN}, got {minutes!r:.40}")
    chosen, timed = {"Break": break_min, "Lunch": lunch_min}, []
    for day, blocks in enumerate(blocks_of(length), 1):
        at = clock_time(start)
        for block in blocks:
            end = at + chosen.get(block.title, block.minutes)
            if end >= DAY_MIN:
                raise ValueError(f"start must leave room for the class: from {start} it would run past midnight")
            timed.append(Timed(day, _written(at), _written(end), block))
            at = end
    return tuple(timed)


def clock_time(text):
    """Minutes since midnight of a time such as "08:30" or "8.30". Raises ValueError for what is none.

    >>> clock_time("08:30"), clock_time("14.05")
    (510, 845)
    """
    found = re.fullmatch(r"\s*(\d{1,2})[:.](\d\d)\s*", text) if isinstance(text, str) else None
    if not found or int(found[1]) > 23 or int(found[2]) > 59:
        raise ValueError(f"start must be a time such as 08:30, got {text!r:.40}")
    return 60 * int(found[1]) + int(found[2])


def asked(block):
    """What is asked in a block: of a lesson, the first question of its story, with the model's figures."""
    if block.kind != "lesson":
        return block.ask
    told = LESSONS.of(block.key).story
    return told.says(told.moves[0].ask)


def taught(length):
    """Numbers of the lessons whose exercises stand on the class sheet of a plan, as `class_set` takes them."""
    lessons = (LESSONS.of(block.key) for blocks in blocks_of(length) for block in blocks if block.portion in ("whole", "core"))
    return tuple(of.numbered if of.part else of.number for of in lessons)


def afterwards(length):
    """Names of the lessons of which a plan has nothing: for an evening of their own, or alone."""
    shown = {block.key for blocks in blocks_of(length) for block in blocks}
    return tuple(of.name for of in LESSONS if of.key not in shown)


def left_out(length, key):
    """What a plan leaves out of a lesson it teaches, in words: of the lesson itself, and of what it builds on."""
    of_plan = {block.key: block for blocks in blocks_of(length) for block in blocks if block.kind == "lesson"}
    missing = [LESSONS.of(before) for before in LESSONS.of(key).builds_on if before not in of_plan]
    told = "".join(f"; it builds on {of.name}, which is not taught: tell it in a sentence" for of in missing)
    return f"{of_plan[key].leave_out}{told}"


def _written(minutes):
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


IN_A_CELL = 6  # words
HEAD = ("When", "Min", "What", "Show", "Ask", "Leave out", "Hand out")
START, BREAK_MIN, LUNCH_MIN = "08:30", 15, 45
BREAKS_MIN, LUNCHES_MIN = (5, 10, 15, 20, 30), (30, 45, 60, 75, 90)


def plan_table(length, start=START, break_min=BREAK_MIN, lunch_min=LUNCH_MIN):
    """(HTML, plain text) of a plan by the clock."""
    timed = timetable(length, start, break_min, lunch_min)
    html, lines = [], []
    for day in sorted({one.day for one in timed}):
        of_day = [one for one in timed if one.day == day]
        title = f"{length[0].upper()}{length[1:]}{f', day {day}' if timed[-1].day > 1 else ''}: {of_day[0].begin} to {of_day[-1].end}"
        rows, notes = _noted([_row(length, one) for one in of_day])
        html.append(paragraphs_html(notes) + html_table(HEAD, rows, title=title).replace(WALL, WALL_LINK))
        lines += [*notes, title, *("; ".join(filter(None, row)) for row in rows)]
    ticked = ", ".join(f"{number:0>2}" for number in taught(length))
    sheet = f"The class sheet for it: on the desk of 23 tick {ticked}, one exercise of each. In a cell: "
    call = f"make_class(code, 30, lessons={taught(length)}, each=1)"
    rest = f"Not in this plan, for an evening of their own or alone: {'; '.join(afterwards(length))}."
    return (
        "".join([*html, f'<p style="font-size:15px">{sheet}<code>{call}</code></p>', paragraphs_html([rest])]),
        "\n".join([*lines, f"{sheet}{call}", rest]),
    )


def _noted(rows):
    """(rows, notes): what several rows say alike in one of the last two columns, in more words than a cell holds, stands once, as a
    lettered note."""
    said = Counter(cell for row in rows for cell in row[-2:] if len(cell.split()) > IN_A_CELL)
    letters = dict(zip((cell for cell, times in said.items() if times > 1), ascii_lowercase, strict=False))
    noted = [(*row[:-2], *(f"note {letters[cell]}" if cell in letters else cell for cell in row[-2:])) for row in rows]
    return noted, [f"Note {letter}: {cell}." for cell, letter in letters.items()]


class ClassPlan:
    """A plan to look at; without a kernel, as it opens."""

    def __init__(self, length="a day"):
        self.length = Choice("Length", tuple(LENGTHS), length)
        self.start = Typed("Begins at", clock_time, START, "such as 08:30")
        self.break_min, self.lunch_min = Choice("Break, min", BREAKS_MIN, BREAK_MIN), Choice("Lunch, min", LUNCHES_MIN, LUNCH_MIN)
        self.controls = (self.length, self.start, self.break_min, self.lunch_min)
        self.table = HTML()
        for control in self.controls:
            control.on_change(self.refresh)
        UNITS.listen(self.refresh)
        self.refresh()
        chosen = [HBox([self.length.widget, self.start.widget]), HBox([self.break_min.widget, self.lunch_min.widget, UNITS.switch()])]
        self.box = VBox([*chosen, self.table])

    def refresh(self):
        """Write the plan anew; what cannot be is told in a sentence."""
        try:
            self.table.value = self._told()[0]
        except ValueError as refusal:
            self.table.value = verdict_html(Verdict("entry", str(refusal)))

    def _told(self):
        return written_out(plan_table(self.length.value, self.start.text, self.break_min.value, self.lunch_min.value), UNITS.system)

    def _repr_mimebundle_(self, include=None, exclude=None):
        html, words = self._told()
        return self.box._repr_mimebundle_() | {"text/html": html, "text/plain": words}


@cache
def class_plan():
    """The plan, one in a notebook."""
    return ClassPlan()


def _row(length, timed):
    block = timed.block
    minutes = clock_time(timed.end) - clock_time(timed.begin)
    what = f"{block.title} ({block.portion})" if block.portion else block.title
    leave = left_out(length, block.key) if block.kind == "lesson" else block.leave_out
    return f"{timed.begin} to {timed.end}", str(minutes), what, block.show, asked(block), leave, block.hand_out
