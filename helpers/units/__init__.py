"""Units at the edges: text with its unit to an SI float and back, and the one switch between Pa and in. w.c.

Inside the workbook all is SI floats, but for temperature (°C), angle (degrees), frequency (Hz), percent (%) and the concentration of a gas
(ppm by volume). Which water column a figure stands on is stated here and nowhere else.

How a figure is rounded, for everybody who writes one:

1. As its instrument shows it (`_SHOWN`): a pressure by 1 Pa or 0.01 in. w.c.; what is computed beside a limit, an error or an accuracy by a
   digit more (`fine`, 0.1 Pa or 0.001 in. w.c.), a step of a converter by two. Both systems are about as fine: flows by 0.01 m3/s, 10 cfm.
2. A figure that is past its limit is never written as the limit: both take as many digits as part them (`report.apart`).
3. A range that works is rounded inwards (`report.inside_text`).
4. What two figures differ by is that of the figures in view, which take a digit more before they would not add up (`said.adding_up`).
5. A transmitter's range is told in figures of the reader's trade, or as what it is (`_SOLD`, `plates.plate_text`).
6. What is drawn for an exercise is drawn as it is written (`seeds.Draw`).
"""

import decimal
import math
import re
from functools import lru_cache

# One inch of water [Pa]. NIST SP 811 (2008) appendix B.8: conventional (1000 kg/m3), 39.2 °F, 60 °F.
# 20 °C: 998.207 kg/m3 (water at 20 °C, CIPM 2001 tables, memory) x 9.80665 m/s2 x 0.0254 m.
WATER_COLUMNS_PA = {"conventional": 249.0889, "39.2 °F": 249.082, "60 °F": 248.84, "20 °C": 248.642}
WATER_COLUMN = "conventional"  # also called the water column at 4 °C

SYSTEMS = ("Pa", "in. w.c.")

# Water columns by their spelling, and how many make an inch.
_WATER = {"inwc": 1.0, "inwg": 1.0, "inh2o": 1.0, "iwc": 1.0, "mmwc": 25.4, "mmh2o": 25.4}
_ZEROS = {"°f": -160 / 9, "f": -160 / 9, "degf": -160 / 9, "k": -273.15}  # °C at none of the unit

_SPEEDS = {"m/s": 1.0, "km/h": 1 / 3.6, "fpm": 0.00508, "ft/min": 0.00508, "mph": 0.44704, "kn": 1852 / 3600}

# Spellings a file or a person may use, small letters without spaces, dots and "^", each with its size in the first one, which is written
# (a ratio: in 1). Of the international foot and pound, 9.80665 m/s2 and the international table's Btu, 1055.05585262 J: all of them exact.
_SPELLINGS = {
    "pressure": {"Pa": 1.0, "hPa": 100.0, "kPa": 1000.0, "mbar": 100.0, **_WATER},
    "length": {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254},
    "area": {"m2": 1.0, "cm2": 1e-4, "mm2": 1e-6, "ft2": 0.09290304, "sqft": 0.09290304, "in2": 0.00064516},
    "temperature": {"°C": 1.0, "C": 1.0, "degC": 1.0, "°F": 5 / 9, "F": 5 / 9, "degF": 5 / 9, "K": 1.0},
    "force": {"N": 1.0, "lbf": 4.4482216152605},
    "flow": {"m3/s": 1.0, "m3/h": 1 / 3600, "l/s": 0.001, "cfm": 0.0004719474432, "ft3/min": 0.0004719474432},
    "speed": {**_SPEEDS},
    "wind speed": {**_SPEEDS},
    "frequency": {"Hz": 1.0},
    "time": {"s": 1.0, "ms": 0.001, "min": 60.0, "h": 3600.0},
    "ratio": {"%": 0.01, "": 1.0},
    "percent": {"%": 1.0},
    "power": {"W": 1.0, "kW": 1000.0, "hp": 745.69987158227022},
    "angle": {"°": 1.0, "deg": 1.0},
    "density": {"kg/m3": 1.0, "lb/ft3": 0.45359237 / 0.028316846592},
    "inertia": {"kg m2": 1.0, "lb ft2": 0.0421401100938048},
    "torque": {"N m": 1.0, "lbf ft": 4.4482216152605 * 0.3048},
    "concentration": {"ppm": 1.0},
    "heat transfer": {"W/(m2 K)": 1.0, "Btu/(h ft2 °F)": 1055.05585262 / 3600 / 0.09290304 * 1.8},
    "effusivity": {"J/(m2 K s^0.5)": 1.0, "Btu/(ft2 °F h^0.5)": 1055.05585262 / 60 / 0.09290304 * 1.8},
}
DIMENSIONS = tuple(_SPELLINGS)

# Shown label and decimals by system; None: three significant digits.
_SHOWN = {
    "pressure": (("Pa", 0), ("in. w.c.", 2)),
    "length": (("m", 2), ("ft", 2)),
    "area": (("m²", None), ("ft²", None)),
    "temperature": (("°C", 0), ("°F", 0)),
    "force": (("N", 0), ("lbf", 0)),
    "flow": (("m³/s", 2), ("cfm", -1)),  # as fine as the other: ten cubic feet a minute
    "speed": (("m/s", 2), ("fpm", 0)),  # of air in a doorway, of a lift car
    "wind speed": (("m/s", 1), ("mph", 0)),  # nobody who reads a weather report in miles an hour reads wind in feet a minute
    "frequency": (("Hz", 1), ("Hz", 1)),
    "time": (("s", 1), ("s", 1)),
    "ratio": (("%", 0), ("%", 0)),
    "percent": (("%", 1), ("%", 1)),
    "power": (("kW", 2), ("hp", 2)),
    "angle": (("°", 0), ("°", 0)),
    "density": (("kg/m³", 3), ("lb/ft³", 4)),
    "inertia": (("kg m²", 2), ("lb ft²", 1)),
    "torque": (("N m", 1), ("lbf ft", 1)),
    "concentration": (("ppm", 0), ("ppm", 0)),
    "heat transfer": (("W/(m² K)", None), ("Btu/(h ft² °F)", None)),
    "effusivity": (("J/(m² K s^0.5)", 0), ("Btu/(ft² °F h^0.5)", 1)),
}

# Ends of transmitters' ranges as their trades sell them, by the unit they are sold in. Common practice, no source.
_SOLD = {
    "Pa": (25, 50, 60, 75, 100, 125, 150, 200, 250, 300, 500, 600, 750, 1000, 1250, 1500, 2000, 2500, 5000),
    "in. w.c.": (0.1, 0.25, 0.5, 1, 2, 2.5, 3, 5, 10, 15, 20),
}
_ON_PLATE = 0.01  # a range sold in Pa and the same in in. w.c. differ by less

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
    (24.90889, -2.2222222222222214, 133.446648457815)
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
    rounded = clean.quantize(decimal.Decimal(1).scaleb(-decimals), decimal.ROUND_HALF_UP, _WIDE)
    return f"{rounded if rounded else rounded.copy_abs():f}"  # no "-0"; format's own "z" asks for what a browser's Python has not


def as_sold(end_pa, system="Pa"):
    """The figure that stands on a transmitter's plate for an end of its range, in a system of units; None where its trade sells no such.

    >>> as_sold(124.5), as_sold(-124.5, "in. w.c."), as_sold(100.0, "in. w.c."), as_sold(0.0)
    (125, -0.5, None, 0)
    """
    size = abs(float(to_display(end_pa, "pressure", system)))
    near = next((one for one in (0, *_SOLD[system]) if abs(one - size) <= _ON_PLATE * size), None)
    return -near if near and end_pa < 0 else near


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


def fine_digits(dimension, system="Pa"):
    """Digits after the point of a figure that is computed: one more than its instrument shows; of an area, which has three in all, those of
    a square foot or metre.

    >>> fine_digits("pressure"), fine_digits("pressure", "in. w.c."), fine_digits("flow", "in. w.c.")
    (1, 3, 0)
    """
    decimals = _shown(dimension, system)[1]
    return (_three_digits(1.0) if decimals is None else decimals) + 1


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


_KEYS = {dimension: {_key(spelling): size for spelling, size in units.items()} for dimension, units in _SPELLINGS.items()}


def _line(key, dimension, water_column):
    """Scale and offset that turn a number in the unit into the workbook's own unit."""
    scale = WATER_COLUMNS_PA[water_column] / _WATER[key] if key in _WATER else _KEYS[dimension][key]
    return scale, _ZEROS.get(key, 0.0)


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
