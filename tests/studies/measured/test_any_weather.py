"""One test day over all weathers at once: as the full forecast has it, as a fit of its own has it, and quick enough for a slider."""

import time

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.model.test_day import read_test_day
from helpers.studies.cases import FIRST_MINUTE, Case, conditions_of
from helpers.studies.doors.columns import DoorColumns
from helpers.studies.doors.window import pressure_window
from helpers.studies.measured.any_weather import OUTDOOR_C, STAIR_C, AnyWeather
from helpers.studies.measured.drawn import DAYS_FOLDER, DEMO_DAYS, drawn_day, drawn_readings
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.forecast import PERCENT, STAIR_SD_C, SURE_SHARE, Unknowns, accuracies_pa, drawn_from
from helpers.studies.measured.readings import DayReadings, readings_of
from helpers.studies.status import SPARE_PA

NAME, SET_POINT_PA = "Larkfield House", 40.0


@pytest.fixture(scope="module")
def site():
    return read_site(demo_sites()[NAME])


@pytest.fixture(scope="module")
def fitted(site, truth):
    return fit_building(readings_of(site, truth.day))


@pytest.fixture(scope="module")
def truth(site):
    return drawn_day(site, DEMO_DAYS[NAME], doors=False)


@pytest.fixture(scope="module")
def weathers(fitted, truth):
    return AnyWeather.of(fitted, truth)


def held_by_the_network(site, unknowns, x, outdoor_c, stair_c, off=0.0):
    """Doors [buildings, doors], every building held at the set point, but for what is off, by the whole network; stair_c, off: one, or one
    for each."""
    base = conditions_of(site, (Case("", "winter", stair=FIRST_MINUTE),))
    base.outdoor_c = np.array([outdoor_c])
    many, _ = unknowns.conditions(base, x)
    many.stair_c = np.broadcast_to(np.reshape(stair_c, (-1, *[1] * (many.stair_c.ndim - 1))), many.stair_c.shape).astype(float)
    return DoorColumns(Tower(site), pressure_window(site)).across(Tower(site).hold(many, SET_POINT_PA - off).air)


@pytest.mark.parametrize(("outdoor_c", "stair_c"), [(-9.0, 20.0), (-20.0, 7.0), (2.5, 15.0), (14.0, 18.2)])
def test_ends_of_intervals_are_those_of_buildings_held_one_by_one(site, fitted, weathers, outdoor_c, stair_c):
    """Between the weathers that were solved, too; the stair's air drawn beside the buildings, as uncertain as it is."""
    x, rng = drawn_from(fitted, 150, 3), np.random.default_rng(4)
    unknowns = Unknowns.of(site)
    warmer = STAIR_SD_C * rng.normal(size=len(x))
    off = (rng.uniform(-1, 1, (len(x), 2)) * accuracies_pa(site)).mean(axis=1)  # of the average of both
    many = held_by_the_network(site, unknowns, x[:, : len(unknowns)], outdoor_c, stair_c + warmer, off)
    one_by_one = np.percentile(many, PERCENT, axis=0)
    quick = np.percentile(weathers.at(outdoor_c, stair_c, SET_POINT_PA).across_pa, PERCENT, axis=0)
    assert np.abs(quick - one_by_one).max() < 1.0
    assert np.abs(quick[1] - one_by_one[1]).max() < 0.6


def test_the_true_building_is_the_one_behind_the_day(site, truth, weathers):
    """The file is that of the drawn building, its crew within what the doors bear; its doors in another weather are those of the whole
    network."""
    file, slower = read_test_day(DAYS_FOLDER / "larkfield_house_may.toml"), drawn_day(site, DEMO_DAYS[NAME])
    assert (file.rounds, file.weather, file.gauges) == (slower.day.rounds, slower.day.weather, slower.day.gauges)
    assert slower.factors == truth.factors
    found = weathers.at(-9.0, 20.0, SET_POINT_PA)
    true = held_by_the_network(site, truth.unknowns, truth.x[None], -9.0, 20.0)[0]
    assert found.true_pa == pytest.approx(true, abs=0.5)
    inside, doors = found.covered()
    assert doors == len(found.doors) == 15
    assert inside >= 12


def test_with_the_days_own_gauges_and_readings_it_is_the_fitted_building_itself(fitted, weathers):
    assert weathers.building()[0] == pytest.approx(fitted.x, abs=0.02)


def test_fewer_readings_lead_where_a_fit_of_their_own_leads(fitted, weathers):
    readings = fitted.readings
    kept = (readings.quantity != 0) | np.isin(readings.storey, (0, 7, 13))
    own: DayReadings = readings.but(np.flatnonzero(~kept))
    alone = AnyWeather.of(fit_building(own))
    for outdoor_c in (-9.0, 10.0):
        quick, full = (of.at(outdoor_c, 20.0, SET_POINT_PA, kept=some).across_pa for of, some in ((weathers, kept), (alone, None)))
        ends = [np.percentile(of, PERCENT, axis=0) for of in (quick, full)]
        assert np.abs(ends[0] - ends[1]).max() < 2.0


def test_coarser_gauges_and_fewer_readings_never_make_it_surer(weathers):
    def widths(**asked):
        low, _, high = np.percentile(weathers.at(-9.0, 20.0, SET_POINT_PA, **asked).across_pa, PERCENT, axis=0)
        return high - low

    fine, coarse = widths(gauge_pa=1.0), widths(gauge_pa=5.0)
    doors_alone = widths(kept=weathers.fitted.readings.quantity == 0)
    assert (coarse > 0.95 * fine).all()
    assert coarse.mean() > 1.3 * fine.mean()
    assert doors_alone.mean() > 1.1 * fine.mean()


def test_the_true_january_lies_in_nine_of_ten_intervals(site):
    """Of drawn buildings with days of their own, the stair's air as uncertain as the forecast takes it."""
    inside, rng = [], np.random.default_rng(8)
    for seed in range(4300, 4310):
        readings, drawn = drawn_readings(site, seed)
        found = AnyWeather.of(fit_building(readings)).at(-9.0, 18.0, SET_POINT_PA)
        true = held_by_the_network(site, drawn.unknowns, drawn.x[None], -9.0, 18.0 + STAIR_SD_C * rng.normal())[0]
        low, _, high = np.percentile(found.across_pa, PERCENT, axis=0)
        inside.append(((low <= true) & (true <= high)).mean())
    assert 0.75 <= np.mean(inside) <= 1.0


def test_what_is_no_pass_is_said(weathers):
    """More than one building of twenty with a door out; a fan that cannot hold."""
    mild, cold = weathers.at(14.0, 18.2, 35.0), weathers.at(-9.0, 20.0, 35.0)
    assert (mild.state, cold.state) == ("attention", "wrong")  # the final exit is sure, and has less room than SPARE_PA
    assert mild.probability >= SURE_SHARE
    assert 0 < mild.of("final exit", 0).room_pa < SPARE_PA
    assert cold.probability == 0
    assert weathers.at(2.0, 20.0, 40.0).state == "attention"
    lost = weathers.at(14.0, 18.2, 4000.0)
    assert not lost.held
    assert (lost.state, lost.probability) == ("wrong", 0.0)


@pytest.mark.parametrize(
    ("asked", "named"),
    [
        ((OUTDOOR_C[0] - 1, 20.0, 40.0), "outdoor_c must be from"),
        ((-9.0, STAIR_C[-1] + 1, 40.0), "stair_c must be from"),
        ((-9.0, 20.0, 40.0, 0.0), "gauge_pa must be above 0"),
        ((float("nan"), 20.0, 40.0), "outdoor_c"),
    ],
)
def test_what_was_not_solved_is_refused(weathers, asked, named):
    with pytest.raises(ValueError, match=named):
        weathers.at(*asked)


def test_a_move_of_a_slider_is_answered_before_one_notices(weathers):
    took = []
    for number in range(7):
        began = time.process_time()
        _ = weathers.at(-9.0 + number, 20.0, 40.0, 1.0 + number).doors
        took.append(time.process_time() - began)
    assert np.median(took) < 0.5  # of the processor, on a slow machine; solved anew it takes seconds
