"""The floor-by-floor sheet: what is expected is the model's, what is judged is the window."""

import numpy as np
import pytest

from helpers.formulas import doors as door_formulas
from helpers.model.conditions import Conditions
from helpers.model.site import demo_sites, read_site
from helpers.model.tower import Tower
from helpers.studies.acceptance import DIRECTIONS, Measured, acceptance_sheet


@pytest.fixture(scope="module")
def larkfield():
    return read_site(demo_sites()["Larkfield House"])


@pytest.fixture(scope="module")
def sheet(larkfield):
    return acceptance_sheet(larkfield)


def test_the_expected_pressures_are_those_of_the_held_loop(larkfield, sheet):
    tower = Tower(larkfield)
    for opened, column in (((), "shut_pa"), (sheet.open_doors, "open_pa")):
        held = tower.hold(Conditions.of(larkfield, "winter", opened))
        expected = [getattr(row, column) for row in sheet.rows]
        assert np.allclose(expected, held.air.door_dp_pa[0], atol=1e-3)


def test_every_storey_with_a_stair_door_has_a_row(larkfield, sheet):
    assert [row.level for row in sheet.rows] == [storey.level for storey in larkfield.storeys if storey.stair_door]
    assert {row.level for row in sheet.rows if row.opened} == set(sheet.open_doors)


@pytest.mark.parametrize(
    ("measured", "state", "words"),
    [
        (Measured(), "", ""),
        (Measured(shut_pa=35.0), "good", "inside its limits"),
        (Measured(shut_pa=22.0), "wrong", "smoke can pass"),
        (Measured(shut_pa=70.0), "wrong", "too heavy to open"),
        (Measured(shut_pa=58.0), "attention", "was expected"),
        (Measured(force_n=140.0), "wrong", "limit 133 N"),
        (Measured(force_n=130.0), "attention", "just under the limit"),
        (Measured(force_n=40.0), "attention", "look at the closer"),
        (Measured(force_n=105.0), "good", "inside its limits"),
        (Measured(direction="out of the stair"), "good", "inside its limits"),
        (Measured(direction="into the stair"), "wrong", "smoke would, too"),
        (Measured(direction="none"), "attention", "no air moves"),
        (Measured(open_pa=-2.0), "wrong", "turns round"),
        (Measured(shut_pa=22.0, direction="none"), "wrong", "no air moves"),
    ],
)
def test_what_was_measured_is_judged_at_once(sheet, measured, state, words):
    found, said = sheet.judge(4, measured)
    assert found == state
    assert words in said


def test_in_inches_the_judgement_speaks_inches(sheet):
    assert "0.088 in. w.c." in sheet.judge(4, Measured(shut_pa=22.0), "in. w.c.")[1]


def test_a_reading_just_short_of_the_least_is_not_written_like_it(sheet):
    assert sheet.judge(4, Measured(shut_pa=24.8)) == ("wrong", "24.8 Pa, at least 25.0 Pa asked for: smoke can pass")


def test_a_door_that_opens_with_the_pressure_gets_lighter_by_it_and_is_pushed_open(larkfield):
    """Its handle takes what the closer leaves, not closer and pressure together; too much opens it and does not jam it."""
    kind = larkfield.storeys[4].stair_door
    site = larkfield.with_changes(doors={kind: {"opens": "with pressure"}})
    door, (row, usual) = site.doors[kind], (acceptance_sheet(one).rows[4] for one in (site, larkfield))
    push = door_formulas.opening_force(row.shut_pa, *door.leaf) - door.closer_force_n
    assert row.force_n == pytest.approx(door.closer_force_n - push)
    assert 0 < row.force_n < door.closer_force_n < usual.force_n
    state, said = acceptance_sheet(site).judge(row.level, Measured(shut_pa=row.most_pa + 5.0, force_n=row.force_n))
    assert state == "wrong"
    assert said.endswith("pushed open")


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda site, sheet: sheet.judge(99, Measured()), "level must be one on the sheet"),
        (lambda site, sheet: sheet.judge(4, Measured(direction="up")), ", ".join(DIRECTIONS)),
        (lambda site, sheet: acceptance_sheet(site, "typhoon"), "typhoon"),
    ],
)
def test_wrong_input_gets_a_sentence(larkfield, sheet, call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call(larkfield, sheet)
