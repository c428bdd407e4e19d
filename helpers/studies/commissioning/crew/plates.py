"""What a nameplate says beside what was designed: every figure on it that has the unit of one in the design must be one of these."""

import re

from helpers import units
from helpers.units.said import with_unit, written_out

DIMENSIONS = ("pressure", "flow", "frequency", "power")
SAME_SHARE = 0.03  # by which a plate's figure may differ, of the design's: what rounding and another system of units leave; ours
_FIGURE = re.compile(
    r"(?<![\w.,])[-−]?\d+(?:\.\d+)?\s?(?:in\.\s?w\.c\.|in[Hh]2[Oo]|m[³3]/s|m³/h|l/s|L/s|cfm|kW|W|hp|hPa|kPa|Pa|Hz)(?![\w/])"
)


def strange_on_plate(text, design):
    """What stands on a plate that the design has otherwise, in a sentence; "" for nothing.

    text: nameplate, or what was found; design: in words. A figure counts only with its unit beside it; a plate without any is for the eye
    alone. Limits: the dimensions of DIMENSIONS.
    """
    designed = _figures(str(written_out(design, "Pa")))
    for dimension, value in _figures(text):
        known = [one for what, one in designed if what == dimension]
        if known and not any(abs(value - one) <= SAME_SHARE * max(abs(one), abs(value)) for one in known):
            shown = " or ".join(with_unit(one, dimension) for one in dict.fromkeys(known))
            return f"{with_unit(value, dimension)} on its plate or as found, designed {shown}: no test until it is explained"
    return ""


def _figures(text):
    """(dimension, value [SI]) of every figure of a text that has a unit."""
    found = []
    for match in _FIGURE.finditer(text):
        for dimension in DIMENSIONS:
            try:
                found.append((dimension, units.parse(match.group().replace("−", "-"), dimension)))
            except units.UnitError:
                continue  # a unit of another dimension
    return found
