"""What has changed between two design records of one site: every figure and verdict that is not the same."""

from helpers.studies.figures import Table
from helpers.studies.status import word_of

__all__ = ["record_changes"]

COLUMNS = ("Section", "What", "Before", "Now")
NONE = "not there"


def record_changes(before, now):
    """Change list of two records. before, now: `Record`s of one site in one system of units. Returns a `Table`, a row for each change.

    Raises ValueError for records of different sites or units. Compared are the summary, the verdict, the figures and the findings of every
    section; pictures and long tables follow from these.
    """
    for name, what in (("site_name", "of one site"), ("system", "in one system of units")):
        if getattr(before, name) != getattr(now, name):
            raise ValueError(f"before and now must be {what}, got {getattr(before, name)!r:.60} and {getattr(now, name)!r:.60}")
    old, new = _said(before), _said(now)
    rows = tuple((*key, old.get(key, NONE), new.get(key, NONE)) for key in dict.fromkeys([*old, *new]) if old.get(key) != new.get(key))
    note = "Nothing has changed." if not rows else ""
    return Table("changes", f"Changes: {now.site_name}", COLUMNS, rows, note=note)


def _said(record):
    """Everything a record says, by (section, what)."""
    said = {("Summary", f"line {number}"): line for number, line in enumerate(record.summary, 1)}
    for section in record.sections:
        said[section.title, "verdict"] = section.verdict
        said |= {(section.title, figure.label): figure.text for figure in section.figures}
        said |= {
            (section.title, f"finding: {finding.what}"): f"{word_of(finding.severity)}, {finding.figure}" for finding in section.findings
        }
    return said
