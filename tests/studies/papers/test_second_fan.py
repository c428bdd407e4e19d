"""The papers of a stair with a second fan: its states, points, causes and questions, and that a stair with one fan has none of them."""

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from demo_designs import SEVERAL_DAMPERS, site_of

from helpers.model.site.file import SITES_FOLDER, read_site
from helpers.plots import printer
from helpers.record.papers import matrix as written
from helpers.record.papers.enquiry import questions_of
from helpers.record.papers.matrix import BESIDE, HEADS, matrix
from helpers.record.papers.paper import paper_html
from helpers.record.papers.played import NOT_PLAYED, StatePlayer
from helpers.record.papers.points import alarm_list, of_second, points_of
from helpers.record.papers.quoted import NO_LINE, Quoted
from helpers.record.papers.schedules import schedules
from helpers.record.papers.states import states_of, verdict_on
from helpers.record.papers.told import analysis, owner
from helpers.record.sections.signed import _change_over_judged
from helpers.record.settings.schedule import FAIL
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL
from helpers.studies.commissioning.steps.at_plant import second_fan_steps
from helpers.studies.duty.change_over.in_time import Corners
from helpers.studies.duty.change_over.reckoned import ONE_STANDS
from helpers.studies.duty.change_over.told import LINES as CHANGE_OVER
from helpers.studies.report import Finding
from helpers.studies.status import worst_of
from helpers.units.said import written_out

VARIANT = SITES_FOLDER.parent / "variants" / "tannery_row_two_fans.toml"


@pytest.fixture(scope="module")
def two(two_fans):
    """The stair on which all is laid down, with a second fan beside its own: all other studies are those of one fan."""
    return two_fans


@pytest.fixture(scope="module")
def states(two):
    return {state.key: state for state in states_of(two)}


def test_the_change_over_is_a_state_of_smoke_control_with_numbered_steps_and_its_way_back(two, states):
    change = states["change"]
    order = (
        "The loop: ",
        "The command of the lost fan",
        "The other fan's shut-off damper",
        "The other fan starts",
        "The lost fan's damper",
    )
    assert all(step.startswith(begins) for step, begins in zip(change.does, order, strict=False))  # the paper numbers them
    back = dict((to, when) for when, to in change.ends)["smoke"]
    assert back == (
        "the reading past its set point with the other fan started, where the loop gave the speed; or that fan proved to run and at the "
        "speed of before; or its time-out over; or that fan may not be asked"
    )
    assert any(step.startswith("Time-out: ") and "never holds the loop" in step for step in change.does)
    assert "change" in {to for _, to in states["smoke"].ends} & {to for _, to in states["lost"].ends}
    assert {"isolator", "mains", "tripped", "panel off", "panel on"} <= {to for _, to in change.ends}
    assert any(ONE_STANDS in step for step in written_out(change.does))
    assert any("low-demand stop is never active" in step for step in change.does)
    assert states["tripped"].comes == "neither fan can run"
    assert verdict_on(two, change)[1] != "wrong"


def test_in_a_change_over_the_lost_drive_lets_go_and_what_the_loop_did_not_give_is_no_reading_to_wait_for(two, states):
    change = " ".join(written_out(list(states["change"].does)))
    assert "its drive release with it" in change
    assert "does not go down on its ramp" in change
    assert "no notice may take longer" in change
    assert "counts only where the loop gave the speed" in change
    names = {point.name for point in points_of(two)}
    assert {"fan drive release", "second fan drive release", "panel over MANUAL", "second fan panel over MANUAL"} <= names
    assert "fan under test lost" in dict((to, when) for when, to in states["test"].ends)["restore"]
    assert any("Two entries of each drive" in step for step in states["manual"].does)


def test_one_fan_that_cannot_run_ends_no_order_and_both_end_every_one(states):
    """One isolator, feeder, trip or switch is a change-over; the states that leave the stair without a fan ask for both."""
    both = {"isolator": "both isolators open", "mains": "no power at both drives", "tripped": "neither fan can run"}
    for key, state in states.items():
        ways = {to: when for when, to in state.ends}
        assert {to: when for to, when in ways.items() if to in both and states[to].order < state.order} == {
            to: when for to, when in both.items() if states[to].order < state.order
        }, key
    assert states["manual"].comes == "a fan run in MANUAL, or none that can run left in AUTO"
    assert (states["tripped"].whose, states["isolator"].whose) == ("neither fan can run", "both isolators open")


def test_the_standby_starts_at_the_panels_on_too_and_that_state_is_left_by_all_that_ends_on(states):
    inside = states["change on"]
    assert ("the fan in charge lost in this run, the other one to be asked", "change on") in states["panel on"].ends
    ways = {to: when for when, to in inside.ends}
    assert "its time-out over" in ways["panel on"]
    assert {"isolator", "mains", "tripped", "panel off"} <= set(ways)
    assert ways["smoke"] == "panel to AUTO, fire alarm there, or smoke control not yet released"
    assert ways["restore"] == "panel to AUTO, nothing else there"
    assert "change" in {to for _, to in states["panel on"].ends}  # back at AUTO in the middle of it
    for key in ("isolator", "mains", "tripped"):  # one fan back, the one in charge still lost
        assert {"change", "change on"} <= {to for _, to in states[key].ends}


LOSES = (
    "fan run proof", "drive tripped", "mains at the drive", "isolator closed", "drive in manual", "fan damper open",
)  # fmt: skip


@pytest.mark.parametrize("name", LOSES)
def test_whatever_loses_a_fan_has_a_point_an_alarm_and_the_change_over_at_each_of_them(two, name):
    points = {point.name: point for point in points_of(two)}
    alarms = {row[0] for row in alarm_list(two).parts[0].tables[0].rows}
    causes = {row[HEADS.index("Input")]: row for row in matrix(two).parts[0].tables[1].rows}
    for each in (name, of_second(name)):
        assert each in points
        assert each in alarms
        assert causes[each][HEADS.index("State then")] == (
            "in smoke control: Change-over to the other fan; at the panel's ON: Change-over at the panel's ON; in a self-test of this fan: "
            "Restore"
        )
    assert replace(points[of_second(name)], name=name) == points[name]


def test_both_fans_have_the_same_points_in_the_same_words(two):
    rows = {point.name: point for point in points_of(two)}
    intake = rows.pop("second fan smoke at its own intake")  # the other detector's twin, told apart by its own intake
    first = rows["smoke at the intake"]
    assert (intake.kind, intake.range, intake.normal) == (first.kind, first.range, first.normal)
    seconds = [name for name in rows if "second fan " in name]
    assert len(seconds) >= 16
    for name in seconds:
        first = name.replace("second fan ", "fan ", 1)
        first = first if first in rows else name.removeprefix("second fan ")
        assert replace(rows[name], name=first) == rows[first]
    assert "Hz while run is commanded; without it nothing" in rows["second fan speed command"].range


def test_every_point_that_sequence_and_cause_and_effect_name_is_in_the_points_list(two, states):
    names = {point.name for point in points_of(two)}
    assert {name for state in states.values() for name in state.inputs} <= names
    assert set(BESIDE) <= names
    # what the steps and rules of two fans ask of a programmer
    asked = ("fan damper command", "drive enabled", "fan lost", "fan reset", "isolator closed", "mains at the drive", "lamp: fan runs")
    assert {each for name in asked for each in (name, of_second(name))} | {"fan in charge", "duty fan"} <= names


def test_every_cause_says_for_each_fan_what_its_run_speed_and_damper_do(two, states):
    short, words, table = matrix(two).parts[0].tables
    assert [row[0] for row in table.rows] == [row[0] for row in words.rows] == [row[0] for row in short.rows]
    inputs = [row[HEADS.index("Input")] for row in words.rows]
    heads = [head.casefold() for head in table.columns]
    asked = ("fan run command", "second fan run command", "speed command", "second fan speed command", "fan damper command",
             "second fan damper command")  # fmt: skip
    assert set(asked) <= set(heads)
    assert all(row[heads.index(head)] for row in table.rows for head in asked)
    rows = {name: {head: row[heads.index(head)] for head in asked} for name, row in zip(inputs, table.rows, strict=True)}
    tripped, second = rows["drive tripped"], rows["second fan drive tripped"]
    assert tripped["fan run command"] == second["second fan run command"] == "off where the other one is asked, else as before"
    assert tripped["second fan run command"] == second["fan run command"] == "run where it is asked, else as before"
    assert "before its start" in tripped["second fan damper command"]
    assert rows["fire alarm"]["fan run command"] == rows["fire alarm"]["second fan run command"] == "run where it is in charge, else off"
    crosses = {row[0]: dict(zip(short.columns, row, strict=True)) for row in short.rows}
    assert len(crosses) == len(short.rows)
    fire = crosses["the fire alarm"]
    assert (fire["First fan: run, its damper open"], fire["Second fan: stop, shut"]) == ("in charge", "idle")
    assert fire["Lamp: second fan runs"] == "proof"
    change = crosses[states["change"].begins]
    assert (change["First fan: run, its damper open"], change["First fan: stop, shut"]) == ("asked", "lost")
    assert all(len(row) == len(short.columns) for row in short.rows)
    lost = crosses["drive tripped: not healthy"]
    assert (lost["First fan: stop, shut"], lost["Second fan: run, its damper open"]) == ("X if asked", "X if asked")
    used = {cell for row in short.rows for cell in row[2:]}
    assert all(word in short.note for word in ("in charge", "idle", "Asked", "lost", "If asked", "as without it"))
    one_fan = {"X", "–", "=", "proof", "as switched", "as without it", "to be agreed"}
    assert used <= one_fan | {"in charge", "idle", "asked", "lost", "X if asked", "– if asked"}


def test_the_self_test_says_which_fan_it_took_and_that_it_proves_no_acceptance(two, states):
    names = {point.name: point for point in points_of(two)}
    assert {"fan under test", "self-test passed", "second fan self-test passed"} <= set(names)
    assert "no proof of acceptance" in names["second fan self-test passed"].tells
    assert any("no proof of acceptance" in step for step in states["test"].does)
    assert any("fan under test is in charge" in step for step in states["test"].does)


@pytest.mark.skipif(printer.browser() is None, reason="no browser to print with")
def test_the_owners_page_of_two_fans_is_one_sheet(tmp_path, two, folder_of):
    pypdf = pytest.importorskip("pypdf")
    page = written_out(owner(two))
    printed = printer.write_pdf(paper_html(page, folder_of("all laid down").stamp), tmp_path / "owner.pdf")
    assert len(pypdf.PdfReader(printed).pages) == 1
    rows = {row[0]: row for part in page.parts for table in part.tables for row in table.rows}
    assert rows["a fan run in MANUAL"][2].endswith("a fire watch until an alarm starts one")


def test_a_command_of_the_idle_fan_that_is_no_point_is_refused(two, monkeypatch):
    monkeypatch.setattr(written, "BESIDE", (*BESIDE, "third fan run command"))
    with pytest.raises(ValueError, match="must be points of the points list, got 'third fan run command'"):
        matrix(two)


def test_the_state_is_told_with_what_the_record_reckoned_of_it(two, states):
    happened = written_out([play for play in StatePlayer(two).plays(states["change"])])
    assert (
        len(happened) == 10 + 2
    )  # the way of the sequence, and four faults beside it, each with the doors shut and open; then as reckoned
    assert all(play.tried != NOT_PLAYED for play in happened)
    assert all("a door is short of pressure for " in play.happened for play in happened[:10])
    assert "good" not in {play.state for play in happened[:10]}  # nobody has said how long is allowed
    happened = happened[10:]
    assert "The stair is at pressure: " in happened[0].happened
    assert happened[0].state == "wrong"  # with the idle fan's damper stuck open the pressure does not come back, the loop held
    tables = {table.key: table for table in two.design.section("fan").tables}
    assert [play.state for play in happened] == [worst_of(tables[key].states) for key in ("change_over", "both_fans")]


def test_every_signal_of_the_second_fan_is_a_point_with_its_alarm_and_its_cause(two):
    names = {point.name for point in points_of(two)}
    assert {"second fan run command", "second fan run proof", "second fan drive tripped", "second fan damper open"} <= names
    table = matrix(two).parts[0].tables[1]
    causes = {row[HEADS.index("Input")]: row for row in table.rows}
    assert {"fan run proof", "neither fan can run", "both fans proved to run", "second fan damper shut"} <= set(causes)
    told = [row[0] for row in alarm_list(two).parts[0].tables[0].rows]
    assert "both fans proved to run" in told


def test_what_the_file_leaves_out_of_the_second_fan_is_asked_and_what_it_states_is_not(two):
    keys = {question.key for question in questions_of(two)}
    assert {"second fan", "second_fan.noticed", "second_fan.damper_leak", "second_fan.stuck_open_leak"} <= keys
    assert "second_fan.damper_travel" not in keys


def test_the_drive_schedule_asks_for_interlock_and_a_loop_that_is_held(two):
    (drive,) = [part for part in schedules(two).parts if part.title == "Drive"]
    rows = {row[0]: row for row in drive.tables[0].rows}
    assert rows["Interlock of the two fans"][1] == ONE_STANDS
    assert "held from the loss" in rows["Loop in the change-over"][1]


def test_the_variant_of_a_demo_site_is_that_site_with_a_second_fan_and_several_dampers():
    found, plain = read_site(VARIANT), site_of("Tannery Row")
    told = {"duty": "standby", "noticed_s": (1.0, 2.0, 5.0), "damper_travel_s": 5.0, "damper_leak": 0.02, "allowed_short_s": 10.0}
    assert found == plain.with_changes(name=found.name, second_fan=told, **SEVERAL_DAMPERS)


def test_analysis_owner_and_test_day_carry_the_second_fan_with_the_caution_of_both_at_once(two):
    told = {paper.key: paper for paper in (analysis(two), owner(two))}
    parts = [part for part in told["rational_analysis"].parts if part.title.startswith("Second fan")]  # in the body, and in its annex
    assert {"change_over", "both_fans"} <= {table.key for part in parts for table in part.tables}
    assert not any("no table" in line for part in parts for line in part.lines)
    rows = {row[0]: row for part in told["owner"].parts for table in part.tables for row in table.rows}
    assert rows["both fans run"][2] == "call at once"
    watched = [what for what, row in rows.items() if "a fire watch until one runs" in row[-1]]
    assert len(watched) == 1
    assert "drive tripped" not in watched[0]  # of one alone the other fan holds the stair
    assert any("change-over" in row[1] for part in told["owner"].parts for table in part.tables for row in table.rows)
    rounds = SimpleNamespace(site=two.site)
    interlock, change = second_fan_steps(rounds, "")
    assert (interlock.leaves, change.leaves) == (MANUAL, AUTOMATIC)
    assert interlock.speed_hz == two.site.fan.speed_limits_hz(True)[0]  # at the lowest speed, whatever the ceiling
    assert all("both to OFF at once" in step.caution for step in (interlock, change))
    assert change.loop  # not run where the record lays nothing down
    assert list(second_fan_steps(SimpleNamespace(site=site_of("Tannery Row")), "")) == []


def test_a_stair_with_one_fan_has_no_word_of_a_second_but_the_question(design_named):
    one = Quoted(design_named("all laid down"))
    assert not any("second fan" in point.name for point in points_of(one))
    assert "change" not in {state.key for state in states_of(one)}
    assert one.setting("fan", "interlock of the two fans").why == NO_LINE
    assert {question.key for question in questions_of(one) if question.key.startswith("second")} == {"second fan"}
    assert not {"change_over", "both_fans"} & {table.key for table in one.design.section("fan").tables}


def test_a_change_over_that_is_too_late_fails_in_state_matrix_and_schedule_and_is_played_all_the_same(two):
    fails = Finding("wrong", "Too late", "12 s of 10 s", settings=CHANGE_OVER)
    late = Quoted(two.design)
    late.__dict__["_settings"] = {(line.group, line.name): line for line in _change_over_judged(two.lines, (fails,))}
    assert "wrong" not in {verdict_on(two, state)[1] for state in states_of(two)}
    by_key = {state.key: state for state in states_of(late)}
    assert {key for key, state in by_key.items() if verdict_on(late, state)[1] == "wrong"} == {"change", "change on"}
    assert not by_key["change"].refused  # it is there: what it does is still worked out
    (table,) = (table for part in matrix(late).parts for table in part.tables if table.key == "matrix")
    failing = [row for row, mark in zip(table.rows, table.states, strict=True) if mark == "wrong"]
    assert {"Change-over to the other fan", "Change-over at the panel's ON"} <= {row[3] for row in failing}
    assert any("proof is lost" in row[0] for row in failing)
    marks = {row[0]: mark for part in schedules(late).parts for table in part.tables if table.states
             for row, mark in zip(table.rows, table.states, strict=True)}  # fmt: skip
    assert (marks["Change-over"], marks["Loop in the change-over"]) == ("wrong", "wrong")
    assert all(FAIL in late.setting(*place).value and "12 s of 10 s" in late.setting(*place).why for place in CHANGE_OVER)


def test_the_time_out_of_the_paper_is_the_longest_that_was_played_and_runs_from_the_notice(two, states):
    site = two.site
    corners, fan = Corners.of(site), site.fan
    top = fan.speed_limits_hz(site.control.fire_mode)[1]
    played = (corners.travel_s + fan.ramp_s * top / fan.reference_speed_hz + corners.noticed_s).max()  # a proof waits as long as a notice
    said = written_out([two.setting("fan", "time-out of the change-over").value])[0]
    whole, travel, _, ramp, proof = (float(number) for number in re.findall(r"[0-9.]+(?= [sH])", said))
    assert whole == pytest.approx(played, abs=0.06)
    assert travel + ramp + proof == pytest.approx(whole, abs=0.16)
    assert any(step.startswith(f"Time-out: {said}") for step in written_out(list(states["change"].does)))
    order = [step for step in states["change"].does if step.startswith("The other fan's shut-off damper")]
    assert "commanded open at the notice" in order[0]  # as both dampers move in the play


def test_a_fan_latched_lost_can_be_tested_and_freed_and_a_latch_takes_no_running_fan_out_of_charge(states):
    test = states["test"]
    assert "a latch of before ends no test" in dict((to, when) for when, to in test.ends)["restore"]
    assert any("takes no fan that runs, proved, out of charge" in step for step in test.does)


def test_the_drive_release_is_one_rule_in_points_and_under_the_table_of_both_fans(two):
    (point,) = (point for point in points_of(two) if point.name == "fan drive release")
    assert "on while this drive's own switch stands in MANUAL" in point.tells
    (table,) = (table for table in matrix(two).parts[0].tables if table.key == "fans")
    assert written_out(table.note) == f"Drive release of each fan: {written_out(point.tells)}."
