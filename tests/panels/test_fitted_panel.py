"""The panel of a test day: its headline is of the door furthest out, and that door is on the picture."""

import numpy as np
import pytest

from helpers.pages.measured.fitted import OPENED, SHUT, FittedPanel, doors_plot
from helpers.plots.plot import Line
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.stops import alarms_table, new_ceiling_briefly, new_ceiling_said
from helpers.studies.measured.told import furthest_out
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS


@pytest.fixture(scope="module")
def panel():
    """Made once, alone with the unit switch."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(UNITS, "_listeners", [])
        patch.setattr(UNITS, "_system", "Pa")
        yield FittedPanel()


def out_pa(one):
    (least, most), middle = one.window_pa, one.pressures_pa[1]
    return max(least - middle, middle - most)


@pytest.mark.parametrize("doors", [SHUT, OPENED])
def test_the_headline_and_its_tile_are_of_the_door_furthest_out_of_all(panel, doors):
    verdict = panel.panel.put(doors=doors, set_point_pa=40.0)
    every = panel.found.by_door(doors == SHUT, 40.0)
    worst = max((one for one in every if one.state == "wrong"), key=out_pa)
    weather = worst.case.split(",")[0]
    assert verdict.head.endswith(f"at {worst.door} in {weather}")
    assert float(verdict.head.split()[0]) == pytest.approx(out_pa(worst), abs=1.0)  # each of the two is rounded
    assert verdict.case.startswith(f"Larkfield House fitted to its test day; {worst.case}; ")
    what, value, limit = written_out(verdict.tiles[0])
    assert what.startswith(f"{worst.door.capitalize()}, {weather}, ")
    assert what.endswith(" Pa")  # the interval, which no headline is taken from
    assert abs(float(value.split()[0]) - float(limit.split()[1])) == pytest.approx(float(verdict.head.split()[0]))  # what is over or short
    assert limit.split()[0] == ("min." if worst.pressures_pa[1] < worst.window_pa[0] else "max.")


def test_every_finding_of_a_door_says_in_which_weather_its_figure_is(panel):
    doors = [one for one in panel.section.findings if "of the buildings" in one.what or "every building" in one.what]
    assert len({one.why.split(",")[0] for one in doors}) > 1  # else nothing is told apart
    assert [one.figure for one in doors if f" in {one.why.split(',')[0]}" not in one.figure] == []


def test_the_list_begins_with_the_door_that_the_headline_is_of(panel):
    worst = furthest_out(panel.found.by_door(True, panel.site.control.set_point_pa))
    assert panel.section.findings[0].what.startswith(f"{worst.door}: ")
    assert panel.section.findings[0].why == worst.case


def test_how_far_a_door_is_out_at_the_most_is_what_its_shown_interval_is_beyond_its_shown_limit(panel):
    """Read off the page: an interval to 51.4 Pa beside 35.4 Pa, and beside it "up to 15.6 Pa out"."""
    verdict = panel.panel.put(doors=SHUT, set_point_pa=40.0)
    what, _, limit = written_out(verdict.tiles[0])
    high, most = (float(one.split()[-2]) for one in (what, limit))
    worst = furthest_out(panel.found.by_door(True, 40.0))
    figure = next(one.figure for one in panel.section.findings if one.what.startswith(f"{worst.door}: "))
    assert limit.startswith("max. ")
    assert f"up to {high - most:.1f} Pa out" in figure


def test_where_no_door_fails_the_headline_is_of_the_least_sure(panel):
    some = [one for one in panel.found.by_door(True, 40.0) if one.state != "wrong"]
    worst = furthest_out(some)
    assert worst.probability == some[0].probability
    assert worst.room_pa == min(one.room_pa for one in some if one.probability == worst.probability)


def test_the_picture_is_in_the_readers_units(panel):
    assert [written_out(doors_plot(panel.found, True, 40.0), system).system for system in ("Pa", "in. w.c.")] == ["Pa", "in. w.c."]


def test_the_final_exit_has_its_bar_its_limit_and_its_mark_on_the_picture_in_a_row_of_its_own(panel):
    plot = written_out(doors_plot(panel.found, True, 40.0))
    (axes,) = plot.axes
    exits = [one for one in panel.found.by_door(True, 40.0) if one.use == "final exit"]
    limits = [line for line in axes.layers if isinstance(line, Line) and line.label == "its limit"]
    marks = np.concatenate([line.x for line in axes.layers if isinstance(line, Line) and line.label in ("good", "attention", "wrong")])
    assert len(exits) == len(limits) == 1
    assert exits[0].pressures_pa[1] in marks
    assert limits[0].x == pytest.approx([exits[0].window_pa[1]])  # what its closer shuts it against
    assert limits[0].y[0] < 0  # under the lowest storey, and so beside no stair door
    assert exits[0].door in plot.words
    assert any("all weathers" in entry.text for entry in plot.legend)
    assert any("worst weather" in entry.text for entry in plot.legend)


def test_a_door_that_fails_in_every_building_is_the_designers_and_another_reading_is_named_where_it_tells_something(panel):
    told = written_out(panel.panel.put_back())
    worst = furthest_out(panel.found.by_door(True, panel.site.control.set_point_pa))
    assert worst.probability == 0
    assert told.do.startswith(f"Ask: the designer, {worst.door}: no closer suffices; ")
    assert told.do.endswith(written_out(new_ceiling_briefly(panel.fitted)))  # for the next hand on a fan
    assert written_out(new_ceiling_said(panel.fitted)) in told.words
    assert any(one.what.startswith(worst.door) and "designer" in one.remedy for one in panel.section.findings)
    assert told.case.startswith("Larkfield House fitted to its test day; ")
    assert list(panel.days) == ["Larkfield House: may"]
    (exit_told,) = (one.remedy for one in panel.section.findings if one.what.startswith(worst.door))
    assert "no closer does both" in exit_told  # as the record has it, and never a closer alone
    assert "a closer that shuts" not in exit_told


def test_no_alarm_on_a_low_speed_is_proposed_that_the_ceiling_as_found_would_let_ring_all_the_time(panel):
    table = written_out(alarms_table(panel.fitted))
    assert ceiling_of(panel.fitted.site).hz < 19  # and sound loops run at 19 Hz or more
    (filed, found) = next(row[1:3] for row in table.rows if row[0] == "fan speed")
    assert filed.startswith("below 23 Hz")
    assert found == "at either end stop"
    assert "19 Hz to 26 Hz" in table.note
    assert "No alarm on a low speed then, neither on the file's: it would ring all the time" in table.note
    assert "the set point is not held in any of them" in table.note
