"""The injection table: displays by hand, rules told apart, tolerances added up."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.model.site.schema import Transmitter
from helpers.studies.commissioning.hand_back import NOT_LEFT
from helpers.studies.commissioning.injection import PARTS, _SideBySide, injection_table
from helpers.studies.commissioning.proof import check_plan
from helpers.studies.commissioning.sheets import panel_time
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.alarms import ReadingLimits
from helpers.studies.readings.failures import OWN
from helpers.studies.readings.fallback import fallback_study
from helpers.studies.readings.words import left_said, moves_fan
from helpers.units.said import written_out

PROPERTY = settings(max_examples=40, derandomize=True, deadline=None)


def tap(name, signal="4-20 mA", low=0.0, high=100.0):
    return Transmitter(
        name=name, level=0, range_low_pa=low, range_high_pa=high, signal=signal, accuracy_percent_span=1.0, converter_bits=12
    )  # fmt: skip


TWO = (tap("A"), tap("B"))


@pytest.fixture(scope="module")
def fallback():
    site = read_site(demo_sites()["Larkfield House"])
    return fallback_study(Tower(site), pressure_window(site))


def row(table, *percents):
    return next(row for row in table.rows if row.percents == percents)


@pytest.mark.parametrize(("percent", "milliamps", "pascals"), [(5, 4.8, 5), (25, 8, 25), (75, 16, 75), (95, 19.2, 95)])
def test_each_input_is_checked_along_its_signal(percent, milliamps, pascals):
    found = row(injection_table(TWO, "average"), float(percent), 50.0)
    assert found.signals == pytest.approx((milliamps, 12.0))
    assert found.readings_pa == pytest.approx((pascals, 50.0))
    assert found.combined_pa == pytest.approx((pascals + 50) / 2)


def test_a_two_sided_range_reads_zero_half_way_up():
    found = injection_table((tap("A", "0-10 V", -25.0, 25.0),), "average").rows[0]
    assert found.signals == (5.0,)
    assert found.readings_pa == (0.0,)


def test_a_low_and_a_high_input_tell_average_lowest_highest_and_single_inputs_apart():
    low_high, high_low = (row(injection_table(TWO, "average"), *pair) for pair in ((25.0, 75.0), (75.0, 25.0)))
    assert low_high.if_instead_pa == {"average": 50, "lowest": 25, "highest": 75, "only A": 25, "only B": 75}
    assert high_low.if_instead_pa == {"average": 50, "lowest": 25, "highest": 75, "only A": 75, "only B": 25}


@pytest.mark.parametrize("rule", ["average", "lowest", "highest"])
def test_with_two_transmitters_every_combination_is_told_apart(rule):
    assert injection_table(TWO, rule).not_told_apart == ()


@PROPERTY
@given(count=st.integers(2, 5), rule=st.sampled_from(["average", "lowest", "highest"]), seed=st.integers(0, 4))
def test_displays_seen_point_to_what_the_drive_does(count, rule, seed):
    taps = [tap(str(number)) for number in range(count)]
    table = injection_table(taps, rule)
    truth = table.hypotheses[seed % len(table.hypotheses)]
    assert table.fits([found.if_instead_pa[truth] for found in table.rows]) == (truth,)


def test_a_display_that_fits_nothing_leaves_nothing():
    table = injection_table(TWO, "average")
    assert table.fits([33.3] * len(table.rows)) == ()


def test_rows_not_yet_seen_rule_nothing_out():
    table = injection_table(TWO, "average")
    assert table.fits([None] * len(table.rows)) == table.hypotheses


def test_a_wire_off_a_live_zero_signal_is_left_out_of_the_average():
    found = row(injection_table(TWO, "average"), None, 50.0)
    assert found.signals == (0.0, 12.0)
    assert found.readings_pa == (None, 50.0)
    assert found.combined_pa == 50.0  # not the average of 50 and what 0 mA would stand for
    assert "taken as failed and left out" in found.purpose


def test_a_wire_off_a_dead_zero_signal_reads_as_the_bottom_of_the_range():
    volts = (tap("A", "0-10 V"), tap("B", "0-10 V"))
    found = row(injection_table(volts, "average"), None, 50.0)
    assert found.readings_pa == (0.0, 50.0)
    assert found.combined_pa == 25.0
    assert "cannot tell it from 0 %" in found.purpose


def test_no_signal_lies_on_the_end_of_its_range_where_an_input_that_clips_hides_an_offset():
    """An input that reads 0.1 mA too little and clips at 4 mA shows a right figure at 4.00 mA and a wrong one at 4.80 mA."""
    for found in injection_table(TWO, "average").rows:
        assert all(percent is None or 1 < percent < 99 for percent in found.percents)


def test_every_wire_off_at_once_is_a_step_and_asks_for_the_fallback_speed_told_by_the_controller_while_the_fan_runs():
    found = row(injection_table(TWO, "average"), None, None)
    assert found.combined_pa is None
    assert found.part == "failed signals"
    assert "fallback speed" in found.must
    assert "the controller tells it, and the fan runs on" in found.must
    assert "nobody in the stair" in found.must
    volts = injection_table((tap("A", "0-10 V"), tap("B", "0-10 V")), "average")
    assert "cannot all be seen as failed" in row(volts, None, None).must


def test_the_fewest_points_the_range_the_wires_and_the_alarms_are_one_plan(fallback):
    taps = fallback.site.transmitters
    fewest = [point.percents for point in check_plan(taps, "average").points]
    table = injection_table(taps, "average", fewest=fewest, fallback=fallback)
    assert [found.percents for found in table.rows[: len(fewest)]] == fewest
    assert [part for part in PARTS if any(found.part == part for found in table.rows)] == list(PARTS)
    assert [PARTS.index(found.part) for found in table.rows] == sorted(PARTS.index(found.part) for found in table.rows)
    assert f"{fallback.speed_hz:.1f} Hz" in row(table, None, None).must


def test_a_step_in_automatic_says_when_the_person_at_the_switch_takes_over(fallback):
    table = injection_table(fallback.site.transmitters, "average", fallback=fallback)
    speed = f"{fallback.speed_hz:.1f} Hz"
    automatic = [found for found in table.rows if found.fan == "AUTO"]
    assert automatic
    for found in automatic:
        settled = np.ceil(found.wait_s + 2 * fallback.reached_after_s)
        assert (
            f"If it runs more than 1 Hz past {speed}, or has not settled at it after {settled:.0f} s: MANUAL at once, stop the test"
            in found.must
        )
        assert "nobody in the stair" in found.must
    assert f"PDT-1 (storey 1) wire off: taken as failed; the loop goes to {speed}. Look, in automatic" in row(table, None, 50.0).said
    assert {found.fan for found in table.rows if found not in automatic} == {"MANUAL"}


def test_one_alarm_is_seen_to_move_the_fan_while_the_loop_sees_its_set_point_and_none_where_it_moves_nothing(fallback):
    def in_auto(study, rule):
        return [found for found in injection_table(TWO, rule, fallback=study).rows if (found.part, found.fan) == ("alarms", "AUTO")]

    site = read_site(demo_sites()["Tannery Row"]).with_changes(stair={"relief": {"area_m2": 0.51, "count": 3}})
    falls = fallback_study(Tower(site), pressure_window(site))
    assert (moves_fan(falls), moves_fan(fallback)) == (True, False)
    for rule in ("average", "lowest", "highest"):
        (seen,) = in_auto(falls, rule)
        assert seen.if_instead_pa[rule] == pytest.approx(site.control.set_point_pa, abs=0.01)
        assert f"In automatic, nobody in the stair: {falls.speed_hz:.1f} Hz within" in seen.must
        assert "difference alarm after" in seen.must
        assert not in_auto(fallback, rule)


def test_what_is_not_laid_down_is_not_proved_and_nothing_runs_in_automatic_for_it(fallback):
    first = "not laid down: first the set point"
    bare, with_alarms = (injection_table(TWO, "average", fallback=study, not_laid_down=first) for study in (None, fallback))
    for table in (bare, with_alarms):
        assert {found.fan for found in table.rows} == {"MANUAL"}
        assert first in row(table, None, None).must
        assert row(table, None, None).must.endswith(f": {NOT_LEFT}")
        for lost in (row(table, None, 50.0), row(table, 50.0, None)):
            assert (lost.combined_pa, set(lost.if_instead_pa.values())) == (None, {None})
            assert lost.said.endswith(f"wire off: its alarm, told as failed. What the loop then does is not laid down: {NOT_LEFT}")
        assert not any(f"{fallback.speed_hz:.1f} Hz" in found.said for found in table.rows)
        assert table.not_proved.startswith("NOT LAID DOWN: do not prove a fallback speed")
    assert "alarm limits" in bare.not_proved
    assert "alarm limits" not in with_alarms.not_proved
    assert injection_table(TWO, "average", fallback=fallback).not_proved == ""


def test_the_time_at_the_panel_counts_lock_outs_signals_and_waits(fallback):
    table = injection_table(TWO, "average", fewest=[(5.0, 95.0), (95.0, 5.0)], fallback=fallback)
    waits = sum(found.wait_s for found in table.rows) / 60
    assert waits > 5
    assert sum(found.wait_s > 0 for found in table.rows) == sum(found.part == "alarms" for found in table.rows)
    minutes = 40 + 2 * len(table.rows) + waits
    said = panel_time(table.rows)
    assert minutes <= float(said.removeprefix("Time at the panel: about ").partition(" ")[0]) < minutes + 5
    assert "Two lock-outs" in said


def test_an_alarm_step_lies_beyond_its_limit_by_more_than_the_input_may_be_off(fallback):
    taps, limits = fallback.site.transmitters, fallback.alarm_limits
    table = injection_table(taps, "average", fallback=fallback)
    steps = [found for found in table.rows if found.part == "alarms"]
    assert len(steps) == 1 + 2 * len(taps) + 2
    assert f"held still for {limits.frozen_s:g} s" in steps[0].must
    assert all(one.low_pa < value < one.high_pa for one, value in zip(limits.readings, steps[0].readings_pa, strict=True))
    low = next(found for found in steps if found.purpose == "PDT-1 (storey 1): just beyond its low alarm")
    assert low.readings_pa[0] == pytest.approx(limits.readings[0].low_pa - 2 * table.tolerance_pa[0])
    assert low.must.startswith(f"PDT-1: low alarm after {limits.after_s:g} s")
    apart = [found for found in steps if "further apart" in found.purpose]
    assert all(abs(found.readings_pa[1] - found.readings_pa[0]) > limits.deviation_pa for found in apart)
    assert all(f"difference alarm after {limits.deviation_after_s:g} s" in found.must for found in apart)


def test_a_single_transmitter_with_its_wire_off_leaves_no_reading():
    table = injection_table(TWO[:1], "average")
    assert table.hypotheses == ("average",)
    assert row(table, None).combined_pa is None


def test_tolerances_add_calibrator_input_and_converter_step():
    table = injection_table(TWO, "average", calibrator_percent=0.1, input_percent=0.4)
    step = 100 * 20 / 16 / 4096
    assert table.tolerance_pa == pytest.approx((0.5 + step,) * 2)
    assert table.pressure_tolerance_pa == pytest.approx((1.5 + step,) * 2)  # 1 % of the transmitter on top
    assert table.combined_tolerance_pa == pytest.approx(0.5 + step)


def test_a_picked_reading_has_the_largest_tolerance_an_average_the_mean():
    mixed = (tap("A", high=100.0), tap("B", high=500.0))
    average, lowest = (injection_table(mixed, rule) for rule in ("average", "lowest"))
    assert average.combined_tolerance_pa == pytest.approx(sum(average.tolerance_pa) / 2)
    assert lowest.combined_tolerance_pa == max(lowest.tolerance_pa)


def test_three_transmitters_are_also_asked_for_the_middle():
    table = injection_table((*TWO, tap("C")), "middle")
    assert table.hypotheses[:4] == ("middle", "average", "lowest", "highest")
    assert table.not_told_apart == ()
    assert row(table, 5.0, 50.0, 50.0).combined_pa == 50.0


def test_weights_count_in_the_combined_display():
    assert row(injection_table(TWO, "weighted", (0.75, 0.25)), 25.0, 75.0).combined_pa == pytest.approx(37.5)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (((), "average"), "at least one transmitter"),
        ((TWO, "least"), "rule must be one of"),
        ((TWO, "weighted"), "weights must be given"),
        ((TWO, "weighted", (1.0, 1.0, 1.0)), "weights must be one for each transmitter"),
        ((TWO, "average", None, -1.0), "calibrator_percent must be 0 or more"),
        ((TWO, "average", None, 0.1, float("nan")), "input_percent must be a finite number"),
    ],
)
def test_nonsense_gets_one_sentence(arguments, words):
    with pytest.raises(ValueError, match=words):
        injection_table(*arguments)


def test_steps_that_hold_two_readings_further_apart_than_the_difference_alarm_are_named_with_what_to_do(fallback):
    limits, taps = fallback.alarm_limits, fallback.site.transmitters
    table = injection_table(taps, "average", fallback=fallback)
    numbers, apart = written_out(table.apart(limits.deviation_pa))
    for number, found in enumerate(table.rows, 1):
        shown = None not in found.readings_pa and found.part != "alarms"
        assert (number in numbers) == (shown and max(found.readings_pa) - min(found.readings_pa) > limits.deviation_pa)
    assert apart > limits.deviation_pa
    assert written_out(table.apart(None)) is None
    assert written_out(injection_table((tap("A"),), "average").apart(5.0)) is None


def test_the_records_injection_table_says_when_both_readings_are_taken_away(larkfield_design):
    note = next(section for section in larkfield_design.record().sections if section.key == "injection").tables[0].note
    assert "a function that believes neither of two readings that differ is off for these steps, and on again after them" in note


def alarm_steps(*bands, deviation_pa=15.0):
    """Steps that pass the difference of two readings, their own bands as given."""
    readings = tuple(ReadingLimits(name, low, high, 0.1) for name, (low, high) in zip("AB", bands, strict=True))
    limits = SimpleNamespace(readings=readings, deviation_pa=deviation_pa, after_s=55.0, deviation_after_s=85.0, frozen_s=100.0,
                             wait_text=lambda seconds: f"{seconds:g} s")  # fmt: skip
    steps = _SideBySide(TWO, "average", None).alarm_steps((1.0, 1.0), SimpleNamespace(alarm_limits=limits), True)
    return [step for step in steps if "further apart" in step[1]]


def test_a_step_of_the_difference_rings_by_that_alone_where_signals_allow_it_and_else_names_the_other_alarm():
    for percents, why, _, must, *_ in alarm_steps((20.0, 50.0), (25.0, 60.0)):
        assert abs(percents[0] - percents[1]) == pytest.approx(19.0)
        assert all(low + 1 <= value <= high - 1 for value, low, high in zip(percents, (20.0, 25.0), (50.0, 60.0), strict=True))
        assert why.endswith("by the difference alone")
        assert must.startswith("difference alarm after 85 s; silent")
    first, second = alarm_steps((30.0, 44.0), (26.0, 40.0))  # 44.5 and 25.5 Pa, within what an input may be off
    assert "A: high alarm and B: low alarm may ring too, within what the input may be off" in first[3]
    assert "alone" not in first[1]
    assert second[3].startswith("A: low alarm and B: high alarm after 55 s")  # 25.5 and 44.5 Pa, 4.5 Pa beyond


def test_a_wire_off_one_of_three_leaves_two_unlike_signals_that_tell_how_they_are_combined():
    study = SimpleNamespace(best=SimpleNamespace(name=OWN), set_points_pa={"A": 40.0}, alarm_limits=None, speed_hz=None)
    table = injection_table((*TWO, tap("C")), "average", fallback=study)
    found = row(table, None, 45.0, 55.0)
    shown = [found.if_instead_pa[rule] for rule in ("average", "lowest", "highest")]
    assert np.diff(np.sort(shown)).min() > 2 * table.combined_tolerance_pa
    assert "what remains, averaged, goes to its own set point, 40 Pa" in written_out(found.must)
    assert [left_said("middle", left) for left in (1, 2, 3)] == ["", "averaged, being two", "the middle of them"]
