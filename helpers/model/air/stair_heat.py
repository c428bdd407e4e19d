"""How cold (or warm) a stair's air becomes on each storey while the fan runs: its heat balance, coupled to the air network.

The fan blows outdoor air in; on its way along the shaft the air takes heat from walls, flights and landings, and leaks away; where a storey
takes air in (an exhaust fan, a leak turned round) it is as warm as the floor, the lobby or outdoors, whence it comes. Walls begin as warm
as the rooms. Air, fan speed and leaks follow the temperatures, so air and heat are found in turn.
Limits: walls thick (see formulas/heat), all as warm as the floors at first, whatever they face; the film uncertain by a factor of two; the
fan's own heat (about 1 K) is left out; no mixing but by the flow: cold air above warm sinks, which flattens the profile.
"""

from dataclasses import dataclass

import numpy as np

from helpers import require
from helpers.formulas import air, heat
from helpers.model.air import network as openings
from helpers.model.air.branches import DUCT
from helpers.model.air.spaces import OnStorey
from helpers.model.air.tower import Air
from helpers.model.site.tolerances import boxes

AN_HOUR_S = 3600.0
MOST_PASSES = 60  # of air and heat in turn
STEPS = (4, 1.0), (12, 0.5), (30, 0.25), (MOST_PASSES, 0.1)  # up to how many passes which part of the way is gone
SETTLED_K = 0.05  # ours: a storey's temperature moves less from one pass to the next
AGREE_K = 0.2  # ours: and if that is not reached, this is told of: it moves no door by a tenth of a pascal
# Minutes after the start at which a course is found: close together while the shaft's own air is blown out.
COURSE_MIN = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.5, 15.0, 20.0, 25.0, 30.0, 37.5, 45.0, 52.5, 60.0)


@dataclass(frozen=True)
class StairWalls:
    """What the stair's air touches: surface_m2 [storeys], film [W/(m2 K)], one or one for each condition, effusivity [J/(m2 K s^0.5)]."""

    surface_m2: np.ndarray
    film_w_m2k: float | np.ndarray
    effusivity: float

    @classmethod
    def of(cls, site, film_w_m2k=None, effusivity=None):
        """Walls of a site; without a film the low end of its box: the cautious one, since walls that give less leave the stair colder.

        Raises ValueError for a stair without any surface.
        """
        known, walls = boxes(site), np.array([storey.stair_wall_m2 for storey in site.storeys])
        surface, heights = known["stair.heat_surface_m2"], np.array([storey.height_m for storey in site.storeys])
        if not surface.stated and not walls.any():
            raise ValueError("stair must have walls (stair_wall) or heat_surface for a heat balance, got no surface on any storey")
        areas = surface.likely * heights / heights.mean() if surface.stated else walls + surface.likely - walls.mean()
        film = known["stair.film_w_m2k"].low if film_w_m2k is None else require.positive(film_w_m2k=film_w_m2k)
        effusivity = known["stair.wall_effusivity"].likely if effusivity is None else require.single_positive(effusivity=effusivity)
        return cls(areas, film, effusivity)


@dataclass(frozen=True)
class StairAir:
    """The stair's air a time after the start: stair_c [conditions, storeys]; moved_k [conditions]: the most that a storey moved in the last
    pass of air and heat in turn."""

    stair_c: np.ndarray
    moved_k: np.ndarray

    @property
    def settled(self):
        """Whether air and heat agreed in the end, by condition."""
        return self.moved_k < AGREE_K


@dataclass(frozen=True)
class StairCourse:
    """Minutes [times] with the air of each: stair_c [times, conditions, storeys], airs of `Air`; speed_hz, held [times, conditions].

    The first time is the first minute's limit, 0: the stair as warm as the rooms.
    """

    minutes: np.ndarray
    stair_c: np.ndarray
    airs: tuple[Air, ...]
    speed_hz: np.ndarray
    held: np.ndarray

    @property
    def door_dp_pa(self):
        """Pressure across the stair doors [times, conditions, storeys]."""
        return np.stack([one.door_dp_pa for one in self.airs])


def stair_air(tower, conditions, time_s=AN_HOUR_S, walls=None, most_passes=MOST_PASSES, **asked):
    """The stair's air a time after the fan's start, while the loop holds.

    tower: `Tower`; conditions: `Conditions`, whose stair_c is not looked at; time_s [s]; walls: `StairWalls` (default: of the site, film at
    its cautious end); most_passes: of air and heat in turn, few for a first look (`moved_k` tells what is left); asked: of Tower.hold, such
    as one set point. Returns `StairAir`. Raises ValueError for a site without stair walls.
    Equation: walls give wall_coefficient(time): as if the air had been as it is now from the start, so a little colder than the course,
    which remembers. Limits: those of this file's head.
    """
    walls = StairWalls.of(tower.site) if walls is None else walls
    film = np.broadcast_to(walls.film_w_m2k, len(conditions))
    conductance = walls.surface_m2[:, None] * heat.wall_coefficient(time_s, film, walls.effusivity)
    stair, moved = _by_storey(conditions.floor_c, tower), np.full(len(conditions), np.inf)
    left = np.arange(len(conditions))
    for count in range(most_passes):
        now = with_stair(conditions.rows(left), stair[left])
        flows = shaft_flows(tower, now, tower.hold(now, **asked))
        found = heat.shaft_temperatures(*flows, conductance[:, left], now.floor_c[None, :]).T
        # Where the air turns round in the shaft with its warmth, whole steps would swing for ever.
        share = next(part for passes, part in STEPS if count < passes)
        moved[left] = np.abs(found - stair[left]).max(axis=1)
        stair[left] += share * (found - stair[left])
        left = left[moved[left] >= SETTLED_K]
        if not left.size:
            break
    return StairAir(stair, moved)


def stair_course(tower, conditions, minutes=COURSE_MIN, walls=None, **asked):
    """The stair's air from the start on, step by step, walls remembering how the air cooled and the shaft's own air counted.

    minutes: rising [min]; the rest as stair_air. Returns `StairCourse`. Equation: every change of a storey's air sends its own answer
    through the wall (Duhamel, `mean_wall_coefficient`); the air's own heat as an implicit step. Raises ValueError for minutes that do not
    rise. Limits: those of this file's head; the drive's start, a matter of seconds, is not in it.
    """
    walls = StairWalls.of(tower.site) if walls is None else walls
    times = 60 * np.concatenate([[0.0], np.atleast_1d(require.positive(minutes=minutes))])
    if np.any(np.diff(times) <= 0):
        raise ValueError("minutes must rise from value to value")
    # heat that warms a storey's air in the shaft by a kelvin [storeys], J/K
    density = air.density(tower.site.temperatures.floor_c, tower.pressure_pa)
    stair, own = _by_storey(conditions.floor_c, tower), (tower.site.stair.plan_area_m2 * tower.heights_m * density * air.HEAT_CAPACITY_AIR)
    held = tower.hold(with_stair(conditions, stair), **asked)
    course, changes, film = [(stair, held)], [], np.broadcast_to(walls.film_w_m2k, len(conditions))
    for now in range(1, len(times)):
        back = times[now] - times[: now + 1]
        answers = heat.mean_wall_coefficient(back[1:, None], back[:-1, None], film, walls.effusivity)
        before, held = course[-1]
        flows = shaft_flows(tower, with_stair(conditions, before), held)  # of the step before: they follow the temperatures slowly
        remembered = sum((answer[:, None] * change for answer, change in zip(answers[:-1], changes, strict=True)), np.zeros_like(before))
        # The wall asks answers[-1] (T - before) + remembered: as a wall of that coefficient and another temperature would.
        wall = walls.surface_m2[:, None] * answers[-1]
        stored = (own / (times[now] - times[now - 1]))[:, None]
        at = (wall * (before - remembered / answers[-1][:, None]).T + stored * before.T) / (wall + stored)
        stair = heat.shaft_temperatures(*flows, wall + stored, at).T
        changes.append(stair - before)
        course.append((stair, tower.hold(with_stair(conditions, stair), **asked)))
    temperatures, helds = zip(*course, strict=True)
    return StairCourse(
        times / 60, np.stack(temperatures), tuple(one.air for one in helds), np.stack([one.air.speed_hz for one in helds]),
        np.stack([one.held for one in helds]),
    )  # fmt: skip


def shaft_flows(tower, conditions, held):
    """Air flows of the stair under conditions as held: what enters each storey [storeys, conditions] kg/s, its temperature [°C], and what
    goes up from each storey to the next.

    Where the loop found no speed, the air of full speed is taken.
    """
    found, site = held.air, tower.site
    lost = held.state == "not found"
    if lost.any():
        found = tower.solve(conditions, np.where(lost, site.fan.highest_speed_hz, found.speed_hz))
    pressure = np.stack([getattr(found, f"{space}_pa").T for space in tower.spaces])
    network = openings.network_of(tower, conditions, found.speed_hz / site.fan.reference_speed_hz)
    stair, storeys = tower.spaces.index("stair"), len(tower.levels)
    enters, brought = np.zeros((2, storeys, len(conditions)))
    up = np.zeros((storeys - 1, len(conditions)))
    indoors = [space for space in tower.spaces if space not in ("stair", "shaft", DUCT)]  # the stair has no opening to the second shaft
    beyond = {tower.spaces.index(space): getattr(conditions, f"{space}_c") for space in indoors}
    if tower.branches:
        beyond[tower.spaces.index(DUCT)] = conditions.outdoor_c
    for opening in network.openings:
        if opening.a != stair:
            continue
        flow = opening.law.at(opening.difference(pressure))[0]  # out of the stair
        if hasattr(opening, "lift"):
            up = flow
            continue
        comes = np.maximum(-flow, 0.0)
        there = slice(None) if isinstance(opening, OnStorey) else slice(opening.first, opening.last)
        enters[there] += comes
        brought[there] += comes * (beyond[opening.b] if isinstance(opening, OnStorey) else conditions.outdoor_c)
    return enters, np.where(enters > 0, brought / np.where(enters > 0, enters, 1.0), conditions.floor_c), up


def with_stair(conditions, stair_c):
    """The same conditions with another temperature of the stair, [conditions] or [conditions, storeys]."""
    changed = conditions.rows(slice(None))
    changed.stair_c = stair_c
    return changed


def _by_storey(of_condition, tower):
    return np.repeat(of_condition[:, None], len(tower.levels), axis=1)
