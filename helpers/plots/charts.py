"""The charts that several pages share, declared in the grammar: doors against their window, a trend, a fan's curves, a heat map."""

from dataclasses import dataclass, replace
from string import ascii_uppercase

import numpy as np

from helpers import units
from helpers.plots.plot import ROW_PX, Axes, Axis, Band, Cells, Entry, Line, Plot, Words, level, round_ends
from helpers.plots.style import FRAMES, INK, LIMITS, MUTED, PAPER, ROLES, WARNING, WINDOW, Fill, Pen, limit_pen, mark_pen, series
from helpers.studies.status import inside
from helpers.units.said import drawn, in_each

ALLOWED = Fill(WINDOW)


DUST = 1e-9  # of any figure: what rounding leaves of nought


@in_each
def figure(value, dimension, form=".3g", *, system):
    """A figure in the reader's unit, without the unit, as pictures are told in."""
    return _in_words(float(units.to_display(value if abs(value) > DUST else 0.0, dimension, system)), dimension, system, form)


def _in_words(shown, dimension, system, form=".3g"):
    """A figure of a picture; a small pressure in inches in thousandths, as a gauge has it, and not in three figures from 0.00925 on; a
    large one with its noughts, and with no power of ten."""
    told = format(shown, ".3f" if dimension == "pressure" and system != "Pa" and abs(shown) < 1 else form)
    return f"{float(told):.0f}" if "e+" in told else told


@dataclass(frozen=True)
class Profile:
    """Pressure across each storey's stair door in one case: `dp` [Pa] by storey, where it is out of its window, what was read [Pa].

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

    @property
    def said(self):
        """The entry of a legend."""
        return f"{self.label}: {self.state}, {self.speed_hz:.1f} Hz"


MANY_STOREYS = 15  # from more on the points of a line are small
CROSS, SMALL_CROSS = Pen(WARNING, "", marker="x", size=12.0, stroke=3.0), (8.0, 2.0)
EXIT, EXIT_MOST = (
    Pen(INK, "", marker="s", size=9.0, face="none", stroke=2.0), Pen(LIMITS["most"][0], "", marker="|", size=18.0, stroke=3.0)
)  # fmt: skip
ARROW = Pen(INK, "", marker="<", size=10.0)


@drawn
def profile(key, title, across, levels, heights, window, profiles, taps, set_point, *, place="Storey", pens=None, crossed=None, said=None,
            columns=1, left_px=70, named=(), exits=(), stair_alone=False, caption="", height_px=580, system):  # fmt: skip
    """Pressure across the stair doors by storey against their window, one line a case; a cross marks a door that is out, a diamond on the
    axis one that stands open. Where a storey asks for no least or no most pressure the window is open to that side.

    across: its `Axis`; levels: labels bottom up; heights: of the storeys' middles; window: (least, most) by storey, NaN where there is
    none; profiles: of `Profile`; taps: (name, number of the storey) of each transmitter; set_point: what the reading is held at; pens,
    said: by profile, where not the usual ones; crossed: profiles whose doors bear crosses (None: all); named: (profile, words) of lines
    whose name stands at their upper end; exits: (number of the storey, pressure, most pressure) of final exits, NaN where one stands open
    or nothing limits it: a square, and an upright stroke at its most; stair_alone: whether its other doors are
    judged elsewhere. Returns `Plot`.
    """
    pens = pens or [series(number) for number in range(len(profiles))]
    edges, heights = storey_edges(np.asarray(heights, float)), np.asarray(heights, float)
    least, most = (np.where(np.isfinite(ends), ends, np.nan) for ends in window)
    small = [pen.but(size=3.5) for pen in pens] if len(levels) > MANY_STOREYS else pens
    out = [(one, one.low | one.high) for one in (profiles if crossed is None else crossed)]
    exits = np.array(exits, float).reshape(-1, 3).T
    exit_up, beyond = heights[exits[0].astype(int)], ~inside(np.nan_to_num(exits[2] - exits[1], nan=np.inf))  # as in the studies
    out = [
        np.concatenate([[], *found, more[beyond]])
        for found, more in (([one.dp[gone] for one, gone in out], exits[1]), ([heights[gone] for _, gone in out], exit_up))
    ]
    hollow = {"line": "", "marker": "D", "size": 9.0, "face": "white", "stroke": 2.0}
    layers = (
        *window_band(least, most, edges),
        *set_point_line(set_point, least, most),
        *(Line(one.dp, heights, pen, one.label, 4 - 0.1 * number) for number, (one, pen) in enumerate(zip(profiles, small, strict=True))),
        *(Line(np.zeros(int(np.sum(one.open))), heights[one.open], Pen(pen.colour, **hollow), "open", 5, clip=False)
          for one, pen in zip(profiles, pens, strict=True)),
        *((Line(exits[1], exit_up, EXIT, "exit", 5), Line(exits[2], exit_up, EXIT_MOST, "its most", 5)) if exits.size else ()),
        *(Words("exit", at, up, backed=True, shift=(0.025, 0.0)) for at, up in zip(_beside(exits[1:], profiles), exit_up, strict=True)),
        Line(*out, CROSS, "out", 6, crowded=SMALL_CROSS),
        *_names(named, heights, pens, profiles),
        *(Line((1.01,), (heights[storey],), ARROW, name, 2, "y", clip=False) for name, storey in taps),
        *(Words(name, 1.045, heights[storey], over="y") for name, storey in taps),
    )  # fmt: skip
    legend = [Entry(words, pen) for words, pen in zip(said or [one.said for one in profiles], pens, strict=True)]
    marks = ["out    ◇ stands open", *(["□ final exit, | its maximum"] if exits.size else [])]
    legend += [Entry("    ".join(marks) if columns == 1 else marks[0], sign="✕", colour=WARNING, still=True)]
    legend += [Entry(marks[1][2:], sign="□", colour=INK, still=True)] if exits.size and columns > 1 else []
    upward = Axis(place, ends=(edges[0], edges[-1]), ticks=(heights, levels), apart_px=22)
    below = 60 + ROW_PX * -(-len(legend) // columns)
    axes = Axes(across, upward, layers, title, (left_px, 130, below, 56))
    alone = stair_alone or bool(exits.size)
    told = [*(_told(one, across, place, levels, system, alone) for one in profiles), *_exits_told(exits, across, levels, system)]
    words = " ".join([f"{title}.", *told])
    return Plot(key, title, (axes,), words, caption, tuple(legend), columns, 24, height_px, system)


def _beside(exits, profiles):
    """Where the word of each final exit begins: at its square, beyond its most where that stroke stands in the way of the word, and at it
    where no square is drawn. exits: pressure, most pressure [2, exits]."""
    room = 0.12 * max(np.nanmax(one.dp, initial=0.0) for one in profiles)
    return np.where((exits[1] >= exits[0]) & (exits[1] < exits[0] + room) | np.isnan(exits[0]), exits[1], exits[0])


def _exits_told(exits, across, levels, system):
    """The final exits that are shut and have a most, in words."""
    for storey, *figures in exits.T[np.isfinite(exits[1:]).all(axis=0)]:
        dp, most = (_read_aloud(value, across, system) for value in across.shown(np.array(figures), system).tolist())
        yield f"Final exit {levels[int(storey)]}: {dp}, where its closer shuts it up to {most}."


SAME_LINE = 0.01  # by which two lines differ that no eye tells apart, of their pressure


def _names(named, heights, pens, profiles):
    """Names at the upper ends of lines, away from the final exits, of two each on its own side; two lines that lie on each other have one
    name, "a = b"."""
    if len(named) == 2 and np.allclose(named[0][0].dp, named[1][0].dp, rtol=SAME_LINE, equal_nan=True):
        named = ((named[0][0], f"{named[0][1]} = {named[1][1]}"),)
    ends = [float(one.dp[-1]) for one, _ in named]
    for place, (one, words) in enumerate(named):
        aside, across = (0.012, "left") if ends[place] == max(ends) and place == ends.index(max(ends)) else (-0.012, "right")
        pen = next(pen for pen, profile in zip(pens, profiles, strict=True) if profile is one)
        yield Words(words, ends[place], heights[-1], across, colour=pen.colour, backed=True, shift=(aside, 0.0))


def storey_edges(heights):
    """Heights of the floors between storeys, from the storeys' middles."""
    if len(heights) == 1:
        return np.array([heights[0] - 1, heights[0] + 1])
    middles = (heights[1:] + heights[:-1]) / 2
    return np.concatenate([[2 * heights[0] - middles[0]], middles, [2 * heights[-1] - middles[-1]]])


def set_point_line(set_point, least, most):
    """The set point [Pa] as a dotted line with its words, clear of those of the window's ends [storeys]. Yields layers."""
    yield level(set_point, "x", limit_pen("set point", 1.6), order=2, label="set point")
    ends = np.max(least, initial=-np.inf, where=np.isfinite(least)), np.min(most, initial=np.inf, where=np.isfinite(most))
    yield Words("set point", set_point, 1.0, up="bottom", colour=LIMITS["set point"][0], over="x", clear_of=ends)


def window_band(least, most, edges):
    """The window [storeys, Pa; NaN where none] as a pale band with firm edges and words, between the storeys' edges. Yields layers."""
    asked = np.isfinite(least) | np.isfinite(most)
    low, high = (np.repeat(np.where(asked, ends, 0.0), 2) for ends in (least, most))
    up = np.repeat(edges, 2)[1:-1]
    yield Band(up, low, high, ALLOWED, "window", over="xy", along="y", still=True)
    for ends, word, governs, across in ((least, "least", np.nanmax, "right"), (most, "most", np.nanmin, "left")):
        yield Line(np.repeat(ends, 2), up, limit_pen(word, 1.4), word, 3, still=True)
        if np.isfinite(ends).any():
            yield Words(word, governs(ends), 1.015, across, "baseline", over="x", order=3, still=True)


def _told(one, across, place, levels, system, exits=False):
    """A profile in words: state, speed, ends, and which storeys are out; exits: whether final exits stand beside it."""
    loop = "set point controlled, fan" if one.state == "held" else one.state
    words = f"{one.label}: {loop} at {one.speed_hz:.1f} Hz"
    if not np.isfinite(one.dp).any():
        return f"{words}, no door is shut."
    where, inside = ("storey", "every shut door inside its window") if place == "Storey" else (place.lower(), "all within limits")
    inside = "every shut stair door inside its window" if exits else inside
    least, most = np.nanargmin(one.dp), np.nanargmax(one.dp)
    low, high = (_read_aloud(value, across, system) for value in across.shown(one.dp[[least, most]], system).tolist())
    unit = units.unit_label(across.dimension, system)
    words += f", from {low} on {where} {levels[least]} to {high} {unit} on {where} {levels[most]}"
    sides = [(one.low, "too low"), (one.high, "too high")]
    out = [f"{side} on {where} {', '.join(levels[k] for k in np.flatnonzero(doors))}" for doors, side in sides if doors.any()]
    return f"{words}; {' and '.join(out) or inside}."


def _read_aloud(shown, axis, system):
    """A figure of two digits or more: 140, never 1.4e+02."""
    return _in_words(shown, axis.dimension, system, ".0f" if abs(shown) >= 10 else ".2g")


SHARES = {1: (1.0,), 2: (0.58, 0.42)}  # of the height, from the top
GAP_PX, LANE_PX, LANE_AIR_PX = 22, 18, 4  # between two axes; of a row of words over them; from the highest row to the title


@drawn
def trend(key, title, time, axes, events=(), *, columns=2, shares=None, caption="", height_px=500, notes=(), headed=True, system):
    """What happens over time, on one pair of axes or on two above each other. A label means the same curve's looks on both; a curve with
    the pen REFERENCE is what the others are compared with. Between a "least" and a "most" lies a band.

    time: label of the axis, with its unit; axes: (`Axis`, curves, limits) from the top: curves `Line`s, times of which there is no value
    as bars over "x" alone, limits (words, value, kind of LIMITS); events: (words, time), drawn through all axes; shares: of the height,
    from the top; columns: of the legend, 0 for none; notes: (number of the axes, words, (time, value) of their end, (time, value) that
    a line leads to); headed: whether the title stands over it, or is only told. Returns `Plot`.
    """
    labels = {curve.label: curve.pen for _, curves, _ in axes for curve in curves}
    free = iter(range(len(labels)))
    pens = {label: pen if pen else series(next(free)).but(marker="", width=2.0) for label, pen in labels.items()}
    named = [label for label in labels if label] if columns else []
    rows = -(-len(named) // max(columns, 1))
    named = [label for column in range(columns) for label in named[column::columns]]  # the legend is read along its rows
    lanes = LANE_PX * (max(len(events), 1) - 1) + LANE_AIR_PX * bool(events)
    top = (56 if headed else 28) + lanes
    through = [level(at, "x", Pen(INK, (0, (2, 2)), 1.2), words, 2) for words, at in events]
    over = tuple(Words(words, at, 1.0, up="bottom", over="x", lane="rows") for words, at in events)
    made = []
    for (up, curves, limits), place in zip(axes, _stacked(shares or SHARES[len(axes)], top, 62 + ROW_PX * rows), strict=True):
        last = len(made) == len(axes) - 1
        lines = (replace(curve, pen=pens[curve.label]) for curve in curves)
        noted = [layer for number, *note in notes if number == len(made) for layer in _noted(*note)]
        layers = (*_limits(limits), *lines, *through, *noted, *(() if made else over))
        across = Axis(time if last else "", tight=True, numbers=last)
        made.append(Axes(across, replace(up, label_px=54), layers, "" if made or not headed else title, *place, 0 if made else lanes))
    legend = tuple(Entry(label, pens[label]) for label in named)
    told = _trend_told(title, time, axes, events, system)
    return Plot(key, title, tuple(made), told, caption, legend, max(columns, 1), 40, height_px, system)


def _stacked(shares, top, below):
    """(margins, box) of axes above each other, which share the height that all margins and gaps leave."""
    fixed, above = top + below + GAP_PX * (len(shares) - 1), 0.0
    for number, share in enumerate(shares):
        shift = top + GAP_PX * number
        yield (78, None, (above + share) * fixed - shift, shift - above * fixed), (0.0, 1 - above - share, 1.0, share)
        above += share


def _noted(words, at, to):
    """Words beside a curve, and the line that leads from them to it."""
    ends = np.array([at, to])
    yield Line(ends[:, 0], ends[:, 1], Pen(MUTED, "-", 1.0), order=4.5)
    yield Words(words, *at, across="right", backed=True)


def _limits(limits):
    """Limits of a trend with their words, where they have some, at the right, and the band between a least and a most."""
    ends = {kind: value for _, value, kind in limits}
    if {"least", "most"} <= set(ends):
        yield Band((0.0, 1.0), ends["least"], np.fmax(ends["most"], ends["least"]), ALLOWED, "window", over="y")
    for words, value, kind in limits:
        yield level(value, "y", limit_pen(kind), words)
        if words:
            yield Words(words, 1.0, value, colour=LIMITS[kind][0], over="y", lane="right")


def _trend_told(title, time, axes, events, system):
    told = [f"{title} ({time})."]
    for up, curves, limits in axes:
        said = [_curve_told(curve.label or "curve", up, curve.y, system) for curve in curves if "y" in curve.over]
        said += [f"{curve.label} {np.isfinite(curve.y).sum() // 2} times" for curve in curves if "y" not in curve.over]
        said += [words for words, value, _ in limits if words and np.isfinite(value)]
        told.append(f"{up.text(system)}: {'; '.join(said)}.")
    happens = [f"{words} at {at:.3g}" for words, at in events]
    return " ".join(told) + (f" Events: {'; '.join(happens)}." if happens else "")


def _curve_told(name, up, values, system):
    """A curve's ends in words."""
    known = up.shown(values[np.isfinite(values)], system)
    if not known.size:
        return f"{name} nowhere known"
    low, high, last = (_in_words(value, up.dimension, system) for value in (known.min(), known.max(), known[-1]))
    return f"{name} from {low} to {high}, {last} at the end"


NAMED = 2  # points that bear their names beside them; where there are more, letters stand for them and a legend says which is which
NAME = 0.035  # half a line of letters, over the height of the axes
HALF_NAME = 0.09  # of the width: half of "duct and stair" and of a letter


@drawn
def fan_curves(key, title, curves, points, *, flow="Air flow", caption="", system):
    """Fan pressure by flow: the fan's curves at some speeds, what duct and stair ask for, and where the fan works.

    curves: (words, flows [m3/s], pressures [Pa], whether it is the fan's own), the one as it runs now first; points: (words, flow,
    pressure, state). Returns `Plot`.
    """
    xs = np.concatenate([*(curve[1] for curve in curves), [point[1] for point in points]])
    ys = np.concatenate([*(curve[2] for curve in curves), [point[2] for point in points]])
    across, up = Axis(flow, "flow", round_ends(xs, "flow", system)), Axis("Fan pressure", "pressure", round_ends(ys, "pressure", system))
    wide, high = across.ends[1], up.ends[1]
    layers, tops = (
        [level(0.0, "y", Pen(MUTED, width=1.0), order=2, still=True)],
        [float(np.max(y)) / high for _, _, y, own in curves if own],
    )
    keyed = len(points) > NAMED
    rank = np.argsort(np.argsort([point[1] for point in points], kind="stable"))
    lifts = [(0.055 if rank[number] % 2 else -0.06) if keyed else 0.0 for number in range(len(points))]  # of the letters
    for number, (words, x, y, own) in enumerate(curves):
        pen = series(number).but(marker="")
        if own:  # its name at its upper left end, or under it where a higher curve is near
            top = float(np.max(y)) / high
            above = not any(0 <= other - top <= 5 * NAME and (other, of) > (top, number) for of, other in enumerate(tops))
            at, side = (0.02 * wide, (top + (NAME if above else -1.5 * NAME)) * high), "left"
        else:  # rising: beside it, where its name is furthest from the points and their letters
            there = np.array([[x / wide, y / high + lift] for (_, x, y, _), lift in zip(points, lifts, strict=True)]).reshape(-1, 2)
            curve = np.column_stack([np.asarray(x) / wide, np.asarray(y) / high])
            begins = np.concatenate(
                [curve + shift for shift in ((-0.015, 0.03), (0.015, -0.03))]
            )  # to its left over it, to its right below
            names = begins + np.repeat([(-HALF_NAME, 0.0), (HALF_NAME, 0.0)], len(curve), axis=0)
            away = (np.abs(names[:, None] - there) / (HALF_NAME, NAME)).max(axis=-1).min(axis=1, initial=np.inf)  # in half names
            inside = (np.abs(names[:, 0] - 0.5) < 0.5 - HALF_NAME) & (names[:, 1] > NAME)
            place = int(np.where(inside, away, -np.inf).argmax())
            at, side = begins[place] * (wide, high), "right" if place < len(curve) else "left"
        layers += [Line(x, y, pen, words, 3), Words(words, *at, side, colour=pen.colour, backed=True, order=3)]
    for number, (words, x, y, state) in enumerate(points):
        layers.append(Line((x,), (y,), mark_pen(state), words, 5))
        if keyed:
            letter = ascii_uppercase[number % len(ascii_uppercase)]
            layers.append(Words(letter, x, y, "center", order=6, shift=(0.0, lifts[number])))
        else:
            layers.append(Words(words, x, y, backed=True, order=6, shift=(0.03, 0.0), turn=0.5))
    legend = [Entry(f"{ascii_uppercase[number % len(ascii_uppercase)]}   {point[0]}") for number, point in enumerate(points) if keyed]
    margins = 76, 34, 62 + (ROW_PX * len(points) + 8 if keyed else 0), 56
    told = "; ".join(f"{words} at {figure(x, 'flow')} and {figure(y, 'pressure')}" for words, x, y, _ in points)
    told = f"{title} ({across.text(system)}; {up.text(system)}): {told}."
    return Plot(key, title, (Axes(across, up, tuple(layers), title, margins),), told, caption, tuple(legend), height_px=560, system=system)


SHARE_CLASSES = 5
NOTE_ROWS = 1.7  # of a map from one line noted on it to the next: the letters of a wall are larger
SIGNS = {"now": "□", "best": "▣"}  # in a legend, of frames
LEAST_FRAME_PX = 12  # of a mark round a cell, however small the cell
FRAME = Pen(ROLES["now"].colour, width=2.0, join="miter")
NOT_ASKED = "hatched: not calculated"


def share_axis(label):
    """The axis of a map of shares [%] in classes of ten points from half of all to all: of a `heat_map` with SHARE_CLASSES."""
    return Axis(f"{label}, black < 50", ends=(50.0, 100.0))


@drawn
def heat_map(key, title, across, up, values, axis, cells, *, classes=0, caption="", greyed=None, noted=(), system):
    """Values by row and column as shades: a share for each pair of storeys, or a year by day and hour; some cells are framed.

    across, up: (label, labels of the columns or rows, "" for none); values [rows, columns], NaN for what nobody asked; axis: of the values,
    whose ends are those of the shades; cells: (words, row, column, one of FRAMES) of those that are marked; classes: so many shades, 0 for
    as many as there are; greyed: (words, [rows, columns] of cells that are no choice) or None; noted: lines in the upper left corner, where
    the map has cells that nobody asked. Returns `Plot`.
    """
    layers, legend, told = [Cells(values, axis, classes=classes, greyed=None if greyed is None else greyed[1])], [], ""
    for number, words in enumerate(noted):
        layers.append(Words(words, -0.2, len(up[1]) - 1.1 - NOTE_ROWS * number, backed=True, order=6))
        told += f" {words}."
    for words, row, column, role in cells:
        for away in FRAMES[role]:
            x, y = away * np.array([-1, 1, 1, -1, -1]) + column, away * np.array([-1, -1, 1, 1, -1]) + row
            for pen, order in ((Pen(PAPER, width=5.0, join="miter"), 3), (FRAME, 4)):  # seen on dark and on pale cells
                layers.append(Line(x, y, pen, words, order, clip=False, least_px=LEAST_FRAME_PX))
        legend.append(Entry(words, sign=SIGNS[role], colour=FRAME.colour))
        told += f" {words}: {_in_words(float(axis.shown(values[row, column], system)), axis.dimension, system)}."
    gaps = int(np.isnan(values).sum())
    if gaps:
        legend.append(Entry(NOT_ASKED, colour=MUTED, still=True))
    if greyed is not None:
        legend.append(Entry(greyed[0], colour=MUTED, still=True))
    x, y = (
        Axis(label, ends=(-0.5, len(labels) - 0.5), ticks=(np.arange(len(labels)), labels), grid=False) for label, labels in (across, up)
    )
    x = replace(x, apart_px=max(14, 9 * max(map(len, across[1])) + 6))  # about the longest label
    known = axis.shown(values[np.isfinite(values)], system)
    ends = f"from {known.min():.3g} to {known.max():.3g}" if known.size else "nothing known"
    missing = f"; {gaps} of {values.size} cells not calculated" if gaps else ""
    told = f"{title} ({across[0]}; {up[0]}). {axis.text(system)}: {ends}{missing}.{told}"
    rows = -(-len(legend) // 2)
    axes = Axes(x, y, tuple(layers), title, (76, 150, 62 + ROW_PX * rows, 40), title_px=-14.0)  # no words stand over it
    return Plot(key, title, (axes,), told, caption, tuple(legend), 2, height_px=500, system=system)
