"""The slips of a class as bars: how many learners made each, and how many of them have not put it right."""

from dataclasses import dataclass

from helpers.lessons.class_teaching import slip_counts
from helpers.panels.picture import Drawing, Picture
from helpers.panels.style import BODY_PT, INK, MUTED, SERIES, SMALL_PT

__all__ = ["SlipChart", "SlipDrawing", "slip_chart", "slip_picture"]

MOST_BARS, ROW_PX, AROUND_PX, LONGEST = 10, 48, 148, 96
BAR, LIFT = 0.36, 0.44  # of a row: the bar's height, and how far its words lie over its middle
PALE = "#b7d3e6"
STILL, RIGHT = "hatched: not put right yet", "plain: put right since"


@dataclass(frozen=True)
class SlipChart:
    """Bars, the longest first. labels; still: learners who have not put it right; right: who have; class_size: learners in the table."""

    labels: tuple
    still: tuple
    right: tuple
    class_size: int


class SlipDrawing(Drawing):
    """Draws a SlipChart: nothing of it moves."""

    def frame(self, data):
        """All of it stands still."""
        return data

    def draw(self, picture, data):
        """A bar for each slip, its words over it; two parts that differ in hatching and shade."""
        axes = picture.axes(self.box, (24, 40, 92, 56), "Learners", "", "Slips: by how many learners")
        rows = max(len(data.labels), 1)
        axes.set(xlim=(0, max([data.class_size, *self._ends(data)]) or 1), ylim=(rows - 0.5, -0.8))
        axes.set_yticks([])
        axes.grid(False, axis="y")
        for place, (label, still, right) in enumerate(zip(data.labels, data.still, data.right, strict=True)):
            looks = {"height": BAR, "edgecolor": INK, "linewidth": 1.0, "zorder": 2}
            axes.barh(place, still, facecolor=PALE, hatch="////", **looks)
            axes.barh(place, right, left=still, facecolor=SERIES[0].colour, **looks)
            axes.text(0, place - LIFT, label, size=SMALL_PT, color=INK, va="center", ha="left", zorder=3)
            axes.text(still + right, place, f" {still + right}", size=BODY_PT, color=INK, va="center", ha="left", zorder=3)
        if not data.labels:
            axes.text(0.5, 0.5, "No slip was recorded.", transform=axes.transAxes, ha="center", size=BODY_PT, color=MUTED)
        picture.figure.text(24 / picture.width_px, 16 / picture.height_px, f"{STILL}; {RIGHT}", size=SMALL_PT, color=INK)

    def move(self, data):
        """Nothing moves."""

    def tell(self, data):
        """Every bar in words."""
        rows = zip(data.labels, data.still, data.right, strict=True)
        told = [f"{label}: {still + right}, of whom {still} have not put it right." for label, still, right in rows]
        return " ".join([f"Slips of a class of {data.class_size}, by how many learners made them.", *(told or ["No slip was recorded."])])

    @staticmethod
    def _ends(data):
        return [still + right for still, right in zip(data.still, data.right, strict=True)]


def slip_chart(table):
    """The commonest slips of a `ClassTable`."""
    slips = slip_counts(table)[:MOST_BARS]
    labels = [f"{one.lesson.number:02d} {one.title}: {one.slip}" for one in slips]
    short = tuple(label if len(label) <= LONGEST else f"{label[: LONGEST - 1]}…" for label in labels)
    return SlipChart(short, tuple(one.still for one in slips), tuple(one.learners - one.still for one in slips), len(table.counted))


def slip_picture(table):
    """The picture of them."""
    chart = slip_chart(table)
    return Picture(SlipDrawing(), height_px=AROUND_PX + ROW_PX * max(len(chart.labels), 2)).show(chart)
