"""From the hand method's air flow to the network's: a staircase of bars, one assumption given up at each step."""

import math

import numpy as np

from helpers.panels.lettering import Words
from helpers.panels.picture import Drawing
from helpers.panels.style import INK, MUTED, SERIES, SMALL_PT, room_for

__all__ = ["FlowStepsDrawing"]

BAR = 0.62  # of a row
UPWARD, DOWNWARD, WHOLE_FLOW = SERIES[2].colour, SERIES[1].colour, SERIES[0].colour


class FlowStepsDrawing(Drawing):
    """Draws a studies.pictures.FlowSteps: first and last bar whole flows, between them what each step adds or takes."""

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
