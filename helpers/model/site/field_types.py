"""Field types of the site file: quantities with their unit, within limits that no building reaches; names out of the lists that formulas
keep; and the key that a field has in the file."""

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetCoreSchemaHandler, ValidationInfo
from pydantic_core import core_schema

from helpers import units
from helpers.formulas.action import ACTIONS
from helpers.formulas.air import FACE_COEFFICIENTS, TERRAINS
from helpers.formulas.combining import RULES
from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.formulas.signals import SIGNALS

LARGEST = 10**15  # of any quantity, either way; ours
ABSOLUTE_ZERO_C = -273.15  # definition of the degree Celsius

_UNIT_SUFFIX = re.compile(r"_(m3_s|m_s|kg_m2|kg_m3|w_m2k|m2|m|pa|n|hz|s|c|deg|w|ppm)$")


def found(value):
    """A value as it stands in the file, shortened.

    >>> found(True), found("2.9 Pa")
    ('true', "'2.9 Pa'")
    """
    if isinstance(value, bool):
        return str(value).lower()
    try:
        return f"{value!r:.60}"
    except ValueError:  # a whole number of thousands of digits
        return "a number too long to be written"


def file_key(field_name):
    """Key in the file of a field: its name without the unit, since the file's value carries its own.

    >>> file_key("height_m"), file_key("inertia_kg_m2"), file_key("accuracy_percent_span"), file_key("levels")
    ('height', 'inertia', 'accuracy_of_span', 'levels')
    """
    return _UNIT_SUFFIX.sub("", field_name).replace("_percent_span", "_of_span")


class SiteTable(BaseModel):
    """A table of the site file. Files use the keys, Python the field names; both refuse what they do not know."""

    model_config = ConfigDict(
        alias_generator=file_key, validate_by_name=True, validate_by_alias=False, extra="forbid", frozen=True, strict=True
    )


@dataclass(frozen=True)
class Quantity:
    """A float in the unit its field name states; in a file, text with any unit of the dimension. Ratios may be bare numbers."""

    dimension: str
    example: str
    low: float = -math.inf
    high: float = math.inf
    open_low: bool = False

    def allowed(self):
        """What a value must be, in words."""
        kind = "a number" if self.dimension == "ratio" else f"{'an' if self.dimension[0] in 'aeiou' else 'a'} {self.dimension}"
        low, high = (units.write(limit, self.dimension) if math.isfinite(limit) else "" for limit in (self.low, self.high))
        if math.isfinite(self.low) and math.isfinite(self.high):
            limits = f" {'above' if self.open_low else 'from'} {low} {'up ' if self.open_low else ''}to {high}"
        elif math.isfinite(self.low):
            limits = f" above {low}" if self.open_low else f" of {low} or more"
        else:
            limits = "" if math.isinf(self.high) else f" of {high} or less"
        return f"{kind}{limits}, such as {self.example if self.dimension == 'ratio' else repr(self.example)}".replace("'", '"')

    def read(self, value, info: ValidationInfo):
        """Give the float, or refuse with a sentence."""
        number = self._number(value, from_file=bool(info.context))
        if number < self.low or number > self.high or (self.open_low and number == self.low):
            raise ValueError(f"must be {self.allowed()}; got {found(value)}{self._wrong_unit(value, number)}")
        return number

    def _number(self, value, from_file):
        bare = isinstance(value, (int, float)) and not isinstance(value, bool)
        if bare and (isinstance(value, float) and not math.isfinite(value)):
            raise ValueError(f"must be {self.allowed()}; got {value}, which is no finite number")
        if bare and abs(value) > LARGEST:
            raise ValueError(f"must be {self.allowed()}; got {found(value)}, which is larger than any quantity of a site")
        if bare and (self.dimension == "ratio" or not from_file):
            return float(value)
        if not isinstance(value, str):
            raise ValueError(f"must be {self.allowed()}; got {found(value)}{', which has no unit' if bare else ''}")
        try:
            number = units.parse(value, self.dimension)
        except units.UnitError as refusal:
            raise ValueError(f"must be {self.allowed()}; got {refusal.found}") from None
        if abs(number) > LARGEST:
            raise ValueError(f"must be {self.allowed()}; got {found(value)}, which is larger than any quantity of a site")
        return number

    def _wrong_unit(self, value, number):
        if self.dimension != "temperature":
            return ""
        below = f", below absolute zero ({ABSOLUTE_ZERO_C} °C)" if number < ABSOLUTE_ZERO_C else ""
        figure = re.match(r"\s*[-+−]?[\d.]+", str(value))
        likely = [f"{figure[0].strip()} {unit}" for unit in ("°F", "K", "°C") if figure and unit not in str(value)]
        meant = [text for text in likely if self.low <= units.parse(text.replace("−", "-"), "temperature") <= self.high]
        return below + (f"; is the unit right? {meant[0]} would do" if meant else "")

    def __get_pydantic_core_schema__(self, source, handler: GetCoreSchemaHandler):
        return core_schema.with_info_plain_validator_function(self.read)


@dataclass(frozen=True)
class Spread(Quantity):
    """A quantity that is known to a figure, or within three: low, likely and high. Gives a float, or a tuple of three."""

    def allowed(self):
        """What a value must be, in words."""
        return f"{super().allowed()}, or a list of three of them: low, likely, high"

    def read(self, value, info: ValidationInfo):
        """Give the float or the three of them, or refuse with a sentence."""
        if not isinstance(value, (list, tuple)):
            return super().read(value, info)
        if len(value) != 3:
            raise ValueError(f"must be {self.allowed()}; got a list of {len(value)}")
        low, likely, high = (super(Spread, self).read(part, info) for part in value)
        if not low <= likely <= high:
            listed = ", ".join(units.write(part, self.dimension) for part in (low, likely, high))
            raise ValueError(f"must not fall from low over likely to high; got {listed}")
        return low, likely, high


@dataclass(frozen=True)
class OneOf:
    """A text out of a list that is kept elsewhere, so that file and formula cannot know different names."""

    names: tuple

    def read(self, value):
        """Give the text, or refuse it naming all that are allowed."""
        if not isinstance(value, str) or value not in self.names:
            raise ValueError(f"must be one of {', '.join(map(repr, self.names))}; got {found(value)}")
        return value

    def __get_pydantic_core_schema__(self, source, handler: GetCoreSchemaHandler):
        return core_schema.no_info_plain_validator_function(self.read)


class Counts(dict):
    """How many there are of each kind, by its name; it never changes, so that it has a hash as everything of a site."""

    def __hash__(self):
        return hash(tuple(self.items()))


@dataclass(frozen=True)
class CountOfEach:
    """A table of kinds with a count each, such as {"service landing" = 1}. Gives `Counts`."""

    most: int

    def read(self, value):
        """Give the counts, or refuse with a sentence."""
        must = f'must be a table of kinds of doors with their number, from 1 to {self.most}, such as {{"service landing" = 1}}'
        if not isinstance(value, dict):
            raise ValueError(f"{must}; got {found(value)}")
        for name, count in value.items():
            if not name or isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= self.most:
                raise ValueError(f"{must}; got {name!r:.60} = {found(count)}")
        return Counts(value)

    def __get_pydantic_core_schema__(self, source, handler: GetCoreSchemaHandler):
        return core_schema.no_info_plain_validator_function(self.read)


def _on_one_line(value):
    """A name stands in heads, in file lists and in answers of a terminal: a second line would be taken for ours."""
    if not value.strip():
        raise ValueError(f"must not be blank; got {found(value)}")
    if len(value.splitlines()) > 1 or value.splitlines()[0] != value:
        raise ValueError(f"must stand on one line; got {found(value)}")
    return value


LOWEST_LEVEL, HIGHEST_LEVEL = -20, 300
# A standard is a file of this folder (helpers.model.site.criteria reads it), by its name; files written before may use an older name for
# it.
CRITERIA_FOLDER = Path(__file__).resolve().parents[3] / "data" / "criteria"
OLDER_STANDARD_NAMES = {"en12101": "en12101_6_2005"}
STANDARD_NAMES = (*sorted(path.stem for path in CRITERIA_FOLDER.glob("*.toml")), *OLDER_STANDARD_NAMES)
# Of a European system (EN 12101-6): which doors stand open, and how fast the air must be. Left out: not stated.
AirflowClass = Literal["A", "B", "C", "D", "E", "F"]
# How people leave: all at once, floor by floor, or those of the fire's place alone. Of the fire strategy; no figure hangs on it.
Evacuation = Literal["simultaneous", "phased", "defend in place"]

Level = Annotated[int, Field(ge=LOWEST_LEVEL, le=HIGHEST_LEVEL)]
Text = Annotated[str, Field(min_length=1), AfterValidator(_on_one_line)]
Length = Annotated[float, Quantity("length", "3.1 m", low=0, high=1000, open_low=True)]
# Upper ends that no building reaches: what is beyond is a slip of the pen, and with far larger ones the air would not be found.
Area = Annotated[float, Quantity("area", "12 m2", low=0, high=1e6)]
OpenArea = Annotated[float, Quantity("area", "12 m2", low=0, high=1e6, open_low=True)]
Pressure = Annotated[float, Quantity("pressure", "25 Pa", low=-20000, high=20000)]
Rise = Annotated[float, Quantity("pressure", "25 Pa", low=0, high=20000)]
Force = Annotated[float, Quantity("force", "133 N", low=0, high=2000)]
Flow = Annotated[float, Quantity("flow", "4 m3/s", low=0, high=1e5)]
Speed = Annotated[float, Quantity("frequency", "50 Hz", low=0, high=400, open_low=True)]
Time = Annotated[float, Quantity("time", "3 s", low=0, high=1e9)]
Step = Annotated[float, Quantity("time", "0.1 s", low=0, high=1e9, open_low=True)]
Inertia = Annotated[float | tuple[float, float, float], Spread("inertia", "1.5 kg m2", low=0, high=1e5, open_low=True)]
HeatSurface = Annotated[float | tuple[float, float, float], Spread("area", "90 m2", low=0, high=1e6, open_low=True)]
Film = Annotated[float | tuple[float, float, float], Spread("heat transfer", "6 W/(m2 K)", low=0.1, high=200)]
Effusivity = Annotated[float | tuple[float, float, float], Spread("effusivity", "1850 J/(m2 K s^0.5)", low=10, high=50000)]
PlatePower = Annotated[float, Quantity("power", "5.5 kW", low=0, high=1e8, open_low=True)]
DuctLoss = Annotated[float, Quantity("pressure", "30 Pa", low=0, high=20000, open_low=True)]
DuctFlow = Annotated[float, Quantity("flow", "4 m3/s", low=0, high=1e5, open_low=True)]
FireHeat = Annotated[float, Quantity("power", "1000 kW", low=0, high=1e8, open_low=True)]
FireGas = Annotated[float, Quantity("temperature", "300 °C", low=20, high=1300)]
CurveDensity = Annotated[float, Quantity("density", "1.2 kg/m3", low=0.3, high=3)]
Delay = Annotated[float | tuple[float, float, float], Spread("time", "0.3 s", low=0, high=3600)]
TubeLength = Annotated[float | tuple[float, float, float], Spread("length", "12 m", low=0, high=500)]
Bore = Annotated[float, Quantity("length", "4 mm", low=0.0005, high=0.1)]
ShareOrThree = Annotated[float | tuple[float, float, float], Spread("ratio", "0.6", low=0, high=1)]
Margin = Annotated[float | tuple[float, float, float], Spread("ratio", '"50 %"', low=0, high=10)]
LeakFactor = Annotated[float, Quantity("ratio", "1.2", low=0.01, high=100)]
Efficiency = Annotated[float, Quantity("ratio", "0.62", low=0.01, high=1)]
DischargeCoefficient = Annotated[float, Quantity("ratio", "0.65", low=0.1, high=1)]
Share = Annotated[float, Quantity("ratio", "0.5", low=0, high=1)]
Outdoor = Annotated[float, Quantity("temperature", "-9 °C", low=-60, high=60)]
Indoor = Annotated[float, Quantity("temperature", "21 °C", low=-30, high=50)]
Bearing = Annotated[float, Quantity("angle", "270 deg", low=0, high=360)]
Exponent = Annotated[float, Quantity("ratio", "0.65", low=0.5, high=1)]
Altitude = Annotated[float, Quantity("length", "120 m", low=-500, high=5000)]
WindSpeed = Annotated[float, Quantity("speed", "4 m/s", low=0, high=60)]
MastHeight = Annotated[float, Quantity("length", "10 m", low=1, high=TERRAINS["open"][1])]  # weather masts stand in open country
AccuracyOfSpan = Annotated[float, Quantity("percent", "1 %", low=0, high=100)]
ConverterBits = Annotated[int, Field(ge=6, le=24)]
Gain = Annotated[float, Quantity("ratio", "0.8", low=0, high=1000, open_low=True)]
Weights = Annotated[tuple[Share, ...], Field(strict=False, min_length=1)]
CountsOfDoors = Annotated[Counts, CountOfEach(20)]
Levels = Annotated[tuple[Level, ...], Field(strict=False)]
FourAreas = Annotated[tuple[Area, Area, Area, Area], Field(strict=False)]
FourBearings = Annotated[tuple[Bearing, Bearing, Bearing, Bearing], Field(strict=False)]
SignalName = Annotated[str, OneOf(tuple(SIGNALS))]
RuleName = Annotated[str, OneOf(tuple(RULES))]
ActionName = Annotated[str, OneOf(tuple(ACTIONS))]
TerrainName = Annotated[str, OneOf(tuple(TERRAINS))]
CoefficientTable = Annotated[str, OneOf(tuple(FACE_COEFFICIENTS))]
_WORDS = dict.fromkeys(word for edition in WALL_LEAKAGE_RATIOS.values() for classes in edition.values() for word in classes)
Tightness = Annotated[str, OneOf(tuple(_WORDS))]


def split_total(value, info):
    """One total of a facade is split evenly over the four faces."""
    if isinstance(value, (list, tuple)):
        return value
    quarter = Quantity("area", "420 m2", low=0).read(value, info) / 4
    return [f"{quarter!r} m2" if info.context else quarter] * 4


def one_way(value, info):
    """A leaf opens one way; one that swings both ways has neither stop nor latch."""
    if value == "both" or isinstance(value, (list, tuple)):
        ways = f"got {found(value)}: a leaf that swings both ways has no stop against the pressure, and the pressure pushes it open"
        raise ValueError(f"must be one way, 'against pressure' or 'with pressure'; {ways}, so write 'with pressure'")
    return value
