"""Lesson 07: places, rule and set point judged as a share of sampled conditions, and how sure that share is."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from helpers.formulas.air import neutral_plane_height
from helpers.formulas.uncertainty import normal_quantile, wilson_interval
from helpers.lessons.where_the_transmitters_go.derivations import interval_of_a_share, neutral_plane, share_and_its_interval
from helpers.lessons.where_the_transmitters_go.lesson import LOSS_CHOICES, RULE_CHOICES, _lines, _lost
from helpers.lessons.where_the_transmitters_go.lesson import panel as placement_panel
from helpers.lessons.where_the_transmitters_go.questions import (
    EARLIER_PLACES,
    FEW,
    PREDICTIONS,
    RULED,
    conditions_needed,
    costs_most,
    dead_one,
    lower_end,
    no_stack_effect_here,
    which_place,
)
from helpers.plots.plot import Cells, Words
from helpers.studies.placement.results import LEAST_SHARE, Paired, counted, percent
from helpers.studies.placement.study import Placing
from helpers.studies.placement.table import CONDITIONS, FILE_CHOICE, PAIR_RULES, drawn_conditions, judged, placement_table, set_points_pa
from helpers.studies.status import MOST_TO_DO
from helpers.teaching.questions import exercise_of
from helpers.units import SYSTEMS
from helpers.units.said import with_unit, written_out

PANEL = placement_panel  # what the fixture `panel` makes


def page_text(name):
    """What is written on a page, its outputs left out."""
    cells = json.loads((Path(__file__).parents[2] / "notebooks" / f"{name}.ipynb").read_text(encoding="utf-8"))["cells"]
    return "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")


# ------------------------------------------------------------------------------------------------------------------ the derivations


def test_the_neutral_plane_derived_is_the_formulas():
    draw = np.random.default_rng(7)
    distance, low, high = draw.uniform([[3.0], [0.05], [0.05]], [[100.0], [2.0], [2.0]], (3, 300))
    outdoors, inside = draw.uniform(-30.0, 10.0, 300), draw.uniform(12.0, 30.0, 300)  # winter: inside is the warmer
    derived = neutral_plane().function()
    assert derived(distance, low, high, outdoors, inside) == pytest.approx(neutral_plane_height(distance, low, high, outdoors, inside))
    assert derived(distance[:, None], 1.0, high[:4], 0.0, 20.0).shape == (300, 4)


def test_wilsons_interval_derived_is_the_formulas():
    draw = np.random.default_rng(8)
    trials = draw.integers(5, 3000, 300)
    good = np.maximum(1, draw.binomial(trials, draw.uniform(0.05, 0.95, 300)))
    good = np.minimum(good, trials - 1)
    for confidence in (0.68, 0.95, 0.99):
        derived = interval_of_a_share().function()(good, trials, normal_quantile((1 + confidence) / 2))
        for mine, formula in zip(derived, wilson_interval(good, trials, confidence), strict=True):
            assert mine == pytest.approx(formula, rel=1e-9)


def test_the_worked_example_meets_the_published_interval():
    example = share_and_its_interval()
    assert example.meets
    centre, half, divisor, low, high = (line.value for line in example.working[1:])
    assert ((centre - half) / divisor, (centre + half) / divisor) == pytest.approx((low, high), rel=1e-9)  # the steps by hand lead there
    assert low == pytest.approx(0.2553, abs=0.00005)


# ------------------------------------------------------------------------------------------------------------------ the predictions


@pytest.mark.parametrize("system", SYSTEMS)
def test_each_prediction_has_an_answer_and_says_why(system):
    for prediction in PREDICTIONS:
        outcome = written_out(prediction.find(), system)
        assert not prediction.options or outcome.answer.value in prediction.options
        assert "w.c.." not in written_out(prediction.ask(), system) + outcome.words
        assert "Pa" not in written_out(prediction.ask(), system) + outcome.words or system == "Pa"


def test_another_rules_set_point_costs_more_than_another_place():
    assert written_out(costs_most.find()).answer.value == RULED


def test_one_dead_in_an_average_leaves_a_tenth_and_the_middle_of_three_most():
    assert written_out(dead_one.find()).answer.value == FEW
    assert 0.05 < placement_table().at("average", 1, 12, 40.0).share("dead") < 0.15
    assert placement_table().best("middle", loss="dead").share("dead") > 0.65


# ------------------------------------------------------------------------------------------------------------------ the panel


def test_the_panel_begins_with_the_site_files_own_choice(panel):
    own = placement_table().at("average", 1, 12, 40.0)
    assert f"{100 * own.share():.1f} % of 2000 sampled conditions" in panel.verdict.words
    assert panel.verdict.kind == "wrong"  # the gravest of its tiles: what one dead transmitter leaves
    assert own.share("dead") < LEAST_SHARE < own.share()
    assert panel.controls["loss"].said.endswith("all working")  # so that the headline says what would be
    assert panel.verdict.head == f"If one dies: {percent(own.share('dead'))} of samples right; FAIL under 50 %"
    assert panel.verdict.tiles[1] == ("One dead, reading zero", percent(own.share("dead")), "FAIL under 50 %")
    assert f"chosen: average of storeys 1 and 12: {100 * own.share():.3g}" in panel.picture.words


def test_the_best_of_all_is_to_be_looked_at_and_a_bad_set_point_fails(panel):
    verdict = panel.put(rule="middle", set_point_pa=35.0, upper=8, lower=3)
    assert verdict.kind == "attention"  # a quarter of the conditions is out
    assert "The best tried" in verdict.words
    assert "the final exit door not counted" in verdict.words.split(". ")[0]
    assert "One stuck high" in verdict.words
    assert "With its own closer" in verdict.words  # what the headline's share leaves out, beside it
    assert panel.put(set_point_pa=25.0).kind == "wrong"
    assert "too low" in panel.verdict.words


def test_nobody_is_told_to_drill_where_supply_air_enters_and_card_map_and_figures_say_the_same(panel):
    """It enters on storey 13, the page asks for three storeys, and the model has no jet that would show why."""
    assert panel.verdict.case == "storeys 1/12, 12 near supply air; final exit uncounted, with it 0.0 %"  # the file's own choice
    assert "do not drill there by this figure" in panel.verdict.words
    axes = panel.answer("Pa", lower=1, upper=12, set_point_pa=40.0, rule="average", loss="none")[1].axes[0]
    (cells,) = [one for one in axes.layers if isinstance(one, Cells)]
    for axis, grey in ((axes.x, cells.greyed.all(axis=0)), (axes.y, cells.greyed.all(axis=1))):  # a star is a row and a column on grey
        assert [label for label in axis.ticks[1] if "*" in label] == ["0*", "11*", "12*", "13*"]
        assert np.flatnonzero(grey).tolist() == [0, 11, 12, 13]
    assert not cells.greyed[1:11, 1:11].any()
    plot = panel.answer("Pa", lower=1, upper=12, set_point_pa=40.0, rule="average", loss="none")[1]
    assert [one.text for one in plot.legend if "do not drill" in one.text] == ["grey, *: do not drill (supply air, exit)"]
    noted = [one.text for one in axes.layers if isinstance(one, Words)]  # which door, by how much: as headline and tiles have it
    assert noted == ["chosen, all working: door 1", "too low in 14.7 % of samples", "one dead: all right in 8.6 %"]
    assert panel.verdict.tiles[0][2] == "door 1 too low in 14.7 %"
    assert "8.6 % of samples" in panel.verdict.head
    for rule in RULE_CHOICES.values():
        verdict = panel.put(rule=rule, lower=1, upper=10)
        best = re.search(r"best tried, all working: [^:]*", panel.picture.words)[0]
        for told in (verdict.do, best):
            assert not re.search(r"storeys? (\d+(, | and |/))*(0|11|12|13)\b", written_out(told)), told
        assert "supply air" not in verdict.head + verdict.case
        assert "do not drill" not in panel.verdict.words
    jet = panel.put(rule="middle", lower=11, upper=13)
    assert re.search("11-13 (too )?near (the )?supply air", f"{jet.head} {jet.case}")
    advice = written_out(_lines())
    assert "Supply air enters on storey 13; keep every high-side tube end at least three storeys away" in advice[3]
    assert not re.search(r"\b(11|12|13)\b", advice[2])
    assert "storey 0 beside the exit door" in panel.put(rule="average", lower=0, upper=10).case
    answers = f"{written_out(dead_one.find()).words} {written_out(costs_most.find()).words}"
    assert "storeys 12 and 13" not in answers
    assert "11, 12 and 13" not in answers


def test_moving_one_transmitter_past_the_other_takes_it_along(panel):
    panel.put(lower=13)
    assert panel.controls["upper"].value == 13
    assert "Storey 13 alone" in panel.verdict.words
    panel.put(upper=4)
    assert panel.controls["lower"].value == 4


def test_three_need_room_for_the_third_and_the_last_map_stays(panel):
    panel.put(rule="middle")
    assert "Middle of storeys 1, 6 and 12" in panel.verdict.words
    before = panel.picture.words
    verdict = panel.put(lower=11)
    assert verdict.kind == "entry"
    assert "no place for a third" in verdict.words
    assert panel.picture.words == before


def test_a_lost_transmitter_shows_on_the_map_and_in_the_words(panel):
    verdict = panel.put(loss="dead")
    assert verdict.kind == "wrong"
    assert "one of them dead and counted as zero: all doors inside in 8.6 %" in verdict.words
    panel.put(loss="left_out", lower=12)
    assert "no reading to run the fan by" in panel.verdict.words


def test_a_lost_transmitters_tiles_tell_no_figure_of_the_sound_pair_as_its_own(panel):
    tiles = {name: (value, limit) for name, value, limit in panel.put(loss="dead").tiles}
    assert tiles["All doors right"] == ("8.6 %", "FAIL under 50 %")  # no door: counted with all working, those that fail now are others
    assert tiles["All working"][0] == f"{100 * placement_table().at('average', 1, 12, 40.0).share():.1f} %"
    assert not any("best tried, " in words for words in panel.picture.words.split(". "))
    assert "All on this map are alike" in panel.verdict.words
    panel.put(rule="highest")
    best = placement_table().best("highest", 40.0, "dead")
    assert f"best tried, one dead: storeys {best.lower} and {best.upper}" in panel.picture.words


def test_one_stuck_high_is_looked_up_where_the_others_decide():
    """Written again from rows of the table: the middle of top, a and b is the greater of a and b; the lowest of top and a is a."""
    table = placement_table()
    middle, lowest = table.at("middle", 8, 11, 40.0), table.at("lowest", 2, 9, 30.0)
    pairs = [table.at("highest", lower, upper, 40.0).inside for lower, upper in ((8, 9), (8, 11), (9, 11))]
    assert table.stuck_high(middle) == min(pairs)
    assert table.stuck_high(lowest) == min(table.at("alone", level, level, 30.0).inside for level in (2, 9))
    assert table.stuck_high(table.best("highest")) is None  # the highest follows the one that is stuck


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_place_of_a_stair_is_asked_as_the_study_found_it_and_earlier_answers_are_read(system):
    ((earlier, now),) = EARLIER_PLACES
    made = [exercise_of(which_place, seed, system) for seed in range(30)]
    asked = [one for one in made if one.answer.value == now]
    assert asked
    assert all(one.grade(earlier).right for one in asked)
    assert {one.grade(earlier).slip for one in made if one not in asked} == {f"says: {earlier}"}


def test_the_panel_says_whether_a_choice_is_told_apart_from_the_best_and_from_which_figure_on(panel):
    words = panel.put(rule="average", lower=2, upper=8, set_point_pa=35.0).words
    assert "in 276 of 1000 draws (exact test on pairs), 50 or more: not told apart" in words
    assert "under 50: told apart" in panel.put(rule="highest", lower=4, upper=5).words
    assert [Paired(9, 1, chance).text().split("in ")[-1] for chance in (0.04996, 0.0501, 0.0508)] == [
        "49.96 of 1000 draws (exact test on pairs), under 50: told apart",
        "50.10 of 1000 draws (exact test on pairs), 50 or more: not told apart",
        "50.80 of 1000 draws (exact test on pairs), 50 or more: not told apart",
    ]


def test_three_and_two_are_told_apart_for_the_electrician_only_where_they_are():
    """With all right by the smallest chance that any pairs with their difference can have: one choice alone ever holds."""
    table = placement_table()
    spare, two = table.best("middle", loss="dead"), table.best("highest", loss="dead")
    assert table.best(loss="dead") == two  # of which the table has pairs
    assert 2 * 0.5 ** abs(two.inside - spare.inside) >= 0.05
    line = written_out(_lines())[2]
    pair = spare.against(two, "dead")
    assert pair.chance < 0.05
    assert "With all right the two layouts are not told apart; with one dead they are (only the two hold in 50" in line
    assert f"only the two hold in {pair.gained} conditions, only the three in {pair.lost})" in line


def test_a_number_of_conditions_is_rounded_up_by_the_z_that_is_given():
    for seed in range(30):
        exercise = exercise_of(conditions_needed, seed, "Pa")
        share, points = (float(found) / 100 for found in re.search(r"about (\d+) % .* within ([\d.]+) point", exercise.question).groups())
        exact = 1.96**2 * share * (1 - share) / points**2
        assert exercise.answer.value - 1 < exact <= exercise.answer.value
        assert all(exercise.grade(f"{exact * off:.0f}").right for off in (0.981, 1.0, 1.019))  # as before
        told = exercise.grade(f"{exercise.answer.value - 1:.0f} conditions").words  # taken, and told what was asked for
        assert told == f"Right: {exercise.answer.value:.0f} conditions, rounded up."


def test_a_forgotten_divisor_that_gives_what_a_z_of_one_gives_is_told_both():
    made = [exercise_of(lower_end, seed, "Pa") for seed in range(80)]
    told = 0
    for exercise in made:
        undivided = next(slip.gives for slip in exercise.more if slip.name == "divisor forgotten")
        z_of_one = next(slip.gives for slip in exercise.slips if slip.name == "one sigma")
        words = exercise.grade(f"{undivided:.1f}").words
        if abs(undivided - z_of_one) < 0.4:
            told += 1
            assert "z as 1" in words
        assert "divided by" in words or "z as 1" not in words
    assert told


def test_one_figure_of_two_slips_is_told_both():
    """Of p = 0.75: one half for p gives the figure of 1 - p alone, and the whole width that of p alone."""
    z = float(normal_quantile(0.975))
    made = [exercise_of(conditions_needed, seed, "Pa") for seed in range(60)]
    asked = [one for one in made if "about 75 %" in one.question]
    assert asked
    for one in asked:
        points = float(re.search(r"within ([\d.]+) point", one.question)[1]) / 100
        told = one.grade(f"{z**2 / 4 / points**2:.0f}").words
        assert "1 - p alone" in told
        assert "one half" in told
        told = one.grade(f"{z**2 * 0.75 / points**2:.0f}").words
        assert "whole width" in told
        assert "p alone" in told


def test_the_page_teaches_what_its_exercises_ask():
    """Wilson's name, the plain formula in the very letters of the exercise, and what one sigma is."""
    text = page_text("07_where_the_transmitters_go")
    asked = exercise_of(conditions_needed, 1, "Pa").question
    assert "n = z² p (1 − p) / e²" in asked
    assert "n = z² p (1 − p) / e²" in text
    assert "Wilson's interval" in text
    assert "one standard deviation (*one sigma*)" in text
    assert "°F plus 459.67" in text


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_rule_set_point_and_loss_gives_a_verdict_in_both_systems(panel, system):
    for rule in RULE_CHOICES.values():
        for set_point in (*set_points_pa(), 24.9, 64.8):
            for loss in LOSS_CHOICES.values():
                verdict, data = panel.answer(system, lower=2, upper=11, set_point_pa=set_point, rule=rule, loss=loss)
                assert verdict.kind in ("attention", "wrong")  # no choice is inside in all of them
                assert "Pa" not in verdict.words or system == "Pa"
                assert data.axes[0].layers[0].values.shape == (14, 14)


def test_the_card_for_the_senior_has_five_lines_and_the_figures_of_the_table():
    lines = written_out(_lines())
    assert len(lines) == 5
    best = placement_table().best()
    assert written_out(best.text()) in lines[1]
    assert f"{100 * best.share():.1f} %" in lines[1]
    assert "One stuck high" in lines[1]
    assert lines[2].startswith("To the electrician: rather three than two: ")  # the question the page opens with, its answer first
    assert not re.search(r"\bdrill for\b", " ".join(lines))  # no order to drill for what no choice passes with
    assert "Before anybody drills, the designer decides: neither is a PASS" in lines[2]
    spare, two = (placement_table().best(rule, loss="dead") for rule in ("middle", "highest"))
    stuck = placement_table().stuck_high
    keeps = [f"{100 * share:.1f} %" for share in (spare.share(), spare.share("dead"), stuck(spare) / CONDITIONS)]
    assert (
        "storeys 4, 5 and 6 (middle, 35 Pa): they keep {} with all right, {} with one dead, {} with one stuck high".format(*keeps)
        in lines[2]
    )
    keeps = [f"{100 * share:.1f} %" for share in (two.share(), two.share("dead"))]
    assert (
        "only two: storeys 4 and 5 (highest, 35 Pa): {} with both right, {} with one dead, but none with one stuck high".format(*keeps)
        in lines[2]
    )
    assert "the final exit door not counted" in lines[0]
    # what would do better with one stuck high, of all places of three at that set point, and what it costs with one dead
    other = max((one for one in placement_table().placed
                 if one.rule == "middle" and one.set_point_pa == spare.set_point_pa and not one.unfit), key=stuck)  # fmt: skip
    keeps = [f"{100 * (count / CONDITIONS):.1f} %" for count in (stuck(other), other.dead)]
    assert other.levels == (3, 4, 5)
    assert "(Storeys 3, 4 and 5 keep {} with one stuck high, but {} with one dead.)".format(*keeps) in lines[2]


def failed_by_hand(table, one):
    """Conditions that one choice keeps in the worst of the three failures that were counted, 0 where one of them was not."""
    stuck = table.stuck_high(one)
    return 0 if stuck is None or one.left_out < 0 else min(one.dead, one.left_out, stuck)


def test_what_is_advised_keeps_most_with_one_failed_in_the_worst_way_clear_of_supply_and_exit():
    table, advised = placement_table(), placement_table().advised
    assert not {0, 11, 12, 13} & set(advised.levels)
    assert failed_by_hand(table, advised) == max(failed_by_hand(table, one) for one in table.placed if not one.unfit)
    assert table.with_one_failed(advised) == failed_by_hand(table, advised) > 0
    assert advised == table.best("middle", loss="dead")  # the three that the electrician is told of
    for rule in ("highest", "average"):  # stuck high: not counted, and so never kept
        assert table.with_one_failed(table.best(rule)) == 0


@pytest.mark.parametrize("system", SYSTEMS)
def test_one_answer_is_told_wherever_the_controls_stand_with_what_it_keeps_if_one_fails(panel, system):
    """The deed, the tile and the sentence name the same three; what is asked for stands beside the figure."""
    table = placement_table()
    at = {"Pa": "35 Pa", "in. w.c.": "0.14 in. w.c."}[system]
    do = f"Ask: the designer, drill nothing; advised: middle, storeys 4/5/6, {at}"
    asks = {
        table.advised: "Ask: the designer: most of all tried, 69.2 % if one fails, no PASS",
        table.best("highest", loss="dead"): "Ask: the designer: best tried pair if one dies; stuck high, it gives the stair up, no PASS",
    }
    assert all(len(told.partition(": ")[2].split()) <= MOST_TO_DO for told in (do, *asks.values()))
    for rule in RULE_CHOICES.values():
        for point in (30.0, 35.0, 50.0):
            for lower, upper in ((1, 12), (2, 8), (4, 6), (4, 5), (5, 5)):
                if rule == "middle" and upper - lower == 1:
                    continue
                for loss in LOSS_CHOICES.values():
                    one = table.at(rule, lower, upper, point)
                    told = panel.answer(system, lower=lower, upper=upper, set_point_pa=point, rule=rule, loss=loss)[0]
                    assert told.do == asks.get(one, do)
                    closer = "0.0 %" if one == table.at(*FILE_CHOICE) else "at most 18.4 %"
                    assert told.case.endswith(f"final exit uncounted, with it {closer}")
                    if one.count(loss) is not None:
                        kept = [one.share(loss)] + [table.with_one_failed(one) / CONDITIONS] * (loss == "none")
                        assert (told.kind == "wrong") == (min(kept) < LEAST_SHARE)  # the gravest of the tiles
                    if one.count(loss) is None:
                        continue
                    (_, share, _), second, advised = told.tiles
                    assert share == percent(one.share(loss))
                    if one == table.advised:
                        assert advised == ("Advised", "as set", "the designer decides")
                    else:
                        assert advised == ("Three, if one fails", "69.2 %", "72.8 % all working")
                    if loss != "none":
                        assert second == ("All working", percent(one.share()), "")
                    elif rule == "highest" and one.rule == rule:
                        assert second == ("If one sticks high", "stair given up", f"if one dies: {percent(one.share('dead'))}")
                    else:  # what is past the limit with one dead is never told by a better figure
                        assert float(second[1].split()[0]) <= float(percent(one.share("dead")).split()[0])
                        assert second[2] == "FAIL under 50 %"


def test_the_storey_next_to_the_plane_keeps_less_than_a_lower_one_each_at_its_own_set_point():
    table, text = placement_table(), page_text("07_where_the_transmitters_go")
    for level in (7, 5):
        best = max((table.at("alone", level, level, point) for point in set_points_pa()), key=lambda one: one.inside)
        inches = written_out(with_unit(best.set_point_pa, "pressure"), "in. w.c.")
        assert f"at {best.set_point_pa:.0f} Pa ({inches}) storey {level} keeps {percent(best.share())}" in text
    seven, five = judged(  # the table has pairs with the best of all only
        [("alone", level, level, Placing((level,), "average", None, point)) for level, point in ((7, 40.0), (5, 35.0))], drawn_conditions()
    )
    pair = seven.against(five)
    assert pair.told_apart
    assert f"Storey 5 alone holds in {pair.gained} cases, storey 7 alone in {pair.lost}: too far apart for chance" in text


def test_places_rule_and_set_point_are_weighed_each_at_its_own_set_point():
    """By hand from the rows: how far places alone, rules alone on two places, and the best places of each rule lie apart."""
    table = placement_table()
    own = {}
    for one in table.placed:
        if one.rule == "average" and not one.unfit:
            own.setdefault(one.levels, []).append(one.share())
    places = [max(shares) for shares in own.values()]
    assert [one.share() for one in table.each_at_its_own("average")] == sorted(places)
    fixed = [max(table.at(rule, 1, 12, point).share() for point in set_points_pa()) for rule in PAIR_RULES]
    line = written_out(_lines())[0]
    for shares in (places, fixed):
        assert f"{percent(min(shares))} to {percent(max(shares))}" in line
    assert f"the worst pair keeps {percent(min(places))}, the best {percent(max(places))}" in page_text("07_where_the_transmitters_go")


def test_what_the_page_says_the_tasks_come_to_is_what_the_panel_says():
    text, table = page_text("07_where_the_transmitters_go"), placement_table()
    own, moved, ruled = (table.at(*change) for change in (("average", 1, 12, 40.0), ("average", 1, 8, 40.0), ("lowest", 1, 12, 40.0)))
    shown, to, by_rule = (float(percent(one.share()).split()[0]) for one in (own, moved, ruled))
    assert f"{shown} % becomes {to} %: {shown - to:.1f} points" in text  # as a reader takes one written figure from the other
    assert moved.fails_text.startswith("stair door 13, too high")
    assert f"{by_rule} %: {shown - by_rule:.1f} points" in text
    for rule in ("lowest", "highest"):
        best = max((table.at(rule, 1, 12, point) for point in set_points_pa()), key=lambda one: one.inside)
        assert re.search(
            rf"{rule}[a-z ]* at {best.set_point_pa:.0f} Pa \([\d.]+ in\. w\.c\.\), {percent(best.share())}", text, re.IGNORECASE
        )
    back = [max(table.at(rule, 1, upper, point).share() for point in set_points_pa()) for rule, upper in (("average", 8), ("lowest", 12))]
    back = [float(percent(share).split()[0]) for share in back]
    assert (
        f"by four storeys** costs {shown - to:.1f} points. With a new set point {back[0] - to:.1f} of them come back.\n- **Changing the "
        f"rule** costs {shown - by_rule:.1f} points. With a new set point {back[1] - by_rule:.1f} of them come back."
    ) in text
    best, pair = table.best(), own.against(table.best())
    assert f"The {written_out(best.text(held=False))} at {best.set_point_pa:.0f} Pa" in text
    assert f"out in {pair.gained} conditions and inside in {pair.lost} others" in text
    alike, one, in_jet = (table.at(*key) for key in (("average", 2, 8, 35.0), ("alone", 5, 5, 35.0), ("alone", 13, 13, 55.0)))
    draws = 1000 * alike.against(best).chance
    assert draws >= 50
    assert f"4. {percent(alike.share())} against {percent(best.share())}, but {draws:.0f} of 1000 draws: 50 or more" in text
    assert f"with one dead this average keeps {percent(alike.share('dead'))}" in text
    assert f"5. {counted(one.inside, CONDITIONS)}. With the only one dead, {counted(one.dead, CONDITIONS)} remain" in text
    assert f"6. {counted(in_jet.inside, CONDITIONS)}" in text
    # "from 35 Pa on": a zero in an average of two does what a zero does alone, on every pair
    assert {placed.dead for placed in table.placed if placed.rule in ("alone", "average", "lowest") and placed.set_point_pa >= 35.0} == {
        one.dead}  # fmt: skip
    black = {rule: bool(np.nanmax(table.map(rule, 35.0, "dead")) < 0.5) for rule in PAIR_RULES}
    assert black == {"average": True, "lowest": True, "highest": False, "middle": False}
    assert np.nanmax([table.map(rule, point) for rule in PAIR_RULES for point in set_points_pa()]) < 0.8  # "no cell reaches 80 %"
    kept = re.search(r"keeps ([\d.]+ % \([^)]*\)) of 250 conditions, the best of all ([\d.]+ % \([^)]*\))", table.said[-1]).groups()
    assert "keeps {} of 250 conditions, and the best tried {}".format(*kept) in text


def test_the_table_of_lost_readings_has_the_shares_of_its_layouts():
    rows = list(written_out(list(_lost())))
    spare = placement_table().best("middle", loss="dead")
    counts = spare.inside, spare.dead, placement_table().stuck_high(spare)
    assert rows[0] == (f"three, best tried with one dead: {written_out(spare.text())}", *(counted(count, CONDITIONS) for count in counts))
    assert all(row[-1].startswith("not counted: ") for row in rows if row[0].startswith(("two", "one")))


def test_degrees_celsius_put_in_as_they_are_is_a_slip_with_a_name():
    for seed in range(30):
        exercise = exercise_of(no_stack_effect_here, seed)
        told = [slip for slip in exercise.more if slip.name == "degrees as they are"]
        assert all(exercise.grade(written_out(exercise.answer.says(slip.gives))).slip for slip in told)
    assert told
