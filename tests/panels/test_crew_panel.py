"""Page 17: steps kept at every key, the example of two pairs read together, nothing written over that somebody has filled in."""

import re
from pathlib import Path

import openpyxl
import pytest

from helpers.model.site.file import demo_sites, read_site
from helpers.model.test_day import read_test_day
from helpers.pages.acceptance import AcceptancePanel
from helpers.pages.measured import crew
from helpers.pages.measured.crew import MEASURED_IN_BOOK, StepsPanel, brought_back, write_back
from helpers.pages.measured.filled import FilledPanel
from helpers.pages.sites import OnSite, SiteChoice, Together
from helpers.studies.commissioning.crew.day import read_day, typed_day
from helpers.studies.commissioning.crew.example import INVENTED, SLIPS, example_books
from helpers.studies.commissioning.crew.procedure import BELOW
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.hand_back import BEFORE
from helpers.studies.commissioning.steps.frame import IN_SHORT, STOP
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import readings_of
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

WEATHER = {"outdoor_c": "14 °C", "stair_bottom_c": "19 °C", "stair_top_c": "19 °C", "floor_c": "22 °C"}


@pytest.fixture(scope="module")
def site():
    return read_site(demo_sites()["Larkfield House"])


@pytest.fixture
def panel(site, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return StepsPanel(site, folder=tmp_path)


@pytest.fixture(scope="module")
def example(site, tmp_path_factory):
    folder = tmp_path_factory.mktemp("example")
    paths, _, drawn = example_books(site, folder)
    return read_day(site, paths), drawn


def typed_weather(panel):
    for name, text in WEATHER.items():
        panel.sheet.type(f"day {name}", text)


def test_the_steps_are_those_of_the_weather_typed_in(panel):
    before = panel.procedure.rounds.rounds[1].expected_pa["stair door", 13]
    panel.sheet.type("day outdoor_c", "14 °C")
    assert panel.trouble == "The weather of the day counts once all of it is stated; still to state: stair, bottom, stair, top, floors."
    typed_weather(panel)
    assert panel.trouble == ""
    after = panel.procedure.rounds.rounds[1].expected_pa["stair door", 13]
    assert abs(after - before) > 5
    assert any("outdoors 14 °C" in one for one in written_out(tuple(panel._intro()[0])))
    panel.sheet.type("day outdoor_c", "hot")
    assert "outdoors must be" in panel.trouble
    assert panel.procedure.rounds.rounds[1].expected_pa["stair door", 13] == after


def test_a_wind_that_is_too_strong_is_said_as_it_is_typed_before_any_step_is_ticked(panel):
    panel.sheet.type("day wind_speed_m_s", "9 m/s")
    line = written_out(panel.sheet.line.verdict)
    assert line.kind == "wrong"
    assert line.head == "Wind 9.0 m/s, above 8.0 m/s: another day"
    weather = next(step.number for step in panel.procedure.steps if step.title == "Weather of the day")
    assert "another day" in panel.sheet.verdicts[weather].value
    panel.sheet.type("day wind_speed_m_s", "7 m/s")
    assert "another day" not in panel.sheet.line.verdict.head
    assert "another day" not in panel.sheet.verdicts[weather].value.partition("<div")[2].partition("Who:")[0]


def test_what_is_typed_is_there_again_and_goes_into_the_book(panel, site, tmp_path):
    typed_weather(panel)
    for name, text in (
        (panel.field(4, "done"), "as it must"),
        (panel.field(4, "initials"), "AB"),
        (panel.field(4, "note"), "gauge zeroed"),
        (BEFORE[0], "09:00 AB"),
    ):
        panel.sheet.type(name, text)
    again = StepsPanel(site, folder=tmp_path)
    assert again.filled() == panel.filled()
    assert again.filled()["steps", 4, "note"] == "gauge zeroed"
    panel.export()
    opened = openpyxl.load_workbook(tmp_path / "records" / "larkfield_house_test_day.xlsx")
    assert "gauge zeroed" in [cell.value for row in opened["Steps"].iter_rows() for cell in row]


def test_an_entry_stays_with_its_step_when_a_step_is_put_before_it(panel):
    kept, titles = panel.field(4, "done"), panel.titles
    panel.titles = {1: "one more step"} | {number + 1: title for number, title in titles.items()}
    assert panel.field(5, "done") == kept
    panel.titles = titles
    assert len({panel.field(number, "done") for number in titles}) == len(titles)


def test_a_step_otherwise_fails_and_one_without_a_name_is_not_yet(panel):
    panel.sheet.type(panel.field(4, "done"), "as it must")
    state, words = panel._judge(panel.sheet.values(), 4)
    assert state == "open"
    assert words.startswith("nobody signed for it; no time of it is written; run while step 1, ")
    panel.sheet.type(panel.field(4, "initials"), "AB")
    panel.sheet.type(panel.field(4, "time"), "09:00")
    assert panel._judge(panel.sheet.values(), 4)[0] == "attention"  # nobody was told before it
    for line in BEFORE:
        panel.sheet.type(line, "yes, 08:40, AB, 08:30 to 17:30")
    for name, text in (("done", "as it must"), ("initials", "AB"), ("time", "08:50")):
        panel.sheet.type(panel.field(1, name), text)
    assert panel._judge(panel.sheet.values(), 4)[0] == "good"
    panel.sheet.type(panel.field(7, "done"), "otherwise")
    verdict = panel._whole(panel.sheet.values())
    assert verdict.kind == "wrong"
    assert "the stair is not protected" in verdict.words  # the last step begun leaves the fan off


def test_a_step_ticked_with_nothing_measured_is_no_pass_on_the_page_either(panel):
    """The fan-off baseline, signed and not read: the page has it as report and command line have it of the same entries."""
    off = next(step for step in panel.procedure.steps if step.title == "Fan off, all doors shut")
    for name, text in (("done", "as it must"), ("initials", "AB")):
        panel.sheet.type(panel.field(off.number, name), text)
    state, words = panel._judge(panel.sheet.values(), off.number)
    assert state == "open"
    assert words.endswith(f"; NOT YET fan off; {MEASURED_IN_BOOK}")
    (line,) = (line for line in day_report(typed_day(panel.procedure, panel.filled())).lines if line.device == off.label)
    assert (line.state, f"{line.words}; {MEASURED_IN_BOOK}") == (state, words)
    assert panel._whole(panel.sheet.values()).kind != "good"


def test_a_step_that_is_run_shows_all_that_is_to_do_its_limit_and_its_caution_and_the_rest_in_its_fold(panel):
    """No Do is cut, no caution is cut at a comma, and nothing of the step is lost."""
    for step in panel.procedure.run:
        who, do, expected, caution, limit = written_out(panel._under(step.number)).split("\n")
        assert who == f"Who: {', '.join(step.who)}"  # over the whole width: in a narrow column it is a wall of words
        assert do == written_out(f"Do: {step.do}")
        assert len(expected.split()) <= 40, step.label
        heads = [one.split(" ")[0] for one in (do, expected, caution, limit)]
        assert heads == ["Do:", "Expected:", "▲", "Limit:"]
        whole = written_out(step.caution_after(panel.procedure.steps[: step.number - 1]))
        assert sorted(caution.removeprefix("▲ ").split("; ")) == sorted(whole.split("; "))  # STOP first, wherever it was
        assert limit == written_out(f"Limit: {step.limit}")
        assert "…" not in f"{caution}{limit}"
        assert (STOP in whole) == (STOP in caution)
        words, more = written_out(panel._more(step.number))
        assert "every caution" in words
        for told in (step.expected, step.limit, step.fails, step.caution, step.left_said):
            assert written_out(told) in more


def test_a_line_answered_with_no_does_not_count_as_told(panel):
    panel.sheet.type(BEFORE[0], "no")
    verdict = panel._whole(panel.sheet.values())
    assert verdict.kind == "wrong"
    assert f"not done: {BEFORE[0]}" in verdict.words
    panel.sheet.type(BEFORE[0], "08:40, AB")
    verdict = panel._whole(panel.sheet.values())
    assert "not done" not in verdict.words
    assert verdict.head == panel.procedure.rounds.sheet.design_fails_said  # FAIL now by the design alone


def test_a_torn_file_and_one_of_another_site_are_refused_and_no_headline_is_made_of_them(tmp_path):
    torn = tmp_path / "torn.xlsx"
    torn.write_bytes(b"PK\x03\x04 torn")
    with pytest.raises(ValueError, match=r"nothing could be read of torn\.xlsx"):
        brought_back(torn)
    other = read_site(demo_sites()["Northgate Tower"])
    paths, _, _ = example_books(other, tmp_path)
    with pytest.raises(ValueError, match="nothing could be read of"):
        brought_back(*paths, torn)


def test_another_building_says_at_once_that_what_stands_below_is_old(tmp_path, monkeypatch):
    """The new one takes its time: until it is there the sheet says whose figures it shows."""
    shown = OnSite(lambda path: StepsPanel(read_site(path), folder=tmp_path), "Tannery Row")
    said = []

    def slowly(path):
        said.append((shown.line.verdict.kind, shown.line.verdict.words, shown.line.widget in shown.box.children))
        raise ValueError("not read")

    monkeypatch.setattr(shown, "make", slowly)
    shown._open()
    assert said == [("working", "Working out the site that is chosen. The sheet below is still that of Tannery Row.", True)]
    assert shown.line.verdict.kind == "entry"


def test_an_export_never_writes_over_a_book_that_somebody_has_filled_in(panel, tmp_path):
    panel.export()
    panel.export()  # nothing is filled in: written anew
    path = tmp_path / "records" / "larkfield_house_test_day.xlsx"
    assert [one.name for one in path.parent.iterdir()] == [path.name]
    opened = openpyxl.load_workbook(path)
    page = opened["Rounds"]
    row = next(row for row in range(1, page.max_row + 1) if page.cell(row, 1).value == "date, year-month-day")
    page.cell(row, 2).value = "2026-05-12"
    opened.save(path)
    before = path.read_bytes()
    panel.export()
    assert path.read_bytes() == before
    assert path.with_name("larkfield_house_test_day_2.xlsx").is_file()


def test_the_examples_slips_are_all_told_and_all_else_is_read(example):
    found, _ = example
    told = "\n".join(map(written_out, (*found.filled.mistakes, *found.filled.conflicts)))
    assert len(found.filled.mistakes) + len(found.filled.conflicts) == len(SLIPS)
    for words in ("not a formula", "has no sign", "not a comma", "neither is used"):
        assert words in told
    assert found.no_day == ""
    assert [leaf.words for leaf in found.leaves if leaf.state == "attention"] == ["stair door 5"]


def test_the_examples_day_fitted_holds_the_building_behind_it(site, example):
    found, drawn = example
    fitted = fit_building(readings_of(site, found.test_day))
    factors = {one.kind: one for one in fitted.factors}
    inside = sum(factors[kind].low <= truth <= factors[kind].high for kind, truth in drawn.factors.items())
    assert inside >= len(drawn.factors) - 1


def test_filled_books_read_on_the_page_say_verdict_slips_and_leaves_in_both_systems():
    reading = brought_back()
    assert "Made up, with 4 slips" in reading.written[1]
    assert reading.written[0].index(INVENTED) < reading.written[0].index("FAIL")  # in view, before the verdict
    assert INVENTED in reading.written[1]
    assert "FAIL: " in reading.written[1]
    assert re.search(r"stair door 5 \| [\d.]+ Pa \| 34\.\d Pa \| ± [\d.]+ Pa \| the force says more than the gauge", reading.written[1])
    UNITS.system = "in. w.c."
    try:
        assert "0.325 in. w.c." in reading.written[0]
    finally:
        UNITS.system = "Pa"


def test_what_is_written_back_is_written_once_and_never_over_another(site, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    paths, _, _ = example_books(site, tmp_path)
    first, again = write_back(*paths), write_back(*paths)
    names = sorted(path.name for path in (tmp_path / "records").iterdir())
    assert names == [f"larkfield_house_2026_05_12_{ending}" for ending in ("day.toml", "filled.xlsx", "report.html", "report.xlsx")]
    assert first.text == again.text
    day = tmp_path / "records" / names[0]
    assert len(read_test_day(day).rounds) == 3
    day.write_text(day.read_text().replace('date = "2026-05-12"', 'date = "2026-05-13"'))
    assert "day_2.toml" in write_back(*paths).text
    assert 'date = "2026-05-13"' in day.read_text()


def test_the_example_has_names_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert write_back().text == write_back().text
    assert {path.name.rpartition("_")[0] for path in (tmp_path / "records").iterdir()} == {"larkfield_house_2026_05_12_example"}


def test_paths_that_are_typed_are_read_together_and_a_wrong_one_leaves_what_was_read(site, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    paths, _, _ = example_books(site, tmp_path)
    panel = FilledPanel()
    panel.files.text = "; ".join(map(str, paths))
    assert "Read: lower pair.xlsx, upper pair.xlsx." in panel.reading.written[1]
    assert "Made up" not in panel.reading.written[1]
    panel.files.text = f"{paths[0]}; nowhere.xlsx"
    assert "nowhere.xlsx is not there; looked in" in panel.reading.written[1]
    panel.files.text = "; ".join(["a.xlsx"] * 21)
    assert "filled sheets must be 1 to 20 files; got 21" in panel.line.verdict.words
    assert "nowhere.xlsx is not there" in panel.reading.written[1]
    assert panel.write().words == "filled sheets must be 1 to 20 files; got 21. Nothing was written."
    assert not list(tmp_path.glob("records/*"))
    panel.files.text = f"{paths[1]}"
    assert panel.write().text.count("Written: ") == 3  # without the lower pair's weather there is no day's file


def test_what_cannot_be_written_is_told_in_a_sentence(site, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    paths, _, _ = example_books(site, tmp_path)
    panel = FilledPanel()
    panel.files.text = "; ".join(map(str, paths))
    (tmp_path / "records").write_text("a file where the folder should be")
    assert panel.write().words == "folder records cannot be made: File exists"


def test_filled_books_go_along_with_the_building_of_the_steps_and_open_where_it_stands(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page = Together()
    monkeypatch.setattr(crew, "PICKERS", page)
    first = SiteChoice("Building", "Larkfield House")
    page.lead(first)
    panel = FilledPanel()
    assert panel.site.value == "Larkfield House"
    first.value = "Tannery Row"
    assert panel.site.value == "Tannery Row"
    assert panel.line.verdict.kind == "open"  # no book is made up for it
    assert panel.reading.widget not in panel.box.children  # nor does Larkfield's verdict stand under its name
    assert "No filled book of this building is named yet" in panel._repr_mimebundle_()["text/plain"]
    assert panel.write() is panel.line.verdict
    assert not Path("records").exists()
    again = FilledPanel()
    assert (again.site.value, again.reading) == ("Tannery Row", None)
    first.value = "Larkfield House"
    assert again.line.widget not in again.box.children
    assert "Made up" in again.reading.written[1]


def test_books_brought_back_say_fail_once_name_the_first_door_past_a_limit_and_what_to_do():
    html, words = brought_back().written
    (count,) = re.findall(r"FAIL: (\d+) FAIL", words)
    # the worst door by its force, a headline and not the sentence, and that it is made up stays with it
    head = rf"INVENTED EXAMPLE: Stair door 5: 19\.\d N over 122\.7 N; {count} FAIL in all"
    assert re.search(f"FAIL</b>&ensp;{head}", html)
    assert re.findall(r"(FAIL|NOT YET)<br><b[^>]*>(\d+)<", html)[0] == ("FAIL", count)  # the tile counts the same
    assert f"FAIL: {count} FAIL" not in html
    first = html.split("</b>&ensp;", 1)[1]
    points = first[first.index("<ul") : first.index("</ul>")]
    assert points.count("<li") == 6 + 1  # the first lines past a limit, and how many more
    more = int(count) - 6
    assert f"{more} more line{' is' if more == 1 else 's are'} FAIL, in the tables" in points
    for point in points.split("<li")[1:7]:  # each figure with its limit: neither what is still to measure nor what was expected
        assert re.search(r"limit [\d.]+ |at least [\d.]+ |at most [\d.]+ |past [\d.]+ ", point), point
        assert not re.search(r"still to |was expected", point), point
    open_lines = int(re.search(r"(\d+) NOT YET", words)[1])
    group = first[first.index("NOT YET: not measured or not filled in") :].partition("</ul>")[0]
    assert sum(map(int, re.findall(r": (\d+) NOT YET: ", group))) == open_lines
    do = "measure stair door 5 again, fan off and on; then closer, leaf; set point only by the designer; list each as a deficiency"
    assert f"<b>Do:</b> {do}, mend it, test it again" in html
    assert "First: stair door 5: 142.0 N at the latch stile to set in motion, limit 122.7 N. " in words
    assert f"Do: {do}" in words


def test_sheet_and_steps_have_one_verdict_before_anything_is_measured(site, tmp_path):
    """Both are of the same design and nothing measured: FAIL where doors of it fail, with one headline."""
    steps, sheet = StepsPanel(site, folder=tmp_path), AcceptancePanel(site, "winter", folder=tmp_path)
    mine, other = (one._whole(one.sheet.values()) for one in (steps, sheet))
    assert (mine.kind, mine.head) == (other.kind, other.head)
    assert mine.kind == ("wrong" if "wrong" in sheet.expected.expected_states.values() else "open")


def test_a_step_that_is_not_run_is_one_line_and_the_rest_folded_with_its_cautions(site, panel):
    """Ten seconds at a screen: what is not done today is no wall of text, and whoever unfolds what to do has its cautions there too."""
    barred = [step for step in panel.procedure.steps if step.against]
    assert barred
    for step in barred:
        under, (_, more) = (written_out(one(step.number)) for one in (panel._under, panel._more))
        assert under.startswith("NOT RUN")
        assert "\n" not in under
        for told in (step.expected, step.limit, step.fails, step.caution):
            assert written_out(told) in more
        assert "<details><summary" in panel.sheet.verdicts[step.number].value


def test_a_caution_of_many_steps_stands_in_full_once_in_a_part_and_in_few_words_after_it(panel):
    told = {}
    for step in panel.procedure.run:
        under = written_out(panel._under(step.number))
        for whole, short in IN_SHORT.items():
            if whole in step.caution:
                told.setdefault((step.part, whole), []).append((step.number, whole in under, f"{short} (in full: step" in under))
    assert max(map(len, told.values())) > 1
    for one in told.values():
        assert one[0][1:] == (True, False)
        assert {other[1:] for other in one[1:]} <= {(False, True)}


def test_the_list_of_steps_leaves_no_number_out_without_a_word(panel):
    run = {step.number for step in panel.procedure.run}
    assert len(run) < len(panel.procedure.steps)  # some are NOT RUN, and stand below
    told, last = [], 0
    for row, parts in panel.sheet.rows.items():
        if row in run:
            assert row == last + 1, f"{last} is followed by {row} without a word"
            last = row
        elif isinstance(row, tuple) and row[0] != BELOW:
            told += row
            line = written_out(parts())
            assert f"NOT RUN, see below step {max(run)}" in line
            assert line.startswith(f"{row[0]} to {row[-1]}:" if len(row) > 2 else f"{', '.join(map(str, row))}:")
            last = row[-1]
    assert set(told) == {step.number for step in panel.procedure.steps if step.against and step.number < max(run)}


def test_where_the_numbers_of_the_steps_go_back_a_line_says_why(panel):
    """Those that are NOT RUN stand under those that are run: after the last of these comes no lower number without a word."""
    order, steps = panel.procedure.in_the_list, panel.procedure.steps
    barred = [step.number for step in steps if step.against]
    place = next(place for place, one in enumerate(order) if getattr(one, "against", ""))
    assert order[place].number == barred[0] < order[place - 2].number
    said = written_out(panel.procedure.left_out_said(order[place - 1]))
    assert said.startswith(f"Here the steps that are run end. Below, by their numbers, the {len(barred)} that are NOT RUN")
    assert "why stands above the steps" in said
