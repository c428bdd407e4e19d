"""Papers of plants: what holds until something is agreed, gas past its range, a reading that sticks, which order goes first."""

from functools import cache

import numpy as np
import pytest

from helpers.model.answers import AnswersFile
from helpers.model.plants.kinds import read_any_site
from helpers.model.site.file import demo_sites
from helpers.record.papers.enquiry import NOTHING_TAKEN, questions_of
from helpers.record.papers.folder import Folder
from helpers.record.plants.design import PlantDesign
from helpers.record.plants.papers import PlantQuoted
from helpers.record.plants.stuck import spread_when_stuck, telling_limit, told_in

DUCT, LAB, GARAGE = "Mill Street Offices", "Quayside Lab", "Orchard Garage"


@cache
def design_of(name):
    return PlantDesign(read_any_site(demo_sites(None)[name]))


def papers(name, answers=None):
    return {paper.key: paper for paper in Folder.of(design_of(name), answers).papers}


def answered(name, *keys):
    """A file that answers some questions of a site's list."""
    given = [{"question": key, "answer": "as tried", "by": "authority", "date": "2026-05-04"} for key in keys]
    file = {"kind": "answers", "name": "May", "invented": True, "site": design_of(name).site.name, "answers": given}
    return AnswersFile.model_validate(file)


def of(paper, title):
    return next(part for part in paper.parts if part.title == title)


@pytest.mark.parametrize("name", [DUCT, LAB, GARAGE])
def test_every_open_question_says_what_holds_until_it_is_answered(name):
    asked = questions_of(PlantQuoted(design_of(name)))
    assert len({one.key for one in asked}) == len(asked)
    assert [one.key for one in asked if one.taken == NOTHING_TAKEN] == []
    waiting = [line for line in design_of(name).lines if line.value.startswith("to be agreed")]
    assert len(waiting) > 5
    assert [line.name for line in waiting if "until then: " not in line.value] == []


def test_gas_past_its_range_is_a_gas_alarm_and_no_lost_signal_alone():
    made = papers(GARAGE)
    rows = {row[0]: row for row in made["alarms"].parts[0].tables[0].rows}
    for tap in design_of(GARAGE).site.transmitters:
        row = rows[f"{tap.name}, signal above its range"]
        assert row[1:3] == ("above 21.00 mA", "at once")
        assert row[5] == "alarm"
        assert row[3:5] == rows[tap.name][3:5]  # live and doing as its gas alarm
    state = of(made["sequence"], "Gas alarm")
    assert "past its upper end: a gas alarm at once" in state.lines[0]
    assert any("while its time above the alarm is counted" in step for step in state.steps)  # the timer
    assert not any("signal above its range" in row[0] for row in papers(DUCT)["alarms"].parts[0].tables[0].rows)


def test_the_difference_alarm_of_a_garage_tells_each_reading_that_sticks_and_is_quiet_with_sound_ones():
    made = design_of(GARAGE)
    bench, limit = made.bench, made.strategy.alarms.limits[2]
    sound = np.ptp(bench.held.tubes_pa[bench.settled], axis=1).max() + 2 * bench.errors.max()
    for number in range(3):
        assert (spread_when_stuck(bench, number)[bench.settled] > limit).all()
        names, told, silent = told_in(made, number)
        assert names == ["the alarm on the difference"]
        assert (told, silent) == (["day", "rush"], ["night", "nobody asks"])
    assert sound < limit
    # with errors so large that nothing lies between, the wide limit stays and the paper has to say that nothing tells it
    assert telling_limit(bench, 16.0, 36.0) == 36.0


def test_a_garage_whose_difference_cannot_tell_a_stuck_reading_says_so():
    site = read_any_site(demo_sites(None)[GARAGE]).with_changes(transmitters=[{"accuracy_percent_span": 4.0}] * 3)
    made = PlantDesign(site)
    line = next(line for line in made.lines if line.name == "a reading that sticks at its low end")
    assert told_in(made, 0)[0] == []
    assert "nothing: test gas by the calendar alone" in line.value


@pytest.mark.parametrize("name", [DUCT, LAB, GARAGE])
def test_manual_goes_before_the_fire_alarm_since_no_wire_takes_it_past_the_switch(name):
    sequence = papers(name)["sequence"]
    ranks = sequence.parts[0].steps
    switch, fire = (
        next(place for place, step in enumerate(ranks) if step.startswith(words)) for words in ("the switch at", "the fire alarm")
    )
    assert switch < fire
    manual = " ".join(of(sequence, "MANUAL at the drive").steps)
    assert "the fire alarm included" in manual
    assert "whoever put it there stays at it" in manual


def test_nobody_parks_and_no_duct_is_run_until_the_answers_are_there():
    assert any("Nobody parks there" in one for one in papers(GARAGE)["sequence"].parts[0].cautions)
    assert any("Nobody parks there" in one for one in papers(GARAGE)["owner"].parts[0].cautions)
    for key in ("sequence", "alarms", "tuning", "owner"):
        assert any("Do not run this fan" in one for one in papers(DUCT)[key].parts[0].cautions)
    assert any("Nobody parks" in one for one in papers(GARAGE, answered(GARAGE, "gas alarm"))["sequence"].parts[0].cautions)
    both = papers(GARAGE, answered(GARAGE, "gas alarm", "dead controller"))
    assert not any("Nobody parks" in one for one in both["sequence"].parts[0].cautions)
    limit = papers(DUCT, answered(DUCT, "over-pressure"))
    held = [one for one in limit["sequence"].parts[0].cautions if "Do not run" in one]
    assert len(held) == 1  # the smoke detector of the duct is still asked for
    assert "smoke detector" in held[0]
    both = papers(DUCT, answered(DUCT, "over-pressure", "smoke in the duct"))
    assert not any("Do not run" in one for one in both["sequence"].parts[0].cautions)


def test_no_way_of_running_a_garage_past_its_most_is_without_a_word():
    for table in (table for part in papers(GARAGE)["sequence"].parts for table in part.tables if table.key in ("rushes", "stop rushes")):
        past = [
            (row, state) for row, state in zip(table.rows, table.states, strict=True) if float(row[2].split()[0]) > float(row[3].split()[0])
        ]
        assert past
        assert {state for _, state in past} <= {"attention", "wrong"}
    lost = next(table for part in papers(GARAGE)["sequence"].parts for table in part.tables if table.key == "lost")
    assert {state for row, state in zip(lost.rows, lost.states, strict=True) if " where " in row[-1]} == {"attention"}


@pytest.mark.parametrize("name", [DUCT, GARAGE])
def test_what_is_check_in_schedules_and_tuning_has_a_line_to_sign(name):
    for key in ("schedules", "tuning"):
        paper = papers(name)[key]
        tables = [table for part in paper.parts for table in part.tables if table.states]
        marked = [str(row[0]) for table in tables for row, state in zip(table.rows, table.states, strict=True) if state == "attention"]
        signed = [row[1] for part in paper.parts for table in part.tables if table.key == "checks" for row in table.rows]
        assert set(marked) == set(signed)


def test_smoke_in_a_supply_duct_and_its_dampers_are_asked_stop_the_fan_and_are_points():
    made = papers(DUCT)
    asked = {row[1]: (part.title, row) for part in made["enquiry"].parts for table in part.tables for row in table.rows}
    for key in ("smoke in the duct", "dampers in the duct"):
        whom, row = asked[key]
        assert whom == "To the mechanical engineer"
        assert "run permit" in row[3]  # what holds until it is answered
    rows = {row[0]: row for row in made["points"].parts[0].tables[0].rows}
    assert "to be agreed, see the enquiry list: " in rows["duct smoke detector"][1]
    assert rows["fire and smoke dampers open"][6] == "one not open: the fan stops"  # a cut wire is on the safe side
    ranks = made["sequence"].parts[0].steps
    smoke, switch = (next(place for place, step in enumerate(ranks) if step.startswith(words)) for words in ("smoke in", "the switch at"))
    assert smoke < switch  # it stops the fan in MANUAL, too
    assert {"duct smoke detector", "fire and smoke dampers open"} <= {row[0] for row in made["alarms"].parts[0].tables[0].rows}
    for name in (LAB, GARAGE):
        assert "smoke detector" not in repr(papers(name)["points"])
        assert "To the mechanical engineer" in [part.title for part in papers(name)["enquiry"].parts]


def test_the_flow_above_which_a_detector_is_asked_for_is_two_thousand_cubic_feet_a_minute():
    (value,) = (one for one in design_of(DUCT).section("fan").figures if one.label.startswith("A duct smoke detector"))
    assert value.value == pytest.approx(2000 * 0.3048**3 / 60, rel=1e-3)
    assert "more is asked of this fan" in value.reason
    assert not any("smoke" in one.label for one in design_of(GARAGE).section("fan").figures)
