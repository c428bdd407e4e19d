"""From drawn pixels to a PNG file in a few milliseconds, or to a small one in a few dozen.

A slider's picture is written once and thrown away, so speed counts: each row is stored as its difference from the row above, which for
plain drawings packs as well as the costly search for the best filter. Source of the format: ISO/IEC 15948:2004 (memory).
"""

import io
import struct
import zlib

import numpy as np
from PIL import Image

__all__ = ["SMALLEST_LEVEL", "quick_png", "small_png"]

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
