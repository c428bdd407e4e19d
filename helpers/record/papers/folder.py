"""The folder of papers: which papers there are, and their files; whose folder it is, and whether it is finished, stands in its contents."""

import hashlib
import os
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from helpers.model.files import FileTextError, bytes_there, free_path, shown_name, text_of, write_whole
from helpers.plots.printer import Printer, PrintingError, write_page
from helpers.record.board import state_of
from helpers.record.papers.beyond.foot import said_first, with_notes
from helpers.record.papers.beyond.found import findings_shown, undecided_said
from helpers.record.papers.enquiry import blank_answers, enquiry, numbered, questions_of
from helpers.record.papers.matrix import matrix
from helpers.record.papers.paper import (
    ANALYSIS,
    ENQUIRY,
    GAS_CAUTION,
    HASH_SHOWN,
    PLANT_CAUTION,
    SHORT_CAUTION,
    Part,
    Stamp,
    issued,
    markdown_line,
    paper_html,
    paper_markdown,
)
from helpers.record.papers.points import alarm_list, points_list
from helpers.record.papers.quoted import Quoted, RefusedQuoted
from helpers.record.papers.schedules import schedules
from helpers.record.papers.sequence import sequence
from helpers.record.papers.told import analysis, notes, owner
from helpers.record.plants.design import PlantDesign
from helpers.record.plants.papers import PLANT_WRITERS, PlantQuoted
from helpers.record.standing import NOT_LAID_DOWN
from helpers.studies.commissioning.sheets import Page
from helpers.studies.report import Table
from helpers.studies.status import word_of
from helpers.units.said import written_out

WRITERS = (sequence, points_list, alarm_list, matrix, schedules, analysis, enquiry, owner, notes)  # in the order of the papers' numbers
REFUSED_WRITERS = (analysis, enquiry)  # of a stair whose doors suit no pressure: of it nothing can be laid down, and its owner needs these
LEFT_OUT = (
    "Of the papers of a job analysis and enquiry list alone are written: no pressure suits the doors of this stair, so that there is no "
    "sequence, no point and no schedule to lay down."
)
RECORD = (  # what the papers name and do not hold
    "These papers quote the design record of the same site file, its settings schedule and its injection table. They do not lie here: "
    "`python -m helpers record SITE.toml` and `python -m helpers sheets SITE.toml` write them, and those that bear the same hash are the "
    "ones quoted."
)
CONTENTS = "00_contents.md"
ANSWERS = "{:02d}_enquiry_answers.toml"  # blank, beside the enquiry list, under its number
_ANSWERS = re.compile(r"\d\d_enquiry_answers\.toml")
FILLED = "filled in: left as it is"
OURS = "Papers of one site file, written by the pressure-loop workbook"  # first line of the contents of a folder of papers
MOST_CONTENTS, MOST_PAPER = 100_000, 50_000_000  # bytes of it, and of a paper; ours
_A_PAPER = re.compile(r"\d\d_[a-z0-9_]+\.(?:html|md|xlsx|pdf)")  # the name of a file of a paper
AS_WRITTEN, PRINTED = " As written: ", ", printed: "  # in the contents, before the hash of a paper, and after it that of its PDF
REMOVED, ASIDE = "removed", "put aside as"  # what becomes of a file of an earlier run that is not written anew
BEGUN = "Not finished: papers are being written here, or their writing was stopped."  # in the contents till all papers lie there
ENDINGS = (".html", ".md", ".xlsx")  # of every paper
NARROW, WIDE_CELL, VERDICT = 26, 44, 12  # widths of columns, in letters
BLANK_CELL = 30
LEFT_OUT_NOTE = "These stand in the page (.html), in print (.pdf) and in Markdown (.md) of this paper alone: nothing in them is filled in."


@dataclass(frozen=True)
class Folder:
    """The papers of a design, written out in its units, their stamp, by a hash the answers that they quote ("" without any), and
    the text of a blank file of answers."""

    papers: tuple
    stamp: Stamp
    answered: str = ""
    blank_answers: str = ""

    @classmethod
    def of(cls, design, answers=None):
        """All papers of a `Design` or a `PlantDesign`; of a stair whose doors suit no pressure the two that ask and tell why; answers:
        `AnswersFile` of its enquiry list, or None. Raises ValueError where a paper would contradict itself."""
        plant, (kind, writers) = isinstance(design, PlantDesign), written_of(design)
        number = numbered(quoted := kind(design, answers))
        first = () if plant else said_first(design.standing)
        papers = tuple(with_notes(issued(write(quoted).reworded(quoted.with_answers).reworded(number)), first) for write in writers)
        beyond = number(quoted.exit_left_out) if kind is Quoted else LEFT_OUT if kind is RefusedQuoted else ""
        summary = next((paper for paper in papers if paper.key == ANALYSIS), papers[0]).file_name
        short = SHORT_CAUTION if not plant else GAS_CAUTION if design.gas else PLANT_CAUTION
        undecided = undecided_said(quoted, summary) if kind is Quoted else ""
        stamp = Stamp.of(design, design.record().cautions, left_of(quoted, papers), beyond, short, summary, undecided)
        return written_out(cls(papers, stamp, answered_by(answers), blank_answers(quoted)), design.units)

    @property
    def answers_file(self):
        """Name of the blank file of answers: it bears the number of the enquiry list."""
        return ANSWERS.format(next(paper.number for paper in self.papers if paper.key == ENQUIRY))

    def contents(self, paper_size, written=None, no_printer=""):
        """What lies in the folder, as Markdown; its first line says whose it is, its second for which site, then of which file; written:
        {file name of a paper: hash of it as it was written}, None where none is yet; no_printer: why a PDF lacks, "" where none does."""
        marks = {name: f"{AS_WRITTEN}{digest}" for name, digest in (written or {}).items()}
        lines = (
            f"- {paper.file_name}: {paper.number} {paper.title}. {paper.for_whom}{marks.get(paper.file_name, '')}" for paper in self.papers
        )
        head = (
            f"{OURS}\n{markdown_line(self.stamp.site_name)}",
            markdown_line(self.stamp.line()),
            chosen_line(paper_size, self.answered),
            self.stamp.state,
            *[f"PDFs of some papers, or of all, lack: {markdown_line(no_printer)}. Print the pages (.html) from a browser, or write anew."]
            * bool(no_printer),
            RECORD,
        )
        return "\n\n".join((*head, "\n".join(lines))) + "\n"


def written_of(design):
    """(kind of `Quoted`, functions of it that write the papers) of a `Design` or a `PlantDesign`."""
    if isinstance(design, PlantDesign):
        return PlantQuoted, PLANT_WRITERS
    return (Quoted, WRITERS) if design.standing.window.feasible else (RefusedQuoted, REFUSED_WRITERS)


def answered_by(answers):
    """Hash of an `AnswersFile`; "" for None."""
    return "" if answers is None else hashlib.sha256(answers.model_dump_json().encode("utf-8")).hexdigest()[:HASH_SHOWN]


def chosen_line(paper_size, answered):
    """What the papers hang on besides the site file, the units and the release, in a line."""
    return f"Paper {paper_size}, answers to the enquiry list: {answered or 'none'}"


def begun(contents):
    """The contents of a folder while its papers are being written: whose it is is known, and that it is not finished."""
    whose, _, rest = contents.partition("\n\n")
    return "\n\n".join((whose, BEGUN, rest))


def lying_in(folder):
    """(line of the stamp, line of the choices, line of the state, how many papers) of the papers that lie in a folder of ours; None where
    it is none, an earlier release wrote it, or a paper is missing or is another than was written; (`BEGUN`, "", "", 0) where they are
    not finished. PDFs may be missing. Limits: a sheet is there to be filled in, so that what stands in it is not looked at.
    """
    parts = _contents_of(folder).split("\n\n")
    if len(parts) < 5 or not parts[0].startswith(OURS):
        return None
    if parts[1] == BEGUN:
        return BEGUN, "", "", 0
    lines = parts[-1].splitlines()
    names = [line.removeprefix("- ").partition(":")[0] for line in lines]
    missing = [name for name in names for ending in ENDINGS if not (Path(folder) / f"{name}{ending}").is_file()]
    if missing or len(set(names)) < len(names) or any(Path(name).name != name for name in names):
        return None
    marks = (line.rpartition(AS_WRITTEN)[2].partition(PRINTED)[0] for line in lines)
    alike = all(mark == _hash_of(Path(folder) / name) for name, mark in zip(names, marks, strict=True))
    return (*parts[1:4], len(names)) if alike else None


def _hash_of(base, endings=(".html", ".md")):
    """Hash of a paper as it lies there, of its page and its text; "-" where it cannot be read. base: its path without an ending."""
    try:
        read = [bytes_there(base.with_suffix(ending), MOST_PAPER) for ending in endings]
    except FileTextError:
        return "-"
    return hashlib.sha256(b"".join(hashlib.sha256(one).digest() for one in read)).hexdigest()[:HASH_SHOWN]


def _contents_of(folder):
    """The text of a folder's contents; "" where there are none, or none of ours: a link to a device, no text, far too long."""
    try:
        return text_of(Path(folder) / CONTENTS, MOST_CONTENTS).replace("\r\n", "\n")
    except FileTextError:
        return ""


def left_of(quoted, papers):
    """What is left to look at, to settle, to fill in and to answer where nothing fails, counted, in words."""
    check, open_ = word_of("attention"), word_of("open")
    lines = Counter(state_of(quoted.setting(line.group, line.name)) for line in quoted.lines)
    found = findings_shown(quoted) if type(quoted) is Quoted else quoted.design.record().findings
    found = sum(one.severity == "attention" for one in found)
    blanks = sum(len(paper.blanks) for paper in papers)
    asked = sum(one.answer is None for one in questions_of(quoted))
    return (
        f"{lines['attention']} lines of its settings schedule are {check} and {lines['open']} {open_}, {found} findings {check}, "
        f"{blanks} blanks and {asked} questions of the papers open"
    )


@dataclass(frozen=True)
class Lacks:
    """What a paper lacks: lines that FAIL, lines that are not laid down or otherwise NOT YET, blanks and questions without an answer, and
    the heading under which the first of the gravest stands ("" where it lacks nothing)."""

    fails: int
    waiting: int
    blanks: int
    questions: int
    first: str

    @property
    def state(self):
        """Key of its status by its own lines."""
        return "wrong" if self.fails else "open" if self.waiting or self.blanks or self.questions else "good"


def lacking(paper):
    """What a `Paper` lacks, as `Lacks`: blanks and questions are counted as such, all other lines by their verdict."""
    found = {"fails": [], "waiting": [], "blanks": list(paper.blanks), "questions": []}
    for heading, part in paper.numbered:
        for table in part.tables:
            for state, row in zip(table.states or ("",) * len(table.rows), table.rows, strict=True):
                if table.key == "blanks":
                    continue  # each stands under its own heading too, and is counted there
                if table.key.startswith("asked "):
                    found["questions"] += [heading] * (not row[-1])
                elif state == "wrong":
                    found["fails"].append(heading)
                elif state == "open" or any(str(cell).startswith(NOT_LAID_DOWN.strip(" :")) for cell in row):
                    found["waiting"].append(heading)
    first = next((headings[0] for headings in found.values() if headings), "")
    return Lacks(*map(len, found.values()), first)


def allowed(target, site_name, force):
    """The path of a folder to write papers of a site into. target: path; force: whether what is there may be written over.

    Raises ValueError for what is no folder, a folder with files that is no folder of papers or one of another site's, and one that holds
    papers already, without force.
    """
    folder = Path(target)
    shown = shown_name(folder, whole=True)
    if not os.path.lexists(folder):
        return folder
    if folder.is_symlink() or not folder.is_dir():
        raise ValueError(f"{shown} is no folder; --out names another one")
    if not any(folder.iterdir()):
        return folder
    first = _contents_of(folder).split("\n")[:2]
    if first[:1] != [OURS]:
        raise ValueError(f"{shown} holds files that are no papers of ours; nothing is written there, --out names another folder")
    if first[1:] != [markdown_line(site_name)]:
        raise ValueError(f"{shown} holds the papers of another site; nothing is written there, --out names another folder")
    if not force:
        raise ValueError(f"{shown} holds papers already; --force writes over them, --out names another folder")
    return folder


def write_folder(made, folder, paper_size="A4", told=print, printed=True):
    """Write all papers of a `Folder`: HTML, PDF, XLSX, Markdown, a blank file of answers; its contents first, so that it is known as ours,
    and as not finished.

    folder: path, from `allowed`; paper_size: one of `sheets.PAPERS`; told: called with the path of each file as it is written; printed:
    whether PDFs are. Returns why nothing could print, in a sentence; "" where all PDFs asked for are written. Raises ValueError for files
    that cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    no_printer, pdfs = "", set()
    cleared = _clear_earlier(folder, {f"{paper.file_name}{ending}" for paper in made.papers for ending in ENDINGS})
    told(write_whole(folder / CONTENTS, begun(made.contents(paper_size))))
    with Printer(paper_size) as printer:
        for paper in made.papers:
            base, page = folder / paper.file_name, paper_html(paper, made.stamp)
            told(write_page(page, base.with_suffix(".html")))
            told(write_whole(base.with_suffix(".md"), paper_markdown(paper, made.stamp)))
            told(write_sheets(paper, made.stamp, base.with_suffix(".xlsx"), paper_size))
            try:
                if printed and not no_printer:
                    told(printer.write(page, base.with_suffix(".pdf")))
                    pdfs.add(paper.file_name)
            except PrintingError as trouble:
                no_printer = str(trouble)
    told(_write_blank(folder / made.answers_file, made.blank_answers))
    written = {paper.file_name: _hash_of(folder / paper.file_name) for paper in made.papers}
    written |= {name: f"{written[name]}{PRINTED}{_hash_of(folder / name, ('.pdf',))}" for name in pdfs}
    write_whole(folder / CONTENTS, _with_cleared(made.contents(paper_size, written, no_printer), folder, cleared))
    return no_printer


def _clear_earlier(folder, names):
    """Clear away what the contents of a folder say that an earlier run wrote there and this one does not: it would lie among the new
    papers as if it were new. What is as it was written is removed; a sheet, which is there to be filled in, and what somebody has changed
    goes aside, as .old. names: of the files of now. Returns {name: what became of it}. Raises ValueError for one that stays."""
    lines, cleared = _contents_of(folder).split("\n\n"), {}
    for line in lines[-1].splitlines() * lines[0].startswith(OURS):
        base = folder / line.removeprefix("- ").partition(":")[0]
        written, _, printed = line.rpartition(AS_WRITTEN)[2].partition(PRINTED)
        same = _hash_of(base) == written
        for ending, ours in ((".html", same), (".md", same), (".xlsx", False), (".pdf", printed == _hash_of(base, (".pdf",)) != "-")):
            path = folder / f"{base.name}{ending}"
            if path.name in names or not _A_PAPER.fullmatch(path.name) or not path.is_file():
                continue
            aside = free_path(path.with_name(f"{path.name}.old"))
            try:
                path.unlink() if ours else path.rename(aside)
            except OSError as trouble:
                raise ValueError(f"{path.name} is of an earlier run and cannot be cleared away: {trouble.strerror}") from None
            cleared[path.name] = REMOVED if ours else f"{ASIDE} {aside.name}"
    return cleared


def _with_cleared(contents, folder, cleared):
    """The contents, with what became of files of an earlier run, but for those that were removed and stand there anew."""
    told = [f"{name} {became}" for name, became in cleared.items() if became != REMOVED or not (folder / name).is_file()]
    return contents.replace(RECORD, f"Of an earlier run, not written anew: {'; '.join(told)}.\n\n{RECORD}", 1) if told else contents


def write_files(files, folder, told=print):
    """Write into a folder from `allowed` what was made elsewhere: {name: bytes} of a whole folder, as `write_folder` does.

    Raises ValueError, before anything is written, for a name that no paper has, and where the contents lack."""
    strange = [name for name in files if name != CONTENTS and not (_ANSWERS.fullmatch(name) or _A_PAPER.fullmatch(name))]
    if strange or CONTENTS not in files:
        got = f"got {shown_name(strange[0], whole=True)!r:.80}" if strange else f"{CONTENTS} lacks"
        raise ValueError(f"what a worker sends must be papers and their contents; {got}")
    folder.mkdir(parents=True, exist_ok=True)
    contents, cleared = files[CONTENTS].decode("utf-8"), _clear_earlier(folder, files)
    told(write_whole(folder / CONTENTS, begun(contents)))
    for name, content in files.items():
        if _ANSWERS.fullmatch(name):
            told(_write_blank(folder / name, content.decode("utf-8")))
        elif name != CONTENTS:
            told(write_whole(folder / name, content))
    write_whole(folder / CONTENTS, _with_cleared(contents, folder, cleared))


def _write_blank(path, text):
    """Write the blank file of answers, never over one that somebody has begun to fill in. Returns its path, or that it was left."""
    begun = path.is_file() and path.stat().st_size > MOST_PAPER  # no blank of ours is as long: it is not read
    if path.is_file() and not begun:
        there = path.read_text(encoding="utf-8", errors="replace")
        begun = any(line.lstrip().startswith("[[answers]]") for line in there.splitlines())
    return f"{path}: {FILLED}" if begun else write_whole(path, text)


def write_sheets(paper, stamp, path, paper_size="A4"):
    """Write the tables of a paper, a sheet each, with filters; empty cells are open to fill in, all else is locked; of a paper without a
    table one sheet says why it has none, and of one whose workbook leaves some out the first sheet lists them; what stands under headings
    without a sheet of their own, cautions and steps too, has one together. Returns the path."""
    page = None
    if not paper.sheets:
        (heading, part), *_ = paper.numbered
        lines = (*stamp.first(paper), heading, *part.cautions, *part.lines)
        page = Page(heading, stamp.title(paper), stamp.short, paper_size, stamp.system, lines)
    for heading, part, table in (*_left_out(paper), *_in_words(paper), *paper.sheets):
        steps = (f"{number}. {step}" for number, step in enumerate(part.steps, 1))
        lines = (*stamp.first(paper), heading, *part.cautions, *part.lines, *steps, *filter(None, [table.note]))
        page = Page(f"{heading.split()[0]} {table.title}", f"{stamp.title(paper)}, {table.title}", stamp.short, paper_size,
                    stamp.system, lines, page)  # fmt: skip
        _rows(page, table)
        page.sheet.oddFooter.left.text = stamp.line().replace("&", "&&")
    page.book.active = 0
    return page.save(path)


def _left_out(paper):
    """The sheet that lists the tables and pictures which a workbook does not hold, in a tuple; of one that holds all none."""
    kept = [id(table) for *_, table in paper.sheets]
    rows = [(heading, table.title) for heading, part in paper.numbered for table in part.tables if id(table) not in kept]
    rows += [(heading, f"Picture: {plot.title}") for heading, part in paper.numbered for plot in part.pictures]
    rows += [(heading, f"Drawing: {words}") for heading, part in paper.numbered for _, words in part.drawings]
    table = Table("left out", "Not in this workbook", ("Under", "Table or picture"), tuple(rows), note=LEFT_OUT_NOTE)
    return ((f"{paper.number}.0 Not in this workbook", Part("Not in this workbook"), table),) if rows else ()


def _in_words(paper):
    """The sheet of what stands under headings without a sheet of their own, in a tuple; of a paper without such a heading none."""
    own, numbered_blanks = {heading for heading, *_ in paper.sheets}, any(table.key == "blanks" for *_, table in paper.sheets)
    rows = tuple(
        (heading, f"{kind}{f' {place}' * (kind == 'Step')}", text) for heading, part in paper.numbered if heading not in own
        for kind, told in (("Caution", part.cautions), ("Words", part.lines), ("Step", part.steps), ("Blank", part.blanks))
        for place, text in enumerate(told, 1) if kind != "Blank" or not numbered_blanks
    )  # fmt: skip
    title = "Cautions, words and steps"
    return ((f"{paper.number}.0 {title}", Part(title), Table("words", title, ("Under", "What", "As it stands there"), rows)),) * bool(rows)


def _rows(page, table):
    heads = ("Verdict", *table.columns)
    page.row([])
    first = page.row(heads, head=True)
    page.sheet.print_title_rows = f"{first}:{first}"
    page.sheet.freeze_panes = f"C{page.at}"
    for state, row in zip(table.states or ("",) * len(table.rows), table.rows, strict=True):
        blank = [place for place, cell in enumerate(row, 2) if cell == ""]
        page.row([word_of(state) if state else "", *row], blank=blank)
    last = page.letter(len(heads))
    page.check(first + 1, "A")
    page.sheet.auto_filter.ref = f"A{first}:{last}{page.at - 1}"
    page.sign(len(heads), ())
    page.sheet.protection.autoFilter = False  # a filter works on a locked sheet
    for place, head in enumerate(heads, 1):
        widest = max((len(row[place - 2]) for row in table.rows), default=0) if place > 1 else 0
        width = VERDICT if place == 1 else BLANK_CELL if not widest else NARROW if widest <= 2 * NARROW else WIDE_CELL
        page.sheet.column_dimensions[page.letter(place)].width = max(width, min(len(head) + 2, NARROW))
