"""Tannery Row, the sound example: a record that has something to recommend; what fails in it rests on the relief damper."""

import re

import pytest
from demo_designs import record_of

from helpers import units


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
    assert all(re.search("proved at every test|by hand and by pressure at every test", one.remedy) for one in told)


def test_its_record_says_what_to_buy_set_and_tune(record):
    words = " ".join(record.summary)
    for start in ("Keep the fan stated", "Set the average reading", "Tune the controller"):
        assert start in words
    assert [line.split(":")[0] for line in record.summary if "FAIL" in line] == [
        "FAIL on a failed reading, entered all the same, as nothing tried does better"
    ]
    (told,) = [line for line in record.summary if line.startswith("FAIL on a failed reading")]
    assert len(told.split()) < 70  # the whole stands once, in the section, which begins with the word
    assert "too low with the relief damper stuck open" in told
    assert "too high with the relief damper stuck shut" in told
    assert record.section("failure").verdict.startswith("FAIL: ")
    assert "Not enough" not in words


def test_the_same_is_recommended_in_inches():
    severities = [[finding.severity for finding in record_of("Tannery Row", system).findings] for system in units.SYSTEMS]
    assert severities[0] == severities[1]
