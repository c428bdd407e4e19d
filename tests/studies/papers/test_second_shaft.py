"""The papers of a stair with a second pressurised shaft: its tables, schedule lines and questions, and that others have none of them."""

import pytest
from demo_designs import LIFT, beside

from helpers.model.files import texts
from helpers.model.site.file import write_site
from helpers.model.site.form import SiteForm
from helpers.plots.stair_section import stair_section
from helpers.record.board import state_of
from helpers.record.papers.beyond import second_shaft as written
from helpers.record.papers.beyond.second_shaft import shaft_matrix, shaft_sequence, shaft_states
from helpers.record.papers.beyond.stated import second_shaft_parts
from helpers.record.papers.enquiry import questions_of
from helpers.record.papers.points import alarm_list, points_of
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import schedules
from helpers.record.papers.states import NOT_AS_IT_STANDS
from helpers.record.papers.told import Teller, told_paper
from helpers.studies.status import word_of
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def alone(design_named):
    """The stair on which all is laid down, and the keys of what is asked of it."""
    quoted = Quoted(design_named("all laid down"))
    return quoted, {question.key for question in questions_of(quoted)}


@pytest.fixture(scope="module")
def with_lift(two_shafts):
    """The same with a lift shaft beside it: all studies and sections but those asked here are those of the stair alone."""
    return two_shafts


def test_the_record_has_both_tables_and_the_analysis_quotes_them(with_lift):
    section = with_lift.design.section("fan")
    assert {"both_shafts", "shaft_doors"} <= {table.key for table in section.tables}
    assert any("doors of the lift shaft" in written_out(one.what) for one in section.findings)
    told = next(part for part in texts("analysis")["parts"] if part["title"].startswith("Interaction"))
    tables = {table.key for table in Teller(with_lift).part(told).tables}
    assert {"both_shafts", "shaft_doors"} <= tables


def test_the_fan_schedule_has_the_second_shaft_and_its_fan(with_lift):
    rows = {row[0]: row[1] for row in schedules(with_lift).parts[0].tables[0].rows}
    assert written_out(rows["Second pressurised shaft"]).endswith("the lift shaft, its air enters at storey 1")
    assert written_out(rows["Second shaft's fan"]).endswith("a fixed flow, 1.00 m³/s")


def test_what_the_file_leaves_out_of_it_is_asked_and_whether_there_is_one_is_not(with_lift):
    keys = {question.key for question in questions_of(with_lift)}
    assert {"second_shaft.fan.stuck_open_leak", "second_shaft.outdoor_share"} <= keys
    assert "other shafts" not in keys


def test_a_stair_alone_has_no_word_of_it_but_the_question(alone):
    one, keys = alone
    assert "other shafts" in keys
    assert not {key for key in keys if key.startswith("second_shaft")}
    assert not {"both_shafts", "shaft_doors"} & {table.key for table in one.design.section("fan").tables}
    assert "Second pressurised shaft" not in {row[0] for row in schedules(one).parts[0].tables[0].rows}


def test_each_paper_of_sequence_and_points_says_in_a_marked_line_that_its_fan_is_a_proposal_to_be_agreed(with_lift):
    for part in (*second_shaft_parts(with_lift, "sequence"), *second_shaft_parts(with_lift, "points")):
        waits = next(table for table in part.tables if table.key == "second_shaft")
        assert waits.states == ("open",)
        assert "proposal" in waits.rows[0][1]
        assert "fire engineer agrees it" in waits.rows[0][2]
    names = {point.name for point in points_of(with_lift)}
    assert {f"fan of the second shaft: {what}" for what in ("run command", "run proof", "in manual", "isolator closed", "mains")} <= names
    told = repr(told_paper(with_lift, "owner", 8, "owner")), repr(told_paper(with_lift, "notes", 9, "drawing_notes"))
    assert all("NOT YET" in one and "econd shaft" in one for one in told)
    assert "Landing doors of the lift shaft with a fan of its own" in words_of(with_lift)


def words_of(quoted):
    return stair_section(SiteForm(write_site(quoted.site)))[1]


def test_where_the_record_fails_both_fans_together_no_paper_quotes_them_unmarked(with_lift):
    line = with_lift.setting("fan", "second pressurised shaft")
    table = with_lift.table("fan", "both_shafts")
    worst = next(state for state in ("wrong", "attention", "open", "good") if state in table.states)
    assert worst != "good"  # else this holds nothing
    assert state_of(line) == worst
    (_, value, _), state = with_lift.row("fan", "second shaft's fan")
    assert (value.split(":")[0], state) == (word_of(worst), worst)
    assert "all of this holds" not in line.why


def test_a_stair_alone_has_no_part_of_it(alone):
    one, _ = alone
    assert second_shaft_parts(one, "sequence") == ()
    assert not any("second shaft" in point.name for point in points_of(one))
    assert "with a fan of its own" not in words_of(one)


ITS_POINTS = "fan of the second shaft: "


def test_the_states_of_its_fan_are_sound_and_each_begins_with_a_point_of_the_list(with_lift, alone):
    states = shaft_states(with_lift)
    keys = {state.key for state in states}
    assert {
        "off",
        "test",
        "smoke",
        "stair lost",
        "panel off",
        "panel on",
        "manual",
        "intake",
        "tripped",
        "mains",
        "isolator",
        "restore",
    } == keys
    names = {point.name for point in points_of(with_lift)}
    assert {name for state in states for name in state.inputs} <= names
    ways = {state.key: {to for _, to in state.ends} for state in states}
    assert {"isolator", "mains", "tripped", "panel off", "panel on", "manual", "intake", "stair lost", "restore"} <= ways["smoke"]
    assert ways["stair lost"] >= {"smoke", "isolator", "mains", "tripped", "panel off"}
    assert "smoke" in ways["mains"]  # power back, and the alarm still there
    assert shaft_states(alone[0]) == ()


def shaft_with(with_lift, fan):
    """The same stair, the fan of its lift shaft run in another way."""
    design = with_lift.design
    return beside(design, second_shaft=LIFT | {"fan": fan})


CURVE = {"level": 1, "flows_m3_s": [0, 1, 2], "pressures_pa": [300, 250, 100], "reference_speed_hz": 50}


def test_its_fan_at_a_fixed_speed_has_a_command_a_span_and_a_ramp_to_enter(with_lift):
    quoted = Quoted(shaft_with(with_lift, CURVE | {"speed_hz": 43}))
    points = {point.name.removeprefix(ITS_POINTS): written_out(point) for point in points_of(quoted) if point.name.startswith(ITS_POINTS)}
    command = points["speed command"]
    assert "43 Hz in every state that runs it" in command.tells
    assert "10 s from standstill to its speed, and back" in command.tells
    assert (command.kind, command.unit) == ("analog output", "Hz")
    assert command.range == points["speed"].range == "standstill to 50 Hz for the whole output"
    told = {"run command", "run proof", "drive or starter fault", "damper command", "damper open", "sequence state"}
    assert told <= set(points)
    assert all(point.kind and point.range and point.normal and point.fails and point.waits for point in points.values())
    assert "lamp: fan of the second shaft runs" in {point.name for point in points_of(quoted)}
    runs = [state for state in shaft_states(quoted) if state.fan == "run" and not state.inside]
    assert runs
    assert all("43 Hz in every state that runs it" in written_out(state.speed) for state in runs)


def test_its_states_say_who_stays_what_was_not_tried_and_that_an_isolated_wheel_may_turn(with_lift):
    states = {state.key: " ".join(written_out(list(state.does))) for state in shaft_states(with_lift)}
    assert "Somebody stays at the switch" in states["manual"]
    assert "during tests the written decision on a real alarm says what is done instead" in states["manual"]
    assert "Neither order of coming back was played" in states["mains"]
    assert "may turn its wheel" in states["isolator"]
    loop = shaft_with(with_lift, CURVE | LOOP)
    lost = next(state for state in shaft_states(Quoted(loop)) if state.key == "lost")
    assert "Held as it was: that was not tried here." in " ".join(written_out(list(lost.does)))


def test_a_loop_of_its_own_is_not_entered_since_no_file_has_its_keys(with_lift):
    copy = shaft_with(with_lift, CURVE | LOOP)
    copy._sections = with_lift.design._sections
    quoted = Quoted(copy)
    line = quoted.setting("fan", "second shaft's speed command")
    assert state_of(line) in ("open", "wrong")
    assert "nothing of it is entered before, or the file states a fixed speed in its place" in written_out(line.value)
    smoke = next(part for part in shaft_sequence(quoted) if part.title == "Second shaft: smoke control")
    assert NOT_AS_IT_STANDS in written_out(smoke.lines[0])
    assert "fan/second shaft's ramp" not in {question.key for question in questions_of(quoted)}  # asked with the sequence


LOOP = {"set_point_pa": 30, "set_point_level": 1, "set_point_over": "floor", "lowest_speed_hz": 10, "highest_speed_hz": 50}


def test_a_loop_of_its_own_has_a_reading_and_a_state_without_it_and_says_that_both_loops_were_not_played(with_lift):
    fan = {"level": 1, "flows_m3_s": [0, 1, 2], "pressures_pa": [300, 250, 100], "reference_speed_hz": 50, "set_point_pa": 30,
           "set_point_level": 1, "set_point_over": "floor", "lowest_speed_hz": 10, "highest_speed_hz": 50}  # fmt: skip
    design = with_lift.design
    copy = beside(design, second_shaft=LIFT | {"fan": fan})
    copy._sections = design._sections
    quoted = Quoted(copy)
    states = {state.key: state for state in shaft_states(quoted)}
    assert "lost" in states
    assert any("was not played" in step for step in states["smoke"].does)
    assert f"{ITS_POINTS}reading" in {point.name for point in points_of(quoted)}
    assert f"{ITS_POINTS}reading" not in {point.name for point in points_of(with_lift)}


def test_the_sequence_has_every_state_with_its_ways_out_and_what_the_record_tried(with_lift):
    head, *parts = shaft_sequence(with_lift)
    every = next(table for table in head.tables if table.key == "shaft_states")
    assert len(every.rows) == len(parts) == len(shaft_states(with_lift))
    assert "wrong" in every.states  # both fans do not suit the doors of this stair: no state of it is quoted unmarked
    played = {table.key: table for part in parts for table in part.tables if table.key.startswith("shaft played")}
    assert {"shaft played smoke", "shaft played stair lost", "shaft played tripped", "shaft played panel off"} <= set(played)
    both = with_lift.table("fan", "both_shafts")
    of_lost = dict(zip((row[0] for row in both.rows), both.states, strict=True))["The stair's fan off, at rest"]
    assert of_lost in played["shaft played stair lost"].states
    marks = {row[0]: (row[-1], state) for row, state in zip(every.rows, every.states, strict=True)}
    for part in parts:  # what was tried and is past a limit marks the state
        tried = [state for table in part.tables if table.key.startswith("shaft played") for state in table.states]
        assert "wrong" not in tried or marks[part.title][1] == "wrong"
    assert any("in time" in written_out(step).lower() or "both shafts in time" in written_out(step) for step in head.lines)
    assert any(line.startswith("Not played: Second shaft: MANUAL") for line in written_out(list(head.lines)))


def test_cause_and_effect_has_its_causes_what_the_stairs_fan_does_and_its_contacts_have_alarms(with_lift):
    (part,) = shaft_matrix(with_lift, {point.name for point in points_of(with_lift)})
    table = part.tables[0]
    assert len(table.rows) == len(shaft_states(with_lift))
    assert all(all(row) for row in table.rows)
    alarms = {row[0] for row in alarm_list(with_lift).parts[0].tables[0].rows}
    told = ("run proof", "drive or starter tripped", "in manual", "isolator closed", "mains", "smoke at its intake")
    assert {f"{ITS_POINTS}{what}" for what in told} <= alarms
    with pytest.raises(ValueError, match="causes of the second shaft must be points"):
        shaft_matrix(with_lift, {"fire alarm"})


def test_a_state_whose_rows_no_record_has_says_so_and_is_not_quoted_as_tried(with_lift, monkeypatch):
    monkeypatch.setattr(written, "TABLES", (("fan", "no such table"),))
    head, *parts = shaft_sequence(with_lift)
    assert not [table for part in parts for table in part.tables if table.key.startswith("shaft played")]
    assert sum(line.startswith("Not played: ") for line in written_out(list(head.lines))) == len(parts)


def test_what_its_fan_does_at_the_stairs_panel_is_said_exactly_and_every_row_is_a_proposal(with_lift):
    head, *parts = shaft_sequence(with_lift)
    told = " ".join(written_out(list(head.lines)))
    assert "its ON does not start this fan, and its OFF does not stop it, where this fan has a switch of its own" in told
    assert "OFF stops both fans, ON runs both" in told
    every = next(table for table in head.tables if table.key == "shaft_states")
    assert all(every.states)
    assert all("NOT YET: a proposal, to be agreed" in row[-1] for row in every.rows)
    stated = next(table for table in head.tables if table.key == "second_shaft_stated")
    assert all(stated.states)
    (part,) = shaft_matrix(with_lift, {point.name for point in points_of(with_lift)})
    assert all(part.tables[0].states)
    off = next(part for part in parts if part.title == "Second shaft: fire service off")
    tried = next(table for table in off.tables if table.key.startswith("shaft played"))
    assert not [row for row in tried.rows if str(row[0]).startswith("The stair's fan")]  # the opposite case


def test_the_stairs_fan_lost_has_an_input_for_each_of_its_causes_and_ends_at_the_stairs_panel(with_lift):
    lost = next(state for state in shaft_states(with_lift) if state.key == "stair lost")
    assert set(lost.inputs) == {"fan run proof", "drive tripped", "isolator closed", "mains at the drive"}
    assert "the stair at its panel's OFF" in next(when for when, to in lost.ends if to == "smoke")
    by_key = {state.key: state for state in shaft_states(with_lift)}
    assert "not proved to run" in next(when for when, to in by_key["test"].ends if to == "restore")
