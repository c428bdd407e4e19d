"""A figure with its limit beside it, as a tile of a panel or a clause has them: past its limit it is never printed as the limit.

All tiles with a limit are made here, so that all of them keep it; what a sentence says of a limit is in `report.passed`.
"""

import numpy as np

from helpers.studies.report import apart
from helpers.units.said import with_unit

MORE_DIGITS = 3  # as many as `report.apart` tries besides the usual ones


def limit_tile(what, value_si, limit_si, dimension, word="max.", digits=None):
    """(what, value, limit) of a figure of one of units.DIMENSIONS [SI], as `markup.Verdict` takes a tile.

    word: before the limit, "min." and what else belongs to it, or another word for a most; digits: as `with_unit` takes them. Both take as
    many as it needs for them not to read alike, within the limit and past it, and the limit is rounded inwards; one that is not finite
    limits nothing, and is not told.

    >>> from helpers.units.said import written_out
    >>> written_out(limit_tile("Stair door 0", 24.8, 25.0, "pressure", "min."))
    ('Stair door 0', '24.8 Pa', 'min. 25 Pa')
    """
    if not np.isfinite(limit_si):
        return what, with_unit(value_si, dimension, digits), ""
    value, limit = apart((value_si, limit_si), dimension, "least" if word.startswith("min.") else "most", digits)
    return what, value, f"{word} {limit}"


def number_beside(value, limit, digits=1):
    """A number without unit whose limit stands beside it as it is (2.5): with as many digits as it takes to read otherwise.

    value, limit: numbers in one unit; digits: after the point, where they do. Returns text, without a unit.

    >>> number_beside(3.04, 2.5), number_beside(2.48, 2.5), number_beside(2.5, 2.5)
    ('3.0', '2.48', '2.5')
    """
    texts = [f"{value:.{more}f}" for more in range(digits, digits + MORE_DIGITS + 1)]
    return next((text for text in texts if float(text) != limit), texts[0])
