"""Fan pressure by flow: the curve at some speeds, and where the fan works."""

import numpy as np

from helpers.panels.lettering import Words
from helpers.panels.picture import Drawing
from helpers.panels.style import MUTED, STATE_MARKS, room_for, series

__all__ = ["FanDrawing"]


class FanDrawing(Drawing):
    """Draws a studies.pictures.FanChart: a curve a speed, a mark a duty point, each with its name beside it."""

    margins_px = (76, 26, 62, 56)

    def frame(self, data):
        """Redraw all when labels, numbers of curves or points, or the room needed change."""
        return data.title, data.x_label, data.y_label, len(data.curves), tuple(point.state for point in data.points), self._room(data)

    def draw(self, picture, data):
        """Axes, and moving curves and marks with their names."""
        axes = self.axes = picture.axes(self.box, self.margins_px, data.x_label, data.y_label, data.title)
        across, up = self._room(data)
        axes.set(xlim=across, ylim=up)
        looks = [series(place) for place in range(len(data.curves))]
        self.lines = [
            picture.moving(axes.plot([], [], color=look.colour, linestyle=look.line, linewidth=2.2, zorder=3)[0]) for look in looks
        ]
        self.names = [
            picture.moving(axes.add_artist(Words(axes.transData, up="bottom", colour=look.colour, backed=True, zorder=3))) for look in looks
        ]
        marks = [STATE_MARKS[point.state] for point in data.points]
        self.marks = [
            picture.moving(axes.plot([], [], mark, color=colour, markersize=11, markeredgecolor="white", zorder=5)[0])
            for mark, colour in marks
        ]
        self.words = [picture.moving(axes.add_artist(Words(axes.transData, backed=True, zorder=4))) for _ in marks]
        axes.axhline(0, color=MUTED, linewidth=1)

    def move(self, data):
        """Curves with their names at the left, marks with theirs to the side that has room."""
        (_, width), (_, height) = self._room(data)
        for curve, line, name in zip(data.curves, self.lines, self.names, strict=True):
            line.set_data(curve.x, curve.y)
            name.say(curve.label, (0.02 * width, np.max(curve.y) + 0.005 * height))
        lowest = 1.0
        order = sorted(range(len(data.points)), key=lambda place: -data.points[place].y)
        for place in order:
            point, mark, words = data.points[place], self.marks[place], self.words[place]
            mark.set_data([point.x], [point.y])
            lowest = min(lowest - 0.065, point.y / height)  # names keep apart where points lie close
            left = point.x < 0.5 * width
            words.say(point.label, (point.x + (0.03 if left else -0.03) * width, lowest * height), "left" if left else "right")

    def tell(self, data):
        """Title and every duty point."""
        points = "; ".join(f"{point.label} at {point.x:.3g} and {point.y:.3g}" for point in data.points)
        return f"{data.title} ({data.x_label}; {data.y_label}): {points}."

    def _room(self, data):
        across = [x for curve in data.curves for x in curve.x] + [point.x for point in data.points]
        up = [y for curve in data.curves for y in curve.y] + [point.y for point in data.points]
        return room_for(across), room_for(up)
