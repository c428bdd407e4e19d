"""A solver written from `helpers/model/air/README.md` alone, on a small site that has everything in it, held against the helpers' air.

Taken from the helpers: the figures of the site and of the conditions. All else is what that text says, and scipy: Pchip for the fan's
curve, `root` for the pressures. What the text does not say cannot be right here: where the two part, one of them is to be mended.
"""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site

G, E_PA, OPEN_DOOR = 9.80665, 0.01, 0.65
RATIOS = {
    "exterior_wall": {
        "ashrae_1999": {"tight": 0.70e-4, "average": 2.1e-4, "loose": 4.2e-4, "very_loose": 13e-4},
        "nfpa92_2012": {"tight": 0.50e-4, "average": 1.7e-4, "loose": 3.5e-4, "very_loose": 12e-4},
    },
    "stair_wall": {"tight": 0.14e-4, "average": 1.1e-4, "loose": 3.5e-4},
    "lift_shaft_wall": {"tight": 1.8e-4, "average": 8.4e-4, "loose": 18e-4},
    "floor": {"ashrae_1999": {"average": 0.52e-4}, "nfpa92_2012": {"tight": 0.066e-4, "average": 0.52e-4, "loose": 1.7e-4}},
}
TERRAINS = {"city": (0.33, 460.0), "suburban": (0.22, 370.0), "open": (0.14, 270.0), "water": (0.10, 210.0)}
FACES = {"ashrae_low_rise": (0.6, -0.65, -0.3), "en1991_tall": (0.8, -0.8, -0.7)}


def power(d, n, e=E_PA):
    """The leak's law f(d)."""
    return d * (d * d + e * e) ** ((n - 1) / 2)


class Stranger:
    """The balance of a site under one condition: every space a number, every opening a flow from one to another (None: outdoors)."""

    def __init__(self, site, condition, ratio):
        self.site, self.c, self.ratio, self.leaks = site, condition, max(ratio, 0.001), site.leakage
        storeys, self.count = site.storeys, len(site.storeys)
        barometer = 101325 * (1 - 2.25577e-5 * site.altitude_m) ** 5.2559
        celsius = {"outdoor": condition.outdoor_c, "floor": condition.floor_c, "lobby": condition.lobby_c, "lift": condition.lift_c}
        self.rho = {space: np.full(self.count, barometer / (287.042 * (t[0] + 273.15))) for space, t in celsius.items()}
        self.rho["stair"] = np.broadcast_to(barometer / (287.042 * (np.ravel(condition.stair_c[0]) + 273.15)), self.count)
        self.height = np.array([storey.height_m for storey in storeys])
        self.middle = np.cumsum(self.height) - self.height / 2 - sum(s.height_m for s in storeys if s.level < 0)
        self.spaces = [(space, i) for i in range(self.count) for space in ("stair", "floor")]
        self.spaces += [("lobby", i) for i, storey in enumerate(storeys) if storey.lobby]
        self.spaces += [("lift", i) for i in range(self.count) if site.lift]
        self.spaces += [("riser", i) for i in range(self.count) if site.riser]
        self.spaces += [("second", i) for i in range(self.count) if site.second_shaft]
        self.rho["riser"] = self.rho["outdoor" if site.fan.effect == "supply" else "stair"]
        if site.second_shaft:
            second = site.second_shaft.outdoor_share * (condition.outdoor_c[0] - condition.floor_c[0]) + condition.floor_c[0]
            self.rho["second"] = np.full(self.count, barometer / (287.042 * (second + 273.15)))
        self.number = {space: i for i, space in enumerate(self.spaces)}
        self.more = dict(zip(("stair side", "facade", "between", "relief", "shaft", "fan"), condition.kind_factor[0], strict=True))
        self.paths = []  # (from, to, mass flow by d, what drives besides)
        for i, storey in enumerate(storeys):
            self.doors(i, storey)
            self.walls(i, storey)
        self.shafts()
        self.reliefs()
        self.release()
        self.riser()
        self.second()
        self.fan()

    def wind(self, i, bearing):
        """Wind pressure on storey i of a face that looks to a bearing."""
        exponent, depth = TERRAINS[self.site.terrain]
        share = min(max(self.middle[i], 0.0) / depth, 1.0) ** exponent
        speed = self.c.wind_speed_m_s[0] * (270 / self.site.wind_reference_height_m) ** 0.14 * share
        windward, side, leeward = FACES[self.site.pressure_coefficients]
        c = np.cos(np.radians(self.c.wind_from_deg[0] - bearing))
        along = (windward + leeward) * abs(c) ** 0.5 + (windward - leeward) * np.sign(c) * abs(c) ** 0.75
        return 0.5 * self.rho["outdoor"][0] * speed**2 * (along + 2 * side * (1 - c * c) ** 2) / 2

    def faces(self, i):
        return np.array([self.wind(i, bearing) for bearing in self.site.faces_deg])

    def bearing(self, i, stated, otherwise):
        return otherwise(self.faces(i)) if stated is None else self.wind(i, stated)

    def leak(self, a, b, area, n, drive=0.0, coefficient=None, rho=None):
        """A leak from a to b (None: outdoors); drive: what is added to the difference of pressures."""
        if area > 0:
            rho = (self.rho[a[0]][a[1]] + (self.rho["outdoor"][0] if b is None else self.rho[b[0]][b[1]])) / 2 if rho is None else rho
            coefficient = self.leaks.discharge_coefficient if coefficient is None else coefficient
            k = coefficient * area * np.sqrt(2) * self.leaks.reference_pa ** (0.5 - n) * np.sqrt(rho)
            self.paths.append((a, b, lambda d: k * power(d, n), drive))

    def leaves(self, a, b, kinds, share, factor, drive=0.0):
        """Doors of some kinds {name: how many}, one leaf open by a share."""
        if not kinds:
            return
        doors, n = self.site.doors, self.leaks.door_exponent
        free = {name: doors[name].open_area_m2 or doors[name].width_m * doors[name].height_m for name in kinds}
        wide = max(kinds, key=free.get)
        shut, own = (factor * area for area in (sum(doors[k].leak_area_m2 * m for k, m in kinds.items()), doors[wide].leak_area_m2))
        if n == 0.5:  # a doorway smaller than the gaps takes nothing away
            self.leak(a, b, shut, 0.5, drive)
            self.leak(a, b, share * max(free[wide] * OPEN_DOOR - own * self.leaks.discharge_coefficient, 0.0), 0.5, drive, 1.0)
        else:
            self.leak(a, b, shut - share * own, n, drive)
            self.leak(a, b, share * free[wide], 0.5, drive, OPEN_DOOR)

    def doors(self, i, storey):
        side, c = self.leaks.stair_side_factor * self.more["stair side"] * self.c.gap_factor[0, i], self.c
        stair, floor, lobby = ("stair", i), ("floor", i), ("lobby", i)
        kinds = {storey.stair_door: storey.stair_door_count} if storey.stair_door else {}
        self.leaves(stair, lobby if storey.lobby else floor, kinds | dict(storey.other_stair_doors), c.stair_door_open[0, i], side)
        if storey.lobby:
            self.leaves(lobby, floor, {storey.lobby_door: 1}, c.lobby_door_open[0, i], side)
            self.leak(lobby, None, storey.lobby_vent_m2, 0.5, -self.bearing(i, storey.lobby_vent_faces_deg, max))
        if storey.final_exit_door:
            outside = self.bearing(i, storey.exit_faces_deg, np.mean)
            self.leaves(stair, None, {storey.final_exit_door: 1}, c.final_exit_open[0, i], side, -outside)
        if self.site.lift and storey.lift_door:
            between = self.leaks.between_storeys_factor * self.more["between"]
            self.leaves(floor, ("lift", i), {storey.lift_door: storey.lift_doors}, 0.0, between)

    def walls(self, i, storey):
        n, leaks, by_storey = self.leaks.wall_exponent, self.leaks, self.c.leak_factor[0, i]
        side = leaks.stair_side_factor * self.more["stair side"] * by_storey * RATIOS["stair_wall"][leaks.stair_wall]
        self.leak(("stair", i), ("floor", i), side * (storey.stair_wall_m2 - storey.stair_outside_wall_m2), n)
        self.leak(("stair", i), None, side * storey.stair_outside_wall_m2, n, -self.faces(i).mean())
        ratio = RATIOS["exterior_wall"][leaks.edition][storey.wall_tightness or leaks.exterior_wall]
        for face, wind in zip(storey.facade_m2, self.faces(i), strict=True):
            area = leaks.facade_factor * self.more["facade"] * by_storey * (face * ratio + storey.extra_leak_m2 / 4)
            self.leak(("floor", i), None, area, n, -wind)
        between = leaks.between_storeys_factor * self.more["between"] * by_storey
        if self.site.lift:
            ratio = RATIOS["lift_shaft_wall"][leaks.lift_shaft_wall]
            self.leak(("floor", i), ("lift", i), between * ratio * storey.lift_shaft_wall_m2, n)
        if i:
            slab = between * RATIOS["floor"][leaks.edition][leaks.floor] * storey.floor_area_m2
            self.upward("floor", i - 1, slab, n)

    def upward(self, space, i, area, n, coefficient=None):
        """From storey i to the next: the air of a stair with two temperatures is weighed by half of each height."""
        low, high = self.height[i] / 2, self.height[i + 1] / 2
        rho = (self.rho[space][i] * low + self.rho[space][i + 1] * high) / (low + high)
        self.leak((space, i), (space, i + 1), area, n, G * (self.rho["outdoor"][0] - rho) * (low + high), coefficient, rho)

    def shafts(self):
        for i in range(self.count - 1):
            self.upward("stair", i, self.site.stair.friction_area_m2 * self.more["shaft"], 0.5)
            if self.site.lift:
                self.upward("lift", i, self.site.lift.friction_area_m2, 0.5)
        if self.site.lift:
            self.leak(("lift", self.count - 1), None, self.site.lift.vent_area_m2, 0.5)

    def reliefs(self):
        levels = [storey.level for storey in self.site.storeys]
        for relief in self.site.stair.reliefs:
            i, leak = levels.index(relief.level), max(relief.leak_area_m2, 1e-6)
            k = self.leaks.discharge_coefficient * np.sqrt(2 * (self.rho["stair"][i] + self.rho["outdoor"][0]) / 2)

            def law(d, k=k, relief=relief, leak=leak):
                s = min(max((d - relief.opens_pa) / (relief.full_pa - relief.opens_pa), 0.0), 1.0)
                return k * (leak * self.more["relief"] + (relief.area_m2 - leak) * s * s * (3 - 2 * s)) * power(d, 0.5)

            self.paths.append((("stair", i), None, law, -self.faces(i).mean()))

    def release(self):
        given = self.site.release
        for i in np.flatnonzero(self.c.release_m2[0]):
            own = given.discharge_coefficient
            free = (self.leaks.discharge_coefficient if own is None else own) * self.c.release_m2[0, i]
            if given.kind == "extract":
                duct = given.duct_loss_flow_m3_s / np.sqrt(2 * given.duct_loss_pa / 1.2)
                free = 1 / np.sqrt(1 / free**2 + 1 / duct**2)
                to_roof = self.middle[-1] + self.height[-1] / 2 - self.middle[i]
                outside = -G * (self.rho["outdoor"][0] - self.rho["floor"][0]) * to_roof
            else:
                outside = self.bearing(i, given.faces_deg, max)
            self.leak(("floor", i), None, free, 0.5, -outside, coefficient=1.0)

    def riser(self):
        given, levels = self.site.riser, [storey.level for storey in self.site.storeys]
        if given is None:
            return
        for supply in self.site.supplies:
            i, zeta = levels.index(supply.level), supply.outlet_loss_coefficient
            free = self.leaks.discharge_coefficient * supply.outlet_area_m2 if zeta is None else supply.outlet_area_m2 / np.sqrt(zeta)
            self.leak(("stair", i), ("riser", i), free, 0.5, coefficient=1.0)
        for i in range(self.count - 1):
            self.upward("riser", i, given.storey_loss_flow_m3_s / np.sqrt(2 * given.storey_loss_pa / 1.2), 0.5, 1.0)

    def second(self):
        given, levels, leaks = self.site.second_shaft, [storey.level for storey in self.site.storeys], self.leaks
        if given is None:
            return
        lift = given.kind == "lift"
        factor = leaks.between_storeys_factor if lift else leaks.stair_side_factor
        ratio = RATIOS["lift_shaft_wall"][leaks.lift_shaft_wall] if lift else RATIOS["stair_wall"][leaks.stair_wall]
        more, door = self.more["between" if lift else "stair side"], self.site.doors[given.door]
        for i, level in enumerate(levels):
            here, by_storey = ("second", i), self.c.leak_factor[0, i] * more
            self.leak(here, ("floor", i), factor * ratio * given.wall_m2 * by_storey, leaks.wall_exponent)
            self.leak(here, None, given.outside_leak_m2 * by_storey, leaks.wall_exponent, -self.faces(i).mean())
            if level in given.levels:
                self.leak(here, ("floor", i), factor * given.door_count * door.leak_area_m2 * more, leaks.door_exponent)
            if i:
                self.upward("second", i - 1, given.friction_area_m2, 0.5)
        self.leak(("second", self.count - 1), None, given.vent_area_m2, 0.5)
        i = levels.index(given.exit_level)
        gaps = factor * self.site.doors[given.exit_door].leak_area_m2 * more
        self.leak(("second", i), None, gaps, leaks.door_exponent, -self.faces(i).mean())
        rho = self.rho["outdoor"][0]
        self.paths.append((("second", levels.index(given.fan.level)), None, lambda d: -given.fan.fixed_flow_m3_s * rho, 0.0))

    def fan(self):
        fan, levels = self.site.fan, [storey.level for storey in self.site.storeys]
        curve = PchipInterpolator(fan.flows_m3_s, np.array(fan.pressures_pa) * 1.2 / (fan.curve_density_kg_m3 or 1.2))
        loss = fan.duct_loss_pa / fan.duct_loss_flow_m3_s**2
        last, s = fan.flows_m3_s[-1], self.ratio
        table = np.linspace(0.0, last, 4001)
        against = curve(table) - loss * table**2
        fall = -(curve.derivative()(last) - 2 * loss * last) / (2 * last)

        def flow(d, rho):
            met = d / (rho / 1.2)
            if met > s * s * against[0]:
                return -0.005 * last / np.sqrt(against[0]) * power(met - s * s * against[0], 0.5)
            if met < s * s * against[-1]:
                return np.sqrt(s * s * last**2 + (s * s * against[-1] - met) / fall)
            return s * np.interp(met / (s * s), against[::-1], table[::-1])

        sign = 1.0 if fan.effect == "supply" else -1.0
        places = [("stair", supply.level, supply.share) for supply in self.site.supplies]
        if self.site.riser:
            places = [("riser", self.site.riser.fan_level, 1.0)]
        for space, level, share in places:
            i = levels.index(level)
            rho = self.rho["outdoor"][0] if sign > 0 else self.rho["stair"][i]
            scale = -sign * share * self.more["fan"] * rho
            self.paths.append(((space, i), None, lambda d, scale=scale, rho=rho: scale * flow(sign * d, rho), 0.0))

    def __call__(self, pressures):
        out = np.zeros(len(self.spaces))
        for a, b, law, drive in self.paths:
            at_a, at_b = pressures[self.number[a]], 0.0 if b is None else pressures[self.number[b]]
            mass = law(at_a - at_b + drive)
            out[self.number[a]] += mass
            if b is not None:
                out[self.number[b]] -= mass
        return out

    def solved(self, first):
        found = root(self, np.full(len(self.spaces), first), method="hybr", options={"xtol": 1e-11, "maxfev": 60000})
        assert np.abs(found.fun).max() < 1e-7, "the stranger's own balance does not hold"
        return dict(zip(self.spaces, found.x, strict=True))


RELEASES = {
    "vent": {"kind": "vent", "area_m2": 0.4, "discharge_coefficient": 0.6, "faces_deg": 180.0, "levels": (1,)},
    "window": {"kind": "window", "area_m2": 0.3, "faces_deg": None, "discharge_coefficient": None, "levels": (1,)},
    "extract": {"kind": "extract", "area_m2": 0.4, "duct_loss_pa": 30.0, "duct_loss_flow_m3_s": 2.0, "levels": (1,)},
}


@pytest.fixture(scope="module")
def everything():
    """Four storeys, one below ground, with every opening that the text names."""
    lift = {"lift_shaft_wall_m2": 20.0, "lift_door": "lift landing", "lift_doors": 1}
    service = {"width_m": 1.2, "leak_area_m2": 0.05, "force_limit_n": 100.0, "minimum_dp_pa": 30.0}
    site = read_site(demo_sites()["Larkfield House"])
    doors = {"service landing": dict(site.doors["flat landing"]) | service}
    doors["lift landing"] = {"width_m": 1.1, "height_m": 2.1, "leak_area_m2": 0.06}
    lobby = {"lobby": True, "lobby_door": "flat landing", "lobby_vent_m2": 0.03}
    return site.with_changes(
        altitude_m=800.0, terrain="city", doors=doors, wind_reference_height_m=12.0, faces_deg=(20.0, 110.0, 200.0, 290.0),
        storeys=[
            {"level": -1, "final_exit_door": None, "height_m": 3.1, "wall_tightness": "tight"} | lift,
            {"level": 0, "height_m": 4.2, "final_exit_door": "street", "exit_faces_deg": 110.0, "other_stair_doors": {"service landing": 1}}
            | lift,
            {"level": 1, "lobby_vent_faces_deg": 250.0} | lobby | lift,
            {"level": 2, "final_exit_door": "street", "facade_m2": (60.0, 40.0, 60.0, 46.0)} | lobby | lift,
        ],
        supplies=[{"level": 2, "share": 0.6}, {"level": 0, "share": 0.4}],
        transmitters=[{"level": 0}, {"level": 2}], design={"open_doors": (1,), "open_exits": (0,)},
        leakage={"door_exponent": 0.6, "stair_side_factor": 1.2, "facade_factor": 0.8, "between_storeys_factor": 1.4,
                 "stair_wall": "loose"},
        stair={"relief": {"level": 1, "opens_pa": 20.0, "full_pa": 60.0}, "more_reliefs": [
            {"level": -1, "opens_pa": 10.0, "full_pa": 70.0, "area_m2": 0.3, "leak_area_m2": 0.004}]},
        lift={"plan_area_m2": 6.0, "friction_area_m2": 3.0, "vent_area_m2": 0.1},
        weather={"winter": {"wind_speed_m_s": 9.0, "wind_from_deg": 235.0}}, fan={"curve_density_kg_m3": 1.15},
    )  # fmt: skip


def both(site, speed_hz, first=30.0, **conditions):
    """(ours, stranger's) pressures, space by space."""
    condition = Conditions.of(site, **conditions)
    air = Tower(site).solve(condition, speed_hz)
    assert air.converged.all()
    stranger = Stranger(site, condition, speed_hz / site.fan.reference_speed_hz).solved(first)
    arrays = {
        "stair": air.stair_pa,
        "floor": air.floor_pa,
        "lobby": air.lobby_pa,
        "lift": air.lift_pa,
        "riser": air.duct_pa,
        "second": air.shaft_pa,
    }
    return np.array([arrays[space][0, i] for space, i in stranger]), np.array(list(stranger.values()))


OPEN = {"open_doors": (1,), "open_exits": (0,)}
FACTORS = {
    "leak_factor": np.array([0.5, 1.5, 2.0, 0.7]),
    "gap_factor": np.array([1.3, 0.8, 1.1, 1.6]),
    "kind_factor": np.array([1.2, 0.7, 1.4, 2.0, 0.8, 0.9]),
    "stair_c": np.array([[4.0, 9.0, 13.0, 17.0]]),
}


@pytest.mark.parametrize("release", RELEASES)
@pytest.mark.parametrize("conditions", [{}, OPEN, FACTORS, OPEN | FACTORS], ids=["as filed", "open", "factors", "open, factors"])
def test_the_text_alone_gives_the_helpers_pressures(everything, release, conditions):
    ours, theirs = both(everything.with_changes(release=RELEASES[release]), 35.0, **conditions)
    assert ours == pytest.approx(theirs, abs=1e-3)


def test_with_doors_shut_both_relief_dampers_are_lifting(everything):
    """Else the law of the blade would be left out of what is compared."""
    stair = Tower(everything).solve(Conditions.of(everything), 35.0).stair_pa[0]
    by_level = dict(zip([storey.level for storey in everything.storeys], stair, strict=True))
    for relief in everything.stair.reliefs:
        assert relief.opens_pa + 2 < by_level[relief.level] < relief.full_pa - 2


@pytest.mark.parametrize("exponent", [0.5, 0.6])
def test_an_exhaust_fan_draws_what_the_text_says(everything, exponent):
    site = everything.with_changes(fan={"effect": "exhaust"}, leakage={"door_exponent": exponent}, control={"action": "direct"})
    ours, theirs = both(site, 25.0, first=-30.0, open_exits=(0,))
    assert ours == pytest.approx(theirs, abs=1e-3)
    assert ours.min() < -10


RISER = {
    "riser": {"fan_level": 0, "storey_loss_pa": 4.0, "storey_loss_flow_m3_s": 3.0},
    "supplies": [
        {"level": 2, "share": 0.5, "outlet_area_m2": 0.25, "outlet_loss_coefficient": 2.4},
        {"level": 0, "share": 0.3, "outlet_area_m2": 0.2, "outlet_loss_coefficient": None},
        {"level": 2, "share": 0.2, "outlet_area_m2": 0.1, "outlet_loss_coefficient": None},
    ],
}


@pytest.mark.parametrize("effect", ["supply", "exhaust"])
@pytest.mark.parametrize("conditions", [{}, {"open_exits": (0,)} | FACTORS], ids=["as filed", "open, factors"])
def test_outlets_on_a_riser_give_what_the_text_says(everything, effect, conditions):
    action = {"supply": "reverse", "exhaust": "direct"}[effect]
    site = everything.with_changes(**RISER, fan={"effect": effect}, control={"action": action})
    ours, theirs = both(site, 35.0, first=30.0 if effect == "supply" else -30.0, **conditions)
    assert ours == pytest.approx(theirs, abs=1e-3)


@pytest.mark.parametrize("kind", ["stair", "lift"])
@pytest.mark.parametrize("conditions", [{}, {"open_exits": (0,)} | FACTORS], ids=["as filed", "open, factors"])
def test_a_second_shaft_presses_on_the_floors_as_the_text_says(everything, kind, conditions):
    """Beside the passive lift shaft. Its curve and its loop: `test_second_shaft.py`."""
    site = everything.with_changes(second_shaft={
        "kind": kind, "friction_area_m2": 3.0, "wall_m2": 40.0, "outside_leak_m2": 0.003, "vent_area_m2": 0.02, "door": "flat landing",
        "door_count": 2, "levels": (0, 2), "exit_door": "street", "exit_level": 0, "outdoor_share": 0.6,
        "fan": {"level": 1, "fixed_flow_m3_s": 1.4},
    })  # fmt: skip
    ours, theirs = both(site, 35.0, **conditions)
    assert ours == pytest.approx(theirs, abs=1e-3)
    alone, _ = both(everything, 35.0, **conditions)
    assert np.abs(ours[: len(alone)] - alone).max() > 2
