"""Data of the record's pictures, ready to draw: plain arrays in the chosen unit, with axis labels and captions. Nothing here draws."""

from dataclasses import dataclass

import numpy as np

__all__ = ["Cell", "Curve", "Event", "FanChart", "FlowSteps", "HeatMap", "Limit", "Mark", "PressureProfile", "Profile", "RangeChart",
           "SignalLadder", "Trend", "TrendAxes"]  # fmt: skip


@dataclass(frozen=True)
class Curve:
    """A line: label, x and y in the picture's units; `kind` says what it stands for ("speed", "case", "signal").

    In a trend "reference" is what the others are compared with; NaN leaves a gap.
    """

    label: str
    x: np.ndarray
    y: np.ndarray
    kind: str = "case"


@dataclass(frozen=True)
class Mark:
    """A point with its label; `state` is one of "good", "attention", "wrong" or ""."""

    label: str
    x: float
    y: float
    state: str = ""


@dataclass(frozen=True)
class Profile:
    """Pressure across each storey's stair door in one case: `dp` by storey, where it is out of its window, what was read.

    state: "held", "at full speed" ...; low, high: booleans by storey; open: booleans by storey; speed_hz; readings at the transmitters.
    """

    label: str
    dp: np.ndarray
    low: np.ndarray
    high: np.ndarray
    open: np.ndarray
    state: str
    speed_hz: float
    readings: np.ndarray


@dataclass(frozen=True)
class PressureProfile:
    """Pressure across the stair doors by storey against their window, one profile a case, for one combining rule.

    levels: storey labels bottom up; heights: of the storeys' middles, for the y axis; least, most: by storey, NaN where there is none;
    transmitter_levels: places in `levels` of the transmitters; set_point: what the rule's reading is held at.
    """

    key: str
    title: str
    caption: str
    x_label: str
    y_label: str
    rule: str
    levels: tuple
    heights: np.ndarray
    least: np.ndarray
    most: np.ndarray
    profiles: tuple
    transmitter_names: tuple
    transmitter_places: tuple
    set_point: float


@dataclass(frozen=True)
class FanChart:
    """Fan pressure by flow: the catalogue curve at several speeds, and a duty point for each case."""

    key: str
    title: str
    caption: str
    x_label: str
    y_label: str
    curves: tuple
    points: tuple


@dataclass(frozen=True)
class FlowSteps:
    """Supply air from the hand formula to the network, one assumption given up at a time: a staircase of bars."""

    key: str
    title: str
    caption: str
    x_label: str
    y_label: str
    labels: tuple
    flows: np.ndarray
    changes: np.ndarray


@dataclass(frozen=True)
class RangeChart:
    """Transmitter ranges as bars over the pressure axis, with the window, the set point and the highest peak; `states` by bar."""

    key: str
    title: str
    caption: str
    x_label: str
    labels: tuple
    lows: np.ndarray
    highs: np.ndarray
    states: tuple
    chosen: str
    window: tuple
    set_point: float
    peak: float
    lowest: float


@dataclass(frozen=True)
class SignalLadder:
    """One transmitter's signal against its pressure: rungs at 0, 25, 50, 75 and 100 %, and marks (set point, window's ends, peak)."""

    key: str
    title: str
    caption: str
    x_label: str
    y_label: str
    percent: np.ndarray
    signals: np.ndarray
    pressures: np.ndarray
    marks: tuple
    accuracy: float


@dataclass(frozen=True)
class Limit:
    """A level line of a trend: label (with its figure and unit), y; kind: "least", "most", "set point" or "" for any other."""

    label: str
    y: float
    kind: str = ""


@dataclass(frozen=True)
class Event:
    """Something that happens at a time, in a few words: "door 7 opens"."""

    label: str
    x: float


@dataclass(frozen=True)
class TrendAxes:
    """One pair of axes of a trend: what goes up, with its unit, its curves and its level lines.

    room: values that the axis must hold besides, so that it stands still while a slider moves the curves.
    """

    y_label: str
    curves: tuple
    limits: tuple = ()
    room: tuple = ()


@dataclass(frozen=True)
class Trend:
    """What happens over time, on one pair of axes or on two above each other; a label means the same curve's looks on both.

    x_label: time with its unit; axes: of `TrendAxes`, from the top; events: of `Event`, drawn through all axes.
    """

    key: str
    title: str
    caption: str
    x_label: str
    axes: tuple
    events: tuple = ()


@dataclass(frozen=True)
class Cell:
    """A marked cell of a heat map: what it is, and its row and column (numbers from 0)."""

    label: str
    row: int
    column: int


@dataclass(frozen=True)
class HeatMap:
    """Values by row and column as shades: dark is little, pale is much; NaN is what nobody asked.

    columns, rows: labels from the left and from the bottom, "" where none is to stand; value_label: with the unit; room: least and most of
    the shades (None: what the values need); cells: of `Cell`.
    """

    key: str
    title: str
    caption: str
    x_label: str
    y_label: str
    value_label: str
    columns: tuple
    rows: tuple
    values: np.ndarray
    room: tuple | None = None
    cells: tuple = ()
