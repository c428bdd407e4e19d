"""What happens while the loop runs: doors that open and shut, weather that turns, gusts; and what it means for the air, moment by moment.

A door leaf turns at a steady rate, so its free area grows with the angle a as min(1, 2 sin(a / 2)) of the doorway (the chord of the leaf's
edge), fully free from 60 degrees on.
"""

from dataclasses import dataclass, replace

import numpy as np

from helpers.formulas import require
from helpers.model.conditions import Conditions

__all__ = ["DOORS", "DoorEvent", "Gust", "Schedule", "WeatherTurn", "leaf_share", "schedule"]

DOORS = {"stair": ("stair_door_open", "lobby_door_open"), "exit": ("final_exit_open",)}
# Moments at which the air is solved while a leaf turns: closer where the pressure falls fastest. Found by trial on the demo sites, so that
# what lies between, by the monotone cubic, is off by less than half a pascal.
LEAF_ANGLES_DEG = np.array([0.0, 0.4, 1.5, 3.5, 8.0, 17.0, 34.0, 60.0, 90.0])
TURN_SHARES = np.linspace(0.0, 1.0, 6)
RISE_SHARES = np.linspace(0.0, 1.0, 6)
LEAST_S = 1e-3  # a change at once still has a before and an after


@dataclass(frozen=True)
class DoorEvent:
    """A leaf on a level opens at `at_s`, over `moving_s`, stands open, and shuts again over `moving_s` from `shuts_s` on (None: stays)."""

    level: int
    at_s: float
    shuts_s: float | None = None
    moving_s: float = 1.5
    door: str = "stair"


@dataclass(frozen=True)
class WeatherTurn:
    """Conditions that change in a straight line over `over_s` from `at_s` on: fields of `Conditions` with one value each, such as
    {"outdoor_c": -15.0}."""

    at_s: float
    over_s: float
    to: dict


@dataclass(frozen=True)
class Gust:
    """Wind that rises to a speed over `rise_s`, holds for `lasts_s` and falls back over `rise_s` to what it would be without the gust."""

    at_s: float
    speed_m_s: float
    rise_s: float = 1.0
    lasts_s: float = 3.0


@dataclass
class Schedule:
    """Moments [s] in rising order, and the conditions at each: rows moment by moment, `runs` rows a moment."""

    times_s: np.ndarray
    conditions: Conditions
    runs: int


def schedule(tower, base, events, length_s):
    """Lay events over the base conditions (one row a run, or one row for all).

    Raises ValueError for a length that is not above zero, an event beyond it, a door that shuts before it has opened, a door that is not
    there. An event that begins while another of its kind still lasts takes over from where that one is; doors stand as the more open one.
    """
    length = require.single_positive(length_s=length_s)
    events = [replace(event, at_s=require.single(at_s=event.at_s)) for event in events]
    for event in events:
        if not 0 <= event.at_s <= length:
            raise ValueError(f"at_s of an event must be within the run of {length:g} s, got {event.at_s:g}")
    courses = [course for event in sorted(events, key=lambda event: event.at_s) for course in _courses(tower, base, event, length)]
    times = np.unique(np.concatenate([[0.0, length], *[moments for moments, *_ in courses]]))
    times = times[(times <= length) & (np.diff(times, prepend=-1.0) > 1e-9)]
    fields = {name: np.repeat(getattr(base, name)[None].astype(float), len(times), axis=0) for name in vars(base)}
    for _, name, storey, changed in courses:
        place = fields[name] if storey is None else fields[name][..., storey]
        place[...] = changed(times[:, None], place)
    flat = {name: value.reshape(-1, *value.shape[2:]) for name, value in fields.items()}
    return Schedule(times, Conditions(**flat), len(base))


def leaf_share(angle_deg):
    """Share of the doorway that a leaf leaves free at an angle: min(1, 2 sin(a / 2)), the chord of the leaf's edge over its width.

    angle_deg: 0 (shut) to 180. Raises ValueError for another.

    >>> print(f"{leaf_share(10.0):.2f}, {leaf_share(60.0):.2f}")
    0.17, 1.00
    """
    return np.minimum(1.0, 2 * np.sin(np.deg2rad(require.between(0.0, 180.0, angle_deg=angle_deg)) / 2))


def _courses(tower, base, event, length):
    """What an event changes: (moments, field, storey, changed(times [moments, 1], values so far [moments, rows]))."""
    if isinstance(event, DoorEvent):
        return _door(tower, event, length)
    if isinstance(event, Gust):
        return [_gust(event)]
    return [_turn(base, event, name, value) for name, value in event.to.items()]


def _door(tower, event, length):
    moving = require.single_positive(moving_s=event.moving_s)
    storey = tower.site.storeys[tower.storey(_level_with_door(tower.site, event))]
    turning = LEAF_ANGLES_DEG / 90 * moving
    moments, shuts = event.at_s + turning, np.inf if event.shuts_s is None else require.single(shuts_s=event.shuts_s)
    if event.shuts_s is not None:
        if not event.at_s + moving <= shuts <= length:
            raise ValueError(
                f"shuts_s must be from {event.at_s + moving:g} s, when the door stands open, to {length:g} s, the end; got {shuts:g}"
            )
        moments = np.append(moments, shuts + moving - turning)

    def changed(times, before):
        opened, shut = (np.clip((times - start) / moving, 0.0, 1.0) for start in (event.at_s, shuts))
        return np.maximum(before, leaf_share(90 * np.clip(opened - shut, 0.0, 1.0)))

    return [(moments, name, tower.storey(storey.level), changed) for name in DOORS[event.door]]


def _level_with_door(site, event):
    require.one_of(DOORS, door=event.door)
    there = {
        "stair": [s.level for s in site.storeys if s.stair_door and s.stair_door_count],
        "exit": [s.level for s in site.storeys if s.final_exit_door],
    }[event.door]
    if require.single(level=event.level) not in there:
        raise ValueError(f"level must be one with such a door ({', '.join(map(str, there))}), got {event.level!r}")
    return event.level


def _gust(event):
    rise, lasts = require.single_positive(rise_s=event.rise_s), require.single_at_least(0, lasts_s=event.lasts_s)
    speed, over = require.single_at_least(0, speed_m_s=event.speed_m_s), event.at_s + rise + lasts

    def changed(times, before):
        share = np.clip((times - event.at_s) / rise, 0.0, 1.0) - np.clip((times - over) / rise, 0.0, 1.0)
        return before + share * (speed - before)

    return np.append(event.at_s + rise * RISE_SHARES, over + rise * RISE_SHARES), "wind_speed_m_s", None, changed


def _turn(base, event, name, value):
    require.one_of([field for field in vars(base) if getattr(base, field).ndim == 1], to=name)
    value, over = require.single(**{name: value}), max(require.single_at_least(0, over_s=event.over_s), LEAST_S)

    def changed(times, before):
        start = before[np.flatnonzero(times[:, 0] <= event.at_s + 1e-9)[-1]]
        return np.where(times < event.at_s, before, start + np.clip((times - event.at_s) / over, 0.0, 1.0) * (value - start))

    return event.at_s + over * TURN_SHARES, name, None, changed
