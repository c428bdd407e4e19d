"""Halving and closing in find the one change of sides, element by element."""

import numpy as np
import pytest

from helpers.formulas.kernels import close_in, halve


def test_each_element_finds_its_own_root():
    target = np.array([[0.1, 2.0], [9.0, 30.0]])
    found = halve(lambda x: x**3 < target, np.zeros((2, 2)), np.full((2, 2), 4.0))
    assert found**3 == pytest.approx(target, rel=1e-14)


def test_without_a_change_it_leans_to_one_end():
    assert halve(lambda x: x < np.inf, np.array(1.0), np.array(2.0)) == pytest.approx(2.0)
    assert halve(lambda x: x > np.inf, np.array(1.0), np.array(2.0)) == pytest.approx(1.0)


def test_closing_in_finds_what_halving_finds_with_few_looks():
    target, looks = np.array([[0.1, 2.0], [9.0, 30.0]]), []

    def height(x):
        looks.append(x)
        return x**3 - target

    found = close_in(height, np.zeros((2, 2)), np.full((2, 2), 4.0))
    np.testing.assert_allclose(found, halve(lambda x: x**3 < target, np.zeros((2, 2)), np.full((2, 2), 4.0)), rtol=1e-14)
    assert len(looks) < 45
    looks.clear()
    close_in(height, 0.99 * found, 1.01 * found)
    assert len(looks) < 12


@pytest.mark.parametrize(
    "height", [lambda x: np.where(x < 1.3, -1.0, 1e9), lambda x: np.where(x < 1.3, -1e9, 1e-9), lambda x: (x - 1.3) ** 9]
)
def test_closing_in_comes_to_a_jump_and_to_a_flat_root_too(height):
    assert close_in(height, np.array(1.0), np.array(2.0)) == pytest.approx(1.3, rel=1e-12)


def test_closing_in_without_a_change_stays_low():
    assert close_in(lambda x: x + 1.0, np.array(1.0), np.array(2.0)) == 1.0
    assert close_in(lambda x: -x, np.array([1.0, 3.0]), np.array([2.0, 4.0])).tolist() == [1.0, 3.0]
