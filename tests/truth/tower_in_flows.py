"""A tower's air once more, by another method and from the physics alone, to hold the helpers' network against. Used by tests only.

Taken from the helpers: the figures of the site file, nothing else. Written here anew:

    air             rho = p / (287.042 T), p = 101325 (1 - 2.25577e-5 Z)^5.2559 at the site's altitude Z      [ICAO; ASHRAE, memory]
    leak            q = C A sqrt(2 rho) ref^(0.5 - n) f(dp), f = dp (dp^2 + e^2)^((n - 1) / 2), e = 0.01 Pa; rho the mean of both sides.
                    With `smoothing_pa` zero f is the bare power law |dp|^n of the books                      [ASHRAE Fundamentals ch. 16]
    door            gaps of the shut leaves with the site's n; a doorway is an orifice, n = 0.5, and takes one leaf's gaps with it
                    [ASHRAE HVAC Applications, fire and smoke chapter, memory]
    stack           a shaft's air gains g (rho_outdoors - rho_shaft) from the middle of one storey to the middle of the next
    wind            V (270 / 10)^0.14 (h / d)^a at height h, dynamic pressure times the coefficient of the face
                    [(Cw + Cl) |cos|^1/2 + (Cw - Cl) sign(cos) |cos|^3/4 + 2 Cs sin^4] / 2                   [Walker and Wilson; memory]
    relief damper   a leak whose area grows with s^2 (3 - 2 s) from shut to open, s from 0 to 1 over the lifting pressures
    fan             a straight line from shut-off to the end of its curve, P = (rho / 1.2) s^2 p(Q / s) at the speed ratio s; beyond the end
                    the square law that goes on with the line's slope; backwards the shut damper's leak of 0.005 Qmax / sqrt(pmax)

Method. The helpers look for pressures, whose flows then balance. Here the flows are looked for: a spanning tree of the openings is chosen,
the flow of every opening off the tree is an unknown, those of the tree follow from the balances, which so hold exactly. Round every
loop that such an opening closes the pressure drops must add up to nothing; scipy's least squares drives these sums to zero.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares

OUTDOORS = ("outdoors",)
TERRAINS = {"city": (0.33, 460.0), "suburban": (0.22, 370.0), "open": (0.14, 270.0), "water": (0.10, 210.0)}
COEFFICIENTS = {"ashrae_low_rise": (0.6, -0.3, -0.65), "en1991_tall": (0.8, -0.7, -0.8)}  # windward, leeward, side
SHAFTS = {"tight": (0.14e-4, 0.18e-3), "average": (0.11e-3, 0.84e-3), "loose": (0.35e-3, 0.18e-2)}  # stair, lift
FACADES = {
    "ashrae_1999": {"tight": 0.70e-4, "average": 0.21e-3, "loose": 0.42e-3, "very_loose": 0.13e-2},
    "nfpa92_2012": {"tight": 0.50e-4, "average": 0.17e-3, "loose": 0.35e-3, "very_loose": 0.12e-2},
}
SLAB = 0.52e-4
OPEN_LEAF = 0.65  # discharge coefficient of an open door


class PowerLaw:
    """Openings that obey one exponent: from mass flow to pressure drop."""

    def __init__(self, coefficient, exponent, smoothing_pa):
        self.k, self.n, self.e = np.asarray(coefficient, float), exponent, smoothing_pa

    def drop(self, flow):
        """Pressure drop and its slope by the flow."""
        y = np.abs(flow) / self.k
        x = np.maximum(y, 1e-14) ** (1 / self.n)
        for _ in range(0 if self.n == 1 or self.e == 0 else 9):  # from below up a concave curve: never beyond
            x = x + (y - self._flow(x)) / self._slope(x)
        return np.copysign(x, flow), 1 / (self.k * self._slope(x))

    def _flow(self, x):
        return x * (x * x + self.e**2) ** ((self.n - 1) / 2)

    def _slope(self, x):
        square = x * x + self.e**2
        return square ** ((self.n - 3) / 2) * (self.n * x * x + self.e**2)


class ReliefDamper:
    """Coefficients shut and open, lifting between two pressures; the drop is found by halving."""

    def __init__(self, shut, opened, opens_pa, full_pa, smoothing_pa):
        self.k, self.shut, self.opened, self.opens, self.full = shut, shut, opened, opens_pa, full_pa
        self.bare = PowerLaw(1.0, 0.5, smoothing_pa)

    def drop(self, flow):
        low, high, middle = -1e5, 1e5, 0.0
        while high - low > 1e-12 + 1e-14 * abs(middle):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self._flow(middle)[0] < flow else (low, middle)
        return middle, 1 / self._flow(middle)[1]

    def usual_flow(self):
        """Flow to set out from."""
        return 5.0 * self.shut

    def _flow(self, dp):
        s = min(max((dp - self.opens) / (self.full - self.opens), 0.0), 1.0)
        k, growth = self.shut + (self.opened - self.shut) * s * s * (3 - 2 * s), 6 * s * (1 - s) / (self.full - self.opens)
        f = self.bare._flow(dp)
        return k * f, k * self.bare._slope(dp) + (self.opened - self.shut) * growth * f


class StraightFan:
    """A share of a fan between stair and outdoors; flow counts out of the stair."""

    def __init__(self, fan, share, density, ratio, smoothing_pa):
        (self.most, self.end), self.reach = fan.pressures_pa, fan.flows_m3_s[-1]
        self.sign, self.scale, self.ratio = (1.0 if fan.effect == "supply" else -1.0), share * density, max(ratio, 1e-3)
        self.head, self.k = density / 1.2, share * self.reach
        self.fall_at_end = (self.most - self.end) / self.reach
        self.damper = PowerLaw(0.005 * self.reach / np.sqrt(self.most), 0.5, smoothing_pa)

    def drop(self, flow):
        against, slope = self._pressure(-self.sign * flow / self.scale)
        return self.sign * self.head * against, -self.head * slope / self.scale

    def usual_flow(self):
        """Flow to set out from."""
        return -0.5 * self.sign * self.scale * self.reach * self.ratio

    def _pressure(self, volume):
        s = self.ratio
        if volume < 0:
            back, slope = self.damper.drop(-volume)
            return self.most * s * s + back, -slope
        if volume <= self.reach * s:
            return self._on_the_curve(volume)
        runout = self.fall_at_end / (2 * self.reach)
        return self.end * s * s - runout * (volume**2 - (self.reach * s) ** 2), -2 * runout * volume

    def _on_the_curve(self, volume):
        return self.most * self.ratio**2 - self.fall_at_end * self.ratio * volume, -self.fall_at_end * self.ratio


class CurvedFan(StraightFan):
    """The same with a curve through many points: `pressure(flow)` and `slope(flow)` at the reference speed."""

    def __init__(self, fan, share, density, ratio, smoothing_pa, pressure, slope):
        self.of, self.slope = pressure, slope
        super().__init__(_Ends(fan, pressure), share, density, ratio, smoothing_pa)
        self.fall_at_end = -float(slope(self.reach))

    def _on_the_curve(self, volume):
        q = volume / self.ratio
        return self.of(q) * self.ratio**2, self.slope(q) * self.ratio


class _Ends:
    def __init__(self, fan, pressure):
        self.flows_m3_s, self.effect = fan.flows_m3_s, fan.effect
        self.pressures_pa = (float(pressure(0.0)), float(pressure(fan.flows_m3_s[-1])))


@dataclass
class FlowTower:
    """The openings of one site under one condition. weather: outdoor_c, stair_c, floor_c, lobby_c, lift_c, wind_speed_m_s, wind_from_deg;
    open_doors, open_exits: share of a leaf by storey; leak_factor by storey."""

    site: object
    weather: dict
    ratio: float
    open_doors: np.ndarray
    open_exits: np.ndarray
    leak_factor: np.ndarray
    smoothing_pa: float = 0.01
    fan: type = StraightFan
    edges: list = field(default_factory=list)  # (from, to, coefficient, exponent or law, drive)

    def __post_init__(self):
        pressure = 101325 * (1 - 2.25577e-5 * self.site.altitude_m) ** 5.2559
        self.rho = {
            name: pressure / (287.042 * (self.weather[f"{name}_c"] + 273.15)) for name in ("outdoor", "stair", "floor", "lobby", "lift")
        }
        self._storeys()
        self._shafts()
        self._devices()

    def _add(self, a, b, area, exponent, drive=0.0):
        if area <= 0:
            return
        given = self.site.leakage
        spaces = [("outdoor" if end == OUTDOORS else end[0]) for end in (a, b)]
        density = 0.5 * (self.rho[spaces[0]] + self.rho[spaces[1]])
        k = given.discharge_coefficient * area * np.sqrt(2 * density) * given.reference_pa ** (0.5 - exponent)
        self.edges.append((a, b, k, exponent, drive))

    def _add_doors(self, a, b, name, count, share, drive=0.0):
        """Doors of a kind, of which one leaf stands open by a share. Ends alike and n = 0.5 in both: one edge, for the time it saves."""
        if name is None or count == 0:
            return
        door, n = self.site.doors[name], self.site.leakage.door_exponent
        wide = (door.open_area_m2 or door.width_m * door.height_m) * OPEN_LEAF / self.site.leakage.discharge_coefficient
        gaps = door.leak_area_m2 * (count - share)
        if n == 0.5:
            self._add(a, b, gaps + max(wide, door.leak_area_m2) * share, 0.5, drive)
        else:
            self._add(a, b, gaps, n, drive)
            self._add(a, b, wide * share, 0.5, drive)

    def _storeys(self):
        site, given = self.site, self.site.leakage
        inner = SHAFTS[given.stair_wall][0]
        self.winds = self._winds()
        for i, storey in enumerate(site.storeys):
            stair, floor, lobby = ("stair", i), ("floor", i), ("lobby", i)
            self._add_doors(stair, lobby if storey.lobby else floor, storey.stair_door, storey.stair_door_count, self.open_doors[i])
            if storey.lobby:
                self._add_doors(lobby, floor, storey.lobby_door, 1, self.open_doors[i])
            mean, leaky = -self.winds[:, i].mean(), self.leak_factor[i]
            self._add_doors(stair, OUTDOORS, storey.final_exit_door, 1, self.open_exits[i], mean)
            self._add(stair, floor, (storey.stair_wall_m2 - storey.stair_outside_wall_m2) * inner * leaky, given.wall_exponent)
            self._add(stair, OUTDOORS, storey.stair_outside_wall_m2 * inner * leaky, given.wall_exponent, mean)
            facade = FACADES[given.edition][storey.wall_tightness or given.exterior_wall]
            for face in range(4):
                area = (storey.facade_m2[face] * facade + storey.extra_leak_m2 / 4) * leaky
                self._add(floor, OUTDOORS, area, given.wall_exponent, -self.winds[face, i])
            if site.lift:
                lift = ("lift", i)
                self._add(floor, lift, storey.lift_shaft_wall_m2 * SHAFTS[given.lift_shaft_wall][1] * leaky, given.wall_exponent)
                self._add_doors(floor, lift, storey.lift_door, storey.lift_doors, 0.0)

    def _shafts(self):
        site, given = self.site, self.site.leakage
        for i in range(1, len(site.storeys)):
            rise = 0.5 * (site.storeys[i - 1].height_m + site.storeys[i].height_m)
            lift = {space: 9.80665 * (self.rho["outdoor"] - self.rho[space]) * rise for space in ("stair", "floor", "lift")}
            self._add(("stair", i - 1), ("stair", i), site.stair.friction_area_m2, 0.5, lift["stair"])
            slab = site.storeys[i].floor_area_m2 * SLAB * self.leak_factor[i]
            self._add(("floor", i - 1), ("floor", i), slab, given.wall_exponent, lift["floor"])
            if site.lift:
                self._add(("lift", i - 1), ("lift", i), site.lift.friction_area_m2, 0.5, lift["lift"])
        if site.lift:
            self._add(("lift", len(site.storeys) - 1), OUTDOORS, site.lift.vent_area_m2, 0.5)

    def _devices(self):
        site, levels = self.site, [storey.level for storey in self.site.storeys]
        relief = site.stair.relief
        if relief:
            i = levels.index(relief.level)
            scale = site.leakage.discharge_coefficient * np.sqrt(self.rho["stair"] + self.rho["outdoor"])
            law = ReliefDamper(
                scale * max(relief.leak_area_m2, 1e-6), scale * relief.area_m2, relief.opens_pa, relief.full_pa, self.smoothing_pa
            )
            self.edges.append((("stair", i), OUTDOORS, law.k, law, -self.winds[:, i].mean()))
        breathes = self.rho["outdoor" if site.fan.effect == "supply" else "stair"]
        if site.riser:
            self._riser(levels, breathes)
        for supply in () if site.riser else site.supplies:
            law = self.fan(site.fan, supply.share, breathes, self.ratio, self.smoothing_pa)
            self.edges.append((("stair", levels.index(supply.level)), OUTDOORS, law.k, law, 0.0))

    def _riser(self, levels, breathes):
        """The fan into the riser, the riser from storey to storey, outlets into the stair; its air is that of the fan's inlet."""
        site, riser = self.site, self.site.riser
        law = self.fan(site.fan, 1.0, breathes, self.ratio, self.smoothing_pa)
        self.edges.append((("duct", levels.index(riser.fan_level)), OUTDOORS, law.k, law, 0.0))
        for i in range(1, len(levels)):  # dp = loss (rho / 1.2) (q / q0)^2, m = rho q
            rise = 0.5 * (site.storeys[i - 1].height_m + site.storeys[i].height_m)
            k = riser.storey_loss_flow_m3_s * (1.2 * breathes / riser.storey_loss_pa) ** 0.5
            self.edges.append((("duct", i - 1), ("duct", i), k, 0.5, 9.80665 * (self.rho["outdoor"] - breathes) * rise))
        for supply in site.supplies:  # dp = zeta rho / 2 (q / area)^2
            i, zeta = levels.index(supply.level), supply.outlet_loss_coefficient or site.leakage.discharge_coefficient**-2
            k = supply.outlet_area_m2 * (2 * 0.5 * (breathes + self.rho["stair"]) / zeta) ** 0.5
            self.edges.append((("duct", i), ("stair", i), k, 0.5, 0.0))

    def _winds(self):
        """Wind pressure of the four faces [faces, storeys]."""
        site = self.site
        heights = np.array([storey.height_m for storey in site.storeys])
        middle = np.cumsum(heights) - heights / 2 - sum(s.height_m for s in site.storeys if s.level < 0)
        exponent, depth = TERRAINS[site.terrain]
        share = np.minimum(np.maximum(middle, 0.0) / depth, 1.0) ** exponent
        speed = self.weather["wind_speed_m_s"] * (270 / site.wind_reference_height_m) ** 0.14 * share
        windward, leeward, side = COEFFICIENTS[site.pressure_coefficients]
        cos = np.cos(np.deg2rad(self.weather["wind_from_deg"] - np.array(site.faces_deg)))[:, None]
        along = (windward + leeward) * np.abs(cos) ** 0.5 + (windward - leeward) * np.sign(cos) * np.abs(cos) ** 0.75
        return 0.5 * (along + 2 * side * (1 - cos**2) ** 2) * 0.5 * self.rho["outdoor"] * speed**2

    def solve(self):
        """Pressure of every space by (name, storey), and the mass flow of every edge."""
        nodes = {end: i for i, end in enumerate(dict.fromkeys(e for edge in self.edges for e in edge[:2] if e != OUTDOORS))}
        incidence = np.zeros((len(nodes), len(self.edges)))
        for j, (a, b, *_) in enumerate(self.edges):
            if a != OUTDOORS:
                incidence[nodes[a], j] = 1.0
            if b != OUTDOORS:
                incidence[nodes[b], j] = -1.0
        tree = _widest_tree(self.edges)
        chords = [j for j in range(len(self.edges)) if j not in set(tree)]
        loops = np.zeros((len(self.edges), len(chords)))  # flow of every edge by the flow of each edge off the tree
        loops[chords, range(len(chords))] = 1.0
        loops[tree] = -np.linalg.solve(incidence[:, tree], incidence[:, chords])
        drives = np.array([edge[4] for edge in self.edges])
        laws = _Drops(self.edges, self.smoothing_pa)
        for method, steps in (("lm", 60), ("dogbox", 400)):  # the second is slower, and gets past the kink of a shut damper
            found = self._close(loops, laws, drives, method, steps)
            self.left_over_pa = np.abs(found.fun).max()
            if self.left_over_pa < 1e-9:
                break
        flow = loops @ found.x
        pressure = np.linalg.solve(incidence[:, tree].T, laws(flow)[0][tree] - drives[tree])
        return {end: pressure[i] for end, i in nodes.items()}, flow

    @staticmethod
    def _close(loops, laws, drives, method, steps):
        """Flows off the tree that close the loops, from those of straight lines."""
        slope, intercept = laws.lines()
        start = np.linalg.solve(loops.T @ (loops * slope[:, None]), loops.T @ (drives - intercept))
        return least_squares(
            lambda q: loops.T @ (laws(loops @ q)[0] - drives),
            start,
            lambda q: loops.T @ (loops * laws(loops @ q)[1][:, None]),
            method=method,
            x_scale="jac",
            xtol=1e-15,
            ftol=1e-15,
            gtol=1e-15,
            max_nfev=steps,
        )


class _Drops:
    """Drop and slope of all edges at once."""

    def __init__(self, edges, smoothing_pa):
        self.count, self.single = len(edges), [(j, edge[3]) for j, edge in enumerate(edges) if not isinstance(edge[3], float)]
        self.groups = []
        for exponent in {edge[3] for edge in edges if isinstance(edge[3], float)}:
            rows = np.array([j for j, edge in enumerate(edges) if edge[3] == exponent])
            self.groups.append((rows, PowerLaw([edges[j][2] for j in rows], exponent, smoothing_pa)))

    def lines(self):
        """Slope and intercept of straight lines to set out from: leaks at 25 Pa, fans in the middle of their curve."""
        slope, intercept = np.empty(self.count), np.zeros(self.count)
        for rows, law in self.groups:
            slope[rows] = 25.0 ** (1 - law.n) / law.k
        for j, law in self.single:
            middle = law.usual_flow()
            drop, slope[j] = law.drop(middle)
            intercept[j] = drop - slope[j] * middle
        return slope, intercept

    def __call__(self, flow):
        drop, slope = np.empty(self.count), np.empty(self.count)
        for rows, law in self.groups:
            drop[rows], slope[rows] = law.drop(flow[rows])
        for j, law in self.single:
            drop[j], slope[j] = law.drop(flow[j])
        return drop, slope


def _widest_tree(edges):
    """Numbers of the edges of a spanning tree, the widest openings first."""
    group, tree = {}, []

    def root(end):
        while group.get(end, end) != end:
            end = group[end]
        return end

    for j in sorted(range(len(edges)), key=lambda j: -edges[j][2]):
        a, b = root(edges[j][0]), root(edges[j][1])
        if a != b:
            group[a] = b
            tree.append(j)
    return tree
