"""The design record as one page: no code, no kernel, no network. To be read on a screen, printed in grey on A4 or Letter, and signed.

What the notebook's view and the exported page of a design record have in common.
"""

import base64
import re
from html import escape
from pathlib import Path

from helpers import __version__
from helpers.model.files import write_whole
from helpers.model.site.schema import Site
from helpers.plots.drawings import picture_of
from helpers.record.design import Design
from helpers.studies.report import Record
from helpers.studies.status import worst_of
from helpers.widgets.controls import UNITS
from helpers.widgets.markup import Verdict, cautions_html, figures_html, findings_html, html_table, paragraphs_html, verdict_html

__all__ = ["STYLE", "export_html", "found", "page_html", "section_verdict", "summary_html", "verdict_of"]


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
  p, .verdict, ul, div { font-size: 10pt !important; } table { font-size: 8.5pt !important; } figcaption { font-size: 8.5pt; }
  h2, h3, caption { break-after: avoid; } figure, tr, section[aria-label], .verdict { break-inside: avoid; }
  thead { display: table-header-group; } img { max-width: 80%; } div { overflow: visible !important; } div.wide { page: across; }
  * { background: none !important; color: #000 !important; }
}
"""


def export_html(record_or_site, path, system=None, drawn=None):
    """Write the design record as one HTML file.

    record_or_site: a `Record`, a `Design`, or a `Site` (with its own set point, rule and transmitters). path of the file; folders that
    are not there are made. system: of units, by default the one the unit switch shows; a `Record` has its own. drawn: of `Picture`, by key,
    that need not be drawn again. Returns the path.
    Raises ValueError for anything else, a path of another ending and a file not to be written, OSError where the folder cannot be made.
    """
    path = Path(path)
    if path.suffix != ".html":
        raise ValueError(f"path must end in .html; got {path.name!r:.60}")
    page = page_html(_record(record_or_site, system or UNITS.system), drawn)
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_whole(path, page)


def page_html(record, drawn=None):
    """The record as the text of an HTML page, pictures inside; drawn: of `Picture`, by key, that show the record's already."""
    contents = "".join(f'<li><a href="#{anchor("section", section.key)}">{escape(section.title)}</a></li>' for section in record.sections)
    long = [table for section in record.sections for table in section.tables if len(table.rows) >= LONG]
    parts = [
        f"<h1>{escape(record.title)}</h1>",
        f'<p class="state"><b>{escape(record.state_line)}.</b></p>',
        cautions_html(record.cautions),
        f"<h2>{escape(record.headline)}</h2>",
        summary_html(record),
        _signed(record),
        findings_html(record.findings),
        f"<nav><h2>What stands behind it</h2><ul>{contents}</ul></nav>",
        *(_section(section, drawn or {}) for section in record.sections),
        "<h2>Tables in full</h2>",
        *(_table(table) for table in sorted(long, key=_wide)),
    ]
    head = f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{escape(record.title)}</title>'
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}<style>{STYLE}</style></head>\n<body>\n' + "\n".join(parts) + "\n</body></html>\n"


def anchor(kind, key):
    """Name of a place on the page."""
    return re.sub(r"\W+", "-", f"{kind} {key}")


def _record(given, system):
    if isinstance(given, Record):
        return given
    if isinstance(given, Site):
        given = Design.of(given)
    if not isinstance(given, Design):
        raise ValueError(f"record_or_site must be a Record, a Design or a Site; got {type(given).__name__}")
    return given.record(system)


def _section(section, drawn):
    parts = [f'<h2 id="{anchor("section", section.key)}">{escape(section.title)}</h2>', verdict_of(section)[0]]
    parts += [_figure(data, section.verdict, drawn.get(data.key)) for data in section.pictures]
    parts += [figures_html(section.figures)]
    parts += [_table(table) if len(table.rows) < LONG else _pointer(table) for table in section.tables]
    parts += [findings_html(section.findings), paragraphs_html(section.notes)]
    return "\n".join(parts)


def _figure(data, verdict, picture):
    picture = picture or picture_of(data)
    inside = base64.b64encode(picture.png()).decode("ascii")
    caption = "" if data.caption == verdict else f"<figcaption>{escape(data.caption)}</figcaption>"
    size = f'width="{picture.width_px}" height="{picture.height_px}"'
    return f'<figure><img alt="{escape(picture.words)}" {size} src="data:image/png;base64,{inside}">{caption}</figure>'


def _pointer(table):
    return f'<p>▸ <a href="#{anchor("table", table.key)}">{escape(table.title)}</a>, {len(table.rows)} rows, under "Tables in full".</p>'


def _table(table):
    note = paragraphs_html([table.note]) if table.note else ""
    kind = ' class="wide"' if _wide(table) else ""
    return f'<div id="{anchor("table", table.key)}"{kind}>{html_table(table.columns, table.rows, table.states, table.title)}{note}</div>'


def _wide(table):
    return len(table.columns) >= WIDE


def _signed(record):
    cells = "".join(f"<td>{what}</td>" for what in ("Prepared by, date", "Checked by, date", "Accepted by, date"))
    made = f"Made with the pressure-loop workbook {__version__} for the site {record.site_name}, units: {record.system}"
    return f'<table class="signed"><tr>{cells}</tr></table>{paragraphs_html([made])}'
