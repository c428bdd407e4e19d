"""Points list, alarm list, cause and effect: one name a point, figures of the record alone, one list of inputs behind all of them."""

import re
from dataclasses import replace

import pytest
from demo_designs import design_for

from helpers.model.files import texts
from helpers.record.papers import matrix as written
from helpers.record.papers.matrix import matrix
from helpers.record.papers.points import (
    HEADS,
    SOUND_TOO,
    alarm_list,
    contacts,
    lost_alarms,
    named_once,
    points_judged,
    points_list,
    points_of,
    quoted_alarms,
)
from helpers.record.papers.quoted import Quoted
from helpers.record.papers.states import states_of, verdict_on
from helpers.units.said import written_out


@pytest.fixture
def laid_down(design_named):
    return Quoted(design_named("all laid down"))


@pytest.fixture
def failing(design_named):
    return Quoted(design_named("Larkfield House"))


def rows_of(paper):
    return table_of(paper).rows


def table_of(paper):
    """Its long table: of causes and effects the one in words, and not the one at a glance before it."""
    return next(table for table in paper.parts[0].tables if table.key != "crosses")


def test_two_points_of_one_name_are_refused_in_a_sentence(laid_down):
    points = points_of(laid_down)
    with pytest.raises(ValueError, match="'fire alarm' is the name of two: rename a transmitter"):
        named_once((*points, replace(points[0], name="Fire alarm ")))


def test_a_transmitter_that_is_called_as_another_point_is_refused(laid_down):
    laid_down.site = laid_down.site.with_changes(transmitters=[{"name": "drive fault"}])
    with pytest.raises(ValueError, match="'drive fault' is the name of two"):
        points_of(laid_down)


def test_every_transmitter_and_every_contact_is_a_point_once(failing):
    names = [point.name for point in points_of(failing)]
    assert len(names) == len(set(names))
    assert [tap.name for tap in failing.site.transmitters] == names[: len(failing.site.transmitters)]
    assert {alarm.on for alarm in contacts(points_of(failing))} < set(names)


def test_a_stair_without_a_relief_damper_has_no_point_of_one(failing):
    failing.site = failing.site.with_changes(stair={"relief": None})
    assert "relief damper shut" not in [point.name for point in points_of(failing)]


def test_a_stair_with_one_transmitter_has_its_points_and_its_causes(design_named):
    site = design_named("Tannery Row").site
    one = Quoted(design_for(site, transmitters=tuple(site.transmitters[:1])))
    told = {point.name: point.tells for point in points_of(one)}
    assert told["combined reading"] == "the only reading"
    assert "PDT-2" not in told
    assert "Readings differ" not in [row[3] for row in rows_of(matrix(one))]


def test_each_of_several_dampers_has_its_pair_of_points_and_its_alarm(laid_down):
    count = laid_down.site.stair.relief.count
    assert count == 3
    names = [point.name for point in points_of(laid_down)]
    for end in ("shut", "open"):
        assert [name for name in names if name.startswith(f"relief damper {end}")] == [f"relief damper {end}, {n} of 3" for n in (1, 2, 3)]
    rows = {row[0]: row for row in alarm_list(laid_down).parts[0].tables[0].rows}
    assert [rows[f"relief damper shut, {n} of 3"][1] for n in (1, 2, 3)] == ["not shut while the fan is off"] * 3
    assert "relief damper shut, 2 of 3" in [row[1] for row in rows_of(matrix(laid_down))]


def test_a_name_that_looks_like_a_line_of_the_schedule_stays_a_name(laid_down):
    laid_down.site = laid_down.site.with_changes(transmitters=[{"name": "{fan/ramp up}"}])
    assert points_of(laid_down)[0].name == "{fan/ramp up}"


def test_limits_that_are_laid_down_are_those_of_the_records_table(laid_down):
    table = laid_down.table("failure", "alarm limits")
    told = [(alarm.on, alarm.limit, alarm.waits, alarm.does) for alarm, _ in quoted_alarms(laid_down)]
    assert told == [row[:4] for row in table.rows]


def test_where_alarms_are_not_laid_down_no_limit_is_handed_out_though_the_record_has_found_some(failing):
    assert failing.table("failure", "alarm limits") is not None
    for alarm, state in quoted_alarms(failing):
        assert state == "open"
        assert {alarm.limit, alarm.waits, alarm.does} == {alarm.limit}
        assert alarm.limit.startswith("not laid down")


def test_the_matrix_has_every_state_every_alarm_and_every_contact(laid_down):
    causes = [row[0] for row in rows_of(matrix(laid_down))]
    points, states = points_of(laid_down), states_of(laid_down)
    assert {state.begins for state in states} < set(causes)
    used = {state.point for state in states}
    left = [alarm for alarm in contacts(points) if alarm.on not in used]
    alarms = [*quoted_alarms(laid_down), *lost_alarms(laid_down)]
    assert len(causes) == len(states) + len(alarms) + len(left)


def test_a_cause_that_is_no_point_is_refused(laid_down, monkeypatch):
    states = states_of(laid_down)
    monkeypatch.setattr(written, "states_of", lambda quoted: (replace(states[0], point="a bell"), *states[1:]))
    with pytest.raises(ValueError, match="must be points of the points list, got 'a bell'"):
        matrix(laid_down)


def test_an_alarm_that_falls_back_says_to_which_state_and_one_that_only_tells_leaves_the_fan_alone(laid_down):
    by_cause = {row[0].partition(":")[0]: row for row in rows_of(written_out(matrix(laid_down)))}
    does = "alarm and fallback to 46.0 Hz"
    assert by_cause["alarm on PDT-1"][3:7] == ("in smoke control: Fallback by alarm", does, "as before", does)
    assert by_cause["alarm on difference of any two readings"][3] == "in smoke control: Readings differ"
    assert by_cause["alarm on fan speed"][3:7] == ("as before", "alarm only", "as before", "the loop's, where it gives the speed")


def test_one_cause_has_one_answer_in_alarm_list_cause_and_effect_and_sequence(design_named):
    """Difference, frozen, every wire off: what the record's own alarm lines have, on a stair that falls back and on one that does not."""
    for name, falls_back in (("all laid down", True), ("Tannery Row", False)):
        quoted = Quoted(design_named(name))
        laid = {row[0]: row[3] for row in quoted.table("failure", "alarm limits").rows}
        causes = {row[0].partition(":")[0].removeprefix("alarm on "): row for row in rows_of(matrix(quoted))}
        listed = {row[0]: row[4] for row in alarm_list(quoted).parts[0].tables[0].rows}
        for on in ("difference of any two readings", "each reading, frozen"):
            assert causes[on][4] == listed[on] == laid[on]
        every = causes["every reading, signal failed"]
        assert every[4] == every[6] == listed["every reading, signal failed"]
        assert (every[3], every[5]) == ("in smoke control: Signal lost", "as before")
        assert {row[5] for row in causes.values() if row[2].startswith("no command to run or stop")} == {"as before"}
        assert causes["drive fault"][3:6] == ("as before", "alarm only", "as before")  # told, and the drive runs on
        assert ("Readings differ" in [state.title for state in states_of(quoted)]) is falls_back
        moves = causes["difference of any two readings"][3] == "in smoke control: Readings differ"
        assert moves is falls_back


def test_each_signal_that_can_be_lost_has_its_alarm_and_each_alarm_says_when_it_is_live(failing, laid_down):
    for quoted in (failing, laid_down):
        rows = {row[0]: row for row in alarm_list(quoted).parts[0].tables[0].rows}
        lost = {f"{tap.name}, signal failed" for tap in quoted.site.transmitters} | {"every reading, signal failed"}
        missing = {"panel, alarm or intake line fault", "fire service's panel not in AUTO", "self-test passed", "standby source sound"}
        assert lost | missing < set(rows)
        assert all(row[3] for row in rows.values())
    for on in ("PDT-1", "fan speed", "difference of any two readings"):
        assert rows[on][3].startswith("while the state is smoke control or the self-test and the loop gives the speed, run proved or not")


def test_an_alarm_that_falls_back_is_reset_by_a_person_and_a_contact_says_what_rings(laid_down):
    rows = {row[0]: row for row in alarm_list(laid_down).parts[0].tables[0].rows}
    for on in ("PDT-1", "difference of any two readings", "each reading, frozen"):
        assert rows[on][6].startswith("latched until somebody resets it")
    assert not rows["fan speed"][6].startswith("latched")
    assert rows["fan run proof"][1] == "run is commanded and not proved"
    assert not [row for row in rows.values() if row[1].startswith("not: ")]


def test_the_intake_detector_is_supervisory_and_starts_nothing(laid_down):
    row = next(row for row in alarm_list(laid_down).parts[0].tables[0].rows if row[0] == "smoke at the intake")
    assert row[5] == "supervisory"
    assert row[6] == "latched until reset by the fire service, at its panel"
    assert "starts no fan" in row[7]


def test_a_wait_of_the_points_list_is_that_of_an_alarm_of_its_own_name(laid_down):
    waits = {point.name: point.waits for point in points_of(laid_down)}
    alarms = {alarm.on: alarm.waits for alarm, _ in quoted_alarms(laid_down)}
    assert waits["combined reading"] == "none"
    assert waits["difference of any two readings"] == alarms["difference of any two readings"]


def test_a_reading_that_is_judged_as_another_bears_the_same_mark(design_named):
    states = {alarm.on: state for alarm, state in quoted_alarms(Quoted(design_named("Tannery Row")))}
    assert states["PDT-1"] == states["PDT-2"] == "wrong"


def test_what_the_sequence_reads_and_orders_has_a_point(laid_down):
    names = {point.name for point in points_of(laid_down)}
    assert {"reset of the intake", "reset of the fallback", "lamp: fan runs", "intake damper command", "intake damper open",
            "intake damper shut", "self-test passed", "standby source runs", "standby source sound", "controls' supply",
            "fire service's agreement", "relief damper open, 1 of 3"} < names  # fmt: skip


def test_a_cause_is_as_bad_as_the_worst_that_its_state_uses(design_named):
    """Highest speed FAIL, gain CHECK, intake detector to be agreed: none is passed over, and what uses nothing is said to be unjudged."""
    table = table_of(matrix(Quoted(design_named("Tannery Row"))))
    told = {row[3]: (state, row[-1]) for row, state in zip(table.rows, table.states, strict=True) if row[4] == "as the state"}
    assert told["Smoke control"][0] == "wrong"
    assert "highest speed in smoke control" in told["Smoke control"][1]
    assert "CHECK: gain and integral time" in told["Smoke control"][1]
    assert told["Smoke at the intake"] == ("open", "NOT YET: smoke detector in the supply")
    assert told["Isolated"] == ("", "not judged by the record")
    assert told["Fire service: off"] == ("open", "NOT YET: panel over MANUAL")
    assert told["Fire service: on"][1].endswith("panel over MANUAL")
    fan = next(row[5] for row in table.rows if row[3] == "Fire service: off")
    assert fan.startswith("off, with panel over MANUAL: to be agreed, see the enquiry list")
    for state in states_of(Quoted(design_named("Tannery Row"))):
        assert state.lines or told[state.title][1] == "not judged by the record" or state.key == "panel off"


def test_what_this_sites_loop_cannot_do_is_a_fail_of_the_matrix_with_the_records_words(failing):
    table = table_of(matrix(failing))
    told = {row[3]: (row[-1], state) for row, state in zip(table.rows, table.states, strict=True)}
    assert told["Smoke control"][1] == "wrong"
    assert "not laid down: first the set point" in told["Smoke control"][0]
    assert told["Off, ready"] == ("not judged by the record", "")


def test_the_file_of_words_states_no_figure_of_its_own_but_orders():
    def plain(thing):
        for one in thing.values() if isinstance(thing, dict) else thing:
            yield from plain(one) if isinstance(one, dict | list) else [one]

    words = texts("papers")
    for one in [*words["points"], *words["states"]]:
        one.pop("order", None)
        one.pop("before", None)
    assert not [one for one in plain(words) if re.search(r"\d", re.sub(r"\{[^}]*\}", "", str(one)))]


def test_cause_and_effect_stands_in_the_order_of_the_causes_with_the_intake_damper_beside_them(laid_down):
    rows = rows_of(matrix(laid_down))
    places = [int(row[2].partition(":")[0]) for row in rows if row[2][0].isdigit()]
    assert places == sorted(places)
    assert [row[2][0].isdigit() for row in rows] == sorted((row[2][0].isdigit() for row in rows), reverse=True)
    damper = {row[3]: row[8] for row in rows}
    assert damper["Smoke control"] == "open"
    assert damper["Fire service: off"].startswith("shut, once the fan has stopped")
    assert "which way it goes without power: to be agreed" in damper["Mains lost and back"]


def test_a_lamp_tells_one_thing_and_the_panels_switch_rings_in_one_class(laid_down):
    points = {point.name: point for point in points_of(laid_down)}
    assert len([name for name in points if name.startswith("lamp: ")]) == 3
    assert points["fire service's panel"].alarm_class == points["fire service's panel not in AUTO"].alarm_class == "supervisory"


def test_an_alarm_that_an_evacuation_brings_is_check_in_alarm_list_cause_and_effect_and_sequence(laid_down):
    """Its reason says that it comes with every reading right; and a fallback whose reset nobody has settled is no PASS either."""
    tables = [table_of(paper(laid_down)) for paper in (alarm_list, matrix)]
    marks = [{row[0].partition(":")[0].removeprefix("alarm on "): mark for row, mark in zip(table.rows, table.states, strict=True)}
             for table in tables]  # fmt: skip
    brought = [alarm.on for alarm, _ in quoted_alarms(laid_down) if SOUND_TOO in alarm.why]
    assert brought
    for found in marks:
        assert {found[on] for on in brought} == {"attention"}
        assert found["every reading, signal failed"] == "attention"  # its speed is CHECK, and who resets it is not settled
    (by_alarm,) = [state for state in states_of(laid_down) if state.key == "by alarm"]
    assert verdict_on(laid_down, by_alarm)[1] == "attention"


def test_a_value_that_the_schedules_do_not_lay_down_is_none_to_enter_in_the_points_list(failing, laid_down):
    (table,) = [table for part in points_list(failing).parts for table in part.tables if table.key == "points"]
    marks = dict(zip((row[0] for row in table.rows), table.states, strict=True))
    ranges = {row[0]: row[HEADS.index("Range")] for row in table.rows}
    tap = failing.site.transmitters[0].name
    assert marks[tap] == "open"
    assert "the site file has" in ranges[tap]
    assert marks["set point"] == "wrong"
    sound = dict(zip((point.name for point in points_of(laid_down)), (state for _, state in points_judged(laid_down)), strict=True))
    assert sound[laid_down.site.transmitters[0].name] != "open"
