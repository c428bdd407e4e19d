"""Lesson 01's page: one door, one code, one weather, and as many storeys as you like."""

from dataclasses import replace
from functools import cache

import numpy as np

from helpers.lessons.page import LessonParts, cooling_of
from helpers.plots.charts import figure
from helpers.plots.headline import headed
from helpers.plots.markup import Verdict, html_table
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axes, Axis, Band, Entry, Line, Plot, Words, level, round_ends
from helpers.plots.style import MUTED, SERIES, WARNING, WINDOW, Fill, Pen, limit_pen
from helpers.studies.doors.stair_window import FORCE_RULES, LEAST_RULES, ROOM_C, SPARE_PA, SimpleStair, smoke_pushes
from helpers.studies.report import apart, inside_text, limit_text
from helpers.studies.status import SPARE_PA as ONE_END_PA
from helpers.units.said import drawn, unit_of, with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Reading, Task
from helpers.widgets.sliders import Count, Slider

# What the axes hold anyway, so that they stand still while a slider moves [Pa, N, m].
ROOM_PA, ROOM_N, ROOM_M = 100.0, 180.0, 45.0
MOST_STOREYS = 40


@cache
def panel():
    """The panel, one in a notebook: shown again it is the same one, with the sliders where they were left."""
    stair = SimpleStair(outdoor_c=ROOM_C)  # no stack effect yet: what the cold does was just asked
    controls = {
        "closer_n": Slider("Door closer", "force", 20.0, 120.0, 1.0, stair.closer_n),
        "width_m": Slider("Width of leaf", "length", 0.70, 1.30, 0.01, stair.width_m),
        "handle_m": Slider("Handle to edge", "length", 0.0, 0.20, 0.01, stair.handle_m),
        "force_limit_n": Choice("Force allowed", FORCE_RULES, stair.force_limit_n),
        "least_pa": Choice("Sprinklers, code", LEAST_RULES, stair.least_pa),
        "outdoor_c": Slider("Outdoors", "temperature", -30.0, 40.0, 1.0, stair.outdoor_c),
        "storeys": Count("Storeys", 2, MOST_STOREYS, stair.storeys),
    }
    groups = {"The door": ("closer_n", "width_m"), "The code": ("force_limit_n", "least_pa"), "The weather": ("outdoor_c", "storeys")}
    return Panel(controls, Picture(**PANEL_PX), _answer, groups=groups, read=READ, left_out=LEFT_OUT, tasks=TASKS)


READ = (
    "Both halves have the same height: each dot is one stair door, the lowest at the bottom. Left: how much pressure is across it; "
    "the pale band is the window, from least to most. Right: the force that opens that door; closer is the part that has nothing to do "
    "with air, limit is what the code allows. A cross marks a door that needs more than that. One dot is always on the line least: that "
    "door has the lowest pressure, and the fan is set by it. So above least nothing is to spare, whatever is left below most: what wind "
    f"and errors take has to be added. What it says to do keeps {with_unit(ONE_END_PA, 'pressure')} free for that at each end, "
    f"{with_unit(SPARE_PA, 'pressure')} of the window: a lighter closer, fewer storeys "
    "than the bare sum of the forces, and than the tile's reach.\n"
    "Sprinklers, code chooses the lower end: with sprinklers, or none and then by the height of the ceiling (9, 15 and 21 ft are 2.7, "
    "4.6 and 6.4 m), or the flat figure of the European standard. Force allowed chooses the upper end's figure: the US force for "
    "setting the leaf moving, the European one, or the US force for freeing the latch, which is not meant for a leaf with a fan behind "
    "it."
)
LEFT_OUT = "final exits, open doors, walls, fan, how far a supply point reaches: pages 02 and 12"
COLD = with_unit(SimpleStair().outdoor_c, "temperature")
TASKS = (
    Task(f"Outdoors {COLD}: FAIL. Move Storeys down until the last cross is gone. How many does the window reach over?",
         {"outdoor_c": SimpleStair().outdoor_c}),
    Task(f"Move only Door closer. Which end of the window moves, which does not? How much does each {with_unit(10.0, 'force')} cost?",
         {"closer_n": 90.0}),
    Task("Outdoors down, then up. When do the dots line up vertically? In summer: which has the lowest pressure, which the highest force?",
         {"outdoor_c": 35.0}),
    Task("Choose sprinklers. Which end moves? Why does putting out the fire early make the stair's fan smaller?",
         {"least_pa": LEAST_RULES["sprinklers"]}),
    Task("Choose the force and the pressure of EN 12101-6, both: FAIL. Is there a window? What would have to change on the door?",
         {"force_limit_n": FORCE_RULES["100 N (22 lbf), EN 12101"], "least_pa": LEAST_RULES["EN 12101-6"]}),
)  # fmt: skip


def _answer(**chosen):
    stair = SimpleStair(**chosen)
    return Verdict(stair.status, stair.says(), stair.headline(), stair.tiles(), stair.case, stair.to_do()), chart(stair)


SPLIT = 0.55  # of the picture's width: pressures, then forces
AIR = 0.04  # over the highest door and under the lowest, as a share of the height
LEGEND = (
    Entry("a stair door", sign="●", colour=SERIES[0].colour, still=True, at_px=0),
    Entry("takes more than the limit", sign="✕", colour=WARNING, still=True, at_px=170),
    Entry("window: smoke stays out, people get out", sign="▇", colour=WINDOW, still=True, at_px=420),
)


@drawn
def chart(stair, *, system):
    """The doors from the lowest to the highest: pressure across each against its window, and beside it the force at each handle; a cross
    marks a door that takes more than the limit. Returns `Plot`."""
    heights, pressures, forces = (np.asarray(values, float) for values in (stair.heights_m, stair.door_pa, stair.force_n))
    high = round_ends([ROOM_M, *heights], "length", system)[1]
    up = Axis("Height above the lowest door", "length", (-AIR * high, high))
    out, crosses = forces > stair.force_limit_n, Pen(WARNING, "", marker="x", size=11.0, stroke=3.0)
    left, right = (
        (Line(values, heights, SERIES[0]), Line(values[out], heights[out], crosses, "over the limit", 5)) for values in (pressures, forces)
    )
    band = Band((stair.least_pa, max(stair.most_pa, stair.least_pa)), 0.0, 1.0, Fill(WINDOW, WINDOW, width=1.0), "window", over="x")
    most, limit = max(stair.most_pa, 0.0), limit_pen("most force", 1.8)
    left = (band, *_ends(("least", stair.least_pa, limit_pen("least", 1.6)), ("most", most, limit_pen("most", 1.6))), *left)
    right = (*_ends(("closer", stair.closer_n, Pen(MUTED, (0, (1, 1.5)), 1.8)), ("limit", stair.force_limit_n, limit)), *right)
    across, force = Axis("Across the stair door", "pressure", room=(ROOM_PA, stair.most_pa)), Axis("Force", "force", room=(ROOM_N,))
    title = "The window and the stair"
    axes = (
        Axes(across, up, left, title, (76, 44, 85, 56), (0.0, 0.0, SPLIT, 1.0)),
        Axes(force, replace(up, label="", numbers=False), right, "Force at the handle", (20, 44, 85, 56), (SPLIT, 0.0, 1 - SPLIT, 1.0)),
    )
    n = unit_of("force")
    ends = [apart((value, stair.least_pa), "pressure", "least")[0] for value in (pressures[0], pressures[-1])]
    window = [limit_text(value, "pressure", end) for value, end in ((stair.least_pa, "least"), (stair.most_pa, "most"))]
    at = [figure(value, "force") for value in (forces[0], forces[-1], stair.closer_n, stair.force_limit_n)]
    told = (
        f"{title}: window {' to '.join(window)}. {len(heights)} doors, {ends[0]} across the lowest and {ends[1]} across the "
        f"highest; {at[0]} and {at[1]} {n} at their handles, closer {at[2]}, limit {at[3]}; {int(out.sum())} over the limit."
    )
    return Plot("window", title, axes, told, legend=LEGEND, sample_px=16, height_px=470, system=system)


def _ends(low, high):
    """Two upright lines (word, value, pen) and their words, which stand outside of the two, whichever is the lower."""
    crossed = low[1] > high[1]
    for (word, value, pen), left in ((low, not crossed), (high, crossed)):
        yield level(value, "x", pen, word, 2)
        yield Words(word, value, 1.01, "right" if left else "left", "bottom", pen.colour, over="x")


HEAVIER_N, SUMMER_C = 10.0, 35.0  # for the card


def least_pressures():
    """Where the lower end of the window comes from."""
    return Reading(_least)


def _least():
    head = ("Ceiling", "The smoke pushes with", "With the margin", "The table says")
    rows = [
        (
            with_unit(push.ceiling_m, "length", 1),
            *(with_unit(value, "pressure", (1, 3)) for value in (push.push_pa, push.least_pa)),
            with_unit(push.table_pa, "pressure"),
        )
        for push in smoke_pushes()
    ]
    flat = {"with sprinklers, NFPA 92": "sprinklers", "any, EN 12101-6": "EN 12101-6"}
    rows += [(words, "", "", with_unit(LEAST_RULES[rule], "pressure", (1, 3))) for words, rule in flat.items()]
    told = "\n".join(", ".join(f"{name} {value}" for name, value in zip(head, row, strict=True)) for row in rows)
    low, sprinklers = rows[0], with_unit(LEAST_RULES["sprinklers"], "pressure", (1, 3))
    least = f"At least {low[-1]} with a ceiling of {low[0]}, {sprinklers} with sprinklers"
    first = Verdict("note", f"{least}.", least, do="Ask: the authority which row counts for this building")
    return headed(first, html_table(head, rows)), f"{first}\n{told}"


def _lines():
    stair = SimpleStair()
    window = inside_text(stair.least_pa, stair.most_pa)
    less = with_unit(stair.most_pa - stair.but(closer_n=stair.closer_n + HEAVIER_N).most_pa, "pressure")
    closer, limit, heavier = (with_unit(value, "force") for value in (stair.closer_n, stair.force_limit_n, HEAVIER_N))
    width, out = with_unit(stair.width_m, "length"), with_unit(stair.outdoor_c, "temperature")
    hot, summer = with_unit(SUMMER_C, "temperature"), stair.but(outdoor_c=SUMMER_C).most_storeys
    kept = [stair.but(outdoor_c=outdoor_c).kept_storeys for outdoor_c in (stair.outdoor_c, SUMMER_C)]
    spare = f"{with_unit(ONE_END_PA, 'pressure')} at each end"
    return (
        f"Leaf {width} wide, closer {closer}, limit {limit}, no sprinklers, ceiling 9 ft: {window} is the window.",
        f"The closer sets the upper end: {heavier} more costs {less}. A wider leaf costs more than its longer lever gives.",
        f"Stack effect at {out}, all of it on the doors: one supply reaches over {stair.most_storeys} storeys, at {hot} over {summer}; "
        f"with {spare} kept for wind and errors {kept[0]} and {kept[1]}.",
        f"Keep {spare}, or more. Shut windows and cool stair air ease this stair's winter; where lifts tie the floors "
        f"to each other cooling turns it over instead. {cooling_of().ends()}.",
        "Even pressure on the leaf; seals, latch and inertia come on top. Closers differ: every door is measured, fan off and fan on.",
    )


page = LessonParts("pressure_window", _lines, ("door_force", "door_of_the_table"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
