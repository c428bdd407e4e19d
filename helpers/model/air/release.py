"""Air release of the fire floor: how fast the air goes out through open stair doors, and the free area that a wanted speed needs.

The speed through the door hangs on the whole tower, fan and loop included, so the area is searched with the network itself: for every
condition a grid of areas at once, then the least one that does is closed in between two of them. By hand it is one line for one floor
(`formulas.doors.release_area`): doorway and release in series between stair and outdoors.
"""

from dataclasses import dataclass

import numpy as np

from helpers import require
from helpers.formulas import air as air_formulas
from helpers.formulas.doors import open_door_flow

NONE_NEEDED, FOUND, NOT_REACHED, NO_AIR = STATES = ("none needed", "found", "not reached", "air not found")
MOST_M2 = 10.0  # the largest free area tried on a floor: five stair doors wide open; ours
_TRIED_M2 = np.concatenate([[0.0], np.geomspace(0.02, MOST_M2, 14)])
STEP_M2 = 0.01  # an area is told to the next hundredth of a square metre up
_NEAR = 1e-3  # of the wanted speed: how near the search comes before it rounds up
_MOST_LOOKS = 40


@dataclass
class ReleaseNeeded:
    """Free area of air release by condition, arrays [conditions]; speeds in m/s through the fire floor's open stair door.

    area_m2: the least of the searched ones, rounded up, NaN where none does; speed_m_s with it (with the largest tried where none does),
    without_m_s with no release at all; stair_pa: the stair over outdoors on that storey with it; state: one of STATES; held: whether the
    loop holds with it (of a given fan speed: True).
    """

    area_m2: np.ndarray
    speed_m_s: np.ndarray
    without_m_s: np.ndarray
    stair_pa: np.ndarray
    state: np.ndarray
    held: np.ndarray


def door_speeds(tower, air, conditions):
    """Mean speed of the air over each storey's stair door were one leaf of it wide open [conditions, storeys], m/s, out of the stair.

    air: `Air` of a `Tower` under `Conditions`, row by row; NaN where a storey has no stair door. Equations: the doorway as orifice,
    v = Q / (W H) (formulas.doors), density the mean of both sides. Limits: a mean over the leaf; meant for doors that stand open in `air`.
    """
    kinds = [tower.site.opening_stair_door(storey) for storey in tower.site.storeys]
    doors = [tower.site.doors[kind] if kind else None for kind in kinds]
    width, height, free = (
        np.array([getattr(door, name) if door else np.nan for door in doors]) for name in ("width_m", "height_m", "flow_area_m2")
    )
    stair = conditions.stair_c if conditions.stair_c.ndim == 2 else conditions.stair_c[:, None]
    behind = np.where(tower.lobby, conditions.lobby_c[:, None], conditions.floor_c[:, None])
    density = sum(air_formulas.density(one, tower.pressure_pa) for one in (stair, behind)) / 2
    there = ~np.isnan(width)
    width, height = (np.where(there, one, 1.0) for one in (width, height))
    flow = open_door_flow(air.door_dp_pa, width, height, density) * free / (width * height)
    return np.where(there, flow / (width * height), np.nan)


def release_open(conditions, storeys, area_m2):
    """The conditions with so much free area [conditions] open on one storey each (numbers from 0 at the bottom), and none elsewhere."""
    rows = conditions.rows(slice(None))
    rows.release_m2 = np.zeros(np.shape(conditions.release_m2))
    rows.release_m2[np.arange(len(conditions)), storeys] = require.at_least(0, area_m2=area_m2)
    return rows


def free_area_needed(tower, conditions, storeys, speed_m_s, speed_hz=None):
    """Free area of air release on one storey at which the air goes out through its open stair door at a wanted speed.

    tower: `Tower`, whose site says what kind of release it is (a plain opening where it states none); conditions: with that door open;
    storeys: number of the fire floor's storey, one or [conditions]; speed_m_s wanted, the same; speed_hz: of the fan, the same; None: the
    loop holds its set point as it is. Returns `ReleaseNeeded`. Raises ValueError for a storey whose door is missing or shut.
    Equation: v(A) = v wanted, on the whole network: a grid of areas for all conditions at once, then regula falsi (the Illinois rule)
    between the last that is too small and the first that does. Limits: areas from 0.02 to 10 m2; steady air; the least area of the grid's
    own pace, so that a speed that falls again between two areas of it is not seen.
    """
    count = len(conditions)
    storeys, target = np.broadcast_to(storeys, count).astype(int), np.broadcast_to(require.positive(speed_m_s=speed_m_s), count)
    each, hz = np.arange(count), None if speed_hz is None else np.broadcast_to(np.asarray(speed_hz, float), count)
    there = [bool(tower.site.storeys[storey].stair_door and tower.site.storeys[storey].stair_door_count) for storey in storeys]
    if not (np.array(there) & (conditions.stair_door_open[each, storeys] > 0)).all():
        raise ValueError("storeys must name storeys whose stair door stands open in the conditions")

    def look(areas, rows):
        """(speed, stair over outdoors, whether the loop holds) with some areas in some rows of the conditions."""
        tried = release_open(conditions.rows(rows), storeys[rows], areas)
        held = None if hz is not None else tower.hold(tried)
        air = tower.solve(tried, hz[rows]) if held is None else held.air
        places = np.arange(len(rows)), storeys[rows]
        speed = np.where(air.converged, door_speeds(tower, air, tried)[places], np.nan)
        return speed, air.stair_pa[places], np.ones(len(rows), bool) if held is None else held.held

    tries = len(_TRIED_M2)
    speed, stair, held = (part.reshape(count, tries) for part in look(np.tile(_TRIED_M2, count), np.repeat(each, tries)))
    enough = speed >= target[:, None]
    first = np.where(enough.any(axis=1), enough.argmax(axis=1), tries - 1)
    area, reached, stair_pa, holds = _TRIED_M2[first], speed[each, first], stair[each, first], held[each, first]
    state = np.where(np.isnan(speed).any(axis=1), NO_AIR, NOT_REACHED).astype("<U20")
    state[enough[:, 0]] = NONE_NEEDED
    rows = np.flatnonzero(enough.any(axis=1) & ~enough[:, 0])
    if rows.size:
        before = first[rows] - 1
        found = _closed_in(lambda areas, part: look(areas, rows[part])[0], (_TRIED_M2[before], area[rows]),
                           (speed[rows, before], reached[rows]), target[rows])  # fmt: skip
        area[rows] = np.ceil(np.round(found / STEP_M2, 6)) * STEP_M2
        reached[rows], stair_pa[rows], holds[rows] = look(area[rows], rows)
        state[rows] = np.where(reached[rows] >= target[rows], FOUND, NO_AIR)
    area[np.isin(state, (NOT_REACHED, NO_AIR))] = np.nan
    return ReleaseNeeded(area, reached, speed[:, 0], stair_pa, state, holds)


def _closed_in(look, ends, known, target):
    """Areas whose speed has just reached the target, between ends of which the upper does; the upper end of what is left."""
    (low, high), (below, above), stayed = ends, (known[0] - target, known[1] - target), np.zeros(len(target))
    below = np.where(np.isnan(below), -target, below)
    weight_low, weight_high = below, above
    for attempt in range(_MOST_LOOKS):
        apart = (above > _NEAR * target) & (high - low > STEP_M2 / 4)
        part = np.flatnonzero(apart)
        if not part.size:
            break
        chord = (low * weight_high - high * weight_low) / (weight_high - weight_low)
        point = (low + high) / 2 if attempt % 4 == 3 else np.clip(chord, low + 0.02 * (high - low), high - 0.02 * (high - low))
        at = np.zeros(len(target))
        at[part] = look(point[part], part) - target[part]
        at = np.where(np.isnan(at), -target, at)  # no air there: not enough
        up, down = apart & (at >= 0), apart & (at < 0)
        weight_low = np.where(down, at, np.where(up & (stayed > 0), weight_low / 2, weight_low))
        weight_high = np.where(up, at, np.where(down & (stayed < 0), weight_high / 2, weight_high))
        low, high, above = np.where(down, point, low), np.where(up, point, high), np.where(up, at, above)
        stayed = np.where(up, 1, np.where(down, -1, stayed))
    return high
