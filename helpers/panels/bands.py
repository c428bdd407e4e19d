"""Bands across a chart that move with the sliders: rectangles from low to high, over the full height or width of the axes.

matplotlib's own spans are rectangles only since its release 3.9, and polygons before: there `set(x=..., width=...)` is refused.
"""

from matplotlib.patches import Rectangle

__all__ = ["lying_band", "upright_band"]


def upright_band(axes, low=0.0, high=0.0, **style):
    """A band from low to high on the x axis; moved with `set(x=..., width=...)`."""
    return axes.add_patch(Rectangle((low, 0), high - low, 1, transform=axes.get_xaxis_transform(), **style))


def lying_band(axes, low=0.0, high=0.0, **style):
    """A band from low to high on the y axis; moved with `set(y=..., height=...)`."""
    return axes.add_patch(Rectangle((0, low), 1, high - low, transform=axes.get_yaxis_transform(), **style))
