"""A stair after the decisions that its record asks for, with every question answered: nothing fails, and its papers can be keyed in."""

import pytest
from demo_designs import design_for, site_of

from helpers.model.answers import read_answers
from helpers.model.site.file import SITES_FOLDER, read_site
from helpers.record.board import state_of
from helpers.record.papers.enquiry import questions_of
from helpers.record.papers.quoted import Quoted

VARIANTS = SITES_FOLDER.parent / "variants"
SITE, ANSWERS = VARIANTS / "tannery_row_settled.toml", VARIANTS / "tannery_row_settled_answers.toml"
DIFFERS = {  # from Tannery Row, each with its reason beside it in the file
    "name", "evacuation", "ceiling_height_m", "storeys.0.exit_faces_deg", "doors.street.closer_force_n",
    "doors.street.closing_share", "stair.heat_surface_m2", "stair.film_w_m2k", "stair.wall_effusivity", "stair.relief.area_m2",
    "stair.relief.count", "fan.ramp_s", "fan.ramp_down_s", "fan.brake_power_w", "fan.brake_short_power_w", "fan.brake_short_time_s",
    "fan.smoke_lowest_speed_hz", "fan.smoke_highest_speed_hz", "control.gain", "control.integral_time_s", "control.input_scan_s",
    "control.bus_delay_s", "standby.drive_s",
    *(f"transmitters.{at}.{key}" for at in (0, 1) for key in ("filter_s", "damping_s", "tube_length_m", "tube_bore_m")),
}  # fmt: skip


@pytest.fixture(scope="module")
def design():
    return design_for(read_site(SITE))


@pytest.fixture(scope="module")
def quoted(design):
    return Quoted(design, read_answers(ANSWERS, design.site.name))


def _flat(thing, at=""):
    """{place in the file: value} of nested mappings and lists."""
    if isinstance(thing, dict | list):
        pairs = thing.items() if isinstance(thing, dict) else enumerate(thing)
        return {place: value for key, one in pairs for place, value in _flat(one, f"{at}.{key}".lstrip(".")).items()}
    return {at: thing}


def test_it_is_tannery_row_but_for_what_was_decided():
    ours, first = (_flat(site.model_dump()) for site in (read_site(SITE), site_of("Tannery Row")))
    assert {place for place in ours | first if ours.get(place) != first.get(place)} == DIFFERS


def test_nothing_fails_and_what_a_loop_is_set_to_is_laid_down(design, quoted):
    assert [one.what for one in design.record().findings if one.severity == "wrong"] == []
    stated = Quoted(design)
    lines = {(line.group, line.name): state_of(line) for line in stated.lines}
    assert [place for place, state in lines.items() if state == "wrong"] == []
    laid = ("set point", "gain", "integral time"), ("highest speed in smoke control", "ramp up", "start speed, and least speed of the loop")
    assert {lines[group, name] for group, names in zip(("loop", "fan"), laid, strict=True) for name in names} <= {"good", "attention"}
    assert {lines["failure", name] for name in ("on a failed reading", "fallback speed", "alarm on PDT-1")} <= {"good", "attention"}
    asked = {"/".join(place) for place, state in lines.items() if state == "open" and place[0] != "sheet"}
    assert asked <= set(quoted.answers.by_question())  # what is open is a question, and answered


def test_every_question_is_answered_by_a_role_with_a_date(quoted):
    assert [one.key for one in questions_of(quoted) if one.answer is None] == []
    assert {one.key for one in questions_of(quoted)} == set(quoted.answers.by_question())
