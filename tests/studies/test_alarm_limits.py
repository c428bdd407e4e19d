"""Alarm limits and delays: what a sound loop shows through a year and while people use a door does not ring."""

from copy import copy
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, design_of, site_of

from helpers.formulas import signals
from helpers.model.air.tower import Tower
from helpers.record.sections.signed import design_schedule
from helpers.record.settings.fallback_lines import ceiling_hz
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.alarms import (
    DELAY_OPEN,
    MOST_HOURS,
    PASSAGE_S,
    DoorInTheLoop,
    Silence,
    apart_of,
    late_said,
    latest_s,
    silence,
    silence_state,
)
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.readings.words import alarm_lines, alarm_why
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def design():
    return design_for(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS))


def year_of(design):
    year = design.year
    sound = year.inside & (year.held.state == "held")
    return design.built_tower.readings(year.held.air, design.built.transmitters)[sound]


def test_through_the_records_own_year_at_most_so_many_hours_lie_beyond_any_limit(design):
    limits, readings = design.fallback.alarm_limits, year_of(design)
    assert len(readings) > 8000
    for one, column in zip(limits.readings, readings.T, strict=True):
        assert (column < one.low_pa).sum() <= MOST_HOURS
        assert (column > one.high_pa).sum() <= MOST_HOURS
    assert (apart_of(readings) > limits.deviation_pa).sum() <= MOST_HOURS
    assert limits.year_hours <= MOST_HOURS


def test_silence_is_graded_by_how_much_of_its_limit_the_door_has_lost():
    assert [silence_state(out, 25.0) for out in (0.2, 5.0, 5.1)] == ["attention", "attention", "wrong"]
    assert silence_state(0.2, 0.0) == "wrong"


def test_of_two_silences_the_one_with_the_greater_harm_is_told(design):
    """15 Pa past a most of 100 Pa are less than 6 Pa short of 25 Pa."""
    air = SimpleNamespace(
        doors=SimpleNamespace(columns=[SimpleNamespace(text="A"), SimpleNamespace(text="B")]), cases=[SimpleNamespace(name="cold")]
    )
    harm, limit = np.array([15.0, 6.0, 30.0]), np.array([100.0, 25.0, 100.0])
    shown = SimpleNamespace(
        what=("x",) * 3,
        case=np.zeros(3, int),
        out_pa=harm,
        share=harm / limit,
        door=np.array([0, 1, 0]),
        harm_pa=harm,
        limit_pa=limit,
        upper=limit > 50.0,
    )
    told = silence(SimpleNamespace(air=air), (shown,), 0.1, lambda rows: rows.harm_pa > 20.0)
    assert (told.door, told.out_pa, told.limit_pa, told.end, told.state) == ("B", 6.0, 25.0, "least", "wrong")
    of_site = design.fallback.alarm_limits.silent
    (finding,) = (one for one in design.section("failure").findings if one.what.startswith("No alarm limits both ring"))
    assert (finding.severity, written_out(finding.figure)) == (of_site.state, written_out(of_site.judged()))
    study, (sound, others) = design.fallback, design.fallback._tried
    for shown in (sound, others):  # of each row the door that loses most of a limit is no further out than the worst
        assert (shown.harm_pa <= shown.out_pa + 1e-9).all()
        assert np.allclose(shown.share * np.abs(shown.limit_pa), shown.harm_pa)
    assert of_site.out_pa > study.tolerance_pa


def test_the_latest_that_alarms_may_come_is_one_figure_for_record_and_review(design):
    assert latest_s(difference=True) == latest_s() + PASSAGE_S
    assert late_said(latest_s()) == late_said(latest_s(difference=True), difference=True) == ""
    assert late_said(latest_s() + 1) == "CHECK: later than 60 s, a quicker loop first"
    limits = design.fallback.alarm_limits
    assert limits.deviation_after_s > latest_s()  # and no finding: a person in a door beside a transmitter is to be outlasted
    (row,) = (row for row in alarm_lines(design.fallback) if row[0].startswith("difference"))
    assert "CHECK" not in row[-1]
    slow = copy(design.fallback)
    slow.alarm_limits = replace(limits, deviation_after_s=95.0)
    (row,) = (row for row in alarm_lines(slow) if row[0].startswith("difference"))
    assert row[-1].endswith("CHECK: later than 90 s, a quicker loop first")


def test_a_year_with_more_wind_than_the_cases_widens_the_limits(design):
    tower, window = design.tower, design.window
    without = fallback_study(tower, window).alarm_limits
    wild = np.tile([[0.0, 45.0]], (100, 1))
    within = fallback_study(tower, window).with_alarms(wild).alarm_limits
    assert within.readings[0].low_pa < 0 < without.readings[0].low_pa
    assert within.readings[1].high_pa > 45 > without.readings[1].high_pa
    assert within.deviation_pa > 45 > without.deviation_pa
    few = np.vstack([np.tile([[22.0, 22.0]], (200, 1)), wild[:MOST_HOURS]])
    assert fallback_study(tower, window).with_alarms(few).alarm_limits.deviation_pa == without.deviation_pa


def test_limits_are_wider_than_sound_loops_show_by_the_accuracy_of_the_reading(design):
    study = design.fallback
    limits, (sound, _) = study.alarm_limits, study._tried
    beside = {case.name for case in study.air.cases if {tap.level for tap in design.site.transmitters} & set(case.open_doors)}
    kept = [
        (out <= 0.1 and not end and study.air.cases[case].name not in beside)
        for out, end, case in zip(sound.out_pa, sound.at_end, sound.case, strict=True)
    ]
    seen = sound.readings_pa[kept]
    for place, (one, tap) in enumerate(zip(limits.readings, design.site.transmitters, strict=True)):
        off = float(signals.accuracy(tap.range_low_pa, tap.range_high_pa, tap.accuracy_percent_span))
        assert one.low_pa <= seen[:, place].min() - off
        assert one.high_pa >= seen[:, place].max() + off


def test_a_single_transmitters_limits_are_not_narrower_than_its_accuracy(stair):
    site = stair(transmitters=[{}])
    (one,) = fallback_study(Tower(site), pressure_window(site)).alarm_limits.readings
    tap = site.transmitters[0]
    off = float(signals.accuracy(tap.range_low_pa, tap.range_high_pa, tap.accuracy_percent_span))
    assert one.low_pa <= site.control.set_point_pa - off
    assert one.high_pa >= site.control.set_point_pa + off


def test_an_alarm_waits_longer_than_the_door_event_keeps_a_reading_beyond_its_limits(design):
    limits = design.fallback.alarm_limits
    event = DoorInTheLoop(design.built_tower, design.fallback.air.cases, design.tuning.recommended)
    np.testing.assert_allclose(event.readings_pa[0].mean(axis=1), design.site.control.set_point_pa, atol=0.1)  # an average, held
    low, high = (np.array([getattr(one, name) for one in limits.readings]) for name in ("low_pa", "high_pa"))
    beyond = ((event.readings_pa < low) | (event.readings_pa > high)).any(axis=-1)
    longest = max(np.diff(np.flatnonzero(np.diff(np.concatenate([[0], column.astype(int), [0]])))).max(initial=0) for column in beyond.T)
    step = event.time_s[1] - event.time_s[0]
    assert longest * step == pytest.approx(limits.event_s, abs=0.2)
    assert limits.after_s > limits.event_s > 30
    assert limits.deviation_after_s > limits.after_s


def test_a_loop_that_does_not_come_back_has_no_such_time():
    class Slow:
        time_s = np.arange(0.0, 100.0)

    beyond = np.zeros((100, 2), bool)
    beyond[20:, 0] = True
    assert DoorInTheLoop.outside_s(Slow(), beyond) is None
    beyond[60:, 0] = False
    assert DoorInTheLoop.outside_s(Slow(), beyond) == 40.0


def test_what_the_limits_leave_room_for_is_said_beside_them(design):
    section = next(section for section in design.record().sections if section.key == "failure")
    note = next(table.note for table in section.tables if table.key == "alarm limits")
    for words in ("accuracy", "hours of a typical year", "door event"):
        assert words in note


@pytest.fixture(scope="module")
def sleepy(larkfield_design):
    """The tower of Larkfield House with an integral time so long that its loop, as stated, does not come back after a door."""
    return Tower(larkfield_design.built.with_changes(control={"integral_time_s": 60.0}))


def test_the_delay_is_that_of_the_tuning_to_be_entered_at_the_worst_of_its_lags(larkfield_design, sleepy):
    design, tuned = larkfield_design, larkfield_design.tuning.recommended
    study = fallback_study(sleepy, design.window).with_alarms(tuned=tuned)
    limits, said = study.alarm_limits, written_out(alarm_why(study))
    low, high = (np.array([getattr(one, name) for one in limits.readings]) for name in ("low_pa", "high_pa"))
    event = DoorInTheLoop(sleepy, study.air.cases, tuned)
    found = event.outside_s(_beyond(event, low, high))
    assert limits.tuned
    assert limits.event_s == pytest.approx(found)
    assert limits.after_s > found > 50  # the door stands open for 50 s
    assert "tune first" not in said
    assert "at the worst of its lags" in said
    assert "CHECK: later than 60 s" in said
    count = event.readings_pa.shape[1] // 3
    ways = [DoorInTheLoop.outside_s(_Part(event), _beyond(event, low, high)[:, k * count : (k + 1) * count]) for k in range(3)]
    assert found == max(ways) > min(ways)  # the lags decide
    assert design.fallback.alarm_limits.tuned


def test_a_reading_that_is_off_is_said_to_read_so():
    told = written_out(Silence(8.0, 25.0, "least", "stair door 1", "winter", reading="PDT-1", off_pa=66.0).text())
    assert told.startswith("PDT-1 reads 66 Pa too high, winter: ")  # not that 66 Pa is too high


def test_where_no_tuning_passes_no_delay_is_laid_down(larkfield_design, sleepy):
    study = fallback_study(sleepy, larkfield_design.window)
    assert study.alarm_limits.event_s is None
    assert "tune first" in written_out(alarm_why(study))
    rows = {row[0]: row[2] for row in written_out(tuple(alarm_lines(study)))}
    assert rows["PDT-1"] == rows["difference of any two readings"] == rows["fan speed"] == DELAY_OPEN


def _beyond(event, low, high):
    return ((event.readings_pa < low) | (event.readings_pa > high)).any(axis=-1)


class _Part:
    def __init__(self, event):
        self.time_s = event.time_s


def test_of_each_alarm_it_is_said_whether_the_drive_falls_back_and_why_as_the_study_has_it(design):
    study = design.fallback
    speed = f"alarm and fallback to {study.speed_hz:.1f} Hz"
    rows = {row[0]: row[3:] for row in written_out(tuple(alarm_lines(study)))}
    assert study.best.state != "wrong"
    for name in ("PDT-1", "PDT-2", "difference of any two readings", "each reading, frozen"):
        assert rows[name][0] == speed
    stuck = written_out(study.ways["nothing is done"].worst_of("PDT-1 (storey 1) stuck at the top of its range"))
    assert f"left alone, {stuck.failure}: {written_out(stuck.text())}" in rows["PDT-1"][1]
    assert f"with every reading right in {len(study.alarm_limits.rung[0])} of {len(study.air.cases)} cases" in rows["PDT-1"][1]
    assert rows["fan speed"][0] == "alarm only"
    for does, why in (row[3:] for row in written_out(tuple(alarm_lines(study, "46 Hz is beyond 40 Hz"))) if row[0] != "fan speed"):
        assert does == "alarm only"
        assert why.startswith(("FAIL: no way of falling back is to be entered", "as for PDT-1"))


def test_an_alarm_on_the_fans_speed_lies_under_the_ceiling_or_is_said_to_be_none():
    """Sound loops run up to 36 Hz, and with the relief damper stuck shut the doors bear 31.4 Hz: an alarm above that could never ring."""
    design = design_of("Tannery Row")
    study, ceiling = design.fallback, ceiling_hz(design.duty.full)
    assert study.alarm_limits.speed_hz[1] > ceiling
    said, why = next((row[1], row[4]) for row in written_out(tuple(alarm_lines(study, ceiling_hz=ceiling))) if row[0] == "fan speed")
    assert "above" not in said
    assert "end stop" in said
    assert f"no upper limit: sound loops run up to 36 Hz, and above {ceiling:.1f} Hz a shut door is too heavy to open" in why
    free = next(row for row in written_out(tuple(alarm_lines(study, ceiling_hz=40.0))) if row[0] == "fan speed")
    assert "above 36 Hz" in free[1]
    assert "no upper limit" not in free[4]
    lines = {line.name: line.value for line in written_out(design_schedule(design))}
    assert lines["alarm on fan speed"].startswith(said)


def test_no_alarm_stands_on_a_low_speed_that_the_ceiling_does_not_let_the_fan_reach(design):
    """It would ring as long as the fan runs: at the ceiling, or under it, it is refused with the reason, above it stays."""
    study = design.fallback
    low, high = study.alarm_limits.speed_hz
    assert study.air.limits_hz[0] < low
    for ceiling, refused in ((low - 0.5, True), (low, True), (float("nan"), True), (0.5 * (low + high), False), (None, False)):
        said, why = next((row[1], row[4]) for row in written_out(tuple(alarm_lines(study, ceiling_hz=ceiling))) if row[0] == "fan speed")
        assert ("below" in said) != refused
        assert ("no lower limit" in why and "it would ring all the time" in why) == refused
        assert "end stop" in said


def test_with_the_remaining_reading_at_its_own_set_point_a_frozen_one_is_left_out_and_a_difference_goes_to_the_speed(design, monkeypatch):
    study = design.fallback
    monkeypatch.setattr(study, "best", study.ways["remaining reading at its own set point"])
    rows = {row[0]: row[3] for row in written_out(tuple(alarm_lines(study)))}
    assert rows["each reading, frozen"] == "alarm and that reading left out, what remains at its own set point"
    assert rows["difference of any two readings"] == rows["PDT-1"] == f"alarm and fallback to {study.speed_hz:.1f} Hz"
    monkeypatch.setattr(study, "alarm_limits", replace(study.alarm_limits, event_s=None))
    rows = {row[0]: row[3] for row in written_out(tuple(alarm_lines(study)))}
    assert rows["PDT-1"] == rows["difference of any two readings"] == "alarm only, as long as no delay is laid down"
    assert rows["each reading, frozen"].startswith("alarm and")
    monkeypatch.setattr(study, "best", study.ways["keep the speed"])
    assert {row[3] for row in written_out(tuple(alarm_lines(study)))} == {"alarm only"}


SLOW = {
    "slow sensor": {"transmitters": [{"response_s": 30.0}] * 2},
    "long tube": {"transmitters": [{"tube_length_m": 300.0, "tube_bore_m": 0.003}] * 2},
    "slow bus": {"control": {"bus_delay_s": 20.0}},
}


@pytest.mark.parametrize("changes", SLOW.values(), ids=SLOW)
def test_a_reading_that_lives_but_is_slow_is_not_called_frozen(stair, changes):
    quick, slow = (fallback_study(Tower(site), pressure_window(site)) for site in (stair(), stair(**changes)))
    limits = slow.alarm_limits
    assert limits.frozen_s > 2 * quick.alarm_limits.frozen_s
    assert any(f"{limits.lag_s:.2g} s of transmitter" in row[-1] for row in written_out(tuple(alarm_lines(slow))))
    draws, keep = np.random.default_rng(4), np.exp(-limits.renewed_s / limits.lag_s)
    noise = [draws.standard_normal(1000)]  # of one step behind the lag, as the text asks for
    while len(noise) * limits.renewed_s <= limits.frozen_s:
        noise.append(keep * noise[-1] + np.sqrt(1 - keep**2) * draws.standard_normal(1000))
    assert not (np.ptp(noise, axis=0) < 2.0).any()
