"""No test sees or changes the records of whoever runs it, nor what another test has kept."""

import itertools

import pytest
from empty_record import empty_record

from helpers.studies.kept_file import FOLDER_VARIABLE

FOLDER, NUMBERS = empty_record(), itertools.count()


@pytest.fixture(autouse=True)
def _records_of_its_own(monkeypatch):
    """A folder for each test, made only where something is kept; notebooks keep the session's, which stays empty."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(FOLDER / f"of-test-{next(NUMBERS)}"))
