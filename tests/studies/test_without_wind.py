"""Doors with wind and without: the same as a site file without wind, and what wind alone decides is said."""

from dataclasses import replace

import numpy as np
import pytest
from demo_designs import design_of, site_of

from helpers.model.air.tower import Tower
from helpers.record.sections.taken import supply_points
from helpers.studies.cases import AFTER_AN_HOUR
from helpers.studies.readings.rules import compare_rules
from helpers.studies.readings.without_wind import without_wind
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def larkfield():
    design = design_of("Larkfield House")
    return without_wind(design.tower, design.standing.window, design.own)


def test_without_wind_is_what_a_site_file_without_wind_has(larkfield):
    design = design_of("Larkfield House")
    calm = design.site.with_changes(weather={name: {"wind_speed_m_s": 0.0} for name in design.site.weather})
    places = [place for place, case in enumerate(design.cases) if case.stair != AFTER_AN_HOUR]  # whose stair air hangs on the wind
    cases = [design.cases[place] for place in places]
    found = compare_rules(Tower(calm), design.standing.window, cases, rules=(design.own.rule,)).results[0]
    assert np.allclose(larkfield.still.door_dp_pa[places], found.door_dp_pa, atol=0.02)
    assert not np.allclose(larkfield.windy.door_dp_pa[places], found.door_dp_pa, atol=0.5)


def test_a_case_that_wind_alone_holds_is_named_found_and_no_pass(larkfield):
    decided = [larkfield.windy.cases[place].name for place in larkfield.decided]
    assert "winter, doors shut" in decided
    (found,) = larkfield.findings()
    assert found.severity == "wrong"  # calm air is a case of every weather, and this one has to be held
    assert "winter, doors shut: " in written_out(found).figure
    table, place = larkfield.table(), [case.name for case in larkfield.windy.cases].index("winter, doors shut")
    assert larkfield.windy.status(place) == "attention"
    assert table.states[place] == larkfield.still.status(place) == "wrong"
    assert all(table.states[place] != "good" for place in larkfield.decided)
    assert "Wind decides winter, doors shut (CHECK with wind, FAIL without)" in written_out(larkfield.said())


def test_where_nothing_differs_wind_decides_nothing(larkfield):
    same = replace(larkfield, still=larkfield.windy)
    assert same.decided == ()
    assert list(same.findings()) == []
    assert "Wind decides no case" in written_out(same.said())


def test_supply_points_that_stand_far_apart_are_marked_and_a_single_one_is_judged_by_height():
    tower, single = (written_out(supply_points(site_of(name))) for name in ("Northgate Tower", "Larkfield House"))
    assert [row[0] for row in tower.rows] == ["storey 4", "storey 20", "storey 36"]
    assert [row[2].partition(",")[0] for row in tower.rows] == ["–", "16 storeys", "16 storeys"]
    assert "storey 12: 8 storeys" in tower.rows[0][3]
    assert set(tower.states) == {"attention"}
    assert set(single.states) == {""}
    near = site_of("Northgate Tower")
    levels = [storey.level for storey in near.storeys][::6]
    near = near.with_changes(supplies=[{"level": level, "share": 1 / len(levels)} for level in levels])
    assert set(supply_points(near).states) <= {"", "attention"}
    assert "" in supply_points(near).states
