"""Whoever changes what all tests share is told so."""

from dataclasses import replace

import demo_designs
import numpy as np
import pytest
from demo_designs import design_of, look, own_copy, site_of

NAME = "Larkfield House"


def test_a_shared_study_that_is_put_in_place_of_another_is_noticed():
    design = design_of(NAME)
    window = design.window
    look()
    vars(design)["window"] = replace(window)
    with pytest.raises(AssertionError, match="window of the shared design of Larkfield House was changed"):
        look()
    vars(design)["window"] = window
    look()


def test_a_shared_array_cannot_be_written_into():
    comparison = design_of(NAME).rules
    look()
    with pytest.raises(ValueError, match="read-only"):
        comparison.results[0].margin_pa[0] = 0.0


def test_a_shared_site_that_is_changed_is_noticed(monkeypatch):
    design_of(NAME)
    monkeypatch.setitem(demo_designs._SEEN, NAME, ("another site", {}))
    with pytest.raises(AssertionError, match="the site of the shared design of Larkfield House was changed"):
        look()


def test_a_copy_of_ones_own_has_the_studies_that_were_asked_for_and_leaves_the_shared_one_alone():
    copy = own_copy(NAME, "window", drawn=7, rules="mine")
    assert (copy.drawn, copy.rules) == (7, "mine")
    assert copy.window is design_of(NAME).window
    assert design_of(NAME).drawn != 7
    assert isinstance(design_of(NAME).rules.results[0].margin_pa, np.ndarray)
    assert copy.site == site_of(NAME)
    look()
