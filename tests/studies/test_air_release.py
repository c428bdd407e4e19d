"""Air release of the fire floor in the air network, and the free area that a wanted speed through the open door needs."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from helpers.formulas import doors as door_formulas
from helpers.model.air.conditions import Conditions
from helpers.model.air.release import FOUND, NONE_NEEDED, NOT_REACHED, STEP_M2, door_speeds, free_area_needed, release_open
from helpers.model.air.tower import Tower
from helpers.model.site.criteria import criteria_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import read_site_text
from helpers.studies.cases import Case, conditions_of, usual_cases
from helpers.studies.doors.air_release import air_release
from helpers.studies.doors.open import door_speed, open_doors
from helpers.studies.doors.window import pressure_window
from helpers.units.said import written_out

VENT = {"kind": "vent", "area_m2": 0.5}
LARKFIELD_KEYS = """
[release]
kind = "extract"
area = "0.5 m2"
duct_loss = "30 Pa"
duct_loss_flow = "2 m3/s"
levels = [2, 3]
"""


@pytest.fixture
def one_room(stair):
    """A stair with one storey whose room has no way out but the release: doorway and release in series, and nothing else."""
    return stair(1, storeys=[{"facade_m2": (0.0,) * 4, "stair_outside_wall_m2": 0.0}], weather={"winter": {"outdoor_c": 21.0}},
                 transmitters=[{"level": 0, "reference": "outdoors"}, {"level": 0, "reference": "outdoors"}])  # fmt: skip


def opened(site, weather="winter", level=2, **changes):
    return Conditions.of(site, weather, open_doors=(level,), **changes)


def test_one_room_needs_the_area_of_two_openings_in_series(one_room):
    tower, conditions = Tower(one_room), opened(one_room, level=0)
    door, wanted = one_room.doors["stair"], np.array([0.75, 1.0, 1.5])
    found = free_area_needed(tower, Conditions.joined([conditions] * 3), 0, wanted, speed_hz=30.0)
    assert list(found.state) == [FOUND] * 3
    for area, speed, want in zip(found.area_m2, found.speed_m_s, wanted, strict=True):
        air = tower.solve(release_open(conditions, [0], [area]), 30.0)
        by_hand = door_formulas.release_area(
            speed, air.stair_pa[0, 0], door.width_m, door.height_m, door.flow_area_m2, one_room.leakage.discharge_coefficient,
        )  # fmt: skip
        # The stair wall leaks beside the doorway, and the density is that of 21 degC: both under a percent or two.
        assert area == pytest.approx(by_hand, rel=0.03)
        assert want <= speed < want * 1.1


def test_the_area_is_that_of_scipys_root_finder_and_a_step_less_is_not_enough(stair):
    site = stair()
    tower, conditions = Tower(site), opened(site)
    found = free_area_needed(tower, conditions, 2, 0.75)

    def short(area):
        rows = release_open(conditions, [2], [area])
        return door_speeds(tower, tower.hold(rows).air, rows)[0, 2] - 0.75

    exact = brentq(short, 0.001, 10.0, xtol=1e-6)
    assert exact <= found.area_m2[0] <= exact + 1.1 * STEP_M2
    assert short(found.area_m2[0]) >= 0 > short(found.area_m2[0] - 2 * STEP_M2)


def test_many_conditions_at_once_need_what_each_needs_by_itself(stair):
    site = stair()
    tower = Tower(site)
    several = [opened(site, weather, level) for weather in site.weather for level in (1, 4)]
    storeys = [1, 4] * 3
    together = free_area_needed(tower, Conditions.joined(several), storeys, 0.75)
    alone = [free_area_needed(tower, one, storey, 0.75).area_m2[0] for one, storey in zip(several, storeys, strict=True)]
    assert together.area_m2 == pytest.approx(alone, abs=1.5 * STEP_M2)


def test_what_no_area_does_is_not_called_found(stair):
    site = stair(fan={"flows_m3_s": (0.0, 0.3, 0.6)})
    found = free_area_needed(Tower(site), opened(site), 2, 2.0)
    assert found.state[0] == NOT_REACHED
    assert np.isnan(found.area_m2[0])
    assert found.speed_m_s[0] < 2.0
    assert not found.held[0]


def test_a_floor_whose_windows_stand_open_needs_none(stair):
    site = stair(storeys=[{}, {}, {"extra_leak_m2": 3.0}, {}, {}, {}])
    found = free_area_needed(Tower(site), opened(site), 2, 0.75)
    assert (found.state[0], found.area_m2[0]) == (NONE_NEEDED, 0.0)
    assert found.without_m_s[0] >= 0.75


def test_the_door_must_stand_open(stair):
    site = stair()
    with pytest.raises(ValueError, match="storeys must name storeys whose stair door stands open"):
        free_area_needed(Tower(site), opened(site), 3, 0.75)


def test_the_speed_is_the_one_that_the_study_of_open_doors_tells(larkfield):
    case = Case("open", open_doors=(6, 7))
    conditions, tower = conditions_of(larkfield, [case]), Tower(larkfield)
    held = tower.hold(conditions)
    for level in (6, 7):
        told = door_speed(tower, held.air, conditions, 0, level)
        assert door_speeds(tower, held.air, conditions)[0, tower.storey(level)] == pytest.approx(told, rel=1e-9)


def test_a_shut_release_is_no_opening_of_the_network(stair):
    site, plain = stair(release=VENT), stair()
    shut, bare = (Tower(one).network(Conditions.of(one), [0.5]).openings for one in (site, plain))
    assert len(shut) == len(bare)
    wide = opened(site)  # with the door of its floor open it stands open, and is one opening more
    assert wide.release_m2.sum() == 0.5
    assert len(Tower(site).network(wide, [0.5]).openings) == len(bare) + 1
    airs = [Tower(one).solve(Conditions.of(one), 30.0).stair_pa for one in (site, plain)]
    assert airs[0] == pytest.approx(airs[1], rel=1e-12)


def test_what_goes_out_through_the_release_came_in_through_the_door(one_room):
    site = one_room.with_changes(release=VENT)
    rows = release_open(opened(site, level=0), [0], [0.5])
    air = Tower(site).solve(rows, 30.0)
    cd, floor = site.leakage.discharge_coefficient, air.floor_pa[0, 0]
    out = cd * 0.5 * np.sqrt(2 * floor / 1.2)
    door = site.doors["stair"]
    through = door_speeds(Tower(site), air, rows)[0, 0] * door.width_m * door.height_m
    assert out == pytest.approx(through, rel=0.03)  # the wall between stair and room leaks besides


def test_a_vent_that_looks_into_the_wind_needs_more_than_one_in_its_lee_and_no_bearing_is_the_hardest(stair):
    windy = {"winter": {"wind_speed_m_s": 8.0, "wind_from_deg": 270.0}}

    def needed(**more):
        site = stair(weather=windy, release=VENT | more)
        return free_area_needed(Tower(site), opened(site), 2, 1.5).area_m2[0]

    assert needed(faces_deg=270.0) > needed(faces_deg=90.0)
    assert needed() == needed(faces_deg=270.0)


def test_an_extract_needs_more_where_its_duct_costs_more_and_the_warm_duct_draws_in_winter(stair):
    def needed(loss, weather="winter"):
        site = stair(release={"kind": "extract", "area_m2": 0.5, "duct_loss_pa": loss, "duct_loss_flow_m3_s": 2.0})
        return free_area_needed(Tower(site), opened(site, weather), 2, 0.75).area_m2[0]

    assert needed(30.0) > needed(3.0)
    assert needed(3.0, "winter") < needed(3.0, "summer")
    no_stack = stair(release={"kind": "extract", "area_m2": 0.5, "duct_loss_pa": 30.0, "duct_loss_flow_m3_s": 2.0})
    assert no_stack.release.duct_area_m2 == pytest.approx(2.0 / np.sqrt(2 * 30.0 / 1.2))


@pytest.mark.parametrize(
    ("release", "told"),
    [
        ({"kind": "vent"}, "area: is missing"),
        ({"kind": "none", "area_m2": 0.5}, "area: must be left out"),
        ({"kind": "extract", "area_m2": 0.5}, "duct_loss: is missing"),
        (VENT | {"duct_loss_pa": 30.0}, "duct_loss: must be left out"),
        ({"kind": "extract", "area_m2": 0.5, "duct_loss_pa": 3.0, "duct_loss_flow_m3_s": 2.0, "faces_deg": 0.0}, "faces: must be left out"),
        (VENT | {"levels": (99,)}, "must be storeys from 0 to 5; got 99"),
        (VENT | {"levels": (2, 2)}, "must name each storey once"),
        ({"kind": "chimney", "area_m2": 1.0}, "kind"),
    ],
)  # fmt: skip
def test_a_release_that_cannot_be_is_refused_with_a_sentence(stair, release, told):
    with pytest.raises(SiteFileError, match=told):
        stair(release=release)


def test_the_keys_of_the_site_file_are_read():
    from helpers.model.site.file import demo_sites

    text = demo_sites()["Larkfield House"].read_text(encoding="utf-8")
    given = read_site_text(text + LARKFIELD_KEYS).release
    assert (given.kind, given.free_m2, given.duct_loss_pa, given.levels) == ("extract", 0.5, 30.0, (2, 3))
    assert (given.on(2), given.on(4)) == (True, False)
    assert read_site_text(text).release is None


def test_by_hand_a_doorway_that_takes_all_of_the_pressure_leaves_nothing_for_a_release():
    assert door_formulas.release_area(5.0, 10.0, 0.9, 2.1, 1.89, 0.65) == np.inf
    # Back again: both openings in series carry the flow that was asked for.
    area = door_formulas.release_area(1.0, 20.0, 0.9, 2.1, 1.89, 0.6)
    series = 1 / np.sqrt((0.65 * 1.89) ** -2 + (0.6 * area) ** -2)
    assert series * np.sqrt(2 * 20.0 / 1.2) == pytest.approx(1.0 * 0.9 * 2.1)
    with pytest.raises(ValueError, match="stair_pa"):
        door_formulas.release_area(1.0, 0.0, 0.9, 2.1, 1.89, 0.6)


EUROPE, US, OF_2022 = criteria_of("en12101_6_2005"), criteria_of("nfpa92"), criteria_of("en12101_13_2022")
CASES = (Case("shut"), Case("open", open_doors=(2, 3)))


def studied(site, *sets, cases=CASES):
    return air_release(Tower(site), pressure_window(site), cases, sets)


def test_every_storey_with_an_open_door_is_the_fire_floor_in_turn_and_both_speeds_of_europe_are_wanted(larkfield):
    found = studied(larkfield, US, EUROPE, cases=usual_cases(larkfield))
    assert [one.speed_m_s for one in found.wanted] == [0.75, 2.0]
    assert {one.whose for one in found.wanted} == {"EN 12101-6"}
    assert {row.level for row in found.rows} == {6, 7}
    assert all(row.with_m_s is None for row in found.rows)
    assert any("NFPA 92 asks for no speed" in one for one in found.told)
    pair = next(row for row in found.rows if row.case == "winter, stair doors 6 and 7 open" and row.level == 6)
    assert 0.15 < pair.without_m_s < 0.25
    assert found.needed[0].area_m2[pair.place] < found.needed[1].area_m2[pair.place]
    table = written_out(found.table())
    assert "none stated here" in table.rows[0]
    assert [row[:2] for row in table.rows] == [
        (f"winter, stair doors 6 and 7 open{exit_}", level) for exit_ in ("", ", final exit 0 open") for level in ("6", "7")
    ]
    assert any(cell.startswith("not reached") for row in table.rows for cell in row)  # 2 m/s with the final exit open, after an hour
    assert list(found.findings()) == []


def test_the_area_that_is_told_gives_the_speed_that_it_is_told_for(stair):
    site = stair(standard="en12101_6_2005")
    found = studied(site, EUROPE, US)
    row = found.rows[0]
    built = site.with_changes(release=VENT | {"area_m2": float(found.needed[0].area_m2[0]), "levels": (2,)})
    rows = open_doors(Tower(built), pressure_window(built), CASES, Tower(built).hold(conditions_of(built, CASES))).rows
    fire, other = ({one.level: one for one in rows}[level] for level in (2, 3))
    assert 0.75 <= fire.velocity_m_s < 0.8
    assert row.without_m_s < 0.75
    assert (fire.asked, other.asked) == (True, False)


def test_a_speed_that_is_reached_while_the_fan_does_not_hold_its_set_point_is_no_pass(stair):
    found = studied(stair(standard="en12101_6_2005", airflow_class="C", release=VENT | {"area_m2": 3.0}), EUROPE)
    row = replace(found.rows[0], with_m_s=2.5, held=True)
    assert [found.state(one) for one in (row, replace(row, held=False))] == ["good", "attention"]


def test_a_speed_is_asked_of_the_fire_floors_door_and_of_no_other_that_stands_open(stair):
    site = stair(standard="en12101_6_2005", airflow_class="C", release=VENT)
    tower, window = Tower(site), pressure_window(site)
    found = open_doors(tower, window, CASES, tower.hold(conditions_of(site, CASES)))
    assert {row.level: found.state(row) for row in found.rows} == {2: "good", 3: ""}
    without = site.with_changes(release={"kind": "none", "area_m2": None})
    tower = Tower(without)
    found = open_doors(tower, window, CASES, tower.hold(conditions_of(without, CASES)))
    assert {row.level: found.state(row) for row in found.rows} == {2: "wrong", 3: "wrong"}


def test_too_small_a_release_is_a_fail_where_a_speed_is_asked_and_only_looked_at_where_none_is(stair):
    small = {"kind": "vent", "area_m2": 0.02}
    for standard, sets, state in (("en12101_6_2005", (EUROPE, US), "wrong"), ("nfpa92", (US, EUROPE), "attention")):
        found = studied(stair(standard=standard, release=small), *sets)
        assert {found.state(row) for row in found.rows} == {state}
        assert next(found.findings()).severity == state


def test_with_blanks_no_release_passes(stair):
    found = studied(stair(standard="en12101_13_2022", release={"kind": "vent", "area_m2": 3.0}), OF_2022, US)
    assert {found.state(row) for row in found.rows} == {"open"}
    assert any("blanks" in one for one in found.told)


def test_an_open_release_puts_more_on_the_shut_door_of_its_floor_and_past_the_limit_is_no_pass(stair):
    # A tight facade: the floor takes most of the stair's pressure until its release opens.
    site = stair(release={"kind": "vent", "area_m2": 2.0}, leakage={"edition": "ashrae_1999", "exterior_wall": "tight"},
                 doors={"stair": {"closer_force_n": 100.0}})  # fmt: skip
    found = studied(site, US, EUROPE)
    assert found.shut.dp_pa > found.shut.alone_pa
    assert found.shut.level == found.shut.fire
    assert found.shut.room_pa < 0
    (finding,) = [one for one in found.findings() if "shut stair door" in one.what]
    puts = "puts" if found.shut.alone_room_pa >= 0 else "leaves"
    assert (finding.severity, finding.what) == ("wrong", f"An open air release {puts} a shut stair door out of its window")


def test_a_site_without_open_doors_has_no_release_to_size(stair):
    found = studied(stair(), US, EUROPE, cases=(Case("shut"),))
    assert (found.rows, found.shut, list(found.findings())) == ((), None, [])
