"""Lesson 03, the transmitter's range: the parts of its page.

The panel of lesson 03: one transmitter's range, its errors, and the site it is bought for.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from helpers import units
from helpers.lessons.page import LessonParts
from helpers.plots.markup import Verdict
from helpers.plots.picture import Picture
from helpers.plots.range import FitChart, FitDrawing
from helpers.studies.report import fine, range_text
from helpers.studies.signals.range_choice import LEAST_SET_POINT_PERCENT, MOST_SET_POINT_PERCENT
from helpers.studies.signals.range_fit import OF_READING, OF_SPAN, ROOT, SUM, RangeFit
from helpers.studies.signals.steady_loop import LARKFIELD, QUAYSIDE
from helpers.widgets.controls import Choice, Count, Slider
from helpers.widgets.panel import Panel

__all__ = [
    "compare", "derivation", "exercises", "fit_chart", "panel", "predict", "range_panel", "senior_card", "together", "worked_example",
]  # fmt: skip

SITES = {"Larkfield House: stair": LARKFIELD, "Quayside Lab: relief fan": QUAYSIDE}
SHEETS = {
    "span, squares": (OF_SPAN, ROOT),
    "span, plain sum": (OF_SPAN, SUM),
    "reading, squares": (OF_READING, ROOT),
    "reading, plain sum": (OF_READING, SUM),
}
TOPS = 46  # points of the error's curve


@dataclass(frozen=True)
class _Place:
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
    LARKFIELD: _Place((30.0, 500.0, 125.0), (-125.0, 0.0, 0.0), (20.0, 70.0, 40.0), (-50.0, 150.0), (0.0, 9.0)),
    QUAYSIDE: _Place((10.0, 100.0, 25.0), (-100.0, 0.0, -25.0), (1.0, 12.0, 5.0), (-45.0, 40.0), (0.0, 2.5)),
}
LIMITED = {"high_pa": "top", "low_pa": "bottom", "set_point_pa": "set_point"}


@cache
def range_panel():
    """The panel, one in a notebook."""
    first = PLACES[LARKFIELD]
    controls = {
        "high_pa": Slider("Top", "pressure", *first.top[:2], 5.0, first.top[2]),
        "low_pa": Slider("Bottom", "pressure", *first.bottom[:2], 5.0, first.bottom[2]),
        "set_point_pa": Slider("Set point", "pressure", *first.set_point[:2], 1.0, first.set_point[2]),
        "accuracy_percent": Slider("Accuracy", "percent", 0.25, 3.0, 0.25, 1.0),
        "sheet": Choice("Per cent of, added by", SHEETS),
        "drift_percent": Slider("Zero drift", "percent", 0.0, 2.0, 0.1, 0.5),
        "bits": Count("Converter, bits", 6, 16, 12),
        "site": Choice("Site, in winter", SITES),
    }

    def prepare(moved):
        """Another site brings its own range."""
        if moved == "site":
            place = PLACES[controls["site"].value]
            for name, limits in LIMITED.items():
                controls[name].limit(*getattr(place, limits))

    return Panel(controls, Picture(FitDrawing()), _answer, prepare)


def _answer(system, sheet, **chosen):
    of, adding = sheet
    fit = RangeFit(of=of, adding=adding, **chosen)
    return Verdict(fit.state, fit.says(system)), fit_chart(fit, system)


def fit_chart(fit, system="Pa"):
    """The picture's data."""
    place = PLACES[fit.site]
    tops = np.linspace(max(fit.low_pa + 1.0, place.top[0] / 2), place.top[1], TOPS)

    def shown(values):
        return units.to_display(np.asarray(values, float), "pressure", system)

    def ends(values):
        return tuple(shown(values).tolist())

    unit = units.unit_label("pressure", system)

    def one(value):
        return float(shown(value))

    return FitChart(
        pressure_label=f"Pressure [{unit}]",
        error_label=f"± error [{unit}]",
        low=one(fit.low_pa),
        high=one(fit.high_pa),
        own=ends(place.own),
        window=ends(fit.window_pa),
        set_point=one(fit.set_point_pa),
        error=one(fit.error_pa),
        held=shown(fit.held_pa),
        trough=one(fit.trough_pa),
        peak=one(fit.peak_pa),
        tops=shown(tops),
        errors=shown(fit.errors_pa(tops)),
        tenth=one(fit.tenth_pa),
        pressure_room=ends(place.pressures),
        error_room=ends(place.errors),
    )


WIDE_PA = 500.0  # for the card


def panel():
    """The live panel."""
    return range_panel()


def derivation():
    """A step of the signal, in pressure."""
    return page.derived("step_of_converter")


def together():
    """How errors come together."""
    return page.derived("combined_error")


def worked_example(name="converter_step"):
    """By hand: "converter_step" or "four_errors"."""
    return page.worked(name)


def _lines(system):
    own = RangeFit()
    wide, plain = RangeFit(high_pa=WIDE_PA), RangeFit(adding=SUM)
    blind = RangeFit(site=QUAYSIDE, low_pa=0.0, high_pa=25.0, set_point_pa=5.0)
    error, most, by_sum = (fine(fit.error_pa, system) for fit in (own, wide, plain))
    peak, shown, true = (units.show(value, "pressure", system, *digits) for value, *digits in (
        (own.peak_pa,), (blind.held.shown_pa, _digit(system)), (blind.held.true_pa, _digit(system))))  # fmt: skip
    ranges = [range_text(0.0, top, "pressure", system) for top in (own.high_pa, WIDE_PA)]
    return (
        f"{own.site}: {ranges[0]}. Its error at the set point is ±{error}, with {ranges[1]} ±{most}: span is paid for all the time.",
        f"It must reach the peak, {peak} {own.peak_when}, in the first minute, the stair as warm as the rooms (the record takes the speed "
        "that its open doors ask for); "
        f"the set point between {LEAST_SET_POINT_PERCENT:.0f} and {MOST_SET_POINT_PERCENT:.0f} % of the span (common practice).",
        f"Beyond an end the loop is blind and holds something else: {blind.site} with a range from zero shows {shown} where {true} is.",
        f"Errors by root of squares ±{error}, by plain sum ±{by_sum}. State which; the sum for a limit that protects life.",
        "Steady air and the worst weather of the site file: no gusts, no bang of a slammed door. Drift is from the last zero check on.",
    )


def _digit(system):
    return 1 if system == "Pa" else 3


page = LessonParts("transmitter_range", _lines)
predict, compare, exercises, senior_card = page.predict, page.compare, page.exercises, page.senior_card
