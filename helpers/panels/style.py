"""How the workbook's pictures look: every series differs in colour, line and marker, for colour-blind eyes and grey printers.

Colours are set on each thing drawn and never through matplotlib's global settings: panels are drawn from several threads.
"""

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.ticker import MaxNLocator

__all__ = [
    "BODY_PT",
    "DPI",
    "GRID",
    "INK",
    "MUTED",
    "PAPER",
    "SERIES",
    "SMALL_PT",
    "STATE_MARKS",
    "TITLE_PT",
    "WARNING",
    "WINDOW",
    "Series",
    "dress",
    "room_for",
    "series",
]

DPI = 96  # a picture's pixel is a pixel of the page, so that a point is a point on the screen
SMALL_PT, BODY_PT, TITLE_PT = 12.0, 13.0, 14.0
TITLE_PAD_PT = 20  # leaves a line for words over the axes
TICK_PX = 62  # between the numbers of an axis, so that they never touch
ROUND = (1, 2, 5, 10)  # where an axis is labelled and where it ends
NO_MORE_THAN_DUST = 1e-6  # of an axis

PAPER, INK, MUTED, GRID = "#ffffff", "#1b2733", "#55616d", "#d5dbe1"
WINDOW = "#dcebf5"  # fill of what is allowed; its edges are drawn as lines too
WARNING = "#a3123a"  # what is out; always with a cross or a word beside it

# What a point is marked with, by the state a study gives it: the mark says it without colour.
STATE_MARKS = {"good": ("o", "#0b3c6f"), "attention": ("^", "#8a5a00"), "wrong": ("X", WARNING), "": ("D", INK)}


@dataclass(frozen=True)
class Series:
    """One curve's looks."""

    colour: str
    line: object
    marker: str

    @property
    def plotted(self):
        """The looks as arguments of `Axes.plot`; what has no marker is of less weight."""
        width = 2.2 if self.marker else 1.6
        return {"color": self.colour, "linestyle": self.line, "marker": self.marker, "markersize": 6, "linewidth": width}


SERIES = (
    Series("#0b3c6f", "-", "o"),
    Series("#c2571a", (0, (6, 2)), "s"),
    Series("#2f9e97", (0, (2, 1.5)), "^"),
    Series("#8d4bb3", (0, (7, 2, 1.5, 2)), "D"),
    Series("#c79a12", (0, (1, 1)), "v"),
)


def series(place):
    """Looks of the curve at a place; beyond the last they begin again."""
    return SERIES[place % len(SERIES)]


def dress(axes, across="", up="", title=""):
    """Give axes their labels, a quiet grid and letters that can be read from the back of a room."""
    axes.set_xlabel(across, size=BODY_PT, color=INK)
    axes.set_ylabel(up, size=BODY_PT, color=INK)
    axes.set_title(title, size=TITLE_PT, color=INK, loc="left", weight="bold", pad=TITLE_PAD_PT)
    axes.tick_params(labelsize=SMALL_PT, colors=INK)
    axes.grid(True, color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.set_facecolor(PAPER)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(MUTED)
    wide, high = axes.get_window_extent().size / TICK_PX
    axes.xaxis.set_major_locator(MaxNLocator(max(2, int(wide)), steps=ROUND))
    axes.yaxis.set_major_locator(MaxNLocator(max(2, int(1.5 * high)), steps=ROUND))
    return axes


def room_for(values, steps=5):
    """Ends of an axis that hold zero and all values, at round numbers and with some air, so that small moves do not change them.

    >>> room_for([12.0, 61.0]), room_for([-4.0, 30.0, float("nan")]), room_for([-1e-15, 5.0])
    ((0.0, 80.0), (-10.0, 40.0), (0.0, 6.0))
    """
    known = [float(value) for value in values if np.isfinite(value)]
    low, high = min([0.0, *known]), max([0.0, *known])
    low = low if low < -NO_MORE_THAN_DUST * (high - low) else 0.0  # or an axis would jump with the last bit of a figure
    high = high if high > low else 1.0
    least = (high - low) / steps
    size = 10.0 ** math.floor(math.log10(least))
    step = next(number * size for number in ROUND if number * size >= least * (1 - 1e-9))
    return (round(math.floor(low / step - 0.15) * step, 9) if low < 0 else 0.0), round(math.ceil(high / step + 0.15) * step, 9)
