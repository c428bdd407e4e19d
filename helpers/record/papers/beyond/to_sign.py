"""The list at the end of a paper of what is CHECK, to be looked at and signed for; of an analysis its findings, with the rest counted."""

from helpers.record.standing import FOR_INFORMATION
from helpers.studies.report import Table
from helpers.studies.status import word_of

FIELDS = ("Under", "Line", "Looked at by: name, firm", "Signed, date")
_STEP = f"({word_of('attention')}: "  # a mark in a step
_APART = "blanks", "answers quoted"  # tables with a list of their own


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
