"""What the fields of a site file may be: quantities within limits that no building reaches, names out of the lists that formulas keep."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from helpers.formulas.action import ACTIONS
from helpers.formulas.air import FACE_COEFFICIENTS, TERRAINS
from helpers.formulas.combining import RULES
from helpers.formulas.leakage import WALL_LEAKAGE_RATIOS
from helpers.formulas.signals import SIGNALS
from helpers.model.site.quantities import OneOf, Quantity, Spread, found

LOWEST_LEVEL, HIGHEST_LEVEL = -20, 300
# A standard is a file of this folder (helpers.model.site.criteria reads it), by its name; files written before may use an older name for
# it.
CRITERIA_FOLDER = Path(__file__).resolve().parents[3] / "data" / "criteria"
OLDER_STANDARD_NAMES = {"en12101": "en12101_6_2005"}
STANDARD_NAMES = (*sorted(path.stem for path in CRITERIA_FOLDER.glob("*.toml")), *OLDER_STANDARD_NAMES)
# Of a European system (EN 12101-6): which doors stand open, and how fast the air must be. Left out: not stated.
AirflowClass = Literal["A", "B", "C", "D", "E", "F"]

Level = Annotated[int, Field(ge=LOWEST_LEVEL, le=HIGHEST_LEVEL)]
Text = Annotated[str, Field(min_length=1)]
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
CurveDensity = Annotated[float, Quantity("density", "1.2 kg/m3", low=0.3, high=3)]
Delay = Annotated[float | tuple[float, float, float], Spread("time", "0.3 s", low=0, high=3600)]
TubeLength = Annotated[float | tuple[float, float, float], Spread("length", "12 m", low=0, high=500)]
Bore = Annotated[float, Quantity("length", "4 mm", low=0.0005, high=0.1)]
ShareOrThree = Annotated[float | tuple[float, float, float], Spread("ratio", "0.6", low=0, high=1)]
Margin = Annotated[float | tuple[float, float, float], Spread("ratio", '"50 %"', low=0, high=10)]
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
