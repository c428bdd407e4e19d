"""Derivations: written as by hand, held to sympy, to their own numbers, to their units, and readable without eyes."""

import random
import re
from inspect import unwrap

import numpy as np
import pytest
import sympy

from helpers.lessons import LESSONS
from helpers.teaching import mathematics
from helpers.teaching.derivation import MOST_IN_VIEW, Derivation, Step, WorkedExample
from helpers.teaching.mathematics import SYMBOLS

AREA = "force_n = dp_pa*width_m*height_m"
FORCE = Derivation(
    "Push", "At {dp_pa}: {force_n}.", (), Step("Pressure times area:", AREA), ("dp_pa", "width_m", "height_m"),
    "helpers.formulas.doors.opening_force", {"dp_pa": 50.0, "width_m": 0.9, "height_m": 2.0},
)  # fmt: skip
MAKERS = [getattr(of.file("derivations"), name) for of in LESSONS for name in of.file("derivations").__all__]
DERIVING, WORKING = ([one for one in MAKERS if kind.__name__ in unwrap(one).__code__.co_names] for kind in (Derivation, WorkedExample))
# Made in the tests, not when they are collected: every worker collects all, and solving takes a second.
DERIVED, EXAMPLES = (
    pytest.mark.parametrize("made", makers, ids=lambda maker: maker.__name__, indirect=True) for makers in (DERIVING, WORKING)
)
BASE = {"Pa": "kg/m/s**2", "N": "kg*m/s**2", "J": "kg*m**2/s**2", "Hz": "1/s"}


@pytest.fixture
def made(request):
    """The derivation or the example of a maker."""
    return request.param()


def test_what_lessons_derive_and_what_they_work_by_hand_are_all_looked_at():
    assert {type(make()) for make in DERIVING} == {Derivation}
    assert {type(make()) for make in WORKING} == {WorkedExample}
    assert sorted(DERIVING + WORKING, key=id) == sorted(MAKERS, key=id)


def test_the_result_is_a_function_of_arrays_in_the_order_of_the_arguments():
    force = FORCE.function()
    assert force(25.0, 2.0, 1.0) == 50.0
    assert force(np.array([[1.0], [2.0]]), np.array([3.0, 4.0]), 1.0).tolist() == [[3.0, 4.0], [6.0, 8.0]]


def test_plain_text_has_words_equation_letters_units_and_numbers():
    shown = FORCE._repr_mimebundle_()["text/plain"].splitlines()
    assert shown[:4] == ["Push", "At 50 Pa (0.201 in. w.c.): 90 N (20.2 lbf).", "Pressure times area:", "    F = Δp b h"]
    assert "    b: width of the leaf, 0.9 m (2.95 ft)" in shown
    assert "Units: N = Pa m m" in shown
    assert "Numbers: F = 50 · 0.9 · 2 = 90 N (20.2 lbf)" in shown
    assert "dp_pa = Δp" in shown[-1]


def test_a_page_has_mathematics_that_needs_no_network_and_that_can_be_heard_and_found():
    page = FORCE._repr_mimebundle_()["text/html"]
    assert 'aria-label="F = Δp b h"' in page
    untrusted = re.sub(r"<style>.*?</style>|<[^>]+>", "", page)  # what JupyterLab leaves of a page that has not run
    assert "Pressure times area:F = Δp b h" in untrusted
    assert not re.search(r"\$|http|<script|<img", page)


def test_an_argument_that_was_left_out_is_named():
    with pytest.raises(ValueError, match="arguments must hold every name of the result; dp_pa, height_m is missing"):
        Derivation("", "", (), FORCE.result, ("width_m",), "")


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("force_n = closer_force_n + push_n/(2*(width_m - handle_to_edge_m))", "F = F_c + P / (2 (b − d))"),
        ("dp_pa = density_kg_m3*speed_m_s**2/2", "Δp = ρ v² / 2"),
        ("flow_m3_s = area_m2*sqrt(2*dp_pa/density_kg_m3)", "q_V = A √(2 Δp / ρ)"),
        ("width_m = 2*3 - (height_m - 1)", "b = 2 · 3 − (h − 1)"),
        ("width_m = (height_m/2)*x_m", "b = (h / 2) x"),
        ("ratio ≈ exp(-delay_s*swing)", "φ ≈ e^(−θ s)"),
        ("ratio = ln(width_m/height_m)/ln(2)", "φ = ln (b / h) / (ln (2))"),
        ("ratio = 1 - -1*2", "φ = 1 − (−1 · 2)"),
        ("integral_s = least(lag_s, 2**bits)", "T_i = min(T, 2^n)"),
    ],
)
def test_a_line_stands_as_it_was_written(line, text):
    assert mathematics.spoken(line) == text
    assert re.sub(r"<annotation.*</annotation>|<[^>]+>", "", mathematics.mathml(line)).count("(") <= text.count("(")


@pytest.mark.parametrize(("value", "shown"), [(101325.0, "101325"), (0.00001234, "0.00001234"), (-9.0, "−9"), (9999.96, "10000")])
def test_a_figure_has_no_power_of_ten(value, shown):
    assert mathematics.figure(value) == shown


@DERIVED
def test_every_line_holds_in_the_numbers_of_its_page_and_in_others(made):
    draw = random.Random(1)
    for example in (made.example, {name: value * draw.uniform(0.8, 1.2) for name, value in made.example.items()}):
        values = mathematics.filled([step.line for step in (made.result, *made.lines)], made.constants | example)
        seen = 0
        for step in made.lines:
            for equal, trees in mathematics.sides(step.line):
                known = [found for tree in trees if (found := mathematics.evaluated(tree, values)) is not None]
                if re.search(r"\d{4}\.\d", step.line):  # a constant with the page's own air in it, rounded
                    equal = equal and example is made.example
                    known = [round(value, 4) for value in known]
                assert not equal or known == pytest.approx(known[:1] * len(known), rel=1e-9, abs=1e-9), step.line
                seen += equal and len(known) > 1
        assert seen, "no line could be looked at"


def _put_in(made, written, other):
    """The named parts of an expression put in that another does without."""
    for symbol in sorted(written.free_symbols - other.free_symbols, key=str):
        written = written.subs(symbol, made.expression(symbol.name))
    return written


@DERIVED
def test_what_stands_written_is_what_sympy_found(made):
    draw = random.Random(2)
    for step in (step for step in made.lines if step.found is not None):
        parts = [list(map(mathematics.sympified, trees)) for _, trees in mathematics.sides(step.line)]
        found = step.found if isinstance(step.found, sympy.Tuple) else [step.found]
        for (left, *_, right), one in zip(parts, found, strict=True):
            if right != 0:
                right, one = _put_in(made, right, one), _put_in(made, one, right)
            ratios = []
            for _ in range(2):  # an equation whose right side is nothing may stand there times any figure
                numbers = {name: draw.uniform(0.2, 0.8) for name in one.free_symbols | left.free_symbols | right.free_symbols}
                ratios.append(complex((one / (left if right == 0 else right)).subs(numbers)))
            assert ratios == pytest.approx([ratios[0] if right == 0 else 1.0] * 2, rel=1e-9), step.line


@DERIVED
def test_every_line_fits_in_its_units(made):
    """In other units of mass, length, time, temperature and current every line must come out in those."""
    draw = random.Random(3)
    base = {name: draw.uniform(0.5, 2) for name in ("kg", "m", "s", "K", "mA", "h")} | {"1": 1.0, "sqrt": lambda value: value**0.5}

    def scale(unit):
        text = re.sub(r"√(\w+)", r"sqrt(\1)", unit.replace("%/%", "1").replace("%", "1")).replace("²", "**2").replace("³", "**3")
        return eval(re.sub(r"Pa|N|J|Hz", lambda found: f"({BASE[found[0]]})", text.replace(" ", "*")), {}, base)

    values = {name: value * scale(SYMBOLS[name].unit) for name, value in made.values.items() if SYMBOLS[name].unit != "°C"}
    for step in made.lines:
        if re.search(r"\d\.\d", step.line):
            continue  # a figure that has a unit of its own
        for equal, trees in mathematics.sides(step.line):
            known = [found for tree in trees if (found := mathematics.evaluated(tree, values)) is not None]
            assert not equal or known == pytest.approx(known[:1] * len(known), rel=1e-9, abs=1e-12), step.line


@DERIVED
def test_few_lines_are_in_view_and_no_letter_means_two_things(made):
    assert sum(not step.folded for step in (*made.steps, made.result)) <= MOST_IN_VIEW
    assert all(len(mathematics.spoken(step.line)) <= 90 for step in made.lines)  # 640 px of a page: 68 letters take 446 of them
    names = {name for step in made.lines for name in mathematics.names_in(step.line)}
    assert len({SYMBOLS[name].letter for name in names}) == len(names)
    assert all("=" in step.line or "≈" in step.line for step in made.lines)
    assert all(step.words.strip() for step in made.lines)


@EXAMPLES
def test_each_line_worked_by_hand_comes_to_what_stands_beside_it(made):
    lines = (*made.given, *made.working)
    values = {line.name: line.value for line in lines if line.name}
    for line in lines:
        if line.how.startswith("= "):
            assert mathematics.evaluated(line.how[2:], values) == pytest.approx(line.value, rel=2e-3), line.what


def test_every_letter_of_the_table_is_used():
    lines = [step.line for make in DERIVING for step in make().lines]
    by_hand = [line for make in WORKING for made in [make()] for line in (*made.given, *made.working)]
    lines += [line.how[2:] for line in by_hand if line.how.startswith("= ")]
    assert set(SYMBOLS) == {name for line in lines for name in mathematics.names_in(line)} | {line.name for line in by_hand if line.name}


@pytest.mark.parametrize("side", ["__import__('os').getcwd()", "push_n.args", "lambda: 1", "[1][0]", "open('x')", "'text'"])
def test_a_line_that_is_no_mathematics_is_refused_and_never_run(side):
    with pytest.raises(ValueError, match="side must be a line of names"):
        mathematics.sympified(side)
