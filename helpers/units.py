"""Units at the edges: text with its unit to an SI float and back, and the one switch between Pa and in. w.c.

pint holds the conversion factors; it is loaded at the first conversion, not at import. Inside the workbook all is SI floats, but for
temperature (°C), angle (degrees), frequency (Hz), percent (%) and the concentration of a gas (ppm by volume). Which water column a figure
stands on is stated here and nowhere else.
"""

import decimal
import math
import re
from functools import lru_cache

__all__ = [
    "DIMENSIONS",
    "SYSTEMS",
    "WATER_COLUMN",
    "WATER_COLUMNS_PA",
    "UnitError",
    "from_display",
    "one_stop",
    "parse",
    "show",
    "to_display",
    "unit_label",
    "write",
]

# One inch of water [Pa]. NIST SP 811 (2008) appendix B.8: conventional (1000 kg/m3), 39.2 °F, 60 °F.
# 20 °C: 998.207 kg/m3 (water at 20 °C, CIPM 2001 tables, memory) x 9.80665 m/s2 x 0.0254 m.
WATER_COLUMNS_PA = {"conventional": 249.0889, "39.2 °F": 249.082, "60 °F": 248.84, "20 °C": 248.642}
WATER_COLUMN = "conventional"  # also called the water column at 4 °C

SYSTEMS = ("Pa", "in. w.c.")

# Spellings a file or a person may use, small letters without spaces, dots and "^", each with its name in pint. The first one is written.
_WATER = {"inwc": "inch_water", "inwg": "inch_water", "inh2o": "inch_water", "iwc": "inch_water", "mmwc": "mm_water", "mmh2o": "mm_water"}
_SPELLINGS = {
    "pressure": {"Pa": "pascal", "hPa": "hectopascal", "kPa": "kilopascal", "mbar": "millibar", **_WATER},
    "length": {"m": "meter", "cm": "centimeter", "mm": "millimeter", "ft": "foot", "in": "inch"},
    "area": {"m2": "meter**2", "cm2": "centimeter**2", "mm2": "millimeter**2", "ft2": "foot**2", "sqft": "foot**2", "in2": "inch**2"},
    "temperature": {"°C": "degC", "C": "degC", "degC": "degC", "°F": "degF", "F": "degF", "degF": "degF", "K": "kelvin"},
    "force": {"N": "newton", "lbf": "pound_force"},
    "flow": {
        "m3/s": "meter**3/second",
        "m3/h": "meter**3/hour",
        "l/s": "liter/second",
        "cfm": "foot**3/minute",
        "ft3/min": "foot**3/minute",
    },
    "speed": {
        "m/s": "meter/second",
        "km/h": "kilometer/hour",
        "fpm": "foot/minute",
        "ft/min": "foot/minute",
        "mph": "mile/hour",
        "kn": "knot",
    },
    "frequency": {"Hz": "hertz"},
    "time": {"s": "second", "ms": "millisecond", "min": "minute", "h": "hour"},
    "ratio": {"%": "percent", "": "dimensionless"},
    "percent": {"%": "percent"},
    "power": {"W": "watt", "kW": "kilowatt", "hp": "horsepower"},
    "angle": {"°": "degree", "deg": "degree"},
    "density": {"kg/m3": "kilogram/meter**3", "lb/ft3": "pound/foot**3"},
    "inertia": {"kg m2": "kilogram*meter**2", "lb ft2": "pound*foot**2"},
    "concentration": {"ppm": "ppm"},
    "heat transfer": {"W/(m2 K)": "watt/meter**2/kelvin", "Btu/(h ft2 °F)": "Btu/hour/foot**2/delta_degF"},
    "effusivity": {"J/(m2 K s^0.5)": "joule/meter**2/kelvin/second**0.5", "Btu/(ft2 °F h^0.5)": "Btu/foot**2/delta_degF/hour**0.5"},
}
DIMENSIONS = tuple(_SPELLINGS)

_BASE = {"ratio": "dimensionless"} | {name: next(iter(units.values())) for name, units in _SPELLINGS.items() if name != "ratio"}

# Shown label and decimals by system; None: three significant digits.
_SHOWN = {
    "pressure": (("Pa", 0), ("in. w.c.", 2)),
    "length": (("m", 2), ("ft", 2)),
    "area": (("m²", None), ("ft²", None)),
    "temperature": (("°C", 0), ("°F", 0)),
    "force": (("N", 0), ("lbf", 0)),
    "flow": (("m³/s", 2), ("cfm", 0)),
    "speed": (("m/s", 2), ("fpm", 0)),
    "frequency": (("Hz", 1), ("Hz", 1)),
    "time": (("s", 1), ("s", 1)),
    "ratio": (("%", 0), ("%", 0)),
    "percent": (("%", 1), ("%", 1)),
    "power": (("kW", 2), ("hp", 2)),
    "angle": (("°", 0), ("°", 0)),
    "density": (("kg/m³", 3), ("lb/ft³", 4)),
    "inertia": (("kg m²", 2), ("lb ft²", 1)),
    "concentration": (("ppm", 0), ("ppm", 0)),
    "heat transfer": (("W/(m² K)", None), ("Btu/(h ft² °F)", None)),
    "effusivity": (("J/(m² K s^0.5)", 0), ("Btu/(ft² °F h^0.5)", 1)),
}

MOST_LETTERS = 100  # of a quantity: ours
_NUMBER_AND_UNIT = re.compile(r"\s*([-+−]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*([^\d\s.,+\-−].*)?$", re.DOTALL)


class UnitError(ValueError):
    """A text that is no quantity of the dimension asked for; `found` says what it is instead."""

    def __init__(self, name, dimension, found):
        self.found = found
        super().__init__(f"{name} must be {_with_article(dimension)} with its unit, such as {_example(dimension)}; got {found}")


def parse(text, dimension, name="value", water_column=WATER_COLUMN):
    """Read a quantity written with its unit.

    text such as "0.10 in. w.c." or "28 °F"; dimension one of DIMENSIONS; name is what a refusal calls it; water_column one of
    WATER_COLUMNS_PA. Returns a float [SI; °C, degrees, Hz, % and ppm as they stand]. Raises UnitError, a ValueError, for no number, no unit
    or a unit of another dimension, naming both. A ratio may do without unit.

    >>> parse("0.10 inH2O", "pressure"), parse("28 °F", "temperature"), parse("30 lbf", "force")
    (24.90889, -2.222222222222186, 133.446648457815)
    """
    _known(dimension, water_column)
    if not isinstance(text, str):
        raise UnitError(name, dimension, f"{text!r:.60}, which is no text")
    if len(text) > MOST_LETTERS:
        raise UnitError(name, dimension, f"{text[:20]!r} and more, {len(text)} letters")
    return _parse(text, dimension, name, water_column)


def write(value_si, dimension):
    """Write a quantity so that parse gives exactly the same float back, in the unit the workbook holds it in. Raises ValueError for what
    parse would refuse: no finite number.

    >>> write(25.0, "pressure"), write(0.62, "ratio")
    ('25 Pa', '0.62')
    """
    _known(dimension)
    if not math.isfinite(value_si):
        raise ValueError(f"value_si must be a finite number to be written, got {value_si!r:.40}")
    unit = "" if dimension == "ratio" else next(iter(_SPELLINGS[dimension]))
    return f"{float(value_si)!r}".removesuffix(".0") + (f" {unit}" if unit else "")


def show(value_si, dimension, system="Pa", digits=None, water_column=WATER_COLUMN):
    """Write a quantity for the eye, rounded, in the chosen system of units.

    value_si [SI], dimension one of DIMENSIONS, system one of SYSTEMS, digits after the point (default by dimension).
    Returns text. Raises ValueError for an unknown dimension, system or water column, or a value that is not a finite number.

    >>> show(24.9, "pressure"), show(24.9, "pressure", "in. w.c."), show(133.4, "force", "in. w.c.")
    ('25 Pa', '0.10 in. w.c.', '30 lbf')
    """
    value = float(to_display(value_si, dimension, system, water_column))
    if not math.isfinite(value):
        raise ValueError(f"value_si must be a finite number to be shown, got {value_si!r:.60}")
    label, decimals = _shown(dimension, system)
    decimals = digits if digits is not None else _three_digits(value) if decimals is None else decimals
    return _rounded(value, decimals) + ("" if label == "°" else " ") + label


_WIDE = decimal.Context(prec=400)  # the largest float has 309 digits before the point


def _rounded(value, decimals):
    """A half is rounded away from zero, and dust in the last bits does not decide: 31.25 is written 31.3 on every machine."""
    clean = decimal.Decimal(f"{value:.12g}")
    return f"{clean.quantize(decimal.Decimal(1).scaleb(-decimals), decimal.ROUND_HALF_UP, _WIDE):zf}"


def one_stop(words):
    """Words of one or more sentences, with a single full stop where one ends in a unit that brings its own.

    >>> one_stop("Hold 0.16 in. w.c.. Not more.")
    'Hold 0.16 in. w.c. Not more.'
    """
    return words.replace("w.c..", "w.c.")


def unit_label(dimension, system="Pa"):
    """Label of the unit a dimension is shown in, for axes and sliders.

    >>> unit_label("flow"), unit_label("flow", "in. w.c.")
    ('m³/s', 'cfm')
    """
    return _shown(dimension, system)[0]


def to_display(value_si, dimension, system="Pa", water_column=WATER_COLUMN):
    """Change an SI value (a number or an array) into the number shown in the chosen system."""
    scale, offset = _label_line(dimension, system, water_column)
    return (value_si - offset) / scale


def from_display(value, dimension, system="Pa", water_column=WATER_COLUMN):
    """Change a number (or an array) shown in the chosen system back into SI; the inverse of to_display."""
    scale, offset = _label_line(dimension, system, water_column)
    return value * scale + offset


@lru_cache(maxsize=4096)
def _parse(text, dimension, name, water_column):
    found = _NUMBER_AND_UNIT.match(text)
    if not found:
        comma = _comma_said(text)
        raise UnitError(name, dimension, f"{text!r:.60}, which is no number with a unit{comma}")
    key = _key(found[2] or "")
    if key not in _KEYS[dimension]:
        raise UnitError(name, dimension, f"{text!r:.60}, {_what_it_is(key, dimension)}")
    scale, offset = _line(key, dimension, water_column)
    value = float(found[1].replace("−", "-")) * scale + offset
    if not math.isfinite(value):
        raise UnitError(name, dimension, f"{text!r:.60}, which is beyond all numbers")
    return value


def _comma_said(text):
    """What to write in place of a comma, which parts thousands for some readers and decimals for others; nothing where there is none."""
    found = re.search(r"\d+(?:,\d+)+(?:\.\d+)?", text)
    if not found:
        return ""
    if re.fullmatch(r"\d{1,3},\d{3}", found[0]):
        return f"; a comma is not read: write {found[0].replace(',', '')}, or {found[0].replace(',', '.')} with a decimal point"
    return "; write a decimal point and no comma"


def _what_it_is(key, dimension):
    others = [other for other, keys in _KEYS.items() if key and key in keys]
    if others:
        return f"which is {_with_article(others[0])}"
    return f"whose unit is none of {', '.join(u for u in _SPELLINGS[dimension] if u)}" if key else "which has no unit"


def _with_article(dimension):
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


def _example(dimension):
    unit = next(iter(_SPELLINGS[dimension]))
    return f'"12{"" if unit == "°" else " "}{unit}"'


def _key(unit):
    return re.sub(r"[\s.^]", "", unit).translate(str.maketrans("²³º", "23°")).lower()


_KEYS = {dimension: {_key(spelling): name for spelling, name in units.items()} for dimension, units in _SPELLINGS.items()}


@lru_cache(maxsize=1)
def _registry():
    import pint  # here and not above: loading it takes half a second

    registry = pint.UnitRegistry()
    for column, pascals in WATER_COLUMNS_PA.items():
        registry.define(f"inch_water_{_word(column)} = {pascals} pascal")
        registry.define(f"mm_water_{_word(column)} = {pascals} / 25.4 pascal")
    return registry


def _word(column):
    return re.sub(r"\W+", "_", column)


@lru_cache(maxsize=256)
def _line(key, dimension, water_column):
    """Scale and offset that turn a number in the unit into the workbook's own unit."""
    unit = _KEYS[dimension][key]
    unit = f"{unit}_{_word(water_column)}" if unit.endswith("_water") else unit
    quantity, base = _registry().Quantity, _BASE[dimension]
    zero, one = quantity(0.0, unit), quantity(1.0, unit)
    step = (one - zero).to("delta_degC" if base == "degC" else base).magnitude
    return _without_dust(step), _without_dust(zero.to(base).magnitude)


def _without_dust(number):
    """Three feet are 0.9144 m and not 0.91439999999999997: drop what lies in the last bits of a factor of at most fourteen digits."""
    short = float(f"{number:.14g}")
    return short if math.isclose(short, number, rel_tol=5e-16) else float(number)


@lru_cache(maxsize=256)
def _label_line(dimension, system, water_column):
    _known(dimension, water_column)
    return _line(_key(_shown(dimension, system)[0]), dimension, water_column)


def _shown(dimension, system):
    _known(dimension)
    if system not in SYSTEMS:
        raise ValueError(f"system must be one of {', '.join(SYSTEMS)}; got {system!r:.60}")
    return _SHOWN[dimension][SYSTEMS.index(system)]


def _known(dimension, water_column=WATER_COLUMN):
    if dimension not in DIMENSIONS:
        raise ValueError(f"dimension must be one of {', '.join(DIMENSIONS)}; got {dimension!r:.60}")
    if water_column not in WATER_COLUMNS_PA:
        raise ValueError(f"water_column must be one of {', '.join(WATER_COLUMNS_PA)}; got {water_column!r:.60}")


def _three_digits(value):
    return max(0, 2 - math.floor(math.log10(abs(value)))) if value else 0
