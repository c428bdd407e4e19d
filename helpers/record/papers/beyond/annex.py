"""What of the analysis stands behind its body, counted apart, or beside others in one table: full tables, subjects settled outside it."""

import re
from collections import Counter
from dataclasses import replace

import numpy as np

from helpers.model.site.criteria import criteria_of
from helpers.model.site.field_types import STANDARD_NAMES
from helpers.studies.report import Table, listed
from helpers.studies.status import STATUSES, word_of

NEEDED = "fan/fan_needed"  # a case a row: in the body the worst of each set of doors stands in its place
FULL = "{}: in full"  # heading in the annex of what belongs to one of the body
IN_ANNEX = "In the annex, {}: {}."
SETTLES, NO_BLANK = "Blank that it answers, whole or in part", "none of its own"
SENTENCES = "what the record says of it"
OUTSIDE_TITLE = "To be settled outside the analysis"
OUTSIDE_SAID = (
    "Each subject is a heading of this report. The record has nothing of it that could be quoted: what the report says of it stands "
    "beside its name, and who settles it under its blanks, below."
)
_TO_HEADING = re.compile(r"\[\[([^\[\]]+)\]\]")


def in_annex_said(number, tables, pictures=(), lines=()):
    """Where what belongs to a heading stands in full, with how many rows of each table have which verdict, in a sentence. number: as
    `annex_number`; lines: the record's own sentences that stand there."""
    told = [*[SENTENCES] * bool(lines), *map(_counted, tables), *(f"picture of {_in_sentence(plot.title)}" for plot in pictures)]
    return IN_ANNEX.format(number, "; ".join(told))


def annex_number(place):
    """Number of a heading of the annex within its paper, by its place from 1."""
    return f"A{place}"


def _counted(table):
    counts = Counter(filter(None, table.states))
    words = [f"{counts[state]} {word_of(state)}" for state in STATUSES if counts[state]]
    rows = f"{len(table.rows)} row{'s' * (len(table.rows) != 1)}"
    return f"{_in_sentence(table.title)}, {rows}{f', {listed(words)}' if words else ''}"


def _in_sentence(title):
    return title if title[1:2].isupper() else f"{title[:1].lower()}{title[1:]}"


def worst_asked(table, needed):
    """The `Table` of what is asked of the fan, of each set of open doors the case alone in which the stated fan has least to spare,
    with margins. table: of every case; needed: the `FanNeeded` it is of. Limits: a case that no fan reaches is the worst of its set."""
    groups = {}
    for place, case in enumerate(needed.cases):
        groups.setdefault((tuple(case.open_doors), tuple(case.open_exits)), []).append(place)
    spare = np.where(needed.reached, needed.highest_hz / np.asarray(needed.margin_hz, float), -np.inf)
    spare = np.where(np.isnan(spare), -np.inf, spare)
    kept = [places[int(np.argmin(spare[places]))] for places in groups.values()]
    counts = tuple(str(len(places)) for places in groups.values())
    rows = tuple((table.rows[place][0], count, *table.rows[place][1:]) for place, count in zip(kept, counts, strict=True))
    states = tuple(table.states[place] for place in kept) if table.states else ()
    columns = (f"{table.columns[0]}, the worst of its doors", "Of cases", *table.columns[1:])
    return replace(table, key="fan_needed worst", title=f"{table.title}: worst case of each set of doors", columns=columns, rows=rows,
                   states=states)  # fmt: skip


def beside_answers(parts, keys, settles, blanks):
    """The `Part`s with the blank of the analysis that each answer speaks to in a last column of the table of answers. An answer fills in no
    blank: who stands under it does.

    keys: of the questions, as the rows of that table; settles: {key: how the words of its blank begin}; blanks: {number: its words}."""
    numbers = [next((f"{number}" for number, what in blanks.items() if what.startswith(settles.get(key, "\0"))), NO_BLANK) for key in keys]

    def with_blanks(table):
        if table.key != "answers":
            return table
        rows = tuple((*row, number) for row, number in zip(table.rows, numbers, strict=True))
        return replace(table, columns=(*table.columns, SETTLES), rows=rows)

    return tuple(replace(part, tables=tuple(map(with_blanks, part.tables))) for part in parts)


def outside(parts):
    """The `Part`s that hold words and blanks alone as one, under `OUTSIDE_TITLE`: a row each, by its heading, and then all their blanks."""
    rows = tuple((part.title, " ".join(part.lines), _numbers(part), "") for part in parts)
    columns = ("Subject", "What this report says of it", "Blanks", "Settled: date, name")
    table = Table("outside", "Subjects", columns, rows)
    first, *_ = parts
    blanks, fields = (tuple(one for part in parts for one in getattr(part, name)) for name in ("blanks", "fields"))
    return replace(first, title=OUTSIDE_TITLE, lines=(OUTSIDE_SAID,), tables=(table,), blanks=blanks, fields=fields)


def without_codes(table):
    """A `Table` of what standards ask without the columns of those that hold together with a building code which is not adopted here."""
    codes = {criteria_of(name).title for name in STANDARD_NAMES if criteria_of(name).by_building_code}
    kept = [place for place, head in enumerate(table.columns) if head not in codes]
    return replace(
        table, columns=tuple(table.columns[place] for place in kept), rows=tuple(tuple(row[place] for place in kept) for row in table.rows)
    )


def _numbers(part):
    return listed(label.removeprefix("BLANK ").partition(".")[0] for label in part.blanks)


def with_headings(paper):
    """A `Paper` whose lines name another heading by its number where they have it between double brackets. Raises ValueError for a heading
    that it does not have."""
    numbers = {part.title: heading.split()[0] for heading, part in paper.numbered}

    def named(found):
        if found[1] not in numbers:
            raise ValueError(f"a line names the heading {found[1]!r}; it must be one of this paper's")
        return numbers[found[1]]

    return replace(
        paper, parts=tuple(replace(part, lines=tuple(_TO_HEADING.sub(named, line) for line in part.lines)) for part in paper.parts)
    )
