"""Lesson 03: what span costs, where a range is blind, and how errors come together."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from helpers.formulas import signals, uncertainty
from helpers.lessons.transmitter_range.derivations import combined_error, converter_step, four_errors, step_of_converter
from helpers.lessons.transmitter_range.lesson import PLACES, SITES, _answer
from helpers.lessons.transmitter_range.lesson import panel as range_panel
from helpers.lessons.transmitter_range.questions import (
    BARELY,
    FOUR,
    HEAVY,
    PREDICTIONS,
    error_from_span,
    narrow,
    one_sided,
    which_range,
    wide,
)
from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.studies.doors.stair_window import stair_door
from helpers.studies.signals.range_choice import SMALL_END_OF_SPAN, small_negative_end
from helpers.studies.signals.range_fit import OF_READING, OF_SPAN, ROOT, SUM, RangeFit
from helpers.studies.signals.steady_loop import LARKFIELD, QUAYSIDE, Settled, steady_loop
from helpers.teaching.questions import exercise_of
from helpers.units import SYSTEMS, parse
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS

PANEL = range_panel  # what the fixture `panel` makes


# ------------------------------------------------------------------------------------------------------------------ the derivations


def test_the_step_derived_is_the_resolution_of_helpers_for_every_signal():
    draw = np.random.default_rng(3)
    low, bits = draw.uniform(-500, 0, 200), draw.integers(6, 17, 200).astype(float)
    high = low + draw.uniform(1, 1000, 200)
    derived = step_of_converter().function()
    for signal, (bottom, top, _) in signals.SIGNALS.items():
        assert derived(low, high, bits, bottom, top) == pytest.approx(signals.resolution(low, high, bits, signal), rel=1e-12)
    assert derived(low[:, None], 600.0, bits[:5], 4.0, 20.0).shape == (200, 5)


def test_the_combination_derived_is_the_root_of_squares_of_helpers():
    parts = np.random.default_rng(3).uniform(0, 10, (3, 200))
    assert combined_error().function()(*parts) == pytest.approx(uncertainty.root_sum_square(parts, axis=0), rel=1e-12)


@pytest.mark.parametrize("example", [converter_step(), four_errors()], ids=["step", "errors"])
def test_the_worked_examples_meet_their_published_figures(example):
    assert example.meets
    assert "which is what comes out here" in written_out(example.closing())


# ------------------------------------------------------------------------------------------------------------------ the loop at rest


def test_a_loop_that_reads_what_is_there_rests_where_the_air_network_holds():
    loop = steady_loop()
    held = Tower(loop.site).hold(Conditions.of(loop.site, "winter"))
    found = loop.settle(loop.readings_pa, loop.control.set_point_pa)
    assert found.speed_hz == pytest.approx(held.air.speed_hz[0], abs=0.02)
    assert found.most_pa == pytest.approx(held.air.door_dp_pa.max(), abs=0.02)
    assert found.off_pa == pytest.approx(0.0, abs=1e-9)


def test_a_loop_that_no_speed_satisfies_ends_at_a_stop_and_one_without_reading_says_so():
    loop = steady_loop()
    assert loop.settle(loop.readings_pa, 500.0).state == "at full speed"
    assert loop.settle(loop.readings_pa + 500.0, 40.0).state == "at lowest speed"
    nothing = loop.settle(np.full_like(loop.readings_pa, np.nan), 40.0)
    assert nothing.state == "no reading"
    assert np.isnan(nothing.shown_pa)


@pytest.mark.parametrize("loop", [LARKFIELD, QUAYSIDE])
def test_a_display_that_reads_low_leaves_more_pressure_whatever_the_fan_does(loop):
    loop = steady_loop(loop)
    point = loop.control.set_point_pa
    found = [loop.settle(loop.readings_pa + shift, point).true_pa for shift in (-1.0, 0.0, 1.0)]
    assert found == pytest.approx([point + 1, point, point - 1], abs=0.01)


# ------------------------------------------------------------------------------------------------------------------ the range


def test_four_times_the_span_is_four_times_the_error_of_span_and_not_of_reading():
    own, wide_one = (RangeFit(high_pa=top, drift_percent=0.0, bits=16) for top in (125.0, 500.0))
    assert wide_one.error_pa == pytest.approx(4 * own.error_pa, rel=1e-9)
    sheets = [RangeFit(high_pa=top, of=OF_READING, drift_percent=0.0, bits=16).own_parts_pa[0] for top in (125.0, 500.0)]
    assert sheets == pytest.approx([0.4, 0.4])


def test_a_range_that_is_too_wide_lets_smoke_pass_and_doors_jam():
    fit = RangeFit(high_pa=500.0)
    assert fit.state == "wrong"
    assert fit.read_high.too_low
    assert fit.read_low.too_high
    assert not fit.blind


def test_a_range_that_is_too_narrow_holds_more_than_it_shows():
    fit = RangeFit(high_pa=50.0, set_point_pa=45.0)
    assert fit.blind
    assert fit.held.true_pa > 55.0
    assert fit.held.too_high
    assert "people may be unable to get in or out" in fit.says()


def test_the_site_s_own_range_does_and_takes_a_small_part_of_the_window():
    fit = RangeFit()
    assert not fit.choice.objections
    assert fit.state == "attention"  # with any range the winter's first minute puts a door out: no fault of the range, and no pass
    assert written_out(fit.building_fails()) == ("wrong", "Building: 2.8 under 25 Pa, door 0; winter, first minute")
    assert RangeFit(low_pa=-25.0, high_pa=100.0).headline().startswith("Fits: ")
    assert RangeFit(low_pa=-25.0, high_pa=100.0).state == "attention"
    assert fit.error_pa < fit.tenth_pa
    assert fit.peak_pa < fit.high_pa


def test_a_range_has_to_cover_the_readings_of_the_first_minute_too():
    """Early in winter the stair is as warm as the rooms: more stack effect, wider apart readings."""
    fit = RangeFit()
    stated, early = fit.loops
    assert fit.peak_pa == pytest.approx(early.full_pa.max())
    assert fit.peak_pa > stated.full_pa.max() + 4.0
    assert fit.trough_pa == pytest.approx(early.rest_pa.min())
    assert fit.held_pa.max() > fit.held.readings_pa.max() + 4.0
    assert "first minute" in written_out(fit.says())
    assert "FAIL with any range" in written_out(fit.says())
    narrow = RangeFit(high_pa=55.0)  # enough for the readings with the stair as its file has it
    assert abs(narrow.held.off_pa) < 0.01
    assert narrow.blind
    assert "in the first minute the loop shows 40.0 Pa where 40.8 Pa is" in written_out(narrow.says())


def test_a_range_from_zero_hides_a_building_below_outdoors_on_one_side():
    both, single = (RangeFit(site=QUAYSIDE, low_pa=low, high_pa=25.0, set_point_pa=5.0) for low in (-25.0, 0.0))
    assert both.state == "attention"  # the relief fan at full speed draws it below the range
    assert "with the relief fan at full speed, 50.0 Hz (PDT-1 quay, winter), is below it and shows as its end" in both.says()
    wide_one = RangeFit(site=QUAYSIDE, low_pa=-50.0, high_pa=50.0, set_point_pa=5.0)
    assert not wide_one.below
    assert single.blind
    assert single.held.true_pa < 2.5
    assert single.held.readings_pa.min() < both.held.readings_pa.min() < 0
    assert single.error_pa == pytest.approx(both.error_pa / 2)


def test_errors_added_plainly_are_never_less_than_by_squares():
    for top in (50.0, 125.0, 400.0):
        assert RangeFit(high_pa=top, adding=SUM).error_pa >= RangeFit(high_pa=top, adding=ROOT).error_pa


def test_no_limit_is_printed_as_the_value_that_breaks_it_and_each_door_stands_beside_its_own_limit():
    start, limits = "The pressure across the stair doors is", "minimum 25 Pa: smoke can pass; the hardest to open needs"
    told = written_out(Settled(steady_loop(), 20.0, "held", 40.0, 40.0, np.zeros(2), 24.96, 61.0, 133.06).says())
    assert told == f"{start} 24.96 Pa to 61 Pa; the hardest to open needs 133.1 N, 133 N is allowed: people may be unable to get in or out."
    told = written_out(Settled(steady_loop(), 20.0, "held", 40.0, 40.0, np.zeros(2), 24.6, 50.0, 132.0).says())
    assert told == f"{start} 24.6 Pa to 50 Pa, {limits} 132 N, 133 N is allowed."


def test_the_force_printed_is_held_against_the_limit_that_is_judged():
    for fit in (RangeFit(high_pa=500.0, adding=ROOT), RangeFit(set_point_pa=44.0, adding=ROOT)):
        assert fit.loop.limit_n == pytest.approx(stair_door(fit.loop.site).force_limit_n)
        assert fit.read_low.too_high
        assert fit.read_low.force_n > fit.loop.limit_n
        assert " N over 133 N if it reads low" in written_out(fit.headline())
        assert "(133 N allowed, too much)" in written_out(fit.says())


def test_the_stair_panel_opens_with_the_sum_as_it_judges_a_limit_that_protects_life(panel):
    assert RangeFit().adding == SUM
    assert (panel.values["of"], panel.values["adding"]) == (OF_SPAN, SUM)


def test_a_relief_fan_is_not_said_to_be_at_rest_where_it_draws_below_the_range():
    quayside = RangeFit(site=QUAYSIDE, low_pa=-25.0, high_pa=25.0, set_point_pa=5.0)
    assert written_out(quayside.headline()).startswith("Below the range: relief fan at full speed gives -")
    assert written_out(RangeFit().headline()) == "Below the range: fan at rest gives -13.7 Pa"


def test_a_range_upside_down_is_refused():
    with pytest.raises(ValueError, match="Top of range must be above its bottom"):
        RangeFit(low_pa=10.0, high_pa=10.0)


# ------------------------------------------------------------------------------------------------------------------ the predictions


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize(("prediction", "right"), [(wide, FOUR), (narrow, HEAVY), (one_sided, BARELY)])
def test_the_predictions_come_out_as_the_words_say(prediction, right, system):
    outcome = written_out(prediction.find(), system)
    assert outcome.answer.value == right
    assert system in outcome.words or system == "Pa"
    assert "w.c.." not in written_out(prediction.ask(), system) + outcome.words


def test_predictions_have_keys_of_their_own():
    assert len({one.key for one in PREDICTIONS}) == len(PREDICTIONS)


# ------------------------------------------------------------------------------------------------------------------ the panel


def test_the_panel_begins_with_the_site_as_it_is(panel):
    assert panel.verdict.kind == "attention"
    assert "In the first minute, the stair as warm as the rooms, FAIL" in panel.verdict.words
    assert len(panel.controls) <= 9  # two of them on one line


@pytest.mark.parametrize(("high", "words"), [(500.0, "most of the span is never used"), (60.0, "beyond the range")])
def test_the_panel_says_what_is_wrong_at_its_extremes(panel, high, words):
    verdict = panel.put(high_pa=high)
    assert verdict.kind == "wrong"
    assert words in verdict.words


def test_another_site_brings_its_own_range_and_back_again(panel):
    assert panel.put(site=QUAYSIDE).kind == "attention"  # a red cross at its lowest reading
    assert "±25 Pa" in panel.verdict.words
    assert panel.put(low_pa=0.0).kind == "wrong"
    assert panel.put(site=LARKFIELD).kind == "attention"  # its first minute, and a fan at rest
    assert panel.values["high_pa"] == pytest.approx(125.0)


def test_the_picture_follows_and_tells(panel):
    before = panel.picture.words
    panel.put(high_pa=250.0)
    assert panel.picture.words != before
    assert "0 to 250 Pa" in panel.picture.words


def test_the_panel_speaks_both_systems(panel):
    UNITS.system = "in. w.c."
    panel.refresh()
    assert "in. w.c." in panel.verdict.words
    assert " Pa" not in panel.verdict.words
    assert "w.c.." not in panel.verdict.words


def test_the_axes_hold_every_own_range_and_pressure_of_their_site():
    for name, place in PLACES.items():
        loop = steady_loop(name)
        fit = RangeFit(site=name, low_pa=place.bottom[2], high_pa=place.top[2], set_point_pa=place.set_point[2])
        shown = [*place.own, fit.trough_pa, fit.peak_pa, *loop.window_pa]
        assert place.pressures[0] < min(shown)
        assert max(shown) < place.pressures[1]
        assert fit.errors_pa(place.top[1]) < place.errors[1]
    assert set(SITES.values()) == set(PLACES)


# ------------------------------------------------------------------------------------------------------------------- which range to buy


@pytest.mark.parametrize("system", SYSTEMS)
def test_one_range_alone_does_what_the_question_asks_and_it_is_the_one_that_page_record_and_review_advise(system):
    """Read as a learner reads it: the figures of the question against every range on offer."""
    for seed in range(200):
        exercise = exercise_of(which_range, seed, system)
        figure = r"(\d[\d.]* (?:Pa|in\. w\.c\.))"
        room, peak = (parse(re.search(words.format(figure), exercise.question)[1], "pressure") for words in ("window is {}", "peaks at {}"))
        share = float(re.search(r"no more than (\d+) % of the window", exercise.question)[1]) / 100
        ends = {name: [parse(end, "pressure") for end in name.split(" to ")] for name in exercise.answer.options}
        does = [name for name, (low, high) in ends.items() if low < 0 and high > peak and 0.01 * (high - low) <= share * room]
        assert does == [exercise.answer.value], f"seed {seed}: {exercise.question}"
        low, high = ends[exercise.answer.value]
        assert -low <= SMALL_END_OF_SPAN * (high - low)
        assert "nothing" not in " ".join(slip.name + slip.hint for slip in exercise.slips)


def test_the_page_lets_the_reader_predict_before_it_says_what_of_span_costs_and_then_answers_the_salesman():
    cells = json.loads((Path(__file__).parents[2] / "notebooks" / "03_transmitter_range.ipynb").read_text(encoding="utf-8"))["cells"]
    texts = ["".join(cell["source"]) for cell in cells]
    asked = next(place for place, text in enumerate(texts) if "lesson.predict(" in text)
    assert not any("wherever the reading is" in text for text in texts[:asked])
    assert any("The salesman is wrong" in text for text in texts[asked:])


def test_the_two_readings_of_the_narrow_range_come_to_the_set_point_shown():
    """The transmitter sends a little below its bottom: half of 10.3 and -6.6 is no figure of the page, half of 10.3 and -0.3 is."""
    words = written_out(one_sided.find()).words
    end, yard = map(float, re.search(r"instead, (-[\d.]+) Pa, .*?\. The loop then holds ([\d.]+) Pa", words).groups())
    assert (end + yard) / 2 == pytest.approx(5.0, abs=0.06)


@pytest.mark.parametrize("mark", ["±", "± ", "+/- ", "+-"])
def test_an_error_may_be_written_with_the_sign_that_the_data_sheet_has(mark):
    asked = exercise_of(error_from_span, 3)
    assert asked.grade(f"{mark}{asked.answer.value:.3g} Pa").right
    assert not asked.grade(f"{mark}{3 * asked.answer.value:.3g}").right


def test_its_error_is_laid_on_both_airs_of_the_stair():
    """The cold stair is the kinder one to the door that is hard to open."""
    words = written_out(RangeFit().says())
    now, first = (float(found) for found in re.findall(r"([\d.]+) N \(133 N allowed", words))
    assert now < 133.0 < first
    assert "(133 N allowed)" in words
    assert "(133 N allowed, too much)" in words
    true, off = (RangeFit()._rests(error)[1].force_n for error in (0.0, -RangeFit().error_pa))
    assert off == pytest.approx(first, abs=0.05)
    assert true < 133.0


def test_a_minus_before_an_error_is_still_a_minus():
    asked = exercise_of(error_from_span, 3)
    assert not asked.grade(f"-{asked.answer.value:.3g}").right


def test_a_per_cent_in_place_of_a_pressure_is_asked_of_what_and_its_share_is_named():
    asked = exercise_of(error_from_span, 3)
    percent = re.search(r"± ([\d.]+) % of span", asked.question)[1]
    with pytest.raises(ValueError, match="Per cent of what, and how much is that"):
        asked.grade(f"{percent} %")
    assert asked.grade(f"{float(percent) / 100:g}").slip == "share copied"


def test_what_to_do_about_a_range_is_a_made_one_that_suits_this_loop_and_the_door_that_no_range_mends_is_the_designers():
    opened = RangeFit()
    # one answer on the pages 03, 12 and 13: what is there is kept and its tubes are proved, what is bought has a small negative end
    assert written_out(opened.to_do()) == "Do: keep range, prove tubes (page 10); new -25 to 125 Pa, in drive too; building: designer"
    told = written_out(_answer()[0])
    assert "prove tubes (page 10)" in told.do
    assert "manual" not in told.do  # the deed is that of page 10, beside its cautions
    assert written_out(replace(opened, high_pa=500.0).to_do()) == "Do: take -25 to 125 Pa, the same in transmitter and drive"
    assert "such as -25 to 125 Pa" in written_out(small_negative_end(opened.high_pa))
    assert replace(opened, low_pa=-25.0, high_pa=100.0).suits
    assert not opened.suits
    assert written_out(opened.building_fails()[1]).endswith("2.8 under 25 Pa, door 0; winter, first minute")  # not a fitter's
    assert written_out(opened.tiles()[2]) == ("Lowest reading", "-13.7 Pa", "0 Pa bottom")  # what the headline flags
    assert written_out(replace(opened, low_pa=-25.0, high_pa=100.0).tiles()[2])[0] == "Highest reading"
    assert (
        written_out(replace(opened, high_pa=70.0).tiles()[2])[0] == "Highest reading"
    )  # both ends are passed: the peak is in the headline
    assert written_out(replace(opened, low_pa=-25.0, high_pa=100.0).to_do()) == (
        "Ask: the designer, page 12: how stair door 0 gets its 25 Pa in the first minute"
    )
    quay = RangeFit(site=QUAYSIDE, low_pa=0.0, high_pa=25.0, set_point_pa=5.0)
    assert written_out(quay.to_do()) == "Do: take ±25 Pa, the same in transmitter and drive"
    assert replace(quay, low_pa=-25.0).state != "wrong"
