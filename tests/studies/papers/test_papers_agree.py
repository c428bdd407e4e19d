"""What two papers of one job say of one thing: as grave, with the same figures, and nothing let go by one that another one holds back."""

import re

import numpy as np
import pytest

from helpers.record.papers.beyond import stated
from helpers.record.papers.beyond.marks import WHAT
from helpers.record.papers.beyond.stated import OUTSIDE, exit_said, outside_said
from helpers.record.papers.played import PLAYED
from helpers.record.sections.one_open import one_open
from helpers.studies.cases import exits_beyond
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.status import SPARE_PA, word_of, worst_of
from helpers.studies.tuning.times_said import SHORT_BORNE_S, misled_said, misled_state

STAIRS = "Larkfield House", "Tannery Row", "all laid down"


def paper_of(folder, key):
    return next(paper for paper in folder.papers if paper.key == key)


def tables_of(paper):
    return {table.key: table for part in paper.parts for table in part.tables}


@pytest.mark.parametrize("name", STAIRS)
def test_a_wrong_reading_is_told_in_the_analysis_as_the_sequence_has_it_played_and_in_its_summary(folder_of, name):
    report, sequence = (paper_of(folder_of(name), key) for key in ("rational_analysis", "sequence"))
    played = {row: state for part in sequence.parts for table in part.tables if table.title == "Played on the model"
              for row, state in zip(table.rows, table.states, strict=True)}  # fmt: skip
    told = [table for part in report.parts for table in part.tables if table.title == PLAYED]
    rows = {row: state for table in told for row, state in zip(table.rows, table.states, strict=True)}
    assert rows.items() <= played.items()
    misled = {row for row in played if "at the top of its range" in row[0] and "comes" in row[1]}
    assert misled <= set(rows)
    out = [found[1] for row in rows if (found := re.search(r"a shut door is out for (\d+ s)", row[1]))]
    summary = "\n".join(report.parts[0].lines)
    assert ("a shut door is out for" in summary) == bool(out)
    assert not out or max(out, key=lambda one: int(one.split()[0])) in summary
    assert all(state != "good" for row, state in rows.items() if "a shut door is out for" in row[1])


@pytest.mark.parametrize("name", STAIRS)
def test_a_wrong_reading_that_puts_a_door_out_is_the_first_finding_after_what_fails_and_is_to_be_signed(folder_of, name):
    report = paper_of(folder_of(name), "rational_analysis")
    tables = tables_of(report)
    found, signed = tables["findings"], tables["checks"]
    out = any("a shut door is out for" in row[1] for row in tables["misled"].rows) if "misled" in tables else False
    places = [place for place, row in enumerate(found.rows) if row[0] == WHAT]
    assert places == [found.states.count("wrong")] * out
    for place in places:
        assert found.states[place] in ("open", "attention")
        assert "shorter wait" in found.rows[place][2]
        assert "median of three" in found.rows[place][2] or "not tried" in found.rows[place][2]
    listed = {row[0] for row, state in zip(found.rows, found.states, strict=True) if state in ("attention", "open")}
    assert {row[1] for row in signed.rows if row[0] == "Findings"} == listed
    apart = "findings", "checks", "blanks", "answers quoted"
    others = [state for part in report.parts for table in part.tables if table.key not in apart for state in table.states]
    assert all(f"{others.count(state)} {word_of(state)}" in signed.note for state in ("attention", "open"))


def test_seconds_of_a_wrong_reading_are_never_a_pass_and_past_those_borne_at_a_door_nobody_has_stated_them():
    assert [misled_state(seconds) for seconds in (0.0, 0.1, SHORT_BORNE_S, SHORT_BORNE_S + 0.1)] == [
        "good",
        "attention",
        "attention",
        "open",
    ]
    assert [misled_state(seconds, 90.0) for seconds in (0.0, 86.0, 90.0, 90.1)] == ["good", "attention", "attention", "wrong"]
    assert misled_state(5.0, 4.0) == "wrong"
    assert "see the enquiry list: wrong reading" in misled_said(86.0)
    assert misled_said(86.0, 20.0).startswith("longer than a wrong reading may do this: see the enquiry list: wrong reading")
    assert misled_said(0.0, 90.0) == misled_said(SHORT_BORNE_S) == ""


@pytest.mark.parametrize("name", STAIRS)
def test_nothing_is_to_be_bought_by_the_schedules_while_the_record_fails(folder_of, design_named, name):
    tables = tables_of(paper_of(folder_of(name), "schedules"))
    bought = [(row, state) for table in tables.values() if table.states for row, state in zip(table.rows, table.states, strict=True)
              if row[0] in ("Motor stated", "The fan, in one line", "Relief damper, in one line", "Transmitters, in one line")]  # fmt: skip
    assert bought
    if design_named(name).record().fails:
        assert "good" not in {state for _, state in bought}


@pytest.mark.parametrize("name", STAIRS)
def test_a_closing_share_of_one_figure_is_no_pass_and_the_share_at_which_it_fails_stands_beside_it(folder_of, design_named, name):
    design = design_named(name)
    table = tables_of(paper_of(folder_of(name), "rational_analysis"))["window"]
    states = dict(zip((row[0] for row in table.rows), table.states, strict=True))
    for one in design.door_forces.relatching:
        (found,) = (
            finding for finding in design.door_forces.findings()
            if finding.key == f"relatch {one.window.door}" or "shuts again" in finding.what
        )  # fmt: skip
        needed = one.window.shares[0] * one.dp_pa / one.window.relatch_pa[0]
        assert float(re.search(r"share below (\d\.\d\d)", found.figure)[1]) == pytest.approx(needed, abs=0.0101)
        if one.window.one_share is not None:
            assert "good" not in (one.state, found.severity, states[one.window.place])


@pytest.mark.parametrize("name", STAIRS)
def test_the_nearest_door_governs_at_the_highest_speed(design_named, name):
    full = design_named(name).duty.full
    near = full.nearest_exit
    passed = [one for one in full.findings() if one.severity == "good"]
    if full.room_pa.min() < SPARE_PA or (near is not None and near.state != "good"):
        assert passed == []
    if near is not None and full.exits.room_pa >= 0:
        assert near.room_pa == min(full.exits.room_pa, full.box_exits.room_pa)


@pytest.mark.parametrize("name", STAIRS)
def test_a_fan_is_not_said_to_be_good_with_the_exit_shut_where_no_fan_stands(design_named, name):
    design = design_named(name)
    if not design.standing.set_point_stands or not design.standing.fan_stands:
        assert exit_said(design) == ""


@pytest.mark.parametrize("name", STAIRS)
def test_a_case_beside_the_design_that_fails_stands_behind_the_count_of_what_fails(folder_of, design_named, name):
    design = design_named(name)
    low = any(door.too == "low" for case in exits_beyond(design.site, design.own.cases) for door in design.own.out_in(case))
    assert bool(outside_said(design)) == low
    count = next(line for line in paper_of(folder_of(name), "rational_analysis").parts[0].lines if line.startswith("Conclusion"))
    assert (OUTSIDE in count) == low


@pytest.mark.parametrize("name", STAIRS)
def test_the_exit_open_alone_is_a_finding_and_stands_beside_the_worst_with_doors_open_besides(folder_of, design_named, name):
    design = design_named(name)
    report = paper_of(folder_of(name), "rational_analysis")
    found = [row for row in tables_of(report)["findings"].rows if "final exit open alone" in row[0].lower()]
    told = stated.exit_alone_said(design)
    assert [row[1] for row in found] == [told] * bool(told)
    lows = [(door.by_pa, case) for case in exits_beyond(design.site, design.own.cases) for door in design.own.out_in(case)
            if door.too == "low"]  # fmt: skip
    if told and lows and max(lows, key=lambda one: one[0])[1].open_doors:
        assert all(told in line for line in report.parts[0].lines if line.startswith("Not in the design"))


@pytest.mark.parametrize("name", STAIRS)
def test_no_storey_passes_with_less_room_than_every_table_of_doors_asks(design_named, name):
    design = design_named(name)
    table = next(one for one in design.section("rule").tables if one.key == f"doors {design.site.control.rule}")
    own, doors = design.own, DoorColumns(design.tower, design.window)
    across = doors.across(own.held.air)
    for place, column in enumerate(doors.columns):
        opened = [case.open_exits if column.use == "final exit" else case.open_doors for case in own.cases]
        shut = [number for number, levels in enumerate(opened) if column.level not in levels]
        if column.use == "lobby door" or not shut:
            continue
        least = [doors.least_pa[place] if own.cases[number].shut else doors.open_least_pa[place] for number in shut]
        room = np.minimum(across[shut, place] - least, doors.most_pa[place] - across[shut, place]).min()
        label = f"Final exit {column.level}" if column.use == "final exit" else str(column.level)
        (state,) = (state for row, state in zip(table.rows, table.states, strict=True) if row[0] == label)
        assert (state == "good") <= (room >= SPARE_PA - 1e-6), (label, room)
        assert (state == "wrong") >= (room < -1e-2 and any(own.required[number] for number in shut) and len(set(own.required)) == 1)


@pytest.mark.parametrize("name", STAIRS)
def test_one_door_is_opened_on_every_storey_and_judged_as_the_case_of_the_design_is(design_named, name):
    design = design_named(name)
    found, required = one_open(design), design.standing.required_result
    table = next(one for one in design.section("rule").tables if one.key == "one door open")
    levels = [storey.level for storey in design.site.storeys if storey.stair_door and storey.stair_door_count]
    assert [row[0] for row in table.rows] == list(map(str, levels))
    assert [row[1] == "yes" for row in table.rows] == [
        any((case.open_doors, case.open_exits) == ((level,), ()) for case in required.cases) for level in levels
    ]
    result = found.result
    for place, case in enumerate(result.cases):
        alike = [other for other, one in enumerate(required.cases) if (one.weather, one.stair, one.open_doors, one.open_exits) ==
                 (case.weather, case.stair, case.open_doors, case.open_exits)]  # fmt: skip
        if alike and design.standing.fan_holds:
            assert result.margin_pa[place] == pytest.approx(required.margin_pa[alike[0]], abs=0.05)
    for level, state in zip(levels, table.states, strict=True):
        assert state == worst_of(result.status(place) for place, case in enumerate(result.cases) if case.open_doors == (level,))
    out = {case.open_doors[0] for case in result.cases if result.out_in(case)}
    told = [
        one for top in design.section("rule").findings for one in (top, *top.effects) if one.what.startswith("With one stair door open")
    ]
    assert bool(told) == bool(out)
