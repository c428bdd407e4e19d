"""Halving finds the one change of sides, element by element."""

import numpy as np
import pytest

from helpers.formulas.halving import halve


def test_each_element_finds_its_own_root():
    target = np.array([[0.1, 2.0], [9.0, 30.0]])
    found = halve(lambda x: x**3 < target, np.zeros((2, 2)), np.full((2, 2), 4.0))
    assert found**3 == pytest.approx(target, rel=1e-14)


def test_without_a_change_it_leans_to_one_end():
    assert halve(lambda x: x < np.inf, np.array(1.0), np.array(2.0)) == pytest.approx(2.0)
    assert halve(lambda x: x > np.inf, np.array(1.0), np.array(2.0)) == pytest.approx(1.0)
