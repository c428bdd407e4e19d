"""What the notebook's view and the exported page of a design record have in common."""

from html import escape

from helpers.panels.markup import paragraphs_html
from helpers.panels.verdict import Verdict, verdict_html
from helpers.studies.status import worst_of

__all__ = ["found", "section_verdict", "summary_html", "verdict_of"]


def found(record, kind, key):
    """The one of a record's "tables" or "pictures" that has a key. Raises ValueError naming those that are there."""
    for item in (item for section in record.sections for item in getattr(section, kind)):  # sections behind it are not written for its sake
        if item.key == key:
            return item
    known = [item.key for section in record.sections for item in getattr(section, kind)]
    raise ValueError(f"key must be one of {', '.join(known)}; got {key!r:.60}")


def section_verdict(section):
    """The verdict of a section, as grave as its gravest finding; None where nothing was judged."""
    gravest = worst_of(finding.severity for finding in section.findings)
    return Verdict(gravest, section.verdict) if gravest else None


def verdict_of(section):
    """(HTML, plain text) of a section's verdict."""
    verdict = section_verdict(section)
    return (paragraphs_html([section.verdict]), section.verdict) if verdict is None else (verdict_html(verdict), str(verdict))


def summary_html(record):
    """What to buy, set and check, as a list."""
    points = "".join(f"<li>{escape(point)}</li>" for point in record.summary)
    return f'<ul style="font-size:16px;line-height:1.5">{points}</ul>'
