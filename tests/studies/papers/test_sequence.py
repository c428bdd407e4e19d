"""The sequence of operations: what its states were played with, what a loop that does not hold looks like, what is not played."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from helpers.model.loop.signal_chain import SignalChain
from helpers.record.papers.paper import ISSUE
from helpers.record.papers.played import NOT_PLAYED, STOPPED, StatePlayer
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.sequence import sequence
from helpers.record.papers.states import states_of
from helpers.studies.readings.failures import MIDDLE
from helpers.units.said import written_out

UNPLAYED = {"off", "panel off", "manual", "intake", "tripped", "isolator", "restore", "mains"}
PLAYED = {"test", "smoke", "panel on", "lost", "by alarm", "differ"}


@pytest.fixture(scope="module")
def laid_down(design_named):
    return Quoted(design_named("all laid down"))


@pytest.fixture(scope="module")
def states(laid_down):
    return {state.key: state for state in states_of(laid_down)}


@pytest.fixture(scope="module")
def plays(laid_down, states):
    player = StatePlayer(laid_down)
    return {key: written_out(player.plays(state)) for key, state in states.items()}


def test_every_state_is_played_or_says_why_not(plays):
    assert all(play.happened for found in plays.values() for play in found)
    assert {key for key, (first, *_) in plays.items() if first.tried != NOT_PLAYED} == PLAYED
    assert {play.state for key in UNPLAYED for play in plays[key]} == {"open"}


def test_where_all_is_laid_down_what_is_played_passes(plays):
    """But the doors, whose own record has a short time below the minimum, and those that a reading stuck high leaves short before the
    fallback: the play carries that CHECK and does not pass over it."""
    assert {key for key in PLAYED for play in plays[key] if play.state != "good"} == {"smoke", "by alarm", "differ"}


def test_an_ordinary_evacuation_that_rings_is_a_fallback_by_alarm_and_no_lost_signal(plays, states, laid_down):
    """Of this stair the street door is not in the design, and with it open the alarms ring though every reading is right."""
    design, street = plays["by alarm"]
    assert design.tried.startswith("stair door 2 open")
    assert "final exit 0" in street.tried
    assert "every reading right" in street.happened
    assert "until somebody resets it" in street.happened
    assert street.state == "attention"
    assert street.happened.endswith(f"to {laid_down.design.fallback.speed_hz:.1f} Hz")
    cases, air = laid_down.design.fallback.alarm_limits.rung[0], laid_down.design.fallback.air
    told = written_out(states["by alarm"].does)
    assert any(
        f"in {len(cases)} of {len(air.cases)} cases, too" in step and step.startswith("CHECK: an ordinary evacuation") for step in told
    )
    assert any(step.startswith("The loop stays out") for step in told)


def test_a_play_that_ends_well_carries_what_the_record_has_on_the_way(plays, laid_down):
    (play,), way = plays["smoke"], laid_down.design.tuned.worst_doors
    assert way.short_state == play.state == "attention"
    assert play.happened.startswith("PASS at its end alone; on the way, by the record, CHECK: ")


def test_a_value_that_the_record_marks_is_marked_where_the_sequence_quotes_it(laid_down, states):
    assert "CHECK" in laid_down.setting("loop", "gain").why
    assert any(step.startswith("Gain: ") and "(CHECK: " in step for step in written_out(states["smoke"].does))


def test_with_every_wire_off_the_fan_ends_at_the_fallback_speed_of_the_record(plays, laid_down):
    assert len(plays["lost"]) == 1 + len(laid_down.site.transmitters)
    assert plays["lost"][-1].happened.endswith(f"to {laid_down.design.fallback.speed_hz:.1f} Hz")


def test_the_start_comes_to_the_set_point_no_sooner_than_the_ramp_allows(laid_down):
    player = StatePlayer(laid_down)
    found = player._run(player._at_rest.air, start_hz=player.ends_hz[0])
    fan, settled = laid_down.site.fan, player._settled_s(found, 0.0)
    way = found.speed_hz[-1] - player.ends_hz[0]
    assert np.isfinite(settled).all()
    assert (settled >= 0.5 * way * fan.ramp_s / fan.reference_speed_hz).all()


def test_a_loop_too_slow_to_come_to_its_set_point_fails_its_play(laid_down, states):
    player = StatePlayer(laid_down)
    player.settings = replace(player.settings, gain=1e-4, integral_s=1e4)
    (play,) = player.plays(states["test"])
    assert play.state == "wrong"
    assert "does not come to rest" in play.happened


def test_a_door_past_its_limit_at_the_end_fails_its_play(laid_down, states):
    player = StatePlayer(laid_down)
    least, most = player.limits
    player.limits = least + 20.0, most
    (play,) = player.plays(states["panel on"])
    assert play.state == "wrong"
    assert " out (stair door " in written_out(play.happened)


def test_the_time_to_come_to_rest_counts_from_the_last_time_outside_and_is_none_where_it_ends_outside(laid_down):
    player = StatePlayer(laid_down)
    player.accuracy_pa = 1.0
    time, reading = np.arange(0.0, 6.0), np.array([[0, 0], [9.5, 0], [12, 0], [10, 10], [10.5, 10], [10, 12.0]])
    found = SimpleNamespace(time_s=time, reading_pa=reading, set_point_pa=10.0)
    np.testing.assert_equal(player._settled_s(found, 0.0), [3.0, np.nan])
    np.testing.assert_equal(player._settled_s(found, 3.0), [0.0, np.nan])


def test_an_alarm_on_the_difference_comes_when_it_has_been_beyond_for_its_wait_without_a_break():
    readings = np.zeros((7, 2, 2))
    readings[2:, 0, 0] = 20.0  # from 2 s on for good
    readings[1:, 0, 1] = 20.0
    readings[4, 0, 1] = 5.0  # a break at 4 s
    found = SimpleNamespace(time_s=np.arange(0.0, 7.0), readings_pa=readings)
    np.testing.assert_equal(StatePlayer._rings_s(found, 15.0, 4.0), [5.0, np.nan])


def test_readings_that_differ_lead_to_the_fallback_speed_after_the_wait_of_the_record(plays, laid_down):
    wait = laid_down.design.fallback.alarm_limits.deviation_after_s
    for play in plays["differ"]:
        came = float(play.happened.split("the alarm comes ")[1].split(" s ")[0])
        assert wait <= came <= wait + 20
        assert f"to {laid_down.design.fallback.speed_hz:.1f} Hz" in play.happened or "stuck at the top" in play.tried
        assert "a shut door is out for " in play.happened or "no shut door is out meanwhile" in play.happened
    starved = [play for play in plays["differ"] if "stuck at the top of its range" in play.tried]
    assert len(starved) == len(laid_down.site.transmitters)
    for play in starved:  # the fan slows until the alarm's wait is over: no pass, and the seconds stand there
        assert play.state != "good"
        out = float(play.happened.split("a shut door is out for ")[1].split(" s ")[0])
        assert wait - 15 <= out <= wait + 30


def test_a_way_of_falling_back_that_the_model_does_not_have_is_not_played(laid_down, states):
    player = StatePlayer(laid_down)
    study = SimpleNamespace(best=SimpleNamespace(name=MIDDLE), speed_hz=40.0)
    player.design = SimpleNamespace(fallback=study, tuned=player.design.tuned)
    *singles, every = player.plays(states["lost"])
    assert {play.state for play in singles} == {"open"}
    assert all(MIDDLE in play.happened for play in singles)
    assert every.state != "open"


def test_without_a_tuning_no_loop_is_played(laid_down, states):
    player = StatePlayer(laid_down)
    player.design = SimpleNamespace(tuned=None)
    (play,) = player.plays(states["panel on"])
    assert (play.tried, play.state) == (NOT_PLAYED, "open")
    assert "no tuning is laid down" in play.happened


def test_a_state_that_is_refused_is_not_played(design_named):
    quoted = Quoted(design_named("Larkfield House"))
    (play,) = StatePlayer(quoted).plays(next(state for state in states_of(quoted) if state.key == "smoke"))
    assert (play.tried, play.state) == (NOT_PLAYED, "wrong")
    assert "cannot do it: not laid down" in play.happened


def test_a_loop_that_must_not_be_entered_fails_its_play_whatever_came_of_it(laid_down, states):
    player = StatePlayer(laid_down)
    (sound,) = player.plays(states["test"])
    (play,) = player.plays(replace(states["test"], refused="gain: FAIL: 0.3, do not enter"))
    assert (sound.state, play.state) == ("good", "wrong")
    assert play.happened.startswith("FAIL, do not enter: gain: 0.3, do not enter.")
    assert play.happened.endswith(sound.happened)


def test_the_table_of_all_states_has_the_verdict_of_cause_and_effect(folder_of):
    for name in ("Larkfield House", "all laid down"):
        papers = {paper.key: paper for paper in folder_of(name).papers}
        table, effects = papers["sequence"].parts[0].tables[0], papers["cause_and_effect"].parts[0].tables[1]
        there = {row[3]: (row[-1], state) for row, state in zip(effects.rows, effects.states, strict=True) if row[4] == "as the state"}
        assert {row[0]: (row[-1], state) for row, state in zip(table.rows, table.states, strict=True)} == there
        assert dict(zip((row[0] for row in table.rows), table.states, strict=True))["Smoke control"] != ""


def test_the_paper_has_a_part_a_state_with_its_ways_out_and_says_at_its_head_what_is_refused(folder_of):
    paper = next(paper for paper in folder_of("Larkfield House").papers if paper.key == "sequence")
    first, *parts, issue = paper.parts
    assert issue.title == ISSUE
    assert sum("refused" in line for line in first.lines) == sum(part.lines[0].startswith("FAIL, refused") for part in parts) > 0
    titles = [part.title for part in parts]
    assert [row[0] for row in first.tables[0].rows] == titles
    assert all(to in titles for part in parts for _, to in part.tables[0].rows)
    assert all(part.tables[0].rows for part in parts)


def test_of_a_stair_out_of_smoke_control_the_paper_says_that_none_is_written(laid_down):
    site = laid_down.site.with_changes(control={"fire_mode": False})
    out = SimpleNamespace(design=SimpleNamespace(site=site, out_of_mode=""), site=site)
    (part,) = sequence(out).parts
    assert part.lines[0].startswith("Not written: the site file has this loop out of smoke control")


def test_what_the_programmer_asks_is_answered_by_the_model_or_asked_by_its_number(folder_of):
    papers = {paper.key: paper for paper in folder_of("all laid down").papers}
    table = next(table for table in papers["sequence"].parts[0].tables if table.key == "rules")
    asked = {row[1]: row[0] for part in papers["enquiry"].parts for table in part.tables for row in table.rows}
    agreed = [row[2] for row in table.rows if row[2].startswith("to be agreed")]
    assert len(agreed) >= 4
    for told in agreed:
        number, key = told.partition("enquiry list: ")[2].split(", ")
        assert asked[key] == number
    others = [row[2] for row in table.rows if not row[2].startswith("to be agreed")]
    assert all(told.startswith(("as ", "our own choice")) for told in others)
    assert any(told.startswith("our own choice") for told in others)


def test_a_signal_beyond_its_range_goes_on_along_its_line_in_the_loop_that_was_played(laid_down):
    """What the paper says of it is what the model's input does: at 102 % of its span it reads 102 %, and not the top of its range."""
    tap = laid_down.site.transmitters[0]
    chain, beyond = SignalChain([tap]), tap.range_low_pa + 1.02 * (tap.range_high_pa - tap.range_low_pa)
    for step in range(600):
        (reading,) = chain.read([beyond], 0.1 * step)
    assert reading == pytest.approx(beyond, abs=0.1)
    assert reading > tap.range_high_pa + 1.0


def test_what_was_not_played_is_said_once_for_all_states_and_nowhere_again(folder_of):
    for name in ("Larkfield House", "Tannery Row"):
        first, *parts, _ = next(paper for paper in folder_of(name).papers if paper.key == "sequence").parts
        (stopped,) = [line for line in first.lines if "no standstill" in line]
        without = [part.title for part in parts if not any(table.key.startswith("played") for table in part.tables)]
        said = [line for line in first.lines if line.startswith("Not played on the model: ")]
        assert "Off" in stopped
        assert all(any(title in line for line in said) for title in without)
        rows = [row for part in parts for table in part.tables for row in table.rows]
        assert not any(STOPPED in cell for row in rows for cell in row)


def test_no_line_of_the_sequence_says_its_verdict_twice(folder_of):
    paper = next(paper for paper in folder_of("Tannery Row").papers if paper.key == "sequence")
    refused = [line for part in paper.parts for line in part.lines if "refused: " in line]
    assert refused
    assert all(line.count("FAIL") == 1 for line in refused)
