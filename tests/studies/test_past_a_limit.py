"""What is past a limit by the computed figure is out, however little: one function judges, in every study that says yes or no of a door."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.cases import Case
from helpers.studies.doors.exits import Left
from helpers.studies.doors.year import Year
from helpers.studies.duty.relief_damper import FixedSpeed
from helpers.studies.duty.several_dampers import Several
from helpers.studies.placement.results import Placement
from helpers.studies.readings.faults_by_rule import DoorAt
from helpers.studies.readings.rules import SetPoints, allowed_pressures, compare_rules, doors_status
from helpers.studies.status import inside

PAST_PA = 0.05  # no gauge on site tells it


def test_a_room_below_nothing_is_out_and_one_that_the_search_leaves_of_rounding_is_not():
    assert inside(np.array([1.0, 0.0, -1e-4, -PAST_PA, -1.0])).tolist() == [True, True, True, False, False]


@pytest.mark.parametrize(
    ("of", "says"),
    [
        (Left, "good"),
        (FixedSpeed, "holds"),
        (Several, "holds"),
        (Year, "inside"),
        (DoorAt, "out"),
    ],
)
def test_each_study_calls_a_door_out_that_is_a_little_past_its_limit(of, says):
    def said(room_pa):
        found = np.asarray(room_pa) if of is Year else room_pa
        holds = getattr(of, says).fget(SimpleNamespace(room_pa=found, found=True, lifts=False))
        return not holds if says == "out" else bool(holds)

    assert said(0.0)
    assert not said(-PAST_PA)


def test_a_final_exit_that_stays_ajar_by_a_little_does_not_close():
    assert FixedSpeed.closes.fget(SimpleNamespace(closing_pa=0.0))
    assert not FixedSpeed.closes.fget(SimpleNamespace(closing_pa=-PAST_PA))


def test_the_placement_study_counts_a_condition_that_is_a_little_out_as_out():
    found = Placement.inside.func(SimpleNamespace(tally=SimpleNamespace(room_pa=np.array([[0.0, -PAST_PA]]))))
    assert found.tolist() == [[True, False]]


def test_a_set_point_with_which_an_exit_stays_ajar_by_a_little_is_not_allowed():
    some = SimpleNamespace(cases=("a",), good=np.array([[True], [True]]), closing_pa=np.array([[0.0], [-PAST_PA]]))
    assert SetPoints.good_in(some).tolist() == [True, False]


def test_a_door_a_little_below_its_least_makes_its_case_no_pass_whatever_rule_runs_the_fan():
    site = read_site(demo_sites()["Larkfield House"])
    tower, window, cases = Tower(site), allowed_pressures(site), (Case("mild", "mild"),)
    held = compare_rules(tower, window, cases, rules=("average",)).results[0]
    lowest = float(held.door_dp_pa.min())
    asks = replace(window, doors=tuple(
        replace(door, least_pa=lowest + PAST_PA, most_pa=None) if door.use == "stair door" else replace(door, least_pa=None, most_pa=None)
        for door in window.doors
    ))  # fmt: skip
    found = compare_rules(tower, asks, cases, rules=("average",)).results[0]
    assert not found.inside[0]
    assert [round(door.by_pa, 3) for door in found.out] == [PAST_PA]
    assert doors_status(found.good[0], found.margin_pa[0], True, False) == "wrong"
