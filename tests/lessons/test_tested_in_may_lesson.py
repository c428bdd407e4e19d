"""Tested in May, good in January: the same hand method on the page, in the exercises and beside the network; shares, predictions, panel."""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from helpers import units
from helpers.formulas import air, leakage
from helpers.lessons.tested_in_may import day, derivations, lesson, questions
from helpers.lessons.tested_in_may.answers import not_passed, passes_at, task_lines
from helpers.lessons.tested_in_may.lesson import HIDDEN, SHOWN, _hand_told, _lines
from helpers.lessons.tested_in_may.lesson import panel as may_panel
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.studies.measured.forecast import SURE_SHARE
from helpers.studies.measured.intervals import beside_window, window_text
from helpers.studies.measured.told import TRIED
from helpers.studies.measured.unknowns import Unknowns
from helpers.studies.status import SPARE_PA
from helpers.teaching.questions import exercise_of
from helpers.units.said import written_out

PAGE = Path("notebooks") / "09b_tested_in_may.ipynb"
PANEL = may_panel  # what the fixture `panel` makes


# ------------------------------------------------------------------------------------------------------------------ the mathematics


def test_what_is_derived_is_the_formulas():
    draw = np.random.default_rng(3)
    door, height, then, now, share = draw.uniform([[20], [-40], [0], [0.5], [0.5]], [[60], [40], [0.4], [2.0], [1.0]], (5, 200))
    derived = derivations.another_weather().function()
    assert derived(door, height, then, now, share) == pytest.approx(leakage.pressure_in_another_weather(door, height, then, now, share))
    much, high, little, low = draw.uniform([[1.0], [35], [0.3], [8]], [[3.0], [60], [0.9], [20]], (4, 200))
    assert derivations.two_rounds().function()(much, high, little, low) == pytest.approx(leakage.leak_exponent(much, high, little, low))
    assert derivations.wall_behind().function()(0.024, high, low) == pytest.approx(leakage.area_behind(0.024, high, low))


def test_the_shaft_of_the_published_example_is_met_from_its_day_in_may():
    example = derivations.shaft_of_200_feet()
    assert example.meets
    may, change, january = (line.value for line in example.working[2:])
    assert may + change == pytest.approx(january)
    assert 0 < may < 0.2 * january


def test_by_hand_three_doors_are_within_two_pascals_of_the_whole_network():
    doors = day.by_hand()
    assert [one.level for one in doors] == list(day.THREE)
    for one in doors:
        low, middle, high = one.forecast_pa
        assert one.by_hand_pa == pytest.approx(middle, abs=2.0)
        assert low - 1 < one.by_hand_pa < high + 1
    assert doors[0].height_m < 0 < doors[-1].height_m


def test_the_table_by_hand_comes_out_from_the_figures_it_prints_and_says_which_storeys_are_out():
    _, words = written_out(_hand_told())
    before, after = (round(one, 3) for one in day.gradients())
    first, title, _, *rows, told = words.splitlines()
    assert re.match(r"FAIL: [\d.]+ Pa (short of|over) [\d.]+ Pa at stair door (0|13), on paper: January [^.]* held\.? Ask: ", first)
    assert "as measured, from May to January, -9 °C, stair 20 °C" in title
    assert [row.split(": ")[0] for row in rows] == ["FAIL", "PASS", "FAIL"]
    for row in rows:
        height, read, share, by_hand = (float(re.search(r"-?[\d.]+", part)[0]) for part in row.split(" | ")[1:5])
        assert read + share * height * (after - before) == pytest.approx(by_hand, abs=0.051), row
    window = day.ends(day.doors_at())[0].window_pa
    out = [one.level for one in day.by_hand() if not window[0] <= one.by_hand_pa <= window[1]]
    assert out == [0, 13]
    assert "storeys 0 and 13 are out" in told


def _held(outdoor_c, stair_c, **changes):
    """(air, stair over outdoors less the stack effect above the place that is held [storeys]) of the fitted building at the set point."""
    fitted = day.may().fitted
    site, unknowns = fitted.readings.site, Unknowns.of(fitted.readings.site)
    tower = Tower(site)
    conditions, _ = unknowns.conditions(
        Conditions.of(site, outdoor_c=[outdoor_c], stair_c=[stair_c], **changes), fitted.x[None, : len(unknowns)]
    )
    found = tower.hold(conditions, day.SET_POINT_PA)
    assert found.held.all()
    above = tower.elevation_m - tower.elevation_m[[tower.storey(tap.level) for tap in site.transmitters]].mean()
    return found.air, found.air.stair_pa[0] - float(air.stack_gradient(outdoor_c, stair_c)) * above


def test_what_is_held_differs_from_door_to_door_and_hardly_with_the_weather():
    """As the derivation says beside the line in which it drops out."""
    weather = day.may().fitted.readings.day.weather
    (_, before), (_, after) = _held(weather.outdoor_c, weather.stair_bottom_c), _held(day.JANUARY_C, day.JANUARY_STAIR_C)
    assert np.ptp(before) > 1.0
    assert np.abs(after - before).max() < 1.0


def test_it_is_the_wind_that_puts_the_final_exit_below_stair_door_0():
    windy, still = (_held(day.JANUARY_C, day.JANUARY_STAIR_C, **wind)[0] for wind in ({}, {"wind_speed_m_s": [0.0]}))
    assert windy.exit_dp_pa[0, 0] < windy.door_dp_pa[0, 0]
    assert still.exit_dp_pa[0, 0] > still.door_dp_pa[0, 0]


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_the_hand_calculation_of_a_seat_comes_out_with_a_pencil_from_what_is_written(system):
    """Kelvin, metres and pascals by the question's own figures, and nothing of ours but the constant."""
    for seed in range(60):
        exercise = exercise_of(questions.january_pressure, seed, system)
        figures = [float(one.replace("−", "-")) for one in re.findall(r"(?<![\w.])[-−]?\d+(?:\.\d+)?", exercise.question)]
        may, stair, storeys, rise, door, floor, winter, later = figures
        kelvin = [one + 273.15 if system == "Pa" else (one + 459.67) / 1.8 for one in (may, stair, winter, later)]
        metres, pascals = (1.0, 1.0) if system == "Pa" else (0.3048, 249.09)
        up = 1 if "above the height" in exercise.question else -1
        change = 3462.5 * ((1 / kelvin[2] - 1 / kelvin[3]) - (1 / kelvin[0] - 1 / kelvin[1])) * up * storeys * rise * metres
        assert exercise.grade(f"{door + door / (door + floor) * change / pascals:.3g}").right, (seed, exercise.question)


def test_each_seat_has_a_building_and_a_day_of_its_own():
    asked = {exercise_of(questions.january_pressure, seed).question for seed in range(200)}
    assert len(asked) == 200
    assert {"above" in one for one in asked} == {True, False}


# ------------------------------------------------------------------------------------------------------------------ the predictions


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_each_prediction_has_an_answer_and_says_why(system):
    for prediction in questions.PREDICTIONS:
        outcome = written_out(prediction.find(), system)
        assert outcome.answer.value in prediction.options
        asked = written_out(prediction.ask(), system)
        assert "w.c.." not in asked + outcome.words
        assert system == "Pa" or " Pa" not in asked + outcome.words


def test_the_loop_holds_its_reading_and_the_doors_turn_about_it():
    assert written_out(questions.january.find()).answer.value == questions.TURNED
    cold, mild = day.doors_at(), day.in_may()
    moved = [one.pressures_pa[1] - other.pressures_pa[1] for one, other in zip(cold.doors[:14], mild.doors[:14], strict=True)]
    assert moved == sorted(moved)
    held = [moved[level] for level in (1, 12)]
    assert sum(held) == pytest.approx(0, abs=0.5)  # the mean of the two that are read


def test_the_doors_do_not_need_the_traverse_and_a_coarse_gauge_does_not_multiply_the_interval():
    assert written_out(questions.traverse.find()).answer.value == questions.HARDLY
    assert written_out(questions.gauge.find()).answer.value == questions.LESS_THAN_TWICE
    assert day.width(day.doors_at(what=day.NO_FLOORS)) > 1.08 * day.width(day.doors_at())


# ------------------------------------------------------------------------------------------------------------------ the panel


def test_the_panel_opens_on_a_sure_door_with_little_room_in_mays_weather_only_and_january_fails_at_the_bottom(panel):
    assert panel.verdict.kind == "attention"
    told = written_out(panel.verdict)
    assert told.case.startswith("May's weather only: ")
    exit_door = day.in_may().of("final exit", 0)
    assert exit_door.probability >= SURE_SHARE
    end, most = float(told.tiles[0][1].partition(" to ")[2]), float(told.tiles[0][2].split()[1])
    assert told.head == f"Final exit 0: {most - end:.1f} Pa left"  # of the figures on its tile: not of the middle of the buildings
    lowest = min((one for one in day.in_may().doors if one.use == "stair door"), key=lambda one: one.pressures_pa[1])
    assert told.tiles[0][0] == "Final exit 0"
    assert told.tiles[0][2].startswith("max. ")
    assert told.tiles[1][0] == f"Stair door {lowest.level}"  # the door nearest to the other limit, not the highest
    assert told.tiles[1][2] == "min. 25 Pa"
    verdict = panel.put(outdoor_c=day.JANUARY_C, stair_c=day.JANUARY_STAIR_C)
    assert verdict.kind == "wrong"
    assert written_out(verdict.case).endswith(", 35 Pa held")  # page 02 has the same weather at another set point
    assert "short of 25 Pa at stair door 0" in written_out(verdict.head)
    assert "storey 13" in written_out(verdict.tiles[1][0]).lower() or "13" in written_out(verdict.tiles[1][0])


def test_no_set_point_suits_both_ends_of_that_january(panel):
    panel.put(outdoor_c=day.JANUARY_C, stair_c=day.JANUARY_STAIR_C)
    assert {panel.put(set_point_pa=float(point)).kind for point in range(20, 61, 4)} == {"wrong"}


def test_a_door_inside_in_eighty_of_a_hundred_buildings_is_a_check(panel):
    verdict = panel.put(outdoor_c=day.CHECK_C, stair_c=day.JANUARY_STAIR_C, set_point_pa=day.CHECK_PA)
    assert verdict.kind == "attention"
    found = day.doors_at(day.CHECK_C, day.JANUARY_STAIR_C, day.CHECK_PA)
    assert [(one.use, one.level) for one in found.doors if one.probability < SURE_SHARE] == [("stair door", 0)]  # the task asks for it
    share = found.of("stair door", 0).probability
    assert share == pytest.approx(0.8, abs=0.05)
    assert f"inside in {100 * share:.0f} % of buildings" in written_out(verdict.head)


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_no_door_that_passes_has_an_interval_printed_past_its_printed_limit(system):
    asked = 0
    for outdoor_c, point in ((14.1, 35.0), (14.1, 35.2), (-9.0, 35.0), (1.0, 42.0), (4.0, 44.0), (6.0, 42.0)):
        for one in day.doors_at(outdoor_c, 20.0, point).doors:
            ends = [float(text) for text in re.findall(r"-?\d+\.\d+", written_out(beside_window(one.reach_pa, one.window_pa), system))]
            limits = [float(text) for text in re.findall(r"-?\d+\.?\d*(?= )", written_out(window_text(one.window_pa), system))]
            asked += one.probability >= SURE_SHARE
            assert one.probability < SURE_SHARE or limits[0] <= ends[0] < ends[1] <= limits[1], (one.door, ends, limits)
    assert asked > 40


def test_it_is_a_pass_only_where_all_doors_at_once_are_sure():
    for outdoor_c in range(-9, 15, 2):
        found = day.doors_at(float(outdoor_c), 20.0, 42.0)
        roomy = all(one.room_pa >= SPARE_PA for one in found.doors)
        assert (found.state == "good") == (found.probability >= SURE_SHARE and roomy)


def test_a_day_that_page_18_refuses_is_said_to_be_one(panel):
    assert "refuses" not in panel.verdict.words
    assert "Page 18 refuses such a day: it holds no flow" in written_out(panel.put(what=day.NO_FLOW).words)
    assert "it holds nothing over outdoors" in written_out(panel.put(what=day.NO_FLOORS).words)


def test_the_true_building_is_shown_only_where_it_is_asked_for(panel):
    assert "the true building" not in panel.picture.words
    assert "lie in their interval" in written_out(panel.put(truth=SHOWN).words)
    assert "the true building" in panel.picture.words
    assert panel.put(truth=HIDDEN).kind == "attention"


def test_the_picture_is_in_the_readers_units(panel):
    plot = panel.answer("in. w.c.", **panel.values)[1]
    assert plot.system == "in. w.c."
    assert " Pa" not in plot.words


def test_a_fan_that_cannot_hold_is_no_pass(monkeypatch):
    cannot = day.may().at(14.0, 18.2, 4000.0)
    monkeypatch.setattr(day, "doors_at", lambda *asked: cannot)
    verdict, _ = lesson._answer(14.0, 18.2, 60.0, day.WHOLE, 1.0, HIDDEN)
    assert verdict.kind == "wrong"
    assert "does not hold" in written_out(verdict.head)


def test_each_task_of_the_panel_has_its_answer_and_the_panel_shows_the_same(panel):
    lines = [written_out(line) for line in task_lines()]
    assert len(lines) == len(lesson.TASKS)
    for number, task in enumerate(lesson.TASKS[:3]):
        panel.put_back(**task.so)
        found = day.doors_at(**{name: value for name, value in panel.values.items() if name not in ("truth", "gauge_pa")})
        assert not_passed(found) in lines[number]
    assert f"inside in {100 * day.doors_at(day.CHECK_C, set_point_pa=day.CHECK_PA).of('stair door', 0).probability:.0f} %" in lines[3]
    assert "of 15." in lines[6]
    before, after = re.search(r"final exit, from ([\d.]+ Pa) wide to ([\d.]+ Pa)", lines[4]).groups()
    for what, wide in ((day.WHOLE, before), (day.NO_FLOORS, after)):
        told = written_out(panel.put_back(**lesson.TASKS[4].so | {"what": what}).words)
        assert re.search(rf"final exit 0 at \d+ Pa, {re.escape(wide)} wide", told)
    panel.put_back()


def test_no_set_point_of_the_tasks_answer_suits_both_ends():
    low, high = (passes_at(level) for level in (0, 13))
    assert low == [point for point in range(min(map(int, low)), 61)]
    assert high == [point for point in range(20, max(map(int, high)) + 1)]
    assert not set(low) & set(high)
    assert "no set point does for both" in written_out(task_lines()[2])
    inches = written_out(task_lines()[2], "in. w.c.")
    assert len(set(re.findall(r"0\.\d+", inches))) == 3  # the set point tried, and where each end begins: told apart in inches, too


def test_the_page_tells_mays_stack_effect_as_the_day_has_it():
    weather, text = day.may().fitted.readings.day.weather, " ".join(PAGE.read_text(encoding="utf-8").split())
    assert f"with {weather.outdoor_c} °C ({units.to_display(weather.outdoor_c, 'temperature', 'in. w.c.'):.1f} °F)" in text
    assert f"{weather.stair_bottom_c} °C ({units.to_display(weather.stair_bottom_c, 'temperature', 'in. w.c.'):.1f} °F)" in text
    assert f"{day.gradients()[0]:.3f}. From °F" in text
    factor, out, inside, told = (float(one) for one in re.search(r"stair ([\d.]+) \(1/([\d.]+) − 1/([\d.]+)\) = ([\d.]+)", text).groups())
    assert round(factor * (1 / out - 1 / inside), 3) == told == round(day.gradients()[1], 3)


@pytest.mark.parametrize("seed", range(5))
def test_in_inches_the_way_carries_the_change_over_into_inches(seed):
    way = exercise_of(questions.january_pressure, seed, "in. w.c.").way
    change = float(re.search(r"= (-?[\d.]+) Pa, that is", way[2])[1])
    told = float(re.search(r"that is (-?[\d.]+) in\. w\.c\.", way[2])[1])
    assert told == pytest.approx(change / 249.09, abs=0.001)
    assert "that is" not in exercise_of(questions.january_pressure, seed).way[2]


# ------------------------------------------------------------------------------------------------------------------ card and table


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_the_card_says_what_it_was_tried_against_and_where_it_must_not_be_used(system):
    lines = written_out(_lines(), system)
    assert len(lines) == 5
    text = " ".join(lines)
    assert "Tried on 200 made-up buildings:" in text
    assert TRIED in text
    assert "It replaces no acceptance test" in text
    assert system == "Pa" or " Pa " not in text.replace("Pa for each metre", "")


def test_the_table_by_hand_has_figures_of_one_system_only():
    html, words = (written_out(one, "in. w.c.") for one in _hand_told())
    assert " Pa" not in html + words
    assert not re.search(r" m(?![a-z])", words)


def test_the_gradient_of_the_page_is_that_of_lesson_01():
    weather = day.may().fitted.readings.day.weather
    assert day.gradients()[1] == pytest.approx(3462.5 * (1 / 264.15 - 1 / 293.15), rel=1e-3)
    assert day.gradients()[0] == pytest.approx(float(air.stack_gradient(weather.outdoor_c, weather.stair_top_c)))
    assert math.isclose(weather.stair_top_c, weather.stair_bottom_c)
