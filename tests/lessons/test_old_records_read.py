"""Seats, sheets and records hang on names and seeds: what an exercise drew for a seed when it was first printed, it draws today."""

import hashlib

import pytest

from helpers import units
from helpers.lessons import LESSONS
from helpers.teaching.questions import Chosen, exercise_of

SEEDS = range(30)
# By lesson and exercise, in the order of the page: the answers of thirty seeds in either system of units, as a digest. New ones are added
# below the old ones of their lesson; a digest is never changed, for a sheet on paper has these numbers.
DRAWN = {
    ("pressure_window", "what_moves"): "4b255fdd39a6",
    ("pressure_window", "handle_force"): "9c277feddca2",
    ("pressure_window", "most_borne"): "f75ab37d391a",
    ("pressure_window", "gauge_reading"): "87712a9154b5",
    ("pressure_window", "stack_over_height"): "f068eec06a95",
    ("leakage_and_fan_duty", "all_gaps"): "ef53536ab5e6",
    ("leakage_and_fan_duty", "in_a_row"): "e183100bef6f",
    ("leakage_and_fan_duty", "which_to_seal"): "0d60b187f693",
    ("leakage_and_fan_duty", "top_door"): "fca6b26d1a72",
    ("leakage_and_fan_duty", "slower_fan"): "33d1770dfa32",
    ("transmitter_range", "error_from_span"): "1cab6758d28e",
    ("transmitter_range", "errors_together"): "bc4f73692097",
    ("transmitter_range", "converter_step"): "fc598f7fe1a5",
    ("transmitter_range", "which_range"): "ca74e4df8f06",
    ("transmitter_range", "which_sheet"): "66819534bcbd",
    ("scaling_the_signal", "pressure_from_signal"): "d16db64a3ce1",
    ("scaling_the_signal", "volts_at_the_input"): "512105410ae1",
    ("scaling_the_signal", "what_is_held"): "0be18c5539b8",
    ("scaling_the_signal", "set_point_in_per_cent"): "0b5aa66b2e53",
    ("scaling_the_signal", "what_a_signal_tells"): "368d65e0829e",
    ("reverse_or_direct", "which_action"): "afcbdb863ca9",
    ("reverse_or_direct", "output_step"): "843d241abe39",
    ("reverse_or_direct", "which_end"): "4fb47731244c",
    ("reverse_or_direct", "band_in_units"): "7b9f67bee855",
    ("reverse_or_direct", "hand_test"): "f1c4df6f3315",
    ("average_lowest_highest", "combined_reading"): "b9badc38e5ff",
    ("average_lowest_highest", "dead_in_the_average"): "383b5c872994",
    ("average_lowest_highest", "after_the_fault"): "02f417583a9c",
    ("average_lowest_highest", "set_point_of_the_other_rule"): "5645b1cf9199",
    ("average_lowest_highest", "force_at_the_top"): "d3f24a3fd055",
    ("where_the_transmitters_go", "lower_end"): "b2481416db95",
    ("where_the_transmitters_go", "conditions_needed"): "a221837cc831",
    ("where_the_transmitters_go", "no_stack_effect_here"): "90f19941d31b",
    ("where_the_transmitters_go", "low_side_tube"): "840362f9ce1c",
    ("where_the_transmitters_go", "which_place"): "e187480cd822",
    ("tuning_and_door_events", "gain_from_a_step"): "80971d9c9de8",
    ("tuning_and_door_events", "simc_gain"): "6f64b4426376",
    ("tuning_and_door_events", "gain_on_another_span"): "224d0a9d1fd7",
    ("tuning_and_door_events", "another_display"): "5d4ae5a28650",
    ("tuning_and_door_events", "what_happens"): "ac86aa1ca747",
    ("low_demand_stop", "shutoff_speed"): "28b676aabc04",
    ("low_demand_stop", "side_of_window"): "9f7269d7db69",
    ("low_demand_stop", "restart_reading"): "9e405867dab1",
    ("low_demand_stop", "longer_wait"): "05edb17c891d",
    ("low_demand_stop", "may_it_stop"): "76a63d425f04",
}


def answers(make):
    """Every answer, an option by its place: words may be put better, figures and places not."""
    for system in units.SYSTEMS:
        for seed in SEEDS:
            answer = exercise_of(make, seed, system).answer
            yield str(answer.options.index(answer.value)) if isinstance(answer, Chosen) else f"{answer.value:.6g}"


def digest(make):
    return hashlib.sha256(" ".join(answers(make)).encode()).hexdigest()[:12]


@pytest.mark.parametrize(("key", "name"), DRAWN)
def test_an_old_seed_sets_the_old_numbers(key, name):
    assert digest(LESSONS.exercises[key, name]) == DRAWN[key, name]


def test_old_exercises_keep_their_places_and_new_ones_come_after_them():
    for of in LESSONS:
        names = [make.__name__ for make in of.makers]
        assert [name for key, name in DRAWN if key == of.key] == names
