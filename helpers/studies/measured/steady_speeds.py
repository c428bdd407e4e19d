"""The speeds of a day's steady rounds: as fast as tells most of the leaks, and no faster than the doors, the final exits and the relief
damper bear in the weather of the day.

A fit wants pressure; whoever reads wants doors that open and final exits that shut again. So the fastest round holds the set point, or
stays below what lifts the damper's blade, or below the least of the doors' own limits, whichever comes first. Limits: steady air; the
leaks of the site file, walls tighter and looser by WALLS_TRIED; a building beyond them asks for a lower speed still, which its crew sees
at the gauge.
"""

from dataclasses import dataclass

import numpy as np

from helpers.studies.doors.window import pressure_window
from helpers.studies.duty.full_speed import WALLS_TRIED, DrivenDoors, highest

SPEED_SHARES = (1.0, 0.8, 0.6)  # of the fastest round's speed: rounds of a day
LEFT_PA = 5.0  # below the relief damper's lifting
LEAST_SPREAD = 0.8  # the fan's lowest speed as a share of the fastest round's, above which three rounds tell too little; ours
READ_PA = 1.0  # kept of a door's maximum for the gauge, 95 % of whose readings are within it; ours


@dataclass(frozen=True)
class SteadySpeeds:
    """speeds_hz: [rounds] of a day, slowest first; watched: whether the final exits are past their maximum already at speeds that
    tell too little, so that they are watched while the rounds are run; door: that stops the fastest round, in words, "" where none does."""

    speeds_hz: np.ndarray
    watched: bool = False
    door: str = ""


def steady_speeds(tower, shut, most_hz=np.inf, walls=WALLS_TRIED):
    """`SteadySpeeds` of a stair in conditions of one row, all doors shut.

    tower: `Tower`; shut: `Conditions` [1]; most_hz: no round is faster, the day's ceiling (NaN: none); walls: times the walls' leaks, with
    all of which every door's maximum is kept. Where the final exits leave less than LEAST_SPREAD between the fan's lowest speed and the
    fastest round they are left out, and watched instead: three rounds at one speed tell nothing.
    """
    doors, low_hz = DrivenDoors(tower, pressure_window(tower.site)), tower.site.fan.speed_limits_hz(tower.site.control.fire_mode)[0]
    top_hz = float(np.fmin(top_speed(tower, shut), most_hz))
    stops_hz, door = doors_hz(doors, tower, shut, walls)
    if watched := not stops_hz >= min(top_hz, low_hz / LEAST_SPREAD):
        stops_hz, door = doors_hz(doors, tower, shut, walls, exits=False)
    top_hz, door = (top_hz, "") if stops_hz >= top_hz else (float(np.nan_to_num(stops_hz)), door)
    top_hz = max(top_hz, low_hz)
    speeds = np.linspace(max(SPEED_SHARES[-1] * top_hz, low_hz), top_hz, len(SPEED_SHARES))
    return SteadySpeeds(np.round(speeds, 1), watched, door)


def as_found_hz(tower, true, printed, most_hz=np.inf):
    """The speed [Hz] of the fastest round in a building that is not as its site file says: as its set point asks for, no higher than
    most_hz nor, where a door stops it on the sheets, than these print; lower where a door of this building is sooner past its maximum.

    true: its `Conditions` [1]; printed: `SteadySpeeds` of the site file, None where nobody looks at the doors; most_hz: as there.
    """
    if printed is None:
        return float(np.fmin(top_speed(tower, true), most_hz))
    bears_hz, _ = doors_hz(DrivenDoors(tower, pressure_window(tower.site)), tower, true, exits=not printed.watched)
    if np.isnan(bears_hz):
        return float(tower.site.fan.speed_limits_hz(tower.site.control.fire_mode)[0])
    return float(np.fmin(min(top_speed(tower, true), bears_hz, printed.speeds_hz[-1] if printed.door else np.inf), most_hz))


def doors_hz(doors, tower, shut, walls=(1.0,), exits=True):
    """(highest speed [Hz] at which every shut door keeps READ_PA below its maximum, and with exits every final exit below what its closer
    surely shuts it up to; that door in words, "" where none stops it); NaN for no speed of the fan. doors: `DrivenDoors` of a `Tower`;
    shut: `Conditions` [1]; walls: times its leaks, all tried."""
    rows = shut.rows(np.zeros(len(walls), int))
    rows.leak_factor = rows.leak_factor * np.asarray(walls, float)[:, None]

    def room(air, conditions):
        bears, _, _, number = doors.worst(air, conditions)
        shuts, ajar = doors.closing(air, conditions)
        first = bears <= shuts if exits else np.ones(len(bears), bool)
        return np.where(first, bears, shuts) - READ_PA, np.where(first, number, ajar)

    found, where = highest(tower, room, rows, *tower.site.fan.speed_limits_hz(tower.site.control.fire_mode))
    return found, "" if where is None else doors.said(where[1])


def top_speed(tower, true):
    """The speed [Hz] that holds the set point in conditions of one row, or the fastest at which the relief damper stays shut with LEFT_PA
    to spare."""
    top, reliefs = tower.hold(true).air.speed_hz[0], tower.site.stair.reliefs
    if not reliefs:
        return top
    speeds = top * np.linspace(0.3, 1.0, 15)
    stair = tower.solve(true.rows(np.zeros(len(speeds), int)), speeds).stair_pa[:, [tower.storey(relief.level) for relief in reliefs]]
    shut = (stair < np.array([relief.opens_pa for relief in reliefs]) - LEFT_PA).all(axis=1)
    return speeds[max(int(shut.sum()) - 1, 0)]
