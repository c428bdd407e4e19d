"""What somebody typed as an answer, read as they mean it, or refused in one sentence that shows no figure but their own.

Numbers may have a decimal comma, parted thousands and a unit in words. Where a comma can be read in two ways nobody guesses.
"""

import math
import re

from helpers import units
from helpers.units.said import unit_of, written_out

MOST_LETTERS = units.MOST_LETTERS
_SPACES = re.compile(r"[\s\u00a0\u2007\u2009\u202f]+")
_DIGITS = r"[.,]?\d(?:[\d.,'’]|(?<=\d) (?=\d{3}(?!\d)))*(?:[eE][-+−]?\d+)?"
_PARTS = re.compile(rf"(?P<sign>[-+−–]?) ?(?P<number>{_DIGITS}) ?(?P<unit>.*)$", re.DOTALL)
_LEADS = re.compile(r"^(?:=|≈|~|about|approx\.?|ca\.?)\s*", re.IGNORECASE)

# Units in words, with all spaces, points and strokes left out: the spelling that `helpers.units` knows.
_WORDS = {
    "pressure": {
        "pascal": "Pa", "pascals": "Pa", "kilopascal": "kPa", "in": "inwc", "inch": "inwc", "inches": "inwc", '"': "inwc", "″": "inwc",
        "inw": "inwc", "incheswc": "inwc", "incheswg": "inwc", "inchwc": "inwc", "inchesofwater": "inwc", "inchofwater": "inwc",
        '"wc': "inwc", '"wg': "inwc", "″wc": "inwc", "mmofwater": "mmwc",
    },
    "length": {
        "metre": "m", "metres": "m", "meter": "m", "meters": "m", "foot": "ft", "feet": "ft", "'": "ft", "′": "ft", "inch": "in",
        "inches": "in", '"': "in", "″": "in", "millimetres": "mm", "centimetres": "cm",
    },
    "area": {
        "squaremetres": "m2", "squaremetre": "m2", "squaremeters": "m2", "sqm": "m2", "squarefeet": "ft2", "squarefoot": "ft2",
        "sqfeet": "ft2", "squareinches": "in2", "sqin": "in2",
    },
    "force": {
        "newton": "N", "newtons": "N", "lb": "lbf", "lbs": "lbf", "pound": "lbf", "pounds": "lbf", "poundforce": "lbf",
        "poundsforce": "lbf", "lbsf": "lbf",
    },
    "flow": {
        "cubicmetrespersecond": "m3/s", "cubicmeterspersecond": "m3/s", "m3persecond": "m3/s", "m3ps": "m3/s", "cubicfeetperminute": "cfm",
        "cubicfeetaminute": "cfm", "m3perhour": "m3/h", "litrespersecond": "l/s",
    },
    "frequency": {"hertz": "Hz", "cps": "Hz"},
    "time": {
        "sec": "s", "secs": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min", "mins": "min", "hour": "h", "hours": "h",
    },
    "percent": {"percent": "%", "pct": "%", "percentage": "%", "percentagepoints": "%", "points": "%"},
    "power": {"watt": "W", "watts": "W", "kilowatt": "kW", "kilowatts": "kW", "horsepower": "hp"},
}  # fmt: skip
# What a bare number counts, and how else it is written, with the size of each.
_COUNTS = {
    "%/%": {"%/%": 1.0, "percent/percent": 1.0, "percentperpercent": 1.0, "%per%": 1.0, "%perpercent": 1.0, "percent/%": 1.0},
    "per minute": {
        "perminute": 1.0, "/minute": 1.0, "/min": 1.0, "1/min": 1.0, "permin": 1.0, "aminute": 1.0, "repeatsperminute": 1.0,
        "repeats": 1.0, "repeats/min": 1.0, "repeatsaminute": 1.0, "repeats/minute": 1.0, "timesaminute": 1.0, "rep/min": 1.0, "/s": 60.0,
    },
    "V": {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": 0.001, "millivolts": 0.001},
    "storeys": {"storey": 1.0, "doors": 1.0, "floors": 1.0, "stories": 1.0},
    "conditions": {"conditions": 1.0, "condition": 1.0, "cases": 1.0, "draws": 1.0, "conditions,roundedup": 1.0},
}  # fmt: skip


def number_and_unit(text):
    """(number, unit in the reader's letters) of what was typed. Raises ValueError, with a sentence, for what is no number."""
    plain = _LEADS.sub("", _SPACES.sub(" ", text if isinstance(text, str) else "").strip())
    if len(plain) > MOST_LETTERS:
        raise ValueError(f"The answer must be one number, with or without its unit; that is {len(plain)} letters.")
    found = _PARTS.match(plain)
    unit = found["unit"].strip() if found else ""
    if not found or re.search(r"\d", re.sub(r"[a-z]+ ?[23]|1/min", "", unit.lower())):
        raise ValueError(f"The answer must be one number, with or without its unit; {_quoted(plain)} cannot be read as one.")
    value = _number(found["number"]) * (-1.0 if found["sign"] and found["sign"] != "+" else 1.0)
    if not math.isfinite(value):
        raise ValueError("The answer must be a number that can be measured.")
    return value, unit


def number_in(text):
    """What was typed without its unit. Raises ValueError as `number_and_unit`."""
    return f"{number_and_unit(text)[0]!r}"


def quantity(text, dimension, system, counted_in=""):
    """What was typed for an answer [SI], a bare number being in the unit that was asked for.

    dimension: one of units.DIMENSIONS, or "number" for what counts `counted_in`. Raises ValueError with a sentence.
    """
    value, unit = number_and_unit(text)
    key = _key(unit)
    if dimension == "number":
        sizes = {"": 1.0, _key(counted_in): 1.0, **_COUNTS.get(counted_in, {})}
        if key not in sizes:
            raise ValueError(_other_unit(unit, counted_in or "a number without a unit"))
        return value * sizes[key]
    if not key:
        return float(units.from_display(value, dimension, system))
    try:
        return units.parse(f"{value!r} {_WORDS.get(dimension, {}).get(key, unit)}", dimension)
    except units.UnitError:
        raise ValueError(_other_unit(unit, written_out(unit_of(dimension), system))) from None


def _other_unit(unit, asked):
    if _key(unit) in ("%", "percent"):
        return units.one_stop(f"The answer's unit is {asked}. Per cent of what, and how much is that?")
    return units.one_stop(f"The answer's unit is {asked}; {_quoted(unit)} is no unit of that.")


def _quoted(text):
    return f'"{text:.40}"'


def _key(unit):
    """A unit's letters alone: per cent in one word, no spaces, full stops or strokes."""
    return re.sub(r"[\s.\-]", "", unit.lower().replace("per cent", "percent"))


def _number(digits):
    """The number of digits with their points, commas and gaps. Raises ValueError where a comma may mean two things."""
    mantissa, power, exponent = re.sub(r"[ '’]", "", digits).replace("−", "-").lower().partition("e")
    signs = [sign for sign in mantissa if sign in ".,"]
    if len(set(signs)) == 2:  # the last of two kinds is the decimal one
        thousands = signs[0]
        if signs.count(signs[-1]) > 1 or not re.fullmatch(rf"\d{{1,3}}(\{thousands}\d{{3}})+[.,]\d*", mantissa):
            raise ValueError(_unclear(digits))
        mantissa = mantissa.replace(thousands, "").replace(",", ".")
    elif len(signs) > 1:
        if not re.fullmatch(r"[1-9]\d{0,2}([.,]\d{3})+", mantissa):
            raise ValueError(_unclear(digits))
        mantissa = re.sub("[.,]", "", mantissa)
    elif signs == [","]:
        if re.fullmatch(r"[1-9]\d{0,2},\d{3}", mantissa):
            raise ValueError(f"The answer {_quoted(digits)} has a comma that can mean two things: write it without one, or with a point.")
        mantissa = mantissa.replace(",", ".")
    return float(f"{mantissa}{power}{exponent}")


def _unclear(digits):
    return f"The answer must be one number; {_quoted(digits)} has more points or commas than can be read."
