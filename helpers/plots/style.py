"""How the workbook's pictures look: every series differs in colour, line and marker, for colour-blind eyes and grey printers.

Colours are set on each thing drawn and never through matplotlib's global settings: panels are drawn from several threads.

Words on a picture that move: drawn once as a small image, then only copied from place to place.

matplotlib lays out a text anew each time it is drawn, at two or three milliseconds each; ten of them would be most of a slider's time.

Bands across a chart that move with the sliders: rectangles from low to high, over the full height or width of the axes.

matplotlib's own spans are rectangles only since its release 3.9, and polygons before: there `set(x=..., width=...)` is refused.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

__all__ = [
    "BODY_PT", "DPI", "GRID", "INK", "LIMITS", "MUTED", "PAPER", "SERIES", "SMALL_PT", "STATE_MARKS", "TITLE_PT", "WARNING", "WINDOW",
    "Series", "Words", "dress", "lying_band", "room_for", "series", "upright_band",
]  # fmt: skip

DPI = 96  # a picture's pixel is a pixel of the page, so that a point is a point on the screen
SMALL_PT, BODY_PT, TITLE_PT = 12.0, 13.0, 14.0
TITLE_PAD_PT = 20  # leaves a line for words over the axes
TICK_PX = 62  # between the numbers of an axis, so that they never touch
ROUND = (1, 2, 5, 10)  # where an axis is labelled and where it ends
NO_MORE_THAN_DUST = 1e-6  # of an axis

PAPER, INK, MUTED, GRID = "#ffffff", "#1b2733", "#55616d", "#d5dbe1"
WINDOW = "#dcebf5"  # fill of what is allowed; its edges are drawn as lines too
WARNING = "#a3123a"  # what is out; always with a cross or a word beside it

# Colour and dashes of a limit's line on every picture; a word always stands beside it.
LIMITS = {
    "least": (INK, "-"), "most": (INK, "-"), "most force": (WARNING, (0, (5, 2))), "set point": (MUTED, (0, (1, 2))),
    "": (MUTED, (0, (6, 2, 1, 2))),
}  # fmt: skip

# What a point is marked with, by the state a study gives it: the mark says it without colour.
STATE_MARKS = {"good": ("o", "#0b3c6f"), "attention": ("^", "#8a5a00"), "wrong": ("X", WARNING), "": ("D", INK)}


@dataclass(frozen=True)
class Series:
    """One curve's looks."""

    colour: str
    line: str | tuple[float, tuple[float, ...]]
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


PAD_PX = 2
ALIGN = {"left": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0, "middle": 0.5, "top": 0.0}
BACKING = 0.85  # how much of what lies behind a backed word is hidden


class Words(Artist):
    """A line of text at (x, y) of a transform; `across` says which end of it lies there, `up` which edge."""

    def __init__(self, transform, text="", at=(0.0, 0.0), across="left", up="middle", colour=INK, size_pt=SMALL_PT, backed=False, zorder=5):
        super().__init__()
        self.set_transform(transform)
        self.set_zorder(zorder)
        self.text, self.at, self.across, self.up = text, at, across, up
        self.looks = (colour, size_pt, backed)

    def say(self, text=None, at=None, across=None):
        """Change words, place or side; what is not given stays."""
        self.text = self.text if text is None else text
        self.at = self.at if at is None else at
        self.across = self.across if across is None else across
        self.stale = True

    def draw(self, renderer):
        """Copy the drawn words to their place."""
        if not (self.text and self.get_visible()):
            return
        pixels = drawn(self.text, *self.looks, renderer.dpi)
        x, y = self.get_transform().transform(self.at)
        height, width = pixels.shape[:2]
        brush = renderer.new_gc()
        renderer.draw_image(brush, round(x - ALIGN[self.across] * width), round(y - (1 - ALIGN[self.up]) * height), pixels[::-1])
        brush.restore()
        self.stale = False


@lru_cache(maxsize=512)
def drawn(text, colour, size_pt, backed, dpi):
    """Pixels of a text [rows, columns, 4], top row first."""
    letters = FontProperties(size=size_pt)
    measure = RendererAgg(1, 1, dpi)
    width, height, below = measure.get_text_width_height_descent(text, letters, False)
    _, line, line_below = measure.get_text_width_height_descent("Åg", letters, False)  # one height for all lines of a size
    below, height = max(below, line_below), max(height - below, line - line_below) + max(below, line_below)
    paper = RendererAgg(int(width) + 2 * PAD_PX + 1, int(height) + 2 * PAD_PX + 1, dpi)
    brush = paper.new_gc()
    brush.set_foreground(to_rgb(colour))
    paper.draw_text(brush, PAD_PX, int(height - below) + PAD_PX, text, letters, 0.0)
    pixels = np.array(paper.buffer_rgba())
    if not backed:
        return pixels
    cover = pixels[:, :, 3:] / 255.0  # letters over a nearly opaque white ground
    ground = BACKING * (1 - cover)
    colours = (pixels[:, :, :3] * cover + 255.0 * ground) / (cover + ground)
    return np.concatenate([colours, 255.0 * (cover + ground)], axis=2).round().astype(np.uint8)


def upright_band(axes, low=0.0, high=0.0, **style):
    """A band from low to high on the x axis; moved with `set(x=..., width=...)`."""
    return axes.add_patch(Rectangle((low, 0), high - low, 1, transform=axes.get_xaxis_transform(), **style))


def lying_band(axes, low=0.0, high=0.0, **style):
    """A band from low to high on the y axis; moved with `set(y=..., height=...)`."""
    return axes.add_patch(Rectangle((0, low), 1, high - low, transform=axes.get_yaxis_transform(), **style))
