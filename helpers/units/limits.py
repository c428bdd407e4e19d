"""Limits as they are printed: rounded inwards, so that whoever stops at what is printed has kept them.

An upper limit is rounded down and a lower one up, in whatever unit it is read. `limit_text` is the one function for them, on every page and
paper; where the figure that is judged stands beside its limit, `report.apart` writes both, and rounds by the same rule.
"""

import numpy as np

from helpers import units
from helpers.units.said import in_each

ENDS = ("least", "most")
ROUNDING = 1e-6  # of a digit: a figure that is on it stays
# Of a limit, after the point, as a gauge on site can show it; of other dimensions as many as a figure usually has.
_DIGITS = {("pressure", "Pa"): 1, ("pressure", "in. w.c."): 3, ("force", "Pa"): 1, ("force", "in. w.c."): 1}


@in_each
def limit_text(limit_si: float, dimension: str, end: str, *, system: str) -> str:
    """A limit [SI] of one of units.DIMENSIONS in words, to be read against a gauge; end: "least" or "most".

    Raises ValueError for another end, an unknown dimension, or a limit that is not a finite number.

    >>> from helpers.units.said import written_out
    >>> written_out((limit_text(66.7233, "force", "most"), limit_text(24.91, "pressure", "least"), limit_text(2.016, "speed", "most")))
    ('66.7 N', '25 Pa', '2.01 m/s')
    """
    return inwards(limit_si, dimension, end, system)


def inwards(limit_si: float, dimension: str, end: str, system: str, more: int = 0) -> str:
    """The same in one of units.SYSTEMS, with some digits more than a limit usually has; noughts at the end of a fraction are left out.

    >>> inwards(60.8864, "pressure", "most", "Pa"), inwards(60.8864, "pressure", "most", "Pa", 2), inwards(-63.9, "force", "least", "Pa")
    ('60.8 Pa', '60.886 Pa', '-63.9 N')
    """
    if end not in ENDS:
        raise ValueError(f"end must be least or most; got {end!r:.60}")
    usual = after_point(units.show(limit_si, dimension, system))
    places, towards = _DIGITS.get((dimension, system), usual) + more, 1 if end == "most" else -1
    shown = np.floor(towards * float(units.to_display(limit_si, dimension, system)) * 10.0**places + ROUNDING) / 10.0**places * towards
    number = f"{shown + 0.0:.{places}f}"
    return f"{number.rstrip('0').rstrip('.') if places else number} {units.unit_label(dimension, system)}"


def number_of(text: str) -> float:
    """The number of a figure that is shown with its unit.

    >>> number_of("60.8 Pa")
    60.8
    """
    return float(text.split()[0])


def after_point(text: str) -> int:
    """How many digits a figure that is shown with its unit has after its point.

    >>> after_point("60.8 Pa"), after_point("25 Pa")
    (1, 0)
    """
    return len(text.split()[0].partition(".")[2])
