"""The pressure window of doors, against the printed door tables and hand calculations."""

import numpy as np
import pytest

from helpers.formulas import doors as door_formulas
from helpers.model.site.criteria import criteria_of
from helpers.studies.doors.window import pressure_window
from helpers.units.said import written_out

INWC = 249.0889


def the_door(site):
    (found,) = pressure_window(site).doors
    return found


@pytest.mark.parametrize(
    ("closer_lbf", "width_in", "printed"), [(6, 32, 0.45), (8, 36, 0.37), (10, 40, 0.30), (12, 44, 0.25), (14, 48, 0.21)]
)
def test_the_most_pressure_is_that_of_the_printed_door_table(stair, a_door, closer_lbf, width_in, printed):
    # NFPA 92 table 4.4.2.2, 84 in. doors, 30 lbf, handle 3 in. from the edge (a reprint). 10 lbf on 40 in. is 0.305, printed rounded down.
    site = stair(doors={"stair": a_door(width_m=0.0254 * width_in, closer_force_n=4.448222 * closer_lbf)})
    assert the_door(site).most_pa / INWC == pytest.approx(printed, abs=0.00501)


def test_the_least_pressure_is_what_the_site_file_asks_of_the_door(stair, a_door):
    found = the_door(stair(doors={"stair": a_door(minimum_dp_pa=12.5)}))
    assert found.least_pa == 12.5
    assert "smoke" in found.reason("least")
    assert 'doors "stair", minimum_dp' in found.least_source


def test_the_window_says_which_doors_on_which_levels_govern(stair, a_door):
    heavy, wanting = a_door(closer_force_n=60.0), a_door(minimum_dp_pa=30.0)
    levels = [{"stair_door": name} for name in ("stair", "heavy", "heavy", "wanting", "stair", "stair")]
    window = pressure_window(stair(doors={"heavy": heavy, "wanting": wanting}, storeys=levels))
    assert (window.least.door, window.least.levels) == ("wanting", (3,))
    assert (window.most.door, window.most.levels) == ("heavy", (1, 2))
    assert window.width_pa == pytest.approx(window.most_pa - 30.0)
    assert 'stair door "heavy", storeys 1 and 2' in window.verdict()
    assert 'stair door "wanting", storey 3' in window.verdict()


def test_doors_of_one_kind_behind_lobbies_and_floors_are_named_once(northgate):
    assert pressure_window(northgate).verdict().count('"stair"') == 2  # once for the least, once for the most


def test_a_closer_too_heavy_leaves_no_pressure_at_all_and_that_is_said(stair, a_door):
    window = pressure_window(stair(doors={"stair": a_door(closer_force_n=120.0)}))
    assert window.width_pa < 0
    assert not window.feasible
    assert window.verdict().startswith("There is no pressure that suits all stair doors.")
    (finding,) = window.findings()
    assert finding.severity == "wrong"
    assert "lighter closer" in finding.remedy


@pytest.mark.parametrize(
    ("opens", "code", "wanted", "helps", "harms"),
    [
        ("against pressure", False, 133.0, "a lighter closer that still shuts", "heavier"),
        ("with pressure", False, 25.0, "a heavier closer, as far as the limits of its opening force allow", "lighter"),
        ("against pressure", True, 90.0, "another minimum", "closer"),  # the code's own most: no closer moves it
    ],
)
def test_what_lets_a_door_bear_more_hangs_on_what_limits_it(stair, a_door, opens, code, wanted, helps, harms):
    door = a_door(opens=opens, minimum_dp_pa=wanted)
    window = pressure_window(stair(doors={"stair": door}, building_code_adopted=code))
    (remedy,) = (one.remedy for one in window.findings() if one.severity == "wrong")
    for said in (remedy, window.must_change()):
        assert helps in said
        assert harms not in said
        assert "another minimum pressure" in said


def test_where_two_kinds_of_doors_cross_the_one_that_bears_least_must_change(stair, a_door):
    doors = {"stair": a_door(minimum_dp_pa=25.0), "pushed": a_door(opens="with pressure", minimum_dp_pa=12.5)}
    window = pressure_window(stair(doors=doors, storeys=[{"stair_door": "pushed"}, {}, {}, {}, {}, {}]))
    assert all(door.feasible for door in window.doors)
    assert window.width_pa < 0
    assert window.must_change().startswith("a heavier closer")
    assert window.most.closers.startswith("heavier")


def test_two_good_doors_can_still_leave_no_common_window(stair, a_door):
    doors = {"stair": a_door(minimum_dp_pa=75.0), "heavy": a_door(closer_force_n=80.0)}
    window = pressure_window(stair(doors=doors, storeys=[{}, {"stair_door": "heavy"}, {}, {}, {}, {}]))
    assert all(door.feasible for door in window.doors)
    assert not window.feasible
    assert window.verdict().startswith("There is no pressure")


def test_a_door_that_opens_with_the_pressure_is_limited_by_its_closer(stair, a_door):
    site = stair(
        doors={"street": a_door(opens="with pressure", minimum_dp_pa=None)}, storeys=[{"final_exit_door": "street"}, {}, {}, {}, {}, {}]
    )
    street = next(found for found in pressure_window(site).doors if found.use == "final exit")
    leaf = (0.9144, 2.1336, 35.586, 0.0762)
    assert street.across == "stair over outdoors"
    # Common practice: a closer gives back half of its force at the worst; so much of it is left where the leaf begins to stand ajar.
    assert door_formulas.opening_force(-street.most_pa, *leaf) == pytest.approx(0.5 * 35.586)
    assert street.most_pa == street.relatch_pa[0] < street.relatch_pa[1]
    assert door_formulas.opening_force(-street.least_pa, *leaf) == pytest.approx(133.4466)  # air from the street holds it shut
    assert street.means("high") == "pushed open"
    assert street.means("low") == "too heavy to open"


def test_a_closer_that_is_stated_to_give_back_more_holds_against_more(stair, a_door):
    def most(share):
        return pressure_window(stair(doors={"stair": a_door(opens="with pressure", closing_share=share)})).doors[0].most_pa

    assert most(0.8) == pytest.approx(2 * most(0.4))
    assert most((0.4, 0.6, 0.8)) == most(0.4)  # the low end of a box counts


def test_a_latch_holds_a_shut_leaf_and_leaves_the_question_whether_it_shuts_again(stair, a_door):
    street = {"street": a_door(opens="with pressure", minimum_dp_pa=None, latch_force_n=40.0)}
    window = pressure_window(stair(doors=street, storeys=[{"final_exit_door": "street"}, {}, {}, {}, {}, {}]))
    door = next(found for found in window.doors if found.use == "final exit")
    assert door.most_pa is None
    assert door.latched
    assert door.relatch_pa[0] == pytest.approx(0.5 * 35.586 / door_formulas.opening_force(1.0, 0.9144, 2.1336, 0.0, 0.0762))
    assert "then it shuts again by its closer" in door.reason("most")


def test_a_stair_door_that_opens_with_the_pressure_is_pointed_out(stair, a_door):
    window = pressure_window(stair(doors={"stair": a_door(opens="with pressure")}))
    finding = window.findings()[-1]
    assert finding.severity == "attention"
    assert "pushes it open" in finding.what
    assert finding.why.startswith("more would push it open against its closer")
    assert window.doors[0].means("low") == "smoke can pass"


def test_a_door_without_force_limit_has_no_upper_end_and_that_is_said(stair, a_door):
    free = a_door(closer_force_n=None, handle_to_edge_m=None, force_limit_n=None)
    window = pressure_window(stair(doors={"stair": free}))
    assert (window.least_pa, window.most_pa) == (25.0, None)
    assert "no stair door states a force limit" in written_out(window.verdict())
    assert "states no force limit" in written_out(tuple(window.findings()))[0].what
    assert written_out(window.doors[0].text()) == "at least 25 Pa"


def test_a_door_without_least_pressure_has_no_lower_end_and_that_is_said(stair, a_door):
    window = pressure_window(stair(standard="en12101_13_2022", doors={"stair": a_door(minimum_dp_pa=None)}))
    assert window.least_pa is None
    assert "no stair door states a minimum pressure" in window.verdict()
    assert "states no minimum pressure" in window.findings()[0].what


def test_a_door_without_least_pressure_has_the_standards_and_its_file_is_pointed_out(stair, a_door):
    window = pressure_window(stair(doors={"stair": a_door(minimum_dp_pa=None)}))
    assert window.least_pa == pytest.approx(0.05 * 249.0889, rel=1e-5)
    assert "NFPA 92 asks for it" in window.verdict()
    assert "states no minimum pressure" in window.findings()[0].what


def test_doors_that_ask_for_nothing_leave_the_pressure_to_the_code(stair, a_door):
    free = a_door(closer_force_n=None, handle_to_edge_m=None, force_limit_n=None, minimum_dp_pa=None)
    window = pressure_window(stair(standard="en12101_13_2022", doors={"stair": free}))
    assert (window.least, window.most, window.width_pa) == (None, None, None)
    assert window.feasible
    assert "nothing bounds the pressure" in window.verdict()
    assert window.doors[0].text() == "no limit"


@pytest.mark.parametrize(("standard", "pointed_out"), [("nfpa92", False), ("en12101", True)])
def test_a_least_pressure_below_the_standards_is_pointed_out(stair, standard, pointed_out):
    window = pressure_window(stair(standard=standard))
    assert any(f"less than {criteria_of(standard).name}" in finding.what for finding in window.findings()) == pointed_out


def test_the_limits_by_storey_leave_out_storeys_without_a_stair_door(stair):
    site = stair(storeys=[{"stair_door": None}, {}, {}, {}, {}, {}])
    least, most = pressure_window(site).by_storey([storey.level for storey in site.storeys], "stair door")
    assert np.isneginf(least[0])
    assert np.isposinf(most[0])
    assert (least[1:] == 25.0).all()
    assert np.isfinite(most[1:]).all()


def test_the_window_reads_in_both_systems_of_units(stair):
    window = pressure_window(stair())
    assert written_out(window.doors[0].text()) == "25 to 91.9 Pa"
    assert written_out(window.doors[0].text(), "in. w.c.") == "0.101 to 0.369 in. w.c."
    assert "0.101 in. w.c." in written_out(window.verdict(), "in. w.c.")


def test_a_superseded_standard_and_blanks_are_told(stair):
    old, new = (pressure_window(stair(standard=name)).findings() for name in ("en12101", "en12101_13_2022"))
    assert any(one.severity == "attention" and one.what == "EN 12101-6:2005 is superseded" for one in old)
    assert any(one.severity == "open" and "6 figures are blanks" in one.what for one in new)
    assert not any("superseded" in one.what or "blank" in one.what for one in pressure_window(stair()).findings())


def test_the_window_is_the_stricter_of_file_and_standard_at_both_ends_and_in_the_force(stair):
    own, europe = (pressure_window(stair(standard=name)) for name in ("nfpa92", "en12101"))
    (door,) = europe.doors
    assert (own.least_pa, door.least_pa) == (25.0, 50.0)
    assert (door.force_n, own.doors[0].force_n) == (100.0, pytest.approx(133.4466))
    assert door.most_pa == pytest.approx((100.0 - 35.586) / (own.doors[0].force_n - 35.586) * own.most_pa)
    assert "EN 12101-6 allows no more force" in door.reason("most")
    assert (door.stated.least_pa, door.stated.most_pa) == (own.least_pa, own.most_pa)
    assert door.open_least_pa == 25.0  # the 50 Pa are asked with all doors shut
    code = pressure_window(stair(building_code_adopted=True))
    assert code.most_pa == pytest.approx(0.35 * 249.0889, rel=1e-5)
    assert code.most_pa < own.most_pa
    assert code.doors[0].open_least_pa == code.least_pa


def test_a_final_exit_that_opens_against_wind_is_bound_by_the_standards_force_too(stair, a_door):
    street = {"stair": a_door(), "street": a_door(opens="with pressure", minimum_dp_pa=None)}
    sites = (stair(standard=n, doors=street, storeys=[{"final_exit_door": "street"}, {}, {}, {}, {}, {}]) for n in ("nfpa92", "en12101"))
    us, europe = (next(door for door in pressure_window(one).doors if door.use == "final exit") for one in sites)
    assert us.least_pa < europe.least_pa < 0
    assert us.most_pa == europe.most_pa
