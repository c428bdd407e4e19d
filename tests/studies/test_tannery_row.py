"""Tannery Row, the sound example: a record that has something to recommend; what fails in it rests on the relief damper."""

import pytest
from demo_designs import design_for, design_of, record_of, site_of

from helpers import units
from helpers.model.site.file import demo_sites
from helpers.units.said import written_out


@pytest.fixture(scope="module")
def record():
    return record_of("Tannery Row")


def test_a_low_stair_with_sprinklers_fails_in_what_rests_on_its_relief_damper_alone(record):
    told = [finding for finding in record.findings if finding.severity == "wrong"]
    assert {one.what for one in told} == {
        "After a failed reading the doors rest on one relief damper",
        "With the relief damper stuck a door is out, every reading sound",
        "At the highest speed stated for smoke control the doors rest on one relief damper",  # whatever sends the fan there, one grade
    }
    several = written_out(design_of("Tannery Row").fallback.several.text())
    assert all(several in one.remedy and "by hand and by pressure" in one.remedy for one in told)


@pytest.mark.parametrize("name", sorted(demo_sites()))
def test_no_value_that_is_laid_down_fails_in_its_own_box(name):
    """A line of the schedule whose reason says FAIL is not to be entered, and no fallback of which the study says that it fails is."""
    rows = [row for row in record_of(name).section("settings").tables[0].rows if row[0] != "first"]
    laid_down = [row for row in rows if not row[2].startswith(("FAIL", "not laid down")) and not row[2].endswith("alarm only")]
    assert not [row for row in laid_down if "FAIL" in row[3]]
    (speed,) = [row[2] for row in rows if row[1] == "fallback speed"]
    best = design_of(name).fallback.best
    assert (best.state == "wrong") <= speed.startswith(("FAIL", "not laid down"))


def test_what_is_told_in_place_of_its_one_damper_holds_once_it_stands_in_the_file():
    """Three of 0.17 m2 for one of 2.40 m2: with one stuck no door is out, by fallback, loop and full speed, and the exit closes."""
    several = design_of("Tannery Row").fallback.several
    assert several.holds
    assert several.relief.count > 1
    mended = design_for(site_of("Tannery Row").with_changes(stair={"relief": several.relief.model_dump()}))
    assert mended.failing.best.state != "wrong"
    assert min(mended.failing.sound_rooms_pa.values()) >= 0
    assert mended.failing.several == several  # what is there is tried first
    assert [one for one in mended.duty.findings() if one.severity == "wrong"] == []
    assert mended.duty.full.stuck_closing_hz == mended.duty.full.full_hz
    assert next(iter(mended.record().summary)).startswith("Keep the fan stated")


def test_its_record_says_what_to_buy_set_and_tune(record):
    words = " ".join(record.summary)
    for start in ("Keep the fan stated", "Set the average reading", "Tune the controller"):
        assert start in words
    assert [line.split(":")[0] for line in record.summary if "FAIL" in line] == [
        "FAIL, before all else", "FAIL on a failed reading, do not enter",
    ]  # fmt: skip
    assert "this is missing: 3 dampers of 0.170 m² each in its place" in record.summary[0]
    (told,) = [line for line in record.summary if line.startswith("FAIL on a failed reading")]
    assert len(told.split()) < 70  # the whole stands once, in the section, which begins with the word
    assert "too low with the relief damper stuck open" in told
    assert "too high with the relief damper stuck shut" in told
    assert record.section("failure").verdict.startswith("FAIL, do not enter: ")
    assert "Not enough" not in words


def test_the_same_is_recommended_in_inches():
    severities = [[finding.severity for finding in record_of("Tannery Row", system).findings] for system in units.SYSTEMS]
    assert severities[0] == severities[1]
