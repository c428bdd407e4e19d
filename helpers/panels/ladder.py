"""The signal ladder: what current or voltage stands for what per cent and what pressure, on one line with five rungs."""

import numpy as np

from helpers.panels.lettering import Words
from helpers.panels.picture import Drawing
from helpers.panels.style import INK, MUTED, SERIES, SMALL_PT, STATE_MARKS, WINDOW, room_for

__all__ = ["LadderDrawing"]


class LadderDrawing(Drawing):
    """Draws a studies.pictures.SignalLadder: signal across, pressure up, the rungs' per cent along the top."""

    margins_px = (80, 40, 62, 72)
    height_px = 430

    def frame(self, data):
        """All of it but the marks stands still."""
        return data.title, data.x_label, data.y_label, data.signals.tobytes(), data.pressures.tobytes(), len(data.marks), data.accuracy

    def draw(self, picture, data):
        """Axes, rungs, the line and its error band."""
        axes = picture.axes(self.box, self.margins_px, data.x_label, data.y_label, data.title)
        axes.set(xlim=room_for(data.signals), ylim=room_for(data.pressures))
        axes.grid(False)
        floor, wall = axes.get_ylim()[0], axes.get_xlim()[0]
        for percent, signal, pressure in zip(data.percent, data.signals, data.pressures, strict=True):
            axes.plot([signal, signal, wall], [floor, pressure, pressure], color=MUTED, linewidth=1, linestyle=(0, (2, 2)), zorder=1)
            axes.text(signal, 1.01, f"{percent:g} %", transform=axes.get_xaxis_transform(), ha="center", size=SMALL_PT, color=INK)
        axes.set_xticks(data.signals, [f"{signal:g}" for signal in data.signals])
        axes.set_yticks(data.pressures, [f"{pressure:.3g}" for pressure in data.pressures])
        off = np.array([data.accuracy, -data.accuracy])[:, None] + data.pressures
        axes.fill_between(data.signals, *off, color=WINDOW, zorder=1)
        axes.plot(data.signals, data.pressures, zorder=2, **SERIES[0].plotted)
        marks = [STATE_MARKS[mark.state] for mark in data.marks]
        self.marks = [
            picture.moving(axes.plot([], [], mark, color=colour, markersize=11, markeredgecolor="white", zorder=4)[0])
            for mark, colour in marks
        ]
        self.words = [picture.moving(axes.add_artist(Words(axes.transData, backed=True, zorder=3))) for _ in marks]

    def move(self, data):
        """Put the marks on the line, each with its words to the right and below."""
        width = data.signals[-1] - data.signals[0]
        for data_mark, mark, words in zip(data.marks, self.marks, self.words, strict=True):
            mark.set_data([data_mark.x], [data_mark.y])
            words.say(data_mark.label, (data_mark.x + 0.025 * width, data_mark.y))

    def tell(self, data):
        """Title, rungs and marks."""
        rungs = zip(data.percent, data.signals, data.pressures, strict=True)
        steps = ", ".join(f"{percent:g} % is {signal:g} and {pressure:.3g}" for percent, signal, pressure in rungs)
        marks = "; ".join(f"{mark.label} at {mark.x:.3g}" for mark in data.marks)
        return f"{data.title} ({data.x_label}; {data.y_label}): {steps}. {marks}."
