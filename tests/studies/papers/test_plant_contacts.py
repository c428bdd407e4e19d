"""What a plant's contacts tell and a restart leaves, alike in all papers: MANUAL, latches, resets, proof, calls, readings too far apart."""

from functools import cache

import pytest

from helpers.model.answers import AnswersFile
from helpers.model.plants.kinds import read_any_site
from helpers.model.site.file import demo_sites
from helpers.record.papers.folder import Folder
from helpers.record.plants.design import PlantDesign
from helpers.record.plants.papers import PlantQuoted

DUCT, LAB, GARAGE = "Mill Street Offices", "Quayside Lab", "Orchard Garage"
PLANTS = (DUCT, LAB, GARAGE)


@cache
def design_of(name):
    return PlantDesign(read_any_site(demo_sites(None)[name]))


def papers(name, answers=None):
    return {paper.key: paper for paper in Folder.of(design_of(name), answers).papers}


def rows_of(paper):
    """{first cell: row} of a paper's first table."""
    return {row[0]: row for row in paper.parts[0].tables[0].rows}


def until(value):
    """What holds until somebody has answered, of a line that is to be agreed."""
    return value.partition("until then: ")[2]


def state(made, title):
    return next(part for part in made["sequence"].parts if part.title == title)


@pytest.mark.parametrize("name", PLANTS)
def test_a_manual_contact_that_tells_wrongly_takes_no_command_away(name):
    (step,) = (step for step in state(papers(name), "MANUAL at the drive").steps if step.startswith("The switch acts"))
    assert "Both commands stand all the same as the rest of the list has them" in step
    assert ("50 Hz at a gas alarm" in step) == (name == GARAGE)


def test_readings_too_far_apart_are_one_thing_in_every_paper_of_a_garage():
    made = papers(GARAGE)
    rule = PlantQuoted(design_of(GARAGE)).setting("failure", "two gas readings too far apart").value
    assert rule.startswith("counts as a reading lost")
    assert rows_of(made["alarms"])["difference of any two readings"][4] == rule
    latches = [row for name, row in rows_of(made["points"]).items() if name.endswith("too far from another")]
    assert len(latches) == len(design_of(GARAGE).site.transmitters)
    assert all(rule in row[1] for row in latches)
    assert rows_of(made["alarms"])["difference of any two readings"][6].startswith("by the reset of a lost reading")
    assert any("two are too far apart" in row[1] and row[2] == "A reading lost" for row in made["sequence"].parts[0].tables[1].rows)
    lost = state(made, "A reading lost")
    assert "two readings too far apart" in lost.lines[0]
    assert any(rule in step for step in lost.steps)
    (table,) = (table for part in made["sequence"].parts for table in part.tables if table.key == "lost")
    stuck = [row[0] for row in table.rows if "sticks" in row[0]]
    assert len(stuck) == 3
    assert all("until the alarm on the difference makes it a lost one" in row for row in stuck)  # at least in a case that asks
    assert not any("begins no fallback" in repr(paper) for paper in made.values())
    for name in (DUCT, LAB):
        assert not any("too far" in point for point in rows_of(papers(name)["points"]))


def test_a_duct_is_held_off_after_mains_isolator_and_trip_until_its_own_reset_and_no_longer_once_that_is_answered():
    made = papers(DUCT)
    points = rows_of(made["points"])
    assert points["fan held off"][6] == "last value, kept without power"
    assert "reset after mains or isolator" in points
    assert rows_of(made["alarms"])["fan held off"][4].startswith("the run command is off")
    held = state(made, "Held off until somebody has looked")
    assert "by the point reset after mains or isolator" in " ".join(held.steps)
    assert "In MANUAL the drive does not start by itself either, once power or run permit is back" in " ".join(held.steps)
    trip = " ".join(state(made, "Drive tripped, no power, isolator open").steps)
    assert "Run command: off" in trip
    ranks = made["sequence"].parts[0].steps
    manual, off, fire = (next(at for at, step in enumerate(ranks) if step.startswith(words))
                         for words in ("the switch at", "held off", "the fire alarm"))  # fmt: skip
    assert manual < off < fire
    given = [{"question": "mains", "answer": "it starts by itself", "by": "engineer", "date": "2026-05-04"}]
    file = {"kind": "answers", "name": "May", "invented": True, "site": design_of(DUCT).site.name, "answers": given}
    answered = papers(DUCT, AnswersFile.model_validate(file))
    assert "fan held off" not in rows_of(answered["points"])
    assert "it begins as after a standstill" in " ".join(state(answered, "Drive tripped, no power, isolator open").steps)
    assert "fan held off" not in rows_of(papers(GARAGE)["points"])


@pytest.mark.parametrize("name", PLANTS)
def test_every_reset_acts_once_and_every_latch_is_a_point_that_is_kept(name):
    made, rule = papers(name), PlantQuoted(design_of(name)).setting("failure", "a reset").value
    points = rows_of(made["points"])
    resets = [row for name, row in points.items() if name.startswith("reset ")]
    assert len(resets) >= 1
    assert all(rule in row[1] for row in resets)
    latches = [row for row in points.values() if row[1].startswith("latched")]
    assert len(latches) >= len(design_of(name).site.transmitters)
    assert all("kept without power" in row[6] or "gas alarm" in row[0] for row in latches)
    asked = {row[1] for part in made["enquiry"].parts for table in part.tables for row in table.rows}
    assert "own start" in asked
    assert "every latch is kept" in PlantQuoted(design_of(name)).setting("failure", "what is kept without power").value


def test_a_reading_lost_is_reset_before_the_gas_alarm_and_both_papers_say_so():
    made = papers(GARAGE)
    assert "none is latched as lost" in rows_of(made["points"])["reset of a gas alarm"][1]
    assert "that of the lost reading first" in " ".join(state(made, "Gas alarm").steps)
    assert "none latched as lost" in rows_of(made["alarms"])["CO-1"][6]


@pytest.mark.parametrize("name", PLANTS)
def test_the_proof_of_run_waits_a_whole_ramp_and_stops_no_fan(name):
    made, fan = papers(name), design_of(name).site.fan
    row = rows_of(made["alarms"])["fan run proof"]
    assert row[2].startswith(f"{fan.ramp_s:g} s, one whole ramp up")
    assert row[4] == "alarm only: it stops no fan"
    assert f"{0.8 * fan.lowest_speed_hz:g} Hz, or more" in row[7 if "Hz, or more" in row[7] else 8]
    assert rows_of(made["points"])["fan run proof"][8] == row[2]


def test_a_call_goes_before_the_least_stand_of_a_stop():
    made = papers(GARAGE)
    steps = " ".join(state(made, "Stopped for low demand").steps)
    assert "but for a call and for what outranks the stop" in steps
    assert "in the least stop too" in steps


@pytest.mark.parametrize("name", PLANTS)
def test_a_fire_alarm_outlasts_its_own_line_in_every_paper(name):
    made, rule = papers(name), PlantQuoted(design_of(name)).setting("fan", "the fire alarm's line open or shorted").value
    rule = until(rule)
    assert "ends none that stands" in rule
    fire = state(made, "Fire alarm")
    assert rule in " ".join(fire.steps)
    assert rule in rows_of(made["alarms"])["fire alarm's line"][4]
    assert any(row[0] == "Fire alarm" and "its line healthy" in row[1] for row in made["sequence"].parts[0].tables[1].rows)
    assert rows_of(made["points"])["fire alarm stands"][6] == "last value, kept without power"
    kept = PlantQuoted(design_of(name)).setting("failure", "what is kept without power").value
    assert ("of fire and gas alarms" if name == GARAGE else "of a fire alarm") in kept


@pytest.mark.parametrize("name", PLANTS)
def test_both_signals_of_the_drive_have_a_live_zero_at_standstill_and_one_wording(name):
    made, quoted, fan = papers(name), PlantQuoted(design_of(name)), design_of(name).site.fan
    command, back = (quoted.setting("fan", f"signal of the {what}").value for what in ("speed command", "fan's speed"))
    command, back = until(command), until(back)
    ends = f"4-20 mA: 0 Hz, standstill, at 4 mA, {fan.highest_speed_hz:g} Hz at 20 mA"
    assert ends in command
    assert ends in back
    points = rows_of(made["points"])
    assert command in points["speed command"][3]
    assert back in points["fan speed"][3]
    drive = [row for part in made["schedules"].parts for table in part.tables if table.key == "drive" for row in table.rows]
    assert {command, back} <= {until(row[1]) for row in drive}
    assert command in " ".join(state(made, "Run, the loop holds its reading").steps)
    assert "drive signals" in {row[1] for part in made["enquiry"].parts for table in part.tables for row in table.rows}


def test_a_controller_that_starts_anew_holds_a_duct_off_in_every_state():
    made = papers(DUCT)
    held = state(made, "Held off until somebody has looked")
    assert "the controller's own start" in held.lines[0]
    assert "Every start of the controller's own latches it" in " ".join(held.steps)
    assert "the controller's own start" in rows_of(made["points"])["fan held off"][1]
    assert "After the controller's own start the fan is held off" in " ".join(state(made, "Off").steps)
    for name in (LAB, GARAGE):
        assert "the fan is held off" not in " ".join(state(papers(name), "Off").steps)


def test_trouble_of_the_ducts_smoke_detector_stops_the_fan_in_state_rank_and_alarm():
    made = papers(DUCT)
    smoke = state(made, "Smoke in the duct")
    assert "its trouble" in smoke.lines[0]
    assert "its trouble contact lies in the run permit, too" in " ".join(smoke.steps)
    assert any("trouble of its detector" in rank for rank in made["sequence"].parts[0].steps)
    assert "the trouble contact lies in the run permit, too" in rows_of(made["alarms"])["duct smoke detector's trouble"][4]


@pytest.mark.parametrize("name", [LAB, GARAGE])
def test_a_false_contact_takes_the_loop_from_no_fan_that_is_proved_to_turn(name):
    trip = " ".join(state(papers(name), "Drive tripped, no power, isolator open").steps)
    assert "else the loop goes on, as long as the proof of run stands" in trip
    assert "has no number, the lowest speed" in trip


@pytest.mark.parametrize("name", PLANTS)
def test_a_fan_that_cannot_run_keeps_the_commands_that_its_first_step_has(name):
    """A wire of the isolator that is cut stops no fan in gas: no general sentence of standing takes the run command off."""
    made = papers(name)
    trip = state(made, "Drive tripped, no power, isolator open")
    assert "run and speed command as the first step of this state has them" in " ".join(trip.lines)
    assert "un command" in trip.steps[0]
    assert "where the fan cannot run both commands are as that state has them" in " ".join(made["sequence"].parts[0].lines)


@pytest.mark.parametrize("name", PLANTS)
def test_in_manual_it_is_the_drive_that_does_not_listen_and_the_loop_is_not_out(name):
    assert "the drive does not listen to the loop" in rows_of(papers(name)["points"])["drive in manual"][1]


def test_a_garages_fan_that_cannot_run_is_sent_out_as_the_owners_page_calls_at_once():
    made = papers(GARAGE)
    (sent,) = (row for name, row in rows_of(made["points"]).items() if name.endswith("sent out"))
    assert all(cause in sent[1] for cause in ("drive tripped", "isolator open", "mains lost", "no proof of run"))
    troubles = "the drive in MANUAL", "a drive fault", "the fire alarm's line", "a reset that is stuck", "one too far from another"
    assert [trouble for trouble in troubles if trouble not in sent[1]] == []
    signals = [row for part in made["owner"].parts for table in part.tables for row in table.rows if row[0].startswith("drive tripped")]
    assert ["call at once" in row[2] for row in signals] == [True]


@pytest.mark.parametrize("name", PLANTS)
def test_a_reset_that_sticks_is_an_alarm_of_every_reset(name):
    made = papers(name)
    resets = [point for point in rows_of(made["points"]) if point.startswith("reset ")]
    stuck = PlantQuoted(design_of(name)).setting("failure", "a reset is stuck").value
    assert {rows_of(made["alarms"])[point][1] for point in resets} == {stuck}


@pytest.mark.parametrize("name", PLANTS)
def test_a_doubted_reading_is_left_out_by_a_point_where_there_is_a_fallback_and_by_manual_where_there_is_none(name):
    made, quoted = papers(name), PlantQuoted(design_of(name))
    falls = quoted.has({"only": "a way of falling back"})
    by_hand = [point for point in rows_of(made["points"]) if point.endswith("left out by somebody")]
    assert len(by_hand) == falls * len(design_of(name).site.transmitters)
    lost = " ".join(state(made, "A reading lost").steps)
    assert ("leaves it out, at the display" in lost) == falls
    assert ("takes the loop out by MANUAL" in lost) == (not falls)


@pytest.mark.parametrize("name", PLANTS)
def test_the_share_of_a_filter_in_one_sample_is_that_of_the_model(name):
    site, quoted = design_of(name).site, PlantQuoted(design_of(name))
    for tap in site.transmitters:
        share = float(quoted.setting(tap.name, "filter, each sample").value.rpartition("= ")[2])
        assert share == pytest.approx(1 - 2.718281828 ** (-site.control.sample_s / tap.filter_s), abs=6e-4)
    assert str(share) in " ".join(state(papers(name), "Run, the loop holds its reading").steps)


@pytest.mark.parametrize("name", PLANTS)
def test_back_from_manual_and_how_a_fan_stops_are_one_rule_in_state_schedule_and_tuning(name):
    made, quoted = papers(name), PlantQuoted(design_of(name))
    on = quoted.setting("loop", "output to go on from").value
    assert on in " ".join(state(made, "MANUAL at the drive").steps)
    assert on in {row[1] for row in made["tuning"].parts[0].tables[0].rows}
    stops = until(quoted.setting("fan", "how the fan stops").value)
    assert ("run permit" in stops) == (name == DUCT)
    assert any(stops in line for line in made["sequence"].parts[0].lines)
    assert "not live here" in " ".join(state(made, "MANUAL at the drive").steps)


def test_nobody_signs_for_a_line_of_a_state_that_is_refused():
    made = papers(GARAGE)
    (table,) = (table for part in made["sequence"].parts for table in part.tables if table.key == "checks")
    under = {row[0] for row in table.rows}
    assert "Run, the loop holds its reading" in under
    assert "Stopped for low demand" not in under


def test_a_gas_alarm_is_reset_by_its_own_point_alone_in_every_row_and_the_point_seen_takes_none_away():
    made = papers(GARAGE)
    rows = [row for row in made["alarms"].parts[0].tables[0].rows if row[5] == "alarm" and row[0] != "fire alarm"]
    assert len(rows) == 2 * len(design_of(GARAGE).site.transmitters)  # its limit, and the end of its range
    for row in rows:
        assert until(row[6]).startswith("latched, and reset at the point reset of a gas alarm alone")
        assert "taken away at the point alarm seen" not in row[6]
    assert "resets neither a lost reading nor a gas alarm" in rows_of(made["points"])["alarm seen"][1]


@pytest.mark.parametrize("name", PLANTS)
def test_each_two_of_three_readings_have_a_timer_of_their_own(name):
    quoted, several = PlantQuoted(design_of(name)), len(design_of(name).site.transmitters) > 2
    said = "each two of them have a timer of their own"
    assert (said in quoted.setting("failure", "alarm on difference of any two readings").why) == several
    if name == GARAGE:
        assert (said in quoted.setting("failure", "two gas readings too far apart").value) == several


@pytest.mark.parametrize("name", PLANTS)
def test_what_a_drive_does_without_its_command_is_one_entry_for_each_kind_and_a_point_tells_it(name):
    made, quoted = papers(name), PlantQuoted(design_of(name))
    does = "runs at its highest speed while its run command stands" if name == GARAGE else "takes it as off, stops the fan by the ramp"
    assert f"counts it as cut, {does}" in until(quoted.setting("fan", "signal of the speed command").value)
    asked = next(row for part in made["enquiry"].parts for table in part.tables for row in table.rows if row[1] == "drive signals")
    assert ("runs on at its highest speed" if name == GARAGE else "stops the fan") in repr(asked)
    assert "a speed command that is cut among them" in rows_of(made["points"])["drive fault"][1]
    assert rows_of(made["alarms"])["drive fault"][1] == "fault"


def test_a_broken_run_permit_is_told_by_a_point_of_its_own_stops_a_duct_and_holds_it_off():
    made = papers(DUCT)
    point, alarm = rows_of(made["points"])["run permit at the drive"], rows_of(made["alarms"])["run permit at the drive"]
    assert point[2] == "binary input"
    assert alarm[1] == "gone"
    gone = state(made, "Run permit gone, and no contact says why")
    assert "Run command while it lasts: off, and the fan is held off after it" in " ".join(gone.steps)
    ranks = made["sequence"].parts[0].steps
    smoke, permit, manual = (next(at for at, step in enumerate(ranks) if step.startswith(words))
                             for words in ("smoke in the duct", "the run permit gone", "the switch at"))  # fmt: skip
    assert smoke < permit < manual
    for name in (LAB, GARAGE):
        assert "run permit at the drive" not in rows_of(papers(name)["points"])


@pytest.mark.parametrize("name", PLANTS)
def test_a_proof_that_is_worked_out_is_a_value_and_one_by_a_wire_an_input(name):
    row = rows_of(papers(name)["points"])["fan run proof"]
    assert row[2] == "binary value"
    assert "no wire of its own" in row[1]
    given = [{"question": "proof of run", "answer": "by a flow switch", "by": "engineer", "date": "2026-05-04"}]
    file = {"kind": "answers", "name": "May", "invented": True, "site": design_of(name).site.name, "answers": given}
    wired = papers(name, AnswersFile.model_validate(file))
    assert rows_of(wired["points"])["fan run proof"][2] == "binary input"
    assert rows_of(wired["alarms"])["fan run proof"][1] == "stopped while run is commanded"
    assert "no program is loaded" in " ".join(papers(name)["sequence"].parts[0].lines)
