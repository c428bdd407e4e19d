"""Outlets on a riser: closed forms by hand, mass, and both limits, equal pressure and shares by area."""

import numpy as np
import pytest

from helpers.formulas.air import density
from helpers.model.air.branches import DUCT
from helpers.model.air.conditions import Conditions
from helpers.model.air.fan import fan_points, pressure_against
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site, read_site_text, write_site

NAMES = ("Tannery Row", "Northgate Tower")
STRAIGHT = {"flows_m3_s": (0.0, 8.0), "pressures_pa": (600.0, 80.0), "duct_loss_pa": 0.0, "curve_density_kg_m3": None}
RHO = 101325 / (287.042 * 288.15)  # of all air where it is 15 °C everywhere
EVEN = {f"{space}_c": 15.0 for space in ("outdoor", "stair", "floor", "lobby", "lift")} | {"wind_speed_m_s": 0.0}


@pytest.fixture(scope="module", params=NAMES)
def site(request):
    return read_site(demo_sites()[request.param])


def with_riser(site, *areas_m2, loss_pa=4.0, at_m3_s=2.0, zeta=None):
    """The site with its outlets on a riser from the first one's storey."""
    riser = {"fan_level": site.supplies[0].level, "storey_loss_pa": loss_pa, "storey_loss_flow_m3_s": at_m3_s}
    outlets = [{"outlet_area_m2": area, "outlet_loss_coefficient": zeta} for area in areas_m2]
    return site.with_changes(riser=riser, supplies=outlets)


def all_weathers(site):
    opened = [(), (site.supplies[-1].level,)]
    return Conditions.joined(Conditions.of(site, name, doors) for name in site.weather for doors in opened)


@pytest.fixture(scope="module")
def two_cells():
    """Two storeys whose stairs are shut off from each other; each leaks to outdoors through its exit alone, 0.02 and 0.05 m2."""
    site = read_site(demo_sites()["Tannery Row"])
    bare = {"stair_wall_m2": 0.0, "stair_outside_wall_m2": 0.0, "stair_door": None, "stair_door_count": 0, "other_stair_doors": {},
            "lobby": False, "lobby_door": None, "lift_doors": 0, "exit_faces_deg": None}  # fmt: skip
    street = dict(site.doors["street"]) if "street" in site.doors else dict(next(iter(site.doors.values())))
    doors = {"low exit": street | {"leak_area_m2": 0.02}, "high exit": street | {"leak_area_m2": 0.05}}
    storeys = [bare | {"level": 0, "final_exit_door": "low exit"}, bare | {"level": 1, "final_exit_door": "high exit"}]
    return site.with_changes(
        altitude_m=0.0, storeys=storeys, doors=doors, lift=None, release=None, design=None, fan=STRAIGHT,
        stair={"friction_area_m2": 1e-9, "relief": None, "more_reliefs": ()}, leakage={"door_exponent": 0.5, "discharge_coefficient": 0.65},
        supplies=[{"level": 0, "share": 0.5}, {"level": 1, "share": 0.5}], transmitters=[{"level": 0}, {"level": 1}],
    )  # fmt: skip


def series(*areas_m2):
    return sum(area**-2 for area in areas_m2) ** -0.5


def test_two_outlets_are_each_in_series_with_the_riser_and_their_stairs_leak(two_cells):
    """Closed form: P0 - c Q = rho Q^2 / (2 A^2), A the sum of both branches; 0.12 m2 as an orifice, 0.10 m2 of a loss coefficient 3."""
    site = two_cells.with_changes(
        riser={"fan_level": 0, "storey_loss_pa": 40.0, "storey_loss_flow_m3_s": 0.5},
        supplies=[{"outlet_area_m2": 0.12}, {"outlet_area_m2": 0.10, "outlet_loss_coefficient": 3.0}],
    )
    found = Tower(site).solve(Conditions.of(site, "winter", **EVEN), 50.0)
    riser = 0.5 / np.sqrt(2 * 40.0 / 1.2)
    low, high = series(0.65 * 0.12, 0.65 * 0.02), series(riser, 0.10 / 3**0.5, 0.65 * 0.05)
    most, fall, resist = 600 * RHO / 1.2, 520 / 8 * RHO / 1.2, RHO / (2 * (low + high) ** 2)
    flow = (-fall + np.sqrt(fall**2 + 4 * resist * most)) / (2 * resist)
    pressure = most - fall * flow
    assert found.supply_flow_m3_s[0] == pytest.approx([flow * low / (low + high), flow * high / (low + high)], rel=1e-5)
    assert found.duct_pa[0, 0] == pytest.approx(pressure, rel=1e-5)
    assert found.stair_pa[0] == pytest.approx([pressure * (low / 0.013) ** 2, pressure * (high / 0.0325) ** 2], rel=1e-5)


def test_what_the_outlets_bring_is_what_the_fan_blows(site):
    """Of many conditions at once and of one alone, which are solved in two ways."""
    tower = Tower(with_riser(site, *[0.3] * len(site.supplies)))
    conditions = all_weathers(tower.site)
    many = Conditions.joined([conditions] * 40)
    for rows, repeats in ((conditions, 1), (many, 40)):
        air = tower.solve(rows, 40.0)
        assert air.converged.all()
        flow, _, _ = fan_points(tower, air, rows)
        ratio, density = 40.0 / tower.site.fan.reference_speed_hz, air.supply_kg_s / air.fan_flow_m3_s
        at_fan = tower.curve.flow_and_slopes(pressure_against(tower, air)[:, 0], ratio, density)[0]
        assert air.fan_flow_m3_s == pytest.approx(at_fan, rel=1e-6)
        assert flow == pytest.approx(at_fan, rel=1e-6)
        assert air.stair_pa == pytest.approx(np.tile(tower.solve(conditions, 40.0).stair_pa, (repeats, 1)), abs=1e-4)


def test_the_outlet_beside_the_higher_stair_pressure_gives_less(site):
    """In winter, with two outlets alike and a riser that costs next to nothing; and a faster fan evens them out."""
    levels = [{"level": site.storeys[0].level + 1, "share": 0.5}, {"level": site.storeys[-1].level, "share": 0.5}]
    two = with_riser(site.with_changes(supplies=levels), 0.15, 0.15, loss_pa=1e-4)
    tower, conditions = Tower(two), Conditions.of(two, "winter")
    apart = []
    for hz in (0.5 * two.fan.highest_speed_hz, two.fan.highest_speed_hz):
        air = tower.solve(conditions, hz)
        low, high = air.supply_flow_m3_s[0]
        ends = air.stair_pa[0, [1, -1]]
        assert (low > high) == (ends[0] < ends[1])
        apart.append(abs(low - high) / (low + high))
    assert apart[1] < apart[0] - 0.01


def test_very_large_outlets_leave_stair_and_riser_at_one_pressure(site):
    """And the stair as if it had another shaft beside it, wherever the fan blows."""
    places = [tower.storey(supply.level) for tower in [Tower(site)] for supply in site.supplies]
    wide = with_riser(site, *[500.0] * len(places), loss_pa=1e-9)
    air = Tower(wide).solve(all_weathers(wide), 40.0)
    assert air.converged.all()
    assert air.duct_pa[:, places] == pytest.approx(air.stair_pa[:, places], abs=5e-3)
    assert np.ptp(air.duct_pa, axis=1).max() < 5e-3
    tight = Tower(with_riser(site, *[0.2] * len(places))).solve(all_weathers(wide), 40.0)
    assert np.abs(tight.duct_pa[:, places] - tight.stair_pa[:, places]).max() > 10


def test_an_outlet_costs_what_it_costs_in_the_air_that_the_fan_draws(site):
    """Outdoor air, in winter denser than the stair's: dp = m^2 / (2 rho A^2), A = 0.3 m2 by a loss coefficient of 1, rho the mean of both
    sides as at any opening (the README of helpers/model/air)."""
    lone = with_riser(site.with_changes(supplies=[{"level": site.supplies[0].level, "share": 1.0}]), 0.3, zeta=1.0)
    tower, winter = Tower(lone), Conditions.of(lone, "winter")
    air = tower.solve(winter, 30.0)
    at = tower.storey(lone.supplies[0].level)
    outdoor, stair = (float(density(celsius, tower.pressure_pa)) for celsius in (winter.outdoor_c[0], winter.stair_c[0]))
    assert outdoor > 1.05 * stair
    drop = (outdoor * air.supply_flow_m3_s[0, 0] / 0.3) ** 2 / (outdoor + stair)
    assert air.duct_pa[0, at] - air.stair_pa[0, at] == pytest.approx(drop, rel=1e-3)


def test_tiny_outlets_share_the_air_by_their_areas(site):
    """The fan then stands near its pressure without flow, beside which the stair's own differences are small."""
    areas = 1e-4 * np.arange(1, len(site.supplies) + 1)
    tiny = with_riser(site, *areas.tolist(), loss_pa=1e-6)
    air = Tower(tiny).solve(all_weathers(tiny), site.fan.highest_speed_hz)
    shares = air.supply_flow_m3_s / air.fan_flow_m3_s[:, None]
    assert shares == pytest.approx(np.tile(areas / areas.sum(), (len(shares), 1)), rel=0.08)
    stair = air.stair_pa[:, [Tower(tiny).storey(supply.level) for supply in tiny.supplies]]
    driven = areas * np.sqrt(air.duct_pa[:, [Tower(tiny).storey(tiny.riser.fan_level)]] - stair)
    assert shares == pytest.approx(driven / driven.sum(axis=1, keepdims=True), rel=2e-3)


def test_two_outlets_on_one_storey_are_one_of_both_areas_and_share_its_air(site):
    level = site.supplies[0].level
    two = with_riser(site.with_changes(supplies=[{"level": level, "share": 0.5}] * 2), 0.1, 0.3)
    one = with_riser(site.with_changes(supplies=[{"level": level, "share": 1.0}]), 0.4)
    conditions = all_weathers(one)
    apart, whole = (Tower(built).solve(conditions, 40.0) for built in (two, one))
    assert apart.stair_pa == pytest.approx(whole.stair_pa, abs=1e-5)
    assert apart.supply_flow_m3_s == pytest.approx(whole.supply_flow_m3_s * [0.25, 0.75], rel=1e-5)


def test_one_storey_has_a_riser_without_a_way_up():
    site = read_site(demo_sites()["Tannery Row"])
    street = {"final_exit_door": "street", "extra_leak_m2": 0.1}
    lone = site.with_changes(
        storeys=[{"level": 0} | street], supplies=[{"level": 0, "share": 1.0}], stair={"relief": None}, transmitters=[{"level": 0}],
        design=None, control={"rule": "lowest"},
    )  # fmt: skip
    lone = lone.with_changes(transmitters=[{"level": 0}])
    air = Tower(with_riser(lone, 0.2)).solve(Conditions.of(lone), 30.0)
    assert air.converged.all()
    assert air.duct_pa[0, 0] > air.stair_pa[0, 0] + 1


def test_an_exhaust_fan_draws_through_its_inlets(site):
    draws = {"fan": {"effect": "exhaust"}, "control": {"set_point_pa": -20.0, "action": "direct"}}
    built = with_riser(
        site.with_changes(**draws, transmitters=[{"range_low_pa": -125.0}] * len(site.transmitters)), *[0.3] * len(site.supplies)
    )
    tower, conditions = Tower(built), all_weathers(built)
    air = tower.solve(conditions, 40.0)
    assert air.converged.all()
    assert (air.fan_flow_m3_s > 0.1).all()
    assert (pressure_against(tower, air) > 0).all()
    assert (air.duct_pa.min(axis=1) < air.stair_pa.min(axis=1)).all()


def test_a_held_pressure_is_held_through_the_branches_too(site):
    plain, built = Tower(site), Tower(with_riser(site, *[0.35] * len(site.supplies), loss_pa=1.0))
    conditions = Conditions.joined(Conditions.of(site, name) for name in site.weather)
    as_shares, solved = plain.hold(conditions), built.hold(conditions)
    assert as_shares.held.all()
    assert solved.held.all()
    assert solved.reading_pa == pytest.approx(as_shares.reading_pa, abs=2e-4)
    assert (solved.air.speed_hz > as_shares.air.speed_hz).all()  # the branches cost


def test_a_site_with_a_riser_is_written_and_read_back(site):
    built = with_riser(site, *[0.25] * len(site.supplies), zeta=2.4)
    assert read_site_text(write_site(built)) == built
    assert DUCT in Tower(built).spaces
    assert DUCT not in Tower(site).spaces
