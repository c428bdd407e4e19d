"""The papers of a job on a page: a building is picked, each paper is read heading by heading, and the folder is made in `records`."""

from copy import copy
from datetime import date
from functools import cache
from html import escape
from urllib.parse import quote

from ipywidgets import HTML, HBox, Layout, VBox

from helpers.model.answers import read_answers
from helpers.model.files import named_path
from helpers.model.plants.kinds import read_any_site
from helpers.pages.printed import records_folder, written_card
from helpers.pages.sites import SiteChoice
from helpers.plots.headline import VerdictLine
from helpers.plots.markup import PAGE_STYLE, TEXT, Card, Verdict, folded, html_table, lines_html, paragraphs_html
from helpers.record.papers.folder import CONTENTS, Folder, allowed, lacking, write_folder
from helpers.record.papers.job import folder_name
from helpers.record.papers.paper import ENQUIRY, paper_parts
from helpers.record.plants.design import design_of
from helpers.widgets.controls import STYLE, UNITS, Choice, Typed, keys_held
from helpers.widgets.panel import CLASS, hidden

LARKFIELD, FIRST = "Larkfield House", 0
LACKS = ("Paper", "FAIL", "Not laid down", "Blanks", "Questions", "The most serious stands under")
LACKS_NOTE = "Counted are lines of the paper's tables, some in several papers; what the record itself fails in is counted once, above."
ENDINGS = ("html", "pdf", "xlsx", "md")
BY_COMMAND, BY_PAGE = "--force writes over them, --out names another folder", "panel.write(over=True) writes over them"


class PapersPanel:
    """A building's papers; `made` are those of the building that is open, in the units of the moment."""

    def __init__(self, name=LARKFIELD):
        self.site, self.line, self.shown = SiteChoice("Building", name, None), VerdictLine(), HTML()
        self.answers = Typed("Answers", str.strip, hint="path of a file of answers, where there is one")
        self.designs = {}
        self._open(self.site.path, "")
        self.paper = Choice("Paper", self._titles(), self._titles()[FIRST])
        controls = [control.widget for control in (self.site, self.paper, self.answers)]
        head = (hidden(STYLE + PAGE_STYLE + keys_held(CLASS)), HBox([*controls, UNITS.switch()], layout=Layout(flex_flow="row wrap")))
        self.box = VBox([*head, self.line.widget, self.shown]).add_class(CLASS)
        self._show()
        self.site.on_change(self._other)
        self.answers.on_change(self._other)
        self.paper.on_change(self._show)
        UNITS.listen(self._units)

    def write(self, over=False, pdf=False, paper="A4"):
        """Write the folder into `records`, HTML, XLSX and Markdown; pdf: those too, by a browser, some seconds for each paper; over: write
        over papers that are there. Shows links to all files, or in a sentence why nothing is written."""
        try:
            folder = allowed(records_folder() / folder_name(self.design.site), self.design.site.title, over)
            trouble = write_folder(self.made, folder, paper, told=lambda path: None, printed=pdf)
        except ValueError as refusal:
            said = f"Nothing is written: {refusal}".replace(BY_COMMAND, BY_PAGE)
            return Card(paragraphs_html([said]), said)
        return _links(self.made, folder, trouble)

    @property
    def chosen(self):
        """The `Paper` that is shown."""
        return self.made.papers[self._titles().index(self.paper.value)]

    def _open(self, path, answers):
        """Work out the papers of a site; what was open stays where one of the two cannot be read."""
        system = UNITS.system
        site = read_any_site(path)
        given = read_answers(named_path(answers), site.name, date.today()) if answers else None
        known = self.designs.get(site.model_dump_json())
        design = design_of(site, units=system) if known is None else _in(known, system)
        made = Folder.of(design, given)
        self.designs[site.model_dump_json()] = design
        self.design, self.given, self.made = design, given, made

    def _titles(self):
        return [f"{paper.number} {paper.title}" for paper in self.made.papers]

    def _other(self):
        before = self._titles()
        try:
            self._open(self.site.path, self.answers.value)
        except (ValueError, OSError) as refusal:
            said = f"{refusal}\nBelow are still the papers of {self.design.site.name}."
            self.line.say(Verdict("entry", said))
            return
        titles = self._titles()
        if titles != before:  # a plant other than a stair has fewer papers
            self.paper.offer(titles, self.paper.value if self.paper.value in titles else titles[FIRST])
        self._show()

    def _units(self):
        self.design = _in(self.design, UNITS.system)
        self.made = Folder.of(self.design, self.given)
        self._show()

    def _show(self):
        self.line.say(self.verdict())
        self.shown.value = self._html()

    def verdict(self):
        """What the papers come to, with the first thing to do."""
        fails, blanks, asked, answered = self._counts()
        count, first = len(self.made.papers), self.made.stamp.fails[:1]
        tiles = (("The record fails in", f"{fails} points", ""), ("Blanks", f"{blanks} to fill in", ""),
                 ("Questions", f"{asked - answered} of {asked} open", ""))  # fmt: skip
        words = f"{len(self.made.papers)} papers; {blanks} blanks, {asked} questions, {answered} answered. {self.made.stamp.state}"
        if fails:
            sent = next(paper for paper in self.made.papers if paper.goes_out)
            head, do = (
                f"Record fails in {fails} points; only paper {sent.number}, blanks open, goes out",
                f"Do: send paper {sent.number}, {sent.title}, now; the other {count - 1} only as DRAFT, to be read",
            )
            case = f"{self.design.site.title}. First: {first[0].partition(': ')[2].partition('; ')[0]}"
            return Verdict("wrong", words, head, tiles, case=case, do=do)
        head, do = (
            f"{blanks} blanks and {asked - answered} questions are still open",
            "Ask: what the enquiry list asks, each of whom it names",
        )
        return Verdict("open", words, head, tiles, case=self.design.site.title, do=do)

    def _counts(self):
        tables = [table for paper in self.made.papers for part in paper.parts for table in part.tables]
        questions = [row for table in tables if table.key.startswith("asked ") for row in table.rows]
        blanks = sum(len(paper.blanks) for paper in self.made.papers)
        return len(self.made.stamp.fails), blanks, len(questions), sum(bool(row[-1]) for row in questions)

    def _lacks(self):
        """What each paper lacks, a line each, the one that is open marked."""
        rows, states = [], []
        for paper in self.made.papers:
            lacks = lacking(paper)
            title = f"{paper.number} {paper.title}{' (shown below)' * (paper is self.chosen)}"
            rows.append(
                (title, *(str(count) for count in (lacks.fails, lacks.waiting, lacks.blanks, lacks.questions)), lacks.first or "nothing")
            )
            states.append("open" if lacks.state == "good" and self.made.stamp.fails else lacks.state)
        return html_table(LACKS, rows, states, "What each paper lacks") + paragraphs_html([LACKS_NOTE])

    def _html(self):
        paper = self.chosen
        heads = "".join(folded(heading, html, group="paper") for heading, html in paper_parts(paper))
        failing = self.made.stamp.fails
        fails = folded(f"What the record fails in ({len(failing)})", lines_html(failing)) if failing else ""
        return (
            self._lacks()
            + paragraphs_html([f"▲ {self.made.stamp.caution}", f"{paper.number} {paper.title}. {paper.for_whom}"])
            + fails
            + heads
        )

    def _repr_mimebundle_(self, include=None, exclude=None):
        words = "\n".join([str(self.verdict()), *(heading for heading, _ in self.chosen.numbered)])
        line = self.line.widget.value
        return self.box._repr_mimebundle_() | {"text/html": line + self._html(), "text/plain": words}


def _in(design, system):
    """A design with all its studies, shown in a system of units: what is kept of it holds for any."""
    other = copy(design)
    other.units = system
    return other


def _links(made, folder, trouble):
    """Links to all files of a folder, a line for each paper."""
    lines, told = [], [f"Written: {folder.as_posix()}"]
    for paper in made.papers:
        names = [f"{paper.file_name}.{ending}" for ending in ENDINGS] + [made.answers_file] * (paper.key == ENQUIRY)
        there = [path for name in names if (path := folder / name).is_file()]
        links = " ".join(_link(path) for path in there)
        lines.append(f'<p style="font-size:{TEXT}px;margin:2px 0">{escape(f"{paper.number} {paper.title}")}: {links}</p>')
        told.append(f"{paper.number} {paper.title}: {' '.join(path.suffix[1:] for path in there)}")
    more = paragraphs_html([trouble]) if trouble else ""
    return Card(written_card(folder / CONTENTS).html + "".join(lines) + more, "\n".join([*told, trouble]).strip())


def _link(path):
    return f'<a href="{escape(quote(path.as_posix()))}" target="_blank">{path.suffix[1:].upper()}</a>'


@cache
def papers_panel(name=LARKFIELD):
    """The papers of a site, one panel in a notebook; over it a list of other sites."""
    return PapersPanel(name)
