"""The speeds of a day's rounds: no shut door past its maximum, the final exit least of all, whatever the walls leak."""

import numpy as np
import pytest

from helpers.model.air.conditions import Conditions
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.printed import CARRY, procedure_page
from helpers.studies.commissioning.crew.procedure import procedure
from helpers.studies.commissioning.crew.rounds import MANUAL, crew_rounds
from helpers.studies.commissioning.fields import Day
from helpers.studies.duty.full_speed import WALLS_TRIED
from helpers.studies.measured.steady_speeds import READ_PA, steady_speeds, top_speed

MAY = {"outdoor_c": 14.0, "stair_bottom_c": 19.0, "stair_top_c": 19.0, "floor_c": 22.0, "wind_speed_m_s": 2.0}


@pytest.fixture(scope="module")
def site():
    return read_site(demo_sites()["Larkfield House"])


@pytest.fixture(scope="module")
def rounds(site):
    return crew_rounds(site, day=Day(**MAY))


def test_no_printed_round_takes_the_final_exit_past_its_maximum_with_any_walls_tried(site, rounds):
    (row,) = [row for row in rounds.sheet.rows if row.use == "final exit"]
    assert rounds.steady.door == "final exit 0"
    shut = Conditions.of(site, "winter", **Day(**MAY).changes(site, "winter")).rows(np.zeros(len(WALLS_TRIED), int))
    shut.leak_factor = shut.leak_factor * np.array(WALLS_TRIED)[:, None]
    fastest = float(rounds.steady.speeds_hz[-1])
    at, above = (Tower(site).solve(shut, hz).exit_dp_pa[:, 0].max() for hz in (fastest, fastest + 0.3))
    assert at <= row.shuts_to_pa - READ_PA < above
    assert top_speed(Tower(site), shut.rows([0])) > fastest, "without the exit it would be faster"


def test_an_exit_that_leaves_too_little_is_watched_and_the_step_says_so(site):
    narrow = site.with_changes(fan={"lowest_speed_hz": 16.0})
    made = crew_rounds(narrow, day=Day(**MAY))
    assert made.steady.watched
    told = [step.do for step in procedure(made).steps if step.leaves == MANUAL and "steady speed" in step.title]
    assert told
    assert all("it is watched: before the fan starts two people" in text for text in told)
    shut = Conditions.of(narrow, "winter", **Day(**MAY).changes(narrow, "winter"))
    assert not steady_speeds(Tower(site), shut).watched


def test_the_procedure_has_its_carry_sheet_first_and_what_is_not_run_last(rounds):
    page = procedure_page(procedure(rounds, first="the set point"))
    assert 0 < page.index(CARRY) < page.index("Everybody told") < page.index("Annex, not to be carried")
