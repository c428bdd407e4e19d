"""The cases a design is asked about."""

import numpy as np
import pytest

from helpers.model.air import stair_heat
from helpers.model.site.file import demo_sites, read_site
from helpers.studies import cases
from helpers.studies.cases import Case, Same, conditions_of, has_to_hold, required_doors, two_neighbours, usual_cases, without_stair_air


def test_every_weather_with_doors_shut_comes_first_then_the_doors_people_open(stair):
    cases = usual_cases(stair(), "summer")
    stated = ["summer, doors shut", "winter, doors shut", "mild, doors shut", "summer, stair doors 2 and 3 open"]
    assert [case.name for case in cases[:4]] == stated
    assert [case.name for case in cases[4:]] == [f"{name}, {stair}" for name in stated for stair in ("first minute", "after an hour")]
    assert [case.shut for case in cases[:4]] == [True, True, True, False]


def test_a_stair_with_a_final_exit_is_also_asked_with_that_one_open(stair, a_door):
    site = stair(doors={"street": a_door(minimum_dp_pa=None)}, storeys=[{"final_exit_door": "street"}, *[{}] * 5])
    assert Case("winter, stair doors 2 and 3 open, final exit 0 open", "winter", (2, 3), (0,)) in usual_cases(site)


def test_the_usual_open_doors_are_neighbours_half_way_up_away_from_the_transmitters(stair):
    assert two_neighbours(stair()) == (2, 3)
    assert two_neighbours(stair(transmitters=[{"level": 2}, {"level": 5}])) == (3, 4)
    assert two_neighbours(stair(1, transmitters=[{}])) == (0,)


def test_the_open_doors_of_the_design_are_asked_with_the_exits_and_with_any_one_of_them_shut_too(stair, a_door):
    site = stair(doors={"street": a_door(minimum_dp_pa=None)}, storeys=[{"final_exit_door": "street"}, *[{}] * 5])
    stated = site.with_changes(design={"open_doors": (2, 3), "open_exits": (0,)})
    assert required_doors(site) == ()
    assert required_doors(stated) == (((2, 3), (0,)), ((2, 3), ()), ((3,), (0,)), ((2,), (0,)))
    assert required_doors(site.with_changes(design={"open_doors": (2,)})) == (((2,), ()),)
    asked = {doors: has_to_hold(stated, Case("", "winter", *doors)) for doors in (((3, 2), ()), ((2,), (0,)), ((2,), ()), ((4,), (0,)))}
    assert list(asked.values()) == [True, True, False, False]


def test_doors_asked_for_replace_the_usual_open_ones(stair):
    assert usual_cases(stair(), open_doors=[4])[3] == Case("winter, stair door 4 open", "winter", (4,), ())
    assert all(case.shut for case in usual_cases(stair(), open_doors=[], open_exits=[]))


def test_conditions_hold_a_row_for_each_case_with_its_doors_and_weather(stair):
    site = stair()
    conditions = conditions_of(site, usual_cases(site))
    assert conditions.outdoor_c.tolist() == [-10.0, 31.0, 15.0, -10.0, -10.0, -10.0, 31.0, 31.0, 15.0, 15.0, -10.0, -10.0]
    assert conditions.stair_door_open.sum(axis=1).tolist() == [0, 0, 0, 2, 0, 0, 0, 0, 0, 0, 2, 2]


def test_each_case_is_asked_with_the_stair_as_stated_as_warm_as_the_rooms_and_as_cold_as_an_hour_makes_it(stair):
    site = stair(temperatures={"stair_c": 15.0})
    stated, first, hour = conditions_of(site, [Case("", stair=stair) for stair in ("as stated", "first minute", "after an hour")]).stair_c
    assert set(stated) == {15.0}
    assert set(first) == {21.0}
    assert (np.diff(hour) < 0).all()  # the fan blows in at the top
    assert hour[-1] < -5


def test_the_stairs_air_is_found_once_for_sites_of_one_content_and_anew_for_any_other(stair, monkeypatch):
    asked, found = [], cases.stair_air
    monkeypatch.setattr(cases, "stair_air", lambda *rest: asked.append(rest) or found(*rest))
    hour = [Case("", stair="after an hour")]
    site, again = (stair(name="Found Once House") for _ in range(2))
    first, second = (conditions_of(one, hour).stair_c for one in (site, again))
    assert site is not again
    assert len(asked) == 1
    np.testing.assert_array_equal(first, second)
    leakier = again.with_changes(storeys=[{}, {"extra_leak_m2": 0.1}, *[{}] * 4])
    assert (conditions_of(leakier, hour).stair_c != first).any()
    assert len(asked) == 2


def test_a_case_whose_air_and_heat_do_not_agree_is_named(stair, monkeypatch):
    assert without_stair_air(stair(), usual_cases(stair())) == ()
    monkeypatch.setattr(stair_heat, "AGREE_K", 0.0)
    left = without_stair_air(stair(), usual_cases(stair()))
    assert [case.name for case in left] == [case.name for case in usual_cases(stair()) if case.stair == "after an hour"]


def test_a_kind_of_stair_air_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="stair must be one of as stated, first minute, after an hour; got 'tepid'"):
        Case("", stair="tepid")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"weather": "autumn"}, "weather must be one of winter, summer, mild; got 'autumn'"),
        ({"open_doors": [9]}, "open_doors must be storeys with a stair door .storeys 0 to 5.; got 9"),
        ({"open_exits": [0]}, "open_exits must be storeys with a final exit door .no storey.; got 0"),
        ({"open_doors": 3}, "open_doors must be a list of storeys, got 3"),
        ({"open_doors": "3"}, "open_doors must be a list of storeys, got '3'"),
    ],
)
def test_weather_and_doors_that_are_not_there_get_one_sentence(stair, changes, words):
    with pytest.raises(ValueError, match=words):
        usual_cases(stair(), **changes)


def test_no_case_at_all_is_refused(stair):
    with pytest.raises(ValueError, match="at least one case"):
        conditions_of(stair(), [])


@pytest.mark.parametrize(
    ("changes", "alike"),
    [
        ({"control": {"gain": 0.3, "integral_time_s": 9.0, "sample_s": 0.5, "input_scan_s": 0.2}}, True),
        ({"fan": {"ramp_s": 20.0, "ramp_down_s": 30.0, "brake": "none"}}, True),
        ({"transmitters": [{"filter_s": 2.0, "damping_s": 3.0, "range_high_pa": 250.0}] * 2}, True),
        ({"control": {"set_point_pa": 41.0}}, False),
        ({"control": {"rule": "lowest"}}, False),
        ({"control": {"fire_mode": False}}, False),
        ({"transmitters": [{"level": 1}, {}]}, False),
        ({"transmitters": [{"reference": "outdoors"}, {}]}, False),
        ({"fan": {"highest_speed_hz": 45.0}}, False),
        ({"doors": {"stair": {"leak_area_m2": 0.021}}}, False),
    ],
)
def test_the_stair_is_cooled_anew_for_another_air_and_not_for_another_gain_ramp_or_dial(stair, monkeypatch, changes, alike):
    site, warm, asked = stair(), [Case("winter, after an hour", "winter", stair="after an hour")], []
    known = conditions_of(site, warm).stair_c
    monkeypatch.setattr(cases, "stair_air", lambda *of: asked.append(of) or stair_heat.stair_air(*of))
    changed = site.with_changes(**changes)
    found = conditions_of(changed, warm).stair_c
    assert bool(asked) is not alike
    cases._known.cache_clear()
    np.testing.assert_array_equal(conditions_of(changed, warm).stair_c, found)
    assert np.array_equal(found, known) or not alike


def test_sites_of_one_air_are_the_same_and_those_of_another_gain_only_where_the_air_alone_counts():
    site = read_site(demo_sites()["Larkfield House"])
    hotter = site.with_changes(control={"gain": 2 * site.control.gain})
    assert Same(site) == Same(hotter)
    assert Same(site, whole=True) != Same(hotter, whole=True)
    assert Same(hotter).given is hotter  # what is computed with is a whole site
