"""Doors of a forecast by storey: where each may stand in nine of ten buildings, against its window; beside them what was read, and what the
building behind a drawn day really shows."""

import numpy as np

from helpers.plots.charts import EXIT_MOST, MANY_STOREYS, figure, set_point_line, storey_edges, window_band
from helpers.plots.picture import PANEL_PX
from helpers.plots.plot import ROW_PX, Axes, Axis, Entry, Line, Plot, bar
from helpers.plots.style import INK, STATE_MARKS, Fill, Pen
from helpers.studies.measured.intervals import beside_window, nearer_pa, nearer_text, percent, window_text
from helpers.units.said import drawn, written_out

BAR = Fill("#eef4f9", INK, width=1.0)
READ = Pen(INK, "", marker="o", size=6.0, face="white", stroke=1.5)
TRUE = Pen("#8a4b00", "", marker="D", size=7.0, face="white", stroke=2.0)
SPREAD, STATES = "nine of ten buildings, all weathers", "● PASS   ▲ CHECK   ✖ FAIL, worst weather"


@drawn
def doors_by_storey(key, every, levels, set_point_pa, said=(SPREAD, STATES), read=None, true=None, *, system):
    """The stair doors by storey and under them the final exits.

    every: of `DoorForecast`; levels: of all storeys; said: entries of the legend for the bars and their marks; read: (what it is in the
    legend, pressure [Pa] by a door's words); true: likewise pressures [Pa], of the building behind a drawn day. Returns `Plot`.
    """
    doors, exits = ([one for one in every if one.use == use] for use in ("stair door", "final exit"))
    heights = np.arange(len(levels), dtype=float)
    place, edges = dict(zip(levels, heights, strict=True)), storey_edges(heights)
    window = np.full((2, len(heights)), np.nan)
    for one in doors:
        window[:, int(place[one.level])] = one.window_pa
    window = np.where(np.isfinite(window), window, np.nan)
    layers = [*window_band(*window, edges), *set_point_line(set_point_pa, *window)]
    layers += [bar(place[one.level], *one.reach_pa, 0.5, BAR, order=3, label=one.door) for one in doors]
    below = {one.door: edges[0] - 0.5 - row for row, one in enumerate(exits)}  # final exits have rows of their own, and their own most
    for one in exits:
        layers.append(bar(below[one.door], *one.reach_pa, 0.5, BAR, order=3, label=one.door))
        layers.append(Line([nearer_pa(one)[1]], [below[one.door]], EXIT_MOST, "its limit", 4))
    at = {one.door: place[one.level] for one in doors} | below
    for state in ("good", "attention", "wrong"):
        some = [one for one in (*doors, *exits) if one.state == state]
        marker, colour = STATE_MARKS[state]
        pen = Pen(colour, "", marker=marker, size=9.0 if len(heights) <= MANY_STOREYS else 5.0)
        layers.append(Line([one.pressures_pa[1] for one in some], [at[one.door] for one in some], pen, state, 5))
    entries = [Entry(said[0], sign="▭", colour=INK, still=True), Entry(said[1], still=True)]
    entries += [Entry("limit of a final exit", EXIT_MOST, still=True)] if exits else []
    told = [
        f"{one.door}: {beside_window(one.reach_pa, one.window_pa)}, {_limits(one)}, inside in {percent(one.probability)}"
        for one in (*sorted(doors, key=lambda one: one.level), *exits)
    ]
    for name, pen, beside in ((read and read[0], READ, _at(read and read[1], at)), ("the true building", TRUE, _at(true, at))):
        if beside:
            layers.append(Line(*zip(*beside, strict=True), pen, name, 6))
            entries.append(Entry(name, pen, still=True))
            told.append(f"{name}: {', '.join(figure(dp, 'pressure') for dp, _ in beside)}")
    x = Axis("Pressure across the stair door", "pressure", room=(set_point_pa,))
    named = [*(f"exit {one.level}" for one in exits), *levels]
    y = Axis("Storey", ends=(edges[0] - len(exits), edges[-1]), ticks=([*below.values(), *heights], named), apart_px=22, grid=False)
    margins = 92 if exits else 70, 30, 58 + ROW_PX * -(-len(entries) // 2), 30
    words = written_out("; ".join(told), system)
    return Plot(key, "", (Axes(x, y, tuple(layers), margins_px=margins),), words, legend=tuple(entries), columns=2,
                height_px=PANEL_PX["height_px"], system=system)  # fmt: skip


def _limits(one):
    """A stair door's window; of a final exit the limit that counts, the other is of a pressure inwards."""
    return nearer_text(one) if one.use == "final exit" else window_text(one.window_pa)


def _at(pressures, at):
    """(pressure, height) of pressures by a door's words; those of doors that are not drawn are left out."""
    return [(dp, at[door]) for door, dp in pressures.items() if door in at] if pressures else []
