"""The set of a class: made again exactly, own numbers for every seat, and a mark sheet that marks and adds up."""

import io
import re
from functools import cache

import openpyxl
import pytest

from helpers.classroom.books import mark_sheet_book
from helpers.classroom.sets import class_set, expected, option_letter, questions_of
from helpers.lessons import LESSONS
from helpers.teaching.questions import Chosen

CODE = "autumn class of the roof fans"
ANGRY = ("=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1:A9)", ' =HYPERLINK("x")', "山田 花子", "عائشة\u200f", "<b>O'Brien</b>")


@cache
def small():
    return class_set(CODE, 8, lessons=(1, 4), names=ANGRY)


@cache
def book():
    return openpyxl.load_workbook(io.BytesIO(mark_sheet_book(small(), "Letter")))


def test_a_class_is_made_again_exactly_from_its_code():
    assert class_set(CODE.upper(), 8, lessons=("scaling_the_signal", "pressure_window"), names=ANGRY) == small()


def test_neighbours_have_numbers_of_their_own():
    for place, _question in enumerate(small().questions):
        asked = [sheet.exercises[place].question for sheet in small().sheets]
        assert len(set(asked)) >= (5 if not isinstance(small().sheets[0].exercises[place].answer, Chosen) else 2)


def test_two_hundred_seats_have_two_hundred_keys():
    made = class_set(CODE, 200, lessons=(1, 4), each=1)
    assert [sheet.seat.number for sheet in made.sheets] == list(range(1, 201))
    assert len({sheet.seat.secret for sheet in made.sheets}) == 200


def test_a_seat_keeps_its_numbers_when_the_class_grows_or_another_page_is_asked():
    grown = class_set(CODE, 9, lessons=4)
    assert grown.sheets[7].exercises == small().sheets[7].exercises[len(LESSONS.of("pressure_window").makers) :]


def test_both_systems_of_units_are_printed():
    other = class_set(CODE, 1, lessons=1, system="in. w.c.")
    assert any("in. w.c." in exercise.question for exercise in other.sheets[0].exercises)
    assert not any("in. w.c." in exercise.question for exercise in small().sheets[0].exercises)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"seats": 0}, "seats must be"),
        ({"seats": 501}, "seats must be"),
        ({"seats": True}, "seats must be"),
        ({"lessons": (12,)}, "lessons must be some of"),
        ({"lessons": ()}, "lessons must be some of"),
        ({"each": 0}, "each must be"),
        ({"system": "bar"}, "system must be"),
        ({"names": ["x"] * 3}, "names must be 2"),
    ],
)
def test_what_cannot_be_made_gets_a_sentence(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        class_set(**({"code": CODE, "seats": 2} | wrong))


def test_so_many_of_each_page():
    assert [question.lesson for question in questions_of(each=1)] == list(LESSONS)
    assert [question.lesson.number for question in questions_of((2, 1, 2), 2)] == [1, 1, 2, 2]


@pytest.mark.parametrize("system", ["Pa", "in. w.c."])
def test_what_the_mark_sheet_expects_is_what_the_exercise_takes(system):
    """On either edge of the tolerance, just inside and clearly outside, typed in the unit asked for."""
    for exercise in class_set(CODE, 1, system=system).sheets[0].exercises:
        answer, tolerance = expected(exercise)
        if isinstance(exercise.answer, Chosen):
            assert option_letter(exercise.answer.options.index(exercise.answer.value)) == answer
            continue
        for edge in (-0.999, 0.0, 0.999):
            assert exercise.grade(repr(answer + edge * tolerance)).right, exercise.key
        for edge in (-1.01, 1.01):
            assert not exercise.grade(repr(answer + edge * tolerance)).right, exercise.key


def test_a_mark_compares_what_is_typed_with_the_answer_at_the_same_place():
    marks, answers, tolerances = (book()[title] for title in ("Marks", "Answers", "Tolerances"))
    for row, sheet in enumerate(small().sheets, 5):
        for column, exercise in enumerate(sheet.exercises, 3):
            cell = marks.cell(row, column)
            assert set(re.findall(r"(?:Typed|Answers|Tolerances)!([A-Z]+\d+)", cell.value)) == {cell.coordinate}
            assert (answers.cell(row, column).value, tolerances.cell(row, column).value) == pytest.approx(expected(exercise))


def parts_of(inside):
    """What stands between the commas of a function's brackets."""
    parts, depth = [""], 0
    for sign in inside:
        depth += {"(": 1, ")": -1}.get(sign, 0)
        if sign == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += sign
    return parts


def worked_out(formula, typed, answer, tolerance):
    """A mark's formula as a spreadsheet works it out."""
    if formula.startswith("IF("):
        condition, yes, no = parts_of(formula[3:-1])
        return worked_out(yes if holds(condition, typed, answer, tolerance) else no, typed, answer, tolerance)
    return formula.strip('"') if formula.startswith('"') else int(formula)


def holds(condition, typed, answer, tolerance):
    """Whether one of the conditions that a mark asks is met; any other is a fault of the formula."""
    if condition == 'Typed=""':
        return typed == ""
    if condition in ("ISNUMBER(Typed)", "ISNUMBER(Answers)"):
        return isinstance(typed if "Typed" in condition else answer, float)
    if condition == "LOWER(TRIM(Typed))=Answers":
        return str(typed).strip().lower() == answer
    return abs(typed - answer) <= tolerance * float(re.fullmatch(r"ABS\(Typed-Answers\)<=Tolerances\*([0-9.]+)", condition)[1])


def test_a_mark_is_one_within_the_tolerance_or_for_the_right_letter_and_nothing_where_nothing_is_typed():
    formula = re.sub(r"(Typed|Answers|Tolerances)!D6", r"\1", book()["Marks"]["D6"].value.removeprefix("="))
    figures = {20.0: 1, 20.5: 1, 19.5: 1, 20.51: 0, -20.0: 0, "20 Pa": "?", "": ""}
    assert {typed: worked_out(formula, typed, 20.0, 0.5) for typed in figures} == figures
    letters = {"b": 1, " B ": 1, "a": 0, "bb": 0, 2.0: 0, "": ""}
    assert {typed: worked_out(formula, typed, "b", None) for typed in letters} == letters


def test_totals_take_in_every_mark_of_a_seat_and_of_a_question():
    marks = book()["Marks"]
    last = 2 + len(small().questions)
    end = marks.cell(5, last).coordinate.rstrip("0123456789")
    assert [marks.cell(12, last + place).value for place in (1, 2)] == [f"=SUM(C12:{end}12)", f"=COUNT(C12:{end}12)"]
    assert marks.cell(13, 3).value == '=IF(COUNT(C5:C12)=0,"",AVERAGE(C5:C12))'


def test_nothing_somebody_is_called_becomes_a_formula():
    for title in book().sheetnames:
        for row, name in enumerate(ANGRY, 5):
            cell = book()[title].cell(row, 2)
            assert (cell.value, cell.data_type) == (name.strip(), "s")
            assert cell.quotePrefix or name.strip()[0] not in "=+-@"


def test_a_name_that_no_sheet_can_hold_is_written_with_a_mark_for_what_is_lost():
    made = class_set(CODE, 1, lessons=1, each=1, names=("A\x07da\ud83d\uffff",))
    assert openpyxl.load_workbook(io.BytesIO(mark_sheet_book(made)))["Typed"]["B5"].value == "A�da��"


def test_the_class_code_is_in_no_paper_of_the_class():
    assert CODE not in repr(small())
    assert book()["Marks"].page_setup.paperSize in (1, "1")


def test_a_lesson_with_a_letter_is_asked_for_by_it_and_its_number_alone_is_the_other_one():
    for asked, key in (("09b", "tested_in_may"), (9, "low_demand_stop"), ("09", "low_demand_stop")):
        assert {question.lesson.key for question in questions_of((asked,), 1)} == {key}
    assert [question.lesson.numbered for question in questions_of(("09b", 9), 1)] == ["09", "09b"]
