"""The injection table: displays by hand, rules told apart, tolerances added up."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.model.site import Transmitter
from helpers.studies.injection import injection_table

PROPERTY = settings(max_examples=40, derandomize=True, deadline=None)


def tap(name, signal="4-20 mA", low=0.0, high=100.0):
    return Transmitter(
        name=name, level=0, range_low_pa=low, range_high_pa=high, signal=signal, accuracy_percent_span=1.0, converter_bits=12
    )  # fmt: skip


TWO = (tap("A"), tap("B"))


def row(table, *percents):
    return next(row for row in table.rows if row.percents == percents)


@pytest.mark.parametrize(("percent", "milliamps", "pascals"), [(0, 4, 0), (25, 8, 25), (75, 16, 75), (100, 20, 100)])
def test_each_input_is_checked_along_its_signal(percent, milliamps, pascals):
    found = row(injection_table(TWO, "average"), float(percent), 50.0)
    assert found.signals == (milliamps, 12.0)
    assert found.readings_pa == (pascals, 50.0)
    assert found.combined_pa == (pascals + 50) / 2


def test_a_two_sided_range_reads_zero_half_way_up():
    found = injection_table((tap("A", "0-10 V", -25.0, 25.0),), "average").rows[0]
    assert found.signals == (5.0,)
    assert found.readings_pa == (0.0,)


def test_a_low_and_a_high_input_tell_average_lowest_highest_and_single_inputs_apart():
    low_high, high_low = (row(injection_table(TWO, "average"), *pair) for pair in ((25.0, 75.0), (75.0, 25.0)))
    assert low_high.if_instead_pa == {"average": 50, "lowest": 25, "highest": 75, "only A": 25, "only B": 75}
    assert high_low.if_instead_pa == {"average": 50, "lowest": 25, "highest": 75, "only A": 75, "only B": 25}


@pytest.mark.parametrize("rule", ["average", "lowest", "highest"])
def test_with_two_transmitters_every_combination_is_told_apart(rule):
    assert injection_table(TWO, rule).not_told_apart == ()


@PROPERTY
@given(count=st.integers(2, 5), rule=st.sampled_from(["average", "lowest", "highest"]), seed=st.integers(0, 4))
def test_displays_seen_point_to_what_the_drive_does(count, rule, seed):
    taps = [tap(str(number)) for number in range(count)]
    table = injection_table(taps, rule)
    truth = table.hypotheses[seed % len(table.hypotheses)]
    assert table.fits([found.if_instead_pa[truth] for found in table.rows]) == (truth,)


def test_a_display_that_fits_nothing_leaves_nothing():
    table = injection_table(TWO, "average")
    assert table.fits([33.3] * len(table.rows)) == ()


def test_rows_not_yet_seen_rule_nothing_out():
    table = injection_table(TWO, "average")
    assert table.fits([None] * len(table.rows)) == table.hypotheses


def test_a_wire_off_a_live_zero_signal_is_left_out_of_the_average():
    found = row(injection_table(TWO, "average"), None, 50.0)
    assert found.signals == (0.0, 12.0)
    assert found.readings_pa == (None, 50.0)
    assert found.combined_pa == 50.0  # not the average of 50 and what 0 mA would stand for
    assert "must be seen as failed and left out" in found.purpose


def test_a_wire_off_a_dead_zero_signal_reads_as_the_bottom_of_the_range():
    volts = (tap("A", "0-10 V"), tap("B", "0-10 V"))
    found = row(injection_table(volts, "average"), None, 50.0)
    assert found.readings_pa == (0.0, 50.0)
    assert found.combined_pa == 25.0
    assert "cannot tell it from 0 %" in found.purpose


def test_a_single_transmitter_with_its_wire_off_leaves_no_reading():
    table = injection_table(TWO[:1], "average")
    assert table.hypotheses == ("average",)
    assert row(table, None).combined_pa is None


def test_tolerances_add_calibrator_input_and_converter_step():
    table = injection_table(TWO, "average", calibrator_percent=0.1, input_percent=0.4)
    step = 100 * 20 / 16 / 4096
    assert table.tolerance_pa == pytest.approx((0.5 + step,) * 2)
    assert table.pressure_tolerance_pa == pytest.approx((1.5 + step,) * 2)  # 1 % of the transmitter on top
    assert table.combined_tolerance_pa == pytest.approx(0.5 + step)


def test_a_picked_reading_has_the_largest_tolerance_an_average_the_mean():
    mixed = (tap("A", high=100.0), tap("B", high=500.0))
    average, lowest = (injection_table(mixed, rule) for rule in ("average", "lowest"))
    assert average.combined_tolerance_pa == pytest.approx(sum(average.tolerance_pa) / 2)
    assert lowest.combined_tolerance_pa == max(lowest.tolerance_pa)


def test_three_transmitters_are_also_asked_for_the_middle():
    table = injection_table((*TWO, tap("C")), "middle")
    assert table.hypotheses[:4] == ("middle", "average", "lowest", "highest")
    assert table.not_told_apart == ()
    assert row(table, 0.0, 50.0, 50.0).combined_pa == 50.0


def test_weights_count_in_the_combined_display():
    assert row(injection_table(TWO, "weighted", (0.75, 0.25)), 25.0, 75.0).combined_pa == pytest.approx(37.5)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (((), "average"), "at least one transmitter"),
        ((TWO, "least"), "rule must be one of"),
        ((TWO, "weighted"), "weights must be given"),
        ((TWO, "weighted", (1.0, 1.0, 1.0)), "weights must be one for each transmitter"),
        ((TWO, "average", None, -1.0), "calibrator_percent must be 0 or more"),
        ((TWO, "average", None, 0.1, float("nan")), "input_percent must be a finite number"),
    ],
)
def test_nonsense_gets_one_sentence(arguments, words):
    with pytest.raises(ValueError, match=words):
        injection_table(*arguments)
