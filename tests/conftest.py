"""No test sees or changes the records of whoever runs it, nor what another test has kept."""

import itertools

import pytest
from empty_record import empty_record

from helpers.model.site import demo_sites, read_site
from helpers.studies.kept_file import FOLDER_VARIABLE
from helpers.studies.record import Design

FOLDER, NUMBERS = empty_record(), itertools.count()


@pytest.fixture(autouse=True)
def _records_of_its_own(monkeypatch):
    """A folder for each test, made only where something is kept; notebooks keep the session's, which stays empty."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(FOLDER / f"of-test-{next(NUMBERS)}"))


@pytest.fixture(scope="session")
def larkfield_design():
    """The design of Larkfield House as its file says; its studies are made once, when first looked at."""
    return Design.of(read_site(demo_sites()["Larkfield House"]))
