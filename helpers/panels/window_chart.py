"""A stair's doors from the lowest to the highest: pressure across each against its window, and beside it the force at each handle."""

from dataclasses import dataclass

import numpy as np

from helpers.panels.bands import upright_band
from helpers.panels.lettering import Words
from helpers.panels.picture import Drawing
from helpers.panels.style import INK, MUTED, SERIES, WARNING, WINDOW, room_for

__all__ = ["WindowChart", "WindowDrawing"]

SPLIT = 0.55  # of the picture's width: pressures, then forces
AIR = 0.04  # over the highest door and under the lowest, as a share of the height
ROW_PX = 23


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
    margins_px = (76, 44, 62 + ROW_PX, 56)

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
        self.least, self.most = (moving(axes.axvline(0, color=INK, linewidth=1.6, zorder=2)) for _ in range(2))
        self.least_words = moving(axes.add_artist(Words(top, "least", across="right", up="bottom")))
        self.most_words = moving(axes.add_artist(Words(top, "most", up="bottom")))
        self.dp, self.dp_out = self._doors(picture, axes)

    def _forces(self, picture, axes):
        moving, top = picture.moving, axes.get_xaxis_transform()
        self.closer = moving(axes.axvline(0, color=MUTED, linewidth=1.8, linestyle=(0, (1, 1.5)), zorder=2))
        self.limit = moving(axes.axvline(0, color=WARNING, linewidth=1.8, linestyle=(0, (5, 2)), zorder=2))
        self.closer_words = moving(axes.add_artist(Words(top, "closer", across="right", up="bottom", colour=MUTED)))
        self.limit_words = moving(axes.add_artist(Words(top, "limit", up="bottom", colour=WARNING)))
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
