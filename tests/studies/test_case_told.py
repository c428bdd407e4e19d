"""What a panel says of a case of doors: its name in the same words everywhere, and the door that decides."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.lessons import LESSONS
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.design import design_panel
from helpers.studies.cases import FIRST_MINUTE, Case, case_said, doors_said
from helpers.studies.doors.case_told import case_told, hardest_tile
from helpers.studies.doors.columns import end_tiles
from helpers.studies.doors.stair_window import LIGHTEST_N, SimpleStair
from helpers.studies.doors.window import handle_force_n
from helpers.studies.readings.rules import allowed_pressures, compare_rules
from helpers.studies.signals.entered_scaling import WIRE_OFF, EnteredScaling
from helpers.units.said import written_out

SITE = "Larkfield House"
PASSES_PA = 61.5  # more than the window of its doors
NOW = Case("now")
TRIED = (NOW, replace(NOW, name=FIRST_MINUTE, stair=FIRST_MINUTE))


@pytest.fixture(scope="module")
def site():
    """The demo site as its file has it."""
    return read_site(demo_sites()[SITE])


def told(site, cases=TRIED, place=0, stated=None):
    """What a panel would say of one of the cases of a site."""
    window = allowed_pressures(site)
    comparison = compare_rules(tower := Tower(site), window, cases, rules=(site.control.rule,))
    return written_out(case_told(tower, window, comparison, place, stated or site))


def test_a_case_has_the_same_name_on_every_page_and_another_wind_or_warmth_is_told(site):
    assert written_out(case_said(NOW, site)) == "winter, stair at 10 °C, doors shut"
    assert written_out(case_said(TRIED[1], site, wind_speed_m_s=0.0)) == "winter, no wind, first minute, doors shut"
    assert written_out(case_said(replace(NOW, open_exits=(0,)), site, 5.0, 12.0)) == "outdoors 5 °C, stair at 12 °C, final exit 0 open"
    assert doors_said(Case("", open_doors=(6,))) == "stair door 6 open"
    panels = LESSONS.of("average_lowest_highest").panel(), design_panel(SITE).panel
    for set_point_pa in (40.0, 44.0):  # the one case that both pages open with, and another
        for panel in panels:
            panel.put_back()
            panel.controls["set_point_pa"].value = set_point_pa
        heads = {written_out((panel.verdict.head, panel.verdict.case)) for panel in panels}
        assert len(heads) == 1, heads
    for panel in panels:
        panel.put_back()


def test_where_all_is_well_nothing_is_to_be_done():
    assert written_out(SimpleStair(outdoor_c=20.0).to_do()).endswith(": 0 Pa spare at the least")  # what is to spare there, never nothing
    assert EnteredScaling().to_do() == ""


def test_the_door_that_decides_stands_on_a_tile_also_where_it_is_no_stair_door(site):
    still = site.with_changes(weather={"winter": {"wind_speed_m_s": 0.0}})
    found = told(still, stated=site)
    assert found["head"] == "1.1 Pa over 35.4 Pa at final exit 0"
    assert found["case"] == "winter, no wind, stair at 10 °C, doors shut"  # it alone is out: the headline has it
    assert found["tiles"][0] == ("Final exit 0", "36 Pa", "max. 35.4 Pa")
    assert len(found["tiles"]) == 3
    assert all(len(what.split()) <= 4 for what, _, _ in found["tiles"])  # a place; which end it is its limit says


def test_the_case_under_a_headline_names_every_door_that_is_out_by_use_and_end(site):
    found = told(site.with_changes(control={"rule": "lowest"}), place=1, stated=site)
    assert found["case"] == "winter, first minute, doors shut; 6 out: stair 9-13 too high; final exit 0 too high"
    assert found["tiles"][0][0] == "Stair door 13, 169 N"  # the headline tells its force
    assert found["tiles"][0][1:] == ("96 Pa", "max. 60.8 Pa")


def test_a_weather_beyond_the_designs_is_called_so(site):
    assert written_out(case_said(NOW, site, 35.0, 27.0)) == "outdoors 35 °C, hotter than the design's weathers, stair at 27 °C, doors shut"
    assert "colder than the design's weathers" in written_out(case_said(NOW, site, -20.0))


def test_a_final_exit_that_a_power_operator_closes_is_named_and_not_judged():
    panel = LESSONS.of("leakage_and_fan_duty").panel()
    panel.put_back(driven=True)
    assert written_out(panel.verdict.case).endswith("final exit 0: power operator, no closer judged")
    panel.put_back()


def test_the_hardest_door_stands_on_a_tile_with_the_force_that_a_hand_may_be_asked_for(site):
    tiles = {place: (figure, limit) for place, figure, limit in written_out(design_panel(SITE).panel.verdict).tiles}
    window, tower = allowed_pressures(site), Tower(site)
    comparison = compare_rules(tower, window, TRIED, rules=(site.control.rule,))
    result = comparison.results[0]
    force, limit = (handle_force_n(site.doors["flat landing"], dp) for dp in (float(result.door_dp_pa[1][13]), PASSES_PA))
    assert tiles["Hand, door 13, CHECK"] == (f"{force:.0f} N", "max. 133 N")
    assert limit > 133.4 > force
    assert hardest_tile(tower, window, result.door_dp_pa[1], np.zeros(len(site.storeys), bool)) == ()
    ends = end_tiles([0, 1], np.array([np.nan, np.nan]), (np.zeros(2), np.ones(2)), ("Air", "1", ""))
    assert list(ends) == [("Air", "1", "")]


def test_the_closer_of_a_simple_stair_is_the_heaviest_that_leaves_room_to_spare():
    stair = SimpleStair()
    closer = float(written_out(stair.to_do()).split()[2])
    assert stair.but(closer_n=closer).state == "good"
    assert stair.but(closer_n=closer + 1.0).state != "good"
    assert closer >= LIGHTEST_N
    assert written_out(stair.to_do()).endswith(
        f"or {stair.kept_storeys} storeys: 5 Pa kept at each end"
    )  # either of them leaves the same room
    assert stair.but(storeys=stair.kept_storeys).state == "good"
    assert stair.but(storeys=stair.kept_storeys + 1).state != "good"
    assert written_out(stair.case) == "outdoors -9 °C, stair 21 °C"
    assert stair.but(force_limit_n=100.0, least_pa=50.0).to_do().startswith("Ask: ")


def test_a_simple_stair_says_the_room_at_both_ends_and_how_many_doors_are_out():
    good, bad = SimpleStair(outdoor_c=21.0), SimpleStair()
    assert written_out(good.headline()) == f"{good.storeys} doors within {good.least_pa:.0f} to {good.most_pa:.0f} Pa; all: 0 downwards"
    assert good.tiles()[2] == ("Storeys, by stack effect", "no limit", f"{good.storeys} here")  # a supply point has one: page 12
    assert good.door_pa.min() == pytest.approx(good.least_pa)  # none above the least, as the headline has it
    assert written_out(bad.headline()) == f"16.3 N over 133.4 N at the highest door; {bad.too_heavy} doors out"
    assert SimpleStair(force_limit_n=100.0, least_pa=50.0).tiles()[1][2] == "no window"


def test_a_wrong_entry_is_put_right_by_the_plate_and_a_broken_wire_first_of_all():
    wrong = EnteredScaling(entered_high_pa=250.0)
    assert written_out(wrong.to_do()) == "Do: enter 0 to 125 Pa, 4-20 mA, as on the plate"
    assert EnteredScaling(inputs=WIRE_OFF).to_do() == "Do: drive in manual at a safe speed, announce it, mend the wire"
    assert written_out(replace(wrong, inputs=WIRE_OFF).to_do()) == "Do: first drive in manual, safe speed, announce it, mend the wire"
