"""Pieces of a page: verdicts in words first (colour and border only repeat them), figures, tables, findings; plain HTML, all escaped."""

import re
from base64 import b64encode
from dataclasses import dataclass
from html import escape
from pathlib import Path

from helpers import require
from helpers.model.files import page_part
from helpers.studies.status import STATUSES, TO_DO, one_line
from helpers.units import one_stop
from helpers.units.said import in_each, written_out

HEAD, TEXT, TABLE, SMALL = 18, 15, 14, 13  # px
DRAWINGS_FOLDER = Path(__file__).parents[2] / "data" / "drawings"
LINE_DRAWINGS = "door", "stair", "wire", "loop"
MOST_IN_VIEW = 5  # findings of a list
MOST_WORDS, MOST_TILES = 12, 3  # of a panel's verdict: ours
# For a page of JupyterLab or voila with a panel: text as large as outputs, text tables flush left and lined as theirs, of folded code three
# dots; no buttons of a cell lie on its links (the front end's own setting holds for the first page alone); headlines stay in view.
PAGE_STYLE = f"""<style>
.jp-RenderedHTMLCommon {{ font-size: {TEXT}px; }}
.jp-RenderedMarkdown.jp-RenderedHTMLCommon h1 {{ font-size: 26px; margin: 0 0 6px; }}
.jp-RenderedMarkdown.jp-RenderedHTMLCommon h2 {{ font-size: 22px; margin: 2px 0 6px; }}
.jp-OutputArea .jp-RenderedHTMLCommon h2 {{ font-size: 22px; }} .jp-OutputArea .jp-RenderedHTMLCommon h3 {{ font-size: {HEAD}px; }}
.jp-RenderedMarkdown.jp-RenderedHTMLCommon hr {{ margin: 2px 0 8px; }}
.jp-RenderedMarkdown.jp-RenderedHTMLCommon p {{ margin-bottom: 8px; line-height: 1.5; }}
.jp-RenderedMarkdown.jp-RenderedHTMLCommon details {{ margin-bottom: 2px; line-height: 1.5; }}
.jp-RenderedMarkdown.jp-RenderedHTMLCommon table {{ margin-left: 0; font-size: {TABLE}px; }}
.jp-RenderedMarkdown.jp-RenderedHTMLCommon :is(td, th) {{ vertical-align: top; padding: 5px 8px; line-height: 1.4; }}
.jp-RenderedHTMLCommon tbody tr:nth-child(even):not(:hover) {{ background: none; }}
.jp-RenderedHTMLCommon.jp-RenderedHTMLCommon tbody tr {{ border-bottom: 1px solid #d5dbe1; }}
.jp-RenderedHTMLCommon.jp-RenderedHTMLCommon thead {{ border-bottom: 2px solid #55616d; }}
.jp-Cell .jp-cell-toolbar {{ display: none; }}
.pressure-loop-close {{ font-size: {SMALL}px !important; }} .pressure-loop-close :is(td, th) {{ padding: 4px 5px !important; }}
.pressure-loop-close td {{ white-space: normal !important; min-width: 60px !important; }}
.jp-InputPlaceholder > .jp-Placeholder-content {{ background: none; border-color: transparent; padding: 0 6px; }}
.jp-CodeCell .jp-InputPlaceholder, .jp-InputPlaceholder .jp-MoreHorizIcon {{ height: 16px; min-height: 16px; margin: 0; }}
.jp-InputPlaceholder .jp-PlaceholderText {{ display: none; }}
{page_part("heads.css")}
</style>"""


@dataclass(frozen=True)
class VerdictLooks:
    """Looks of one kind of verdict."""

    mark: str
    word: str
    ink: str
    paper: str
    border: str


_LOOKS = {
    "good": ("✔", "#0b3c6f", "#e8f1f9", "solid"),
    "attention": ("▲", "#6b4a00", "#fdf3d6", "dashed"),
    "wrong": ("✖", "#8a0f31", "#fbe6eb", "double"),
    "open": ("○", "#3a3f45", "#eef0f2", "dotted"),
}
# What is no judgement of a limit has words of its own, in the looks of the nearest status: an answer that is right, something done, a note,
# an entry that cannot be used, figures that are being worked out, an outside check that is met, its printed source opened or not: no PASS.
_OTHERS = {
    "right": ("✔", "RIGHT", "good"),
    "missed": ("▲", "NOT SO", "attention"),
    "done": ("✔", "DONE", "good"),
    "note": ("▲", "NOTE", "attention"),
    "entry": ("?", "NOT USED", "open"),
    "working": ("…", "WORKING", "open"),
    "agrees": ("=", "AGREES, from memory, not verified", "open"),
    "agrees by review": ("=", "AGREES, checked in public text by a reviewer in 2026", "open"),
    "agrees in print": ("=", "AGREES, checked in public text", "open"),
}
KINDS = {key: VerdictLooks(mark, STATUSES[key].word, *looks) for key, (mark, *looks) in _LOOKS.items()}
KINDS |= {key: VerdictLooks(mark, word, *_LOOKS[like][1:]) for key, (mark, word, like) in _OTHERS.items()}


@dataclass(frozen=True)
class Verdict:
    """What a picture comes to, in sentences. kind: one of KINDS, a status of studies.status or one of the words that judge no limit.

    head: the same in one sentence of MOST_WORDS at most, the limit that decides first; tiles: (what, value, limit) of the figures behind
    it, MOST_TILES at most; case: what is judged, in the words of `cases.case_text`; do: what to do, MOST_TO_DO words at most after a TO_DO,
    "" where nothing is. also: (kind, words) of what is judged beside the head, in letters as large: a building that fails under an entry
    that is right, its case after a semicolon; the graver of the two stands on top. A panel shows them, and the words folded away.
    Raises ValueError for another kind, and another beginning of what to do.
    """

    kind: str
    words: str
    head: str = ""
    tiles: tuple[tuple[str, str, str], ...] = ()
    case: str = ""
    do: str = ""
    also: tuple[str, str] | tuple[()] = ()

    def __post_init__(self):
        for kind in (self.kind, *self.also[:1]):
            require.one_of(KINDS, kind=kind)
        if self.do and not written_out(self.do).startswith(TO_DO):
            raise ValueError(f"do must begin with {' or '.join(map(str.strip, TO_DO))}, got {self.do!r:.60}")
        object.__setattr__(self, "words", one_stop(self.words))

    def __str__(self):
        said = [(self.kind, self.words), *([(self.also[0], one_stop(self.also[1]))] if self.also else [])]
        return " ".join([*(f"{KINDS[kind].word}: {words}" for kind, words in graver_first(said)), *([self.do] if self.do else [])])

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/html": verdict_html(self), "text/plain": str(self)}


def graver_first(said):
    """(kind, ..) of several verdicts, the gravest first; what is no status of a limit stands last, equals as they came."""
    keys = list(STATUSES)
    return sorted(said, key=lambda one: keys.index(one[0]) if one[0] in keys else len(keys))


@in_each
def verdict_html(verdict):
    """The verdict as a line of a page; what it says is shown as text, whatever signs are in it."""
    return judged_html(verdict.kind, escape(verdict.words), TEXT)


def judged_html(kind, inside, letters, above=6):
    """Mark and word of a kind of verdict before some HTML, as a line; letters: their size, above: room over and under them [px]."""
    kind = KINDS[kind]
    looks = f"color:{kind.ink};background:{kind.paper};border:0 {kind.border} {kind.ink};border-left-width:7px"
    wrap = ";text-wrap:balance" * (letters == HEAD)  # no unit alone on a second line
    return (
        f'<div class="verdict" style="{looks};padding:{above}px 12px;font-size:{letters}px;line-height:1.35;white-space:pre-line{wrap}">'
        f'<b style="font-size:{HEAD}px">{kind.mark} {kind.word}</b>&ensp;{inside}</div>'
    )


CELL = "padding:5px 8px;text-align:left;vertical-align:top"
LINE, HEAD_LINE = '<tr style="border-bottom:1px solid #d5dbe1">', '<tr style="border-bottom:2px solid #55616d">'  # a row's, not each cell's
MANY = 9  # columns from which letters are smaller
SHORT, LONG = 16, 50  # letters: fewer stay on one line, a figure beside its unit; more get a column that is not too narrow
CLOSE = 7  # columns from which a page of JupyterLab, 930 px wide beside its list of files at 1366, has less room round its words


FIGURE = re.compile(r"([-−+±]?\d[\d.,]*)(?: (%|°?[A-Za-z][A-Za-z³²/]*|in\. w\.c\.))?")  # and its unit
NONE = "–"  # a blank is filled in by somebody, who writes the unit too
TO_THE_RIGHT = ";text-align:right"


@in_each
def html_table(columns, rows, states=(), title="", units_to_head=True, good=""):
    """A table; a row that is judged begins with the mark and the word of its state. A column of figures stands to the right; their unit,
    where it is the same in all of them, in its head. A cell that has `html` is shown as that. good: the word of rows in which two
    readings agree, which is no PASS."""
    judged = any(states)
    rows = [[cell if isinstance(cell, str) else str(cell) for cell in row] for row in rows]
    columns, figures = [str(column) for column in columns], set()
    if units_to_head:
        columns, figures = _units_to_head(columns, rows)
    head = '<th scope="col" style="{}">{}</th>'
    heads = [head.format(CELL + (TO_THE_RIGHT if place in figures else ""), escape(column)) for place, column in enumerate(columns)]
    head = "".join([head.format(CELL, "Verdict")] * judged + heads)
    body = "".join(_row(row, figures, states[place] if judged else None, good) for place, row in enumerate(rows))
    caption = f'<caption style="text-align:left;font-weight:bold;padding:6px 0">{escape(title)}</caption>' if title else ""
    size = TABLE if len(columns) + judged < MANY else SMALL
    looks = f"border-collapse:collapse;font-size:{size}px;line-height:1.4;margin:6px 0"
    close = ' class="pressure-loop-close"' * (len(columns) + judged >= CLOSE)
    table = f'<table{close} style="{looks}">{caption}<thead>{HEAD_LINE}{head}</tr></thead><tbody>{body}</tbody></table>'
    return f'<div style="overflow-x:auto">{table}</div>'


def figures_html(figures, title=""):
    """Figures with unit, reason and source."""
    rows = [(figure.label, figure.text, figure.reason, figure.source) for figure in figures]
    return html_table(("Quantity", "Value", "Why", "Source"), rows, title=title, units_to_head=False) if rows else ""


@in_each
def findings_html(findings):
    """Findings, each as a block that begins with its severity in words."""
    if not findings:
        return ""
    return (
        f'<div style="font-weight:bold;font-size:{TEXT}px;padding:6px 0">Findings</div>{"".join(_finding(finding) for finding in findings)}'
    )


def paragraphs_html(texts):
    """A paragraph for each text."""
    return "".join(f'<p style="font-size:{TEXT}px;line-height:1.4">{escape(text)}</p>' for text in texts)


def folded(summary, inside, is_html=False, unfolded=False, group=""):
    """HTML that stands folded away under a line of words, and is unfolded without a kernel; is_html: whether the line is HTML itself;
    unfolded: open at first; group: of those in one group a browser keeps one open at a time, so that a page stays short."""
    line = summary if is_html else escape(summary)
    looks = f"font-size:{TEXT}px;line-height:1.4;cursor:pointer"
    named = f' name="{escape(group)}"' if group else ""
    return f'<details{named}{" open" * unfolded}><summary style="{looks}">{line}</summary>{inside}</details>'


LISTS = re.compile(r"; (?![^(]*\))")  # between the pieces of a list in a sentence; none within brackets
LISTED, LONG_PART = 3, 240  # pieces of a finding's part that make a list, letters from which it is one where they bear no numbers
BESIDE = "display:flex;flex-wrap:wrap;gap:0 28px"  # folds on one line, until one is opened


def lines_html(lines, numbered=False):
    """Sentences as a list, numbered where their order matters; nothing for none. A new line in one stays a new line."""
    points, kind = "".join(f'<li style="white-space:pre-line">{escape(line)}</li>' for line in lines), "ol" if numbered else "ul"
    return points and f'<{kind} style="font-size:{TEXT}px;line-height:1.5">{points}</{kind}>'


def cautions_html(cautions):
    """The cautions, framed, before anything else."""
    points = "".join(f"<li>{escape(caution)}</li>" for caution in cautions)
    frame = f"border:2px solid #1b2733;padding:4px 14px;margin:10px 0;font-size:{TEXT}px;line-height:1.4"
    return f'<section aria-label="Cautions" style="{frame}"><b>▲ Cautions</b><ul style="margin:4px 0">{points}</ul></section>'


def status_html(state):
    """Mark and word of a status, in its ink."""
    kind = KINDS[state]
    return f'<b style="color:{kind.ink};white-space:nowrap">{kind.mark} {kind.word}</b>'


def mark_html(state):
    """The mark of a status alone, its word for those who do not see it."""
    kind = KINDS[state]
    return f'<b style="color:{kind.ink}" role="img" aria-label="{kind.word}" title="{kind.word}">{kind.mark}</b>'


def _finding(finding):
    kind = KINDS[finding.severity]
    parts = {"": finding.figure, "Why: ": finding.why, "What would change it: ": finding.remedy, "Source: ": finding.source}
    more = " ".join(_part(lead, text) for lead, text in parts.items() if text)
    looks = f"border-left:3px {kind.border} {kind.ink};padding:2px 10px;margin:6px 0;font-size:{TEXT}px;line-height:1.4;break-inside:avoid"
    head = f'<b style="color:{kind.ink}">{kind.mark} {kind.word}</b>&ensp;<b>{escape(finding.what)}{_stop(finding.what)}</b>'
    return f'<div style="{looks}">{head} {more}{_effects(finding)}</div>'


def _part(lead, text):
    """A part of a finding as a sentence; one that lists much as a list, numbered where its pieces are.

    >>> _part("Why: ", "one; two")
    'Why: one; two.'
    >>> _part("", "1. one; 2. two; 3. three")
    '<ol style="margin:2px 0"><li>one</li><li>two</li><li>three</li></ol>'
    """
    numbered = re.match(r"1\. ", text)
    pieces = re.split(r"(?:^|; )\d+\. ", text)[1:] if numbered else LISTS.split(text)
    if len(pieces) < LISTED or not (numbered or len(text) > LONG_PART):
        return f"{lead}{escape(text)}{_stop(text)}"
    kind = "ol" if numbered else "ul"
    return f'{lead.rstrip()}<{kind} style="margin:2px 0">{"".join(f"<li>{escape(piece)}</li>" for piece in pieces)}</{kind}>'


def counts_html(findings):
    """How many findings of each status, on one line."""
    counts = ((sum(finding.severity == key for finding in findings), key) for key in STATUSES)
    told = "&emsp;".join(f"<b>{count}</b> {status_html(key)}" for count, key in counts if count or key != "open")
    return f'<div style="font-size:{HEAD}px;padding:4px 0">{told}</div>'


@in_each
def to_decide_html(findings, printed=0):
    """Findings as a list to work through, one line each with the rest folded under it: the gravest in view, then the others, then what is
    in order. printed: how many lines, without a fold, on a sheet that nobody unfolds: the others are counted."""
    left = [finding for finding in findings if finding.severity != "good"]
    if printed:
        more = f"<div>{len(left) - printed} more under Findings</div>" if len(left) > printed else ""
        return in_lines_html(left[:printed]) + more
    lines = [folded(_in_a_line(finding), _finding(finding), is_html=True, group="to-decide") for finding in left]
    passed = [finding for finding in findings if finding.severity == "good"]
    more = folded(f"{len(lines) - MOST_IN_VIEW} more to decide", "".join(lines[MOST_IN_VIEW:])) if len(lines) > MOST_IN_VIEW else ""
    good = folded(f"{len(passed)} checked and passed", findings_html(passed)) if passed else ""
    return f'{"".join(lines[:MOST_IN_VIEW])}<div style="{BESIDE}">{more}{good}</div>'


@in_each
def in_lines_html(findings):
    """Findings that stand in full elsewhere on the page, a line each."""
    return "".join(f'<div style="padding:1px 0">{_in_a_line(finding)}</div>' for finding in findings)


def _in_a_line(finding):
    return f"{status_html(finding.severity)}&ensp;{escape(one_line(finding))}"


def _effects(finding):
    """What follows from a finding, listed under it."""
    if not finding.effects:
        return ""
    told = "".join(
        f"<li>{KINDS[effect.severity].word}: {escape(effect.what)}{f': {escape(effect.figure)}' if effect.figure else ''}</li>"
        for effect in finding.effects
    )
    return f'<div>What follows from it:<ul style="margin:2px 0">{told}</ul></div>'


def _stop(text):
    """The full stop a sentence still needs; "in. w.c." brings its own."""
    return "" if text.endswith(".") else "."


def _units_to_head(columns, rows):
    """The heads with units, and the places of columns that hold figures alone, all in one unit; the rows lose what their heads have."""
    figures = set()
    for place, column in enumerate(columns):
        found = {row: FIGURE.fullmatch(rows[row][place]) for row in range(len(rows)) if rows[row][place] != NONE}
        units = {match and match[2] for match in found.values()}
        if len(found) < 2 or None in found.values() or len(units) > 1:
            continue
        figures.add(place)
        if (unit := units.pop()) and column:
            columns[place] = f"{column}, {unit}"
            for row, match in found.items():
                rows[row][place] = match[1]
    return columns, figures


def _row(row, figures, state, good=""):
    shown = ((getattr(cell, "html", escape(cell)), len(cell), TO_THE_RIGHT if place in figures else "") for place, cell in enumerate(row))
    cells = "".join(_cell(*cell) for cell in shown)
    if state is None:
        return f"{LINE}{cells}</tr>"
    agrees = good and state == "good"
    kind = KINDS.get("agrees" if agrees else state)
    judged = _cell(f"<b>{kind.mark} {good if agrees else kind.word}</b>", 0, f";color:{kind.ink}") if kind else _cell("", 0)
    return f"{LINE}{judged}{cells}</tr>"


def _cell(inside, letters, looks=""):
    if letters <= SHORT:
        looks += ";white-space:nowrap"
    else:
        looks += f";min-width:{150 if letters > LONG else 90}px"
    return f'<td style="{CELL}{looks}">{inside}</td>'


def line_drawing(name):
    """A drawing of the thing itself, with the letters of the formulas, as `Card`; its words for those who do not see it are its own.

    Raises ValueError for a name that is none of LINE_DRAWINGS.
    """
    svg = (DRAWINGS_FOLDER / f"{require.one_of(LINE_DRAWINGS, name=name)}.svg").read_text(encoding="utf-8")
    words = re.search("<desc>(.*?)</desc>", svg, re.DOTALL)[1]
    address = f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"
    return Card(f'<img alt="{escape(words)}" width="520" height="300" style="max-width:100%" src="{address}">', words)


@dataclass(frozen=True)
class Card:
    """HTML, and the same in plain text where there is no HTML."""

    html: str
    text: str

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/html": self.html, "text/plain": self.text}
