"""A site's tower: from storeys, walls, doors and fan of the site file to the air network, and from its answers back to the site's words.

Spaces of a storey: the stair, the lobby (where there is one), the lift shaft (where there is one), the floor. Openings: shut or open
doors, walls, slabs, shafts from storey to storey, the facade's four faces, a vent, a relief damper, the fan's outlets.

What is not modelled: the air that spaces store (it fills in well under a second), height across one door, the fire's own pressure,
lifts moving, gusts. Density of a leak's air is the mean of both sides; taken upstream instead, one leak's flow would differ by 2 to 3 %
at 30 K difference. The final exit and the stair's outer wall see the mean wind pressure of the four faces: the site file does not say
where they look.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import air, doors, leakage
from helpers.model import network as nets
from helpers.model.fan import FanCurve
from helpers.model.hold import STATES, Taps, hold
from helpers.model.laws import Leak, Relief, Supply

__all__ = ["Air", "HeldAir", "Tower"]

CELLS_AT_ONCE = 80_000  # storeys times conditions of one chunk: large enough to be quick, small enough for the memory


@dataclass
class Air:
    """Air in a tower, arrays [conditions, storeys] unless said otherwise; pressures [Pa] over outdoor air at the same height.

    stair_pa, floor_pa; lobby_pa and lift_pa (None where the site has none); supply_flow_m3_s [conditions, supplies] at inlet density;
    speed_hz, converged, steps, residual_kg_s, supply_kg_s [conditions].
    """

    stair_pa: np.ndarray
    floor_pa: np.ndarray
    lobby_pa: np.ndarray | None
    lift_pa: np.ndarray | None
    supply_flow_m3_s: np.ndarray
    speed_hz: np.ndarray
    converged: np.ndarray
    steps: np.ndarray
    residual_kg_s: np.ndarray
    supply_kg_s: np.ndarray
    beyond_door_pa: np.ndarray

    @property
    def door_dp_pa(self):
        """Pressure across each storey's stair door, stair less what lies behind it (lobby or floor), [conditions, storeys]."""
        return self.stair_pa - self.beyond_door_pa

    @property
    def fan_flow_m3_s(self):
        """Air the fan handles [conditions], m3/s at inlet density."""
        return self.supply_flow_m3_s.sum(axis=-1)


@dataclass
class HeldAir:
    """Air at the speed a patient controller would settle on; `state` [conditions] of texts, `reading_pa` the combined reading."""

    air: Air
    state: np.ndarray
    reading_pa: np.ndarray

    @property
    def held(self):
        return self.state == STATES[0]


class Tower:
    """The air network of a site, ready to be asked about conditions."""

    def __init__(self, site):
        self.site = site
        self.levels = [storey.level for storey in site.storeys]
        self.spaces = ["stair", "floor"]
        self.spaces += ["lobby"] if any(storey.lobby for storey in site.storeys) else []
        self.spaces += ["lift"] if site.lift else []
        heights = np.array([storey.height_m for storey in site.storeys])
        self.rises_m = (heights[1:] + heights[:-1]) / 2
        base = sum(storey.height_m for storey in site.storeys if storey.level < 0)
        self.elevation_m = np.cumsum(heights) - heights / 2 - base
        self.lobby = np.array([storey.lobby for storey in site.storeys])
        fan = site.fan
        self.curve = FanCurve.from_points(fan.flows_m3_s, fan.pressures_pa, fan.duct_loss_pa, fan.duct_loss_flow_m3_s)
        self.effect = 1.0 if fan.effect == "supply" else -1.0
        self.pressure_pa = float(air.pressure_at_altitude(site.altitude_m))

    def storey(self, level):
        """Number of a level's storey, counted from 0 at the bottom."""
        return self.levels.index(level)

    def solve(self, conditions, speed_hz):
        """Air under some conditions at given fan speeds [Hz], one for all or one per condition. Returns `Air`."""
        speed = np.broadcast_to(np.asarray(speed_hz, float), len(conditions))
        solved = []
        for part in self._chunks(conditions):
            network = self.network(conditions.rows(part), speed[part] / self.site.fan.reference_speed_hz)
            solved.append(self._air(network, nets.solve(network), speed[part]))
        return _joined(solved)

    def hold(self, conditions, set_point_pa=None, transmitters=None, rule=None, weights=None):
        """Air at the fan speed at which the combined reading meets the set point; what is not given is the site's own. `HeldAir`."""
        site, control = self.site, self.site.control
        transmitters = site.transmitters if transmitters is None else transmitters
        target = control.set_point_pa if set_point_pa is None else set_point_pa
        rule, weights = rule or control.rule, control.weights if rule is None else weights
        target = np.broadcast_to(np.asarray(target, float), len(conditions))
        limits = [speed / site.fan.reference_speed_hz for speed in (site.fan.lowest_speed_hz, site.fan.highest_speed_hz)]
        taps, solved, states, readings = self.taps(transmitters), [], [], []
        for part in self._chunks(conditions):
            network = self.network(conditions.rows(part), np.full(len(target[part]), limits[0]))
            found = hold(network, taps, rule, target[part], *limits, weights=weights)
            solved.append(self._air(nets.at_ratio(network, found.ratio), found.solution, found.ratio * site.fan.reference_speed_hz))
            states.append(np.array(STATES)[found.state])
            readings.append(found.reading_pa)
        return HeldAir(_joined(solved), np.concatenate(states), np.concatenate(readings))

    def readings(self, air_found, transmitters=None):
        """What ideal transmitters would read [conditions, transmitters], Pa."""
        transmitters = self.site.transmitters if transmitters is None else transmitters
        spaces = {"floor": air_found.floor_pa, "lobby": air_found.lobby_pa, "outdoors": 0 * air_found.stair_pa}
        storeys = [self.storey(t.level) for t in transmitters]
        return np.stack([(air_found.stair_pa - spaces[t.reference])[:, i] for t, i in zip(transmitters, storeys, strict=True)], axis=-1)

    def taps(self, transmitters):
        """Where transmitters are tapped, in the network's numbers."""
        references = tuple(None if t.reference == "outdoors" else self.spaces.index(t.reference) for t in transmitters)
        return Taps(0, np.array([self.storey(t.level) for t in transmitters]), references)

    def network(self, conditions, ratio):
        """The air network under some conditions at fan speed ratios [conditions]."""
        return _Openings(self, conditions, ratio).network()

    def _chunks(self, conditions):
        size = max(CELLS_AT_ONCE // len(self.levels), 1)
        return [slice(i, i + size) for i in range(0, len(conditions), size)]

    def _air(self, network, solution, speed_hz):
        by_space = {space: pressure.T for space, pressure in zip(self.spaces, solution.pressure, strict=True)}
        fans = [opening for opening in network.openings if opening.law.fan]
        flows = [opening.law.volume_flow(opening.difference(solution.pressure))[0] for opening in fans]
        behind = np.where(self.lobby, by_space["lobby"], by_space["floor"]) if "lobby" in by_space else by_space["floor"]
        return Air(
            by_space["stair"], by_space["floor"], by_space.get("lobby"), by_space.get("lift"), np.stack(flows, axis=-1), speed_hz,
            solution.converged, solution.steps, solution.residual_kg_s, solution.supply_kg_s, behind,
        )  # fmt: skip


class _Openings:
    """Builds the network of one chunk of conditions; arrays are [storeys, conditions] here."""

    def __init__(self, tower, conditions, ratio):
        self.tower, self.site, self.conditions, self.ratio = tower, tower.site, conditions, ratio
        spaces = ("outdoor", "stair", "floor", "lobby", "lift")
        self.density = {space: air.density(getattr(conditions, f"{space}_c"), tower.pressure_pa) for space in spaces}
        self.walls = conditions.leak_factor.T
        self.winds = self._winds()

    def network(self):
        openings = [*self._doors(), *self._walls(), *self._facade(), *self._shafts(), *self._lift(), *self._relief(), *self._fan()]
        return nets.Network(len(self.tower.spaces), len(self.tower.levels), len(self.conditions), openings)

    def _doors(self):
        behind = "lobby" if "lobby" in self.tower.spaces else "floor"
        stair = self._door_leak("stair_door", "stair_door_open", "stair", "floor")
        if behind == "floor":
            return [*self._between("stair", "floor", stair), *self._exits()]
        with_lobby = self.tower.lobby[:, None]
        lobby = self._door_leak("lobby_door", "lobby_door_open", "lobby", "floor")
        to_lobby, to_floor = self._where(with_lobby, stair), self._where(~with_lobby, stair)
        doors_found = [("stair", "lobby", to_lobby), ("stair", "floor", to_floor), ("lobby", "floor", lobby)]
        return [*(opening for found in doors_found for opening in self._between(*found)), *self._exits()]

    def _exits(self):
        exits = self._door_leak("final_exit_door", "final_exit_open", "stair", "outdoor")
        return [nets.Outside(self._number("stair"), exits, self.winds.mean(axis=0))] if exits.coefficient.any() else []

    def _walls(self):
        storeys = self.site.storeys
        inner = self._wall_area([s.stair_wall_m2 - s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        outer = self._wall_area([s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        found = self._between("stair", "floor", self._wall(inner, "stair", "floor"))
        if outer.any():
            found.append(nets.Outside(self._number("stair"), self._wall(outer, "stair", "outdoor"), self.winds.mean(axis=0)))
        return found

    def _facade(self):
        areas = np.array([storey.facade_m2 for storey in self.site.storeys]).T
        spread = np.array([storey.extra_leak_m2 for storey in self.site.storeys])[:, None] / 4
        tight = [storey.wall_tightness for storey in self.site.storeys]
        leaks = [self._wall_area(face, "exterior_wall", tight) + spread for face in areas]
        windy = np.ptp(self.winds, axis=0).any()
        faces = zip(leaks, self.winds, strict=True) if windy else [(sum(leaks), self.winds[0])]  # no wind: the four faces are one
        return [nets.Outside(self._number("floor"), self._wall(leak, "floor", "outdoor"), wind) for leak, wind in faces]

    def _shafts(self):
        found = []
        slabs = self._wall_area([storey.floor_area_m2 for storey in self.site.storeys[1:]], "floor")
        for space, part in (("stair", self.site.stair), ("lift", self.site.lift)):
            if part and len(self.tower.levels) > 1:
                free = np.full((len(self.tower.levels) - 1, 1), part.friction_area_m2)
                found.append(nets.Upward(self._number(space), self._leak(free, space, space, 0.5), self._lift_of(space)))
        if slabs.any():
            law = self._leak(slabs * self.walls[1:], "floor", "floor", self.site.leakage.wall_exponent)
            found.append(nets.Upward(self._number("floor"), law, self._lift_of("floor")))
        return found

    def _lift(self):
        if not self.site.lift:
            return []
        storeys = self.site.storeys
        wall = self._wall_area([storey.lift_shaft_wall_m2 for storey in storeys], "lift_shaft_wall")
        landings = self._column([s.lift_doors * self.site.doors[s.lift_door].leak_area_m2 if s.lift_door else 0.0 for s in storeys])
        laws = self._wall(wall, "floor", "lift"), self._door(landings, "floor", "lift")
        found = [opening for law in laws for opening in self._between("floor", "lift", law)]
        if self.site.lift.vent_area_m2:
            top, still = len(storeys) - 1, np.zeros((1, len(self.conditions)))
            law = self._leak(np.array([[self.site.lift.vent_area_m2]]), "lift", "outdoor", 0.5)
            found.append(nets.Outside(self._number("lift"), law, still, top, top + 1))
        return found

    def _relief(self):
        relief = self.site.stair.relief
        if relief is None:
            return []
        shut, free = (self._leak(np.array([[area]]), "stair", "outdoor", 0.5).coefficient for area in (relief.leak_area_m2, relief.area_m2))
        i = self.tower.storey(relief.level)
        law = Relief(shut, np.maximum(free, shut), relief.opens_pa, relief.full_pa)
        return [nets.Outside(self._number("stair"), law, self.winds.mean(axis=0)[i : i + 1], i, i + 1)]

    def _fan(self):
        # A supply fan breathes outdoor air, an exhaust fan the stair's.
        density = self.density["outdoor" if self.tower.effect > 0 else "stair"][None, :]
        still, ratio = np.zeros((1, len(self.conditions))), np.asarray(self.ratio, float)[None, :]
        places = [(self.tower.storey(supply.level), supply.share) for supply in self.site.supplies]
        laws = [Supply(self.tower.curve, share, self.tower.effect, ratio, density) for _, share in places]
        return [nets.Outside(self._number("stair"), law, still, i, i + 1) for (i, _), law in zip(places, laws, strict=True)]

    def _winds(self):
        """Wind pressure of the four faces [4, storeys, conditions]; none below ground."""
        c, site = self.conditions, self.site
        height = np.maximum(self.tower.elevation_m, 0.0)[:, None]
        speed = air.wind_speed_at_height(c.wind_speed_m_s, height, site.terrain, height_met_m=site.wind_reference_height_m)
        cp = air.face_pressure_coefficients(c.wind_from_deg, np.array(site.faces_deg)[:, None], site.pressure_coefficients)
        return cp[:, None, :] * air.velocity_pressure(speed, self.density["outdoor"])

    def _lift_of(self, space):
        """Stack effect from each storey to the next [storeys - 1, conditions], Pa."""
        return air.GRAVITY_M_S2 * (self.density["outdoor"] - self.density[space]) * self.tower.rises_m[:, None]

    def _wall_area(self, walls, element, tightness=None):
        """Leakage area [storeys, 1] of walls of an element of the building."""
        usual, edition = getattr(self.site.leakage, element), self.site.leakage.edition
        words = [word or usual for word in tightness or [None] * len(walls)]
        return self._column([leakage.wall_leakage_area(wall, element, word, edition) for wall, word in zip(walls, words, strict=True)])

    def _door_leak(self, kind, opened, a, b):
        """Leak of the doors of a kind on every storey, each shut or with one leaf open."""
        named = [(getattr(storey, kind), storey) for storey in self.site.storeys]
        found = [(self.site.doors[name], storey) if name else (None, storey) for name, storey in named]
        count = [storey.stair_door_count if kind == "stair_door" else 1 for storey in self.site.storeys]
        shut = self._column([door.leak_area_m2 * n if door else 0.0 for (door, _), n in zip(found, count, strict=True)])
        # The open leaf's own coefficient, told as the leakage's.
        ratio = doors.OPEN_DOOR_DISCHARGE_COEFFICIENT / self.site.leakage.discharge_coefficient
        more = self._column([door.flow_area_m2 * ratio - door.leak_area_m2 if door else 0.0 for door, _ in found])
        return self._door(shut + more * getattr(self.conditions, opened).T, a, b)

    def _door(self, area, a, b):
        return self._leak(area, a, b, self.site.leakage.door_exponent)

    def _wall(self, area, a, b):
        return self._leak(area * self.walls, a, b, self.site.leakage.wall_exponent)

    def _leak(self, area, a, b, exponent):
        """Leak of an area, mass flow at the mean density of both sides: density times C A sqrt(2 / density) is C A sqrt(2 density)."""
        given = self.site.leakage
        per_root_density = leakage.flow_coefficient(area, 1.0, given.discharge_coefficient, exponent, given.reference_pa)
        return Leak(per_root_density * np.sqrt((self.density[a] + self.density[b]) / 2), exponent)

    def _between(self, a, b, law):
        return [nets.Beside(self._number(a), self._number(b), law)] if law.coefficient.any() else []

    def _where(self, chosen, law):
        return Leak(np.where(chosen, law.coefficient, 0.0), law.exponent)

    def _number(self, space):
        return self.tower.spaces.index(space)

    @staticmethod
    def _column(values):
        return np.array(values, float)[:, None]


def _joined(parts):
    """One `Air` from those of the chunks."""
    whole = {}
    for name in vars(parts[0]):
        values = [getattr(part, name) for part in parts]
        whole[name] = None if values[0] is None else np.concatenate(values)
    return Air(**whole)
