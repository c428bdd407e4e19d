"""What is drawn of each kind of layer, one class a kind: it makes its artist where the axes are drawn, and moves it wherever the data say.

Words that move are drawn once as a small image and then only copied from place to place: matplotlib lays out a text anew each time it is
drawn, at two or three milliseconds each, and ten of them would be most of a slider's time.
"""

import math
from functools import lru_cache

import numpy as np
from matplotlib import colormaps
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import ListedColormap, to_rgb
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from helpers.plots.plot import Band, Cells, Line, Words, room_for
from helpers.plots.style import BODY_PT, DPI, GRID, INK, MUTED, PAPER, SMALL_PT

HALF_PX, END_PX = 38, 46  # half of a limit's words over the axes, and all of a short one's
# From dark blue to pale yellow with evenly rising lightness: the same order for colour-blind eyes and on a grey print.
NOTHING = (1.0, 1.0, 1.0, 0.0)
SHADES = colormaps["cividis"].with_extremes(bad=NOTHING)
GREYED = "#c9cfd5"  # of a cell that is no choice: its letters are dark
PALE_SHADE = 0.55  # of the shades: beyond, letters are dark
FIGURE_PX = (33, 17)  # of a cell that holds its figure


class _LineArtist:
    def __init__(self, place, layer):
        self.place, pen, self.scales = place, layer.pen, place.scales(layer.over)
        size, stroke = layer.crowded if layer.crowded and place.crowded else (pen.size, pen.stroke)
        looks = looks_of(pen) | {"markersize": size, "markeredgewidth": stroke}
        self.artist = place.axes.add_line(Line2D([], [], transform=place.at(layer.over), zorder=layer.order, clip_on=layer.clip, **looks))
        if layer.still:
            self.move(layer)
        else:
            place.picture.moving(self.artist)

    def move(self, layer):
        """A long curve thinned to what a pixel can show."""
        x, y = self.scales[0](layer.x), self.scales[1](layer.y)
        if len(x) > 2 * self.place.columns:
            x, y = decimated(x, y, *self.place.ends[0], self.place.columns)
        if layer.least_px:
            x, y = (
                widened(values, layer.least_px * abs(high - low) / px)
                for values, (low, high), px in zip((x, y), self.place.limits(layer.over), self.place.size_px, strict=True)
            )
        self.artist.set_data(x, y)


class _BandArtist:
    def __init__(self, place, layer):
        self.place, fill, self.scales = place, layer.fill, place.scales(layer.over)
        looks = {"facecolor": fill.face, "edgecolor": fill.edge, "hatch": fill.hatch, "linewidth": fill.width, "alpha": fill.alpha}
        self.artist = Polygon(np.zeros((4, 2)), transform=place.at(layer.over), zorder=layer.order, **looks)
        place.axes.add_patch(self.artist)
        if layer.still:
            self.move(layer)
        else:
            place.picture.moving(self.artist)

    def move(self, layer):
        """Its corners: along the low side and back along the high one."""
        turn = 1 if layer.along == "x" else -1
        (along, up), (ends, (low_end, high_end)) = self.scales[::turn], self.place.limits(layer.over)[::turn]
        x = along(layer.x)
        low, high = (np.broadcast_to(up(side), x.shape) for side in (layer.low, layer.high))
        if len(x) == 2:
            x = np.where(np.isfinite(x), x, ends)
        low, high = np.where(np.isfinite(low), low, low_end), np.where(np.isfinite(high), high, high_end)
        corners = np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]])
        self.artist.set_xy(np.column_stack(corners[::turn]))


class _WordsArtist:
    def __init__(self, place, layer):
        self.place, axes, self.scales = place, place.axes, place.scales(layer.over)
        if layer.still:
            x, y = self._point(layer)
            looks = {"size": layer.size_pt, "color": layer.colour, "weight": "bold" if layer.bold else "normal", "zorder": layer.order}
            up = {"middle": "center"}.get(layer.up, layer.up)
            self.artist = axes.text(x, y, layer.text, transform=place.at(layer.over), ha=layer.across, va=up, **looks)
        else:
            looks = {"colour": layer.colour, "size_pt": layer.size_pt, "backed": layer.backed, "zorder": layer.order}
            over = "y" if layer.lane == "right" else layer.over
            self.artist = place.picture.moving(axes.add_artist(Lettering(place.at(over), up=layer.up, **looks)))
            self.artist.set_clip_on(False)
        if layer.lane == "right":
            thin = {"color": MUTED, "linewidth": 1.0, "transform": place.at("y"), "clip_on": False, "zorder": layer.order}
            self.leader = place.picture.moving(axes.add_line(Line2D([], [], **thin)))

    def lead(self, ends):
        """A thin line from the value to words that had to move aside, [(x, y), (x, y)]; nothing for none."""
        self.leader.set_data(*zip(*ends, strict=True) if ends else ([], []))

    def move(self, layer):
        """To their point, to the side that has room."""
        if layer.lane:
            return  # with the others
        x, y = self._point(layer)
        if not (math.isfinite(x) and math.isfinite(y)):
            self.artist.say("")
            return
        (x0, x1), (y0, y1) = self.place.limits(layer.over)
        across, aside = layer.across, layer.shift[0]
        if (x - x0) / (x1 - x0) >= layer.turn:
            across, aside = "right", -aside
        if layer.clear_of:
            x, across = self._clear(x, *self.scales[0](layer.clear_of).tolist())
        self.artist.say(layer.text, (x + aside * (x1 - x0), y + layer.shift[1] * (y1 - y0)), across)

    def _point(self, layer):
        return float(self.scales[0](layer.x)), float(self.scales[1](layer.y))

    def _clear(self, at, least, most):
        """(place, side) clear of the words of least and most, which stand outside of the two."""
        low, high = self.place.ends[0]
        half, end = (pixels * (high - low) / self.place.size_px[0] for pixels in (HALF_PX, END_PX))
        if least - end - half < at < least + half:
            return (at, "left") if at >= least else (min(at, least - end), "right")
        if most - half < at < most + end + half:
            return (at, "right") if at <= most else (max(at, most + end), "left")
        return at, "center"


class _CellsArtist:
    def __init__(self, place, layer):
        axes, (rows, columns) = place.axes, layer.values.shape
        axes.patch.set(hatch="////", edgecolor=GRID, linewidth=0)
        self.low, self.high = _ends_of_shades(layer, place.system)
        self.place = place
        extent = (-0.5, columns - 0.5, -0.5, rows - 0.5)
        self.shades = SHADES.resampled(layer.classes).with_extremes(bad=NOTHING, under="black") if layer.classes else SHADES
        looks = {"cmap": self.shades, "vmin": self.low, "vmax": self.high, "interpolation": "nearest", "extent": extent, "aspect": "auto"}
        self.artist = place.picture.moving(axes.imshow(layer.values, origin="lower", zorder=1.0, **looks))
        self.grey = np.zeros(layer.values.shape, bool) if layer.greyed is None else layer.greyed
        if self.grey.any():
            looks |= {"cmap": ListedColormap([GREYED]).with_extremes(bad=NOTHING)}
            self.greys = place.picture.moving(axes.imshow(layer.values, origin="lower", **(looks | {"zorder": 1.5})))
        large = layer.figures and np.all(place.size_px / (columns, rows) >= FIGURE_PX)
        self.figures = place.picture.moving(axes.add_artist(_Figures(axes.transData))) if large else None
        self._bar(place, layer.axis.text(place.system))

    def move(self, layer):
        """Shades, and figures in the cells."""
        values = layer.axis.shown(layer.values, self.place.system)
        self.artist.set_data(np.ma.masked_invalid(values))
        if self.grey.any():
            self.greys.set_data(np.ma.masked_where(~self.grey | np.isnan(values), values))
        if self.figures is not None:
            self.figures.say(values, self.grey | ((values - self.low) / (self.high - self.low) > PALE_SHADE))

    def _bar(self, place, label):
        left, bottom, width, height = place.axes.get_position().bounds
        away, wide = (px / place.picture.width_px for px in (22, 20))
        bar = place.picture.figure.add_axes((left + width + away, bottom, wide, height))
        shades = np.linspace(self.low, self.high, 128)[:, None]
        bar.imshow(shades, cmap=self.shades, extent=(0, 1, self.low, self.high), origin="lower", aspect="auto")
        bar.yaxis.tick_right()
        bar.yaxis.set_label_position("right")
        bar.set_xticks([])
        bar.set_ylabel(label, size=BODY_PT, color=INK)
        bar.tick_params(labelsize=SMALL_PT, colors=INK)


def _ends_of_shades(layer, system):
    """Least and most of the shades, shown."""
    if layer.axis.ends is not None:
        return tuple(layer.axis.shown(layer.axis.ends, system))
    return room_for(layer.axis.shown(layer.values.ravel(), system))


class _Figures(Artist):
    """Figures in the middle of their cells, all in one go; pale: where letters must be dark."""

    def __init__(self, transform):
        super().__init__()
        self.set_transform(transform)
        self.set_zorder(2)

    def say(self, values, pale):
        """Change the figures."""
        self.values, self.pale, self.stale = values, pale, True

    def draw(self, renderer):
        """Copy the lettered figures to their places."""
        rows, columns = np.nonzero(np.isfinite(self.values))
        places = self.get_transform().transform(np.column_stack([columns, rows]))
        brush = renderer.new_gc()
        for row, column, (x, y) in zip(rows, columns, places, strict=True):
            pixels = lettered(f"{self.values[row, column]:.0f}", INK if self.pale[row, column] else PAPER, SMALL_PT, False, renderer.dpi)
            height, width = pixels.shape[:2]
            renderer.draw_image(brush, round(x - width / 2), round(y - height / 2), pixels[::-1])
        brush.restore()
        self.stale = False


DRAWN = {Line: _LineArtist, Band: _BandArtist, Words: _WordsArtist, Cells: _CellsArtist}


def looks_of(pen):
    """A pen's looks as arguments of a line."""
    looks = {"color": pen.colour, "linestyle": pen.line, "linewidth": pen.width, "marker": pen.marker, "markersize": pen.size,
             "markerfacecolor": pen.face, "markeredgecolor": pen.edge, "markeredgewidth": pen.stroke,
             "solid_capstyle": pen.cap, "solid_joinstyle": pen.join}  # fmt: skip
    return {name: value for name, value in looks.items() if value is not None}


PAD_PX = 2
ALIGN = {"left": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0, "middle": 0.5, "top": 0.0}
BACKING = 0.85  # how much of what lies behind a backed word is hidden


class Lettering(Artist):
    """A line of text at (x, y) of a transform; `across` says which end of it lies there, `up` which edge."""

    def __init__(self, transform, text="", at=(0.0, 0.0), across="left", up="middle", colour=INK, size_pt=SMALL_PT, backed=False, zorder=5):
        super().__init__()
        self.set_transform(transform)
        self.set_zorder(zorder)
        self.text, self.at, self.across, self.up = text, at, across, up
        self.looks = (colour, size_pt, backed)

    def say(self, text=None, at=None, across=None):
        """Change words, place or side; what is not given stays."""
        self.text = self.text if text is None else text
        self.at = self.at if at is None else at
        self.across = self.across if across is None else across
        self.stale = True

    def draw(self, renderer):
        """Copy the drawn words to their place."""
        if not (self.text and self.get_visible()):
            return
        pixels = lettered(self.text, *self.looks, renderer.dpi)
        x, y = self.get_transform().transform(self.at)
        height, width = pixels.shape[:2]
        brush = renderer.new_gc()
        renderer.draw_image(brush, round(x - ALIGN[self.across] * width), round(y - (1 - ALIGN[self.up]) * height), pixels[::-1])
        brush.restore()
        self.stale = False


@lru_cache(maxsize=512)
def lettered(text, colour, size_pt, backed, dpi):
    """Pixels of a text [rows, columns, 4], top row first."""
    letters = FontProperties(size=size_pt)
    measure = RendererAgg(1, 1, dpi)
    width, height, below = measure.get_text_width_height_descent(text, letters, False)
    _, line, line_below = measure.get_text_width_height_descent("Åg", letters, False)  # one height for all lines of a size
    below, height = max(below, line_below), max(height - below, line - line_below) + max(below, line_below)
    paper = RendererAgg(int(width) + 2 * PAD_PX + 1, int(height) + 2 * PAD_PX + 1, dpi)
    brush = paper.new_gc()
    brush.set_foreground(to_rgb(colour))
    paper.draw_text(brush, PAD_PX, int(height - below) + PAD_PX, text, letters, 0.0)
    pixels = np.array(paper.buffer_rgba())
    if not backed:
        return pixels
    cover = pixels[:, :, 3:] / 255.0  # letters over a nearly opaque white ground
    ground = BACKING * (1 - cover)
    colours = (pixels[:, :, :3] * cover + 255.0 * ground) / (cover + ground)
    return np.concatenate([colours, 255.0 * (cover + ground)], axis=2).round().astype(np.uint8)


def width_px(words):
    """Width of some words on the picture."""
    return lettered(words, INK, SMALL_PT, False, DPI).shape[1]


def widened(values, least):
    """Values that reach at least so far, about their middle."""
    low, high = values.min(), values.max()
    return (low + high) / 2 + (values - (low + high) / 2) * max(1.0, least / (high - low))


def decimated(x, y, begin, end, columns):
    """At most two points for each column of pixels, its least and its most in the order they come, so that no spike is lost."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    if len(x) <= 2 * columns:
        return x, y
    column = np.clip((x - begin) / (end - begin) * columns, 0, columns - 1).astype(int)
    first = np.flatnonzero(np.diff(column, prepend=-1))
    last = np.append(first[1:], len(x)) - 1
    ends = np.stack([np.fmin.reduceat(y, first), np.fmax.reduceat(y, first)], axis=1)
    falls = y[first] > y[last]
    ends[falls] = ends[falls, ::-1]
    return np.stack([x[first], x[last]], axis=1).ravel(), ends.ravel()


def spread(places, apart):
    """The places moved as little as needed to lie so far apart, in their order; NaN stays.

    >>> spread([10.0, 12.0, 40.0], 6.0)
    [8.0, 14.0, 40.0]
    """
    known = sorted((place, number) for number, place in enumerate(places) if np.isfinite(place))
    groups = []  # [centre, members]: what lies too close stands side by side about its common middle
    for place, number in known:
        groups.append([place, [number]])
        while len(groups) > 1 and groups[-1][0] - groups[-2][0] < apart * (len(groups[-1][1]) + len(groups[-2][1])) / 2:
            (late, later), (early, earlier) = groups.pop(), groups.pop()
            both = earlier + later
            groups.append([(early * len(earlier) + late * len(later)) / len(both), both])
    moved = list(places)
    for centre, members in groups:
        for rank, number in enumerate(members):
            moved[number] = centre + apart * (rank - (len(members) - 1) / 2)
    return moved
