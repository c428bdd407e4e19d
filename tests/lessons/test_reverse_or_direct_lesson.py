"""Lesson 05: which way a loop acts, to which end the wrong action runs, and what tells it from reversed tubes."""

import re
from pathlib import Path

import numpy as np
import pytest

from helpers.formulas import action
from helpers.lessons.reverse_or_direct.derivations import error_rate, proportional_band
from helpers.lessons.reverse_or_direct.lesson import (
    AUTOMATIC,
    BY_HAND,
    FANS,
    RIGHT_WAY,
    SWAPPED,
    _ended,
    _head,
    _lines,
    senior_card,
)
from helpers.lessons.reverse_or_direct.lesson import panel as run_panel
from helpers.lessons.reverse_or_direct.questions import BELOW_PA, FULL, LOWEST, PREDICTIONS, below, relief, swapped, third_minus
from helpers.studies.signals import action as signals_action
from helpers.studies.signals.action import BENCHES, HELD_SHARE, LetGo, bench
from helpers.studies.signals.range_fit import RangeFit
from helpers.teaching.questions import exercise_of
from helpers.units import SYSTEMS
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

PANEL = run_panel  # what the fixture `panel` makes

SIDES = (-4.0, 4.0)
TWO_SIDES = {site: (-3.0, 3.0) for site in BENCHES}


# ------------------------------------------------------------------------------------------------------------------ the derivation


def test_the_derivation_ends_in_the_formula_of_helpers():
    draw = np.random.default_rng(5)
    sign, process_gain, gain, integral_s = (
        draw.choice([-1, 1], 400),
        *draw.uniform([[0.05], [0.05], [0.5]], [[0.95], [1.0], [60.0]], (3, 400)),
    )
    derived, formula = error_rate().function(), action.error_rate_per_s
    assert derived(sign, process_gain, gain, integral_s) == pytest.approx(formula(sign, process_gain, gain, integral_s), rel=1e-12)
    assert derived(sign[:, None], 0.5, gain[:4], 4.0).shape == (400, 4)


def test_the_worked_example_meets_the_published_band():
    example = proportional_band()
    assert example.meets
    assert example.working[-1].value == action.proportional_band(2.0)
    assert "50 %" in written_out(example.closing())


# ------------------------------------------------------------------------------------------------------------------ the runaway


@pytest.mark.parametrize("site", BENCHES)
def test_the_right_action_holds_from_both_sides(site):
    place = bench(site)
    for side in TWO_SIDES[site]:
        found = place.let_go(LetGo(side, place.right_action))
        assert found.end == "held"
        assert abs(found.true[-1] - place.set_point) < abs(found.true[0] - place.set_point)


@pytest.mark.parametrize("site", BENCHES)
@pytest.mark.parametrize("gain_share", [0.7, 1.0, 2.0])
def test_the_wrong_action_runs_to_the_end_stop_that_the_first_error_asks_for(site, gain_share):
    place = bench(site)
    wrong = action.action_for(-place.effect)
    for side in TWO_SIDES[site]:
        found = place.let_go(LetGo(side, wrong, gain_share))
        assert found.end == str(action.end_stop(wrong, place.effect, action.error(0.0, side, wrong)))


@pytest.mark.parametrize("site", BENCHES)
def test_the_two_sides_end_at_the_two_ends(site):
    place = bench(site)
    wrong = action.action_for(-place.effect)
    assert {place.let_go(LetGo(side, wrong)).end for side in TWO_SIDES[site]} == {"lowest speed", "full speed"}


def test_at_one_end_the_doors_jam_and_at_the_other_smoke_passes():
    low, high = (bench("Larkfield House").let_go(LetGo(side, "direct")).price for side in SIDES)
    assert low.least < 25.0
    assert low.force_n < low.limit_n
    assert "smoke can pass" in low.says()
    assert high.force_n > high.limit_n
    assert "may be unable to get in or out" in high.says()


def test_a_building_ends_well_above_or_below_outdoors_and_a_garage_full_of_gas():
    above, beneath = (bench("Quayside Lab").let_go(LetGo(side, "reverse")).price for side in (4.0, -4.0))
    assert above.most > 3 * bench("Quayside Lab").set_point
    assert beneath.most < -3 * bench("Quayside Lab").set_point
    assert beneath.force_n > above.force_n
    garage = bench("Orchard Garage").let_go(LetGo(4.0, "reverse")).price
    assert garage.most > 1.5 * bench("Orchard Garage").set_point
    assert not garage.good


def test_more_gain_takes_a_wrong_loop_to_its_end_sooner():
    place = bench("Larkfield House")
    times = [place.let_go(LetGo(4.0, "direct", share)).at_s for share in (1.0, 1.5, 2.0)]
    assert times == sorted(times, reverse=True)


@pytest.mark.parametrize("side", [-4.0, -1.0, 1.0, 4.0])
def test_errors_double_a_little_later_than_the_formula_says_because_it_leaves_out_lags(side):
    place = bench("Larkfield House")
    own, found = place.settings(), place.let_go(LetGo(side, "direct"))
    rate = action.error_rate_per_s(action.RUNS_AWAY, place.process_gain(side / 100 * place.span), own.gain, own.integral_s)
    error = np.abs(found.read - place.set_point)
    doubled = found.time_s[np.argmax(error >= 2 * error[0])]
    assert 1.0 < doubled / action.doubling_time_s(rate) < 2.5


def test_swapped_tubes_run_to_the_same_end_from_both_sides():
    for site, end in (("Larkfield House", "full speed"), ("Quayside Lab", "lowest speed")):
        place = bench(site)
        found = [place.let_go(LetGo(side, place.right_action, swapped=True)) for side in SIDES]
        assert [one.end for one in found] == [end, end]


def test_two_faults_cancel_on_the_display_and_not_in_the_building():
    place = bench("Quayside Lab")
    found = place.let_go(LetGo(4.0, "reverse", swapped=True))
    assert found.end == "held"
    assert found.read[-1] == pytest.approx(place.set_point, abs=0.2)
    assert found.true[-1] == pytest.approx(-place.set_point, abs=0.2)


def test_by_hand_the_reading_tells_tubes_from_action():
    for site in ("Larkfield House", "Quayside Lab"):
        place = bench(site)
        right, turned = (place.let_go(LetGo(-4.0, "direct", swapped=swap, by_hand=True)) for swap in (False, True))
        assert np.sign(right.read[-1] - right.read[0]) == place.effect
        assert np.sign(turned.read[-1] - turned.read[0]) in (0, -place.effect)


# ------------------------------------------------------------------------------------------------------------------ the predictions


@pytest.mark.parametrize("system", SYSTEMS)
def test_each_prediction_has_its_answer_among_the_options_and_says_why(system):
    for prediction in PREDICTIONS:
        outcome = written_out(prediction.find(), system)
        assert outcome.answer.value in prediction.options
        assert outcome.words.endswith(".")
        assert ("Pa" in written_out(prediction.ask(), system)) == (system == "Pa")


def test_the_model_answers_the_questions_of_the_lesson():
    assert [written_out(prediction.find()).answer.value for prediction in (below, relief, swapped)] == [LOWEST, LOWEST, FULL]
    assert "smoke can pass" in written_out(below.find()).words
    assert "may be unable to get in or out" in written_out(swapped.find()).words


# ------------------------------------------------------------------------------------------------------------------ the panel


def test_the_panel_shows_both_ends_of_a_wrong_action(panel):
    assert (
        panel.verdict.kind == "attention"
    )  # of the building; the action is right: the page asks what the wrong action does before the panel shows it
    assert "end stop, lowest speed" in panel.put(action="direct").words
    verdict = panel.put(deviation_percent=4.0)
    assert verdict.kind == "wrong"
    assert "end stop, full speed" in verdict.words
    assert "50 at the end" in panel.picture.words


def test_the_same_word_is_right_for_one_fan_and_wrong_for_another(panel):
    assert panel.put(action="direct").kind == "wrong"
    assert panel.put(site="Quayside Lab").kind == "good"
    assert panel.put(site="Orchard Garage", deviation_percent=4.0).kind == "good"
    assert panel.put(action="reverse").kind == "wrong"
    assert "nobody smells it" in panel.verdict.words


def test_no_gain_cures_a_wrong_action(panel):
    for share in (0.5, 1.0, 2.0):
        assert panel.put(action="direct", gain_share=share, deviation_percent=-4.0).kind == "wrong"
        assert "end stop" in panel.verdict.words


def test_a_wrong_action_that_starts_at_the_set_point_does_not_stay_there(panel):
    verdict = panel.put(action="direct", deviation_percent=0.0)
    assert verdict.kind == "wrong"
    assert "the last digit of the input" in verdict.words
    place = bench("Larkfield House")
    found = place.let_go(LetGo(0.0, "direct"))
    assert abs(found.true[-1] - place.set_point) > 5 * abs(found.true[0] - place.set_point)


@pytest.mark.parametrize("site", BENCHES)
@pytest.mark.parametrize("side", [-8.0, -4.0, 0.0, 0.5, 4.0])
@pytest.mark.parametrize("gain_share", [0.5, 1.0, 2.0])
def test_a_wrong_action_is_never_called_held_and_all_that_is_told_names_one_end(site, side, gain_share):
    place = bench(site)
    found = place.let_go(LetGo(side, action.action_for(-place.effect), gain_share))
    assert found.end != "held"
    other = {"lowest speed": "full speed", "full speed": "lowest speed"}[found.heads]
    head, ended = _head(place, found), _ended(place, found)
    assert "held" not in head
    assert found.heads in head
    assert found.heads in ended
    assert other not in head + ended


def test_a_wrong_loop_that_stands_near_its_set_point_is_said_to_be_balanced(panel):
    verdict = panel.put(action="direct", deviation_percent=0.0, gain_share=0.5)
    assert verdict.head == "Wrong action: balanced for the moment, drifting to full speed"
    assert "the smallest disturbance runs it to an end stop" in verdict.words


def test_a_start_that_the_fan_cannot_reach_is_brought_as_near_as_it_can_and_said_so(panel):
    garage = bench("Orchard Garage")
    least = garage.let_go(LetGo(-4.0, "direct")).deviation
    assert -0.04 * garage.span < least == garage.let_go(LetGo(-8.0, "direct")).deviation
    verdict = panel.put(site="Orchard Garage", action="reverse")
    assert "9.6 ppm below the set point, as far as this fan can bring it" in verdict.words
    assert verdict.head == "Wrong action: at full speed from the start"
    right = panel.put(action="direct")
    assert "9.6 ppm below the set point, as far as this fan can bring it" in right.words


def test_how_near_counts_as_back_is_said_in_headline_and_words(panel):
    garage = bench("Orchard Garage")
    found = garage.let_go(LetGo(-4.0, "direct"))
    near = np.abs(found.read - garage.set_point) <= HELD_SHARE * garage.span
    assert near[found.time_s >= found.at_s].all()
    verdict = panel.put(site="Orchard Garage", action="direct")
    assert verdict.head == "Action is right: it holds"
    assert verdict.tiles[-1][:2] == (f"Back within {100 * HELD_SHARE:.0f} % of span", f"{found.at_s / 60:.0f} min")
    assert f"({HELD_SHARE * garage.span:.1f} ppm)" in verdict.words


def test_the_gain_is_entered_and_told_in_one_unit(panel):
    slider, field, *_ends = panel.controls["gain_share"].widget.children
    assert (slider.description, field.value) == ("Share of site gain [%]", "100")
    page = (Path(__file__).parents[2] / "notebooks" / "05_reverse_or_direct.ipynb").read_text(encoding="utf-8")
    assert "100 % is the site's own gain, 200 % twice that" in page
    panel.turn_to(3)
    panel.set_it_so()
    assert (panel.values["action"], panel.values["gain_share"]) == ("reverse", 1.0)


def test_where_a_reading_is_off_no_error_is_named(panel):
    """An error above zero asks for more speed on this page; a reading that is off above may ask for less."""
    assert "rror" not in panel.said
    assert not any("rror" in task.words for task in map(written_out, panel.tasks))


def test_the_panel_tells_swapped_tubes_by_hand(panel):
    panel.put(tubes=SWAPPED, mode=BY_HAND, action="reverse")
    assert "does not answer" in panel.verdict.words
    panel.put(site="Quayside Lab")
    assert "the tubes are reversed" in panel.verdict.words
    panel.put(tubes=RIGHT_WAY)
    assert panel.verdict.words.endswith("that is direct acting. It is set to reverse: wrong.")
    assert panel.put(action="direct").kind == "good"


def test_gas_has_no_tubes_and_the_last_picture_stays(panel):
    panel.put(site="Orchard Garage")
    before = panel.picture.words
    verdict = panel.put(tubes=SWAPPED)
    assert verdict.kind == "entry"
    assert "a gas transmitter has no tubes to reverse" in verdict.words
    assert panel.picture.words == before
    assert panel.put(tubes=RIGHT_WAY, mode=AUTOMATIC).kind != "entry"


def test_every_start_of_every_site_gives_a_verdict_in_both_systems(panel):
    for system in SYSTEMS:
        UNITS.system = system
        for site in FANS.values():
            for side in (-8.0, 8.0):
                for word in action.ACTIONS:
                    verdict = panel.put(site=site, deviation_percent=side, action=word)
                    assert verdict.kind in ("good", "attention", "wrong")
                    assert "Pa" not in verdict.words or system == "Pa"


# ------------------------------------------------------------------------------------------------------------------ its words


def test_the_tubes_are_correct_or_reversed_and_what_stories_say_is_read(panel):
    panel.put(tubes="swapped")
    assert "Tubes reversed" in panel.said
    assert panel.verdict.head.startswith("Tubes reversed")
    panel.put(tubes="right")
    assert "Tubes correct" in panel.said


def test_the_relief_damper_is_what_makes_the_upper_side_slower(monkeypatch):
    """The card says so: with the damper out the upper side answers no less."""

    def apart(place):
        below, above = (place.process_gain(side / 100 * place.span) for side in SIDES)
        return above / below

    with_damper, read = bench("Larkfield House"), signals_action.read_any_site
    monkeypatch.setattr(signals_action, "read_any_site", lambda path: read(path).with_changes(stair={"relief": None}))
    assert apart(with_damper) < 0.5
    assert apart(BENCHES["Larkfield House"]()) > 1.0
    assert "there the relief damper opens" in senior_card()._repr_mimebundle_()["text/plain"]


def test_a_reading_that_does_not_answer_is_said_to_stay(panel):
    panel.put(tubes=SWAPPED, mode=BY_HAND, action="reverse")
    assert "the reading stays at" in panel.verdict.words


@pytest.mark.parametrize("seed", range(40))
def test_a_motor_that_turns_backwards_is_told_apart_from_an_inversion(seed):
    made = exercise_of(third_minus, seed)
    backwards = "turns backwards" in made.question
    assert ("blow the other way" in made.slips[0].hint) == backwards
    assert ("take the inversion" in made.way[1]) == ("is set inverted" in made.question)
    assert ("rotation right" in made.way[1]) == backwards


def test_tasks_and_predictions_name_one_start_in_per_cent_of_span_and_as_a_pressure(panel):
    assert ["4 % of the span (5 Pa)" in written_out(words) for words in (below.ask(), panel.tasks[0].words, panel.tasks[1].words)] == [
        True
    ] * 3
    assert panel.tasks[1].so["deviation_percent"] == 100 * BELOW_PA / bench("Larkfield House").span


def test_a_right_action_is_no_pass_over_a_building_that_fails(panel):
    """The same stair at the same set point is FAIL on page 02 and no PASS on page 03."""
    told = panel.verdict
    assert (told.kind, told.head) == ("attention", "Action is right")
    assert "this panel judges the action alone" in panel.left_out
    fails = ("wrong", "Building: 2.8 under 25 Pa, door 0; winter, first minute")
    assert (written_out(told.also), told.case) == (fails, "")
    assert written_out(told.do) == "Ask: the designer, page 12: how stair door 0 gets its 25 Pa in the first minute"
    assert "0.012 under 0.101 in. w.c., door 0" in written_out(RangeFit().building_fails()[1], "in. w.c.")
    assert written_out(RangeFit().building_fails()) == fails  # page 03: one source, one figure
    assert panel.put(site="Quayside Lab", action="direct").also == ()
    wrong = written_out(panel.put_back(action="direct"))  # its own FAIL stands there: which door, by how much, as its tile has it
    assert wrong.case == "at the end 31.6 Pa short of 25 Pa at stair door 0"
    assert wrong.tiles[0][:2] == ("Door 0, settled, 10 °C", "-7 Pa")
    assert panel.put_back(mode=BY_HAND).head == "Tubes and action right"  # nothing is held by hand
    panel.put_back()


def test_in_the_worked_example_per_cent_and_pascals_are_different_figures():
    rows = {row.what: row.value for row in proportional_band().working}
    assert rows["Error, reverse acting"] == 5.0
    assert rows["the same in per cent of span"] == 4.0


def test_the_card_has_gains_from_which_its_doubling_time_can_be_worked_out():
    told = written_out(_lines())[3]
    time, gain = float(re.search(r"doubles in ([\d.]+) s below", told)[1]), float(re.search(r"instead of ([\d.]+) %", told)[1])
    own = bench("Larkfield House").settings()
    loop = gain * own.gain
    assert np.log(2) * own.integral_s * (1 - loop) / loop == pytest.approx(time, abs=0.06)


def test_a_wrong_action_or_tube_has_a_deed_and_a_right_one_has_none():
    live = run_panel()
    assert live.put_back().do.startswith("Ask: the designer, page 12: how stair door 0 gets")  # of the building: the action is right
    assert live.put_back(action="direct").do == "Do: announce it, fan in manual, set the action to reverse, test again"
    assert live.put_back(tubes=SWAPPED).do == "Do: announce it, fan in manual, change the tubes over, test again"
    live.put_back()
