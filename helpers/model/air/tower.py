"""A site's tower: from storeys, walls, doors and fan of the site file to the air network, and from its answers back to the site's words.

Which spaces and openings there are, what each leak is between, what is not modelled, and what the smoothing near zero costs: README.md
beside this file, from which anybody can build the model anew.

How leaky a site is: walls, doors and slabs of the site file as leakage coefficients, before any weather.

A coefficient here is C A sqrt(2) ref^(0.5 - n) [m2 Pa^(0.5 - n)]; times the root of the air's density it is the mass flow at 1 Pa^n.
Columns are [storeys, 1], so that they broadcast over conditions.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import air, doors, leakage
from helpers.model.air import network as heights
from helpers.model.air.branches import DUCT, Branches, fan_places, supply_flows
from helpers.model.air.fan import FanCurve
from helpers.model.air.operating_point import STATES, Taps, hold
from helpers.model.air.second_shaft.openings import AS_FILED, SecondShaftAir, at_shaft_ratio
from helpers.model.air.second_shaft.rest import hold_beside, shaft_part, solve_beside
from helpers.model.found_once import found_once

DOORWAY_EXPONENT = 0.5  # whatever the gaps of the shut leaf obey: a doorway is an orifice


class DoorLeak:
    """Doors of one use on every storey, of which one leaf may stand open: of several kinds of stair doors that of the larger free area.

    Gaps of all shut leaves add up, and the open leaf's own are taken out of them: they lie side by side between the same two spaces.
    """

    def __init__(self, site, kind, counts=None):
        named = [getattr(storey, kind) for storey in site.storeys]
        counts = counts or [1] * len(named)
        found = [site.doors[name] if name and count else None for name, count in zip(named, counts, strict=True)]
        factor = site.leakage.between_storeys_factor if kind == "lift_door" else site.leakage.stair_side_factor
        shut = [factor * door.leak_area_m2 * count if door else 0.0 for door, count in zip(found, counts, strict=True)]
        for place, storey in enumerate(site.storeys if kind == "stair_door" else ()):
            if storey.other_stair_doors:
                shut[place] += factor * sum(site.doors[name].leak_area_m2 * many for name, many in storey.other_stair_doors.items())
                found[place] = site.doors[site.opening_stair_door(storey)]
        gaps = np.array([factor * door.leak_area_m2 if door else 0.0 for door in found])
        # The doorway has a discharge coefficient of its own; its area is told in the leaks' coefficient.
        ratio = doors.OPEN_DOOR_DISCHARGE_COEFFICIENT / site.leakage.discharge_coefficient
        doorway = np.array([door.flow_area_m2 * ratio if door else 0.0 for door in found])
        self.exponent = site.leakage.door_exponent
        self.shut = coefficient(site, shut, self.exponent)
        self._gaps = coefficient(site, gaps, self.exponent)
        self._doorway = coefficient(site, doorway, DOORWAY_EXPONENT)
        self._more = coefficient(site, np.maximum(doorway - gaps, 0.0), DOORWAY_EXPONENT)

    def opened(self, share, more=1.0):
        """(coefficient, exponent) of each of the ways past the doors when so much [storeys, conditions] of one leaf stands open; more: by
        which the gaps of shut leaves leak more than the file says."""
        if self.exponent == DOORWAY_EXPONENT:  # one way past it, so that the solver has one opening the less
            wider = self._more if np.ndim(more) == 0 else np.maximum(self._doorway - self._gaps * more, 0.0)
            return [(self.shut * more + wider * share, DOORWAY_EXPONENT)]
        return [(self.shut * more - self._gaps * more * share, self.exponent), (self._doorway * share, DOORWAY_EXPONENT)]


class SiteLeaks:
    """All leakage coefficients of a site."""

    def __init__(self, site):
        storeys, stair_side, between = site.storeys, site.leakage.stair_side_factor, site.leakage.between_storeys_factor
        self.inner_wall = stair_side * _walls(site, [s.stair_wall_m2 - s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        self.outer_wall = stair_side * _walls(site, [s.stair_outside_wall_m2 for s in storeys], "stair_wall")
        self.faces = facade_leaks(site)
        slabs = [storey.floor_area_m2 for storey in storeys[1:]]
        self.slabs = between * _walls(site, slabs, "floor") if slabs else np.zeros((0, 1))
        self.lift_wall = between * _walls(site, [storey.lift_shaft_wall_m2 for storey in storeys], "lift_shaft_wall")
        self.stair_doors = DoorLeak(site, "stair_door", [storey.stair_door_count for storey in storeys])
        self.lobby_doors = DoorLeak(site, "lobby_door")
        self.final_exits = DoorLeak(site, "final_exit_door")
        self.shafts = {space: _free_shaft(site, shaft) for space, shaft in (("stair", site.stair), ("lift", site.lift)) if shaft}
        self.lift_vent = coefficient(site, [site.lift.vent_area_m2], 0.5) if site.lift else None
        vents = [storey.lobby_vent_m2 if storey.lobby else 0.0 for storey in storeys]
        self.lobby_vents = coefficient(site, vents, 0.5) if any(vents) else None
        self.reliefs = [_relief(site, relief) for relief in site.stair.reliefs]
        self.landings = DoorLeak(site, "lift_door", [storey.lift_doors for storey in storeys])


def facade_leaks(site):
    """Leakage coefficients of the four faces, each [storeys, 1]; what a storey leaks besides its wall is shared evenly by them."""
    tight = [storey.wall_tightness or site.leakage.exterior_wall for storey in site.storeys]
    extra = np.array([storey.extra_leak_m2 for storey in site.storeys]) / 4
    faces = np.array([storey.facade_m2 for storey in site.storeys]).T
    return [site.leakage.facade_factor * _walls(site, face, "exterior_wall", tight, extra) for face in faces]


def _free_shaft(site, shaft):
    """The shaft itself, from each storey to the next."""
    return coefficient(site, np.full(len(site.storeys) - 1, shaft.friction_area_m2), 0.5) if len(site.storeys) > 1 else np.zeros((0, 1))


def _relief(site, relief):
    """A relief damper: shut and open."""
    # A blade that leaks nothing at all would leave the closed law without an inverse: a square millimetre is less than any does.
    closed, opened = coefficient(site, [max(relief.leak_area_m2, 1e-6), relief.area_m2], 0.5)[:, 0]
    return closed, max(opened, closed)


def coefficient(site, areas_m2, exponent):
    """Leakage coefficients [storeys, 1] of areas [storeys] at the site's discharge coefficient and reference pressure."""
    given = site.leakage
    column = np.asarray(areas_m2, float)[:, None]
    return leakage.flow_coefficient(column, 1.0, given.discharge_coefficient, exponent, given.reference_pa)


def _walls(site, walls_m2, element, tightness=None, extra_m2=0.0):
    walls, words = np.asarray(walls_m2, float), np.array(tightness or [getattr(site.leakage, element)] * len(walls_m2))
    areas = np.zeros(walls.shape)
    for word in dict.fromkeys(words.tolist()):  # storeys of one tightness at once
        alike = words == word
        areas[alike] = leakage.wall_leakage_area(walls[alike], element, word, site.leakage.edition)
    return coefficient(site, areas + extra_m2, site.leakage.wall_exponent)


CELLS_AT_ONCE = 80_000  # storeys times conditions of one chunk: large enough to be quick, small enough for the memory
FEW_TO_COMPARE = 3000  # conditions: with fewer, looking for alike ones takes as long as it saves


@dataclass
class Air:
    """Air in a tower, arrays [conditions, storeys] unless said otherwise; pressures [Pa] over outdoor air at the same height.

    stair_pa, floor_pa; lobby_pa, lift_pa and duct_pa, of the riser (None where the site has none); supply_flow_m3_s [conditions, supplies]
    at inlet density; speed_hz, converged, steps, residual_kg_s, supply_kg_s [conditions]; exit_wind_pa: on exits whose bearing is stated,
    else none (they are judged in still air). Of a second shaft (else None): shaft_pa; flow and speed of its fan, and of a loop of its own
    the state [conditions].
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
    exit_wind_pa: np.ndarray
    duct_pa: np.ndarray | None = None
    shaft_pa: np.ndarray | None = None
    shaft_flow_m3_s: np.ndarray | None = None
    shaft_hz: np.ndarray | None = None
    shaft_loop: np.ndarray | None = None

    @property
    def exit_dp_pa(self):
        """Pressure across each storey's final exit, stair less outdoors, [conditions, storeys]."""
        return self.stair_pa - self.exit_wind_pa

    @property
    def door_dp_pa(self):
        """Pressure across each storey's stair door, stair less what lies behind it (lobby or floor), [conditions, storeys]."""
        return self.stair_pa - self.beyond_door_pa

    @property
    def fan_flow_m3_s(self):
        """Air the fan handles [conditions], m3/s at inlet density."""
        return self.supply_flow_m3_s.sum(axis=-1)

    @property
    def fan_flows_m3_s(self):
        """Air by each of the places that the fan blows to [conditions, places of `Tower.fan_at`], m3/s at inlet density; 0 for air that a
        shut backdraft damper lets back."""
        flows = self.supply_flow_m3_s if self.duct_pa is None else self.fan_flow_m3_s[:, None]
        return np.maximum(flows, 0.0)


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

    def __init__(self, site, shaft=AS_FILED):
        self.site = site
        self.levels = [storey.level for storey in site.storeys]
        self.spaces = ["stair", "floor"]
        self.spaces += ["lobby"] if any(storey.lobby for storey in site.storeys) else []
        self.spaces += ["lift"] if site.lift else []
        self.branches = Branches.of(site)
        self.spaces += [DUCT] if self.branches else []
        self.spaces += ["shaft"] if site.second_shaft else []
        self.fan_space, self.fan_at = fan_places(site, self.branches)
        self.heights_m = np.array([storey.height_m for storey in site.storeys])
        self.rises_m, self.elevation_m = heights.rises_m(site.storeys), heights.elevation_m(site.storeys)
        self.lobby = np.array([storey.lobby for storey in site.storeys])
        self.leaks = SiteLeaks(site)
        self.curve, self.effect = FanCurve.of(site.fan), site.fan.sign
        self.pressure_pa = float(air.pressure_at_altitude(site.altitude_m))
        self.second = SecondShaftAir(site, self.levels, shaft) if site.second_shaft else None
        self._exits_face = any(storey.exit_faces_deg is not None for storey in site.storeys)

    def storey(self, level):
        """Number of a level's storey, counted from 0 at the bottom."""
        return self.levels.index(level)

    def solve(self, conditions, speed_hz):
        """Air under some conditions at given fan speeds [Hz], one for all or one per condition. Returns `Air`."""
        speed = np.broadcast_to(np.asarray(speed_hz, float), len(conditions))
        first, alike = _once(conditions, speed)
        if first.size < len(alike):
            return _rows_of(self.solve(conditions.rows(first), speed[first]), alike)
        solved = []
        for part, rows in self._chunks(conditions):
            network = self.network(rows, speed[part] / self.site.fan.reference_speed_hz)
            solved.append(self._air(*self._rest(heights.solve, network), speed[part], rows))
        return _joined(solved)

    def hold(self, conditions, set_point_pa=None, transmitters=None, rule=None, weights=None):
        """Air at the fan speed at which the combined reading meets the set point; what is not given is the site's own. `HeldAir`."""
        site, control = self.site, self.site.control
        transmitters = site.transmitters if transmitters is None else transmitters
        target = control.set_point_pa if set_point_pa is None else set_point_pa
        rule, weights = rule or control.rule, control.weights if rule is None else weights
        target = np.broadcast_to(np.asarray(target, float), len(conditions))
        first, alike = _once(conditions, target)
        if first.size < len(alike):
            held = self.hold(conditions.rows(first), target[first], transmitters, rule, weights)
            return HeldAir(_rows_of(held.air, alike), held.state[alike], held.reading_pa[alike])
        limits = [speed / site.fan.reference_speed_hz for speed in site.fan.speed_limits_hz(control.fire_mode)]
        taps, solved, states, readings = self.taps(transmitters), [], [], []
        for part, rows in self._chunks(conditions):
            network = self.network(rows, np.full(len(target[part]), limits[0]))
            network, found, beside = self._rest(hold, network, taps, rule, target[part], *limits, weights)
            speed = found.ratio * site.fan.reference_speed_hz
            solved.append(self._air(heights.at_ratio(network, found.ratio), found.solution, beside, speed, rows))
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
        return heights.network_of(self, conditions, ratio)

    def _chunks(self, conditions):
        """Slices of the conditions, and the conditions there."""
        size = max(CELLS_AT_ONCE // len(self.levels), 1)
        if len(conditions) <= size:
            return [(slice(None), conditions)]
        parts = [slice(i, i + size) for i in range(0, len(conditions), size)]
        return [(part, conditions.rows(part)) for part in parts]

    def _rest(self, find, network, *asked):
        """(network, what `find` finds of it, None); of a second shaft with a loop of its own at the speed at which that rests, and how."""
        if self.second is None or self.second.loop is None:
            return network, found_once(find, network, *asked), None
        numbers, beside = [self.spaces.index(space) for space in ("shaft", "floor")], {heights.solve: solve_beside, hold: hold_beside}
        found = found_once(beside[find], network, self.second.loop, numbers, *asked)
        return at_shaft_ratio(network, found.ratio), found.found, found

    def _air(self, network, solution, beside, speed_hz, conditions):
        by_space = {space: pressure.T for space, pressure in zip(self.spaces, solution.pressure, strict=True)}
        flows = supply_flows(self, network, solution.pressure)
        behind = np.where(self.lobby, by_space["lobby"], by_space["floor"]) if "lobby" in by_space else by_space["floor"]
        part = shaft_part(self.second, network, solution, beside)
        supply = solution.supply_kg_s - (
            0.0 if self.second is None else np.abs(part[0]) * air.density(conditions.outdoor_c, self.pressure_pa)
        )
        return Air(
            by_space["stair"], by_space["floor"], by_space.get("lobby"), by_space.get("lift"), flows, speed_hz,
            solution.converged, solution.steps, solution.residual_kg_s, supply, behind, self._exit_wind_pa(conditions),
            by_space.get(DUCT), by_space.get("shaft"), *part,
        )  # fmt: skip

    def _exit_wind_pa(self, conditions):
        if not self._exits_face:
            return np.zeros((len(conditions), len(self.levels)))
        outdoors = air.density(conditions.outdoor_c, self.pressure_pa)
        return np.nan_to_num(heights.wind_on_exits(self.site, conditions, outdoors).T)


def _once(conditions, asked):
    """Rows of which none is another one's like, and for each condition which of them it is: of many hours of weather many are alike."""
    count = len(conditions)
    if count < FEW_TO_COMPARE:
        return np.arange(count), np.arange(count)
    table = np.ascontiguousarray(np.column_stack([*vars(conditions).values(), asked]) + 0.0)  # so that no zero has a sign
    whole = table.view(np.dtype((np.void, table.strides[0]))).ravel()
    return np.unique(whole, return_index=True, return_inverse=True)[1:]


def _rows_of(found, rows):
    """The chosen rows of an `Air`."""
    return Air(**{name: None if value is None else value[rows] for name, value in vars(found).items()})


def _joined(parts):
    """One `Air` from those of the chunks."""
    whole = {}
    for name in vars(parts[0]):
        values = [getattr(part, name) for part in parts]
        whole[name] = None if values[0] is None else np.concatenate(values)
    return Air(**whole)


# The ideal source: 1 m3/s for each Hz, at a pressure beside which no stair counts.
_SHARES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_SOURCE = {
    "flows_m3_s": _SHARES, "pressures_pa": tuple(20_000 * (1 - 0.9999 * share**2) for share in _SHARES), "reference_speed_hz": 1.0,
    "lowest_speed_hz": 1e-3, "highest_speed_hz": 400.0, "smoke_lowest_speed_hz": None, "smoke_highest_speed_hz": None,
    "duct_loss_pa": 0.0, "duct_loss_flow_m3_s": 1.0,
}  # fmt: skip


def ideal_fan(tower):
    """`Tower` with a fan that brings whatever flow is taken, against any pressure, in place of the stated one."""
    return Tower(tower.site.with_changes(fan=_SOURCE))
