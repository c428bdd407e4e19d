"""A day of measuring at a stair, as a file: its weather, its gauges, what was read in each round, the fan at one steady speed in each; and,
where somebody looked, the errors of devices as found and the forces of leaves with the fan off.

Written by hand or by a sheet; read as a site file is, every mistake with its line. Whether its storeys are those of a site is asked where
the two meet (`helpers.studies.measured.readings`).
"""

import re
from datetime import date as calendar_date
from datetime import timedelta
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from helpers.model.files import MOST_BYTES, FileTextError, shown_name, text_of
from helpers.model.site import field_types as of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.field_types import file_key
from helpers.model.site.file import raw_site, read_site, read_site_text
from helpers.model.site.schema import WholeSite

Uncertainty = Annotated[float, of.Quantity("pressure", "1 Pa", low=0, high=1000, open_low=True)]
ByLevel = dict[str, of.Pressure]
PRESSURES = ("stair_doors_pa", "lobby_doors_pa", "final_exits_pa", "floor_over_outdoors_pa", "stair_over_outdoors_pa")  # of a `DayRound`


class DayWeather(of.SiteTable):
    """Air and wind of the day; the stair at its bottom, half way up where somebody looked, and at its top."""

    outdoor_c: of.Outdoor
    stair_bottom_c: of.Indoor
    stair_middle_c: of.Indoor | None = None
    stair_top_c: of.Indoor
    floor_c: of.Indoor
    wind_speed_m_s: of.WindSpeed = 0.0
    wind_from_deg: of.Bearing = 0.0


class Gauges(of.SiteTable):
    """How far off a reading may be, as 95 % of them are within: a pressure by the gauge and by unsteady air, a flow by its traverse, the
    wind (at the weather station's height). scale_percent: of what a pressure gauge shows, by its certificate; pressure_gauges: two
    where each pair had its own; upper_pair_from: the lowest storey that the upper pair read; certificate: its number and date."""

    pressure_pa: Uncertainty
    flow_percent: Annotated[float, of.Quantity("percent", "8 %", low=0, high=100, open_low=True)] = 8.0
    wind_m_s: Annotated[float, of.Quantity("speed", "1 m/s", low=0, high=20, open_low=True)] = 1.0
    scale_percent: Annotated[float, of.Quantity("percent", "2 %", low=0, high=100, open_low=True)] | None = None
    pressure_gauges: Literal[1, 2] | None = None
    upper_pair_from: of.Level | None = None
    certificate: of.Text | None = None


class DayRound(of.SiteTable):
    """What was read with the fan at one steady speed: by storey the pressure across shut doors, of floors and stair over outdoors."""

    speed_hz: of.Speed
    open_doors: of.Levels = ()
    open_exits: of.Levels = ()
    flow_m3_s: of.Flow | None = None
    stair_doors_pa: ByLevel = Field(default_factory=dict)
    lobby_doors_pa: ByLevel = Field(default_factory=dict)
    final_exits_pa: ByLevel = Field(default_factory=dict)
    floor_over_outdoors_pa: ByLevel = Field(default_factory=dict)
    stair_over_outdoors_pa: ByLevel = Field(default_factory=dict)


class DeviceFound(of.SiteTable):
    """A transmitter or gauge against a reference on this day: its error (shown less true), the largest of the points tried.

    as_found_pa: before anybody turned at it; as_left_pa: after, None where it was left as it was; reference_pa: 95 % of the reference's
    readings are within, None for the day's gauges; accuracy_pa: plus or minus, None for what the site file says of a transmitter's name."""

    name: of.Text
    as_found_pa: of.Pressure
    as_left_pa: of.Pressure | None = None
    reference_pa: Uncertainty | None = None
    accuracy_pa: Uncertainty | None = None


class LeafForce(of.SiteTable):
    """Force that sets a leaf in motion with the fan off, where the standard puts its gauge; leaf: number, where several hang there."""

    door: Literal["stair door", "lobby door", "final exit"]
    level: of.Level
    leaf: Annotated[int, Field(ge=1, le=20)] = 1
    fan_off_n: of.Force

    @property
    def key(self):
        """What tells it from all others."""
        return self.door, self.level, self.leaf


GRACE = timedelta(days=1)  # somewhere it is tomorrow already
YEARS = (1950, 2199)  # of a date: beyond it somebody slipped; ours


def date_of(text):
    """The date of a text such as 2026-05-12, so that nobody takes the month for the day. Raises ValueError for another."""
    try:
        found = calendar_date.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or found.isoformat() != text or not YEARS[0] <= found.year <= YEARS[1]:
        told = f"must be a date as year, month and day with a dash between each, from {YEARS[0]} to {YEARS[1]}"
        raise ValueError(f"{told}; got {text!r:.60}")
    return found


def not_after(day, today):
    """Raise ValueError where a date is after today, a `date` (None: no clock is asked), by more than the day that clocks may be apart."""
    if today is not None and day > today + GRACE:
        raise ValueError(f"must not be after today, {today} by this machine's clock; got {day}")


def its_date_is_one(draft):
    """A date is written in one way."""
    text = draft.sections.get("date")
    if text is not None:
        try:
            date_of(text)
        except ValueError as refusal:
            yield ("date",), str(refusal)


def something_was_read(draft):
    """A round without a reading says nothing, and a storey is a whole number."""
    for number, one in draft.items("rounds"):
        read = {name: getattr(one, name) for name in PRESSURES}
        if one.flow_m3_s is None and not any(read.values()):
            yield ("rounds", number), "must hold at least one reading; got none"
        for name, by_level in read.items():
            for level in by_level:
                if not re.fullmatch(r"-?\d{1,3}", level):
                    yield ("rounds", number, file_key(name), level), f"must be a storey, such as 3 or -1; got {level!r:.60}"


def each_stands_once(draft):
    """Two figures of one thing on one day: nobody knows which counts."""
    for section, key, told in (("devices", "name", "as found"), ("leaves", "key", "force")):
        seen = set()
        for number, one in draft.items(section):
            name = getattr(one, key)
            if name in seen:
                yield (section, number), f"must stand once in a day, with one {told}; {_said(name)} is there twice"
            seen.add(name)


def _said(key):
    return f"{key!r:.60}" if isinstance(key, str) else f"{key[0]} {key[1]}, leaf {key[2]}"


READ_TWICE = "Read by several people, their mean counts (of a force the largest): "  # in a day's note, before the places


class TestDay(WholeSite):
    """One day at one stair; `site` is the site's name, `date` as 2026-05-12."""

    __test__: ClassVar[bool] = False  # no test of pytest's
    called: ClassVar[str] = "test day"
    checks: ClassVar[tuple] = (its_date_is_one, something_was_read, each_stands_once)

    kind: Literal["test day"]
    site: of.Text
    date: of.Text
    weather: DayWeather
    gauges: Gauges
    rounds: Annotated[list[DayRound], Field(min_length=1)]
    devices: list[DeviceFound] = Field(default_factory=list)
    leaves: list[LeafForce] = Field(default_factory=list)

    @property
    def read_twice(self):
        """What several people read of one place, as its note names it; "" for nothing."""
        return (self.note or "").partition(READ_TWICE)[2]

    @property
    def year(self):
        """Its date as a year with its share."""
        day = date_of(self.date)
        return day.year + (day - calendar_date(day.year, 1, 1)).days / 365.25


def read_test_day(path, today=None):
    """Read the file of a test day. Returns `TestDay`; raises SiteFileError as `read_site`, and ValueError for a day after today, a `date`
    (None: no clock is asked)."""
    day = read_site(path, (TestDay,))
    try:
        not_after(date_of(day.date), today)
    except ValueError as refusal:
        raise ValueError(f"{shown_name(path)}: date {refusal}") from None
    return day


def read_test_day_text(text, name="test day text"):
    """Read a test day from the text of its file; name is what refusals call it. Returns and raises as `read_test_day`."""
    return read_site_text(text, name, (TestDay,))


def site_of_day(path):
    """Name of the site whose test day a file says it is, None for a file that is none, or cannot be read at all."""
    try:
        data = raw_site(text_of(path, MOST_BYTES))
    except (FileTextError, SiteFileError):
        return None
    return data.get("site") if data.get("kind") == "test day" else None
