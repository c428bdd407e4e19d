"""One pressure window for all that is judged, the stricter of site file and standard: full speed, door event, failures and year."""

from functools import cache

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.model.loop.run import settings_of
from helpers.model.site.criteria import criteria_of
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.cases import conditions_of, usual_cases
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.full_speed import full_speed
from helpers.studies.readings.ways_compared import FailureAir
from helpers.studies.tuning.door_tests import DoorBench

EUROPE = {"standard": "en12101_6_2005", "doors": {"flat landing": {"closer_force_n": 20.0, "minimum_dp_pa": 12.5}}}


@cache
def european():
    return read_site(demo_sites()["Tannery Row"]).with_changes(**EUROPE)


@cache
def most_pa():
    """By hand: 100 N at the handle, 20 N of them for the closer; F = F_c + dp W A / (2 (W - d))."""
    door = european().doors["flat landing"]
    return (100.0 - 20.0) * 2 * (door.width_m - door.handle_to_edge_m) / (door.width_m**2 * door.height_m)


def test_full_speed_is_judged_by_the_hundred_newtons_of_the_standard():
    site = european().with_changes(stair={"relief": None}, fan={"smoke_highest_speed_hz": 50.0})
    tower, cases = Tower(site), [case for case in usual_cases(site) if case.shut][:1]
    found = full_speed(tower, pressure_window(site), cases, np.full(len(cases), 20.0), 30.0)
    assert found.limit_pa == pytest.approx(most_pa())


def test_the_door_event_is_judged_by_it_too():
    bench = DoorBench(Tower(european()), settings_of(european()))
    assert bench.force_limit_n == criteria_of("en12101_6_2005").motion_force.limit == 100.0


def test_failures_ask_for_the_standards_fifty_pascals_and_for_the_files_while_a_door_stands_open():
    site = european()
    cases = usual_cases(site)
    air = FailureAir(Tower(site), pressure_window(site), cases)
    stairs = [number for number, column in enumerate(air.doors.columns) if column.use == "stair door"]
    place = np.zeros(len(cases))
    above = air.rooms(place)[0][:, stairs]
    asked = air.at(air.doors_pa, place)[:, stairs] - above
    shut = np.array([case.shut for case in cases])
    assert asked[shut] == pytest.approx(50.0)
    opened = asked[~shut]
    assert opened[np.isfinite(opened)] == pytest.approx(12.5)


def test_the_columns_of_year_and_placement_ask_for_the_same():
    site = european()
    tower, columns = Tower(site), DoorColumns(Tower(site), pressure_window(site))
    shut, opened = (columns.standing_open(conditions_of(site, [case])) for case in (usual_cases(site)[0], usual_cases(site)[3]))
    assert not shut.any()
    assert opened.any()
    stair = np.array([column.use == "stair door" for column in columns.columns])
    zero = np.zeros(len(columns.columns))
    assert columns.rooms(zero, shut[0])[0][stair] == pytest.approx(-50.0)
    assert columns.rooms(zero, opened[0])[0][stair & ~opened[0]] == pytest.approx(-12.5)
    assert tower.site is site
