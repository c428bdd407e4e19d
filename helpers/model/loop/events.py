"""What happens while the loop runs: doors that open and shut, weather that turns, gusts; and what it means for the air, moment by moment.

Between two moments of the schedule every condition changes in a straight line of time. A door leaf turns at a steady rate, so its free
area grows with the angle a as min(1, 2 sin(a / 2)) of the doorway (the chord of the leaf's edge), fully free from 60 degrees on.
"""

from dataclasses import dataclass

import numpy as np

from helpers.formulas import require
from helpers.model.conditions import Conditions

__all__ = ["DOORS", "DoorEvent", "Gust", "Schedule", "WeatherTurn", "schedule"]

DOORS = {"stair": ("stair_door_open", "lobby_door_open"), "exit": ("final_exit_open",)}
LEAF_ANGLES_DEG = np.array([0.0, 1.0, 4.0, 12.0, 30.0, 60.0, 90.0])  # moments of a turning leaf: closer where the pressure falls fastest


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
    """Conditions that change over `over_s` from `at_s` on: fields of `Conditions` with one value each, such as {"outdoor_c": -15.0}."""

    at_s: float
    over_s: float
    to: dict


@dataclass(frozen=True)
class Gust:
    """Wind that rises to a speed over `rise_s`, holds for `lasts_s` and falls back over `rise_s`."""

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

    Raises ValueError for a length that is not above zero, an event outside it, a door that shuts before it has opened, an unknown level.
    """
    require.positive(length_s=length_s)
    changes = [change for event in events for change in _changes(tower, base, event, length_s)]
    times = np.unique(np.concatenate([[0.0, length_s], *[t for _, _, t, _ in changes]]))
    rows = len(base)
    fields = {name: np.repeat(getattr(base, name)[None].astype(float), len(times), axis=0) for name in vars(base)}
    for name, storey, at, values in changes:
        course = np.interp(times, at, values)
        place = fields[name] if storey is None else fields[name][..., storey]
        course = course.reshape(-1, *[1] * (place.ndim - 1))
        started = (times >= at[0]).reshape(course.shape)
        place[...] = np.where(started, course, place) if storey is None else np.maximum(place, course)
    flat = {name: value.reshape(-1, *value.shape[2:]) for name, value in fields.items()}
    return Schedule(times, Conditions(**flat), rows)


def _changes(tower, base, event, length_s):
    """Straight-line courses (field, storey, moments, values) of one event."""
    require.between(0, length_s, at_s=event.at_s)
    if isinstance(event, DoorEvent):
        return _door(tower, event, length_s)
    if isinstance(event, Gust):
        require.positive(rise_s=event.rise_s)
        usual = float(base.wind_speed_m_s.mean())
        moments = event.at_s + np.cumsum([0.0, event.rise_s, require.at_least(0, lasts_s=event.lasts_s), event.rise_s])
        return [("wind_speed_m_s", None, moments, np.array([usual, event.speed_m_s, event.speed_m_s, usual]))]
    over = max(float(require.at_least(0, over_s=event.over_s)), 1e-3)
    moments = np.array([event.at_s, event.at_s + over])
    for name in event.to:
        require.one_of([n for n in vars(base) if getattr(base, n).ndim == 1], to=name)
    return [(name, None, moments, np.array([getattr(base, name).mean(), value])) for name, value in event.to.items()]


def _door(tower, event, length_s):
    require.positive(moving_s=event.moving_s)
    if event.level not in tower.levels:
        raise ValueError(f"level must be from {tower.levels[0]} to {tower.levels[-1]}, got {event.level!r}")
    share, turning = np.minimum(1.0, 2 * np.sin(np.deg2rad(LEAF_ANGLES_DEG) / 2)), LEAF_ANGLES_DEG / 90 * event.moving_s
    moments, values = event.at_s + turning, share
    if event.shuts_s is not None:
        require.between(event.at_s + event.moving_s, length_s, shuts_s=event.shuts_s)
        moments = np.append(moments, event.shuts_s + event.moving_s - turning[::-1])
        values = np.append(values, share[::-1])
    names = DOORS[require.one_of(DOORS, door=event.door)]
    return [(name, tower.storey(event.level), moments, values) for name in names]
