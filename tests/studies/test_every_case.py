"""What a panel says to set is good in every case that the record judges, not in the one that the panel shows."""

import re

import pytest

from helpers.lessons import LESSONS
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.design import DesignPanel
from helpers.record.design import Design
from helpers.record.every_case import BACK, TOO_LITTLE_ROOM, every_case, to_do
from helpers.studies.readings.rules import USUAL_RULES, compare_rules
from helpers.units.said import written_out

TANNERY, LARKFIELD = "Tannery Row", "Larkfield House"
TOLD = re.compile(r"Do: (?:set|(?P<rule>\w+) reading,) (?P<point>[\d.]+) Pa: (?:it )?passes all (?P<count>\d+) cases and a year")


@pytest.fixture(scope="module")
def sites():
    """The demo stairs by name."""
    return {name: read_site(path) for name, path in demo_sites().items()}


def panels():
    """(name of the site, panel) of every panel that judges a stair of a site file."""
    yield from ((name, DesignPanel(name).panel) for name in demo_sites())
    yield from ((LARKFIELD, LESSONS.of(key).panel()) for key in ("leakage_and_fan_duty", "average_lowest_highest"))


def figures(stated, do):
    """The design of a site with what a line says to set; None where the line names nothing to set."""
    told = TOLD.fullmatch(written_out(do))
    return told and Design(stated, rule=told["rule"] or stated.control.rule, set_point=float(told["point"])), told


def test_what_a_panel_says_to_set_passes_every_case_of_the_record_wherever_its_set_point_stands(sites):
    named = 0
    for name, panel in panels():
        panel.put_back()
        for set_point_pa in (None, 25.0, 44.0, 60.0):
            if set_point_pa is not None:
                panel.controls["set_point_pa"].value = set_point_pa
            do = written_out(panel.verdict.do)
            assert "alone" not in do
            assert "closer" not in do
            if not do.startswith("Do: ") or re.fullmatch(BACK.format(r"(\w+ reading, )?[\d.]+ Pa"), do):
                assert do == "" or "no set point passes" in do or "tries" in do, do
                continue
            design, told = figures(sites[name], do)
            named += 1
            assert not design.standing.set_point_against(), do
            cases = design.standing.required
            assert len(cases) == int(told["count"])
            held = compare_rules(design.tower, design.standing.window, cases, rules=(design.site.control.rule,)).results[0]
            assert held.good.all(), do
        panel.put_back()
    assert named  # else nothing was judged


def test_a_site_of_which_a_panel_says_that_none_passes_has_none_under_any_usual_rule(sites):
    for name, site in sites.items():
        every, design = every_case(site), Design(site)
        for tried in design.set_points:
            good = tried.good_in(design.shut_cases)
            assert name == TANNERY or not good.any()
            assert good.any() or every.set_point_pa(tried.rule) is None
        assert (every.best(site.control.rule) is None) == (name != TANNERY)


def test_a_set_point_that_the_record_fails_for_another_reason_is_not_named(sites):
    """Out of smoke control: every door is inside all the same, and the record has nothing to enter."""
    site = sites[TANNERY]
    slow = site.with_changes(control={"fire_mode": False})
    assert every_case(site).set_point_pa("average") is not None
    assert all(every_case(slow).set_point_pa(rule) is None for rule in USUAL_RULES)


def test_the_set_point_of_another_reading_is_named_by_its_reading_and_none_that_fails_here(sites):
    site = sites[TANNERY]
    told = written_out(to_do(site, "average", 60.0, "wrong", False, lambda rule, point: True))
    assert TOLD.fullmatch(told), told
    assert to_do(site, "average", 60.0, "wrong", False, lambda rule, point: False).startswith("Ask: ")
    assert to_do(site, "average", 60.0, "attention", True, lambda rule, point: True) == TOO_LITTLE_ROOM
    assert to_do(site, "average", 60.0, "good", True, lambda rule, point: True) == ""
    assert to_do(site, "weighted", 60.0, "wrong", False, lambda rule, point: True).startswith("Ask: page 12, with this")


def test_where_no_set_point_passes_the_designer_is_asked_of_the_door_that_none_mends_and_another_figure_goes_back(sites):
    site = sites[LARKFIELD]
    own = every_case(site).design.own
    door = max((one for one in own.out if one.pushed), key=lambda one: one.by_pa)
    told = written_out(to_do(site, "average", 40.0, "wrong", False, lambda rule, point: True))
    assert told == f"Ask: the designer, page 12: no set point passes; summer: how final exit 0 shuts against {door.dp_pa:.0f} Pa"
    back = [
        written_out(to_do(site, *entered, "wrong", False, lambda rule, point: True)) for entered in (("average", 20.0), ("lowest", 40.0))
    ]
    assert back == [BACK.format("40 Pa"), BACK.format("average reading, 40 Pa")]
    for rule in ("weighted", "middle"):  # not tried by the record: no reason to stay there
        assert written_out(to_do(site, rule, 40.0, "wrong", False, lambda rule, point: True)) == BACK.format("average reading, 40 Pa")


@pytest.mark.parametrize("key", ["leakage_and_fan_duty", "average_lowest_highest"])
def test_the_designer_is_asked_about_the_door_of_the_headline_and_not_about_another_weathers(key):
    """The summer's question stood under the winter's headline."""
    panel = LESSONS.of(key).panel()
    panel.put_back()
    for moved, door, asked in (({}, "stair door 0", "gets its 25 Pa"), ({"outdoor_c": 35.0}, "final exit 0", "shuts against")):
        told = panel.put(**moved)
        assert door in told.head
        assert f"Ask: the designer, page 12: no set point passes; how {door} {asked}" in told.do
        assert "in summer" not in told.do
    panel.put_back()


def test_walls_that_no_file_has_are_not_answered_by_the_file():
    panel = LESSONS.of("leakage_and_fan_duty").panel()
    panel.put_back()
    panel.controls["exterior_wall"].value = "loose"
    assert written_out(panel.verdict.do) == "Ask: page 12, with this in a site file: it tries every case"
    panel.put_back()
