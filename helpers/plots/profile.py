"""Pressure across every storey's stair door against the window it must stay in, one line a case.

A stair's doors from the lowest to the highest: pressure across each against its window, and beside it the force at each handle.
"""

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.lines import Line2D

from helpers.plots.picture import WHOLE, Drawing
from helpers.plots.style import (
    BODY_PT,
    INK,
    LIMITS,
    MUTED,
    SERIES,
    SMALL_PT,
    WARNING,
    WINDOW,
    Series,
    Words,
    room_for,
    series,
    upright_band,
)

__all__ = ["ProfileDrawing", "WindowChart", "WindowDrawing"]

MOST_STOREY_LABELS = 15
LABEL_PX = 22  # of height for a storey's label, so that two never touch; where storeys are lower only every second or third has one
CROSS, SMALL_CROSS = (12, 3), (8, 2)  # size and stroke; small where storeys are low, so that crosses do not bury the lines
REFERENCE = Series(MUTED, (0, (4, 2)), "")
ROW_PX = 23  # of the key under the axes
HALF_PX, END_PX = 38, 46  # half of "set point", all of "least" or "most", in the letters they have


class ProfileDrawing(Drawing):
    """Draws a studies.plot_data.PressureProfile. A cross marks a door out of its window, a diamond on the axis one that stands open."""

    height_px = 580
    left_px, right_px, below_px, top_px = 70, 130, 60, 56

    def __init__(self, box=WHOLE, key_columns=1, reference=False):
        """key_columns: of the key under the axes; reference: the last profile is only what the others are compared with."""
        super().__init__(box)
        self.key_columns, self.reference = key_columns, reference

    def frame(self, data):
        """Redraw all when the window, the storeys, the labels or the room needed change."""
        still = (data.title, data.x_label, data.y_label, data.levels, data.transmitter_names, len(data.profiles))
        return (*still, data.least.tobytes(), data.most.tobytes(), self._room(data))

    def draw(self, picture, data):
        """Axes, window, key, and a set of moving marks for each profile."""
        rows = -(-(len(data.profiles) + 1) // self.key_columns)
        margins = (self.left_px, self.right_px, self.below_px + ROW_PX * rows, self.top_px)
        axes = self.axes = picture.axes(self.box, margins, data.x_label, data.y_label, data.title)
        edges = storey_edges(data.heights)
        axes.set(xlim=self._room(data), ylim=(edges[0], edges[-1]))
        every = max(-(-len(data.levels) // MOST_STOREY_LABELS), math.ceil(LABEL_PX * len(data.levels) / axes.bbox.height))
        axes.set_yticks(data.heights[::every], data.levels[::every])
        draw_window(axes, data, edges)
        self._marks(picture, data)
        self._key(picture, data, rows)

    def move(self, data):
        """Profiles, crosses where a door is out, diamonds where one stands open, transmitters at their storeys."""
        self.set_point.set_xdata([data.set_point] * 2)
        place, across = self._set_point_place(data)
        self.set_point_words.say(at=(place, 1.0), across=across)
        for profile, line, opened, words in zip(data.profiles, self.lines, self.opened, self.words, strict=True):
            line.set_data(profile.dp, data.heights)
            opened.set_data(np.zeros(int(np.sum(profile.open))), data.heights[profile.open])
            words.say(f"{profile.label}: {profile.state}, {profile.speed_hz:.1f} Hz")
        places = [(dp, height) for profile in data.profiles for dp, height in zip(*crossed(profile, data.heights), strict=True)]
        self.out.set_data(*np.transpose(places) if places else ([], []))
        for place, tap, words in zip(data.transmitter_places, self.taps, self.names, strict=True):
            tap.set_ydata([data.heights[place]])
            words.say(at=(1.03, data.heights[place]))

    def tell(self, data):
        """Title and the ends of every profile."""
        return " ".join([f"{data.title}.", *(told(data, profile) for profile in data.profiles)])

    def _set_point_place(self, data):
        """(pressure, side) of the words "set point", clear of "least" and "most", which stand outside the window."""
        low, high = self.axes.get_xlim()
        half, end = (pixels * (high - low) / self.axes.bbox.width for pixels in (HALF_PX, END_PX))
        least = np.max(data.least, initial=-np.inf, where=np.isfinite(data.least))
        most = np.min(data.most, initial=np.inf, where=np.isfinite(data.most))
        at = data.set_point
        if least - end - half < at < least + half:
            return (at, "left") if at >= least else (min(at, least - end), "right")
        if most - half < at < most + end + half:
            return (at, "right") if at <= most else (max(at, most + end), "left")
        return at, "center"

    def _marks(self, picture, data):
        axes, moving = self.axes, picture.moving
        down, along = axes.get_xaxis_transform(), axes.get_yaxis_transform()
        self.set_point = moving(axes.axvline(0, color=MUTED, linewidth=1.6, linestyle=(0, (1, 2)), zorder=2))
        self.set_point_words = moving(axes.add_artist(Words(down, "set point", across="center", up="bottom", colour=MUTED)))
        self.set_point_words.set_clip_on(False)
        looks = self._looks(data)
        size = 6 if len(data.levels) <= MOST_STOREY_LABELS else 3.5
        self.lines = [
            moving(axes.plot([], [], zorder=4 - 0.1 * place, **look.plotted | {"markersize": size})[0]) for place, look in enumerate(looks)
        ]
        hollow = {"markersize": 9, "markerfacecolor": "white", "markeredgewidth": 2, "linestyle": "", "clip_on": False, "zorder": 5}
        self.opened = [moving(axes.plot([], [], "D", color=look.colour, **hollow)[0]) for look in looks]
        cross, stroke = CROSS if axes.bbox.height >= LABEL_PX * len(data.levels) else SMALL_CROSS
        self.out = moving(axes.plot([], [], "x", color=WARNING, markersize=cross, markeredgewidth=stroke, zorder=6)[0])
        arrow = {"transform": along, "clip_on": False, "color": INK, "markersize": 10}
        self.taps = [moving(axes.plot([1.01], [0], "<", **arrow)[0]) for _ in data.transmitter_names]
        self.names = [moving(axes.add_artist(Words(along, name))) for name in data.transmitter_names]

    def _key(self, picture, data, rows):
        self.words = []
        left, bottom, width, _ = self.box
        for place in range(len(data.profiles) + 1):
            column, row = divmod(place, rows)
            x, y = (
                left + 12 / picture.width_px + column * width / self.key_columns,
                bottom + (ROW_PX * (rows - row) - 12) / picture.height_px,
            )
            begin = x + 44 / picture.width_px
            if place == len(data.profiles):
                picture.figure.text(x + 12 / picture.width_px, y, "✕", va="center", size=BODY_PT, color=WARNING, weight="bold")
                picture.figure.text(begin, y, "out of its window    ◇ door stands open", va="center", size=SMALL_PT, color=INK)
                continue
            look = self._looks(data)[place]
            sample = Line2D([x, x + 36 / picture.width_px], [y, y], **look.plotted, markevery=[1])
            picture.figure.add_artist(sample)
            self.words.append(picture.moving(picture.figure.add_artist(Words(picture.figure.transFigure, at=(begin, y)))))

    def _looks(self, data):
        looks = [series(place) for place in range(len(data.profiles))]
        return [*looks[:-1], REFERENCE] if self.reference else looks

    def _room(self, data):
        return room_for([data.set_point, *data.least, *data.most, *(dp for profile in data.profiles for dp in profile.dp)])


def crossed(profile, heights):
    """Where a profile's crosses lie: pressures and heights of the doors out of their window."""
    out = profile.low | profile.high
    return profile.dp[out], heights[out]


def draw_window(axes, data, edges):
    """The window as a pale band with firm edges; where a storey asks for no least or no most pressure it is open to that side."""
    low, high = axes.get_xlim()
    for storey, (least, most) in enumerate(zip(data.least, data.most, strict=True)):
        if np.isfinite(least) or np.isfinite(most):
            ends = (least if np.isfinite(least) else low, most if np.isfinite(most) else high)
            axes.fill_betweenx(edges[storey : storey + 2], *([end] * 2 for end in ends), color=WINDOW, linewidth=0, zorder=1)
    for limits, word, governs, across in ((data.least, "least", np.nanmax, "right"), (data.most, "most", np.nanmin, "left")):
        ends = np.where(np.isfinite(limits), limits, np.nan)
        axes.step(np.append(ends, ends[-1]), edges, where="pre", color=LIMITS[word][0], linewidth=1.4, zorder=3)
        if np.isfinite(limits).any():
            axes.text(governs(ends), 1.015, word, transform=axes.get_xaxis_transform(), ha=across, size=SMALL_PT, color=INK)


def storey_edges(heights):
    """Heights of the floors between storeys, from the storeys' middles."""
    if len(heights) == 1:
        return np.array([heights[0] - 1, heights[0] + 1])
    middles = (heights[1:] + heights[:-1]) / 2
    return np.concatenate([[2 * heights[0] - middles[0]], middles, [2 * heights[-1] - middles[-1]]])


def told(data, profile):
    """A profile in words: state, speed, ends, and which storeys are out."""
    words = f"{profile.label}: {profile.state} at {profile.speed_hz:.1f} Hz"
    if not np.isfinite(profile.dp).any():
        return f"{words}, no door is shut."
    least, most = np.nanargmin(profile.dp), np.nanargmax(profile.dp)
    unit = data.x_label.rpartition("[")[2].rstrip("]")
    place, inside = (
        ("storey", "every shut door inside its window") if data.y_label == "Storey" else (data.y_label.lower(), "all within limits")
    )
    low, high = _said(profile.dp[least]), f"{_said(profile.dp[most])} {unit}"
    words += f", from {low} on {place} {data.levels[least]} to {high} on {place} {data.levels[most]}"
    sides = [(profile.low, "too low"), (profile.high, "too high")]
    out = [f"{side} on {place} {', '.join(data.levels[k] for k in np.flatnonzero(doors))}" for doors, side in sides if doors.any()]
    return f"{words}; {' and '.join(out) or inside}."


def _said(value):
    """A figure of two digits or more as it is read aloud: 140, never 1.4e+02."""
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.2g}"


SPLIT = 0.55  # of the picture's width: pressures, then forces
AIR = 0.04  # over the highest door and under the lowest, as a share of the height
STAIR_ROW_PX = 23


@dataclass(frozen=True)
class WindowChart:
    """In shown units: heights, pressures and forces of the doors [doors], the window's ends, closer and force limit, and the axes' labels.

    most may lie below least: there is no window then.
    """

    title: str
    pressure_label: str
    force_label: str
    height_label: str
    heights: np.ndarray
    pressures: np.ndarray
    forces: np.ndarray
    least: float
    most: float
    closer: float
    limit: float
    room: tuple


class WindowDrawing(Drawing):
    """Draws a WindowChart. A cross marks a door that takes more than the limit."""

    height_px = 470
    margins_px = (76, 44, 62 + STAIR_ROW_PX, 56)

    def frame(self, data):
        """Redraw all when the units or the room needed change."""
        return data.title, data.pressure_label, data.force_label, data.height_label, self._room(data)

    def draw(self, picture, data):
        """Two axes of one height, and all that moves on them."""
        left, bottom, width, height = self.box
        boxes = (left, bottom, SPLIT * width, height), (left + SPLIT * width, bottom, (1 - SPLIT) * width, height)
        across = picture.axes(boxes[0], self.margins_px, data.pressure_label, data.height_label, data.title)
        force = picture.axes(boxes[1], (20, *self.margins_px[1:]), data.force_label, "", "Force at the handle")
        pressures, forces, heights = self._room(data)
        across.set(xlim=pressures, ylim=heights)
        force.set(xlim=forces, ylim=heights)
        force.tick_params(labelleft=False)
        self._pressures(picture, across)
        self._forces(picture, force)
        self._key(picture)

    def move(self, data):
        """Window, doors and their ends' figures, closer and limit."""
        self.window.set(x=data.least, width=max(data.most - data.least, 0.0))
        _place(self.least, self.least_words, data.least, self.most, self.most_words, max(data.most, 0.0))
        out = data.forces > data.limit
        for line, crosses, values in ((self.dp, self.dp_out, data.pressures), (self.force, self.force_out, data.forces)):
            line.set_data(values, data.heights)
            crosses.set_data(values[out], data.heights[out])
        _place(self.closer, self.closer_words, data.closer, self.limit, self.limit_words, data.limit)

    def tell(self, data):
        """Window, ends of the line, forces."""
        unit, force_unit = (label.rpartition("[")[2].rstrip("]") for label in (data.pressure_label, data.force_label))
        return (
            f"{data.title}: window {data.least:.3g} to {data.most:.3g} {unit}. {len(data.heights)} doors, {data.pressures[0]:.3g} {unit} "
            f"across the lowest and {data.pressures[-1]:.3g} across the highest; {data.forces[0]:.3g} and {data.forces[-1]:.3g} "
            f"{force_unit} at their handles, closer {data.closer:.3g}, limit {data.limit:.3g}; "
            f"{int(np.sum(data.forces > data.limit))} over the limit."
        )

    def _pressures(self, picture, axes):
        moving, top = picture.moving, axes.get_xaxis_transform()
        self.window = moving(upright_band(axes, color=WINDOW, zorder=1))
        self.least, self.most = (moving(axes.axvline(0, color=LIMITS[end][0], linewidth=1.6, zorder=2)) for end in ("least", "most"))
        self.least_words = moving(axes.add_artist(Words(top, "least", across="right", up="bottom")))
        self.most_words = moving(axes.add_artist(Words(top, "most", up="bottom")))
        self.dp, self.dp_out = self._doors(picture, axes)

    def _forces(self, picture, axes):
        moving, top = picture.moving, axes.get_xaxis_transform()
        self.closer = moving(axes.axvline(0, color=MUTED, linewidth=1.8, linestyle=(0, (1, 1.5)), zorder=2))
        colour, dashes = LIMITS["most force"]
        self.limit = moving(axes.axvline(0, color=colour, linewidth=1.8, linestyle=dashes, zorder=2))
        self.closer_words = moving(axes.add_artist(Words(top, "closer", across="right", up="bottom", colour=MUTED)))
        self.limit_words = moving(axes.add_artist(Words(top, "limit", up="bottom", colour=colour)))
        self.force, self.force_out = self._doors(picture, axes)

    @staticmethod
    def _doors(picture, axes):
        look = SERIES[0].plotted
        line = picture.moving(axes.plot([], [], zorder=4, **look)[0])
        crosses = axes.plot([], [], "x", color=WARNING, markersize=11, markeredgewidth=3, zorder=5)[0]
        return line, picture.moving(crosses)

    def _key(self, picture):
        y = self.box[1] + 12 / picture.height_px
        x = self.box[0] + 12 / picture.width_px
        for shift, sign, colour, words in (
            (0, "●", SERIES[0].colour, "a stair door"),
            (170, "✕", WARNING, "takes more than the limit"),
            (420, "▇", "#b7d3e6", "window: smoke stays out, people get out"),
        ):
            picture.figure.text(x + shift / picture.width_px, y, sign, va="center", size=13, color=colour)
            picture.figure.text(x + (shift + 24) / picture.width_px, y, words, va="center", size=12, color=INK)

    @staticmethod
    def _room(data):
        pressures, forces, heights = data.room
        high = room_for([*heights, *data.heights])[1]
        return (
            room_for([*pressures, data.least, data.most, *data.pressures]),
            room_for([*forces, data.limit, data.closer, *data.forces]),
            (-AIR * high, high),
        )


def _place(low, low_words, low_at, high, high_words, high_at):
    """Two level lines and their words, which stand outside of the two, whichever is the lower."""
    crossed = low_at > high_at
    for line, words, at, left in ((low, low_words, low_at, not crossed), (high, high_words, high_at, crossed)):
        line.set_xdata([at, at])
        words.say(at=(at, 1.01), across="right" if left else "left")
