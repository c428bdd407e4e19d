"""The design record as one page: no code, no kernel, no network. To be read on a screen, printed in grey on A4 or Letter, and signed."""

import re
from dataclasses import replace
from html import escape

from helpers import __version__, require
from helpers.plots.markup import Verdict, cautions_html, figures_html, findings_html, html_table, lines_html, paragraphs_html, verdict_html
from helpers.plots.picture import picture_of
from helpers.studies.report import listed
from helpers.studies.status import worst_of

__all__ = ["STYLE", "SectionFace", "figure_html", "figures_shown", "findings_shown", "found", "page_html", "plain_page", "section_verdict",
           "signed_html", "summary_shown", "table_shown", "verdict_of"]  # fmt: skip


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


def summary_shown(record):
    """(HTML, plain text) of what fails, then what to buy, set and check, as lists."""
    return "".join(map(lines_html, (record.fails, record.summary))), "\n".join((*record.fails, *record.summary))


SIGNED = ("Prepared by, date", "Checked by, date", "Accepted by, date")
WIDE = 10  # columns from which a table takes a page across
LONG = 12  # rows from which a table goes to the end of the page, so that the choices can be read one after the other
STYLE = """
body { font: 16px/1.45 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: #1b2733; }
body { max-width: 1080px; margin: 24px auto; padding: 0 16px; }
h1 { font-size: 26px; } h2 { font-size: 21px; border-bottom: 2px solid #1b2733; margin-top: 36px; } h3 { font-size: 17px; }
img { max-width: 100%; height: auto; } figure { margin: 14px 0; } figcaption { font-size: 14px; color: #3a4651; }
table { width: 100%; } td, th { overflow-wrap: break-word; hyphens: auto; }
table.signed td { border: 1px solid #55616d; height: 44px; padding: 4px 10px; width: 33%; vertical-align: top; }
nav ul { columns: 2; }
@page { size: auto; margin: 14mm; }
@page across { size: landscape; }
@media print {
  body { font-size: 10pt; max-width: none; margin: 0; padding: 0; } nav { display: none; } h1 { margin-top: 0; }
  p, .verdict, .verdict b, ul, div { font-size: 10pt !important; } figcaption { font-size: 8.5pt; }
  table { font-size: 8.5pt !important; } td, th { padding: 3px 8px !important; }
  h2, h3, caption { break-after: avoid; } figure, tr, section[aria-label], .verdict { break-inside: avoid; }
  thead { display: table-header-group; } img { max-width: 80%; } div { overflow: visible !important; } div.wide { page: across; }
  * { background: none !important; color: #000 !important; }
}
"""


def page_html(record, drawn=None):
    """The record as the text of an HTML page, pictures inside; drawn: of `Picture`, by key, that show the record's already."""
    contents = "".join(f'<li><a href="#{anchor("section", section.key)}">{escape(section.title)}</a></li>' for section in record.sections)
    long = [table for section in record.sections for table in section.tables if len(table.rows) >= LONG]
    parts = [
        f'<p class="state"><b>{escape(record.state_line)}.</b></p>',
        lines_html(record.fails),
        cautions_html(record.cautions),
        f"<h2>{escape(record.heading)}</h2>",
        lines_html(record.summary),
        signed_html(SIGNED, f" for the site {record.site_name}, units: {record.system}"),
        findings_html(record.findings),
        f"<nav><h2>What stands behind it</h2><ul>{contents}</ul></nav>",
        *(_section(section, drawn or {}) for section in record.sections),
        "<h2>Tables in full</h2>",
        *(_table(table) for table in sorted(long, key=_wide)),
    ]
    return plain_page(record.title, parts)


def plain_page(title, parts, across=False):
    """The text of an HTML page of these parts; across: printed across the paper."""
    head = f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{escape(title)}</title>'
    inside = "\n".join([f"<h1>{escape(title)}</h1>", *parts])
    inside = f'<div class="wide">{inside}</div>' if across else inside
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}<style>{STYLE}</style></head>\n<body>\n{inside}\n</body></html>\n'


def figure_html(picture, caption=""):
    """A `Picture` on a page, with its words for those who do not see it."""
    size = f'width="{picture.width_px}" height="{picture.height_px}"'
    under = f"<figcaption>{escape(caption)}</figcaption>" if caption else ""
    return f'<figure><img alt="{escape(picture.words)}" {size} src="{picture.source()}">{under}</figure>'


def anchor(kind, key):
    """Name of a place on the page."""
    return re.sub(r"\W+", "-", f"{kind} {key}")


def figures_shown(figures):
    """(HTML, plain text) of figures with unit, reason and source."""
    words = [f"{figure.label}: {figure.text} ({'; '.join(part for part in (figure.reason, figure.source) if part)})" for figure in figures]
    return figures_html(figures), "\n".join(words)


def table_shown(table):
    """(HTML, plain text) of a table."""
    html = html_table(table.columns, table.rows, table.states, table.title) + (paragraphs_html([table.note]) if table.note else "")
    return html, "\n".join([table.title, *(" | ".join(map(str, row)) for row in (table.columns, *table.rows)), table.note]).strip()


def findings_shown(findings):
    """(HTML, plain text) of findings."""
    words = [f"{Verdict(finding.severity, finding.what)}: {finding.figure}" for finding in findings]
    return findings_html(findings) or paragraphs_html(["Nothing to report."]), "\n".join(words) or "Nothing to report."


class SectionFace:
    """A result of a `Design` in a notebook, as its section of the record: words, figures, findings, the first plot and the first table."""

    def __init__(self, section):
        self.section = section

    def bundle(self):
        """{kind of content: text}."""
        pictures, tables = self.section.pictures, self.section.tables
        more = [f"{name}: {listed(item.key for item in rest)}" for name, rest in (("plots", pictures[1:]), ("tables", tables[1:])) if rest]
        notes = (*self.section.notes, *([f"In the record beside these: {'; '.join(more)}."] if more else []))
        section = replace(self.section, pictures=pictures[:1], tables=tables[:1], notes=notes)
        parts = [verdict_of(section), figures_shown(section.figures), *map(table_shown, section.tables), findings_shown(section.findings)]
        words = "\n\n".join(filter(None, [section.title, *(words for _, words in parts), *section.notes]))
        return {"text/html": _section(section, {}, whole=True), "text/plain": words}

    def plot(self, key=None):
        """A plot of the section, by its key; the first one without. Raises ValueError naming the keys that are there."""
        by_key = {data.key: data for data in self.section.pictures}
        if not by_key:
            raise ValueError(f"{self.section.title}: there is no plot of it")
        return picture_of(by_key[next(iter(by_key)) if key is None else require.one_of(by_key, key=key)])


def _section(section, drawn, whole=False):
    """whole: long tables stand in it and not at the end of the page."""
    parts = [f'<h2 id="{anchor("section", section.key)}">{escape(section.title)}</h2>', verdict_of(section)[0]]
    for data in section.pictures:
        parts += [figure_html(drawn.get(data.key) or picture_of(data), "" if data.caption == section.verdict else data.caption)]
    parts += [figures_html(section.figures)]
    parts += [_table(table) if whole or len(table.rows) < LONG else _pointer(table) for table in section.tables]
    parts += [findings_html(section.findings), paragraphs_html(section.notes)]
    return "\n".join(parts)


def _pointer(table):
    return f'<p>▸ <a href="#{anchor("table", table.key)}">{escape(table.title)}</a>, {len(table.rows)} rows, under "Tables in full".</p>'


def _table(table):
    note = paragraphs_html([table.note]) if table.note else ""
    kind = ' class="wide"' if _wide(table) else ""
    return f'<div id="{anchor("table", table.key)}"{kind}>{html_table(table.columns, table.rows, table.states, table.title)}{note}</div>'


def _wide(table):
    return len(table.columns) >= WIDE


def signed_html(labels, of=""):
    """Room to sign, and by which release of the workbook the page was made; of: what, in words."""
    cells = "".join(f"<td>{escape(label)}</td>" for label in labels)
    return f'<table class="signed"><tr>{cells}</tr></table>{paragraphs_html([f"Made with the pressure-loop workbook {__version__}{of}"])}'
