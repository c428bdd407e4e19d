"""Causes and effects at a glance: a cross for what each cause does, in agreement with the table of words and with the states."""

import pytest

from helpers.record.papers.matrix import HEADS, NOT, SAME, WITHOUT, X_HEADS, X


@pytest.fixture(scope="module")
def tables(folder_of):
    (paper,) = [paper for paper in folder_of("Tannery Row").papers if paper.key == "cause_and_effect"]
    return {table.key: table for table in paper.parts[0].tables}


def column(table, head):
    return [row[(HEADS if table.key == "matrix" else X_HEADS).index(head)] for row in table.rows]


def test_the_crosses_stand_in_the_order_of_the_causes_and_none_is_a_blank(tables):
    words, crosses = tables["matrix"], tables["crosses"]
    assert column(crosses, "Cause") == column(words, "Cause")
    assert all(all(row) for row in crosses.rows)
    assert len({len(row) for row in crosses.rows} | {len(X_HEADS)}) == 1


def test_a_cross_says_what_the_words_say_of_fan_damper_and_trouble(tables):
    words, crosses = tables["matrix"], tables["crosses"]
    said = {"run": (X, NOT), "off": (NOT, X), "as before": (SAME, SAME), "as the state that follows": (NOT, X)}
    pairs = zip(column(words, "Fan run command"), column(crosses, "Fan: run"), column(crosses, "Fan: stop"), strict=True)
    assert all((run, stop) == said[fan] for fan, run, stop in pairs if fan in said)
    for told, open_ in zip(column(words, "Intake damper command"), column(crosses, "Intake damper: open"), strict=True):
        assert (open_ == X) == told.startswith("open")
    for told, lamp in zip(column(words, "Trouble signal"), column(crosses, "Lamp: trouble"), strict=True):
        assert (lamp == X) == (told == "annunciates")


def test_the_loop_a_fixed_speed_and_a_hand_never_give_the_speed_together(tables):
    crosses = tables["crosses"]
    for row in crosses.rows:
        given = [row[X_HEADS.index(head)] for head in ("Speed: by the loop", "Speed: fixed, as agreed", "Speed: in MANUAL")]
        assert given.count(X) <= 1
        stops = row[X_HEADS.index("Fan: stop")] == X
        assert not (stops and X in given)
    by_loop = [row[0] for row in crosses.rows if row[X_HEADS.index("Speed: by the loop")] == X]
    assert by_loop == ["the fire alarm", "a clock, or a qualified person"]


def test_the_lamp_of_a_switch_is_lit_by_each_switch_that_its_point_names(folder_of, tables):
    crosses = tables["crosses"]
    lit = {row[0] for row in crosses.rows if row[X_HEADS.index("Lamp: switch not in AUTO")] == X}
    assert lit == {"panel to OFF", "panel to ON", "the switch at the drive to MANUAL", "fire service's panel not in AUTO: not in AUTO"}
    (points,) = [paper for paper in folder_of("Tannery Row").papers if paper.key == "points"]
    told = {row[0]: row[1] for row in points.parts[0].tables[0].rows}["lamp: switch not in AUTO"]
    assert "ON or OFF, or a switch at a drive in MANUAL" in told


@pytest.mark.parametrize("cause", ["a fault that the drive stops for", "no power at the drive"])
def test_a_contact_that_tells_wrongly_of_trip_or_mains_stops_no_fan(tables, cause):
    """The drive stands by itself then; the commands stay, for a cut wire tells the same."""
    words, crosses = tables["matrix"], tables["crosses"]
    row = next(row for row in crosses.rows if row[0] == cause)
    assert {row[X_HEADS.index(head)] for head in ("Fan: run", "Fan: stop", "Speed: by the loop", "Intake damper: shut")} == {WITHOUT}
    told = dict(zip(words.columns, next(row for row in words.rows if row[0] == cause), strict=True))
    assert told["Fan run command"] == "as in the state that would hold without this cause"
    assert told["Speed command"].startswith("as in the state that would hold without this cause; ")
