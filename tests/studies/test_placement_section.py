"""What the record says of the places: the site's own weathers come before a year of the nearest station."""

from dataclasses import replace
from functools import cache

import numpy as np

from helpers.model.air.conditions import demo_weather, read_hours
from helpers.model.air.tower import Tower
from helpers.record.sections.time import NO_PLACE, _placement_findings
from helpers.studies.doors.window import pressure_window
from helpers.studies.placement.study import Placing, draw, place_transmitters, stated_weathers
from helpers.units.said import written_out
from tests.house.demo_designs import site_of

CHOICES = (Placing((1, 4), "average"), Placing((0, 4), "lowest"))


@cache
def judged():
    site = site_of("Tannery Row")
    hours = read_hours(demo_weather()["Greensboro"])
    return tuple(
        place_transmitters(Tower(site), pressure_window(site), drawn, CHOICES) for drawn in (draw(site, hours, 10), stated_weathers(site))
    )


def with_inside(study, inside):
    """A study in which the choices keep every door inside in these conditions."""
    return replace(study, tally=replace(study.tally, room_pa=np.where(inside, 1.0, -20.0)))


def findings(drawn, stated, own=CHOICES[0]):
    study, at_design = judged()
    study = replace(study, question=replace(study.question, own=own))
    return list(written_out(_placement_findings(with_inside(study, drawn), with_inside(at_design, stated))))


EVERY, NONE = np.ones(10, bool), np.zeros(10, bool)


def test_where_no_place_holds_in_the_sites_own_weathers_a_set_point_comes_first_and_no_place_is_proposed():
    (told,) = findings([NONE, EVERY], [[True, False, False], [True, True, False]])
    assert (told.severity, told.key) == ("wrong", NO_PLACE)
    assert told.figure.startswith("2 of 3 weathers at the most; first ")
    assert told.remedy.startswith("first a set point that suits, then the places")


def test_a_place_that_fails_in_the_design_weather_is_past_a_limit_however_good_its_year():
    (told,) = findings([EVERY, EVERY], [[True, True, False], [True] * 3])
    assert told.severity == "wrong"
    assert told.figure.startswith("2 of 3 weathers against 3; sampled conditions 100.0 % against 100.0 %")  # equal shares prove nothing
    assert told.remedy == f"{written_out(CHOICES[1].text())}; compared at the file's set point, which has to stand first"


def test_what_is_proposed_holds_in_the_sites_own_weathers():
    (told,) = findings([NONE, EVERY], [[True] * 3, [True, True, False]])
    assert told.remedy == ""
    assert "are the best of those tried" in told.what
