"""Larkfield's day in May, and the building fitted to it."""

import pytest

from helpers.model.site.file import demo_sites, read_site
from helpers.model.test_day import read_test_day
from helpers.studies.measured.drawn import DAYS_FOLDER
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import readings_of


@pytest.fixture(scope="module")
def day():
    return readings_of(read_site(demo_sites()["Larkfield House"]), read_test_day(DAYS_FOLDER / "larkfield_house_may.toml"))


@pytest.fixture(scope="module")
def sound(day):
    return fit_building(day)
