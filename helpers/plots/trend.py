"""What happens over time: a trend on one pair of axes or on two above each other, with its limits and the events that caused it."""

import numpy as np
from matplotlib.lines import Line2D

from helpers.plots.picture import WHOLE, WIDTH_PX, Drawing
from helpers.plots.profile import REFERENCE
from helpers.plots.style import DPI, INK, LIMITS, SMALL_PT, TITLE_PAD_PT, TITLE_PT, WINDOW, Words, drawn, lying_band, room_for, series

__all__ = ["TrendDrawing", "decimated"]

SHARES = {1: (1.0,), 2: (0.58, 0.42)}  # of the height, from the top
GAP_PX = 22  # between two axes
ROW_PX = 23  # of the key under the axes
LINE_PX, POINT_PX = 18, 96 / 72  # of a row of words over the axes
APART_PX = 17  # of two limits' words
RIGHT_STEP_PX = 30


class TrendDrawing(Drawing):
    """Draws a studies.plot_data.Trend. Curves, limits and events move; a new axis, label or number of them is a new frame."""

    height_px = 500
    left_px, below_px, top_px = 78, 62, 56

    def __init__(self, box=WHOLE, key_columns=2):
        """key_columns: of the key under the axes."""
        super().__init__(box)
        self.key_columns, self.picture_px = key_columns, WIDTH_PX

    def frame(self, data):
        """Redraw all when titles, numbers of things, kinds or the room needed change."""
        still = [(one.y_label, len(one.curves), tuple(limit.kind for limit in one.limits), room_up(one)) for one in data.axes]
        labels = labels_of(data)
        order = list(labels)
        looks = tuple((order.index(curve.label), curve.label != "") for one in data.axes for curve in one.curves)
        return (
            data.title,
            data.x_label,
            tuple(still),
            looks,
            tuple(labels.values()),
            across(data),
            len(data.events),
            self._height(data),
            right_px(data),
        )

    def draw(self, picture, data):
        """Axes above each other, then one moving artist for each curve, limit and event."""
        self.picture_px = picture.width_px
        labels = labels_of(data)
        named = [label for label in labels if label]
        self.looks = {}
        plain = iter(range(len(labels)))
        for label, kind in labels.items():
            self.looks[label] = REFERENCE if kind == "reference" else series(next(plain))
        self.axes = self._stacked(picture, data, -(-len(named) // self.key_columns))
        self.columns = int(self.axes[0].get_window_extent().width)
        self._limits(picture, data)
        self.lines = [[self._line(picture, axes, curve) for curve in one.curves] for axes, one in self._pairs(data)]
        self._events(picture, data)
        self._key(picture, data, named)

    def move(self, data):
        """Curves thinned to what a pixel can show, limits with their words apart, events with theirs over the axes."""
        begin, end = across(data)
        for lines, one in zip(self.lines, data.axes, strict=True):
            for line, curve in zip(lines, one.curves, strict=True):
                line.set_data(*decimated(curve.x, curve.y, begin, end, self.columns))
        for axes, one, limits, band in zip(self.axes, data.axes, self.limits, self.bands, strict=True):
            self._move_limits(axes, one, limits, band)
        for event, lines, words, (row, side) in zip(data.events, self.marks, self.event_words, self._rows(data), strict=True):
            for line in lines:
                line.set_xdata([event.x] * 2)
            up = 1 + (4 + LINE_PX * row) / self.axes[0].get_window_extent().height
            words.say(event.label, (event.x, up), side)
        for words, label in zip(self.key, [label for label in labels_of(data) if label], strict=True):
            words.say(label)

    def tell(self, data):
        """Title, ends of every curve, limits and events."""
        told = [f"{data.title} ({data.x_label})."]
        for one in data.axes:
            curves = [told_curve(curve) for curve in one.curves]
            limits = [limit.label for limit in one.limits if np.isfinite(limit.y)]
            told.append(f"{one.y_label}: {'; '.join(curves + limits)}.")
        events = [f"{event.label} at {event.x:.3g}" for event in data.events]
        return " ".join(told) + (f" Events: {'; '.join(events)}." if events else "")

    def _pairs(self, data):
        return zip(self.axes, data.axes, strict=True)

    def _stacked(self, picture, data, key_rows):
        """The axes, from the top; only the lowest has numbers and words under it."""
        rows = self._height(data)
        top, below = self.top_px + LINE_PX * (rows - 1), self.below_px + ROW_PX * key_rows
        high = self.box[3] * picture.height_px
        free = high - top - below - GAP_PX * (len(data.axes) - 1)
        made, upper = [], high - top
        for place, (one, share) in enumerate(zip(data.axes, SHARES[len(data.axes)], strict=True)):
            lower, last = upper - share * free, place == len(data.axes) - 1
            margins = (self.left_px, right_px(data), lower, high - upper)
            axes = picture.axes(self.box, margins, data.x_label if last else "", one.y_label)
            axes.set(xlim=across(data), ylim=room_up(one))
            axes.tick_params(axis="x", labelbottom=last)
            axes.yaxis.set_label_coords(-54 / axes.get_window_extent().width, 0.5)
            made.append(axes)
            upper = lower - GAP_PX
        pad = TITLE_PAD_PT + LINE_PX * (rows - 1) / POINT_PX
        made[0].set_title(data.title, size=TITLE_PT, color=INK, loc="left", weight="bold", pad=pad)
        return made

    def _line(self, picture, axes, curve):
        look = self.looks[curve.label]
        return picture.moving(axes.plot([], [], color=look.colour, linestyle=look.line, linewidth=2.0, zorder=4)[0])

    def _limits(self, picture, data):
        self.limits, self.bands = [], []
        for axes, one in self._pairs(data):
            kinds = {limit.kind for limit in one.limits}
            banded = {"least", "most"} <= kinds
            self.bands.append(picture.moving(lying_band(axes, color=WINDOW, linewidth=0, zorder=1)) if banded else None)
            made = []
            for limit in one.limits:
                colour, dashes = LIMITS[limit.kind]
                line = picture.moving(axes.axhline(0, color=colour, linestyle=dashes, linewidth=1.5, zorder=3))
                words = picture.moving(axes.add_artist(Words(axes.get_yaxis_transform(), colour=colour)))
                made.append((line, words))
            self.limits.append(made)

    def _move_limits(self, axes, one, limits, band):
        low, high = axes.get_ylim()
        tall = axes.get_window_extent().height / (high - low)
        places = spread([limit.y * tall for limit in one.limits], APART_PX)
        for limit, (line, words), place in zip(one.limits, limits, places, strict=True):
            line.set_ydata([limit.y] * 2)
            words.say(limit.label if np.isfinite(limit.y) else "", (1.01, place / tall))
        if band is not None:
            ends = {limit.kind: limit.y for limit in one.limits}
            least, most = (end if np.isfinite(end) else edge for end, edge in ((ends["least"], low), (ends["most"], high)))
            band.set(y=least, height=max(most - least, 0.0))

    def _events(self, picture, data):
        self.marks, self.event_words = [], []
        for _ in data.events:
            looks = {"color": INK, "linestyle": (0, (2, 2)), "linewidth": 1.2, "zorder": 2}
            self.marks.append([picture.moving(axes.axvline(0, **looks)) for axes in self.axes])
            words = Words(self.axes[0].get_xaxis_transform(), up="bottom")
            self.event_words.append(picture.moving(self.axes[0].add_artist(words)))

    def _height(self, data):
        """Rows of events' words over the axes: two where there are two events, so that one may pass the other without a new frame."""
        return max([min(len(data.events), 2), 1, *(row + 1 for row, _ in self._rows(data))])

    def _rows(self, data):
        """(row, side) of every event's words: a row higher where the one before is in the way, to the left where the edge is near."""
        begin, end = across(data)
        right = right_px(data)
        wide = self.box[2] * self.picture_px - self.left_px - right
        taken, found = [], [None] * len(data.events)
        for place in sorted(range(len(data.events)), key=lambda place: data.events[place].x):
            event = data.events[place]
            at, size = (event.x - begin) / (end - begin) * wide, width_px(event.label)
            side = "left" if at + size < wide + right - 4 else "right"
            left = at if side == "left" else at - size
            row = next((row for row, reach in enumerate(taken) if reach + 8 <= left), len(taken))
            taken[row : row + 1] = [left + size]
            found[place] = (row, side)
        return tuple(found)

    def _key(self, picture, data, named):
        self.key = []
        left, bottom, width, _ = self.box
        rows = -(-len(named) // self.key_columns)
        for place, label in enumerate(named):
            row, column = divmod(place, self.key_columns)
            x = left + 12 / picture.width_px + column * width / self.key_columns
            y = bottom + (ROW_PX * (rows - row) - 12) / picture.height_px
            look = self.looks[label]
            picture.figure.add_artist(Line2D([x, x + 40 / picture.width_px], [y, y], color=look.colour, linestyle=look.line, linewidth=2.0))
            words = Words(picture.figure.transFigure, label, (x + 48 / picture.width_px, y))
            self.key.append(picture.moving(picture.figure.add_artist(words)))


def labels_of(data):
    """Kinds of the curves by their labels, each label once, in the order of the axes."""
    return {curve.label: curve.kind for one in data.axes for curve in one.curves}


def across(data):
    """First and last time of all curves."""
    times = [curve.x for one in data.axes for curve in one.curves if len(curve.x)]
    begin, end = (min(float(x[0]) for x in times), max(float(x[-1]) for x in times)) if times else (0.0, 1.0)
    return begin, end if end > begin else begin + 1.0


def width_px(words):
    """Width of some words on the picture."""
    return drawn(words, INK, SMALL_PT, False, DPI).shape[1]


def right_px(data):
    """Room at the right for the limits' words, in steps, so that a figure that moves does not move the axes."""
    widest = max((width_px(limit.label) for one in data.axes for limit in one.limits), default=0)
    return RIGHT_STEP_PX * -(-(widest + 16) // RIGHT_STEP_PX)


def room_up(one):
    """Ends of the axis that holds curves, limits and the room asked for."""
    ends = [end(curve.y[np.isfinite(curve.y)]) for curve in one.curves for end in (np.min, np.max) if np.isfinite(curve.y).any()]
    return room_for([*ends, *(limit.y for limit in one.limits), *one.room])


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


def told_curve(curve):
    """A curve's ends in words."""
    known = curve.y[np.isfinite(curve.y)]
    name = curve.label or "curve"
    return f"{name} from {known.min():.3g} to {known.max():.3g}, {known[-1]:.3g} at the end" if known.size else f"{name} nowhere known"
