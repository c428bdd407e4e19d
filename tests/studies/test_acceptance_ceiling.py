"""The acceptance sheet bars what the test day bars: no instruction of it takes the fan above the day's ceiling, in any demo stair."""

import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from openpyxl import load_workbook

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.printed import acceptance_page
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.commissioning.acceptance import ENTERED, acceptance_sheet
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.rounds import SHUT, crew_rounds
from helpers.studies.commissioning.fields import READ_BY, READ_IN, READ_WORDS, DoorMeasured
from helpers.studies.commissioning.steps.frame import against_step
from helpers.studies.commissioning.steps.not_run import DECIDERS, NOT_RUN
from helpers.studies.commissioning.steps.plant import AT_ON, BY_THE_LOOP
from helpers.studies.commissioning.steps.two_rounds import round_lines, short_lines
from helpers.studies.commissioning.workbook import write_acceptance_sheet
from helpers.studies.doors.stair_cooling import cooling_study
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.status import word_of
from helpers.units.said import written_out

HZ = {"Larkfield House": 24.2, "Northgate Tower": 25.1, "Tannery Row": 31.4}
FIRST = "the set point"
# Speeds that nobody is told to run: the reason why something is NOT RUN, above what an exit stands ajar, and what owner and authority
# decide between, the ceiling left in the drive or the old highest speed.
NAMED = re.compile(
    r"[\d.]+ Hz( at minute \d+)? is above the day's ceiling|above the ceiling (( and )?round [12]'s [\d.]+ Hz( at minute \d+)?)+"
    r"|above [\d.]+ Hz a final exit|caps a fire's [\d.]+ Hz"
    r"|wants up to [\d.]+ Hz( with doors [^.]*? and [\d.]+ Hz)?|Set back, [\d.]+ Hz by the site file"
)
STAIRS = sorted(demo_sites("stair"))


def sheets_of(name):
    """The sheet in every weather of a stair, with and without something that the record has to settle; by a European standard too."""
    site = read_site(demo_sites()[name])
    for one in (site, site.with_changes(standard="en12101")):
        for weather in one.weather:
            yield one, acceptance_sheet(one, weather, before_loop="")
    yield site, acceptance_sheet(site, before_loop=FIRST)


def above(text, ceiling_hz):
    """Speeds [Hz] in a text that are above the ceiling, without those of NAMED."""
    return [float(one) for one in re.findall(r"([\d.]+) Hz", NAMED.sub("", text)) if float(one) > ceiling_hz + 0.05]


@pytest.mark.parametrize("name", STAIRS)
def test_no_instruction_expects_more_than_the_ceiling_on_any_stair(name):
    for site, sheet in sheets_of(name):
        ceiling = sheet.ceiling
        assert ceiling == ceiling_of(site)
        told = [*round_lines(sheet), *short_lines(sheet), *(f"{what}: {expected}" for what, expected in sheet.fan_lines()),
                *(one.told for one in sheet.plant)]  # fmt: skip
        for line in written_out(tuple(told)):
            tried = line.startswith(("relief damper", "55 Pa", "49 Pa"))  # says itself that the blade is lifted by hand above it
            assert tried or not above(line, ceiling.hz), line
        fastest_hz = (max((sheet.speed_hz[0], *sheet.fastest[:1])), sheet.speed_hz[1])  # the loop's first hour counts, not its rest alone
        for barred, speed_hz in zip(sheet.against, fastest_hz, strict=True):
            assert ("above the day's ceiling" in barred) == bool(speed_hz > ceiling.hz + 0.05)


def test_a_loop_that_goes_above_the_ceiling_in_its_first_minutes_is_not_run_on_sheet_and_day_though_it_comes_to_rest_below(larkfield):
    """Held at the ceiling by the drive it would prove a capped loop: for somebody to decide, and no acceptance."""
    rounds = crew_rounds(larkfield)
    sheet, study = replace(rounds.sheet, before_loop=""), cooling_study(Tower(larkfield))
    fastest = max(study.moments, key=lambda one: one.speed_hz)
    assert sheet.speed_hz[0] < sheet.ceiling.hz < fastest.speed_hz == pytest.approx(sheet.fastest[0])
    assert written_out(sheet.against[0]) == f"{fastest.speed_hz:.1f} Hz at minute {fastest.minute:.0f} is above the day's ceiling"
    steps = procedure(rounds, (), "").steps
    barred = {step.title for step in steps if SHUT in step.judged and "is above the day's ceiling" in step.against}
    assert barred == {"Alarm starts the fan, all doors shut"}
    assert not replace(sheet, fastest=()).against[0]  # by its rest alone it would be run


@pytest.mark.parametrize("name", STAIRS)
def test_the_ceiling_stands_before_the_rounds_on_screen_page_and_spreadsheet(name, tmp_path):
    sheet = acceptance_sheet(read_site(demo_sites()[name]), before_loop="")
    assert sheet.ceiling.hz == pytest.approx(HZ[name], abs=0.05)
    shown = f"Ceiling of the day: {HZ[name]:.1f} Hz"
    page = load_workbook(write_acceptance_sheet(sheet, tmp_path / "a.xlsx")).active
    column = [str(page.cell(row, 1).value) for row in range(1, page.max_row + 1)]
    for lines in (written_out(round_lines(sheet)), written_out(tuple(short_lines(sheet))), column, [unescape(acceptance_page(sheet))]):
        text = "\n".join(lines)
        assert shown in text
        assert text.index(shown) < re.search("Before the (fan starts|start enter)", text).start() < text.index("Round 1")
    assert ENTERED in sheet.lines  # nothing passes before it is entered and read back
    assert ENTERED in column
    assert dict(written_out(sheet.fan_lines()))[ENTERED] == f"the lower of {HZ[name]:.1f} Hz and page 18's: ____ Hz, before the first start"


@pytest.mark.parametrize("name", STAIRS)
def test_at_the_ceiling_no_shut_door_is_past_its_limit_and_just_above_one_is(name):
    """The ceiling itself against the air network: all weathers and stair temperatures of the record, doors shut, walls as in the file."""
    site = read_site(demo_sites()[name])
    tower, window, hz = Tower(site), pressure_window(site), ceiling_of(site).hz
    shut = conditions_of(site, [case for case in usual_cases(site, next(iter(site.weather))) if case.shut])
    dp = tower.solve(shut, float(hz)).door_dp_pa
    for door in window.doors:
        if door.use == "stair door" and door.most_pa is not None:
            places = [tower.storey(level) for level in door.levels]
            assert np.max(dp[:, places]) <= door.most_pa + 0.05


@pytest.mark.parametrize("first", ["", FIRST])
@pytest.mark.parametrize("name", STAIRS)
def test_the_sheet_bars_what_the_test_day_bars(name, first):
    site = read_site(demo_sites()[name])
    sheet, rounds = acceptance_sheet(site, before_loop=first), crew_rounds(site)
    day = procedure(rounds, first=first)
    alarm = next(step for step in day.steps if SHUT in step.judged)
    last = [step for step in day.steps if step.part == "doors one by one"][-1]
    assert [bool(why) for why in sheet.against] == [bool(alarm.against), bool(last.against)]
    assert against_step(alarm, sheet.ceiling, first) == alarm.against
    lines, plant = " ".join(written_out(round_lines(sheet))), {one.field: one.told for one in sheet.plant}
    for why in written_out(sheet.against):
        assert (f"{NOT_RUN} while {why}. {DECIDERS} may decide otherwise in writing; then, " in lines) == bool(why)
    barred = {field for field, told in plant.items() if told.startswith(NOT_RUN)}
    assert barred == {field for field in plant if (field in BY_THE_LOOP and sheet.against[0]) or (field in AT_ON and first)}
    if any(sheet.against):
        assert "fan off" in lines
        assert re.search(rf"doors shut in MANUAL, to .*{HZ[name]:.1f} Hz at most", lines)


def test_where_no_speed_is_borne_nothing_is_run_but_the_fan_off():
    site = read_site(demo_sites()["Larkfield House"]).with_changes(fan={"lowest_speed_hz": 30.0})
    sheet = acceptance_sheet(site, before_loop="")
    assert np.isnan(sheet.ceiling.hz)
    assert all(sheet.against)
    assert "doors shut in MANUAL, to" not in " ".join(written_out(round_lines(sheet)))
    assert "Ceiling of the day: no speed of this drive" in " ".join(written_out(tuple(short_lines(sheet))))
    assert not sheet.enters_ceiling
    assert sheet.totals(["good"] * len(sheet.rows), ())[0] == "open"  # never PASS


@pytest.mark.parametrize("name", STAIRS)
def test_the_step_of_the_alarm_expects_what_the_hours_table_shows(name):
    """In the first minute and from the second reading on, with speed and status; where the loop needs more than the ceiling it is said."""
    site = read_site(demo_sites()[name])
    found = cooling_study(Tower(site), "winter")
    again = next(one for one in found.moments if one.minute >= found.again_minute)
    rounds = crew_rounds(site)
    alarm = next(step for step in procedure(rounds).steps if step.title == "Alarm starts the fan, all doors shut")
    told = written_out(alarm.expected)
    for start, one in (("in the first minute", found.first), (f"from minute {again.minute:.0f}", again)):
        ends = f"{one.least_pa:.1f} Pa to {one.most_pa:.1f} Pa, fan {one.speed_hz:.1f} Hz: {word_of(one.state)}"
        assert f"{start} stair doors {ends}" in told
    fastest = max(one.speed_hz for one in found.moments)
    assert ("the day's ceiling in the drive holds the fan at" in told) == (fastest > rounds.ceiling.hz + 0.05)
    for row in rounds.sheet.rows:  # and door by door as the sheet has it
        assert rounds.round(SHUT).expected_pa[row.use, row.level] == row.shut_pa


def test_the_ceiling_in_brief_has_door_weather_walls_and_damper_of_both_speeds():
    ceiling = ceiling_of(read_site(demo_sites()["Larkfield House"]))
    above = "above it stair door 13 is past its limit (relief damper stuck shut, winter, leaky walls)"
    assert ceiling.short.startswith(f"{ceiling.hz:.1f} Hz in the file's weathers; {above}")
    assert f"above {ceiling.closes_hz:.1f} Hz final exit 0 may stay ajar (summer, tight walls)" in ceiling.short


@pytest.mark.parametrize("name", STAIRS)
def test_a_pressure_read_in_manual_where_the_round_is_not_run_is_no_fail_of_the_least_and_no_pass(name):
    sheet = acceptance_sheet(read_site(demo_sites()[name]), before_loop=FIRST)
    run = replace(sheet, before_loop=None)
    assert sheet.hand_hz is not None
    assert run.hand_hz is None
    for row in (row for row in sheet.rows if row.use == "stair door"):
        least, most = sheet.ends(row)
        assert run.judge(row.key, DoorMeasured(shut_pa=least - 2))[0] == "wrong"  # of a round that is run
        for pressure_pa in (1.0, least - 2, least + 1, (least + most) / 2):
            state, words = sheet.judge(row.key, DoorMeasured(shut_pa=pressure_pa))
            assert state != "wrong", (row.key, pressure_pa, words)
            assert state in ("open", "attention")
            assert f"NOT RUN, in MANUAL at {sheet.hand_hz:.1f} Hz" in written_out(words)
        assert sheet.judge(row.key, DoorMeasured(shut_pa=most + 2))[0] == "wrong"  # too heavy to open, whatever runs the fan
        looped = {READ_BY: READ_WORDS[1]}
        assert sheet.judge(row.key, DoorMeasured(shut_pa=least - 2, **looped))[0] == "wrong"  # read by the loop the least counts
        assert sheet.judge(row.key, DoorMeasured(shut_pa=(least + most) / 2, **looped))[0] == "open"  # and no PASS of a round NOT RUN
        assert sheet.judge(row.key, DoorMeasured(**looped)) == ("", "")  # nothing measured yet
    assert READ_IN in dict(sheet.fan_lines())
    assert READ_IN not in dict(run.fan_lines())
    assert "limtheir" not in sheet.expected_counts
    unlimited = replace(sheet, ceiling=replace(sheet.ceiling, hz=np.inf, closes_hz=np.inf))  # no door decides: the drive does
    assert unlimited.hand_hz == sheet.ceiling.full_hz
