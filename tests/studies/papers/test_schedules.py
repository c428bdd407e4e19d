"""The schedules: what the record lays down in its own words, what it does not lay down in the same words, never a value."""

import pytest

from helpers.record.papers.quoted import Quoted
from helpers.record.papers.schedules import ASKED
from helpers.record.standing import SET_POINT
from helpers.units.said import written_out


def table(folder, key):
    paper = next(paper for paper in folder.papers if paper.key == "schedules")
    return next(one for part in paper.parts for one in part.tables if one.key == key)


def values(folder, key):
    return {row[0]: row[1] for row in table(folder, key).rows}


def test_where_the_set_point_fails_no_figure_of_a_fan_is_handed_out(folder_of, design_named):
    told, first = values(folder_of("Larkfield House"), "fan"), design_named("Larkfield House").standing.first(SET_POINT)
    assert first.startswith("not laid down")
    assert {told[label] for label in ASKED} == {"not laid down: N1"}
    assert f"N1: {first.removeprefix('not laid down: ')}." in table(folder_of("Larkfield House"), "fan").note
    assert told["Curve that the record was worked out with"].startswith("FAIL")


def test_a_fan_rests_on_the_highest_speed_and_the_damper_that_are_still_to_be_settled(folder_of):
    for name, told, state in (("Tannery Row", "after highest speed in smoke control and relief damper are settled", "attention"),
                              ("all laid down", "the one stated", "attention")):  # fmt: skip
        fan = table(folder_of(name), "fan")
        assert fan.rows[0][1].endswith(told)
        assert fan.states[0] == state
    assert "Good with the final exit shut alone" in table(folder_of("all laid down"), "fan").rows[0][2]


def test_a_damper_that_fails_is_not_the_one_that_is_needed(folder_of):
    assert values(folder_of("Tannery Row"), "damper")["Relief damper, in one line"].startswith("stated: FAIL; needed: 3 dampers")


def test_the_schedule_of_the_drive_marks_a_start_whose_cases_are_not_all_held(folder_of):
    drive = table(folder_of("Tannery Row"), "drive")
    marks = {row[0]: state for row, state in zip(drive.rows, drive.states, strict=True)}
    assert marks["Start speed, and least speed of the loop"] == "attention"


def test_the_lag_of_a_transmitter_and_the_ends_that_its_file_has_are_told(folder_of):
    told = values(folder_of("Larkfield House"), "transmitter PDT-1")
    assert "0 Pa at 4 mA" in told["Display at the low end of the signal"]
    assert told["Lag of the transmitter"] == "0.1 s"


def test_where_all_is_laid_down_the_figures_are_those_of_the_record(folder_of, design_named):
    design, told = design_named("all laid down"), values(folder_of("all laid down"), "fan")
    figures = {figure.label: figure.text for figure in design.section("fan").figures}
    assert design.standing.stands
    assert {label: told[label] for label in ASKED} == {label: figures[label] for label in ASKED}


@pytest.mark.parametrize(("name", "shown"), [("Larkfield House", "not laid down"), ("all laid down", "-25 Pa at 4 mA")])
def test_the_ends_of_a_range_are_ordered_only_where_the_range_is_laid_down(folder_of, name, shown):
    assert values(folder_of(name), "transmitter PDT-1")["Display at the low end of the signal"].startswith(shown)


def test_what_is_only_stated_is_no_pass(folder_of):
    stated = table(folder_of("all laid down"), "drive")
    assert "good" not in stated.states
    assert "wrong" in table(folder_of("Tannery Row"), "drive").states


def test_a_line_that_the_schedule_does_not_have_is_not_stated(design_named):
    assert written_out(Quoted(design_named("all laid down")).setting("fan", "no such line")).value == "not stated"


def test_both_signals_of_a_stairs_drive_have_a_live_zero_at_standstill_in_points_schedule_and_question(folder_of):
    made = {paper.key: paper for paper in folder_of("Tannery Row").papers}
    held = values(folder_of("Tannery Row"), "drive")["Signals of speed command and fan speed"]
    assert "each a current with a live zero, standstill at its low end" in held
    points = {row[0]: row for part in made["points"].parts for one in part.tables for row in one.rows}
    assert all("output signals" in points[name][3] for name in ("speed command", "fan speed"))
    asked = [row for part in made["enquiry"].parts for one in part.tables for row in one.rows if "output signals" in row]
    assert ["Both are a current with a live zero: standstill at its low end" in " ".join(row) for row in asked] == [True]
