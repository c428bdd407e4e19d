"""Which range to buy: figures by hand, objections in words, the errors of combined readings."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.record.sections.signals import transmitters_said
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.readings.rules import compare_rules
from helpers.studies.signals.range_choice import RANGES_PA, combined_error, judge_range, range_advice
from helpers.units.said import written_out


def advised(site, rule="average", **changes):
    tower, window, cases = Tower(site), pressure_window(site), usual_cases(site)
    return range_advice(tower, window, compare_rules(tower, window, cases), rule, **changes)


@pytest.fixture(scope="module")
def plain(stair):
    return advised(stair())


def by_range(advice):
    return {(choice.low_pa, choice.high_pa): choice for choice in advice.choices}


def test_accuracy_step_and_place_of_the_set_point_follow_from_the_span(plain):
    choice = by_range(plain)[0.0, 250.0]
    assert choice.accuracy_pa == pytest.approx(2.5)  # 1 % of span
    assert choice.resolution_pa == pytest.approx(250 * 20 / 16 / 4096)  # 4-20 mA on a converter of 12 bits from 0 mA
    assert choice.set_point_percent == pytest.approx(100 * 40 / 250)


def test_a_two_sided_range_of_the_same_top_is_half_as_accurate(plain):
    found = by_range(plain)
    assert found[-250.0, 250.0].accuracy_pa == 2 * found[0.0, 250.0].accuracy_pa
    assert found[-250.0, 250.0].set_point_percent == pytest.approx(58)


def test_the_range_to_buy_has_nothing_against_it_and_every_smaller_one_has(larkfield):
    wide = larkfield.with_changes(transmitters=[{"range_high_pa": 1000.0}] * 2)
    advice = advised(wide, wide.control.rule)
    assert advice.chosen.state == "good"
    assert advice.chosen != advice.stated
    smaller = [choice for choice in advice.choices if choice.span_pa < advice.chosen.span_pa]
    assert smaller
    assert [choice.high_pa for choice in smaller if choice.good and choice.shows_reversal and not choice.reservations] == [100.0]
    assert advice.chosen.high_pa == 125.0  # 100 Pa is sold by the pascal alone
    assert "the smallest range sold by the pascal and by the inch alike and nothing speaks against it" in advice.verdict()
    smaller = [choice for choice in smaller if choice.high_pa != 100.0]
    assert all(choice.objections or choice.reservations or not choice.shows_reversal for choice in smaller)


def test_a_stated_range_that_suits_is_kept(plain):
    advice = plain
    assert advice.stated.state == "good"
    assert advice.chosen == advice.stated
    assert "the range stated that nothing rules out" in advice.verdict()


def test_a_range_that_begins_above_the_lowest_reading_to_expect_is_no_pass(plain):
    assert plain.lowest_pa < 0
    found = by_range(plain)
    assert [plain.state(found[pair]) for pair in ((0.0, 125.0), (-25.0, 125.0))] == ["attention", "good"]
    said = f"the lowest reading to expect, {plain.lowest_pa:.1f} Pa with the fan at rest ({plain.lowest_case}), is below the range"
    assert said in written_out(plain.against(found[0.0, 125.0]))
    assert said in written_out(plain.verdict())
    assert written_out(plain.against(found[-25.0, 125.0])) == ""


def test_a_range_that_a_reading_leaves_while_the_loop_holds_is_ruled_out(stair):
    tall = stair(storeys=[{"height_m": 12.0}] * 6, control={"rule": "highest"})
    advice = advised(tall, "highest")
    assert advice.lowest_held_pa < 0
    for choice in advice.choices:
        assert ("held" in choice.objections) == (advice.lowest_held_pa < choice.low_pa)
    assert "while the loop holds" in advice.against(advice.stated)


def test_a_stated_range_far_too_wide_is_replaced(stair):
    wide = stair(transmitters=[{"range_high_pa": 1000.0}, {"range_high_pa": 1000.0}])
    advice = advised(wide)
    assert advice.stated.objections == ("set point low", "accuracy")
    assert advice.chosen.high_pa < 500.0
    assert "most of the span is never used" in advice.objection("set point low", advice.stated)


def test_a_peak_is_what_the_open_doors_leave_behind_when_they_shut(stair):
    site = stair()
    advice, tower, cases = advised(site), Tower(site), usual_cases(site)
    speeds = compare_rules(tower, pressure_window(site), cases)["average"].speed_hz
    opened = [place for place, case in enumerate(cases) if not case.shut]
    closed = [replace(cases[place], open_doors=()) for place in opened]
    shut = tower.readings(tower.solve(conditions_of(site, closed), speeds[opened]))
    assert advice.peak_pa == pytest.approx(shut.max(), rel=1e-6)
    case = opened[shut.max(axis=1).argmax()]
    assert advice.peak_case == f"{cases[case].name}, {speeds[case]:.1f} Hz"


def test_without_a_case_of_open_doors_the_peak_is_that_of_full_speed(stair):
    site = stair()
    tower, shut = Tower(site), usual_cases(site, open_doors=[])
    advice = range_advice(tower, pressure_window(site), compare_rules(tower, pressure_window(site), shut), "average")
    assert advice.peak_pa == pytest.approx(tower.readings(tower.solve(conditions_of(site, shut), 50.0)).max(), rel=1e-6)


def test_peaks_beyond_the_range_are_known_but_do_not_rule_it_out(stair):
    site = stair()
    tower, shut = Tower(site), usual_cases(site, open_doors=[])  # the fan is far too large: full speed gives some 400 Pa
    advice = range_advice(tower, pressure_window(site), compare_rules(tower, pressure_window(site), shut), "average")
    for choice in advice.choices:
        assert ("peak" in choice.reservations) == (choice.high_pa < advice.peak_pa)
    assert advice.chosen == advice.stated
    assert "know that peaks up to" in advice.verdict()


def test_a_range_both_ways_alike_is_not_bought_for_a_loop_above_zero(plain):
    advice = plain
    assert advice.chosen.low_pa > -advice.chosen.high_pa
    for choice in advice.choices:
        assert ("two-sided" in choice.reservations) == (-choice.low_pa > 0.25 * choice.span_pa)


def test_a_range_from_zero_hides_crossed_tubes_and_a_small_negative_end_shows_them(plain, stair):
    assert plain.chosen == plain.stated == by_range(plain)[0.0, 125.0]  # it is there and suits: kept, and told
    assert "It shows 0 with reversed tubes and under suction alike" in plain.verdict()
    assert "-25 to 125 Pa" in plain.verdict()
    assert "-0.10 to 0.50 in. w.c." in written_out(plain.verdict(), "in. w.c.")
    anew = advised(stair(transmitters=[{"range_high_pa": 1000.0}] * 2))  # the one stated does not suit
    assert anew.chosen.low_pa == -25.0
    assert "reversed tubes" not in anew.verdict()


def test_the_lowest_reading_is_with_the_fan_at_rest(stair):
    site = stair()
    advice, tower = advised(site), Tower(site)
    shut = [case for case in usual_cases(site) if case.shut]
    still = tower.readings(tower.solve(conditions_of(site, shut), 1e-3)).min()
    assert advice.lowest_pa == pytest.approx(still)


def test_a_narrow_window_asks_for_a_better_transmitter(stair, a_door):
    narrow = stair(doors={"stair": a_door(minimum_dp_pa=80.0)}, control={"set_point_pa": 85.0})
    assert "accuracy" in by_range(advised(narrow))[0.0, 250.0].objections
    fine = narrow.with_changes(transmitters=[{"accuracy_percent_span": 0.25}] * 2)
    assert "accuracy" not in by_range(advised(fine))[0.0, 250.0].objections


def test_a_coarse_converter_is_pointed_out(stair):
    coarse = stair(transmitters=[{"converter_bits": 8, "accuracy_percent_span": 0.25}] * 2)
    assert "resolution" in advised(coarse).stated.objections


def test_a_loop_below_zero_needs_a_range_that_reads_it(stair, a_door):
    ends = {"range_low_pa": -125.0, "range_high_pa": 125.0}
    below = stair(
        doors={"stair": a_door(minimum_dp_pa=None)}, fan={"effect": "exhaust"}, control={"set_point_pa": -15.0, "action": "direct"},
        transmitters=[ends, ends],
    )  # fmt: skip
    advice = advised(below)
    assert all("set point out" in choice.objections for choice in advice.choices if choice.low_pa == 0)
    assert advice.chosen.low_pa < 0
    assert "two-sided" not in advice.chosen.reservations


def test_the_stated_range_is_judged_once_even_where_the_trade_sells_it(stair, northgate):
    assert len(advised(stair()).choices) == len(RANGES_PA)  # 0 to 125 Pa is one of them
    assert len(advised(northgate, "middle").choices) == len(RANGES_PA)  # 0.5 in. w.c. is 0 to 125 Pa, written otherwise


def test_no_suitable_range_is_said_with_the_reasons(stair):
    advice = advised(stair(), ranges_pa=[(0.0, 500.0), (0.0, 45.0)])
    assert not advice.chosen.good
    assert advice.verdict().startswith("No usual range suits.")
    assert advice.objection(advice.chosen.objections[0], advice.chosen) in advice.verdict()


@pytest.mark.parametrize("ranges", [[], [(100.0, 0.0)]])
def test_ranges_that_are_none_get_one_sentence(stair, ranges):
    with pytest.raises(ValueError, match=r"at least one pair|range_high must be above range_low"):
        advised(stair(), ranges_pa=ranges)


def test_the_lowest_of_two_reads_low_by_0_564_of_a_standard_deviation():
    error = combined_error(np.sqrt(3.0), "lowest", 2)  # a bound of sqrt 3 is one standard deviation, rectangular
    assert error.bias_pa == pytest.approx(-0.564, abs=5e-4)
    assert combined_error(np.sqrt(3.0), "highest", 2).bias_pa == pytest.approx(0.564, abs=5e-4)


def test_an_average_of_two_is_better_by_the_root_of_two_and_not_off():
    error = combined_error(np.sqrt(3.0), "average", 2)
    assert error.standard_pa == pytest.approx(1 / np.sqrt(2))
    assert error.bias_pa == 0.0


def test_weights_on_one_transmitter_leave_its_error():
    assert combined_error(np.sqrt(3.0), "weighted", 2, (1.0, 0.0)).standard_pa == pytest.approx(1.0)
    assert combined_error(np.sqrt(3.0), "weighted", 2, (1.0, 1.0)).standard_pa == pytest.approx(1 / np.sqrt(2))


def with_ends(advice, transmitter, pair, ends, peak_pa=90.0):
    choice = judge_range(pair, transmitter, advice.set_point_pa, ends, peak_pa)
    return replace(advice, choices=(choice,), chosen=choice, stated=choice, window_pa=ends, peak_pa=peak_pa, lowest_pa=0.0), choice


def test_peaks_beyond_a_range_ask_for_one_that_ends_higher_never_for_one_that_begins_lower(plain, stair):
    advice, choice = with_ends(plain, stair().transmitters[0], (-25.0, 100.0), (25.0, 85.0), 175.0)
    assert choice.reservations == ("peak",)
    said = written_out(advice.mends(choice))
    assert "ends above 175 Pa" in said
    assert "begins lower" not in said
    below = replace(advice, lowest_pa=-30.0, peak_pa=90.0)
    assert "begins lower" in below.mends(replace(choice, reservations=()))


def test_an_accuracy_that_takes_too_much_asks_for_a_better_one_of_the_same_range_or_says_that_none_helps(plain, stair):
    tap = stair().transmitters[0]
    advice, choice = with_ends(plain, tap, (-25.0, 100.0), (38.0, 44.0))
    assert choice.objections == ("accuracy",)
    assert advice.mends(choice) == "the same range, accuracy of 0.45 % of span or better"
    better = tap.model_copy(update={"accuracy_percent_span": 0.45})
    assert judge_range((-25.0, 100.0), better, advice.set_point_pa, (38.0, 44.0), 90.0).good  # what is told helps
    narrow, choice = with_ends(plain, tap, (-25.0, 100.0), (40.0, 41.0))
    assert narrow.mends(choice) == "no accuracy sold is enough: the doors' window first"


def test_a_range_that_is_not_accurate_enough_is_not_changed_for_one_that_fails_the_same(stair):
    """A window of 3 Pa: every usual range fails by its accuracy; the stated one shows reversed tubes and is kept."""
    site = stair(transmitters=[{"range_low_pa": -25.0, "range_high_pa": 100.0}] * 2)
    tower, window = Tower(site), SimpleNamespace(least_pa=39.0, most_pa=42.0)
    comparison = compare_rules(tower, pressure_window(site), usual_cases(site))
    advice = range_advice(tower, window, comparison, "average")
    assert advice.stated.objections == ("accuracy",)
    assert advice.chosen == advice.stated
    assert "the same range, accuracy of 0.2 % of span or better" in advice.verdict()


def test_transmitters_of_unlike_signals_are_listed_each_with_its_own(stair):
    site = stair(transmitters=[{"range_low_pa": -25.0, "range_high_pa": 100.0}] * 2)
    alike = SimpleNamespace(built=site, range=SimpleNamespace(chosen=SimpleNamespace(text=lambda: "-25 to 100 Pa", objections=()),
                                                              mends=lambda choice: ""))  # fmt: skip
    assert transmitters_said(alike) == "2 of -25 to 100 Pa, 4-20 mA"
    taps = [*site.transmitters, site.transmitters[0].model_copy(update={"signal": "2-10 V"})]
    alike.built = SimpleNamespace(transmitters=taps)
    assert transmitters_said(alike) == "3 of -25 to 100 Pa, 2 with 4-20 mA and 1 with 2-10 V"
