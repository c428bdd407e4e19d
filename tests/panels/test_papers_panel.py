"""The papers of a job on their page: a verdict of few words with three tiles, every paper read, the folder made and not over another."""

from functools import cache, partial
from html import escape

import pytest
from demo_designs import design_of, site_of
from shared_store import made_once

from helpers.pages.record import papers as page
from helpers.plots.markup import MOST_TILES, MOST_WORDS
from helpers.record.papers.folder import Folder, lacking
from helpers.record.papers.paper import CALLED
from helpers.record.plants import design as plants
from helpers.widgets.controls import UNITS


@cache
def _made(name, units):
    """In the design's own units those of tests/studies/papers, in others made of the design as the page turns it."""
    made = partial(Folder.of, page._in(design_of(name), units))
    return made_once(made, "papers", site_of(name).model_dump_json(), units) if units == design_of(name).units else made()


def _shared(site, units):
    """The shared design of a demo stair; of another plant its own, which takes no time."""
    return page._in(design_of(site.name), units) if site.kind == "stair" else plants.design_of(site, units=units)


class SharedFolder:
    """In the place of `Folder`: the papers of a demo site without answers are made once for all tests here."""

    @staticmethod
    def of(design, answers=None):
        made_once = not answers and design.site.kind == "stair"
        return _made(design.site.name, design.units) if made_once else Folder.of(design, answers)


@pytest.fixture
def panel(monkeypatch, tmp_path):
    """In a folder of its own, with the shared designs."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(page, "Folder", SharedFolder)
    monkeypatch.setattr(page, "design_of", _shared)
    yield page.PapersPanel("Tannery Row")
    UNITS.system = "Pa"


def test_a_headline_of_few_words_and_three_tiles_with_what_to_do(panel):
    verdict = panel.verdict()
    assert len(verdict.head.split()) <= MOST_WORDS
    assert len(verdict.tiles) == MOST_TILES
    assert verdict.kind == "wrong"
    assert str(len(panel.made.stamp.fails)) in verdict.head
    assert panel.line.verdict == verdict


def test_blanks_of_all_papers_and_questions_are_counted(panel):
    papers = {paper.key: paper for paper in panel.made.papers}
    blanks = sum(len(part.blanks) for paper in papers.values() for part in paper.parts)
    blanks += sum(len(table.rows) for paper in papers.values() for part in paper.parts for table in part.tables if table.key == CALLED)
    asked = sum(len(table.rows) for part in papers["enquiry"].parts for table in part.tables if table.key.startswith("asked "))
    assert [value for _, value, _ in panel.verdict().tiles[1:]] == [f"{blanks} to fill in", f"{asked} of {asked} open"]


def test_one_line_a_paper_says_what_it_lacks_and_the_columns_add_up(panel):
    """Blanks and questions of the table are those of the tiles; a paper with a line that fails is FAIL, none is PASS under a record that
    fails."""
    lacks = [lacking(paper) for paper in panel.made.papers]
    _, blanks, asked, answered = panel._counts()
    assert (sum(one.blanks for one in lacks), sum(one.questions for one in lacks)) == (blanks, asked - answered)
    for paper, one in zip(panel.made.papers, lacks, strict=True):
        states = [state for part in paper.parts for table in part.tables for state in table.states]
        assert (one.state == "wrong") == ("wrong" in states)
        assert escape(one.first) in panel.shown.value
    assert panel.made.stamp.fails
    assert "PASS" not in panel._lacks()


def test_each_paper_is_shown_with_all_its_headings(panel):
    for title in panel._titles():
        panel.paper.value = title
        assert escape(title) in panel.shown.value
        assert all(escape(heading) in panel.shown.value for heading, _ in panel.chosen.numbered)


def test_figures_follow_the_switch_of_units(panel):
    panel.paper.value = panel._titles()[4]
    before = panel.shown.value
    UNITS.system = "in. w.c."
    assert "in. w.c." in panel.shown.value
    assert "in. w.c." not in before.replace("in. w.c. (", "")
    assert panel.made.stamp.system == "in. w.c."


def test_another_building_has_its_own_papers_and_a_broken_file_leaves_the_ones_that_are_there(panel):
    panel.site.value = "Larkfield House"
    assert panel.made.stamp.site_name == "Larkfield House"
    panel.answers.value = "nowhere.toml"
    assert panel.line.verdict.kind == "entry"
    assert "Below are still the papers of Larkfield House" in panel.line.verdict.words
    panel.answers.value = ""
    assert panel.line.verdict.kind == "wrong"


def test_answers_are_counted_and_shown(panel, tmp_path):
    (tmp_path / "answers.toml").write_text(
        'kind = "answers"\nname = "March"\ninvented = true\nsite = "Tannery Row"\n'
        '[[answers]]\nquestion = "duration"\nanswer = "an hour"\nby = "fire engineer"\ndate = "2026-03-05"\n',
        encoding="utf-8",
    )
    panel.answers.value = "answers.toml"
    panel.paper.value = next(title for title in panel._titles() if "Enquiry" in title)
    assert "an hour (fire engineer, 2026-03-05)" in panel.shown.value
    asked = [row for part in panel.chosen.parts for table in part.tables if table.key.startswith("asked ") for row in table.rows]
    assert panel.verdict().tiles[2][1] == f"{len(asked) - 1} of {len(asked)} open"


def test_the_folder_is_made_with_links_and_not_written_over_unasked(panel, tmp_path):
    card = panel.write()
    folder = tmp_path / "records" / "tannery_row_papers"
    assert {path.suffix for path in folder.iterdir()} == {".html", ".xlsx", ".md", ".toml"}
    assert len(list(folder.glob("*.html"))) == len(panel.made.papers)
    for path in folder.iterdir():
        assert f"records/tannery_row_papers/{path.name}" in card.html
    (folder / "05_schedules.md").write_text("mine", encoding="utf-8")
    again = panel.write()
    assert again.text.startswith("Nothing is written: ")
    assert "panel.write(over=True) writes over them" in again.text
    assert (folder / "05_schedules.md").read_text(encoding="utf-8") == "mine"
    panel.write(over=True)
    assert (folder / "05_schedules.md").read_text(encoding="utf-8") != "mine"


def test_it_reads_without_a_kernel(panel):
    bundle = panel._repr_mimebundle_()
    assert panel.verdict().head.partition(":")[0] in bundle["text/html"]
    assert "1.1 Priorities" in bundle["text/plain"]


def test_another_plant_has_its_own_papers_and_a_stair_its_own_again(panel):
    panel.site.value = "Orchard Garage"
    assert [paper.key for paper in panel.made.papers] == ["sequence", "points", "alarms", "schedules", "tuning", "enquiry", "owner"]
    panel.paper.value = "5 Tuning"
    assert panel.chosen.key == "tuning"
    assert "Life safety: gas kills without smell" in panel.shown.value
    panel.site.value = "Tannery Row"
    assert panel.chosen.key == "sequence"  # a stair has no fifth paper of that name
    assert len(panel.made.papers) == 9
