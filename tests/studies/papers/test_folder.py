"""The folder of papers: what the command writes, what it never writes over, and which folders and sites it refuses in a sentence."""

from dataclasses import replace
from pathlib import Path

import pytest
from demo_designs import design_for

from helpers.__main__ import main
from helpers.model.site.file import SITES_FOLDER
from helpers.plots import printer
from helpers.record.papers import job
from helpers.record.papers.folder import CONTENTS, MOST_CONTENTS, OURS, Folder, allowed, lying_in, write_files, write_folder
from helpers.record.papers.job import job_of, site_files

TANNERY = str(SITES_FOLDER / "tannery_row.toml")


@pytest.fixture(autouse=True)
def quick(monkeypatch, tmp_path, design_named):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(job, "design_of", lambda site, rule, set_point, units: design_named(site.name, units))
    monkeypatch.setattr(printer, "browser", lambda: None)


def test_the_command_writes_every_paper_in_one_folder_and_says_what_cannot_be_printed(capsys, folder_of):
    assert main(["papers", TANNERY]) == 3
    there = {path.name for path in Path("records/tannery_row_papers").iterdir()}
    names = [paper.file_name for paper in folder_of("Tannery Row").papers]
    assert there == {CONTENTS, "07_enquiry_answers.toml", *(f"{name}.{ending}" for name in names for ending in ("html", "md", "xlsx"))}
    said = capsys.readouterr()
    assert "no Chromium browser was found" in said.err
    assert "no Chromium browser was found" in (Path("records/tannery_row_papers") / CONTENTS).read_text(encoding="utf-8")
    assert said.out.splitlines()[-1].startswith("DRAFT")


def test_nothing_is_written_over_without_force(capsys, folder_of):
    made, target = folder_of("Tannery Row"), Path("records/tannery_row_papers")
    write_folder(made, target, told=str)
    (target / "05_schedules.md").write_text("mine", encoding="utf-8")
    assert main(["papers", TANNERY]) == 2
    assert "holds papers already; --force writes over them" in capsys.readouterr().err
    assert (target / "05_schedules.md").read_text(encoding="utf-8") == "mine"
    assert main(["papers", TANNERY, "--force"]) == 3
    assert (target / "05_schedules.md").read_text(encoding="utf-8") != "mine"


def test_a_folder_of_other_files_is_refused_even_with_force():
    Path("out").mkdir()
    (Path("out") / "letters.md").write_text("private", encoding="utf-8")
    with pytest.raises(ValueError, match="holds files that are no papers of ours"):
        allowed("out", "Tannery Row", force=True)


def test_contents_without_end_or_without_letters_are_none_of_ours():
    Path("out").mkdir()
    with (Path("out") / CONTENTS).open("wb") as endless:
        endless.write(f"{OURS}\nTannery Row\n\n".encode())
        endless.truncate(3 * MOST_CONTENTS)
    for content in (None, b"\xff\xfe" * 50):
        if content is not None:
            (Path("out") / CONTENTS).write_bytes(content)
        assert lying_in("out") is None
        with pytest.raises(ValueError, match="holds files that are no papers of ours"):
            allowed("out", "Tannery Row", force=True)


def _prints(monkeypatch):
    """Every page is printed as a few letters."""

    def write(self, page, path):
        path.write_bytes(b"%PDF " + path.name.encode())
        return path

    monkeypatch.setattr(printer.Printer, "write", write)


def _fewer(made, kept=("06_rational_analysis", "07_enquiry")):
    """The same site once nothing but two papers can be written of it."""
    return replace(made, papers=tuple(paper for paper in made.papers if paper.file_name in kept))


def test_what_an_earlier_run_wrote_and_this_one_does_not_is_cleared_away_and_that_is_said(monkeypatch, folder_of):
    made, out = folder_of("Tannery Row"), Path("out")
    with monkeypatch.context() as prints:
        _prints(prints)
        write_folder(made, out, told=str)
    assert "Of an earlier run" not in (out / CONTENTS).read_text(encoding="utf-8")
    (out / "05_schedules.md").write_text("changed by somebody", encoding="utf-8")
    (out / "02_points.pdf").write_bytes(b"signed by somebody")
    (out / "letter.pdf").write_bytes(b"mine")
    write_folder(_fewer(made), out, told=str)  # nothing prints now
    lying = {path.name for path in out.iterdir()}
    now = {f"{name}.{ending}" for name in ("06_rational_analysis", "07_enquiry") for ending in ("html", "md", "xlsx")}
    aside = {name for name in lying if name.endswith(".old")}
    assert lying - aside == now | {CONTENTS, "07_enquiry_answers.toml", "letter.pdf"}
    assert {f"{paper.file_name}.xlsx.old" for paper in made.papers if paper.file_name not in ("06_rational_analysis", "07_enquiry")} < aside
    assert (out / "05_schedules.md.old").read_text(encoding="utf-8") == "changed by somebody"
    said = (out / CONTENTS).read_text(encoding="utf-8")
    assert "05_schedules.md put aside as 05_schedules.md.old" in said
    assert "06_rational_analysis.pdf removed" in said
    assert lying_in(out)[3] == 2


def test_a_print_that_is_not_the_one_that_was_written_goes_aside_and_no_file_of_another_name_is_touched(monkeypatch, folder_of):
    made, out = _fewer(folder_of("Tannery Row")), Path("out")
    with monkeypatch.context() as prints:
        _prints(prints)
        write_folder(made, out, told=str)
    (out / "07_enquiry.pdf").write_bytes(b"signed by somebody")
    text = (out / CONTENTS).read_text(encoding="utf-8")
    (out / CONTENTS).write_text(f"{text}- ../mine: not a paper\n- letter: neither\n", encoding="utf-8")
    others = [Path("mine.md"), out / "letter.md"]
    for path in others:
        path.write_text("mine", encoding="utf-8")
    write_folder(made, out, told=str, printed=False)
    assert not list(out.glob("*.pdf"))
    assert (out / "07_enquiry.pdf.old").read_bytes() == b"signed by somebody"
    assert all(path.read_text(encoding="utf-8") == "mine" for path in others)


def test_papers_that_are_printed_anew_are_nothing_of_an_earlier_run(monkeypatch, folder_of):
    made, out = _fewer(folder_of("Tannery Row")), Path("out")
    _prints(monkeypatch)
    for _ in range(2):
        write_folder(made, out, told=str)
        assert "Of an earlier run" not in (out / CONTENTS).read_text(encoding="utf-8")
        assert len(list(out.glob("*.pdf"))) == 2


def test_what_a_worker_sends_leaves_nothing_of_an_earlier_run_among_it(monkeypatch, folder_of):
    made, out = folder_of("Tannery Row"), Path("out")
    with monkeypatch.context() as prints:
        _prints(prints)
        write_folder(made, out, told=str)
    write_folder(_fewer(made), Path("elsewhere"), told=str, printed=False)
    write_files({path.name: path.read_bytes() for path in Path("elsewhere").iterdir()}, out, str)
    assert not list(out.glob("*.pdf"))
    assert not list(out.glob("05*.html"))
    assert "05_schedules.html removed" in (out / CONTENTS).read_text(encoding="utf-8")
    assert lying_in(out)[3] == 2


def test_a_sites_name_is_no_markdown_in_the_contents_and_its_folder_is_known_by_it(folder_of):
    made = folder_of("Tannery Row")
    made = replace(made, stamp=replace(made.stamp, site_name="[Row](x) <b>"))
    write_folder(made, Path("out"), told=str, printed=False)
    whose = (Path("out") / CONTENTS).read_text(encoding="utf-8").split("\n")[1]
    assert whose == r"\[Row\](x) \<b\>"
    assert allowed("out", "[Row](x) <b>", force=True) == Path("out")


def test_a_campus_takes_every_toml_however_it_is_written_and_names_the_rest():
    Path("campus/within").mkdir(parents=True)
    for name in ("a.toml", "B.TOML", "notes.txt"):
        (Path("campus") / name).write_text("x", encoding="utf-8")
    told = []
    assert {Path(file).name for file in site_files(["campus", TANNERY], told.append)} == {"a.toml", "B.TOML", "tannery_row.toml"}
    assert told == ["campus: not taken, no .toml: notes.txt, within"]


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


def test_several_sites_are_written_side_by_side_and_a_broken_one_is_named(capsys, tmp_path):
    broken = tmp_path / "broken.toml"
    broken.write_text('name = "Broken"\n', encoding="utf-8")
    other = tmp_path / "again.toml"
    other.write_text(Path(TANNERY).read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["papers", TANNERY, str(broken), str(other), str(SITES_FOLDER / "larkfield_house.toml")]) == 3
    said = capsys.readouterr()
    assert {path.name for path in Path("records").iterdir()} == {"tannery_row_papers", "larkfield_house_papers"}
    refused = [line for line in said.err.splitlines() if line.startswith("not written: ")]
    assert [line.split(": ")[1] for line in refused] == ["broken.toml", "again.toml"]
    assert "its site has the folder of tannery_row.toml" in refused[1]
    assert [line.partition(": DRAFT")[0] for line in said.out.splitlines() if "DRAFT" in line] == [
        "tannery_row.toml",
        "larkfield_house.toml",
    ]


def test_where_no_site_of_several_can_be_written_the_command_says_so(capsys, tmp_path):
    names = [tmp_path / name for name in ("one.toml", "two.toml")]
    for name in names:
        name.write_text('kind = "garage"\nname = "Nothing else"\n', encoding="utf-8")
    assert main(["papers", *map(str, names)]) == 2
    assert capsys.readouterr().err.count("not written: ") == 2
    assert not Path("records").exists()


def test_of_a_stair_whose_doors_suit_no_pressure_the_two_papers_that_ask_are_written(monkeypatch, tmp_path):
    good = job_of(TANNERY, tmp_path)
    bad = replace(good, site=good.site.with_changes(name="No Window", doors={"flat landing": {"closer_force_n": 130.0}}))
    made = Folder.of(design_for(bad.site))
    assert [paper.file_name for paper in made.papers] == ["06_rational_analysis", "07_enquiry"]
    analysis, asks = made.papers
    assert made.stamp.state.startswith("DRAFT")
    assert any("no pressure suits" in line.lower() for line in made.stamp.fails)
    assert "no sequence" in made.stamp.first(analysis)[-1]
    titles = [part.title for part in analysis.parts]
    assert {"Summary and conclusion", "Findings", "Responsibility"} < set(titles)
    for part in analysis.parts:  # a reviewer finds every heading; what would ask for air says that it is not computed
        if part.title in {"Fan and its duty", "Tuning and acceptance"}:
            assert part.lines[0].startswith("Not computed, since no pressure suits")
            assert (part.tables, part.steps, part.pictures) == ((), (), ())
            assert part.blanks
    assert len(titles) == len(set(titles))
    rows = [row for paper in made.papers for part in paper.parts for table in part.tables for row in table.rows]
    assert not any("no such figure" in str(cell) for row in rows for cell in row)
    assert sum(table.key.startswith("asked ") for part in asks.parts for table in part.tables) > 2
    write_folder(made, bad.folder, told=str, printed=False)
    monkeypatch.setattr(job, "design_of", lambda site, **choices: design_for(site))
    assert bad.found() == made.stamp.state  # and so a resumed campus leaves it


def test_answers_beside_several_sites_are_refused(capsys):
    assert main(["papers", TANNERY, TANNERY, "--answers", "answers.toml"]) == 2
    assert "must be those of one site" in capsys.readouterr().err


def test_the_answers_of_a_site_stand_in_its_papers(tmp_path):
    (tmp_path / "answers.toml").write_text(
        'kind = "answers"\nname = "March"\ninvented = true\nsite = "Tannery Row"\n'
        '[[answers]]\nquestion = "duration"\nanswer = "an hour and a half"\nby = "fire engineer"\ndate = "2026-03-05"\n',
        encoding="utf-8",
    )
    assert main(["papers", TANNERY, "--answers", "answers.toml"]) == 3
    for name in ("06_rational_analysis.md", "07_enquiry.md"):
        assert "an hour and a half" in (Path("records/tannery_row_papers") / name).read_text(encoding="utf-8")


def test_the_blank_file_of_answers_is_read_as_soon_as_one_is_filled_in_and_then_never_written_over(capsys, folder_of):
    made, target = folder_of("Tannery Row"), Path("records/tannery_row_papers")
    write_folder(made, target, told=str)
    blank = target / made.answers_file
    assert main(["check", str(blank)]) == 1
    assert "answers" in capsys.readouterr().out
    lines = blank.read_text(encoding="utf-8").splitlines()
    at = lines.index('#question = "duration"')
    for place, told in zip(
        range(at - 1, at + 4),
        ("[[answers]]", 'question = "duration"', 'answer = "an hour"', 'by = "fire engineer"', 'date = "2026-03-05"'),
        strict=True,
    ):
        lines[place] = told
    blank.write_text("\n".join(lines), encoding="utf-8")
    assert main(["check", str(blank)]) == 0
    assert "is sound: 1 answer to the enquiry list of Tannery Row" in capsys.readouterr().out
    assert main(["papers", TANNERY, "--answers", str(blank), "--force"]) == 3
    assert "an hour (fire engineer, 2026-03-05)" in (target / "07_enquiry.md").read_text(encoding="utf-8")
    assert 'answer = "an hour"' in blank.read_text(encoding="utf-8")


def test_every_question_stands_in_the_blank_file_by_its_key_once(folder_of):
    for name in ("Tannery Row", "Larkfield House"):
        made = folder_of(name)
        asked = next(paper for paper in made.papers if paper.key == "enquiry")
        tables = [table for part in asked.parts for table in part.tables if table.key.startswith("asked ")]
        keys = [row[1] for table in tables for row in table.rows]
        assert [line.split('"')[1] for line in made.blank_answers.splitlines() if line.startswith("#question = ")] == keys
