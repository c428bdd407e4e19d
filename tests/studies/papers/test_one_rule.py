"""One rule for each subject, in all papers alike: what a programmer keys in from one of them is what the others say.

Each is a relation between tables of two papers, walked over stairs of each kind: nothing holds, one fan, two fans, two shafts.
"""

import pytest

from helpers.model.files import texts
from helpers.record.papers.beyond.answered import ASKED_BY
from helpers.record.papers.beyond.both_fans import BUT, KEPT
from helpers.record.papers.beyond.second_shaft import shaft_matrix, shaft_states
from helpers.record.papers.enquiry import NOTHING_TAKEN, questions_of
from helpers.record.papers.matrix import BY_HAND, CALLED, SAME, SWITCHED, WITHOUT, X, matrix
from helpers.record.papers.points import ALWAYS, IN_CHARGE, LOSES, RUNNING, alarm_list, contacts, points_list, points_of, quoted_alarms
from helpers.record.papers.schedules import schedules
from helpers.record.papers.sequence import sequence
from helpers.record.papers.states import states_of
from helpers.units.said import written_out

KINDS = "nothing holds", "one fan", "two fans", "two shafts"
KEPT_BY = ("isolator", "mains", "tripped")  # keys of states whose contact takes no command off; MANUAL has a damper of its own


@pytest.fixture(scope="module", params=KINDS)
def stair(every_stair, request):
    return every_stair[request.param]


@pytest.fixture(scope="module")
def all_states(stair):
    """States of the stair's fan and of a second shaft's."""
    return written_out([*states_of(stair), *shaft_states(stair)])


def rows_of(table):
    return [dict(zip(table.columns, row, strict=True)) for row in written_out(table).rows]


def tables_of(stair):
    return {table.key: table for table in matrix(stair).parts[0].tables}


def rule(stair, begins):
    """How a rule of what the programmer asks goes, by how its question begins."""
    (table,) = (table for table in sequence(stair).parts[0].tables if table.key == "rules")
    return next(row["How"] for row in rows_of(table) if row["What"].startswith(begins))


def asked(stair):
    return {question.key: question for question in written_out(questions_of(stair))}


def test_what_a_contact_leaves_of_run_and_speed_is_the_same_in_sequence_table_and_glance(stair):
    """A cut wire before the fire must let the fire alarm start the fan, by the loop, and one in the fire must not hold its speed."""
    tables, states = tables_of(stair), {state.begins: state for state in states_of(stair)}
    for words, crosses in zip(rows_of(tables["matrix"]), rows_of(tables["crosses"]), strict=True):
        state = states.get(words["Cause"])
        kept = bool(state and state.commands)
        signs = {sign for head, sign in crosses.items() if head.startswith(("Fan: ", "First fan", "Second fan", "Speed: "))}
        run, speed = (
            words.get(CALLED[head]) or words[head] for head in ("Fan run command", "Speed command")
        )  # of two fans, the one in charge
        assert (run == KEPT) == kept == speed.startswith(KEPT)
        assert (WITHOUT in signs) == kept
        if kept:
            assert SAME not in signs
            assert signs <= {WITHOUT, SWITCHED, X}
            assert state.commands.startswith("run command")
            assert "speed command" in state.commands.partition(" as in ")[0]
    assert {WITHOUT, SWITCHED} <= {part for part in (WITHOUT, SWITCHED) if part in tables["crosses"].note}


def test_where_a_second_shafts_fan_keeps_its_run_it_keeps_its_speed(every_stair):
    stair = every_stair["two shafts"]
    (part,) = shaft_matrix(stair, {point.name for point in points_of(stair)})
    rows = {row["State then"]: row for row in rows_of(part.tables[0])}
    kept = [state for state in shaft_states(stair) if state.commands]
    assert {state.key for state in kept} == {*KEPT_BY, "manual"}
    for state in kept:
        assert rows[state.title]["Its fan"] == KEPT
        assert rows[state.title]["Its speed"].startswith(f"{KEPT}; the fan's own: ")


def test_all_that_keeps_its_commands_does_so_in_the_same_words(all_states):
    said = texts("papers")["said"]
    for state in all_states:
        if state.key in KEPT_BY:
            assert state.commands.startswith(said["kept"].partition(": see")[0])
        elif state.key == "manual":
            assert state.commands.startswith(said["kept in manual"].partition(": see")[0])
        else:
            assert not state.commands
    assert all("neither stops a fan nor holds its speed" in said[name] for name in ("kept", "kept in manual"))


def test_a_lamp_that_says_the_fan_runs_is_lit_by_its_proof_at_every_cause(stair):
    lamps = [point for point in points_of(stair) if point.name.startswith("lamp: ") and point.name.endswith("runs")]
    assert lamps
    assert all("as it is proved, never as it is commanded" in lamp.tells for lamp in lamps)
    rows = rows_of(tables_of(stair)["crosses"])
    heads = [head for head in rows[0] if head.startswith("Lamp: ") and head.endswith("runs")]
    assert heads
    assert {row[head] for row in rows for head in heads} == {"proof"}


def test_the_reset_of_an_intake_is_at_the_panel_in_every_paper(stair, all_states):
    at_panel = "the fire service, at its panel"
    intakes = [state for state in all_states if state.key == "intake"]
    assert intakes
    assert {state.reset for state in intakes} == {at_panel}
    resets = [point for point in points_of(stair) if point.name.endswith(("reset of the intake", "reset of its intake"))]
    assert len(resets) == len(intakes)
    assert all("at its panel" in point.tells and "where: to be agreed" not in point.tells for point in resets)
    rows = [row for row in rows_of(alarm_list(stair).parts[0].tables[0]) if "smoke at" in row["Alarm on"]]
    assert rows
    assert all(row["Return and reset"].endswith(at_panel) for row in rows)
    assert "the reset of the intake and the fire service's agreement are buttons at its panel" in asked(stair)["resets"].taken


def test_who_resets_a_contact_is_whom_its_alarm_and_its_state_name(stair, all_states):
    """Nobody mends a switch, takes another one's lock off, or resets an intake for the fire service."""
    alarms = {row["Alarm on"]: row for row in rows_of(alarm_list(stair).parts[0].tables[0])}
    by_input = {name: state.reset for state in all_states if state.key in ("isolator", "intake", "manual") for name in state.inputs}
    rows = [row for row in rows_of(tables_of(stair)["matrix"]) if row["Input"] in alarms and row["Order"] == "no command to run or stop"]
    assert rows
    for row in rows:
        assert row["Latches"] == alarms[row["Input"]]["Return and reset"]
        if "by the fire service" in row["Latches"]:
            assert row["Reset by"] == "the fire service, at its panel"
        reset = by_input.get(row["Input"], "")
        if reset.startswith("whoever locked"):
            assert row["Reset by"] == "whoever locked it, in person"
        elif reset and "drive enabled" not in row["Input"]:
            assert row["Reset by"] == reset


def test_every_switch_of_the_fire_service_has_a_point_an_alarm_a_row_and_the_lamp(stair):
    switches = [point.name for point in points_of(stair) if point.range == "off, auto, on"]
    assert switches
    named = {name: f"{name} not in AUTO" for name in switches}
    alarms = {alarm.on for alarm in contacts(points_of(stair))}
    lit = {row["Cause"]: row["Lamp: switch not in AUTO"] for row in rows_of(tables_of(stair)["crosses"])}
    for contact in named.values():
        assert contact in alarms
        assert lit[f"{contact}: not in AUTO"] == X


def test_a_reading_is_not_lost_while_its_transmitter_starts_in_sequence_alarms_and_enquiry(stair):
    question = asked(stair)["transmitters' start-up"]
    assert "Until then the start-up time is" in question.taken
    told = rule(stair, "A reading while its transmitter starts")
    assert "begins no state and latches nothing" in told
    lost = [row for row in rows_of(alarm_list(stair).parts[0].tables[0]) if row["Alarm on"].endswith(LOSES)]
    assert lost
    assert all("but while its transmitter starts" in row["Live when"] for row in lost)
    mains = next(state for state in states_of(stair) if state.key == "mains")
    assert any("a reading while its transmitter starts" in step for step in mains.does)


def test_an_alarm_whose_timer_is_cleared_sends_the_fan_nowhere_but_by_its_latch(stair):
    """Out of Off, panel or MANUAL a difference by stack effect alone must not begin a fallback that never returns by itself."""
    for state in states_of(stair):
        if state.key in ("by alarm", "differ"):
            assert state.there.endswith("latched")
            assert " or " not in state.there.rpartition(", and ")[2]
            for other in states_of(stair):
                for when, to in other.ends:
                    assert to != state.key or when in (state.comes, state.there) or when.endswith(state.there)


def test_alarms_on_limits_are_live_and_their_timers_run_in_the_same_states(stair):
    """Stack effect at standstill, or a hand at the drive, must not count towards an alarm that takes the loop out."""
    where = "while the state is smoke control or the self-test and the loop gives the speed"
    assert RUNNING.startswith(where)
    assert f"They run {where}, and are cleared by every other state" in rule(stair, "Timers of limits")
    rows = {row["Alarm on"]: row["Live when"] for row in rows_of(alarm_list(stair).parts[0].tables[0])}
    on_limits = [alarm.on for alarm, _ in quoted_alarms(stair)]
    assert all(rows[on].startswith(where) for on in written_out(on_limits))
    assert "and proved while a contact stands" in RUNNING
    assert "while one stands they run only while run is proved, and are cleared else" in rule(stair, "Timers of limits")


def test_no_missing_proof_ends_a_state_before_its_wait(all_states):
    parts = [part for state in all_states for when, _ in state.ends for part in when.split(";")]
    found = [part for part in parts if "no proof of run" in part or "not proved to run" in part]
    assert found
    assert [part for part in found if "wait" not in part and "lost no more" not in part] == []


def test_what_takes_a_second_shafts_fan_out_of_a_state_is_the_contrary_of_what_brought_it_there(every_stair):
    """One false contact among several must not send it to and fro at each sample."""
    lost = next(state for state in shaft_states(every_stair["two shafts"]) if state.key == "stair lost")
    (back,) = (when for when, to in lost.ends if to == "smoke")
    ends = back.partition(";")[0].partition(": ")[2].split(", ")
    contrary = {
        "fan run proof": "proved to run", "drive tripped": "not tripped", "isolator closed": "not isolated",
        "mains at the drive": "with power",
    }  # fmt: skip
    assert ends == [contrary[name] for name in lost.inputs]


def test_a_fan_in_manual_finds_its_damper_open_in_sequence_points_and_glance(stair, all_states):
    said = texts("papers")["said"]["damper in manual"]
    hands = [state for state in all_states if state.key == "manual"]
    assert hands
    assert all(said in state.does for state in hands)
    point = next(point for point in points_of(stair) if point.name == "intake damper command")
    assert "as long as a switch at a drive stands in MANUAL, whatever the state" in point.tells
    tables = tables_of(stair)
    at = next(place for place, row in enumerate(rows_of(tables["matrix"])) if row["State then"] == hands[0].title)
    assert rows_of(tables["matrix"])[at]["Intake damper command"] == BY_HAND
    crosses = rows_of(tables["crosses"])[at]
    assert (crosses["Intake damper: open"], crosses["Intake damper: shut"] == X) == (X, False)
    assert "open as long as a switch stands in MANUAL" in tables["crosses"].note


def test_the_speed_that_is_held_is_the_same_in_sequence_and_enquiry(every_stair):
    said = texts("papers")["said"]["held"]
    for stair in every_stair.values():
        lost, holds = next(state for state in states_of(stair) if state.key == "lost"), stair.has({"only": "no way of falling back"})
        assert any(said in step for step in lost.does) is holds
        assert any(said in question.taken for question in asked(stair).values()) is holds


def test_a_self_test_has_an_end_of_its_own_and_a_longest_time(stair):
    assert "end of the self-test" in {point.name for point in points_of(stair)}
    test = next(state for state in states_of(stair) if state.key == "test")
    assert any("when its end is pressed or its longest time is over" in step for step in test.does)
    taken = asked(stair)["self-test"].taken
    assert "minutes after its begin it ends by itself" in taken
    assert "once a week" in taken  # as the owner's page


def test_no_state_is_kept_over_the_controllers_own_start_but_what_latched(stair):
    told = rule(stair, "The controller's own start")
    assert "What had latched" in told
    assert "from the top" in told
    states = [point for point in points_of(stair) if point.name.endswith("sequence state")]
    assert states
    assert {point.fails for point in states} == {"looked up anew, see the sequence: what the programmer asks"}


def test_a_speed_command_without_run_is_standstill_and_a_drive_has_a_line_for_its_stop_and_a_cut_command(stair):
    point = next(point for point in written_out(points_of(stair)) if point.name == "speed command")
    assert "while run is commanded; without it nothing: standstill" in point.range
    (drive,) = (table for part in schedules(stair).parts for table in part.tables if table.key == "drive")
    lines = {row[0]: (row[1], state) for row, state in zip(drive.rows, drive.states, strict=True)}
    assert lines["Stop, where the run command goes"][0] == "by the ramp down"
    assert lines["Speed command cut"][1] == "open"
    assert "a drive whose speed command is cut" in asked(stair)["output signals"].taken


def test_a_second_shafts_fan_waits_for_the_stairs_no_longer_than_its_question_says(every_stair):
    question = asked(every_stair["two shafts"])["second fan on one source"]
    assert "no longer than" in question.taken
    mains = next(state for state in shaft_states(every_stair["two shafts"]) if state.key == "mains")
    (step,) = (step for step in mains.does if "the stair's starts first" in step)
    assert "at the latest after a wait to be agreed, see the enquiry list: second fan on one source" in step
    assert "at once where the stair's fan is lost" in step
    assert "second fan on one source" not in asked(every_stair["one fan"])


def test_no_paper_has_the_drive_tell_of_a_reading_that_it_never_sees(stair):
    told = str(written_out([sequence(stair).parts, alarm_list(stair).parts]))
    assert "drive tells its own fault" not in told
    assert any(line.startswith("The loop and the sequence are the controller's") for line in points_list(stair).parts[0].lines)


def test_every_interim_of_what_the_programmer_asks_is_there(stair):
    """Where a rule is our own choice or to be agreed, its question says what holds until it is answered."""
    questions = asked(stair)
    for one in texts("papers")["rules"]:
        if stair.has(one) and ("our own choice" in one["whose"] or "to be agreed" in one["whose"]):
            keys = [key for key in questions if f"enquiry list: {key}" in one["whose"]]
            assert keys or "this fan runs for smoke control" in one["whose"], one["asks"]
            assert [key for key in keys if questions[key].taken == NOTHING_TAKEN and questions[key].key != "feeder"] == []


def test_a_reading_that_is_not_lost_yet_has_an_end_in_sequence_alarms_and_enquiry(stair):
    """A cut wire on the contact of the controls' supply must not keep a lost reading from its fallback for ever."""
    told = rule(stair, "A reading while its transmitter starts")
    assert "no longer than the start-up time in all, from the sample at which it went outside" in told
    assert "at the longest" in ALWAYS
    supply = next(point for point in points_of(stair) if point.name == "controls' supply")
    assert "sensed where it feeds them" in supply.tells
    assert "which voltage does the contact controls' supply sense" in asked(stair)["transmitters' start-up"].asks


def test_presses_count_as_they_change_and_one_that_stays_is_told(stair):
    """A key left turned is no standing reset: a fallback would let go by itself and go to and fro."""
    assert "at the sample alone at which they change from no to yes" in rule(stair, "Transitions: change or state")
    questions = asked(stair)
    assert "counts as it changes from no to yes" in questions["resets"].taken
    assert "a press as it changes" in questions["waits and records"].taken
    stays = next(point for point in points_of(stair) if point.name == "press or key that stays")
    assert "it counted once" in stays.tells
    assert stays.name in {row["Alarm on"] for row in rows_of(alarm_list(stair).parts[0].tables[0])}


def test_every_proof_of_run_has_an_alarm_for_standing_without_run_and_its_lamp_is_dark_by_it(stair):
    points = {point.name: point for point in points_of(stair)}
    proofs = [name for name in points if name.endswith("run proof")]
    shaft = stair.has({"only": "second shaft"})
    assert len(proofs) == 1 + stair.has({"only": "second fan"}) + shaft
    alarms = {row["Alarm on"]: row for row in rows_of(alarm_list(stair).parts[0].tables[0])}
    without = [name for name in alarms if name.endswith("run proof without run")]
    assert len(without) == len(proofs)
    assert all("MANUAL" in alarms[name]["Live when"] for name in without)
    lamps = [point for name, point in points.items() if name.startswith("lamp: ") and name.endswith("runs")]
    assert len(lamps) == len(proofs)
    assert all("dark while" in lamp.tells and "run proof without run stands" in lamp.tells for lamp in lamps)
    assert "while run proof without run stands" in tables_of(stair)["crosses"].note
    assert "one that stood without run before" in rule(stair, "What a self-test leaves behind")


def test_a_contact_takes_a_command_off_in_a_change_over_alone_and_every_paper_says_so(stair):
    two = stair.has({"only": "second fan"})
    said = [next(line for line in paper(stair).parts[0].lines if "takes a command off" in line) for paper in (sequence, matrix)]
    assert [BUT in line for line in said] == [two, two]
    assert ("but in a change-over" in asked(stair)["line faults"].taken) is two


def test_a_fan_against_which_a_contact_alone_speaks_is_tried_a_last_time(every_stair):
    told = rule(every_stair["two fans"], "The other fan is to be asked")
    assert "Last try, once in a smoke control, played by nobody" in told
    assert "Not proved by then, the fan of before is asked again and keeps its command." in told


def test_a_cut_line_counts_neither_as_clear_nor_as_reset(stair):
    assert "counts neither as clear nor as reset" in rule(stair, "A line of panel, fire alarm or intake")
    assert "counts neither as clear nor as reset" in asked(stair)["line faults"].taken
    assert "its line sound" in rule(stair, "Smoke at the intake, and its reset")
    assert "its line is sound" in rule(stair, "Agreement of the fire service")
    assert "cut" not in rule(stair, "The controller's own start")


def test_the_reset_of_every_fallback_asks_for_sound_signals_and_no_more(stair):
    """At the fallback speed, or with the fan off, readings may stand past a limit: a reset that waits for them is never taken."""
    told = rule(stair, "Reset of a fallback")
    assert told.count("Taken while no reading is lost, whatever latched it") == 1
    backs = {when for state in states_of(stair) if state.key in ("lost", "by alarm", "differ") for when, to in state.ends if to == "smoke"}
    assert backs
    assert all("no reading lost" in when and "reset" in when for when in backs)


def test_the_drive_knows_by_a_wire_when_its_trips_give_way(stair):
    outputs = [point for point in points_of(stair) if point.name.endswith("smoke control or ON")]
    assert len(outputs) == 1 + stair.has({"only": "second fan"})
    assert {(point.kind, point.fails.partition(":")[0]) for point in outputs} == {("binary output", "off")}
    words = asked(stair)["drive trip"].asks
    assert all(part in words for part in ("by which signal does it know", "who counts", "what counts", "what clears the count"))


def test_a_change_over_goes_by_a_loss_in_this_run_and_never_by_an_old_latch(every_stair):
    """A fan that runs, proved, out of a self-test is not taken out of charge at a fire alarm by what was latched before."""
    stair = every_stair["two fans"]
    ways = [when for state in states_of(stair) for when, to in state.ends if to.startswith("change")]
    assert ways
    assert all("the fan in charge lost in this run, the other one to be asked" in when for when in ways)
    assert "Lost in this run is a fan" in rule(stair, "A fan that is lost")


def test_no_contact_that_stands_holds_a_fan_at_its_start_speed_for_good(stair):
    held = rule(stair, "A contact that stands")
    assert "no longer than the wait of the proof at a start" in held
    assert "the loop takes over without proof, or the fallback speed" in held
    (line,) = (one for one in texts("enquiry")["questions"] if one["key"] == "line faults" and stair.has(one))
    assert "for the wait of the proof at a start, no longer" in line["taken"]


def test_the_alarm_on_the_speed_of_two_fans_is_that_of_the_one_in_charge(stair):
    limits = [alarm.limit for alarm, _ in quoted_alarms(stair) if alarm.on == "fan speed"]
    assert [limit.endswith(IN_CHARGE) for limit in limits] == [stair.has({"only": "second fan"})] * len(limits)


def test_a_check_that_the_enquiry_list_asks_too_is_settled_by_its_answer(stair):
    keys = set(ASKED_BY.values())
    assert keys <= {one["key"] for one in texts("enquiry")["questions"]}
    (checks,) = (table for part in schedules(stair).parts for table in part.tables if table.key == "drive_checks")
    assert set(ASKED_BY) <= {row[0] for row in checks.rows}
