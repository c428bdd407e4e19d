"""Fan pressure by flow: the curve at some speeds, what duct and stair ask for, and where the fan works."""

from string import ascii_uppercase

import numpy as np

from helpers.panels.lettering import Words
from helpers.panels.picture import Drawing
from helpers.panels.style import MUTED, STATE_MARKS, room_for, series

__all__ = ["FanDrawing"]

NAMED = 2  # points that bear their names beside them; where there are more, letters stand for them and a key says which is which
ROW_PX = 23
NAME = 0.035  # half a line of letters, over the height of the axes


class FanDrawing(Drawing):
    """Draws a studies.pictures.FanChart."""

    height_px = 560
    left_px, right_px, below_px, top_px = 76, 34, 62, 56

    def frame(self, data):
        """Redraw all when labels, numbers of curves or points, or the room needed change."""
        return data.title, data.x_label, data.y_label, len(data.curves), tuple(point.state for point in data.points), self._room(data)

    def draw(self, picture, data):
        """Axes, moving curves and marks with their names, and a key where points are many."""
        keyed = len(data.points) > NAMED
        below = self.below_px + (ROW_PX * len(data.points) + 8 if keyed else 0)
        axes = self.axes = picture.axes(self.box, (self.left_px, self.right_px, below, self.top_px), data.x_label, data.y_label, data.title)
        across, up = self._room(data)
        axes.set(xlim=across, ylim=up)
        axes.axhline(0, color=MUTED, linewidth=1)
        self.lines, self.names = [], []
        for place in range(len(data.curves)):
            look = series(place)
            self.lines.append(picture.moving(axes.plot([], [], color=look.colour, linestyle=look.line, linewidth=2.2, zorder=3)[0]))
            self.names.append(picture.moving(axes.add_artist(Words(axes.transData, colour=look.colour, backed=True, zorder=3))))
        self.marks, self.words, self.key = [], [], []
        for place, point in enumerate(data.points):
            mark, colour = STATE_MARKS[point.state]
            line = axes.plot([], [], mark, color=colour, markersize=11, markeredgecolor="white", zorder=5)[0]
            self.marks.append(picture.moving(line))
            self.words.append(picture.moving(axes.add_artist(Words(axes.transData, backed=not keyed, zorder=6))))
            if keyed:
                at = (self.box[0] + 12 / picture.width_px, (ROW_PX * (len(data.points) - place) - 12) / picture.height_px)
                self.key.append(picture.moving(picture.figure.add_artist(Words(picture.figure.transFigure, at=at))))

    def move(self, data):
        """Curves with their names, marks with theirs to the side that has room."""
        (_, width), (_, height) = self._room(data)
        tops = []
        for curve, line, name in zip(data.curves, self.lines, self.names, strict=True):
            line.set_data(curve.x, curve.y)
            if curve.kind == "speed":  # at its upper left end, or under it where another name is there already
                top = float(np.max(curve.y)) / height
                above = all(abs(top - other) > 2 * NAME for other in tops)
                tops.append(top)
                name.say(curve.label, (0.02 * width, (top + (NAME if above else -NAME)) * height), "left")
            else:  # rising: high up, to its left
                at = 3 * len(curve.x) // 4
                name.say(curve.label, (curve.x[at] - 0.015 * width, curve.y[at] + 0.03 * height), "right")
        along = {place: rank for rank, place in enumerate(sorted(range(len(data.points)), key=lambda place: data.points[place].x))}
        for place, (point, mark, words) in enumerate(zip(data.points, self.marks, self.words, strict=True)):
            mark.set_data([point.x], [point.y])
            if self.key:
                letter = ascii_uppercase[place % len(ascii_uppercase)]
                self.key[place].say(f"{letter}   {point.label}")
                words.say(letter, (point.x, point.y + (0.055 if along[place] % 2 else -0.06) * height), "center")
            else:
                left = point.x < 0.5 * width
                words.say(point.label, (point.x + (0.03 if left else -0.03) * width, point.y), "left" if left else "right")

    def tell(self, data):
        """Title and every duty point."""
        points = "; ".join(f"{point.label} at {point.x:.3g} and {point.y:.3g}" for point in data.points)
        return f"{data.title} ({data.x_label}; {data.y_label}): {points}."

    def _room(self, data):
        across = [x for curve in data.curves for x in curve.x] + [point.x for point in data.points]
        up = [y for curve in data.curves for y in curve.y] + [point.y for point in data.points]
        return room_for(across), room_for(up)
