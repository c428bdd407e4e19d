"""Transmitter ranges laid over the pressures they must measure: window, set point, and the peak of a closing door.

A transmitter's range over the pressures it must measure, and beside it what its error is for every top of the range.
"""

from dataclasses import dataclass

import numpy as np

from helpers.plots.picture import Drawing
from helpers.plots.style import GRID, INK, MUTED, SERIES, SMALL_PT, STATE_MARKS, WARNING, WINDOW, Words, room_for, upright_band
from helpers.studies.status import STATUSES

__all__ = ["FitChart", "FitDrawing", "RangeDrawing"]

BAR = 0.5  # of a row
REACH = 2.0  # of the axis, over the largest pressure measured
STATE_WORDS = {key: status.word for key, status in STATUSES.items()} | {"": ""}
CHOSEN = "chosen"


class RangeDrawing(Drawing):
    """Draws a studies.plot_data.RangeChart: a bar a range, over the window's band; the one chosen is full and says so."""

    margins_px = (205, 150, 62, 56)
    height_px = 430

    def frame(self, data):
        """All of it stands still but the set point, the peak and the lowest pressure."""
        return (data.title, data.x_label, data.labels, data.states, data.chosen, tuple(data.window), self._room(data),
                tuple(data.lows), tuple(data.highs))  # fmt: skip

    def draw(self, picture, data):
        """Axes, bars and window."""
        axes = picture.axes(self.box, self.margins_px, data.x_label, "", data.title)
        rows = len(data.labels)
        axes.set(xlim=self._room(data), ylim=(rows - 0.4, -0.6))
        axes.set_yticks(range(rows), data.labels)
        axes.tick_params(axis="y", length=0, pad=10)
        axes.grid(False, axis="y")
        least, most = (end if limit is None else limit for limit, end in zip(data.window, axes.get_xlim(), strict=True))
        axes.axvspan(least, most, color=WINDOW, linewidth=0, zorder=0)
        for row, (label, low, high, state) in enumerate(zip(data.labels, data.lows, data.highs, data.states, strict=True)):
            self._draw_range(axes, row, low, high, state, label == data.chosen)
        self._draw_pressures(picture, axes, data)

    def move(self, data):
        """Put set point, peak and lowest pressure at their places."""
        for line, words, value in zip(self.lines, self.words, (data.set_point, data.peak, data.lowest), strict=True):
            line.set_xdata([value] * 2)
            words.say(at=(value, 1.01))

    def tell(self, data):
        """Title, the range chosen, and what it has to measure."""
        measured = f"set point {data.set_point:.3g}, lowest {data.lowest:.3g}, highest peak {data.peak:.3g}"
        judged = [f"{label}: {STATE_WORDS[state]}" for label, state in zip(data.labels, data.states, strict=True) if STATE_WORDS[state]]
        return f"{data.title} ({data.x_label}): {CHOSEN}: {data.chosen}; {measured}. {'; '.join(judged)}."

    def _draw_range(self, axes, row, low, high, state, chosen):
        mark, colour = STATE_MARKS[state]
        fill = {"color": SERIES[0].colour} if chosen else {"facecolor": GRID, "edgecolor": MUTED, "hatch": "//" if state == "wrong" else ""}
        axes.barh(row, high - low, left=low, height=BAR, zorder=2, **fill)
        for end, edge, arrow in ((low, axes.get_xlim()[0], "<"), (high, axes.get_xlim()[1], ">")):
            if abs(end) > abs(edge):
                axes.plot([edge], [row], arrow, color=MUTED, markersize=9, clip_on=False, zorder=3)  # it goes on
        words = CHOSEN if chosen else STATE_WORDS[state]
        along = axes.get_yaxis_transform()
        axes.plot([1.025], [row], mark, color=colour, markersize=9, transform=along, clip_on=False)
        axes.text(1.05, row, words, transform=along, va="center", size=SMALL_PT, color=INK, weight="bold" if chosen else "normal")

    def _draw_pressures(self, picture, axes, data):
        looks = ((INK, "-", "set point", "center"), (WARNING, (0, (5, 2)), "peak", "left"), (MUTED, (0, (1, 1.5)), "lowest", "right"))
        self.lines, self.words = [], []
        for colour, line, word, across in looks:
            self.lines.append(picture.moving(axes.axvline(0, color=colour, linestyle=line, linewidth=1.8, zorder=4)))
            words = Words(axes.get_xaxis_transform(), word, across=across, up="bottom", colour=colour)
            self.words.append(picture.moving(axes.add_artist(words)))

    def _room(self, data):
        """Wide enough for what is measured; ranges that reach far beyond are cut off at the edge."""
        measured = [abs(value) for value in (data.peak, data.lowest, data.set_point, *data.window) if value is not None]
        reach = REACH * max(measured)
        return room_for([max(min(data.lows), -reach), min(max(data.highs), reach)])


SPLIT = 0.60  # of the picture's width: ranges, then errors
YOURS, OWN, THERE = 0, 1, 2  # rows, from the top
FIT_BAR = 0.42  # of a row
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
        axes.barh(OWN, data.own[1] - data.own[0], left=data.own[0], height=FIT_BAR, facecolor=GRID, edgecolor=MUTED, zorder=2)
        self.bar = moving(axes.barh(YOURS, 1, height=FIT_BAR, color=SERIES[0].colour, zorder=2)[0])
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
