"""Fan pressure by flow: the curve at some speeds, what duct and stair ask for, and where the fan works.

From the hand method's air flow to the network's: a staircase of bars, one assumption given up at each step.
"""

import math
from string import ascii_uppercase

import numpy as np

from helpers.plots.picture import Drawing
from helpers.plots.style import INK, MUTED, SERIES, SMALL_PT, STATE_MARKS, Words, room_for, series

__all__ = ["FanDrawing", "FlowStepsDrawing"]

NAMED = 2  # points that bear their names beside them; where there are more, letters stand for them and a key says which is which
ROW_PX = 23
NAME = 0.035  # half a line of letters, over the height of the axes


class FanDrawing(Drawing):
    """Draws a studies.plot_data.FanChart."""

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


BAR = 0.62  # of a row
UPWARD, DOWNWARD, WHOLE_FLOW = SERIES[2].colour, SERIES[1].colour, SERIES[0].colour


class FlowStepsDrawing(Drawing):
    """Draws a studies.plot_data.FlowSteps: first and last bar whole flows, between them what each step adds or takes."""

    margins_px = (250, 110, 62, 56)
    height_px = 400

    def frame(self, data):
        """Redraw all when words or the room needed change."""
        return data.title, data.x_label, data.y_label, data.labels, room_for(data.flows)

    def draw(self, picture, data):
        """Axes with a row a step, bars and the words at their ends."""
        axes = picture.axes(self.box, self.margins_px, data.x_label, "", data.title)
        rows = len(data.labels)
        axes.set(xlim=room_for(data.flows), ylim=(rows - 0.4, -0.6))
        axes.set_yticks(range(rows), data.labels)
        axes.tick_params(axis="y", length=0)
        axes.grid(False, axis="y")
        self.bars = [picture.moving(bar) for bar in axes.barh(range(rows), [0.0] * rows, height=BAR, zorder=3)]
        self.links = [picture.moving(axes.plot([], [], color=MUTED, linewidth=1, zorder=2)[0]) for _ in range(rows - 1)]
        self.words = [picture.moving(axes.add_artist(Words(axes.transData, size_pt=SMALL_PT, colour=INK))) for _ in range(rows)]

    def move(self, data):
        """Put bars, links and words at the flows."""
        air, digits = 0.012 * room_for(data.flows)[1], max(0, 2 - math.floor(math.log10(max(data.flows))))
        for row, (bar, words) in enumerate(zip(self.bars, self.words, strict=True)):
            whole = row in (0, len(self.bars) - 1)
            begin = 0.0 if whole else data.flows[row - 1]
            bar.set(x=begin, width=data.flows[row] - begin, facecolor=self._colour(data, row, whole))
            change = f"{data.changes[row]:+.{digits}f}".replace("-", "−")
            says = change if not whole else f"{data.flows[row]:.{digits}f}" + (f" ({change})" if row else "")
            words.say(says, (max(begin, data.flows[row]) + air, row))
        for row, link in enumerate(self.links):
            link.set_data([data.flows[row]] * 2, [row, row + 1])

    def tell(self, data):
        """Title and every step."""
        steps = "; ".join(f"{label}: {flow:.3g}" for label, flow in zip(data.labels, data.flows, strict=True))
        return f"{data.title} ({data.x_label}): {steps}."

    def _colour(self, data, row, whole):
        return WHOLE_FLOW if whole else UPWARD if np.greater_equal(data.changes[row], 0) else DOWNWARD
