"""One picture, kept alive: what stands still is drawn once, what moves is drawn over it, and the page gets the whole as one image.

No pyplot: its hidden list of figures would pile them up, and it is not made for threads. What a picture shows are `Drawing`s, one for
each plot, in boxes beside each other; the same drawing serves a live panel, a stored page and a printed record.
A slider's picture is written once and thrown away, so speed counts: each row is stored as its difference from the row above, which for
plain drawings packs as well as the costly search for the best filter. Source of the format: ISO/IEC 15948:2004 (memory).
"""

import io
import struct
import zlib
from base64 import b64encode
from threading import RLock

import numpy as np
from ipywidgets import Image as ImageWidget
from ipywidgets import Layout
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from PIL import Image

from helpers.plots.drawing import Drawing, dress
from helpers.plots.style import DPI, PAPER

__all__ = ["SMALLEST_LEVEL", "Picture", "picture_of", "quick_png", "small_png"]

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
    few.putpalette(palette.tobytes())
    few.save(written, "png", compress_level=level)
    return written.getvalue()


def _chunk(kind, content):
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


WIDTH_PX = 940
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
