"""Designs whose papers are looked at: the demo stairs, one on which all is laid down, and their papers, made once."""

from functools import cache

import pytest
from demo_designs import LIFT, SEVERAL_DAMPERS, beside, design_for, design_of, site_of
from shared_store import made_once

from helpers.record.papers.folder import Folder
from helpers.record.papers.quoted import Quoted

ALL_LAID_DOWN = "all laid down"


@cache
def _folder(name, units):
    return made_once(lambda: Folder.of(_design(name, units)), "papers", _site(name).model_dump_json(), units)


def _site(name):
    return site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS) if name == ALL_LAID_DOWN else site_of(name)


@cache
def _design(name, units):
    made = design_for(_site(name)) if name == ALL_LAID_DOWN else design_of(name)
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


@pytest.fixture(scope="session")
def two_fans():
    """That stair with a second fan."""
    return Quoted(beside(_design(ALL_LAID_DOWN, "Pa"), second_fan={"duty": "standby", "damper_travel_s": 5.0}))


@pytest.fixture(scope="session")
def two_shafts():
    """That stair with a lift shaft that has a fan of its own."""
    design = _design(ALL_LAID_DOWN, "Pa")
    copy = beside(design, second_shaft=LIFT)
    copy._sections = {
        key: section for key, section in design._sections.items() if "fan" not in (key, *key) and "settings" not in (key, *key)
    }
    return Quoted(copy)


@pytest.fixture(scope="session")
def every_stair(two_fans, two_shafts):
    """{name: what is quoted of it} of stairs of each kind: one on which nothing holds, one fan, two fans, two shafts."""
    return {
        "nothing holds": Quoted(_design("Larkfield House", "Pa")),
        "one fan": Quoted(_design(ALL_LAID_DOWN, "Pa")),
        "two fans": two_fans,
        "two shafts": two_shafts,
    }
