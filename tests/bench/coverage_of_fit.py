"""How often the 90 % intervals of a fitted building hold the truth, and those of its doors in January, over drawn buildings; prints JSON.

`.venv/bin/python tests/bench/coverage_of_fit.py [--buildings 200] [--site "Larkfield House"] [--january 200]`

Two biases are told. `bias` is that of the figure as it stands. Where a day says little a figure stays near the site file's, whatever the
building is, so this one hangs on which buildings happened to be drawn: in `bias, the draw taken out` the errors' line by the drawn factors
is taken to a factor of one, which is what all buildings have in the middle (a control variate of known mean; from memory, not verified).
The share of the pull that a fit states of itself does not do for that: where a leak is large a day sees it better.
"""

import argparse
import json
import time
from dataclasses import replace

import numpy as np

from helpers.model.air.operating_point import combine_good
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.cases import conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.measured.drawn import drawn_readings
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.forecast import accuracies_pa, forecast
from helpers.studies.measured.readings import FLOW, SURE

SCALES = 500_000  # beside a building's own seed: that of its gauges
GAUGE_PA = 0.1  # to which a pressure is read


def coverage(site, seeds, january_of=0):
    """Shares of the truths inside, bias of the figures by kind with its standard error, and the seeds that were refused with the sentence.

    january_of: of so many buildings the doors of the design's weathers are forecast as well, and held against the building itself.
    """
    inside, off, drawn_as, refused, doors = {}, {}, {}, {}, []
    for seed in seeds:
        try:
            readings, drawn = drawn_readings(site, seed)
            readings = with_scales(readings, seed)
            fitted = fit_building(readings)
            if len(doors) < january_of:
                doors.append(january(fitted, drawn, seed))
        except ValueError as refusal:
            refused[seed] = str(refusal)
            continue
        for one in fitted.factors:
            true, error = drawn.factors[one.kind], np.log(one.factor / drawn.factors[one.kind])
            inside.setdefault(one.kind, []).append(one.low <= true <= one.high)
            off.setdefault(one.kind, []).append(error)
            drawn_as.setdefault(one.kind, []).append(np.log(true))
    level = {kind: _at_one(np.array(one), np.array(drawn_as[kind])) for kind, one in off.items()}
    return {
        "inside": {kind: round(float(np.mean(one)), 3) for kind, one in inside.items()},
        "all": round(float(np.mean(np.concatenate(list(inside.values())))), 3),
        "bias": _means(off),
        "bias, the draw taken out": _means(level),
        "standard error of these": [
            {kind: round(float(np.std(one) / len(one) ** 0.5), 3) for kind, one in of.items()} for of in (off, level)
        ],
        "january": round(float(np.mean(doors)), 3) if doors else None,
        "refused": refused,
    }


def with_scales(readings, seed):
    """The readings by gauges whose scales err as their uncertainty is stated: each pair's by a factor of its own."""
    factors = np.exp(np.random.default_rng(seed + SCALES).normal(size=2) * readings.scale_percent / 100 / SURE)
    shown = np.where(readings.quantity == FLOW, 1.0, factors[(readings.storey >= readings.upper_from).astype(int)])
    return replace(readings, value=readings.value * shown)


def _means(logs):
    return {kind: round(float(np.expm1(np.mean(one))), 3) for kind, one in logs.items()}


def _at_one(errors, drawn_as):
    """Errors [buildings] with what hangs on the drawn factors' logarithms, whose mean is 0, taken out by a straight line."""
    slope = np.cov(errors, drawn_as)[0, 1] / drawn_as.var(ddof=1) if len(errors) > 1 else 0.0
    return errors - slope * drawn_as


def january(fitted, drawn, seed, draws=120):
    """Share of the shut doors and cases whose true pressure in the design's weathers lies between the ends of its 90 % interval.

    The building's own transmitters err as well. Of a rule that averages: the loop then holds the set point less the readings' own error.
    """
    site = fitted.readings.site
    if site.control.rule not in ("average", "weighted"):
        raise ValueError(f"site must have a rule that averages; got {site.control.rule!r}")
    found = forecast(fitted, draws)
    off = np.random.default_rng(seed).uniform(-1.0, 1.0, len(site.transmitters)) * accuracies_pa(site)
    goal = site.control.set_point_pa - combine_good(off, site.control.rule, site.control.weights)
    truth = drawn.tower.hold(drawn.truth(conditions_of(site, found.cases)), goal)
    low, high = np.percentile(found.own.across_pa, (5, 95), axis=0)
    true = DoorColumns(drawn.tower, pressure_window(site)).across(truth.air)
    asked = np.isfinite(found.own.rooms_pa).all(axis=0)
    return ((low - GAUGE_PA <= true) & (true <= high + GAUGE_PA))[asked].mean()


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--buildings", type=int, default=200)
    asked.add_argument("--january", type=int, default=200)
    asked.add_argument("--site", default="Larkfield House")
    chosen = asked.parse_args()
    began = time.perf_counter()
    found = coverage(read_site(demo_sites()[chosen.site]), range(1000, 1000 + chosen.buildings), chosen.january)
    print(json.dumps(found | {"buildings": chosen.buildings, "seconds": round(time.perf_counter() - began, 1)}, indent=1))
