"""The smallest set of injected points, and what is said of what was read."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import units
from helpers.formulas.combining import combine
from helpers.formulas.signals import SIGNALS, to_signal
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.commissioning.proof import check_plan
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def pair():
    return read_site(demo_sites()["Larkfield House"]).transmitters


@pytest.fixture(scope="module")
def plan(pair):
    return check_plan(pair, "average")


def unlike(pair):
    """Two instruments with ranges and signals of their own."""
    return [pair[0], pair[1].model_copy(update={"range_low_pa": -60.0, "range_high_pa": 60.0, "signal": "0-10 V"})]


def test_two_points_prove_two_inputs_and_one_does_not(plan):
    assert len(plan.points) == 2
    for number in range(2):  # each input is moved over its whole range between the two points
        assert {point.percents[number] for point in plan.points} == {5.0, 95.0}


def test_no_smaller_set_would_do(pair):
    """By trying all single points: each leaves two settings that it cannot tell apart."""
    plan = check_plan(pair, "average")
    tolerance = np.array([*plan.tolerance_pa, plan.combined_tolerance_pa])
    for k in range(len(plan.points)):
        alike = [
            (a, b)
            for a, b in combinations(range(len(plan.settings)), 2)
            if (np.abs(plan.shown_pa[a, k] - plan.shown_pa[b, k]) <= 2 * tolerance).all()
            and not (np.abs(plan.shown_pa[a] - plan.shown_pa[b]) <= 2 * tolerance).all()
        ]
        assert alike


@pytest.mark.parametrize("rule", ["average", "lowest", "highest"])
@pytest.mark.parametrize("which", ["alike", "unlike"])
def test_every_wrong_setting_that_shows_is_named_and_the_right_one_passes(pair, rule, which):
    plan = check_plan(pair if which == "alike" else unlike(pair), rule)
    assert plan.judge(plan.shown_pa[0]).good
    assert plan.judge(plan.shown_pa[0]).fits[0] == "as it should be"
    for number, setting in enumerate(plan.settings[1:], 1):
        judged = plan.judge(plan.shown_pa[number])
        if setting.name not in plan.not_told_apart:
            assert not judged.good
            assert setting.name in judged.fits
            assert "as it should be" not in judged.fits


def test_the_usual_mistakes_are_among_those_played_through(pair):
    names = " | ".join(setting.name for setting in check_plan(unlike(pair), "average").settings)
    mistakes = (
        "lowest reading runs",
        "only PDT-1",
        "swapped",
        "per cent, not scaled",
        "in. w.c.",
        "0-10 V instead of",
        "have the range of",
    )
    for mistake in mistakes:
        assert mistake in names


def test_current_and_voltage_of_one_live_zero_cannot_be_told_apart_and_that_is_said(plan):
    """2 to 10 V is 4 to 20 mA across 500 ohm: the display is right either way."""
    assert plan.not_told_apart == (
        "PDT-1 (storey 1) is set to 2-10 V instead of 4-20 mA",
        "PDT-2 (storey 12) is set to 2-10 V instead of 4-20 mA",
    )


def test_the_signal_to_inject_is_the_one_that_stands_for_the_display(plan):
    for point in plan.points:
        for tap, signal, shown in zip(plan.transmitters, point.signals, point.displays_pa, strict=True):
            assert signal == pytest.approx(to_signal(shown, tap.signal, tap.range_low_pa, tap.range_high_pa))


def test_what_was_not_read_is_neither_good_nor_bad(plan):
    nothing = plan.judge([[None] * 3] * 2)
    assert nothing.passes == (None, None)
    assert not nothing.good
    assert nothing.words == "Nothing has been read yet."
    half = plan.judge([plan.shown_pa[0, 0], [None] * 3])
    assert half.passes == (True, None)
    assert half.words == "1 of 2 points pass; 1 to go."


def test_a_reading_just_within_the_tolerance_passes_and_just_beyond_fails(plan):
    read = plan.shown_pa[0].copy()
    read[0, 0] += 0.99 * plan.tolerance_pa[0]
    assert plan.judge(read).good
    read[0, 0] += 0.02 * plan.tolerance_pa[0]
    assert plan.judge(read).passes == (False, True)


@pytest.mark.parametrize("rule", ["average", "lowest", "highest"])
def test_a_zero_that_moved_an_end_off_two_ranges_and_a_dead_wire_that_counts_are_named(pair, rule):
    """Each played through by hand: what the displays show, and what the rule makes of it."""
    plan = check_plan(pair, rule)
    one, two = plan.shown_pa[0, :, 0], plan.shown_pa[0, :, 1]
    low, span = pair[0].range_low_pa, pair[0].range_high_pa - pair[0].range_low_pa

    def said(first, second, rule=rule):
        both = np.column_stack([first, second])
        return written_out(" | ".join(plan.judge(np.column_stack([both, combine(both, rule)])).fits), "Pa")

    zero = "every reading of PDT-1 (storey 1) is 5 Pa too high: its zero is off, or its range was entered so much too high"
    assert said(one + 5.0, two) == zero
    assert said(one - 7.0, two).startswith("every reading of PDT-1 (storey 1) is 7 Pa too low")
    assert said(low + (one - low) * 1.12, two).startswith("the top entered for PDT-1 (storey 1) is off, +12 % of the span")
    both = said(2 * one, 1.3 * two - 20.0)
    assert "range at both ends entered for PDT-1 (storey 1)" in both or "entered for PDT-1 (storey 1) is off" in both
    assert "entered for PDT-2 (storey 12) is off" in both
    dead = low - span / 4
    assert said(np.full_like(one, dead), two).startswith(f"PDT-1 (storey 1) stands at {dead:.0f}")
    other = "highest" if rule == "lowest" else "lowest"
    assert said(one + 5.0, two - 7.0, other).endswith(f"the {other} reading runs the loop")


def test_a_dead_wire_that_shows_nothing_and_is_averaged_in_is_named(pair):
    plan = check_plan(pair, "average")
    read = plan.shown_pa[0].copy()
    read[:, 0], read[:, 2] = np.nan, (pair[0].range_low_pa + read[:, 1]) / 2
    (fit,) = plan.judge(read).fits
    assert written_out(fit, "Pa").startswith("the wire of PDT-1 (storey 1) is dead and counts all the same, as ")


@pytest.mark.parametrize(
    ("shows", "name"),
    [
        (lambda pa, percent: pa, "the displays are in Pa instead of in. w.c."),
        (lambda pa, percent: pa / 1000, "the displays are in kPa instead of in. w.c."),
        (lambda pa, percent: percent, "the displays are in per cent, not scaled"),
    ],
)
def test_another_unit_on_the_displays_is_named_on_a_sheet_in_inches_too(pair, plan, shows, name):
    """What a sheet in in. w.c. makes of the numbers typed: each times the pascals of an inch."""
    percent = np.array([point.percents for point in plan.points])
    whole = shows(plan.shown_pa[0], np.column_stack([percent, percent.mean(axis=1)]))
    assert plan.judge(np.round(whole, 3) * units.WATER_COLUMNS_PA[units.WATER_COLUMN]).fits == (name,)


def test_two_mistakes_at_once_are_said_to_fit_nothing(plan):
    read = plan.shown_pa[0] * 1.37 + 11.0
    read[0, 2] += 40.0  # no rule and no single display gives that
    judged = plan.judge(read)
    assert judged.fits == ()
    assert "two at once" in judged.words


@pytest.mark.parametrize("count", [1, 3, 4, 5])
def test_other_numbers_of_inputs_have_a_plan_too(pair, count):
    taps = [pair[0].model_copy(update={"name": f"PDT-{number}"}) for number in range(count)]
    plan = check_plan(taps, "middle" if count > 2 else "average")
    assert 1 <= len(plan.points) <= 8
    assert all(len(point.signals) == count for point in plan.points)
    assert plan.judge(plan.shown_pa[0]).good


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda pair: check_plan([], "average"), "at least one transmitter"),
        (lambda pair: check_plan(pair, "loudest"), "rule must be one of"),
        (lambda pair: check_plan(pair, "weighted"), "weights must be given"),
        (lambda pair: check_plan(pair, "average", calibrator_percent=-1), "calibrator_percent"),
        (lambda pair: check_plan(pair, "average").judge([[1.0, 2.0]]), "must be 2 rows of 3 displays"),
        (lambda pair: check_plan(pair, "average").judge([[1.0, 2.0, float("inf")]] * 2), "finite"),
    ],
)
def test_wrong_input_gets_a_sentence(pair, call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call(pair)


@given(st.sampled_from(sorted(SIGNALS)), st.floats(-500, 500), st.floats(20, 2000), st.sampled_from(["average", "lowest", "highest"]))
@settings(max_examples=50, derandomize=True, deadline=None)
def test_any_range_and_signal_gets_points_that_tell_its_rule(signal, low, span, rule):
    first = read_site(demo_sites()["Larkfield House"]).transmitters[0]
    own = {"signal": signal, "range_low_pa": low, "range_high_pa": low + span}
    plan = check_plan([first.model_copy(update=own), first.model_copy(update=own | {"name": "other"})], rule)
    rules = {setting.name for setting in plan.settings if "reading runs the loop" in setting.name}
    assert not rules & set(plan.not_told_apart)


def test_more_inputs_than_can_be_played_through_are_refused_at_once(pair):
    many = [pair[0].model_copy(update={"name": f"X{number}"}) for number in range(9)]
    with pytest.raises(ValueError, match="transmitters must be 8 at the most, got 9"):
        check_plan(many, "average")
