"""Nothing is judged in one temperature of the stair: every study that judges doors looks at the first minute and at an hour later."""

from pathlib import Path

import pytest
from demo_designs import design_for

from helpers.model.air.conditions import demo_weather, read_hours
from helpers.model.plants.kinds import read_any_strategy
from helpers.record.review.stair_bench import ReviewBench
from helpers.studies.cases import STAIR_AIR, cases_beside, conditions_of, failure_cases, same_but_stair_air, usual_cases
from helpers.studies.duty.relief_damper import cases_tried
from helpers.studies.placement.study import draw

STRATEGIES = Path(__file__).parents[2] / "data" / "strategies"


def airs(cases):
    """The stair's airs of each weather with the same doors open."""
    cases = list(cases)
    return [{cases[place].stair for place in same} for same in same_but_stair_air(cases)]


@pytest.fixture(scope="module")
def design(larkfield):
    return design_for(larkfield)


def test_the_usual_cases_of_every_weather_and_door_come_in_every_air(larkfield, northgate, stair):
    for site in (larkfield, northgate, stair()):
        assert all(each == set(STAIR_AIR) for each in airs(usual_cases(site)))
        assert all(each == set(STAIR_AIR) for each in airs(usual_cases(site, "summer", open_doors=[3], open_exits=[])))


def test_what_the_record_judges_is_judged_in_every_air(design):
    for cases in (design.cases, design.rules.cases, design.duty.cases, design.acting.cases, design.set_points[0].cases):
        assert all(each == set(STAIR_AIR) for each in airs(cases))
    assert design.year.airs == ("first minute", "after an hour")


def test_failed_readings_relief_dampers_and_draws_are_tried_in_every_air(larkfield):
    for cases in (failure_cases(larkfield), cases_beside(larkfield), cases_tried(larkfield, (0, "exit"))):
        assert all(each == set(STAIR_AIR) for each in airs(cases))
    assert draw(larkfield, read_hours(demo_weather()["Greensboro"]), 5).both_airs


def test_a_strategy_is_reviewed_in_every_air(larkfield):
    sound = read_any_strategy(STRATEGIES / "larkfield_sound.toml")
    assert all(each == set(STAIR_AIR) for each in airs(ReviewBench(sound, larkfield).cases))


def test_asked_again_a_case_has_the_same_air_whatever_stands_beside_it(larkfield):
    cases = usual_cases(larkfield)
    whole = conditions_of(larkfield, cases).stair_c
    for place in (6, 8, 12):
        alone = conditions_of(larkfield.with_changes(name="again"), [cases[place]]).stair_c[0]
        assert alone == pytest.approx(whole[place], abs=0.05)
