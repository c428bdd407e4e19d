"""How a stair is left at the end of a test day: by a written decision it is CHECK, whichever way; unproved it is never PASS."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from helpers.studies.commissioning.crew.given_back import given_back_lines
from helpers.studies.commissioning.crew.lines import ReportLine
from helpers.studies.commissioning.hand_back import DECIDED, LAST, LEFT
from tests.studies.test_crew import laid_down, larkfield, proved  # noqa: F401
from tests.studies.test_crew_limits import line, report  # noqa: F401

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
OWNER = "owner AB and the authority, in writing: left in MANUAL, watched until mended"
STAYS = "owner AB and the authority, in writing: left in AUTOMATIC, watched until mended"
WAYS = {
    "in MANUAL by decision": ("no, left in MANUAL by decision of the owner, 15:55 AB", OWNER, "attention", "not in AUTOMATIC"),
    "in AUTOMATIC by decision": ("yes 15:55 AB", STAYS, "attention", "left in AUTOMATIC by decision; not proved: step"),
    "in AUTOMATIC against a decision": ("yes 15:55 AB", OWNER, "wrong", ""),
    "in MANUAL, nobody decided": ("no, 15:55 AB", None, "wrong", "not done"),
    "in MANUAL, 'nothing' decided": ("no, 15:55 AB", "nothing", "wrong", "not done"),
    "in AUTOMATIC, nobody decided": ("yes 15:55 AB", None, "wrong", "nobody's decision is written"),
    "neither yes nor no": ("AB", OWNER, "attention", "says neither"),
}


@pytest.mark.parametrize("what", WAYS)
def test_what_was_left_unproved_is_check_by_a_written_decision_and_fail_without(report, larkfield, what):  # noqa: F811
    text, decision, state, words = WAYS[what]
    found = report(filled=proved() | {("told", LEFT, "given"): text, ("told", DECIDED, "given"): decision})
    left = next(one for one in found.lines if one.device == LEFT)
    assert left.state == state
    assert words in left.words
    assert line(found, "Steps", "Restored to AUTOMATIC").state == state


@pytest.mark.parametrize("decision", [None, STAYS])
def test_a_door_that_fails_or_is_not_measured_is_not_proved_though_all_is_laid_down(report, larkfield, decision):  # noqa: F811
    """Larkfield's own design fails at doors: nothing is left in AUTOMATIC on a yes, and nobody passes by writing nothing."""
    given = {("told", LEFT, "given"): "yes 15:55 AB", ("told", DECIDED, "given"): decision or "nothing"}
    found = report(filled=proved() | given, wires=laid_down(larkfield))
    doors = [one for one in found.lines if one.part == "Doors" and one.state == "wrong"]
    left, decided = (next(one for one in found.lines if one.device == name) for name in (LEFT, DECIDED))
    assert doors
    assert {left.state, decided.state} == ({"attention"} if decision else {"wrong"})
    assert f"{doors[0].device} and" in left.words


def test_all_measured_inside_its_limits_and_nothing_to_decide_is_a_pass_and_one_that_is_not_is_none(report, larkfield):  # noqa: F811
    found = SimpleNamespace(
        filled=SimpleNamespace(value=lambda form, key, column: proved().get((form, key, column))),
        procedure=SimpleNamespace(steps=(), first="", rounds=larkfield.rounds),
    )
    good = ReportLine("Doors", "stair door 1", state="good")

    def state(*lines):
        return {one.device: one.state for one in given_back_lines(found, lines)}[LEFT]

    assert state(good) == state(good, replace(good, state="attention")) == "good"
    for bad in (replace(good, state="wrong"), replace(good, state="open"), replace(good, state="attention", left=True)):
        assert state(good, bad) == "wrong"


@pytest.mark.parametrize("page", ["18_building_as_found", "19_trend_files"])
def test_the_pages_that_put_a_fan_in_manual_say_how_it_is_left_in_the_words_of_the_sheets(page):
    cells = json.loads((NOTEBOOKS / f"{page}.ipynb").read_text(encoding="utf-8"))["cells"]
    cautions = next(" ".join("".join(cell["source"]).split()) for cell in cells if "## Cautions, first" in "".join(cell["source"]))
    assert LAST in cautions
