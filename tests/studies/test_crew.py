"""A crew's test day: the procedure made from a site, its sheets filled in and read back, the day's file, the survey, the report."""

import zipfile
from datetime import datetime
from html import unescape

import numpy as np
import openpyxl
import pytest

from helpers import units
from helpers.model.site.file import demo_sites, read_site
from helpers.model.test_day import read_test_day_text
from helpers.pages.printed import day_report_page, procedure_page
from helpers.studies.commissioning.acceptance import acceptance_sheet
from helpers.studies.commissioning.crew.blanks import every_blank, forms, leaves_of
from helpers.studies.commissioning.crew.book import write_book, write_report
from helpers.studies.commissioning.crew.day import read_day
from helpers.studies.commissioning.crew.example import example_books
from helpers.studies.commissioning.crew.leaves import together_said
from helpers.studies.commissioning.crew.lines import COARSE, COLUMNS
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.read_back import read_filled
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, OFF, SHUT, crew_rounds
from helpers.studies.commissioning.fields import Day
from helpers.studies.commissioning.filled_file import MOST_BYTES
from helpers.studies.commissioning.hand_back import BEFORE, CEILING_BACK, CLOSING, COUNTED, DECIDED, FIRE_WATCH, LEFT, NOT_LEFT, WATCHED
from helpers.studies.commissioning.injection import PARTS, InjectionRow
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.frame import AS_DECIDED, AS_FOUND, CAPPED, ELECTRICIAN, ENTERED, LOCKED, PANEL, STATES, SWITCH
from helpers.studies.commissioning.steps.not_run import NO_FALLBACK, OTHERWISE
from helpers.studies.measured.readings import readings_of
from helpers.units.said import written_out

PA, INCHES = units.SYSTEMS
MAY = Day(outdoor_c=14.0, stair_bottom_c=19.0, stair_top_c=20.0, floor_c=22.0, wind_speed_m_s=2.0, wind_from_deg=230.0)


def steps_of(name, wires=()):
    site = read_site(demo_sites()[name])
    return procedure(crew_rounds(site, day=MAY), wires)


def proved(text="yes, 16:40, AB"):
    """Every line of what is told and given back, proved."""
    given = dict.fromkeys((*BEFORE, CEILING_BACK, *CLOSING), text) | {
        COUNTED: "4 in, 4 out",
        DECIDED: "nothing",
        FIRE_WATCH: f"{text}, 08:30 to 17:30",
        CEILING_BACK: text.replace("yes", "yes, 50 Hz", 1),
    }
    return {("told", line, "given"): said for line, said in given.items()}


@pytest.fixture(scope="module")
def larkfield():
    return steps_of("Larkfield House")


@pytest.fixture(scope="module")
def northgate():
    return steps_of("Northgate Tower")


@pytest.fixture(params=["larkfield", "northgate"])
def steps(request):
    return request.getfixturevalue(request.param)


def as_expected(steps):
    """Every blank filled in by a crew that finds just what is expected of the day, all forces included; the fan no faster than the day's
    ceiling, which is in the drive, though the loop would ask for more."""
    rounds = steps.rounds
    most_hz = np.floor(10 * rounds.ceiling.hz) / 10 if rounds.ceiling.lower else np.inf
    filled = {("day", name, "found"): value for name, value in vars(MAY).items() if value is not None}
    filled |= {("day", "date", "found"): "2026-05-12", ("day", "pressure_pa", "found"): 1.0, ("day", "flow_percent", "found"): 8.0}
    for one in rounds.rounds:
        if one.mode != OFF:
            hz = min(one.speed_hz, most_hz)
            filled |= {("fan", "speed", one.label): hz, ("fan", "flow", one.label): one.flow_m3_s * hz / one.speed_hz}
        for place, value in one.expected_pa.items():
            if not one.stands_open(*place):
                shuts = next((row.shuts_to_pa for row in rounds.sheet.rows if (row.use, row.level) == place and one.mode == MANUAL), None)
                filled["pressures", place, one.label] = value if shuts is None or place[0] != "final exit" else min(value, shuts)
    for key, row, _ in leaves_of(rounds):
        filled |= {("doors", key, "shuts"): "yes", ("doors", key, "direction"): "out of the stair"}
        for force in row.forces:
            if force.expected_n is not None:
                step = force.criterion.step
                off_n = row.off_n if force.field in ("motion_n", "force_n") else force.expected_n
                filled |= {("doors", key, f"on {step}"): force.expected_n, ("doors", key, f"off {step}"): off_n}
    return filled


def book(steps, path, filled=None, system=PA):
    write_book(steps, path, system, filled=as_expected(steps) if filled is None else filled)
    return openpyxl.load_workbook(path)


def cell_of(page, label, head, title=None):
    """The cell of a line and a column, as a person finds it: under the head whose first cell is the title."""
    heads = [row for row in range(1, page.max_row + 1) if title is None or page.cell(row, 1).value == title]
    for at in heads:
        columns = [place for place in range(2, page.max_column + 1) if page.cell(at, place).value == head]
        rows = [row for row in range(at + 1, page.max_row + 1) if page.cell(row, 1).value == label]
        if columns and rows:
            return page.cell(rows[0], columns[0])
    raise AssertionError(f"no cell {label}, {head}")


def changed(steps, path, change, system=PA):
    """A filled book after a change by hand, read back."""
    opened = book(steps, path, system=system)
    change(opened)
    opened.save(path)
    return read_filled(steps, [path])


# ------------------------------------------------------------------------------------------------------------------- the procedure


def test_the_days_steps_stand_in_their_order_with_who_when_and_what_it_must_come_to(steps):
    assert [step.number for step in steps.steps] == list(range(1, len(steps.steps) + 1))
    for step in steps.steps:
        told = (step.who, step.minutes > 0, step.do, step.expected, step.limit, step.fails, step.caution)
        assert all(told), step.label
    parts = list(dict.fromkeys(step.part for step in steps.steps))
    first = ["everybody told", "pre-checks", "fan-off baseline", "automatic, doors shut", "steady speeds", "doors one by one"]
    assert parts == [*first, "alarms and panel", "wires off", "power", "override", "give back"]


def test_no_step_leaves_the_fan_in_manual_or_off_without_saying_so_and_the_last_proves_automatic(steps):
    for step in steps.steps:
        assert step.left_said.endswith(STATES[step.leaves].partition("the fan is ")[2] + OTHERWISE * bool(step.against)), step.label
        assert step.left_said.removeprefix("▲ ").startswith("Not run, " if step.against else "After this step "), step.label
        assert ("not protected" in step.left_said) == (step.leaves != AUTOMATIC), step.label
    locked = {LOCKED} if steps.rounds.site.stair.relief else set()
    entered = [place for place, step in enumerate(steps.steps) if ENTERED in step.judged]
    capped = {CAPPED} if entered else set()
    assert all(step.leaves != AS_FOUND for step in steps.steps[min(entered, default=len(steps.steps)) :])  # capped is not as found
    assert {step.leaves for step in steps.steps} == {AS_FOUND, OFF, MANUAL, AUTOMATIC, AS_DECIDED} | locked | capped
    last = steps.steps[-1]
    assert last.leaves == AS_DECIDED  # no wires: what the loop does without a reading is not laid down
    assert f"{NOT_LEFT}: the stair is not protected" in last.left_said
    laid = procedure(steps.rounds, laid_down(steps)).steps[-1]
    assert (laid.leaves, laid.left_said) == (AUTOMATIC, f"After this step the fan is in {WATCHED}.")
    assert "Prove it" in last.do
    before = next(place for place, step in enumerate(steps.steps) if step.leaves not in (AS_FOUND, CAPPED, AUTOMATIC))
    told = next(place for place, step in enumerate(steps.steps) if step.part == "everybody told")
    assert told < before  # nobody takes the stair out of automatic before everybody is told


def test_every_door_of_the_design_and_every_wire_has_a_step_of_its_own(larkfield, northgate):
    titles = [step.title for step in larkfield.steps]
    assert [title for title in titles if title.startswith("Open besides")] == [
        "Open besides: stair door 6", "Open besides: stair door 7", "Open besides: final exit 0",
    ]  # fmt: skip
    assert [title for title in titles if title.startswith("Wire of")] == ["Wire of PDT-1 off", "Wire of PDT-2 off"]
    assert "Relief damper opens and seats" in titles
    assert "Relief damper opens and seats" not in [step.title for step in northgate.steps]


def test_the_manual_switch_and_the_alarm_panel_are_never_without_a_person_while_the_fan_may_be_stopped(steps):
    for step in steps.steps[1:]:
        assert PANEL in step.who, step.label
        assert SWITCH in step.who or step.title in ("Weather of the day",), step.label
    for step in steps.steps:
        if step.part == "wires off" or step.title.startswith("Wires, tubes"):
            assert ELECTRICIAN in step.who, step.label


def test_everybody_is_told_before_a_cover_comes_off_and_an_alarm_that_is_held_is_reset(steps):
    assert steps.steps[0].part == "everybody told"
    alarm = next(step for step in steps.steps if step.title.startswith("Alarm starts the fan"))
    last = [step for step in steps.steps if step.part == "doors one by one"][-1]
    assert "The alarm is held" in alarm.do
    assert last.do.endswith("Then the alarm is reset.")
    for title in ("Smoke at the fan's intake", "Fire service's panel back at AUTO", "Mains off", "Fire service's panel at ON, in smoke"):
        step = next(step for step in steps.steps if step.title.startswith(title))
        assert "reset" in step.do.casefold() or "held" in step.do, title


def test_no_final_exit_is_pulled_shut_against_the_air(larkfield):
    last = [step for step in larkfield.steps if step.part == "doors one by one"][-1]
    assert "surely shuts it up to 35.4 Pa" in written_out(last.do)
    assert "nobody pulls it against the air: MANUAL, speed down until it shuts by itself" in last.do
    assert "one pair on the floor's side of stair door 13, its leaf shut, pressure gauge through the gap" in last.do  # who, and where
    assert "how long it is above 60.8 Pa, its force limit; no leaf is opened or pulled" in written_out(last.do)
    assert "everybody out of the swing of all others" in last.caution  # both can be obeyed: that leaf swings into the stair
    assert "blade lifting late" in last.caution  # which case its pressure is of


def test_a_wire_is_taken_off_as_the_injection_table_has_it(larkfield):
    rows = [
        row(PARTS[2], percents, automatic) for percents, automatic in (((None, 50.0), True), ((50.0, None), False), ((None, None), True))
    ]
    first, second = (step for step in procedure(larkfield.rounds, rows).steps if step.part == "wires off")
    assert (first.leaves, second.leaves) == (AUTOMATIC, MANUAL)
    assert first.do.startswith("AUTOMATIC, a detector in alarm, nobody in the stair")
    assert second.do.startswith("MANUAL at the speed of steady speed 1")
    assert first.expected == "one wire off. the loop goes to 25.0 Hz"
    bare = next(step for step in larkfield.steps if step.part == "wires off")
    assert bare.against == NO_FALLBACK  # nobody has laid down what an automatic fan would do
    assert "is not laid down" in bare.expected


def laid_down(steps):
    """Rows of the injection table that lay down what the loop does with each wire off."""
    count = len(steps.rounds.site.transmitters)
    return tuple(row(PARTS[2], tuple(None if one == place else 50.0 for one in range(count)), True) for place in range(count))


def row(part, percents, automatic):
    shown = tuple(None if one is None else 1.0 for one in percents)
    return InjectionRow(percents, shown, shown, None, {}, "one wire off", part, "the loop goes to 25.0 Hz", automatic)


def test_a_loop_that_would_run_away_is_told_before_anybody_goes_out(larkfield, tmp_path):
    site = larkfield.rounds.site.with_changes(control={"action": "direct"})
    steps = procedure(crew_rounds(site, day=MAY))
    assert steps.steps[0].do.startswith("Settle first: its action is direct")
    page = book(steps, tmp_path / "direct.xlsx", {})["Steps"]
    assert any(str(page.cell(line, 1).value).startswith("FAIL: do not go out with this sheet") for line in range(1, 12))
    book(steps, tmp_path / "filled.xlsx")
    assert day_report(read_day(site, [tmp_path / "filled.xlsx"])).verdict[0] == "wrong"


def test_minutes_are_summed_by_part_of_the_crew(larkfield):
    crew = larkfield.by_crew()
    assert crew["test lead"][1] == sum(step.minutes for step in larkfield.run if "test lead" in step.who)
    assert crew["door holders"][0] == 3
    assert crew["pair at the upper end"][0] == 2
    assert larkfield.minutes == pytest.approx(sum(step.minutes for step in larkfield.run))


def test_a_day_longer_than_a_shift_is_told_where_it_may_be_cut(larkfield, northgate):
    assert any("Longer than a shift" in line for line in northgate.crew_lines())
    assert not any("Longer than a shift" in line for line in larkfield.crew_lines())


def test_expected_figures_are_the_acceptance_sheets_for_the_same_weather(steps):
    rounds = steps.rounds
    sheet = acceptance_sheet(rounds.site, day=MAY)
    for row in sheet.rows:
        place = row.use, row.level
        assert rounds.round(SHUT).expected_pa[place] == pytest.approx(row.shut_pa, abs=1e-6)
        assert rounds.rounds[0].expected_pa[place] == pytest.approx(row.off_pa, abs=1e-6)
        if row.opened:
            assert rounds.rounds[-1].speeds_m_s[place] == pytest.approx(row.speed_m_s, abs=1e-6)
        else:
            assert rounds.rounds[-1].expected_pa[place] == pytest.approx(row.open_pa, abs=1e-3)


def test_another_weather_makes_other_figures(larkfield):
    cold = crew_rounds(larkfield.rounds.site, day=Day(outdoor_c=-9.0, stair_bottom_c=10.0, stair_top_c=10.0, floor_c=21.0))
    place = "stair door", 13
    assert abs(cold.round(SHUT).expected_pa[place] - larkfield.rounds.round(SHUT).expected_pa[place]) > 5


def test_steady_speeds_stay_below_the_relief_dampers_lifting_and_inside_the_drives_limits(larkfield):
    rounds = larkfield.rounds
    steady = [one for one in rounds.rounds if one.mode == MANUAL]
    damper = "stair over outdoors", rounds.site.stair.relief.level
    assert len(steady) == 3
    assert [one.speed_hz for one in steady] == sorted(one.speed_hz for one in steady)
    assert all(one.speed_hz >= rounds.site.fan.lowest_speed_hz for one in steady)
    assert all(one.expected_pa[damper] < rounds.lifts_from_pa[damper[1]] for one in steady)


def test_the_printed_procedure_says_steps_cautions_and_doors_in_both_systems(larkfield):
    for system, unit in ((PA, " Pa"), (INCHES, " in. w.c.")):
        page = unescape(procedure_page(larkfield, system))
        assert all(step.label in page for step in larkfield.steps)
        assert unit in page
        assert "\x02" not in page
        assert page.count("the stair is not protected.") >= sum(step.leaves != AUTOMATIC for step in larkfield.steps)


# ------------------------------------------------------------------------------------------------------------- filled and read back


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_a_filled_sheet_comes_back_as_it_was_filled_in(steps, tmp_path, system):
    filled = {}
    for place, (key, blank) in enumerate(every_blank(steps).items()):
        low, high, _ = blank.ends if blank.is_number else (0, 0, False)
        number = low + (high - low) * (place % 97 + 1) / 99
        words = "2026-05-12" if blank.kind == "date" else f"word {place}"
        filled[key] = blank.options[place % len(blank.options)] if blank.options else number if blank.is_number else words
    book(steps, tmp_path / "filled.xlsx", filled, system)
    found = read_filled(steps, [tmp_path / "filled.xlsx"])
    assert (found.mistakes, found.conflicts) == ((), ())
    assert found.readings.keys() == filled.keys()
    for key, value in filled.items():
        assert found.value(*key) == (value if isinstance(value, str) else pytest.approx(value, rel=1e-9, abs=1e-9)), key


def test_blanks_are_open_and_all_else_is_locked(larkfield, tmp_path):
    opened = book(larkfield, tmp_path / "empty.xlsx", {})
    assert all(page.protection.sheet for page in opened)
    count = sum(not cell.protection.locked for page in opened for row in page.iter_rows() for cell in row)
    assert count == len(every_blank(larkfield))  # nothing can be filled in that is not read back
    assert read_filled(larkfield, [tmp_path / "empty.xlsx"]).readings == {}


def test_limits_stand_beside_the_blanks_as_the_acceptance_sheet_has_them(larkfield, tmp_path):
    page = book(larkfield, tmp_path / "sheet.xlsx", {})["Rounds"]
    sheet = larkfield.rounds.sheet
    for row in sheet.rows:
        least, most = sheet.ends(row)
        for head, end in (("Minimum [Pa]", least), ("Maximum [Pa]", most)):
            end = row.shuts_to_pa if end is None and head.startswith("Max") else end
            shown = cell_of(page, f"{row.use} {row.storey}", head, "Pressure across").value
            assert shown == (None if end is None else pytest.approx(end, abs=1e-6))


def test_the_day_becomes_a_file_that_the_fit_takes(steps, tmp_path):
    book(steps, tmp_path / "filled.xlsx", system=INCHES)
    found = read_day(steps.rounds.site, [tmp_path / "filled.xlsx"])
    assert (found.no_day, found.left, found.filled.mistakes) == ("", (), ())
    day = read_test_day_text(found.day_file())
    readings = readings_of(steps.rounds.site, day)
    steady = [one for one in steps.rounds.rounds if one.mode == MANUAL]
    assert [one.speed_hz for one in day.rounds] == pytest.approx([one.speed_hz for one in steady])
    assert len(readings) == sum(len(one.expected_pa) + 1 for one in steady)
    assert day.rounds[0].stair_doors_pa["3"] == pytest.approx(steady[0].expected_pa["stair door", 3])
    forces = {leaf.key: leaf.fan_off_n for leaf in day.leaves}
    for (_, number), row, _ in leaves_of(steps.rounds):
        assert forces.pop((row.use, row.level, number)) == pytest.approx(row.off_n)
    assert not forces
    assert (day.date, day.weather.stair_top_c, day.gauges.flow_percent) == ("2026-05-12", pytest.approx(20.0), pytest.approx(8.0))
    assert found.procedure.rounds.sheet.day == MAY or found.procedure.rounds.sheet.day.outdoor_c == pytest.approx(14.0)


@pytest.mark.parametrize("system", [PA, INCHES])
def test_the_report_as_a_spreadsheet_has_the_lines_and_statuses_of_its_page(larkfield, tmp_path, system):
    filled = {key: value for key, value in as_expected(larkfield).items() if key != ("fan", "speed", larkfield.rounds.rounds[2].label)}
    filled |= {("devices", "fan", "tag"): "=F-1", ("devices", "fan", "plate"): "fan of ours"}
    filled |= {("deficiencies", 1, "where"): "fan", ("deficiencies", 1, "what"): "belt slack", ("deficiencies", 1, "retest"): "2026-05-20"}
    book(larkfield, tmp_path / "filled.xlsx", filled, system)
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    report = day_report(found)
    page = openpyxl.load_workbook(write_report(found, tmp_path / "report.xlsx", system)).active
    rows = [[cell.value for cell in row] for row in page.iter_rows()]
    for line in report.lines:
        told = [written_out(cell, system) or None for cell in line.cells] + [line.word or None]
        assert told in [row[: len(told)] for row in rows], line.device
    heads = [row for row in rows if row[1 : len(COLUMNS)] == list(COLUMNS[1:])]
    assert [row[0] for row in heads] == list(report.parts())
    words = [row[0] for row in rows]
    assert written_out(report.verdict[1], system) in words
    assert set(written_out([*found.not_used, *found.unread], system)) <= set(words)
    assert {"Seen by the authority having jurisdiction, name and date", "Signature, test lead"} <= set(words)
    assert page.protection.sheet


def test_a_day_without_its_weather_is_no_file_and_says_what_is_left(larkfield, tmp_path):
    filled = {key: value for key, value in as_expected(larkfield).items() if key[:2] != ("day", "stair_top_c")}
    book(larkfield, tmp_path / "filled.xlsx", filled)
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    assert found.test_day is None
    assert found.no_day == "still to fill in on the sheet Rounds: stair, top"
    with pytest.raises(ValueError, match="test day must be complete to be written; still to fill in"):
        found.day_file()
    assert "No day&#x27;s file" in day_report_page(found)


def test_a_round_without_its_speed_is_left_out_and_told(larkfield, tmp_path):
    filled = {key: value for key, value in as_expected(larkfield).items() if key != ("fan", "speed", "steady speed 2")}
    book(larkfield, tmp_path / "filled.xlsx", filled)
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    assert len(found.test_day.rounds) == 2
    assert any(one.startswith("steady speed 2: ") and "no speed of the fan" in one for one in found.left)


def test_storeys_that_nobody_read_are_named(larkfield, tmp_path):
    filled = as_expected(larkfield)
    for level in (3, 4):
        del filled["pressures", ("stair door", level), "steady speed 1"]
    book(larkfield, tmp_path / "filled.xlsx", filled)
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    assert found.left == ("steady speed 1: not read at stair door 3 and stair door 4",)
    assert "3" not in found.test_day.rounds[0].stair_doors_pa


# ------------------------------------------------------------------------------------------------------------------ input that is wrong

ROUND = "steady speed 1"


def put(sheet, label, head, value, title=None):
    return lambda opened: setattr(cell_of(opened[sheet], label, head, title), "value", value)


WRONG = {
    "a formula": (put("Rounds", "stair door 5", f"{ROUND} [Pa]", "=1+36"), "must be what was read and not a formula; got '=1+36'"),
    "a comma": (put("Rounds", "stair door 5", f"{ROUND} [Pa]", "37,5"), "must be a figure in Pa with a point, not a comma; got '37,5'"),
    "a word": (put("Rounds", "stair door 5", f"{ROUND} [Pa]", "forty"), "must be a figure in Pa; got 'forty'"),
    "a date": (put("Rounds", "stair door 5", f"{ROUND} [Pa]", datetime(2026, 5, 12)), "must be a figure in Pa; got a date or a time"),
    "another unit's kind": (put("Rounds", "stair door 5", f"{ROUND} [Pa]", "37 N"), "must be a figure in Pa; got '37 N'"),
    "no sane pressure": (put("Rounds", "stair door 5", f"{ROUND} [Pa]", 40000), "must be from -2000.00 Pa to 2000.00 Pa; got '40000'"),
    "yes for a figure": (put("Rounds", "stair door 5", f"{ROUND} [Pa]", True), "must be a figure in Pa; got 'True'"),
    "a negative flow": (put("Rounds", "flow, by traverse [m³/s]", ROUND, -1.2), "a flow goes in by the fan and has no sign"),
    "a speed of none": (put("Rounds", "speed, at the drive [Hz]", ROUND, 0), "must be from 0.50 Hz to 400.00 Hz; got '0'"),
    "a month for a day": (put("Rounds", "date, year-month-day", "Found", "05/12/2026"), "must be a date as year-month-day"),
    "another word": (put("Doors", "stair door 5", "Shuts and latches", "maybe"), "must be one of these words: yes, no; got 'maybe'"),
    "a force below none": (put("Doors", "stair door 5", "Fan on: to set in motion [N]", -5), "must be from 0.00 N to 2000.00 N; got '-5'"),
    "an open door read": (put("Rounds", "stair door 6", "open: 6 [Pa]", 12.0), "is no blank (stands open); '12' is not read"),
    "an error": (put("Clock", "alarm to pressure [s]", "Read", "#DIV/0!"), "got the error '#DIV/0!'"),
}  # fmt: skip


@pytest.mark.parametrize("what", WRONG)
def test_a_wrong_cell_has_its_sentence_and_all_else_is_read(larkfield, tmp_path, what):
    change, sentence = WRONG[what]
    whole = read_filled(larkfield, [_whole(larkfield, tmp_path)])
    found = changed(larkfield, tmp_path / "wrong.xlsx", change)
    assert len(found.mistakes) == 1, found.mistakes
    said = written_out(found.mistakes[0])
    assert said.startswith("wrong.xlsx, sheet ")
    assert sentence in said
    sheet, cell = said.removeprefix("wrong.xlsx, sheet ").split(":")[0].split(", ")
    assert cell[0].isalpha()
    assert cell[-1].isdigit()
    assert sheet in {form.sheet for form in forms(larkfield)}
    assert len(found.readings) >= len(whole.readings) - 1


def _whole(steps, folder):
    book(steps, folder / "whole.xlsx")
    return folder / "whole.xlsx"


def test_a_figure_with_a_unit_of_its_own_counts_in_that_unit(larkfield, tmp_path):
    found = changed(larkfield, tmp_path / "own.xlsx", put("Rounds", "stair door 5", f"{ROUND} [Pa]", "0.15 in. w.c."))
    assert found.mistakes == ()
    assert found.value("pressures", ("stair door", 5), ROUND) == pytest.approx(0.15 * 249.0889)


def test_the_same_door_twice_with_different_figures_is_told_with_both_cells(larkfield, tmp_path):
    def twice(opened):
        page = opened["Rounds"]
        row = cell_of(page, "stair door 5", f"{ROUND} [Pa]", "Pressure across").row
        target = cell_of(page, "stair door 4", f"{ROUND} [Pa]", "Pressure across").row
        page.cell(target, 1).value = "stair door 5"
        page.cell(target, cell_of(page, "stair door 6", f"{ROUND} [Pa]", "Pressure across").column).value += 5.0
        assert row != target

    found = changed(larkfield, tmp_path / "twice.xlsx", twice)
    column = cell_of(openpyxl.load_workbook(tmp_path / "twice.xlsx")["Rounds"], "stair door 5", f"{ROUND} [Pa]").column_letter
    clash = [one for one in map(written_out, found.conflicts) if ROUND in one]
    assert len(clash) == 1
    assert clash[0].count("Pa") >= 3
    assert clash[0].count(f"sheet Rounds, {column}") == 2
    assert "neither is used" in clash[0]
    assert found.value("pressures", ("stair door", 5), ROUND) is None
    assert any("the line 'stair door 4' is not there" in one for one in found.mistakes)
    assert found.value("pressures", ("stair door", 6), ROUND) is not None


def test_a_row_of_no_door_and_a_column_that_was_renamed_are_told(larkfield, tmp_path):
    def strange(opened):
        page = opened["Rounds"]
        cell_of(page, "stair door 9", f"{ROUND} [Pa]", "Pressure across").parent.cell(
            cell_of(page, "stair door 9", f"{ROUND} [Pa]", "Pressure across").row, 1
        ).value = "stair door 99"
        head = next(cell for row in page.iter_rows() for cell in row if cell.value == "steady speed 2 [Pa]")
        head.value = "steady speed 2 [in. w.c.]"

    found = changed(larkfield, tmp_path / "strange.xlsx", strange)
    told = "\n".join(map(written_out, found.mistakes))
    assert "'stair door 99' is no line of this site; the row is not read" in told
    assert "the line 'stair door 9' is not there" in told
    assert "the column 'steady speed 2 [Pa]' is not there" in told
    assert found.value("pressures", ("stair door", 8), "steady speed 2") is None
    assert found.value("pressures", ("stair door", 8), "steady speed 3") is not None


def test_a_sheet_of_another_site_is_not_read_and_the_others_are(larkfield, tmp_path):
    def another(opened):
        opened["Rounds"]["B3"].value = "Mill House"

    found = changed(larkfield, tmp_path / "another.xlsx", another)
    (said,) = found.mistakes
    assert said == (
        "another.xlsx, sheet Rounds, B3: must be a sheet of 'Larkfield House'; got one of 'Mill House', nothing of it is read"
    )  # fmt: skip
    assert not any(table in ("pressures", "fan", "day") for table, _, _ in found.readings)
    assert any(table == "doors" for table, _, _ in found.readings)


def test_a_whole_file_of_another_site_gives_nothing(larkfield, northgate, tmp_path):
    book(northgate, tmp_path / "northgate.xlsx")
    found = read_filled(larkfield, [tmp_path / "northgate.xlsx"])
    assert found.readings == {}
    assert len(found.mistakes) == 6
    assert all("must be a sheet of 'Larkfield House'; got one of 'Northgate Tower'" in one for one in found.mistakes)


def test_a_sheet_that_is_missing_and_one_without_units_are_told(larkfield, tmp_path):
    def change(opened):
        del opened["Clock"]
        opened["Doors"]["B4"].value = "psi"

    found = changed(larkfield, tmp_path / "half.xlsx", change)
    assert found.mistakes == (
        "half.xlsx, sheet Doors, B4: must be Pa or in. w.c.; got 'psi', nothing of the sheet is read",
        "half.xlsx: the sheet Clock is not there; nothing of it is read",
    )  # fmt: skip


def test_what_is_no_workbook_is_refused_in_a_sentence(larkfield, tmp_path):
    (tmp_path / "text.xlsx").write_text("no workbook")
    (tmp_path / "big.xlsx").write_bytes(b"0" * (MOST_BYTES + 1))
    (tmp_path / "half.xlsx").write_bytes(_whole(larkfield, tmp_path).read_bytes()[:20000])
    with zipfile.ZipFile(tmp_path / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b" " * 61_000_000)
    with zipfile.ZipFile(tmp_path / "entity.xlsx", "w") as packed:
        packed.writestr("[Content_Types].xml", "<Types/>")
        packed.writestr("xl/workbook.xml", '<!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>')
    said = {
        "text.xlsx": "is no XLSX file that can be read", "big.xlsx": f"must be {MOST_BYTES} bytes at the most",
        "half.xlsx": "is no XLSX file that can be read", "bomb.xlsx": "must unpack to", "entity.xlsx": "declares entities of its own",
        "none.xlsx": "is not there", ".": "is a folder",
    }  # fmt: skip
    found = read_filled(larkfield, [tmp_path / name for name in said] + [tmp_path / "whole.xlsx"])
    assert len(found.mistakes) == len(said)
    assert all(words in told for words, told in zip(said.values(), found.mistakes, strict=True)), found.mistakes
    assert found.readings  # of the one sound file
    with pytest.raises(ValueError, match="filled sheets must be 1 to 20 files; got 0"):
        read_filled(larkfield, [])


# ----------------------------------------------------------------------------------------------------------------- two people's files


def test_two_peoples_files_merge_and_conflicts_are_named_with_both_figures_and_both_cells(larkfield, tmp_path):
    every = as_expected(larkfield)
    low = {key: value for key, value in every.items() if not (key[0] == "pressures" and key[1][1] > 6)}
    high = {key: value for key, value in every.items() if not (key[0] == "pressures" and key[1][1] < 6)}
    high["pressures", ("stair door", 6), SHUT] = low["pressures", ("stair door", 6), SHUT] + 4.0
    low["steps", 1, "note"], high["steps", 1, "note"] = "plate unreadable", "motor plate missing"
    book(larkfield, tmp_path / "low.xlsx", low)
    book(larkfield, tmp_path / "high.xlsx", high, INCHES)
    before = (tmp_path / "low.xlsx").read_bytes()
    found = read_filled(larkfield, [tmp_path / "low.xlsx", tmp_path / "high.xlsx"])
    (clash,), (note,) = map(written_out, found.conflicts), [one for one in found.together if "Note" in one]
    assert clash.startswith("stair door 6, automatic, doors shut")
    assert clash.count("sheet Rounds, G") == 2
    assert "(low.xlsx, sheet" in clash
    assert "(high.xlsx, sheet" in clash
    assert "neither is used" in clash
    values = [float(part.split(" Pa")[0].split()[-1]) for part in clash.split(" and ")]
    assert values[1] - values[0] == pytest.approx(4.0, abs=0.02)
    assert "both are kept" in note
    assert found.value("steps", 1, "note") == "plate unreadable / motor plate missing"
    assert found.readings.keys() == (every.keys() | {("steps", 1, "note")}) - {("pressures", ("stair door", 6), SHUT)}
    assert (tmp_path / "low.xlsx").read_bytes() == before


# ---------------------------------------------------------------------------------------------------------- the survey and the report


def test_leaves_that_read_as_expected_agree_by_force_and_gauge(steps, tmp_path):
    book(steps, tmp_path / "filled.xlsx")
    found = read_day(steps.rounds.site, [tmp_path / "filled.xlsx"])
    for leaf in found.leaves:
        if leaf.implied_pa is None:
            assert "stands open by itself" in leaf.said
        else:
            coarse = leaf.within_pa > 0.5 * abs(leaf.on_pa - leaf.off_pa)  # two errors of 5 N over the lever, and 30 %
            assert (leaf.state, leaf.ratio) == ("" if coarse else "good", pytest.approx(1.0, abs=1e-6)), leaf.words
            assert (COARSE in leaf.said) == coarse
    assert together_said(found.leaves) == ""


def test_the_lever_is_that_of_moments_about_the_hinges(larkfield, tmp_path):
    filled = as_expected(larkfield) | {("doors", (5, 1), "width_m"): 0.80, ("doors", (5, 1), "height_m"): 2.0}
    book(larkfield, tmp_path / "filled.xlsx", filled)
    leaf = next(one for one in read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"]).leaves if one.key == (5, 1))
    assert leaf.lever_n_pa == pytest.approx(0.80 * 2.0 / 2)  # even pressure, gauge at the edge: half of the leaf's area
    assert "width 0.80 m, site file 0.91 m" in written_out(leaf.size_said)


@pytest.mark.parametrize(("added", "said"), [(80.0, "the force says more than the gauge"), (-30.0, "the force says less than the gauge")])
def test_a_leaf_whose_gauges_disagree_is_flagged_with_what_to_look_at(larkfield, tmp_path, added, said):
    filled = as_expected(larkfield)
    filled["doors", (5, 1), "on set in motion"] += added
    book(larkfield, tmp_path / "filled.xlsx", filled)
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    assert [leaf.words for leaf in found.leaves if leaf.state == "attention"] == ["stair door 5"]
    leaf = next(one for one in found.leaves if one.state == "attention")
    assert said in leaf.said
    assert leaf.implied_pa - leaf.on_pa == pytest.approx(added / leaf.lever_n_pa)
    assert together_said(found.leaves).startswith("1 of ")


def test_a_gauge_that_is_off_everywhere_is_told_as_the_gauge_and_not_as_doors(larkfield, tmp_path):
    filled = as_expected(larkfield)
    for key, row, _ in leaves_of(larkfield.rounds):
        if row.use == "stair door":
            filled["doors", key, "on set in motion"] += 35.0
    book(larkfield, tmp_path / "filled.xlsx", filled)
    said = together_said(read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"]).leaves)
    assert "leaves are off the same way" in said
    assert "compare the two gauges with others first" in said


def test_the_report_is_not_yet_while_anything_is_left_and_never_passes_what_is_past_a_limit(larkfield, tmp_path):
    book(larkfield, tmp_path / "empty.xlsx", {("day", "date", "found"): "2026-05-12"})
    report = day_report(read_day(larkfield.rounds.site, [tmp_path / "empty.xlsx"]))
    assert report.verdict[0] == "open"
    assert report.verdict[1].startswith("NOT YET")
    assert {line.state for line in report.lines} == {"open"}
    filled = as_expected(larkfield)
    filled["pressures", ("stair door", 5), SHUT] = 5.0
    book(larkfield, tmp_path / "low.xlsx", filled)
    report = day_report(read_day(larkfield.rounds.site, [tmp_path / "low.xlsx"]))
    door = next(line for line in report.lines if line.part == "Doors" and line.device == "stair door 5")
    assert (report.verdict[0], door.state) == ("wrong", "wrong")
    assert "at least 25 Pa asked for" in written_out(door.words)


def test_no_door_past_a_limit_is_a_pass(steps, tmp_path):
    paths, made, _ = example_books(steps.rounds.site, tmp_path)
    found = read_day(made.rounds.site, paths)
    sheet, lines = found.procedure.rounds.sheet, {line.device: line for line in day_report(found).lines if line.part == "Doors"}
    past = 0
    for key, one, words in leaves_of(found.procedure.rounds):
        shut = found.filled.value("pressures", (one.use, one.level), SHUT)
        least, most = sheet.ends(one)
        out = [shut is not None and least is not None and shut < least, shut is not None and most is not None and shut > most]
        forces = [
            (found.filled.value("doors", key, f"{fan} {force.criterion.step}"), force.limit_n)
            for force in one.forces
            for fan in ("off", "on")
        ]
        out += [value is not None and limit is not None and value > limit for value, limit in forces]
        past += any(out)
        assert not any(out) or lines[words].state == "wrong", words
    assert past or steps.rounds.site.name == "Northgate Tower"


def test_devices_and_steps_pass_only_with_tag_plate_and_signature(larkfield, tmp_path):
    filled = {("devices", "fan", "seen"): SEEN[0], ("devices", "motor", "seen"): SEEN[1], ("steps", 2, "done"): SEEN[0],
              ("steps", 3, "done"): SEEN[0], ("steps", 3, "initials"): "AB"}  # fmt: skip
    filled |= {("devices", "drive", name): word for name, word in (("tag", "VFD-1"), ("plate", "made there"), ("seen", SEEN[0]))}
    filled |= proved("yes, 09:00 AB")
    book(larkfield, tmp_path / "filled.xlsx", filled)
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"], wires=laid_down(larkfield))
    states = {line.device: line.state for line in day_report(found).lines}
    assert [states[name] for name in ("fan", "motor", "drive")] == ["open", "wrong", "good"]
    assert [states[step.label] for step in larkfield.steps[:3]] == ["open", "wrong", "open"]  # a plate, a weather
    unproved = (DECIDED, LEFT)  # no door is measured: nothing to decide, and left in AUTOMATIC on a yes, is none of it
    assert {line: states[line] for line in (*BEFORE, *CLOSING) if line not in unproved and states[line] != "good"} == {}
    assert {states[line] for line in unproved} == {"wrong"}


def test_a_grid_counts_only_when_every_point_is_read(larkfield, tmp_path):
    grid = {("grid stair door 6", row, place): 0.9 for row in range(1, 5) for place in range(1, 4)}
    book(larkfield, tmp_path / "whole.xlsx", grid)
    book(larkfield, tmp_path / "part.xlsx", {key: value for key, value in grid.items() if key[1:] != (2, 2)})
    book(larkfield, tmp_path / "back.xlsx", grid | {("grid stair door 6", 4, 1): -0.3})
    found = {}
    for name in ("whole", "part", "back"):
        lines = day_report(read_day(larkfield.rounds.site, [tmp_path / f"{name}.xlsx"])).lines
        found[name] = next(line for line in lines if line.part == "Air through open doors" and line.device == "stair door 6")
    assert (found["whole"].state, written_out(found["whole"].measured)) == ("good", "mean 0.90 m/s")
    assert (found["part"].state, found["part"].words) == ("open", "11 of 12 points read")
    assert found["back"].state == "attention"
    assert "at 1 of 12 points the air comes into the stair" in found["back"].words


def test_a_deficiency_stands_with_its_device_and_is_open_until_tested_again(larkfield, tmp_path):
    filled = {("devices", "drive", name): word for name, word in (("tag", "VFD-1"), ("plate", "made there"), ("seen", SEEN[0]))}
    filled |= {("deficiencies", 1, "where"): "Drive", ("deficiencies", 1, "what"): "cover loose", ("deficiencies", 2, "what"): "paint"}
    book(larkfield, tmp_path / "open.xlsx", filled)
    book(larkfield, tmp_path / "again.xlsx", filled | {("deficiencies", 1, "retest"): "2026-05-20"})
    lines = {}
    for name in ("open", "again"):
        lines[name] = day_report(read_day(larkfield.rounds.site, [tmp_path / f"{name}.xlsx"])).lines
    drive = {name: next(line for line in some if line.device == "drive") for name, some in lines.items()}
    assert (drive["open"].state, drive["open"].deficiency, drive["open"].retest) == ("open", "1: cover loose", "open")
    assert (drive["again"].state, drive["again"].retest) == ("good", "2026-05-20")
    assert [line.deficiency for line in lines["open"] if line.part == "Deficiencies"] == ["2: paint"]


def test_the_printed_report_holds_every_line_and_what_could_not_be_read(larkfield, tmp_path):
    opened = book(larkfield, tmp_path / "filled.xlsx", system=INCHES)
    cell_of(opened["Rounds"], "stair door 5", f"{ROUND} [in. w.c.]").value = "=2"
    opened.save(tmp_path / "filled.xlsx")
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    for system in units.SYSTEMS:
        page = unescape(day_report_page(found, system))
        assert "must be what was read and not a formula" in page
        assert "\x02" not in page
        assert "Seen by the authority having jurisdiction, name and date" in page
        assert all(line.device in page for line in day_report(found).lines)


def test_a_filled_day_written_again_is_the_same_day(larkfield, tmp_path):
    book(larkfield, tmp_path / "filled.xlsx")
    found = read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"])
    write_book(found.procedure, tmp_path / "together.xlsx", INCHES, filled=found.filled.values())
    again = read_filled(larkfield, [tmp_path / "filled.xlsx", tmp_path / "together.xlsx"])
    assert (again.conflicts, again.mistakes) == ((), ())
    assert again.readings.keys() == found.filled.readings.keys()
