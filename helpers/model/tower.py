"""A site's tower: from storeys, walls, doors and fan of the site file to the air network, and from its answers back to the site's words.

Spaces of a storey: the stair, the lobby (where there is one), the lift shaft (where there is one), the floor. Openings: shut or open
doors, walls, slabs, shafts from storey to storey, the facade's four faces, a vent, a relief damper, the fan's outlets.

What is not modelled: the air that spaces store (it fills in well under a second), height across one door, the fire's own pressure,
lifts moving, gusts. Density of a leak's air is the mean of both sides; taken upstream instead, one leak's flow would differ by 2 to 3 %
at 30 K difference. The relief damper, the stair's outer wall and a final exit whose bearing the site file does not state see the mean wind
pressure of the four faces. The vent of the lift shaft and the fan's intake see none.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import air
from helpers.model import heights, openings
from helpers.model import network as nets
from helpers.model.fan import FanCurve
from helpers.model.hold import STATES, Taps, hold
from helpers.model.leaks import SiteLeaks

__all__ = ["Air", "HeldAir", "Tower"]

CELLS_AT_ONCE = 80_000  # storeys times conditions of one chunk: large enough to be quick, small enough for the memory


@dataclass
class Air:
    """Air in a tower, arrays [conditions, storeys] unless said otherwise; pressures [Pa] over outdoor air at the same height.

    stair_pa, floor_pa; lobby_pa and lift_pa (None where the site has none); supply_flow_m3_s [conditions, supplies] at inlet density;
    speed_hz, converged, steps, residual_kg_s, supply_kg_s [conditions]; exit_wind_pa: of the wind on final exits whose bearing is stated,
    else none (they are judged in still air).
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
        self.heights_m = np.array([storey.height_m for storey in site.storeys])
        self.rises_m, self.elevation_m = heights.rises_m(site.storeys), heights.elevation_m(site.storeys)
        self.lobby = np.array([storey.lobby for storey in site.storeys])
        self.leaks = SiteLeaks(site)
        self.curve, self.effect = FanCurve.of(site.fan), site.fan.sign
        self.pressure_pa = float(air.pressure_at_altitude(site.altitude_m))
        self._exits_face = any(storey.exit_faces_deg is not None for storey in site.storeys)

    def storey(self, level):
        """Number of a level's storey, counted from 0 at the bottom."""
        return self.levels.index(level)

    def solve(self, conditions, speed_hz):
        """Air under some conditions at given fan speeds [Hz], one for all or one per condition. Returns `Air`."""
        speed = np.broadcast_to(np.asarray(speed_hz, float), len(conditions))
        solved = []
        for part, rows in self._chunks(conditions):
            network = self.network(rows, speed[part] / self.site.fan.reference_speed_hz)
            solved.append(self._air(network, nets.solve(network), speed[part], rows))
        return _joined(solved)

    def hold(self, conditions, set_point_pa=None, transmitters=None, rule=None, weights=None):
        """Air at the fan speed at which the combined reading meets the set point; what is not given is the site's own. `HeldAir`."""
        site, control = self.site, self.site.control
        transmitters = site.transmitters if transmitters is None else transmitters
        target = control.set_point_pa if set_point_pa is None else set_point_pa
        rule, weights = rule or control.rule, control.weights if rule is None else weights
        target = np.broadcast_to(np.asarray(target, float), len(conditions))
        limits = [speed / site.fan.reference_speed_hz for speed in site.fan.speed_limits_hz(control.fire_mode)]
        taps, solved, states, readings = self.taps(transmitters), [], [], []
        for part, rows in self._chunks(conditions):
            network = self.network(rows, np.full(len(target[part]), limits[0]))
            found = hold(network, taps, rule, target[part], *limits, weights=weights)
            solved.append(self._air(nets.at_ratio(network, found.ratio), found.solution, found.ratio * site.fan.reference_speed_hz, rows))
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
        return openings.network_of(self, conditions, ratio)

    def _chunks(self, conditions):
        """Slices of the conditions, and the conditions there."""
        size = max(CELLS_AT_ONCE // len(self.levels), 1)
        if len(conditions) <= size:
            return [(slice(None), conditions)]
        parts = [slice(i, i + size) for i in range(0, len(conditions), size)]
        return [(part, conditions.rows(part)) for part in parts]

    def _air(self, network, solution, speed_hz, conditions):
        by_space = {space: pressure.T for space, pressure in zip(self.spaces, solution.pressure, strict=True)}
        fans = [opening for opening in network.openings if opening.law.fan]
        flows = [opening.law.volume_flow(opening.difference(solution.pressure))[0] for opening in fans]
        behind = np.where(self.lobby, by_space["lobby"], by_space["floor"]) if "lobby" in by_space else by_space["floor"]
        return Air(
            by_space["stair"], by_space["floor"], by_space.get("lobby"), by_space.get("lift"), np.stack(flows, axis=-1), speed_hz,
            solution.converged, solution.steps, solution.residual_kg_s, solution.supply_kg_s, behind, self._exit_wind_pa(conditions),
        )  # fmt: skip

    def _exit_wind_pa(self, conditions):
        if not self._exits_face:
            return np.zeros((len(conditions), len(self.levels)))
        outdoors = air.density(conditions.outdoor_c, self.pressure_pa)
        return np.nan_to_num(heights.wind_on_exits(self.site, conditions, outdoors).T)


def _joined(parts):
    """One `Air` from those of the chunks."""
    whole = {}
    for name in vars(parts[0]):
        values = [getattr(part, name) for part in parts]
        whole[name] = None if values[0] is None else np.concatenate(values)
    return Air(**whole)
