"""A fan at one speed with a relief damper: least and most at both ends of the stair, its air warm and cold, blade and wind."""

from types import SimpleNamespace

import numpy as np
import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, site_of

from helpers.model.air.tower import Tower
from helpers.model.sweep import NoAnswerError
from helpers.record.board import _damper, board_of
from helpers.record.settings.schedule import settings_schedule
from helpers.studies.cases import Case, conditions_of
from helpers.studies.commissioning.steps.plant import plant_tests
from helpers.studies.doors.window import handle_force_n, pressure_window
from helpers.studies.duty.full_speed import full_speed
from helpers.studies.duty.relief_damper import BLADE_HYSTERESIS, blades, cases_tried, fixed_speed, one_blade, relief_said, smallest_damper
from helpers.studies.duty.several_dampers import damper_said, several_dampers
from helpers.studies.readings.rules import allowed_pressures
from helpers.studies.readings.ways_compared import FailureAir
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def larkfield_air(larkfield):
    return Tower(larkfield), pressure_window(larkfield), cases_tried(larkfield, (0, "exit"))


def with_damper(site, level, area_m2, opens_pa=45.0, full_pa=56.0):
    return site.with_changes(
        stair={"relief": {"level": level, "opens_pa": opens_pa, "full_pa": full_pa, "area_m2": area_m2, "leak_area_m2": 0.01 * area_m2}}
    )


def test_every_weather_is_tried_closed_and_open_with_the_stair_as_stated_warm_and_cold(larkfield, larkfield_air):
    cases = larkfield_air[2]
    assert len(cases) == len(set(cases)) == 3 * 2 * len(larkfield.weather)
    assert {case.stair for case in cases} == {"as stated", "first minute", "after an hour"}
    assert {case.open_exits for case in cases} == {(), (0,)}


def test_the_damper_once_called_in_order_leaves_the_bottom_door_short(larkfield, larkfield_air):
    """0.53 m2 on the top storey at 50 Hz: no door too heavy as the file states the stair, too little at the bottom in the first minute."""
    _, window, cases = larkfield_air
    found = fixed_speed(Tower(with_damper(larkfield, 13, 0.53)), window, 50.0, cases)
    assert not found.holds
    assert found.least_pa < window.least_pa - 5
    assert "stair door 0" in found.least_at
    assert "winter" in found.least_at


def test_figures_are_those_of_the_network_in_the_case_that_is_named(larkfield, larkfield_air):
    tower, window, cases = larkfield_air
    found = fixed_speed(tower, window, 40.0, cases)
    air = [one.solve(conditions_of(larkfield, cases), 40.0).door_dp_pa for _, one in blades(tower, conditions_of(larkfield, cases))]
    assert found.most_pa == pytest.approx(np.max(air))
    assert found.least_pa == pytest.approx(np.min(air))


def test_a_blade_that_sticks_and_an_outlet_to_windward_ask_more_of_the_doors(larkfield):
    tower = Tower(with_damper(larkfield, 7, 1.0))
    conditions = conditions_of(larkfield, [Case("winter", "winter")])
    set_, late, early = (one.site.stair.relief.opens_pa for _, one in blades(tower, conditions))
    assert late - set_ > BLADE_HYSTERESIS * set_ > 0
    assert set_ - early > BLADE_HYSTERESIS * set_
    still = larkfield.with_changes(weather={"winter": {"wind_speed_m_s": 0.0}})
    calm = blades(tower, conditions_of(still, [Case("winter", "winter")]))
    assert calm[1][1].site.stair.relief.opens_pa == pytest.approx((1 + BLADE_HYSTERESIS) * set_)


def test_a_site_without_a_damper_has_no_blade(stair):
    tower = Tower(stair())
    assert [name for name, _ in blades(tower, conditions_of(tower.site, [Case("winter", "winter")]))] == [""]


def test_where_a_damper_does_hold_every_door_it_is_the_smallest_that_does(stair):
    """A low stair: little stack effect, so one speed and one damper can do."""
    site = stair(3, weather={"winter": {"outdoor_c": 10.0}})
    tower, window = Tower(site), pressure_window(site)
    cases = tuple(case for case in cases_tried(site, (1, "stair")) if case.shut)
    found = smallest_damper(tower, window, 35.0, cases, 40.0, (0, 1))
    assert found.holds
    assert window.least_pa <= found.least_pa <= found.most_pa <= window.most_pa + 0.1


def test_no_damper_is_sized_where_the_set_point_is_above_what_doors_bear(larkfield, larkfield_air):
    tower, window, cases = larkfield_air
    assert smallest_damper(tower, window, 50.0, cases, window.most_pa + 1, (7,)) is None


def test_the_force_beside_the_most_pressure_is_the_force_at_that_pressure(larkfield, larkfield_air):
    tower, window, cases = larkfield_air
    found = fixed_speed(tower, window, 50.0, cases)
    level = int(found.most_at.split("stair door ")[1].split(",")[0])
    door = larkfield.doors[larkfield.storeys[tower.storey(level)].stair_door]
    assert found.most_n == pytest.approx(handle_force_n(door, found.most_pa))
    assert f"{found.most_pa:.0f} Pa, {found.most_n:.0f} N (stair door {level}" in written_out(found.text())
    lbf = found.most_n / 4.4482216
    assert f"{lbf:.1f} lbf (" in written_out(found.text(), "in. w.c.") or f"{lbf:.0f} lbf (" in written_out(found.text(), "in. w.c.")


def test_a_stair_without_a_most_has_no_force_beside_it(stair):
    site = stair(doors={"stair": {"closer_force_n": None, "handle_to_edge_m": None, "force_limit_n": None}})
    found = fixed_speed(Tower(site), pressure_window(site), 30.0, [Case("winter", "winter")])
    assert found.most_n is None
    assert " N (" not in found.text()


@pytest.fixture(scope="module")
def three_dampers():
    site = site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS)
    tower = Tower(site)
    cases = [Case("summer, doors shut", "summer")]
    return tower, full_speed(tower, allowed_pressures(site), cases, np.array([30.0]), site.control.set_point_pa)


def test_several_dampers_are_told_with_their_number_wherever_one_is_bought_set_or_tested(three_dampers):
    tower, full = three_dampers
    site = tower.site
    duty, standing = SimpleNamespace(full=full, damper_first=()), SimpleNamespace(stands=False)
    design = SimpleNamespace(site=site, duty=duty, standing=standing, failing_judged=None)
    line = next(line for line in settings_schedule(site) if line.name == "relief damper")
    shut = conditions_of(site, [Case("winter, doors shut", "winter")])
    tests = {one.field: one.told for one in plant_tests(tower, allowed_pressures(site), shut, 30.0)}
    board = next(iter(_damper(design)))
    fan = next(value.text for value in full.figures() if value.label == "Relief damper")
    for told in (line.value, board.why, fan, tests["relief damper opens at"]):
        said = written_out(told)
        assert "3 dampers of 0.170 m² each" in said
        assert "one blade and shaft each, each tested by itself, opens from 49 Pa, fully open at 52 Pa" in said
    assert written_out(board.value) == "3 dampers of 0.170 m² each, opens at 49 Pa"
    assert tests["relief damper: blade seen to open and to seat"].startswith("yes for all 3, lifted full way and back")


def test_one_blade_and_one_shaft_are_said_of_one_damper_alone(three_dampers):
    relief = three_dampers[0].site.stair.relief
    assert one_blade(relief) == "one of 3 sticks, nobody looks at it for years"
    assert one_blade(relief.model_copy(update={"count": None})) == "one blade, one shaft, nobody looks at it for years"
    assert "tested by itself" not in relief_said(relief.model_copy(update={"count": None}))


def test_where_none_is_fitted_several_are_tried_of_which_one_may_stick_and_the_worst_is_told():
    """The one that would do in order is no remedy alone: stuck shut it leaves the stair as it is."""
    bare = site_of("Tannery Row").with_changes(stair={"relief": None})
    design = design_for(bare)
    full = design.duty.full
    assert full.damper.holds
    said, found = written_out(full.other_cure()), full.several()
    assert f"stuck shut it leaves a door {-full.room_pa.min():.0f} Pa out" in said
    assert written_out(found.text()) in said
    assert "in its place" not in found.text()
    assert ("nothing tried holds with one stuck" in said) == (not found.holds)
    (line,) = (one for one in board_of(design).buy if one.what == "Relief damper")
    assert line.status != "good"
    assert ("none found of which one may stick" in line.value) == (not found.holds)
    fitted = bare.with_changes(stair={"relief": found.relief.model_dump()})
    rest = several_dampers(FailureAir(Tower(fitted), pressure_window(fitted), design.failing.air.cases), (0.55, 1.82))
    assert rest is None or rest.relief.opens_pa == found.relief.opens_pa


def test_dampers_whose_air_has_no_answer_are_not_offered_and_are_named(monkeypatch):
    own = design_for(site_of("Tannery Row")).failing.air

    class NoneOfTwo(FailureAir):
        def __init__(self, tower, *rest):
            if tower.site.stair.relief.count == 2:
                raise NoAnswerError("speed_hz", "no answer")
            super().__init__(tower, *rest)

    monkeypatch.setattr("helpers.studies.duty.several_dampers.FailureAir", NoneOfTwo)
    found = several_dampers.__wrapped__(own, (0.55, 1.82))
    assert found.relief.count != 2
    assert "the air with 2 of them has no answer at some speed" in written_out(found.text())


EURO = {
    "standard": "en12101_13_2022", "airflow_class": "C", "building_code_adopted": None, "stair": {"relief": {"count": 6}},
    "doors": {"flat landing": {"minimum_dp_pa": 30.0, "force_limit_n": 100.0}, "street": {"force_limit_n": 100.0}},
}  # fmt: skip


@pytest.mark.parametrize("set_point_pa", [35.0, 45.0])
def test_a_damper_that_is_offered_stays_shut_at_the_set_point(set_point_pa):
    """Entered in the file as it is told it does not lift with the doors shut: one that did would be FAIL in the next record."""
    bare = {"stair": {"relief": None}, "fan": {"smoke_highest_speed_hz": None}, "control": {"set_point_pa": set_point_pa}}
    design = design_for(site_of("Tannery Row").with_changes(**bare))
    damper = design.duty.full.damper
    assert damper.holds
    assert not damper.lifts
    ends = {"level": damper.level, "opens_pa": damper.opens_pa, "full_pa": damper.full_pa, "area_m2": damper.area_m2}
    entered = design_for(design.site.with_changes(stair={"relief": ends | {"leak_area_m2": damper.leak_area_m2}}))
    assert entered.standing.set_point_check() == ""


def test_where_none_stays_shut_and_holds_no_damper_is_offered():
    """Stricter doors, and six dampers of which the doors jam with one stuck: one that would hold opens at 40 Pa, and lifts at 35 Pa."""
    design = design_for(site_of("Tannery Row").with_changes(**EURO))
    full = design.duty.full
    assert full.jams
    assert not full.damper.holds
    assert full.damper.opens_pa >= 45
    assert "no relief damper tried holds every door and stays shut at the set point" in full.other_cure()


def test_a_damper_offered_where_some_are_fitted_says_that_it_replaces_them(three_dampers):
    tower, full = three_dampers
    found = fixed_speed(tower, allowed_pressures(tower.site), full.full_hz, [Case("summer, doors shut", "summer")])
    told, bare = (written_out(damper_said(found, fitted, 3.0, lambda: None)) for fitted in (True, False))
    assert "a relief damper of 0.510 m² at storey 3 in place of all that is fitted, opening from 49 Pa to 52 Pa" in told
    assert "in place of" not in bare


def test_a_damper_that_must_lift_at_the_set_point_is_none_to_offer():
    """A set point so near what the doors bear that no setting lies between: it holds every door at full speed and fights the loop."""
    design = design_for(site_of("Tannery Row").with_changes(**EURO))
    site, full = design.site, design.duty.full
    cases = [case for case in design.cases if case.shut]
    tower, window = Tower(site), allowed_pressures(site)
    slow = smallest_damper(tower, window, full.full_hz, cases, site.control.set_point_pa, (3,))
    fast = smallest_damper(tower, window, full.full_hz, cases, site.control.set_point_pa, (3,), asked=[(case, 28.0) for case in cases])
    assert slow.holds
    assert fast.lifts
    assert not fast.holds
    assert "it lifts at the set point with all doors shut" in fast.text()
