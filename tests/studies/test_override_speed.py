"""A fixed speed has two ends: the doors' upper one, and the least that keeps smoke out, found anew by solving the stair beside it."""

from dataclasses import replace

import numpy as np
import pytest
from demo_designs import SEVERAL_DAMPERS, design_for, design_of, site_of

from helpers.studies.cases import conditions_of, exits_beyond
from helpers.studies.duty.override_speed import NONE_PROTECTS, override_speed

THREE = site_of("Tannery Row").with_changes(**SEVERAL_DAMPERS)


def bounds_of(design):
    return override_speed(design.tower, design.standing.window, design.duty.full)


@pytest.mark.parametrize("design", [design_of("Tannery Row"), design_for(THREE)], ids=["one damper", "three"])
def test_at_the_least_speed_every_shut_door_has_its_minimum_and_a_little_below_one_has_not(design):
    found, cases = bounds_of(design), [case for case, *_ in design.duty.full.asked]
    conditions = conditions_of(design.site, cases)
    least = design.standing.window.by_storey(design.tower.levels, "stair door")[0]

    def short(speed_hz):
        air = design.tower.solve(conditions, speed_hz)
        return bool((np.where(conditions.stair_door_open > 0, np.inf, air.door_dp_pa - least) < 0).any())

    assert not short(found.keeps_hz)
    assert short(found.keeps_hz - 0.3)


def test_where_no_speed_is_both_it_is_said_and_where_one_is_it_is_not():
    for name in ("Larkfield House", "Tannery Row"):
        found = bounds_of(design_of(name))
        assert found.said == NONE_PROTECTS  # no figure to enter
        assert found.bounds.endswith(NONE_PROTECTS)
        assert " Hz" not in found.brief
    three = bounds_of(design_for(THREE))
    assert NONE_PROTECTS not in three.said
    assert three.judged(three.full_hz)[1] == "attention"  # the exit that people leave by is in no case of its design
    assert replace(three, exit_hz=np.nan).judged(three.full_hz)[1] == "good"
    assert three.judged(three.keeps_hz - 0.2)[1] == "wrong"


def test_a_speed_is_held_against_every_bound():
    found = bounds_of(design_of("Tannery Row"))
    told, state = found.judged(50.0)
    assert state == "wrong"
    assert f"doors jam above {found.doors_hz:.1f} Hz" in told
    assert f"stand ajar above {found.closes_hz:.1f} Hz" in told
    assert "smoke can pass below" in found.against(10.0)
    assert found.most_hz == found.closes_hz < found.doors_hz


def test_a_drive_on_which_no_speed_is_safe_protects_by_none():
    none = replace(bounds_of(design_of("Tannery Row")), doors_hz=float("nan"))
    assert none.none_protects
    assert "at no speed of this drive" in none.bounds
    assert "past its limit at every speed" in none.against(20.0)


def test_an_exit_that_people_leave_by_and_the_design_leaves_out_is_said_beside_every_speed():
    design = design_for(THREE)
    found, beyond = bounds_of(design), exits_beyond(design.site, design.own.cases)
    assert beyond
    conditions = conditions_of(design.site, beyond)
    least = design.standing.window.by_storey(design.tower.levels, "stair door")[0]
    air = design.tower.solve(conditions, found.full_hz)
    short = np.where(conditions.stair_door_open > 0, np.inf, air.door_dp_pa - least) < 0
    assert short.any()
    assert np.isinf(found.exit_hz)
    for told in (found.brief, found.bounds, found.judged(found.full_hz)[0]):
        assert "with a final exit open, as people leave by it, at no speed" in told
    counted = design.site.with_changes(design={"open_exits": (beyond[0].open_exits[0],)})
    assert exits_beyond(counted, design.own.cases) == ()
