"""Air that must hold smoke back at an open door: beside the speed that is there, judged only where the site states a fire."""

import pytest

from helpers.formulas import doors
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import criteria_of
from helpers.studies.cases import Case
from helpers.studies.doors.air_release import air_release
from helpers.studies.doors.critical import critical_speeds
from helpers.studies.doors.window import pressure_window
from helpers.units.said import written_out

CASES = (Case("shut"), Case("open", open_doors=(2,)))
SETS = criteria_of("nfpa92"), criteria_of("en12101_6_2005")


def found(site, cases=CASES):
    return critical_speeds(site, air_release(Tower(site), pressure_window(site), cases, SETS))


def test_where_no_fire_is_stated_both_equations_are_told_and_nothing_is_judged(stair):
    study = found(stair())
    assert {row.by for row in study.rows} == {"heat", "gas"}
    assert {study.state(row) for row in study.rows} == {""}
    assert study.asked_m_s is None
    assert list(study.findings()) == []
    assert "disagree" in study.note()


def test_of_a_stated_fire_the_faster_counts_and_slow_air_is_looked_at(stair):
    site = stair(design={"fire_heat_w": 500e3, "fire_gas_c": 150.0})
    study = found(site)
    heat, gas = (row.speed_m_s for row in study.rows)
    assert heat == pytest.approx(doors.critical_velocity(500e3, 0.9144, 21.0))
    assert gas == pytest.approx(doors.opposed_flow_velocity(2.1336, 150.0, 21.0))
    assert study.asked_m_s == max(heat, gas)
    assert {study.state(row) for row in study.rows} == {"attention"}
    (finding,) = study.findings()
    assert "smoke back" in finding.what


@pytest.mark.parametrize(("by", "counted"), [("heat", ["heat"]), ("gas", ["gas"]), ("both", ["heat", "gas"])])
def test_which_equation_counts_is_for_whoever_writes_the_file(stair, by, counted):
    study = found(stair(design={"fire_heat_w": 500e3, "fire_gas_c": 150.0, "smoke_held_by": by}))
    assert [row.by for row in study.rows if row.counts] == counted


def test_fast_air_is_no_pass_since_the_equations_are_from_memory(stair):
    site = stair(release={"kind": "vent", "area_m2": 4.0}, design={"fire_heat_w": 1e3})
    study = found(site)
    assert study.least_m_s > study.asked_m_s
    assert [study.state(row) for row in study.rows] == ["attention"]
    assert list(study.findings()) == []
    assert any("fast enough by this equation" in cell for cell in written_out(study.table()).rows[0])


def test_an_equation_is_told_not_to_be_used_beyond_its_limit(stair):
    study = found(stair(design={"fire_gas_c": 900.0}))
    assert not study.rows[0].usable
    assert "NFPA 92 does not use it" in written_out(study.table()).rows[0][2]


def test_the_air_release_that_is_stated_counts(stair):
    with_, without = (found(stair(release=release)) for release in ({"kind": "vent", "area_m2": 1.0}, None))
    assert with_.least_m_s > without.least_m_s


def test_no_open_door_is_not_judged(stair):
    study = found(stair(design={"fire_heat_w": 500e3}), CASES[:1])
    assert study.least_m_s is None
    assert [study.state(row) for row in study.rows] == ["open"]
