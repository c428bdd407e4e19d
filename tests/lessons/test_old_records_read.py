"""Seats, sheets and records hang on names and seeds: what an exercise drew for a seed when it was first printed, it draws today."""

import hashlib
import math
import re

import pytest
from simulated_class import CODE, answered, event, export, typed, write

from helpers import units
from helpers.classroom.table import class_table
from helpers.lessons import LESSONS
from helpers.teaching.questions import Chosen, exercise_of
from helpers.teaching.seeds import EDITIONS, seat_of

SEEDS = range(30)
# By lesson and exercise, in the order of the page: the answers of thirty seeds in either system of units, as a digest. New ones are added
# below the old ones of their lesson; a digest is never changed, for a sheet on paper has these numbers.
DRAWN = {
    ("pressure_window", "what_moves"): "4b255fdd39a6",
    ("pressure_window", "handle_force"): "9c277feddca2",
    ("pressure_window", "most_borne"): "f75ab37d391a",
    ("pressure_window", "gauge_reading"): "87712a9154b5",
    ("pressure_window", "stack_over_height"): "f068eec06a95",
    ("pressure_window", "storeys_served"): "0a25cfb907f2",
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
    ("reverse_or_direct", "third_minus"): "995300859df6",
    ("average_lowest_highest", "combined_reading"): "b9badc38e5ff",
    ("average_lowest_highest", "dead_in_the_average"): "383b5c872994",
    ("average_lowest_highest", "after_the_fault"): "02f417583a9c",
    ("average_lowest_highest", "set_point_of_the_other_rule"): "5645b1cf9199",
    ("average_lowest_highest", "force_at_the_top"): "d3f24a3fd055",
    ("average_lowest_highest", "weighted_average"): "fad777cfbd4f",
    ("average_lowest_highest", "relief_after_the_fault"): "a46cc5e2e283",
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
    ("tuning_and_door_events", "dead_time_from_a_trend"): "04a69f491a88",
    ("tuning_and_door_events", "time_constant_from_a_trend"): "10a52e30d924",
    ("tuning_and_door_events", "integral_time"): "283ad4e7119b",
    ("tuning_and_door_events", "ramp_alone"): "a14f9c52683c",
    ("tuning_and_door_events", "force_after_the_door"): "f65ea7ab0523",
    ("low_demand_stop", "shutoff_speed"): "28b676aabc04",
    ("low_demand_stop", "side_of_window"): "9f7269d7db69",
    ("low_demand_stop", "restart_reading"): "9e405867dab1",
    ("low_demand_stop", "longer_wait"): "05edb17c891d",
    ("low_demand_stop", "may_it_stop"): "76a63d425f04",
    ("tested_in_may", "january_pressure"): "e1d05fd6e25c",
    ("tested_in_may", "exponent_of_two_rounds"): "5becc4e36c42",
    ("tested_in_may", "outer_wall"): "08e05eb09608",
    ("tested_in_may", "half_width"): "25223b1986bb",
    ("tested_in_may", "told_by_share"): "0f0061bc15c4",
    ("tested_in_may", "measure_next"): "beda96112ca7",
    ("tested_in_may", "not_recorded"): "ffb1fc6cf0a2",
}
# The same of those that draw round feet, and ranges sold by the inch, since their third edition.
DRAWN_BY_THE_INCH = {
    ("pressure_window", "handle_force"): "b82da90d0547",
    ("pressure_window", "most_borne"): "40bfd80711f1",
    ("pressure_window", "gauge_reading"): "72c02c0dfca8",
    ("pressure_window", "stack_over_height"): "657b62e25036",
    ("transmitter_range", "error_from_span"): "2fcf9bfd96ba",
    ("transmitter_range", "errors_together"): "081e4b67f2f0",
    ("transmitter_range", "converter_step"): "78cdb267313b",
    ("scaling_the_signal", "pressure_from_signal"): "9c66bf8cb820",
    ("scaling_the_signal", "volts_at_the_input"): "2b85efdc0765",
    ("scaling_the_signal", "what_is_held"): "e91eb2282a50",
    ("scaling_the_signal", "set_point_in_per_cent"): "69726d37533f",
    ("reverse_or_direct", "output_step"): "7242c307ee93",
    ("reverse_or_direct", "band_in_units"): "4f587346f477",
    ("average_lowest_highest", "force_at_the_top"): "89d1006bb7ba",
    ("where_the_transmitters_go", "no_stack_effect_here"): "c315da8cf212",
    ("tuning_and_door_events", "gain_from_a_step"): "1abfe7bdf604",
    ("tuning_and_door_events", "gain_on_another_span"): "047f1a8f3b75",
    ("tuning_and_door_events", "force_after_the_door"): "05f98d6c9fca",
    ("tested_in_may", "january_pressure"): "ff15ceb3db9c",
}


# The same of the one that takes the whole second above alone, since the fourth edition; its question has the same figures.
DRAWN_IN_WHOLE_SECONDS = {("low_demand_stop", "longer_wait"): "1a26dbe2b716"}
# The same of those whose numbers are drawn till no wrong way comes out as the answer, since the fourth edition.
DRAWN_APART = {
    ("leakage_and_fan_duty", "in_a_row"): "b208c860226f",
    ("leakage_and_fan_duty", "top_door"): "6cfb3f73febc",
    ("transmitter_range", "error_from_span"): "e215463c63bf",
    ("transmitter_range", "errors_together"): "b58daebfbd91",
    ("reverse_or_direct", "output_step"): "102a95aa6172",
    ("reverse_or_direct", "band_in_units"): "6407d670d085",
    ("where_the_transmitters_go", "no_stack_effect_here"): "996ea87cc4e5",
}
# The same of the one whose count is rounded up, since the fourth edition; its question has the same figures.
DRAWN_ROUNDED_UP = {("where_the_transmitters_go", "conditions_needed"): "32da2c3a7c68"}
# The fifth edition asks one of them with other figures and has the same answers.
TODAY = DRAWN | DRAWN_BY_THE_INCH | DRAWN_IN_WHOLE_SECONDS | DRAWN_APART | DRAWN_ROUNDED_UP


def answers(make, edition):
    """Every answer, an option by its place: words may be put better, figures and places not."""
    for system in units.SYSTEMS:
        for seed in SEEDS:
            answer = exercise_of(make, seed, system, edition).answer
            yield str(answer.options.index(answer.value)) if isinstance(answer, Chosen) else f"{answer.value:.6g}"


def digest(make, edition):
    return hashlib.sha256(" ".join(answers(make, edition)).encode()).hexdigest()[:12]


@pytest.mark.parametrize(("key", "name"), DRAWN)
def test_an_old_seed_sets_the_old_numbers(key, name):
    assert digest(LESSONS.exercises[key, name], 2) == DRAWN[key, name]


@pytest.mark.parametrize(("key", "name"), DRAWN)
def test_todays_seeds_set_the_numbers_of_their_edition(key, name):
    assert digest(LESSONS.exercises[key, name], 3) == (DRAWN | DRAWN_BY_THE_INCH)[key, name]
    assert digest(LESSONS.exercises[key, name], 4) == TODAY[key, name]
    assert digest(LESSONS.exercises[key, name], EDITIONS[-1]) == TODAY[key, name]


@pytest.mark.parametrize(
    ("item", "system", "edition"),
    [
        ("which_range", "Pa", 1),  # lesson 03 asked for no small negative end then
        ("which_range", "in. w.c.", 1),
        ("error_from_span", "in. w.c.", 2),  # a range of 0 to 0.40 in. w.c., say
        ("error_from_span", "Pa", 3),  # 2 % of 0 to 100 Pa: the 2 copied from the sheet came out right
        ("converter_step", "in. w.c.", 3),  # as today
    ],
)
def test_what_was_right_on_the_page_that_asked_stays_right_and_is_no_false_record(tmp_path, item, system, edition):
    lesson, seat = "transmitter_range", seat_of(CODE, 1)
    make, as_today = LESSONS.exercises[lesson, item], item == "converter_step"
    asked = next(one for turn in range(40) if (one := exercise_of(make, seat.seed(lesson, item, turn), system, edition))
                 and (as_today or not _right_today(make, one, system)))  # fmt: skip
    text = typed(asked, asked.answer.value)
    for good, kept in ((True, True), (False, not as_today)):  # today's page marks it wrong, and a file of today has that
        entry = event("answered", lesson, item, asked.seed, system, text, good)
        write(tmp_path, "one.json", export([event("name", text="Ada"), entry], seat))
        (row,) = class_table(tmp_path, CODE).rows
        (found,) = row.answers
        assert found.recorded == kept
        assert found.right == (good or as_today)
        (tmp_path / "one.json").unlink()


def _right_today(make, asked, system):
    try:
        return exercise_of(make, asked.seed, system).grade(typed(asked, asked.answer.value)).right
    except ValueError:  # an option that is not offered any more
        return False


def test_old_exercises_keep_their_places_and_new_ones_come_after_them():
    for of in LESSONS:
        names = [make.__name__ for make in of.makers]
        assert [name for key, name in DRAWN if key == of.key] == names


def test_a_wrong_answer_without_a_name_is_still_as_recorded_where_its_slip_has_a_name_today(tmp_path):
    """Else a whole record would look edited, because the workbook has learnt to name a slip."""
    seat, lesson, item = seat_of(CODE, 1), "reverse_or_direct", "output_step"
    exercise = exercise_of(LESSONS.exercises[lesson, item], seat.seed(lesson, item))
    slip = next(one for one in exercise.more if one.name == "gain forgotten")
    texts = {typed(exercise, slip.gives): "", "0": "unit"}  # as the first workbooks marked them
    old = [event("answered", lesson, item, exercise.seed, "Pa", text, False, name) for text, name in texts.items()]
    write(tmp_path, "old.json", export([event("name", text="Ada"), *old, answered(exercise, lesson, exercise.answer.value)], seat))
    (row,) = class_table(tmp_path, CODE).rows
    assert [(one.right, one.recorded) for one in row.answers] == [(False, True), (False, True), (True, True)]
    assert row.answers[0].slip == "gain forgotten"


def test_another_mark_or_another_slip_than_todays_is_not_as_recorded(tmp_path):
    seat, lesson, item = seat_of(CODE, 1), "reverse_or_direct", "output_step"
    exercise = exercise_of(LESSONS.exercises[lesson, item], seat.seed(lesson, item))
    wrong = typed(exercise, exercise.slips[0].gives)
    forged = [event("answered", lesson, item, exercise.seed, "Pa", wrong, *mark) for mark in ((True, ""), (False, "gain upside down"))]
    write(tmp_path, "forged.json", export([event("name", text="Ada"), *forged], seat))
    (row,) = class_table(tmp_path, CODE).rows
    assert [one.recorded for one in row.answers] == [False, False]


def test_a_wait_rounded_down_is_wrong_today_and_stays_right_on_the_page_that_took_it(tmp_path):
    """A figure that was right to within some seconds in the third edition; today the whole second above is."""
    seat, lesson, item = seat_of(CODE, 1), "low_demand_stop", "longer_wait"
    seed = seat.seed(lesson, item)
    asked = exercise_of(LESSONS.exercises[lesson, item], seed)
    then = exercise_of(LESSONS.exercises[lesson, item], seed, edition=3)
    assert (asked.question, asked.answer.value) == (then.question, math.ceil(then.answer.value))
    short = f"{asked.answer.value - 1:.0f}"
    assert then.grade(short).right
    assert asked.grade(short).slip == "rounded down"
    for good, kept in ((True, True), (False, True)):
        write(tmp_path, "one.json", export([event("name", text="Ada"), event("answered", lesson, item, seed, "Pa", short, good)], seat))
        ((found,),) = (row.answers for row in class_table(tmp_path, CODE).rows)
        assert (found.right, found.recorded) == (good, kept)
        (tmp_path / "one.json").unlink()


def test_a_moved_decimal_point_that_was_told_of_a_figure_far_from_the_answer_is_no_forgery(tmp_path):
    """What an earlier workbook called a moved decimal point, today's calls a share."""
    seat, lesson, item = seat_of(CODE, 1), "scaling_the_signal", "pressure_from_signal"
    asked = exercise_of(LESSONS.exercises[lesson, item], seat.seed(lesson, item))
    text = f"{asked.answer.value / 100 * 1.1:.4g}"
    assert asked.grade(text).slip == ""
    entry = event("answered", lesson, item, asked.seed, "Pa", text, False, "decimal point")
    write(tmp_path, "old.json", export([event("name", text="Ada"), entry], seat))
    ((found,),) = (row.answers for row in class_table(tmp_path, CODE).rows)
    assert found.recorded
    assert not found.right


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_who_only_rounds_up_is_not_right_by_luck_since_the_fifth_edition(tmp_path, system):
    """Nor is what was answered to the fourth one marked by today's numbers."""
    seat, lesson, item = seat_of(CODE, 1), "pressure_window", "storeys_served"
    make, seed = LESSONS.exercises[lesson, item], seat.seed(lesson, item)
    for one in SEEDS:
        asked = exercise_of(make, one, system)
        pressures = [float(figure) for figure in re.findall(r"([\d.]+) (?:Pa|in\. w\.c\.)", asked.question)]
        least, most, each = pressures[:3]
        steps = (most - least) / each
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert asked.grade(f"{math.ceil(steps - 1e-6):d}").slip == "steps for doors"
        assert asked.grade(f"{round(steps) + 1:d}").right
    then = exercise_of(make, seed, system, edition=4)
    entry = event("answered", lesson, item, seed, system, typed(then, then.answer.value), True)
    write(tmp_path, "one.json", export([event("name", text="Ada"), entry], seat))
    ((found,),) = (row.answers for row in class_table(tmp_path, CODE).rows)
    assert (found.right, found.recorded) == (True, True)
