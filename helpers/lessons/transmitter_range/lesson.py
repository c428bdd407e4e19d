"""Lesson 03's page: one transmitter's range, its errors, and the site it is bought for."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from helpers.lessons.page import LessonParts
from helpers.plots.charts import figure
from helpers.plots.markup import Verdict
from helpers.plots.picture import PANEL_PX, Picture
from helpers.plots.plot import Axes, Axis, Band, Entry, Line, Plot, Words, bar, level
from helpers.plots.style import GRID, INK, MUTED, ROLES, SERIES, WARNING, WINDOW, Fill, Pen
from helpers.studies.report import fine, limit_text
from helpers.studies.signals.plates import end_text, plate_text
from helpers.studies.signals.range_choice import LEAST_SET_POINT_PERCENT, MOST_SET_POINT_PERCENT
from helpers.studies.signals.range_fit import OF_READING, OF_SPAN, ROOT, SUM, RangeFit
from helpers.studies.signals.steady_loop import LARKFIELD, QUAYSIDE
from helpers.units.said import unit_of, with_unit
from helpers.widgets.controls import Choice
from helpers.widgets.panel import Panel, Task
from helpers.widgets.sliders import Count, Slider

SITES = {"Larkfield House: stair": LARKFIELD, "Quayside Lab: relief fan": QUAYSIDE}
PER_CENT_OF = {"span": OF_SPAN, "reading": OF_READING}
ADDED = {"plain": SUM, "squares": ROOT}  # the panel judges doors, a limit that protects life: it opens with the plain sum
TOPS = 46  # points of the error's curve


@dataclass(frozen=True)
class _SiteRoom:
    """What sliders and axes of a site can show [Pa]: (low, high, at first) of three sliders, and the room of the axes."""

    top: tuple
    bottom: tuple
    set_point: tuple
    pressures: tuple
    errors: tuple

    @property
    def own(self):
        """The site's own range."""
        return self.bottom[2], self.top[2]


PLACES = {
    LARKFIELD: _SiteRoom((30.0, 500.0, 125.0), (-125.0, 0.0, 0.0), (20.0, 70.0, 40.0), (-50.0, 150.0), (0.0, 9.0)),
    QUAYSIDE: _SiteRoom((10.0, 100.0, 25.0), (-100.0, 0.0, -25.0), (1.0, 12.0, 5.0), (-45.0, 40.0), (0.0, 2.5)),
}
LIMITED = {"high_pa": "top", "low_pa": "bottom", "set_point_pa": "set_point"}


@cache
def panel():
    """The panel, one in a notebook."""
    first = PLACES[LARKFIELD]
    controls = {
        "site": Choice("Site, in winter", SITES),
        "high_pa": Slider("Top", "pressure", *first.top[:2], 5.0, first.top[2]),
        "low_pa": Slider("Bottom", "pressure", *first.bottom[:2], 5.0, first.bottom[2]),
        "set_point_pa": Slider("Set point", "pressure", *first.set_point[:2], 1.0, first.set_point[2]),
        "accuracy_percent": Slider("Accuracy", "percent", 0.25, 3.0, 0.25, 1.0),
        "of": Choice("Per cent of", PER_CENT_OF),
        "adding": Choice("Errors added", ADDED),
        "drift_percent": Slider("Zero drift", "percent", 0.0, 2.0, 0.1, 0.5),
        "bits": Count("A/D converter, bits", 6, 16, 12),
    }

    def prepare(moved):
        """Another site brings its own range."""
        if moved == "site":
            place = PLACES[controls["site"].value]
            for name, limits in LIMITED.items():
                controls[name].limit(*getattr(place, limits))

    groups = {"The range": ("high_pa", "low_pa"), "Its errors": ("accuracy_percent", ("of", "adding")), "The job": ("site", "set_point_pa")}
    return Panel(controls, Picture(**PANEL_PX), _answer, prepare, groups=groups, read=READ, tasks=TASKS)


def _answer(**chosen):
    fit = RangeFit(**chosen)
    return Verdict(fit.state, fit.says(), fit.headline(), fit.tiles(), do=fit.to_do(), also=fit.building_fails()), fit_chart(fit)


READ = (
    "Left: the bars are ranges, yours above, the site's own below. The blue band is the pressure window of lesson 01, the black line "
    "the set point, the orange bar on it the error. The bottom row is what is really there in winter, with the stair's air as its "
    "file has it and in the first minute, as warm as the rooms: a range has to cover both. The green piece lies between the "
    "transmitters' readings while the loop holds; peak is the highest reading before the loop has answered, lowest the lowest.\n"
    "A supply fan blows in: its peak comes when the doors have just shut and it still runs at full speed, its lowest with it at rest. A "
    "relief fan draws out: its peak comes at its lowest speed, its lowest at full speed. A red cross is a pressure that your range does "
    "not reach: it shows as the end of the range. With a supply fan at rest the loop can do without it, but reversed tubes stay hidden; "
    "anywhere else the loop needs it.\n"
    f"The set point is to lie between {LEAST_SET_POINT_PERCENT:.0f} and {MOST_SET_POINT_PERCENT:.0f} % of the span (common practice, no "
    "source): lower, the errors are large beside it; higher, a peak has no room.\n"
    "The headline judges the range. What fails in the first minute with any range stands under it: set point, closers or building have to "
    "mend that, page 12; as long as it is so, no range is PASS.\n"
    "Right: the error for every top that you could choose; dashed, a tenth of the window (all that we would give away; common "
    "practice). Where it is hatched, the range ends before the peak."
)
TASKS = (
    Task(f"Drag Top up to {end_text(500.0)}. Watch the orange bar, then the door figures. Who pays for the wide range?",
         {"high_pa": 500.0}),
    Task("Drag it down again, slowly, below the peak. The error gets better and better. What else happens?", {"high_pa": 70.0}),
    Task(f"Top {end_text(50.0)}: the loop holds something else than it shows. By how much?", {"high_pa": 50.0}),
    Task(f"Leave it there. Set point up from {with_unit(40.0, 'pressure')} to {with_unit(46.0, 'pressure')}: what becomes of the doors?",
         {"high_pa": 50.0, "set_point_pa": 46.0}),
    Task("Back. Errors added: squares; then Per cent of: reading. Which error matters here? Try A/D converter, bits down to 6.",
         {"adding": ROOT}),
    Task("For later, when the page has asked you about Quayside Lab: choose it, Bottom up to 0. The error is halved. What has it cost?",
         {"site": QUAYSIDE, "low_pa": 0.0}),
)  # fmt: skip


SPLIT, BAR = 0.60, 0.42  # of the picture's width: ranges, then errors; of a row
YOURS, OWN, THERE = 0, 1, 2  # rows, from the top
SEEN, HELD = ROLES["now"].colour, SERIES[2].colour
ERROR = Fill("#f0b58f", ROLES["alternative"].colour, width=1.5)
LEGEND = (
    Entry("a reading, seen", sign="●", colour=SEEN, still=True, at_px=0),
    Entry("beyond the range", sign="✕", colour=WARNING, still=True, at_px=166),
    Entry("while the loop holds", sign="▬", colour=HELD, still=True, at_px=352),
    Entry("pressure window", sign="▇", colour=WINDOW, still=True, at_px=548),
)


def fit_chart(fit):
    """A range over the pressures that it must measure, a cross at what lies beyond it, and beside it what its error is for every top of the
    range. Returns `Plot`."""
    place = PLACES[fit.site]
    tops = np.linspace(max(fit.low_pa + 1.0, place.top[0] / 2), place.top[1], TOPS)
    errors, held = np.asarray(fit.errors_pa(tops), float), np.asarray(fit.held_pa, float)
    measured = np.array([fit.trough_pa, *held, fit.peak_pa])
    seen, peak = (measured >= fit.low_pa) & (measured <= fit.high_pa), max(fit.peak_pa, 0.0)
    title, more = "The range and its job", "Error by top of range"
    ranges = (
        Band(fit.window_pa, 0.0, 1.0, Fill(WINDOW), "window", 0, "x", still=True),
        *(level(end, "x", Pen(MUTED, width=1.0), order=1, still=True) for end in fit.window_pa),
        bar(OWN, *place.own, BAR, Fill(GRID, MUTED, width=1.0), still=True),
        bar(YOURS, fit.low_pa, fit.high_pa, BAR, Fill(SEEN)),
        Band((fit.set_point_pa - fit.error_pa, fit.set_point_pa + fit.error_pa), 0.0, 1.0, ERROR, "error", 3, "x"),
        level(fit.set_point_pa, "x", Pen(INK, width=1.8), "set point", 4),
        Words(f"set point ± {with_unit(fit.error_pa, 'pressure', (1, 3))}", fit.set_point_pa, 1.01, "center", "bottom", over="x"),
        Line((fit.trough_pa, fit.peak_pa), (THERE, THERE), Pen(MUTED, (0, (3, 2)), 1.6)),
        Line((held.min(), held.max()), (THERE, THERE), Pen(HELD, width=5.0, cap="butt"), "held"),
        Line(measured[seen], np.full(seen.sum(), THERE), Pen(SEEN, "", marker="o", size=9.0), "seen", 5),
        Line(measured[~seen], np.full((~seen).sum(), THERE), Pen(WARNING, "", marker="x", size=12.0, stroke=3.0), "unseen", 5),
        Words("lowest", fit.trough_pa, THERE - 0.2, "center", "bottom"),
        Words("peak", fit.peak_pa, THERE - 0.2, "center", "bottom"),
    )  # fmt: skip
    most = {"colour": WARNING, "over": "y", "backed": True}
    tops_and_errors = (
        Band((0.0, peak), 0.0, 1.0, Fill(GRID, MUTED, "//"), "blind", 0, "x"),
        Words("hatched: peak not seen", 0.0, 1.01, "left", "bottom", MUTED, over="x"),
        level(fit.tenth_pa, "y", ROLES["limit"], "a tenth", 2),
        Words("a tenth of the window", 0.02, fit.tenth_pa, up="bottom", **most),
        Line(tops, errors, ROLES["now"].but(marker=""), "error", 3),
        Line((fit.high_pa,), (fit.error_pa,), Pen(SEEN, "", marker="o", size=11.0), "now"),
    )
    rows = Axis(ends=(2.55, -0.55), ticks=((YOURS, OWN, THERE), ("your range", "the site's own", "what is there")), pad=8.0, grid=False)
    axes = (
        Axes(Axis("Pressure", "pressure", place.pressures), rows, ranges, title, (134, 24, 88, 56), (0.0, 0.0, SPLIT, 1.0)),
        Axes(Axis("Top of range", "pressure", (0.0, tops[-1])), Axis("± error", "pressure", place.errors), tops_and_errors, more,
             (70, 16, 88, 56), (SPLIT, 0.0, 1 - SPLIT, 1.0)),
    )  # fmt: skip
    least, top = (limit_text(value, "pressure", end) for value, end in zip(fit.window_pa, ("least", "most"), strict=True))
    low, high, point, *ends = (
        figure(value, "pressure")
        for value in (fit.low_pa, fit.high_pa, fit.set_point_pa, held.min(), held.max(), fit.trough_pa, fit.peak_pa)
    )
    error, last = (figure(value, "pressure", ".2g") for value in (fit.error_pa, errors[-1]))
    unit = unit_of("pressure")
    told = (
        f"The range, {low} to {high} {unit}, over its job: window {least} to {top}, set point {point} with an error of {error}; readings "
        f"held {ends[0]} to {ends[1]}, lowest {ends[2]}, highest {ends[3]}. The error grows with the top of the range, to {last} {unit} at "
        f"{figure(tops[-1], 'pressure')}."
    )
    return Plot("fit", title, axes, told, legend=LEGEND, sample_px=16, height_px=400, system="")


WIDE_PA = 500.0  # for the card


def _lines():
    own = RangeFit()
    wide, root = RangeFit(high_pa=WIDE_PA), RangeFit(adding=ROOT)
    blind = RangeFit(site=QUAYSIDE, low_pa=0.0, high_pa=25.0, set_point_pa=5.0)
    error, most, by_root = (fine(fit.error_pa) for fit in (own, wide, root))
    peak, shown, true = (with_unit(value, "pressure", *digits) for value, *digits in (
        (own.peak_pa,), (blind.held.shown_pa, _digit()), (blind.held.true_pa, _digit())))  # fmt: skip
    ranges = [plate_text(0.0, top) for top in (own.high_pa, WIDE_PA)]
    return (
        f"{own.site}: {ranges[0]}. Its error at the set point is ±{error}, with {ranges[1]} ±{most}: span is paid for all the time.",
        f"It must reach the peak, {peak} {own.peak_when}, the stair as warm as the rooms (the record takes the speed "
        "that its open doors ask for); "
        f"the set point between {LEAST_SET_POINT_PERCENT:.0f} and {MOST_SET_POINT_PERCENT:.0f} % of the span (common practice).",
        f"Beyond an end the loop is blind and holds something else: {blind.site} with a range from zero shows {shown} where {true} is.",
        f"Errors by root of squares ±{by_root}, by plain sum ±{error}. State which; the sum for a limit that protects life, as here.",
        "Steady air and the worst weather of the site file: no gusts, no bang of a slammed door. Drift is from the last zero check on.",
    )


def _digit():
    return (1, 3)


page = LessonParts("transmitter_range", _lines, ("step_of_converter", "converter_step"))
predict, compare, derivation, worked_example, exercises, senior_card = page.parts
