"""No test sees or changes the records of whoever runs it, nor what another test has kept, nor the designs that all of them look at."""

import itertools
import sys

import demo_designs
import pytest
from empty_record import empty_record
from hypothesis import settings

from helpers.model import found_once
from helpers.record import every_case
from helpers.record.review import kinds
from helpers.teaching.store import FOLDER_VARIABLE
from helpers.units.said import has_mark

# What is drawn is the same each run, and nothing is timed on a machine that does other things besides.
settings.register_profile("same each run", derandomize=True, deadline=None)
settings.load_profile("same each run")
# Tests go to and fro between a sound strategy and changed ones, all on the same few stairs: more is kept for them than for a reader.
assert kinds.MOST_KEPT < 60
kinds.MOST_KEPT = 60
found_once.MOST_KEPT_BYTES = 250_000_000
# A review looks at the record that the other tests of its worker look at, and so does a panel.
kinds.Design = every_case.Design = demo_designs.design_as_filed

FOLDER, NUMBERS = empty_record(), itertools.count()


@pytest.fixture(autouse=True)
def _records_of_its_own(monkeypatch):
    """A folder for each test, made only where something is kept; notebooks keep the session's, which stays empty."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(FOLDER / f"of-test-{next(NUMBERS)}"))


@pytest.fixture(autouse=True)
def _designs_are_for_looking_at():
    """What all tests share is as it was after each of them."""
    yield
    demo_designs.look()


@pytest.fixture(autouse=True)
def _what_a_test_shows_listens_to_the_unit_switch_no_longer_than_it_runs():
    """Else each change of the units draws the panels of all tests before it anew. What a fixture of the file has made goes on listening."""
    controls = sys.modules.get("helpers.widgets.controls")
    listeners, switches = ([*controls.UNITS._listeners], [*controls.UNITS._switches]) if controls else ([], [])
    yield
    if controls := sys.modules.get("helpers.widgets.controls"):
        controls.UNITS._listeners, controls.UNITS._switches = listeners, switches


@pytest.fixture(scope="module", autouse=True)
def _no_figure_waits_for_its_system():
    """What stands in a live page has been written out."""
    yield
    if "ipywidgets" in sys.modules:
        texts = [getattr(widget, "value", "") for widget in sys.modules["ipywidgets"].widgets.widget._instances.values()]
        assert not [text for text in texts if isinstance(text, str) and has_mark(text)]


@pytest.fixture(scope="session")
def larkfield_design():
    """The design of Larkfield House as its file says; its studies are made once, when first looked at, and are for looking at."""
    return demo_designs.design_of("Larkfield House")


@pytest.fixture(scope="session")
def tannery_design():
    """The design of Tannery Row, likewise."""
    return demo_designs.design_of("Tannery Row")


@pytest.fixture(scope="session")
def northgate_design():
    """The design of Northgate Tower, likewise."""
    return demo_designs.design_of("Northgate Tower")
