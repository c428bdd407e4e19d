"""Another door's reading, and two doors exchanged, are named as what they are where that is clear; a cell in inches is called one; what is
not believed ends with the status for it."""

import re
from dataclasses import replace

import numpy as np
import pytest

from helpers.__main__ import main
from helpers.model.site.file import demo_sites, read_site, write_site
from helpers.model.test_day import read_test_day
from helpers.pages.measured.fitted import fitted_beside
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.measured.doubts.exchanged import ANOTHERS, EXCHANGED
from helpers.studies.measured.doubts.mistyped import INCH_PA, cells_in_inches
from helpers.studies.measured.drawn import DAYS_FOLDER, drawn_readings
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import readings_of
from helpers.studies.measured.remarks import fit_remarks
from helpers.units.said import written_out

DAY = DAYS_FOLDER / "northgate_tower_may.toml"


@pytest.fixture(scope="module")
def tower():
    return readings_of(read_site(demo_sites()["Northgate Tower"]), read_test_day(DAY))


def at(readings, level, number):
    levels = [storey.level for storey in readings.site.storeys]
    here = (readings.quantity == 0) & (readings.storey == levels.index(level)) & (readings.round == number)
    return int(np.flatnonzero(here)[0])


def changed(readings, values):
    value = readings.value.copy()
    value[list(values)] = list(values.values())
    return replace(readings, value=value)


def exchanged(readings, one, other):
    pairs = [(at(readings, one, number), at(readings, other, number)) for number in range(3)]
    return changed(readings, {a: readings.value[b] for pair in pairs for a, b in (pair, pair[::-1])})


def told(fitted):
    return written_out("\n".join(map(str, fit_remarks(fitted))), "Pa")


def test_two_doors_whose_readings_are_exchanged_are_named_together(tower):
    fitted = fit_building(exchanged(tower, 0, 1))
    (like,) = fitted.likenesses
    assert (like.kind, like.short) == (EXCHANGED, "stair door 0 and stair door 1: exchanged?")
    assert fitted.suspect.short == like.short
    assert like.short in told(fitted)
    assert not fitted.believed


@pytest.mark.parametrize("rounds", [(0,), (0, 1, 2)])
def test_a_door_with_another_doors_reading_is_named_with_that_door(tower, rounds):
    fitted = fit_building(changed(tower, {at(tower, 20, number): tower.value[at(tower, -1, number)] for number in rounds}))
    (like,) = fitted.likenesses
    assert like.kind == ANOTHERS
    assert "stair door 20, round" in like.short
    assert "reads like stair door -1?" in like.short
    assert {fitted.readings.storey[number] for number in like.numbers} == {fitted.readings.storey[at(fitted.readings, 20, 0)]}
    assert not fitted.believed


def test_a_figure_that_is_no_doors_is_a_slip_and_no_doors_reading(tower):
    fitted = fit_building(changed(tower, {at(tower, 20, 0): 10 * tower.value[at(tower, 20, 0)]}))
    assert fitted.likenesses == ()
    assert "a slip of the point" in told(fitted) + " ".join(map(str, fitted.not_used))


def test_doors_that_are_expected_alike_are_not_told_apart_and_nobody_is_accused(tower):
    assert fit_building(exchanged(tower, 8, 9)).likenesses == ()


def test_a_whole_round_that_does_not_fit_is_no_doors_row(tower):
    every = np.flatnonzero(tower.round == 0)
    fitted = fit_building(changed(tower, dict(zip(every.tolist(), 1.5 * tower.value[every], strict=True))))
    assert len(fitted.strange) > 5
    assert fitted.likenesses == ()


def test_sound_days_accuse_no_door():
    site = read_site(demo_sites()["Larkfield House"])
    assert [seed for seed in (5038, 5017) if fit_building(drawn_readings(site, seed)[0]).likenesses] == []


@pytest.mark.parametrize(("factor", "what"), [(1 / INCH_PA, "in. w.c. typed as Pa?"), (INCH_PA, "Pa typed as in. w.c.?")])
def test_one_cell_in_the_other_unit_is_called_one_by_check_and_fit(day, factor, what):
    one = int(np.flatnonzero((day.quantity == 0) & (day.round == 1) & (day.storey == 5))[0])
    wrong = changed(day, {one: round(factor * day.value[one], 3)})
    ((number, said),) = cells_in_inches(wrong)
    assert (number, what in said) == (one, True)
    fitted = fit_building(wrong)
    assert what in told(fitted) + " ".join(map(str, fitted.not_used))
    assert (0, 1, wrong.storey[one]) in fitted.slipped  # what is called no pascal is not fitted as one
    assert [*cells_in_inches(day)] == []


def test_a_cell_in_inches_ends_check_and_fit_with_their_statuses(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("helpers.__main__._write_pages", lambda *_: None)
    day = read_test_day(DAYS_FOLDER / "larkfield_house_may.toml")
    day.rounds[1].stair_doors_pa["5"] = round(day.rounds[1].stair_doors_pa["5"] / INCH_PA, 3)
    file = tmp_path / "day.toml"
    file.write_text(write_site(day), encoding="utf-8")
    assert main(["check", str(file)]) == 1
    assert "stair door 5, round 2: 0.086 Pa can hardly be, in. w.c. typed as Pa?" in capsys.readouterr().out
    assert main(["fit", str(demo_sites()["Larkfield House"]), str(file), "--out", str(tmp_path)]) == 3
    assert "in. w.c. typed as Pa?" in capsys.readouterr().err


def test_a_procedure_from_the_old_file_names_the_fitted_one_beside_it_and_its_lower_ceiling(tmp_path):
    site = read_site(demo_sites()["Larkfield House"])
    tighter = {"stair_side_factor": 0.5, "factors_from": "test day of 2026-05-12"}
    (tmp_path / "larkfield_house_2026_05_12_fitted.toml").write_text(write_site(site.with_changes(leakage=tighter)), encoding="utf-8")
    (tmp_path / "other_fitted.toml").write_text("no site file", encoding="utf-8")
    (said,) = written_out(tuple(fitted_beside(site, None, tmp_path / "larkfield_house.toml", tmp_path)), "Pa")
    assert said.startswith(
        "larkfield_house_2026_05_12_fitted.toml is Larkfield House as its test day of 2026-05-12 found it: its ceiling, "
    )
    low, old = (float(one) for one in re.findall(r"([\d.]+) Hz", said))
    assert low < old == pytest.approx(ceiling_of(site).hz, abs=0.05)
    assert [*fitted_beside(read_site(demo_sites()["Northgate Tower"]), tmp_path)] == []
    assert [*fitted_beside(site.with_changes(leakage=tighter), tmp_path)] == []
