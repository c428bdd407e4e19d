"""A site judged by two sets of criteria in adjacent columns: verdicts by each, what they differ on, blanks and what a file lacks."""

import numpy as np
import pytest

from helpers.model.air.tower import Tower
from helpers.model.site.criteria import Criteria, criteria_of, second_standard
from helpers.model.site.errors import SiteFileError
from helpers.model.site.field_types import CRITERIA_FOLDER
from helpers.model.site.file import read_site_text
from helpers.studies.cases import Case, conditions_of
from helpers.studies.doors.air_release import air_release
from helpers.studies.doors.two_sets import EXIT, LEAST, MOST, MOVES, NOT_ASKED, WITH, WITHOUT, two_sets
from helpers.studies.doors.window import pressure_window
from helpers.units.said import written_out

CASES = (Case("shut"), Case("open", open_doors=(2,)), Case("exit", open_doors=(2,), open_exits=(0,)))
EXITS = {"storeys": [{"final_exit_door": "stair"}]}


def judged(site, second="en12101_6_2005", cases=CASES):
    tower = Tower(site)
    window, held = pressure_window(site), tower.hold(conditions_of(site, cases))
    release = air_release(tower, window, cases, (window.criteria, criteria_of(second).of_class(site.airflow_class)))
    return two_sets(tower, cases, held, release, second), held.air


@pytest.fixture(scope="module")
def with_exit(stair):
    def made(**changes):
        site = stair()
        storeys = [{"final_exit_door": "stair"}, *[{}] * (len(site.storeys) - 1)]
        return site.with_changes(**({"storeys": storeys} | changes))

    return made


def cells(found):
    return {what: (first, second) for what, first, second in found.rows}


def test_the_figures_are_those_of_the_air_and_each_set_judges_by_its_own_limit(with_exit):
    found, air = judged(with_exit(control={"set_point_pa": 40.0}))
    least, most = cells(found)[LEAST], cells(found)[MOST]
    assert [one.state for one in least] == ["good", "wrong"]  # 25 Pa against 50 Pa of the doors with all doors shut
    lowest = air.door_dp_pa[0].min()
    assert 25 < lowest < 50
    assert written_out(least[0].value).startswith(f"{lowest:.1f} Pa at storey ")
    assert least[0].value == least[1].value
    assert (most[1].limit, most[1].state) == (NOT_ASKED, "")
    assert LEAST in found.of(1, "wrong")
    assert LEAST in found.disagreements


def test_speed_and_pressure_with_the_exit_open_are_asked_by_the_one_alone(with_exit):
    found, _ = judged(with_exit())
    for what in (EXIT, WITHOUT):
        us, europe = cells(found)[what]
        assert (us.state, europe.state) == ("", "wrong")
    assert cells(found)[WITH][1].state == "open"  # asked, and no release is stated


def test_with_air_release_the_speed_passes_by_its_class_and_without_is_told_for_comparison(with_exit):
    site = with_exit(release={"kind": "vent", "area_m2": 3.0}, airflow_class="C", standard="en12101_6_2005")
    found, _ = judged(site, "nfpa92", CASES[:2])
    europe, us = cells(found)[WITH]
    assert (europe.state, us.state) == ("good", "")
    without = cells(found)[WITHOUT][0]
    assert without.state == ""
    assert "for comparison" in without.value


def test_where_no_class_is_stated_a_speed_that_only_some_classes_pass_is_no_pass(with_exit):
    site = with_exit(release={"kind": "vent", "area_m2": 0.5}, standard="en12101_6_2005")
    found, _ = judged(site, "nfpa92", CASES[:2])
    assert cells(found)[WITH][0].state == "attention"


def test_a_force_just_past_the_one_limit_passes_by_the_other(with_exit):
    found, _ = judged(with_exit(doors={"stair": {"closer_force_n": 102.0}}), cases=CASES[:1])
    us, europe = cells(found)[MOVES]
    assert "latch stile" in us.limit
    assert "handle" in europe.limit
    assert europe.state == "wrong"
    assert us.state != "wrong" or "fan on" in us.value


def test_a_set_of_blanks_passes_nothing_and_says_who_fills_it_in(with_exit):
    found, _ = judged(with_exit(second_standard="en12101_13_2022"), "en12101_13_2022")
    assert {second.state for _, second in cells(found).values()} <= {"open", ""}
    assert cells(found)[LEAST][1].state == cells(found)[MOST][1].state == "open"
    assert "a licensed person fills them in" in found.note()
    (finding,) = [one for one in found.findings() if one.severity == "open"]
    assert "least doors shut" in finding.figure


def test_what_is_past_a_limit_of_a_stated_second_set_is_a_finding_and_of_one_of_ours_a_verdict_alone(with_exit):
    stated, ours = (judged(with_exit(second_standard=name))[0] for name in ("en12101_6_2005", None))
    assert [one.severity for one in stated.findings()] == ["attention"]
    assert list(ours.findings()) == []
    assert "FAIL" in ours.verdict()
    assert "it is one of ours" in ours.note()
    assert "superseded in 2022" in ours.note()


def test_no_verdict_in_the_table_is_a_pass_past_a_limit(with_exit):
    found, _ = judged(with_exit(release={"kind": "vent", "area_m2": 0.02}))
    table = written_out(found.table())
    assert {len(row) for row in table.rows} == {len(table.columns)} == {7}
    for row, (_, *pair) in zip(table.rows, found.rows, strict=True):
        for cell, word in zip(pair, (row[3], row[6]), strict=True):
            assert (word == "PASS") == (cell.state == "good")
            assert (word == "not judged") == (cell.state == "")


def test_the_second_set_is_another_than_the_first(stair):
    with pytest.raises(SiteFileError, match="second_standard: must be another set of criteria than standard"):
        stair(second_standard="nfpa92")
    with pytest.raises(ValueError, match="second must be another set of criteria"):
        judged(stair(), "nfpa92", CASES[:1])
    assert second_standard(stair()) == "en12101_6_2005"
    assert second_standard(stair(standard="en12101_13_2022")) == "nfpa92"
    assert second_standard(stair(second_standard="en12101_13_2022")) == "en12101_13_2022"


@pytest.mark.parametrize("key", ["least_doors_shut", "most_doors_shut", "least_exit_open", "response"])
def test_a_file_of_criteria_that_lacks_a_figure_is_refused_with_its_name(key):
    text = (CRITERIA_FOLDER / "en12101_13_2022.toml").read_text(encoding="utf-8")
    table = text.index(f"[{key}]")
    without = text[:table] + text[text.index("\n[", table + 1) + 1 :]
    with pytest.raises(ValueError, match=rf"{key}.*is missing") as refusal:
        read_site_text(without, "mine.toml", kinds=(Criteria,))
    assert isinstance(refusal.value, SiteFileError)
    # ... and one figure of a table that is there.
    line = text.replace('[response]\nvalue = "blank"\n', "[response]\n")
    with pytest.raises(ValueError, match=r"response.*value.*is missing"):
        read_site_text(line, "mine.toml", kinds=(Criteria,))


def test_the_air_is_the_same_whatever_set_judges(with_exit):
    airs = [judged(with_exit(standard=standard), second)[1].stair_pa for standard, second in
            (("nfpa92", "en12101_6_2005"), ("en12101_6_2005", "nfpa92"))]  # fmt: skip
    assert np.array_equal(*airs)
