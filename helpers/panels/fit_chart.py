"""A transmitter's range over the pressures it must measure, and beside it what its error is for every top of the range."""

from dataclasses import dataclass

import numpy as np

from helpers.panels.bands import upright_band
from helpers.panels.lettering import Words
from helpers.panels.picture import Drawing
from helpers.panels.style import GRID, INK, MUTED, SERIES, WARNING, WINDOW

__all__ = ["FitChart", "FitDrawing"]

SPLIT = 0.60  # of the picture's width: ranges, then errors
YOURS, OWN, THERE = 0, 1, 2  # rows, from the top
BAR = 0.42  # of a row
ERROR_FILL = "#f0b58f"


@dataclass(frozen=True)
class FitChart:
    """In shown units: low, high of the range and of the site's own; window; set point and error; held: readings while the loop holds;
    trough, peak before it has answered; tops and errors of the curve, tenth: the error that may be; room: ends of the four axes."""

    pressure_label: str
    error_label: str
    low: float
    high: float
    own: tuple
    window: tuple
    set_point: float
    error: float
    held: np.ndarray
    trough: float
    peak: float
    tops: np.ndarray
    errors: np.ndarray
    tenth: float
    pressure_room: tuple
    error_room: tuple


class FitDrawing(Drawing):
    """Draws a FitChart. A cross marks what lies beyond the range."""

    height_px = 400
    margins_px = (134, 24, 88, 56)

    def frame(self, data):
        """Redraw all when the units or the site change."""
        return data.pressure_label, data.own, data.window, data.pressure_room, data.error_room, float(data.tops[-1])

    def draw(self, picture, data):
        """Ranges to the left, errors to the right."""
        left, bottom, width, height = self.box
        boxes = (left, bottom, SPLIT * width, height), (left + SPLIT * width, bottom, (1 - SPLIT) * width, height)
        ranges = picture.axes(boxes[0], self.margins_px, data.pressure_label, "", "The range and its job")
        errors = picture.axes(boxes[1], (70, 16, *self.margins_px[2:]), data.pressure_label.replace("Pressure", "Top of range"),
                              data.error_label, "Error, if the top were ...")  # fmt: skip
        self._ranges(picture, ranges, data)
        self._errors(picture, errors, data)
        self._key(picture)

    def move(self, data):
        """Range, set point with its error, readings; curve and point of the error."""
        self.bar.set(x=data.low, width=data.high - data.low)
        self.band.set(x=data.set_point - data.error, width=2 * data.error)
        self.line.set_xdata([data.set_point] * 2)
        self.words.say(at=(data.set_point, 1.01))
        measured = np.array([data.trough, *data.held, data.peak])
        inside = (measured >= data.low) & (measured <= data.high)
        for dots, chosen in ((self.seen, inside), (self.unseen, ~inside)):
            dots.set_data(measured[chosen], np.full(chosen.sum(), THERE))
        self.job.set_data([data.trough, data.peak], [THERE] * 2)
        self.job_held.set_data([data.held.min(), data.held.max()], [THERE] * 2)
        for words, at in zip(self.ends, (data.trough, data.peak), strict=True):
            words.say(at=(at, THERE - 0.2))
        self.curve.set_data(data.tops, data.errors)
        self.point.set_data([data.high], [data.error])
        self.tenth.set_ydata([data.tenth] * 2)
        self.tenth_words.say(at=(0.02, data.tenth))
        self.blind.set(x=0, width=max(data.peak, 0.0))
        self.blind_words.say(at=(0.5 * max(data.peak, 0.0), 1.01))

    def tell(self, data):
        """Range, job, error."""
        unit = data.pressure_label.rpartition("[")[2].rstrip("]")
        return (
            f"The range, {data.low:.3g} to {data.high:.3g} {unit}, over its job: window {data.window[0]:.3g} to {data.window[1]:.3g}, set "
            f"point {data.set_point:.3g} with an error of {data.error:.2g}; readings held {data.held.min():.3g} to {data.held.max():.3g}, "
            f"lowest {data.trough:.3g}, highest {data.peak:.3g}. The error grows with the top of the range, to {data.errors[-1]:.2g} "
            f"{unit} at {data.tops[-1]:.3g}."
        )

    def _ranges(self, picture, axes, data):
        moving, top = picture.moving, axes.get_xaxis_transform()
        axes.set(xlim=data.pressure_room, ylim=(2.55, -0.55))
        axes.set_yticks([YOURS, OWN, THERE], ["your range", "the site's own", "what is there"])
        axes.tick_params(axis="y", length=0, pad=8)
        axes.grid(False, axis="y")
        axes.axvspan(*data.window, color=WINDOW, linewidth=0, zorder=0)
        for end in data.window:
            axes.axvline(end, color=MUTED, linewidth=1, zorder=1)
        axes.barh(OWN, data.own[1] - data.own[0], left=data.own[0], height=BAR, facecolor=GRID, edgecolor=MUTED, zorder=2)
        self.bar = moving(axes.barh(YOURS, 1, height=BAR, color=SERIES[0].colour, zorder=2)[0])
        self.band = moving(upright_band(axes, color=ERROR_FILL, alpha=0.75, linewidth=0, zorder=3))
        self.line = moving(axes.axvline(0, color=INK, linewidth=1.8, zorder=4))
        self.words = moving(axes.add_artist(Words(top, "set point ± error", across="center", up="bottom")))
        self.job = moving(axes.plot([], [], color=MUTED, linewidth=1.6, linestyle=(0, (3, 2)), zorder=4)[0])
        self.job_held = moving(axes.plot([], [], color=SERIES[2].colour, linewidth=5, zorder=4, solid_capstyle="butt")[0])
        self.seen = moving(axes.plot([], [], "o", color=SERIES[0].colour, markersize=9, zorder=5)[0])
        self.unseen = moving(axes.plot([], [], "x", color=WARNING, markersize=12, markeredgewidth=3, zorder=5)[0])
        self.ends = [moving(axes.add_artist(Words(axes.transData, word, across="center", up="bottom"))) for word in ("lowest", "peak")]

    def _errors(self, picture, axes, data):
        moving = picture.moving
        axes.set(xlim=(0, data.tops[-1]), ylim=data.error_room)
        self.blind = moving(upright_band(axes, facecolor=GRID, edgecolor=MUTED, hatch="//", linewidth=0, zorder=0))
        self.blind_words = moving(axes.add_artist(Words(axes.get_xaxis_transform(), "blind", across="center", up="bottom", colour=MUTED)))
        self.tenth = moving(axes.axhline(0, color=WARNING, linewidth=1.8, linestyle=(0, (5, 2)), zorder=2))
        self.tenth_words = moving(
            axes.add_artist(Words(axes.get_yaxis_transform(), "a tenth of the window", up="bottom", colour=WARNING, backed=True))
        )
        self.curve = moving(axes.plot([], [], color=SERIES[0].colour, linewidth=2.2, zorder=3)[0])
        self.point = moving(axes.plot([], [], "o", color=SERIES[0].colour, markersize=11, zorder=4)[0])

    def _key(self, picture):
        y, x = self.box[1] + 14 / picture.height_px, self.box[0] + 12 / picture.width_px
        for shift, sign, colour, words in (
            (0, "●", SERIES[0].colour, "a reading, seen"),
            (166, "✕", WARNING, "beyond the range"),
            (352, "▬", SERIES[2].colour, "while the loop holds"),
            (548, "▇", "#b7d3e6", "pressure window"),
        ):
            picture.figure.text(x + shift / picture.width_px, y, sign, va="center", size=13, color=colour)
            picture.figure.text(x + (shift + 24) / picture.width_px, y, words, va="center", size=12, color=INK)
