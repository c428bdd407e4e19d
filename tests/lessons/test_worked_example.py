"""A worked example says whether it meets its published figure, and why where it does not."""

import math
import re
from importlib import import_module
from inspect import signature

import pytest

from helpers.lessons import LESSONS
from helpers.plots.markup import html_table
from helpers.teaching.derivation import Row, WorkedExample
from helpers.units.said import written_out

GIVEN = (Row("Pressure", "", 25.0, "pressure"), Row("Ratio", "", 1.23456, "number"))


def example(last, explained=""):
    lines = (Row("Half", "25 / 2", 12.5, "pressure", 1), Row("Double", "2 x", last, "pressure", 1))
    return WorkedExample("By hand", GIVEN, lines, 50.0, 0.5, "Table 7 of a standard", "memory", explained)


@pytest.mark.parametrize(("last", "meets"), [(50.0, True), (50.5, True), (49.5, True), (50.51, False), (12.5, False)])
def test_the_last_line_meets_the_published_figure_within_what_is_stated(last, meets):
    assert example(last).meets == meets


def test_the_closing_names_figure_source_and_how_it_is_known():
    assert written_out(example(50.0).closing()) == "Published: 50.0 Pa (Table 7 of a standard; memory), which is what comes out here."


def test_what_differs_is_said_with_both_figures_and_the_reason():
    told = written_out(example(52.0, "The table rounds its areas.").closing())
    assert told.startswith("Published: 50.0 Pa")
    assert told.endswith("where 52.0 Pa comes out here. The table rounds its areas.")


def test_lines_follow_the_units_and_a_number_has_none():
    assert written_out(GIVEN[0].says(), "in. w.c.") == "0.10 in. w.c."
    assert written_out(GIVEN[1].says(), "in. w.c.") == "1.235"
    assert written_out(Row("n", "", 3.0, "number", 0).says()) == "3"


def test_letters_and_formulas_of_a_line_are_shown_as_mathematics_and_told_as_text():
    what, how, value = Row("Left <b>", "= force_limit_n - closer_force_n", 9.0, "force", 0, "push_n").row()
    assert (what, how, written_out(value)) == ("Left <b> P", "F_max − F_c", "9 N")
    table = html_table(("What", "How"), [(what, how)])
    assert "Left &lt;b&gt;" in table
    assert table.count("<math ") == 2


def examples():
    """Every worked example of the lessons."""
    for lesson in LESSONS:
        module = import_module(f"helpers.lessons.{lesson.key}.derivations")
        makes = [one for one in vars(module).values() if getattr(one, "__module__", "") == module.__name__ and callable(one)]
        yield from (one for make in makes if not signature(make).parameters and isinstance(one := make(), WorkedExample))


def test_what_a_pencil_makes_of_the_figures_in_view_is_the_figure_in_view():
    worked = 0
    for one in examples():
        known = {}
        for row in (*one.given, *one.working):
            text = re.match(r"-?[\d.]+", written_out(row.says()))[0]
            if row.how.startswith("= ") and set(re.findall(r"[a-z_]\w*", row.how)) <= {*known, "sqrt"}:
                by_pencil = eval(row.how[2:], {"sqrt": math.sqrt}, known)  # lines of ours
                assert f"{by_pencil:.{len(text.partition('.')[2])}f}" == text, (one.title, row.what, text, by_pencil)
                worked += 1
            if row.name:
                known[row.name] = float(text)
    assert worked > 30
