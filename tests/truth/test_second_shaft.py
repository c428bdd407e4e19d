"""A second pressurised shaft beside the stair: by hand on one storey, in the limits, and held against a balance that scipy solves.

Taken from the helpers: the figures of the site. Written anew: as tests/truth/test_further_openings.py has it, with a third pressure on
every storey; wall of a stair 0.11e-3, of a lift shaft 0.84e-3 of its area (NFPA 92's ratios, as that file has them).
"""

import numpy as np
import pytest
from scipy.optimize import root
from test_further_openings import COUNT, WALL, Balance, G, density, flow

from helpers.model.air.conditions import Conditions
from helpers.model.air.operating_point import MOST_STEPS
from helpers.model.air.second_shaft import rest
from helpers.model.air.second_shaft.openings import AS_FILED, FULL_SPEED, OFF, STUCK_OPEN, OtherFan, ShaftState
from helpers.model.air.tower import Tower, ideal_fan
from helpers.model.found_once import forget_airs

LIFT_WALL = 0.84e-3
CURVE = {"flows_m3_s": (0.0, 4.0), "pressures_pa": (500.0, 100.0), "reference_speed_hz": 50.0}
FIXED = {"level": 2, **CURVE, "speed_hz": 30.0}
LOOP = {"level": 2, **CURVE, "set_point_pa": 25.0, "set_point_level": 1, "set_point_over": "floor", "lowest_speed_hz": 5.0,
        "highest_speed_hz": 50.0}  # fmt: skip
LIFT = {"kind": "lift", "friction_area_m2": 3.0, "wall_m2": 30.0, "outside_leak_m2": 0.002, "vent_area_m2": 0.02, "door": "flat landing",
        "door_count": 2, "levels": (0, 2), "outdoor_share": 0.4, "fan": FIXED}  # fmt: skip


def with_lift(site, **changes):
    return site.with_changes(second_shaft=LIFT | changes)


class WithLift(Balance):
    """The same balance with the shaft's three pressures after the others."""

    hz, doors_open = 30.0, ()

    def __call__(self, flat):
        given, (_, floor, shaft) = self.site.second_shaft, np.reshape(flat, (3, COUNT))
        out, own = np.reshape(super().__call__(flat[: 2 * COUNT]), (2, COUNT)), np.zeros(COUNT)
        warm = self.site.temperatures.floor_c + 0.4 * (self.site.weather["winter"].outdoor_c - self.site.temperatures.floor_c)
        inside = density(warm)
        to_floor, to_outdoors = (inside + self.inside) / 2, (inside + self.out) / 2
        door = self.site.doors[given.door]
        for place in range(COUNT):
            dp = shaft[place] - floor[place]
            leaks = LIFT_WALL * given.wall_m2 + (2 * door.leak_area_m2 if place != 1 else 0.0)
            if place in self.doors_open:
                leaks += door.width_m * door.height_m - door.leak_area_m2  # its discharge coefficient is the leaks' own
            into = flow(leaks, dp, to_floor)
            out[1, place] -= into
            own[place] += into + flow(given.outside_leak_m2, shaft[place], to_outdoors)
        own[2] += flow(given.vent_area_m2, shaft[2], to_outdoors)
        for place, rise in enumerate(self.rises):
            up = flow(given.friction_area_m2, shaft[place] - shaft[place + 1] + G * (self.out - inside) * rise, inside)
            own[place] += up
            own[place + 1] -= up
        ratio = self.hz / 50.0
        own[2] -= self.out * ratio * (500.0 - shaft[2] / (self.out / 1.2 * ratio**2)) / 100.0
        return np.append(out, own)

    def solved(self):
        found = root(self, np.repeat([40.0, 10.0, 30.0], COUNT), method="hybr", options={"xtol": 1e-12, "maxfev": 20000})
        assert np.abs(found.fun).max() < 1e-8
        return np.reshape(found.x, (3, COUNT))


@pytest.mark.parametrize("doors", [(), (0,)])
def test_stair_and_lift_shaft_press_on_the_floors_as_scipys_solver_has_it(three_storeys, doors):
    site = with_lift(three_storeys)
    air = Tower(site, ShaftState(open_doors=doors)).solve(Conditions.of(site), 35.0)
    balance = WithLift(site, 0.7)
    balance.doors_open = doors
    stair, floor, shaft = balance.solved()
    assert air.stair_pa[0] == pytest.approx(stair, abs=5e-3)
    assert air.floor_pa[0] == pytest.approx(floor, abs=5e-3)
    assert air.shaft_pa[0] == pytest.approx(shaft, abs=5e-3)
    alone = Tower(three_storeys).solve(Conditions.of(three_storeys), 35.0)
    assert (air.door_dp_pa < alone.door_dp_pa - 1).all()  # the floors rise, and the stair stands less over them


def one_storey(three_storeys, gaps_m2, leak_m2, second_gaps_m2, second_m3_s):
    """One storey with leaks of doors alone, all as warm as outdoors; the stair on an ideal fan, 1 m3/s for each Hz."""
    air = {name: {"outdoor_c": 20.0, "stair_c": 20.0, "wind_speed_m_s": 0.0} for name in ("winter", "summer", "mild")}
    door = {"leak_area_m2": gaps_m2}
    second = {"kind": "lift", "friction_area_m2": 3.0, "wall_m2": 0.0, "door": "other", "fan": {"level": 0, "fixed_flow_m3_s": second_m3_s}}
    site = three_storeys.model_copy(update={"storeys": three_storeys.storeys[:1], "design": None})
    site = site.with_changes(
        storeys=[{"facade_m2": (0.0,) * 4, "stair_wall_m2": 0.0, "stair_outside_wall_m2": 0.0, "final_exit_door": None}
                 | {"extra_leak_m2": leak_m2}],
        doors={"flat landing": door, "other": dict(three_storeys.doors["flat landing"]) | {"leak_area_m2": second_gaps_m2}},
        weather=air, temperatures=dict.fromkeys(("floor_c", "stair_c", "lift_c", "lobby_c"), 20.0), supplies=[{"level": 0}],
        transmitters=[{"level": 0}, {"level": 0}], stair={"relief": None}, second_shaft=second,
    )  # fmt: skip
    return ideal_fan(Tower(site))


@pytest.mark.parametrize(("first", "second"), [(0.5, 0.8), (0.3, 1.2), (0.7, 0.2)])
def test_on_one_storey_both_flows_meet_in_the_floor_by_hand(three_storeys, first, second):
    """dp of an opening = rho / 2 (Q / C A)^2: each shaft over the floor by its own flow, the floor over outdoors by the sum of both."""
    tower, rho = one_storey(three_storeys, 0.06, 0.2, 0.1, second), density(20.0)
    air = tower.solve(Conditions.of(tower.site), first)
    brought = float(air.fan_flow_m3_s[0])
    assert brought == pytest.approx(first, rel=0.1)  # less by what it stands against
    dp = [rho / 2 * (q / (0.65 * area)) ** 2 for q, area in ((brought, 0.06), (second, 0.1), (brought + second, 0.2))]
    assert air.door_dp_pa[0, 0] == pytest.approx(dp[0], rel=2e-4)
    assert (air.shaft_pa - air.floor_pa)[0, 0] == pytest.approx(dp[1], rel=2e-4)
    assert air.floor_pa[0, 0] == pytest.approx(dp[2], rel=2e-4)
    assert air.shaft_flow_m3_s == pytest.approx(second)
    assert air.supply_kg_s == pytest.approx(brought * rho, rel=2e-4)  # the stair's fan alone


def test_a_tight_floor_hands_all_on_and_a_wide_open_one_nothing(three_storeys):
    """Tight: floor and shafts rise to what the second fan gives. Open: the first stair's doors bear what they bear without it."""
    conditions = Conditions.of(three_storeys)

    def dp(extra_m2, **shaft):
        site = three_storeys.with_changes(storeys=[{"facade_m2": (1e-3,) * 4, "extra_leak_m2": extra_m2}] * COUNT)
        site = with_lift(site, outside_leak_m2=0.0, vent_area_m2=0.0, **shaft) if shaft else site
        return Tower(site).solve(conditions, 35.0)

    one, two = dp(50.0), dp(50.0, fan=FIXED)
    assert two.door_dp_pa == pytest.approx(one.door_dp_pa, abs=0.02)
    assert two.door_dp_pa != pytest.approx(one.door_dp_pa, abs=1e-6)  # but it is in the network
    tight, fixed = dp(1e-6, fan=FIXED), dp(1e-6)
    assert (tight.floor_pa > fixed.floor_pa + 20).all()
    assert (tight.shaft_pa - tight.floor_pa)[0].max() < 0.3 * (two.shaft_pa - two.floor_pa)[0].max()


@pytest.fixture(scope="module")
def twins(three_storeys):
    """The stair, and a second one alike in all: leaks, exit, fan, speed."""
    site = three_storeys.with_changes(stair={"relief": None})
    outside = {storey.level: WALL * storey.stair_outside_wall_m2 for storey in site.storeys}
    site = site.with_changes(storeys=[{"stair_wall_m2": 50.0, "stair_outside_wall_m2": 8.0}] * COUNT)
    fan = {"level": 2, "flows_m3_s": (0.0, 6.0), "pressures_pa": (600.0, 100.0), "reference_speed_hz": 50.0}
    assert outside[1] == pytest.approx(WALL * 8.0)
    return site.with_changes(second_shaft={
        "kind": "stair", "friction_area_m2": site.stair.friction_area_m2, "wall_m2": 42.0, "outside_leak_m2": WALL * 8.0,
        "door": "flat landing", "exit_door": "street", "exit_level": 0, "fan": fan | {"speed_hz": 35.0},
    })  # fmt: skip


def test_two_equal_shafts_stand_at_equal_pressures(twins):
    air = Tower(twins).solve(Conditions.of(twins), 35.0)
    assert air.shaft_pa == pytest.approx(air.stair_pa, abs=1e-4)
    assert air.shaft_flow_m3_s == pytest.approx(air.fan_flow_m3_s, rel=1e-6)
    exits = Tower(twins, ShaftState(exit_open=True)).solve(Conditions.of(twins, open_exits=(0,)), 35.0)
    assert exits.shaft_pa == pytest.approx(exits.stair_pa, abs=1e-4)
    assert (exits.stair_pa[:, 0] < air.stair_pa[:, 0] - 5).all()


def test_two_equal_loops_hold_equal_pressures(twins):
    """Both at rest: each at its set point, at equal speeds; and the air is that of two fans at these fixed speeds."""
    loop = {"speed_hz": None, "set_point_pa": 25.0, "set_point_level": 1, "set_point_over": "floor", "lowest_speed_hz": 5.0,
            "highest_speed_hz": 50.0}  # fmt: skip
    site = twins.with_changes(second_shaft={"fan": loop})
    tower, conditions = Tower(site), Conditions.joined(Conditions.of(site, weather) for weather in site.weather)
    held = tower.hold(conditions, 25.0, transmitters=[site.transmitters[0].model_copy(update={"level": 1})])
    assert held.held.all()
    assert (held.air.shaft_loop == "held").all()
    assert held.air.shaft_hz == pytest.approx(held.air.speed_hz, abs=0.01)
    assert held.air.shaft_pa == pytest.approx(held.air.stair_pa, abs=0.01)
    assert (held.air.shaft_pa - held.air.floor_pa)[:, 1] == pytest.approx(25.0, abs=2e-3)
    at_rest = Tower(twins.with_changes(second_shaft={"fan": {"speed_hz": float(held.air.shaft_hz[0])}}))
    same = at_rest.solve(conditions.rows(slice(0, 1)), held.air.speed_hz[:1])
    assert same.shaft_pa == pytest.approx(held.air.shaft_pa[:1], abs=1e-3)


@pytest.mark.parametrize(("set_point_pa", "state", "hz"), [(2000.0, "at full speed", 50.0), (1.0, "at lowest speed", 20.0)])
def test_a_second_loop_that_cannot_hold_stands_at_its_limit_and_says_so(three_storeys, set_point_pa, state, hz):
    site = with_lift(three_storeys, fan=LOOP | {"set_point_pa": set_point_pa, "lowest_speed_hz": 20.0})
    air = Tower(site).solve(Conditions.of(site, "winter"), 10.0)
    assert air.converged.all()
    assert list(air.shaft_loop) == [state]
    assert air.shaft_hz == pytest.approx(hz)


def test_what_both_fans_bring_leaves_the_building(three_storeys):
    """Over all openings to outdoors, fans included, the mass flows add up to nothing, with either loop at rest and doors open."""
    site = with_lift(three_storeys, fan=LOOP)
    tower = Tower(site, ShaftState(open_doors=(2,)))
    conditions = Conditions.joined(Conditions.of(site, weather, open_doors=doors) for weather in site.weather for doors in ((), (1,)))
    air = tower.hold(conditions).air
    network = tower.network(conditions, air.speed_hz / 50.0)
    pressure = np.stack([getattr(air, f"{space}_pa").T for space in tower.spaces])
    fans = [opening for opening in network.openings if opening.law.feeds]
    assert [type(opening.law) for opening in fans[::-1]].count(OtherFan) == 1
    out = sum(
        opening.law.at(opening.difference(pressure))[0].sum(axis=0)
        for opening in network.openings if hasattr(opening, "outside") and not isinstance(opening.law, OtherFan)
    )  # fmt: skip
    brought = air.shaft_flow_m3_s * 101325.0 / (287.042 * (conditions.outdoor_c + 273.15))
    assert brought.min() > 0.3
    assert out == pytest.approx(brought, rel=2e-3)


def test_the_states_of_its_fan_fall_from_full_speed_to_a_damper_stuck_open(three_storeys):
    site = with_lift(three_storeys, fan=LOOP)
    conditions = Conditions.of(site)
    over = [
        (air.shaft_pa - air.floor_pa)[0, 1]
        for air in (Tower(site, state).solve(conditions, 35.0) for state in (
            ShaftState(FULL_SPEED), AS_FILED, ShaftState(OFF), ShaftState(STUCK_OPEN, back_leak=0.5)))
    ]  # fmt: skip
    assert over[0] > over[1] > over[2] > over[3]
    assert over[1] == pytest.approx(25.0, abs=2e-3)
    assert over[2] < 0  # the floors, which the stair presses on, stand over the shaft whose fan is off


def test_few_conditions_and_many_give_the_same(three_storeys):
    site = with_lift(three_storeys, fan=LOOP)
    outdoors = np.linspace(-20.0, 30.0, 60)
    many = Tower(site).hold(Conditions.of(site, outdoor_c=outdoors))
    few = Tower(site).hold(Conditions.of(site, outdoor_c=outdoors[::20]))
    assert few.air.shaft_pa == pytest.approx(many.air.shaft_pa[::20], abs=5e-3)
    assert few.air.stair_pa == pytest.approx(many.air.stair_pa[::20], abs=5e-3)


@pytest.mark.parametrize("count", [4, 60])
@pytest.mark.parametrize("rule", ["average", "lowest", "highest", "middle"])
def test_both_speeds_found_together_are_those_closed_in_on_one_after_the_other(three_storeys, rule, count, monkeypatch):
    """Weathers and doors in which both hold, and in which either stands at its limit; next to nothing is left to the slower way, which
    finds the same to its tolerance."""
    site = with_lift(three_storeys, fan=LOOP)
    asked = Conditions.of(site, outdoor_c=np.linspace(-30.0, 35.0, count), open_doors=(1,))
    asked = Conditions.joined([asked, Conditions.of(site, outdoor_c=np.linspace(-30.0, 35.0, count))])
    left = []
    slow = rest._closed_in
    monkeypatch.setattr(rest, "_closed_in", lambda network, *others: left.append(network.conditions) or slow(network, *others))
    for set_point in (12.0, 60.0):
        forget_airs()
        together = Tower(site).hold(asked, set_point, rule=rule)
        assert sum(left) <= len(asked) / 20
        left.clear()
        monkeypatch.setattr(rest, "MOST_STEPS", 0)  # no step at all: each is closed in on
        forget_airs()
        one_by_one = Tower(site).hold(asked, set_point, rule=rule)
        monkeypatch.setattr(rest, "MOST_STEPS", MOST_STEPS)
        assert sum(left) == len(asked)
        left.clear()
        assert list(together.state) == list(one_by_one.state)
        assert list(together.air.shaft_loop) == list(one_by_one.air.shaft_loop)
        assert together.air.converged.all()
        for name in ("speed_hz", "shaft_hz", "stair_pa", "floor_pa", "shaft_pa"):
            assert getattr(together.air, name) == pytest.approx(getattr(one_by_one.air, name), abs=1e-2)
    assert {"held", "at full speed"} <= set(together.state)
