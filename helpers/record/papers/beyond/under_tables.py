"""Sentences that a table says again and again, as numbered notes under it."""

import re
from dataclasses import replace
from itertools import combinations

from helpers.record.papers.beyond.answered import ANSWERED, LISTED
from helpers.record.standing import ACTION, CHOSEN, FAN, NOT_LAID_DOWN, RAMP, SET_POINT, STANDARD, TUNING

REPEATED = 3  # times in one table, from which a sentence becomes a note; ours
HANG_ON = SET_POINT, ACTION, FAN, RAMP, TUNING, STANDARD, CHOSEN
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
