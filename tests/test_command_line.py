"""The workbook without a browser: what `python -m helpers` writes, says and refuses, each part called in this process but one."""

import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
from demo_designs import design_of

from helpers.__main__ import DAY_EXAMPLES, main
from helpers.model.site.file import SITES_FOLDER
from helpers.model.test_day import read_test_day
from helpers.plots import printer
from helpers.record.design import Design
from helpers.studies.commissioning.fields import OF_THE_DAY, Day
from helpers.studies.report import Finding
from helpers.units.said import written_out

LARKFIELD = str(SITES_FOLDER / "larkfield_house.toml")
AS_FOUND = str(SITES_FOLDER.parent / "strategies" / "larkfield_as_found.toml")
SHEETS = ["larkfield_house_acceptance.html", "larkfield_house_acceptance.xlsx", "larkfield_house_injection.html",
          "larkfield_house_injection.xlsx"]  # fmt: skip

INDOORS = ["--stair-bottom", "18 °C", "--stair-top", "19 °C", "--floor", "21 °C"]


@pytest.fixture(autouse=True)
def quick(monkeypatch, tmp_path):
    """The shared design stands for new ones, no picture is drawn, nothing can print; the work is in a folder of its own."""
    monkeypatch.chdir(tmp_path)

    def chosen(site, rule, set_point, units):
        as_stated = (rule, set_point, units) == (None, None, "Pa")
        return design_of(site.name) if as_stated else Design(site, rule=rule, set_point=set_point, units=units)

    design_of("Larkfield House")  # another worker's is read from a file, which asks for the class by its name
    monkeypatch.setattr("helpers.record.design.Design", chosen)
    monkeypatch.setattr("helpers.record.page.page_html", lambda record: f"<h1>{record.title}</h1>")
    monkeypatch.setattr(printer, "browser", lambda: None)


def names(folder):
    return sorted(path.name for path in Path(folder).iterdir())


def test_a_sound_file_is_told_in_one_line(capsys):
    assert main(["check", LARKFIELD]) == 0
    assert capsys.readouterr().out == "larkfield_house.toml is sound: Larkfield House\n"


def test_what_asks_for_more_memory_than_there_is_ends_in_a_sentence(capsys, monkeypatch):
    def endless(*_):
        raise MemoryError

    monkeypatch.setattr("helpers.__main__.read_site", endless)
    assert main(["check", LARKFIELD]) == 2
    assert capsys.readouterr().err == "this asks for more memory than there is: a shorter file, or fewer sites at a time.\n"


def test_the_file_of_a_test_day_is_checked_as_one_and_a_mistake_in_it_is_told(tmp_path, capsys):
    day = SITES_FOLDER.parent / "days" / "larkfield_house_may.toml"
    assert main(["check", str(day)]) == 0
    assert capsys.readouterr().out.startswith("larkfield_house_may.toml is sound as the file of a test day: Larkfield House, a test day")
    wrong = tmp_path / "day.toml"
    wrong.write_text(day.read_text(encoding="utf-8").replace('pressure = "1 Pa"', 'pressure = "-1 Pa"'), encoding="utf-8")
    assert main(["check", str(wrong)]) == 1
    assert "gauges, pressure: must be" in capsys.readouterr().out


def test_every_mistake_of_a_file_is_a_sentence_with_its_line_and_no_traceback(tmp_path):
    """The one cold start: as somebody types it."""
    text = Path(LARKFIELD).read_text(encoding="utf-8")
    broken = text.replace('set_point = "40 Pa"', 'set_point = "40 N"').replace("[control]", "[control]\ncolour = 1")
    (tmp_path / "broken.toml").write_text(broken, encoding="utf-8")
    typed = [sys.executable, "-m", "helpers", "check", "broken.toml"]
    done = subprocess.run(typed, capture_output=True, text=True, check=False, cwd=tmp_path)
    line = next(number for number, said in enumerate(broken.split("\n"), 1) if said.startswith('set_point = "40 N"'))
    assert (done.returncode, done.stderr) == (1, "")
    assert len(done.stdout.splitlines()) == 2
    assert all(said.startswith("broken.toml, line ") for said in done.stdout.splitlines())
    assert f"line {line}, [control] set_point: " in done.stdout


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ([], "the following arguments are required"),
        (["recrod"], "invalid choice: 'recrod'"),
        (["record"], "the following arguments are required: SITE.toml"),
        (["record", LARKFIELD, "--units", "psi"], "argument --units: invalid choice: 'psi'"),
        (["review", AS_FOUND, "--rule", "best"], "argument --rule: invalid choice: 'best'"),
    ],
)
def test_a_wrong_word_is_refused_in_one_line(typed, words, capsys):
    with pytest.raises(SystemExit) as ended:
        main(typed)
    said = capsys.readouterr()
    assert (ended.value.code, said.out) == (2, "")
    assert words in said.err
    assert said.err.count("\n") == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (["check", "gone.toml"], "gone.toml is no file."),
        (["record", "gone.toml"], "gone.toml: is not there; looked in "),
        (["record", "a\0b.toml"], "is no name that a file can have"),
        (["record", "."], "is a folder"),
        (["record", AS_FOUND], "larkfield_as_found.toml"),
        (["sheets", str(SITES_FOLDER / "orchard_garage.toml")], "orchard_garage.toml"),
        (["review", LARKFIELD], "larkfield_house.toml"),
        (["sheets", LARKFIELD, "--set-point", "45"], "set_point must be"),
        (["sheets", LARKFIELD, "--outdoor", "12"], "outdoors must be"),
        (["sheets", LARKFIELD, "--outdoor", "900 °C", *INDOORS], "outdoors must be"),
        (["sheets", LARKFIELD, "--outdoor", "12 °C"], "still to state: --stair-bottom, --stair-top, --floor"),
        (["sheets", LARKFIELD, "--wind", "2 m/s"], "still to state: --outdoor, --stair-bottom, --stair-top, --floor"),
        (["record", LARKFIELD, "--rule", "middle"], "[control] rule: "),
        (["review", AS_FOUND, "--set-point", "45 ppm"], "set_point must be"),
        (["record", LARKFIELD, "--out", LARKFIELD], f"{LARKFIELD}: File exists."),
        (["record", LARKFIELD, "--out", "~nobody_of_this_name/x"], "is in the folder of a user who is not there"),
    ],
)
def test_what_cannot_be_done_is_refused_in_one_sentence_and_leaves_nothing(typed, words, capsys, tmp_path):
    assert main(typed) == 2
    said = capsys.readouterr()
    assert words in said.err
    assert (said.out, said.err.count("\n")) == ("", 1)
    assert names(tmp_path) == []


def test_a_file_with_several_mistakes_is_refused_by_the_first_and_by_their_number(tmp_path, capsys):
    (tmp_path / "two.toml").write_text("a = 1\nb = 2\n", encoding="utf-8")
    assert main(["record", "two.toml"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("two.toml, ")
    assert "mistakes, this is the first; `check` tells them all)." in said


def test_the_record_is_written_with_the_sheets_and_told_section_by_section(tmp_path, capsys):
    assert main(["record", LARKFIELD, "--out", "mine"]) == 3, "the record fails in something: to be acted on"
    said = capsys.readouterr()
    assert names(tmp_path / "mine") == [*SHEETS, "larkfield_house_record.html"]
    assert "1 of 20: Building and cases\n2 of 20: Pressure window\n" in said.err
    assert "PDF: no Chromium browser was found" in said.err
    assert said.out.splitlines()[-1] == f"Larkfield House: {design_of('Larkfield House').record().state_line}"
    assert (tmp_path / "mine" / "larkfield_house_record.html").read_text(encoding="utf-8") == "<h1>Design record: Larkfield House</h1>"


def test_what_is_there_is_written_over_only_when_asked(tmp_path, capsys):
    there = tmp_path / "records" / "larkfield_house_acceptance.html"
    there.parent.mkdir()
    there.write_text("what was read on the day", encoding="utf-8")
    assert main(["sheets", LARKFIELD]) == 2
    assert capsys.readouterr().err == (
        "records/larkfield_house_acceptance.html is there already; --force writes over it, --out names another folder.\n"
    )
    assert (names(there.parent), there.read_text(encoding="utf-8")) == ([there.name], "what was read on the day")
    assert main(["sheets", LARKFIELD, "--force"]) == 0
    assert names(there.parent) == SHEETS
    assert "Larkfield House" in there.read_text(encoding="utf-8")
    said = (there.parent / "larkfield_house_injection.html").read_text(encoding="utf-8")
    assert "steps of the design record&#x27;s injection table: the points are its step" in said  # as page 11 says it


def test_the_sheets_are_expected_for_the_weather_of_the_day(tmp_path):
    assert main(["sheets", LARKFIELD, "--outdoor", "54 °F", *INDOORS, "--wind", "0 m/s"]) == 0
    day = Day(outdoor_c=(54 - 32) / 1.8, stair_bottom_c=18.0, stair_top_c=19.0, floor_c=21.0, wind_speed_m_s=0.0)
    site = design_of("Larkfield House").site
    page = (tmp_path / "records" / "larkfield_house_acceptance.html").read_text(encoding="utf-8")
    assert written_out(day.said(site, "winter"), "Pa") in page
    assert "Expected figures are those of the site file" not in page
    assert tuple(DAY_EXAMPLES) == tuple(OF_THE_DAY)


def test_a_review_is_written_and_its_verdict_told(tmp_path, capsys, monkeypatch):
    """Reviewing is tested with the reviews; here a few words stand for one."""
    reviewed = []
    made = SimpleNamespace(verdict=lambda: "1 FAIL, of 60 kinds.", findings=(Finding("wrong", "the ramp"),))
    monkeypatch.setattr("helpers.record.review.study.review", lambda strategy, site, system: reviewed.append(strategy) or made)
    monkeypatch.setattr("helpers.pages.printed.review_page", lambda review: review.verdict())
    assert main(["review", AS_FOUND, "--rule", "lowest", "--set-point", "0.16 in. w.c."]) == 3
    assert (reviewed[0].loop.rule, reviewed[0].set_point) == ("lowest", pytest.approx(0.16 * 249.0889))
    said = capsys.readouterr()
    (page,) = (tmp_path / "records").iterdir()
    assert page.read_text(encoding="utf-8") == said.out.splitlines()[-1] == "1 FAIL, of 60 kinds."


def test_the_statuses_stand_under_the_help_of_every_command(capsys):
    for typed in (["--help"], ["years", "--help"], ["fit", "--help"]):
        with pytest.raises(SystemExit):
            main(typed)
        said = " ".join(capsys.readouterr().out.split())
        assert "0: done, and in order. 1: `check` found mistakes. 2: refused. 3: done, and something is to be acted on" in said


def test_ctrl_c_is_told_and_is_no_traceback(monkeypatch, capsys):
    def stopped(path):
        raise KeyboardInterrupt

    monkeypatch.setattr("helpers.model.plants.kinds.read_any_site", stopped)
    assert main(["record", LARKFIELD]) == 130
    assert capsys.readouterr().err.startswith("stopped")


def test_class_hands_on_to_the_class_server(monkeypatch):
    handed = []
    monkeypatch.setattr("helpers.serving.__main__.main", handed.append)
    assert main(["class", "run", "my-class", "--desks", "3"]) == 0
    assert handed == [["run", "my-class", "--desks", "3"]]


def test_fit_writes_what_a_day_proves_and_a_site_file_that_is_sound(tmp_path, capsys):
    site, day = SITES_FOLDER / "larkfield_house.toml", SITES_FOLDER.parent / "days" / "larkfield_house_may.toml"
    assert main(["fit", str(site), str(day), "--out", str(tmp_path)]) == 3, "a door is FAIL in January"
    said = capsys.readouterr().out
    assert "Of the buildings that this day leaves possible" in said
    (fitted,) = tmp_path.glob("*_fitted.toml")
    assert main(["check", str(fitted)]) == 0
    assert "No set point is entered from this page" in next(tmp_path.glob("*_proved.html")).read_text(encoding="utf-8")
    assert main(["fit", str(site), str(day), "--out", str(tmp_path)]) == 2  # nothing is written over
    assert main(["fit", str(SITES_FOLDER / "northgate_tower.toml"), str(day), "--out", str(tmp_path)]) == 2
    assert "day must be one of 'Northgate Tower'; got one of 'Larkfield House'" in capsys.readouterr().err


def test_fit_names_a_round_that_it_did_not_use_and_says_so_by_its_status(tmp_path, capsys):
    site, day = SITES_FOLDER / "larkfield_house.toml", SITES_FOLDER.parent / "days" / "larkfield_house_may.toml"
    text = day.read_text(encoding="utf-8").replace('7 = "12.6 Pa", 13 = "16.6 Pa"}', '7 = "63 Pa"}')
    (tmp_path / "fast.toml").write_text(text, encoding="utf-8")
    assert main(["fit", str(site), "fast.toml", "--out", "out"]) == 3
    said = capsys.readouterr()
    assert "not used: round 3 is left out: it must be read at a speed at which the relief damper surely stays shut" in said.err
    assert "Of the buildings that this day leaves possible" in said.out
    assert "Round 3 is left out" in next((tmp_path / "out").glob("*_proved.html")).read_text(encoding="utf-8")


def test_years_with_a_file_that_could_not_be_used_end_with_the_status_for_it(tmp_path, capsys):
    folder = tmp_path / "years"
    folder.mkdir()
    for file in sorted((SITES_FOLDER.parent / "days" / "tannery_row_years").iterdir())[-4:]:
        (folder / file.name).write_bytes(file.read_bytes())
    with (folder / "self_tests.csv").open("a", encoding="utf-8") as log:
        log.write("2199-05-14,PDT-1 zero at rest,good,\n")
    typed = ["years", str(SITES_FOLDER / "tannery_row.toml"), str(folder)]
    assert main([*typed, "--out", "one"]) == 3, "a self-test is out: FAIL"
    assert "must not be after today" in (told := capsys.readouterr().err)
    assert told.count("not used") == 1
    (folder / "half.toml").write_text('kind = "test day"\nname = "x', encoding="utf-8")
    assert main([*typed, "--out", "two"]) == 3
    said = capsys.readouterr()
    assert "not used: left out: half.toml: half.toml, line 2: is no valid TOML" in said.err
    assert "Self-tests: out now: PDT-1 zero at rest" in said.out


def test_concepts_are_told_with_their_words_and_a_broken_file_is_refused(tmp_path, capsys):
    assert main(["concepts", str(SITES_FOLDER / "larkfield_house.toml"), "--units", "in. w.c."]) == 0
    told = capsys.readouterr().out
    assert all(words in told for words in ("1. ", "Modulated supply", "FAIL", "to decide: ", "in. w.c.", "Not tried: "))
    assert not re.search(r" Pa\b", told)
    broken = tmp_path / "broken.toml"
    broken.write_text("name = 3")
    assert main(["concepts", str(broken)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_trends_tells_what_a_log_says_and_refuses_what_is_none(tmp_path, capsys):
    logs, northgate = SITES_FOLDER.parent / "trends", str(SITES_FOLDER / "northgate_tower.toml")
    assert main(["trends", str(logs / "stair_steps_in_manual.csv"), "--site", northgate]) == 0
    said = capsys.readouterr().out
    told = (
        "reading 'Stair pressure (Pa)'",
        "one every 0.1 s",
        "Delay",
        "  as left | ",
        "those of Northgate Tower's file.",
        "  as found, by Northgate Tower's file | ",
    )
    assert [words for words in told if words not in said] == []
    assert main(["trends", str(logs / "stair_steps_in_manual.csv")]) == 0
    said = capsys.readouterr().out
    assert "Process gain: 1.94 Pa/Hz" in said
    assert [words for words in ("%/%", "Northgate", "as left", "try gain") if words in said] == []
    assert main(["trends", str(logs / "stair_hunting.csv"), "--units", "in. w.c."]) == 3
    said = capsys.readouterr().out
    assert "FAIL: It hunts, and this log cannot tell why." in said
    assert "For want of a site file (--site)" in said
    assert "in. w.c. to either side" in said
    (tmp_path / "bare.csv").write_text("time,a,b\n" + "\n".join(f"{row},1,2" for row in range(50)), encoding="utf-8")
    refused = {"gone.csv": "gone.csv", "bare.csv": "bare.csv must have a heading of a reading with its unit", LARKFIELD: "larkfield"}
    for typed, words in refused.items():
        assert main(["trends", typed]) == 2
        said = capsys.readouterr()
        assert words in said.err
        assert (said.out, said.err.count("\n")) == ("", 1)


def test_testday_writes_what_a_crew_takes_along_and_reads_what_it_brings_back(tmp_path, capsys):
    weather = ["--outdoor", "14 °C", "--stair-bottom", "19 °C", "--stair-top", "19 °C", "--floor", "22 °C"]
    assert main(["testday", LARKFIELD, *weather, "--out", "along"]) == 0
    along = ["larkfield_house_procedure.html", "larkfield_house_test_day.xlsx"]
    assert names(tmp_path / "along") == along
    assert "39 steps (25 NOT RUN), " in capsys.readouterr().out
    sheets = tmp_path / "along" / along[1]
    assert main(["testday", LARKFIELD, "--filled", str(sheets), "--out", "back"]) == 2  # nothing is filled in
    assert "nothing could be read of the filled sheets; nothing is written." in capsys.readouterr().err
    assert not (tmp_path / "back").exists()
    filled = openpyxl.load_workbook(sheets)
    given = {"date, year-month-day": "2026-05-12", "outdoors [°C]": 14, "stair, bottom [°C]": 19, "stair, top [°C]": 19, "floors [°C]": 22,
             "gauge: 95 % of readings within [Pa]": 1, "wind from, degrees [°]": "=180"}  # fmt: skip
    page = filled["Rounds"]
    for row in range(1, page.max_row + 1):
        label, heads = page.cell(row, 1).value, [cell.value for cell in page[row]]
        if label in given:
            page.cell(row, 2).value = given[label]
        if "steady speed 1" in heads:
            page.cell(row + 1, heads.index("steady speed 1") + 1).value = 10.5
        if "steady speed 1 [Pa]" in heads:
            page.cell(row + 3, heads.index("steady speed 1 [Pa]") + 1).value = 11.5
    filled.save(tmp_path / "ours.xlsx")
    assert main(["testday", LARKFIELD, "--filled", "ours.xlsx", "--filled", str(sheets), "--out", "back"]) == 3  # not all could be used
    said = capsys.readouterr()
    assert said.out.splitlines()[-1].startswith("NOT YET: ")
    assert "not used: ours.xlsx, sheet Rounds, B" in said.err
    assert "must be what was read and not a formula; got '=180'" in said.err
    back = [f"larkfield_house_2026_05_12_{ending}" for ending in ("day.toml", "filled.xlsx", "report.html", "report.xlsx")]
    assert names(tmp_path / "back") == back
    day = read_test_day(tmp_path / "back" / back[0])
    assert (len(day.rounds), day.rounds[0].speed_hz, day.rounds[0].stair_doors_pa) == (1, 10.5, {"2": 11.5})
    assert main(["testday", LARKFIELD, "--filled", "ours.xlsx", "--out", "back"]) == 2  # nothing is written over
    assert main(["testday", LARKFIELD, "--filled", "ours.xlsx", *weather, "--out", "other"]) == 2
    assert "must stand in the filled file" in capsys.readouterr().err


def test_differences_gives_a_blank_list_and_holds_a_filled_one(tmp_path, capsys):
    assert main(["differences", LARKFIELD]) == 0
    assert names("records") == ["larkfield_house_as_entered.xlsx"]
    (tmp_path / "device.csv").write_text("What;Setting;Value\nloop;action;direct\n;;lost\n", encoding="utf-8")
    assert main(["differences", LARKFIELD, "device.csv"]) == 3, "a line without a setting is not used"
    told = capsys.readouterr()
    assert "1 dangerous" in told.out
    assert "not used: device.csv, line 3" in told.err
    assert "larkfield_house_differences.html" in names("records")
    assert main(["differences", LARKFIELD, "nothing.csv", "--force"]) == 2
