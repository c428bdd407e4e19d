"""One stair door open on each storey, with the fan's margins and the alarm: what the design does not name is not judged, and told."""

import numpy as np
import pytest
from demo_designs import design_of

from helpers.record.sections.door_anywhere import KEY, NO_LIMITS, NOT_JUDGED, anywhere_table
from helpers.record.sections.one_open import one_open
from helpers.studies.duty.fan_needed import fan_needed
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def design():
    return design_of("Tannery Row")


@pytest.fixture(scope="module")
def table(design):
    return next(one for one in design.section("failure").tables if one.key == KEY)


def test_every_storey_with_a_stair_door_has_a_row(design, table):
    levels = [str(storey.level) for storey in design.site.storeys if storey.stair_door and storey.stair_door_count]
    assert [row[0] for row in table.rows] == levels


def test_a_storey_that_the_design_does_not_name_says_what_it_would_be_and_is_no_pass_with_less(design, table):
    named = {str(level) for level in design.site.design.open_doors} if len(design.site.design.open_doors) == 1 else set()
    others = [(state, row) for state, row in zip(table.states, table.rows, strict=True) if row[0] not in named]
    assert others
    assert all(row[1].startswith("no: would be ") for _, row in others)
    assert all(state != "good" for state, row in others if not row[1].endswith("PASS"))
    assert NOT_JUDGED in table.note


def test_the_fan_is_compared_in_the_case_that_asks_for_most_with_its_margins(design, table):
    opened = one_open(design)
    needed = fan_needed(design.tower, opened.result.cases, design.site.control.rule, design.site.control.set_point_pa)
    for row in table.rows:
        places = [at for at, case in enumerate(opened.result.cases) if case.open_doors == (int(row[0]),)]
        held = needed.reached[places].all() and (needed.margin_hz[places] <= needed.highest_hz).all()
        assert ("enough: " in row[5] and "not enough" not in row[5]) == bool(held)


def test_the_alarm_is_silent_or_rings_as_the_readings_say(design, table):
    opened, limits = one_open(design), design.fallback.alarm_limits
    rung = np.logical_or(*limits.passed(opened.result.readings_pa))
    for row in table.rows:
        places = [at for at, case in enumerate(opened.result.cases) if case.open_doors == (int(row[0]),)]
        assert row[6].startswith("rings" if rung[places].any() else "silent")
    without = written_out(anywhere_table(design))
    assert {row[6] for row in without.rows} == {NO_LIMITS}
