"""What a picture shows, as data: axes that hold layers, and a legend. Nothing here draws or knows what it is a picture of.

A layer is a line (or points), a band, cells, or words. Its values are SI, as everywhere; the axis says what they are and the plot in which
system of units it is to be read, so that they are written out at the drawing alone. In `over` a layer says which of its coordinates are
values ("xy", "x", "y" or ""); the others are shares of the axes' width or height. `order`: what has more of it lies above. `still`: it
changes only with the axes, so that a slider need not draw it again. What is not finite is not drawn.
"""

import math
from dataclasses import dataclass

import numpy as np

from helpers import units
from helpers.plots.style import INK, SMALL_PT, Fill, Pen

ROUND = (1, 2, 5, 10)  # where an axis is labelled and where it ends
NO_MORE_THAN_DUST = 1e-6  # of an axis
ROW_PX = 23  # of a legend


@dataclass(frozen=True)
class Axis:
    """What one coordinate is.

    label; dimension: one of units.DIMENSIONS, "" for what is drawn as it is, its unit written in the label; ends: first and last value
    (None: round numbers that hold zero, all values and `room`; with `tight`, just the values); ticks: (places, labels), "" for none;
    apart_px: between two labels, those too many are left out; pad: of labels without tick marks; label_px: from the axis to its label.
    """

    label: str = ""
    dimension: str = ""
    ends: tuple[float, float] | None = None
    room: tuple[float, ...] = ()
    tight: bool = False
    ticks: tuple | None = None
    apart_px: float = 17.0
    pad: float | None = None
    grid: bool = True
    numbers: bool = True
    label_px: float | None = None

    def text(self, system):
        """The label with its unit."""
        return f"{self.label} [{units.unit_label(self.dimension, system)}]" if self.label and self.dimension else self.label

    def shown(self, values, system):
        """SI values as numbers of the axis."""
        values = np.asarray(values, float)
        return units.to_display(values, self.dimension, system) if self.dimension else values

    def frame(self, system):
        """What stands still of it, besides its ends."""
        places, labels = self.ticks or ((), ())
        looks = self.apart_px, self.pad, self.grid, self.numbers, self.label_px
        return self.text(system), tuple(map(float, places)), tuple(labels), looks


def _bytes(still, *arrays):
    return tuple(np.asarray(array, float).tobytes() for array in arrays) if still else ()


@dataclass(frozen=True)
class Line:
    """A line through points, or the points alone, as its pen has it; NaN leaves a gap. label: what it is, for whoever tells it; crowded:
    size and stroke of points whose rows lie close; least_px: it is made at least so wide and high about its middle."""

    x: np.ndarray
    y: np.ndarray
    pen: Pen | None = None
    label: str = ""
    order: float = 4.0
    over: str = "xy"
    clip: bool = True
    still: bool = False
    crowded: tuple[float, float] | None = None
    least_px: float = 0.0

    def frame(self):
        """What stands still of it."""
        return self.pen, self.order, self.over, self.clip, *_bytes(self.still, self.x, self.y)

    def reach(self, which):
        """Values that the axis "x" or "y" must hold."""
        return getattr(self, which) if which in self.over else ()


@dataclass(frozen=True)
class Band:
    """All between low and high, from one of x to the next; with along "y" x are heights and low is to the left. An end that is not finite
    lies at the end of the axis."""

    x: np.ndarray
    low: np.ndarray
    high: np.ndarray
    fill: Fill
    label: str = ""
    order: float = 1.0
    over: str = "xy"
    along: str = "x"
    still: bool = False

    def frame(self):
        """What stands still of it."""
        return self.fill, self.order, self.over, self.along, *_bytes(self.still, self.x, self.low, self.high)

    def reach(self, which):
        """Values that the axis "x" or "y" must hold."""
        if which not in self.over:
            return ()
        return self.x if which == self.along else np.append(self.low, self.high)


@dataclass(frozen=True)
class Words:
    """A line of text at a point. across: which end of it lies there; up: which edge; shift: away from the point, in shares of the axes;
    turn: beyond that share of the width it stands to the other side; lane: "right" of the axes, where words keep apart, or in "rows" over
    them; clear_of: (least, most) whose words stand over the axes as well, outside of the two."""

    text: str
    x: float
    y: float
    across: str = "left"
    up: str = "middle"
    colour: str = INK
    size_pt: float = SMALL_PT
    bold: bool = False
    backed: bool = False
    order: float = 5.0
    over: str = "xy"
    still: bool = False
    shift: tuple[float, float] = (0.0, 0.0)
    turn: float = math.inf
    lane: str = ""
    clear_of: tuple[float, float] | None = None

    def frame(self):
        """What stands still of it."""
        still = (self.text, self.x, self.y) if self.still else ()
        return self.up, self.colour, self.size_pt, self.bold, self.backed, self.order, self.over, self.lane, *still

    def reach(self, which):
        """Words take no room of an axis."""
        return ()


@dataclass(frozen=True)
class Cells:
    """Values by row and column as shades, the middle of the first cell at 0, 0: dark is little, pale is much, NaN is what nobody asked.

    values [rows, columns] are of `axis`, which is drawn beside as a bar; figures: whether cells that are large enough hold their figure;
    classes: so many shades, and what lies below the axis is black; 0 for as many as there are; greyed [rows, columns]: which cells are no
    choice: they have no shade, their figure stands on grey. None for none.
    """

    values: np.ndarray
    axis: Axis
    figures: bool = True
    classes: int = 0
    greyed: np.ndarray | None = None

    def frame(self):
        """What stands still of it."""
        least, most = (end.reduce(self.values, axis=None) for end in (np.fmin, np.fmax))
        greyed = b"" if self.greyed is None else self.greyed.tobytes()
        return self.axis.label, self.values.shape, self.axis.ends or (repr(least), repr(most)), self.classes, greyed

    def reach(self, which):
        """Ends of both axes are given."""
        return ()


@dataclass(frozen=True)
class Axes:
    """Two axes with their layers, within `margins_px` (left, right, below, above) of a box: shares (left, bottom, width, height) of the
    plot. Right None: as wide as its words need, in steps. title_px: room between axes and title, for more than a row of words."""

    x: Axis
    y: Axis
    layers: tuple
    title: str = ""
    margins_px: tuple = (76, 34, 62, 56)
    box: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0)
    title_px: float = 0.0


@dataclass(frozen=True)
class Entry:
    """An entry of a legend: a sample of a pen, or a sign, and its words; at_px: its place in the row, where columns do not suit."""

    text: str
    pen: Pen | None = None
    sign: str = ""
    colour: str = INK
    still: bool = False
    at_px: float | None = None


@dataclass(frozen=True)
class Plot:
    """A picture's data. words: the picture in words, for those who do not see it; columns, sample_px: of the legend; system: of units, ""
    for any until it is written out."""

    key: str
    title: str
    axes: tuple[Axes, ...]
    words: str = ""
    caption: str = ""
    legend: tuple[Entry, ...] = ()
    columns: int = 1
    sample_px: float = 40.0
    height_px: int = 480
    system: str = "Pa"


def level(value, over, pen, label="", order=3.0, still=False):
    """A line right through the axes at a value; over "x": upright, "y": level."""
    ends = (value, value), (0.0, 1.0)
    return Line(*(ends if over == "x" else ends[::-1]), pen, label, order, over, still=still)


def bar(row, low, high, height, fill, order=2.0, still=False, label=""):
    """A lying bar in a row."""
    return Band((low, high), row - height / 2, row + height / 2, fill, label, order, still=still)


def room_for(values, steps=5):
    """Ends of an axis that hold zero and all values, at round numbers and with some air, so that small moves do not change them.

    >>> room_for([12.0, 61.0]), room_for([-4.0, 30.0, float("nan")]), room_for([-1e-15, 5.0])
    ((0.0, 80.0), (-10.0, 40.0), (0.0, 6.0))
    """
    known = [float(value) for value in values if math.isfinite(value)]
    low, high = min([0.0, *known]), max([0.0, *known])
    low = low if low < -NO_MORE_THAN_DUST * (high - low) else 0.0  # or an axis would jump with the last bit of a figure
    high = high if high > low else 1.0
    least = (high - low) / steps
    size = 10.0 ** math.floor(math.log10(least))
    step = next(number * size for number in ROUND if number * size >= least * (1 - 1e-9))
    return (round(math.floor(low / step - 0.15) * step, 9) if low < 0 else 0.0), round(math.ceil(high / step + 0.15) * step, 9)


def round_ends(values, dimension, system):
    """Ends [SI] of an axis that are round in a system of units and hold zero and all values [SI], for those who must know them."""
    values = np.ravel(np.asarray(values, float))
    values = values[np.isfinite(values)]
    ends = room_for(Axis("", dimension).shown([values.min(), values.max()], system).tolist() if values.size else ())
    return tuple(units.from_display(end, dimension, system) for end in ends) if dimension else ends
