"""Values by row and column as shades: a share for each pair of storeys, or a year by day and hour."""

import numpy as np
from matplotlib import colormaps
from matplotlib.artist import Artist
from matplotlib.lines import Line2D

from helpers.plots.picture import WHOLE, Drawing
from helpers.plots.style import BODY_PT, GRID, INK, MUTED, PAPER, SMALL_PT, Words, drawn, room_for

__all__ = ["HeatMapDrawing"]

# From dark blue to pale yellow with evenly rising lightness: the same order for colour-blind eyes and on a grey print.
SHADES = colormaps["cividis"].with_extremes(bad=(1.0, 1.0, 1.0, 0.0))
PALE = 0.55  # of the shades: beyond, letters are dark
ROW_PX = 23  # of the key under the axes
LABEL_PX = (14, 17)  # between the labels of columns and of rows
FIGURE_PX = (33, 17)  # of a cell that holds its figure
LEAST_FRAME_PX = 12  # of a mark round a cell, however small the cell
FRAMES = ("-", (0, (4, 2)), (0, (1, 1)), (0, (6, 2, 1, 2)))
NOT_ASKED = "hatched: not asked"


class HeatMapDrawing(Drawing):
    """Draws a studies.plot_data.HeatMap. Shades, figures and frames round cells move; labels and the room of the shades stand still."""

    height_px = 500
    left_px, right_px, below_px, top_px = 76, 150, 62, 56

    def __init__(self, box=WHOLE, figures=True):
        """figures: whether cells large enough hold their figure, without decimals."""
        super().__init__(box)
        self.written = figures

    def frame(self, data):
        """Redraw all when labels, the shades' room or the number of marks change."""
        still = (data.title, data.x_label, data.y_label, data.value_label, data.columns, data.rows, room_of(data))
        return (*still, len(data.cells), bool(np.isnan(data.values).any()))

    def draw(self, picture, data):
        """Axes, bar of shades and key; then what moves."""
        gaps = bool(np.isnan(data.values).any())
        key_rows = len(data.cells) + gaps
        margins = (self.left_px, self.right_px, self.below_px + ROW_PX * key_rows, self.top_px)
        axes = self.axes = picture.axes(self.box, margins, data.x_label, data.y_label, data.title)
        rows, columns = data.values.shape
        axes.set(xlim=(-0.5, columns - 0.5), ylim=(-0.5, rows - 0.5))
        axes.grid(False)
        axes.patch.set(hatch="////", edgecolor=GRID, linewidth=0)
        size = axes.get_window_extent().size
        self.cell_px = size / (columns, rows)
        axes.set_xticks(*thinned(data.columns, self.cell_px[0], max(LABEL_PX[0], longest_px(data.columns))))
        axes.set_yticks(*thinned(data.rows, self.cell_px[1], LABEL_PX[1]))
        low, high = room_of(data)
        extent = (-0.5, columns - 0.5, -0.5, rows - 0.5)
        looks = {"cmap": SHADES, "vmin": low, "vmax": high, "interpolation": "nearest", "extent": extent, "aspect": "auto", "zorder": 1}
        self.image = picture.moving(axes.imshow(data.values, origin="lower", **looks))
        self._bar(picture, axes, data)
        large = self.written and np.all(self.cell_px >= FIGURE_PX)
        self.figures = picture.moving(axes.add_artist(Figures(axes.transData))) if large else None
        self._key(picture, data, key_rows, gaps)

    def move(self, data):
        """Shades, figures in the cells, frames round the marked ones."""
        self.image.set_data(np.ma.masked_invalid(data.values))
        low, high = room_of(data)
        if self.figures is not None:
            self.figures.say(data.values, (data.values - low) / (high - low) > PALE)
        for cell, frames, name in zip(data.cells, self.frames, self.names, strict=True):
            for frame in frames:
                frame.set_data(*self._around(cell))
            name.say(cell.label)

    def tell(self, data):
        """Title, what the shades stand for and from where to where, and the marked cells."""
        known = data.values[np.isfinite(data.values)]
        ends = f"from {known.min():.3g} to {known.max():.3g}" if known.size else "nothing known"
        gaps = f"; {int(np.isnan(data.values).sum())} of {data.values.size} cells not asked" if known.size < data.values.size else ""
        cells = "".join(f" {cell.label}: {data.values[cell.row, cell.column]:.3g}." for cell in data.cells)
        return f"{data.title} ({data.x_label}; {data.y_label}). {data.value_label}: {ends}{gaps}.{cells}"

    def _around(self, cell):
        wide, high = (max(1.0, LEAST_FRAME_PX / px) / 2 for px in self.cell_px)
        left, right, low, top = cell.column - wide, cell.column + wide, cell.row - high, cell.row + high
        return [left, right, right, left, left], [low, low, top, top, low]

    def _bar(self, picture, axes, data):
        left, bottom, width, height = axes.get_position().bounds
        away, wide = (px / picture.width_px for px in (22, 20))
        bar = picture.figure.add_axes((left + width + away, bottom, wide, height))
        low, high = room_of(data)
        bar.imshow(np.linspace(low, high, 128)[:, None], cmap=SHADES, extent=(0, 1, low, high), origin="lower", aspect="auto")
        bar.yaxis.tick_right()
        bar.yaxis.set_label_position("right")
        bar.set_xticks([])
        bar.set_ylabel(data.value_label, size=BODY_PT, color=INK)
        bar.tick_params(labelsize=SMALL_PT, colors=INK)

    def _key(self, picture, data, rows, gaps):
        self.frames, self.names = [], []
        left, bottom, _, _ = self.box
        for place in range(rows):
            x, y = left + 12 / picture.width_px, bottom + (ROW_PX * (rows - place) - 12) / picture.height_px
            begin = x + 48 / picture.width_px
            if place == len(data.cells):
                picture.figure.text(x, y, NOT_ASKED, va="center", size=SMALL_PT, color=MUTED)
                continue
            looks = {"color": INK, "linestyle": FRAMES[place % len(FRAMES)], "linewidth": 2.0}
            picture.figure.add_artist(Line2D([x, x + 40 / picture.width_px], [y, y], **looks))
            ground, frame = ({"color": PAPER, "linewidth": 5.0, "zorder": 3}, looks | {"zorder": 4})  # seen on dark and on pale cells
            lines = [self.axes.plot([], [], clip_on=False, solid_joinstyle="miter", **one)[0] for one in (ground, frame)]
            self.frames.append([picture.moving(line) for line in lines])
            words = Words(picture.figure.transFigure, "", (begin, y))
            self.names.append(picture.moving(picture.figure.add_artist(words)))


class Figures(Artist):
    """Figures in the middle of their cells, all in one go; pale: where letters must be dark."""

    def __init__(self, transform):
        super().__init__()
        self.set_transform(transform)
        self.set_zorder(2)

    def say(self, values, pale):
        """Change the figures."""
        self.values, self.pale, self.stale = values, pale, True

    def draw(self, renderer):
        """Copy the drawn figures to their places."""
        rows, columns = np.nonzero(np.isfinite(self.values))
        places = self.get_transform().transform(np.column_stack([columns, rows]))
        brush = renderer.new_gc()
        for row, column, (x, y) in zip(rows, columns, places, strict=True):
            pixels = drawn(f"{self.values[row, column]:.0f}", INK if self.pale[row, column] else PAPER, SMALL_PT, False, renderer.dpi)
            height, width = pixels.shape[:2]
            renderer.draw_image(brush, round(x - width / 2), round(y - height / 2), pixels[::-1])
        brush.restore()
        self.stale = False


def room_of(data):
    """Least and most of the shades."""
    return room_for(data.values.ravel()) if data.room is None else tuple(data.room)


def longest_px(labels):
    """About the width of the longest label."""
    return 9 * max(map(len, labels), default=1) + 6


def thinned(labels, cell_px, apart_px):
    """Places and words of so many labels that they do not touch; those that say nothing are left out."""
    said = [place for place, label in enumerate(labels) if label]
    gap = min(np.diff(said), default=1)
    every = max(1, -(-int(apart_px) // max(1, int(gap * cell_px))))
    chosen = said[::every]
    return chosen, [labels[place] for place in chosen]
