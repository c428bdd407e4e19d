"""The air of a second pressurised shaft in the tower's network: its openings and its fan.

One space more, "shaft", on every storey, tied to the floor alone: what its fan brings raises the floors, and so lowers by how much the
stair stands over them; and the other way round. Both fans are in one network and solved together.

Limits: no relief damper in this shaft; its doors open to the floor, not to a lobby; lifts do not move (a car that moves pushes air); with
its fan off it is as warm as the floors, else as its site file says at every flow. Its loop at rest: `helpers.model.air.second_shaft.rest`.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas import air as air_formulas
from helpers.formulas import doors, leakage
from helpers.model.air.fan import FanCurve
from helpers.model.air.laws import FanShare, Inflow, Leak
from helpers.model.air.spaces import Outside
from helpers.model.site.second_shaft import FIXED_FLOW, OWN_LOOP

AS_SET, OFF, STUCK_OPEN, FULL_SPEED = FANS = ("as set", "off", "off, damper stuck open", "at full speed")
FIXED_FLOW_PA = 250.0  # pressure at which an idle fan of a fixed flow, of whose curve nothing is known, lets its share back; ours


@dataclass(frozen=True)
class ShaftState:
    """How the second shaft stands: its fan, one of FANS; levels whose door stands open; whether its final exit does; for a fan whose damper
    is stuck open, the share of its full flow that it lets back at its pressure without flow."""

    fan: str = AS_SET
    open_doors: tuple = ()
    exit_open: bool = False
    back_leak: float = 0.0


AS_FILED = ShaftState()


class OtherFan(FanShare):
    """The second shaft's fan: its speed is not the stair loop's to move."""

    fan = False
    feeds = True

    @property
    def family(self):
        """As of FanShare: laws of one family are joined."""
        return OtherFan, id(self.curve), self.effect


class FixedFlow(Inflow):
    """A fan that brings its flow whatever the pressure."""

    feeds = True


class SecondShaftAir:
    """What the network needs of a site's second shaft in one `ShaftState`; columns [storeys, 1]."""

    def __init__(self, site, levels, state):
        self.given, self.state, leaks = site.second_shaft, state, site.leakage
        given, door = self.given, site.doors[self.given.door]
        there = np.array([given.on(level) for level in levels])
        opened = np.isin(levels, state.open_doors) & there
        element = "lift_shaft_wall" if given.kind == "lift" else "stair_wall"
        self.factor = leaks.between_storeys_factor if given.kind == "lift" else leaks.stair_side_factor
        self.kind = "between storeys" if given.kind == "lift" else "stair side"
        wall = leakage.wall_leakage_area(np.full(len(levels), given.wall_m2), element, getattr(leaks, element), leaks.edition)
        ratio = doors.OPEN_DOOR_DISCHARGE_COEFFICIENT / leaks.discharge_coefficient
        gaps = self.factor * door.leak_area_m2 * np.where(there, given.door_count - opened, 0)
        self.wall, self.outside = (_column(leaks, area, leaks.wall_exponent) for area in (self.factor * wall, [given.outside_leak_m2]))
        self.gaps = _column(leaks, gaps, leaks.door_exponent)
        self.doorways = _column(leaks, np.where(opened, door.flow_area_m2 * ratio, 0.0), 0.5)
        self.vent = _column(leaks, [given.vent_area_m2], 0.5)
        self.free = _column(leaks, [given.friction_area_m2], 0.5)
        self.exit = None
        if given.exit_door is not None:
            leaf = site.doors[given.exit_door]
            area, exponent = (leaf.flow_area_m2 * ratio, 0.5) if state.exit_open else (self.factor * leaf.leak_area_m2, leaks.door_exponent)
            self.exit = levels.index(given.exit_level), _column(leaks, [area], exponent), exponent
        fan = given.fan
        self.fan_at = levels.index(fan.level)
        self.curve = None if fan.way == FIXED_FLOW else FanCurve.from_points(fan.flows_m3_s, fan.pressures_pa)
        self.loop = None
        if fan.way == OWN_LOOP and state.fan == AS_SET:
            ends = (speed / fan.reference_speed_hz for speed in (fan.lowest_speed_hz, fan.highest_speed_hz))
            self.loop = ShaftLoop(levels.index(fan.set_point_level), fan.set_point_over == "floor", fan.set_point_pa, *ends)

    @property
    def runs(self):
        """Whether its fan turns."""
        return self.state.fan in (AS_SET, FULL_SPEED)

    @property
    def ratio(self):
        """Speed ratio of its fan where no loop moves it."""
        if self.given.fan.way == FIXED_FLOW or not self.runs:
            return 0.0
        return self.given.fan.fastest_hz / self.given.fan.reference_speed_hz

    def density(self, conditions, densities, pressure_pa):
        """Density of its air, as the stair's or [conditions]."""
        if not self.runs:
            return densities["floor"]
        if self.given.outdoor_share is None:
            return densities["stair"]
        warm = conditions.floor_c + self.given.outdoor_share * (conditions.outdoor_c - conditions.floor_c)
        return air_formulas.density(warm, pressure_pa)


def _column(leaks, areas_m2, exponent):
    column = np.asarray(areas_m2, float)[:, None]
    return leakage.flow_coefficient(column, 1.0, leaks.discharge_coefficient, exponent, leaks.reference_pa)


class ShaftOpenings:
    """Mixed into the openings of the network, whose ways of making them it uses: those of the second shaft."""

    def second_shaft(self):
        """All openings of the second shaft and its fan."""
        shaft = self.tower.second
        if shaft is None:
            return
        leaks, count, conditions = self.site.leakage, len(self.tower.levels), len(self.conditions)
        more = self.walls * self.more[shaft.kind]
        yield from self._between("shaft", "floor", shaft.wall * more, leaks.wall_exponent)
        yield from self._between("shaft", "floor", shaft.gaps * self.more[shaft.kind], leaks.door_exponent)
        yield from self._between("shaft", "floor", shaft.doorways, 0.5)
        yield from self._out("shaft", shaft.outside * more, leaks.wall_exponent, self.mean_wind)
        if count > 1:
            yield self._upward("shaft", np.repeat(shaft.free, count - 1, axis=0), 0.5)
        still = np.zeros((1, conditions))
        yield from self._on_one("shaft", shaft.vent, 0.5, still, count - 1)
        if shaft.exit is not None:
            place, leak, exponent = shaft.exit
            yield from self._on_one("shaft", leak * self.more[shaft.kind], exponent, self.mean_wind[place : place + 1], place)
        yield self._shaft_fan(shaft, still)

    def _shaft_fan(self, shaft, still):
        place, fan, state = shaft.fan_at, shaft.given.fan, shaft.state
        density = np.broadcast_to(self.density["outdoor"], still.shape)
        if state.fan == STUCK_OPEN and state.back_leak:
            # share Q_full (p / p0)^0.5, p0 its pressure without flow; of a fixed flow, about which no curve is known, at the pressure below
            full, shut = (fan.fixed_flow_m3_s, FIXED_FLOW_PA) if shaft.curve is None else (shaft.curve.flow[-1], shaft.curve.shutoff_pa)
            law = Leak(state.back_leak * full / np.sqrt(shut) * density, 0.5)
        elif shaft.curve is None:
            law = FixedFlow((fan.fixed_flow_m3_s if shaft.runs else 0.0) * density)
        else:
            law = OtherFan(shaft.curve, 1.0, 1.0, np.full(still.shape, shaft.ratio), density)
        return Outside(self._number("shaft"), law, still, place, place + 1)

    def _on_one(self, space, leak, exponent, against, place):
        """An opening to outdoors on one storey, with densities of that storey alone."""
        if not leak.any():
            return
        mean = np.broadcast_to(self._mean_density(space, "outdoor"), (len(self.tower.levels), len(self.conditions)))[place : place + 1]
        yield Outside(self._number(space), Leak(leak * np.sqrt(mean), exponent), against, place, place + 1)


@dataclass(frozen=True)
class ShaftLoop:
    """The second shaft's loop: what it reads on one storey (over its floor, else outdoors), what it holds, between two speed ratios."""

    storey: int
    over_floor: bool
    target_pa: float
    lowest: float
    highest: float

    def read(self, pressure, shaft, floor):
        """Its reading [conditions] from pressures [spaces, storeys, conditions] and the numbers of both spaces."""
        return pressure[shaft, self.storey] - (pressure[floor, self.storey] if self.over_floor else 0.0)


def at_shaft_ratio(network, ratio):
    """The same network with the second shaft's fan at another speed ratio, one per condition."""
    moved = [replace(o, law=replace(o.law, ratio=ratio[None, :])) if isinstance(o.law, OtherFan) else o for o in network.openings]
    return replace(network, openings=moved)
