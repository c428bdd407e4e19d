"""A day at a stair whose design fails: what is NOT RUN, the ceiling of speed, the fire service's panel at ON from every state; sheets
that were filled in before the steps had these names."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from helpers.fault_bench.checks import cautions
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.printed import procedure_page
from helpers.studies.commissioning.crew.blanks import every_blank
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.day import read_day
from helpers.studies.commissioning.crew.example import SLIPS, example_books
from helpers.studies.commissioning.crew.given_back import proof_said
from helpers.studies.commissioning.crew.procedure import goes_out_said, procedure, stopped_by
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.crew.rounds import AUTOMATIC, MANUAL, crew_rounds
from helpers.studies.commissioning.hand_back import (
    ALARM_IN_SHORT,
    ALARM_ORDER,
    ANSWERED,
    CEILING_BACK,
    CLOSING,
    DECIDED,
    HELD_ALARM,
    IN_AUTOMATIC,
    LAST,
    LEFT,
    NOT_LEFT,
    REAL_ALARM,
    alarm_again,
    alarm_box,
    hours_said,
)
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.frame import AS_FOUND, CAPPED, LOCKED, NONE_LAID, WORKS, against_step
from helpers.studies.commissioning.steps.not_run import BY_COMMAND, BY_LOOP, DECIDERS, FAST, NOT_RUN, WHY_ABOVE
from helpers.studies.commissioning.steps.plant import FORCE, OVERRIDE
from helpers.studies.duty.permissible_speed import Ceiling, ceiling_of
from helpers.units.said import written_out
from tests.studies.test_crew import MAY
from tests.studies.test_crew_limits import readied

FIRST = "the set point and a fan that is enough"
NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
EARLIER = Path(__file__).parent / "earlier_days"


def rounds_of(name):
    return crew_rounds(read_site(demo_sites()[name]), day=MAY)


@pytest.fixture(scope="module")
def larkfield():
    return procedure(rounds_of("Larkfield House"), first=FIRST)


@pytest.fixture(scope="module")
def tannery():
    return procedure(rounds_of("Tannery Row"), first="")


@pytest.fixture(scope="module")
def brought(tmp_path_factory):
    site = read_site(demo_sites()["Larkfield House"])
    paths, _, _ = example_books(site, tmp_path_factory.mktemp("not_run"), first=FIRST)
    return read_day(site, paths, first=FIRST)


def test_what_needs_the_loop_is_not_run_and_fan_off_and_steady_speeds_are(larkfield):
    run = [step.title for step in larkfield.run]
    assert [title for title in run if "steady speed" in title] == [f"All doors shut, steady speed {number}" for number in (1, 2, 3)]
    assert {"Fan off, all doors shut", "Forces with the fan off", "Forces with the fan on", "Wires, tubes, covers, settings"} < set(run)
    assert not any(step.leaves == AUTOMATIC for step in larkfield.run)  # nothing that is run leaves the fan to its loop
    for step in larkfield.steps:
        if step.against:
            assert step.do.startswith(f"{NOT_RUN}: {WHY_ABOVE}. So decided, ")
            assert DECIDERS not in step.do  # said once, above the steps
            assert "the fan running" not in step.do or BY_COMMAND not in step.do  # what is locked off runs in no instruction
            assert NOT_LEFT in step.left_said
            assert any(measure in step.do for measure in (BY_LOOP, BY_COMMAND, FAST))
            assert step.leaves != AUTOMATIC
    forces = next(step for step in larkfield.steps if step.title == "Forces with the fan on")
    assert re.match(r"In MANUAL at [\d.]+ Hz \(page 18's where lower: ____ Hz\), steady speed 3\. ", written_out(forces.do))
    steady = [step for step in larkfield.run if "steady speed" in step.title]
    assert all("(page 18's where lower: ____ Hz), no higher" in step.do for step in steady)  # a speed of the file as drawn alone is none
    back = next(step.do for step in larkfield.run if step.title == "Wires, tubes, covers, settings")
    assert "The day's ceiling, 24.2 Hz (page 18's where lower: ____ Hz): " in written_out(back)
    assert forces.leaves == MANUAL
    assert larkfield.steps[-1].title == "Given back as decided in writing"
    assert larkfield.minutes == pytest.approx(sum(step.minutes for step in larkfield.steps if not step.against))
    assert any(
        line.endswith(f"are {NOT_RUN} while the design record still lacks {FIRST}: NOT YET, never PASS.") for line in larkfield.crew_lines()
    )
    assert sum(DECIDERS in line for line in larkfield.crew_lines()) == 1


def test_a_real_alarm_has_one_answer_and_it_stands_wherever_it_is_told(larkfield, tannery):
    for steps in (larkfield, tannery):
        told = steps.steps[0]
        assert REAL_ALARM in told.caution
        assert "written decision" in told.do
        assert "fire watch" in told.do
        away = sum(step.minutes for step in steps.run if step.leaves not in (AUTOMATIC, AS_FOUND, CAPPED))
        assert f"not in AUTOMATIC for {hours_said(away)}" in told.do
        for part in dict.fromkeys(step.part for step in steps.steps):  # who watches, the word, the order: once in full, short at the rest
            of_it = [step for step in steps.steps if step.part == part and (step.loop or step.leaves not in (AUTOMATIC, AS_FOUND, CAPPED))]
            full = [step for step in of_it if ALARM_ORDER in step.caution]
            assert len(full) == bool(of_it), part
            assert not any(step.against for step in full) or all(step.against for step in of_it)  # where a crew works it stands in full
            assert all(alarm_again(full[0].number) in step.caution for step in of_it if step not in full)
            assert not any(step.loop for step in of_it) or HELD_ALARM in full[0].caution
        for step in steps.steps:
            assert step.loop or "in alarm and held" not in step.do, step.label
    at = [
        ALARM_ORDER.index(word) for word in ("REAL ALARM", "out of the swing", "takes it off", "lets it go", "puts back", "everybody out")
    ]
    assert at[1:5] == sorted(at[1:5])  # nobody lets a door go into somebody's swing
    for number in ("10_fault_bench", "11_commissioning_checks", "17_test_day", "18_building_as_found"):
        assert f"\n\n{alarm_box()}" in "".join(
            "".join(cell["source"]) for cell in json.loads((NOTEBOOKS / f"{number}.ipynb").read_text(encoding="utf-8"))["cells"]
        ), number
    for steps in (larkfield, tannery):  # no second wording beside it
        for step in steps.steps:
            told = step.caution
            for known in (REAL_ALARM, ALARM_ORDER, HELD_ALARM, *(alarm_again(number) for number in range(1, 60))):
                told = told.replace(known, "")
            assert "real alarm" not in told.replace("of what is done in a real alarm the lock off is the next step", ""), step.label
    assert ALARM_IN_SHORT[1:] in cautions()["stair"]


def test_how_the_fan_is_left_is_one_sentence_on_every_page():
    for number in ("09b_tested_in_may", "10_fault_bench", "11_commissioning_checks", "12b_record_step_by_step", "17_test_day",
                   "18_building_as_found", "19_trend_files"):  # fmt: skip
        assert f"{LAST}." in page_words(number), number
    assert f"{LAST}." in cautions()["stair"]


def test_a_page_that_has_the_speed_raised_by_hand_names_how_far_and_in_which_steps():
    by_hand = ceiling_of(read_site(demo_sites()["Larkfield House"])).by_hand_said
    assert f"in steps of one hertz, to {by_hand} (Larkfield House as drawn; page 18's where lower)" in page_words("12b_record_step_by_step")
    low = by_hand.partition(",")[0]
    assert f"never above the safe speed at the head of this page (Larkfield House {low}, page 18's where lower)" in page_words(
        "03_transmitter_range"
    )


def page_words(number):
    """What is written on a page, in one line."""
    page = json.loads((NOTEBOOKS / f"{number}.ipynb").read_text(encoding="utf-8"))
    words = " ".join("".join(cell["source"]) for cell in page["cells"] if cell["cell_type"] == "markdown")
    return " ".join(words.replace("**", "").split())


def test_a_step_that_is_not_run_does_not_contradict_itself_and_the_plan_says_what_all_of_it_takes(larkfield, tannery):
    locked = [step for step in larkfield.steps if BY_COMMAND in step.do]
    assert len(locked) > 5
    for step in locked:  # a fan that is locked off neither starts nor stops
        assert "fan starts" not in step.expected
        assert "switch is left at OFF" in step.left_said
        assert "After this step" not in step.left_said
        assert step.minutes > 10.0  # lock on, test, lock off
        assert WORKS in step.who  # who watches the panel works nothing
    wires = [step for step in larkfield.steps if step.part == "wires off"]
    assert wires
    assert all(step.against for step in wires if step.limit == NONE_LAID)
    (told,) = [line for line in larkfield.crew_lines() if line.startswith(f"With all that is {NOT_RUN}")]
    assert "3 door holders" in told
    assert hours_said(sum(step.minutes for step in larkfield.steps)) in told
    assert NOT_RUN in goes_out_said(larkfield)
    assert NOT_RUN not in goes_out_said(tannery)
    page = procedure_page(larkfield)
    last = page.index(f">{larkfield.run[-1].label}<")
    assert last < page.index(f"{NOT_RUN}, by a written decision alone. ")  # a crew has its own steps on their own
    assert page.index(f"{NOT_RUN}: {WHY_ABOVE}") > last


def test_the_days_ceiling_is_taken_out_while_the_drive_has_power_and_has_a_line_of_its_own(larkfield):
    back = next(step for step in larkfield.steps if step.title == "Wires, tubes, covers, settings")
    assert CEILING_BACK in back.judged
    assert back.do.index("The day's ceiling") < back.do.index("isolates, locks out")
    assert back.do.index("covers on, lock off") < back.do.index("power on")
    assert CEILING_BACK in every_blank_line(larkfield)


def every_blank_line(steps):
    return {line for table, line, _ in every_blank(steps) if table == "told"}


def test_a_hand_goes_into_the_blade_in_one_step_and_the_lock_comes_off_in_the_next(larkfield, tannery):
    for steps in (larkfield, tannery):
        words = [step.label for step in steps.steps if "lifts the blade full way" in step.do]
        (step,) = [step for step in steps.steps if step.label in words]
        assert step.leaves == LOCKED
        assert "licensed electrician" in step.who
        assert step.do.index("locks out and proves it dead") < step.do.index("lifts the blade full way")
        after = steps.steps[step.number]
        assert after.title == "Lock off after the blade"
        assert after.leaves == AS_FOUND
        assert after.do.index("Hands and tools out") < after.do.index("takes the lock off")
        runs = [other.number for other in steps.run if other.runs_fan]
        assert after.number < min(runs)  # nothing runs with a lock on, and none is put on again for the blade
        assert "blade seated and free" in steps.steps[-1].do
        assert "no lock on it" in steps.steps[-1].do


def test_at_which_pressure_a_blade_opens_is_not_run_where_no_speed_lifts_it_and_no_hand_helps(larkfield, tannery):
    for steps, barred in ((larkfield, True), (tannery, False)):
        (step,) = [step for step in steps.steps if step.title == "Relief damper opens and seats"]
        assert bool(step.against) == barred
        assert "no hand in it" in step.do
        assert "locks out" not in step.do
    assert "no higher than 31.4 Hz" in step.do


def test_a_step_that_stops_others_says_which_and_they_are_not_run(larkfield):
    (ceiling,) = [step for step in larkfield.steps if step.title == "Ceiling of speed, in the drive"]
    stopped = stopped_by(larkfield.steps, {ceiling.number: SEEN[1]})
    assert set(stopped) == {step.number for step in larkfield.steps if step.number > ceiling.number and step.runs_fan}
    assert stopped[next(step.number for step in larkfield.steps if step.title.endswith("steady speed 1"))] is ceiling
    assert larkfield.steps[-1].number not in stopped  # a stair is given back whatever happened
    assert f"are {NOT_RUN}" in ceiling.fails
    told = stopped_by(larkfield.steps, {1: SEEN[1]})
    assert {step.part for step in larkfield.steps if step.number not in told} == {"everybody told", "give back"}
    assert stopped_by(larkfield.steps, {ceiling.number: SEEN[0]}) == {}


def test_a_step_done_after_one_that_stops_it_is_no_pass_in_the_report(larkfield, tmp_path):
    (ceiling,) = [step for step in larkfield.steps if step.title == "Ceiling of speed, in the drive"]
    steady = next(step for step in larkfield.steps if step.title.endswith("steady speed 1"))
    filled = {("steps", step.number, "done"): SEEN[step is ceiling] for step in (ceiling, steady)}
    filled |= {("steps", step.number, "initials"): "AB" for step in (ceiling, steady)}
    write_book(larkfield, tmp_path / "day.xlsx", filled=filled)
    lines = {line.device: line for line in day_report(read_day(larkfield.rounds.site, [tmp_path / "day.xlsx"], first=FIRST)).lines}
    assert f"{NOT_RUN} while step {ceiling.number}" in lines[steady.label].words
    assert "done all the same" in lines[steady.label].words
    assert lines[steady.label].state == "open"


@pytest.mark.parametrize(
    ("text", "unproved", "decided", "state"),
    [
        ("yes, 60 Hz, 16:40, AB", (), False, "good"),
        ("yes, 60 Hz, 16:40, AB", ("stair door 3 (FAIL)",), False, "wrong"),
        ("yes, 60 Hz, 16:40, AB", ("stair door 3 (FAIL)",), True, "attention"),
        ("no, 24.2 Hz stays in, AB", ("stair door 3 (FAIL)",), False, "open"),
        ("no, 24.2 Hz stays in, AB", ("stair door 3 (FAIL)",), True, "attention"),
        ("no, 24.2 Hz stays in, AB", (), False, "wrong"),
        ("yes, 16:40, AB", (), False, "attention"),
    ],
)
def test_an_old_highest_speed_goes_back_over_no_fail_without_a_decision(text, unproved, decided, state):
    found, words = proof_said(CEILING_BACK, text, unproved, decided, "owner AB: 60 Hz till June" if decided else "")
    assert found == state
    assert all(one in words for one in unproved) or text.startswith("no")


def test_no_step_speaks_of_a_damper_that_a_building_does_not_have():
    steps = procedure(rounds_of("Northgate Tower"), first=FIRST)
    steady = [step for step in steps.steps if step.title.endswith(("speed 1", "speed 2", "speed 3"))]
    assert len(steady) == 3
    assert not [step.label for step in steady if "damper" in f"{step.do} {step.limit} {step.caution}"]


def test_where_the_record_is_sound_the_loop_is_run_as_ever(tannery):
    assert not [step.label for step in tannery.steps if step.against and step.limit != NONE_LAID]
    assert sum(step.leaves == AUTOMATIC for step in tannery.steps) > 10


@pytest.mark.parametrize("name", ["Larkfield House", "Tannery Row", "Northgate Tower"])
def test_no_step_that_is_run_goes_above_the_ceiling(name):
    steps = procedure(rounds_of(name), first="")
    ceiling = steps.rounds.ceiling
    assert ceiling == ceiling_of(steps.rounds.site)
    assert all(one.speed_hz <= ceiling.hz + 0.05 for one in steps.rounds.rounds if one.mode == MANUAL)
    assert not [step.label for step in steps.run if step.speed_hz is not None and step.speed_hz > ceiling.hz + 0.05]
    barred = [step for step in steps.steps if "above the day's ceiling" in step.against]
    assert bool(barred) == (name != "Tannery Row")
    (entered,) = (step for step in steps.steps if step.title == "Ceiling of speed, in the drive")
    assert "set back at the end only where nothing failed and nothing is left open" in entered.do
    assert entered.do.startswith("The lower of ")
    assert "page 18's: ____ Hz" in entered.do
    assert f"at most {ceiling.hz:.1f} Hz" in next(one.told for one in steps.rounds.sheet.plant if one.field == OVERRIDE)


def test_where_no_speed_is_borne_nothing_runs_the_fan_at_all(tannery):
    none = Ceiling(float("nan"), 50.0, False, True, "stair door 3")
    steady = next(step for step in tannery.steps if step.title.endswith("steady speed 1"))
    assert "the ceiling (none: stair door 3 is past" in against_step(steady, none, None).replace("the day's ceiling", "the ceiling")
    assert np.isnan(none.hz)
    assert none.lower


def test_the_panel_is_proved_at_on_from_every_state_and_at_off(tannery):
    override = [step for step in tannery.steps if step.part == "override"]
    at_on = [step for step in override if "at ON, " in step.title]
    assert [step.title.partition("at ON, ")[2] for step in at_on] == [
        "in smoke control", "nothing in alarm", "over smoke at the intake", "with a reading lost", "from MANUAL",
    ]  # fmt: skip
    for step in override:
        assert step.do.startswith(
            "Only where its speed is agreed in writing with the fire service, at most 31.4 Hz (page 18's where lower: ____ Hz): else "
            "NOT RUN"
        )
    for step in at_on:
        assert "Panel to ON" in step.do
        back = (step, override[override.index(step) + 1 : override.index(step) + 3])
        assert any("AUTO" in one.do for one in (back[0], *back[1]))  # of each the way back, in its own row or the next
    lost = next(step for step in at_on if step.title.endswith("reading lost"))
    assert lost.do.index("Panel to ON") < lost.do.index("opens one loop")  # what the loop does without it is not laid down
    off = [step for step in tannery.steps if step.title.startswith("Fire service's panel") and step.part == "alarms and panel"]
    assert [step.expected.partition(",")[0].partition(";")[0] for step in off] == [
        "the fan stops", "no alarm starts the fan", "the fan comes back"]  # fmt: skip
    words = " ".join(f"{step.title} {step.do} {step.expected}" for step in tannery.steps).casefold()
    assert "firefighter" not in words
    assert "override switch" not in words


def test_a_step_that_is_not_run_is_not_yet_and_the_day_still_tells_the_building(brought):
    report = day_report(brought)
    lines = {line.device: line for line in report.lines}
    for step in brought.procedure.steps:
        if step.against:
            assert lines[step.label].state == "open"
            assert lines[step.label].words.startswith(NOT_RUN)
    assert report.verdict[0] != "good"
    assert len(brought.test_day.rounds) == 3
    assert len(brought.not_used) + len(brought.filled.conflicts) == len(SLIPS)
    assert [lines[line].state for line in (IN_AUTOMATIC, ANSWERED, LEFT)] == ["open", "open", "attention"]  # left by a written decision
    assert sum(leaf.implied_pa is not None for leaf in brought.leaves) > 10  # force against gauge, at the steady speed


def test_a_tick_is_no_pass_where_a_figure_is_asked_and_what_is_out_of_order_or_too_fast_is_told(larkfield, tmp_path):
    done = {("steps", step.number, column): word for step in larkfield.steps
            for column, word in (("done", "as it must"), ("initials", "AB"))}  # fmt: skip
    numbers = {step.title: step.number for step in larkfield.steps}
    off, forces, ceiling = (
        numbers[title] for title in ("Fan off, all doors shut", "Forces with the fan off", "Ceiling of speed, in the drive")
    )
    times = {("steps", step.number, "time"): f"{'09:00' if step.number < off else '10:30'}" for step in larkfield.steps}
    times |= {("steps", off, "time"): "10:00", ("steps", forces, "time"): "09:30", ("steps", forces + 1, "time"): "10:30"}
    for speed, noted, state in ((60.0, "24.0 Hz", "wrong"), (24.0, "read back", "open"), (24.0, "24.0 Hz", "good")):
        filled = done | times | readied(larkfield) | {("fan", "speed", "steady speed 1"): speed, ("steps", ceiling, "note"): noted}
        path = write_book(larkfield, tmp_path / "ticked.xlsx", filled=filled)
        lines = {line.device: line for line in day_report(read_day(larkfield.rounds.site, [path], first=FIRST)).lines}
        by_number = {number: lines[larkfield.steps[number - 1].label] for number in (off, forces, forces + 1, ceiling)}
        assert by_number[ceiling].state == state
    assert by_number[off].state == "open"
    assert "NOT YET fan off" in by_number[off].words
    assert by_number[forces].state == "attention"
    assert "09:30 is before step" in by_number[forces].words
    assert "is before step" not in by_number[forces + 1].words


def test_what_is_read_in_a_round_that_is_not_run_or_above_the_ceiling_is_no_pass(larkfield, tmp_path):
    rounds = larkfield.rounds
    shut, fast = rounds.round("automatic, doors shut"), rounds.round("steady speed 3")
    filled = {("pressures", place, one.label): one.expected_pa[place] for one in (shut, fast) for place in rounds.read}
    filled |= {("fan", "speed", fast.label): 50.0}
    path = write_book(larkfield, tmp_path / "fast.xlsx", filled=filled)
    lines = day_report(read_day(rounds.site, [path], first=FIRST)).lines
    read = [line for line in lines if line.part in ("Rounds", "Doors") and line.measured]
    assert len(read) > 30
    assert not [line.device for line in read if line.state == "good"]
    told = next(line for line in read if line.device.endswith("in the rounds") and line.device.startswith("stair door"))
    assert f"{shut.label}: {NOT_RUN}, see its step: NOT YET at the best" in told.words
    assert "50.0 Hz, above the day's ceiling: NOT YET at the best" in told.words


def test_a_step_run_all_the_same_is_no_pass_and_needs_somebodys_decision(larkfield, tmp_path):
    site = larkfield.rounds.site
    done = {("steps", step.number, column): word for step in larkfield.steps
            for column, word in (("done", "as it must"), ("initials", "AB"))}  # fmt: skip
    told = {("told", line, "given"): "yes, 16:40, AB" for line in CLOSING}
    for decision, state in (("nothing", "wrong"), ("owner AB, 16:30: run at the ceiling", "attention")):
        path = write_book(larkfield, tmp_path / "all.xlsx", filled=done | told | {("told", DECIDED, "given"): decision})
        lines = {line.device: line for line in day_report(read_day(site, [path], first=FIRST)).lines}
        assert [lines[line].state for line in (IN_AUTOMATIC, LEFT)] == [state, state]
        barred = next(step for step in larkfield.steps if step.against)
        assert lines[barred.label].state == "open"
        assert "done all the same" in lines[barred.label].words


def test_what_is_clocked_in_a_step_that_is_not_run_is_no_pass(larkfield, tmp_path):
    barred = {name for step in larkfield.steps if step.against for name in step.judged}
    clocked = [one.field for one in larkfield.rounds.sheet.plant if one.field in barred and one.dimension == "time"]
    assert len(clocked) > 2
    write_book(larkfield, tmp_path / "filled.xlsx", filled={("clock", field, "read"): 10.0 for field in clocked})
    found = day_report(read_day(larkfield.rounds.site, [tmp_path / "filled.xlsx"], first=FIRST))
    for line in found.lines:
        if line.device in clocked:
            assert line.state == "open", line.device
            assert f"{NOT_RUN} while" in line.words


def test_books_filled_in_before_the_steps_had_these_names_are_read_as_they_were(larkfield):
    """Two books of the time when the panel was a switch, and nothing was NOT RUN."""
    paths = [EARLIER / name for name in ("lower_pair.xlsx", "upper_pair.xlsx")]
    found = read_day(larkfield.rounds.site, paths)
    assert len(found.not_used) + len(found.filled.conflicts) == len(SLIPS)
    assert len(found.test_day.rounds) == 3
    numbers = {step.title: step.number for step in found.procedure.steps}
    for title in ("Fire service's panel at OFF, an alarm held", "Fire service's panel at ON, in smoke control", "Mains off and back"):
        assert found.filled.value("steps", numbers[title], "initials") == "AB"
    assert found.filled.value("steps", numbers["Fire service's panel at ON, from MANUAL"], "initials") is None
    assert None not in (found.filled.value("clock", OVERRIDE, "read"), found.filled.value("clock", FORCE, "read"))
    assert found.filled.value("devices", "panel", "tag")
