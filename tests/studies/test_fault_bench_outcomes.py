"""What the bench's faults do and show, worked out in the loop, and the stored table of outcomes."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from helpers.fault_bench import faults as tables
from helpers.fault_bench.checks import PLACES, look
from helpers.fault_bench.diagnosis import CONCLUSIONS, signature, trend_facts
from helpers.fault_bench.faulty_loop import FAULTS, MODES, PLACED, TAPS, faults_of, seat_of, tower
from helpers.fault_bench.found import LENGTH_S, displayed, fresh

SEAT = replace(seat_of(4, mode=MODES[0]), rule="average", set_point_pa=40.0, place=0, tops_pa=(125.0, 150.0), relief_pa=(55.0, 75.0))


@pytest.fixture(scope="module")
def loops():
    """Faults of one seat, each run once when it is first asked for."""
    kept = {}

    def loop(fault):
        if fault not in kept:
            kept[fault] = fresh(SEAT, fault)
        return kept[fault]

    return loop


def cases(mode):
    return [(fault, place) for fault in faults_of(mode) for place in ((0, 1) if fault in PLACED else (0,))]


# The loop


def test_with_nothing_wrong_displays_gauges_and_doors_agree_and_the_set_point_is_held(loops):
    loop = loops("none")
    shown = look(loop, "display")
    assert shown["combined_pa"] == pytest.approx(40, abs=1)
    for number, tap in enumerate(TAPS, start=1):
        assert look(loop, "gauge", tap)["gauge_pa"] == look(loop, "door gauge", tap)["door_pa"]
        assert shown[f"display_{number}_pa"] == pytest.approx(look(loop, "door gauge", tap)["door_pa"], abs=2)


def test_the_air_looked_up_at_rest_is_what_the_network_says(loops):
    loop, building = loops("none"), tower(SEAT.relief_pa)
    speeds = np.array([15.0, 23.0, 31.0, 44.0])
    direct = building.readings(building.solve(SEAT.conditions.rows(np.zeros(4, int)), speeds))
    looked_up = [loop.air.steady(speed).taps_pa for speed in speeds]
    assert np.abs(direct - looked_up).max() < 1.0


def test_what_a_display_shows_at_rest_is_what_the_loop_itself_makes_of_the_same_pressure(loops):
    for fault in ("none", "signal_type", "inputs_swapped", "range_entered", "tubes_changed", "short_range"):
        loop = loops(fault)
        assert displayed(loop.rig, loop.now("sensed")) == pytest.approx(loop.now("displays"), abs=0.2)


def test_an_input_that_believes_a_wider_range_leaves_the_stair_with_less(loops):
    loop = loops("range_entered")
    entered, top = loop.rig.entered.inputs[0].top_pa, loop.rig.transmitters[0].top_pa
    less = look(loop, "door gauge", "PDT-1")["door_pa"] < look(loops("none"), "door gauge", "PDT-1")["door_pa"]
    assert less == (entered > top)


def test_a_dead_transmitter_that_counts_drives_the_fan_up(loops):
    assert look(loops("dead_counted"), "display")["speed_hz"] > look(loops("none"), "display")["speed_hz"] + 5
    assert trend_facts(loops("dead_counted"))["reading of PDT-1"] == "flat at nothing"


def test_crossed_tubes_leave_an_average_right_and_each_display_wrong(loops):
    right, crossed = (look(loops(fault), "display") for fault in ("none", "tubes_crossed"))
    assert crossed["combined_pa"] == pytest.approx(right["combined_pa"], abs=1)
    assert crossed["display_1_pa"] == pytest.approx(right["display_2_pa"], abs=2)


def test_a_fan_that_runs_backward_still_blows_and_has_to_run_faster_for_it(loops):
    assert look(loops("fan_backward"), "door gauge", "PDT-1")["door_pa"] > 15
    assert look(loops("fan_backward"), "display")["speed_hz"] > 1.3 * look(loops("none"), "display")["speed_hz"]


def test_the_wrong_action_runs_to_an_end_and_stays(loops):
    assert trend_facts(loops("action"))["speed"] == "at lowest speed"


@pytest.mark.parametrize("fault", ["filter_long", "tube_pinched", "ramp_slow", "gain_kept"])
def test_a_slow_part_makes_the_loop_settle_later(loops, fault):
    assert loops(fault).settles_s > loops("none").settles_s + 10


def test_a_tube_in_the_wind_and_a_bad_screen_both_make_the_reading_jump(loops):
    assert {trend_facts(loops(fault))["reading of PDT-1"] for fault in ("ref_wind", "noise")} == {"scatters"}


def test_a_stop_threshold_above_the_duty_lets_the_fan_stop_and_start():
    loop = fresh(replace(SEAT, mode=MODES[1], set_point_pa=27.0), "stop_threshold")
    assert trend_facts(loop)["speed"] == "stops and starts"


@pytest.mark.parametrize("fault", faults_of(MODES[0]))
def test_no_loop_in_the_fire_mode_has_a_low_demand_stop(fault):
    assert fresh(SEAT, fault).rig.entered.stop is None
    assert "stop_threshold" not in faults_of(MODES[0])
    assert set(faults_of(MODES[1])) == set(FAULTS)


def test_one_and_the_same_seat_shows_the_same_again(loops):
    again = fresh(SEAT, "noise")
    assert np.array_equal(again.run.readings_pa, loops("noise").run.readings_pa)
    assert signature(again) == signature(loops("noise"))
    assert again.run.time_s[-1] >= LENGTH_S - 1


# The table


@pytest.mark.parametrize(
    ("mode", "fault", "place", "number"), [(MODES[0], "offset", 1, 2), (MODES[1], "rule", 0, 5), (MODES[1], "ref_wind", 0, 9)]
)
def test_a_part_of_the_table_made_again_is_what_is_stored(mode, fault, place, number):
    for key, outcome in tables.outcomes(fault, mode, place, number).items():
        assert outcome in tables.possible()[mode, key][fault, place]


@pytest.mark.parametrize("mode", MODES)
def test_the_table_has_every_fault_at_every_place_and_every_conclusion(mode):
    keys = [conclusion.key for conclusion in CONCLUSIONS] + list(tables.FACTS)
    for key in keys:
        assert set(tables.possible()[mode, key]) == set(cases(mode))


@pytest.mark.parametrize("mode", MODES)
def test_every_pair_of_faults_is_told_apart_by_a_conclusion_that_never_comes_out_alike(mode):
    """Wherever both sit, and in all seats of the table, whatever their weather, ranges, set points and sizes of faults."""
    keys = [conclusion.key for conclusion in CONCLUSIONS]
    for one, other in combinations(cases(mode), 2):
        if one[0] != other[0]:
            apart = [key for key in keys if not tables.possible()[mode, key][one] & tables.possible()[mode, key][other]]
            assert apart, f"{one} and {other} in the {mode}"


@pytest.mark.parametrize("mode", MODES)
def test_no_outcome_of_one_look_belongs_to_one_fault_alone(mode):
    """Any one check at one place, taken by itself: whatever it shows, at least two faults can show it."""
    for conclusion in CONCLUSIONS:
        if len(conclusion.needs) == 1:
            who = tables.possible()[mode, conclusion.key]
            for outcome in set().union(*who.values()):
                assert len({fault for (fault, _), outcomes in who.items() if outcome in outcomes}) > 1, (conclusion.key, outcome)


def test_what_a_check_shows_at_one_place_is_asked_of_that_place_only():
    for conclusion in CONCLUSIONS:
        for check, place in conclusion.needs:
            assert place in PLACES.get(check, (None,))
