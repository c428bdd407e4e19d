"""A set point that follows what zones ask for: requests counted by damper position, and trim and respond.

Source of all here: the trim-and-respond logic of the open guideline for sequences (ASHRAE Guideline 36), from memory, not verified. There
a step that responds is trimmed as well in some readings of the text; here a step trims or responds, never both. A controller that does
both in one step is another rule: its trim comes once a step, its response for each request, so that no entry makes the two alike.
"""

import numpy as np

from helpers import require


def requests(position, asked_before, asks_above, asks_until):
    """Which zones ask for more pressure, by the position of their dampers.

    position: 0 (shut) to 1 (wide open); asked_before: flags, whether a zone asked at the last look; asks_above, asks_until: positions, 0 to
    1; broadcast. Returns flags: a zone begins to ask at or above asks_above and asks until its damper has come back to asks_until or below.
    Raises ValueError for positions outside 0 to 1 and an asks_until that is above asks_above. Source: see the module. Limits: a position
    is what the zone's controller commands, not what the blade does: a blade off its shaft asks for ever, or never.

    >>> requests([0.97, 0.90, 0.90, 0.80], [False, False, True, True], 0.95, 0.85).tolist()
    [True, False, True, False]
    """
    place = require.between(0, 1, position=position)
    above, until = require.between(0, 1, asks_above=asks_above), require.between(0, 1, asks_until=asks_until)
    if np.any(until > above):
        raise ValueError(f"asks_until must be no more than asks_above, got {asks_until!r:.60} and {asks_above!r:.60}")
    before = require.between(0, 1, asked_before=asked_before) > 0.5
    return (place >= above) | (before & (place > until))


def trim_or_respond(set_point, asking, lowest, highest, trim, respond, respond_most, ignored=0):
    """The set point after one interval of trim and respond.

    set_point, lowest, highest, trim (down, for each step), respond (up, for each request that counts), respond_most (up, in one step): in
    one unit; asking: requests at this moment, 0 or more; ignored: how many of them move nothing; broadcast. Returns the next set point.

        asking > ignored:  set_point + min(respond (asking - ignored), respond_most)
        else:              set_point - trim                                            then from lowest to highest

    Raises ValueError for steps or requests below zero and a lowest that is above highest. Source: see the module. Limits: it knows nothing
    of the fan: a set point that the fan cannot hold rises all the same, to highest.

    >>> trim_or_respond(150.0, [0, 2, 3, 9], 60.0, 250.0, 8.0, 12.0, 36.0, ignored=2).tolist()
    [142.0, 142.0, 162.0, 186.0]
    """
    low, high = require.finite(lowest=lowest), require.finite(highest=highest)
    if np.any(low > high):
        raise ValueError(f"lowest must be no more than highest, got {lowest!r:.60} and {highest!r:.60}")
    over = require.at_least(0, asking=asking) - require.at_least(0, ignored=ignored)
    down = require.at_least(0, trim=trim)
    up = np.minimum(require.at_least(0, respond=respond) * over, require.at_least(0, respond_most=respond_most))
    return np.clip(require.finite(set_point=set_point) + np.where(over > 0, up, -down), low, high)


def least_times(lowest, highest, trim, respond_most, interval_s):
    """The least time from the lowest set point to the highest, and back.

    lowest, highest, trim, respond_most: in one unit, as in `trim_or_respond`; interval_s [s]; broadcast. Returns (up_s, down_s) [s]:

        up = ceil((highest - lowest) / respond_most) interval        down = ceil((highest - lowest) / trim) interval

    Raises ValueError for steps and an interval that are not above zero, and a lowest that is above highest. Source: arithmetic. Limits:
    that long it takes at the least: fewer requests than bring the largest step take longer.

    >>> up, down = least_times(60.0, 200.0, 5.0, 20.0, 120.0)
    >>> f"{up / 60:.0f} min up, {down / 60:.0f} min down"
    '14 min up, 56 min down'
    """
    low, high = require.finite(lowest=lowest), require.finite(highest=highest)
    if np.any(low > high):
        raise ValueError(f"lowest must be no more than highest, got {lowest!r:.60} and {highest!r:.60}")
    interval, steps = require.positive(interval_s=interval_s), (require.positive(respond_most=respond_most), require.positive(trim=trim))
    up, down = (np.ceil((high - low) / step - 1e-9) * interval for step in steps)
    return up, down
