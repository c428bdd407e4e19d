"""Openings of a tower's air network under some conditions: leaks at their densities, doors shut or open, wind, stack, dampers, fans.

Arrays are [storeys, conditions] here, densities [conditions]; that of a stair with a temperature on each storey [storeys, conditions].
Density of a leak's air is the mean of both sides; on the way from one storey to the next that of the shaft's air on the way.
"""

import numpy as np

from helpers.formulas import air
from helpers.model.heights import wind_on_exits, wind_on_faces
from helpers.model.laws import Leak, Relief, Supply
from helpers.model.network import Beside, Network, Outside, Upward

__all__ = ["network_of"]


def network_of(tower, conditions, ratio):
    """The air network of a tower under conditions, fans at speed ratios [conditions]."""
    built = _Openings(tower, conditions)
    return Network(len(tower.spaces), len(tower.levels), len(conditions), [*built.leaks(), *built.fans(ratio)])


class _Openings:
    def __init__(self, tower, conditions):
        self.tower, self.site, self.conditions = tower, tower.site, conditions
        temperatures = np.array([conditions.outdoor_c, conditions.floor_c, conditions.lobby_c, conditions.lift_c])
        densities = air.density(temperatures, tower.pressure_pa)
        self.density = dict(zip(("outdoor", "floor", "lobby", "lift"), densities, strict=True))
        self.density["stair"] = air.density(conditions.stair_c, tower.pressure_pa).T
        self.walls = conditions.leak_factor.T
        self.winds = wind_on_faces(self.site, conditions, self.site.faces_deg, self.density["outdoor"])
        self.mean_wind = self.exit_wind = self.winds.mean(axis=0)
        if any(storey.exit_faces_deg is not None for storey in self.site.storeys):
            at_exits = wind_on_exits(self.site, conditions, self.density["outdoor"])
            self.exit_wind = np.where(np.isnan(at_exits), self.mean_wind, at_exits)

    def leaks(self):
        return [*self._doors(), *self._walls(), *self._facade(), *self._shafts(), *self._lift(), *self._relief()]

    def fans(self, ratio):
        # A supply fan breathes outdoor air, an exhaust fan the stair's.
        inlet, count = self.density["outdoor" if self.tower.effect > 0 else "stair"], len(self.tower.levels)
        density = np.broadcast_to(inlet, (count, len(self.conditions)))
        still, ratio = np.zeros((1, len(self.conditions))), np.asarray(ratio, float)[None, :]
        for supply in self.site.supplies:
            i = self.tower.storey(supply.level)
            law = Supply(self.tower.curve, supply.share, self.tower.effect, ratio, density[i : i + 1])
            yield Outside(self._number("stair"), law, still, i, i + 1)

    def _doors(self):
        leaks, c, with_lobby = self.tower.leaks, self.conditions, self.tower.lobby[:, None]
        for leak, exponent in leaks.stair_doors.opened(c.stair_door_open.T):
            yield from self._between("stair", "lobby", leak * with_lobby, exponent)
            yield from self._between("stair", "floor", leak * ~with_lobby, exponent)
        for leak, exponent in leaks.lobby_doors.opened(c.lobby_door_open.T) if with_lobby.any() else ():
            yield from self._between("lobby", "floor", leak, exponent)
        for leak, exponent in leaks.final_exits.opened(c.final_exit_open.T):
            yield from self._out("stair", leak, exponent, self.exit_wind)

    def _walls(self):
        leaks, exponent = self.tower.leaks, self.site.leakage.wall_exponent
        yield from self._between("stair", "floor", leaks.inner_wall * self.walls, exponent)
        yield from self._out("stair", leaks.outer_wall * self.walls, exponent, self.mean_wind)

    def _facade(self):
        faces, exponent = self.tower.leaks.faces, self.site.leakage.wall_exponent
        windy = np.ptp(self.winds, axis=0).any()
        for leak, wind in zip(faces, self.winds, strict=True) if windy else [(sum(faces), self.mean_wind)]:  # no wind: faces are one
            yield from self._out("floor", leak * self.walls, exponent, wind)

    def _shafts(self):
        if len(self.tower.levels) == 1:
            return
        for space, free in self.tower.leaks.shafts.items():
            yield self._upward(space, free, 0.5)
        if self.tower.leaks.slabs.any():
            yield self._upward("floor", self.tower.leaks.slabs * self.walls[1:], self.site.leakage.wall_exponent)

    def _lift(self):
        if not self.site.lift:
            return
        leaks, given = self.tower.leaks, self.site.leakage
        yield from self._between("floor", "lift", leaks.lift_wall * self.walls, given.wall_exponent)
        yield from self._between("floor", "lift", leaks.landings.shut, leaks.landings.exponent)
        top, still = len(self.tower.levels) - 1, np.zeros((1, len(self.conditions)))
        yield from self._out("lift", leaks.lift_vent, 0.5, still, top, top + 1)

    def _relief(self):
        relief = self.site.stair.relief
        if relief is None:
            return
        i = self.tower.storey(relief.level)
        density = np.broadcast_to(self._mean_density("stair", "outdoor"), (len(self.tower.levels), len(self.conditions)))
        root = np.sqrt(density[i : i + 1])
        law = Relief(*self.tower.leaks.relief, relief.opens_pa, relief.full_pa, root)
        yield Outside(self._number("stair"), law, self.mean_wind[i : i + 1], i, i + 1)

    def _between(self, a, b, leak, exponent):
        if leak.any():
            yield Beside(self._number(a), self._number(b), self._law(leak, a, b, exponent))

    def _out(self, a, leak, exponent, wind, first=None, last=None):
        if leak.any():
            yield Outside(self._number(a), self._law(leak, a, "outdoor", exponent), wind, first, last)

    def _upward(self, space, leak, exponent):
        density = self.density[space]
        if density.ndim == 2:  # half a storey of the one air, half a storey of the next
            half = self.tower.heights_m[:, None] / 2
            density = (density[:-1] * half[:-1] + density[1:] * half[1:]) / self.tower.rises_m[:, None]
        lift = air.GRAVITY_M_S2 * (self.density["outdoor"] - density) * self.tower.rises_m[:, None]
        return Upward(self._number(space), Leak(leak * np.sqrt(density), exponent), lift)

    def _law(self, leak, a, b, exponent):
        """Mass flow: density times C A sqrt(2 / density) is C A sqrt(2) times the root of the density."""
        return Leak(leak * np.sqrt(self._mean_density(a, b)), exponent)

    def _mean_density(self, a, b):
        return 0.5 * (self.density[a] + self.density[b])

    def _number(self, space):
        return self.tower.spaces.index(space)
