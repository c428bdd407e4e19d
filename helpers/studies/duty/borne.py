"""The highest speed that the doors of a stair bear, in any weather of its site: what a speed that is set by hand is held against."""

from functools import lru_cache

import numpy as np

from helpers.model.air.tower import Tower
from helpers.studies.cases import Same, conditions_of, usual_cases
from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.full_speed import WALLS_TRIED, DrivenDoors, highest
from helpers.studies.duty.relief_damper import blades


def borne_hz(site):
    """(highest speed [Hz] of smoke control at which no shut door passes its limit, and at which every final exit closes again), NaN where
    no speed is. All doors shut, as `full_speed` has it: the first with walls tighter and looser than the file's and a relief damper's blade
    that lifts late, the second with walls and blade as the file has them.
    """
    return _borne(Same(site))


@lru_cache(maxsize=16)
def _borne(same):
    site = same.site
    tower, window = Tower(site), pressure_window(site)
    shut = conditions_of(site, [case for case in usual_cases(site, next(iter(site.weather))) if case.shut])
    walls = shut.rows(np.tile(np.arange(len(shut)), len(WALLS_TRIED)))
    walls.leak_factor = walls.leak_factor * np.repeat(WALLS_TRIED, len(shut))[:, None]
    late = dict(enumerate(blades(tower, shut))).get(1, ("", tower))[1]
    doors, ends = DrivenDoors(tower, window), site.fan.speed_limits_hz(site.control.fire_mode)
    return highest(late, doors.worst, walls, *ends)[0], highest(tower, doors.closing, shut, *ends)[0]
