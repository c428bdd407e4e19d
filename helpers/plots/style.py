"""How the workbook's pictures look: every series differs in colour, line and marker, for colour-blind eyes and grey printers.

Colours are set on each thing drawn and never through matplotlib's global settings: panels are drawn from several threads.
"""

from dataclasses import dataclass, replace

DPI = 96  # a picture's pixel is a pixel of the page, so that a point is a point on the screen
SMALL_PT, BODY_PT, TITLE_PT = 12.0, 13.0, 14.0

PAPER, INK, MUTED, GRID = "#ffffff", "#1b2733", "#4f5b67", "#d5dbe1"
WINDOW = "#bfd9ee"  # fill of what is allowed, dark enough for a projector; its edges are drawn as lines too
PALE = "#b7d3e6"  # of a bar that counts less, and of the window's sign in a legend
WARNING = "#a3123a"  # what is out; always with a cross or a word beside it


@dataclass(frozen=True)
class Pen:
    """How a line or its points are drawn. line: matplotlib's dashes, "" for points alone; marker, size, face, edge, stroke: of the points;
    cap, join: of solid lines, where they matter."""

    colour: str
    line: str | tuple = "-"
    width: float = 1.5
    marker: str = ""
    size: float = 6.0
    face: str | None = None
    edge: str | None = None
    stroke: float = 1.0
    cap: str | None = None
    join: str | None = None

    def but(self, **changes):
        """The same pen with other looks."""
        return replace(self, **changes)


@dataclass(frozen=True)
class Fill:
    """How a band is filled; its edge is as wide as `width` [points], 0 for none."""

    face: str
    edge: str = "none"
    hatch: str = ""
    width: float = 0.0
    alpha: float | None = None


# What a curve is, on every picture: what is chosen or stands now; what was stated or was before, and what others are compared with;
# another one that could be; a limit. The best one of a map has two frames, one in the other.
ROLES = {
    "now": Pen("#0b3c6f", "-", 2.8, "o"), "before": Pen(MUTED, (0, (4, 2)), 1.6),
    "alternative": Pen("#c2571a", (0, (9, 3)), 2.2, "s"), "limit": Pen(WARNING, (0, (5, 2)), 1.8),
}  # fmt: skip
FRAMES = {"now": (0.5,), "best": (0.62, 0.42)}  # how far round the middle of a cell, in cells
SERIES = (
    ROLES["now"],
    ROLES["alternative"],
    Pen("#2f9e97", (0, (2, 1.5)), 2.2, "^"),
    Pen("#8d4bb3", (0, (7, 2, 1.5, 2)), 2.2, "D"),
    Pen("#c79a12", (0, (1, 1)), 2.2, "v"),
)
REFERENCE = ROLES["before"]

# Colour and dashes of a limit's line on every picture; a word always stands beside it.
LIMITS = {
    "least": (INK, "-"), "most": (INK, "-"), "most force": (ROLES["limit"].colour, ROLES["limit"].line), "set point": (MUTED, (0, (1, 2))),
    "": (MUTED, (0, (6, 2, 1, 2))),
}  # fmt: skip

# What a point is marked with, by the state a study gives it: the mark says it without colour.
STATE_MARKS = {"good": ("o", "#0b3c6f"), "attention": ("^", "#8a5a00"), "wrong": ("X", WARNING), "": ("D", INK)}


def series(place):
    """Pen of the curve at a place; beyond the last they begin again, dotted, with hollow points."""
    pen = SERIES[place % len(SERIES)]
    return pen if place < len(SERIES) else pen.but(line=(0, (1, 1.4)), width=1.6, face=PAPER, edge=pen.colour, stroke=1.6)


def limit_pen(kind, width=1.5):
    """Pen of a limit, one of LIMITS."""
    return Pen(*LIMITS[kind], width)


def mark_pen(state, size=11.0, edge="white"):
    """Pen of a point by its state, one of STATE_MARKS."""
    marker, colour = STATE_MARKS[state]
    return Pen(colour, "", marker=marker, size=size, edge=edge)
