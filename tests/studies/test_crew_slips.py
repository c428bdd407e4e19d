"""A reading of the wrong sign, or one that can hardly be, is no PASS on a test day, and is named with its cell."""

import re

import pytest

from helpers.model.site.criteria import AIR
from helpers.model.site.file import demo_sites, read_site
from helpers.studies.commissioning.crew.blanks import leaves_of, place_said
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.day import read_day
from helpers.studies.commissioning.crew.example import example_books
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.report import day_report
from helpers.studies.commissioning.crew.rounds import crew_rounds
from helpers.studies.commissioning.fields import Day
from helpers.units.said import written_out
from tests.studies.test_crew import MAY, as_expected, larkfield  # noqa: F401
from tests.studies.test_crew_limits import line, report  # noqa: F401

WRONG_SIGNS = {
    "a stair door": (("stair door", 8), -35.6, "wrong", "is below 0 with the fan on, smoke goes into the stair"),
    "a stair door, just": (("stair door", 12), -0.4, "attention", "is below 0 with the fan on, smoke goes into the stair"),
    "a final exit": (("final exit", 0), -40.0, "attention", "has the other sign than"),
    "the stair over outdoors": (("stair over outdoors", 13), -50.0, "attention", "has the other sign than"),
}


@pytest.mark.parametrize("what", WRONG_SIGNS)
def test_a_reading_of_the_wrong_sign_is_no_pass_and_named_with_its_cell(report, larkfield, what):  # noqa: F811
    place, value, state, words = WRONG_SIGNS[what]
    found = report(filled={("pressures", place, "steady speed 3"): value})
    one = line(found, "Rounds", f"{place_said(larkfield.rounds, *place)}, in")
    assert one.state == state
    assert words in written_out(one.words)
    assert "look at the tubes: which side is high?" in one.words
    assert re.search(r"\(cell [A-Z]+\d+\)", one.words)
    assert line(found, "Steps", "All doors shut, steady speed 3").state == state


@pytest.mark.parametrize("label", ["steady speed 1", "steady speed 3", "automatic, doors shut", "open: 6"])
def test_a_round_with_every_sign_turned_never_passes(report, larkfield, label):  # noqa: F811
    one = larkfield.rounds.round(label)
    turned = {("pressures", place, label): -pa for place, pa in one.expected_pa.items() if not one.stands_open(*place)}
    found = report(filled=turned)
    doors = [of for of in found.lines if of.part == "Rounds" and of.device.startswith("stair door") and label in of.words]
    asked = [place for place in one.expected_pa if place[0] == "stair door" and not one.stands_open(*place)]
    assert len(doors) == len(asked)
    assert {of.state for of in doors} == {"wrong"}
    own = [step for step in larkfield.steps if label in step.judged]
    assert {line(found, "Steps", step.label).state for step in own} == {"wrong"}


@pytest.mark.parametrize(("times", "words"), [(10, "a slip of the point"), (0.1, "a slip of the point"), (0.17, "6 times as little")])
def test_a_pressure_that_can_hardly_be_is_no_pass(report, larkfield, times, words):  # noqa: F811
    place, label = ("stair door", 3), "steady speed 2"
    usual = larkfield.rounds.round(label).expected_pa[place]
    found = report(filled={("pressures", place, label): times * usual})
    one = line(found, "Rounds", f"{place_said(larkfield.rounds, *place)}, in")
    assert one.state in ("wrong", "attention")
    assert f"can hardly be, {words}; some {usual:.1f} Pa is to be expected" in written_out(one.words)


def test_a_building_twice_as_tight_is_no_slip(report, larkfield):  # noqa: F811
    label = "steady speed 1"
    every = {("pressures", place, label): 1.9 * pa for place, pa in larkfield.rounds.round(label).expected_pa.items()}
    assert not [of.device for of in report(filled=every).lines if "can hardly be" in of.words or "other sign" in of.words]


@pytest.mark.parametrize(("times", "state"), [(10, "wrong"), (0.1, "attention")])
def test_a_force_that_can_hardly_be_beside_the_other_leaves_is_no_pass(report, larkfield, times, state):  # noqa: F811
    key, row, words = next(one for one in leaves_of(larkfield.rounds) if one[1].level == 12)
    step = next(force.criterion.step for force in row.forces if force.expected_n and force.criterion.step in AIR)
    usual = next(force.expected_n for force in row.forces if force.criterion.step == step)
    found = report(filled={("doors", key, f"on {step}"): times * usual})
    one = line(found, "Doors", words)
    assert one.state == state
    assert "can hardly be, a slip of the point" in one.words


def test_a_flow_a_tenth_of_what_is_expected_is_no_pass(report, larkfield):  # noqa: F811
    flow = larkfield.rounds.round("steady speed 2").flow_m3_s / 10
    found = report(filled={("fan", "flow", "steady speed 2"): flow})
    fan = line(found, "Rounds", "fan, in the rounds")
    assert fan.state == "attention"
    assert "can hardly be, a slip of the point" in fan.words


def test_what_goes_into_the_days_file_with_a_wrong_sign_is_said_with_its_cell(larkfield, tmp_path):  # noqa: F811
    filled = as_expected(larkfield) | {("pressures", ("stair door", 8), "steady speed 3"): -35.6}
    write_book(larkfield, tmp_path / "a.xlsx", filled=filled)
    found = read_day(larkfield.rounds.site, [tmp_path / "a.xlsx"])
    assert found.test_day is not None
    told = [written_out(one) for one in found.unread if "in the day's file as it was read" in one]
    assert len(told) == 1
    assert re.search(r"steady speed 3, stair door 8: -35\.6 Pa \(cell [A-Z]+\d+\).*which side is high\?, in a\.xlsx", told[0])


@pytest.mark.parametrize(("site", "seed"), [("Larkfield House", 11), ("Larkfield House", 12), ("Northgate Tower", 13)])
def test_no_reading_of_a_drawn_building_is_taken_for_a_slip(tmp_path, site, seed):
    """Buildings up to several times as leaky as their file, gauges that err: what two pairs read is no slip."""
    paths, _, _ = example_books(read_site(demo_sites()[site]), tmp_path, seed)
    found = read_day(read_site(demo_sites()[site]), paths)
    told = [written_out(one.words) for one in day_report(found).lines if "can hardly be" in one.words or "other sign" in one.words]
    assert not told


def test_a_reading_is_not_held_against_the_figures_of_another_weather(report, larkfield):  # noqa: F811
    """Two books with two outdoor temperatures leave none: what is expected is then the site file's winter and not the day."""
    place, label = ("stair door", 3), "steady speed 2"
    high = {("pressures", place, label): 10 * larkfield.rounds.round(label).expected_pa[place]}
    assert "can hardly be" in line(report(filled=high), "Rounds", f"{place_said(larkfield.rounds, *place)}, in").words
    found = report(filled=high | {("day", "outdoor_c", "found"): None})
    assert "can hardly be" not in line(found, "Rounds", f"{place_said(larkfield.rounds, *place)}, in").words
    assert "no reading is asked for its sign or size" in line(found, "Weather", "weather found").words


def test_figures_of_another_wind_accuse_no_cell(larkfield, tmp_path):  # noqa: F811
    """Two people's winds conflict, neither is used: what is expected is of the site file's wind, and no reading is held to it."""
    steps = procedure(crew_rounds(larkfield.rounds.site, day=MAY))
    place, label = ("stair door", 3), "steady speed 2"
    usual = steps.rounds.round(label).expected_pa[place]
    filled = as_expected(steps) | {("pressures", place, label): 10 * usual, ("day", "wind_speed_m_s", "found"): 2.0}
    for other, accused in ({}, True), ({("day", "wind_speed_m_s", "found"): 20.0}, False):
        paths = [write_book(steps, tmp_path / f"{number}.xlsx", filled=one) for number, one in enumerate((filled, other))]
        found = read_day(steps.rounds.site, paths)
        assert bool(found.filled.conflicts) != accused
        assert any("can hardly be" in written_out(one.words) for one in day_report(found).lines) == accused


def test_a_pairs_doors_in_inches_are_held_to_what_the_others_read_and_shown_as_typed(report, larkfield):  # noqa: F811
    """Half of the doors in another unit: the middle of all would be of neither; what is shown is what stands in the cell."""
    label = "steady speed 3"
    usual = larkfield.rounds.round(label).expected_pa
    typed = {("pressures", ("stair door", level), label): round(usual["stair door", level] / 249.09, 3) for level in range(7)}
    found = report(filled=typed)
    for level in range(7):
        told = written_out(line(found, "Rounds", f"stair door {level}, in").words)
        assert f"{typed['pressures', ('stair door', level), label]:.3f} Pa (cell " in told
        assert f"can hardly be, in. w.c. typed as Pa?; some {usual['stair door', level]:.1f} Pa is to be expected" in told
    assert "can hardly be" not in written_out(line(found, "Rounds", "stair door 9, in").words)


@pytest.mark.parametrize(("outdoor_c", "asked"), [(57.4, True), (38.0, False)])
def test_degrees_fahrenheit_written_as_celsius_are_asked_after(larkfield, outdoor_c, asked):  # noqa: F811
    told = written_out([*Day(outdoor_c=outdoor_c).doubts(larkfield.rounds.site)])
    assert [one.partition(": ")[2] for one in told] == ["degF? That would be 14.1 °C"] * asked
