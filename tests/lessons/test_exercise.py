"""Grading: the right answer counts in either unit, a known slip is named, and what is no answer gets a sentence."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import units
from helpers.formulas.doors import FORCE_LIMITS_N
from helpers.lessons.average_lowest_highest.questions import force_at_the_top
from helpers.lessons.low_demand_stop.questions import longer_wait
from helpers.lessons.tuning_and_door_events.off_the_trend import force_after_the_door
from helpers.teaching.questions import Chosen, Exercise, Measured, Slip, before_rounding, exercise_of, title_of

SOME = settings(max_examples=50, derandomize=True, deadline=None)
SPAN = Slip("span", "The span is top less bottom; did you take the top alone?", 100.0)


def measured(system="Pa", value=50.0, slips=(SPAN,)):
    return Exercise("How much?", Measured(value, "pressure", 1.0), slips, ("one step",), "how_much", 7, system)


def chosen():
    slip = Slip("mixed up", "Which way must the fan go when the reading is too high?", "direct")
    return Exercise("Which?", Chosen("reverse", ("reverse", "direct")), (slip,), ("too high, so slower",))


def lucky(draw):
    """A maker whose numbers are fair in some draws only."""
    value = float(draw.whole(90, 110))
    return Exercise(f"{value:g}?", Measured(value, "pressure", 1.0), (Slip("one", "hint", 100.0),), ())


def unlucky(draw):
    """Never fair. Whatever comes."""
    return Exercise("?", Measured(5.0, "pressure", 1.0), (Slip("one", "hint", 5.5),), ())


@pytest.mark.parametrize("text", ["50", " 50.0 ", "50 Pa", "5e1", "0.2007 in. w.c.", "0.05 kPa"])
def test_the_right_answer_counts_with_or_without_its_unit_and_in_any_unit(text):
    assert measured().grade(text).right


def test_a_bare_number_is_taken_in_the_unit_that_is_asked_for():
    assert measured("in. w.c.").grade("0.2007").right
    assert not measured("in. w.c.").grade("50").right
    assert measured("in. w.c.").grade("50 Pa").right


@pytest.mark.parametrize("text", ["50,0", "50 pascal", "about 50 Pa", "+50", "5000 %", "0,2007 inches of water"])
def test_a_decimal_comma_and_a_unit_in_words_are_understood(text):
    if "%" in text:
        with pytest.raises(ValueError, match="answer's unit is Pa"):
            measured().grade(text)
    else:
        assert measured().grade(text).right


@pytest.mark.parametrize(
    ("answer", "texts"),
    [
        (Measured(2.5, "number", 0.05, counted_in="%/%"), ("2.5 %/%", "2,5 % per %", "2.5%/%", "2.5 percent per percent")),
        (Measured(40.0, "number", 0.4, counted_in="per minute"), ("40 per minute", "40/min", "40 1/min", "40 repeats per minute")),
        (Measured(13.0, "percent", 0.2), ("13 percent", "13 per cent", "13 %", "13%", "13 pct", "13")),
        (Measured(3.2, "number", 0.05, counted_in="V"), ("3.2 V", "3.2 volts", "3200 mV")),
        (Measured(1234.0, "number", 2.0, counted_in="conditions"), ("1234 conditions", "1 234", "1'234", "1.234,0", "1,234.0")),
        (Measured(130.0, "time", 1.0), ("130 s", "130 sec", "130 seconds")),
    ],
)
def test_the_unit_of_the_question_is_accepted_as_it_stands_there_and_in_words(answer, texts):
    for text in texts:
        assert Exercise("?", answer, (), ()).grade(text).right, text


@pytest.mark.parametrize("text", ["13 Pa", "13 apples", "thirteen", "1,300", "1.3.0", ""])
def test_a_refusal_is_one_sentence_and_shows_no_figure_but_the_readers_own(text):
    for value in (12.0, 2.5, 13.0):
        with pytest.raises(ValueError, match="answer") as refused:
            Exercise("?", Measured(value, "percent", 0.1), (), ()).grade(text)
        own, said = text or "-", str(refused.value)
        assert said.count(". ") == 0
        assert not any(sign.isdigit() for sign in said.replace(own, ""))


def test_zero_is_told_as_zero_and_a_small_figure_is_no_other_unit():
    for system, value in (("Pa", 40.0), ("in. w.c.", 40.0)):
        exercise = Exercise("?", Measured(value, "pressure", 2.0), (), (), system=system)
        assert exercise.grade("0").slip == "zero"
        assert "unit" not in exercise.grade("0 Pa").words
    assert Exercise("?", Measured(40.0, "pressure", 2.0), (), ()).grade("1").slip != "unit"


def test_a_further_slip_is_told_by_the_nearest_one_and_does_not_make_numbers_unfair():
    near, other = Slip("near", "The near one.", 60.0), Slip("other", "The other one.", 61.0)
    exercise = Exercise("?", Measured(50.0, "pressure", 1.0), (SPAN,), (), more=(other, near, Slip("same", "Never told.", 50.2)))
    assert exercise.fair
    assert [exercise.grade(text).slip for text in ("60", "61.2", "100")] == ["near", "other", "span"]
    assert exercise.grade("50.2").right


@SOME
@given(st.floats(-3.0, 3.0))
def test_the_tolerance_is_where_right_ends(off):
    assert measured(slips=()).grade(repr(50.0 + off)).right == (abs(off) <= 1.0)


def test_a_slip_gets_its_hint_and_its_name():
    grade = measured().grade("100 Pa")
    assert (grade.right, grade.words, grade.slip) == (False, SPAN.hint, "span")


def test_a_wrong_sign_and_the_other_systems_unit_are_known_in_every_exercise():
    assert measured().grade("-50").slip == "sign"
    assert measured().grade("−50").slip == "sign"  # the typographic minus
    # A figure of the other system without its unit, in an exercise where it cannot be taken for the answer itself.
    assert Exercise("?", Measured(9000.0, "pressure", 20.0), (), ()).grade("36.13").slip == "unit"
    assert Exercise("?", Measured(50.0, "pressure", 0.5), (), (), system="in. w.c.").grade("50").slip == "unit"
    for unit in ("in. w.c.", "mbar", "kPa"):
        assert Exercise("?", Measured(50.0, "pressure", 0.5), (), ()).grade(f"50 {unit}").slip == "unit written behind it"


def test_a_slip_of_its_own_goes_before_the_usual_ones():
    own = Slip("low side first", "You took the high side from the low one.", -50.0)
    assert measured(slips=(own,)).grade("-50").slip == "low side first"


def test_no_usual_slip_can_be_taken_for_the_answer():
    assert measured(value=0.0, slips=()).grade("0").right
    assert measured(value=0.0, slips=()).grade("0.5").right


def test_a_wrong_answer_of_no_known_kind_says_so_and_not_the_answer():
    grade = measured().grade("77")
    assert not grade.right
    assert grade.slip == ""
    assert "none of the usual slips" in grade.words
    assert "50" not in grade.words


@pytest.mark.parametrize("text", ["", "much", "50 N", "1,245", "nan", "inf", "1e999", "-1e999", "5 5", "40 to 50", "1.2.3"])
def test_what_is_no_pressure_is_refused_with_a_sentence(text):
    with pytest.raises(ValueError, match="answer"):
        measured().grade(text)


@pytest.mark.parametrize("text", ["", "two", "2 Pa", "1e999", "1/2"])
def test_what_is_no_number_is_refused_with_a_sentence(text):
    with pytest.raises(ValueError, match=r"number"):
        Exercise("?", Measured(2.0, "number", 0.1), (), ()).grade(text)


def test_a_number_has_no_unit_and_no_slip_of_units():
    ratio = Exercise("?", Measured(2.0, "number", 0.1), (), ())
    assert ratio.answer.unit == ""
    assert ratio.grade("2.05").words == "Right: 2."
    assert ratio.grade("-2").slip == "sign"


def test_a_choice_is_graded_and_another_text_refused():
    assert chosen().grade("reverse").right
    assert chosen().grade("direct").slip == "mixed up"
    with pytest.raises(ValueError, match="Choose one of: reverse, direct"):
        chosen().grade("Reverse")


def test_a_right_answer_is_said_in_the_readers_units():
    assert measured("in. w.c.").grade("50 Pa").words == "Right: 0.20 in. w.c."
    assert measured().grade("50").words == "Right: 50 Pa."


@pytest.mark.parametrize("gives", [50.5, 52.4, math.nan, math.inf])
def test_a_slip_too_near_the_answer_or_no_number_is_unfair(gives):
    assert not measured(slips=(Slip("near", "hint", gives),)).fair


def test_two_slips_that_come_out_alike_are_unfair():
    assert not measured(slips=(SPAN, Slip("other", "another hint", 101.0))).fair
    assert measured(slips=(SPAN, Slip("other", "another hint", 102.5))).fair


@SOME
@given(st.integers(0, 2**32))
def test_numbers_are_drawn_again_until_they_are_fair_and_the_same_for_the_same_seed(seed):
    exercise = exercise_of(lucky, seed)
    assert exercise.fair
    assert (exercise.key, exercise.seed, exercise.system) == ("lucky", seed, "Pa")
    assert exercise == exercise_of(lucky, seed)


def test_a_maker_that_is_never_fair_is_named():
    with pytest.raises(ValueError, match="no fair numbers for unlucky"):
        exercise_of(unlucky, 3)


def test_the_title_is_the_first_line_of_the_maker():
    assert title_of(unlucky) == "Never fair. Whatever comes"


def test_a_figure_beside_a_power_of_ten_of_the_answer_is_no_moved_decimal_point():
    """As near, so many times, as the answer has to be: a share of 0.65 is not 62.5 with its point moved."""
    exercise = Exercise("?", Measured(62.5, "pressure", 1.25), (), ())
    assert exercise.grade("0.65").slip == ""
    assert exercise.grade("0.625").slip == exercise.grade("625").slip == exercise.grade("6.2").slip == "decimal point"


@pytest.mark.parametrize(("value", "tolerance", "texts"), [(7.84, 0.1, ("8",)), (0.195, 0.002, ("0.2", "0.19")), (118.4, 0.2, ("118",))])
def test_the_right_figure_rounded_too_far_is_told_so(value, tolerance, texts):
    exercise = Exercise("?", Measured(value, "number", tolerance), (), ())
    for text in texts:
        grade = exercise.grade(text)
        assert (grade.right, grade.slip) == (False, "rounded")
        assert "one digit more" in grade.words
    assert exercise.grade(f"{value * 1.15:.4g}").slip == ""
    assert exercise.grade(f"{value:.4g}").right


def test_a_figure_rounded_too_far_that_is_a_slip_is_told_by_the_slip():
    own = Slip("own", "The own one.", 8.0)
    assert Exercise("?", Measured(7.84, "number", 0.05), (own,), ()).grade("8").slip == "own"


def test_a_wait_is_the_whole_second_above_and_is_said_as_that():
    for seed in range(20):
        exercise = exercise_of(longer_wait, seed)
        whole = exercise.answer.value
        assert exercise.grade(f"{whole:.0f}").words == f"Right: {whole:.0f} s."
        assert not any(exercise.grade(f"{whole + off:.1f}").right for off in (-5, -1, -0.5, 0.5, 1, 5))
        assert exercise.grade(f"{whole - 1:.0f}").slip == "rounded down"
        assert exercise.grade(f"{whole - 0.1:.1f}").right is False
        assert f"entered as {whole:.0f} s, rounded up" in exercise.way[1]


def test_a_verdict_that_a_rounded_answer_would_turn_says_what_it_goes_by():
    assert before_rounding(30.3, 0.5, 30.0)
    assert before_rounding(30.6, 0.5, 30.0) == ""
    found = [
        exercise_of(make, seed, system)
        for make in (force_after_the_door, force_at_the_top)
        for system in units.SYSTEMS
        for seed in range(60)
    ]
    near = [one for one in found if one.answer.same(one.answer.value, FORCE_LIMITS_N["nfpa101_set_in_motion"])]
    assert near
    assert all("by the figure before it is rounded." in one.way[-1] for one in near)
    assert not any("before it is rounded" in one.way[-1] for one in found if one not in near)
