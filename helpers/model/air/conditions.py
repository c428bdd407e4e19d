"""Conditions a tower is asked about: weather, temperatures, doors, how leaky it was built. One row each, any number of rows.

Arrays have the leading axis of conditions. `None` rows never exist: every field is filled when the conditions are made. Hours of weather
are read from a file, the same for a whole year and for sampled conditions.

The stair's own temperature is an assumption, made in one place here: it lies a stated share of the way from the floors' temperature to
the outdoor air's, because the fan blows outdoor air into it and its walls warm that air. The usual share is what the weathers of the site
file say. Limits: no memory, whereas heavy walls lag by hours; the same share at every air flow and on every storey, whereas a stair
without air supply stands near the floors' temperature, and the storeys next to a supply near the outdoor air's. Gusts within the hour are
not in such files.
The air's density comes from the site's altitude, not from the hour's barometer: under 3 % either way.
"""

import csv
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from helpers import require
from helpers.formulas import air
from helpers.model.air.network import KINDS
from helpers.model.air.stair_heat import stair_air
from helpers.model.files import FileTextError, shown_name, text_of


class Rows:
    """What conditions of all plants share: a dataclass of arrays whose leading axis is conditions; its rows, chosen and joined."""

    def __len__(self):
        return len(getattr(self, fields(self)[0].name))

    @classmethod
    def joined(cls, several):
        """One set of conditions from several, rows in their order."""
        several = list(several)
        return cls._made({field.name: _one_after_the_other([getattr(one, field.name) for one in several]) for field in fields(cls)})

    def rows(self, chosen):
        """The chosen rows (a slice or indices)."""
        return self._made({field.name: getattr(self, field.name)[chosen] for field in fields(self)})

    @classmethod
    def _made(cls, arrays):
        made = object.__new__(cls)  # of numbers that were looked at when these were made
        vars(made).update(arrays)
        return made if len(made) else cls(**arrays)


@dataclass
class Conditions(Rows):
    """Rows of conditions for a tower of N storeys.

    outdoor_c, stair_c, floor_c, lobby_c, lift_c [conditions] in degC; stair_c may be [conditions, N], one for each storey's air (between
    two storeys' middles half is the one's and half the other's); wind_speed_m_s (at the weather station) and wind_from_deg
    [conditions]; stair_door_open, lobby_door_open, final_exit_open [conditions, N] as 0 or 1 (one leaf of each); leak_factor
    [conditions, N], by which the walls leak more or less than the site file says; gap_factor [conditions, N], the same for the gaps of the
    storey's shut doors; kind_factor [conditions, KINDS], by which there is more or less of each of KINDS; release_m2 [conditions, N], free
    area of the air release that stands open on the storey, as in a fire there (what kind it is says the site).
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
    gap_factor: np.ndarray
    kind_factor: np.ndarray
    release_m2: np.ndarray

    def __post_init__(self):
        for name in ("outdoor_c", "stair_c", "floor_c", "lobby_c", "lift_c"):
            setattr(self, name, require.between(-90, 90, **{name: getattr(self, name)}))
        self.wind_speed_m_s = require.between(0, 100, wind_speed_m_s=self.wind_speed_m_s)
        self.wind_from_deg = require.finite(wind_from_deg=self.wind_from_deg)
        _by_condition_or_storey(self.stair_c, np.shape(self.leak_factor)[-1])
        for name in ("stair_door_open", "lobby_door_open", "final_exit_open"):
            setattr(self, name, require.between(0, 1, **{name: getattr(self, name)}))
        self.leak_factor = require.at_least(0, leak_factor=self.leak_factor)
        self.gap_factor = require.positive(gap_factor=self.gap_factor)
        self.kind_factor = require.positive(kind_factor=self.kind_factor)
        self.release_m2 = require.at_least(0, release_m2=self.release_m2)

    @classmethod
    def of(cls, site, weather="winter", open_doors=(), open_exits=(), **changes):
        """Conditions of a site under one of its named weathers, with some levels' doors open.

        open_doors: levels whose stair door (and lobby door, where there is a lobby) stands open. open_exits: levels whose final exit
        stands open. The fire is taken to be on the lowest storey of open_doors that has air release: that one's stands open, no other.
        changes: any field of this class as a number or an array with the leading axis of conditions; they broadcast
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
            "gap_factor": np.ones(len(levels)),
            "kind_factor": np.ones(len(KINDS)),
            "release_m2": _released(site, levels, open_doors),
        }
        unknown = set(changes) - set(values)
        if unknown:
            raise ValueError(f"changes must be among {', '.join(values)}; got {', '.join(sorted(unknown))}")
        return cls._filled(values | changes, len(levels))

    @property
    def still(self):
        """The same rows without any wind; the stair's air stays what it was."""
        made = self.rows(slice(None))
        made.wind_speed_m_s = np.zeros_like(self.wind_speed_m_s)
        return made

    @classmethod
    def _filled(cls, values, storeys):
        by_storey = ("stair_door_open", "lobby_door_open", "final_exit_open", "leak_factor", "gap_factor", "release_m2")
        width = dict.fromkeys(by_storey, storeys) | {"kind_factor": len(KINDS)}
        arrays = {name: require.finite(**{name: value}) for name, value in values.items()}
        if _by_condition_or_storey(arrays["stair_c"], storeys):
            width["stair_c"] = storeys
        # A per-storey field may come as one row of storeys or with the leading axis; the others have the leading axis alone.
        leading = [a.shape[:-1] if name in width else a.shape[:1] for name, a in arrays.items()]
        count = np.broadcast_shapes((1,), *leading)
        return cls(
            **{name: np.broadcast_to(a, (*count, width[name]) if name in width else count).astype(float) for name, a in arrays.items()}
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


def _released(site, levels, open_doors):
    """Free area of the air release that stands open [storeys]: on the fire floor alone."""
    there = [] if site.release is None else [level for level in sorted(open_doors) if site.release.on(level)]
    return np.where(np.isin(levels, there[:1]), site.release.free_m2, 0.0) if there else np.zeros(len(levels))


def _flags(levels, opened, name):
    missing = [level for level in opened if level not in levels]
    if missing:
        raise ValueError(f"{name} must name storeys from {levels[0]} to {levels[-1]}, got {missing[0]!r}")
    return np.isin(levels, list(opened)).astype(float)


WEATHER_FOLDER = Path(__file__).resolve().parents[3] / "data" / "weather"
HOURS_OF_A_YEAR = 8760
MOST_BYTES = 20_000_000  # of a weather file: a hundred years with three columns; ours
COLD_PERCENT = 1.0  # share of a year's hours that are colder than its cold: ours
BALANCES, NO_SHARE_K = 9, 3.0  # outdoor temperatures at which the stair's heat is balanced, and how near the floors' none is
USUAL_STAIR_SHARE = 0.5  # where the site's weathers say nothing: as near to the outdoor air as to the floors; common practice, no source

# Column of the file, what it is called here, least and most that is believed.
_COLUMNS = {
    "dry_bulb_c": ("outdoor_c", -90.0, 60.0),
    "wind_speed_m_s": ("wind_speed_m_s", 0.0, 100.0),
    "wind_dir_deg": ("wind_from_deg", 0.0, 360.0),
}


@dataclass(frozen=True)
class Hours:
    """Weather by the hour, arrays [hours]: outdoor_c [degC], wind_speed_m_s at `measured_at_m` over open ground, wind_from_deg.

    Raises ValueError for arrays of other lengths, NaN, or figures that no weather has.
    """

    name: str
    outdoor_c: np.ndarray
    wind_speed_m_s: np.ndarray
    wind_from_deg: np.ndarray
    measured_at_m: float = 10.0

    def __post_init__(self):
        values = {name: getattr(self, name) for name, _, _ in _COLUMNS.values()}
        arrays = require.same_length(**values)
        for (name, least, most), array in zip(_COLUMNS.values(), arrays, strict=True):
            object.__setattr__(self, name, require.between(least, most, **{name: array}))
        require.positive(measured_at_m=self.measured_at_m)

    def __len__(self):
        return len(self.outdoor_c)

    @property
    def cold_c(self):
        """Outdoor temperature that so few of the hours lie below: COLD_PERCENT of them [degC]."""
        return float(np.percentile(self.outdoor_c, COLD_PERCENT))

    def rows(self, chosen):
        """The chosen hours (a slice or indices)."""
        by_hour = {field.name: getattr(self, field.name) for field in fields(self)}
        return Hours(**{name: value[chosen] if isinstance(value, np.ndarray) else value for name, value in by_hour.items()})


def demo_weather():
    """Files of the weather beside the package, by the name of the station. Raises ValueError if they are not there."""
    files = sorted(WEATHER_FOLDER.glob("*.csv"))
    if not files:
        raise ValueError(f"data/weather must lie beside the package with its hourly files, got none in {WEATHER_FOLDER}")
    return {path.stem.split("_")[0].capitalize(): path for path in files}


def nearest_station(site):
    """Hours of the station beside the package whose cold comes nearest to a site's winter. Returns `Hours`."""
    winter = site.weather["winter"].outdoor_c
    return min((read_hours(path) for path in demo_weather().values()), key=lambda hours: abs(hours.cold_c - winter))


def read_hours(path):
    """Read an hourly file.

    path of a CSV file with the columns dry_bulb_c [degC], wind_speed_m_s [m/s, 10 m above open ground] and wind_dir_deg [degrees, where
    the wind comes from], a row an hour; other columns are not looked at. Returns `Hours`. Raises ValueError in one sentence for a file
    that is not there, is no text, lacks a column, or holds something that is no number or no weather, naming the line.
    """
    path = Path(path)
    try:
        lines = text_of(path, MOST_BYTES).splitlines()
    except FileTextError as refusal:
        raise ValueError(f"weather file must be readable, got {refusal}") from None
    try:
        head, *table = list(csv.reader(lines)) or [[]]
    except csv.Error as trouble:
        raise ValueError(f"weather file must be separated by commas, got {shown_name(path)}: {trouble}") from None
    head = [name.strip() for name in head]
    missing = [name for name in _COLUMNS if name not in head]
    if missing:
        raise ValueError(f"weather file must have the columns {', '.join(_COLUMNS)}; {path.name} lacks {', '.join(missing)}")
    rows = [row for row in table if row]
    if not rows:
        raise ValueError(f"weather file must hold at least one hour, got only the head of {path.name}")
    return Hours(path.stem, *[_column(path.name, head.index(name), name, rows) for name in _COLUMNS])


def stair_share(site):
    """Share of the way from the floors' to the outdoor air's temperature at which the stair stands, by the site's own weathers.

    Returns one number from 0 to 1. Equation: least squares over the named weathers, sum(a b) / sum(b^2), a = stair less floor,
    b = outdoor less floor; 0.5 where no weather differs from the floors.
    """
    inside = site.temperatures
    outdoors = np.array([state.outdoor_c for state in site.weather.values()]) - inside.floor_c
    stairs = np.array([inside.stair_c if state.stair_c is None else state.stair_c for state in site.weather.values()]) - inside.floor_c
    if not outdoors.any():
        return USUAL_STAIR_SHARE
    return float(np.clip((stairs * outdoors).sum() / (outdoors**2).sum(), 0.0, 1.0))


def conditions_of_hours(site, hours, share=None, **changes):
    """Conditions of a site in each of some hours.

    hours: `Hours`; share: of the way from floor to outdoor temperature at which the stair stands (default `stair_share` of the site);
    changes: of Conditions.of, such as doors or leaks. Returns `Conditions`, a row an hour. Raises ValueError for a share outside 0 to 1.
    """
    part = require.between(0, 1, stair_share=stair_share(site) if share is None else share)
    if part.ndim:
        raise ValueError(f"stair_share must be one number, got {share!r:.60}")
    floor = site.temperatures.floor_c
    # The tower brings the wind down from the site's own reference height: over open ground, like the station's.
    wind = air.wind_speed_at_height(hours.wind_speed_m_s, site.wind_reference_height_m, "open", "open", hours.measured_at_m)
    weather = next(iter(site.weather))
    return Conditions.of(
        site, weather, outdoor_c=hours.outdoor_c, stair_c=floor + part * (hours.outdoor_c - floor),
        wind_speed_m_s=wind, wind_from_deg=hours.wind_from_deg, **changes,
    )  # fmt: skip


def stair_after_an_hour(tower, conditions):
    """The stair's air by storey [conditions, storeys] in many hours of weather, an hour after the fan's start in each, degC.

    conditions: `Conditions`, all with the same doors open (the first row's), whose stair_c is not looked at. The heat balance (see
    model/air/stair_heat) is made at a few outdoor temperatures in the mean wind; on each storey the share of the way from floor to outdoors
    lies between them on straight lines. Limits: within half a kelvin of the balance hour by hour (a test compares).
    """
    outdoor, floor = conditions.outdoor_c, float(conditions.floor_c[0])
    tried = np.linspace(outdoor.min(), outdoor.max(), BALANCES)
    # At the floors' own temperature there is no share to find.
    tried = np.unique(np.where(np.abs(tried - floor) < NO_SHARE_K, floor + np.where(tried < floor, -NO_SHARE_K, NO_SHARE_K), tried))
    rows = conditions.rows(np.zeros(len(tried), int))
    rows.outdoor_c, rows.wind_speed_m_s = tried, np.full(len(tried), conditions.wind_speed_m_s.mean())
    shares = (stair_air(tower, rows).stair_c - floor) / (tried - floor)[:, None]
    found = np.stack([np.interp(outdoor, tried, share) for share in shares.T], axis=1)
    return floor + found * (outdoor - floor)[:, None]


def _column(file, place, name, rows):
    _, least, most = _COLUMNS[name]
    values = np.array([_number(row[place] if place < len(row) else "") for row in rows])
    wrong = np.flatnonzero(~((values >= least) & (values <= most)))  # NaN is wrong too
    if wrong.size:
        row = rows[wrong[0]]
        got = repr(row[place]) if place < len(row) else "nothing"
        raise ValueError(f"{name} must be a number from {least:g} to {most:g}, got {got:.60} in hour {wrong[0] + 1} of {file}")
    return values


def _number(text):
    try:
        return float(text)
    except ValueError:
        return np.nan
