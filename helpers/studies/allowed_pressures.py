"""The one answer to which pressures a site allows at each of its doors; record, review, lessons, placement, year and alarms ask it.

A door may stand at what the site file and the site's own standard allow it while it is shut, and, where the pressure pushes it open, at no
more than its closer surely shuts it again against: a latch holds such a leaf only until the first person has gone through.
"""

from dataclasses import replace

import numpy as np

from helpers.studies.rules import set_points_that_work
from helpers.studies.window import SiteWindow, pressure_window

__all__ = ["CLOSER", "allowed_pressures", "allowed_set_points"]

MOST_SET_POINTS = 150  # tried between the window's ends: beyond it in longer steps
SET_POINT_STEP_PA = 1.0

CLOSER = "its closer shuts it again up to here"  # why a leaf that the pressure pushes open bears no more


def allowed_pressures(site, window=None, closing=True):
    """`SiteWindow` of the least and the most pressure that each door of a site may stand at.

    window: `SiteWindow` to be narrowed, by default `pressure_window(site)`, the stricter of file and standard; closing: whether what the
    closers shut again counts. It does for all that lasts; while something has failed, an exit that stays ajar is told beside it
    (`ExitAjar`). Source and limits: as pressure_window; relatching as formulas.doors.relatching_pressure.
    """
    window = pressure_window(site) if window is None else window
    if not closing:
        return window
    doors = tuple(map(_closing, window.doors))
    stair = [door for door in doors if door.use == "stair door"]
    least = max((door for door in stair if door.least_pa is not None), key=lambda door: door.least_pa, default=None)
    most = min((door for door in stair if door.most_pa is not None), key=lambda door: door.most_pa, default=None)
    return SiteWindow(doors, least, most, window.criteria)


def allowed_set_points(tower, cases, transmitters=None, rules=None):
    """Which whole-pascal set points leave every shut door at what the site allows it, and which let every exit close again besides.

    tower: `Tower`; cases: of `Case`; transmitters, rules: as `rules.set_points_that_work`. Returns a tuple of `SetPoints`, one a rule; none
    where the stair doors' window has no two ends with room between. What `works` of it says is the range that record and lessons name.
    """
    window = allowed_pressures(tower.site, closing=False)  # the closing has its own column
    if window.width_pa is None or window.width_pa <= 0:
        return ()
    step = max(SET_POINT_STEP_PA, np.ceil(window.width_pa / MOST_SET_POINTS))
    tried = np.arange(np.ceil(window.least_pa), np.floor(window.most_pa) + 0.5, step)
    return set_points_that_work(tower, window, cases, tried, transmitters, rules) if tried.size else ()


def _closing(window):
    surely = None if window.relatch_pa is None else window.relatch_pa[0]
    if surely is None or (window.most_pa is not None and window.most_pa <= surely):
        return window
    return replace(window, most_pa=surely, most_because=CLOSER, of_file=window.stated)
