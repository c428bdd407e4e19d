"""What a programmer keys in has one reading: numbers of states, latches, order of outputs, turns of tests, what a wait counts from.

Each was a guess of somebody who keyed a sequence in from the papers alone.
"""

import pytest

from helpers.model.answers import AnswersFile, GivenAnswer
from helpers.model.site.tolerances import boxes
from helpers.record.papers.beyond.both_fans import MANUAL_DAMPER
from helpers.record.papers.beyond.second_shaft import shaft_states
from helpers.record.papers.enquiry import questions_of
from helpers.record.papers.matrix import matrix
from helpers.record.papers.points import alarm_list, points_list, points_of
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import schedules
from helpers.record.papers.sequence import sequence
from helpers.record.papers.states import states_of
from helpers.studies.duty.change_over.in_time import CHOSEN
from helpers.studies.tuning.times_said import seconds_stated
from helpers.units.said import written_out

KINDS = "nothing holds", "one fan", "two fans", "two shafts"


@pytest.fixture(scope="module", params=KINDS)
def stair(every_stair, request):
    return every_stair[request.param]


@pytest.fixture(scope="module")
def two(every_stair):
    return every_stair["two fans"]


def rules(stair):
    (table,) = (table for table in sequence(stair).parts[0].tables if table.key == "rules")
    return {row[0]: row[1] for row in written_out(table).rows}


def points(stair):
    return {point.name: point for point in written_out(list(points_of(stair)))}


def asked(stair, key):
    (found,) = (one for one in written_out(list(questions_of(stair))) if one.key == key)
    return found


def steps(stair, key):
    return " ".join(written_out(list(next(state for state in states_of(stair) if state.key == key).does)))


def test_every_latch_of_the_states_is_a_point_that_is_kept_without_power(stair):
    kept = {name for name, point in points(stair).items() if "kept without power" in point.fails and point.kind == "binary value"}
    states = {state.key for state in (*states_of(stair), *shaft_states(stair))}
    asked = {"smoke control not yet released", "smoke at the intake not reset", "fallback latched: a reading lost"}
    asked |= {"fallback latched: an alarm on a reading"} if "by alarm" in states else set()
    asked |= {"fallback latched: readings too far apart"} if "differ" in states else set()
    asked |= {"fan lost", "second fan lost", "last try of a change-over made"} if "change" in states else set()
    asked |= {"fan of the second shaft: smoke at its intake not reset"} if stair.has({"only": "second shaft"}) else set()
    asked |= {"fan of the second shaft: fallback latched"} if stair.has({"only": "second shaft's loop"}) else set()
    assert kept == asked


def test_a_state_has_a_number_where_a_controller_counts_its_states(stair):
    assert "as a number that of its row in the table of all states" in points(stair)["sequence state"].tells
    (table,) = (table for table in sequence(stair).parts[0].tables if table.title == "All states")
    assert [row[0] for row in table.rows] == [state.title for state in states_of(stair)]


def test_a_contact_of_manual_takes_the_wire_of_the_trips_off_nowhere_and_the_drive_has_a_line_for_it(stair):
    for name, point in points(stair).items():
        if name.endswith("smoke control or ON"):
            assert "A contact of MANUAL takes it off nowhere" in point.tells
    rows = [
        row for part in schedules(stair).parts for table in part.tables for row in table.rows if row[0] == "Its input smoke control or ON"
    ]
    assert [row[1].startswith("not looked at while the switch at the drive stands in MANUAL") for row in rows] == [True]


def test_a_reset_of_a_fallback_looks_at_the_command_and_a_frozen_test_slides(stair):
    told = rules(stair)
    assert "while the speed command is the fallback's or run is off" in told["Reset of a fallback"]
    assert "That time slides on with every sample" in told["A frozen reading"]


def test_a_self_test_is_not_failed_by_a_relief_damper_that_the_set_point_cannot_open(stair):
    left = rules(stair)["What a self-test leaves behind"]
    assert "a relief damper, where there is one, that tells not shut before or after" in left
    assert "does not move" not in left
    assert ("shut-off damper of the fan under test" in left) == stair.has({"only": "second fan"})


def test_the_fallback_speed_says_from_which_speed_it_is_reached(every_stair):
    line = every_stair["one fan"].setting("failure", "fallback speed").value
    assert "by a fan that runs at either end of its speeds" in line


def test_a_start_of_two_fans_has_one_order_of_outputs_in_rule_points_and_table(two):
    order = rules(two)["Order of a fan's outputs at a start and at a stop"]
    damper, drive, stop = (
        order.index(words) for words in ("At its call its damper's command opens", "Run command, drive release and speed", "Stop: ")
    )
    assert damper < drive < stop
    assert "in a change-over at once" in order[stop:]
    for name in ("fan damper command", "second fan damper command"):
        assert points(two)[name].tells == f"shut-off damper of this fan: {MANUAL_DAMPER}"
    (fans,) = (table for table in matrix(two).parts[0].tables if table.key == "fans")
    by_hand = next(row for row in fans.rows if row[0].startswith("a fan run in MANUAL"))
    assert by_hand[4] == by_hand[7] == MANUAL_DAMPER
    assert MANUAL_DAMPER in steps(two, "manual")
    assert MANUAL_DAMPER in asked(two, "shut-off dampers").taken


def test_a_damper_stays_shut_while_the_other_fan_is_run_by_hand_and_opens_from_the_call_on_else(two):
    """Else a hand at one fan has its air go back through the other wheel, and a called fan in MANUAL starts against its blade."""
    order = rules(two)["Order of a fan's outputs at a start and at a stop"]
    assert "but not while the other drive tells enabled with its switch in MANUAL: then the start waits for that hand" in order
    assert "whole travel, counted from that command on" in order
    assert MANUAL_DAMPER.startswith("open from the call of its fan on, before its run command")
    assert "open while its own drive tells enabled with its switch in MANUAL" in MANUAL_DAMPER


def test_the_panels_on_goes_to_and_fro_between_no_two_switches_in_manual(two):
    never = "there a switch in MANUAL loses no fan, ends no run and is no reason to ask the other one"
    told = rules(two)
    assert never in told["A fan that is lost"]
    assert never in told["The other fan is to be asked"]
    (table,) = (table for table in matrix(two).parts[0].tables if table.key == "matrix")
    by_hand = [row for row in table.rows if row[1] in ("drive in manual", "second fan drive in manual")]
    assert len(by_hand) == 2
    assert all(never in " ".join(row) for row in by_hand)
    assert "it is a constant, no, until" in told["A fan that can run, and one that may be asked"]
    assert "a switch in MANUAL loses no fan" in asked(two, "switch at the drive").taken


def test_power_that_goes_loses_no_fan_by_its_trip_nor_by_a_proof_that_waits_for_the_drive(two):
    lost = rules(two)["A fan that is lost"]
    assert "A trip counts once it has stood as long as power waits, the power at that drive told all the while" in lost
    assert "the time after it is back that the drive needs to be ready again" in lost
    wait = asked(two, "proof does not come").taken
    assert "8.00 s at the longest, charged and its wheel caught (common practice, no source)" in wait  # high end of the site's own box
    assert boxes(two.site)["standby.drive_s"].high == 8.0
    assert "a trip, which counts only with the power there" in asked(two, "waits and records").taken


def test_an_alarm_in_restore_starts_the_fan_that_runs_down_and_its_release_goes_once_it_has_stopped(two):
    charge, order = (rules(two)[asks] for asks in ("The fan in charge", "Order of a fan's outputs at a start and at a stop"))
    assert "while it runs down it stays in charge, and an order that comes meanwhile starts it" in charge
    assert "where it is lost or may not be asked, rest is at once" in charge
    assert "the drive release once the fan has stopped, in a change-over at once, and so where the other fan is called before" in order
    told = points(two)["fan drive release"].tells
    assert "off once the fan has stopped, down on its ramp, and at once where the other fan is called before" in told
    assert "until its drive release goes" in points(two)["drive enabled"].normal


def test_what_stands_after_until_then_is_keyed_in_and_not_loaded(stair):
    for paper in (sequence(stair), matrix(stair), points_list(stair), alarm_list(stair)):
        assert any("key, and do not load" in line for line in paper.parts[0].lines)


def test_an_isolator_behind_the_drive_is_never_closed_on_a_drive_that_runs(stair):
    assert "never closed on a drive that turns its output" in steps(stair, "isolator")
    feeder = asked(stair, "feeder")
    assert "what keeps it from being closed on a drive that runs" in feeder.asks
    assert "a trip by it starts anew by nothing, smoke control or not" in feeder.taken


def test_the_fire_alarms_own_wire_is_not_laid_without_the_intakes_smoke_in_it(stair):
    told = points(stair)["fan run command"].fails
    assert "smoke at the intake lies in that wire, too, where that answer says so" in told
    assert "until it is answered no such wire is laid" in told


def test_what_an_answer_says_is_not_built_stands_in_no_paper(every_stair):
    site, named = every_stair["one fan"], ("intake damper command", "intake damper open", "intake damper: shut", "damper at its intake")
    words = {"": True, "Yes, proved open for 20 s.": True, "A hood. Its points, alarm and columns are not built.": False}
    for answer, there in words.items():
        given = GivenAnswer(question="intake damper", answer=answer or "none", by="mechanical engineer", date="2026-03-05")
        answers = AnswersFile(kind="answers", name="March", invented=True, site=site.site.name, answers=[given])
        quoted = Quoted(site.design, answers if answer else None)
        told = str((sequence(quoted), points_list(quoted), alarm_list(quoted), matrix(quoted))).lower()
        assert [name in told for name in named] == [there] * len(named)


def test_what_lets_a_held_loop_go_is_said_as_it_was_played(two):
    """The model lets go at a reading that is at its set point or above from the second fan's start on, and at the speed itself."""
    assert "the reading passes its set point" in CHOSEN.words
    told = steps(two, "change")
    assert "at it or above, looked at as it stands, at each sample from the other fan's run command on" in told
    assert "played with that speed itself" in told
    assert "keeps the speed command of each sample" in told


def test_which_fan_is_in_charge_at_rest_leaves_no_pair_open(two):
    told = rules(two)["The fan in charge"]
    assert "else the other one, where that may be; where neither may be asked, the duty fan" in told
    assert "one that OFF, intake or a contact goes before counts as standing" in told
    assert "no program changes it" in points(two)["duty fan"].tells
    assert "not kept without power: after the controller's own start it is worked out anew" in rules(two)["A fan that is lost"]


def test_each_fan_has_a_turn_and_a_time_of_its_own_between_tests(two, every_stair):
    told = rules(two)["Clock and turn of the self-test"]
    assert "the turn passes on with each test of the clock, whatever came of it" in told
    assert "of each fan by itself" in told
    asked = {name: next(one for one in written_out(questions_of(every_stair[name])) if one.key == "self-test") for name in KINDS[1:3]}
    assert "fifteen days" in asked["two fans"].taken
    assert "eight days" in asked["one fan"].taken
    assert "Clock of the self-test" in rules(every_stair["one fan"])
    assert "does not come to its speed" not in steps(two, "test")
    assert "A speed outside its limits loses no fan" in rules(two)["What a self-test leaves behind"]
    assert "in either order" in rules(two)["To free a fan that is latched lost"]


def test_the_fire_alarms_own_wire_lets_the_first_drive_turn_and_opens_its_damper(two):
    told = points(two)["fan run command"].fails
    assert "holds the first fan's drive release on and its shut-off damper open besides" in told


def test_a_cause_that_loses_a_fan_names_the_state_of_each_order(two):
    (table,) = (table for table in matrix(two).parts[0].tables if table.key == "matrix")
    then = {row[1]: row[3] for row in table.rows if "Change-over to the other fan" in row[3] and row[2].startswith("no command")}
    assert "drive tripped" in then
    titles = {state.title for state in states_of(two)}
    for told in then.values():
        named = [part.partition(": ")[2] for part in told.split("; ")]
        assert set(named) <= titles
        assert len(named) == 3


def test_seconds_that_an_answer_names_are_read_and_no_other_unit():
    assert [seconds_stated(told) for told in ("90 s, then it falls back", "1.5 s", "two minutes", "3 storeys", "60 seconds")] == [
        90.0, 1.5, None, None, 60.0,
    ]  # fmt: skip
