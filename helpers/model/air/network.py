"""The air network: a pressure for every space of a tower, found for many conditions at once.

Unknown: each space's pressure above the outdoor air at the same height, still air, [Pa]. In that measure the stack effect stands only
in the vertical openings of a shaft and the wind only at the outdoor side of a leak; across a door there is no height.

    sum of flows out of a space = 0        for every space: mass is conserved

How it is solved. Every opening's flow rises with its pressure difference, so there is one solution and the equations are those of a
smallest sum (of a leak with n = 0.5, written in flows: R |q|^3 / 3, which is convex; a lifting relief damper bends it). Newton's method
in pressures fails on it, because a square root turned round its zero makes it swing for ever. In flows it is gentle: each step puts a
straight line to every opening where it carries the flow of the step before, and solves the tower's linear equations; that is all. Some
such steps in single precision give the start; then steps in double precision, which touch an opening at its own pressure difference
wherever flow and difference agree already (Newton's last, quadratic part), until the balance holds. A condition that still swings after
some steps between the two sides of a kink (a backdraft damper about to shut, a relief blade about to lift) is sent half way now and
then; one that still does at the end begins anew and goes a third of the way each time, or a fifth, or a tenth. Few conditions take the
same steps on a network that is gathered for them, see `helpers.model.air.spaces`.

Shapes: arrays are [storeys, conditions]; pressures [spaces, storeys, conditions].

Openings of a tower's air network under some conditions: leaks at their densities, doors shut or open, wind, stack, dampers, fans.

Arrays are [storeys, conditions] here, densities [conditions]; that of a stair with a temperature on each storey [storeys, conditions].
Density of a leak's air is the mean of both sides; on the way from one storey to the next that of the shaft's air on the way.

How high storeys lie, and the wind that meets them there. Storeys of a site run bottom up; storey 0 stands on the ground.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas import air, leakage
from helpers.model.air.branches import DUCT
from helpers.model.air.laws import FanShare, Leak, ReliefBlade, rows_of
from helpers.model.air.second_shaft.openings import ShaftOpenings
from helpers.model.air.spaces import Network, OnStorey, Outside, Upward, quickest

__all__ = ["KINDS", "Network", "OnStorey", "Outside", "Solution", "Upward", "at_ratio", "elevation_m", "network_of", "rises_m", "solve",
           "wind_on_exits", "wind_on_faces"]  # fmt: skip

# What a building may have more or less of than its file says: leaks of the stair's own walls and doors, of the outer walls, from storey to
# storey (slabs, lift shaft), of the shut relief damper; the stair shaft's free area; the fan's flow against the same pressure.
KINDS = ("stair side", "facade", "between storeys", "relief damper", "stair shaft", "fan")

RELATIVE_TOLERANCE = 1e-8  # of the total supply
ABSOLUTE_TOLERANCE_KG_S = 1e-9  # for towers without supply: a cubic millimetre of air a second
MOST_STEPS = 90
CALM = 15  # steps after which every third goes half way
GENTLE = ((1 / 3, 300), (1 / 5, 300), (1 / 10, 1000))  # share of the way, and steps, of what then still swings, one after the other
LEAVE = 0.3  # share of conditions in balance from which on only the others go on
# Made and dropped at once: it teaches the C library to keep freed memory of this size for the next array instead of handing it back to
# the system page by page, which costs a quarter of the time (measured on Linux; elsewhere it does nothing).
np.empty(3_900_000)
BESIDE = 1e-3  # of a damper's leak: what its blade still passes where a leak stands for it; a law that passes nothing has no inverse
AGREE = 0.2  # straight line and law differ by less than this share of the flow: touch the law at its own pressure difference


@dataclass
class Solution:
    """Pressures and, per condition, whether to believe them.

    pressure [spaces, storeys, conditions], Pa. converged: every balance held. steps: linear solves used.
    residual_kg_s: largest imbalance of any space. supply_kg_s: sum of what the fans bring (or take).
    """

    pressure: np.ndarray
    converged: np.ndarray
    steps: np.ndarray
    residual_kg_s: np.ndarray
    supply_kg_s: np.ndarray

    def record(self, rows, pressure, converged, steps, residual, supply):
        self.pressure[..., rows] = pressure
        self.converged[rows], self.steps[rows] = converged, steps
        self.residual_kg_s[rows], self.supply_kg_s[rows] = residual, supply

    def record_from(self, other, chosen, rows):
        """Take over the chosen conditions of another solution as these rows."""
        self.record(rows, other.pressure[..., chosen], other.converged[chosen], other.steps[chosen],
                    other.residual_kg_s[chosen], other.supply_kg_s[chosen])  # fmt: skip


def solve(network):
    """Find all pressures of a network.

    Returns a `Solution`; it never raises for a condition that does not converge, `converged` says so.
    """
    solution = quickest(_solve, network)
    for share, most_steps in GENTLE:
        left = np.flatnonzero(~solution.converged)
        if not left.size:
            break
        with np.errstate(all="ignore"):  # what runs away here stays without an answer, as it was
            again = _solve(network.take(left), share, most_steps)
        solution.record_from(again, again.converged, left[again.converged])
    return solution


def _solve(network, share=None, most_steps=MOST_STEPS):
    """A `Solution`; share: of the way to the new pressures that every step goes after the calm ones, None: half of it now and then."""
    solution, rows = empty_solution(network), np.arange(network.conditions)
    lines, pressure = start(network)
    for step in range(network.start_steps, most_steps + 1):
        lines, balance, supply, _ = touch(network, lines, pressure)
        good = balanced(balance, supply)
        last = good.all() or step == most_steps
        if last or good.sum() > LEAVE * good.size:
            done, left = np.flatnonzero(good | last), np.flatnonzero(~good)
            solution.record(rows[done], pressure[..., done], good[done], step, balance[done], supply[done])
            if last:
                return solution
            rows, network, pressure = rows[left], network.take(left), pressure[..., left]
            lines = [tuple(rows_of(part, left) for part in line) for line in lines]
        new = equations(network, lines).solved()[0]
        goes = (0.5 if step % 3 == 0 else 1.0) if share is None else share
        pressure = (1 - goes) * pressure + goes * new if step > CALM and goes < 1 else new


def start(network):
    """Some steps in flows alone, in single precision where conditions are many, from the same pressure difference at every opening."""
    rough = network.single()
    sides, lines = rough.sides(rough.zeros(np.float32)), []
    for opening in rough.openings:
        guess = np.full_like(opening.difference(sides), opening.usual_pa)
        lines.append(opening.law.tangent(opening.law.at(guess)[0], guess))
    pressure = equations(rough, lines, np.float32).solved()[0]
    for _ in range(network.start_steps - 1):
        sides = rough.sides(pressure)
        for i, opening in enumerate(rough.openings):
            slope, intercept = lines[i]
            difference = opening.difference(sides)
            lines[i] = opening.law.tangent(intercept + slope * difference, difference)
        pressure = equations(rough, lines, np.float32).solved()[0]
    return lines, pressure.astype(float)


def equations(network, lines, kind=float):
    """The linear equations of the openings' straight lines."""
    filled = network.equations(kind)
    for opening, (slope, intercept) in zip(network.openings, lines, strict=True):
        opening.enter(filled, slope, intercept)
    return filled


def balanced(balance, supply):
    """Whether the largest imbalance of any space is small beside the supply."""
    return balance <= RELATIVE_TOLERANCE * supply + ABSOLUTE_TOLERANCE_KG_S


def touch(network, lines, pressure):
    """Touch the laws anew.

    Returns the lines, how far the true flows at these pressures are from balance, the supply, and where the fans' lines touch.
    """
    sides, tally = network.sides(pressure), network.tally()
    supply, touched, fans_at = np.zeros(network.conditions), [], []
    for opening, (slope, intercept) in zip(network.openings, lines, strict=True):
        difference = opening.difference(sides)
        flow, true_slope = opening.law.at(difference)
        opening.balance(flow, tally)
        if opening.law.feeds:
            supply += np.abs(flow).sum(axis=0)
        straight = slope * difference
        straight += intercept
        touched.append(_line(opening.law, flow, true_slope, difference, straight))
        if opening.law.turns:
            fans_at.append(difference)
    out = network.imbalance(tally)
    return touched, np.maximum(out.max(axis=(0, 1)), -out.min(axis=(0, 1))), supply, fans_at


def _line(law, flow, slope, difference, straight):
    """The law's own tangent where straight line and law agree, else a tangent nearer to where the flow is; `difference` moves there."""
    straight -= flow
    apart = np.abs(straight) > AGREE * np.abs(flow)
    apart &= np.abs(difference) > law.straight_below_pa
    intercept = flow - slope * difference
    places = np.flatnonzero(apart)
    if places.size:
        part = law.where(apart.shape, places)
        point = part.point((straight.ravel()[places] + flow.ravel()[places])[None], difference.ravel()[places][None])
        flow_there, slope_there = part.at(point)
        difference.ravel()[places] = point[0]
        slope.ravel()[places] = slope_there[0]
        intercept.ravel()[places] = (flow_there - slope_there * point)[0]
    return slope, intercept


def empty_solution(network):
    """A solution of the network's shape with nothing found yet, for `Solution.record` to fill."""
    count = network.conditions
    return Solution(network.zeros(), np.zeros(count, bool), np.zeros(count, int), np.zeros(count), np.zeros(count))


def at_ratio(network, ratio):
    """The same network with its fans at another speed ratio, one per condition."""
    openings = [replace(o, law=replace(o.law, ratio=ratio[None, :])) if o.law.fan else o for o in network.openings]
    return replace(network, openings=openings)


def rises_m(storeys):
    """Height from the middle of each storey to the middle of the next [storeys - 1], m."""
    heights = np.array([storey.height_m for storey in storeys])
    return (heights[1:] + heights[:-1]) / 2


def elevation_m(storeys):
    """Middle of each storey above the ground [storeys], m; below zero in a basement."""
    heights = np.array([storey.height_m for storey in storeys])
    return np.cumsum(heights) - heights / 2 - sum(storey.height_m for storey in storeys if storey.level < 0)


def wind_on_faces(site, conditions, bearings_deg, density_kg_m3):
    """Wind pressure on faces that look to some bearings [faces, storeys, conditions], Pa; none below ground.

    conditions: with wind_speed_m_s and wind_from_deg [conditions]; density_kg_m3 of the outdoor air [conditions].
    """
    height = np.maximum(elevation_m(site.storeys), 0.0)[:, None]
    speed = air.wind_speed_at_height(conditions.wind_speed_m_s, height, site.terrain, height_met_m=site.wind_reference_height_m)
    cp = air.face_pressure_coefficients(conditions.wind_from_deg, np.reshape(bearings_deg, (-1, 1)), site.pressure_coefficients)
    return cp[:, None, :] * air.velocity_pressure(speed, density_kg_m3)


def wind_on_exits(site, conditions, density_kg_m3):
    """Wind pressure on each storey's final exit [storeys, conditions], Pa; NaN where the site does not say where it looks to."""
    blows = np.full((len(site.storeys), len(conditions)), np.nan)
    for bearing in {storey.exit_faces_deg for storey in site.storeys} - {None}:
        places = [place for place, storey in enumerate(site.storeys) if storey.exit_faces_deg == bearing]
        blows[places] = wind_on_faces(site, conditions, [bearing], density_kg_m3)[0, places]
    return blows


def network_of(tower, conditions, ratio):
    """The air network of a tower under conditions, fans at speed ratios [conditions]."""
    built = _Openings(tower, conditions)
    return Network(len(tower.spaces), len(tower.levels), len(conditions), [*built.leaks(), *built.fans(ratio)])


class _Openings(ShaftOpenings):
    def __init__(self, tower, conditions):
        self.tower, self.site, self.conditions = tower, tower.site, conditions
        temperatures = np.array([conditions.outdoor_c, conditions.floor_c, conditions.lobby_c, conditions.lift_c])
        densities = air.density(temperatures, tower.pressure_pa)
        self.density = dict(zip(("outdoor", "floor", "lobby", "lift"), densities, strict=True))
        self.density["stair"] = air.density(conditions.stair_c, tower.pressure_pa).T
        if tower.second is not None:
            self.density["shaft"] = tower.second.density(conditions, self.density, tower.pressure_pa)
        # by kind [1, conditions], 1 where there is as much of it as the file says
        self.more = {kind: 1.0 if (by == 1).all() else by[None] for kind, by in zip(KINDS, conditions.kind_factor.T, strict=True)}
        self.walls = conditions.leak_factor.T
        self.winds = wind_on_faces(self.site, conditions, self.site.faces_deg, self.density["outdoor"])
        self.mean_wind = self.exit_wind = self.winds.mean(axis=0)
        if any(storey.exit_faces_deg is not None for storey in self.site.storeys):
            at_exits = wind_on_exits(self.site, conditions, self.density["outdoor"])
            self.exit_wind = np.where(np.isnan(at_exits), self.mean_wind, at_exits)

    def leaks(self):
        return [*self._doors(), *self._walls(), *self._facade(), *self._shafts(), *self._lift(), *self._relief(), *self._release(),
                *self._lobby_vents(), *self._branches(), *self.second_shaft()]  # fmt: skip

    def fans(self, ratio):
        # A supply fan breathes outdoor air, an exhaust fan the stair's.
        inlet, count = self.density["outdoor" if self.tower.effect > 0 else "stair"], len(self.tower.levels)
        density = np.broadcast_to(inlet, (count, len(self.conditions)))
        still, ratio = np.zeros((1, len(self.conditions))), np.asarray(ratio, float)[None, :]
        space = self._number(self.tower.fan_space)
        for i, share in self.tower.fan_at:
            law = FanShare(self.tower.curve, share * self.more["fan"], self.tower.effect, ratio, density[i : i + 1])
            yield Outside(space, law, still, i, i + 1)

    def _doors(self):
        leaks, c, with_lobby = self.tower.leaks, self.conditions, self.tower.lobby[:, None]
        more = self.more["stair side"] if (c.gap_factor == 1).all() else self.more["stair side"] * c.gap_factor.T
        for leak, exponent in leaks.stair_doors.opened(c.stair_door_open.T, more):
            yield from self._between("stair", "lobby", leak * with_lobby, exponent)
            yield from self._between("stair", "floor", leak * ~with_lobby, exponent)
        for leak, exponent in leaks.lobby_doors.opened(c.lobby_door_open.T, more) if with_lobby.any() else ():
            yield from self._between("lobby", "floor", leak, exponent)
        for leak, exponent in leaks.final_exits.opened(c.final_exit_open.T, more):
            yield from self._out("stair", leak, exponent, self.exit_wind)

    def _walls(self):
        leaks, exponent, walls = self.tower.leaks, self.site.leakage.wall_exponent, self.walls * self.more["stair side"]
        yield from self._between("stair", "floor", leaks.inner_wall * walls, exponent)
        yield from self._out("stair", leaks.outer_wall * walls, exponent, self.mean_wind)

    def _facade(self):
        faces, exponent, walls = self.tower.leaks.faces, self.site.leakage.wall_exponent, self.walls * self.more["facade"]
        windy = np.ptp(self.winds, axis=0).any()
        for leak, wind in zip(faces, self.winds, strict=True) if windy else [(sum(faces), self.mean_wind)]:  # no wind: faces are one
            yield from self._out("floor", leak * walls, exponent, wind)

    def _shafts(self):
        if len(self.tower.levels) == 1:
            return
        for space, free in self.tower.leaks.shafts.items():
            yield self._upward(space, free * self.more["stair shaft"] if space == "stair" else free, 0.5)
        if self.tower.leaks.slabs.any():
            slabs = self.tower.leaks.slabs * self.walls[1:] * self.more["between storeys"]
            yield self._upward("floor", slabs, self.site.leakage.wall_exponent)

    def _lift(self):
        if not self.site.lift:
            return
        leaks, given, more = self.tower.leaks, self.site.leakage, self.more["between storeys"]
        yield from self._between("floor", "lift", leaks.lift_wall * self.walls * more, given.wall_exponent)
        yield from self._between("floor", "lift", leaks.landings.shut * more, leaks.landings.exponent)
        top, still = len(self.tower.levels) - 1, np.zeros((1, len(self.conditions)))
        yield from self._out("lift", leaks.lift_vent, 0.5, still, top, top + 1)

    def _relief(self):
        more = self.more["relief damper"]
        for relief, (closed, opened) in zip(self.site.stair.reliefs, self.tower.leaks.reliefs, strict=True):
            i = self.tower.storey(relief.level)
            density = np.broadcast_to(self._mean_density("stair", "outdoor"), (len(self.tower.levels), len(self.conditions)))
            root = np.sqrt(density[i : i + 1])
            if np.ndim(more):  # the blade's law has one leak for all conditions: here it leaks nothing, and a leak of each lies beside it
                tight = closed * BESIDE
                yield Outside(self._number("stair"), Leak(closed * more * root, 0.5), self.mean_wind[i : i + 1], i, i + 1)
                closed, opened = tight, max(opened - closed, tight)
            law = ReliefBlade(closed, opened, relief.opens_pa, relief.full_pa, root)
            yield Outside(self._number("stair"), law, self.mean_wind[i : i + 1], i, i + 1)

    def _release(self):
        """Air release of the floors, where any stands open: the site's kind of it, or a plain opening where the site has none."""
        area, given = self.conditions.release_m2.T, self.site.release
        if not area.any():
            return
        free = area * (self.site.leakage.discharge_coefficient if given is None else given.coefficient(self.site.leakage))
        if given is not None and given.kind == "extract":  # its outlet stands over the roof, in no wind; the warm duct draws
            free = leakage.in_series([free, np.full(free.shape, given.duct_area_m2)], axis=0)
            rise = (elevation_m(self.site.storeys) + self.tower.heights_m / 2)[-1] - elevation_m(self.site.storeys)
            against = -air.GRAVITY_M_S2 * (self.density["outdoor"] - self.density["floor"]) * rise[:, None]
        elif given is None or given.faces_deg is None:
            against = self.winds.max(axis=0)  # nobody says where it looks to: the face that the wind is hardest on
        else:
            against = wind_on_faces(self.site, self.conditions, [given.faces_deg], self.density["outdoor"])[0]
        yield from self._out("floor", leakage.flow_coefficient(free, 1.0, 1.0, 0.5), 0.5, against)

    def _lobby_vents(self):
        """Vents of lobbies, always open, orifices with the discharge coefficient of the building's leaks: q = C A sqrt(2 rho dp)."""
        if self.tower.leaks.lobby_vents is None:
            return
        against = self.winds.max(axis=0)  # nobody says where it looks to: the face that the wind is hardest on, as of a release
        for place, storey in enumerate(self.site.storeys):
            if storey.lobby_vent_faces_deg is not None:
                faces = [storey.lobby_vent_faces_deg]
                against[place] = wind_on_faces(self.site, self.conditions, faces, self.density["outdoor"])[0, place]
        yield from self._out("lobby", self.tower.leaks.lobby_vents, 0.5, against)

    def _branches(self):
        if self.tower.branches is None:
            return []
        self.density[DUCT] = self.density["outdoor" if self.tower.effect > 0 else "stair"]
        ends = self._number("stair"), self._number(DUCT)
        return self.tower.branches.openings(*ends, self._mean_density("stair", DUCT), *self._on_the_way(DUCT))

    def _between(self, a, b, leak, exponent):
        if leak.any():
            yield OnStorey(self._number(a), self._number(b), self._law(leak, a, b, exponent))

    def _out(self, a, leak, exponent, wind, first=None, last=None):
        if leak.any():
            yield Outside(self._number(a), self._law(leak, a, "outdoor", exponent), wind, first, last)

    def _upward(self, space, leak, exponent):
        density, lift = self._on_the_way(space)
        return Upward(self._number(space), Leak(leak * np.sqrt(density), exponent), lift)

    def _on_the_way(self, space):
        """Density of a shaft's air between storeys, and the stack that it draws."""
        density = self.density[space]
        if density.ndim == 2:  # half a storey of the one air, half a storey of the next
            half = self.tower.heights_m[:, None] / 2
            density = (density[:-1] * half[:-1] + density[1:] * half[1:]) / self.tower.rises_m[:, None]
        return density, air.GRAVITY_M_S2 * (self.density["outdoor"] - density) * self.tower.rises_m[:, None]

    def _law(self, leak, a, b, exponent):
        """Mass flow: density times C A sqrt(2 / density) is C A sqrt(2) times the root of the density."""
        return Leak(leak * np.sqrt(self._mean_density(a, b)), exponent)

    def _mean_density(self, a, b):
        return 0.5 * (self.density[a] + self.density[b])

    def _number(self, space):
        return self.tower.spaces.index(space)
