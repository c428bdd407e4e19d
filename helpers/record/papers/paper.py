"""What a paper is made of, and what it becomes: a page to read and print, and Markdown for what others will edit; one look for all."""

import re
from dataclasses import dataclass, replace
from html import escape

from helpers import __version__
from helpers.plots.markup import cautions_html, lines_html, paragraphs_html
from helpers.plots.picture import picture_of
from helpers.record.page import SIGNED, WIDE, anchor, figure_html, plain_page, signed_html, table_shown
from helpers.record.papers.beyond.annex import annex_number
from helpers.record.papers.beyond.answered import answers_listed
from helpers.record.papers.beyond.foot import checks_listed
from helpers.record.papers.beyond.sheet import DRAFT, blanks_html, every_sheet
from helpers.record.sections.signed import site_hash
from helpers.studies.report import Table
from helpers.studies.status import word_of

ISSUE = "Issue of this paper"
ISSUE_FIELDS = ("Drawing number", "Revision", "Date of issue", "Prepared: name, firm", "Checked: name, firm", "Accepted: name, firm")
_TO_CHECK = (
    " paper to check and not an approval. The local code, the approved design, the authority having jurisdiction and a licensed "
    "(UK: competent) engineer decide; all cautions stand on its first page."
)
SHORT_CAUTION, PLANT_CAUTION = f"Life safety: a{_TO_CHECK}", f"No life-safety plant: a{_TO_CHECK}"
GAS_CAUTION = f"Life safety: gas kills without smell. A{_TO_CHECK}"
FIRST_PAGE, BESIDE = "on its first page", "in the papers beside it"
MOST_SHEETS = 30  # of a workbook
HASH_SHOWN = 16  # letters of the hash, as the settings schedule has it
_ALONE = re.compile(r" With the exit open alone: .*?(?= Whether it counts|$)")  # of what is not in the design: no room on one sheet
NOTHING_FAILS = "The record fails in nothing."
LEGEND = (
    "FAIL: do not enter it, it is past a limit. CHECK: enter it when the licensed engineer, or whom he names, has looked at the reason "
    "beside it and signed for it in the list at the end of this paper, not before. NOT YET: there is no value to enter. PASS, or no word: "
    "enter it as it stands."
)
UNTIL = (
    'What stands after "until then", here and in the enquiry list, holds, and is keyed into the program, until somebody has answered: the '
    "safe side of what is open, ours. While the head says DRAFT nothing is ordered by it, and no program is loaded: key, and do not load."
)
ANALYSIS, ENQUIRY, WIDEST = "rational_analysis", "enquiry", "cause_and_effect"  # keys: what fails, what is asked, the widest tables
CALLED, FINDINGS = "call", "findings"  # keys of tables: names and telephones; what the record found
GOES_OUT = "This list goes out all the same, now: its answers are needed to mend that."
SIGNED_TOO = "schedules", "tuning", ANALYSIS  # papers signed without the legend
_MARKDOWN_SIGNS = re.compile(r"([\\`*_\[\]<>|#~])")


@dataclass(frozen=True)
class Part:
    """One part of a paper: its cautions, then sentences, steps in their order, tables (`report.Table`), and blanks to fill in, by label.

    pictures: plots of the record; drawings: (SVG, words) of what is drawn besides; fields: (label, fields) of the blanks of several fields;
    annex: whether it stands behind the body and what is signed, on sheets of its own; in_workbook: tables that its workbook alone has.
    """

    title: str
    lines: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    tables: tuple = ()
    blanks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    pictures: tuple = ()
    drawings: tuple[tuple[str, str], ...] = ()
    fields: tuple[tuple[str, tuple[str, ...]], ...] = ()
    annex: bool = False
    in_workbook: tuple = ()


@dataclass(frozen=True)
class Paper:
    """A paper: its key (in file names), its number in the one numbering of all papers, whom it is for in a sentence, and its parts;
    brief: one sheet of paper, whose head points to the record for what fails and for all cautions."""

    key: str
    number: int
    title: str
    for_whom: str
    parts: tuple[Part, ...]
    brief: bool = False

    @property
    def goes_out(self):
        """Whether it is sent out although the record fails: the enquiry list, which asks and by which nothing is ordered or entered."""
        return self.key == ENQUIRY

    @property
    def across(self):
        """Whether it is printed across the paper: all of its parts with tables have a wide one."""
        with_tables = [part.tables for part in self.parts if part.tables and part.title != ISSUE]
        return bool(with_tables) and all(any(len(table.columns) >= WIDE for table in tables) for tables in with_tables)

    @property
    def sheets(self):
        """(heading, part, table) of each sheet of its workbook: every table, of a long rational analysis those with room to fill in."""
        every = [(heading, part, table) for heading, part in self.numbered for table in (*part.tables, *part.in_workbook)]
        whole = self.key != ANALYSIS or len(every) <= MOST_SHEETS
        return [one for one in every if whole or any("" in row for row in one[2].rows)]

    @property
    def file_name(self):
        """Name of its files without an ending."""
        return f"{self.number:02d}_{self.key}"

    @property
    def numbered(self):
        """(heading, part) of every part, numbered within the paper: its body, then its annex by A1 and so on."""
        body, annex = ([part for part in self.parts if part.annex is behind] for behind in (False, True))
        numbers = *range(1, len(body) + 1), *map(annex_number, range(1, len(annex) + 1))
        return tuple((f"{self.number}.{number} {part.title}", part) for number, part in zip(numbers, (*body, *annex), strict=True))

    @property
    def blanks(self):
        """The heading of every blank to fill in: numbered ones, those of the schedules, and whom to call; signatures are none."""
        called = {heading: sum(len(table.rows) for table in part.tables if table.key == CALLED) for heading, part in self.numbered}
        return tuple(heading for heading, part in self.numbered for _ in range(len(part.blanks) + called[heading]))

    def reworded(self, change):
        """The paper with every text of its lines, steps and tables as a function of a text makes it."""

        def reworded(thing):
            return change(thing) if isinstance(thing, str) else thing

        def part_of(part):
            tables, besides = (tuple(replace(table, rows=tuple(tuple(map(reworded, row)) for row in table.rows), note=change(table.note))
                                     for table in some) for some in (part.tables, part.in_workbook))  # fmt: skip
            lines, steps = tuple(map(change, part.lines)), tuple(map(change, part.steps))
            return replace(part, lines=lines, steps=steps, tables=tables, in_workbook=besides)

        return replace(self, parts=tuple(map(part_of, self.parts)))


@dataclass(frozen=True)
class Stamp:
    """What every paper bears: its site, the hash of the site file's figures, the units, what the record fails in, the cautions; left: what
    is still to be looked at, answered and filled in, in words; beyond: what is not in the design, and what the record found there; short:
    the caution of every printed sheet; summary: file name of the one paper that lists what fails ("": each does); undecided: what nobody
    has decided although nothing that the design counts fails, in a sentence."""

    site_name: str
    digest: str
    system: str
    fails: tuple[str, ...]
    cautions: tuple[str, ...]
    left: str = ""
    beyond: str = ""
    short: str = SHORT_CAUTION
    summary: str = ""
    undecided: str = ""

    @classmethod
    def of(cls, design, cautions, left="", beyond="", short=SHORT_CAUTION, summary="", undecided=""):
        """The stamp of a design; cautions: of its record. Limits: asks for what fails, and so for every section of the record."""
        return cls(
            design.site.title,
            site_hash(design.site)[:HASH_SHOWN],
            design.units,
            design.fails(),
            cautions,
            left,
            beyond,
            short,
            summary,
            undecided,
        )

    @property
    def caution(self):
        """The caution of a brief paper."""
        return self.short.replace(FIRST_PAGE, BESIDE)

    def title(self, paper):
        """Title of a paper, with its number and the site."""
        return f"{paper.number} {paper.title}: {self.site_name}"

    def line(self):
        """Of which file it is, in a line; another hash is another building."""
        return f"{self.site_name}, site file {self.digest}, units {self.system}, workbook {__version__}"

    def first(self, paper):
        """What stands before all else on a paper."""
        return tuple(filter(None, (self.line(), self.state_of(paper), self.beyond)))

    @property
    def state(self):
        """Whether anything may be ordered or entered by the papers, in a sentence."""
        if not self.fails:
            left = f" That is no release: {self.left}." if self.left else ""
            said = f"{self.undecided} Besides, in what its design counts, the record fails in nothing." if self.undecided else NOTHING_FAILS
            return f"{said}{left} Another site file, by its hash, makes this paper void."
        several = "s" * (len(self.fails) > 1)
        where = f"point{several}, {word_of('wrong')}{' each' * bool(several)}, listed at the head of paper {self.summary}"
        listed = f"{len(self.fails)} {where}" if self.summary else f"what is listed below, {word_of('wrong')} each"
        return f"{DRAFT}: the record fails in {listed}. That comes first: order nothing and load nothing yet."

    def fails_on(self, paper):
        """What fails, a line each, as it heads a `Paper`; none where another paper has the summary, which the state then names."""
        return self.fails if self.summary in ("", paper.file_name) else ()

    def state_of(self, paper):
        """The same for one `Paper`: the one that asks goes out all the same."""
        asks = f" {GOES_OUT}" if self.fails and paper.goes_out else ""
        return f"{self.state}{asks}"

    @property
    def _listed_at(self):
        return f"paper {self.summary}" if self.summary else "the other papers"

    @property
    def brief(self):
        """The same on one sheet, where what fails has no room."""
        count = len(self.fails)
        if not count:
            return f"{self.undecided.partition(': see')[0]}. Nothing is released." if self.undecided else self.state
        points = f"{count} point{'s' * (count > 1)}, listed at the head of {self._listed_at}"
        return f"{DRAFT}: the record fails in {points}. That comes first: nothing here is set yet."


def paper_html(paper, stamp):
    """A paper, written out, as the text of an HTML page; every printed sheet bears the stamp and the short caution."""
    if paper.brief:
        on_screen = f'<div class="on-screen">{cautions_html((stamp.caution,))}</div>'  # in print it is in the margin of the one sheet
        head = (paragraphs_html([paper.for_whom, stamp.line(), stamp.brief, *filter(None, [_ALONE.sub("", stamp.beyond)])]), on_screen)
    else:
        head = (paragraphs_html([paper.for_whom, *stamp.first(paper)]), cautions_html(stamp.cautions), lines_html(stamp.fails_on(paper)))
    parts = [f'<h2 id="{anchor("part", heading)}">{escape(heading)}</h2>\n{inside}' for heading, inside in paper_parts(paper)]
    signed = signed_html(signatures(paper), f" from the site file {stamp.digest}")
    body = sum(not part.annex for part in paper.parts)
    behind = ['<div class="annex">', *parts[body:], "</div>"] if parts[body:] else []
    style = every_sheet(paper, stamp, ANALYSIS, WIDEST)
    return plain_page(stamp.title(paper), [*head, *parts[:body], signed, *behind], paper.across, style=style)


def paper_parts(paper):
    """(heading, HTML under it) of each part of a paper."""
    return tuple((heading, _part_html(part, paper.key == ANALYSIS)) for heading, part in paper.numbered)


def _part_html(part, named=False):
    """named: blanks are named alone; the room to write them is elsewhere."""
    caution = cautions_html(part.cautions) if part.cautions else ""
    fields = dict(part.fields)
    blanks = blanks_html([(label, fields.get(label, ())) for label in part.blanks], named)
    pieces = (
        caution, paragraphs_html(part.lines),
        lines_html(part.steps, numbered=True), *(figure for figure, _ in part.drawings),
        *(table_shown(_named_once(table, part))[0] for table in part.tables),
        *(figure_html(picture_of(plot)) for plot in part.pictures),
        blanks,
    )  # fmt: skip
    return "\n".join(filter(None, pieces))


def _blanks_listed(part):
    """The same in Markdown."""
    fields = dict(part.fields)
    return "\n".join(
        line for label in part.blanks for line in (f"- [ ] {markdown_line(label)}", *(f"  - {field}:" for field in fields.get(label, ())))
    )


def _named_once(table, part):
    """A table without its title where that is the heading above it."""
    return replace(table, title="") if table.title == part.title else table


def paper_markdown(paper, stamp):
    """A paper, written out, as Markdown: for whoever edits it further, with the stamp of what it was made from."""
    told = [f"# {markdown_line(stamp.title(paper))}", markdown_line(paper.for_whom), markdown_line(stamp.line())]
    told += [markdown_line(stamp.brief), markdown_line(stamp.beyond), _quoted((stamp.caution,))] if paper.brief else []
    if not paper.brief:
        told += [*map(markdown_line, stamp.first(paper)[1:]), _quoted(("Cautions", *stamp.cautions)), _listed(stamp.fails_on(paper))]
    signed, behind = _listed(signatures(paper), "- [ ]"), False
    for heading, part in paper.numbered:
        told += [signed] * (part.annex and not behind)
        behind = part.annex
        told += _part_markdown(heading, part)
    return "\n\n".join(filter(None, (*told, *[signed] * (not behind)))) + "\n"


def _part_markdown(heading, part):
    """The pieces of a part; "" where it has none of a kind."""
    told = [f"## {markdown_line(heading)}", _quoted(part.cautions), *map(markdown_line, part.lines), _numbered(part.steps)]
    told += [_quoted((words,)) for _, words in part.drawings]
    told += [piece for table in part.tables for piece in (f"### {markdown_line(table.title)}", _table(table), markdown_line(table.note))]
    told += [_quoted((f"Picture: {plot.words}",)) for plot in part.pictures]
    told += [_blanks_listed(part)]
    return told


def markdown_line(text):
    """A text that no sign of Markdown changes, on one line."""
    return _MARKDOWN_SIGNS.sub(r"\\\1", " ".join(text.split()))


def _quoted(lines):
    return "\n>\n".join(f"> {markdown_line(line)}" for line in lines)


def _listed(lines, mark="-"):
    return "\n".join(f"{mark} {markdown_line(line)}" for line in lines)


def _numbered(lines):
    return "\n".join(f"{place}. {markdown_line(line)}" for place, line in enumerate(lines, 1))


def _table(table):
    """Rows between bars, the verdict of a judged row in its first column."""
    judged = any(states := table.states or ("",) * len(table.rows))
    heads = (*["Verdict"] * judged, *table.columns)
    rows = ((*[word_of(state) if state else ""] * judged, *row) for row, state in zip(table.rows, states, strict=True))
    return "\n".join(f"| {' | '.join(map(markdown_line, map(str, row)))} |" for row in (heads, ("---",) * len(heads), *rows))


def signatures(paper):
    """What is signed at the foot of a paper; of one sheet its issue too."""
    return ("Drawing number, revision, date of issue", *SIGNED) if paper.brief else SIGNED


def issued(paper):
    """The `Paper` with the fields of its issue at its end, what no program knows of it; one sheet has them beside its signatures."""
    if paper.brief:
        return paper
    tables = Table("issue", "At issue", ISSUE_FIELDS, (("",) * len(ISSUE_FIELDS),)), *_checks(paper)
    body, annex = ([part for part in paper.parts if part.annex is behind] for behind in (False, True))
    return replace(paper, parts=(*body, Part(ISSUE, tables=tables), *annex))


def _checks(paper):
    """To sign: every line and step that is CHECK, with the legend or of SIGNED_TOO; of an analysis its findings."""
    if paper.key in SIGNED_TOO or any(LEGEND in part.lines for part in paper.parts):
        cells = (cell for part in paper.parts for table in part.tables for row in table.rows for cell in row)
        yield from answers_listed((*(text for part in paper.parts for text in (*part.lines, *part.steps)), *cells))
        yield from checks_listed(paper.parts, FINDINGS if paper.key == ANALYSIS else "")
