"""Failed, frozen and disagreeing readings: what each way of falling back does to the doors, against the loop held exactly."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.record.sections.failed_readings import _beside_table
from helpers.studies.cases import Case, conditions_of, usual_cases, with_required
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.failures import KEEP, KEPT, MIDDLE, NOTHING, OWN, SPEED, failures_of
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.readings.words import fallback_judged, fallback_said, no_speed_said, out_said, speed_judged
from helpers.units.said import written_out

STATED_SHUT = tuple(Case(f"{weather}, doors shut", weather) for weather in ("winter", "summer", "mild"))


def study_of(site, cases=None, **more):
    return fallback_study(Tower(site), pressure_window(site), cases, **more)


@pytest.fixture(scope="module")
def larkfield():
    return study_of(read_site(demo_sites()["Larkfield House"]))


@pytest.fixture(scope="module")
def shut():
    """Larkfield House with its doors shut and its stair at the temperatures that its file states."""
    return study_of(read_site(demo_sites()["Larkfield House"]), STATED_SHUT)


def test_with_the_doors_shut_and_the_stair_as_stated_23_to_30_hz_keep_every_door_inside(shut):
    assert shut.speeds_hz == (23.0, 30.0)
    air = shut.air.tower.solve(conditions_of(shut.site, STATED_SHUT), 26.0)
    ends = [(row.min(), row.max()) for row in air.door_dp_pa]
    np.testing.assert_allclose(ends, [(29.9, 56.0), (39.5, 47.4), (38.8, 45.4)], atol=0.3)


def test_a_lone_reading_wants_a_set_point_of_its_own(shut):
    """With the stair as stated and doors shut some 28 Pa suit a lone PDT-1 in winter, some 52 Pa a lone PDT-2: not the 40 Pa of the two."""
    winter = study_of(shut.site, STATED_SHUT[:1])
    alone = winter.alone_pa
    assert alone["PDT-1"] < 35 < 45 < alone["PDT-2"]
    assert winter.at_set_points({"PDT-1": 28.0, "PDT-2": 52.0}).worst_of("PDT-2 (storey 12) lost").good
    assert winter.at_set_points({"PDT-1": 28.0, "PDT-2": 52.0}).worst_of("PDT-1 (storey 1) lost").good


def test_using_the_good_one_at_the_set_point_of_two_jams_the_doors(shut):
    cell = shut.ways[KEPT].cells["PDT-2 (storey 12) lost", "winter, doors shut"]
    assert (cell.column.level, cell.good) == (13, False)
    assert cell.dp_pa == pytest.approx(88.0, abs=0.5)
    assert cell.force_n == pytest.approx(161.0, abs=1.0)
    assert cell.speed_hz == pytest.approx(50.0)
    assert not shut.ways[KEPT].good


@pytest.mark.parametrize("lost", [0, 1])
def test_a_remaining_reading_is_held_as_the_loop_holds_it(larkfield, lost):
    site, air = larkfield.site, larkfield.air
    target = larkfield.set_points_pa[site.transmitters[lost].name]
    held = air.tower.hold(conditions_of(site, air.cases), target, [site.transmitters[1 - lost]], "average")
    margin = np.minimum(*DoorColumns(air.tower, air.window).rooms(DoorColumns(air.tower, air.window).across(held.air), air.standing_open))
    failure = site.transmitters[lost].tag + " lost"
    found = larkfield.ways[OWN]
    for case, exact, judged in zip(air.cases, margin.min(axis=1), larkfield.judged, strict=True):
        if judged:
            assert found.cells[failure, case.name].room_pa == pytest.approx(exact, abs=0.3)


def test_no_other_set_point_that_holds_has_more_room_over_the_box(larkfield):
    def judged(off):
        way = larkfield.at_set_points({"PDT-2": larkfield.alone_pa["PDT-2"] + off})
        lost = [cell for cell in way.every.values() if cell.failure == "PDT-1 (storey 1) lost" and cell.holdable]
        return min(lost, key=lambda cell: cell.room_pa), way.held_room_pa

    best, box = judged(0.0)
    assert best.good
    for off in (-1.0, 1.0):
        cell, other = judged(off)
        assert not cell.good or other <= box + 0.1


def test_of_the_speeds_that_hold_every_door_the_fallback_has_the_most_room_over_the_box_of_leaks(larkfield):
    """And an exact solution agrees that it holds."""
    low, high = larkfield.speeds_in(larkfield.holdable)
    assert low <= larkfield.speed_hz <= high
    own = larkfield.at_speed(larkfield.speed_hz).held_room_pa
    assert all(larkfield.at_speed(speed).held_room_pa <= own + 1e-9 for speed in np.arange(low, high + 0.1, 0.5))
    air = larkfield.air
    doors = DoorColumns(air.tower, air.window)
    solved = air.tower.solve(conditions_of(larkfield.site, air.cases), larkfield.speed_hz)
    room = np.minimum(*doors.rooms(doors.across(solved), air.standing_open)).min(axis=1)[larkfield.holdable].min()
    assert room == pytest.approx(larkfield.ways[SPEED].held_worst.room_pa, abs=0.2)
    assert room >= -0.1


def test_keeping_the_speed_keeps_that_of_an_open_door_when_it_shuts(larkfield):
    """The final exit door open, the fan at full speed, the reading lost, the door shut: the doors jam."""
    cell = larkfield.ways[KEEP].worst_of("both readings lost")
    assert cell.speed_hz == pytest.approx(50.0)
    assert not cell.good


def test_a_speed_is_kept_from_a_case_of_the_same_weather(larkfield):
    air, sound = larkfield.air, larkfield.air.speed_at(larkfield._loop.sound.place)
    for case in air.cases:
        kept = [
            cell.speed_hz
            for (failure, name), cell in larkfield.ways[KEEP].every.items()
            if failure == "both readings lost" and name == case.name
        ]
        own = [speed for other, speed in zip(air.cases, sound, strict=True) if other.weather == case.weather]
        assert all(min(abs(speed - one) for one in own) < 1e-9 for speed in kept)


def test_nothing_done_about_both_lost_ends_at_full_speed(larkfield):
    assert larkfield.ways[NOTHING].worst_of("both readings lost").speed_hz == pytest.approx(50.0)


def test_the_best_way_is_of_those_offered_and_no_other_has_a_better_worst_cell(larkfield):
    best = larkfield.best
    for name in (OWN, KEEP, SPEED):
        other = larkfield.ways[name]
        assert min(best.worst.room_pa, best.box_room_pa) >= min(other.worst.room_pa, other.box_room_pa) - 0.1
    assert best.name != MIDDLE  # there are two transmitters


def test_what_is_good_at_the_stated_leaks_alone_is_not_good(larkfield):
    """Walls that leak more or less than their table, and readings off by their accuracy, count against every way."""
    for way in larkfield.ways.values():
        assert way.box_room_pa <= way.worst.room_pa + 0.1
        assert way.good <= (way.box_room_pa >= -0.1)


def test_a_case_that_no_speed_holds_is_named_and_counts_as_out(larkfield):
    """The design asks for it, so no worst figure leaves it out: an exact solution of the first minute agrees."""
    first = Case("winter, doors shut, first minute", stair="first minute")
    assert first.name in larkfield.unheld
    assert any("final exit 0 open" in name for name in larkfield.unheld)
    assert larkfield.not_judged == ()
    assert larkfield.speeds_hz is None
    way = larkfield.at_speed(29.0)
    cell = way.worst_in(first.name)
    assert (cell.judged, cell.holdable) == (True, False)
    solved = larkfield.air.tower.solve(conditions_of(larkfield.site, [first]), 29.0)
    assert cell.dp_pa == pytest.approx(solved.door_dp_pa.max(), abs=0.2)
    assert cell.below_pa < -5.0
    low, high = way.ends
    assert (high.case, high.below_pa) == (first.name, cell.below_pa)
    assert "final exit 0 open" in low.case
    assert way.worst.room_pa == low.above_pa < -20.0
    assert not way.good
    assert all(box <= end for box, end in zip(way.box_ends_pa, (low.above_pa, high.below_pa), strict=True))


def test_what_the_design_does_not_ask_for_and_no_speed_holds_is_named_and_not_counted():
    site = read_site(demo_sites()["Tannery Row"])
    found = study_of(site)
    assert set(found.not_judged) == {case.name for case in found.air.cases if case.open_exits}
    assert found.unheld == ()
    assert any(case.open_doors == tuple(site.design.open_doors) and not case.open_exits for case in found.air.cases)
    assert found.best.good
    assert written_out(out_said(found.best)) == ""
    asked = study_of(site.with_changes(design={"open_exits": [0], "open_doors": [2, 3]}))
    assert set(asked.unheld) > set(found.not_judged)  # with one stair door of the two shut, too
    assert not asked.best.good


def test_where_no_speed_suits_every_shut_door_both_ends_are_told_in_one_sentence_for_every_page(larkfield):
    low, high = larkfield.shut_ends
    shut = [case for case in larkfield.air.cases if case.shut]
    for cell, end in ((low, "low"), (high, "high")):
        solved = larkfield.air.tower.solve(conditions_of(larkfield.site, shut), cell.speed_hz)
        worst = solved.door_dp_pa.min() - 25.0 if end == "low" else 60.8 - solved.door_dp_pa.max()
        assert cell.room_pa == pytest.approx(worst, abs=0.3)
        assert f"at {cell.speed_hz:.1f} Hz {cell.column.text} is {-cell.room_pa:.1f} Pa too {end}" in written_out(
            fallback_judged(larkfield)
        )
    said = written_out(speed_judged(larkfield))
    assert written_out(no_speed_said(larkfield)) in said
    assert said.startswith("FAIL")
    told = written_out(out_said(larkfield.best))
    assert told in said
    assert told.startswith("already with the leaks of the file: stair door 13 at ")
    assert "first minute: no speed holds it" in told
    assert f"{-larkfield.best.box_room_pa:.1f} Pa too low" in told


def test_a_reading_beside_an_open_door_sends_the_fan_up_and_left_out_for_a_time_does_not(larkfield):
    beside = next(one for one in larkfield.beside if one.case == "winter, stair door 1 open")
    assert beside.tap == "PDT-1"
    assert beside.apart_pa > larkfield.deviation_limit_pa
    assert not beside.believed.good
    assert beside.left_out.room_pa > beside.believed.room_pa


def test_alarm_limits_are_silent_on_every_sound_loop_whose_doors_are_inside(larkfield):
    limits, (sound, _) = larkfield.alarm_limits, larkfield._tried
    inside = (sound.out_pa <= 0.1) & ~sound.at_end
    assert inside.sum() > 20
    for place, one in enumerate(limits.readings):
        assert one.low_pa <= sound.readings_pa[inside, place].min()
        assert one.high_pa >= sound.readings_pa[inside, place].max()
    assert np.ptp(sound.readings_pa[inside], axis=1).max() <= limits.deviation_pa


def test_limits_on_each_reading_leave_less_silent_than_limits_on_the_combined_one(larkfield):
    combined = larkfield.silence_of_combined(25.0, 60.0)
    assert combined.out_pa > 20  # an average of 40 Pa says nothing of a door
    own = larkfield.alarm_limits.silent
    assert own is None or own.out_pa < 0.6 * combined.out_pa


def test_a_row_of_a_door_beside_a_transmitter_passes_only_where_both_of_its_doors_are_inside(larkfield):
    inside = next(one.left_out for one in larkfield.beside if one.left_out is not None and one.left_out.good)
    outside = next(one.believed for one in larkfield.beside if not one.believed.good)
    rows = [replace(larkfield.beside[0], believed=a, left_out=b) for a in (inside, outside) for b in (inside, outside, None)]
    study = SimpleNamespace(beside=rows, site=larkfield.site)
    assert written_out(_beside_table(study)).states == ("good", "wrong", "good", "wrong", "wrong", "wrong")


def test_a_door_open_beside_a_transmitter_does_not_widen_the_alarm_limits(stair):
    """In a stair of three storeys two doors that people use stand beside the lower transmitter."""
    found = study_of(stair(3))
    assert any(0 in case.open_doors for case in found.air.cases)
    assert found.alarm_limits.readings[0].low_pa > 25.0
    assert found.deviation_limit_pa < 30.0


def test_silence_is_said_with_its_cause_and_its_door(larkfield):
    text = larkfield.silence_of_combined(25.0, 60.0).text()
    assert "PDT-" in text
    assert "stair door" in text


def test_a_failure_of_two_cannot_be_laid_at_one_reading_and_of_three_it_can(a_transmitter):
    two = {failure.text: failure.known for failure in failures_of([a_transmitter("A"), a_transmitter("B")])}
    three = {failure.text: failure.known for failure in failures_of([a_transmitter(name) for name in "ABC"])}
    assert not two["A (storey 0) stuck at the top of its range"]
    assert three["A (storey 0) stuck at the top of its range"]
    assert "two readings disagree, and nobody knows which is wrong" in two


def test_a_signal_without_a_live_zero_is_not_known_to_be_lost(a_transmitter):
    lost = failures_of([a_transmitter("A", signal="0-10 V"), a_transmitter("B")])[0]
    assert not lost.known
    assert "cannot tell from no pressure" in lost.text


def test_what_is_not_there_is_refused_in_a_sentence(larkfield):
    with pytest.raises(ValueError, match=r"alone_pa must name readings of this site \(PDT-1 and PDT-2\); got 'PDT-9'"):
        larkfield.at_set_points({"PDT-9": 30.0})
    with pytest.raises(ValueError, match="speed_hz must be from 10 to 50 Hz, the fan's; got 80"):
        larkfield.at_speed(80.0)
    with pytest.raises(ValueError, match="does must be one of use the good ones"):
        larkfield.as_stated("pray")


def test_a_strategy_files_words_lead_to_the_ways(larkfield):
    assert larkfield.as_stated("use the good ones").name == KEPT
    assert larkfield.as_stated("nothing").name == NOTHING
    assert larkfield.as_stated("agreed fallback speed", 40.0).worst.good is False
    assert larkfield.as_stated(OWN, alone_pa={"PDT-1": 28.0}).cells != larkfield.ways[OWN].cells


def test_one_transmitter_falls_back_on_a_speed(stair):
    found = study_of(stair(6, transmitters=[{"level": 2}]))
    assert found.set_points_pa == {}
    assert found.deviation_limit_pa is None
    assert found.best.name == SPEED
    assert OWN not in found.ways  # nothing remains


def test_one_cause_for_all_readings_is_outvoted_by_none(stair, a_transmitter):
    """One fuse, one reference tube: three readings at zero, and the middle of three believes them."""
    found = study_of(stair(6, transmitters=[a_transmitter("A", 0), a_transmitter("B", 2), a_transmitter("C", 5)]))
    cause = "one cause for all: every reading at the bottom of its range, signals healthy"
    assert found.ways[MIDDLE].worst_of(cause).speed_hz == pytest.approx(50.0)
    assert not found.ways[MIDDLE].worst_of(cause).good
    assert found.ways[SPEED].worst_of(cause).good == found.ways[SPEED].worst_of("A (storey 0) lost").good


def test_three_transmitters_can_run_by_the_middle_one(stair, a_transmitter):
    site = stair(6, transmitters=[a_transmitter("A", 0), a_transmitter("B", 2), a_transmitter("C", 5)])
    found = study_of(site)
    assert found.middle_pa is not None
    assert found.ways[MIDDLE].worst_of("B (storey 2) stuck at the top of its range").good


@pytest.mark.parametrize("changes", [{}, {"control": {"rule": "lowest", "set_point_pa": 33.0}}, {"stair": {"relief": None}}])
def test_of_three_readings_a_lost_one_leaves_the_loop_to_the_others_where_they_hold_in_their_box(changes):
    """The fallback speed of the same site has more room at its worst door, and is blind: it is for when fewer are left."""
    site = read_site(demo_sites()["Tannery Row"])
    third = site.transmitters[0].model_copy(update={"name": "PDT-3", "level": 4})
    found = study_of(site.model_copy(update={"transmitters": [*site.transmitters, third]}).with_changes(**changes))
    assert found.best.name in (OWN, MIDDLE)
    one = [failure.text for failure in found.failures if failure.tap is not None]
    for name, room in found.one_lost_pa.items():
        assert room <= min(found.ways[name].worst_of(text).room_pa for text in one) + 0.1
    assert found.one_lost_pa[found.best.name] > 0
    assert re.search("[0-9.]+ Hz where (fewer (than two )?are|none is) left", written_out(fallback_said(found)))
    assert study_of(site).one_lost_pa == {}


def test_an_exhaust_fan_is_searched_for_the_other_way_round(stair):
    """An exhaust fan pulls the stair below the floors: less speed means more pressure."""
    doors = {"stair": {"minimum_dp_pa": None, "opens": "with pressure"}}
    taps = [{"range_low_pa": -100.0, "range_high_pa": 25.0}] * 2
    site = stair(6, doors=doors, fan={"effect": "exhaust"}, transmitters=taps, control={"set_point_pa": -20.0, "action": "direct"})
    found = study_of(site)
    held = found.air.tower.hold(conditions_of(site, found.air.cases))
    np.testing.assert_allclose(found.air.speed_at(found._loop.sound.place), held.air.speed_hz, atol=0.3)


def test_doors_that_suit_no_pressure_leave_nothing_to_recommend(stair):
    found = study_of(stair(6, doors={"stair": {"minimum_dp_pa": 90.0}}))
    assert found.best is None
    assert found.speed_hz is None
    assert found.alarm_limits is None
    assert found.ways == {}


def test_a_weak_fan_leaves_only_the_cases_it_can_hold(stair):
    found = study_of(stair(6, fan={"highest_speed_hz": 10.0}))
    assert found.unheld
    for name in found.unheld:
        assert all(case != name for way in found.ways.values() for _, case in way.cells)


def test_fan_stop_is_never_a_way_of_falling_back(larkfield):
    assert "stop" not in larkfield.ways


def test_every_case_of_every_weather_is_asked_about(larkfield):
    names = {case.name for case in larkfield.air.cases}
    for weather in larkfield.site.weather:
        assert names >= {case.name for case in usual_cases(larkfield.site, weather)}
    assert isinstance(conditions_of(larkfield.site, larkfield.air.cases), Conditions)
    every, required = with_required(larkfield.site, usual_cases(larkfield.site))
    assert set(larkfield.air.cases) >= {case for case, asked in zip(every, required, strict=True) if asked}
