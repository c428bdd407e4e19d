"""Who recorded a test day and with which gauges reaches every report; what is filled in beside the sheets is named; two people's readings
count together where their gauges allow it; what was written comes back as it was written."""

from html import unescape

import openpyxl
import pytest

from helpers import units
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.printed import acceptance_page, day_report_page, procedure_page
from helpers.plots.markup import MOST_WORDS
from helpers.record.sections.signed import before_the_loop
from helpers.studies.commissioning.acceptance import acceptance_sheet
from helpers.studies.commissioning.crew.blanks import every_blank
from helpers.studies.commissioning.crew.book import write_book, write_report
from helpers.studies.commissioning.crew.day import read_day
from helpers.studies.commissioning.crew.example import SLIPS, example_books
from helpers.studies.commissioning.crew.given_back import GAUGES, WHO
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.crew.rounds import SHUT, crew_rounds
from helpers.studies.commissioning.fields import Day
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.units.said import written_out
from tests.house.demo_designs import design_for
from tests.studies.test_crew import MAY, as_expected, book, larkfield  # noqa: F401

PA, INCHES = units.SYSTEMS
NAMES = {("people", line, "name"): f"{letter}. Person, 2026-05-12" for line, letter in zip(WHO, "ABC", strict=True)}
GAUGE = {("gauges", GAUGES[0], "instrument"): "maker of gauges, G 5", ("gauges", GAUGES[0], "serial"): "SN 4711",
         ("gauges", GAUGES[0], "until"): "2027-01-31"}  # fmt: skip
STEADY = "steady speed 2"


def cells(path):
    book = openpyxl.load_workbook(path)
    return "\n".join(str(cell.value) for page in book for row in page.iter_rows() for cell in row if cell.value is not None)


def read(steps, folder, *fills, system=PA):
    paths = []
    for number, filled in enumerate(fills):
        paths.append(folder / f"{number}.xlsx")
        write_book(steps, paths[-1], system, filled=filled)
    return read_day(steps.rounds.site, paths)


# ------------------------------------------------------------------------------------------------------------- who, with which gauges


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_names_and_certificates_reach_page_spreadsheet_and_the_merged_book(larkfield, tmp_path, system):  # noqa: F811
    found = read(larkfield, tmp_path, as_expected(larkfield) | NAMES, GAUGE)
    assert not found.not_used
    together = write_book(found.procedure, tmp_path / "together.xlsx", system, filled=found.filled.values())
    report = write_report(found, tmp_path / "report.xlsx", system)
    for told in (day_report_page(found, system), cells(report), cells(together)):
        for words in (*NAMES.values(), *GAUGE.values()):
            assert words in told
    signed = [row[0].value for row in openpyxl.load_workbook(report).active.iter_rows()]
    assert f"As found by: {NAMES['people', WHO[0], 'name']}" in signed
    assert f"As left by: {NAMES['people', WHO[1], 'name']}" in signed


@pytest.mark.parametrize(("until", "state", "words"), [
    ("2026-05-12", "good", ""), ("2026-05-11", "wrong", "calibrated until 2026-05-11, the test is of 2026-05-12"),
    (None, "open", "still to fill in: calibrated until"),
])  # fmt: skip
def test_a_gauge_past_its_calibration_is_no_pass_nor_is_the_step_of_the_papers(larkfield, tmp_path, until, state, words):  # noqa: F811
    gauges = {("gauges", name, column): text for name in GAUGES for column, text in
              (("instrument", "maker"), ("serial", "1"), ("until", "2027-01-01"))}  # fmt: skip
    found = read(larkfield, tmp_path, as_expected(larkfield) | gauges | {("gauges", GAUGES[1], "until"): until})
    lines = {line.device: line for line in day_report(found).lines}
    assert (lines[GAUGES[1]].state, lines[GAUGES[0]].state) == (state, "good")
    assert words in lines[GAUGES[1]].words
    step = next(line for line in day_report(found).lines if line.device.startswith("2. Papers"))
    assert ("gauges in date" in step.words) == (state != "good")


# ---------------------------------------------------------------------------------------------------------------- beside the sheets


def test_sheets_that_are_none_of_ours_are_named_and_an_empty_one_is_not(larkfield, tmp_path):  # noqa: F811
    opened = book(larkfield, tmp_path / "filled.xlsx")
    opened.create_sheet("Sheet1")
    opened.create_sheet("Notes")["B2"] = "the door of storey 3 drags"
    copy = opened.copy_worksheet(opened["Rounds"])
    copy.title = "Rounds (2)"
    opened.save(tmp_path / "filled.xlsx")
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    notes, rounds = found.filled.mistakes
    assert notes.startswith("filled.xlsx, sheet 'Notes': is none of a test day's sheets (Steps, Rounds, Doors, Clock, Air speed, Devices)")
    assert "its 1 filled cells are not read" in notes
    assert rounds.startswith("filled.xlsx, sheet 'Rounds (2)'")
    assert "name it Rounds where its readings count" in rounds
    assert day_report(found).verdict[0] != "good"
    assert notes in unescape(day_report_page(found))


# ------------------------------------------------------------------------------------------------------------------------- refusals


def test_no_figure_that_a_sheet_takes_is_refused_by_the_days_file(larkfield, tmp_path):  # noqa: F811
    """Every blank of weather and gauges at the least and at the most that its cell takes."""
    for end in (0, 1):
        filled = as_expected(larkfield)
        for key, blank in every_blank(larkfield).items():
            if key[0] in ("day", "fan") and blank.is_number:
                low, high, above = blank.ends
                filled[key] = (low + 1e-3 if above else low, high)[end]
        found = read(larkfield, tmp_path, filled)
        assert not found.filled.mistakes
        assert (found.no_day, found.test_day is None) == ("", False)


@pytest.mark.parametrize("system", units.SYSTEMS)
@pytest.mark.parametrize(("name", "value", "told"), [
    ("pressure_pa", 0.0, "must be above 0.00"), ("pressure_pa", -1.0, "must be above 0.00"), ("wind_m_s", 40.0, "at the most; got"),
    ("stair_top_c", -45.0, "must be from -30.00 °C"), ("outdoor_c", 75.0, "to 60.00 °C; got '75'"),
])  # fmt: skip
def test_a_figure_that_the_days_file_does_not_take_is_refused_at_its_cell_in_our_words(larkfield, tmp_path, name, value, told, system):  # noqa: F811
    found = read(larkfield, tmp_path, as_expected(larkfield) | {("day", name, "found"): value}, system=system)
    (said,) = (written_out(one, PA if "°C" in told else system) for one in found.filled.mistakes)
    assert said.startswith("0.xlsx, sheet Rounds, B")
    assert told in said or system == INCHES
    everything = " ".join((said, found.no_day))
    assert "validation error" not in everything
    assert "Gauges" not in everything
    assert "must be" in said
    assert "got" in said


def test_a_date_that_nobody_measures_on_is_refused_at_its_cell(larkfield, tmp_path):  # noqa: F811
    found = read(larkfield, tmp_path, as_expected(larkfield) | {("day", "date", "found"): "0206-05-12"})
    (said,) = found.filled.mistakes
    assert said.startswith("0.xlsx, sheet Rounds, B")
    assert "from 1950 to 2199; got '0206-05-12'" in said
    assert found.no_day == "still to fill in on the sheet Rounds: date"


# ------------------------------------------------------------------------------------------------------------- two people, one door


def two(steps, folder, key, apart, **more):
    every = as_expected(steps) | more.get("filled", {})
    every[key] = every.get(key, more.get("value"))
    return read(steps, folder, every, {key: every[key] + apart}), every[key]


DOOR = "pressures", ("stair door", 5), STEADY


@pytest.mark.parametrize(("gauge_pa", "apart", "used"), [(1.0, 0.3, True), (1.0, 1.41, True), (1.0, 1.43, False), (0.1, 0.3, False)])
def test_two_readings_of_one_door_count_together_as_far_as_two_gauges_differ(larkfield, tmp_path, gauge_pa, apart, used):  # noqa: F811
    """Two gauges that err by u each differ by u times the root of two (ISO/IEC Guide 98-3, sum of squares: from memory, not verified)."""
    found, first = two(larkfield, tmp_path, DOOR, apart, filled={("day", "pressure_pa", "found"): gauge_pa})
    value = found.filled.value(*DOOR)
    if used:
        assert value == pytest.approx(first + apart / 2)
        assert not found.filled.conflicts
        (said,) = found.filled.together
        assert found.test_day.read_twice.rstrip(".") == str(written_out(said)).partition(":")[0]
        assert "their mean of" in said
        assert "0.xlsx, sheet Rounds" in said
        assert "1.xlsx, sheet Rounds" in said
        assert said in day_report(found).said
        assert found.test_day.rounds[1].stair_doors_pa["5"] == pytest.approx(value)
    else:
        assert value is None
        (said,) = found.filled.conflicts
        assert "neither is used" in said
        assert "two gauges differ by" in said


def test_the_largest_of_two_forces_counts_and_gauges_are_never_averaged(larkfield, tmp_path):  # noqa: F811
    force = "doors", (5, 1), "on set in motion"
    found, first = two(larkfield, tmp_path, force, 3.0)
    assert found.filled.value(*force) == pytest.approx(first + 3.0)
    assert "the largest of them" in found.filled.together[0]
    found, _ = two(larkfield, tmp_path, ("day", "pressure_pa", "found"), 0.2)
    assert found.filled.value("day", "pressure_pa", "found") is None
    assert "neither is used" in found.filled.conflicts[0]


def test_no_door_passes_by_a_mean_where_one_reading_is_past_its_limit(larkfield, tmp_path):  # noqa: F811
    row = next(row for row in larkfield.rounds.sheet.rows if (row.use, row.level) == ("stair door", 5))
    least, _ = larkfield.rounds.sheet.ends(row)
    key = "pressures", ("stair door", 5), SHUT
    last = {("pressures", key[1], larkfield.rounds.rounds[-1].label): 30.0, key: least + 0.5}
    found, _ = two(larkfield, tmp_path, key, -0.6, filled=last)
    assert found.filled.value(*key) > least
    doors = {line.device: line for line in day_report(found).lines if line.part == "Doors"}
    assert doors["stair door 5"].state == "wrong"
    assert "by one of several people's readings: 24.9 Pa, at least 25 Pa asked for" in written_out(doors["stair door 5"].words)
    near, _ = two(larkfield, tmp_path, key, 0.6, filled=last)
    assert {line.device: line for line in day_report(near).lines if line.part == "Doors"}["stair door 5"].state != "wrong"


def test_the_filled_books_beside_the_package_are_the_examples_and_are_read_without_a_word_lost(tmp_path):
    """Where a blank or a word of the sheets has changed: write them again with `example_books` and what the record has to settle first, by
    their names in data/days."""
    site = read_site(demo_sites()["Larkfield House"])
    first = before_the_loop(design_for(site))
    made = example_books(site, tmp_path, first=first)[0]
    there = [DAYS_FOLDER / f"larkfield_house_{path.name.replace(' ', '_')}" for path in made]
    for path, kept in zip(made, there, strict=True):
        assert cells(kept) == cells(path)
    found = read_day(site, there, first=first)
    assert len(found.not_used) + len(found.filled.conflicts) == len(SLIPS)
    assert found.test_day.date == "2026-05-12"


# -------------------------------------------------------------------------------------------------------- a day that is to be done


def test_nobody_who_is_sent_out_is_told_to_correct_the_design_first(larkfield, tmp_path):  # noqa: F811
    sheet = larkfield.rounds.sheet
    assert "wrong" in sheet.expected_states.values()  # Larkfield's doors are expected to fail: the day proves it
    page = unescape(procedure_page(larkfield, fails=("one",)))
    book(larkfield, tmp_path / "empty.xlsx", {})
    for told in (page, cells(tmp_path / "empty.xlsx")):
        assert "The day is done all the same: it proves what stands there" in told
        for words in ("before you measure", "settle them first", "Settle first"):
            assert words not in told
    reverse = larkfield.rounds.site.with_changes(control={"action": "direct"})  # what endangers somebody comes first all the same
    assert "do not go out" in unescape(procedure_page(procedure(crew_rounds(reverse, day=MAY))))


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_the_reports_band_is_a_headline_and_a_list(larkfield, tmp_path, system):  # noqa: F811
    found = read(larkfield, tmp_path, as_expected(larkfield), system=system)
    report = day_report(found)
    head = written_out(report.head, system)
    assert len(head.split()) <= MOST_WORDS
    page = day_report_page(found, system)
    band = page[page.index('class="verdict"') :]
    assert band.index(head) < band.index("<ul") < band.index("<p")
    assert all(written_out(line, system) in unescape(band) for line in report.listed)


# --------------------------------------------------------------------------------------------------------------- as it was written


@pytest.mark.parametrize(("system", "shown"), [(PA, "7.6 °C"), (INCHES, "45.68 °F")])
def test_temperatures_come_back_as_they_were_written(tmp_path, system, shown):
    day = Day(outdoor_c=7.6, stair_bottom_c=14.25, stair_top_c=16.0, floor_c=20.0, wind_speed_m_s=1.55, wind_from_deg=230.0)
    site = read_site(demo_sites()["Larkfield House"])
    steps = procedure(crew_rounds(site, day=day))
    found = read(steps, tmp_path, as_expected(steps) | {("day", name, "found"): value for name, value in vars(day).items() if value})
    for page in (procedure_page(steps, system), acceptance_page(acceptance_sheet(site, day=day), system), day_report_page(found, system)):
        assert shown in page
        assert system != PA or ("14.25 °C" in page and "1.55 m/s" in page)
    assert (found.test_day.weather.outdoor_c, found.test_day.weather.stair_bottom_c) == (7.6, 14.25)
    assert 'outdoor = "7.6 °C"' in found.day_file()
    page = openpyxl.load_workbook(tmp_path / "0.xlsx")["Rounds"]
    outdoors = next(row for row in page.iter_rows() if str(row[0].value).startswith("outdoors"))
    assert [cell.value for cell in outdoors[1:3]] == [pytest.approx(7.6), pytest.approx(7.6)]
