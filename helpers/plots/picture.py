"""One picture, kept alive: of each plot axes, legend and what stands still are drawn once, what moves wherever the data say, over it; and
the page gets the whole as one image.

No pyplot: its hidden list of figures would pile them up, and it is not made for threads. What a picture shows are `Drawing`s, one for
each plot, in boxes beside each other; the same drawing serves a live panel, a stored page and a printed record.
A slider's picture is written once and thrown away, so speed counts: each row is stored as its difference from the row above, which for
plain drawings packs as well as the costly search for the best filter. Source of the format: ISO/IEC 15948:2004 (memory).
"""

import io
import struct
import zlib
from base64 import b64encode
from functools import partial
from threading import RLock

import numpy as np
from ipywidgets import Image as ImageWidget
from ipywidgets import Layout
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.ticker import MaxNLocator
from PIL import Image

from helpers.plots.layers import DRAWN, Lettering, looks_of, spread, width_px
from helpers.plots.plot import ROUND, ROW_PX, Words, room_for
from helpers.plots.style import BODY_PT, DPI, GRID, INK, MUTED, PAPER, SMALL_PT, TITLE_PT

WHOLE = (0.0, 0.0, 1.0, 1.0)
HEIGHT_PX = 480
TITLE_PAD_PT, POINT_PX = 20, DPI / 72  # leaves a line for words over the axes
TICK_PX = 62  # between the numbers of an axis, so that they never touch
CROWDED_PX = 22  # of height for a labelled row; where rows are lower, points are small, so that they do not bury the lines
LANE_PX, APART_PX, RIGHT_STEP_PX = 18, 17, 30  # of a row of words over the axes; of words beside them; steps of the room for those
RIGHT_PX, ASIDE_PX = 10, 3  # from the axes to words beside them; moved further than that, a line leads to them
SIGN_PX, ALONE_PX = 24, 14  # room of a sign in a legend; how far over the edge a legend of a single row stands


class Drawing:
    """Draws plots in a box (left, bottom, width, height) given as shares of a picture; what moves goes through `picture.moving`."""

    height_px = HEIGHT_PX

    def __init__(self, box=WHOLE):
        self.box = box

    def frame(self, plot):
        """Whatever the still part depends on, as something that can be compared."""
        self.ends = [[_ends(axes, which, plot.system) for which in "xy"] for axes in plot.axes]
        axes = [
            (one.title, one.title_px, one.margins_px, one.box, one.x.frame(plot.system), one.y.frame(plot.system),
             [(type(layer), layer.frame()) for layer in one.layers])
            for one in plot.axes
        ]  # fmt: skip
        legend = [(entry.pen, entry.sign, entry.colour, entry.at_px, entry.text if entry.still else "") for entry in plot.legend]
        return plot.system, self.ends, axes, legend, plot.columns, plot.sample_px, right_px(plot.axes)

    def draw(self, picture, plot):
        """Axes, legend, and what stands still; then what moves, not yet at its place."""
        right = right_px(plot.axes)
        self.places = [
            _PlacedAxes(picture, self.box, axes, ends, right, plot.system) for axes, ends in zip(plot.axes, self.ends, strict=True)
        ]
        self.entries = _legend(picture, self.box, plot)

    def move(self, plot):
        """Put what moves where the data say."""
        for place, axes in zip(self.places, plot.axes, strict=True):
            place.move(axes)
        for words, entry in zip(self.entries, plot.legend, strict=True):
            if words is not None:
                words.say(entry.text)

    def tell(self, plot):
        """The plot in words, for those who do not see it."""
        return plot.words


def _share(values):
    return np.asarray(values, float)


def _ends(axes, which, system):
    """Ends of an axis in shown units."""
    axis = getattr(axes, which)
    if axis.ends is not None:
        return tuple(axis.shown(axis.ends, system).tolist())
    values = np.concatenate([np.ravel(np.asarray(layer.reach(which), float)) for layer in axes.layers] + [np.asarray(axis.room, float)])
    values = values[np.isfinite(values)]
    ends = axis.shown([values.min(), values.max()], system).tolist() if values.size else []
    if not axis.tight:
        return room_for(ends)
    low, high = ends or (0.0, 1.0)
    return low, high if high > low else low + 1.0


def right_px(many):
    """Room that the words at the right of axes need, in steps, so that a figure that moves does not move the axes."""
    said = (layer.text for axes in many for layer in axes.layers if isinstance(layer, Words) and layer.lane == "right")
    return RIGHT_STEP_PX * -(-(max(map(width_px, said), default=0) + 10 + RIGHT_PX) // RIGHT_STEP_PX)


class _PlacedAxes:
    """Axes on a picture, with what is drawn of each layer."""

    def __init__(self, picture, box, axes, ends, right, system):
        self.picture, self.declared, self.ends, self.system = picture, axes, ends, system
        west, east, *others = axes.margins_px
        self.margins_px = (west, right if east is None else east, *others)
        left, bottom, width, height = box
        inner = (left + axes.box[0] * width, bottom + axes.box[1] * height, axes.box[2] * width, axes.box[3] * height)
        labels = axes.x.text(system), axes.y.text(system), axes.title
        self.axes = picture.axes(inner, self.margins_px, *labels, pad=TITLE_PAD_PT + axes.title_px / POINT_PX)
        self.axes.set(xlim=ends[0], ylim=ends[1])
        self.size_px = self.axes.get_window_extent().size
        self.columns = int(self.size_px[0])
        self.shown = {which: partial(getattr(axes, which).shown, system=system) for which in "xy"}
        for which, along, end, axis in zip("xy", self.size_px, ends, (axes.x, axes.y), strict=True):
            self._axis(which, axis, along / abs(end[1] - end[0]))
        self.lanes = [getattr(layer, "lane", "") for layer in axes.layers]
        self.drawn = [DRAWN[type(layer)](self, layer) for layer in axes.layers]

    def _axis(self, which, axis, px):
        """px: of one unit."""
        axes, matplotlibs = self.axes, getattr(self.axes, f"{which}axis")
        if axis.ticks is not None:
            matplotlibs.set_ticks(*thinned(axis.shown(axis.ticks[0], self.system), axis.ticks[1], px, axis.apart_px))
        if axis.pad is not None:
            axes.tick_params(axis=which, length=0, pad=axis.pad)
        if not axis.grid:
            axes.grid(False, axis=which)
        if not axis.numbers:
            axes.tick_params(axis=which, **{"labelbottom" if which == "x" else "labelleft": False})
        if axis.label_px is not None:
            matplotlibs.set_label_coords(-axis.label_px / self.size_px[0], 0.5)

    @property
    def crowded(self):
        """Whether the rows of the upright axis lie close."""
        return self.declared.y.ticks is not None and self.size_px[1] < CROWDED_PX * len(self.declared.y.ticks[1])

    def scales(self, over):
        """What turns values of x and of y into the units shown; shares stay as they are."""
        return [self.shown[which] if which in over else _share for which in "xy"]

    def at(self, over):
        """Where coordinates are values or shares."""
        axes = self.axes
        return {"xy": axes.transData, "x": axes.get_xaxis_transform(), "y": axes.get_yaxis_transform(), "": axes.transAxes}[over]

    def limits(self, over="xy"):
        """(ends of x, ends of y) of what a layer is drawn over."""
        return [end if which in over else (0.0, 1.0) for which, end in zip("xy", self.ends, strict=True)]

    def move(self, axes):
        """All layers to their places; then words that must keep out of each other's way."""
        for drawn, layer in zip(self.drawn, axes.layers, strict=True):
            if not getattr(layer, "still", False):
                drawn.move(layer)
        if any(self.lanes):
            for lane, place_them in (("right", self._spread), ("rows", self._rows)):
                place_them([(one, layer) for one, layer, of in zip(self.drawn, axes.layers, self.lanes, strict=True) if of == lane])

    def _spread(self, words):
        """Words beside the axes, apart."""
        if words:
            (low, high), (wide, tall) = self.ends[1], self.size_px
            tall /= high - low
            for (drawn, layer), up in zip(words, spread([self.shown["y"](layer.y) * tall for _, layer in words], APART_PX), strict=True):
                value = float(self.shown["y"](layer.y))
                drawn.artist.say(layer.text if np.isfinite(value) else "", (1 + RIGHT_PX / wide, up / tall))
                drawn.lead([(1.0, value), (1 + (RIGHT_PX - 1) / wide, up / tall)] if abs(up - value * tall) > ASIDE_PX else [])

    def _rows(self, words):
        """Words over the axes: a row higher where the one before is in the way, to the left where the edge is near."""
        (begin, end), (wide, tall), right, taken = self.ends[0], self.size_px, self.margins_px[1], []
        for drawn, layer in sorted(words, key=lambda pair: pair[1].x):
            x = float(self.shown["x"](layer.x))
            at, size = (x - begin) / (end - begin) * wide, width_px(layer.text)
            side = "left" if at + size < wide + right - 4 else "right"
            left = at if side == "left" else at - size
            row = next((row for row, reach in enumerate(taken) if reach + 8 <= left), len(taken))
            taken[row : row + 1] = [left + size]
            drawn.artist.say(layer.text, (x, 1 + (4 + LANE_PX * row) / tall), side)


def _legend(picture, box, plot):
    """Samples and words under the axes, column by column; returns the words that may change, None for the others."""
    left, bottom, width, _ = box
    wide, high, figure = picture.width_px, picture.height_px, picture.figure
    rows, made = -(-len(plot.legend) // plot.columns), []
    for number, entry in enumerate(plot.legend):
        column, row = divmod(number, rows) if entry.at_px is None else (0, rows - 1)
        x = left + (12 + (entry.at_px or 0.0)) / wide + column * width / plot.columns
        y = bottom + (ROW_PX * (rows - row) - 12 if entry.at_px is None else ALONE_PX) / high
        begin = x + (plot.sample_px + 8) / wide if entry.pen or entry.sign else x
        if entry.pen:
            figure.add_artist(Line2D([x, x + plot.sample_px / wide], [y, y], **looks_of(entry.pen), markevery=[1]))
        if entry.sign:
            at = x + max(0.0, plot.sample_px - SIGN_PX) / wide
            figure.text(
                at, y, entry.sign, va="center", size=BODY_PT, color=entry.colour, weight="bold" if entry.at_px is None else "normal"
            )
        if entry.still:
            figure.text(begin, y, entry.text, va="center", size=SMALL_PT, color=INK if entry.sign else entry.colour)
        else:
            words = Lettering(figure.transFigure, at=(begin, y))
        made.append(None if entry.still else picture.moving(figure.add_artist(words)))
    return made


def dress(axes, across="", up="", title="", pad=TITLE_PAD_PT):
    """Give axes their labels, a quiet grid and letters that can be read from the back of a room."""
    axes.set_xlabel(across, size=BODY_PT, color=INK)
    axes.set_ylabel(up, size=BODY_PT, color=INK)
    axes.set_title(title, size=TITLE_PT, color=INK, loc="left", weight="bold", pad=pad)
    axes.tick_params(labelsize=SMALL_PT, colors=INK)
    axes.grid(True, color=GRID, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.set_facecolor(PAPER)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(MUTED)
    wide, high = axes.get_window_extent().size / TICK_PX
    axes.xaxis.set_major_locator(MaxNLocator(max(2, int(wide)), steps=ROUND))
    axes.yaxis.set_major_locator(MaxNLocator(max(2, int(1.5 * high)), steps=ROUND))
    return axes


def thinned(places, labels, px, apart_px):
    """Places and labels of so many that two do not touch, px to one unit; those that say nothing are left out."""
    said = [place for place, label in enumerate(labels) if label]
    gap = min(np.abs(np.diff(np.asarray(places)[said])), default=1.0) * px
    chosen = said[:: max(1, int(np.ceil(apart_px / gap - 1e-9)))]
    return [places[place] for place in chosen], [labels[place] for place in chosen]


SIGNATURE = b"\x89PNG\r\n\x1a\n"
UP = 2  # the format's number for "difference from the row above"
COLOUR_AND_ALPHA = 6  # the format's number for four bytes a pixel; taking the fourth out costs more time than it saves
LEVEL, SMALL_LEVEL, SMALLEST_LEVEL = 1, 6, 9  # of 9: beyond 6, time grows much faster than the file shrinks
NEARLY_WHITE = 253
COLOURS = 128  # of a small picture: flat fills and soft letter edges


def quick_png(pixels):
    """PNG bytes of pixels [rows, columns, 4], unsigned bytes."""
    height, width = pixels.shape[:2]
    rows = pixels.reshape(height, -1)
    stored = np.empty((height, 1 + rows.shape[1]), np.uint8)
    stored[:, 0], stored[0, 1:] = UP, rows[0]
    np.subtract(rows[1:], rows[:-1], out=stored[1:, 1:])
    header = struct.pack(">2I5B", width, height, 8, COLOUR_AND_ALPHA, 0, 0, 0)
    return SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", zlib.compress(stored, LEVEL)) + _chunk(b"IEND", b"")


def small_png(pixels, level=SMALL_LEVEL):
    """PNG bytes of the same pixels with few colours and no alpha, for what is kept: notebooks and pages."""
    colours = Image.fromarray(np.ascontiguousarray(pixels[:, :, :3]))
    written = io.BytesIO()
    few = colours.quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    palette = np.array(few.getpalette(), np.uint8)
    palette[palette >= NEARLY_WHITE] = 255  # white stays white: the search for few colours dims it by a step
    few.putpalette(palette.tobytes()[: 3 * (few.getextrema()[1] + 1)])  # the colours in use: the rest would fill 0.4 kB of each picture
    few.save(written, "png", compress_level=level)
    return written.getvalue()


def _chunk(kind, content):
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


WIDTH_PX = 940
PANEL_PX = {"width_px": 796, "height_px": 400}  # one size for every panel's picture
SHARP = 2  # pixels of an exported picture for one of the page: it may be printed


class Picture:
    """A picture of some data, one drawing for each. Shown by itself it is still; `image` is the one that follows."""

    def __init__(self, *drawings, width_px=WIDTH_PX, height_px=None):
        self.drawings = drawings = drawings or (Drawing(),)
        self.width_px, self.height_px = width_px, height_px or max(drawing.height_px for drawing in drawings)
        self.figure = Figure(figsize=(self.width_px / DPI, self.height_px / DPI), dpi=DPI, facecolor=PAPER)
        self.canvas = FigureCanvasAgg(self.figure)
        self.words = ""
        self._lock, self._frame, self._moving, self._background, self._image = RLock(), None, [], None, None
        self._files, self._smaller = {}, None  # as last exported, and its pixels at the page's size: good until something moves

    def show(self, *data):
        """Draw these data, one for each drawing; returns the picture itself. What a failure leaves is the last good image."""
        with self._lock:
            pairs = list(zip(self.drawings, data, strict=True))
            frame = [drawing.frame(one) for drawing, one in pairs]
            if frame != self._frame:
                self._draw_frame(pairs)
                self._frame = frame
            for drawing, one in pairs:
                drawing.move(one)
            self.words = " ".join(drawing.tell(one) for drawing, one in pairs)
            self._files, self._smaller = {}, None
            if self._image is not None:
                self._image.value = quick_png(self._pixels())
        return self

    @property
    def image(self):
        """The widget that shows the picture and follows it; its size never changes, so the page never jumps."""
        with self._lock:
            if self._image is None:
                layout = Layout(width=f"{self.width_px}px", max_width="100%", height="auto", object_fit="contain")
                self._image = ImageWidget(value=quick_png(self._pixels()), format="png", layout=layout)
            return self._image

    def axes(self, box, margins_px, *labels, **looks):
        """New axes in a box, so many pixels (left, right, bottom, top) within its edges: letters do not shrink with the box."""
        left, bottom, width, height = box
        west, east, south, north = (px / side for px, side in zip(margins_px, [self.width_px] * 2 + [self.height_px] * 2, strict=True))
        inner = (left + west, bottom + south, width - west - east, height - south - north)
        return dress(self.figure.add_axes(inner), *labels, **looks)

    def moving(self, artist):
        """Mark an artist of matplotlib as one that moves; returns it."""
        artist.set_animated(True)
        self._moving = sorted([*self._moving, artist], key=lambda one: one.get_zorder())
        return artist

    def png(self, scale=SHARP):
        """The picture as a small PNG file, with so many pixels for one of the page; kept until something moves."""
        with self._lock:
            if scale not in self._files:
                if scale != 1:
                    pixels = self._scaled_pixels(scale)
                    self._smaller = np.asarray(Image.fromarray(pixels).reduce(scale))
                self._files[scale] = small_png(pixels) if scale != 1 else small_png(self._pixels(), SMALLEST_LEVEL)
            return self._files[scale]

    def source(self, scale=SHARP):
        """The same as the address of an image, with the file in it."""
        return f"data:image/png;base64,{b64encode(self.png(scale)).decode()}"

    def still(self):
        """(data, metadata) of the still picture by kind of content, as a notebook's output holds them."""
        size = {"width": self.width_px, "height": self.height_px}
        return {"image/png": self.png(scale=1), "text/plain": self.words}, {"image/png": {"alt": self.words, **size}}

    def _repr_mimebundle_(self, include=None, exclude=None):
        return self.still()

    def _draw_frame(self, pairs):
        self._frame, self._moving = None, []
        self.figure.clear()
        self._background = None
        for drawing, one in pairs:
            drawing.draw(self, one)
        for words in self.figure.findobj(Text):
            words.set_parse_math(False)  # a "$" in a name is a dollar, and no formula that may not be one

    def _scaled_pixels(self, scale):
        self.figure.set_dpi(DPI * scale)
        self._set_animated(False)
        try:
            self.canvas.draw()
            return np.array(self.canvas.buffer_rgba())
        finally:
            self._set_animated(True)
            self.figure.set_dpi(DPI)

    def _set_animated(self, animated):
        for artist in self._moving:
            artist.set_animated(animated)

    def _pixels(self):
        """The picture as it is now: what stands still as it was drawn once, and over it what moves.

        Where it has been drawn larger and not yet at this size, that, made smaller: drawing is what takes the time.
        """
        if self._background is None and self._smaller is not None:
            return self._smaller
        if self._background is None:
            self.canvas.draw()
            self._background = self.canvas.copy_from_bbox(self.figure.bbox)
        renderer = self.canvas.get_renderer()
        self.canvas.restore_region(self._background)
        for artist in self._moving:
            artist.draw(renderer)
        return np.asarray(self.canvas.buffer_rgba())


def picture_of(plot, **size):
    """A still picture of a plot; size: width_px, height_px of Picture."""
    return Picture(**{"height_px": plot.height_px} | size).show(plot)
