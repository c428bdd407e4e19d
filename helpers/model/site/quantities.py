"""Field types of the site file: quantities written with their unit, names out of a list, and the key a field has in the file."""

import math
import re
from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, ValidationInfo
from pydantic_core import core_schema

from helpers import units

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
