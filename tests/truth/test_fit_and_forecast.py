"""A building fitted to its day, and its forecast, against arithmetic on one room: a straight fan, door gaps and outer leak one behind the
other, all square-root leaks, so that each reading is a quadratic solved by hand.

The fit's minimum is found again by scipy's least squares on that quadratic, its mean and spread by weighing drawn points of it (no slopes,
no network); the forecast's percentiles and share are those of a normal, since the door's pressure rises with one sum of the unknowns.
The site is of the older edition, whose slabs have one class alone. Taken from the helpers beside its figures: by how much
the unknowns may be off before anything is read.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from one_room import CD, FALL, P0_PA, RHO, TEMP_C, site_of
from scipy.optimize import least_squares
from scipy.stats import norm

from helpers.model.test_day import TestDay
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.forecast import PERCENT, forecast
from helpers.studies.measured.readings import readings_of

GAPS_M2, OUT_M2, SET_PA = 0.05, 0.06, 65.8
SPEEDS_HZ = (20.0, 26.0)
# What was read: some twelfth more through the gaps than the file says, a fifth less out of the room; pressures [Pa], flows [m3/s].
DOOR_PA, STAIR_PA, FLOW_M3_S = (28.2, 47.4), (73.6, 124.3), (0.235, 0.303)
DRAWN, BUILDINGS = 40_000, 400


@pytest.fixture(scope="module")
def site():
    return site_of(GAPS_M2, OUT_M2, control={"set_point_pa": SET_PA})


@pytest.fixture(scope="module")
def fitted(site):
    rounds = [
        {"speed_hz": hz, "flow_m3_s": flow, "stair_doors_pa": {"0": door}, "stair_over_outdoors_pa": {"0": stair}}
        for hz, flow, door, stair in zip(SPEEDS_HZ, FLOW_M3_S, DOOR_PA, STAIR_PA, strict=True)
    ]
    air = dict.fromkeys(("outdoor_c", "stair_bottom_c", "stair_top_c", "floor_c"), TEMP_C)
    day = {"kind": "test day", "name": "one room", "invented": True, "site": site.name, "date": "2026-05-12", "weather": air,
           "gauges": {"pressure_pa": 1.0, "flow_percent": 8.0, "pressure_gauges": 1}, "rounds": rounds}  # fmt: skip
    return fit_building(readings_of(site, TestDay.model_validate(day)))


def computed(unknowns, x):
    """What would be read at points x [.., unknowns]: [.., readings] in the order of the day: door, stair, flow of each round."""
    moved = dict(zip(unknowns.names, np.moveaxis(x * unknowns.deviations, -1, 0), strict=True))
    still = np.zeros(x.shape[:-1])
    density = {name: RHO * 293.15 / (293.15 + moved.get(what, still)) for name, what in (("out", "outdoors"), ("stair", "stair's air"))}
    gaps = CD * GAPS_M2 * np.exp(moved["stair side"] + moved["gaps of storey 0"]) * np.sqrt(density["stair"] + RHO)
    out = CD * OUT_M2 * np.exp(moved["facade"] + moved["walls of storey 0"]) * np.sqrt(density["out"] + RHO)
    shows = np.exp(next(moved[name] for name in unknowns.names if "gauge" in name))
    told = []
    for hz in SPEEDS_HZ:
        s = hz / 50.0
        k = density["out"] ** 2 * (1 / gaps**2 + 1 / out**2)  # stair over outdoors by the square of the volume flow
        b, c = density["out"] / 1.2 * s * FALL / np.exp(moved["fan"]), density["out"] / 1.2 * s * s * P0_PA
        flow = (-b + np.sqrt(b * b + 4 * k * c)) / (2 * k)
        told += [(density["out"] * flow / gaps) ** 2 * shows, k * flow**2 * shows, flow * np.exp(moved["traverse"])]
    return np.stack(told, axis=-1)


def misses(fitted, x):
    """Readings less computed, in their own uncertainties, and the unknowns themselves: the sum of squares is what the fit makes least."""
    readings = fitted.readings
    order = np.lexsort((readings.quantity, readings.round))  # of the day: door, stair, flow of each round
    off = (readings.value[order] - computed(fitted.unknowns, x)) / readings.uncertainty[order]
    return np.concatenate([off, x], axis=-1)


def test_the_most_probable_building_is_scipys_least_squares_on_the_quadratic(fitted):
    found = least_squares(lambda x: misses(fitted, x), np.zeros(len(fitted.unknowns)), xtol=1e-12, ftol=1e-12)
    assert fitted.mode == pytest.approx(found.x, abs=0.03)  # of a standard deviation; a storey's own scatter is taken as straight
    assert fitted.computed == pytest.approx(read(fitted, computed(fitted.unknowns, found.x)), rel=3e-3)
    assert not fitted.strange


def read(fitted, in_order):
    """Back into the fit's own order of the readings."""
    order = np.lexsort((fitted.readings.quantity, fitted.readings.round))
    back = np.empty(len(order))
    back[order] = in_order
    return back


def test_mean_and_interval_of_each_factor_are_those_of_weighed_points(fitted):
    found = least_squares(lambda x: misses(fitted, x), np.zeros(len(fitted.unknowns)))
    spread = 1.2**2 * np.linalg.inv(found.jac.T @ found.jac)
    z = np.random.default_rng(3).normal(size=(DRAWN, len(found.x)))
    x = found.x + z @ np.linalg.cholesky(spread).T
    told = 0.5 * ((z**2).sum(axis=1) - (misses(fitted, x) ** 2).sum(axis=1))
    weights = np.exp(told - told.max())
    weights /= weights.sum()
    assert 1 / (weights**2).sum() > DRAWN / 20  # enough of them count
    mean = weights @ x
    deviation = np.sqrt(weights @ (x - mean) ** 2)
    kinds = len(fitted.unknowns.kinds)
    assert fitted.x[:kinds] == pytest.approx(mean[:kinds], abs=0.1)
    assert np.sqrt(np.diag(fitted.covariance))[:kinds] == pytest.approx(deviation[:kinds], rel=0.12)
    for one, middle, sd, unit in zip(fitted.factors, mean, deviation, fitted.unknowns.deviations, strict=False):
        assert math.log(one.high / one.low) == pytest.approx(2 * norm.ppf(0.95) * sd * unit, rel=0.12)
        assert math.log(one.factor) == pytest.approx(middle * unit, abs=0.1 * unit)


def door_normal(fitted):
    """(mean, standard deviation) of u, the logarithm of gaps over outer leak as fitted: the door's pressure is P / (1 + (gaps / out)^2)."""
    names, by = fitted.unknowns.names, fitted.unknowns.deviations
    sign = {"stair side": 1.0, "gaps of storey 0": 1.0, "facade": -1.0, "walls of storey 0": -1.0}
    row = np.array([sign.get(name, 0.0) * unit for name, unit in zip(names, by, strict=True)])
    return math.log(GAPS_M2 / OUT_M2) + row @ fitted.x, math.sqrt(row @ fitted.covariance @ row)


def test_the_forecast_has_the_percentiles_and_the_share_of_a_normal(fitted):
    found = forecast(fitted, draws=BUILDINGS)
    mean, deviation = door_normal(fitted)
    (door,) = found.by_door()
    at = [mean - norm.ppf(percent / 100) * deviation for percent in PERCENT]  # more gaps, less pressure
    within = 2 * deviation * 0.15  # of so few buildings: the logarithm of the pressure moves at most twice as far as u
    assert np.log(door.pressures_pa) == pytest.approx([math.log(SET_PA / (1 + math.exp(2 * u))) for u in at], abs=within)
    asked = door.window_pa[0]
    border = 0.5 * math.log(SET_PA / asked - 1)
    assert door.probability == pytest.approx(norm.cdf((border - mean) / deviation), abs=3.5 * math.sqrt(0.25 / BUILDINGS))
    assert 0.02 < door.probability < 0.98  # else nothing was asked


def test_a_building_that_is_surely_known_is_forecast_to_the_pascal(fitted):
    known = replace(fitted, covariance=1e-12 * np.eye(len(fitted.x)))
    mean, _ = door_normal(fitted)
    (door,) = forecast(known, draws=20).by_door()
    assert door.pressures_pa == pytest.approx([SET_PA / (1 + math.exp(2 * mean))] * 3, abs=0.15)  # its air after an hour: 1.5 °C or so
