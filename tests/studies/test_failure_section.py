"""The record's section on failed readings: verdict, tables and findings agree with the study, on good and on wrong sites."""

from types import SimpleNamespace

import numpy as np
import pytest
from demo_designs import design_for, design_of

from helpers.record.sections.failed_readings import OTHER_DAMPER, _two_lost_said, failure_section
from helpers.record.settings.schedule import settings_schedule
from helpers.studies.cases import conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.readings.failures import KEPT, SPEED
from helpers.studies.readings.left_readings import TwoLost
from helpers.studies.readings.words import fallback_said, out_said, sides_said
from helpers.studies.status import SEVERITIES
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def design():
    return design_of("Larkfield House")


@pytest.fixture(scope="module")
def section(design):
    return written_out(failure_section(design))


def table(section, key):
    return next(table for table in section.tables if table.key == key)


def test_the_verdict_names_the_best_way_and_says_so_where_none_holds_every_door(design, section):
    assert written_out(fallback_said(design.fallback)) in section.verdict
    best = design.fallback.best
    assert ("No way of falling back keeps every shut door inside" in section.verdict) is not best.good
    assert written_out(out_said(best)) in section.verdict
    assert "it holds)" not in section.verdict
    finding = section.findings[0]
    assert written_out(out_said(best)) in finding.figure


def test_a_way_that_puts_a_door_out_is_fail_and_so_is_using_the_good_one_at_the_set_point_of_both(design, section):
    ways = table(section, "ways")
    states = dict(zip((row[0] for row in ways.rows), ways.states, strict=True))
    assert states[KEPT] == "wrong"
    for name, way in design.fallback.ways.items():
        if not way.good:
            assert next(state for told, state in states.items() if told.startswith(name)) == "wrong"


def test_a_finding_past_a_limit_is_never_pass(design, section):
    severity = section.findings[0].severity
    assert severity in SEVERITIES
    assert (severity == "good") <= (design.fallback.best.good and not design.fallback.not_judged)


def test_what_the_best_way_rests_on_is_told_with_every_state_of_the_damper_and_the_sound_loop_beside_it(design, section):
    rows = table(section, "tried with")
    assert {f"the {state}" for state, _ in design.fallback.dampers} < {row[0] for row in rows.rows}
    for row, state in zip(rows.rows, rows.states, strict=True):
        assert (state == "wrong") == (" out" in row[1] + row[2])
    assert written_out(sides_said(design.fallback)) in section.verdict


def test_the_case_table_has_every_case_and_the_margins_to_both_limits(design, section):
    cells = table(section, "cells")
    assert len(cells.rows) == len(design.fallback.air.cases)
    assert {"Above its least", "Below its most", "At the handle"} <= set(cells.columns)
    unheld = [row for row in cells.rows if "no speed holds it" in row[0]]
    assert len(unheld) == len(design.fallback.unheld) + len(design.fallback.not_judged)


def test_inches_have_no_pascals(design):
    section = written_out(failure_section(design), "in. w.c.")
    said = [section.verdict, *section.notes, *(finding.figure for finding in section.findings)]
    said += [cell for table in section.tables for row in table.rows for cell in row]
    assert not any(" Pa" in text or " N " in text for text in said)


def test_a_stair_without_limits_says_why_nothing_was_tried():
    class Unlimited(SimpleNamespace):
        @property
        def fallback(self):
            raise ValueError("window must limit at least one door, got none")

    section = written_out(failure_section(Unlimited(fallback_first="")))
    assert section.verdict == "Not for this site: window must limit at least one door, got none."
    assert section.findings[0].severity == "open"


def test_one_transmitter_is_told_to_be_one(stair):
    section = written_out(failure_section(design_for(stair(6, transmitters=[{"level": 2}]))))
    assert any("One reading alone" in finding.what for finding in section.findings)
    assert SPEED in section.verdict


THREE = ("A", 0), ("B", 2), ("C", 5)


def test_with_two_of_three_readings_lost_what_is_left_is_tried_against_the_fallback_speed(stair, a_transmitter):
    site = stair(6, transmitters=[a_transmitter(*tap) for tap in THREE])
    design = design_for(site)
    study = design.fallback
    assert [(one.lost, one.left) for one in study.two_lost] == [(("A", "B"), ("C",)), (("A", "C"), ("B",)), (("B", "C"), ("A",))]
    conditions = conditions_of(site, study.air.cases, study.air.tower)
    for one in study.two_lost:  # what is left, held by the air network itself
        left = [tap for tap in site.transmitters if tap.name in one.left]
        dp = DoorColumns(study.air.tower, study.air.window).across(study.air.tower.hold(conditions, one.set_point_pa, left, "average").air)
        rooms = np.minimum(*study.air.doors.rooms(dp, study.air.standing_open))[study.judged].min()
        assert rooms == pytest.approx(one.worst.room_pa, abs=study.accuracy_pa * 3 + 8.0)
        assert one.worst.room_pa <= rooms + 0.3  # the box is no better than the file
        assert one.chosen is (one.worst if one.measures else one.worst_at_speed)
    told = table(written_out(failure_section(design)), "two lost")
    assert told.states == tuple(one.state for one in study.two_lost)
    rows = {row.name: row for row in written_out(settings_schedule(site, fallback=study))}
    assert {"A and B lost", "A and C lost", "B and C lost"} <= set(rows)
    for one in study.two_lost:
        assert written_out(one.does(study.speed_hz)) in rows[" and ".join(one.lost) + " lost"].value
    assert design_of("Tannery Row").fallback.two_lost == ()


def test_of_two_lost_the_speed_goes_first_and_what_is_left_only_where_the_speed_does_not_hold():
    def tried(alone_pa, at_speed_pa):
        alone, kept = (SimpleNamespace(room_pa=room, good=room >= -0.1) for room in (alone_pa, at_speed_pa))
        way = SimpleNamespace(walls={"file": (kept, kept)}, state="good")
        one = TwoLost(("A", "B"), ("C",), 40.0, {"file": (alone, alone)}, way)
        return one.measures, one.state

    assert tried(9.0, 2.0) == (False, "good")
    assert tried(9.0, -2.0) == (True, "attention")
    assert tried(-1.0, -2.0) == (True, "wrong")
    assert tried(-3.0, -2.0) == (False, "wrong")


def test_two_readings_lost_beside_a_damper_that_sticks_are_not_told_as_a_door_out_with_room_to_spare(monkeypatch):
    stuck = "up to 30 Pa too low with the relief damper stuck open"
    monkeypatch.setattr("helpers.studies.readings.words.against_said", lambda study, way: (stuck,))
    two = SimpleNamespace(chosen=SimpleNamespace(good=True), state="wrong", at_speed=None, measures=False)
    assert _two_lost_said(None, two) == ("With two readings lost the fallback speed fails", stuck)
    two.chosen.good = False
    assert _two_lost_said(None, two)[0] == "With two readings lost a door is out"


WRONG_SITES = {
    "three transmitters": {"transmitters": THREE},
    "unlike low sides": {"transmitters": [{"reference": "outdoors"}, {}]},
    "no live zero": {"transmitters": [{"signal": "0-10 V"}] * 2},
    "two-sided range": {"transmitters": [{"range_low_pa": -25.0, "range_high_pa": 100.0}] * 2},
    "lowest reading": {"control": {"rule": "lowest", "set_point_pa": 30.0}},
    "weak fan": {"fan": {"highest_speed_hz": 12.0}},
    "European": {"standard": "en12101"},
    "narrow smoke control": {"fan": {"smoke_lowest_speed_hz": 15.0, "smoke_highest_speed_hz": 25.0}},
}


@pytest.fixture(scope="module", params=WRONG_SITES)
def other(stair, a_transmitter, request):
    """The design of another site, made once for both systems of units."""
    changes = dict(WRONG_SITES[request.param])
    if changes.get("transmitters") is THREE:
        changes["transmitters"] = [a_transmitter(*tap) for tap in THREE]
    return design_for(stair(6, **changes))


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_other_sites_are_judged_by_the_same_rule(other, system):
    design = other
    section, best = written_out(failure_section(design), system), design.fallback.best
    if best is None:
        assert section.findings[0].severity == "wrong"
        return
    assert (section.findings[0].severity == "wrong") is (best.state == "wrong")
    assert best.state == "wrong" or (best.good and not best.blind)
    assert design.fallback.air.limits_hz[0] <= design.fallback.speed_hz <= design.fallback.air.limits_hz[1]
    for table in section.tables:
        assert {len(row) for row in table.rows} == {len(table.columns)}
        assert len(table.states) in (0, len(table.rows))
    assert not any("nan" in cell or "inf" in cell for table in section.tables for row in table.rows for cell in row)


def test_a_way_that_fails_for_the_relief_damper_alone_says_so_in_its_row(design, section):
    ways = table(section, "ways")
    column = ways.columns.index(OTHER_DAMPER)
    assert any(way.dampers for way in design.fallback.ways.values())
    for row, way in zip(ways.rows, design.fallback.ways.values(), strict=True):
        if not way.dampers:
            assert row[column] == "not tried"
            continue
        state, room = min(way.damper_rooms_pa.items(), key=lambda one: one[1])
        assert row[column].endswith(f"{'out' if room < 0 else 'to spare'}, {state}")
