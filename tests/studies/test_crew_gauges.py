"""What the sheets ask of the gauges reaches the day's file and comes back; the fire watch is signed before the fan is off."""

import openpyxl
import pytest

from helpers.studies.commissioning.crew.blanks import GAUGE_WORDS
from helpers.studies.commissioning.crew.book import write_book
from helpers.studies.commissioning.crew.day import day_as_filled, read_day
from helpers.studies.commissioning.crew.given_back import proof_said
from helpers.studies.commissioning.crew.report import NOT_FITTED, day_report
from helpers.studies.commissioning.hand_back import FIRE_WATCH
from helpers.studies.commissioning.sheets import SEEN
from tests.studies.test_crew import as_expected, larkfield, proved  # noqa: F401

KEYS = {"scale_percent": 1.5, "pressure_gauges": "2", "upper_pair_from": "8", "certificate": "No 4711 of 2026-02-01"}


def read(steps, folder, *fills):
    paths = [write_book(steps, folder / f"{number}.xlsx", filled=filled) for number, filled in enumerate(fills)]
    return read_day(steps.rounds.site, paths)


def typed(**keys):
    return {("day", name, "found"): value for name, value in keys.items()}


def test_the_gauges_keys_are_blanks_that_reach_the_days_file_and_come_back(larkfield, tmp_path):  # noqa: F811
    found = read(larkfield, tmp_path, as_expected(larkfield) | typed(**KEYS))
    assert not found.filled.mistakes
    gauges = found.test_day.gauges
    assert (gauges.scale_percent, gauges.pressure_gauges, gauges.upper_pair_from) == (pytest.approx(1.5), 2, 8)
    assert gauges.certificate == KEYS["certificate"]
    assert NOT_FITTED in day_report(found).verdict[1]
    assert 'certificate = "No 4711 of 2026-02-01"' in found.day_file()
    back, _ = day_as_filled(larkfield.rounds, found.test_day)
    assert {name: back["day", name, "found"] for name in KEYS} == {**KEYS, "scale_percent": pytest.approx(1.5)}


@pytest.mark.parametrize(("key", "value"), [("pressure_gauges", "3"), ("upper_pair_from", "40"), ("scale_percent", 0.0)])
def test_what_no_gauge_can_be_is_refused_at_its_cell(larkfield, tmp_path, key, value):  # noqa: F811
    found = read(larkfield, tmp_path, as_expected(larkfield) | typed(**{key: value}))
    (said,) = found.filled.mistakes
    assert said.startswith("0.xlsx, sheet Rounds, B")
    assert "must be" in said
    assert getattr(found.test_day.gauges, key) is None


def test_two_pairs_who_say_unlike_things_of_their_gauges_are_a_conflict(larkfield, tmp_path):  # noqa: F811
    found = read(larkfield, tmp_path, as_expected(larkfield) | typed(pressure_gauges="1"), typed(pressure_gauges="2"))
    (said,) = found.filled.conflicts
    assert "neither is used" in said
    assert found.test_day.gauges.pressure_gauges is None


def test_a_book_made_before_these_lines_is_read_without_a_mistake(larkfield, tmp_path):  # noqa: F811
    """A sheet of before: the rows of these lines are cut out of it."""
    path = write_book(larkfield, tmp_path / "0.xlsx", filled=as_expected(larkfield) | proved())
    book = openpyxl.load_workbook(path)
    labels = {*GAUGE_WORDS.values(), FIRE_WATCH, "pressure gauges, by their certificates: 95 % of what is shown within [%]"}
    cut = 0
    for page in book:
        for row in range(page.max_row, 0, -1):
            if page.cell(row, 1).value in labels:
                page.delete_rows(row)
                cut += 1
    assert cut == len(labels)
    book.save(path)
    found = read_day(larkfield.rounds.site, [path])
    assert not found.filled.mistakes
    assert found.test_day is not None
    (watch,) = [line for line in day_report(found).lines if line.device == FIRE_WATCH]
    assert watch.state == "open"


@pytest.mark.parametrize(("text", "state"), [
    (None, "open"), ("AB, 08:30 to 17:00", "good"), ("AB, 08:30", "attention"), ("yes", "attention"), ("none needed", "wrong"),
])  # fmt: skip
def test_the_first_step_is_no_pass_without_a_signed_fire_watch(larkfield, tmp_path, text, state):  # noqa: F811
    told = proved("08:40, AB") | {("told", FIRE_WATCH, "given"): text or None}
    told |= {("steps", 1, "done"): SEEN[0], ("steps", 1, "initials"): "AB", ("steps", 1, "time"): "08:50"}
    found = read(larkfield, tmp_path, {key: value for key, value in told.items() if value is not None})
    lines = {line.device: line for line in day_report(found).lines}
    assert lines[FIRE_WATCH].state == state
    first = next(line for line in lines.values() if line.device.startswith("1. "))
    assert (first.state == "good") == (state == "good")
    assert proof_said(FIRE_WATCH, text or None)[0] == state
