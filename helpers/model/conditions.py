"""Conditions a tower is asked about: weather, temperatures, doors, how leaky it was built. One row each, any number of rows.

Arrays have the leading axis of conditions. `None` rows never exist: every field is filled when the conditions are made.
"""

from dataclasses import dataclass, fields

import numpy as np

from helpers.formulas import require

__all__ = ["Conditions", "Rows"]


class Rows:
    """What conditions of all plants share: a dataclass of arrays whose leading axis is conditions; its rows, chosen and joined."""

    def __len__(self):
        return len(getattr(self, fields(self)[0].name))

    @classmethod
    def joined(cls, several):
        """One set of conditions from several, rows in their order."""
        several = list(several)
        return cls(*[_one_after_the_other([getattr(one, field.name) for one in several]) for field in fields(cls)])

    def rows(self, chosen):
        """The chosen rows (a slice or indices)."""
        made = object.__new__(type(self))  # of numbers that were looked at when these were made
        vars(made).update({field.name: getattr(self, field.name)[chosen] for field in fields(self)})
        return made if len(made) else type(self)(**vars(made))


@dataclass
class Conditions(Rows):
    """Rows of conditions for a tower of N storeys.

    outdoor_c, stair_c, floor_c, lobby_c, lift_c [conditions] in degC; stair_c may be [conditions, N], one for each storey's air (between
    two storeys' middles half is the one's and half the other's); wind_speed_m_s (at the weather station) and wind_from_deg
    [conditions]; stair_door_open, lobby_door_open, final_exit_open [conditions, N] as 0 or 1 (one leaf of each); leak_factor
    [conditions, N], by which the walls leak more or less than the site file says.
    """

    outdoor_c: np.ndarray
    stair_c: np.ndarray
    floor_c: np.ndarray
    lobby_c: np.ndarray
    lift_c: np.ndarray
    wind_speed_m_s: np.ndarray
    wind_from_deg: np.ndarray
    stair_door_open: np.ndarray
    lobby_door_open: np.ndarray
    final_exit_open: np.ndarray
    leak_factor: np.ndarray

    def __post_init__(self):
        for name in ("outdoor_c", "stair_c", "floor_c", "lobby_c", "lift_c"):
            setattr(self, name, require.between(-90, 90, **{name: getattr(self, name)}))
        self.wind_speed_m_s = require.between(0, 100, wind_speed_m_s=self.wind_speed_m_s)
        self.wind_from_deg = require.finite(wind_from_deg=self.wind_from_deg)
        _by_condition_or_storey(self.stair_c, np.shape(self.leak_factor)[-1])
        for name in ("stair_door_open", "lobby_door_open", "final_exit_open"):
            setattr(self, name, require.between(0, 1, **{name: getattr(self, name)}))
        self.leak_factor = require.at_least(0, leak_factor=self.leak_factor)

    @classmethod
    def of(cls, site, weather="winter", open_doors=(), open_exits=(), **changes):
        """Conditions of a site under one of its named weathers, with some levels' doors open.

        open_doors: levels whose stair door (and lobby door, where there is a lobby) stands open. open_exits: levels whose final exit
        stands open. changes: any field of this class as a number or an array with the leading axis of conditions; they broadcast
        together and set the number of rows (stair_c with two axes: by storey). Raises ValueError for an unknown weather, level or field.
        """
        state = site.weather[require.one_of(site.weather, weather=weather)]
        levels = [storey.level for storey in site.storeys]
        inside = site.temperatures
        opened = _flags(levels, open_doors, "open_doors")
        values = {
            "outdoor_c": state.outdoor_c,
            "stair_c": inside.stair_c if state.stair_c is None else state.stair_c,
            "floor_c": inside.floor_c,
            "lobby_c": inside.lobby_c,
            "lift_c": inside.lift_c,
            "wind_speed_m_s": state.wind_speed_m_s,
            "wind_from_deg": state.wind_from_deg,
            "stair_door_open": opened,
            "lobby_door_open": opened,
            "final_exit_open": _flags(levels, open_exits, "open_exits"),
            "leak_factor": np.ones(len(levels)),
        }
        unknown = set(changes) - set(values)
        if unknown:
            raise ValueError(f"changes must be among {', '.join(values)}; got {', '.join(sorted(unknown))}")
        return cls._filled(values | changes, len(levels))

    @classmethod
    def _filled(cls, values, storeys):
        by_storey = {"stair_door_open", "lobby_door_open", "final_exit_open", "leak_factor"}
        arrays = {name: require.finite(**{name: value}) for name, value in values.items()}
        if _by_condition_or_storey(arrays["stair_c"], storeys):
            by_storey.add("stair_c")
        # A per-storey field may come as one row of storeys or with the leading axis; the others have the leading axis alone.
        leading = [a.shape[:1] if name not in by_storey else a.shape[:-1] for name, a in arrays.items()]
        count = np.broadcast_shapes((1,), *leading)
        return cls(
            **{name: np.broadcast_to(a, (*count, storeys) if name in by_storey else count).astype(float) for name, a in arrays.items()}
        )


def _by_condition_or_storey(stair_c, storeys):
    """Whether the stair has a temperature on each storey; refuses another number of them."""
    if stair_c.ndim > 2 or (stair_c.ndim == 2 and stair_c.shape[1] != storeys):
        raise ValueError(f"stair_c must be one for each condition, or one for each of {storeys} storeys too; got shape {stair_c.shape}")
    return stair_c.ndim == 2


def _one_after_the_other(arrays):
    """Rows of several joined; where some are by storey and others not, all are made so."""
    storeys = max(array.shape[1] if array.ndim == 2 else 0 for array in arrays)
    if storeys:
        arrays = [array if array.ndim == 2 else np.broadcast_to(array[:, None], (len(array), storeys)) for array in arrays]
    return np.concatenate(arrays)


def _flags(levels, opened, name):
    missing = [level for level in opened if level not in levels]
    if missing:
        raise ValueError(f"{name} must name levels from {levels[0]} to {levels[-1]}, got {missing[0]!r}")
    return np.isin(levels, list(opened)).astype(float)
