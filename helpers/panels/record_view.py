"""A design record piece by piece in a notebook: verdicts, pictures, figures and tables that follow the unit switch."""

from dataclasses import dataclass
from html import escape

from ipywidgets import HTML

from helpers.panels.controls import UNITS
from helpers.panels.drawn import picture_of
from helpers.panels.markup import cautions_html, figures_html, findings_html, html_table, paragraphs_html
from helpers.panels.verdict import Verdict, verdict_html
from helpers.studies.figures import SEVERITIES

__all__ = ["Piece", "RecordView", "section_verdict"]


@dataclass(frozen=True)
class Piece:
    """One piece of a record: a live widget, and what stands in its place on a page without a kernel."""

    widget: object
    data: dict
    metadata: dict

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.widget._repr_mimebundle_() | self.data, self.metadata


class RecordView:
    """The record of a `Design`; each method gives one piece, to be the last line of a cell."""

    def __init__(self, design):
        self.design, self._records, self._shown = design, {}, []
        UNITS.listen(self._units_changed)

    @property
    def record(self):
        """The record in the chosen system of units."""
        if UNITS.system not in self._records:
            self._records[UNITS.system] = self.design.record(UNITS.system)
        return self._records[UNITS.system]

    def cautions(self):
        """What must be seen before anything else."""
        return self._piece(lambda: (cautions_html(self.record.cautions), "\n".join(self.record.cautions)))

    def summary(self):
        """What to buy, set and check."""
        return self._piece(lambda: (summary_html(self.record), "\n".join(self.record.summary)))

    def verdict(self, key):
        """The verdict of a section."""
        return self._piece(lambda: verdict_of(self.record.section(key)))

    def figures(self, key):
        """Figures of a section with unit, reason and source."""
        return self._piece(lambda: _figures(self.record.section(key).figures))

    def table(self, key):
        """A table of the record by its key. Raises ValueError for one that is not there."""
        return self._piece(lambda: _table(found(self.record, "tables", key)))

    def findings(self, key=None):
        """Findings of a section, or all of them, the gravest first."""
        return self._piece(lambda: _findings(self.record.section(key).findings if key else self.record.findings))

    def picture(self, key):
        """A picture of the record by its key. Raises ValueError for one that is not there."""
        picture = picture_of(found(self.record, "pictures", key))
        self._shown.append(lambda: picture.show(found(self.record, "pictures", key)))
        return Piece(picture.image, *picture.still())

    def _piece(self, render):
        """A piece of text: render gives (HTML, plain text)."""
        html, words = render()
        widget = HTML(html)
        self._shown.append(lambda: setattr(widget, "value", render()[0]))
        return Piece(widget, {"text/html": html, "text/plain": words}, {})

    def _units_changed(self):
        for show in self._shown:
            show()


def found(record, kind, key):
    """The one of a record's "tables" or "pictures" that has a key. Raises ValueError naming those that are there."""
    there = {item.key: item for section in record.sections for item in getattr(section, kind)}
    if key not in there:
        raise ValueError(f"key must be one of {', '.join(there)}; got {key!r:.60}")
    return there[key]


def section_verdict(section):
    """The verdict of a section, as grave as its gravest finding; None where nothing was judged."""
    severities = {finding.severity for finding in section.findings}
    gravest = next((severity for severity in SEVERITIES if severity in severities), None)
    return None if gravest is None else Verdict(gravest, section.verdict)


def verdict_of(section):
    """(HTML, plain text) of a section's verdict."""
    verdict = section_verdict(section)
    return (paragraphs_html([section.verdict]), section.verdict) if verdict is None else (verdict_html(verdict), str(verdict))


def summary_html(record):
    """What to buy, set and check, as a list."""
    points = "".join(f"<li>{escape(point)}</li>" for point in record.summary)
    return f'<ul style="font-size:16px;line-height:1.5">{points}</ul>'


def _figures(figures):
    words = [f"{figure.label}: {figure.text} ({'; '.join(part for part in (figure.reason, figure.source) if part)})" for figure in figures]
    return figures_html(figures), "\n".join(words)


def _table(table):
    html = html_table(table.columns, table.rows, table.states, table.title) + (paragraphs_html([table.note]) if table.note else "")
    return html, "\n".join([table.title, *(" | ".join(map(str, row)) for row in (table.columns, *table.rows)), table.note]).strip()


def _findings(findings):
    words = [f"{Verdict(finding.severity, finding.what)}: {finding.figure}" for finding in findings]
    return findings_html(findings) or paragraphs_html(["Nothing to report."]), "\n".join(words) or "Nothing to report."
