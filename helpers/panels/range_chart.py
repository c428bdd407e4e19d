"""Transmitter ranges laid over the pressures they must measure: window, set point, and the peak of a closing door."""

from helpers.panels.lettering import Words
from helpers.panels.picture import Drawing
from helpers.panels.style import GRID, INK, MUTED, SERIES, SMALL_PT, STATE_MARKS, WARNING, WINDOW, room_for
from helpers.studies.status import STATUSES

__all__ = ["RangeDrawing"]

BAR = 0.5  # of a row
REACH = 2.0  # of the axis, over the largest pressure measured
STATE_WORDS = {key: status.word for key, status in STATUSES.items()} | {"": ""}
CHOSEN = "chosen"


class RangeDrawing(Drawing):
    """Draws a studies.pictures.RangeChart: a bar a range, over the window's band; the one chosen is full and says so."""

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
