"""The signal ladder: what current or voltage stands for what per cent and what pressure, on one line with five rungs.

Two lines from signal to pressure, the instrument's and the one entered in the drive, and beside them the display's error.
"""

from dataclasses import dataclass

import numpy as np

from helpers.plots.picture import Drawing
from helpers.plots.style import GRID, INK, MUTED, SERIES, SMALL_PT, STATE_MARKS, WARNING, WINDOW, Words, room_for

__all__ = ["LadderDrawing", "ScalingChart", "ScalingDrawing"]


class LadderDrawing(Drawing):
    """Draws a studies.plot_data.SignalLadder: signal across, pressure up, the rungs' per cent along the top."""

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


SPLIT = 0.54  # of the picture's width: lines, then error
KEY = ((0, 0, "the instrument: what is there"), (280, 1, "as entered: what the drive shows"))


@dataclass(frozen=True)
class ScalingChart:
    """In shown units: signals at the input, and for each the pressure there and the one shown (NaN where the signal counts as failed).

    pointer: (signal, there, shown); pressures, in the instrument's range, and the display's errors there; held: the pressure the loop rests
    at and its error there (NaN without); failed: ends of what counts as no signal, below and above (NaN: cannot be told); wire_off: what
    a broken wire is shown as (NaN: none is broken); signal_room and the others: ends of the axes.
    """

    signal_label: str
    pressure_label: str
    error_label: str
    signals: np.ndarray
    there: np.ndarray
    shown: np.ndarray
    pointer: tuple
    pressures: np.ndarray
    errors: np.ndarray
    held: tuple
    failed: tuple
    wire_off: float
    signal_room: tuple
    pressure_room: tuple
    true_room: tuple
    error_room: tuple


class ScalingDrawing(Drawing):
    """Draws a ScalingChart. The arrow leads from what is there to what is shown."""

    height_px = 405
    margins_px = (76, 28, 88, 50)

    def frame(self, data):
        """Redraw all when the units, the signal's unit or the rooms change."""
        rooms = data.signal_room, data.pressure_room, data.true_room, data.error_room
        return data.signal_label, data.pressure_label, data.error_label, data.failed, rooms

    def draw(self, picture, data):
        """Lines to the left, error to the right."""
        left, bottom, width, height = self.box
        boxes = (left, bottom, SPLIT * width, height), (left + SPLIT * width, bottom, (1 - SPLIT) * width, height)
        title = "Signal and pressure"
        lines = picture.axes(boxes[0], self.margins_px, data.signal_label, data.pressure_label, title)
        error = picture.axes(boxes[1], (72, 16, *self.margins_px[2:]), data.pressure_label.replace("Pressure", "True pressure"),
                             data.error_label, "Error of the display")  # fmt: skip
        lines.set(xlim=data.signal_room, ylim=data.pressure_room)
        error.set(xlim=data.true_room, ylim=data.error_room)
        self._lines(picture, lines, data)
        self._error(picture, error)
        self._key(picture)

    def move(self, data):
        """Both lines, pointer, error, where the loop rests."""
        self.there.set_data(data.signals, data.there)
        self.shown.set_data(data.signals, data.shown)
        signal, there, shown = data.pointer
        known = np.isfinite(shown)
        self.upright.set_xdata([signal] * 2)
        self.at_there.set_data([signal], [there])
        self.at_shown.set_data([signal] if known else [], [shown] if known else [])
        self.gap.set_data([signal] * 2 if known else [], [there, shown] if known else [])
        self._move_wire(data)
        self.errors.set_data(data.pressures, data.errors)
        self.at_error.set_data([there] if known else [], [shown - there] if known else [])
        pressure, error = data.held
        held = np.isfinite(error)
        self.rests.set_data([pressure] if held else [], [error] if held else [])
        (low, high), (left, right) = data.error_room, data.true_room
        rising = np.nanmax(data.errors[len(data.errors) // 2 :], initial=low) > error
        away = (-0.05 if rising else 0.05) * (high - low)  # where the line is not
        self.rests_words.say("loop rests here" if held else "", at=(pressure + 0.03 * (right - left), error + away))

    def _move_wire(self, data):
        off = np.isfinite(data.wire_off)
        (left, right), (low, high) = data.signal_room, data.pressure_room
        self.wire.set_data([left] if off else [], [data.wire_off] if off else [])
        words = "upper wire: no signal" if off else ""
        self.wire_words.say(words, at=(left + 0.035 * (right - left), data.wire_off - 0.06 * (high - low) if off else low))

    def tell(self, data):
        """Pointer, error, where the loop rests."""
        unit = data.pressure_label.rpartition("[")[2].rstrip("]")
        signal_unit = data.signal_label.rpartition("[")[2].rstrip("]")
        signal, there, shown = data.pointer
        said = f"shows {shown:.3g} {unit}" if np.isfinite(shown) else "takes the signal for a failed one"
        held = f"the loop rests at {data.held[0]:.3g} {unit}" if np.isfinite(data.held[1]) else "the loop has no reading to rest at"
        wire = " The upper wire is broken: no signal comes." if np.isfinite(data.wire_off) else ""
        return (
            f"Signal and pressure, two lines: at a true {there:.3g} {unit} the drive gets {signal:.3g} {signal_unit} and {said}; "
            f"{held}. The display's error runs from {np.nanmin(data.errors):.3g} to {np.nanmax(data.errors):.3g} {unit}.{wire}"
        )

    def _lines(self, picture, axes, data):
        moving = picture.moving
        for failed, end in zip(data.failed, data.signal_room, strict=True):
            if np.isfinite(failed):
                axes.axvspan(failed, end, facecolor=GRID, edgecolor=MUTED, hatch="//", linewidth=0, zorder=0)
        axes.axhline(0, color=MUTED, linewidth=1, zorder=1)
        self.there = moving(axes.plot([], [], color=SERIES[0].colour, linewidth=2.4, zorder=3)[0])
        self.shown = moving(axes.plot([], [], color=SERIES[1].colour, linestyle=SERIES[1].line, linewidth=2.4, zorder=3)[0])
        self.upright = moving(axes.axvline(0, color=MUTED, linewidth=1.2, linestyle=(0, (1, 1.5)), zorder=2))
        self.gap = moving(axes.plot([], [], color=WARNING, linewidth=3.5, zorder=4)[0])
        self.at_there = moving(axes.plot([], [], "o", color=SERIES[0].colour, markersize=11, zorder=5)[0])
        self.at_shown = moving(axes.plot([], [], "s", color=SERIES[1].colour, markersize=11, zorder=5)[0])

        self.wire = moving(axes.plot([], [], "X", color=WARNING, markersize=13, zorder=6, clip_on=False)[0])
        self.wire_words = moving(axes.add_artist(Words(axes.transData, backed=True)))

    def _error(self, picture, axes):
        moving = picture.moving
        axes.axhline(0, color=INK, linewidth=1.2, zorder=1)
        self.errors = moving(axes.plot([], [], color=WARNING, linewidth=2.4, zorder=3)[0])
        self.at_error = moving(axes.plot([], [], "o", color=WARNING, markersize=11, zorder=4)[0])
        self.rests = moving(axes.plot([], [], "D", color=INK, markersize=11, zorder=5)[0])
        self.rests_words = moving(axes.add_artist(Words(axes.transData, backed=True)))

    def _key(self, picture):
        y, x = self.box[1] + 14 / picture.height_px, self.box[0] + 12 / picture.width_px
        for shift, number, words in KEY:
            sign = SERIES[number]
            mark = "●" if number == 0 else "■"
            picture.figure.text(x + shift / picture.width_px, y, mark, va="center", size=13, color=sign.colour)
            picture.figure.text(x + (shift + 24) / picture.width_px, y, words, va="center", size=12, color=INK)
        for shift, sign, colour, words in ((600, "▇", WARNING, "error"), (692, "▨", MUTED, "counts as failed")):
            picture.figure.text(x + shift / picture.width_px, y, sign, va="center", size=13, color=colour)
            picture.figure.text(x + (shift + 24) / picture.width_px, y, words, va="center", size=12, color=INK)
