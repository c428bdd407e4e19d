"""The folder of papers: what the command writes, what it never writes over, and which folders and sites it refuses in a sentence."""

from pathlib import Path

import pytest

from helpers.__main__ import main
from helpers.model.site.file import SITES_FOLDER
from helpers.plots import printer
from helpers.record.papers.folder import CONTENTS, allowed, write_folder

TANNERY = str(SITES_FOLDER / "tannery_row.toml")


@pytest.fixture(autouse=True)
def quick(monkeypatch, tmp_path, design_named):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("helpers.record.design.Design", lambda site, rule, set_point, units: design_named(site.name, units))
    monkeypatch.setattr(printer, "browser", lambda: None)


def test_the_command_writes_every_paper_in_one_folder_and_says_what_cannot_be_printed(capsys, folder_of):
    assert main(["papers", TANNERY]) == 0
    there = {path.name for path in Path("records/tannery_row_papers").iterdir()}
    names = [paper.file_name for paper in folder_of("Tannery Row").papers]
    assert there == {CONTENTS, *(f"{name}.{ending}" for name in names for ending in ("html", "md", "xlsx"))}
    said = capsys.readouterr()
    assert "no Chromium browser was found" in said.err
    assert said.out.splitlines()[-1].startswith("DRAFT")


def test_nothing_is_written_over_without_force(capsys, folder_of):
    made, target = folder_of("Tannery Row"), Path("records/tannery_row_papers")
    write_folder(made, target, told=str)
    (target / "05_schedules.md").write_text("mine", encoding="utf-8")
    assert main(["papers", TANNERY]) == 2
    assert "holds papers already; --force writes over them" in capsys.readouterr().err
    assert (target / "05_schedules.md").read_text(encoding="utf-8") == "mine"
    assert main(["papers", TANNERY, "--force"]) == 0
    assert (target / "05_schedules.md").read_text(encoding="utf-8") != "mine"


def test_a_folder_of_other_files_is_refused_even_with_force():
    Path("out").mkdir()
    (Path("out") / "letters.md").write_text("private", encoding="utf-8")
    with pytest.raises(ValueError, match="holds files that are no papers of ours"):
        allowed("out", "Tannery Row", force=True)


def test_a_folder_of_another_sites_papers_is_refused_even_with_force(folder_of):
    write_folder(folder_of("Tannery Row"), Path("out"), told=str)
    with pytest.raises(ValueError, match="holds the papers of another site"):
        allowed("out", "Larkfield House", force=True)


def test_a_file_or_a_link_in_the_folders_place_is_refused(tmp_path):
    Path("out").write_text("no folder", encoding="utf-8")
    Path("elsewhere").mkdir()
    Path("link").symlink_to(tmp_path / "elsewhere")
    for name in ("out", "link"):
        with pytest.raises(ValueError, match="is no folder"):
            allowed(name, "Tannery Row", force=True)


@pytest.mark.parametrize("name", ["orchard_garage", "quayside_lab", "mill_street_offices"])
def test_for_a_site_that_is_no_stair_one_sentence_says_what_is_not_written(capsys, name):
    assert main(["papers", str(SITES_FOLDER / f"{name}.toml")]) == 2
    said = capsys.readouterr().err
    assert "is no stair: no paper is written for it yet" in said
    assert len(said.splitlines()) == 1
    assert not Path("records").exists()
