"""Conditions a building, duct or garage is asked about: one row each, any number of rows; and changes of them in the course of a run."""

from dataclasses import dataclass, fields, replace
from typing import ClassVar

import numpy as np

from helpers.formulas import require
from helpers.model.conditions import Rows
from helpers.model.loop.events import Schedule

__all__ = ["BuildingConditions", "DuctConditions", "GarageConditions", "Turn", "turns_schedule"]

# Moments within a turn, as shares of it: closer at its start, where a pressure falls fastest when something opens.
TURN_SHARES = np.array([0.0, 0.02, 0.08, 0.25, 0.5, 0.75, 1.0])
LEAST_TURN_S = 1e-3  # a turn at once still has a before and an after


class PlantRows(Rows):
    """Fields are [conditions], those of `by_place` [conditions, places]."""

    by_place: ClassVar[frozenset] = frozenset()

    @classmethod
    def filled(cls, values, changes, places):
        """Conditions of some values with changes laid over, each brought to the rows they share."""
        unknown = set(changes) - set(values)
        if unknown:
            raise ValueError(f"changes must be among {', '.join(values)}; got {', '.join(sorted(unknown))}")
        arrays = {name: require.finite(**{name: value}) for name, value in (values | changes).items()}
        for name in cls.by_place:
            if arrays[name].ndim and arrays[name].shape[-1] not in (1, places):
                raise ValueError(f"{name} must hold one value for each of {places} places, got {arrays[name].shape[-1]}")
        leading = [a.shape[:-1] if name in cls.by_place else a.shape for name, a in arrays.items()]
        count = np.broadcast_shapes((1,), *leading)
        shapes = {name: (*count, places) if name in cls.by_place else count for name in arrays}
        return cls(**{name: np.broadcast_to(a, shapes[name]).astype(float) for name, a in arrays.items()})


@dataclass
class BuildingConditions(PlantRows):
    """outdoor_c, indoor_c [°C]; wind_speed_m_s at the weather station, wind_from_deg; surplus_m3_s: air that the other fans bring more
    than they take, at indoor density; door_open [conditions, storeys], 0 to 1 of each storey's large door."""

    outdoor_c: np.ndarray
    indoor_c: np.ndarray
    wind_speed_m_s: np.ndarray
    wind_from_deg: np.ndarray
    surplus_m3_s: np.ndarray
    door_open: np.ndarray
    by_place: ClassVar[frozenset] = frozenset({"door_open"})

    def __post_init__(self):
        for name in ("outdoor_c", "indoor_c"):
            require.between(-90, 90, **{name: getattr(self, name)})
        require.between(0, 100, wind_speed_m_s=self.wind_speed_m_s)
        require.between(0, 1, door_open=self.door_open)

    @classmethod
    def of(cls, site, weather="mild", balance=None, open_doors=(), **changes):
        """Conditions of a building site under one of its weathers and balances (None: the first), large doors of the named levels open.

        changes: any field instead, arrays bring rows. Raises ValueError for an unknown weather, balance, level or field.
        """
        state = site.weather[require.one_of(site.weather, weather=weather)]
        first = next(iter(site.balance)) if balance is None else require.one_of(site.balance, balance=balance)
        levels = [storey.level for storey in site.storeys]
        for level in open_doors:
            if level not in levels:
                raise ValueError(f"open_doors must name levels from {levels[0]} to {levels[-1]}, got {level!r}")
        values = {
            "outdoor_c": state.outdoor_c,
            "indoor_c": site.indoor_c,
            "wind_speed_m_s": state.wind_speed_m_s,
            "wind_from_deg": state.wind_from_deg,
            "surplus_m3_s": site.balance[first].surplus_m3_s,
            "door_open": np.isin(levels, list(open_doors)).astype(float),
        }
        return cls.filled(values, changes, len(levels))


@dataclass
class DuctConditions(PlantRows):
    """opening [conditions, sections]: how far the boxes of each section stand open, 0 to 1 of their free area."""

    opening: np.ndarray
    by_place: ClassVar[frozenset] = frozenset({"opening"})

    def __post_init__(self):
        require.between(0, 1, opening=self.opening)

    @classmethod
    def of(cls, site, demand=None, **changes):
        """Conditions of a duct site in one of its states of demand (None: the first). Raises ValueError for an unknown one."""
        first = next(iter(site.demand)) if demand is None else require.one_of(site.demand, demand=demand)
        return cls.filled({"opening": site.demand[first].opening}, changes, len(site.sections))


@dataclass
class GarageConditions(PlantRows):
    """running [conditions, zones]: cars with their engine running; outdoor_ppm [conditions]: gas in the air that comes in."""

    running: np.ndarray
    outdoor_ppm: np.ndarray
    by_place: ClassVar[frozenset] = frozenset({"running"})

    def __post_init__(self):
        for name in ("running", "outdoor_ppm"):
            require.at_least(0, **{name: getattr(self, name)})

    @classmethod
    def of(cls, site, traffic=None, **changes):
        """Conditions of a garage site in one of its states of traffic (None: the first). Raises ValueError for an unknown one."""
        first = next(iter(site.traffic)) if traffic is None else require.one_of(site.traffic, traffic=traffic)
        values = {"running": site.traffic[first].running, "outdoor_ppm": site.outdoor_ppm}
        return cls.filled(values, changes, len(site.zones))


@dataclass(frozen=True)
class Turn:
    """Conditions that change in a straight line over `over_s` from `at_s` on, in all runs: fields with a value, or one for each place,
    such as {"surplus_m3_s": 2.0} or {"opening": (0.1, 0.1, 0.0)}."""

    at_s: float
    to: dict
    over_s: float = 0.0


def turns_schedule(base, turns, length_s):
    """Lay turns over the base conditions (one row a run, or one row for all). Returns the loop's `Schedule`.

    Raises ValueError for a turn outside the run, of an unknown field, or of a field that another turn is still changing.
    """
    length = require.single_positive(length_s=length_s)
    turns = [replace(turn, at_s=require.single(at_s=turn.at_s)) for turn in turns]
    courses = [course for turn in sorted(turns, key=lambda turn: turn.at_s) for course in _courses(base, turn, length)]
    times = np.unique(np.concatenate([[0.0, length], *[at + over * TURN_SHARES for _, at, over, _ in courses]]))
    times = times[times <= length]
    changed = {field.name: np.repeat(getattr(base, field.name)[None].astype(float), len(times), axis=0) for field in fields(base)}
    now, until = {name: course[0].copy() for name, course in changed.items()}, dict.fromkeys(changed, 0.0)
    for name, at, over, value in courses:
        if at < until[name]:
            raise ValueError(f"at_s must be {until[name]:g} s or later, where the turn of {name} before it ends; got {at:g}")
        target = np.broadcast_to(value, now[name].shape)
        share = np.clip((times - at) / over, 0.0, 1.0).reshape(-1, *[1] * target.ndim)
        changed[name] = changed[name] + share * (target - now[name])
        now[name], until[name] = target, at + over
    flat = {name: course.reshape(-1, *course.shape[2:]) for name, course in changed.items()}
    return Schedule(times, type(base)(**flat), len(base))


def _courses(base, turn, length):
    """(field, start, duration, value) of one turn's fields."""
    at = float(require.between(0, length, at_s=turn.at_s))
    over = max(require.single_at_least(0, over_s=turn.over_s), LEAST_TURN_S)
    for name, value in turn.to.items():
        require.one_of([field.name for field in fields(base)], to=name)
        yield name, at, over, require.finite(**{name: value})
