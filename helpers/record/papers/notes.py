"""Numbered notes: what a table of a paper says over and over of what comes first stands once under it, by a number."""

import re
from dataclasses import replace

from helpers.record.standing import NOT_LAID_DOWN

REPEATED = 3  # rows of one table, from which a sentence becomes a note; ours
_FIRST = re.compile(rf"{re.escape(NOT_LAID_DOWN)}(first [^:;.()]*[^:;.() ])")


def with_notes(paper):
    """A `Paper` whose tables have what is to be settled first, where a table says it `REPEATED` times or more, as a numbered note under
    the table; one number for one sentence in the whole paper."""
    numbers = {}
    return replace(paper, parts=tuple(_noted(part, numbers) for part in paper.parts))


def _noted(part, numbers):
    return replace(part, tables=tuple(_table(table, numbers) for table in part.tables))


def _table(table, numbers):
    said = [found for row in table.rows for cell in row if isinstance(cell, str) for found in _FIRST.findall(cell)]
    told = [one for one in dict.fromkeys(said) if said.count(one) >= REPEATED]
    if not told:
        return table
    for one in told:
        numbers.setdefault(one, f"N{len(numbers) + 1}")

    def short(found):
        return f"{NOT_LAID_DOWN}{numbers[found[1]]}" if found[1] in told else found[0]

    rows = tuple(tuple(_FIRST.sub(short, cell) if isinstance(cell, str) else cell for cell in row) for row in table.rows)
    notes = (f"{numbers[one]}: {one}." for one in told)
    return replace(table, rows=rows, note=" ".join(filter(None, (table.note, *notes))))
