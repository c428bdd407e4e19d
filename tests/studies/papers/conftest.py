"""Designs whose papers are looked at: the demo stairs, one on which all is laid down, and their papers, made once."""

from functools import cache

import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, design_of, site_of

from helpers.record.papers.folder import Folder


@cache
def _folder(name, units):
    return Folder.of(_design(name, units))


@cache
def _design(name, units):
    laid_down = name == "all laid down"
    made = design_for(site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS)) if laid_down else design_of(name)
    return made if units == made.units else _in_other_units(made, units)


def _in_other_units(design, units):
    """The same design with all its studies, read in other units."""
    other = design.but(units=units)
    made = {name: value for name, value in vars(design).items() if name not in vars(other) or name == "_marked"}
    vars(other).update(made)
    return other


@pytest.fixture(scope="session")
def folder_of():
    """The papers of a site by name, in units."""
    return lambda name, units="Pa": _folder(name, units)


@pytest.fixture(scope="session")
def design_named():
    """The design behind them."""
    return lambda name, units="Pa": _design(name, units)
