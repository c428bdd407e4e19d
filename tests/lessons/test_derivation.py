"""A derivation shows its steps, and its result is a function of numbers and arrays."""

import numpy as np
import pytest
import sympy

from helpers.formulas import doors
from helpers.teaching.derivation import Derivation, Step

dp_pa, area_m2 = sympy.symbols("dp_pa A", positive=True)
FORCE = Derivation("Force on a leaf", (Step("Pressure times area:", dp_pa * area_m2),), dp_pa * area_m2, (dp_pa, area_m2), "helpers.f")


def test_the_result_is_a_function_of_arrays_in_the_order_of_the_symbols():
    force = FORCE.function()
    assert force(25.0, 2.0) == 50.0
    assert force(np.array([[1.0], [2.0]]), np.array([3.0, 4.0])).tolist() == [[3.0, 4.0], [6.0, 8.0]]


def test_a_page_shows_words_mathematics_and_the_formula_it_ends_in():
    shown = FORCE._repr_mimebundle_()
    assert "1. Pressure times area:" in shown["text/markdown"]
    assert r"\mathrm{dp\_pa}" in shown["text/markdown"]
    assert shown["text/plain"].splitlines() == ["Force on a leaf", "1. Pressure times area: A*dp_pa", "This is helpers.f."]


@pytest.mark.parametrize(("symbols", "missing"), [((dp_pa,), "A"), ((), "A, dp_pa")])
def test_a_symbol_that_was_left_out_is_named(symbols, missing):
    with pytest.raises(ValueError, match=f"symbols must hold every symbol of the result; {missing}"):
        Derivation("", (), FORCE.result, symbols, "")


def test_a_solved_equation_meets_the_formula_of_the_door():
    width, height, closer, handle = sympy.symbols("width_m height_m closer_n handle_m", positive=True)
    moment = dp_pa * width * height * width / 2
    result = sympy.simplify(closer + moment / (width - handle))
    door = Derivation("Door", (Step("Moment", moment),), result, (dp_pa, width, height, closer, handle), "")
    values = np.random.default_rng(1).uniform((5, 0.8, 1.9, 20, 0.05), (90, 1.2, 2.3, 90, 0.12), (100, 5)).T
    assert door.function()(*values) == pytest.approx(doors.opening_force(*values), rel=1e-12)
