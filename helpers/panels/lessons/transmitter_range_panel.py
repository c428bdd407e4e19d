"""The panel of lesson 03: one transmitter's range, its errors, and the site it is bought for."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from helpers import units
from helpers.panels.controls import Choice, Count, Slider
from helpers.panels.fit_chart import FitChart, FitDrawing
from helpers.panels.panel import Panel
from helpers.panels.picture import Picture
from helpers.panels.verdict import Verdict
from helpers.studies.range_fit import OF_READING, OF_SPAN, ROOT, SUM, RangeFit
from helpers.studies.steady_loop import LARKFIELD, QUAYSIDE

__all__ = ["fit_chart", "range_panel"]

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
