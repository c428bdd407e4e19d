"""Lesson 06: what each rule does to the worst door, with its own set point and with another rule's, and with a transmitter wrong."""

import re
from pathlib import Path

import numpy as np
import pytest
from drawn import drawn

from helpers.formulas import doors
from helpers.formulas.combining import combine, pressure_at_the_rest
from helpers.lessons.average_lowest_highest.answers import (
    left_out_line,
    left_out_told,
    task_answers,
    task_lines,
    too_tall_line,
    too_tall_told,
)
from helpers.lessons.average_lowest_highest.derivations import storey_of_the_average, tallest_stair, wrong_in_the_average
from helpers.lessons.average_lowest_highest.failed_readings import (
    AFTER,
    AS_BEFORE,
    DOUBLE,
    FULL,
    LOWEST_SPEED,
    RANGE_PA,
    dead_in_the_average,
    weighted_average,
)
from helpers.lessons.average_lowest_highest.lesson import CASES, FAULT_CHOICES, RULE_CHOICES, STAIR_CHOICES, senior_card
from helpers.lessons.average_lowest_highest.lesson import panel as rules_panel
from helpers.lessons.average_lowest_highest.no_set_point import SECTION, none_passes, pointed_at, way_out, way_out_lines, year_a_larger_fan
from helpers.lessons.average_lowest_highest.questions import (
    HEAVY,
    LOWEST,
    PREDICTIONS,
    SUMMER_C,
    WINTER_C,
    combined_reading,
    force_at_the_top,
    kept_set_point,
    stuck,
    tube_off,
)
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.plots.plot import Words
from helpers.record.design import Design
from helpers.record.every_case import BACK
from helpers.record.standing import ACTION, FAN, SET_POINT
from helpers.studies.cases import AFTER_AN_HOUR, AS_STATED, FIRST_MINUTE, STAIR_AIR
from helpers.studies.readings.faults_by_rule import NO_FAULT, RULES, DoorsOpen, ReadingFault, rule_bench
from helpers.studies.report import inside_text
from helpers.studies.status import SPARE_PA, word_of, worst_of
from helpers.teaching.questions import exercise_of
from helpers.units import SYSTEMS, from_display, unit_label
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

PANEL = rules_panel  # what the fixture `panel` makes


@pytest.fixture
def units(monkeypatch):
    monkeypatch.setattr(UNITS, "_listeners", [])
    monkeypatch.setattr(UNITS, "_system", "Pa")
    return UNITS


ALL_SHUT = DoorsOpen()


def ruled(rule, set_point_pa, fault=NO_FAULT, outdoor_c=WINTER_C, opened=ALL_SHUT):
    (found,) = rule_bench().ruled(outdoor_c, set_point_pa, opened, fault, (rule,))
    return found


# ------------------------------------------------------------------------------------------------------------------ the derivations


def test_the_average_stands_for_the_storey_that_the_formula_says():
    draw = np.random.default_rng(6)
    low, high, weight_low, weight_high = draw.uniform([[1.0], [20.0], [0.1], [0.1]], [[19.0], [60.0], [5.0], [5.0]], (4, 300))
    derived = storey_of_the_average().function()
    formula = [combine([a, b], "weighted", weights=[v, w]) for a, b, v, w in zip(low, high, weight_low, weight_high, strict=True)]
    assert derived(low, high, weight_low, weight_high) == pytest.approx(formula, rel=1e-12)
    assert derived(low, high, 1.0, 1.0) == pytest.approx(combine([low, high], "average", axis=0), rel=1e-12)
    assert derived(low[:, None], high[:4], 1.0, 2.0).shape == (300, 4)


def test_what_is_left_of_an_average_is_what_the_formula_says():
    draw = np.random.default_rng(7)
    target, wrong, share = draw.uniform([[10.0], [0.0], [0.05]], [[80.0], [100.0], [0.9]], (3, 300))
    derived = wrong_in_the_average().function()
    assert derived(target, wrong, share) == pytest.approx(pressure_at_the_rest(target, wrong, share), rel=1e-12)
    assert derived(target[:, None], 0.0, share[:4]).shape == (300, 4)


def test_the_worked_example_meets_the_published_height():
    example = tallest_stair()
    assert example.meets
    assert "30 m" in written_out(example.closing())
    lowest, highest = (line.value for line in example.working[3:5])
    assert example.working[2].value == pytest.approx((lowest + highest) / 2)


# ------------------------------------------------------------------------------------------------------------------ the predictions


@pytest.mark.parametrize("system", SYSTEMS)
def test_each_prediction_has_an_answer_and_says_why(system):
    for prediction in PREDICTIONS:
        outcome = written_out(prediction.find(), system)
        assert not prediction.options or outcome.answer.value in prediction.options
        assert outcome.words.endswith(".")
        assert ("Pa" in written_out(prediction.ask(), system) + outcome.words) == (system == "Pa")


def test_the_set_point_of_the_average_under_the_lowest_makes_the_upper_doors_too_heavy():
    assert written_out(kept_set_point.find()).answer.value == HEAVY
    assert ruled("average", 40.0).inside
    assert not ruled("lowest", 40.0).inside
    low, high = rule_bench().set_points_pa(WINTER_C, rule="lowest")
    assert high < 40.0
    assert ruled("lowest", (low + high) / 2).inside


def test_a_tube_off_in_the_average_doubles_what_the_other_one_reads():
    assert written_out(tube_off.find()).answer.value == pytest.approx(2 * 40.0, rel=0.01)
    assert ruled("average", 40.0, ReadingFault("tube off", 0)).reading_pa == pytest.approx(40.0, abs=0.01)  # and nobody sees it


def test_a_reading_stuck_high_gives_the_stair_up_under_the_highest():
    assert written_out(stuck.find()).answer.value == LOWEST
    found = ruled("highest", 55.0, ReadingFault("stuck", 1, 60.0))
    assert found.speed_hz == rule_bench().site.fan.lowest_speed_hz
    assert found.worst.dp_pa < 0
    assert "at full speed" in written_out(stuck.find()).words


# ------------------------------------------------------------------------------------------------------------------ the table of faults


@pytest.mark.parametrize(("rule", "kind"), AFTER)
def test_the_exercise_says_of_each_rule_and_fault_what_the_network_does(rule, kind):
    """At a mild day's set point, where one transmitter alone can hold the stair: the exercise leaves stack effect out."""
    fault = {"zero": ReadingFault("tube off", 0), "high": ReadingFault("stuck", 0, 60.0), "out": ReadingFault("left out", 0)}[kind]
    found = ruled(rule, 30.0, fault, SUMMER_C)
    expected = {
        FULL: ("at full speed", None),
        LOWEST_SPEED: ("at lowest speed", None),
        DOUBLE: ("held", 60.0),
        AS_BEFORE: ("held", 30.0),
    }
    state, good = expected[AFTER[rule, kind]]
    assert found.state == state
    assert good is None or found.true_pa[1] == pytest.approx(good, abs=0.3)


@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("kind", ["tube off", "stuck"])
def test_the_middle_of_three_outvotes_one_wrong_reading(kind, number):
    found = ruled("middle", 30.0, ReadingFault(kind, number, 60.0), SUMMER_C)
    assert found.state == "held"
    assert min(abs(found.true_pa[[2, 1 - number]] - 30.0)) < 0.3
    assert not found.out.any()  # of the stair doors: in summer the final exit door would not close again at any set point


def test_a_zero_makes_the_middle_of_three_hold_the_lower_good_one_and_jams_the_top():
    """In winter, with the set point of the average: nothing is outvoted but the zero."""
    found = ruled("middle", 40.0, ReadingFault("tube off", 1))
    assert found.believed_pa[1] == 0.0
    assert found.reading_pa == pytest.approx(min(found.true_pa[0], found.true_pa[2]))
    assert found.worst.too == "high"
    assert not found.inside
    stuck_high = ruled("middle", 40.0, ReadingFault("stuck", 0, 100.0))
    assert stuck_high.reading_pa == pytest.approx(max(stuck_high.true_pa[1], stuck_high.true_pa[2]), abs=0.3)


@pytest.mark.parametrize("stair", STAIR_AIR)
@pytest.mark.parametrize("outdoor_c", [WINTER_C, SUMMER_C])
def test_a_reading_that_was_outermost_anyway_fails_unseen_in_the_middle_of_three_and_any_other_moves_the_fan(outdoor_c, stair):
    def at(fault=NO_FAULT):
        (found,) = rule_bench().ruled(outdoor_c, 40.0, ALL_SHUT, fault, ("middle",), stair=stair)
        return found

    sound = at()
    for number in (0, 1):
        off, high = at(ReadingFault("tube off", number)), at(ReadingFault("stuck", number, 70.0))
        least, most = (of(sound.true_pa) == number for of in (np.argmin, np.argmax))
        assert off.speed_hz == pytest.approx(sound.speed_hz, abs=0.01) if least else off.speed_hz > sound.speed_hz + 0.2
        assert high.speed_hz == pytest.approx(sound.speed_hz, abs=0.01) if most else high.speed_hz < sound.speed_hz - 0.2
    if outdoor_c == WINTER_C:  # as the page says of the lower one: unseen with the highest as well, until a second one fails
        assert np.argmin(sound.true_pa) == 0
        assert ruled("highest", 40.0, ReadingFault("tube off", 0)).speed_hz == pytest.approx(ruled("highest", 40.0).speed_hz)
        assert combine([0.0, 0.0, 80.0], "middle") == 0.0
    page = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    assert "unless the failed one read least anyway; then nothing changes" in page
    assert "unless the failed one read most anyway; then nothing changes" in page


def test_in_the_first_minute_the_stairs_ends_lie_farther_apart_than_the_window_is_wide_however_fast_the_fan():
    bench = rule_bench()
    least, most = bench.window.by_storey(bench.tower.levels, "stair door")
    for set_point in np.arange(10.0, 60.0, 2.5):
        (one,) = bench.ruled(WINTER_C, set_point, rules=("average",), stair=FIRST_MINUTE)
        assert np.ptp(one.storeys_pa) > (most - least).max(), set_point
    (one,) = bench.ruled(WINTER_C, 40.0, rules=("average",), stair=FIRST_MINUTE)
    apart, wide = one.storeys_pa[-1] - one.storeys_pa[0], (most - least).min()
    assert f"storey 13 has {apart:.1f} Pa more than storey 0, and the window is {wide:.1f} Pa wide" in written_out(too_tall_line())
    assert too_tall_told().written[1] == written_out(too_tall_line())


def test_the_log_entry_that_the_page_opens_with_is_closed_where_no_set_point_passes():
    page = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    closed = page.split(f"## {SECTION}")[1].split("## Exercises")[0]
    assert "log entry at the top of this page** names no approval. Report it the same day" in closed
    assert "Whoever is authorised puts the approved rule and set point back together" in closed


def test_the_highest_with_a_tube_off_holds_the_other_only_where_the_fan_can():
    assert ruled("highest", 55.0, ReadingFault("tube off", 1)).state == "at full speed"
    assert ruled("highest", 30.0, ReadingFault("tube off", 1)).state == "held"


@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("rule", RULES)
def test_a_reading_stuck_below_the_set_point_does_what_the_pages_table_says(rule, number):
    """As a zero does, by less: the other one above the set point, full speed, the other alone, the lower of the two good ones."""
    found = ruled(rule, 30.0, ReadingFault("stuck", number, 25.0), SUMMER_C)
    if rule == "lowest":
        assert found.state == "at full speed"
        return
    other = found.true_pa[1 - number]
    assert found.state == "held"
    if rule in ("average", "weighted"):
        assert other > 30.5
    else:
        held = other if rule == "highest" else min(other, found.true_pa[2])
        assert held == pytest.approx(30.0, abs=0.3)


@pytest.mark.parametrize(("rule", "number", "share"), [("average", 0, 0.5), ("average", 1, 0.5), ("weighted", 0, 2 / 3)])
def test_a_reading_stuck_high_gives_the_stair_up_under_an_average_too_from_the_set_point_divided_by_its_share(rule, number, share):
    for outdoor_c in (WINTER_C, SUMMER_C):
        given_up = ruled(rule, 40.0, ReadingFault("stuck", number, 40.0 / share), outdoor_c)
        assert given_up.state == "at lowest speed" or given_up.true_pa[1 - number] == pytest.approx(0.0, abs=0.3)
        assert given_up.weakest.out
        below = ruled(rule, 40.0, ReadingFault("stuck", number, 45.0), outdoor_c)
        assert below.state == "held"
        assert below.true_pa[1 - number] < 39.0


def test_the_summary_says_what_is_laid_down_here_for_a_failed_reading_before_what_was_tried():
    card = senior_card()._repr_mimebundle_()["text/plain"]
    first = Design(rule_bench().site).standing.first(SET_POINT, ACTION, FAN)
    assert first
    told = next(line for line in card.splitlines() if "Least bad" in line)
    assert told.strip().startswith("Tried on page 12, with the relief damper stuck as well; do not enter. FAIL: ")
    before = card.splitlines()[card.splitlines().index(told) - 1]
    assert before.strip() == f"Here {first}; as long as that is open, the other reading goes on at the same set point."
    page = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    assert "**At Larkfield House nothing is laid down:**" in page.split("What to do about it")[1].split("Why: which storey")[0]


def test_no_line_of_the_page_lets_a_reader_set_or_leave_out_a_reading_without_the_designer():
    """A reading beside an open door is ignored where the designer has decided so: a change of an approved system like any other."""
    page = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    card = senior_card()._repr_mimebundle_()["text/plain"]
    for order in ("let that reading be ignored", "ignore it for a while", "ignore that one for a while"):
        assert order not in page + card
    assert "whether that reading is ignored, the designer decides" in page
    assert "whether that one is ignored for a while, the designer decides" in card


def test_what_is_found_by_a_larger_fan_is_told_apart_before_the_list_of_what_fails():
    lines = written_out(way_out_lines())
    step = next(line for line in lines if "Write down what fails" in line)
    told = 'By the model (a line "with a fan that is enough" is of a larger one than is there):'
    assert (told in step) == (not Design(rule_bench().site).standing.fan_holds)
    assert "with a fan that is enough)" in step.split(told)[1]  # of one of the doors
    assert step.split(told)[1].splitlines()[1].endswith("its closer shuts it up to 35.4 Pa;")  # and the exit's is of the fan that is there


def test_a_rule_that_nobody_approved_is_told_to_go_back_whichever_it_is(panel):
    for rule in ("lowest", "highest", "weighted", "middle"):
        do = written_out(panel.put(rule=rule, set_point_pa=35.0).do)
        assert do == BACK.format("average reading, 40 Pa"), rule
    told = panel.put(fault=FAULT_CHOICES["upper one's tube off"], rule="average", set_point_pa=40.0).words
    assert "Mend the transmitter, and leave the set point: with this fault only " in told


def test_the_pages_table_and_the_panel_say_the_same_of_the_middle_of_three():
    page = (Path(__file__).parents[2] / "notebooks" / "06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    assert "outvoted" not in page.split("Summary for the reviewing engineer")[0]
    assert "the **lower** of the two good ones is held" in page


def test_an_open_door_beside_a_transmitter_sends_the_lowest_and_the_average_to_full_speed_and_leaves_the_highest():
    opened = DoorsOpen((1, 2))
    assert ruled("lowest", 30.0, opened=opened).state == "at full speed"
    assert ruled("average", 40.0, opened=opened).speed_hz > 49.0
    assert ruled("highest", 55.0, opened=opened).inside


def test_in_summer_the_rules_meet_because_there_is_little_stack_effect():
    def apart(outdoor_c):
        speeds = [ruled(rule, 30.0, outdoor_c=outdoor_c).speed_hz for rule in ("average", "lowest", "highest")]
        return max(speeds) - min(speeds)

    assert apart(SUMMER_C) < 1.0 < 5.0 < apart(WINTER_C)


# ------------------------------------------------------------------------------------------------------------------ the panel


def test_the_panel_begins_in_order_and_the_rule_of_the_log_book_is_not(panel):
    assert panel.verdict.kind == "wrong"  # inside at one temperature of the stair, and not in its first minute
    assert "in the first minute, as warm as the rooms, FAIL: " in panel.verdict.words
    verdict = panel.put(rule="lowest")
    assert verdict.kind == "wrong"
    assert "too heavy to open" in verdict.words
    assert "At this set point average" in verdict.words
    assert "too high on storey 9" in panel.picture.words


def test_the_set_points_it_names_keep_every_door_inside_and_one_beyond_does_not(panel):
    for rule in RULES:
        low, high = rule_bench().set_points_pa(WINTER_C, rule=rule)
        for set_point, inside in ((low + 0.1, True), (high - 0.1, True), (low - 0.3, False), (high + 0.3, False)):
            assert ruled(rule, set_point).inside == inside, (rule, set_point)
        verdict = panel.put(rule=rule, set_point_pa=round((low + high) / 2))
        assert verdict.kind == "wrong"  # in the first minute
        assert "Every shut door is inside" in verdict.words
        assert "in the first minute, as warm as the rooms, FAIL: " in verdict.words


@pytest.mark.parametrize("system", SYSTEMS)
def test_both_ends_of_the_set_points_that_are_shown_work(panel, system):
    for rule in RULES:
        low, high = rule_bench().set_points_pa(WINTER_C, rule=rule)
        text = written_out(inside_text(low, high), system)
        for end in text.removesuffix(unit_label("pressure", system)).split(" to "):
            assert ruled(rule, float(from_display(float(end), "pressure", system))).inside, (rule, end)
        assert text in panel.answer(system, **panel.values | {"rule": rule})[0].words


def test_with_a_fault_the_panel_says_what_the_display_hides(panel):
    verdict = panel.put(fault=FAULT_CHOICES["lower one's tube off"])
    assert verdict.kind == "wrong"
    assert "the display shows 40 Pa, while there are 39 Pa at the lower transmitter and 80 Pa at the upper one" in verdict.words
    verdict = panel.put(rule="highest", set_point_pa=51.0)
    assert "Every shut door is inside" in verdict.words  # with a fault that nobody sees
    assert verdict.kind == "wrong"  # in the first minute
    assert not panel.controls["stuck_pa"].shown


def test_the_value_it_sticks_at_is_asked_for_only_then(panel):
    verdict = panel.put(fault=FAULT_CHOICES["upper one stuck"], rule="highest", set_point_pa=55.0, stuck_pa=60.0)
    assert panel.controls["stuck_pa"].shown
    assert "at its lowest speed" in verdict.words
    assert "smoke can pass" in verdict.words
    assert "at full speed" in panel.put(stuck_pa=50.0).words  # below the set point it is the lower one that rules


def test_a_door_that_lets_smoke_pass_is_for_the_code_where_those_doors_are_no_case_of_the_design_one_that_cannot_be_opened_fails(panel):
    """As the record has it, and lesson 02 and the record's panel."""
    verdict = panel.put(opened=CASES["storeys 1 and 2 open"])
    assert verdict.kind == "wrong"
    assert "159 N at the handle" in verdict.words
    assert "Not a case of the design, and FAIL all the same" in verdict.words
    verdict = panel.put(set_point_pa=20.0)
    assert "smoke can pass" in verdict.words
    assert verdict.kind == "attention"
    assert "Not a case of the design: which doors count as open, the code and the approved design decide" in verdict.words
    assert panel.put(opened=CASES["6, 7 and the final exit door"], set_point_pa=40.0).kind == "wrong"


def test_in_the_first_minute_no_set_point_suits_the_rule_that_the_file_begins_with(panel):
    verdict = panel.put(stair=STAIR_CHOICES["first minute, as the rooms"])
    assert verdict.kind == "wrong"
    assert "No set point keeps every door inside" in verdict.words
    late = panel.put(stair=STAIR_CHOICES["after an hour"], set_point_pa=38.0)
    assert late.kind == "wrong"
    assert "Every shut door is inside" in late.words
    assert "in the first minute" in late.words


def test_the_air_that_is_chosen_is_the_one_in_headline_tiles_and_case(panel):
    late = panel.put(stair=AFTER_AN_HOUR)
    found = rule_bench().ruled(WINTER_C, 40.0, rules=("average",), stair=AFTER_AN_HOUR)[0]
    assert "after an hour" in late.case
    assert f"{found.worst.column.use} {found.worst.column.level}" in late.head
    assert late.tiles != panel.put(stair=FIRST_MINUTE).tiles
    assert "FAIL in the first minute, too" in late.case
    inside = panel.put(stair=AFTER_AN_HOUR, set_point_pa=38.0)
    assert inside.head.startswith("Inside after an hour; FAIL in the first minute, ")
    assert inside.kind == "wrong"


def test_with_a_fault_a_display_is_told_with_its_moment_in_the_tile_and_in_the_words(panel):
    late = panel.put(fault=FAULT_CHOICES["lower one's tube off"], stair=AFTER_AN_HOUR)
    assert late.tiles[-1][0] == "Display, after an hour"
    panel.put(stair=AS_STATED, rule="average", fault=FAULT_CHOICES["upper one's tube off"])
    assert panel.verdict.tiles[-1][0] == "Display, first minute"
    assert f"The display then shows {panel.verdict.tiles[-1][1]}" in panel.verdict.words


def test_no_answer_of_a_weighted_average_lies_above_the_range_of_its_transmitters():
    for system in SYSTEMS:
        for seed in range(60):
            assert exercise_of(weighted_average, seed, system).answer.value < RANGE_PA


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_choice_gives_a_verdict_in_both_systems(panel, system):
    for rule in RULE_CHOICES.values():
        for opened in CASES.values():
            for outdoor_c in (-25.0, 35.0):
                verdict, data = panel.answer(
                    system, **panel.values | {"rule": rule, "opened": opened, "outdoor_c": outdoor_c, "beside": "lowest"}
                )
                assert verdict.kind in ("good", "attention", "wrong")
                assert "Pa" not in verdict.words or system == "Pa"
                assert [bool(entry.pen.marker) for entry in data.legend[:-2]] == [True, True, False][: 2 + (rule != "lowest")]


def test_in_summer_the_key_and_the_sentence_name_the_street_door_and_it_is_drawn_at_its_own_limit(panel):
    verdict = panel.put(outdoor_c=31.0)
    assert verdict.kind == "wrong"
    assert "average: an exit too high" in panel.picture.words
    assert "Final exit 0" in panel.picture.words
    assert "the final exit door's closer alone. Were that door closed by a power operator, 27 to 53 Pa would" in verdict.words


def test_only_the_chosen_rule_has_crosses_now_and_in_the_first_minute(panel):
    for rule in ("average", "lowest"):
        panel.put(rule=rule, beside="highest")  # under lowest the exit is out as well
        now, early = (rule_bench().ruled(WINTER_C, 40.0, rules=(rule,), stair=stair)[0] for stair in (AS_STATED, FIRST_MINUTE))
        assert len(drawn(panel.picture, "out")[0].get_xdata()) == now.out.sum() + early.out.sum() + (rule == "lowest")


def test_the_card_and_the_page_name_the_usual_choice_and_the_card_what_it_costs_at_the_other_doors():
    card = senior_card()._repr_mimebundle_()["text/plain"]
    usual = "lowest reading held at the code's least and a margin (common practice, no source)"
    assert usual in card
    assert "a reading beside an open door ignored for a while" in card
    tried = [rule_bench().ruled(WINTER_C, 25.0 + SPARE_PA, rules=("lowest",), stair=stair)[0] for stair in STAIR_AIR]
    heaviest = max((one.heaviest for one in tried), key=lambda door: door.dp_pa)
    assert heaviest.out
    assert f"FAIL {written_out(heaviest.text())}" in card
    page = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    assert "reading held at the code's least and a margin" in page


def test_what_would_do_is_told_with_what_the_first_minute_makes_of_it(panel):
    """In the sentence that names a set point or another rule, not some sentences on."""
    for rule in ("average", "lowest", "highest", "weighted"):
        for words in (panel.put(rule=rule, set_point_pa=40.0).words, panel.put(rule=rule, set_point_pa=28.0).words):
            for sentence in words.split(". "):
                if "keeps every door inside" in sentence or "would keep every door inside" in sentence or "under " in sentence:
                    assert "in the first minute" in sentence, sentence


def test_the_clause_on_the_first_minute_is_the_benchs(panel):
    for outdoor in (WINTER_C, 10.0, SUMMER_C):
        for rule in ("average", "lowest", "highest"):
            words = panel.put(rule=rule, outdoor_c=outdoor).words
            early = rule_bench().set_points_pa(outdoor, rule=rule, stair=FIRST_MINUTE)
            now = rule_bench().set_points_pa(outdoor, rule=rule)
            if now is None:
                assert "No set point keeps every door inside with this rule" in words
            if early is None:
                assert ("none does in the first minute" in words) == (now is not None)  # where none does now either, that says it
            elif now is None or written_out(inside_text(*early)) != written_out(inside_text(*now)):
                assert f"in the first minute {written_out(inside_text(*early))}" in words
    assert "in the first minute" not in panel.put(stair=FIRST_MINUTE, rule="average").words.split("keep")[0]


def test_the_card_works_at_the_set_point_of_the_site_and_says_whose_it_is():
    words = written_out(senior_card().render())[1]
    assert f"At the site's {rule_bench().site.control.set_point_pa:.0f} Pa, winter, doors shut, 133 N allowed" in words
    first = next(line for line in words.splitlines() if "one decision" in line)
    assert "in its first minute no set point suits any of the three" in first
    wanted = f"{written_out(inside_text(*rule_bench().set_points_pa(WINTER_C, rule='average')))} for the average"
    assert wanted in first
    assert not any(rule_bench().recorded_pa(rule) for rule in ("average", "lowest", "highest"))
    assert "in the record: that is none here, enter no figure" in first
    assert "with the stair as the site file has it" in first
    # 41 Pa is the end of what works with the average, told as that and nowhere as the set point that the card works at.
    assert "41 Pa" not in words.replace(wanted, "")


def test_whoever_takes_the_fan_by_hand_first_tells_the_building_and_the_alarm_service():
    text = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    caution = text[text.index("Cautions, first") : text.index("The words, said out loud")]
    assert "the stair is not protected" in caution
    assert "Tell the building and the alarm service before" in caution
    table = text[text.index("What goes wrong on site") :]
    assert "told that the stair is not protected, fan in manual" in table


def test_the_answer_on_the_kept_set_point_tells_what_the_first_minute_makes_of_it():
    """A set point that suits the stair as its file says is not told as one to enter."""
    words = written_out(kept_set_point.find()).words
    early = rule_bench().set_points_pa(WINTER_C, rule="lowest", stair=FIRST_MINUTE)
    assert early is None
    assert words.endswith("here with the stair at 10 °C, as its file says; none does in the first minute.")


def test_an_answer_that_is_no_whole_pascal_is_shown_as_it_is_and_a_force_is_judged():
    for make in (combined_reading, dead_in_the_average, weighted_average):
        for seed in range(12):
            made = exercise_of(make, seed)
            assert f"{made.answer.value:.1f}".removesuffix(".0") in made.grade(f"{made.answer.value:.1f}").words
    for system in SYSTEMS:
        for seed in range(12):
            made = exercise_of(force_at_the_top, seed, system)
            limit = doors.FORCE_LIMITS_N["nfpa101_set_in_motion"]
            assert (": PASS" if made.answer.value <= limit else ": FAIL") in made.way[-1]


def test_the_card_says_whether_this_relief_damper_is_enough():
    card = senior_card()._repr_mimebundle_()["text/plain"]
    tried = [rule_bench().ruled(WINTER_C, 25.0 + SPARE_PA, rules=("lowest",), stair=stair)[0] for stair in STAIR_AIR]
    out = any(one.heaviest.out for one in tried)
    assert f"counted in, and {'is not' if out else 'is'} enough" in card


def test_the_picture_crosses_the_door_that_the_headline_names_also_where_it_is_out_in_the_first_minute_alone(panel):
    for set_point_pa, words in ((40.0, "at stair door 0"), (44.0, "at stair door 13")):
        verdict = panel.put(set_point_pa=set_point_pa)
        assert words in verdict.head
        assert "first minute" in verdict.case
        _, data = panel.answer("Pa", **panel.values)
        crosses = next(one for one in data.axes[0].layers if getattr(one, "label", "") == "out")
        storey = int(words.split()[-1])
        heights = rule_bench().tower.elevation_m
        assert heights[rule_bench().tower.storey(storey)] in crosses.y
    panel.put_back()


# ------------------------------------------------------------------------------------------------------ where no set point passes


def test_where_no_set_point_passes_the_page_says_what_to_do_meanwhile_in_order(units):
    """Nothing is changed, what fails is told to who decides, and the building comes before the set point: the record's own figures."""
    assert none_passes()
    lines = written_out(way_out_lines(), "Pa")
    assert [words in line for words, line in zip(("as it was approved", "Write down", "Tell", "before the set point", "order"), lines,
            strict=True)] == [True] * 5  # fmt: skip
    against = Design(rule_bench().site).standing.set_point_against()
    assert against
    assert all(written_out(one, "Pa") in lines[1] for one in against)
    assert "authority having jurisdiction" in lines[2]
    assert "closers of the stair doors at 50 %" in lines[3]
    assert "a final exit once opened would not close again" in lines[3]
    units.system = "in. w.c."
    assert "in. w.c." in way_out().written[1]


def test_the_page_and_its_card_lead_there():
    notebook = Path(__file__).parents[2].joinpath("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    assert f"## {SECTION}" in notebook
    assert SECTION in senior_card()._repr_mimebundle_()["text/plain"]


def test_a_site_with_a_set_point_is_sent_nowhere(monkeypatch):
    sound = Design(read_site(demo_sites()["Tannery Row"]))
    monkeypatch.setattr("helpers.lessons.average_lowest_highest.no_set_point._design", lambda: sound)
    assert not none_passes()
    assert way_out_lines() == ()
    assert pointed_at() == ""


# ------------------------------------------------------------------------------------------------------- what is said of the doors


def test_the_fan_does_not_lift_all_doors_alike_and_the_answer_says_why():
    """The stair's own friction, tried without it: then the upper doors rise as much as the lower ones."""
    before, after = (ruled(rule, 40.0).true_pa for rule in ("average", "lowest"))
    low, high = np.subtract(after, before)[:2]
    assert high > 2 * low
    ends = [f"from {then:.1f} Pa to {now:.1f} Pa" for then, now in zip(before[:2], after[:2], strict=True)]
    words = written_out(kept_set_point.find()).words
    assert f"the lower transmitter goes {ends[0]}, the upper one {ends[1]}" in words
    assert "full speed, and the reading stops short" in words
    assert "stack effect puts" not in words
    site = rule_bench().site
    smooth = Tower(site.model_copy(update={"stair": site.stair.model_copy(update={"friction_area_m2": 1e3})}))
    slow, fast = (smooth.solve(Conditions.of(site, "winter"), ruled(rule, 40.0).speed_hz).door_dp_pa[0] for rule in ("average", "lowest"))
    assert np.ptp(fast - slow) < 2.0
    text = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    assert "lifts the whole stair" not in text
    assert "only push all of them" not in text


def test_the_cards_worst_doors_are_the_worst_over_the_stairs_temperatures():
    words = written_out(senior_card().render())[1]
    points = rule_bench().set_points_pa(WINTER_C, rule="highest")
    for rule, point, fault in (("highest", sum(points) / 2, ReadingFault("stuck", 1, 60.0)), ("middle", 40.0, ReadingFault("tube off", 1))):
        found = [rule_bench().ruled(WINTER_C, point, ALL_SHUT, fault, (rule,), stair=stair)[0] for stair in STAIR_AIR]
        worst = min(found, key=lambda one: one.rooms_pa.min()).worst
        assert f"{worst.dp_pa:.0f} Pa at the worst door (" in words


def test_the_card_tells_of_the_final_exit_too():
    """At the lowest reading and a margin every stair door may be inside and the exit not close again."""
    (one,) = rule_bench().ruled(WINTER_C, 30.0, ALL_SHUT, NO_FAULT, ("lowest",))
    assert one.worst.column.use == "final exit"
    card = written_out(senior_card().render())[1]
    assert card.partition("Usual in practice")[2].partition("relief damper")[0].count("FAIL final exit 0") == 2
    html = written_out(senior_card().render())[0]  # on the page a table: a verdict, rule, door, pressure and limit in each row
    rows = re.findall(r"<tr.*?</tr>", html, re.S)
    assert len(rows) == 1 + sum(card.count(f"\n{word} ") for word in ("inside:", "PASS", "CHECK", "FAIL"))
    cells = [[re.sub("<[^>]+>", "", cell) for cell in re.findall(r"<td[^>]*>(.*?)</td>", row, re.S)] for row in rows[1:]]
    for verdict, rule, door, pressure, limit, _, when in cells:
        low, high = float(pressure.split()[0]), float(limit.split()[1])
        inside = low >= high if limit.startswith("min.") else low <= high
        assert (verdict.split()[-1:] == ["FAIL"]) != inside, (rule, door, when)  # no FAIL beside a figure that is inside
        assert rule.endswith(": FAIL"), "a rule is judged whole: both fail at a door, and so no row of theirs is a PASS"
        assert "PASS" not in verdict
        room = low - high if limit.startswith("min.") else high - low
        if verdict.split()[-1] != "FAIL":  # one rule on every page: less than 5 Pa to spare is CHECK
            assert verdict.split()[-1] == ("CHECK" if door != "final exit 0" and room < 5 else "inside"), (rule, door, when)


def test_doors_that_are_no_case_of_the_design_are_said_to_be_none_once(panel):
    words = panel.put(opened=CASES["storeys 1 and 2 open"]).words
    assert words.count("Not a case of the design") == 1


def test_no_question_is_answered_before_it_is_asked():
    text = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    asked = [text.index(f'lesson.predict(\\"{name}\\")') for name in ("kept_set_point", "tube_off", "stuck")]
    assert max(asked) < text.index('"lesson.panel()"')
    assert "Was that the safe side" not in text
    assert "asks for the *highest* speed" not in text


def test_two_rules_whose_lines_lie_on_each_other_have_one_name_and_the_exits_word_stands_at_its_square():
    panel = rules_panel()

    def words(**values):
        panel.put_back(**values)
        return {layer.text: layer.x for axes in written_out(panel._found[1]).axes for layer in axes.layers if isinstance(layer, Words)}

    assert {"average", "lowest"} <= set(words(beside="lowest"))
    assert "average = lowest" in words(beside="lowest", outdoor_c=28.0)
    assert words(beside="lowest", outdoor_c=SUMMER_C)["exit"] == pytest.approx(59.96, abs=0.2)  # the headline's own figure, beyond its most
    panel.put_back()


def test_summer_on_the_panel_is_the_designs_own_summer_with_its_wind(panel):
    """To the same figure as the line on what to do, which the record has."""
    case = "summer, doors shut, first minute"
    (door,) = [one for one in Design(rule_bench().site).own.out if (one.case, one.use) == (case, "final exit")]
    verdict = panel.put(outdoor_c=SUMMER_C)
    assert verdict.case.startswith("summer, first minute")
    assert verdict.tiles[0][1] == f"{door.dp_pa:.0f} Pa"
    assert f"no set point passes; how final exit 0 shuts against {door.dp_pa:.0f} Pa" in verdict.do
    assert "wind" in panel.put(outdoor_c=5.0).case


def test_every_task_has_its_answer_folded_away_with_the_figures_of_the_panel(panel):
    lines = written_out(task_lines())
    assert len(lines) == len(panel.tasks)
    for number in (0, 1, 2):
        panel.turn_to(number)
        assert written_out(panel.set_it_so()).tiles[0][1] in lines[number]
    for rule in RULES:
        point = round(sum(rule_bench().set_points_pa(WINTER_C, rule=rule)) / 2)
        found = ruled(rule, point, opened=DoorsOpen((1, 2)))
        (early,) = rule_bench().ruled(WINTER_C, point, DoorsOpen((1, 2)), rules=(rule,), stair=FIRST_MINUTE)
        told = f"fan at {found.speed_hz:.1f} Hz" if found.state == "held" else f"fan {found.state}"
        told = f"{told}, {word_of(worst_of([found.status, early.status]))}"
        assert f"– {rule} at {point} Pa: {told}" in lines[4]
    html, text = task_answers().written
    assert html.startswith("<details>")
    assert text.count("\n") >= len(lines)
    panel.put_back()


def test_the_pages_example_of_a_reading_left_out_ends_at_full_speed_and_says_so():
    found = ruled("average", 40.0, ReadingFault("left out", 1))
    assert found.state == "at full speed"
    assert f"the fan at full speed, {found.speed_hz:.1f} Hz" in written_out(left_out_line())
    assert f"{found.true_pa[0]:.1f} Pa now" in left_out_told().written[1]
    page = Path("notebooks/06_average_lowest_highest.ipynb").read_text(encoding="utf-8")
    assert "Where the set point is out of its reach, the fan runs at full speed" in page
    assert "whatever happens at the doors" not in page


def test_the_hours_of_the_year_are_told_with_the_door_that_they_are_of():
    year, told = year_a_larger_fan(), Design(rule_bench().site).standing.year_against
    assert f"in {year.out} hours" in told
    most = max(year.doors, key=lambda one: one.hours_low + one.hours_high)
    assert f"{most.door.text} has too much pressure in {most.hours_high} of them" in written_out(way_out_lines(), "Pa")[1]
