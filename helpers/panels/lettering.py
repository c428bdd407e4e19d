"""Words on a picture that move: drawn once as a small image, then only copied from place to place.

matplotlib lays out a text anew each time it is drawn, at two or three milliseconds each; ten of them would be most of a slider's time.
"""

from functools import lru_cache

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties

from helpers.panels.style import INK, SMALL_PT

__all__ = ["Words"]

PAD_PX = 2
ALIGN = {"left": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0, "middle": 0.5, "top": 0.0}
BACKING = 0.85  # how much of what lies behind a backed word is hidden


class Words(Artist):
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
        pixels = drawn(self.text, *self.looks, renderer.dpi)
        x, y = self.get_transform().transform(self.at)
        height, width = pixels.shape[:2]
        brush = renderer.new_gc()
        renderer.draw_image(brush, round(x - ALIGN[self.across] * width), round(y - (1 - ALIGN[self.up]) * height), pixels[::-1])
        brush.restore()
        self.stale = False


@lru_cache(maxsize=512)
def drawn(text, colour, size_pt, backed, dpi):
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
