"""Air over fan speed, looked up: against the held loop, where a reading falls again, and where it is never met."""

import numpy as np
import pytest

from helpers.formulas.combining import combine
from helpers.model.air.operating_point import AT_FULL_SPEED, AT_LOWEST_SPEED, HELD, STATES
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.model.sweep import at, finer, meets, over_speeds, place_of, speed_at, squared_steps
from helpers.studies.cases import conditions_of, usual_cases


@pytest.mark.parametrize(("speeds", "within_pa"), [(49, 0.3), (121, 0.1)])
@pytest.mark.parametrize("name", ["Larkfield House", "Northgate Tower"])
def test_doors_looked_up_are_those_of_the_held_loop(name, speeds, within_pa):
    tower = Tower(read_site(demo_sites()[name]))
    control, cases = tower.site.control, usual_cases(tower.site)
    conditions, rows = conditions_of(tower.site, cases), np.arange(len(cases))
    hz = squared_steps(*tower.site.fan.speed_limits_hz(control.fire_mode), speeds)
    readings, doors = over_speeds(tower.solve, lambda air, _: (tower.readings(air), air.door_dp_pa), conditions, hz)
    place, state = meets(combine(readings, control.rule, weights=control.weights), control.set_point_pa)
    held = tower.hold(conditions)
    assert [STATES[one] for one in state] == list(held.state)
    np.testing.assert_allclose(at(doors, place, rows), held.air.door_dp_pa, atol=within_pa)
    np.testing.assert_allclose(speed_at(hz, place), held.air.speed_hz, atol=0.3)


HUMP = np.array([0.0, 10.0, 30.0, 20.0, 12.0])  # falls again with more speed


def test_where_a_reading_falls_again_it_counts_from_which_end_the_fan_comes():
    assert meets(HUMP, 15.0) == (1.25, HELD)
    assert meets(-HUMP[::-1], -15.0) == (0.0, AT_LOWEST_SPEED)  # from full speed: 12 Pa there, less than 15, so that it stays
    assert meets(HUMP, 11.0) == (1.05, HELD)
    place, state = meets(-HUMP[::-1], -11.0)  # more than 11 Pa at full speed: it slows down, over the hump
    assert (4 - place, state) == (pytest.approx(1.05), HELD)


def test_a_goal_that_is_never_met_leaves_the_fan_at_full_speed_and_one_met_at_once_at_its_lowest():
    place, state = meets(HUMP, [50.0, -5.0, 0.0, 30.0])
    assert list(place) == [4.0, 0.0, 0.0, 2.0]
    assert list(state) == [AT_FULL_SPEED, AT_LOWEST_SPEED, HELD, HELD]
    assert meets(np.full(5, np.nan), 10.0) == (4.0, AT_FULL_SPEED)


def test_the_drives_limits_may_lie_between_solved_speeds():
    place, state = meets(HUMP, [15.0, 5.0, 10.0, 35.0, 30.0], low=1.0, high=1.5)
    assert list(place) == [1.25, 1.0, 1.0, 1.5, 1.5]
    assert list(state) == [HELD, AT_LOWEST_SPEED, HELD, AT_FULL_SPEED, AT_FULL_SPEED]
    assert meets(np.array([9.0, 1.0, 20.0]), 5.0, low=0.8) == (pytest.approx(1 + 4 / 19), HELD)  # 9 Pa lies below the lowest speed


def test_a_speed_and_its_place_are_each_others_inverse_and_steps_between_lie_on_straight_lines():
    hz = squared_steps(5.0, 60.0, 13)
    np.testing.assert_allclose(speed_at(hz, place_of(hz, [5.0, 17.3, 60.0, 70.0])), [5.0, 17.3, 60.0, 60.0])
    values = np.random.default_rng(1).normal(size=(3, 13, 2))
    fine = finer(values, 4)
    assert fine.shape == (3, 49, 2)
    np.testing.assert_allclose(fine[1], at(values[1], np.arange(49) / 4))
    np.testing.assert_allclose(at(values, [[0.5, 2.0, 11.9]], np.arange(3))[0, 2], 0.1 * values[2, 11] + 0.9 * values[2, 12])


def test_air_without_an_answer_is_refused_by_the_name_of_what_was_asked():
    tower = Tower(read_site(demo_sites()["Larkfield House"]))
    conditions = conditions_of(tower.site, usual_cases(tower.site)[:1])

    def lost(rows, speeds):
        air = tower.solve(rows, speeds)
        air.converged[1:] = False
        return air

    with pytest.raises(ValueError, match=r"^weather must have an answer at every speed: 2 of 3 have none$"):
        over_speeds(lost, lambda air, _: (air.door_dp_pa,), conditions, [10.0, 20.0, 30.0], "weather")
