"""Lesson 01: what a stair door bears, what keeps smoke out, and what the stack effect takes of the room between them."""

import itertools

import numpy as np
import pytest
from drawn import layers

from helpers import units
from helpers.formulas import air, doors
from helpers.lessons.pressure_window.derivations import door_force, door_of_the_table, door_pressure, stack
from helpers.lessons.pressure_window.lesson import chart, senior_card
from helpers.lessons.pressure_window.lesson import panel as window_panel
from helpers.lessons.pressure_window.questions import HEAVY, LESS_BORNE, PREDICTIONS, WIDE_M, stack_over_height, top_door, wider_leaf
from helpers.plots.picture import Picture
from helpers.plots.plot import Line
from helpers.studies.doors.stair_window import FORCE_RULES, LATCH, LEAST_RULES, ROOM_C, SPARE_PA, SimpleStair, smoke_pushes
from helpers.teaching.mathematics import evaluated
from helpers.teaching.questions import exercise_of
from helpers.units import SYSTEMS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

PANEL = window_panel  # what the fixture `panel` makes

COLD_C = SimpleStair().outdoor_c


# ----------------------------------------------------------------------------------------------------------------- the derivations


def leaves(count=300):
    """Width, height, closer and handle of many doors."""
    draw = np.random.default_rng(1)
    return draw.uniform([[0.7], [1.9], [20.0], [0.0]], [[1.3], [2.4], [120.0], [0.2]], (4, count))


def test_the_moments_about_the_hinges_end_in_the_force_formula():
    width, height, closer, handle = leaves()
    dp = np.linspace(-60.0, 150.0, 300)
    ours = doors.opening_force(dp, width, height, closer, handle)
    assert door_force().function()(dp, width, height, closer, handle) == pytest.approx(ours, rel=1e-12)
    assert door_force().function()(dp[:, None], 0.91, 2.1, closer[:5], 0.07).shape == (300, 5)


def test_turned_round_they_end_in_the_pressure_a_door_tolerates():
    width, height, closer, handle = leaves()
    limit = np.linspace(60.0, 140.0, 300)
    ours = doors.pressure_tolerated(limit, width, height, closer, handle)
    assert door_pressure().function()(limit, width, height, closer, handle) == pytest.approx(ours, rel=1e-12)


def test_two_columns_of_air_end_in_the_stack_gradient():
    draw = np.random.default_rng(2)
    outdoor, indoor, pressure = draw.uniform([[-40.0], [10.0], [80e3]], [[45.0], [30.0], [105e3]], (3, 300))
    derived = stack().function()(outdoor, indoor, pressure)
    assert derived == pytest.approx(air.stack_gradient(outdoor, indoor, pressure), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("outdoor_c", "indoor_c"), [(-20.0, 21.0), (35.0, 24.0)])
def test_the_last_line_of_the_stack_effect_works_with_a_pocket_calculator(outdoor_c, indoor_c):
    last = stack().more[-1].line
    assert "3461.7" in last
    kelvin = {"temp_out_k": outdoor_c + 273.15, "temp_in_k": indoor_c + 273.15}
    assert evaluated(last.split(" = ")[1], kelvin) == pytest.approx(air.stack_gradient(outdoor_c, indoor_c), rel=1e-4)


def test_a_fence_post_too_few_or_too_many_is_named():
    exercise = exercise_of(stack_over_height, 5)
    told = {slip.name: exercise.grade(f"{slip.gives:.2f}").slip for slip in exercise.slips}
    assert told["one storey short"] == "one storey short"
    assert told["one storey over"] == "one storey over"


def test_the_door_worked_by_hand_is_the_one_of_the_published_table():
    example = door_of_the_table()
    assert example.meets
    assert written_out(example.closing(), "in. w.c.").startswith("Published: 0.37 in. w.c.")


# ------------------------------------------------------------------------------------------------------------------ the predictions


@pytest.mark.parametrize("system", SYSTEMS)
def test_in_winter_the_top_door_is_beyond_what_may_be_asked(system):
    assert written_out(top_door.find(), system).answer.value == HEAVY
    stair = SimpleStair()
    assert stair.force_n[-1] > stair.force_limit_n > stair.force_n[0]
    assert units.show(stair.door_pa[-1], "pressure", system) in written_out(top_door.find(), system).words


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_wider_leaf_bears_less_although_its_lever_is_longer(system):
    assert written_out(wider_leaf.find(), system).answer.value == LESS_BORNE
    assert SimpleStair(width_m=WIDE_M).most_pa < SimpleStair().most_pa


@pytest.mark.parametrize("prediction", PREDICTIONS)
def test_a_prediction_is_compared_with_what_the_model_says(prediction):
    right = written_out(prediction.find()).answer.value
    wrong = next(option for option in prediction.options if option != right)
    assert prediction.compare(right).agree
    assert not prediction.compare(wrong).agree
    assert right in prediction.compare(wrong).words


# ------------------------------------------------------------------------------------------------------------------------ the stair


def test_a_heavier_closer_moves_the_upper_end_only():
    light, heavy = SimpleStair(closer_n=60.0), SimpleStair(closer_n=70.0)
    assert heavy.most_pa < light.most_pa
    assert heavy.least_pa == light.least_pa


def test_the_worst_door_has_just_the_least_pressure_below_in_winter_and_above_in_summer():
    winter, summer = SimpleStair(outdoor_c=-20.0), SimpleStair(outdoor_c=38.0)
    assert winter.door_pa[0] == winter.door_pa.min() == winter.least_pa
    assert winter.worst_place == "highest"
    assert summer.door_pa[-1] == summer.door_pa.min() == summer.least_pa
    assert summer.worst_place == "lowest"


def test_without_stack_effect_all_doors_see_the_same():
    level = SimpleStair(outdoor_c=ROOM_C, storeys=40)
    assert np.ptp(level.door_pa) == 0
    assert level.most_storeys is None
    assert level.state == "good"


@pytest.mark.parametrize("outdoor_c", [-25.0, -9.0, 5.0, 40.0])
def test_as_many_storeys_as_the_window_reaches_over_fit_and_one_more_does_not(outdoor_c):
    most = SimpleStair(outdoor_c=outdoor_c).most_storeys
    assert SimpleStair(outdoor_c=outdoor_c, storeys=most).too_heavy == 0
    assert SimpleStair(outdoor_c=outdoor_c, storeys=most + 1).too_heavy == 1


def test_the_table_of_least_pressures_is_the_buoyancy_of_hot_smoke_rounded():
    pushes = smoke_pushes()
    assert [round(push.ceiling_m / 0.3048) for push in pushes] == [9, 15, 21]
    for push in pushes:
        assert push.push_pa < push.least_pa
        assert units.show(push.least_pa, "pressure", "in. w.c.") == units.show(push.table_pa, "pressure", "in. w.c.")


# ------------------------------------------------------------------------------------------------------------------------ the panel


def test_it_opens_without_stack_effect_and_in_the_cold_the_stair_is_too_tall_for_its_window(panel):
    assert "77 Pa" not in panel.verdict.words + panel.picture.words  # the page asks first
    assert panel.put(outdoor_c=COLD_C).kind == "wrong"
    assert "150 N" in panel.verdict.words
    assert "10 storeys" in panel.verdict.words


def test_no_stair_is_a_pass_whose_lowest_door_has_nothing_to_spare(panel):
    """Page 00 says CHECK of the same door at the same pressure."""
    told = panel.put(outdoor_c=COLD_C, storeys=4)
    assert SimpleStair(storeys=4).state == "good"  # of the window: it reaches over them
    assert (told.kind, written_out(told.head)) == ("attention", "4 doors within 25 to 61 Pa; lowest: 0 downwards")
    assert written_out(panel.put(outdoor_c=35.0).head).endswith("; highest: 0 downwards")
    assert written_out(panel.put(outdoor_c=ROOM_C).head).endswith("; all: 0 downwards")
    panel.put(outdoor_c=COLD_C)
    assert panel.put(storeys=SimpleStair().most_storeys).kind == "attention"
    assert 0 <= SimpleStair(storeys=SimpleStair().most_storeys).left_pa < SPARE_PA


def test_both_european_figures_leave_this_door_no_window(panel):
    verdict = panel.put(force_limit_n=FORCE_RULES["100 N (22 lbf), EN 12101"], least_pa=LEAST_RULES["EN 12101-6"])
    assert verdict.kind == "wrong"
    assert verdict.words.startswith("No pressure suits this door")


def test_a_closer_over_the_limit_leaves_no_window_even_without_a_fan(panel):
    verdict = panel.put(force_limit_n=FORCE_RULES["67 N (15 lbf), latch"])
    assert verdict.kind == "wrong"
    assert "even without a fan" in verdict.words


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_corner_of_the_panel_is_drawn_and_told(system):
    picture = Picture(height_px=470)
    doors_of_all = ((20.0, 0.70, 0.0), (20.0, 1.30, 0.2), (120.0, 0.70, 0.2), (120.0, 1.30, 0.0))  # closer, width, handle
    for place, (door, outdoor, storeys) in enumerate(itertools.product(doors_of_all, (-30.0, 40.0), (2, 40))):
        stair = SimpleStair(*door, min(FORCE_RULES.values()), max(LEAST_RULES.values()), outdoor, storeys)
        data = written_out(chart(stair), system)
        assert all(np.isfinite([*layer.x, *layer.y]).all() for layer in layers(data) if isinstance(layer, Line))
        assert written_out(stair.says(), system)
        if place % 8 in (0, 7):  # drawn: each of the doors once, low in the cold or tall in the heat
            picture.show(data)
            assert f"{storeys} doors" in picture.words


def test_the_picture_shows_what_the_stair_says(panel):
    panel.put(outdoor_c=COLD_C)
    stair = SimpleStair()
    data = written_out(chart(stair), "in. w.c.")
    inches = f"{stair.door_pa[-1] / units.WATER_COLUMNS_PA[units.WATER_COLUMN]:.2f}"
    assert f"in. w.c. across the lowest and {inches} in. w.c. across the highest" in data.words
    assert [len(crosses.x) for crosses in layers(data, "over the limit")] == [stair.too_heavy] * 2
    assert "14 doors" in panel.picture.words
    assert "4 over the limit" in panel.picture.words


def test_units_turn_the_whole_panel_and_leave_the_stair_as_it_is(panel):
    panel.put(outdoor_c=COLD_C)
    before = panel.values
    UNITS.system = "in. w.c."
    assert "in. w.c." in panel.verdict.words
    assert "lbf" in panel.verdict.words
    assert "Pa" not in panel.verdict.words
    UNITS.system = "Pa"
    assert panel.values == before


def test_a_window_is_written_with_ends_that_differ_by_its_width():
    assert (
        "The window is 12.5 to 61.2 Pa, 48.7 Pa wide. The stack effect takes 52.1 Pa between the end doors, "
        "3.4 Pa too much." in written_out(SimpleStair(least_pa=LEAST_RULES["sprinklers"]).says())
    )


def test_the_card_says_how_many_storeys_are_left_when_some_of_the_window_is_kept():
    stair = SimpleStair()
    assert stair.but(storeys=stair.kept_storeys).left_pa >= SPARE_PA > stair.but(storeys=stair.kept_storeys + 1).left_pa
    assert f"with 5 Pa at each end kept for wind and errors {stair.kept_storeys} and " in written_out(senior_card().render())[1]


def test_the_figure_for_freeing_the_latch_is_answered_by_the_figure_for_moving_and_not_by_another_closer():
    for outdoor_c in (-9.0, 21.0):
        told = SimpleStair(force_limit_n=FORCE_RULES[LATCH], outdoor_c=outdoor_c).to_do()
        assert told.startswith("Do: choose 133 N (30 lbf), moving")
        assert "closer of" not in told
