"""The course of a stair's doors, as a reader sees it."""

import pytest
from demo_designs import site_of

from helpers.lessons.page import cooling, cooling_of, only_run
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.units.said import written_out
from helpers.widgets.controls import UNITS


def test_the_reading_tells_of_both_buildings_in_words_and_as_a_table():
    shown = cooling("Larkfield House", "Northgate Tower")._repr_mimebundle_()
    for words in (
        "Larkfield House. Winter",
        "Northgate Tower. Winter",
        "turns over",
        "becomes flatter",
        "Ask: the designer first, page 12; then if run: storeys",
    ):
        assert words in shown["text/plain"]
    assert shown["text/html"].count("<table") == 2


def test_the_reading_follows_the_unit_switch():
    reading = cooling()
    before = reading.widget.value
    try:
        UNITS.system = "in. w.c."
        assert " Pa" not in reading.widget.value
        assert reading.widget.value != before
    finally:
        UNITS.system = "Pa"


def test_the_caution_looks_up_whether_the_loop_stays_under_the_ceiling_through_the_hour_and_names_both_speeds():
    """Larkfield's loop stays under its ceiling at rest, and goes above it in the first minutes: nobody runs that round."""
    barred, run = (written_out(only_run(name)) for name in ("Larkfield House", "Tannery Row"))
    fastest = max(cooling_of("Larkfield House").moments, key=lambda one: one.speed_hz)
    assert barred.startswith(f"▲ Larkfield House: this round is NOT RUN: {fastest.speed_hz:.1f} Hz at minute {fastest.minute:.0f} is above")
    assert fastest.speed_hz > ceiling_of(site_of("Larkfield House")).hz > cooling_of("Larkfield House").first.speed_hz - 1
    assert "NOT RUN:" not in run
    assert "under the day's ceiling" in run


def test_a_building_that_is_not_there_is_refused_by_name():
    with pytest.raises(ValueError, match=r"name must be one of Larkfield House, .*; got 'Elsewhere'"):
        cooling_of("Elsewhere")


def test_the_headline_is_of_the_row_with_the_least_room_and_as_grave_as_the_gravest():
    for name in ("Larkfield House", "Tannery Row"):
        study = cooling_of(name)
        state, moment, _, dp_pa, limit_pa = study.deciding()
        rows = [*study.moments, *(one for _, one in study.by_film)]
        least = min(min(one.rooms_pa.values()) for one in rows)
        assert (state == "wrong") == any(one.state == "wrong" for one in rows)
        assert abs(abs(dp_pa - limit_pa) - abs(least)) < 1e-9
        assert min(moment.rooms_pa.values()) == least
        told = cooling(name)._repr_mimebundle_()["text/plain"]
        assert f"minute {moment.minute:g} after the start" in told
