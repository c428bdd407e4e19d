import numpy as np
import pytest

from helpers.formulas import air, doors, leakage
from helpers.model import found_once
from helpers.model.air import tower as towers
from helpers.model.air.conditions import Conditions, stair_share
from helpers.model.air.spaces import OnStorey, Outside
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site

LARKFIELD = read_site(demo_sites()["Larkfield House"])
NORTHGATE = read_site(demo_sites()["Northgate Tower"])
TOWER = Tower(LARKFIELD)


def _winter(**changes):
    return Conditions.of(LARKFIELD, "winter", **changes)


def test_all_weathers_and_doors_are_solved_in_one_call_and_in_chunks_alike(monkeypatch):
    conditions = Conditions.joined(
        Conditions.of(LARKFIELD, weather, open_doors=doors) for weather in LARKFIELD.weather for doors in ((), (0, 5))
    )
    whole = TOWER.solve(conditions, 30.0)
    monkeypatch.setattr("helpers.model.air.tower.CELLS_AT_ONCE", 20)
    parts = TOWER.solve(conditions, 30.0)
    assert whole.converged.all()
    assert whole.stair_pa == pytest.approx(parts.stair_pa, abs=1e-5)
    assert whole.stair_pa.shape == (len(conditions), len(LARKFIELD.storeys))


@pytest.fixture
def found(monkeypatch):
    """Conditions of each question that was answered and not given from what was found before."""
    found_once.forget_airs()
    answered = []

    def noting(find, name):
        def noted(network, *asked):
            answered.append(network.conditions)
            return find(network, *asked)

        noted.__name__ = name
        return noted

    monkeypatch.setattr(towers, "hold", noting(towers.hold, "hold"))
    monkeypatch.setattr(towers.heights, "solve", noting(towers.heights.solve, "solve"))
    return answered


def test_conditions_that_are_alike_are_solved_once(found, monkeypatch):
    monkeypatch.setattr(towers, "FEW_TO_COMPARE", 1)
    outdoors, speeds = np.array([-10.0, 5.0, -10.0, 5.0]), np.array([30.0, 30.0, 30.0, 40.0])
    together, held = TOWER.solve(_winter(outdoor_c=outdoors), speeds), TOWER.hold(_winter(outdoor_c=outdoors), [35.0, 40.0, 35.0, 40.0])
    assert found == [3, 2]
    found_once.forget_airs()
    for row, (outdoor, speed) in enumerate(zip(outdoors, speeds, strict=True)):
        alone = TOWER.solve(_winter(outdoor_c=outdoor), speed)
        assert together.stair_pa[row] == pytest.approx(alone.stair_pa[0], abs=3e-6)
        assert together.speed_hz[row] == speed
    assert held.reading_pa == pytest.approx([35.0, 40.0, 35.0, 40.0], abs=1e-3)


def test_the_same_question_is_answered_once_and_another_one_anew(found):
    """Another tower of the same leaks asks the same; nothing that the answer hangs on may differ."""
    first = TOWER.hold(_winter(), 35.0)
    kept = first.air.stair_pa.copy()
    first.air.stair_pa[:] = 0.0
    closer = LARKFIELD.with_changes(doors={"flat landing": {"closer_force_n": 45.0}})
    assert (Tower(closer).hold(_winter(), 35.0).air.stair_pa == kept).all()
    assert found == [1]
    leakier = LARKFIELD.with_changes(doors={"flat landing": {"leak_area_m2": 0.05}})
    lower = [LARKFIELD.transmitters[0].model_copy(update={"level": 2}), *LARKFIELD.transmitters[1:]]
    others = [
        Tower(leakier).hold(_winter(), 35.0), TOWER.hold(_winter(), 36.0), TOWER.hold(_winter(wind_speed_m_s=9.0), 35.0),
        TOWER.hold(_winter(), 35.0, rule="lowest"), TOWER.hold(_winter(), 35.0, lower), TOWER.hold(_winter(outdoor_c=-11.0), 35.0),
    ]  # fmt: skip
    assert found == [1] * 7
    assert not [other for other in others if (other.air.stair_pa == kept).all()]
    assert (TOWER.solve(_winter(), 30.0).stair_pa != TOWER.solve(_winter(), 30.5).stair_pa).all()
    assert found == [1] * 9


def test_of_what_was_found_before_only_so_much_is_kept(found, monkeypatch):
    one = 8 * len(TOWER.spaces) * len(TOWER.levels)
    monkeypatch.setattr(found_once, "MOST_KEPT_BYTES", 2 * one)
    for speed in (30.0, 31.0, 30.0, 32.0, 30.0, 31.0):  # the one asked for last stays, the oldest goes
        TOWER.solve(_winter(), speed)
    assert found == [1] * 4
    assert found_once._KEPT.size == 2 * one


def test_the_fan_brings_what_the_leaks_take():
    found = TOWER.solve(_winter(), 40.0)
    density = air.density(LARKFIELD.weather["winter"].outdoor_c, TOWER.pressure_pa)
    assert found.fan_flow_m3_s * density == pytest.approx(found.supply_kg_s)
    assert found.residual_kg_s[0] < 1e-8 * found.supply_kg_s[0] + 1e-9


def test_an_open_door_takes_its_own_pressure_and_spares_no_other_storey():
    shut, opened = (TOWER.solve(_winter(open_doors=levels), 30.0).door_dp_pa[0] for levels in ((), (5,)))
    assert opened[TOWER.storey(5)] < 1.0
    assert (opened < shut).all()


@pytest.mark.parametrize("exponent", [0.5, 0.65])
def test_an_open_doorway_is_an_orifice_whatever_law_the_gaps_of_a_shut_door_obey(exponent):
    """Flow through the final exit door by the formula of doors: ASHRAE HVAC Applications, fire and smoke chapter, orifice (memory)."""
    site = LARKFIELD.with_changes(leakage={"door_exponent": exponent}, temperatures={"floor_c": 15.0, "stair_c": 15.0})
    tower, even = Tower(site), Conditions.of(site, "mild", wind_speed_m_s=0.0, outdoor_c=15.0, open_exits=(0,))
    network, found = tower.network(even, np.array([0.9])), tower.solve(even, 45.0)
    landings, street = (next(o for o in network.openings if isinstance(o, kind)) for kind in (OnStorey, Outside))
    density, pressure = air.density(15.0, tower.pressure_pa), found.stair_pa[0, 0]
    through = street.law.at(street.difference([found.stair_pa.T]))[0][0, 0] / density
    assert through == pytest.approx(doors.open_door_flow(pressure, 1.0, 2.0, density), rel=1e-5)  # free area of 2 m2
    assert landings.law.exponent == exponent


def test_a_storey_without_a_stair_door_has_none_to_open():
    site = LARKFIELD.with_changes(storeys=[{}] * 5 + [{"stair_door_count": 0}] + [{}] * 8)
    tower = Tower(site)
    shut, asked = (tower.solve(Conditions.of(site, "winter", open_doors=levels), 30.0) for levels in ((), (5,)))
    assert asked.stair_pa == pytest.approx(shut.stair_pa, abs=1e-9)


def test_winter_stack_effect_raises_the_top_of_a_stair_without_fan_and_lowers_the_bottom():
    calm = _winter(wind_speed_m_s=0.0, stair_c=20.0)
    stopped = TOWER.solve(calm, 0.0).stair_pa[0]
    assert stopped[0] < 0 < stopped[-1]
    gradient = air.stack_gradient(LARKFIELD.weather["winter"].outdoor_c, 20.0, TOWER.pressure_pa)
    assert np.diff(stopped) == pytest.approx(gradient * TOWER.rises_m, abs=0.1)  # less the shaft's friction


def test_hold_finds_the_speed_that_solve_confirms():
    held = TOWER.hold(_winter(), rule="average")
    assert held.held.all()
    again = TOWER.solve(_winter(), held.air.speed_hz)
    assert TOWER.readings(again).mean() == pytest.approx(LARKFIELD.control.set_point_pa, abs=1e-3)


def test_a_set_point_out_of_reach_is_said_to_be_so():
    held = TOWER.hold(_winter(open_doors=tuple(TOWER.levels)), rule="average", set_point_pa=100.0)
    assert held.state.tolist() == ["at full speed"]
    assert held.air.speed_hz == pytest.approx(LARKFIELD.fan.highest_speed_hz)


def test_forty_storeys_with_lobbies_lift_and_three_supply_points_are_one_call_too():
    tower = Tower(NORTHGATE)
    held = tower.hold(Conditions.of(NORTHGATE, "winter"), rule="average")
    assert held.air.converged.all()
    assert held.air.supply_flow_m3_s.shape == (1, len(NORTHGATE.supplies))
    assert held.air.lobby_pa is not None
    assert held.air.lift_pa is not None
    behind = np.where(tower.lobby, held.air.lobby_pa, held.air.floor_pa)
    assert held.air.door_dp_pa == pytest.approx(held.air.stair_pa - behind)


def test_the_same_fan_holds_less_pressure_in_a_leakier_building():
    tight, loose = (TOWER.solve(_winter(leak_factor=np.full((1, 14), factor)), 30.0).stair_pa for factor in (0.5, 2.0))
    assert (loose < tight).all()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"outdoor_c": -300.0}, "outdoor_c must be from -90 to 90, got -300"),
        ({"floor_c": 90.5}, "floor_c must be from -90 to 90, got 90.5"),
        ({"outdoor_c": float("nan")}, "outdoor_c must be a finite number, got nan"),
        ({"outdoor_c": "cold"}, "outdoor_c must be a number"),
        ({"outdoor_c": []}, "outdoor_c must hold at least one number"),
        ({"wind_speed_m_s": -1.0}, "wind_speed_m_s must be from 0 to 100, got -1"),
        ({"leak_factor": -1.0 * np.ones(14)}, "leak_factor must be 0 or more"),
        ({"rain": 3.0}, "changes must be among outdoor_c"),
    ],
)
def test_wrong_conditions_are_refused_in_one_sentence(changes, sentence):
    with pytest.raises(ValueError, match=sentence):
        _winter(**changes)


def test_levels_and_weathers_that_are_not_there_are_refused():
    with pytest.raises(ValueError, match="open_doors must name storeys from 0 to 13, got 99"):
        _winter(open_doors=(99,))
    with pytest.raises(ValueError, match="weather must be one of winter, summer, mild; got 'rainy'"):
        Conditions.of(LARKFIELD, "rainy")


def test_leak_of_one_storey_is_the_leakage_formulas_own():
    found = TOWER.solve(_winter(wind_speed_m_s=0.0), 30.0)
    door = LARKFIELD.doors["flat landing"]
    density = (air.density(LARKFIELD.weather["winter"].stair_c, TOWER.pressure_pa) + air.density(21.0, TOWER.pressure_pa)) / 2
    expected = leakage.flow(found.door_dp_pa[0, 5], door.leak_area_m2, density) * density
    network = TOWER.network(_winter(wind_speed_m_s=0.0), np.array([30.0 / LARKFIELD.fan.reference_speed_hz]))
    pressures = [found.stair_pa.T, found.floor_pa.T]
    flow, _ = network.openings[0].law.at(network.openings[0].difference(pressures))
    assert flow[5, 0] == pytest.approx(expected, rel=1e-6)


def test_where_no_weather_differs_from_the_floors_the_stair_is_taken_half_way():
    floor_c = LARKFIELD.temperatures.floor_c
    even = LARKFIELD.with_changes(weather={name: {"outdoor_c": floor_c, "stair_c": None} for name in LARKFIELD.weather})
    assert stair_share(even) == 0.5
