"""How a paper is printed: what stands in the margins of every sheet, one sheet that somebody hangs on a wall, and tables that keep to the
width of the sheet: a browser that finds one wider prints the whole paper smaller, its words too."""

from html import escape

from helpers.studies.report import listed

DRAFT = "DRAFT"  # begins the state of papers whose record fails
ONE_SHEET = (
    "table.signed td { width: 25%; } @media print { .on-screen { display: none; } section b::after { content: ': '; } section { margin: "
    "1px 0 !important; padding: 0 6px !important; font-size: 8pt !important; line-height: 1.1 !important; } section b, section ul, "
    "section li { display: inline; padding: 0; } section li::after { content: ' '; } h1 { font-size: 13pt; margin: 0 0 2px; } h2 { "
    "font-size: 9pt; margin: 1px 0 0; } p { margin: 1px 0; font-size: 8pt !important; line-height: 1.05 !important; } table { margin: 1px "
    "0 2px !important; } table.signed td { height: 20px; } ol { margin: 1px 0; font-size: 8pt !important; line-height: 1.05 !important; } "
    "td, th { padding: 0 4px !important; font-size: 7.2pt !important; line-height: 1.0 !important; } } "
)
ON_THE_SHEET = "@media print { td:not(:empty), th { white-space: normal !important; min-width: 0 !important; } } "
CLOSE = (  # of an analysis: words of 9 pt as on all pages, closer set; its tables keep their letters; room to write stands in its annex
    "@media print { p, ul { margin: 3px 0; line-height: 1.2 !important; } ul { padding-left: 16px; } h1 { font-size: 15pt; margin: 0 0 "
    "4px; } h2 { font-size: 11pt; margin: 10px 0 3px; border-bottom-width: 1px; } h3 { font-size: 9.5pt; margin: 4px 0; } caption { "
    "padding: 2px 0 !important; font-size: 8pt; } table { margin: 2px 0 3px !important; line-height: 1.12 !important; } td, th { padding: "
    "1px 4px !important; } img { max-width: 46% !important; } figure { margin: 4px 0 !important; } section[aria-label] { margin: 4px 0 "
    "!important; padding: 2px 10px !important; } } table.blanks td { vertical-align: top; padding: 2px 6px; } table.blanks td:first-child "
    "{ white-space: nowrap !important; width: 1%; } table.blanks { border-left: 3px solid #55616d; font-size: 14px; } "
)
ACROSS = (  # a sheet that somebody could hang on a wall
    f'body::after {{ content: "{DRAFT}"; position: fixed; top: 35%; left: 12%; font: bold 120pt sans-serif; color: #000; opacity: 0.13; '
    "transform: rotate(-35deg); pointer-events: none; } "
)


def every_sheet(paper, stamp, close, across):
    """Rules for the margins of a printed sheet: what it is of, the caution, its number; and for how closely its words are set. close,
    across: keys of the papers that are set close, and whose tables are the widest."""
    below, above = _css_text(f"{paper.number} {paper.title}. {stamp.line()}"), _css_text(stamp.caution if paper.brief else stamp.short)
    looks = "font: 7pt sans-serif; color: #000"
    wide = paper.key in (close, across)
    margin = "8mm 9mm" if paper.brief else "13mm 14mm" if paper.key == close else "18mm 14mm"
    return (
        f"@page {{ margin: {margin}; @top-left {{ content: {above}; {looks}; width: 100%; }} "
        f"@bottom-left {{ content: {below}; {looks}; }} @bottom-right {{ content: counter(page) ' / ' counter(pages); {looks}; }} }}"
        "@media print { ol { font-size: 9pt !important; line-height: 1.3 !important; } } "
        f"{ONE_SHEET if paper.brief else ON_THE_SHEET * wide}{ACROSS if paper.brief and stamp.fails else ''}"
        f"{CLOSE * (paper.key == close)}"
        f"@page annex {{ @bottom-right {{ content: 'Annex, ' counter(page) ' / ' counter(pages); {looks}; }} }} .annex {{ page: annex; "
        "break-before: page; } td:empty:not(:first-child) { border: 1px solid #55616d; min-width: 20mm; }"
    )


def _css_text(text):
    """A text as a string of a style sheet, whatever signs are in it."""
    return '"{}"'.format("".join(sign if sign.isalnum() or sign in " .,;:()-" else f"\\{ord(sign):x} " for sign in text))


def blanks_html(blanks, named=False):
    """The blanks of a heading as a table of a page; "" for none. blanks: (label, its fields); named: each is named alone, its number first,
    and the room to write it is elsewhere."""
    rows = "".join((_blank_named if named else _blank_html)(*one) for one in blanks)
    return rows and f'<table class="{"blanks" if named else "signed"}">{rows}</table>'


def _blank_html(label, fields):
    """A row to fill in, of several fields one each below it."""
    if not fields:
        return f"<tr><td>{escape(label)}</td><td></td></tr>"
    return f'<tr><td colspan="2">{escape(label)}</td></tr>' + "".join(f"<tr><td>{escape(field)}</td><td></td></tr>" for field in fields)


def _blank_named(label, fields):
    """A row that names a blank, its number first, with what of it has room of its own."""
    number, _, what = label.partition(". ")
    told = f"{what} Each by itself: {listed(fields)}." if fields else what
    return f"<tr><td><b>{escape(number)}</b></td><td>{escape(told)}</td></tr>"
