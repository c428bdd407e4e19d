"""The design record as one page: no code, no kernel, no network. To be read on a screen, printed in grey on A4 or Letter, and signed."""

import re
from dataclasses import replace
from html import escape

from helpers import __version__, require
from helpers.plots.headline import headed, headline_html, told_in_view
from helpers.plots.markup import (
    BESIDE,
    TABLE,
    TEXT,
    Verdict,
    cautions_html,
    counts_html,
    figures_html,
    findings_html,
    folded,
    html_table,
    in_lines_html,
    lines_html,
    mark_html,
    paragraphs_html,
    status_html,
    to_decide_html,
    verdict_html,
)
from helpers.plots.picture import SHARP, picture_of
from helpers.record.board import DECIDE, NOT_YET, fails_counted, first_deed, first_seen, section_deed, to_decide
from helpers.record.sections.signed import FIRST
from helpers.record.standing import NOT_LAID_DOWN
from helpers.studies.report import BoardLine, listed
from helpers.studies.status import DESIGNER, fails_in_lines, one_line, word_of, worst_of


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


def verdict_folded(section, failing=0):
    """As `verdict_of`, of a long one only the beginning in view, the whole folded under it, with what to do; a part that is right says
    that it is a part where the record has FAIL. failing: how many."""
    short, whole = _beginning(section, failing)
    return short + (whole and folded("All of it", whole)), verdict_of(section)[1]


def _beginning(section, failing=0):
    """The beginning of a section's verdict with what to do, which stay in view, and of a long one the whole (HTML)."""
    verdict, seen = section_verdict(section), first_seen(section)
    part = failing and verdict and verdict.kind == "good"
    also = ("wrong", f"Building: {failing} {word_of('wrong')} in the record") if part else ()
    do = f"{DESIGNER}, before anything is entered" if part else section_deed(section)
    words = f"This part alone: {seen}" if part else seen
    short = paragraphs_html([seen]) if verdict is None else told_in_view(replace(verdict, words=words, do=do, also=also))
    return short, "" if seen == section.verdict else paragraphs_html([section.verdict])


def summary_shown(record):
    """(HTML, plain text) of what fails, in a line each, with whom to ask before anything is entered, then what to buy, set and check, as
    lists. The findings of the record have all of it."""
    fails = fails_in_lines(record.findings)
    words, lists = "\n".join((*fails, *record.summary)), "".join(map(lines_html, (fails, record.summary)))
    return _under_the_count(record, lists), words


def all_findings_shown(record):
    """As `findings_shown` of all findings of a record, under how many FAIL there are and whom to ask: a list of many screens."""
    html, words = findings_shown(record.findings)
    return _under_the_count(record, html), words


def _under_the_count(record, html):
    if not (fails := fails_counted(record)):
        return html
    head = f"{fails} {word_of('wrong')} in the record: enter nothing in the drive yet"
    return headed(Verdict("wrong", head, head, do=DESIGNER), html)


MEMORY, DAGGER, DAGGER_MEANS = (
    "(from memory, not verified)",
    "†",
    "from memory, not verified: to be looked up in the text before anybody relies on it",
)
MOST_PRINTED = 14  # findings of a board, a line each
THREE = "display:grid;grid-template-columns:repeat(auto-fit,minmax(258px,1fr));gap:8px 12px;margin:8px 0"
TWO = "display:grid;grid-template-columns:minmax(300px,3fr) minmax(300px,2fr);gap:8px 12px;margin:8px 0;align-items:start"
HALVES = "display:grid;grid-template-columns:repeat(auto-fit,minmax(340px,1fr));gap:6px 12px;margin:6px 0;align-items:start"
BOX, BOX_HEAD = "border:1px solid #8a949e;padding:1px 12px 3px", "font-weight:bold;font-size:16px;padding:1px 0;line-height:1.3"
BOARD_PX = 640
BOARD_PICTURE = "profile"  # begins the key of the picture beside what is to be decided


def board_html(record, drawn=None, pictures=True):
    """A record in one screen, for a page or a widget: what it is of, cautions, how many findings of each status, what to buy, set and
    check, one picture, what a person must decide in one line each, every section under its name. What is folded needs no kernel.

    drawn: of `Picture`, by key, that show the record's already; pictures: whether those of the sections are in it.
    """
    listed_above = {(one.what, one.figure) for one in record.findings}  # in full under To decide: here a line each
    sections = ""
    for one in record.sections:
        both = [[found for found in one.findings if ((found.what, found.figure) in listed_above) == there] for there in (True, False)]
        inside = _section(replace(one, findings=both[1]), drawn or {}, pointer=_exported, scale=1 if pictures else 0)
        sections += folded(_section_line(one), inside + in_lines_html(both[0]), is_html=True, group="section")
    behind = folded(f"What stands behind it: {len(record.sections)} sections", sections)
    return (
        f'<div class="board">{_made_for(record)}{folded(CAUTION_LINE, cautions_html(record.cautions))}'
        f"{_answer(record, to_decide_html(to_decide(record.findings)), scale=1, behind=behind)}</div>"
    )


def _made_for(record):
    board = record.board
    return f'<div style="font-size:{TEXT}px;padding:2px 0"><b>{escape(board.site_name)}</b>, {escape(board.made_for)}</div>'


def _answer(record, decide, scale, behind=""):
    """How many findings of each status, what to buy, set and check, one picture beside what is to be decided (HTML); behind: on a screen
    what stands folded under it, and beside that the picture, since the panel over it shows one already."""
    board, first = record.board, headline_html(answered(record))
    buy, to_set, check = (
        _column(name, lines, bool(behind)) for name, lines in (("Buy", board.buy), ("Set", board.set), ("Check", board.check))
    )
    profile = next((data for key, data in record.pictures().items() if key.startswith(BOARD_PICTURE)), None)
    shown = figure_html(picture_of(profile, width_px=BOARD_PX), scale=scale) if profile else ""
    head = f'<div style="{BOX_HEAD}">{DECIDE}, the most serious first</div>'
    decide = f'<div style="{BOX}">{head}{decide}</div>'
    if behind:
        columns = f'<div style="{HALVES}"><div>{buy}{check}</div><div>{to_set}</div></div>'
        picture = folded("The doors in a picture, case by case", shown) if shown else ""
        seen = f'{decide}<div style="{BESIDE}">{picture}{behind}</div>'
    else:
        columns = f'<div class="three" style="{THREE}">{buy}{to_set}{check}</div>'
        seen = f'<div class="two" style="{TWO}"><div>{shown}</div>{decide}</div>'
    return f"{counts_html(record.findings)}{first}{columns if board.buy else ''}{seen}"


def answered(record):
    """The `Verdict` of a record: the first of what is to be decided, as the list under it has it; what waits for it, the worst door with
    all doors shut, and what to do. One order of gravity, so one first on the page."""
    board, first, told = record.board, next(iter(to_decide(record.findings)), None), f"{record.state_line}."
    if first is None or first.severity == "good":
        return Verdict(first.severity if first else "open", told, "Nothing to decide in the model; measure every storey")
    doors = [line for line in board.check if line.what.startswith(("Lowest", "Highest")) and line.value != NOT_YET]
    worst = [f"{line.what}: {line.value}" for line in sorted(doors, key=lambda line: line.status != "wrong")]
    kept = [line.what.lower() for line in (*board.buy, *board.set) if line.status == "wrong"]
    waits = f"Nothing to enter: {board.first}" if board.first else f"Neither buy nor enter: {listed(kept)}" * bool(kept)
    waits = waits.replace(f": {NOT_LAID_DOWN}first ", " before this is settled (existing: leave as approved), then ")
    case = ". ".join(filter(None, (waits, *worst[:1])))
    return Verdict(first.severity, told, one_line(first), case=case, do=first_deed(record.findings))


CAUTION_LINE = "▲ Cautions: a pre-check, measure every storey; isolate before electrical work; no low-demand stop; more"


def board_said(record):
    """The same in plain text."""
    board = record.board
    columns = (("Buy", board.buy), ("Set", board.set), ("Check", board.check))
    told = [f"{name}: {line.what}: {line.value} ({word_of(line.status)})" for name, lines in columns for line in lines]
    first = answered(record)
    head = (f"{board.site_name}, {board.made_for}", record.state_line, f"{word_of(first.kind)}: {first.head}", first.case, first.do)
    left = to_decide(record.findings)
    return "\n".join(filter(None, [*head, *told, *(f"{word_of(one.severity)}: {one_line(one)}" for one in left)]))


def _column(name, lines, foldable):
    """Buy, set or check: a line each, where foldable its reason under its value; what is not laid down yet in one line; "" for no lines."""
    if not lines:
        return ""
    waiting = [line for line in lines if line.status == "open" and line.value == NOT_YET]
    if len(waiting) > 1:
        told = BoardLine("open", NOT_YET.capitalize(), ", ".join(line.what for line in waiting), waiting[0].why)
        lines = [*(line for line in lines if line not in waiting), told]
    rows = "".join(
        f'<tr style="border-bottom:1px solid #d5dbe1"><td style="padding:1px 6px 1px 0;vertical-align:top">{mark_html(line.status)}</td>'
        f'<td style="padding:1px 8px 1px 0;text-align:left;vertical-align:top;white-space:nowrap">{escape(line.what)}</td>'
        f'<td style="padding:1px 0;text-align:left">{_with_why(line, foldable)}</td></tr>'
        for line in lines
    )
    table = f'<table style="border-collapse:collapse;font-size:{TABLE}px;line-height:1.3;width:100%;margin:0">{rows}</table>'
    return f'<div style="{BOX}"><div style="{BOX_HEAD}">{name}</div>{table}</div>'


def _with_why(line, foldable):
    """Value of a line of a board, and folded under it why it is so; a printed record has the reasons in its schedule."""
    value, looks = f"<b>{escape(line.value)}</b>", "cursor:pointer;list-style:none;text-decoration:underline dotted"
    return f'<details name="why"><summary style="{looks}">{value}</summary>{escape(line.why)}</details>' if line.why and foldable else value


def _section_line(section):
    verdict = section_verdict(section)
    return f"{status_html(verdict.kind) if verdict else '<b>–</b>'}&ensp;{escape(section.title)}"


SCHEDULE = "settings"  # key of the section that says what to enter
SIGNED = ("Prepared by, date", "Checked by, date", "Accepted by, date")
WIDE = 10  # columns from which a table takes a page across
IN_VIEW = 1  # pictures of a section on a screen; the others stand folded under it
AT_THE_END = ("air release", "two sets", "critical velocity")  # wide tables whose verdict stands in words where they are left out
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
  body { font-size: 9pt; line-height: 1.3; max-width: none; margin: 0; padding: 0; } nav { display: none; } h1 { margin-top: 0; }
  p, .verdict, .verdict b, ul, div { font-size: 9pt !important; line-height: 1.3 !important; } figcaption { font-size: 8pt; }
  table { font-size: 7.5pt !important; line-height: 1.25 !important; } td, th { padding: 2px 6px !important; }
  h2, h3, caption { break-after: avoid; } figure, tr, section[aria-label], .verdict { break-inside: avoid; }
  .pressure-loop-head { position: static !important; }
  thead { display: table-header-group; } img { max-width: 60% !important; } div.two img { max-width: 100% !important; }
  div { overflow: visible !important; } div.wide { page: across; }
  h2.annex { break-before: page; } div.three { grid-template-columns: repeat(3, 1fr) !important; }
  div.two { grid-template-columns: 2fr 3fr !important; } div.two div { font-size: 8pt !important; line-height: 1.2 !important; }
  div.three td { padding: 1px 4px 1px 0 !important; }
  * { background: none !important; color: #000 !important; }
}
"""


def page_html(record, drawn=None):
    """The record as the text of an HTML page, pictures inside: the answer in one screen with room to sign, what to enter, the findings, and
    from a new sheet on all that stands behind it. drawn: of `Picture`, by key, that show the record's already."""
    behind = [section for section in record.sections if section.key != SCHEDULE]
    contents = "".join(f'<li><a href="#{anchor("section", section.key)}">{escape(section.title)}</a></li>' for section in behind)
    long = [table for section in behind for table in section.tables if _at_the_end(table)]
    parts = [
        _made_for(record),
        f'<p class="state">{escape(record.state_line)}.</p>',
        _answer(record, to_decide_html(to_decide(record.findings), MOST_PRINTED), SHARP),
        _signed(record),
        cautions_html(record.cautions),
        f"<p>{DAGGER} {DAGGER_MEANS}</p>",
        *(_section(_without_fails(section), drawn or {}, whole=True) for section in record.sections if section.key == SCHEDULE),
        findings_html(record.findings),
        f"<nav><h2>What stands behind it</h2><ul>{contents}</ul></nav>",
        f'<h2 class="annex">Annex. In words: {escape(record.heading)}</h2>',
        f"<p>{DAGGER} {DAGGER_MEANS}</p>",
        lines_html(record.summary),
        *(_section(section, drawn or {}) for section in behind),
        "<h2>Tables in full</h2>",
        *(_table(table) for table in sorted(long, key=_wide)),
    ]
    return plain_page(record.title, parts).replace(MEMORY, DAGGER)


def _without_fails(schedule):
    """The section of the schedule without its head of what fails: that stands on the same sheet."""
    return replace(schedule, tables=tuple(replace(one, rows=tuple(row for row in one.rows if row[0] != FIRST)) for one in schedule.tables))


def _signed(record):
    return signed_html(SIGNED, f" for the site {record.site_title}, units: {record.system}")


def plain_page(title, parts, across=False, style=""):
    """The text of an HTML page of these parts; across: printed across the paper; style: rules of its own beside those of all pages."""
    head = f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{escape(title)}</title>'
    inside = "\n".join([f"<h1>{escape(title)}</h1>", *parts])
    inside = f'<div class="wide">{inside}</div>' if across else inside
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}<style>{STYLE}{style}</style></head>\n<body>\n{inside}\n</body></html>\n'


def figure_html(picture, caption="", scale=SHARP):
    """A `Picture` on a page, with its words for those who do not see it; scale: pixels of the file for one of the page."""
    size = f'width="{picture.width_px}" height="{picture.height_px}" style="max-width:100%;height:auto"'
    under = f"<figcaption>{escape(caption)}</figcaption>" if caption else ""
    return f'<figure style="margin:8px 0"><img alt="{escape(picture.words)}" {size} src="{picture.source(scale)}">{under}</figure>'


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
    """(HTML, plain text) of findings; of each figure its first clause in plain text, which stands where nothing shows HTML."""
    words = [f"{Verdict(finding.severity, finding.what)}: {finding.figure.split('; ')[0]}" for finding in findings]
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


def _section(section, drawn, whole=False, scale=SHARP, pointer=None):
    """whole: long tables stand in it and not at the end of the page; scale: as of `figure_html`, 0 for no pictures; pointer: says of a
    table where it is, else a link to there."""
    first = "".join(_beginning(section)) if (whole or pointer) and section.findings else verdict_of(section)[0]
    parts = [f'<h2 id="{anchor("section", section.key)}">{escape(section.title)}</h2>', first]
    shown = [
        figure_html(drawn.get(data.key) or picture_of(data), "" if data.caption == section.verdict else data.caption, scale)
        for data in (section.pictures if scale else ())
    ]
    on_screen, more = pointer is not None, shown[IN_VIEW:]
    parts += [*shown[:IN_VIEW], folded(f"{len(more)} more pictures", "".join(more))] if on_screen and more else shown
    parts += [figures_html(section.figures)]
    parts += [_table(table) if whole or not _at_the_end(table) else (pointer or _pointer)(table) for table in section.tables]
    parts += [to_decide_html(section.findings) if on_screen else findings_html(section.findings), paragraphs_html(section.notes)]
    return "\n".join(parts)


def _at_the_end(table):
    return len(table.rows) >= LONG or table.key in AT_THE_END


def _pointer(table):
    return f'<p>▸ <a href="#{anchor("table", table.key)}">{escape(table.title)}</a>, {len(table.rows)} rows, under "Tables in full".</p>'


def _exported(table):
    return paragraphs_html([f'{table.title}, {len(table.rows)} rows: in the exported record, under "Tables in full".'])


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
