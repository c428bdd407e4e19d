"""What a panel says of a case of doors: its name in the same words everywhere, and what to do only where it was tried and helps."""

from dataclasses import replace

import numpy as np
import pytest

from helpers.lessons import LESSONS
from helpers.model.air.tower import Tower
from helpers.model.site.file import demo_sites, read_site
from helpers.pages.design import design_panel
from helpers.studies.cases import FIRST_MINUTE, Case, case_said, doors_said
from helpers.studies.doors.case_told import NOTHING_HELPS, case_told, to_do
from helpers.studies.doors.columns import end_tiles
from helpers.studies.doors.stair_window import LIGHTEST_N, SimpleStair
from helpers.studies.readings.rules import allowed_pressures, compare_rules
from helpers.studies.signals.entered_scaling import WIRE_OFF, EnteredScaling
from helpers.units.said import written_out

SITE = "Larkfield House"
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


def good_with(site, cases=TRIED):
    """Whether a site keeps every shut door inside in all the cases."""
    return compare_rules(Tower(site), allowed_pressures(site), cases, rules=(site.control.rule,)).results[0].good.all()


def test_a_case_has_the_same_name_on_every_page_and_another_wind_or_warmth_is_told(site):
    assert written_out(case_said(NOW, site)) == "winter, stair at 10 °C, doors shut"
    assert written_out(case_said(TRIED[1], site, wind_speed_m_s=0.0)) == "winter, no wind, first minute, doors shut"
    assert written_out(case_said(replace(NOW, open_exits=(0,)), site, 5.0, 12.0)) == "outdoors 5 °C, stair at 12 °C, final exit 0 open"
    assert doors_said(Case("", open_doors=(6,))) == "stair door 6 open"
    panels = LESSONS.of("average_lowest_highest").panel(), design_panel(SITE).panel
    heads = {written_out((panel.put_back().head, panel.verdict.case, panel.verdict.do)) for panel in panels}
    assert len(heads) == 1, heads  # the one case that both pages open with


def test_what_is_to_be_done_does_what_it_says_in_the_very_cases_it_was_tried_in(site):
    mild = site.with_changes(control={"set_point_pa": 60.0, "rule": "lowest"}, doors={"street": dict.fromkeys(
        ("closer_force_n", "handle_to_edge_m", "force_limit_n", "latch_force_n", "closing_share"))})  # fmt: skip
    do = told(mild, (replace(NOW, weather="mild"),))["do"]
    assert do.startswith("Do: set point "), do
    low = float(do.split()[3])
    assert not good_with(mild, (replace(NOW, weather="mild"),))
    assert good_with(mild.with_changes(control={"set_point_pa": low}), (replace(NOW, weather="mild"),))


def test_lighter_closers_are_only_named_with_the_set_point_that_then_holds_every_door(site):
    do = told(site)["do"]
    assert do.startswith("Do: power-operate exit, stair closers "), do
    words = do.replace(",", "").split()
    closer, set_point = float(words[words.index("closers") + 1]), float(words[-3])
    (name,) = {storey.stair_door for storey in site.storeys if storey.stair_door}
    street = {"street": dict.fromkeys(("closer_force_n", "handle_to_edge_m", "force_limit_n", "latch_force_n", "closing_share"))}
    change = {"control": {"set_point_pa": set_point}, "doors": street}
    assert not good_with(site.with_changes(**change))
    assert good_with(site.with_changes(**change | {"doors": street | {name: {"closer_force_n": closer}}}))


def test_where_nothing_tried_helps_a_page_is_named_and_where_all_is_well_nothing_is_said(site):
    assert told(site, (replace(NOW, open_exits=(0,)),))["do"] == NOTHING_HELPS
    assert to_do("average", 40.0, {"average": None, "lowest": None}, None) == NOTHING_HELPS
    assert "lowest reading, 26 to 29 Pa" in written_out(to_do("average", 40.0, {"average": None, "lowest": (26.0, 29.0)}, (38.0, 41.0)))
    assert SimpleStair(outdoor_c=20.0).to_do() == ""
    assert EnteredScaling().to_do() == ""


def test_the_door_that_decides_stands_on_a_tile_also_where_it_is_no_stair_door(site):
    still = site.with_changes(weather={"winter": {"wind_speed_m_s": 0.0}})
    found = told(still, stated=site)
    assert found["head"] == "1 Pa over 35 Pa at final exit 0"
    assert found["tiles"][0] == ("Final exit 0", "36 Pa", "max. 35 Pa")
    assert len(found["tiles"]) == 3
    ends = end_tiles([0, 1], np.array([np.nan, np.nan]), (np.zeros(2), np.ones(2)), ("Air", "1", ""))
    assert list(ends) == [("Air", "1", "")]


def test_the_closer_of_a_simple_stair_is_the_heaviest_that_leaves_room_to_spare():
    stair = SimpleStair()
    closer = float(written_out(stair.to_do()).split()[3])
    assert stair.but(closer_n=closer).state == "good"
    assert stair.but(closer_n=closer + 1.0).state != "good"
    assert closer >= LIGHTEST_N
    assert f"or {stair.most_storeys} storeys a supply" in stair.to_do()
    assert stair.but(force_limit_n=100.0, least_pa=50.0).to_do().startswith("Ask: ")


def test_a_wrong_entry_is_put_right_by_the_plate_and_a_broken_wire_first_of_all():
    wrong = EnteredScaling(entered_high_pa=250.0)
    assert written_out(wrong.to_do()) == "Do: enter 0 to 125 Pa, 4-20 mA, as on the plate"
    assert EnteredScaling(inputs=WIRE_OFF).to_do() == "Do: mend the wire"
    assert written_out(replace(wrong, inputs=WIRE_OFF).to_do()) == "Do: mend the wire; enter 0 to 125 Pa, 4-20 mA"
