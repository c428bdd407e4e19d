"""Where the words of a picture lie, in its pixels: whether two lie on each other, or one runs over the edge."""

from itertools import combinations

import numpy as np
from matplotlib.text import Text

from helpers.plots.layers import ALIGN, PAD_PX, Lettering, lettered
from helpers.plots.style import DPI

LEAST_PX = 2.0  # what two boxes may share: letters do not fill theirs
DUST_PX = 1e-6  # names in a lane stand just so far apart
OVER_PX = 1.0  # past an edge
LEAST_LETTERS_PX = 10.0  # of a letter's size on the screen; ours


def words_of(picture):
    """(words, (left, low, right, high) [px]) of all that is written on a picture that was drawn."""
    renderer, figure, found = picture.canvas.get_renderer(), picture.figure, []
    figure.draw_without_rendering()
    ticks = {label: shown for axes in figure.axes for axis in (axes.xaxis, axes.yaxis) for label, shown in _ticks(axis)}
    for text in figure.findobj(Text):
        if text.get_text().strip() and text.get_visible() and ticks.get(text, True):
            found.append((text.get_text(), text.get_window_extent(renderer).extents))
    for one in figure.findobj(Lettering):
        if one.text and one.get_visible():
            height, width = lettered(one.text, *one.looks, DPI).shape[:2]
            x, y = one.get_transform().transform(one.at)
            left, low = x - ALIGN[one.across] * width, y - (1 - ALIGN[one.up]) * height  # as it is drawn: y from the foot
            found.append((one.text, np.array([left + PAD_PX, low + PAD_PX, left + width - PAD_PX, low + height - PAD_PX])))
    return found


def too_small(picture, shown_px):
    """Letters of a drawn picture that are smaller than LEAST_LETTERS_PX where it is shown so wide, a sentence each."""
    scale, figure = min(1.0, shown_px / picture.width_px), picture.figure
    said = {text.get_text(): text.get_size() for text in figure.findobj(Text) if text.get_text().strip() and text.get_visible()}
    said |= {one.text: one.looks[1] for one in figure.findobj(Lettering) if one.text and one.get_visible()}
    for words, size_pt in said.items():
        if (letters_px := size_pt * DPI / 72 * scale) < LEAST_LETTERS_PX:
            yield f"{words!r} is {letters_px:.1f} px high, {LEAST_LETTERS_PX:g} at the least"


def _ticks(axis):
    """(label, whether it is drawn): labels of ticks outside of the axis are there, and not drawn."""
    low, high = sorted(axis.get_view_interval())
    slack = 1e-6 * (high - low)
    for labels, places in ((axis.get_majorticklabels(), axis.get_majorticklocs()), (axis.get_minorticklabels(), axis.get_minorticklocs())):
        for label, place in zip(labels, places, strict=False):
            yield label, low - slack <= place <= high + slack
        for label in labels[len(places) :]:
            yield label, False


def faults(picture):
    """What is wrong with the words of a picture, a sentence each."""
    found, width, height = words_of(picture), picture.width_px, picture.height_px
    for words, (left, low, right, high) in found:
        if min(left, low) < -OVER_PX or right > width + OVER_PX or high > height + OVER_PX:
            yield f"{words!r} runs over the edge: {left:.0f}..{right:.0f} of {width}, {low:.0f}..{high:.0f} of {height}"
    for (words, one), (others, other) in combinations(found, 2):
        if (np.minimum(one[2:], other[2:]) - np.maximum(one[:2], other[:2]) > LEAST_PX + DUST_PX).all():
            yield f"{words!r} lies on {others!r}"
