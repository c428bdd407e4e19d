"""What stands at the foot: under a table, as numbered notes, the sentences that it says again and again; at the end of a paper the list of
what is CHECK, to be looked at and signed for, of an analysis its findings, with the rest counted."""

import re
from dataclasses import replace
from itertools import combinations

from helpers.record.papers.beyond.answered import ANSWERED, LISTED
from helpers.record.standing import ACTION, CHOSEN, FAN, FOR_INFORMATION, NOT_LAID_DOWN, RAMP, SET_POINT, STANDARD, TUNING
from helpers.studies.report import Table
from helpers.studies.status import word_of

REPEATED = 3  # times in one table, from which a sentence becomes a note; ours
HANG_ON = SET_POINT, ACTION, FAN, RAMP, TUNING, STANDARD, CHOSEN
FIELDS = ("Under", "Line", "Looked at by: name, firm", "Signed, date")
_STEP = f"({word_of('attention')}: "  # a mark in a step
_APART = "blanks", "answers quoted"  # tables with a list of their own
_ASKED = re.compile(rf"(?<=agreed, )see the enquiry list: Q\d+, [^;:.]+|(?<={ANSWERED}, ){LISTED}")  # a question, or a quoted answer


def said_first(standing):
    """Every sentence by which a `Standing` says what has to be settled before a line is laid down."""
    parts = (some for count in range(1, len(HANG_ON) + 1) for some in combinations(HANG_ON, count))
    return tuple(sorted({standing.first(*some) for some in parts} - {""}))


def with_notes(paper, sentences):
    """A `Paper` whose tables have what is to be settled first, and the question by which something is to be agreed, where a table says it
    `REPEATED` times or more, as a numbered note under the table; one number for one sentence in the whole paper. sentences: as `said_first`
    has them."""
    numbers = {}
    cells = (cell for part in paper.parts for table in part.tables for row in table.rows for cell in row if isinstance(cell, str))
    every = {*sentences, *(asked for cell in cells for asked in _ASKED.findall(cell))}
    longest_first = "|".join(map(re.escape, sorted(every, key=lambda one: (-len(one), one))))
    if not longest_first:
        return paper

    def of_part(part):
        return replace(part, tables=tuple(_noted(table, re.compile(longest_first), numbers) for table in part.tables))

    return replace(paper, parts=tuple(map(of_part, paper.parts)))


def _noted(table, sentences, numbers):
    said = [found for row in table.rows for cell in row if isinstance(cell, str) for found in sentences.findall(cell)]
    told = [one for one in dict.fromkeys(said) if said.count(one) >= REPEATED]
    if not told:
        return table
    for one in told:
        numbers.setdefault(one, f"N{len(numbers) + 1}")

    def short(found):
        first = NOT_LAID_DOWN if found[0].startswith(NOT_LAID_DOWN) else ""
        return f"{first}{numbers[found[0]]}" if found[0] in told else found[0]

    rows = tuple(tuple(sentences.sub(short, cell) if isinstance(cell, str) else cell for cell in row) for row in table.rows)
    notes = (f"{numbers[one]}: {one.removeprefix(NOT_LAID_DOWN)}." for one in told)
    return replace(table, rows=rows, note=" ".join(filter(None, (table.note, *notes))))


def checks_listed(parts, only=""):
    """`Table` of the lines and steps of a paper's parts that are CHECK, in a tuple; () for none. Of a part that is refused, none.

    only: key of the table that alone is listed ("": all of them): its rows that are NOT YET then too, and a note with how many rows of the
    other tables are either, repeats included.
    """
    parts = [part for part in parts if not any(FOR_INFORMATION in line for line in part.lines)]  # nobody signs for what is not entered
    asked = ("attention", "open") if only else ("attention",)
    every = [(part.title, table.key, str(row[0]), state) for part in parts for table in part.tables if table.key not in _APART
             for state, row in zip(table.states, table.rows, strict=bool(table.states)) if state in asked]  # fmt: skip
    rows = [(title, name, "", "") for title, key, name, _ in every if only in ("", key)]
    rows += [(part.title, f"step {at}", "", "") for part in parts for at, one in enumerate(part.steps, 1) if _STEP in one]
    if not rows:
        return ()
    title = f"Findings that are {word_of('attention')} or {word_of('open')}" if only else f"Lines that are {word_of('attention')}"
    note = _counted([state for _, key, _, state in every if key != only]) if only else ""
    return (Table("checks", title, FIELDS, tuple(dict.fromkeys(rows)), note=note),)


def _counted(states):
    """What the list leaves out, in words. states: keys of the status of each other row."""
    counts = " and ".join(f"{states.count(state)} {word_of(state)}" for state in ("attention", "open"))
    return (
        f"Findings alone. The other tables of this paper have {counts} rows, repeats included, blanks apart: each is signed for at its own "
        "row, with the paper as a whole; this list releases none of them."
    )
